"""`cakewright bench`: readings in, sludge law and bench report out."""

from __future__ import annotations

from pathlib import Path

import click

__all__ = ["command"]


@click.command("bench")
@click.argument("files", nargs=-1, type=click.Path(path_type=Path))
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("bench-out"),
    show_default=True,
    help="Folder for the bench report, the sludge law, the figures and the data.",
)
@click.option("--class", "sludge_class", default="", help="Sludge class, where no sheet names one.")
@click.option("--title", default="Bench tests", show_default=True, help="Title of the report.")
@click.option("--units", type=click.Choice(("si", "us")), default="si", show_default=True)
@click.option(
    "--template",
    type=click.Path(path_type=Path),
    help="Write empty sheets for every test into this folder, or into this .xlsx, and stop.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the results as JSON.")
def command(
    files: tuple[Path, ...],
    out: Path,
    sludge_class: str,
    title: str,
    units: str,
    template: Path | None,
    as_json: bool,
) -> None:
    """Fit bench tests and carry them into the sludge law.

    FILES are sheets of readings (.csv, .xlsx) or a study with [[bench]] tables (.toml). Tests that
    cannot be used are listed with sheet, row and column; all others are fitted.
    """
    if template is not None:
        _write_templates(template)
        return
    if not files:
        raise click.UsageError("name at least one file of readings, or use --template FOLDER")
    from cakewright.jobs.bench import evaluate_bench
    from cakewright.reports.bench_headline import bench_headline
    from cakewright.reports.bench_outputs import bench_outputs
    from cakewright.reports.numbers import Units
    from cakewright.storage.bench_sheets import read_bench_files
    from cakewright.storage.outputs import write_outputs

    click.echo(f"... fitting the tests of {len(files)} files", err=True)
    read = read_bench_files(files)
    findings = evaluate_bench(read.tests, read.bad, sludge_class=sludge_class)
    click.echo("... writing the report", err=True)
    outputs = bench_outputs(findings, title, Units(units))
    write_outputs(out, outputs)
    if as_json:
        click.echo(outputs["bench.json"])
        return
    click.echo(bench_headline(findings, Units(units)))
    laws = ", ".join(name for name in outputs if name.endswith(".toml")) or "no law"
    click.echo(f"\nReport: {out / 'bench-report.html'} (also bench-report.pdf, {laws}, bench.json)")


def _write_templates(target: Path) -> None:
    from cakewright.storage.bench_template import template_files, template_xlsx
    from cakewright.storage.outputs import write_outputs

    if target.suffix.lower() == ".xlsx":
        write_outputs(target.parent, {target.name: template_xlsx()})
        click.echo(f"Wrote {target}: one sheet per test; delete those you do not make.")
        return
    written = write_outputs(target, template_files())
    click.echo(f"Wrote {len(written)} files to {target}: bench-sheets.xlsx and one CSV per test.")
