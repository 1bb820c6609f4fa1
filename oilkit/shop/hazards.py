"""What can go wrong round a vessel: a charge read away, a burst hose, a pan that comes first. (Lesson 09)

What reading the charge costs (`charge_after_checks`), what a burst hose does (`burst_hose`), and when the pan comes
first (`pan_first`). There is no physics of its own here: Boyle's law, pan, pump, bearings and line come from the
modules of their lessons.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Annotated, Any, TypeAlias

import numpy as np

from oilkit.laps.lap import PickUp, longest_stretch, surface_tilt
from oilkit.laps.logfile import Log
from oilkit.physics.discharging import Conditions, Installation, cases_of, discharge, every_condition, usual_si
from oilkit.physics.engine import engine_demand, operating_point, outlet_pressure
from oilkit.physics.line import Fitting, SupplyLine, way_flow, way_of
from oilkit.physics.oil import density_of, viscosity_of
from oilkit.physics.pan import oil_in_flight, pan_level, pan_volume
from oilkit.physics.pump import delivered, relief_flow
from oilkit.physics.roots import root_between
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
from oilkit.quantities.kind import Kind
from oilkit.quantities.kinds import DISTANCE, GAUGE, OIL, SHARE, THROUGH_FLOW, TIME
from oilkit.quantities.units import Q, Qty
from oilkit.shop.set_up import pan_shape

DEAD_VOLUME = Kind(
    "a small volume", "m**3", "in**3", 2, "cm**3", 1, "Q(5, 'cm**3')", low=0.0, high=1e-3, above_low=False
)
DeadVolume: TypeAlias = Annotated[Any, DEAD_VOLUME]

USUAL_LINE, AS_IT_IS = Q(60, "degC"), Q(0, "qt")


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

    >>> from oilkit import usual_job
    >>> job = usual_job()
    >>> burst = burst_hose(job.installation, job.valve, Q(10, "psig"), Q(50, "psig"), Q(3000, "rpm"), Q(100, "degC"),
    ...                    Q(40, "degC"))
    >>> print(f"vessel empty after {burst.empty_after:.1f~}; gallery {burst.gallery_pressure:.0f~}")
    vessel empty after 1.2 s; gallery 2 psig
    """
    line = installation.line
    near_vessel = SupplyLine(line.hose, line.length * max(vessel_side, 1e-6), (valve,))
    near_engine = SupplyLine(line.hose, line.length * (1.0 - vessel_side), line.fittings)
    conditions = {
        "precharge": precharge, "pressure": pressure, "speed": 0.0, "line_temperature": line_temperature,
        "gas_temperature": gas_temperature,
    }  # fmt: skip
    flow, empty_after, lost = _open_vessel(replace(installation, line=near_vessel, tee_before_filter=False), conditions)
    before, after, out, pan_oil = _open_gallery(installation, near_engine, speed, oil_temperature, line_temperature)
    pan = installation.engine.si.pan
    at_pickup = float(pan_volume.si(pan.pickup_height, *pan_shape(installation.engine)))
    return BurstHose(
        vessel_flow=THROUGH_FLOW.quantity(flow),
        empty_after=TIME.quantity(empty_after),
        oil_lost=OIL.quantity(lost),
        engine_flow=THROUGH_FLOW.quantity(out),
        gallery_before=GAUGE.quantity(before),
        gallery_pressure=GAUGE.quantity(after),
        pan_lasts=TIME.quantity(max(pan_oil - at_pickup, 0.0) / out if out > 0.0 else math.inf),
    )


def _open_vessel(installation: Installation, conditions: dict[str, Any]) -> tuple[float, float, float]:
    """A vessel that empties into the open: its highest flow, when it is empty, and how much oil has gone by then."""
    from oilkit.physics import dynamics  # here, because compiled code costs time that the first lessons never need

    given, _ = every_condition(conditions, installation.vessel)
    cases, starts = cases_of(installation, {name: np.ravel(value).astype(float) for name, value in given.items()})
    case, start = cases[0], starts[0]
    case[dynamics.COMPLIANCE] = 1e9  # the open air: what flows in raises no pressure
    start[dynamics.P] = 0.0
    moments = np.concatenate([[0.0], np.geomspace(1e-3, 60.0, 400)])
    table = np.zeros((dynamics.INPUTS, 2))
    table[dynamics.OPENING] = 1.0
    result, followed = dynamics.one(case, np.array([0.0, 60.0]), table, start, 1e-6, moments)
    held = start[dynamics.V] < installation.vessel.si.gas_volume
    empty_after = float(result[dynamics.BOTTOMED]) if held else 0.0
    return float(np.max(followed[:, dynamics.Q])), empty_after, float(followed[-1, dynamics.V] - start[dynamics.V])


def _open_gallery(
    installation: Installation, rest: SupplyLine, speed: float, hot: float, cold: float
) -> tuple[float, float, float, float]:
    """Gallery pressure before and after a way into the open is added to it, the flow out there, and oil in the pan."""
    engine, oil = installation.engine, installation.oil
    point = operating_point.si(engine, oil, speed, hot)
    before = float(point.gallery_pressure.m_as("Pag"))
    rho, mu = density_of(oil.si, cold), viscosity_of(oil.si, cold)
    way, e = way_of(rest), engine.si

    def let_out(pressure: float) -> float:
        return float(way_flow(way, pressure, rho, mu)) if pressure > 0.0 else 0.0

    after = held_with(installation, before, speed, hot, let_out)
    flight = float(oil_in_flight.si(point.demand.total.m_as("m**3/s"), e.drain_time))
    return before, after, let_out(after), float(pan_volume.si(e.pan.full_height, *pan_shape(engine))) - flight


def pump_surplus(installation: Installation, pressure: float, speed: float, hot: float, out: float = 0.0) -> float:
    """What the pump has left over at a gallery pressure when engine, relief valve and a way out take theirs, SI."""
    engine, oil, e = installation.engine, installation.oil, installation.engine.si
    through = float(engine_demand.si(engine, oil, pressure, speed, hot).total.m_as("m**3/s")) + out
    thickness = viscosity_of(oil.si, hot)
    at_pump = outlet_pressure(e, pressure, through, thickness)
    valve = e.pump.relief_opening, e.pump.relief_rated_pressure, e.pump.relief_rated_flow
    given = delivered(e.pump.displacement, e.pump.ratio, e.pump.efficiency, speed, at_pump, thickness)
    return float(given - through - relief_flow.si(at_pump, *valve))


def held_with(
    installation: Installation, before: float, speed: float, hot: float, let_out: Callable[[float], float]
) -> float:
    """Gallery pressure that the pump still holds with one more way out, which takes so much at a pressure, SI."""

    def surplus(pressure: float) -> float:
        return pump_surplus(installation, pressure, speed, hot, let_out(pressure))

    return float(root_between(surplus, 0.0, before, least=1e-3)) if surplus(0.0) > 0.0 else 0.0


def held_beside(installation: Installation, line: SupplyLine, speed: float, hot: float, cold: float) -> float:
    """Gallery pressure that the pump still holds beside an empty line that fills, as in `burst_hose`, SI."""
    return _open_gallery(installation, line, speed, hot, cold)[1]


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
    pan, shape = engine.si.pan, pan_shape(engine)
    flight = float(oil_in_flight.si(point.demand.total.m_as("m**3/s"), engine.si.drain_time))
    stands = max(float(pan_volume.si(pan.full_height, *shape)) + pan_change - flight, 0.0)
    level = float(pan_level.si(stands, *shape))
    needed = pan.pickup_height + (pickup or PickUp()).si.band / 2.0
    bare = level - surface_tilt.si(log, pickup) < needed
    steps = np.diff(time, append=time[-1])
    uncovered = float(np.sum(steps[bare]) / (time[-1] - time[0]))
    longest = longest_stretch(time, bare)
    run = discharge.si(installation, speed=speed, pressure=pressure, **conditions)
    lasts = float(run.protected_time.m)
    never_fills = pressure <= usual["precharge"]
    return PanFirst(
        level=DISTANCE.quantity(level),
        uncovered=Q(uncovered, "dimensionless"),
        longest=TIME.quantity(longest),
        lasts=TIME.quantity(lasts),
        reasons=tuple(_reasons(level < needed, uncovered, longest, lasts, never_fills)),
    )


def _reasons(bare_at_rest: bool, uncovered: float, longest: float, lasts: float, never_fills: bool) -> Iterator[str]:
    """Why a vessel is not the answer."""
    if bare_at_rest:
        yield "The pick-up draws air on a level road: baffles, pan depth and oil level come first."
    if uncovered >= 0.5:
        yield (
            f"The pick-up is bare for {SHARE.text(uncovered)} of the lap: a vessel bridges gaps, and needs time "
            "between them to fill again."
        )
    if longest > lasts:
        yield (
            f"The longest gap is {TIME.text(longest)} and this vessel bridges {TIME.text(lasts)}: shorten the gap in "
            "the pan first."
        )
    if never_fills:
        yield "The pump makes no more pressure than the pre-charge: the vessel never fills."
