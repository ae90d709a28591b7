"""Studies kept in a database."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest
import sqlalchemy as sa

from cakewright.errors import ConflictError, InputFileError, StoreError, UnknownNameError
from cakewright.storage.store import Edit, StudyStore, default_address, open_store
from cakewright.storage.store.engine import HEAD
from cakewright.storage.store.tables import metadata
from cakewright.storage.studies import demo_text

SOY = demo_text("soy").encode()


@pytest.mark.parametrize(
    "data",
    [SOY, b"\xef\xbb\xbf" + SOY.replace(b"\n", b"\r\n"), b"# no study yet", b"", b"broken = ["],
)
def test_bytes_in_bytes_out(store: StudyStore, data: bytes) -> None:
    """Whatever text is imported comes out byte for byte, faults and all."""
    assert store.data(store.create(data).id) == data


@pytest.mark.parametrize(
    ("data", "words"), [(b"a\0b", "binary"), (b"a = '\xff'", "line 1 is not UTF-8"),
                        (b"#" * 2_000_001, "at most 2000000")]
)  # fmt: skip
def test_what_is_no_study_text_is_refused(store: StudyStore, data: bytes, words: str) -> None:
    """Binary, other encodings and floods are refused in words; nothing is kept."""
    with pytest.raises(InputFileError, match=words):
        store.create(data)
    assert store.list() == ()


def test_undo_walks_back_and_redo_forward(store: StudyStore) -> None:
    """Three edits, three undos, two redos: each text is the one that stood there; a new edit
    ends the way forward."""
    one = store.create(SOY)
    texts = [SOY]
    for hours in ("9 h/d", "10 h/d", "11 h/d"):
        saved = store.edit(one.id, store.get(one.id).version, [Edit("duty.hours_per_day", hours)])
        texts.append(saved.data)
    for text in reversed(texts[:-1]):
        assert store.undo(one.id, store.get(one.id).version).data == text
    with pytest.raises(InputFileError, match="nothing to undo"):
        store.undo(one.id, store.get(one.id).version)
    for text in texts[1:3]:
        assert store.redo(one.id, store.get(one.id).version).data == text
    store.edit(one.id, store.get(one.id).version, [Edit("duty.hours_per_day", "7 h/d")])
    with pytest.raises(InputFileError, match="nothing to redo"):
        store.redo(one.id, store.get(one.id).version)
    assert len(store.history(one.id)) == 10


def test_edits_of_other_places_are_merged(store: StudyStore) -> None:
    """An edit meant for an older version joins edits of other places."""
    one = store.create(SOY)
    store.edit(one.id, 1, [Edit("prices.power", "0.3 EUR/kWh")])
    saved = store.edit(one.id, 1, [Edit("duty.days_per_week", "6")])
    assert saved.merged
    assert b"0.3 EUR/kWh" in saved.data
    assert b"days_per_week = 6" in saved.data


def test_the_same_place_is_refused_and_both_are_kept(store: StudyStore) -> None:
    """The later of two edits of one value is refused; its text is kept, the first one stands."""
    one = store.create(SOY)
    store.edit(one.id, 1, [Edit("prices.power", "0.3 EUR/kWh")])
    with pytest.raises(ConflictError, match=r"prices\.power: changed elsewhere") as caught:
        store.edit(one.id, 1, [Edit("prices.power", "0.4 EUR/kWh")])
    assert caught.value.places == ("prices.power",)
    (kept,) = store.kept(one.id)
    assert kept.number == caught.value.kept
    assert b"0.4 EUR/kWh" in kept.data
    assert b"0.3 EUR/kWh" in store.data(one.id)


def test_an_edit_whose_confirmation_was_lost_is_no_conflict(store: StudyStore) -> None:
    """The same edit sent again for the same version is confirmed, not refused."""
    one = store.create(SOY)
    first = store.edit(one.id, 1, [Edit("prices.power", "0.3 EUR/kWh")])
    again = store.edit(one.id, 1, [Edit("prices.power", "0.3 EUR/kWh")])
    assert again.version == first.version
    assert store.kept(one.id) == ()


def test_whole_texts_conflict_too(store: StudyStore) -> None:
    """A whole text is merged where it can be, and refused where it cannot."""
    one = store.create(SOY)
    store.edit(one.id, 1, [Edit("prices.power", "0.3 EUR/kWh")])
    mine = SOY.replace(b"days_per_week = 5", b"days_per_week = 6")
    assert store.replace(one.id, 1, mine).merged
    with pytest.raises(ConflictError):
        store.replace(one.id, 1, b"# other words\n" + SOY)
    with pytest.raises(ConflictError):
        store.replace(one.id, 1, b"broken = [")


def test_twenty_writers_lose_nothing(store: StudyStore) -> None:
    """Writers at the same moment on different places: every confirmed edit is in the text."""
    one = store.create(SOY)
    places = ["power", "water", "labour", "filtrate", "coagulant", "polymer", "haulage"]
    failed: list[Exception] = []

    def write(key: str, value: int) -> None:
        unit = {"power": "kWh", "water": "m3", "labour": "h", "haulage": "t/km"}.get(key, "kg")
        try:
            edit = Edit(f"prices.{key}", f"0.{value} EUR/{unit}")
            store.edit(one.id, store.get(one.id).version, [edit])
        except Exception as error:
            failed.append(error)

    threads = [threading.Thread(target=write, args=(k, i + 11)) for i, k in enumerate(places)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failed == []
    text = store.data(one.id).decode()
    assert all(f"0.{i + 11} EUR/" in text for i in range(len(places)))


def test_duplicates_and_the_bin(store: StudyStore) -> None:
    """A copy has a title and files of its own; the bin hides a study and gives it back."""
    one = store.create(SOY)
    store.attach(one.id, "law.toml", b"x = 1")
    copy = store.duplicate(one.id)
    assert copy.title.endswith("(variant)")
    assert store.attachment(copy.id, "law.toml") == b"x = 1"
    store.set_removed(one.id, removed=True)
    assert [r.id for r in store.list()] == [copy.id]
    assert [r.id for r in store.list(removed=True)] == [one.id]
    store.set_removed(one.id, removed=False)
    assert len(store.list()) == 2


@pytest.mark.parametrize("name", ["../x", "a/b", "", ".hidden", "a\0b", "x" * 200, "C:\\x"])
def test_file_names_cannot_lead_elsewhere(store: StudyStore, name: str) -> None:
    """Files beside a study have plain names."""
    one = store.create(SOY)
    with pytest.raises(InputFileError, match="not a plain file name"):
        store.attach(one.id, name, b"")


def test_what_is_not_there_is_said(store: StudyStore) -> None:
    """Unknown studies, versions and files are named in the message."""
    with pytest.raises(UnknownNameError, match="no study 'abcdefgh'"):
        store.get("abcdefgh")
    with pytest.raises(UnknownNameError):
        store.get("' or 1=1 --")
    one = store.create(SOY)
    with pytest.raises(UnknownNameError, match="no version 7"):
        store.data(one.id, 7)
    with pytest.raises(UnknownNameError, match="no file"):
        store.detach(one.id, "law.toml")


def test_full_disk_is_said_and_loses_nothing(file_store: StudyStore) -> None:
    """When no page can be added the edit is refused in words and the old text stands."""
    one = file_store.create(SOY)

    @sa.event.listens_for(file_store.engine, "begin")
    def _full(link: sa.Connection) -> None:
        link.exec_driver_sql("PRAGMA max_page_count=1")

    with pytest.raises(StoreError, match="the disk is full"):
        file_store.replace(one.id, 1, SOY + b"#" * 1_900_000)
    sa.event.remove(file_store.engine, "begin", _full)
    assert file_store.data(one.id) == SOY


def test_locked_store_is_said(file_store: StudyStore, monkeypatch: pytest.MonkeyPatch) -> None:
    """A store another program holds is refused in words, and works again after."""
    one = file_store.create(SOY)
    file_store.close()
    monkeypatch.setattr("cakewright.storage.store.engine._BUSY_SECONDS", 0.05)
    second = open_store(str(file_store.engine.url.database))
    with second.engine.connect().execution_options(writer=True) as holder, holder.begin():
        third = open_store(str(file_store.engine.url.database))
        with pytest.raises(StoreError, match="another program holds the store"):
            third.edit(one.id, 1, [Edit("title", "x")])
        third.close()
    assert second.edit(one.id, 1, [Edit("title", "x")]).version == 2
    second.close()


def test_what_is_no_store_is_said(tmp_path: Path) -> None:
    """A file that is no store, a newer store and a wrong address are refused in words."""
    other = tmp_path / "notes.sqlite"
    other.write_text("these are my notes, and they are longer than a header " * 9)
    with pytest.raises(StoreError, match="not a store of studies"):
        open_store(str(other))
    assert other.read_text().startswith("these are my notes")
    with pytest.raises(StoreError, match="store address"):
        open_store("nosuch://host/name")
    with pytest.raises(StoreError, match="the database server cannot be reached"):
        open_store(f"postgresql+psycopg://me@/team?host={tmp_path}")


def test_store_of_a_newer_program_is_refused(address: str) -> None:
    """Tables a newer program wrote are not touched, on either kind."""
    newer = open_store(address)
    with newer.engine.begin() as link:
        link.execute(sa.text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(StoreError, match="newer program"):
        open_store(address)
    with newer.engine.begin() as link:
        assert link.execute(sa.text("SELECT version_num FROM alembic_version")).scalar() == "9999"
    newer.close()


def test_migrations_make_the_tables_as_described(store: StudyStore) -> None:
    """The tables the steps leave behind are those the queries are written for, on both kinds."""
    seen = sa.inspect(store.engine)
    for table in metadata.sorted_tables:
        columns = {c["name"]: c["nullable"] for c in seen.get_columns(table.name)}
        assert columns == {c.name: c.nullable for c in table.columns}
    with store.engine.connect() as link:
        assert link.execute(sa.text("SELECT version_num FROM alembic_version")).scalar() == HEAD


def test_a_confirmed_change_is_on_the_disk(file_store: StudyStore) -> None:
    """Write-ahead logging is on, and each change is flushed before it is confirmed."""
    with file_store.engine.connect() as link:
        assert link.execute(sa.text("PRAGMA journal_mode")).scalar() == "wal"
        assert link.execute(sa.text("PRAGMA synchronous")).scalar() == 2


def test_servers_started_at_once_make_one_store(address: str) -> None:
    """Several programs that open an empty store at the same moment all come up, on the same
    tables and with the same secret."""
    assert_all_come_up(address)


def test_a_file_opened_at_once_again_and_again(tmp_path: Path) -> None:
    """A file answers "locked" without waiting to one in thirty such starts; nobody may see it."""
    for attempt in range(40):
        assert_all_come_up(f"sqlite:///{tmp_path / str(attempt) / 'studies.sqlite'}")


def assert_all_come_up(address: str) -> None:
    """Four programs open one store at the same moment and read its secret."""
    found: list[bytes] = []
    failed: list[Exception] = []
    gate = threading.Barrier(4)

    def start() -> None:
        gate.wait()
        try:
            opened = open_store(address)
            found.append(opened.secret())
            opened.close()
        except Exception as error:
            failed.append(error)

    threads = [threading.Thread(target=start) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failed == []
    assert len(found) == 4
    assert len(set(found)) == 1


def test_two_programs_edit_one_study(address: str) -> None:
    """Two programs on one store: other places merge, the same place is refused and both kept."""
    here, there = open_store(address), open_store(address)
    one = here.create(SOY)
    here.edit(one.id, 1, [Edit("prices.power", "0.31 EUR/kWh")])
    merged = there.edit(one.id, 1, [Edit("prices.water", "0.77 EUR/m3")])
    assert merged.merged
    assert b"0.31 EUR/kWh" in merged.data
    assert b"0.77 EUR/m3" in merged.data
    with pytest.raises(ConflictError):
        there.edit(one.id, 1, [Edit("prices.power", "0.32 EUR/kWh")])
    assert b"0.32 EUR/kWh" in here.kept(one.id)[0].data
    here.close()
    there.close()


def test_no_character_of_a_text_is_too_much(store: StudyStore) -> None:
    """A zero character in a title, and a name that holds one, are taken or refused in words."""
    one = store.create(b'title = "a\\u0000b"\n')
    assert one.title == "ab"
    assert store.data(one.id) == b'title = "a\\u0000b"\n'
    with pytest.raises(UnknownNameError, match="no file"):
        store.attachment(one.id, "a\0b")
    with pytest.raises(UnknownNameError, match="no file"):
        store.detach(one.id, "a\0b")


def test_the_same_tables_are_written_for_the_team_database(tmp_path: Path) -> None:
    """Every table can be made on PostgreSQL by the same description."""
    from sqlalchemy.schema import CreateTable

    engine = sa.create_mock_engine("postgresql+psycopg://", lambda *_: None)
    for table in metadata.sorted_tables:
        text = str(CreateTable(table).compile(dialect=engine.dialect))
        assert f"CREATE TABLE {table.name}" in text.replace("\n", " ").strip()


def test_address_by_setting(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """One setting moves the store to another file or a server; else it is in the user's folder."""
    monkeypatch.setenv("CAKEWRIGHT_STORE", "postgresql+psycopg://me@db/team")
    assert default_address() == "postgresql+psycopg://me@db/team"
    monkeypatch.setenv("CAKEWRIGHT_STORE", str(tmp_path / "a.sqlite"))
    assert default_address() == f"sqlite:///{tmp_path / 'a.sqlite'}"
    monkeypatch.delenv("CAKEWRIGHT_STORE")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert default_address().endswith("studies.sqlite")
