"""Whether a vessel helps in an event, and if it does not, why and what would help. (Lesson 10)"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from oilkit.build.records import Event
from oilkit.build.results import (
    LINE_TOO_NARROW,
    NO_CAPACITY,
    NOT_PROTECTED,
    PROTECTED,
    PUMP_TOO_WEAK,
    WRONG_CHARGE,
    EventResult,
    lasting,
)
from oilkit.build.setup_file import Build
from oilkit.build.spread import LEAST_PRESSURE, QUICK, follow, head, nothing_off, vary
from oilkit.physics.bearing import usual_clearance
from oilkit.physics.catalog import hoses
from oilkit.physics.engine import engine_demand
from oilkit.physics.line import Hose, supply_flow
from oilkit.physics.oil import density_of, viscosity_of
from oilkit.quantities import kinds
from oilkit.quantities.kinds import GAUGE, PRESSURE_DIFFERENCE, TIME, VOLUME
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q

TRIED = (1.25, 1.6, 2.0, 2.5, 3.2, 4.0, 5.0, 6.3, 8.0, 10.0, 16.0, 25.0)
"""How many times its gas volume a larger vessel is tried with."""
CHARGES = 9
TIGHTER = tuple(float(Q(-k, "thou").m_as("m")) for k in (0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 2.5, 3.0))


def judge(build: Build, result: EventResult, protected: bool, whole: bool) -> tuple[str, str]:
    """Whether this vessel helps in an event; if not, why, and with the whole sheet what would help."""
    event, limit = result.event, build.limits.lowest_pressure
    start, lowest = float(result.start_pressure.m_as("Pag")), build.limits.si.lowest_pressure
    lasts, holds = text(event.lasts), lasting(result.protected_time)
    if start <= lowest:
        return PUMP_TOO_WEAK, (
            f"even with all its oil the pump gives {text(result.start_pressure)} here, and the limit is {text(limit)}: "
            "no vessel can give more than it was given. Close the clearances, cool or thicken the oil, or fit a larger "
            "pump."
        )
    if protected:
        margin = float(result.protected_time.m) / event.si.lasts
        little = "" if margin > 1.25 else ", with little to spare"
        return PROTECTED, f"the vessel lasts {holds} for an event of {lasts}{little}."
    there, oil = build.driving.si, build.oil.si
    drive = max(start - lowest + head(build, density_of(oil, there.line_temperature), event.si.acceleration), 0.0)
    at_limit = lowest, event.si.speed, there.sump_temperature, there.clearance_change
    takes = float(engine_demand.si(build.engine, build.oil, *at_limit).total.m_as("m**3/s"))
    passed = _passes(build, build.hose, drive)
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
        "No hose of the kit passes enough with these fittings: widen valve and ports, measure the demand, and close "
        "the clearances."
    )


def _what_helps(build: Build, result: EventResult, holds: str) -> tuple[str, str]:
    """For an event that the vessel does not outlast: another pre-charge, a larger vessel, or smaller clearances."""
    event, lasts = result.event, text(result.event.lasts)
    best, longest = _best_charges(build, event, [build.vessel.si.gas_volume])[0]
    if longest >= event.si.lasts:
        return WRONG_CHARGE, (
            f"with {text(build.choice.precharge)} the vessel holds {text(result.stored)} and lasts {holds}; with about "
            f"{text(GAUGE.quantity(best))} it would last {lasting(TIME.quantity(longest))}, and the event is {lasts}."
        )
    cures = "; ".join(filter(None, (_larger(build, event), _tighter(build, event))))
    return NO_CAPACITY, (
        f"the vessel holds {text(result.stored)} and lasts {holds}, the event {lasts}; no pre-charge makes it last: "
        f"{cures}."
    )


def _larger(build: Build, event: Event) -> str:
    """How large a vessel would last."""
    volumes = [build.vessel.si.gas_volume * times for times in TRIED]
    for volume, (charge, time) in zip(volumes, _best_charges(build, event, volumes), strict=False):
        if time >= event.si.lasts:
            return f"a vessel of about {VOLUME.both(volume)} with {GAUGE.both(charge)} would"
    return f"not even {TRIED[-1]:.0f} times its volume would last"


def _tighter(build: Build, event: Event) -> str:
    """How much tighter the bearings would have to be, or nothing if the trade builds none so tight."""
    bearings = (build.engine.si.mains, build.engine.si.rods)
    for change in TIGHTER:
        total = build.driving.si.clearance_change + change
        if any(part.diametral_clearance + total < usual_clearance.si(part.diameter) for part in bearings):
            break
        if _best_charges(build, event, [build.vessel.si.gas_volume], total)[0][1] >= event.si.lasts:
            return f"so would mains and rods {text(Q(-change, 'm').to('thou'))} tighter with this vessel"
    return ""


def _passes(build: Build, hose: Hose, drive: float) -> float:
    """Flow that a pressure difference drives through the line with some hose. SI."""
    oil, warm, hot = build.oil.si, build.driving.si.line_temperature, build.driving.si.sump_temperature
    line = replace(build.installation.line, hose=hose)
    behind = (build.engine.filter, viscosity_of(oil, hot)) if build.installation.tee_before_filter else ()
    return float(supply_flow.si(line, drive, density_of(oil, warm), viscosity_of(oil, warm), *behind))


def _best_charges(
    build: Build, event: Event, volumes: Sequence[float], change: float | None = None
) -> list[tuple[float, float]]:
    """For each gas volume, of a few pre-charges (hot, SI) the one that lasts longest as expected, and how long; the
    last volume is the first that outlasts the event."""
    start = float(vary(build, (event,), nothing_off(), change=change).conditions["pressure"][0])
    charges = np.linspace(0.05, 0.95, CHARGES) * max(start, 2.0 * LEAST_PRESSURE)
    cases = vary(build, (event,), nothing_off(CHARGES), charges, change)
    found = []
    for volume in volumes:
        vessel = replace(build.vessel, gas_volume=VOLUME.quantity(volume))
        protected, _ = follow(replace(build.installation, vessel=vessel), cases, accuracy=QUICK)
        best = int(np.argmax(protected))
        found.append((float(charges[best]), float(protected[best])))
        if protected[best] >= event.si.lasts:
            break
    return found
