"""An elastomer lip that may bend along its length: an axisymmetric shell, solved with SciPy. Needs numpy and scipy only.

    python lip_shell.py            writes lip_shell.csv beside this file
    python lip_shell.py --check    prints the forces with twice as many segments

The generator keeps its length but takes any shape: the slopes of SEGMENTS straight pieces are the unknowns, with the
radius of the root as one more if it floats. Energy: neo-Hookean hoop stretch with the generator held, E'/8 (l - 1/l)^2
per volume, E' = E/(1 - nu^2), plus plate bending D/2 per area of the two changes of curvature (along: d slope/d length;
around: (sin slope - sin start)/radius). The root keeps its slope (a clamp). The energy is minimised under the condition
that the free edge has been pushed down by the roll; the force is that condition's multiplier. The crate's law turns the
lip as a rigid cone on a hinge instead, so the two agree only as well as that assumption is good.
"""

import math
import sys
from pathlib import Path

import numpy as np
import scipy
from scipy.optimize import minimize

E_PLANE = 3.0e6 / 0.75  # Pa
SEGMENTS = 40


def forces(outer, root, thickness, angle, held, rolls, n):
    b = root / 2
    length = (outer - root) / 2 / math.cos(angle)
    ds = length / n
    q = (np.arange(n) + 0.5) * ds
    r0 = b + q * math.cos(angle)
    knots = b + np.arange(1, n) * ds * math.cos(angle)
    plate = E_PLANE * thickness**3 / 12
    unit = 1e3  # energies in mJ, lengths in mm for the minimiser

    def energy(z):
        slope, shift = z[:n], z[n] if not held else 0.0
        cos, sin = np.cos(slope), np.sin(slope)
        radius = b + shift + ds * (np.cumsum(cos) - 0.5 * cos)
        hoop = radius / r0
        total = np.sum(2 * np.pi * r0 * thickness * E_PLANE / 8 * (hoop - 1 / hoop) ** 2) * ds
        pull = 2 * np.pi * thickness * E_PLANE / 4 * (hoop - hoop**-3) * ds
        grad = np.zeros(n + 1)
        grad[:n] = -sin * ds * (np.cumsum(pull[::-1])[::-1] - 0.5 * pull)
        grad[n] = 0.0 if held else pull.sum()
        along = np.diff(slope) / ds
        total += np.sum(np.pi * knots * plate * along**2) * ds
        moment = 2 * np.pi * knots * plate * along
        grad[1:n] += moment
        grad[: n - 1] -= moment
        clamp = (slope[0] - angle) / (ds / 2)
        total += np.pi * b * plate * clamp**2 * ds / 2
        grad[0] += 2 * np.pi * b * plate * clamp
        around = (sin - math.sin(angle)) / r0
        total += np.sum(np.pi * r0 * plate * around**2) * ds
        grad[:n] += 2 * np.pi * plate * around * cos * ds
        return total * unit, grad * unit

    z = np.append(np.full(n, angle), 0.0)
    found = []
    s = 0.0
    for roll in rolls:
        while s < roll - 1e-12:
            s = min(s + 0.25e-3, roll)
            down = dict(
                type="eq",
                fun=lambda z: (length * math.sin(angle) - s - ds * np.sum(np.sin(z[:n]))) * unit,
                jac=lambda z: np.append(-ds * np.cos(z[:n]), 0.0) * unit,
            )
            z = minimize(energy, z, jac=True, constraints=[down], method="SLSQP", options=dict(maxiter=1000, ftol=1e-14)).x
        grad, pushed = energy(z)[1][:n] / unit, -ds * np.cos(z[:n])
        found.append(float(grad @ pushed / (pushed @ pushed)))
    return found


def cases():
    # outer and root diameter, thickness in m, lip angle in rad, held root, rolls in m
    yield 46e-3, 30e-3, 1.8e-3, 0.7, False, (0.5e-3, 1e-3, 2e-3, 3.5e-3, 5e-3, 6.5e-3, 7.6e-3)
    yield 44e-3, 28e-3, 2.4e-3, 0.6, False, (0.5e-3, 2e-3, 4e-3, 6e-3)
    yield 36e-3, 26e-3, 1.5e-3, 0.7, False, (0.5e-3, 1.5e-3, 3e-3, 4.5e-3)
    yield 34e-3, 26e-3, 1.0e-3, 0.9, False, (0.5e-3, 1.5e-3, 3e-3, 4.5e-3)
    yield 46e-3, 30e-3, 1.8e-3, 0.7, True, (0.5e-3, 2e-3, 4e-3, 6e-3, 7.6e-3)


def main():
    n = 2 * SEGMENTS if "--check" in sys.argv else SEGMENTS
    lines = []
    for outer, root, thickness, angle, held, rolls in cases():
        for roll, force in zip(rolls, forces(outer, root, thickness, angle, held, rolls, n)):
            lines.append(f"{outer!r},{root!r},{thickness!r},{angle!r},{'held' if held else 'floating'},{roll!r},{force!r}")
    if "--check" in sys.argv:
        print("\n".join(lines))
        return
    path = Path(__file__).with_name("lip_shell.csv")
    with path.open("w", newline="\n") as out:
        out.write(f"# lip_shell.py, {n} segments, numpy {np.__version__}, scipy {scipy.__version__}; E = 3e6 Pa, nu = 0.5\n")
        out.write("outer_m,root_m,thickness_m,angle_rad,root,roll_m,force_n\n")
        out.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
