"""The bench fit against readings that others took: Boyle's table, and what the trade says its rule showed."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import numpy as np

from oilkit import BenchReadings, Q, Vessel, boyle_1662, fit_bench, power_law_fit
from oilkit.bench.fit import BenchFit
from outside_rows.row import COMMON_PRACTICE, Row

BOYLE = "Boyle 1662, A Defence of the Doctrine Touching the Spring and Weight of the Air (published copy)"
BAROMETER = 29.125
"""Inches of mercury, Boyle's own: the first row of his table."""


def boyle_fit() -> BenchFit:
    """Boyle's tube as a bench: his air is the gas, his mercury the oil, and his spaces a rule put in from the gas end.

    A space is a quarter of an inch (from memory). At the first reading nothing but the air outside presses on it.
    """
    table = boyle_1662()
    inches = table.pressure.m_as("inHg * absolute_mark") - BAROMETER
    gauge = Q(inches, "inHg").m_as("Pa")
    readings = BenchReadings(
        BOYLE, Q(np.zeros(len(gauge)), "Pag"), Q(gauge, "Pag"), Q(0.25 * table.volume.m, "in")
    )  # fmt: skip
    tube = Vessel("Boyle's tube, 1 square inch", Q(12, "in**3"), Q(math.sqrt(4.0 / math.pi), "in"), Q(60, "psig"))
    known = {name: Q(0, "psi") for name in ("charge_zero", "pressure_zero", "friction")}
    return fit_bench(
        tube,
        readings,
        known | {"bore": tube.bore, "dead_length": Q(0, "in")},
        rule_within=Q(1 / 16, "in"),
        pressure_within=Q(1 / 16, "inHg").to("psi"),
        charge_within=Q(1 / 16, "inHg").to("psi"),
        ambient=Q(BAROMETER, "inHg"),
        from_scatter=True,
        depth=True,
    )


def boyle_rows() -> Iterator[Row]:
    """The polytropic index of Boyle's air, by the bench fit and by the straight line through the logarithms."""
    fit, table = boyle_fit(), boyle_1662()
    index = fit.parameters["index"]
    assert index.value is not None
    assert index.within is not None
    within = index.within.m_as("dimensionless")
    yield Row(
        "index of Boyle's readings by the bench fit",
        index.value.m_as("dimensionless"),
        1.0,
        within,
        False,
        BOYLE,
        "the fit's own 95 % interval, from the scatter of the readings",
    )
    yield Row(
        "the same against the straight line through the logarithms",
        index.value.m_as("dimensionless"),
        power_law_fit(table.volume, table.pressure).exponent,
        within,
        False,
        BOYLE + "; least squares on logarithms",
        "the 95 % interval: both fits weigh the readings differently",
    )
    yield Row(
        "gas volume of Boyle's first reading by the bench fit, spaces",
        4.0 * fit.parameters["gas_volume"].value.m_as("in**3"),  # type: ignore[union-attr]
        48.0,
        4.0 * fit.parameters["gas_volume"].within.m_as("in**3") + 0.25,  # type: ignore[union-attr]
        False,
        BOYLE,
        "the fit's 95 % interval and a sixteenth of an inch, the smallest part that he records",
    )


TRAVEL, HALF, FULL, AIR = 2.75, 0.5, 3.0, 14.695949
"""What the trade says: how much shorter the piston stopped (in), roughly half a quart, the vessel (qt)."""
LOW, HIGH, BENCH = 5.0, 20.0, 34.7
"""Both pre-charges, and the bench's pressure, which is no reading but what Boyle needs for the half (psi)."""
QUART = 57.75


def trade_fit(free: str, **known: Any) -> BenchFit:
    """The two rule readings with everything given but one parameter and the dead length."""
    readings = BenchReadings(
        COMMON_PRACTICE, Q([LOW, HIGH], "psig"), Q([BENCH, BENCH], "psig"), Q([TRAVEL, 0.0], "in"),
        direction=("rising", "falling"),  # re-set from 5 to 20 psi, the piston came back towards the oil end
    )  # fmt: skip
    vessel = Vessel("a 3 qt demonstration vessel", Q(FULL, "qt"), Q(4.5, "in"), Q(150, "psig"))
    given: dict[str, Any] = {
        "gas_volume": Q(FULL, "qt"),
        "bore": Q(3.66, "in"),
        "charge_zero": Q(0, "psi"),
        "pressure_zero": Q(0, "psi"),
        "friction": Q(0, "psi"),
        "index": 1.0,
    }
    given = {name: value for name, value in (given | known).items() if name != free}
    exact = Q(1e-3, "in"), Q(0, "psi"), Q(0, "psi")
    within = dict(zip(("rule_within", "pressure_within", "charge_within"), exact, strict=True))
    return fit_bench(vessel, readings, given, **within)


def trade_rows() -> Iterator[Row]:
    """What would reconcile a rule that moved 2.75 in with a hand that says half a quart."""

    def left(charge: float, friction: float = 0.0, index: float = 1.0) -> float:
        return float(((charge + AIR) / (BENCH + AIR + friction)) ** (1.0 / index))

    def value(free: str, unit: str, **known: Any) -> float:
        found = trade_fit(free, **known).parameters[free].value
        assert found is not None, free
        return float(found.m_as(unit))

    both = COMMON_PRACTICE + " for 5 to 20 psi, 2.75 in and 3 qt; the rest by hand"
    for name, index, by_hand in (("settled", 1.0, 0.91), ("read at once", 1.4, 0.775)):
        bore = value("bore", "in", index=index)
        yield Row(
            f"oil between the trade's two rule readings, {name}, qt",
            math.pi * bore**2 / 4.0 * TRAVEL / QUART,
            by_hand,
            0.005,
            False,
            both,
            "the number by hand is rounded to that; the bench's 34.7 psi is no reading, so this checks the arithmetic",
        )
    yield Row(
        "gas volume that makes half a quart of the trade's 2.75 in, qt",
        value("gas_volume", "qt"),
        1.65,
        0.01,
        False,
        both,
        "rounded to a hundredth by hand, and the bore of half a quart, 3.66 in, to another",
    )
    friction = value("friction", "psi")
    yield Row(
        "friction that makes half a quart of the trade's 2.75 in, psi",
        friction,
        6.0,
        0.5,
        False,
        both,
        "'6 psi each way' by hand, a round number",
    )
    yield Row(
        "oil that such a friction leaves, qt",
        FULL * (left(HIGH, friction) - left(LOW, -friction)),
        math.pi * 3.66**2 / 4.0 * TRAVEL / QUART,
        1e-4,
        True,
        "Boyle's law by hand, friction down on the way in and up on the way out",
        "the fit holds on to its first guess by less than that",
    )


def rows() -> Iterator[Row]:
    """Every row of this topic."""
    yield from boyle_rows()
    yield from trade_rows()
