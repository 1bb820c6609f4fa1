"""Exercises of lesson 02: oil stored, piston travel, from shop to track, and a fast fill."""

from __future__ import annotations

from typing import Any

import numpy as np

from oilkit.exercises.exercise import Exercise, Sampler
from oilkit.exercises.gauges import graph, rule
from oilkit.exercises.making import as_if_gauge, by_choice, by_number, compute, over, predict, read
from oilkit.physics.catalog import bench_vessel
from oilkit.physics.gas import ADIABATIC, pressure_at_volume
from oilkit.physics.pressure import absolute_pressure, ambient_pressure, gauge_pressure
from oilkit.physics.vessel import oil_stored, piston_travel, precharge_at_temperature, precharge_to_set, rule_reading
from oilkit.quantities.kinds import ALTITUDE
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q, Qty

CUBIC = "1 qt = 57.75 in³, 1 L = 1000 cm³"


def _cubic(oil: Qty) -> str:
    return f"{oil.m_as('in**3'):.1f} in³ ({oil.m_as('cm**3'):.0f} cm³)"


def _kelvin(temperature: Qty) -> str:
    return f"{temperature.m_as('K'):.0f} K"


@predict("the same gauge pressure at altitude", "The same reading on the oil gauge means the same oil.")
def up_the_mountain(draw: Sampler) -> Exercise:
    charge = draw.between(8, 14, 1, 10, "psig")
    pressure = draw.between(45, 65, 5, 60, "psig")
    height = draw.between(5000, 9000, 500, 8000, "ft")
    room = bench_vessel().gas_volume
    air = ambient_pressure(height)
    if draw.one_of(("up", "down")) == "down":
        return _down_the_mountain(charge, pressure, height)
    up_there = gauge_pressure(absolute_pressure(charge), air)
    below, above = oil_stored(room, charge, pressure), oil_stored(room, up_there, pressure, ambient=air)
    up = text(height, ALTITUDE)
    return by_choice(
        f"A vessel was set to {text(charge)} at sea level. At a track at {up} its gas is as warm as in the shop. The "
        f"oil gauge shows {text(pressure)} there, as it did at home. How much oil does the vessel hold at the track?",
        hints=(
            "Which of the two absolute pressures has changed: that of the pre-charge, or that of the oil?",
            "The gas shut in is the same. Squeezed to a lower absolute pressure, does it take more or less room?",
        ),
        steps=(
            f"pre-charge, absolute: {text(absolute_pressure(charge))} in both places",
            f"oil, absolute: {text(absolute_pressure(pressure))} at sea level, "
            f"{text(absolute_pressure(pressure, air))} at the track",
            f"in {text(room)}: {text(below)} at sea level, {text(above)} at the track",
        ),
        options=("a little more than at home", "as much as at home", "a little less than at home"),
        right=int(1 - np.sign(round(float((above - below).m_as("qt")), 6))),
        replies=(
            f"The pre-charge gauge shows more up there, {text(up_there)}. Does more pre-charge store more oil?",
            "The oil gauge shows the same. But which pressure squeezes the gas, gauge or absolute?",
            f"The same gas is squeezed less hard, absolute, so it keeps more room: {text(above)} instead of "
            f"{text(below)} in a vessel of {text(room)}.",
        ),
    )


def _down_the_mountain(charge: Qty, pressure: Qty, height: Qty) -> Exercise:
    """The same the other way round: set at the track, and brought home."""
    room, air, up = bench_vessel().gas_volume, ambient_pressure(height), text(height, ALTITUDE)
    shut_in = absolute_pressure(charge, air)
    at_home = gauge_pressure(shut_in)
    above, below = oil_stored(room, charge, pressure, ambient=air), oil_stored(room, at_home, pressure)
    return by_choice(
        f"A vessel was set to {text(charge)} at a track at {up}. Back home at sea level its gas is as warm as it was "
        f"there. The oil gauge shows {text(pressure)}, as it did at the track. How much oil does the vessel hold now?",
        hints=(
            "Which of the two absolute pressures has changed: that of the pre-charge, or that of the oil?",
            "The gas shut in is the same. Squeezed to a higher absolute pressure, does it take more or less room?",
        ),
        steps=(
            f"pre-charge, absolute: {text(shut_in)} in both places",
            f"oil, absolute: {text(absolute_pressure(pressure, air))} at the track, "
            f"{text(absolute_pressure(pressure))} at sea level",
            f"in {text(room)}: {text(above)} at the track, {text(below)} at sea level",
        ),
        options=("a little more than at the track", "as much as at the track", "a little less than at the track"),
        right=int(1 - np.sign(round(float((below - above).m_as("qt")), 6))),
        replies=(
            f"The same gas is squeezed harder, absolute, so it keeps less room: {text(below)} of oil instead of "
            f"{text(above)} in a vessel of {text(room)}.",
            "The oil gauge shows the same. But which pressure squeezes the gas, gauge or absolute?",
            f"The pre-charge gauge shows less at home, {text(at_home)}. Does less pre-charge store less oil?",
        ),
    )


@compute("what to set in the cold shop", "A pre-charge is a number, whatever the temperature.")
def set_for_the_track(draw: Sampler) -> Exercise:
    wanted = draw.between(8, 14, 1, 12, "psig")
    shop = draw.between(10, 25, 5, 15, "degC")
    track = draw.between(45, 70, 5, 55, "degC")
    answer = precharge_to_set(wanted, shop, track)
    hot = absolute_pressure(wanted)
    ratio = float(shop.m_as("K") / track.m_as("K"))
    return by_number(
        f"At the track the gas in your vessel is at {text(track)}, and you want a pre-charge of {text(wanted)} there. "
        f"The shop is at {text(shop)}. What do you set in the shop, at sea level like the track?",
        hints=(
            "The gas is shut in. What happens to its pressure on the way back to the cold shop?",
            "Make it absolute, multiply by shop over track in kelvin, and take the atmosphere off again.",
        ),
        steps=(
            f"absolute at the track: {text(hot)}",
            f"times {_kelvin(shop)} / {_kelvin(track)}: {text(absolute_pressure(answer))}",
            f"less the atmosphere: {text(answer)}",
        ),
        answer=answer,
        mistakes={
            "pre-charge set cold read hot": (
                wanted,
                "If you set this in the shop, what will the gas have made of it at the track?",
            ),
            "inverted ratio": (
                precharge_at_temperature(wanted, shop, track),
                "You went from shop to track. In which place do you know the pressure?",
            ),
            "gauge for absolute": (wanted * ratio, "Which pressure follows the temperature, what the gas feels?"),
            "degrees Celsius for kelvin": (
                gauge_pressure(hot * (shop.m / track.m)),
                "Has a gas at 0 °C no pressure at all? From where must temperature be counted?",
            ),
        },
    )


@compute("a pre-charge set cold, oil stored hot", "The oil stored follows from what was set in the shop.")
def oil_at_the_track(draw: Sampler) -> Exercise:
    room = draw.between(2, 4, 0.5, 3, "qt")
    charge = draw.between(8, 12, 1, 10, "psig")
    shop = draw.between(10, 20, 5, 20, "degC")
    track = draw.between(60, 80, 5, 70, "degC")
    pressure = draw.between(40, 55, 5, 55, "psig")
    hot = precharge_at_temperature(charge, shop, track)
    answer = oil_stored(room, hot, pressure)
    return by_number(
        f"A vessel of {text(room)} is set to {text(charge)} in a shop at {text(shop)}. It sits beside the engine, so "
        f"at the track its gas is at {text(track)}. How much oil does it hold there, settled at {text(pressure)}?",
        hints=(
            "First find out what the pre-charge has become at the track, before any oil comes in.",
            "Then let the oil squeeze that gas: oil = room less what is left for the gas, all pressures absolute.",
        ),
        steps=(
            f"pre-charge at the track: {text(absolute_pressure(charge))} x {_kelvin(track)} / {_kelvin(shop)} = "
            f"{text(absolute_pressure(hot))}, on the gauge {text(hot)}",
            f"oil pressure, absolute: {text(absolute_pressure(pressure))}",
            f"left for the gas: {room.m:g} qt x {over(hot, pressure)} = {text(room - answer)}",
            f"oil: {text(answer)}",
        ),
        answer=answer,
        mistakes={
            "pre-charge set cold read hot": (
                oil_stored(room, charge, pressure),
                "You used what was set in the shop. What has the warm gas made of it?",
            ),
            "gauge for absolute": (room * (1.0 - hot.m / pressure.m), "Are these the pressures that the gas feels?"),
            "gas for oil": (room - answer, "This is the room that is left for the gas. What fills the rest of it?"),
        },
    )


@compute("from pressures to piston travel", "Half the pressure moves the piston half the way.")
def where_is_the_piston(draw: Sampler) -> Exercise:
    room = draw.between(2, 4, 0.5, 2.5, "qt")
    bore = draw.one_of((Q(4.0, "in"), Q(3.5, "in"), Q(4.5, "in")))
    charge = draw.between(6, 12, 1, 8, "psig")
    pressure = draw.between(45, 70, 5, 50, "psig")
    oil = oil_stored(room, charge, pressure)
    answer = piston_travel(oil, bore)
    return by_number(
        f"A vessel has {text(room)} of gas volume and a bore of {text(bore)}. Its pre-charge is {text(charge)}, and it "
        f"has settled at {text(pressure)}. How far has the piston moved from the oil end?",
        hints=(
            "How much oil is in the vessel?",
            f"That oil fills a cylinder of the vessel's bore. {CUBIC}.",
            "Travel = oil / (pi x bore² / 4).",
        ),
        steps=(
            f"left for the gas: {room.m:g} qt x {over(charge, pressure)}"
            f" = {text(room - oil)}, so oil: {text(oil)} = {_cubic(oil)}",
            f"area of the bore: {text((np.pi / 4.0 * bore**2).to('in**2'))}",
            f"travel = oil / area = {text(answer)}",
        ),
        answer=answer,
        mistakes={
            "gauge for absolute": (
                piston_travel(room * (1.0 - charge.m / pressure.m), bore),
                "Are these the pressures that the gas feels?",
            ),
            "gas for oil": (
                piston_travel(room - oil, bore),
                "This is how far the piston is from the gas end. From which end was it asked?",
            ),
            "bore for radius": (
                piston_travel(oil, 2.0 * bore),
                "Is the bore the radius of the circle, or its diameter?",
            ),
            "adiabatic for isothermal": (
                piston_travel(oil_stored(room, charge, pressure, polytropic_index=ADIABATIC), bore),
                "The vessel has settled. Is its gas still warm from the squeeze?",
            ),
        },
    )


@read("a rule beside the rod, then oil", "What a rule shows is what has moved.")
def read_rule(draw: Sampler) -> Exercise:
    bench = bench_vessel()
    zero = draw.one_of((Q(0.8, "in"), Q(0.6, "in"), Q(1.0, "in")))
    travel = draw.between(4, 6.4, 0.2, 4.8, "in")
    answer = Q(float((travel / piston_travel(Q(1, "qt"), bench.bore)).m), "qt")
    reading = rule_reading(answer, bench.bore, zero)
    return by_number(
        f"A thin rod rides on the piston of a vessel of {text(bench.gas_volume)} and {text(bench.bore)} bore. With the "
        f"piston at the oil end, the rule showed {text(zero)} at the rod's end. How much oil is in the vessel now?",
        hints=(
            "What does the rule show now, and what did it show when there was no oil?",
            f"The difference is the travel. Travel x area of the bore is the oil. {CUBIC}.",
        ),
        steps=(
            f"the rule shows {text(reading)}, less {text(zero)}: travel {text(travel)}",
            f"area of the bore: {text((np.pi / 4.0 * bench.bore**2).to('in**2'))}",
            f"oil = {_cubic(answer)} = {text(answer)}",
        ),
        answer=answer,
        within=0.04,  # half a division of the rule is two and a half per cent of the shortest travel
        mistakes={
            "zero of the rule forgotten": (
                Q(float((reading / piston_travel(Q(1, "qt"), bench.bore)).m), "qt"),
                "What did the rule show when the vessel held no oil?",
            ),
            "bore for radius": (answer * 4.0, "Is the bore the radius of the circle, or its diameter?"),
            "gas for oil": (bench.gas_volume - answer, "This is the room of the gas. Which side was asked for?"),
        },
        picture=rule(reading, 12.0, 300.0),
    )


@read("the pre-charge on a curve of oil", "Oil begins to come in as soon as there is oil pressure.")
def read_precharge(draw: Sampler) -> Exercise:
    room = draw.between(2, 4, 0.5, 3, "qt")
    psi = draw.one_of(
        (14.0, 9.0, 11.0, 12.0, 13.0, 16.0, 17.0, 18.0, 19.0, 21.0, 22.0)
    )  # between two rows of the words
    answer = Q(psi, "psig")
    pressures = Q(np.linspace(0.0, 40.0, 81), "psig")
    half = gauge_pressure(pressure_at_volume(absolute_pressure(answer), room, room / 2.0))
    return by_number(
        f"Somebody raised the oil pressure slowly and wrote down how much oil a vessel of {text(room)} held. The graph "
        "shows it. What was the pre-charge?",
        hints=(
            "Below which oil pressure does the piston not move at all?",
            "Find the corner where the line leaves zero, and read the pressure below it.",
        ),
        steps=(
            "the piston leaves the oil end when the oil presses as hard as the gas",
            f"the line leaves zero at {text(answer)}: that is the pre-charge",
        ),
        answer=answer,
        mistakes={
            "pressure of the half-full vessel": (
                half,
                "There the vessel is half full. At which pressure does the piston begin to move?",
            ),
            "absolute for gauge": (
                as_if_gauge(absolute_pressure(answer)),
                "You added the atmosphere. Which pressure stands below the graph?",
            ),
        },
        picture=graph(pressures, oil_stored(room, answer, pressures, resting=True), "oil pressure", "oil", rows=16),
    )


def why_the_rod_creeps(draw: Sampler) -> dict[str, Any]:
    """A fast fill settles."""
    room = bench_vessel().gas_volume
    charge = draw.between(8, 12, 1, 10, "psig")
    pressure = draw.between(45, 65, 5, 60, "psig")
    fast = oil_stored(room, charge, pressure, polytropic_index=ADIABATIC)
    slow = oil_stored(room, charge, pressure)
    return {"pressure": pressure, "room": room, "fast": fast, "slow": slow}
