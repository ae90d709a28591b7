"""File names that every system takes: what one system keeps for itself is refused on all."""

from __future__ import annotations

import re

__all__ = ["is_file_name"]

_FORBIDDEN = re.compile(r'[/\\:*?"<>|\x00-\x1f]')
# Windows keeps these for devices, whatever stands behind a dot.
_DEVICES = re.compile(r"(?:con|prn|aux|nul|com[0-9¹²³]|lpt[0-9¹²³]|conin\$|conout\$)(?:\.|$)", re.I)


def is_file_name(name: str) -> bool:
    """Whether a name is a plain file name on Linux, macOS and Windows."""
    if not name or len(name.encode("utf-8", "replace")) > 240 or name in (".", ".."):
        return False
    plain = not _FORBIDDEN.search(name) and name == name.rstrip(". ")
    return plain and not _DEVICES.match(name)
