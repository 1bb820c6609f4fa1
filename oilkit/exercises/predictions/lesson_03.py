"""Predictions of lesson 03: useful oil, pressures that an engine needs, wishes that pull apart."""

from __future__ import annotations

from oilkit.exercises.exercise import Exercise
from oilkit.exercises.making import as_if_gauge, prediction
from oilkit.physics.catalog import bench_vessel
from oilkit.physics.precharge import best_precharge, longest_lasting_precharge, rule_of_thumb_pressure, useful_oil
from oilkit.physics.pressure import absolute_pressure
from oilkit.physics.vessel import oil_stored
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q


def most_useful() -> Exercise:
    """Which pre-charge protects best: the discovery of the lesson."""
    room, full, lowest = bench_vessel().gas_volume, Q(60, "psig"), Q(20, "psig")
    charges = [Q(psi, "psig") for psi in (2, 7, 20, 40)]
    useful = [float(useful_oil(room, charge, full, lowest).m) for charge in charges]
    return prediction(
        f"The bench vessel has settled at {text(full)}. The engine is safe only above {text(lowest)}. With which "
        "pre-charge does the most oil come out before the pressure has fallen that far?",
        "Oil that is still inside when the pressure has fallen too far does not protect, however much of it there is.",
        options=[text(charge) for charge in charges],
        right=useful.index(max(useful)),
    )


def useful_amount() -> Exercise:
    """How much of the oil counts."""
    room, charge, full, lowest = bench_vessel().gas_volume, Q(10, "psig"), Q(50, "psig"), Q(20, "psig")
    start = room * (absolute_pressure(charge) / absolute_pressure(full)).m
    by_gauge = room * (charge / lowest - charge / full).m
    return prediction(
        f"A vessel of {text(room)}, pre-charge {text(charge)}, has settled at {text(full)}. How much oil comes out "
        f"while its pressure falls, slowly, to {text(lowest)}?",
        "Work out the gas volume at both pressures with Boyle's law, absolute. What the gas gains, the oil loses.",
        answer=useful_oil(room, charge, full, lowest),
        mistakes=[
            (oil_stored(room, charge, full), "That is all the oil in the vessel. Some of it comes out too late."),
            (
                oil_stored(room, charge, lowest),
                "That is the oil still inside at the end: the part that comes too late.",
            ),
            (start, "That is the volume of the gas at the start."),
            (by_gauge, "You put gauge pressures into Boyle's law."),
            (
                useful_oil(room, charge, full, lowest, polytropic_index=1.4),
                "That is a fast fall, in which the gas cools. Slowly, it gives more.",
            ),
        ],
    )


def best_for_slow() -> Exercise:
    """The rule that slow gas gives."""
    full, lowest = Q(60, "psig"), Q(15, "psig")
    return prediction(
        f"Oil pressure is {text(full)} before, and {text(lowest)} is the least that the engine can do with. Which "
        "pre-charge gives the most useful oil if the gas stays warm? (Find it with the panel if you like.)",
        "Then the last oil leaves just as the pressure reaches the limit: none comes too late and none is missing.",
        answer=best_precharge(full, lowest),
        mistakes=[
            (
                best_precharge(full, lowest, polytropic_index=1.4),
                "That is the best for a fast discharge, whose gas cools. For slow gas it is lower.",
            ),
            (as_if_gauge(absolute_pressure(lowest)), "That is the right pressure, but absolute. A gauge shows less."),
            ((full + lowest) / 2, "Half way between sounds fair. Look where the curve of useful oil turns."),
            (Q(7, "psig"), "That is a usual figure of the trade, and it leaves much oil that comes too late."),
            (Q(10, "psig"), "That is a usual figure of the trade, and it leaves oil that comes too late."),
        ],
    )


def rule_at_redline() -> Exercise:
    """What 10 psi per 1000 rpm asks for."""
    speed, step = Q(6500, "rpm"), Q(1000, "rpm")
    asked = rule_of_thumb_pressure(speed)
    return prediction(
        f"The trade's rule asks for {text(rule_of_thumb_pressure(step))} of oil pressure for every {text(step)}. How "
        f"much is that at {text(speed)}?",
        "Many relief valves open below that: the rule asks for more than the engine can ever show.",
        answer=asked,
        mistakes=[
            (asked / 10, "You took a tenth of it. Count the thousands again."),
            (rule_of_thumb_pressure(step), "That is for the first 1000 rpm. Each further 1000 asks for as much again."),
        ],
    )


def idle_holds() -> Exercise:
    """A pre-charge above hot idle."""
    charge, idle = Q(25, "psig"), Q(18, "psig")
    return prediction(
        f"A racer sets {text(charge)}, measured hot. At hot idle the oil pressure is {text(idle)}. How much oil is in "
        "the vessel while the engine idles in the pits?",
        "The oil cannot move the piston against a higher pre-charge. After idling, an event meets an empty vessel.",
        options=["about half of the vessel", "a quarter of it", "none", "as much as at speed"],
        right=2,
    )


def looser_bearings() -> Exercise:
    """The trade's rule about clearances."""
    room, full, event = bench_vessel().gas_volume, Q(60, "psig"), Q(2, "s")
    tight, loose = (longest_lasting_precharge(room, full, Q(gpm, "gpm"), event) for gpm in (3, 10))
    options = ["a higher pre-charge", "the same pre-charge", "a lower pre-charge"]
    return prediction(
        f"Two engines face the same event of {text(event)}. One has tight bearings, the other loose ones that take "
        "three times as much oil. Which pre-charge does the loose one want, compared with the tight one?",
        f"It needs more oil for the same time, and so less pre-charge: here {text(loose)} against {text(tight)}.",
        options=options,
        right=0 if loose > tight else 2,
    )
