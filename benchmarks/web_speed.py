"""How fast the workbench answers in a real browser: page, edit to headline, edit to bands, map.

    python benchmarks/web_speed.py [EDITS]

The rival of a partial update is loading the whole page again after each edit. Needs Chromium.
Results go to benchmarks/results/web_speed.json.
"""

from __future__ import annotations

import json
import os
import platform
import shutil
import statistics
import sys
import tempfile
import time
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "docs"))
from screenshots import ARGUMENTS, served

from cakewright.storage.store import open_store
from cakewright.storage.studies import demo_text

FIELD = '[data-place="prices.disposal"]:not([data-part])'
SAVED = "n => document.getElementById('state').textContent.startsWith(`saved, version ${n}`)"


def summary(seconds: list[float]) -> dict[str, float]:
    """Median, 95th percentile and largest, in milliseconds."""
    ordered = sorted(seconds)
    at95 = ordered[min(len(ordered) - 1, round(0.95 * len(ordered)))]
    values = {"median": statistics.median(ordered), "p95": at95, "largest": ordered[-1]}
    return {key: round(1000 * value, 1) for key, value in values.items()}


def edits(page: Page, count: int) -> dict[str, dict[str, float]]:
    """Times from the key to the new headline, and to its bands; the wait for the next key of a
    word (180 ms) is part of neither."""
    point, bands, reload = [], [], []
    for number in range(count):
        version = number + 2
        start = time.perf_counter()
        page.fill(FIELD, f"{60 + number} EUR/t")
        page.wait_for_function(SAVED, arg=version, polling=5)
        point.append(time.perf_counter() - start - 0.18)
        page.wait_for_selector(".head-strip svg")
        bands.append(time.perf_counter() - start - 0.18)
    for _ in range(5):
        start = time.perf_counter()
        page.reload(wait_until="load")
        reload.append(time.perf_counter() - start)
    return {
        "edit to headline": summary(point),
        "edit to bands": summary(bands),
        "whole page again": summary(reload),
    }


def main(count: int) -> None:
    """Measure and write down."""
    chromium = shutil.which("chromium") or shutil.which("chromium-browser") or "/usr/bin/chromium"
    with (
        tempfile.TemporaryDirectory() as folder,
        sync_playwright() as play,
        served(Path(folder)) as base,
    ):
        store = open_store(str(Path(folder) / "studies.sqlite"))
        study = store.create(demo_text("soy").encode()).id
        store.close()
        browser = play.chromium.launch(executable_path=chromium, args=ARGUMENTS)
        page = browser.new_page()
        page.goto(f"{base}/studies/{study}/sludge")
        page.wait_for_selector(".head-strip svg", timeout=120_000)
        start = time.perf_counter()
        page.goto(f"{base}/studies/{study}/cost")
        page.wait_for_selector(FIELD)
        ready = time.perf_counter() - start
        found: dict[str, object] = {"page ready": {"ms": round(1000 * ready, 1)}}
        found |= edits(page, count)
        browser.close()
    found["machine"] = {
        "processors": os.cpu_count(),
        "system": platform.system(),
        "python": platform.python_version(),
        "load before": [round(x, 1) for x in os.getloadavg()],
        "edits": count,
    }
    target = Path(__file__).parent / "results" / "web_speed.json"
    target.write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")
    print(json.dumps(found, indent=1))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 40)
