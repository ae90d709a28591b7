"""A site as the files a user would have: bench sheets, pilot sheet, study; the truth apart."""

import csv
import json

import numpy as np

from honest_sites.press import FRAMES

MARK = "# An invented site: a made-up press on a made-up sludge. All readings are invented."


def sheet(path, tests):
    """Bench sheets of one kind in one file: (head rows, title row, readings)."""
    with open(path, "w", encoding="utf-8", newline="") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow([MARK])
        for head, titles, rows in tests:
            out.writerows(head)
            out.writerow(["readings"])
            out.writerow(titles)
            out.writerows([[f"{x:.5g}" for x in row] for row in rows])
            out.writerow([])


def head(site, test, kind, *more):
    """The head of a sheet."""
    rows = [("test", test), ("kind", kind), ("sludge", "sludge on trial")]
    return [*rows, ("class", site["truth"]["class"]), ("invented", "yes"), *more]


def write_bench(folder, site):
    """Filtration, pressed cakes, pressing in time, jars, dishes."""
    b = site["bench"]
    dosed = (("dose", b["dose"], "kg/t"), ("polymer", "polymer A"))
    tests = []
    for i, f in enumerate(b["filtration"]):
        more = (
            ("pressure", f"{f['pressure']:g}", "kPa"),
            ("filter area", f"{f['area']:g}", "cm2"),
            ("temperature", f"{f['temperature']:g}", "degC"),
            ("feed solids", f"{f['feed_ts']:.3g}", "%"),
            ("cake solids", f"{f['cake']:.3g}", "%"),
            *dosed,
        )
        top = head(site, f"F{i + 1}", "filtration_pressure", *more)
        rows = list(zip(f["time"], f["volume"], strict=True))
        tests.append((top, ["time [s]", "filtrate volume [mL]"], rows))
    sheet(folder / "filtration.csv", tests)
    top = head(site, "P1", "pressed_cake", *dosed)
    c = b["course"]
    more = (
        ("pressure", f"{c['pressure']:g}", "kPa"),
        ("filter area", f"{c['area']:g}", "cm2"),
        ("dry mass", f"{c['dry_mass']:g}", "g"),
        ("drained faces", "1", "1"),
        ("temperature", "18", "degC"),
        *dosed,
    )
    rows = list(zip(c["time"], c["height"], strict=True))
    pressed = (top, ["pressure [kPa]", "cake solids [%]"], b["pressed"])
    pressing = (head(site, "C1", "press_course", *more), ["time [s]", "cake height [mm]"], rows)
    sheet(folder / "pressed.csv", [pressed, pressing])
    more = (
        ("polymer", "polymer A"),
        ("feed solids", f"{b['feed_ts']:.3g}", "%"),
        ("temperature", "18", "degC"),
    )
    suction = (
        head(site, "J1", "dose_response", *more, ("water blank", "7.4", "s")),
        ["dose [kg/t]", "suction time [s]"],
        [(d, t) for d, t, _ in b["jars"]],
    )
    solids = (
        head(site, "J2", "dose_response", *more),
        ["dose [kg/t]", "filtrate solids [mg/L]"],
        [(d, s) for d, _, s in b["jars"]],
    )
    sheet(folder / "jars.csv", [suction, solids])
    titles = ["dish [g]", "dish and wet sludge [g]", "after drying [g]", "after ignition [g]"]
    with open(folder / "solids.csv", "w", encoding="utf-8", newline="") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow([MARK])
        out.writerows([*head(site, "D1", "solids_dish"), ["readings"], titles])
        out.writerows([[f"{x:.4f}" for x in row] for row in b["dishes"]])


PILOT = {
    "run": ("run", "{}"),
    "speed": ("speed [1/min]", "{:.2f}"),
    "plate": ("back pressure [kPa]", "{:.1f}"),
    "feed_flow": ("feed flow [m3/h]", "{:.4g}"),
    "feed_ts": ("feed TS [%]", "{:.3g}"),
    "dose": ("dose [kg/t]", "{:.3g}"),
    "cake": ("cake TS [%]", "{:.1f}"),
    "capture": ("capture [%]", "{:.1f}"),
    "power": ("power [kW]", "{:.3g}"),
}


def write_pilot(path, site):
    """The sheet of runs."""
    w = site["truth"]
    with open(path, "w", encoding="utf-8", newline="") as file:
        text = f"# frame: {w['pilot_frame']}. All runs are invented: a made-up press and sludge."
        file.write(text + "\n")
        out = csv.writer(file, lineterminator="\n")
        out.writerow([title for title, _ in PILOT.values()] + ["ran"])
        for run in site["pilot"]:
            read = dict(run["read"])
            if "capture" in read:
                read["capture"] = 100.0 * read["capture"]
            cells = [form.format(read[k]) if k in read else "" for k, (_, form) in PILOT.items()]
            out.writerow([*cells, "yes" if read["ran"] else "no"])


def study_text(site, setting, law):
    """A study of one question: its load in an eight-hour day, its frame, its dose."""
    w = site["truth"]
    shafts = FRAMES[setting["frame"]][0]
    flow = setting["load"] / (10.0 * setting["feed_ts"]) * 8.0
    lines = [
        "# An invented site. No real works, person or price.",
        "cakewright = 1",
        f'title = "Invented site {site["key"]}, {shafts} shaft(s)"',
        "invented = true",
        "",
        "[[sludge]]",
        'name = "sludge on trial"',
        f'class = "{w["class"]}"',
        f'flow = "{flow:.4g} m3/d ± {0.1 * flow:.2g} m3/d"',
        f'total_solids = {{ value = "{setting["feed_ts"]:.3g} % ± '
        f'{0.08 * setting["feed_ts"]:.2g} %", basis = "measured" }}',
        f'volatile = "{w["sludge"]["vs_pct"]:.3g} % ± 4 %"',
        'temperature = "18 degC ± 2 degC"',
        "",
        "[duty]",
        'hours_per_day = "8 h/d"',
        "days_per_week = 7",
        "",
        "[target]",  # low on purpose: nothing is to be refused here
        'cake_solids = "8 %"',
        'capture = "70 %"',
        "",
        "[polymer]",
        f'dose = "{setting["dose"]:.3g} kg/t"',
        "",
        "[machines]",
        'kinds = ["multi_disc_screw_press"]',
        f'frame = "{setting["frame"]}"',
    ]
    if law:
        lines += ["", "[bench]", f'law = "{law}"']
    return "\n".join(lines) + "\n"


ACCEPT = {
    "feed_flow": "m3/h",
    "feed_solids": "%",
    "polymer_flow": "L/h",
    "polymer_strength": "%",
    "filtrate_flow": "m3/h",
    "filtrate_solids": "mg/L",
    "cake_flow": "kg/h",
    "cake_solids": "%",
}


def write_acceptance(path, setting, test):
    """Samples of an acceptance test, both laboratories averaged, flows from the balance."""
    with open(path, "w", encoding="utf-8", newline="") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow(["run", "minutes", *(f"{k} [{u}]" for k, u in ACCEPT.items())])
        for number, run in enumerate(test["runs"], 1):
            for place, pair in enumerate(zip(*run["samples"], strict=True)):
                read = {k: float(np.mean([s[k] for s in pair])) for k in pair[0]}
                true, feed_ts = run["true"], run["feed_ts"]
                flow = run["load"] / (10.0 * feed_ts)
                polymer = run["load"] * setting["dose"] / 1e6 / 0.003  # m3/h of 0.3 %
                cake = run["load"] * true["capture"] / (true["cake"] / 100.0)
                filtrate = flow + polymer - cake / 1000.0
                row = [flow, read["feed_ts"], 1000 * polymer, 0.3, filtrate, read["filtrate_ss"]]
                row += [cake, read["cake"]]
                out.writerow([number, 48 * place, *(f"{x:.5g}" for x in row)])


def plain(value):
    """Arrays as lists, all the way down."""
    if isinstance(value, dict):
        return {k: plain(v) for k, v in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(v) for v in value]
    return value.tolist() if isinstance(value, (np.ndarray, np.generic)) else value


def write_site(folder, site):
    """Bench and pilot sheets, a study a question, its acceptance samples, and the truth."""
    (folder / "bench").mkdir(parents=True, exist_ok=True)
    write_bench(folder / "bench", site)
    write_pilot(folder / "runs.csv", site)
    law = "law/sludge-law.toml"
    base = site["pilot"][0]["setting"]
    (folder / "study.toml").write_text(study_text(site, base, law), encoding="utf-8")
    for q in site["questions"]:
        name = f"question-{q['name'].replace(' ', '-')}.toml"
        (folder / name).write_text(study_text(site, q["setting"], law), encoding="utf-8")
        for when, told in (("test_soon", "soon"), ("test", "later")):
            path = folder / f"test-{told}-{q['name'].replace(' ', '-')}.csv"
            write_acceptance(path, q["setting"], q[when])
    asked = [{k: q[k] for k in ("name", "kind", "setting")} for q in site["questions"]]
    text = json.dumps(plain(asked), indent=1)
    (folder / "questions.json").write_text(text, encoding="utf-8")
    (folder / "truth.json").write_text(json.dumps(plain(site), indent=1), encoding="utf-8")
