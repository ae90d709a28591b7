"""Formulas written as text: recomputed, filled with numbers, handed to a spreadsheet."""

from __future__ import annotations

import math

import pytest

from cakewright.quantities.formula import read_formula, runs_of, with_numbers


@pytest.mark.parametrize(
    ("text", "numbers", "value"),
    [
        ("c_f * Q_f", {"c_f": 8.0, "Q_f": 0.5}, 4.0),
        ("q ρ TS / x_run", {"q": 2.0, "ρ": 3.0, "TS": 5.0, "x_run": 4.0}, 7.5),
        ("G² μ V", {"G": 3.0, "μ": 2.0, "V": 0.5}, 9.0),
        ("V_w (1 + f_b + f_d)", {"V_w": 10.0, "f_b": 0.1, "f_d": 0.2}, 13.0),
        ("m_1 / (1 − a)", {"m_1": 3.0, "a": 0.25}, 4.0),
        ("sqrt(a) + ln(b)", {"a": 9.0, "b": math.e}, 4.0),
        ("-x^2", {"x": 3.0}, -9.0),
        ("a_1 · a_10", {"a_1": 2.0, "a_10": 7.0}, 14.0),
    ],
)
def test_formula_value(text: str, numbers: dict[str, float], value: float) -> None:
    """What a person reads is what is computed; one symbol never eats another's beginning."""
    formula = read_formula(text, list(numbers))
    assert formula is not None
    assert formula.value(numbers) == pytest.approx(value)


@pytest.mark.parametrize(
    "text",
    [
        "typical value of the class",
        "a.__class__",
        "__import__('os')",
        "a if b else a",
        "[a for a in b]",
        "a; b",
        "f (L/D)",
        "dry matter of the cake / a",
        "a" * 500,
    ],
)
def test_words_and_code_are_no_formula(text: str) -> None:
    """Anything but arithmetic on the given symbols is left alone, code above all."""
    assert read_formula(text, ["a", "b", "L", "D"]) is None


def test_spreadsheet_formula_keeps_the_order_of_operations() -> None:
    """Every operation stands in brackets, so no spreadsheet can read it another way."""
    formula = read_formula("a - b - c^2", ["a", "b", "c"])
    assert formula is not None
    assert formula.spreadsheet({"a": "A1", "b": "B1", "c": "C1"}) == "((A1-B1)-(C1^2))"


def test_numbers_are_put_in_only_where_all_is_known() -> None:
    """Numbers replace symbols and get a product sign; a formula in words stays unfilled."""
    filled = with_numbers("q ρ / x", {"q": "2.0", "ρ": "999", "x": "0.5"})
    assert filled == "2.0 · 999 / 0.5"
    assert with_numbers("f (L/D) v²/2", {"L": "2", "D": "3", "v": "1"}) == ""


def test_runs_lower_and_raise() -> None:
    """Low lines lower, carets raise, a star becomes a middle dot."""
    assert runs_of("m_s*x^2") == (("m", ""), ("s", "low"), ("·x", ""), ("2", "high"))
    assert runs_of("TS_c,min") == (("TS", ""), ("c,min", "low"))
    assert runs_of("10^-3")[1] == ("−3", "high")
