"""What the project is made of: a bill in a standard format, licences, a wheel that repeats."""

from __future__ import annotations

import importlib.util
import json
import re
import sys
from importlib.resources import files
from pathlib import Path
from types import ModuleType
from typing import Any

import jsonschema_rs

ROOT = Path(__file__).parents[2]


def _loaded(path: Path) -> ModuleType:
    spec = importlib.util.spec_from_file_location(path.stem, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[path.stem] = module
    spec.loader.exec_module(module)
    return module


def test_the_bill_is_valid_and_complete() -> None:
    """Every package of the lock with version, hash and licence, in the standard's own schema."""
    bom = _loaded(ROOT / "requirements" / "bom.py")
    packages = bom.locked()
    lock = (ROOT / "requirements" / "run.lock").read_text(encoding="utf-8")
    assert len(packages) == len(re.findall(r"^[\w.-]+==", lock, re.MULTILINE))
    assert all(package.hashes for package in packages)
    here = [package for package in packages if package.licence]
    assert len(here) > 0.8 * len(packages)
    for package in here:
        assert "AGPL" not in package.licence
        assert not re.match(r"(GNU )?General Public|GPL", package.licence), package
    told = bom.bill(packages, "0.0.0")
    assert told == bom.bill(bom.locked(), "0.0.0")
    assert list(_standard().iter_errors(told)) == []
    # The schema is no rubber stamp: a bill with one wrong word is refused.
    assert list(_standard().iter_errors({**told, "components": [{"type": "thing", "name": "x"}]}))


def _standard() -> jsonschema_rs.Draft7Validator:
    """The standard's published schema, as its own library carries it, in a validator of others."""
    folder = files("cyclonedx.schema").joinpath("_res")

    def text(name: str) -> Any:
        return json.loads(folder.joinpath(f"{name}.SNAPSHOT.schema.json").read_text("utf-8"))

    def named(address: str) -> Any:
        return text(address.rpartition("/")[2].removesuffix(".SNAPSHOT.schema.json"))

    return jsonschema_rs.Draft7Validator(text("bom-1.6"), retriever=named)


def test_two_builds_give_the_same_wheel(tmp_path: Path) -> None:
    """The wheel is the same byte for byte, wherever and whenever it is built from one source."""
    check = _loaded(ROOT / "docs" / "check_wheel.py")
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    one, other = check.build(tmp_path / "a"), check.build(tmp_path / "b")
    assert one.name == other.name
    assert one.read_bytes() == other.read_bytes()
