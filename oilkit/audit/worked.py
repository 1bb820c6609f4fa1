"""One engine worked through from the pre-charge set in the shop to its protected time, every step on show. (Lesson 12)

Each step is one public function on pint quantities, with what went in and what came out. What the engine is made of
stands in ``INPUTS``, each number with the range in which its true value may lie; `sensitivities` moves one at a time.
Nothing is computed here that the other modules do not compute: this is where they meet.
"""

from __future__ import annotations

import dataclasses
import inspect
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from types import SimpleNamespace
from typing import Any

import numpy as np
from pint.facets.plain import PlainQuantity

from oilkit.audit.register import outside_checks
from oilkit.errors import InputError
from oilkit.physics import bearing, gas, line, oil, pan, precharge, prelube, pressure, pump, valve, vessel
from oilkit.physics.catalog import engines, fittings, hoses, lubricants, vessels
from oilkit.physics.discharging import (
    OIL_STIFFNESS,
    WAVE_SPEED,
    Installation,
    cases_of,
    conditions_si,
    discharge,
    first_dip,
)
from oilkit.physics.engine import engine_demand, operating_point
from oilkit.physics.line import SupplyLine
from oilkit.physics.tee import tee_flow
from oilkit.quantities import kinds
from oilkit.quantities.kinds import Kind, one_to_si
from oilkit.quantities.printed import kind_for
from oilkit.quantities.units import Q, Qty


@dataclass(frozen=True)
class Input:
    """One number of the worked engine and the range in which its true value may lie."""

    words: str
    kind: Kind
    usual: Qty
    low: Qty
    high: Qty
    why: str
    """Where the range comes from."""

    def text(self, value: Qty) -> str:
        """A value of this input in both systems."""
        return self.kind.both(float(value.m_as(self.kind.si)))


def _input(words: str, kind: Kind, unit: str, usual: float, low: float, high: float, why: str) -> Input:
    return Input(words, kind, Q(usual, unit), Q(low, unit), Q(high, unit), why)


NO_SOURCE = "estimate, no source"
INPUTS: dict[str, Input] = {
    "altitude": _input(
        "altitude, or the weather's pressure", kinds.ALTITUDE, "m", 0, -250, 250, "weather, 3 %, from memory"
    ),
    "precharge_set": _input("pre-charge set in the shop", kinds.GAUGE, "psig", 9, 8, 10, "class 2.5 gauge, 40 psi"),
    "shop_temperature": _input("shop temperature", kinds.TEMPERATURE, "degC", 20, 17, 23, NO_SOURCE),
    "gas_temperature": _input("gas temperature", kinds.TEMPERATURE, "degC", 40, 30, 60, NO_SOURCE),
    "gas_volume": _input(
        "gas volume", kinds.VOLUME, "qt", 3, 2.85, 3.06, "2 %, its maker's; 5 % less by lesson 11's fit"
    ),
    "thermal_time_constant": _input(
        "thermal time constant", kinds.TIME_CONSTANT, "s", 5, 3, 12, "natural convection, from memory"
    ),
    "seal_friction": _input("seal friction", kinds.DROP, "psi", 0, 0, 2, NO_SOURCE),
    "viscosity_40": _input("viscosity at 40 °C", kinds.KINEMATIC_VISCOSITY, "cSt", 68, 65, 71, NO_SOURCE),
    "viscosity_100": _input("viscosity at 100 °C", kinds.KINEMATIC_VISCOSITY, "cSt", 10.6, 9.3, 12.4, "its SAE grade"),
    "density_15": _input("density at 15 °C", kinds.DENSITY, "kg/m**3", 868, 860, 880, NO_SOURCE),
    "high_shear": _input("high-shear factor", kinds.FACTOR, "dimensionless", 0.85, 0.7, 1.0, "from memory"),
    "sump_temperature": _input("sump temperature", kinds.TEMPERATURE, "degC", 100, 95, 105, NO_SOURCE),
    "film_rise": _input("film hotter than the sump", kinds.RISE, "delta_degC", 15, 10, 20, NO_SOURCE),
    "line_temperature": _input("oil standing in the line", kinds.TEMPERATURE, "degC", 60, 40, 80, NO_SOURCE),
    "clearance_change": _input(
        "clearance of mains and rods", kinds.CLEARANCE_CHANGE, "thou", 0, -0.3, 0.3, "shop micrometer, no source"
    ),
    "eccentricity": _input("eccentricity of the mains", kinds.ECCENTRICITY, "dimensionless", 0.7, 0.6, 0.8, NO_SOURCE),
    "efficiency": _input("pump's efficiency", kinds.FACTOR, "dimensionless", 0.85, 0.8, 0.9, NO_SOURCE),
    "speed": _input("engine speed", kinds.SPEED, "rpm", 3000, 2950, 3050, "shop tachometer, no source"),
    "bore": _input("bore of the line", kinds.BORE, "in", 0.625, 0.615, 0.635, "measured to 0.01 in"),
    "length": _input("length of the line", kinds.LINE_LENGTH, "ft", 6, 5.9, 6.1, "measured to 0.1 ft"),
    "loss_coefficient": _input(
        "loss of the valve, in velocity heads", kinds.LOSS, "dimensionless", 1, 0.5, 2, NO_SOURCE
    ),
    "leak": _input("leak past the check valve at 50 psi", kinds.THROUGH_FLOW, "gpm", 0, 0, 1.5, NO_SOURCE),
    "air_in_gallery": _input("air in the gallery's oil", kinds.FRACTION, "dimensionless", 0.05, 0.01, 0.1, NO_SOURCE),
    "pump_decay": _input("the pump fades within", kinds.TIME, "s", 0.2, 0, 1, NO_SOURCE),
    "head": _input("1 g along 3 ft of line", kinds.PRESSURE_DIFFERENCE, "psi", 0, -1.1, 1.1, "rho a L"),
}
"""What the worked engine is made of, beside the bench vessel, the street V8 and the street oil of the data files."""
LIMIT = Q(20, "psig")
"""Gallery pressure that the worked engine needs: its warning pressure."""
EVENT = Q(3, "s")
"""Length of the event within which its lowest pressure is looked for."""
DIGITS, DIGITS_IN_TIME = 10, 6
"""Significant digits of what a step shows: enough to work the next step by hand and still agree in the fourth digit of
a difference, and a million times above a computer's rounding. What is worked out step by step in time is good to its
steps only, and shown to six."""


@dataclass(frozen=True)
class Step:
    """One step: a public function, what went in, what came out."""

    part: str
    title: str
    function: str
    given: dict[str, Any] = field(repr=False)
    value: Qty
    digits: int = DIGITS

    @property
    def si(self) -> float:
        """The value as a plain number in the kit's SI unit."""
        return float(self.value.m_as(_si_unit(self.value)))

    def exact(self) -> str:
        """The value in SI and in the shop's unit, to all digits that count."""
        return exact(self.value, self.digits)


def _si_unit(value: Qty) -> str:
    kind = kind_for(value)
    return kind.si if kind else str(value.units)


TOGETHER = {"Installation": "as bolted together", "Element": "the filter"}
"""What stands for a record without a name of its own."""


def exact(value: Any, digits: int = DIGITS) -> str:
    """A quantity in SI and in the shop's unit, to so many significant digits; anything else in its own words."""
    if isinstance(value, SupplyLine):
        losses = (f"K {f.si.loss_coefficient:g} at {f.bore:g~}" for f in value.fittings)
        return "; ".join([f"bore {value.hose.bore:g~}, length {value.length:g~}", *losses])
    if not isinstance(value, PlainQuantity):
        if dataclasses.is_dataclass(value):
            return str(getattr(value, "name", TOGETHER.get(type(value).__name__, type(value).__name__)))
        return f"{value:.{digits}g}" if isinstance(value, float) else str(value)
    if np.ndim(value.m):
        first, last = (exact(Q(float(np.ravel(value.m)[end]), value.units), digits) for end in (0, -1))
        return f"{np.size(value.m)} values from {first} to {last}"
    unit = _si_unit(value)
    in_si = f"{value.m_as(unit) + 0.0:.{digits}g} {'' if unit == 'dimensionless' else unit}".rstrip()
    kind = kind_for(value)
    if kind is None or kind.us == kind.si:
        return in_si
    return f"{in_si}  =  {kind.display(value.m_as(unit), 'US') + 0.0:.{digits}g} {kind.label('US')}"


class Book:
    """The steps as they are worked, and the numbers that later steps need."""

    def __init__(self, given: dict[str, Qty]) -> None:
        self.given = SimpleNamespace(**given)
        self.found = SimpleNamespace()
        self.steps: list[Step] = []
        self.part = ""

    def do(self, title: str, function: Any, *args: Any, take: str = "", digits: int = DIGITS, **more: Any) -> Any:
        """Call a public function, write the step down, and hand back the result (or what is taken of it)."""
        result = function(*args, **more)
        self.note(title, function, args, more, result, take, digits)
        return result

    def note(
        self, title: str, function: Any, args: Any, more: Any, result: Any, take: str = "", digits: int = DIGITS
    ) -> None:
        value = result
        for name in take.split(".") if take else ():
            value = getattr(value, name)
        value = value[-1] if np.ndim(value.m) else value  # of a path its end
        bound = inspect.signature(function).bind(*args, **more).arguments
        given = {key: part for key, part in bound.items() if key != "conditions"} | bound.get("conditions", {})
        name = function.__name__ + (f": {take}" if take else "")
        self.steps.append(Step(self.part, title, name, given, value, digits))


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
    f.pumped = b.do("the pump pours", pump.pump_flow, g.speed, p.displacement, p.ratio, p.efficiency)
    asked = f.engine, f.oil, g.speed, g.sump_temperature, g.clearance_change
    f.point = b.do("pump and engine agree at", operating_point, *asked, take="gallery_pressure")
    f.full = f.point.gallery_pressure
    b.note("pressure at the pump", operating_point, asked, {}, f.point, "pump_pressure")
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
    land = (mains.width - mains.groove_width) / 2.0
    b.do("usual clearance of a main", bearing.usual_clearance, mains.diameter)
    b.do(
        "a main's land, cut open and laid flat",
        bearing.slot_flow,
        np.pi * mains.diameter,
        c_main / 2.0,
        land,
        drive,
        f.film_mu,
    )
    ring = b.do(
        "one main with a groove all round",
        bearing.groove_flow,
        mains.diameter,
        c_main,
        land,
        drive,
        f.film_mu,
        mains.eccentricity,
    )
    share = b.do("share of half a groove", bearing.half_groove_share, mains.eccentricity)
    f.one_main = ring * share
    b.do(
        "one rod, fed through a hole",
        bearing.hole_flow,
        c_rod,
        rods.width,
        rods.feed_hole,
        drive,
        f.film_mu,
        rods.eccentricity,
    )
    b.do(
        "one rod, dragged out by turning",
        bearing.side_flow,
        rods.diameter,
        c_rod,
        rods.width,
        g.speed,
        rods.eccentricity,
    )
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
    grown = np.linspace(space.m, g.gas_volume.m_as(space.units), 501)
    b.do(
        "emptied within 5 s: the gas has", gas.temperature_along,
        Q(np.linspace(0.0, 5.0, 501), "s"), Q(grown, space.units), g.gas_temperature, g.gas_temperature,
        g.thermal_time_constant, digits=DIGITS_IN_TIME,
    )  # fmt: skip
    b.do("how full", vessel.fill_fraction, f.stored, g.gas_volume)
    travel = b.do("piston travel", vessel.piston_travel, f.stored, f.vessel.bore)
    b.do("and back: the bore", vessel.bore_from_travel, f.stored, travel)
    b.do("a rule at the gas end reads", vessel.rule_reading, f.stored, f.vessel.bore, Q(0.5, "in"))
    b.do(
        "a fill at 4 gpm: pressure reached after", vessel.fill,
        f.vessel, f.precharge, f.full, Q(4, "gpm"), g.gas_temperature, g.thermal_time_constant, f.ambient,
        take="at_pressure", digits=DIGITS_IN_TIME,
    )  # fmt: skip
    b.do("useful oil, slow gas", precharge.useful_oil, g.gas_volume, f.precharge, f.full, LIMIT, f.ambient)
    b.do(
        "useful oil, no heat exchange",
        precharge.useful_oil,
        g.gas_volume,
        f.precharge,
        f.full,
        LIMIT,
        f.ambient,
        gas.ADIABATIC,
    )
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
    b.do(
        "the valve alone, at 10 psi", prelube.valve_flow, f.reduced.bore, f.reduced.loss_coefficient, Q(10, "psi"), rho
    )
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
    case = g.gas_volume, f.precharge, f.full, f.demand.total, f.ambient
    b.do("no line, slow gas, laminar: empty after", precharge.time_to_empty, *case)
    b.do("pressure left after 3 s", precharge.pressure_after, *case[:4], EVENT, f.ambient)
    b.do(
        "pre-charge that just outlasts 3 s",
        precharge.longest_lasting_precharge,
        g.gas_volume,
        f.full,
        f.demand.total,
        EVENT,
        f.ambient,
    )


def _in_time(b: Book) -> None:
    g, f = b.given, b.found
    f.conditions = {
        "precharge": f.precharge,
        "pressure": f.full,
        "speed": g.speed,
        "sump_temperature": g.sump_temperature,
        "line_temperature": g.line_temperature,
        "gas_temperature": g.gas_temperature,
        "thermal_time_constant": g.thermal_time_constant,
        "clearance_change": g.clearance_change,
        "pump_decay": g.pump_decay,
        "seal_friction": g.seal_friction,
        "head": g.head,
        "air_in_gallery": g.air_in_gallery,
        "leak": g.leak,
        "limit": LIMIT,
        "ambient": f.ambient,
    }
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
    night = b.do(
        "the vessel after a night at 5 °C", prelube.overnight,
        f.vessel, f.oil, *evening, g.line_temperature, cold, prelube.NOTHING, f.ambient, take="pressure",
    )  # fmt: skip
    without = replace(f.built, line=SupplyLine(f.hose, g.length, (fittings()["port"],)))
    b.do(
        "opened on the cold engine: galleries full after", prelube.pre_lube,
        without, f.reduced, night.precharge, night.pressure, cold, ambient=f.ambient, take="full_after",
        digits=DIGITS_IN_TIME,
    )  # fmt: skip
    b.do(
        "a stall with the valve open: empty after", prelube.stall,
        without, f.reduced, f.precharge, f.full, g.sump_temperature, g.gas_temperature, ambient=f.ambient,
        take="empty_after", digits=DIGITS_IN_TIME,
    )  # fmt: skip
    wire = b.do("a wire of 16 AWG", prelube.wire_gauge_area, 16)
    b.do("20 ft of it, there and back", prelube.cable_resistance, Q(20, "ft"), wire)
    b.do(
        "the electric valve's coil gets", prelube.coil_supply, Q(11.5, "V"), Q(12, "V"), Q(3, "A"), Q(20, "ft"), wire,
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
        if name not in INPUTS:
            raise InputError("input", repr(name), "one of the names in INPUTS, such as precharge_set")
        one_to_si(name, value, INPUTS[name].kind)
        given[name] = value
    book = Book(given)
    for book.part in parts:
        PARTS[book.part](book)
    return book


def as_text(steps: Sequence[Step], symbols: dict[str, str] | None = None) -> str:
    """Steps as an engineer would write them: what goes in, line by line, and what comes out."""
    lines: list[str] = []
    for number, step in enumerate(steps, 1):
        lines.append(f"{number:2}. {step.title}: {step.function}")
        if number > 1 and _same(step.given, steps[number - 2].given):
            lines += ["      (all that goes in: as in the step before)", f"    = {step.exact()}"]
            continue
        width = max((len(name) for name in step.given), default=0)
        for name, value in step.given.items():
            symbol = (symbols or {}).get(name, "") if isinstance(value, PlainQuantity | float) else ""
            lines.append(f"      {name:<{width}}  {symbol:<5}  {exact(value)}")
        lines.append(f"    = {step.exact()}")
    return "\n".join(lines)


def _same(one: dict[str, Any], other: dict[str, Any]) -> bool:
    return one.keys() == other.keys() and all(one[key] is other[key] for key in one)


# ------------------------------------------------------------------------------------------- one input at a time


@dataclass(frozen=True)
class Sensitivity:
    """What one input, moved to either end of its range, does to the main results."""

    name: str
    words: str
    low: Qty
    high: Qty
    why: str
    results: dict[str, tuple[Qty, Qty, Qty]] = field(repr=False)
    """For each of ``MAIN``: with the input at its low end, as usual, at its high end."""

    def widest(self, result: str = MAIN[0]) -> float:
        """The larger of the two changes, as a share of the usual result."""
        low, usual, high = (float(value.m) for value in self.results[result])
        return max(abs(low / usual - 1.0), abs(high / usual - 1.0))


def main_results(**changed: Qty) -> dict[str, Qty]:
    """The main results with some inputs changed."""
    found = {step.title: step.value for step in work(SHORT, **changed).steps}
    return {name: found[name] for name in MAIN}


def sensitivities() -> list[Sensitivity]:
    """Each input moved to both ends of its range, alone; the one that moves the protected time most comes first."""
    usual = main_results()
    found = []
    for name, entry in INPUTS.items():
        low, high = (main_results(**{name: end}) for end in (entry.low, entry.high))
        results = {key: (low[key], usual[key], high[key]) for key in MAIN}
        found.append(Sensitivity(name, entry.words, entry.low, entry.high, entry.why, results))
    return sorted(found, key=lambda row: (-round(row.widest(), 6), row.name))


# ------------------------------------------------------------------------------------------ how exact the steps are


@dataclass(frozen=True)
class Convergence:
    """One case at several accuracies: see `convergence`. Arrays of shape (n,), the finest last."""

    accuracy: Any
    steps: Any
    protected_time: Qty
    error: Qty
    """From the finest run, which has none to show."""


ACCURACIES = (1e-3, 1e-4, 1e-5, 1e-6, 1e-7, 1e-8, 1e-9)


def convergence(accuracies: Sequence[float] = ACCURACIES, **changed: Qty) -> Convergence:
    """The worked engine's protected time at several accuracies, with the steps that each took.

    accuracies: 1e-9 to 1e-3. The error is the difference from the last of them.
    """
    from oilkit.physics import dynamics
    from oilkit.physics.discharging import pump_lets_go

    f = work(SHORT, **changed).found
    given, _ = conditions_si(f.conditions, f.built.vessel)
    numbers = {name: np.ravel(array).astype(float) for name, array in given.items()}
    cases, starts = cases_of(f.built, numbers)
    times, table = pump_lets_go(numbers, 60.0)
    rows = [dynamics.many(cases, times, table, starts, accuracy)[0] for accuracy in accuracies]
    seconds = np.array([row[dynamics.PROTECTED] for row in rows])
    return Convergence(
        accuracy=np.array(accuracies),
        steps=np.array([int(row[dynamics.STEPS]) for row in rows]),
        protected_time=Q(seconds, "s"),
        error=Q(np.abs(seconds - seconds[-1]), "s"),
    )


# -------------------------------------------------------------------------------------------- what is not modelled


@dataclass(frozen=True)
class LeftOut:
    """Something the kit does not model, with an estimate of what it would change."""

    what: str
    taken_as: str
    """What was put in its place for the estimate."""
    result: str
    change: float
    """Of the result, as a share of it."""


def left_out() -> list[LeftOut]:
    """What the kit leaves out, and by how much its results would move: each estimated with the kit's own functions."""
    book = work(SHORT)
    f, g = book.found, book.given
    usual = main_results()
    real = max(
        abs(row.difference)
        for row in outside_checks()
        if row.source.startswith("CoolProp") and row.relative and "slow" in row.quantity
    )
    time, oil_name, low = MAIN[0], MAIN[2], MAIN[1]

    def moved(what: str, taken_as: str, result: str, **changed: Qty) -> LeftOut:
        now = main_results(**changed)[result]
        return LeftOut(what, taken_as, result, float(now.m / usual[result].m - 1.0))

    start, warm_charge = (pressure.absolute_pressure(p, f.ambient) for p in (f.full, f.precharge))
    limit = pressure.absolute_pressure(LIMIT, f.ambient)
    # the air is as springy as 1 / p**2; over the way down that comes, on average, to what it has at start * limit
    springier = float(g.air_in_gallery.m) * float(start.m / limit.m)
    work_of_gas = warm_charge.m_as("Paa") * g.gas_volume.m_as("m**3") * math.log(start.m / warm_charge.m)
    cooler = work_of_gas / (2.0 * 490.0)
    rho, full = f.line_rho.m_as("kg/m**3"), pressure.absolute_pressure(f.full, f.ambient).m_as("Paa")
    volume = line.line_volume(g.bore, g.length).m_as("m**3")
    gallery = f.engine.gallery_volume.m_as("m**3")
    stretch = volume * (1.0 / (rho * WAVE_SPEED**2) - 1.0 / OIL_STIFFNESS)
    springy = float(g.air_in_gallery.m) + stretch * full / gallery
    foamy = operating_point(f.engine, f.oil, g.speed, g.sump_temperature, g.clearance_change, supply=0.9)
    second = line.column_time(Q(4, "in"), Q(1, "m/s"), Q(10, "psi"), f.density)
    return [
        moved(
            "the hose stretches",
            f"its spring put into the gallery: {springy - float(g.air_in_gallery.m):.4f} more air",
            time,
            air_in_gallery=Q(springy, "dimensionless"),
        ),
        LeftOut(
            "foam in the oil: the pump gives less",
            "a tenth of what it draws is air",
            "gallery pressure before the event",
            float(foamy.gallery_pressure.m / f.full.m - 1.0),
        ),
        moved(
            "foam in the oil: the gallery is springy",
            "10 % air in the gallery instead of 5 %",
            low,
            air_in_gallery=Q(0.1, "dimensionless"),
        ),
        moved(
            "real gas",
            f"{100.0 * real:.2g} % of the gas volume: the most that slow real gases are off in the check table",
            oil_name,
            gas_volume=g.gas_volume * (1.0 + real),
        ),
        moved(
            "gas leaks past the piston's seal",
            "1 psi of pre-charge since it was set (estimate, no source)",
            time,
            precharge_set=g.precharge_set - Q(1, "psig"),
        ),
        moved(
            "oil thins with shear, more where it is squeezed more",
            "factor 0.75 instead of 0.85 in every bearing",
            time,
            high_shear=Q(0.75, "dimensionless"),
        ),
        moved("the crank slows down in the event", "10 % less speed from the start", time, speed=g.speed * 0.9),
        LeftOut(
            "oil in the crank's drillings has inertia",
            "4 in of drilling to 1 m/s under 10 psi, as a share of the pump's fading",
            "time to follow",
            float((second / g.pump_decay).m_as("dimensionless")),
        ),
        moved(
            "the gallery's air grows as the pressure falls",
            f"air as springy as it is on the way from {start:.0f~} to {limit:.0f~}: {springier:.2f} instead of "
            f"{float(g.air_in_gallery.m):.2f}",
            time,
            air_in_gallery=Q(springier, "dimensionless"),
        ),
        moved(
            "the wall of the vessel cools with the gas",
            f"wall and gas {cooler:.2f} K colder: all the gas's work taken from 2 kg of steel (estimate, no source)",
            time,
            gas_temperature=g.gas_temperature - Q(cooler, "delta_degC"),
        ),
    ]
