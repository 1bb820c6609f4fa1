"""What must hold for any vessel, any gas and any filling, found by hypothesis; and the same equation integrated."""

from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np
import outside_checks
import pytest
from hypothesis import given
from hypothesis import strategies as st
from randomly import examples

from oilkit import (
    Q,
    Vessel,
    absolute_pressure,
    ambient_pressure,
    bore_from_travel,
    fill,
    fill_fraction,
    gauge_pressure,
    oil_stored,
    piston_travel,
    precharge_at_temperature,
    precharge_to_set,
    pressure_at_volume,
    rule_reading,
    temperature_along,
    temperature_at_pressure,
    volume_at_pressure,
)
from oilkit.physics.vessel import Filling

tried = examples(120)
tried_less = examples(50)


def number(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False, allow_infinity=False, allow_subnormal=False)


def spread(low: float, high: float) -> st.SearchStrategy[float]:
    """As likely in each power of ten."""
    return number(math.log(low), math.log(high)).map(math.exp)


litres = spread(0.05, 50.0)
bars = spread(0.05, 100.0)
"""Absolute pressures."""
indices = number(1.0, 1.7)
ambients = number(30_000.0, 115_000.0)
altitudes = number(-500.0, 11_000.0)
kelvins = number(200.0, 600.0)
ratios = spread(1.0, 50.0)


def gauge(absolute_bar: float, ambient: float) -> Any:
    """A gauge reading, from an absolute pressure in bar and the ambient pressure in pascals."""
    return Q(absolute_bar * 1e5 - ambient, "Pag")


# ------------------------------------------------------------------------------------------------------------- oil


@tried
@given(litres, bars, ratios, indices, ambients)
def test_oil_and_gas_together_fill_the_vessel(
    volume: float, charge: float, ratio: float, index: float, ambient: float
) -> None:
    pressures = gauge(charge, ambient), gauge(charge * ratio, ambient)
    oil = oil_stored(Q(volume, "L"), *pressures, Q(ambient, "Paa"), index).to("L").m
    gas = volume_at_pressure(Q(volume, "L"), Q(charge, "bara"), Q(charge * ratio, "bara"), index).to("L").m
    assert oil + gas == pytest.approx(volume, rel=1e-9)
    assert -1e-9 * volume <= oil < volume


@tried
@given(litres, bars, ratios, ratios, indices, ambients)
def test_more_pressure_never_stores_less_oil(
    volume: float, charge: float, first: float, second: float, index: float, ambient: float
) -> None:
    low, high = (
        oil_stored(Q(volume, "L"), gauge(charge, ambient), gauge(charge * ratio, ambient), Q(ambient, "Paa"), index)
        .to("L")
        .m
        for ratio in sorted((first, second))
    )
    assert low <= high + 1e-12 * volume


@tried
@given(litres, bars, ratios, ratios, indices, ambients)
def test_more_pre_charge_never_stores_more_oil(
    volume: float, pressure: float, first: float, second: float, index: float, ambient: float
) -> None:
    """The vessel may rest: then the answer is nothing, and nothing is never more."""
    soft, hard = (
        oil_stored(
            Q(volume, "L"),
            gauge(pressure / ratio, ambient),
            gauge(pressure, ambient),
            Q(ambient, "Paa"),
            index,
            resting=True,
        )
        .to("L")
        .m
        for ratio in sorted((first, second), reverse=True)
    )
    assert hard <= soft + 1e-12 * volume


@tried
@given(litres, bars, ratios, indices, indices, ambients)
def test_a_fast_fill_never_holds_more_than_a_slow_one(
    volume: float, charge: float, ratio: float, first: float, second: float, ambient: float
) -> None:
    slow, fast = (
        oil_stored(Q(volume, "L"), gauge(charge, ambient), gauge(charge * ratio, ambient), Q(ambient, "Paa"), index)
        .to("L")
        .m
        for index in sorted((first, second))
    )
    assert fast <= slow + 1e-12 * volume


@tried
@given(litres, bars, ratios, indices, ambients)
def test_at_or_below_its_pre_charge_a_vessel_holds_nothing(
    volume: float, charge: float, ratio: float, index: float, ambient: float
) -> None:
    oil = oil_stored(
        Q(volume, "L"),
        gauge(charge, ambient),
        gauge(charge / ratio, ambient),
        Q(ambient, "Paa"),
        index,
        resting=True,
    )
    assert oil.to("L").m == pytest.approx(0.0, abs=1e-12 * volume)


# ------------------------------------------------------------------------------------------------------ round trips


@tried
@given(number(-0.2, 100.0), altitudes)
def test_gauge_to_absolute_and_back_at_any_altitude(reading: float, altitude: float) -> None:
    ambient = ambient_pressure(Q(altitude, "m"))
    back = gauge_pressure(absolute_pressure(Q(reading, "barg"), ambient), ambient).to("barg").m
    assert back == pytest.approx(reading, rel=1e-12, abs=1e-12)


@tried
@given(litres, bars, bars, indices)
def test_volume_to_pressure_and_back_at_any_index(volume: float, before: float, after: float, index: float) -> None:
    new_volume = volume_at_pressure(Q(volume, "L"), Q(before, "bara"), Q(after, "bara"), index)
    back = pressure_at_volume(Q(before, "bara"), Q(volume, "L"), new_volume, index)
    assert back.to("bara").m == pytest.approx(after, rel=1e-11)


@tried
@given(bars, kelvins, kelvins, ambients, ambients)
def test_pre_charge_to_working_temperature_and_back_to_the_shop(
    charge: float, shop: float, work: float, ambient_shop: float, ambient_work: float
) -> None:
    places = {"ambient_when_set": Q(ambient_shop, "Paa"), "ambient": Q(ambient_work, "Paa")}
    warm = precharge_at_temperature(gauge(charge, ambient_shop), Q(shop, "K"), Q(work, "K"), **places)
    back = precharge_to_set(warm, Q(shop, "K"), Q(work, "K"), **places)
    assert back.to("Pag").m == pytest.approx(charge * 1e5 - ambient_shop, rel=1e-10, abs=1e-6)
    assert warm.to("Pag").m + ambient_work == pytest.approx(charge * 1e5 * work / shop, rel=1e-10)


@tried
@given(kelvins, bars, bars, number(1.0, 1.4))
def test_a_squeeze_and_its_undoing_leave_the_temperature(
    kelvin: float, before: float, after: float, index: float
) -> None:
    there = temperature_at_pressure.si(kelvin, before, after, index)
    assert temperature_at_pressure.si(there, after, before, index) == pytest.approx(kelvin, rel=1e-12)


# ---------------------------------------------------------------------------------------------- units in, units out


@tried
@given(spread(0.1, 50.0), number(0.0, 100.0), ratios, altitudes)
def test_us_units_in_and_si_units_in_give_the_same_vessel(
    quarts: float, psi: float, ratio: float, altitude: float
) -> None:
    us = oil_stored(Q(quarts, "qt"), Q(psi, "psig"), Q(psi * ratio + 1.0, "psig"))
    si = oil_stored(
        Q(quarts * 57.75 * 2.54**3, "cc"),
        Q(psi * 6.894757293168361, "kPag"),
        Q((psi * ratio + 1.0) * 6.894757293168361, "kPag"),
        Q(1.01325, "bar"),
    )
    assert us.to("cc").m == pytest.approx(si.to("cc").m, rel=1e-9)
    feet = ambient_pressure(Q(altitude / 0.3048, "ft")).to("Paa").m
    assert feet == pytest.approx(ambient_pressure(Q(altitude, "m")).to("Paa").m, rel=1e-12)


@tried
@given(number(201.0, 599.0), number(201.0, 599.0), bars)
def test_any_thermometer_gives_the_same_pre_charge(cold: float, warm: float, charge: float) -> None:
    kelvin = precharge_at_temperature(gauge(charge, 101_325.0), Q(cold, "K"), Q(warm, "K"))
    celsius = precharge_at_temperature(gauge(charge, 101_325.0), Q(cold - 273.15, "degC"), Q(warm - 273.15, "degC"))
    fahrenheit = precharge_at_temperature(
        gauge(charge, 101_325.0), Q(cold * 1.8 - 459.67, "degF"), Q(warm * 1.8 - 459.67, "degF")
    )
    for other in (celsius, fahrenheit):
        assert other.to("Pag").m == pytest.approx(kelvin.to("Pag").m, rel=1e-9, abs=1e-3)


# --------------------------------------------------------------------------------------------------- cylinder and rod


@tried
@given(number(0.0, 50.0), number(0.0, 50.0), spread(10.0, 500.0), number(0.0, 100.0))
def test_travel_and_rule_rise_with_the_oil(first: float, second: float, bore: float, zero: float) -> None:
    less, more = sorted((first, second))
    travels = [piston_travel(Q(oil, "L"), Q(bore, "mm")).to("mm").m for oil in (less, more)]
    readings = [rule_reading(Q(oil, "L"), Q(bore, "mm"), Q(zero, "mm")).to("mm").m for oil in (less, more)]
    assert travels[0] <= travels[1]
    assert readings[0] <= readings[1]
    assert readings[1] - travels[1] == pytest.approx(zero, rel=1e-9, abs=1e-12 * max(*readings, 1.0))
    if more > less + 1e-6:
        assert travels[0] < travels[1]


@tried
@given(spread(0.01, 50.0), spread(10.0, 500.0), number(1.01, 3.0))
def test_travel_falls_with_the_bore_and_gives_it_back(oil: float, bore: float, wider: float) -> None:
    travel = piston_travel(Q(oil, "L"), Q(bore, "mm"))
    assert piston_travel(Q(oil, "L"), Q(bore * wider, "mm")) < travel
    assert bore_from_travel(Q(oil, "L"), travel).to("mm").m == pytest.approx(bore, rel=1e-11)


@tried
@given(litres, number(0.0, 1.0))
def test_a_part_of_the_vessel_is_that_part_full(volume: float, part: float) -> None:
    assert fill_fraction(Q(volume * part, "L"), Q(volume, "L")).m == pytest.approx(part, rel=1e-12, abs=1e-300)


# ---------------------------------------------------------------------------------------- between slow and fast: gas

steps = st.lists(st.tuples(spread(1e-3, 10.0), number(0.3, 1.0)), min_size=1, max_size=12)
"""A compression: how long each step lasts, and what part of its volume the gas keeps in it."""


def squeezed(start: float, path: list[tuple[float, float]]) -> tuple[np.ndarray, np.ndarray]:
    """Times and volumes of a compression."""
    time = np.concatenate([[0.0], np.cumsum([last for last, _ in path])])
    return time, start * np.concatenate([[1.0], np.cumprod([part for _, part in path])])


def along(time: Any, volume: Any, tau: float, start: float = 293.15, wall: float = 293.15) -> np.ndarray:
    path = temperature_along(Q(time, "s"), Q(volume, "L"), Q(start, "K"), Q(wall, "K"), Q(tau, "s"))
    return np.asarray(path.to("K").m)


@tried
@given(litres, steps, kelvins)
def test_with_no_time_constant_the_gas_is_as_warm_as_its_wall(
    volume: float, path: list[tuple[float, float]], wall: float
) -> None:
    time, volumes = squeezed(volume, path)
    kelvin = along(time, volumes, 0.0, start=293.15, wall=wall)
    assert kelvin[0] == pytest.approx(293.15, rel=1e-12)
    np.testing.assert_allclose(kelvin[1:], wall, rtol=1e-12)


@tried
@given(litres, steps, kelvins)
def test_with_an_infinite_time_constant_it_follows_the_adiabatic(
    volume: float, path: list[tuple[float, float]], start: float
) -> None:
    time, volumes = squeezed(volume, path)
    np.testing.assert_allclose(
        along(time, volumes, math.inf, start=start), start * (volume / volumes) ** 0.4, rtol=1e-12
    )


@tried
@given(litres, steps, spread(1e-4, 1e5))
def test_a_squeeze_ends_between_the_wall_and_the_adiabatic(
    volume: float, path: list[tuple[float, float]], tau: float
) -> None:
    time, volumes = squeezed(volume, path)
    kelvin = along(time, volumes, tau)
    adiabatic = 293.15 * (volume / volumes) ** 0.4
    assert np.all(kelvin >= 293.15 * (1.0 - 1e-12))
    assert np.all(kelvin <= adiabatic * (1.0 + 1e-12))


@tried
@given(litres, steps, spread(1e-4, 1e5), number(1.0, 100.0))
def test_a_slower_exchange_never_leaves_the_squeezed_gas_colder(
    volume: float, path: list[tuple[float, float]], tau: float, slower: float
) -> None:
    time, volumes = squeezed(volume, path)
    assert np.all(along(time, volumes, tau * slower) >= along(time, volumes, tau) * (1.0 - 1e-12))


@tried
@given(litres, steps, spread(1e-3, 1e3), spread(1e-3, 1e3))
def test_only_ratios_count(volume: float, path: list[tuple[float, float]], tau: float, scale: float) -> None:
    """A vessel a thousand times as large, and one a thousand times as slow in all, warm alike."""
    time, volumes = squeezed(volume, path)
    plain = along(time, volumes, tau)
    np.testing.assert_allclose(along(time, volumes * scale, tau), plain, rtol=1e-10)
    np.testing.assert_allclose(along(time * scale, volumes, tau * scale), plain, rtol=1e-10)


PATHS = {
    "a squeeze": (lambda t: 2.0 + math.cos(math.pi * t / 4.0), lambda t: -math.pi / 4.0 * math.sin(math.pi * t / 4.0)),
    "an expansion": (lambda t: 1.0 + 0.5 * t, lambda t: 0.5),
    "to and fro": (lambda t: 2.0 + math.sin(3.0 * t), lambda t: 3.0 * math.cos(3.0 * t)),
}
"""Volume in litres and its rate, over 4 s."""


@pytest.mark.parametrize("start", [293.15, 350.0])
@pytest.mark.parametrize("tau", [0.05, 0.5, 3.0, 12.0, 1e4])
@pytest.mark.parametrize("path", PATHS.values(), ids=PATHS.keys())
def test_the_gas_temperature_is_that_of_a_general_integrator(path: Any, tau: float, start: float) -> None:
    """The whole history, at 8000 steps: the exact step leaves an error of second order, (4 s / 8000 / 1 s)**2."""
    volume, rate = path
    time = np.linspace(0.0, 4.0, 8001)
    kelvin = along(time, [volume(t) for t in time], tau, start=start)
    expected = outside_checks.integrated_temperature(time, volume, rate, start, 293.15, tau)
    np.testing.assert_allclose(kelvin, expected, rtol=2.5e-7)


@pytest.mark.parametrize("tau", [0.5, 3.0, 12.0])
@pytest.mark.parametrize("path", PATHS.values(), ids=PATHS.keys())
def test_the_error_falls_with_the_square_of_the_step(path: Any, tau: float) -> None:
    volume, rate = path
    errors = []
    for count in (100, 200, 400):
        time = np.linspace(0.0, 4.0, count + 1)
        kelvin = along(time, [volume(t) for t in time], tau)
        expected = outside_checks.integrated_temperature(time, volume, rate, 293.15, 293.15, tau)
        errors.append(float(np.max(np.abs(kelvin - expected))))
    for coarse, fine in itertools.pairwise(errors):
        assert 3.7 < coarse / fine < 4.3


# --------------------------------------------------------------------------------------------------------- filling


@st.composite
def fillings(draw: st.DrawFn) -> dict[str, Any]:
    """Anything from a leak to a burst into anything from a can to a drum, at any altitude."""
    ambient = draw(ambients)
    charge = draw(spread(0.2, 10.0))
    return {
        "volume": draw(litres),
        "charge": charge,
        "goal": charge * draw(spread(1.01, 20.0)),
        "flow": draw(spread(0.05, 500.0)),
        "wall": draw(number(230.0, 420.0)),
        "tau": draw(st.one_of(st.sampled_from([0.0, math.inf]), spread(1e-3, 1e5))),
        "ambient": ambient,
    }


def filled(case: dict[str, Any], **changes: Any) -> Filling:
    """The filling of a drawn case: volume in L, pressures absolute in bar, flow in L/min, kelvin, seconds."""
    case = case | changes
    vessel = Vessel("invented", Q(case["volume"], "L"), Q(100, "mm"), Q(1000, "barg"))
    return fill(
        vessel,
        gauge(case["charge"], case["ambient"]),
        gauge(case["goal"], case["ambient"]),
        Q(case["flow"], "Lpm"),
        Q(case["wall"], "K"),
        Q(case["tau"], "s"),
        ambient=Q(case["ambient"], "Paa"),
    )


@tried_less
@given(fillings())
def test_the_mass_of_gas_stays_the_same_all_through_a_filling(case: dict[str, Any]) -> None:
    filling = filled(case)
    space = case["volume"] - filling.oil.to("L").m
    pressure = filling.pressure.to("Pag").m + case["ambient"]
    mass = pressure * space / filling.gas_temperature.to("K").m
    np.testing.assert_allclose(mass, case["charge"] * 1e5 * case["volume"] / case["wall"], rtol=1e-9)


@tried_less
@given(fillings())
def test_the_pressure_rises_to_its_goal_exactly_and_stays(case: dict[str, Any]) -> None:
    filling = filled(case)
    pressure = (filling.pressure.to("Pag").m + case["ambient"]) / (case["goal"] * 1e5)
    reached = int(np.searchsorted(filling.time.to("s").m, filling.at_pressure.to("s").m * (1.0 - 1e-12)))
    np.testing.assert_allclose(pressure[reached:], 1.0, rtol=1e-9)
    assert np.all(np.diff(pressure[: reached + 1]) > -1e-12)
    assert np.all(pressure[:reached] < 1.0)


@tried_less
@given(fillings())
def test_prompt_oil_lies_between_fast_and_settled(case: dict[str, Any]) -> None:
    filling = filled(case)
    fast, slow = (case["volume"] * (1.0 - (case["charge"] / case["goal"]) ** (1.0 / n)) for n in (1.4, 1.0))
    margin = 1e-9 * case["volume"]
    assert fast - margin <= filling.prompt_oil.to("L").m <= slow + margin
    assert filling.settled_oil.to("L").m == pytest.approx(slow, rel=1e-9, abs=margin)
    assert filling.prompt_oil <= filling.settled_oil + Q(margin, "L")


@tried_less
@given(fillings())
def test_oil_only_comes_in_and_the_gas_is_never_colder_than_its_wall(case: dict[str, Any]) -> None:
    filling = filled(case)
    assert np.all(np.diff(filling.oil.to("L").m) >= -1e-12 * case["volume"])
    assert np.all(filling.gas_temperature.to("K").m >= case["wall"] * (1.0 - 1e-10))
    assert filling.oil.to("L").m[-1] <= filling.settled_oil.to("L").m + 1e-9 * case["volume"]


@tried_less
@given(fillings(), number(1.0, 50.0))
def test_a_faster_pump_never_brings_more_oil_to_the_same_pressure(case: dict[str, Any], faster: float) -> None:
    """But for the error of the steps, which is of second order: (1 / 400)**2."""
    gentle, hard = (filled(case, flow=flow).prompt_oil.to("L").m for flow in (case["flow"], case["flow"] * faster))
    assert hard <= gentle + case["volume"] / 400**2
    slow, quick = (filled(case, flow=flow).at_pressure.to("s").m for flow in (case["flow"], case["flow"] * faster))
    assert quick <= slow * (1.0 + 1e-9)


@tried_less
@given(fillings())
def test_both_limits_of_a_filling_have_closed_forms(case: dict[str, Any]) -> None:
    slow, fast = filled(case, tau=0.0), filled(case, tau=math.inf)
    assert slow.prompt_oil.to("L").m == pytest.approx(slow.settled_oil.to("L").m, rel=1e-9)
    assert np.ptp(slow.gas_temperature.to("K").m) == pytest.approx(0.0, abs=1e-9)
    ratio = case["charge"] / case["goal"]
    assert fast.prompt_oil.to("L").m == pytest.approx(case["volume"] * (1.0 - ratio ** (1 / 1.4)), rel=1e-8)
    hot = case["wall"] * ratio ** -(0.4 / 1.4)
    half = (len(fast.time.m) - 1) // 2
    np.testing.assert_allclose(fast.gas_temperature.to("K").m[half:], hot, rtol=1e-8)
    np.testing.assert_allclose(fast.oil.to("L").m[half:], fast.prompt_oil.to("L").m, rtol=1e-8)


@pytest.mark.parametrize("tau", [0.1, 1.0, 5.0, 12.0, 100.0])
@pytest.mark.parametrize("flow", [1.0, 15.0, 60.0])
def test_a_filling_is_that_of_a_general_integrator(flow: float, tau: float) -> None:
    """Both phases: pumped up to the pressure, then held there while the gas cools, by the same energy balance."""
    case = {"volume": 3.0, "charge": 1.7, "goal": 4.5, "flow": flow, "wall": 293.15, "tau": tau, "ambient": 101_325.0}
    filling = filled(case)
    time = filling.time.to("s").m
    half = (len(time) - 1) // 2
    at, hot = outside_checks.integrated_fill(3e-3, 1.7e5, 4.5e5, flow * 1e-3 / 60, 293.15, tau)
    assert filling.at_pressure.to("s").m == pytest.approx(at, rel=1e-6)
    assert filling.gas_temperature.to("K").m[half] == pytest.approx(hot, rel=1e-6)
    pumped = outside_checks.integrated_temperature(
        np.minimum(time[:half], at),
        lambda t: 3e-3 - flow * 1e-3 / 60 * t,
        lambda t: -flow * 1e-3 / 60,
        293.15,
        293.15,
        tau,
    )
    np.testing.assert_allclose(filling.gas_temperature.to("K").m[:half], pumped, rtol=1e-5)

    cooled = outside_checks.integrated_cooling(time[half:] - time[half], hot, 293.15, tau)
    np.testing.assert_allclose(filling.gas_temperature.to("K").m[half:], cooled, rtol=1e-6)
    space = 3.0 * 1.7 / 4.5 * cooled / 293.15
    np.testing.assert_allclose(filling.oil.to("L").m[half:], 3.0 - space, rtol=1e-5)
