"""A number with its name, unit and basis; the one door between units."""

from cakewright.quantities.basis import Basis, Given, Mark, weakest
from cakewright.quantities.convert import from_si, to_si
from cakewright.quantities.figure import Band, Figure, FloatArray
from cakewright.quantities.lines import CalculationLine, Status, Term
from cakewright.quantities.names import HouseName, house_name, house_names

__all__ = [
    "Band",
    "Basis",
    "CalculationLine",
    "Figure",
    "FloatArray",
    "Given",
    "HouseName",
    "Mark",
    "Status",
    "Term",
    "from_si",
    "house_name",
    "house_names",
    "to_si",
    "weakest",
]
