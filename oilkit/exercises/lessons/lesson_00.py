"""Exercises of lesson 00: gauge, absolute and ambient pressure, and what must never be done."""

from __future__ import annotations

from typing import Any

import numpy as np

from oilkit.exercises.exercise import WITHIN, Exercise, Sampler
from oilkit.exercises.gauges import dial, graph
from oilkit.exercises.making import as_if_gauge, by_choice, by_number, compute, predict, read
from oilkit.physics.pressure import STANDARD_ATMOSPHERE, absolute_pressure, ambient_pressure, gauge_pressure
from oilkit.quantities.kinds import ALTITUDE, AMBIENT
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q


@predict("a gauge shows a difference", "A gauge shows what the gas has, so what is shut in keeps its reading.")
def capped_up_there(draw: Sampler) -> Exercise:
    height = draw.between(4000, 9000, 500, 6000, "ft")
    places = [(text(height, ALTITUDE), "up there", ambient_pressure(height))]
    places.append(("sea level", "at sea level", STANDARD_ATMOSPHERE))
    way = draw.one_of(("down", "up"))
    (here, first, inside), (there, then, outside) = places if way == "down" else places[::-1]
    shown = gauge_pressure(inside, outside)
    thinner, more = ("thinner", "more") if way == "down" else ("denser", "less")
    other_side = f"The air in the can is {thinner} than that {then}. Which side of the gauge presses harder there?"
    return by_choice(
        f"At {here} you close an empty steel can with a cap that carries a gauge. You drive it {way} to {there}, and "
        "it is as warm as before. What does the gauge show there?",
        hints=(
            "Which pressure had the air in the can when you closed it?",
            f"Compare the air shut in with the air outside, first {first}, then {then}.",
        ),
        steps=(
            f"shut in at {here}: {text(inside, AMBIENT)}, and that stays",
            f"outside at {there}: {text(outside, AMBIENT)}",
            f"the gauge shows inside less outside: {text(shown)}",
        ),
        options=("a little above zero", "zero", "a little below zero"),
        right=int(1 - np.sign(round(float(shown.m), 6))),
        replies=(
            other_side,
            f"It showed zero where you closed it. Did the air outside stay the same on the way {way}?",
            other_side,
        ),
        said=f"Inside are still {text(inside, AMBIENT)}, outside there is {more}: the gauge shows {text(shown)}.",
    )


@compute("from gauge to absolute up a mountain", "The air outside is always at 14.7 psi (1.013 bar).")
def gas_feels(draw: Sampler) -> Exercise:
    height = draw.one_of((Q(5200, "ft"), Q(8000, "ft"), Q(6500, "ft")))
    shown = draw.between(20, 34, 2, 30, "psig")
    air = ambient_pressure(height)
    answer = absolute_pressure(shown, air)
    return by_number(
        f"In a paddock (where the race cars stand) at {text(height, ALTITUDE)} a barometer says that the air is at "
        f"{text(air, AMBIENT)}. The gauge on a vessel shows {text(shown)}. What is the absolute pressure of its gas?",
        hints=("What does the gauge leave out?", "Add the air that is outside where the gauge is read."),
        steps=(
            "absolute pressure = gauge pressure + ambient pressure",
            f"= {text(shown)} + {text(air, AMBIENT)}",
            f"= {text(answer)}",
        ),
        answer=answer,
        mistakes={
            "gauge for absolute": (Q(shown.m, "psia"), "This is what the gauge shows. What does it leave out?"),
            "the atmosphere of sea level": (
                absolute_pressure(shown),
                "You added the air of sea level. Which air presses on the gauge here?",
            ),
            "the atmosphere taken off": (shown.m * Q(1, "psia") - air, "Which is larger, gauge or absolute pressure?"),
        },
    )


@compute("the air outside, from two readings", "A gauge that shows more means that the gas has more pressure.")
def air_from_a_bottle(draw: Sampler) -> Exercise:
    charge = draw.between(10, 30, 2, 20, "psig")
    height = draw.one_of(tuple(Q(feet, "ft") for feet in (5200, 4000, 6500, 8000, 9500)))
    answer = ambient_pressure(height)
    sealed = absolute_pressure(charge)
    shown = gauge_pressure(sealed, answer)
    more = Q(float(shown.m_as("psig") - charge.m), "psia")
    return by_number(
        f"A sealed steel bottle showed {text(charge)} at sea level, where the air has "
        f"{text(STANDARD_ATMOSPHERE, AMBIENT)}. Up at a track, as warm as before, it shows {text(shown)}. What is the "
        "ambient pressure at the track?",
        hints=(
            "What has stayed the same: what the gauge shows, or what the gas feels?",
            "Work out the absolute pressure at sea level. It is the same at the track.",
        ),
        steps=(
            f"absolute, at sea level and at the track: {text(sealed)}",
            f"ambient = absolute less gauge = {text(sealed)} less {text(shown)}",
            f"= {text(answer)}",
        ),
        answer=answer,
        mistakes={
            "sign the wrong way round": (
                STANDARD_ATMOSPHERE + more,
                "The gauge shows more up there. Does the air outside then press more or less?",
            ),
            "the difference alone": (more, "This is how much the air outside has changed. From what did it change?"),
            "the atmosphere of sea level": (
                STANDARD_ATMOSPHERE,
                "If the air were the same as at sea level, what would the gauge show?",
            ),
        },
    )


@read("the divisions of a dial", "One division is one unit.")
def read_hand(draw: Sampler) -> Exercise:
    answer = draw.between(40, 85, 5, 65, "psig")
    return by_number(
        "Read the gauge on the vessel. Which gauge pressure does it show?",
        hints=(
            "How many divisions lie between two numbers, and how much is one of them?",
            "Take the number before the hand, and add the divisions from there to the hand.",
        ),
        steps=(f"in psi one division is {100 / 20:g} psi, in bar {8 / 20:g} bar", f"the hand shows {text(answer)}"),
        answer=answer,
        mistakes={
            "divisions counted as psi": (answer / 5.0, "You counted divisions. How many psi is one of them?"),
            "divisions counted as bar": (
                Q(float(answer.m_as("barg")) / 0.4, "barg"),
                "You counted divisions. How many bar is one of them?",
            ),
            "absolute for gauge": (
                as_if_gauge(absolute_pressure(answer)),
                "You added the air outside. Was the absolute pressure asked for?",
            ),
        },
        picture=dial(answer, 100.0, 8.0),
    )


@read("a graph: air against altitude", "A number without its unit can be looked up on any axis.")
def read_air(draw: Sampler) -> Exercise:
    height = draw.between(5500, 9500, 1000, 7500, "ft")  # between two rows of the words
    heights = np.arange(0, 11_001, 200)
    answer = ambient_pressure(height)
    gone = Q(float((STANDARD_ATMOSPHERE - answer).m_as("psia")), "psia")
    return by_number(
        f"The graph is the standard atmosphere. What is the ambient pressure at {text(height, ALTITUDE)}?",
        hints=("Is the altitude axis in feet or in meters?", "Go up from the altitude to the line, then across."),
        steps=(f"from {text(height, ALTITUDE)} up to the line and across: {text(answer, AMBIENT)}",),
        answer=answer,
        within=WITHIN,  # the whole line spans only a third of the pressure: five per cent of it would be a guess
        mistakes={
            "meters read on a scale of feet": (
                ambient_pressure(Q(float(height.m_as("m")), "ft")),
                "You looked up the altitude in meters. Which unit stands below the graph?",
            ),
            "the atmosphere of sea level": (
                STANDARD_ATMOSPHERE,
                "This is the left end of the line. Where is the altitude that was asked for?",
            ),
            "lost for left": (gone, "This is what has gone since sea level. What is left?"),
        },
        picture=graph(
            Q(heights, "ft"),
            ambient_pressure(Q(heights, "ft")),
            "altitude",
            "ambient pressure",
            rows=11,
            x_kind=ALTITUDE,
        ),
    )


def psi_of_what(draw: Sampler) -> dict[str, Any]:
    """Psi does not say which pressure."""
    number = draw.between(20, 60, 5, 40, "psi")
    as_gauge = absolute_pressure(Q(number.m, "psig"))
    return {"number": number.m, "as_gauge": as_gauge, "as_absolute": gauge_pressure(Q(number.m, "psia"))}


def oil_side_zero(draw: Sampler) -> dict[str, Any]:
    """Safety: zero on the oil side."""
    charge = draw.between(7, 12, 1, 10, "psig")
    return {"charge": charge}
