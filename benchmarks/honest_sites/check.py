"""Self-check: numbers a ring press may have, trends, balances, repeats. No timing.

python benchmarks/honest_sites/check.py [sites per set, 30]
"""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

import numpy as np

from honest_sites.press import respond
from honest_sites.readings import capture_from, filtrate_mg_l
from honest_sites.sites import SETS, site
from honest_sites.truth import nominal
from honest_sites.writers import plain

# handle up by a fifth: (response, sign) and the least share of sites in which it must hold
TRENDS = {
    "speed": (("cake", -1, 0.8), ("throughput", 1, 0.9), ("capture", -1, 0.6), ("power", 1, 0.75)),
    "plate": (("cake", 1, 0.95), ("capture", -1, 0.6), ("throughput", -1, 0.3), ("power", 1, 0.95)),
    "load": (("cake", -1, 0.7), ("power", 1, 0.8)),
    "dose": (("capture", 1, 0.0),),
}
RANGES = {
    "cake": (8, 32),
    "capture": (0.7, 0.995),
    "load": (2.0, 216.0),
    "dose": (2, 20),
    "feed_ts": (0.3, 3.1),
    "speed": (1, 5),
}


def require(holds, *told):
    """Stop with what was found where a check does not hold."""
    if not holds:
        raise SystemExit("does not hold: " + ", ".join(map(str, told)))


def trend_shares(sites):
    """Share of sites in which a handle up by a fifth moves each response the usual way."""
    for handle, expected in TRENDS.items():
        for response, sign, least in expected:
            right = []
            for made in sites:
                w = made["truth"]
                base = nominal(w)
                up = respond(w, w["sludge"], base | {handle: 1.2 * base[handle]})
                right.append(sign * (up[response] - respond(w, w["sludge"], base)[response]) > 0)
            share = float(np.mean(right))
            print(f"  {handle:5} up: {response} {'up' if sign > 0 else 'down'} in {share:.0%}")
            require(share >= least, handle, response, share)


def under_dosed_loses(sites):
    """Half the best dose is dirtier and wetter on nearly every site."""
    worse = []
    for made in sites:
        w = made["truth"]
        base = nominal(w)
        well = respond(w, w["sludge"], base)
        poor = respond(w, w["sludge"], base | {"dose": 0.5 * base["dose"]})
        worse.append(poor["cake"] < well["cake"] and poor["capture"] < well["capture"])
    require(np.mean(worse) >= 0.9, "half dose", np.mean(worse))


def ranges(made):
    """Every question and run is a setting and a result a ring press may have."""
    for q in made["questions"]:
        for name, (low, high) in RANGES.items():
            value = (q["today"] | q["setting"])[name]
            require(low <= value <= high, made["key"], q["name"], name, value)
    held = sum(run["true"]["ran"] for run in made["pilot"])
    require(held >= 4, made["key"], "runs held", held)


def main():
    """Run the checks over both sets and print what the truth looks like."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 30
    for capture in (0.85, 0.98):
        ss = filtrate_mg_l(capture, 1.0, 8.0, 18.0)
        require(abs(capture_from(1.0, 18.0, ss, 8.0) - capture) < 1e-9, "capture balance")
    for set_name in SETS:
        sites = [site(set_name, number) for number in range(count)]
        print(set_name)
        for made in sites:
            ranges(made)
        trend_shares(sites)
        under_dosed_loses(sites)
        require(plain(sites[0]) == plain(site(set_name, 0)), set_name, "repeat")
        asked = [q for made in sites for q in made["questions"]]
        for kind in ("inside", "edge", "beyond", "frame"):
            some = [q for q in asked if q["kind"] == kind]
            cake = np.array([q["today"]["cake"] for q in some])
            moved, soon = (
                np.array([q[t]["mean"]["cake"] / q["today"]["cake"] - 1 for q in some])
                for t in ("test", "test_soon")
            )
            load = [q["setting"]["load"] for q in some]
            print(
                f"  {kind:7} {len(some):3} questions, cake {cake.min():.1f}-{cake.max():.1f} %, "
                f"load {min(load):.1f}-{max(load):.0f} kg/h, test against today "
                f"{100 * moved.mean():+.1f} +- {100 * moved.std():.1f} % "
                f"({100 * soon.std():.1f} % in the same season)"
            )
        slips = [not r["true"]["ran"] for made in sites for r in made["pilot"]]
        print(f"  pilot runs {len(slips)}, not held {sum(slips)}")
    print("all hold")


main()
