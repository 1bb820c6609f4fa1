"""What a vessel has to stand in a set-up, beside what its maker allows. (Lesson 10)"""

from __future__ import annotations

from typing import Any

import numpy as np

from oilkit.build.setup_file import Build
from oilkit.physics.engine import OperatingPoint, operating_point
from oilkit.physics.night import overnight_si
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


def at_the_redline(build: Build, settled: OperatingPoint) -> dict[str, Qty]:
    """Where the vessel settles at the redline, hot and while the oil warms up. settled: of `warming_up`."""
    at_tee: Any = build.installation.at_tee(settled)
    warm = [TEMPERATURE.both(sump) for sump in _oil_temperatures(build)]
    return {"hot at the redline": at_tee[1]} | {
        f"at the redline with oil of {sump}": at_tee[2 + k] for k, sump in enumerate(warm)
    }


def parked(build: Build, running: Qty) -> tuple[Qty, Qty]:
    """Shut full and left: as warm as the morning, and as hot as the sump's oil. running: it was filled at."""
    driving, full, charge = build.driving.si, float(running.m_as("Pag")), build.choice.si.precharge
    if full <= charge:  # no oil in it
        return build.choice.precharge, build.choice.precharge
    later = np.array([build.morning.si.temperature, driving.sump_temperature])
    found = overnight_si(
        build.vessel.si.gas_volume, build.oil.si, charge, full, driving.gas_temperature, driving.line_temperature,
        later, 0.0, build.track_ambient.m_as("Paa"),
    )["pressure"]  # fmt: skip
    return GAUGE.quantity(float(found[0])), GAUGE.quantity(float(found[1]))


def _oil_temperatures(build: Build) -> Any:
    hot = build.driving.si.sump_temperature
    return np.linspace(min(build.morning.si.temperature, hot), hot, WARMING)[:-1]
