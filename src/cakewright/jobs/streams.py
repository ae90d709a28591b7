"""The study's sludges as streams over samples, blended into what the machine gets."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from cakewright.jobs.draws import StudyDraws
from cakewright.physics.precipitates import metal_in_salt
from cakewright.quantities import FloatArray
from cakewright.sludge import (
    Composition,
    Feed,
    Sludge,
    blend,
    coagulant_precipitate,
    mean_over_week,
    sludge_chemical,
    sludge_direct,
    sludge_excess_load_rule,
    sludge_excess_net_yield,
    sludge_flotation,
    sludge_primary,
    sludge_water_works,
)
from cakewright.study import Study

__all__ = ["feed_of", "sludges_of"]


def feed_of(study: Study, draws: StudyDraws) -> Feed:
    """All sludges of the study, mixed."""
    return blend(sludges_of(study, draws))


def sludges_of(study: Study, draws: StudyDraws) -> list[Sludge]:
    """Each sludge of the study; flows are means over the whole week."""
    return [_Reader(study, draws, index).sludge() for index in range(study.sludges)]


def precipitate_of(study: Study, draws: StudyDraws, index: int) -> FloatArray:
    """Dry precipitate per volume of water that one sludge's coagulant makes. [kg/m3]"""
    return _Reader(study, draws, index).precipitate()


def alum_of(study: Study, draws: StudyDraws, index: int) -> FloatArray:
    """Alum of one water-works sludge as product, metal turned into it. [kg/m3]"""
    return _Reader(study, draws, index).alum()


class _Reader:
    """Reads one sludge's values over samples."""

    def __init__(self, study: Study, draws: StudyDraws, index: int) -> None:
        self.study, self.draws, self.place = study, draws, f"sludge.{index}"
        self.name = study.word(f"{self.place}.name")
        self.sludge_class = study.word(f"{self.place}.class")

    def at(self, key: str) -> FloatArray:
        """Samples of one value of this sludge; zero when nothing is given."""
        place = f"{self.place}.{key}"
        if self.study.given(place) is None:
            return np.zeros(self.draws.size)
        return self.draws[place]

    def week(self, key: str) -> FloatArray:
        """Samples of a flow per producing day, as the mean over the week."""
        days = self.draws["production.days_per_week"]
        return np.asarray(mean_over_week(self.at(key), days))

    def composition(self, solids_key: str) -> Composition:
        """What the sludge is made of."""
        if self.study.given(f"{self.place}.volatile") is not None:
            ash = 1.0 - self.at("volatile")
        else:
            ash = self.at("ash")
        # Samples of oil and fibre are each in range, but together they may not exceed what burns.
        oil = np.minimum(self.at("oil"), 1.0 - ash)
        return Composition(
            total_solids=self.at(solids_key),
            ash=ash,
            oil=oil,
            fibre=np.minimum(self.at("fibre"), 1.0 - ash - oil),
            grit=np.minimum(self.at("grit"), ash),
            dissolved=self.at("dissolved"),
            temperature=self.at("temperature"),
            ph=self.at("ph"),
            chloride=self.at("chloride"),
            stored=self.at("stored"),
        )

    def sludge(self) -> Sludge:
        """The sludge, by whichever way it is given."""
        kind = self.study.word(f"{self.place}.origin.kind")
        if not kind:
            parts = self.name, self.sludge_class, self.composition("total_solids")
            return sludge_direct(*parts, self.week("flow"))
        makers: dict[str, Callable[[Composition], Sludge]] = {
            "biological, net yield": self._net_yield,
            "biological, load rule": self._load_rule,
            "primary": self._primary,
            "flotation": self._flotation,
            "chemical": self._chemical,
            "water works": self._water_works,
        }
        return makers[kind](self.composition("origin.total_solids"))

    def _net_yield(self, composition: Composition) -> Sludge:
        return sludge_excess_net_yield(
            self.name,
            self.sludge_class,
            composition,
            flow=self.week("origin.wastewater_flow"),
            bod_in=self.at("origin.bod_in"),
            bod_out=np.minimum(self.at("origin.bod_out"), self.at("origin.bod_in")),
            yield_true=self.at("origin.yield_coefficient"),
            decay_rate=self.at("origin.decay_rate"),
            sludge_age=self.at("origin.sludge_age"),
            volatile_share=self.at("origin.volatile_of_solids"),
        )

    def _load_rule(self, composition: Composition) -> Sludge:
        return sludge_excess_load_rule(
            self.name,
            self.sludge_class,
            composition,
            flow=self.week("origin.wastewater_flow"),
            bod_in=self.at("origin.bod_in"),
            tss_in=self.at("origin.tss_in"),
            sludge_age=self.at("origin.sludge_age"),
            temperature=self.at("origin.water_temperature"),
        )

    def _primary(self, composition: Composition) -> Sludge:
        return sludge_primary(
            self.name,
            self.sludge_class,
            composition,
            flow=self.week("origin.wastewater_flow"),
            tss_in=self.at("origin.tss_in"),
            tss_removed=np.minimum(self.at("origin.tss_removed"), self.at("origin.tss_in")),
        )

    def precipitate(self) -> FloatArray:
        """Dry precipitate per volume of water. [kg/m3]"""
        return coagulant_precipitate(
            iron=self.at("origin.iron_dose"),
            aluminium=self.at("origin.aluminium_dose"),
            alum=self.at("origin.alum_dose"),
            phosphorus_removed=self.at("origin.phosphorus_removed"),
        )

    def _flotation(self, composition: Composition) -> Sludge:
        return sludge_flotation(
            self.name,
            self.sludge_class,
            composition,
            flow=self.week("origin.wastewater_flow"),
            tss_removed=self.at("origin.tss_removed"),
            oil_removed=self.at("origin.oil_removed"),
            precipitate=self.precipitate(),
        )

    def _chemical(self, composition: Composition) -> Sludge:
        return sludge_chemical(
            self.name,
            self.sludge_class,
            composition,
            flow=self.week("origin.wastewater_flow"),
            precipitate=self.precipitate(),
            tss_removed=self.at("origin.tss_removed"),
        )

    def alum(self) -> FloatArray:
        """Alum as product, which the published sum takes; metal is turned into it. [kg/m3]"""
        metal = self.at("origin.aluminium_dose")
        return np.asarray(self.at("origin.alum_dose") + metal / metal_in_salt("alum_14"))

    def _water_works(self, composition: Composition) -> Sludge:
        return sludge_water_works(
            self.name,
            self.sludge_class,
            composition,
            flow=self.week("origin.wastewater_flow"),
            tss_removed=self.at("origin.tss_removed"),
            alum=self.alum(),
            iron=self.at("origin.iron_dose"),
        )
