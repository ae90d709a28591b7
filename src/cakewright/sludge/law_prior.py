"""What is believed about a sludge law before any test: the class's published or judged bands."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np

from cakewright.physics.solids import density_solids
from cakewright.quantities import Basis, FloatArray, Mark
from cakewright.quantities.constants import NORMAL_90
from cakewright.quantities.tables import packaged_table
from cakewright.reference.law_priors import LawPrior, law_prior
from cakewright.sludge.law import (
    LAW_PARAMETERS,
    LawParameter,
    SludgeLaw,
    Space,
    diagonal_law,
    from_space,
    to_space,
)

__all__ = ["prior_of_class", "prior_with_cake"]

_NARROWED = 0.99  # below this share of its own spread a parameter's note says so

# law parameter -> row of the reference table
_ROWS = {
    "gel_point": "phi_g",
    "yield_scale": "p_a",
    "yield_exponent": "n",
    "local_resistance": "alpha_0",
    "resistance_exponent": "m",
    "medium_resistance": "R_m",
    "optimum_dose": "dose_optimum",
    "fines_share": "fines_share",
    "creep_share": "B",
    "creep_rate": "creep_rate",
}


def _spread(low: float, high: float, space: Space) -> float:
    return (to_space(high, space) - to_space(low, space)) / (2 * NORMAL_90)


def _from_row(name: str, row: LawPrior) -> LawParameter:
    space = LAW_PARAMETERS[name]
    return LawParameter(
        name=name,
        value=row.typical,
        sd=_spread(row.low, row.high, space),
        basis=Basis.PUBLISHED if row.source[0] in "PTL" else Basis.ASSUMED,
        source=" ".join(dict.fromkeys((row.source, *row.based_on))),
        mark=row.mark,
        note=f"prior of the class: {row.note}",
    )


def _density(sludge_class: str, points: int = 4001) -> LawParameter:
    """Density of the dry solids: the class's ash and densities, drawn evenly and combined."""
    rows = [law_prior(sludge_class, name) for name in ("ash_share", "rho_v", "rho_f")]
    normals = _spread_normals(points)
    drawn = [
        np.exp(np.log(r.typical) + normals[:, i] * np.log(r.high / r.low) / (2 * NORMAL_90))
        for i, r in enumerate(rows)
    ]
    logs = np.log(np.asarray(density_solids(np.minimum(drawn[0], 0.99), drawn[1], drawn[2])))
    return LawParameter(
        name="solids_density",
        value=float(np.exp(np.mean(logs))),
        sd=float(np.std(logs)),
        basis=Basis.ASSUMED,
        source=" ".join(dict.fromkeys(r.source for r in rows)),
        mark=Mark.JUDGEMENT,
        note="prior of the class: from its ash and the densities of volatile and fixed solids",
    )


def _spread_normals(points: int) -> FloatArray:
    from scipy.special import ndtri
    from scipy.stats import qmc

    return np.asarray(ndtri(qmc.Halton(3, scramble=False).random(points + 1)[1:]))


@cache
def _dose_shape() -> dict[str, LawParameter]:
    return {
        name: LawParameter(
            name=name,
            value=entry["values"][1],
            sd=_spread(entry["values"][0], entry["values"][2], LAW_PARAMETERS[name]),
            basis=Basis.ASSUMED,
            source=entry["source"],
            mark=Mark.JUDGEMENT,
            note=f"prior of all classes: {entry['note']}",
        )
        for name, entry in packaged_table("cakewright.sludge", "data", "dose_shape.toml").items()
    }


@cache
def prior_of_class(sludge_class: str) -> SludgeLaw:
    """Law of a class before any test; parameters independent, every value with its source.

    Raises
    ------
    UnknownNameError
        If there is no such class.
    """
    parameters = [_from_row(name, law_prior(sludge_class, row)) for name, row in _ROWS.items()]
    parameters += [_density(sludge_class), *_dose_shape().values()]
    return diagonal_law("prior", sludge_class, parameters)


@cache
def _evidence() -> dict[str, tuple[FloatArray, FloatArray]]:
    """Shift and covariance of each class's parameters, in standard deviations of their bands."""
    return {
        key: (np.array(row["shift"], dtype=float), np.array(row["covariance"], dtype=float))
        for key, row in packaged_table("cakewright.sludge", "data", "class_laws.toml").items()
    }


@cache
def prior_with_cake(sludge_class: str) -> SludgeLaw:
    """Law of a class before any test, when the cakes found on such sludges are believed as well.

    Parameter by parameter a class is known so little that its cakes would spread three times as
    wide as they do. All published trials of machines, and the judged cake of the ring press, have
    been joined with the bands of all classes at once; this is what they leave of one class.

    Raises
    ------
    UnknownNameError
        If there is no such class.

    Notes
    -----
    With the bands' standard deviations ``D`` the centre moves by ``D m`` and the covariance is
    ``D C D``; ``m`` and ``C`` are written by ``docs/class_laws.py``.

    Examples
    --------
    >>> narrow, wide = prior_with_cake("was"), prior_of_class("was")
    >>> narrow.parameter("local_resistance").sd < wide.parameter("local_resistance").sd
    True
    """
    prior = prior_of_class(sludge_class)
    shift, inner = _evidence()[sludge_class]
    spread = np.sqrt(np.diag(prior.covariance))
    covariance = inner * np.outer(spread, spread)
    covariance = 0.5 * (covariance + covariance.T)
    centre, sd = prior.centre + spread * shift, np.sqrt(np.diag(covariance))
    told = "; with the cakes of published trials known"
    parameters = tuple(
        replace(
            p,
            value=float(from_space(place, p.space)),
            sd=float(now),
            note=p.note + told if now < _NARROWED * p.sd else p.note,
        )
        for p, place, now in zip(prior.parameters, centre, sd, strict=True)
    )
    return replace(prior, parameters=parameters, covariance=covariance)
