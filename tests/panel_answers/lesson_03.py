"""Answers of the panels of lesson 03."""

from __future__ import annotations

from typing import Any

import oilkit
from oilkit import Q


def useful_oil(c: dict[str, Any]) -> dict[str, Any]:
    room = c["vessel"].gas_volume
    best = oilkit.best_precharge(c["pressure"], c["lowest"], polytropic_index=c["speed"])
    stored = oilkit.oil_stored(room, c["precharge"], c["pressure"], resting=True)
    span = (c["pressure"], c["lowest"])
    useful = oilkit.useful_oil(room, c["precharge"], *span, polytropic_index=c["speed"])
    return {
        "oil stored": stored,
        "useful oil": useful,
        "oil that comes too late": stored - useful,
        "pre-charge with the most useful oil": best,
        "useful oil there": oilkit.useful_oil(room, best, *span, polytropic_index=c["speed"]),
    }


def pressures_needed(c: dict[str, Any]) -> dict[str, Any]:
    engine, street = c["engine"], oilkit.lubricants()["street"]
    rho = oilkit.density(Q(100, "degC"), street.density_15, street.expansion)
    main = engine.mains.diameter
    return {
        "the trade's rule asks for": oilkit.rule_of_thumb_pressure(c["speed"]),
        "relief valve opens at": engine.pump.relief_opening,
        "lost on the way into the crank, this drilling": oilkit.crank_inward_loss(
            c["speed"], rho, main, 2 * engine.crank_nearest
        ),
        "the same, drilled through the axis": oilkit.crank_inward_loss(c["speed"], rho, main, Q(0, "in")),
        "won on the way out to the rod journal": oilkit.crank_outward_gain(c["speed"], rho, main, engine.crank_exit),
        "wanted": engine.wanted,
        "warning": engine.warning,
        "damage": engine.damage,
    }


def one_long_event(c: dict[str, Any]) -> dict[str, Any]:
    room = oilkit.vessels()["bench"].gas_volume
    before = (c["pressure"], c["demand"])
    best = oilkit.longest_lasting_precharge(room, *before, c["event"])
    just_below = Q(best.m * (1 - 1e-9), best.u)
    return {
        "pressure left at the end": oilkit.pressure_after(room, c["precharge"], *before, c["event"]),
        "the vessel would last": oilkit.time_to_empty(room, c["precharge"], *before),
        "oil in it at hot idle": oilkit.oil_stored(room, c["precharge"], c["idle"], resting=True),
        "best pre-charge for this event": best,
        "pressure left with the best": oilkit.pressure_after(room, just_below, *before, c["event"]),
        "pressure left with 10 psi (0.69 bar)": oilkit.pressure_after(room, Q(10, "psig"), *before, c["event"]),
    }
