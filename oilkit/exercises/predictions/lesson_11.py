"""Numbers of the predictions of lesson 11: what readings of a bench can say, and what they cannot."""

from __future__ import annotations

from typing import Any

from oilkit.bench.fit import fit_bench
from oilkit.bench.planning import CandidateReading, next_reading
from oilkit.bench.readings import BenchReadings
from oilkit.physics.catalog import bench_vessel
from oilkit.physics.pressure import absolute_pressure
from oilkit.physics.vessel import piston_travel
from oilkit.quantities.units import Q, Qty


def volume_from_the_rule(charge: Qty, full: Qty, travel: Qty, bore: Qty) -> dict[str, Any]:
    """Two readings and a bore give the gas volume."""
    oil = (travel / piston_travel(Q(1, "qt"), bore)).m_as("dimensionless") * Q(1, "qt")
    left = (absolute_pressure(charge) / absolute_pressure(full)).m_as("dimensionless")
    return {
        "answer": oil / (1.0 - left),
        "oil": oil,
        "by_gauge": oil / (1.0 - float(charge.m / full.m)),
        "by_share_left": oil / left,
    }


def friction_from_both_ways(up: Qty, down: Qty) -> dict[str, Any]:
    """Rising and falling readings at one place of the piston."""
    apart = Q(up.m - down.m, "psi")
    return {"answer": apart / 2.0, "apart": apart, "none": apart * 0.0}


def what_to_read_next() -> dict[str, Any]:
    """Another pre-charge, not more of the same."""
    plans = {
        "pressure": CandidateReading(Q(10, "psig"), Q(60, "psig")),
        "charge": CandidateReading(Q(25, "psig"), Q(40, "psig")),
        "again": CandidateReading(Q(10, "psig"), Q(30, "psig")),
    }
    taken = BenchReadings(
        "the question", Q([10.0] * 4, "psig"), Q([0.0, 30, 50, 80], "psig"), Q([0.5, 5.4, 7.3, 8.6], "in")
    )
    known = {"bore": Q(4.5, "in"), "pressure_zero": Q(0, "psi"), "friction": Q(0, "psi"), "index": 1.0}
    best = next_reading(fit_bench(bench_vessel(), taken, known), list(plans.values())).reading
    return {"right": next(name for name, plan in plans.items() if plan == best)}
