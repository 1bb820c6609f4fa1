"""Whether a vessel helps in an event, and if it does not, why and what would help. (Lesson 10)"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

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
)
from oilkit.build.setup_file import Build
from oilkit.build.spread import LEAST_PRESSURE, QUICK, fillable, follow, head, idle_spread, nothing_off, vary
from oilkit.build.wording import said
from oilkit.physics.bearing import usual_clearance
from oilkit.physics.catalog import hoses
from oilkit.physics.engine import engine_demand
from oilkit.physics.line import Hose, supply_flow
from oilkit.physics.oil import density_of, viscosity_of
from oilkit.quantities.kinds import CLEARANCE_CHANGE, VOLUME
from oilkit.quantities.units import Q, Qty

TRIED = (1.25, 1.6, 2.0, 2.5, 3.2, 4.0, 5.0, 6.3, 8.0, 10.0, 16.0, 25.0)
"""How many times its gas volume a larger vessel is tried with."""
CHARGES = 9
TIGHTER = tuple(float(Q(-k, "thou").m_as("m")) for k in (0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 2.5, 3.0))


def judge(build: Build, result: EventResult, protected: bool, whole: bool, fills: float) -> tuple[str, str]:
    """Whether this vessel helps in an event; if not, why, and with the whole sheet what would help.

    fills: the hot idle at its low, Pa: a pre-charge above it may find no oil at idle.
    """
    verdict, numbers = _judged(build, result, protected, whole, fills)
    return verdict, " ".join(said("advice", build, result=result, verdict=verdict, whole=whole, fills=fills, **numbers))


def _judged(
    build: Build, result: EventResult, protected: bool, whole: bool, fills: float
) -> tuple[str, dict[str, Any]]:
    """The verdict, and the numbers that its sentence needs beside the result's."""
    event = result.event
    start, lowest = float(result.start_pressure.m_as("Pag")), float(result.limit.m_as("Pag"))
    if start <= lowest:
        return PUMP_TOO_WEAK, {}
    if protected:
        return PROTECTED, {}
    drive, takes, passed = _at_limit(build, event, start - lowest)
    if passed <= takes:
        bore = _wider(build, drive, takes) if whole else None
        return LINE_TOO_NARROW, {"takes": takes, "drive": drive, "passed": passed, "bore": bore}
    if not whole:
        return NOT_PROTECTED, {}
    for most in (fillable(build, fills), math.inf):
        best, longest = _best_charges(build, event, [build.vessel.si.gas_volume], most=most)[0]
        if longest >= event.si.lasts:
            return WRONG_CHARGE, {"best": best, "longest": longest, "filled": math.isfinite(most)}
    cures = {"larger": _larger(build, event, fills), "tighter": _tighter(build, event)}
    return NO_CAPACITY, cures | {"most": f"{TRIED[-1]:.0f}"}


def no_vessel_helps(build: Build, event: Event, start: float, limit: float, protected: bool) -> bool:
    """Whether the verdict would be one that no vessel of any size changes. start, limit: gallery pressures, SI."""
    if start <= limit or protected:
        return start <= limit
    _, takes, passed = _at_limit(build, event, start - limit)
    return passed <= takes


def _wider(build: Build, drive: float, takes: float) -> float | None:
    """The narrowest bore of the kit's hoses that would pass enough, if one does."""
    bores = {hose.si.bore: hose for hose in hoses().values() if hose.si.bore > build.hose.si.bore}
    return next((bore for bore in sorted(bores) if _passes(build, bores[bore], drive) > takes), None)


def _larger(build: Build, event: Event, fills: float) -> tuple[float, float] | None:
    """The volume of a vessel that would last, and a pre-charge that idle fills, if one of those tried would."""
    volumes = [build.vessel.si.gas_volume * times for times in TRIED]
    tried = zip(volumes, _best_charges(build, event, volumes, most=fillable(build, fills)), strict=False)
    return next(((volume, charge) for volume, (charge, time) in tried if time >= event.si.lasts), None)


def _tighter(build: Build, event: Event) -> tuple[Qty, float] | None:
    """How much tighter the bearings would have to be, and a charge that idle then fills; None if none are built so."""
    bearings = (build.engine.si.mains, build.engine.si.rods)
    for change in TIGHTER:
        total = build.driving.si.clearance_change + change
        if any(part.diametral_clearance + total < usual_clearance.si(part.diameter) for part in bearings):
            break
        driving = build.driving.changed(clearance_change=CLEARANCE_CHANGE.quantity(total))
        most = fillable(build, idle_spread(replace(build, driving=driving))[0])
        charge, lasts = _best_charges(build, event, [build.vessel.si.gas_volume], total, most)[0]
        if lasts >= event.si.lasts:
            return Q(-change, "m").to("thou"), charge
    return None


def _at_limit(build: Build, event: Event, difference: float) -> tuple[float, float, float]:
    """What drives oil through the line while the gallery is at its limit, what the engine takes then, and what the line
    passes. difference: between the start pressure and the limit. SI."""
    rho = density_of(build.oil.si, build.driving.si.line_temperature)
    drive = max(difference + head(build, rho, event.si.acceleration), 0.0)
    return drive, _takes_at_limit(build, event), _passes(build, build.hose, drive)


def _takes_at_limit(build: Build, event: Event) -> float:
    there = build.driving.si
    at = float(build.limit_at(event.si.speed)), event.si.speed, there.sump_temperature, there.clearance_change
    return float(engine_demand.si(build.engine, build.oil, *at).total.m_as("m**3/s"))


def _passes(build: Build, hose: Hose, drive: float) -> float:
    """Flow that a pressure difference drives through the line with some hose. SI."""
    oil, warm = build.oil.si, build.driving.si.line_temperature
    line, mu = replace(build.installation.line, hose=hose), viscosity_of(oil, warm)
    behind = (build.engine.filter, mu) if build.installation.tee_before_filter else ()
    return float(supply_flow.si(line, drive, density_of(oil, warm), mu, *behind))


def _best_charges(
    build: Build, event: Event, volumes: Sequence[float], change: float | None = None, most: float = math.inf
) -> list[tuple[float, float]]:
    """For each gas volume, of a few pre-charges (hot, SI) the one that lasts longest as expected, and how long; the
    last volume is the first that outlasts the event. most: the hot idle, Pa, below which they are to stay."""
    start = float(vary(build, (event,), nothing_off(), change=change).conditions["pressure"][0])
    charges = np.linspace(0.05, 0.95, CHARGES) * max(min(start, most), 2.0 * LEAST_PRESSURE)
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
