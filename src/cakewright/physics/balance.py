"""Mass balance of a dewatering machine: what goes in, what comes out, and how well it closes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from cakewright.errors import InfeasibleError
from cakewright.physics._checked import Floats, checked, plain
from cakewright.physics.solids import DENSITY_WATER
from cakewright.quantities import FloatArray

__all__ = [
    "Additive",
    "DewateringBalance",
    "Stream",
    "balance_dewatering",
    "cake_solids_flow",
]


@dataclass(frozen=True, slots=True, eq=False)
class Additive:
    """Something mixed into the sludge ahead of the machine: dry matter, its water, what stays.

    ``retained`` is the share of its dry matter that leaves in the cake.
    """

    key: str
    dry_flow: Floats
    water_flow: Floats
    retained: Floats = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Stream:
    """One stream by its parts, all mass flows: suspended and dissolved are the sludge's own."""

    key: str
    suspended: FloatArray
    dissolved: FloatArray
    conditioner: FloatArray
    water: FloatArray
    density_dry: FloatArray
    density_water: FloatArray

    @property
    def dry(self) -> FloatArray:
        """Dry mass, dissolved and conditioner included. [kg/s]"""
        return np.asarray(self.suspended + self.dissolved + self.conditioner)

    @property
    def mass(self) -> FloatArray:
        """Wet mass. [kg/s]"""
        return np.asarray(self.dry + self.water)

    @property
    def volume(self) -> FloatArray:
        """Volume, voids left out. [m3/s]"""
        return np.asarray(self.dry / self.density_dry + self.water / self.density_water)

    @property
    def total_solids(self) -> FloatArray:
        """Dry mass per wet mass; zero in an empty stream. [1]"""
        return np.asarray(self.dry / np.where(self.mass > 0.0, self.mass, 1.0))


@dataclass(frozen=True, slots=True, eq=False)
class DewateringBalance:
    """Streams by key, inlets and outlets, and the relative gap of each balance."""

    streams: Mapping[str, Stream]
    inlets: tuple[str, ...]
    outlets: tuple[str, ...] = ("cake", "filtrate")

    @property
    def closure(self) -> Mapping[str, float]:
        """Largest relative gap between in and out, per balance."""
        kinds = ("mass", "volume", "dry", "suspended", "dissolved", "conditioner", "water")
        return {kind: self._gap(kind) for kind in kinds}

    def _gap(self, kind: str) -> float:
        into = sum(np.asarray(getattr(self.streams[key], kind)) for key in self.inlets)
        out = sum(np.asarray(getattr(self.streams[key], kind)) for key in self.outlets)
        scale = np.where(np.asarray(into) > 0.0, into, 1.0)
        return float(np.max(np.abs(np.asarray(into) - np.asarray(out)) / scale))


def cake_solids_flow(suspended_flow: Floats, capture: Floats) -> Floats:
    r"""Sludge solids leaving in the cake.

    .. math:: \dot m_{s,c} = \eta\, \dot m_{s,f}

    Parameters
    ----------
    suspended_flow : float or ndarray, shape (n,)
        Suspended solids fed; :math:`\dot m_{s,f}`; >= 0. [kg/s]
    capture : float or ndarray, shape (n,)
        Share of them leaving in the cake; :math:`\eta`; 0 to 1. [1]

    Returns
    -------
    cake_solids_flow : float or ndarray, shape (n,)
        Dry mass per time, without conditioner and without what is dissolved. [kg/s]

    Raises
    ------
    OutOfRangeError
        If the capture is outside 0 to 1 or the flow is negative.

    Notes
    -----
    Valid for any machine at steady state.

    References
    ----------
    .. [1] OWN, solids balance.

    Examples
    --------
    >>> round(cake_solids_flow(0.02, 0.95), 6)
    0.019
    """
    fed = checked(suspended_flow, "suspended solids fed", "kg/s", 0.0)
    return plain(fed * checked(capture, "capture", "", 0.0, 1.0))


def balance_dewatering(
    dry_solids_flow: Floats,
    total_solids: Floats,
    dissolved: Floats,
    cake_solids: Floats,
    capture: Floats,
    additives: Sequence[Additive] = (),
    wash_flow: Floats = 0.0,
    density_dry: Floats = 1250.0,
    density_water: Floats = DENSITY_WATER,
) -> DewateringBalance:
    r"""Streams of a dewatering machine from its cake solids and capture.

    .. math:: \dot m_{w,c} = \frac{\eta\,\dot m_{ss} + \sum_k r_k \dot m_k}
        {\frac{TS_c}{1 - TS_c} - \frac{\dot m_{dis}}{\dot m_w}}

    Parameters
    ----------
    dry_solids_flow : float or ndarray, shape (n,)
        Total dry solids fed, dissolved included; > 0. [kg/s]
    total_solids : float or ndarray, shape (n,)
        Total solids of the sludge; above 0 to below 1. [1]
    dissolved : float or ndarray, shape (n,)
        Dissolved share of these total solids; 0 to below 1. [1]
    cake_solids : float or ndarray, shape (n,)
        Total solids of the cake; :math:`TS_c`; above the feed's to below 1. [1]
    capture : float or ndarray, shape (n,)
        Share of the sludge's suspended solids leaving in the cake; :math:`\eta`; 0 to 1. [1]
    additives : sequence of Additive
        Polymer solution, coagulant, dilution water: mixed with the sludge; :math:`k`. [object]
    wash_flow : float or ndarray, shape (n,)
        Wash water; goes to the filtrate only; >= 0. [m3/s]
    density_dry : float or ndarray, shape (n,)
        Density of all dry matter; > 0. [kg/m3]
    density_water : float or ndarray, shape (n,)
        Density of the liquid; > 0. [kg/m3]

    Returns
    -------
    balance : DewateringBalance
        Streams ``sludge``, each additive, ``wash``, ``cake``, ``filtrate``. [object]

    Raises
    ------
    OutOfRangeError
        If a value is outside its range.
    InfeasibleError
        If the cake asked for holds more water than arrives, or is thinner than its liquor.

    Notes
    -----
    The cake's water has the composition of the mixed liquor; wash water never enters the cake.
    Conditioner solids are kept apart from the sludge's own throughout.

    References
    ----------
    .. [1] OWN, mass balance on each part.

    Examples
    --------
    >>> b = balance_dewatering(0.02, 0.02, 0.0, 0.20, 0.95)
    >>> round(float(b.streams["cake"].mass), 4), max(b.closure.values()) < 1e-12
    (0.095, True)
    """
    dry = checked(dry_solids_flow, "dry solids fed", "kg/s", 0.0, above=True)
    ts = checked(total_solids, "total solids", "", 0.0, 1.0, above=True)
    solved = dry * checked(dissolved, "dissolved share", "", 0.0, 1.0)
    wash = checked(wash_flow, "wash water", "m3/s", 0.0) * density_water
    zero = np.zeros(np.broadcast_shapes(*map(np.shape, (dry, ts, solved, wash, cake_solids))))

    def stream(
        key: str, own: Floats = 0.0, dis: Floats = 0.0, cond: Floats = 0.0, water: Floats = 0.0
    ) -> Stream:
        own, dis, cond, water = (np.asarray(part + zero) for part in (own, dis, cond, water))
        heavy, light = np.asarray(density_dry, float), np.asarray(density_water, float)
        return Stream(key, own, dis, cond, water, heavy, light)

    streams = {"sludge": stream("sludge", dry - solved, solved, 0.0, dry * (1.0 / ts - 1.0))}
    for add in additives:
        cond = checked(add.dry_flow, f"{add.key}: dry flow", "kg/s", 0.0)
        carried = checked(add.water_flow, f"{add.key}: water flow", "kg/s", 0.0)
        streams[add.key] = stream(add.key, cond=cond, water=carried)
    liquor = sum(s.water for s in streams.values())
    kept = cake_solids_flow(dry - solved, capture)
    kept_conditioner = sum(
        (streams[a.key].conditioner * checked(a.retained, f"{a.key}: retained", "", 0.0, 1.0))
        for a in additives
    )
    share = checked(cake_solids, "cake solids", "", 0.0, 1.0, above=True)
    water = _cake_water(np.asarray(kept + kept_conditioner), share, solved, np.asarray(liquor))
    cake = stream("cake", kept, solved * water / liquor, kept_conditioner, water)
    conditioner = sum(s.conditioner for s in streams.values())
    filtrate = stream(
        "filtrate",
        dry - solved - kept,
        solved - cake.dissolved,
        conditioner - kept_conditioner,
        liquor - water + wash,
    )
    inlets = (*streams, "wash")
    streams |= {"wash": stream("wash", water=wash), "cake": cake, "filtrate": filtrate}
    return DewateringBalance(streams=streams, inlets=inlets)


def _cake_water(
    kept: FloatArray, cake_solids: FloatArray, dissolved: FloatArray, liquor: FloatArray
) -> FloatArray:
    # A cake of pure solids (share 1) holds no water: the ratio is then infinite.
    ratio = cake_solids / np.where(cake_solids < 1.0, 1.0 - cake_solids, np.finfo(float).tiny)
    room = ratio - dissolved / np.where(liquor > 0.0, liquor, 1.0)
    if not (room > 0.0).all():
        raise InfeasibleError(
            "balance: the cake asked for holds less dry matter than its own liquor; "
            "raise the cake solids or check the dissolved share"
        )
    water = kept / room
    if not (water <= liquor).all():
        raise InfeasibleError(
            "balance: the cake asked for holds more water than arrives, so it would be wetter "
            "than the feed; raise the cake solids or check the total solids of the feed"
        )
    return np.asarray(water)
