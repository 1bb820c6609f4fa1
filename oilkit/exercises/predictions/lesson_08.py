"""Numbers of the predictions of lesson 08: the night, the pre-lube and the valve."""

from __future__ import annotations

from typing import Any

from oilkit.exercises.lessons.lesson_08 import installation_of_the_lesson
from oilkit.physics.catalog import bench_vessel, fittings, lubricants
from oilkit.physics.night import overnight
from oilkit.physics.prelube import PreLube, pre_lube, stall
from oilkit.physics.pressure import absolute_pressure, gauge_pressure
from oilkit.physics.wiring import cable_resistance, coil_supply, wire_gauge_area
from oilkit.quantities.units import Q, Qty


def morning_pressure(charge: Qty, full: Qty, warm: Qty, hot: Qty, cold: Qty) -> dict[str, Any]:
    """Gas and oil cool together."""
    night = overnight(bench_vessel(), lubricants()["street"], charge, full, warm, hot, cold)
    only_oil = overnight(bench_vessel(), lubricants()["street"], charge, full, cold, hot, cold)
    return {
        "answer": night.pressure,
        "room": bench_vessel().gas_volume,
        "oil": night.oil_before,
        "shrunk": night.shrunk,
        "only_gas_cooled": night.if_only_gas_cooled,
        "only_oil_cooled": only_oil.pressure,
        "by_gauge": full * (cold.m_as("K") / warm.m_as("K")),
    }


def _filled(morning: Qty) -> PreLube:
    night = overnight(
        bench_vessel(), lubricants()["street"], Q(10, "psig"), Q(60, "psig"), Q(40, "degC"), Q(90, "degC"), morning
    )
    return pre_lube(installation_of_the_lesson(), fittings()["reduced_valve"], night.precharge, night.pressure, morning)


def thick_oil_takes_time(warm: Qty, cold: Qty) -> dict[str, Any]:
    """Viscosity decides how long the galleries fill."""
    soon, late = (_filled(morning).full_after for morning in (warm, cold))
    times = float((late / soon).m_as("dimensionless"))
    right = "same" if times < 1.5 else "twice" if times < 4.0 else "ten_times"
    return {"right": right, "soon": soon, "late": late, "times": times}


def volts_at_the_coil(battery: Qty, rated: Qty, takes: Qty, there: Qty) -> dict[str, Any]:
    """Ohm's law, there and back."""
    area, none = wire_gauge_area(20), Q(0, "ohm")
    found, one_way = (coil_supply(battery, rated, takes, length, area, none) for length in (2 * there, there))
    resistance = cable_resistance(2 * there, area)
    return {
        "answer": found.coil_voltage,
        "area": area,
        "resistance": resistance,
        "one_way": one_way.coil_voltage,
        "kept_by_the_cable": found.cable_drop,
        "at_rated_current": Q(battery.m - resistance.m * takes.m, "V"),
    }


def ignition_on_engine_stopped() -> dict[str, Any]:
    """A stall with the ignition on."""
    valve, hot, warm = fittings()["narrow_valve"], Q(100, "degC"), Q(40, "degC")
    gone = stall(installation_of_the_lesson(), valve, Q(10, "psig"), Q(50, "psig"), hot, warm)
    return {"gone": gone.empty_after}


def shut_off_hotter(charge: Qty, warm: Qty, cold: Qty) -> dict[str, Any]:
    """What the pre-charge is on a cold morning."""
    night = overnight(bench_vessel(), lubricants()["street"], charge, Q(60, "psig"), warm, Q(90, "degC"), cold)
    return {
        "answer": night.precharge,
        "by_gauge": charge * (cold.m_as("K") / warm.m_as("K")),
        "half": gauge_pressure(absolute_pressure(charge) * 0.5),
    }
