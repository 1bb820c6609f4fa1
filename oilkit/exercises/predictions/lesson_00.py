"""Predictions of lesson 00: what a gauge shows, at home and up a mountain."""

from __future__ import annotations

from oilkit.exercises.exercise import Exercise
from oilkit.exercises.making import prediction
from oilkit.physics.pressure import absolute_pressure, ambient_pressure, gauge_pressure
from oilkit.quantities.kinds import ALTITUDE
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q


def open_dial() -> Exercise:
    """An unconnected gauge."""
    return prediction(
        "A pressure gauge lies on the bench, connected to nothing. What absolute pressure is the air pressing on it "
        "with, at sea level? (The dial shows 0.)",
        "A dial shows the difference from the air outside, so 0 on the dial is ambient pressure, not nothing.",
        answer=absolute_pressure(Q(0, "psig")),
        mistakes=[(Q(0, "psia"), "That would be a vacuum. The dial shows 0 because inside and outside are equal.")],
    )


def climb() -> Exercise:
    """A sealed gas carried up a mountain."""
    charge, height = Q(10, "psig"), Q(5200, "ft")
    up_there = text(height, ALTITUDE)
    return prediction(
        f"A sealed steel bottle reads {text(charge)} at sea level. You drive it to {up_there}, at the same "
        "temperature. What does its dial read there?",
        "The gas inside is as it was. The air outside presses less, so the difference that the dial shows has grown.",
        answer=gauge_pressure(absolute_pressure(charge), ambient_pressure(height)),
        mistakes=[
            (charge, "That would be so if the dial showed what the gas feels. It shows the difference."),
        ],
    )
