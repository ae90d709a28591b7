"""Connections of the server: whoever is slow on purpose, or takes too many, is let go."""

from __future__ import annotations

import asyncio
import time
from collections import Counter
from typing import ClassVar

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

__all__ = ["Connections"]


class Connections(H11Protocol):
    """One connection, watched.

    A head has ten seconds, the first idle wait included; a body must come at a kilobyte a second
    on average after twenty; an answer nobody takes is dropped after a minute. One address holds at
    most 64 connections, all together 512.
    """

    head_seconds = 10.0
    body_grace, body_rate = 20.0, 1000.0
    take_seconds = 60.0
    most_of_one, most = 64, 512
    look_seconds = 1.0
    _open: ClassVar[Counter[str]] = Counter()

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Take a connection, or let it go at once where there are too many."""
        super().connection_made(transport)
        self._watch: asyncio.TimerHandle | None = None
        self._who = self.client[0] if self.client else ""
        self._counted = False
        self._since = self._taken_at = time.monotonic()
        self._received = self._left = 0
        if self._open[self._who] >= self.most_of_one or self._open.total() >= self.most:
            transport.abort()
            return
        self._open[self._who] += 1
        self._counted = True
        self._look_again()

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget a connection."""
        if self._watch is not None:
            self._watch.cancel()
        if self._counted:
            self._open[self._who] -= 1
            if self._open[self._who] <= 0:
                del self._open[self._who]
            self._counted = False
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Count what comes, for the pace of a body."""
        if self._waiting_for_head():
            self._received = 0
        self._received += len(data)
        super().data_received(data)

    def on_response_complete(self) -> None:
        """The next head has its own time."""
        self._since = time.monotonic()
        super().on_response_complete()

    def _look_again(self) -> None:
        self._watch = self.loop.call_later(self.look_seconds, self._look)

    def _look(self) -> None:
        if self.transport.is_closing():
            return
        now = time.monotonic()
        left = self.transport.get_write_buffer_size()
        if left == 0 or left < self._left:
            self._taken_at = now
        self._left = left
        waited = now - self._since
        if self._waiting_for_head() and waited > self.head_seconds:
            self._let_go()
        elif self.conn.their_state is h11.SEND_BODY and waited > self.body_grace:
            if self._received / waited < self.body_rate:
                self._let_go()
            else:
                self._look_again()
        elif now - self._taken_at > self.take_seconds:
            self.transport.abort()
        else:
            if self.conn.their_state is h11.DONE:
                self._since = now
            self._look_again()

    def _waiting_for_head(self) -> bool:
        answered = self.cycle is None or self.cycle.response_complete
        return self.conn.their_state is h11.IDLE and answered

    def _let_go(self) -> None:
        words = b"too slow; ask again"
        head = b"HTTP/1.1 408 Request Timeout\r\nconnection: close\r\ncontent-length: %d\r\n\r\n"
        self.transport.write(head % len(words) + words)
        self.transport.close()
