"""Numbers of the predictions of lesson 05: how thick, how wide, how much, and how well a drawing knows it."""

from __future__ import annotations

from typing import Any

from oilkit.physics.bearing import groove_flow, side_flow
from oilkit.physics.catalog import engines, lubricants
from oilkit.physics.engine import Engine, engine_demand, operating_point
from oilkit.physics.oil import Lubricant, dynamic_viscosity, kinematic_viscosity
from oilkit.physics.precharge import longest_lasting_precharge
from oilkit.physics.pump import RATED_VISCOSITY, pump_efficiency, pump_flow
from oilkit.quantities.units import Q, Qty


def _film(oil: Lubricant, temperature: Qty) -> Qty:
    sheet = oil.viscosity_40, oil.viscosity_100, oil.density_15, oil.expansion
    film: Qty = dynamic_viscosity(temperature, *sheet, oil.high_shear)
    return film


def _street() -> tuple[Engine, Lubricant]:
    return engines()["street_v8"], lubricants()["street"]


def _through(clearance: Qty, eccentricity: float = 0.0) -> Qty:
    """What a grooved bearing passes: only how it changes with the clearance and the eccentricity matters here."""
    flow: Qty = groove_flow(Q(2.45, "in"), clearance, Q(0.325, "in"), Q(50, "psi"), Q(8, "cP"), eccentricity)
    return flow


def multigrade_hot() -> dict[str, Any]:
    """What the numbers of a grade promise."""
    thin, thick = (
        kinematic_viscosity(Q(100, "degC"), oil.viscosity_40, oil.viscosity_100).m
        for oil in (lubricants()["street"], lubricants()["straight"])
    )
    return {"right": "thick" if thick > thin else "thin", "thin": thin, "thick": thick}


def hotter_film(sump: Qty, film: Qty) -> dict[str, Any]:
    """A film hotter than the sump."""
    oil = lubricants()["street"]
    more = (_film(oil, sump) / _film(oil, film)).to("")
    return {
        "answer": more,
        "oil": oil.name,
        "inverted": 1.0 / more,
        "same": Q(1.0, ""),
        "by_celsius": Q(float(film.m_as("degC") / sump.m_as("degC")), ""),
    }


def wider_by_half(narrow: Qty, wide: Qty) -> dict[str, Any]:
    """The cube of the clearance."""
    ratio = (wide / narrow).to("")
    more = (_through(wide) / _through(narrow)).to("")
    return {"answer": more, "ratio": ratio, "square": ratio**2, "inverted": 1.0 / more}


def radial_for_diametral() -> dict[str, Any]:
    """The factor of 8."""
    clearance = Q(2.5, "thou")
    wrong = (_through(2 * clearance) / _through(clearance)).to("")
    return {"answer": wrong, "twice": Q(2.0, ""), "square": Q(4.0, ""), "inverted": 1.0 / wrong}


def off_centre() -> dict[str, Any]:
    """What load does to the flow."""
    return {"most": (_through(Q(2.5, "thou"), 1.0) / _through(Q(2.5, "thou"))).to("").m}


def pressed_or_dragged(pressure: Qty) -> dict[str, Any]:
    """What turning asks for, in the rod bearings."""
    engine, oil = _street()
    rods, fast = engine.rods, engine.redline
    fed = engine_demand(engine, oil, pressure, Q(0, "rpm"), Q(100, "degC")).rods
    dragged = rods.count * side_flow(rods.diameter, rods.diametral_clearance, rods.width, fast, rods.eccentricity)
    return {
        "right": "more" if dragged > 2 * fed else "less" if dragged < fed / 2 else "same",
        "engine": engine.name,
        "rods": rods.count.m,
        "fast": fast,
        "fed": fed,
        "dragged": dragged,
    }


def open_a_thou(step: Qty, sump: Qty) -> dict[str, Any]:
    """A thousandth of an inch, at hot idle."""
    engine, oil = _street()
    idle, wider = (
        operating_point(engine, oil, engine.idle, sump, change).gallery_pressure for change in (Q(0, "thou"), step)
    )
    main = engine.mains.diametral_clearance
    ratio = ((main + step) / main).to("").m
    return {
        "answer": wider,
        "engine": engine.name,
        "main": main,
        "idle": idle,
        "cube_of_all": idle / ratio**3,
        "by_clearance": idle / ratio,
    }


def precharge_for_loose(room: Qty, full: Qty, event: Qty, step: Qty) -> dict[str, Any]:
    """A looser engine and the pre-charge that just lasts."""
    engine, oil = _street()
    speed, sump = Q(4000, "rpm"), Q(100, "degC")
    before, after = (
        longest_lasting_precharge(room, full, engine_demand(engine, oil, full, speed, sump, change).total, event)
        for change in (Q(0, "thou"), step)
    )
    return {"right": "lower" if after < before else "higher", "engine": engine.name, "before": before, "after": after}


def known_by_drawing(low: Qty, high: Qty) -> dict[str, Any]:
    """How well a drawing knows an engine's demand."""
    clearances, spread = (high / low).to(""), (_through(high) / _through(low)).to("")
    return {"answer": spread, "clearances": clearances, "square": clearances**2, "inverted": 1.0 / spread}


def at_the_kink(speed: Qty) -> dict[str, Any]:
    """What the pump gives where its relief valve opens."""
    pump = engines()["street_v8"].pump
    pressure = Q(57, "psig")
    there = round(pump_efficiency(speed, pressure, RATED_VISCOSITY, pump.efficiency), 2)
    found = pump_flow(speed, pump.displacement, pump.ratio, there)
    whole = pump.displacement * there
    return {
        "answer": found,
        "displacement": pump.displacement,
        "percent": 100 * there.m,
        "as_fast_as_crank": (whole * speed).to("gpm"),
        "without_leak": found / there.m,
        "both": (whole / there.m * speed).to("gpm"),
    }
