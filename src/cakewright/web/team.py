"""Who a token belongs to, and the trail of what a team's people did."""

from __future__ import annotations

import re
import time
from collections import OrderedDict

import sqlalchemy as sa
from starlette.concurrency import run_in_threadpool

from cakewright.storage.store.people import Person, note_act, person_of

__all__ = ["Team"]

_REMEMBERED_SECONDS, _MOST_REMEMBERED = 5.0, 500
_LONGEST_TOKEN = 100
# What edits keep with each version themselves.
_KEPT_WITH_VERSIONS = ("/edit", "/undo", "/redo", "/text")


class Team:
    """People of one store, each token remembered for a few seconds."""

    def __init__(self, engine: sa.Engine) -> None:
        self.engine = engine
        self._known: OrderedDict[str, tuple[float, Person | None]] = OrderedDict()

    async def person(self, token: str) -> Person | None:
        """Whose good token this is."""
        if len(token) > _LONGEST_TOKEN:
            return None
        seen, found = self._known.get(token, (0.0, None))
        if time.monotonic() - seen > _REMEMBERED_SECONDS or token not in self._known:
            found = await run_in_threadpool(person_of, self.engine, token)
            self._known[token] = time.monotonic(), found
            while len(self._known) > _MOST_REMEMBERED:
                self._known.popitem(last=False)
        return found if found is not None and found.good else None

    async def note(self, person: Person, method: str, path: str) -> None:
        """Keep a change that no version keeps: files brought, studies made or put in the bin."""
        if method in ("GET", "HEAD", "OPTIONS", "PATCH") or path.endswith(_KEPT_WITH_VERSIONS):
            return
        match = re.match(r"/(?:api/)?studies/([a-z0-9]{8,32})(/.*)?$", path)
        study, rest = (match[1], match[2] or "") if match else ("", path)
        await run_in_threadpool(
            note_act, self.engine, person.name, study, method.lower(), rest[:200]
        )
