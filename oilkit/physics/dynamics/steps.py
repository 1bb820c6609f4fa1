"""One step of the integrator: a small matrix, the method's numbers, how rates change with states, what lies between."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from oilkit.physics.compiled import njit
from oilkit.physics.dynamics.case import *
from oilkit.physics.dynamics.rates import at_the_tee, engine_takes, is_moving, line_loss, pan_supply

# RODAS: a Rosenbrock method of order 4, stiffly accurate (Hairer & Wanner, Solving Ordinary Differential Equations II,
# section IV.10; coefficients from memory, their order of convergence is tested)
STAGES = 6
STAGE_GAMMA = 0.25
STAGE_A = np.array([
    [0.0, 0.0, 0.0, 0.0, 0.0],
    [1.544, 0.0, 0.0, 0.0, 0.0],
    [0.9466785280815826, 0.2557011698983284, 0.0, 0.0, 0.0],
    [3.314825187068521, 2.896124015972201, 0.9986419139977817, 0.0, 0.0],
    [1.221224509226641, 6.019134481288629, 12.53708332932087, -0.6878860361058950, 0.0],
    [1.221224509226641, 6.019134481288629, 12.53708332932087, -0.6878860361058950, 1.0],
])  # fmt: skip
STAGE_C = np.array([
    [0.0, 0.0, 0.0, 0.0, 0.0],
    [-5.6688, 0.0, 0.0, 0.0, 0.0],
    [-2.430093356833875, -0.2063599157091915, 0.0, 0.0, 0.0],
    [-0.1073529058151375, -9.594562251023355, -20.47028614809616, 0.0, 0.0],
    [7.496443313967647, -10.24680431464352, -33.99990352819905, 11.70890893206160, 0.0],
    [8.083246795921522, -7.981132988064893, -31.52159432874371, 16.31930543123136, -6.058818238834054],
])  # fmt: skip
STAGE_TIME = np.array([0.0, 0.386, 0.21, 0.63, 1.0, 1.0])
STAGE_SLOPE = np.array([0.25, -0.1043, 0.1035, -0.03620000000000023, 0.0, 0.0])


@njit(cache=True, error_model="numpy")
def factorize(m: Any, order: Any) -> None:
    """Triangular factors of a small matrix, in place, with pivots; on the diagonal stand reciprocals."""
    for i in range(N):
        best = i
        for r in range(i + 1, N):
            if abs(m[r, i]) > abs(m[best, i]):
                best = r
        order[i] = best
        if best != i:
            for j in range(N):
                m[i, j], m[best, j] = m[best, j], m[i, j]
        m[i, i] = 1.0 / m[i, i]
        for r in range(i + 1, N):
            m[r, i] *= m[i, i]
            factor = m[r, i]
            if factor != 0.0:
                for j in range(i + 1, N):
                    m[r, j] -= factor * m[i, j]


@njit(cache=True, error_model="numpy")
def solve_stage(m: Any, order: Any, jac: Any, small: float, kk: Any, stage: int) -> None:
    """One stage, in place: the state with the matrix's factors, the sums behind it."""
    for i in range(N):
        best = order[i]
        if best != i:
            kk[stage, i], kk[stage, best] = kk[stage, best], kk[stage, i]
    for i in range(1, N):
        for j in range(i):
            kk[stage, i] -= m[i, j] * kk[stage, j]
    for i in range(N - 1, -1, -1):
        for j in range(i + 1, N):
            kk[stage, i] -= m[i, j] * kk[stage, j]
        kk[stage, i] *= m[i, i]
    for i in range(N, ROWS):
        total = kk[stage, i]
        for j in range(N):
            total += jac[i, j] * kk[stage, j]
        kk[stage, i] = total * small


@njit(cache=True, error_model="numpy")
def scale_rates(rates: Any, c: Any) -> None:
    """The gallery's net inflow as its rate of pressure."""
    rates[P] /= c[COMPLIANCE]


@njit(cache=True, error_model="numpy")
def jacobian(y: Any, u: Any, c: Any, mode: int, start_volume: float, f: Any, jac: Any) -> None:
    """How each rate changes with each part of the state: differences where a law bends, plain derivatives elsewhere.

    The pressure's row and those of the sums are of one piece, so that what leaves one place arrives in another to the
    last digit.
    """
    jac[:] = 0.0
    p, temperature, volume = y[P], y[T], y[V]
    moving = is_moving(mode)
    flow = y[Q] if moving else 0.0
    if moving:
        jac[V, Q] = 1.0
        if u[OPENING] < SHUT:
            jac[Q, Q] = -1e3
        else:
            gas = c[GAS_CONSTANT] / volume
            step = max(1e-6 * abs(flow), 1e-12)
            bend = (line_loss(flow + step, c, u[OPENING]) - line_loss(flow, c, u[OPENING])) / step
            jac[Q, V] = -gas * temperature / volume / c[INERTANCE]
            jac[Q, Q] = -bend / c[INERTANCE]
            jac[Q, P] = -1.0 / c[INERTANCE]
            jac[Q, T] = gas / c[INERTANCE]
    if not math.isinf(c[EXCHANGE]):
        stretch = (c[GAMMA] - 1.0) / volume
        jac[T, V] = stretch * temperature * flow / volume + (c[WALL] - temperature) * c[EXCHANGE_SIDES]
        if moving:
            jac[T, Q] = -stretch * temperature
        jac[T, T] = -(c[EXCHANGE] + c[EXCHANGE_SIDES] * volume) - stretch * flow
    supply, answer = u[SUPPLY], 0.0
    if c[FROM_PAN] > 0.0:
        pan = c[PAN_OIL] + (volume - start_volume)
        supply = pan_supply(pan, u[TILT], c)
        step = 1e-6 * c[GAS_VOLUME]
        answer = (pan_supply(pan + step, u[TILT], c) - supply) / step
    lagging = c[LOSE] > 0.0
    if lagging:
        rate = 1.0 / (c[LOSE] if supply < y[S] else c[REGAIN])
        jac[S, V], jac[S, S] = answer * rate, -rate
        supply, answer = y[S], 0.0
    full = c[PUMP] * u[SPEED]
    pumped = full * supply
    step = max(1e-7 * abs(p), 0.02)
    into, leaks, tee = f[N], f[N + 2], p
    if c[TEE_FIRST] > 0.0:
        into, leaks, tee = at_the_tee(p, flow, pumped, supply, c)
    into_p, leaks_p, tee_p = at_the_tee(p + step, flow, pumped, supply, c)
    jac[N, P], jac[N + 2, P], jac[N + 3, P] = (into_p - into) / step, (leaks_p - leaks) / step, (into - into_p) / step
    jac[N + 1, P] = (engine_takes(p + step, u[SPEED], c) - f[N + 1]) / step
    more = 1e-6
    into_s, leaks_s, tee_s = at_the_tee(p, flow, pumped + full * more, supply + more, c)
    by_supply = V if not lagging else S
    share = answer if not lagging else 1.0
    jac[N, by_supply] = (into_s - into) / more * share
    jac[N + 2, by_supply] = (leaks_s - leaks) / more * share
    jac[N + 3, by_supply] = (full - (into_s - into) / more) * share
    if c[TEE_FIRST] > 0.0 and moving:
        step_q = max(1e-6 * abs(flow), 1e-9)
        into_q, leaks_q, tee_q = at_the_tee(p, flow + step_q, pumped, supply, c)
        jac[N, Q], jac[N + 2, Q] = (into_q - into) / step_q, (leaks_q - leaks) / step_q
        jac[N + 3, Q] = -jac[N, Q]
        if u[OPENING] >= SHUT:
            jac[Q, P] = -(tee_p - tee) / step / c[INERTANCE]
            jac[Q, Q] -= (tee_q - tee) / step_q / c[INERTANCE]
            jac[Q, by_supply] -= (tee_s - tee) / more * share / c[INERTANCE]
    for j in range(N):
        jac[P, j] = jac[V, j] + jac[N, j] - jac[N + 1, j] - jac[N + 2, j]


@njit(cache=True, error_model="numpy")
def cubic(a: float, b: float, da: float, db: float, h: float, s: float) -> Any:
    """Between two points with their slopes, at a share s of the step h."""
    return a + s * s * (3.0 - 2.0 * s) * (b - a) + s * (1.0 - s) * h * ((1.0 - s) * da - s * db)


@njit(cache=True, error_model="numpy")
def crossing(a: float, b: float, da: float, db: float, h: float, level: float, low: float, high: float) -> Any:
    """Share of the step, between two shares, at which the cubic crosses a level that lies between its values there."""
    rising = cubic(a, b, da, db, h, high) > cubic(a, b, da, db, h, low)
    for _ in range(60):
        middle = 0.5 * (low + high)
        if (cubic(a, b, da, db, h, middle) > level) == rising:
            high = middle
        else:
            low = middle
    return 0.5 * (low + high)


@njit(cache=True, error_model="numpy")
def share_to(a: float, b: float, da: float, db: float, h: float, level: float) -> Any:
    return min(max(crossing(a, b, da, db, h, level, 0.0, 1.0), 1e-6), 1.0)


@njit(cache=True, error_model="numpy")
def turning(a: float, b: float, da: float, db: float, h: float) -> Any:
    """Share of the step at which the cubic between two points stops falling."""
    low, high = 0.0, 1.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        # derivative of the cubic, times h
        s = middle
        slope = (6.0 * s * s - 6.0 * s) * (a - b) + h * (
            (3.0 * s * s - 4.0 * s + 1.0) * da + (3.0 * s * s - 2.0 * s) * db
        )
        if slope < 0.0:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


@njit(cache=True, error_model="numpy")
def is_wild(y: Any, c: Any) -> bool:
    """A state that no step may go through: no gas, no temperature, or not a number."""
    return not (
        y[V] > 0.2 * c[LEAST_VOLUME]
        and y[V] < 2.0 * c[GAS_VOLUME]
        and y[T] > 20.0
        and y[T] < 3000.0
        and y[P] > -2e6
        and abs(y[Q]) < 10.0
    )
