"""The chosen line's streams while it runs, from the feed and the machine's performance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cakewright.jobs.draws import StudyDraws
from cakewright.jobs.findings import BalanceFinding, StreamFinding
from cakewright.machines import Performance
from cakewright.physics.balance import Additive, DewateringBalance, Stream, balance_dewatering
from cakewright.physics.water import water_density_kell
from cakewright.quantities import Basis, Figure, FloatArray, Mark, weakest
from cakewright.sludge import Feed, RunLoad
from cakewright.study import Study

__all__ = ["balance_finding", "balance_of"]

# Share of the polymer that stays in the cake: it adsorbs. JUDGEMENT.
POLYMER_RETAINED = 1.0


@dataclass(frozen=True, slots=True)
class _Told:
    label: str
    source: str
    target: str
    check: str


_STREAMS = {
    "sludge": _Told(
        "sludge to the press",
        "feed tank",
        "press",
        "flow meter on the feed, checked by a drop test of the feed tank; TS of hourly samples",
    ),
    "polymer": _Told(
        "polymer solution",
        "polymer make-down",
        "flocculation tank",
        "flow meter or pump strokes against a measuring column; dry matter of the stock solution",
    ),
    "coagulant": _Told(
        "coagulant",
        "coagulant dosing",
        "flocculation tank",
        "pump strokes against a measuring column; strength from the delivery note",
    ),
    "ferric": _Told(
        "ferric chloride",
        "ferric chloride dosing",
        "conditioning tank",
        "pump strokes against a measuring column; strength from the delivery note",
    ),
    "lime": _Told(
        "lime slurry",
        "lime make-up",
        "conditioning tank",
        "lime weighed into the slurry; strength by hydrometer; pH of the conditioned sludge",
    ),
    "wash": _Told("wash water", "water supply", "press", "water meter read at start and stop"),
    "cake": _Told("cake", "press", "skip", "weigh ticket of the skip; TS of samples taken hourly"),
    "filtrate": _Told(
        "filtrate with wash water",
        "press",
        "return to the works",
        "flow over a notch or pump hours; suspended solids of hourly samples",
    ),
}


def balance_of(
    study: Study, draws: StudyDraws, feed: Feed, load: RunLoad, performance: Performance
) -> DewateringBalance:
    """Streams per second of running, mean week.

    Raises
    ------
    InfeasibleError
        If the cake would be wetter than the feed.
    """
    dry = load.dry_solids_flow
    dose = performance.samples("polymer_dose")
    active = dose * dry
    stock = draws["polymer.stock"]
    additives = [Additive("polymer", active, active * (1.0 / stock - 1.0), POLYMER_RETAINED)]
    for one in performance.conditioners:
        formed = one.formed * dry
        water = np.maximum(one.dose * dry / one.strength - formed, 0.0)
        additives.append(Additive(one.key, formed, water, one.retained))
    return balance_dewatering(
        dry_solids_flow=dry,
        total_solids=feed.mix.total_solids,
        dissolved=feed.mix.dissolved,
        cake_solids=performance.samples("cake_solids"),
        capture=performance.samples("capture"),
        additives=additives,
        wash_flow=performance.samples("wash_water_specific") * dry,
        density_dry=feed.mix.solids_density,
        density_water=np.asarray(water_density_kell(feed.mix.temperature)),
    )


def balance_finding(balance: DewateringBalance, performance: Performance) -> BalanceFinding:
    """The balance as findings, with how each stream is checked on site."""
    figures = performance.figures.values()
    basis = weakest(figure.basis for figure in figures)
    mark = next((figure.mark for figure in figures if figure.mark), Mark.NONE)
    streams = tuple(
        _stream(key, balance.streams[key], basis, mark)
        for key in _STREAMS
        if key in balance.streams
    )
    return BalanceFinding(
        streams=streams,
        closure=balance.closure,
        conditioner_note=(
            "Capture counts the sludge's own suspended solids. Conditioner solids are kept apart: "
            f"{100 * POLYMER_RETAINED:.0f} % of the polymer is taken to stay in the cake "
            "(judgement); of iron and lime what precipitates, by stoichiometry (published designs "
            "take 75 to 100 % of what is added)."
        ),
        recycle_note=_recycle_note(balance),
    )


def _recycle_note(balance: DewateringBalance) -> str:
    fed = float(balance.streams["sludge"].suspended[0])
    lost = float(balance.streams["filtrate"].suspended[0])
    share = lost / fed
    again = 1.0 / (1.0 - share)
    return (
        f"The filtrate carries {100 * share:.1f} % of the suspended solids back to the works. If "
        f"all of it comes round again as sludge, the load on the press rises by a factor of "
        f"{again:.3f}."
    )


def _stream(key: str, stream: Stream, basis: Basis, mark: Mark) -> StreamFinding:
    told = _STREAMS[key]

    def figure(name: str, samples: FloatArray) -> Figure:
        wide = np.broadcast_to(samples, stream.mass.shape)
        return Figure(name, np.array(wide), basis, mark, "OWN")

    return StreamFinding(
        key=key,
        label=told.label,
        source=told.source,
        target=told.target,
        figures={
            "mass_flow": figure("mass_flow", stream.mass),
            "volume_flow": figure("volume_flow", stream.volume),
            "dry_solids_flow": figure("dry_solids_flow", stream.dry),
            "suspended_flow": figure("suspended_flow", stream.suspended),
            "conditioner_flow": figure("conditioner_flow", stream.conditioner),
            "total_solids": figure("total_solids", stream.total_solids),
        },
        check_on_site=told.check,
    )
