"""`cakewright evaluate`: the main job."""

from __future__ import annotations

import time
from pathlib import Path

import click

__all__ = ["command"]

_QUIET_SECONDS = 2.0
# Exit status where no kind meets everything: the one of an infeasible study.
NEAREST = 4


@click.command("evaluate")
@click.argument("study", type=click.Path(path_type=Path), required=False)
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("cakewright-out"),
    show_default=True,
    help="Folder for the report, workbook, findings and drawings.",
)
@click.option("--demo", type=click.Choice(("soy", "valley", "reservoir")), help="A demonstration.")
@click.option("--units", type=click.Choice(("si", "us")), default="si", show_default=True)
@click.option("--samples", type=click.IntRange(0, 1_000_000), help="Instead of the study's.")
@click.option("--seed", type=click.IntRange(0), help="Instead of the study's.")
@click.option(
    "--weeks",
    type=click.IntRange(0, 10_000),
    default=0,
    help="Play this many random weeks of the line, as designed and in four bad scenarios.",
)
@click.option(
    "--press/--no-press",
    default=None,
    help="Press physics: by itself with a sludge law; by the class prior only when asked.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the findings as JSON.")
def command(
    study: Path | None,
    out: Path,
    demo: str | None,
    units: str,
    samples: int | None,
    seed: int | None,
    weeks: int,
    press: bool | None,
    as_json: bool,
) -> None:
    """Choose, size, balance, compare and report one site's dewatering line.

    STUDY is a study file; without it the soy demonstration is evaluated.
    """
    from cakewright.cli.second_process import second_process

    if study and demo:
        raise click.UsageError("give a study or --demo, not both")
    progress = _Progress()
    with second_process() as beside:
        from cakewright.reports.headline import headline_text
        from cakewright.reports.numbers import Units
        from cakewright.reports.outputs import rendered_outputs
        from cakewright.storage.evaluation import evaluate_file
        from cakewright.storage.outputs import write_outputs

        findings = evaluate_file(
            study,
            demo or "soy",
            progress.tell,
            samples=samples,
            seed=seed,
            weeks=weeks,
            with_press=press,
        )
        chosen = Units(units)
        progress.tell("writing the report")
        outputs = rendered_outputs(findings, chosen, beside.write if beside else None)
    write_outputs(out, outputs)
    _ask(findings.study_text)
    if as_json:
        click.echo(outputs["findings.json"])
    else:
        click.echo(headline_text(findings, chosen))
        click.echo(
            f"\nReport: {out / 'report.html'} (also report.pdf with its annexes, workbook.xlsx, "
            "findings.json, drawings)"
        )
    if not findings.decision.meets:
        # The nearest answer is written and shown; the exit status says that it is not an answer.
        raise SystemExit(NEAREST)


def _ask(text: str) -> None:
    """What is unusual among the inputs, on standard error."""
    from cakewright.study import parse_study, questions

    for one in questions(parse_study(text)) if text else ():
        click.echo(f"is it right? {one}", err=True)


class _Progress:
    """Says on standard error what takes long; silent when it is quick."""

    def __init__(self) -> None:
        self.start = time.monotonic()

    def tell(self, doing: str) -> None:
        """One line per step once two seconds have passed."""
        if time.monotonic() - self.start > _QUIET_SECONDS:
            click.echo(f"... {doing}", err=True)
