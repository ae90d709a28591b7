"""A commented study to fill in, made from the table of keys."""

from __future__ import annotations

from cakewright.study.fields import Field, class_labels, fields, origin_kinds

__all__ = ["render_template"]

_HEAD = """\
# A Cakewright study: one site's case. Fill in what you know and delete what you do not;
# whatever is left out is filled by a default that shows up in the results with its basis.
#
# Quantities are text as you would say them: "48 m3/d", "0.8 %", "8000 mg/L", "12 gpm", "6 kg/t DS".
# A bare number takes the unit named behind each key.
# A spread: "18 % ± 2 points", "120 m3/d ± 15 %", "30-40 m3/d", "16 .. 18 .. 22 %", "about 35 m3/d"
# (8 chances in 10 that the value lies inside).
# Where a figure comes from:
#   flow = { value = "48 m3/d", basis = "measured", note = "pump record, March" }
# basis is one of measured, bench, published, practice, assumed.

cakewright = 1
title = "New study"
site = ""
currency = "EUR"
decimals = "point"    # or "comma": 1.2 or 1,2
price_year = 2026

[[sludge]]
name = "sludge"
class = "was"
"""


def render_template() -> str:
    """Text of a new study: valid as it stands, every key with what it means."""
    parts = [_HEAD.rstrip(), f"# classes: {', '.join(class_labels())}"]
    parts += ['flow = "48 m3/d"', 'total_solids = "0.8 %"']
    parts += [_line(field) for key, field in fields()["sludge"].items() if key not in _WRITTEN]
    parts += ["", *_origin_lines()]
    for section, keys in fields().items():
        if section not in ("study", "sludge", "origin"):
            parts += ["", f"[{section}]", *(_line(field) for field in keys.values())]
    return "\n".join(parts) + "\n"


_WRITTEN = {"name", "class", "flow", "total_solids"}


def _line(field: Field) -> str:
    value = field.default if field.default is not None else ""
    if field.kind == "words":
        value = "[" + ", ".join(f'"{choice}"' for choice in field.choices) + "]"
    elif field.kind not in ("number", "flag", "integer"):
        value = f'"{value.replace("currency", "EUR")}"'
    choices = f" One of: {', '.join(field.choices)}." if field.kind == "choice" else ""
    unit = f" [{field.unit.replace('currency', 'EUR')}]" if field.unit else ""
    return f"# {field.key} = {value}    #{unit} {field.help}{choices}"


def _origin_lines() -> list[str]:
    lines = ["# Instead of flow and total_solids, what makes the sludge:", "# [sludge.origin]"]
    for kind, needs in origin_kinds().items():
        lines.append(f'# kind = "{kind}"    # needs total_solids, {", ".join(needs)}')
    lines += [_line(field) for key, field in fields()["origin"].items() if key != "kind"]
    return lines
