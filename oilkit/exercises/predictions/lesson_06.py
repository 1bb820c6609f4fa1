"""Numbers of the predictions of lesson 06: what a vessel does in time, how it ends, and the first dip."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np

from oilkit.laps.lap import usual_installation
from oilkit.physics.catalog import bench_vessel, hoses
from oilkit.physics.dip import first_dip
from oilkit.physics.discharging import EMPTY, LASTS, LIMIT_REACHED, Installation, discharge
from oilkit.physics.precharge import time_to_empty
from oilkit.physics.pressure import absolute_pressure
from oilkit.physics.vessel import oil_stored
from oilkit.quantities.units import Q, Qty

FULL, TAKES = Q(60, "psig"), Q(5, "gpm")


def _built(**line: Any) -> Installation:
    """The lessons' own installation, with another line."""
    usual = usual_installation()
    return replace(usual, line=replace(usual.line, **line))


def dumps_faster(low: Qty, high: Qty, later: Qty) -> dict[str, Any]:
    """The saying: more pre-charge dumps faster."""
    samples: Qty = Q([0.0, 0.3], "s")
    flows = []
    for charge in (low, high):
        history = discharge(usual_installation(), Q(2, "s"), samples=samples, precharge=charge).history
        assert history is not None
        flows.append(float(np.asarray(history.line_flow.m)[1]))
    ratio = flows[1] / flows[0]
    right = "less" if ratio < 0.95 else "more" if ratio > 1.05 else "same"
    return {"right": right, "full": FULL}


def _mean(charge: Qty) -> Qty:
    """The mean flow over time, until the bench vessel is empty."""
    room = bench_vessel().gas_volume
    flow: Qty = (oil_stored(room, charge, FULL) / time_to_empty(room, charge, FULL, TAKES)).to("gpm")
    return flow


def time_until_empty(charge: Qty) -> dict[str, Any]:
    """The closed form, against the usual shortcuts."""
    room = bench_vessel().gas_volume
    oil = oil_stored(room, charge, FULL)
    by_gauge = room * (1.0 - (charge / FULL).m)
    last: Qty = TAKES * (charge / FULL).m
    return {
        "answer": time_to_empty(room, charge, FULL, TAKES),
        "room": room,
        "full": FULL,
        "takes": TAKES,
        "mean": _mean(charge),
        "middle": (2.0 * oil / (TAKES + last)).to("s"),
        "first_flow": (oil / TAKES).to("s"),
        "whole_room": (room / TAKES).to("s"),
        "by_gauge": (by_gauge / TAKES).to("s"),
        "last_flow": (oil / last).to("s"),
    }


def mean_flow(low: Qty, charge: Qty) -> dict[str, Any]:
    """What dumps faster can mean."""
    last: Qty = TAKES * (charge / FULL).m
    return {
        "answer": _mean(charge),
        "room": bench_vessel().gas_volume,
        "full": FULL,
        "takes": TAKES,
        "mean_of_low": _mean(low),
        "middle": (TAKES + last) / 2.0,
        "at_end": last.to("gpm"),
        "by_absolute": TAKES * float((absolute_pressure(charge) / absolute_pressure(FULL)).m),
    }


def looser_by_one(change: Qty) -> dict[str, Any]:
    """One thousandth of an inch."""
    went = discharge(usual_installation(), clearance_change=Q([0.0, float(change.m)], "thou"))
    before, after = went.protected_time
    shares = {"nearly": 0.95, "three_quarters": 0.75, "half": 0.5, "fifth": 0.2}
    right = min(shares, key=lambda name: abs(math.log(shares[name] / (after / before).m)))
    return {"right": right, "before": before, "after": after}


def which_ending(charge: Qty, limit: Qty) -> dict[str, Any]:
    """How a usual pre-charge ends."""
    went = discharge(usual_installation(), precharge=charge, limit=limit)
    right = {EMPTY: "empty", LIMIT_REACHED: "limit", LASTS: "lasts"}[went.ending]
    return {"right": right}


def warm_or_cold_gas(charge: Qty, needs: Qty) -> dict[str, Any]:
    """A middle time constant lasts longest."""
    constants: Qty = Q([0.0, 5.0, math.inf], "s")
    went = discharge(usual_installation(), precharge=charge, thermal_time_constant=constants)
    right = ("warm", "between", "cold")[int(np.argmax(went.protected_time.m))]
    return {"right": right}


def shallower_dip() -> dict[str, Any]:
    """What helps against the first dip."""
    step, slow = Q(5, "ms"), Q(100, "ms")
    dips = {
        "pump": first_dip(usual_installation(), pump_decay=slow),
        "hose": first_dip(_built(hose=hoses()["trade_16"]), pump_decay=step),
        "length": first_dip(_built(length=Q(3, "ft")), pump_decay=step),
        "air": first_dip(usual_installation(), pump_decay=step, air_in_gallery=0.08),
    }
    right = min(dips, key=lambda name: float(dips[name].depth.m))
    return {"right": right, "step": f"{step.m:g} ms", "slow": f"{slow.m:g} ms"}
