"""Numbers of the predictions of lesson 10: what a build sheet says."""

from __future__ import annotations

from functools import cache
from typing import Any

from oilkit.build.results import BuildSheet
from oilkit.build.setup_file import demo_set_ups
from oilkit.build.sheet import build_sheet
from oilkit.physics.pressure import ambient_pressure
from oilkit.physics.vessel import precharge_to_set
from oilkit.quantities.units import Q, Qty


@cache
def _sheet(name: str) -> BuildSheet:
    return build_sheet(demo_set_ups()[name], whole=False)


def set_in_a_cold_shop(hot: Qty, shop: Qty, gas: Qty) -> dict[str, Any]:
    """Two corrections at once: temperature and altitude."""
    there, here = ambient_pressure(Q(0, "ft")), ambient_pressure(Q(3000, "ft"))
    return {
        "answer": precharge_to_set(hot, shop, gas, there, here),
        "there": there,
        "here": here,
        "without_altitude": precharge_to_set(hot, shop, gas, there, there),
        "without_temperature": precharge_to_set(hot, gas, gas, there, here),
        "by_gauge": hot * (shop.m_as("K") / gas.m_as("K")),
    }


def what_matters_most() -> dict[str, Any]:
    """The first bar of the tornado."""
    most = _sheet("street V8").matter_most[0]
    return {"right": "clearance" if "clearance" in most else "line" if "line" in most else "charge", "most": most}


def pump_too_weak() -> dict[str, Any]:
    """When no vessel helps."""
    sheet = _sheet("huge clearances")
    told: dict[str, Any] = {"limit": sheet.build.limits.lowest_pressure}
    for key, found in zip(("fast", "braking", "slow"), sheet.events, strict=True):
        told |= {key: found.start_pressure, f"{key}_event": found.event.name}
    return told


def needle_or_plateau() -> dict[str, Any]:
    """As expected is not the same as robust."""
    hardest = _sheet("street V8").hardest
    share, times = hardest.share, float((hardest.protected_time / hardest.event.lasts).m_as("dimensionless"))
    right = "all" if share > 0.97 else "most" if share > 0.5 else "few"
    return {"right": right, "percent": 100 * share, "longer": 100 * (times - 1.0)}
