"""The multi-disc path as a researcher would write it: method of lines, SciPy's stiff integrator.

Same equations, own code in plain NumPy, one sample at a time; also the rival of the speed ratio.
The pressing zone is 40 cells in the solids coordinate, ln P and paste lost, integrated in z by BDF;
its start is found by Brent's method on ln P at the plate.
"""

from __future__ import annotations

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

G = 9.80665


class Press:
    """One sample: columns as floats, geometry as floats."""

    def __init__(self, x: dict[str, float], g: dict[str, float], cells: int = 40) -> None:
        self.x, self.g, self.cells = x, g, cells
        self.edges = np.linspace(0.0, 1.0, cells + 1) ** 2
        self.centres = 0.5 * (self.edges[1:] + self.edges[:-1])
        self.width = np.diff(self.edges)
        core = g["core_0"] + 0.5 * g["core_1"] + 0.25 * g["core_2"]
        depth = 0.5 * (g["screw_diameter"] - core)
        shear = np.pi * g["screw_diameter"] * x["speed"] / depth
        self.resistance = x["local_resistance"] * (1.0 + shear / x["critical_shear"])
        self.resistance /= x["kneading"]
        self.flow = x["dry_solids_flow"] / (x["solids_density"] * g["shafts"])
        self.extrusion = x["extrusion"] * (g["ring_gap"] / 0.5e-3) ** 2
        self.feed = (1 - x["feed_solids"]) / x["feed_solids"]
        self.feed *= x["solids_density"] / x["liquid_density"]
        self.gel = 1.0 / x["gel_point"] - 1.0
        self.onset = (1.0 + self.gel) * self._shrink(x["creep_onset"]) - 1.0
        self.weight = x["liquid_density"] * G
        self.perimeter = np.pi * g["screw_diameter"] * g["drained_share"]

    def _shrink(self, stress: float) -> float:
        return float((1.0 + stress / self.x["yield_scale"]) ** (-1.0 / self.x["yield_exponent"]))

    def stress(self, void: np.ndarray) -> np.ndarray:
        """Yield stress."""
        ratio = np.maximum((1.0 + self.gel) / (1.0 + void), 1.0)
        return self.x["yield_scale"] * (ratio ** self.x["yield_exponent"] - 1.0)

    def kirchhoff(self, stress: np.ndarray) -> np.ndarray:
        """Integral of dp / alpha from no stress."""
        m, pa = self.x["resistance_exponent"], self.x["yield_scale"]
        base = pa / self.resistance
        if abs(m - 1.0) < 1e-7:
            return base * np.log1p(stress / pa)
        return base * ((1.0 + stress / pa) ** (1.0 - m) - 1.0) / (1.0 - m)

    def along(self, name: str, z: float) -> float:
        """Quadratic in z/L."""
        s = z / self.g["drained_length"]
        return self.g[name + "_0"] + s * (self.g[name + "_1"] + s * self.g[name + "_2"])

    def area(self, z: float) -> float:
        """Free section."""
        return 0.25 * np.pi * (self.g["screw_diameter"] ** 2 - self.along("core", z) ** 2)

    def fill(self, z: float, void: float) -> float:
        """Volume carried over volume swept."""
        x = self.x
        swept = x["conveying"] * x["speed"] * self.along("pitch", z) * self.area(z)
        return self.flow * (1.0 + void) / swept

    def head(self, fill: float, depth: float) -> float:
        """Head on the wall for a depth of liquid and the share of the tank's level it sees."""
        return self.weight * (0.5 * depth + self.x["level"] * min(fill, 1.0))

    def drainage(self, z: float, state: np.ndarray) -> list[float]:
        """d(void)/dz of the drainage zone."""
        x, void = self.x, float(state[0])
        fill = self.fill(z, void)
        f = np.clip(fill, 1e-6, 1.0 - 1e-6)
        bend = 1.0 - 2.0 * f + np.cbrt(f) - np.cbrt(1.0 - f)
        wetted = f + (1.5 * np.pi) ** (1.0 / 3.0) / np.pi * bend
        depth = 0.5 * self.g["screw_diameter"] * (1.0 - np.cos(np.pi * wetted))
        drive = max(self.head(fill, depth) - float(self.stress(np.array(void))), 0.0)
        barrel = self.weight * (0.5 * self.g["screw_diameter"] + x["level"])
        mean = barrel / float(self.kirchhoff(np.array(barrel)))
        excess = max(void - self.limit, 1e-9)
        alpha_c = mean * x["solids_density"] / excess
        interval = 1.0 / (x["speed"] * x["renewals"])
        growth = 2.0 * alpha_c * drive * interval / x["liquid_viscosity"]
        root = np.sqrt(x["medium_resistance"] ** 2 + growth)
        flux = wetted * 2.0 * drive / (x["liquid_viscosity"] * (x["medium_resistance"] + root))
        return [-self.perimeter * flux / self.flow]

    def drain(self) -> None:
        """Integrate the drainage zone over the whole length."""
        barrel = self.weight * 0.5 * self.g["screw_diameter"]
        top = barrel + self.weight * self.x["level"]
        self.limit = (1.0 + self.gel) * self._shrink(top) - 1.0 - 1e-3
        span = (0.0, self.g["drained_length"])
        done = solve_ivp(
            self.drainage, span, [self.feed], method="LSODA", rtol=1e-9, atol=1e-9,
            dense_output=True,
        )  # fmt: skip
        self.drained = done.sol

    def pressing(self, z: float, y: np.ndarray) -> np.ndarray:
        """Rates of the pressing zone: void ratio by cell, creep by cell, ln stress."""
        x, n = self.x, self.cells
        stress_void, creep, load = y[:n], y[n : 2 * n], np.exp(y[-2])
        flow = self.flow / (1.0 + self.extrusion * y[-1] / self.flow)
        wetted = self.perimeter / x["path_share"]
        below = np.maximum(self.onset - stress_void, 0.0)
        total = stress_void + x["creep_share"] * below + creep
        mean = float(self.width @ total)
        area = self.area(z)
        velocity = flow * (1.0 + mean) / area
        pace = x["conveying"] * x["speed"] * self.along("pitch", z)
        inverse = wetted * (1.0 + mean) / area
        solid = self.stress(stress_void)
        value = self.kirchhoff(solid)
        unit = inverse / (x["liquid_viscosity"] * x["solids_density"])
        half = unit / self.centres[0]
        low, high = sorted((float(solid[0]), load))
        mu_r = x["liquid_viscosity"] * x["medium_resistance"]

        def face(p: float) -> float:
            return load - p - mu_r * half * float(self.kirchhoff(np.array(p)) - value[0])

        p = brentq(face, low, high, xtol=1e-9, rtol=1e-13) if high - low > 1e-9 else low
        out = half * float(self.kirchhoff(np.array(p)) - value[0])
        flows = np.concatenate(
            [[out], unit * (value[:-1] - value[1:]) / np.diff(self.centres), [0]]
        )
        gain = np.diff(flows) * wetted / (flow * self.width)
        rate = gain + x["remix"] * x["speed"] / velocity * (mean - total)
        creeping = x["creep_rate"] / velocity * (-x["creep_share"] * below - creep)
        share = np.where(below > 0.0, 1.0 - x["creep_share"], 1.0)
        growth = x["grip"] / self.g["screw_diameter"] * (1.0 - velocity / pace)
        loose = max(load - float(self.stress(np.array(mean))), 0.0)
        paste = loose * self.perimeter / (1.0 + mean)
        return np.concatenate([(rate - creeping) / share, creeping, [growth, paste]])

    def march(self, start: float, rtol: float) -> tuple[float, float]:
        """ln stress and mean void ratio at the plate for one start of the pressing zone."""
        void = float(self.drained(start)[0])
        head = self.weight * 0.5 * self.g["screw_diameter"]
        stress = max(head, float(self.stress(np.array(void))))
        below = max(self.onset - void, 0.0)
        y0 = np.concatenate(
            [
                np.full(self.cells, void),
                np.full(self.cells, -self.x["creep_share"] * below),
                [np.log(stress), 0.0],
            ]
        )
        done = solve_ivp(
            self.pressing, (start, self.g["drained_length"]), y0, method="BDF", rtol=rtol, atol=1e-8
        )
        last = done.y[:, -1]
        below_end = np.maximum(self.onset - last[: self.cells], 0.0)
        total = last[: self.cells] + self.x["creep_share"] * below_end + last[self.cells : -2]
        return float(last[-2]), float(self.width @ total)

    def solve(self, earliest: float, rtol: float = 1e-5) -> float:
        """Cake solids: Brent on the start of the pressing zone between earliest start and plate."""
        self.drain()
        target = np.log(self.x["side_ratio"] * self.x["back_pressure"])
        end = self.g["drained_length"]
        start = brentq(
            lambda z: self.march(z, rtol)[0] - target, earliest, end * (1 - 1e-6), xtol=1e-5 * end
        )
        void = self.march(start, rtol)[1]
        return self.x["solids_density"] / (
            self.x["solids_density"] + void * self.x["liquid_density"]
        )
