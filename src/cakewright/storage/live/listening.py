"""Listening to one server until told to stop: poll, keep on disk, hand finished days on."""

from __future__ import annotations

import asyncio
import filecmp
import os
import secrets
import shutil
import signal as system_signal
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import count
from pathlib import Path

from cakewright.errors import CakewrightError, OutputError
from cakewright.running.signals import signal
from cakewright.storage.live.poller import PollReport, live_reader, poll
from cakewright.storage.live.reading import Reading, TagMap
from cakewright.storage.live.spool import Spool
from cakewright.storage.logs.column_map import Column, ColumnMap, write_column_map

__all__ = ["MAP_NAME", "Listening", "listen", "listening_map", "read_once"]

MAP_NAME = "listen-map.toml"
_TRY_AGAIN = 600.0  # s between tries to hand finished days on
Tell = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Listening:
    """How long and where to: ``polls`` and ``seconds`` None mean until stopped."""

    folder: Path
    polls: int | None = None
    seconds: float | None = None
    every: float | None = None
    forward: Path | None = None


def listening_map(tag_map: TagMap) -> ColumnMap:
    """Column map of what is kept: SI, one column per signal, so that `watch` reads it as it is."""
    columns = {
        tag.key: Column(tag.key, signal(tag.key).house.unit, held=tag.held) for tag in tag_map.tags
    }
    return ColumnMap(tag_map.site, ("time",), columns)


async def _once(tag_map: TagMap) -> Sequence[Reading]:
    reader = live_reader(tag_map)
    try:
        await reader.connect()
        return await reader.read()
    finally:
        await reader.close()


def read_once(tag_map: TagMap) -> Sequence[Reading]:
    """One reading per tag, nothing kept.

    Raises
    ------
    ConnectionError
        If the server does not answer.
    InputFileError
        If it refuses the user.
    """
    try:
        return asyncio.run(_once(tag_map))
    except CakewrightError:
        raise
    except Exception as error:  # the libraries raise families of their own
        why = str(error) or type(error).__name__
        raise ConnectionError(f"{tag_map.address} does not answer ({why})") from None


def handed_on(paths: Sequence[Path], target: Path, site: str) -> None:
    """Copies of finished days in ``target``, each there whole or not at all, none ever overwritten.

    A day that is there with other contents (a clock set back, a second listener of the same site)
    gets the next number; one that is there already as it is, is not copied again.
    """
    target.mkdir(parents=True, exist_ok=True)
    for path in paths:
        partial = target / f".{site}-{path.name}.{secrets.token_hex(6)}.part"
        shutil.copyfile(path, partial)
        try:
            with partial.open("rb+") as file:
                os.fsync(file.fileno())
            _place(partial, target / f"{site}-{path.name}")
        finally:
            partial.unlink(missing_ok=True)


def _place(partial: Path, wanted: Path) -> None:
    """Give a whole file its name, or the next free one beside it."""
    for n in count(1):
        place = wanted.with_stem(f"{wanted.stem}-{n}") if n > 1 else wanted
        try:
            os.link(partial, place)  # fails if anything is there: two writers cannot both win
            return
        except FileExistsError:
            if filecmp.cmp(partial, place, shallow=False):
                return
        except OSError:  # a file system without links
            if not place.exists():
                partial.replace(place)
                return
            if filecmp.cmp(partial, place, shallow=False):
                return


def _handed(spool: Spool, target: Path, site: str, tell: Tell) -> None:
    try:
        count = spool.drain(lambda paths: handed_on(paths, target, site), datetime.now(UTC))
    except OSError as error:
        tell(f"{target} cannot be reached ({error.strerror}); days wait in {spool.folder}")
        return
    if count:
        tell(f"{count} finished day{'s' if count > 1 else ''} handed on to {target}")


async def _hand_on(spool: Spool, target: Path, site: str, tell: Tell) -> None:
    """Hand finished days on now and then; the copying never holds a poll up."""
    while True:
        await asyncio.to_thread(_handed, spool, target, site, tell)
        await asyncio.sleep(_TRY_AGAIN)


def _stoppable(task: asyncio.Task[PollReport]) -> None:
    """Ctrl-C and a polite end cancel the polling, so that the line is closed in good order."""
    loop = asyncio.get_running_loop()
    for name in (system_signal.SIGINT, system_signal.SIGTERM):
        with suppress(NotImplementedError, RuntimeError, ValueError):  # not on every system
            loop.add_signal_handler(name, task.cancel)


async def _listen(tag_map: TagMap, plan: Listening, report: PollReport, tell: Tell) -> None:
    spool = Spool(plan.folder)
    writer = spool.claim()
    polling = asyncio.create_task(
        poll(live_reader(tag_map), spool, plan.polls, plan.every, tell, report)
    )
    _stoppable(polling)
    handing = (
        asyncio.create_task(_hand_on(spool, plan.forward, tag_map.site, tell))
        if plan.forward else None
    )  # fmt: skip
    try:
        await asyncio.wait_for(polling, plan.seconds)
    except (TimeoutError, asyncio.CancelledError):
        pass  # the time is up, or somebody said stop: both are a good end
    finally:
        writer.close()
        if handing is not None:
            handing.cancel()


def listen(tag_map: TagMap, plan: Listening, tell: Tell = lambda words: None) -> PollReport:
    """Poll into ``plan.folder`` until the plan is done or the process is told to stop.

    Raises
    ------
    InputFileError
        If the server refuses the user at the first try, or the `field` extra is missing.
    OutputError
        If readings cannot be kept on disk.
    """
    report = PollReport()
    try:
        plan.folder.mkdir(parents=True, exist_ok=True)
        write_column_map(listening_map(tag_map), plan.folder / MAP_NAME)
        with suppress(KeyboardInterrupt):
            asyncio.run(_listen(tag_map, plan, report, tell))
    except OSError as error:
        raise OutputError(f"{plan.folder}: readings cannot be kept ({error.strerror})") from None
    return report
