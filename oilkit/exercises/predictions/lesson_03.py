"""Numbers of the predictions of lesson 03: useful oil, pressures that an engine needs, and wishes."""

from __future__ import annotations

from typing import Any

from oilkit.exercises.making import as_if_gauge
from oilkit.physics.catalog import bench_vessel
from oilkit.physics.precharge import best_precharge, longest_lasting_precharge, rule_of_thumb_pressure, useful_oil
from oilkit.physics.pressure import absolute_pressure
from oilkit.physics.vessel import oil_stored
from oilkit.quantities.units import Q, Qty


def most_useful(full: Qty, lowest: Qty) -> dict[str, Any]:
    """Which pre-charge protects best: the discovery of the lesson."""
    room = bench_vessel().gas_volume
    charges = {"two": Q(2, "psig"), "seven": Q(7, "psig"), "twenty": Q(20, "psig"), "forty": Q(40, "psig")}
    right = max(charges, key=lambda name: float(useful_oil(room, charges[name], full, lowest).m))
    return {"right": right, **charges}


def useful_amount(charge: Qty, full: Qty, lowest: Qty) -> dict[str, Any]:
    """How much of the oil counts."""
    room = bench_vessel().gas_volume
    return {
        "answer": useful_oil(room, charge, full, lowest),
        "room": room,
        "stored": oil_stored(room, charge, full),
        "still_inside": oil_stored(room, charge, lowest),
        "start": room * (absolute_pressure(charge) / absolute_pressure(full)).m,
        "by_gauge": room * (charge / lowest - charge / full).m,
        "fast": useful_oil(room, charge, full, lowest, polytropic_index=1.4),
    }


def best_for_slow(full: Qty, lowest: Qty) -> dict[str, Any]:
    """The rule that slow gas gives."""
    return {
        "answer": best_precharge(full, lowest),
        "fast": best_precharge(full, lowest, polytropic_index=1.4),
        "absolute": as_if_gauge(absolute_pressure(lowest)),
        "half_way": (full + lowest) / 2,
        "seven": Q(7, "psig"),
        "ten": Q(10, "psig"),
    }


def rule_at_redline(speed: Qty, step: Qty) -> dict[str, Any]:
    """What 10 psi per 1000 rpm asks for."""
    asked = rule_of_thumb_pressure(speed)
    return {"answer": asked, "first": rule_of_thumb_pressure(step), "a_tenth": asked / 10}


def looser_bearings(event: Qty) -> dict[str, Any]:
    """The trade's rule about clearances."""
    room, full = bench_vessel().gas_volume, Q(60, "psig")
    tight, loose = (longest_lasting_precharge(room, full, Q(gpm, "gpm"), event) for gpm in (3, 10))
    return {"right": "higher" if loose > tight else "lower", "tight": tight, "loose": loose}
