"""Orifices, power, filter and cooler with their bypass, and the check valve."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from outside_rows.row import GPM, INCH, PSI
from randomly import number, spread, tried
from sentences import refused

from oilkit import Q, check_valve_leak, element_drop, hydraulic_power, orifice_flow, unfiltered_share
from oilkit.quantities.units import Qty

# ------------------------------------------------------------------------------------------------- orifice and power


def test_an_orifice_by_hand() -> None:
    """Oil of 800 kg/m3 under 1 bar: sqrt(2 x 100 000 / 800) = sqrt(250) m/s, and six tenths of it."""
    flow = orifice_flow(Q(2, "mm"), Q(1, "bar"), Q(800, "kg/m**3"), 0.6)
    assert flow.to("m**3/s").m == pytest.approx(0.6 * math.pi * 0.001**2 * math.sqrt(250.0), rel=1e-12, abs=0.0)


def test_an_orifice_in_shop_units_by_hand() -> None:
    flow = orifice_flow(Q(0.06, "in"), Q(50, "psi"), Q(820, "kg/m**3"), 0.7)
    by_hand = 0.7 * math.pi * (0.03 * INCH) ** 2 * math.sqrt(2 * 50 * PSI / 820) / GPM
    assert flow.to("gpm").m == pytest.approx(by_hand, rel=1e-12)


@tried
@given(spread(0.01, 1.0), spread(1e-6, 1e5), spread(500.0, 1300.0), number(0.01, 1.0), spread(0.1, 10.0))
def test_an_orifice_gives_by_the_root_of_the_pressure_and_the_square_of_the_bore(
    bore: float, psi: float, density: float, coefficient: float, times: float
) -> None:
    def flow(inches: float, pressure: float, share: float = coefficient) -> float:
        return float(orifice_flow(Q(inches, "in"), Q(pressure, "psi"), Q(density, "kg/m**3"), share).m)

    once = flow(bore, psi)
    assert flow(bore, psi * times**2) == pytest.approx(times * once, rel=1e-9, abs=0.0)
    assert flow(bore * times, psi) == pytest.approx(times**2 * once, rel=1e-9, abs=0.0)
    assert flow(bore, psi, 1.0) == pytest.approx(once / coefficient, rel=1e-9, abs=0.0)
    assert flow(bore, 0.0) == 0.0


def test_power_by_hand() -> None:
    """A joule is a newton metre: 4 bar times 15 L/min is 100 W."""
    assert hydraulic_power(Q(4, "bar"), Q(15, "Lpm")).to("W").m == pytest.approx(100.0, rel=1e-12)
    assert hydraulic_power(Q(60, "psi"), Q(10, "gpm")).to("W").m == pytest.approx(60 * PSI * 10 * GPM, rel=1e-12)
    assert hydraulic_power(Q(60, "psi"), Q(0, "gpm")).m == hydraulic_power(Q(0, "psi"), Q(10, "gpm")).m == 0.0


# -------------------------------------------------------------------------------------------- filter, cooler, bypass

RATED: dict[str, Qty] = {
    "rated_drop": Q(3, "psi"),
    "rated_flow": Q(8, "gpm"),
    "rated_viscosity": Q(9, "cP"),
    "bypass": Q(12, "psi"),
}


@pytest.mark.parametrize(
    ("gpm", "centipoise", "psi", "share"),
    [
        pytest.param(8, 9, 3, 0, id="as rated"),
        pytest.param(4, 9, 1.5, 0, id="half the flow"),
        pytest.param(8, 18, 6, 0, id="twice as thick"),
        pytest.param(8, 36, 12, 0, id="the bypass about to open"),
        pytest.param(32, 9, 12, 0, id="about to open by flow alone"),
        pytest.param(8, 72, 12, 1 / 2, id="half goes round"),
        pytest.param(8, 144, 12, 3 / 4, id="three quarters go round"),
        pytest.param(8, 36e4, 12, 0.9999, id="frozen: nearly all goes round"),
        pytest.param(0, 9, 0, 0, id="no flow"),
        pytest.param(0, 1e5, 0, 0, id="no flow of treacle"),
    ],
)
def test_a_filter_by_hand(gpm: float, centipoise: float, psi: float, share: float) -> None:
    drop = element_drop(Q(gpm, "gpm"), Q(centipoise, "cP"), **RATED)
    assert drop.to("psi").m == pytest.approx(psi, rel=1e-12, abs=1e-15)
    round_it = unfiltered_share(Q(gpm, "gpm"), Q(centipoise, "cP"), **RATED)
    assert round_it.m == pytest.approx(share, rel=1e-12, abs=1e-12)


elements = (spread(1e-3, 300.0), spread(0.5, 5e4), spread(0.01, 100.0), spread(0.1, 50.0), spread(1.0, 100.0))


@tried
@given(*elements, spread(0.01, 100.0))
def test_what_is_filtered_costs_what_the_filter_takes(
    gpm: float, viscosity: float, drop: float, rated: float, thickness: float, bypass: float
) -> None:
    """The part of the flow that goes through, by the element's own laminar law, makes the difference over both."""
    element = Q(drop, "psi"), Q(rated, "gpm"), Q(thickness, "cP"), Q(bypass, "psi")
    flow = Q(gpm, "gpm"), Q(viscosity, "cP")
    share = unfiltered_share(*flow, *element).m
    lost = element_drop(*flow, *element).to("psi").m
    assert 0.0 <= share < 1.0 or math.isclose(share, 1.0, rel_tol=1e-12)
    through = gpm * (1.0 - share)
    assert lost == pytest.approx(drop * through / rated * viscosity / thickness, rel=1e-6, abs=1e-9 * bypass)
    assert lost <= bypass * (1.0 + 1e-12)
    assert share == 0.0 or lost == pytest.approx(bypass, rel=1e-12)


@tried
@given(*elements, spread(0.01, 100.0))
def test_more_flow_never_costs_less_and_never_goes_round_less(
    gpm: float, viscosity: float, drop: float, rated: float, thickness: float, bypass: float
) -> None:
    element = Q(viscosity, "cP"), Q(drop, "psi"), Q(rated, "gpm"), Q(thickness, "cP"), Q(bypass, "psi")
    flows = Q(gpm * np.linspace(0.0, 10.0, 101), "gpm")
    for values in (element_drop(flows, *element).m, unfiltered_share(flows, *element).m):
        assert np.all(np.diff(values) >= 0.0)
        assert values[0] == 0.0


NOT_POSITIVE = {"none": 0.0, "negative": -3.0}


@pytest.mark.parametrize("psi", NOT_POSITIVE.values(), ids=NOT_POSITIVE.keys())
@pytest.mark.parametrize("argument", ["rated_drop", "bypass"])
@pytest.mark.parametrize("function", [element_drop, unfiltered_share], ids=["element_drop", "unfiltered_share"])
def test_a_filter_is_rated_above_none(function: Callable[..., Any], argument: str, psi: float) -> None:
    """A filter that gives pressure, or a bypass that opens at suction, is a mistake and no filter."""
    refused(argument, lambda: function(Q(8, "gpm"), Q(9, "cP"), **(RATED | {argument: Q(psi, "psi")})))


# -------------------------------------------------------------------------------------------------------- check valve


@pytest.mark.parametrize(
    ("psi", "leak", "reference", "gpm"),
    [(50, 0.2, 25, 0.4), (25, 0.2, 25, 0.2), (5, 0.2, 50, 0.02), (0, 0.2, 25, 0.0), (50, 0.0, 25, 0.0)],
)
def test_a_leak_by_hand(psi: float, leak: float, reference: float, gpm: float) -> None:
    got = check_valve_leak(Q(psi, "psi"), Q(leak, "gpm"), Q(reference, "psi"))
    assert got.to("gpm").m == pytest.approx(gpm, rel=1e-12, abs=1e-15)


@pytest.mark.parametrize("psi", [*NOT_POSITIVE.values(), [25.0, 0.0]], ids=[*NOT_POSITIVE.keys(), "one of two"])
def test_a_leak_is_measured_at_some_pressure_difference(psi: Any) -> None:
    refused("reference", lambda: check_valve_leak(Q(50, "psi"), Q(0.2, "gpm"), Q(psi, "psi")))
