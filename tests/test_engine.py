"""Pump, consumers, and where the two agree: by hand, over every state of the demonstration engines, and in words."""

from __future__ import annotations

import dataclasses
import itertools
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from outside_rows.oil_and_engine import Balance, film_flow
from randomly import examples, number, spread
from sentences import refused

from oilkit import (
    Engine,
    Lubricant,
    Q,
    engine_demand,
    groove_flow,
    half_groove_share,
    operating_point,
    pump_efficiency,
    pump_flow,
    relief_flow,
)
from oilkit.physics.catalog import engines, lubricants
from oilkit.physics.engine import (
    BEARINGS,
    NO_PRESSURE,
    RELIEF_OPEN,
    RELIEF_SHUT,
    STARVED,
    OperatingPoint,
    bearing_take,
    consumers,
)
from oilkit.physics.oil import viscosity_of
from oilkit.physics.settling import settled_pressure
from oilkit.quantities.records import data_file

ENGINES, OILS = engines(), lubricants()
OWN_OIL = {"small_four": "thin", "street_v8": "street", "race_v8": "thick"}
PAIRS = [pytest.param(ENGINES[key], OILS[oil], id=key) for key, oil in OWN_OIL.items()]
V8, STREET = ENGINES["street_v8"], OILS["street"]
PARTS = ("mains", "rods", "cams", "jets")


def changed(engine: Engine, part: str, **fields: Any) -> Engine:
    """The engine with some fields of one of its parts changed."""
    return dataclasses.replace(engine, **{part: dataclasses.replace(getattr(engine, part), **fields)})


# ------------------------------------------------------------------------------------------------------ pump and valve


def test_a_pump_by_hand() -> None:
    """1.1 in3 a turn, half the crank's 4200 rpm, half of it air, and a tenth slips back: 1.1 x 2100 x 0.4 / 231 gpm."""
    got = pump_flow(Q(4200, "rpm"), Q(1.1, "in**3/rev"), 0.5, 0.9, 0.5)
    assert got.to("gpm").m == pytest.approx(1.1 * 2100 * 0.4 / 231, rel=1e-12)
    assert pump_flow(Q(4200, "rpm"), Q(1.1, "in**3/rev"), 0.5, 0.9, 0.05).m == 0.0
    assert pump_flow(Q(0, "rpm"), Q(1.1, "in**3/rev"), 0.5, 0.9).m == 0.0


def test_a_relief_valve_lets_go_in_proportion_to_what_is_above_its_opening() -> None:
    valve = Q(60, "psig"), Q(72, "psig"), Q(6, "gpm")
    let_go = relief_flow(Q([-5, 0, 59.999, 60, 63, 72, 84], "psig"), *valve)
    np.testing.assert_allclose(let_go.to("gpm").m, [0, 0, 0, 0, 1.5, 6, 12], atol=1e-12)


@pytest.mark.parametrize("rated", [60.0, 55.0, [72.0, 59.0]])
def test_a_valve_rated_below_its_opening_is_refused(rated: Any) -> None:
    sentence = refused(
        "rated_pressure", lambda: relief_flow(Q(65, "psig"), Q(60, "psig"), Q(rated, "psig"), Q(6, "gpm"))
    )
    assert "more than the opening pressure of 60.0 psig" in sentence


# --------------------------------------------------------------------------------------------- one bearing and its feed

per_pascals = spread(1e-14, 1e-8)
draggeds = st.one_of(st.just(0.0), spread(1e-8, 1e-2))
feeds = spread(1e6, 1e14)
inwards = st.one_of(st.just(0.0), spread(1e2, 4e5))
outwards = st.one_of(st.just(0.0), number(-1e5, 1e6))
pressures = st.one_of(st.just(0.0), spread(1.0, 2e6))
bearings = st.tuples(per_pascals, draggeds, feeds, inwards, outwards)
Numbers = tuple[float, float, float, float, float]
tried_more = examples(400)


@tried_more
@given(pressures, bearings)
def test_a_bearing_takes_what_its_two_equations_say(pressure: float, bearing: Numbers) -> None:
    """Feed: p less inward less feed Q^2 is the pressure inside, not below 0. Film: Q is pressed by that and dragged."""
    per_pascal, dragged, feed, inward, outward = bearing
    flow, pressed = (float(part) for part in bearing_take(pressure, *bearing))
    most = math.sqrt(max(pressure - inward, 0.0) / feed)
    assert 0.0 <= pressed <= flow <= most, "the feed hole gives no more than this"
    inside = pressure - inward - feed * flow**2
    wanted = per_pascal * (inside + inward + outward) + dragged
    size = per_pascal * (abs(pressure) + inward + abs(outward)) + dragged
    if flow == most > 0.0:
        assert wanted >= flow - 1e-9 * size, "a bearing goes short only if it wants more"
        assert inside == pytest.approx(0.0, abs=1e-9 * pressure)
    elif flow == 0.0:
        assert pressure <= inward or wanted <= 1e-12 * size, (
            "it takes nothing only if nothing arrives or it pushes back"
        )
    else:
        assert flow == pytest.approx(wanted, rel=1e-7, abs=1e-9 * size)


@tried_more
@given(pressures, bearings, spread(1e-6, 10.0))
def test_a_bearing_takes_more_at_more_pressure_and_never_jumps(pressure: float, bearing: Numbers, step: float) -> None:
    """Between two pressures the flow cannot rise by more than film or feed alone would let it."""
    per_pascal, _, feed, _, _ = bearing
    more = pressure * (1.0 + step) + step
    (low, low_pressed), (high, high_pressed) = bearing_take(pressure, *bearing), bearing_take(more, *bearing)
    slack = 1e-12 * high + 1e-30
    allowed = max(per_pascal * (more - pressure), math.sqrt((more - pressure) / feed)) * (1.0 + 1e-9) + slack
    assert -slack <= high - low <= allowed
    assert -slack <= high_pressed - low_pressed <= allowed


@tried_more
@given(pressures, bearings, spread(1.001, 10.0))
def test_a_bearing_takes_more_with_more_clearance_more_drag_and_a_larger_feed(
    pressure: float, bearing: Numbers, times: float
) -> None:
    per_pascal, dragged, feed, inward, outward = bearing
    flow = bearing_take(pressure, *bearing)[0]
    slack = 1e-12 * flow + 1e-30
    assert bearing_take(pressure, per_pascal, dragged * times, feed, inward, outward)[0] >= flow - slack
    assert bearing_take(pressure, per_pascal, dragged, feed / times, inward, outward)[0] >= flow - slack
    if pressure + outward >= 0.0:
        assert bearing_take(pressure, per_pascal * times, dragged, feed, inward, outward)[0] >= flow - slack


def test_without_a_feed_hole_s_loss_a_bearing_takes_the_plain_sum() -> None:
    flow, pressed = bearing_take(3e5, 1e-10, 2e-5, 1e-3, 5e4, 1e5)
    assert flow == pytest.approx(1e-10 * 4e5 + 2e-5, rel=1e-9)
    assert pressed == pytest.approx(1e-10 * 4e5, rel=1e-9)


def test_a_feed_hole_alone_by_hand() -> None:
    """A film as open as a door: the hole gives sqrt(p / feed) = sqrt(4e5 / 1e13) = 2e-4 m3/s."""
    assert bearing_take(4e5, 1.0, 0.0, 1e13, 0.0, 0.0)[0] == pytest.approx(2e-4, rel=1e-4)


def test_oil_that_does_not_reach_the_crank_s_axis_feeds_no_rod() -> None:
    assert bearing_take(1e5, 1e-9, 1e-4, 1e12, 1.0001e5, 5e5) == (0.0, 0.0)


# ---------------------------------------------------------------------------------------------------- what it drinks

STATES = list(itertools.product([0.0, 3.0, 20.0, 55.0, 100.0], [0.0, 1.0, 900.0, 4000.0, 8000.0], [0.0, 90.0, 150.0]))
"""Gallery pressure in psi, crank speed in rpm, sump temperature in °C."""


@pytest.mark.parametrize(("engine", "oil"), PAIRS)
@pytest.mark.parametrize("thou", [-0.5, 0.0, 2.0])
def test_demand_is_that_of_the_same_equations_written_again(engine: Engine, oil: Lubricant, thou: float) -> None:
    """`Balance` solves each bearing with its feed hole by bisection, from the record's numbers."""
    psi, rpm, celsius = (np.array(part) for part in zip(*STATES, strict=True))
    take = engine_demand(engine, oil, Q(psi, "psig"), Q(rpm, "rpm"), Q(celsius, "degC"), Q(thou, "thou"))
    for place, (p, n, t) in enumerate(STATES):
        own = Balance(engine, oil, n / 60.0, t + 273.15, thou * 2.54e-5, 1.0).taken(p * 6894.757293168)
        assert take.total.to("m**3/s").m[place] == pytest.approx(own, rel=1e-9, abs=1e-18), (p, n, t)


@pytest.mark.parametrize(("engine", "oil"), PAIRS)
def test_the_parts_add_up_to_the_whole(engine: Engine, oil: Lubricant) -> None:
    psi, rpm, celsius = (np.array(part) for part in zip(*STATES, strict=True))
    take = engine_demand(engine, oil, Q(psi, "psig"), Q(rpm, "rpm"), Q(celsius, "degC"), Q(1, "thou"))
    by_part = sum(getattr(take, name).m for name in PARTS)
    np.testing.assert_allclose(by_part, take.total.m, rtol=1e-12, atol=1e-15)
    by_kind = take.pressure_fed.m + take.rotation_driven.m + take.jets.m
    np.testing.assert_allclose(by_kind, take.total.m, rtol=1e-12, atol=1e-15)
    for name in ("total", "pressure_fed", "rotation_driven", *PARTS):
        assert np.all(getattr(take, name).m >= 0.0), name
    assert np.all(take.rotation_driven.m[rpm == 0.0] <= 1e-12 * take.total.m[rpm == 0.0]), "at rest nothing is dragged"
    assert np.all(take.total.m[psi == 0.0] == 0.0), "without pressure nothing arrives to be dragged"


def test_an_engine_at_rest_lies_on_its_shells_and_its_film_is_as_warm_as_the_sump() -> None:
    """By hand, the mains of the V8 with feed holes so large that they cost nothing: eps 1, sump temperature."""
    engine = changed(V8, "mains", feed_hole=Q(100, "mm"), feed="full groove")
    oil = dataclasses.replace(STREET, high_shear=1.0)
    take = engine_demand(engine, oil, Q(50, "psig"), Q(0, "rpm"), Q(100, "degC"))
    viscosity = 10.6e-6 * 868 * (1 - 0.0007 * 85)
    land, radial = 0.325 * 0.0254, 1.25 * 2.54e-5
    one = math.pi * 1.225 * 0.0254 * radial**3 * 50 * 6894.757 * 2.5 / (3 * viscosity * land)
    assert take.mains.to("m**3/s").m == pytest.approx(5 * one, rel=1e-5)
    assert take.rotation_driven.m == pytest.approx(0.0, abs=1e-12)


def test_holes_by_hand() -> None:
    """16 restrictors of 0.022 in and, above 30 psi, 8 jets of 1.3 mm: C_d A sqrt(2 dp / rho)."""
    engine, oil = ENGINES["race_v8"], OILS["thick"]
    rho = 882 * (1 - 0.00068 * 85)
    for psi in (0.0, 20.0, 30.0, 31.0, 70.0):
        take = engine_demand(engine, oil, Q(psi, "psig"), Q(3000, "rpm"), Q(100, "degC"))
        pressure = psi * 6894.757293168
        lifters = 16 * 0.6 * math.pi / 4 * (0.022 * 0.0254) ** 2 * math.sqrt(2 * pressure / rho)
        above = max(pressure - 30 * 6894.757293168, 0.0)
        jets = 8 * 0.7 * math.pi / 4 * 1.3e-3**2 * math.sqrt(2 * above / rho)
        assert take.jets.to("m**3/s").m == pytest.approx(lifters + jets, rel=1e-9, abs=1e-15)


running = {
    "rpm": spread(100.0, 8000.0),
    "celsius": number(0.0, 150.0),
    "psi": number(0.5, 90.0),
    "thou": number(-0.5, 2.0),
}


@pytest.mark.parametrize(("engine", "oil"), PAIRS)
@examples(60)
@given(**running, times=spread(1.001, 2.0))
def test_an_engine_takes_more_at_more_pressure_and_with_more_clearance(
    engine: Engine, oil: Lubricant, rpm: float, celsius: float, psi: float, thou: float, times: float
) -> None:
    def total(psi: float = psi, thou: float = thou) -> float:
        take = engine_demand(engine, oil, Q(psi, "psig"), Q(rpm, "rpm"), Q(celsius, "degC"), Q(thou, "thou"))
        return float(take.total.m)

    assert total(psi=psi * times) > total()
    assert total(thou=thou + times - 1.0) > total()


def test_a_change_of_clearance_moves_mains_and_rods_and_leaves_the_cams() -> None:
    state = V8, STREET, Q(50, "psig"), Q(3000, "rpm"), Q(100, "degC")
    as_built, none, looser = (
        engine_demand(*state),
        engine_demand(*state, Q(0, "thou")),
        engine_demand(*state, Q(1, "th")),
    )
    assert none.total.m == as_built.total.m
    assert looser.cams.m == as_built.cams.m
    assert looser.jets.m == as_built.jets.m
    assert looser.mains.m > as_built.mains.m
    assert looser.rods.m > as_built.rods.m
    pressed, freely = (
        consumers(V8, STREET, 50.0, 373.15, change).mains["per_pascal"] for change in (0.0, 2.5 * 2.54e-5)
    )
    assert freely == pytest.approx(8.0 * pressed, rel=1e-9)


@pytest.mark.parametrize("function", [engine_demand, operating_point])
@pytest.mark.parametrize("thou", [-2.4, -3.0, [0.0, -2.45]])
def test_a_change_that_would_close_a_bearing_is_refused(function: Any, thou: Any) -> None:
    """The V8's rods have 2.4 thou, its mains 2.5."""
    state = (Q(3000, "rpm"), Q(100, "degC"), Q(thou, "thou"))
    more = (Q(50, "psig"),) if function is engine_demand else ()
    sentence = refused("clearance_change", lambda: function(V8, STREET, *more, *state))
    assert "close the bearing" in sentence


# ------------------------------------------------------------------------------------------------- where it settles

SPEEDS = np.linspace(0.0, 8000.0, 33)
CELSIUS = np.linspace(0.0, 150.0, 11)
THOU = np.linspace(-0.5, 2.0, 6)
SUPPLY = np.array([0.0, 1e-6, 0.003, 0.03, 0.1, 0.3, 0.6, 1.0])


def settled(engine: Engine, oil: Lubricant) -> OperatingPoint:
    """Every combination of the four lists above in one call."""
    rpm, celsius, thou, supply = np.meshgrid(SPEEDS, CELSIUS, THOU, SUPPLY, indexing="ij", sparse=True)
    return operating_point(engine, oil, Q(rpm, "rpm"), Q(celsius, "degC"), Q(thou, "thou"), supply)


@pytest.mark.parametrize("oil", OILS.values(), ids=list(OILS))
@pytest.mark.parametrize("engine", ENGINES.values(), ids=list(ENGINES))
def test_the_flows_balance_in_every_state(engine: Engine, oil: Lubricant) -> None:
    """To 1e-9 of the pump's flow, added up here from what is reported; nothing is NaN, negative or a warning."""
    point = settled(engine, oil)
    shape = len(SPEEDS), len(CELSIUS), len(THOU), len(SUPPLY)
    poured, let_go, taken = point.pump_flow.m, point.relief_flow.m, point.demand.total.m
    for numbers in (point.gallery_pressure.m, point.pump_pressure.m, poured, let_go, taken, point.residual):
        assert np.shape(numbers) == shape
        assert np.all(np.isfinite(numbers))
    assert np.shape(point.state) == shape
    assert np.all(np.abs(point.residual) <= 1e-9)
    assert np.all(np.abs(poured - let_go - taken) <= 1e-9 * poured)
    for numbers in (point.gallery_pressure.m, let_go, taken):
        assert np.all(numbers >= 0.0)
    assert np.all(point.pump_pressure.m >= point.gallery_pressure.m)
    opening = engine.pump.relief_opening.to("psig").m
    assert np.all((let_go > 0.0) == (point.pump_pressure.m > opening))


@pytest.mark.parametrize("oil", OILS.values(), ids=list(OILS))
@pytest.mark.parametrize("engine", ENGINES.values(), ids=list(ENGINES))
def test_the_compiled_balance_settles_at_the_same_pressure(engine: Engine, oil: Lubricant) -> None:
    """What thousands of draws and guessed engines are worked out with is the balance of the operating point."""
    point = operating_point(
        engine, oil, Q(SPEEDS[:, None, None], "rpm"), Q(CELSIUS[:, None], "degC"), Q(THOU, "thou")
    ).gallery_pressure.to("Pag")
    state = SPEEDS[:, None, None] / 60.0, CELSIUS[:, None] + 273.15, THOU * 2.54e-5
    assert settled_pressure(engine, oil, *state) == pytest.approx(point.m, rel=1e-9, abs=1e-6)


@pytest.mark.parametrize(("engine", "oil"), PAIRS)
def test_every_state_is_told_in_words(engine: Engine, oil: Lubricant) -> None:
    point = settled(engine, oil)
    pours = (SPEEDS[:, None, None, None] > 0.0) & (SUPPLY > 0.0) & np.ones_like(point.residual, dtype=bool)
    assert np.all((point.state == NO_PRESSURE) == ~pours)
    assert np.all(point.gallery_pressure.m[~pours] == 0.0)
    assert np.all(point.demand.total.m[~pours] == 0.0)
    assert np.all(point.gallery_pressure.m[pours] > 0.0)
    opens = point.relief_flow.m > 0.0
    assert np.all((point.state == RELIEF_OPEN) <= opens)
    assert np.all((point.state == RELIEF_SHUT) <= ~opens)
    assert set(np.unique(point.state)) == {NO_PRESSURE, STARVED, RELIEF_OPEN, RELIEF_SHUT}


@pytest.mark.parametrize(("engine", "oil"), PAIRS)
def test_bearings_go_short_exactly_where_it_is_said(engine: Engine, oil: Lubricant) -> None:
    """Starved: mains or rods get less than they drag, so all that arrives is dragged or pressed and none is left."""
    rpm = np.array([600.0, 3000.0, 7000.0])[:, None]
    supply = np.array([0.01, 0.05, 0.2, 1.0])
    point = operating_point(engine, oil, Q(rpm, "rpm"), Q(90, "degC"), None, supply)
    wanting = consumers(engine, oil, rpm / 60.0, 363.15)
    short = np.zeros((3, 4), dtype=bool)
    for name in ("mains", "rods"):
        short |= getattr(point.demand, name).to("m**3/s").m < getattr(wanting, name)["dragged"] * (1 - 1e-12)
    np.testing.assert_array_equal(point.state == STARVED, short)
    assert short.any()
    assert not short.all()


@pytest.mark.parametrize(
    ("speed", "supply", "words"),
    [
        (0.0, 1.0, NO_PRESSURE),
        (3000.0, 0.0, NO_PRESSURE),
        (0.0, 0.0, NO_PRESSURE),
        (3000.0, 1.0, RELIEF_OPEN),
        (700.0, 1.0, RELIEF_SHUT),
        (6000.0, 0.02, STARVED),
    ],
)
def test_one_state_is_one_text(speed: float, supply: float, words: str) -> None:
    """The street V8, hot. No oil pressure is an answer in words and never an exception."""
    point = operating_point(V8, STREET, Q(speed, "rpm"), Q(100, "degC"), None, supply)
    assert point.state == words
    assert type(point.state) is str
    for number_ in (point.gallery_pressure.m, point.pump_pressure.m, point.residual, point.demand.total.m):
        assert np.ndim(number_) == 0
        assert math.isfinite(number_)


@pytest.mark.parametrize(("engine", "oil"), [*PAIRS[:2], pytest.param(ENGINES["race_v8"], OILS["thick"], id="race_v8")])
def test_a_hundred_thousand_combinations_are_one_call(engine: Engine, oil: Lubricant) -> None:
    rpm = Q(np.linspace(0.0, 8000.0, 40)[:, None, None, None], "rpm")
    celsius = Q(np.linspace(0.0, 150.0, 25)[:, None, None], "degC")
    thou = Q(np.linspace(-0.5, 2.0, 10)[:, None], "thou")
    point = operating_point(engine, oil, rpm, celsius, thou, np.linspace(0.0, 1.0, 10))
    assert np.shape(point.gallery_pressure.m) == (40, 25, 10, 10)
    assert np.size(point.residual) == 100_000
    assert np.shape(point.demand.rods.m) == np.shape(point.state) == (40, 25, 10, 10)
    assert np.max(np.abs(point.residual)) <= 1e-9


@pytest.mark.parametrize(("engine", "oil"), PAIRS)
def test_an_array_gives_what_its_values_give_one_by_one(engine: Engine, oil: Lubricant) -> None:
    point = settled(engine, oil)
    dice = np.random.default_rng(7)
    for _ in range(40):
        place = tuple(int(dice.integers(n)) for n in np.shape(point.residual))
        i, j, k, m = place
        state = Q(SPEEDS[i], "rpm"), Q(CELSIUS[j], "degC"), Q(THOU[k], "thou"), SUPPLY[m]
        alone = operating_point(engine, oil, *state)
        assert alone.state == point.state[place]
        for name in ("gallery_pressure", "pump_pressure", "pump_flow", "relief_flow"):
            one, many = getattr(alone, name), getattr(point, name)
            assert one.units == many.units
            assert one.m == pytest.approx(many.m[place], rel=1e-9, abs=1e-12), name
        for name in ("total", "pressure_fed", "rotation_driven", *PARTS):
            one, many = getattr(alone.demand, name), getattr(point.demand, name)
            assert one.m == pytest.approx(many.m[place], rel=1e-7, abs=1e-12), name


@pytest.mark.parametrize(("engine", "oil"), PAIRS)
def test_what_is_reported_is_what_the_engine_takes_at_that_pressure(engine: Engine, oil: Lubricant) -> None:
    rpm = Q(np.linspace(500.0, 8000.0, 16), "rpm")
    point = operating_point(engine, oil, rpm, Q(100, "degC"), Q(0.5, "thou"))
    take = engine_demand(engine, oil, point.gallery_pressure, rpm, Q(100, "degC"), Q(0.5, "thou"))
    for name in ("total", *PARTS):
        np.testing.assert_allclose(getattr(take, name).m, getattr(point.demand, name).m, rtol=1e-9)
    e = engine.pump
    # what is lost at 3000 rpm, 50 psi and 9 mPa s is lost in proportion to pressure over viscosity, at any speed
    thin = viscosity_of(oil.si, 373.15)
    lost = (1.0 - e.efficiency.m) * 3000.0 * point.pump_pressure.m / 50.0 * 0.009 / thin
    poured = e.displacement.m_as("gallon/rev") * e.ratio.m * (rpm.m - lost)
    np.testing.assert_allclose(point.pump_flow.m_as("gpm"), poured, rtol=1e-9)
    there = pump_efficiency(rpm, point.pump_pressure, Q(thin, "Pa s"), e.efficiency)
    np.testing.assert_allclose(pump_flow(rpm, e.displacement, e.ratio, there).m_as("gpm"), poured, rtol=1e-9)
    valve = e.relief_opening, e.relief_rated_pressure, e.relief_rated_flow
    np.testing.assert_allclose(point.relief_flow.m, relief_flow(point.pump_pressure, *valve).m, rtol=1e-9, atol=1e-12)


@pytest.mark.parametrize(("engine", "oil"), PAIRS)
@examples(60)
@given(rpm=spread(50.0, 8000.0), celsius=number(0.0, 150.0), thou=number(-0.5, 1.9), supply=spread(0.001, 1.0))
def test_less_oil_at_the_pick_up_or_more_clearance_never_gives_more_pressure(
    engine: Engine, oil: Lubricant, rpm: float, celsius: float, thou: float, supply: float
) -> None:
    state = engine, oil, Q(rpm, "rpm"), Q(celsius, "degC")
    here, less, looser = (
        operating_point(*state, Q(change, "thou"), share).gallery_pressure.m
        for change, share in ((thou, supply), (thou, 0.9 * supply), (thou + 0.1, supply))
    )
    assert less < here
    assert looser < here * (1.0 + 1e-12)


@pytest.mark.parametrize(("engine", "oil"), PAIRS)
@pytest.mark.parametrize("kelvin", [200.0, 233.15, 423.15, 600.0])
def test_cold_and_hot_extremes_give_no_warning(engine: Engine, oil: Lubricant, kelvin: float) -> None:
    """The whole range of the door, film included; the tests run with warnings as errors."""
    rpm = Q([0.0, 1e-9, 0.1, 100.0, 3000.0, 29_999.0], "rpm")
    kelvin = min(kelvin, 600.0)
    point = operating_point(engine, oil, rpm, Q(kelvin, "K"))
    assert np.all(np.isfinite(point.gallery_pressure.m))
    assert np.max(np.abs(point.residual)) <= 1e-9
    assert np.all(np.isfinite(engine_demand(engine, oil, Q(1000, "psig"), rpm, Q(kelvin, "K")).total.m))


def test_a_cooler_is_one_more_thing_on_the_way() -> None:
    """Without it gallery and pump lie closer together by its own drop."""
    engine, oil = ENGINES["race_v8"], OILS["thick"]
    tight = dataclasses.replace(engine.pump, efficiency=1.0)  # the same flow, whatever it has to press against
    engine = dataclasses.replace(engine, pump=tight)
    without = dataclasses.replace(engine, cooler=None)
    state = oil, Q(2000, "rpm"), Q(100, "degC")
    with_it, bare = operating_point(engine, *state), operating_point(without, *state)
    assert with_it.state == bare.state == RELIEF_SHUT
    assert with_it.gallery_pressure.m == pytest.approx(bare.gallery_pressure.m, rel=1e-9)
    flow = with_it.demand.total.to("gpm").m
    viscosity = 18.4e-6 * 882 * (1 - 0.00068 * 85) / 9e-3
    cost = with_it.pump_pressure.m - bare.pump_pressure.m
    assert cost == pytest.approx(4.0 * flow / 10.0 * viscosity, rel=1e-6)


def test_an_empty_list_of_speeds_gives_an_empty_answer() -> None:
    point = operating_point(V8, STREET, Q(np.array([]), "rpm"), Q(100, "degC"))
    assert np.shape(point.gallery_pressure.m) == np.shape(point.state) == (0,)


@pytest.mark.parametrize(
    ("argument", "value"),
    [
        ("speed", Q(-1, "rpm")),
        ("speed", Q(50, "Hz")),
        ("speed", 3000),
        ("sump_temperature", Q(100, "delta_degC")),
        ("sump_temperature", 100),
        ("clearance_change", Q(1, "psi")),
        ("supply", 1.01),
        ("supply", -0.01),
        ("supply", "full"),
    ],
)
def test_a_bad_argument_is_one_sentence(argument: str, value: Any) -> None:
    good = {"speed": Q(3000, "rpm"), "sump_temperature": Q(100, "degC")}
    refused(argument, lambda: operating_point(V8, STREET, **(good | {argument: value})))
    if argument != "supply":
        refused(argument, lambda: engine_demand(V8, STREET, Q(50, "psig"), **(good | {argument: value})))


def test_demand_wants_a_gauge_pressure() -> None:
    for value in (Q(50, "psia"), Q(50, "psi"), 50):
        refused("gallery_pressure", lambda value=value: engine_demand(V8, STREET, value, Q(0, "rpm"), Q(90, "degC")))


# ------------------------------------------------------------------------------------- numbers that must go together


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ('redline = "7000 rpm"', 'redline = "850 rpm"', "redline"),
        ('warning = "20 psi"', 'warning = "8 psi"', "warning"),
        ('wanted = "55 psi"', 'wanted = "19 psi"', "wanted"),
        ('relief_rated_pressure = "74 psi"', 'relief_rated_pressure = "62 psi"', "pump.relief_rated_pressure"),
        ('full_height = "85 mm"', 'full_height = "15 mm"', "pan.full_height"),
        ('windage_height = "105 mm"', 'windage_height = "80 mm"', "pan.windage_height"),
        ('crank_nearest = "10 mm"', 'crank_nearest = "25 mm"', "mains.diameter"),
        ('width = "19 mm"\ndiametral', 'width = "4 mm"\ndiametral', "mains.width"),
        ('feed_hole = "5 mm"', 'feed_hole = "9.5 mm"', "rods.width"),
        ('feed_hole = "2 mm"', 'feed_hole = "9 mm"', "cams.width"),
        ('diameter = "26 mm"', 'diameter = "12 mm"', "cams.diameter"),
    ],
)
def test_an_engine_whose_numbers_do_not_go_together_is_refused(tmp_path: Path, old: str, new: str, key: str) -> None:
    text = data_file("engines.toml").read_text(encoding="utf-8")
    assert old in text
    path = tmp_path / "mine.toml"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    sentence = refused(f"mine.toml, [small_four], {key}", lambda: engines(path))
    assert "more than" in sentence


# ------------------------------------------------------------------------------- found by looking for trouble


def test_the_flows_balance_where_the_rods_just_begin_to_drink() -> None:
    """Found among a million random states: here 8e-9 of the pump's flow is missing."""
    state = Q(6173.270152565648, "rpm"), Q(10.744545557775215, "degC"), Q(0.11012884283583624, "thou")
    point = operating_point(V8, OILS["straight"], *state, 0.10839434392860126)
    assert abs(point.residual) <= 1e-9


@pytest.mark.parametrize("part", ["mains", "rods", "cams"])
def test_each_bearing_has_a_feed_hole_of_its_own(part: str) -> None:
    """A single one takes a fifth of what five take."""
    at = STREET, Q(60, "psig"), Q([0, 900, 6500], "rpm"), Q(100, "degC")
    one, five = (getattr(engine_demand(changed(V8, part, count=count), *at), part) for count in (1, 5))
    assert five.m == pytest.approx(5.0 * one.m, rel=1e-9)


@pytest.mark.parametrize("part", BEARINGS)
def test_an_engine_may_have_none_of_some_bearings(part: str) -> None:
    """Such as no cam bearings on this gallery: jets may be 0 too."""
    point = operating_point(changed(V8, part, count=0), STREET, Q(3000, "rpm"), Q(100, "degC"))
    assert getattr(point.demand, part).m == 0.0


@pytest.mark.parametrize("function", [engine_demand, operating_point])
def test_arrays_that_do_not_fit_together_are_refused_in_one_sentence(function: Any) -> None:
    more = (Q(50, "psig"),) if function is engine_demand else ()
    refused(None, lambda: function(V8, STREET, *more, Q([1000, 2000, 3000], "rpm"), Q([90, 100], "degC")))


def test_a_jet_that_opens_below_ambient_pressure_is_refused() -> None:
    engine = changed(V8, "jets", count=4, opens_at=Q(-5, "psig"))
    refused("opens_at", lambda: operating_point(engine, STREET, Q(10, "rpm"), Q(100, "degC")))


def test_a_groove_wider_than_its_bearing_is_refused() -> None:
    """Its lands would be negative, and so would its flow."""
    engine = changed(V8, "mains", groove_width=Q(0.9, "in"))
    refused(None, lambda: operating_point(engine, STREET, Q(3000, "rpm"), Q(100, "degC")))


@pytest.mark.parametrize("feed", ["half groove", "full groove"])
def test_what_a_grooved_main_takes_is_what_its_film_takes(feed: str) -> None:
    """Pressed and dragged together against the Reynolds equation in the whole film: groove at 50 psi, 6000 rpm.

    Allowed 12 %: what the pressed part alone may be off for oil that runs round a groove's ends.
    """
    diameter, width, groove, radial = 2.45 * 0.0254, 0.8 * 0.0254, 0.15 * 0.0254, 1.25 * 2.54e-5
    omega, pressure, reach = 2 * math.pi * 100.0, 50 * 6894.757, math.pi if feed == "full groove" else math.pi / 2
    engine = changed(V8, "mains", feed=feed, feed_hole=Q(100, "mm"))
    film = consumers(engine, STREET, 100.0, 373.15)
    got = bearing_take(pressure, **film.mains)[0] / 5
    land = (Q(diameter, "m"), Q(2 * radial, "m"), Q((width - groove) / 2, "m"), Q(1, "Pa"))
    unit = groove_flow(*land, Q(1, "Pa*s"), 0.7).to("m**3/s").m
    share = half_groove_share(0.7).m if feed == "half groove" else 1.0
    viscosity = unit * share / (film.mains["per_pascal"] / 5)
    scale = 6 * viscosity * omega * (diameter / 2 / radial) ** 2

    def grooved(t: Any, z: Any) -> Any:
        return (np.abs(t) <= reach + 1e-9) & (z <= groove / width + 1e-9)

    whole = film_flow(width / diameter, 0.7, grooved, pressure / scale, across=32)
    assert got == pytest.approx(whole * radial * omega * (diameter / 2) ** 3 / width, rel=0.12)
