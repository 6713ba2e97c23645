#!/usr/bin/env python3
"""SciPy's LSODA, BDF and Radau on the cases of the comparison: CSV on stdout.

    scipy_peer.py                 the sweep over tolerances
    scipy_peer.py 1e-5            one tolerance
    scipy_peer.py version         versions of SciPy, NumPy and Python

Rates, Jacobian, guards and scales are poppetry's own, called through ctypes; what Python adds to each call is part
of what a user of SciPy pays, and is counted. Each mode is one `solve_ivp` with the guards as terminal events. What
is done for it: exact Jacobian; unknowns scaled; the tolerances follow the rig's scales at every step (a subclass
refreshes `atol`, which the steppers read each time); first step after a transition 5 us; the ledger, which
`solve_ivp` has no place for, as further states with a boundless tolerance (for the two methods that take the root
mean square over all states the tolerance is made smaller by that share); the guards of one point computed once for
all events; fixed buffers, so that a call costs one copy in and one out.
"""

import ctypes
import os
import sys
import time
import warnings
from pathlib import Path

# One core for all: no threads in linear algebra. Must be set before NumPy is imported.
for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"

import numpy as np
import scipy
from scipy.integrate import BDF, LSODA, Radau, solve_ivp

FIRST_STEP = 5e-6
# Steps after which a mode is given up: none needs a tenth of them.
MOST_STEPS = 100_000
# Repeats, and the time above which a run is not repeated, s.
REPEATS, LONG = 3, 0.5
# Tolerances: half decades, by the number of them below 1.
TOLERANCES = [10.0 ** (-0.5 * k) for k in range(4, 17)]
BOUNDLESS = 1e30
EPS = np.finfo(float).eps
GO, DONE = 0, 1


class Failed(Exception):
    """A run that did not come to its end, and why."""


def library():
    """The C interface with its types."""
    lib = ctypes.CDLL(str(Path(__file__).resolve().parent / "target/release/libpeers_interface.so"))
    p, d, i = ctypes.c_void_p, ctypes.c_double, ctypes.c_int
    for name, result, arguments in [
        ("peers_cases", i, []),
        ("peers_open", p, [i]),
        ("peers_close", None, [p]),
        ("peers_reset", i, [p]),
        ("peers_states", i, [p]),
        ("peers_ledger", i, [p]),
        ("peers_guard_count", i, [p]),
        ("peers_time", d, [p]),
        ("peers_limit", d, [p, d]),
        ("peers_end", d, [p]),
        ("peers_rates", i, [p, d, p, p, p]),
        ("peers_jacobian", i, [p, d, p, i, p]),
        ("peers_guards", None, [p, d, p, p]),
        ("peers_units", None, [p, d, p, p]),
        ("peers_event", i, [p, d, p, p, i]),
        ("peers_row", None, [p, ctypes.c_char_p, d, p, d, d, ctypes.c_char_p, ctypes.c_char_p, ctypes.c_size_t]),
    ]:
        function = getattr(lib, name)
        function.restype, function.argtypes = result, arguments
    return lib


class Mode:
    """The present mode as functions of (t, states and ledger) for `solve_ivp`."""

    def __init__(self, lib, run):
        self.lib, self.run = lib, run
        self.n, ledger = lib.peers_states(run), lib.peers_ledger(run)
        self.all = self.n + ledger
        count = lib.peers_guard_count(run)
        self.y, self.out = np.zeros(self.all), np.zeros(self.all)
        self.jacobian = np.zeros((self.all, self.all), order="F")
        self.guards, self.units = np.zeros(count), np.zeros(self.n)
        self.pointer = {name: getattr(self, name).ctypes.data for name in ("y", "out", "jacobian", "guards", "units")}
        self.ledger_out = self.out[self.n :].ctypes.data
        self.seen = None
        self.events = [self.event(k) for k in range(count)]
        self.steps = 0

    def rates(self, t, y):
        self.y[:] = y
        self.lib.peers_rates(self.run, t, self.pointer["y"], self.pointer["out"], self.ledger_out)
        return self.out.copy()

    def jac(self, t, y):
        self.y[:] = y
        self.lib.peers_jacobian(self.run, t, self.pointer["y"], self.all, self.pointer["jacobian"])
        return self.jacobian.copy()

    def event(self, k):
        def guard(t, y):
            if self.seen is not y:
                self.y[:] = y
                self.lib.peers_guards(self.run, t, self.pointer["y"], self.pointer["guards"])
                self.seen = y
            return self.guards[k]

        guard.terminal, guard.direction = True, -1.0
        return guard

    def refresh(self, t, y, atol, tolerance):
        """Tolerances at (t, y) into `atol`."""
        self.steps += 1
        if self.steps > MOST_STEPS:
            raise Failed(f"more than {MOST_STEPS} steps at t = {t:.6f} s")
        self.y[:] = y
        self.lib.peers_units(self.run, t, self.pointer["y"], self.pointer["units"])
        np.multiply(self.units, tolerance, out=atol[: self.n])


def following(base):
    """`base` with tolerances that follow, and with Newton's tolerance as SciPy would choose it for the real one."""

    class Following(base):
        def __init__(self, *arguments, mode, tolerance, **options):
            super().__init__(*arguments, **options)
            self.mode, self.tolerance = mode, tolerance
            if base is LSODA:
                self.followed = self._lsoda_solver._integrator.call_args[1]
            else:
                self.followed = self.atol
                self.newton_tol = max(10 * EPS / tolerance, min(0.03, tolerance**0.5))

        def _step_impl(self):
            self.mode.refresh(self.t, self.y, self.followed, self.tolerance)
            return super()._step_impl()

    return Following


METHODS = {"SciPy LSODA": following(LSODA), "SciPy BDF": following(BDF), "SciPy Radau": following(Radau)}


def one_run(lib, run, method, tolerance):
    """A whole run; the number of steps."""
    status, steps, first = lib.peers_reset(run), 0, FIRST_STEP
    while status == GO:
        mode = Mode(lib, run)
        t, y = lib.peers_time(run), np.zeros(mode.all)
        end = lib.peers_end(run)
        while status == GO:
            # LSODA's norm is the largest error, the others' the root mean square over states and ledger.
            share = 1.0 if "LSODA" in method else (mode.n / mode.all) ** 0.5
            atol = np.full(mode.all, BOUNDLESS)
            limit = lib.peers_limit(run, t)
            solution = solve_ivp(
                mode.rates,
                (t, limit),
                y,
                METHODS[method],
                events=mode.events,
                jac=mode.jac,
                first_step=min(first, limit - t),
                rtol=100 * EPS,
                atol=atol,
                mode=mode,
                tolerance=tolerance * share,
            )
            if solution.status < 0:
                raise Failed(f"{solution.message.rstrip('.')} at t = {solution.t[-1]:.6f} s")
            if not np.all(np.isfinite(solution.y[:, -1])):
                raise Failed(f"not finite at t = {solution.t[-1]:.6f} s")
            steps += mode.steps
            mode.steps = 0
            start, t, y = t, solution.t[-1], np.ascontiguousarray(solution.y[:, -1])
            guard = next((k for k, at in enumerate(solution.t_events) if at.size and at[-1] == t), None)
            if guard is None and t < end:
                # A kink: on from here with a new start, in the same mode.
                first = FIRST_STEP
                continue
            if guard is not None and not t > start and first > 1e-9:
                # A guard that was zero at the start was negative after the first step: try a shorter one.
                first *= 0.1
                t = start
                continue
            first = FIRST_STEP
            status = lib.peers_event(
                run, t, y.ctypes.data, y[mode.n :].ctypes.data, -1 if guard is None else guard
            )
            break
    if status != DONE:
        raise Failed(f"chatter at t = {lib.peers_time(run):.6f} s")
    return steps


def row(lib, run, method, tolerance):
    """Times a run and prints its row."""
    times, steps, failure = [], 0, None
    try:
        while len(times) < REPEATS:
            cpu, wall = time.thread_time(), time.perf_counter()
            steps = one_run(lib, run, method, tolerance)
            times.append((time.thread_time() - cpu, time.perf_counter() - wall))
            if times[0][0] > LONG:
                break
    except (Failed, ValueError, FloatingPointError, np.linalg.LinAlgError) as error:
        failure = str(error) or type(error).__name__
    cpu, wall = (sorted(each)[len(each) // 2] for each in zip(*(times or [(0.0, 0.0)])))
    counts = (ctypes.c_long * 3)(steps, 0, 0)
    text = ctypes.create_string_buffer(512)
    reason = None if failure is None else failure.encode()
    lib.peers_row(run, method.encode(), tolerance, counts, cpu, wall, reason, text, len(text))
    print(text.value.decode(), flush=True)


def main():
    what = sys.argv[1] if len(sys.argv) > 1 else ""
    if what == "version":
        print(f"SciPy {scipy.__version__}, NumPy {np.__version__}, Python {sys.version.split()[0]}")
        return
    warnings.simplefilter("ignore")
    lib = library()
    for number in range(lib.peers_cases()):
        run = lib.peers_open(number)
        if not run:
            sys.exit(f"case {number} cannot be made")
        for tolerance in [float(what)] if what else TOLERANCES:
            for method in METHODS:
                row(lib, run, method, tolerance)
        lib.peers_close(run)


if __name__ == "__main__":
    main()
