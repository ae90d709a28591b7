"""Machine parameters that trial runs narrowed, as a TOML file a person can read, and back."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from cakewright.errors import DataError, Fault, OutOfRangeError, foreign
from cakewright.jobs.fitted import FittedPress, from_line, to_line
from cakewright.jobs.path_error import COORDINATES, Seen
from cakewright.jobs.trial import OUTPUTS
from cakewright.machines.interface import Kind
from cakewright.machines.press_priors import parameter_priors
from cakewright.quantities import Basis, FloatArray, Mark
from cakewright.quantities.toml_text import parse_toml_of
from cakewright.storage.texts import read_text

__all__ = [
    "PRESS_FORMAT",
    "parse_press_parameters",
    "press_parameters_toml",
    "read_press_parameters",
]

PRESS_FORMAT = "cakewright press parameters 2"
_FIRST_FORMAT = "cakewright press parameters 1"


def press_parameters_toml(fitted: FittedPress) -> str:
    """Text of the file; ``parse_press_parameters`` gives back the same parameters."""
    import tomlkit

    document = tomlkit.document()
    document.add(
        tomlkit.comment("Machine parameters from trial runs. Values in SI; sd on the line named.")
    )
    document["format"] = PRESS_FORMAT
    document["machine"] = fitted.machine.value
    document["frame"] = fitted.frame
    document["sludge"] = fitted.sludge
    document["law"] = fitted.law
    document["runs"] = fitted.runs
    document["date"] = fitted.date
    document["basis"] = fitted.basis.value
    if fitted.mark:
        document["mark"] = fitted.mark.value
    document["notes"] = list(fitted.notes)
    priors = parameter_priors(fitted.machine)
    spread = np.sqrt(np.maximum(np.diag(fitted.covariance), 0.0))
    table = tomlkit.table()
    for name, place, sd in zip(fitted.names, fitted.mean, spread, strict=False):
        prior = priors[name]
        table[name] = {
            "value": float(from_line(float(place), prior.line)),
            "unit": prior.unit,
            "sd": float(sd),
            "space": prior.line,
        }
    document["parameters"] = table
    rest = fitted.mean[len(fitted.names) :]
    document["law_scores"] = {"mean": [float(v) for v in rest]}
    matrix = tomlkit.array()
    for row in fitted.covariance:
        line = tomlkit.array()
        line.extend(float(f"{x:.9g}") for x in row)
        matrix.append(line)
    matrix.multiline(True)
    order = [*fitted.names, *(f"law score {i}" for i in range(rest.size))]
    document["covariance"] = {"order": order, "rows": matrix}
    if fitted.draws.size:
        document["draws"] = {"rows": tomlkit.string(_block(fitted.draws), multiline=True)}
    if fitted.seen is not None:
        document["seen"] = _seen_table(fitted.seen)
    return tomlkit.dumps(document)


def _block(rows: FloatArray) -> str:
    """A matrix as text, one row a line: thousands of numbers a person need not read."""
    return "\n" + "\n".join(" ".join(f"{x:.6g}" for x in row) for row in rows) + "\n"


def _seen_table(seen: Seen) -> dict[str, Any]:
    import tomlkit

    return {
        "days": list(seen.days),
        "observed": [f"{run} {name}" for run, name in seen.observed],
        "noise": [float(f"{x:.6g}") for x in seen.noise],
        "places": tomlkit.string(_block(seen.places), multiline=True),
        "left": tomlkit.string(_block(seen.left), multiline=True),
    }


def _matrix(text: Any, columns: int, where: str) -> FloatArray:
    """The matrix of a text block.

    Raises
    ------
    ValueError
        If it has another number of columns, or what is no finite number.
    """
    rows = [line.split() for line in str(text).strip().splitlines()]
    found = np.array(rows, dtype=float).reshape(len(rows), -1)
    if found.shape[1] != columns or not np.all(np.isfinite(found)):
        raise ValueError(f"{where}: got rows of {found.shape[1]}; {columns} finite numbers wanted")
    return found


def _seen(data: Mapping[str, Any], draws: int) -> Seen | None:
    table = data.get("seen")
    if table is None:
        return None
    days = tuple(str(day) for day in table["days"])
    observed = []
    for entry in table["observed"]:
        run, _, name = str(entry).partition(" ")
        if not 0 <= int(run) < len(days) or name not in OUTPUTS:
            raise ValueError(f"seen.observed: {entry!r}")
        observed.append((int(run), name))
    places = _matrix(table["places"], len(COORDINATES), "seen.places")
    noise = np.array(table["noise"], dtype=float)
    left = _matrix(table["left"], len(observed), "seen.left")
    sizes = (len(places), len(noise), len(left))
    if sizes != (len(days), len(observed), draws) or np.any(~(noise > 0)):
        raise ValueError(f"seen: got {sizes} settings, noises and draws; they do not fit together")
    return Seen(places, days, tuple(observed), noise, left)


def read_press_parameters(path: Path) -> FittedPress:
    """Parameters of a file.

    Raises
    ------
    InputFileError
        If the file cannot be read as text.
    DataError
        With every fault of its content.
    """
    return parse_press_parameters(read_text(path), path.name)


@foreign("press parameters")
def parse_press_parameters(text: str, where: str = "press parameters") -> FittedPress:
    """Parameters from the text of their file.

    Raises
    ------
    DataError
        With every fault found: wrong format, unknown machine or parameter, impossible values.
    """
    again = "write the file again with the calibrate job"
    data = parse_toml_of(text, where, again, where)
    faults: list[Fault] = []
    if data.get("format") not in (PRESS_FORMAT, _FIRST_FORMAT):
        got = repr(data.get("format"))
        faults.append(Fault("format", got, PRESS_FORMAT, "name a file that calibrate wrote"))
    machine = data.get("machine")
    known = [kind.value for kind in Kind]
    if machine not in known:
        faults.append(Fault("machine", repr(machine), ", ".join(known), again))
        raise DataError(where, faults)
    kind = Kind(machine)
    places = _places(kind, data.get("parameters", {}), faults)
    if faults:
        raise DataError(where, faults)
    return _assembled(kind, data, places, where)


def _places(kind: Kind, table: Any, faults: list[Fault]) -> dict[str, float]:
    priors, found = parameter_priors(kind), {}
    entries = table.items() if isinstance(table, dict) else ()
    if not entries:
        faults.append(Fault("parameters", "none", "one parameter or more", "use a whole file"))
    for name, entry in entries:
        place = f"parameters.{name}"
        if name not in priors:
            faults.append(Fault(place, "unknown parameter", ", ".join(priors), "remove it"))
            continue
        prior = priors[name]
        unit = entry.get("unit", prior.unit) if isinstance(entry, dict) else None
        if unit != prior.unit:
            faults.append(Fault(f"{place}.unit", repr(unit), prior.unit, "give the value in SI"))
            continue
        try:
            value = float(entry["value"])
            if not (0.0 < value < (np.inf if prior.line == "log" else 1.0)):
                raise ValueError(f"{value:g} {prior.unit}")
            found[name] = to_line(value, prior.line)
        except (KeyError, TypeError, ValueError) as error:
            top = "above 0" if prior.line == "log" else "between 0 and 1"
            faults.append(Fault(place, str(error), f"a value {top}", "correct the entry"))
    return found


def _assembled(
    kind: Kind, data: Mapping[str, Any], places: Mapping[str, float], where: str
) -> FittedPress:
    try:
        law = [float(v) for v in data.get("law_scores", {}).get("mean", [])]
        size = len(places) + len(law)
        told = data.get("draws", {}).get("rows")
        draws = np.empty((0, 0)) if told is None else _matrix(told, size, "draws")
        return FittedPress(
            machine=kind,
            frame=str(data.get("frame", "")),
            names=tuple(places),
            mean=np.array([*places.values(), *law]),
            covariance=np.array(data["covariance"]["rows"], dtype=float),
            runs=int(data.get("runs", 0)),
            date=str(data.get("date", "")),
            sludge=str(data.get("sludge", "")),
            law=str(data.get("law", "")),
            basis=Basis(data.get("basis", "measured")),
            mark=Mark(data.get("mark", "")),
            notes=(*(str(note) for note in data.get("notes", ())), *_aged(data)),
            draws=draws,
            seen=_seen(data, len(draws)),
        )
    except (KeyError, TypeError, ValueError, AttributeError, OutOfRangeError) as error:
        allowed = "one row of numbers per parameter and law score, in the order of the file"
        fault = Fault(
            "covariance, draws or seen",
            str(error),
            allowed,
            "write it again with the calibrate job",
        )
        raise DataError(where, [fault]) from None


_AGED = "kept as a mean and a covariance by an earlier release: calibrate again for the draws"


def _aged(data: Mapping[str, Any]) -> tuple[str, ...]:
    old = data.get("format") == _FIRST_FORMAT and _AGED not in data.get("notes", ())
    return (_AGED,) if old else ()
