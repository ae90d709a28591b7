"""Exports as they come: languages, encodings, preambles, units rows, titles in two rows."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest

from cakewright.storage.logs import LogJob, load_logs, read_month
from cakewright.storage.logs.looking import LogLook, look_over

# (title, unit, value with a point, signal), invented; one table per language.
GERMAN = [
    ("Zulaufmenge", "m3/h", 6.1, "feed_flow"), ("TS Zulauf", "%", 2.1, "feed_solids"),
    ("Polymermenge", "L/h", 420.0, "polymer_flow"),
    ("Polymerkonzentration", "%", 0.2, "polymer_strength"),
    ("Spülwasser", "m3/h", 0.6, "wash_flow"), ("Filtratmenge", "m3/h", 6.6, "filtrate_flow"),
    ("AFS Filtrat", "mg/L", 640.0, "filtrate_solids"),
    ("TR Schlammkuchen", "%", 18.6, "cake_solids"),
    ("Drehzahl Schnecke", "1/min", 2.4, "screw_speed"), ("Drehmoment", "%", 44.0, "screw_torque"),
    ("Gegendruck", "kPa", 60.0, "plate_pressure"),
    ("Füllstand Flockungsbehälter", "cm", 41.0, "floc_level"),
]  # fmt: skip
ENGLISH = [
    ("Sludge feed", "m3/h", 6.1, "feed_flow"), ("Feed TS", "%", 2.1, "feed_solids"),
    ("Polymer flow", "L/h", 420.0, "polymer_flow"), ("Torque", "%", 44.0, "screw_torque"),
    ("Cake TS", "%", 18.6, "cake_solids"), ("Level", "cm", 41.0, "floc_level"),
    ("Back pressure", "kPa", 60.0, "plate_pressure"), ("Screw rpm", "1/min", 2.4, "screw_speed"),
    ("Filtrate TSS", "mg/L", 640.0, "filtrate_solids"), ("Rinse water", "m3/h", 0.6, "wash_flow"),
]  # fmt: skip
FRENCH = [
    ("Débit boues", "m3/h", 6.1, "feed_flow"), ("Siccité boue entrée", "%", 2.1, "feed_solids"),
    ("Débit polymère", "L/h", 420.0, "polymer_flow"), ("Couple vis", "%", 44.0, "screw_torque"),
    ("Siccité gâteau", "%", 18.6, "cake_solids"), ("MES filtrat", "mg/L", 640.0, "filtrate_solids"),
    ("Vitesse vis", "1/min", 2.4, "screw_speed"), ("Eau de lavage", "m3/h", 0.6, "wash_flow"),
]  # fmt: skip
SPANISH = [
    ("Caudal de lodo", "m3/h", 6.1, "feed_flow"), ("Sequedad torta", "%", 18.6, "cake_solids"),
    ("Caudal polímero", "L/h", 420.0, "polymer_flow"), ("Par tornillo", "%", 44.0, "screw_torque"),
    ("Velocidad tornillo", "1/min", 2.4, "screw_speed"), ("Nivel", "cm", 41.0, "floc_level"),
    ("SST filtrado", "mg/L", 640.0, "filtrate_solids"),
]  # fmt: skip
ROMANISED = [
    ("Odei kyokyu ryo", "m3/h", 6.1, "feed_flow"), ("Odei noudo", "%", 2.1, "feed_solids"),
    ("Yakueki ryuryo", "L/h", 420.0, "polymer_flow"),
    ("Keki gansuiritsu", "%", 81.4, "cake_solids"),
    ("Sukuryu kaitensu", "1/min", 2.4, "screw_speed"), ("Toruku", "%", 44.0, "screw_torque"),
    ("Senjosui ryo", "m3/h", 0.6, "wash_flow"),
]  # fmt: skip
JAPANESE = [
    ("汚泥供給量", "m3/h", 6.1, "feed_flow"), ("供給汚泥濃度", "%", 2.1, "feed_solids"),
    ("薬液流量", "L/h", 420.0, "polymer_flow"), ("ケーキ含水率", "%", 81.4, "cake_solids"),
    ("スクリュー回転数", "1/min", 2.4, "screw_speed"), ("トルク", "%", 44.0, "screw_torque"),
    ("洗浄水量", "m3/h", 0.6, "wash_flow"), ("分離液SS", "mg/L", 640.0, "filtrate_solids"),
    ("凝集槽水位", "cm", 41.0, "floc_level"),
]  # fmt: skip
Columns = Sequence[tuple[str, str, float, str]]


def _rows(columns: Columns, count: int = 60) -> list[list[float]]:
    rng = np.random.default_rng(3)
    shaken = 1 + 0.03 * rng.standard_normal((count, len(columns)))
    rows: list[list[float]] = (shaken * np.array([c[2] for c in columns])).tolist()
    return rows


def _export(
    path: Path, columns: Columns, time: str, *, mark: str = ";", comma: bool = True,
    encoding: str = "utf-8", head: str = "", units: bool = False, form: str = "%d.%m.%Y %H:%M",
) -> Path:  # fmt: skip
    from datetime import datetime, timedelta

    first = datetime(2024, 3, 4, 6, 0)
    titles = [c[0] if units else f"{c[0]} [{c[1]}]" for c in columns]
    lines = [head + mark.join([time, *titles])]
    if units:
        lines.append(mark.join(["", *(c[1] for c in columns)]))
    for i, row in enumerate(_rows(columns)):
        cells = [f"{x:.4f}" for x in row]
        cells = [c.replace(".", ",") for c in cells] if comma else cells
        lines.append(mark.join([(first + timedelta(minutes=i)).strftime(form), *cells]))
    path.write_bytes(("\r\n".join(lines) + "\r\n").encode(encoding))
    return path


def _found(look: LogLook) -> dict[str, str]:
    return {column.title: key for key, column in look.draft.columns.items()}


@pytest.mark.parametrize(
    ("columns", "time", "most_missed"),
    [
        (GERMAN, "Zeitstempel", 0), (ENGLISH, "Timestamp", 0), (FRENCH, "Horodatage", 1),
        (SPANISH, "Fecha y hora", 1), (ROMANISED, "Nichiji", 0), (JAPANESE, "日時", 0),
    ],
)  # fmt: skip
def test_titles_of_many_languages(
    tmp_path: Path, columns: Columns, time: str, most_missed: int
) -> None:
    """Titles with units beside them are found in every language; moisture is known as such."""
    look = look_over(_export(tmp_path / "log.csv", columns, time), "a", tmp_path / "s")
    got = _found(look)
    missed = [c for c in columns if got.get(f"{c[0]} [{c[1]}]") != c[3]]
    assert len(missed) <= most_missed, missed
    wrong = {t: k for t, k in got.items() if k not in {c[3] for c in columns}}
    assert not wrong
    if columns in (ROMANISED, JAPANESE):
        assert look.draft.columns["cake_solids"].moisture
    assert look.draft.time_titles == (time,)


@pytest.mark.parametrize(
    ("encoding", "columns", "time"),
    [("cp932", JAPANESE, "日時"), ("cp1252", GERMAN, "Zeit"), ("utf-16", GERMAN, "Zeit"),
     ("cp850", GERMAN, "Zeit"), ("utf-8-sig", JAPANESE, "日時")],
)  # fmt: skip
def test_encodings(tmp_path: Path, encoding: str, columns: Columns, time: str) -> None:
    """Japanese and German exports are read in the encodings their programs write."""
    path = _export(tmp_path / "log.csv", columns, time, encoding=encoding)
    look = look_over(path, "a", tmp_path / "s")
    assert len(_found(look)) == len(columns)


def test_preamble_units_row_and_two_rows_of_titles(tmp_path: Path) -> None:
    """Lines before the titles, units beneath them, and titles in two rows are found and loaded."""
    head = "Export der Anlage\r\nvon;01.03.2024\r\n\r\n"
    path = _export(tmp_path / "a.csv", GERMAN, "Zeit", head=head, units=True)
    look = look_over(path, "a", tmp_path / "s")
    assert len(_found(look)) == len(GERMAN)
    assert any("line 4" in note for note in look.notes)
    load_logs(LogJob((path,), look.draft, tmp_path / "store", 2_000_000_000))
    block = read_month(tmp_path / "store", "a", "2024-03")
    assert block.time.size == 60
    assert block.values["feed_flow"].mean() == pytest.approx(6.1 / 3600, rel=0.02)
    two = "Zeit;Zulauf;Zulauf;Filtrat;Filtrat\n;Menge;TS;Menge;AFS\n;m3/h;%;m3/h;mg/L\n"
    body = "".join(f"04.03.2024 06:{i:02};6,{i};2,{i};6,{i};640\n" for i in range(10, 40))
    (tmp_path / "two.csv").write_text(two + body, encoding="utf-8")
    got = look_over(tmp_path / "two.csv", "b", tmp_path / "s").draft
    keys = {"feed_flow", "feed_solids", "filtrate_flow", "filtrate_solids"}
    assert set(got.columns) == keys
    report = load_logs(LogJob((tmp_path / "two.csv",), got, tmp_path / "store2", 2_000_000_000))
    assert report.rows_kept == 30


def test_moisture_is_loaded_as_solids(tmp_path: Path) -> None:
    """82 % water is 18 % solids."""
    path = _export(tmp_path / "log.csv", JAPANESE, "日時", encoding="cp932")
    look = look_over(path, "a", tmp_path / "s")
    load_logs(LogJob((path,), look.draft, tmp_path / "store", 2_000_000_000))
    cake = read_month(tmp_path / "store", "a", "2024-03").values["cake_solids"]
    assert float(np.nanmean(cake)) == pytest.approx(0.186, abs=0.01)


def test_numbers_speak_against_a_name(tmp_path: Path) -> None:
    """A column named cake solids that reads like a speed is shown as doubtful and not taken."""
    columns = [("Feed flow", "m3/h", 6.1, "feed_flow"), ("Cake TS", "%", 0.0004, "cake_solids")]
    look = look_over(_export(tmp_path / "log.csv", columns, "Time"), "a", tmp_path / "s")
    assert set(look.draft.columns) == {"feed_flow"}
    doubtful = next(one for one in look.proposals if one.title.startswith("Cake"))
    assert "do not lie" in doubtful.why
