"""One line of JSON per request: when, what kind, how it ended, how long. No people's data.

Neither addresses nor names, queries, titles or texts are written; a route stands for its pages,
without the study's id.
"""

from __future__ import annotations

import json
import logging
import logging.handlers
import time
from datetime import UTC, datetime

from starlette.types import ASGIApp, Message, Receive, Scope, Send

__all__ = ["RequestLog"]

_LARGEST, _KEPT = 10_000_000, 5


class RequestLog:
    """Middleware that writes the log, the last five files of ten megabytes kept."""

    def __init__(self, app: ASGIApp, file: str) -> None:
        self.app = app
        self.log = logging.getLogger(f"cakewright.requests.{file}")
        self.log.setLevel(logging.INFO)
        self.log.propagate = False
        if not self.log.handlers:
            self.log.addHandler(
                logging.handlers.RotatingFileHandler(
                    file, maxBytes=_LARGEST, backupCount=_KEPT, encoding="utf-8", delay=True
                )
            )

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        start, status, size = time.monotonic(), 0, 0

        async def outward(message: Message) -> None:
            nonlocal status, size
            status = message.get("status", status)
            size += len(message.get("body", b""))
            await send(message)

        try:
            await self.app(scope, receive, outward)
        finally:
            line = {
                "at": datetime.now(UTC).isoformat(timespec="milliseconds"),
                "method": scope["method"],
                "route": getattr(scope.get("route"), "path_format", "none"),
                "status": status,
                "ms": round(1000 * (time.monotonic() - start), 1),
                "bytes": size,
            }
            self.log.info(json.dumps(line))
