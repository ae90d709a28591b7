"""`cakewright offers`: bids brought to one basis."""

from __future__ import annotations

from pathlib import Path

import click

__all__ = ["command"]


@click.command("offers")
@click.argument("files", type=click.Path(path_type=Path), nargs=-1)
@click.option(
    "--study",
    type=click.Path(path_type=Path),
    help="The study that bid forms (XLSX) answer to.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("cakewright-offers"),
    show_default=True,
    help="Folder for the comparison.",
)
@click.option("--units", type=click.Choice(("si", "us")), default="si", show_default=True)
@click.option("--json", "as_json", is_flag=True, help="Print the comparison as JSON.")
def command(
    files: tuple[Path, ...], study: Path | None, out: Path, units: str, as_json: bool
) -> None:
    """Bring offers to the sludge and the prices of one study.

    FILES are filled-in bid forms of `cakewright dossier` with --study, or one TOML file with
    `study = "..."` and one [[offer]] per bid; without any the invented offers of the soy
    demonstration are compared. Exit code 4 if not one offer can be compared.
    """
    from cakewright.errors import InfeasibleError
    from cakewright.reports.numbers import Units
    from cakewright.reports.offers_page import offers_documents, offers_text
    from cakewright.storage.bid_forms import bids_compared
    from cakewright.storage.offers import compared_file, demo_offers
    from cakewright.storage.outputs import write_outputs

    if study is not None:
        if not files:
            raise click.UsageError("--study goes with one or more filled-in bid forms")
        findings = bids_compared(study, files)
    elif len(files) > 1:
        raise click.UsageError("several files are bid forms: name their study with --study")
    else:
        findings = compared_file(files[0]) if files else demo_offers()
    if not any(offer.comparable for offer in findings.offers):
        reasons = "; ".join(f"{o.name}: {', '.join(o.notes)}" for o in findings.offers)
        raise InfeasibleError(f"not one offer can be compared ({reasons})")
    chosen = Units(units)
    outputs = offers_documents(findings, chosen)
    write_outputs(out, outputs)
    if as_json:
        click.echo(outputs["offers.json"])
        return
    click.echo(offers_text(findings, chosen))
    click.echo(f"\nComparison: {out / 'offers.html'} (also PDF and JSON)")
