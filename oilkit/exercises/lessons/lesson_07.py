"""Exercises of lesson 07: oil that runs away, a log, and a pre-charge on its ridge."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

from oilkit.exercises.exercise import Exercise, Sampler
from oilkit.exercises.gauges import graph, tilted_pan
from oilkit.exercises.making import by_choice, by_number, compute, predict, read, read_off
from oilkit.laps.choice import precharge_map
from oilkit.laps.lap import PickUp, surface_tilt, usual_installation
from oilkit.laps.logfile import Log, kit_lap
from oilkit.physics.engine import engine_demand
from oilkit.physics.oil import viscosity_of
from oilkit.physics.pan import pan_level
from oilkit.physics.pump import pump_efficiency, pump_flow
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q, Qty

HOT = Q(100, "degC")
CHARGES: Any = Q(np.linspace(8.0, 56.0, 17), "psig")


@cache
def _ridge(event: Qty, change: Qty) -> tuple[Any, Any]:
    """The lowest pressure with each of `CHARGES` in an event, and the best of them."""
    lengths: Qty = Q(np.array([0.5, 1.0]) * event.m, event.units)
    found: Any = precharge_map(usual_installation(), CHARGES, lengths, 1e-3, clearance_change=change)
    return found.lowest_pressure[1], found.best[1]


@predict("the ridge when clearances change", "The best pre-charge is a fixed number of the vessel.")
def ridge_moves(draw: Sampler) -> Exercise:
    event = draw.between(3, 6, 1, 4, "s")
    change = Q(draw.one_of((1.0, 0.8, -0.8, 1.2)), "thou")
    before, best = _ridge(event, Q(0.0, "thou"))
    after, moved = _ridge(event, change)
    here = int(np.argmin(np.abs((CHARGES - best).m)))
    right = 0 if abs(moved - best) < Q(1.0, "psig") else 1 if moved < best else 2
    way = f"{'wider' if change.m > 0 else 'tighter'} by {text(abs(change))}"
    now = text(max(after[here], Q(0.0, "psig")))
    said = f"The ridge moves to {text(moved)}; with your pre-charge the lowest pressure is {now} now."
    return by_choice(
        f"On the pre-charge map of the {usual_installation().engine.name} the ridge for an event of {text(event)} "
        f"stands at {text(best)}, and there you put your pre-charge. Then mains and rods become {way}. "
        "Where does your pre-charge stand now?",
        hints=(
            "Does the engine take more oil in the same event now, or less?",
            "On the ridge the vessel holds just enough for the event. What happens if the engine takes more?",
        ),
        steps=(
            f"before: lowest pressure {text(before[here])} with {text(best)}",
            said,
            "right of the ridge the vessel is empty before the event is over; left of it oil is left inside",
        ),
        options=(
            "on the ridge, as before",
            "right of the ridge, where the vessel is empty early",
            "left of the ridge, where oil is left over",
        ),
        right=right,
        replies=(
            "The ridge is where the oil just lasts. Does it just last with another demand?",
            "That is where too little oil is in the vessel. Do such bearings take more oil than before?",
            "That is where oil is left over. Do such bearings take less oil than before?",
        ),
        said=said,
    )


def _one_moment(lateral: float, longitudinal: float) -> Log:
    """A log that stays in one moment, to ask `surface_tilt` for it."""
    still = np.ones(3)
    return Log(
        source="one moment",
        time=Q(np.arange(3.0), "s"),
        speed=Q(30.0 * still, "m/s"),
        lateral=Q(lateral * still, "g_0"),
        longitudinal=Q(longitudinal * still, "g_0"),
        rpm=Q(5000.0 * still, "rpm"),
    )


def _lower(place: PickUp, lateral: float, longitudinal: float) -> Qty:
    return Q(float(surface_tilt(_one_moment(lateral, longitudinal), place).m_as("in")[0]), "in")


@compute("tilt in two directions", "Only the hardest acceleration counts.")
def braking_into_a_corner(draw: Sampler) -> Exercise:
    behind = draw.between(1.4, 3, 0.2, 1.6, "in")
    left = draw.between(1.0, 2.0, 0.2, 1.2, "in")
    slowing = draw.between(0.4, 0.8, 0.1, 0.8, "g_0")
    turning = draw.between(0.5, 1.0, 0.1, 0.6, "g_0")
    place, a, b = PickUp(behind=behind, left=left), float(turning.m), float(slowing.m)
    answer = _lower(place, a, -b)
    return by_number(
        f"A pick-up stands {text(behind)} behind the middle of the oil's surface and {text(left)} to the left of it. "
        f"The car brakes with {text(slowing)} into a left-hand corner of {text(turning)}. How much lower than the mean "
        "level does the oil stand at the pick-up?",
        hints=(
            "Take braking and cornering one after the other. To which side does the oil run each time?",
            "For each: the distance from the middle times a / g. Then add what lowers the oil.",
        ),
        steps=(
            f"braking: {text(behind)} x {b:g} = {text(behind * b)}, lower, because the oil runs to the front",
            f"left-hand corner: {text(left)} x {a:g} = {text(left * a)}, lower, because the oil runs to the right",
            f"together: {text(answer)}",
        ),
        answer=answer,
        mistakes={
            "only the braking counted": (_lower(place, 0.0, -b), "What does the corner do?"),
            "only the corner counted": (_lower(place, a, 0.0), "What does the braking do?"),
            "the wrong side": (
                _lower(place, -a, -b),
                "To which side does the oil run in a left-hand corner, and where does the pick-up stand?",
            ),
            "added at right angles": (
                Q(float(np.hypot(_lower(place, a, 0.0).m, _lower(place, 0.0, -b).m)), "in"),
                "A surface is one plane. Do two slopes of it add up by Pythagoras at one place?",
            ),
        },
    )


@compute("from level and pick-up to g", "A pick-up draws air only when the pan is empty.")
def braking_that_uncovers(draw: Sampler) -> Exercise:
    pan = usual_installation().engine.pan
    oil = draw.between(2.4, 3.6, 0.2, 3, "qt")
    behind = draw.between(2, 4, 0.5, 3, "in")
    sump = (pan.sump_area, pan.sump_depth, pan.upper_area)
    level = pan_level(oil, *sump)
    above = level - pan.pickup_height
    answer = Q(float((above / behind).m_as("")), "g_0")
    return by_number(
        f"At speed {text(oil)} are in a deep sump of {text(pan.sump_area)}. Its pick-up is {text(pan.pickup_height)} "
        f"above the floor and {text(behind)} behind the middle. With how much braking does the oil at the pick-up "
        "stand no higher than the pick-up itself?",
        hints=(
            "How high does the oil stand on a level road? A volume over an area; a quart is 57.75 in³ (0.946 L).",
            "How far may the oil fall at the pick-up?",
            "It falls by a / g for each length from the middle.",
        ),
        steps=(
            f"mean level: {text(oil)} over {text(pan.sump_area)} = {text(level)}",
            f"above the pick-up: less {text(pan.pickup_height)} = {text(above)}",
            f"a / g = {above.m_as('in'):.2f} / {behind.m:g} = {float(answer.m):.2f}",
        ),
        answer=answer,
        mistakes={
            "the pick-up's height forgotten": (
                Q(float((level / behind).m_as("")), "g_0"),
                "Must the oil fall down to the floor before the pick-up draws air?",
            ),
            "inverted ratio": (
                Q(float((behind / above).m_as("")), "g_0"),
                "Would a pick-up farther from the middle stand more braking, or less?",
            ),
            "the wide part's area for the sump's": (
                Q(float(((pan_level(oil, pan.upper_area, pan.sump_depth, pan.upper_area)) / behind).m_as("")), "g_0"),
                "Does so little oil reach up into the wide part of the pan?",
            ),
        },
    )


@compute("how long a refill takes", "The pump's whole flow fills the vessel.")
def refill_time(draw: Sampler) -> Exercise:
    built = usual_installation()
    pump, full = built.engine.pump, Q(60, "psig")
    given = draw.between(0.3, 0.8, 0.1, 0.5, "qt")
    speed = draw.between(3500, 5500, 250, 4000, "rpm")
    share = pump_efficiency(speed, full, Q(float(viscosity_of(built.oil.si, HOT.m_as("K"))), "Pa s"), pump.efficiency)
    pours = round(pump_flow(speed, pump.displacement, pump.ratio, share).to("gpm"), 2)
    takes = round(engine_demand(built.engine, built.oil, full, speed, HOT).total.to("gpm"), 2)
    spare = pours - takes
    answer = (given / spare).to("s")
    return by_number(
        f"In a corner the vessel gave {text(given)}. Behind it the engine turns at {text(speed)}: its pump gives "
        f"{text(pours)}, its bearings and lifters take {text(takes)}. All the rest goes back into the vessel. How long "
        "does it take until it has its oil again?",
        hints=(
            "Who takes first from the pump's flow?",
            "What is left over fills the vessel. A gallon has 4 quarts, a minute 60 seconds.",
        ),
        steps=(
            f"left over: {text(pours)} less {text(takes)} = {text(spare)}",
            f"{text(given)} at that flow: {text(answer)}",
            "if the next corner comes sooner, it meets a vessel that is not full",
        ),
        answer=answer,
        mistakes={
            "the pump's whole flow": ((given / pours).to("s"), "Does the engine take nothing meanwhile?"),
            "the engine's flow for what is left over": (
                (given / takes).to("s"),
                "That is what the engine takes. What is left for the vessel?",
            ),
            "the flows added": (
                (given / (pours + takes)).to("s"),
                "Do engine and pump both pour, or does one of them take?",
            ),
            "gallons and quarts mixed up": (
                (4 * given / spare).to("s"),
                "You divided quarts by gallons per minute. How many quarts are a gallon?",
            ),
        },
    )


@read("the slope of the oil's surface", "The slope of the oil is an angle, not a ratio of accelerations.")
def read_tilt(draw: Sampler) -> Exercise:
    slope = draw.between(0.3, 0.8, 0.05, 0.6, "")
    half, level = Q(4, "in"), Q(4, "in")
    answer = Q(float(slope.m), "g_0")
    return by_number(
        "A pan with glass sides, filmed from the side while the car brakes. Walls and waves play no part. With how "
        "many g does the car brake?",
        hints=(
            "The surface stands square to gravity and braking together. Its slope tells a / g.",
            "Read the oil's height at both walls, and how far apart the walls are.",
        ),
        steps=(
            f"from wall to wall the surface falls by {text(half * 2 * float(slope.m))} in {text(half * 2)}",
            f"that is {text(answer)}",
        ),
        answer=answer,
        mistakes={
            "inverted ratio": (Q(1.0 / float(slope.m), "g_0"), "Would less braking tilt the oil more by that rule?"),
            "from the middle to a wall, over the whole length": (
                Q(0.5 * float(slope.m), "g_0"),
                "You took the fall from the middle only. Over which length does the oil fall so much?",
            ),
            "from wall to wall, over half the length": (
                Q(2.0 * float(slope.m), "g_0"),
                "You took the whole fall. Over which length does the oil fall so much?",
            ),
        },
        picture=tilted_pan(float(slope.m), half, level),
    )


_lap = cache(kit_lap)
STARVED = ((3.5, 9.5), (22.0, 28.0), (41.5, 46.5), (51.0, 56.0), (60.5, 67.0))
"""Windows of the kit's lap, in seconds, with one starved stretch in each."""


@read("two crossings in a log", "The time at which something happens is how long it lasts.")
def read_log(draw: Sampler) -> Exercise:
    begin, end = draw.one_of(STARVED, 1)
    limit = draw.between(20, 30, 5, 20, "psig")
    log: Any = _lap()
    inside = (log.time.m_as("s") >= begin) & (log.time.m_as("s") <= end)
    time, pressure = log.time[inside], log.pressure.to("psig")[inside]
    short = np.flatnonzero(pressure < limit)
    falls, rises = (read_off(limit, pressure[k : k + 2], time[k : k + 2]) for k in (short[0] - 1, short[-1]))
    answer = rises - falls
    return by_number(
        f"A piece of an invented log. For how long did the measured oil pressure stand below {text(limit)}?",
        hints=(
            "Find the limit on the upright axis and go across. The line crosses it twice.",
            "Read the time of both crossings and take one from the other.",
        ),
        steps=(
            f"the pressure falls below {text(limit)} at {falls.m:.2f} s",
            f"it is back above it at {rises.m:.2f} s",
            f"between: {text(answer)}",
        ),
        answer=answer,
        mistakes={
            "the first crossing": (falls, "This is when it begins. When does it end?"),
            "the whole piece": (time[-1] - time[0], "Does the pressure stand below the limit all along the piece?"),
        },
        picture=graph(time, pressure, "time in the lap", "measured oil pressure", rows=len(time)),
    )
