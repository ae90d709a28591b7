"""`cakewright watch`: operating logs in, a reconciled and explained record out."""

from __future__ import annotations

import re
import time
from pathlib import Path

import click

__all__ = ["command"]


@click.command("watch")
@click.argument("logs", nargs=-1, type=click.Path(path_type=Path))
@click.option(
    "--map",
    "maps",
    multiple=True,
    type=click.Path(path_type=Path),
    help="Column map of the logs; one, or one per log.",
)
@click.option("--site", "site_file", type=click.Path(path_type=Path), help="Site file.")
@click.option(
    "--fleet",
    type=click.Path(path_type=Path),
    help="Start from what presses of this frame showed (`learn pool`).",
)
@click.option(
    "--study", type=click.Path(path_type=Path), help="Start from the press model of this study."
)
@click.option(
    "--sites",
    type=click.Path(path_type=Path),
    help="Instead of LOGS: watch every site in this folder and below.",
)
@click.option("--workers", type=click.IntRange(1, 512), help="Processes for --sites.")
@click.option("--scheduler", help="Address of a Dask scheduler for --sites, like tcp://host:8786.")
@click.option("--store", type=click.Path(path_type=Path), help="Log store [OUT/store].")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    default=Path("watch-out"),
    show_default=True,
    help="Folder for the reports.",
)
@click.option(
    "--fleet-query",
    "query",
    metavar="SQL",
    help="Ask the fleet table of --out (written by --sites), which the query calls shifts.",
)
@click.option("--units", type=click.Choice(["si", "us"]), default="si", show_default=True)
@click.option("--json", "as_json", is_flag=True, help="Print the findings as JSON.")
@click.option(
    "--draft-map",
    "draft",
    type=click.Path(path_type=Path),
    help="Write a first column map for the first log to this file, and stop.",
)
@click.option(
    "--answer",
    "answers",
    multiple=True,
    metavar="TEST=OUTCOME",
    help="Write down what a deciding test showed; the causes are ranked anew.",
)
@click.option(
    "--done",
    "done",
    multiple=True,
    metavar="CAUSE[=WORDS]",
    help="Write down what was put right; the data check it, and it counts from now on.",
)
@click.option(
    "--book",
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    help="Take in what was written on a shift page (its file of entries).",
)
@click.option("--note", "notes", multiple=True, help="Write a line into the site's logbook.")
def command(
    logs: tuple[Path, ...],
    maps: tuple[Path, ...],
    site_file: Path | None,
    fleet: Path | None,
    study: Path | None,
    sites: Path | None,
    workers: int | None,
    scheduler: str | None,
    store: Path | None,
    out: Path,
    units: str,
    as_json: bool,
    draft: Path | None,
    answers: tuple[str, ...],
    done: tuple[str, ...],
    book: Path | None,
    notes: tuple[str, ...],
    query: str | None,
) -> None:
    """Clean, reconcile, watch and explain operating LOGS.

    Without LOGS the store is read again, so that a new report costs no new loading. Nothing is
    ever written to a plant. With --sites every site of a folder is watched: its site.toml names
    maps and logs under [logs].
    """  # fmt: skip
    if query is not None:
        _ask_fleet(out, query)
        return
    if sites is not None:
        if logs or maps or site_file or store or fleet or study or (workers and scheduler):
            raise click.UsageError("--sites goes with --out, --units, --workers or --scheduler")
        _watch_sites(sites, out, units, workers, scheduler)
        return
    if draft is not None:
        _write_draft(logs, draft)
        return
    if site_file is None:
        raise click.UsageError("--site is needed; see docs/howto/more/running for a site file")
    if logs and len(maps) not in (1, len(logs)):
        raise click.UsageError(f"{len(logs)} logs and {len(maps)} maps: give one map or one each")
    start = (fleet, study)
    _write_book(site_file, store or out / "store", answers, done, notes)
    if book is not None:
        _take_book(site_file, store or out / "store", book)
    _watch(logs, maps, site_file, store or out / "store", out, units, as_json, start)


def _take_book(site_file: Path, store: Path, book: Path) -> None:
    """Entries of a shift page into the logbook, each once, all checked before the first."""
    from cakewright.storage.logs.logbook import read_entries, read_logbook, write_entry
    from cakewright.storage.logs.site_file import read_site

    site = read_site(site_file)
    known = {(e.time, e.kind, e.key, e.text) for e in read_logbook(store, site.key)}
    for entry in read_entries(book):
        if (entry.time, entry.kind, entry.key, entry.text) not in known:
            write_entry(store, site.key, entry)


def _ask_fleet(out: Path, query: str) -> None:
    from cakewright.storage.logs.fleet_table import fleet_query

    rows = fleet_query(out / "fleet", query)
    if rows:
        click.echo("\t".join(rows[0]))
    for row in rows:
        click.echo("\t".join(str(value) for value in row.values()))


def _write_book(
    site_file: Path, store: Path, answers: tuple[str, ...], done: tuple[str, ...],
    notes: tuple[str, ...],
) -> None:  # fmt: skip
    """Entries of this call, all checked before the first is written."""
    if not (answers or done or notes):
        return
    from cakewright.storage.logs.logbook import entry_from, write_entry
    from cakewright.storage.logs.site_file import read_site

    now, site = int(time.time()), read_site(site_file)
    entries = []
    for kind, lines in (("answer", answers), ("done", done)):
        for line in lines:
            key, _, text = line.partition("=")
            entries.append(entry_from(kind, key.strip(), text, now))
    entries += [entry_from("note", "", line, now) for line in notes]
    for entry in entries:
        write_entry(store, site.key, entry)


def _write_draft(logs: tuple[Path, ...], draft: Path) -> None:
    import tempfile

    from cakewright.errors import DataError, Fault, OutputError
    from cakewright.storage.bounded import read_apart
    from cakewright.storage.logs import write_column_map
    from cakewright.storage.logs.looking import LEAST, look_over

    if not logs:
        raise click.UsageError("--draft-map needs a log to read the titles from")
    if draft.exists():
        raise OutputError(f"{draft}: is there already; a map is never overwritten")
    with tempfile.TemporaryDirectory(prefix="cakewright-") as scratch:
        key = re.sub(r"[^A-Za-z0-9_.-]+", "-", logs[0].stem)[:60]
        look = read_apart(logs[0].name, look_over, logs[0], key, Path(scratch))
    for note in look.notes:
        click.echo(note)
    for one in look.proposals:
        what = f"{one.key} [{one.unit}]" if one.confidence >= LEAST else "not taken"
        what += " (moisture)" if one.moisture else ""
        click.echo(f"{one.title[:34]:34} {what:28} {100 * one.confidence:3.0f} %  {one.sketch}")
        if one.why:
            click.echo(f"{'':34} {one.why}")
    if not look.draft.columns:
        raise DataError(
            str(logs[0]),
            [Fault("columns", f"titles {', '.join(look.titles[:12])!r}", "titles that name signals",
                   "look whether this row holds the titles; name the columns in a map by hand")],
        )  # fmt: skip
    write_column_map(look.draft, draft)
    click.echo(
        f"{draft}: {len(look.draft.columns)} columns mapped; look at every line above, and at the "
        f"zone: {look.draft.time_zone} is taken."
    )
    left = [one.title for one in look.proposals if one.confidence < LEAST]
    click.echo(f"not mapped: {', '.join(left) or 'none'}")


def _watch(
    logs: tuple[Path, ...], maps: tuple[Path, ...], site_file: Path, store: Path, out: Path,
    units: str, as_json: bool, start: tuple[Path | None, Path | None],
) -> None:  # fmt: skip
    from cakewright.reports.numbers import Units
    from cakewright.reports.running_operator import operator_text
    from cakewright.reports.running_pages import watch_json, watch_outputs
    from cakewright.storage.logs import read_column_map
    from cakewright.storage.logs.site_file import read_site
    from cakewright.storage.logs.watching import slopes_of, watch_logs
    from cakewright.storage.outputs import write_outputs

    begun = time.monotonic()

    def tell(words: str) -> None:
        if time.monotonic() - begun > 2 or "reading" in words:
            click.echo(f"... {words}", err=True)

    site = read_site(site_file)
    each = [read_column_map(path) for path in maps]
    pairs = [([log], each[i] if len(each) > 1 else each[0]) for i, log in enumerate(logs)]
    if len(each) == 1 and logs:
        pairs = [(list(logs), each[0])]
    slopes = slopes_of(site, *start, tell)
    findings, reports = watch_logs(pairs, site, store, int(time.time()), tell, slopes)
    tell("writing reports")
    write_outputs(out, watch_outputs(findings, Units(units)))
    if as_json:
        import json

        click.echo(json.dumps(watch_json(findings), indent=1, ensure_ascii=False))
        return
    click.echo(operator_text(findings))
    for receipt in (receipt for report in reports for receipt in report.receipts):
        click.echo(f"Read: {receipt.text()}")
    click.echo(f"Reports: {out / 'operator.html'}, {out / 'engineer.html'} (and PDF)")


def _watch_sites(
    folder: Path, out: Path, units: str, workers: int | None, scheduler: str | None
) -> None:
    import os
    from functools import partial

    from cakewright.jobs.portfolio import run_tasks
    from cakewright.reports.numbers import Units
    from cakewright.reports.running_pages import watch_outputs
    from cakewright.reports.running_sites import sites_page, sites_text
    from cakewright.storage.logs.many import WatchWork, find_sites
    from cakewright.storage.outputs import write_outputs
    from cakewright.storage.portfolio import dask_executor, process_executor

    tasks, done = find_sites(folder), {}
    work = WatchWork(out.resolve(), int(time.time()), partial(watch_outputs, units=Units(units)))
    count = min(workers or os.cpu_count() or 1, len(tasks))
    start = (lambda: dask_executor(scheduler)) if scheduler else (lambda: process_executor(count))
    for outcome in run_tasks(tasks, work, start):
        done[outcome.key] = outcome
        click.echo(f"... {len(done)} of {len(tasks)}: {outcome.name}", err=True)
    outcomes = [done[task.key] for task in tasks]
    title = f"Presses of {folder.resolve().name}"
    write_outputs(out, {"sites.html": sites_page(outcomes, title, Units(units))})
    click.echo(sites_text(outcomes))
    click.echo(f"Summary: {out / 'sites.html'}; reports in a folder per site")
    if any(outcome.failed for outcome in outcomes):
        raise SystemExit(1)
