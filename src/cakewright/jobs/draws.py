"""One set of samples for the whole study: inputs, machine envelopes and law scores together."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from types import MappingProxyType

import numpy as np

from cakewright.machines.trends import LEVERS
from cakewright.quantities import FloatArray
from cakewright.statistics.marginals import given_marginal, normal_marginal
from cakewright.statistics.sampling import Design, Draws, draw, score_correlation
from cakewright.study import Study, correlation_pairs, fields, parse_quantity

__all__ = ["StudyDraws", "allowed_span", "study_draws"]

# Share of a machine's deviation from its published band that comes from the sludge, common to
# all machines; the rest is the machine's own. JUDGEMENT: one sludge is good or bad for everyone.
COMMON_SHARE = 0.6
_BLOCKS = 8


@dataclass(frozen=True, slots=True, eq=False)
class StudyDraws:
    """Arrays over samples, sample 0 the point case; what was drawn and how."""

    draws: Draws

    def __getitem__(self, place: str) -> FloatArray:
        return self.draws[place]

    @property
    def size(self) -> int:
        """Samples, the point case included."""
        return self.draws.count + 1

    def score(self, key: str) -> FloatArray:
        """Standard normal score of one key, 0 in the point case."""
        return self.draws[key]

    def own_score(self, key: str) -> FloatArray:
        """Standard normal score of one key from a stream of its own, 0 in the point case.

        For what stands beside the figures: asking for it moves none of them.
        """
        stream = np.random.default_rng([self.draws.seed, *key.encode()])
        return np.concatenate(([0.0], stream.standard_normal(self.draws.count)))

    def machine_score(self, figure: str, machine: str) -> FloatArray:
        """Score of one machine's figure: partly the sludge's, partly its own."""
        common, own = self.draws[f"~{figure}"], self.draws[f"~{figure}.{machine}"]
        return np.asarray(np.sqrt(COMMON_SHARE) * common + np.sqrt(1 - COMMON_SHARE) * own)


def study_draws(
    study: Study,
    machines: tuple[str, ...],
    figures: tuple[str, ...],
    scores: tuple[str, ...] = (),
) -> StudyDraws:
    """Samples of everything uncertain in a study.

    ``figures`` are the envelope figures of each machine, ``scores`` the extra normal scores a
    sludge law (``~law.0`` ...) and machine parameters (``~press.grip`` ...) need.
    """
    marginals = {
        place: given_marginal(given, *allowed_span(study, place))
        for place, given in study.values.items()
    }
    names = [f"~{figure}" for figure in figures]
    names += [f"~{figure}.{machine}" for figure in figures for machine in machines]
    names += scores
    marginals |= {name: normal_marginal(0.0, 1.0) for name in names}
    count = study.count("sampling.samples")
    count -= count % _BLOCKS
    seed = study.count("sampling.seed")
    blocks = _BLOCKS if count else 1
    drawn = StudyDraws(draw(marginals, count, _correlation(study), seed, blocks, _design(study)))
    # From streams of their own: a further trend moves no sample of anything else.
    sizes = {f"~trend.{lever}": drawn.own_score(f"~trend.{lever}") for lever in LEVERS}
    values = MappingProxyType({**drawn.draws.values, **sizes})
    return StudyDraws(replace(drawn.draws, values=values))


def _design(study: Study) -> Design:
    return Design.SOBOL if study.word("sampling.design") == "sobol" else Design.LATIN


def _correlation(study: Study) -> dict[tuple[str, str], float]:
    """Normal-score correlation of each pair the study names, from its rank correlation."""
    pairs = correlation_pairs(study.word("correlation.pairs"))
    return {pair: float(score_correlation(value)) for pair, value in pairs.items()}


def allowed_span(study: Study, place: str) -> tuple[float, float]:
    """What the key of a place allows, so that no sample leaves it; SI."""
    section, key = _section_key(place)
    field = fields()[section][key]
    currency = study.word("currency")
    return (
        _edge(field.low, field.name, field.also, currency, -np.inf),
        _edge(field.high, field.name, field.also, currency, np.inf),
    )


@lru_cache(maxsize=2048)
def _edge(text: str, name: str, also: str, currency: str, missing: float) -> float:
    from cakewright.quantities import house_name

    if not text:
        return missing
    written = text.replace("currency", currency)
    return parse_quantity(written, house_name(name).unit, also=also, currency=currency).value


def _section_key(place: str) -> tuple[str, str]:
    parts = place.split(".")
    if parts[0] == "sludge":
        return ("origin", parts[3]) if parts[2] == "origin" else ("sludge", parts[2])
    return parts[0], parts[1]
