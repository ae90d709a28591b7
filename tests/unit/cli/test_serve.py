"""How the workbench is opened: to this machine alone, unless others are asked in with a token."""

from __future__ import annotations

from pathlib import Path

import pytest

from cakewright.cli.serve import _address, _listener, _settings, _warn, command


def test_binds_to_this_machine_by_default(tmp_path: Path) -> None:
    """Without a word about it the server listens to this machine only, and asks no token."""
    host = next(p.default for p in command.params if p.name == "host")
    made = _settings(str(host), str(tmp_path / "s.sqlite"), (), press=False, secure=False)
    assert (host, made.local, made.token) == ("127.0.0.1", True, "")
    listener = _listener(str(host), 0)
    assert listener.getsockname()[0] == "127.0.0.1"
    listener.close()


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.168.1.4", "example.org"])
def test_others_need_a_token_that_is_new_each_time(host: str, tmp_path: Path) -> None:
    """An address others can reach makes a long token, another one at each start, and prints it."""
    store = str(tmp_path / "s.sqlite")
    first, second = (_settings(host, store, (), press=False, secure=False) for _ in range(2))
    assert len(first.token) >= 32
    assert first.token != second.token
    assert f"?token={first.token}" in _address(first, host, 8765)


def test_others_and_no_tls_are_warned_of(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Whoever lets others in is told what that means, and how to close the line to listeners."""
    store = str(tmp_path / "s.sqlite")
    _warn(_settings("0.0.0.0", store, (), press=False, secure=False))
    said = capsys.readouterr().err
    assert "can read and change every study" in said
    assert "--tls-certificate" in said
    _warn(_settings("0.0.0.0", store, (), press=False, secure=True))
    assert "--tls-certificate" not in capsys.readouterr().err


def test_a_busy_port_is_said() -> None:
    """A port another server holds is named with what to do."""
    held = _listener("127.0.0.1", 0)
    held.listen()
    with pytest.raises(Exception, match="another server may run there"):
        _listener("127.0.0.1", held.getsockname()[1])
    held.close()
