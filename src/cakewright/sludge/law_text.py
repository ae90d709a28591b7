"""The sludge law as a TOML text that a person can read, and back."""

from __future__ import annotations

from typing import Any

import numpy as np

from cakewright.errors import DataError, Fault, OutOfRangeError, foreign
from cakewright.quantities import Basis, Mark, house_name
from cakewright.quantities.toml_text import parse_toml_of
from cakewright.sludge.law import LAW_PARAMETERS, LawParameter, SludgeLaw

__all__ = ["LAW_FORMAT", "law_to_toml", "parse_law"]

LAW_FORMAT = "cakewright sludge law 1"


def law_to_toml(law: SludgeLaw) -> str:
    """Text of a law file. Values are SI; ``parse_law`` gives back the same law."""
    import tomlkit

    document = tomlkit.document()
    document.add(tomlkit.comment("A sludge law. Values in SI; sd on the line named by space."))
    document["format"] = LAW_FORMAT
    document["sludge"] = law.sludge
    document["sludge_class"] = law.sludge_class
    document["invented"] = law.invented
    document["tests"] = list(law.tests)
    document["notes"] = list(law.notes)
    document["dose"] = {"low": law.dose_low, "high": law.dose_high, "polymer": law.polymer}
    parameters = tomlkit.table()
    for item in law.parameters:
        parameters[item.name] = _parameter_table(item)
    document["parameters"] = parameters
    matrix = tomlkit.array()
    for row in law.covariance:
        line = tomlkit.array()
        line.extend(float(x) for x in row)
        matrix.append(line)
    matrix.multiline(True)
    document["covariance"] = {"order": list(LAW_PARAMETERS), "rows": matrix}
    return tomlkit.dumps(document)


def _parameter_table(item: LawParameter) -> dict[str, Any]:
    entry = house_name(item.name)
    table: dict[str, Any] = {
        "value": item.value,
        "unit": entry.unit,
        "sd": item.sd,
        "space": item.space.value,
        "basis": item.basis.value,
        "source": item.source,
        "learnt": item.learnt,
    }
    if item.mark:
        table["mark"] = item.mark.value
    if item.note:
        table["note"] = item.note
    return table


@foreign("a sludge law")
def parse_law(text: str, where: str = "sludge law") -> SludgeLaw:
    """Law from the text of its file.

    Raises
    ------
    DataError
        With every fault found: wrong format, missing or impossible values.
    """
    data = parse_toml_of(text, where, "write the law again with the bench job", where)
    faults: list[Fault] = []
    if data.get("format") != LAW_FORMAT:
        faults.append(Fault("format", repr(data.get("format")), LAW_FORMAT, "use a law file"))
    table = data.get("parameters", {})
    parameters = [_parse_parameter(name, table.get(name), faults) for name in LAW_PARAMETERS]
    for name in sorted(set(table) - set(LAW_PARAMETERS)):
        allowed = ", ".join(LAW_PARAMETERS)
        faults.append(Fault(f"parameters.{name}", "unknown parameter", allowed, "remove it"))
    if faults:
        raise DataError(where, faults)
    return _assemble(data, [p for p in parameters if p is not None], where)


def _assemble(data: dict[str, Any], parameters: list[LawParameter], where: str) -> SludgeLaw:
    covariance = data.get("covariance", {})
    order = list(covariance.get("order", []))
    try:
        if order != list(LAW_PARAMETERS):
            raise OutOfRangeError(f"order of the covariance: got {order}")
        return SludgeLaw(
            sludge=str(data.get("sludge", "")),
            sludge_class=str(data.get("sludge_class", "")),
            parameters=tuple(parameters),
            covariance=np.array(covariance["rows"], dtype=float),
            dose_low=float(data.get("dose", {}).get("low", 0.0)),
            dose_high=float(data.get("dose", {}).get("high", 0.0)),
            polymer=str(data.get("dose", {}).get("polymer", "")),
            tests=tuple(data.get("tests", ())),
            notes=tuple(data.get("notes", ())),
            invented=bool(data.get("invented", False)),
        )
    except (KeyError, ValueError, TypeError, OutOfRangeError) as error:
        allowed = f"{len(LAW_PARAMETERS)} rows of as many numbers in the order of the parameters"
        fault = Fault("covariance", str(error), allowed, "write the law again with the bench job")
        raise DataError(where, [fault]) from None


def _parse_parameter(name: str, entry: Any, faults: list[Fault]) -> LawParameter | None:
    place = f"parameters.{name}"
    if not isinstance(entry, dict):
        faults.append(Fault(place, "nothing", "a table with value and sd", "add the parameter"))
        return None
    unit = house_name(name).unit
    if entry.get("unit", unit) != unit:
        faults.append(Fault(f"{place}.unit", repr(entry["unit"]), unit, "give the value in SI"))
        return None
    try:
        item = LawParameter(
            name=name,
            value=float(entry["value"]),
            sd=float(entry["sd"]),
            basis=Basis(entry["basis"]),
            source=str(entry.get("source", "")),
            mark=Mark(entry.get("mark", "")),
            note=str(entry.get("note", "")),
            learnt=float(entry.get("learnt", 0.0)),
        )
        item.quantile(0.0)
    except (KeyError, ValueError, TypeError, OutOfRangeError) as error:
        allowed = "value above 0 (a share below 1), sd, basis of measured, bench, published, ..."
        faults.append(Fault(place, str(error), allowed, "correct the entry"))
        return None
    return item
