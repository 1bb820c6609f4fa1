"""Exercises of lesson 04: what a line costs, the weight of its oil, and where every quart is."""

from __future__ import annotations

from typing import Any

import numpy as np

from oilkit.exercises.exercise import Exercise, Sampler
from oilkit.exercises.gauges import dipstick, graph
from oilkit.exercises.making import by_choice, by_number, compute, predict, read
from oilkit.physics.catalog import bench_vessel, hoses, lubricants
from oilkit.physics.line import Hose, acceleration_head, laminar_drop, line_drop
from oilkit.physics.oil import density, dynamic_viscosity
from oilkit.physics.pan import RUNNING, oil_budget, pan_volume
from oilkit.physics.pressure import absolute_pressure
from oilkit.physics.vessel import oil_stored
from oilkit.quantities.kinds import ACCELERATION, AREA, BORE, DENSITY, LINE_LENGTH
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q, Qty

OIL_DENSITY, WATER_DENSITY = Q(850, "kg/m**3"), Q(1000, "kg/m**3")


def _labelled(hose: Hose) -> Qty:
    """The bore that somebody believes in who reads the label: so many sixteenths of an inch."""
    return Q(abs(int(hose.dash)) / 16.0, "in")


@predict("which end of a line loses", "Without flow the pressure is the same at both ends of a line.")
def vessel_in_front(draw: Sampler) -> Exercise:
    away = draw.between(4, 8, 0.5, 6, "ft")
    hard = draw.one_of((Q(1.0, "g_0"), Q(1.2, "g_0"), Q(0.9, "g_0")))
    head = acceleration_head(OIL_DENSITY, -hard, away)  # braking: the acceleration points away from the vessel
    return by_choice(
        f"The vessel stands in the nose of the car, {text(away, LINE_LENGTH)} in front of the engine. The car brakes "
        f"at {text(hard, ACCELERATION)}, and no oil flows in the line. What becomes of the pressure at the engine's "
        "end, against the vessel's?",
        hints=(
            "Where does a loose bag on the seat go when you brake?",
            "The oil presses forward too. Which end of the line is in front?",
        ),
        steps=(
            "braking accelerates the car backwards, so the oil presses forward, towards the vessel",
            f"head at the engine's end = density x acceleration x distance: {text(head)}",
        ),
        options=("it gains", "it loses", "neither, for no oil flows"),
        right=int(np.sign(round(float(head.m), 6)) < 0.0),
        replies=(
            "That is a vessel behind the engine. Towards which end does the oil press when this car brakes?",
            f"The oil presses forward, towards the vessel: the pressure at the engine's end is {text(abs(head))} less.",
            "Friction needs flow. Does weight?",
        ),
    )


@compute("laminar drop and bore", "Twice the bore, half the drop; and the dash number is the bore.")
def wider_line(draw: Sampler) -> Exercise:
    shelf = hoses()
    narrow, wide = draw.one_of(
        tuple(
            (shelf[a], shelf[b])
            for a, b in (("mil_h_8794_12", "mil_h_8794_16"), ("small", "mil_h_8788_12"), ("mil_h_8794_12", "trade_16"))
        )
    )
    thick = draw.between(60, 150, 10, 90, "cP")
    flow = draw.between(3, 6, 0.5, 4, "gpm")
    length = draw.between(6, 12, 1, 10, "ft")
    before = laminar_drop(flow, narrow.bore, length, thick)
    answer = line_drop(flow, wide.bore, length, OIL_DENSITY, thick)
    ratio = float((narrow.bore / wide.bore).m)
    label = float((_labelled(narrow) / _labelled(wide)).m)
    return by_number(
        f"Thick oil flows through a {narrow.dash} hose, laminar, and its wall takes {text(before)}. Its measured bore "
        f"is {text(narrow.bore, BORE)}. You fit a {wide.dash} hose of {text(wide.bore, BORE)} bore, as long, for the "
        "same flow. How much does its wall take?",
        hints=(
            "How does the drop of a laminar flow grow as the bore shrinks?",
            "Multiply by the ratio of the bores, narrow over wide, to the fourth power.",
        ),
        steps=(
            f"narrow over wide: {narrow.bore.m:g} / {wide.bore.m:g} = {ratio:.3f}",
            f"to the fourth power: {ratio**4:.3f}",
            f"{text(before)} x {ratio**4:.3f} = {text(answer)}",
        ),
        answer=answer,
        mistakes={
            "first power of the bore": (before * ratio, "Is this how the drop falls, or how the bores compare?"),
            "second power of the bore": (
                before * ratio**2,
                "This is how the speed falls. Is the wall not farther from the oil as well?",
            ),
            "third power of the bore": (before * ratio**3, "Which power did the line of half the bore show you?"),
            "inverted ratio": (
                before / ratio**4,
                "The hose is wider now. Must its wall take more or less than before?",
            ),
            "label for bore": (before * label**4, "You put the dash numbers in. Which width has the oil?"),
        },
    )


@compute("head against pre-charge", "As long as there is pre-charge, the oil gets to the engine.")
def gives_up_at(draw: Sampler) -> Exercise:
    charge = draw.between(7, 12, 1, 9, "psig")
    away = draw.between(6, 10, 1, 9, "ft")
    hose = away + Q(draw.one_of((4.0, 3.0, 5.0)), "ft")

    def hard(pressure: float, fluid: Qty, length: Qty) -> Qty:
        return Q(pressure / float(acceleration_head(fluid, Q(1, "g_0"), length).m_as("psi")), "g_0")

    answer = hard(float(charge.m), OIL_DENSITY, away)
    return by_number(
        f"The vessel stands {text(away, LINE_LENGTH)} straight behind the engine; the hose, with its bends, has "
        f"{text(hose, LINE_LENGTH)}, with oil of {text(OIL_DENSITY, DENSITY)}. The pre-charge is {text(charge)}. "
        "At what launch does the vessel's last oil no longer reach the engine?",
        hints=(
            "With which pressure does the last oil leave the vessel?",
            "How large is the head at 1 g? How often does it fit into that pressure?",
        ),
        steps=(
            f"the last oil comes with the pre-charge, {text(charge)} above the air in the engine",
            f"head at 1 g: {text(acceleration_head(OIL_DENSITY, Q(1, 'g_0'), away))}",
            f"the two are equal at {text(answer)}",
        ),
        answer=answer,
        mistakes={
            "absolute for gauge": (
                hard(float(absolute_pressure(charge).m_as("psia")), OIL_DENSITY, away),
                "The air presses on the oil in the engine too. What is left to move the oil?",
            ),
            "hose for distance": (
                hard(float(charge.m), OIL_DENSITY, hose),
                "You took the length of the hose. Do its bends lie along the launch?",
            ),
            "water for oil": (hard(float(charge.m), WATER_DENSITY, away), "Is oil as heavy as water?"),
            "inverted ratio": (
                Q(1.0 / float(answer.m), "g_0"),
                "Does more pre-charge stand a harder launch or a softer one?",
            ),
        },
    )


@compute("the oil budget at speed", "What was poured in is in the pan.")
def left_in_the_pan(draw: Sampler) -> Exercise:
    bench = bench_vessel()
    pan = draw.between(5, 6.5, 0.25, 5.5, "qt")
    line = draw.between(0.6, 0.9, 0.05, 0.7, "qt")
    standing = draw.between(1, 1.4, 0.1, 1.2, "qt")
    flying = draw.between(1.5, 2, 0.1, 1.6, "qt")
    charge, pressure = draw.between(8, 12, 1, 10, "psig"), draw.between(55, 65, 5, 60, "psig")
    held = oil_stored(bench.gas_volume, charge, pressure)
    none = Q(0, "qt")
    budget = oil_budget(pan, held, line, standing, none, none, flying, none, none)
    answer = budget.states[RUNNING]["pan"]
    return by_number(
        f"An engine has {text(budget.total)} of oil in all. At speed the line holds {text(line)}, filter and galleries "
        f"{text(standing)}, and {text(flying)} are in flight. Its vessel of {text(bench.gas_volume)}, pre-charge "
        f"{text(charge)}, has settled at {text(pressure)}. How much oil is in the pan?",
        hints=(
            "No oil is lost: what is not elsewhere is in the pan.",
            "Work out what the vessel holds, with absolute pressures. Then take all the places off the total.",
        ),
        steps=(
            f"in the vessel: {text(held)}",
            f"in the pan: {budget.total.m:.2f} less {line.m:.2f}, {standing.m:.2f}, {flying.m:.2f} and {held.m:.2f} qt",
            f"= {text(answer)}",
        ),
        answer=answer,
        mistakes={
            "line forgotten": (answer + line, "Where else on the way to the vessel is oil?"),
            "oil in flight forgotten": (answer + flying, "Has all the oil that left the bearings come home yet?"),
            "vessel full to the brim": (
                answer - (bench.gas_volume - held),
                "You took the vessel's whole room. What else is in it?",
            ),
            "gauge for absolute": (
                answer + held - bench.gas_volume * (1.0 - charge.m / pressure.m),
                "Which pressures did you put into Boyle's law for the vessel?",
            ),
            "vessel forgotten": (answer + held, "The vessel is full at speed. From where came its oil?"),
        },
    )


@read("a dipstick, then oil missing", "So many marks on the stick are so many quarts in any pan.")
def read_dipstick(draw: Sampler) -> Exercise:
    area = draw.between(100, 180, 10, 140, "in**2")
    below = draw.between(0.7, 1.4, 0.05, 0.8, "in")
    shape = area, Q(1, "in"), area
    full = Q(4, "in")
    answer = pan_volume(full, *shape) - pan_volume(full - below, *shape)
    return by_number(
        "The engine stands, the vessel's valve is shut, and all the oil has run home. Where the oil's edge is, the pan "
        f"has an area of {text(area, AREA)} all the way up to the full mark. Read the dipstick. How much oil is "
        "missing?",
        hints=(
            "How far below the full mark does the wet part end?",
            "That height times the pan's area is the missing oil. 1 qt = 57.75 in³, 1 L = 1000 cm³.",
        ),
        steps=(
            f"the oil stands {text(below)} below full",
            f"missing: {below.m:g} in x {area.m:g} in² = {answer.m_as('in**3'):.1f} in³ "
            f"({answer.m_as('cm**3'):.0f} cm³) = {text(answer)}",
        ),
        answer=answer,
        mistakes={
            "read from the wrong end": (
                pan_volume(full - below, *shape) - pan_volume(full - Q(2, "in"), *shape),
                "This is the wet part of the scale. Which part is missing?",
            ),
            "gallons for quarts": (answer / 4.0, "How many quarts has a gallon?"),
        },
        picture=dipstick(below, 2.0, 40.0),
    )


@read("drop against oil temperature", "The oil in the line is as hot as the oil in the engine.")
def read_cold_line(draw: Sampler) -> Exercise:
    oil = lubricants()["street"]
    hose = draw.one_of((hoses()["mil_h_8794_12"], hoses()["mil_h_8788_12"]))
    flow = draw.between(3, 4.5, 0.5, 4, "gpm")  # laminar up to the hot end of the graph
    length = draw.between(6, 12, 1, 8, "ft")
    cold = draw.between(15, 25, 5, 20, "degC")  # between two rows of the words
    hot = Q(100, "degC")

    def takes(warmth: Qty) -> Qty:
        rho = density(warmth, oil.density_15, oil.expansion)
        mu = dynamic_viscosity(warmth, oil.viscosity_40, oil.viscosity_100, oil.density_15, oil.expansion)
        lost: Qty = line_drop(flow, hose.bore, length, rho, mu)
        return lost

    warmths = Q(np.linspace(10.0, 100.0, 91), "degC")
    answer = takes(cold)
    between = Q((cold.m + hot.m) / 2.0, "degC")
    return by_number(
        f"The graph is what a line takes at {text(flow)}. The engine's oil is at {text(hot)}. The vessel was full for "
        f"an hour, and it and its line are at {text(cold)}. Now it feeds with {text(flow)}. What does the line take at "
        "first?",
        hints=(
            "Which oil is in the line: that of the engine, or oil that has stood there for an hour?",
            f"Look up {text(cold)}, go up to the line, then across.",
        ),
        steps=(
            "a line to a full vessel is a dead leg: its oil is as cold as the line",
            f"from {text(cold)} up to the line and across: {text(answer)}",
        ),
        answer=answer,
        mistakes={
            "engine's oil for the oil in the line": (
                takes(hot),
                "This is with the engine's hot oil. How warm is the oil that stands in the line?",
            ),
            "half way between hot and cold": (
                takes(between),
                "You took the mean temperature. Has any hot oil come into the line yet?",
            ),
        },
        picture=graph(warmths, takes(warmths), "oil temperature", "drop in the line", rows=22),
    )


def poured_all_at_once(draw: Sampler) -> dict[str, Any]:
    """The first fill."""
    line = draw.between(0.6, 0.9, 0.1, 0.6, "qt")
    held = oil_stored(bench_vessel().gas_volume, Q(10, "psig"), draw.between(50, 65, 5, 60, "psig"))
    return {"held": held, "line": line, "both": held + line}
