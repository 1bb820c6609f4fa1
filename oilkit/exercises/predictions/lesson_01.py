"""Predictions of lesson 01: Boyle's law, and the shape of its curve."""

from __future__ import annotations

from oilkit.exercises.exercise import Exercise
from oilkit.exercises.making import as_if_gauge, prediction
from oilkit.physics import gas
from oilkit.physics.pressure import absolute_pressure, gauge_pressure
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q


def halve_the_volume() -> Exercise:
    """The classic mistake, met head on."""
    start, full, half = Q(10, "psig"), Q(2, "qt"), Q(1, "qt")
    return prediction(
        f"The cylinder is capped at {text(start)} on the dial. You push the piston in slowly until the gas has half "
        "its volume. What does the dial read now?",
        "Halving the volume doubles the absolute pressure; then take ambient off again to have the dial.",
        answer=gauge_pressure(gas.pressure_at_volume(absolute_pressure(start), full, half)),
        mistakes=[
            (gas.gauge_used_by_mistake(start, full, half), "You doubled the dial reading: gauge put into Boyle's law."),
            (gas.gauge_used_by_mistake(start, half, full), "You halved the dial reading: the ratio is upside down."),
            (
                as_if_gauge(gas.pressure_at_volume(absolute_pressure(start), full, half)),
                "That is the absolute pressure. The dial shows it less ambient.",
            ),
        ],
    )


def straight_line() -> Exercise:
    """The shape of the curve."""
    return prediction(
        "Boyle's pressures are drawn against 1 / space instead of space. What will the points look like?",
        "p = constant × (1 / V) is a straight line through zero: an easy shape to judge by eye.",
        options=["the same curve", "a curve bent the other way", "a straight line through zero", "a level line"],
        right=2,
    )
