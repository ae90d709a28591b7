"""`cakewright learn`: carry a site's log into what the next study of that frame starts from."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click

__all__ = ["command"]

_FILE = click.Path(path_type=Path)


@click.group("learn")
def command() -> None:
    """Pool what presses of one frame showed, without the names of their sites."""


@command.command("contribute")
@click.option("--site", "site_file", type=_FILE, help="Site file.")
@click.option("--store", type=_FILE, help="Log store of the watch.")
@click.option(
    "--press",
    "press_file",
    type=_FILE,
    help="press-parameters.toml of this site, from `cakewright calibrate`.",
)
@click.option("--fleet", "fleet_file", type=_FILE, help="Fleet file that helps to find drifts.")
@click.option(
    "--out",
    type=_FILE,
    default=Path("contribution"),
    show_default=True,
    help="Folder for the files.",
)
def contribute(
    site_file: Path | None,
    store: Path | None,
    press_file: Path | None,
    fleet_file: Path | None,
    out: Path,
) -> None:
    """Write what one site says of its frame; nothing in it names the site.

    From its log (--site and --store), from its trial runs (--press), or both.
    """  # fmt: skip
    if press_file is None and (site_file is None or store is None):
        raise click.UsageError("give --site with --store, or --press, or all three")
    if site_file is not None and store is not None:
        _from_log(site_file, store, fleet_file, out)
    if press_file is not None:
        _from_press(press_file, out)


def _from_log(site_file: Path, store: Path, fleet_file: Path | None, out: Path) -> None:
    from cakewright.jobs.learn import learn_site
    from cakewright.storage.logs import read_shifts
    from cakewright.storage.logs.site_file import read_site
    from cakewright.storage.logs.trial_files import read_fleet, render_contribution
    from cakewright.storage.outputs import write_outputs

    site = read_site(site_file)
    slopes = read_fleet(fleet_file) if fleet_file else None
    one = learn_site(read_shifts(store, site.key, site.plan), site, slopes)
    name = f"contribution-{one.token}.json"
    write_outputs(out, {name: render_contribution(one)})
    click.echo(f"{out / name}: {len(one.parameters)} parameters from {one.shifts} shifts")


def _from_press(press_file: Path, out: Path) -> None:
    from cakewright.jobs.learn_press import press_contribution
    from cakewright.storage.outputs import write_outputs
    from cakewright.storage.press_fleet import render_press_contribution
    from cakewright.storage.press_parameters import read_press_parameters

    one = press_contribution(read_press_parameters(press_file))
    name = f"press-contribution-{one.token}.json"
    write_outputs(out, {name: render_press_contribution(one)})
    click.echo(f"{out / name}: {len(one.names)} parameters from {one.runs} runs")


@command.command("pool")
@click.argument("files", nargs=-1, required=True, type=_FILE)
@click.option("--out", type=_FILE, default=Path("fleet"), show_default=True)
def pool(files: tuple[Path, ...], out: Path) -> None:
    """Pool contributions of one frame (three sites or more).

    Logs give fleet.json, which `watch --fleet` starts from; trial runs give fleet-press.toml,
    which a study names as [press] parameters.
    """
    from cakewright.storage.press_fleet import PRESS_KIND, kind_of_file

    presses = [path for path in files if kind_of_file(path) == PRESS_KIND]
    logs = [path for path in files if path not in presses]
    if logs:
        _pool_logs(logs, out)
    if presses:
        _pool_presses(presses, out)


def _pool_logs(files: Sequence[Path], out: Path) -> None:
    from cakewright.jobs.learn import learn_fleet
    from cakewright.storage.logs.trial_files import read_contribution, render_fleet
    from cakewright.storage.outputs import write_outputs

    prior = learn_fleet([read_contribution(path) for path in files])
    write_outputs(out, {"fleet.json": render_fleet(prior)})
    click.echo(f"{out / 'fleet.json'}: {prior.sites} sites of frame {prior.frame}")
    for name, one in prior.parameters.items():
        click.echo(
            f"  {name:32} {one.mean:+.3f} ± {one.error:.3f}, between sites {one.between:.3f}"
        )


def _pool_presses(files: Sequence[Path], out: Path) -> None:
    from cakewright.jobs.learn_press import learn_presses
    from cakewright.storage.outputs import write_outputs
    from cakewright.storage.press_fleet import read_press_contribution
    from cakewright.storage.press_parameters import press_parameters_toml

    found = learn_presses([read_press_contribution(path) for path in files])
    fitted = found.fitted
    write_outputs(out, {"fleet-press.toml": press_parameters_toml(fitted)})
    click.echo(f"{out / 'fleet-press.toml'}: {found.sites} sites of frame {fitted.frame}")
    for i, name in enumerate(fitted.names):
        left = fitted.covariance[i, i] ** 0.5 / found.before[i]
        click.echo(f"  {name:20} {100 * left:.0f} % of the class spread left for a new press")


@command.command("sites")
@click.argument("folder", type=_FILE)
@click.option("--watched", type=_FILE, required=True, help="Where `watch --sites` put its reports.")
@click.option("--out", type=_FILE, default=Path("fleet"), show_default=True)
def sites(folder: Path, watched: Path, out: Path) -> None:
    """Pool every watched site of FOLDER by frame, without names; one fleet file per frame."""
    import re

    from cakewright.storage.logs.many import find_sites, learn_sites
    from cakewright.storage.logs.trial_files import render_fleet
    from cakewright.storage.outputs import write_outputs

    fleets, left = learn_sites(find_sites(folder), watched)
    for name, why in left.items():
        click.echo(f"left out: {name}: {why}", err=True)
    if not fleets:
        raise SystemExit(1)
    for frame, prior in fleets.items():
        name = f"fleet-{re.sub(r'[^A-Za-z0-9]+', '-', frame).strip('-')}.json"
        write_outputs(out, {name: render_fleet(prior)})
        click.echo(f"{out / name}: {prior.sites} sites of frame {frame}")
