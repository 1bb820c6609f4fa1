"""The first dip: against the closed form of a weight on a spring, and what it says about itself."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy.linalg import expm

import oilkit
from oilkit import Q
from oilkit.errors import InputError
from oilkit.physics.engine import engine_demand


def built(bore: str = "trade_12", feet: float = 6.0) -> oilkit.Installation:
    parts = oilkit.fittings()
    line = oilkit.SupplyLine(oilkit.hoses()[bore], Q(feet, "ft"), (parts["reduced_valve"], parts["port"]))
    return oilkit.Installation(oilkit.engines()["street_v8"], oilkit.lubricants()["street"], bench(), line)


def bench() -> oilkit.Vessel:
    return oilkit.vessels()["bench"]


@pytest.mark.parametrize(("feet", "air"), [(3.0, 0.05), (6.0, 0.05), (6.0, 0.1), (15.0, 0.05)])
def test_dip_of_a_sudden_loss_is_a_damped_swing(feet: float, air: float) -> None:
    """Linearised by hand: C dp/dt = q - G p - Q0 and I dq/dt = -p - R q, solved with a matrix exponential.

    The large vessel's own fall of pressure and the bends of the laws are what the straight lines leave out: within 4 %
    of the depth for dips of at most a quarter of the pressure.
    """
    engine, oil = oilkit.engines()["street_v8"], oilkit.lubricants()["street"]
    hose = oilkit.hoses()["trade_16"]
    line = oilkit.SupplyLine(hose, Q(feet, "ft"))
    installation = oilkit.Installation(engine, oil, oilkit.vessels()["very_large"], line)
    sump = Q(100, "degC")
    dip = oilkit.first_dip(installation, pump_decay=Q(0, "s"), air_in_gallery=air, line_temperature=sump)
    start = Q(60, "psig")
    takes, less = (
        engine_demand(engine, oil, p, Q(3000, "rpm"), sump).total.m_as("m**3/s") for p in (start, Q(57, "psig"))
    )
    conductance = (takes - less) / Q(3, "psi").m_as("Pa")
    rho = oilkit.density(sump, oil.density_15, oil.expansion)
    nu = oilkit.kinematic_viscosity(sump, oil.viscosity_40, oil.viscosity_100)
    area, length = math.pi * hose.bore.m_as("m") ** 2 / 4.0, Q(feet, "ft").m_as("m")
    inertance = rho.m_as("kg/m**3") * length / area
    laminar = 128.0 * (rho * nu).m_as("Pa*s") * length / (math.pi * hose.bore.m_as("m") ** 4)
    absolute = (oilkit.absolute_pressure(start)).m_as("Paa")
    spring = engine.gallery_volume.m_as("m**3") * (air / absolute + 1.0 / 1.5e9)
    matrix = np.array([[-conductance / spring, 1.0 / spring], [-1.0 / inertance, -laminar / inertance]])
    force = np.array([-takes / spring, 0.0])
    settled = -np.linalg.solve(matrix, force)
    times = np.linspace(0.0, 0.2, 2001)
    pressure = np.array([(settled - expm(matrix * t) @ settled)[0] for t in times])
    deepest = int(np.argmin(pressure))
    assert -pressure[deepest] < 0.25 * start.m_as("psig") * 6894.757
    assert dip.deepest_at.m_as("s") == pytest.approx(times[deepest], rel=0.05)
    assert dip.depth.m_as("Pa") == pytest.approx(settled[0] - pressure[deepest], rel=0.04)


def test_what_makes_it_deeper() -> None:
    usual: dict[str, Any] = {"pump_decay": Q(5, "ms")}
    depth = oilkit.first_dip(built(), **usual).depth
    assert oilkit.first_dip(built(feet=12.0), **usual).depth > depth
    assert oilkit.first_dip(built("small"), **usual).depth > depth
    assert oilkit.first_dip(built(), air_in_gallery=0.02, **usual).depth > depth
    assert oilkit.first_dip(built(), pump_decay=Q(100, "ms")).depth < depth


def test_it_says_where_it_is_not_valid() -> None:
    stiff = oilkit.first_dip(built(feet=20.0), pump_decay=Q(0, "s"), air_in_gallery=0.0)
    assert stiff.deepest_at < stiff.round_trip
    assert stiff.validity == "not valid"
    assert oilkit.first_dip(built(), pump_decay=Q(50, "ms")).validity == "good"
    assert oilkit.first_dip(built(), line_length=Q(7, "m")).round_trip.m_as("ms") == pytest.approx(20.0)


def test_without_oil_in_the_vessel_there_is_no_dip() -> None:
    """The same fall with and without the oil's mass: nothing to doubt, and nothing to call a dip."""
    dip = oilkit.first_dip(built(), precharge=Q(60, "psig"), pressure=Q(50, "psig"))
    assert dip.depth.m_as("psi") == pytest.approx(0.0, abs=0.01)
    assert dip.validity == "no dip"


def test_only_one_case() -> None:
    with pytest.raises(InputError, match="one case"):
        oilkit.first_dip(built(), pump_decay=Q([0, 5], "ms"))
    with pytest.raises(InputError, match="pump_decy"):
        oilkit.first_dip(built(), pump_decy=Q(0, "ms"))
