"""The outermost boundary of the workbench: what nobody foresaw becomes words and an id."""

from __future__ import annotations

import json
import logging

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from cakewright.storage.bug_report import bug_id, keep_report

__all__ = ["Boundary"]


class Boundary:
    """Middleware round everything: no traceback leaves the server, and none is lost."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        started = False

        async def outward(message: Message) -> None:
            nonlocal started
            started = started or message["type"] == "http.response.start"
            await send(message)

        try:
            await self.app(scope, receive, outward)
        except Exception as error:
            if scope["type"] != "http":
                raise
            key = bug_id(error)
            kept = keep_report(error)
            logging.getLogger(__name__).error("bug %s; report: %s", key, kept)
            if not started:
                await _answer(send, key)


async def _answer(send: Send, key: str) -> None:
    words = (
        f"this should not have happened (bug {key}); what was confirmed before is safe. "
        "Undo the last change, and report the bug with its id"
    )
    body = json.dumps({"error": words}).encode("utf-8")
    headers = [
        (b"content-type", b"application/json"),
        (b"content-length", str(len(body)).encode()),
        (b"cache-control", b"no-store"),
        (b"x-content-type-options", b"nosniff"),
    ]
    await send({"type": "http.response.start", "status": 500, "headers": headers})
    await send({"type": "http.response.body", "body": body})
