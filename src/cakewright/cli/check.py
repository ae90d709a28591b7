"""`cakewright check`: every fault of a study at once."""

from __future__ import annotations

import json
from pathlib import Path

import click

from cakewright.errors import StudyError
from cakewright.quantities import Given, from_si, house_name
from cakewright.storage.studies import read_study
from cakewright.study import questions

__all__ = ["command"]


@click.command("check")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Faults as JSON.")
def command(file: Path, as_json: bool) -> None:
    """Report every fault of the study FILE at once: line, what was got, what is allowed."""
    try:
        study = read_study(file)
        from cakewright.storage.evaluation import checked, frames_of

        checked(study, frames_of(study, file.resolve().parent))
    except StudyError as error:
        if not as_json:
            raise
        rows = [
            {
                "line": f.line,
                "where": f.where,
                "got": f.got,
                "allowed": f.allowed,
                "try": f.try_this,
            }
            for f in error.faults
        ]
        click.echo(json.dumps({"faults": rows}, indent=2))
        raise SystemExit(1) from None
    asked = questions(study)
    defaults = [given for given in study.values.values() if given.default]
    if as_json:
        rows = [{"line": q.line, "where": q.where, "asked": q.words} for q in asked]
        told = {"faults": [], "questions": rows, "defaults": [given.where for given in defaults]}
        click.echo(json.dumps(told))
        return
    click.echo(f"{file}: no faults.")
    if asked:
        click.echo(f"{len(asked)} {'question' if len(asked) == 1 else 'questions'}:")
        for one in asked:
            click.echo(f"  {one}")
    given_now = [given for given in study.values.values() if not given.default]
    click.echo("Understood:")
    for given in given_now:
        click.echo(f"  {given.where} = {given.as_written}{_understood(given)}")
    click.echo(f"{len(defaults)} values are defaults:")
    for given in defaults:
        mark = f", {given.mark}" if given.mark else ""
        click.echo(f"  {given.where} = {given.as_written} ({given.basis}{mark})")


def _understood(given: Given) -> str:
    """What was taken, in the units an engineer reads, with its band."""
    entry = house_name(given.name)
    numbers = [x for x in (given.value, given.low, given.high) if x is not None]
    told = [f"{float(from_si(x, entry.unit, entry.shown)):.4g}" for x in numbers]
    unit = "" if entry.shown == "1" else f" {entry.shown}"
    band = f" ({told[1]} to {told[2]})" if len(told) == 3 else ""
    return f"  [{told[0]}{unit}{band}]"
