"""`cakewright guarantee`: what can be promised, and what proves it."""

from __future__ import annotations

from pathlib import Path

import click

__all__ = ["command"]


@click.command("guarantee")
@click.argument("study", type=click.Path(path_type=Path), required=False)
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("cakewright-guarantee"),
    show_default=True,
    help="Folder for the guarantee sheet and the test protocol.",
)
@click.option("--demo", type=click.Choice(("soy", "valley", "reservoir")), help="A demonstration.")
@click.option("--units", type=click.Choice(("si", "us")), default="si", show_default=True)
@click.option(
    "--chance",
    type=click.FloatRange(51.0, 99.9),
    help="Chance in percent that the whole test passes, instead of the study's supplier's risk.",
)
@click.option("--samples", type=click.IntRange(0, 1_000_000), help="Instead of the study's.")
@click.option("--seed", type=click.IntRange(0), help="Instead of the study's.")
@click.option("--json", "as_json", is_flag=True, help="Print the promises as JSON.")
def command(
    study: Path | None,
    out: Path,
    demo: str | None,
    units: str,
    chance: float | None,
    samples: int | None,
    seed: int | None,
    as_json: bool,
) -> None:
    """What can be promised for the chosen machine of STUDY, and how many samples prove it.

    The chance that all promises hold together comes first. Writes a guarantee sheet and a test
    protocol to sign (HTML and PDF), and protocol.toml, the same rule as a file that
    `cakewright commission accept` judges by. For a screw press without
    parameters from trial runs it also says which pilot run would let more be promised.
    """
    from cakewright.reports.guarantee_documents import guarantee_documents, promises_text
    from cakewright.reports.guarantee_json import promises_json
    from cakewright.reports.numbers import Units
    from cakewright.storage.deciding import decided_file, pilot_worth_file
    from cakewright.storage.logs.trial_files import rule_file
    from cakewright.storage.outputs import write_outputs

    if study and demo:
        raise click.UsageError("give a study or --demo, not both")
    findings = decided_file(
        study,
        demo or "soy",
        samples=samples,
        seed=seed,
        values={} if chance is None else {"guarantee.supplier_risk": 1.0 - chance / 100.0},
    )
    chosen = Units(units)
    worth = pilot_worth_file(study, demo or "soy", findings)
    outputs = {
        **guarantee_documents(findings, chosen, worth),
        "guarantee.json": promises_json(findings, worth),
        "protocol.toml": rule_file(findings),
    }
    write_outputs(out, outputs)
    if as_json:
        click.echo(outputs["guarantee.json"])
        return
    click.echo(promises_text(findings, chosen, worth))
    sheet, protocol = out / "guarantee.html", out / "protocol.html"
    click.echo(f"\nSheet: {sheet}. Protocol to sign: {protocol}. Both also as PDF.")
    click.echo(f"The same rule for `cakewright commission accept`: {out / 'protocol.toml'}.")
