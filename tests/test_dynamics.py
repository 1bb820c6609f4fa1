"""The dynamic model's machine room: oil, order, stops, limits, and the same laws as the other modules state."""

from __future__ import annotations

import math
import os
import subprocess
import sys
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from outside_rows.discharge import Apart, any_case
from outside_rows.row import GPM, PSI
from parts import quick

from oilkit import InputError, Installation, Q, SupplyLine, discharge, engine_demand, operating_point
from oilkit.physics import dynamics
from oilkit.physics.catalog import engines, fittings, hoses, lubricants, vessels
from oilkit.physics.discharging import cases_of, conditions_si, pump_lets_go
from oilkit.physics.line import way_drop, way_of
from oilkit.physics.oil import density_of, viscosity_of

CASES = int(os.environ.get("OILKIT_CASES", "20"))
"""Random cases against the independent integration; a larger number runs more."""

LINE = SupplyLine(hoses()["trade_12"], Q(6, "ft"), (fittings()["reduced_valve"], fittings()["port"]))
BUILT = Installation(engines()["street_v8"], lubricants()["street"], vessels()["bench"], LINE)


def prepared(built: Installation = BUILT, inertia: bool = True, **conditions: Any) -> tuple[Any, Any, Any, Any]:
    """Case, times, table and start of one case, to be changed."""
    given, _ = conditions_si(conditions, built.vessel)
    numbers = {name: np.ravel(values).astype(float) for name, values in given.items()}
    cases, starts = cases_of(built, numbers, inertia)
    times, table = pump_lets_go(numbers, 60.0)
    return cases[0], times[0], table[0], starts[0]


# ------------------------------------------------------------------------------------- against another integration


@pytest.mark.parametrize("seed", quick(2, range(CASES)))
def test_random_case_against_an_integration_of_its_own(seed: int) -> None:
    """LSODA on laws written down a second time (`outside_rows.discharge.Apart`). 1e-4 is what the kit promises; most
    lie within 1e-6. What is left is the kit's smoothing of roots below 3 Pa, and without inertia a millionth of it."""
    built, inertia, conditions = any_case(np.random.default_rng(seed))
    kit = discharge(built, inertia=inertia, **conditions)
    protected, home = Apart(built, inertia, **conditions).protected()
    assert kit.protected_time.m == pytest.approx(protected, rel=1e-4, abs=1e-6)
    if math.isfinite(home) and home <= protected:
        assert kit.empty_after.m == pytest.approx(home, rel=1e-4, abs=1e-6)
        assert kit.ending == "vessel empty"
    assert np.max(np.abs(kit.history.oil_missing)) < 1e-9


@pytest.mark.parametrize("cases", quick(1, [40, 300]))
def test_oil_is_conserved_in_hundreds_of_random_cases(cases: int) -> None:
    for seed in range(1000, 1000 + cases):
        built, inertia, conditions = any_case(np.random.default_rng(seed))
        run = discharge(built, inertia=inertia, accuracy=1e-4, **conditions)
        assert np.max(np.abs(run.history.oil_missing)) < 1e-9, seed


@pytest.mark.parametrize("from_pan", [False, True])
@pytest.mark.parametrize("lagging", [False, True])
@pytest.mark.parametrize("opening", quick(2, [0.4, 0.0, 1.0]))
@pytest.mark.parametrize("mode", [dynamics.FREE, dynamics.BACK, dynamics.HELD])
@pytest.mark.parametrize("tee_first", [False, True])
def test_slopes_of_the_rates_are_what_their_differences_say(
    tee_first: bool, mode: int, opening: float, lagging: bool, from_pan: bool
) -> None:
    """The method's order and its long steps hang on them. Central differences of the rates in every part of the state,
    at a hundred random states of a warm leaking case, away from where a law bends, to 1e-3 of the row's largest."""
    d = dynamics
    built = replace(BUILT, engine=engines()["race_v8"], tee_before_filter=tee_first)
    case = prepared(built, leak=Q(0.5, "gpm"), thermal_time_constant=Q(2, "s"), air_in_gallery=0.01)[0]
    case[d.LOSE], case[d.REGAIN] = (0.3, 0.1) if lagging else (0.0, 0.0)
    if from_pan:
        room = case[d.GAS_VOLUME]
        case[d.FROM_PAN], case[d.PAN_OIL], case[d.SUMP_AREA], case[d.SUMP_DEPTH] = 1.0, 3.0 * room, 0.04, 0.2
        case[d.UPPER_AREA], case[d.PICKUP], case[d.BAND] = 0.06, 0.6 * 3.0 * room / 0.04, 0.5 * 3.0 * room / 0.04
    dice = np.random.default_rng(3)
    compared = 0
    for _ in range(100):
        u = np.zeros(5)
        u[d.SPEED], u[d.OPENING], u[d.SUPPLY] = dice.uniform(10.0, 80.0), opening, dice.uniform(0.1, 0.9)
        y = np.zeros(d.N)
        y[d.V], y[d.Q] = dice.uniform(0.3, 0.9) * case[d.GAS_VOLUME], dice.uniform(-3e-4, 6e-4)
        y[d.P], y[d.T], y[d.S] = dice.uniform(0.5e5, 4e5), dice.uniform(280.0, 340.0), dice.uniform(0.1, 0.9)

        def rates(state: Any, u: Any = u) -> Any:
            out = np.zeros(d.ROWS)
            d.rates_at(state, u, case, mode, case[d.GAS_VOLUME], out)
            return out

        f, jac = rates(y), np.zeros((d.ROWS, d.N))
        d.steps.jacobian(y, u, case, mode, case[d.GAS_VOLUME], f, jac)
        for part, step in ((d.V, 1e-8), (d.Q, 1e-9), (d.P, 1.0), (d.T, 1e-3), (d.S, 1e-5)):
            shifts = np.zeros((3, d.N))
            shifts[:, part] = -step, step, 3.0 * step
            before, after, further = (rates(y + shift) for shift in shifts)
            slope = (after - before) / (2.0 * step)
            bends = np.abs((further - after) / (2.0 * step) - slope) > 1e-3 * np.abs(slope) + 1e-12 * np.abs(f) / step
            rounding = 1e-12 * np.abs(f) / step
            rounding[[d.P, *range(d.N, d.ROWS)]] += 1e-6 * np.max(np.abs(slope[d.N :]))  # differences of flows
            for row in np.flatnonzero(~bends):
                assert jac[row, part] == pytest.approx(slope[row], rel=1e-3, abs=rounding[row]), (row, part)
                compared += slope[row] != 0.0
    assert compared > 300


def test_order_of_the_method_is_four() -> None:
    """Errors fall as the fourth power of the step: with the tolerance as the driver, in proportion to it or faster.
    The step is counted in steps taken; a slope of 4 within the scatter of step control (3.4 or more) is asked for."""
    case, times, table, start = prepared(seal_friction=Q(0, "psi"), pump_decay=Q(0.5, "s"), precharge=Q(10, "psig"))
    case[dynamics.LIMIT] = 1.0
    moments = np.array([0.0, 0.4])
    times = np.array([0.0, 0.4])
    table = table[:, :2].copy()
    table[dynamics.SUPPLY] = 1.0, 0.2
    truth = dynamics.one(case, times, table, start, 1e-12, moments)[1][-1]
    counts, errors = [], []
    for tol in (1e-4, 1e-5, 1e-6, 1e-7, 1e-8):
        result, followed = dynamics.one(case, times, table, start, tol, moments)
        counts.append(result[dynamics.STEPS])
        errors.append(abs(followed[-1, dynamics.V] - truth[dynamics.V]) / truth[dynamics.V])
    slope = -np.polyfit(np.log(counts), np.log(errors), 1)[0]
    assert slope > 3.4, (counts, errors)
    assert errors[-1] < 1e-8


# ------------------------------------------------------------------------------------------------- limits of the gas


@pytest.mark.parametrize(("tau", "index"), [(0.0, 1.0), (1e-7, 1.0), (1e9, 1.4), (math.inf, 1.4)])
def test_gas_follows_its_limit(tau: float, index: float) -> None:
    """p V**n along the whole way; the first gas kept at the wall, the second without heat. 1e-5 is the steps' accuracy
    a hundred times over; a time constant of 1e-7 s lags by that much of a second's change."""
    run = discharge(BUILT, accuracy=1e-7, thermal_time_constant=Q(tau, "s"))
    room, air = BUILT.vessel.si.gas_volume, 101_325.0
    volume = room - run.history.oil.to("m**3").m
    constant = (run.history.gas_pressure.to("Pag").m + air) * volume**index
    assert constant == pytest.approx(constant[0], rel=1e-5)


# ------------------------------------------------------------------------------------------- the same laws as elsewhere


@pytest.mark.parametrize("name", list(engines()))
@pytest.mark.parametrize("rpm", [0.0, 900.0, 6500.0])
@pytest.mark.parametrize("thou", [-0.5, 0.0, 1.5])
def test_engine_takes_what_engine_demand_says(name: str, rpm: float, thou: float) -> None:
    """To 1e-6 wherever no root is near its foot: the kit rounds roots off below 3 Pa there (a jet opening, the rods'
    inward loss), where the rounding's own share (3 / dp)**2 / 4 is below 1e-6 from 1500 Pa (0.22 psi) on; and
    everywhere within what the engine takes at 7 Pa."""
    built = Installation(engines()[name], lubricants()["street"], vessels()["bench"], LINE)
    case = prepared(built, speed=Q(rpm, "rpm"), clearance_change=Q(thou, "thou"))[0]
    psi = np.concatenate([[0.0, 1e-5, 0.001], np.linspace(0.3, 90.0, 200)])
    wanted = engine_demand(
        built.engine, built.oil, Q(psi, "psig"), Q(rpm, "rpm"), Q(100, "degC"), Q(thou, "thou")
    ).total.to("m**3/s").m  # fmt: skip
    got = np.array([dynamics.engine_takes(p * PSI, rpm / 60.0, case) for p in psi])
    feet = [0.0, case[dynamics.RODS_IN] * (rpm / 60.0) ** 2, case[dynamics.JETS_OPEN]]
    near = np.min([np.where(psi * PSI >= foot, psi * PSI - foot, np.inf) for foot in feet], axis=0) < 1500.0
    assert got[~near] == pytest.approx(wanted[~near], rel=1e-6)
    assert got == pytest.approx(wanted, rel=1e-3, abs=float(wanted[2]))  # psi[2] is 7 Pa


@pytest.mark.parametrize("celsius", [0.0, 40.0, 110.0])
def test_line_loses_what_line_module_says(celsius: float) -> None:
    case = prepared(line_temperature=Q(celsius, "degC"))[0]
    oil = BUILT.oil.si
    rho, mu = density_of(oil, celsius + 273.15), viscosity_of(oil, celsius + 273.15)
    for gpm in (1e-4, 0.1, 1.0, 3.0, 8.0, 30.0):
        wanted = float(way_drop(way_of(LINE), gpm * GPM, rho, mu))
        assert dynamics.line_loss(gpm * GPM, case, 1.0) == pytest.approx(wanted, rel=1e-9)
        assert dynamics.line_loss(-gpm * GPM, case, 1.0) == pytest.approx(-wanted, rel=1e-9)


@pytest.mark.parametrize("name", list(engines()))
@pytest.mark.parametrize("celsius", [10.0, 40.0, 100.0])
@pytest.mark.parametrize("rpm", [900.0, 3000.0, 6500.0])
def test_gallery_settles_at_the_operating_point(name: str, celsius: float, rpm: float) -> None:
    """Pump at full supply, vessel shut or open, tee on either side of filter and cooler: the steady state is
    `operating_point`'s, cold too, where a cooler's bypass opens before the filter's, and an open vessel has the
    pressure at its tee. 1e-5 is left for rounded roots."""
    d, given = dynamics, {"sump_temperature": Q(celsius, "degC"), "speed": Q(rpm, "rpm")}
    for tee_first, opening in ((False, 0.0), (False, 1.0), (True, 0.0), (True, 1.0)):
        built = Installation(engines()[name], lubricants()["street"], vessels()["bench"], LINE, tee_first)
        case, _, table, start = prepared(built, thermal_time_constant=Q(0, "s"), pressure=Q(30, "psig"), **given)
        table[d.SUPPLY], table[d.OPENING] = 1.0, opening
        _, followed = d.one(case, np.array([0.0, 600.0]), table[:, :2].copy(), start, 1e-7, np.array([0.0, 600.0]))
        settled = operating_point(built.engine, built.oil, *(given[key] for key in ("speed", "sump_temperature")))
        assert followed[-1, d.P] == pytest.approx(settled.gallery_pressure.m_as("Pag"), rel=1e-5)
        if opening:
            tee = settled.pump_pressure if tee_first else settled.gallery_pressure
            expected = max(tee.m_as("Pag"), Q(10, "psig").m_as("Pag"))  # less than the pre-charge moves no piston
            assert d.gas_gauge(followed[-1], case) == pytest.approx(expected, rel=1e-5)


# ----------------------------------------------------------------------------------------------------------- the stops


def test_piston_stops_home_and_is_neither_late_nor_through() -> None:
    run = discharge(BUILT, precharge=Q(40, "psig"), samples=Q(np.linspace(0.0, 8.0, 20_001), "s"), duration=Q(8, "s"))
    oil = run.history.oil.to("m**3").m
    moments, home = run.history.time.m, float(run.empty_after.m)
    assert np.min(oil) > -1e-12
    assert np.all(oil[moments < home - 1e-3] > 0.0)
    assert oil[moments > home] == pytest.approx(0.0, abs=1e-14)
    assert run.history.line_flow.m[moments > home] == pytest.approx(0.0, abs=0.0)
    loose = discharge(BUILT, precharge=Q(40, "psig"), accuracy=1e-3)
    assert loose.empty_after.m == pytest.approx(home, rel=1e-3)


def refill(seconds: float = 6.0, tol: float = 1e-6, back: float = 2.0, **conditions: Any) -> tuple[Any, Any, Any]:
    """Empty vessel; the pump, dead at first, comes back in a straight line between ``back`` and two seconds later."""
    case, _, table, start = prepared(precharge=Q(20, "psig"), pressure=Q(18, "psig"), **conditions)
    times = np.array([0.0, back, back + 2.0, seconds])
    table = np.repeat(table[:, :1], 4, axis=1)
    table[dynamics.SUPPLY] = 0.0, 0.0, 1.0, 1.0
    moments = np.linspace(0.0, seconds, 60_001)
    result, followed = dynamics.one(case, times, table, start, tol, moments)
    return result, followed, moments


@pytest.mark.parametrize("friction", [0.0, 2.0])
@pytest.mark.parametrize("tol", [1e-6, 1e-3])
def test_piston_leaves_home_when_the_gallery_overcomes_gas_and_friction(friction: float, tol: float) -> None:
    """Located: at the first moment with oil the gallery's pressure is pre-charge plus seal friction."""
    result, followed, moments = refill(tol=tol, seal_friction=Q(friction, "psi"))
    assert result[dynamics.BOTTOMED] == 0.0  # it stood there from the start
    volume, pressure = followed[:, dynamics.V], followed[:, dynamics.P]
    gone = int(np.argmax(volume < volume[0] * (1.0 - 1e-9)))
    assert 2.0 < moments[gone] < 4.0
    before = int(np.searchsorted(moments, moments[gone] - 2e-3))
    assert pressure[before] < (20.0 + friction) * PSI * 1.002
    assert pressure[gone] > (20.0 + friction) * PSI * 0.995
    assert pressure[gone] < (20.0 + friction) * PSI * 1.02
    fine = refill(tol=1e-9, seal_friction=Q(friction, "psi"))[1]
    assert followed[-1, dynamics.V] == pytest.approx(fine[-1, dynamics.V], rel=max(1e-5, tol))


def test_piston_stops_at_the_gas_end_and_leaves_it_again() -> None:
    """A gallery at over 1000 psi for a moment, as no engine has: the piston may not go through its gas end."""
    case, _, table, start = prepared(precharge=Q(2, "psig"), limit=Q(1, "psig"))
    case[dynamics.RELIEF_OPENING], case[dynamics.PUMP] = 1e9, 150.0 * case[dynamics.PUMP]
    case[dynamics.COMPLIANCE] *= 2.0
    times = np.array([0.0, 1.0, 1.5, 6.0])
    table = np.repeat(table[:, :1], 4, axis=1)
    table[dynamics.SUPPLY] = 1.0, 1.0, 0.0, 0.0
    moments = np.linspace(0.0, 6.0, 6001)
    _, followed = dynamics.one(case, times, table, start, 1e-7, moments)
    volume = followed[:, dynamics.V]
    least = case[dynamics.LEAST_VOLUME]
    assert np.min(volume) == pytest.approx(least, rel=1e-11)
    stood = np.flatnonzero(volume < least * (1.0 + 1e-9))
    assert len(stood) > 10
    assert volume[-1] > 2.0 * least
    pumped, taken, leaked = (followed[:, dynamics.N + k] for k in range(3))
    total = volume + pumped - taken - leaked - case[dynamics.COMPLIANCE] * followed[:, dynamics.P]
    assert np.max(np.abs(total - total[0])) / case[dynamics.GAS_VOLUME] < 1e-9


def test_a_start_beyond_the_gas_end_is_refused() -> None:
    """A pre-charge of nearly vacuum: gas squeezed to less than the piston leaves it."""
    with pytest.raises(InputError, match=r"precharge: got -14\.0 psig; wanted enough gas"):
        discharge(BUILT, precharge=Q(-14, "psig"), pressure=Q(75, "psig"), limit=Q(5, "psig"))


# ---------------------------------------------------------------------------------------------------- limit, tolerance


def dip(tolerance: float, tol: float = 1e-6) -> Any:
    """Vessel shut, pump away between 1.0 and 1.5 s: the gallery dips once and comes back."""
    case, _, table, start = prepared(tolerance=Q(tolerance, "s"), limit=Q(20, "psig"))
    case[dynamics.COMPLIANCE] *= 3.0
    times = np.array([0.0, 1.0, 1.1, 1.4, 1.5, 4.0])
    table = np.repeat(table[:, :1], 6, axis=1)
    table[dynamics.OPENING] = 0.0
    table[dynamics.SUPPLY] = 1.0, 1.0, 0.0, 0.0, 1.0, 1.0
    moments = np.linspace(0.0, 4.0, 400_001)
    result, followed = dynamics.one(case, times, table, start, tol, moments)
    below = moments[followed[:, dynamics.P] < 20.0 * PSI]
    return result, float(below[0]), float(below[-1]), len(below) * 1e-5, followed


def test_a_dip_shorter_than_the_tolerance_is_forgiven_and_counted() -> None:
    result, first, last, lasted, _ = dip(tolerance=5.0)
    assert 0.02 < last - first < 1.0
    assert math.isinf(result[dynamics.PROTECTED])
    assert result[dynamics.FAILURES] == 0.0
    assert result[dynamics.BELOW] == pytest.approx(lasted, abs=3e-5)
    length = last - first
    assert math.isinf(dip(tolerance=length * 1.01)[0][dynamics.PROTECTED])
    failing = dip(tolerance=length * 0.99)[0]
    assert failing[dynamics.PROTECTED] == pytest.approx(first, abs=2e-5)  # when it fell, not when it was too long
    assert failing[dynamics.FAILURES] == 1.0


def test_lowest_pressure_is_that_of_the_curve_between_the_steps() -> None:
    result, _, _, _, followed = dip(tolerance=5.0, tol=1e-7)
    assert result[dynamics.LOWEST] == pytest.approx(np.min(followed[:, dynamics.P]), rel=1e-6)


# --------------------------------------------------------------------------------------------- the column of oil alone


def column(laminar: float, quadratic: float) -> tuple[Any, Any]:
    """Flow over time in a line between a gas and a gallery that both hold their pressure: very large, both."""
    case, _, table, start = prepared(limit=Q(1, "psig"), pressure=Q(40, "psig"))
    start[dynamics.P] = 30.0 * PSI
    case[dynamics.COMPLIANCE] = 1e6
    case[dynamics.GAS_VOLUME], case[dynamics.LEAST_VOLUME] = 1e6, 1.0
    start[dynamics.V] = 1e5
    case[dynamics.GAS_CONSTANT] = (40.0 * PSI + case[dynamics.AMBIENT]) * 1e5 / start[dynamics.T]
    case[dynamics.EXCHANGE] = 0.0
    case[dynamics.LAMINAR], case[dynamics.REYNOLDS], case[dynamics.FITTINGS] = laminar, 0.0, quadratic
    table[dynamics.SUPPLY] = 0.0
    moments = np.linspace(0.0, 0.2, 101)
    _, followed = dynamics.one(case, np.array([0.0, 0.2]), table[:, :2].copy(), start, 1e-9, moments)
    return moments, (followed[:, dynamics.Q], case[dynamics.INERTANCE])


def test_column_starts_as_a_tanh_against_quadratic_loss() -> None:
    """I dQ/dt = dp - k Q**2: Q = sqrt(dp / k) tanh(t sqrt(dp k) / I). First principles (Riccati)."""
    drop, k = 10.0 * PSI, 10.0 * PSI / (8.0 * GPM) ** 2
    moments, (flow, inertance) = column(0.0, k)
    exact = 8.0 * GPM * np.tanh(moments * math.sqrt(drop * k) / inertance)
    assert flow == pytest.approx(exact, abs=1e-6 * 8.0 * GPM)


def test_column_starts_exponentially_against_laminar_loss() -> None:
    """I dQ/dt = dp - R Q: Q = dp / R (1 - exp(-R t / I)). First principles."""
    drop, r = 10.0 * PSI, 10.0 * PSI / (8.0 * GPM)
    moments, (flow, inertance) = column(r, 0.0)
    exact = drop / r * -np.expm1(-r * moments / inertance)
    assert flow == pytest.approx(exact, abs=1e-6 * 8.0 * GPM)


# ------------------------------------------------------------------------------------------------------- many, and once


def test_many_says_what_one_says() -> None:
    rng = np.random.default_rng(7)
    charges, rpm = rng.uniform(2.0, 70.0, 40), rng.uniform(0.0, 7000.0, 40)
    together = discharge(BUILT, precharge=Q(charges, "psig"), speed=Q(rpm, "rpm"))
    for k in range(40):
        alone = discharge(BUILT, precharge=Q(charges[k], "psig"), speed=Q(rpm[k], "rpm"))
        assert together.protected_time.m[k] == alone.protected_time.m
        assert together.ending[k] == alone.ending
        assert together.oil_used.m[k] == alone.oil_used.m


def test_a_run_that_cannot_go_on_is_no_answer() -> None:
    case, times, table, start = prepared()
    case[dynamics.COMPLIANCE] = math.nan
    with pytest.raises(ArithmeticError, match="1 of 1"):
        dynamics.one(case, times, table, start, 1e-5, np.array([0.0, 1.0]))


def test_compiled_code_loads_no_linear_algebra_and_leaves_numba_s_to_others() -> None:
    """It would cost each lesson 15 MB."""
    code = """
import sys
import numba
import numpy as np
from oilkit.physics import dynamics
dynamics.run.cubic(0.0, 1.0, 0.0, 0.0, 1.0, 0.5)
assert "scipy.linalg" not in sys.modules
product = numba.njit(lambda a: np.dot(a, a))
assert product(2.0 * np.eye(2)).tolist() == [[4.0, 0.0], [0.0, 4.0]]
assert "scipy.linalg" in sys.modules
"""
    subprocess.run([sys.executable, "-c", code], check=True)
