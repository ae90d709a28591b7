"""The interface: `site(set, number)` gives one site as plain data."""

import numpy as np

from honest_sites.bench_tests import bench
from honest_sites.trials import pilot, questions
from honest_sites.truth import SETS, draw_truth

NUMBER = 60  # sites of a set; any number is drawn, these are the ones to quote
__all__ = ["NUMBER", "SETS", "site"]


def site(set_name, number, each=2):
    """Bench, pilot and questions of one site; the same for the same arguments."""
    w = draw_truth(set_name, number)
    runs = pilot(w, np.random.default_rng([SETS[set_name], number, 2]))
    return {
        "key": f"honest-{set_name.replace('_', '-')}-{number:03d}",
        "set": set_name,
        "number": number,
        "truth": w,
        "bench": bench(w, np.random.default_rng([SETS[set_name], number, 3])),
        "pilot": runs,
        "questions": questions(w, runs, np.random.default_rng([SETS[set_name], number, 4]), each),
    }
