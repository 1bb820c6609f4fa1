"""Predictions of lesson 02: filled by halves, cold and warm, fast, and by a cheap gauge."""

from __future__ import annotations

from oilkit.exercises.exercise import Exercise
from oilkit.exercises.making import as_if_gauge, prediction
from oilkit.physics import gas, vessel
from oilkit.physics.catalog import vessels
from oilkit.physics.pressure import absolute_pressure, gauge_error, gauge_pressure
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q


def half_full() -> Exercise:
    """The oil pressure that fills a vessel halfway."""
    room, charge = Q(3, "qt"), Q(12, "psig")
    return prediction(
        f"A vessel with a pre-charge of {text(charge)} stands at sea level, its gas at shop temperature. At what oil "
        "pressure, on the dial, is it half full once it has settled?",
        "Half full means half the gas volume, so twice the absolute pre-charge; then back to the dial.",
        answer=gauge_pressure(gas.pressure_at_volume(absolute_pressure(charge), room, room / 2)),
        mistakes=[
            (
                gas.gauge_used_by_mistake(charge, room, room / 2),
                "You doubled the gauge pre-charge: gauge for absolute.",
            ),
            (
                as_if_gauge(gas.pressure_at_volume(absolute_pressure(charge), room, room / 2)),
                "That is the absolute pressure. The dial shows it less ambient.",
            ),
            (
                gauge_pressure(gas.pressure_at_volume(absolute_pressure(charge), room, room / 2, gas.ADIABATIC)),
                "That is the pressure of a fast fill, with the gas still hot. Settled means slow.",
            ),
        ],
    )


def more_precharge() -> Exercise:
    """What more pre-charge does to the oil stored."""
    pressure, low, high = (text(Q(p, "psig")) for p in (35, 5, 20))
    return prediction(
        f"Oil pressure stays at {pressure}. You raise the pre-charge from {low} to {high}. What happens to the oil "
        "stored?",
        "More gas in the same vessel leaves less room for oil at the same pressure.",
        options=["it rises", "it falls", "it stays the same"],
        right=1,
    )


def warm_vessel() -> Exercise:
    """Set cold, run warm."""
    cold, warm, charge = Q(20, "degC"), Q(45, "degC"), Q(10, "psig")
    room = vessels()["bench"].gas_volume
    hot = vessel.precharge_at_temperature(charge, cold, warm)
    return prediction(
        f"You set {text(charge)} with the vessel at {text(cold)}. At the track its gas is at {text(warm)}. What does "
        f"the pre-charge read there, before any oil comes in? (The gas still fills all of its {text(room)}.)",
        "Shut-in gas follows the absolute temperature, and it is the absolute pressure that follows.",
        answer=hot,
        mistakes=[
            (charge, "The gas has warmed; at the same volume its pressure must rise."),
            (
                Q(charge.m * float((warm.to("K") / cold.to("K")).m), "psig"),
                "You scaled the dial reading by the temperature. Scale the absolute pressure, then take ambient off.",
            ),
            (
                Q(charge.m * warm.m / cold.m, "psig"),
                "You used degrees Celsius as if 0 °C were no temperature at all. Use kelvin (or °F + 459.67).",
            ),
        ],
    )


def fast_fill() -> Exercise:
    """A fast fill, at first."""
    return prediction(
        "The same vessel is filled to the same oil pressure once slowly and once very fast. Just after the fast fill, "
        "compared with the slow one, it holds ...",
        "A fast squeeze warms the gas, and warm gas takes more room at the same pressure. The rest comes as it cools.",
        options=["more oil", "the same amount", "less oil"],
        right=2,
    )


def error_at_ten() -> Exercise:
    """A gauge's error is a share of its full scale."""
    scale, reading = Q(160, "psig"), Q(10, "psig")
    return prediction(
        f"A gauge of accuracy class 2.5 goes to {text(scale)}. It reads {text(reading)}. By how much may it be wrong?",
        "The class is in percent of full scale, and the error is the same anywhere on the dial.",
        answer=gauge_error(scale, 2.5),
        mistakes=[
            (gauge_error(reading, 2.5), "You took 2.5 % of the reading. The class is in percent of full scale."),
        ],
    )
