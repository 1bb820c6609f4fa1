"""What a simulated case costs: the kit's sweep against scipy's integrators on the same equations, and how cost grows.

    python tests/commands/benchmark_simulation.py [cases] [most cases in one call, up to 1e6: minutes]

One run, one machine, both sides by turns. The same equations: scipy integrates the kit's own compiled rates, so that
only the method differs, not the language of the right-hand side; it too stops at the limit and at the stop, by events.
The same accuracy: for each method the loosest tolerance of a ladder is taken with which the protected time of nine
cases in ten lies as close to the truth (a run at 1e-11) as with the kit's usual accuracy; both errors are printed.
The first call compiles, or reads what was compiled before; it is timed by itself and left out of the rest.
"""

from __future__ import annotations

import argparse
import itertools
import math
import resource
import time
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp

from oilkit import PROCEDURES, Installation, Log, Q, SupplyLine, discharge, kit_lap, play, simulate_lap
from oilkit.laps.logfile import SORTS
from oilkit.physics.catalog import engines, fittings, hoses, lubricants, vessels

LADDER = (1e-3, 3e-4, 1e-4, 3e-5, 1e-5, 1e-6, 1e-7, 1e-8)
SAMPLE = 24
"""Cases for scipy: seconds for each are the same however many there are."""


def sweep(count: int, seed: int = 1) -> dict[str, Any]:
    rng = np.random.default_rng(seed)
    return {
        "precharge": Q(rng.uniform(2.0, 50.0, count), "psig"),
        "clearance_change": Q(rng.uniform(-0.5, 1.5, count), "thou"),
        "sump_temperature": Q(rng.uniform(60.0, 120.0, count), "degC"),
        "thermal_time_constant": Q(rng.uniform(1.0, 20.0, count), "s"),
        "speed": Q(rng.uniform(1500.0, 6000.0, count), "rpm"),
    }


def scipy_time(case: Any, times: Any, table: Any, start: Any, method: str, tol: float) -> float:
    """Protected time by solve_ivp: legs between kinks of the input, ended by limit or stop."""
    from oilkit.physics import dynamics as d

    t, y, mode = 0.0, start.copy(), d.start_mode(start[d.V], case)
    out, u, since = np.empty(d.ROWS), np.empty(5), math.inf
    scale = tol * np.array([case[d.GAS_VOLUME], 3e-4, 1e5, 300.0, 1.0])
    while t < times[-1]:
        k = min(int(np.searchsorted(times, t, side="right")) - 1, len(times) - 2)

        def rates(s: float, z: Any, k: int = k, mode: int = mode) -> Any:
            d.inputs_at(u, s, times, table, k)
            d.rates_at(z, u, case, mode, start[d.V], out)
            d.steps.scale_rates(out, case)
            return out[:5].copy()

        def limit(s: float, z: Any) -> float:
            return float(z[d.P] - case[d.LIMIT])

        def home(s: float, z: Any) -> float:
            return float(z[d.V] - case[d.GAS_VOLUME])

        limit.direction = -1.0 if math.isinf(since) else 1.0
        limit.terminal = home.terminal = True
        home.direction = 1.0
        end = min(times[k + 1], since + case[d.TOLERANCE])
        if end - t < 1e-12:
            if t >= since + case[d.TOLERANCE] - 1e-9:
                return since
            t = times[k + 1]
            continue
        events = [limit, home] if mode == d.FREE else [limit]
        found = solve_ivp(rates, (t, end), y, method=method, rtol=tol, atol=scale, events=events)
        if not found.success:
            return math.nan
        t, y = float(found.t[-1]), found.y[:, -1].copy()
        if len(found.t_events[0]):
            since = t if math.isinf(since) else math.inf
            y[d.P] = case[d.LIMIT] * (1.0 - 1e-9 if math.isfinite(since) else 1.0 + 1e-9)
        elif mode == d.FREE and len(found.t_events[1]):
            mode = d.HOME
            y[d.V], y[d.Q] = case[d.GAS_VOLUME], 0.0
        elif math.isfinite(since) and t >= since + case[d.TOLERANCE] - 1e-12:
            return since
    return math.inf


def main() -> None:
    made = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    made.add_argument("cases", nargs="?", type=int, default=10_000)
    made.add_argument("most", nargs="?", type=float, default=1e5, help="cases in one call")
    given = made.parse_args()
    compared(given.cases, given.most)


def compared(count: int, most: float) -> None:
    """The kit's cases and scipy's, both sides by turns, then what more of them cost."""
    line = SupplyLine(hoses()["trade_12"], Q(6, "ft"), (fittings()["reduced_valve"], fittings()["port"]))
    built = Installation(engines()["street_v8"], lubricants()["street"], vessels()["bench"], line)

    began = time.perf_counter()
    discharge(built, **sweep(2))
    discharge(built)
    print(f"first calls, compiled or read from the cache: {time.perf_counter() - began:.2f} s")

    from oilkit.physics.discharging import cases_of, conditions_si, pump_lets_go

    conditions = sweep(count)
    few = {name: q[:SAMPLE] for name, q in conditions.items()}
    given, _ = conditions_si(few, built.vessel)
    numbers = {name: np.ravel(values).astype(float) for name, values in given.items()}
    cases, starts = cases_of(built, numbers)
    times, tables = pump_lets_go(numbers, 60.0)
    truth = discharge(built, accuracy=1e-9, **few).protected_time.m

    def error(found: Any) -> float:
        return float(np.quantile(np.abs(np.array(found) / truth - 1.0), 0.9))

    usual = error(discharge(built, **few).protected_time.m)
    began = time.perf_counter()
    discharge(built, **conditions)
    ours = (time.perf_counter() - began) / count
    print(f"kit, {count} cases: {1e3 * ours:.4f} ms each, error of nine in ten below {usual:.1e}")
    best = math.inf
    for method in ("LSODA", "RK45"):
        for tol in LADDER:
            began = time.perf_counter()
            found = [
                scipy_time(cases[i], times[i], tables[i], starts[i], method, tol)
                for i in range(SAMPLE if method == "LSODA" else 4)
            ]
            each = (time.perf_counter() - began) / len(found)
            off = float(np.quantile(np.abs(np.array(found) / truth[: len(found)] - 1.0), 0.9))
            print(f"  {method:6} at {tol:.0e}: {1e3 * each:8.2f} ms each, error {off:.1e}", flush=True)
            if off <= usual or each > 60.0:
                break
        best = min(best, each)
    print(f"the better of them costs {best / ours:.0f} times the kit's case")

    print("cost against the number of cases:")
    for n in (10**k for k in range(2, 7) if 10**k <= most):
        asked = sweep(n)
        began, spent = time.perf_counter(), time.process_time()
        discharge(built, **asked)
        each, cpu = (time.perf_counter() - began) / n, (time.process_time() - spent) / n
        memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
        cost = f"{1e3 * each:.4f} ms each, {1e3 * cpu:.4f} ms of CPU"
        print(f"  {n:7} cases: {cost}, largest memory so far {memory:.0f} MB", flush=True)

    laps(built)
    orders()


def laps(built: Installation) -> None:
    """A log of twenty minutes at 100 Hz."""
    lap, seconds = kit_lap(), np.arange(120_000) / 100.0
    places = {
        name: np.interp(seconds % lap.time.m_as("s")[-1], lap.si["time"], values) for name, values in lap.si.items()
    }
    columns = [Q(places[name], SORTS[name].kind.si) for name in ("speed", "lateral", "longitudinal", "rpm")]
    long = Log("twenty minutes", Q(seconds, "s"), *columns)
    simulate_lap(built, lap, True)  # compiles
    began = time.perf_counter()
    simulate_lap(built, long, True)
    print(f"a log of {len(seconds)} samples: {time.perf_counter() - began:.2f} s")


def orders() -> None:
    """The first steps of commissioning, in every order of the shortest procedure."""
    key = min(PROCEDURES, key=lambda one: len(PROCEDURES[one].steps))
    every = list(itertools.permutations(PROCEDURES[key].keys))
    play(key)
    began = time.perf_counter()
    for order in every:
        play(key, order)
    print(f"{len(every)} orders of {key}: {1e3 * (time.perf_counter() - began) / len(every):.2f} ms each")


if __name__ == "__main__":
    main()
