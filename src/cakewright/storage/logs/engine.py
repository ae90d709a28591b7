"""The one place that opens the analytical engine, so that its traps are closed everywhere."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import duckdb
import pyarrow as pa

from cakewright.errors import InputFileError

__all__ = ["PARQUET_FAULTS", "connect", "file_name", "quoted"]


# What reading a damaged Parquet file may raise: a name in it that is no text, too.
PARQUET_FAULTS = (pa.ArrowException, OSError, UnicodeDecodeError)


@contextmanager
def connect(
    scratch: Path, *, memory_mb: int = 800, threads: int = 2
) -> Iterator[duckdb.DuckDBPyConnection]:
    """A connection with bounded memory, whose clock is UTC whatever the computer's is.

    Parquet written by others may hold NaN; the engine ignores them unless told, and would then
    skip row groups by their statistics and lose readings.

    Raises
    ------
    InputFileError
        In place of the engine's own error, when a file turns out to be damaged half-way.
    """
    scratch.mkdir(parents=True, exist_ok=True)
    engine = duckdb.connect()
    engine.execute("SET TimeZone='UTC'")
    engine.execute("SET parquet_can_have_nan=true")
    engine.execute(f"SET memory_limit='{int(memory_mb)}MB'")
    engine.execute(f"SET threads={int(threads)}")
    engine.execute(f"SET temp_directory={quoted(str(scratch))}")
    try:
        yield engine
    except (duckdb.Error, pa.ArrowException, UnicodeDecodeError) as error:
        told = str(error).splitlines()[0][:300] if str(error) else type(error).__name__
        raise InputFileError(
            f"a log is damaged, or not what its name says ({told}); take it from its source again"
        ) from error
    finally:
        engine.close()


def quoted(text: str) -> str:
    """A text as an SQL literal."""
    return "'" + text.replace("'", "''") + "'"


def file_name(path: Path) -> str:
    """A path as an SQL literal that means this file and no other: marks of patterns are themselves.

    A second copy of ``log.csv`` is often called ``log[1].csv``.
    """
    return quoted(re.sub(r"[*?\[]", lambda found: f"[{found.group()}]", str(path)))
