"""Measure your engine rather than its drawing: from two simple tests back to what it takes. (Lesson 05)

A clearance enters a calculation with its cube, so a drawing is a poor witness. The pump and the vessel are better ones:
what they give, the engine takes. Each answer comes with the interval in which it lies 95 times in 100, by drawing every
reading's error some thousand times (JCGM 101:2008, propagation of distributions, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from oilkit.errors import InputError
from oilkit.physics.pressure import STANDARD_ATMOSPHERE
from oilkit.physics.pump import RATED_VISCOSITY, Pump, delivered
from oilkit.physics.vessel import gas_absolute
from oilkit.quantities.checked import (
    Ambient,
    Drop,
    DynamicViscosity,
    Fraction,
    Gauge,
    One,
    Own,
    Seed,
    Speed,
    Time,
    Volume,
    public,
)
from oilkit.quantities.kinds import GAUGE, SPEED, THROUGH_FLOW, TIME, one_to_si, refuse
from oilkit.quantities.units import Q, Qty

NINETEEN_IN_TWENTY = 1.959964
"""Standard errors on either side that hold 95 in 100 of a normal spread."""
DRAWS = 4000
NOTHING = Q(0, "psi")
USUAL_TACHOMETER_ERROR = Q(50, "rpm")
USUAL_GAUGE_ERROR = Q(1.5, "psi")
USUAL_READING_ERROR = Q(0.3, "psi")
USUAL_CLOCK_ERROR = Q(0.2, "s")
"""Largest errors of ordinary shop instruments, either way (estimates, no source). State your own."""
FLOW_LAW = (0.5, 1.0)
"""Flow goes with pressure to a power between these: 0.5 through holes, 1 through clearances."""
STOPPED_LAW = (0.5, 1.5)
"""The same in a fall: through jets that have valves, the flow rises faster than pressure soon after they open."""
CLEAR_BEND = 4.0
"""Standard errors by which the slope must change at a kink. Tried at 400 places, mere scatter often shows two."""


@dataclass(frozen=True)
class MeasuredDemand:
    """What a real engine takes, with the interval that holds the truth 95 times in 100."""

    flow: Qty
    lowest: Qty
    highest: Qty
    at_pressure: Qty
    """Gallery pressure, as read, to which the flow belongs."""


@dataclass(frozen=True)
class Knee:
    """Where oil pressure stops rising with speed: see `pressure_knee`."""

    speed: Qty
    speed_error: Qty
    """One standard error, from the scatter of the readings."""
    pressure: Qty
    """Gauge, as read at the knee."""
    fitted: Qty | None = field(default=None, repr=False, compare=False)
    """Shape (n,): pressure of the fitted curve at each reading's speed, in the order of the readings."""


@public
def pressure_knee(speed: Own[Speed], pressure: Own[Gauge]) -> Knee:
    """Speed at which the relief valve opens: the kink in readings of pressure against speed, hot.

    Fits a curve that bends up to the kink and a straight line after it, by least squares, for every kink between the
    third and the last but two readings, and takes the best. A gauge that reads wrong by the same everywhere does not
    move the kink.

    speed, pressure: shape (n,), at least 8 readings, speeds all different, from about two thirds of the kink's speed to
    half as much again: farther down, jets that open make a kink of their own. Raises `InputError` for readings that
    show no kink. Source: first principles (least squares).

    >>> rpm = Q([1000, 1250, 1500, 1750, 2000, 2250, 2500, 2750, 3000], "rpm")
    >>> knee = pressure_knee(rpm, Q([25, 31, 37, 43, 49, 51.5, 52, 52.5, 53], "psig"))
    >>> print(f"{knee.speed:.0f~}, {knee.pressure:.0f~}")
    2091 rpm, 51 psig
    """
    n, p = speed, pressure
    if np.ndim(n) != 1 or np.shape(n) != np.shape(p) or np.size(n) < 8 or len(np.unique(n)) < np.size(n):
        raise InputError(
            "speed", f"{np.size(n)} speeds and {np.size(p)} pressures", "8 or more of each, at different speeds"
        )
    order = np.argsort(n)
    n, p = n[order], p[order]
    scale = n[-1] - n[0]

    def columns(kink: Any) -> Any:
        below, above = np.minimum(n - kink, 0.0) / scale, np.maximum(n - kink, 0.0) / scale
        return np.stack([np.ones_like(below), below, below**2, above], axis=-1)

    kinks = np.linspace(n[2], n[-3], 400)
    directions, _ = np.linalg.qr(columns(kinks[:, None]))
    missed = p - np.einsum("kij,klj,l->ki", directions, directions, p)
    kink = float(kinks[int(np.argmin(np.sum(missed**2, axis=1)))])
    fitted, *_ = np.linalg.lstsq(columns(kink), p, rcond=None)
    at_kink, before, _, after = fitted
    slope = np.where(n < kink, -before, -after) / scale
    jacobian = np.column_stack([columns(kink), slope])
    spread = float(np.sum((p - columns(kink) @ fitted) ** 2)) / (len(n) - 5)
    errors = spread * np.linalg.pinv(jacobian.T @ jacobian)
    bend_error = np.sqrt(max(errors[1, 1] + errors[3, 3] - 2.0 * errors[1, 3], 0.0))  # rounding can go below
    if before <= 0.0 or before - after <= CLEAR_BEND * bend_error + 1e-9 * np.max(np.abs(p)):
        wanted = "readings from well below to well above a kink, with little scatter"
        raise InputError("pressure", "readings that show no clear kink", wanted)
    return Knee(
        speed=SPEED.quantity(kink),
        speed_error=SPEED.quantity(float(np.sqrt(errors[-1, -1]))),
        pressure=GAUGE.quantity(float(at_kink)),
        fitted=GAUGE.quantity((columns(kink) @ fitted)[np.argsort(order)]),
    )


@public
def demand_at_relief(
    knee: Knee,
    pump: Pump,
    efficiency_error: One[Fraction] = 0.05,
    displacement_error: One[Fraction] = 0.02,
    speed_error: One[Speed] = USUAL_TACHOMETER_ERROR,
    gauge_error: One[Drop] = USUAL_GAUGE_ERROR,
    dynamic_viscosity: One[DynamicViscosity] = RATED_VISCOSITY,
    before_gauge: One[Drop] = NOTHING,
    seed: Seed = 1,
) -> MeasuredDemand:
    """What the hot running engine takes where its relief valve just opens: all that the pump gives there.

    knee: from `pressure_knee`. pump: its displacement, ratio and rated efficiency, from which `pump_efficiency` makes
    the one at the knee. The errors are largest errors, either way: efficiency_error of the rated efficiency,
    displacement_error as a share, speed_error of the tachometer, gauge_error of the gauge. dynamic_viscosity: of the
    hot oil; before_gauge: what filter and cooler cost between the pump, which slips against it, and the gauge.
    Raises `InputError`.
    Source: first principles (what flows in flows out; at that speed the valve still lets nothing go).

    >>> from oilkit import engines
    >>> knee = Knee(Q(2000, "rpm"), Q(30, "rpm"), Q(58, "psig"))
    >>> found = demand_at_relief(knee, engines()["street_v8"].pump)
    >>> print(f"{found.flow:.2f~}, {found.lowest:.2f~} to {found.highest:.2f~}")
    4.29 gpm, 3.76 gpm to 4.83 gpm
    """
    speed, scatter = one_to_si("knee", knee.speed, SPEED), one_to_si("knee", knee.speed_error, SPEED)
    gauge = one_to_si("knee", knee.pressure, GAUGE)
    size, ratio, eta = pump.si.displacement, pump.si.ratio, pump.si.efficiency
    dice = np.random.default_rng(seed)
    turning = speed + scatter * dice.standard_normal(DRAWS) + _either_way(dice, speed_error)
    sizes = size * (1.0 + _either_way(dice, displacement_error))
    rated = np.minimum(eta + _either_way(dice, efficiency_error), 1.0)
    against = gauge + before_gauge
    given = delivered(sizes, ratio, rated, turning, against, dynamic_viscosity)
    expected = float(delivered(size, ratio, eta, speed, against, dynamic_viscosity))
    return _interval(expected, given * _read_as(dice, gauge, gauge_error), gauge)


@public
def demand_from_fall(
    gas_volume: One[Volume],
    precharge: One[Gauge],
    settled_before: One[Gauge],
    settled_after: One[Gauge],
    open_for: One[Time],
    gallery_start: One[Gauge],
    gallery_end: One[Gauge],
    gauge_error: One[Drop] = USUAL_GAUGE_ERROR,
    reading_error: One[Drop] = USUAL_READING_ERROR,
    time_error: One[Time] = USUAL_CLOCK_ERROR,
    volume_error: One[Fraction] = 0.02,
    ambient: One[Ambient] = STANDARD_ATMOSPHERE,
    seed: Seed = 1,
) -> MeasuredDemand:
    """What the stopped engine takes, from how far the vessel falls in a stated time.

    Engine stopped and hot, vessel full and settled: read its pressure; open the valve for some seconds, watching the
    gallery gauge at the start and at the end; shut it, wait until the gas is back at the wall's temperature, and read
    again. The two *settled* readings give the oil that left by Boyle's law alone, however fast it went.

    gas_volume, precharge: of the vessel, the pre-charge at its present temperature. settled_before, settled_after:
    gauge, on one gauge. open_for: above 0. gallery_start, gallery_end: gauge, above 0; oil over time belongs to their
    mean over time, which lies below halfway because pressure falls fastest at the start. It hardly depends on the flow
    law if the end is above half the start, and 10 psi (0.7 bar) above the opening of jets that have valves: with these
    shut it is another engine. The errors are largest errors, either way: gauge_error the same in all readings of a
    gauge (two gauges), reading_error of each reading, time_error, volume_error as a share.
    Raises `InputError` for pressures that do not fall.
    Source: first principles (Boyle's law; oil over time; `mean_over_time`).

    >>> fall = demand_from_fall(*(Q(x, u) for x, u in (
    ...     (3, "qt"), (10, "psig"), (60, "psig"), (40, "psig"), (6, "s"), (55, "psig"), (32, "psig"))))
    >>> print(f"{fall.flow:.2f~}, {fall.lowest:.2f~} to {fall.highest:.2f~}, at {fall.at_pressure:.0f~}")
    0.91 gpm, 0.85 gpm to 0.98 gpm, at 41 psig
    """
    room, seconds, charge, air = gas_volume, open_for, precharge, ambient
    before, after, start, end = settled_before, settled_after, gallery_start, gallery_end
    _check_fall(charge, before, after, start, end, air)
    if not time_error < seconds:
        least = f"more than the clock's error, {TIME.exact_text(time_error)}"
        raise InputError("open_for", TIME.exact_text(seconds), least)

    def flow(v: Any, p0: Any, p1: Any, p2: Any, t: Any) -> Any:
        return v * (p0 + air) * (1.0 / (p2 + air) - 1.0 / (p1 + air)) / t

    dice = np.random.default_rng(seed)
    offset = _either_way(dice, gauge_error)
    charge_drawn, before_drawn, after_drawn = (
        reading + offset + _either_way(dice, reading_error) for reading in (charge, before, after)
    )
    room_drawn, seconds_drawn = room * (1.0 + _either_way(dice, volume_error)), seconds + _either_way(dice, time_error)
    drawn = flow(room_drawn, charge_drawn, before_drawn, after_drawn, seconds_drawn)
    mean = float(mean_over_time(start, end, air, 1.0))
    offset, law = _either_way(dice, gauge_error), dice.uniform(*STOPPED_LAW, DRAWS)
    start_drawn, end_drawn = (
        np.maximum(reading + offset + _either_way(dice, reading_error), 0.05 * reading) for reading in (start, end)
    )
    read_as = (mean / mean_over_time(start_drawn, end_drawn, air, law)) ** law
    return _interval(flow(room, charge, before, after, seconds), drawn * read_as, mean)


def _check_fall(charge: float, before: float, after: float, start: float, end: float, air: float) -> None:
    """Raise `InputError` for pressures that do not fall, or a pre-charge that is none."""
    gas_absolute("precharge", charge, air)  # refuses a vacuum
    for name, high, low in (
        ("settled_after", before, after),
        ("gallery_end", start, end),
        ("precharge", after, charge),
    ):
        refuse(not low < high, name, low, high, GAUGE, "less than {}")
    if end <= 0.0:
        raise InputError("gallery_end", GAUGE.exact_text(end), f"more than {GAUGE.exact_text(0.0)}")


def mean_over_time(start: Any, end: Any, ambient: Any, law: Any) -> Any:
    """The one gallery pressure at which an engine takes, all the time, what it took on average in a fall. SI, gauge.

    The flow goes with the pressure to the power ``law``, so a bit of oil dV takes ``dV / p**law``, and the pressure
    wanted is ``mean(p**-law) ** (-1 / law)``, the mean taken over the oil. As the oil leaves, absolute pressure falls
    as Boyle has it: 1/p in proportion. Shapes broadcast. Source: first principles.

    >>> print(f"{mean_over_time(3.0, 1.0, 1.0, 1.0):.3f}")  # halfway would be 2
    1.608
    """
    nodes, weights = np.polynomial.legendre.leggauss(8)
    gone = (nodes + 1.0) / 2.0
    start, end, ambient, law = (np.asarray(number)[..., None] for number in (start, end, ambient, law))
    pressure = 1.0 / ((1.0 - gone) / (start + ambient) + gone / (end + ambient)) - ambient
    return (np.sum(weights / 2.0 * pressure**-law, axis=-1, keepdims=True) ** (-1.0 / law))[..., 0]


def _either_way(dice: np.random.Generator, largest: float) -> Any:
    return dice.uniform(-largest, largest, DRAWS)


def _read_as(dice: np.random.Generator, gauge: float, largest: float) -> Any:
    """By how much a flow at the true pressure differs from the flow at the pressure that a gauge reads."""
    true = np.maximum(gauge + _either_way(dice, largest), 0.05 * gauge)
    return (gauge / true) ** dice.uniform(*FLOW_LAW, DRAWS)


def _interval(best: float, drawn: Any, gauge: float) -> MeasuredDemand:
    low, high = np.quantile(np.maximum(drawn, 0.0), [0.025, 0.975])  # an engine gives no oil back
    flow, lowest, highest = (THROUGH_FLOW.quantity(float(si)) for si in (best, low, high))
    return MeasuredDemand(flow, lowest, highest, GAUGE.quantity(gauge))
