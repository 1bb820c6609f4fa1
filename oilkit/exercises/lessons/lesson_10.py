"""Exercises of lesson 10: a set-up file that is read, a sheet on another day, tornado and plateau, and cures."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

from oilkit.build.setup_file import demo_set_ups, set_up_from_text
from oilkit.errors import InputError
from oilkit.exercises.exercise import Exercise, Sampler
from oilkit.exercises.gauges import bars, graph
from oilkit.exercises.making import by_choice, by_number, compute, moved_alone, predict, read, read_off
from oilkit.physics.bearing import groove_flow
from oilkit.physics.catalog import bench_vessel
from oilkit.physics.precharge import time_to_empty
from oilkit.physics.pressure import absolute_pressure, gauge_error
from oilkit.physics.pump import pump_flow
from oilkit.physics.vessel import oil_stored, precharge_at_temperature, precharge_to_set
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q, Qty, unit_switch

LINES = (
    (
        'precharge = "18 psi"',
        ('precharge = "18 psia"', 'precharge = "18"', 'precharge = "1.2 bar"', "precharge = 18 psi"),
    ),
    (
        'gas_volume = "3 qt"',
        ('gas_volume = "2.8 L"', 'gas_volume = "3"', 'gas_volume = "3 psi"', 'gas volume = "3 qt"'),
    ),
    (
        'sump_temperature = "230 degF"',
        (
            'sump_temperature = "110"',
            'sump_temperature = "110 bar"',
            'sump_temperature = "25 delta_degC"',
            'sump_temperature = "110 degC"',
        ),
    ),
)
"""A line of the street V8's file, and lines that somebody might write in its place."""


@cache
def _refusal(line: str, instead: str, system: str) -> str:
    """What the kit says, in these units, of the street V8's file with one line replaced: nothing if it reads it."""
    whole = demo_set_ups()["street V8"].text()
    try:
        set_up_from_text(whole.replace(line, instead, 1), "mine.toml")
    except InputError as problem:
        return str(problem)
    return ""


@predict("what a set-up file may say", "The kit will know which unit is meant.")
def line_that_is_read(draw: Sampler) -> Exercise:
    line, tries = draw.one_of(LINES)
    said = [_refusal(line, instead, unit_switch.system) for instead in tries]
    (right,) = (k for k, problem in enumerate(said) if not problem)
    return by_choice(
        f"In a set-up file stands the line  {line}  and somebody writes another one in its place. Which of these does "
        "the kit read?",
        hints=(
            "Every value is a text with its unit, whichever you like. Which of the lines is that?",
            "Is it the right sort of quantity, and is the name before the equals sign still the same?",
        ),
        steps=tuple(f"{instead}: {problem or 'is read'}" for instead, problem in zip(tries, said, strict=True)),
        options=tries,
        right=right,
        replies=tuple(problem or "Its unit is another one and says so: that is all the kit wants." for problem in said),
    )


@predict("pressure, demand or capacity", "A larger vessel cures any trouble.")
def which_cure(draw: Sampler) -> Exercise:
    limit = draw.between(18, 24, 1, 20, "psig")
    needs = draw.between(2.5, 4, 0.25, 3, "gpm")
    event = draw.between(3, 6, 0.5, 4.5, "s")
    sound, wide, large = draw.one_of(((True, True, False), (False, True, True), (True, False, True)))
    pressure = Q(float(limit.m) * (2.5 if sound else 0.9), "psig")
    passes = needs * (2.0 if wide else 0.6)
    lasts = event * (1.4 if large else 0.3)
    right = 2 if pressure < limit else 1 if passes < needs else 0
    said = (
        "No capacity: pump and line give enough, and the vessel is empty too soon.",
        "Demand too high: the engine takes more than the line passes at the pressure that is left.",
        "Pressure too low: the pump never made what is to be kept, and a vessel gives back what it was given.",
    )
    return by_choice(
        f"Hot at speed, with all its oil, an engine is at {text(pressure)}; its limit is {text(limit)}. At the limit "
        f"it takes {text(needs)}, and the line from the vessel passes {text(passes)} then. The vessel's useful oil "
        f"would last {text(lasts)} of an event of {text(event)}. What comes first?",
        hints=(
            "Ask in this order: is the pressure there at all? Does the line pass what the engine takes?",
            "Only then: does the oil last?",
        ),
        steps=(
            f"pressure: {text(pressure)} against {text(limit)}",
            f"line: {text(passes)} against {text(needs)}",
            f"oil: {text(lasts)} against {text(event)}",
            said[right],
        ),
        options=("a larger vessel", "a wider line and valve", "clearances, oil or pump: no vessel helps"),
        right=right,
        replies=("Compare the three pairs of numbers one by one. Which one does not suffice?",) * 3,
        said=said[right],
    )


@compute("a sheet used on a colder day", "The number to set is a property of the set-up.")
def set_on_another_day(draw: Sampler) -> Exercise:
    hot = draw.between(25, 32, 1, 28, "psig")
    planned, gas = draw.between(20, 25, 5, 20, "degC"), draw.between(45, 55, 5, 50, "degC")
    today = draw.between(-15, -5, 5, -10, "degC")
    to_set = Q(round(float(precharge_to_set(hot, planned, gas).m), 1), "psig")
    answer = precharge_at_temperature(to_set, today, gas)
    ratio = float(gas.m_as("K") / today.m_as("K"))
    return by_number(
        f"A build sheet for a shop at {text(planned)} says: set {text(to_set)}, it then reads {text(hot)} with the gas "
        f"at {text(gas)}. Today the shop and the gas in it are at {text(today)}, and somebody sets {text(to_set)} all "
        "the same. What will it read with the gas warm?",
        hints=(
            "Colder gas at the same pressure is more gas. Does it read more or less than planned when it is warm?",
            "Absolute pressure goes with absolute temperature, from today's to that of the warm gas.",
        ),
        steps=(
            f"as set, absolute: {text(absolute_pressure(to_set))} at {today.m_as('K'):.0f} K",
            f"warm: times {gas.m_as('K'):.0f} / {today.m_as('K'):.0f} = {text(absolute_pressure(answer))}",
            f"on the gauge {text(answer)}, and not {text(hot)}: make a new sheet when the shop has changed",
        ),
        answer=answer,
        mistakes={
            "as the sheet says": (hot, "For which temperature of the shop does the sheet say so?"),
            "cold read hot": (to_set, "This is what was set. What does the gas do while it warms?"),
            "gauge for absolute": (to_set * ratio, "Which pressure goes with the temperature in kelvin?"),
            "inverted ratio": (
                precharge_at_temperature(to_set, gas, today),
                "Does the pressure of shut-in gas rise or fall as it warms?",
            ),
        },
    )


@compute("a gauge's error, cold and hot", "A gauge's class is a percentage of what it shows.")
def error_of_setting(draw: Sampler) -> Exercise:
    scale = draw.one_of((Q(60, "psig"), Q(100, "psig"), Q(160, "psig")))
    grade = draw.one_of((1.6, 2.5, 1.0))
    to_set = draw.between(12, 20, 1, 15, "psig")
    shop, gas = draw.between(-10, 5, 5, 0, "degC"), draw.between(50, 60, 5, 50, "degC")
    cold = gauge_error(scale, grade)
    higher = precharge_at_temperature(Q(float(to_set.m + cold.m), "psig"), shop, gas)
    answer = Q(float(higher.m - precharge_at_temperature(to_set, shop, gas).m), "psi")
    ratio = float(gas.m_as("K") / shop.m_as("K"))
    return by_number(
        f"You set {text(to_set)} in a shop at {text(shop)}, by a gauge of class {grade:g} with a full scale of "
        f"{text(scale)}. By how much may the pre-charge be off once the gas is at {text(gas)}?",
        hints=(
            "A class is a percentage of which pressure: of the reading, or of the full scale?",
            "In the shop it may be off by that much. What happens to that pressure when the gas warms?",
        ),
        steps=(
            f"in the shop: {grade:g} % of {scale.m:g} psi = {text(cold)}",
            f"warm: that, too, grows by {gas.m_as('K'):.0f} / {shop.m_as('K'):.0f} = {ratio:.3f}",
            f"off by {text(answer)} either way",
        ),
        answer=answer,
        mistakes={
            "cold error taken hot": (cold, "This is the error in the shop. Does it stay when the gas warms?"),
            "percent of the reading": (gauge_error(to_set, grade) * ratio, "Of what is a gauge's class a percentage?"),
            "inverted ratio": (cold / ratio, "Does warm gas make the difference larger or smaller?"),
        },
    )


@compute("the pump for a wanted pressure", "Flow through bearings goes with absolute pressure.")
def larger_pump(draw: Sampler) -> Exercise:
    pressure = draw.between(14, 17.5, 0.5, 16, "psig")
    wanted = draw.between(20, 24, 1, 22, "psig")
    displacement = draw.between(0.9, 1.5, 0.1, 1.2, "in**3/rev")
    speed = draw.between(2500, 4000, 500, 3000, "rpm")
    turning = Q(0.5, ""), Q(0.85, "")
    now = pump_flow(speed, displacement, *turning)
    needed = now * float((wanted / pressure).m_as(""))
    answer = displacement * float((needed / now).m_as(""))
    absolute = float((absolute_pressure(wanted) / absolute_pressure(pressure)).m_as(""))
    return by_number(
        f"“No vessel helps,” says the sheet: hot at {text(speed)} the engine is at {text(pressure)}, and the relief "
        f"valve is shut. Its pump has {text(displacement)}, gives {text(now)}, and the engine takes all of it, in "
        f"proportion to the gallery pressure. Which displacement would give {text(wanted)}?",
        hints=(
            "How much more must flow for so much more pressure? Bearings pass oil in proportion to it.",
            "At the same speed the flow goes with the displacement.",
        ),
        steps=(
            f"flow needed: {text(now)} x {wanted.m:g} / {pressure.m:g} = {text(needed)}",
            f"displacement: {text(displacement)} x {needed.m:.2f} / {now.m:.2f} = {text(answer)}",
            "take the next size up: against more pressure a pump slips somewhat more",
            "thicker or cooler oil, or tighter bearings, would do the same with the old pump",
        ),
        answer=answer,
        mistakes={
            "absolute for gauge": (
                displacement * absolute,
                "Oil leaves the bearings into the open crankcase. Which pressure drives it out?",
            ),
            "inverted ratio": (
                displacement * float((pressure / wanted).m_as("")),
                "Must the pump give more or less oil than now?",
            ),
            "what is to be added for the whole": (
                answer - displacement,
                "By so much it must be larger. How large is it then?",
            ),
        },
    )


def _useful_time(room: Qty, charge: Qty, full: Qty, flow: Qty, limit: Qty) -> Qty:
    """How long a settled vessel keeps an engine above its limit: no line, slow gas. Shapes broadcast."""
    rest = time_to_empty(room, charge, limit, flow * (limit.m_as("psig") / full.m_as("psig")))
    lasts: Qty = time_to_empty(room, charge, full, flow) - rest  # the rest is 0 for a pre-charge above the limit
    return lasts


@read("the longest bar and its worse end", "What is expected is what will be.")
def read_tornado(draw: Sampler) -> Exercise:
    limit, flow = Q(20, "psig"), draw.between(4, 6, 0.5, 5, "gpm")
    off = {
        "pre-charge": float(draw.between(1, 3, 1, 2, "psi").m),
        "clearances": float(draw.between(0.2, 0.35, 0.05, 0.3, "thou").m),
        "gas volume": float(draw.between(0.05, 0.15, 0.05, 0.1, "qt").m),
        "pressure before": float(draw.between(1, 3, 1, 2, "psi").m),
    }

    def lasts(off_by: dict[str, float]) -> Qty:
        full = 60.0 + off_by["pressure before"]
        passed, passes = (
            groove_flow(Q(2.45, "in"), Q(clearance, "thou"), Q(0.35, "in"), Q(50, "psi"), Q(6, "cP")).m
            for clearance in (2.5, 2.5 + off_by["clearances"])
        )
        takes = flow * (passes / passed * full / 60.0)
        room = Q(float(bench_vessel().gas_volume.m_as("qt")) + off_by["gas volume"], "qt")
        return _useful_time(room, Q(18.0 + off_by["pre-charge"], "psig"), Q(full, "psig"), takes, limit)

    usual, ends = moved_alone(off, lasts)
    worst = min(ends, key=lambda name: min(ends[name]))
    answer, best = min(ends[worst]), max(max(pair) for pair in ends.values())
    return by_number(
        "The tornado chart of a set-up: each bar is one input, moved alone from its low to its high; the line through "
        "all is the time as expected. One input alone is off, the one that can hurt most. What protected time is left "
        "at the worst?",
        hints=(
            "Which bar is longest? That input can hurt most.",
            "Which of its two ends is the worse one, less time or more? Read there.",
        ),
        steps=(f"as expected {text(usual)}", f"the longest bar is “{worst}”; its short end is at {text(answer)}"),
        answer=answer,
        within=0.03,
        mistakes={
            "as expected for at the worst": (usual, "This is the line in the middle. What if that input is off?"),
            "the good end of the bar": (best, "Here the error helps. At which end does it hurt?"),
        },
        picture=bars(ends, usual, "protected time"),
    )


CHARGES: Any = Q(np.linspace(2.0, 50.0, 97), "psig")


@cache
def _shares(flow: Qty, spare: float) -> tuple[Any, Qty]:
    """Share of draws protected at `CHARGES`, the clearances uncertain, and the event's length.

    A time goes with the inverse of the flow, and the flow with the cube of the clearance; so the share of normal
    draws that outlast the event is known without drawing. The event is ``spare`` times shorter than the best time.
    """
    from scipy.special import ndtr

    room, full, limit = bench_vessel().gas_volume, Q(60, "psig"), Q(20, "psig")
    lasts: Any = _useful_time(room, CHARGES, full, flow, limit).to("s")
    event = round(lasts.max() / spare, 1)
    spread = 0.12 / 2.5  # one standard deviation of the clearance, and the clearance, both in thou
    return ndtr(((lasts / event).m ** (1.0 / 3.0) - 1.0) / spread), event


@read("how high a pre-charge may be", "Only the best pre-charge is good.")
def read_plateau(draw: Sampler) -> Exercise:
    flow = draw.between(4, 6, 0.25, 5, "gpm")
    spare = draw.one_of((1.35, 1.3, 1.4))
    shares, event = _shares(flow, spare)
    enough = draw.one_of((0.8, 0.7))
    good = np.flatnonzero(shares >= enough)
    low, high = int(good[0]), int(good[-1])
    answer = read_off(enough, shares[high : high + 2], CHARGES[high : high + 2])
    lower = read_off(enough, shares[low - 1 : low + 1], CHARGES[low - 1 : low + 1])
    best = CHARGES[np.argmax(shares)]
    return by_number(
        f"The graph is a sheet's spread: which share of all draws outlasts an event of {text(event)}, for each "
        f"pre-charge. You want at least {enough:g} of them protected. How high may the pre-charge be?",
        hints=(
            f"Find {enough:g} on the upright axis and go across. How often do you meet the line?",
            "Above the answer the share falls, because there is too little oil. Which of the two crossings is that?",
        ),
        steps=(
            f"across from {enough:g}: the line is met at {text(lower)} and at {text(answer)}",
            f"as high as {text(answer)}; best is {text(best)}",
        ),
        answer=answer,
        mistakes={
            "the lowest for the highest": (lower, "From here on it is enough. Up to where?"),
            "the peak for the edge": (best, "Here most draws are protected. How much higher is it still enough?"),
        },
        picture=graph(CHARGES, Q(shares, ""), "pre-charge, hot", "share of cases protected", rows=48),
    )


def above_hot_idle(draw: Sampler) -> dict[str, Any]:
    """Pre-charge and hot idle."""
    idle = draw.between(18, 23, 1, 21, "psig")
    charge = Q(float(idle.m) + float(draw.between(4, 8, 1, 5, "psi").m), "psig")
    room, full = bench_vessel().gas_volume, Q(60, "psig")
    fast, slow = (oil_stored(room, charge, p, resting=True) for p in (full, idle))
    return {"charge": charge, "idle": idle, "slow": slow, "full": full, "fast": fast}
