"""Numbers of the predictions of lesson 04: what a line holds and costs, its head, and the oil budget."""

from __future__ import annotations

from typing import Any

from oilkit.physics import gas
from oilkit.physics.catalog import bench_vessel
from oilkit.physics.line import acceleration_head, line_drop, line_volume, velocity_in
from oilkit.physics.oil import dynamic_viscosity
from oilkit.physics.pan import pan_level, pan_volume
from oilkit.physics.vessel import oil_stored
from oilkit.quantities.units import Q, Qty

HOSE_BORE, SIXTEENTHS = Q(0.625, "in"), 12
"""Bore of a rubber-lined -12 hose to MIL-H-8794 (FAA AC 43.13-1B), and the number on it."""
DASH_BORE = Q(SIXTEENTHS / 16.0, "in")
OIL_DENSITY = Q(850, "kg/m**3")


def line_holds(length: Qty) -> dict[str, Any]:
    """The dash number is a label, the bore counts."""
    right = line_volume(HOSE_BORE, length)
    return {
        "answer": right,
        "sixteenths": SIXTEENTHS,
        "bore": HOSE_BORE,
        "by_label": line_volume(DASH_BORE, length),
        "bore_for_radius": line_volume(2 * HOSE_BORE, length),
        "gallons": right / 4,
    }


def half_the_bore(wide: Qty, narrow: Qty) -> dict[str, Any]:
    """Laminar drop goes with the fourth power of the bore."""
    flow, length = Q(4, "gpm"), Q(10, "ft")
    drops = [line_drop(flow, bore, length, OIL_DENSITY, Q(200, "cP")) for bore in (narrow, wide)]
    speeds = [velocity_in(flow, bore) for bore in (narrow, wide)]
    bores = (wide / narrow).to("dimensionless")
    return {
        "answer": (drops[0] / drops[1]).to("dimensionless"),
        "bores": bores,
        "speeds": (speeds[0] / speeds[1]).to("dimensionless"),
        "third_power": bores**3,
    }


def cold_line(cold: Qty, hot: Qty) -> dict[str, Any]:
    """A dead leg stays cold."""
    sheet = Q(68, "cSt"), Q(10.6, "cSt"), Q(868, "kg/m**3")
    times = float((dynamic_viscosity(cold, *sheet) / dynamic_viscosity(hot, *sheet)).to("").m)
    return {"times": times}


def launch_head(hard: Qty, straight: Qty, hose: Qty) -> dict[str, Any]:
    """The head of a line along the acceleration."""
    return {
        "answer": acceleration_head(OIL_DENSITY, hard, straight),
        "density": OIL_DENSITY,
        "along_the_hose": acceleration_head(OIL_DENSITY, hard, hose),
        "at_one_g": acceleration_head(OIL_DENSITY, Q(1, "g_0"), straight),
        "water": acceleration_head(Q(1000, "kg/m**3"), hard, straight),
        "none": Q(0, "psi"),
    }


def oil_to_add(charge: Qty, running: Qty, length: Qty) -> dict[str, Any]:
    """Lines plus vessel at running pressure."""
    room = bench_vessel().gas_volume
    line = line_volume(HOSE_BORE, length)
    held = oil_stored(room, charge, running)
    return {
        "answer": held + line,
        "room": room,
        "bore": HOSE_BORE,
        "sixteenths": SIXTEENTHS,
        "held": held,
        "whole_room": room + line,
        "by_gauge": room * (1.0 - charge.m / running.m) + line,
        "fast": oil_stored(room, charge, running, polytropic_index=gas.ADIABATIC) + line,
        "by_label": held + line_volume(DASH_BORE, length),
    }


def left_open(full: Qty, held: Qty) -> dict[str, Any]:
    """The valve left open at shut-down."""
    areas = sump, depth, wide = Q(75, "in**2"), Q(3.5, "in"), Q(190, "in**2")
    line = line_volume(HOSE_BORE, Q(10, "ft"))

    def level(more: Qty) -> Qty:
        height: Qty = pan_level(pan_volume(full, *areas) + more, *areas)
        return height

    return {
        "answer": level(held),
        "sump": sump,
        "depth": depth,
        "wide": wide,
        "in_the_sump": full + (held / sump).to("in"),
        "line_too": level(held + line),
        "all_wide": (pan_volume(full, *areas) + held).to("in**3") / wide,
    }
