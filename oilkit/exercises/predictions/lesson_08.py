"""Questions of lesson 08: the night, the pre-lube and the valve."""

from __future__ import annotations

from oilkit.exercises.exercise import Exercise
from oilkit.exercises.lessons.lesson_08 import installation_of_the_lesson
from oilkit.exercises.making import prediction
from oilkit.physics.catalog import bench_vessel, fittings, lubricants
from oilkit.physics.night import overnight
from oilkit.physics.prelube import PreLube, pre_lube, stall
from oilkit.physics.pressure import absolute_pressure, gauge_pressure
from oilkit.physics.wiring import cable_resistance, coil_supply, wire_gauge_area
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q, Qty


def morning_pressure() -> Exercise:
    """Gas and oil cool together."""
    charge, full, warm, hot, cold = Q(10, "psig"), Q(60, "psig"), Q(60, "degC"), Q(100, "degC"), Q(-10, "degC")
    night = overnight(bench_vessel(), lubricants()["street"], charge, full, warm, hot, cold)
    colder = cold.m_as("K") / warm.m_as("K")
    only_oil = overnight(bench_vessel(), lubricants()["street"], charge, full, cold, hot, cold)
    return prediction(
        f"A vessel of {text(bench_vessel().gas_volume)}, pre-charge {text(charge)}, is shut off at {text(full)}. Its "
        f"gas is at {text(warm)}, its oil at {text(hot)}. In the morning all of it is at {text(cold)}. What does its "
        f"gauge show? (Its {text(night.oil_before)} of oil shrink by {text(night.shrunk)}.)",
        "Colder gas has less pressure, and the oil that shrank leaves the gas more room.",
        answer=night.pressure,
        within=0.02,
        mistakes=[
            (night.if_only_gas_cooled, "You cooled the gas but let the oil keep its volume."),
            (only_oil.pressure, "You let the oil shrink but kept the gas warm."),
            (full * colder, "You put a gauge pressure into the gas law: add the ambient pressure first."),
            (full, "Nothing leaked, and yet it reads less: gas and oil have cooled."),
        ],
    )


def same_night_no_leak() -> Exercise:
    """A lower reading is no proof of a leak."""
    return prediction(
        "A vessel was shut off hot at 60.0 psig (4.137 barg). In the cold morning it shows 45.0 psig (3.103 barg). "
        "What does that tell you about its valve and its seals?",
        "So much comes from cooling alone. Look again when it is as warm as in the evening, or work out what the "
        "morning should show.",
        options=["the valve leaks oil", "gas has leaked past the piston", "nothing yet: cooling alone does that"],
        right=2,
    )


def _filled(celsius: float) -> PreLube:
    night = overnight(
        bench_vessel(), lubricants()["street"], Q(10, "psig"), Q(60, "psig"), Q(40, "degC"), Q(90, "degC"),
        Q(celsius, "degC"),
    )  # fmt: skip
    return pre_lube(
        installation_of_the_lesson(), fittings()["reduced_valve"], night.precharge, night.pressure, Q(celsius, "degC")
    )


def thick_oil_takes_time() -> Exercise:
    """Viscosity decides how long the galleries fill."""
    warm, cold = _filled(30.0), _filled(-20.0)
    times = float((cold.full_after / warm.full_after).m_as("dimensionless"))
    options = ["about as long", "twice as long", "about ten times as long or more"]
    return prediction(
        f"On a morning of {text(Q(30, 'degC'))} half-empty galleries are full after {text(warm.full_after)}. How long "
        f"does the same vessel need at {text(Q(-20, 'degC'))}, with a 10W-30 oil?",
        f"The line is laminar: what it passes goes down as the oil gets thicker. Here it is {text(cold.full_after)}, "
        f"{times:.0f} times as long.",
        options=options,
        right=0 if times < 1.5 else 1 if times < 4.0 else 2,
    )


def when_to_crank() -> Exercise:
    """Neither at once nor when it is all over."""
    return prediction(
        "You open the valve of a full vessel on a cold engine. When do you press the starter?",
        "Before that the bearings are dry; after it, oil only runs through them into the pan, and the start itself "
        "needs oil until the pump delivers.",
        options=[
            "at once: the oil arrives while it cranks",
            "when the gauge reaches the pressure you wait for, or stops rising",
            "when the gauge is back at zero: then all the oil is in the engine",
        ],
        right=1,
    )


_BATTERY, _RATED, _TAKES, _THERE = Q(11.5, "V"), Q(12, "V"), Q(4, "A"), Q(16, "ft")


def volts_at_the_coil() -> Exercise:
    """Ohm's law, there and back."""
    area, none = wire_gauge_area(20), Q(0, "ohm")
    found = coil_supply(_BATTERY, _RATED, _TAKES, 2 * _THERE, area, none)
    one_way = coil_supply(_BATTERY, _RATED, _TAKES, _THERE, area, none)
    resistance = cable_resistance(2 * _THERE, area)
    return prediction(
        f"A coil takes {text(_TAKES)} at {text(_RATED)}. It is fed by {text(_THERE)} of cable of {text(area)} and as "
        f"much back: {text(resistance)} in all. The battery gives {text(_BATTERY)} just then. What does the coil get?",
        "Coil and cable are in series and share the battery's volts in proportion to their resistances.",
        answer=found.coil_voltage,
        within=0.012,
        mistakes=[
            (one_way.coil_voltage, "You forgot the way back: the current runs through both wires."),
            (_BATTERY, "You left the cable out."),
            (found.cable_drop, "That is what the cable keeps. The coil gets the rest."),
            (_RATED, "That is the voltage it is made for, not what arrives."),
            (
                Q(_BATTERY.m - resistance.m * _TAKES.m, "V"),
                "You let the rated current flow. Less flows here.",
            ),
        ],
    )


def ignition_on_engine_stopped() -> Exercise:
    """A stall with the ignition on."""
    gone = _stalled()
    return prediction(
        "An electric valve is wired to the ignition feed. The engine stalls on the starting grid, hot, and the driver "
        "leaves the ignition on. What does the vessel do?",
        f"The valve stays open and the oil runs through the bearings into the pan: here the vessel is empty after "
        f"{text(gone)}. The restart then meets an empty vessel, and a pan that is fuller by as much.",
        options=["it keeps its oil for the restart", "it runs out into the pan", "it is filled by the pump"],
        right=1,
    )


def _stalled() -> Qty:
    valve, hot, warm = fittings()["narrow_valve"], Q(100, "degC"), Q(40, "degC")
    return stall(installation_of_the_lesson(), valve, Q(10, "psig"), Q(50, "psig"), hot, warm).empty_after


def cut_wire() -> Exercise:
    """Which way it fails."""
    return prediction(
        "The wire to an electric valve that needs current to open breaks while the vessel is full. What now?",
        "It fails shut: the vessel keeps its oil, and the engine has lost its protection without a word. A lamp at the "
        "valve, or a gauge on the vessel that never moves, tells you.",
        options=[
            "the vessel empties and the driver sees it on the gauge",
            "the vessel keeps its oil, and the engine has no protection",
            "nothing changes: the valve stays as it was",
        ],
        right=1,
    )


def shut_off_hotter() -> Exercise:
    """What the pre-charge is on a cold morning."""
    charge, warm, cold = Q(10, "psig"), Q(40, "degC"), Q(-10, "degC")
    night = overnight(bench_vessel(), lubricants()["street"], charge, Q(60, "psig"), warm, Q(90, "degC"), cold)
    ratio = cold.m_as("K") / warm.m_as("K")
    celsius = gauge_pressure(absolute_pressure(charge) * 0.5)
    return prediction(
        f"The pre-charge was {text(charge)} with the gas at {text(warm)}. Below which pressure does the vessel have no "
        f"oil left to give on a morning at {text(cold)}?",
        "The last oil leaves at the pre-charge, and that has cooled with the gas.",
        answer=night.precharge,
        mistakes=[
            (charge, "That was the evening's. The gas has cooled since."),
            (charge * ratio, "You put a gauge pressure into the gas law: add the ambient pressure first."),
            (celsius, "Half the pressure would need half the temperature in kelvin."),
        ],
    )
