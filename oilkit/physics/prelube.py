"""Pre-lube: oil before the first turn, from a vessel shut off hot and opened cold; and its electric valve. (Lesson 08)

Three steps: a night behind a shut valve (`overnight`), the morning's opening (`pre_lube`), and what the valve on the
ignition feed does besides (`coil_supply`, `stall`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from oilkit.errors import InputError
from oilkit.physics.discharging import Installation, cases_of, every_condition
from oilkit.physics.line import Fitting
from oilkit.physics.oil import Lubricant, density_of
from oilkit.physics.pressure import STANDARD_ATMOSPHERE
from oilkit.physics.vessel import Vessel, check_rated, oil_stored
from oilkit.quantities.checked import (
    Accuracy,
    Ambient,
    Bore,
    CrossSection,
    Current,
    Density,
    Drop,
    Duration,
    Factor,
    Fraction,
    Gauge,
    GaugeAboveZero,
    LineLength,
    LossAboveZero,
    Oil,
    One,
    RatedVoltage,
    Resistance,
    Temperature,
    ThroughFlow,
    Time,
    TimeConstant,
    Voltage,
    WireGauge,
    public,
)
from oilkit.quantities.kinds import (
    CURRENT,
    GAUGE,
    OIL,
    THROUGH_FLOW,
    TIME,
    VOLTAGE,
    first_where,
)
from oilkit.quantities.units import Q, Qty

COPPER = 1.7241e-8
"""Resistivity of annealed copper at 20 °C, ohm m: 1/58 ohm mm2/m (IEC 60028)."""
COPPER_PER_KELVIN = 0.00393
"""Share by which it rises per kelvin above 20 °C (IEC 60028)."""
AT_20 = 293.15
NOTHING = Q(0, "qt")
AT_ONCE = 1e-6
"""A valve that opens within so many seconds opens at once."""
WEIGHTLESS = 1e-5
"""Share of its mass that the line's oil keeps once the galleries are full, without inertia: no swing is left."""
ROOM = Q(20, "degC")
WAIT_FOR = Q(15, "psig")
BY_HAND = Q(0.5, "s")
"""How long a hand needs to open a quarter-turn valve (estimate, no source)."""
USUAL_TAU, NO_LEAK, A_MINUTE, FIVE_MINUTES = Q(5, "s"), Q(0, "gpm"), Q(60, "s"), Q(300, "s")
CONTACTS = Q(0.05, "ohm")
"""Plugs, switch, fuse and relay of a feed together (estimate, no source)."""

# ---------------------------------------------------------------------------------------------------------- the night


@dataclass(frozen=True)
class Overnight:
    """A vessel in the morning: see `overnight`. Arrays have the broadcast shape of the arguments."""

    pressure: Qty
    """Gauge, of gas and oil alike."""
    oil: Qty
    oil_before: Qty
    shrunk: Qty
    """What the oil lost by cooling alone."""
    if_only_gas_cooled: Qty = field(repr=False)
    """Pressure if the oil had kept its volume: how much of the fall is the gas's."""
    precharge: Qty = field(repr=False)
    """What the pre-charge has become at the morning's temperature."""


@public
def overnight(
    vessel: Vessel,
    oil: Lubricant,
    precharge: Gauge,
    pressure: Gauge,
    gas_temperature: Temperature,
    oil_temperature: Temperature,
    morning_temperature: Temperature,
    leaked: Oil = NOTHING,
    ambient: Ambient = STANDARD_ATMOSPHERE,
) -> Overnight:
    """A vessel shut off settled and warm, and left until gas, oil and steel have the morning's temperature.

    The oil shrinks with its density and makes room for the gas, whose mass stays: ``p V = m R T``. Both take pressure.

    precharge: gauge, with the gas at ``gas_temperature``, at or below the pressure; pressure: gauge, when the valve
    was shut; leaked: what a valve that is not tight let go, measured cold. The vessel's steel keeps its size (it
    changes 0.1 %). Shapes broadcast. Raises `InputError` for a leak of more than there was.
    Source: first principles (ideal gas of constant mass; `oilkit.density` of the oil).

    >>> from oilkit import lubricants, vessels
    >>> night = overnight(vessels()["bench"], lubricants()["street"], Q(10, "psig"), Q(60, "psig"), Q(40, "degC"),
    ...                   Q(90, "degC"), Q(5, "degC"))
    >>> print(f"{night.pressure:.1f~}, {night.oil:.2f~} of {night.oil_before:.2f~}")
    44.6 psig, 1.89 qt of 2.01 qt
    """
    for name, gauge in (("precharge", precharge), ("pressure", pressure)):
        check_rated(vessel, name, gauge)
    given = np.broadcast_arrays(
        precharge, pressure, gas_temperature, oil_temperature, morning_temperature, leaked, ambient
    )
    found = overnight_si(vessel.si.gas_volume, oil.si, *given)
    return Overnight(
        pressure=GAUGE.quantity(found["pressure"]),
        oil=OIL.quantity(found["oil"]),
        oil_before=OIL.quantity(found["oil_before"]),
        shrunk=OIL.quantity(found["shrunk"]),
        if_only_gas_cooled=GAUGE.quantity(found["if_only_gas_cooled"]),
        precharge=GAUGE.quantity(found["precharge"]),
    )


def overnight_si(
    room: Any, oil: Any, charge: Any, before: Any, warm_gas: Any, warm_oil: Any, morning: Any, lost: Any, air: Any
) -> dict[str, Any]:
    """`overnight` on SI numbers. room: the vessel's gas volume; oil: a `Lubricant`'s ``si``; pressures gauge."""
    held = oil_stored.si(room, charge, before, air)
    cold = held * density_of(oil, warm_oil) / density_of(oil, morning)
    left = cold - lost
    if np.any(left < -1e-12 * room):
        (leak, most) = first_where(left < -1e-12 * room, lost, cold)
        raise InputError("leaked", OIL.unlike(leak, most), f"no more than the {OIL.exact_text(most)} that are there")
    left = np.maximum(left, 0.0)
    ratio = (charge + air) * morning / warm_gas
    return {
        "pressure": ratio * room / (room - left) - air,
        "oil": left,
        "oil_before": np.asarray(held)[()],
        "shrunk": held - cold,
        "if_only_gas_cooled": ratio * room / (room - held) - air,
        "precharge": ratio - air,
    }


# -------------------------------------------------------------------------------------------------------- the morning


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
    """When to crank: the wanted pressure is there, or the peak has passed. Infinite if the galleries never fill."""
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
    thermal_time_constant: One[TimeConstant] = USUAL_TAU,
    leak: One[ThroughFlow] = NO_LEAK,
    duration: One[Duration] = A_MINUTE,
    ambient: One[Ambient] = STANDARD_ATMOSPHERE,
    inertia: bool = False,
    accuracy: One[Accuracy] = 1e-5,
) -> PreLube:
    """Open the valve of a cold vessel on a cold engine that stands still.

    First the oil fills the empty share of the galleries, against ambient pressure: their air leaves through bearings
    and jets, which hold back air hardly at all. Then pressure builds against the bearings, whose shafts lie on their
    shells, peaks, and falls as the vessel empties.

    installation: its line without the valve; valve: with its bore and loss, wide open after ``opening_time`` (from 0).
    precharge, pressure: gauge, in the cold vessel, as `overnight` gives them; temperature: of gas and of all the oil.
    empty: share of the galleries that drained; wanted: gallery pressure to wait for, above 0.
    leak: back past the check valve at 50 psi (3.45 bar). duration: how long to watch, above ``opening_time``.
    inertia: whether the oil in the line keeps its mass when the galleries are full. Its column then strikes them and
    the pressure swings for some hundredths of a second, faster than a gauge follows; the peak is that of the swing.
    accuracy: of each step, relative.
    Raises `InputError` for a vessel that holds no oil.
    Source: first principles; laws as in `oilkit.physics.discharging`.

    >>> from oilkit import engines, fittings, hoses, lubricants, vessels, SupplyLine
    >>> line = SupplyLine(hoses()["trade_12"], Q(6, "ft"), (fittings()["port"],))
    >>> built = Installation(engines()["street_v8"], lubricants()["street"], vessels()["bench"], line)
    >>> run = pre_lube(built, fittings()["wide_valve"], Q(7, "psig"), Q(43, "psig"), Q(5, "degC"))
    >>> print(f"peak {run.peak_pressure:.0f~}")
    peak 27 psig
    """
    from oilkit.physics import dynamics  # here, because compiled code costs time that the first lessons never need

    case, start = _made_ready(
        installation, valve, precharge, pressure, temperature, temperature, thermal_time_constant, leak, ambient
    )
    room, opening, seconds, level = case[dynamics.GAS_VOLUME], opening_time, duration, wanted
    if seconds <= opening:
        raise InputError(
            "duration", TIME.exact_text(seconds), f"more than the opening time, {TIME.exact_text(opening)}"
        )
    capacity = installation.engine.si.gallery_volume
    hollow = empty * capacity
    if start[dynamics.V] >= room:
        raise InputError("pressure", GAUGE.exact_text(pressure), "more than the pre-charge: there is no oil")
    # while the galleries are filling, what flows in raises no pressure, as if they could stretch without end
    case[dynamics.LIMIT] = level
    soft = case.copy()
    soft[dynamics.COMPLIANCE] = 1e9
    case[dynamics.INERTANCE] *= 1.0 if inertia else WEIGHTLESS
    times, table = _opening(0.0, opening, seconds)
    early = np.unique(np.concatenate([[0.0, min(opening, seconds)], np.geomspace(1e-4, seconds, 160)]))
    full = 0.0
    filling, filled = np.zeros(1), np.zeros((1, dynamics.ROWS))
    filled[0, : dynamics.N] = start
    if hollow > 0.0:
        _, followed = dynamics.one(soft, times, table, start, accuracy, early)
        full = _first(early, followed[:, dynamics.V], followed[:, dynamics.Q], start[dynamics.V] + hollow)
        end = min(full, seconds)
        filling = np.unique(np.append(np.geomspace(1e-4, 1.0, 60) * end, [0.0, end]))
        times, table = _opening(0.0, opening, end)
        _, filled = dynamics.one(soft, times, table, start, accuracy, filling)
    if math.isinf(full) or full >= seconds:
        moments, states, takes = filling, filled, np.zeros(len(filling))
        pressures, in_galleries = np.zeros(len(filling)), filled[:, dynamics.V] - start[dynamics.V]
        spent = np.zeros(len(filling))
        full, ready, peak, peaked, crank = math.inf, math.inf, 0.0, 0.0, math.inf
    else:
        begin = filled[-1, : dynamics.N].copy()
        begin[dynamics.V] = start[dynamics.V] + hollow  # to the last digit: full means full
        begin[dynamics.P] = 0.0
        after = np.concatenate([[0.0], np.geomspace(1e-5, 1.0, 240)]) * (seconds - full) + full
        after[-1] = seconds
        times, table = _opening(full, opening, seconds)
        _, fed = dynamics.one(case, times, table, begin, accuracy, after)
        p = fed[:, dynamics.P]
        takes = dynamics.engine_takes_at(p, np.zeros(len(p)), case)
        slopes = (fed[:, dynamics.Q] - takes - case[dynamics.LEAK] * np.maximum(p, 0.0)) / case[dynamics.COMPLIANCE]
        ready = _first(after, p, slopes, level)
        peak, peaked = _highest(after, p, slopes)
        crank = min(ready, peaked)
        moments = np.concatenate([filling[:-1], after])
        states = np.concatenate([filled[:-1], fed])
        pressures = np.concatenate([np.zeros(len(filling) - 1), p])
        poured_early = filled[:-1, dynamics.V] - start[dynamics.V]
        poured = hollow + case[dynamics.COMPLIANCE] * p
        in_galleries = np.concatenate([poured_early, poured])
        through = fed[:, dynamics.N + 1] + fed[:, dynamics.N + 2]
        spent = np.concatenate([np.zeros(len(filling) - 1), through])
        takes = np.concatenate([np.zeros(len(filling) - 1), takes])
    volume = states[:, dynamics.V]
    at = min(crank, moments[-1])
    oil_left = room - np.interp(at, moments, volume)
    return PreLube(
        full_after=TIME.quantity(full),
        wanted_after=TIME.quantity(ready),
        peak_pressure=GAUGE.quantity(peak),
        peak_after=TIME.quantity(peaked),
        crank_after=TIME.quantity(crank),
        oil_in_galleries=OIL.quantity(float(np.interp(at, moments, in_galleries))),
        oil_spent=OIL.quantity(float(np.interp(at, moments, spent))),
        oil_left=OIL.quantity(float(max(oil_left, 0.0))),
        history=MorningHistory(
            time=TIME.quantity(moments),
            gallery_pressure=GAUGE.quantity(pressures),
            gas_pressure=GAUGE.quantity(
                case[dynamics.GAS_CONSTANT] * states[:, dynamics.T] / volume - case[dynamics.AMBIENT]
            ),
            line_flow=THROUGH_FLOW.quantity(states[:, dynamics.Q]),
            engine_flow=THROUGH_FLOW.quantity(takes),
            oil=OIL.quantity(np.maximum(room - volume, 0.0)),
            gallery_fill=np.minimum((capacity - hollow + in_galleries) / capacity, 1.0),
            spent=OIL.quantity(spent),
            oil_missing=(volume - start[dynamics.V] - in_galleries - spent) / room,
        ),
    )


def _made_ready(
    installation: Any,
    valve: Any,
    precharge: Any,
    pressure: Any,
    oil_temperature: Any,
    gas_temperature: Any,
    tau: Any,
    leak: Any,
    ambient: Any,
) -> tuple[Any, Any]:
    """The numbers of a case with its valve, and its start with an empty gallery."""
    from oilkit.physics import dynamics

    given = {
        "precharge": precharge,
        "pressure": pressure,
        "speed": 0.0,
        "sump_temperature": oil_temperature,
        "line_temperature": oil_temperature,
        "gas_temperature": gas_temperature,
        "thermal_time_constant": tau,
        "leak": leak,
        "ambient": ambient,
    }
    c, _ = every_condition(given, installation.vessel)
    cases, starts = cases_of(installation, {name: np.ravel(value) for name, value in c.items()})
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
    thermal_time_constant: One[TimeConstant] = USUAL_TAU,
    leak: One[ThroughFlow] = NO_LEAK,
    duration: One[Duration] = FIVE_MINUTES,
    ambient: One[Ambient] = STANDARD_ATMOSPHERE,
) -> Stall:
    """The engine has stopped, the ignition is still on and holds the valve open: the vessel runs out into the pan.

    Arguments as in `pre_lube`; precharge at ``gas_temperature``. Gallery and vessel start at ``pressure``.
    Source: first principles; laws as in `oilkit.physics.discharging`.

    >>> from oilkit import engines, fittings, hoses, lubricants, vessels, SupplyLine
    >>> line = SupplyLine(hoses()["trade_12"], Q(6, "ft"), (fittings()["port"],))
    >>> built = Installation(engines()["street_v8"], lubricants()["street"], vessels()["bench"], line)
    >>> gone = stall(built, fittings()["narrow_valve"], Q(10, "psig"), Q(50, "psig"), Q(100, "degC"), Q(40, "degC"))
    >>> print(f"{gone.empty_after:.0f~}")
    25 s
    """
    from oilkit.physics import dynamics

    case, start = _made_ready(
        installation, valve, precharge, pressure, oil_temperature, gas_temperature, thermal_time_constant, leak, ambient
    )
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


# ---------------------------------------------------------------------------------------------------------- the valve


@public
def valve_flow(bore: Bore, loss_coefficient: LossAboveZero, pressure_difference: Drop, density: Density) -> ThroughFlow:
    """Flow through an open valve at a pressure difference: `oilkit.fitting_drop` the other way round.

    loss_coefficient: above 0. Good for hot, thin oil; thick oil passes less. Shapes broadcast.
    Source: definition of a loss coefficient.

    >>> print(f"{valve_flow(Q(0.375, 'in'), 2.5, Q(10, 'psi'), Q(820, 'kg/m**3')):.1f~}")
    9.3 gpm
    """
    return math.pi * bore**2 / 4.0 * np.sqrt(2.0 * pressure_difference / (loss_coefficient * density))


@public
def wire_gauge_area(gauge: WireGauge) -> CrossSection:
    """Copper cross-section of a wire by its American gauge number: ``d = 0.005 in * 92**((36 - n) / 39)``.

    gauge: the number, a plain number from -3 (4/0) to 40. Shapes broadcast. Raises `InputError`.
    Source: ASTM B258.

    >>> print(f"{wire_gauge_area(16):.2f~}")
    1.31 mm ** 2
    """
    diameter = 0.127e-3 * np.power(92.0, (36.0 - gauge) / 39.0)
    return math.pi * diameter**2 / 4.0


@public
def cable_resistance(length: LineLength, cross_section: CrossSection, temperature: Temperature = ROOM) -> Resistance:
    """Resistance of a copper conductor: ``rho L / A``, with copper's resistivity at its temperature.

    length: of the whole way that the current takes, there and back. Shapes broadcast.
    Source: Ohm's law; annealed copper 1/58 ohm mm2/m at 20 °C, 0.393 % more per kelvin (IEC 60028).

    >>> print(f"{cable_resistance(Q(10, 'm'), Q(1.5, 'mm**2')).to('ohm'):.3f~}")
    0.115 Ω
    """
    warmed = 1.0 + COPPER_PER_KELVIN * (np.asarray(temperature) - AT_20)
    return COPPER * warmed * length / cross_section


@dataclass(frozen=True)
class Wiring:
    """What arrives at a valve's coil: see `coil_supply`. Arrays have the broadcast shape of the arguments."""

    current: Qty
    coil_voltage: Qty
    cable_drop: Qty
    """Lost in the cable and its contacts."""
    needed_voltage: Qty
    """At the coil, as warm as it is, to pull the valve in."""
    pulls_in: Any
    """Whether it does."""


@public
def coil_supply(
    battery: Voltage,
    rated_voltage: RatedVoltage,
    rated_current: Current,
    cable_length: LineLength,
    cross_section: CrossSection,
    contacts: Resistance = CONTACTS,
    pick_up: Factor = 0.75,
    coil_temperature: Temperature = ROOM,
    cable_temperature: Temperature = ROOM,
) -> Wiring:
    """Current and voltage at the coil of an electric valve behind a cable, and whether it opens.

    rated_voltage, rated_current: as its maker states them, coil at 20 °C; together they are its resistance.
    cable_length: of the copper there and back; contacts: plugs, switch, fuse and relay together (estimate, no source).
    pick_up: share of the rated voltage that pulls a cold coil in, above 0 (its maker's; 0.75 is an estimate). It is the
    *current* that pulls, so a hot coil, whose copper resists more, needs more volts. Shapes broadcast.
    Source: Ohm's law; copper as in `cable_resistance`.

    >>> weak = coil_supply(Q(10, "V"), Q(12, "V"), Q(3, "A"), Q(10, "m"), Q(0.5, "mm**2"))
    >>> print(f"{weak.coil_voltage:.2f~}, needs {weak.needed_voltage:.2f~}: {weak.pulls_in}")
    9.10 V, needs 9.00 V: True
    """
    given = np.broadcast_arrays(
        battery, rated_voltage, rated_current, cable_length, cross_section, contacts, pick_up, coil_temperature,
        cable_temperature,
    )  # fmt: skip
    found = coil_si(*given)
    return Wiring(
        current=CURRENT.quantity(found["current"]),
        coil_voltage=VOLTAGE.quantity(found["volts"]),
        cable_drop=VOLTAGE.quantity(found["drop"]),
        needed_voltage=VOLTAGE.quantity(found["needed"]),
        pulls_in=found["pulls_in"],
    )


def coil_si(
    battery: Any,
    rated: Any,
    current: Any,
    length: Any,
    area: Any,
    contacts: Any,
    pick_up: Any,
    hot: Any,
    warm: Any = AT_20,
) -> dict[str, Any]:
    """`coil_supply` on SI numbers."""
    cold_coil = rated / current
    coil = cold_coil * (1.0 + COPPER_PER_KELVIN * (hot - AT_20))
    way = cable_resistance.si(length, area, warm) + contacts
    flowing = battery / (coil + way)
    needed = pick_up * rated * coil / cold_coil
    return {
        "current": flowing[()] if np.ndim(flowing) else float(flowing),
        "volts": flowing * coil,
        "drop": flowing * way,
        "way": way,
        "needed": needed,
        "pulls_in": flowing * coil >= needed,
    }
