"""A whole store in one file and back: the same format for a file store and a database server.

The file is a zip archive: ``manifest.json`` (format, program, tables with their rows and hashes),
one file of JSON lines per table, and the operating logs. It is read from one moment of the store
while people go on working.
"""

from __future__ import annotations

import base64
import hashlib
import json
import os
import secrets
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path, PurePosixPath
from typing import IO, Any

import sqlalchemy as sa

from cakewright.errors import InputFileError, OutputError, StoreError
from cakewright.storage.exchange import sync_folder
from cakewright.storage.store.engine import HEAD, alone, reading, writing
from cakewright.storage.store.tables import metadata, studies
from cakewright.version import __version__

__all__ = ["Contents", "backup_store", "check_backup", "check_store", "restore_store"]

FORMAT = "cakewright backup 1"
_ROWS, _LONGEST_LINE = 200, 40_000_000


@dataclass(frozen=True, slots=True)
class Contents:
    """What a backup or a store holds, and every fault found in it."""

    rows: Mapping[str, int]
    logs: int = 0
    made: str = ""
    faults: tuple[str, ...] = ()

    def __str__(self) -> str:
        told = ", ".join(f"{count} {name}" for name, count in self.rows.items())
        return f"{told}, {self.logs} files of logs"


def backup_store(engine: sa.Engine, target: Path, logs: Path | None = None) -> Contents:
    """Write everything of one moment into a new file; whole or not at all.

    Raises
    ------
    OutputError
        If the file exists or cannot be written.
    StoreError
        If the store cannot be read.
    """
    if target.exists():
        raise OutputError(f"{target}: exists; a backup never replaces another one; name a new file")
    part = target.with_name(f".{target.name}.{secrets.token_hex(4)}.partial")
    try:
        with part.open("xb") as raw:
            if os.name == "posix":
                part.chmod(0o600)
            with zipfile.ZipFile(raw, "w", zipfile.ZIP_DEFLATED, allowZip64=True) as archive:
                found = _write(engine, archive, logs)
            raw.flush()
            os.fsync(raw.fileno())
        part.replace(target)
        sync_folder(target.parent)
    except OSError as error:
        raise OutputError(f"{target}: cannot be written ({error.strerror}); try another") from None
    finally:
        part.unlink(missing_ok=True)
    return found


def _write(engine: sa.Engine, archive: zipfile.ZipFile, logs: Path | None) -> Contents:
    tables: dict[str, dict[str, Any]] = {}
    with reading(engine, still=True) as link:
        for table in metadata.sorted_tables:
            tables[table.name] = _write_table(link, table, archive)
    files = _write_logs(archive, logs)
    moment = datetime.now(UTC).isoformat(timespec="seconds")
    told = {"format": FORMAT, "program": __version__, "schema": HEAD, "made": moment}
    archive.writestr("manifest.json", json.dumps({**told, "tables": tables, "logs": files}))
    return Contents({name: entry["rows"] for name, entry in tables.items()}, len(files), moment)


def _write_table(link: sa.Connection, table: sa.Table, archive: zipfile.ZipFile) -> dict[str, Any]:
    count, mixed = 0, hashlib.sha256()
    rows = link.execution_options(yield_per=_ROWS).execute(
        sa.select(table).order_by(*table.primary_key.columns)
    )
    with archive.open(f"tables/{table.name}.jsonl", "w", force_zip64=True) as file:
        for row in rows.mappings():
            line = json.dumps({key: _plain(value) for key, value in row.items()}) + "\n"
            data = line.encode("utf-8")
            mixed.update(data)
            file.write(data)
            count += 1
    return {"rows": count, "sha256": mixed.hexdigest()}


def _plain(value: Any) -> Any:
    if isinstance(value, bytes | memoryview):
        return {"bytes": base64.b64encode(bytes(value)).decode("ascii")}
    if isinstance(value, datetime):
        aware = value if value.tzinfo else value.replace(tzinfo=UTC)
        return {"at": aware.astimezone(UTC).isoformat()}
    return value


def _rich(value: Any) -> Any:
    if isinstance(value, dict) and "bytes" in value:
        return base64.b64decode(value["bytes"])
    if isinstance(value, dict) and "at" in value:
        return datetime.fromisoformat(value["at"])
    return value


def _write_logs(archive: zipfile.ZipFile, logs: Path | None) -> dict[str, str]:
    files: dict[str, str] = {}
    if logs is None or not logs.is_dir():
        return files
    for path in sorted(logs.rglob("*")):
        if path.is_file() and not path.is_symlink():
            name = path.relative_to(logs).as_posix()
            mixed = hashlib.sha256()
            with path.open("rb") as source, archive.open(f"logs/{name}", "w") as file:
                for data in iter(lambda: source.read(1 << 20), b""):
                    mixed.update(data)
                    file.write(data)
            files[name] = mixed.hexdigest()
    return files


def check_backup(source: Path) -> Contents:
    """What a backup holds; every table and file checked against its hash, every study against
    its versions.

    Raises
    ------
    InputFileError
        If it is no backup at all.
    """
    with _opened(source) as (archive, told):
        faults: list[str] = []
        heads: dict[str, int] = {}
        versions: set[tuple[str, int]] = set()
        for name, entry in told["tables"].items():
            mixed, count = hashlib.sha256(), 0
            for line in _lines(archive, name, faults):
                mixed.update(line)
                count += 1
                _remember(name, line, heads, versions)
            if (count, mixed.hexdigest()) != (entry["rows"], entry["sha256"]):
                faults.append(f"table {name}: {count} rows; not as they were written")
        for name, wanted in told["logs"].items():
            if _hash_of(archive, f"logs/{name}") != wanted:
                faults.append(f"log {name}: not as it was written")
        missing = [study for study, head in heads.items() if (study, head) not in versions]
        faults += [f"study {study}: its newest version is missing" for study in missing]
        rows = {name: int(entry["rows"]) for name, entry in told["tables"].items()}
        return Contents(rows, len(told["logs"]), str(told.get("made", "")), tuple(faults))


def _remember(
    name: str, line: bytes, heads: dict[str, int], versions: set[tuple[str, int]]
) -> None:
    try:
        row = json.loads(line)
        if name == "studies":
            heads[row["id"]] = row["version"]
        elif name == "revisions":
            versions.add((row["study"], row["version"]))
    except (ValueError, KeyError, TypeError):
        return


@contextmanager
def _opened(source: Path) -> Iterator[tuple[zipfile.ZipFile, dict[str, Any]]]:
    """A backup with its manifest."""
    if not source.is_file():
        raise InputFileError(f"{source}: is no whole backup (there is no file of that name)")
    try:
        archive = zipfile.ZipFile(source)
        told = _manifest(archive, source)
    except (OSError, ValueError, LookupError, TypeError, RecursionError) as error:
        raise InputFileError(f"{source}: is no whole backup ({error})") from None
    except (zipfile.BadZipFile, zlib.error, NotImplementedError) as error:
        raise InputFileError(f"{source}: is no whole backup ({error})") from None
    with archive:
        yield archive, told


def _manifest(archive: zipfile.ZipFile, source: Path) -> dict[str, Any]:
    told = json.loads(archive.read("manifest.json"))
    tables, logs = told["tables"], told["logs"]
    if told["format"] != FORMAT or not isinstance(tables, dict) or not isinstance(logs, dict):
        raise ValueError("another format")
    known = {table.name for table in metadata.sorted_tables}
    if not set(tables) <= known or str(told["schema"]) > HEAD:
        raise InputFileError(
            f"{source}: written by a newer program ({told.get('program')}); update this one"
        )
    for entry in tables.values():
        entry["rows"], entry["sha256"] = int(entry["rows"]), str(entry["sha256"])
    return dict(told)


def _lines(archive: zipfile.ZipFile, table: str, faults: list[str]) -> Iterator[bytes]:
    try:
        with archive.open(f"tables/{table}.jsonl") as file:
            yield from _bounded(file)
    except (OSError, KeyError, ValueError, zipfile.BadZipFile, EOFError) as error:
        faults.append(f"table {table}: {error}")
    except Exception as error:
        # The unpacker has errors of its own for damaged data.
        faults.append(f"table {table}: damaged ({error})")


def _bounded(file: IO[bytes]) -> Iterator[bytes]:
    while line := file.readline(_LONGEST_LINE):
        if not line.endswith(b"\n"):
            raise ValueError("a row without an end")
        yield line


def _hash_of(archive: zipfile.ZipFile, name: str) -> str:
    mixed = hashlib.sha256()
    try:
        with archive.open(name) as file:
            for data in iter(lambda: file.read(1 << 20), b""):
                mixed.update(data)
    except Exception:
        return ""
    return mixed.hexdigest()


def restore_store(source: Path, engine: sa.Engine, logs: Path | None = None) -> Contents:
    """Put a backup into an empty store: all of it, or nothing.

    Raises
    ------
    InputFileError
        If the backup has a fault; nothing is written then.
    StoreError
        If the store holds studies already, or cannot be written.
    """
    found = check_backup(source)
    if found.faults:
        raise InputFileError(f"{source}: {'; '.join(found.faults[:5])}; nothing was restored")
    with _opened(source) as (archive, told), writing(engine) as link:
        alone(link)
        if link.execute(sa.select(sa.func.count()).select_from(studies)).scalar():
            raise StoreError(
                f"store {engine.url.database}: holds studies already; restore into a new one, "
                "then put it in the place of the old one"
            )
        for table in metadata.sorted_tables:
            link.execute(sa.delete(table))
        for table in metadata.sorted_tables:
            if table.name in told["tables"]:
                _restore_table(link, table, archive)
        _restore_logs(archive, told["logs"], logs)
    return found


def _restore_table(link: sa.Connection, table: sa.Table, archive: zipfile.ZipFile) -> None:
    faults: list[str] = []
    batch: list[dict[str, Any]] = []
    for line in _lines(archive, table.name, faults):
        row = json.loads(line)
        batch.append({key: _rich(value) for key, value in row.items() if key in table.columns})
        if len(batch) == _ROWS:
            link.execute(sa.insert(table), batch)
            batch = []
    if batch:
        link.execute(sa.insert(table), batch)
    if faults:
        raise InputFileError("; ".join(faults))
    counted = [c for c in table.primary_key.columns if c.autoincrement is True]
    if counted and link.dialect.name == "postgresql":
        # The server counts on from the last number, which it has not given out itself.
        link.execute(sa.text(
            f"SELECT setval(pg_get_serial_sequence('{table.name}', '{counted[0].name}'), "
            f"GREATEST((SELECT COALESCE(MAX({counted[0].name}), 1) FROM {table.name}), 1))"
        ))  # fmt: skip


def _restore_logs(archive: zipfile.ZipFile, names: Mapping[str, str], logs: Path | None) -> None:
    if logs is None:
        return
    for name in names:
        inside = PurePosixPath(name)
        if inside.is_absolute() or ".." in inside.parts or "\\" in name or ":" in name:
            raise InputFileError(f"{name!r}: leads out of the folder of logs; nothing was restored")
        target = logs / inside
        target.parent.mkdir(parents=True, exist_ok=True)
        with archive.open(f"logs/{name}") as file, target.open("wb") as out:
            for data in iter(lambda: file.read(1 << 20), b""):
                out.write(data)


def check_store(engine: sa.Engine) -> Contents:
    """Every table counted, every study's newest version read, the file's own check made."""
    faults: list[str] = []
    rows: dict[str, int] = {}
    with reading(engine, still=True) as link:
        if link.dialect.name == "sqlite":
            told = [str(row[0]) for row in link.exec_driver_sql("PRAGMA integrity_check")]
            faults += [line for line in told if line != "ok"][:20]
            faults += [f"{row[0]}: a row without its study" for row in
                       link.exec_driver_sql("PRAGMA foreign_key_check")][:20]  # fmt: skip
        for table in metadata.sorted_tables:
            query = sa.select(sa.func.count()).select_from(table)
            rows[table.name] = int(link.execute(query).scalar() or 0)
        revisions = metadata.tables["revisions"]
        here = (revisions.c.study == studies.c.id) & (revisions.c.version == studies.c.version)
        query = sa.select(studies.c.id, revisions.c.data).outerjoin(revisions, here)
        for row in link.execute(query):
            try:
                bytes(row.data).decode("utf-8")
            except (TypeError, UnicodeDecodeError):
                faults.append(f"study {row.id}: its newest version is missing or no text")
    return Contents(rows, 0, "", tuple(faults))
