"""Answers of the panels of lesson 10."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

import oilkit
from oilkit import Q
from oilkit.build.as_typed import amount, set_up_text
from oilkit.build.calibration import calibrate
from oilkit.build.learned import drawn
from oilkit.build.spread import latin_hypercube
from oilkit.quantities.printed import kind_for
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
            else "not at all: warm engine and oil first"
            if sheet.morning.peak_pressure < Q(10, "psig")
            else f"{crank.m:.2f} s"
            if np.isfinite(crank.m)
            else "not within 60 s"
        ),
    }


def every_number(c: dict[str, Any]) -> dict[str, Any]:
    build = oilkit.set_up_from_text(set_up_text(c["numbers"]))
    first = _sheet(build.text()).events[0]

    def pressure(temperature: Any) -> Any:
        at = build.engine, build.oil, build.engine.idle, temperature, build.driving.clearance_change
        return oilkit.operating_point(*at).gallery_pressure

    return {
        "hot idle": pressure(build.driving.sump_temperature),
        "hot, in the first event": first.start_pressure,
        "cold, at idle": pressure(build.morning.temperature),
        "first event, protected for": _lasts(first.protected_time),
        "it lasts": build.events[0].lasts,
    }


def your_readings(c: dict[str, Any]) -> dict[str, Any]:
    taken = {
        "hot_idle": {"pressure": "hot_idle", "speed": "idle_speed", "oil_temperature": "hot_idle_oil"},
        "hot_at_speed": {"pressure": "hot_at_speed", "speed": "at_speed", "oil_temperature": "at_speed_oil"},
        "cold_idle": {"pressure": "cold_idle", "speed": "idle_speed", "oil_temperature": "cold_idle_oil"},
        "relief_seen": {"pressure": "relief_seen", "speed": "relief_speed", "oil_temperature": "relief_oil"},
        "demand": {"flow": "demand", "pressure": "demand_at", "oil_temperature": "demand_oil"},
    }
    table: dict[str, Any] = {"gauge_class": float(c["gauge_class"].m), "thermometer_error": "5 degF"}
    table["gauge_full_scale"] = amount(c["gauge_full_scale"], kind_for(c["gauge_full_scale"]))
    for name, keys in taken.items():
        if c[name].m > 0.0:
            table[name] = {key: amount(c[control], kind_for(c[control])) for key, control in keys.items()}
    if "demand" in table:
        table["demand"] |= {"speed": "0 rpm", "within": amount(0.08 * c["demand"], kind_for(c["demand"]))}
    build = _street().changed({"readings": table})
    found = calibrate(build)
    z = latin_hypercube(100, 7)[:5]
    rows: dict[str, Any] = {}
    for one, which in ((found.guessed, "guessed"), (found.likely, "with readings")):
        idle, change, time = drawn(one, build.events[0], z)
        mains = change + build.engine.mains.diametral_clearance.m_as("m")
        for name, values, unit in (("hot idle", idle, "Pag"), ("clearance", mains, "m"),
                                   ("protected for", time, "s")):  # fmt: skip
            rows[f"{name}, {which}, from"] = Q(np.quantile(values, 0.1), unit)
            rows[f"{name}, {which}, to"] = Q(np.quantile(values, 0.9), unit)
    return rows


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
