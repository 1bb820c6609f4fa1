"""Oil: thick when cold, thin when hot, lighter when hot, and inside its grade."""

from __future__ import annotations

import dataclasses
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given
from randomly import number, spread, tried
from sentences import check_sentence, refused

from oilkit import Grade, InputError, Lubricant, Q, density, dynamic_viscosity, kinematic_viscosity
from oilkit.physics.catalog import grades, lubricants
from oilkit.physics.oil import check_grade, d341_constants, density_of, viscosity_of
from oilkit.quantities.records import data_file

STRAIGHT = Q(100, "cSt"), Q(12, "cSt")

# ---------------------------------------------------------------------------------------------------------- by hand


def test_viscosity_by_hand() -> None:
    """100 and 10 cSt: log log 100.7 = 0.301 687 and log log 10.7 = 0.012 577; half the way in log T is 341.84 K."""
    middle = math.sqrt(313.15 * 373.15)
    halfway = (math.log10(math.log10(100.7)) + math.log10(math.log10(10.7))) / 2.0
    assert halfway == pytest.approx((0.301687 + 0.012577) / 2.0, abs=1e-6)
    got = kinematic_viscosity(Q(middle, "K"), Q(100, "cSt"), Q(10, "cSt"))
    assert got.to("cSt").m == pytest.approx(10 ** (10**halfway) - 0.7, rel=1e-12)
    assert got.to("cSt").m == pytest.approx(26.6, abs=0.05)


def test_constants_by_hand() -> None:
    """A and B solve two linear equations, one at each of the sheet's temperatures."""
    a, b = d341_constants(100e-6, 10e-6)
    matrix = np.array([[1.0, -math.log10(313.15)], [1.0, -math.log10(373.15)]])
    wanted = np.linalg.solve(matrix, [math.log10(math.log10(100.7)), math.log10(math.log10(10.7))])
    np.testing.assert_allclose([a, b], wanted, rtol=1e-9)


def test_density_by_hand() -> None:
    """850 kg/m3 at 15 °C, 0.07 % for each of 100 kelvins: 7 % less."""
    assert density(Q(115, "degC"), Q(850, "kg/m**3")).to("kg/m**3").m == pytest.approx(850 * 0.93, rel=1e-12)
    assert density(Q(15, "degC"), Q(850, "kg/m**3")).to("kg/m**3").m == pytest.approx(850, rel=1e-12)
    cold = density(Q(-35, "degC"), Q(850, "kg/m**3"), Q(0.06, "percent/K"))
    assert cold.to("kg/m**3").m == pytest.approx(850 * 1.03, rel=1e-12)


def test_dynamic_viscosity_is_density_times_kinematic_times_what_shear_leaves() -> None:
    """12 mm2/s at 100 °C of an oil of 900 x (1 - 85 x 0.0006) = 854.1 kg/m3, of which 0.8 is left."""
    got = dynamic_viscosity(Q(100, "degC"), *STRAIGHT, Q(900, "kg/m**3"), Q(0.06, "percent/K"), 0.8)
    assert got.to("Pa*s").m == pytest.approx(12e-6 * 854.1 * 0.8, rel=1e-10)


def test_an_oils_own_numbers_give_the_same() -> None:
    for oil in lubricants().values():
        for celsius in (0.0, 40.0, 135.0):
            plain = dynamic_viscosity(
                Q(celsius, "degC"), oil.viscosity_40, oil.viscosity_100, oil.density_15, oil.expansion
            )
            kelvin = celsius + 273.15
            assert viscosity_of(oil.si, kelvin) == pytest.approx(plain.to("Pa*s").m, rel=1e-12)
            assert viscosity_of(oil.si, kelvin, in_bearing=True) == pytest.approx(
                plain.to("Pa*s").m * oil.high_shear.m, rel=1e-12
            )
            weight = density(Q(celsius, "degC"), oil.density_15, oil.expansion)
            assert density_of(oil.si, kelvin) == pytest.approx(weight.to("kg/m**3").m, rel=1e-12)


# -------------------------------------------------------------------------------------------------------- any oil

thin = spread(2.0, 100.0)
thicker = spread(1.05, 40.0)
"""How many times thicker at 40 than at 100 °C."""
celsius = number(0.0, 150.0)


@tried
@given(thin, thicker)
def test_the_line_goes_through_both_points_of_the_sheet(hot: float, times: float) -> None:
    sheet = Q(hot * times, "cSt"), Q(hot, "cSt")
    assert kinematic_viscosity(Q(40, "degC"), *sheet).to("cSt").m == pytest.approx(hot * times, rel=1e-9)
    assert kinematic_viscosity(Q(100, "degC"), *sheet).to("cSt").m == pytest.approx(hot, rel=1e-9)


@tried
@given(thin, thicker, celsius, celsius, celsius)
def test_the_line_is_straight_in_the_chart_s_coordinates(
    hot: float, times: float, t1: float, t2: float, t3: float
) -> None:
    t1, t2, t3 = sorted((t1, t2, t3))
    assume(t2 - t1 > 1.0)
    assume(t3 - t2 > 1.0)
    nu = kinematic_viscosity(Q([t1, t2, t3], "degC"), Q(hot * times, "cSt"), Q(hot, "cSt")).to("cSt").m
    y, x = np.log10(np.log10(nu + 0.7)), np.log10(np.array([t1, t2, t3]) + 273.15)
    assert (y[1] - y[0]) / (x[1] - x[0]) == pytest.approx((y[2] - y[1]) / (x[2] - x[1]), rel=1e-6)


@tried
@given(thin, thicker, celsius, celsius)
def test_a_hotter_oil_is_thinner_and_lighter(hot: float, times: float, t1: float, t2: float) -> None:
    low, high = sorted((t1, t2))
    assume(high - low > 0.01)
    temperature = Q([low, high], "degC")
    for property_of in (
        kinematic_viscosity(temperature, Q(hot * times, "cSt"), Q(hot, "cSt")),
        density(temperature, Q(870, "kg/m**3")),
        dynamic_viscosity(temperature, Q(hot * times, "cSt"), Q(hot, "cSt"), Q(870, "kg/m**3")),
    ):
        assert property_of.m[1] < property_of.m[0]
        assert property_of.m[1] > 0.0


@pytest.mark.parametrize("key", lubricants())
def test_no_demonstration_oil_gives_a_warning_from_arctic_to_scorching(key: str) -> None:
    """From 200 to 600 K, the whole range of the door; the tests run with warnings as errors."""
    oil = lubricants()[key]
    kelvin = np.linspace(200.0, 600.0, 81)
    thick = dynamic_viscosity(Q(kelvin, "K"), oil.viscosity_40, oil.viscosity_100, oil.density_15, oil.expansion)
    assert np.all(np.isfinite(thick.m))
    assert np.all(thick.m > 0.0)
    assert np.all(np.diff(thick.m) < 0.0)
    np.testing.assert_allclose(viscosity_of(oil.si, kelvin), thick.to("Pa*s").m, rtol=1e-12)


# ------------------------------------------------------------------------------------------------ what is refused


@pytest.mark.parametrize("function", [kinematic_viscosity, dynamic_viscosity])
@pytest.mark.parametrize(("warm", "hot"), [(12.0, 12.0), (10.0, 12.0), ([100.0, 10.0], 12.0)])
def test_no_oil_thickens_as_it_warms(function: object, warm: object, hot: float) -> None:
    more = (Q(870, "kg/m**3"),) if function is dynamic_viscosity else ()
    sentence = refused("viscosity_100", lambda: function(Q(80, "degC"), Q(warm, "cSt"), Q(hot, "cSt"), *more))  # type: ignore[operator]
    assert "at 40 °C" in sentence
    assert "12.00 cSt" in sentence


def test_a_viscosity_just_above_does_not_read_like_the_one_it_must_stay_below() -> None:
    sentence = refused("viscosity_100", lambda: kinematic_viscosity(Q(80, "degC"), Q(12, "cSt"), Q(12.0000001, "cSt")))
    assert "got 12.0000001 cSt" in sentence


def test_an_oil_that_would_be_thicker_than_any_number_is_refused_in_words() -> None:
    refused(None, lambda: kinematic_viscosity(Q(200, "K"), Q(1, "m**2/s"), Q(1, "cSt")))


# ---------------------------------------------------------------------------------------------------------- grades


def test_every_demonstration_oil_is_in_its_grade_and_none_is_missing_a_part() -> None:
    listed = grades()
    for key, oil in lubricants().items():
        check_grade(key, oil, listed)
        assert set(oil.grade.split("-")) <= listed.keys()
        assert 0.7 <= oil.high_shear.m <= 1.0
        assert (oil.high_shear.m == 1.0) == ("-" not in oil.grade), "only a straight grade keeps all under shear"


def test_grades_follow_one_another_upwards() -> None:
    """Each next thicker grade starts and ends higher, and a winter grade has no end."""
    for names, ends in ((["0W", "5W", "10W", "15W", "20W", "25W"], False), (["8", "12", "16", "20", "30", "40"], True)):
        found = [grades()[name] for name in names]
        assert [g.name for g in found] == names
        lows = [g.lowest.m for g in found]
        assert lows == sorted(lows)
        assert all((g.below is not None) == ends for g in found)
        assert all(g.below is None or g.below > g.lowest for g in found)


OIL = lubricants()["street"]


@pytest.mark.parametrize(
    ("changes", "key", "words"),
    [
        ({"grade": "10W-31"}, "grade", ["'10W-31'", "a grade made of"]),
        ({"grade": ""}, "grade", ["''"]),
        ({"grade": "10W/30"}, "grade", ["'10W/30'"]),
        ({"viscosity_100": Q(9.2, "cSt")}, "viscosity_100", ["9.20 cSt", "9.30 cSt or more", "grade 30"]),
        ({"viscosity_100": Q(12.5, "cSt")}, "viscosity_100", ["12.50 cSt", "below 12.50 cSt", "grade 30"]),
        (
            {"viscosity_100": Q(4.0, "cSt"), "grade": "10W"},
            "viscosity_100",
            ["4.00 cSt", "4.10 cSt or more", "grade 10W"],
        ),
        ({"viscosity_40": Q(10, "cSt")}, "viscosity_100", ["10.60 cSt", "at 40 °C"]),
    ],
)
def test_an_oil_outside_its_grade_is_refused(changes: dict[str, object], key: str, words: list[str]) -> None:
    oil = dataclasses.replace(OIL, **changes)  # type: ignore[arg-type]
    sentence = refused(f"mine.toml, [street], {key}", lambda: check_grade("mine.toml, [street]", oil, grades()))
    for word in words:
        assert word in sentence


def test_limits_are_from_the_lowest_to_below_the_highest() -> None:
    lowest = dataclasses.replace(OIL, viscosity_100=Q(9.3, "cSt"))
    check_grade("x", lowest, grades())
    check_grade("x", dataclasses.replace(OIL, viscosity_100=Q(12.499, "cSt")), grades())
    winter = dataclasses.replace(OIL, grade="10W", viscosity_100=Q(25, "cSt"))
    check_grade("x", winter, grades())
    bare = {"mine": Grade("mine", Q(1, "cSt"))}
    check_grade("x", dataclasses.replace(OIL, grade="mine"), bare)


def test_a_file_of_ones_own_is_held_against_the_grades(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    text = data_file("oils.toml").read_text(encoding="utf-8")
    path.write_text(text.replace('viscosity_100 = "18.4 cSt"', 'viscosity_100 = "15 cSt"'), encoding="utf-8")
    sentence = refused("mine.toml, [thick], viscosity_100", lambda: lubricants(path))
    assert "16.30 cSt or more" in sentence
    path.write_text(text, encoding="utf-8")
    assert lubricants(path).keys() == lubricants().keys()


def test_an_oil_made_in_python_is_checked_when_it_is_used() -> None:
    for changes in ({"high_shear": 1.2}, {"density_15": Q(0, "kg/m**3")}, {"viscosity_40": 68.0}):
        bad: Lubricant = dataclasses.replace(OIL, **changes)  # type: ignore[arg-type]
        with pytest.raises(InputError) as caught:
            _ = bad.si
        check_sentence(str(caught.value), next(iter(changes)))
