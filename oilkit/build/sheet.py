"""The build sheet: everything that a set-up asks for in the shop and promises on the track, on one page. (Lesson 10)

Nothing is computed here that an earlier lesson has not shown: pre-charge (`oilkit.physics.vessel`), oil and pan
(`oilkit.physics.pan`), line (`oilkit.physics.line`), demand and pressure (`oilkit.physics.engine`), events in time
(`oilkit.physics.discharging`), cold start (`oilkit.physics.prelube`). New is only that each uncertain input is varied:
one at a time for the tornado chart, all together, with a seed, for the spread. `oilkit.build.sheet_files` writes the
page.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from oilkit.build.setup_file import Build, Event
from oilkit.errors import InputError
from oilkit.laps.lap import GRAVITY
from oilkit.physics.bearing import usual_clearance
from oilkit.physics.catalog import hoses
from oilkit.physics.discharging import CONDITIONS, Installation, cases_of, pump_lets_go
from oilkit.physics.engine import engine_demand, operating_point
from oilkit.physics.line import Hose, SupplyLine, supply_drop, supply_flow
from oilkit.physics.night import Overnight, overnight
from oilkit.physics.oil import density_of, viscosity_of
from oilkit.physics.pan import OilBudget, level_in_words, oil_budget, oil_in_flight, pan_level, pan_volume
from oilkit.physics.prelube import PreLube, pre_lube
from oilkit.physics.pressure import gauge_error
from oilkit.physics.vessel import oil_stored, precharge_at_temperature, precharge_to_set
from oilkit.quantities import kinds
from oilkit.quantities.checked import Draws, Seed, public
from oilkit.quantities.kinds import (
    CLEARANCE_CHANGE,
    GAUGE,
    OIL,
    PRESSURE_DIFFERENCE,
    SPEED,
    TEMPERATURE,
    TIME,
    VOLUME,
    WORKING_TEMPERATURE,
    Kind,
)
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q, Qty
from oilkit.shop.acceptance import AcceptanceValue, acceptance_card
from oilkit.shop.as_built import Condition, SetUp

HORIZON = 60.0
"""Seconds that an event is watched at the most: what lasts longer is said to."""
FORGIVING = 1e6
"""A tolerance, s, that nothing outlasts: to follow a case to its end, whatever its pressure."""
ACCURACY, QUICK = 1e-4, 1e-3
"""Of each step of the simulation, for the whole sheet and for a first look."""
FARTHEST = 2.5
"""Standard deviations beyond which nothing is drawn."""
FIRST_MOMENTS = 0.3
"""Seconds in which the line's oil gets going: the first dip."""
LEAST_PRESSURE = 1.0
"""Pa above ambient that an engine has left when its spread would take it below nothing."""
ROBUST, FAIR = 0.95, 0.8
"""Share of all draws from which a choice counts as robust, and as fair (chosen, no source)."""
FLAT = 0.05
"""A pre-charge belongs to the flat top if it protects no more than this share fewer than the best one."""
TRIED = (1.25, 1.6, 2.0, 2.5, 3.2, 4.0, 5.0, 6.3, 8.0, 10.0, 16.0, 25.0)
"""How many times its gas volume a larger vessel is tried with."""
CHARGES = 9
TIGHTER = tuple(float(Q(-k, "thou").m_as("m")) for k in (0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 2.5, 3.0))

PROTECTED, PUMP_TOO_WEAK, LINE_TOO_NARROW = "protected", "pressure too low", "demand too high"
NO_CAPACITY, WRONG_CHARGE, NOT_PROTECTED = "no capacity", "another pre-charge", "not protected"
NO_VESSEL = (PUMP_TOO_WEAK, LINE_TOO_NARROW)
"""Verdicts that no vessel of any size changes."""


@dataclass(frozen=True)
class EventResult:
    """What becomes of one event: as expected, and with everything that may be off."""

    event: Event
    start_pressure: Qty
    """In the gallery when the pump lets go: vessel settled at it."""
    stored: Qty
    """Oil in the vessel then."""
    demand: Qty
    """What the engine takes at that pressure."""
    protected_time: Qty
    """As expected; infinite if longer than the kit watches."""
    protected_low: Qty
    """One draw in ten is protected for less than this, one in ten for more than ``protected_high``."""
    protected_high: Qty
    lowest_pressure: Qty
    """In the event, as expected; so the two below."""
    lowest_low: Qty
    lowest_high: Qty
    share: float
    """Of all draws, how many are protected from beginning to end."""
    verdict: str
    """``protected``, ``pressure too low``, ``demand too high``, ``no capacity`` or ``another pre-charge``; without the
    whole sheet ``not protected`` for the last two."""
    words: str


@dataclass(frozen=True)
class Swing:
    """One bar of the tornado chart: an input at its low and its high, and what that does to the protected time."""

    name: str
    low: str
    """The input at its low, in words with its unit; so ``high``."""
    high: str
    at_low: Qty
    """Protected time in the hardest event."""
    at_high: Qty
    turns: bool
    """Whether one of the two leaves an event unprotected that is protected as expected."""

    @property
    def size(self) -> float:
        """Seconds between both ends."""
        return abs(float(self.at_high.m_as("s")) - float(self.at_low.m_as("s")))


@dataclass(frozen=True)
class Top:
    """How the choice of the pre-charge matters in the hardest event, with everything uncertain."""

    precharge: Qty
    """Shape (m,), at working temperature."""
    share: Any
    """Of all draws, protected: shape (m,)."""
    best: Qty
    best_share: float
    flat_from: Qty
    """The pre-charges between protect at most 5 % fewer draws than the best."""
    flat_to: Qty


@dataclass(frozen=True)
class HoseRow:
    """One hose, tried in place of the set-up's own."""

    hose: Hose
    own: bool
    drop: Qty
    """From vessel to gallery, fittings and valve with it, at the engine's demand in the hardest event."""
    first_dip: Qty
    """Lowest gallery pressure in the first 0.3 s."""
    protected_time: Qty


@dataclass(frozen=True)
class PanLevel:
    state: str
    oil: Qty
    """In the pan; below 0: so much is missing."""
    level: Qty
    words: str


@dataclass(frozen=True)
class BuildSheet:
    """One page for the shop: see `build_sheet`."""

    build: Build = field(repr=False)
    verdict: str
    """In a sentence or two: whether this vessel helps, and if not, why and what would."""
    no_vessel_helps: bool
    precharge_hot: Qty
    """What the gas gauge reads at working temperature and altitude with the oil side empty."""
    precharge_to_set: Qty
    """In the shop, with the oil side relieved."""
    setting_error: Qty
    """Largest error of the shop's gauge."""
    hot_if_gauge_errs: tuple[Qty, Qty]
    """What the hot pre-charge then is at the least and at the most."""
    events: tuple[EventResult, ...]
    hardest: EventResult
    oil_to_add: Qty
    running_pressure: Qty
    """The highest start pressure of the events: the vessel is full at this one."""
    budget: OilBudget = field(repr=False)
    pan: tuple[PanLevel, ...]
    idle_pressure: Qty
    """Hot."""
    highest: tuple[str, Qty]
    """Where the highest pressure that the vessel is to stand comes from, and that pressure."""
    night: Overnight | None = field(repr=False)
    morning: PreLube | None = field(repr=False)
    tornado: tuple[Swing, ...]
    """Largest first."""
    top: Top | None
    line: tuple[HoseRow, ...]
    acceptance: tuple[AcceptanceValue, ...] = field(repr=False)
    no_acceptance: str
    """Why there are none, if so."""
    assumptions: tuple[str, ...] = field(repr=False)
    cautions: tuple[str, ...] = field(repr=False)
    draws: int
    seed: int

    @property
    def matter_most(self) -> tuple[str, ...]:
        """The three inputs that move the protected time most."""
        return tuple(swing.name for swing in self.tornado[:3] if swing.size > 0.0)


# --------------------------------------------------------------------------------------------------- uncertain inputs


@dataclass(frozen=True)
class _Input:
    """One uncertain input: its name on the sheet, and how its ends are said."""

    name: str
    say: Callable[[float], str]
    """From standard deviations off to words."""


def _inputs(build: Build) -> list[_Input]:
    """In the order of the rows of a matrix of standard deviations."""
    u = build.uncertain.si
    driving, estimates = build.driving.si, build.estimates.si

    def around(kind: Kind, middle: float, spread: float) -> Any:
        return lambda z: kind.both(middle + spread * z)

    def off(kind: Kind, spread: float) -> Any:
        return lambda z: f"{'+' if z > 0 else '−'}{kind.both(abs(spread * z))}"

    def times(spread: float) -> Any:
        return lambda z: f"times {math.exp(spread * z):.2f}"

    sump = around(TEMPERATURE, driving.sump_temperature, u.sump_temperature)
    line = around(TEMPERATURE, driving.line_temperature, u.line_temperature)
    gas = around(TEMPERATURE, driving.gas_temperature, u.gas_temperature)

    def seal(z: float) -> str:
        return PRESSURE_DIFFERENCE.both(max(estimates.seal_friction + u.seal_friction * z, 0.0))

    return [
        _Input("clearance of mains and rods", off(CLEARANCE_CHANGE, u.clearance)),
        _Input("oil temperature, sump", sump),
        _Input("oil temperature, line", line),
        _Input("gas temperature", gas),
        _Input("pre-charge as set", off(PRESSURE_DIFFERENCE, u.precharge)),
        _Input("pressure when the pump lets go", off(PRESSURE_DIFFERENCE, u.start_pressure)),
        _Input("how fast the pump fades", times(u.pump_decay)),
        _Input("the gas's time constant", times(u.thermal_time_constant)),
        _Input("seal friction", seal),
        _Input(LENGTH_NAME, times(u.event_length)),
    ]


INPUTS, LENGTH_NAME = 10, "length of the event"
CLEARANCE, SUMP, LINE, GAS, CHARGE, START, DECAY, TAU, SEAL, LENGTH = range(INPUTS)


@dataclass(frozen=True)
class _Cases:
    """Many variants of one event, in SI: the conditions of a discharge and the event's length, each of shape (n,)."""

    conditions: dict[str, Any]
    lasts: Any


def _vary(build: Build, events: Sequence[Event], z: Any, precharge_hot: Any = None, change: Any = None) -> _Cases:
    """The variants of each event that lie so many standard deviations from what is expected. z: shape (INPUTS, n).

    precharge_hot, change: instead of the set-up's own; single or of shape (n,). All variants of the first event come
    first, then those of the second.
    """
    u, driving, shop, e = build.uncertain.si, build.driving.si, build.shop.si, [event.si for event in events]
    estimates, engine, oil = build.estimates.si, build.engine.si, build.oil.si
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
    tightest = -0.9 * min(engine.mains.diametral_clearance, engine.rods.diametral_clearance)
    loose = np.maximum(middle + u.clearance * z[CLEARANCE], tightest)
    sump = np.clip(driving.sump_temperature + u.sump_temperature * z[SUMP], low, high)
    line = np.clip(driving.line_temperature + u.line_temperature * z[LINE], low, high)
    gas = np.clip(driving.gas_temperature + u.gas_temperature * z[GAS], low, high)
    # the gas that is shut in was measured in the shop: what is off there, and the gas's temperature, show on the track
    as_set = precharge_to_set.si(hot, shop.temperature, driving.gas_temperature, there, here) + u.precharge * z[CHARGE]
    charge = precharge_at_temperature.si(np.maximum(as_set, -there + 1e3), shop.temperature, gas, there, here)
    speed = of_each("speed")
    running = operating_point(
        build.engine, build.oil, SPEED.quantity(speed), Q(sump, "K"), CLEARANCE_CHANGE.quantity(loose)
    ).gallery_pressure.m_as("Pag")
    head = density_of(oil, line) * (of_each("acceleration") * build.line.si.reach + GRAVITY * build.line.si.height)
    given = {
        "precharge": charge,
        "pressure": np.maximum(running + u.start_pressure * z[START], LEAST_PRESSURE),
        "speed": speed,
        "sump_temperature": sump,
        "line_temperature": line,
        "gas_temperature": gas,
        "thermal_time_constant": estimates.thermal_time_constant * np.exp(u.thermal_time_constant * z[TAU]),
        "clearance_change": loose,
        "line_length": math.nan,
        "pump_decay": of_each("pump_decay") * np.exp(u.pump_decay * z[DECAY]),
        "seal_friction": np.maximum(estimates.seal_friction + u.seal_friction * z[SEAL], 0.0),
        "head": head,
        "air_in_gallery": estimates.air_in_gallery,
        "leak": estimates.check_valve_leak,
        "limit": build.limits.si.lowest_pressure,
        "tolerance": build.limits.si.tolerance,
        "ambient": here,
    }
    assert given.keys() == CONDITIONS.keys()
    shaped = {name: np.broadcast_to(np.asarray(value, dtype=float), speed.shape) for name, value in given.items()}
    return _Cases(shaped, of_each("lasts") * np.exp(u.event_length * z[LENGTH]))


def _follow(built: Installation, cases: _Cases, seconds: Any = None, accuracy: float = ACCURACY) -> tuple[Any, Any]:
    """Protected times of many variants, watched to the horizon; or with seconds, lowest pressures up to then."""
    from oilkit.physics import dynamics

    numbers = dict(cases.conditions)
    if seconds is not None:
        numbers["tolerance"] = np.full_like(numbers["pressure"], FORGIVING)
    until = np.full_like(numbers["pressure"], HORIZON) if seconds is None else seconds
    try:
        with np.errstate(all="ignore"):
            rows, starts = cases_of(built, numbers)
            result = dynamics.many(rows, *pump_lets_go(numbers, until), starts, accuracy)
    except ArithmeticError:
        wanted = "numbers that an engine could have"
        raise InputError("the set-up", "numbers with which the simulation comes to no end", wanted) from None
    return result[:, dynamics.PROTECTED], result[:, dynamics.LOWEST]


def _dice(draws: int, seed: int) -> Any:
    """Standard deviations off, shape (INPUTS, draws): normal, each input in equal steps of probability, shuffled.

    A Latin hypercube: so even few draws take each input as seldom low and as seldom high as it is.
    """
    from scipy.special import ndtri  # here, because it costs time that the first lessons never need

    shuffled = np.random.default_rng(seed).permuted(np.tile(np.arange(draws), (INPUTS, 1)), axis=1)
    return np.clip(ndtri((shuffled + 0.5) / draws), -FARTHEST, FARTHEST)


def _nothing_off(count: int = 1) -> Any:
    return np.zeros((INPUTS, count))


# ---------------------------------------------------------------------------------------------------------- the sheet


@public
def build_sheet(build: Build, draws: Draws = 60, seed: Seed = 7, whole: bool = True) -> BuildSheet:
    """The build sheet of a set-up: what to set and add in the shop, what it does on the track, and what may be off.

    draws: how many variants of each event are drawn for the spread, 1 to 10 000, with a seed (a Latin hypercube):
    normal, lengths and times log-normal, never beyond 2.5 standard deviations. whole: False leaves out other hoses,
    other pre-charges, what would help, and the acceptance values, which take longest. Raises `InputError`.
    Source: the functions of the earlier lessons; the spreads are the set-up's own.

    >>> from oilkit.build.setup_file import demo_set_ups
    >>> sheet = build_sheet(demo_set_ups()["street V8"], whole=False)
    >>> print(f"set {sheet.precharge_to_set:.1f~}, add {sheet.oil_to_add:.1f~}")
    set 15.2 psig, add 2.3 qt
    """
    chosen, here = build.choice.precharge, build.track_ambient
    there = build.shop_ambient
    way = (build.shop.temperature, build.driving.gas_temperature, there, here)
    to_set = precharge_to_set(chosen, *way)
    error = gauge_error(build.shop.gauge_full_scale, build.shop.gauge_class)
    misread = to_set.m_as("Pag") + np.array([-1.0, 1.0]) * error.m_as("Pa")
    lowest_set = -there.m_as("Paa") + 1.0
    hot_if: Any = precharge_at_temperature(Q(np.maximum(misread, lowest_set), "Pag"), *way)

    results, varied = _events(build, draws, seed, whole)
    hardest = min(results, key=lambda r: (r.share, float(r.protected_time.m) / float(r.event.lasts.m_as("s"))))
    ends = [build.engine.idle.m_as("rpm"), build.engine.redline.m_as("rpm")]
    settled: Any = operating_point(
        build.engine, build.oil, Q(ends, "rpm"), build.driving.sump_temperature, build.driving.clearance_change
    )
    settled_at_vessel = settled.pump_pressure if build.installation.tee_before_filter else settled.gallery_pressure
    running = max((r.start_pressure for r in results), key=lambda pressure: float(pressure.m))
    budget, levels = _oil(build, running, settled.demand.total)
    night, morning = _cold_start(build, running)
    card, no_card = _acceptance(build) if whole else ((), "")
    sheet = BuildSheet(
        build=build,
        verdict="",
        no_vessel_helps=all(r.verdict in NO_VESSEL for r in results),
        precharge_hot=chosen,
        precharge_to_set=to_set,
        setting_error=error,
        hot_if_gauge_errs=(hot_if[0], hot_if[1]),
        events=results,
        hardest=hardest,
        oil_to_add=budget.oil_to_add,
        running_pressure=running,
        budget=budget,
        pan=levels,
        idle_pressure=settled.gallery_pressure[0],
        highest=_highest(build, to_set, error, running, settled_at_vessel[1]),
        night=night,
        morning=morning,
        tornado=_tornado(build, hardest, varied[results.index(hardest)]),
        top=_top(build, hardest, draws, seed) if whole else None,
        line=_other_hoses(build, hardest) if whole else (),
        acceptance=card,
        no_acceptance=no_card,
        assumptions=(),
        cautions=(),
        draws=draws,
        seed=seed,
    )
    return replace(sheet, verdict=_verdict(sheet), assumptions=_assumptions(sheet), cautions=_cautions(sheet))


def _highest(build: Build, to_set: Qty, error: Qty, running: Qty, at_redline: Qty) -> tuple[str, Qty]:
    """The highest pressure that the vessel is to stand as planned, and where it comes from."""
    found = {
        "hot at the redline": at_redline,
        "before an event": running,
        "the pre-charge, hot": build.choice.precharge,
        "the pre-charge as set, by a gauge that errs": GAUGE.quantity(to_set.m_as("Pag") + error.m_as("Pa")),
    }
    return max(found.items(), key=lambda item: float(item[1].m_as("Pag")))


def _events(build: Build, draws: int, seed: int, whole: bool) -> tuple[tuple[EventResult, ...], list[Any]]:
    """Each event: first as expected, then each input at its low and its high, then the draws, in one go."""
    dice = _dice(draws, seed)
    single = np.concatenate([_nothing_off(), -np.eye(INPUTS), np.eye(INPUTS)], axis=1)
    cases = _vary(build, build.events, np.concatenate([single, dice], axis=1))
    rows = (len(build.events), -1)
    protected, _ = _follow(build.installation, cases, accuracy=ACCURACY if whole else QUICK)
    protected, lengths = protected.reshape(rows), cases.lasts.reshape(rows)
    singles = single.shape[1]
    # lowest pressures: not for the tornado's variants
    kept = np.ones(lengths.shape, dtype=bool)
    kept[:, 1:singles] = False
    some = _Cases({name: values[kept.ravel()] for name, values in cases.conditions.items()}, cases.lasts[kept.ravel()])
    lowest = _follow(build.installation, some, some.lasts, ACCURACY if whole else QUICK)[1].reshape(rows)
    lowest = np.maximum(lowest, 0.0)  # as a gauge shows it
    starts = cases.conditions["pressure"].reshape(rows)[:, 0]
    charge = cases.conditions["precharge"][0]
    demand = engine_demand(
        build.engine,
        build.oil,
        GAUGE.quantity(starts),
        SPEED.quantity(np.array([event.si.speed for event in build.events])),
        build.driving.sump_temperature,
        build.driving.clearance_change,
    ).total.m_as("m**3/s")
    stored = oil_stored.si(build.vessel.si.gas_volume, charge, starts, build.track_ambient.m_as("Paa"), resting=True)
    found = []
    for k, event in enumerate(build.events):
        drawn = protected[k, singles:]
        result = EventResult(
            event=event,
            start_pressure=GAUGE.quantity(float(starts[k])),
            stored=OIL.quantity(float(stored[k])),
            demand=kinds.THROUGH_FLOW.quantity(float(demand[k])),
            protected_time=TIME.quantity(float(protected[k, 0])),
            protected_low=TIME.quantity(_at_share(drawn, 0.1)),
            protected_high=TIME.quantity(_at_share(drawn, 0.9)),
            lowest_pressure=GAUGE.quantity(float(lowest[k, 0])),
            lowest_low=GAUGE.quantity(_at_share(lowest[k, 1:], 0.1)),
            lowest_high=GAUGE.quantity(_at_share(lowest[k, 1:], 0.9)),
            share=float(np.mean(drawn >= lengths[k, singles:])),
            verdict="",
            words="",
        )
        verdict, words = _judge(build, result, bool(protected[k, 0] >= event.si.lasts), whole)
        found.append(replace(result, verdict=verdict, words=words))
    return tuple(found), [(protected[k, :singles], lengths[k, :singles]) for k in range(len(build.events))]


def _at_share(values: Any, part: float) -> float:
    """The value below which that part of all lies; one of them, so that an infinite one stays what it is."""
    return float(np.sort(values)[min(int(part * len(values)), len(values) - 1)])


def _judge(build: Build, result: EventResult, protected: bool, whole: bool) -> tuple[str, str]:
    """Whether this vessel helps in an event; if not, why, and with the whole sheet what would help."""
    event, limit = result.event, build.limits.lowest_pressure
    start, lowest = float(result.start_pressure.m_as("Pag")), build.limits.si.lowest_pressure
    lasts = text(event.lasts)
    holds = lasting(result.protected_time)
    if start <= lowest:
        return PUMP_TOO_WEAK, (
            f"even with all its oil the pump gives {text(result.start_pressure)} here, and the limit is "
            f"{text(limit)}: "
            "no vessel can give more than it was given. Close the clearances, cool or thicken the oil, or fit a "
            "larger "
            "pump."
        )
    if protected:
        margin = float(result.protected_time.m) / event.si.lasts
        little = "" if margin > 1.25 else ", with little to spare"
        return PROTECTED, f"the vessel lasts {holds} for an event of {lasts}{little}."
    drive = max(start - lowest + _head(build, event), 0.0)
    takes, passed = _takes_at_limit(build, event), _passes(build, build.hose, drive)
    if passed <= takes:
        return LINE_TOO_NARROW, (
            f"at {text(limit)} the engine takes {text(kinds.THROUGH_FLOW.quantity(takes))}, and the "
            f"{text(PRESSURE_DIFFERENCE.quantity(drive))} that are then left drive "
            f"{text(kinds.THROUGH_FLOW.quantity(passed))} through this line: a larger vessel changes nothing. "
            f"{_wider(build, drive, takes) if whole else ''}"
        ).rstrip()
    if not whole:
        return NOT_PROTECTED, f"the vessel lasts {holds}, and the event {lasts}. The whole sheet says what would help."
    return _what_helps(build, result, holds)


def _wider(build: Build, drive: float, takes: float) -> str:
    """Whether one of the kit's hoses would pass enough."""
    for hose in sorted(hoses().values(), key=lambda hose: float(hose.si.bore)):
        if hose.si.bore > build.hose.si.bore and _passes(build, hose, drive) > takes:
            return f"A hose with a bore of {kinds.BORE.both(hose.si.bore)} would pass enough."
    return (
        "No hose of the kit passes enough with these fittings: widen valve and ports, measure the demand, and "
        "close the "
        "clearances."
    )


def _what_helps(build: Build, result: EventResult, holds: str) -> tuple[str, str]:
    """For an event that the vessel does not outlast: another pre-charge, a larger vessel, or smaller clearances."""
    event, lasts = result.event, text(result.event.lasts)
    best, longest = _best_charges(build, event, [build.vessel.si.gas_volume])[0]
    if longest >= event.si.lasts:
        return WRONG_CHARGE, (
            f"with {text(build.choice.precharge)} the vessel holds {text(result.stored)} and lasts {holds}; with "
            f"about "
            f"{text(GAUGE.quantity(best))} it would last {lasting(TIME.quantity(longest))}, and the event is {lasts}."
        )
    larger = [build.vessel.si.gas_volume * times for times in TRIED]
    enough = [
        (volume, charge)
        for volume, (charge, time) in zip(larger, _best_charges(build, event, larger), strict=True)
        if time >= event.si.lasts
    ]
    cures = [f"not even {TRIED[-1]:.0f} times its volume would last"]
    if enough:
        volume, charge = (text(kind.quantity(value)) for kind, value in zip((VOLUME, GAUGE), enough[0], strict=True))
        cures = [f"a vessel of about {volume} with {charge} would"]
    engine = build.engine.si
    for change in TIGHTER:
        total = build.driving.si.clearance_change + change
        usual = [usual_clearance.si(part.diameter) for part in (engine.mains, engine.rods)]
        left = [part.diametral_clearance + total for part in (engine.mains, engine.rods)]
        if any(kept < least for kept, least in zip(left, usual, strict=True)):
            break  # tighter than the trade builds them is no advice
        if _best_charges(build, event, [build.vessel.si.gas_volume], total)[0][1] >= event.si.lasts:
            cures.append(f"so would mains and rods {text(Q(-change, 'm').to('thou'))} tighter with this vessel")
            break
    return NO_CAPACITY, (
        f"the vessel holds {text(result.stored)} and lasts {holds}, the event {lasts}; no pre-charge makes it last: "
        f"{'; '.join(cures)}."
    )


def _head(build: Build, event: Event) -> float:
    rho = density_of(build.oil.si, build.driving.si.line_temperature)
    return float(rho * (event.si.acceleration * build.line.si.reach + GRAVITY * build.line.si.height))


def _takes_at_limit(build: Build, event: Event) -> float:
    taken = engine_demand(
        build.engine, build.oil, build.limits.lowest_pressure, event.speed, build.driving.sump_temperature,
        build.driving.clearance_change,
    )  # fmt: skip
    return float(taken.total.m_as("m**3/s"))


def _passes(build: Build, hose: Hose, drive: float) -> float:
    """Flow that a pressure difference drives through the line with some hose. SI."""
    oil, warm = build.oil.si, build.driving.si.line_temperature
    line = SupplyLine(hose, build.line.length, (*build.fittings, build.valve))
    element = build.engine.filter if build.line.tee == "before the filter" else None
    passed = supply_flow(
        line, PRESSURE_DIFFERENCE.quantity(drive), kinds.DENSITY.quantity(density_of(oil, warm)),
        kinds.DYNAMIC_VISCOSITY.quantity(viscosity_of(oil, warm)), element,
        kinds.DYNAMIC_VISCOSITY.quantity(viscosity_of(oil, build.driving.si.sump_temperature)) if element else None,
    )  # fmt: skip
    return float(passed.m_as("m**3/s"))


def _best_charges(build: Build, event: Event, volumes: Sequence[float], change: float | None = None) -> list[Any]:
    """For each gas volume, of a few pre-charges (hot, SI) the one that lasts longest as expected, and how long."""
    start = float(_vary(build, (event,), _nothing_off(), change=change).conditions["pressure"][0])
    charges = np.linspace(0.05, 0.95, CHARGES) * max(start, 2.0 * LEAST_PRESSURE)
    cases = _vary(build, (event,), _nothing_off(CHARGES), charges, change)
    found = []
    for volume in volumes:
        vessel = replace(build.vessel, gas_volume=VOLUME.quantity(volume))
        protected, _ = _follow(replace(build.installation, vessel=vessel), cases, accuracy=QUICK)
        best = int(np.argmax(protected))
        found.append((float(charges[best]), float(protected[best])))
        if protected[best] >= event.si.lasts:
            break
    return found + [(0.0, 0.0)] * (len(volumes) - len(found))


def _tornado(build: Build, hardest: EventResult, varied: Any) -> tuple[Swing, ...]:
    protected, lasts = (np.minimum(values, HORIZON) for values in varied)
    safe = protected[0] >= lasts[0]
    swings = []
    for k, item in enumerate(_inputs(build)):
        low, high = 1 + k, 1 + INPUTS + k
        turns = bool(safe and (protected[low] < lasts[low] or protected[high] < lasts[high]))
        at = [float(protected[low]), float(protected[high])]
        if k == LENGTH:  # it moves the goal, not the time: what is left over, as if the event stayed as long
            at = [float(protected[0] + lasts[0] - lasts[row]) for row in (low, high)]
        swings.append(
            Swing(item.name, item.say(-1.0), item.say(1.0), TIME.quantity(at[0]), TIME.quantity(at[1]), turns)
        )
    return tuple(sorted(swings, key=lambda swing: -swing.size))


def _top(build: Build, hardest: EventResult, draws: int, seed: int) -> Top:
    """Share of the draws (60 of them at the most) protected over the pre-charge, in the hardest event."""
    start = max(float(hardest.start_pressure.m_as("Pag")), 2.0 * LEAST_PRESSURE)
    charges = np.unique(np.append(np.linspace(0.04, 1.0, 17) * start, build.choice.si.precharge))
    fewer = min(draws, 60)
    dice = _dice(fewer, seed)
    cases = _vary(build, (hardest.event,), np.tile(dice, charges.size), np.repeat(charges, fewer))
    protected, _ = _follow(build.installation, cases)
    share = np.mean((protected >= cases.lasts).reshape(charges.size, fewer), axis=1)
    tops = np.flatnonzero(share >= np.max(share) - 1e-12)
    best = int(tops[tops.size // 2])
    near = share >= share[best] - FLAT - 1e-12
    first = last = best
    while first > 0 and near[first - 1]:
        first -= 1
    while last < charges.size - 1 and near[last + 1]:
        last += 1
    return Top(
        precharge=GAUGE.quantity(charges),
        share=share,
        best=GAUGE.quantity(float(charges[best])),
        best_share=float(share[best]),
        flat_from=GAUGE.quantity(float(charges[first])),
        flat_to=GAUGE.quantity(float(charges[last])),
    )


def _other_hoses(build: Build, hardest: EventResult) -> tuple[HoseRow, ...]:
    """The set-up's own hose beside each bore of the kit's list."""
    oil, warm = build.oil.si, build.driving.si.line_temperature
    rho, mu = kinds.DENSITY.quantity(density_of(oil, warm)), kinds.DYNAMIC_VISCOSITY.quantity(viscosity_of(oil, warm))
    own = build.hose
    others = [hose for hose in hoses().values() if abs(hose.si.bore - own.si.bore) > 1e-6]
    cases = _vary(build, (hardest.event,), _nothing_off())
    rows = []
    for hose in sorted([own, *others], key=lambda hose: hose.si.bore):
        line = SupplyLine(hose, build.line.length, (*build.fittings, build.valve))
        built = replace(build.installation, line=line)
        protected, _ = _follow(built, cases)
        _, dip = _follow(built, cases, np.full(1, FIRST_MOMENTS))
        rows.append(
            HoseRow(
                hose=hose,
                own=hose is own,
                drop=supply_drop(line, hardest.demand, rho, mu),
                first_dip=GAUGE.quantity(float(dip[0])),
                protected_time=TIME.quantity(float(protected[0])),
            )
        )
    return tuple(rows)


def _oil(build: Build, running: Qty, takes: Qty) -> tuple[OilBudget, tuple[PanLevel, ...]]:
    """Where every quart is, and how high it stands in the pan. takes: the engine's demand at idle and at redline."""
    engine, pan = build.engine, build.engine.si.pan
    shape = (pan.sump_area, pan.sump_depth, pan.upper_area)
    held = oil_stored(build.vessel.gas_volume, build.choice.precharge, running, build.track_ambient, resting=True)
    idle, fast = (oil_in_flight(flow, engine.drain_time) for flow in takes)
    budget = oil_budget(
        pan_at_full_mark=OIL.quantity(float(pan_volume.si(pan.full_height, *shape))),
        vessel=held,
        line=build.line_without_valve.volume,
        filter_volume=engine.filter.volume,
        cooler=engine.cooler.volume if engine.cooler else OIL.quantity(0.0),
        galleries=engine.gallery_volume,
        in_flight=fast,
        vessel_while_filling=held / 2.0,
        in_flight_at_idle=idle,
    )
    levels = []
    for state, where in budget.states.items():
        oil = OIL.from_display(float(where["pan"].m), "US")
        level = kinds.DISTANCE.quantity(float(pan_level.si(max(oil, 0.0), *shape)))
        words = level_in_words(level, engine.pan)
        levels.append(
            PanLevel(state, where["pan"], level, "there is not so much oil in the engine" if oil < 0.0 else words)
        )
    return budget, tuple(levels)


def _cold_start(build: Build, running: Qty) -> tuple[Overnight | None, PreLube | None]:
    """The night and the morning; none of either if the vessel holds no oil or would stand above its rating."""
    full = running.m_as("Pag")
    if full <= build.choice.si.precharge or full > build.vessel.si.rated_pressure:
        return None, None
    warm, here, cold = build.driving.gas_temperature, build.track_ambient, build.morning.temperature
    night = overnight(
        build.vessel,
        build.oil,
        build.choice.precharge,
        running,
        warm,
        build.driving.line_temperature,
        cold,
        ambient=here,
    )
    built = replace(build.installation, line=build.line_without_valve)
    opening = build.morning.si.opening_time
    morning = pre_lube(
        built, build.valve, night.precharge, night.pressure, cold, build.morning.empty_galleries,
        build.morning.wait_for, build.morning.opening_time, build.estimates.thermal_time_constant,
        build.estimates.check_valve_leak,
        TIME.quantity(max(HORIZON, 2.0 * opening)), here,
    )  # fmt: skip
    return night, morning


def as_handed_over(build: Build) -> SetUp:
    """The set-up in its shop, healthy, as `oilkit.acceptance_card` takes it."""
    there = build.shop_ambient
    to_set = precharge_to_set(
        build.choice.precharge, build.shop.temperature, build.driving.gas_temperature, there, build.track_ambient
    )
    return SetUp(
        replace(build.installation, line=build.line_without_valve),
        build.valve,
        Condition(
            precharge=to_set,
            shop_temperature=build.shop.temperature,
            sump_temperature=build.driving.sump_temperature,
            line_temperature=build.driving.line_temperature,
            gas_temperature=build.driving.gas_temperature,
            thermal_time_constant=build.estimates.thermal_time_constant,
            ambient=there,
            clearance_change=build.driving.clearance_change,
            air_in_gallery=build.estimates.air_in_gallery,
            seal_friction=build.estimates.seal_friction,
            check_leak=build.estimates.check_valve_leak,
        ),
    )


def _acceptance(build: Build) -> tuple[tuple[AcceptanceValue, ...], str]:
    """The card, or none and why."""
    try:
        with np.errstate(all="ignore"):
            card = tuple(acceptance_card(as_handed_over(build)))
    except (InputError, ArithmeticError) as problem:
        reason = "they come to no end"
        if isinstance(problem, InputError):
            reason = f"within their spread {problem.argument} would be {problem.got}; wanted {problem.wanted}"
        return (), f"no acceptance values: {reason}."
    return card, ""


# -------------------------------------------------------------------------------------------------------------- words


def _stop(sheet: BuildSheet) -> str:
    """Said first of all where the vessel would be taken above its rating."""
    rated = sheet.build.vessel.rated_pressure
    where, highest = sheet.highest
    if float(highest.m_as("Pag")) <= float(rated.m_as("Pag")):
        return ""
    return f"STOP: {text(highest)}, {where}, is above the vessel's rating of {text(rated)}. Do not build this."


def _verdict(sheet: BuildSheet) -> str:
    stop = _stop(sheet)
    return f"{stop} {_outcome(sheet)}" if stop else _outcome(sheet)


def _outcome(sheet: BuildSheet) -> str:
    failing = [r for r in sheet.events if r.verdict != PROTECTED]
    if sheet.no_vessel_helps:
        return "No vessel helps here. " + " ".join(f"{_upper(r.event.name)}: {r.words}" for r in failing)
    if failing:
        rest = len(sheet.events) - len(failing)
        held = f" The other {rest} {'is' if rest == 1 else 'are'} protected." if rest else ""
        said = " ".join(f"{_upper(r.event.name)}, {r.verdict}: {r.words}" for r in failing)
        short = any(r.verdict == NO_CAPACITY for r in failing)
        buy = " Measure the engine's demand before you buy." if short else ""
        return f"This set-up does not protect {len(failing)} of {len(sheet.events)} events. {said}{buy}{held}"
    share = sheet.hardest.share
    how = "robust" if share >= ROBUST else "fair" if share >= FAIR else "fragile"
    return (
        f"As expected, the vessel protects {'the event' if len(sheet.events) == 1 else 'every event'}. With "
        f"everything that "
        f"may be off the hardest, “{sheet.hardest.event.name}”, is protected in {100 * share:.0f} % of "
        f"{sheet.draws} draws: {how}."
    )


def _upper(name: str) -> str:
    return name[:1].upper() + name[1:]


def _assumptions(sheet: BuildSheet) -> tuple[str, ...]:
    b = sheet.build
    said = [
        f"Hot means {text(b.driving.sump_temperature)} in the sump, {text(b.driving.line_temperature)} in the line "
        f"and in "
        f"the vessel's oil, {text(b.driving.gas_temperature)} in the gas, film {text(b.engine.film_rise)} above "
        f"the sump.",
        f"Shop {text(b.shop.temperature)} at {_height(b.shop.altitude)}, track at {_height(b.driving.altitude)}, "
        f"standard "
        "atmosphere; weather moves it by about 3 %.",
        "Each event begins with the vessel settled at the pressure that a full pump gives at its speed; the pump's "
        "flow then "
        "falls in a straight line to nothing.",
        f"Gas: ideal, one time constant of {text(b.estimates.thermal_time_constant)}. Seal friction "
        f"{text(b.estimates.seal_friction)}, check valve leak {text(b.estimates.check_valve_leak)} at 50 psi (3.45 "
        f"bar), air "
        f"in the gallery {100 * float(b.estimates.air_in_gallery.m):.0f} %.",
        "Bearings by slot flow, feed holes and turning as in lesson 05: where it can be, the engine's demand is to "
        "be measured.",
        f"Limit {text(b.limits.lowest_pressure)}, missed for {text(b.limits.tolerance)} at the most. Pressure is "
        f"not film: "
        "air that the pump draws still reaches the gallery.",
        f"Pan by two prisms; vessel full at {text(sheet.running_pressure)}; the oil's own growth when hot is left out.",
        "Acceptance: the gauges are lesson 09's (100 psi, class 1.6; one of low range), the spread from engine to "
        "engine and day to day as estimated there (no source). After the stop: from 3000 rpm, hot, valve held open; "
        "it costs the bearings a little, so once, when another reading cannot tell.",
        f"Spread: {sheet.draws} draws, seed {sheet.seed}, inputs independent, none beyond {FARTHEST:g} standard "
        f"deviations.",
    ]
    return tuple(said)


def _height(altitude: Qty) -> str:
    return f"{altitude.m_as('ft'):.0f} ft ({altitude.m_as('m'):.0f} m)"


def _cautions(sheet: BuildSheet) -> tuple[str, ...]:
    b = sheet.build
    stop = _stop(sheet)
    said = [stop] if stop else []
    said += b.questions
    if not stop and b.engine.si.pump.relief_rated_pressure > b.vessel.si.rated_pressure:
        said.append(
            f"The relief valve passes its full flow only at {text(b.engine.pump.relief_rated_pressure)}, above the "
            f"vessel's "
            f"rating of {text(b.vessel.rated_pressure)}: with cold oil keep the vessel shut off."
        )
    if float(sheet.precharge_to_set.m) < 0.0:
        said.append("No setting in the shop reaches so little hot: choose a higher pre-charge or a cooler vessel.")
    elif float(sheet.precharge_to_set.m_as("Pag")) > b.shop.si.gauge_full_scale:
        said.append(f"The shop's gauge ends at {text(b.shop.gauge_full_scale)}: it cannot show what is to be set.")
    elif float(sheet.setting_error.m_as("Pa")) > 0.1 * float(sheet.precharge_to_set.m_as("Pag")):
        said.append(f"The shop's gauge may err by {text(sheet.setting_error)}: take one with a smaller full scale.")
    if b.choice.si.precharge >= float(sheet.idle_pressure.m_as("Pag")):
        said.append(
            f"Hot idle gives {text(sheet.idle_pressure)}, less than the pre-charge: at idle the vessel empties and "
            f"cannot fill."
        )
    foul = [level for level in sheet.pan if level.words.startswith(("below", "above the windage", "there is not"))]
    said += [f"Pan, {level.state}: {level.words}." for level in foul]
    if sheet.morning is not None and math.isinf(sheet.morning.crank_after.m):
        said.append("Pre-lube: the galleries do not fill within the time watched. Warm engine and oil first.")
    if sheet.no_acceptance:
        said.append(_upper(sheet.no_acceptance))
    said += [
        "Compressed gas and hot oil hurt. Dry nitrogen through a regulator, never oxygen; relieve gas and oil side "
        "before "
        "you open anything; stay below the vessel's rating, cold and hot; keep hoses from exhaust and belts.",
        "The vessel's maker, local codes and licensed practice come first. Every number here comes from a model "
        "and from what "
        "was typed into it: accept the build by the gauges, not by this page.",
    ]
    return tuple(said)


# ------------------------------------------------------------------------------------------------------ side by side


@dataclass(frozen=True)
class Difference:
    """One line of a comparison of two set-ups."""

    name: str
    first: str
    second: str


@public
def input_differences(first: Build, second: Build) -> list[Difference]:
    """What was typed differently in two set-ups, by table and key.

    >>> from oilkit.build.setup_file import demo_set_ups
    >>> several = demo_set_ups()
    >>> for row in input_differences(several["street V8"], several["very cold shop"])[-1:]:
    ...     print(row.name, row.first, row.second)
    shop.temperature 65 degF -22 degF
    """
    from oilkit.quantities.records import values_in

    both = [dict(values_in("", build.document)) for build in (first, second)]
    keys = list(dict.fromkeys([*both[0], *both[1]]))
    rows = [(key, *(str(side.get(key, "–")) for side in both)) for key in keys]
    return [Difference(*row) for row in rows if row[1] != row[2]]


@public
def result_differences(first: BuildSheet, second: BuildSheet) -> list[Difference]:
    """What follows from two set-ups, side by side, in both systems of units."""
    return [
        Difference(*row)
        for row in ((name, a, b) for (name, a), (_, b) in zip(*map(_main, (first, second)), strict=True))
    ]


def _main(sheet: BuildSheet) -> list[tuple[str, str]]:
    hardest = sheet.hardest
    return [
        ("pre-charge, hot", text(sheet.precharge_hot)),
        ("pre-charge to set in the shop", text(sheet.precharge_to_set)),
        ("oil to add", text(sheet.oil_to_add)),
        ("hardest event", hardest.event.name),
        ("… it lasts", text(hardest.event.lasts)),
        ("… protected for", lasting(hardest.protected_time)),
        ("… lowest pressure in it", text(hardest.lowest_pressure)),
        ("… share of draws protected", f"{100 * hardest.share:.0f} %"),
        ("crank after", crank(sheet)),
        ("matters most", sheet.matter_most[0] if sheet.matter_most else "nothing"),
    ]


def lasting(time: Qty) -> str:
    """A protected time in words that can be infinite."""
    return text(time) if math.isfinite(float(time.m)) else f"longer than {HORIZON:.0f} s"


def no_morning(sheet: BuildSheet) -> str:
    """Why there is no pre-lube."""
    empty = float(sheet.running_pressure.m_as("Pag")) <= sheet.build.choice.si.precharge
    return "the vessel holds no oil" if empty else "not above the vessel's rating"


def crank(sheet: BuildSheet) -> str:
    """When to crank after a pre-lube, in words."""
    if sheet.morning is None:
        return no_morning(sheet)
    after = sheet.morning.crank_after
    return text(after) if math.isfinite(float(after.m)) else f"not within {HORIZON:.0f} s"
