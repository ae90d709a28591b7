"""Study files on disk."""

from __future__ import annotations

from pathlib import Path

import pytest

from cakewright.errors import InputFileError, OutputError
from cakewright.storage.studies import DEMOS, demo_text, read_study, write_new_file
from cakewright.storage.texts import read_text

EXAMPLES = Path(__file__).parents[3] / "examples"


@pytest.mark.parametrize("name", DEMOS)
def test_examples_are_the_shipped_demonstrations(name: str) -> None:
    """The files in examples/ and those inside the package are the same bytes."""
    assert (EXAMPLES / f"{name}.toml").read_text(encoding="utf-8") == demo_text(name)


def test_bad_files_are_named(tmp_path: Path) -> None:
    """Missing, folder, binary, wrong encoding, too large: each says what is wrong."""
    binary = tmp_path / "b.toml"
    binary.write_bytes(b"a\0b")
    latin = tmp_path / "l.toml"
    latin.write_bytes("title = 'x'\nsite = 'Stra\xdfe'".encode("latin-1"))
    huge = tmp_path / "h.toml"
    huge.write_bytes(b"#" * 2_000_001)
    for path, words in [
        (tmp_path / "none.toml", "no such file"),
        (tmp_path, "folder"),
        (binary, "binary"),
        (latin, "line 2 is not UTF-8"),
        (huge, "larger than 2 MB"),
    ]:
        with pytest.raises(InputFileError, match=words):
            read_study(path)
    with pytest.raises(InputFileError, match="soy"):
        demo_text("tofu")


def test_text_with_a_byte_order_mark_is_read(tmp_path: Path) -> None:
    """A mark some editors put in front is not part of the study."""
    path = tmp_path / "s.toml"
    path.write_bytes(b"\xef\xbb\xbfcakewright = 1\n")
    assert read_text(path) == "cakewright = 1\n"


def test_new_file_never_replaces(tmp_path: Path) -> None:
    """An existing file stays; an unwritable place is an error and leaves nothing behind."""
    path = tmp_path / "s.toml"
    write_new_file(path, "a")
    with pytest.raises(OutputError, match="exists"):
        write_new_file(path, "b")
    assert path.read_text() == "a"
    with pytest.raises(OutputError, match="cannot be written"):
        write_new_file(tmp_path / "no" / "s.toml", "b")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["s.toml"]
