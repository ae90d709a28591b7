"""Files as a works would hand them over, with the column maps and the site file beside them."""

import json

import numpy as np

from other_plants.instruments import UNITS

TITLES = (
    {},
    {
        "feed_flow": "Zulauf",
        "feed_solids": "TS Sonde",
        "polymer_flow": "Polymer",
        "wash_flow": "Waschwasser",
        "screw_speed": "Drehzahl",
        "screw_torque": "Moment",
        "floc_level": "Stand",
        "drive_power": "Leistung",
        "feed_temperature": "Temperatur",
        "filtrate_flow": "Filtrat",
        "cake_flow": "Kuchen",
        "plate_pressure": "Gegendruck",
        "machine_on": "Betrieb",
        "shaft_1_on": "Schnecke 1",
        "shaft_2_on": "Schnecke 2",
        "shaft_3_on": "Schnecke 3",
    },
)
FORMATS = ("%Y-%m-%d %H:%M", "%d.%m.%Y %H:%M")
SEPARATORS = (",", ";")
DECIMALS = (".", ",")
DAY_ZERO = np.datetime64("2025-01-06T00:00", "m")  # a Monday


def stamps(minute, style):
    """Time stamps in the site's own way."""
    moments = (DAY_ZERO + np.asarray(minute, int)).astype(str).tolist()
    if style == 0:
        return [m.replace("T", " ") for m in moments]
    return [f"{m[8:10]}.{m[5:7]}.{m[:4]} {m[11:]}" for m in moments]


def write_csv(path, header, columns, style):
    """One CSV; None and NaN become empty cells."""
    comma = DECIMALS[style] == ","

    def cell(x):
        if x is None or x != x:
            return ""
        text = f"{x:.6g}"
        return text.replace(".", ",") if comma else text

    body = [c if isinstance(c[0], str) else [cell(float_or_none(x)) for x in c] for c in columns]
    with open(path, "w", encoding="utf-8", newline="\n") as file:
        file.write(SEPARATORS[style].join(header) + "\n")
        file.writelines(SEPARATORS[style].join(row) + "\n" for row in zip(*body, strict=True))


def float_or_none(x):
    """A plain float, or None."""
    return None if x is None else float(x)


def column_map(key, style, grain, time_title, columns):
    """The map that tells the reader which title is which signal."""
    lines = ["# Column map of an invented site.", "version = 1", f'site = "{key}"']
    lines += ['time_zone = "UTC"', f'grain = "{grain}"', f'decimal = "{DECIMALS[style]}"']
    lines += [f'separator = "{SEPARATORS[style]}"', "", "[time]", f'title = "{time_title}"']
    lines += [f'format = "{FORMATS[style]}"', "", "[columns]"]
    lines += [f'{s} = {{ title = "{t}", unit = "{u}" }}' for s, t, u in columns]
    return "\n".join(lines) + "\n"


def site_file(p, days):
    """What the watch must know: shifts, baseline, promise, limits. All invented."""
    last = str((DAY_ZERO + (int(0.3 * days) * 1440)).astype("datetime64[D]"))
    first = str(DAY_ZERO.astype("datetime64[D]"))
    return f"""# An invented site. Every number here is made up.
[site]
key = "{p["key"]}"
title = "Invented plant {p["key"]}"
frame = "invented frame"
invented = true
shafts = {p["shafts"]}

[shifts]
time_zone = "UTC"
first = "{p["start_hour"]} h"
length = "8 h"

[baseline]
first = "{first}"
last = "{last}"

[promise]
dry_solids_flow = "{0.95 * p["load_kg_h"]:.4g} kg/h"
cake_solids = "{p["cake_pct"] - 0.8:.3g} %"
polymer_dose = "{1.15 * p["demand_kg_t"] * p["dose_over_demand"]:.3g} kg/t"

[limits]
screw_speed = ["{0.6 * p["speed_rpm"]:.3g} 1/min", "{1.5 * p["speed_rpm"]:.3g} 1/min"]
polymer_dose = ["{0.6 * p["demand_kg_t"]:.3g} kg/t", "{1.8 * p["demand_kg_t"]:.3g} kg/t"]
"""


def write_plant(folder, plant):
    """Minute log, laboratory table, maps, site file and, apart, the truth."""
    folder.mkdir(parents=True, exist_ok=True)
    p, style = plant["site"], plant["site"]["style"]
    log = plant["log"]
    signals = [name for name in log if name != "minute"]
    titles = [
        TITLES[style].get(s, s.replace("shaft_", "Schnecke ") if style else s) for s in signals
    ]
    time_title = ("time", "Zeit")[style]
    columns = [stamps(log["minute"], style)] + [log[s] for s in signals]
    write_csv(folder / "minutes.csv", [time_title, *titles], columns, style)
    units = [UNITS.get(s, "1") for s in signals]
    rows = list(zip(signals, titles, units, strict=True))
    text = column_map(p["key"], style, "minute", time_title, rows)
    (folder / "minutes.toml").write_text(text, encoding="utf-8")
    names = ["feed_solids", "cake_solids", "filtrate_solids", "polymer_strength"]
    lab = plant["laboratory"]
    columns = [stamps([r["minute"] for r in lab], style)] + [[r[k] for r in lab] for k in names]
    write_csv(folder / "laboratory.csv", ["taken", *names], columns, style)
    rows = list(zip(names, names, ["%", "%", "mg/L", "%"], strict=True))
    text = column_map(p["key"], style, "day", "taken", rows)
    (folder / "laboratory.toml").write_text(text, encoding="utf-8")
    (folder / "site.toml").write_text(site_file(p, plant["days"]), encoding="utf-8")
    truth = {k: plant[k] for k in ("key", "set", "number", "instruments", "days", "faults")}
    truth |= {"changes": plant["changes"], "site": p, "day_zero": str(DAY_ZERO)}
    (folder / "truth.json").write_text(json.dumps(truth, indent=1), encoding="utf-8")
