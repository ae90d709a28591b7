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


def main() -> int:
    """Evaluate every study of this folder."""
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
    return 0


if __name__ == "__main__":
    sys.exit(main())
