"""Checks of the conditioning line: strength, ageing, solution life, pump range, chemistry."""

from __future__ import annotations

from cakewright.line.case import Case
from cakewright.line.findings import Finding, Severity
from cakewright.line.inputs import Product
from cakewright.line.practice import ProductForm
from cakewright.quantities.constants import HOUR

__all__ = [
    "ageing_finding",
    "chemistry_findings",
    "life_finding",
    "range_finding",
    "strength_finding",
]


def strength_finding(tag: str, stock: float, form: ProductForm) -> tuple[Finding, ...]:
    """Solution strength against the band of its form."""
    if form.stock_low * (1 - 1e-9) <= stock <= form.stock_high * (1 + 1e-9):
        return ()
    return (
        Finding(
            key="conditioning.strength",
            severity=Severity.CAUTION,
            item=tag,
            got=f"{100 * stock:.3g} % active",
            allowed=f"{100 * form.stock_low:.3g} to {100 * form.stock_high:.3g} % for {form.label}",
            why="stronger solutions do not wet and age well, weaker ones need large tanks",
            change="bring the strength inside the band and dilute after the pump",
            source=form.stock_source,
            margin=max(form.stock_low / stock, stock / form.stock_high),
        ),
    )


def ageing_finding(tag: str, ageing: float, form: ProductForm) -> tuple[Finding, ...]:
    """Ageing time against the least of its form."""
    if ageing >= form.ageing_low * (1 - 1e-9):
        return ()
    return (
        Finding(
            key="conditioning.ageing",
            severity=Severity.CHANGE,
            item=tag,
            got=f"{ageing / 60:.0f} min",
            allowed=f"{form.ageing_low / 60:.0f} to {form.ageing_high / 60:.0f} min",
            why="polymer that has not uncoiled is wasted",
            change="give the solution more time or take a larger tank",
            source=form.ageing_source,
            margin=form.ageing_low / max(ageing, 1.0),
        ),
    )


def life_finding(tag: str, oldest: float, life: float, form: ProductForm) -> tuple[Finding, ...]:
    """Oldest solution against its life."""
    if oldest <= life:
        return ()
    return (
        Finding(
            key="conditioning.solution_life",
            severity=Severity.CAUTION,
            item=tag,
            got=f"solution up to {oldest / HOUR:.0f} h old (overnight or over the weekend)",
            allowed=f"{life / HOUR:.0f} h",
            why="old solution loses strength and the dose drifts",
            change="draw the tank down before the stop, make smaller batches, or make down in line",
            source=form.life_source,
            margin=oldest / life,
        ),
    )


def range_finding(tag: str, product: Product, low: float, high: float) -> tuple[Finding, ...]:
    """A pump that is already there against the span that is needed."""
    found = []
    if product.pump_high is not None and high > product.pump_high:
        found.append(
            Finding(
                key="conditioning.pump_range",
                severity=Severity.INFEASIBLE,
                item=tag,
                got=f"{3.6e6 * high:.0f} L/h of solution needed",
                allowed=f"{3.6e6 * product.pump_high:.0f} L/h, the top of the pump",
                why="the dose cannot be reached at full load",
                change=f"raise the solution strength {high / product.pump_high:.2f} times, lower "
                "the dose, or take a larger pump",
                margin=high / product.pump_high,
            )
        )
    if product.pump_low is not None and low < product.pump_low:
        found.append(
            Finding(
                key="conditioning.pump_range_low",
                severity=Severity.CHANGE,
                item=tag,
                got=f"{3.6e6 * low:.0f} L/h of solution at the lowest load and dose",
                allowed=f"{3.6e6 * product.pump_low:.0f} L/h, the bottom of the pump",
                why="the sludge is over-dosed at low load",
                change="weaken the solution or add a smaller pump",
                margin=product.pump_low / max(low, 1e-12),
            )
        )
    return tuple(found)


def chemistry_findings(
    case: Case, tag: str, product: Product, left: float | None, ph: float | None
) -> tuple[Finding, ...]:
    """Alkalinity and pH after dosing against the window of the polymer."""
    if left is None:
        return ()
    low, high = case.book["ph_window_low"], case.book["ph_window_high"]
    if ph is not None and low <= ph <= high:
        return ()
    short = left <= 0
    got = (
        f"{1000 * left:.0f} mg/L alkalinity left"
        if short
        else f"pH about {ph:.1f}"
        if ph is not None
        else "more lime than the carbonate takes up"
    )
    return (
        Finding(
            key="conditioning.alkalinity" if short else "conditioning.ph",
            severity=Severity.CHANGE,
            item=tag,
            got=got,
            allowed=f"alkalinity above 0 and pH {low:.0f} to {high:.0f} for the polymer",
            why="outside it the polymer loses charge and metal stays dissolved",
            change="measure pH after dosing in a beaker; lower the dose, add lime or caustic, or "
            "take a pre-hydrolysed product",
            source=case.book.source("ph_window_low"),
        ),
    )
