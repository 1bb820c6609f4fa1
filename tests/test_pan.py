"""The pan: its level, and where every quart of the oil is."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from outside_rows.row import GPM, INCH, QUART
from parts import quick
from randomly import spread, tried
from sentences import refused

from oilkit import OilBudget, Pan, Q, level_in_words, oil_budget, oil_in_flight, pan_level, pan_volume, use_units
from oilkit.physics.pan import FILLING, PLACES, RUNNING, STATES, STOPPED_EMPTY, VALVE_OPEN, VALVE_SHUT

# -------------------------------------------------------------------------------------------------------- the level

SHAPE = Q(60, "in**2"), Q(4, "in"), Q(150, "in**2")
"""A sump of 60 in2, 4 in deep, and 150 in2 above it."""


@pytest.mark.parametrize(
    ("cubic_inches", "inches"),
    [
        pytest.param(0, 0, id="empty"),
        pytest.param(60, 1, id="in the sump"),
        pytest.param(240, 4, id="the sump full"),
        pytest.param(240 + 75, 4.5, id="above it"),
        pytest.param(240 + 150e6, 4 + 1e6, id="far too much"),
    ],
)
def test_level_and_volume_by_hand(cubic_inches: float, inches: float) -> None:
    assert pan_level(Q(cubic_inches, "in**3"), *SHAPE).to("in").m == pytest.approx(inches, rel=1e-12)
    assert pan_volume(Q(inches, "in"), *SHAPE).to("in**3").m == pytest.approx(cubic_inches, rel=1e-12)


pans = (spread(1.0, 1000.0), spread(0.1, 30.0), spread(1.0, 1000.0))
"""Areas in square inches, depth in inches; the upper part may be the narrower one."""


@tried
@given(spread(1e-3, 1e3), *pans)
def test_level_and_volume_undo_each_other(amount: float, sump: float, depth: float, upper: float) -> None:
    shape = Q(sump, "in**2"), Q(depth, "in"), Q(upper, "in**2")
    oil, level = Q(amount, "qt"), Q(amount, "in")
    assert pan_volume(pan_level(oil, *shape), *shape).to("qt").m == pytest.approx(amount, rel=1e-9, abs=0.0)
    assert pan_level(pan_volume(level, *shape), *shape).to("in").m == pytest.approx(amount, rel=1e-9, abs=0.0)


@tried
@given(*pans)
def test_more_oil_stands_higher_and_the_level_has_no_step(sump: float, depth: float, upper: float) -> None:
    shape = Q(sump, "in**2"), Q(depth, "in"), Q(upper, "in**2")
    full = sump * depth
    oil = Q(full * np.linspace(0.0, 2.0, 201), "in**3")
    rise = np.diff(pan_level(oil, *shape).to("in").m)
    assert np.all(rise > 0.0)
    np.testing.assert_allclose(rise[:100], depth / 100, rtol=1e-9)
    np.testing.assert_allclose(rise[100:], full / 100 / upper, rtol=1e-9)


def test_in_flight_by_hand() -> None:
    """6 gallons a minute are 0.4 quarts a second; 4 seconds of it."""
    assert oil_in_flight(Q(6, "gpm"), Q(4, "s")).to("qt").m == pytest.approx(1.6, rel=1e-12)
    assert oil_in_flight(Q(6, "gpm"), Q(4, "s")).to("m**3").m == pytest.approx(6 * GPM * 4, rel=1e-9)
    assert oil_in_flight(Q(0, "gpm"), Q(4, "s")).m == oil_in_flight(Q(6, "gpm"), Q(0, "s")).m == 0.0


# ------------------------------------------------------------------------------------------------------- the budget

AMOUNTS = (
    "pan_at_full_mark",
    "vessel",
    "line",
    "filter_volume",
    "cooler",
    "galleries",
    "in_flight",
    "vessel_while_filling",
    "in_flight_at_idle",
)


def budget(unit: str = "qt", **changes: Any) -> OilBudget:
    """The budget of a usual engine, with something changed."""
    usual = dict(zip(AMOUNTS, (5.0, 2.0, 0.6, 1.0, 0.3, 0.5, 1.5, 0.8, 0.4), strict=True))
    values = {name: Q(amount, "qt").to(unit) for name, amount in usual.items()}
    return oil_budget(**(values | changes))


def asked_for(given: dict[str, float]) -> dict[str, dict[str, float]]:
    """What each place but the pan is asked to hold in each state, as the lesson says it."""
    fixed = {
        "line": given["line"],
        "filter": given["filter_volume"],
        "cooler": given["cooler"],
        "galleries": given["galleries"],
    }
    moving = {
        STOPPED_EMPTY: dict.fromkeys(("line", "filter", "cooler", "galleries", "vessel", "in flight"), 0.0),
        FILLING: fixed | {"vessel": given["vessel_while_filling"], "in flight": given["in_flight_at_idle"]},
        RUNNING: fixed | {"vessel": given["vessel"], "in flight": given["in_flight"]},
        VALVE_SHUT: fixed | {"vessel": given["vessel"], "in flight": 0.0},
        VALVE_OPEN: fixed | {"vessel": 0.0, "in flight": 0.0},
    }
    assert tuple(moving) == STATES
    return moving


@pytest.mark.parametrize("cases", quick(1, [200, 3000]))
def test_no_drop_is_lost_and_each_place_holds_what_was_asked_for(cases: int) -> None:
    """Budgets from a thimble to a barrel, any amount of them nothing at all, more in flight than in the pan."""
    rng = np.random.default_rng(1662)
    below_zero = 0
    for _ in range(cases):
        amounts = np.exp(rng.uniform(np.log(1e-3), np.log(200.0), len(AMOUNTS))) * (rng.random(len(AMOUNTS)) > 0.15)
        given = dict(zip(AMOUNTS, amounts.tolist(), strict=True))
        given["vessel_while_filling"] = given["vessel"] * float(rng.choice([0.0, rng.random(), 1.0]))
        found = oil_budget(**{name: Q(amount, "L") for name, amount in given.items()})
        total = sum(given[n] for n in ("pan_at_full_mark", "vessel", "line", "filter_volume", "cooler", "galleries"))
        assert found.total.to("L").m == pytest.approx(total, rel=1e-12)
        assert found.oil_to_add.to("L").m == pytest.approx(given["vessel"] + given["line"], rel=1e-12)
        assert tuple(found.states) == STATES
        for state, places in asked_for(given).items():
            where = {place: oil.to("L").m for place, oil in found.states[state].items()}
            assert tuple(where) == PLACES
            assert sum(where.values()) == pytest.approx(total, rel=1e-9)
            for place, oil in places.items():
                assert where[place] == pytest.approx(oil, rel=1e-9, abs=1e-9), (state, place)
            assert where["pan"] == pytest.approx(total - sum(places.values()), rel=1e-9, abs=1e-9 * max(total, 1.0))
        below_zero += found.states[RUNNING]["pan"].m < 0.0
    assert below_zero > cases / 30, "the pan's shortage was never put to the test"


def test_the_dipstick_is_read_with_the_valve_shut() -> None:
    """That is how the trade fills it: at the full mark then, and over it by the vessel's oil once the valve is open."""
    pan = {state: places["pan"].to("qt").m for state, places in budget().states.items()}
    assert pan[VALVE_SHUT] == pytest.approx(5.0, rel=1e-12)
    assert pan[VALVE_OPEN] == pytest.approx(7.0, rel=1e-12)
    assert pan[RUNNING] == pytest.approx(3.5, rel=1e-12)
    assert pan[FILLING] == pytest.approx(5.0 + 2.0 - 0.8 - 0.4, rel=1e-12)
    assert pan[STOPPED_EMPTY] == pytest.approx(9.4, rel=1e-12)


def test_what_the_pan_is_short_of_is_shown_and_not_hidden() -> None:
    short = budget(pan_at_full_mark=Q(1, "qt"), in_flight=Q(3, "qt"))
    assert short.states[RUNNING]["pan"].to("qt").m == pytest.approx(-2.0, rel=1e-12)


def test_the_budget_is_the_same_in_any_unit() -> None:
    in_litres = budget("L")
    for state, place in itertools.product(STATES, PLACES):
        assert in_litres.states[state][place].to("qt").m == pytest.approx(budget().states[state][place].m, abs=1e-12)


def test_a_vessel_that_is_full_while_it_fills_is_full_in_whatever_unit() -> None:
    for number in np.linspace(0.1, 10.0, 100):
        full = Q(float(number), "qt")
        budget(vessel=full, vessel_while_filling=full.to("in**3").to("L"))


def test_more_in_the_vessel_than_it_will_hold_is_refused_with_both() -> None:
    sentence = refused("vessel_while_filling", lambda: budget(vessel_while_filling=Q(2.5, "qt")))
    assert "got 2.50 qt" in sentence
    assert "2.00 qt" in sentence
    use_units("SI")
    sentence = refused("vessel_while_filling", lambda: budget(vessel_while_filling=Q(2.5, "L")))
    assert "qt" not in sentence


WRONG: list[Any] = [None, 5, "5 qt", Q(5, "psi"), Q(-1, "qt"), Q(np.nan, "qt"), Q(np.inf, "L"), Q([1.0, 2.0], "qt")]


@pytest.mark.parametrize("value", WRONG, ids=str)
@pytest.mark.parametrize("argument", AMOUNTS)
def test_an_amount_that_is_none_is_refused_by_name(argument: str, value: Any) -> None:
    refused(argument, lambda: budget(**{argument: value}))


# --------------------------------------------------------------------------------------------------------- in words

PAN = Pan(*SHAPE, pickup_height=Q(1, "in"), full_height=Q(5, "in"), windage_height=Q(6, "in"))


@pytest.mark.parametrize(
    ("inches", "word"),
    [
        (0.0, "draws air"),
        (0.99, "draws air"),
        (1.0, "draws air"),
        (1.01, "between"),
        (4.99, "between"),
        (5.0, "between"),
        (5.01, "above the full mark"),
        (6.0, "above the full mark"),
        (6.01, "foam"),
        (1e6, "foam"),
    ],
)
def test_a_level_in_words(inches: float, word: str) -> None:
    for level in (Q(inches, "in"), Q(inches * INCH * 1000.0, "mm")):
        told = level_in_words(level, PAN)
        assert word in told
        assert sum(other in told for other in ("draws air", "between", "above the full", "foam")) == 1


def test_the_full_mark_is_the_full_mark_however_the_level_was_reached() -> None:
    """Rounding in the way from oil to level must not put a pan at its mark above it."""
    for quarts in np.linspace(1.0, 8.0, 71):
        level = pan_level(Q(float(quarts), "qt"), *SHAPE)
        pan = Pan(*SHAPE, Q(0.1, "in"), level.to("mm"), Q(60, "in"))
        assert "between" in level_in_words(level, pan)
        again = pan_level(pan_volume(level, *SHAPE).to("L"), *SHAPE)
        assert "between" in level_in_words(again, pan)


@pytest.mark.parametrize("value", [None, 3, Q(3, "qt"), Q(-1, "in"), Q([1.0, 2.0], "in")], ids=str)
def test_a_level_that_is_none_is_refused_by_name(value: Any) -> None:
    refused("level", lambda: level_in_words(value, PAN))


def test_a_pan_of_bare_numbers_is_refused_when_it_is_used() -> None:
    bare: Any = 5
    refused("full_height", lambda: level_in_words(Q(3, "in"), Pan(*SHAPE, Q(1, "in"), bare, Q(6, "in"))))


def test_a_quart_is_57_75_cubic_inches() -> None:
    assert pan_level(Q(1, "qt"), *SHAPE).to("m").m == pytest.approx(QUART / (60 * INCH**2), rel=1e-12)
