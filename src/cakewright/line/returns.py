"""What goes back to the works, and how it comes round again."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cakewright.errors import OutOfRangeError
from cakewright.line.balance import Balance
from cakewright.line.case import Case, Part, line_of
from cakewright.line.findings import Finding, Severity
from cakewright.line.inputs import point
from cakewright.quantities import FloatArray

__all__ = ["ReturnLoad", "recycle_passes", "return_load", "returned_solids"]

Floats = float | FloatArray


def returned_solids(generated: Floats, recaught: Floats, capture: Floats) -> FloatArray:
    """Solids returned per time once the loop has settled.

    R = (1 - r) (G + e R), so R = (1 - r) G / (1 - (1 - r) e); ``recaught`` e is the sludge made
    per solids returned, ``capture`` r the overall capture.

    Raises
    ------
    OutOfRangeError
        If the loop would never settle.
    """
    lost = 1 - np.asarray(capture, dtype=float)
    loop = lost * np.asarray(recaught, dtype=float)
    if np.any((lost < 0) | (lost > 1)) or np.any((loop < 0) | (loop >= 1)):
        raise OutOfRangeError(
            f"recycle: got {float(np.max(loop)):.3g} returned per solids in the loop; allowed: "
            "0 to below 1; a capture above 0 lets the loop settle: check capture and share"
        )
    return np.asarray(lost * generated / (1 - loop))


def recycle_passes(
    generated: float, recaught: float, capture: float, tolerance: float = 1e-3
) -> tuple[float, ...]:
    """Returned solids pass by pass, until they change by less than ``tolerance``."""
    settled = float(returned_solids(generated, recaught, capture))
    passes: list[float] = []
    last = 0.0
    while not passes or abs(passes[-1] - last) > tolerance * settled:
        last = passes[-1] if passes else 0.0
        passes.append((1 - capture) * (generated + recaught * last))
    return tuple(passes)


@dataclass(frozen=True, slots=True, eq=False)
class ReturnLoad:
    """Return to the works, means over the week, over samples: solids [kg/s], water [m3/s].

    ``rise`` is sludge to dewatering with the return over that without; ``share_of_works`` is
    empty when the works' own solids flow is not known; ``cod_particulate`` without soluble COD.
    """

    solids: FloatArray
    water: FloatArray
    solids_concentration: FloatArray
    cod_particulate: FloatArray
    cod_soluble: FloatArray
    generated: FloatArray
    rise: FloatArray
    passes: tuple[float, ...]
    share_of_works: FloatArray
    part: Part


def _finding(share: FloatArray) -> tuple[Finding, ...]:
    if not share.size or point(share) <= 0.1:
        return ()
    return (
        Finding(
            key="return.load",
            severity=Severity.CAUTION,
            item="P-402",
            got=f"{100 * point(share):.0f} % of the solids reaching the works come from the return",
            allowed="a share the works was designed for; above 10 % ask",
            why="side streams can be a large part of the organic load and shift control levels",
            change="raise the capture, spread the return over the day, or treat it apart",
            source="L56",
            margin=point(share) / 0.1,
        ),
    )


def _rise_finding(case: Case, rise: float) -> tuple[Finding, ...]:
    if case.inputs.feed_includes_return or rise < 1.005:
        return ()
    return (
        Finding(
            key="return.not_counted",
            severity=Severity.CAUTION,
            item="P-402",
            got=f"feed stated without the return; it rises {100 * (rise - 1):.1f} %",
            allowed="a feed that includes what comes back",
            why="solids lost with the filtrate come round again as sludge",
            change=f"enter {rise:.3f} times the feed, or raise the capture",
            source=case.book.source("recaught_share"),
            margin=rise,
        ),
    )


def return_load(case: Case, streams: Balance) -> ReturnLoad:
    """Solids, water and COD going back, and the rise of the sludge flow they cause."""
    book, share = case.book, case.run_share
    recaught = book["recaught_share"]
    solids = streams.filtrate_solids * share
    water = streams.filtrate_volume * share
    fed = np.broadcast_to(case.dry_solids, solids.shape)
    included = case.inputs.feed_includes_return
    generated = fed - recaught * solids if included else fed
    overall = 1 - solids / fed
    rise = 1 / (1 - (1 - overall) * recaught)
    works = case.inputs.works_solids_flow
    part_of = solids / (works + solids) if works else np.empty(0)
    soluble = case.inputs.soluble_cod or 0.0
    line = line_of(
        "return.rise",
        "Rise of the sludge flow by the return",
        "M/G",
        "1 / (1 − (1 − r) e)",
        (("r", point(overall), "capture"), ("e", recaught, "recaught_share")),
        ("rise_factor", point(rise)),
        "OWN",
        marks=(book.mark("recaught_share"),),
    )
    return ReturnLoad(
        solids=solids,
        water=water,
        solids_concentration=solids / water,
        cod_particulate=book["cod_per_solids"] * solids,
        cod_soluble=soluble * water,
        generated=generated,
        rise=rise,
        passes=recycle_passes(point(generated), recaught, point(overall)),
        share_of_works=np.asarray(part_of),
        part=Part(
            findings=(*_finding(np.asarray(part_of)), *_rise_finding(case, point(rise))),
            lines=(line,),
        ),
    )
