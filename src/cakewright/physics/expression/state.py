"""What a layer is between two steps, and the scale of a step."""

from __future__ import annotations

from typing import NamedTuple

from jax import Array

__all__ = ["LayerState", "StepScale", "StoredState"]


class StepScale(NamedTuple):
    """What one step multiplies the rates with, each of shape (samples,)."""

    lead: Array | float  # 1 on the first step, 3/2 after (backward differences)
    solids_inverse: Array  # 1 / omega, drained area per solids volume
    drain: Array  # step / omega
    remix: Array  # step x chi f_r
    creep: Array  # step


class LayerState(NamedTuple):
    """Layer at two times, shape (N, samples): void ratio that carries stress, total, creep part.

    Then per sample: face variable, mean total void ratio at both times, bounds of the first part.
    """

    stress_void: Array
    stress_void_before: Array
    void: Array
    void_before: Array
    creep: Array
    creep_before: Array
    face: Array
    mean: Array
    mean_before: Array
    driest: Array
    wettest: Array


class StoredState(NamedTuple):
    """What of a layer is not in the store, each of shape (samples,); as in `LayerState`."""

    face: Array
    mean: Array
    mean_before: Array
    driest: Array
    wettest: Array
