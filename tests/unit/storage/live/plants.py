"""Invented plants on this machine: real servers that note every write and call."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import AsyncIterator, Coroutine, Iterator
from contextlib import AbstractAsyncContextManager, asynccontextmanager, contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

__all__ = ["OpcUaPlant", "in_background", "modbus_plant"]


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


class OpcUaPlant:
    """A server in a thread of its own; ``writes`` notes every write or call from outside."""

    def __init__(self, folder: Path, port: int) -> None:
        self.folder, self.port = folder, port
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
        import asyncua as library
        from asyncua.server import uaprocessor

        asyncua: Any = library  # its types hide what it exports
        ua = asyncua.ua
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
        self.server.set_endpoint(f"opc.tcp://127.0.0.1:{self.port}/")
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


@asynccontextmanager
async def modbus_plant(port: int, codes: list[int], flow: float = 12.5) -> AsyncIterator[None]:
    """A server with a flow in register 0 and a torque in 2; every function code is noted."""
    from pymodbus.server import ModbusTcpServer
    from pymodbus.simulator import DataType, SimData, SimDevice

    def note(sending: bool, pdu: Any) -> Any:
        if not sending:
            codes.append(pdu.function_code)
        return pdu

    registers = [
        SimData(0, values=[flow], datatype=DataType.FLOAT32),
        SimData(2, values=[440], datatype=DataType.UINT16),
    ]
    server: Any = ModbusTcpServer(
        SimDevice(1, simdata=registers), address=("127.0.0.1", port), trace_pdu=note
    )
    await server.serve_forever(background=True)
    try:
        yield
    finally:
        await server.shutdown()


@contextmanager
def in_background(plant: AbstractAsyncContextManager[None]) -> Iterator[None]:
    """A plant that runs in a thread of its own while the test does something else."""
    loop = asyncio.new_event_loop()
    thread = threading.Thread(target=loop.run_forever, daemon=True)
    thread.start()

    def do(work: Coroutine[Any, Any, Any]) -> None:
        asyncio.run_coroutine_threadsafe(work, loop).result(timeout=30)

    async def enter() -> None:
        await plant.__aenter__()

    async def leave() -> None:
        await plant.__aexit__(None, None, None)

    do(enter())
    try:
        yield
    finally:
        do(leave())
        loop.call_soon_threadsafe(loop.stop)
        thread.join(timeout=10)
