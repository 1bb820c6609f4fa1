"""What flows at one instant: line, engine, relief, pan, gas, and the rates of all states."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from oilkit.physics.compiled import njit
from oilkit.physics.dynamics.case import *


@njit(cache=True, error_model="numpy", inline="always")
def rounded_root(x: float) -> Any:
    return x / math.sqrt(math.sqrt(x * x + SMALL * SMALL)) if x > 0.0 else 0.0  # a power takes five times as long


@njit(cache=True, error_model="numpy")
def line_loss(flow: float, c: Any, opening: float) -> Any:
    """Pressure lost from vessel to tee at a flow, with its sign."""
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
        bent = 1.0 + r * r / (68_719_476_736.0 * turbulent * math.sqrt(turbulent))
        wall *= math.sqrt(math.sqrt(np.cbrt(bent)))
    return wall + (c[FITTINGS] + c[VALVE] / (opening * opening)) * size * flow


@njit(cache=True, error_model="numpy", inline="always")
def rounded_root_squared(x: float) -> Any:
    return x * x / math.sqrt(x * x + SMALL * SMALL) if x > 0.0 else 0.0


@njit(cache=True, error_model="numpy", inline="always")
def bearing_takes(p: float, pressed: float, dragged: float, feed: float, root_squared: float, outward: float) -> Any:
    """`oilkit.physics.engine.bearing_take`, one number at a time.

    root_squared: of the pressure that drives oil through the feed hole, its root rounded off below ``SMALL``, squared.
    """
    wanted = max(pressed * (p + outward) + dragged, 0.0)
    flow = 2.0 * wanted / (1.0 + math.sqrt(1.0 + 4.0 * feed * pressed * wanted))
    return flow if feed * flow * flow <= root_squared else math.sqrt(root_squared / feed)


@njit(cache=True, error_model="numpy")
def engine_takes(p: float, speed: float, c: Any) -> Any:
    """Flow into the engine at a gallery pressure and a crank speed."""
    if p <= 0.0:
        return 0.0
    flow = 0.0
    if c[JETS] > 0.0:
        flow += c[JETS] * rounded_root(p - c[JETS_OPEN])
    if c[LIFTERS] > 0.0:
        flow += c[LIFTERS] * rounded_root(p - c[LIFTERS_OPEN])
    still = rounded_root_squared(p)
    if speed > 0.0:
        spin = speed * speed
        turned, outward = rounded_root_squared(p - c[RODS_IN] * spin), c[RODS_OUT] * spin
        flow += bearing_takes(p, c[MAINS], c[MAINS_DRAG] * speed, c[MAINS_FEED], still, 0.0)
        flow += bearing_takes(p, c[RODS], c[RODS_DRAG] * speed, c[RODS_FEED], turned, outward)
        flow += bearing_takes(p, c[CAMS], c[CAMS_DRAG] * speed, c[CAMS_FEED], still, 0.0)
    else:
        flow += bearing_takes(p, c[MAINS_REST], 0.0, c[MAINS_FEED], still, 0.0)
        flow += bearing_takes(p, c[RODS_REST], 0.0, c[RODS_FEED], still, 0.0)
        flow += bearing_takes(p, c[CAMS_REST], 0.0, c[CAMS_FEED], still, 0.0)
    return flow


@njit(cache=True, error_model="numpy")
def engine_takes_at(p: Any, speed: Any, c: Any) -> Any:
    """As `engine_takes`, for pressures and speeds of shape (n,)."""
    flow = np.empty(len(p))
    for k in range(len(p)):
        flow[k] = engine_takes(p[k], speed[k], c)
    return flow


@njit(cache=True, error_model="numpy", inline="always")
def past_relief(p: float, pumped: float, c: Any) -> Any:
    """What is left of the pump's flow behind slip, relief valve, filter and cooler, which see each other's pressure.

    With the relief valve shut, or open, the flow falls in proportion to the pressure at the pump's outlet; the true one
    is the less of both.
    """
    shut = behind_elements(pumped, c[SLIP], p, c)
    slope = c[RELIEF_SLOPE]
    opened = behind_elements(pumped + slope * c[RELIEF_OPENING], c[SLIP] + slope, p, c)
    return max(min(shut, opened, pumped), 0.0)


@njit(cache=True, error_model="numpy", inline="always")
def behind_elements(most: float, slope: float, p: float, c: Any) -> Any:
    """A flow that is ``most`` less ``slope`` times the pressure before filter and cooler.

    Both cost the less of two things, their resistance or their open bypass. Of the four answers that this makes
    possible the largest is the true one, because the true cost is the least of four.
    """
    left = most - slope * p
    shut = left / (1.0 + slope * (c[FILTER] + c[COOLER]))
    one = (left - slope * c[FILTER_BYPASS]) / (1.0 + slope * c[COOLER])
    other = (left - slope * c[COOLER_BYPASS]) / (1.0 + slope * c[FILTER])
    both = left - slope * (c[FILTER_BYPASS] + c[COOLER_BYPASS])
    return max(shut, one, other, both)


@njit(cache=True, error_model="numpy", inline="always")
def way_cost(flow: float, thick: float, c: Any) -> Any:
    """Pressure that filter and cooler cost oil so many times as thick as the pump's.

    Backwards the gallery's oil goes through them, which is the pump's, and no bypass opens.
    """
    if flow <= 0.0:
        return (c[FILTER] + c[COOLER]) * flow
    return min(c[FILTER] * thick * flow, c[FILTER_BYPASS]) + min(c[COOLER] * thick * flow, c[COOLER_BYPASS])


@njit(cache=True, error_model="numpy")
def at_the_tee(p: float, line: float, pumped: float, supply: float, c: Any) -> Any:
    """What the pump brings and what leaks back past the check valve, and the pressure at the tee.

    line: flow out of the vessel. With the tee first, what goes on through filter and cooler is the root of a balance
    that rises in straight pieces; Newton's method, kept between bounds, ends on it. Both feel the vessel's cooler oil
    by its share beside what the pump displaces, as if it were there at once.
    """
    back = c[LEAK] * (1.0 - supply)
    if c[TEE_FIRST] == 0.0:
        return past_relief(p, pumped, c), back * max(p, 0.0), p
    thick = 1.0 + (c[THICKER] - 1.0) * line / (line + pumped) if line > 0.0 else 1.0
    filters, cools = c[FILTER] * thick, c[COOLER] * thick
    high = line + pumped
    low = line - back * max(p + way_cost(high, thick, c), 0.0)
    enough = 1e-14 * (abs(line) + pumped) + 1e-22
    on = high
    into, leaks, tee = 0.0, 0.0, p
    for _ in range(200):
        tee = p + way_cost(on, thick, c)
        let_go = c[RELIEF_SLOPE] * max(tee - c[RELIEF_OPENING], 0.0)
        into, leaks = max(pumped - c[SLIP] * max(tee, 0.0) - let_go, 0.0), back * max(tee, 0.0)
        over = on - line + leaks - into
        if abs(over) <= enough:
            break
        if over > 0.0:
            high = on
        else:
            low = on
        per_flow = 0.0
        if on <= 0.0:
            per_flow = c[FILTER] + c[COOLER]
        else:
            per_flow += filters if filters * on < c[FILTER_BYPASS] else 0.0
            per_flow += cools if cools * on < c[COOLER_BYPASS] else 0.0
        steep = 1.0
        if tee > 0.0:
            steep += back * per_flow
        if into > 0.0 and tee > 0.0:
            steep += (c[SLIP] + (c[RELIEF_SLOPE] if let_go > 0.0 else 0.0)) * per_flow
        on -= over / steep
        if not low < on < high:
            on = 0.5 * (low + high)
    return into, leaks, tee


@njit(cache=True, error_model="numpy")
def pan_supply(pan_oil: float, tilt: float, c: Any) -> Any:
    """Share of oil, not air, that the pick-up draws: from the height of the oil above it, as it lies there."""
    in_sump = c[SUMP_AREA] * c[SUMP_DEPTH]
    level = pan_oil / c[SUMP_AREA] if pan_oil <= in_sump else c[SUMP_DEPTH] + (pan_oil - in_sump) / c[UPPER_AREA]
    return min(max((level - tilt - c[PICKUP]) / c[BAND], 0.0), 1.0)


@njit(cache=True, error_model="numpy")
def gas_gauge(y: Any, c: Any) -> Any:
    return c[GAS_CONSTANT] * y[T] / y[V] - c[AMBIENT]


@njit(cache=True, error_model="numpy")
def supply_of(y: Any, u: Any, c: Any, start_volume: float) -> Any:
    """Share of oil, not air, that the pump gets, and the share towards which it goes."""
    target = u[SUPPLY]
    if c[FROM_PAN] > 0.0:
        target = pan_supply(c[PAN_OIL] + (y[V] - start_volume), u[TILT], c)
    return (y[S] if c[LOSE] > 0.0 else target), target


@njit(cache=True, error_model="numpy")
def net_push(y: Any, u: Any, c: Any, start_volume: float) -> Any:
    """Pressure that drives oil out of a vessel whose piston stands, before seal friction."""
    tee = y[P]
    if c[TEE_FIRST] > 0.0:
        supply, _ = supply_of(y, u, c, start_volume)
        _, _, tee = at_the_tee(y[P], 0.0, c[PUMP] * u[SPEED] * supply, supply, c)
    return gas_gauge(y, c) + c[HEAD] * u[ACCELERATION] + c[HEIGHT] - tee


@njit(cache=True, error_model="numpy", inline="always")
def is_moving(mode: int) -> bool:
    return mode in (FREE, BACK)


@njit(cache=True, error_model="numpy")
def rates_at(y: Any, u: Any, c: Any, mode: int, start_volume: float, out: Any) -> None:
    """Everything that flows or changes at one instant, into ``out``: dV, dQ, (net into the gallery), dT, dS, and the
    four flows of the sums."""
    flow, p, temperature = y[Q], y[P], y[T]
    moving = is_moving(mode)
    if not moving:
        flow = 0.0
    supply, target = supply_of(y, u, c, start_volume)
    pumped = c[PUMP] * u[SPEED] * supply
    into, leaks, tee = at_the_tee(p, flow, pumped, supply, c)
    out[V] = flow
    if not moving:
        out[Q] = 0.0
    elif u[OPENING] < SHUT:
        out[Q] = -flow / 1e-3
    else:
        push = gas_gauge(y, c) + c[HEAD] * u[ACCELERATION] + c[HEIGHT] - tee
        brake = c[SEAL] if mode == FREE else -c[SEAL]
        out[Q] = (push - brake - line_loss(flow, c, u[OPENING])) / c[INERTANCE]
    out[T] = 0.0
    if not math.isinf(c[EXCHANGE]):
        exchange = c[EXCHANGE] + c[EXCHANGE_SIDES] * y[V]
        out[T] = (c[WALL] - temperature) * exchange - (c[GAMMA] - 1.0) * temperature * flow / y[V]
    out[S] = 0.0
    if c[LOSE] > 0.0:
        out[S] = (target - supply) / (c[LOSE] if target < supply else c[REGAIN])
    takes = engine_takes(p, u[SPEED], c)
    out[P] = into + flow - takes - leaks
    out[N], out[N + 1], out[N + 2], out[N + 3] = into, takes, leaks, pumped - into


@njit(cache=True, error_model="numpy")
def inputs_at(u: Any, t: float, times: Any, table: Any, k: int) -> None:
    share = (t - times[k]) / (times[k + 1] - times[k])
    for i in range(table.shape[0]):
        u[i] = table[i, k] + share * (table[i, k + 1] - table[i, k])
