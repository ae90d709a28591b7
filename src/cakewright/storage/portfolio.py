"""A folder of studies: found, evaluated by workers, results kept as Parquet and taken up again.

A study's result is kept under a hash of its text, of the files it names, and of the program, so
that only what changed is worked out again.
"""

from __future__ import annotations

import hashlib
import json
import os
import secrets
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor
from dataclasses import asdict
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from cakewright.errors import CakewrightError, InputFileError, OutputError
from cakewright.jobs.portfolio import Outcome, Task, outcome_of, run_tasks
from cakewright.storage.bounded import end_with_parent
from cakewright.storage.bug_report import bug_words
from cakewright.storage.exchange import sync_folder
from cakewright.storage.texts import read_text
from cakewright.storage.turns import alone_on
from cakewright.version import __version__

__all__ = [
    "dask_executor",
    "evaluate_task",
    "evaluate_tasks",
    "find_tasks",
    "kept_outcomes",
    "process_executor",
    "write_tables",
]

_KEPT = "studies"


def find_tasks(folder: Path, samples: int | None = None) -> list[Task]:
    """Every study of a folder and below, in order of name.

    Raises
    ------
    InputFileError
        If it is no folder or holds no study.
    """
    if not folder.is_dir():
        raise InputFileError(f"{folder}: not a folder; name the folder that holds the studies")
    paths = [path for path in sorted(folder.rglob("*.toml")) if _is_study(path)]
    if not paths:
        raise InputFileError(
            f"{folder}: holds no study (a .toml file with a line `cakewright = 1`); start one with "
            "`cakewright new`"
        )
    return [_task(folder, path, samples) for path in paths]


def _is_study(path: Path) -> bool:
    """A file that means to be a study, whether or not it reads as one."""
    if not path.is_file() or path.name.startswith("."):
        return False
    with path.open("rb") as file:
        head = file.read(200_000)
    return any(
        line.split(b"=")[0].strip() == b"cakewright" and b"=" in line for line in head.splitlines()
    )


def _task(folder: Path, path: Path, samples: int | None) -> Task:
    found = hashlib.sha256(f"{__version__}|{samples}|".encode())
    found.update(path.read_bytes())
    for other in _named_files(path):
        found.update(other.name.encode() + other.read_bytes())
    name = path.relative_to(folder).with_suffix("").as_posix()
    return Task(name, found.hexdigest()[:32], str(path.resolve()), samples)


def _named_files(path: Path) -> list[Path]:
    """Files beside a study whose name stands in its text: what its result may depend on."""
    try:
        text = read_text(path)
    except CakewrightError:
        return []
    beside = (other for other in sorted(path.parent.iterdir()) if other.is_file())
    return [other for other in beside if other != path and f'"{other.name}"' in text]


def evaluate_task(task: Task) -> Outcome:
    """One study in a worker; its faults come back as words."""
    from cakewright.storage.deciding import decided_file

    try:
        return outcome_of(task, decided_file(Path(task.path), samples=task.samples))
    except CakewrightError as error:
        return Outcome(task.name, task.key, failed=str(error))
    except Exception as error:
        # One study's bug must not end the portfolio of all others.
        return Outcome(task.name, task.key, failed=bug_words(error))


def process_executor(workers: int) -> Executor:
    """Processes on this machine; started afresh, so that no thread's state is copied."""
    return ProcessPoolExecutor(workers, mp_context=get_context("spawn"), initializer=_one_thread)


def _one_thread() -> None:
    """One study a process: more threads in each would only fight for the same processors."""
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    end_with_parent()


def dask_executor(address: str) -> Executor:
    """Workers of a Dask cluster that is already running.

    Raises
    ------
    InputFileError
        If Dask is not installed or nothing answers at the address.
    """
    try:
        from distributed import Client
    except ImportError as error:
        raise InputFileError(
            "a scheduler needs the `cluster` extra: pip install cakewright[cluster]"
        ) from error
    try:
        client = Client(  # type: ignore[no-untyped-call]
            address, timeout="5s", set_as_default=False
        )
    except (OSError, TimeoutError, ValueError) as error:
        raise InputFileError(
            f"scheduler {address}: no answer ({error}); check the address, like tcp://host:8786"
        ) from error
    return _closing(client)


def _closing(client: Any) -> Executor:
    """The client's executor, which closes its client too (Any: the client has no types)."""
    executor = client.get_executor(pure=False)
    end = executor.shutdown

    def shutdown(wait: bool = True, **_: Any) -> None:
        end(wait=wait)
        client.close()

    executor.shutdown = shutdown
    result: Executor = executor
    return result


def evaluate_tasks(
    tasks: Sequence[Task],
    out: Path,
    start: Callable[[], Executor],
    told: Callable[[Outcome], None],
) -> list[Outcome]:
    """Evaluate what is not kept from before, keep each as it comes, and give all in order."""
    kept = kept_outcomes(out, tasks)
    todo = [task for task in tasks if task.key not in kept]
    if todo:
        for outcome in run_tasks(todo, evaluate_task, start):
            kept[outcome.key] = outcome
            if not outcome.failed:
                _keep(out, outcome)
            told(outcome)
    return [kept[task.key] for task in tasks]


def kept_outcomes(out: Path, tasks: Sequence[Task]) -> dict[str, Outcome]:
    """Results of an earlier run that still hold, by key. A damaged one is worked out again."""
    found = {}
    for task in tasks:
        kept = _kept(out / _KEPT / f"{task.key}.json", task.name)
        if kept is not None:
            found[task.key] = kept
    return found


def _kept(path: Path, name: str) -> Outcome | None:
    """One kept result; None where there is none or its hash is not the one it was kept with."""
    try:
        hashed, _, text = path.read_text(encoding="utf-8").partition("\n")
        if hashed != _hash(text):
            return None
        data = json.loads(text)
        data["figures"], data["options"] = tuple(data["figures"]), tuple(data["options"])
        return Outcome(**{**data, "name": name})
    except (OSError, ValueError, KeyError, TypeError):
        return None


def _hash(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def _keep(out: Path, outcome: Outcome) -> None:
    folder = out / _KEPT
    text = json.dumps(asdict(outcome), allow_nan=False)
    try:
        with alone_on(folder):
            folder.mkdir(parents=True, exist_ok=True)
            part = folder / f".{outcome.key}.{secrets.token_hex(4)}.partial"
            with part.open("x", encoding="utf-8") as file:
                file.write(f"{_hash(text)}\n{text}")
                file.flush()
                os.fsync(file.fileno())
            part.replace(folder / f"{outcome.key}.json")
            sync_folder(folder)
    except OSError as error:
        raise OutputError(f"{folder}: cannot be written ({error.strerror}); try another") from error


def write_tables(outcomes: Sequence[Outcome]) -> dict[str, bytes]:
    """Studies, headline figures and options as Parquet, SI units in the column names' place."""
    good = [outcome for outcome in outcomes if not outcome.failed]
    rows: dict[str, Iterator[Mapping[str, Any]]] = {
        "studies": ({"study": o.name, "failed": o.failed, **o.study} for o in outcomes),
        "figures": ({"study": o.name, **row} for o in good for row in o.figures),
        "options": ({"study": o.name, **row} for o in good for row in o.options),
    }
    return {f"{name}.parquet": _parquet(list(found)) for name, found in rows.items()}


def _parquet(rows: list[Mapping[str, Any]]) -> bytes:
    import pyarrow as pa
    import pyarrow.parquet as pq

    names = list(dict.fromkeys(name for row in rows for name in row))
    table = pa.table({name: [row.get(name) for row in rows] for name in names})
    sink = pa.BufferOutputStream()
    pq.write_table(table, sink)
    return bytes(sink.getvalue())
