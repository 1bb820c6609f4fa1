"""The dynamic model's machine room: one vessel, line, gallery, engine and pump over time, compiled with numba.

Everything here is in SI and knows no unit, no file and no widget; `oilkit.physics.discharging` asks it. It reads in
this order: what a case is (the numbers of ``CASE``), what flows at one instant (`_rates`), one case (`run_case`), many
(`many`).

State: gas volume V, flow out of the vessel Q, gallery pressure P (gauge), gas temperature T, supply S at the pump.
Beside it run four sums of oil: what the pump pushed in, what the engine took, what leaked back and what the relief
valve let go. A step changes state and sums by one linear rule, so no oil is lost but by rounding.

    dV/dt = Q                                            piston and oil
    I dQ/dt = p_gas - friction + head - P - loss(Q)      the column of oil in the line
    C dP/dt = pump - relief + Q - engine(P) - leak       the gallery
    dT/dt = (T_wall - T) / tau - (gamma - 1) T Q / V     the gas
    dS/dt = (supply - S) / (time to lose or to regain)   the pump's prime, where it has such times; else S is not used
                                                         and the pump has the supply of the table

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

from oilkit.physics.compiled import njit

CASE = (
    "gas_constant",  # p V / T of the gas, Pa m3 / K
    "gas_volume",  # piston at the oil end
    "least_volume",  # piston at the gas end
    "wall_temperature",
    "exchange",  # 1 / tau; 0 without heat exchange, infinite for gas that stays at the wall's temperature
    "ambient",
    "seal_friction",  # Pa
    "inertance",  # rho L / A of the line
    "line_laminar",  # pressure per flow of the wall in laminar flow, 128 mu L / (pi d**4)
    "line_reynolds",  # Reynolds number per flow
    "line_fittings",  # pressure per flow squared of the fittings
    "valve",  # the same of the valve, wide open
    "line_filter",  # pressure per flow of a filter between tee and gallery; 0 if none
    "line_bypass",
    "head_per_acceleration",  # rho x between vessel and gallery
    "height_head",  # rho g z
    "compliance",  # of the gallery
    "pump_per_turn",  # oil per turn of the crank at full supply
    "relief_opening",
    "relief_slope",  # flow per pascal above it
    "filter",  # pressure per flow of the filter between pump and gallery
    "filter_bypass",
    "cooler",  # the same of a cooler; 0 if none
    "cooler_bypass",
    "leak",  # flow per pascal back past the check valve while the pump gives nothing
    "mains_pressed",  # flow per pascal
    "mains_pressed_rest",  # the same at rest, shafts lying on their shells, film as warm as the sump
    "mains_dragged",  # oil per turn
    "mains_feed",
    "rods_pressed",
    "rods_pressed_rest",
    "rods_dragged",
    "rods_feed",
    "rods_inward",  # pressure per speed squared
    "rods_outward",
    "cams_pressed",
    "cams_pressed_rest",
    "cams_dragged",
    "cams_feed",
    "jets",  # flow per root of pascal
    "jets_open",
    "lifters",
    "lifters_open",
    "lose_time",  # time constant with which the pump loses its oil, and wins it back
    "regain_time",
    "pan_oil",  # at the start
    "sump_area",
    "sump_depth",
    "upper_area",
    "pickup_height",
    "pickup_band",  # height of oil above the pick-up over which its supply goes from none to full
    "from_pan",  # 1: supply follows the pan's level; 0: it is given
    "limit",  # gallery pressure that counts
    "tolerance",  # time below it that is forgiven
    "heat_ratio",  # of the gas, c_p / c_v; a number of the case, because compiled code would keep an old constant
)
"""The numbers of one case, in the order of the array that holds them."""
(
    GAS_CONSTANT, GAS_VOLUME, LEAST_VOLUME, WALL, EXCHANGE, AMBIENT, SEAL, INERTANCE, LAMINAR, REYNOLDS, FITTINGS,
    VALVE, LINE_FILTER, LINE_BYPASS, HEAD, HEIGHT, COMPLIANCE, PUMP, RELIEF_OPENING, RELIEF_SLOPE, FILTER,
    FILTER_BYPASS, COOLER, COOLER_BYPASS, LEAK,
    MAINS, MAINS_REST, MAINS_DRAG, MAINS_FEED, RODS, RODS_REST, RODS_DRAG, RODS_FEED, RODS_IN, RODS_OUT,
    CAMS, CAMS_REST, CAMS_DRAG, CAMS_FEED, JETS, JETS_OPEN, LIFTERS, LIFTERS_OPEN, LOSE, REGAIN,
    PAN_OIL, SUMP_AREA, SUMP_DEPTH, UPPER_AREA, PICKUP, BAND, FROM_PAN, LIMIT, TOLERANCE, GAMMA,
) = range(len(CASE))  # fmt: skip

SPEED, SUPPLY, ACCELERATION, OPENING, TILT = range(5)
"""Rows of the inputs over time: crank speed (rev/s), supply given (0..1), acceleration along the line, valve opening
(0..1), and by how much the oil's surface is lower at the pick-up (m)."""

START = ("V", "Q", "P", "T", "S")
V, Q, P, T, S = range(5)
N = INPUTS = 5
SUMS = 4  # pump in, engine, leak, relief
FREE, HOME, FULL, HELD, BACK = range(5)
"""What the piston does: moves (with seal friction: towards the oil end), stands at the oil end or at the gas end, is
held by seal friction in between, moves towards the gas end against seal friction."""

SHUT = 1e-3
"""A valve opened less than this is shut."""
AT_REST = 1e-10
"""Flow, m3/s, below which a piston that seal friction brakes has come to rest."""
LOOSE = 0.01
"""Pressure, Pa, beyond seal friction that sets a standing piston going."""
ON_STOP = 1e-12
"""Share of its volume within which the piston counts as standing on a stop."""
SMALL = 3.0
"""Pressure, Pa, below which a root is rounded off, so that its slope stays finite."""


@njit(cache=True, error_model="numpy", inline="always")
def _root(x: float) -> Any:
    return x / (x * x + SMALL * SMALL) ** 0.25 if x > 0.0 else 0.0


@njit(cache=True, error_model="numpy")
def _line_loss(flow: float, c: Any, opening: float) -> Any:
    """Pressure lost from vessel to gallery at a flow, with its sign."""
    size = abs(flow)
    number = c[REYNOLDS] * size
    wall = c[LAMINAR] * flow
    if number > 1000.0:  # below, Churchill is 64 / Re to ten digits
        a = 2.457 * 0.9 * math.log(number / 7.0)
        a = a * a
        a = a * a
        a = a * a
        b = 37_530.0 / number
        b = b * b
        b = b * b
        b = b * b
        turbulent = a * a + b * b
        r = number * number * number
        r = r * r
        wall *= (1.0 + r * r / 68_719_476_736.0 * turbulent**-1.5) ** (1.0 / 12.0)
    loss = wall + (c[FITTINGS] + c[VALVE] / (opening * opening)) * size * flow
    if c[LINE_FILTER] > 0.0 and flow > 0.0:
        loss += min(c[LINE_FILTER] * flow, c[LINE_BYPASS])
    return loss


@njit(cache=True, error_model="numpy", inline="always")
def _bearing(p: float, pressed: float, dragged: float, feed: float, inward: float, outward: float) -> Any:
    """`oilkit.physics.engine.bearing_take`, one number at a time."""
    wanted = max(pressed * (p + outward) + dragged, 0.0)
    flow = 2.0 * wanted / (1.0 + math.sqrt(1.0 + 4.0 * feed * pressed * wanted))
    return min(flow, _root(p - inward) / math.sqrt(feed))


@njit(cache=True, error_model="numpy")
def engine_takes(p: float, speed: float, c: Any) -> Any:
    """Flow into the engine at a gallery pressure and a crank speed."""
    if p <= 0.0:
        return 0.0
    flow = c[JETS] * _root(p - c[JETS_OPEN]) + c[LIFTERS] * _root(p - c[LIFTERS_OPEN])
    if speed > 0.0:
        spin = speed * speed
        flow += _bearing(p, c[MAINS], c[MAINS_DRAG] * speed, c[MAINS_FEED], 0.0, 0.0)
        flow += _bearing(p, c[RODS], c[RODS_DRAG] * speed, c[RODS_FEED], c[RODS_IN] * spin, c[RODS_OUT] * spin)
        flow += _bearing(p, c[CAMS], c[CAMS_DRAG] * speed, c[CAMS_FEED], 0.0, 0.0)
    else:
        flow += _bearing(p, c[MAINS_REST], 0.0, c[MAINS_FEED], 0.0, 0.0)
        flow += _bearing(p, c[RODS_REST], 0.0, c[RODS_FEED], 0.0, 0.0)
        flow += _bearing(p, c[CAMS_REST], 0.0, c[CAMS_FEED], 0.0, 0.0)
    return flow


@njit(cache=True, error_model="numpy")
def engine_takes_at(p: Any, speed: Any, c: Any) -> Any:
    """As `engine_takes`, for pressures and speeds of shape (n,)."""
    flow = np.empty(len(p))
    for k in range(len(p)):
        flow[k] = engine_takes(p[k], speed[k], c)
    return flow


@njit(cache=True, error_model="numpy", inline="always")
def _past_relief(p: float, pumped: float, c: Any) -> Any:
    """What is left of the pump's flow behind relief valve, filter and cooler, which see each other's pressure.

    Filter and cooler each cost the less of two things, their resistance or their open bypass. Of the four answers
    that this makes possible the largest is the true one, because the true cost is the least of four.
    """
    over = p - c[RELIEF_OPENING]
    if over + min(c[FILTER] * pumped, c[FILTER_BYPASS]) + min(c[COOLER] * pumped, c[COOLER_BYPASS]) <= 0.0:
        return pumped
    slope = c[RELIEF_SLOPE]
    shut = (pumped - slope * over) / (1.0 + slope * (c[FILTER] + c[COOLER]))
    one = (pumped - slope * (over + c[FILTER_BYPASS])) / (1.0 + slope * c[COOLER])
    other = (pumped - slope * (over + c[COOLER_BYPASS])) / (1.0 + slope * c[FILTER])
    both = pumped - slope * (over + c[FILTER_BYPASS] + c[COOLER_BYPASS])
    return max(shut, one, other, both, 0.0)


@njit(cache=True, error_model="numpy")
def pan_supply(pan_oil: float, tilt: float, c: Any) -> Any:
    """Share of oil, not air, that the pick-up draws: from the height of the oil above it, as it lies there."""
    in_sump = c[SUMP_AREA] * c[SUMP_DEPTH]
    level = pan_oil / c[SUMP_AREA] if pan_oil <= in_sump else c[SUMP_DEPTH] + (pan_oil - in_sump) / c[UPPER_AREA]
    return min(max((level - tilt - c[PICKUP]) / c[BAND], 0.0), 1.0)


@njit(cache=True, error_model="numpy")
def _gas_gauge(y: Any, c: Any) -> Any:
    return c[GAS_CONSTANT] * y[T] / y[V] - c[AMBIENT]


@njit(cache=True, error_model="numpy")
def _push(y: Any, u: Any, c: Any) -> Any:
    """Pressure that drives oil out of the vessel, before seal friction and the line's loss."""
    return _gas_gauge(y, c) + c[HEAD] * u[ACCELERATION] + c[HEIGHT] - y[P]


@njit(cache=True, error_model="numpy", inline="always")
def _moves(mode: int) -> bool:
    return mode in (FREE, BACK)


@njit(cache=True, error_model="numpy")
def _rates(y: Any, u: Any, c: Any, mode: int, start_volume: float, out: Any) -> None:
    """Everything that flows or changes at one instant, into ``out``: dV, dQ, (net into the gallery), dT, dS, and the
    four flows of the sums."""
    flow, p, temperature = y[Q], y[P], y[T]
    moving = _moves(mode)
    if not moving:
        flow = 0.0
    out[V] = flow
    if not moving:
        out[Q] = 0.0
    elif u[OPENING] < SHUT:
        out[Q] = -flow / 1e-3
    else:
        brake = c[SEAL] if mode == FREE else -c[SEAL]
        out[Q] = (_push(y, u, c) - brake - _line_loss(flow, c, u[OPENING])) / c[INERTANCE]
    out[T] = 0.0
    if not math.isinf(c[EXCHANGE]):
        out[T] = (c[WALL] - temperature) * c[EXCHANGE] - (c[GAMMA] - 1.0) * temperature * flow / y[V]
    target = u[SUPPLY]
    if c[FROM_PAN] > 0.0:
        target = pan_supply(c[PAN_OIL] + (y[V] - start_volume), u[TILT], c)
    supply = target
    out[S] = 0.0
    if c[LOSE] > 0.0:
        supply = y[S]
        out[S] = (target - supply) / (c[LOSE] if target < supply else c[REGAIN])
    pumped = c[PUMP] * u[SPEED] * supply
    into = _past_relief(p, pumped, c)
    takes = engine_takes(p, u[SPEED], c)
    leaks = c[LEAK] * max(p, 0.0) * (1.0 - supply)
    out[P] = into + flow - takes - leaks
    out[N], out[N + 1], out[N + 2], out[N + 3] = into, takes, leaks, pumped - into


@njit(cache=True, error_model="numpy")
def _inputs(u: Any, t: float, times: Any, table: Any, k: int) -> None:
    share = (t - times[k]) / (times[k + 1] - times[k])
    for i in range(table.shape[0]):
        u[i] = table[i, k] + share * (table[i, k + 1] - table[i, k])


@njit(cache=True, error_model="numpy")
def _factor(m: Any, order: Any) -> None:
    """Triangular factors of a small matrix, in place, with pivots."""
    for i in range(N):
        best = i
        for r in range(i + 1, N):
            if abs(m[r, i]) > abs(m[best, i]):
                best = r
        order[i] = best
        if best != i:
            for j in range(N):
                m[i, j], m[best, j] = m[best, j], m[i, j]
        for r in range(i + 1, N):
            m[r, i] /= m[i, i]
            factor = m[r, i]
            if factor != 0.0:
                for j in range(i + 1, N):
                    m[r, j] -= factor * m[i, j]


@njit(cache=True, error_model="numpy")
def _back(m: Any, order: Any, b: Any) -> None:
    """Solve with the factors, in place."""
    for i in range(N):
        best = order[i]
        if best != i:
            b[i], b[best] = b[best], b[i]
    for i in range(1, N):
        for j in range(i):
            b[i] -= m[i, j] * b[j]
    for i in range(N - 1, -1, -1):
        for j in range(i + 1, N):
            b[i] -= m[i, j] * b[j]
        b[i] /= m[i, i]


ROWS = N + SUMS

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
def _scaled(rates: Any, c: Any) -> None:
    """The gallery's net inflow as its rate of pressure."""
    rates[P] /= c[COMPLIANCE]


@njit(cache=True, error_model="numpy")
def _jacobian(y: Any, u: Any, c: Any, mode: int, start_volume: float, f: Any, jac: Any) -> None:
    """How each rate changes with each part of the state: differences where a law bends, plain derivatives elsewhere.

    The pressure's row and those of the sums are of one piece, so that what leaves one place arrives in another to the
    last digit.
    """
    jac[:] = 0.0
    p, temperature, volume = y[P], y[T], y[V]
    moving = _moves(mode)
    flow = y[Q] if moving else 0.0
    if moving:
        jac[V, Q] = 1.0
        if u[OPENING] < SHUT:
            jac[Q, Q] = -1e3
        else:
            gas = c[GAS_CONSTANT] / volume
            step = max(1e-6 * abs(flow), 1e-12)
            bend = (_line_loss(flow + step, c, u[OPENING]) - _line_loss(flow, c, u[OPENING])) / step
            jac[Q, V] = -gas * temperature / volume / c[INERTANCE]
            jac[Q, Q] = -bend / c[INERTANCE]
            jac[Q, P] = -1.0 / c[INERTANCE]
            jac[Q, T] = gas / c[INERTANCE]
    if not math.isinf(c[EXCHANGE]):
        stretch = (c[GAMMA] - 1.0) / volume
        jac[T, V] = stretch * temperature * flow / volume
        if moving:
            jac[T, Q] = -stretch * temperature
        jac[T, T] = -c[EXCHANGE] - stretch * flow
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
    into = _past_relief(p, pumped, c)
    jac[N, P] = (_past_relief(p + step, pumped, c) - into) / step
    jac[N + 1, P] = (engine_takes(p + step, u[SPEED], c) - f[N + 1]) / step
    jac[N + 2, P] = c[LEAK] * (1.0 - supply) if p > 0.0 else 0.0
    more = 1e-6
    into_more = (_past_relief(p, pumped + full * more, c) - into) / more
    jac[N + 3, P] = -jac[N, P]
    by_supply = V if not lagging else S
    share = answer if not lagging else 1.0
    jac[N, by_supply] = into_more * share
    jac[N + 2, by_supply] = -c[LEAK] * max(p, 0.0) * share
    jac[N + 3, by_supply] = (full - into_more) * share
    for j in range(N):
        jac[P, j] = jac[V, j] + jac[N, j] - jac[N + 1, j] - jac[N + 2, j]


@njit(cache=True, error_model="numpy")
def _cubic(a: float, b: float, da: float, db: float, h: float, s: float) -> Any:
    """Between two points with their slopes, at a share s of the step h."""
    return a + s * s * (3.0 - 2.0 * s) * (b - a) + s * (1.0 - s) * h * ((1.0 - s) * da - s * db)


@njit(cache=True, error_model="numpy")
def _crossing(a: float, b: float, da: float, db: float, h: float, level: float, low: float, high: float) -> Any:
    """Share of the step, between two shares, at which the cubic crosses a level that lies between its values there."""
    rising = _cubic(a, b, da, db, h, high) > _cubic(a, b, da, db, h, low)
    for _ in range(60):
        middle = 0.5 * (low + high)
        if (_cubic(a, b, da, db, h, middle) > level) == rising:
            high = middle
        else:
            low = middle
    return 0.5 * (low + high)


PROTECTED, LOWEST, LOWEST_AT, BOTTOMED, BELOW, FAILURES, STEPS, STATUS, LAST_VOLUME = range(9)
RESULTS = 9
"""What a run is summed up in: end of the protected time (infinite if it did not end), lowest pressure and when, when
the piston first came home (infinite if never), time below the limit in all, how often it stayed there for longer than
the tolerance, steps, status (0 good), gas volume when protection ended (at the time PROTECTED), or at the end."""


@njit(cache=True, error_model="numpy")
def run_case(
    c: Any,
    times: Any,
    table: Any,
    y: Any,
    mode: int,
    tol: float,
    stop_when_lost: bool,
    samples: Any,
    out: Any,
    result: Any,
) -> int:
    """One case from ``times[0]`` to ``times[-1]``, state ``y`` changed in place.

    times: rising, shape (k,); table: inputs at those times, straight between, shape (5, k). samples: rising times at
    which ``out[i] = V, Q, P, T, S, sums`` is wanted, may be empty. result: shape (RESULTS,). Returns the last mode.
    """
    start_volume = y[V]
    u, w = np.empty(5), np.empty(5)
    f, g, ft = np.empty(ROWS), np.empty(ROWS), np.empty(ROWS)
    jac, m = np.empty((ROWS, N)), np.empty((N, N))
    order = np.empty(N, np.int64)
    kk = np.empty((STAGES, ROWS))
    z, new, f_new = np.empty(N), np.empty(ROWS), np.empty(ROWS)
    sums = np.zeros(SUMS)
    weight = np.array([tol * c[GAS_VOLUME], tol * 3e-4, tol * 1e5, tol * 300.0, tol])
    result[:] = 0.0
    result[PROTECTED] = result[BOTTOMED] = np.inf
    result[LOWEST], result[LOWEST_AT] = y[P], times[0]
    below_since = times[0] if y[P] < c[LIMIT] else np.nan
    volume_since = y[V]
    if mode == HOME:
        result[BOTTOMED] = times[0]
    failed = False
    sample = 0
    while sample < samples.size and samples[sample] <= times[0]:
        for i in range(N):
            out[sample, i] = y[i]
        for i in range(SUMS):
            out[sample, N + i] = 0.0
        sample += 1
    h = 1e-5
    t = times[0]
    steps = 0
    for k in range(times.size - 1):
        end = times[k + 1]
        if end <= t:
            continue
        steady = True
        for i in range(5):
            steady = steady and table[i, k] == table[i, k + 1]
        _inputs(u, t, times, table, k)
        _rates(y, u, c, mode, start_volume, f)
        _scaled(f, c)
        while t < end:
            if end - t < 1e-12 * max(abs(end), 1.0):
                t = end
                break
            # does a standing piston come loose?
            loose = -1.0
            if not _moves(mode) and u[OPENING] >= SHUT:
                loose = _loosening(y, u, c, mode)
                if loose > LOOSE:
                    mode = FREE if mode == FULL or (mode == HELD and _push(y, u, c) > 0.0) or c[SEAL] == 0.0 else BACK
                    y[Q] = 0.0
                    h = min(h, 1e-4)
                    _rates(y, u, c, mode, start_volume, f)
                    _scaled(f, c)
            h = min(h, end - t)
            _jacobian(y, u, c, mode, start_volume, f, jac)
            if steady:
                ft[:] = 0.0
            else:
                probe = 1e-3 * (end - times[k])
                if t + probe > end:
                    probe = -probe
                _inputs(w, t + probe, times, table, k)
                _rates(y, w, c, mode, start_volume, ft)
                _scaled(ft, c)
                for i in range(ROWS):
                    ft[i] = (ft[i] - f[i]) / probe
                ft[P] = (ft[N] - ft[N + 1] - ft[N + 2]) / c[COMPLIANCE]
            hit, stop = FREE, 0.0
            while True:
                steps += 1
                if steps > 4_000_000 or h < 1e-13:
                    result[STATUS], result[STEPS] = 1.0, steps
                    return mode
                big = 1.0 / (h * STAGE_GAMMA)
                for i in range(N):
                    for j in range(N):
                        m[i, j] = -(jac[i, j] / c[COMPLIANCE] if i == P else jac[i, j])
                    m[i, i] += big
                _factor(m, order)
                bad = False
                for stage in range(STAGES):
                    for i in range(ROWS):
                        g[i] = f[i]
                    if stage > 0:
                        for i in range(N):
                            z[i] = y[i]
                            for j in range(stage):
                                z[i] += STAGE_A[stage, j] * kk[j, i]
                        bad = _wild(z, c)
                        if bad:
                            break
                        if not steady:
                            _inputs(w, t + STAGE_TIME[stage] * h, times, table, k)
                        _rates(z, w if not steady else u, c, mode, start_volume, g)
                        _scaled(g, c)
                    for i in range(ROWS):
                        total = g[i] + STAGE_SLOPE[stage] * h * ft[i]
                        for j in range(stage):
                            total += STAGE_C[stage, j] / h * kk[j, i]
                        kk[stage, i] = total
                    _stage(m, order, jac, big, kk[stage])
                error = 0.0
                if not bad:
                    for i in range(N):
                        new[i] = z[i] + kk[STAGES - 1, i]
                        part = kk[STAGES - 1, i] / (weight[i] + tol * max(abs(y[i]), abs(new[i])))
                        error += part * part
                    error = math.sqrt(error / N)
                    bad = _wild(new, c)
                if bad:
                    h *= 0.25
                    continue
                if error > 1.0:
                    h *= max(0.2, 0.9 * error ** (-1.0 / 4.0))
                    continue
                # a stop within the step: end the step on it
                hit = FREE
                if _moves(mode) and new[Q] > 0.0 and new[V] > c[GAS_VOLUME] * (1.0 - ON_STOP):
                    hit, stop = HOME, c[GAS_VOLUME]
                elif _moves(mode) and new[Q] < 0.0 and new[V] < c[LEAST_VOLUME] * (1.0 + ON_STOP):
                    hit, stop = FULL, c[LEAST_VOLUME]
                if hit != FREE and abs(new[V] - stop) > ON_STOP * stop and h > 1e-10:
                    h *= _share_to(y[V], new[V], f[V], new[Q], h, stop)
                    continue
                # or a piston that seal friction brought to rest: the same
                turned = (mode == FREE and new[Q] < 0.0) or (mode == BACK and new[Q] > 0.0)
                if hit == FREE and turned and c[SEAL] > 0.0:
                    hit = HELD
                    if abs(new[Q]) > AT_REST and h > 1e-10:
                        h *= min(max(y[Q] / (y[Q] - new[Q]), 0.02), 0.98)
                        continue
                # or one that was to come loose within the step: end the step there
                if not _moves(mode) and h > 1e-10:
                    _inputs(w, t + h, times, table, k)
                    then = _loosening(new, w, c, mode) if w[OPENING] >= SHUT else -1.0
                    if then > 1.0 and loose <= LOOSE:
                        h *= min(max((0.5 - loose) / (then - loose), 0.01), 0.95)
                        continue
                break
            for i in range(SUMS):
                new[N + i] = kk[STAGES - 1, N + i]
                for j in range(STAGES - 1):
                    new[N + i] += STAGE_A[STAGES - 1, j] * kk[j, N + i]
            t_new = t + h
            if end - t_new < 1e-12 * max(abs(end), 1.0):
                t_new = end
            _inputs(u, t_new, times, table, k)
            _rates(new, u, c, mode, start_volume, f_new)
            _scaled(f_new, c)
            # what happened on the way
            while sample < samples.size and samples[sample] <= t_new:
                share = (samples[sample] - t) / h
                for i in range(N):
                    out[sample, i] = _cubic(y[i], new[i], f[i], f_new[i], h, share)
                for i in range(SUMS):
                    out[sample, N + i] = _cubic(sums[i], sums[i] + new[N + i], f[N + i], f_new[N + i], h, share)
                sample += 1
            low, low_at, split = new[P], t_new, 1.0
            if f[P] < 0.0 and f_new[P] > 0.0:
                split = _turning(y[P], new[P], f[P], f_new[P], h)
                low, low_at = _cubic(y[P], new[P], f[P], f_new[P], h, split), t + split * h
            elif f[P] > 0.0 and f_new[P] < 0.0:
                split = _turning(-y[P], -new[P], -f[P], -f_new[P], h)
            if low < result[LOWEST]:
                result[LOWEST], result[LOWEST_AT] = low, low_at
            share, before = 0.0, y[P]
            for piece in range(2):  # down and up again within one step is seen too
                upto = split if piece == 0 else 1.0
                if upto <= share:
                    continue
                after = _cubic(y[P], new[P], f[P], f_new[P], h, upto) if upto < 1.0 else new[P]
                if before >= c[LIMIT] and after < c[LIMIT]:
                    at = _crossing(y[P], new[P], f[P], f_new[P], h, c[LIMIT], share, upto)
                    below_since = t + h * at
                    volume_since = _cubic(y[V], new[V], f[V], f_new[V], h, at)
                elif before < c[LIMIT] and after >= c[LIMIT]:
                    above = t + h * _crossing(y[P], new[P], f[P], f_new[P], h, c[LIMIT], share, upto)
                    result[BELOW] += above - below_since
                    if above - below_since > c[TOLERANCE] and not failed:
                        result[FAILURES] += 1.0
                        if math.isinf(result[PROTECTED]):
                            result[PROTECTED], result[LAST_VOLUME] = below_since, volume_since
                    below_since = np.nan
                    failed = False
                share, before = upto, after
            for i in range(N):
                y[i] = new[i]
            for i in range(SUMS):
                sums[i] += new[N + i]
            for i in range(ROWS):
                f[i] = f_new[i]
            t = t_new
            if hit != FREE:
                mode = hit
                if hit != HELD:
                    y[V] = c[GAS_VOLUME] if hit == HOME else c[LEAST_VOLUME]
                y[Q] = 0.0
                if hit == HOME and math.isinf(result[BOTTOMED]):
                    result[BOTTOMED] = t
                _rates(y, u, c, mode, start_volume, f)
                _scaled(f, c)
                h = 1e-5
            else:
                h *= min(4.0, max(0.3, 0.9 * max(error, 1e-6) ** (-1.0 / 4.0)))
            if not failed and t - below_since > c[TOLERANCE]:
                failed = True
                result[FAILURES] += 1.0
                if math.isinf(result[PROTECTED]):
                    result[PROTECTED], result[LAST_VOLUME] = below_since, volume_since
            if stop_when_lost and not math.isinf(result[PROTECTED]):
                if not math.isnan(below_since):
                    result[BELOW] += t - below_since
                result[STEPS] = steps
                return mode
    if not math.isnan(below_since):
        result[BELOW] += t - below_since
    if math.isinf(result[PROTECTED]):
        result[LAST_VOLUME] = y[V]
    while sample < samples.size:
        for i in range(N):
            out[sample, i] = y[i]
        for i in range(SUMS):
            out[sample, N + i] = sums[i]
        sample += 1
    result[STEPS] = steps
    return mode


@njit(cache=True, error_model="numpy")
def _stage(m: Any, order: Any, jac: Any, big: float, k: Any) -> None:
    """One stage: the state from the factored matrix, the sums behind it."""
    _back(m, order, k)
    for i in range(N, ROWS):
        total = k[i]
        for j in range(N):
            total += jac[i, j] * k[j]
        k[i] = total / big


@njit(cache=True, error_model="numpy")
def _wild(y: Any, c: Any) -> bool:
    """A state that no step may go through: no gas, no temperature, or not a number."""
    return not (
        y[V] > 0.2 * c[LEAST_VOLUME]
        and y[V] < 2.0 * c[GAS_VOLUME]
        and y[T] > 20.0
        and y[T] < 3000.0
        and y[P] > -2e6
        and abs(y[Q]) < 10.0
    )


@njit(cache=True, error_model="numpy")
def _loosening(y: Any, u: Any, c: Any, mode: int) -> Any:
    """By how much the pressure that pulls at a standing piston exceeds seal friction, Pa."""
    push = _push(y, u, c)
    return (-push if mode == HOME else push if mode == FULL else abs(push)) - c[SEAL]


@njit(cache=True, error_model="numpy")
def start_mode(volume: float, c: Any) -> int:
    """How the piston stands at the start: on a stop, held by its seal, or free to move."""
    if volume >= c[GAS_VOLUME]:
        return HOME
    if volume <= c[LEAST_VOLUME]:
        return FULL
    return HELD if c[SEAL] > 0.0 else FREE


@njit(cache=True, error_model="numpy")
def _share_to(a: float, b: float, da: float, db: float, h: float, level: float) -> Any:
    return min(max(_crossing(a, b, da, db, h, level, 0.0, 1.0), 1e-6), 1.0)


@njit(cache=True, error_model="numpy")
def _turning(a: float, b: float, da: float, db: float, h: float) -> Any:
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


@njit(cache=True, error_model="numpy", nogil=True)
def _run_cases(cases: Any, times: Any, tables: Any, starts: Any, tol: float, results: Any) -> None:
    nothing, nowhere = np.empty(0), np.empty((0, ROWS))
    for i in range(cases.shape[0]):
        y = starts[i].copy()
        mode = start_mode(y[V], cases[i])
        run_case(cases[i], times[i], tables[i], y, mode, tol, True, nothing, nowhere, results[i])


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
        _run_cases(cases[part], times[part], tables[part], starts[part], tol, results[part])

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
    run_case(case, times, table, y, mode, tol, False, np.asarray(samples, dtype=float), followed, result)
    _check(result[None])
    return result, followed


def _check(results: Any) -> None:
    if np.any(results[:, STATUS]):
        failed = int(np.count_nonzero(results[:, STATUS]))
        raise ArithmeticError(f"{failed} of {len(results)} simulations did not come to their end")
