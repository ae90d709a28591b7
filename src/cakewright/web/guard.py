"""The door: who may ask, from which page, under which host name, and how much may be sent."""

from __future__ import annotations

import hashlib
import hmac
import ipaddress
import json
import re
import secrets
from collections.abc import Mapping
from http.cookies import SimpleCookie
from urllib.parse import parse_qs, quote, urlsplit

from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from cakewright.storage.store.people import Person, Role
from cakewright.web.settings import Settings
from cakewright.web.team import Team

__all__ = ["CSRF_HEADER", "POLICY", "Guard", "csrf_token"]

CSRF_HEADER = "x-cakewright-token"
HEALTH = "/health"
"""Says that the server lives, to whoever watches over it; needs no token and tells nothing else."""
VISITOR, PASS = "cakewright_visitor", "cakewright_pass"
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
_HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=()",
}
_SAFE = ("GET", "HEAD", "OPTIONS")
_STUDY = re.compile(r"/api/studies/[a-z0-9]{8,32}/?")
_VISITOR = re.compile(r"[0-9a-f]{32}$")


def csrf_token(secret: bytes, visitor: str) -> str:
    """Token a page of ours carries; other sites can neither read nor guess it."""
    return hmac.new(secret, b"csrf " + visitor.encode(), hashlib.sha256).hexdigest()


class _Refused(Exception):  # noqa: N818 - an answer, not an error
    """A request that gets an answer here and goes no further."""

    def __init__(self, status: int, words: str) -> None:
        self.status, self.words = status, words


class Guard:
    """Middleware round the whole workbench."""

    def __init__(self, app: ASGIApp, settings: Settings, team: Team | None = None) -> None:
        self.app, self.settings, self.team = app, settings, team

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "websocket":
            await send({"type": "websocket.close", "code": 1008})
            return
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = {k.decode("latin-1"): v.decode("latin-1") for k, v in scope["headers"]}
        cookies = _cookies(headers.get("cookie", ""))
        visitor = cookies.get(VISITOR, "")
        known = bool(_VISITOR.match(visitor))
        visitor = visitor if known else secrets.token_hex(16)
        scope["state"] = {**scope.get("state", {}), "visitor": visitor, "author": visitor[:8]}
        new = [] if known else [self._cookie(VISITOR, visitor)]
        outward = _Outward(send, new)
        try:
            self._check_host(headers)
            brought = await self._brought(scope)
            if brought:
                await _redirect(outward, scope["path"], self._cookie(PASS, brought))
                return
            person = None
            if scope["path"] != HEALTH:
                person = await self._check_pass(headers, cookies)
            if person is not None:
                _check_role(scope, person)
                scope["state"]["author"] = person.name
            self._check_origin(scope, headers, visitor)
            most = self._largest(scope)
            self._check_length(headers, most)
            await self.app(scope, _Counted(receive, most), outward)
            if person is not None and self.team is not None and outward.status < 400:
                await self.team.note(person, scope["method"], scope["path"])
        except _Refused as refused:
            await _answer(outward, scope, refused)

    def _check_host(self, headers: Mapping[str, str]) -> None:
        host = _host_name(f"//{headers.get('host', '')}")
        settings = self.settings
        if host in ("localhost", "127.0.0.1", "::1", settings.host, *settings.names):
            return
        # A name can be bent to point here; an address cannot, so addresses pass when bound widely.
        if not settings.local and _is_address(host):
            return
        raise _Refused(
            400,
            f"this server does not answer to the name {host[:80]!r}; use the address it printed",
        )

    def _pass(self) -> str:
        return hmac.new(
            self.settings.secret, b"pass " + self.settings.token.encode(), "sha256"
        ).hexdigest()

    async def _brought(self, scope: Scope) -> str:
        """What the cookie of a good token in the address holds; empty where there is none."""
        if not self.settings.token or scope["method"] != "GET":
            return ""
        token = parse_qs(scope["query_string"].decode("latin-1")).get("token", [""])[0]
        if hmac.compare_digest(token.encode(), self.settings.token.encode()):
            return self._pass()
        return token if await self._person(token) is not None else ""

    async def _person(self, token: str) -> Person | None:
        return await self.team.person(token) if self.team is not None and token else None

    async def _check_pass(
        self, headers: Mapping[str, str], cookies: Mapping[str, str]
    ) -> Person | None:
        """Whoever asks, where they are a person of the team; nobody for the server's own token."""
        token = self.settings.token
        if not token:
            return None
        shown = cookies.get(PASS, "")
        bearer = headers.get("authorization", "").removeprefix("Bearer ")
        if hmac.compare_digest(shown.encode(), self._pass().encode()):
            return None
        if hmac.compare_digest(bearer.encode(), token.encode()):
            return None
        person = await self._person(bearer) or await self._person(shown)
        if person is not None:
            return person
        raise _Refused(401, "open the address with the token that the server printed at its start")

    def _check_origin(self, scope: Scope, headers: Mapping[str, str], visitor: str) -> None:
        if scope["method"] in _SAFE:
            return
        origin, site = headers.get("origin"), headers.get("sec-fetch-site")
        if origin is not None and _place(origin) != headers.get("host", ""):
            raise _Refused(403, "this change was asked for by another site; it was refused")
        if site not in (None, "same-origin", "none"):
            raise _Refused(403, "this change was asked for by another site; it was refused")
        token = headers.get(CSRF_HEADER, "")
        wanted = csrf_token(self.settings.secret, visitor)
        if not hmac.compare_digest(token.encode(), wanted.encode()):
            raise _Refused(
                403, f"the header {CSRF_HEADER} is missing or old; reload the page and try again"
            )

    def _largest(self, scope: Scope) -> int:
        """Logs go to disk as they come and may be large; nothing else may."""
        log = scope["method"] == "POST" and scope["path"].endswith("/running/logs")
        return self.settings.largest_log if log else self.settings.largest_body

    def _check_length(self, headers: Mapping[str, str], most: int) -> None:
        length = headers.get("content-length", "0")
        if not length.isdigit() or int(length) > most:
            raise _Refused(413, _too_large(most))

    def _cookie(self, name: str, value: str) -> bytes:
        text = f"{name}={value}; Path=/; HttpOnly; SameSite=Strict"
        return (text + "; Secure" if self.settings.secure else text).encode()


def _check_role(scope: Scope, person: Person) -> None:
    """What a role may not do is refused in words."""
    change = scope["method"] not in _SAFE and scope["path"] != "/api/check"
    if change and person.role is Role.LOOK:
        raise _Refused(403, "your token lets you look, not change; ask whoever administers this")
    removal = scope["method"] == "DELETE" and _STUDY.fullmatch(scope["path"])
    if removal and person.role is not Role.ADMINISTER:
        raise _Refused(403, "only who administers this may put a study in the bin")


def _host_name(address: str) -> str:
    """Host name in an address; empty where it is none."""
    try:
        return urlsplit(address).hostname or ""
    except ValueError:
        return ""


def _place(origin: str) -> str | None:
    """Host and port of an origin; None where it is none."""
    try:
        return urlsplit(origin).netloc
    except ValueError:
        return None


def _is_address(host: str) -> bool:
    try:
        ipaddress.ip_address(host)
    except ValueError:
        return False
    return True


def _cookies(header: str) -> dict[str, str]:
    jar = SimpleCookie()
    try:
        jar.load(header)
    except Exception:
        return {}
    return {name: morsel.value for name, morsel in jar.items()}


def _too_large(limit: int) -> str:
    return f"more than {limit // 1_000_000} MB were sent; send less, or a smaller file"


class _Counted:
    """The body as it comes in, refused as soon as it is larger than it may be."""

    def __init__(self, receive: Receive, limit: int) -> None:
        self.receive, self.limit, self.seen = receive, limit, 0

    async def __call__(self) -> Message:
        message = await self.receive()
        self.seen += len(message.get("body", b""))
        if self.seen > self.limit:
            # The one kind of error that the reader of a body passes on as it is.
            raise HTTPException(413, _too_large(self.limit))
        return message


class _Outward:
    """The answer as it goes out, with the headers every answer carries."""

    def __init__(self, send: Send, cookies: list[bytes]) -> None:
        self.send, self.cookies, self.status = send, cookies, 0

    async def __call__(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            self.status = message["status"]
            present = {key.lower() for key, _ in message.get("headers", [])}
            added = [
                (k.encode(), v.encode()) for k, v in _HEADERS.items() if k.encode() not in present
            ]
            if b"cache-control" not in present:
                added.append((b"cache-control", b"no-store"))
            added += [(b"set-cookie", cookie) for cookie in self.cookies]
            message = {**message, "headers": [*message.get("headers", []), *added]}
        await self.send(message)


async def _redirect(send: Send, path: str, cookie: bytes) -> None:
    # Browsers take a backslash for a slash, and two of them lead to another host.
    location = "/" + quote(path.lstrip("/\\"), safe="/")
    headers = [(b"location", location.encode("ascii")), (b"set-cookie", cookie)]
    await send({"type": "http.response.start", "status": 303, "headers": headers})
    await send({"type": "http.response.body", "body": b""})


async def _answer(send: Send, scope: Scope, refused: _Refused) -> None:
    as_json = scope["path"].startswith("/api/") or scope["method"] not in _SAFE
    body = json.dumps({"error": refused.words}) if as_json else f"Cakewright: {refused.words}\n"
    kind = b"application/json" if as_json else b"text/plain; charset=utf-8"
    headers = [(b"content-type", kind), (b"content-length", str(len(body.encode())).encode())]
    await send({"type": "http.response.start", "status": refused.status, "headers": headers})
    await send({"type": "http.response.body", "body": body.encode()})
