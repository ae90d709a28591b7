"""A user who has already settled on a kind of machine reads the line of just that kind."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

from cakewright.storage.studies import demo_text

# Per kind: feed arrangement, a drive, an instrument, an interlock and a step that only it has.
TOLD = {
    "multi_disc_screw_press": (
        "open flocculation tank",
        "screw shaft drive",
        "torque or current of each shaft",
        "the other shafts go on",
        "Screw shafts start one after another",
    ),
    "screen_drum_screw_press": (
        "closed flocculation vessel",
        "screw drive",
        "inlet pressure of the drum",
        "cone opens",
        "cone closed at its start pressure",
    ),
    "belt_press": (
        "onto the gravity zone",
        "belt drives, upper and lower",
        "belt position, upper and lower, off centre",
        "pull cord",
        "let them wet all round",
    ),
    "decanter": (
        "polymer injected in the pipe",
        "scroll drive (differential speed)",
        "vibration at both main bearings",
        "only after proven standstill",
        "just above black flocs",
    ),
    "chamber_press": (
        "stirred tanks, one press charge each",
        "hydraulic power pack",
        "closing pressure (oil)",
        "closing force cannot be released",
        "shift and drop plate by plate",
    ),
    "membrane_press": (
        "pumps",
        "hydraulic power pack",
        "membranes vented",
        "no opening and no core blow",
        "Squeeze at programme pressure",
    ),
}


@pytest.mark.parametrize(
    "kind",
    [
        kind if kind == "decanter" else pytest.param(kind, marks=pytest.mark.nightly)
        for kind in TOLD
    ],
)
def test_the_line_of_one_kind_from_the_command(kind: str, tmp_path: Path) -> None:
    """One kind allowed -> its feed, drives, instruments, interlocks, steps and documents.

    The chamber press is conditioned the conventional way, the membrane press as comes cheapest.
    """
    text = re.sub(r"(?ms)^\[machines\].*?(?=^\[|\Z)", "", demo_text("soy"))
    study = tmp_path / "site.toml"
    recipe = '[conditioning]\nrecipe = "iron and lime"\n' if kind == "chamber_press" else ""
    study.write_text(f'{text}\n[machines]\nkinds = ["{kind}"]\n{recipe}', encoding="utf-8")
    command = [sys.executable, "-m", "cakewright", "evaluate", "site.toml", "--samples", "0"]
    done = subprocess.run(
        [*command, "--json"], cwd=tmp_path, capture_output=True, text=True, encoding="utf-8"
    )
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert found["decision"]["machine"] == kind
    feed, drive, instrument, interlock, step = TOLD[kind]
    line = found["line"]
    assert drive in [motor["label"] for motor in line["motors"]]
    assert instrument in [signal["meaning"] for signal in line["signals"]]
    locks = " ".join(f"{lock['cause']} {lock['action']}" for lock in line["interlocks"])
    assert interlock in locks
    told = " ".join(s for section in line["narrative"] for s in section["steps"])
    assert feed in told
    assert step in told
    assert {"from memory"} <= {signal["mark"] for signal in line["signals"]}
    out = tmp_path / "cakewright-out"
    assert {"flow-diagram.svg", "instrument-diagram-2.dxf", "plot-plan.dxf", "report.pdf"} <= {
        p.name for p in out.iterdir()
    }
