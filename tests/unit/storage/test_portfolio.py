"""Workers of a portfolio: what is said where a cluster cannot be used."""

from __future__ import annotations

import sys

import pytest

from cakewright.errors import InputFileError
from cakewright.storage.portfolio import dask_executor


def test_without_the_engine_the_extra_to_install_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    """A scheduler without Dask distributed: which extra brings it."""
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(InputFileError, match=r"pip install cakewright\[cluster\]"):
        dask_executor("tcp://127.0.0.1:8786")


def test_an_address_that_is_none_is_named() -> None:
    """No scheme that can be dialled: the address and how one looks."""
    with pytest.raises(InputFileError, match="like tcp://host:8786"):
        dask_executor("nowhere://x")
