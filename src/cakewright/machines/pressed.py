"""The sludge law at the dose used, over samples, for the pressing paths."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from cakewright.machines.pressing_path import PressedSludge
from cakewright.physics.dose_response import fines_share_dose, resistance_ratio_dose
from cakewright.physics.water import water_density_kell, water_viscosity_iapws
from cakewright.quantities import Basis, Figure, FloatArray, Mark, weakest
from cakewright.sludge import Feed
from cakewright.sludge.law import LAW_PARAMETERS, SludgeLaw, Space, from_space
from cakewright.sludge.law_prior import prior_with_cake

__all__ = ["LAW_SCORES", "Pressed", "pressed_at"]

LAW_SCORES = len(LAW_PARAMETERS)
_MOST_CREEP = 0.949  # a thousandth more, as a sensitivity asks, is still within the path's 0.95
_MOST_FINES = 0.9


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
    values: Mapping[str, FloatArray]
    extrapolated: float = 0.0
    tested_doses: tuple[float, float] = (0.0, 0.0)

    def at_dose(self, dose: FloatArray, sample: int = 0) -> tuple[FloatArray, FloatArray]:
        """Local resistance and fines share of one sample at other doses."""
        one = {name: values[sample] for name, values in self.values.items()}
        resistance, fines = _dosed(one, dose)
        return np.asarray(resistance), np.asarray(fines)

    def every_dose(self, dose: FloatArray, count: int) -> tuple[FloatArray, FloatArray]:
        """The same for the first ``count`` samples, each at a dose of its own."""
        resistance, fines = _dosed({n: v[:count] for n, v in self.values.items()}, dose)
        return np.asarray(resistance), np.asarray(fines)

    def wide(self, size: int) -> PressedSludge:
        """The sludge with every number an array of so many samples."""
        names = PressedSludge.__dataclass_fields__
        rows = {
            name: np.array(np.broadcast_to(getattr(self.sludge, name), (size,)), dtype=float)
            for name in names
        }
        return PressedSludge(**rows)

    def outside(self, dose: float) -> bool:
        """Whether a dose lies outside the tested ones."""
        low, high = self.tested_doses
        return high > low and not low <= dose <= high

    def figure(self, name: str, samples: FloatArray, note: str = "") -> Figure:
        """A figure that rests on this law."""
        told = "; ".join(text for text in (self.note, note) if text)
        return Figure(name, samples, self.basis, self.mark, self.source, told)


def pressed_at(
    normals: FloatArray, feed: Feed, law: SludgeLaw | None, dose: FloatArray | None
) -> Pressed:
    """The law of the feed: the tested one, else the priors of its classes blended by dry mass.

    ``normals`` are its unit scores, one row per sample and `LAW_SCORES` columns; ``dose`` None
    asks for the optimum of the law.
    """
    values = law.at_normals(normals) if law else _blended(feed, normals)
    used = values["optimum_dose"] if dose is None else dose
    resistance, fines = _dosed(values, used)
    temperature = feed.mix.temperature
    sludge = PressedSludge(
        solids_density=values["solids_density"],
        gel_point=values["gel_point"],
        yield_scale=values["yield_scale"],
        yield_exponent=values["yield_exponent"],
        local_resistance=np.asarray(resistance),
        resistance_exponent=values["resistance_exponent"],
        creep_share=np.minimum(values["creep_share"], _MOST_CREEP),
        creep_rate=values["creep_rate"],
        liquid_viscosity=np.asarray(water_viscosity_iapws(temperature)),
        liquid_density=np.asarray(water_density_kell(temperature)),
    )
    return Pressed(
        sludge=sludge,
        fines_share=np.asarray(fines),
        dose=np.asarray(used),
        tested=law is not None,
        basis=_basis(law),
        mark=_mark(law),
        source=_source(law),
        note=_note(law),
        values=values,
        extrapolated=float(np.mean(law.untried(used))) if law else 0.0,
        tested_doses=(law.dose_low, law.dose_high) if law else (0.0, 0.0),
    )


def _dosed(
    values: Mapping[str, FloatArray], dose: FloatArray
) -> tuple[FloatArray | float, FloatArray]:
    """Local resistance and fines share at a dose."""
    optimum = values["optimum_dose"]
    ratio = resistance_ratio_dose(dose, optimum, values["dose_curvature"], values["dose_gain"])
    fines = fines_share_dose(dose, optimum, values["fines_share"], values["fines_curvature"])
    return values["local_resistance"] * ratio, np.minimum(np.asarray(fines), _MOST_FINES)


def _blended(feed: Feed, normals: FloatArray) -> dict[str, FloatArray]:
    """Priors of the classes, blended on each parameter's own line by dry mass.

    Nothing of this sludge is tested, so what its class gives on a press is all that is known.
    """
    total: dict[str, FloatArray] = {}
    for key, share in feed.shares.items():
        values = prior_with_cake(key).at_normals(normals)
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
        return "sludge law: prior of the class with its judged cake, not tested"
    untested = [p.name.replace("_", " ") for p in law.parameters if p.learnt <= 0.0]
    prior = f"; from the prior: {', '.join(untested)}" if untested else ""
    return f"sludge law from bench tests of {law.sludge}{prior}"
