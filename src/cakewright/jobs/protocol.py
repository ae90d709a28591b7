"""The test that can prove a promise, written out for both parties to sign."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

from cakewright.jobs.guarantee import GuaranteeFindings
from cakewright.machines.piece import line_piece
from cakewright.quantities import Mark
from cakewright.quantities.constants import HOUR, MINUTE
from cakewright.quantities.tables import packaged_table
from cakewright.statistics.pass_rule import RuleKind

__all__ = ["ProtocolSection", "protocol_of", "rule_words"]


@dataclass(frozen=True, slots=True)
class ProtocolSection:
    """One part of the protocol, with where its practice comes from."""

    title: str
    items: tuple[str, ...]
    source: str
    mark: Mark


@cache
def _sections() -> tuple[dict[str, Any], ...]:
    return tuple(packaged_table("cakewright.jobs", "data", "protocol.toml")["section"])


def protocol_of(found: GuaranteeFindings) -> tuple[ProtocolSection, ...]:
    """Every part, with the study's numbers in it."""
    plan, piece = found.plan, line_piece(found.machine)
    words = {
        "machine": piece.test["caution"],
        "tune": piece.test["tune"],
        "steady": piece.test["steady"],
        "liquor": piece.liquor,
        "runs": "One run" if plan.runs == 1 else str(plan.runs),
        "hours": f"{plan.run_time / HOUR:g}",
        "samples": str(plan.samples),
        "interval": f"{plan.interval / MINUTE:.0f}",
        "replicates": str(plan.replicates),
        "laboratories": "one laboratory"
        if plan.laboratories == 1
        else f"{plan.laboratories} laboratories",
    }
    return tuple(
        ProtocolSection(
            row["title"],
            tuple(item.format(**words) for item in row["items"]),
            row["source"],
            Mark(row["mark"]),
        )
        for row in _sections()
    )


def rule_words(found: GuaranteeFindings) -> str:
    """The pass rule in words, the same as the file of the rule says to the program."""
    rule = found.rule
    runs = "one valid run" if rule.runs == 1 else f"{rule.runs} valid runs"
    end = (
        "The test is passed when every value passes; it is failed when one fails. On fewer valid "
        f"runs than {rule.runs} there is no verdict, neither way."
    )
    return f"{_KIND_WORDS[rule.kind](found, runs)} {end}"


def _as_read(_: GuaranteeFindings, runs: str) -> str:
    return (
        f"A value passes if its mean over {runs}, as read, keeps the promise, and fails if not. "
        "Test error is shared: a machine exactly on a promise passes it one time in two."
    )


def _guard_band(found: GuaranteeFindings, runs: str) -> str:
    buyer, supplier = (100 * x for x in (found.buyer_risk, found.supplier_risk))
    return (
        f"A value passes if its mean over {runs} keeps the promise by t times its standard "
        f"uncertainty u, and fails if it misses it by as much; t is Student's one-sided quantile "
        f"at {buyer:.3g} % for a pass and {supplier:.3g} % for a fail, u² = s²/n + u_c² with the "
        "scatter s of the n runs and the common uncertainty u_c given for the value. Between the "
        "two the test does not decide: further runs are made as both parties agree, and all runs "
        "are judged together."
    )


def _sequential(found: GuaranteeFindings, runs: str) -> str:
    rule = found.rule
    buyer, supplier = (100 * x for x in (found.buyer_risk, found.supplier_risk))
    return (
        f"Values are judged after {runs} and again after each further one, {rule.longest} at "
        "most, by the lines of the sequential test given for each value: above the upper line it "
        "passes, below the lower one it fails, and after the last run the middle line decides. A "
        f"machine exactly on a promise passes it {buyer:.3g} times in 100, one better by the "
        f"margin given fails it {supplier:.3g} times in 100 or less."
    )


_KIND_WORDS = {
    RuleKind.AS_READ: _as_read,
    RuleKind.GUARD_BAND: _guard_band,
    RuleKind.SEQUENTIAL: _sequential,
}
