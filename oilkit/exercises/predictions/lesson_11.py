"""Questions of lesson 11: what readings of a bench can say, and what they cannot."""

from __future__ import annotations

from oilkit.bench.fit import fit_bench
from oilkit.bench.planning import CandidateReading, next_reading
from oilkit.bench.readings import BenchReadings
from oilkit.exercises.exercise import Exercise
from oilkit.exercises.making import prediction
from oilkit.physics.catalog import bench_vessel
from oilkit.physics.pressure import absolute_pressure
from oilkit.physics.vessel import piston_travel
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q


def volume_from_the_rule() -> Exercise:
    """Two readings and a bore give the gas volume."""
    charge, full, travel, bore = Q(10, "psig"), Q(45, "psig"), Q(6.1, "in"), Q(4.5, "in")
    oil = (travel / piston_travel(Q(1, "qt"), bore)).m_as("dimensionless") * Q(1, "qt")
    left = (absolute_pressure(charge) / absolute_pressure(full)).m_as("dimensionless")
    by_dial = float(charge.m / full.m)
    return prediction(
        f"Bore {text(bore)}, pre-charge {text(charge)}. From the piston at the oil end to a settled {text(full)} the "
        f"rule moves by {text(travel)}: that is {text(oil)} of oil. How large is the gas volume?",
        "The oil is what the gas gave up, V (1 - p0 / p) in absolute pressures; turn that round for V.",
        answer=oil / (1.0 - left),
        within=0.02,
        mistakes=[
            (oil, "That is the oil. The gas volume is all the room that there was for it."),
            (oil / (1.0 - by_dial), "You put gauge pressures into the gas law: add the ambient pressure first."),
            (oil / left, "You divided by the share that is left; the oil is the rest of it."),
        ],
    )


def friction_from_both_ways() -> Exercise:
    """Rising and falling readings at one place of the piston."""
    up, down = Q(41.0, "psig"), Q(38.0, "psig")
    apart = Q(up.m - down.m, "psi")
    return prediction(
        f"The pressure rises until the rule shows 5 in (127 mm): the gauge reads {text(up)}. Then more, and back down "
        f"to the same mark, settled: now it reads {text(down)}. How large is the seal friction, as a pressure?",
        "At one place of the piston the gas has one pressure. On the way in the oil must push friction too, on the way "
        "out the gas must: the two readings stand one friction above and one below it.",
        answer=apart / 2.0,
        within=0.02,
        mistakes=[
            (apart, "That is friction twice: once on the way in and once on the way out."),
            (apart * 0.0, "Then both readings would be the same."),
        ],
    )


def how_many_for_both() -> Exercise:
    """A rule sees gas volume over piston area only."""
    return prediction(
        "You know neither the gas volume nor the bore. How many rule readings, at well-chosen pressures, give both?",
        "A rule sees lengths: gas volume over piston area. A tenth more of both reads the same at every pressure. "
        "Measure the bore, or draw the oil off into a jug once.",
        options=["two, for two unknowns", "ten or so, against the reading errors", "no number of them does"],
        right=2,
    )


def what_to_read_next() -> Exercise:
    """Another pre-charge, not more of the same."""
    plans = [
        ("another pressure, same pre-charge", CandidateReading(Q(10, "psig"), Q(60, "psig"))),
        ("one with another pre-charge", CandidateReading(Q(25, "psig"), Q(40, "psig"))),
        ("the same once more, to be sure", CandidateReading(Q(10, "psig"), Q(30, "psig"))),
    ]
    taken = BenchReadings(
        "the question", Q([10.0] * 4, "psig"), Q([0.0, 30, 50, 80], "psig"), Q([0.5, 5.4, 7.3, 8.6], "in")
    )
    known = {"bore": Q(4.5, "in"), "pressure_zero": Q(0, "psi"), "friction": Q(0, "psi"), "index": 1.0}
    best = next_reading(fit_bench(bench_vessel(), taken, known), [plan for _, plan in plans]).reading
    return prediction(
        "With one pre-charge, 10.0 psig (0.689 barg), a class has read the rule at four pressures from nothing to 80.0 "
        "psig (5.516 barg). The pressure gauge is good, the charge gauge may be off. Which reading separates its zero "
        "error from the gas volume?",
        "At one pre-charge a charge gauge that is off and a gas volume that is off look nearly alike. At another one "
        "the same zero error is another share of the pressure.",
        options=[name for name, _ in plans],
        right=next(k for k, (_, plan) in enumerate(plans) if plan == best),
    )
