"""Predictions of lesson 05: how thick, how wide, how much, and how well a drawing knows it."""

from __future__ import annotations

from oilkit.exercises.exercise import Exercise
from oilkit.exercises.making import prediction
from oilkit.physics.bearing import groove_flow, side_flow
from oilkit.physics.catalog import engines, lubricants
from oilkit.physics.engine import Engine, engine_demand, operating_point
from oilkit.physics.oil import Lubricant, dynamic_viscosity, kinematic_viscosity
from oilkit.physics.precharge import longest_lasting_precharge
from oilkit.physics.pump import RATED_VISCOSITY, pump_efficiency, pump_flow
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q, Qty


def _film(oil: Lubricant, temperature: Qty) -> Qty:
    sheet = oil.viscosity_40, oil.viscosity_100, oil.density_15, oil.expansion
    film: Qty = dynamic_viscosity(temperature, *sheet, oil.high_shear)
    return film


def _street() -> tuple[Engine, Lubricant]:
    return engines()["street_v8"], lubricants()["street"]


def _through(clearance: Qty, eccentricity: float = 0.0) -> Qty:
    """What a grooved bearing passes: only how it changes with the clearance and the eccentricity matters here."""
    flow: Qty = groove_flow(Q(2.45, "in"), clearance, Q(0.325, "in"), Q(50, "psi"), Q(8, "cP"), eccentricity)
    return flow


def multigrade_hot() -> Exercise:
    """What the numbers of a grade promise."""
    thin, thick = lubricants()["street"], lubricants()["straight"]
    hot = [kinematic_viscosity(Q(100, "degC"), oil.viscosity_40, oil.viscosity_100) for oil in (thin, thick)]
    return prediction(
        "A 10W-30 and a straight 40 both stand at 100 °C (212 °F). Which is thicker?",
        "The number without a W is the grade hot, at 100 °C; the one with a W is about the cold. Here "
        f"{hot[1].m:.1f} cSt against {hot[0].m:.1f} cSt.",
        options=["the 10W-30", "the straight 40", "they are alike: hot oil is hot oil"],
        right=1 if hot[1] > hot[0] else 0,
    )


def hotter_film() -> Exercise:
    """A film hotter than the sump."""
    oil = lubricants()["street"]
    sump, film = Q(100, "degC"), Q(115, "degC")
    more = (_film(oil, sump) / _film(oil, film)).to("")
    return prediction(
        f"The sump is at {text(sump)}, the oil film in a bearing at {text(film)}. How many times the flow does the "
        f"{oil.name} let through there, compared with oil as warm as the sump? (Find both viscosities with the panel.)",
        "Flow through a clearance goes with one over the viscosity, and hot oil loses it fast.",
        answer=more,
        mistakes=[
            (1.0 / more, "You put the viscosities upside down: thinner oil flows more, not less."),
            (Q(1.0, ""), "The clearance is the same, but the oil in it has become thinner."),
            (
                Q(float(film.m_as("degC") / sump.m_as("degC")), ""),
                "Flow does not go with the temperature: take the viscosities at both.",
            ),
        ],
    )


def wider_by_half() -> Exercise:
    """The cube of the clearance."""
    narrow, wide = Q(2, "thou"), Q(3, "thou")
    ratio = (wide / narrow).to("")
    more = (_through(wide) / _through(narrow)).to("")
    return prediction(
        f"A bearing has worn from {text(narrow)} of clearance to {text(wide)}. Same oil, same pressure. How many times "
        "the oil is pressed through it now?",
        "A wider slot has more room and slows its oil less: the flow goes with the cube of the clearance.",
        answer=more,
        mistakes=[
            (ratio, "That would be so if the oil went as fast as before. In a wider slot it also goes faster."),
            (ratio**2, "The square counts how much faster it goes. The slot is wider as well: one power more."),
            (1.0 / more, "That is upside down: a wider slot lets more through."),
        ],
    )


def radial_for_diametral() -> Exercise:
    """The factor of 8."""
    clearance = Q(2.5, "thou")
    wrong = (_through(2 * clearance) / _through(clearance)).to("")
    return prediction(
        "A book's formula wants the radial clearance. You put in what your micrometers gave, bore less journal, which "
        "is the diametral one. How many times too much oil do you get?",
        "The diametral clearance is twice the radial one, and twice the clearance is eight times the flow.",
        answer=wrong,
        mistakes=[
            (Q(2.0, ""), "Twice the clearance is right; but the flow goes with its cube."),
            (Q(4.0, ""), "That is the square of two. The flow goes with the cube."),
            (1.0 / wrong, "The mistake makes the flow too large, not too small."),
        ],
    )


def off_centre() -> Exercise:
    """What load does to the flow."""
    most = (_through(Q(2.5, "thou"), 1.0) / _through(Q(2.5, "thou"))).to("").m
    return prediction(
        "Load pushes the journal to one side of its bearing (groove all round). The clearance, bore less journal, is "
        "still the same. What happens to the oil pressed through?",
        "What the wide side gains, by the cube, is more than what the narrow side loses: up to "
        f"{most:.1f} times as much when the journal touches.",
        options=["it falls: half of the gap is nearly shut", "it stays: the mean gap is the same", "it rises"],
        right=2,
    )


def pressed_or_dragged() -> Exercise:
    """What turning asks for, in the rod bearings."""
    engine, oil = _street()
    fast = engine.redline
    fed = engine_demand(engine, oil, Q(60, "psig"), Q(0, "rpm"), Q(100, "degC")).rods
    rods = engine.rods
    dragged = rods.count * side_flow(rods.diameter, rods.diametral_clearance, rods.width, fast, rods.eccentricity)
    return prediction(
        f"The rod bearings of the {engine.name} are fed through holes in the crank. Standing still, at "
        f"{text(Q(60, 'psig'))}, {text(fed)} is pressed through all {rods.count.m:g} of them. Compared with that, "
        f"how much oil does their turning alone want to drag out at {text(fast)}?",
        f"Turning wants {text(dragged)}: whatever the oil pressure, and in proportion to speed. If so much does not "
        "arrive, the bearings go short.",
        options=["much less", "about as much", "more than twice as much"],
        right=2 if dragged > 2 * fed else (0 if dragged < fed / 2 else 1),
    )


def open_a_thou() -> Exercise:
    """A thousandth of an inch, at hot idle."""
    engine, oil = _street()
    step, sump = Q(1, "thou"), Q(100, "degC")
    idle, wider = (
        operating_point(engine, oil, engine.idle, sump, change).gallery_pressure for change in (Q(0, "thou"), step)
    )
    main = engine.mains.diametral_clearance
    ratio = ((main + step) / main).to("").m
    return prediction(
        f"The {engine.name} idles hot, sump at {text(sump)}: {text(idle)} in the gallery. You build it again with "
        f"{text(step)} more clearance in mains and rods; its mains had {text(main)}. What does the gauge show at hot "
        "idle now? (Guess, then see; within 15 % counts.)",
        "The pump gives the same oil at idle. The bearings pass it at far less pressure, while jets and lifters, whose "
        "holes did not grow, get less than before.",
        answer=wider,
        within=0.15,
        mistakes=[
            (idle, "The pump gives what it gave; to press it through a wider clearance takes less pressure."),
            (
                idle / ratio**3,
                "That is the cube of the mains' clearance alone. Part of the oil goes other ways, whose holes have not "
                "grown, and these now take less.",
            ),
            (idle / ratio, "You let the pressure go with the clearance itself. Flow goes with its cube."),
        ],
    )


def precharge_for_loose() -> Exercise:
    """A looser engine and the pre-charge that just lasts."""
    engine, oil = _street()
    room, full, event = Q(3, "qt"), Q(60, "psig"), Q(2, "s")
    step, speed, sump = Q(1, "thou"), Q(4000, "rpm"), Q(100, "degC")
    before, after = (
        longest_lasting_precharge(room, full, engine_demand(engine, oil, full, speed, sump, change).total, event)
        for change in (Q(0, "thou"), step)
    )
    return prediction(
        f"A {text(room)} vessel, settled at {text(full)}, just carries the {engine.name} through {text(event)} with a "
        f"pre-charge of {text(before)}. Then the clearances are opened by {text(step)}. Which pre-charge just carries "
        "it now?",
        f"A looser engine takes more oil in the same time, so the vessel must begin with more of it: {text(after)}.",
        options=["a higher one", "the same one", "a lower one"],
        right=2 if after < before else 0,
    )


def known_by_drawing() -> Exercise:
    """How well a drawing knows an engine's demand."""
    low, high = Q(2.2, "thou"), Q(2.8, "thou")
    spread = (_through(high) / _through(low)).to("")
    return prediction(
        f"A main bearing's clearance, worked out from drawings and tolerances, lies between {text(low)} and "
        f"{text(high)}. How many times the smallest possible flow is the largest?",
        "A tolerance on the clearance counts three times over in the flow. That is why the engine is measured instead.",
        answer=spread,
        mistakes=[
            ((high / low).to(""), "That is how many times the clearance. The flow goes with its cube."),
            (((high / low) ** 2).to(""), "That is the square. The flow goes with the cube."),
            (1.0 / spread, "That is upside down: the largest over the smallest."),
        ],
    )


def at_the_kink() -> Exercise:
    """What the pump gives where its relief valve opens."""
    pump = engines()["street_v8"].pump
    speed, pressure = Q(1500, "rpm"), Q(57, "psig")
    there = round(pump_efficiency(speed, pressure, RATED_VISCOSITY, pump.efficiency), 2)
    found = pump_flow(speed, pump.displacement, pump.ratio, there)
    whole = pump.displacement * there
    return prediction(
        f"Hot, an engine's oil pressure stops rising at {text(speed)}. Its pump displaces {text(pump.displacement)} at "
        f"{100 * there.m:.0f} % volumetric efficiency there and turns half as fast as the crank. How much oil does "
        "the engine take there?",
        "At the kink the relief valve still lets nothing go: the engine takes all that the pump gives.",
        answer=found,
        mistakes=[
            ((whole * speed).to("gpm"), "The pump turns only half as fast as the crank."),
            (found / there.m, "Some of it leaks back inside the pump: count the volumetric efficiency."),
            (
                (whole / there.m * speed).to("gpm"),
                "The pump turns half as fast as the crank, and it does not deliver all that it displaces.",
            ),
        ],
    )
