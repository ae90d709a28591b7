"""Workers of a portfolio: what is said where a cluster cannot be used."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from cakewright.errors import InputFileError
from cakewright.jobs.portfolio import Outcome, Task
from cakewright.storage.portfolio import dask_executor, kept_outcomes


def test_without_the_engine_the_extra_to_install_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    """A scheduler without Dask distributed: which extra brings it."""
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(InputFileError, match=r"pip install cakewright\[cluster\]"):
        dask_executor("tcp://127.0.0.1:8786")


def test_an_address_that_is_none_is_named() -> None:
    """No scheme that can be dialled: the address and how one looks."""
    with pytest.raises(InputFileError, match="like tcp://host:8786"):
        dask_executor("nowhere://x")


@pytest.mark.parametrize("damage", ["", "{", "half", "bit"])
def test_a_damaged_kept_result_is_worked_out_again(tmp_path: Path, damage: str) -> None:
    """Empty, cut off or changed: what is kept counts only with the hash it was kept with."""
    from cakewright.storage import portfolio

    task = Task("a", "0" * 32, str(tmp_path / "a.toml"), None)
    portfolio._keep(tmp_path, Outcome("a", task.key, study={"x": 1.0}))
    assert set(kept_outcomes(tmp_path, [task])) == {task.key}
    path = tmp_path / "studies" / f"{task.key}.json"
    text = path.read_text(encoding="utf-8")
    changed = {"half": text[: len(text) // 2], "bit": text.replace("1.0", "2.0")}
    path.write_text(changed.get(damage, damage), encoding="utf-8")
    assert kept_outcomes(tmp_path, [task]) == {}
