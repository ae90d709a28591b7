"""Guarantee sheet and test protocol as documents of their own: HTML and PDF."""

from __future__ import annotations

from collections.abc import Mapping

from cakewright.errors import InfeasibleError
from cakewright.jobs.findings import Findings
from cakewright.jobs.guarantee import GuaranteeFindings, Promised
from cakewright.jobs.pilot_worth import PilotWorth
from cakewright.jobs.protocol import protocol_of, rule_words
from cakewright.reports.book import NOTHING, Book
from cakewright.reports.chapters.guarantee import (
    budget_blocks,
    guarantee_blocks,
    joint_words,
    promise_words,
    quantity_words,
    runs_words,
    terms_blocks,
)
from cakewright.reports.content import (
    Block,
    Cell,
    Column,
    Heading,
    Paragraph,
    Section,
    Table,
)
from cakewright.reports.numbers import Units, shown
from cakewright.reports.pilot_worth import pilot_lines, pilot_section
from cakewright.reports.running_pages import sections_page, sections_pdf
from cakewright.statistics.pass_rule import RuleKind

__all__ = ["guarantee_documents", "promises_text", "protocol_sections", "sheet_sections"]


def guarantee_documents(
    findings: Findings, units: Units = Units.SI, worth: PilotWorth | None = None
) -> Mapping[str, str | bytes]:
    """Sheet and protocol by file name; ``worth`` adds the pilot runs worth making to the sheet."""
    book = Book(findings, units)
    found = _found(findings)
    outputs: dict[str, str | bytes] = {}
    sheet = sheet_sections(book, found)
    sheet += (pilot_section(worth, units),) if worth and worth.trials else ()
    for name, title, sections in (
        ("guarantee", "Guarantee sheet", sheet),
        ("protocol", "Protocol of the guarantee test", protocol_sections(book, found)),
    ):
        words = f"{title}: {findings.title}"
        page = sections_page(words, findings.site, sections, invented=findings.invented)
        outputs[f"{name}.html"] = page
        outputs[f"{name}.pdf"] = sections_pdf(
            words, findings.site, sections, units, invented=findings.invented
        )
    return outputs


def _found(findings: Findings) -> GuaranteeFindings:
    if findings.decide is None:
        raise InfeasibleError("nothing can be promised: no machine was chosen for this study")
    return findings.decide.guarantee


def sheet_sections(book: Book, found: GuaranteeFindings) -> tuple[Section, ...]:
    """Promises first, then what they hold for, then the error budgets."""
    return (
        Section("answer", "What can be promised", guarantee_blocks(book, found, "lead")),
        Section("terms", "Terms", terms_blocks(book, found)),
        Section("budget", "Error of each measured quantity", budget_blocks(book, found)),
    )


def protocol_sections(book: Book, found: GuaranteeFindings) -> tuple[Section, ...]:
    """Values and pass rule, terms, the test step by step, signatures."""
    count = "one" if found.machines == 1 else str(found.machines)
    lead = (
        f"{found.label[:1].upper()}{found.label[1:]}, {count} of frame {found.frame}. The values "
        "are shown together: one that fails fails the test. On what is known today all pass "
        f"together with a chance of {100 * found.joint.passed:.0f} %."
    )
    values = Section(
        "answer",
        "Values to be shown",
        (Paragraph(lead, "lead"), _values(book, found), Paragraph(rule_words(found))),
    )
    steps: list[Block] = []
    for number, part in enumerate(protocol_of(found), start=1):
        mark = f" ({part.mark.value})" if part.mark else ""
        steps.append(Heading(f"{number}  {part.title}{mark}"))
        steps += [Paragraph(f"{number}.{at}  {item}") for at, item in enumerate(part.items, 1)]
    return (
        values,
        Section("terms", "Basis", terms_blocks(book, found)),
        Section("test", "The test", tuple(steps), new_page=True),
        Section("formulas", "Formulas and errors", budget_blocks(book, found)),
        Section("sign", "Signatures", (_signatures(),)),
    )


def _values(book: Book, found: GuaranteeFindings) -> Table:
    kind = found.rule.kind
    own = {
        RuleKind.AS_READ: (),
        RuleKind.GUARD_BAND: ("guard band, about",),
        RuleKind.SEQUENTIAL: ("scatter of a run", "margin", "guard"),
    }[kind]
    columns = (
        Column("quantity", share=1.4),
        Column("promised", align="right", share=1.2),
        Column("common error u_c", align="right", share=1.0),
        *(Column(head, align="right", share=0.9) for head in own),
        Column("measured", align="right", share=1.0),
        Column("passed", share=0.7),
    )

    def row(item: Promised) -> tuple[Cell, ...]:
        error = item.error
        sizes = {
            RuleKind.AS_READ: (),
            RuleKind.GUARD_BAND: (item.guard,),
            RuleKind.SEQUENTIAL: (error.scatter, error.margin, error.guard),
        }[kind]
        return (
            Cell(quantity_words(book, item)),
            Cell(promise_words(book, item, item.offered.value), strong=True),
            Cell(_size(book, item.name, error.common)),
            *(Cell(_size(book, item.name, size)) for size in sizes),
            Cell(),
            Cell(),
        )

    caption = (
        "Measured values are filled in by hand after the test. The file protocol.toml beside this "
        "document holds the same values and the same rule: `cakewright commission accept` judges "
        "by it."
    )
    return Table(columns, tuple(row(item) for item in found.promises), caption)


def _size(book: Book, name: str, width: float) -> str:
    if width == 0.0:
        return NOTHING
    size = abs(shown(name, width, book.units) - shown(name, 0.0, book.units))
    return f"{size:.2g} {book.unit(name)}"


def _signatures() -> Table:
    columns = (
        Column(""),
        Column("name", share=2.0),
        Column("date"),
        Column("signature", share=2.0),
    )
    roles = ("buyer", "supplier", "laboratory", "witness")
    return Table(columns, tuple((Cell(role), Cell(), Cell(), Cell()) for role in roles))


def promises_text(
    findings: Findings, units: Units = Units.SI, worth: PilotWorth | None = None
) -> str:
    """Answers for a terminal: what can be promised, and how many samples prove it."""
    book, found = Book(findings, units), _found(findings)
    chance = 100 * (1.0 - found.supplier_risk)
    lines = [findings.title, f"{found.label}, frame {found.frame} x {found.machines}", ""]
    lines += [joint_words(found), ""]
    lines.append(f"What can be promised at {chance:.3g} % (chance that the whole test passes)")
    for item in found.promises:
        best = item.recommended
        met = f"alone passes {100 * best.passed:.0f} %, truly met {100 * best.met:.0f} %"
        lines.append(f"  {quantity_words(book, item):<18}{promise_words(book, item):<18}{met}")
    asked = [item for item in found.promises if item.asked is not None]
    if asked:
        lines += ["", "Values asked for"]
    for item in asked:
        if item.asked is not None:
            words = promise_words(book, item, item.asked.value)
            lines.append(
                f"  {quantity_words(book, item):<18}{words:<18}met {100 * item.asked.met:.0f} %, "
                f"alone passes {100 * item.asked.passed:.0f} %"
            )
    lines += ["", *_easing_lines(book, found)]
    if found.damages is not None:
        paid = found.damages
        lines += [
            "",
            f"Damages: {paid.expected:.0f} {findings.currency} on average, something is paid with "
            f"{100 * paid.chance:.0f} %",
        ]
    lines += ["", *_proof_lines(book, found)]
    if worth and worth.trials:
        lines += ["", *pilot_lines(worth, units)]
    if findings.invented:
        lines += ["", "This study is invented: no real site, person or price."]
    return "\n".join(lines)


def _easing_lines(book: Book, found: GuaranteeFindings) -> list[str]:
    """The promises that hold the list back most, and what giving way on each buys."""
    by = {item.name: item for item in found.promises}
    lines = ["Giving way on one (to the value that alone passes 99 times in 100)"]
    for one in found.easing[:3]:
        item = by[one.name]
        words = promise_words(book, item, one.value)
        lines.append(
            f"  {quantity_words(book, item):<18}{words:<18}the list passes {100 * one.passed:.0f} %"
            f" (short in {100 * one.blamed:.0f} % of the tests not passed)"
        )
    return lines


def _proof_lines(book: Book, found: GuaranteeFindings) -> list[str]:
    plan = found.plan
    risks = f"{100 * found.supplier_risk:.3g} % and {100 * found.buyer_risk:.3g} %"
    lines = [
        f"How many samples prove it (risks {risks}; runs × samples; the plan has {plan.runs} × "
        f"{plan.samples})"
    ]
    for item in found.promises:
        counts = [
            f"better by {100 * share:.0f} %: {runs_words(number, plan.samples)}"
            for share, number in item.proof[:-1]
        ]
        lines.append(f"  {quantity_words(book, item):<18}{'; '.join(counts)}")
    return lines
