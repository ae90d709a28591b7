"""Calculation lines of the press: what a reader can check by hand of what the solver found."""

from __future__ import annotations

import numpy as np

from cakewright.machines.screw.prediction import PressFindings
from cakewright.quantities import CalculationLine, Status, Term

__all__ = ["press_lines"]

_SOLVER = "OWN"


def press_lines(press: PressFindings | None) -> tuple[CalculationLine, ...]:
    """Lines of the point case; none where it has no answer."""
    if press is None or not press.figures:
        return ()
    x, d = press.inputs, press.details
    return (
        _yield_stress(press),
        _line(
            press,
            "cake_solids",
            "Cake solids from the void ratio at the plate",
            "TS_c",
            "ρ_s / (ρ_s + e_L ρ_w)",
            (
                Term("ρ_s", x["solids_density"], "solids_density"),
                Term("e_L", d["cake_void"], "ratio"),
                Term("ρ_w", x["liquid_density"], "fluid_density"),
            ),
            d["cake_solids"],
            note="e_L by the expression solver marched along the pressing zone (theory: press)",
        ),
        _line(
            press,
            "capture",
            "Capture from fines lost and solids extruded",
            "η",
            "(1 − f_l) (1 − x_e)",
            (Term("f_l", d["fines_lost"], "ratio"), Term("x_e", d["extruded"], "ratio")),
            d["capture"],
            note="f_l = 1 − (1 − f_0)^(k w): fines at the dose, washed by load and shear",
        ),
        _line(
            press,
            "power",
            "Power of the screw drives",
            "P_e",
            "2 π_0 N n_s M_t / η_d",
            (
                Term("π_0", float(np.pi), "ratio"),
                Term("N", press.speed, "screw_speed"),
                Term("n_s", d["shafts"], "count"),
                Term("M_t", d["torque"], "screw_torque"),
                Term("η_d", x["drive_efficiency"], "ratio"),
            ),
            d["power"],
        ),
        _line(
            press,
            "pressing_length",
            "Length of the pressing zone",
            "L_p",
            "L − z_f",
            (
                Term("L", d["drained_length"], "barrel_position"),
                Term("z_f", d["pressing_start"], "barrel_position"),
            ),
            d["pressing_length"],
            name="barrel_position",
            note="z_f: where pressing must begin so that the stress at the plate is P_b",
        ),
    )


def _yield_stress(press: PressFindings) -> CalculationLine:
    inputs, details = press.inputs, press.details
    phi = 1.0 / (1.0 + details["cake_void"])
    ratio = phi / inputs["gel_point"]
    stress = inputs["yield_scale"] * (ratio ** inputs["yield_exponent"] - 1.0)
    return _line(
        press,
        "network_stress",
        "Stress the cake's network carries at the plate",
        "P_y",
        "p_a ((1 / (φ_g (1 + e_L)))^n − 1)",
        (
            Term("p_a", inputs["yield_scale"], "yield_scale"),
            Term("φ_g", inputs["gel_point"], "gel_point"),
            Term("e_L", details["cake_void"], "ratio"),
            Term("n", inputs["yield_exponent"], "yield_exponent"),
        ),
        stress,
        name="axial_stress",
        note=(
            f"stress on the drained face at the plate: "
            f"{inputs['side_ratio'] * press.back_pressure:.4g} Pa; the difference is water still "
            "under pressure and delayed strain"
        ),
    )


def _line(
    press: PressFindings,
    key: str,
    title: str,
    symbol: str,
    formula: str,
    terms: tuple[Term, ...],
    result: float,
    *,
    name: str = "",
    note: str = "",
) -> CalculationLine:
    cake = press.figures["cake_solids"]
    return CalculationLine(
        key=f"press.{key}",
        chapter="press",
        title=title,
        symbol=symbol,
        formula=formula,
        terms=terms,
        result=result,
        name=name or key,
        source=_SOLVER,
        valid="doses tested" if press.tested else "",
        status=_status(press),
        note=note,
        mark=cake.mark.value,
    )


def _status(press: PressFindings) -> Status:
    if not press.tested:
        return Status.NO_RANGE
    outside = any("outside the tested doses" in note for note in press.notes)
    return Status.EXTRAPOLATED if outside else Status.INSIDE
