"""Predictions of lesson 04: what a line holds and costs, its head, the tee, and the oil budget."""

from __future__ import annotations

from oilkit.exercises.exercise import Exercise
from oilkit.exercises.making import prediction
from oilkit.physics import gas
from oilkit.physics.catalog import bench_vessel
from oilkit.physics.line import acceleration_head, line_drop, line_volume, velocity_in
from oilkit.physics.oil import dynamic_viscosity
from oilkit.physics.pan import pan_level, pan_volume
from oilkit.physics.vessel import oil_stored
from oilkit.quantities.kinds import ACCELERATION, AREA, BORE, DENSITY, LINE_LENGTH, TEMPERATURE
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q, Qty

HOSE_BORE, SIXTEENTHS = Q(0.625, "in"), 12
"""Bore of a rubber-lined -12 hose to MIL-H-8794 (FAA AC 43.13-1B), and the number on it."""
DASH_BORE = Q(SIXTEENTHS / 16.0, "in")
OIL_DENSITY = Q(850, "kg/m**3")


def line_holds() -> Exercise:
    """The dash number is a label, the bore counts."""
    length = Q(10, "ft")
    right = line_volume(HOSE_BORE, length)
    return prediction(
        f"A rubber-lined -{SIXTEENTHS} hose has a measured bore of {text(HOSE_BORE, BORE)} and is "
        f"{text(length, LINE_LENGTH)} long. How much oil does it hold when full?",
        "A cylinder: pi d² / 4 times its length, with the bore that you measure.",
        answer=right,
        mistakes=[
            (
                line_volume(DASH_BORE, length),
                f"You took {SIXTEENTHS} sixteenths of an inch for the bore. The dash number is only a label.",
            ),
            (line_volume(2 * HOSE_BORE, length), "You took the bore, which is a diameter, for a radius."),
            (right / 4, "That is the number of gallons. A quart is a quarter of one."),
        ],
    )


def half_the_bore() -> Exercise:
    """Laminar drop goes with the fourth power of the bore."""
    wide, narrow, flow, length = Q(1, "in"), Q(0.5, "in"), Q(4, "gpm"), Q(10, "ft")
    thick = OIL_DENSITY, Q(200, "cP")

    def times(after: Qty, before: Qty) -> Qty:
        return Q(float((after / before).to("dimensionless").m), "dimensionless")

    return prediction(
        f"Thick oil creeps through a line of {text(wide, BORE)} bore: the flow is laminar. You fit a line of "
        f"{text(narrow, BORE)} bore instead, equally long, for the same flow. How many times as large is the pressure "
        "that its wall takes?",
        "In a bore half as wide the oil runs four times as fast, and its wall is four times as effective at holding it "
        "back: two to the fourth power.",
        answer=times(line_drop(flow, narrow, length, *thick), line_drop(flow, wide, length, *thick)),
        mistakes=[
            (times(wide, narrow), "That is how the bores compare. The drop grows much faster than that."),
            (
                times(velocity_in(flow, narrow), velocity_in(flow, wide)),
                "That is how the speeds compare. The nearer wall holds the faster oil back more strongly as well.",
            ),
            (times(wide, narrow) ** 3, "That is the third power. A round bore goes with the fourth."),
        ],
    )


def cold_line() -> Exercise:
    """A dead leg stays cold."""
    cold, hot = Q(20, "degC"), Q(100, "degC")
    sheet = Q(68, "cSt"), Q(10.6, "cSt"), Q(868, "kg/m**3")
    times = float((dynamic_viscosity(cold, *sheet) / dynamic_viscosity(hot, *sheet)).to("").m)
    return prediction(
        f"The engine has run for an hour and its oil is at {text(hot, TEMPERATURE)}. The vessel, in the trunk at "
        f"{text(cold, TEMPERATURE)}, has been full all that time. The oil standing in the line beside it is ...",
        "Oil that does not flow is not warmed by the engine: a line to a full vessel is a dead leg. A usual 10W-30 is "
        f"about {times:.0f} times as thick at {text(cold, TEMPERATURE)} as at {text(hot, TEMPERATURE)}.",
        options=["as thin as in the engine", "twice as thick", "more than ten times as thick"],
        right=2,
    )


def launch_head() -> Exercise:
    """The head of a line along the acceleration."""
    hard, straight, hose = Q(3, "g_0"), Q(8, "ft"), Q(12, "ft")
    return prediction(
        f"The vessel stands {text(straight, LINE_LENGTH)} straight behind the engine; the hose to it, with its bends, "
        f"is {text(hose, LINE_LENGTH)} long and full of oil of {text(OIL_DENSITY, DENSITY)}. The car launches at "
        f"{text(hard, ACCELERATION)}. How much pressure does the engine's end of the line lose against the vessel's?",
        "Density times acceleration times the distance along the acceleration, whatever way the hose takes.",
        answer=acceleration_head(OIL_DENSITY, hard, straight),
        mistakes=[
            (
                acceleration_head(OIL_DENSITY, hard, hose),
                "You took the hose's length. Only the straight distance counts.",
            ),
            (acceleration_head(OIL_DENSITY, Q(1, "g_0"), straight), "That is the head at 1 g."),
            (acceleration_head(Q(1000, "kg/m**3"), hard, straight), "That is the head of water. Oil is lighter."),
            (Q(0, "psi"), "No flow, no friction: but the oil has weight, and the car pulls away from under it."),
        ],
    )


def stray_flake() -> Exercise:
    """The tee after the filter, and what is loose in the line."""
    return prediction(
        "The tee stands after the filter. A flake of thread sealant comes loose in the line. The next time the pump "
        "draws air and the vessel feeds, the flake goes ...",
        "Between vessel and gallery there is then no filter. With the tee before the filter it would be caught, as "
        "long as the bypass stays shut.",
        options=[
            "into the filter, which holds it back",
            "round the filter, through its bypass",
            "straight into the gallery and to the bearings",
            "back to the pan",
        ],
        right=2,
    )


def oil_to_add() -> Exercise:
    """Lines plus vessel at running pressure."""
    room, charge, running, length = bench_vessel().gas_volume, Q(10, "psig"), Q(60, "psig"), Q(10, "ft")
    line = line_volume(HOSE_BORE, length)
    held = oil_stored(room, charge, running)
    return prediction(
        f"You fit a vessel of {text(room)} with a pre-charge of {text(charge)} and a line of {text(HOSE_BORE, BORE)} "
        f"bore, {text(length, LINE_LENGTH)} long. At speed the oil pressure is {text(running)}. How much oil must you "
        "add so that the pan's level is as before once the vessel has filled and settled?",
        "Oil to add = oil in the vessel at running pressure + oil in the line.",
        answer=held + line,
        mistakes=[
            (held, "You forgot the line. It holds oil too, and that must be added once."),
            (room + line, "You took the vessel's whole room. Part of it stays with the gas."),
            (
                room * (1.0 - charge.m / running.m) + line,
                "You put gauge pressures into Boyle's law. It wants absolute ones.",
            ),
            (
                oil_stored(room, charge, running, polytropic_index=gas.ADIABATIC) + line,
                "That is the vessel just after a fast fill. As its gas cools it takes more.",
            ),
            (
                held + line_volume(DASH_BORE, length),
                f"You took {SIXTEENTHS} sixteenths of an inch for the line's bore. The dash number is only a label.",
            ),
        ],
    )


def left_open() -> Exercise:
    """The valve left open at shut-down."""
    areas = sump, depth, wide = Q(75, "in**2"), Q(3.5, "in"), Q(190, "in**2")
    full, held = Q(3.7, "in"), Q(2, "qt")
    line = line_volume(HOSE_BORE, Q(10, "ft"))

    def level(more: Qty) -> Qty:
        height: Qty = pan_level(pan_volume(full, *areas) + more, *areas)
        return height

    return prediction(
        f"A pan has a sump of {text(sump, AREA)}, {text(depth)} deep, and above it an area of {text(wide, AREA)}. "
        f"With the engine stopped and the vessel's valve shut, the oil stands at {text(full)}, the full mark. You "
        f"forgot the valve: it is open, and the vessel gives back all of its {text(held)}. How high does the oil stand "
        "then?",
        "What the vessel held is in the pan now, spread over the wide part; the line itself stays full.",
        answer=level(held),
        mistakes=[
            (full, "The vessel's oil has to go somewhere: with the valve open it runs back to the pan."),
            (full + (held / sump).to("in"), "You used the sump's area. Above its depth the pan is wide."),
            (level(held + line), "You emptied the line too. It has nothing that pushes its oil out: it stays full."),
            ((pan_volume(full, *areas) + held).to("in**3") / wide, "You forgot that the pan is narrow below."),
        ],
    )
