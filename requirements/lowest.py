"""Whether the lowest versions that `pyproject.toml` allows do the work, with the same answers.

    .venv/bin/python requirements/lowest.py FOLDER

Makes an environment in FOLDER (or takes the one that is there), installs each direct dependency at
its lower bound, and runs the main jobs with it: a demonstration, bench sheets, a log, trial runs,
a portfolio, a backup that is restored, and the workbench answering. The same jobs run with the
versions of the interpreter that was called, and every number of their findings is compared. Ends
with what worked and agreed.
"""

from __future__ import annotations

import json
import os
import re
import socket
import subprocess
import sys
import time
import tomllib
import urllib.request
import venv
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
EXAMPLES = ROOT / "examples"


def lowest() -> list[str]:
    """Each direct dependency at its lower bound."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    found = [re.match(r"([\w.-]+)>=([\w.]+)", text) for text in project["dependencies"]]
    return [f"{one[1]}=={one[2]}" for one in found if one]


def jobs(out: Path) -> dict[str, list[str]]:
    """What to run, by name: the words behind `python`."""
    running, pilot, studies = EXAMPLES / "running", EXAMPLES / "pilot", out / "studies"
    studies.mkdir()
    (studies / "a.toml").write_bytes((EXAMPLES / "reservoir.toml").read_bytes())
    logs = (str(out / "minutes.csv"), str(out / "laboratory.xlsx"))
    maps = ("--map", str(running / "minutes.toml"), "--map", str(running / "laboratory.toml"))
    store, kept = f"sqlite:///{out / 's.sqlite'}", str(out / "b.backup")

    def ours(name: str, *words: str) -> list[str]:
        return ["-m", "cakewright", name, *words]

    def into(name: str, *words: str) -> list[str]:
        return ours(name, *words, "--out", str(out / name))

    return {
        "evaluate": into("evaluate", "--demo", "soy", "--samples", "64"),
        "press": ours(
            "evaluate", "--demo", "soy", "--samples", "8", "--press", "--out", str(out / "press")
        ),
        "bench": into("bench", str(EXAMPLES / "bench" / "filtration.csv")),
        "make logs": [str(running / "make_logs.py"), str(out)],
        "watch": into("watch", *logs, *maps, "--site", str(running / "site.toml")),
        "calibrate": into("calibrate", str(pilot / "study.toml"), str(pilot / "runs.csv")),
        "offers": into("offers", str(pilot / "offers.toml")),
        "portfolio": into("portfolio", str(studies), "--samples", "16", "--workers", "1"),
        "backup": ours("backup", kept, "--store", store),
        "restore": ours("restore", kept, "--store", f"sqlite:///{out / 'r.sqlite'}"),
    }


# Findings of each job, how far its numbers may lie apart, and which are compared: what is sampled
# from a posterior, or looked for along a path, follows the last digits of its libraries.
FINDINGS = {
    "evaluate": ("findings.json", 1e-6, ""),
    "press": ("findings.json", 0.05, "/press/figures"),
    "bench": ("bench.json", 1e-4, ""),
    "watch": ("watch.json", 1e-6, ""),
    "offers": ("offers.json", 1e-4, ""),
    "calibrate": ("calibration.json", 0.2, ""),
}


def numbers(found: object, place: str = "") -> dict[str, float]:
    """Every number of a finding by its place."""
    if isinstance(found, bool):
        return {}
    if isinstance(found, int | float):
        return {place: float(found)}
    parts = found.items() if isinstance(found, dict) else enumerate(found) if isinstance(
        found, list) else ()  # fmt: skip
    return {k: v for key, part in parts for k, v in numbers(part, f"{place}/{key}").items()}


def apart(one: Path, other: Path, tolerance: float, part: str) -> str:
    """Nothing when two files of findings agree; else where they lie farthest apart."""
    if not (one.is_file() and other.is_file()):
        return f"no {one.name if not one.is_file() else other.name} was written"
    first, second = (
        {k: v for k, v in numbers(json.loads(p.read_text(encoding="utf-8"))).items()
         if k.startswith(part)}
        for p in (one, other)
    )  # fmt: skip
    if first.keys() != second.keys():
        odd = sorted(first.keys() ^ second.keys())
        return f"{len(odd)} numbers stand in one only: {odd[:3]}"
    scale = {k: max(abs(first[k]), abs(second[k]), 1e-12) for k in first}
    gaps = {k: abs(first[k] - second[k]) / scale[k] for k in first}
    wide = [k for k, gap in gaps.items() if gap > tolerance]
    if not wide:
        return ""
    worst = max(wide, key=gaps.__getitem__)
    return (
        f"{len(wide)} of {len(gaps)} numbers apart by more than {tolerance:g}; {worst}: "
        f"{first[worst]!r} against {second[worst]!r}"
    )


def serves(python: Path, out: Path) -> str:
    """Nothing when the workbench answers; else why not."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    words = ["serve", "--port", str(port), "--store", f"sqlite:///{out / 'web.sqlite'}"]
    with (out / "serve.log").open("wb") as log:
        run = subprocess.Popen(
            [str(python), "-m", "cakewright", *words, "--no-open"],
            stdout=log, stderr=log, env={**os.environ, "PYTHONPATH": str(ROOT / "src")},
        )  # fmt: skip
    said = "no answer in 60 s"
    try:
        for path in ("/health", "/"):
            for _ in range(120):
                try:
                    with urllib.request.urlopen(
                        f"http://127.0.0.1:{port}{path}", timeout=10
                    ) as got:
                        said = "" if got.status == 200 else f"{path}: {got.status}"
                        break
                except OSError as error:
                    said = f"{path}: {error}"
                    time.sleep(0.5)
            if said:
                return said
    finally:
        run.terminate()
        run.wait(30)
    return said


def _tell(words: str) -> None:
    sys.stdout.write(words + "\n")
    sys.stdout.flush()


def run_all(python: str, out: Path) -> dict[str, str]:
    """Every job in a new folder; what each came to."""
    out.mkdir()
    told = {}
    for name, words in jobs(out).items():
        done = subprocess.run(
            [python, *words],
            capture_output=True, text=True, check=False, timeout=900, cwd=out,
            env={**os.environ, "PYTHONPATH": str(ROOT / "src"), "CAKEWRIGHT_TRACEBACK": "1"},
        )  # fmt: skip
        told[name] = "works" if done.returncode == 0 else done.stderr[-1500:]
        _tell(f"{Path(python).parent.parent.name}, {name}: {told[name]}")
    return told


def main(folder: Path) -> int:
    """Install, run, tell."""
    python = folder / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    if not python.exists():
        venv.create(folder, with_pip=True)
    pins = lowest()
    _tell("\n".join(pins))
    subprocess.run(
        [str(python), "-m", "pip", "install", "-q", "--only-binary=:all:", *pins], check=True
    )
    out, own = folder / f"out-{os.getpid()}", folder / f"own-{os.getpid()}"
    told = run_all(str(python), out)
    here = run_all(sys.executable, own)
    for name, (file, tolerance, part) in FINDINGS.items():
        if told[name] == here[name] == "works":
            gap = apart(out / name / file, own / name / file, tolerance, part)
            told[name] = f"answers differently: {gap}" if gap else "works"
        _tell(f"{name}: {told[name]}, compared within {tolerance:g}")
    told["serve"] = serves(python, out) or "works"
    _tell(json.dumps({name: words == "works" for name, words in told.items()}))
    return int(any(words != "works" for words in told.values()))


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]).resolve()))
