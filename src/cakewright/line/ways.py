"""Which way the feed is brought to the machine: chosen by need, with the reasons."""

from __future__ import annotations

from dataclasses import dataclass

from cakewright.line.inputs import LineInputs, Metering, point
from cakewright.line.practice import RuleBook
from cakewright.line.weirs import weir_choice
from cakewright.machines.piece import FeedWay, LinePiece, line_piece
from cakewright.physics.alkalinity import Conditioner
from cakewright.quantities import Status

__all__ = ["ChosenWay", "chosen_way"]


@dataclass(frozen=True, slots=True)
class ChosenWay:
    """The way taken, why, and the words that say what is present (for rows with a condition)."""

    piece: LinePiece
    way: FeedWay
    reasons: tuple[str, ...]
    present: frozenset[str]

    @property
    def weir(self) -> bool:
        """Whether the flow is measured over a weir with a surplus that returns."""
        return self.way.surplus


def _m3_h(flow: float) -> str:
    return f"{3600 * flow:.3g} m3/h"


def _against_weir(inputs: LineInputs, book: RuleBook, low: float, high: float) -> tuple[str, ...]:
    """What speaks against measuring the feed over a weir on this duty."""
    found, oil = [], point(inputs.feed.oil_share)
    heads = book["weir_head_low"], book["weir_head_high"]
    device = weir_choice(low, high, *heads, book["measuring_crest_height"])
    if device.status is not Status.INSIDE:
        found.append(
            f"no notch or crest measures {_m3_h(low)} to {_m3_h(high)} within heads of "
            f"{1000 * heads[0]:.0f} to {1000 * heads[1]:.0f} mm"
        )
    if oil > book["weir_oil_limit"]:
        found.append(
            f"{100 * oil:.0f} % oil in the solids (more than {100 * book['weir_oil_limit']:.0f} %, "
            "judgement): grease and scum close a notch and stay in an open box"
        )
    if inputs.feed.foams:
        found.append("froth carries air: its head over a weir says little about its flow")
    return tuple(found)


def chosen_way(inputs: LineInputs, book: RuleBook, low: float, high: float) -> ChosenWay:
    """The way of the first press's kind that fits flow range, oil, foam and conditioning."""
    piece = line_piece(inputs.presses[0].kind)
    limes = (Conditioner.HYDRATED_LIME, Conditioner.QUICKLIME)
    lime = any(p.conditioner in limes for p in inputs.products)
    ways = {way.key: way for way in piece.feeds}
    reasons: tuple[str, ...] = ()
    way = piece.feeds[0]
    if "weir" in ways and inputs.metering is not Metering.GATE:
        against = _against_weir(inputs, book, low, high)
        way = ways["metered"] if against else ways["weir"]
        fits = (
            f"flows of {_m3_h(low)} to {_m3_h(high)} lie in the range of one weir",
            "the pump lifts the feed to the box; from there it falls",
        )
        reasons = against or fits
    elif "batch" in ways:
        way = ways["batch"] if lime else ways["in-line polymer"]
        reasons = (
            "the study conditions with lime" if lime else "the study conditions with polymer",
        )
    present = {way.key}
    if len(inputs.products) == 2 or inputs.products[0].conditioner is not None:
        present.add("chamber")
    if lime:
        present.add("lime")
    if any(p.form == "coagulant" for p in inputs.products):
        present.add("salt")
    if any(p.wash_flow > 0 or p.wash_per_stop > 0 for p in inputs.presses):
        present.add("wash")
    if point(inputs.feed.oil_share) > book["weir_oil_limit"]:
        present.add("oily")
    loud = max((p.sound_level or 0.0) for p in inputs.presses)
    if loud > book["sound_action_low"]:
        present.add("loud")
    present |= {f"product{k}" for k, _ in enumerate(inputs.products, start=1)}
    return ChosenWay(piece, way, (way.because, *reasons), frozenset(present))
