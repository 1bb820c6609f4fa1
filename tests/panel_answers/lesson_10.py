"""Answers of the panels of lesson 10."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

import oilkit
from oilkit import Q
from oilkit.quantities.records import data_file

PATHS = {
    "precharge": "choice.precharge",
    "clearance_change": "driving.clearance_change",
    "lasts": "driving.events 1.lasts",
    "speed": "driving.events 1.speed",
    "limit": "limits.lowest_pressure",
    "sump_temperature": "driving.sump_temperature",
    "gas_temperature": "driving.gas_temperature",
    "track_altitude": "driving.altitude",
    "shop_temperature": "shop.temperature",
    "shop_altitude": "shop.altitude",
}
PARTS = ("engine", "oil", "vessel", "hose", "valve")
DRAWS = 30


@cache
def _street() -> oilkit.Build:
    return oilkit.read_set_up(data_file("setup_street_v8.toml"))


@cache
def _sheet(text: str) -> oilkit.BuildSheet:
    return oilkit.build_sheet(oilkit.set_up_from_text(text), DRAWS, whole=False)


def _lasts(time: Any) -> str:
    return f"{time.m_as('s'):.2f} s" if np.isfinite(time.m) else "longer than 60 s"


def your_engine(c: dict[str, Any]) -> dict[str, Any]:
    parts = {name: c[name] for name in PARTS if c[name] is not None}
    build = _street().changed({path: c[name] for name, path in PATHS.items()} | parts)
    sheet = _sheet(build.text())
    hot, shop, outside = c["precharge"], c["shop_temperature"], oilkit.ambient_pressure(c["track_altitude"])
    kelvin = (shop.to("K") / c["gas_temperature"].to("K")).m
    there = oilkit.ambient_pressure(c["shop_altitude"])
    start = max(r.start_pressure for r in sheet.events)
    held = oilkit.oil_stored(build.vessel.gas_volume, hot, start, outside, resting=True)
    hardest, crank = sheet.hardest, sheet.morning.crank_after if sheet.morning else None
    level = next(level for level in sheet.pan if level.state == "running at speed")
    return {
        "pre-charge to set in the shop": oilkit.gauge_pressure(oilkit.absolute_pressure(hot, outside) * kelvin, there),
        "it then reads hot, oil side empty": hot,
        "oil to add": held + oilkit.line_volume(build.hose.bore, build.line.length),
        "pan at speed": level.words,
        "hardest event": hardest.event.name,
        "… protected for": _lasts(hardest.protected_time),
        "… in 8 of 10 draws from": _lasts(hardest.protected_low),
        "… to": _lasts(hardest.protected_high),
        "… lowest pressure in it": hardest.lowest_pressure,
        "… draws that are protected": f"{100 * hardest.share:.0f} %",
        "crank after, on a cold start": (
            "the vessel holds no oil"
            if crank is None
            else f"{crank.m:.2f} s"
            if np.isfinite(crank.m)
            else "not within 60 s"
        ),
        "matters most": sheet.tornado[0].name if sheet.tornado[0].size > 0 else "nothing",
    }


def compare_set_ups(c: dict[str, Any]) -> dict[str, Any]:
    rows: dict[str, Any] = {}
    for which in ("first", "second"):
        build = c[which]
        worn = build.driving.clearance_change + c["wear"]
        changed = build.changed({"driving.clearance_change": worn}) if c["wear"].m else build
        sheet = _sheet(changed.text())
        rows |= {
            f"pre-charge to set, {which}": sheet.precharge_to_set,
            f"oil to add, {which}": sheet.oil_to_add,
            f"hardest event, {which}": sheet.hardest.event.name,
            f"protected for, {which}": _lasts(sheet.hardest.protected_time),
            f"lowest pressure, {which}": sheet.hardest.lowest_pressure,
            f"simulated cases protected, {which}": f"{100 * sheet.hardest.share:.0f} %",
            f"matters most, {which}": sheet.matter_most[0] if sheet.matter_most else "nothing",
        }
    assert isinstance(c["wear"], type(Q(1, "thou")))
    return rows
