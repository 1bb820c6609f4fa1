"""A lap: from speed and g to the pick-up's supply, the vessel's oil and the gallery's pressure. (Lesson 07)

The pick-up model, all of it first principles but for numbers marked as estimates: the oil's free surface tilts by a /
g, so at a pick-up that does not stand in the middle of the pan it lies lower or higher than the mean level; over a band
of heights above the pick-up the supply goes from none to full; the pump loses its oil and wins it back with time
constants of its own. What the vessel takes in comes out of the pan, and what it gives goes back there.

The second half chooses a pre-charge: over a map, and with everything that nobody knows exactly.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from oilkit.errors import InputError
from oilkit.laps.logfile import Log, Progress
from oilkit.physics.discharging import (
    Conditions,
    Installation,
    cases_of,
    discharge,
    every_condition,
    pump_lets_go,
    usual_si,
)
from oilkit.physics.engine import engine_demand, operating_point
from oilkit.physics.pan import pan_volume
from oilkit.physics.pressure import STANDARD_ATMOSPHERE
from oilkit.physics.vessel import check_rated
from oilkit.quantities.checked import (
    AccelerationAboveZero,
    Accuracy,
    Ambient,
    ClearanceChange,
    ClearanceSpread,
    Draws,
    Duration,
    Fraction,
    Gauge,
    GaugeAboveZero,
    Length,
    Offset,
    Oil,
    One,
    Own,
    PanChange,
    Seed,
    Temperature,
    TemperatureRise,
    Time,
    Volume,
    public,
)
from oilkit.quantities.kinds import (
    CLEARANCE_CHANGE,
    GAUGE,
    OIL,
    PAN_CHANGE,
    TIME,
    WORKING_TEMPERATURE,
    checked,
)
from oilkit.quantities.records import Record
from oilkit.quantities.units import Q, Qty

GRAVITY = 9.80665
CORNER_FROM = 0.5
"""Accelerating sideways or braking by more than this, in g, the car is in a corner, a braking or a lift-off."""
BRAKING = 0.75
"""Losing speed by more than this, in g, takes brakes; by less, a lifted foot may be enough (chosen, no source)."""
CORNER_LEAST, CORNER_GAP = 0.4, 0.6
"""Seconds: a shorter stretch does not count, and a shorter pause does not part two."""
CHUNK = 10_000
"""Samples between two reports of progress."""


@dataclass(frozen=True)
class PickUp(Record):
    """Where the pick-up stands, and how pump and oil answer. The numbers are estimates, no source: measure yours."""

    behind: Offset = field(default_factory=lambda: Q(1.6, "in"))
    """How far it stands behind the middle of the oil's surface; below 0 before it."""
    left: Offset = field(default_factory=lambda: Q(1.0, "in"))
    """How far to the left of it; below 0 to the right."""
    band: Length = field(default_factory=lambda: Q(0.5, "in"))
    """Height of oil above the pick-up over which its supply goes from none to full."""
    loses: Duration = field(default_factory=lambda: Q(0.15, "s"))
    """Time constant with which the pump loses its oil once the pick-up draws air."""
    regains: Duration = field(default_factory=lambda: Q(0.4, "s"))
    """… and with which it wins it back."""


@public
def surface_tilt(log: Log, pickup: PickUp | None = None) -> Offset:
    """How much lower than the pan's mean level the oil stands at the pick-up: shape (n,), below 0 where it is higher.

    A free surface stands square to gravity and acceleration together: it rises by a / g for each length towards the
    side that the car accelerates away from. Source: first principles (hydrostatics); walls and sloshing are left out.

    >>> from oilkit import kit_lap
    >>> tilt = surface_tilt(kit_lap())
    >>> print(f"{max(tilt):.1f~}")
    2.0 in
    """
    place, si = (pickup or PickUp()).si, log.si
    return (place.left * si["lateral"] - place.behind * si["longitudinal"]) / GRAVITY


def _conditions(conditions: dict[str, Any], built: Installation) -> tuple[dict[str, Any], tuple[int, ...]]:
    """All conditions of `discharge` as flat arrays of one length, and the shape that they had together. SI."""
    given, shape = every_condition(conditions, built.vessel)
    return {name: np.ravel(array).astype(float) for name, array in given.items()}, shape


# --------------------------------------------------------------------------------------------------------- corners


@dataclass(frozen=True)
class Corner:
    """A stretch of a log in which the oil does not lie still: see `corners`."""

    name: str
    start: Qty
    end: Qty
    at: Qty
    """Distance at its beginning."""
    hardest: Qty
    """Greatest acceleration in it, whichever way."""


@public
def corners(log: Log, above: One[AccelerationAboveZero] | None = None) -> list[Corner]:
    """The stretches of a log with more than ``above`` (0.5 g) sideways or in braking, numbered, and what they are.

    Pauses under 0.6 s do not part two, stretches under 0.4 s do not count (chosen, no source).
    Source: first principles (a stretch above a threshold).

    >>> from oilkit import kit_lap
    >>> print(", ".join(corner.name for corner in corners(kit_lap())[:3]))
    1 braking and right, 2 braking and left, 3 braking and left
    """
    si = log.si
    threshold = CORNER_FROM * GRAVITY if above is None else above
    sideways, slowing = np.abs(si["lateral"]), np.maximum(-si["longitudinal"], 0.0)
    hard = np.hypot(sideways, slowing)
    time, distance = si["time"], log.distance.m_as("m")
    inside = np.concatenate([[False], hard > threshold, [False]])
    begins, ends = (np.flatnonzero(np.diff(inside.astype(int)) == way) for way in (1, -1))
    spans: list[list[int]] = []
    for first, last in zip(begins.tolist(), (ends - 1).tolist(), strict=True):
        if spans and time[first] - time[spans[-1][1]] < CORNER_GAP:
            spans[-1][1] = last
        else:
            spans.append([first, last])
    spans = [span for span in spans if time[span[1]] - time[span[0]] >= CORNER_LEAST]
    found = []
    for number, (first, last) in enumerate(spans, 1):
        part = slice(first, last + 1)
        turn = si["lateral"][part][int(np.argmax(sideways[part]))]
        braking = float(np.max(slowing[part]))
        ways = ["braking"] if braking > max(threshold, BRAKING * GRAVITY) else []
        if braking > threshold and not ways and abs(turn) <= 0.6 * threshold:
            ways.append("lift-off")
        if abs(turn) > 0.6 * threshold:
            ways.append("left" if turn > 0.0 else "right")
        found.append(
            Corner(
                name=f"{number} {' and '.join(ways) or 'bend'}",
                start=Q(float(time[first]), "s"),
                end=Q(float(time[last]), "s"),
                at=Q(float(distance[first]), "m"),
                hardest=Q(float(np.max(hard[part])) / GRAVITY, "g_0"),
            )
        )
    return found


# ----------------------------------------------------------------------------------------------------------- a lap


@dataclass(frozen=True)
class Lap:
    """What came of a simulated lap: see `simulate_lap`. Arrays have one value for each sample of the log."""

    time: Qty = field(repr=False)
    distance: Qty = field(repr=False)
    gallery_pressure: Qty = field(repr=False)
    supply: Any = field(repr=False)
    """Share of oil, not air, that the pump gives."""
    oil: Qty = field(repr=False)
    """In the vessel."""
    line_flow: Qty = field(repr=False)
    """Out of the vessel; below 0 into it."""
    pan: Qty = field(repr=False)
    """Oil in the pan."""
    limit: Qty
    lowest_pressure: Qty
    time_below: Qty
    """Time below the limit in all."""
    longest_below: Qty
    """The longest single time below it."""
    oil_left: Qty
    """In the vessel at the end."""
    oil_missing: float
    """How far the sum of all the oil strayed, as a share of the vessel's volume: rounding."""

    def between(self, start: Qty, end: Qty) -> Qty:
        """Time below the limit between two moments."""
        return Q(_time_below(self.time.m_as("s"), self._below(), start.m_as("s"), end.m_as("s")), "s")

    def _below(self) -> Any:
        return self.limit.m_as("psig") - self.gallery_pressure.m_as("psig")


def _time_below(time: Any, short: Any, start: float, end: float) -> float:
    """Time in which ``short`` is above 0 between two moments, straight from sample to sample."""
    moments = np.unique(np.concatenate([[start], time[(time > start) & (time < end)], [end]]))
    a, b = (np.interp(moments, time, short)[s] for s in (slice(None, -1), slice(1, None)))
    step = np.diff(moments)
    low, high = np.minimum(a, b), np.maximum(a, b)
    share = np.where(low >= 0.0, (high > 0.0) * 1.0, np.where(high <= 0.0, 0.0, high / np.maximum(high - low, 1e-300)))
    return float(np.sum(step * share))


@public
def simulate_lap(
    installation: Installation,
    log: Log,
    valve_open: bool = True,
    pan_change: One[PanChange] | None = None,
    pickup: PickUp | None = None,
    accuracy: One[Accuracy] = 1e-4,
    progress: Progress | None = None,
    **conditions: Conditions,
) -> Lap:
    """Drive a log: the pan tilts, the pick-up starves, the pump fades, the vessel gives and is filled again.

    valve_open: False shuts the vessel off, which is the same as having none. pan_change: oil more or less than the
    pan's full mark before the start, vessel full; what is on its way back from the bearings is missing from the pan.
    conditions: those of `oilkit.physics.discharging.CONDITIONS`, one value each; speed, pressure and pump_decay come
    from the log. The lap begins with the vessel settled at the pressure of the first sample. progress: told the share
    that is done. Raises `InputError`, also where the pressure rises above the vessel's rating. Source: `surface_tilt`,
    and first principles as in `oilkit.physics.dynamics`.

    >>> from oilkit import engines, fittings, hoses, kit_lap, lubricants, vessels, SupplyLine
    >>> line = SupplyLine(hoses()["trade_12"], Q(6, "ft"), (fittings()["reduced_valve"], fittings()["port"]))
    >>> built = Installation(engines()["street_v8"], lubricants()["street"], vessels()["bench"], line)
    >>> shut, opened = (simulate_lap(built, kit_lap(), valve, Q(-1, "qt")) for valve in (False, True))
    >>> print(f"{shut.time_below:.1f~} below the limit; with the vessel {opened.time_below:.1f~}")
    10.4 s below the limit; with the vessel 0.0 s
    """
    from oilkit.physics import dynamics

    for name in ("speed", "pressure", "pump_decay"):
        if name in conditions:
            raise InputError("condition", repr(name), "others: this one comes from the log")
    if shape := np.broadcast_shapes(*map(np.shape, conditions.values())):
        raise InputError("conditions", f"conditions of shape {shape}", "one value each")
    place, si = (pickup or PickUp()).si, log.si
    engine, oil = installation.engine, installation.oil
    usual = {name: value[0] for name, value in usual_si().items()} | conditions
    hot = usual["sump_temperature"], usual["clearance_change"]
    start = operating_point.si(engine, oil, si["rpm"][0], *hot).gallery_pressure.m_as(GAUGE.si)
    if start <= 0.0:
        raise InputError(
            "log, rpm", "an engine that stands still at the first sample", "a log that begins with it running"
        )
    numbers, _ = _conditions({**conditions, "pressure": start}, installation)
    cases, starts = cases_of(installation, numbers)
    case, state = cases[0], starts[0]
    pan = engine.pan.si
    at_full = float(pan_volume.si(pan.full_height, pan.sump_area, pan.sump_depth, pan.upper_area))
    more = 0.0 if pan_change is None else pan_change
    drinks = engine_demand.si(engine, oil, start, float(np.median(si["rpm"])), *hot).total
    held = at_full + more - float(drinks.m_as("m**3/s")) * engine.si.drain_time
    if held <= 0.0:
        raise InputError("pan_change", PAN_CHANGE.exact_text(more), "a pan with some oil left in it at speed")
    for key, value in {
        "FROM_PAN": 1.0, "PAN_OIL": held, "SUMP_AREA": pan.sump_area, "SUMP_DEPTH": pan.sump_depth,
        "UPPER_AREA": pan.upper_area, "PICKUP": pan.pickup_height, "BAND": place.band,
        "LOSE": place.loses, "REGAIN": place.regains,
    }.items():  # fmt: skip
        case[getattr(dynamics, key)] = value
    time = si["time"]
    table = np.zeros((dynamics.INPUTS, time.size))
    table[dynamics.SPEED] = si["rpm"]
    table[dynamics.TILT] = surface_tilt.si(log, pickup)
    table[dynamics.OPENING] = float(valve_open)
    state[dynamics.S] = float(dynamics.pan_supply(held, table[dynamics.TILT, 0], case))
    rows: list[Any] = []
    missing = 0.0
    lowest, first_volume = math.inf, state[dynamics.V]
    for first in range(0, time.size - 1, CHUNK):
        part = slice(first, min(first + CHUNK, time.size - 1) + 1)
        case[dynamics.PAN_OIL] = held + (state[dynamics.V] - first_volume)
        result, followed = dynamics.one(
            case, time[part], np.ascontiguousarray(table[:, part]), state, accuracy, time[part]
        )
        lowest = min(lowest, float(result[dynamics.LOWEST]))
        sums = followed[:, dynamics.N] - followed[:, dynamics.N + 1] - followed[:, dynamics.N + 2]
        total = followed[:, dynamics.V] + sums - case[dynamics.COMPLIANCE] * followed[:, dynamics.P]
        missing = max(missing, float(np.max(np.abs(total - total[0]))) / case[dynamics.GAS_VOLUME])
        state = followed[-1, : dynamics.N].copy()
        rows.append(followed if not rows else followed[1:])
        if progress:
            progress(float(time[part][-1] / time[-1]))
    went = np.concatenate(rows)
    volume, pressure, limit = went[:, dynamics.V], went[:, dynamics.P], numbers["limit"][0]
    if valve_open:
        check_rated(installation.vessel, "pressure in the lap", pressure)
    return Lap(
        time=log.time,
        distance=log.distance,
        gallery_pressure=GAUGE.quantity(pressure),
        supply=went[:, dynamics.S],
        oil=OIL.quantity(case[dynamics.GAS_VOLUME] - volume),
        line_flow=Q(went[:, dynamics.Q], "m**3/s").to("gpm"),
        pan=OIL.quantity(held + volume - first_volume),
        limit=GAUGE.quantity(limit),
        lowest_pressure=GAUGE.quantity(lowest),
        time_below=Q(_time_below(time, limit - pressure, 0.0, float(time[-1])), "s"),
        longest_below=Q(_longest(time, pressure < limit), "s"),
        oil_left=OIL.quantity(float(case[dynamics.GAS_VOLUME] - volume[-1])),
        oil_missing=missing,
    )


def _longest(time: Any, bad: Any) -> float:
    """The longest run of bad samples, from its first to the one after its last."""
    edge = np.diff(np.concatenate([[False], bad, [False]]).astype(int))
    first, after = np.flatnonzero(edge == 1), np.minimum(np.flatnonzero(edge == -1), time.size - 1)
    return float(np.max(time[after] - time[first], initial=0.0))


@dataclass(frozen=True)
class CornerCompared:
    """One corner, valve shut and valve open: see `compare_laps`."""

    corner: Corner
    below_shut: Qty
    below_open: Qty
    """From this corner's beginning to the next one's."""
    oil_given: Qty
    """Out of the vessel at most, since the corner's beginning."""
    refill: Qty
    """Time from then until the vessel holds as much as at the corner's beginning, less 5 %; infinite if the next corner
    comes first."""


@public
def compare_laps(log: Log, shut: Lap, opened: Lap) -> list[CornerCompared]:
    """Two laps on the same log, corner by corner. Source: first principles (times below, amounts of oil)."""
    found = corners(log)
    time, oil = opened.time.m_as("s"), opened.oil.m_as("m**3")
    ends = [*(c.start for c in found[1:]), Q(float(time[-1]), "s")]
    compared = []
    for corner, end in zip(found, ends, strict=True):
        inside = (time >= corner.start.m_as("s")) & (time <= end.m_as("s"))
        held, moments = oil[inside], time[inside]
        low = int(np.argmin(held))
        back = np.flatnonzero(held[low:] >= held[0] - 0.05 * (held[0] - held[low]))
        compared.append(
            CornerCompared(
                corner=corner,
                below_shut=shut.between(corner.start, end),
                below_open=opened.between(corner.start, end),
                oil_given=OIL.quantity(float(held[0] - held[low])),
                refill=Q(float(moments[low + back[0]] - moments[low]) if back.size else math.inf, "s"),
            )
        )
    return compared


@dataclass(frozen=True)
class Starved:
    """A stretch in which measured pressure stood well below what a full pump gives: see `starved_stretches`."""

    start: Qty
    end: Qty
    at: Qty
    """Distance at its beginning."""
    lowest: Qty
    expected: Qty
    """What a full pump would have given at the lowest point."""


@public
def expected_pressure(
    installation: Installation,
    log: Log,
    sump_temperature: One[Temperature] | None = None,
    clearance_change: One[ClearanceChange] | None = None,
) -> Gauge:
    """What a full pump gives at each sample's engine speed: shape (n,). Source: `operating_point`."""
    turning = log.si["rpm"]
    grid = np.linspace(0.0, float(np.max(turning)) + 1e-9, 120)
    sump = usual_si()["sump_temperature"][0] if sump_temperature is None else sump_temperature
    settled = operating_point.si(installation.engine, installation.oil, grid, sump, clearance_change)
    return np.interp(turning, grid, settled.gallery_pressure.m_as(GAUGE.si))


@public
def starved_stretches(
    log: Log, expected: Own[Gauge], share: One[Fraction] = 0.7, shortest: One[Time] | None = None
) -> list[Starved]:
    """Where the pick-up starved, from measured oil pressure: where it stood below a share of what a full pump gives.

    expected: of `expected_pressure`, shape (n,). share: 0.7 leaves room for wear, gauge and thinner oil (estimate, no
    source). shortest: a shorter stretch does not count, 0.1 s unless given. Raises `InputError` for a log without
    pressure. Source: first principles (below its relief valve a pump shows what it pours).
    """
    if log.pressure is None:
        raise InputError("log", "no measured oil pressure", "a log with a column for pressure")
    least = 0.1 if shortest is None else shortest
    time, distance, pressure = log.si["time"], log.distance.m_as("m"), log.si["pressure"]
    edge = np.diff(np.concatenate([[False], pressure < share * expected, [False]]).astype(int))
    found = []
    for first, after in zip(np.flatnonzero(edge == 1), np.flatnonzero(edge == -1), strict=True):
        low = first + int(np.argmin(pressure[first:after]))
        last = min(int(after), time.size - 1)
        if time[last] - time[first] >= least:
            found.append(
                Starved(
                    start=Q(float(time[first]), "s"),
                    end=Q(float(time[last]), "s"),
                    at=Q(float(distance[first]), "m"),
                    lowest=GAUGE.quantity(float(pressure[low])),
                    expected=GAUGE.quantity(float(expected[low])),
                )
            )
    return found


# --------------------------------------------------------------------------------------------- pre-charge for real


@dataclass(frozen=True)
class PrechargeMap:
    """Lowest pressure over pre-charge and event length, and protected time over pre-charge: see `precharge_map`."""

    precharge: Qty
    """Shape (m,)."""
    event: Qty
    """Shape (k,)."""
    lowest_pressure: Qty = field(repr=False)
    """In an event of that length: shape (k, m)."""
    protected_time: Qty = field(repr=False)
    """Shape (m,); infinite where it is longer than the longest event."""
    best: Qty = field(repr=False)
    """For each event the pre-charge of the list with the highest lowest pressure: shape (k,)."""


@public
def precharge_map(
    installation: Installation,
    precharge: Own[Gauge],
    event: Own[Duration],
    accuracy: One[Accuracy] = 1e-4,
    **conditions: Conditions,
) -> PrechargeMap:
    """Lowest gallery pressure in events of many lengths, over many pre-charges, with the ridge of the best.

    precharge: rising, shape (m,), meant at working temperature; event: lengths, rising, shape (k,). conditions: as in
    `discharge`, one value each. Every length is read from one run for each pre-charge: the lowest pressure so far.
    Raises `InputError`. Source: as `discharge`.

    >>> from oilkit import engines, fittings, hoses, lubricants, vessels, SupplyLine
    >>> line = SupplyLine(hoses()["trade_12"], Q(6, "ft"), (fittings()["reduced_valve"], fittings()["port"]))
    >>> built = Installation(engines()["street_v8"], lubricants()["street"], vessels()["bench"], line)
    >>> found = precharge_map(built, Q([5, 10, 20, 30, 40], "psig"), Q([2, 6], "s"))
    >>> print(f"{found.best:.0f~}")
    [40 30] psig
    """
    from oilkit.physics import dynamics

    charges, lengths = precharge, event
    for name, values in (("precharge", charges), ("event", lengths)):
        if np.ndim(values) != 1 or values.size < 2 or np.any(np.diff(values) <= 0.0):
            raise InputError(name, f"{np.size(values)} values that do not all rise", "two or more that rise")
    numbers, _ = _conditions({**conditions, "precharge": charges}, installation)
    cases, starts = cases_of(installation, numbers)
    longest = float(lengths[-1])
    times, tables = pump_lets_go(numbers, longest)
    moments = np.union1d(np.concatenate([np.linspace(0.0, min(1.0, longest), 101), lengths]), times[0])
    lowest, protected = np.empty((lengths.size, charges.size)), np.empty(charges.size)
    for k in range(charges.size):
        result, followed = dynamics.one(cases[k], times[k], tables[k], starts[k], accuracy, moments)
        so_far = np.minimum.accumulate(followed[:, dynamics.P])
        lowest[:, k] = so_far[np.searchsorted(moments, lengths)]
        protected[k] = result[dynamics.PROTECTED]
    return PrechargeMap(
        precharge=GAUGE.quantity(charges),
        event=TIME.quantity(lengths),
        lowest_pressure=GAUGE.quantity(lowest),
        protected_time=TIME.quantity(protected),
        best=GAUGE.quantity(charges[np.argmax(lowest, axis=1)]),
    )


@public
def highest_for_prelube(
    gas_volume: Volume, pressure: GaugeAboveZero, demand: Oil, ambient: Ambient = STANDARD_ATMOSPHERE
) -> Gauge:
    """The highest pre-charge with which a vessel settled at a pressure still holds the oil that a pre-lube wants.

    Boyle: stored = V0 (1 - p0 / p1), absolute. Cooling overnight is left out (lesson 08). Below 0: even an empty gas
    side would hold less. Shapes broadcast. Source: first principles.

    >>> print(f"{highest_for_prelube(Q(3, 'qt'), Q(60, 'psig'), Q(1.5, 'qt')):.1f~}")
    22.7 psig
    """
    return (pressure + ambient) * (1.0 - demand / gas_volume) - ambient


@dataclass(frozen=True)
class RobustChoice:
    """Share of all draws that a pre-charge protects: see `robust_choice`."""

    precharge: Qty
    """Shape (m,)."""
    share: Any
    """Protected from the event's beginning to its end: shape (m,)."""
    lowest_pressure: Qty = field(repr=False)
    """In the one expected event, without any spread: shape (m,)."""
    best: Qty
    """The pre-charge of the list that protects most draws; of several, the middle one."""
    best_share: float
    needle: Qty
    """The pre-charge with the highest pressure in the one expected event, which knows no spread."""
    needle_share: float


@public
def robust_choice(
    installation: Installation,
    precharge: Own[Gauge],
    event: One[Duration],
    event_spread: One[Fraction] = 0.2,
    clearance_spread: One[ClearanceSpread] | None = None,
    temperature_spread: One[TemperatureRise] | None = None,
    draws: Draws = 60,
    seed: Seed = 7,
    accuracy: One[Accuracy] = 1e-3,
    **conditions: Conditions,
) -> RobustChoice:
    """How many of many possible cars and corners each pre-charge protects.

    Drawn with a seed, the same for every pre-charge: event length (log-normal about ``event``, one standard deviation
    of ``event_spread``), clearance of mains and rods and oil temperature (normal about the conditions' values; 0.3 thou
    and 8 K unless given; never beyond 2.5 standard deviations). Raises `InputError`.
    Source: `discharge`; the spreads are yours to know (estimates, no source).
    """
    charges, length = precharge, event
    if np.ndim(charges) != 1 or charges.size < 2:
        raise InputError("precharge", f"{np.size(charges)} values", "two or more")
    loose = 0.3 * 2.54e-5 if clearance_spread is None else clearance_spread
    warm = 8.0 if temperature_spread is None else temperature_spread
    dice = np.clip(np.random.default_rng(seed).standard_normal((3, draws)), -2.5, 2.5)
    lengths = length * np.exp(event_spread * dice[0])
    numbers, shape = _conditions(conditions, installation)
    if shape:
        raise InputError("conditions", f"conditions of shape {shape}", "one value each")
    checked("clearance_change", numbers["clearance_change"] + loose * dice[1], CLEARANCE_CHANGE)
    checked("sump_temperature", numbers["sump_temperature"] + warm * dice[2], WORKING_TEMPERATURE)
    run = discharge.si(
        installation,
        float(np.max(lengths)) + 2.0 * numbers["tolerance"][0],  # an end shows only after it
        accuracy=accuracy,
        **{
            **conditions,
            "precharge": charges[:, None],
            "clearance_change": numbers["clearance_change"][0] + loose * dice[1],
            "sump_temperature": numbers["sump_temperature"][0] + warm * dice[2],
        },
    )
    share = np.mean(run.protected_time.m_as("s") >= lengths, axis=1)
    single = precharge_map.si(installation, charges, np.array([0.5 * length, length]), **conditions)
    lowest = single.lowest_pressure.m_as(GAUGE.si)[1]
    needle = int(np.argmax(lowest))
    tops = np.flatnonzero(share >= np.max(share) - 1e-12)
    best = int(tops[tops.size // 2])
    return RobustChoice(
        precharge=GAUGE.quantity(charges),
        share=share,
        lowest_pressure=GAUGE.quantity(lowest),
        best=GAUGE.quantity(float(charges[best])),
        best_share=float(share[best]),
        needle=GAUGE.quantity(float(charges[needle])),
        needle_share=float(share[needle]),
    )


@public
def usual_installation(engine: str = "street_v8", vessel: str = "bench") -> Installation:
    """The lessons' own installation, all invented: 6 ft of 3/4 in hose, a reduced valve, a port. By short names."""
    from oilkit.physics.catalog import engines, fittings, hoses, lubricants, vessels
    from oilkit.physics.line import SupplyLine

    line = SupplyLine(hoses()["trade_12"], Q(6, "ft"), (fittings()["reduced_valve"], fittings()["port"]))
    return Installation(engines()[engine], lubricants()["street"], vessels()[vessel], line)
