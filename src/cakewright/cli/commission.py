"""`cakewright commission`: plan and evaluate tuning runs, judge the acceptance test."""

from __future__ import annotations

from pathlib import Path

import click

__all__ = ["command"]

_UNITS = click.option("--units", type=click.Choice(["si", "us"]), default="si", show_default=True)


@click.group("commission")
def command() -> None:
    """Tune a press within its safe limits and judge its acceptance test."""


@command.command("plan")
@click.option("--site", "site_file", type=click.Path(path_type=Path), required=True)
@click.option("--factor", "factors", multiple=True, help="Setting to try [all with limits].")
@click.option("--first-order", is_flag=True, help="Corners and centre only.")
@click.option("--centres", default=5, show_default=True, type=click.IntRange(3, 10))
@click.option("--seed", default=1, show_default=True, help="Draws the order of the runs.")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    default=Path("tuning-plan"),
    show_default=True,
    help="Folder for the sheet.",
)
def plan(
    site_file: Path, factors: tuple[str, ...], first_order: bool, centres: int, seed: int, out: Path
) -> None:
    """Write a sheet of tuning runs to make, in their order."""  # fmt: skip
    from cakewright.jobs.commission import plan_tuning
    from cakewright.storage.logs.site_file import read_site
    from cakewright.storage.logs.trial_files import plan_sheet
    from cakewright.storage.outputs import write_outputs

    site = read_site(site_file)
    planned = plan_tuning(site, factors, second_order=not first_order, centres=centres, seed=seed)
    write_outputs(out, {"runs.csv": plan_sheet(planned)})
    click.echo(f"{out / 'runs.csv'}: {len(planned.plan.trials)} runs")
    for words in (*planned.rules, *(f"Care: {c.text}" for c in planned.cautions)):
        click.echo(f"- {words}")


@command.command("evaluate")
@click.argument("results", type=click.Path(path_type=Path))
@click.option("--site", "site_file", type=click.Path(path_type=Path), required=True)
@click.option("--factor", "factors", multiple=True, help="Setting tried [all with limits].")
@click.option("--least-capture", default="0 %", show_default=True)
@click.option("--least-throughput", default="0 kg/h", show_default=True, help="Dry solids to pass.")
@click.option(
    "--store",
    type=click.Path(path_type=Path),
    help="Log store of the watch: load and feed of the coming weeks.",
)
@click.option(
    "--out", type=click.Path(path_type=Path), default=Path("tuning-out"), show_default=True
)
@_UNITS
def evaluate(
    results: Path,
    site_file: Path,
    factors: tuple[str, ...],
    least_capture: str,
    least_throughput: str,
    store: Path | None,
    out: Path,
    units: str,
) -> None:
    """Surfaces, best setting by cost and what it saves, from the sheet filled in."""  # fmt: skip
    from cakewright.jobs.commission import evaluate_tuning
    from cakewright.reports.numbers import Units
    from cakewright.reports.running_commission import tuning_sections
    from cakewright.storage.logs import read_shifts
    from cakewright.storage.logs.site_file import read_site
    from cakewright.storage.logs.trial_files import read_results
    from cakewright.study import parse_quantity

    site = read_site(site_file)
    least = parse_quantity(least_capture, "1", bare="%").value
    load = parse_quantity(least_throughput, "kg/s", bare="kg/h").value
    log = read_shifts(store, site.key, site.plan) if store else None
    findings = evaluate_tuning(site, read_results(results), factors, least, load, log)
    sections = tuning_sections(findings, Units(units))
    _write(out, "tuning", "Tuning runs", site.title, sections, units, site.invented)
    saving = findings.best.saving
    click.echo(
        f"saving {1000 * saving.p50:.0f} ({1000 * saving.p10:.0f} to {1000 * saving.p90:.0f}) "
        f"{site.prices.currency}/t dry solids, chance {100 * findings.best.chance_of_saving:.0f} %"
    )
    if findings.weekly_saving is not None:
        week = findings.weekly_saving
        click.echo(
            f"in the coming weeks {week.p50:.0f} ({week.p10:.0f} to {week.p90:.0f}) "
            f"{site.prices.currency} a week"
        )
    click.echo(f"Report: {out / 'tuning.html'} (and PDF)")


@command.command("accept")
@click.argument("samples", type=click.Path(path_type=Path))
@click.option("--protocol", "protocol_file", type=click.Path(path_type=Path), required=True)
@click.option("--title", default="Acceptance test", show_default=True)
@click.option("--invented", is_flag=True, help="Mark the report as invented.")
@click.option(
    "--out", type=click.Path(path_type=Path), default=Path("acceptance-out"), show_default=True
)
@_UNITS
def accept(
    samples: Path, protocol_file: Path, title: str, invented: bool, out: Path, units: str
) -> None:
    """Judge an acceptance test by its protocol: pass, fail or undecided, with the risks."""
    from cakewright.jobs.acceptance import judge_test
    from cakewright.reports.numbers import Units
    from cakewright.reports.running_commission import acceptance_sections
    from cakewright.storage.logs.trial_files import read_protocol, read_runs

    result = judge_test(read_protocol(protocol_file), read_runs(samples))
    sections = acceptance_sections(result, Units(units))
    _write(out, "acceptance", title, samples.stem, sections, units, invented)
    click.echo(f"{result.outcome.value}")
    for one in result.judged:
        told = f"; decided by {one.decided_by}" if one.decided_by else ""
        click.echo(
            f"  {one.guarantee.name}: {one.outcome.value} (truly met with {100 * one.chance:.0f} %)"
            f"{told}"
        )
    for note in result.notes:
        click.echo(f"  {note}")
    click.echo(f"Report: {out / 'acceptance.html'} (and PDF)")


def _write(
    out: Path, name: str, title: str, site: str, sections: object, units: str, invented: bool
) -> None:
    from collections.abc import Sequence

    from cakewright.reports.content import Section
    from cakewright.reports.numbers import Units
    from cakewright.reports.running_pages import sections_page, sections_pdf
    from cakewright.storage.outputs import write_outputs

    chosen: Sequence[Section] = tuple(sections)  # type: ignore[arg-type]
    write_outputs(
        out,
        {
            f"{name}.html": sections_page(title, site, chosen, invented=invented),
            f"{name}.pdf": sections_pdf(title, site, chosen, Units(units), invented=invented),
        },
    )
