"""Gas: slow, fast, warmed, and between slow and fast."""

from __future__ import annotations

import math
from decimal import Decimal, localcontext

import numpy as np
import pytest
from scipy import stats
from sentences import refused

from oilkit import (
    ADIABATIC,
    ISOTHERMAL,
    Q,
    absolute_pressure,
    gauge_pressure,
    gauge_used_by_mistake,
    power_law_fit,
    pressure_at_temperature,
    pressure_at_volume,
    temperature_along,
    temperature_at_pressure,
    volume_at_pressure,
)
from oilkit.quantities.units import Qty

# ------------------------------------------------------------------------------------------------------- two states


def test_twice_the_absolute_pressure_half_the_volume() -> None:
    assert volume_at_pressure(Q(3, "qt"), Q(20, "psia"), Q(40, "psia")).to("qt").m == pytest.approx(1.5, rel=1e-12)
    assert pressure_at_volume(Q(20, "psia"), Q(3, "qt"), Q(1.5, "qt")).to("psia").m == pytest.approx(40.0, rel=1e-12)


def test_without_heat_exchange_less_volume_is_given_up() -> None:
    fast = volume_at_pressure(Q(3, "qt"), Q(20, "psia"), Q(40, "psia"), 1.4).to("qt").m
    assert fast == pytest.approx(3.0 * 2.0 ** (-5 / 7), rel=1e-12)
    assert fast > 1.5


def test_the_two_indices_have_their_textbook_values() -> None:
    assert pytest.approx(1.0, abs=0.0) == ISOTHERMAL
    assert pytest.approx(7 / 5, rel=1e-15) == ADIABATIC


def test_the_mistake_gives_twice_the_dial_and_the_right_way_does_not() -> None:
    """10 psig squeezed to half its volume: the mistake says 20, the gas says 34.7."""
    wrong = gauge_used_by_mistake(Q(10, "psig"), Q(2, "qt"), Q(1, "qt"))
    assert wrong.to("psig").m == pytest.approx(20.0, rel=1e-12)
    right = gauge_pressure(pressure_at_volume(absolute_pressure(Q(10, "psig")), Q(2, "qt"), Q(1, "qt")))
    assert right.to("psig").m == pytest.approx(20.0 + 101_325 / 6894.757293168361, rel=1e-10)


def test_a_gas_law_takes_no_gauge_pressure() -> None:
    assert "a gauge pressure" in refused(
        "pressure", lambda: volume_at_pressure(Q(3, "qt"), Q(10, "psig"), Q(40, "psia"))
    )
    assert "a gauge pressure" in refused(
        "pressure", lambda: pressure_at_temperature(Q(10, "psig"), Q(20, "degC"), Q(90, "degC"))
    )


@pytest.mark.parametrize("pressure", [0.0, -1.0])
def test_an_absolute_pressure_is_above_nothing(pressure: float) -> None:
    refused("new_pressure", lambda: volume_at_pressure(Q(3, "qt"), Q(20, "psia"), Q(pressure, "psia")))


def test_shut_in_gas_follows_its_kelvins_and_not_its_degrees() -> None:
    hot = pressure_at_temperature(Q(24.7, "psia"), Q(20, "degC"), Q(90, "degC"))
    assert hot.to("psia").m == pytest.approx(24.7 * 363.15 / 293.15, rel=1e-12)
    same_in_fahrenheit = pressure_at_temperature(Q(24.7, "psia"), Q(68, "degF"), Q(194, "degF"))
    assert same_in_fahrenheit.to("psia").m == pytest.approx(hot.to("psia").m, rel=1e-12)


def test_a_fast_squeeze_heats_and_a_slow_one_does_not() -> None:
    squeeze = (Q(20, "degC"), Q(24.7, "psia"), Q(49.4, "psia"))
    assert temperature_at_pressure(*squeeze).to("K").m == pytest.approx(293.15 * 2 ** (2 / 7), rel=1e-12)
    assert temperature_at_pressure(*squeeze, 1.0).to("K").m == pytest.approx(293.15, rel=1e-12)


@pytest.mark.parametrize("index", [1.0, 1.2, 1.4, 1.7])
def test_pressure_volume_and_temperature_of_one_squeeze_keep_the_ideal_gas_law(index: float) -> None:
    volume = volume_at_pressure(Q(3, "L"), Q(1.7, "bara"), Q(5.1, "bara"), index)
    warm = temperature_at_pressure(Q(20, "degC"), Q(1.7, "bara"), Q(5.1, "bara"), index)
    assert 5.1 * volume.to("L").m / warm.to("K").m == pytest.approx(1.7 * 3.0 / 293.15, rel=1e-12)


@pytest.mark.parametrize("index", [0.99, 1.71, -1.4, 0.0])
def test_indices_that_no_gas_has_are_refused(index: float) -> None:
    sentence = refused("polytropic_index", lambda: volume_at_pressure(Q(3, "qt"), Q(20, "psia"), Q(40, "psia"), index))
    assert "from 1.00 up to 1.70" in sentence


# --------------------------------------------------------------------------------------------- between slow and fast

ROOM = Q(293.15, "K")


def along(time: list[float], volume: list[float], tau: float, start: Qty = ROOM, wall: Qty = ROOM) -> np.ndarray:
    path = temperature_along(Q(np.array(time), "s"), Q(np.array(volume), "L"), start, wall, Q(tau, "s"))
    return np.asarray(path.to("K").m)


def test_at_constant_volume_the_gas_cools_along_an_exponential() -> None:
    time = np.array([0.0, 0.1, 0.5, 3.0, 20.0])
    kelvin = along(time.tolist(), [2.0] * 5, 4.0, start=Q(400, "K"))
    np.testing.assert_allclose(kelvin, 293.15 + (400 - 293.15) * np.exp(-time / 4.0), rtol=1e-12)


def test_one_step_is_exact_where_the_source_is_straight() -> None:
    """A path on which V**0.4 is a straight line: two moments must give what two thousand give."""
    time = np.linspace(0.0, 3.0, 2001)
    volume = (3.0**0.4 + (1.0 - 3.0**0.4) * time / 3.0) ** 2.5
    fine = along(time.tolist(), volume.tolist(), 2.0)
    coarse = along([0.0, 3.0], [3.0, 1.0], 2.0)
    assert coarse[-1] == pytest.approx(fine[-1], rel=1e-11)


@pytest.mark.parametrize("tau", [0.0, 1e-300, 1e-160, 1e-12])
def test_with_no_time_constant_the_gas_is_at_the_walls_temperature(tau: float) -> None:
    kelvin = along([0.0, 1.0, 2.0], [3.0, 1.5, 2.0], tau, start=Q(350, "K"))
    np.testing.assert_allclose(kelvin, [350.0, 293.15, 293.15], rtol=1e-11)


@pytest.mark.parametrize("tau", [math.inf, 1e300, 1e12])
def test_with_an_infinite_time_constant_it_is_the_fast_squeeze(tau: float) -> None:
    volume = np.array([3.0, 1.5, 2.0])
    kelvin = along([0.0, 1.0, 2.0], volume.tolist(), tau, start=Q(350, "K"))
    np.testing.assert_allclose(kelvin, 350.0 * (3.0 / volume) ** 0.4, rtol=1e-11)


@pytest.mark.parametrize("step", [0.9e-4, 0.99999e-4, 1e-4, 1.00001e-4, 1.1e-4])
def test_the_series_for_small_steps_meets_the_closed_form(step: float) -> None:
    """Where one formula takes over from the other, both must give what the exact solution gives."""
    with localcontext() as context:
        context.prec = 40
        x = Decimal(step)
        before, after = Decimal(3) ** Decimal("0.4"), Decimal("1.5") ** Decimal("0.4")
        gone = (1 - (-x).exp()) / x
        exact = float((before * gone + after * (1 - gone)) / after)
    kelvin = along([0.0, step], [3.0, 1.5], 1.0)
    assert kelvin[-1] / 293.15 == pytest.approx(exact, rel=1e-12)


def test_plain_whole_numbers_are_not_cut_off() -> None:
    kelvin = temperature_along.si(np.array([0, 1]), np.array([3, 2]), 293.15, 293.15, 0.0)
    np.testing.assert_allclose(kelvin, [293.15, 293.15], rtol=1e-15)


@pytest.mark.parametrize("time", [[0.0], [0.0, 0.0], [0.0, 1.0, 0.5], [1.0, 0.0], []])
def test_times_that_do_not_rise_are_refused(time: list[float]) -> None:
    refused("time", lambda: along(time, [1.0] * len(time), 5.0))


def test_times_in_a_table_are_refused() -> None:
    refused(
        "time",
        lambda: temperature_along(
            Q(np.array([[0.0, 1.0]]), "s"), Q(np.array([[3.0, 2.0]]), "L"), ROOM, ROOM, Q(5, "s")
        ),
    )


def test_a_single_moment_is_refused() -> None:
    refused("time", lambda: temperature_along(Q(1, "s"), Q(3, "L"), ROOM, ROOM, Q(5, "s")))


def test_as_many_volumes_as_times() -> None:
    refused("volume", lambda: along([0.0, 1.0], [3.0, 2.0, 1.0], 5.0))
    refused("volume", lambda: temperature_along(Q([0.0, 1.0], "s"), Q(3, "L"), ROOM, ROOM, Q(5, "s")))


@pytest.mark.parametrize("argument", ["start", "wall", "thermal_time_constant"])
@pytest.mark.parametrize("size", [2, 3])
def test_one_start_one_wall_and_one_time_constant(argument: str, size: int) -> None:
    """The docstring asks for one of each; several must be told so by name."""
    values = {"start": ROOM, "wall": ROOM, "thermal_time_constant": Q(5, "s")}
    values[argument] = Q(np.full(size, values[argument].m), values[argument].units)
    refused(argument, lambda: temperature_along(Q([0.0, 1.0], "s"), Q([3.0, 2.0], "L"), **values))


def test_a_negative_time_constant_is_refused() -> None:
    refused("thermal_time_constant", lambda: along([0.0, 1.0], [3.0, 2.0], -1.0))


# ------------------------------------------------------------------------------------------------------- readings


def readings(n: float, scatter: float = 0.0, size: int = 12) -> tuple[np.ndarray, np.ndarray]:
    """Invented readings of p V**n = const, with some scatter if wanted."""
    rng = np.random.default_rng(7)
    volume = np.linspace(3.0, 1.0, size)
    return volume, 20.0 * (3.0 / volume) ** n * np.exp(scatter * rng.standard_normal(size))


@pytest.mark.parametrize("n", [1.0, 1.4, -0.5])
def test_an_exact_power_law_is_found_again(n: float) -> None:
    volume, pressure = readings(n)
    fit = power_law_fit(Q(volume, "qt"), Q(pressure, "psia"))
    assert fit.exponent == pytest.approx(n, rel=1e-12)
    assert fit.exponent_error == pytest.approx(0.0, abs=1e-13)
    assert fit.pressure_at_first.to("psia").m == pytest.approx(20.0, rel=1e-12)
    np.testing.assert_allclose(fit.residual, 0.0, atol=1e-13)


def test_exponent_and_its_error_are_those_of_an_independent_regression() -> None:
    volume, pressure = readings(1.2, scatter=0.02)
    fit = power_law_fit(Q(volume, "qt"), Q(pressure, "psia"))
    line = stats.linregress(np.log(volume), np.log(pressure))
    assert fit.exponent == pytest.approx(-line.slope, rel=1e-10)
    assert fit.exponent_error == pytest.approx(line.stderr, rel=1e-10)
    fitted = np.exp(line.intercept + line.slope * np.log(volume))
    np.testing.assert_allclose(fit.residual, pressure / fitted - 1.0, atol=1e-12)
    assert fit.pressure_at_first.to("psia").m == pytest.approx(fitted[0], rel=1e-10)


def test_the_boyle_residual_is_reading_over_the_best_constant_product() -> None:
    volume, pressure = readings(1.0, scatter=0.02)
    fit = power_law_fit(Q(volume, "qt"), Q(pressure, "psia"))
    best = np.exp(np.mean(np.log(volume * pressure)))
    np.testing.assert_allclose(fit.boyle_residual, pressure * volume / best - 1.0, atol=1e-12)


def test_the_fit_does_not_depend_on_units_or_on_the_size_of_a_space() -> None:
    volume, pressure = readings(1.2, scatter=0.02)
    first = power_law_fit(Q(volume, "qt"), Q(pressure, "psia"))
    others = [
        power_law_fit(Q(volume, "qt").to("L"), Q(pressure, "psia").to("bara")),
        power_law_fit(Q(volume * 7.0, "dimensionless"), Q(pressure, "psia")),
        power_law_fit(Q(volume, "percent"), Q(pressure, "psia").to("inHg * absolute_mark")),
    ]
    for other in others:
        assert other.exponent == pytest.approx(first.exponent, rel=1e-10)
        assert other.exponent_error == pytest.approx(first.exponent_error, rel=1e-8)
        assert other.pressure_at_first.to("psia").m == pytest.approx(first.pressure_at_first.to("psia").m, rel=1e-10)


def test_spaces_may_be_plain_numbers() -> None:
    volume, pressure = readings(1.0)
    fit = power_law_fit(volume, Q(pressure, "psia"))  # type: ignore[arg-type]
    assert fit.exponent == pytest.approx(1.0, rel=1e-12)


def test_two_readings_make_a_line_without_an_error() -> None:
    fit = power_law_fit(Q([2.0, 1.0], "qt"), Q([20.0, 40.0], "psia"))
    assert fit.exponent == pytest.approx(1.0, rel=1e-12)
    assert math.isnan(fit.exponent_error)


@pytest.mark.parametrize(
    ("volume", "pressure"),
    [
        ([2.0, 2.0], [20.0, 40.0]),
        ([2.0], [20.0]),
        ([], []),
        ([3.0, 2.0, 1.0], [20.0, 40.0]),
        ([[2.0, 1.0]], [[20.0, 40.0]]),
    ],
)
def test_readings_that_make_no_line_are_refused(volume: list[float], pressure: list[float]) -> None:
    refused("volume", lambda: power_law_fit(Q(np.array(volume), "qt"), Q(np.array(pressure), "psia")))


@pytest.mark.parametrize(
    "volume",
    [
        pytest.param(Q([2.0, math.nan], "qt"), id="nan"),
        pytest.param(Q([2.0, math.nan], "dimensionless"), id="nan spaces"),
        pytest.param(Q([2.0, math.inf], "dimensionless"), id="infinite spaces"),
        pytest.param(Q([2.0, 0.0], "dimensionless"), id="no space"),
        pytest.param(Q([2.0, -1.0], "dimensionless"), id="negative spaces"),
        pytest.param(Q([2.0, -1.0], "qt"), id="negative volume"),
        pytest.param(Q([2.0, 1.0], "psia"), id="pressures"),
        pytest.param(Q([2.0, 1.0], "in"), id="lengths"),
        pytest.param(Q([2.0, 1.0], "kg"), id="masses"),
        pytest.param(None, id="none"),
        pytest.param("2, 1", id="text"),
        pytest.param(True, id="bool"),
        pytest.param(["a", "b"], id="list of text"),
    ],
)
def test_volumes_that_are_none_are_refused(volume: Qty) -> None:
    refused("volume", lambda: power_law_fit(volume, Q([20.0, 40.0], "psia")))


@pytest.mark.parametrize(
    "pressure",
    [
        pytest.param(Q([20.0, 40.0], "psig"), id="gauge"),
        pytest.param(Q([20.0, 40.0], "psi"), id="bare psi"),
        pytest.param([20.0, 40.0], id="bare"),
        pytest.param(Q([20.0, math.nan], "psia"), id="nan"),
        pytest.param(Q([20.0, 0.0], "psia"), id="zero"),
        pytest.param(None, id="none"),
    ],
)
def test_pressures_that_are_not_absolute_are_refused(pressure: Qty) -> None:
    refused("pressure", lambda: power_law_fit(Q([2.0, 1.0], "qt"), pressure))
