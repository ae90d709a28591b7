"""Pages and what they ask while they are open."""

from __future__ import annotations

import re
import time
from typing import Any

import pytest
from starlette.testclient import TestClient

from cakewright.storage.studies import DEMOS, demo_text
from cakewright.study import fields
from cakewright.web.chapters import CHAPTERS

HOSTILE = "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>{{7*7}}{% raw %}=1+1"


def _edit(
    client: TestClient, study: str, base: int, *edits: dict[str, Any], at: str = "sludge"
) -> Any:
    return client.post(f"/studies/{study}/{at}/edit", json={"base": base, "edits": list(edits)})


@pytest.mark.parametrize("chapter", [chapter.key for chapter in CHAPTERS])
def test_every_chapter_opens(client: TestClient, soy: dict[str, Any], chapter: str) -> None:
    """Each chapter has its name, the headline and the way to all others."""
    answer = client.get(f"/studies/{soy['id']}/{chapter}")
    assert answer.status_code == 200
    assert answer.text.count("<h1>") == 1
    assert answer.text.count('class="head-figure"') >= 6
    assert answer.text.count(f"/studies/{soy['id']}/") >= len(CHAPTERS)


@pytest.mark.parametrize("demo", DEMOS)
def test_demonstrations_come_out_as_they_ship(client: TestClient, demo: str) -> None:
    """A demonstration opened and exported is the shipped file, byte for byte."""
    made = client.post("/api/studies", json={"demo": demo}).json()
    assert client.get(f"/api/studies/{made['id']}/text").content == demo_text(demo).encode()
    answer = client.get(f"/studies/{made['id']}/files/study.toml")
    assert answer.content == demo_text(demo).encode()
    assert "attachment" in answer.headers["content-disposition"]


def test_an_edit_answers_with_what_moved(client: TestClient, soy: dict[str, Any]) -> None:
    """The answer to an edit is the new headline alone, as the point case and without faults; the
    chapter is had by asking, and the bands follow for the same version."""
    before = client.get(f"/studies/{soy['id']}/sludge").text
    live = _edit(client, soy["id"], 1, {"place": "prices.disposal", "typed": "158 EUR/t"}).json()
    assert (live["version"], live["stage"], live["faults"]) == (2, "head", {})
    assert live["results"] == ""
    rest = client.get(f"/studies/{soy['id']}/sludge/live?version=2&stage=head").json()
    assert rest["version"] == 2
    assert "What arrives" in rest["results"]
    cost = re.compile(r"cost of dry solids</dt>\s*<dd[^>]*><span[^>]*><button[^>]*>([\d.]+)")
    old, new = (float(cost.search(text).group(1)) for text in (before, live["headline"]))  # type: ignore[union-attr]
    assert new > old
    assert "band follows" in live["headline"]
    for _ in range(200):
        answer = client.get(f"/studies/{soy['id']}/cost/live?version=2&stage=point")
        if answer.json()["headline"]:
            break
        time.sleep(0.05)
    assert answer.json()["stage"] in ("bands", "decided")
    assert "band follows" not in answer.json()["headline"]


def test_nothing_new_is_said_shortly(client: TestClient, soy: dict[str, Any]) -> None:
    """A page that is up to date gets an empty answer."""
    assert client.get(f"/studies/{soy['id']}/sludge/live?version=1&stage=whole").status_code == 204


def test_fault_is_told_at_its_place(client: TestClient, soy: dict[str, Any]) -> None:
    """A wrong value is kept, its fault told for its place, and no figure is shown for it."""
    live = _edit(client, soy["id"], 1, {"place": "sludge.0.flow", "typed": "14 kg"}).json()
    assert live["stage"] == "faults"
    assert "m3/d" in live["faults"]["sludge.0.flow"]
    assert "head-figure" not in live["headline"]
    page = client.get(f"/studies/{soy['id']}/sludge").text
    assert 'value="14 kg"' in page
    assert 'aria-invalid="true"' in page


RUBBISH = ("", " ", "lots", "1e999 m3/d", "-5 m3/d", "14,5 m3/d", "14 kg", "NaN m3/d", "'; --",
           HOSTILE, "1" * 3000, "π", "\u202e", "1 .. 0 .. 2 %", "± ±")  # fmt: skip


@pytest.mark.parametrize("typed", RUBBISH)
def test_rubbish_in_any_kind_of_field_is_answered_in_words(
    client: TestClient, soy: dict[str, Any], typed: str
) -> None:
    """Whatever is pasted into a quantity, number, choice, flag, count, list or text: an answer
    with the fault's words, never a failure, and the study can be undone to what it was."""
    places = ["sludge.0.flow", "production.peak_factor", "outlet.route", "invented", "price_year",
              "machines.kinds", "title", "machines.catalogue", "prices.power"]  # fmt: skip
    answer = _edit(client, soy["id"], 1, *({"place": p, "typed": typed} for p in places))
    assert answer.status_code == 200, answer.text
    live = answer.json()
    for part in ("headline", "results", "loose", "inputs"):
        assert "<script>alert" not in live[part]
    back = client.post(f"/studies/{soy['id']}/sludge/undo", json={"base": live["version"]})
    assert back.status_code == 200
    assert client.get(f"/api/studies/{soy['id']}/text").text == demo_text("soy")


def test_names_and_notes_cannot_carry_markup(client: TestClient, reservoir: dict[str, Any]) -> None:
    """Markup, template signs and formulas in names and notes stay words on every page."""
    edits = [
        {"place": place, "typed": HOSTILE} for place in ("title", "site", "note", "sludge.0.name")
    ]
    edits += [{"place": "target.cake_solids", "typed": HOSTILE, "part": "note"}]
    saved = client.patch(f"/api/studies/{reservoir['id']}", json={"base": 1, "edits": edits})
    assert saved.status_code == 200
    paths = ["/", f"/compare?left={reservoir['id']}&right={reservoir['id']}"]
    paths += [
        f"/studies/{reservoir['id']}/{p}" for p in ("sludge", "line", "report", "text", "history")
    ]
    for path in paths:
        text = client.get(path).text
        assert "<script>alert" not in text
        assert "<img src=x" not in text
        assert "7*7" in text or "49" not in text
    for name in ("report.html", "findings.json"):
        made = client.get(f"/studies/{reservoir['id']}/files/{name}")
        assert made.status_code == 200
        assert "<script>alert" not in made.text or name.endswith("json")


def test_text_that_is_no_toml_is_kept_and_said(client: TestClient, soy: dict[str, Any]) -> None:
    """A broken text is kept, its line named on the text page; forms say why they are gone, and
    undo brings everything back."""
    saved = client.put(f"/api/studies/{soy['id']}/text", json={"base": 1, "text": "a = [\n"})
    assert saved.status_code == 200
    assert saved.json()["faults"]
    page = client.get(f"/studies/{soy['id']}/sludge")
    assert "is not TOML" in page.text
    answer = _edit(client, soy["id"], 2, {"place": "title", "typed": "x"})
    assert answer.status_code == 422
    assert "is not TOML" in answer.json()["error"]
    assert client.post(f"/studies/{soy['id']}/sludge/undo", json={"base": 2}).status_code == 200


def test_study_of_a_newer_program(client: TestClient) -> None:
    """A study in a newer format is kept byte for byte and the page says what to do."""
    text = demo_text("soy").replace("cakewright = 1", "cakewright = 7")
    made = client.post("/api/studies", json={"text": text}).json()
    page = client.get(f"/studies/{made['id']}/sludge")
    assert "written by a newer program" in page.text
    assert client.get(f"/api/studies/{made['id']}/text").text == text


def test_undo_and_conflict_over_the_wire(client: TestClient, soy: dict[str, Any]) -> None:
    """Two windows: different places are merged and told, the same place is refused with words
    and both texts kept."""
    assert _edit(client, soy["id"], 1, {"place": "site", "typed": "one"}).status_code == 200
    merged = _edit(client, soy["id"], 1, {"place": "duty.days_per_week", "typed": "6"}).json()
    assert merged["merged"]
    assert 'value="one"' in merged["inputs"]
    refused = _edit(client, soy["id"], 1, {"place": "site", "typed": "two"})
    assert refused.status_code == 409
    assert refused.json()["places"] == ["site"]
    assert "two" in client.get(f"/studies/{soy['id']}/history").text


@pytest.mark.parametrize(
    ("name", "start"),
    [("report.pdf", b"%PDF"), ("workbook.xlsx", b"PK"), ("findings.json", b"{"),
     ("flow-diagram.svg", b"<svg"), ("flow-diagram.dxf", b"  0")],
)  # fmt: skip
def test_documents(client: TestClient, soy: dict[str, Any], name: str, start: bytes) -> None:
    """Each document comes as a file with a plain name."""
    answer = client.get(f"/studies/{soy['id']}/files/{name}")
    assert answer.status_code == 200
    assert answer.content.lstrip(b"\xef\xbb\xbf").startswith(start)
    assert re.fullmatch(
        rf'attachment; filename="[a-z0-9-]+-{re.escape(name)}"',
        answer.headers["content-disposition"],
    )


def test_report_to_look_at_runs_nothing(client: TestClient, reservoir: dict[str, Any]) -> None:
    """The report in the browser is shut in: no script, no form, no address."""
    answer = client.get(f"/studies/{reservoir['id']}/files/report.html?view=true")
    assert answer.headers["content-security-policy"].startswith("sandbox; default-src 'none'")


def test_no_document_of_a_study_with_faults(client: TestClient, soy: dict[str, Any]) -> None:
    """A study with faults gives no report, and says which faults."""
    _edit(client, soy["id"], 1, {"place": "sludge.0.flow", "typed": "?"})
    answer = client.get(f"/studies/{soy['id']}/files/report.pdf")
    assert answer.status_code == 422
    assert answer.json()["faults"][0]["where"] == "sludge.0.flow"


def test_figures_lead_to_their_calculation(client: TestClient, soy: dict[str, Any]) -> None:
    """Every figure of the headline that is linked has its formula, numbers and source behind it."""
    page = client.get(f"/studies/{soy['id']}/sludge").text
    lines = set(re.findall(r'data-line="([^"]+)"', page))
    assert len(lines) >= 8
    for line in lines:
        card = client.get(f"/studies/{soy['id']}/lines/{line}")
        assert card.status_code == 200
        assert 'class="equation"' in card.text
        assert "Read:" in card.text
    assert client.get("/sources/P17").status_code == 200
    assert client.get("/sources/nothing").status_code == 404


def test_units_by_cookie(client: TestClient, soy: dict[str, Any]) -> None:
    """US units are shown when asked for, with an echo beside each input that is written in SI."""
    client.cookies.set("cakewright_units", "us")
    page = client.get(f"/studies/{soy['id']}/sludge")
    client.cookies.delete("cakewright_units")
    assert "gpm" in page.text
    assert 'class="echo"' in page.text
    assert "gpm" in client.get(f"/studies/{soy['id']}/sludge").text


def test_side_by_side(client: TestClient, soy: dict[str, Any]) -> None:
    """Two studies side by side list what differs, and how far the figures are apart."""
    other = client.post(f"/api/studies/{soy['id']}/duplicate").json()
    _edit(client, other["id"], other["version"], {"place": "prices.disposal", "typed": "158 EUR/t"})
    page = client.get(f"/compare?left={soy['id']}&right={other['id']}").text
    assert "58 EUR/t ± 12 EUR/t" in page
    assert re.search(r'class="right difference">\+\d', page)
    same = client.get(f"/compare?left={soy['id']}&right={soy['id']}").text
    assert "The two studies give the same values." in same


def test_what_is_not_here(client: TestClient) -> None:
    """Unknown studies, chapters and documents are said in words, as a page to a person."""
    answer = client.get("/studies/abcdefgh/sludge", headers={"accept": "text/html"})
    assert answer.status_code == 404
    assert "no study" in answer.text
    assert client.get("/studies/../../etc/passwd").status_code == 404


def test_no_key_is_left_out(client: TestClient) -> None:
    """Every key a study may hold can be entered on some chapter."""
    made = client.post("/api/studies", json={"demo": "soy"}).json()
    text = "".join(client.get(f"/studies/{made['id']}/{c.key}").text for c in CHAPTERS)
    for section, keys in fields().items():
        for key, field in keys.items():
            place = {"sludge": f"sludge.0.{key}", "origin": ""}.get(section, field.place)
            if place and place != "cakewright":
                assert f'data-field="{place}"' in text, place
