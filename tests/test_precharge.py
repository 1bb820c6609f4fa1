"""Choosing pre-charge: useful oil, the best pre-charge, and how long a vessel lasts."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from outside_rows.row import ATMOSPHERE, GPM, PSI, QUART
from randomly import number, spread, tried
from scipy.integrate import quad
from sentences import refused

from oilkit import (
    Q,
    best_precharge,
    longest_lasting_precharge,
    oil_stored,
    pressure_after,
    rule_of_thumb_pressure,
    time_to_empty,
    use_units,
    useful_oil,
)
from oilkit.quantities.units import Qty

STANDARD = ATMOSPHERE / PSI
"""The standard atmosphere in psi."""

pressures = spread(0.05, 3000.0)
"""Absolute, in psi."""
ambients = number(4.4, 16.0)
indices = number(1.0, 1.67)


def gauge(absolute: float, ambient: float) -> Qty:
    """A gauge reading from absolute pressures in psi."""
    return Q(absolute - ambient, "psig")


# ------------------------------------------------------------------------------------------------------- useful oil


@pytest.mark.parametrize(
    ("precharge", "index", "quarts"),
    [
        pytest.param(20, 1.0, 3 * (1 - (20 + STANDARD) / (60 + STANDARD)), id="at the lowest pressure: all of it"),
        pytest.param(40, 1.0, 3 * (1 - (40 + STANDARD) / (60 + STANDARD)), id="above it: all of it, and less"),
        pytest.param(
            5,
            1.0,
            3 * (5 + STANDARD) * (1 / (20 + STANDARD) - 1 / (60 + STANDARD)),
            id="below it: some stays behind",
        ),
        pytest.param(
            20,
            1.4,
            3 * (20 + STANDARD) / (60 + STANDARD) * (((60 + STANDARD) / (20 + STANDARD)) ** (5 / 7) - 1),
            id="no heat exchange: less comes in time",
        ),
        pytest.param(59, 1.4, 3 * (1 - (59 + STANDARD) / (60 + STANDARD)), id="hardly any stored"),
        pytest.param(60, 1.0, 0.0, id="at the pressure: none"),
        pytest.param(61, 1.4, 0.0, id="above the pressure: none"),
        pytest.param(1e6, 1.0, 0.0, id="far above the pressure: none"),
        pytest.param(
            -10, 1.0, 3 * (STANDARD - 10) * (1 / (20 + STANDARD) - 1 / (60 + STANDARD)), id="a suction for a pre-charge"
        ),
    ],
)
def test_useful_oil_by_hand(precharge: float, index: float, quarts: float) -> None:
    """3 qt, from 60 to 20 psi: how much the gas grows before it reaches 20 psi or the piston its end."""
    oil = useful_oil(Q(3, "qt"), Q(precharge, "psig"), Q(60, "psig"), Q(20, "psig"), polytropic_index=index)
    assert oil.to("qt").m == pytest.approx(quarts, rel=1e-12, abs=1e-15)


@tried
@given(pressures, pressures, pressures, ambients, indices)
def test_useful_oil_is_never_more_than_is_stored_and_never_less_than_none(
    charge: float, one: float, other: float, ambient: float, index: float
) -> None:
    low, high = sorted((one, other))
    state = Q(3, "qt"), gauge(charge, ambient), gauge(high, ambient)
    stored = oil_stored(*state, Q(ambient, "psia"), resting=True).m
    useful = useful_oil(*state, gauge(low, ambient), Q(ambient, "psia"), index).m
    assert 0.0 <= useful <= stored * (1.0 + 1e-12) + 1e-15


@tried
@given(pressures, pressures, pressures, ambients)
def test_slowly_useful_oil_is_what_is_stored_less_what_stays(
    charge: float, one: float, other: float, ambient: float
) -> None:
    low, high = sorted((one, other))
    volume, precharge, outside = Q(3, "qt"), gauge(charge, ambient), Q(ambient, "psia")
    at_high, at_low = (oil_stored(volume, precharge, gauge(p, ambient), outside, resting=True).m for p in (high, low))
    useful = useful_oil(volume, precharge, gauge(high, ambient), gauge(low, ambient), outside).m
    assert useful == pytest.approx(at_high - at_low, rel=1e-9, abs=1e-11)


@tried
@given(pressures, number(0.01, 1.0), ambients, indices, number(0.0, 4.0))
def test_the_best_pre_charge_is_the_best(high: float, part: float, ambient: float, index: float, times: float) -> None:
    """No other pre-charge gives more; a tenth less or more gives less, unless nothing is given at all."""
    low, outside = high * part, Q(ambient, "psia")
    ends = gauge(high, ambient), gauge(low, ambient)
    best = best_precharge(*ends, outside, index).to("psig").m + ambient

    def oil(charge: float) -> float:
        return float(useful_oil(Q(3, "qt"), gauge(charge, ambient), *ends, outside, index).m)

    assert low * (1.0 - 1e-9) <= best <= high * (1.0 + 1e-9)
    assert oil(best * max(times, 1e-3)) <= oil(best) + 1e-12
    if part < 0.8:
        assert oil(0.9 * best) < oil(best)
        assert oil(min(1.1 * best, high)) < oil(best)


@tried
@given(pressures, number(0.01, 1.0), ambients, indices)
def test_with_the_best_pre_charge_all_the_oil_that_is_stored_is_useful(
    high: float, part: float, ambient: float, index: float
) -> None:
    ends, outside = (gauge(high, ambient), gauge(high * part, ambient)), Q(ambient, "psia")
    best = best_precharge(*ends, outside, index)
    stored = oil_stored(Q(3, "qt"), best, ends[0], outside, resting=True).m
    assert useful_oil(Q(3, "qt"), best, *ends, outside, index).m == pytest.approx(stored, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize(
    ("index", "psi"),
    [(1.0, 10.0), (1.4, (50 + STANDARD) * ((10 + STANDARD) / (50 + STANDARD)) ** (1 / 1.4) - STANDARD)],
)
def test_best_pre_charge_by_hand(index: float, psi: float) -> None:
    best = best_precharge(Q(50, "psig"), Q(10, "psig"), polytropic_index=index)
    assert best.to("psig").m == pytest.approx(psi, rel=1e-12)


def test_the_faster_the_gas_the_more_pre_charge() -> None:
    rising = best_precharge(Q(50, "psig"), Q(10, "psig"), polytropic_index=np.linspace(1.0, 1.4, 9)).m
    assert np.all(np.diff(rising) > 0.0)


@pytest.mark.parametrize("ambient", [Q(14.7, "psia"), Q(83_524, "Paa")])
def test_slowly_the_best_pre_charge_is_the_lowest_pressure_whatever_the_rest(ambient: Qty) -> None:
    for high in (10.0, 35.0, 80.0, 1e6):
        assert best_precharge(Q(high, "psig"), Q(10, "psig"), ambient).m == pytest.approx(10.0, rel=1e-9)


SETTLED: list[tuple[str, Callable[..., Qty]]] = [
    ("useful_oil", lambda **ends: useful_oil(Q(3, "qt"), Q(8, "psig"), **ends)),
    ("best_precharge", best_precharge),
]


@pytest.mark.parametrize("call", [call for _, call in SETTLED], ids=[name for name, _ in SETTLED])
class TestTwoPressures:
    """What both functions of a discharge from one pressure to another say of the two."""

    def test_a_lowest_pressure_above_the_pressure_is_refused_with_both(self, call: Callable[..., Qty]) -> None:
        sentence = refused("lowest_pressure", lambda: call(pressure=Q(30, "psig"), lowest_pressure=Q(40, "psig")))
        assert "got 40.0 psig" in sentence
        assert "30.0 psig" in sentence

    def test_the_sentence_speaks_of_the_pair_that_is_wrong(self, call: Callable[..., Qty]) -> None:
        ends = {"pressure": Q([[30.0], [50.0]], "psig"), "lowest_pressure": Q([20.0, 40.0], "psig")}
        sentence = refused("lowest_pressure", lambda: call(**ends))
        assert "got 40.0 psig" in sentence
        assert "30.0 psig" in sentence

    def test_a_hair_above_does_not_read_as_the_same(self, call: Callable[..., Qty]) -> None:
        ends = {"pressure": Q(30, "psig"), "lowest_pressure": Q(30.000001, "psig")}
        sentence = refused("lowest_pressure", lambda: call(**ends))
        assert float(sentence.split("got ")[1].split(" psig")[0]) > 30.0

    def test_the_sentence_follows_the_learners_units(self, call: Callable[..., Qty]) -> None:
        use_units("SI")
        sentence = refused("lowest_pressure", lambda: call(pressure=Q(2, "barg"), lowest_pressure=Q(3, "barg")))
        assert "3.00 barg" in sentence
        assert "psi" not in sentence

    @pytest.mark.parametrize("argument", ["pressure", "lowest_pressure"])
    def test_below_a_vacuum_the_right_argument_is_named(self, call: Callable[..., Qty], argument: str) -> None:
        ends = {"pressure": Q(30, "psig"), "lowest_pressure": Q(8, "psig")} | {argument: Q(-15, "psig")}
        assert "above -14.6959" in refused(argument, lambda: call(**ends))

    def test_the_same_pressure_in_two_units_is_the_same(self, call: Callable[..., Qty]) -> None:
        for psi in np.linspace(-14.0, 200.0, 108):
            same = Q(float(psi), "psig")
            call(pressure=same.to("kPag").to("barg"), lowest_pressure=same)


def test_a_pre_charge_below_a_vacuum_is_refused_by_name() -> None:
    refused("precharge", lambda: useful_oil(Q(3, "qt"), Q(-15, "psig"), Q(30, "psig"), Q(8, "psig")))


def test_no_fall_of_pressure_gives_no_oil() -> None:
    """Not even a negative hair of it, where rounding puts the lowest pressure above the pressure."""
    rounded = Q(30.0 * (1.0 + np.array([0.0, -1e-15, 1e-13, 5e-13])), "psig")
    oil = useful_oil(Q(3, "qt"), Q(8, "psig"), Q(30, "psig"), rounded).m
    np.testing.assert_allclose(oil, 0.0, atol=1e-14)
    assert np.all(oil >= 0.0)


def test_arrays_of_any_shape_go_together() -> None:
    volume, charge = Q(np.array([1.0, 3.0])[:, None, None], "qt"), Q(np.array([5.0, 10.0, 20.0])[:, None], "psig")
    high = Q(np.array([30.0, 40.0, 50.0, 60.0]), "psig")
    grid = useful_oil(volume, charge, high, Q(8, "psig"))
    assert grid.m.shape == (2, 3, 4)
    assert grid.m[1, 2, 3] == useful_oil(Q(3, "qt"), Q(20, "psig"), Q(60, "psig"), Q(8, "psig")).m


def test_enormous_and_tiny_numbers_keep_the_law() -> None:
    """Far from ambient: half the pressure, twice the gas."""
    for size in (1e-9, 1.0, 1e12):
        for psi in (1e7, 1e12, 1e100):
            oil = useful_oil(Q(size, "qt"), Q(psi, "psig"), Q(4 * psi, "psig"), Q(2 * psi, "psig"))
            assert oil.m == pytest.approx(size * 0.25, rel=1e-5)


# ---------------------------------------------------------------------------------------------------- rule of thumb


@pytest.mark.parametrize(("rpm", "psi"), [(0, 0), (850, 8.5), (1000, 10), (6500, 65), (1e4, 100)])
def test_the_rule_of_thumb_is_10_psi_per_1000_rpm(rpm: float, psi: float) -> None:
    assert rule_of_thumb_pressure(Q(rpm, "rpm")).to("Pag").m == pytest.approx(psi * PSI, rel=1e-12)
    assert rule_of_thumb_pressure(Q(rpm / 60, "rev/s")).to("psig").m == pytest.approx(psi, rel=1e-12)


# -------------------------------------------------------------------------------------------------- how long it lasts


@tried
@given(spread(0.01, 200.0), spread(1.0, 200.0), number(4.4, 16.0), spread(0.1, 100.0), spread(0.1, 20.0))
def test_time_to_empty_is_the_sum_of_all_the_little_times(
    charge: float, more: float, ambient: float, gpm: float, quarts: float
) -> None:
    """Each little growth of the gas takes as long as the flow at that pressure needs for it: adaptive quadrature."""
    full = charge + more
    volume, outside = quarts * QUART, ambient * PSI
    constant = (charge * PSI + outside) * volume
    start = constant / (full * PSI + outside)

    def per_gas_volume(gas: float) -> float:
        return full * PSI / (gpm * GPM) / (constant / gas - outside)

    seconds, error = quad(per_gas_volume, start, volume, epsabs=0.0, epsrel=1e-10, limit=200)
    got = time_to_empty(Q(quarts, "qt"), Q(charge, "psig"), Q(full, "psig"), Q(gpm, "gpm"), Q(ambient, "psia"))
    assert got.to("s").m == pytest.approx(seconds, rel=1e-8, abs=2 * error)


@tried
@given(
    spread(0.01, 200.0),
    spread(1.0, 200.0),
    number(4.4, 16.0),
    spread(0.1, 100.0),
    spread(0.1, 20.0),
    number(0.01, 0.99),
)
def test_pressure_after_is_where_the_little_times_lead(
    charge: float, more: float, ambient: float, gpm: float, quarts: float, share: float
) -> None:
    """The time down to a pressure between full and pre-charge, by adaptive quadrature, and that pressure again after
    it; none once the piston is home."""
    full = charge + more
    between, outside = charge + share * more, ambient * PSI
    constant = (charge * PSI + outside) * quarts * QUART
    start, there = (constant / (psi * PSI + outside) for psi in (full, between))
    seconds, _ = quad(
        lambda gas: full * PSI / (gpm * GPM) / (constant / gas - outside), start, there, epsabs=0.0, epsrel=1e-10
    )
    vessel = Q(quarts, "qt"), Q(charge, "psig"), Q(full, "psig"), Q(gpm, "gpm")
    left = pressure_after(*vessel, Q(seconds, "s"), Q(ambient, "psia"))
    assert left.m_as("psig") == pytest.approx(between, rel=1e-5)
    home = time_to_empty(*vessel, Q(ambient, "psia"))
    assert pressure_after(*vessel, 1.0001 * home, Q(ambient, "psia")).m == 0.0


def test_far_above_ambient_time_to_empty_has_a_plain_form() -> None:
    """Without the air outside, V dV = C G dt: t = (V0^2 - V1^2) / (2 p0 V0) times p1 / Q."""
    volume, flow, low, high = 3 * QUART, 5 * GPM, 1e8, 2e8
    plain = volume * (1 - (low / high) ** 2) / (2 * low) * high / flow
    got = time_to_empty(Q(3, "qt"), Q(low, "psig"), Q(high, "psig"), Q(5, "gpm"))
    assert got.to("s").m == pytest.approx(plain, rel=1e-6)  # ambient is 1.5e-7 of the pre-charge


@tried
@given(spread(0.1, 100.0), spread(0.1, 100.0), spread(0.01, 100.0), spread(0.01, 100.0))
def test_twice_the_vessel_lasts_twice_as_long_and_twice_the_flow_half(
    charge: float, full: float, gpm: float, quarts: float
) -> None:
    def seconds(volume: float, flow: float) -> float:
        return float(time_to_empty(Q(volume, "qt"), Q(charge, "psig"), Q(full, "psig"), Q(flow, "gpm")).m)

    once = seconds(quarts, gpm)
    assert seconds(2 * quarts, gpm) == pytest.approx(2 * once, rel=1e-9)
    assert seconds(quarts, 2 * gpm) == pytest.approx(once / 2, rel=1e-9)
    assert (once < 1e-12 * quarts / gpm) if charge >= full else (once >= 0.0)


def test_more_pre_charge_is_sooner_empty_and_above_the_pressure_at_once() -> None:
    seconds = time_to_empty(Q(3, "qt"), Q(np.linspace(1.0, 80.0, 80), "psig"), Q(60, "psig"), Q(5, "gpm")).m
    assert np.all(np.diff(seconds[:60]) < 0.0)
    np.testing.assert_allclose(seconds[59:], 0.0, atol=1e-12)


@pytest.mark.parametrize("argument", ["precharge", "pressure"])
@pytest.mark.parametrize("psi", [0.0, -1.0, -20.0])
def test_time_to_empty_needs_pressures_above_none(argument: str, psi: float) -> None:
    values = {"precharge": Q(10, "psig"), "pressure": Q(60, "psig")} | {argument: Q([30.0, psi], "psig")}
    sentence = refused(argument, lambda: time_to_empty(Q(3, "qt"), **values, flow_at_pressure=Q(5, "gpm")))
    assert f"got {psi + 0.0:.1f} psig" in sentence


def lasting(**changes: Any) -> Qty:
    """The longest-lasting pre-charge of a usual event, with something changed."""
    values: dict[str, Any] = {
        "gas_volume": Q(3, "qt"),
        "pressure": Q(60, "psig"),
        "flow_at_pressure": Q(5, "gpm"),
        "event": Q(2, "s"),
    }
    return longest_lasting_precharge(**(values | changes))


@tried
@given(spread(0.5, 500.0), spread(0.05, 100.0), spread(0.1, 50.0), number(4.4, 16.0), number(0.001, 0.999))
def test_the_longest_lasting_pre_charge_lasts_just_as_long_as_the_event(
    full: float, gpm: float, quarts: float, ambient: float, part: float
) -> None:
    """A hair less outlasts it, a hair more does not: 1e-9 psi, as promised, and 1e-9 of the time for rounding."""
    state = Q(quarts, "qt"), Q(full, "psig"), Q(gpm, "gpm")
    event = time_to_empty(state[0], Q(part * full, "psig"), *state[1:], Q(ambient, "psia"))
    found = longest_lasting_precharge(*state, event, Q(ambient, "psia")).to("psig").m
    less, more = (
        time_to_empty(state[0], Q(found + hair, "psig"), *state[1:], Q(ambient, "psia")).m for hair in (-1e-9, 1e-9)
    )
    assert less >= event.m * (1.0 - 1e-9)
    assert more <= event.m * (1.0 + 1e-9)
    assert found == pytest.approx(part * full, rel=1e-6)


@pytest.mark.parametrize(
    ("argument", "unit", "numbers"),
    [("event", "s", [0.1, 0.5, 2.0, 5.0, 30.0]), ("flow_at_pressure", "gpm", [0.5, 1.0, 5.0, 20.0, 60.0])],
)
def test_longer_events_and_looser_engines_want_less_pre_charge(argument: str, unit: str, numbers: list[float]) -> None:
    falling = lasting(**{argument: Q(np.array(numbers), unit)}).m
    assert np.all(np.diff(falling) < 0.0)
    assert np.all((falling > 0.0) & (falling < 60.0))


def test_no_event_at_all_wants_the_pressure_itself() -> None:
    assert lasting(event=Q(0, "s")).to("psig").m == pytest.approx(60.0, rel=1e-9)


@pytest.mark.parametrize("seconds", [1e4, 1e9, 1e300])
def test_an_event_that_nothing_outlasts_wants_nearly_none(seconds: float) -> None:
    assert 0.0 < lasting(event=Q(seconds, "s")).to("psig").m < 1e-6


def test_the_longest_lasting_pre_charge_of_a_grid_is_that_of_each_place() -> None:
    grid = lasting(pressure=Q([[40.0], [60.0]], "psig"), event=Q([0.5, 2.0, 1e9], "s"))
    assert grid.m.shape == (2, 3)
    assert grid.m[1, 1] == pytest.approx(lasting().m, rel=1e-12)
    assert np.ndim(lasting().m) == 0


@pytest.mark.parametrize("psi", [0.0, -5.0, [60.0, -5.0]])
def test_the_longest_lasting_pre_charge_needs_a_pressure_and_says_so_by_its_name(psi: Any) -> None:
    refused("pressure", lambda: lasting(pressure=Q(psi, "psig")))


@tried
@given(st.integers(0, 10_000))
def test_the_pressure_at_the_events_end_is_highest_with_it(seed: int) -> None:
    """With any lower pre-charge the gas ends at a lower pressure; with any higher one the vessel is empty before."""
    rng = np.random.default_rng(seed)
    full, gpm, event = rng.uniform(10.0, 100.0), rng.uniform(0.5, 12.0), rng.uniform(0.1, 5.0)
    found = lasting(pressure=Q(full, "psig"), flow_at_pressure=Q(gpm, "gpm"), event=Q(event, "s")).to("psig").m
    charges = np.array([found * rng.uniform(0.05, 0.999), found, min(found * rng.uniform(1.001, 2.0), full)])
    constant = (charges * PSI + ATMOSPHERE) * 3 * QUART
    gas, steps = constant / (full * PSI + ATMOSPHERE), 400
    for _ in range(steps):  # midpoint steps of dV/dt = G (p - p_amb)
        half = gas + 0.5 * event / steps * gpm * GPM / (full * PSI) * (constant / gas - ATMOSPHERE)
        gas = gas + event / steps * gpm * GPM / (full * PSI) * (constant / half - ATMOSPHERE)
    less, best, more = np.where(gas <= 3 * QUART * (1 + 1e-5), constant / gas, 0.0)
    assert less < best
    assert more == 0.0 or math.isclose(charges[2], full) or charges[2] / found < 1.005
