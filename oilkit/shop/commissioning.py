"""Commissioning: charging, first fill, shut-down and oil change, step by step, in any order. (Lesson 09)

A procedure is a list of steps in the right order (`PROCEDURES`). `play` does them in any order on a model of the
whole: where the oil is, how much gas there is, what runs, what is open. A step that meets something else than in
the right order says what comes of it, in numbers. There is no physics of its own here: Boyle's law, pan, pump,
bearings, line, night and pre-lube come from the modules of their lessons. Oil keeps its volume (it swells 5 % from shop
to hot, in every place alike).

Beside it: what reading the charge costs (`charge_after_checks`), what a burst hose does (`burst_hose`), and when the
pan comes first (`pan_first`).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import cache, cached_property
from types import SimpleNamespace
from typing import Annotated, Any, TypeAlias

import numpy as np

from oilkit.errors import InputError
from oilkit.laps.lap import PickUp, surface_tilt
from oilkit.laps.logfile import Log
from oilkit.physics.catalog import bench_vessel, engines, fittings, hoses, lubricants
from oilkit.physics.discharging import (
    LEAST_GAS,
    Conditions,
    Installation,
    cases_of,
    discharge,
    every_condition,
    usual_si,
)
from oilkit.physics.engine import Engine, engine_demand, operating_point
from oilkit.physics.line import Fitting, SupplyLine, line_volume, way_flow, way_of
from oilkit.physics.night import overnight
from oilkit.physics.oil import density_of, viscosity_of
from oilkit.physics.pan import oil_in_flight, pan_level, pan_volume
from oilkit.physics.prelube import PreLube, Stall, pre_lube, stall
from oilkit.physics.pressure import STANDARD_ATMOSPHERE
from oilkit.physics.pump import pump_flow, relief_flow
from oilkit.physics.valve import orifice_flow, rated_drop
from oilkit.physics.vessel import oil_stored, precharge_to_set
from oilkit.quantities.checked import (
    Count,
    Fraction,
    Gauge,
    GaugeAboveZero,
    One,
    PanChange,
    Speed,
    Volume,
    WorkingTemperature,
    public,
)
from oilkit.quantities.kinds import BORE as BORE_KIND
from oilkit.quantities.kinds import (
    DISTANCE,
    FLOW,
    FRACTION,
    GAUGE,
    GAUGE_ABOVE_ZERO,
    OIL,
    PRESSURE_DIFFERENCE,
    SHARE,
    SPEED,
    TEMPERATURE,
    THROUGH_FLOW,
    TIME,
    WORKING_TEMPERATURE,
    Kind,
    one_to_si,
)
from oilkit.quantities.units import Q, Qty

DEAD_VOLUME = Kind(
    "a small volume", "m**3", "in**3", 2, "cm**3", 1, "Q(5, 'cm**3')", low=0.0, high=1e-3, above_low=False
)
DeadVolume: TypeAlias = Annotated[Any, DEAD_VOLUME]

AIR = float(STANDARD_ATMOSPHERE.to("Paa").m)
ASSUMED = 293.15
"""Who notes no temperature takes it to be this, 20 °C."""
HAND = 5.0
"""Seconds that a hand needs to shut again what should not have been opened (estimate, no source)."""
UNSEEN = 350.0
"""Pa, 0.05 psi: two charges that differ by less are the same on any gauge."""
SEEN, SEEN_OIL, SEEN_LEVEL, SEEN_SHARE = 700.0, 1e-5, 3e-4, 1e-3
"""Smaller differences of pressure (Pa), oil (m3), level (m) and share are not said once more when all is done."""
USUAL_LINE, AS_IT_IS = Q(60, "degC"), Q(0, "qt")
CAN = float(Q(20, "qt").to("m**3").m)
"""New oil that stands ready."""

# ---------------------------------------------------------------------------------------------------- the gauge check

GAUGE_AND_HOSE = Q(5, "cm**3")
"""Inside of a small charging gauge and its hose (estimate, from memory: 2 to 10 cm3; measure yours)."""


@public
def charge_after_checks(
    precharge: Gauge, gas_volume: Volume, checks: Count, dead_volume: DeadVolume = GAUGE_AND_HOSE
) -> Gauge:
    """What is left of a pre-charge after so many checks with a gauge that is put on and taken off each time.

    Gauge and hose come with air at ambient pressure, fill from the vessel, and are vented when they come off. Each time
    the *gauge* pressure falls to ``V / (V + v)`` of what it was, slowly and at one temperature.

    gas_volume: with the piston at the oil end; dead_volume: inside of gauge and hose; checks: how many, 0 or more.
    Shapes broadcast. Source: first principles (Boyle's law, two volumes joined and parted).

    >>> print(f"{charge_after_checks(Q(10, 'psig'), Q(3, 'qt'), 10, Q(5, 'cm**3')):.2f~}")
    9.83 psig
    """
    return precharge * (gas_volume / (gas_volume + dead_volume)) ** checks


# -------------------------------------------------------------------------------------------------------- the burst


@dataclass(frozen=True)
class BurstHose:
    """What a burst hose does: see `burst_hose`."""

    vessel_flow: Qty
    """Highest flow out of the vessel's end."""
    empty_after: Qty
    """When the vessel's piston has come home; infinite if not within a minute."""
    oil_lost: Qty
    """Out of the vessel, in that time."""
    engine_flow: Qty
    """Out of the engine's end, for as long as the pan has oil."""
    gallery_before: Qty
    gallery_pressure: Qty
    """What the pump still holds, with the engine's end open."""
    pan_lasts: Qty
    """Until the pan is down to the pick-up; infinite if nothing runs out."""


@public
def burst_hose(
    installation: Installation,
    valve: Fitting,
    precharge: One[Gauge],
    pressure: One[GaugeAboveZero],
    speed: One[Speed],
    oil_temperature: One[WorkingTemperature],
    gas_temperature: One[WorkingTemperature],
    line_temperature: One[WorkingTemperature] = USUAL_LINE,
    vessel_side: One[Fraction] = 0.5,
) -> BurstHose:
    """A hose bursts while the engine runs and the valve is open: both ends pour into the open.

    The vessel's end has the valve and its share of the hose before it, the engine's end the rest of the hose and the
    line's fittings. installation: its line without the valve. precharge, pressure: gauge, of the vessel, settled at
    ``gas_temperature``. vessel_side: share of the hose between valve and burst, 0 to 1. The pan stood at its full mark.
    Raises `InputError`, also for an end that nothing holds back. Source: first principles; vessel as in
    `oilkit.physics.dynamics` into the open air, engine as in `operating_point` with one more way out
    (`oilkit.physics.line`).

    >>> job = usual_job()
    >>> burst = burst_hose(job.installation, job.valve, Q(10, "psig"), Q(50, "psig"), Q(3000, "rpm"), Q(100, "degC"),
    ...                    Q(40, "degC"))
    >>> print(f"vessel empty after {burst.empty_after:.1f~}; gallery {burst.gallery_pressure:.0f~}")
    vessel empty after 1.1 s; gallery 1 psig
    """
    from oilkit.physics import dynamics  # here, because compiled code costs time that the first lessons never need

    line = installation.line
    near_vessel = SupplyLine(line.hose, line.length * max(vessel_side, 1e-6), (valve,))
    near_engine = SupplyLine(line.hose, line.length * (1.0 - vessel_side), line.fittings)
    given, _ = every_condition(
        {
            "precharge": precharge,
            "pressure": pressure,
            "speed": 0.0,
            "line_temperature": line_temperature,
            "gas_temperature": gas_temperature,
        },
        installation.vessel,
    )
    numbers = {name: np.ravel(value).astype(float) for name, value in given.items()}
    cases, starts = cases_of(replace(installation, line=near_vessel), numbers)
    case, start = cases[0], starts[0]
    case[dynamics.COMPLIANCE] = 1e9  # the open air: what flows in raises no pressure
    start[dynamics.P] = 0.0
    moments = np.concatenate([[0.0], np.geomspace(1e-3, 60.0, 400)])
    table = np.zeros((dynamics.INPUTS, 2))
    table[dynamics.OPENING] = 1.0
    result, followed = dynamics.one(case, np.array([0.0, 60.0]), table, start, 1e-6, moments)

    before, after, out, pan_oil = _open_gallery(installation, near_engine, speed, oil_temperature, line_temperature)
    pan = installation.engine.si.pan
    at_pickup = float(pan_volume.si(pan.pickup_height, *_shape(installation.engine)))
    held = start[dynamics.V] < installation.vessel.si.gas_volume
    return BurstHose(
        vessel_flow=THROUGH_FLOW.quantity(float(np.max(followed[:, dynamics.Q]))),
        empty_after=TIME.quantity(float(result[dynamics.BOTTOMED]) if held else 0.0),
        oil_lost=OIL.quantity(float(followed[-1, dynamics.V] - start[dynamics.V])),
        engine_flow=THROUGH_FLOW.quantity(out),
        gallery_before=GAUGE.quantity(before),
        gallery_pressure=GAUGE.quantity(after),
        pan_lasts=TIME.quantity(max(pan_oil - at_pickup, 0.0) / out if out > 0.0 else math.inf),
    )


def _open_gallery(
    installation: Installation, rest: SupplyLine, speed: float, hot: float, cold: float
) -> tuple[float, float, float, float]:
    """Gallery pressure before and after a way into the open is added to it, the flow out there, and oil in the pan."""
    from scipy.optimize import brentq  # here, because it costs a quarter of a second that most lessons never need

    engine, oil = installation.engine, installation.oil
    point = operating_point.si(engine, oil, speed, hot)
    before, given = float(point.gallery_pressure.m_as("Pag")), float(point.pump_flow.m_as("m**3/s"))
    rho, mu, thickness = density_of(oil.si, cold), viscosity_of(oil.si, cold), viscosity_of(oil.si, hot)
    way, e = way_of(rest), engine.si

    def let_out(pressure: float) -> float:
        return float(way_flow(way, pressure, rho, mu)) if pressure > 0.0 else 0.0

    def surplus(pressure: float) -> float:
        takes = engine_demand.si(engine, oil, pressure, speed, hot).total.m_as("m**3/s")
        through = float(takes) + let_out(pressure)
        at_pump = pressure + sum(float(rated_drop(p, through, thickness)) for p in (e.filter, e.cooler) if p)
        valve = e.pump.relief_opening, e.pump.relief_rated_pressure, e.pump.relief_rated_flow
        return given - through - float(relief_flow.si(at_pump, *valve))

    after = float(brentq(surplus, 0.0, before, xtol=1e-3)) if surplus(0.0) > 0.0 else 0.0
    flight = float(oil_in_flight.si(point.demand.total.m_as("m**3/s"), e.drain_time))
    return before, after, let_out(after), float(pan_volume.si(e.pan.full_height, *_shape(engine))) - flight


def _shape(engine: Engine) -> tuple[float, float, float]:
    pan = engine.si.pan
    return pan.sump_area, pan.sump_depth, pan.upper_area


# ----------------------------------------------------------------------------------------------- the pan comes first


@dataclass(frozen=True)
class PanFirst:
    """Whether a vessel is the answer, or the pan has to be put right first: see `pan_first`."""

    level: Qty
    """In the pan at speed, on a level road, vessel full."""
    uncovered: Qty
    """Share of the log in which the pick-up would draw more air than oil, the oil lying still in the tilted pan."""
    longest: Qty
    """The longest stretch of that."""
    lasts: Qty
    """What the vessel bridges at that speed (`discharge`); infinite if the pressure never falls below the limit."""
    reasons: tuple[str, ...]
    """Why a vessel is not the answer, in sentences; empty if nothing here speaks against it."""


@public
def pan_first(
    installation: Installation,
    log: Log,
    pan_change: One[PanChange] = AS_IT_IS,
    pickup: PickUp | None = None,
    **conditions: Conditions,
) -> PanFirst:
    """Put the questions that come before a vessel: is the pick-up covered, how often is it bare, and for how long?

    installation: with its valve in the line. log: of the track. pan_change: oil more or less than the full mark.
    conditions: of `discharge`, one value each; speed unless given the log's middle one, and the vessel settled at the
    pressure that the pump makes there. The lap is taken moment by moment: the oil lies still in the tilted pan, and the
    pick-up is bare where it would draw more air than oil (`PickUp.band`). Half of the lap bare counts as most of it
    (chosen, no source). Raises `InputError`.
    Source: `pan_level`, `surface_tilt`, `operating_point` and `discharge`.

    >>> from oilkit import kit_lap, usual_installation
    >>> print(pan_first(usual_installation(), kit_lap()).reasons)
    ()
    >>> found = pan_first(usual_installation(), kit_lap(), pan_change=Q(-3.5, "qt"))
    >>> print(found.reasons[0])
    The pick-up draws air on a level road: baffles, pan depth and oil level come first.
    """
    engine, time = installation.engine, log.si["time"]
    usual = {name: value[0] for name, value in usual_si().items()} | conditions
    speed = conditions.pop("speed", float(np.median(log.si["rpm"])))
    point = operating_point.si(engine, installation.oil, speed, usual["sump_temperature"], usual["clearance_change"])
    pressure = conditions.pop("pressure", point.gallery_pressure.m_as(GAUGE.si))
    pan, shape = engine.si.pan, _shape(engine)
    flight = float(oil_in_flight.si(point.demand.total.m_as("m**3/s"), engine.si.drain_time))
    stands = max(float(pan_volume.si(pan.full_height, *shape)) + pan_change - flight, 0.0)
    level = float(pan_level.si(stands, *shape))
    needed = pan.pickup_height + (pickup or PickUp()).si.band / 2.0
    bare = level - surface_tilt.si(log, pickup) < needed
    steps = np.diff(time, append=time[-1])
    uncovered = float(np.sum(steps[bare]) / (time[-1] - time[0]))
    longest = _longest_stretch(time, bare)
    run = discharge.si(installation, speed=speed, pressure=pressure, **conditions)
    lasts = float(run.protected_time.m)
    reasons = []
    if level < needed:
        reasons.append("The pick-up draws air on a level road: baffles, pan depth and oil level come first.")
    if uncovered >= 0.5:
        reasons.append(
            f"The pick-up is bare for {SHARE.text(uncovered)} of the lap: a vessel bridges gaps, and needs time "
            "between them to fill again."
        )
    if longest > lasts:
        reasons.append(
            f"The longest gap is {TIME.text(longest)} and this vessel bridges {TIME.text(lasts)}: shorten the gap in "
            "the pan first."
        )
    if pressure <= usual["precharge"]:
        reasons.append("The pump makes no more pressure than the pre-charge: the vessel never fills.")
    return PanFirst(
        level=DISTANCE.quantity(level),
        uncovered=Q(uncovered, "dimensionless"),
        longest=TIME.quantity(longest),
        lasts=TIME.quantity(lasts),
        reasons=tuple(reasons),
    )


def _longest_stretch(time: Any, bad: Any) -> float:
    """Time of the longest run of bad samples, from its first to the one after its last."""
    edge = np.diff(np.concatenate([[False], bad, [False]]).astype(int))
    first, after = np.flatnonzero(edge == 1), np.minimum(np.flatnonzero(edge == -1), time.size - 1)
    return float(np.max(time[after] - time[first], initial=0.0))


# ---------------------------------------------------------------------------------------------------------- the job

OFF, IDLE, FAST, RUNNING = "stands", "idles", "at fast idle", "at running pressure"


def _usual_built() -> Installation:
    line = SupplyLine(hoses()["trade_12"], Q(6, "ft"), (fittings()["port"],))
    return Installation(engines()["street_v8"], lubricants()["street"], bench_vessel(), line)


@dataclass(frozen=True)
class Job:
    """An installation and everything that the procedures need to know besides. The usual one is invented."""

    installation: Installation = field(default_factory=_usual_built)
    """Its line without the valve."""
    valve: Fitting = field(default_factory=lambda: fittings()["reduced_valve"])
    precharge: Qty = field(default_factory=lambda: Q(10, "psig"))
    """Wanted, with the gas at ``gas_temperature``."""
    found: Qty = field(default_factory=lambda: Q(4, "psig"))
    """What is left of an old charge, likewise."""
    gas_temperature: Qty = field(default_factory=lambda: Q(40, "degC"))
    """While the engine runs, and in the vessel just after."""
    shop_temperature: Qty = field(default_factory=lambda: Q(5, "degC"))
    oil_temperature: Qty = field(default_factory=lambda: Q(100, "degC"))
    fast_idle: Qty = field(default_factory=lambda: Q(1000, "rpm"))
    running: Qty = field(default_factory=lambda: Q(3000, "rpm"))
    """Speed at which the engine makes its running pressure."""
    pan_low: Qty = field(default_factory=lambda: Q(2, "qt"))
    """How much the pan lacks of its full mark before the first fill."""
    bleed: Qty = field(default_factory=lambda: Q(3, "mm"))
    """Bore through which oil comes out where a bleed is opened or a fitting loosened (estimate, no source)."""
    full_scale: Qty = field(default_factory=lambda: Q(30, "psig"))
    """Of the low-range gauge."""
    leaks_a_day: Qty | float = 0.1
    """Share of its gauge pressure that a charge loses in a day through a valve core that does not seal (estimate)."""
    dead_volume: Qty = GAUGE_AND_HOSE

    @cached_property
    def numbers(self) -> SimpleNamespace:
        """Everything in SI that all procedures need, worked out once. Raises `InputError`."""
        built = self.installation
        if not isinstance(built, Installation):
            raise InputError("installation", f"a {type(built).__name__}", "an Installation")
        if not isinstance(self.valve, Fitting):
            raise InputError("valve", f"a {type(self.valve).__name__}", "a Fitting")
        n = SimpleNamespace()
        for name, kind in (
            ("precharge", GAUGE_ABOVE_ZERO),
            ("found", GAUGE_ABOVE_ZERO),
            ("gas_temperature", WORKING_TEMPERATURE),
            ("shop_temperature", WORKING_TEMPERATURE),
            ("oil_temperature", WORKING_TEMPERATURE),
            ("fast_idle", SPEED),
            ("running", SPEED),
            ("pan_low", OIL),
            ("bleed", BORE_KIND),
            ("full_scale", GAUGE_ABOVE_ZERO),
            ("leaks_a_day", FRACTION),
            ("dead_volume", DEAD_VOLUME),
        ):
            setattr(n, name, one_to_si(name, getattr(self, name), kind))
        engine, e = built.engine, built.engine.si
        turning = {IDLE: e.idle, FAST: n.fast_idle, RUNNING: n.running}
        for slower, faster, name, what in (
            (IDLE, FAST, "fast_idle", "the engine's idle speed"),
            (FAST, RUNNING, "running", "the fast idle"),
        ):
            if turning[faster] <= turning[slower]:
                got, least = SPEED.unlike(turning[faster], turning[slower]), SPEED.exact_text(turning[slower])
                raise InputError(name, got, f"more than {what} of {least}")
        points = operating_point(engine, built.oil, Q(list(turning.values()), "rev/s"), self.oil_temperature)
        pressures, takes = points.gallery_pressure.m_as("Pag"), points.demand.total.m_as("m**3/s")
        n.pressure = {OFF: 0.0} | {name: float(p) for name, p in zip(turning, pressures, strict=True)}
        n.flight = {OFF: 0.0} | {
            name: float(oil_in_flight.si(q, e.drain_time)) for name, q in zip(turning, takes, strict=True)
        }
        pump = e.pump
        n.pump = {
            name: float(pump_flow.si(s, pump.displacement, pump.ratio, pump.efficiency)) for name, s in turning.items()
        }
        n.room, n.shape = built.vessel.si.gas_volume, _shape(engine)
        n.at_full, n.at_pickup = (float(pan_volume.si(h, *n.shape)) for h in (e.pan.full_height, e.pan.pickup_height))
        n.full_height, n.pickup, n.windage = e.pan.full_height, e.pan.pickup_height, e.pan.windage_height
        n.line = float(line_volume.si(built.line.hose.si.bore, way_of(built.line)[1]))
        n.filter = e.filter.volume
        n.galleries = e.gallery_volume + (e.cooler.volume if e.cooler else 0.0)
        n.warning, n.damage, n.rho = e.warning, e.damage, float(density_of(built.oil.si, n.oil_temperature))
        n.charged = (n.precharge + AIR) * n.room / n.gas_temperature
        n.left_over = (n.found + AIR) * n.room / n.gas_temperature
        n.stored = {
            name: min(float(oil_stored.si(n.room, n.precharge, p, resting=True)), (1.0 - LEAST_GAS) * n.room)
            for name, p in n.pressure.items()
        }
        if n.stored[RUNNING] <= n.stored[FAST]:
            got = GAUGE.exact_text(n.precharge)
            raise InputError("precharge", got, f"less than the running pressure, {GAUGE.text(n.pressure[RUNNING])}")
        if n.pan_low >= n.at_full - n.at_pickup:
            most = OIL.exact_text(n.at_full - n.at_pickup)
            raise InputError("pan_low", OIL.exact_text(n.pan_low), f"less than the {most} above the pick-up")
        n.dial = {t: float(precharge_to_set.si(n.precharge, t, n.gas_temperature)) for t in self._shops(n)}
        if n.dial[n.shop_temperature] <= 0.0:
            got = TEMPERATURE.exact_text(n.shop_temperature)
            raise InputError("shop_temperature", got, "a shop in which the charge to be set is above 0 on the gauge")
        return n

    @staticmethod
    def _shops(n: SimpleNamespace) -> tuple[float, float, float]:
        return n.shop_temperature, n.gas_temperature, ASSUMED

    @cached_property
    def _kept(self) -> dict[tuple[str, str], Any]:
        return {}

    def emptied(self, engine: str) -> Stall:
        """How the vessel runs out when ignition goes off behind an open valve, from the pressure that there was."""
        if ("emptied", engine) not in self._kept:
            at = GAUGE.quantity(self.numbers.pressure[engine])
            self._kept["emptied", engine] = stall(
                self.installation, self.valve, self.precharge, at, self.oil_temperature, self.gas_temperature
            )
        return self._kept["emptied", engine]  # type: ignore[no-any-return]

    def morning(self, engine: str) -> PreLube | None:
        """The pre-lube after a night in the cold shop, vessel shut at that pressure; None if it holds no oil."""
        if ("morning", engine) not in self._kept:
            at, built = GAUGE.quantity(self.numbers.pressure[engine]), self.installation
            run = None
            if self.numbers.stored[engine] > 0.0:
                night = overnight(
                    built.vessel, built.oil, self.precharge, at, self.gas_temperature, self.oil_temperature,
                    self.shop_temperature,
                )  # fmt: skip
                run = pre_lube(built, self.valve, night.precharge, night.pressure, self.shop_temperature)
            self._kept["morning", engine] = run
        return self._kept["morning", engine]  # type: ignore[no-any-return]

    @cached_property
    def empty_line_takes(self) -> float:
        """What running pressure pushes into an empty line with its valve open, m3/s."""
        line = self.installation.line
        way = way_of(SupplyLine(line.hose, line.length, (*line.fittings, self.valve)))
        n = self.numbers
        mu = viscosity_of(self.installation.oil.si, n.oil_temperature)
        return float(way_flow(way, n.pressure[RUNNING], n.rho, mu))


@cache
def usual_job() -> Job:
    """The lessons' own job: street V8, bench vessel, 6 ft of 3/4 in hose, a winter's shop."""
    return Job()


# -------------------------------------------------------------------------------------------------- state and steps

PLACES = ("can", "pan", "flight", "filter", "galleries", "line", "vessel", "waste", "floor")
"""Everywhere that oil can be: in the can before, on the floor or in the waste can after, or in the engine."""
ENGINE = PLACES[1:7]


@dataclass
class State:
    """How things stand between two steps. Plain numbers in SI; properties are quantities."""

    job: Job = field(repr=False)
    engine: str
    """``OFF``, ``IDLE``, ``FAST`` or ``RUNNING``."""
    valve_open: bool
    oil: dict[str, float]
    """In each of ``PLACES``, m3."""
    old: dict[str, float]
    """How much of that is old oil, m3."""
    gas: float
    """Amount of gas, as pressure times volume over temperature, Pa m3 / K."""
    kelvin: float
    """Temperature of the gas."""
    noted: float | None = None
    """Temperature on the note, if there is one."""
    charged: bool = False
    gauge_on: bool = False
    cap_on: bool = True
    tight: bool = True
    proved: bool = False
    """Whether the charge, capped, was read on another day and had lost nothing that a gauge shows."""
    marks: tuple[float, float] | None = None
    """Heights of the two marks on the dipstick: vessel full, vessel empty."""
    new_filter: bool = False

    def copy(self) -> State:
        return replace(self, oil=dict(self.oil), old=dict(self.old))

    def move(self, source: str, to: str, amount: float) -> None:
        """Oil goes from one place to another, with its share of old oil; below 0 the other way."""
        if amount < 0.0:
            self.move(to, source, -amount)
            return
        share = self.old[source] / self.oil[source] if self.oil[source] > 0.0 else 0.0
        whole = amount >= self.oil[source] * (1.0 - 1e-12)
        amount = self.oil[source] if whole else amount
        aged = self.old[source] if whole else share * amount
        for kept, much in ((self.oil, amount), (self.old, aged)):
            kept[to] += much
            kept[source] = 0.0 if whole else kept[source] - much

    @property
    def gas_gauge(self) -> float:
        """Gauge pressure of the gas, Pa."""
        return float(self.gas * self.kelvin / (self.job.numbers.room - self.oil["vessel"]) - AIR)

    @property
    def gallery(self) -> float:
        """Gauge pressure in the gallery, Pa: nothing if the pump draws air."""
        return 0.0 if self.dry else float(self.job.numbers.pressure[self.engine])

    @property
    def oil_gauge(self) -> float:
        """Gauge pressure on the vessel's oil side, Pa."""
        if self.oil["vessel"] > 0.0 and not (self.valve_open and self.engine == OFF):
            return self.gas_gauge
        return self.gallery if self.valve_open else 0.0

    @property
    def level(self) -> float:
        """Of the oil in the pan, m."""
        area, depth, wide = self.job.numbers.shape  # `pan_level` without its arrays: this is called often
        pan = self.oil["pan"]
        return float(pan / area if pan <= area * depth else depth + (pan - area * depth) / wide)

    @property
    def dry(self) -> bool:
        """Whether the pump of a running engine draws air."""
        return self.engine != OFF and self.oil["pan"] <= self.job.numbers.at_pickup * (1.0 + 1e-9)

    @property
    def charge(self) -> float:
        """Gauge pressure that the gas would have in the whole vessel at working temperature, Pa: the true charge."""
        n = self.job.numbers
        return float(self.gas * n.gas_temperature / n.room - AIR)

    @property
    def old_share(self) -> float:
        """Of the oil in the engine, line and vessel."""
        return sum(self.old[p] for p in ENGINE) / max(sum(self.oil[p] for p in ENGINE), 1e-12)

    @property
    def gas_pressure(self) -> Qty:
        return GAUGE.quantity(self.gas_gauge)

    @property
    def oil_pressure(self) -> Qty:
        return GAUGE.quantity(self.oil_gauge)

    @property
    def pan_height(self) -> Qty:
        return DISTANCE.quantity(self.level)

    @property
    def true_charge(self) -> Qty:
        return GAUGE.quantity(self.charge)

    @property
    def total_oil(self) -> float:
        return sum(self.oil.values())

    def holds(self, pressure: float) -> float:
        """Oil in the vessel once it stands at a gauge pressure: `oil_stored` with the gas that there is."""
        n = self.job.numbers
        now = self.gas * self.kelvin / n.room - AIR
        return min(float(oil_stored.si(n.room, now, pressure, resting=True)), float((1.0 - LEAST_GAS) * n.room))

    def settle(self) -> None:
        """Let the oil go where it goes by itself with the engine and the valve as they are."""
        n = self.job.numbers
        if self.engine == OFF:
            self.move("flight", "pan", self.oil["flight"])
            if self.valve_open:
                self.move("vessel", "pan", max(self.oil["vessel"] - self.holds(0.0), 0.0))
            return
        self.move("pan", "flight", min(n.flight[self.engine] - self.oil["flight"], self._spare()))
        if self.valve_open:
            self.move("pan", "line", min(n.line - self.oil["line"], self._spare()))
            self.move("pan", "vessel", min(self.holds(n.pressure[self.engine]) - self.oil["vessel"], self._spare()))

    def _spare(self) -> float:
        return max(self.oil["pan"] - float(self.job.numbers.at_pickup), 0.0)

    def stop(self) -> None:
        self.engine = OFF
        self.settle()


Amounts: TypeAlias = tuple[Kind, float]
DANGER, WRONG_CHARGE, WRONG_PLACE, WRONG_READING, NOT_PROVED, WASTED = (
    "danger",
    "wrong charge",
    "oil in the wrong place",
    "wrong reading",
    "not proved",
    "wasted",
)


@dataclass(frozen=True)
class Consequence:
    """What comes of a step at the wrong time."""

    step: str
    """Key of the step, or ``END`` for what is found when all is done."""
    kind: str
    """``danger`` or what sort of fault it is."""
    words: str = field(repr=False)
    """The sentence, with names in braces where its numbers go."""
    amounts: dict[str, Amounts] = field(repr=False)

    @property
    def numbers(self) -> dict[str, Qty]:
        """Its numbers as quantities, by name."""
        return {name: kind.quantity(value) for name, (kind, value) in self.amounts.items()}

    @property
    def sentence(self) -> str:
        """In words, numbers in both systems of units."""
        return self.words.format(**{name: kind.both(value) for name, (kind, value) in self.amounts.items()})

    @property
    def text(self) -> str:
        """In words, numbers in the units on display."""
        return self.words.format(**{name: kind.text(value) for name, (kind, value) in self.amounts.items()})


END = "at the end"
Say: TypeAlias = Callable[..., None]


@dataclass(frozen=True)
class Step:
    """One step of a procedure."""

    key: str
    title: str
    do: Callable[[State, Say], None] = field(repr=False)


@dataclass(frozen=True)
class Procedure:
    """Steps in the right order, where they start from, and which of them may change places."""

    key: str
    title: str
    steps: tuple[Step, ...]
    start: Callable[[Job], State] = field(repr=False)
    may_swap: dict[frozenset[str], str] = field(repr=False)
    """Pairs of steps that may come either way round, and why."""

    @property
    def keys(self) -> tuple[str, ...]:
        return tuple(step.key for step in self.steps)

    def step(self, key: str) -> Step:
        return next(step for step in self.steps if step.key == key)


@dataclass(frozen=True)
class Played:
    """A procedure played out in some order: see `play`."""

    procedure: Procedure = field(repr=False)
    order: tuple[str, ...]
    states: tuple[State, ...] = field(repr=False)
    """The start, and how things stand after each step: one more than there are steps."""
    consequences: tuple[Consequence, ...]
    differs: tuple[str, ...]
    """What is another way at the end than after the right order."""
    harmless: str
    """Why nothing comes of it, if nothing does; for the right order that it is right; else empty."""

    @property
    def final(self) -> State:
        return self.states[-1]


def _watched(state: State, say: Say, seen: set[str]) -> None:
    """Two things that a running engine does not forgive: a bare pick-up, and oil that the crank can reach."""
    n = state.job.numbers
    for name, now in (("dry", state.dry), ("foam", state.engine != OFF and state.level > n.windage)):
        if not now:
            seen.discard(name)
        elif name not in seen:
            seen.add(name)
            words = {
                "dry": "The pan is down to {level}, the height of its pick-up: the pump draws air while the vessel "
                "still wants oil, and the engine runs with no pressure (it wears below {limit}).",
                "foam": "The running engine's pan stands at {level}, above the windage height of {limit}: the crank "
                "whips the oil into foam.",
            }[name]
            limit = (GAUGE, n.damage) if name == "dry" else (DISTANCE, n.windage)
            say(DANGER, words, level=(DISTANCE, state.level), limit=limit)


@public
def play(procedure: str | Procedure, order: Sequence[str] | None = None, job: Job | None = None) -> Played:
    """Do the steps of a procedure in some order, and see what comes of it.

    procedure: one of ``PROCEDURES``, or its key. order: the keys of its steps, each once; the right order unless given.
    job: the usual one unless given; its numbers are worked out once, so that a further order costs a fraction of a
    millisecond. Raises `InputError` for an unknown procedure or an order that is none.
    Source: the steps are common practice, no source; consequences by the package's functions, as their words say.

    >>> wrong = play("charge", ("off", "temperature", "nitrogen", "vent", "leak", "cap", "next_day"))
    >>> print(wrong.consequences[0].kind, "-", wrong.consequences[0].text.split(".")[0])
    wrong charge - The gauge shows 7
    >>> print(f"{wrong.final.true_charge:.1f~} instead of {play('charge').final.true_charge:.1f~}")
    -8.6 psig instead of 10.0 psig
    """
    if isinstance(procedure, str):
        if procedure not in PROCEDURES:
            raise InputError("procedure", repr(procedure), " or ".join(PROCEDURES))
        procedure = PROCEDURES[procedure]
    job = usual_job() if job is None else job
    order = procedure.keys if order is None else tuple(order)
    if sorted(map(str, order)) != sorted(procedure.keys):
        got = ", ".join(map(str, order)) or "no steps"
        raise InputError("order", got, f"each of {', '.join(procedure.keys)} once")
    right = _right_end(procedure, job)
    states, said = _run(procedure, order, job)
    final = states[-1]
    differs = _differences(final, right)
    _at_the_end(final, right, said)
    harmless = ""
    if order == procedure.keys:
        harmless = "" if said else "This is the right order."
    elif not said and not differs:
        harmless = _why_harmless(procedure, order)
    return Played(procedure, order, tuple(states), tuple(said), differs, harmless)


def _run(procedure: Procedure, order: Sequence[str], job: Job) -> tuple[list[State], list[Consequence]]:
    state = procedure.start(job)
    states, said, seen = [state.copy()], [], set[str]()
    for key in order:

        def say(kind: str, words: str, key: str = key, **amounts: Amounts) -> None:
            said.append(Consequence(key, kind, words, amounts))

        procedure.step(key).do(state, say)
        state.settle()
        _watched(state, say, seen)
        states.append(state.copy())
    return states, said


def _right_end(procedure: Procedure, job: Job) -> State:
    kept = job._kept
    if ("right", procedure.key) not in kept:
        kept["right", procedure.key] = _run(procedure, procedure.keys, job)[0][-1]
    return kept["right", procedure.key]  # type: ignore[no-any-return]


def _differences(final: State, right: State) -> tuple[str, ...]:
    n = final.job.numbers
    found = []
    for name, here, there in (
        ("engine", final.engine, right.engine),
        ("valve", final.valve_open, right.valve_open),
        ("gauge", final.gauge_on, right.gauge_on),
        ("cap", final.cap_on, right.cap_on),
        ("tightness", final.tight, right.tight),
        ("proof", final.proved, right.proved),
        ("filter", final.new_filter, right.new_filter),
    ):
        if here != there:
            found.append(name)
    if abs(final.charge - right.charge) > UNSEEN:
        found.append("charge")
    for place in PLACES:
        if abs(final.oil[place] - right.oil[place]) > 1e-9 * n.room:
            found.append(place)
        elif abs(final.old[place] - right.old[place]) > 1e-9 * n.room:
            found.append(f"old oil in the {place}")
    for mine, its in zip(final.marks or (), right.marks or (), strict=True) if final.marks and right.marks else ():
        if abs(mine - its) > 1e-9:
            found.append("marks")
    return tuple(dict.fromkeys(found))


def _at_the_end(final: State, right: State, said: list[Consequence]) -> None:
    """What is found when all is done, beside what each step said."""

    def say(kind: str, words: str, **amounts: Amounts) -> None:
        said.append(Consequence(END, kind, words, amounts))

    if abs(final.charge - right.charge) > SEEN:
        say(
            WRONG_CHARGE,
            "The pre-charge is {true} with warm gas; the right order leaves {wanted}.",
            true=(GAUGE, final.charge),
            wanted=(GAUGE, right.charge),
        )
    if final.engine != OFF and final.valve_open and final.oil["vessel"] > 0.0:
        say(
            WRONG_PLACE,
            "The engine still runs and the valve is open: at ignition off {oil} run out of the vessel into the pan.",
            oil=(OIL, final.oil["vessel"]),
        )
    elif abs(final.oil["vessel"] - right.oil["vessel"]) > SEEN_OIL:
        say(
            WRONG_PLACE,
            "The vessel holds {oil}; the right order leaves {wanted} in it.",
            oil=(OIL, final.oil["vessel"]),
            wanted=(OIL, right.oil["vessel"]),
        )
    if final.engine == OFF and abs(final.level - right.level) > SEEN_LEVEL:
        say(
            WRONG_PLACE,
            "The pan stands at {level}; the right order leaves it at {wanted}.",
            level=(DISTANCE, final.level),
            wanted=(DISTANCE, right.level),
        )
    if final.old_share > right.old_share + SEEN_SHARE:
        say(
            WASTED,
            "Of the oil in engine, line and vessel {share} is old; the right order leaves {wanted}.",
            share=(SHARE, final.old_share),
            wanted=(SHARE, right.old_share),
        )


def _why_harmless(procedure: Procedure, order: Sequence[str]) -> str:
    place = {key: k for k, key in enumerate(order)}
    reasons = []
    for k, early in enumerate(procedure.keys):
        for late in procedure.keys[k + 1 :]:
            if place[late] < place[early]:
                reasons.append(procedure.may_swap.get(frozenset((early, late)), ""))
    told = " ".join(dict.fromkeys(reason for reason in reasons if reason))
    return f"harmless: it ends as the right order does. {told}".rstrip()


# ------------------------------------------------------------------------------------------------ charge the vessel


def _oil_everywhere(job: Job, **other: float) -> dict[str, float]:
    """Pan at its full mark, engine filled, line full, vessel empty, unless said otherwise."""
    n = job.numbers
    oil = dict.fromkeys(PLACES, 0.0)
    return oil | {
        "can": CAN, "pan": n.at_full, "filter": n.filter, "galleries": n.galleries, "line": n.line,
    } | other  # fmt: skip


def _none_old() -> dict[str, float]:
    return dict.fromkeys(PLACES, 0.0)


def _before_charging(job: Job) -> State:
    """The engine idles; the valve was shut at running pressure, with a poor charge."""
    n = job.numbers
    state = State(job, RUNNING, True, _oil_everywhere(job), _none_old(), n.left_over, n.gas_temperature)
    held = state.holds(n.pressure[RUNNING])
    state.oil["vessel"] = held
    state.valve_open, state.engine = False, IDLE
    state.settle()
    return state


def _engine_off(state: State, say: Say) -> None:
    state.kelvin = state.job.numbers.shop_temperature
    state.stop()


def _vent(state: State, say: Say) -> None:
    n = state.job.numbers
    state.valve_open = True
    if state.engine == OFF:
        return
    pressure = state.gas_gauge
    flow = float(orifice_flow.si(n.bleed, pressure, n.rho))
    lost = min(flow * HAND, state.oil["pan"])
    state.move("pan", "floor", lost)
    say(
        DANGER,
        "You open the bleed of a running engine's vessel: oil of {heat} sprays out under {pressure}, {flow}. In the "
        "{hand} before it is shut again {lost} are on the floor, and nothing is vented: behind the open valve stands "
        "the pump.",
        heat=(TEMPERATURE, n.oil_temperature),
        pressure=(GAUGE, pressure),
        flow=(FLOW, flow),
        hand=(TIME, HAND),
        lost=(OIL, lost),
    )


def _note_temperature(state: State, say: Say) -> None:
    state.noted = state.kelvin


def _nitrogen(state: State, say: Say) -> None:
    n = state.job.numbers
    state.gauge_on, state.cap_on, state.tight, state.charged = True, False, False, True
    if state.engine != OFF and state.valve_open:
        say(
            WRONG_CHARGE,
            "The engine runs and the valve is open: the gauge shows the pump's {pressure}, however much gas there is. "
            "Nothing can be set; the charge stays at {true}, {short} from what is wanted.",
            pressure=(GAUGE, state.gas_gauge),
            true=(GAUGE, state.charge),
            short=(PRESSURE_DIFFERENCE, n.precharge - state.charge),
        )
        return
    assumed = ASSUMED if state.noted is None else state.noted
    dial = n.dial[assumed]
    behind = state.oil["vessel"]
    state.gas = (dial + AIR) * (n.room - behind) / state.kelvin
    if behind > 0.0:
        spread = state.gas * state.kelvin / n.room - AIR
        say(
            WRONG_CHARGE,
            "The gauge shows {dial}, with {oil} of oil behind the piston. Once that is out, the gas spreads and has "
            "{spread}: {short} too low. The charge read high because oil was behind the piston.",
            dial=(GAUGE, dial),
            oil=(OIL, behind),
            spread=(GAUGE, spread),
            short=(PRESSURE_DIFFERENCE, dial - spread),
        )
    meant = (dial + AIR) * n.gas_temperature / state.kelvin - AIR
    if abs(meant - n.precharge) > UNSEEN:
        told = "Nobody noted the gas's temperature; you take it to be" if state.noted is None else "The note says"
        say(
            WRONG_CHARGE,
            told + " {assumed}, and the gas has {real}. So {dial} on the gauge become {meant} at working temperature "
            "instead of {wanted}: {off} off.",
            assumed=(TEMPERATURE, assumed),
            real=(TEMPERATURE, state.kelvin),
            dial=(GAUGE, dial),
            meant=(GAUGE, meant),
            wanted=(GAUGE, n.precharge),
            off=(PRESSURE_DIFFERENCE, abs(meant - n.precharge)),
        )


def _leak_check(state: State, say: Say) -> None:
    n = state.job.numbers
    if state.charged:
        state.tight = True
        return
    say(
        NOT_PROVED,
        "You look for leaks before the gas is in, and the gas valve is opened afterwards. If its core does not seal, "
        "{loss} of {dial} go in a day.",
        loss=(PRESSURE_DIFFERENCE, n.leaks_a_day * n.dial[n.shop_temperature]),
        dial=(GAUGE, n.dial[n.shop_temperature]),
    )


def _cap(state: State, say: Say) -> None:
    n = state.job.numbers
    if state.charged:
        state.gauge_on, state.cap_on = False, True
        return
    say(
        DANGER,
        "The cap goes on before the gas goes in, so the low-range gauge stays on the vessel afterwards. Its scale "
        "ends at {scale}; the vessel goes to {pressure}.",
        scale=(GAUGE, n.full_scale),
        pressure=(GAUGE, n.pressure[RUNNING]),
    )


def _next_day(state: State, say: Say) -> None:
    n = state.job.numbers
    loss = n.leaks_a_day * n.dial[n.shop_temperature]
    if not state.charged:
        state.gas -= state.gas_gauge * n.dead_volume / state.kelvin  # one check of what was there
        say(
            NOT_PROVED,
            "A reading of {now} a day before the gas is set says nothing about it, and nobody reads again later. A "
            "leak of {loss} a day would not be seen.",
            now=(GAUGE, state.gas_gauge),
            loss=(PRESSURE_DIFFERENCE, loss),
        )
        return
    before = state.gas_gauge
    room = n.room - state.oil["vessel"]
    lost = 0.0 if state.tight else n.leaks_a_day * max(before, 0.0)
    state.gas -= lost * room / state.kelvin
    if lost > UNSEEN:
        say(
            WRONG_CHARGE,
            "Nobody has looked for leaks since the gas went in. In a day the gauge has gone from {before} to {now}: "
            "{lost} through the gas valve's core.",
            before=(GAUGE, before),
            now=(GAUGE, state.gas_gauge),
            lost=(PRESSURE_DIFFERENCE, lost),
        )
    if state.oil["vessel"] > 0.0:
        say(
            NOT_PROVED,
            "The gauge shows {now}, because {oil} of oil stand behind the piston. That is the oil's pressure and says "
            "nothing about the charge of {true}.",
            now=(GAUGE, state.gas_gauge),
            oil=(OIL, state.oil["vessel"]),
            true=(GAUGE, state.charge),
        )
    if state.gauge_on:
        say(
            NOT_PROVED,
            "The gauge has stayed on. It comes off after the reading, and nobody looks again: a core that lets {loss} "
            "a day past under its cap would not be seen.",
            loss=(PRESSURE_DIFFERENCE, loss),
        )
        return
    now = state.gas_gauge
    after = float(charge_after_checks.si(now, room, 1.0, n.dead_volume))
    state.gas = (after + AIR) * room / state.kelvin
    state.proved = lost <= UNSEEN and state.cap_on and state.oil["vessel"] == 0.0


# ------------------------------------------------------------------------------------------------------- first fill


def _before_first_fill(job: Job) -> State:
    """Vessel charged and empty, line empty, engine has run before; the pan is low."""
    n = job.numbers
    oil = _oil_everywhere(job, pan=n.at_full - n.pan_low, line=0.0)
    return State(job, OFF, False, oil, _none_old(), n.charged, n.gas_temperature)


def _fill_pan(state: State, say: Say) -> None:
    n = state.job.numbers
    missing, above = n.at_full - state.oil["pan"], state.level
    if missing < -1e-9 * n.room:
        say(
            WRONG_READING,
            "The pan stands at {level} already, above the full mark of {full}: nothing goes in, though {low} were "
            "missing before the other oil was poured.",
            level=(DISTANCE, above),
            full=(DISTANCE, n.full_height),
            low=(OIL, n.pan_low),
        )
        return
    away = sum(state.oil[p] for p in ("flight", "line", "vessel"))
    state.move("can", "pan", missing)
    if abs(missing - n.pan_low) > 1e-9 * n.room:
        say(
            WRONG_READING,
            "You read the dipstick while {away} are elsewhere: in flight, in the line, in the vessel. Up to the mark "
            "goes {poured}, and {low} were missing.",
            away=(OIL, away),
            poured=(OIL, missing),
            low=(OIL, n.pan_low),
        )


def _start(state: State, say: Say) -> None:
    n = state.job.numbers
    state.engine = FAST
    if state.valve_open and state.oil["line"] < n.line:
        wants = n.line + float(oil_stored.si(n.room, n.precharge, n.warning, resting=True))
        say(
            DANGER,
            "You start with the valve open on an empty line and vessel. They take {oil} before the gallery can reach "
            "its warning pressure of {warning}; the idling pump needs at least {time} for that, and the bearings wait.",
            oil=(OIL, wants),
            warning=(GAUGE, n.warning),
            time=(TIME, wants / n.pump[IDLE]),
        )


def _open_valve(state: State, say: Say) -> None:
    n = state.job.numbers
    state.valve_open = True
    if state.engine == RUNNING and state.oil["line"] < n.line:
        say(
            DANGER,
            "You open the valve at running pressure. An empty line can take {takes} and the pump gives {gives}: the "
            "gallery falls from {pressure} while the engine turns fast.",
            takes=(FLOW, state.job.empty_line_takes),
            gives=(FLOW, n.pump[RUNNING]),
            pressure=(GAUGE, n.pressure[RUNNING]),
        )


def _top_up(state: State, say: Say) -> None:
    n = state.job.numbers
    state.move("can", "pan", n.line + n.stored[FAST])


def _top_up_again(state: State, say: Say) -> None:
    n = state.job.numbers
    state.move("can", "pan", n.stored[RUNNING] - n.stored[FAST])


def _to_running(state: State, say: Say) -> None:
    n = state.job.numbers
    if state.engine == OFF:
        say(
            NOT_PROVED,
            "The engine stands: there is no running pressure to bring it to. The vessel never sees {pressure}, at "
            "which it would take {oil}.",
            pressure=(GAUGE, n.pressure[RUNNING]),
            oil=(OIL, n.stored[RUNNING]),
        )
        return
    state.engine = RUNNING


def _mark(state: State, say: Say) -> None:
    n = state.job.numbers
    state.valve_open = False
    state.stop()
    emptied = float(pan_level.si(state.oil["pan"] + state.oil["vessel"], *n.shape))
    state.marks = state.level, emptied
    if abs(state.level - n.full_height) > 1e-6:
        say(
            WRONG_READING,
            "You make the first mark at {level}; with all the oil in and the vessel full it belongs at {full}.",
            level=(DISTANCE, state.level),
            full=(DISTANCE, n.full_height),
        )
    if abs(state.oil["vessel"] - n.stored[RUNNING]) > 1e-9 * n.room:
        say(
            WRONG_READING,
            "The vessel holds {oil} while you mark the dipstick, not the {wanted} of running pressure: the second "
            "mark, for an emptied vessel, comes out wrong.",
            oil=(OIL, state.oil["vessel"]),
            wanted=(OIL, n.stored[RUNNING]),
        )


# -------------------------------------------------------------------------------------------------------- shut down


def _before_shut_down(job: Job) -> State:
    """Back from the road: the engine idles, the valve is open, the vessel has sunk to idle pressure."""
    n = job.numbers
    oil = _oil_everywhere(job, vessel=n.stored[RUNNING])
    state = State(job, RUNNING, True, oil, _none_old(), n.charged, n.gas_temperature)
    state.engine = IDLE
    state.settle()
    return state


def _hold(state: State, say: Say) -> None:
    n = state.job.numbers
    if state.engine == OFF:
        say(
            NOT_PROVED,
            "The engine stands: there is no running pressure of {pressure} left to fill the vessel.",
            pressure=(GAUGE, n.pressure[RUNNING]),
        )
        return
    state.engine = RUNNING


def _shut_valve(state: State, say: Say) -> None:
    n = state.job.numbers
    state.valve_open = False
    if state.engine == OFF or state.oil["vessel"] >= n.stored[RUNNING] * (1.0 - 1e-9):
        return
    less, full = state.job.morning(state.engine), state.job.morning(RUNNING)
    amounts = {
        "pressure": (GAUGE, n.pressure[state.engine]),
        "kept": (OIL, state.oil["vessel"]),
        "wanted": (OIL, n.stored[RUNNING]),
        "morning": (TEMPERATURE, n.shop_temperature),
    }
    words = "You shut the valve at {pressure}. The vessel keeps {kept} instead of {wanted}"
    if less is None or full is None or less.oil_left.m <= 0.0:
        say(WRONG_PLACE, words + ": nothing is left for a pre-lube in the morning, at {morning}.", **amounts)
        return
    say(
        WRONG_PLACE,
        words + "; in the morning, at {morning}, its pre-lube reaches {peak} instead of {best}.",
        **amounts,
        peak=(GAUGE, float(less.peak_pressure.m_as("Pag"))),
        best=(GAUGE, float(full.peak_pressure.m_as("Pag"))),
    )


def _to_idle(state: State, say: Say) -> None:
    if state.engine != OFF:
        state.engine = IDLE


def _ignition_off(state: State, say: Say) -> None:
    ran, held = state.engine, state.oil["vessel"]
    state.stop()
    if not state.valve_open or held <= 0.0:
        return
    gone = state.job.emptied(ran)
    say(
        WRONG_PLACE,
        "You switch off with the valve open: the vessel runs out into the pan, {oil} in {time}. The pan then stands at "
        "{level}, above its full mark of {full}, and nothing is left for the morning's pre-lube.",
        oil=(OIL, held),
        time=(TIME, float(gone.empty_after.m_as("s"))),
        level=(DISTANCE, state.level),
        full=(DISTANCE, state.job.numbers.full_height),
    )


def _read_dipstick(state: State, say: Say) -> None:
    n = state.job.numbers
    missing = n.at_full - state.oil["pan"]
    if abs(missing) <= 1e-9 * n.room:
        return
    where = {"level": (DISTANCE, state.level), "full": (DISTANCE, n.full_height)}
    if state.engine != OFF:
        say(
            WRONG_READING,
            "The dipstick shows {level} while {away} are in flight and {vessel} in the vessel; the full mark is at "
            "{full}. Whoever corrects that by {off} has the wrong amount in the engine.",
            **where,
            away=(OIL, state.oil["flight"]),
            vessel=(OIL, state.oil["vessel"]),
            off=(OIL, abs(missing)),
        )
    else:
        say(
            WRONG_READING,
            "The dipstick shows {level} and its full mark is at {full}: {off} of that belong into the vessel. Whoever "
            "drains them is short by as much once the vessel has filled again.",
            **where,
            off=(OIL, abs(missing)),
        )


# --------------------------------------------------------------------------------------------------- change the oil


def _before_oil_change(job: Job) -> State:
    """The engine idles, warm; the valve was shut at running pressure; all the oil is old."""
    n = job.numbers
    oil = _oil_everywhere(job, vessel=n.stored[RUNNING])
    old = oil | {"can": 0.0}
    state = State(job, IDLE, False, oil, old, n.charged, n.gas_temperature)
    state.settle()
    return state


def _new_in(state: State, *places: str) -> float:
    return sum(state.oil[p] - state.old[p] for p in places)


def _relieve(state: State, say: Say) -> None:
    drained = state.oil["pan"] < state.job.numbers.at_pickup
    new, held, old = _new_in(state, "pan") > 0.0, state.oil["vessel"], state.old["vessel"]
    state.valve_open = True
    state.stop()
    where = {"oil": (OIL, held), "level": (DISTANCE, state.level)}
    if held <= 0.0:
        return
    if drained:
        say(
            WASTED,
            "The vessel's {oil} of old oil run into the pan that you have drained: it stands at {level}.",
            **where,
        )
    elif new:
        words = "The vessel's {oil}, {old} of it old, run onto the new oil: the pan stands at {level}."
        say(WRONG_PLACE, words, **where, old=(OIL, old))


def _drain_vessel(state: State, say: Say) -> None:
    n = state.job.numbers
    held, new = state.oil["vessel"], _new_in(state, "vessel", "line")
    pressure = max(state.oil_gauge, state.gallery)
    if pressure > 0.0:
        flow = float(orifice_flow.si(n.bleed, pressure, n.rho))
        state.move("vessel", "floor", held)
        say(
            DANGER,
            "You loosen the vessel's fitting under {pressure}: oil of {heat} comes out at {flow}, and {oil} are on "
            "the floor before it stops.",
            pressure=(GAUGE, pressure),
            heat=(TEMPERATURE, n.oil_temperature),
            flow=(FLOW, flow),
            oil=(OIL, held),
        )
    state.stop()
    state.move("vessel", "waste", state.oil["vessel"])
    state.move("line", "waste", state.oil["line"])
    if new > 1e-9 * n.room:
        say(WASTED, "Of what you drain from vessel and line {oil} are new oil.", oil=(OIL, new))


def _drain_pan(state: State, say: Say) -> None:
    n = state.job.numbers
    if state.engine != OFF:
        say(
            DANGER,
            "You pull the plug under a running engine: {oil} of {heat} run out, the pump draws air and the gallery "
            "falls from {pressure} to nothing.",
            oil=(OIL, state.oil["pan"]),
            heat=(TEMPERATURE, n.oil_temperature),
            pressure=(GAUGE, n.pressure[state.engine]),
        )
        state.stop()
    new = _new_in(state, "pan")
    state.move("pan", "waste", state.oil["pan"])
    if new > 1e-9 * n.room:
        say(WASTED, "With the old oil {oil} of new oil go down the drain.", oil=(OIL, new))


def _new_filter(state: State, say: Say) -> None:
    n = state.job.numbers
    if state.engine != OFF:
        flow = n.pump[state.engine]
        lost = min(flow * HAND, state.oil["pan"])
        state.move("pan", "floor", lost)
        say(
            DANGER,
            "You unscrew the filter of a running engine: the pump pushes {flow} out there, {lost} in the {hand} "
            "before you have stopped it.",
            flow=(FLOW, flow),
            lost=(OIL, lost),
            hand=(TIME, HAND),
        )
        state.stop()
    new = _new_in(state, "filter")
    state.move("filter", "waste", state.oil["filter"])
    state.new_filter = True
    if new > 1e-9 * n.room:
        say(
            WASTED,
            "The old filter has run with the new oil and takes {oil} of it along; at the next start the new one takes "
            "{volume} out of the pan.",
            oil=(OIL, new),
            volume=(OIL, n.filter),
        )


def _fill_new(state: State, say: Say) -> None:
    n = state.job.numbers
    before, missing = state.oil["pan"], max(n.at_full - state.oil["pan"], 0.0)
    old = state.old["pan"]
    state.move("can", "pan", missing)
    if before > 1e-9 * n.room:
        say(
            WRONG_PLACE,
            "The pan holds {before} before you fill it, {old} of that old oil: only {poured} of new go in up to the "
            "mark.",
            before=(OIL, before),
            old=(OIL, old),
            poured=(OIL, missing),
        )


def _first_fill(state: State, say: Say) -> None:
    n = state.job.numbers
    state.stop()
    state.valve_open = False
    wants = {"filter": n.filter, "galleries": n.galleries, "line": n.line, "vessel": n.stored[RUNNING]}
    if state.oil["pan"] <= n.at_pickup:
        say(
            DANGER,
            "You start an engine whose pan stands at {level}, with the pick-up at {pickup}: the pump draws air, and "
            "the bearings get nothing. You stop at once; nothing has been filled.",
            level=(DISTANCE, state.level),
            pickup=(DISTANCE, n.pickup),
        )
        return
    if not state.new_filter:
        say(
            WASTED,
            "It runs with the old filter, and with {old} of old oil in engine, line and vessel, {volume} of that in "
            "the filter.",
            old=(OIL, sum(state.old[p] for p in ENGINE)),
            volume=(OIL, state.old["filter"]),
        )
    for place, amount in wants.items():
        state.move("pan", place, min(amount - state.oil[place], state.oil["pan"]))
        if state.oil[place] < amount:
            state.move("can", place, amount - state.oil[place])
    state.move("can", "pan", max(n.at_full - state.oil["pan"], 0.0))
    inside = [p for p in ENGINE if state.oil[p] > 0.0]
    share = sum(state.old[p] for p in inside) / sum(state.oil[p] for p in inside)
    for place in inside:  # it runs until all of it is mixed
        state.old[place] = share * state.oil[place]
    if state.oil["pan"] > n.at_full * (1.0 + 1e-9):
        say(
            WRONG_PLACE,
            "With the vessel full the pan still stands at {level}, above its full mark of {full}: {more} too much.",
            level=(DISTANCE, state.level),
            full=(DISTANCE, n.full_height),
            more=(OIL, state.oil["pan"] - n.at_full),
        )


# ------------------------------------------------------------------------------------------------------------ orders


def _pairs(*rows: tuple[str, str, str]) -> dict[frozenset[str], str]:
    return {frozenset((a, b)): why for a, b, why in rows}


IN_BETWEEN = "In between the pan stands higher than its mark, but the crank does not reach it."
MAKES_NO_ODDS = "An engine that is about to stop, or stands, changes nothing in a vessel that is shut."
INTO_ONE_CAN = "Both run into the same can, and neither feeds the other."
PROCEDURES: dict[str, Procedure] = {
    p.key: p
    for p in (
        Procedure(
            "charge",
            "Charge the vessel",
            (
                Step("off", "Engine off, and let it cool", _engine_off),
                Step("vent", "Vent the oil side to zero: piston at the oil end", _vent),
                Step("temperature", "Note the gas's temperature", _note_temperature),
                Step("nitrogen", "Nitrogen through a regulator, low-range gauge", _nitrogen),
                Step("leak", "Look for leaks with soap water", _leak_check),
                Step("cap", "Gauge off, cap on", _cap),
                Step("next_day", "Read it again the next day", _next_day),
            ),
            _before_charging,
            _pairs(
                ("vent", "temperature", "Venting moves oil; the cold gas's temperature is the same before and after."),
                ("leak", "cap", "Soap water shows a leak at the cap as it does at the gauge."),
            ),
        ),
        Procedure(
            "first_fill",
            "Fill for the first time",
            (
                Step("full", "Fill the pan to its full mark", _fill_pan),
                Step("start", "Start with the valve shut, and warm it", _start),
                Step("open", "Open the valve slowly, at fast idle", _open_valve),
                Step("top_up", "Top up what line and vessel have taken", _top_up),
                Step("run", "Bring it to running pressure", _to_running),
                Step("again", "Top up again", _top_up_again),
                Step("mark", "Valve shut, engine off, mark the dipstick", _mark),
            ),
            _before_first_fill,
            _pairs(
                ("open", "top_up", IN_BETWEEN),
                ("start", "top_up", IN_BETWEEN),
                ("start", "again", IN_BETWEEN),
                ("open", "again", IN_BETWEEN),
                ("run", "again", IN_BETWEEN),
                ("top_up", "again", "Two measured amounts make the same sum either way."),
                ("top_up", "run", "What the pan has above its pick-up is enough for both until then."),
            ),
        ),
        Procedure(
            "shut_down",
            "Shut down",
            (
                Step("hold", "Hold running pressure until the vessel is full", _hold),
                Step("shut", "Shut the valve", _shut_valve),
                Step("idle", "Back to idle", _to_idle),
                Step("ignition", "Ignition off", _ignition_off),
                Step("dipstick", "Read the dipstick", _read_dipstick),
            ),
            _before_shut_down,
            _pairs(
                ("hold", "idle", "It idles already when you begin, and holds running pressure afterwards."),
                ("shut", "idle", "It idled before running pressure was held; the valve shuts on a full vessel."),
                ("idle", "ignition", MAKES_NO_ODDS),
                ("idle", "dipstick", MAKES_NO_ODDS),
            ),
        ),
        Procedure(
            "oil_change",
            "Change the oil",
            (
                Step("relieve", "Engine off, valve open: pressure relieved", _relieve),
                Step("vessel", "Drain vessel and line", _drain_vessel),
                Step("pan", "Drain the pan", _drain_pan),
                Step("filter", "New filter", _new_filter),
                Step("fill", "Fill to the full mark", _fill_new),
                Step("first_fill", "Warm up, fill the vessel, top up, mark", _first_fill),
            ),
            _before_oil_change,
            _pairs(
                ("vessel", "pan", INTO_ONE_CAN),
                ("vessel", "filter", INTO_ONE_CAN),
                ("pan", "filter", INTO_ONE_CAN),
                ("vessel", "fill", "The line drains by itself, and nothing of it comes into the pan."),
                ("filter", "fill", "The filter's oil does not come into the pan while the engine stands."),
            ),
        ),
    )
}
"""The four procedures, by key."""
