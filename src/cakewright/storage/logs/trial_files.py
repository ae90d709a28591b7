"""Tables of trials and test samples, the test protocol, and the fleet's files."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from cakewright.errors import (
    DataError,
    Fault,
    InfeasibleError,
    InputFileError,
    QuantityError,
    UnknownNameError,
    foreign,
)
from cakewright.jobs.acceptance import protocol_from
from cakewright.jobs.commission import CommissionPlan
from cakewright.jobs.findings import Findings
from cakewright.quantities import FloatArray, from_si, house_name, to_si
from cakewright.quantities.toml_text import parse_toml_of
from cakewright.running.acceptance import AgreedError, Guarantee, Protocol, TestRun
from cakewright.running.learning import Contribution, FleetPrior, PooledParameter
from cakewright.running.signals import signal, signals
from cakewright.statistics.pass_rule import RuleKind
from cakewright.storage.texts import read_json, read_text, rows_of
from cakewright.study import parse_quantity

__all__ = [
    "parse_protocol",
    "plan_sheet",
    "read_contribution",
    "read_fleet",
    "read_protocol",
    "read_results",
    "read_runs",
    "render_contribution",
    "render_fleet",
    "render_protocol",
    "rule_file",
    "sample_sheet",
]

_TITLE = re.compile(r"^\s*(?P<key>[a-z_0-9]+)\s*(?:\[(?P<unit>[^\]]*)\])?\s*$")
_ALSO = ("capture", "polymer_dose", "dry_solids_flow")


def unit_of(key: str) -> tuple[str, str]:
    """SI unit and shown unit of a signal or of an indicator that trials may carry."""
    name = signal(key).name if key in signals() else key
    entry = house_name(name)
    return entry.unit, entry.shown


# What a run is judged by, the readings of its stops, and the load it carried.
_MEASURED = (
    "feed_flow", "feed_solids", "floc_level", "screw_torque", "dry_solids_flow", "cake_solids",
    "filtrate_solids", "capture",
)  # fmt: skip


def plan_sheet(plan: CommissionPlan) -> str:
    """Runs to make as a CSV sheet with empty columns for what is measured."""
    keys = [factor.key for factor in plan.plan.factors]
    named = [f"{k} [{unit_of(k)[1]}]" for k in keys]
    measured = [f"{k} [{unit_of(k)[1]}]" for k in _MEASURED]
    lines = [["run", "day", "date", "time", "operator", *named, *measured, "kind", "note"]]
    for trial in plan.plan.trials:
        cells = [f"{float(from_si(trial.settings[k], *unit_of(k))):.4g}" for k in keys]
        when = [str(trial.day), "", "", ""]
        lines.append([str(trial.order), *when, *cells, *[""] * len(_MEASURED), trial.kind, ""])
    return "\n".join(";".join(line) for line in lines) + "\n"


_SAMPLED = (
    "feed_flow", "feed_solids", "polymer_flow", "polymer_strength", "wash_flow", "filtrate_flow",
    "filtrate_solids", "cake_flow", "cake_solids", "drive_power",
)  # fmt: skip


def sample_sheet() -> str:
    """The empty sheet of an acceptance test: one row per sample."""
    heads = ["run", "minutes", *(f"{key} [{unit_of(key)[1]}]" for key in _SAMPLED), "note"]
    return ";".join(heads) + "\n"


def _rows(path: Path) -> tuple[list[str], list[list[str]]]:
    text = read_text(path, what="a sheet of runs is a table as text")
    rows = [row for row in rows_of(text, str(path), ";,") if any(row)]
    if len(rows) < 2:
        raise InputFileError(f"{path}: a title line and at least one row are needed")
    return [cell.strip() for cell in rows[0]], rows[1:]


def _number(text: str, where: str, faults: list[Fault]) -> float:
    text = text.strip()
    if text.lower() in ("", "-", "nan"):
        return float("nan")
    try:
        return float(text.replace(",", ".") if text.count(",") == 1 and "." not in text else text)
    except ValueError:
        faults.append(Fault(where, repr(text), "a number or nothing", "correct the cell"))
        return float("nan")


def _columns(
    path: Path, titles: Sequence[str], rows: Sequence[Sequence[str]], skip: set[str]
) -> dict[str, FloatArray]:
    faults: list[Fault] = []
    found = {}
    for i, title in enumerate(titles):
        match = _TITLE.match(title)
        key = match["key"] if match else title
        if key in skip:
            continue
        if not match or (key not in signals() and key not in _ALSO):
            allowed = "a signal, as 'key [unit]'"
            faults.append(Fault(f"column {title!r}", "not known", allowed, "correct the title"))
            continue
        si, shown = unit_of(key)
        cells = [
            _number(row[i] if i < len(row) else "", f"{key}, row {n}", faults)
            for n, row in enumerate(rows, 2)
        ]
        try:
            found[key] = np.asarray(to_si(np.array(cells), match["unit"] or shown, si))
        except QuantityError as error:
            got, like = str(match["unit"]), f"a unit like {shown}"
            faults.append(Fault(f"column {title!r}", got, like, str(error)))
    if faults:
        raise DataError(str(path), faults)
    return found


@foreign("a sheet of tuning runs")
def read_results(path: Path) -> dict[str, FloatArray]:
    """Results of tuning runs, one row per run, in SI.

    Raises
    ------
    InputFileError, DataError
        If the file cannot be read; with every fault found.
    """
    titles, rows = _rows(path)
    return _columns(path, titles, rows, {"run", "day", "date", "time", "operator", "kind", "note"})


@foreign("a sheet of samples")
def read_runs(path: Path) -> tuple[TestRun, ...]:
    """Samples of an acceptance test: one row per sample, with columns run and minutes.

    Raises
    ------
    InputFileError, DataError
        If the file cannot be read; with every fault found.
    """
    titles, rows = _rows(path)
    if "run" not in titles or "minutes" not in titles:
        fault = Fault("columns", ", ".join(titles), "run, minutes and signals", "add them")
        raise DataError(str(path), [fault])
    faults: list[Fault] = []
    names = np.array([row[titles.index("run")].strip() for row in rows])
    at = titles.index("minutes")
    clock = [_number(row[at], f"minutes, row {n}", faults) for n, row in enumerate(rows, 2)]
    time = 60.0 * np.array(clock)
    columns = _columns(path, titles, rows, {"run", "minutes", "note"})
    if faults:
        raise DataError(str(path), faults)
    return tuple(
        TestRun(name, time[names == name], {k: v[names == name] for k, v in columns.items()})
        for name in dict.fromkeys(names.tolist())
    )


def _pairs(
    table: Mapping[str, Any], where: str, faults: list[Fault]
) -> dict[str, tuple[float, float]]:
    found = {}
    for key, raw in table.items():
        try:
            unit = unit_of(key)[0]
            low, high = (parse_quantity(str(part), unit).value for part in raw)
            found[key] = (low, high)
        except (QuantityError, UnknownNameError, ValueError, TypeError) as error:
            faults.append(Fault(f"{where}.{key}", repr(raw), "two quantities", str(error)))
    return found


def _values(table: Mapping[str, Any], where: str, faults: list[Fault]) -> dict[str, float]:
    found = {}
    for key, raw in table.items():
        try:
            found[key] = parse_quantity(str(raw), unit_of(key)[0]).value
        except (QuantityError, UnknownNameError) as error:
            faults.append(Fault(f"{where}.{key}", repr(raw), "a quantity", str(error)))
    return found


_KINDS = tuple(kind.value for kind in RuleKind)


def _errors(table: Mapping[str, Any], faults: list[Fault]) -> dict[str, AgreedError]:
    """Agreed errors of each quantity; differences carry the quantity's own unit."""
    found = {}
    allowed = AgreedError.__dataclass_fields__
    for name, row in table.items():
        where = f"errors.{name}"
        if not isinstance(row, Mapping) or "common" not in row or set(row) - set(allowed):
            keys = ", ".join(allowed)
            faults.append(Fault(where, repr(row), f"a table of {keys}", "state what was agreed"))
            continue
        values = {}
        for key, raw in row.items():
            try:
                values[key] = parse_quantity(str(raw), unit_of(name)[0]).value
            except (QuantityError, UnknownNameError) as error:
                faults.append(Fault(f"{where}.{key}", repr(raw), "a quantity", str(error)))
        if len(values) == len(row):
            found[name] = AgreedError(**values)
    return found


def _rule_of(rules: dict[str, Any], faults: list[Fault]) -> dict[str, Any]:
    if "rule" not in rules:
        return {}
    raw = str(rules.pop("rule"))
    if raw not in _KINDS:
        faults.append(Fault("rules.rule", repr(raw), ", ".join(_KINDS), "name a rule"))
        return {}
    return {"rule": RuleKind(raw)}


def render_protocol(protocol: Protocol, title: str = "") -> str:
    """The rule of a test as TOML: ``parse_protocol`` gives back the same protocol."""
    import tomlkit

    def told(name: str, value: float) -> str:
        si, shown = unit_of(name)
        return f"{float(f'{float(from_si(value, si, shown)):.9g}'):.9g} {shown}".strip()

    document = tomlkit.document()
    for line in (
        f"Rule of the guarantee test{': ' if title else ''}{title}".strip(),
        "`cakewright commission accept SAMPLES --protocol THIS_FILE` judges by it. Errors are",
        "standard deviations in the unit of the value: common to all runs, scatter of one run.",
    ):
        document.add(tomlkit.comment(line))
    rules = {
        "rule": protocol.rule.value,
        "fewest_runs": protocol.fewest_runs,
        "most_runs": protocol.most_runs,
        "fewest_samples": protocol.fewest_samples,
        "shortest": f"{protocol.shortest / 3600:.6g} h",
        "wrong_pass": f"{100 * protocol.wrong_pass:.6g} %",
        "wrong_fail": f"{100 * protocol.wrong_fail:.6g} %",
        "closure": f"{100 * protocol.closure:.6g} %",
        "steady": f"{100 * protocol.steady:.6g} %",
    }
    document["rules"] = rules
    document["guarantees"] = {g.name: told(g.name, g.value) for g in protocol.guarantees}
    if protocol.window:
        document["window"] = {
            key: [told(key, low), told(key, high)] for key, (low, high) in protocol.window.items()
        }
    if protocol.agreed:
        document["agreed"] = {key: told(key, value) for key, value in protocol.agreed.items()}
    errors = tomlkit.table()
    for name, one in protocol.errors.items():
        row = {key: getattr(one, key) for key in AgreedError.__dataclass_fields__}
        errors[name] = {key: told(name, v) for key, v in row.items() if v or key == "common"}
    if protocol.errors:
        document["errors"] = errors
    return tomlkit.dumps(document)


def rule_file(findings: Findings) -> str:
    """The rule of a study's guarantee as the file that its test is judged by."""
    if findings.decide is None:
        raise InfeasibleError("nothing can be promised: no machine was chosen for this study")
    return render_protocol(protocol_from(findings.decide.guarantee), findings.title)


@foreign("a test protocol")
def parse_protocol(text: str, where: str = "protocol") -> Protocol:
    """A test protocol from TOML text.

    Raises
    ------
    DataError
        With every fault found at once.
    """
    table = parse_toml_of(text, where, "see docs/howto/more/running")
    faults: list[Fault] = []
    known = {"guarantees", "window", "agreed", "rules", "errors"}
    faults += [
        Fault(k, "a section", ", ".join(sorted(known)), "remove it") for k in set(table) - known
    ]
    rules = dict(table.get("rules", {}))
    plain = {"fewest_samples": int, "fewest_runs": int, "most_runs": int}
    shares = ("closure", "steady", "wrong_pass", "wrong_fail")
    values: dict[str, Any] = {
        key: kind(rules.pop(key)) for key, kind in plain.items() if key in rules
    }
    for key in shares:
        if key in rules:
            values[key] = _values({"capture": rules.pop(key)}, f"rules.{key}", faults).get(
                "capture", 0
            )
    values |= _rule_of(rules, faults)
    errors = _errors(table.get("errors", {}), faults)
    if "shortest" in rules:
        try:
            values["shortest"] = parse_quantity(str(rules.pop("shortest")), "s").value
        except QuantityError as error:
            faults.append(Fault("rules.shortest", "?", "a time", str(error)))
    faults += [
        Fault(f"rules.{key}", repr(raw), "a known rule", "remove it") for key, raw in rules.items()
    ]
    guarantees = _values(table.get("guarantees", {}), "guarantees", faults)
    window = _pairs(table.get("window", {}), "window", faults)
    agreed = _values(table.get("agreed", {}), "agreed", faults)
    if faults:
        raise DataError(where, faults)
    promised = tuple(Guarantee(name, value) for name, value in guarantees.items())
    protocol = Protocol(promised, window, agreed, errors=errors, **values)
    if protocol.rule is RuleKind.SEQUENTIAL:
        lacking = [g.name for g in promised if not _sequenced(errors.get(g.name))]
        faults += [
            Fault(f"errors.{name}", "no scatter or margin", "both, for a sequential rule",
                  "take the file that `cakewright guarantee` wrote")
            for name in lacking
        ]  # fmt: skip
    if faults:
        raise DataError(where, faults)
    return protocol


def _sequenced(error: AgreedError | None) -> bool:
    return error is not None and error.scatter > 0 and error.margin > 0


def read_protocol(path: Path) -> Protocol:
    """A test protocol from a file.

    Raises
    ------
    InputFileError, DataError
        If the file cannot be read; with every fault found.
    """
    return parse_protocol(read_text(path, what="a protocol is TOML text"), str(path))


def render_contribution(one: Contribution) -> str:
    """A contribution as JSON: frame and numbers, no name, no place, no date."""
    return json.dumps(
        {
            "kind": "cakewright contribution", "version": 1, "frame": one.frame,
            "shifts": one.shifts, "token": one.token,
            "parameters": {k: {"value": v, "error": e} for k, (v, e) in one.parameters.items()},
        },
        indent=1,
    )  # fmt: skip


def _json(path: Path, kind: str) -> dict[str, Any]:
    table = read_json(path)
    if not isinstance(table, dict) or table.get("kind") != kind:
        raise InputFileError(f"{path}: is not a {kind} file")
    return table


@foreign("a contribution")
def read_contribution(path: Path) -> Contribution:
    """A contribution from its file.

    Raises
    ------
    InputFileError
        If the file is not one.
    """
    table = _json(path, "cakewright contribution")
    parameters = {k: (float(p["value"]), float(p["error"])) for k, p in table["parameters"].items()}
    return Contribution(table["frame"], parameters, int(table["shifts"]), table["token"])


def render_fleet(prior: FleetPrior) -> str:
    """What the fleet knows as JSON."""
    rows = {
        k: {"mean": p.mean, "error": p.error, "between": p.between, "sites": p.sites}
        for k, p in prior.parameters.items()
    }
    head = {"kind": "cakewright fleet", "version": 1, "frame": prior.frame, "sites": prior.sites}
    return json.dumps({**head, "parameters": rows}, indent=1)


@foreign("a fleet's file")
def read_fleet(path: Path) -> FleetPrior:
    """What the fleet knows, from its file.

    Raises
    ------
    InputFileError
        If the file is not one.
    """
    table = _json(path, "cakewright fleet")
    rows = {k: PooledParameter(**row) for k, row in table["parameters"].items()}
    return FleetPrior(table["frame"], int(table["sites"]), rows)
