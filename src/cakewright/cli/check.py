"""`cakewright check`: every fault of a study at once."""

from __future__ import annotations

import json
from pathlib import Path

import click

from cakewright.errors import StudyError
from cakewright.storage.studies import read_study

__all__ = ["command"]


@click.command("check")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Faults as JSON.")
def command(file: Path, as_json: bool) -> None:
    """Report every fault of the study FILE at once: line, what was got, what is allowed."""
    try:
        study = read_study(file)
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
    defaults = [given for given in study.values.values() if given.default]
    if as_json:
        click.echo(json.dumps({"faults": [], "defaults": [given.where for given in defaults]}))
        return
    click.echo(f"{file}: no faults. {len(defaults)} values are defaults:")
    for given in defaults:
        mark = f", {given.mark}" if given.mark else ""
        click.echo(f"  {given.where} = {given.as_written} ({given.basis}{mark})")
