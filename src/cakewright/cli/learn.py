"""`cakewright learn`: carry a site's log into what the next study of that frame starts from."""

from __future__ import annotations

from pathlib import Path

import click

__all__ = ["command"]


@click.group("learn")
def command() -> None:
    """Pool what presses of one frame showed, without the names of their sites."""


@command.command("contribute")
@click.option("--site", "site_file", type=click.Path(path_type=Path), required=True)
@click.option("--store", type=click.Path(path_type=Path), required=True, help="Log store.")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    default=Path("contribution"),
    show_default=True,
    help="Folder for the file.",
)
def contribute(site_file: Path, store: Path, out: Path) -> None:
    """Write what one site's log says of its frame; nothing in it names the site."""  # fmt: skip
    from cakewright.jobs.learn import learn_site
    from cakewright.storage.logs import read_shifts
    from cakewright.storage.logs.site_file import read_site
    from cakewright.storage.logs.trial_files import render_contribution
    from cakewright.storage.outputs import write_outputs

    site = read_site(site_file)
    one = learn_site(read_shifts(store, site.key, site.plan), site)
    name = f"contribution-{one.token}.json"
    write_outputs(out, {name: render_contribution(one)})
    click.echo(f"{out / name}: {len(one.parameters)} parameters from {one.shifts} shifts")


@command.command("pool")
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), default=Path("fleet"), show_default=True)
def pool(files: tuple[Path, ...], out: Path) -> None:
    """Pool contributions of one frame (three sites or more)."""
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
