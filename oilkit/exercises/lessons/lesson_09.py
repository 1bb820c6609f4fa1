"""Exercises of lesson 09: charging, two marks on the dipstick, what a card and its gauges say."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np

from oilkit.exercises.exercise import Exercise, Sampler
from oilkit.exercises.gauges import dial, graph
from oilkit.exercises.making import as_if_gauge, by_choice, by_number, compute, predict, read, read_off
from oilkit.physics.catalog import engines, lubricants
from oilkit.physics.engine import operating_point
from oilkit.physics.gas import ADIABATIC, gauge_used_by_mistake, pressure_at_volume
from oilkit.physics.pan import pan_level, pan_volume
from oilkit.physics.pressure import absolute_pressure, gauge_pressure
from oilkit.physics.vessel import precharge_at_temperature
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q, Qty
from oilkit.shop.acceptance import card_readings
from oilkit.shop.as_built import oil_taken, true_readings
from oilkit.shop.faults import FAULTS, apply, demo_set_up
from oilkit.shop.hazards import charge_after_checks
from oilkit.shop.set_up import SetUp
from oilkit.shop.steps import VALVE_LEFT_OPEN


@cache
def planned_set_up() -> SetUp:
    """The street V8's set-up as planned, filled."""
    planned = demo_set_up()
    return replace(planned, filled_for=oil_taken(planned))


@cache
def _gauges(fault: str, degree: float) -> tuple[Qty, Qty, Qty]:
    """Far gallery, vessel oil and gas gauge, hot at 3000 rpm, with a fault of some degree."""
    seen = card_readings(true_readings(apply(fault, planned_set_up(), degree)))
    return seen["middle_gallery"], seen["middle_oil"], seen["middle_gas"]


@predict("one gauge wrong, or the pressure", "A gauge that shows too little means too little pressure.")
def three_gauges(draw: Sampler) -> Exercise:
    suspects = ("relief", "gallery_gauge", "oil_gauge", "gas_gauge")
    fault = draw.one_of(suspects, 1)
    shown = _gauges(fault, draw.one_of((0.3, 0.5, 0.7), 1))
    card = _gauges("healthy", 0.0)
    off = [f"{float(there.m - should.m):+.1f} psi" for there, should in zip(shown, card, strict=True)]
    lines = f"gallery {off[0]}, vessel oil {off[1]}, gas {off[2]} against the card"
    proof = {
        "relief": "All three are low by nearly as much: what they all see is low, the pump's pressure.",
        "gallery_gauge": "Two gauges agree with the card, and only the gallery's is off. The oil is the same.",
        "oil_gauge": "Gallery and gas agree with the card, and only the vessel's oil gauge is off.",
        "gas_gauge": "Gallery and oil agree with the card, and only the gas gauge is off.",
    }
    return by_choice(
        f"Hot at 3000 rpm, settled, the card expects {text(card[0])} in the far gallery, {text(card[1])} at the vessel "
        f"and {text(card[2])} in its gas. You read {text(shown[0])}, {text(shown[1])} and {text(shown[2])}. Which of "
        "these four faults explains it?",
        hints=(
            "How far is each gauge off what the card says?",
            "When the oil's pressure has changed, which gauges see it? And when one gauge is wrong?",
        ),
        steps=(lines, proof[fault]),
        options=tuple(FAULTS[key].name for key in suspects),
        right=suspects.index(fault),
        replies=("Hold the three against the card one by one. How many are off, and which?",) * len(suspects),
        said=proof[fault],
    )


@predict("two marks on the dipstick", "Oil above the full mark is too much oil.")
def dipstick_in_the_morning(draw: Sampler) -> Exercise:
    pan = engines()["street_v8"].pan
    shape = pan.sump_area, pan.sump_depth, pan.upper_area
    held = draw.between(1.6, 2.2, 0.1, 2.0, "qt")
    full = draw.between(42, 58, 2, 50, "psig")
    lower = pan.full_height
    upper = pan_level(pan_volume(lower, *shape) + held, *shape)
    empty, high = draw.one_of(((True, True), (False, False), (True, False), (False, True)))
    level, gauge = (upper if high else lower), (Q(0, "psig") if empty else full)
    more = float((level - (upper if empty else lower)).m_as("in"))
    right = (1 if empty else 0) if abs(more) < 0.01 else 2 if more < 0.0 else 3
    said = (
        "The vessel has its oil, and the pan stands where it belongs with the vessel full and shut.",
        f"The vessel's oil is in the pan: both together are right. {VALVE_LEFT_OPEN}",
        "The vessel is empty, and yet its oil is not in the pan: so much is missing. Where has it gone?",
        "The vessel is full, and the pan holds as much again: so much was poured in too much. Now, with the vessel "
        "full, it may be drained to the mark.",
    )
    return by_choice(
        f"The dipstick has two marks: {text(lower)} above the sump's floor for the vessel full and shut, and "
        f"{text(upper)} for the vessel run out. In the morning, the engine standing, the oil is at {text(level)} and "
        f"the vessel's oil gauge shows {text(gauge)}. What do you do?",
        hints=(
            "Ask the gauge first: is there oil in the vessel or not?",
            "Each state of the vessel has its own mark. Compare the oil with that one.",
        ),
        steps=(
            f"the gauge shows {text(gauge)}: the vessel is {'empty' if empty else 'not empty'}",
            f"so the oil should stand at {text(upper if empty else lower)}; it stands at {text(level)}",
            said[right],
        ),
        options=(
            "nothing: all oil is where it belongs",
            "fill the vessel: no oil is missing",
            "look for lost oil before you start",
            "drain oil: there is too much",
        ),
        right=right,
        replies=("Which mark belongs to this state of the vessel, the lower or the upper?",) * 4,
        said=said[right],
    )


@compute("charging with oil behind the piston", "The gas gauge shows the pre-charge whatever is behind the piston.")
def oil_cannot_be_vented(draw: Sampler) -> Exercise:
    wanted = draw.between(8, 14, 1, 10, "psig")
    room = draw.between(3, 4, 0.25, 3, "qt")
    behind = draw.between(0.6, 0.9, 0.05, 0.8, "qt")
    left = room - behind
    after = pressure_at_volume(absolute_pressure(wanted), room, left)
    answer = gauge_pressure(after)
    return by_number(
        f"A vessel of {text(room)} should have {text(wanted)} of pre-charge. Today its oil side cannot be vented, and "
        f"{text(behind)} of oil stay behind its shut valve. What must the gas gauge show now, so that the charge is "
        "right once the oil has gone? The temperature stays the same.",
        hints=(
            "How much room has the gas today, and how much once the oil has gone?",
            "The same gas: pressure times volume stays. From the whole room back to what is left, absolute.",
        ),
        steps=(
            f"the gas has {text(room)} less {text(behind)} = {text(left)} today",
            f"absolute: {text(absolute_pressure(wanted))} x {room.m:g} / {left.m:g} = {text(after)}",
            f"on the gauge: {text(answer)}. Venting first is safer: how much oil is behind a piston, one seldom knows",
        ),
        answer=answer,
        mistakes={
            "charged as if there were no oil": (
                wanted,
                "What happens to this pressure when the oil goes and the gas spreads?",
            ),
            "gauge for absolute": (gauge_used_by_mistake(wanted, room, left), "Which pressure does Boyle's law want?"),
            "inverted ratio": (
                gauge_pressure(pressure_at_volume(absolute_pressure(wanted), left, room)),
                "The gas has less room today than later. Is its pressure higher or lower today?",
            ),
            "the atmosphere left in": (as_if_gauge(after), "Does a gauge show the absolute pressure?"),
            "adiabatic for isothermal": (
                gauge_pressure(pressure_at_volume(absolute_pressure(wanted), room, left, ADIABATIC)),
                "Does the gas stay cold after it has spread, or does it take the shop's temperature again?",
            ),
        },
    )


@compute("what gauge checks cost", "Looking costs nothing, or the same each time.")
def lost_by_looking(draw: Sampler) -> Exercise:
    charge = draw.between(8, 14, 1, 10, "psig")
    room = draw.between(2.5, 3.5, 0.25, 3, "qt")
    inside = draw.between(30, 50, 5, 40, "cm**3")
    looks = draw.one_of((20, 25, 30), 0)
    left, one = (charge_after_checks(charge, room, count, inside) for count in (looks, 1))
    lost, first = (Q(float(charge.m - kept.m), "psi") for kept in (left, one))
    share = float((room / (room + inside)).m_as(""))
    return by_number(
        f"Gauge and hose are {inside.m_as('in**3'):.1f} in³ ({inside.m:g} cm³) inside. A vessel of {text(room)} has "
        f"{text(charge)} of pre-charge, and you look {looks} times, each time with the gauge put on and taken off. How "
        "much pressure has that cost in all?",
        hints=(
            "At each look the gauge pressure falls to the same share of what it was: V / (V + v).",
            "That share to the power of the number of looks is what is left.",
        ),
        steps=(
            f"each look leaves {room.m_as('cm**3'):.0f} / ({room.m_as('cm**3'):.0f} + {inside.m:g}) = {share:.5f}",
            f"after {looks}: {charge.m:g} psig x {share:.5f} ** {looks} = {text(left)}",
            f"lost: {text(lost)}",
        ),
        answer=lost,
        mistakes={
            "what is left for what is lost": (Q(float(left.m), "psi"), "This is still in there. What is gone?"),
            "one look for all": (first, "This is what the first look costs. How many were there?"),
            "each look as expensive as the first": (
                first * looks,
                "The tenth look finds less pressure than the first. Does it cost as much?",
            ),
            "absolute for gauge": (
                Q(float(absolute_pressure(charge).m) * (1.0 - share**looks), "psi"),
                "Gauge and hose come with air in them. Which part of the pressure is carried away, then?",
            ),
        },
    )


@compute("where the second mark belongs", "So much oil raises the level by the same in any part of a pan.")
def upper_mark(draw: Sampler) -> Exercise:
    full = draw.between(3.5, 4.5, 0.1, 3.7, "in")
    sump, wide = draw.between(60, 90, 5, 75, "in**2"), draw.between(150, 220, 10, 190, "in**2")
    held = draw.between(1.6, 2.4, 0.1, 2.0, "qt")
    shape = sump, Q(3, "in"), wide
    answer = pan_level(pan_volume(full, *shape) + held, *shape)
    rise = answer - full
    return by_number(
        f"A pan has an area of {text(sump)} up to a height of {text(Q(3, 'in'))}, and {text(wide)} above that. Its "
        f"full mark, for the vessel full and shut, is at {text(full)}. The vessel holds {text(held)}. At which height "
        "do you scratch the second mark, for the vessel run out into the pan?",
        hints=(
            "Where does the vessel's oil go when it runs out, and how wide is the pan there?",
            "Volume over area is the rise. 1 qt = 57.75 in³, 1 L = 1000 cm³. The rise comes on top of the full mark.",
        ),
        steps=(
            f"{text(held)} = {held.m_as('in**3'):.1f} in³ ({held.m_as('cm**3'):.0f} cm³)",
            f"the full mark lies in the wide part: {held.m_as('in**3'):.1f} in³ / {wide.m:g} in² = {text(rise)}",
            f"second mark: {text(full)} and {text(rise)} = {text(answer)}",
        ),
        answer=answer,
        mistakes={
            "the rise alone": (rise, "By so much the oil rises. From which height?"),
            "the sump's area": (
                pan_level(pan_volume(full, sump, Q(30, "in"), sump) + held, sump, Q(30, "in"), sump),
                "How wide is the pan at the full mark, and above it?",
            ),
            "below for above": (full - rise, "Does the pan's oil rise or fall when the vessel runs out?"),
            "gallons for quarts": (
                pan_level(pan_volume(full, *shape) + held * 4.0, *shape),
                "How many quarts has a gallon?",
            ),
        },
    )


@read("a low-range gauge in a cold shop", "The charge read in the shop is the charge at work.")
def read_charge_cold(draw: Sampler) -> Exercise:
    shown = draw.between(7, 12, 0.5, 8, "psig")
    shop = draw.between(-5, 10, 5, 5, "degC")
    warm = draw.between(45, 60, 5, 50, "degC")
    answer = precharge_at_temperature(shown, shop, warm)
    ratio = float(warm.m_as("K") / shop.m_as("K"))
    return by_number(
        f"The oil side is vented, and the gas is at the shop's {text(shop)}. Read the low-range gauge. How large is "
        f"the pre-charge once the gas is at {text(warm)}?",
        hints=(
            "How much is one division?",
            "Absolute pressure goes with absolute temperature. Add the atmosphere first, take it off last.",
        ),
        steps=(
            f"the gauge shows {text(shown)}, absolute {text(absolute_pressure(shown))}",
            f"times {warm.m_as('K'):.0f} K / {shop.m_as('K'):.0f} K: {text(absolute_pressure(answer))}",
            f"on the gauge: {text(answer)}",
        ),
        answer=answer,
        mistakes={
            "cold read hot": (shown, "This is what it shows in the cold. What does warm gas do in a shut room?"),
            "gauge for absolute": (shown * ratio, "Which pressure goes with the temperature in kelvin?"),
            "inverted ratio": (
                precharge_at_temperature(shown, warm, shop),
                "Does the pressure of shut-in gas rise or fall as it warms?",
            ),
        },
        picture=dial(shown, 20.0, 1.0),
    )


WEAR: Any = Q(np.linspace(0.0, 1.6, 33), "thou")


@cache
def _idle_by_wear() -> Any:
    """Hot idle gallery pressure of the street V8, with `WEAR` more clearance."""
    engine = engines()["street_v8"]
    return operating_point(engine, lubricants()["street"], engine.idle, Q(100, "degC"), WEAR).gallery_pressure


@read("wear from hot idle pressure", "As long as the pressure at speed is right, nothing has worn.")
def read_wear(draw: Sampler) -> Exercise:
    pressures = _idle_by_wear()
    answer = draw.between(0.4, 0.9, 0.05, 0.6, "thou")
    shown = read_off(answer, WEAR, pressures)
    straight = read_off(shown, pressures, WEAR, straight=True)
    return by_number(
        f"On the day of the handing-over the card had {text(pressures[0])} in the gallery at hot idle. A year later, "
        f"same oil and same temperatures, the gauge shows {text(shown)}. The graph is this engine with more clearance "
        "in mains and rods. How much have the clearances grown?",
        hints=(
            "Find today's pressure on the upright axis.",
            "Go across to the line, then straight down to the clearance.",
        ),
        steps=(
            f"from {text(shown)} across to the line and down: {text(answer)}",
            "at speed the relief valve would have hidden it: idle is where the card shows wear",
        ),
        answer=answer,
        mistakes={
            "a straight line from end to end": (straight, "Is the line straight?"),
            "radial for diametral": (
                answer / 2.0,
                "This is what one side of the journal has gained. Which clearance do builders measure and write down?",
            ),
        },
        picture=graph(WEAR, pressures, "more clearance", "hot idle pressure", rows=32),
    )
