"""What was measured on a car, as a set-up file has it: a log's starved stretches, a bench's findings. (Lesson 10)"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from oilkit.bench.fit import BenchFit
from oilkit.errors import InputError
from oilkit.laps.cornering import Starved
from oilkit.laps.logfile import Log
from oilkit.quantities.kinds import SPEED

MOST = 12
"""Events that are taken from one log: its longest stretches."""
USUAL_GAUGES = {"gauge_full_scale": "100 psi", "gauge_class": 1.6, "thermometer_error": "5 degF"}
"""Of a car whose set-up has no readings yet: the gauges of lesson 09."""
SHORTEST = 0.3
"""Seconds: what is shorter is a flicker of the sensor, and the gallery's own oil and the line's give as much."""
OF_BENCH = {"gas_volume": "vessel.gas_volume", "bore": "vessel.bore", "friction": "estimates.seal_friction"}
"""What a bench finds, and where it stands in a set-up file."""


def events_of(log: Log, starved: Sequence[Starved], begins: float = 0.0, reach: float = 1.0) -> list[dict[str, Any]]:
    """The longest stretches as events of a set-up, in the order of the lap; none shorter than ``SHORTEST``.

    begins: seconds into the file at which the log was cut, for the events' names. reach: of the set-up's line, in m.

    Each lasts from where its pressure began to fall to the stretch's end: by then the pump was drawing air. Its engine
    speed is the highest in there, which asks most of the vessel. Its acceleration along the car is the mean, with the
    sign that holds the oil back, because no log says on which side of the engine the vessel is. The pump's flow is
    taken to fail within 0.2 s (estimate, no source).
    """
    si, long = log.si, [one for one in starved if float((one.end - one.start).m_as("s")) >= SHORTEST]
    longest = sorted(long, key=lambda one: -float((one.end - one.start).m_as("s")))[:MOST]
    found = []
    for one in sorted(longest, key=lambda one: float(one.start.m_as("s"))):
        start, end = float(one.falls_from.m_as("s")), float(one.end.m_as("s"))
        within = (si["time"] >= start) & (si["time"] <= end)
        along = abs(float(np.mean(si["longitudinal"][within]))) / 9.80665
        found.append(
            {
                "name": f"{log.source[:40]}, {begins + start:.1f} s",
                "speed": f"{SPEED.display(float(np.max(si['rpm'][within])), 'US'):.0f} rpm",
                "lasts": f"{end - start:.3f} s",
                "pump_decay": "0.2 s",
                "acceleration": f"{round(-math.copysign(along, reach), 2) + 0.0:.2f} g_0",
            }
        )
    if not found:
        raise InputError("log", "no stretch in which the pressure falls short", "a log with one, and its pressure")
    return found


def found_on_bench(fit: BenchFit) -> dict[str, Any]:
    """What a bench found, by table and key. Raises `InputError` where its readings say nothing to rely on."""
    if not fit.goes_together:
        raise InputError("readings", "readings that do not go together", "a fit that can be believed")
    found = {path: fit.parameters[name].value for name, path in OF_BENCH.items() if name in fit.parameters}
    known = {path: value for path, value in found.items() if value is not None}
    if not known:
        raise InputError("readings", "nothing found about the vessel", "readings that give its gas volume or bore")
    return known
