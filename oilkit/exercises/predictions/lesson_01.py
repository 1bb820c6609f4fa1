"""Numbers of the predictions of lesson 01: Boyle's law, and the shape of its curve."""

from __future__ import annotations

from typing import Any

from oilkit.exercises.making import as_if_gauge
from oilkit.physics import gas
from oilkit.physics.pressure import absolute_pressure, gauge_pressure
from oilkit.quantities.units import Q, Qty


def halve_the_volume(start: Qty) -> dict[str, Any]:
    """The classic mistake, met head on."""
    full, half = Q(2, "qt"), Q(1, "qt")
    after = gas.pressure_at_volume(absolute_pressure(start), full, half)
    return {
        "answer": gauge_pressure(after),
        "gauge_doubled": gas.gauge_used_by_mistake(start, full, half),
        "gauge_halved": gas.gauge_used_by_mistake(start, half, full),
        "absolute": as_if_gauge(after),
    }
