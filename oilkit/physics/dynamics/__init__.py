"""The dynamic model's machine room: one vessel, line, gallery, engine and pump over time, compiled with numba.

Everything here is in SI and knows no unit, no file and no widget; `oilkit.physics.discharging` asks it. It reads in
this order: `case` (the numbers of ``CASE``), `rates` (what flows at one instant), `steps` (one step of the
integrator), `run` (one case), and here `many`.

State: gas volume V, flow out of the vessel Q, gallery pressure P (gauge), gas temperature T, supply S at the pump.
Beside it run four sums of oil: what the pump pushed in, what the engine took, what leaked back, and what slipped or
went over the relief valve. A step changes state and sums by one linear rule, so no oil is lost but by rounding.

    dV/dt = Q                                            piston and oil
    I dQ/dt = p_gas - friction + head - P_tee - loss(Q)  the column of oil in the line
    C dP/dt = pump - slip - relief + Q - engine(P) - leak    the gallery
    P_tee = P                                            with the tee at the gallery; before filter and cooler
    P_tee = P + cost(pump - slip - relief + Q - leak)    what the gallery gets has to pass both
    dT/dt = (T_wall - T) / tau - (gamma - 1) T Q / V     the gas
    1 / tau = h A(V) / (m c_v)                           from the vessel and its gas, or a constant
    dS/dt = (supply - S) / (time to lose or to regain)   the pump's prime, where it has such times; else S is not used
                                                         and the pump has the supply of the table

p_gas = gas constant T / V - ambient, gauge; I = rho L / A of the line; C = V (x / p + 1 / K) of the gallery, with its
share of air x at the pressure p at which the case starts and the oil's stiffness K. Q is positive out of the vessel,
head helps it, friction is against the motion. A valve opened by a share s costs 1 / s**2 of what it costs wide open;
one that is shut stops the column at once. leak = (leak per pascal) max(P_tee, 0) (1 - supply). Slip and
relief valve feel the pressure at the pump's outlet: the tee's, or before filter and cooler. Oil that leaves the gallery
is back in the pan at once: what is on its way is not followed here.

At either end of its stroke the piston stops (Q = 0), and between them while seal friction holds it; the moments of
stopping and of coming loose are found, not stepped over. Source: first principles; laws of line, engine and gas as in
`oilkit.physics.line`, `oilkit.physics.engine` and `oilkit.physics.gas`.
"""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np
from numba.core import config

from oilkit.physics.dynamics.case import *
from oilkit.physics.dynamics.rates import *
from oilkit.physics.dynamics.run import *

FEW = 4
"""So many cases are followed one after another: threads wait for each other when something else, such as the browser
that is to show the result, is busy too (three cases 2.5 ms, in threads 1.7 alone and 8 beside others)."""
PIECES = 8
"""Into so many parts for each thread many cases are cut: some take much longer than others."""


def many(cases: Any, times: Any, tables: Any, starts: Any, tol: float) -> Any:
    """Many cases, each with its own inputs over time, until their protection ends: results, shape (n, RESULTS).

    cases: (n, len(CASE)); times: (n, k); tables: (n, INPUTS, k); starts: (n, N). Raises `ArithmeticError` if one fails.

    The threads are Python's, and end with the call: numba's own do not live on in a forked process, and some of them
    bear no second caller.
    """
    results = np.zeros((len(cases), RESULTS))
    threads = 1 if len(cases) <= FEW else min(config.NUMBA_NUM_THREADS, len(cases))

    def run(part: slice) -> None:
        run_cases(cases[part], times[part], tables[part], starts[part], tol, results[part])

    if threads == 1:
        run(slice(None))
    else:
        size = math.ceil(len(cases) / (PIECES * threads))
        with ThreadPoolExecutor(threads) as pool:
            for _ in pool.map(run, (slice(first, first + size) for first in range(0, len(cases), size))):
                pass  # what a thread raised is raised here
    _check(results)
    return results


def one(case: Any, times: Any, table: Any, start: Any, tol: float, samples: Any) -> tuple[Any, Any]:
    """One case from beginning to end: results, shape (RESULTS,), and state and sums at ``samples``, (n, ROWS)."""
    result, followed = np.zeros(RESULTS), np.zeros((len(samples), ROWS))
    y = np.array(start, dtype=float)
    mode = start_mode(y[V], case)
    if mode == HELD and y[Q] != 0.0:  # the column moves already, and the piston with it
        mode = FREE if y[Q] > 0.0 else BACK
    run_case(case, times, table, y, mode, tol, False, np.asarray(samples, dtype=float), followed, result)
    _check(result[None])
    return result, followed


def _check(results: Any) -> None:
    if np.any(results[:, STATUS]):
        failed = int(np.count_nonzero(results[:, STATUS]))
        raise ArithmeticError(f"{failed} of {len(results)} simulations did not come to their end")
