"""`cakewright guarantee` and `cakewright offers` from outside."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

from cakewright.storage.studies import demo_text


def run(*words: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    """The command as a user runs it."""
    return subprocess.run(
        [sys.executable, "-m", "cakewright", *words],
        cwd=cwd,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )


def test_what_can_i_promise_and_what_proves_it(tmp_path: Path) -> None:
    """Both questions are answered on the screen; sheet and protocol are written to sign."""
    done = run("guarantee", "--samples", "256", "--chance", "90", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "What can be promised at 90 %" in done.stdout
    assert "How many samples prove it" in done.stdout
    assert "invented" in done.stdout
    out = tmp_path / "cakewright-guarantee"
    protocol = (out / "protocol.html").read_text(encoding="utf-8")
    for words in ("Signatures", "When a run is thrown out", "guards closed", "Conditioning"):
        assert words in protocol
    assert (out / "protocol.pdf").read_bytes().startswith(b"%PDF")
    data = json.loads((out / "guarantee.json").read_text(encoding="utf-8"))
    assert {item["name"] for item in data["promises"]} >= {"cake_solids", "capture"}


def test_a_higher_chance_promises_less(tmp_path: Path) -> None:
    """At 95 % less cake is promised than at 80 %."""
    values = {}
    for chance in ("80", "95"):
        done = run("guarantee", "--samples", "256", "--chance", chance, "--json", cwd=tmp_path)
        rows = {row["name"]: row for row in json.loads(done.stdout)["promises"]}
        values[chance] = rows["cake_solids"]["promise"]["value"]
    assert values["95"] < values["80"]


OFFER = """cakewright_offers = 1
study = "soy.toml"
[[offer]]
name = "A"
machine = "belt_press"
cake_solids = "19 %"
"""


def test_offers_from_a_file(tmp_path: Path) -> None:
    """An offer with test conditions is compared; one without is listed and not computed."""
    (tmp_path / "soy.toml").write_text(demo_text("soy"), encoding="utf-8")
    with_test = OFFER + '[offer.test]\nkind = "pilot"\nsludge_class = "was"\ntotal_solids = "1 %"\n'
    second = '[[offer]]\nname = "B"\nmachine = "decanter"\ncake_solids = "25 %"\n'
    (tmp_path / "offers.toml").write_text(with_test + second, encoding="utf-8")
    done = run("offers", "offers.toml", "--out", "out", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "Offer B, decanter: NOT COMPARABLE" in done.stdout
    data = json.loads((tmp_path / "out" / "offers.json").read_text(encoding="utf-8"))
    by = {offer["name"]: offer for offer in data["offers"]}
    assert by["A"]["figures"]["cake_solids"]["on_site"] is not None
    assert all(f["on_site"] is None for f in by["B"]["figures"].values())


def test_offers_that_say_nothing_stop_with_why(tmp_path: Path) -> None:
    """Not one offer with test conditions: exit code 4, the reason, nothing written."""
    (tmp_path / "soy.toml").write_text(demo_text("soy"), encoding="utf-8")
    (tmp_path / "offers.toml").write_text(OFFER, encoding="utf-8")
    done = run("offers", "offers.toml", "--out", "out", cwd=tmp_path)
    assert done.returncode == 4
    assert "no test conditions are stated" in done.stderr
    assert not (tmp_path / "out").exists()
