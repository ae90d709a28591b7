"""Software bill of materials of a run-time install, as CycloneDX 1.6 JSON, and the licences.

    .venv/bin/python requirements/bom.py > bom.json

Names, versions and hashes come from `run.lock`, licences and homes from the installed packages.
The same lock gives the same bytes: no clock, no random number.
"""

from __future__ import annotations

import json
import re
import sys
import uuid
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, metadata
from pathlib import Path
from typing import Any

LOCK = Path(__file__).with_name("run.lock")
_PACKAGE = re.compile(r"^(?P<name>[A-Za-z0-9._-]+)==(?P<version>[^\s;\\]+)")
_HASH = re.compile(r"--hash=sha256:([0-9a-f]{64})")


@dataclass(frozen=True)
class Package:
    """One locked package."""

    name: str
    version: str
    hashes: tuple[str, ...]
    licence: str
    home: str


def locked() -> tuple[Package, ...]:
    """Every package of the lock, by name."""
    found: list[Package] = []
    for entry in re.split(r"\n(?=[A-Za-z0-9])", LOCK.read_text(encoding="utf-8")):
        match = _PACKAGE.match(entry)
        if match:
            licence, home = _told(match["name"])
            hashes = tuple(_HASH.findall(entry))
            found.append(Package(match["name"], match["version"], hashes, licence, home))
    return tuple(sorted(found, key=lambda package: package.name.lower()))


def _told(name: str) -> tuple[str, str]:
    """Licence and home page, as the package itself says; empty where it is not installed."""
    try:
        about = metadata(name)
    except PackageNotFoundError:
        return "", ""
    fields = {key: about.get_all(key) or [] for key in ("License-Expression", "License")}
    trove = [c.rpartition(" :: ")[2] for c in about.get_all("Classifier") or [] if "License" in c]
    plain = [text.strip() for text in fields["License"] if 0 < len(text.strip()) < 80]
    licence = next((x for x in (*fields["License-Expression"], *trove, *plain) if x), "")
    urls = [u.partition(",")[2].strip() for u in about.get_all("Project-URL") or []]
    home = next(
        (u for u in (*(about.get_all("Home-page") or []), *urls) if u.startswith("http")), ""
    )
    return licence, home


def bill(packages: tuple[Package, ...], version: str) -> dict[str, Any]:
    """The bill as CycloneDX lays it out."""
    parts = [
        {
            "type": "library",
            "bom-ref": f"pkg:pypi/{package.name}@{package.version}",
            "name": package.name,
            "version": package.version,
            "purl": f"pkg:pypi/{package.name}@{package.version}",
            "licenses": [{"license": {"name": package.licence or "not said"}}],
            "externalReferences": [
                {
                    "type": "distribution",
                    "url": package.home or f"https://pypi.org/project/{package.name}/",
                    "hashes": [{"alg": "SHA-256", "content": each} for each in package.hashes],
                }
            ],
        }
        for package in packages
    ]
    lock = LOCK.read_bytes().hex()
    product = {
        "type": "application",
        "bom-ref": f"pkg:pypi/cakewright@{version}",
        "name": "cakewright",
        "version": version,
        "licenses": [{"license": {"id": "Apache-2.0"}}],
    }
    return {
        "$schema": "http://cyclonedx.org/schema/bom-1.6.schema.json",
        "bomFormat": "CycloneDX",
        "specVersion": "1.6",
        "serialNumber": f"urn:uuid:{uuid.uuid5(uuid.NAMESPACE_URL, version + lock)}",
        "version": 1,
        "metadata": {"component": product},
        "components": parts,
        "dependencies": [
            {"ref": product["bom-ref"], "dependsOn": [part["bom-ref"] for part in parts]}
        ],
    }


if __name__ == "__main__":
    from cakewright.version import __version__

    json.dump(bill(locked(), __version__), sys.stdout, indent=1)
    sys.stdout.write("\n")
