"""Bench, calibration, guarantee and watching: files in, an outcome out."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import Any

from cakewright.reports.numbers import Units
from cakewright.storage.outputs import write_outputs

__all__ = ["Outcome", "calibrate", "fit_bench", "guarantee", "watch"]

Outputs = Mapping[str, str | bytes]


def _quiet(_: str) -> None:
    return None


@dataclass(frozen=True, slots=True, repr=False)
class Outcome:
    """What a job found.

    Attributes
    ----------
    findings : object
        Everything as plain frozen data in SI (not part of the stable surface).
    text : str
        The answer as the command prints it.
    """

    findings: Any
    text: str
    _outputs: Callable[[], Outputs]

    def write(self, folder: Path | str) -> Path:
        """Every document of the job into a folder, all or none."""
        write_outputs(folder, self._outputs())
        return Path(folder)

    def __repr__(self) -> str:
        return self.text

    def _repr_html_(self) -> str:
        return f"<pre>{escape(self.text)}</pre>"


def fit_bench(
    *sheets: Path | str,
    sludge_class: str = "",
    title: str = "Bench tests",
    units: str = "si",
) -> Outcome:
    """Sludge law from sheets of readings (.csv, .xlsx) or a study with bench tables (.toml).

    Raises
    ------
    DataError
        If no test can be used; says which sheet, row and column.
    """
    from cakewright.jobs.bench import evaluate_bench
    from cakewright.reports.bench_headline import bench_headline
    from cakewright.reports.bench_outputs import bench_outputs
    from cakewright.storage.bench_sheets import read_bench_files

    read = read_bench_files([Path(s) for s in sheets])
    findings = evaluate_bench(read.tests, read.bad, sludge_class=sludge_class)
    shown = Units(units)
    return Outcome(
        findings, bench_headline(findings, shown), lambda: bench_outputs(findings, title, shown)
    )


def calibrate(
    study: Path | str,
    runs: Path | str,
    *,
    frame: str = "",
    without: Sequence[str] = (),
    prior: Path | str | None = None,
    units: str = "si",
    progress: Callable[[str], None] = _quiet,
) -> Outcome:
    """Machine parameters from trial runs; ``without`` leaves runs out by name.

    Raises
    ------
    DataError
        If the sheet of runs cannot be used.
    """
    from cakewright.reports.calibration_report import calibration_headline, calibration_outputs
    from cakewright.storage.calibration import calibrate_file
    from cakewright.storage.press_parameters import press_parameters_toml

    found = calibrate_file(
        Path(study),
        Path(runs),
        progress,
        frame=frame,
        without=without,
        prior=None if prior is None else Path(prior),
    )
    shown = Units(units)

    def outputs() -> Outputs:
        learnt = {"press-parameters.toml": press_parameters_toml(found.fitted)}
        return {**calibration_outputs(found, shown), **learnt}

    return Outcome(found, calibration_headline(found, shown), outputs)


def guarantee(
    study: Path | str | None = None,
    *,
    demo: str = "soy",
    samples: int | None = None,
    seed: int | None = None,
    units: str = "si",
) -> Outcome:
    """What can be promised for the chosen machine, and the test that proves it.

    Without ``study`` the demonstration named is taken.
    """
    from cakewright.reports.guarantee_documents import guarantee_documents, promises_text
    from cakewright.reports.guarantee_json import promises_json
    from cakewright.storage.deciding import decided_file, pilot_worth_file
    from cakewright.storage.logs.trial_files import rule_file

    path = None if study is None else Path(study)
    found = decided_file(path, demo, samples=samples, seed=seed)
    worth = pilot_worth_file(path, demo, found)
    shown = Units(units)

    def outputs() -> Outputs:
        files = {"guarantee.json": promises_json(found, worth), "protocol.toml": rule_file(found)}
        return {**guarantee_documents(found, shown, worth), **files}

    return Outcome(found, promises_text(found, shown, worth), outputs)


def watch(
    logs: Sequence[Path | str],
    column_map: Path | str,
    site: Path | str,
    *,
    store: Path | str,
    units: str = "si",
    progress: Callable[[str], None] = _quiet,
) -> Outcome:
    """Operating logs cleaned, reconciled and explained; ``store`` keeps what was read."""
    from cakewright.reports.running_operator import operator_text
    from cakewright.reports.running_pages import watch_outputs
    from cakewright.storage.logs import read_column_map
    from cakewright.storage.logs.site_file import read_site
    from cakewright.storage.logs.watching import watch_logs

    pairs = [([Path(log) for log in logs], read_column_map(Path(column_map)))]
    findings, _ = watch_logs(pairs, read_site(Path(site)), Path(store), int(time.time()), progress)
    shown = Units(units)
    return Outcome(findings, operator_text(findings), lambda: watch_outputs(findings, shown))
