"""A vessel fitted to an engine, as it really is, and what a workshop's gauges say about it. (Lesson 09)

Nothing here has physics of its own: every reading is taken from the same simulation as in the earlier lessons. A fault
is nothing but another number in the set-up's `Condition`, its valve or its installation.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Annotated, Any, Literal

import numpy as np

from oilkit.errors import InputError
from oilkit.physics.discharging import Installation, cases_of, usual_si
from oilkit.physics.line import Fitting
from oilkit.physics.oil import density_of, viscosity_of
from oilkit.physics.pan import pan_level, pan_volume
from oilkit.physics.pressure import STANDARD_ATMOSPHERE
from oilkit.physics.valve import rated_drop
from oilkit.physics.vessel import check_rated, precharge_at_temperature
from oilkit.quantities.checked import (
    Ambient,
    ClearanceChange,
    Drop,
    Fraction,
    Gauge,
    PanChange,
    PressureDifference,
    Ratio,
    Temperature,
    ThroughFlow,
    Time,
    TimeConstant,
    check_sorts,
    public,
)
from oilkit.quantities.kinds import GAUGE, LEVEL, OIL, PRESSURE_DIFFERENCE, SHARE, SPEED, TIME, Kind, Span
from oilkit.quantities.records import Record
from oilkit.quantities.units import Q, Qty

MIDDLE_SPEED = Q(3000, "rpm")
SETTLE, EARLY = 90.0, 5.0
"""Seconds that a speed is held before the gauges are read, and after which they are read early."""
FALL_WATCHED, ANSWER_WATCHED, TEN_MINUTES, COLD_OPEN, COLD_IDLE = 120.0, 20.0, 600.0, 10.0, 30.0
"""Seconds for which a fall or an answer is watched at the most, a shut vessel is left, a cold one is open;
and that a cold engine idles before its gauges are read."""
NEEDLE = float(Q(5, "psi").to("Pa").m)
"""Pressure at which a gauge's needle has clearly moved (chosen, no source)."""
OPENING = 0.1
"""Seconds in which an electric valve opens once it begins to (estimate, no source)."""


USUAL_CHARGE, SHOP, SUMP, LINE, GAS = Q(7, "psig"), Q(20, "degC"), Q(100, "degC"), Q(60, "degC"), Q(40, "degC")
TAU, FRICTION, PROMPT = Q(5, "s"), Q(1, "psi"), Q(0.1, "s")
UNCHANGED, TIGHT, AS_FILLED, TRUE = Q(0, "thou"), Q(0, "gpm"), Q(0, "qt"), Q(0, "psi")


@dataclass(frozen=True)
class Condition(Record):
    """How a set-up really is, with the numbers that no gauge shows. The usual values are those of a healthy one."""

    precharge: Gauge = USUAL_CHARGE
    """In the vessel today, gas at the shop's temperature."""
    charge_loss: Fraction = 0.003
    """Share of the gas that gets lost in a day (estimate, no source)."""
    shop_temperature: Annotated[Temperature, Span("-40 degC", "60 degC", "-60 degC", "100 degC")] = SHOP
    sump_temperature: Annotated[Temperature, Span("-40 degC", "160 degC", "-60 degC", "200 degC")] = SUMP
    line_temperature: Annotated[Temperature, Span("-40 degC", "160 degC", "-60 degC", "200 degC")] = LINE
    gas_temperature: Annotated[Temperature, Span("-40 degC", "160 degC", "-60 degC", "200 degC")] = GAS
    thermal_time_constant: TimeConstant = TAU
    ambient: Ambient = STANDARD_ATMOSPHERE
    clearance_change: ClearanceChange = UNCHANGED
    pump_share: Ratio = 1.0
    """What the pump gives, as a share of what its efficiency says."""
    oil_air: Fraction = 0.0
    """Share of gas in the oil that the pump draws."""
    air_in_gallery: Fraction = 0.05
    """Share of air in what stands between valve and bearings."""
    seal_friction: Drop = FRICTION
    check_leak: ThroughFlow = TIGHT
    """Back past the check valve at 50 psi (3.45 bar)."""
    valve_opens: Fraction = 1.0
    """How far the valve opens when it is told to; 0 not at all."""
    valve_delay: Time = PROMPT
    """From the switch to the first opening."""
    valve_feed: Literal["ignition", "battery"] = "ignition"
    """What feeds the valve: on the battery it stays open when the ignition goes off."""
    pan_change: PanChange = AS_FILLED
    """More or less oil than was to be filled in."""
    gas_gauge_off: PressureDifference = TRUE
    oil_gauge_off: PressureDifference = TRUE
    gallery_gauge_off: PressureDifference = TRUE


@dataclass(frozen=True)
class SetUp:
    """An installation with its electric valve, and how it really is."""

    installation: Installation
    """Its line without the valve."""
    valve: Fitting
    condition: Condition = field(default_factory=Condition)
    filled_for: Qty | None = None
    """Oil that was filled in for the vessel; by default what this vessel takes at the middle speed."""

    def __post_init__(self) -> None:
        check_sorts(SetUp, vars(self))

    def with_condition(self, **changes: Any) -> SetUp:
        """The same with some numbers of its `Condition` changed."""
        return replace(self, condition=self.condition.changed(**changes))

    def with_engine(self, **changes: Any) -> SetUp:
        """The same with some parts of its engine changed."""
        built = self.installation
        return replace(self, installation=replace(built, engine=replace(built.engine, **changes)))


# ------------------------------------------------------------------------------------------------------ what is read


LAMP = ("lit", "dark")
"""What a valve lamp shows; lit is 1 among numbers, dark 0."""


@dataclass(frozen=True)
class Shown:
    """One number that a shop test shows."""

    label: str
    kind: Kind | None
    """None for a lamp."""
    error: float
    """One standard error of reading it, gauge and eye together, SI (estimate, no source)."""
    most: float = math.inf
    """Where the instrument or the patience ends, SI."""


_psi = float(Q(1, "psi").to("Pa").m)
GAUGE_ERROR, LOW_GAUGE_ERROR, DROP_ERROR, CLOCK_ERROR = 0.8 * _psi, 0.25 * _psi, 0.4 * _psi, 0.2
"""Standard errors: a 100 psi gauge of class 1.6 (EN 837-1) errs by 1.6 psi at the most, taken as two of them; one of
low range; a gauge for differences; a clock and the hand on it (the last three: estimates, no source)."""


def _gauge(label: str) -> Shown:
    return Shown(label, GAUGE, GAUGE_ERROR)


READINGS: dict[str, Shown] = {
    "dipstick": Shown("oil above the full mark", LEVEL, 0.0015),
    "sample_air": Shown("what an oil sample sinks by while it stands", SHARE, 0.007),
    "charge": Shown("gas gauge (low range), oil side vented", GAUGE, LOW_GAUGE_ERROR),
    "oil_zero": _gauge("vessel oil gauge, vented"),
    "gallery_zero": _gauge("far gallery gauge, engine stopped"),
    "next_day": Shown("gas gauge (low range), a day later", GAUGE, LOW_GAUGE_ERROR),
    "cold_gallery": _gauge("far gallery gauge, cold idle"),
    "filter_drop": Shown("drop over the filter, cold idle", PRESSURE_DIFFERENCE, DROP_ERROR),
    "early_gas": _gauge("gas gauge, 5 s after the valve opens"),
    "middle_gallery": _gauge("far gallery gauge, hot at 3000 rpm"),
    "middle_oil": _gauge("vessel oil gauge, hot at 3000 rpm"),
    "middle_gas": _gauge("gas gauge, hot at 3000 rpm"),
    "idle_gallery": _gauge("far gallery gauge, hot idle"),
    "idle_oil": _gauge("vessel oil gauge, hot idle"),
    "idle_gas": _gauge("gas gauge, hot idle"),
    "fall_time": Shown("far gallery gauge falls to the warning pressure in", TIME, CLOCK_ERROR, FALL_WATCHED),
    "fall_gallery": _gauge("far gallery gauge, 1 s after the stop"),
    "fall_oil": _gauge("vessel oil gauge, 1 s after the stop"),
    "valve_drop": Shown("drop over the valve, 1 s after the stop", PRESSURE_DIFFERENCE, DROP_ERROR),
    "held_oil": _gauge("vessel oil gauge, ten minutes after switching off"),
    "cold_open": _gauge("far gallery gauge, cold, 10 s after the valve opens"),
    "lamp": Shown("valve lamp with the ignition off", None, 0.05),
    "answer": Shown("far gallery gauge moves after the switch in", TIME, CLOCK_ERROR, ANSWER_WATCHED),
    "answer_gallery": _gauge("far gallery gauge, highest after the switch"),
    "alone_time": Shown("far gallery gauge falls with the valve shut in", TIME, CLOCK_ERROR, ANSWER_WATCHED),
}
"""Everything that a gauge, a clock, a dipstick or a lamp can show, with its error."""


@dataclass(frozen=True)
class ShopTest:
    """Something that a workshop can do: what it costs and what it shows."""

    title: str
    how: str
    minutes: float
    """Shop time (estimates, no source)."""
    readings: tuple[str, ...]


SHOP_TESTS: dict[str, ShopTest] = {
    "dipstick": ShopTest(
        "Read the dipstick", "Vessel full and shut off, engine stopped for ten minutes.", 5, ("dipstick",)
    ),
    "sample": ShopTest(
        "Draw an oil sample",
        "From the hot pan into a tall glass; read again when it has stood for an hour.",
        15,
        ("sample_air",),
    ),
    "vented": ShopTest(
        "Vent the oil side and read everything",
        "Engine off, pressure let out of the oil side, gas at the shop's temperature.",
        25,
        ("charge", "oil_zero", "gallery_zero"),
    ),
    "next_day": ShopTest("Read the charge again next day", "Oil side vented, same gas temperature.", 60, ("next_day",)),
    "cold_idle": ShopTest(
        "Cold idle, with a gauge for differences over the filter",
        "Engine as cold as the shop, valve shut.",
        20,
        ("cold_gallery", "filter_drop"),
    ),
    "fill": ShopTest(
        "Open the valve at 3000 rpm, vessel empty",
        "Hot engine; look at the gas gauge after five seconds.",
        10,
        ("early_gas",),
    ),
    "middle": ShopTest(
        "Hot at 3000 rpm, settled",
        "Valve open for a minute and a half.",
        5,
        ("middle_gallery", "middle_oil", "middle_gas"),
    ),
    "idle": ShopTest(
        "Hot idle, settled", "Down from 3000 rpm, valve open.", 5, ("idle_gallery", "idle_oil", "idle_gas")
    ),
    "stop": ShopTest(
        "Stop the engine with the valve held open",
        "From 3000 rpm, settled; fuel off, ignition on.",
        10,
        ("fall_time", "fall_gallery", "fall_oil"),
    ),
    "valve_drop": ShopTest(
        "Stop the engine with a gauge for differences over the valve",
        "Two more fittings to open and close.",
        30,
        ("valve_drop",),
    ),
    "hold": ShopTest(
        "Switch off and wait ten minutes",
        "From 3000 rpm, settled: valve, then engine, by the key.",
        12,
        ("held_oil", "lamp"),
    ),
    "answer": ShopTest(
        "Open the valve on the standing engine",
        "After those ten minutes: switch on and watch the far gallery gauge.",
        8,
        ("answer", "answer_gallery"),
    ),
    "cold_open": ShopTest(
        "Open the valve on the cold standing engine",
        "Vessel filled the day before; thick oil, so the bearings take little: look after ten seconds.",
        10,
        ("cold_open",),
    ),
    "alone": ShopTest(
        "Valve shut at 3000 rpm, stop the engine",
        "How long the far gallery keeps 5 psi (0.34 bar) with nothing behind it but its own spring.",
        8,
        ("alone_time",),
    ),
}
"""What the workshop offers, cheap and dear."""


# ------------------------------------------------------------------------------------------------------ how it comes


@public
def true_readings(set_up: SetUp) -> dict[str, float]:
    """What every reading of ``READINGS`` would show with perfect gauges and eyes, but for the gauges' own offsets. SI.

    One drive of the simulation: vented vessel, valve opened at the middle speed, settled, down to idle; and from the
    middle speed four ends: stopped with the valve open, stopped with it shut, switched off by the key, and opened again
    ten minutes later. Raises `InputError` for a set-up that does not fit together.
    Source: first principles; `oilkit.physics.dynamics`, `operating_point`, `pan_level`.
    """
    found = _drive(set_up)
    return {name: found[name] for name in READINGS}


@public
def oil_taken(set_up: SetUp) -> Qty:
    """Oil that the vessel has taken, settled at the middle speed: what is to be filled in for it.

    Source: `true_readings`' drive.
    """
    return OIL.quantity(_drive(set_up)["taken"])


def _drive(set_up: SetUp) -> dict[str, float]:
    """All true readings, and the oil that the vessel has ``taken``."""
    from oilkit.physics import dynamics as d  # here, because compiled code costs time that the first lessons never need

    built, c = set_up.installation, set_up.condition.si
    check_rated(built.vessel, "precharge", c.precharge)
    engine, room = built.engine.si, built.vessel.si.gas_volume
    (case, start), (cold_case, cold_start) = _warm_and_cold(set_up)
    middle, idle = MIDDLE_SPEED.m_as(SPEED.si), engine.idle
    opens = c.valve_opens if c.valve_opens >= d.SHUT else 0.0

    def run(begin: Any, moments: list[float], speed: list[float], opening: list[float], times: list[float]) -> Any:
        table = np.zeros((d.INPUTS, len(times)))
        table[d.SPEED], table[d.OPENING] = speed, opening
        table[d.SUPPLY] = table[d.SPEED] > 0.0  # a pump that stands holds no oil back: its check valve must
        return d.one(case, np.array(times), table, begin, ACCURACY, np.array(moments))

    def gas(state: Any) -> float:
        return float(case[d.GAS_CONSTANT] * state[d.T] / state[d.V] - case[d.AMBIENT])

    def at_vessel(state: Any, opening: float) -> float:
        """Between vessel and valve: the gallery and what the line costs; behind a shut valve, what was shut in."""
        if opening > 0.0:
            return float(state[d.P] + d.line_loss(state[d.Q], case, opening))
        return gas(state) if state[d.V] < room else 0.0

    # vented, opened at the middle speed, settled; then down to idle
    drive = [0.0, EARLY, SETTLE, SETTLE + 2.0, 2.0 * SETTLE]
    speeds = [middle, middle, middle, idle, idle]
    _, went = run(start, [EARLY, SETTLE, 2.0 * SETTLE], speeds, [opens] * 5, drive)
    early, settled, idling = went
    found = {"early_gas": gas(early)}
    for name, state in (("middle", settled), ("idle", idling)):
        found[f"{name}_gallery"] = float(state[d.P])
        found[f"{name}_oil"] = at_vessel(state, opens)
        found[f"{name}_gas"] = gas(state)

    # the engine stops; the valve is held open
    case[d.LIMIT], case[d.TOLERANCE] = engine.warning, 0.0
    result, went = run(settled[: d.N], [1.0], [0.0, 0.0], [opens] * 2, [0.0, FALL_WATCHED])
    found["fall_time"] = min(float(result[d.PROTECTED]), FALL_WATCHED)
    found["fall_gallery"], found["fall_oil"] = float(went[0, d.P]), at_vessel(went[0], opens)
    flow = float(went[0, d.Q])
    found["valve_drop"] = float(case[d.VALVE] * flow * abs(flow) / opens**2) if opens else 0.0

    # the valve is shut; the gallery is alone
    case[d.LIMIT] = NEEDLE
    result, went = run(settled[: d.N], [ANSWER_WATCHED], [0.0, 0.0], [0.0] * 2, [0.0, ANSWER_WATCHED])
    found["alone_time"] = min(float(result[d.PROTECTED]), ANSWER_WATCHED)

    # switched off by the key for ten minutes, then on again
    left_open = opens if c.valve_feed == "battery" else 0.0
    _, went = run(settled[: d.N], [TEN_MINUTES], [0.0, 0.0], [left_open] * 2, [0.0, TEN_MINUTES])
    held = went[0, : d.N].copy()
    found["held_oil"] = at_vessel(held, left_open)
    found["lamp"] = 1.0 if c.valve_feed == "battery" else 0.0
    held[d.Q] = held[d.P] = 0.0
    delay, end = min(c.valve_delay, ANSWER_WATCHED - 2.0 * OPENING), ANSWER_WATCHED
    moments = np.unique(np.concatenate([np.linspace(delay, delay + 2.0, 101), np.linspace(0.0, end, 101)]))
    _, went = run(held, moments.tolist(), [0.0] * 4, [0.0, 0.0, opens, opens], [0.0, delay, delay + OPENING, end])
    pressure = went[:, d.P]
    moved = np.flatnonzero(pressure >= NEEDLE)
    found["answer"] = ANSWER_WATCHED
    if len(moved):
        k = int(moved[0])
        found["answer"] = float(np.interp(NEEDLE, pressure[k - 1 : k + 1], moments[k - 1 : k + 1])) if k else 0.0
    found["answer_gallery"] = float(np.max(pressure))

    # cold: engine, oil and gas as the shop, the vessel as full as it was, the valve open for ten seconds
    cold_start[d.V] = settled[d.V]
    cold_start[d.P] = 0.0
    table = np.zeros((d.INPUTS, 2))
    table[d.OPENING] = opens
    _, went = d.one(cold_case, np.array([0.0, COLD_OPEN]), table, cold_start, ACCURACY, np.array([COLD_OPEN]))
    found["cold_open"] = float(went[0, d.P])

    # dipstick: what the vessel did not take, or has given back, lies in the pan
    pan, should = engine.pan, set_up.filled_for
    found["taken"] = room - float(settled[d.V])
    filled = found["taken"] if should is None else float(should.m_as("m**3"))
    shape = (pan.sump_area, pan.sump_depth, pan.upper_area)
    in_pan = pan_volume.si(pan.full_height, *shape) + c.pan_change + filled - (room - float(held[d.V]))
    found["dipstick"] = float(pan_level.si(max(in_pan, 0.0), *shape)) - pan.full_height

    # and what needs no drive
    found["charge"] = c.precharge
    found["next_day"] = (c.precharge + c.ambient) * (1.0 - c.charge_loss) - c.ambient
    found["oil_zero"] = found["gallery_zero"] = 0.0
    found["sample_air"] = c.oil_air
    # cold idle, valve shut
    table[d.OPENING], table[d.SPEED], table[d.SUPPLY] = 0.0, idle, 1.0
    _, went = d.one(cold_case, np.array([0.0, COLD_IDLE]), table, cold_start, ACCURACY, np.array([COLD_IDLE]))
    found["cold_gallery"] = float(went[0, d.P])
    flow = float(d.engine_takes(found["cold_gallery"], idle, cold_case))
    found["filter_drop"] = float(rated_drop(engine.filter, flow, viscosity_of(built.oil.si, c.shop_temperature)))

    for gauge, off in (("gas", c.gas_gauge_off), ("oil", c.oil_gauge_off), ("gallery", c.gallery_gauge_off)):
        for name in READINGS:
            if name.endswith(f"_{gauge}") or name == f"{gauge}_zero":
                found[name] += off
    return found


ACCURACY = 1e-4
"""Of each step of the simulation: no reading is off by more than a thirtieth of its gauge's error (tested)."""


def _warm_and_cold(set_up: SetUp) -> list[tuple[Any, Any]]:
    """Warm and cold: numbers for `oilkit.physics.dynamics`, and the start: vessel vented, gallery as wanted."""
    from oilkit.physics import dynamics as d

    built, c = set_up.installation, set_up.condition.si
    shop, engine = c.shop_temperature, built.engine.si
    warm = {name: np.array([getattr(c, f"{name}_temperature"), shop]) for name in ("sump", "line", "gas")}
    given = {
        "precharge": precharge_at_temperature.si(c.precharge, shop, warm["gas"], c.ambient, c.ambient),
        "pressure": engine.wanted,
        "speed": MIDDLE_SPEED.m_as(SPEED.si),
        "leak": c.check_leak,
        "air_in_gallery": min(c.air_in_gallery + c.oil_air, 1.0),
        "ambient": c.ambient,
    }
    given |= {f"{name}_temperature": kelvin for name, kelvin in warm.items()}
    for name in ("thermal_time_constant", "clearance_change", "seal_friction"):
        given[name] = getattr(c, name)
    numbers = usual_si() | given
    cases, starts = cases_of(built, {name: np.broadcast_to(value, 2).astype(float) for name, value in numbers.items()})
    area = math.pi * set_up.valve.si.bore**2 / 4.0
    cases[:, d.VALVE] = set_up.valve.si.loss_coefficient * density_of(built.oil.si, warm["line"]) / (2.0 * area**2)
    cases[:, d.PUMP] *= (1.0 - c.oil_air) * min(c.pump_share, 1.0 / engine.pump.efficiency)
    starts[:, d.V], starts[:, d.T] = cases[:, d.GAS_VOLUME], warm["gas"]
    return list(zip(cases, starts, strict=True))


# ------------------------------------------------------------------------------------------------------- with errors


@public
def read(set_up: SetUp, test: str, seed: int = 0) -> dict[str, Qty | str]:
    """What a shop test of ``SHOP_TESTS`` shows, gauge and eye erring as their class says. Lamps are "lit" or "dark".

    seed: the errors; the same seed, set-up and test read the same, whatever was tested before. Raises `InputError`.
    Source: `true_readings`, with normal errors.

    >>> from oilkit.shop.faults import demo_set_up
    >>> for name, value in read(demo_set_up(), "vented", seed=1).items():
    ...     print(name, f"{value:.1f~}")
    charge 6.7 psig
    oil_zero -0.1 psig
    gallery_zero -0.2 psig
    """
    if test not in SHOP_TESTS:
        raise InputError("test", repr(test), " or ".join(SHOP_TESTS))
    true = true_readings(set_up)
    return {name: shown(name, value) for name, value in with_errors(true, seed, SHOP_TESTS[test].readings).items()}


def with_errors(true: dict[str, float], seed: int, names: Iterable[str]) -> dict[str, float]:
    """True readings as a workshop reads them, SI: each has an error of its own for each seed."""
    order = list(READINGS)
    found = {}
    for name in names:
        what = READINGS[name]
        if what.kind is None:
            found[name] = true[name]
            continue
        error = float(np.random.default_rng([seed, order.index(name)]).normal()) * what.error
        found[name] = min(max(true[name] + error, 0.0), what.most) if what.kind is TIME else true[name] + error
    return found


def shown(name: str, value: float) -> Any:
    """A reading as a quantity, or a lamp in words."""
    kind = READINGS[name].kind
    return kind.quantity(value) if kind else LAMP[value <= 0.5]
