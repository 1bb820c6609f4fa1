"""What may be off in a set-up: each uncertain input, variants of an event, and what becomes of each. (Lesson 10)"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from oilkit.build.calibration import NAMED, changed_clearance, guessed_or_known, variants
from oilkit.build.records import Event
from oilkit.build.results import HORIZON
from oilkit.build.setup_file import Build
from oilkit.errors import InputError
from oilkit.laps.lap import GRAVITY
from oilkit.physics.discharging import CONDITIONS, Installation, cases_of, pump_lets_go
from oilkit.physics.oil import density_of
from oilkit.physics.pressure import gauge_error
from oilkit.physics.settling import settled_pressure
from oilkit.physics.vessel import precharge_at_temperature, precharge_to_set
from oilkit.quantities.kind import Kind
from oilkit.quantities.kinds import CLEARANCE_CHANGE, PRESSURE_DIFFERENCE, TEMPERATURE, WORKING_TEMPERATURE

FORGIVING = 1e6
"""A tolerance, s, that nothing outlasts: to follow a case to its end, whatever its pressure."""
ACCURACY, QUICK = 1e-5, 1e-4
"""Of each step of the simulation, for the whole sheet and for a first look."""
IDLES = 100
"""Draws of the hot idle."""
FARTHEST = 2.5
"""Standard deviations beyond which nothing is drawn."""
LEAST_PRESSURE = 1.0
"""Pa above ambient that an engine has left when its spread would take it below nothing."""


INPUTS, LENGTH_NAME = 13, "length of the event"
CLEARANCE, SUMP, LINE, GAS, CHARGE, START, DECAY, HEAT, SEAL, LENGTH, PUMP, RELIEF, SMALL = range(INPUTS)
"""Rows of a matrix of standard deviations. The last three count in a calibrated set-up only, where ``START`` is the
relief valve's opening instead of the pressure that it makes: see `oilkit.build.calibration`."""
ENGINE = [CLEARANCE, START, PUMP, RELIEF, SMALL]
"""Rows of the engine's own numbers, in the order of `calibration.OWN`."""


def inputs(build: Build) -> list[tuple[str, Callable[[float], str]]]:
    """Each uncertain input in the order of those rows: its name, and how it is said so many standard deviations off."""
    u, driving, friction = build.uncertain.si, build.driving.si, build.estimates.si.seal_friction

    def warm(middle: float, spread: float) -> Callable[[float], str]:
        return lambda z: TEMPERATURE.both(middle + spread * z)

    def off(kind: Kind, spread: float) -> Callable[[float], str]:
        return lambda z: f"{'+' if z > 0 else '−'}{kind.both(abs(spread * z))}"

    def times(spread: float) -> Callable[[float], str]:
        return lambda z: f"times {math.exp(spread * z):.2f}"

    found = [
        (NAMED[0], off(CLEARANCE_CHANGE, u.clearance)),
        ("oil temperature, sump", warm(driving.sump_temperature, u.sump_temperature)),
        ("oil temperature, line", warm(driving.line_temperature, u.line_temperature)),
        ("gas temperature", warm(driving.gas_temperature, u.gas_temperature)),
        ("pre-charge as set", off(PRESSURE_DIFFERENCE, u.precharge)),
        ("pressure when the pump lets go", off(PRESSURE_DIFFERENCE, u.start_pressure)),
        ("how fast the pump fades", times(u.pump_decay)),
        ("heat that the gas takes from its wall", times(u.heat_transfer)),
        ("seal friction", lambda z: PRESSURE_DIFFERENCE.both(max(friction + u.seal_friction * z, 0.0))),
        (LENGTH_NAME, times(u.event_length)),
    ]
    if build.known is None:
        return found
    spread = build.known.spread
    found[CLEARANCE] = (NAMED[0], off(CLEARANCE_CHANGE, spread[0]))
    found[START] = (NAMED[1], off(PRESSURE_DIFFERENCE, spread[1]))
    return [*found, *((NAMED[k], times(spread[k])) for k in (2, 3, 4))]


@dataclass(frozen=True)
class Cases:
    """Many variants of one event, in SI: the conditions of a discharge and the event's length, each of shape (n,)."""

    conditions: dict[str, Any]
    lasts: Any
    engine_off: Any = None
    """By how much the engine differs from the set-up's own, rows of `calibration.OWN`, shape (5, n)."""

    def some(self, kept: Any) -> Cases:
        """Those of a mask or of places."""
        off = None if self.engine_off is None else self.engine_off[:, kept]
        return Cases({name: values[kept] for name, values in self.conditions.items()}, self.lasts[kept], off)


def vary(build: Build, events: Sequence[Event], z: Any, precharge_hot: Any = None, change: Any = None) -> Cases:
    """The variants of each event that lie so many standard deviations from what is expected. z: shape (INPUTS, n).

    precharge_hot, change: instead of the set-up's own; single or of shape (n,). All variants of the first event come
    first, then those of the second.
    """
    u, driving, shop, e = build.uncertain.si, build.driving.si, build.shop.si, [event.si for event in events]
    estimates, oil = build.estimates.si, build.oil.si
    here, there = build.track_ambient.m_as("Paa"), build.shop_ambient.m_as("Paa")
    each, many = z.shape[1], len(events)

    def of_all(values: Any) -> Any:
        """Values of one event for all of them."""
        return np.tile(np.broadcast_to(values, (each,)), many)

    def of_each(name: str) -> Any:
        return np.repeat([getattr(one, name) for one in e], each)

    hot = of_all(build.choice.si.precharge if precharge_hot is None else precharge_hot)
    middle = of_all(driving.clearance_change if change is None else change)
    z = np.tile(z, many)
    low, high = WORKING_TEMPERATURE.low, WORKING_TEMPERATURE.high
    off, engine = None, build.engine
    if build.known is not None:
        off = build.known.spread[:, None] * z[ENGINE]
        engine = variants(engine, off)
    loose = changed_clearance(build, u.clearance * z[CLEARANCE] if off is None else off[0], middle)
    sump = np.clip(driving.sump_temperature + u.sump_temperature * z[SUMP], low, high)
    line = np.clip(driving.line_temperature + u.line_temperature * z[LINE], low, high)
    gas = np.clip(driving.gas_temperature + u.gas_temperature * z[GAS], low, high)
    # the gas that is shut in was measured in the shop: what is off there, and the gas's temperature, show on the track
    as_set = precharge_to_set.si(hot, shop.temperature, driving.gas_temperature, there, here) + u.precharge * z[CHARGE]
    charge = precharge_at_temperature.si(np.maximum(as_set, -there + 1e3), shop.temperature, gas, there, here)
    speed = of_each("speed")
    running = settled_pressure(engine, build.oil, speed, sump, loose)
    given = {
        "precharge": charge,
        "pressure": np.maximum(running + (u.start_pressure * z[START] if off is None else 0.0), LEAST_PRESSURE),
        "speed": speed,
        "sump_temperature": sump,
        "line_temperature": line,
        "gas_temperature": gas,
        "heat_transfer": estimates.heat_transfer * np.exp(u.heat_transfer * z[HEAT]),
        "thermal_time_constant": math.nan,
        "clearance_change": loose,
        "line_length": math.nan,
        "pump_decay": of_each("pump_decay") * np.exp(u.pump_decay * z[DECAY]),
        "seal_friction": np.maximum(estimates.seal_friction + u.seal_friction * z[SEAL], 0.0),
        "head": head(build, density_of(oil, line), of_each("acceleration")),
        "air_in_gallery": estimates.air_in_gallery,
        "leak": estimates.check_valve_leak,
        "limit": build.limit_at(speed),
        "tolerance": build.limits.si.tolerance,
        "ambient": here,
    }
    assert given.keys() == CONDITIONS.keys()
    shaped = {name: np.broadcast_to(np.asarray(value, dtype=float), speed.shape) for name, value in given.items()}
    return Cases(shaped, of_each("lasts") * np.exp(u.event_length * z[LENGTH]), off)


def head(build: Build, density: Any, acceleration: Any) -> Any:
    """Pressure from vessel to gallery of a car that accelerates, and of the vessel's height. SI."""
    return density * (acceleration * build.line.si.reach + GRAVITY * build.line.si.height)


def follow(built: Installation, cases: Cases, seconds: Any = None, accuracy: float = ACCURACY) -> tuple[Any, Any]:
    """Protected times of many variants, watched to the horizon, and each for as long as it takes to see whether its own
    event ends protected; or with seconds, lowest pressures up to then."""
    return follow_all([(built, cases, seconds)], accuracy)[0]


def follow_all(several: Sequence[tuple[Installation, Cases, Any]], accuracy: float) -> list[tuple[Any, Any]]:
    """As `follow`, for variants of several installations at once, which costs less than one after the other."""
    from oilkit.physics import dynamics

    try:
        with np.errstate(all="ignore"):
            asked = [_to_follow(*one) for one in several]
            rows, times, tables, starts = (np.concatenate(parts) for parts in zip(*asked, strict=True))
            result = dynamics.many(rows, times, tables, starts, accuracy)
    except ArithmeticError:
        wanted = "numbers that an engine could have"
        raise InputError("the set-up", "numbers with which the simulation comes to no end", wanted) from None
    ends = np.cumsum([cases.lasts.size for _, cases, _ in several])[:-1]
    return [(part[:, dynamics.PROTECTED], part[:, dynamics.LOWEST]) for part in np.split(result, ends)]


def _to_follow(built: Installation, cases: Cases, seconds: Any) -> tuple[Any, Any, Any, Any]:
    """What `dynamics.many` wants to know of some cases."""
    numbers = dict(cases.conditions)
    until = np.maximum(HORIZON, cases.lasts + numbers["tolerance"]) if seconds is None else seconds
    if cases.engine_off is not None:
        built = replace(built, engine=variants(built.engine, cases.engine_off))
    if seconds is not None:
        numbers["tolerance"] = np.full_like(numbers["pressure"], FORGIVING)
    rows, starts = cases_of(built, numbers)
    return rows, *pump_lets_go(numbers, until), starts


def latin_hypercube(draws: int, seed: int) -> Any:
    """Standard deviations off, shape (INPUTS, draws): normal, each input in equal steps of probability, shuffled.

    A Latin hypercube: so even few draws take each input as seldom low and as seldom high as it is.
    """
    from scipy.special import ndtri  # here, because it costs time that the first lessons never need

    shuffled = np.random.default_rng(seed).permuted(np.tile(np.arange(draws), (INPUTS, 1)), axis=1)
    return np.clip(ndtri((shuffled + 0.5) / draws), -FARTHEST, FARTHEST)


def together(build: Build, z: Any, draws: bool = True) -> Any:
    """Independent standard deviations as those of a calibrated engine, whose numbers hang together.

    draws: False for one input moved at a time: the engine's others follow it as the readings demand.
    """
    if build.known is None:
        return z
    known, mixed = build.known, z.copy()
    if draws and known.drawn is not None:
        mixed[ENGINE] = known.drawn(z[ENGINE])
    else:
        mixed[ENGINE] = (np.linalg.cholesky(known.correlation) if draws else known.correlation) @ z[ENGINE]
    return mixed


def hot_idles(build: Build, z: Any) -> Any:
    """Hot idle of draws as the gauge should show it, SI: engine and oil temperature as far off as stated."""
    off = guessed_or_known(build).spread[:, None] * z[ENGINE]
    driving = build.driving.si
    sump = np.clip(
        driving.sump_temperature + build.uncertain.si.sump_temperature * z[SUMP],
        WORKING_TEMPERATURE.low,
        WORKING_TEMPERATURE.high,
    )
    engine, change = variants(build.engine, off), changed_clearance(build, off[0])
    return settled_pressure(engine, build.oil, build.engine.si.idle, sump, change)


def idle_spread(build: Build, seed: int = 7) -> tuple[float, float]:
    """Hot idle that one draw in ten lies below, and one above, SI."""
    idles = hot_idles(build, together(build, latin_hypercube(IDLES, seed)))
    return at_share(idles, 0.1), at_share(idles, 0.9)


def fillable(build: Build, idle_low: float) -> float:
    """The highest pre-charge that so low a hot idle fills, though the shop's gauge errs. SI."""
    errs = gauge_error(build.shop.gauge_full_scale, build.shop.gauge_class)
    return max(idle_low - float(errs.m_as("Pa")), 2.0 * LEAST_PRESSURE)


def at_share(values: Any, part: float) -> float:
    """The value below which that part of all lies; one of them, so that an infinite one stays what it is."""
    return float(np.sort(values)[min(int(part * len(values)), len(values) - 1)])


def nothing_off(count: int = 1) -> Any:
    return np.zeros((INPUTS, count))
