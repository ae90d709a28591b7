"""Many sites at once: watched by two processes, summarised, pooled without names, used again."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from cakewright.cli.learn import command as learn
from cakewright.cli.watch import command as watch
from cakewright.running.practice_plant import invented_minutes, invented_shifts

KEYS = (
    "machine_on", "feed_flow", "feed_solids", "polymer_flow", "polymer_strength", "wash_flow",
    "filtrate_flow", "filtrate_solids", "cake_flow", "cake_solids", "screw_speed",
    "screw_torque", "plate_pressure", "floc_level",
)  # fmt: skip
UNITS = {
    "machine_on": "1", "feed_flow": "m3/s", "feed_solids": "1", "polymer_flow": "m3/s",
    "polymer_strength": "1", "wash_flow": "m3/s", "filtrate_flow": "m3/s",
    "filtrate_solids": "kg/m3", "cake_flow": "kg/s", "cake_solids": "1", "screw_speed": "1/s",
    "screw_torque": "1", "plate_pressure": "Pa", "floc_level": "m",
}  # fmt: skip


def _call(command: object, arguments: Sequence[object]) -> Result:
    return CliRunner().invoke(command, [str(a) for a in arguments], catch_exceptions=False)  # type: ignore[arg-type]


def write_site(folder: Path, number: int, fault: str | None) -> None:
    """One invented site: site file, map and hourly log."""
    folder.mkdir(parents=True)
    log = invented_shifts(fault, seed=300 + number, shifts=120, start=110, missing=0.0)
    time, values = invented_minutes(log, number)
    columns_of = {
        key: values.get(key, np.repeat(log.table.mean[key], 480) if key in log.table.mean else time)
        for key in KEYS
    }
    rows = np.column_stack([time, *(columns_of[key] for key in KEYS)])[::60]
    heads = ",".join(["time", *KEYS])
    np.savetxt(folder / "log-1.csv", rows, "%.9g", ",", header=heads, comments="")
    columns = "\n".join(
        f'{key} = {{ title = "{key}", unit = "{UNITS[key]}", held = true }}' for key in KEYS
    )
    (folder / "map.toml").write_text(
        f'site = "secret-{number}"\n[time]\ntitle = "time"\nformat = "epoch s"\n'
        f"[columns]\n{columns}\n",
        encoding="utf-8",
    )
    (folder / "site.toml").write_text(
        f'[site]\nkey = "secret-{number}"\ntitle = "Secret works {number}"\nframe = "disc 9"\n'
        'invented = true\n[promise]\ncake_solids = "15 %"\n[logs]\n"map.toml" = "log-*.csv"\n',
        encoding="utf-8",
    )


@pytest.fixture(scope="module")
def sites(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three good sites, one of them with a hidden fault, and one whose logs are missing."""
    folder = tmp_path_factory.mktemp("sites")
    for number in range(3):
        write_site(folder / f"s{number}", number, "wash_fault" if number == 1 else None)
    write_site(folder / "s3", 3, None)
    (folder / "s3" / "log-1.csv").unlink()
    return folder


@pytest.fixture(scope="module")
def watched(sites: Path) -> tuple[Path, Result]:
    """All of them watched by two processes."""
    out = sites.parent / "watched"
    return out, _call(watch, ["--sites", sites, "--workers", "2", "--out", out])


def test_all_sites_are_watched_and_one_failure_stops_nothing(
    watched: tuple[Path, Result],
) -> None:
    """Reports per site; the fault is named for its site alone; the broken site is told, exit 1."""
    out, result = watched
    assert result.exit_code == 1
    lines = {line.split()[0]: line for line in result.output.splitlines() if line[:1] == "s"}
    assert "wash" in lines["s1"]
    assert "nothing has left its usual level" in lines["s0"] + lines["s2"]
    assert "a pattern some file fits" in lines["s3"]
    assert sorted(p.parent.name for p in out.glob("*/operator.pdf")) == ["s0", "s1", "s2"]
    page = (out / "sites.html").read_text(encoding="utf-8")
    assert "3 of 4 sites watched" in page
    assert "invented" in page


def test_pooled_by_frame_without_names_and_used_again(
    watched: tuple[Path, Result], sites: Path, tmp_path: Path
) -> None:
    """The fleet of the frame names nobody, and a watch that starts from it has sharper slopes."""
    out, _ = watched
    result = _call(learn, ["sites", sites, "--watched", out, "--out", tmp_path])
    assert result.exit_code == 0
    assert "3 sites of frame disc 9" in result.output
    text = (tmp_path / "fleet-disc-9.json").read_text(encoding="utf-8")
    assert "secret" not in text.lower()
    assert "s0" not in text
    prior = json.loads(text)["parameters"]["cake_solids.dose"]
    assert prior["sites"] == 3
    again = ["--site", sites / "s0" / "site.toml", "--store", out / "s0" / "store"]
    _call(watch, [*again, "--out", tmp_path / "a"])
    done = _call(
        watch, [*again, "--fleet", tmp_path / "fleet-disc-9.json", "--out", tmp_path / "b"]
    )
    assert done.exit_code == 0
    pages = [(tmp_path / x / "engineer.html").read_text(encoding="utf-8") for x in "ab"]
    laws = [page[page.index("Expectation and method") :] for page in pages]
    assert laws[0] != laws[1]
    assert "Slopes start from 3 presses of frame disc 9, without their names." in pages[1]
    assert "Slopes start from" not in pages[0]


def test_a_fleet_of_another_frame_is_refused(
    watched: tuple[Path, Result], sites: Path, tmp_path: Path
) -> None:
    """A press does not start from presses of another frame."""
    out, _ = watched
    fleet = tmp_path / "fleet.json"
    head = {"kind": "cakewright fleet", "version": 1, "frame": "disc 7", "sites": 3}
    fleet.write_text(json.dumps({**head, "parameters": {}}), encoding="utf-8")
    with pytest.raises(Exception, match="'disc 7'"):
        _call(watch, [
            "--site", sites / "s0" / "site.toml", "--store", out / "s0" / "store",
            "--fleet", fleet, "--out", tmp_path,
        ])  # fmt: skip
