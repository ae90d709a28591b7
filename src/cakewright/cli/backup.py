"""`cakewright backup`, `verify`, `restore`: a whole store in one file, checked, and put back."""

from __future__ import annotations

from pathlib import Path

import click

__all__ = ["command", "restore", "verify"]

_STORE = click.option(
    "--store",
    default=None,
    metavar="PATH or ADDRESS",
    help="File of the studies, or postgresql+psycopg://user@host/name. "
    "[default: CAKEWRIGHT_STORE, else a file in the user's data folder]",
)


def _address(store: str | None) -> str:
    from cakewright.storage.store import default_address

    given = store or default_address()
    return given if "://" in given else f"sqlite:///{Path(given).expanduser()}"


def _logs(address: str) -> Path:
    from cakewright.storage.store.engine import logs_folder

    return logs_folder(address)


@click.command("backup")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@_STORE
@click.option("--logs/--no-logs", default=True, help="The operating logs too.")
def command(file: Path, store: str | None, logs: bool) -> None:
    """Write everything in the store into a new FILE while people go on working.

    Whoever has the file can read every study: keep it where the store itself would be kept.
    """
    from cakewright.storage.store import open_engine
    from cakewright.storage.store.backup import backup_store, check_backup

    address = _address(store)
    engine = open_engine(address)
    backup_store(engine, file, _logs(address) if logs else None)
    found = check_backup(file)
    engine.dispose()
    click.echo(f"{file}: {found}; read back and checked.")


@click.command("verify")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False), required=False)
@_STORE
def verify(file: Path | None, store: str | None) -> None:
    """Check a backup FILE against its hashes, or the store itself where no file is named."""
    from cakewright.storage.store import open_engine
    from cakewright.storage.store.backup import check_backup, check_store

    if file:
        found = check_backup(file)
    else:
        engine = open_engine(_address(store))
        found = check_store(engine)
        engine.dispose()
    click.echo(f"{file or 'the store'}: {found}")
    for fault in found.faults:
        click.echo(f"  {fault}", err=True)
    if found.faults:
        raise SystemExit(1)
    click.echo("No fault found.")


@click.command("restore")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@_STORE
@click.option("--logs/--no-logs", default=True, help="The operating logs too.")
def restore(file: Path, store: str | None, logs: bool) -> None:
    """Put a backup FILE into a new or empty store; nothing that is there is replaced."""
    from cakewright.storage.store import open_engine
    from cakewright.storage.store.backup import check_store, restore_store

    address = _address(store)
    engine = open_engine(address)
    found = restore_store(file, engine, _logs(address) if logs else None)
    faults = check_store(engine).faults
    engine.dispose()
    for fault in faults:
        click.echo(f"  {fault}", err=True)
    click.echo(f"Restored: {found}.")
