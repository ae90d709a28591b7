"""`cakewright listen`: live plant data, read-only, into files that `watch` reads."""

from __future__ import annotations

import logging
import os
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from cakewright.storage.live import TagMap
    from cakewright.storage.live.poller import PollReport

__all__ = ["command"]

_FILE = click.Path(path_type=Path)
_POLICIES = ("Basic256Sha256", "Aes128Sha256RsaOaep", "Aes256Sha256RsaPss")


@click.command("listen")
@click.argument("tags", type=_FILE)
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("live"),
    show_default=True,
    help="Folder for the readings, one file a day.",
)
@click.option(
    "--browse", is_flag=True, help="List the tags an OPC UA server shows (TAGS is its address)."
)
@click.option("--once", is_flag=True, help="Read every tag once, show it, keep nothing.")
@click.option("--polls", type=click.IntRange(1), help="Stop after so many polls [until stopped].")
@click.option("--for", "seconds", type=click.FloatRange(1.0), help="Stop after so many seconds.")
@click.option(
    "--every",
    type=click.FloatRange(1.0),
    help="Seconds between polls, never under 1 [as the tag map says].",
)
@click.option(
    "--forward",
    type=click.Path(path_type=Path, file_okay=False),
    help="Hand finished days on to this folder; they wait while it is away.",
)
@click.option("--user", help="User of the OPC UA server [as the tag map says].")
@click.option("--ask-password", is_flag=True, help="Ask for it [environment CAKEWRIGHT_PASSWORD].")
@click.option("--certificate", type=_FILE, help="Own certificate (.der or .pem), OPC UA.")
@click.option("--key", type=_FILE, help="Private key of that certificate.")
@click.option("--server-certificate", type=_FILE, help="The only certificate to trust.")
@click.option(
    "--policy",
    type=click.Choice(_POLICIES),
    default=_POLICIES[0],
    show_default=True,
    help="Security policy of the line when a certificate is given.",
)
def command(
    tags: Path,
    out: Path,
    browse: bool,
    once: bool,
    polls: int | None,
    seconds: float | None,
    every: float | None,
    forward: Path | None,
    user: str | None,
    ask_password: bool,
    certificate: Path | None,
    key: Path | None,
    server_certificate: Path | None,
    policy: str,
) -> None:
    """Read the signals of TAGS from an OPC UA or Modbus TCP server, and write nothing to it.

    Readings go to disk at once, with the quality of every one that is not good. A server that
    drops is tried again; Ctrl-C ends in good order. `cakewright watch live/*.jsonl --map
    live/listen-map.toml` reads what was kept.
    """  # fmt: skip
    from cakewright.storage.live import read_tag_map

    # What the libraries of the field say of each lost byte is for their makers, not for a terminal.
    for name in ("pymodbus", "asyncua"):
        logging.getLogger(name).setLevel(logging.CRITICAL)
    if browse:
        _browse(str(tags))
        return
    chosen = read_tag_map(tags)
    chosen = replace(
        chosen,
        user=user or chosen.user,
        security=_security(certificate, key, server_certificate, policy) or chosen.security,
    )
    _check_user(chosen, ask_password=ask_password)
    if once:
        _show(chosen)
        return
    from cakewright.storage.live.listening import Listening, listen

    click.echo(f"... reading {chosen.address}, nothing is written to it; Ctrl-C stops", err=True)
    plan = Listening(out, polls, seconds, every, forward)
    report = listen(chosen, plan, lambda words: click.echo(f"... {words}", err=True))
    _tell(report, out)


def _browse(address: str) -> None:
    """The tags of a server with what each may be, to be copied into a tag map."""
    import asyncio

    from cakewright.errors import InputFileError
    from cakewright.running.proposing import propose
    from cakewright.storage.live.opcua import browse

    address = address.replace("opc.tcp:/", "opc.tcp://").replace("///", "//")
    if not address.startswith("opc.tcp://"):
        raise click.UsageError("--browse takes an address such as opc.tcp://host:4840")
    try:
        found = asyncio.run(browse(address))
    except ConnectionError as error:
        raise InputFileError(str(error)) from None
    names = [name for _, name, _ in found]
    for (node, name, value), one in zip(found, propose(names, (), {}, {}), strict=True):
        what = f"{one.key} ({100 * one.confidence:.0f} %)" if one.key else ""
        click.echo(f"{node:28} {name[:40]:40} {value:>16}  {what}")


def _security(certificate: Path | None, key: Path | None, server: Path | None, policy: str) -> str:
    if certificate is None and key is None and server is None:
        return ""
    if certificate is None or key is None:
        raise click.UsageError("--certificate and --key belong together")
    from cakewright.errors import DataError, Fault
    from cakewright.storage.live.reading import security_text

    faults: list[Fault] = []
    files = [certificate, key, *([server] if server else [])]
    text = security_text(f"{policy},SignAndEncrypt,{','.join(map(str, files))}", Path(), faults)
    if faults:
        raise DataError("security", faults)
    return text


def _check_user(tag_map: TagMap, *, ask_password: bool) -> None:
    """A user needs a password, and a password needs a line nobody can read."""
    if not tag_map.user:
        return
    if ask_password:
        os.environ["CAKEWRIGHT_PASSWORD"] = click.prompt(f"Password of {tag_map.user}",
                                                         hide_input=True, err=True)  # fmt: skip
    if not os.environ.get("CAKEWRIGHT_PASSWORD"):
        raise click.UsageError(
            f"user {tag_map.user!r} has no password: set CAKEWRIGHT_PASSWORD or --ask-password"
        )
    if not tag_map.security:
        click.echo("Care: user without certificate; the line may be open to readers.", err=True)


def _show(tag_map: TagMap) -> None:
    from cakewright.errors import InputFileError
    from cakewright.quantities import from_si
    from cakewright.running.signals import signal
    from cakewright.storage.live.listening import read_once

    try:
        readings = read_once(tag_map)
    except ConnectionError as error:
        raise InputFileError(str(error)) from None
    for one in readings:
        house = signal(one.key).house
        value = "–"
        if one.value is not None:
            value = f"{float(from_si(one.value, house.unit, house.shown)):.4g} {house.shown}"
        why = f"  {one.why}" if one.why else ""
        click.echo(f"{signal(one.key).label:32} {value:>18}  {one.quality.value}{why}")


def _tell(report: PollReport, out: Path) -> None:
    from cakewright.storage.live.listening import MAP_NAME

    click.echo(
        f"{report.polls} polls: {report.good} readings good, {report.poor} not; "
        f"connected {report.reconnects} times, lost {report.lost} times."
    )
    click.echo(f"Kept in {out}; for `cakewright watch {out}/*.jsonl --map {out / MAP_NAME}`")
    if not report.reconnects:
        click.echo("cakewright: the server never answered", err=True)
        raise SystemExit(1)
