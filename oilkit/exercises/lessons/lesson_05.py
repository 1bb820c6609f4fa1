"""Exercises of lesson 05: how thick, how wide, how much, and where pump and engine agree."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

from oilkit.exercises.exercise import Exercise, Sampler
from oilkit.exercises.gauges import graph
from oilkit.exercises.making import by_choice, by_number, compute, predict, read, read_off
from oilkit.physics.bearing import groove_flow
from oilkit.physics.catalog import engines, lubricants
from oilkit.physics.engine import operating_point
from oilkit.physics.oil import density, dynamic_viscosity, kinematic_viscosity
from oilkit.physics.pump import pump_flow
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q, Qty


@predict("flow and pressure at idle", "Worn bearings always take more oil.")
def wear_at_idle(draw: Sampler) -> Exercise:
    engine, oil = engines()["street_v8"], lubricants()["street"]
    wider = draw.between(0.4, 1.4, 0.2, 1, "thou")
    sump = draw.between(90, 120, 10, 100, "degC")
    found = operating_point(engine, oil, engine.idle, sump, Q([0.0, float(wider.m)], "thou"))
    before, after = found.gallery_pressure
    pumped, pumps = found.pump_flow
    took, takes = found.demand.total
    return by_choice(
        f"The {engine.name} idles hot, sump at {text(sump)}. Its relief valve is shut. Mains and rods wear by "
        f"{text(wider)} of clearance each. How much oil does the engine take at the same idle now?",
        hints=(
            "Where does all the oil of an idling engine come from, when the relief valve is shut?",
            "The pump gives so much per turn. If wider bearings resist less, what becomes less by that?",
        ),
        steps=(
            f"the pump gives {text(pumped)} at idle before and {text(pumps)} after: it turns as fast, and a little "
            "less slips back against less pressure",
            "the relief valve is shut, so the engine takes all of it, before and after",
            f"what changes is the pressure that it takes: {text(before)} becomes {text(after)}",
        ),
        options=("twice as much or more", "about as much as before", "clearly less than before"),
        right=1 if abs(takes / took - 1.0) < 0.25 else 0 if takes > took else 2,
        replies=(
            "Wide bearings would pass more at the same pressure. Who should pour it, with the pump turning as before?",
            f"The pump gives about what it gave. Only the pressure falls: {text(before)} becomes {text(after)}.",
            "The pressure falls. Does the oil that the pump gives in each turn become less by that?",
        ),
    )


@compute("oil pressed through grooved bearings", "The clearance of the trade is the clearance of the formula.")
def five_mains(draw: Sampler) -> Exercise:
    count = 5
    diameter = draw.between(2.2, 2.8, 0.1, 2.4, "in")
    clearance = draw.between(2.4, 3.2, 0.2, 2.6, "thou")
    land = draw.between(0.3, 0.4, 0.02, 0.34, "in")
    push = draw.between(40, 60, 5, 50, "psi")
    film = draw.between(5, 7, 0.5, 5.5, "cP")
    one = groove_flow(diameter, clearance, land, push, film)
    answer = one * count
    return by_number(
        f"Five main bearings have a groove all round and a land of {text(land)} on either side of it. Journal "
        f"{text(diameter)}; bore less journal {text(clearance)}; viscosity of the film {text(film)}. Each passes "
        f"π r c³ Δp / (3 μ l), with c the radial clearance. How much do all five pass at {text(push)}, journals in the "
        "middle?",
        hints=(
            "Bore less journal: which of the two clearances is that?",
            "Halve it, halve the diameter too, and put everything into meters, pascals and pascal seconds.",
            f"One bearing comes to {text(one)}. How many are there?",
        ),
        steps=(
            f"radial: r = {(diameter / 2).m_as('mm'):.2f} mm, c = {(clearance / 2).m_as('mm'):.4f} mm; "
            f"l = {land.m_as('mm'):.2f} mm",
            f"Δp = {push.m_as('Pa'):.0f} Pa, μ = {film.m_as('Pa*s'):.4f} Pa s",
            f"one bearing, both lands: {text(one)}",
            f"five of them: {text(answer)}",
        ),
        answer=answer,
        mistakes={
            "diametral for radial clearance": (
                count * groove_flow(diameter, 2 * clearance, land, push, film),
                "Eight times too much. Which clearance is bore less journal, and which does the formula want?",
            ),
            "diameter for radius": (
                count * groove_flow(2 * diameter, clearance, land, push, film),
                "Twice too much. Is r the journal's diameter?",
            ),
            "one bearing for all": (one, "How many main bearings are there?"),
            "clearance halved twice": (
                count * groove_flow(diameter, clearance / 2, land, push, film),
                "Eight times too little. How often did you halve the clearance?",
            ),
        },
    )


@compute("clearance and viscosity as ratios", "Flow goes with the clearance itself.")
def worn_and_hot(draw: Sampler) -> Exercise:
    base = draw.between(0.2, 0.4, 0.02, 0.24, "gpm")
    narrow = draw.between(2.0, 2.6, 0.2, 2.2, "thou")
    wide = narrow + draw.between(0.4, 0.8, 0.1, 0.6, "thou")
    thick, thin = draw.between(7, 9, 0.5, 7.5, "cP"), draw.between(4, 5.5, 0.5, 5, "cP")
    other = Q(2.4, "in"), Q(0.34, "in"), Q(50, "psi")  # the same before and after: they cancel

    def through(clearance: Qty, film: Qty) -> Qty:
        diameter, land, push = other
        flow: Qty = groove_flow(diameter, clearance, land, push, film)
        return flow

    answer = base * (through(wide, thin) / through(narrow, thick)).to("")
    gaps, films = (wide / narrow).to(""), (thick / thin).to("")
    return by_number(
        f"With a clearance of {text(narrow)} and a film of {text(thick)}, {text(base)} is pressed through a bearing. "
        f"Now it has worn to {text(wide)}, and on a hot day the film's viscosity is {text(thin)}. The pressure is the "
        "same. How much is pressed through now?",
        hints=(
            "Two things have changed. Take one after the other, as ratios.",
            "The flow goes with the cube of the clearance, and with one over the viscosity.",
        ),
        steps=(
            f"clearance: {wide.m:g} / {narrow.m:g} = {gaps.m:.3f}, its cube {gaps.m**3:.3f}",
            f"viscosity: {thick.m:g} / {thin.m:g} = {films.m:.3f} times the flow",
            f"together: {text(base)} x {gaps.m**3:.3f} x {films.m:.3f} = {text(answer)}",
        ),
        answer=answer,
        mistakes={
            "clearance not cubed": (base * gaps * films, "In a wider slot oil also goes faster. By which power?"),
            "square for cube": (
                base * gaps**2 * films,
                "The square says how much faster the oil goes. What has become wider besides?",
            ),
            "viscosity upside down": (
                base * (through(wide, thick) / through(narrow, thin)).to(""),
                "Does thin oil run more easily or less?",
            ),
            "hot film forgotten": (
                base * (through(wide, thick) / through(narrow, thick)).to(""),
                "That is the wear. What does the thinner film do?",
            ),
            "wear forgotten": (
                base * (through(narrow, thin) / through(narrow, thick)).to(""),
                "That is the thinner film. What does the wear do?",
            ),
        },
    )


@compute("the balance of pump, valve and engine", "The engine takes all that its pump gives, at any speed.")
def over_the_relief(draw: Sampler) -> Exercise:
    size = draw.between(1.0, 1.4, 0.1, 1.2, "in**3/rev")
    efficiency = draw.one_of((0.85, 0.8, 0.9))
    speed = draw.between(3000, 5000, 250, 3500, "rpm")
    takes = draw.between(3.0, 4.0, 0.1, 3.6, "gpm")
    pumped = pump_flow(speed, size, 0.5, efficiency)
    answer = pumped - takes
    return by_number(
        f"At {text(speed)} an engine takes {text(takes)} from its gallery. Its pump displaces {text(size)} at "
        f"{100 * efficiency:.0f} % volumetric efficiency and turns half as fast as the crank. How much does the relief "
        "valve let go?",
        hints=(
            "What flows in flows out: the pump's oil has two ways to go.",
            "First the pump: displacement x its own speed x efficiency. A gallon is 231 in³ (3.785 L).",
            "Then take off what the engine takes.",
        ),
        steps=(
            f"the pump turns at {text(speed / 2)}",
            f"it gives {text(size)} x {float(speed.m) / 2:g} x {efficiency:g} = {text(pumped)}",
            f"less {text(takes)}: {text(answer)} go over the valve",
        ),
        answer=answer,
        mistakes={
            "the pump as fast as the crank": (
                pump_flow(speed, size, 1.0, efficiency) - takes,
                "How fast does this pump turn when the crank makes one turn?",
            ),
            "efficiency forgotten": (
                pump_flow(speed, size, 0.5, 1.0) - takes,
                "Does all that the pump displaces leave it?",
            ),
            "the pump's whole flow": (pumped, "Does the engine take nothing of it?"),
            "the engine's share for the valve's": (takes, "That is what the engine takes. What was asked?"),
        },
    )


@read("a viscosity curve, then dynamic", "Kinematic and dynamic viscosity are one number.")
def read_viscosity(draw: Sampler) -> Exercise:
    warm, hot = draw.between(65, 110, 5, 75, "cSt"), draw.between(9.5, 13.5, 0.5, 11, "cSt")
    at = draw.between(95, 115, 5, 100, "degC")
    degrees: Qty = Q(np.linspace(70.0, 130.0, 61), "degC")
    line = kinematic_viscosity(degrees, warm, hot)
    heavy = density(at, Q(870, "kg/m**3"))
    running = kinematic_viscosity(at, warm, hot)
    answer = dynamic_viscosity(at, warm, hot, Q(870, "kg/m**3"))
    straight = read_off(at, degrees, line, straight=True)
    return by_number(
        f"The graph shows an oil's kinematic viscosity. At {text(at)} the oil weighs {text(heavy)}. What is its "
        "dynamic viscosity in a line there?",
        hints=(
            "First read the kinematic viscosity: up from the temperature to the line, then across.",
            "Dynamic is kinematic times density: 1 cSt x 1000 kg/m³ (8.35 lb/gal) = 1 cP.",
        ),
        steps=(
            f"up from {text(at)} to the line and across: {text(running)}",
            f"times {text(heavy)}, which is {heavy.m_as('kg/m**3') / 1000:.3f} of 1000 kg/m³: {text(answer)}",
        ),
        answer=answer,
        mistakes={
            "kinematic for dynamic": (
                Q(float(running.m_as("cSt")), "cP"),
                "This is what the graph shows. Oil is lighter than water: what has its weight to do with it?",
            ),
            "a straight line from end to end": (
                (straight * heavy).to("cP"),
                "Is the line straight? Read it where the temperature is.",
            ),
        },
        picture=graph(degrees, line, "oil temperature", "kinematic viscosity", rows=12),
    )


SPEEDS: Any = Q(np.linspace(700.0, 3500.0, 57), "rpm")


@cache
def _climb(sump: Qty, change: Qty) -> tuple[Any, Qty]:
    """Gallery pressure at `SPEEDS`, and the speed at which the relief valve opens."""
    engine, oil = engines()["street_v8"], lubricants()["street"]
    found = operating_point(engine, oil, SPEEDS, sump, change)
    return found.gallery_pressure, read_off(engine.pump.relief_opening, found.pump_pressure, SPEEDS)


@read("where the pressure stops rising", "The relief valve opens where the pressure is highest.")
def read_kink(draw: Sampler) -> Exercise:
    sump = draw.between(90, 120, 10, 110, "degC")
    change = draw.between(-0.2, 0.6, 0.2, 0.2, "thou")
    pressures, answer = _climb(sump, change)
    return by_number(
        f"Readings of a hot engine, drawn as a line (an invented V8, sump at {text(sump)}). At which speed of the "
        "crank does its relief valve begin to open?",
        hints=(
            "What keeps the pressure from rising on and on?",
            "Look for the place where the line stops climbing and runs on nearly level. Then go straight down.",
        ),
        steps=(
            "below it the pressure climbs with the speed, above it the valve lets the rest of the oil go",
            f"the line bends at {text(answer)}: there the engine takes all that the pump gives",
        ),
        answer=answer,
        mistakes={
            "the highest pressure for the kink": (
                SPEEDS[-1],
                "There the valve has long been open. Where does it begin to open?",
            ),
            "the pump's speed for the crank's": (
                answer / 2,
                "The pump turns half as fast. Which shaft's speed does the graph show?",
            ),
        },
        picture=graph(SPEEDS, pressures, "crank speed", "gallery pressure", rows=28),
    )
