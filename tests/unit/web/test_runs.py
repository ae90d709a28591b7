"""Evaluations behind the pages: each text once, and nothing for a text an edit has replaced."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Any

import pytest

from cakewright.errors import InfeasibleError
from cakewright.storage.studies import demo_text
from cakewright.web import evaluator, outcomes
from cakewright.web.runs import Outcome, Runs, Stage


def test_many_who_ask_get_one_evaluation(monkeypatch: pytest.MonkeyPatch) -> None:
    """A text that eight pages ask for at the same moment is worked out once."""
    worked: list[str] = []

    def slow(text: str, *_: Any) -> Outcome:
        worked.append(text)
        time.sleep(0.1)
        return Outcome(problem="none")

    monkeypatch.setattr(evaluator, "outcome_of", slow)
    made = Runs(press=False)
    found: list[Outcome] = []
    ask: Callable[[], None] = lambda: found.append(made.point("a text", {}))  # noqa: E731
    threads = [threading.Thread(target=ask) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert worked == ["a text"]
    assert len(found) == 8


def test_a_failed_evaluation_does_not_bar_the_next(monkeypatch: pytest.MonkeyPatch) -> None:
    """When working a text out fails for one who asked, the next one tries again."""
    tries: list[int] = []

    def once_broken(*_: Any) -> Outcome:
        tries.append(1)
        if len(tries) == 1:
            raise RuntimeError("broken")
        return Outcome(problem="none")

    monkeypatch.setattr(evaluator, "outcome_of", once_broken)
    made = Runs(press=False)
    with pytest.raises(RuntimeError):
        made.point("a text", {})
    assert made.point("a text", {}).problem == "none"


def test_an_edit_gives_up_what_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    """Bands of a text stop at their next step when an edit of its study comes."""
    started, ended = threading.Event(), threading.Event()

    def stepwise(
        _text: str, _files: Any, stage: Stage, _most: int, tell: Callable[[str], None]
    ) -> Outcome:
        started.set()
        try:
            for number in range(400):
                tell(f"step {number}")
                time.sleep(0.01)
        finally:
            ended.set()
        return Outcome(problem="none", stage=stage)

    monkeypatch.setattr(evaluator, "outcome_of", stepwise)
    made = Runs(press=False)
    work = made.work("study", "a text", {}, Stage.BANDS)
    assert started.wait(5)
    made.give_up("study")
    assert ended.wait(2)
    assert work.outcome is None


def test_machine_parameters_of_a_study_are_used(monkeypatch: pytest.MonkeyPatch) -> None:
    """The machine parameters a study names reach its evaluation."""
    given: dict[str, Any] = {}

    def seen(*_: Any, **words: Any) -> Any:
        given.update(words)
        raise InfeasibleError("seen")

    monkeypatch.setattr(outcomes, "evaluate", seen)
    monkeypatch.setattr(outcomes, "fitted_of", lambda _, folder: (folder / "p.toml").read_text())
    text = demo_text("soy") + '\n[press]\nparameters = "p.toml"\n'
    assert Runs(press=False).point(text, {"p.toml": b"narrowed"}).problem == "seen"
    assert given["fitted"] == "narrowed"
