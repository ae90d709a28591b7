"""Formulas written as plain text: read, put numbers in, recompute, hand to a spreadsheet."""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import reduce
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["Formula", "read_formula", "runs_of", "with_numbers"]

Values = float | NDArray[np.float64]

_FUNCTIONS: dict[str, Callable[..., Any]] = {
    "sqrt": np.sqrt,
    "exp": np.exp,
    "ln": np.log,
    "log10": np.log10,
    "tan": np.tan,
    "min": lambda *values: reduce(np.minimum, values),
    "max": lambda *values: reduce(np.maximum, values),
    "abs": np.abs,
}
_CONSTANTS = {"π": "pi_"}
_EXCEL_NAMES = {name: name.upper() for name in _FUNCTIONS}
_OPERATORS: dict[type[ast.operator], tuple[str, Callable[[Any, Any], Any]]] = {
    ast.Add: ("+", lambda a, b: a + b),
    ast.Sub: ("-", lambda a, b: a - b),
    ast.Mult: ("*", lambda a, b: a * b),
    ast.Div: ("/", lambda a, b: a / b),
    ast.Pow: ("^", lambda a, b: a**b),
}
# A space between two factors is a product: "M g L", "2 (h + k)".
_PRODUCT = re.compile(r"(?<=[\w)])(?<!sqrt)(?<!exp)(?<!ln)\s+(?=[\w(])")
_SIGNS = str.maketrans({"·": "*", "×": "*", "−": "-", "–": "-", "÷": "/", "[": "(", "]": ")"})
_LOWERED = re.compile(r"_\{([^}]*)\}|_([A-Za-zΑ-Ωα-ω0-9]+(?:,[A-Za-z0-9]+)*)")
_RAISED = re.compile(r"\^\{([^}]*)\}|\^\(([^()]*)\)|\^(-?[A-Za-z0-9.]+)")


@dataclass(frozen=True, slots=True)
class Formula:
    """A formula that can be recomputed: a syntax tree over its symbols."""

    tree: ast.expr
    names: Mapping[str, str]

    def value(self, numbers: Mapping[str, float]) -> float:
        """Result with a number for each symbol.

        Raises
        ------
        ArithmeticError, ValueError
            If the numbers cannot be put in (division by zero, root of a negative).
        """
        return float(self.values(numbers))

    def values(self, numbers: Mapping[str, Values]) -> Values:
        """Result with numbers or arrays of samples for each symbol; arrays broadcast.

        Raises
        ------
        ArithmeticError
            If the numbers cannot be put in (division by zero, root of a negative).
        """
        with np.errstate(divide="raise", invalid="raise", over="raise"):
            named = {self.names[s]: np.asarray(v, dtype=np.float64) for s, v in numbers.items()}
            found = _value(self.tree, named)
        return found if np.ndim(found) else float(found)

    def spreadsheet(self, cells: Mapping[str, str]) -> str:
        """The same as a spreadsheet formula, without its leading sign."""
        return _spreadsheet(self.tree, {self.names[symbol]: cell for symbol, cell in cells.items()})


def _symbol_pattern(symbols: Sequence[str]) -> re.Pattern[str]:
    ordered = sorted(symbols, key=len, reverse=True)
    body = "|".join(re.escape(symbol) for symbol in ordered)
    return re.compile(rf"(?<!\w)(?:{body})(?![A-Za-z0-9_'Α-Ωα-ω])")


def read_formula(text: str, symbols: Sequence[str]) -> Formula | None:
    """Formula over ``symbols``, or None when the text is words or uses anything else."""
    if not symbols or len(text) > 400:
        return None
    names = {symbol: f"v{at}_" for at, symbol in enumerate(dict.fromkeys(symbols))}
    plain = _symbol_pattern(symbols).sub(lambda m: f" {names[m.group(0)]} ", text)
    for sign, name in _CONSTANTS.items():
        plain = re.sub(rf"(?<!\w){sign}(?!\w)", f" {name} ", plain)
    plain = plain.translate(_SIGNS).replace("^", "**").replace("{", "(").replace("}", ")")
    plain = plain.replace("²", "**2").replace("³", "**3").replace("√", " sqrt")
    plain = re.sub(r"\bsqrt\s*\(", "sqrt(", _PRODUCT.sub("*", plain.strip()))
    try:
        tree = ast.parse(plain.strip(), mode="eval").body
    except (SyntaxError, ValueError, MemoryError, RecursionError):
        return None
    return Formula(tree, names) if _allowed(tree, {*names.values(), *_CONSTANTS.values()}) else None


def _allowed(node: ast.expr, names: set[str]) -> bool:
    match node:
        case ast.Constant(value=int() | float()):
            return True
        case ast.Name(id=name):
            return name in names
        case ast.UnaryOp(op=ast.USub(), operand=inner):
            return _allowed(inner, names)
        case ast.BinOp(left=left, op=operator, right=right):
            return type(operator) in _OPERATORS and _allowed(left, names) and _allowed(right, names)
        case ast.Call(func=ast.Name(id=name), args=arguments, keywords=[]):
            return name in _FUNCTIONS and all(_allowed(a, names) for a in arguments)
    return False


def _value(node: ast.expr, numbers: Mapping[str, Any]) -> Any:
    match node:
        case ast.Constant(value=int() | float() as value):
            return np.float64(value)
        case ast.Name(id="pi_"):
            return np.float64(np.pi)
        case ast.Name(id=name):
            return numbers[name]
        case ast.UnaryOp(operand=inner):
            return -_value(inner, numbers)
        case ast.BinOp(left=left, op=operator, right=right):
            return _OPERATORS[type(operator)][1](_value(left, numbers), _value(right, numbers))
        case ast.Call(func=ast.Name(id=name), args=arguments):
            return _FUNCTIONS[name](*(_value(a, numbers) for a in arguments))
    raise ValueError(f"{ast.dump(node)} is no part of a formula")


def _spreadsheet(node: ast.expr, cells: Mapping[str, str]) -> str:
    match node:
        case ast.Constant(value=value):
            return repr(value)
        case ast.Name(id="pi_"):
            return "PI()"
        case ast.Name(id=name):
            return cells[name]
        case ast.UnaryOp(operand=inner):
            return f"(-{_spreadsheet(inner, cells)})"
        case ast.BinOp(left=left, op=operator, right=right):
            sign = _OPERATORS[type(operator)][0]
            return f"({_spreadsheet(left, cells)}{sign}{_spreadsheet(right, cells)})"
        case ast.Call(func=ast.Name(id=name), args=arguments):
            inside = ",".join(_spreadsheet(a, cells) for a in arguments)
            return f"{_EXCEL_NAMES[name]}({inside})"
    raise ValueError(f"{ast.dump(node)} is no part of a formula")


def with_numbers(text: str, numbers: Mapping[str, str]) -> str:
    """Formula with the numbers in the place of its symbols; "" where it is (partly) in words."""
    if read_formula(text, list(numbers)) is None:
        return ""
    filled = _symbol_pattern(list(numbers)).sub(lambda m: numbers[m.group(0)], text)
    # Where two symbols side by side meant a product, two numbers need its sign.
    return re.sub(r"(?<=[\d⁰¹²³⁴⁵⁶⁷⁸⁹)])\s+(?=[\d(√])", " · ", filled)


def runs_of(text: str) -> tuple[tuple[str, str], ...]:
    """Formula text as (text, place) runs; place is "", "low" or "high".

    >>> runs_of("m_s * x^2")
    (('m', ''), ('s', 'low'), (' · x', ''), ('2', 'high'))
    """
    text = text.replace("*", "·").replace("<=", "≤").replace(">=", "≥").replace("-", "−")
    text = re.sub(r"(?<=[A-Za-z])−(?=[A-Za-z]{2})", "-", text)
    runs: list[tuple[str, str]] = []
    at = 0
    marks = [(m, "low") for m in _LOWERED.finditer(text)]
    marks += [(m, "high") for m in re.finditer(_RAISED.pattern.replace("-?", "−?"), text)]
    for match, place in sorted(marks, key=lambda pair: pair[0].start()):
        if match.start() < at:
            continue
        runs += [(text[at : match.start()], "")] if match.start() > at else []
        runs.append((next(g for g in match.groups() if g is not None), place))
        at = match.end()
    return (*runs, (text[at:], "")) if at < len(text) else tuple(runs)
