"""A lap: from speed and g to the pick-up's supply, the vessel's oil and the gallery's pressure. (Lesson 07)

The pick-up model, all of it first principles but for numbers marked as estimates: the oil's free surface tilts by a /
g, so at a pick-up that does not stand in the middle of the pan it lies lower or higher than the mean level; over a band
of heights above the pick-up the supply goes from none to full; the pump loses its oil and wins it back with time
constants of its own. What the vessel takes in comes out of the pan, and what it gives goes back there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from oilkit.errors import InputError
from oilkit.laps.logfile import Log, Progress
from oilkit.physics.discharging import Conditions, Installation, cases_of, every_condition, flat, usual_si
from oilkit.physics.engine import engine_demand, operating_point
from oilkit.physics.pan import pan_volume
from oilkit.physics.vessel import check_rated
from oilkit.quantities.checked import Accuracy, Duration, Length, Offset, One, PanChange, public
from oilkit.quantities.kinds import GAUGE, OIL, PAN_CHANGE
from oilkit.quantities.records import Record
from oilkit.quantities.units import Q, Qty

GRAVITY = 9.80665
CHUNK = 10_000
"""Samples between two reports of progress."""
LOOK = 0.01
"""The pressure is looked at this often, s, however slow the log: so a lap's time below a limit is good to a few
milliseconds. Straight lines between the samples of the kit's own log, 50 ms apart, cut some 3 ms off each dip."""


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


@dataclass(frozen=True)
class Lap:
    """What came of a simulated lap: see `simulate_lap`. Arrays have one value for each sample of the log, but for
    ``below``."""

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
    below: Qty = field(repr=False)
    """From when to when the pressure was below the limit, between the samples too: shape (k, 2)."""
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
        begins, ends = self.below.m_as("s").T
        inside = np.minimum(ends, end.m_as("s")) - np.maximum(begins, start.m_as("s"))
        return Q(float(np.sum(np.maximum(inside, 0.0))), "s")


def times_above_zero(time: Any, value: Any) -> Any:
    """From when to when a value is above 0, straight from moment to moment: shape (k, 2)."""
    first, after = stretches(value > 0.0)

    def crossing(k: Any) -> Any:
        """Before moment k; the first moment of all, or the last, where there is none."""
        upto, before = np.minimum(k, time.size - 1), np.maximum(k - 1, 0)
        rise = value[upto] - value[before]
        share = np.divide(-value[before], rise, out=np.zeros_like(rise), where=rise != 0.0)
        return time[before] + np.where(upto > before, share, 0.0) * (time[upto] - time[before])

    return np.stack([crossing(first), crossing(after)], axis=1)


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
    11.0 s below the limit; with the vessel 0.0 s
    """
    from oilkit.physics import dynamics

    si = log.si
    case, state, held, limit = _at_the_start(installation, si["rpm"], pan_change or 0.0, pickup, conditions)
    time, first_volume = si["time"], state[dynamics.V]
    table = np.zeros((dynamics.INPUTS, time.size))
    table[dynamics.SPEED] = si["rpm"]
    table[dynamics.TILT] = surface_tilt.si(log, pickup)
    table[dynamics.OPENING] = float(valve_open)
    state[dynamics.S] = float(dynamics.pan_supply(held, table[dynamics.TILT, 0], case))
    driven = _driven(case, state, time, table, accuracy, progress)
    went, volume = driven.went, driven.went[:, dynamics.V]
    if valve_open:
        check_rated(installation.vessel, "pressure in the lap", driven.highest_gas)
    below = times_above_zero(driven.moments, limit - driven.pressure)
    lasted = below[:, 1] - below[:, 0]
    return Lap(
        time=log.time,
        distance=log.distance,
        gallery_pressure=GAUGE.quantity(went[:, dynamics.P]),
        supply=went[:, dynamics.S],
        oil=OIL.quantity(case[dynamics.GAS_VOLUME] - volume),
        line_flow=Q(went[:, dynamics.Q], "m**3/s").to("gpm"),
        pan=OIL.quantity(held + volume - first_volume),
        below=Q(below, "s"),
        limit=GAUGE.quantity(limit),
        lowest_pressure=GAUGE.quantity(driven.lowest),
        time_below=Q(float(np.sum(lasted)), "s"),
        longest_below=Q(float(np.max(lasted, initial=0.0)), "s"),
        oil_left=OIL.quantity(float(case[dynamics.GAS_VOLUME] - volume[-1])),
        oil_missing=driven.missing,
    )


def _at_the_start(
    installation: Installation, rpm: Any, more: float, pickup: PickUp | None, conditions: dict[str, Any]
) -> tuple[Any, Any, float, float]:
    """The numbers of a case with its pan, its state at the first sample, the pan's oil, and the pressure limit. SI."""
    from oilkit.physics import dynamics

    for name in ("speed", "pressure", "pump_decay"):
        if name in conditions:
            raise InputError("condition", repr(name), "others: this one comes from the log")
    if shape := np.broadcast_shapes(*map(np.shape, conditions.values())):
        raise InputError("conditions", f"conditions of shape {shape}", "one value each")
    place, engine, oil = (pickup or PickUp()).si, installation.engine, installation.oil
    usual = {name: value[0] for name, value in usual_si().items()} | conditions
    hot = usual["sump_temperature"], usual["clearance_change"]
    start = operating_point.si(engine, oil, rpm[0], *hot).gallery_pressure.m_as(GAUGE.si)
    if start <= 0.0:
        raise InputError(
            "log, rpm", "an engine that stands still at the first sample", "a log that begins with it running"
        )
    numbers = flat(every_condition({**conditions, "pressure": start}, installation.vessel)[0])
    cases, starts = cases_of(installation, numbers)
    pan = engine.pan.si
    at_full = float(pan_volume.si(pan.full_height, pan.sump_area, pan.sump_depth, pan.upper_area))
    drinks = engine_demand.si(engine, oil, start, float(np.median(rpm)), *hot).total
    held = at_full + more - float(drinks.m_as("m**3/s")) * engine.si.drain_time
    if held <= 0.0:
        raise InputError("pan_change", PAN_CHANGE.exact_text(more), "a pan with some oil left in it at speed")
    for key, value in {
        "FROM_PAN": 1.0, "PAN_OIL": held, "SUMP_AREA": pan.sump_area, "SUMP_DEPTH": pan.sump_depth,
        "UPPER_AREA": pan.upper_area, "PICKUP": pan.pickup_height, "BAND": place.band,
        "LOSE": place.loses, "REGAIN": place.regains,
    }.items():  # fmt: skip
        cases[0, getattr(dynamics, key)] = value
    return cases[0], starts[0], held, numbers["limit"][0]


@dataclass(frozen=True)
class _Driven:
    """What was followed over a lap. SI."""

    went: Any
    """State and sums, a row for each sample of the log."""
    moments: Any
    """Times from one look to the next, and those of the lowest pressures between."""
    pressure: Any
    """Of the gallery, at those times."""
    lowest: float
    highest_gas: float
    missing: float
    """How far the oil's sum strayed."""


def _driven(case: Any, state: Any, time: Any, table: Any, accuracy: float, progress: Progress | None) -> _Driven:
    """A lap from its first sample to its last, in portions."""
    from oilkit.physics import dynamics

    rows: list[Any] = []
    looks, pressures = [], []
    held, missing = case[dynamics.PAN_OIL], 0.0
    lowest, densest, first_volume = math.inf, 0.0, state[dynamics.V]
    for first in range(0, time.size - 1, CHUNK):
        part = slice(first, min(first + CHUNK, time.size - 1) + 1)
        case[dynamics.PAN_OIL] = held + (state[dynamics.V] - first_volume)
        moments, places = looked_at(time[part])
        inputs = np.ascontiguousarray(table[:, part])
        result, followed = dynamics.one(case, time[part], inputs, state, accuracy, moments)
        lowest = min(lowest, float(result[dynamics.LOWEST]))
        densest = max(densest, float(np.max(followed[:, dynamics.T] / followed[:, dynamics.V])))
        sums = followed[:, dynamics.N] - followed[:, dynamics.N + 1] - followed[:, dynamics.N + 2]
        total = followed[:, dynamics.V] + sums - case[dynamics.COMPLIANCE] * followed[:, dynamics.P]
        missing = max(missing, float(np.max(np.abs(total - total[0]))) / case[dynamics.GAS_VOLUME])
        state = followed[-1, : dynamics.N].copy()
        rows.append(followed[places[1:] if rows else places])
        at = int(np.searchsorted(moments, result[dynamics.LOWEST_AT]))  # so that no dip is too short to be seen
        looks.append(np.insert(moments, at, result[dynamics.LOWEST_AT]))
        pressures.append(np.insert(followed[:, dynamics.P], at, result[dynamics.LOWEST]))
        if progress:
            progress(float(time[part][-1] / time[-1]))
    return _Driven(
        went=np.concatenate(rows),
        moments=np.concatenate(looks),
        pressure=np.concatenate(pressures),
        lowest=lowest,
        highest_gas=case[dynamics.GAS_CONSTANT] * densest - case[dynamics.AMBIENT],
        missing=missing,
    )


def looked_at(time: Any) -> tuple[Any, Any]:
    """A log's times with enough between them that none is farther than `LOOK` from the next; and where its own are."""
    pieces = np.maximum(np.ceil(np.diff(time) / LOOK - 1e-6), 1.0).astype(int)
    places = np.concatenate([[0], np.cumsum(pieces)])
    return np.interp(np.arange(places[-1] + 1), places, time), places


def stretches(bad: Any) -> tuple[Any, Any]:
    """Of each run of bad samples its first, and the one after its last."""
    edge = np.diff(np.concatenate([[False], bad, [False]]).astype(int))
    return np.flatnonzero(edge == 1), np.flatnonzero(edge == -1)


def longest_stretch(time: Any, bad: Any) -> float:
    """Time of the longest run of bad samples, from its first to the one after its last."""
    first, after = stretches(bad)
    return float(np.max(time[np.minimum(after, time.size - 1)] - time[first], initial=0.0))


@public
def usual_installation(engine: str = "street_v8", vessel: str = "bench") -> Installation:
    """The lessons' own installation, all invented: 6 ft of 3/4 in hose, a reduced valve, a port. By short names."""
    from oilkit.physics.catalog import engines, fittings, hoses, lubricants, vessels
    from oilkit.physics.line import SupplyLine

    line = SupplyLine(hoses()["trade_12"], Q(6, "ft"), (fittings()["reduced_valve"], fittings()["port"]))
    return Installation(engines()[engine], lubricants()["street"], vessels()[vessel], line)
