"""Small invented logs for the journeys: a press whose polymer goes weak near the end."""

from __future__ import annotations

import csv
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from cakewright.quantities import from_si
from cakewright.running.practice_plant import PlantLog, invented_minutes, invented_shifts
from cakewright.running.signals import signal

MEASURED = (
    "machine_on", "feed_flow", "polymer_flow", "wash_flow", "filtrate_flow", "cake_flow",
    "screw_speed", "screw_torque", "plate_pressure", "floc_level", "mixer_speed",
    "drive_power", "feed_temperature",
)  # fmt: skip
SAMPLED = ("feed_solids", "cake_solids", "filtrate_solids", "polymer_strength")


def write_logs(folder: Path) -> tuple[Path, Path]:
    """A log every ten minutes and the laboratory's shift values, both CSV with UTC times."""
    log = invented_shifts("polymer_aged", seed=4, shifts=270, start=243)
    return _moments(log, folder / "press.csv"), _laboratory(log, folder / "laboratory.csv")


def _title(key: str) -> str:
    return f"{signal(key).label} [{signal(key).house.shown}]"


def _shown(key: str, values: np.ndarray) -> list[str]:
    house = signal(key).house
    shown = np.asarray(from_si(values, house.unit, house.shown))
    return [f"{x:.6g}" if np.isfinite(x) else "" for x in shown.tolist()]


def _moments(log: PlantLog, path: Path) -> Path:
    time, values = invented_minutes(log, step=600)
    clock = [datetime.fromtimestamp(t, UTC).strftime("%Y-%m-%d %H:%M") for t in time.tolist()]
    _write(path, ["time", *map(_title, MEASURED)], clock, [_shown(k, values[k]) for k in MEASURED])
    return path


def _laboratory(log: PlantLog, path: Path) -> Path:
    table = log.table
    taken = (table.start + 4 * 3600).tolist()
    clock = [datetime.fromtimestamp(t, UTC).strftime("%Y-%m-%d %H:%M") for t in taken]
    cells = [_shown(key, table.mean[key]) for key in SAMPLED]
    # A title no guess can read: its column is chosen by hand in the journey.
    titles = [_title(key) if key != "cake_solids" else "DS of the skip" for key in SAMPLED]
    _write(path, ["time", *titles], clock, cells)
    return path


def _write(path: Path, titles: list[str], clock: list[str], cells: list[list[str]]) -> None:
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(titles)
        writer.writerows(zip(clock, *cells, strict=True))
