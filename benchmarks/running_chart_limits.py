"""Play the charts of the watch and keep their limits: writes running/chart_limits.toml.

Usage: ``python benchmarks/running_chart_limits.py``. Takes some minutes; run it again when the
charts, their weights or the wanted time between false alarms change.
"""

from __future__ import annotations

from pathlib import Path

from cakewright.running import watching
from cakewright.running.watching import ChartKind, simulated_limit

TARGET = Path(watching.__file__).with_name("chart_limits.toml")
HEAD = f"""# Limits in standard deviations for one false alarm in {watching.BETWEEN} shifts.
# Per chart: baseline length = limits for memory 0, 0.05, 0.10 ... 0.95.
# Found by simulation (benchmarks/running_chart_limits.py); OWN.
"""


def main() -> None:
    """One table per chart, one row per baseline length."""
    lines = [HEAD]
    for kind in ChartKind:
        lines.append(f"[{kind.value}]")
        for shifts in watching.BASELINES:
            limits = [
                simulated_limit(kind, step / watching.MEMORY_STEPS, shifts, watching.BETWEEN)
                for step in range(watching.MEMORY_STEPS)
            ]
            lines.append(f"{shifts} = [{', '.join(f'{x:.3f}' for x in limits)}]")
        lines.append("")
    TARGET.write_text("\n".join(lines).rstrip() + "\n", encoding="utf-8")
    print(f"{TARGET.name}: {len(ChartKind) * len(watching.BASELINES)} rows")


if __name__ == "__main__":
    main()
