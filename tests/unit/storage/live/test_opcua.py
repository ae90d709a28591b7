"""The OPC UA reader against a real server on this machine that notes every write."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Coroutine, Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from tests.unit.storage.live.apart import run_apart

from cakewright.storage.live import Quality, Spool, TagMap, parse_tag_map, poll
from cakewright.storage.live.opcua import OpcUaReader

asyncua: Any = pytest.importorskip("asyncua")
ua: Any = asyncua.ua
PORT, DOOR = 48410, 48411


def _tag_map(port: int) -> TagMap:
    return parse_tag_map(
        f"""
site = "invented"
address = "opc.tcp://127.0.0.1:{port}/"
every_s = 1
[tags.feed_flow]
unit = "m3/h"
node = "ns=2;s=flow"
[tags.screw_torque]
unit = "percent"
node = "ns=2;s=torque"
[tags.cake_solids]
unit = "%"
node = "ns=2;s=missing"
"""
    )


def _certificate(folder: Path, name: str) -> None:
    """A self-signed certificate and its key, as two files."""
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import rsa

    key = rsa.generate_private_key(public_exponent=65537, key_size=2048)
    owner = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, f"invented {name}")])
    now = datetime.now(UTC)
    uri = x509.SubjectAlternativeName([x509.UniformResourceIdentifier(f"urn:invented:{name}")])
    builder = x509.CertificateBuilder(owner, owner, key.public_key(), x509.random_serial_number())
    builder = builder.not_valid_before(now - timedelta(days=1))
    builder = builder.not_valid_after(now + timedelta(days=2)).add_extension(uri, critical=False)
    signed = builder.sign(key, hashes.SHA256())
    der, pem = serialization.Encoding.DER, serialization.Encoding.PEM
    (folder / f"{name}.der").write_bytes(signed.public_bytes(der))
    plain = serialization.NoEncryption()
    form = serialization.PrivateFormat.PKCS8
    (folder / f"{name}.pem").write_bytes(key.private_bytes(pem, form, plain))


class _Users:
    """Nobody by name but the reader, and only with the right password."""

    def get_user(
        self, iserver: Any, username: Any = None, password: Any = None, certificate: Any = None
    ) -> Any:
        from asyncua.crypto.permission_rules import User, UserRole

        if username is None or (username, password) == ("reader", "right"):
            return User(role=UserRole.Admin)
        return None


class Plant:
    """A server in a thread of its own; ``writes`` notes every write or call from outside."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        for name in ("server", "reader"):
            _certificate(folder, name)
        self.writes: list[str] = []
        self.nodes: dict[str, Any] = {}
        self.loop = asyncio.new_event_loop()
        threading.Thread(target=self.loop.run_forever, daemon=True).start()
        self.do(self._start())

    def do(self, work: Coroutine[Any, Any, Any]) -> Any:
        """Run something on the server's side."""
        return asyncio.run_coroutine_threadsafe(work, self.loop).result(timeout=60)

    async def _start(self) -> None:
        from asyncua.server import uaprocessor

        processor: Any = uaprocessor.UaProcessor
        plain = processor._process_message
        noted = {
            getattr(ua.ObjectIds, f"{name}_Encoding_DefaultBinary"): name
            for name in ("WriteRequest", "CallRequest", "AddNodesRequest", "HistoryUpdateRequest")
        }

        async def note(this: Any, typeid: Any, *rest: Any) -> Any:
            if typeid.Identifier in noted:
                self.writes.append(noted[typeid.Identifier])
            return await plain(this, typeid, *rest)

        processor._process_message = note
        self.server = asyncua.Server(user_manager=_Users())
        await self.server.init()
        self.server.set_endpoint(f"opc.tcp://127.0.0.1:{PORT}/")
        await self.server.load_certificate(str(self.folder / "server.der"))
        await self.server.load_private_key(str(self.folder / "server.pem"))
        policies = ua.SecurityPolicyType
        self.server.set_security_policy(
            [policies.NoSecurity, policies.Basic256Sha256_SignAndEncrypt]
        )
        place = await self.server.register_namespace("invented")
        for name, value in (("flow", 12.5), ("torque", 44.0)):
            node = await self.server.nodes.objects.add_variable(f"ns={place};s={name}", name, value)
            await node.set_writable()
            self.nodes[name] = node
        await self.server.start()

    def close(self) -> None:
        """Stop the server."""
        self.do(self.server.stop())
        self.loop.call_soon_threadsafe(self.loop.stop)


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Plant]:
    """One server for all tests here: it takes seconds to start."""
    server = Plant(tmp_path_factory.mktemp("certificates"))
    yield server
    server.close()


class Door:
    """A door in front of the server that can be slammed and opened again."""

    def __init__(self) -> None:
        self.lines: list[asyncio.StreamWriter] = []

    async def open(self) -> None:
        """Let callers through."""
        self.server = await asyncio.start_server(self._pass, "127.0.0.1", DOOR)

    async def slam(self) -> None:
        """Cut every line and let nobody in."""
        self.server.close()
        for line in self.lines:
            line.transport.abort()
        self.lines.clear()

    async def _pass(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        inner, outer = await asyncio.open_connection("127.0.0.1", PORT)
        self.lines += [writer, outer]
        await asyncio.gather(_pump(reader, outer), _pump(inner, writer), return_exceptions=True)


async def _pump(source: asyncio.StreamReader, target: asyncio.StreamWriter) -> None:
    while data := await source.read(65536):
        target.write(data)
        await target.drain()


async def _read(port: int = PORT) -> dict[str, Any]:
    reader = OpcUaReader(_tag_map(port))
    await reader.connect()
    readings = await reader.read()
    await reader.close()
    return {r.key: r for r in readings}


def test_reads_values_and_never_writes(plant: Plant) -> None:
    """Good values come in SI, a missing node is bad, and the server saw no write or call."""
    plant.writes.clear()
    got = run_apart(_read())
    assert got["feed_flow"].value == pytest.approx(12.5 / 3600)
    assert got["screw_torque"].value == pytest.approx(0.44)
    assert got["cake_solids"].quality is Quality.BAD
    assert plant.writes == []


def test_the_server_does_note_writes(plant: Plant) -> None:
    """The note-taking server would have seen a write: the test above can fail."""
    plant.writes.clear()

    async def write() -> None:
        async with asyncua.Client(f"opc.tcp://127.0.0.1:{PORT}/") as client:
            await client.get_node("ns=2;s=flow").write_value(12.5)

    run_apart(write())
    assert plant.writes == ["WriteRequest"]


@pytest.mark.parametrize(("password", "enters"), [("right", True), ("wrong", False)])
def test_user_and_certificate(
    plant: Plant, monkeypatch: pytest.MonkeyPatch, password: str, enters: bool
) -> None:
    """A named user enters over a signed and encrypted line, and not with a wrong password."""
    monkeypatch.setenv("CAKEWRIGHT_PASSWORD", password)
    place = plant.folder
    security = f"Basic256Sha256,SignAndEncrypt,{place / 'reader.der'},{place / 'reader.pem'}"
    tag_map = replace(_tag_map(PORT), user="reader", security=security)

    async def read() -> Any:
        reader = OpcUaReader(tag_map)
        await reader.connect()
        readings = await reader.read()
        await reader.close()
        return readings[0].quality

    if enters:
        assert run_apart(read()) is Quality.GOOD
    else:
        with pytest.raises(ua.UaError):
            run_apart(read())


@pytest.mark.parametrize(
    ("value", "status", "late", "quality", "why"),
    [
        (3.0, "UncertainLastUsableValue", 0, Quality.UNCERTAIN, "Uncertain"),
        (3.0, "BadSensorFailure", 0, Quality.BAD, "BadSensorFailure"),
        (3.0, "Good", -2, Quality.UNCERTAIN, "stale"),
        (3.0, "Good", 2, Quality.UNCERTAIN, "future"),
        (float("nan"), "Good", 0, Quality.BAD, "not a number"),
    ],
)
def test_quality_is_carried(
    plant: Plant, value: float, status: str, late: int, quality: Quality, why: str
) -> None:
    """Uncertain, bad, lying and stale values are not passed off as good."""
    moment = datetime.now(UTC).replace(tzinfo=None) + timedelta(hours=late)
    code = ua.StatusCode(getattr(ua.StatusCodes, status))
    data = ua.DataValue(ua.Variant(value, ua.VariantType.Double), code, moment)
    plant.do(plant.nodes["flow"].write_value(data))
    got = run_apart(_read())["feed_flow"]
    plant.do(plant.nodes["flow"].write_value(12.5))
    assert got.quality is quality
    assert why in got.why


def test_reconnects_and_keeps_what_it_read(plant: Plant, tmp_path: Path) -> None:
    """A server that drops and comes back leaves marked rows, not a gap and not old values."""
    spool = Spool(tmp_path)

    async def run() -> Any:
        door = Door()
        await door.open()
        reader = OpcUaReader(_tag_map(DOOR), timeout=0.5)
        task = asyncio.create_task(poll(reader, spool, polls=6))
        await asyncio.sleep(1.4)
        await door.slam()
        await asyncio.sleep(0.8)
        await door.open()
        report = await task
        await door.slam()
        return report

    report = run_apart(run())
    assert (report.polls, report.reconnects) == (6, 2)
    assert report.lost >= 1
    rows = spool.waiting()[0].read_text(encoding="utf-8").splitlines()
    assert len(rows) == 6
    assert any('"feed_flow": null' in row for row in rows)
    assert '"feed_flow": 0.00347' in rows[-1]
