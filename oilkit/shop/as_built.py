"""A vessel fitted to an engine, as it really is, and what a workshop's gauges say about it. (Lesson 09)

Nothing here has physics of its own: every reading is taken from the same simulation as in the earlier lessons. A fault
is nothing but another number in the set-up's `Condition`, its valve or its installation.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

import numpy as np

from oilkit.errors import of_these
from oilkit.physics.discharging import cases_of, usual_si
from oilkit.physics.engine import Engine
from oilkit.physics.oil import density_of, viscosity_of
from oilkit.physics.pan import pan_level, pan_volume
from oilkit.physics.pump import slip
from oilkit.physics.valve import rated_drop
from oilkit.physics.vessel import check_rated, precharge_at_temperature
from oilkit.quantities.checked import public
from oilkit.quantities.kind import Kind
from oilkit.quantities.kinds import GAUGE, LEVEL, OIL, PRESSURE_DIFFERENCE, SHARE, SPEED, TIME
from oilkit.quantities.records import beside
from oilkit.quantities.units import Q, Qty
from oilkit.shop.set_up import SetUp, pan_shape

MIDDLE_SPEED = Q(3000, "rpm")
NO_LOAD = 0.5
"""Share of the redline that no test without load goes beyond: as the card ``demand_pump`` has it, 33 % (a third) and
half as far again (chosen, no source)."""
SETTLE, EARLY = 90.0, 5.0
"""Seconds that a speed is held before the gauges are read, and after which they are read early."""
FALL_WATCHED, ANSWER_WATCHED, TEN_MINUTES, COLD_OPEN, COLD_IDLE = 120.0, 20.0, 600.0, 10.0, 30.0
"""Seconds for which a fall or an answer is watched at the most, a shut vessel is left, a cold one is open;
and that a cold engine idles before its gauges are read."""
FILLING, HAND_OPENS, SPEED_HELD = 60.0, 1.0, 10.0
"""Seconds that the empty vessel fills through a hand valve barely open, that the hand then takes to open it, and after
which an engine brought up from idle holds its speed."""
BARELY_OPEN = 0.1
"""Share of a hand valve's way. Wide open, an empty vessel takes more than the pump gives (see `lowest_gallery`)."""
NEEDLE = float(Q(5, "psi").to("Pa").m)
"""Pressure at which a gauge's needle has clearly moved (chosen, no source)."""
OPENING = 0.1
"""Seconds in which an electric valve opens once it begins to (estimate, no source)."""

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
low range; a differential pressure gauge; a clock and the hand on it (the last three: estimates, no source)."""


INSTRUMENTS: dict[str, tuple[Kind | None, float]] = {
    "dipstick": (LEVEL, 0.0015),
    "tall glass": (SHARE, 0.007),
    "gauge": (GAUGE, GAUGE_ERROR),
    "gauge of low range": (GAUGE, LOW_GAUGE_ERROR),
    "differential pressure gauge": (PRESSURE_DIFFERENCE, DROP_ERROR),
    "clock": (TIME, CLOCK_ERROR),
    "lamp": (None, 0.05),
}
"""What each instrument shows, and one standard error of reading it, SI."""
_PATIENCE = {"fall_time": FALL_WATCHED, "answer": ANSWER_WATCHED, "alone_time": ANSWER_WATCHED}


@dataclass(frozen=True)
class ShopTest:
    """Something that a workshop can do: what it costs and what it shows."""

    title: str
    how: str
    caution: str
    """What to beware of, as beside a step of a procedure (`oilkit.shop.steps.Act`); the same for the next."""
    stop: str
    minutes: float
    """Shop time (estimates, no source)."""
    readings: tuple[str, ...]
    turns: tuple[str, ...]
    """Parts of the drive in which the engine turns for it: ``filled``, ``idle``, ``opened``, ``cold``; none if it
    stands all the time."""


_, _told = beside(__file__)
READINGS: dict[str, Shown] = {
    name: Shown(one["shows"], *INSTRUMENTS[one["by"]], _PATIENCE.get(name, math.inf))
    for name, one in _told["readings"].items()
}
"""Everything that a gauge, a clock, a dipstick or a lamp can show, with its error."""
SHOP_TESTS = {
    key: ShopTest(**one | {name: tuple(one[name]) for name in ("readings", "turns")})
    for key, one in _told["tests"].items()
}
"""What the workshop offers, cheap and dear."""


# ------------------------------------------------------------------------------------------------------ how it comes


def middle_speed(engine: Engine) -> Qty:
    """The speed of an engine's shop tests: ``MIDDLE_SPEED``, or what it may do without load if that is less."""
    return max(engine.idle, min(MIDDLE_SPEED, NO_LOAD * engine.redline))


@public
def true_readings(set_up: SetUp) -> dict[str, float]:
    """What every reading of ``READINGS`` would show with perfect gauges and eyes, but for the gauges' own offsets. SI.

    One drive of the simulation: vented vessel, filled at the middle speed through a hand valve barely open, settled,
    down to idle, shut, up and opened again; and from the middle speed four ends: stopped with the valve open, stopped
    with it shut, switched off by the key, and opened again ten minutes later. Raises `InputError` for a set-up that
    does not fit together.
    Source: first principles; `oilkit.physics.dynamics`, `operating_point`, `pan_level`.
    """
    (found,) = readings_of([set_up])
    return found


def readings_of(set_ups: Sequence[SetUp]) -> list[dict[str, float]]:
    """`true_readings` of each. What set-ups in a row with the same parts start from is worked out in one."""
    found = []
    for _, some in groupby(set_ups, lambda one: (id(one.installation), id(one.valve))):
        alike = list(some)
        for set_up, cases in zip(alike, _warm_and_cold(alike), strict=True):
            readings, _ = _drive(set_up, cases)
            found.append({name: readings[name] for name in READINGS})
    return found


@public
def lowest_gallery(set_up: SetUp) -> dict[str, Qty | None]:
    """To what gallery pressure, at the lowest, each of ``SHOP_TESTS`` takes an engine while it turns.

    None for a test in which the engine stands all the time: a shaft at rest needs no pressure. With the filling that
    comes before; without the first seconds of a start and the last of a stop, which every drive has. Gauge pressure, to
    be held against the engine's warning pressure. Raises `InputError` for a set-up that does not fit together.
    Source: `true_readings`' drive.

    >>> from oilkit.shop.faults import demo_set_up
    >>> planned = demo_set_up()
    >>> lowest = lowest_gallery(planned)["fill"]
    >>> print(f"{lowest:.1f~}, warning at {planned.installation.engine.warning:.0f~}")
    22.1 psig, warning at 20 psig
    """
    _, lowest = _drive(set_up)
    return {
        key: GAUGE.quantity(min(lowest[part] for part in test.turns)) if test.turns else None
        for key, test in SHOP_TESTS.items()
    }


@public
def oil_taken(set_up: SetUp) -> Qty:
    """Oil that the vessel has taken, settled at the middle speed: what is to be filled in for it.

    Source: `true_readings`' drive.
    """
    return OIL.quantity(_drive(set_up)[0]["taken"])


def _drive(set_up: SetUp, cases: Any = None) -> tuple[dict[str, float], dict[str, float]]:
    """All true readings with the oil that the vessel has ``taken``, and the lowest gallery pressure of each part.

    cases: as `_warm_and_cold` gives them, where it has been asked for many.
    """
    drive = _Drive(set_up, cases)
    found = drive.undriven() | drive.filled_at_speed()
    found |= drive.stopped() | drive.alone() | drive.by_the_key() | drive.cold() | drive.in_the_pan()
    c = drive.condition
    for gauge, off in (("gas", c.gas_gauge_off), ("oil", c.oil_gauge_off), ("gallery", c.gallery_gauge_off)):
        for name in READINGS:
            if name.endswith(f"_{gauge}") or name == f"{gauge}_zero":
                found[name] += off
    return found, drive.lowest


class _Drive:
    """One drive of the simulation, piece by piece: what is read in each, SI."""

    settled: Any
    """State of the simulation, settled at the middle speed: every end of the drive begins with it."""
    held: Any
    """Ten minutes after the key."""
    lowest: dict[str, float]
    """Of each part of the drive in which the engine turns, the lowest gallery pressure."""

    def __init__(self, set_up: SetUp, cases: Any = None) -> None:
        from oilkit.physics import dynamics  # here: compiled code costs time that the first lessons never need

        self.d, self.set_up = dynamics, set_up
        self.condition, self.engine = set_up.condition.si, set_up.installation.engine.si
        self.middle = float(middle_speed(set_up.installation.engine).m_as(SPEED.si))
        self.room, self.pan_shape = set_up.installation.vessel.si.gas_volume, pan_shape(set_up.installation.engine)
        (self.case, self.start), (self.cold_case, self.cold_start) = cases or _warm_and_cold([set_up])[0]
        self.opens = self.condition.valve_opens if self.condition.valve_opens >= dynamics.SHUT else 0.0
        self.lowest = {}

    def run(
        self, begin: Any, moments: list[float], speed: list[float], opening: list[float], times: list[float]
    ) -> Any:
        """The warm case from a state on, through speeds and openings of the valve at some times: result and states."""
        d = self.d
        table = np.zeros((d.INPUTS, len(times)))
        table[d.SPEED], table[d.OPENING] = speed, opening
        table[d.SUPPLY] = table[d.SPEED] > 0.0  # a pump that stands holds no oil back: its check valve must
        return d.one(self.case, np.array(times), table, begin, ACCURACY, np.array(moments))

    def gas(self, state: Any) -> float:
        d, case = self.d, self.case
        return float(case[d.GAS_CONSTANT] * state[d.T] / state[d.V] - case[d.AMBIENT])

    def at_vessel(self, state: Any, opening: float, speed: float) -> float:
        """Between vessel and valve: the tee and what the line costs; behind a shut valve, what was shut in."""
        d, supply = self.d, float(speed > 0.0)
        if opening > 0.0:
            *_, tee = d.at_the_tee(state[d.P], state[d.Q], self.case[d.PUMP] * speed * supply, supply, self.case)
            return float(tee + d.line_loss(state[d.Q], self.case, opening))
        return self.gas(state) if state[d.V] < self.room else 0.0

    def undriven(self) -> dict[str, float]:
        """What needs no drive."""
        c = self.condition
        next_day = (c.precharge + c.ambient) * (1.0 - c.charge_loss) - c.ambient
        lamp = 1.0 if c.valve_feed == "battery" else 0.0
        return {
            "charge": c.precharge, "next_day": next_day, "oil_zero": 0.0, "gallery_zero": 0.0, "sample_air": c.oil_air,
            "lamp": lamp,
        }  # fmt: skip

    def filled_at_speed(self) -> dict[str, float]:
        """Vented, filled at the middle speed through a hand valve barely open, then open and settled; down to idle."""
        middle, idle, opens = self.middle, self.engine.idle, self.opens
        _, shut = self.run(self.start, [EARLY], [middle] * 2, [0.0] * 2, [0.0, EARLY])
        barely, end = BARELY_OPEN * opens, FILLING + SETTLE
        times, opening = [0.0, FILLING, FILLING + HAND_OPENS, end], [barely, barely, opens, opens]
        settled = self.turn("filled", shut[0], end, [middle] * 4, opening, times)
        idling = self.turn("idle", settled, SETTLE, [middle, idle, idle], [opens] * 3, [0.0, 2.0, SETTLE])
        found = {"taken": self.room - float(settled[self.d.V])}
        for name, state, speed in (("middle", settled, middle), ("idle", idling, idle)):
            found[f"{name}_gallery"] = float(state[self.d.P])
            found[f"{name}_oil"] = self.at_vessel(state, opens, speed)
            found[f"{name}_gas"] = self.gas(state)
        self.settled = settled[: self.d.N]
        return found | self.opened_at_speed(idling)

    def opened_at_speed(self, idling: Any) -> dict[str, float]:
        """Shut at idle, and opened again at the middle speed: the vessel never has less than idle pressure."""
        middle, idle, opens = self.middle, self.engine.idle, self.opens
        at = SPEED_HELD
        times, speeds = [0.0, 2.0, at, at + OPENING, at + SETTLE], [idle, middle, middle, middle, middle]
        early = self.turn("opened", idling, at + EARLY, speeds, [0.0, 0.0, 0.0, opens, opens], times)
        return {"early_gas": self.gas(early)}

    def turn(
        self, part: str, begin: Any, moment: float, speed: list[float], opening: list[float], times: list[float]
    ) -> Any:
        """`run` with the engine turning: the state at a moment. What the gallery falls to at the most is kept."""
        result, went = self.run(begin[: self.d.N], [moment], speed, opening, times)
        self.lowest[part] = float(result[self.d.LOWEST])
        return went[0]

    def stopped(self) -> dict[str, float]:
        """The engine stops; the valve is held open."""
        d, opens = self.d, self.opens
        self.case[d.LIMIT], self.case[d.TOLERANCE] = self.engine.warning, 0.0
        result, went = self.run(self.settled, [1.0], [0.0, 0.0], [opens] * 2, [0.0, FALL_WATCHED])
        flow = float(went[0, d.Q])
        return {
            "fall_time": min(float(result[d.PROTECTED]), FALL_WATCHED),
            "fall_gallery": float(went[0, d.P]),
            "fall_oil": self.at_vessel(went[0], opens, 0.0),
            "valve_drop": float(self.case[d.VALVE] * flow * abs(flow) / opens**2) if opens else 0.0,
        }

    def alone(self) -> dict[str, float]:
        """The valve is shut; the gallery is alone."""
        d = self.d
        self.case[d.LIMIT], self.case[d.TOLERANCE] = NEEDLE, 0.0
        result, _ = self.run(self.settled, [ANSWER_WATCHED], [0.0, 0.0], [0.0] * 2, [0.0, ANSWER_WATCHED])
        return {"alone_time": min(float(result[d.PROTECTED]), ANSWER_WATCHED)}

    def by_the_key(self) -> dict[str, float]:
        """Switched off by the key for ten minutes, then on again."""
        d, c, opens = self.d, self.condition, self.opens
        left_open = opens if c.valve_feed == "battery" else 0.0
        _, went = self.run(self.settled, [TEN_MINUTES], [0.0, 0.0], [left_open] * 2, [0.0, TEN_MINUTES])
        held = self.held = went[0, : d.N].copy()
        found = {"held_oil": self.at_vessel(held, left_open, 0.0), "answer": ANSWER_WATCHED}
        held[d.Q] = held[d.P] = 0.0
        delay, end = min(c.valve_delay, ANSWER_WATCHED - 2.0 * OPENING), ANSWER_WATCHED
        moments = np.unique(np.concatenate([np.linspace(delay, delay + 2.0, 101), np.linspace(0.0, end, 101)]))
        opening, times = [0.0, 0.0, opens, opens], [0.0, delay, delay + OPENING, end]
        _, went = self.run(held, moments.tolist(), [0.0] * 4, opening, times)
        pressure = went[:, d.P]
        moved = np.flatnonzero(pressure >= NEEDLE)
        if len(moved):
            k = int(moved[0])
            found["answer"] = float(np.interp(NEEDLE, pressure[k - 1 : k + 1], moments[k - 1 : k + 1])) if k else 0.0
        return found | {"answer_gallery": float(np.max(pressure))}

    def cold(self) -> dict[str, float]:
        """Engine, oil and gas as the shop, the vessel as full as it was and open for ten seconds; then idle, shut."""
        d, case, start, idle = self.d, self.cold_case, self.cold_start, self.engine.idle
        start[d.V], start[d.P] = self.settled[d.V], 0.0
        table = np.zeros((d.INPUTS, 2))
        table[d.OPENING] = self.opens
        _, opened = d.one(case, np.array([0.0, COLD_OPEN]), table, start, ACCURACY, np.array([COLD_OPEN]))
        table[d.OPENING], table[d.SPEED], table[d.SUPPLY] = 0.0, idle, 1.0
        _, idled = d.one(case, np.array([0.0, COLD_IDLE]), table, start, ACCURACY, np.array([COLD_IDLE]))
        gallery = self.lowest["cold"] = float(idled[0, d.P])  # it rises all the time
        flow, oil = float(d.engine_takes(gallery, idle, case)), self.set_up.installation.oil.si
        drop = rated_drop(self.engine.filter, flow, viscosity_of(oil, self.condition.shop_temperature))
        return {"cold_open": float(opened[0, d.P]), "cold_gallery": gallery, "filter_drop": float(drop)}

    def in_the_pan(self) -> dict[str, float]:
        """The dipstick: what the vessel did not take, or has given back, lies in the pan."""
        d, full, should = self.d, self.engine.pan.full_height, self.set_up.filled_for
        filled = self.room - float(self.settled[d.V]) if should is None else float(should.m_as("m**3"))
        in_pan = pan_volume.si(full, *self.pan_shape) + self.condition.pan_change + filled
        in_pan -= self.room - float(self.held[d.V])
        return {"dipstick": float(pan_level.si(max(in_pan, 0.0), *self.pan_shape)) - full}


ACCURACY = 1e-4
"""Of each step of the simulation: no reading is off by more than a thirtieth of its gauge's error (tested)."""


def _warm_and_cold(set_ups: Sequence[SetUp]) -> list[list[tuple[Any, Any]]]:
    """Of each of some set-ups with the same parts, warm and cold: numbers for `oilkit.physics.dynamics`, and the start:
    vessel vented, gallery as wanted."""
    from oilkit.physics import dynamics as d

    built, valve, conditions = set_ups[0].installation, set_ups[0].valve.si, [one.condition.si for one in set_ups]
    for c in conditions:
        check_rated(built.vessel, "precharge", c.precharge)

    def of_both(name: str) -> Any:
        return np.repeat([getattr(c, name) for c in conditions], 2)

    shop, ambient, engine = of_both("shop_temperature"), of_both("ambient"), built.engine.si
    warm = {name: of_both(f"{name}_temperature") for name in ("sump", "line", "gas")}
    for kelvin in warm.values():
        kelvin[1::2] = shop[1::2]
    given = {
        "precharge": precharge_at_temperature.si(of_both("precharge"), shop, warm["gas"], ambient, ambient),
        "pressure": engine.wanted,
        "speed": middle_speed(built.engine).m_as(SPEED.si),
        "leak": of_both("check_leak"),
        "air_in_gallery": np.minimum(of_both("air_in_gallery") + of_both("oil_air"), 1.0),
        "ambient": ambient,
    }
    given |= {f"{name}_temperature": kelvin for name, kelvin in warm.items()}
    given |= {name: of_both(name) for name in ("heat_transfer", "clearance_change", "seal_friction")}
    numbers = {name: np.full(len(shop), value, dtype=float) for name, value in (usual_si() | given).items()}
    cases, starts = cases_of(built, numbers)
    area = math.pi * valve.bore**2 / 4.0
    cases[:, d.VALVE] = valve.loss_coefficient * density_of(built.oil.si, warm["line"]) / (2.0 * area**2)
    cases[:, d.PUMP] *= 1.0 - of_both("oil_air")
    efficiency = np.minimum(of_both("pump_share") * engine.pump.efficiency, 1.0)
    worn = slip(efficiency, viscosity_of(built.oil.si, warm["sump"]))
    cases[:, d.SLIP] = engine.pump.displacement * engine.pump.ratio * worn
    starts[:, d.V], starts[:, d.T] = cases[:, d.GAS_VOLUME], warm["gas"]
    both = list(zip(cases, starts, strict=True))
    return [both[k : k + 2] for k in range(0, len(both), 2)]


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
    names = of_these("test", test, SHOP_TESTS).readings
    return {name: shown(name, value) for name, value in with_errors(true_readings(set_up), seed, names).items()}


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
