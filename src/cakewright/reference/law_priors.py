"""Starting values of the sludge law per house class, until bench tests replace them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from cakewright.quantities import Mark
from cakewright.reference import _tables
from cakewright.reference.classes import sludge_class
from cakewright.reference.rows import RowKind

__all__ = ["LAW_PARAMETERS", "LawPrior", "law_prior", "law_priors"]

#: Parameters every class has a prior for.
LAW_PARAMETERS = (
    "p_a",
    "n",
    "phi_g",
    "alpha_0",
    "m",
    "R_m",
    "B",
    "creep_rate",
    "rho_v",
    "rho_f",
    "ash_share",
    "fines_share",
    "dose_optimum",
)


@dataclass(frozen=True, slots=True)
class LawPrior:
    """One parameter of conditioned sludge, in SI: 10, 50 and 90 % points of what is believed."""

    sludge_class: str
    parameter: str
    low: float
    typical: float
    high: float
    unit: str
    source: str
    kind: RowKind
    based_on: tuple[str, ...]
    note: str

    @property
    def mark(self) -> Mark:
        """The mark that travels with the value."""
        return self.kind.mark


def _prior(key: str, parameter: str) -> LawPrior:
    table = _tables.toml_table("law_priors")
    about, low_typical_high = table["parameters"][parameter], table[key][parameter]
    judged = parameter in table[key].get("judged", ()) or about["source"] == "JUDGEMENT"
    low, typical, high = (float(value) for value in low_typical_high)
    return LawPrior(
        sludge_class=key,
        parameter=parameter,
        low=low,
        typical=typical,
        high=high,
        unit=about["unit"],
        source="JUDGEMENT" if judged else about["source"],
        kind=RowKind.JUDGEMENT if judged else RowKind(about["kind"]),
        based_on=tuple(about["based_on"].split()),
        note=about["note"],
    )


@cache
def law_priors(sludge_class_key: str) -> Mapping[str, LawPrior]:
    """All parameters of one class.

    Raises
    ------
    UnknownNameError
        If there is no such class.
    """
    key = sludge_class(sludge_class_key).key
    return MappingProxyType({name: _prior(key, name) for name in LAW_PARAMETERS})


def law_prior(sludge_class_key: str, parameter: str) -> LawPrior:
    """One parameter of one class.

    Raises
    ------
    UnknownNameError
        If the class or the parameter does not exist.

    Examples
    --------
    >>> law_prior("was", "B").typical, law_prior("was", "B").source
    (0.9, 'T32')
    """
    found = law_priors(sludge_class_key)
    if parameter not in found:
        raise _tables.unknown(parameter, found, "a parameter of the sludge law")
    return found[parameter]
