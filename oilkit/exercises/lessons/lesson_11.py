"""Exercises of lesson 11: what readings of rule and gauges say about a vessel, and what they leave open."""

from __future__ import annotations

import numpy as np

from oilkit.exercises.exercise import Exercise, Sampler
from oilkit.exercises.gauges import graph, rule
from oilkit.exercises.making import as_if_gauge, by_choice, by_number, compute, over, predict, read
from oilkit.physics.gas import pressure_at_volume
from oilkit.physics.pressure import absolute_pressure, gauge_pressure
from oilkit.physics.vessel import bore_from_travel, oil_stored, rule_reading
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q, Qty


def _share(charge: Qty, pressure: Qty, index: float = 1.0) -> float:
    """Share of its gas volume that a vessel holds as oil."""
    return float(oil_stored(Q(1, "qt"), charge, pressure, polytropic_index=Q(index, "")).m)


@predict("rising and falling readings", "At one oil pressure the piston always stands at one place.")
def which_way_it_came(draw: Sampler) -> Exercise:
    pressure = draw.between(30, 60, 5, 40, "psig")
    friction = draw.between(1, 4, 0.5, 2, "psi")
    charge, room, bore, dead = Q(10, "psig"), Q(3, "qt"), Q(4.5, "in"), Q(0.6, "in")
    rising, falling = (
        rule_reading(oil_stored(room, charge, Q(float(pressure.m) + sign * float(friction.m), "psig")), bore, dead)
        for sign in (-1.0, 1.0)
    )
    asked = draw.one_of(("more", "less"))
    right = int((rising > falling) != (asked == "more"))
    said = (
        f"The rule shows {text(rising)} after rising and {text(falling)} after falling. On the way in the oil pushes "
        "the seals too, on the way back the gas does, and has more pressure than the oil."
    )
    other = "Which side pushes the seals on the way in, and which on the way back? What is left for the gas?"
    return by_choice(
        f"The seals of a vessel drag with {text(friction)}. Twice a class brings the oil to {text(pressure)} and "
        f"waits: once rising from below, once falling from {text(Q(90, 'psig'))}. Which time does the rule show "
        f"{asked}?",
        hints=(
            "Which side has to push the seals along while the piston goes in, and which while it comes back?",
            "So in which case has the gas more pressure, and is squeezed more?",
        ),
        steps=(
            f"rising: the gas is at {text(pressure)} less {text(friction)}, and the rule shows {text(rising)}",
            f"falling: the gas is at {text(pressure)} plus {text(friction)}, and the rule shows {text(falling)}",
        ),
        options=("after rising", "after falling", "the same: the pressure is the same"),
        right=right,
        replies=(other, other, "The oil has the same pressure. Has the gas, when the seals drag this way and that?"),
        said=said,
    )


@predict("a zero error looks like another volume", "A gauge that is off spoils only its own reading.")
def charge_gauge_off(draw: Sampler) -> Exercise:
    shown = draw.between(8, 12, 1, 10, "psig")
    off = draw.one_of((1.5, -1.5, 1.0, -1.0))
    full = draw.between(45, 70, 5, 60, "psig")
    room = Q(3, "qt")
    true = Q(float(shown.m) - off, "psig")
    oil = oil_stored(room, true, full)
    found = oil / _share(shown, full)
    right = 0 if found > room else 1
    names = ("too large", "too small")
    said = f"{text(oil)} came in; with {text(shown)} that makes {text(found)}, and the vessel has {text(room)}."
    return by_choice(
        f"The charge gauge shows {text(shown)}, but it reads {text(Q(abs(off), 'psi'))} too "
        f"{'high' if off > 0 else 'low'}, and nobody knows. Bore and pressure gauge are right. At {text(full)}, "
        "settled, the class works out the gas volume from rule and gauges. What do they find?",
        hints=(
            "With the true pre-charge, is there more or less oil in the vessel than the class expects?",
            "They divide the oil by the share that they believe is oil. Is that share too large or too small?",
        ),
        steps=(
            f"true pre-charge {text(true)}: {100 * _share(true, full):.1f} % of the vessel is oil, {text(oil)}",
            f"believed {text(shown)}: {100 * _share(shown, full):.1f} %",
            f"gas volume found: {text(oil)} / {_share(shown, full):.3f} = {text(found)}",
        ),
        options=(f"a gas volume that is {names[0]}", f"a gas volume that is {names[1]}", "the right gas volume"),
        right=right,
        replies=(
            "Then the share that they believe would be too small. Which pre-charge leaves less room for oil?",
            "Then the share that they believe would be too large. Which pre-charge leaves more room for oil?",
            "The gauge is off, and the pre-charge is in the sum. So what else must be off?",
        ),
        said=said,
    )


@compute("what a rule knows: the stroke", "A rule begins at zero.")
def stroke_from_the_rule(draw: Sampler) -> Exercise:
    stroke = draw.between(9, 12, 0.5, 10.5, "in")
    dead = draw.between(0.6, 1.0, 0.05, 0.7, "in")
    charge, full = draw.between(8, 14, 1, 10, "psig"), draw.between(45, 70, 5, 50, "psig")
    share = _share(charge, full)
    reading = Q(round(float(dead.m + stroke.m * share), 2), "in")
    travel = reading - dead
    answer = travel / share
    return by_number(
        f"With no oil in the vessel the rule shows {text(dead)}. With a pre-charge of {text(charge)} and a settled "
        f"{text(full)} it shows {text(reading)}; the seals run freely. Nobody knows the bore. How long is the stroke, "
        "gas volume over piston area?",
        hints=(
            "How far has the piston moved? Where does it begin on the rule?",
            "Which share of the stroke is that? Boyle, with absolute pressures.",
        ),
        steps=(
            f"moved: {text(reading)} less {text(dead)} = {text(travel)}",
            f"share of the stroke: 1 less {over(charge, full)} = {share:.3f}",
            f"stroke: {text(travel)} / {share:.3f} = {text(answer)}",
        ),
        answer=answer,
        mistakes={
            "dead length left in": (reading / share, "What does the rule show when no oil is in the vessel?"),
            "gauge for absolute": (
                travel / float(1.0 - charge.m / full.m),
                "Are these the pressures that the gas feels?",
            ),
            "the gas's share for the oil's": (
                travel / (1.0 - share),
                "You divided by the share that the gas still has. Which share has the piston gone?",
            ),
            "travel for stroke": (travel, "So far it has moved. Is it at the gas end already?"),
        },
    )


@compute("the reading that settles the bore", "More rule readings would give the bore.")
def bore_from_a_jug(draw: Sampler) -> Exercise:
    dead = draw.between(0.7, 1.2, 0.05, 0.8, "in")
    bore = draw.between(3.5, 5, 0.25, 4.5, "in")
    jug = draw.between(1.0, 1.6, 0.1, 1.3, "qt")
    reading = round(rule_reading(jug, bore, dead).to("in"), 2)
    travel = reading - dead
    answer = bore_from_travel(jug, travel)
    area = jug / travel
    return by_number(
        "A rule cannot tell bore and gas volume apart, so a class lets all the oil out once, slowly, as the card says. "
        f"Before, the rule shows {text(reading)}; then {text(jug)} run into a measuring can, and with the vessel "
        f"empty it shows {text(dead)}. How large is the bore?",
        hints=(
            "How far did the piston move while the can filled?",
            "Oil over travel is the piston's area; a circle's area is pi D² / 4. 1 qt = 57.75 in³, 1 L = 1000 cm³.",
        ),
        steps=(
            f"travel: {text(reading)} less {text(dead)} = {text(travel)}",
            f"area: {jug.m_as('in**3'):.1f} in³ / {travel.m:.2f} in = {text(Q(float(area.m_as('in**2')), 'in**2'))}",
            f"bore: the root of 4 / pi times that, {text(answer)}",
        ),
        answer=answer,
        mistakes={
            "radius for diameter": (answer / 2.0, "This is the radius. What does a caliper in the bore show?"),
            "dead length left in": (bore_from_travel(jug, reading), "What does the rule show when all the oil is out?"),
            "gallons for quarts": (bore_from_travel(jug * 4.0, travel), "How many quarts has a gallon, and what ran?"),
            "dead length added": (
                bore_from_travel(jug, reading + dead),
                "Is the dead length a part of the reading, or does it come on top?",
            ),
        },
    )


@compute("the index of gas that is still warm", "When a reading is taken does not matter.")
def rule_at_once(draw: Sampler) -> Exercise:
    stroke, dead = draw.between(9, 12, 0.5, 10.5, "in"), draw.between(0.6, 1.0, 0.05, 0.7, "in")
    charge, full = draw.between(8, 14, 1, 10, "psig"), draw.between(45, 60, 5, 50, "psig")
    index = draw.one_of((1.2, 1.22, 1.18))
    share = _share(charge, full, index)
    answer = dead + stroke * share
    inverted = float((absolute_pressure(charge) / absolute_pressure(full)).m) ** index
    return by_number(
        f"A fit says: stroke {text(stroke)}, dead length {text(dead)}, polytropic index {index:g} for readings taken "
        f"at once. The pre-charge is {text(charge)}, and both gauges are right. You bring the oil up to {text(full)} "
        "and read at once. What does the rule show, if the seals run freely?",
        hints=(
            "Warm gas takes more room: less oil is in than when it has settled. Where does the index stand?",
            "The gas has left (p0 / p) to the power of 1 / n, absolute; the rest of the stroke is oil.",
        ),
        steps=(
            f"absolute: {text(absolute_pressure(charge))} and {text(absolute_pressure(full))}",
            f"share of oil: 1 less ({over(charge, full)}) ** (1 / {index:g}) = {share:.3f}",
            f"rule: {text(dead)} and {share:.3f} x {text(stroke)} = {text(answer)}",
        ),
        answer=answer,
        mistakes={
            "settled for at once": (
                dead + stroke * _share(charge, full),
                "This it shows two minutes later. How warm is the gas now?",
            ),
            "dead length forgotten": (stroke * share, "What does the rule show when no oil is in the vessel?"),
            "gauge for absolute": (
                dead + stroke * (1.0 - float(charge.m / full.m) ** (1.0 / index)),
                "Which pressures does the gas law want?",
            ),
            "the index for its inverse": (
                dead + stroke * (1.0 - inverted),
                "Does warm gas leave more room for oil, or less?",
            ),
        },
    )


@read("from the rule to the pressure", "A rule reads travel.")
def read_rod(draw: Sampler) -> Exercise:
    stroke, dead = Q(10.4, "in"), draw.between(0.6, 0.8, 0.05, 0.6, "in")
    charge = draw.between(8, 14, 1, 10, "psig")
    reading = draw.between(5, 7, 0.2, 6, "in")
    gone = float((reading.m - dead.m) / stroke.m)
    felt = pressure_at_volume(absolute_pressure(charge), Q(1, "qt"), Q(1.0 - gone, "qt"))
    answer = gauge_pressure(felt)
    with_dead = 1.0 - float((reading / stroke).m)
    return by_number(
        f"A fit says: stroke {text(stroke)}, dead length {text(dead)}, hardly any friction. The pre-charge is "
        f"{text(charge)}, and the gas has settled. Read the rule. What should the pressure gauge show, if it is right?",
        hints=(
            "Which share of the stroke has the piston gone? It begins at the dead length.",
            "What is left of the stroke is the gas's room. Boyle, with absolute pressures.",
        ),
        steps=(
            f"the rod's end is at {text(reading)}: gone {text(reading - dead)} of {text(stroke)}",
            f"absolute: {text(absolute_pressure(charge))} / (1 less {gone:.3f}) = {text(felt)}",
            f"on the gauge {text(answer)}; what it shows more or less is its zero error, or friction",
        ),
        answer=answer,
        mistakes={
            "dead length left in": (
                gauge_pressure(pressure_at_volume(absolute_pressure(charge), Q(1, "qt"), Q(with_dead, "qt"))),
                "What does the rule show when no oil is in the vessel?",
            ),
            "gauge for absolute": (charge / (1.0 - gone), "Which pressure does the gas feel?"),
            "the atmosphere left in": (as_if_gauge(felt), "This is absolute. What does a gauge show?"),
        },
        picture=rule(reading, 12.0, 300.0),
    )


@read("seal friction at the turn", "The way back is the way in.")
def read_stuck_piston(draw: Sampler) -> Exercise:
    friction = draw.between(5, 8, 0.5, 6, "psi")
    charge, top = draw.between(8, 12, 1, 10, "psig"), draw.between(60, 70, 5, 60, "psig")
    f, turn = float(friction.m), float(top.m)
    up, down = np.linspace(25.0, turn, 15), np.linspace(turn - 2.0 * f, 25.0, 9)
    felt = np.concatenate([up - f, down + f])
    reading = rule_reading(oil_stored(Q(2.86, "qt"), charge, Q(felt, "psig")), Q(4.5, "in"), Q(0.6, "in"))
    path = np.concatenate([up, down])
    return by_number(
        f"An old vessel's seals drag hard. The pressure is brought up to {text(top)} and then let down again, slowly, "
        "and the rule is read all the while. The upper line is the way back. As a pressure, how large is the seal "
        "friction?",
        hints=(
            "After the turn the piston stands still for a while. How far does the pressure fall until it moves?",
            "Before the turn the oil pushed the seals, after it the gas does: how many times friction lies between?",
        ),
        steps=(
            f"the rule stands still from {text(top)} down to {text(Q(turn - 2.0 * f, 'psig'))}: {2.0 * f:g} psi",
            f"that is friction twice, once for each way: {text(friction)}",
        ),
        answer=friction,
        mistakes={
            "both ways for one": (
                friction * 2.0,
                "So much the pressure falls at the turn. How often is friction in it?",
            ),
            "halved twice": (friction / 2.0, "How far does the pressure fall while the rule stands still?"),
            "where it moves again for how far it fell": (
                Q(turn - 2.0 * f, "psi"),
                "At this pressure the piston moves again. How far is that from the turn?",
            ),
        },
        picture=graph(Q(path, "psig"), reading, "pressure gauge", "rule", rows=len(path)),
    )
