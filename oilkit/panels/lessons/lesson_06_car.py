"""What the panels of lesson 06 share: the car and its controls."""

from __future__ import annotations

import math

from oilkit.panels.framework.amounts import pressure, seconds, warmth
from oilkit.panels.framework.bound import Reading, us
from oilkit.panels.framework.choices import car_of
from oilkit.panels.framework.controls import Amount
from oilkit.physics.catalog import bench_vessel, fittings, lubricants
from oilkit.physics.discharging import Installation
from oilkit.physics.engine import Engine
from oilkit.physics.line import Hose, SupplyLine
from oilkit.quantities.kind import Kind
from oilkit.quantities.kinds import GAUGE, LINE_LENGTH, TIME_CONSTANT

LONGEST = 60.0
"""Seconds for which a discharge is followed."""
START = us(GAUGE, 60.0)
"""Pressure in the vessel when the pump lets go."""


def line_of(hose: Hose, length: float) -> SupplyLine:
    """The lesson's line: a hose with a reduced-bore valve and an engine port."""
    known = fittings()
    return SupplyLine(hose, LINE_LENGTH.quantity(length), (known["reduced_valve"], known["port"]))


def built(engine: Engine, line: SupplyLine) -> Installation:
    """The lesson's installation: any engine on street oil and the bench vessel; the learner's own with its own."""
    if car := car_of(engine):
        return Installation(engine, car.oil, car.vessel, line)
    return Installation(engine, lubricants()["street"], bench_vessel(), line)


def charge(start: float) -> Amount:
    return pressure("precharge", "Pre-charge", 2, 45, start)


def tau() -> Amount:
    return seconds("tau", "How slowly the gas warms: time constant", 0.5, 50, 5, 0.5, TIME_CONSTANT)


def sump() -> Amount:
    return warmth("sump", "Oil temperature in the sump", 40, 140, 100)


def finite(name: str, value: float, kind: Kind) -> Reading:
    """A time, or in words that it did not come."""
    return Reading(name, value, kind) if math.isfinite(value) else Reading(name, f"not within {LONGEST:.0f} s")
