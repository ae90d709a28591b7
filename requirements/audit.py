"""Known vulnerabilities of the locked dependencies; says when it could not find out.

    .venv/bin/python requirements/audit.py

Ends with 0 when every locked package was looked up and none is known to be vulnerable, 1 when one
is, and 3 when the advisories could not be reached, which is not a pass. `pip-audit` by itself
reports success when every package was skipped.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

LOCK = Path(__file__).with_name("dev.lock")
SERVICES = ("pypi", "osv")
CLEAN, VULNERABLE, NOT_REACHED = 0, 1, 3


def audited(service: str) -> list[dict[str, Any]] | None:
    """What one service of advisories says of each package; None when it does not answer."""
    words = ["-r", str(LOCK), "--disable-pip", "--no-deps", "-f", "json", "--timeout", "10"]
    command = [sys.executable, "-m", "pip_audit", *words, "-s", service]
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=300)
        return list(json.loads(done.stdout)["dependencies"])
    except (subprocess.TimeoutExpired, ValueError, KeyError):
        return None


def verdict(packages: list[dict[str, Any]] | None) -> tuple[int, str]:
    """Exit code and words for what a service said."""
    found = [(p["name"], p["version"], v) for p in packages or () for v in p.get("vulns", ())]
    skipped = [p["name"] for p in packages or () if "skip_reason" in p]
    if found:
        lines = [
            f"{name} {version}: {flaw['id']}; mended in {', '.join(flaw['fix_versions']) or '-'}"
            for name, version, flaw in found
        ]
        return VULNERABLE, "\n".join(lines)
    if not packages or skipped:
        unknown = f"{len(skipped)} of {len(packages)} packages" if packages else "any package"
        return NOT_REACHED, (
            f"NOT AUDITED: no advisories could be reached for {unknown}; this is not a pass: run "
            "requirements/audit.py where they can be reached before a release"
        )
    return CLEAN, f"{len(packages)} locked packages, no known vulnerability"


def main() -> int:
    """Ask the services in turn until one knows every package."""
    code, words = NOT_REACHED, ""
    for service in SERVICES:
        code, words = verdict(audited(service))
        if code != NOT_REACHED:
            break
    sys.stdout.write(f"{words}\n")
    return code


if __name__ == "__main__":
    sys.exit(main())
