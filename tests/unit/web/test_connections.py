"""A real server on a local port: slow visitors, too many, health, log, and how it stops."""

from __future__ import annotations

import json
import socket
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import uvicorn
from starlette.testclient import TestClient

from cakewright.web import Settings, create_app
from cakewright.web.connections import Connections


class Quick(Connections):
    """The same bounds on a clock that runs fast."""

    head_seconds, body_grace, look_seconds = 0.3, 0.3, 0.05
    most_of_one = 8


async def _answers(scope: Any, receive: Any, send: Any) -> None:
    if scope["type"] == "http":
        more = True
        while more:
            more = (await receive()).get("more_body", False)
        await send(
            {"type": "http.response.start", "status": 200, "headers": [(b"content-length", b"2")]}
        )
        await send({"type": "http.response.body", "body": b"ok"})


@pytest.fixture
def port() -> Iterator[int]:
    """Port of a small server with the watched connections."""
    listener = socket.create_server(("127.0.0.1", 0))
    config = uvicorn.Config(_answers, http=Quick, ws="none", lifespan="off", log_level="error")
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, args=([listener],), daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    yield listener.getsockname()[1]
    server.should_exit = True
    thread.join(5)


def _closed(link: socket.socket, within: float) -> bool:
    link.settimeout(within)
    try:
        while link.recv(1000):
            pass
    except TimeoutError:
        return False
    except OSError:
        return True
    return True


@pytest.mark.parametrize(
    "sent",
    [b"", b"GET / HT", b"POST / HTTP/1.1\r\nHost: a\r\nContent-Length: 100000\r\n\r\nabc"],
    ids=["nothing", "half a head", "a slow body"],
)
def test_the_slow_are_let_go(port: int, sent: bytes) -> None:
    """Silence, half a head, and a body that drips: each is closed in its time."""
    with socket.create_connection(("127.0.0.1", port)) as link:
        link.sendall(sent)
        assert _closed(link, 3.0)


def test_a_quick_visitor_is_served(port: int) -> None:
    """Who asks in time is answered, twice on one connection."""
    with socket.create_connection(("127.0.0.1", port)) as link:
        for _ in range(2):
            link.sendall(b"POST / HTTP/1.1\r\nHost: a\r\nContent-Length: 3\r\n\r\nabc")
            answer = b""
            while not answer.endswith(b"ok"):
                answer += link.recv(1000)
            assert b"200 OK" in answer


def test_one_address_has_so_many_connections(port: int) -> None:
    """The ninth connection of one address is let go; the first eight stay."""
    links = [socket.create_connection(("127.0.0.1", port)) for _ in range(8)]
    time.sleep(0.1)
    with socket.create_connection(("127.0.0.1", port)) as ninth:
        assert _closed(ninth, 0.15)
    links[0].sendall(b"GET / HTTP/1.1\r\nHost: a\r\n\r\n")
    assert b"200 OK" in links[0].recv(1000)
    for link in links:
        link.close()


def test_health_needs_no_token_and_tells_nothing(strangers: TestClient) -> None:
    """Whoever watches over the server learns that it lives; pages stay shut."""
    answer = strangers.get("/health")
    assert answer.status_code == 200
    assert set(answer.json()) == {"status", "version"}
    assert strangers.get("/").status_code == 401


def test_the_log_holds_no_data_of_people(tmp_path: Path) -> None:
    """A line of JSON per request: route, status, time; no id, query, title or address."""
    log = tmp_path / "requests.log"
    settings = Settings(store=f"sqlite:///{tmp_path / 's.sqlite'}", request_log=str(log),
                        press=False, apart=False)  # fmt: skip
    with TestClient(create_app(settings), base_url="http://127.0.0.1:8765") as client:
        session = client.get("/api/session").json()
        client.headers[session["header"]] = session["token"]
        study = client.post("/api/studies", json={"demo": "reservoir"}).json()
        client.get(f"/studies/{study['id']}/text?secret=recipe")
    text = log.read_text(encoding="utf-8")
    lines = [json.loads(line) for line in text.splitlines()]
    assert {line["status"] for line in lines} <= {200, 201}
    assert lines[1]["route"] == "/api/studies"
    for word in (study["id"], "recipe", study["title"], "testclient"):
        assert word not in text
