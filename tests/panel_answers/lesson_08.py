"""Answers of the panels of lesson 08."""

from __future__ import annotations

import math
from functools import cache
from typing import Any

import numpy as np

import oilkit
from oilkit import Q

EVENING = Q(10, "psig"), Q(60, "psig"), Q(40, "degC"), Q(90, "degC")
"""Pre-charge, pressure, gas and oil temperature with which the pre-lube's vessel was shut off."""


def overnight(c: dict[str, Any]) -> dict[str, Any]:
    names = ("precharge", "pressure", "gas_temperature", "oil_temperature", "morning_temperature")
    state = c["vessel"], oilkit.lubricants()["street"], *(c[name] for name in names)
    tight = oilkit.overnight(*state)
    leaked = min(c["leaked"], tight.oil)
    night = oilkit.overnight(*state, leaked)
    held = oilkit.oil_stored(c["vessel"].gas_volume, c["precharge"], c["pressure"])
    charge = oilkit.precharge_at_temperature(c["precharge"], c["gas_temperature"], c["morning_temperature"])
    ratio = (c["vessel"].gas_volume / (c["vessel"].gas_volume - held)).m_as("dimensionless")
    return {
        "pressure in the morning": night.pressure,
        "the same, if only the gas cooled": oilkit.gauge_pressure(oilkit.absolute_pressure(charge) * ratio),
        "oil at shut-off": held,
        "oil in the morning": night.oil,
        "lost as the oil cools": tight.oil_before - tight.oil,
        "pre-charge at the morning's temperature": charge,
    }


@cache
def _run(fahrenheit: float, empty: float, wanted: float, oil: str, engine: str, hose: str, valve: str) -> Any:
    """The pre-lube of these things by name, its numbers and its history in plain units."""

    def named(things: dict[str, Any], name: str) -> Any:
        (found,) = (thing for thing in things.values() if thing.name == name)
        return found

    lubricant, bench = named(oilkit.lubricants(), oil), oilkit.vessels()["bench"]
    way = named(oilkit.fittings(), valve)
    line = oilkit.SupplyLine(named(oilkit.hoses(), hose), Q(8, "ft"), (oilkit.fittings()["port"],))
    morning = Q(fahrenheit, "degF")
    night = oilkit.overnight(bench, lubricant, *EVENING, morning)
    return oilkit.pre_lube(
        oilkit.Installation(named(oilkit.engines(), engine), lubricant, bench, line),
        way,
        night.precharge,
        night.pressure,
        morning,
        empty=empty,
        wanted=Q(wanted, "psig"),
        opening_time=Q(0.1 if "electric" in valve else 0.5, "s"),
        duration=Q(30, "s"),
    )


def _when(time: Any, cold: bool) -> str:
    if not math.isfinite(time.m):
        return "not within 30.00 s"
    return f"{math.ceil(time.m_as('s'))} s or more" if cold else f"{time.m_as('s'):.2f} s"


def pre_lube(c: dict[str, Any]) -> dict[str, Any]:
    names = (c[name].name for name in ("oil", "engine", "hose", "valve"))
    run = _run(c["temperature"].m_as("degF"), float(c["empty"].m), c["wanted"].m_as("psig"), *names)
    history, crank = run.history, run.crank_after.m_as("s")
    window = 3.0 if 3 * crank <= 3.0 else 10.0 if 3 * crank <= 10.0 else 30.0
    moment, cold = min(c["time"].m_as("s"), window), bool(c["temperature"] < Q(0, "degC"))

    def now(values: Any) -> Any:
        return np.interp(moment, history.time.m_as("s"), values)

    return {
        "time": Q(moment, "s"),
        "gallery pressure": Q(now(history.gallery_pressure.m), "psig"),
        "gas pressure": Q(now(history.gas_pressure.m), "psig"),
        "oil in the vessel": Q(now(history.oil.m), "qt"),
        "galleries full to": Q(now(history.gallery_fill), "dimensionless"),
        "gone through the bearings so far": Q(now(history.spent.m), "qt"),
        "galleries full after": _when(run.full_after, cold),
        "pressure to wait for reached after": _when(run.wanted_after, cold),
        "highest gallery pressure": run.peak_pressure,
        "crank after": _when(run.crank_after, cold),
        "spent until then, on galleries and bearings": run.oil_in_galleries + run.oil_spent,
        "left in the vessel for the start": run.oil_left,
    }


def valve_wiring(c: dict[str, Any]) -> dict[str, Any]:
    area, oil = oilkit.wire_gauge_area(c["gauge"]), oilkit.lubricants()["street"]
    found = oilkit.coil_supply(
        c["battery"],
        Q(12, "V"),
        c["current"],
        c["length"],
        area,
        pick_up=c["pick_up"],
        coil_temperature=c["coil_temperature"],
    )
    rho, nothing = oilkit.density(Q(90, "degC"), oil.density_15, oil.expansion), Q(0, "gpm")

    def passes(name: str) -> Any:
        valve = oilkit.fittings()[name]
        return oilkit.valve_flow(valve.bore, valve.loss_coefficient, Q(10, "psi"), rho)

    opens = bool(found.coil_voltage >= found.needed_voltage)
    electric = passes("narrow_valve") if opens else nothing
    return {
        "resistance of the cable": oilkit.cable_resistance(c["length"], area),
        "current that flows": found.current,
        "lost in cable and contacts": found.cable_drop,
        "volts at the coil": found.coil_voltage,
        "needed to pull in": found.needed_voltage,
        "the electric valve": "pulls in and opens" if opens else "stays shut",
        "it passes out of the vessel, at 10.0 psi (0.69 bar)": electric,
        "it passes back into the vessel, at 10.0 psi (0.69 bar)": electric if c["ways"] else nothing,
        "a valve by hand passes, each way, at 10.0 psi (0.69 bar)": passes("reduced_valve"),
        "still passes while it closes, from 8 gpm (30 L/min)": (
            Q(8, "gpm") * c["opening"] * (0.5 if opens else 0.0)
        ).to("qt"),
    }
