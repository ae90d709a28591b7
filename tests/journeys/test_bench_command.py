"""From sheets of readings to law and report, by the command as a user runs it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from cakewright.cli.bench import command
from cakewright.sludge.law_text import parse_law
from cakewright.storage.bench_sheets import read_bench_files

EXAMPLES = Path(__file__).parents[2] / "examples" / "bench"


def _run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(command, [str(a) for a in arguments], catch_exceptions=False)


@pytest.fixture(scope="module")
def soy(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Result]:
    """The invented soy readings, run once, with one sheet spoiled on purpose."""
    folder = tmp_path_factory.mktemp("bench")
    spoiled = folder / "spoiled.csv"
    text = (EXAMPLES / "others.csv").read_text(encoding="utf-8")
    spoiled.write_text(text.replace("test,Z1", "test,Z9").replace("120,362", "50,362"), "utf-8")
    names = ("solids", "filtration", "drainage", "pressed", "jars")
    sheets = [EXAMPLES / f"{name}.csv" for name in names]
    return folder / "out", _run(*sheets, spoiled, "--out", folder / "out")


def test_everything_a_user_expects_is_written(soy: tuple[Path, Result]) -> None:
    """Report as page and PDF, law, data and figures; nothing else fails for one bad sheet."""
    folder, result = soy
    assert result.exit_code == 0, result.output
    names = {path.name for path in folder.iterdir()}
    assert {"bench-report.html", "bench-report.pdf", "sludge-law.toml", "bench.json"} <= names
    assert (folder / "bench-report.pdf").read_bytes().startswith(b"%PDF")
    assert sum(name.endswith(".svg") for name in names) >= 12


def test_a_pair_of_polymers_comes_back(tmp_path: Path) -> None:
    """The sheet of two products was made with its best pair at 1.8 and 5 kg/t; the fit finds it."""
    result = _run(EXAMPLES / "pair.csv", "--out", tmp_path / "out")
    assert result.exit_code == 0, result.output
    text = (tmp_path / "out" / "bench.json").read_text(encoding="utf-8")
    (test,) = json.loads(text)["sludges"][0]["tests"]
    for name, made in (("first_optimum_dose", 1.8e-3), ("optimum_dose", 5.0e-3)):
        found = test["results"][name]
        assert found["low"] <= made <= found["high"], found
        assert found["high"] - found["low"] < 0.3 * made


def test_law_comes_back_near_the_one_the_readings_were_made_from(
    soy: tuple[Path, Result],
) -> None:
    """The invented readings were made from a known law; its values lie inside 95 % intervals."""
    folder, _ = soy
    law = parse_law((folder / "sludge-law.toml").read_text(encoding="utf-8"))
    made_from = {
        "gel_point": 0.0165,
        "solids_density": 1484.0,
        "yield_scale": 160.0,
        "yield_exponent": 2.68,
        "local_resistance": 1.6e9,
        "resistance_exponent": 0.90,
        "optimum_dose": 0.0085,
        "dose_curvature": 2.2,
        "creep_share": 0.85,
        "creep_rate": 0.025,
    }
    for name, value in made_from.items():
        item = law.parameter(name)
        assert item.quantile(-1.96) < value < item.quantile(1.96), name
    assert law.polymer == "polymer B"
    assert law.invented


def test_bad_sheet_is_listed_everywhere(soy: tuple[Path, Result]) -> None:
    """The spoiled test is named with row and column on screen, in the page and in the data."""
    folder, result = soy
    place = "spoiled.csv, row"
    assert place in result.output
    assert "50 s after 60 s" in result.output
    assert place in (folder / "bench-report.html").read_text(encoding="utf-8")
    unusable = json.loads((folder / "bench.json").read_text(encoding="utf-8"))["unusable"]
    assert [bad["test"] for bad in unusable] == ["Z9"]


def test_report_says_invented_and_gives_cautions(soy: tuple[Path, Result]) -> None:
    """Marks, cautions, sources and calculation lines reach the page."""
    page = (soy[0] / "bench-report.html").read_text(encoding="utf-8")
    for words in ("invented", "Cautions", "licensed practice", "Calculation annex", "recomputed"):
        assert words in page
    assert "does not recompute" not in page
    assert "http://" not in page.replace("http://www.w3.org", "")


def test_templates_are_written_and_read_back(tmp_path: Path) -> None:
    """A folder of templates, and one workbook by name."""
    assert _run("--template", tmp_path / "sheets").exit_code == 0
    written = sorted((tmp_path / "sheets").glob("*.csv"))
    assert len(written) == 14
    assert not read_bench_files(written).bad
    assert _run("--template", tmp_path / "one.xlsx").exit_code == 0
    assert len(read_bench_files([tmp_path / "one.xlsx"]).tests) == 14


def test_no_file_is_wrong_use() -> None:
    """Without files or --template the command says what it needs."""
    result = _run()
    assert result.exit_code == 2
    assert "name at least one file" in result.output
