"""Answers of the panels of lesson 04."""

from __future__ import annotations

from functools import cache
from typing import Any

import oilkit
from oilkit import Q, laminar_drop, tee_flow


def thickness(oil: Any, temperature: Any) -> tuple[Any, Any]:
    """Density and dynamic viscosity."""
    rho = oilkit.density(temperature, oil.density_15, oil.expansion)
    return rho, oilkit.kinematic_viscosity(temperature, oil.viscosity_40, oil.viscosity_100) * rho


def oil_line(c: dict[str, Any]) -> dict[str, Any]:
    bore, flow = c["hose"].bore, c["flow"]
    rho, mu = thickness(c["oil"], c["temperature"])
    reynolds = oilkit.reynolds_number(flow, bore, rho, mu)
    wall = oilkit.line_drop(flow, bore, c["length"], rho, mu)

    def lost(part: Any) -> Any:
        return oilkit.fitting_drop(flow, part.bore, part.loss_coefficient, rho) if part else Q(0, "psi")

    parts = [part for part in (c["ends"], c["ends"], c["valve"]) if part]
    regimes = ("laminar", "in between: no formula is good", "turbulent")
    return {
        "oil that the hose holds": oilkit.line_volume(bore, c["length"]),
        "speed of the oil in the hose": oilkit.velocity_in(flow, bore),
        "Reynolds number in the hose": reynolds,
        "the flow in the hose is": regimes[(reynolds.m >= 2300) + (reynolds.m > 4000)],
        "drop along the hose's wall": wall,
        "the same, if the flow were laminar": laminar_drop(flow, bore, c["length"], mu),
        "drop in both hose ends": 2 * lost(c["ends"]),
        "drop in the valve": lost(c["valve"]),
        "drop over the whole line": oilkit.supply_drop(
            oilkit.SupplyLine(c["hose"], c["length"], tuple(parts)), flow, rho, mu
        ),
    }


TOWARDS = {
    ("behind the engine", "brakes"): 1,
    ("behind the engine", "launches"): -1,
    ("ahead of the engine", "launches"): 1,
    ("ahead of the engine", "brakes"): -1,
    ("left of the engine", "goes round a left-hand corner"): 1,
    ("left of the engine", "goes round a right-hand corner"): -1,
    ("right of the engine", "goes round a right-hand corner"): 1,
    ("right of the engine", "goes round a left-hand corner"): -1,
}
"""1 where the engine's end of the line gains: the car's velocity changes towards the vessel. Elsewhere: across."""
FORWARDS_LEFT = {
    "behind the engine": (-1, 0),
    "ahead of the engine": (1, 0),
    "left of the engine": (0, 1),
    "right of the engine": (0, -1),
    "launches": (1, 0),
    "brakes": (-1, 0),
    "goes round a left-hand corner": (0, 1),
    "goes round a right-hand corner": (0, -1),
}


def _named(way: tuple[int, int], names: set[str]) -> str:
    (name,) = (name for name in names if FORWARDS_LEFT[name] == way)
    return name


def line_on_the_move(c: dict[str, Any]) -> dict[str, Any]:
    places, moves = ({pair[k] for pair in TOWARDS} for k in (0, 1))
    along = TOWARDS.get((_named(c["place"], places), _named(c["manoeuvre"], moves)), 0)
    rho, flow = Q(850, "kg/m**3"), Q(8, "gpm")
    head = oilkit.acceleration_head(rho, along * c["acceleration"], c["distance"])
    speed, left = oilkit.velocity_in(flow, c["hose"].bore), c["above"] + head
    shown = "8.00 gpm" if oilkit.unit_switch.system == "US" else "30.28 L/min"
    return {
        "head at the engine's end (− means it loses)": head,
        "last oil at the engine, standing (pre-charge)": c["precharge"],
        "last oil at the engine, on the move": c["precharge"] + Q(head.m_as("psi"), "psig"),
        "left to move the oil": left,
        f"speed in the hose at {shown}": speed,
        f"from rest to {shown}": (
            oilkit.column_time(c["length"], speed, left, rho)
            if left.m > 0
            else "never: nothing pushes it towards the engine"
        ),
    }


LEAK = {"tight": 0.0, "worn seat": 0.4, "no check valve": 1.5}


def tee(c: dict[str, Any]) -> dict[str, Any]:
    valve = oilkit.Fitting("valve", Q(0.5, "in"), 1.0)
    line = oilkit.SupplyLine(oilkit.Hose("hose", "-12", Q(0.625, "in")), Q(8, "ft"), (valve,))
    rho, mu = thickness(c["oil"], c["line_temperature"])
    _, in_filter = thickness(c["oil"], c["filter_temperature"])
    leak = Q(LEAK[c["check_valve"]], "gpm"), Q(50, "psi")
    gallery = Q(c["vessel"].m_as("psig") - c["below"].m_as("psi"), "psig")
    found = {
        place: tee_flow(line, c["vessel"], gallery, rho, mu, *leak, element, in_filter)
        for place, element in (("before the filter", c["engine"].filter), ("after the filter", None))
    }
    here = found[c["tee"]]
    return {
        "into the gallery, tee before the filter": found["before the filter"].gallery_flow,
        "into the gallery, tee after the filter": found["after the filter"].gallery_flow,
        "out of the vessel, tee as chosen": here.line_flow,
        "leak back past the check valve": here.leak,
        "gallery pressure": gallery,
        "pressure at the tee": here.tee_pressure,
        "drop in the filter on the way": here.filter_drop,
        "share that passes no filter on the way": here.unfiltered,
    }


@cache
def _in_flight(name: str) -> tuple[Any, Any]:
    (engine,) = (e for e in oilkit.engines().values() if e.name == name)
    oil = oilkit.lubricants()["street"]
    takes = [oilkit.operating_point(engine, oil, n, Q(100, "degC")).demand.total for n in (engine.idle, engine.redline)]
    return takes[0] * engine.drain_time, takes[1] * engine.drain_time


def oil_budget(c: dict[str, Any]) -> dict[str, Any]:
    """Each place on its own: what stands in it, and the pan by what all the others leave of the total."""
    engine, state, nothing = c["engine"], c["state"], Q(0, "qt")
    pan, shape = engine.pan, (engine.pan.sump_area, engine.pan.sump_depth, engine.pan.upper_area)
    held = oilkit.oil_stored(c["vessel"].gas_volume, c["precharge"], c["pressure"], resting=True)
    line = oilkit.line_volume(c["hose"].bore, c["length"])
    parts = engine.filter.volume + engine.gallery_volume + (engine.cooler.volume if engine.cooler else nothing)
    total = oilkit.pan_volume(pan.full_height, *shape) + held + line + parts + c["poured"]
    run = state != "filled, never run"
    in_vessel = {"idling, vessel filling": held / 2, "running at speed": held, "stopped, valve shut": held}
    idle, fast = _in_flight(engine.name)
    in_flight = {"idling, vessel filling": idle, "running at speed": fast}.get(state, nothing)
    elsewhere = in_vessel.get(state, nothing) + in_flight + (line + parts if run else nothing)
    in_pan = Q(max((total - elsewhere).m_as("qt"), 0.0), "qt")
    level = oilkit.pan_level(in_pan, *shape)
    drawable = (in_pan - oilkit.pan_volume(pan.pickup_height, *shape)).m_as("qt")
    return {
        "oil to add for vessel and line": held + line,
        "all the oil in the engine": total,
        "in the pan": in_pan,
        "in the line": line if run else nothing,
        "in the vessel": in_vessel.get(state, nothing),
        "in filter, cooler and galleries": parts if run else nothing,
        "in flight, on its way back to the pan": in_flight.to("qt"),
        "level in the pan": level,
        "in the pan above the pick-up": Q(max(drawable, 0.0), "qt"),
        "the level is": oilkit.level_in_words(level, pan).split(":")[0],
    }
