"""Answers of the panels of lesson 07."""

from __future__ import annotations

from typing import Any

import numpy as np
import scipy.stats

import oilkit
from oilkit import Q


def _built(engine: Any, vessel: Any = None) -> Any:
    usual = oilkit.usual_installation()
    return oilkit.Installation(engine, usual.oil, vessel or usual.vessel, usual.line)


def lap(c: dict[str, Any]) -> dict[str, Any]:
    log = oilkit.kit_lap()
    given = {"pan_change": c["pan_change"], "precharge": c["precharge"], "limit": c["limit"]}
    shut, opened = (
        oilkit.simulate_lap(_built(c["engine"], c["vessel"]), log, valve, **given) for valve in (False, True)
    )
    found = oilkit.compare_laps(log, shut, opened)
    worst = max(found, key=lambda corner: corner.below_shut)
    return {
        "below the limit, valve shut": shut.time_below,
        "below the limit, valve open": opened.time_below,
        "lowest pressure, valve shut": shut.lowest_pressure,
        "lowest pressure, valve open": opened.lowest_pressure,
        "least oil in the vessel": min(opened.oil),
        "oil in it at the end": opened.oil_left,
        "most flow that refilling takes": max(-min(opened.line_flow), Q(0, "gpm")),
        "least oil in the pan": min(opened.pan),
        "longest below it, valve shut, in": worst.corner.name,
        "… seconds there, valve shut": worst.below_shut,
        "… seconds there, valve open": worst.below_open,
        "most oil given in one corner": max(corner.oil_given for corner in found),
        "corners not refilled before the next": (
            f"{sum(not np.isfinite(corner.refill.m) for corner in found)} of {len(found)}"
        ),
    }


def own_log(c: dict[str, Any]) -> dict[str, Any]:
    log = oilkit.kit_lap()
    expected = oilkit.expected_pressure(_built(c["engine"]), log, c["sump"])
    found = oilkit.starved_stretches(log, expected, c["share"].m)
    lengths = [stretch.end - stretch.start for stretch in found]
    rows = {
        "samples": str(len(log.time)),
        "the log lasts": log.time[-1],
        "from sample to sample": log.interval,
        "starved stretches": str(len(found)),
        "starved in all": sum(lengths, Q(0, "s")),
        "longest": max(lengths, default=Q(0, "s")),
    }
    if found:
        worst = min(found, key=lambda stretch: stretch.lowest)
        rows |= {"lowest pressure there": worst.lowest, "… at a distance of": worst.at}
    return rows


def precharge_map(c: dict[str, Any]) -> dict[str, Any]:
    built = _built(c["engine"])
    charges = np.unique(np.append(np.linspace(2, 50, 49), c["precharge"].m_as("psig")).round(9))
    events = np.unique(np.append(np.linspace(0.25, 12, 48), c["event"].m_as("s")).round(9))
    change = c["clearance_change"]
    starts = oilkit.operating_point(c["engine"], built.oil, Q(3000, "rpm"), Q(100, "degC"), change).gallery_pressure
    found = oilkit.precharge_map(built, Q(charges, "psig"), Q(events, "s"), limit=c["limit"], clearance_change=change)
    assert abs(found.pressure.m_as("psig") - starts.m_as("psig")) < 1e-6
    row = found.lowest_pressure[np.argmin(abs(events - c["event"].m_as("s")))]
    mine, usual = (np.argmin(abs(charges - charge)) for charge in (c["precharge"].m_as("psig"), 10))
    protected = found.protected_time[mine]
    best = found.best[np.argmin(abs(events - c["event"].m_as("s")))]
    return {
        "lowest pressure in your event": row[mine],
        "protected time with your pre-charge": protected if np.isfinite(protected.m) else "longer than 12 s",
        "pre-charge with the highest minimum pressure": best,
        "… the minimum is then": max(row),
        "with 10 psi (0.69 bar) it is": row[usual],
        "hot idle pressure": oilkit.operating_point(
            c["engine"], built.oil, c["engine"].idle, Q(100, "degC"), change
        ).gallery_pressure,
        "highest pre-charge for the pre-lube": oilkit.highest_for_prelube(
            built.vessel.gas_volume, starts, c["prelube"]
        ),
    }


def robust_choice(c: dict[str, Any]) -> dict[str, Any]:
    charges = np.linspace(2, 50, 25)
    found = oilkit.robust_choice(
        _built(c["engine"]),
        Q(charges, "psig"),
        c["event"],
        c["event_spread"].m,
        c["clearance_spread"],
        c["temperature_spread"],
    )
    mine = c["precharge"].m_as("psig")
    between = scipy.stats.binomtest(round(60 * found.best_share), 60).proportion_ci(0.95, "wilson")
    return {
        "needle: best for the one expected event": found.needle,
        "… protects of all draws": f"{100 * found.needle_share:.0f} %",
        "robust: protects most draws": found.best,
        "… namely": f"{100 * found.best_share:.0f} %",
        "… 19 times in 20 between": " and ".join(f"{100 * end:.0f} %" for end in between),
        "your pre-charge protects about": f"{100 * np.interp(mine, charges, found.share):.0f} %",
        "… and keeps in the expected event": Q(np.interp(mine, charges, found.lowest_pressure.m_as("psig")), "psig"),
    }
