"""A sludge, or a blend of several, as arrays over samples."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields

import numpy as np

from cakewright.errors import OutOfRangeError
from cakewright.physics.solids import density_slurry, density_solids, total_solids_blend
from cakewright.physics.water import water_density_kell
from cakewright.quantities import FloatArray

__all__ = ["Composition", "Feed", "Floats", "Sludge", "blend"]

Floats = float | FloatArray

_BY_SOLIDS = ("ash", "oil", "fibre", "grit", "dissolved")
_SHARES = ("total_solids", *_BY_SOLIDS)
_LIQUID = ("temperature", "ph", "chloride", "stored")
_MIXED = ("dry_solids_flow", "solids_density", *_SHARES, *_LIQUID)


@dataclass(frozen=True, slots=True, eq=False)
class Composition:
    """What a sludge is made of, in SI; each value a number or an array over samples.

    Shares are of dry solids except ``total_solids`` (of wet mass) and ``dissolved`` (of total
    solids). ``chloride`` is mass per volume of liquid, ``stored`` the time it stood before it is
    pressed. ``solids_density`` None: from the ash.
    """

    total_solids: Floats
    ash: Floats
    oil: Floats = 0.0
    fibre: Floats = 0.0
    grit: Floats = 0.0
    dissolved: Floats = 0.0
    temperature: Floats = 288.15
    ph: Floats = 7.0
    chloride: Floats = 0.1
    stored: Floats = 0.0
    solids_density: Floats | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Sludge:
    """One sludge: ``dry_solids_flow`` is the mean over the whole week, day and night.

    Every field but the words is an array of the same length; sample 0 is the point case.
    Make one with `Sludge.of`, which broadcasts and checks.
    """

    name: str
    sludge_class: str
    dry_solids_flow: FloatArray
    total_solids: FloatArray
    ash: FloatArray
    oil: FloatArray
    fibre: FloatArray
    grit: FloatArray
    dissolved: FloatArray
    temperature: FloatArray
    ph: FloatArray
    chloride: FloatArray
    stored: FloatArray
    solids_density: FloatArray
    origin: str = "given"

    @classmethod
    def of(
        cls,
        name: str,
        sludge_class: str,
        dry_solids_flow: Floats,
        composition: Composition,
        origin: str = "given",
    ) -> Sludge:
        """A sludge from a dry-solids flow and a composition.

        Raises
        ------
        OutOfRangeError
            If a share is outside 0 to 1, shares of dry solids exceed the whole, or a flow is
            negative.
        """
        c = composition
        numbers = {f.name: getattr(c, f.name) for f in fields(c) if f.name != "solids_density"}
        _check(name, {"dry_solids_flow": dry_solids_flow, **numbers})
        density = density_solids(c.ash) if c.solids_density is None else c.solids_density
        numbers |= {"dry_solids_flow": dry_solids_flow, "solids_density": density}
        wide = np.broadcast_arrays(*(np.atleast_1d(np.asarray(v, float)) for v in numbers.values()))
        arrays = dict(zip(numbers, wide, strict=True))
        return cls(name=name, sludge_class=sludge_class, origin=origin, **arrays)

    @property
    def size(self) -> int:
        """Number of samples."""
        return int(self.total_solids.size)

    @property
    def density(self) -> FloatArray:
        """Density of the wet sludge. [kg/m3]"""
        water = water_density_kell(self.temperature)
        return np.asarray(density_slurry(self.total_solids, self.solids_density, water))

    @property
    def mass_flow(self) -> FloatArray:
        """Wet mass flow, mean over the week. [kg/s]"""
        return np.asarray(self.dry_solids_flow / self.total_solids)

    @property
    def volume_flow(self) -> FloatArray:
        """Volume flow, mean over the week. [m3/s]"""
        return np.asarray(self.mass_flow / self.density)

    @property
    def suspended_solids(self) -> FloatArray:
        """Share of wet mass that is suspended: total less dissolved. [1]"""
        return np.asarray(self.total_solids * (1.0 - self.dissolved))

    @property
    def volatile(self) -> FloatArray:
        """Share of dry solids lost on ignition. [1]"""
        return np.asarray(1.0 - self.ash)


@dataclass(frozen=True, slots=True, eq=False)
class Feed:
    """What the machine gets: the blend, its parts, and each class's share of the dry solids."""

    mix: Sludge
    parts: tuple[Sludge, ...]
    shares: Mapping[str, FloatArray]


def _check(name: str, arrays: Mapping[str, Floats]) -> None:
    for key in _SHARES:
        low = float(np.min(arrays[key]))
        high = float(np.max(arrays[key]))
        edge = key == "total_solids" and (low == 0.0 or high == 1.0)
        if edge or not 0.0 <= low <= high <= 1.0:
            raise OutOfRangeError(
                f"{name}: {key.replace('_', ' ')}: got {low:g} to {high:g}; allowed: 0 to 1 "
                f"(total solids: between them); check whether per cent was meant"
            )
    whole = float(np.max(np.asarray(arrays["ash"]) + np.asarray(arrays["oil"])))
    if whole > 1.0 + 1e-9:
        raise OutOfRangeError(
            f"{name}: ash and oil together: got {whole:g} of the dry solids; allowed: at most 1; "
            f"oil burns off, so it is no part of the ash: lower one of them"
        )
    for key in ("dry_solids_flow", "chloride", "stored"):
        if not np.all(np.isfinite(arrays[key]) & (np.asarray(arrays[key]) >= 0.0)):
            raise OutOfRangeError(
                f"{name}: {key.replace('_', ' ')}: got {float(np.min(arrays[key])):g}; "
                f"allowed: zero or more; check the sign and the unit"
            )


def blend(sludges: Sequence[Sludge], name: str = "blend") -> Feed:
    """Sludges mixed in one tank: shares weighted by dry solids, liquid values by water.

    Raises
    ------
    OutOfRangeError
        If there is no sludge, or none carries solids.
    """
    if not sludges:
        raise OutOfRangeError("blend: got no sludge; allowed: one or more; give a [[sludge]]")
    of = {key: _stack(sludges, key) for key in _MIXED}
    flows, solids = of["dry_solids_flow"], of["total_solids"]
    mixed = np.atleast_1d(np.asarray(total_solids_blend(flows, solids)))
    whole = flows.sum(axis=0)
    x = flows / whole
    wet = flows / solids
    liquid = (wet - flows) / (wet - flows).sum(axis=0)
    composition = Composition(
        total_solids=mixed,
        **{key: (x * of[key]).sum(axis=0) for key in _BY_SOLIDS},
        temperature=(wet * of["temperature"]).sum(axis=0) / wet.sum(axis=0),
        ph=_ph(liquid, of["ph"]),
        chloride=(liquid * of["chloride"]).sum(axis=0),
        stored=(wet * of["stored"]).sum(axis=0) / wet.sum(axis=0),
        solids_density=1.0 / (x / of["solids_density"]).sum(axis=0),
    )
    main = max(sludges, key=lambda s: float(s.dry_solids_flow[0]))
    label = main.sludge_class if len(sludges) == 1 else "blend"
    mix = Sludge.of(name, label, whole, composition, origin="blend")
    shares: dict[str, FloatArray] = {}
    for one, share in zip(sludges, x, strict=True):
        shares[one.sludge_class] = shares.get(one.sludge_class, np.zeros(mix.size)) + share
    return Feed(mix=mix, parts=tuple(sludges), shares=shares)


def _stack(sludges: Sequence[Sludge], field: str) -> FloatArray:
    rows = np.broadcast_arrays(*(getattr(s, field) for s in sludges))
    return np.stack(rows)


def _ph(liquid: FloatArray, ph: FloatArray) -> FloatArray:
    # Hydrogen-ion mean: a first guess that leaves out buffering.
    return np.asarray(-np.log10((liquid * 10.0**-ph).sum(axis=0)))
