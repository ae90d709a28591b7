"""A study in hand: read it, change an input, evaluate it again."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from cakewright.front.tables import Table, table_of
from cakewright.reports.numbers import Units, shown, shown_unit, unit_text
from cakewright.storage.evaluation import evaluate_study
from cakewright.storage.store.editing import Edit, apply_edits
from cakewright.storage.studies import demo_text, write_new_file
from cakewright.storage.texts import read_text
from cakewright.study import parse_study, render_template
from cakewright.study.model import Study as ReadStudy

if TYPE_CHECKING:
    from cakewright.front.results import Result

__all__ = ["Study", "demo_study", "new_study", "read_study"]


def _quiet(_: str) -> None:
    return None


@dataclass(frozen=True, slots=True, repr=False)
class Study:
    """One site's case as written, and as read.

    Attributes
    ----------
    text : str
        The study file, comments and all.
    folder : Path
        Where the files that the study names lie.
    """

    text: str
    folder: Path = field(default_factory=Path)
    name: str = "study"

    @property
    def read(self) -> ReadStudy:
        """The study read: values in SI with their basis.

        Raises
        ------
        StudyError
            With every fault at once: place, what was got, what is allowed, what to try.
        """
        return parse_study(self.text, self.name)

    @property
    def title(self) -> str:
        """The study's title."""
        return self.read.word("title")

    @property
    def inputs(self) -> Table:
        """Every input with value, unit, basis and mark, defaults included."""
        rows = [
            (
                place,
                shown(g.name, g.value, Units.SI),
                unit_text(shown_unit(g.name, Units.SI)),
                g.basis.value,
                g.mark.value,
                g.default,
            )
            for place, g in self.read.values.items()
        ]
        return table_of(("input", "value", "unit", "basis", "mark", "default"), rows)

    def with_inputs(self, changes: Mapping[str, object]) -> Study:
        """Another study with inputs changed, each as people write it.

        Parameters
        ----------
        changes : mapping of str to object
            Place (``"duty.hours_per_day"``, ``"sludge.0.flow"``) to what would be typed there:
            a text with a unit or a bare number in the key's own unit; empty takes it out.

        Raises
        ------
        UnknownNameError
            If a place does not exist; names the nearest one.
        StudyError
            If the changed study has faults.

        Examples
        --------
        >>> demo_study("soy").with_inputs({"duty.hours_per_day": "12 h/d"}).title
        'Dewatering line for a soy-drink and tofu works'
        """
        edits = [Edit(place, _typed(value)) for place, value in changes.items()]
        changed = Study(apply_edits(self.text, edits), self.folder, self.name)
        parse_study(changed.text, changed.name)
        return changed

    def evaluate(
        self,
        *,
        samples: int | None = None,
        seed: int | None = None,
        weeks: int = 0,
        press: bool | None = None,
        progress: Callable[[str], None] = _quiet,
    ) -> Result:
        """The line that is chosen, sized, balanced and compared; see `cakewright.evaluate`."""
        from cakewright.front.results import Result

        findings = evaluate_study(
            self.read,
            self.folder,
            progress,
            samples=samples,
            seed=seed,
            weeks=weeks,
            with_press=press,
        )
        return Result(findings)

    def write(self, path: Path | str, *, replace: bool = False) -> Path:
        """Write the study file; an existing one only when told to replace it."""
        place = Path(path)
        write_new_file(place, self.text, replace=replace)
        return place

    def __repr__(self) -> str:
        study = self.read
        given = sum(not g.default for g in study.values.values())
        title = study.word("title") or self.name
        return f"<study {title!r}: {study.sludges} sludges, {given} inputs given>"


def _typed(value: object) -> str:
    """What would be typed; a number never looks like one with a mark between its thousands."""
    text = str(value)
    return f"{text}0" if isinstance(value, float) and re.fullmatch(r"-?\d+\.\d{3}", text) else text


def read_study(path: Path | str) -> Study:
    """The study of a file.

    Raises
    ------
    InputFileError
        If the file cannot be read as text.
    StudyError
        With every fault of the study.
    """
    place = Path(path)
    study = Study(read_text(place), place.resolve().parent, place.name)
    parse_study(study.text, study.name)
    return study


def demo_study(name: str = "soy") -> Study:
    """One of the invented demonstrations: soy, valley, reservoir.

    Raises
    ------
    InputFileError
        If there is no such demonstration.
    """
    return Study(demo_text(name), Path(), f"{name}.toml")


def new_study() -> Study:
    """The commented study that `cakewright new` writes, to fill in with `with_inputs`."""
    return Study(render_template())
