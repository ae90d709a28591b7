"""Coverage-guided fuzzing of the readers of texts; run by `test_bytes_led_by_coverage`.

usage: guided.py SECONDS FOLDER CORPUS, or guided.py once FILE
"""

from __future__ import annotations

import faulthandler
import signal
import sys
import warnings
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["cakewright"]):
    from cakewright.errors import CakewrightError
    from cakewright.jobs.offer_text import parse_offers
    from cakewright.quantities.unit_text import parse_unit
    from cakewright.sludge.law_text import parse_law
    from cakewright.storage.live.reading import parse_tag_map
    from cakewright.storage.logs.column_map import parse_column_map
    from cakewright.storage.logs.site_file import parse_site
    from cakewright.storage.logs.trial_files import parse_protocol
    from cakewright.study import parse_quantity, parse_study
    from cakewright.study.quantity_text import Decimals


def _quantity(text: str) -> None:
    parse_quantity(text, "m3/s", bare="m3/d", currency="EUR", decimals=Decimals.ASK)


LIMIT_SECONDS = 2.0
READERS = (
    _quantity,
    parse_unit,
    parse_study,
    lambda text: parse_offers(text, "offers", "EUR"),
    parse_law,
    parse_tag_map,
    parse_column_map,
    parse_site,
    parse_protocol,
)


def one(data: bytes) -> None:
    """One input: the first byte chooses the reader, the rest is its text."""
    if not data:
        return
    text = data[1:].decode("utf-8", "replace")
    # A hang ends the run with the place it hangs at; the processor's time counts, not the clock's.
    signal.setitimer(signal.ITIMER_VIRTUAL, LIMIT_SECONDS)
    try:
        READERS[data[0] % len(READERS)](text)
    except CakewrightError:
        return
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)


if __name__ == "__main__":
    warnings.simplefilter("ignore")
    # The unit library loads once, slowly; that is not the input's doing.
    parse_quantity("3 lb/1000 gal", "kg/m3")
    if sys.argv[1] == "once":
        one(Path(sys.argv[2]).read_bytes())
        sys.exit(0)
    faulthandler.register(signal.SIGVTALRM, chain=True)
    seconds, folder, corpus = sys.argv[1:4]
    options = [
        "-timeout=0",
        "-handle_alrm=0",
        "-print_final_stats=1",
        "-max_len=4000",
        "-rss_limit_mb=2000",
    ]
    words = [sys.argv[0], f"-max_total_time={seconds}", *options]
    atheris.Setup([*words, f"-artifact_prefix={folder}/", folder, corpus], one)
    atheris.Fuzz()
