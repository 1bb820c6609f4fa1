"""Exercises of lesson 03: useful oil, the best pre-charge, and wishes that pull apart."""

from __future__ import annotations

from typing import Any

import numpy as np

from oilkit.exercises.exercise import Exercise, Sampler
from oilkit.exercises.gauges import graph
from oilkit.exercises.making import as_if_gauge, by_choice, by_number, compute, over, predict, read
from oilkit.physics.catalog import bench_vessel
from oilkit.physics.gas import ADIABATIC, pressure_at_volume
from oilkit.physics.precharge import best_precharge, pressure_after, time_to_empty, useful_oil
from oilkit.physics.pressure import absolute_pressure, gauge_pressure
from oilkit.physics.vessel import oil_stored
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q


@predict("what the best pre-charge depends on", "More oil pressure asks for more pre-charge.")
def stronger_spring(draw: Sampler) -> Exercise:
    low = draw.between(40, 55, 5, 50, "psig")
    high = low + Q(draw.one_of((15.0, 20.0)), "psig")
    needed = draw.between(12, 25, 1, 18, "psig")
    room = bench_vessel().gas_volume
    now = needed + Q(draw.one_of((0.0, 3.0, -3.0)), "psig")
    same = bool(now == needed)
    need = (
        f"The engine still needs {text(needed)}"
        if same
        else (f"With its new bearings the engine needs {text(now)} instead of {text(needed)}")
    )
    before, after = best_precharge(low, needed), best_precharge(high, now)
    return by_choice(
        f"A stronger spring in the relief valve raises the oil pressure from {text(low)} to {text(high)}. {need}, and "
        "the gas stays warm. What becomes of the pre-charge with the most useful oil?",
        hints=(
            "At which pressure should the last oil leave the vessel?",
            "If the gas stays warm, does the best pre-charge depend on the pressure before?",
        ),
        steps=(
            f"at {text(low)}: best {text(before)}, useful {text(useful_oil(room, before, low, needed))} of "
            f"{text(room)}",
            f"at {text(high)}: best {text(after)}, useful {text(useful_oil(room, after, high, now))}",
        ),
        options=("it rises", "it stays the same", "it falls"),
        right=int(1 - np.sign(round(float((after - before).m), 6))),
        replies=(
            "More oil pressure squeezes more oil in. Does it change at which pressure the last oil should leave?",
            "The oil pressure changes nothing in it. What does the engine need now?",
            "The vessel is fuller now. Would less pre-charge not leave oil behind that comes too late?",
        ),
        said=f"It is what the engine needs, {text(now)}. "
        + ("The useful oil itself grows." if same else "The stronger spring alone would not move it."),
    )


@compute("the best pre-charge with a line", "What the vessel has is what the engine gets.")
def allow_for_the_line(draw: Sampler) -> Exercise:
    needed = draw.between(14, 24, 1, 18, "psig")
    lost = draw.between(3, 7, 0.5, 4, "psi")
    full = draw.between(55, 70, 5, 60, "psig")
    at_vessel = Q(float(needed.m + lost.m), "psig")
    answer = best_precharge(full, at_vessel)
    return by_number(
        f"An engine must have {text(needed)} in its gallery. On the way there the line takes {text(lost)}. The vessel "
        f"has settled at {text(full)}, and its gas stays warm. Which pre-charge gives about the most useful oil?",
        hints=(
            "Which pressure must the vessel still have when the gallery has just enough?",
            "If the gas stays warm, the best pre-charge is the least pressure that is of use, at the vessel.",
        ),
        steps=(
            f"least pressure at the vessel: {text(needed)} and {text(lost)} for the line",
            f"best pre-charge, gas warm: the same, {text(answer)}",
        ),
        answer=answer,
        mistakes={
            "line forgotten": (
                best_precharge(full, needed),
                "With this, what does the gallery have when the last oil leaves the vessel?",
            ),
            "line taken off": (
                best_precharge(full, Q(float(needed.m - lost.m), "psig")),
                "Which end of the line has the higher pressure while oil flows to the engine?",
            ),
            "absolute for gauge": (
                as_if_gauge(absolute_pressure(answer)),
                "This is what the gas feels. What does the gauge show with which you set it?",
            ),
            "adiabatic for isothermal": (
                best_precharge(full, at_vessel, polytropic_index=ADIABATIC),
                "This is best if the gas cools. What was said about the gas?",
            ),
        },
    )


@compute("gas volume for a wish of useful oil", "A vessel of so many quarts gives as many quarts of oil.")
def how_large_a_vessel(draw: Sampler) -> Exercise:
    wish = draw.between(1, 2, 0.25, 1.5, "qt")
    full = draw.between(50, 70, 5, 65, "psig")
    needed = draw.between(15, 25, 1, 20, "psig")
    one = Q(1, "qt")
    share = float(useful_oil(one, best_precharge(full, needed), full, needed).m)
    cooled = float(useful_oil(one, needed, full, needed, polytropic_index=ADIABATIC).m)
    answer = wish / share
    return by_number(
        f"You want {text(wish)} of useful oil between {text(full)} and the {text(needed)} that your engine needs. The "
        "gas stays warm, and you set the best pre-charge. How much gas volume must the vessel have?",
        hints=(
            f"With the best pre-charge, which is {text(needed)} here, all the stored oil is useful.",
            "Which share of such a vessel is oil? The wish divided by that share is the vessel.",
        ),
        steps=(
            f"best pre-charge: {text(best_precharge(full, needed))}; absolute {text(absolute_pressure(needed))} and "
            f"{text(absolute_pressure(full))}",
            f"share of oil: 1 less {over(needed, full)} = {share:.3f}",
            f"gas volume: {text(wish)} / {share:.3f} = {text(answer)}",
        ),
        answer=answer,
        mistakes={
            "gauge for absolute": (
                wish / float((1.0 - needed / full).m),
                "Are these the pressures that the gas feels?",
            ),
            "gas for oil": (wish / (1.0 - share), "You divided by the share of the gas. Which share is oil?"),
            "room for the oil alone": (wish, "Where would the gas be in a vessel that is full of oil?"),
            "adiabatic for isothermal": (
                wish / cooled,
                "This is needed if the gas cools while the oil leaves. What was said about the gas?",
            ),
        },
    )


@compute("the highest pre-charge for hot idle", "A vessel that fills at speed is filled at idle too.")
def precharge_for_idle(draw: Sampler) -> Exercise:
    room = draw.between(2.5, 4, 0.5, 3, "qt")
    wish = draw.one_of((Q(0.6, "qt"), Q(0.5, "qt"), Q(0.7, "qt")))
    idle = draw.between(18, 28, 1, 22, "psig")
    left = room - wish
    felt = pressure_at_volume(absolute_pressure(idle), left, room)
    answer = gauge_pressure(felt)
    return by_number(
        f"At hot idle your oil pressure is {text(idle)}. There too the vessel of {text(room)} shall hold {text(wish)}, "
        "settled. What is the highest pre-charge, measured hot, that you may set?",
        hints=(
            "How much room has the gas at idle, and how much once all the oil has gone?",
            "Boyle's law from idle back to the empty vessel, absolute, gives the pre-charge.",
        ),
        steps=(
            f"at idle the gas has {text(room)} less {text(wish)} = {text(left)}, at {text(absolute_pressure(idle))}",
            f"with the piston at the oil end: {text(absolute_pressure(idle))} x {left.m:g} / {room.m:g} = {text(felt)}",
            f"on the gauge: {text(answer)}",
        ),
        answer=answer,
        mistakes={
            "gauge for absolute": (
                idle * float((left / room).m),
                "Which pressure goes into Boyle's law, gauge or absolute?",
            ),
            "atmosphere left in": (as_if_gauge(felt), "This is the absolute pressure. What does a gauge leave out?"),
            "pre-charge as high as idle pressure": (idle, "With this, is there any oil in the vessel at idle?"),
            "inverted ratio": (
                gauge_pressure(pressure_at_volume(absolute_pressure(idle), room, left)),
                "The gas has more room once the oil has gone. Is its pressure then higher or lower?",
            ),
        },
    )


@read("the peak of useful oil", "The best pre-charge depends on the oil pressure before.")
def read_best(draw: Sampler) -> Exercise:
    room = bench_vessel().gas_volume
    full = draw.between(55, 70, 5, 60, "psig")
    psi = draw.one_of(
        (16.0, 13.0, 14.0, 15.0, 18.0, 19.0, 20.0, 21.0, 23.0, 24.0, 25.0)
    )  # between two rows of the words
    needed = Q(psi, "psig")
    charges = Q(np.linspace(2.0, 40.0, 77), "psig")
    answer = best_precharge(full, needed)
    return by_number(
        f"The graph is the useful oil of a vessel that has settled at {text(full)}, with gas that stays warm. What is "
        "the least pressure that this engine needs?",
        hints=(
            "Where has the line its peak?",
            "The best pre-charge is the pressure that the engine needs, if the gas stays warm.",
        ),
        steps=(
            f"the peak stands above a pre-charge of {text(answer)}",
            "gas warm: the best pre-charge is what the engine needs, so this is the answer",
        ),
        answer=answer,
        mistakes={
            "pressure before for pressure needed": (
                full,
                "This is the oil pressure before. Which pressure does the peak of the line tell?",
            ),
            "pre-charge with the most stored oil": (
                Q(2, "psig"),
                "There the vessel stores most. What does the upright axis show?",
            ),
            "absolute for gauge": (
                as_if_gauge(absolute_pressure(answer)),
                "You added the atmosphere. Which pressure stands below the graph?",
            ),
        },
        picture=graph(charges, useful_oil(room, charges, full, needed), "pre-charge", "useful oil", rows=15),
    )


@read("pressure against time", "The engine is safe until the vessel is empty.")
def read_warning(draw: Sampler) -> Exercise:
    room = bench_vessel().gas_volume
    charge = draw.between(12, 16, 1, 14, "psig")
    full = draw.between(55, 65, 5, 60, "psig")
    flow = draw.between(4, 8, 1, 5, "gpm")
    warning = draw.between(20, 30, 5, 25, "psig")
    lasts = time_to_empty(room, charge, full, flow)
    rest = time_to_empty(room, charge, warning, flow * (warning / full))
    answer = lasts - rest
    times = Q(np.linspace(0.0, 0.9999 * float(lasts.m), 81), "s")
    pressures = pressure_after(room, charge, full, flow, times)
    straight = lasts * float(((full - warning) / (full - charge)).m)
    return by_number(
        f"The pump has let go, and a vessel feeds the engine until it is empty. The graph is the pressure. After which "
        f"time does it fall below this engine's warning, {text(warning)}?",
        hints=(
            "Find the warning pressure on the upright axis.",
            "Go across to the line, then straight down to the time.",
        ),
        steps=(f"from {text(warning)} across to the line and down: {text(answer)}",),
        answer=answer,
        mistakes={
            "until empty for until the warning": (lasts, "Then the vessel is empty. Is all of that oil useful?"),
            "a straight line from end to end": (straight, "Is the line straight?"),
            "time left for time gone": (
                rest,
                "This is the time from the warning to the end. From when does the question count?",
            ),
        },
        picture=graph(times, pressures, "time", "pressure", rows=20),
    )


def most_oil_least_help(draw: Sampler) -> dict[str, Any]:
    """Stored and useful oil."""
    room = bench_vessel().gas_volume
    full, low = Q(60, "psig"), draw.between(2, 4, 1, 2, "psig")
    needed = draw.between(18, 25, 1, 20, "psig")
    stored, useful = oil_stored(room, low, full), useful_oil(room, low, full, needed)
    best = useful_oil(room, needed, full, needed)
    return {"low": low, "needed": needed, "full": full, "room": room, "stored": stored, "useful": useful, "best": best}
