"""Numbers of the predictions of lesson 02: filled by halves, cold and warm, and by a cheap gauge."""

from __future__ import annotations

from typing import Any

from oilkit.exercises.making import as_if_gauge
from oilkit.physics import gas, vessel
from oilkit.physics.catalog import vessels
from oilkit.physics.pressure import absolute_pressure, gauge_error, gauge_pressure
from oilkit.quantities.units import Q, Qty


def half_full(charge: Qty) -> dict[str, Any]:
    """The oil pressure that fills a vessel halfway."""
    room = Q(3, "qt")
    before = absolute_pressure(charge)
    after = gas.pressure_at_volume(before, room, room / 2)
    return {
        "answer": gauge_pressure(after),
        "gauge_doubled": gas.gauge_used_by_mistake(charge, room, room / 2),
        "absolute": as_if_gauge(after),
        "fast": gauge_pressure(gas.pressure_at_volume(before, room, room / 2, gas.ADIABATIC)),
    }


def warm_vessel(cold: Qty, warm: Qty, charge: Qty) -> dict[str, Any]:
    """Set cold, run warm."""
    return {
        "answer": vessel.precharge_at_temperature(charge, cold, warm),
        "room": vessels()["bench"].gas_volume,
        "by_gauge": charge * float((warm.to("K") / cold.to("K")).m),
        "by_celsius": charge * warm.m / cold.m,
    }


def error_at_ten(scale: Qty, reading: Qty) -> dict[str, Any]:
    """A gauge's error is a share of its full scale."""
    return {"answer": gauge_error(scale, 2.5), "of_the_reading": gauge_error(reading, 2.5)}
