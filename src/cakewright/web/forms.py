"""The table of study keys as fields of a page: what stands there, what would stand in for it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from cakewright.errors import Fault, QuantityError
from cakewright.machines import machine_types
from cakewright.quantities import Basis, Given, house_name
from cakewright.reports.marks import Badge, badge
from cakewright.reports.numbers import Units, quantity_text
from cakewright.storage.store.editing import tables
from cakewright.study import (
    Decimals,
    Field,
    Study,
    class_labels,
    fields,
    origin_kinds,
    questions,
    read_quantity,
    said_as,
)

__all__ = ["Choice", "FieldView", "FormSection", "form_sections", "loose_faults"]

_TITLES = {
    "study": "The study",
    "document": "The document",
    "production": "When sludge arises",
    "duty": "Duty",
    "target": "Targets",
    "outlet": "Where the cake goes",
    "conditioning": "Conditioning",
    "polymer": "Polymer",
    "coagulant": "Coagulant",
    "prices": "Prices",
    "machines": "Kinds and catalogue",
    "bench": "Bench tests",
    "press": "Machine parameters",
    "sampling": "Bands",
    "today": "What sludge costs today",
    "carbon": "Carbon",
    "decision": "How the decision is weighed",
    "guarantee": "Promises and their test",
    "correlation": "What moves together",
}


def _machine_labels() -> dict[str, str]:
    return {kind.value: machine.label for kind, machine in machine_types().items()}


_LABELS: Mapping[str, Callable[[], Mapping[str, str]]] = {
    "sludge.class": class_labels,
    "machines.kinds": _machine_labels,
}
_LONG = ("note", "title")
# Sections so long that what nobody gave is folded away, but for the first few.
_LONG_SECTIONS, _OPEN = ("prices", "carbon", "guarantee", "outlet"), 6


@dataclass(frozen=True, slots=True)
class Choice:
    """One thing a choice offers."""

    value: str
    label: str
    chosen: bool = False


@dataclass(frozen=True, slots=True)
class FieldView:
    """One field: what is written, what stands in when nothing is, and what is wrong with it."""

    place: str
    label: str
    kind: str
    written: str
    placeholder: str
    help: str
    allowed: str
    badge: Badge | None
    given: bool
    echo: str = ""
    basis: str = ""
    note: str = ""
    source: str = ""
    ask: str = ""
    test: str = ""
    choices: tuple[Choice, ...] = ()
    fault: Fault | None = None
    question: str = ""
    unit: str = ""
    long: bool = False

    @property
    def anchor(self) -> str:
        """Key of the field in the page."""
        return "f-" + self.place.replace(".", "-")


@dataclass(frozen=True, slots=True)
class FormSection:
    """A group of fields; ``actions`` are what can be done to it as a whole."""

    key: str
    title: str
    fields: tuple[FieldView, ...]
    actions: tuple[tuple[str, str, str], ...] = ()
    folded: tuple[FieldView, ...] = ()


def form_sections(
    text: str,
    names: Iterable[str],
    study: Study | None,
    faults: Sequence[Fault],
    units: Units,
) -> tuple[FormSection, ...]:
    """The named sections of a study's text, `sludge` once for each sludge.

    Raises
    ------
    InputFileError
        If the text is not TOML.
    """
    form = _Form(tables(text), study, {fault.where: fault for fault in faults}, units)
    found: list[FormSection] = []
    for name in names:
        found += form.sludges() if name == "sludge" else [form.section(name)]
    return tuple(found)


def loose_faults(sections: Iterable[FormSection], faults: Iterable[Fault]) -> tuple[Fault, ...]:
    """Faults that stand beside no field of these sections."""
    shown = {f.place for s in sections for f in (*s.fields, *s.folded) if f.fault is not None}
    return tuple(fault for fault in faults if fault.where not in shown)


class _Form:
    """Fields of one text."""

    def __init__(
        self,
        table: Mapping[str, Any],
        study: Study | None,
        faults: Mapping[str, Fault],
        units: Units,
    ) -> None:
        self.table, self.study, self.faults, self.units = table, study, faults, units
        self.questions = {q.where: q.words for q in questions(study)} if study else {}
        currency = table.get("currency", "EUR")
        self.currency = currency if isinstance(currency, str) else "EUR"
        said = table.get("decimals", "ask")
        self.decimals = Decimals(said) if said in list(Decimals) else Decimals.ASK

    def section(self, name: str) -> FormSection:
        raw = self.table if name == "study" else _dict(self.table.get(name))
        shown = [f for f in fields()[name].values() if f.place != "cakewright"]
        views = [self.field(f, f.place, raw) for f in shown]
        hidden = (
            [v for v in views[_OPEN:] if not (v.given or v.fault)] if name in _LONG_SECTIONS else []
        )
        views = [view for view in views if view not in hidden]
        return FormSection(name, _TITLES.get(name, name), tuple(views), folded=tuple(hidden))

    def sludges(self) -> list[FormSection]:
        raw = self.table.get("sludge")
        sludges = raw if isinstance(raw, list) else []
        found = [self._sludge(number, _dict(each)) for number, each in enumerate(sludges)]
        more = (("add", "sludge", "Add a sludge"),)
        return [*found, FormSection("add-sludge", "", (), more)]

    def _sludge(self, number: int, raw: Mapping[str, Any]) -> FormSection:
        place = f"sludge.{number}"
        title = str(raw.get("name", f"sludge {number + 1}"))[:80]
        from_origin = "origin" in raw
        table = fields()["sludge"]
        pair = ("flow", "total_solids")
        direct = [key for key in pair if not from_origin or key in raw]
        first = ["name", "class", *direct]
        main = [self.field(table[key], f"{place}.{key}", raw) for key in first]
        actions = [("remove", place, "Take this sludge out")]
        if from_origin:
            main += self._origin(f"{place}.origin", _dict(raw["origin"]))
            actions.insert(0, ("remove", f"{place}.origin", "Give flow and solids instead"))
        else:
            actions.insert(0, ("origin", place, "Work the flow out from the wastewater"))
        rest = [key for key in table if key not in (*first, "flow", "total_solids")]
        folded = [self.field(table[key], f"{place}.{key}", raw) for key in rest]
        # What the site gave stands in the open; what nobody gave is folded away.
        open_now = [view for view in folded if view.given or view.fault]
        hidden = [view for view in folded if not (view.given or view.fault)]
        return FormSection(place, title, (*main, *open_now), tuple(actions), tuple(hidden))

    def _origin(self, place: str, raw: Mapping[str, Any]) -> list[FieldView]:
        needs = origin_kinds().get(str(raw.get("kind", "")), ())
        views = []
        for field in fields()["origin"].values():
            wanted = field.key in ("kind", "total_solids", *needs) or field.key in raw
            if wanted or f"{place}.{field.key}" in self.faults:
                views.append(self.field(field, f"{place}.{field.key}", raw))
        return views

    def field(self, field: Field, place: str, raw: Mapping[str, Any]) -> FieldView:
        """View of one key of one table."""
        entry = raw.get(field.key)
        beside = entry if isinstance(entry, dict) else {}
        given = self.study.values.get(place) if self.study else None
        view = FieldView(
            place=place,
            label=_label(field),
            kind=_kind(field),
            written=_written(field, entry),
            placeholder=self._placeholder(field, given),
            help=field.help,
            allowed=_allowed(field, self.currency),
            badge=_badge(field, beside, entry, given),
            given=entry is not None,
            basis=str(beside.get("basis", "")),
            note=str(beside.get("note", "")),
            source=str(beside.get("source", "")),
            ask=field.ask,
            test=field.test,
            choices=_choices(field, entry),
            fault=self.faults.get(place),
            question=self.questions.get(place, ""),
            unit=field.unit.replace("currency", self.currency),
            long=field.key in _LONG,
        )
        return replace(view, echo=self._echo(field, view))

    def _placeholder(self, field: Field, given: Given | None) -> str:
        if given is not None and given.default:
            return given.as_written
        return (field.default or "").replace("currency", self.currency)

    def _echo(self, field: Field, view: FieldView) -> str:
        """What was understood of what is written, where that says more, in both unit systems."""
        text = view.written or view.placeholder
        if field.kind != "quantity" or not text or view.fault:
            return ""
        entry = house_name(field.name)
        try:
            spread = read_quantity(field, text, self.currency, self.decimals)
        except QuantityError:
            return ""
        other = Units.US if entry.shown != entry.shown_us else Units.SI
        if self.units is Units.US:
            told = [quantity_text(field.name, spread.value, other, self.currency)]
        elif not view.written:
            return ""
        else:
            told = [] if _same(spread.understood, text) else [spread.understood]
            told += [quantity_text(field.name, spread.value, other, self.currency)] * (
                other is Units.US
            )
        told += spread.remarks
        return "= " + "; ".join(told) if told else ""


def _same(understood: str, text: str) -> bool:
    return understood.replace(" ", "") == text.replace(" ", "")


def _dict(raw: Any) -> Mapping[str, Any]:
    return raw if isinstance(raw, dict) else {}


def _label(field: Field) -> str:
    words = field.key.replace("_", " ")
    for wrong, right in (("bod", "BOD"), ("tss", "TSS")):
        words = words.replace(wrong, right)
    return "pH" if words == "ph" else words[0].upper() + words[1:]


def _kind(field: Field) -> str:
    free = field.kind == "words" and not field.choices
    return "text" if free or field.kind == "file" else field.kind


def _written(field: Field, entry: Any) -> str:
    """What stands in the text, as it would be typed."""
    if entry is None:
        return ""
    if isinstance(entry, dict):
        if "value" in entry:
            return str(entry["value"])
        triple = [str(entry[key]) for key in ("low", "typical", "high") if key in entry]
        return " .. ".join(triple)
    if isinstance(entry, bool):
        return "true" if entry else "false"
    if isinstance(entry, list):
        return ", ".join(str(word) for word in entry)
    return str(entry)


def _badge(
    field: Field, beside: Mapping[str, Any], entry: Any, given: Given | None
) -> Badge | None:
    if field.kind not in ("quantity", "number"):
        return None
    if given is not None:
        return badge(given.basis, given.mark)
    if entry is None and field.default is None:
        return None
    try:
        return badge(
            Basis(str(beside.get("basis", field.basis.value if entry is None else "assumed")))
        )
    except ValueError:
        return badge(Basis.ASSUMED)


def _allowed(field: Field, currency: str) -> str:
    if not (field.low or field.high) or field.kind not in ("quantity", "number", "integer"):
        return ""
    ends = [text.replace("currency", currency) for text in (field.low, field.high)]
    return f"{ends[0]} to {ends[1]}"


def _choices(field: Field, entry: Any) -> tuple[Choice, ...]:
    if field.kind == "flag":
        default = "yes" if field.default == "true" else "no"
        options = [("", f"{default} (default)"), ("true", "yes"), ("false", "no")]
        written = _written(field, entry)
    elif field.choices:
        labels = _LABELS.get(field.place, dict)()
        options = [(key, labels.get(key, key.replace("_", " "))) for key in field.choices]
        written = _written(field, entry)
        if field.kind == "words":
            chosen = (
                set(entry)
                if isinstance(entry, list) and all(isinstance(x, str) for x in entry)
                else set()
            )
            return tuple(Choice(key, label, key in chosen) for key, label in options)
        if not field.required or entry is None:
            empty = f"{field.default} (default)" if field.default else "choose one"
            options.insert(0, ("", empty))
    else:
        return ()
    known = [key for key, _ in options]
    meant = said_as(field, written) if written and field.choices else ()
    if len(meant) == 1:
        written = meant[0]
    if written and written not in known:
        options.append((written, f"{written[:60]} (not one of these)"))
    return tuple(Choice(key, label, key == written) for key, label in options)


def basis_choices() -> tuple[Choice, ...]:
    """What a value can be based on."""
    from cakewright.reports.marks import BASIS_WORDS

    return tuple(Choice(basis.value, words) for basis, words in BASIS_WORDS.items())
