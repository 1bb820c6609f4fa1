"""Answers of the commissioning panels of lesson 09."""

from __future__ import annotations

from functools import cache
from typing import Any

import oilkit
from oilkit import Q

SHOP = {5.0: Q(41, "degF"), 20.0: Q(68, "degF"), 35.0: Q(95, "degF")}


@cache
def _job(shop: float) -> Any:
    return oilkit.Job(shop_temperature=SHOP[shop])


def commissioning(c: dict[str, Any]) -> dict[str, Any]:
    key, order, _ = c["order"]
    assert key == c["procedure"]
    run = oilkit.play(key, order, _job(c["shop"]))
    done = min(int(c["played"].m), len(order))
    now = run.states[done]
    said = [x for x in run.consequences if x.step in order[:done] or done == len(order)]
    job = now.job
    pan = job.installation.engine.pan
    vessel = Q(now.oil["vessel"], "m**3")
    gas_side = Q(now.gas * now.kelvin / (job.installation.vessel.gas_volume - vessel).m_as("m**3"), "Paa")
    poured = sum(now.oil[p] - run.states[0].oil[p] for p in now.oil if p != "can")
    warm = oilkit.pressure_at_temperature(
        oilkit.pressure_at_volume(
            gas_side, job.installation.vessel.gas_volume - vessel, job.installation.vessel.gas_volume
        ),
        Q(now.kelvin, "K"),
        job.gas_temperature,
    )
    return {
        "steps played": str(done),
        "faults so far": str(len(said)),
        "dangers among them": str(sum(x.kind == "danger" for x in said)),
        "gas gauge": oilkit.gauge_pressure(gas_side),
        "oil gauge": now.oil_pressure,
        "oil in the vessel": vessel,
        "oil in the line": Q(now.oil["line"], "m**3"),
        "level in the pan": oilkit.pan_level(Q(now.oil["pan"], "m**3"), pan.sump_area, pan.sump_depth, pan.upper_area),
        "poured in so far": Q(poured, "m**3"),
        "pre-charge it really has, gas warm": oilkit.gauge_pressure(warm),
    }


def gauge_checks(c: dict[str, Any]) -> dict[str, Any]:
    """Check after check: two volumes joined by Boyle's law, then parted."""
    room, dead = c["vessel"].gas_volume, c["dead_volume"]
    gauge, first, air = c["precharge"], c["precharge"], oilkit.absolute_pressure(Q(0, "psig")).m
    for k in range(round(c["checks"].m_as("dimensionless"))):
        joined = oilkit.absolute_pressure(gauge).m * room.m_as("qt") + air * dead.m_as("qt")
        gauge = Q(joined / (room + dead).m_as("qt") - air, "psig")
        first = gauge if k == 0 else first
    if c["checks"].m == 0:
        first = Q(oilkit.charge_after_checks(c["precharge"], room, 1, dead).m, "psig")
    return {
        "pre-charge left": gauge,
        "lost in all": Q((c["precharge"] - gauge).m, "psi"),
        "lost by the first check": Q((c["precharge"] - first).m, "psi"),
    }
