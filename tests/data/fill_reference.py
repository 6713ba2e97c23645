"""The first fill of a 1 in PVB and SVB, computed with SciPy from the written equations. Needs numpy and scipy only.

    python fill_reference.py                 writes fill_pvb.csv and fill_svb.csv beside this file
    python fill_reference.py --check         integrates twice more (Radau ten times finer, and BDF), prints the differences

The parameters are typed in below, not read from the crate, so that the defaults of the built-in assemblies may change;
the Rust test that compares (tests/fill_reference.rs) sets every one of them. Nothing here is the crate's own way of
solving: pressures are bracketed roots of the equation of state, SciPy integrates from one event to the next.

Some rules the crate states in code only, not in words; they are marked "as the crate has it" below. For those the check
covers the arithmetic and the integration, not the choice of the rule.
"""

import math
import platform
import sys
from pathlib import Path

import numpy as np
import scipy
from scipy.integrate import solve_ivp
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

INCH = 0.0254
LBF = 0.45359237 * 9.80665
PSI = LBF / INCH**2
ML_PER_PSI = 1e-6 / PSI
LBF_PER_INCH = LBF / INCH

G = 9.80665
AMBIENT = 101325.0
TEMPERATURE = 288.15
AIR_R, AIR_GAMMA = 287.05, 1.4
AIR_RT = AIR_R * TEMPERATURE

# Water at 288.15 K and 101325 Pa: iapws 1.5.5 (IAPWS-95; viscosity R12-08); CoolProp 8.0.0 gives the same to nine digits.
RHO = 999.1026214671
KAPPA = 4.67328444e-10
NU = 0.00113756755925 / RHO
VAPOUR = 1705.792916

# Constants of the model, as its documentation states them.
SHARP_EDGE = 0.61
SOFT, SOFT_WIDE = 10.0, 100.0  # Pa
LINE_NUCLEI = 1e-6
TOUCH_GAP = 1e-6  # m
FRICTION_SPEED = 1e-4  # m/s
GAS_BAND = 1e-4

COMMON = dict(
    supply=60 * PSI, line_length=20.0, line_bore=26e-3, line_roughness=1.5e-6, wave_speed=1280.0,
    opening_time=1.0, shutoff_bore=1.049 * INCH,
    zone_volume=(60e-6, 120e-6, 60e-6), compliance=0.01 * ML_PER_PSI, residual_air=0.002,
    check_seat=1.05 * INCH, check_port=0.98 * INCH, check_lift=0.32 * INCH, check_mass=12e-3,
    check_friction=0.05 * PSI, check_damping=2.0, check_cd=0.7, check_drag=1.0,
    inlet_seat=1.0 * INCH, inlet_port=0.93 * INCH, inlet_lift=0.22 * INCH, inlet_mass=12e-3,
    inlet_friction=0.05 * PSI, inlet_damping=1.0, inlet_cd=0.6, inlet_drag=1.0,
    diaphragm=1.0 * INCH, passage=2.03e-4, canopy=1.96 * INCH**2, spill_band=0.1,
    outlet=0.069 * INCH**2,
)  # fmt: skip
ASSEMBLIES = dict(
    pvb=dict(COMMON, check_load=1.5 * PSI, check_rate=1.01 * LBF_PER_INCH, inlet_load=1.5 * PSI,
             inlet_rate=1.34 * LBF_PER_INCH, zone1_share=0.0, zone2_share=1.0),
    svb=dict(COMMON, check_load=2.4 * PSI, check_rate=1.62 * LBF_PER_INCH, inlet_load=1.2 * PSI,
             inlet_rate=1.07 * LBF_PER_INCH, zone1_share=1.0, zone2_share=0.3),
)  # fmt: skip

LONGEST = 0.6  # s
SEALED, MOVING, STOPPED = range(3)
CHECK, INLET = range(2)
NAMES = ("check", "air-inlet")


def disc(diameter):
    return math.pi / 4 * diameter**2


def ball_valve():
    """Effective area over bore area against opening 0..1: 1/sqrt(K) through the tabulated losses, shut from 82 degrees."""
    degrees = [65, 60, 55, 50, 45, 40, 35, 30, 25, 20, 15, 10, 5, 0]
    loss = [486, 210, 106, 52.6, 31.2, 17.3, 9.68, 5.5, 3.10, 1.56, 0.75, 0.29, 0.05, 0.05]
    opening = [0.0] + [1 - d / 90 for d in [82, *degrees]]
    return PchipInterpolator(opening, [0.0, 0.0] + [k**-0.5 for k in loss])


class Space:
    """Water, a pocket of air and elastic walls; remembers its last pressure as a start for the next."""

    def __init__(self, volume, compliance):
        self.volume, self.compliance, self.partial = volume, compliance, AMBIENT - VAPOUR

    def volume_at(self, pressure, displaced):
        return self.volume + displaced + self.compliance * (pressure - AMBIENT)

    def fill(self, pressure, gas, displaced=0.0):
        """Masses of water and air for a pressure and a pocket."""
        specific = (1 - KAPPA * (pressure - AMBIENT)) / RHO
        return (self.volume_at(pressure, displaced) - gas) / specific, gas * (pressure - VAPOUR) / AIR_RT

    def solve(self, water, air, displaced=0.0):
        """Pressure and share of the pocket: the root of space - water - pocket, which rises with pressure."""
        # excess(q) with q = P - Pv, the terms without a pocket gathered in a straight line
        slope = self.compliance + water * KAPPA / RHO
        level = self.volume_at(VAPOUR, displaced) - water * (1 - KAPPA * (VAPOUR - AMBIENT)) / RHO
        mrt = air * AIR_RT

        def excess(q):
            return level + slope * q - mrt / q

        low = high = self.partial
        while excess(low) > 0:
            low *= 0.7
        while excess(high) < 0:
            high *= 1.4
        q = low if low == high else brentq(excess, low, high, xtol=1e-9, rtol=1e-14)
        self.partial = q
        pressure = q + VAPOUR
        return pressure, mrt / q / self.volume_at(pressure, displaced)


def air_law(area, p_a, p_b):
    """Isentropic nozzle from a to b, kg/s; near no difference sqrt(delta) becomes an odd quintic with two derivatives."""
    if p_a < p_b:
        return -air_law(area, p_b, p_a)
    g = AIR_GAMMA
    delta = (p_a - p_b) / p_a
    ratio = max(1 - delta, (2 / (g + 1)) ** (g / (g - 1)))
    if delta == 0:
        return 0.0
    drop = 1 - ratio
    # r^(2/g) - r^((g+1)/g) = r^(2/g) (1 - r^((g-1)/g)), without cancellation
    psi = math.sqrt(2 * g / (g - 1) * ratio ** (2 / g) * -math.expm1((g - 1) / g * math.log1p(-drop)))
    if delta < GAS_BAND:
        t = delta / GAS_BAND
        psi *= (45 * t - 18 * t**3 + 5 * t**5) / 32 / math.sqrt(t)
    return area * p_a * psi / math.sqrt(AIR_RT)


def through(area, soft, p_a, p_b, liquid_a, liquid_b):
    """Water and air through an opening, kg/s: liquid over the liquid share upstream, air over the rest."""
    if area <= 0:
        return 0.0, 0.0
    dp = p_a - p_b
    liquid, upstream = (liquid_a, p_a) if dp >= 0 else (liquid_b, p_b)
    water = area * math.sqrt(2 * RHO) * dp / (dp * dp + soft * soft) ** 0.25
    # air near rest moves the same volume as water would; the weight is as the crate has it
    slow = water / RHO * upstream / AIR_RT
    weight = dp * dp / (dp * dp + soft * soft)
    air = (1 - weight) * slow + weight * air_law(area, p_a, p_b)
    return liquid * water, (1 - liquid) * air


def line_loss(flow, bore, roughness):
    """Pa per metre, Darcy-Weisbach with Churchill's friction factor."""
    v = flow / (RHO * disc(bore))
    re = abs(v) * bore / NU
    if re < 1e-3:
        return 32 * RHO * NU * v / bore**2
    a = (2.457 * math.log(1 / ((7 / re) ** 0.9 + 0.27 * roughness / bore))) ** 16
    b = (37530 / re) ** 16
    f = 8 * ((8 / re) ** 12 + (a + b) ** -1.5) ** (1 / 12)
    return f / bore * RHO * v * abs(v) / 2


class Poppet:
    def __init__(self, p, part, stated_area, sign):
        def get(key):
            return p[f"{part}_{key}"]

        self.seat, self.port, self.lift = get("seat"), disc(get("port")), get("lift")
        self.area = disc(self.seat)
        self.mass, self.damping, self.cd, self.drag = get("mass"), get("damping"), get("cd"), get("drag")
        self.friction = get("friction") * stated_area
        # upright: the stated load holds spring and weight together; a check's grows as it opens, an air inlet's falls
        self.sign, self.sealed_load, self.rate = sign, get("load") * stated_area, -sign * get("rate")

    def load(self, x):
        """Spring (which cannot pull) and weight along opening travel, N."""
        weight = self.mass * G
        return self.sign * (max(self.sealed_load + self.rate * x - weight, 0.0) + weight)

    def opening(self, stand, x):
        if stand == SEALED:
            return 0.0
        gap = x + TOUCH_GAP if stand == MOVING else x
        return self.cd * series(math.pi * self.seat * max(gap, 0.0), self.port)

    def flow_force(self, water, air):
        # the seat's area and air of ambient density, as the crate has it
        momentum = water * abs(water) / RHO + air * abs(air) * AIR_RT / AMBIENT
        return self.drag * momentum / (2 * self.area)

    def resistance(self, v):
        return self.friction * v / math.hypot(v, FRICTION_SPEED) + self.damping * v


def series(a, b):
    return 0.0 if a == 0 or b == 0 else (a**-2 + b**-2) ** -0.5


def largest(rows):
    """Largest magnitude of each column; a column of zeros (no spill) is compared as it is."""
    peak = np.abs(rows).max(axis=0)
    return np.where(peak > 0, peak, 1.0)


class Fill:
    """States, scaled: flow and water in the line, its air, water and air of three zones, two travels and speeds, spill."""

    def __init__(self, p):
        self.p, self.valve = p, ball_valve()
        diaphragm = disc(p["diaphragm"])
        self.parts = (Poppet(p, "check", disc(p["check_seat"]), -1),
                      Poppet(p, "inlet", diaphragm if p["zone1_share"] else disc(p["inlet_seat"]), +1))  # fmt: skip
        self.a1 = p["zone1_share"] * diaphragm
        self.a2 = p["zone2_share"] * self.parts[INLET].area
        bore = disc(p["line_bore"])
        self.inertance = bore / p["line_length"]
        volume = bore * p["line_length"]
        walls = volume * (1 / (RHO * p["wave_speed"] ** 2) - KAPPA)
        self.line = Space(volume, walls)
        # the load side yields as zone 2 does (as the crate has it)
        self.zones = [Space(v, p["compliance"]) for v in p["zone_volume"]]
        self.bore = disc(p["shutoff_bore"])
        # start: nuclei in the line under main pressure, zone 1 brimful, zones 2 and 3 empty, air inlet open
        nuclei = LINE_NUCLEI * volume * (AMBIENT - VAPOUR) / AIR_RT
        main = p["supply"] + AMBIENT
        water0, _ = self.line.fill(main, nuclei * AIR_RT / (main - VAPOUR))
        contents = [water0, nuclei]
        for k, z in enumerate(self.zones):
            contents += z.fill(AMBIENT, z.volume * (p["residual_air"] if k == 0 else 1.0))
        lift = [q.lift for q in self.parts]
        self.origin = np.array([0.0, *contents, 0.0, 0.0, 0.0, 0.0, 0.0])
        soft = [RHO * 1e5 * (z.compliance + z.volume * KAPPA) for z in [self.line, *self.zones]]
        dry = [z.volume * AMBIENT / AIR_RT for z in self.zones]
        self.unit = np.array([RHO * bore, soft[0], nuclei, soft[1], 1e-2 * dry[0], soft[2], dry[1], soft[3], dry[2],
                              lift[0], 1.0, lift[1], 1.0, 1e-3])  # fmt: skip
        self.start = np.zeros(14)
        self.start[11] = 1.0
        self.stands = [SEALED, STOPPED]

    def view(self, t, z, stands):
        """Pressures and flows of a scaled state."""
        p, (check, inlet) = self.p, self.parts
        y = (self.origin + self.unit * z).tolist()
        # reference position (as the crate has it): check sealed, air inlet at its stop
        swept, closing = y[9] * check.area, inlet.lift - y[11]
        line, line_gas = self.line.solve(y[1], y[2])
        p1, gas1 = self.zones[0].solve(y[3], y[4], swept + closing * self.a1)
        p2, gas2 = self.zones[1].solve(y[5], y[6], closing * self.a2 - swept)
        p3, gas3 = self.zones[2].solve(y[7], y[8])
        # a cubic hand-over from air to water, as the crate has it
        s = min(max(1 - gas2 / p["spill_band"], 0.0), 1.0)
        vent = series(inlet.opening(stands[INLET], y[11]), SHARP_EDGE * p["canopy"])
        area1 = self.bore * float(self.valve(min(max(t / p["opening_time"], 0.0), 1.0)))
        area2 = self.bore * float(self.valve(1.0))
        flows = (
            through(area1, SOFT_WIDE, line, p1, 1 - line_gas, 1 - gas1),
            through(check.opening(stands[CHECK], y[9]), SOFT, p1, p2, 1 - gas1, 1 - gas2),
            through(vent, SOFT, p2, AMBIENT, s * s * (3 - 2 * s), 0.0),
            through(area2, SOFT_WIDE, p2, p3, 1 - gas2, 1 - gas3),
            through(SHARP_EDGE * p["outlet"], SOFT, p3, AMBIENT, 1 - gas3, 0.0),
        )
        return y, (line, p1, p2, p3), flows

    def drives(self, y, pressures, flows):
        """Forces along opening travel without friction, damping and chamber, N."""
        check, inlet = self.parts
        _, p1, p2, _ = pressures
        # what the canopy holds back stands on the air inlet's back: two openings in series
        vent = inlet.opening(STOPPED, y[11])
        under = p2 - AMBIENT - (p2 - AMBIENT) * vent**2 / (vent**2 + (SHARP_EDGE * self.p["canopy"]) ** 2)
        return ((p1 - p2) * check.area + check.load(y[9]) + check.flow_force(*flows[1]),
                inlet.load(y[11]) - (p1 - AMBIENT) * self.a1 - under * self.a2
                - inlet.flow_force(*flows[2]))  # fmt: skip

    def rates(self, t, z, stands):
        y, pressures, flows = self.view(t, z, stands)
        into, check, vent, on, out = flows
        p = self.p
        loss = line_loss(y[0], p["line_bore"], p["line_roughness"]) * p["line_length"]
        r = np.zeros(14)
        r[0] = (p["supply"] + AMBIENT - pressures[0] - loss) * self.inertance
        r[1], r[2] = y[0] - into[0], -into[1]
        for s in range(2):
            r[3 + s] = into[s] - check[s]
            r[5 + s] = check[s] - vent[s] - on[s]
            r[7 + s] = on[s] - out[s]
        drives = self.drives(y, pressures, flows)
        for k, part in enumerate(self.parts):
            v = y[10 + 2 * k]
            if stands[k] == MOVING:
                force = drives[k] - part.resistance(v)
                if k == INLET and self.a1:
                    # water through the passage to the diaphragm's chamber, as the crate has it
                    force -= RHO / 2 * v * abs(v) * self.a1**3 / (SHARP_EDGE * p["passage"]) ** 2
                r[9 + 2 * k], r[10 + 2 * k] = v, force / part.mass
        r[13] = vent[0]
        return r / self.unit

    def jacobian(self, t, z, stands):
        """Forward differences; a hundred-millionth of a unit is far above round-off and below any feature."""
        base = self.rates(t, z, stands)
        j = np.empty((14, 14))
        for i in range(14):
            moved = z.copy()
            moved[i] += 1e-8
            j[:, i] = (self.rates(t, moved, stands) - base) / 1e-8
        return j

    def guards(self, t, z, stands):
        """(part, next stand, what, value): an event where the value falls through zero; rule as the crate has it."""
        drives = self.drives(*self.view(t, z, stands))
        for k, part in enumerate(self.parts):
            x = z[9 + 2 * k]
            if stands[k] == SEALED:
                yield k, MOVING, "starts-to-open", part.friction - drives[k]
            elif stands[k] == STOPPED:
                yield k, MOVING, "starts-to-close", part.friction + drives[k]
            else:
                yield k, SEALED, "closed", x
                yield k, STOPPED, "fully-open", 1 - x

    def apply(self, z, stands, k, stand, what, t, events):
        events.append((t, NAMES[k], what))
        stands[k] = stand
        z[10 + 2 * k] = 0.0
        if stand != MOVING:
            z[9 + 2 * k] = float(stand == STOPPED)

    def run(self, method="Radau", tolerance=1e-8):
        """Pieces of solution between events, and events, until the check has first closed or LONGEST."""
        t, z, stands, pieces, events = 0.0, self.start.copy(), list(self.stands), [], []
        while t < LONGEST and not any(e[1:] == ("check", "closed") for e in events):
            now = tuple(stands)
            for k, stand, what, value in self.guards(t, z, now):
                # a part that begins to move stands at 0 or 1 and leaves; only a force can be past its limit already
                if value < 0 and now[k] != MOVING:
                    self.apply(z, stands, k, stand, what, t, events)
                    break
            if tuple(stands) != now:
                continue
            kinds = [g[:3] for g in self.guards(t, z, now)]
            watch = []
            for i in range(len(kinds)):
                def value(t, z, i=i):
                    return list(self.guards(t, z, now))[i][3]

                value.terminal, value.direction = True, -1
                watch.append(value)
            s = solve_ivp(lambda t, z: self.rates(t, z, now), (t, LONGEST), z, method=method, dense_output=True,
                          events=watch, rtol=min(1e-10, tolerance / 10), atol=tolerance, first_step=1e-7, max_step=2e-3,
                          jac=lambda t, z: self.jacobian(t, z, now))  # fmt: skip
            if not s.success:
                raise RuntimeError(f"{s.message} at {s.t[-1]} s")
            pieces.append((t, s.t[-1], s.sol, now, s.t))
            t, z = s.t[-1], s.y[:, -1].copy()
            hit = [i for i in range(len(kinds)) if len(s.t_events[i])]
            if hit:
                self.apply(z, stands, *kinds[hit[0]], t, events)
        return pieces, sorted(events + self.turns(pieces, events))

    def turns(self, pieces, events):
        """A part that shuts again before it was fully open starts to close where it is furthest open."""
        found = []
        for k, name in enumerate(NAMES):
            own = [e for e in events if e[1] == name]
            for a, b in zip(own, own[1:]):
                if (a[2], b[2]) == ("starts-to-open", "closed"):
                    inside = [(s, max(u, a[0]), min(v, b[0])) for u, v, s, _, _ in pieces if u < b[0] and v > a[0]]
                    grid = [(s(t)[9 + 2 * k], t) for s, u, v in inside for t in np.linspace(u, v, 20001)]
                    found.append((max(grid)[1], name, "starts-to-close"))
        return found

    def row(self, pieces, t):
        sol, stands = next((s, m) for a, b, s, m, _ in pieces if t <= b)
        y, pressures, flows = self.view(t, sol(t), stands)
        gauge = [x - AMBIENT for x in pressures[:3]]
        return [t, *gauge, y[9], y[11], y[13] / RHO, flows[0][0] / RHO]


COLUMNS = ["time_s", "line_pa_gauge", "zone1_pa_gauge", "zone2_pa_gauge", "check_travel_m", "air_inlet_travel_m",
           "spilled_m3", "inflow_m3_s"]  # fmt: skip
CLEAR = 20e-6  # s, on either side of an event


def times(fill, pieces, events, count=300):
    """Times, a tenth of a microsecond long at the last digit, dense where the columns change, clear of the events."""
    fine = np.unique(np.concatenate([p[4] for p in pieces] + [np.linspace(0, pieces[-1][1], 600)]))
    rows = np.array([fill.row(pieces, t) for t in fine])
    change = np.abs(np.diff(rows, axis=0)) / largest(rows)
    way = np.concatenate([[0.0], np.cumsum(change.sum(axis=1))])
    picked = np.unique(np.round(np.interp(np.linspace(0, way[-1], count), way, fine), 7))
    return [t for t in picked if all(abs(t - e[0]) > CLEAR for e in events) and t <= pieces[-1][1]]


def write(name, fill):
    pieces, events = fill.run()
    path = Path(__file__).with_name(f"fill_{name}.csv")
    at = times(fill, pieces, events)
    with path.open("w", newline="\n") as f:
        f.write(f"# Fill of the 1 in {name.upper()} by {Path(__file__).name}: an independent computation with SciPy from the "
                "written equations.\n"
                f"# python {platform.python_version()}, numpy {np.__version__}, scipy {scipy.__version__}; Radau, 1e-8\n"
                f"# No time stands within {CLEAR * 1e6:.0f} microseconds of an event. Pressures are gauge.\n")  # fmt: skip
        for t, part, what in events:
            f.write(f"# event {t:.8f} {part} {what}\n")
        f.write(",".join(COLUMNS) + "\n")
        for t in at:
            f.write(f"{t:.7f}," + ",".join(f"{v:.9e}" for v in fill.row(pieces, t)[1:]) + "\n")
    print(f"{path.name}: {len(at)} times to {pieces[-1][1]:.6f} s, {sum(len(p[4]) for p in pieces)} steps")
    for e in events:
        print(f"  {e[0]:.8f} s  {e[1]} {e[2]}")


def check(name, fill):
    pieces, events = fill.run()
    at = times(fill, pieces, events)
    rows = np.array([fill.row(pieces, t) for t in at])
    for method, tolerance in [("Radau", 1e-9), ("BDF", 1e-9)]:
        other, also = fill.run(method, tolerance)
        again = np.array([fill.row(other, min(t, other[-1][1])) for t in at])
        worst = (np.abs(again - rows).max(axis=0) / largest(rows))[1:]
        print(f"{name} {method} {tolerance}: columns " + " ".join(f"{w:.1e}" for w in worst))
        same = [e[1:] for e in events] == [e[1:] for e in also]
        print("  events, us: " + (" ".join(f"{(b[0] - a[0]) * 1e6:.3f}" for a, b in zip(events, also)) if same else
                                  f"differ: {also}"))  # fmt: skip


if __name__ == "__main__":
    for name, parameters in ASSEMBLIES.items():
        (check if "--check" in sys.argv else write)(name, Fill(parameters))
