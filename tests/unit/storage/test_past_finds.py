"""What once stopped the program, kept as a corpus: each is answered at once, in words or read."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import pytest

from cakewright.errors import CakewrightError
from cakewright.jobs.offer_text import parse_offers
from cakewright.quantities.unit_text import parse_unit
from cakewright.sludge.law_text import parse_law
from cakewright.storage.live.reading import parse_tag_map
from cakewright.storage.logs import parse_column_map
from cakewright.storage.logs.site_file import parse_site
from cakewright.storage.logs.trial_files import parse_protocol
from cakewright.study import parse_quantity, parse_study

CORPUS = Path(__file__).parents[2] / "siege" / "corpus"
# In the order of the guided fuzzer, whose first byte chooses the reader.
READERS: tuple[Callable[[str], object], ...] = (
    lambda text: parse_quantity(text, "m3/s", bare="m3/d", currency="EUR"),
    parse_unit,
    parse_study,
    lambda text: parse_offers(text, "offers", "EUR"),
    parse_law,
    parse_tag_map,
    parse_column_map,
    parse_site,
    parse_protocol,
)


@pytest.mark.parametrize("find", sorted(CORPUS.iterdir()), ids=lambda path: path.name)
def test_a_past_find_stays_mended(find: Path) -> None:
    """Read or refused within two seconds."""
    data = find.read_bytes()
    start = time.monotonic()
    with pytest.raises(CakewrightError):
        READERS[data[0] % len(READERS)](data[1:].decode("utf-8", "replace"))
    assert time.monotonic() - start < 2.0
