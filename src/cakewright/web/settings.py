"""How the workbench is served: the store, and who may reach it."""

from __future__ import annotations

import ipaddress
import secrets
from dataclasses import dataclass, field
from pathlib import Path

__all__ = ["Settings", "is_loopback"]

MEBIBYTE = 1024 * 1024


def is_loopback(host: str) -> bool:
    """Whether only this machine can reach a bound address."""
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return host == "localhost"


@dataclass(frozen=True, slots=True)
class Settings:
    """One server.

    ``token`` is asked of every visitor when it is not empty; it must not be empty for an address
    other machines can reach. ``names`` are further host names the server answers to. ``press``
    False leaves the press's physics out of everything (much quicker). ``apart`` False evaluates in
    this one process, where background work holds up what people wait for. ``logs`` is the folder of
    the operating logs; when empty it lies beside the store. ``request_log`` takes a line
    of JSON per request.
    """

    store: str
    host: str = "127.0.0.1"
    token: str = ""
    names: tuple[str, ...] = ()
    secure: bool = False
    largest_body: int = 9 * MEBIBYTE
    largest_log: int = 200 * MEBIBYTE
    logs: str = ""
    request_log: str = ""
    most_samples: int = 2048
    press: bool = True
    apart: bool = True
    secret: bytes = field(default_factory=lambda: secrets.token_bytes(32), repr=False)

    @property
    def local(self) -> bool:
        """True when only this machine can reach the server."""
        return is_loopback(self.host)

    @property
    def log_folder(self) -> Path:
        """Where operating logs lie: beside a store that is a file, else with the user's data."""
        if self.logs:
            return Path(self.logs)
        from cakewright.storage.store.engine import logs_folder

        return logs_folder(self.store)
