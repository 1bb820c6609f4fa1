"""What a vessel has to stand in a set-up, beside what its maker allows. (Lesson 10)"""

from __future__ import annotations

from typing import Any

import numpy as np

from oilkit.build.setup_file import Build
from oilkit.build.spread import head
from oilkit.physics.engine import OperatingPoint, operating_point
from oilkit.physics.night import overnight_si
from oilkit.physics.oil import density_of
from oilkit.physics.vessel import precharge_at_temperature
from oilkit.quantities.kinds import GAUGE, SPEED, TEMPERATURE
from oilkit.quantities.units import Qty

WARMING = 6
"""Oil temperatures at which the redline is looked at, from the morning's to the hot one."""


def warming_up(build: Build) -> OperatingPoint:
    """The settled engine, shape (1 + WARMING,): hot at idle and redline, then at the redline as the oil warms up."""
    engine, hot = build.engine.si, build.driving.si.sump_temperature
    sump = np.concatenate([[hot, hot], _oil_temperatures(build)])
    speed = np.where(np.arange(sump.size) == 0, engine.idle, engine.redline)
    oil, change = TEMPERATURE.quantity(sump), build.driving.clearance_change
    return operating_point(build.engine, build.oil, SPEED.quantity(speed), oil, change)


def with_head(build: Build, at_tee: Qty) -> Qty:
    """Pressure in the vessel: that at its tee, and where it lies below that the weight of cold oil in the line."""
    cold = density_of(build.oil.si, build.morning.si.temperature)
    return GAUGE.quantity(at_tee.m_as("Pag") + max(-head(build, cold, 0.0), 0.0))


def at_the_redline(build: Build, settled: OperatingPoint) -> list[tuple[str, float, Qty]]:
    """States at the redline, hot and while the oil warms up: name, the oil's temperature (SI), what the vessel has.

    settled: of `warming_up`.
    """
    in_vessel: Any = with_head(build, build.installation.at_tee(settled))
    warm = [(f"at the redline with oil of {TEMPERATURE.both(sump)}", float(sump)) for sump in _oil_temperatures(build)]
    states = [("hot at the redline", build.driving.si.sump_temperature), *warm]
    return [(*state, pressure) for state, pressure in zip(states, in_vessel[1:], strict=True)]


def parked(build: Build, running: Qty) -> tuple[Qty, Qty]:
    """Shut full and left: as warm as the morning, and as hot as the sump's oil. running: it was filled at."""
    driving, full = build.driving.si, float(with_head(build, running).m_as("Pag"))
    if full <= build.choice.si.precharge:  # no oil in it
        return build.choice.precharge, build.choice.precharge
    later = np.array([build.morning.si.temperature, driving.sump_temperature])
    found = _shut(build, full, driving.gas_temperature, driving.line_temperature, later)
    return GAUGE.quantity(float(found[0])), GAUGE.quantity(float(found[1]))


def shut_at_the_redline(build: Build, at_redline: list[tuple[str, float, Qty]]) -> tuple[str, Qty]:
    """Shut in one of the states of `at_the_redline` and then as hot as the sump's oil: the worst of them, and what the
    vessel has. Gas and the vessel's oil are as cold as the engine's oil there, and no hotter than when driving.
    """
    driving, (names, temperatures, pressures) = build.driving.si, zip(*at_redline, strict=True)
    sump, full = np.array(temperatures), np.array([pressure.m_as("Pag") for pressure in pressures])
    gas, oil = np.minimum(sump, driving.gas_temperature), np.minimum(sump, driving.line_temperature)
    found = _shut(build, full, gas, oil, driving.sump_temperature)
    return names[int(np.argmax(found))], GAUGE.quantity(float(np.max(found)))


def _shut(build: Build, full: Any, gas: Any, oil: Any, later: Any) -> Any:
    """Gauge pressure of a vessel shut full, with gas and oil of such temperatures, once both have the later one. SI."""
    air, room = build.track_ambient.m_as("Paa"), build.vessel.si.gas_volume
    charge = precharge_at_temperature.si(build.choice.si.precharge, build.driving.si.gas_temperature, gas, air, air)
    return overnight_si(room, build.oil.si, charge, np.maximum(full, charge), gas, oil, later, 0.0, air)["pressure"]


def _oil_temperatures(build: Build) -> Any:
    hot = build.driving.si.sump_temperature
    return np.linspace(min(build.morning.si.temperature, hot), hot, WARMING)[:-1]
