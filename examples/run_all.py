"""Run every example from the outside, as a user would, and check that it says what it must."""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).parent
OUTPUTS = ("report.html", "report.pdf", "workbook.xlsx", "findings.json")


def evaluate(study: Path, out: Path) -> dict[str, object]:
    """Evaluate one study; return its findings."""
    command = [sys.executable, "-m", "cakewright", "evaluate", str(study), "--out", str(out)]
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    for name in OUTPUTS:
        if not (out / name).stat().st_size:
            raise SystemExit(f"{study.name}: {name} is empty")
    findings: dict[str, object] = json.loads((out / "findings.json").read_text(encoding="utf-8"))
    return findings


def bench(out: Path) -> None:
    """Fit every sheet of the bench folder together; none may be left out."""
    sheets = sorted(str(sheet) for sheet in (HERE / "bench").glob("*.csv"))
    command = [sys.executable, "-m", "cakewright", "bench", *sheets, "--out", str(out)]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    if "could not be used" in done.stdout:
        raise SystemExit(f"bench: a sheet could not be used:\n{done.stdout[-2000:]}")
    print(f"bench: {len(sheets)} sheets fitted")


def main() -> int:
    """Evaluate every study of this folder, and fit the bench readings."""
    with tempfile.TemporaryDirectory() as folder:
        for study in sorted(HERE.glob("*.toml")):
            findings = evaluate(study, Path(folder) / study.stem)
            decision = findings["decision"]
            if not isinstance(decision, dict):
                raise SystemExit(f"{study.name}: no decision")
            machine = decision["machine"]
            print(f"{study.name}: {decision['sentence']}")
            if (study.stem == "reservoir") == (machine == "multi_disc_screw_press"):
                raise SystemExit(f"{study.name}: {machine} is not the expected kind")
        bench(Path(folder) / "bench")
    return 0


if __name__ == "__main__":
    sys.exit(main())
