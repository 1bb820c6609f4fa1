"""Questions of lesson 09: commissioning, and after it what others of this lesson ask."""

from __future__ import annotations

from functools import cache

from oilkit.exercises.exercise import Exercise
from oilkit.exercises.lessons.lesson_09 import planned_set_up
from oilkit.exercises.making import prediction
from oilkit.physics.catalog import bench_vessel
from oilkit.physics.pressure import absolute_pressure, gauge_pressure
from oilkit.physics.vessel import precharge_to_set
from oilkit.quantities.kinds import SHARE
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q, Qty
from oilkit.shop.acceptance import DOUBTFUL, FAIL, PASS, AcceptanceValue, acceptance_card, card_readings
from oilkit.shop.as_built import true_readings
from oilkit.shop.commissioning import play
from oilkit.shop.faults import FAULTS, apply
from oilkit.shop.hazards import burst_hose, charge_after_checks
from oilkit.shop.job import usual_job

# ------------------------------------------------------------------------------------------------------ commissioning


def oil_behind_the_piston() -> Exercise:
    """Charged before it was vented."""
    room, behind, shown = bench_vessel().gas_volume, Q(1, "qt"), Q(10, "psig")
    gas = absolute_pressure(shown)
    left = (room - behind) / room
    return prediction(
        f"A vessel of {text(room)} still holds {text(behind)} of oil behind a shut valve. You let nitrogen in until "
        f"the gauge shows {text(shown)}. Then somebody vents the oil side and the piston goes to the oil end. What "
        "does the gauge show now?",
        "The same gas has the whole vessel now. The charge read high because oil was behind the piston: so vent first.",
        answer=gauge_pressure(gas * left),
        within=0.05,
        mistakes=[
            (shown, "The piston has moved and given the gas more room."),
            (shown * left, "You put a gauge pressure into the gas law: add the ambient pressure first."),
            (gauge_pressure(gas / left), "The gas has more room than before, so its pressure falls."),
        ],
    )


def charge_in_winter() -> Exercise:
    """The temperature that nobody noted."""
    job = usual_job()
    shop, warm = job.shop_temperature, job.gas_temperature
    right = precharge_to_set(job.precharge, shop, warm)
    ratio = shop.m_as("K") / warm.m_as("K")
    return prediction(
        f"The vessel should have {text(job.precharge)} with its gas at {text(warm)}. The shop and the gas in it are at "
        f"{text(shop)}. What do you set on the gauge?",
        "Absolute pressure follows absolute temperature. Read the gas's temperature first, then the gauge.",
        answer=right,
        mistakes=[
            (precharge_to_set(job.precharge, Q(20, "degC"), warm), "That is for a shop of 20 °C (68 °F)."),
            (job.precharge, "Then it is too high as soon as the gas is warm."),
            (job.precharge * ratio, "You put a gauge pressure into the gas law: add the ambient pressure first."),
        ],
    )


def twenty_looks() -> Exercise:
    """What gauge checks cost."""
    job = usual_job()
    left = charge_after_checks(Q(10, "psig"), bench_vessel().gas_volume, 20, Q(5, "cm**3"))
    options = ["nothing: it is shut in", f"a little: to about {text(left)}", "half of it"]
    return prediction(
        f"The inside of a gauge and its short hose is {job.dead_volume.m:g} cm³. Twenty times you put it on a "
        f"{text(bench_vessel().gas_volume)} vessel with {text(Q(10, 'psig'))}, read it and take it off. What has that "
        "done to the charge?",
        "Each time the gauge's inside is filled from the vessel and emptied into the room. A longer hose costs more.",
        options=options,
        right=1,
    )


def ignition_before_valve() -> Exercise:
    """The two last steps of a day."""
    wrong = play("shut_down", ("hold", "ignition", "shut", "idle", "dipstick"))
    found = next(c.numbers for c in wrong.consequences if c.step == "ignition")
    return prediction(
        "The race is over, the vessel is full, its valve open. You switch the ignition off and then walk round the car "
        "to shut the valve, which takes you half a minute. What do you find in the morning?",
        f"Through the open valve {text(found['oil'])} run out in {text(found['time'])}. Valve first, at running "
        "pressure; then the ignition.",
        options=[
            "a full vessel: you shut it in time",
            "a vessel that is half full",
            "an empty vessel, and a pan that reads too high",
        ],
        right=2,
    )


def dipstick_while_idling() -> Exercise:
    """Oil in flight is not in the pan."""
    job = usual_job()
    run = play("shut_down", ("hold", "shut", "idle", "dipstick", "ignition"))
    (said,) = (c for c in run.consequences if c.step == "dipstick")
    flight, held = said.numbers["away"], said.numbers["vessel"]
    return prediction(
        f"The vessel is full behind its shut valve ({text(held)}), and the engine idles hot. In its bearings, on its "
        f"walls and on their way back are {text(flight)}. You read the dipstick now and fill the pan up to its mark. "
        "How much is too much, once the engine stands?",
        "The pan gets back what was in flight. The vessel's oil stays where it is, as it shall when the mark is read.",
        answer=flight,
        within=0.05,
        mistakes=[
            (flight + held, "The vessel keeps its oil: its valve is shut."),
            (held, "The vessel keeps its oil: its valve is shut. What comes back was in flight."),
            (flight + job.installation.line.volume, "The line is full in either case."),
        ],
    )


def oil_change_vessel_forgotten() -> Exercise:
    """What vessel and line keep."""
    right, wrong = play("oil_change"), play("oil_change", ("pan", "filter", "fill", "first_fill", "relieve", "vessel"))
    mixed = wrong.states[4]
    places = ("vessel", "line")
    kept = Q(sum(wrong.states[0].oil[p] for p in places), "m**3").to("qt")
    return prediction(
        f"You drain the pan, change the filter and fill new oil in. The vessel stays shut: {text(kept)} of old oil "
        "are in it and in its line. How much of the oil in the engine is old after the next drive?",
        f"{100 * mixed.old_share:.0f} % of all of it, as against {100 * right.final.old_share:.0f} % with vessel and "
        "line drained. After a bearing failure that is not only old but full of metal: strip and flush both.",
        options=["none: the vessel's valve was shut", "a few percent, as always", "about a third"],
        right=2,
    )


def burst() -> Exercise:
    """What a burst hose does."""
    job = usual_job()
    at = Q(10, "psig"), Q(60, "psig"), Q(3000, "rpm"), Q(100, "degC"), Q(40, "degC")
    found = burst_hose(job.installation, job.valve, *at)
    return prediction(
        f"The hose to the vessel bursts in its middle at {text(Q(60, 'psig'))}, hot, at {text(Q(3000, 'rpm'))}. How "
        f"long is oil coming out of the vessel's end, and what does the engine's gauge show of its "
        f"{text(found.gallery_before)}?",
        f"The vessel is empty after {text(found.empty_after)}, and the gauge shows {text(found.gallery_pressure)}: the "
        "pump pumps the pan out through the engine's end. So put a cut-off at the engine's tee that is worked from the "
        "seat, and keep the hose away from hot exhausts.",
        options=[
            "a minute; the gauge stays where it was",
            "ten seconds; the gauge falls by half",
            "one or two seconds; the gauge falls to nearly nothing",
        ],
        right=2,
    )


# --------------------------------------------------------------------------------------------------- proof and faults


@cache
def _card() -> dict[str, AcceptanceValue]:
    """The lines of the planned set-up's card by the names of their readings."""
    return {value.reading: value for value in acceptance_card(planned_set_up())}


def _fault(key: str, degree: float = 0.5) -> dict[str, Qty]:
    """What a demo set-up with a fault shows on gauges without errors."""
    return card_readings(true_readings(apply(key, planned_set_up(), degree)))


def _passes(reading: str) -> str:
    """``58.6 to 62.4 psig (4.042 to 4.299 barg)``: the card's band in both systems."""
    value = _card()[reading]
    return f"from {text(value.low)} to {text(value.high)}"


def gas_gauge_at_speed() -> Exercise:
    """Why the charge is read with the oil side vented."""
    planned = planned_set_up()
    charges = Q(7, "psig"), Q(2, "psig")
    full, low = (card_readings(true_readings(planned.with_condition(precharge=p)))["middle_gas"] for p in charges)
    return prediction(
        f"Hot at 3000 rpm the gas gauge shows {text(full)}, just what the card says. What does that tell you about the "
        f"charge, which should be {text(charges[0])}?",
        f"Under oil the gas takes the oil's pressure, whatever its charge: with only {text(charges[1])} in the vessel "
        f"the same gauge shows {text(low)}. Vent the oil side first; only then does it show the charge.",
        options=["the charge is right", "the charge is too high", "nothing: under oil it shows the oil's pressure"],
        right=2,
    )


def gauge_with_a_wrong_zero() -> Exercise:
    """A gauge that does not come back to nought."""
    planned = planned_set_up()
    seen = card_readings(true_readings(planned.with_condition(oil_gauge_off=Q(-6, "psi"))))
    zero, shows = seen["oil_zero"], seen["middle_oil"]
    return prediction(
        f"With the oil side vented, the vessel oil gauge stands at {text(zero)}: below its zero. Hot at 3000 rpm it "
        f"shows {text(shows)}. What is the pressure at the vessel?",
        "What a gauge shows when there is nothing to show is its error: take it off every other reading, with its "
        "sign.",
        answer=shows - zero,
        within=0.01,
        mistakes=[
            (shows, "You took the gauge at its word, and it does not even come back to zero."),
            (shows + zero, "The sign: what stands below zero when it should stand at zero reads too low everywhere."),
        ],
    )


def doubtful_or_fail() -> Exercise:
    """What the bands are for."""
    value = _card()["middle_gallery"]
    read = value.high + 0.5 * (value.fail_high - value.high)
    verdicts = [PASS, DOUBTFUL, FAIL]
    return prediction(
        f"Hot at 3000 rpm the card expects {text(value.expected)} in the far gallery, passes "
        f"{_passes('middle_gallery')} and fails above {text(value.fail_high)}. Your gauge shows {text(read)}. What do "
        "you write?",
        "One healthy reading in some twenty falls between the bands: too rare to sign, too common to strip an engine "
        "for. Read it again with a better gauge.",
        options=["it passes", "it is doubtful", "it fails"],
        right=verdicts.index(value.judge(read)),
    )


def charge_or_seal() -> Exercise:
    """Two faults with one charge."""
    lost, past = _fault("charge_lost"), _fault("past_seal")
    names = [FAULTS[key].name for key in ("past_seal", "charge_lost", "gas_gauge", "valve_shut")]
    return prediction(
        f"With the oil side vented the low-range gas gauge shows {text(lost['charge'])}; the card passes "
        f"{_passes('charge')}. A day later it shows {text(lost['next_day'])}. An oil sample sinks by "
        f"{text(lost['sample_air'], SHARE)} while it stands. What is wrong?",
        f"The gas goes, and not into the oil: past the seal, the sample would have sunk by about "
        f"{text(past['sample_air'], SHARE)}. One cheap reading parts the two.",
        options=names,
        right=names.index(FAULTS["charge_lost"].name),
    )


def full_in_the_evening() -> Exercise:
    """The lamp that proves it."""
    seen = _fault("wrong_feed")
    names = [FAULTS[key].name for key in ("charge_lost", "check", "wrong_feed", "sticking")]
    return prediction(
        f"Ten minutes after switching off by the key the vessel oil gauge shows {text(seen['held_oil'])}; the card "
        f"passes {_passes('held_oil')}. The valve lamp is {seen['lamp']}. What is wrong?",
        "The lamp says that the valve still has current with the ignition off, so it stands open and the oil has run "
        "out through the bearings. The gauge alone could mean other things; with the lamp it is proved.",
        options=names,
        right=names.index(FAULTS["wrong_feed"].name),
    )
