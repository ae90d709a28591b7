"""Runs of a press on trial, and what the pressing path says of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache, cached_property
from typing import Any

import numpy as np

from cakewright.jobs.fitted import FittedPress, law_key
from cakewright.jobs.path_error import coordinates, covariance_of
from cakewright.jobs.trial_prior import Believed, believed
from cakewright.machines import Kind
from cakewright.machines.screw.case import run_raw
from cakewright.machines.screw.path import ScrewGeometry
from cakewright.physics.dose_response import fines_share_dose, resistance_ratio_dose
from cakewright.physics.water import water_density_kell, water_viscosity_iapws
from cakewright.quantities import FloatArray
from cakewright.quantities.constants import NORMAL_90
from cakewright.quantities.tables import packaged_table
from cakewright.sludge.law import SludgeLaw

__all__ = ["OUTPUTS", "PilotRun", "Trial", "calibration_table", "drained_wall"]

OUTPUTS = ("cake_solids", "capture", "power", "torque")
_MOST_FINES, _MOST_CREEP = 0.9, 0.95
_SURE = (-600.0, 36.0)  # beyond them a chance is 0 or 1 to the last digit of a number


@cache
def calibration_table() -> Mapping[str, Mapping[str, Any]]:
    """Noise, model error and the list of fitted parameters."""
    return packaged_table("cakewright.jobs", "data", "calibration.toml")


@dataclass(frozen=True, slots=True)
class PilotRun:
    """One run at steady state, SI: settings, feed, and readings as (value, standard deviation).

    ``plate`` names a plate setting whose back pressure was not read: runs of one name share one
    unknown back pressure. ``torque`` is of one shaft, ``power`` of all drives of the screws.
    Runs of one ``day`` share that day's errors; with no day written all are taken as of one.
    ``ran`` False is a setting that was tried and could not be held (flooded, the plate did not
    stand, the screw stalled): it tells on which side of the limits the machine lies.
    """

    name: str
    speed: float
    dry_solids_flow: float
    feed_solids: float
    dose: float
    readings: Mapping[str, tuple[float, float]]
    back_pressure: float | None = None
    plate: str = ""
    temperature: float = 293.15
    level: float = 0.2
    note: str = ""
    ran: bool = True
    day: str = ""


@dataclass(frozen=True)
class Trial:
    """Runs on one machine with one sludge, and the path as a function of unit scores.

    Scores of the fitted parameters come first (standard normal in the prior), then one for each
    plate setting without a reading; the law's scores are a vector of their own. ``before`` is what
    earlier runs left of the machine, none of which may be among ``runs``; without it the prior is
    that of the kind.
    """

    kind: Kind
    frame: str
    geometry: ScrewGeometry
    law: SludgeLaw
    runs: Sequence[PilotRun]
    plate_window: tuple[float, float]
    seen: tuple[str, ...] = field(default=())
    before: FittedPress | None = None

    @cached_property
    def names(self) -> tuple[str, ...]:
        """Machine parameters fitted; what earlier runs learnt is kept, power read or not."""
        table = calibration_table()["fitted"]
        powered = any(n in run.readings for run in self.runs for n in ("power", "torque"))
        known = () if self.before is None else self.before.names
        return (*table["always"], *(n for n in table["with_power"] if powered or n in known))

    @cached_property
    def plates(self) -> tuple[str, ...]:
        """Plate settings whose back pressure is unknown."""
        return tuple(dict.fromkeys(r.plate for r in self.runs if r.back_pressure is None))

    @property
    def size(self) -> int:
        """Number of scores fitted."""
        return len(self.names) + len(self.plates)

    @property
    def law_size(self) -> int:
        """Number of law scores."""
        return len(self.law.parameters)

    @property
    def key(self) -> str:
        """Fingerprint of the law."""
        return law_key(self.law)

    @cached_property
    def observed(self) -> tuple[tuple[int, str], ...]:
        """(run, output) of every reading, in the order of the data vector."""
        return tuple(
            (i, name)
            for i, run in enumerate(self.runs)
            for name in OUTPUTS
            if run.ran and name in run.readings
        )

    @cached_property
    def data(self) -> FloatArray:
        """Every reading on its line: logarithm of cake, power, torque; capture as it is."""
        return np.array([on_line(n, self.runs[i].readings[n][0]) for i, n in self.observed])

    @cached_property
    def places(self) -> FloatArray:
        """Scaled logarithms of the settings of every run; an unread plate at mid-window."""
        middle = float(np.sqrt(self.plate_window[0] * self.plate_window[1]))
        return coordinates(
            speed=np.array([run.speed for run in self.runs]),
            back_pressure=np.array([run.back_pressure or middle for run in self.runs]),
            load=np.array([run.dry_solids_flow / self.area for run in self.runs]),
            feed_solids=np.array([run.feed_solids for run in self.runs]),
            dose=np.array([run.dose for run in self.runs]),
        )

    @property
    def area(self) -> float:
        """Wall of the drained length, all shafts: loads of two sizes are compared by it."""
        return drained_wall(self.geometry)

    @cached_property
    def covariance(self) -> FloatArray:
        """Covariance of all readings about the path: field, day, trial, run, reading."""
        days = tuple(run.day for run in self.runs)
        return covariance_of(self.places, days, self.observed, self.reading_noise)

    @cached_property
    def noise(self) -> FloatArray:
        """Standard deviation of every reading about the path, everything in it."""
        return np.asarray(np.sqrt(np.diag(self.covariance)))

    def made_up_errors(self, rng: np.random.Generator) -> FloatArray:
        """Errors of all readings about the path, as the fit believes they come about."""
        root = np.linalg.cholesky(self.covariance)
        return np.asarray(root @ rng.standard_normal(len(self.observed)))

    @cached_property
    def reading_noise(self) -> FloatArray:
        """Standard deviation of every reading on its line, without the model's error."""
        found = []
        for i, name in self.observed:
            value, sd = self.runs[i].readings[name]
            found.append(sd if name == "capture" else sd / value)
        return np.array(found)

    def predicted(self, scores: FloatArray, law: FloatArray | None = None) -> FloatArray:
        """Readings the path gives, shape (m, readings): see `predicted_with_margin`."""
        return self.predicted_with_margin(scores, law)[0]

    def predicted_with_margin(
        self, scores: FloatArray, law: FloatArray | None = None
    ) -> tuple[FloatArray, FloatArray]:
        """Readings on their lines, and the least margin of each run (below 0: beyond a limit).

        ``scores`` has shape (m, size), ``law`` (m, law_size) or nothing for the likeliest law.
        Beyond a limit the readings run on without a jump: they serve fitting, never showing.
        """
        points = np.atleast_2d(scores)
        normals = np.zeros((len(points), self.law_size)) if law is None else np.atleast_2d(law)
        press = self.believed(points, np.broadcast_to(normals, (len(points), self.law_size)))
        return self.answers_of(press, self._pressures(points))

    def answers_of(self, press: Believed, pressures: FloatArray) -> tuple[FloatArray, FloatArray]:
        """The same for machines and laws given as such, and back pressures of shape (m, runs)."""
        raw = run_raw(self._columns(press, pressures), self.geometry)
        count, runs = len(pressures), len(self.runs)
        margins = [np.nan_to_num(v, nan=-1.0) for k, v in raw.items() if k.startswith("margin_")]
        least = np.min(np.stack(margins), axis=0).reshape(count, runs)
        table = {name: raw[name].reshape(count, runs) for name in OUTPUTS}
        rows = [on_line(name, table[name][:, i]) for i, name in self.observed]
        return (np.stack(rows, axis=1) if rows else np.empty((count, 0))), least

    def chance_of_running(self, margin: FloatArray) -> FloatArray:
        """Chance that a run at this margin could be run: the path knows its limits about so well.

        Logistic about the limit. Its tail slopes everywhere: with a flat one, a fit in which every
        run lies beyond a limit is never led back to one in which they run.
        """
        from scipy.special import expit

        scale = float(calibration_table()["limit"]["spread"]) * np.sqrt(3.0) / np.pi
        return np.asarray(expit(np.clip(margin / scale, *_SURE)))

    def believed(self, points: FloatArray, law: FloatArray) -> Believed:
        """Machine parameters and the law's normals at rows of scores."""
        scores = points[:, : len(self.names)]
        return believed(self.kind, self.names, self.law, self.before, scores, law)

    def _columns(self, press: Believed, pressures: FloatArray) -> dict[str, FloatArray]:
        count, runs = len(pressures), len(self.runs)
        found = self._law_columns(count, press.law)
        for name, value in press.machine.items():
            found[name] = np.repeat(value, runs)

        def tiled(name: str) -> FloatArray:
            return np.tile([getattr(run, name) for run in self.runs], count)

        for name in ("speed", "dry_solids_flow", "feed_solids", "level"):
            found[name] = tiled(name)
        found["back_pressure"] = pressures.ravel()
        return found

    def _pressures(self, points: FloatArray) -> FloatArray:
        low, high = (float(np.log(v)) for v in self.plate_window)
        rows = []
        for run in self.runs:
            if run.back_pressure is not None:
                rows.append(np.full(len(points), run.back_pressure))
                continue
            score = points[:, len(self.names) + self.plates.index(run.plate)]
            rows.append(np.exp(0.5 * (low + high) + 0.5 * (high - low) * score / NORMAL_90))
        return np.stack(rows, axis=1)

    def _law_columns(self, count: int, normals: FloatArray) -> dict[str, FloatArray]:
        values = self.law.at_normals(normals)
        runs = len(self.runs)
        wide = {n: np.repeat(np.broadcast_to(v, (count,)), runs) for n, v in values.items()}
        dose = np.tile([run.dose for run in self.runs], count)
        ratio = resistance_ratio_dose(
            dose, wide["optimum_dose"], wide["dose_curvature"], wide["dose_gain"]
        )
        fines = fines_share_dose(
            dose, wide["optimum_dose"], wide["fines_share"], wide["fines_curvature"]
        )
        warm = np.tile([run.temperature for run in self.runs], count)
        names = ("solids_density", "gel_point", "yield_scale", "yield_exponent")
        return {
            **{name: wide[name] for name in (*names, "resistance_exponent", "creep_rate")},
            "local_resistance": np.asarray(wide["local_resistance"] * ratio),
            "fines_share": np.minimum(np.asarray(fines), _MOST_FINES),
            "creep_share": np.minimum(wide["creep_share"], _MOST_CREEP),
            "creep_onset": np.full(count * runs, 1000.0),
            "oil_share": np.zeros(count * runs),
            "liquid_viscosity": np.asarray(water_viscosity_iapws(warm)),
            "liquid_density": np.asarray(water_density_kell(warm)),
        }


def drained_wall(geometry: ScrewGeometry) -> float:
    """Wall of the drained length of all shafts. [m2]"""
    return float(np.pi * geometry.screw_diameter * geometry.drained_length * geometry.shafts)


def on_line(name: str, value: float | FloatArray) -> FloatArray:
    """A reading where its spread is even: the logarithm, or capture as it is."""
    if name == "capture":
        return np.asarray(value, dtype=float)
    return np.asarray(np.log(np.maximum(np.asarray(value, dtype=float), 1e-9)))
