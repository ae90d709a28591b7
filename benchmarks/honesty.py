"""How often the chain from bench to acceptance test is right when it says how sure it is.

Sites of another make (``honest_sites``) go through bench, calibration, forecast and promise; their
hidden truth and their tests are scored: coverage of 80 % bands, and how often what is promised at
a stated chance passes (reliability), inside what the pilot tried, at its edge, beyond, and on a
bigger frame.

    python benchmarks/honesty.py --sites 20 --first 0 --set development --out benchmarks/results
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from cakewright.errors import CakewrightError
from cakewright.jobs.bench import evaluate_bench
from cakewright.jobs.calibrate import calibrate, widened
from cakewright.jobs.calibration_density import Density, most_likely
from cakewright.jobs.calibration_findings import fitted_of
from cakewright.jobs.first_look import first_look, without_doubts
from cakewright.jobs.fitted import FittedPress
from cakewright.jobs.foretold import foretold
from cakewright.jobs.measured import quantities
from cakewright.jobs.trial import PilotRun, Trial
from cakewright.machines import shipped_catalogue
from cakewright.machines.frames import frame_named
from cakewright.machines.registry import data_of
from cakewright.machines.screw.case import screw_geometry
from cakewright.quantities import FloatArray, Mark
from cakewright.sludge.law import SludgeLaw
from cakewright.statistics.population import tempered_population
from cakewright.storage.bench_sheets import read_bench_files
from cakewright.storage.pilot_runs import read_pilot_runs

CHANCES = (0.5, 0.7, 0.8, 0.9, 0.95)
SAMPLES, TESTS = 512, 16
RUNNABLE = 0.9  # share of draws that can hold a setting for it to count as one that can be run
NAMES = {"cake_solids": ("cake", 0.01), "capture": ("capture", 1.0)}
_LAB = {"cake_solids": 0.01, "capture": 0.006}  # bias of a method, relative (guarantee.toml)
Row = dict[str, object]


def written(group: str, number: int, folder: Path) -> Path:
    """A site written by its makers, by their own command."""
    words = ["-m", "honest_sites", "--set", group, "--number", str(number), "--out", str(folder)]
    here = Path(__file__).parent
    subprocess.run([sys.executable, *words], cwd=here, check=True, capture_output=True)
    return next(folder.glob("*"))


def tested_law(site: Path) -> SludgeLaw:
    """The sludge law from the bench sheets."""
    read = read_bench_files(sorted((site / "bench").glob("*.csv")))
    joint = evaluate_bench(read.tests, read.bad).sludges[0].joint
    if joint is None:
        raise ValueError("no law from these sheets")
    return joint.law


def fitted_press(site: Path, law: SludgeLaw, *, check: bool) -> FittedPress:
    """The press from the pilot sheet; runs that the first look doubts are left out."""
    sheet = read_pilot_runs(site / "runs.csv", law.value("solids_density"))
    frame = frame_named(sheet.frame, shipped_catalogue())
    window = data_of(frame.machine, "settings.toml")
    plates = (window["back_pressure_low"], window["back_pressure_high"])
    trial = Trial(frame.machine, frame.name, screw_geometry(frame), law, sheet.runs, plates)
    if check:
        return calibrate(trial, "", without_odd=True).fitted
    # The first method alone, without the report's questions: a quarter of the time.
    density = Density(trial)
    doubts = first_look(density, most_likely(density))
    if doubts:
        density = Density(without_doubts(trial, doubts))
    posterior = tempered_population(density.log_density, density.prior, count=256)
    return fitted_of(density.trial, widened(posterior), "", Mark.INVENTED)


def asked(setting: dict[str, float]) -> PilotRun:
    """A question's setting in SI."""
    return PilotRun(
        "question", setting["speed"] / 60.0, setting["load"] / 3600.0, setting["feed_ts"] / 100.0,
        setting["dose"] / 1000.0, {}, back_pressure=1000.0 * setting["plate"], temperature=291.15,
    )  # fmt: skip


def test_means(name: str, true: FloatArray, runs: int, rng: np.random.Generator) -> FloatArray:
    """What a test of the press would read: change from run to run, sampling, laboratories."""
    wide = np.repeat(true, TESTS)
    run = float(quantities()[name]["runs"]) / np.sqrt(runs)
    error = run * rng.standard_normal(wide.size)
    error += _LAB[name] / np.sqrt(2.0) * rng.standard_normal(wide.size)
    return np.asarray(wide * (1.0 + error))


def scored(question: dict, fitted: FittedPress, law: SludgeLaw, number: int) -> list[Row]:
    """Truth and tests of one question against what was foretold."""
    frame = frame_named(question["setting"]["frame"], shipped_catalogue())
    found = foretold(fitted, law, frame, asked(question["setting"]), SAMPLES)
    rng = np.random.default_rng([7, number])
    rows: list[Row] = []
    read: dict[str, dict[str, FloatArray]] = {}
    for name, (key, unit) in NAMES.items():
        drawn = found.samples[name][1:]
        low, high = np.quantile(drawn, (0.1, 0.9))
        truth = {when: question[when][key] * unit for when in ("today", "soon", "later")}
        row: Row = {
            "kind": question["kind"], "quantity": name, "answered": found.answered,
            "ratio": float(np.median(drawn) / truth["today"]),
            "spread": float(np.std(np.log(drawn))),
        }  # fmt: skip
        for when, value in truth.items():
            row[f"held {when}"] = bool(low <= value <= high)
        for when in ("test_soon", "test"):
            runs = len(question[when]["runs"])
            means = test_means(name, drawn, runs, rng)
            read.setdefault(when, {})[name] = means
            got = question[when]["mean"][key] * unit
            row[f"passes {when}"] = {
                str(p): bool(got >= np.quantile(means, 1.0 - p)) for p in CHANCES
            }
        rows.append(row)
    rows.append(_joint(question, read))
    return rows


def _joint(question: dict, read: dict[str, dict[str, FloatArray]]) -> Row:
    """Cake and capture promised together at a stated joint chance, both equally sure."""
    row: Row = {"kind": question["kind"], "quantity": "both"}
    for when, means in read.items():
        got = {n: question[when]["mean"][k] * u for n, (k, u) in NAMES.items()}
        row[f"passes {when}"] = passes = {}
        for p in CHANCES:
            low, high = p, 1.0
            for _ in range(20):
                middle = 0.5 * (low + high)
                limits = {n: np.quantile(v, 1.0 - middle) for n, v in means.items()}
                both = np.all([v >= limits[n] for n, v in means.items()], axis=0).mean()
                low, high = (low, middle) if both >= p else (middle, high)
            limits = {n: np.quantile(v, 1.0 - high) for n, v in means.items()}
            passes[str(p)] = all(bool(got[n] >= limits[n]) for n in means)
    return row


def one_site(group: str, number: int, *, check: bool) -> dict[str, object]:
    """Every question of a site, or why it could not be answered."""
    started = time.process_time()
    with tempfile.TemporaryDirectory() as folder:
        site = written(group, number, Path(folder))
        truth = json.loads((site / "truth.json").read_text(encoding="utf-8"))
        try:
            law = tested_law(site)
            fitted = fitted_press(site, law, check=check)
            rows = [r for q in truth["questions"] for r in scored(q, fitted, law, number)]
        except (CakewrightError, ValueError) as error:
            return {"set": group, "number": number, "failed": str(error)[:300]}
    seconds = round(time.process_time() - started, 1)
    return {"set": group, "number": number, "seconds": seconds, "rows": rows}


def _share(values: list[bool]) -> list[float]:
    """Share and its standard error."""
    p, n = float(np.mean(values)), len(values)
    return [round(p, 3), round(float(np.sqrt(max(p * (1 - p), 0.25 / n) / n)), 3)]


def summary(sites: list[dict]) -> dict[str, object]:
    """Coverage and reliability by kind of question."""
    rows = [row for site in sites for row in site.get("rows", [])]
    found: dict[str, object] = {
        "sites": sum("rows" in s for s in sites), "failed": sum("failed" in s for s in sites),
    }  # fmt: skip
    for name in (*NAMES, "both"):
        for kind in ("inside", "edge", "beyond", "frame"):
            mine = [r for r in rows if r["quantity"] == name and r["kind"] == kind]
            if not mine:
                continue
            entry: dict[str, object] = {"questions": len(mine)}
            for when in ("today", "soon", "later"):
                if f"held {when}" in mine[0]:
                    entry[f"80 % band holds {when}"] = _share([r[f"held {when}"] for r in mine])
            for when in ("test_soon", "test"):
                entry[f"stated and passed, {when}"] = {
                    str(p): _share([r[f"passes {when}"][str(p)] for r in mine]) for p in CHANCES
                }
            if name in NAMES:
                entry["80 % band holds today, by what the path says"] = {
                    word: [len(part), *_share([r["held today"] for r in part])]
                    for word, part in _by_runnable(mine).items()
                    if part
                }
            found[f"{name}, {kind}"] = entry
    return found


def _by_runnable(rows: list[Row]) -> dict[str, list[Row]]:
    """Questions of a setting that nine draws in ten can run, and those that fewer can."""
    able = [float(str(r["answered"])) >= RUNNABLE for r in rows]
    return {
        "can be run": [r for r, a in zip(rows, able, strict=True) if a],
        "may not run": [r for r, a in zip(rows, able, strict=True) if not a],
    }


def by_set(sites: list[dict]) -> dict[str, object]:
    """A summary of each set: spreads may be chosen on the one, never on the other."""
    names = sorted({str(site["set"]) for site in sites})
    return {name: summary([s for s in sites if s["set"] == name]) for name in names}


def main() -> None:
    """Run sites and add them to the record."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--set", default="development", choices=("development", "held_back"))
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--sites", type=int, default=20)
    parser.add_argument("--check", action="store_true", help="With the second method.")
    parser.add_argument("--out", type=Path, default=Path(__file__).parent / "results")
    given = parser.parse_args()
    path = given.out / "honesty.json"
    record = json.loads(path.read_text(encoding="utf-8")) if path.exists() else {}
    kept = record.get("sites", [])
    done = {(site["set"], site["number"]) for site in kept}
    for number in range(given.first, given.first + given.sites):
        if (given.set, number) in done:
            continue
        kept.append(one_site(given.set, number, check=given.check))
        record |= {"summary": by_set(kept), "sites": kept}
        given.out.mkdir(parents=True, exist_ok=True)
        path.write_text(json.dumps(record, indent=None) + "\n", encoding="utf-8")
        print(number, kept[-1].get("seconds"), kept[-1].get("failed", ""), flush=True)
    print(json.dumps(by_set(kept), indent=1))


if __name__ == "__main__":
    main()
