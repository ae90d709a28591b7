"""Fill in the sheet of tuning runs and the samples of an acceptance test for the invented press.

Usage: ``python make_trials.py RUNS.csv FOLDER`` with the sheet that ``cakewright commission plan``
wrote. Nothing here was measured anywhere.
"""

from __future__ import annotations

import csv
import sys
from pathlib import Path

import numpy as np

from cakewright.quantities import from_si
from cakewright.running.practice_plant import invented_runs
from cakewright.storage.logs.trial_files import read_results, unit_of

READ = (
    "feed_flow", "feed_solids", "polymer_flow", "polymer_strength", "wash_flow", "filtrate_flow",
    "filtrate_solids", "cake_flow", "cake_solids",
)  # fmt: skip


def _write(path: Path, heads: list[str], rows: list[list[str]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, delimiter=";").writerows([heads, *rows])


def _cells(readings: dict[str, np.ndarray], at: int) -> list[str]:
    return [f"{float(from_si(float(readings[k][at]), *unit_of(k))):.5g}" for k in READ]


def tuning(sheet: Path, folder: Path) -> None:
    """Readings of every run of the sheet."""
    planned = read_results(sheet)
    keys = [k for k in ("screw_speed", "plate_pressure", "polymer_dose") if k in planned]
    settings = {str(k): planned[k] for k in keys}
    readings = invented_runs(settings, seed=5, samples=1)
    heads = ["run", *(f"{k} [{unit_of(k)[1]}]" for k in (*keys, *READ))]
    rows = []
    for i in range(len(planned[keys[0]])):
        own = [f"{float(from_si(float(settings[k][i]), *unit_of(k))):.5g}" for k in keys]
        rows.append([str(i + 1), *own, *_cells(readings, i)])
    _write(folder / "results.csv", heads, rows)


def acceptance(folder: Path) -> None:
    """Three runs of five hours with six samples each."""
    readings = invented_runs({"screw_speed": np.full(3, 0.0192)}, seed=8, samples=6)
    heads = ["run", "minutes", *(f"{k} [{unit_of(k)[1]}]" for k in READ)]
    rows = []
    for run in range(3):
        for sample in range(6):
            rows.append([str(run + 1), str(60 * sample), *_cells(readings, 6 * run + sample)])
    _write(folder / "samples.csv", heads, rows)


def main(sheet: Path, folder: Path) -> None:
    """Write both."""
    folder.mkdir(parents=True, exist_ok=True)
    tuning(sheet, folder)
    acceptance(folder)


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
