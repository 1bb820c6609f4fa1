"""Exercises of lesson 01: Boyle's law, with absolute pressures."""

from __future__ import annotations

import numpy as np

from oilkit.exercises.exercise import Exercise, Sampler
from oilkit.exercises.gauges import dial, graph
from oilkit.exercises.making import as_if_gauge, by_choice, by_number, compute, over, predict, read, read_off
from oilkit.physics.gas import ADIABATIC, gauge_used_by_mistake, pressure_at_volume, volume_at_pressure
from oilkit.physics.pressure import STANDARD_ATMOSPHERE, absolute_pressure, gauge_pressure
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q, Qty


@predict("absolute against gauge", "Half the volume doubles the gauge reading.")
def twice_the_gauge(draw: Sampler) -> Exercise:
    start = draw.between(8, 20, 2, 10, "psig")
    twice = gauge_pressure(pressure_at_volume(absolute_pressure(start), Q(2, "qt"), Q(1, "qt")))
    if draw.one_of(("half the room", "twice the gauge")) == "twice the gauge":
        return _room_at_twice(start)
    return by_choice(
        f"A gas at {text(start)} is slowly squeezed to half its room. What will the gauge do?",
        hints=("Half the room: twice which pressure?",),
        steps=(
            f"absolute pressure doubles: {text(absolute_pressure(start))} to {text(absolute_pressure(start) * 2)}",
            f"the gauge shows {text(twice)}: more than twice {text(start)}",
        ),
        options=("show exactly twice as much", "show more than twice as much", "show less than twice as much"),
        right=1,
        replies=(
            "Twice the gauge reading would be Boyle's law with gauge pressures. Which pressure doubles?",
            f"The absolute pressure doubles, and the gauge leaves one atmosphere out: it shows {text(twice)}.",
            "The absolute pressure doubles. What is left when one atmosphere is taken off twice as much?",
        ),
    )


def _room_at_twice(start: Qty) -> Exercise:
    """The same the other way round: the gauge doubles, and its room is asked for."""
    before, after = absolute_pressure(start), absolute_pressure(2 * start)
    left = Q(100.0 * float(volume_at_pressure(Q(1, "qt"), before, after).m_as("qt")), "percent")
    return by_choice(
        f"A gas at {text(start)} is slowly squeezed until the gauge shows twice as much. How much of its room is left?",
        hints=("Twice on the gauge: is that twice the absolute pressure?",),
        steps=(
            f"absolute pressure rises from {text(before)} to {text(after)}: less than twice",
            f"what is left of the room is {before.m:.1f} / {after.m:.1f}, {left.m:.0f} %: more than half",
        ),
        options=("exactly half", "more than half", "less than half"),
        right=1,
        replies=(
            "Half the room would be Boyle's law with gauge pressures. Which pressure has to double for that?",
            f"The absolute pressure rises from {text(before)} to {text(after)}, which is less than twice.",
            "Less than half the room more than doubles the absolute pressure. Has it?",
        ),
    )


@compute("Boyle's law for pressure", "Boyle's law works with what the gauge shows.")
def squeezed(draw: Sampler) -> Exercise:
    start = draw.between(5, 15, 1, 10, "psig")
    room = draw.between(2, 4, 0.25, 3, "qt")
    left = room * draw.one_of((0.5, 0.6, 0.4))
    before = absolute_pressure(start)
    after = pressure_at_volume(before, room, left)
    answer = gauge_pressure(after)
    fast = gauge_pressure(pressure_at_volume(before, room, left, ADIABATIC))
    return by_number(
        f"A cylinder holds {text(room)} of gas at {text(start)}. The piston slowly squeezes it to {text(left)}, and it "
        "stays as warm as it was. What does the gauge show?",
        hints=(
            "Boyle's law knows only absolute pressures.",
            "Add the atmosphere, multiply by the ratio of the volumes, take the atmosphere off again.",
        ),
        steps=(
            f"absolute: {text(start)} and {text(STANDARD_ATMOSPHERE)} of atmosphere make {text(before)}",
            f"p2 = p1 V1 / V2 = {text(before)} x {room.m:g} / {left.m:g} = {text(after)}",
            f"gauge: less the atmosphere, {text(answer)}",
        ),
        answer=answer,
        mistakes={
            "gauge for absolute": (
                gauge_used_by_mistake(start, room, left),
                "What does the gauge show when the gas has the pressure of the air outside: zero, or that pressure?",
            ),
            "the atmosphere left in": (
                as_if_gauge(after),
                "This is the absolute pressure. What does the gauge leave out?",
            ),
            "inverted ratio": (
                gauge_pressure(pressure_at_volume(before, left, room)),
                "The gas has less room now. Must its pressure rise or fall?",
            ),
            "adiabatic for isothermal": (fast, "The gas had time. Does it keep the warmth of being squeezed?"),
        },
    )


@compute("Boyle's law for volume", "The ratio is that of the gauge readings.")
def to_what_volume(draw: Sampler) -> Exercise:
    start = draw.between(6, 14, 1, 7, "psig")
    end = draw.between(40, 70, 5, 60, "psig")
    room = draw.between(2, 5, 0.5, 3, "qt")
    answer = volume_at_pressure(room, absolute_pressure(start), absolute_pressure(end))
    return by_number(
        f"{text(room)} of gas at {text(start)} are slowly squeezed until the gauge shows {text(end)}. How much room "
        "does the gas take then?",
        hints=(
            "Make both pressures absolute first.",
            "The volume falls as the absolute pressure rises: V2 = V1 p1 / p2.",
        ),
        steps=(
            f"absolute: {text(absolute_pressure(start))} and {text(absolute_pressure(end))}",
            f"V2 = V1 p1 / p2 = {room.m:g} qt x {over(start, end)}",
            f"= {text(answer)}",
        ),
        answer=answer,
        mistakes={
            "gauge for absolute": (room * (start.m / end.m), "Are these the pressures that the gas feels?"),
            "inverted ratio": (
                room * (absolute_pressure(end).m / absolute_pressure(start).m),
                "Can a gas take more room when it is squeezed?",
            ),
            "adiabatic for isothermal": (
                volume_at_pressure(room, absolute_pressure(start), absolute_pressure(end), ADIABATIC),
                "Slowly: does the gas stay warmer than the wall?",
            ),
            "oil for gas": (room - answer, "This is the room that the gas has left. What was asked?"),
        },
    )


@read("a dial, then absolute", "A gauge shows the pressure of the gas.")
def read_dial(draw: Sampler) -> Exercise:
    shown = draw.between(12, 52, 4, 36, "psig")
    answer = absolute_pressure(shown)
    return by_number(
        "Read the gauge. What is the absolute pressure of the gas?",
        hints=("How much is one division?", "Read the gauge pressure, then add the atmosphere."),
        steps=(f"the hand shows {text(shown)}", f"with {text(STANDARD_ATMOSPHERE)} of atmosphere: {text(answer)}"),
        answer=answer,
        within=0.03,
        mistakes={
            "gauge for absolute": (Q(shown.m, "psia"), "This is what the hand shows. What does it leave out?"),
            "the atmosphere taken off": (Q(shown.m - 14.7, "psia"), "Which is larger, gauge or absolute pressure?"),
        },
        picture=dial(shown, 60.0, 4.0),
    )


@read("a curve of pressure against volume", "Between two points a curve is straight.")
def read_curve(draw: Sampler) -> Exercise:
    start = draw.between(8, 14, 1, 10, "psig")
    room = draw.between(2.5, 4, 0.5, 3, "qt")
    volumes = np.linspace(0.25, 1.0, 60) * room
    pressures = gauge_pressure(pressure_at_volume(absolute_pressure(start), room, volumes))
    at = draw.between(40, 60, 10, 50, "psig")
    answer = volume_at_pressure(room, absolute_pressure(start), absolute_pressure(at))
    straight = read_off(at, pressures, volumes, straight=True)
    return by_number(
        f"The graph is a slow squeeze. How much room has the gas when the gauge shows {text(at)}?",
        hints=("Find the pressure on the upright axis first.", "Go across to the line, then straight down."),
        steps=(f"from {text(at)} across to the line and down: {text(answer)}",),
        answer=answer,
        mistakes={
            "oil for gas": (room - answer, "The graph shows the gas. What is left of the room for it?"),
            "a straight line from end to end": (straight, "Is the line straight?"),
        },
        picture=graph(volumes, pressures, "gas volume", "gauge pressure"),
    )
