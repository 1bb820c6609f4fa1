"""Numbers of the predictions of lesson 09: commissioning, and after it the card, its proof and the faults."""

from __future__ import annotations

from functools import cache
from typing import Any

from oilkit.exercises.lessons.lesson_09 import planned_set_up
from oilkit.physics.catalog import bench_vessel
from oilkit.physics.pressure import absolute_pressure, gauge_pressure
from oilkit.physics.vessel import precharge_to_set
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q, Qty
from oilkit.shop.acceptance import DOUBTFUL, FAIL, PASS, AcceptanceValue, acceptance_card, card_readings
from oilkit.shop.as_built import true_readings
from oilkit.shop.commissioning import play
from oilkit.shop.faults import FAULTS, apply
from oilkit.shop.hazards import burst_hose, charge_after_checks
from oilkit.shop.job import usual_job

# ------------------------------------------------------------------------------------------------------ commissioning


def oil_behind_the_piston(behind: Qty, shown: Qty) -> dict[str, Any]:
    """Charged before it was vented."""
    room = bench_vessel().gas_volume
    gas = absolute_pressure(shown)
    left = (room - behind) / room
    return {
        "answer": gauge_pressure(gas * left),
        "room": room,
        "by_gauge": shown * left,
        "inverted": gauge_pressure(gas / left),
    }


def charge_in_winter() -> dict[str, Any]:
    """The temperature that nobody noted."""
    job = usual_job()
    charge, shop, warm = job.precharge, job.shop_temperature, job.gas_temperature
    return {
        "answer": precharge_to_set(charge, shop, warm),
        "charge": charge,
        "shop": shop,
        "warm": warm,
        "at_20_degrees": precharge_to_set(charge, Q(20, "degC"), warm),
        "by_gauge": charge * (shop.m_as("K") / warm.m_as("K")),
    }


def twenty_looks(charge: Qty) -> dict[str, Any]:
    """What gauge checks cost."""
    room = bench_vessel().gas_volume
    left = charge_after_checks(charge, room, 20, Q(5, "cm**3"))
    return {"inside": usual_job().dead_volume.m, "room": room, "left": left}


def ignition_before_valve() -> dict[str, Any]:
    """The two last steps of a day."""
    wrong = play("shut_down", ("hold", "ignition", "shut", "idle", "dipstick"))
    found = next(c.numbers for c in wrong.consequences if c.step == "ignition")
    return {"oil": found["oil"], "time": found["time"]}


def dipstick_while_idling() -> dict[str, Any]:
    """Oil in flight is not in the pan."""
    run = play("shut_down", ("hold", "shut", "idle", "dipstick", "ignition"))
    (said,) = (c for c in run.consequences if c.step == "dipstick")
    flight, held = said.numbers["away"], said.numbers["vessel"]
    return {
        "answer": flight,
        "flight": flight,
        "held": held,
        "both": flight + held,
        "with_the_line": flight + usual_job().installation.line.volume,
    }


def oil_change_vessel_forgotten() -> dict[str, Any]:
    """What vessel and line keep."""
    right, wrong = play("oil_change"), play("oil_change", ("pan", "filter", "fill", "first_fill", "relieve", "vessel"))
    return {
        "kept": Q(sum(wrong.states[0].oil[place] for place in ("vessel", "line")), "m**3").to("qt"),
        "mixed": 100 * wrong.states[4].old_share,
        "drained": 100 * right.final.old_share,
    }


def burst(pressure: Qty, speed: Qty) -> dict[str, Any]:
    """What a burst hose does."""
    job = usual_job()
    found = burst_hose(job.installation, job.valve, Q(10, "psig"), pressure, speed, Q(100, "degC"), Q(40, "degC"))
    return {"before": found.gallery_before, "after": found.gallery_pressure, "empty_after": found.empty_after}


# --------------------------------------------------------------------------------------------------- proof and faults


@cache
def _card() -> dict[str, AcceptanceValue]:
    """The lines of the planned set-up's card by the names of their readings."""
    return {value.reading: value for value in acceptance_card(planned_set_up())}


def _fault(key: str) -> dict[str, Qty]:
    """What a demo set-up with a middling fault shows on gauges without errors."""
    return card_readings(true_readings(apply(key, planned_set_up(), 0.5)))


def _names(*faults: str) -> dict[str, str]:
    return {key: FAULTS[key].name for key in faults}


def _passes(reading: str) -> str:
    """``58.6 to 62.4 psig (4.04 to 4.30 barg)``: the card's band in both systems."""
    value = _card()[reading]
    return f"from {text(value.low)} to {text(value.high)}"


def gas_gauge_at_speed(charge: Qty, lost: Qty) -> dict[str, Any]:
    """Why the charge is read with the oil side vented."""
    planned = planned_set_up()
    shown, shown_by_lost = (
        card_readings(true_readings(planned.with_condition(precharge=p)))["middle_gas"] for p in (charge, lost)
    )
    return {"shown": shown, "shown_by_lost": shown_by_lost}


def gauge_with_a_wrong_zero() -> dict[str, Any]:
    """A gauge that does not come back to nought."""
    seen = card_readings(true_readings(planned_set_up().with_condition(oil_gauge_off=Q(-6, "psi"))))
    zero, shows = seen["oil_zero"], seen["middle_oil"]
    return {"answer": shows - zero, "zero": zero, "shows": shows, "wrong_sign": shows + zero}


def doubtful_or_fail() -> dict[str, Any]:
    """What the bands are for."""
    value = _card()["middle_gallery"]
    read = value.high + 0.5 * (value.fail_high - value.high)
    return {
        "right": {PASS: "passes", DOUBTFUL: "doubtful", FAIL: "fails"}[value.judge(read)],
        "expected": value.expected,
        "passes": _passes("middle_gallery"),
        "fail_high": value.fail_high,
        "read": read,
    }


def charge_or_seal() -> dict[str, Any]:
    """Two faults with one charge."""
    lost, past = _fault("charge_lost"), _fault("past_seal")
    return {
        "shows": lost["charge"],
        "passes": _passes("charge"),
        "next_day": lost["next_day"],
        "sinks": lost["sample_air"],
        "past_the_seal": past["sample_air"],
        **_names("past_seal", "charge_lost", "gas_gauge", "valve_shut"),
    }


def full_in_the_evening() -> dict[str, Any]:
    """The lamp that proves it."""
    seen = _fault("wrong_feed")
    names = _names("charge_lost", "check", "wrong_feed", "sticking")
    return {"shows": seen["held_oil"], "passes": _passes("held_oil"), "lamp": seen["lamp"], **names}
