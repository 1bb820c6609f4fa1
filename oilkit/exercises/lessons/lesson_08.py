"""Exercises of lesson 08: the night behind a shut valve, the pre-lube, and the electric valve."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

from oilkit.exercises.exercise import Exercise, Sampler
from oilkit.exercises.gauges import graph
from oilkit.exercises.making import as_if_gauge, by_choice, by_number, compute, over, predict, read, read_off
from oilkit.physics.catalog import bench_vessel, engines, fittings, hoses, lubricants
from oilkit.physics.discharging import Installation
from oilkit.physics.gas import gauge_used_by_mistake, pressure_at_volume
from oilkit.physics.line import SupplyLine
from oilkit.physics.night import Overnight, overnight
from oilkit.physics.prelube import PreLube, pre_lube
from oilkit.physics.pressure import absolute_pressure, gauge_pressure
from oilkit.physics.vessel import oil_stored, precharge_at_temperature
from oilkit.physics.wiring import coil_supply
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q, Qty

WARM_GAS, HOT_OIL = Q(40, "degC"), Q(90, "degC")
NO_CABLE = Q(0, "ft"), Q(2, "mm**2"), Q(0, "ohm")


@predict("cooling or a leak", "A lower reading in the morning is always a leak, or never one.")
def leak_or_cold(draw: Sampler) -> Exercise:
    full = draw.between(55, 70, 5, 60, "psig")
    morning = draw.between(-15, 15, 5, 5, "degC")
    charge = Q(10, "psig")
    off = draw.one_of((0.0, -9.0, 0.0, -7.0, 7.0), 1)
    night = overnight(bench_vessel(), lubricants()["street"], charge, full, WARM_GAS, HOT_OIL, morning)
    tight = float(night.pressure.m)
    shown = Q(float(round(tight + off)), "psig")
    right = 0 if abs(float(shown.m) - tight) < 2.0 else 1 if float(shown.m) < tight else 2
    said = f"A tight vessel would show {text(night.pressure)}; this one shows {text(shown)}."
    return by_choice(
        f"On the tag of a 3 qt (2.84 L) vessel: pre-charge {text(charge)}, shut at {text(full)}, gas {text(WARM_GAS)}, "
        f"oil {text(HOT_OIL)}. In the morning all is at {text(morning)}, and its gauge shows {text(shown)}. The "
        "gauge is good to 2 psi (0.14 bar). What do you conclude? (For each °C the oil loses 0.07 % of its room.)",
        hints=(
            "Two things have cooled: gas and oil. What should a tight vessel show?",
            "Put the tag's numbers into the panel of part 1, and compare.",
        ),
        steps=(
            f"oil shrinks from {text(night.oil_before)} to {text(night.oil)}",
            f"gas and oil cooled, nothing leaked: {text(night.pressure)}",
            said,
        ),
        options=(
            "cooling alone explains it",
            "less is left than cooling explains: look for a leak",
            "more is there than can be: the gauge or a number on the tag is wrong",
        ),
        right=right,
        replies=(
            "Did you let both cool, the gas and the oil, and then compare with the gauge?",
            "Cooling takes pressure too. Is less there than it leaves?",
            "Nothing in a cold night adds pressure. Is there really more than cooling leaves?",
        ),
        said=said,
    )


@compute("oil that is missing beyond cooling", "The pre-charge on the tag holds at any temperature.")
def how_much_leaked(draw: Sampler) -> Exercise:
    room, full = bench_vessel().gas_volume, Q(60, "psig")
    charge = draw.between(8, 14, 1, 10, "psig")
    morning = draw.between(-10, 15, 5, 5, "degC")
    night = overnight(bench_vessel(), lubricants()["street"], charge, full, WARM_GAS, HOT_OIL, morning)
    tight = round(night.oil.to("qt"), 2)
    hot = round(night.oil_before.to("qt"), 2)
    shown = draw.between(22, 30, 2, 26, "psig")
    cold = precharge_at_temperature(charge, WARM_GAS, morning)
    left = oil_stored(room, cold, shown)
    answer = tight - left
    return by_number(
        f"A vessel of {text(room)} had a pre-charge of {text(charge)} with its gas at {text(WARM_GAS)}, and held "
        f"{text(hot)} of hot oil. In the morning all is at {text(morning)}. A tight vessel would hold {text(tight)} "
        f"then: its oil has shrunk. This one's gauge shows {text(shown)}. How much oil has leaked?",
        hints=(
            "How much oil does it hold at the pressure that it shows? Boyle, from the pre-charge.",
            "Which pre-charge: the warm one on the tag, or what has become of it?",
            "Take what it holds from what it would hold.",
        ),
        steps=(
            f"pre-charge in the cold: {text(absolute_pressure(charge))} x {morning.m_as('K'):.0f} / "
            f"{WARM_GAS.m_as('K'):.0f}, on the gauge {text(cold)}",
            f"it holds {room.m:g} qt x (1 - {over(cold, shown)}) = {text(left)}",
            f"leaked: {text(tight)} less {text(left)} = {text(answer)}",
        ),
        answer=answer,
        within=0.05,  # a small difference of two amounts that are printed to 0.01
        mistakes={
            "the warm pre-charge in the cold": (
                tight - oil_stored(room, charge, shown),
                "The gas has cooled. What has become of its pre-charge?",
            ),
            "what is left for what has leaked": (left, "This is still in the vessel. What is missing?"),
            "shrinking counted as leaking": (
                hot - left,
                "Part of this has only shrunk. How much would a tight vessel hold in the cold?",
            ),
        },
    )


@compute("what filling the galleries costs", "The vessel keeps its pressure while it fills the galleries.")
def after_the_galleries(draw: Sampler) -> Exercise:
    room = bench_vessel().gas_volume
    shown = draw.between(34, 48, 2, 44, "psig")
    oil = draw.between(1.6, 2.0, 0.05, 1.85, "qt")
    galleries = draw.between(0.4, 0.8, 0.1, 0.6, "qt")
    goes = galleries / 2
    gas = room - oil
    after = pressure_at_volume(absolute_pressure(shown), gas, gas + goes)
    answer = gauge_pressure(after)
    return by_number(
        f"On a cold morning a vessel of {text(room)} shows {text(shown)} and holds {text(oil)}. The engine's galleries "
        f"hold {text(galleries)}, and half of that has drained overnight. The valve opens. What does the vessel's own "
        "gauge show when the galleries have just been filled? The gas keeps its temperature.",
        hints=(
            "How much oil goes, until the galleries are full?",
            "How much room has the gas before, and how much after? Boyle, with absolute pressures.",
        ),
        steps=(
            f"oil that goes: half of {text(galleries)} = {text(goes)}",
            f"gas: {text(gas)} before, {text(gas + goes)} after",
            f"pressure: {text(absolute_pressure(shown))} x {gas.m:.3f} / {(gas + goes).m:.3f} = {text(after)}, on the "
            f"gauge {text(answer)}",
            "more than this the engine's gauge cannot show: so the emptier the galleries, the lower the peak",
        ),
        answer=answer,
        mistakes={
            "gauge for absolute": (gauge_used_by_mistake(shown, gas, gas + goes), "Which pressure does the gas feel?"),
            "the galleries all empty": (
                gauge_pressure(pressure_at_volume(absolute_pressure(shown), gas, gas + galleries)),
                "How much of the galleries had drained?",
            ),
            "the atmosphere left in": (
                as_if_gauge(after),
                "This is the absolute pressure. What does the gauge leave out?",
            ),
        },
    )


@compute("volts that a hot coil needs", "A valve that opens cold opens hot.")
def hot_coil(draw: Sampler) -> Exercise:
    rated = draw.between(11, 14, 0.5, 12, "V")
    current = Q(3, "A")
    share = draw.one_of((0.75, 0.7, 0.8))
    coil = draw.between(60, 120, 10, 90, "degC")

    def needed(part: float, celsius: float) -> Qty:
        found = coil_supply(rated, rated, current, *NO_CABLE, part, Q(celsius, "degC"))
        return Q(float(found.needed_voltage.m), "V")

    hot = float(coil.m_as("degC"))
    answer = needed(share, hot)
    cold = needed(share, 20.0)
    factor = float((answer / cold).m_as(""))
    return by_number(
        f"The coil of an electric valve is made for {text(rated)}. Cold, at {text(Q(20, 'degC'))}, it pulls in with "
        f"{100 * share:.0f} % of that. It is the current that pulls, and copper resists 0.393 % more for each kelvin "
        f"above {text(Q(20, 'degC'))}. The coil is at {text(coil)}. How many volts does it need now?",
        hints=(
            "How many volts does the cold coil need?",
            "The hot coil wants the same current through more resistance. By how much has the resistance grown?",
        ),
        steps=(
            f"cold: {share:g} x {rated.m:g} V = {text(cold)}",
            f"resistance: 1 + 0.00393 x {hot - 20:.0f} = {factor:.3f} times as much",
            f"the same current wants {text(cold)} x {factor:.3f} = {text(answer)}",
        ),
        answer=answer,
        mistakes={
            "a cold coil": (cold, "This is enough for a cold coil. Does hot copper resist more or less?"),
            "the whole rated voltage": (
                needed(1.0, hot),
                "With which share of its rated voltage does this coil pull in?",
            ),
            "kelvins counted from zero": (needed(share, hot + 20.0), "From which temperature are the kelvins counted?"),
            "inverted ratio": (Q(float(cold.m) / factor, "V"), "Does a hot coil need fewer volts?"),
        },
    )


@read("what a tight vessel shows in the morning", "A tight vessel shows in the morning what it showed in the evening.")
def read_night_curve(draw: Sampler) -> Exercise:
    charge = draw.between(8, 14, 1, 10, "psig")
    full = draw.between(55, 70, 5, 60, "psig")
    morning = draw.between(-15, 15, 5, 5, "degC")
    degrees: Qty = Q(np.linspace(-20.0, 40.0, 61), "degC")
    line, night = (
        overnight(bench_vessel(), lubricants()["street"], charge, full, WARM_GAS, HOT_OIL, at)
        for at in (degrees, morning)
    )
    answer = night.pressure
    return by_number(
        f"For one evening's tag (shut at {text(full)}, gas {text(WARM_GAS)}, oil {text(HOT_OIL)}) the graph shows what "
        f"the tight vessel shows on any morning. This morning it is at {text(morning)}. What should the gauge show?",
        hints=(
            "Find the morning's temperature below, go up to the line, then across.",
            "Look where the upright axis begins, and how much one of its squares is.",
        ),
        steps=(
            f"up from {text(morning)} to the line and across: {text(answer)}",
            f"of the fall from {text(full)}, the cooling gas alone would leave {text(night.if_only_gas_cooled)}; the "
            "shrinking oil takes the rest",
        ),
        answer=answer,
        within=0.03,
        mistakes={
            "as on the evening before": (full, "This is what it showed hot. What have gas and oil done since then?"),
            "only the gas cooled": (
                night.if_only_gas_cooled,
                "This is what the cooling of the gas leaves. What has the oil done in the night?",
            ),
        },
        picture=graph(degrees, line.pressure, "morning temperature", "pressure of a tight vessel"),
    )


def installation_of_the_lesson() -> Installation:
    line = SupplyLine(hoses()["mil_h_8794_12"], Q(8, "ft"), (fittings()["port"],))
    return Installation(engines()["street_v8"], lubricants()["street"], bench_vessel(), line)


WANTED = Q(30, "psig")
SECONDS: Any = Q(np.linspace(0.0, 10.0, 101), "s")


@cache
def _morning(morning: Qty, narrow: str) -> tuple[Overnight, PreLube]:
    """A night, and the pre-lube after it."""
    night = overnight(bench_vessel(), lubricants()["street"], Q(10, "psig"), Q(60, "psig"), WARM_GAS, HOT_OIL, morning)
    return night, pre_lube(
        installation_of_the_lesson(), fittings()[narrow], night.precharge, night.pressure, morning,
        wanted=WANTED, duration=SECONDS[-1], accuracy=1e-4,
    )  # fmt: skip


@read("the peak of a pre-lube", "The gauge rises to the vessel's own pressure if one waits.")
def read_prelube(draw: Sampler) -> Exercise:
    morning = draw.between(-15, 0, 5, -5, "degC")
    narrow = draw.one_of(("reduced_valve", "narrow_valve"))
    night, run = _morning(morning, narrow)
    pressures: Any = read_off(SECONDS, run.history.time, run.history.gallery_pressure)
    answer = run.peak_pressure
    return by_number(
        f"A pre-lube on a morning at {text(morning)}, from a vessel at {text(round(night.pressure, 1))}. You wait for "
        f"{text(WANTED)}, which never comes. At which pressure does the engine's gauge stop rising?",
        hints=(
            "Nothing at first: the galleries fill. Then the pressure climbs, stands, and falls.",
            "Find the highest place of the line, and go across to the upright axis.",
        ),
        steps=(
            f"the galleries are full after {text(run.full_after)}: until then the gauge shows nothing",
            f"the line is highest after {text(run.peak_after)}, at {text(answer)}: it gets no better",
        ),
        answer=answer,
        mistakes={
            "the vessel's pressure": (
                night.pressure,
                "This is what the vessel's gauge showed before. What is lost in line, galleries and bearings?",
            ),
            "the wanted pressure": (WANTED, "Does the line come up to what you wait for?"),
            "the end of the line": (
                pressures[-1],
                "By then much oil has run through the bearings. Where did the pressure stop rising?",
            ),
        },
        picture=graph(SECONDS, pressures, "time since the valve opened", "gallery pressure", rows=50),
    )
