"""A store in one file and back; people; stores of earlier programs."""

from __future__ import annotations

import zipfile
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from cakewright.errors import CakewrightError, InputFileError, OutputError, StoreError
from cakewright.storage.store import Edit, StudyStore, open_store
from cakewright.storage.store.backup import (
    backup_store,
    check_backup,
    check_store,
    restore_store,
)
from cakewright.storage.store.people import Role, add_person, end_person, person_of, persons
from cakewright.storage.store.tables import metadata
from cakewright.storage.studies import demo_text


def filled(store: StudyStore) -> str:
    """Put two studies with history, a refused text, a file and a person into a store."""
    study = store.create(demo_text("soy").encode("utf-8"), "a").id
    for version in range(1, 6):
        store.edit(study, version, [Edit("site", f"works {version} η")], "a")
    store.undo(study, 6, "b")
    store.attach(study, "bench-1.csv", bytes(range(256)))
    store.create(b'cakewright = 1\ntitle = "\\u0000"\nbroken [', "b")
    with pytest.raises(CakewrightError):
        store.edit(study, 1, [Edit("site", "other")], "c")
    add_person(store.engine, "Ada", Role.LOOK, 30)
    store.secret()
    return study


def everything(store: StudyStore) -> dict[str, list[tuple[Any, ...]]]:
    """All rows of all tables."""

    def plain(value: Any) -> Any:
        if isinstance(value, datetime):
            return (value if value.tzinfo else value.replace(tzinfo=UTC)).astimezone(UTC)
        return bytes(value) if isinstance(value, memoryview) else value

    found = {}
    with store.engine.connect() as link:
        for table in metadata.sorted_tables:
            query = sa.select(table).order_by(*table.primary_key.columns)
            found[table.name] = [tuple(plain(v) for v in row) for row in link.execute(query)]
    return found


def test_a_restored_store_is_the_one_backed_up(store: StudyStore, tmp_path: Path) -> None:
    """Every row of every table and every log comes back, into a file store; work goes on there."""
    study = filled(store)
    logs = tmp_path / "logs"
    (logs / study).mkdir(parents=True)
    (logs / study / "a.csv").write_bytes(b"time,flow\n1,2\n")
    backup_store(store.engine, tmp_path / "all.backup", logs)
    assert check_backup(tmp_path / "all.backup").faults == ()
    other = open_store(str(tmp_path / "new" / "s.sqlite"))
    restore_store(tmp_path / "all.backup", other.engine, tmp_path / "new" / "s-logs")
    assert everything(other) == everything(store)
    assert (tmp_path / "new" / "s-logs" / study / "a.csv").read_bytes() == b"time,flow\n1,2\n"
    assert check_store(other.engine).faults == ()
    other.edit(study, 7, [Edit("site", "goes on")], "a")
    other.close()


def test_a_backup_of_a_file_goes_to_a_server_and_back(
    file_store: StudyStore, team: str, tmp_path: Path
) -> None:
    """From the file to PostgreSQL; numbers given out go on where they were."""
    study = filled(file_store)
    backup_store(file_store.engine, tmp_path / "all.backup")
    server = open_store(team)
    restore_store(tmp_path / "all.backup", server.engine)
    assert everything(server) == everything(file_store)
    with pytest.raises(CakewrightError):
        server.edit(study, 1, [Edit("site", "another")], "c")
    assert [one.number for one in server.kept(study)] == [2, 1]
    server.close()


def test_nothing_is_overwritten(file_store: StudyStore, tmp_path: Path) -> None:
    """Neither an older backup nor a store with studies is replaced."""
    filled(file_store)
    backup_store(file_store.engine, tmp_path / "all.backup")
    with pytest.raises(OutputError, match="exists"):
        backup_store(file_store.engine, tmp_path / "all.backup")
    before = everything(file_store)
    with pytest.raises(StoreError, match="holds studies already"):
        restore_store(tmp_path / "all.backup", file_store.engine)
    assert everything(file_store) == before


def test_every_damage_to_a_backup_is_found(file_store: StudyStore, tmp_path: Path) -> None:
    """Cut off, a byte turned, a table changed, no backup: refused in words, nothing restored."""
    filled(file_store)
    good = tmp_path / "all.backup"
    backup_store(file_store.engine, good)
    data = good.read_bytes()
    other = open_store(str(tmp_path / "new.sqlite"))
    for step in range(25):
        at = step * len(data) // 25
        bad = tmp_path / "bad.backup"
        for spoilt in (data[:at], data[:at] + bytes([data[at] ^ 0x55]) + data[at + 1 :]):
            bad.write_bytes(spoilt)
            try:
                restore_store(bad, other.engine)
            except CakewrightError:
                assert other.list() == ()
            else:
                # A byte that no content hangs on; the store is what it was, and made empty again.
                assert everything(other) == everything(file_store)
                with other.engine.begin() as link:
                    for table in reversed(metadata.sorted_tables):
                        link.execute(sa.delete(table))
    with zipfile.ZipFile(tmp_path / "x.backup", "w") as archive:
        archive.writestr("manifest.json", "[" * 5000)
    with pytest.raises(InputFileError, match="no whole backup"):
        restore_store(tmp_path / "x.backup", other.engine)
    other.close()


def test_a_damaged_store_is_told(file_store: StudyStore) -> None:
    """A study whose newest version is gone is named."""
    study = filled(file_store)
    with file_store.engine.begin() as link:
        link.exec_driver_sql("DELETE FROM revisions WHERE version = 7")
    assert check_store(file_store.engine).faults == (
        f"study {study}: its newest version is missing or no text",
    )


def test_a_store_of_the_first_format_is_brought_up_to_date(address: str) -> None:
    """What the first program wrote is all there after the step to the second format."""
    from alembic import command
    from alembic.config import Config

    store = open_store(address)
    study = store.create(demo_text("soy").encode("utf-8"), "a").id
    store.edit(study, 1, [Edit("site", "works")], "a")
    config = Config()
    config.set_main_option("script_location", "cakewright.storage.store:migrations")
    with store.engine.connect().execution_options(writer=True) as link, link.begin():
        config.attributes["connection"] = link
        command.downgrade(config, "0001")
        assert not sa.inspect(link).has_table("people")
    store.close()
    again = open_store(address)
    assert again.get(study).version == 2
    assert again.data(study, 1) == demo_text("soy").encode("utf-8")
    add_person(again.engine, "Ada", Role.ENTER, 5)
    again.close()


def test_tokens_are_kept_as_hashes_and_end(file_store: StudyStore) -> None:
    """A token opens for its person until it is ended or replaced, and is nowhere in the store."""
    engine = file_store.engine
    first = add_person(engine, "Ada", Role.ENTER, 5)
    found = person_of(engine, first)
    assert found is not None
    assert (found.good, found.role) == (True, Role.ENTER)
    second = add_person(engine, "Ada", Role.LOOK, 5)
    assert person_of(engine, first) is None
    assert second not in str(everything(file_store))
    end_person(engine, "Ada")
    assert [person.good for person in persons(engine)] == [False]
    with pytest.raises(InputFileError, match="no name"):
        add_person(engine, "\n", Role.LOOK, 5)
