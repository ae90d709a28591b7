"""Calculation lines of the bench: formula, numbers put in, result."""

from __future__ import annotations

from cakewright.quantities import CalculationLine, Status, Term

__all__ = ["bench_line"]


def bench_line(
    test: str,
    quantity: str,
    symbol: str,
    formula: str,
    terms: tuple[Term, ...],
    result: float,
    source: str,
    *,
    title: str = "",
    valid: str = "",
    status: Status = Status.NO_RANGE,
    note: str = "",
    mark: str = "",
) -> CalculationLine:
    """One line of chapter ``bench``; its key is ``bench.<test>.<quantity>``."""
    return CalculationLine(
        key=f"bench.{test}.{quantity}",
        chapter="bench",
        title=title or f"{test}: {quantity.replace('_', ' ')}",
        symbol=symbol,
        formula=formula,
        terms=terms,
        result=result,
        name=quantity,
        source=source,
        valid=valid,
        status=status,
        note=note,
        mark=mark,
    )
