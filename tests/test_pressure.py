"""Pressure: gauge, absolute and the air outside."""

from __future__ import annotations

import numpy as np
import pytest
from sentences import refused

from oilkit import STANDARD_ATMOSPHERE, Q, absolute_pressure, ambient_pressure, gauge_error, gauge_pressure, use_units

PSI = 4.4482216152605 / 0.0254**2
"""Pascals in a psi: a pound-force on a square inch."""


def test_a_gauge_that_shows_ten_at_sea_level_stands_before_24_7_psia() -> None:
    assert absolute_pressure(Q(10, "psig")).to("Paa").m == pytest.approx(10 * PSI + 101_325.0, rel=1e-12)
    assert str(absolute_pressure(Q(10, "psig")).units) == "psia"


def test_a_gauge_that_shows_nothing_stands_before_the_air_outside() -> None:
    assert absolute_pressure(Q(0, "psig"), Q(83_524, "Paa")).to("Paa").m == pytest.approx(83_524.0, rel=1e-12)
    assert gauge_pressure(Q(83_524, "Paa"), Q(83_524, "Paa")).m == pytest.approx(0.0, abs=1e-12)


def test_below_the_outside_pressure_a_gauge_reads_negative() -> None:
    assert gauge_pressure(Q(10, "psia")).to("Pag").m == pytest.approx(10 * PSI - 101_325.0, rel=1e-12)


def test_the_same_gas_reads_more_up_the_mountain() -> None:
    """A shut vessel keeps its absolute pressure; the dial shows what the air outside has lost."""
    absolute = absolute_pressure(Q(10, "psig"))
    up_there = gauge_pressure(absolute, ambient_pressure(Q(1600, "m")))
    assert up_there.to("Pag").m == pytest.approx(10 * PSI + 101_325.0 - 83_523.526, abs=0.01)


def test_ambient_pressure_is_the_standard_one_at_sea_level_and_falls_with_height() -> None:
    assert ambient_pressure(Q(0, "m")).to("Paa").m == pytest.approx(101_325.0, rel=1e-12)
    assert ambient_pressure(Q(0, "m")).to("Paa").m == pytest.approx(STANDARD_ATMOSPHERE.to("Paa").m, rel=1e-12)
    falling = ambient_pressure(Q(np.linspace(-500, 11_000, 47), "m")).m
    assert np.all(np.diff(falling) < 0.0)


def test_ambient_pressure_falls_as_the_weight_of_the_air_above_says() -> None:
    """dp/dh = -rho g with rho = p / (287.05287 T): the hydrostatic law behind the formula."""
    for height in (0.0, 1600.0, 5000.0, 10_000.0):
        below, above = (ambient_pressure(Q(height + step, "m")).to("Paa").m for step in (-5.0, 5.0))
        middle = ambient_pressure(Q(height, "m")).to("Paa").m
        density = middle / (287.05287 * (288.15 - 0.0065 * height))
        assert (below - above) / 10.0 == pytest.approx(density * 9.80665, rel=2e-6)


@pytest.mark.parametrize("metres", [-500, 0, 1600, 9000, 9500, 10_000, 11_000])
def test_the_air_at_every_altitude_the_kit_knows_is_an_ambient_pressure_it_takes(metres: float) -> None:
    ambient = ambient_pressure(Q(metres, "m"))
    there_and_back = gauge_pressure(absolute_pressure(Q(10, "psig"), ambient), ambient)
    assert there_and_back.to("psig").m == pytest.approx(10.0, rel=1e-12)


@pytest.mark.parametrize(("metres", "shown"), [(-501, "-1643.7"), (11_001, "36092.5")])
def test_altitudes_outside_the_troposphere_are_refused(metres: float, shown: str) -> None:
    sentence = refused("altitude", lambda: ambient_pressure(Q(metres, "m")))
    assert f"got {shown}" in sentence
    assert "from -1640.4" in sentence
    assert "up to 36089.2" in sentence


def test_a_perfect_vacuum_is_the_end_of_the_gauge() -> None:
    assert absolute_pressure(Q(-14.69, "psig")).m > 0.0
    for reading in (-101_325.0, -101_326.0, -1e9):
        refused("gauge", lambda reading=reading: absolute_pressure(Q(reading, "Pag")))


def test_the_vacuum_sentence_tells_reading_absolute_value_and_limit() -> None:
    sentence = refused("gauge", lambda: absolute_pressure(Q(-20, "psig")))
    assert "got -20.0 psig" in sentence
    assert "which is -5.304" in sentence
    assert "above -14.6959" in sentence


def test_the_vacuum_sentence_follows_the_learners_units() -> None:
    use_units("SI")
    sentence = refused("gauge", lambda: absolute_pressure(Q(-1.5, "barg"), Q(1, "bara")))
    assert "got -1.50 barg" in sentence
    assert "-0.50 bara" in sentence
    assert "above -1.00 barg" in sentence


def test_the_vacuum_sentence_is_about_one_reading_of_several() -> None:
    """-13 psig is possible at sea level and is not at 12 psia; the sentence must speak of the place where it is not."""
    sentence = refused("gauge", lambda: absolute_pressure(Q(-13, "psig"), Q([14.7, 12.0, 12.5], "psia")))
    assert "got -13.0 psig" in sentence
    assert "-1.0 psia" in sentence
    assert "above -12.0 psig" in sentence
    sentence = refused("gauge", lambda: absolute_pressure(Q([5.0, -20.0, 7.0], "psig")))
    assert "got -20.0 psig" in sentence


def test_a_bare_psi_is_a_barometers_reading_but_never_a_gauges() -> None:
    assert absolute_pressure(Q(10, "psig"), Q(14.7, "psi")).m == pytest.approx(24.7, rel=1e-12)
    refused("gauge", lambda: absolute_pressure(Q(10, "psi")))
    refused("absolute", lambda: gauge_pressure(Q(24.7, "psi")))
    refused("ambient", lambda: gauge_pressure(Q(24.7, "psia"), Q(14.7, "psig")))


def test_the_smallest_absolute_pressure_is_still_one() -> None:
    assert absolute_pressure(gauge_pressure(Q(1e-4, "psia"))).m_as("psia") == pytest.approx(1e-4, rel=1e-6)
    readings = Q([1e-4 - 14.6959488, -20.0], "psig")
    sentence = refused("gauge", lambda: absolute_pressure(readings, ambient_pressure(Q(0, "m"))))
    assert sentence.startswith("gauge: got -20.0 psig")


def test_gauge_error_is_the_same_anywhere_on_the_dial() -> None:
    assert gauge_error(Q(160, "psig"), 2.5).to("psi").m == pytest.approx(4.0, rel=1e-12)
    assert gauge_error(Q(10, "barg"), 1.0).to("bar").m == pytest.approx(0.1, rel=1e-12)
    assert gauge_error(Q(10, "barg"), 1.0).dimensionality == Q(1, "psi").dimensionality


def test_gauge_error_refuses_what_no_gauge_is() -> None:
    refused("full_scale", lambda: gauge_error(Q(0, "psig"), 2.5))
    refused("full_scale", lambda: gauge_error(Q(-10, "psig"), 2.5))
    refused("accuracy_class", lambda: gauge_error(Q(160, "psig"), 0))
    refused("accuracy_class", lambda: gauge_error(Q(160, "psig"), 10.5))
    assert gauge_error(Q(160, "psig"), 10).to("psi").m == pytest.approx(16.0)
    assert gauge_error(Q(1e-4, "psig"), 1).to("psi").m == pytest.approx(1e-6), "anything above 0"


def test_gauge_error_tells_the_value_that_is_wrong_and_not_its_neighbour() -> None:
    assert "got 25" in refused("accuracy_class", lambda: gauge_error(Q(160, "psig"), [1.0, 25.0]))
    assert "got -2" in refused("accuracy_class", lambda: gauge_error(Q(160, "psig"), [1.0, -2.0, 2.5]))
    assert "got -30.0 psig" in refused("full_scale", lambda: gauge_error(Q([160.0, -30.0], "psig"), 2.5))


def test_the_full_scale_sentence_speaks_one_system_of_units() -> None:
    use_units("SI")
    sentence = refused("full_scale", lambda: gauge_error(Q(-1, "barg"), 2.5))
    assert "psi" not in sentence
