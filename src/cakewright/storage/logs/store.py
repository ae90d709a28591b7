"""The log store: clean readings by site and month, and beside them every change with its reason."""

from __future__ import annotations

import shutil
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from zipfile import BadZipFile

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
from numpy.typing import NDArray

from cakewright.errors import DataError, Fault, InputFileError
from cakewright.quantities import FloatArray
from cakewright.running.cleaning import Action, Block, Change, Gap, Memory, clean, find_gaps
from cakewright.running.clock import LocalTimes, utc_from_local
from cakewright.running.shifts import ShiftPlan, ShiftTable, join_shifts, shift_means, with_records
from cakewright.running.signals import signals
from cakewright.storage.bounded import read_apart
from cakewright.storage.logs.column_map import ColumnMap, Grain
from cakewright.storage.logs.engine import PARQUET_FAULTS
from cakewright.storage.logs.receipts import FileSeen, Receipt, fingerprint, keep_receipts
from cakewright.storage.logs.staging import NO_MONTH, SEPARATOR, Staged, stage_file
from cakewright.storage.turns import alone_on
from cakewright.storage.workbooks import LOG

__all__ = [
    "LoadReport",
    "LogJob",
    "Tally",
    "load_logs",
    "read_changes",
    "read_month",
    "read_shifts",
    "read_tallies",
    "stage_apart",
    "stored_months",
    "stored_sites",
]

IntArray = NDArray[np.int64]
_PART = "part.parquet"
_BYTES_IN_TIME = 500_000_000
_CHANGES = pa.schema(
    [("file", pa.string()), ("row", pa.int64()), ("time", pa.timestamp("ms", tz="UTC")),
     ("signal", pa.string()), ("action", pa.string()), ("reason", pa.string()),
     ("before", pa.float64()), ("after", pa.float64()), ("text", pa.string())]
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Tally:
    """How often one thing was done to one signal, and when first and last (UTC seconds)."""

    action: str
    reason: str
    signal: str
    count: int
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class LoadReport:
    """What became of the files of one site."""

    site: str
    files: tuple[str, ...]
    rows_read: int
    rows_kept: int
    first: int
    last: int
    tallies: tuple[Tally, ...]
    gaps: tuple[Gap, ...]
    notes: tuple[str, ...]
    empty: tuple[str, ...]
    receipts: tuple[Receipt, ...] = ()


@dataclass(frozen=True, slots=True)
class LogJob:
    """One site's files, its map and its store, to be loaded anywhere."""

    paths: tuple[Path, ...]
    column_map: ColumnMap
    store: Path
    now: int
    memory_mb: int = 800


def _folder(store: Path, kind: str, site: str, month: str) -> Path:
    return store / kind / f"site={site}" / f"month={month}"


def _write(table: pa.Table, folder: Path) -> None:
    """A whole new part, swapped in at once."""
    folder.mkdir(parents=True, exist_ok=True)
    partial = folder / f".{_PART}.new"
    words = [field.name for field in table.schema if pa.types.is_string(field.type)]
    pq.write_table(table, partial, compression="zstd", compression_level=1, use_dictionary=words)
    partial.replace(folder / _PART)


def _numbers(table: pa.Table, key: str) -> FloatArray:
    column = table.column(key)
    return np.asarray(column.to_numpy(zero_copy_only=False), dtype=float).copy()


def _seconds(table: pa.Table, key: str) -> IntArray:
    column = table.column(key).cast(pa.timestamp("us")).cast(pa.int64())
    return np.asarray(column.to_numpy(zero_copy_only=False)) // 1_000_000


def _to_stamp(time: IntArray) -> pa.Array:
    return pa.array(np.asarray(time) * 1000, pa.int64()).cast(pa.timestamp("ms", tz="UTC"))


@dataclass(slots=True)
class _Log:
    """Changes of one month on their way to the file and into the tallies."""

    seen: Mapping[str, FileSeen]
    parts: list[pa.Table]
    tallies: dict[tuple[str, str, str], list[int]]

    def add(
        self, file: NDArray[Any] | str, change: Change, text: Sequence[str] | None = None
    ) -> None:
        size = change.row.size
        names = [file] * size if isinstance(file, str) else list(file)
        columns: dict[str, Any] = {
            "file": pa.array(names, pa.string()),
            "row": pa.array(change.row, pa.int64()),
            "time": _to_stamp(change.time)
            if change.time.size
            else pa.nulls(size, _CHANGES.field("time").type),
            "signal": pa.array([change.signal] * size, pa.string()),
            "action": pa.array([change.action.value] * size, pa.string()),
            "reason": pa.array([change.reason] * size, pa.string()),
            "before": pa.array(change.before, pa.float64(), from_pandas=True),
            "after": pa.array(change.after, pa.float64(), from_pandas=True),
            "text": pa.array(text, pa.string())
            if text is not None
            else pa.nulls(size, pa.string()),
        }
        self.parts.append(pa.table(columns, schema=_CHANGES))
        first = int(change.time.min()) if change.time.size else 0
        last = int(change.time.max()) if change.time.size else 0
        self._count(names, change)
        key = (change.action.value, change.reason, change.signal)
        old = self.tallies.setdefault(key, [0, first, last])
        old[0] += size
        old[1], old[2] = (min(old[1], first) if old[1] else first), max(old[2], last)

    def _count(self, names: Sequence[str], change: Change) -> None:
        whole = change.action is Action.DROPPED
        word = change.reason if whole else f"{change.signal}: {change.reason}"
        for name, count in Counter(names).items():
            if name in self.seen:
                seen = self.seen[name]
                (seen.dropped if whole else seen.changed)[word] += count


def _rows(
    reason: str, row: IntArray, time: IntArray, action: Action = Action.DROPPED, signal: str = ""
) -> Change:
    nothing = np.full(row.shape, np.nan)
    return Change(action, reason, signal, row, time, nothing, nothing)


_NO_TIME = np.zeros(0, dtype=np.int64)


def _unread_cells(table: pa.Table, row: IntArray, time: IntArray, name: str, log: _Log) -> None:
    """Cells that were neither a number nor 'missing', kept with their text."""
    column = table.column("unread")
    if column.null_count == len(column):
        return
    texts: dict[tuple[str, str], tuple[list[int], list[str]]] = {}
    for i, cell in enumerate(column.to_pylist()):
        for part in cell.split(SEPARATOR) if cell else ():
            key, _, text = part.partition("=")
            places, words = texts.setdefault((key, _why_unread(text)), ([], []))
            places.append(i)
            words.append(text)
    for (key, reason), (places, words) in texts.items():
        at = np.array(places)
        moment = time[at] if time.size else time
        log.add(name, _rows(reason, row[at], moment, Action.BLANKED, key), words)


def _why_unread(text: str) -> str:
    poor = text.startswith(("bad: ", "uncertain: "))
    return "live reading not good" if poor else "not a number"


def _other_site(
    table: pa.Table, mapping: ColumnMap, row: IntArray, time: IntArray, name: str, log: _Log
) -> NDArray[np.bool_]:
    """Rows of this site; those of another are listed."""
    if not mapping.site_column:
        return np.ones(row.shape, dtype=bool)
    names = np.array([n or "" for n in table.column("other").to_pylist()])
    mine = np.asarray(names == mapping.site)
    for other in np.unique(names[~mine]):
        at = np.flatnonzero(names == other)
        label = f"row of another site ({other})" if other else "row without a site"
        log.add(name, _rows(label, row[at], time[at]))
    return mine


def _staged_block(staged: Staged, month: str, mapping: ColumnMap, log: _Log) -> Block | None:
    path = staged.directory / f"{month}.arrow"
    if not path.is_file():
        return None
    table = pa.ipc.open_file(pa.memory_map(str(path))).read_all()
    row = np.asarray(table.column("row").to_numpy(), dtype=np.int64)
    name = Path(staged.file).name
    if month == NO_MONTH:
        _no_time(table, row, name, log)
        return None
    times = _utc(table, mapping)
    aware = np.asarray(table.column("aware").to_numpy(), dtype=bool)
    log.seen[name].see(times.utc, aware, times.never)
    if times.never.any():
        at = np.flatnonzero(times.never)
        log.add(name, _rows("time skipped by the clock in spring", row[at], times.utc[at]))
    if times.twice.any():
        at = np.flatnonzero(times.twice)
        change = _rows(
            "hour happens twice in autumn; taken as the first",
            row[at],
            times.utc[at],
            Action.ALTERED,
        )
        log.add(name, change)
    _unread_cells(table, row, times.utc, name, log)
    keep = ~times.never & _other_site(table, mapping, row, times.utc, name, log)
    block = Block(row, times.utc, {key: _numbers(table, key) for key in mapping.columns})
    return block if keep.all() else block.take(keep)


def _utc(table: pa.Table, mapping: ColumnMap) -> LocalTimes:
    """UTC of every row: as written where the row says so itself, else by the site's clock."""
    clock = _seconds(table, "clock")
    aware = np.asarray(table.column("aware").to_numpy(), dtype=bool)
    if not aware.any():
        return utc_from_local(clock, mapping.time_zone)
    utc, never, twice = clock.copy(), np.zeros(clock.shape, bool), np.zeros(clock.shape, bool)
    local = utc_from_local(clock[~aware], mapping.time_zone)
    utc[~aware], never[~aware], twice[~aware] = local.utc, local.never, local.twice
    return LocalTimes(utc, never, twice)


def _no_time(table: pa.Table, row: IntArray, name: str, log: _Log) -> None:
    broken = table.column("broken").to_pylist()
    texts = table.column("time_text").to_pylist()
    for reason, picked in (
        ("line is not complete", [i for i, b in enumerate(broken) if b is not None]),
        ("time cannot be read", [i for i, b in enumerate(broken) if b is None]),
    ):
        if picked:
            words = [str(broken[i] or texts[i] or "") for i in picked]
            log.add(name, _rows(reason, row[np.array(picked)], _NO_TIME), words)


def _kept_block(folder: Path) -> Block | None:
    """Readings already in the store."""
    path = folder / _PART
    if not path.is_file():
        return None
    table = _read_part(path)
    keys = [key for key in table.column_names if key in signals()]
    time = _seconds(table, "time")
    return Block(np.full(time.shape, -1), time, {key: _numbers(table, key) for key in keys})


def _read_part(path: Path) -> pa.Table:
    try:
        return pq.read_table(path, partitioning=None)
    except PARQUET_FAULTS as error:
        raise InputFileError(
            f"{path}: damaged part of the log store ({error}); load its month again"
        ) from None


def _merge(blocks: Sequence[Block]) -> Block:
    if len(blocks) == 1:
        return blocks[0]
    keys = dict.fromkeys(key for block in blocks for key in block.values)
    values = {
        key: np.concatenate([b.values.get(key, np.full(b.time.shape, np.nan)) for b in blocks])
        for key in keys
    }
    return Block(
        np.concatenate([b.row for b in blocks]), np.concatenate([b.time for b in blocks]), values
    )


_STRIDE = 1 << 40


def _store_block(block: Block, folder: Path) -> None:
    columns: dict[str, Any] = {"time": _to_stamp(block.time)}
    columns |= {
        key: pa.array(value, pa.float64(), from_pandas=True) for key, value in block.values.items()
    }
    _write(pa.table(columns), folder)


def _clean_month(
    job: LogJob, staged: Sequence[Staged], month: str, memory: Memory, log: _Log
) -> tuple[Block | None, tuple[Gap, ...]]:
    names, blocks = [], []
    kind = "readings" if job.column_map.grain is Grain.MINUTE else f"{job.column_map.grain}_records"
    folder = _folder(job.store, kind, job.column_map.site, month)
    old = _kept_block(folder) if month != NO_MONTH else None
    if old is not None:
        names.append("(store)")
        blocks.append(old)
    for one in staged:
        block = _staged_block(one, month, job.column_map, log)
        if block is not None:
            names.append(Path(one.file).name)
            blocks.append(block)
    if not blocks:
        return None, ()
    tagged = [Block(b.row + i * _STRIDE + 1, b.time, b.values) for i, b in enumerate(blocks)]
    held, minutes = job.column_map.held, job.column_map.grain is Grain.MINUTE
    block, changes = clean(_merge(tagged), now=job.now, held=held, memory=memory, minutes=minutes)
    for change in changes:
        file = np.array(names, dtype=object)[change.row // _STRIDE]
        plain = Change(
            change.action,
            change.reason,
            change.signal,
            change.row % _STRIDE - 1,
            change.time,
            change.before,
            change.after,
        )
        log.add(file, plain)
    if block.time.size:
        _store_block(block, folder)
    return block, find_gaps(block.time, _usual_step(block.time)) if minutes else ()


def _usual_step(time: IntArray) -> float:
    return float(np.median(np.diff(time))) if time.size > 1 else 60.0


def _strays(staged: Sequence[Staged], log: _Log) -> None:
    for one in staged:
        by_reason: dict[str, tuple[list[int], list[str]]] = {}
        for stray in one.strays:
            rows, texts = by_reason.setdefault(stray.reason, ([], []))
            rows.append(stray.line)
            texts.append(stray.text)
        for reason, (rows, texts) in by_reason.items():
            log.add(Path(one.file).name, _rows(f"line: {reason}", np.array(rows), _NO_TIME), texts)


def _save_changes(job: LogJob, month: str, parts: list[pa.Table]) -> None:
    if not parts:
        return
    folder = _folder(job.store, "changes", job.column_map.site, month)
    path = folder / _PART
    old = [_read_part(path)] if path.is_file() else []
    _write(pa.concat_tables([*old, *parts]), folder)


def stage_here(job: LogJob, scratch: Path) -> list[Staged]:
    """The files of a job by month, read in this process."""
    return [
        stage_file(path, job.column_map, scratch / str(i), memory_mb=job.memory_mb)
        for i, path in enumerate(job.paths)
    ]


def stage_apart(job: LogJob, scratch: Path) -> list[Staged]:
    """The same in a process of its own, within bounds of memory and time."""
    size = sum(path.stat().st_size for path in job.paths if path.is_file())
    name = job.paths[0].name + (f" and {len(job.paths) - 1} more" if len(job.paths) > 1 else "")
    seconds = LOG.seconds * (1 + size / _BYTES_IN_TIME)
    return read_apart(name, stage_here, job, scratch, seconds=seconds, memory=LOG.memory)


Stager = Callable[[LogJob, Path], list[Staged]]


def load_logs(job: LogJob, staged_by: Stager = stage_here) -> LoadReport:
    """Files of one site into the store, cleaned, with every change kept.

    Raises
    ------
    InputFileError
        If a file cannot be read at all.
    DataError
        If a file does not fit the column map.
    """
    scratch = job.store / f".staging-{job.column_map.site}"
    with alone_on(job.store, patience=3600.0):
        shutil.rmtree(scratch, ignore_errors=True)
        try:
            return _load_staged(job, staged_by(job, scratch))
        finally:
            shutil.rmtree(scratch, ignore_errors=True)


def _load_staged(job: LogJob, staged: Sequence[Staged]) -> LoadReport:
    tallies: dict[tuple[str, str, str], list[int]] = {}
    memory, kept = Memory(), 0
    gaps: list[Gap] = []
    first, last = 2**62, 0
    seen = _seen(job, staged)
    lines = _Log(seen, [], tallies)
    _strays(staged, lines)
    _save_changes(job, NO_MONTH, lines.parts)
    for month in sorted({month for one in staged for month in one.months}):
        log = _Log(seen, [], tallies)
        block, holes = _clean_month(job, staged, month, memory, log)
        _save_changes(job, month, log.parts)
        gaps += holes
        if block is not None and block.time.size:
            if kept and holes is not None and block.time[0] - last > 5 * _usual_step(block.time):
                gaps.append(Gap(last, int(block.time[0])))
            kept += block.time.size
            first, last = min(first, int(block.time[0])), max(last, int(block.time[-1]))
    if not kept:
        words = "; ".join(f"{n} x {reason}" for (_, reason, _), (n, _, _) in tallies.items())
        raise DataError(
            f"log of {job.column_map.site}",
            [
                Fault(
                    "rows",
                    f"no usable row ({words})",
                    "at least one",
                    "check time format and zone in the column map",
                )
            ],
        )
    receipts = tuple(one.receipt() for one in seen.values())
    keep_receipts(job.store, job.column_map.site, receipts)
    return LoadReport(
        site=job.column_map.site,
        files=tuple(one.file for one in staged),
        rows_read=sum(one.rows + len(one.strays) for one in staged),
        rows_kept=kept,
        first=first,
        last=last,
        tallies=tuple(Tally(a, r, s, n, f, z) for (a, r, s), (n, f, z) in sorted(tallies.items())),
        gaps=tuple(sorted(gaps, key=lambda gap: gap.start)),
        notes=tuple(f"{Path(one.file).name}: {note}" for one in staged for note in one.notes),
        empty=tuple(dict.fromkeys(key for one in staged for key in one.empty)),
        receipts=receipts,
    )


def _seen(job: LogJob, staged: Sequence[Staged]) -> dict[str, FileSeen]:
    """One note sheet per file, by its name."""
    found = {}
    for path, one in zip(job.paths, staged, strict=True):
        rows, zone = one.rows + len(one.strays), job.column_map.time_zone
        found[path.name] = FileSeen(path.name, fingerprint(path), rows, zone, list(one.notes))
    return found


def stored_sites(store: Path) -> tuple[str, ...]:
    """Sites with readings in the store."""
    return tuple(sorted(p.name.split("=", 1)[1] for p in (store / "readings").glob("site=*")))


def stored_months(store: Path, site: str, kind: str = "readings") -> tuple[str, ...]:
    """Months of one site in the store."""
    return tuple(
        sorted(p.name.split("=", 1)[1] for p in (store / kind / f"site={site}").glob("month=*"))
    )


def read_month(store: Path, site: str, month: str, kind: str = "readings") -> Block:
    """Clean rows of one month.

    Raises
    ------
    InputFileError
        If the store has no such month, or the part is damaged.
    """
    block = _kept_block(_folder(store, kind, site, month))
    if block is None:
        raise InputFileError(f"{store}: no {kind} of {site} for {month}")
    return block


def read_shifts(store: Path, site: str, plan: ShiftPlan) -> ShiftTable:
    """All shifts of one site, laboratory and day records put beside the minute means.

    Raises
    ------
    InputFileError
        If the store holds nothing of this site.
    """
    months = stored_months(store, site)
    if not months:
        here = ", ".join(stored_sites(store)) or "none"
        raise InputFileError(f"{store}: no readings of {site}; sites here: {here}")
    table = join_shifts([_month_shifts(store, site, month, plan) for month in months])
    meters = frozenset(table.mean)
    for grain in (Grain.SHIFT, Grain.DAY):
        kind = f"{grain}_records"
        for month in stored_months(store, site, kind):
            records = read_month(store, site, month, kind)
            table = with_records(table, records, plan, daily=grain is Grain.DAY, meters=meters)
    return table


def _month_shifts(store: Path, site: str, month: str, plan: ShiftPlan) -> ShiftTable:
    """Shifts of one month: kept from the last time unless its readings or the plan changed."""
    folder = _folder(store, "readings", site, month)
    about = (folder / _PART).stat()
    mark = f"{about.st_size} {about.st_mtime_ns} {plan.zone} {plan.first_hour} {plan.hours} 1"
    place = folder / ".shifts.npz"
    try:
        with np.load(place, allow_pickle=False) as kept:
            if str(kept["mark"]) == mark:
                return _unpacked(kept)
    except (OSError, ValueError, KeyError, BadZipFile):
        pass  # never kept, or cut off by a power failure: reckoned anew
    table = shift_means(read_month(store, site, month), plan)
    partial = place.with_name(".shifts.new.npz")
    arrays: dict[str, Any] = {"mark": np.array(mark), **_packed(table)}
    np.savez(partial, **arrays)
    partial.replace(place)
    return table


_LINES = ("start", "span", "run_time", "seen_time", "starts")
_PARTS = ("mean", "coverage", "shaft_time", "shaft_starts")


def _packed(table: ShiftTable) -> dict[str, NDArray[Any]]:
    found = {name: getattr(table, name) for name in _LINES}
    for part in _PARTS:
        found |= {f"{part}:{key}": value for key, value in getattr(table, part).items()}
    return found


def _unpacked(kept: Mapping[str, NDArray[Any]]) -> ShiftTable:
    parts: dict[str, Any] = {part: {} for part in _PARTS}
    for name in kept:
        part, _, key = name.partition(":")
        if part in parts:
            parts[part][int(key) if part.startswith("shaft") else key] = kept[name]
    lines: dict[str, Any] = {name: kept[name] for name in _LINES}
    return ShiftTable(**{**lines, **parts})


def read_tallies(store: Path, site: str) -> tuple[Tally, ...]:
    """How often each thing was done to each signal, over everything ever loaded of a site."""
    sums: dict[tuple[str, str, str], list[int]] = {}
    for month in stored_months(store, site, "changes"):
        part = _read_part(_folder(store, "changes", site, month) / _PART)
        keys = ["action", "reason", "signal"]
        counts = part.group_by(keys).aggregate([("row", "count"), ("time", "min"), ("time", "max")])
        for row in counts.to_pylist():
            first, last = (
                int(row[f"time_{end}"].timestamp()) if row[f"time_{end}"] else 0
                for end in ("min", "max")
            )
            old = sums.setdefault(tuple(row[key] for key in keys), [0, first, last])
            old[0] += row["row_count"]
            old[1], old[2] = min(old[1], first), max(old[2], last)
    return tuple(Tally(*key, *sums[key]) for key in sorted(sums))


def read_changes(store: Path, site: str) -> list[Mapping[str, Any]]:
    """Every dropped or altered row of one site, as rows of plain values."""
    rows: list[Mapping[str, Any]] = []
    for month in stored_months(store, site, "changes"):
        rows += _read_part(_folder(store, "changes", site, month) / _PART).to_pylist()
    return rows
