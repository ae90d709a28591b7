"""The sludge law at the dose used, over the study's samples, for the pressing paths."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cakewright.jobs.draws import StudyDraws
from cakewright.machines.pressing_path import PressedSludge
from cakewright.physics.dose_response import fines_share_dose, resistance_ratio_dose
from cakewright.physics.water import water_density_kell, water_viscosity_iapws
from cakewright.quantities import Basis, Figure, FloatArray, Mark, weakest
from cakewright.sludge import Feed
from cakewright.sludge.law import LAW_PARAMETERS, SludgeLaw, Space, from_space
from cakewright.sludge.law_prior import prior_of_class

__all__ = ["LAW_SCORES", "Pressed", "pressed_of"]

LAW_SCORES = len(LAW_PARAMETERS)
_MOST_CREEP = 0.95


@dataclass(frozen=True, slots=True, eq=False)
class Pressed:
    """The law's parameters over samples, at the dose used.

    ``tested`` is True when bench tests of this sludge stand behind it; ``extrapolated`` is the
    share of samples whose dose lies outside the tested doses.
    """

    sludge: PressedSludge
    fines_share: FloatArray
    dose: FloatArray
    tested: bool
    basis: Basis
    mark: Mark
    source: str
    note: str
    extrapolated: float = 0.0

    def figure(self, name: str, samples: FloatArray, note: str = "") -> Figure:
        """A figure that rests on this law."""
        told = "; ".join(text for text in (self.note, note) if text)
        return Figure(name, samples, self.basis, self.mark, self.source, told)


def pressed_of(
    draws: StudyDraws, feed: Feed, law: SludgeLaw | None, dose: FloatArray | None
) -> Pressed:
    """The law of the feed: the tested one, else the priors of its classes blended by dry mass.

    ``dose`` None: the optimum of the law.
    """
    normals = np.stack([draws.score(f"~law.{i}") for i in range(LAW_SCORES)], axis=1)
    values = law.at_normals(normals) if law else _blended(feed, normals)
    used = values["optimum_dose"] if dose is None else dose
    ratio = resistance_ratio_dose(
        used, values["optimum_dose"], values["dose_curvature"], values["dose_gain"]
    )
    fines = fines_share_dose(
        used, values["optimum_dose"], values["fines_share"], values["fines_curvature"]
    )
    temperature = feed.mix.temperature
    sludge = PressedSludge(
        solids_density=values["solids_density"],
        gel_point=values["gel_point"],
        yield_scale=values["yield_scale"],
        yield_exponent=values["yield_exponent"],
        local_resistance=np.asarray(values["local_resistance"] * ratio),
        resistance_exponent=values["resistance_exponent"],
        creep_share=np.minimum(values["creep_share"], _MOST_CREEP),
        creep_rate=values["creep_rate"],
        liquid_viscosity=np.asarray(water_viscosity_iapws(temperature)),
        liquid_density=np.asarray(water_density_kell(temperature)),
    )
    return Pressed(
        sludge=sludge,
        fines_share=np.minimum(np.asarray(fines), 0.9),
        dose=np.asarray(used),
        tested=law is not None,
        basis=_basis(law),
        mark=_mark(law),
        source=_source(law),
        note=_note(law),
        extrapolated=_outside(law, np.asarray(used)),
    )


def _blended(feed: Feed, normals: FloatArray) -> dict[str, FloatArray]:
    """Priors of the classes, blended on each parameter's own line by dry mass."""
    total: dict[str, FloatArray] = {}
    for key, share in feed.shares.items():
        values = prior_of_class(key).at_normals(normals)
        for name, samples in values.items():
            line = _on_line(samples, LAW_PARAMETERS[name])
            total[name] = total.get(name, np.zeros(line.shape)) + share * line
    return {name: from_space(line, LAW_PARAMETERS[name]) for name, line in total.items()}


def _on_line(samples: FloatArray, space: Space) -> FloatArray:
    share = np.clip(samples, 1e-12, 1.0 - 1e-12)
    return np.log(samples) if space is Space.LOG else np.log(share / (1.0 - share))


def _basis(law: SludgeLaw | None) -> Basis:
    if law is None:
        return Basis.ASSUMED
    carrying = [p.basis for p in law.parameters if p.learnt > 0.0]
    return weakest(carrying) if carrying else Basis.ASSUMED


def _mark(law: SludgeLaw | None) -> Mark:
    if law is None:
        return Mark.JUDGEMENT
    return Mark.INVENTED if law.invented else Mark.NONE


def _source(law: SludgeLaw | None) -> str:
    if law is None:
        return "JUDGEMENT"
    ids = [part for p in law.parameters for part in p.source.split()]
    return " ".join(dict.fromkeys(ids)) or "OWN"


def _note(law: SludgeLaw | None) -> str:
    if law is None:
        return "sludge law: prior of the class, not tested"
    untested = [p.name.replace("_", " ") for p in law.parameters if p.learnt <= 0.0]
    prior = f"; from the prior: {', '.join(untested)}" if untested else ""
    return f"sludge law from bench tests of {law.sludge}{prior}"


def _outside(law: SludgeLaw | None, dose: FloatArray) -> float:
    if law is None or law.dose_high <= law.dose_low:
        return 0.0
    return float(np.mean((dose < law.dose_low) | (dose > law.dose_high)))
