"""Force of a rubber ring turning about its root, from its strain energy. Needs numpy and scipy only.

    python ring_energy.py            writes ring_energy.csv beside this file
    python ring_energy.py --check    prints how far the force moves with twice the difference step and a looser integral

Nothing here is the crate's way of computing: the energy (not the force) is integrated adaptively over the section, the
floating root is found by minimising that energy, and the force is a numerical derivative of the minimum with respect to
the axial displacement of the free edge.

A material point of the section stands at distance rho and angle beta from the root in the section's own frame, so at
radius b + u + rho cos(angle + beta) from the axis. Stretches: hoop = radius / undeformed radius, generator = 1 (the
section's plane is rigid along it), thickness = 1/hoop (incompressible). Neo-Hookean energy per volume:
E/6 (hoop^2 + 1 + thickness^2 - 3) = E/6 * 4 sinh^2(ln hoop), which keeps its digits at small strain.
"""

import math
import sys
from pathlib import Path

import numpy as np
import scipy
from scipy.integrate import dblquad
from scipy.optimize import minimize_scalar

E = 3.0e6  # Pa
TOLERANCE = 1e-12
# Central difference of order 8.
WEIGHTS = ((1, 4 / 5), (2, -1 / 5), (3, 4 / 105), (4, -1 / 280))


class Ring:
    def __init__(self, outer, inner, thickness, angle, held):
        self.b, self.t, self.angle, self.held = inner / 2, thickness, angle, held
        self.length = (outer - inner) / 2 / math.cos(angle)
        self.tolerance = TOLERANCE

    def energy_at(self, turned, u):
        def ring(y, q):
            rho, beta = math.hypot(q, y), math.atan2(y, q)
            before = self.b + rho * math.cos(self.angle + beta)
            grown = u + 2 * rho * math.sin((self.angle - turned) / 2) * math.sin((self.angle + turned) / 2 + beta)
            return 2 * math.pi * before * E / 6 * 4 * math.sinh(math.log1p(grown / before)) ** 2

        value, _ = dblquad(ring, 0, self.length, -self.t / 2, self.t / 2, epsabs=0, epsrel=self.tolerance)
        return value

    def energy(self, s):
        turned = math.asin(math.sin(self.angle) - s / self.length)
        if self.held:
            return self.energy_at(turned, 0.0)
        reach = self.length
        low = max(-0.8 * self.b, -reach)
        found = minimize_scalar(
            lambda u: self.energy_at(turned, u), bounds=(low, reach), method="bounded", options=dict(xatol=1e-9 * self.b)
        )
        return found.fun

    def force(self, s, h):
        return sum(w * (self.energy(s + k * h) - self.energy(s - k * h)) for k, w in WEIGHTS) / h


def cases():
    # outer and root diameter, thickness in m, lip angle in rad, held root, rolls as turned angles in rad
    yield 40e-3, 32e-3, 1.5e-3, 0.9, False, (0.002, 0.05, 0.2, 0.5, 0.8, 1.2, 1.6, 2.2)
    yield 40e-3, 32e-3, 1.5e-3, 0.9, True, (0.002, 0.05, 0.2, 0.5, 0.8, 1.2, 1.6, 2.2)
    yield 40e-3, 28e-3, 2.0e-3, 1.1, False, (0.1, 0.4, 0.8, 1.2, 1.8, 2.2)
    yield 40e-3, 28e-3, 2.0e-3, 1.1, True, (0.1, 0.4, 0.8)
    yield 33e-3, 30e-3, 1.0e-3, 0.6, False, (0.1, 0.4, 0.8, 1.2)
    yield 20e-3, 5e-3, 1.0e-3, 0.5, False, (0.1, 0.3, 0.6, 1.0)
    yield 20e-3, 10e-3, 0.5e-3, 0.2, False, (0.02, 0.1, 0.2, 0.4, 0.7)


def main():
    check = "--check" in sys.argv
    rows = []
    for outer, inner, thickness, angle, held, turns in cases():
        ring = Ring(outer, inner, thickness, angle, held)
        for turn in turns:
            s = ring.length * (math.sin(angle) - math.sin(angle - turn))
            h = min(2e-3, 0.1 * turn) * ring.length
            force = ring.force(s, h)
            rows.append((outer, inner, thickness, angle, "held" if held else "floating", turn, s, force))
            if check:
                ring.tolerance = 1e-9
                print(f"{outer} {inner} {held} {turn}: {ring.force(s, 2 * h) / force - 1:.1e}")
                ring.tolerance = TOLERANCE
    if check:
        return
    path = Path(__file__).with_name("ring_energy.csv")
    with path.open("w", newline="\n") as out:
        out.write(f"# ring_energy.py, numpy {np.__version__}, scipy {scipy.__version__}; E = {E:g} Pa, nu = 0.5\n")
        out.write("outer_m,root_m,thickness_m,angle_rad,root,turn_rad,roll_m,force_n\n")
        for row in rows:
            out.write(",".join(v if isinstance(v, str) else repr(float(v)) for v in row) + "\n")


if __name__ == "__main__":
    main()
