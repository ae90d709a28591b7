"""How fast the workbench answers in a real browser: page, edit to headline, edit to bands, map.

    python benchmarks/web_speed.py [EDITS]

A user types: keys 0.09 to 0.15 s apart, a rest of 0.2 to 1.2 s between two figures, so that edits
meet the background work of those before. The page itself takes the times, from the last key to
the moment the new headline was painted. The wait for the next key of a word (180 ms) is shown
apart. The rival of a partial update is loading the whole page again. Needs Chromium.
Results go to benchmarks/results/web_speed.json.
"""

from __future__ import annotations

import json
import os
import platform
import random
import shutil
import statistics
import sys
import tempfile
import time
from itertools import pairwise
from pathlib import Path
from typing import Any

from playwright.sync_api import Page, sync_playwright
from web_served import served

from cakewright.storage.store import open_store
from cakewright.storage.studies import demo_text

ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]
FIELD = '[data-place="prices.disposal"]:not([data-part])'
# Kept in the page: when a key came, when its headline was put in and painted, when it had bands.
WATCH = """() => {
  const told = (window.told = []);
  let open = null;
  let edit = {};
  const plain = window.fetch;
  window.fetch = async (path, how) => {
    if (!path.endsWith("/edit")) return plain(path, how);
    const mine = (edit = { sent: performance.now() });
    const answer = await plain(path, how);
    mine.answered = performance.now();
    return answer;
  };
  document.addEventListener("input", () => (open = { key: performance.now() }), true);
  const painted = (then) => requestAnimationFrame(() => setTimeout(then, 0));
  new MutationObserver(() => {
    const one = open;
    if (!one) return;
    const banded = document.querySelector("#headline .head-strip svg") !== null;
    if (one.placed === undefined) {
      // The answer to an earlier part of the word is not the answer to its last key.
      if (!edit.answered || edit.sent < one.key) return;
      one.placed = performance.now();
      Object.assign(one, edit);
      painted(() => { one.painted = performance.now(); told.push(one); });
    }
    if (banded && one.banded === undefined) {
      open = null;
      painted(() => (one.banded = performance.now()));
    }
  }).observe(document.getElementById("headline"), { childList: true, subtree: true });
}"""
# What the map shows while it is dragged: every change of the read-out that reached the screen.
DRAG = """() => {
  const told = (window.dragged = { moves: [], painted: [] });
  const shown = () => document.querySelector("#results [data-map] .handle")?.ariaValueText;
  let seen = shown();
  document.addEventListener("pointermove", () => told.moves.push(performance.now()), true);
  const each = (now) => {
    const text = shown();
    if (text !== seen) told.painted.push(now);
    seen = text;
    requestAnimationFrame(each);
  };
  requestAnimationFrame(each);
}"""


def summary(milliseconds: list[float]) -> dict[str, float]:
    """Median, 95th percentile (nearest rank) and largest."""
    ordered = sorted(milliseconds)
    at95 = ordered[max(0, -(-95 * len(ordered) // 100) - 1)]
    values = {"median": statistics.median(ordered), "p95": at95, "largest": ordered[-1]}
    return {key: round(value, 1) for key, value in values.items()}


def type_figure(page: Page, figure: int, draw: random.Random) -> None:
    """As a person does: all of it marked, then typed over key by key."""
    page.evaluate(f"document.querySelector('{FIELD}').select()")
    for key in f"{figure} EUR/t":
        page.keyboard.press(key)
        page.wait_for_timeout(1000 * draw.uniform(0.09, 0.15))


def edits(page: Page, count: int) -> dict[str, Any]:
    """Times of ``count`` edits at the pace of a person; every third one waits for its bands."""
    draw = random.Random(7)
    page.evaluate(WATCH)
    page.focus(FIELD)
    for number in range(count):
        type_figure(page, 60 + number, draw)
        page.wait_for_function("n => window.told.length > n", arg=number, polling=20)
        if number % 3 == 0:
            page.wait_for_function("() => window.told.at(-1).banded !== undefined", polling=20)
        page.wait_for_timeout(1000 * draw.uniform(0.2, 1.2))
    told = page.evaluate("window.told")
    banded = [one for one in told if "banded" in one]
    return {
        "edit to headline": summary([one["painted"] - one["sent"] for one in told]),
        "of it the server's answer": summary([one["answered"] - one["sent"] for one in told]),
        "last key to headline": summary([one["painted"] - one["key"] for one in told]),
        "edit to bands": summary([one["banded"] - one["sent"] for one in banded]),
        "edits": len(told),
        "edits seen with bands": len(banded),
    }


def reloads(page: Page, count: int = 10) -> dict[str, float]:
    """The rival: the whole page again."""
    found = []
    for _ in range(count):
        start = time.perf_counter()
        page.reload(wait_until="load")
        found.append(1000 * (time.perf_counter() - start))
    return summary(found)


def drag(page: Page, address: str, seconds: float = 3.0) -> dict[str, Any]:
    """Updates a second while the operating point is dragged over the map, as painted."""
    page.goto(address)
    figure = page.locator("#results [data-map] svg")
    figure.scroll_into_view_if_needed(timeout=120_000)
    box = figure.bounding_box()
    if box is None:
        raise RuntimeError("the map is not on the page")
    page.evaluate(DRAG)
    draw = random.Random(11)
    middle = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.move(*middle)
    page.mouse.down()
    until = time.perf_counter() + seconds
    while time.perf_counter() < until:
        share = draw.uniform(-0.25, 0.25), draw.uniform(-0.25, 0.25)
        page.mouse.move(middle[0] + share[0] * box["width"], middle[1] + share[1] * box["height"])
    page.mouse.up()
    told = page.evaluate("window.dragged")
    painted = told["painted"]
    span = (painted[-1] - painted[0]) / 1000
    gaps = [b - a for a, b in pairwise(painted)]
    return {
        "moves a second": round(len(told["moves"]) / span, 1),
        "updates a second": round((len(painted) - 1) / span, 1),
        "ms between updates": summary(gaps),
    }


def main(count: int) -> None:
    """Measure and write down."""
    chromium = shutil.which("chromium") or shutil.which("chromium-browser") or "/usr/bin/chromium"
    found: dict[str, Any] = {}
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        store = open_store(str(Path(folder) / "studies.sqlite"))
        study = store.create(demo_text("soy").encode()).id
        store.close()
        with served(Path(folder)) as server:
            book = f"{server.base}/studies/{study}"
            browser = play.chromium.launch(executable_path=chromium, args=ARGUMENTS)
            page = browser.new_page()
            page.goto(f"{book}/sludge")
            page.wait_for_selector(".head-strip svg", timeout=120_000)
            start = time.perf_counter()
            page.goto(f"{book}/cost")
            page.wait_for_selector(FIELD)
            found["page ready"] = {"ms": round(1000 * (time.perf_counter() - start), 1)}
            found |= edits(page, count)
            found["whole page again"] = reloads(page)
            found["map drag"] = drag(page, f"{book}/press")
            own, others = server.resident_mb()
            found["memory MB"] = {"server": round(own), "processes beside it": round(others)}
            browser.close()
    found["machine"] = {
        "processors": os.cpu_count(),
        "system": platform.system(),
        "python": platform.python_version(),
        "load after": [round(x, 1) for x in os.getloadavg()],
    }
    target = Path(__file__).parent / "results" / "web_speed.json"
    target.write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")
    print(json.dumps(found, indent=1))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100)
