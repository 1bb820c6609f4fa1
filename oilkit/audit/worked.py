"""One engine worked through from the pre-charge set in the shop to its protected time, every step on show. (Lesson 12)

Each step is one public function on pint quantities, with what went in and what came out. What the engine is made of
stands in `oilkit.audit.inputs`, each number with the range in which its true value may lie; `oilkit.audit.sensitivity`
moves one at a time. Nothing is computed here that the other modules do not compute: this is where they meet.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from oilkit.audit.inputs import EVENT, INPUTS, LIMIT
from oilkit.audit.steps import DIGITS_IN_TIME, Book
from oilkit.errors import of_these
from oilkit.physics import (
    bearing,
    gas,
    line,
    night,
    oil,
    pan,
    precharge,
    prelube,
    pressure,
    pump,
    valve,
    vessel,
    wiring,
)
from oilkit.physics.catalog import engines, fittings, hoses, lubricants, vessels
from oilkit.physics.dip import first_dip
from oilkit.physics.discharging import CONDITIONS, Installation, discharge
from oilkit.physics.engine import engine_demand, operating_point
from oilkit.physics.line import SupplyLine
from oilkit.physics.tee import tee_flow
from oilkit.quantities.kinds import one_to_si
from oilkit.quantities.units import Q, Qty


def _air(b: Book) -> None:
    g, f = b.given, b.found
    f.ambient = b.do("air outside", pressure.ambient_pressure, g.altitude)
    f.set_absolute = b.do("gas as it was set", pressure.absolute_pressure, g.precharge_set, f.ambient)
    f.warm = b.do(
        "the same gas, warm", gas.pressure_at_temperature, f.set_absolute, g.shop_temperature, g.gas_temperature
    )
    b.do("as a dial shows it", pressure.gauge_pressure, f.warm, f.ambient)
    f.precharge = b.do(
        "pre-charge at work, in one step", vessel.precharge_at_temperature,
        g.precharge_set, g.shop_temperature, g.gas_temperature, f.ambient, f.ambient,
    )  # fmt: skip
    b.do(
        "and back to the shop", vessel.precharge_to_set,
        f.precharge, g.shop_temperature, g.gas_temperature, f.ambient, f.ambient,
    )  # fmt: skip
    b.do("what the shop's gauge may be wrong by", pressure.gauge_error, Q(40, "psig"), 2.5)


def _oil(b: Book) -> None:
    g, f = b.given, b.found
    f.street = lubricants()["street"]
    f.oil = replace(
        f.street, viscosity_40=g.viscosity_40, viscosity_100=g.viscosity_100, density_15=g.density_15,
        high_shear=g.high_shear,
    )  # fmt: skip
    sheet = f.oil.viscosity_40, f.oil.viscosity_100, f.oil.density_15, f.oil.expansion
    f.film_temperature = Q(g.sump_temperature.m_as("K") + g.film_rise.m_as("delta_degC"), "K")
    f.density = b.do("oil in the sump: density", oil.density, g.sump_temperature, f.oil.density_15, f.oil.expansion)
    b.do("oil in the sump: nu", oil.kinematic_viscosity, g.sump_temperature, *sheet[:2])
    f.sump_mu = b.do("oil in the sump: mu", oil.dynamic_viscosity, g.sump_temperature, *sheet)
    f.film_mu = b.do("oil film in a bearing: mu", oil.dynamic_viscosity, f.film_temperature, *sheet, g.high_shear)
    f.line_rho = b.do(
        "oil standing in the line: density", oil.density, g.line_temperature, f.oil.density_15, f.oil.expansion
    )
    f.line_mu = b.do("oil standing in the line: mu", oil.dynamic_viscosity, g.line_temperature, *sheet)


def _engine(b: Book) -> None:
    g, f = b.given, b.found
    plain = engines()["street_v8"]
    f.engine = replace(
        plain,
        film_rise=g.film_rise,
        mains=replace(plain.mains, eccentricity=g.eccentricity),
        pump=replace(plain.pump, efficiency=g.efficiency),
    )
    p = f.engine.pump
    asked = f.engine, f.oil, g.speed, g.sump_temperature, g.clearance_change
    f.point = b.do("pump and engine agree at", operating_point, *asked, take="gallery_pressure")
    f.full = f.point.gallery_pressure
    b.note("pressure at the pump", operating_point, asked, {}, f.point, "pump_pressure")
    there = b.do(
        "the pump's efficiency there", pump.pump_efficiency, g.speed, f.point.pump_pressure, f.sump_mu, p.efficiency
    )
    f.pumped = b.do("the pump gives", pump.pump_flow, g.speed, p.displacement, p.ratio, there)
    b.note("the engine takes", operating_point, asked, {}, f.point, "demand.total")
    b.do(
        "the relief valve lets go", pump.relief_flow,
        f.point.pump_pressure, p.relief_opening, p.relief_rated_pressure, p.relief_rated_flow,
    )  # fmt: skip
    f.demand = b.do(
        "without the pump it takes at that pressure", engine_demand,
        f.engine, f.oil, f.full, g.speed, g.sump_temperature, g.clearance_change, take="total",
    )  # fmt: skip
    b.do("the trade's rule asks for", precharge.rule_of_thumb_pressure, g.speed)


def _bearings(b: Book) -> None:
    g, f = b.given, b.found
    mains, rods, e = f.engine.mains, f.engine.rods, f.engine
    drive = _difference(f.full)
    c_main, c_rod = (part.diametral_clearance + g.clearance_change for part in (mains, rods))
    slot = (mains.width - mains.groove_width) / 2.0, drive, f.film_mu
    around, main = (np.pi * mains.diameter, c_main / 2.0), (mains.diameter, c_main)
    b.do("usual clearance of a main", bearing.usual_clearance, mains.diameter)
    b.do("a main's land, cut open and laid flat", bearing.slot_flow, *around, *slot)
    b.do("one main with a groove all round", bearing.groove_flow, *main, *slot, mains.eccentricity)
    b.do("share of half a groove", bearing.half_groove_share, mains.eccentricity)
    hole = rods.feed_hole, drive, f.film_mu, rods.eccentricity
    b.do("one rod, fed through a hole", bearing.hole_flow, c_rod, rods.width, *hole)
    rod = rods.diameter, c_rod, rods.width
    b.do("one rod, dragged out by turning", bearing.side_flow, *rod, g.speed, rods.eccentricity)
    b.do("into the crank costs", bearing.crank_inward_loss, g.speed, f.density, mains.diameter, 2.0 * e.crank_nearest)
    b.do("out to the rod gains", bearing.crank_outward_gain, g.speed, f.density, mains.diameter, e.crank_exit)
    b.do(
        "one lifter's restrictor", valve.orifice_flow, e.lifters.bore, drive, f.density, e.lifters.discharge_coefficient
    )
    rated = e.filter.rated_drop, e.filter.rated_flow, e.filter.rated_viscosity, e.filter.bypass
    b.do("the filter costs", valve.element_drop, f.point.demand.total, f.sump_mu, *rated)
    b.do("goes round the filter", valve.unfiltered_share, f.point.demand.total, f.sump_mu, *rated)
    b.do("the oil's flow carries", valve.hydraulic_power, drive, f.point.demand.total)


def _difference(gauge: Qty) -> Qty:
    """A gauge pressure as the difference from ambient that it is."""
    return Q(gauge.m_as("psig"), "psi")


def _vessel(b: Book) -> None:
    g, f = b.given, b.found
    f.vessel = replace(vessels()["bench"], gas_volume=g.gas_volume)
    f.stored = b.do("oil stored, settled", vessel.oil_stored, g.gas_volume, f.precharge, f.full, f.ambient)


def _more_vessel(b: Book) -> None:
    g, f = b.given, b.found
    warm, full = (pressure.absolute_pressure(p, f.ambient) for p in (f.precharge, f.full))
    space = b.do("the gas has left", gas.volume_at_pressure, g.gas_volume, warm, full)
    b.do("and back: its pressure", gas.pressure_at_volume, warm, g.gas_volume, space)
    b.do("the classic mistake would give", gas.gauge_used_by_mistake, f.precharge, g.gas_volume, space)
    b.do("filled too fast: the gas has", gas.temperature_at_pressure, g.gas_temperature, warm, full)
    b.do("oil stored, filled too fast", vessel.oil_stored, g.gas_volume, f.precharge, f.full, f.ambient, gas.ADIABATIC)
    f.tau = b.do(
        "the gas warms, half full: time constant", vessel.gas_time_constant,
        g.gas_volume, f.vessel.bore, f.precharge, g.gas_temperature, g.gas_volume / 2, g.heat_transfer, f.ambient,
    )  # fmt: skip
    grown = np.linspace(space.m, g.gas_volume.m_as(space.units), 501)
    b.do(
        "emptied within 5 s: the gas has", gas.temperature_along,
        Q(np.linspace(0.0, 5.0, 501), "s"), Q(grown, space.units), g.gas_temperature, g.gas_temperature,
        f.tau, digits=DIGITS_IN_TIME,
    )  # fmt: skip
    b.do("how full", vessel.fill_fraction, f.stored, g.gas_volume)
    travel = b.do("piston travel", vessel.piston_travel, f.stored, f.vessel.bore)
    b.do("and back: the bore", vessel.bore_from_travel, f.stored, travel)
    b.do("a rule at the gas end reads", vessel.rule_reading, f.stored, f.vessel.bore, Q(0.5, "in"))
    b.do(
        "a fill at 4 gpm: pressure reached after", vessel.fill,
        f.vessel, f.precharge, f.full, Q(4, "gpm"), g.gas_temperature, f.tau, f.ambient,
        take="at_pressure", digits=DIGITS_IN_TIME,
    )  # fmt: skip
    case = g.gas_volume, f.precharge, f.full, LIMIT, f.ambient
    b.do("useful oil, slow gas", precharge.useful_oil, *case)
    b.do("useful oil, no heat exchange", precharge.useful_oil, *case, gas.ADIABATIC)
    b.do("best pre-charge, slow gas", precharge.best_precharge, f.full, LIMIT, f.ambient)
    b.do("best pre-charge, no heat exchange", precharge.best_precharge, f.full, LIMIT, f.ambient, gas.ADIABATIC)


def _line(b: Book) -> None:
    g, f = b.given, b.found
    f.reduced = replace(fittings()["reduced_valve"], loss_coefficient=g.loss_coefficient)
    f.hose = replace(hoses()["mil_h_8794_12"], bore=g.bore)
    f.line = SupplyLine(f.hose, g.length, (f.reduced, fittings()["port"]))
    f.built = Installation(f.engine, f.oil, f.vessel, f.line)


def _more_line(b: Book) -> None:
    g, f = b.given, b.found
    flow, rho, mu = f.demand.total, f.line_rho, f.line_mu
    b.do("oil in the full line", line.line_volume, g.bore, g.length)
    speed = b.do("velocity in the line", line.velocity_in, flow, g.bore)
    number = b.do("Reynolds number", line.reynolds_number, flow, g.bore, rho, mu)
    b.do("friction factor", line.friction_factor, number)
    b.do("the hose costs", line.line_drop, flow, g.bore, g.length, rho, mu)
    b.do("the same, if laminar", line.laminar_drop, flow, g.bore, g.length, mu)
    b.do("the valve costs", line.fitting_drop, flow, f.reduced.bore, f.reduced.loss_coefficient, rho)
    lost = b.do("the whole line costs", line.supply_drop, f.line, flow, rho, mu)
    b.do("and back: that drives", line.supply_flow, f.line, lost, rho, mu)
    b.do("the column gets going in", line.column_time, g.length, speed, _difference(f.full), rho)
    b.do("1 g along the line", line.acceleration_head, rho, Q(1, "g_0"), g.length)
    b.do("the valve alone, at 10 psi", wiring.valve_flow, f.reduced.bore, f.reduced.loss_coefficient, Q(10, "psi"), rho)
    b.do("a worn check valve lets back", valve.check_valve_leak, _difference(f.full), Q(0.2, "gpm"), Q(25, "psi"))
    b.do(
        "tee before the filter, 10 psi to drive: the gallery gets", tee_flow,
        f.line, f.full, Q(f.full.m - 10.0, "psig"), rho, mu, Q(0.2, "gpm"), Q(25, "psi"), f.engine.filter,
        take="gallery_flow",
    )  # fmt: skip


def _pan(b: Book) -> None:
    f = b.found
    p = f.engine.pan
    shape = p.sump_area, p.sump_depth, p.upper_area
    full = b.do("the pan at its full mark holds", pan.pan_volume, p.full_height, *shape)
    flight = b.do("on its way back to the pan", pan.oil_in_flight, f.point.demand.total, f.engine.drain_time)
    b.do("the pan, running and vessel full", pan.pan_level, full - flight, *shape)


def _by_hand(b: Book) -> None:
    g, f = b.given, b.found
    taken, event = (f.full, f.demand.total), (EVENT, f.ambient)
    case = g.gas_volume, f.precharge, *taken
    b.do("no line, slow gas, laminar: empty after", precharge.time_to_empty, *case, f.ambient)
    b.do("pressure left after 3 s", precharge.pressure_after, *case, *event)
    b.do("pre-charge that just outlasts 3 s", precharge.longest_lasting_precharge, g.gas_volume, *taken, *event)


def _in_time(b: Book) -> None:
    g, f = b.given, b.found
    here = vars(g) | {"precharge": f.precharge, "pressure": f.full, "limit": LIMIT, "ambient": f.ambient}
    f.conditions = {name: here[name] for name in CONDITIONS if name in here}
    few = {"samples": Q([0.0], "s"), **f.conditions}
    run = b.do("protected for", discharge, f.built, take="protected_time", digits=DIGITS_IN_TIME, **few)
    b.note("oil used by then", discharge, (f.built,), few, run, "oil_used", DIGITS_IN_TIME)
    b.note("vessel empty after", discharge, (f.built,), few, run, "empty_after", DIGITS_IN_TIME)
    b.do(
        f"lowest pressure within {EVENT:~}", discharge, f.built, EVENT, take="lowest_pressure", digits=DIGITS_IN_TIME,
        **few,
    )  # fmt: skip


def _more_time(b: Book) -> None:
    f = b.found
    b.do("first dip", first_dip, f.built, take="depth", digits=4, **f.conditions)


def _night(b: Book) -> None:
    g, f = b.given, b.found
    cold = Q(5, "degC")
    evening = f.precharge, f.full, g.gas_temperature
    morning = b.do(
        "the vessel after a night at 5 °C", night.overnight,
        f.vessel, f.oil, *evening, g.line_temperature, cold, night.NOTHING, f.ambient, take="pressure",
    )  # fmt: skip
    without = replace(f.built, line=SupplyLine(f.hose, g.length, (fittings()["port"],)))
    b.do(
        "opened on the cold engine: galleries full after", prelube.pre_lube,
        without, f.reduced, morning.precharge, morning.pressure, cold, ambient=f.ambient, take="full_after",
        digits=DIGITS_IN_TIME,
    )  # fmt: skip
    b.do(
        "a stall with the valve open: empty after", prelube.stall,
        without, f.reduced, f.precharge, f.full, g.sump_temperature, g.gas_temperature, ambient=f.ambient,
        take="empty_after", digits=DIGITS_IN_TIME,
    )  # fmt: skip
    wire = b.do("a wire of 16 AWG", wiring.wire_gauge_area, 16)
    b.do("20 ft of it, there and back", wiring.cable_resistance, Q(20, "ft"), wire)
    b.do(
        "the electric valve's coil gets", wiring.coil_supply, Q(11.5, "V"), Q(12, "V"), Q(3, "A"), Q(20, "ft"), wire,
        take="coil_voltage",
    )  # fmt: skip


PARTS: dict[str, Callable[[Book], None]] = {
    "air and pre-charge": _air,
    "oil": _oil,
    "pump and engine": _engine,
    "bearings, holes and filter": _bearings,
    "oil stored": _vessel,
    "more of the vessel": _more_vessel,
    "what is bolted together": _line,
    "line": _more_line,
    "pan": _pan,
    "time, by the closed form": _by_hand,
    "time, by the dynamic model": _in_time,
    "the first dip": _more_time,
    "night, pre-lube and valve": _night,
}
"""The chain, in the order in which each part needs those before it."""
SHORT = ("air and pre-charge", "oil", "pump and engine", "oil stored", "what is bolted together",
         "time, by the dynamic model")  # fmt: skip
MAIN = ("protected for", f"lowest pressure within {EVENT:~}", "oil stored, settled")
"""The three results that `sensitivities` follows."""


def work(parts: Sequence[str] = tuple(PARTS), **changed: Qty) -> Book:
    """Work the engine through, with some of its ``INPUTS`` changed: every step, and the numbers found on the way.

    Raises `InputError` for an input that is unknown or of the wrong kind.
    """
    given = {name: entry.usual for name, entry in INPUTS.items()}
    for name, value in changed.items():
        known = of_these("input", name, INPUTS, "one of the names in INPUTS, such as precharge_set")
        one_to_si(name, value, known.kind)
        given[name] = value
    book = Book(given)
    for book.part in parts:
        PARTS[book.part](book)
    return book
