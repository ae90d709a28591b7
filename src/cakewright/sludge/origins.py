"""Sludges estimated from what makes them. Flows of wastewater are means over the whole week."""

from __future__ import annotations

import numpy as np

from cakewright.errors import OutOfRangeError
from cakewright.physics.precipitates import (
    Metal,
    metal_in_salt,
    solids_concentration_water_works_lang,
    solids_per_metal_precipitation,
)
from cakewright.physics.solids import density_slurry, density_solids, dry_solids_flow
from cakewright.physics.water import water_density_kell
from cakewright.physics.yields import (
    solids_flow_flotation,
    solids_flow_load_rule,
    solids_flow_net_yield,
    solids_flow_settled,
    yield_observed,
)
from cakewright.quantities import FloatArray
from cakewright.sludge.stream import Composition, Floats, Sludge

__all__ = [
    "coagulant_precipitate",
    "sludge_chemical",
    "sludge_direct",
    "sludge_excess_load_rule",
    "sludge_excess_net_yield",
    "sludge_flotation",
    "sludge_primary",
    "sludge_water_works",
]

_PHOSPHORUS, _ATOMIC = 30.974, {Metal.IRON: 55.845, Metal.ALUMINIUM: 26.982}


def sludge_direct(
    name: str, sludge_class: str, composition: Composition, volume_flow: Floats
) -> Sludge:
    """A sludge whose flow (mean over the week, m3/s) and total solids are known."""
    c = composition
    solids = density_solids(c.ash) if c.solids_density is None else c.solids_density
    density = density_slurry(c.total_solids, solids, water_density_kell(c.temperature))
    dry = dry_solids_flow(volume_flow, c.total_solids, density)
    return Sludge.of(name, sludge_class, dry, c, origin="flow and total solids")


def sludge_excess_net_yield(
    name: str,
    sludge_class: str,
    composition: Composition,
    *,
    flow: Floats,
    bod_in: Floats,
    bod_out: Floats,
    yield_true: Floats,
    decay_rate: Floats,
    sludge_age: Floats,
    volatile_share: Floats,
    inert_solids: Floats = 0.0,
) -> Sludge:
    """Excess biological sludge by net yield with decay and sludge age.

    Raises
    ------
    OutOfRangeError
        If more BOD leaves than enters, or a value is outside its range.
    """
    removed = np.asarray(bod_in, float) - np.asarray(bod_out, float)
    if (removed < 0.0).any():
        raise OutOfRangeError(
            f"{name}: got more BOD out than in; allowed: out at most in; swap or check the two"
        )
    net = yield_observed(yield_true, decay_rate, sludge_age)
    dry = solids_flow_net_yield(flow, removed, net, volatile_share, inert_solids)
    return Sludge.of(name, sludge_class, dry, composition, origin="biological, net yield")


def sludge_excess_load_rule(
    name: str,
    sludge_class: str,
    composition: Composition,
    *,
    flow: Floats,
    bod_in: Floats,
    tss_in: Floats,
    sludge_age: Floats,
    temperature: Floats,
) -> Sludge:
    """Excess biological sludge by the load-based rule; inert solids are inside it."""
    dry = solids_flow_load_rule(flow, bod_in, tss_in, sludge_age, temperature)
    return Sludge.of(name, sludge_class, dry, composition, origin="biological, load rule")


def sludge_primary(
    name: str,
    sludge_class: str,
    composition: Composition,
    *,
    flow: Floats,
    tss_in: Floats,
    tss_removed: Floats,
) -> Sludge:
    """Primary sludge from the suspended solids that settle.

    Raises
    ------
    OutOfRangeError
        If more settles than enters.
    """
    share = np.asarray(tss_removed, float) / np.asarray(tss_in, float)
    dry = solids_flow_settled(flow, tss_in, share)
    return Sludge.of(name, sludge_class, dry, composition, origin="primary")


def coagulant_precipitate(
    *,
    iron: Floats = 0.0,
    aluminium: Floats = 0.0,
    alum: Floats = 0.0,
    phosphorus_removed: Floats = 0.0,
    water_share: Floats = 0.0,
) -> FloatArray:
    """Dry precipitate per volume of water dosed. [kg/m3]

    ``iron`` and ``aluminium`` are as metal, ``alum`` as the 14-hydrate; phosphorus is bound by
    both metals in step with their moles. ``water_share`` adds bound water that drying leaves in.

    Raises
    ------
    OutOfRangeError
        If less metal is dosed than the phosphorus removed can bind.
    """
    doses = {
        Metal.IRON: np.asarray(iron, float),
        Metal.ALUMINIUM: np.asarray(aluminium, float) + alum * metal_in_salt("alum_14"),
    }
    moles = sum(dose / _ATOMIC[metal] for metal, dose in doses.items())
    bound = np.asarray(phosphorus_removed, float) / _PHOSPHORUS
    none = np.asarray(moles) <= 0.0
    if (none & (bound > 0.0)).any():
        raise OutOfRangeError(
            "precipitate: got phosphorus removed but no metal dosed; allowed: a metal dose; "
            "give the iron or aluminium dose, or leave the phosphorus out"
        )
    # No phosphorus: infinite metal per phosphorus, all hydroxide.
    beta = np.where(bound > 0.0, moles / np.where(bound > 0.0, bound, 1.0), np.inf)
    made = sum(dose * solids_per_metal_precipitation(metal, beta) for metal, dose in doses.items())
    return np.asarray(made * (1.0 + np.asarray(water_share, float)))


def sludge_flotation(
    name: str,
    sludge_class: str,
    composition: Composition,
    *,
    flow: Floats,
    tss_removed: Floats,
    oil_removed: Floats,
    precipitate: Floats = 0.0,
    oil_in_tss: Floats = 0.0,
) -> Sludge:
    """Flotation froth from the solids and oil lifted and the coagulant's precipitate."""
    dry = solids_flow_flotation(flow, tss_removed, oil_removed, precipitate, oil_in_tss)
    return Sludge.of(name, sludge_class, dry, composition, origin="flotation")


def sludge_chemical(
    name: str,
    sludge_class: str,
    composition: Composition,
    *,
    flow: Floats,
    precipitate: Floats,
    tss_removed: Floats = 0.0,
) -> Sludge:
    """Chemical sludge: precipitate per volume of water, with the solids it takes along."""
    dry = solids_flow_flotation(flow, tss_removed, 0.0, precipitate)
    return Sludge.of(name, sludge_class, dry, composition, origin="chemical")


def sludge_water_works(
    name: str,
    sludge_class: str,
    composition: Composition,
    *,
    flow: Floats,
    tss_removed: Floats,
    alum: Floats = 0.0,
    iron: Floats = 0.0,
    calcium_hardness: Floats = 0.0,
    magnesium_hardness: Floats = 0.0,
    other: Floats = 0.0,
) -> Sludge:
    """Water-works sludge by the published sum over what was dosed and removed."""
    concentration = solids_concentration_water_works_lang(
        tss_removed, alum, iron, calcium_hardness, magnesium_hardness, other
    )
    dry = np.asarray(flow, float) * concentration
    return Sludge.of(name, sludge_class, dry, composition, origin="water works")
