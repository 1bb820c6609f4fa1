"""Answers of the panels of lesson 05."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np

import oilkit
from oilkit import Q

WIDTH, GROOVE, HOLE = Q(0.8, "in"), Q(0.15, "in"), Q(0.2, "in")


def _viscosity(oil: Any, temperature: Any, shear: Any = 1.0) -> Any:
    sheet = oil.viscosity_40, oil.viscosity_100, oil.density_15, oil.expansion
    return oilkit.dynamic_viscosity(temperature, *sheet, shear)


def _number(quantity: Any, unit: str) -> float:
    return round(float(quantity.m_as(unit)), 6)


def oil_thickness(c: dict[str, Any]) -> dict[str, Any]:
    oil, here = c["oil"], c["temperature"]
    hotter = Q(here.m_as("degC") + 15.0, "degC")
    known = oilkit.grades()
    limits = []
    for part in oil.grade.split("-"):
        low, below = known[part].lowest, known[part].below
        limits.append(f"{part}: {low.m:.2f}" + (" or more" if below is None else f" to below {below.m:.2f}"))
    hot = _number(c["viscosity_100"], "cSt")
    fitting = [
        name
        for name, grade in known.items()
        if grade.below is not None and _number(grade.lowest, "cSt") <= hot < _number(grade.below, "cSt")
    ]
    return {
        "viscosity in a line (kinematic)": oilkit.kinematic_viscosity(here, oil.viscosity_40, oil.viscosity_100),
        "density": oilkit.density(here, oil.density_15, oil.expansion),
        "viscosity in a line (dynamic)": _viscosity(oil, here),
        "viscosity in a bearing (dynamic, high shear)": _viscosity(oil, here, oil.high_shear),
        "15 K (27 °F) hotter, flow through a clearance is ×": _viscosity(oil, here) / _viscosity(oil, hotter),
        "its grade asks at 100 °C for": "; ".join(limits) + " cSt",
        "my own oil: viscosity in a line (kinematic)": oilkit.kinematic_viscosity(
            here, c["viscosity_40"], c["viscosity_100"]
        ),
        "my own oil's grade, by its value at 100 °C": " or ".join(fitting) or "none",
    }


def bearing_flow(c: dict[str, Any]) -> dict[str, Any]:
    film = _viscosity(c["oil"], c["temperature"], c["oil"].high_shear)
    land, lean = (WIDTH - GROOVE) / 2, c["eccentricity"]

    def pressed(clearance: Any) -> Any:
        if c["feed"].startswith("hole"):
            widest = c["feed"].endswith("widest gap")
            return oilkit.hole_flow(clearance, WIDTH, HOLE, c["pressure"], film, lean, at_widest_gap=widest)
        flow = oilkit.groove_flow(c["diameter"], clearance, land, c["pressure"], film, lean)
        return flow if c["feed"] == "groove all round" else flow * oilkit.half_groove_share(lean)

    if c["feed"].startswith("hole"):
        dragged = oilkit.side_flow(c["diameter"], c["clearance"], WIDTH, c["speed"], lean)
    else:
        dragged = 2 * oilkit.side_flow(c["diameter"], c["clearance"], land, c["speed"], lean)
    return {
        "viscosity of the film": film,
        "pressed through": pressed(c["clearance"]),
        "pressed through with 0.001 in (0.025 mm) more": pressed(c["clearance"] + Q(0.001, "in")),
        "dragged out by turning, if so much arrives": dragged,
        "pressed through, clearance put in as radial by mistake": 8 * pressed(c["clearance"]),
        "clearance by the trade's 0.001 in per inch": Q(c["diameter"].m_as("in"), "thou"),
    }


def demand_ledger(c: dict[str, Any]) -> dict[str, Any]:
    pump = c["engine"].pump
    left = {"as rated": 1.0, "worn": 0.85, "badly worn": 0.7}[c["pump"]]
    engine = dataclasses.replace(c["engine"], pump=dataclasses.replace(pump, efficiency=left * pump.efficiency))
    point, before = (
        oilkit.operating_point(engine, c["oil"], c["speed"], c["sump"], change)
        for change in (c["clearance_change"], Q(0, "thou"))
    )
    none = point.pump_flow.m == 0.0
    demand = point.demand
    return {
        "state": point.state,
        "gallery pressure": "none" if none else point.gallery_pressure,
        "with the clearance as it was": "none" if none else before.gallery_pressure,
        "by the trade's rule, 10 psi per 1000 rpm": Q(c["speed"].m_as("rpm") / 100, "psig"),
        "pump gives": point.pump_flow,
        "relief valve lets go": point.relief_flow,
        "engine takes": demand.total,
        "of that: pressed through bearings": demand.pressure_fed,
        "of that: dragged out by turning": demand.rotation_driven,
        "of that: jets and lifters": demand.jets,
    }


def _demand(found: Any) -> dict[str, Any]:
    return {
        "so the engine takes": found.flow,
        "19 times in 20 the truth is above": found.lowest,
        "… and below": found.highest,
        "at a gallery pressure, as read, of": found.at_pressure,
    }


def measure_by_pump(c: dict[str, Any]) -> dict[str, Any]:
    pairs = np.array([line.split() for line in c["readings"].splitlines() if line.strip()], dtype=float)
    knee = oilkit.pressure_knee(Q(pairs[:, 0], "rpm"), Q(pairs[:, 1], c["unit"]))
    pump = dataclasses.replace(
        oilkit.engines()["street_v8"].pump,
        displacement=c["displacement"],
        ratio=c["ratio"],
        efficiency=c["efficiency"],
    )
    return {
        "readings": str(len(pairs)),
        "pressure stops rising at": knee.speed,
        "… one standard error of that, ±": knee.speed_error,
        **_demand(oilkit.demand_at_relief(knee, pump, efficiency_error=c["efficiency_error"])),
    }


def measure_by_fall(c: dict[str, Any]) -> dict[str, Any]:
    after = Q(c["before"].m_as("psig") - c["fell"].m_as("psi"), "psig")
    gallery_end = Q(c["gallery"].m_as("psig") - c["gallery_fell"].m_as("psi"), "psig")
    held = [
        oilkit.oil_stored(c["gas_volume"], c["precharge"], pressure, resting=True) for pressure in (c["before"], after)
    ]
    found = oilkit.demand_from_fall(
        c["gas_volume"],
        c["precharge"],
        c["before"],
        after,
        c["open_for"],
        c["gallery"],
        gallery_end,
        reading_error=c["reading_error"],
    )
    return {
        "vessel settled, before": c["before"],
        "vessel settled, after": after,
        "oil that left the vessel": held[0] - held[1],
        **_demand(found),
    }
