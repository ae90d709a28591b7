"""`cakewright calibrate`: trial runs in, machine parameters and the next run to make out."""

from __future__ import annotations

from pathlib import Path

import click

__all__ = ["command"]


@click.command("calibrate")
@click.argument("study", type=click.Path(path_type=Path), required=False)
@click.argument("pilot", type=click.Path(path_type=Path), required=False)
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("calibrate-out"),
    show_default=True,
    help="Folder for press-parameters.toml, the report and the data.",
)
@click.option("--frame", default="", help="Frame on trial; else that of the sheet or the study.")
@click.option("--without", multiple=True, help="Leave a run out, by its name; may be repeated.")
@click.option(
    "--without-odd",
    is_flag=True,
    help="Go on without readings that the first look finds to be no scatter; they are named.",
)
@click.option(
    "--prior",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Press parameters of earlier runs, or of a fleet, to start from.",
)
@click.option("--units", type=click.Choice(("si", "us")), default="si", show_default=True)
@click.option("--template", is_flag=True, help="Print an empty sheet of runs and stop.")
@click.option("--json", "as_json", is_flag=True, help="Print the results as JSON.")
def command(
    study: Path | None,
    pilot: Path | None,
    out: Path,
    frame: str,
    without: tuple[str, ...],
    without_odd: bool,
    prior: Path | None,
    units: str,
    template: bool,
    as_json: bool,
) -> None:
    """Learn a press's parameters from trial or commissioning runs.

    STUDY is the study file (with its sludge law, if tested), PILOT a sheet of runs (.csv, .xlsx).
    The file press-parameters.toml can be named in the next study as [press] parameters, and as
    --prior when more runs are made on the machine: give the new runs alone, or they count twice.
    """
    from cakewright.storage.pilot_runs import pilot_template

    if template:
        click.echo(pilot_template(), nl=False)
        return
    if study is None or pilot is None:
        raise click.UsageError("give a study and a sheet of runs, or --template")
    from cakewright.reports.calibration_report import calibration_headline, calibration_outputs
    from cakewright.reports.numbers import Units
    from cakewright.storage.calibration import calibrate_file
    from cakewright.storage.outputs import write_outputs
    from cakewright.storage.press_parameters import press_parameters_toml

    def tell(doing: str) -> None:
        click.echo(f"... {doing}", err=True)

    found = calibrate_file(
        study, pilot, tell, frame=frame, without=without, prior=prior, without_odd=without_odd
    )
    outputs = calibration_outputs(found, Units(units))
    outputs["press-parameters.toml"] = press_parameters_toml(found.fitted)
    write_outputs(out, outputs)
    if as_json:
        click.echo(outputs["calibration.json"])
        return
    click.echo(calibration_headline(found, Units(units)))
    click.echo(
        f"\nParameters: {out / 'press-parameters.toml'} (also calibration.html, .pdf, .json)"
    )
