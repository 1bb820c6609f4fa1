"""The vessel: oil, piston, pre-charge and filling."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable
from typing import Any

import numpy as np
import outside_checks
import pytest
from sentences import refused

import oilkit
from oilkit import (
    InputError,
    Q,
    Vessel,
    absolute_pressure,
    ambient_pressure,
    bore_from_travel,
    fill,
    fill_fraction,
    gas_time_constant,
    oil_stored,
    piston_travel,
    precharge_at_temperature,
    precharge_to_set,
    rule_reading,
    use_units,
)
from oilkit.physics.vessel import Filling
from oilkit.quantities.units import Qty

ATMOSPHERE = 101_325.0
PSI = 6894.757293168361

# ---------------------------------------------------------------------------------------------------------- oil


def test_a_vessel_whose_absolute_pressure_doubles_is_half_full() -> None:
    ambient = Q(14.7, "psia")
    oil = oil_stored(Q(3, "qt"), Q(10, "psig"), Q(34.7, "psig"), ambient)
    assert oil.to("qt").m == pytest.approx(1.5, rel=1e-12)
    assert str(oil.units) == "quart"


def test_without_heat_exchange_it_holds_less() -> None:
    oil = oil_stored(Q(3, "qt"), Q(10, "psig"), Q(34.7, "psig"), Q(14.7, "psia"), 1.4)
    assert oil.to("qt").m == pytest.approx(3.0 * (1.0 - 2.0 ** (-5 / 7)), rel=1e-12)


def test_up_the_mountain_the_same_dials_mean_more_oil() -> None:
    """Both readings stand on less air, so the ratio of the absolute pressures is larger."""
    sea = oil_stored(Q(3, "qt"), Q(10, "psig"), Q(40, "psig")).m
    mountain = oil_stored(Q(3, "qt"), Q(10, "psig"), Q(40, "psig"), ambient_pressure(Q(1600, "m"))).m
    expected = 3.0 * (1.0 - (10 * PSI + 83_523.526) / (40 * PSI + 83_523.526))
    assert mountain == pytest.approx(expected, rel=1e-7)
    assert mountain > sea


def test_at_its_pre_charge_a_vessel_is_empty() -> None:
    assert oil_stored(Q(3, "qt"), Q(10, "psig"), Q(10, "psig")).m == pytest.approx(0.0, abs=1e-15)


def test_at_its_pre_charge_a_vessel_is_empty_in_whatever_unit_either_is_given() -> None:
    """One pressure in bar and in psi may differ in the sixteenth digit. That is no pre-charge above the pressure."""
    for number in np.linspace(-10.0, 100.0, 221):
        for unit in ("barg", "kPag", "Pag"):
            there_and_back = Q(float(number), "psig").to(unit).to("psig")
            try:
                oil = oil_stored(Q(3, "qt"), Q(float(number), "psig"), there_and_back)
            except InputError as problem:
                pytest.fail(f"refused: {problem}")
            assert oil.m == pytest.approx(0.0, abs=1e-12)


def test_below_its_pre_charge_a_vessel_is_empty_and_that_is_said() -> None:
    sentence = refused("precharge", lambda: oil_stored(Q(3, "qt"), Q(10, "psig"), Q(9, "psig")))
    assert "got 10.0 psig" in sentence
    assert "above the oil pressure of 9.0 psig" in sentence
    assert "piston rests" in sentence


def test_the_two_pressures_of_a_refusal_never_read_the_same() -> None:
    sentence = refused("precharge", lambda: oil_stored(Q(3, "qt"), Q(10.000001, "psig"), Q(10, "psig")))
    charge = sentence.split("got ")[1].split(" psig")[0]
    pressure = sentence.split("oil pressure of ")[1].split(" psig")[0]
    assert float(charge) > float(pressure), sentence


def test_the_refusal_speaks_of_the_pair_that_is_wrong() -> None:
    sentence = refused("precharge", lambda: oil_stored(Q(3, "qt"), Q([[5.0], [20.0]], "psig"), Q([30.0, 19.0], "psig")))
    assert "got 20.0 psig" in sentence
    assert "19.0 psig" in sentence


def test_the_refusal_follows_the_learners_units() -> None:
    use_units("SI")
    sentence = refused("precharge", lambda: oil_stored(Q(3, "L"), Q(0.7, "barg"), Q(0.6, "barg")))
    assert "0.70 barg" in sentence
    assert "0.60 barg" in sentence
    assert "psi" not in sentence


def test_a_resting_piston_is_no_mistake_on_a_curve() -> None:
    curve = oil_stored(Q(3, "qt"), Q(10, "psig"), Q([0.0, 5.0, 10.0, 34.7], "psig"), Q(14.7, "psia"), resting=True)
    np.testing.assert_allclose(curve.to("qt").m, [0.0, 0.0, 0.0, 1.5], rtol=1e-12, atol=1e-15)


@pytest.mark.parametrize("argument", ["precharge", "pressure"])
@pytest.mark.parametrize("resting", [False, True])
def test_below_a_vacuum_there_is_no_gauge_pressure_and_the_right_argument_is_named(
    argument: str, resting: bool
) -> None:
    values = {"precharge": Q(10, "psig"), "pressure": Q(30, "psig")} | {argument: Q(-15, "psig")}
    sentence = refused(argument, lambda: oil_stored(Q(3, "qt"), **values, resting=resting))
    assert "above -14.6959" in sentence


# ---------------------------------------------------------------------------------------------- cylinder and piston


def test_fill_fraction() -> None:
    assert fill_fraction(Q(1, "L"), Q(4, "L")).m == pytest.approx(0.25, rel=1e-12)
    assert fill_fraction(Q(0, "L"), Q(4, "L")).m == 0.0
    assert fill_fraction(Q(1, "gal"), Q(4, "qt")).m == pytest.approx(1.0, rel=1e-12)


def test_gas_takes_on_its_walls_temperature_by_its_mass_and_its_wall() -> None:
    """Twice the absolute pressure, twice the heat; half the heat transfer, twice the time; more space, more wall."""
    vessel = Q(3, "L"), Q(100, "mm")
    base = gas_time_constant(*vessel, Q(0, "psig"), Q(40, "degC"), Q(3, "L"))
    heavy = gas_time_constant(*vessel, Q(101_325.0, "Pag"), Q(40, "degC"), Q(3, "L"))
    assert heavy.m == pytest.approx(2.0 * base.m, rel=1e-9)
    lazy = gas_time_constant(*vessel, Q(0, "psig"), Q(40, "degC"), Q(3, "L"), Q(3.5, "W/m**2/K"))
    assert lazy.m == pytest.approx(2.0 * base.m, rel=1e-9)
    wall = [
        2.0 * math.pi / 4.0 * 0.01 + math.pi * 0.1 * liters * 1e-3 / (math.pi / 4.0 * 0.01) for liters in (3.0, 1.0)
    ]
    squeezed = gas_time_constant(*vessel, Q(0, "psig"), Q(40, "degC"), Q(1, "L"))
    assert (squeezed / base).m == pytest.approx(wall[0] / wall[1], rel=1e-9)
    assert gas_time_constant(*vessel, Q(0, "psig"), Q(40, "degC"), Q(3, "L"), Q(0, "W/m**2/K")).m == math.inf


def test_more_oil_than_the_vessel_holds_is_refused() -> None:
    refused("space", lambda: gas_time_constant(Q(3, "L"), Q(4, "in"), Q(10, "psig"), Q(40, "degC"), Q(3.1, "L")))
    sentence = refused("oil", lambda: fill_fraction(Q(4, "qt"), Q(3, "qt")))
    assert "got 4.00 qt" in sentence
    assert "3.00 qt" in sentence


def test_a_full_vessel_is_full_in_whatever_unit_either_is_given_and_a_drop_more_is_refused() -> None:
    for number in np.linspace(0.5, 20.0, 196):
        volume = Q(float(number), "qt")
        for unit in ("L", "gal", "in**3", "cc"):
            try:
                assert fill_fraction(volume.to(unit).to("qt"), volume).m == pytest.approx(1.0, rel=1e-12)
            except InputError as problem:
                pytest.fail(f"refused: {problem}")
        refused("oil", lambda volume=volume: fill_fraction(volume * 1.001, volume))


def test_the_fill_sentence_speaks_of_the_pair_that_is_wrong() -> None:
    """4 qt in 5 qt is right; it is the 1 qt in half a quart that is not."""
    sentence = refused("oil", lambda: fill_fraction(Q([1.0, 4.0], "qt"), Q([0.5, 5.0], "qt")))
    assert "got 1.00 qt" in sentence
    assert "0.50 qt" in sentence


def test_piston_travel_is_a_cylinders_height() -> None:
    travel = piston_travel(Q(1.5, "qt"), Q(4.5, "in")).to("in").m
    assert travel == pytest.approx(1.5 * 57.75 / (math.pi * 2.25**2), rel=1e-12)
    assert piston_travel(Q(0, "qt"), Q(4.5, "in")).m == 0.0


def test_half_the_bore_four_times_the_travel() -> None:
    wide, narrow = (piston_travel(Q(1, "qt"), Q(bore, "in")).m for bore in (4.0, 2.0))
    assert narrow == pytest.approx(4.0 * wide, rel=1e-12)


def test_bore_from_travel_is_the_way_back() -> None:
    for bore in (50.0, 92.7, 125.0):
        travel = piston_travel(Q(0.473, "L"), Q(bore, "mm"))
        assert bore_from_travel(Q(0.473, "L"), travel).to("mm").m == pytest.approx(bore, rel=1e-12)


def test_a_bore_of_nothing_is_refused() -> None:
    refused("bore", lambda: piston_travel(Q(1, "qt"), Q(0, "in")))
    refused("bore", lambda: rule_reading(Q(1, "qt"), Q(0, "mm"), Q(0, "mm")))
    refused("travel", lambda: bore_from_travel(Q(1, "qt"), Q(0, "mm")))


def test_the_rule_starts_at_its_zero_mark() -> None:
    assert rule_reading(Q(0, "qt"), Q(4.5, "in"), Q(0.5, "in")).to("in").m == pytest.approx(0.5, rel=1e-12)
    travel = piston_travel(Q(1.5, "qt"), Q(4.5, "in")).to("in").m
    assert rule_reading(Q(1.5, "qt"), Q(4.5, "in"), Q(0.5, "in")).to("in").m == pytest.approx(0.5 + travel, rel=1e-12)


def test_the_stroke_is_the_travel_for_all_the_oil_there_could_be() -> None:
    vessel = Vessel("invented", Q(3, "qt"), Q(4.5, "in"), Q(150, "psig"))
    assert vessel.stroke.to("in").m == pytest.approx(3 * 57.75 / (math.pi * 2.25**2), rel=1e-12)


# ------------------------------------------------------------------------------------------------------- pre-charge


def test_a_warm_pre_charge_follows_the_gas_law_on_absolute_values() -> None:
    hot = precharge_at_temperature(Q(10, "psig"), Q(20, "degC"), Q(90, "degC")).to("Pag").m
    assert hot == pytest.approx((10 * PSI + ATMOSPHERE) * 363.15 / 293.15 - ATMOSPHERE, rel=1e-12)


def test_the_way_back_to_the_shop() -> None:
    setting = precharge_to_set(Q(10, "psig"), Q(20, "degC"), Q(90, "degC")).to("Pag").m
    assert setting == pytest.approx((10 * PSI + ATMOSPHERE) * 293.15 / 363.15 - ATMOSPHERE, rel=1e-12)


def test_set_at_sea_level_and_read_on_the_mountain() -> None:
    """Same gas, same temperature: the dial shows more by exactly the air that is missing."""
    ambient = ambient_pressure(Q(1600, "m"))
    there = precharge_at_temperature(Q(10, "psig"), Q(20, "degC"), Q(20, "degC"), ambient=ambient).to("Pag").m
    assert there == pytest.approx(10 * PSI + ATMOSPHERE - ambient.to("Paa").m, rel=1e-12)
    back = precharge_to_set(Q(there, "Pag"), Q(20, "degC"), Q(20, "degC"), ambient=ambient).to("psig").m
    assert back == pytest.approx(10.0, rel=1e-12)


def test_so_little_that_no_shop_setting_reaches_it_comes_out_negative() -> None:
    assert precharge_to_set(Q(0.5, "psig"), Q(20, "degC"), Q(90, "degC")).m < 0.0


def test_a_pre_charge_below_a_vacuum_is_refused_by_its_own_name() -> None:
    refused("precharge", lambda: precharge_at_temperature(Q(-15, "psig"), Q(20, "degC"), Q(90, "degC")))
    refused("working_precharge", lambda: precharge_to_set(Q(-15, "psig"), Q(20, "degC"), Q(90, "degC")))


def test_each_ambient_limits_the_reading_taken_under_it() -> None:
    """-13 psig is a pre-charge at sea level and is none under 12 psia."""
    thin = Q(12, "psia")
    precharge_at_temperature(Q(-13, "psig"), Q(20, "degC"), Q(20, "degC"), ambient=thin)
    refused(
        "precharge",
        lambda: precharge_at_temperature(Q(-13, "psig"), Q(20, "degC"), Q(20, "degC"), ambient_when_set=thin),
    )
    precharge_to_set(Q(-13, "psig"), Q(20, "degC"), Q(20, "degC"), ambient_when_set=thin)
    refused("working_precharge", lambda: precharge_to_set(Q(-13, "psig"), Q(20, "degC"), Q(20, "degC"), ambient=thin))


# ---------------------------------------------------------------------------------------------------------- filling

BENCH = Vessel("invented", Q(3, "qt"), Q(4.5, "in"), Q(150, "psig"))


def filled(**changes: Any) -> Filling:
    """A usual filling of an invented vessel, with something changed."""
    values: dict[str, Any] = {
        "vessel": BENCH,
        "precharge": Q(10, "psig"),
        "pressure": Q(50, "psig"),
        "flow": Q(4, "gpm"),
        "gas_temperature": Q(20, "degC"),
        "thermal_time_constant": Q(5, "s"),
    }
    return fill(**(values | changes))


def half_way(filling: Filling) -> int:
    """The place in the history of the moment when the pressure is reached."""
    return (len(filling.time.m) - 1) // 2


@pytest.mark.parametrize("tau", [0.0, 5.0, math.inf])
@pytest.mark.parametrize("steps", [1, 7, 400])
def test_a_filling_has_as_many_moments_as_it_says(tau: float, steps: int) -> None:
    filling = filled(thermal_time_constant=Q(tau, "s"), steps=steps)
    for history in (filling.time, filling.oil, filling.gas_temperature, filling.pressure):
        assert np.shape(history.m) == (2 * steps + 1,)
    assert np.all(np.diff(filling.time.m) > 0.0)


def test_a_filling_starts_empty_at_the_walls_temperature_and_the_pre_charge() -> None:
    filling = filled()
    assert filling.time.m[0] == 0.0
    assert filling.oil.m[0] == pytest.approx(0.0, abs=1e-12)
    assert filling.gas_temperature.to("degC").m[0] == pytest.approx(20.0, abs=1e-9)
    assert filling.pressure.to("psig").m[0] == pytest.approx(10.0, rel=1e-12)


def test_while_the_pump_is_the_limit_the_oil_rises_with_its_flow() -> None:
    filling = filled()
    pumped = filling.time.to("s").m[: half_way(filling) + 1] * Q(4, "gpm").to("qt/s").m
    np.testing.assert_allclose(filling.oil.to("qt").m[: half_way(filling) + 1], pumped, rtol=1e-9, atol=1e-12)
    assert filling.at_pressure.to("s").m == pytest.approx(filling.time.to("s").m[half_way(filling)], rel=1e-12)
    assert filling.prompt_oil.to("qt").m == pytest.approx(filling.oil.to("qt").m[half_way(filling)], rel=1e-9)


def test_watching_for_longer_brings_the_gas_nearer_to_its_wall() -> None:
    """Held at one pressure the gas loses its excess as exp(-t / (1.4 tau))."""
    for settle in (1.0, 5.0, 12.0):
        filling = filled(settle=settle)
        excess = filling.gas_temperature.to("degC").m - 20.0
        assert excess[-1] / excess[half_way(filling)] == pytest.approx(math.exp(-settle), rel=1e-8)
        watched = filling.time.to("s").m[-1] - filling.at_pressure.to("s").m
        assert watched == pytest.approx(settle * 1.4 * 5.0, rel=1e-9)


def test_watching_for_no_time_ends_the_history_at_the_pressure() -> None:
    filling = filled(settle=0.0)
    assert filling.time.m[-1] == pytest.approx(filling.at_pressure.m, rel=1e-12)
    assert filling.settled_oil.m > filling.prompt_oil.m


@pytest.mark.parametrize(
    ("precharge", "pressure", "flow", "tau"),
    [
        (10, 50, 4, 5),
        (10, 50, 0.1, 1),
        (20, 21, 4, 5),
        (5, 100, 4, 1),
        (0, 100, 1, 0.1),
        (0, 150, 1, 0.1),
    ],
)
def test_the_prompt_oil_is_as_exact_as_promised(precharge: float, pressure: float, flow: float, tau: float) -> None:
    """Below 1e-5 (oil) and 2e-5 (temperature) at 400 steps, against an independent integrator, up to the rating."""
    filling = filled(
        precharge=Q(precharge, "psig"),
        pressure=Q(pressure, "psig"),
        flow=Q(flow, "gpm"),
        thermal_time_constant=Q(tau, "s"),
    )
    rate = Q(flow, "gpm").to("m**3/s").m
    at, kelvin = outside_checks.integrated_fill(
        Q(3, "qt").to("m**3").m,
        precharge * PSI + ATMOSPHERE,
        pressure * PSI + ATMOSPHERE,
        rate,
        293.15,
        tau,
    )
    assert filling.prompt_oil.to("m**3").m == pytest.approx(rate * at, rel=1e-5)
    assert filling.gas_temperature.to("K").m[half_way(filling)] == pytest.approx(kelvin, rel=2e-5)


def test_error_falls_with_the_square_of_the_step() -> None:
    rate = Q(4, "gpm").to("m**3/s").m
    at, _ = outside_checks.integrated_fill(
        Q(3, "qt").to("m**3").m, 10 * PSI + ATMOSPHERE, 50 * PSI + ATMOSPHERE, rate, 293.15, 5.0
    )
    errors = [abs(filled(steps=steps).prompt_oil.to("m**3").m / (rate * at) - 1.0) for steps in (10, 20, 40)]
    assert 3.7 < errors[0] / errors[1] < 4.3
    assert 3.7 < errors[1] / errors[2] < 4.3


@pytest.mark.parametrize("flow", [1e-6, 1e-3, 1e3, 1e6, 1e9])
def test_the_pressure_is_reached_at_any_flow(flow: float) -> None:
    filling = filled(flow=Q(flow, "gpm"))
    reached = absolute_pressure(filling.pressure).to("Paa").m[half_way(filling)]
    assert reached == pytest.approx(50 * PSI + ATMOSPHERE, rel=1e-9)


@pytest.mark.parametrize("excess", [1.0, 1e-3, 1e-6, 1e-9])
def test_a_pressure_a_hair_above_the_pre_charge_still_fills(excess: float) -> None:
    filling = filled(pressure=Q(10 + excess, "psig"))
    charge, goal = 10 * PSI + ATMOSPHERE, (10 + excess) * PSI + ATMOSPHERE
    assert filling.settled_oil.to("qt").m == pytest.approx(3 * (goal - charge) / goal, rel=1e-4)
    assert 0.0 < filling.prompt_oil.m <= filling.settled_oil.m


@pytest.mark.parametrize("tau", [1e-300, 1e-200, 1e-9, 1e-3, 1e9, 1e300])
def test_a_filling_goes_over_into_both_limits(tau: float) -> None:
    """No warning and no wrong number on the way to 0 and to infinite."""
    limit = filled(thermal_time_constant=Q(0.0 if tau < 1.0 else math.inf, "s"))
    filling = filled(thermal_time_constant=Q(tau, "s"))
    assert filling.prompt_oil.m == pytest.approx(limit.prompt_oil.m, rel=1e-4)


@pytest.mark.parametrize("pressure", [10.0, 9.0])
def test_no_fill_without_pressure_above_the_pre_charge(pressure: float) -> None:
    sentence = refused("precharge", lambda: filled(pressure=Q(pressure, "psig")))
    assert "10.0 psig" in sentence
    assert f"{pressure} psig" in sentence


FILL_WRONG: list[tuple[str, Any]] = [
    ("precharge", 10),
    ("precharge", Q(10, "psi")),
    ("precharge", Q(24.7, "psia")),
    ("precharge", Q(-15, "psig")),
    ("precharge", None),
    ("pressure", Q(math.nan, "psig")),
    ("pressure", Q(64.7, "psia")),
    ("pressure", "50 psi"),
    ("flow", Q(0, "gpm")),
    ("flow", Q(-4, "gpm")),
    ("flow", Q(math.inf, "gpm")),
    ("flow", Q(4, "gal")),
    ("gas_temperature", 20),
    ("gas_temperature", Q(1000, "degC")),
    ("thermal_time_constant", Q(-1, "s")),
    ("thermal_time_constant", Q(math.nan, "s")),
    ("thermal_time_constant", 5),
    ("ambient", Q(0, "psig")),
    ("ambient", Q(1013.25, "Pa")),
    ("ambient", True),
]


@pytest.mark.parametrize(("argument", "value"), FILL_WRONG, ids=[f"{a}-{v!s}" for a, v in FILL_WRONG])
def test_fill_refuses_wrong_input_by_name(argument: str, value: Any) -> None:
    refused(argument, lambda: filled(**{argument: value}))


@pytest.mark.parametrize(
    ("argument", "value"),
    [
        ("precharge", Q([10.0, 12.0], "psig")),
        ("pressure", Q([50.0, 60.0], "psig")),
        ("flow", Q([4.0, 5.0], "gpm")),
        ("gas_temperature", Q([20.0, 30.0], "degC")),
        ("thermal_time_constant", Q([5.0, 6.0], "s")),
        ("ambient", Q([14.7, 14.0], "psia")),
    ],
    ids=lambda part: part if isinstance(part, str) else "several",
)
def test_fill_is_one_fill_and_says_so_for_several_values(argument: str, value: Qty) -> None:
    refused(argument, lambda: filled(**{argument: value}))


@pytest.mark.parametrize("steps", [0, -1, 2.5, "400"])
def test_fill_refuses_steps_that_are_none(steps: Any) -> None:
    refused("steps", lambda: filled(steps=steps))


@pytest.mark.parametrize("settle", [-1.0, math.nan, math.inf, "5"])
def test_fill_refuses_a_settling_that_is_none(settle: Any) -> None:
    refused("settle", lambda: filled(settle=settle))


def test_a_vessel_of_bare_numbers_is_refused_when_it_is_used() -> None:
    bare: Any = 3
    refused("gas_volume", lambda: filled(vessel=Vessel("invented", bare, Q(4.5, "in"), Q(150, "psig"))))
    refused("bore", lambda: Vessel("invented", Q(3, "qt"), bare, Q(150, "psig")).stroke)


# ------------------------------------------------------------------------------------------- the vessel's rating

LOW = Vessel("low rating, invented", Q(3, "qt"), Q(4.5, "in"), Q(50, "psig"))
LOW_BUILT = dataclasses.replace(oilkit.usual_installation(), vessel=LOW)
WIDE = oilkit.fittings()["wide_valve"]
HOT, COLD = Q(90, "degC"), Q(5, "degC")

ABOVE_RATING: dict[str, Callable[..., Any]] = {
    "fill": lambda **p: fill(LOW, flow=Q(4, "gpm"), gas_temperature=HOT, thermal_time_constant=Q(5, "s"), **p),
    "discharge": lambda **p: oilkit.discharge(LOW_BUILT, Q(1, "s"), **p),
    "first_dip": lambda **p: oilkit.first_dip(LOW_BUILT, **p),
    "overnight": lambda **p: oilkit.overnight(
        LOW, LOW_BUILT.oil, gas_temperature=HOT, oil_temperature=HOT, morning_temperature=COLD, **p
    ),
    "pre_lube": lambda **p: oilkit.pre_lube(LOW_BUILT, WIDE, temperature=COLD, **p),
    "stall": lambda **p: oilkit.stall(LOW_BUILT, WIDE, oil_temperature=HOT, gas_temperature=HOT, **p),
    "burst_hose": lambda **p: oilkit.burst_hose(
        LOW_BUILT, WIDE, speed=Q(3000, "rpm"), oil_temperature=HOT, gas_temperature=HOT, **p
    ),
    "precharge_map": lambda **p: oilkit.precharge_map(
        LOW_BUILT, Q([5.0, p["precharge"].m_as("psig")], "psig"), Q([1, 2], "s"), pressure=p["pressure"]
    ),
    "robust_choice": lambda **p: oilkit.robust_choice(
        LOW_BUILT, Q([5.0, p["precharge"].m_as("psig")], "psig"), Q(1, "s"), draws=2, pressure=p["pressure"]
    ),
}


@pytest.mark.parametrize("name", ABOVE_RATING)
def test_a_pressure_above_the_vessels_rating_is_never_passed_over(name: str) -> None:
    call = ABOVE_RATING[name]
    call(precharge=Q(10, "psig"), pressure=Q(50, "psig"))
    for argument in ("pressure", "precharge"):
        too_much = {"precharge": Q(10, "psig"), "pressure": Q(49, "psig")} | {argument: Q(50.1, "psig")}
        sentence = refused(argument, lambda given=too_much: call(**given))
        assert "no more than the vessel's rating of 50.0 psig" in sentence
        assert "50.1 psig" in sentence


def test_one_case_of_many_above_the_rating_is_enough() -> None:
    refused("pressure", lambda: oilkit.discharge(LOW_BUILT, Q(1, "s"), pressure=Q([30, 60, 40], "psig")))


def test_a_lap_that_takes_the_vessel_above_its_rating_is_refused() -> None:
    """It begins below the rating, at idle, and rises above it with the engine's speed."""
    lap = oilkit.kit_lap()
    pressure = oilkit.simulate_lap(oilkit.usual_installation(), lap).gallery_pressure.m_as("psig")
    assert pressure[0] < max(pressure) - 1.0
    between = dataclasses.replace(LOW, rated_pressure=Q((pressure[0] + max(pressure)) / 2.0, "psig"))
    built = dataclasses.replace(LOW_BUILT, vessel=between)
    assert "rating" in refused("pressure in the lap", lambda: oilkit.simulate_lap(built, lap))
    oilkit.simulate_lap(built, lap, valve_open=False)


def test_a_set_up_charged_above_the_vessels_rating_is_refused() -> None:
    planned = oilkit.demo_set_up()
    low = dataclasses.replace(planned, installation=dataclasses.replace(planned.installation, vessel=LOW))
    refused("precharge", lambda: oilkit.oil_taken(low.with_condition(precharge=Q(51, "psig"))))
