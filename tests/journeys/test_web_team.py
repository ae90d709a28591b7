"""The workbench over a team's database server: the same journeys, and a server that fails."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from tests.journeys.conftest import Workbench, free_port
from tests.journeys.plant_logs import write_logs
from tests.journeys.steps import opened, saved, text_of
from tests.team_server import TeamServer, server

if TYPE_CHECKING:
    from playwright.sync_api import Page

__all__ = ["server"]
pytestmark = pytest.mark.browser
SITE = '[data-place="site"]'
FLOW = '[data-place="sludge.0.flow"]:not([data-part])'
FULL = (
    "CREATE FUNCTION full_disk() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RAISE EXCEPTION "
    "'could not extend file \"base/5/1\": No space left on device' USING ERRCODE = '53100'; END $$",
    "CREATE TRIGGER full_disk BEFORE INSERT ON revisions EXECUTE FUNCTION full_disk()",
)
ONLY_READ = "ALTER DATABASE postgres SET default_transaction_read_only = "
OTHERS = (
    "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
    "WHERE pid <> pg_backend_pid() AND datname = current_database()"
)


@pytest.fixture(scope="module")
def workbench(server: TeamServer, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Workbench]:
    """A workbench whose one setting is the address of an empty database."""
    folder = tmp_path_factory.mktemp("team")
    bench = Workbench(folder, free_port(), team=server.empty())
    bench.start()
    yield bench
    bench.kill()


def test_a_study_lives_in_the_database(
    page: Page, workbench: Workbench, server: TeamServer, tmp_path: Path
) -> None:
    """Made, edited, undone, changed in two windows, copied, compared, its logs brought, its report
    taken away; the workbench and then the database are killed in between: nothing confirmed is
    lost, and what was typed meanwhile is saved by itself afterwards."""
    study = opened(page)
    before = page.input_value(FLOW)
    page.fill(SITE, "kept by the team")
    saved(page, 2)
    page.fill(FLOW, "16 m3/d")
    saved(page, 3)
    page.get_by_role("button", name="Undo").click()
    saved(page, 4)
    assert page.input_value(FLOW) == before
    other = page.context.new_page()
    other.goto(page.url)
    other.fill(FLOW, "18 m3/d")
    page.wait_for_function(
        "() => document.querySelector('[data-place=\"sludge.0.flow\"]').value === '18 m3/d'"
    )
    other.close()
    workbench.kill()
    page.fill(SITE, "typed while the workbench was gone")
    page.locator("#state.bad").wait_for()
    workbench.start()
    saved(page, 6)
    server.stop()
    page.fill(FLOW, "17 m3/d")
    page.locator("#state.bad", has_text="database server cannot be reached").wait_for()
    server.start()
    saved(page, 7)
    text = text_of(page, study)
    assert "typed while the workbench was gone" in text
    assert "17 m3/d" in text
    _take_away(page, study)
    page.goto(f"/studies/{study}/running")
    page.set_input_files("#log-file", write_logs(tmp_path)[0])
    page.locator('[data-map-of="1"]').wait_for()
    _compare(page, study)


def _take_away(page: Page, study: str) -> None:
    page.goto(f"/studies/{study}/report")
    for name, start in (("workbook.xlsx", b"PK"), ("study.toml", b"")):
        with page.expect_download() as started:
            page.locator(f".documents a[href$='{name}']").click()
        assert started.value.path().read_bytes().startswith(start)


def _compare(page: Page, study: str) -> None:
    page.goto(f"/studies/{study}/sludge")
    page.get_by_role("button", name="Make a variant").click()
    page.wait_for_url(lambda url: study not in url and "/sludge" in url)
    variant = page.url.split("/")[4]
    page.fill(FLOW, "21 m3/d")
    page.locator("#state", has_text="saved, version").wait_for()
    page.wait_for_function("() => !document.getElementById('state').matches('.busy')")
    page.goto(f"/compare?left={study}&right={variant}")
    assert "21 m3/d" in page.locator(".inputs-differ").inner_text()


def test_a_database_that_takes_nothing_says_so(page: Page, server: TeamServer) -> None:
    """A full disk and a database opened for reading only: said in words above what was typed,
    which is saved by itself as soon as there is room and right again."""
    study = opened(page)
    server.tell(*FULL)
    page.fill(SITE, "typed on a full disk")
    page.locator("#state.bad", has_text="the disk is full").wait_for()
    page.reload()
    assert page.input_value(SITE) == "typed on a full disk"
    server.tell("DROP TRIGGER full_disk ON revisions", "DROP FUNCTION full_disk")
    saved(page, 2)
    server.tell(ONLY_READ + "on", OTHERS)
    page.fill(SITE, "typed while nothing may be written")
    page.locator("#state.bad", has_text="may not be written").wait_for()
    page.goto("/")
    page.get_by_role("button", name="Open “soy”").click()
    page.locator("#home-problem", has_text="may not be written").wait_for()
    server.tell(ONLY_READ + "off", OTHERS)
    page.goto(f"/studies/{study}/sludge")
    saved(page, 3)
    assert "typed while nothing may be written" in text_of(page, study)
