"""Pre-lube: oil before the first turn, from a vessel shut off hot and opened cold; and a stall. (Lesson 08)

What the vessel holds in the morning, `oilkit.physics.night` tells.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np

from oilkit.errors import InputError
from oilkit.physics.discharging import CONDITIONS, Installation, cases_of, every_condition, flat
from oilkit.physics.line import Fitting
from oilkit.physics.oil import density_of
from oilkit.physics.pressure import STANDARD_ATMOSPHERE
from oilkit.physics.vessel import USUAL_HEAT_TRANSFER
from oilkit.quantities.checked import (
    Accuracy,
    Ambient,
    ClearanceChange,
    Drop,
    Duration,
    Fraction,
    Gauge,
    GaugeAboveZero,
    HeatTransfer,
    One,
    PressureDifference,
    Temperature,
    ThroughFlow,
    Time,
    public,
)
from oilkit.quantities.kinds import GAUGE, OIL, THROUGH_FLOW, TIME
from oilkit.quantities.units import Q, Qty

AT_ONCE = 1e-6
"""A valve that opens within so many seconds opens at once."""
WEIGHTLESS = 1e-5
"""Share of its mass that the line's oil keeps once the galleries are full, without inertia: no swing is left."""
STIFF, FINEST = 0.05, 1e-8
"""With a smaller share of air in the galleries their pressure makes more of an error: steps are as much finer."""
WAIT_FOR = Q(15, "psig")
LEAST_TO_CRANK = Q(10, "psig")
"""What a peak needs at the least: below it warm engine and oil first (chosen, no source)."""
BY_HAND = Q(0.5, "s")
"""How long a hand needs to open a quarter-turn valve (estimate, no source)."""
NO_LEAK, A_MINUTE, FIVE_MINUTES = Q(0, "gpm"), Q(60, "s"), Q(300, "s")
NO_FRICTION, AS_BUILT, LEVEL, USUAL_AIR = (
    CONDITIONS[name][1] for name in ("seal_friction", "clearance_change", "head", "air_in_gallery")
)


@dataclass(frozen=True)
class PreLube:
    """How a vessel fills and feeds an engine at rest: see `pre_lube`."""

    full_after: Qty
    """When the empty galleries are full; infinite if the vessel is empty first."""
    wanted_after: Qty
    """When the gallery reaches the wanted pressure; infinite if it never does."""
    peak_pressure: Qty
    """Highest gauge pressure in the gallery."""
    peak_after: Qty
    crank_after: Qty
    """When to crank: the wanted pressure is there, no less than ``LEAST_TO_CRANK``, or the peak has passed. Infinite if
    the galleries never fill. With a peak below ``LEAST_TO_CRANK`` not at all."""
    oil_in_galleries: Qty
    """What the galleries have taken up when it is time to crank, or at the end."""
    oil_spent: Qty
    """What has run through the bearings into the pan by then, and back past a leaky check valve."""
    oil_left: Qty
    """What the vessel still holds then: for the start itself."""
    history: MorningHistory = field(repr=False)


@dataclass(frozen=True)
class MorningHistory:
    """One pre-lube over time. Arrays of shape (n,)."""

    time: Qty
    gallery_pressure: Qty
    gas_pressure: Qty
    line_flow: Qty
    engine_flow: Qty
    oil: Qty
    """In the vessel."""
    gallery_fill: Any
    """How full the galleries are: share of their volume, 0 to 1."""
    spent: Qty
    """Gone through the bearings, and back past the check valve, so far."""
    oil_missing: Any
    """How far vessel, galleries and what was spent have strayed from their sum, as a share of the vessel: rounding."""


def at_least(seconds: float) -> str:
    """A time of a pre-lube in oil that is thicker than computed, in words: a lower bound."""
    return f"{math.ceil(seconds)} s or more"


@public
def pre_lube(
    installation: Installation,
    valve: Fitting,
    precharge: One[Gauge],
    pressure: One[GaugeAboveZero],
    temperature: One[Temperature],
    empty: One[Fraction] = 0.5,
    wanted: One[GaugeAboveZero] = WAIT_FOR,
    opening_time: One[Time] = BY_HAND,
    heat_transfer: One[HeatTransfer] = USUAL_HEAT_TRANSFER,
    leak: One[ThroughFlow] = NO_LEAK,
    duration: One[Duration] = A_MINUTE,
    ambient: One[Ambient] = STANDARD_ATMOSPHERE,
    inertia: bool = False,
    accuracy: One[Accuracy] = 1e-5,
    seal_friction: One[Drop] = NO_FRICTION,
    clearance_change: One[ClearanceChange] = AS_BUILT,
    head: One[PressureDifference] = LEVEL,
    air_in_gallery: One[Fraction] = USUAL_AIR,
) -> PreLube:
    """Open the valve of a cold vessel on a cold engine that stands still.

    First the oil fills the empty share of the galleries, against ambient pressure: their air leaves through bearings
    and jets, which hold back air hardly at all. Then pressure builds against the bearings, whose shafts lie on their
    shells, peaks, and falls as the vessel empties.

    Left out, all of it kind: filter and cooler that have drained too, what bearings take while the galleries fill,
    that thick oil passes valve and fittings less well than their loss coefficients say, and that seal friction kept the
    gas below the oil when the vessel was filled. Below 0 °C a multigrade is thicker than computed as well: each time is
    a lower bound there, the peak an upper one.

    installation: its line without the valve; valve: with its bore and loss, wide open after ``opening_time`` (from 0).
    precharge, pressure: gauge, in the cold vessel, as `overnight` gives them; temperature: of gas and of all the oil.
    empty: share of the galleries that drained; wanted: gallery pressure to wait for, above 0; to crank takes 10 psi.
    heat_transfer: from the gas to its wall. leak: back past the check valve at 50 psi (3.45 bar).
    duration: how long to watch, above ``opening_time``.
    inertia: whether the oil in the line keeps its mass when the galleries are full. Its column then strikes them and
    the pressure swings for some hundredths of a second, faster than a gauge follows; the peak is that of the swing.
    accuracy: of each step, relative.
    seal_friction: what the piston passes on is the gas's pressure less this; a gas that has no more moves nothing.
    clearance_change, head: as in `discharge`; head of oil as cold as here. Friction, change and head are usually none.
    air_in_gallery: share of air in the galleries' oil once they are full. It delays the rise. The empty share's own air
    has left by then, so the two do not count twice.
    Raises `InputError` for a vessel that holds no oil.
    Source: first principles; laws as in `oilkit.physics.discharging`.

    >>> from oilkit import engines, fittings, hoses, lubricants, vessels, SupplyLine
    >>> line = SupplyLine(hoses()["trade_12"], Q(6, "ft"), (fittings()["port"],))
    >>> built = Installation(engines()["street_v8"], lubricants()["street"], vessels()["bench"], line)
    >>> run = pre_lube(built, fittings()["wide_valve"], Q(7, "psig"), Q(43, "psig"), Q(5, "degC"))
    >>> print(f"peak {run.peak_pressure:.0f~}")
    peak 27 psig
    """
    vessel = {"precharge": precharge, "pressure": pressure, "gas_temperature": temperature}
    around = {"heat_transfer": heat_transfer, "leak": leak, "ambient": ambient, "head": head}
    own = {"seal_friction": seal_friction, "clearance_change": clearance_change, "air_in_gallery": air_in_gallery}
    watched = opening_time, duration, wanted, accuracy, inertia
    return _opened(installation, valve, vessel | around | own, empty, *watched)


def _opened(
    installation: Installation, valve: Fitting, c: dict[str, Any], empty: float,
    opening: float, seconds: float, level: float, accuracy: float, inertia: bool,
) -> PreLube:  # fmt: skip
    """`pre_lube` of conditions in SI."""
    from oilkit.physics import dynamics  # here, because compiled code costs time that the first lessons never need

    case, start = _made_ready(installation, valve, c["gas_temperature"], c)
    if seconds <= opening:
        raise InputError(
            "duration", TIME.exact_text(seconds), f"more than the opening time, {TIME.exact_text(opening)}"
        )
    capacity = installation.engine.si.gallery_volume
    hollow = empty * capacity
    if start[dynamics.V] >= case[dynamics.GAS_VOLUME]:
        raise InputError("pressure", GAUGE.exact_text(c["pressure"]), "more than the pre-charge: there is no oil")
    accuracy = min(accuracy, max(accuracy * c["air_in_gallery"] / STIFF, FINEST))
    seen = _followed(case, start, opening, seconds, hollow, level, accuracy, inertia)
    return _told(case, start, capacity, hollow, seen)


class _Followed(NamedTuple):
    """Both phases in SI: when what happened, and at each moment state, gallery pressure, and where the oil is."""

    full: float
    ready: float
    peak: float
    peaked: float
    crank: float
    moments: Any
    states: Any
    pressures: Any
    takes: Any
    in_galleries: Any
    spent: Any


def _followed(
    case: Any, start: Any, opening: float, seconds: float, hollow: float, level: float, accuracy: float, inertia: bool
) -> _Followed:
    """The galleries fill, and if they do, pressure builds in them."""
    from oilkit.physics import dynamics

    case[dynamics.LIMIT] = level
    filling, filled, full = _filling(case, start, opening, seconds, hollow, accuracy)
    case[dynamics.INERTANCE] *= 1.0 if inertia else WEIGHTLESS
    nothing = np.zeros(len(filling))
    in_galleries = filled[:, dynamics.V] - start[dynamics.V]
    if not math.isfinite(full):
        return _Followed(full, math.inf, 0.0, 0.0, math.inf, filling, filled, nothing, nothing, in_galleries, nothing)
    begin = filled[-1, : dynamics.N].copy()
    begin[dynamics.V] = start[dynamics.V] + hollow  # to the last digit: full means full
    begin[dynamics.P] = 0.0
    after, fed = _feeding(case, begin, opening, full, seconds, accuracy)
    p = fed[:, dynamics.P]
    drunk = dynamics.engine_takes_at(p, np.zeros(len(p)), case)
    slopes = (fed[:, dynamics.Q] - drunk - case[dynamics.LEAK] * np.maximum(p, 0.0)) / case[dynamics.COMPLIANCE]
    ready, (peak, peaked) = _first(after, p, slopes, level), _highest(after, p, slopes)
    enough = _first(after, p, slopes, max(level, float(LEAST_TO_CRANK.m_as("Pag"))))

    def both(first: Any, second: Any) -> Any:
        return np.concatenate([first[:-1], second])

    return _Followed(
        full, ready, peak, peaked, min(enough, peaked),
        both(filling, after), both(filled, fed), both(nothing, p), both(nothing, drunk),
        both(in_galleries, hollow + case[dynamics.COMPLIANCE] * p),
        both(nothing, fed[:, dynamics.N + 1] + fed[:, dynamics.N + 2]),
    )  # fmt: skip


def _told(case: Any, start: Any, capacity: float, hollow: float, seen: _Followed) -> PreLube:
    from oilkit.physics import dynamics

    room, at = case[dynamics.GAS_VOLUME], min(seen.crank, seen.moments[-1])
    oil_left = room - np.interp(at, seen.moments, seen.states[:, dynamics.V])
    return PreLube(
        full_after=TIME.quantity(seen.full),
        wanted_after=TIME.quantity(seen.ready),
        peak_pressure=GAUGE.quantity(seen.peak),
        peak_after=TIME.quantity(seen.peaked),
        crank_after=TIME.quantity(seen.crank),
        oil_in_galleries=OIL.quantity(float(np.interp(at, seen.moments, seen.in_galleries))),
        oil_spent=OIL.quantity(float(np.interp(at, seen.moments, seen.spent))),
        oil_left=OIL.quantity(float(max(oil_left, 0.0))),
        history=_history(case, start, capacity, hollow, seen),
    )


def _history(case: Any, start: Any, capacity: float, hollow: float, seen: _Followed) -> MorningHistory:
    from oilkit.physics import dynamics

    room, volume = case[dynamics.GAS_VOLUME], seen.states[:, dynamics.V]
    gas = case[dynamics.GAS_CONSTANT] * seen.states[:, dynamics.T] / volume - case[dynamics.AMBIENT]
    return MorningHistory(
        time=TIME.quantity(seen.moments),
        gallery_pressure=GAUGE.quantity(seen.pressures),
        gas_pressure=GAUGE.quantity(gas),
        line_flow=THROUGH_FLOW.quantity(seen.states[:, dynamics.Q]),
        engine_flow=THROUGH_FLOW.quantity(seen.takes),
        oil=OIL.quantity(np.maximum(room - volume, 0.0)),
        gallery_fill=np.minimum((capacity - hollow + seen.in_galleries) / capacity, 1.0),
        spent=OIL.quantity(seen.spent),
        oil_missing=(volume - start[dynamics.V] - seen.in_galleries - seen.spent) / room,
    )


def _filling(
    case: Any, start: Any, opening: float, seconds: float, hollow: float, accuracy: float
) -> tuple[Any, Any, float]:
    """Moments, states, and when the galleries are full: infinite if not in the time watched.

    While they fill, what flows in raises no pressure, as if they could stretch without end.
    """
    from oilkit.physics import dynamics

    if hollow <= 0.0:
        filled = np.zeros((1, dynamics.ROWS))
        filled[0, : dynamics.N] = start
        return np.zeros(1), filled, 0.0
    soft = case.copy()
    soft[dynamics.COMPLIANCE] = 1e9
    early = np.unique(np.concatenate([[0.0, min(opening, seconds)], np.geomspace(1e-4, seconds, 160)]))
    _, followed = dynamics.one(soft, *_opening(0.0, opening, seconds), start, accuracy, early)
    full = _first(early, followed[:, dynamics.V], followed[:, dynamics.Q], start[dynamics.V] + hollow)
    end = min(full, seconds)
    moments = np.unique(np.append(np.geomspace(1e-4, 1.0, 60) * end, [0.0, end]))
    _, filled = dynamics.one(soft, *_opening(0.0, opening, end), start, accuracy, moments)
    return moments, filled, full if full < seconds else math.inf


def _feeding(case: Any, begin: Any, opening: float, full: float, seconds: float, accuracy: float) -> tuple[Any, Any]:
    """Moments and states from full galleries on."""
    from oilkit.physics import dynamics

    moments = np.concatenate([[0.0], np.geomspace(1e-7, 1.0, 336)]) * (seconds - full) + full
    moments[-1] = seconds
    _, fed = dynamics.one(case, *_opening(full, opening, seconds), begin, accuracy, moments)
    return moments, fed


def _made_ready(
    installation: Installation, valve: Fitting, oil_temperature: Any, conditions: dict[str, Any]
) -> tuple[Any, Any]:
    """The numbers of a case with its valve, and its start with an empty gallery."""
    from oilkit.physics import dynamics

    warm = {"sump_temperature": oil_temperature, "line_temperature": oil_temperature}
    c, _ = every_condition({"speed": 0.0, **warm, **conditions}, installation.vessel)
    cases, starts = cases_of(installation, flat(c), in_vessel=conditions["pressure"])
    case, start = cases[0], starts[0]
    rho = float(density_of(installation.oil.si, oil_temperature))
    area = math.pi * valve.si.bore**2 / 4.0
    case[dynamics.VALVE] = valve.si.loss_coefficient * rho / (2.0 * area**2)
    start[dynamics.P] = 0.0
    return case, start


def _opening(begin: float, opening: float, end: float) -> tuple[Any, Any]:
    """Moments and inputs of a run whose valve opens in a straight line from time 0: engine and pump stand still."""
    from oilkit.physics import dynamics

    times = np.unique([begin, min(max(opening, begin), end), end])
    table = np.zeros((dynamics.INPUTS, len(times)))
    share = times / opening if opening > AT_ONCE else np.ones(len(times))
    table[dynamics.OPENING] = np.clip(share, dynamics.SHUT, 1.0)
    return times, table


def _first(times: Any, values: Any, slopes: Any, level: float) -> float:
    """When a followed value first rises to a level, between two moments by the cubic through them; else infinite."""
    from scipy.interpolate import CubicHermiteSpline

    reached = np.flatnonzero(values >= level)
    if not len(reached):
        return math.inf
    k = int(reached[0])
    if k == 0:
        return float(times[0])
    span = slice(k - 1, k + 1)
    roots = CubicHermiteSpline(times[span], values[span], slopes[span]).solve(level, extrapolate=False)
    return float(roots[0]) if len(roots) else float(times[k])


def _highest(times: Any, values: Any, slopes: Any) -> tuple[float, float]:
    """The highest of a followed value, and when."""
    from scipy.interpolate import CubicHermiteSpline

    k = int(np.argmax(values))
    span = slice(max(k - 1, 0), k + 2)
    curve = CubicHermiteSpline(times[span], values[span], slopes[span])
    turning = np.append(curve.derivative().roots(extrapolate=False), times[k])
    turning = turning[np.isfinite(turning)]
    heights = curve(turning)
    best = int(np.argmax(heights))
    return float(heights[best]), float(turning[best])


@dataclass(frozen=True)
class Stall:
    """What a vessel does behind an open valve when engine and pump stand still: see `stall`."""

    empty_after: Qty
    """When the last oil has gone to the pan; infinite if not within the time watched."""
    oil_lost: Qty
    """By the end of the time watched."""
    warning_after: Qty
    """When the gallery falls below the engine's warning pressure."""


@public
def stall(
    installation: Installation,
    valve: Fitting,
    precharge: One[Gauge],
    pressure: One[GaugeAboveZero],
    oil_temperature: One[Temperature],
    gas_temperature: One[Temperature],
    heat_transfer: One[HeatTransfer] = USUAL_HEAT_TRANSFER,
    leak: One[ThroughFlow] = NO_LEAK,
    duration: One[Duration] = FIVE_MINUTES,
    ambient: One[Ambient] = STANDARD_ATMOSPHERE,
    seal_friction: One[Drop] = NO_FRICTION,
    clearance_change: One[ClearanceChange] = AS_BUILT,
    head: One[PressureDifference] = LEVEL,
    air_in_gallery: One[Fraction] = USUAL_AIR,
) -> Stall:
    """The engine has stopped, the ignition is still on and holds the valve open: the vessel runs out into the pan.

    Arguments as in `pre_lube`; precharge at ``gas_temperature``. Gallery and vessel start at ``pressure``.
    Seal friction of more than the pre-charge keeps some oil in.
    Source: first principles; laws as in `oilkit.physics.discharging`.

    >>> from oilkit import engines, fittings, hoses, lubricants, vessels, SupplyLine
    >>> line = SupplyLine(hoses()["trade_12"], Q(6, "ft"), (fittings()["port"],))
    >>> built = Installation(engines()["street_v8"], lubricants()["street"], vessels()["bench"], line)
    >>> gone = stall(built, fittings()["narrow_valve"], Q(10, "psig"), Q(50, "psig"), Q(100, "degC"), Q(40, "degC"))
    >>> print(f"{gone.empty_after:.0f~}")
    25 s
    """
    from oilkit.physics import dynamics

    vessel = {"precharge": precharge, "pressure": pressure, "gas_temperature": gas_temperature}
    around = {"heat_transfer": heat_transfer, "leak": leak, "ambient": ambient, "head": head}
    own = {"seal_friction": seal_friction, "clearance_change": clearance_change, "air_in_gallery": air_in_gallery}
    case, start = _made_ready(installation, valve, oil_temperature, vessel | around | own)
    room = case[dynamics.GAS_VOLUME]
    start[dynamics.P] = pressure
    case[dynamics.LIMIT], case[dynamics.TOLERANCE] = installation.engine.si.warning, 0.0
    times, table = _opening(0.0, 0.0, duration)
    held = room - start[dynamics.V]
    result, followed = dynamics.one(case, times, table, start, 1e-6, times)
    return Stall(
        empty_after=TIME.quantity(0.0 if held <= 0.0 else float(result[dynamics.BOTTOMED])),
        oil_lost=OIL.quantity(float(followed[-1, dynamics.V] - start[dynamics.V])),
        warning_after=TIME.quantity(float(result[dynamics.PROTECTED])),
    )
