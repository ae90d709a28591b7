"""Where the answer is not what the trade would expect: who it would take, and the figures."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from cakewright.jobs.choice import Choice, Priced
from cakewright.jobs.finding_parts import TradeView
from cakewright.machines import Kind
from cakewright.machines.registry import data_of
from cakewright.sludge import Feed, RunLoad

__all__ = ["expected_kinds", "trade_view"]

_MOST_PARTS = 3
_OF_FEED = {"total_solids": "total_solids", "ash_share": "ash", "oil_share": "oil"}


def _views() -> list[tuple[str, Mapping[str, Any]]]:
    """Every kind's own views, with its key."""
    return [
        (kind.value, view) for kind in Kind for view in data_of(kind, "trade.toml").get("view", ())
    ]


def _value(name: str, feed: Feed, load: RunLoad) -> float:
    if name in _OF_FEED:
        return float(getattr(feed.mix, _OF_FEED[name])[0])
    return float(np.atleast_1d(load.dry_solids_flow)[0])


def _holds(view: Mapping[str, Any], feed: Feed, load: RunLoad) -> bool:
    wanted = view.get("class")
    if wanted is not None and not (wanted in feed.shares and feed.shares[wanted][0] > 0.5):
        return False
    above, below = view.get("above", {}), view.get("below", {})
    return all(_value(k, feed, load) > x for k, x in above.items()) and all(
        _value(k, feed, load) < x for k, x in below.items()
    )


def expected_kinds(
    feed: Feed, load: RunLoad
) -> tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]:
    """Kinds the trade expects, kinds it would not take, and why (common practice, no source)."""
    held = [(kind, view) for kind, view in _views() if _holds(view, feed, load)]
    expects = tuple(dict.fromkeys(kind for kind, view in held if view["takes"]))
    against = tuple(dict.fromkeys(kind for kind, view in held if not view["takes"]))
    return expects, against, tuple(dict.fromkeys(view["why"] for _, view in held))


def trade_view(choice: Choice, feed: Feed, load: RunLoad) -> TradeView | None:
    """The view where the answer differs from it; None where it agrees or the trade has none."""
    expects, against, why = expected_kinds(feed, load)
    best = choice.best
    known = [choice.priced[k] for k in expects if k in choice.priced]
    if best.option.key in expects or (not known and best.option.key not in against):
        return None
    first = known[0] if known else None
    return TradeView(
        why=why,
        against=best.option.kind.label if best.option.key in against else "",
        expected=tuple((p.option.kind.label, p.expected - best.expected) for p in known),
        parts=_parts(first, best) if first else (),
        cake=(
            float(first.option.performance["cake_solids"].point),
            float(best.option.performance["cake_solids"].point),
        )
        if first
        else None,
    )


def _parts(first: Priced, best: Priced) -> tuple[tuple[str, float], ...]:
    """The parts of the yearly cost that differ most, per dry solids."""
    dry = float(best.yearly.dry_solids[0])

    def part(priced: Priced, name: str) -> float:
        return float(np.atleast_1d(priced.money.annualised_parts.get(name, 0.0))[0]) / dry

    names = {*first.money.annualised_parts, *best.money.annualised_parts}
    apart = {name: part(first, name) - part(best, name) for name in names}
    largest = sorted(apart.items(), key=lambda pair: -abs(pair[1]))[:_MOST_PARTS]
    return tuple(largest)
