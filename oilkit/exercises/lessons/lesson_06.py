"""Exercises of lesson 06: seconds of protection, how they end, and the first dip."""

from __future__ import annotations

import dataclasses
from functools import cache
from typing import Any

import numpy as np

from oilkit.exercises.exercise import WITHIN, Exercise, Sampler
from oilkit.exercises.gauges import graph
from oilkit.exercises.making import as_if_gauge, by_choice, by_number, compute, over, predict, read, read_off
from oilkit.laps.lap import usual_installation
from oilkit.physics.dip import WAVE_SPEED
from oilkit.physics.discharging import EMPTY, LIMIT_REACHED, Discharge, discharge
from oilkit.physics.gas import ADIABATIC, gauge_used_by_mistake, pressure_at_volume
from oilkit.physics.precharge import useful_oil
from oilkit.physics.pressure import absolute_pressure, gauge_pressure
from oilkit.physics.vessel import oil_stored
from oilkit.quantities.kinds import TIME
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q, Qty

FULL = Q(60, "psig")
COARSE = 1e-4
"""Accuracy of each step of a simulation here: times are good to a hundredth, far better than anyone reads them."""


@cache
def _two(low: float, high: float) -> Discharge:
    """How it goes with two pre-charges in psig."""
    return discharge(usual_installation(), Q(20, "s"), COARSE, precharge=Q([low, high], "psig"))


@predict("pre-charge against how it ends", "More pre-charge always protects longer, or always shorter.")
def longer_with_which(draw: Sampler) -> Exercise:
    low, high = draw.one_of(((25, 40), (10, 20), (7, 15), (24, 35), (28, 38), (5, 12)))
    went = _two(low, high)
    first, second = went.protected_time
    alike = abs(first / second - 1.0) < 0.05
    right = 2 if alike else 0 if first > second else 1
    said = [
        f"{text(Q(charge, 'psig'))}: {text(time)}, then {ending}"
        for charge, time, ending in zip((low, high), (first, second), went.ending, strict=True)
    ]
    limit = usual_installation().engine.warning
    why = {
        (EMPTY, EMPTY): "both run empty before the limit is reached, and the higher one holds less oil",
        (
            LIMIT_REACHED,
            LIMIT_REACHED,
        ): "with both, oil is left inside at the limit, and less of it with the higher one",
        (LIMIT_REACHED, EMPTY): "with the lower one oil is left inside at the limit; the higher one runs empty before",
    }[*went.ending]
    return by_choice(
        f"The pump of the {usual_installation().engine.name} lets go at {text(FULL)}; the limit is {text(limit)}. Two "
        f"pre-charges, {text(Q(low, 'psig'))} and {text(Q(high, 'psig'))}. With which one is the engine protected "
        "longer?",
        hints=(
            "Compare each pre-charge with the limit. Which comes first, the limit or the empty vessel?",
            "If the limit comes first, more pre-charge helps. If the vessel is empty first, it only means less oil.",
        ),
        steps=(*said, why),
        options=(
            f"with {text(Q(low, 'psig'))}",
            f"with {text(Q(high, 'psig'))}",
            "with both alike, within a twentieth",
        ),
        right=right,
        replies=(
            "Less pre-charge, more oil inside. But how much of it comes out before the limit is reached?",
            "More pre-charge keeps the pressure up. But how much oil is there, and when has it all gone?",
            "They end in different moments. What ends the one, and what the other?",
        ),
        said=f"{'; '.join(said)}.",
    )


@compute("protected time from useful oil and mean flow", "All stored oil comes out in time, at the first flow.")
def seconds_at_mean_flow(draw: Sampler) -> Exercise:
    room = draw.between(2, 4, 0.5, 3, "qt")
    charge = draw.between(8, 16, 1, 10, "psig")
    full = draw.between(55, 70, 5, 60, "psig")
    limit = draw.between(20, 30, 5, 20, "psig")
    mean = draw.between(2.2, 3.2, 0.1, 2.6, "gpm")
    first = mean + draw.between(0.8, 1.2, 0.1, 0.9, "gpm")
    comes = useful_oil(room, charge, full, limit)
    stored = oil_stored(room, charge, full)
    by_gauge = room * (charge.m / limit.m - charge.m / full.m)
    answer = (comes / mean).to("s")
    return by_number(
        f"A vessel of {text(room)} with a pre-charge of {text(charge)} has settled at {text(full)}. The pump lets go. "
        f"The engine takes {text(first)} at first, and {text(mean)} on average until its limit of {text(limit)}. The "
        "gas stays warm. How long is the engine protected?",
        hints=(
            "The limit is above the pre-charge. Does all the oil come out before it?",
            "Find the gas volume at both pressures, absolute. The difference is the oil that comes out in time.",
            "A gallon has 4 quarts, a minute 60 seconds.",
        ),
        steps=(
            f"gas at the start: {room.m:g} x {over(charge, full)} = {text(room - stored)}",
            f"gas at the limit: {room.m:g} x {over(charge, limit)} = {text(room - stored + comes)}",
            f"oil that comes out in time: {text(comes)}",
            f"at {text(mean)}: {text(answer)}",
        ),
        answer=answer,
        mistakes={
            "first flow instead of mean flow": (
                (comes / first).to("s"),
                "Does the engine take so much all the time, while the pressure falls?",
            ),
            "stored oil for useful oil": (
                (stored / mean).to("s"),
                "What is left inside when the pressure reaches the limit?",
            ),
            "gauge for absolute": ((by_gauge / mean).to("s"), "Which pressures does Boyle's law want?"),
            "gallons and quarts mixed up": (
                (4 * comes / mean).to("s"),
                "You divided quarts by gallons per minute. How many quarts are a gallon?",
            ),
        },
    )


@compute("how far the vessel's pressure falls", "The gas has all the vessel's room from the start.")
def gauge_after_seconds(draw: Sampler) -> Exercise:
    room = draw.between(2.5, 4, 0.5, 3, "qt")
    charge = draw.between(9, 16, 1, 12, "psig")
    full = draw.between(55, 70, 5, 60, "psig")
    flow = draw.between(2.4, 3.4, 0.2, 3, "gpm")
    lasting = draw.one_of((2, 3))
    gone = (flow * Q(lasting, "s")).to("qt")
    gas_before = room - oil_stored(room, charge, full)
    gas_after = gas_before + gone
    after = pressure_at_volume(absolute_pressure(full), gas_before, gas_after)
    answer = gauge_pressure(after)
    return by_number(
        f"A vessel of {text(room)}, pre-charge {text(charge)}, has settled at {text(full)}. For {lasting} s the engine "
        f"draws {text(flow)} from it. The gas stays as warm as it was. What does the vessel's gauge show then?",
        hints=(
            "How much room had the gas before? Boyle, from the pre-charge, with absolute pressures.",
            "The oil that has gone is room for the gas. Add it, and use Boyle once more.",
        ),
        steps=(
            f"gas before: {room.m:g} x {over(charge, full)} = {text(gas_before)}",
            f"oil that goes: {text(flow)} for {lasting} s = {text(gone)}",
            f"gas after: {text(gas_after)}",
            f"pressure: {text(absolute_pressure(full))} x {gas_before.m:.3f} / {gas_after.m:.3f} = {text(after)}, on "
            f"the gauge {text(answer)}",
        ),
        answer=answer,
        mistakes={
            "gauge for absolute": (
                gauge_used_by_mistake(full, room * (charge.m / full.m), room * (charge.m / full.m) + gone),
                "Which pressures does the gas feel?",
            ),
            "the atmosphere left in": (
                as_if_gauge(after),
                "This is the absolute pressure. What does the gauge leave out?",
            ),
            "adiabatic for isothermal": (
                gauge_pressure(pressure_at_volume(absolute_pressure(full), gas_before, gas_after, ADIABATIC)),
                "That is gas without any heat from the wall. What does the question say of its warmth?",
            ),
        },
    )


@compute("whether a dip can be believed", "A pressure wave needs no time.")
def trips_of_the_wave(draw: Sampler) -> Exercise:
    speed: Qty = Q(WAVE_SPEED, "m/s")
    hose = draw.between(4, 18, 1, 8, "ft")
    falls = draw.between(20, 80, 5, 40, "ms")
    trip = (2 * hose / speed).to("ms")
    answer = (falls / trip).to("")
    return by_number(
        f"A dip is deepest {falls.m:g} ms after the pump let go. The hose to the vessel is {text(hose)} long. A "
        f"pressure wave runs through it at {speed.m:g} m/s ({speed.m_as('ft/s'):.0f} ft/s; an estimate). How many "
        "times does the wave run to the vessel and back until then?",
        hints=(
            "How long is one trip, there and back?",
            "Length in meters (1 ft is 0.3048 m), twice, over the speed. Then see how often it fits into the time.",
        ),
        steps=(
            f"there and back: 2 x {hose.m_as('m'):.2f} m / {speed.m:g} m/s = {trip.m:.1f} ms",
            f"{falls.m:g} ms / {trip.m:.1f} ms = {answer.m:.2f} trips",
            "three or more: the oil moves nearly as one piece; fewer: the depth is rough; less than one: water hammer",
        ),
        answer=answer,
        mistakes={
            "one way for there and back": (2 * answer, "The wave has to come back as well. How long is the way?"),
            "feet for meters": (
                (falls / (2 * Q(float(hose.m), "m") / speed)).to(""),
                "The speed is in meters for each second here. How long is the hose in meters?",
            ),
            "inverted ratio": (1 / answer, "You divided the trip by the time of the fall. What was asked?"),
        },
    )


TIMES: Any = Q(np.linspace(0.0, 10.0, 81), "s")


@cache
def _pressure_over_time(charge: Qty, limit: Qty) -> tuple[Any, Qty]:
    """Gallery pressure at the times of `TIMES`, and the protected time."""
    went = discharge(usual_installation(), TIMES[-1], COARSE, samples=TIMES, precharge=charge, limit=limit)
    assert went.history is not None
    return went.history.gallery_pressure, went.protected_time


@read("pressure against time, down to the limit", "Protection lasts until the oil is gone.")
def read_protected_time(draw: Sampler) -> Exercise:
    charge = draw.between(8, 14, 2, 10, "psig")
    limit = draw.between(18, 28, 2, 22, "psig")
    pressures, answer = _pressure_over_time(charge, limit)
    raised = as_if_gauge(absolute_pressure(limit))
    early = read_off(raised, pressures, TIMES)
    straight = read_off(limit, pressures, TIMES, straight=True)
    return by_number(
        f"The pump has let go at time 0. The vessel has a pre-charge of {text(charge)}. The engine's limit is "
        f"{text(limit)}. Read off how long it is protected.",
        hints=(
            "The graph's pressures are gauge pressures, and so is the limit.",
            "Find the limit on the upright axis, go across to the line, then straight down.",
        ),
        steps=(
            f"from {text(limit)} across to the line and down: {text(answer)}",
            "oil is still inside then: the pressure limit ends the protection, not the empty vessel",
        ),
        answer=answer,
        mistakes={
            "the end of the line": (TIMES[-1], "The line goes on, but is the pressure still above the limit there?"),
            "the limit made absolute": (
                early,
                "You added an atmosphere to the limit. Which pressures does the graph show?",
            ),
            "a straight line from end to end": (straight, "Is the line straight?"),
        },
        picture=graph(TIMES, pressures, "time", "gallery pressure", rows=16),
    )


MILLISECONDS = dataclasses.replace(TIME, us="ms", us_digits=0, metric="ms", metric_digits=0)
DIP_TIMES: Any = Q(np.linspace(0.0, 0.1, 101), "s")


@cache
def _dip(decay: Qty, hose: Qty) -> Any:
    """Gallery pressure at the times of `DIP_TIMES`, for a pump that fades in some time."""
    went = discharge(usual_installation(), Q(0.2, "s"), COARSE, samples=DIP_TIMES, pump_decay=decay, line_length=hose)
    assert went.history is not None
    return went.history.gallery_pressure


@read("the lowest place of the first dip", "An axis begins at zero.")
def read_the_dip(draw: Sampler) -> Exercise:
    decay, hose = draw.between(0, 20, 5, 10, "ms"), draw.between(5, 10, 1, 8, "ft")
    pressures = _dip(decay, hose)
    answer = pressures.min()
    deep = FULL.m - answer.m
    limit = usual_installation().engine.warning
    return by_number(
        f"The first tenth of a second after the pump lets go, with {text(hose)} of hose. What is the lowest pressure "
        "in the dip?",
        hints=(
            "Find the lowest place of the line.",
            "Go across from it to the upright axis, and look where that axis begins.",
        ),
        steps=(
            f"the lowest place stands at {text(answer)}",
            f"that is {text(Q(float(deep), 'psi'))} below the pressure at the start, and above the limit of "
            f"{text(limit)}",
        ),
        answer=answer,
        within=WITHIN,
        mistakes={
            "depth for pressure": (
                Q(float(deep), "psig"),
                "This is how far it has fallen. At which pressure does it stand there?",
            ),
            "the pressure at the start": (FULL, "This is before the dip. Where is the lowest place?"),
        },
        picture=graph(DIP_TIMES, pressures, "time", "gallery pressure", rows=50, x_kind=MILLISECONDS),
    )
