"""Press parameters of one frame from several sites, pooled without names for the next study."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cakewright.errors import DataError, Fault
from cakewright.jobs.fitted import BUILT_ON, FittedPress
from cakewright.machines.interface import Kind
from cakewright.machines.press_priors import ParameterPrior, parameter_priors
from cakewright.quantities import Basis, FloatArray, Mark
from cakewright.quantities.constants import NORMAL_90
from cakewright.running.fleet import Evidence, evidence_of, new_site
from cakewright.running.learning import FEWEST_SITES

__all__ = ["PressContribution", "PressFleet", "class_spread", "learn_presses", "press_contribution"]

POOLED = "pooled from"


@dataclass(frozen=True, slots=True, eq=False)
class PressContribution:
    """One nameless site's press parameters on their lines: no sludge, no law, no date."""

    machine: Kind
    frame: str
    names: tuple[str, ...]
    mean: FloatArray
    covariance: FloatArray
    runs: int
    mark: Mark
    token: str


@dataclass(frozen=True, slots=True, eq=False)
class PressFleet:
    """What a new press of the frame starts from, and the spread between sites on each line."""

    fitted: FittedPress
    sites: int
    between: FloatArray
    before: FloatArray


def class_spread(prior: ParameterPrior) -> tuple[float, float]:
    """Mean and standard deviation of a class prior on its line (two halves of a normal)."""
    to = np.log if prior.line == "log" else lambda v: np.log(v / (1 - v))
    low, middle, high = (float(to(v)) for v in (prior.low, prior.typical, prior.high))
    left, right = (middle - low) / NORMAL_90, (high - middle) / NORMAL_90
    gap = (right - left) / np.sqrt(2 * np.pi)
    return middle + float(gap), float(np.sqrt((left**2 + right**2) / 2 - gap**2))


def press_contribution(fitted: FittedPress) -> PressContribution:
    """The machine's part of one site's posterior, without anything that names the site.

    Raises
    ------
    DataError
        If it was pooled already, or built on earlier runs: they would be counted twice.
    """
    if any(note.startswith(BUILT_ON) for note in fitted.notes):
        allowed = "parameters fitted from the class prior alone"
        fault = Fault(
            "press parameters", "built on earlier runs", allowed, "calibrate without --prior"
        )
        raise DataError(fitted.frame, [fault])
    if any(note.startswith(POOLED) for note in fitted.notes):
        fault = Fault("press parameters", "already pooled", "one site's own", "give that site's")
        raise DataError(fitted.frame, [fault])
    size = len(fitted.names)
    mean, covariance = fitted.mean[:size], fitted.covariance[:size, :size]
    digest = hashlib.sha256(np.round(mean, 9).tobytes() + np.round(covariance, 9).tobytes())
    return PressContribution(
        fitted.machine, fitted.frame, fitted.names, mean, covariance, fitted.runs, fitted.mark,
        digest.hexdigest()[:16],
    )  # fmt: skip


def _checked(contributions: Sequence[PressContribution]) -> list[PressContribution]:
    frames = sorted({f"{one.machine.value} {one.frame}" for one in contributions})
    unique = {one.token: one for one in contributions}
    faults = []
    if len(frames) > 1:
        faults.append(Fault("frame", ", ".join(frames), "one frame", "pool each frame by itself"))
    if len(unique) < FEWEST_SITES:
        got = f"{len(unique)} different sites"
        faults.append(Fault("sites", got, f"at least {FEWEST_SITES}", "wait for more sites"))
    if faults:
        raise DataError("presses", faults)
    return list(unique.values())


def learn_presses(contributions: Sequence[PressContribution]) -> PressFleet:
    """Parameters of a new press of the frame: class prior, sites, and the spread between them.

    Each site's estimate enters without the class prior it was fitted with, which counts once. Its
    parameters must have been fitted from the class prior, as `cakewright calibrate` does.

    Raises
    ------
    DataError
        If frames are mixed or fewer than three different sites contribute.
    """
    sites = _checked(contributions)
    kind = sites[0].machine
    names = tuple(n for n in parameter_priors(kind) if any(n in one.names for one in sites))
    centre, spread = (
        np.array(column)
        for column in zip(*(class_spread(parameter_priors(kind)[n]) for n in names), strict=True)
    )
    found = new_site([_evidence(one, names, centre, spread) for one in sites])
    runs = sum(one.runs for one in sites)
    marked = any(one.mark is Mark.INVENTED for one in sites)
    fitted = FittedPress(
        machine=kind, frame=sites[0].frame, names=names, mean=centre + spread * found.mean,
        covariance=found.covariance * np.outer(spread, spread), runs=runs, date="",
        sludge="several", basis=Basis.MEASURED, mark=Mark.INVENTED if marked else Mark.NONE,
        notes=(f"{POOLED} {len(sites)} sites without their names",),
    )  # fmt: skip
    return PressFleet(fitted, len(sites), found.between * spread, spread)


def _evidence(
    one: PressContribution, names: Sequence[str], centre: FloatArray, spread: FloatArray
) -> Evidence:
    """A site's evidence over all parameters of the fleet, in units of the class prior."""
    at = [names.index(name) for name in one.names]
    mean, covariance = np.zeros(len(names)), np.eye(len(names))
    mean[at] = (one.mean - centre[at]) / spread[at]
    covariance[np.ix_(at, at)] = one.covariance / np.outer(spread[at], spread[at])
    return evidence_of(mean, covariance)
