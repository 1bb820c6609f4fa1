"""Measuring an engine: does the stated interval hold the truth as often as it says?

Readings are made up here from an engine whose demand is known, with instruments that err as the kit supposes; the fall
comes from an integration of its own. Then the kit is asked, and the truth is looked for in its interval.
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from outside_rows.row import ATMOSPHERE, GPM, PSI, QUART
from parts import quick
from randomly import number, spread, tried
from scipy.integrate import solve_ivp
from sentences import refused

import oilkit
from oilkit import (
    Engine,
    InputError,
    Knee,
    Lubricant,
    Q,
    demand_at_relief,
    demand_from_fall,
    engine_demand,
    operating_point,
    pressure_knee,
)
from oilkit.physics.catalog import engines, lubricants
from oilkit.physics.measure import MeasuredDemand, mean_over_time
from oilkit.physics.oil import viscosity_of
from oilkit.quantities.units import Qty

DRAWS = 300
GAUGE_ERROR, READING_ERROR, TACHOMETER_ERROR, CLOCK_ERROR = 1.5, 0.3, 50.0, 0.2
"""Largest errors, either way, in psi, psi, rpm and s: the kit's own assumption about shop instruments."""
EFFICIENCY_ERROR, DISPLACEMENT_ERROR, VOLUME_ERROR = 0.05, 0.02, 0.02
LEAST, MOST = 0.90, 0.99
"""An interval for 95 in 100 holds the truth in 285 of 300 draws, give or take 4; the bounds are 4 of these away."""

V8_PUMP = engines()["street_v8"].pump


def held(found: list[MeasuredDemand], truth: Any) -> float:
    """Share of the draws in which the truth lies in the interval."""
    low, high = (np.array([getattr(f, end).to("m**3/s").m for f in found]) for end in ("lowest", "highest"))
    return float(np.mean((low <= truth) & (truth <= high)))


# ------------------------------------------------------------------------------------- the knee, made up and measured


@dataclass(frozen=True)
class HotRun:
    """An engine run hot, and the speeds at which its pressure is read."""

    engine: Engine
    oil: Lubricant
    celsius: float
    rpm: Any


HOT_RUNS = {
    "small_four": ("thin", 120.0, np.arange(1500.0, 3501.0, 100.0)),
    "street_v8": ("street", 110.0, np.arange(1100.0, 2601.0, 100.0)),
    "race_v8": ("thick", 110.0, np.arange(1700.0, 3801.0, 100.0)),
}
"""From about two thirds of the speed at which the relief valve opens to half as much again."""


def hot_run(key: str) -> HotRun:
    oil, celsius, rpm = HOT_RUNS[key]
    return HotRun(engines()[key], lubricants()[oil], celsius, rpm)


def at_opening(run: HotRun) -> Any:
    """The true state in which the relief valve just opens."""

    def settled(rpm: Any) -> Any:
        return operating_point(run.engine, run.oil, Q(rpm, "rpm"), Q(run.celsius, "degC"))

    opening = run.engine.pump.relief_opening.m_as("psig")
    tried = np.linspace(0.8 * run.rpm[0], 1.5 * run.rpm[-1], 400)
    pressure = settled(tried).pump_pressure.m_as("psig")
    last = int(np.searchsorted(pressure, opening)) - 1  # beyond it the line has its kink: on from the two before that
    slope = (tried[last] - tried[last - 1]) / (pressure[last] - pressure[last - 1])
    rpm = tried[last] + slope * (opening - pressure[last])
    return Q(rpm, "rpm"), settled(rpm)


def knee_draws(run: HotRun, errors: dict[str, Any], gauge: float, tachometer: float) -> tuple[list[Any], Any]:
    """Readings of 300 runs, each measured; and what the engine truly takes there at the pressure as read. SI.

    Oil and what filter and cooler cost are known; the pump is another one each time.
    """
    dice = np.random.default_rng(1662)
    engine, nominal = run.engine, run.engine.pump
    wrong_efficiency = errors.get("efficiency_error", EFFICIENCY_ERROR)
    efficiency = np.minimum(nominal.efficiency.m + dice.uniform(-1.0, 1.0, DRAWS) * wrong_efficiency, 1.0)
    size = 1.0 + dice.uniform(-1.0, 1.0, DRAWS) * errors.get("displacement_error", DISPLACEMENT_ERROR)
    off = dice.uniform(-tachometer, tachometer, (DRAWS, 1))
    wrong = dice.uniform(-gauge, gauge, (DRAWS, 1))
    scatter = dice.uniform(-READING_ERROR, READING_ERROR, (DRAWS, len(run.rpm)))
    _, there = at_opening(run)
    known = {
        "dynamic_viscosity": Q(float(viscosity_of(run.oil.si, run.celsius + 273.15)), "Pa s"),
        "before_gauge": Q(there.pump_pressure.m_as("psig") - there.gallery_pressure.m_as("psig"), "psi"),
    }
    found, truth = [], []
    for k in range(DRAWS):
        pump = nominal.changed(displacement=nominal.displacement * size[k], efficiency=float(efficiency[k]))
        real = dataclasses.replace(run, engine=dataclasses.replace(engine, pump=pump))
        turning, hot = Q(run.rpm - off[k], "rpm"), Q(run.celsius, "degC")
        read = operating_point(real.engine, run.oil, turning, hot).gallery_pressure.m + wrong[k] + scatter[k]
        knee = pressure_knee(Q(run.rpm, "rpm"), Q(read, "psig"))
        found.append(demand_at_relief(knee, nominal, seed=k, **errors, **known))
        speed, _ = at_opening(real)
        truth.append(float(engine_demand(engine, run.oil, found[-1].at_pressure, speed, hot).total.m_as("m**3/s")))
    return found, np.array(truth)


@pytest.mark.thorough
@pytest.mark.parametrize("key", HOT_RUNS)
def test_the_interval_from_the_knee_holds_the_truth_as_often_as_it_says(key: str) -> None:
    run = hot_run(key)
    found, truth = knee_draws(run, {}, GAUGE_ERROR, TACHOMETER_ERROR)
    assert LEAST <= held(found, truth) <= MOST
    flow = np.array([f.flow.to("m**3/s").m for f in found])
    assert np.mean(flow / truth) == pytest.approx(1.0, abs=0.01), "no bias beyond four standard errors of the mean"
    width = np.array([((f.highest - f.lowest) / (2 * f.flow)).m for f in found])
    # an interval wide enough for anything would say nothing: the rated efficiency's error, as it counts at the knee,
    # and 6 % for displacement, tachometer and gauge; the pumps of the draws slip up to a half more than the nominal one
    speed, there = at_opening(run)
    thin = float(viscosity_of(run.oil.si, run.celsius + 273.15))
    slips = 3000.0 / speed.m * there.pump_pressure.m_as("psig") / 50.0 * 0.009 / thin
    left = 1.0 - (1.0 - run.engine.pump.efficiency.m) * slips
    assert np.all(width < 1.5 * EFFICIENCY_ERROR * slips / left + 0.06)


@pytest.mark.parametrize("key", quick(0, HOT_RUNS))
def test_the_knee_s_own_error_is_honest_where_good_instruments_leave_little_else(key: str) -> None:
    """A pump measured on a bench, a digital tachometer and gauge: most of what is left is the scatter of the kink."""
    good = {
        "efficiency_error": 0.005,
        "displacement_error": 0.003,
        "speed_error": Q(3, "rpm"),
        "gauge_error": Q(0.2, "psi"),
    }
    found, truth = knee_draws(hot_run(key), good, 0.2, 3.0)
    assert LEAST <= held(found, truth) <= MOST


# ------------------------------------------------------------------------------------ the fall, made up and measured


@dataclass(frozen=True)
class Fall:
    """How the stopped engine is measured."""

    oil: str
    celsius: float
    quarts: float
    full: float
    """Settled pressure before, psi."""
    seconds: float
    """For which the valve is open, about."""
    jets: float
    """Pressure at which jets open, psi: the fall ends 10 psi above it."""


FALLS = {
    "small_four": Fall("street", 100.0, 3.0, 70.0, 1.8, 25.0),
    "street_v8": Fall("street", 100.0, 3.0, 60.0, 2.2, 0.0),
    "race_v8": Fall("thick", 100.0, 6.0, 75.0, 1.4, 30.0),
}
LINE = 1.5, 1.5
"""Pressure that the line takes at the flow at 50 psi, psi, in proportion to the flow and to its square."""


@dataclass(frozen=True)
class Truth:
    """What really happened in 300 falls, SI, gas absolute and gallery gauge."""

    seconds: Any
    charge: Any
    before: Any
    after: Any
    start: Any
    end: Any
    room: Any
    """True gas volume over the nominal one."""


def fallen(key: str, dice: np.random.Generator) -> Truth:
    """300 falls: gas that cools and is warmed by its wall, a line, and the engine at rest; all by ``solve_ivp``."""
    fall, engine = FALLS[key], engines()[key]
    gallery = np.concatenate([[0.0], np.linspace(0.02, 110.0, 1200)]) * PSI
    at_rest = (
        engine_demand(engine, lubricants()[fall.oil], Q(gallery, "Pag"), Q(0, "rpm"), Q(fall.celsius, "degC"))
        .total.to("m**3/s")
        .m
    )
    share = at_rest / np.interp(50.0 * PSI, gallery, at_rest)
    vessel = gallery + (LINE[0] * share + LINE[1] * share**2) * PSI  # at the far end of the line

    tau = dice.uniform(3.0, 12.0, DRAWS)
    room = 1.0 + dice.uniform(-VOLUME_ERROR, VOLUME_ERROR, DRAWS)
    charge = dice.uniform(7.0, 15.0, DRAWS) * PSI + ATMOSPHERE
    before = (fall.full + dice.uniform(-3.0, 3.0, DRAWS)) * PSI + ATMOSPHERE
    seconds = fall.seconds * dice.uniform(0.9, 1.1, DRAWS)
    whole = fall.quarts * QUART * room
    at_first = whole * charge / before

    def pressure(volume: Any, warmth: Any) -> Any:
        """Gauge, of the gas: its mass and the wall's temperature are in the pre-charge."""
        return charge * whole / volume * warmth - ATMOSPHERE

    def slope(share_gone: float, y: Any) -> Any:
        volume, warmth = y[:DRAWS] * at_first, y[DRAWS:]  # temperature over the wall's
        out = np.interp(pressure(volume, warmth), vessel, at_rest)
        cooling = (1.0 - warmth) / tau - 0.4 * warmth * out / volume
        return np.concatenate([out / at_first, cooling]) * np.tile(seconds, 2)

    done = solve_ivp(slope, (0.0, 1.0), np.ones(2 * DRAWS), rtol=1e-8, atol=1e-10, t_eval=[0.0, 1.0])
    assert done.success
    volume, warmth = done.y[:DRAWS] * at_first[:, None], done.y[DRAWS:]
    start, end = (np.interp(pressure(volume[:, i], warmth[:, i]), vessel, gallery) for i in (0, 1))
    assert np.all(volume[:, 1] < whole), "the piston reaches its end"
    assert np.all(end > 0.5 * start)
    assert np.all(end > (fall.jets + 10.0) * PSI)
    return Truth(seconds, charge, before, charge * whole / volume[:, 1], start, end, room)


@pytest.mark.parametrize("key", quick(1, FALLS))
def test_the_interval_from_a_fall_holds_the_truth_as_often_as_it_says(key: str) -> None:
    fall, dice = FALLS[key], np.random.default_rng(1714)
    true = fallen(key, dice)
    gauges = dice.uniform(-GAUGE_ERROR, GAUGE_ERROR, (2, DRAWS))  # the vessel's, the gallery's: each wrong by the same

    def read(pressure: Any, gauge: int) -> Any:
        return pressure / PSI + gauges[gauge] + dice.uniform(-READING_ERROR, READING_ERROR, DRAWS)

    settled = [read(pressure - ATMOSPHERE, 0) for pressure in (true.charge, true.before, true.after)]
    watched = [read(pressure, 1) for pressure in (true.start, true.end)]
    clock = true.seconds + dice.uniform(-CLOCK_ERROR, CLOCK_ERROR, DRAWS)
    found = [
        demand_from_fall(
            Q(fall.quarts, "qt"),
            *(Q(one, "psig") for one in settled_one),
            Q(seconds, "s"),
            *(Q(one, "psig") for one in watched_one),
            seed=seed,
        )
        for seed, (settled_one, seconds, watched_one) in enumerate(
            zip(zip(*settled, strict=True), clock, zip(*watched, strict=True), strict=True)
        )
    ]
    as_read = Q(np.array([f.at_pressure.m for f in found]), "psig")
    engine, oil = engines()[key], lubricants()[fall.oil]
    truth = engine_demand(engine, oil, as_read, Q(0, "rpm"), Q(fall.celsius, "degC")).total.to("m**3/s").m
    assert LEAST <= held(found, truth) <= MOST


@pytest.mark.parametrize("key", FALLS)
def test_a_fall_read_without_any_error_gives_the_demand_itself(key: str) -> None:
    """To 2 %: the law of the flow between both pressures is not known; without jets it matters least."""
    fall = FALLS[key]
    true = fallen(key, np.random.default_rng(3))
    engine, oil = engines()[key], lubricants()[fall.oil]
    for i in range(0, DRAWS, 30):
        found = demand_from_fall(
            Q(fall.quarts * QUART * true.room[i], "m**3"),
            *(Q(p[i] - ATMOSPHERE, "Pag") for p in (true.charge, true.before, true.after)),
            Q(true.seconds[i], "s"),
            Q(true.start[i], "Pag"),
            Q(true.end[i], "Pag"),
        )
        truth = engine_demand(engine, oil, found.at_pressure, Q(0, "rpm"), Q(fall.celsius, "degC")).total
        assert found.flow.m == pytest.approx(truth.m, rel=0.02)


# ----------------------------------------------------------------------------------------------- the mean of a fall


@tried
@given(number(0.5, 1.5), spread(2.0, 100.0), number(0.2, 0.98), number(10.0, 15.0))
def test_an_engine_takes_on_average_what_it_takes_at_the_mean(
    law: float, start: float, share: float, ambient: float
) -> None:
    """Flow p ** law from a gas that obeys Boyle, added up in 4000 bits of oil, each of which takes its own time."""
    end = share * start
    volume = np.linspace(1.0 / (start + ambient), 1.0 / (end + ambient), 4001)
    between = (volume[1:] + volume[:-1]) / 2.0
    seconds = np.sum(np.diff(volume) / (1.0 / between - ambient) ** law)
    mean = float(mean_over_time(start, end, ambient, law))
    assert mean**law == pytest.approx((volume[-1] - volume[0]) / seconds, rel=1e-5)
    assert end < mean < (start + end) / 2.0, "it falls fastest at the start"


def test_the_mean_over_time_by_hand() -> None:
    """Ambient 1, from 3 to 1, flow in proportion: V from 1/4 to 1/2, t = int V / (1 - V) dV = ln 1.5 - 1/4."""
    assert mean_over_time(3.0, 1.0, 1.0, 1.0) == pytest.approx(0.25 / (math.log(1.5) - 0.25), rel=1e-7)
    assert mean_over_time(2.0, 2.0, 1.0, 0.7) == pytest.approx(2.0, rel=1e-12)
    several = mean_over_time(np.array([3.0, 2.0]), np.array([1.0, 2.0]), 1.0, 1.0)
    np.testing.assert_allclose(several, [mean_over_time(3.0, 1.0, 1.0, 1.0), 2.0], rtol=1e-12)


# ----------------------------------------------------------------------------------------------------- knee, by hand

RPM = np.arange(900.0, 3000.0, 150.0)


def bent(rpm: Any, kink: float = 1800.0) -> Any:
    """Readings without scatter: a parabola up to the kink, 50 psi there, and 1 psi for each 1000 rpm beyond it."""
    below, above = np.minimum(rpm - kink, 0.0), np.maximum(rpm - kink, 0.0)
    return 50.0 + 0.02 * below - 4e-6 * below**2 + 1e-3 * above


def test_a_kink_without_scatter_is_found() -> None:
    """On a grid of 400 between the third and the last but two readings: to half of one of its steps."""
    step = (RPM[-3] - RPM[2]) / 399
    for kink in (1400.0, 1800.0, 1815.0, 2300.0):
        knee = pressure_knee(Q(RPM, "rpm"), Q(bent(RPM, kink), "psig"))
        assert knee.speed.to("rpm").m == pytest.approx(kink, abs=0.6 * step)
        assert knee.pressure.to("psig").m == pytest.approx(50.0, abs=0.03)
        assert knee.speed_error.to("rpm").m < step


def test_a_gauge_that_reads_wrong_by_the_same_everywhere_does_not_move_the_kink() -> None:
    read = bent(RPM) + 0.2 * np.sin(np.arange(len(RPM)) * 1.7)
    right, wrong = (pressure_knee(Q(RPM, "rpm"), Q(read + off, "psig")) for off in (0.0, 5.0))
    assert wrong.speed.m == pytest.approx(right.speed.m, rel=1e-9)
    assert wrong.speed_error.m == pytest.approx(right.speed_error.m, rel=1e-6)
    assert (wrong.pressure - right.pressure).m == pytest.approx(5.0, rel=1e-6)


def test_the_order_and_the_units_of_the_readings_do_not_matter() -> None:
    read = bent(RPM) + 0.2 * np.cos(np.arange(len(RPM)) * 2.1)
    mixed = np.random.default_rng(2).permutation(len(RPM))
    sorted_, other = (
        pressure_knee(Q(RPM, "rpm"), Q(read, "psig")),
        pressure_knee(Q(RPM[mixed] / 60.0, "rev/s"), Q(read[mixed], "psig").to("kPag")),
    )
    assert other.speed.m == pytest.approx(sorted_.speed.m, rel=1e-9)
    assert other.speed_error.m == pytest.approx(sorted_.speed_error.m, rel=1e-6)
    assert sorted_.fitted is not None
    assert other.fitted is not None
    np.testing.assert_allclose(other.fitted.m, sorted_.fitted.m[mixed], rtol=1e-9)
    np.testing.assert_allclose(sorted_.fitted.m, read, atol=0.4)


def test_the_kink_s_stated_error_is_its_scatter() -> None:
    """400 times the same curve with new scatter. The linear estimate may be a third off, as kinks go."""
    dice = np.random.default_rng(11)
    knees = [pressure_knee(Q(RPM, "rpm"), Q(bent(RPM) + dice.normal(0.0, 0.2, len(RPM)), "psig")) for _ in range(400)]
    spread_ = np.std([knee.speed.to("rpm").m for knee in knees])
    stated = np.sqrt(np.mean([knee.speed_error.to("rpm").m ** 2 for knee in knees]))
    assert stated == pytest.approx(spread_, rel=1 / 3)


@pytest.mark.parametrize(
    ("rpm", "psi"),
    [
        (RPM[:7], bent(RPM)[:7]),
        (RPM, bent(RPM)[:-1]),
        (np.append(RPM[:-1], RPM[0]), bent(RPM)),
        (RPM.reshape(2, -1), bent(RPM).reshape(2, -1)),
        (1500.0, 40.0),
    ],
    ids=["too few", "not as many", "one speed twice", "a table", "one reading"],
)
def test_readings_that_fix_no_kink_are_refused(rpm: Any, psi: Any) -> None:
    sentence = refused("speed", lambda: pressure_knee(Q(rpm, "rpm"), Q(psi, "psig")))
    assert "8 or more of each" in sentence


@pytest.mark.parametrize(
    "psi",
    [20.0 + 0.01 * RPM, 60.0 - 0.01 * RPM, 20.0 + 4e-6 * RPM**2, np.full(len(RPM), 50.0)],
    ids=["a straight rise", "a fall", "bent the wrong way", "level"],
)
def test_readings_without_a_kink_are_refused(psi: Any) -> None:
    sentence = refused("pressure", lambda: pressure_knee(Q(RPM, "rpm"), Q(psi, "psig")))
    assert "no clear kink" in sentence


@pytest.mark.parametrize("psi", [20.0 + 0.01 * RPM, 1.2 * np.sqrt(RPM), np.full(len(RPM), 50.0)])
def test_mere_scatter_is_rarely_taken_for_a_kink(psi: Any) -> None:
    """A rise, a curve and a level that all go on as they began, read to 0.3 psi: at most 1 table in 20."""
    dice, taken = np.random.default_rng(4), 0
    for _ in range(200):
        try:
            pressure_knee(Q(RPM, "rpm"), Q(psi + dice.uniform(-READING_ERROR, READING_ERROR, len(RPM)), "psig"))
        except InputError:
            continue
        taken += 1
    assert taken <= 10


@pytest.mark.parametrize("key", HOT_RUNS)
def test_a_real_kink_is_not_refused_for_ordinary_scatter(key: str) -> None:
    run = hot_run(key)
    point = operating_point(run.engine, run.oil, Q(run.rpm, "rpm"), Q(run.celsius, "degC"))
    dice = np.random.default_rng(5)
    for _ in range(100):
        read = point.gallery_pressure.m + dice.uniform(-READING_ERROR, READING_ERROR, len(run.rpm))
        assert pressure_knee(Q(run.rpm, "rpm"), Q(read, "psig")).speed_error.to("rpm").m < 50.0


def test_the_knee_wants_gauge_readings() -> None:
    refused("pressure", lambda: pressure_knee(Q(RPM, "rpm"), Q(bent(RPM), "psi")))
    refused("speed", lambda: pressure_knee(Q(RPM, "Hz"), Q(bent(RPM), "psig")))


# --------------------------------------------------------------------------------------------- what the intervals do

KNEE = Knee(Q(2000, "rpm"), Q(30, "rpm"), Q(58, "psig"))
NO_ERRORS = {
    "efficiency_error": 0.0,
    "displacement_error": 0.0,
    "speed_error": Q(0, "rpm"),
    "gauge_error": Q(0, "psi"),
}


SLIPPING = 3000 / 2000 * 58 / 50
"""How many times the share lost at 3000 rpm and 50 psi is lost at the knee, in oil of the rated viscosity."""
LEFT = 1.0 - 0.10 * SLIPPING


def test_at_the_knee_the_engine_takes_all_that_the_pump_gives() -> None:
    """1.2 in3 a turn, 1000 turns, less what slips; with nothing in doubt the interval is that one number."""
    sharp = dataclasses.replace(KNEE, speed_error=Q(0, "rpm"))
    found = demand_at_relief(sharp, V8_PUMP, **NO_ERRORS)
    assert found.flow.to("gpm").m == pytest.approx(1.2 * 1000 * LEFT / 231, rel=1e-9)
    assert found.lowest.m == pytest.approx(found.flow.m, rel=1e-9)
    assert found.highest.m == pytest.approx(found.flow.m, rel=1e-9)
    assert found.at_pressure.to("psig").m == pytest.approx(58.0, rel=1e-12)
    thick = demand_at_relief(sharp, V8_PUMP, **NO_ERRORS, dynamic_viscosity=Q(30, "cP"), before_gauge=Q(2, "psi"))
    assert thick.flow.to("gpm").m == pytest.approx(1.2 * 1000 * (1 - 0.10 * 1.5 * 60 / 50 * 9 / 30) / 231, rel=1e-9)


@pytest.mark.parametrize(
    ("error", "value", "half_width"),
    [
        ("efficiency_error", 0.05, 0.95 * 0.05 * SLIPPING / LEFT),
        ("displacement_error", 0.02, 0.95 * 0.02),
        ("speed_error", Q(50, "rpm"), 0.95 * 50 / 2000 / LEFT),
    ],
)
def test_one_error_alone_by_hand(error: str, value: Any, half_width: float) -> None:
    """A number evenly spread over plus or minus its largest error lies within 0.95 of it 95 times in 100."""
    sharp = dataclasses.replace(KNEE, speed_error=Q(0, "rpm"))
    found = demand_at_relief(sharp, V8_PUMP, **(NO_ERRORS | {error: value}))
    width = ((found.highest - found.lowest) / (2 * found.flow)).m
    assert width == pytest.approx(half_width, rel=0.02), "4000 draws leave the ends within 1 % of their place"


def test_the_scatter_of_the_kink_alone_by_hand() -> None:
    """A standard error of 30 rpm in 2000: 1.96 of these either way."""
    found = demand_at_relief(KNEE, V8_PUMP, **NO_ERRORS)
    width = ((found.highest - found.lowest) / (2 * found.flow)).m
    assert width == pytest.approx(1.96 * 30 / 2000 / LEFT, rel=0.05), "four standard errors of a quantile of 4000 draws"


def test_the_same_seed_gives_the_same_interval_and_another_nearly() -> None:
    first, again, other = (demand_at_relief(KNEE, V8_PUMP, seed=seed) for seed in (5, 5, 6))
    assert (first.lowest.m, first.highest.m) == (again.lowest.m, again.highest.m)
    assert first.lowest.m != other.lowest.m
    assert first.lowest.m == pytest.approx(other.lowest.m, rel=0.01)
    assert first.highest.m == pytest.approx(other.highest.m, rel=0.01)


FALLING: dict[str, Qty] = {
    "gas_volume": Q(3, "qt"),
    "precharge": Q(10, "psig"),
    "settled_before": Q(60, "psig"),
    "settled_after": Q(40, "psig"),
    "open_for": Q(6, "s"),
    "gallery_start": Q(55, "psig"),
    "gallery_end": Q(32, "psig"),
}


def fall(**changes: Any) -> MeasuredDemand:
    return demand_from_fall(**(FALLING | changes))  # type: ignore[arg-type]


def test_a_fall_by_hand() -> None:
    """Boyle: 3 qt x 24.696 psia x (1/54.696 - 1/74.696) left in 6 s."""
    air = ATMOSPHERE / PSI
    left = 3.0 * (10 + air) * (1 / (40 + air) - 1 / (60 + air))
    assert fall().flow.to("m**3/s").m == pytest.approx(left * QUART / 6.0, rel=1e-9)
    assert fall().flow.to("gpm").m == pytest.approx(left * QUART / 6.0 / GPM, rel=1e-9)
    assert fall().at_pressure.to("psig").m == pytest.approx(mean_over_time(55.0, 32.0, air, 1.0), rel=1e-9)
    high = fall(ambient=Q(840, "hPa"))
    assert high.flow.m < fall().flow.m, "less gas is shut in up there"


@pytest.mark.parametrize("error", ["gauge_error", "reading_error", "time_error", "volume_error"])
def test_each_error_widens_the_interval_of_a_fall(error: str) -> None:
    none = {
        "gauge_error": Q(0, "psi"),
        "reading_error": Q(0, "psi"),
        "time_error": Q(0, "s"),
        "volume_error": 0.0,
    }
    larger = {
        "gauge_error": Q(2, "psi"),
        "reading_error": Q(0.5, "psi"),
        "time_error": Q(0.3, "s"),
        "volume_error": 0.03,
    }
    narrow, wide = fall(**none), fall(**(none | {error: larger[error]}))
    assert narrow.lowest < narrow.highest, "the flow law is still not known"
    assert ((narrow.highest - narrow.lowest) / narrow.flow).m < 0.02, "and hardly matters at the mean over time"
    assert (wide.highest - wide.lowest) > 1.5 * (narrow.highest - narrow.lowest)
    assert wide.flow.m == pytest.approx(narrow.flow.m, rel=1e-12)


def test_no_interval_reaches_below_nothing() -> None:
    """Readings nearly alike, and read badly: the engine still gives no oil back."""
    found = fall(settled_after=Q(59.9, "psig"), reading_error=Q(1, "psi"))
    assert found.lowest.m == 0.0
    assert found.highest.m > found.flow.m


@pytest.mark.parametrize(
    ("argument", "value", "words"),
    [
        ("settled_after", Q(60, "psig"), "less than 60.0 psig"),
        ("settled_after", Q(65, "psig"), "less than 60.0 psig"),
        ("gallery_end", Q(55, "psig"), "less than 55.0 psig"),
        ("gallery_end", Q(0, "psig"), "more than 0.0 psig"),
        ("gallery_end", Q(-1, "psig"), "more than 0.0 psig"),
        ("precharge", Q(40, "psig"), "less than 40.0 psig"),
        ("precharge", Q(-15, "psig"), "vacuum"),
        ("open_for", Q(0.2, "s"), "more than the clock's error"),
        ("open_for", Q(0, "s"), "more than the clock's error"),
        ("gas_volume", Q(0, "qt"), "a volume above 0.00 qt"),
        ("settled_before", Q([60, 61], "psig"), "one value"),
        ("gallery_start", Q(55, "psia"), "gauge"),
        ("volume_error", 1.5, "fraction"),
        ("gauge_error", Q(1, "psig"), "pressure difference"),
    ],
)
def test_a_fall_that_is_none_is_refused(argument: str, value: Any, words: str) -> None:
    assert words in refused(argument, lambda: fall(**{argument: value}))


@pytest.mark.parametrize(
    ("argument", "value"),
    [
        ("efficiency_error", -0.1),
        ("displacement_error", Q(1, "psi")),
        ("speed_error", Q(1, "Hz")),
        ("gauge_error", Q(1, "psig")),
        ("gauge_error", 1.5),
    ],
)
def test_a_bad_error_is_refused(argument: str, value: Any) -> None:
    refused(argument, lambda: demand_at_relief(KNEE, V8_PUMP, **{argument: value}))


def test_a_knee_of_several_is_refused() -> None:
    several = dataclasses.replace(KNEE, speed=Q([2000, 2100], "rpm"))
    assert "one value" in refused("knee", lambda: demand_at_relief(several, V8_PUMP))


@pytest.mark.parametrize(
    ("argument", "value"), [("gauge_error", Q(-1, "psi")), ("reading_error", Q(-1, "psi")), ("seed", -1)]
)
def test_an_error_below_nothing_is_refused(argument: str, value: Any) -> None:
    numbers = ((3, "qt"), (10, "psig"), (60, "psig"), (40, "psig"), (6, "s"), (55, "psig"), (32, "psig"))
    refused(argument, lambda: oilkit.demand_from_fall(*(Q(*n) for n in numbers), **{argument: value}))
