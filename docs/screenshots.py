"""Pictures of every page of the workbench: 1440 and 390 px wide, light and dark.

    python docs/screenshots.py FOLDER [PAGE ...]

Starts a server of its own on a free port with a store that is thrown away.
"""

from __future__ import annotations

import runpy
import shutil
import socket
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import uvicorn
from playwright.sync_api import Browser, Page, sync_playwright

from cakewright.storage.logs import read_column_map
from cakewright.storage.logs.kept import KeptLogs
from cakewright.storage.logs.looking import look_over
from cakewright.storage.store import Edit, open_store
from cakewright.storage.studies import demo_text
from cakewright.web import Settings, create_app

ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-quic",
    "--no-first-run",
    "--disable-component-update",
    "--disable-sync",
]
WIDTHS = {"wide": (1440, 900), "phone": (390, 844)}
CHAPTERS = (
    "sludge",
    "bench",
    "suitability",
    "press",
    "line",
    "cost",
    "guarantee",
    "running",
    "report",
)


@contextmanager
def served(folder: Path) -> Iterator[str]:
    """A workbench over a store in ``folder``; gives its address."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        settings = Settings(store=f"sqlite:///{folder / 'studies.sqlite'}")
        server = uvicorn.Server(uvicorn.Config(create_app(settings), log_level="warning"))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
        thread.start()
        while not server.started:
            time.sleep(0.05)
        yield f"http://127.0.0.1:{listener.getsockname()[1]}"
        server.should_exit = True
        thread.join(5)


def filled(folder: Path) -> dict[str, str]:
    """Ids of studies to look at: the three demonstrations, a variant, one with faults."""
    store = open_store(str(folder / "studies.sqlite"))
    ids = {d: store.create(demo_text(d).encode()).id for d in ("reservoir", "valley", "soy")}
    variant = store.duplicate(ids["soy"])
    edits = [Edit("duty.hours_per_day", "16 h/d"), Edit("prices.disposal", "75 EUR/t ± 10 EUR/t")]
    store.edit(variant.id, variant.version, edits)
    faulty = store.duplicate(ids["valley"])
    edits = [Edit("sludge.0.flow", "many"), Edit("prices.power", "0.2 USD/kWh")]
    store.edit(faulty.id, faulty.version, edits)
    running = store.duplicate(ids["valley"])
    store.close()
    _logs_of(folder, running.id)
    return {**ids, "variant": variant.id, "faulty": faulty.id, "running": running.id}


def _logs_of(folder: Path, study: str) -> None:
    """The invented logs of the example, with their maps, beside a study."""
    example = Path(__file__).parents[1] / "examples" / "running"
    made = runpy.run_path(str(example / "make_logs.py"))
    made["main"](folder / "made")
    kept = KeptLogs(folder / "studies-logs" / study)
    maps = {"minutes.csv": "minutes.toml", "laboratory.xlsx": "laboratory.toml"}
    for name, column_map in maps.items():
        path = kept.place_for(name)
        shutil.copy(folder / "made" / name, path)
        number = kept.take_in(path, look_over(path, study, folder / "scratch"))
        kept.keep_map(number, read_column_map(example / column_map))


def pages(ids: dict[str, str]) -> dict[str, str]:
    """Paths by the name of their picture."""
    soy = ids["soy"]
    found = {"home": "/"}
    found |= {chapter: f"/studies/{soy}/{chapter}" for chapter in CHAPTERS}
    found |= {
        "text": f"/studies/{soy}/text",
        "history": f"/studies/{ids['variant']}/history",
        "compare": f"/compare?left={soy}&right={ids['variant']}",
        "faults": f"/studies/{ids['faulty']}/sludge",
        "watched": f"/studies/{ids['running']}/running",
        "reservoir": f"/studies/{ids['reservoir']}/suitability",
    }
    return found


def picture(browser: Browser, address: str, target: Path, width: str, scheme: str) -> None:
    """One page as an image of its whole length."""
    size = WIDTHS[width]
    context = browser.new_context(
        viewport={"width": size[0], "height": size[1]},
        color_scheme="dark" if scheme == "dark" else "light",
    )
    page = context.new_page()
    page.goto(address)
    _settled(page)
    page.screenshot(path=target, full_page=True)
    context.close()


def _settled(page: Page) -> None:
    """Wait for the bands, where the page has any to come."""
    if page.locator("body.study .head-band").count():
        page.wait_for_selector("body.study .head-strip svg", timeout=60_000)
    # What is worked out later (money, promises, the press) is waited for where it belongs.
    chapter = page.locator("body").get_attribute("data-chapter")
    if chapter in ("press", "cost", "guarantee"):
        page.wait_for_selector("#results section", timeout=180_000)
    start = page.locator("#running-watch [data-task-start]")
    if chapter == "running" and start.is_visible():
        if not page.locator("#results section").count():
            start.click()
        page.wait_for_selector("#results section", timeout=180_000)
    page.wait_for_timeout(200)


def main(folder: Path, wanted: list[str]) -> None:
    """Make the pictures."""
    folder.mkdir(parents=True, exist_ok=True)
    chromium = shutil.which("chromium") or shutil.which("chromium-browser") or "/usr/bin/chromium"
    with (
        tempfile.TemporaryDirectory() as kept,
        sync_playwright() as play,
        served(Path(kept)) as base,
    ):
        browser = play.chromium.launch(executable_path=chromium, args=ARGUMENTS)
        for name, path in pages(filled(Path(kept))).items():
            for width in WIDTHS:
                for scheme in ("light", "dark"):
                    key = f"{name}-{width}-{scheme}"
                    if not wanted or any(key.startswith(word) for word in wanted):
                        picture(browser, base + path, folder / f"{key}.png", width, scheme)
                        print(key)
        browser.close()


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2:])
