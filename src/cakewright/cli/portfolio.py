"""`cakewright portfolio`: a whole folder of studies at once."""

from __future__ import annotations

import os
import time
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from cakewright.jobs.portfolio import Outcome

__all__ = ["command"]

_TELL_EVERY = 2.0


@click.command("portfolio")
@click.argument("folder", type=click.Path(path_type=Path))
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("cakewright-portfolio"),
    show_default=True,
    help="Folder for the tables and the summary; an earlier run there is taken up again.",
)
@click.option("--workers", type=click.IntRange(1, 512), help="Processes; one per processor if not.")
@click.option("--scheduler", help="Address of a running Dask scheduler, like tcp://host:8786.")
@click.option("--samples", type=click.IntRange(0, 1_000_000), help="Instead of each study's own.")
@click.option("--units", type=click.Choice(("si", "us")), default="si", show_default=True)
def command(
    folder: Path,
    out: Path,
    workers: int | None,
    scheduler: str | None,
    samples: int | None,
    units: str,
) -> None:
    """Evaluate every study in FOLDER and below, and summarise them.

    Studies already evaluated into the same folder are not done again unless they changed. One
    study that fails does not stop the others; the exit code is 1 if any failed.
    """
    from cakewright.reports.numbers import Units
    from cakewright.reports.portfolio_summary import portfolio_page, portfolio_text
    from cakewright.storage.outputs import write_outputs
    from cakewright.storage.portfolio import (
        dask_executor,
        evaluate_tasks,
        find_tasks,
        kept_outcomes,
        process_executor,
        write_tables,
    )

    if workers and scheduler:
        raise click.UsageError("give --workers or --scheduler, not both")
    tasks = find_tasks(folder, samples)
    count = min(workers or os.cpu_count() or 1, len(tasks))
    progress = _Progress(len(tasks), len(kept_outcomes(out, tasks)))
    outcomes = evaluate_tasks(
        tasks,
        out,
        lambda: dask_executor(scheduler) if scheduler else process_executor(count),
        progress.tell,
    )
    title = f"Portfolio of {folder.resolve().name}"
    page = portfolio_page(outcomes, title, Units(units))
    write_outputs(out, {**write_tables(outcomes), "summary.html": page})
    click.echo(portfolio_text(outcomes))
    click.echo(f"\nSummary: {out / 'summary.html'}; tables: studies, figures, options (.parquet)")
    if any(outcome.failed for outcome in outcomes):
        raise SystemExit(1)


class _Progress:
    """How many are done, on standard error, at most every other second."""

    def __init__(self, total: int, kept: int) -> None:
        self.total, self.done, self.kept = total, kept, kept
        self.last = time.monotonic()
        if kept:
            click.echo(f"... {kept} of {total} kept from before", err=True)

    def tell(self, outcome: Outcome) -> None:
        """One more study is done."""
        self.done += 1
        if outcome.failed:
            click.echo(f"... {outcome.name} failed", err=True)
        if time.monotonic() - self.last > _TELL_EVERY or self.done == self.total:
            self.last = time.monotonic()
            click.echo(f"... {self.done} of {self.total}", err=True)
