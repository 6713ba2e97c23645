"""Bending of a clamped strip by an end force along the axis: the elastica, solved with SciPy. Needs numpy and scipy only.

    python lip_bending.py            writes lip_bending.csv beside this file
    python lip_bending.py --check    prints the strip against the textbook cantilever with a large deflection

A strip of unit length and unit bending stiffness leaves its clamp at `angle` to the plane of the seat; a force p (times
stiffness over length squared) presses its free end towards that plane and keeps its direction. With psi the slope along
the strip: psi'' = p cos psi, psi = angle at the clamp, psi' = 0 at the free end. Shooting from the free end. The roll is
how far the end has moved along the force, over the length.
"""

import math
import sys
from pathlib import Path

import numpy as np
import scipy
from scipy.integrate import solve_ivp
from scipy.optimize import brentq


def strip(tip, p):
    """Slope, its derivative and height gained, integrated from the free end (slope `tip`) back to the clamp."""

    def rates(_, y):
        return [-y[1], -p * math.cos(y[0]), math.sin(y[0])]

    return solve_ivp(rates, (0, 1), [tip, 0.0, 0.0], method="DOP853", rtol=1e-12, atol=1e-13).y[:, -1]


def roll(angle, p):
    tip = brentq(lambda tip: strip(tip, p)[0] - angle, angle - 3.0, angle, xtol=1e-13)
    return float(math.sin(angle) - strip(tip, p)[2])


def main():
    if "--check" in sys.argv:
        # Bisshopp & Drucker, Q. Appl. Math. 3 (1945) 272, tip deflection over length (from memory): 0.302, 0.494, 0.714.
        print([round(roll(0.0, p), 4) for p in (1.0, 2.0, 5.0)])
        return
    path = Path(__file__).with_name("lip_bending.csv")
    with path.open("w", newline="\n") as out:
        out.write(f"# lip_bending.py, numpy {np.__version__}, scipy {scipy.__version__}\n")
        out.write("angle_rad,force,roll\n")
        for angle in (0.3, 0.6, 0.9, 1.1):
            for p in (0.05, 0.3, 0.7, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5):
                out.write(f"{angle!r},{p!r},{roll(angle, p)!r}\n")


if __name__ == "__main__":
    main()
