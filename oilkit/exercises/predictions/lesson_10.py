"""Questions of lesson 10: what a build sheet says, and what a set-up file may not do."""

from __future__ import annotations

from functools import cache

from oilkit.build.results import BuildSheet
from oilkit.build.setup_file import demo_set_ups
from oilkit.build.sheet import build_sheet
from oilkit.exercises.exercise import Exercise
from oilkit.exercises.making import prediction
from oilkit.physics.pressure import ambient_pressure
from oilkit.physics.vessel import precharge_to_set
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q


@cache
def _sheet(name: str) -> BuildSheet:
    return build_sheet(demo_set_ups()[name], whole=False)


def set_in_a_cold_shop() -> Exercise:
    """Two corrections at once: temperature and altitude."""
    hot, shop, gas = Q(18, "psig"), Q(5, "degC"), Q(50, "degC")
    there, here = ambient_pressure(Q(0, "ft")), ambient_pressure(Q(3000, "ft"))
    right = precharge_to_set(hot, shop, gas, there, here)
    ratio = shop.m_as("K") / gas.m_as("K")
    return prediction(
        f"You want {text(hot)} of pre-charge with the gas at {text(gas)}, on a track at 3000 ft (914 m) where the "
        f"barometer shows {text(here)}. The shop is at sea level ({text(there)}), its air and the vessel at "
        f"{text(shop)}. What do you set there?",
        "The gas shut in is the same: its absolute pressure follows its absolute temperature, and each dial shows "
        "that "
        "less the air outside it.",
        answer=right,
        within=0.03,
        mistakes=[
            (hot, "You set what you want hot. The gas is colder now, and the dial stands under more air."),
            (
                precharge_to_set(hot, shop, gas, there, there),
                "You corrected for temperature and left out the altitude.",
            ),
            (precharge_to_set(hot, gas, gas, there, here), "You corrected for altitude and left out the temperature."),
            (hot * ratio, "You put a gauge pressure into the gas law: add the ambient pressure first."),
        ],
    )


def what_matters_most() -> Exercise:
    """The first bar of the tornado."""
    most = _sheet("street V8").matter_most[0]
    options = [
        "the temperature of the oil that stands in the line, 25 °F (14 K) either way",
        "the clearance of mains and rods, 0.3 thou (0.008 mm) either way",
        "the pre-charge as set, 1 psi (0.07 bar) either way",
    ]
    return prediction(
        "The street V8 of the kit has three events without oil at the pick-up. Which input, off by as much as it may "
        "well be, moves the protected time of the hardest one most?",
        f"The tornado chart puts “{most}” first: bearings pass the cube of their clearance, and the cube of 12 % "
        f"more is "
        "40 % more.",
        options=options,
        right=1 if "clearance" in most else 0 if "line" in most else 2,
    )


def pump_too_weak() -> Exercise:
    """When no vessel helps."""
    sheet = _sheet("huge clearances")
    fast, braking, slow = sheet.events
    return prediction(
        f"An engine with huge clearances, hot and with all its oil, shows {text(fast.start_pressure)} in the "
        f"{fast.event.name}. Its builder wants at least {text(sheet.build.limits.lowest_pressure)} there, in the "
        f"{slow.event.name}, and under {braking.event.name}. How large a vessel does it need?",
        f"A vessel gives back what it was given. With all its oil the pump makes only {text(slow.start_pressure)} in "
        f"the {slow.event.name}, and {text(braking.start_pressure)} under {braking.event.name}. In the "
        f"{fast.event.name} little is left above the limit, and that drives less oil through the line than such an "
        "engine takes. So close the clearances, thicken or cool the oil, or fit a larger pump first.",
        options=["twice the usual one", "ten times the usual one", "no vessel of any size can do it"],
        right=2,
    )


def needle_or_plateau() -> Exercise:
    """As expected is not the same as robust."""
    hardest = _sheet("street V8").hardest
    share, more = hardest.share, float((hardest.protected_time / hardest.event.lasts).m_as("dimensionless")) - 1.0
    return prediction(
        f"As expected, the street V8's vessel outlasts its hardest event by {100 * more:.0f} %. Clearance, "
        "temperatures, gauge and the corner's length are known as well as they usually are. In how many of a hundred "
        "such cars and corners is the engine protected to the end?",
        f"The sheet draws many of them and counts: {100 * share:.0f} in a hundred. Small errors add up.",
        options=["in all of them", "in about two of three", "in fewer than half"],
        right=0 if share > 0.97 else 1 if share > 0.5 else 2,
    )


def a_unit_forgotten() -> Exercise:
    """What a set-up file may not leave open."""
    return prediction(
        'In a set-up file somebody typed  gas_volume = "3"  and forgot the unit. What should the kit do with it?',
        "Quarts would be right here and liters in the next garage. A guess that nobody sees ends in an engine, so "
        "the kit "
        "names line, table and key, and reads nothing.",
        options=[
            "take quarts, as in the rest of the file",
            "use the usual vessel instead",
            "refuse the file and say where",
        ],
        right=2,
    )
