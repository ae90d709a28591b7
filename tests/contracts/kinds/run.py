"""Run by `test_seventh_kind`: the program with one more folder among its kinds of machine."""

from __future__ import annotations

import importlib.util
import inspect
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np

from cakewright.machines.registry import look_in

HERE = Path(__file__).parent
look_in(str(HERE))

from cakewright.jobs.evaluate import evaluate  # noqa: E402
from cakewright.jobs.trade import expected_kinds  # noqa: E402
from cakewright.machines import machine, machine_types, shipped_catalogue  # noqa: E402
from cakewright.machines.pressing_path import PressedSludge, PressLoad  # noqa: E402
from cakewright.reports.drawings.from_line import press_symbol  # noqa: E402
from cakewright.sludge import Composition, Sludge, blend, run_load  # noqa: E402
from cakewright.storage.studies import read_study  # noqa: E402
from cakewright.study import machine_said  # noqa: E402
from cakewright.study.fields import machine_keys  # noqa: E402


def say(what: str, *rest: object) -> None:
    """A line for the test that reads this."""
    sys.stdout.write(" ".join(map(str, (what, *rest))) + "\n")


TOY = machine("toy_drain")


def battery() -> int:
    """Every check of the battery on the toy; how many there were."""
    place = HERE.parent / "test_machine_battery.py"
    spec = importlib.util.spec_from_file_location("battery", place)
    if spec is None or spec.loader is None:
        raise ImportError(str(place))
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    checks = [f for name, f in vars(module).items() if name.startswith("test_")]
    for check in checks:
        names = tuple(inspect.signature(check).parameters)
        check(**{n: {"kind": TOY, "key": "was"}[n] for n in names})
    return len(checks)


def notebook() -> None:
    """Solve and sensitivities by the one interface."""
    frame = next(f for f in shipped_catalogue() if f.machine == TOY.kind)
    sludge, load = PressedSludge(1350.0, 0.02, 300.0, 3.5, 1e10, 0.8), PressLoad(5e-3, 0.02)
    cakes = TOY.solve(frame, sludge, load, {"pull": np.array([1e4, 1.5e4, 2e4])}).cake_solids
    say("cakes rise:", bool(np.all(np.diff(cakes) > 0.0)))
    slope = TOY.sensitivities(frame, sludge, load)["cake_solids"]["pull"]
    say("slope:", round(slope * 1.5e4 / 0.15, 3))


def study() -> None:
    """A whole evaluation with the toy alone, pressed by the prior of its class."""
    whole = read_study(HERE.parents[2] / "examples" / "soy.toml")
    words = {**whole.words, "machines.kinds": (TOY.kind.value,), "sampling.samples": 32}
    found = evaluate(replace(whole, words=words), with_press=True, with_decision=False)
    (pressed,) = found.kinds
    feed = blend([Sludge.of("one", "was", 1e-3, Composition(0.01, 0.2))])
    say("expected:", TOY.kind in expected_kinds(feed, run_load(feed, 1 / 3, 5))[0])
    say("chosen:", found.decision.machine, pressed.machine, sorted(pressed.figures))


say("last of all:", list(machine_types())[-1].value, machine_keys()[-1])
say("meant:", machine_said("Pulled cloth"))
say("drawn:", press_symbol(TOY.kind))
say("battery:", battery() > 8)
notebook()
study()
