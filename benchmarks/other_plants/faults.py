"""The faults: what may go wrong, how large, how fast, and which plants have which."""

from dataclasses import asdict, dataclass

import numpy as np

from other_plants.sites import SETS

# id: (family, smallest size, largest size, what the size means, shapes it may take)
FAULTS = {
    "thin_makeup": ("polymer", 0.2, 0.5, "share of make-up strength missing", ("step", "ramp")),
    "aged_polymer": ("polymer", 0.25, 0.6, "share of activity lost, strength as made", ("ramp",)),
    "dilution_failure": ("polymer", 0.2, 0.45, "share of dose not mixed in", ("step",)),
    "polymer_pump_wear": ("polymer", 0.15, 0.45, "share of polymer flow missing", ("ramp",)),
    "blinded_gaps": ("machine", 0.15, 0.45, "share of gaps shut at normal wash", ("ramp",)),
    "blocked_nozzle": ("machine", 0.3, 0.8, "share of rings not rinsed", ("step",)),
    "worn_discs": ("machine", 0.3, 0.9, "growth of the gap, 0.5 = half as wide again", ("ramp",)),
    "slack_spring": ("machine", 0.25, 0.6, "share of plate pressure lost", ("step", "ramp")),
    "septic_sludge": ("sludge", 0.4, 1.0, "0 fresh, 1 black and stinking", ("spell", "ramp")),
    "season_change": ("sludge", 0.5, 1.0, "1 = 9 points more VS and 9 K colder", ("slow",)),
    "thin_feed": ("sludge", 0.2, 0.45, "share of feed solids missing", ("step", "ramp", "spell")),
    "oil_surge": ("sludge", 0.4, 1.0, "0 none, 1 as much as the press can bear", ("spell",)),
    "feed_meter_drift": ("instrument", 0.08, 0.25, "relative error, sign drawn", ("ramp",)),
    "frozen_solids_meter": ("instrument", 1.0, 1.0, "reading stands still", ("step",)),
    "torque_wrong": ("instrument", 0.15, 0.4, "relative error, sign drawn", ("step", "ramp")),
    "level_wrong": ("instrument", 8, 20, "cm, sign drawn", ("step", "ramp")),
}
SIGNED = ("feed_meter_drift", "torque_wrong", "level_wrong")
DAYS_TO_FULL = {"step": (0.0, 0.1), "ramp": (8, 30), "slow": (25, 45), "spell": (0.5, 3)}
FREE = {"development": 10, "held_back": 12, "apart": 6}
DOUBLE = {"development": 4, "held_back": 6, "apart": 2}


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault of one plant. Days are counted from the first day of the log."""

    name: str
    size: float
    shape: str
    onset_day: float
    days_to_full: float
    end_day: float

    def severity(self, day):
        """Size at a time (days); 0 before onset and after the end."""
        day = np.asarray(day, float)
        grown = np.clip((day - self.onset_day) / max(self.days_to_full, 1e-6), 0.0, 1.0)
        return np.where((day >= self.onset_day) & (day < self.end_day), self.size * grown, 0.0)

    def label(self):
        """The truth as plain data."""
        family, _, _, meaning, _ = FAULTS[self.name]
        half = self.onset_day + 0.5 * self.days_to_full
        return asdict(self) | {"family": family, "meaning": meaning, "half_grown_day": half}


def numbers(set_name):
    """How many plants a set holds: twice every fault (apart: once), free ones, double ones."""
    each = 1 if set_name == "apart" else 2
    return each * len(FAULTS) + FREE[set_name] + DOUBLE[set_name]


def draw_faults(set_name, number, days):
    """Faults of a plant: mostly one, a few two, some none. Two never touch the same days' start."""
    rng = np.random.default_rng([SETS[set_name], number, 2])
    names = list(FAULTS)
    each = (1 if set_name == "apart" else 2) * len(names)
    if number < each:
        chosen = [names[number % len(names)]]
    elif number < each + FREE[set_name]:
        return []
    else:
        chosen = [str(name) for name in rng.choice(names, 2, replace=False)]
    low = 0.7 if set_name == "held_back" else 1.0  # smaller faults are held back too
    found = []
    first, last = 0.36 * days, 0.62 * days
    for place, name in enumerate(chosen):
        _, small, large, _, shapes = FAULTS[name]
        size = 1.0 if small == large else float(rng.uniform(low * small, large))
        if name in SIGNED:
            size *= float(rng.choice([-1.0, 1.0]))
        shape = str(rng.choice(shapes))
        onset = float(rng.uniform(first, last)) + place * 0.15 * days
        grow = float(rng.uniform(*DAYS_TO_FULL[shape]))
        end = onset + float(rng.uniform(6, 18)) if shape == "spell" else float(days)
        found.append(Fault(name, size, shape, onset, grow, min(end, float(days))))
    return found


def severities(faults, day):
    """Severity of every fault there is, by name, at the times given; 0 where not drawn."""
    out = {name: np.zeros_like(np.asarray(day, float)) for name in FAULTS}
    for fault in faults:
        out[fault.name] = out[fault.name] + fault.severity(day)
    return out
