"""Answers of the panels of lessons 00 to 02."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

import oilkit
from oilkit import Q

INDEX = {"slowly (settled)": 1.0, "fast (gas still hot)": 1.4}


def gauge_and_absolute(c: dict[str, Any]) -> dict[str, Any]:
    ambient = oilkit.ambient_pressure(c["altitude"])
    absolute = oilkit.absolute_pressure(c["gauge"], ambient)
    return {
        "gauge pressure": c["gauge"],
        "ambient pressure": ambient,
        "absolute pressure": absolute,
        "doubling the dial multiplies absolute pressure by": oilkit.absolute_pressure(2 * c["gauge"], ambient)
        / absolute,
    }


def at_work(c: dict[str, Any]) -> dict[str, Any]:
    """The corner written down again: 1.2 g to the left and 0.4 g of braking at 2500 rpm, the pan 2 qt short."""
    time = np.arange(0, 14.05, 0.1)
    lasts = c["lasts"].m_as("s")
    leaning = np.clip(np.minimum((time - 1.5) / 0.5, (2.5 + lasts - time) / 0.5), 0.0, 1.0)
    log = oilkit.Log(
        "again", Q(time, "s"), Q(np.full(141, 30.0), "m/s"), Q(1.2 * leaning, "g_0"), Q(-0.4 * leaning, "g_0"),
        Q(np.full(141, 2500.0), "rpm"),
    )  # fmt: skip
    parts = oilkit.fittings()
    line = oilkit.SupplyLine(oilkit.hoses()["trade_12"], Q(6, "ft"), (parts["reduced_valve"], parts["port"]))
    car = oilkit.Installation(
        oilkit.engines()["small_four"], oilkit.lubricants()["street"], oilkit.vessels()["bench"], line
    )
    shut, opened = (
        oilkit.simulate_lap(car, log, valve, Q(-2, "qt"), precharge=c["precharge"]) for valve in (False, True)
    )

    def now(series: Any) -> Any:
        return Q(np.interp(c["time"].m_as("s"), time, series.m), series.units)

    return {
        "time": c["time"],
        "oil pressure without a vessel": now(shut.gallery_pressure),
        "oil pressure with the vessel": now(opened.gallery_pressure),
        "oil left in the vessel": now(opened.oil),
        "share of oil, not air, in the pump": Q(np.interp(c["time"].m_as("s"), time, opened.supply), ""),
        "too low for, without a vessel": shut.time_below,
        "too low for, with the vessel": opened.time_below,
    }


def cylinder(c: dict[str, Any]) -> dict[str, Any]:
    full = Q(2, "qt")
    absolute = oilkit.pressure_at_volume(oilkit.absolute_pressure(c["capped_at"]), full, c["volume"])
    return {
        "volume": c["volume"],
        "absolute pressure": absolute,
        "absolute pressure × volume": (
            f"{(absolute * c['volume']).m_as('psia*qt'):.1f} psia·qt"
            if oilkit.unit_switch.system == "US"
            else f"{(absolute * c['volume']).m_as('bara*L'):.3f} bara·L"
        ),
        "gauge pressure (the dial)": oilkit.gauge_pressure(absolute),
        "dial, gauge used by mistake": oilkit.gauge_used_by_mistake(c["capped_at"], full, c["volume"]),
    }


def boyle_1662(c: dict[str, Any]) -> dict[str, Any]:
    data = oilkit.boyle_1662()
    k = round(c["number"].m) - 1
    space, inches = data.volume.m[k], data.pressure.m[k]
    products = data.volume.m * data.pressure.m
    law = math.exp(sum(math.log(p) for p in products) / len(products)) / space
    return {
        "space of air": Q(space, ""),
        "total pressure Boyle read": f"{inches:.2f} inches of mercury",
        "pressure × space": f"{inches * space:.0f}",
        "Boyle's law says": f"{law:.2f} inches of mercury",
        "reading minus law": f"{100 * (inches / law - 1):+.2f} %",
    }


def class_readings(c: dict[str, Any]) -> dict[str, Any]:
    pairs = [line.split() for line in c["readings"].splitlines() if line.strip()]
    dial = Q(np.array([float(p) for _, p in pairs]), c["unit"])
    pressure = oilkit.absolute_pressure(dial, c["ambient"]) if c["law"] == "absolute" else dial
    unit = "psi" if oilkit.unit_switch.system == "US" else "bar"
    product = pressure.m_as(unit + ("a" if c["law"] == "absolute" else "g")) * np.array([float(v) for v, _ in pairs])
    stray = np.max(np.abs(product / product.mean() - 1))
    name = "absolute" if c["law"] == "absolute" else "gauge"
    label = unit + name[0]
    return {
        "readings": str(len(pairs)),
        f"smallest {name} pressure × volume": f"{product.min():.4g} {label} × volume",
        f"largest {name} pressure × volume": f"{product.max():.4g} {label} × volume",
        "largest deviation from the curve": f"{100 * stray:.1f} %",
    }


def residuals(c: dict[str, Any]) -> dict[str, Any]:
    data = oilkit.boyle_1662()
    fit = oilkit.power_law_fit(Q(data.volume.m + c["hidden"].m_as("") * data.volume.m.max(), ""), data.pressure)
    shown = fit.boyle_residual if c["law"] == "boyle" else fit.residual
    return {
        "fitted exponent n": f"{fit.exponent:.4f}",
        "standard error of n": f"{fit.exponent_error:.4f}",
        "largest residual": f"{100 * np.abs(shown).max():.2f} %",
        "root mean square residual": f"{100 * np.sqrt((shown**2).mean()):.2f} %",
    }


def filling(c: dict[str, Any]) -> dict[str, Any]:
    vessel = c["vessel"]
    room, bore = (vessel.gas_volume, vessel.bore) if vessel else (c["own_volume"], c["own_bore"])
    oil = oilkit.oil_stored(room, c["precharge"], c["pressure"], polytropic_index=c["speed"], resting=True)
    gas = max(c["precharge"], c["pressure"])
    return {
        "oil in the vessel": oil,
        "share of the vessel filled": oilkit.fill_fraction(oil, room),
        "gas pressure, gauge": gas,
        "gas pressure, absolute": oilkit.absolute_pressure(gas),
        "piston travel = reading on the rule": oilkit.piston_travel(oil, bore),
    }


def fill_in_time(c: dict[str, Any]) -> dict[str, Any]:
    bench = oilkit.vessels()["bench"]
    run = oilkit.fill(bench, c["precharge"], c["pressure"], c["flow"], Q(20, "degC"), c["tau"])
    time = run.time.m_as("s")
    moment = min(c["time"].m_as("s"), time[-1])

    def at(series: Any) -> Any:
        return Q(np.interp(moment, time, series.m), series.u)

    return {
        "time": Q(moment, "s"),
        "oil in the vessel": at(run.oil),
        "gas pressure, gauge": at(run.pressure),
        "gas temperature": at(run.gas_temperature),
        "piston travel": oilkit.piston_travel(at(run.oil), bench.bore),
        "oil pressure reached after": run.at_pressure,
        "oil at that moment": run.prompt_oil,
        "oil once settled": run.settled_oil,
    }


def shop_to_track(c: dict[str, Any]) -> dict[str, Any]:
    shop, track = oilkit.ambient_pressure(c["shop_altitude"]), oilkit.ambient_pressure(c["track_altitude"])
    warm = (c["precharge"], c["shop_temperature"], c["gas_temperature"], shop, track)
    hot = oilkit.precharge_at_temperature(*warm)
    room = oilkit.vessels()["bench"].gas_volume
    return {
        "pre-charge in the shop": c["precharge"],
        "pre-charge at the track": hot,
        "to have the shop figure at the track, set": oilkit.precharge_to_set(*warm),
        "oil with the shop's pre-charge": oilkit.oil_stored(room, c["precharge"], Q(50, "psig"), shop, resting=True),
        "oil with the track's pre-charge": oilkit.oil_stored(room, hot, Q(50, "psig"), track, resting=True),
    }


def cheap_gauge(c: dict[str, Any]) -> dict[str, Any]:
    room = oilkit.vessels()["bench"].gas_volume
    error = oilkit.gauge_error(c["full_scale"], c["accuracy"].m_as("percent"))
    low, high = Q(max(c["precharge"].m - error.m, 0.0), "psig"), Q(c["precharge"].m + error.m, "psig")
    rows = {"largest error of the gauge, ±": error, "lowest true pre-charge": low, "highest true pre-charge": high}
    for name, charge in (
        ("oil if the gauge is right", c["precharge"]),
        ("oil at the lowest pre-charge", low),
        ("oil at the highest pre-charge", high),
    ):
        rows[name] = oilkit.oil_stored(room, charge, c["pressure"], resting=True)
    return rows
