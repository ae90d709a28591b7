"""`cakewright new`: write a commented study, or a copy of a demonstration."""

from __future__ import annotations

from pathlib import Path

import click

from cakewright.storage.studies import DEMOS, demo_text, write_new_file
from cakewright.study import render_template

__all__ = ["command"]


@click.command("new")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--demo", type=click.Choice(DEMOS), help="Start from a demonstration study.")
def command(file: Path, demo: str | None) -> None:
    """Write a commented study to FILE; never over an existing one."""
    write_new_file(file, demo_text(demo) if demo else render_template())
    click.echo(f"{file} written. Fill it in, then: cakewright check {file}")
