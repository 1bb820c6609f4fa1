"""Choosing a pre-charge: over a map, for a pre-lube, and with everything that nobody knows exactly. (Lesson 07)"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from oilkit.errors import InputError
from oilkit.physics.discharging import (
    Conditions,
    Installation,
    cases_of,
    check_tee,
    discharge,
    every_condition,
    flat,
    pump_lets_go,
    usual_si,
)
from oilkit.physics.measure import NINETEEN_IN_TWENTY
from oilkit.physics.pressure import STANDARD_ATMOSPHERE
from oilkit.physics.settling import settled_pressure
from oilkit.physics.vessel import check_rated
from oilkit.quantities.checked import (
    Accuracy,
    Ambient,
    ClearanceSpread,
    Draws,
    Duration,
    Fraction,
    Gauge,
    GaugeAboveZero,
    Oil,
    One,
    Own,
    Seed,
    TemperatureRise,
    Volume,
    public,
)
from oilkit.quantities.kinds import CLEARANCE_CHANGE, GAUGE, TIME, WORKING_TEMPERATURE, checked
from oilkit.quantities.units import Qty


@dataclass(frozen=True)
class PrechargeMap:
    """Lowest pressure over pre-charge and event length, and protected time over pre-charge: see `precharge_map`."""

    precharge: Qty
    """Shape (m,)."""
    event: Qty
    """Shape (k,)."""
    pressure: Qty
    """At which every event begins."""
    lowest_pressure: Qty = field(repr=False)
    """In an event of that length: shape (k, m)."""
    protected_time: Qty = field(repr=False)
    """Shape (m,); infinite where it is longer than the longest event."""
    best: Qty = field(repr=False)
    """For each event the pre-charge of the list with the highest lowest pressure: shape (k,)."""


def running(installation: Installation, conditions: dict[str, Any]) -> dict[str, Any]:
    """Conditions with the gallery pressure at which pump and engine agree there, unless one is given. SI.

    Raises `InputError` where that is above the vessel's rating.
    """
    if "pressure" in conditions:
        return conditions
    c = {name: value[0] for name, value in usual_si().items()} | conditions
    drinks = c["sump_temperature"], c["clearance_change"]
    pressure = settled_pressure(installation.engine, installation.oil, c["speed"], *drinks)
    check_rated(installation.vessel, "pressure of the running engine", pressure)
    return {**conditions, "pressure": pressure}


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
    `discharge`, one value each; but the pressure at the start is that of `operating_point` there, unless you give one.
    Every length is read from one run for each pre-charge: the lowest pressure so far. Raises `InputError`.
    Source: as `discharge`.

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
    given = running(installation, {**conditions, "precharge": charges})
    numbers = flat(every_condition(given, installation.vessel)[0])
    check_tee(installation, numbers)
    cases, starts = cases_of(installation, numbers)
    longest = float(lengths[-1])
    times, tables = pump_lets_go(numbers, longest)
    early = [np.linspace(0.0, min(span, longest), 101) for span in (0.1, 1.0)]
    moments = np.union1d(np.concatenate([*early, lengths]), times[0])
    lowest, protected = np.empty((lengths.size, charges.size)), np.empty(charges.size)
    for k in range(charges.size):
        result, followed = dynamics.one(cases[k], times[k], tables[k], starts[k], accuracy, moments)
        so_far = np.minimum.accumulate(followed[:, dynamics.P])
        lowest[:, k] = so_far[np.searchsorted(moments, lengths)]
        protected[k] = result[dynamics.PROTECTED]
    return PrechargeMap(
        precharge=GAUGE.quantity(charges),
        event=TIME.quantity(lengths),
        pressure=GAUGE.quantity(float(numbers["pressure"][0])),
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


DOUBTFUL = 0.1
"""A draw whose protection ends within so many seconds of its event's end is followed again, finely: the coarse steps
were seen to err by up to 0.05 s where a vessel is nearly empty at the limit."""
FINE = 1e-7


def share_interval(share: Any, draws: int) -> tuple[Any, Any]:
    """Ends of the 95 % interval of a share that was counted in so many draws. Shapes broadcast.

    Source: Wilson, J. Am. Stat. Assoc. 22 (1927) 209, from memory.

    >>> low, high = share_interval(0.9, 60)
    >>> print(f"{low:.2f} to {high:.2f}")
    0.80 to 0.95
    """
    z2 = NINETEEN_IN_TWENTY**2 / draws
    middle, half = share + z2 / 2.0, np.sqrt(z2 * (share * (1.0 - share) + z2 / 4.0))
    return (middle - half) / (1.0 + z2), (middle + half) / (1.0 + z2)


@dataclass(frozen=True)
class RobustChoice:
    """Share of all draws that a pre-charge protects: see `robust_choice`."""

    precharge: Qty
    """Shape (m,)."""
    share: Any
    """Protected from the event's beginning to its end: shape (m,)."""
    share_low: Any
    """Lower end of each share's 95 % interval, which so many draws leave open; pre-charges share their draws, so one
    is known against another better than that. Shape (m,)."""
    share_high: Any
    lowest_pressure: Qty = field(repr=False)
    """In the one expected event, without any spread: shape (m,)."""
    best: Qty
    """The pre-charge of the list that protects most draws; of several, the middle one. With a share of 0 none helps."""
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
    """How many of many possible corners, clearances and oil temperatures each pre-charge protects.

    Each draw starts at the pressure that pump and engine make in it (`operating_point`), unless you give one: a looser
    or hotter engine fills its vessel less, and not at all where it makes less than the pre-charge. Drawn with a seed,
    the same for every pre-charge: event length (log-normal, its median ``event``, one standard deviation of
    ``event_spread``), clearance of mains and rods and oil temperature (normal about the conditions' values; 0.3 thou
    and 8 K unless given; never beyond 2.5 standard deviations). Everything else is as in ``conditions``.
    accuracy: of a first pass; draws that come within 0.1 s of their event's end are followed again at 1e-7.
    Raises `InputError`.
    Source: `discharge`; the spreads are yours to know (estimates, no source).
    """
    charges, length = precharge, event
    if np.ndim(charges) != 1 or charges.size < 2:
        raise InputError("precharge", f"{np.size(charges)} values", "two or more")
    loose = 0.3 * 2.54e-5 if clearance_spread is None else clearance_spread
    warm = 8.0 if temperature_spread is None else temperature_spread
    dice = np.clip(np.random.default_rng(seed).standard_normal((3, draws)), -2.5, 2.5)
    lengths = length * np.exp(event_spread * dice[0])
    given, shape = every_condition(running(installation, conditions), installation.vessel)
    numbers = flat(given)
    if shape:
        raise InputError("conditions", f"conditions of shape {shape}", "one value each")
    checked("clearance_change", numbers["clearance_change"] + loose * dice[1], CLEARANCE_CHANGE)
    checked("sump_temperature", numbers["sump_temperature"] + warm * dice[2], WORKING_TEMPERATURE)
    longest = float(np.max(lengths)) + DOUBTFUL + 2.0 * numbers["tolerance"][0]  # an end shows only after it

    def protected(charge: Any, which: Any, accuracy: float) -> Any:
        drawn = {
            "clearance_change": numbers["clearance_change"][0] + loose * dice[1, which],
            "sump_temperature": numbers["sump_temperature"][0] + warm * dice[2, which],
        }
        started = running(installation, {**conditions, "precharge": charge, **drawn})
        run = discharge.si(installation, longest, accuracy=accuracy, **started)
        return run.protected_time.m_as("s")

    times = protected(charges[:, None], np.arange(draws)[None, :], accuracy)
    rows, doubtful = np.nonzero(np.abs(times - lengths) < DOUBTFUL)
    if rows.size:
        times[rows, doubtful] = protected(charges[rows], doubtful, FINE)
    share = np.mean(times >= lengths, axis=1)
    single = precharge_map.si(installation, charges, np.array([0.5 * length, length]), **conditions)
    return _chosen(charges, share, single.lowest_pressure.m_as(GAUGE.si)[1], draws)


def _chosen(charges: Any, share: Any, lowest: Any, draws: int) -> RobustChoice:
    """The pre-charge that protects most draws, and the needle of the one expected event. SI, shape (m,)."""
    low, high = share_interval(share, draws)
    needle = int(np.argmax(lowest))
    tops = np.flatnonzero(share >= np.max(share) - 1e-12)
    best = int(tops[tops.size // 2])
    return RobustChoice(
        precharge=GAUGE.quantity(charges),
        share=share,
        share_low=low,
        share_high=high,
        lowest_pressure=GAUGE.quantity(lowest),
        best=GAUGE.quantity(float(charges[best])),
        best_share=float(share[best]),
        needle=GAUGE.quantity(float(charges[needle])),
        needle_share=float(share[needle]),
    )
