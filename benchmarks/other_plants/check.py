"""Self-check: balances close, faults act as README says, plants repeat by seed.

python benchmarks/other_plants/check.py [--every]   (--every: all plants of all sets)
"""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

import numpy as np

from other_plants.faults import FAULTS, Fault
from other_plants.plant import simulate
from other_plants.plants import SETS, numbers, plant
from other_plants.sites import draw_site

# fault: signs of the true change late in the log against the same plant without it
SIGNS = {
    "thin_makeup": {"filtrate_ss": 1, "cake": -1},
    "aged_polymer": {"filtrate_ss": 1, "cake": -1},
    "dilution_failure": {"filtrate_ss": 1, "cake": -1},
    "polymer_pump_wear": {"filtrate_ss": 1, "cake": -1, "polymer": -1},
    "blinded_gaps": {"level": 1, "cake": -1},
    "blocked_nozzle": {"level": 1, "wash": -1},
    "worn_discs": {"filtrate_ss": 1, "torque": -1},
    "slack_spring": {"cake": -1, "torque": -1, "pressure": -1},
    "septic_sludge": {"filtrate_ss": 1, "cake": -1},
    "season_change": {"cake": -1, "temperature": -1},
    "thin_feed": {"ts": -1, "solids_in": -1},
    "oil_surge": {"torque": -1, "level": 1},
}


def require(holds, *told):
    """Stop with what was found where a check does not hold."""
    if not holds:
        raise SystemExit("does not hold: " + ", ".join(map(str, told)))


def balances(made):
    """Solids and water of every fed minute close on what went in."""
    true = made["true"]
    fed = true["feed"] > 0
    cake = true["cake_flow"] * true["cake"] / 100.0
    lost = true["filtrate"] * true["filtrate_ss"] / 1000.0
    gap = np.abs(cake + lost - true["solids_in"])[fed] / true["solids_in"][fed]
    require(gap.max() < 1e-9, made["key"], "balance", gap.max())


def plausible(made):
    """Medians and extremes of the truth that a person of the trade would accept."""
    true = made["true"]
    fed = true["feed"] > 0
    for name, low, high in (
        ("ts", 0.15, 4.5),
        ("cake", 7, 30),
        ("capture", 0.6, 0.995),
        ("dose", 2, 25),
        ("speed", 0.7, 6),
        ("torque", 4, 100),
    ):
        middle = float(np.median(true[name][fed]))
        require(low <= middle <= high, made["key"], name, middle)
    log = made["log"]
    require(all(len(v) == len(log["minute"]) for v in log.values()), made["key"], "lengths")
    require(np.all(np.diff(log["minute"]) > 0), made["key"], "order of minutes")


def trends(set_name):
    """Each fault alone, same seed with and without it, moves what it should."""
    failed = []
    for name, signs in SIGNS.items():
        if set_name == "apart" and "level" in signs:  # held by the controller: the screw tells
            signs = {k: v for k, v in signs.items() if k != "level"} | {"speed": 1}
        moved = dict.fromkeys(signs, 0.0)
        for number in (1, 2, 3):
            p = draw_site(set_name, number)
            size = 0.8 * FAULTS[name][2]
            fault = Fault(name, size, "step", 12.0, 2.0, 30.0)
            runs = []
            for faults in ([], [fault]):
                rng = np.random.default_rng([SETS[set_name], number, 9])
                runs.append(simulate(p, faults, 30, 0, rng)[0])
            for signal in signs:
                parts = []
                for true in runs:
                    late = (true["minute"] > 20 * 1440) & (true["feed"] > 0)
                    parts.append(float(np.mean(true[signal][late])))
                moved[signal] += np.log(parts[1] / parts[0]) / 3
        told = ", ".join(f"{k} {100 * np.expm1(v):+.0f} %" for k, v in moved.items())
        wrong = [k for k, sign in signs.items() if sign * moved[k] <= 0]
        print(f"{set_name:12} {name:18} {told}{'  WRONG: ' + ', '.join(wrong) if wrong else ''}")
        failed += wrong
    return failed


def main():
    """Run the checks; exit code 1 on any failure."""
    failed = [f for set_name in SETS for f in trends(set_name)]
    for set_name in SETS:
        every = range(numbers(set_name)) if "--every" in sys.argv else (0, 3, numbers(set_name) - 1)
        for number in every:
            made = plant(set_name, number, days=40, keep_true=True)
            balances(made)
            plausible(made)
        again = plant(set_name, 0, "typical", days=40)
        twice = plant(set_name, 0, "typical", days=40)
        same = all(np.array_equal(again["log"][k], twice["log"][k], True) for k in again["log"])
        require(same and again["laboratory"] == twice["laboratory"], set_name, "repeat")
        require("filtrate_flow" not in again["log"], set_name, "typical set")
    print("balances, ranges and repeats hold" if not failed else f"{len(failed)} trends wrong")
    sys.exit(1 if failed else 0)


main()
