"""Write the table of ready conversions: every shown unit of a house name, and units people write.

`python docs/conversions.py` writes `src/cakewright/quantities/conversions.json`. The table only
saves time: a pair that is not in it is worked out by the unit registry, and a test checks each
entry against the registry.
"""

from __future__ import annotations

import json
from pathlib import Path

from cakewright.errors import QuantityError
from cakewright.quantities import house_names
from cakewright.quantities.convert import affine

TARGET = Path(__file__).parents[1] / "src" / "cakewright" / "quantities" / "conversions.json"

WRITTEN = (
    "% 1 m3/d m3/h m3/s L/s L/h L/min gpm gpd MGD gal/min mg/L g/L kg/m3 ppm kg/t g/kg kg/kg "
    "lb/ton degC K degF h/d h d min s a km m mm cm ft in m2 m3 L gal t kg g lb ton kW W hp kWh/t "
    "currency/kWh currency/kg currency/m3 currency/h currency/t currency/t/km currency/lb "
    "1/d 1/s 1/min Pa kPa bar psi person kg/h kg/d lb/h currency dB"
).split()


def table() -> dict[str, list[float] | None]:
    """Slope and offset of every pair; None where the two measure different things."""
    pairs: set[tuple[str, str]] = set()
    kinds = {name.unit for name in house_names().values()} | {"s", "kg/m3"}
    for name in house_names().values():
        for unit in (name.shown, name.shown_us):
            pairs |= {(name.unit, unit), (unit, name.unit)}
    pairs |= {(unit, kind) for unit in WRITTEN for kind in kinds}
    found: dict[str, list[float] | None] = {}
    for have, want in sorted(pairs):
        if have == want:
            continue
        try:
            found[f"{have}|{want}"] = list(affine(have, want))
        except QuantityError:
            found[f"{have}|{want}"] = None
    return found


if __name__ == "__main__":
    rows = ",\n".join(f"{json.dumps(key)}: {json.dumps(pair)}" for key, pair in table().items())
    TARGET.write_text("{\n" + rows + "\n}\n", encoding="utf-8")
