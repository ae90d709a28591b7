"""`cakewright serve`: the workbench in a browser on this machine."""

from __future__ import annotations

import gc
import os
import signal
import socket
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from cakewright.web import Settings

__all__ = ["command"]


@click.command("serve")
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to bind to.")
@click.option("--port", type=click.IntRange(0, 65535), default=8765, show_default=True)
@click.option(
    "--store",
    default=None,
    metavar="PATH or ADDRESS",
    help="File of the studies, or postgresql+psycopg://user@host/name. "
    "[default: CAKEWRIGHT_STORE, else a file in the user's data folder]",
)
@click.option("--allow-host", multiple=True, help="Another host name to answer to.")
@click.option("--tls-certificate", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--tls-key", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option(
    "--press/--no-press", default=True, help="Work out the press's physics too (slow at first)."
)
@click.option(
    "--log",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write one line of JSON for each request there; no names, texts or addresses.",
)
@click.option("--open/--no-open", "open_browser", default=True, help="Open a browser window.")
def command(
    host: str,
    port: int,
    store: str | None,
    allow_host: tuple[str, ...],
    tls_certificate: Path | None,
    tls_key: Path | None,
    press: bool,
    log: Path | None,
    open_browser: bool,
) -> None:
    """Open the workbench in a browser on this machine; stop it with Ctrl-C.

    Studies are kept in one file under your data folder. Nothing leaves this machine. Another
    address than 127.0.0.1 lets others in: they then need the token that is printed.
    """
    import uvicorn

    from cakewright.web import create_app
    from cakewright.web.connections import Connections

    if bool(tls_certificate) != bool(tls_key):
        raise click.UsageError("--tls-certificate and --tls-key go together")
    settings = _settings(host, store, allow_host, press=press, secure=bool(tls_certificate))
    if log:
        settings = replace(settings, request_log=str(log))
    app = create_app(settings)
    listener = _listener(host, port)
    address = _address(settings, host, listener.getsockname()[1])
    if not settings.local:
        _warn(settings)
    click.echo(f"Workbench: {address}\nStudies:   {_plain(settings.store)}")
    click.echo("Stop it with Ctrl-C.")
    if open_browser and settings.local and os.environ.get("DISPLAY", "x"):
        _open_soon(address)
    # Answers to a person must not wait long for evaluations in other threads.
    sys.setswitchinterval(0.001)
    _look_for_rubbish_seldom()
    config = uvicorn.Config(
        app,
        http=Connections,
        ws="none",
        log_level="warning",
        access_log=False,
        server_header=False,
        ssl_certfile=str(tls_certificate) if tls_certificate else None,
        ssl_keyfile=str(tls_key) if tls_key else None,
        timeout_graceful_shutdown=3,
        h11_max_incomplete_event_size=64 * 1024,
    )
    # The server stops by itself at these signals, then sends them on to whoever listened before.
    for sign in (signal.SIGINT, signal.SIGTERM):
        signal.signal(sign, lambda *_: None)
    uvicorn.Server(config).run(sockets=[listener])
    click.echo("Stopped. Everything confirmed is kept.")


def _look_for_rubbish_seldom() -> None:
    """What is kept for the pages is large and holds hardly any circles: to look all of it through
    for some after every few thousand new objects would hold up an answer (a fifth of a second)."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 100)


def _settings(
    host: str, store: str | None, names: tuple[str, ...], *, press: bool, secure: bool
) -> Settings:
    import secrets

    from cakewright.storage.store import default_address
    from cakewright.web import Settings
    from cakewright.web.settings import is_loopback

    token = "" if is_loopback(host) else secrets.token_urlsafe(24)
    return Settings(
        store=store or default_address(),
        host=host,
        token=token,
        names=names,
        secure=secure,
        press=press,
        apart=os.environ.get("CAKEWRIGHT_PROCESSES", "") != "1",
    )


def _listener(host: str, port: int) -> socket.socket:
    """The socket, bound before anything is printed, so that a busy port is said at once."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    if os.name == "posix":
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((host, port))
    except OSError as error:
        listener.close()
        raise click.ClickException(
            f"{host}:{port} cannot be bound ({error.strerror}); another server may run there: "
            "stop it, or choose --port 0 for any free one"
        ) from None
    return listener


def _address(settings: Settings, host: str, port: int) -> str:
    shown = {"0.0.0.0": "127.0.0.1", "::": "[::1]"}.get(host, f"[{host}]" if ":" in host else host)
    query = f"?token={settings.token}" if settings.token else ""
    return f"{'https' if settings.secure else 'http'}://{shown}:{port}/{query}"


def _warn(settings: Settings) -> None:
    click.echo(
        "Warning: other machines can reach this server. Whoever has the address with its token "
        "can read and change every study here.",
        err=True,
    )
    if not settings.secure:
        click.echo(
            "Warning: without TLS the token and the studies cross the network in the clear. Give "
            "--tls-certificate and --tls-key, or put the server behind a TLS proxy.",
            err=True,
        )


def _plain(store: str) -> str:
    """The store without a password."""
    from sqlalchemy import make_url

    return make_url(store).render_as_string(hide_password=True) if "://" in store else store


def _open_soon(address: str) -> None:
    import threading
    import webbrowser

    threading.Timer(0.8, webbrowser.open, (address,)).start()
