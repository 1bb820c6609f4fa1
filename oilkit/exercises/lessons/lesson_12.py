"""Exercises of lesson 12: steps by hand, exponents, doubts, and what an audit does not prove."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np

from oilkit.exercises.exercise import Exercise, Sampler
from oilkit.exercises.gauges import bars, graph
from oilkit.exercises.making import by_choice, by_number, compute, moved_alone, over, predict, read
from oilkit.physics.bearing import groove_flow
from oilkit.physics.line import laminar_drop
from oilkit.physics.pressure import absolute_pressure
from oilkit.physics.valve import orifice_flow
from oilkit.physics.vessel import oil_stored, precharge_at_temperature
from oilkit.quantities.kinds import BORE
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q, Qty

FORMULAS: tuple[tuple[str, Callable[..., Qty], tuple[tuple[str, Qty], ...]], ...] = (
    (
        "the flow through a restrictor",
        orifice_flow,
        (
            ("its bore", Q(0.022, "in")),
            ("the pressure over it", Q(60, "psi")),
            ("the oil's density", Q(816, "kg/m**3")),
        ),
    ),
    (
        "the flow out of a main bearing with a groove all round",
        groove_flow,
        (
            ("the journal's diameter", Q(2.45, "in")),
            ("the clearance", Q(2.5, "thou")),
            ("the length of a land", Q(0.325, "in")),
            ("the pressure", Q(60, "psi")),
            ("the oil's viscosity", Q(5.3, "cP")),
        ),
    ),
    (
        "the pressure that a line costs in laminar flow",
        laminar_drop,
        (
            ("the flow", Q(3.5, "gpm")),
            ("the bore", Q(0.625, "in")),
            ("the length", Q(6, "ft")),
            ("the oil's viscosity", Q(26, "cP")),
        ),
    ),
)
"""What a formula gives, the formula, and its inputs in words with usual values."""


def _exponents(function: Callable[..., Qty], given: list[Qty]) -> list[float]:
    """By how many per cent the result moves for one per cent more of each input, for small changes."""
    usual = float(function(*given).m)
    found = []
    for k, value in enumerate(given):
        more = [*given[:k], value * 1.001, *given[k + 1 :]]
        found.append(math.log(float(function(*more).m) / usual) / math.log(1.001))
    return found


@predict("powers in a formula", "One percent in is one percent out.")
def which_exponent(draw: Sampler) -> Exercise:
    result, function, inputs = draw.one_of(FORMULAS)
    exponents = _exponents(function, [value for _, value in inputs])
    right = int(np.argmax(np.abs(exponents)))
    said = [
        f"1 % more of {name} moves it by {found:+.1f} %" for (name, _), found in zip(inputs, exponents, strict=True)
    ]
    return by_choice(
        f"Look at {result}. Each of these inputs was measured 1 % too large, one at a time. Which one spoils the "
        "result most?",
        hints=(
            "Which power has each input in the formula? The register shows it.",
            "The power of an input, square, cube or root, is the percentage of the result for 1 % of the input.",
        ),
        steps=tuple(said),
        options=tuple(name for name, _ in inputs),
        right=right,
        replies=tuple(
            f"{told}: that is more than any other." if k == right else f"{told}. Is there an input with a larger power?"
            for k, told in enumerate(said)
        ),
    )


@compute("one bearing by hand", "The clearance that was measured is the c of the formula.")
def main_by_hand(draw: Sampler) -> Exercise:
    diameter, clearance = draw.between(2.2, 2.6, 0.05, 2.45, "in"), draw.between(2, 3, 0.1, 2.5, "thou")
    land, pressure = draw.between(0.3, 0.4, 0.02, 0.34, "in"), draw.between(45, 60, 5, 60, "psi")
    viscosity, off = draw.between(5, 8, 0.5, 5.5, "cP"), draw.one_of((0.7, 0.6, 0.65))
    given = land, pressure, viscosity
    answer = groove_flow(diameter, clearance, *given, Q(off, ""))
    radial = clearance / 2.0
    return by_number(
        f"Recompute one main with a groove all round: journal {text(diameter)}, diametral clearance {text(clearance)}, "
        f"each of two lands {text(land)} long, {text(pressure)}, {text(viscosity)}, eccentricity {off:g}. The register "
        "says: pi r c³ dp (1 + 1.5 eps²) / (3 mu l). How much oil flows out?",
        hints=(
            "The register says what each letter is: r and c are radii. Which of the given numbers are diameters?",
            "All in meters, pascals and pascal seconds: the result is in m³/s. 1 gpm is 3.785 L/min.",
        ),
        steps=(
            f"r = {diameter.m_as('mm') / 2.0:.3f} mm, c = {radial.m_as('mm'):.5f} mm, l = {land.m_as('mm'):.3f} mm",
            f"dp = {pressure.m_as('kPa'):.1f} kPa, mu = {viscosity.m_as('Pa*s'):.4f} Pa s, 1 + 1.5 eps² = "
            f"{1.0 + 1.5 * off**2:.4f}",
            f"flow: {answer.m_as('m**3/s'):.3e} m³/s = {text(answer)}",
        ),
        answer=answer,
        mistakes={
            "diametral for radial": (
                groove_flow(diameter, clearance * 2.0, *given, Q(off, "")),
                "Eight times too much. Which clearance is c in the formula, and which one was given?",
            ),
            "diameter for radius": (
                groove_flow(diameter * 2.0, clearance, *given, Q(off, "")),
                "Which of the journal's numbers is r?",
            ),
            "eccentricity forgotten": (
                groove_flow(diameter, clearance, *given),
                "This is a journal in the middle of its bearing. What do the brackets add?",
            ),
            "eccentricity not squared": (
                answer * ((1.0 + 1.5 * off) / (1.0 + 1.5 * off**2)),
                "Which power has eps in the brackets?",
            ),
        },
    )


@compute("one line by hand", "Kinematic and dynamic viscosity are one number.")
def line_by_hand(draw: Sampler) -> Exercise:
    flow, bore = draw.between(3, 4, 0.25, 3.5, "gpm"), draw.one_of((Q(0.625, "in"), Q(0.5, "in"), Q(0.6, "in")))
    length, density = draw.between(6, 12, 1, 8, "ft"), draw.between(800, 850, 10, 840, "kg/m**3")
    kinematic = draw.between(25, 40, 1, 32, "cSt")
    viscosity = Q(float((kinematic * density).m_as("cP")), "cP")
    answer = laminar_drop(flow, bore, length, viscosity)
    return by_number(
        f"Recompute what a line costs in laminar flow, 128 mu L Q / (pi d⁴): {text(flow)}, bore "
        f"{text(bore, BORE)}, length {text(length)}. The oil, at its temperature, has a viscosity of "
        f"{text(kinematic)} and a density of {text(density)}. How much pressure does the line take?",
        hints=(
            "mu is the dynamic viscosity. What was given, and how does one become the other?",
            "mu = nu rho. All in meters, kilograms and seconds: the result is in pascals. 1 psi is 6895 Pa.",
        ),
        steps=(
            f"mu = {kinematic.m:g} mm²/s x {density.m:g} kg/m³ = {text(viscosity)}",
            f"Q = {flow.m_as('m**3/s'):.4e} m³/s, d = {bore.m_as('m'):.5f} m, L = {length.m_as('m'):.4f} m",
            f"drop: {answer.m_as('Pa'):.0f} Pa = {text(answer)}",
        ),
        answer=answer,
        mistakes={
            "kinematic for dynamic": (
                laminar_drop(flow, bore, length, Q(float(kinematic.m), "cP")),
                "Are cSt and cP the same for an oil that is lighter than water?",
            ),
            "radius for diameter": (
                laminar_drop(flow, bore / 2.0, length, viscosity),
                "Sixteen times too much. Is d in this formula a radius?",
            ),
            "gallons read as liters": (
                laminar_drop(Q(float(flow.m), "Lpm"), bore, length, viscosity),
                "In which unit did you put the flow in?",
            ),
            "feet read as meters": (
                laminar_drop(flow, bore, Q(float(length.m), "m"), viscosity),
                "In which unit did you put the length in?",
            ),
        },
    )


@compute("two steps in a row", "Each step may take its inputs as they were at the beginning.")
def shop_to_oil(draw: Sampler) -> Exercise:
    set_to, full = draw.between(8, 12, 1, 9, "psig"), draw.between(50, 65, 5, 60, "psig")
    shop, gas = draw.between(-10, 0, 5, 0, "degC"), draw.between(50, 60, 5, 55, "degC")
    room = draw.between(2.5, 4, 0.25, 3, "qt")
    charge = precharge_at_temperature(set_to, shop, gas)
    answer = oil_stored(room, charge, full)
    return by_number(
        f"Audit two steps in a row, pre-charge at work and oil stored. In a shop at {text(shop)} the gauge was set to "
        f"{text(set_to)}; at work the gas is at {text(gas)}, and the oil at {text(full)}. The gas volume is "
        f"{text(room)}. How much oil does the vessel hold, settled?",
        hints=(
            "First step: what has become of the pre-charge with warm gas?",
            "Second step: V (1 - p0 / p), with absolute pressures and the warm pre-charge.",
        ),
        steps=(
            f"as set, absolute: {text(absolute_pressure(set_to))}",
            f"warm: times {gas.m_as('K'):.2f} / {shop.m_as('K'):.2f} = {text(absolute_pressure(charge))}, on the gauge "
            f"{text(charge)}",
            f"oil: {room.m:g} qt x (1 - {over(charge, full, digits=2)}) = {text(answer)}",
        ),
        answer=answer,
        mistakes={
            "pre-charge set cold read hot": (
                oil_stored(room, set_to, full),
                "Which pre-charge did you take into the second step?",
            ),
            "gauge for absolute": (room * float(1.0 - charge.m / full.m), "Which pressures does Boyle want?"),
            "gas for oil": (room - answer, "This is the room that the gas has left. What was asked?"),
        },
    )


@read("the power of an input from a curve", "The power is the factor by which the result grows.")
def read_exponent(draw: Sampler) -> Exercise:
    name, function, start, unit, title = draw.one_of(CURVES)
    steps = np.linspace(0.5, 4.5, 33)
    flows = function(Q(start * steps, unit))
    one, two = (float(function(Q(start * step, unit)).m) for step in (2.0, 4.0))
    power = math.log(two / one) / math.log(2.0)
    answer = Q(power, "")
    low, high = (text(Q(start * step, unit)) for step in (2.0, 4.0))
    return by_number(
        f"The graph is a formula of the register: flow against {name}, all else as it was. Which power has the {name} "
        f"in it? Read the flow at {low} and at {high}. Powers here are whole numbers or halves.",
        hints=(
            "By which factor has the flow grown from the first place to the second, twice as far?",
            "2 to which power is that factor? Twice is power 1, four times is power 2.",
        ),
        steps=(
            f"flow at {low}: {one:.4g} gpm; at {high}: {two:.4g} gpm",
            f"factor {two / one:.3f} = 2 ** {power:.3g}: power {power:.3g}",
        ),
        answer=answer,
        mistakes={
            "the factor for the power": (Q(two / one, ""), "By this factor the flow grows. 2 to which power is that?"),
            "half the factor": (
                Q(two / one / 2.0, ""),
                "The input has doubled. Which power of 2 is the flow's factor, and not: how often is 2 in it?",
            ),
        },
        picture=graph(Q(start * steps, unit), flows, title, "flow", rows=32),
    )


def _through_a_groove(clearance: Any) -> Qty:
    flow: Qty = groove_flow(Q(2.45, "in"), clearance, Q(0.325, "in"), Q(60, "psi"), Q(5.5, "cP")).to("gpm")
    return flow


def _through_a_hole(pressure: Any) -> Qty:
    flow: Qty = orifice_flow(Q(0.1, "in"), pressure, Q(816, "kg/m**3")).to("gpm")
    return flow


CURVES: tuple[tuple[str, Callable[[Any], Qty], float, str, str], ...] = (
    ("clearance", _through_a_groove, 1.0, "thou", "diametral clearance"),
    ("pressure", _through_a_hole, 20.0, "psi", "pressure over a restrictor"),
    ("clearance", _through_a_groove, 1.2, "thou", "diametral clearance"),
    ("pressure", _through_a_hole, 15.0, "psi", "pressure over a restrictor"),
)
"""What is changed, what then flows, the first value, its unit, and what stands below the graph."""


@read("the width of the longest bar", "Measure first what is easiest to measure.")
def read_doubts(draw: Sampler) -> Exercise:
    charge, full = draw.between(9, 12, 1, 10, "psig"), draw.between(50, 60, 5, 60, "psig")
    off = {
        "pre-charge": float(draw.between(2, 3, 0.5, 2.5, "psi").m),
        "pressure": float(draw.between(2, 4, 1, 3, "psi").m),
        "gas volume": float(draw.between(0.02, 0.08, 0.02, 0.06, "qt").m),
    }

    def stored(off_by: dict[str, float]) -> Qty:
        held: Qty = oil_stored(
            Q(3.0 + off_by["gas volume"], "qt"),
            Q(float(charge.m) + off_by["pre-charge"], "psig"),
            Q(float(full.m) + off_by["pressure"], "psig"),
        )
        return held

    usual, ends = moved_alone(off, stored)
    widths = {name: abs(high - low) for name, (low, high) in ends.items()}
    longest, other, _ = sorted(widths, key=lambda name: -widths[name])
    answer, second = widths[longest], widths[other]
    low, high = sorted(ends[longest])
    return by_number(
        "Each input of a step was moved to both ends of its range, alone; the bars are the oil stored, the line "
        "through them is as usual. You may have one of the three measured exactly, and choose the one that takes most "
        "doubt away. How wide is its bar, from end to end?",
        hints=(
            "Which bar is longest? Measuring that input helps most.",
            "Read both its ends, and take the difference.",
        ),
        steps=(
            f"the longest bar is “{longest}”: from {text(low)} to {text(high)}",
            f"from end to end {text(answer)}; the next one is {text(second)} wide",
        ),
        answer=answer,
        mistakes={
            "the second bar": (second, "Is there a longer bar? Which one takes most doubt away?"),
            "as usual for the doubt": (usual, "So much is stored as usual. How far apart are the bar's ends?"),
        },
        picture=bars(ends, usual, "oil stored"),
    )
