"""Write the invented logs of this example: a press whose polymer goes weak half way through.

Nothing in these logs comes from a real works. Usage: ``python make_logs.py FOLDER``.
"""

from __future__ import annotations

import sys
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import xlsxwriter

from cakewright.quantities import from_si
from cakewright.running.clock import local_from_utc
from cakewright.running.practice_plant import PlantLog, invented_minutes, invented_shifts
from cakewright.running.signals import signal

ZONE = ZoneInfo("Europe/Vienna")
# signal -> (title on site, unit on site, digits)
COLUMNS = {
    "machine_on": ("Betrieb", "1", 0),
    "shaft_1_on": ("Schnecke 1", "1", 0),
    "shaft_2_on": ("Schnecke 2", "1", 0),
    "feed_flow": ("Zulauf", "m3/h", 2),
    "polymer_flow": ("Polymerlösung", "L/h", 0),
    "wash_flow": ("Spülwasser", "m3/h", 2),
    "filtrate_flow": ("Filtrat", "m3/h", 2),
    "cake_flow": ("Austrag", "kg/h", 0),
    "screw_speed": ("Drehzahl", "1/min", 3),
    "screw_torque": ("Drehmoment", "percent", 1),
    "plate_pressure": ("Gegendruck", "kPa", 1),
    "floc_level": ("Füllstand", "cm", 1),
    "mixer_speed": ("Rührer", "1/min", 1),
    "drive_power": ("Leistung", "kW", 2),
    "feed_temperature": ("Temperatur", "degC", 1),
}
LABORATORY = {
    "feed_solids": ("TS feed", "%", 2),
    "cake_solids": ("TS cake", "%", 1),
    "filtrate_solids": ("SS filtrate", "mg/L", 0),
    "polymer_strength": ("polymer strength", "%", 3),
}


def write_minutes(log: PlantLog, path: Path) -> None:
    """Minute log as a spreadsheet export would be: local clock, semicolons, decimal commas."""
    time, values = invented_minutes(log)
    shown = {
        key: np.asarray(from_si(values[key], signal(key).house.unit, unit))
        for key, (_, unit, _) in COLUMNS.items()
    }
    clock = local_from_utc(time.astype(np.int64), ZONE.key).astype("datetime64[s]")
    columns = [[moment.strftime("%d.%m.%Y %H:%M") for moment in clock.tolist()]]
    for key, (_, _, digits) in COLUMNS.items():
        columns.append([f"{x:.{digits}f}".replace(".", ",") for x in shown[key].tolist()])
    heads = ["Zeit", *(title for title, _, _ in COLUMNS.values())]
    rows = (";".join(cells) for cells in zip(*columns, strict=True))
    path.write_text("\n".join([";".join(heads), *rows]) + "\n", encoding="utf-8")


def write_laboratory(log: PlantLog, path: Path) -> None:
    """One row per shift as a laboratory would keep it, in a workbook."""
    book = xlsxwriter.Workbook(path)
    sheet = book.add_worksheet("lab")
    sheet.write_row(0, 0, ["taken", *(title for title, _, _ in LABORATORY.values())])
    for row, start in enumerate(log.table.start, start=1):
        moment = datetime.fromtimestamp(int(start) + 4 * 3600, UTC).astimezone(ZONE)
        sheet.write_string(row, 0, moment.strftime("%Y-%m-%d %H:%M"))
        for column, (key, (_, unit, digits)) in enumerate(LABORATORY.items(), start=1):
            value = log.table.mean[key][row - 1]
            if np.isfinite(value):
                shown = float(from_si(value, signal(key).house.unit, unit))
                sheet.write_number(row, column, round(shown, digits))
    book.close()


def main(folder: Path) -> None:
    """Write both logs."""
    folder.mkdir(parents=True, exist_ok=True)
    log = invented_shifts("polymer_aged", seed=4, shifts=270, start=243)
    write_minutes(log, folder / "minutes.csv")
    write_laboratory(log, folder / "laboratory.xlsx")


if __name__ == "__main__":
    main(Path(sys.argv[1] if len(sys.argv) > 1 else "logs"))
