"""Nameless contributions of press parameters as JSON, and back."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np

from cakewright.errors import InputFileError, foreign
from cakewright.jobs.learn_press import PressContribution
from cakewright.machines.interface import Kind
from cakewright.quantities import Mark
from cakewright.storage.texts import read_json

__all__ = ["PRESS_KIND", "kind_of_file", "read_press_contribution", "render_press_contribution"]

PRESS_KIND = "cakewright press contribution"


def render_press_contribution(one: PressContribution) -> str:
    """Frame and numbers; no name, no place, no sludge, no date."""
    return json.dumps(
        {
            "kind": PRESS_KIND, "version": 1, "machine": one.machine.value, "frame": one.frame,
            "runs": one.runs, "mark": one.mark.value, "token": one.token,
            "names": list(one.names), "mean": one.mean.tolist(),
            "covariance": one.covariance.tolist(),
        },
        indent=1,
    )  # fmt: skip


def _table(path: Path) -> dict[str, Any]:
    table = read_json(path)
    if not isinstance(table, dict) or not isinstance(table.get("kind"), str):
        raise InputFileError(
            f"{path}: is no contribution; `cakewright learn contribute` writes one"
        )
    return table


@foreign("a contribution")
def kind_of_file(path: Path) -> str:
    """What a contribution file says it is.

    Raises
    ------
    InputFileError
        If it says nothing.
    """
    return str(_table(path)["kind"])


@foreign("a press contribution")
def read_press_contribution(path: Path) -> PressContribution:
    """A contribution from its file.

    Raises
    ------
    InputFileError
        If the file is not one, or its numbers are none.
    """
    table = _table(path)
    try:
        names = tuple(str(name) for name in table["names"])
        mean, covariance = np.array(table["mean"], float), np.array(table["covariance"], float)
        if mean.shape != (len(names),) or covariance.shape != (len(names), len(names)):
            raise ValueError(f"{mean.size} means, covariance {covariance.shape}")
        if not np.linalg.eigvalsh(covariance)[0] > 0:
            raise ValueError("the covariance is not one")
        return PressContribution(
            Kind(table["machine"]), str(table["frame"]), names, mean, covariance,
            int(table["runs"]), Mark(table["mark"]), str(table["token"]),
        )  # fmt: skip
    except (KeyError, TypeError, ValueError, np.linalg.LinAlgError) as error:
        raise InputFileError(f"{path}: is not a whole press contribution ({error})") from None
