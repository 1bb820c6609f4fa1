"""A log corner by corner: where the oil does not lie still, what two laps do there, where it starved. (Lesson 07)"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from oilkit.errors import InputError
from oilkit.laps.lap import GRAVITY, Lap, stretches
from oilkit.laps.logfile import Log
from oilkit.physics.discharging import Installation, usual_si
from oilkit.physics.engine import operating_point
from oilkit.quantities.checked import (
    AccelerationAboveZero,
    ClearanceChange,
    Fraction,
    Gauge,
    One,
    Own,
    Temperature,
    Time,
    public,
)
from oilkit.quantities.kinds import GAUGE, OIL
from oilkit.quantities.units import Q, Qty

CORNER_FROM = 0.5
"""Accelerating sideways or braking by more than this, in g, the car is in a corner, a braking or a lift-off."""
BRAKING = 0.75
"""Losing speed by more than this, in g, takes brakes; by less, a lifted foot may be enough (chosen, no source)."""
CORNER_LEAST, CORNER_GAP = 0.4, 0.6
"""Seconds: a shorter stretch does not count, and a shorter pause does not part two."""


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
    spans: list[list[int]] = []
    for first, after in zip(*stretches(hard > threshold), strict=True):
        if spans and time[first] - time[spans[-1][1]] < CORNER_GAP:
            spans[-1][1] = after - 1
        else:
            spans.append([first, after - 1])
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
    falls_from: Qty
    """Time at which the pump began to fail: when the pressure last stood at 95 % of a full pump's, 3 s earlier at most
    (estimates, no source)."""


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


WHOLE, LONGEST_FALL = 0.95, 3.0
"""Share of a full pump's pressure that counts as whole; seconds in which a fall begins at the earliest."""


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
    found, before = [], 0.0
    whole = time[pressure >= WHOLE * expected]
    for first, after in zip(*stretches(pressure < share * expected), strict=True):
        earlier = whole[whole <= time[first]]
        falls_from = max(earlier[-1] if earlier.size else 0.0, before, time[first] - LONGEST_FALL)
        low = first + int(np.argmin(pressure[first:after]))
        last = min(int(after), time.size - 1)
        before = time[last]
        if time[last] - time[first] >= least:
            found.append(
                Starved(
                    start=Q(float(time[first]), "s"),
                    end=Q(float(time[last]), "s"),
                    at=Q(float(distance[first]), "m"),
                    lowest=GAUGE.quantity(float(pressure[low])),
                    expected=GAUGE.quantity(float(expected[low])),
                    falls_from=Q(float(min(falls_from, time[first])), "s"),
                )
            )
    return found
