"""Read-only OPC UA: values with status and source time. No call here can write."""

from __future__ import annotations

import math
import os
import time
from collections.abc import Sequence
from contextlib import suppress
from datetime import UTC
from typing import Any

from cakewright.errors import InputFileError
from cakewright.storage.live.reading import Quality, Reading, Tag, TagMap, in_si

__all__ = ["OpcUaReader"]

_STALE_POLLS = 3


def _library() -> Any:
    try:
        import asyncua
    except ImportError:
        raise InputFileError(
            "reading OPC UA needs the 'field' extra: pip install 'cakewright[field]'"
        ) from None
    untyped: Any = asyncua
    return untyped.Client


class OpcUaReader:
    """One connection to one server; `read` gives a reading per tag, good or not."""

    def __init__(self, tag_map: TagMap, timeout: float = 4.0) -> None:
        self.tag_map = tag_map
        self._timeout = timeout
        self._client: Any = None

    async def connect(self) -> None:
        """Open a session with the user, certificate and security the tag map names.

        The password comes from the environment (CAKEWRIGHT_PASSWORD), never from a file;
        ``security`` reads ``Basic256Sha256,SignAndEncrypt,certificate,key[,server certificate]``.

        Raises
        ------
        InputFileError
            If the server refuses the user.
        """
        client = _library()(self.tag_map.address, timeout=self._timeout)
        if self.tag_map.security:
            await client.set_security_string(self.tag_map.security)
        if self.tag_map.user:
            client.set_user(self.tag_map.user)
            client.set_password(os.environ.get("CAKEWRIGHT_PASSWORD", ""))
        from asyncua.ua import uaerrors

        try:
            await client.connect()
        except (
            uaerrors.BadUserAccessDenied,
            uaerrors.BadIdentityTokenInvalid,
            uaerrors.BadIdentityTokenRejected,
        ) as error:
            raise InputFileError(
                f"{self.tag_map.address} refuses user {self.tag_map.user!r} "
                f"({type(error).__name__}); check the user and CAKEWRIGHT_PASSWORD"
            ) from None
        self._client = client

    async def close(self) -> None:
        """Close the session; a server that is gone is no error."""
        client, self._client = self._client, None
        if client is not None:
            with suppress(Exception):  # a dead link cannot be closed any better
                await client.disconnect()

    async def read(self) -> Sequence[Reading]:
        """One reading per tag.

        Raises
        ------
        ConnectionError
            If the session is gone.
        """
        if self._client is None:
            raise ConnectionError("no OPC UA session")
        return [await self._one(tag) for tag in self.tag_map.tags]

    async def _one(self, tag: Tag) -> Reading:
        from asyncua.ua.uaerrors import UaStatusCodeError

        now = time.time()
        try:
            node = self._client.get_node(tag.node)
            got = await node.read_data_value(raise_on_bad_status=False)
        except UaStatusCodeError as error:
            return Reading(tag.key, None, now, Quality.BAD, type(error).__name__)
        return self._judged(tag, got, now)

    def _judged(self, tag: Tag, got: Any, now: float) -> Reading:
        status = got.StatusCode
        stamp = got.SourceTimestamp or got.ServerTimestamp
        moment = stamp.replace(tzinfo=UTC).timestamp() if stamp else now
        if status is not None and not status.is_good():
            poor = Quality.UNCERTAIN if status.is_uncertain() else Quality.BAD
            return Reading(tag.key, None, moment, poor, status.name)
        raw = got.Value.Value if got.Value is not None else None
        if not isinstance(raw, int | float) or not math.isfinite(raw):
            return Reading(tag.key, None, moment, Quality.BAD, "not a number")
        value = in_si(tag, float(raw))
        if moment > now + 60:
            return Reading(tag.key, value, now, Quality.UNCERTAIN, "time stamp in the future")
        if not tag.held and now - moment > max(_STALE_POLLS * self.tag_map.every, 60):
            return Reading(tag.key, value, moment, Quality.UNCERTAIN, "stale")
        return Reading(tag.key, value, moment, Quality.GOOD)


async def browse(address: str, most: int = 500) -> list[tuple[str, str, str]]:
    """Variables a server shows, read-only: node, name with its path, present value as text.

    Raises
    ------
    ConnectionError
        If the server does not answer.
    """
    from asyncua import ua

    client = _library()(address, timeout=5)
    found: list[tuple[str, str, str]] = []
    try:
        await client.connect()
        waiting = [(client.nodes.objects, "")]
        seen: set[str] = set()
        while waiting and len(found) < most:
            node, path = waiting.pop(0)
            for child in await node.get_children():
                key = child.nodeid.to_string()
                if key in seen or child.nodeid.NamespaceIndex == 0:
                    continue
                seen.add(key)
                name = f"{path}/{(await child.read_browse_name()).Name}".strip("/")
                if await child.read_node_class() == ua.NodeClass.Variable:
                    got = await child.read_data_value(raise_on_bad_status=False)
                    value = got.Value.Value if got.Value is not None else None
                    found.append((key, name, str(value)[:40]))
                else:
                    waiting.append((child, name))
    except (OSError, TimeoutError) as error:
        raise ConnectionError(f"{address} does not answer ({error})") from None
    finally:
        with suppress(Exception):
            await client.disconnect()
    return found
