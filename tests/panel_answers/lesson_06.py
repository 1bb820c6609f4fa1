"""Answers of the panels of lesson 06."""

from __future__ import annotations

from typing import Any

import numpy as np

import oilkit
from oilkit import Q
from oilkit.panels.lessons.lesson_06_discharge import MOMENTS


def _built(c: dict[str, Any], length: Any, hose: Any = None) -> oilkit.Installation:
    parts = oilkit.fittings()
    line = oilkit.SupplyLine(hose or oilkit.hoses()["trade_12"], length, (parts["reduced_valve"], parts["port"]))
    return oilkit.Installation(c["engine"], oilkit.lubricants()["street"], oilkit.vessels()["bench"], line)


def _or_never(time: Any) -> Any:
    return time if np.isfinite(time.m) else "not within 60 s"


def pump_lets_go(c: dict[str, Any]) -> dict[str, Any]:
    conditions: dict[str, Any] = {
        "precharge": c["precharge"],
        "pressure": Q(60, "psig"),
        "speed": c["speed"],
        "sump_temperature": c["sump"],
        "clearance_change": c["clearance"],
        "limit": c["engine"].warning,
    }
    went = oilkit.discharge(_built(c, c["length"]), samples=Q(MOMENTS, "s"), **conditions)
    assert went.history is not None
    history = went.history
    ends = went.protected_time.m_as("s") if np.isfinite(went.protected_time.m) else 60.0
    span = next((s for s in (2, 5, 10, 20, 40) if s >= 1.15 * ends), 60)
    moment = min(c["time"], Q(span, "s"))

    def now(series: Any) -> Any:
        return Q(np.interp(moment.m_as("s"), history.time.m_as("s"), series.m), series.units)

    return {
        "protected time": _or_never(went.protected_time),
        "it ends with": went.ending,
        "vessel empty after": _or_never(went.empty_after),
        "oil used by then": went.oil_used,
        "now: time": moment,
        "gallery pressure": now(history.gallery_pressure),
        "gas pressure": now(history.gas_pressure),
        "flow out of the vessel": now(history.line_flow),
        "flow into the engine": now(history.engine_flow),
        "oil left in the vessel": now(history.oil),
        "gas temperature": Q(float(now(history.gas_temperature.to("K")).m), "K"),
        "time constant of the gas, as full as it is": oilkit.gas_time_constant(
            Q(3, "qt"), Q(4.5, "in"), c["precharge"], Q(40, "degC"), Q(3, "qt") - now(history.oil), Q(7, "W/m**2/K")
        ),
    }


def dip_microscope(c: dict[str, Any]) -> dict[str, Any]:
    dip = oilkit.first_dip(
        _built(c, c["length"], c["hose"]),
        pressure=Q(60, "psig"),
        pump_decay=c["decay"],
        air_in_gallery=c["air"].m / 100,
        line_temperature=c["line_temperature"],
        limit=c["engine"].warning,
    )
    return {
        "depth of the dip": dip.depth,
        "lowest gallery pressure in it": dip.lowest_pressure,
        "deepest after": dip.deepest_at,
        "lasts (more than half its depth)": dip.duration,
        "below the limit, within half a second": dip.time_below,
        "a wave needs, through the line and back": dip.round_trip,
        "the model here": dip.validity,
    }


def how_it_ends(c: dict[str, Any]) -> dict[str, Any]:
    conditions: dict[str, Any] = {
        "precharge": c["precharge"],
        "pressure": Q(60, "psig"),
        "sump_temperature": c["sump"],
        "clearance_change": c["clearance"],
        "limit": c["engine"].warning,
    }
    built = _built(c, Q(6, "ft"))
    taus = (c["tau"], Q(0, "s"), Q(np.inf, "s"))
    here, warm, alone = (oilkit.discharge(built, thermal_time_constant=tau, **conditions) for tau in taus)
    return {
        "protected time": _or_never(here.protected_time),
        "it ends with": here.ending,
        "oil used by then": here.oil_used,
        "if the gas stayed warm (time constant 0)": _or_never(warm.protected_time),
        "it would end with": warm.ending,
        "without any heat (time constant infinite)": _or_never(alone.protected_time),
        "it would then end with": alone.ending,
    }
