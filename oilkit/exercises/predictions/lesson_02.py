"""Numbers of the predictions of lesson 02: filled by halves, cold and warm, and by a cheap gauge."""

from __future__ import annotations

from typing import Any

from oilkit.exercises.making import as_if_gauge
from oilkit.physics import gas, vessel
from oilkit.physics.catalog import vessels
from oilkit.physics.pressure import absolute_pressure, gauge_error, gauge_pressure
from oilkit.quantities.units import Q


def half_full() -> dict[str, Any]:
    """The oil pressure that fills a vessel halfway."""
    room, charge = Q(3, "qt"), Q(12, "psig")
    before = absolute_pressure(charge)
    after = gas.pressure_at_volume(before, room, room / 2)
    return {
        "answer": gauge_pressure(after),
        "charge": charge,
        "gauge_doubled": gas.gauge_used_by_mistake(charge, room, room / 2),
        "absolute": as_if_gauge(after),
        "fast": gauge_pressure(gas.pressure_at_volume(before, room, room / 2, gas.ADIABATIC)),
    }


def more_precharge() -> dict[str, Any]:
    """What more pre-charge does to the oil stored."""
    return {"pressure": Q(35, "psig"), "low": Q(5, "psig"), "high": Q(20, "psig")}


def warm_vessel() -> dict[str, Any]:
    """Set cold, run warm."""
    cold, warm, charge = Q(20, "degC"), Q(45, "degC"), Q(10, "psig")
    return {
        "answer": vessel.precharge_at_temperature(charge, cold, warm),
        "charge": charge,
        "cold": cold,
        "warm": warm,
        "room": vessels()["bench"].gas_volume,
        "by_gauge": charge * float((warm.to("K") / cold.to("K")).m),
        "by_celsius": charge * warm.m / cold.m,
    }


def error_at_ten() -> dict[str, Any]:
    """A gauge's error is a share of its full scale."""
    scale, reading = Q(160, "psig"), Q(10, "psig")
    return {
        "answer": gauge_error(scale, 2.5),
        "scale": scale,
        "reading": reading,
        "of_the_reading": gauge_error(reading, 2.5),
    }
