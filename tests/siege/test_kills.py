"""Killed at any moment, disk full, no rights, another zone: the old or the new, never half."""

from __future__ import annotations

import json
import multiprocessing
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest
from tests.journeys.test_watch_sites import write_site
from tests.siege.conftest import Tally

from cakewright.errors import OutputError, StoreError
from cakewright.storage.outputs import faults_of_set, write_outputs
from cakewright.storage.store import Edit, StudyStore, open_store
from cakewright.storage.store.backup import backup_store, check_backup, check_store
from cakewright.storage.studies import demo_text

pytestmark = [
    pytest.mark.siege,
    pytest.mark.skipif(os.name == "nt", reason="processes are ended otherwise there"),
]
# Sieges run at the lowest priority: beside other work a fit takes minutes. [s]
_PATIENCE = 900
EXAMPLES = Path(__file__).parents[2] / "examples"
COMMANDS = {
    "evaluate": ["evaluate", "--demo", "reservoir", "--samples", "16", "--out", "OUT"],
    "bench": ["bench", str(EXAMPLES / "bench" / "filtration.csv"), "--out", "OUT"],
    "offers": ["offers", str(EXAMPLES / "pilot" / "offers.toml"), "--out", "OUT"],
    "guarantee": ["guarantee", str(EXAMPLES / "reservoir.toml"), "--out", "OUT"],
    "portfolio": ["portfolio", "STUDIES", "--samples", "16", "--out", "OUT"],
    "watch": ["watch", "SITE/log-1.csv", "--map", "SITE/map.toml", "--site", "SITE/site.toml",
              "--out", "OUT"],
    "calibrate": ["calibrate", str(EXAMPLES / "pilot" / "study.toml"),
                  str(EXAMPLES / "pilot" / "runs.csv"), "--out", "OUT"],
}  # fmt: skip


def _start(words: list[str], **environment: str) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-m", "cakewright", *words],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        env={**os.environ, **environment},
    )


def _words(name: str, folder: Path) -> list[str]:
    words = COMMANDS[name]
    for place in ("OUT", "STUDIES", "SITE"):
        words = [word.replace(place, str(folder / place.lower())) for word in words]
    return words


@pytest.mark.parametrize("name", list(COMMANDS))
def test_a_command_killed_leaves_one_set(tally: Tally, tmp_path: Path, name: str) -> None:
    """Killed at a random moment, every result is one of a whole set; the next run ends well."""
    studies = tmp_path / "studies"
    studies.mkdir()
    shutil.copy(EXAMPLES / "reservoir.toml", studies / "a.toml")
    write_site(tmp_path / "site", 1, None)
    start = time.monotonic()
    whole = _start(_words(name, tmp_path))
    assert whole.wait(_PATIENCE) == 0
    lasts = time.monotonic() - start
    dice, end = random.Random(name), time.monotonic() + tally.seconds / len(COMMANDS)
    while time.monotonic() < end:
        run = _start(_words(name, tmp_path))
        try:
            # Late, where results are written, more often than early.
            run.wait(lasts * (1 - 0.5 * dice.random() ** 2))
        except subprocess.TimeoutExpired:
            run.send_signal(signal.SIGKILL)
            run.wait()
            tally.add(f"kills: {name}", "kills")
        assert faults_of_set(tmp_path / "out") == []
    assert _start(_words(name, tmp_path)).wait(_PATIENCE) == 0
    left = [p.name for p in tmp_path.iterdir() if p.name not in ("out", "studies", "site")]
    assert left == []


def _write_sets(place: Path) -> None:
    run = 0
    while True:
        write_outputs(place, {f"{i}.txt": f"{run}\n" * 3000 for i in range(10)})
        run += 1


def test_results_killed_while_written(tally: Tally, tmp_path: Path) -> None:
    """The moment of writing itself, again and again: one set, whole."""
    place, dice = tmp_path / "out", random.Random(5)
    _until_written(place)
    # As a portfolio and a watch have it: results kept in a folder inside.
    (place / "studies").mkdir()
    (place / "studies" / "a.json").write_text("kept")
    for _ in tally.until():
        writer = multiprocessing.get_context("fork").Process(target=_write_sets, args=(place,))
        writer.start()
        time.sleep(0.01 + 0.08 * dice.random())
        writer.kill()
        writer.join()
        tally.add("kills: results", "kills")
        assert len({(place / f"{i}.txt").read_text() for i in range(10)}) == 1
        assert (place / "studies" / "a.json").read_text() == "kept"
        assert faults_of_set(place) == []


def _until_written(place: Path) -> None:
    write_outputs(place, {f"{i}.txt": "first\n" for i in range(10)})


def _edit_for_ever(address: str, study: str, said: Path) -> None:
    store = open_store(address)
    version = store.get(study).version
    with said.open("ab", buffering=0) as file:
        while True:
            saved = store.edit(study, version, [Edit("site", f"works {version}")], "a")
            version = saved.version
            file.write(f"{version}\n".encode())


def test_a_store_killed_under_edits(tally: Tally, tmp_path: Path) -> None:
    """No confirmed edit is lost, and the file is whole, however often its program is killed."""
    address = f"sqlite:///{tmp_path / 's.sqlite'}"
    store = open_store(address)
    study = store.create(demo_text("reservoir").encode("utf-8")).id
    store.close()
    said, dice = tmp_path / "said", random.Random(9)
    said.touch()
    for number in tally.until():
        editor = multiprocessing.get_context("fork").Process(
            target=_edit_for_ever, args=(address, study, said)
        )
        before = said.stat().st_size
        editor.start()
        while said.stat().st_size == before and editor.is_alive():
            time.sleep(0.005)
        time.sleep(0.1 * dice.random())
        editor.kill()
        editor.join()
        tally.add("kills: store", "kills")
        confirmed = [int(line) for line in said.read_text().split()]
        if confirmed:
            link = sqlite3.connect(tmp_path / "s.sqlite")
            head = link.execute("SELECT version FROM studies").fetchone()[0]
            kept = {row[0] for row in link.execute("SELECT version FROM revisions")}
            link.close()
            assert set(confirmed) <= kept
            assert head == max(kept)
        if number % 20 == 0:
            _whole(address)
    tally.add("kills: store", "confirmed edits", len(said.read_text().split()))
    _whole(address)


def _whole(address: str) -> None:
    store: StudyStore = open_store(address)
    assert check_store(store.engine).faults == ()
    store.close()


def _back_up(address: str, target: Path) -> None:
    backup_store(open_store(address).engine, target)


def _limited(bytes_: int, place: Path) -> None:
    import resource

    resource.setrlimit(resource.RLIMIT_FSIZE, (bytes_, bytes_))
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    try:
        write_outputs(place, {"a.txt": "x" * 400_000, "b.txt": "y" * 400_000})
    except Exception as error:
        os._exit(3 if type(error).__name__ == "OutputError" else 4)
    os._exit(0)


def test_a_disk_that_fills(tally: Tally, tmp_path: Path) -> None:
    """Wherever the disk fills, the old set stands and it is said in words."""
    place, dice = tmp_path / "out", random.Random(2)
    write_outputs(place, {"a.txt": "old", "b.txt": "old"})
    for _ in tally.until():
        limit = dice.randrange(1, 400_000)
        run = multiprocessing.get_context("fork").Process(target=_limited, args=(limit, place))
        run.start()
        run.join()
        assert run.exitcode == 3
        assert {p.name: p.read_text() for p in place.glob("*.txt")} == {
            "a.txt": "old", "b.txt": "old",
        }  # fmt: skip
        assert faults_of_set(place) == []
        tally.add("disk full", "writes stopped")
        if tally.counts["disk full"]["writes stopped"] >= 300:
            break


def test_a_backup_killed_is_no_backup(tally: Tally, tmp_path: Path) -> None:
    """A backup that was killed is not there; one that is there is whole."""
    address = f"sqlite:///{tmp_path / 's.sqlite'}"
    store = open_store(address)
    for _ in range(40):
        store.create(demo_text("soy").encode("utf-8") + os.urandom(20).hex().encode())
    store.close()
    dice = random.Random(4)
    for number in tally.until():
        target = tmp_path / f"{number}.backup"
        run = multiprocessing.get_context("fork").Process(target=_back_up, args=(address, target))
        run.start()
        time.sleep(0.2 * dice.random())
        run.kill()
        run.join()
        tally.add("kills: backups", "kills")
        if target.exists():
            assert check_backup(target).faults == ()
            target.unlink()
        for part in tmp_path.glob(".*.partial"):
            part.unlink()


def test_zones_and_clocks_that_change_under_a_store(tally: Tally, tmp_path: Path) -> None:
    """Whatever the computer's zone, and with files from the future, a log gives the same record."""
    write_site(tmp_path / "site", 1, None)
    found = set()
    for number, zone in enumerate(("UTC", "Asia/Kathmandu", "America/St_Johns", "Pacific/Apia")):
        # The last run had a clock ten days ahead: what it left is from the future now.
        for path in tmp_path.rglob("*"):
            os.utime(path, (time.time() + 864_000,) * 2)
        run = _start([*_words("watch", tmp_path), "--json"], TZ=zone)
        assert run.wait(300) == 0
        told = json.loads((tmp_path / "out" / "watch.json").read_text(encoding="utf-8"))
        found.add(json.dumps(told.get("shifts", told), sort_keys=True) if number else "")
        assert faults_of_set(tmp_path / "out") == []
        tally.add("zones and clocks", "runs")
    assert len(found - {""}) == 1


def test_an_editor_whose_clock_goes_back(tally: Tally, tmp_path: Path) -> None:
    """Edits under a clock that jumps back keep their order, and none is lost."""
    store = open_store(f"sqlite:///{tmp_path / 's.sqlite'}")
    study, dice, real = (
        store.create(demo_text("reservoir").encode()).id,
        random.Random(3),
        time.time,
    )
    version, shift = store.get(study).version, 0.0
    try:
        time.time = lambda: real() + shift
        for _ in tally.until():
            shift = dice.choice((0.0, -8.0, -90_000.0, 7_200.0, -3.2e7))
            saved = store.edit(study, version, [Edit("site", f"works {version}")], "a")
            assert saved.version > version
            version = saved.version
            tally.add("clock set back", "edits")
            if tally.counts["clock set back"]["edits"] >= 300:
                break
    finally:
        time.time = real
    assert store.get(study).version == version
    store.close()


def _as_nobody(place: Path, address: str) -> None:
    if os.getuid() == 0:
        os.setuid(65534)
    said = 0
    try:
        write_outputs(place, {"a.txt": "new", "b.txt": "new"})
    except OutputError:
        said += 1
    try:
        store = open_store(address)
        store.edit(store.list()[0].id, 1, [Edit("site", "x")], "a")
    except StoreError:
        said += 1
    os._exit(said)


def test_rights_taken_away(tally: Tally, tmp_path: Path) -> None:
    """Without the right to write, results and store stay as they are and it is said in words."""
    place, address = tmp_path / "out", f"sqlite:///{tmp_path / 's.sqlite'}"
    write_outputs(place, {"a.txt": "old", "b.txt": "old"})
    store = open_store(address)
    store.create(demo_text("soy").encode())
    store.close()
    # Readable along the whole way, writable nowhere.
    for folder in (tmp_path, *list(tmp_path.parents)[:2]):
        folder.chmod(0o555)
    place.chmod(0o555)
    (tmp_path / "s.sqlite").chmod(0o444)
    run = multiprocessing.get_context("fork").Process(target=_as_nobody, args=(place, address))
    run.start()
    run.join()
    for folder in (place, tmp_path, *list(tmp_path.parents)[:2]):
        folder.chmod(0o755)
    assert run.exitcode == 2
    assert {p.name: p.read_text() for p in place.glob("*.txt")} == {"a.txt": "old", "b.txt": "old"}
    _whole(address)
    tally.add("rights taken away", "refused in words", 2)
