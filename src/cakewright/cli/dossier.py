"""`cakewright dossier`: the documents of a whole line, numbered, under one register."""

from __future__ import annotations

from pathlib import Path

import click

__all__ = ["command"]


@click.command("dossier")
@click.argument("study", type=click.Path(path_type=Path), required=False)
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("cakewright-dossier"),
    show_default=True,
    help="Folder for the documents.",
)
@click.option("--demo", type=click.Choice(("soy", "valley", "reservoir")), help="A demonstration.")
@click.option("--units", type=click.Choice(("si", "us")), default="si", show_default=True)
@click.option("--samples", type=click.IntRange(0, 1_000_000), help="Instead of the study's.")
def command(
    study: Path | None, out: Path, demo: str | None, units: str, samples: int | None
) -> None:
    """Write the documents of the line that STUDY comes to: from design basis to bid form.

    Filled-in copies of the bid form are read back by `cakewright offers --study STUDY FORM...`.
    """
    from cakewright.reports.dossier import dossier_documents, register_rows
    from cakewright.reports.numbers import Units
    from cakewright.storage.deciding import decided_file
    from cakewright.storage.outputs import write_outputs

    if study and demo:
        raise click.UsageError("give a study or --demo, not both")
    findings = decided_file(study, demo or "soy", samples=samples)
    outputs = dossier_documents(findings, Units(units))
    write_outputs(out, outputs)
    for number, title, name in register_rows(findings, tuple(outputs)[1:]):
        click.echo(f"{number:<12} {title:<28} {out / name}")
    click.echo(f"Register: {out / 'register.html'}")
