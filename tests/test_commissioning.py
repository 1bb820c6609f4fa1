"""Commissioning: every order of every procedure is played out, and what comes of it is held against other reckoning."""

from __future__ import annotations

import dataclasses
import importlib
import itertools
import math
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from parts import quick
from randomly import examples, number, tried
from scipy.integrate import solve_ivp
from scipy.optimize import brentq
from sentences import refused

import oilkit
from oilkit import (
    Job,
    Log,
    Q,
    absolute_pressure,
    burst_hose,
    charge_after_checks,
    density,
    dynamic_viscosity,
    engine_demand,
    engines,
    fitting_drop,
    gauge_pressure,
    kit_lap,
    line_drop,
    lubricants,
    oil_in_flight,
    oil_stored,
    operating_point,
    orifice_flow,
    pan_first,
    pan_level,
    pan_volume,
    panels,
    play,
    precharge_at_temperature,
    precharge_to_set,
    simulate_lap,
    stall,
    use_units,
    usual_installation,
    usual_job,
    vessels,
)
from oilkit.panels.lessons.lesson_09_commissioning import Order
from oilkit.physics.oil import viscosity_of
from oilkit.physics.valve import element_drop
from oilkit.shop.commissioning import Played
from oilkit.shop.procedures import PROCEDURES
from oilkit.shop.state import PLACES
from oilkit.shop.steps import DANGER, END, Consequence, read_procedure

JOB = usual_job()
SMALL = Job(installation=usual_installation("small_four", "bench"))
BIG = Job(installation=usual_installation("race_v8", "large"), fast_idle=Q(1500, "rpm"), shop_temperature=Q(25, "degC"))
"""The usual job, one whose pan is small for its vessel, and one in a warm shop."""
QT = Q(1, "qt").m_as("m**3")


@dataclasses.dataclass
class Survey:
    """What a procedure did in every order there is."""

    orders: int = 0
    right: int = 0
    harmless: int = 0
    with_consequence: int = 0
    wrong: list[str] = dataclasses.field(default_factory=list)
    """Everything that should not be."""
    sentences: dict[tuple[str, str], Consequence] = dataclasses.field(default_factory=dict)


@cache
def survey(key: str, job: Job) -> Survey:
    """Play every order, and keep counts and faults only: a hundred thousand states would fill the memory."""
    procedure, found = PROCEDURES[key], Survey()
    right = play(key, job=job)
    for order in itertools.permutations(procedure.keys):
        run = play(key, order, job)
        found.orders += 1
        found.wrong += [f"{order}: {fault}" for fault in [*faults_of(run, right), *oil_lost(run)]]
        found.right += run.harmless == "This is the right order."
        found.harmless += run.harmless.startswith("harmless: it ends as the right order does. ")
        found.with_consequence += bool(run.consequences)
        for c in run.consequences:
            found.sentences.setdefault((c.step, c.words), c)
    return found


def faults_of(run: Played, right: Played) -> Iterator[str]:
    """What an order may not be: without a word though it ends another way, or called harmless and is not."""
    if run.order == right.order:
        if run.consequences or run.differs or run.harmless != "This is the right order.":
            yield "the right order is not right"
    elif run.harmless:
        if run.consequences:
            yield "harmless and not harmless"
        if not same_end(run, right):
            yield "harmless, but the end is another one"
        if any(len(why) < 30 or why not in run.harmless for why in reasons(run)):
            yield "harmless without a reason"
    else:
        by_a_step = [c for c in run.consequences if c.step != END]
        if not by_a_step:
            yield f"ends another way ({run.differs}) and no step says why"
        if not any(c.numbers for c in by_a_step):
            yield "a consequence without a number"


def oil_lost(run: Played) -> Iterator[str]:
    """Oil, and old oil, are conserved, and nowhere is there less than none or more than fits."""
    begin = [sum(kind.values()) for kind in (run.states[0].oil, run.states[0].old)]
    for state in run.states:
        for kind, before in zip((state.oil, state.old), begin, strict=True):
            if abs(sum(kind.values()) - before) > 1e-12 * begin[0]:
                yield "oil is not conserved"
        if min(state.oil.values()) < -1e-15 or state.oil["vessel"] >= state.job.numbers.room or state.gas <= 0.0:
            yield "less than nothing, or more than fits"
        if any(not -1e-15 <= state.old[p] <= state.oil[p] + 1e-15 for p in PLACES):
            yield "more old oil than oil"


EVERY = pytest.mark.parametrize("job", quick(1, [JOB, SMALL, BIG]), ids=["usual", "small pan", "warm shop"])
EACH = pytest.mark.parametrize("key", PROCEDURES)


@EVERY
@EACH
def test_every_wrong_order_has_a_consequence_or_is_harmless(key: str, job: Job) -> None:
    found = survey(key, job)
    assert found.wrong == []
    assert found.orders == math.factorial(len(PROCEDURES[key].steps))
    assert found.right == 1
    assert found.harmless + found.with_consequence == found.orders - 1


@pytest.mark.parametrize(("key", "harmless"), [("charge", 3), ("first_fill", 19), ("shut_down", 3), ("oil_change", 11)])
def test_how_many_orders_are_harmless(key: str, harmless: int) -> None:
    """Charging by hand: two pairs of neighbours may swap, 2 * 2 - 1. The oil change: three steps in any order, filter
    and vessel at any place between the first and the last, the pan before the filling: 4! / 2 - 1."""
    assert survey(key, JOB).harmless == harmless


def same_end(run: Played, right: Played) -> bool:
    a, b = run.final, right.final
    numbers = [a.gas / b.gas - 1.0] + [(a.oil[p] - b.oil[p]) / QT for p in PLACES]
    numbers += [(a.old[p] - b.old[p]) / QT for p in PLACES]
    flags = ("engine", "valve_open", "gauge_on", "cap_on", "tight", "proved", "new_filter", "charged")
    return max(map(abs, numbers)) < 1e-9 and all(getattr(a, f) == getattr(b, f) for f in flags)


def reasons(run: Played) -> list[str]:
    """Why each pair that has changed places may do so. Fails for a pair of which nothing is said."""
    place = {key: k for k, key in enumerate(run.order)}
    pairs = itertools.combinations(run.procedure.keys, 2)
    return [run.procedure.may_swap[frozenset(pair)] for pair in pairs if place[pair[1]] < place[pair[0]]]


@EACH
def test_every_sentence_reads_in_both_systems_and_holds_its_numbers(key: str) -> None:
    sentences = survey(key, JOB).sentences
    assert len(sentences) >= 6
    for c in sentences.values():
        assert c.sentence[0].isupper()
        assert c.sentence.endswith(".")
        assert "{" not in c.sentence
        assert "nan" not in c.sentence
        for name, value in c.numbers.items():
            assert f"{{{name}}}" in c.words, f"{name} is not used in: {c.words}"
            assert math.isfinite(value.m)
        use_units("SI")
        assert "psi" not in c.text
        assert " qt" not in c.text
        use_units("US")
        assert "barg" not in c.text


SAID = {
    "charge": {
        ("vent", DANGER), ("cap", DANGER), ("nitrogen", "wrong charge"), ("next_day", "wrong charge"),
        ("leak", "not proved"), ("next_day", "not proved"),
    },
    "first_fill": {
        ("start", DANGER), ("open", DANGER), ("run", DANGER), ("run", "not proved"), ("full", "wrong reading"),
        ("mark", "wrong reading"),
    },
    "shut_down": {
        ("hold", "not proved"), ("shut", "oil in the wrong place"), ("ignition", "oil in the wrong place"),
        ("dipstick", "wrong reading"),
    },
    "oil_change": {
        ("vessel", DANGER), ("pan", DANGER), ("filter", DANGER), ("first_fill", DANGER), ("vessel", "wasted"),
        ("pan", "wasted"), ("filter", "wasted"), ("first_fill", "wasted"), ("relieve", "wasted"),
        ("relieve", "oil in the wrong place"), ("fill", "oil in the wrong place"),
        ("first_fill", "oil in the wrong place"),
    },
}  # fmt: skip


@EACH
def test_which_steps_have_something_to_say(key: str) -> None:
    """Listed by hand: a step that fell silent would hide behind the words of others."""
    assert {(c.step, c.kind) for c in survey(key, JOB).sentences.values() if c.step != END} == SAID[key]


settled = examples(25)


@settled
@given(
    number(3.0, 20.0),
    number(-10.0, 35.0),
    number(20.0, 90.0),
    number(0.1, 2.5),
    number(0.0, 0.5),
    st.sampled_from(["small_four", "street_v8"]),
    st.sampled_from(["small", "bench", "large"]),
    st.randoms(use_true_random=False),
)
def test_random_jobs_in_random_orders(
    psig: float, shop: float, warm: float, low: float, leak: float, engine: str, vessel: str, dice: Any
) -> None:
    """Whatever the job: oil stays, and an order that ends another way has a step that says why."""
    charge = precharge_at_temperature(Q(psig, "psig"), Q(shop, "degC"), Q(warm, "degC"))
    if charge.m > 25.0:
        return
    job = Job(
        installation=usual_installation(engine, vessel), precharge=charge, shop_temperature=Q(shop, "degC"),
        gas_temperature=Q(warm, "degC"), pan_low=Q(low, "qt"), leaks_a_day=leak,
    )  # fmt: skip
    for key, procedure in PROCEDURES.items():
        right = play(key, job=job)
        for _ in range(6):
            order = list(procedure.keys)
            dice.shuffle(order)
            run = play(key, order, job)
            assert list(oil_lost(run)) == []
            if run.differs:
                assert any(c.step != END for c in run.consequences), (key, order, run.differs)
            assert run.consequences or run.harmless or run.order == procedure.keys
            assert run.states[0].oil == right.states[0].oil


# ------------------------------------------------------------------------------- consequences, reckoned another way


def said(key: str, order: tuple[str, ...], step: str, kind: str, job: Job = JOB) -> dict[str, Q]:
    """The numbers of the one consequence of that step and kind."""
    found = [c for c in play(key, order, job).consequences if (c.step, c.kind) == (step, kind)]
    assert len(found) == 1, found
    return found[0].numbers


def test_charged_with_oil_behind_the_piston() -> None:
    """Engine off, valve shut: what the vessel took at running pressure is still there when the gauge is set."""
    room = vessels()["bench"].gas_volume
    point = operating_point(engines()["street_v8"], lubricants()["street"], Q(3000, "rpm"), Q(100, "degC"))
    behind = oil_stored(room, Q(4, "psig"), point.gallery_pressure)
    dial = precharge_to_set(Q(10, "psig"), Q(5, "degC"), Q(40, "degC"))
    left = gauge_pressure(absolute_pressure(dial) * ((room - behind) / room))
    order = ("off", "temperature", "nitrogen", "vent", "leak", "cap", "next_day")
    found = said("charge", order, "nitrogen", "wrong charge")
    assert found["oil"].m_as("qt") == pytest.approx(behind.m_as("qt"), rel=1e-9)
    assert found["dial"].m == pytest.approx(dial.m, rel=1e-9)
    assert found["spread"].m == pytest.approx(left.m, rel=1e-9)
    assert found["short"].m == pytest.approx((dial - left).m, rel=1e-9)
    # below ambient the piston does not come home when the oil side is vented: the rest of the oil stays
    after_vent = play("charge", order).states[4]
    gas_room = (room - behind) * (absolute_pressure(dial).m / 14.6959488)
    assert after_vent.oil["vessel"] == pytest.approx((room - gas_room).m_as("m**3"), rel=1e-6)
    assert after_vent.gas_pressure.m == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("shop", [-5.0, 5.0, 30.0])
def test_temperature_not_noted(shop: float) -> None:
    job = Job(shop_temperature=Q(shop, "degC"))
    order = ("off", "vent", "nitrogen", "temperature", "leak", "cap", "next_day")
    found = said("charge", order, "nitrogen", "wrong charge", job)
    dial = precharge_to_set(Q(10, "psig"), Q(20, "degC"), Q(40, "degC"))
    becomes = precharge_at_temperature(dial, Q(shop, "degC"), Q(40, "degC"))
    assert found["meant"].m == pytest.approx(becomes.m, rel=1e-9)
    assert found["off"].m == pytest.approx(abs(becomes.m - 10.0), rel=1e-9)
    end = play("charge", order, job).final
    cold = charge_after_checks(dial, Q(3, "qt"), 1)
    assert end.true_charge.m == pytest.approx(
        precharge_at_temperature(cold, Q(shop, "degC"), Q(40, "degC")).m, rel=1e-9
    )


def test_in_a_shop_at_twenty_degrees_nobody_needs_a_note() -> None:
    """The assumed temperature is the real one: the order is harmless by luck, and says what the model says."""
    run = play(
        "charge",
        ("off", "vent", "nitrogen", "temperature", "leak", "cap", "next_day"),
        Job(shop_temperature=Q(20, "degC")),
    )
    assert run.consequences == ()
    assert run.harmless.startswith("harmless")
    assert run.differs == ()


def test_right_order_leaves_the_wanted_charge_less_one_check() -> None:
    end = play("charge").final
    dial = precharge_to_set(Q(10, "psig"), Q(5, "degC"), Q(40, "degC"))
    cold = charge_after_checks(dial, Q(3, "qt"), 1, Q(5, "cm**3"))
    assert end.true_charge.m == pytest.approx(precharge_at_temperature(cold, Q(5, "degC"), Q(40, "degC")).m, rel=1e-9)
    assert end.proved
    assert end.cap_on
    assert not end.gauge_on
    assert end.oil["vessel"] == 0.0


def test_bleed_under_a_running_engine() -> None:
    order = ("vent", "off", "temperature", "nitrogen", "leak", "cap", "next_day")
    found = said("charge", order, "vent", DANGER)
    oil = lubricants()["street"]
    rho = density(Q(100, "degC"), oil.density_15, oil.expansion)
    point = operating_point(engines()["street_v8"], oil, Q(3000, "rpm"), Q(100, "degC"))
    flow = orifice_flow(Q(3, "mm"), Q(point.gallery_pressure.m, "psi"), rho)
    assert found["flow"].m == pytest.approx(flow.m, rel=1e-9)
    assert found["lost"].m_as("qt") == pytest.approx((flow * Q(5, "s")).m_as("qt"), rel=1e-9)
    assert play("charge", order).final.oil["floor"] == pytest.approx(found["lost"].m_as("m**3"), rel=1e-9)


def test_a_leak_that_nobody_looked_for() -> None:
    order = ("off", "vent", "temperature", "nitrogen", "cap", "next_day", "leak")
    found = said("charge", order, "next_day", "wrong charge")
    assert found["now"].m == pytest.approx(0.9 * found["before"].m, rel=1e-9)
    tight = play("charge", order, Job(leaks_a_day=0.0))
    assert tight.final.true_charge.m == pytest.approx(play("charge").final.true_charge.m, rel=1e-9)


def test_oil_gauge_of_a_shut_vessel_shows_its_gas_and_of_an_open_one_the_gallery() -> None:
    full = play("charge").states[0]
    assert not full.valve_open
    assert full.oil["vessel"] > 0.0
    assert full.oil_gauge == full.gas_gauge > 1e5
    empty = play("first_fill").states[0]
    assert empty.oil["vessel"] == empty.oil_gauge == 0.0
    filled = play("first_fill", ("full", "start", "open", "run", "top_up", "again", "mark")).states[4]
    assert filled.valve_open
    assert filled.oil_gauge == pytest.approx(filled.gallery, rel=1e-6)
    assert filled.gallery > 1e5


@pytest.mark.parametrize("last", ["start", "run"])
def test_a_level_is_judged_only_on_a_standing_engine(last: str) -> None:
    """Running, oil is in flight: the pan stands elsewhere than at the right order's end, and that proves nothing."""
    order = (*(key for key in ("full", "open", "top_up", "again", "mark", "start", "run") if key != last), last)
    run = play("first_fill", order)
    assert run.final.engine != "stands"
    assert abs(run.final.level - play("first_fill").final.level) > 0.005
    assert not [c for c in run.consequences if c.step == END and "The pan stands at" in c.words]


def test_leaks_looked_for_before_the_gas_is_in() -> None:
    """A tenth a day of what the gauge shows."""
    found = said("charge", ("off", "vent", "leak", "temperature", "nitrogen", "cap", "next_day"), "leak", "not proved")
    assert found["loss"].m_as("psi") == pytest.approx(0.1 * found["dial"].m_as("psig"), rel=1e-9)
    order = ("off", "next_day", "vent", "temperature", "nitrogen", "leak", "cap")
    early = said("charge", order, "next_day", "not proved")
    assert early["loss"].m_as("psi") == pytest.approx(found["loss"].m_as("psi"), rel=1e-9)


def test_a_filter_unscrewed_on_a_running_engine_costs_what_the_pump_gives_in_five_seconds() -> None:
    keys = tuple(play("oil_change").order)
    filter_first = next(key for key in keys if "filter" in key)
    order = (filter_first, *(key for key in keys if key != filter_first))
    found = said("oil_change", order, filter_first, DANGER)
    assert found["hand"].m_as("s") == 5.0
    assert found["lost"].m_as("qt") == pytest.approx((found["flow"] * Q(5, "s")).m_as("qt"), rel=1e-9)


def test_first_fill_levels_by_hand() -> None:
    """Each state of the right order, from the pan's own shape: 262.5 in3 below the wide part, 190 in2 above it."""
    run = play("first_fill")
    v8, oil, room = engines()["street_v8"], lubricants()["street"], Q(3, "qt")
    full = pan_volume(v8.pan.full_height, v8.pan.sump_area, v8.pan.sump_depth, v8.pan.upper_area)
    assert full.m_as("in**3") == pytest.approx(262.5 + 0.2 * 190, rel=1e-9)
    fast, running = (operating_point(v8, oil, Q(n, "rpm"), Q(100, "degC")) for n in (1000, 3000))
    flight = [oil_in_flight(point.demand.total, v8.drain_time) for point in (fast, running)]
    held = [oil_stored(room, Q(10, "psig"), point.gallery_pressure) for point in (fast, running)]
    line = JOB.installation.line.volume
    pans = [
        full - Q(2, "qt"), full, full - flight[0], full - flight[0] - line - held[0], full - flight[0],
        full - flight[1] - (held[1] - held[0]), full - flight[1], full,
    ]  # fmt: skip
    for state, oil_in_pan in zip(run.states, pans, strict=True):
        level = pan_level(oil_in_pan, v8.pan.sump_area, v8.pan.sump_depth, v8.pan.upper_area)
        assert state.pan_height.m == pytest.approx(level.m, rel=1e-6)
    assert run.final.marks is not None
    emptied = pan_level(full + held[1], v8.pan.sump_area, v8.pan.sump_depth, v8.pan.upper_area)
    assert run.final.marks == pytest.approx((v8.pan.full_height.m_as("m"), emptied.m_as("m")), rel=1e-6)


def test_opened_on_a_low_pan_the_pick_up_draws_air() -> None:
    run = play("first_fill", ("start", "open", "full", "top_up", "run", "again", "mark"))
    dry = next(c for c in run.consequences if c.kind == DANGER)
    assert dry.step == "open"
    assert dry.numbers["level"].m == pytest.approx(0.6, rel=1e-9)
    assert run.states[2].dry
    assert run.states[2].gallery == 0.0
    assert not run.states[3].dry


def test_topping_up_too_early_foams_in_a_small_pan_and_not_in_a_large_one() -> None:
    order = ("full", "top_up", "again", "start", "open", "run", "mark")
    assert play("first_fill", order).harmless.startswith("harmless")
    found = said("first_fill", order, "start", DANGER, SMALL)
    assert found["level"] > found["limit"]
    assert found["limit"].m_as("mm") == pytest.approx(105.0)


def test_starting_on_an_open_empty_vessel() -> None:
    order = ("full", "open", "start", "top_up", "run", "again", "mark")
    found = said("first_fill", order, "start", DANGER)
    by_twenty = oil_stored(Q(3, "qt"), Q(10, "psig"), Q(20, "psig"))
    wants = JOB.installation.line.volume + by_twenty
    assert found["oil"].m == pytest.approx(wants.m_as("qt"), rel=1e-9)
    turning = engines()["street_v8"], lubricants()["street"], Q(700, "rpm"), Q(100, "degC")
    against = operating_point(*turning).pump_pressure.m_as("psig")
    thin = viscosity_of(lubricants()["street"].si, 373.15)
    slips = (1 - 0.9) * 3000 * against / 50 * 0.009 / thin  # turns a minute
    idle = 1.2 * 0.5 * (700 - slips)  # in3 a minute
    assert found["time"].m == pytest.approx(wants.m_as("in**3") / idle * 60, rel=1e-6)


def test_ignition_before_the_valve() -> None:
    order = ("hold", "ignition", "shut", "idle", "dipstick")
    found = said("shut_down", order, "ignition", "oil in the wrong place")
    point = operating_point(engines()["street_v8"], lubricants()["street"], Q(3000, "rpm"), Q(100, "degC"))
    held = oil_stored(Q(3, "qt"), Q(10, "psig"), point.gallery_pressure)
    gone = stall(JOB.installation, JOB.valve, Q(10, "psig"), point.gallery_pressure, Q(100, "degC"), Q(40, "degC"))
    assert found["oil"].m == pytest.approx(held.m, rel=1e-9)
    assert found["time"].m == pytest.approx(gone.empty_after.m, rel=1e-9)
    pan = engines()["street_v8"].pan
    full = pan_volume(pan.full_height, pan.sump_area, pan.sump_depth, pan.upper_area)
    level = pan_level(full + held, pan.sump_area, pan.sump_depth, pan.upper_area)
    assert found["level"].m == pytest.approx(level.m, rel=1e-9)
    assert play("shut_down", order).final.oil["vessel"] == 0.0


def test_valve_shut_at_idle_keeps_less() -> None:
    found = said("shut_down", ("shut", "hold", "idle", "ignition", "dipstick"), "shut", "oil in the wrong place")
    idle = operating_point(engines()["street_v8"], lubricants()["street"], Q(700, "rpm"), Q(100, "degC"))
    kept = oil_stored(Q(3, "qt"), Q(10, "psig"), idle.gallery_pressure)
    assert found["kept"].m == pytest.approx(kept.m, rel=1e-9)
    assert found["kept"] < found["wanted"]
    assert found["peak"] < found["best"]


def test_an_idle_below_the_charge_keeps_nothing() -> None:
    job = Job(precharge=Q(26, "psig"), found=Q(20, "psig"))
    run = play("shut_down", ("shut", "hold", "idle", "ignition", "dipstick"), job)
    assert "nothing is left for a pre-lube" in run.consequences[0].sentence
    assert run.final.oil["vessel"] == 0.0


def test_old_oil_of_a_forgotten_vessel() -> None:
    """All old but pan and filter, both new: what stays is line, vessel and galleries."""
    run = play("oil_change", ("pan", "filter", "fill", "first_fill", "relieve", "vessel"))
    mixed, n = run.states[4], JOB.numbers
    old = n.line + n.stored["at running pressure"] + n.galleries
    everything = n.at_full + n.filter + n.galleries + n.line + n.stored["at running pressure"]
    assert mixed.old_share == pytest.approx(old / everything, rel=1e-6)
    right = play("oil_change").final
    assert right.old_share == pytest.approx(n.galleries / everything, rel=1e-6)


def test_a_burst_of_mistakes_is_told_step_by_step() -> None:
    run = play("oil_change", ("pan", "filter", "vessel", "fill", "first_fill", "relieve"))
    steps = [c.step for c in run.consequences]
    assert steps == sorted(steps, key=lambda s: [*run.order, END].index(s))
    assert {c.kind for c in run.consequences if c.step in ("pan", "vessel")} >= {DANGER}


# ------------------------------------------------------------------------------------------------ bad input


@pytest.mark.parametrize(
    ("call", "begins"),
    [
        (lambda: play("charges"), "procedure: got 'charges'; wanted charge or first_fill or shut_down or oil_change"),
        (lambda: play(7), "procedure: got a int"),
        (lambda: play("shut_down", ("hold", "shut")), "order: got hold, shut; wanted each of hold, shut, idle"),
        (lambda: play("shut_down", ("hold",) * 5), "order: got hold, hold"),
        (lambda: play("shut_down", ()), "order: got no steps"),
        (lambda: play("charge", None, "mine"), "job: got a str; wanted a Job"),
        (lambda: play("charge", None, Job(installation=3)), "installation: got a int"),
        (lambda: play("charge", None, Job(valve=3)), "valve: got a int"),
        (lambda: play("charge", None, Job(precharge=Q(10, "psi"))), "precharge: got 10 psi"),
        (
            lambda: play("charge", None, Job(precharge=Q(70, "psig"))),
            "precharge: got 70.0 psig; wanted less than the run",
        ),
        (
            lambda: play("charge", None, Job(fast_idle=Q(600, "rpm"))),
            "fast_idle: got 600 rpm; wanted more than the eng",
        ),
        (lambda: play("charge", None, Job(running=Q(900, "rpm"))), "running: got 900 rpm; wanted more than the fast"),
        (lambda: play("charge", None, Job(pan_low=Q(6, "qt"))), "pan_low: got 6.00 qt; wanted less than the"),
        (lambda: play("charge", None, Job(leaks_a_day=2)), "leaks_a_day: got 2"),
        (
            lambda: play("charge", None, Job(precharge=Q(1, "psig"), shop_temperature=Q(-20, "degC"))),
            "shop_temperature",
        ),
        (lambda: pan_first(3, kit_lap()), "installation: got a int"),
        (lambda: pan_first(usual_installation(), 3), "log: got a int"),
        (lambda: pan_first(usual_installation(), kit_lap(), Q(1, "psi")), "pan_change: got 1 psi"),
    ],
)
def test_refuses(call: Any, begins: str) -> None:
    assert refused(None, call).startswith(begins)


# ------------------------------------------------------------------------------------------------------ gauge checks


@tried
@given(number(0.5, 100.0), number(0.5, 8.0), st.integers(0, 50), number(0.0, 200.0))
def test_a_check_is_two_volumes_joined_and_parted(psig: float, quarts: float, checks: int, dead: float) -> None:
    room, gas = quarts * 946.352946, psig
    for _ in range(checks):  # Boyle: the gauge brings ambient air, and takes its share away
        joined = ((gas + 14.6959488) * room + 14.6959488 * dead) / (room + dead)
        gas = joined - 14.6959488
    left = charge_after_checks(Q(psig, "psig"), Q(quarts, "qt"), checks, Q(dead, "cm**3"))
    assert left.m == pytest.approx(gas, rel=1e-7, abs=1e-9)
    assert 0.0 < left.m <= psig * (1 + 1e-12)


# ------------------------------------------------------------------------------------------------------- burst hose


def test_burst_vessel_side_against_an_independent_integration() -> None:
    """Isothermal and without heat, both without the column's mass: the kit's 5 s of heat exchange lie between."""
    at = Q(10, "psig"), Q(60, "psig"), Q(3000, "rpm"), Q(100, "degC"), Q(40, "degC")
    found = burst_hose(JOB.installation, JOB.valve, *at)
    oil, temperature = lubricants()["street"], Q(60, "degC")
    rho = density(temperature, oil.density_15, oil.expansion)
    mu = dynamic_viscosity(temperature, oil.viscosity_40, oil.viscosity_100, oil.density_15, oil.expansion)
    hose = JOB.installation.line

    def flow(push: float) -> float:
        def short(q: float) -> float:
            amount = Q(q, "m**3/s")
            lost = line_drop(amount, hose.hose.bore, hose.length * 0.5, rho, mu)
            lost = lost + fitting_drop(amount, JOB.valve.bore, JOB.valve.loss_coefficient, rho)
            return float(lost.m_as("Pa")) - push

        return float(brentq(short, 0.0, 0.05)) if push > 0.0 else 0.0

    room, air = Q(3, "qt").m_as("m**3"), 101_325.0
    charge, full = (Q(p, "psi").m_as("Pa") + air for p in (10.0, 60.0))
    pushes = np.linspace(0.0, full - air, 80)
    flows = [flow(push) for push in pushes]
    times = {}
    for name, exponent in (("slow", 1.0), ("fast", 1.4)):
        start = room * charge / full
        home: Any = lambda t, v: v[0] - room  # noqa: E731
        home.terminal = True

        def rate(t: float, v: Any, start: float = start, exponent: float = exponent) -> list[float]:
            return [max(float(np.interp(full * (start / v[0]) ** exponent - air, pushes, flows)), 1e-7)]

        run = solve_ivp(rate, (0.0, 20.0), [start], events=home, rtol=1e-6, max_step=0.05)
        times[name] = float(run.t_events[0][0]) if len(run.t_events[0]) else math.inf
    assert 0.97 * times["slow"] < found.empty_after.m < times["fast"]
    # until the hose's oil has got going (some 25 ms) the gas has grown by a tenth: the highest flow is that much lower
    assert 0.85 * flow(full - air) < found.vessel_flow.m_as("m**3/s") < flow(full - air)
    held = oil_stored(Q(3, "qt"), Q(10, "psig"), Q(60, "psig"))
    assert found.oil_lost.m == pytest.approx(held.m, rel=1e-6)


def test_burst_engine_side_balances() -> None:
    """What the pump gives is what engine and open hose take (the relief valve is shut at so little pressure)."""
    at = Q(10, "psig"), Q(60, "psig"), Q(3000, "rpm"), Q(100, "degC"), Q(40, "degC")
    for side in (0.0, 0.5, 1.0):
        found = burst_hose(JOB.installation, JOB.valve, *at, vessel_side=side)
        takes = engine_demand(engines()["street_v8"], lubricants()["street"], found.gallery_pressure, *at[2:4]).total
        through = takes + found.engine_flow
        part, thin = engines()["street_v8"].filter, viscosity_of(lubricants()["street"].si, 373.15)
        against = found.gallery_pressure.m_as("psig") + element_drop(
            through, Q(thin, "Pa s"), part.rated_drop, part.rated_flow, part.rated_viscosity, part.bypass
        ).m_as("psi")
        slips = (1 - 0.9) * 3000 * against / 50 * 0.009 / thin  # turns a minute
        assert through.m_as("gpm") == pytest.approx(1.2 * 0.5 * (3000 - slips) / 231, rel=1e-3)
        assert found.gallery_pressure < found.gallery_before
        assert 0.0 < found.pan_lasts.m < 60.0
    near, far = (burst_hose(JOB.installation, JOB.valve, *at, vessel_side=s) for s in (0.05, 1.0))
    assert near.empty_after < far.empty_after
    assert near.gallery_pressure > far.gallery_pressure


def test_burst_of_an_empty_vessel() -> None:
    found = burst_hose(
        JOB.installation, JOB.valve, Q(30, "psig"), Q(20, "psig"), Q(3000, "rpm"), Q(100, "degC"), Q(40, "degC")
    )
    assert found.empty_after.m == 0.0
    assert found.oil_lost.m == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    ("change", "begins"),
    [
        ({"installation": 5}, "installation: got a int"),
        ({"valve": "wide"}, "valve: got a str"),
        ({"vessel_side": 1.5}, "vessel_side: got 1.5"),
        ({"pressure": Q(60, "psi")}, "pressure: got 60 psi"),
        ({"speed": Q(50, "Hz")}, "speed: got 50"),
        ({"precharge": Q([10, 20], "psig")}, "precharge: got 2 values"),
    ],
)
def test_burst_refuses(change: dict[str, Any], begins: str) -> None:
    good = {
        "installation": JOB.installation, "valve": JOB.valve, "precharge": Q(10, "psig"), "pressure": Q(60, "psig"),
        "speed": Q(3000, "rpm"), "oil_temperature": Q(100, "degC"), "gas_temperature": Q(40, "degC"),
    }  # fmt: skip
    assert refused(None, lambda: burst_hose(**(good | change))).startswith(begins)


# --------------------------------------------------------------------------------------------------- the pan first


def test_a_full_pan_needs_no_vessel_and_a_low_one_needs_oil_first() -> None:
    built, lap = usual_installation(), kit_lap()
    full, low, lower, empty = (pan_first(built, lap, Q(-quarts, "qt")) for quarts in (0, 1, 2, 4))
    assert full.uncovered.m == 0.0
    assert full.reasons == low.reasons == ()
    assert full.uncovered < low.uncovered < lower.uncovered < empty.uncovered
    assert full.level > low.level > lower.level > empty.level
    assert any("longest gap" in reason for reason in lower.reasons)
    assert "level road" in empty.reasons[0]
    assert empty.uncovered.m > 0.5
    assert any("of the lap" in reason for reason in empty.reasons)
    weak = pan_first(built, lap, precharge=Q(70, "psig"))
    assert any("never fills" in reason for reason in weak.reasons)


def test_a_lap_that_is_one_hard_corner_is_bare_all_the_time() -> None:
    """To the last digit: what the last sample stands for is nothing, not less."""
    moments, ones = np.arange(0.0, 20.0, 0.1), np.ones(200)
    columns = Q(30 * ones, "m/s"), Q(1.5 * ones, "g_0"), Q(0 * ones, "g_0"), Q(4000 * ones, "rpm")
    lap = Log("made", Q(moments, "s"), *columns)
    assert pan_first(usual_installation(), lap, Q(-3, "qt")).uncovered.m == pytest.approx(1.0, abs=1e-12)


def test_the_bare_share_is_of_the_size_that_the_simulated_lap_starves() -> None:
    """Moment by moment against pump and oil in time: the same share within a factor of two."""
    built, lap = usual_installation(), kit_lap()
    run = simulate_lap(built, lap, False, Q(-1, "qt"))
    starved = float(np.mean(np.asarray(run.supply) < 0.5))
    found = pan_first(built, lap, Q(-1, "qt")).uncovered.m
    assert 0.5 * starved < found < 2.0 * starved


# ------------------------------------------------------------------------------------------------------- the panel


def panel_order(panel: Any) -> tuple[str, ...]:
    return panel.controls["order"].value[1]  # type: ignore[no-any-return]


def test_buttons_move_the_chosen_step() -> None:
    panel = panels.commissioning()
    order: Order = panel.controls["order"]
    before = panel_order(panel)
    assert before != PROCEDURES["charge"].keys, "it starts in disorder"
    assert order.value[2] == before[0]
    order._later.click()
    assert panel_order(panel) == (before[1], before[0], *before[2:])
    assert order.value[2] == before[0], "the moved step stays chosen"
    assert order.buttons.value.startswith("2. ")
    order._earlier.click()
    order._earlier.click()  # at the top already
    assert panel_order(panel) == before
    order.buttons.value = order.options[-1][0]
    order._later.click()
    assert panel_order(panel) == before
    panel._reset.click()
    assert panel_order(panel) == before
    assert panel.errors == []


def test_sorting_by_hand_reaches_the_right_order() -> None:
    panel = panels.commissioning()
    order: Order = panel.controls["order"]
    for key in ("oil_change", "shut_down"):
        panel.controls["procedure"].buttons.value = PROCEDURES[key].title
        assert sorted(panel_order(panel)) == sorted(PROCEDURES[key].keys)
        assert panel_order(panel) != PROCEDURES[key].keys
        for place, wanted in enumerate(PROCEDURES[key].keys):
            order.buttons.value = order.options[panel_order(panel).index(wanted)][0]
            while panel_order(panel)[place] != wanted:
                order._earlier.click()
        assert "right order" in panel.summary(panel.state)
        assert panel.values["faults so far"] == "0"
    assert panel.errors == []


@pytest.mark.thorough
def test_shuffles_are_seeded_and_differ() -> None:
    one, two = panels.commissioning(), panels.commissioning()
    seen = []
    for _ in range(3):
        one.controls["order"]._mix.click()
        two.controls["order"]._mix.click()
        assert panel_order(one) == panel_order(two)
        seen.append(panel_order(one))
    assert len(set(seen)) == 3


def test_orders_set_from_code() -> None:
    panel = panels.commissioning(order=list(PROCEDURES["charge"].keys))
    assert "right order" in panel.summary(panel.state)
    panel.set(procedure="shut_down", order=["idle", "hold", "shut", "ignition", "dipstick"])
    assert "harmless" in panel.summary(panel.state)
    panel.set(played=Q(2, "dimensionless"))
    assert "valve is open" in panel.summary(panel.state)
    assert refused(None, lambda: panel.set(order=["hold"])).startswith("Your order: choose a step, then move it: got")


def test_another_procedure_is_played_to_its_own_end() -> None:
    panel = panels.commissioning()
    played, procedure = panel.controls["played"], panel.controls["procedure"].buttons
    for key in ("shut_down", "oil_change", "first_fill"):
        procedure.value = PROCEDURES[key].title
        assert played.value == len(PROCEDURES[key].steps)
    procedure.value = PROCEDURES["shut_down"].title
    played.slider.value = 7.0
    assert played.value == played.slider.value == 5.0
    before = panel.png
    played.slider.value = 4.0
    assert panel.png != before
    assert panel.errors == []


def test_danger_is_a_word() -> None:
    panel = panels.commissioning(order=["vent", "off", "temperature", "nitrogen", "leak", "cap", "next_day"])
    assert "Step 1, DANGER: You open the bleed" in panel.summary(panel.state)
    assert panel.values["dangers among them"] == "1"


def test_a_job_is_worked_out_once() -> None:
    job = dataclasses.replace(JOB)
    first = job.numbers
    play("charge", job=job)
    assert job.numbers is first


def test_the_pan_comes_first_with_the_clearances_that_the_engine_has() -> None:
    """A loose engine makes less pressure to fill the vessel with, and the pressure asked for follows it."""
    built, log, loose = oilkit.usual_installation(), oilkit.kit_lap(), Q(4, "thou")
    speed = Q(1500, "rpm")
    settled = oilkit.operating_point(built.engine, built.oil, speed, Q(100, "degC"), loose).gallery_pressure
    found = oilkit.pan_first(built, log, speed=speed, clearance_change=loose)
    stated = oilkit.pan_first(built, log, speed=speed, clearance_change=loose, pressure=settled)
    assert found.lasts == stated.lasts


# --------------------------------------------------------------------------------------- sentences and steps, two files


@pytest.mark.parametrize("key", PROCEDURES)
def test_each_sentence_of_a_procedure_is_said_by_one_of_its_steps(key: str) -> None:
    """A sentence that no step says any more would stand in its file for ever."""
    module = importlib.import_module(f"oilkit.shop.procedures.{key}")
    code = Path(str(module.__file__)).read_text(encoding="utf-8")
    for name, sentence in PROCEDURES[key].says.items():
        assert f'"{name}"' in code
        assert sentence.kinds.keys() == set(re.findall(r"\{(\w+)\}", sentence.plain))


def test_procedures_are_found_by_name_and_stand_in_the_order_of_their_places() -> None:
    folder = Path(next(iter(oilkit.shop.procedures.__path__)))
    assert sorted(PROCEDURES) == sorted(path.stem for path in folder.glob("*.toml"))
    assert [procedure.place for procedure in PROCEDURES.values()] == [1, 2, 3, 4]


def test_sentences_that_do_not_fit_their_module_are_refused(tmp_path: Path) -> None:
    def told(text: str) -> str:
        (tmp_path / "wash.toml").write_text(text, encoding="utf-8")
        return str(tmp_path / "wash.py")

    good = (
        'title = "Wash"\nplace = 5\n[steps.rinse]\ntitle = "Rinse"\ncaution = "Wet."\nnumber = "1 qt"\n'
        'stop = "none, because it dries"\n[may_swap]\n'
        '[says.wet]\nkind = "wasted"\nwords = "{oil} and {dial:gauge} wet."\n'
    )
    start, step = PROCEDURES["charge"].start, PROCEDURES["charge"].steps[0].do
    wash = read_procedure(told(good), start, rinse=step)
    assert (wash.key, wash.keys, wash.says["wet"].plain) == ("wash", ("rinse",), "{oil} and {dial} wet.")
    refused("wash.toml, [steps]", lambda: read_procedure(told(good), start, dry=step))
    refused(
        "wash.toml, [says.wet], kind", lambda: read_procedure(told(good.replace("wasted", "sad")), start, rinse=step)
    )
    refused("wash.toml", lambda: read_procedure(told("title"), start, rinse=step))
    for name in ("caution", "number", "stop"):
        without = re.sub(rf"(?<=\n){name} = .*\n", "", good)
        refused(f"wash.toml, [steps.rinse], {name}", lambda text=without: read_procedure(told(text), start, rinse=step))
    bare = good.replace("[steps.rinse]\n", "[steps]\nrinse = 1\n[other]\n")
    refused("wash.toml, steps.rinse", lambda: read_procedure(told(bare), start, rinse=step))
