"""Ten million one-minute rows: load, clean, reconcile per shift, indicators, charts, reports.

Usage: ``python benchmarks/running_speed.py [ROWS [csv|parquet]]``. Four invented sites go through
a pool of two processes; then pandas does the same four in such a pool, as far as it has steps for
it (see ``with_pandas``). Writes benchmarks/results/running_speed.json.
"""

from __future__ import annotations

import json
import os
import platform
import resource
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.csv as pa_csv
import pyarrow.parquet as pq

from cakewright.running.practice_plant import invented_minutes, invented_shifts
from cakewright.running.reconcile import reconcile_shifts
from cakewright.running.shifts import ShiftPlan, ShiftTable
from cakewright.running.site import Site

RESULTS = Path(__file__).parent / "results" / "running_speed.json"
SITES, NOW = 4, 4_000_000_000
KEYS = (
    "machine_on", "feed_flow", "feed_solids", "polymer_flow", "polymer_strength", "wash_flow",
    "filtrate_flow", "filtrate_solids", "cake_flow", "cake_solids", "screw_speed",
    "screw_torque", "plate_pressure", "floc_level",
)  # fmt: skip
HELD = {"feed_solids", "polymer_strength", "filtrate_solids", "cake_solids"}


def make_site(folder: Path, number: int, rows: int, kind: str) -> Path:
    """One site's raw log with some faults of each sort in it."""
    log = invented_shifts(None, seed=number, shifts=rows // 480, first_day=12_000, missing=0.0)
    seconds, values = invented_minutes(log, number)
    for key in HELD:
        values[key] = np.repeat(log.table.mean[key], 480)
    rng = np.random.default_rng(number)
    at = rng.integers(0, seconds.size, seconds.size // 500)
    values["feed_flow"][at] = 9.0  # impossible
    values["filtrate_flow"][100_000:101_000] *= 3.6  # another unit for most of a day
    values["screw_torque"][200_000:200_600] = 0.41  # stuck
    columns = {"time": seconds.astype(np.int64)} | {k: values[k].astype(np.float32) for k in KEYS}
    table = pa.table(columns)
    table = pa.concat_tables([table, table.slice(0, 500)])  # repeated rows
    path = folder / f"site-{number}.{kind}"
    if kind == "csv":
        pa_csv.write_csv(table, path)
    else:
        pq.write_table(table, path)
    return path


def one_site(path: str, store: str) -> tuple[int, int, int]:
    """Everything for one site; rows kept, shifts, bytes of reports."""
    from cakewright.jobs.watch import watch_site
    from cakewright.reports.running_pages import watch_outputs
    from cakewright.running.signals import signal
    from cakewright.storage.logs import Column, ColumnMap, LogJob, load_logs, read_shifts
    from cakewright.storage.logs.watching import tallies_of

    key = Path(path).stem
    columns = {k: Column(k, signal(k).house.unit, held=k in HELD) for k in KEYS}
    column_map = ColumnMap(key, ("time",), columns, ("epoch s",))
    site = Site(key, key, invented=True, plan=ShiftPlan("UTC", 6, 8))
    report = load_logs(LogJob((Path(path),), column_map, Path(store), NOW, memory_mb=350))
    table = read_shifts(Path(store), key, site.plan)
    findings = watch_site(table, site, tallies=tallies_of(report.tallies, len(report.gaps)))
    pages = watch_outputs(findings)
    return report.rows_kept, table.size, sum(len(page) for page in pages.values())


class Peak(threading.Thread):
    """Largest resident memory of this process and its children, in MiB."""

    def __init__(self) -> None:
        super().__init__(daemon=True)
        self.most, self.running = 0.0, True

    def run(self) -> None:
        """Sample ten times a second."""
        while self.running:
            self.most = max(self.most, _resident(os.getpid()))
            time.sleep(0.1)

    def stop(self) -> float:
        """Peak seen."""
        self.running = False
        self.join()
        return self.most


def _resident(pid: int) -> float:
    total = 0.0
    try:
        status = Path(f"/proc/{pid}/status").read_text()
        total += float(status.split("VmRSS:")[1].split()[0]) / 1024
        for task in Path(f"/proc/{pid}/task").iterdir():
            for child in (task / "children").read_text().split():
                total += _resident(int(child))
    except (OSError, IndexError):
        pass
    return total


def _children() -> float:
    """Processor seconds of finished child processes: honest on a shared machine."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def _clean_with_pandas(path: Path) -> Any:
    """One site's rows read and cleaned: repeats, impossible and stuck readings, unit slips."""
    import pandas as pd

    frame = pd.read_csv(path) if path.suffix == ".csv" else pd.read_parquet(path)
    frame = frame.drop_duplicates("time").sort_values("time")
    frame.index = pd.to_datetime(frame.pop("time"), unit="s", utc=True)
    frame["feed_flow"] = frame["feed_flow"].where(frame["feed_flow"].between(0, 0.2))
    on = frame["machine_on"] > 0.5
    for key in ("feed_flow", "filtrate_flow", "polymer_flow", "cake_flow", "screw_torque"):
        run = (frame[key].diff() != 0).cumsum()
        length = frame.groupby(run)[key].transform("size")
        frame[key] = frame[key].where(~(on & (length > 120)))
    for key in KEYS[1:]:  # unit slips: four-hour means against the usual, with the usual ratios
        mean = frame[key].where(on).resample("4h").transform("mean")
        ratio = mean / frame[key].where(on).median()
        for factor in (3.6, 16.67, 60.0, 1000.0):
            frame[key] = frame[key].where((ratio / factor - 1).abs() > 0.15, frame[key] / factor)
    return frame


def _charts_with_pandas(shifts: Any, count: int = 150) -> int:
    """Residuals of cake from a log-linear law, with EWMA, individuals and CUSUM; alarms found."""
    keys = ["feed_solids", "feed_flow", "polymer_flow", "screw_speed", "plate_pressure"]
    x = np.log(shifts[keys].to_numpy())
    y = np.log(shifts["cake_solids"].to_numpy())
    good = np.isfinite(x).all(axis=1) & np.isfinite(y)
    design = np.column_stack([np.ones(len(x)), x])
    rows = good & (np.cumsum(good) <= count)
    slopes = np.linalg.lstsq(design[rows], y[rows], rcond=None)[0]
    left = shifts["cake_solids"] * 0 + (y - design @ slopes)
    score = left / left[rows].std()
    ewma = score.ewm(alpha=0.15).mean()
    high, low = 0.0, 0.0
    alarms = int((ewma.abs() > 3 * (0.15 / 1.85) ** 0.5).sum() + (score.abs() > 3).sum())
    for value in score.fillna(0.0):
        high, low = max(high + value - 0.5, 0.0), min(low + value + 0.5, 0.0)
        alarms += (high > 5) + (low < -5)
    return alarms


def with_pandas(path: Path, store: Path) -> int:
    """What a user would write for one site: load, clean, keep, shift means, balance, charts.

    It leaves out what pandas has no step for: the list of every change with its reason, limits for
    the memory of the series, dating, causes, and the reports.
    """
    frame = _clean_with_pandas(path)
    store.mkdir(parents=True, exist_ok=True)
    frame.to_parquet(store / f"{path.stem}.parquet")
    on = frame["machine_on"] > 0.5
    shifts = frame[on].resample("8h", offset="6h").mean()
    hours = on.resample("8h", offset="6h").sum() * 60.0
    mean = {key: shifts[key].to_numpy() for key in KEYS[1:]}
    size = len(shifts)
    start = shifts.index.as_unit("s").asi8.astype(np.int64)
    span = np.full(size, 28800.0)
    cover = {key: np.isfinite(value).astype(float) for key, value in mean.items()}
    table = ShiftTable(start, span, hours.to_numpy()[:size], span, np.zeros(size), mean, cover)
    reconcile_shifts(table)
    _charts_with_pandas(shifts)
    return size


def _pooled(
    work: Callable[..., Any], *columns: Sequence[Any]
) -> tuple[list[Any], float, float, float]:
    """Results of one way over all sites in two processes; wall and processor seconds, peak MiB."""
    before, peak, begun = _children(), Peak(), time.perf_counter()
    peak.start()
    with ProcessPoolExecutor(2, get_context("spawn")) as pool:
        done = list(pool.map(work, *columns))
    wall = time.perf_counter() - begun
    return done, wall, _children() - before, peak.stop()


def main(rows: int, kind: str) -> None:
    """Make the logs, run both, keep the figures."""
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        paths = [make_site(folder, n, rows // SITES, kind) for n in range(SITES)]
        size = sum(path.stat().st_size for path in paths) / 2**20
        print(f"{rows} rows, {size:.0f} MiB of {kind}", flush=True)
        stores = [str(folder / "store")] * SITES
        done, ours, busy, memory = _pooled(one_site, list(map(str, paths)), stores)
        print(f"ours: {ours:.1f} s ({busy:.1f} s of processor), {memory:.0f} MiB", flush=True)
        _, rival, rival_busy, rival_memory = _pooled(
            with_pandas, paths, [folder / "pandas"] * SITES
        )
        print(f"pandas: {rival:.1f} s ({rival_busy:.1f} s of processor), {rival_memory:.0f} MiB")
    results = {
        "rows": rows, "format": kind, "mib": size, "seconds": ours, "peak_mib": memory,
        "rows_kept": sum(d[0] for d in done), "shifts": sum(d[1] for d in done),
        "processor_seconds": busy, "pandas_seconds": rival, "pandas_peak_mib": rival_memory,
        "pandas_processor_seconds": rival_busy, "pandas_over_ours_wall": rival / ours,
        "pandas_over_ours_processor": rival_busy / busy,
        "pandas_over_ours_memory": rival_memory / memory, "cores": os.cpu_count(),
        "load_before": os.getloadavg()[0], "machine": platform.machine(),
    }  # fmt: skip
    name = kind if rows >= 10_000_000 else f"{kind} {rows}"
    old = json.loads(RESULTS.read_text()) if RESULTS.exists() else {}
    RESULTS.parent.mkdir(exist_ok=True)
    RESULTS.write_text(json.dumps({**old, name: results}, indent=1) + "\n")


if __name__ == "__main__":
    count = int(float(sys.argv[1])) if len(sys.argv) > 1 else 10_000_000
    main(count, sys.argv[2] if len(sys.argv) > 2 else "csv")
