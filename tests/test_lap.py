"""A lap: tilt, supply and pressure against closed forms, oil conserved, and a choice that stands its ground."""

from __future__ import annotations

import dataclasses
import math
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import scipy.stats
from sentences import refused

import oilkit.laps.lap
from oilkit import (
    Installation,
    Log,
    PickUp,
    Q,
    compare_laps,
    corners,
    discharge,
    engines,
    expected_pressure,
    highest_for_prelube,
    kit_lap,
    oil_stored,
    operating_point,
    precharge_map,
    robust_choice,
    simulate_lap,
    starved_stretches,
    surface_tilt,
    usual_installation,
)
from oilkit.laps.choice import share_interval

sys.path.insert(0, str(Path(__file__).parent / "commands"))
import make_lap_pressure

G = 9.80665
BUILT = usual_installation()
LOW = Q(-1.2, "qt")


def made(time: Any, lateral: Any = 0.0, longitudinal: Any = 0.0, rpm: Any = 4000.0, speed: float = 30.0) -> Log:
    """A log from accelerations in g."""
    ones = np.ones_like(time)
    return Log(
        "made",
        Q(time, "s"),
        Q(speed * ones, "m/s"),
        Q(lateral * ones, "g_0"),
        Q(longitudinal * ones, "g_0"),
        Q(rpm * ones, "rpm"),
    )


TIME = np.arange(0.0, 20.0, 0.01)


# ----------------------------------------------------------------------------------------------------- tilt and supply


def test_tilt_against_a_textbook() -> None:
    """White, Fluid Mechanics, the accelerated coffee mug: 7 m/s2 tilts the surface by 35.5 degrees, which at 3 cm from
    the middle is 2.14 cm (from memory; the textbook's own rounding)."""
    log = made(TIME, longitudinal=-7.0 / G)
    tilt = surface_tilt(log, PickUp(behind=Q(3, "cm"), left=Q(0, "cm")))
    assert tilt.m_as("cm") == pytest.approx(2.14, abs=0.005)
    assert math.degrees(math.atan(float(tilt.m_as("cm")[0]) / 3.0)) == pytest.approx(35.5, abs=0.05)


@pytest.mark.parametrize(
    ("lateral", "longitudinal", "behind", "left", "lower"),
    [(1, 0, 0, 2, 2.0), (-1, 0, 0, 2, -2.0), (0, -1, 3, 0, 3.0), (0, 0.5, 3, 0, -1.5), (1, -1, 2, 1, 3.0)],
)
def test_which_way_the_oil_runs(lateral: float, longitudinal: float, behind: float, left: float, lower: float) -> None:
    """In a left-hand corner the oil runs to the right, while braking to the front: there it stands higher."""
    place = PickUp(behind=Q(behind, "in"), left=Q(left, "in"))
    assert surface_tilt(made(TIME, lateral, longitudinal), place).m_as("in") == pytest.approx(lower)


def test_the_pump_loses_and_regains_its_oil_as_the_closed_form_says() -> None:
    """Uncovered at once and covered again: exp(-t / tau) down, 1 - exp(-t / tau) up; no vessel changes the pan."""
    braking = np.where((TIME > 5.0) & (TIME < 8.0), -2.0, 0.0)
    place = PickUp(behind=Q(5, "in"), left=Q(0, "in"))
    run = simulate_lap(BUILT, made(TIME, longitudinal=braking), False, pickup=place)
    for moment in (5.3, 5.5, 6.0):
        # the logged step of 10 in takes 10 ms; 2 in uncover the pick-up, give or take 0.5 in: known to 1 ms
        assert np.interp(moment, TIME, run.supply) == pytest.approx(math.exp(-(moment - 5.002) / 0.15), abs=2e-3)
    for moment in (8.2, 8.5, 9.5):
        assert np.interp(moment, TIME, run.supply) == pytest.approx(1.0 - math.exp(-(moment - 7.998) / 0.4), abs=2e-3)


# -------------------------------------------------------------------------------------------------------------- the lap


def test_straight_on_is_the_operating_point() -> None:
    run = simulate_lap(BUILT, made(TIME), True)
    settled = operating_point(BUILT.engine, BUILT.oil, Q(4000, "rpm"), Q(100, "degC")).gallery_pressure
    assert run.gallery_pressure.m_as("psig") == pytest.approx(float(settled.m_as("psig")), abs=0.01)
    assert run.time_below.m == 0.0
    assert run.oil.m_as("qt") == pytest.approx(
        float(oil_stored(BUILT.vessel.gas_volume, Q(10, "psig"), settled).m_as("qt")), abs=1e-3
    )


@pytest.mark.parametrize("valve", [False, True])
def test_oil_is_conserved_between_pan_vessel_and_engine(valve: bool) -> None:
    run = simulate_lap(BUILT, kit_lap(), valve, LOW)
    assert run.oil_missing < 1e-9
    together = (run.pan + run.oil).m_as("qt")
    assert np.ptp(together) < 1e-9


def test_a_shut_valve_is_no_vessel() -> None:
    one, other = (
        simulate_lap(Installation(BUILT.engine, BUILT.oil, vessel, BUILT.line), kit_lap(), False, LOW)
        for vessel in (BUILT.vessel, usual_installation(vessel="small").vessel)
    )
    apart = np.abs((one.gallery_pressure - other.gallery_pressure).m_as("psig"))
    assert np.mean(apart) < 1e-3  # the two share their steps' accuracy, not their steps: a steep fall lies a
    assert np.max(apart) < 0.5  # fraction of a millisecond apart
    assert np.ptp(one.oil.m) < 1e-9
    assert np.max(np.abs(one.line_flow.m)) < 1e-12


def test_less_oil_in_the_pan_starves_sooner_and_longer() -> None:
    below = [float(simulate_lap(BUILT, kit_lap(), False, Q(qt, "qt")).time_below.m) for qt in (0, -0.8, -1.2, -1.6, -2)]
    assert below == sorted(below)
    assert below[0] == 0.0
    assert below[-1] > 20.0


def test_a_vessel_that_fills_starves_the_pick_up_sooner() -> None:
    """The same lap begun with an empty vessel: what fills it is missing from the pan."""
    time = np.arange(0.0, 40.0, 0.02)
    braking = np.where(time > 30.0, -1.0, 0.0)
    rpm = np.where(time < 5.0, 700.0, 4000.0)
    log = made(time, longitudinal=braking, rpm=rpm)
    shut, opened = (simulate_lap(BUILT, log, valve, Q(-0.5, "qt"), precharge=Q(25, "psig")) for valve in (False, True))
    at = int(np.searchsorted(time, 29.0))
    taken = (opened.oil[at] - opened.oil[0]).m_as("qt")
    assert taken > 0.5
    assert opened.oil_left.m_as("qt") == pytest.approx(opened.oil[-1].m_as("qt"), abs=1e-12)
    assert abs(opened.oil_left - opened.oil[0]).m_as("qt") > 0.1
    assert (opened.pan[0] - opened.pan[at]).m_as("qt") == pytest.approx(taken, abs=1e-9)
    assert shut.pan[at].m == pytest.approx(shut.pan[0].m)
    assert np.min(opened.supply[time > 30.0]) < np.min(shut.supply[time > 30.0]) + 1e-6


def test_accuracy_and_chunks_change_nothing_that_counts(monkeypatch: pytest.MonkeyPatch) -> None:
    """The usual accuracy against one ten thousand times finer, and a run in many pieces: times within 5 ms."""
    usual = simulate_lap(BUILT, kit_lap(), True, Q(-2, "qt"), limit=Q(30, "psig"))
    fine = simulate_lap(BUILT, kit_lap(), True, Q(-2, "qt"), accuracy=1e-8, limit=Q(30, "psig"))
    assert fine.time_below.m > 1.0
    assert usual.time_below.m == pytest.approx(float(fine.time_below.m), abs=0.005)
    told: list[float] = []
    monkeypatch.setattr(oilkit.laps.lap, "CHUNK", 100)
    pieces = simulate_lap(BUILT, kit_lap(), True, Q(-2, "qt"), limit=Q(30, "psig"), progress=told.append)
    assert pieces.time_below.m == pytest.approx(float(usual.time_below.m), abs=0.005)
    assert pieces.pan.m == pytest.approx(usual.pan.m, abs=1e-3)
    assert told == sorted(told)
    assert told[-1] == 1.0
    assert len(told) == 18


def test_time_below_of_a_triangle() -> None:
    """By hand: a triangle from 0 up to 1 at t = 1 and down to 0 at t = 2 is above 0.25 for 1.5, samples anywhere."""
    time = np.array([0.0, 0.3, 1.0, 1.9, 2.0])
    height = np.array([0.0, 0.3, 1.0, 0.1, 0.0]) - 0.25
    above = oilkit.laps.lap.times_above_zero
    assert above(time, height) == pytest.approx(np.array([[0.25, 1.75]]))
    assert above(time, -height) == pytest.approx(np.array([[0.0, 0.25], [1.75, 2.0]])), "from the first, to the last"
    assert above(time, height + 1.0) == pytest.approx(np.array([[0.0, 2.0]]))
    assert above(time, height - 1.0).shape == (0, 2)
    run = dataclasses.replace(simulate_lap(BUILT, made(TIME)), below=Q(above(time, -height), "s"))
    assert run.between(Q(0, "s"), Q(2, "s")).m == pytest.approx(0.5)
    assert run.between(Q(0.125, "s"), Q(1.85, "s")).m == pytest.approx(0.225)
    assert run.between(Q(0.5, "s"), Q(1, "s")).m == 0.0


def between_samples(log: Log, times: int) -> Log:
    """The same road with more samples, straight between the log's: nothing is added that is not in it."""
    places = np.arange(log.time.size)
    finer = np.linspace(0.0, places[-1], times * places[-1] + 1)

    def on(values: Any) -> Any:
        return Q(np.interp(finer, places, values.m), values.units)

    return Log("finer", on(log.time), on(log.speed), on(log.lateral), on(log.longitudinal), on(log.rpm))


@pytest.mark.parametrize("pan", [-1.2, -2.0])
def test_a_slow_log_starves_as_long_as_the_same_road_with_more_samples(pan: float) -> None:
    """Of one sample a second, and of a hundred straight between: the model drives the same. What lies between the slow
    log's samples counts, in all and as the longest; a dip that none of them shows too."""
    at = np.arange(0.0, 85.0)
    kit = kit_lap()
    road = [np.interp(at, kit.time.m, values.m) for values in (kit.lateral, kit.longitudinal)]
    slow = made(at, *road, rpm=np.interp(at, kit.time.m, kit.rpm.m))
    runs = [simulate_lap(BUILT, log, False, Q(pan, "qt"), accuracy=1e-6) for log in (slow, between_samples(slow, 100))]
    one, other = runs
    assert other.time_below > Q(1, "s")
    assert one.time_below.m == pytest.approx(float(other.time_below.m), abs=2e-3)
    assert one.longest_below.m == pytest.approx(float(other.longest_below.m), abs=2e-3)
    assert one.between(Q(20, "s"), Q(45.5, "s")).m == pytest.approx(
        float(other.between(Q(20, "s"), Q(45.5, "s")).m), abs=2e-3
    )
    assert one.gallery_pressure.size == at.size
    lowest = float(simulate_lap(BUILT, slow, True, Q(pan, "qt")).lowest_pressure.m_as("psig"))
    for limit in (lowest - 1e-6, lowest + 1e-6, lowest + 1.0):
        run = simulate_lap(BUILT, slow, True, Q(pan, "qt"), limit=Q(limit, "psig"))
        assert (run.time_below.m > 0.0) == (limit > lowest)
        assert run.longest_below <= run.time_below


def test_corners_of_a_made_log() -> None:
    hard = np.zeros_like(TIME)
    for start, end in ((2, 4), (4.3, 5), (8, 8.2), (10, 12)):  # the first two are one, the third is too short
        hard[(start <= TIME) & (end > TIME)] = 0.9
    slowing = np.where((TIME >= 15) & (TIME < 17), -0.6, 0.0)
    found = corners(made(TIME, hard, slowing))
    assert [corner.name for corner in found] == ["1 left", "2 left", "3 lift-off"]
    assert found[0].start.m == pytest.approx(2.0, abs=0.011)
    assert found[0].end.m == pytest.approx(5.0, abs=0.011)
    assert found[1].at.m == pytest.approx(300.0, abs=0.5)
    assert corners(made(TIME)) == []
    tightening = np.where((TIME >= 2) & (TIME < 4), 0.5 + 0.2 * (TIME - 2.0), 0.0)  # hardest at its very last sample
    assert corners(made(TIME, tightening))[0].hardest.m == pytest.approx(float(np.max(tightening)), rel=1e-12)
    refused("above", lambda: corners(made(TIME), Q(0, "g_0")))


def test_corners_share_out_the_whole_lap() -> None:
    shut, opened = (simulate_lap(BUILT, kit_lap(), valve, Q(-2, "qt")) for valve in (False, True))
    found = compare_laps(kit_lap(), shut, opened)
    assert len(found) == 9
    assert found[-1].corner.name == "9 lift-off"
    assert sum(c.below_shut.m for c in found) == pytest.approx(float(shut.time_below.m), abs=1e-9)
    assert all(c.below_open <= c.below_shut for c in found)


def test_what_a_corner_took_and_how_long_it_takes_to_come_back_by_hand() -> None:
    """Oil in straight lines: 2 qt, down to 1 in the first corner, back to 2 five seconds later and on to 2.2; then down
    to 0.5 in the second and never back."""
    hard = np.where(((TIME >= 2) & (TIME < 4)) | ((TIME >= 10) & (TIME < 12)), 0.9, 0.0)
    log = made(TIME, hard)
    run = simulate_lap(BUILT, log, True)
    oil = np.interp(TIME, [2.0, 3.0, 8.0, 9.0, 10.0, 12.0, 20.0], [2.0, 1.0, 2.0, 2.2, 2.2, 0.5, 1.0])
    first, second = compare_laps(log, run, dataclasses.replace(run, oil=Q(oil, "qt")))
    assert first.oil_given.m_as("qt") == pytest.approx(1.0, abs=1e-6)
    assert first.refill.m == pytest.approx(4.75, abs=0.011), "to 1.95 qt: 5 % of what it gave is forgiven"
    assert second.oil_given.m_as("qt") == pytest.approx(1.7, abs=1e-6)
    assert math.isinf(second.refill.m)


def test_the_kits_lap_has_the_pressure_that_the_kit_computes() -> None:
    """As the file's head says; a tenth of a psi is the last digit that is written."""
    shown = kit_lap().pressure
    assert shown is not None
    assert np.max(np.abs(shown.m_as("psig") - make_lap_pressure.pressures())) < 0.11, make_lap_pressure.__doc__


def test_the_starved_stretches_are_those_of_the_model() -> None:
    """The invented log's pressure comes from the model: what is inferred from it must be where the supply was gone."""
    log = kit_lap()
    truth = simulate_lap(BUILT, log, False, LOW)
    found = starved_stretches(log, expected_pressure(BUILT, log))
    time = log.time.m_as("s")
    said = np.zeros(time.size, dtype=bool)
    for stretch in found:
        said |= (time >= stretch.start.m) & (time < stretch.end.m)
    assert np.mean(said == (truth.supply < 0.35)) > 0.98, "pump and pressure lag each other by a few samples"
    assert len(found) == 7
    for stretch in found:
        began = time[(time < stretch.start.m) & (truth.supply >= 0.98)][-1]
        assert 0.0 <= stretch.falls_from.m - began <= 0.15, "the pump began to draw air"
    refused("log", lambda: starved_stretches(made(TIME), Q(50 * np.ones_like(TIME), "psig")))


def test_a_20_minute_log_at_100_hz() -> None:
    """120 000 samples; how long they take is told by ``tests/commands/benchmark_simulation.py``."""
    lap, time = kit_lap(), np.arange(120_000) / 100.0
    at = time % float(lap.time.m[-1])
    si = lap.si
    long = Log(
        "long",
        Q(time, "s"),
        *(
            Q(np.interp(at, si["time"], si[name]), unit)
            for name, unit in (("speed", "m/s"), ("lateral", "m/s**2"), ("longitudinal", "m/s**2"))
        ),
        Q(np.interp(at, si["time"], si["rpm"]) * 60.0, "rpm"),
    )
    told: list[float] = []
    run = simulate_lap(BUILT, long, True, LOW, progress=told.append)
    assert len(told) == 12
    assert run.oil_missing < 1e-9


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        ({"pan_change": Q(-9, "qt")}, "pan_change"),
        ({"pan_change": Q(1, "psi")}, "pan_change"),
        ({"speed": Q(3000, "rpm")}, "condition"),
        ({"precharge": Q([5, 10], "psig")}, "conditions"),
        ({"pickup": PickUp(band=Q(0, "in"))}, "band"),
        ({"pickup": PickUp(loses=Q(0, "s"))}, "loses"),
        ({"nonsense": 1}, "condition"),
    ],
)
def test_bad_arguments(arguments: dict[str, Any], named: str) -> None:
    refused(named, lambda: simulate_lap(BUILT, kit_lap(), **arguments))


def test_an_engine_that_stands_still_at_the_start() -> None:
    refused("log, rpm", lambda: simulate_lap(BUILT, made(TIME, rpm=0.0)))
    refused("log", lambda: simulate_lap(BUILT, "lap.csv"))  # type: ignore[arg-type]


# ------------------------------------------------------------------------------------------------ pre-charge for real


def settled_at(built: Installation, speed: Any = 3000, celsius: Any = 100, thou: Any = 0) -> Any:
    """Gallery pressure of an engine that runs with full oil."""
    turning, hot = Q(speed, "rpm"), Q(celsius, "degC")
    return operating_point(built.engine, built.oil, turning, hot, Q(thou, "thou")).gallery_pressure


@pytest.mark.parametrize("engine", list(engines()))
def test_the_map_is_discharge(engine: str) -> None:
    built, charges = usual_installation(engine), Q([5.0, 10, 20, 30], "psig")
    begins = settled_at(built)
    found = precharge_map(built, charges, Q([1.0, 3.0, 6.0], "s"), accuracy=1e-6)
    single = discharge(built, Q(6, "s"), precharge=charges, accuracy=1e-6, pressure=begins)
    assert found.pressure.m == pytest.approx(float(begins.m))
    assert found.protected_time.m == pytest.approx(single.protected_time.m, rel=1e-4)
    for k, charge in enumerate(charges):
        samples = Q(np.linspace(0.0, 3.0, 3001), "s")
        run = discharge(built, Q(6, "s"), precharge=charge, accuracy=1e-6, samples=samples, pressure=begins)
        history = run.history
        assert history is not None
        assert found.lowest_pressure[1, k].m == pytest.approx(float(np.min(history.gallery_pressure.m)), abs=0.01)


@pytest.mark.parametrize("decay", [0.0, 0.5, 3.0, 4.0, 5.0, 20.0])
def test_the_map_of_a_pump_that_lets_go_slowly_is_discharge(decay: float) -> None:
    """Also where the pump still gives oil at the event's end."""
    charges, ends = Q([5.0, 20.0], "psig"), (1.0, 4.0)
    told: dict[str, Any] = {"pump_decay": Q(decay, "s"), "pressure": Q(60, "psig")}
    found = precharge_map(BUILT, charges, Q(ends, "s"), accuracy=1e-6, **told)
    samples = Q(np.linspace(0.0, 4.0, 4001), "s")
    for k, charge in enumerate(charges):
        run = discharge(BUILT, Q(4, "s"), 1e-6, samples=samples, precharge=charge, **told)
        pressure = run.history.gallery_pressure.m_as("psig")
        for row, end in enumerate(ends):
            assert found.lowest_pressure.m_as("psig")[row, k] == pytest.approx(
                np.min(pressure[: int(1000 * end) + 1]), abs=0.02
            )


def test_each_draw_starts_at_the_pressure_that_its_own_engine_makes() -> None:
    """Loose and hot, so that draws differ: against one `discharge` for each draw, begun at its `operating_point`.

    The draws as the docstring says: event log-normal, clearance and oil temperature normal, cut at 2.5 deviations.
    """
    charges, draws = Q([10.0, 28.0, 46.0], "psig"), 12
    loose = {"clearance_change": Q(1.5, "thou"), "speed": Q(2800, "rpm")}
    found = robust_choice(BUILT, charges, Q(3, "s"), draws=draws, **loose)
    z = np.clip(np.random.default_rng(7).standard_normal((3, draws)), -2.5, 2.5)
    lasts, thou, celsius = 3.0 * np.exp(0.2 * z[0]), 1.5 + 0.3 * z[1], 100.0 + 8.0 * z[2]
    begins = settled_at(BUILT, 2800, celsius, thou)
    assert np.ptp(begins.m_as("psig")) > 10.0
    told = {"clearance_change": Q(thou, "thou"), "sump_temperature": Q(celsius, "degC"), "speed": loose["speed"]}
    run = discharge(BUILT, Q(10, "s"), precharge=charges[:, None], pressure=begins, **told)
    assert found.share.tolist() == np.mean(run.protected_time.m >= lasts, axis=1).tolist()
    full = robust_choice(BUILT, charges, Q(3, "s"), draws=draws, pressure=Q(60, "psig"), **loose)
    assert full.share[1] > found.share[1], "a pressure that is given counts for all"
    never = begins < charges[2]
    assert np.any(never), "the pump lets go of such a draw with an empty vessel"
    assert np.all(run.empty_after.m[2][never] == 0.0)


def test_a_loose_or_weak_engine_fills_the_vessel_of_the_map_less() -> None:
    """Mains and rods 1.5 thou looser settle at 47 psig; a relief valve of 40 psi lets no engine fill it to 60."""
    charges, ends = Q([10.0, 28.0], "psig"), Q([1.0, 6.0], "s")
    looser = Q(1.5, "thou")
    pump = dataclasses.replace(BUILT.engine.pump, relief_opening=Q(40, "psig"), relief_rated_pressure=Q(48, "psig"))
    weak = dataclasses.replace(BUILT, engine=dataclasses.replace(BUILT.engine, pump=pump))
    for built, change in ((BUILT, looser), (weak, Q(0, "thou"))):
        begins = settled_at(built, thou=change.m)
        assert begins < Q(50, "psig")
        found = precharge_map(built, charges, ends, accuracy=1e-6, clearance_change=change)
        single = discharge(built, Q(6, "s"), 1e-6, precharge=charges, clearance_change=change, pressure=begins)
        assert found.protected_time.m == pytest.approx(single.protected_time.m, rel=1e-4)
        given = precharge_map(built, charges, ends, clearance_change=change, pressure=Q(60, "psig"))
        assert np.all(found.protected_time < 0.95 * given.protected_time)
    rated = dataclasses.replace(BUILT, vessel=dataclasses.replace(BUILT.vessel, rated_pressure=Q(55, "psig")))
    for choose in (precharge_map, robust_choice):
        refused(
            "pressure of the running engine",
            lambda choose=choose: choose(rated, charges, ends if choose is precharge_map else ends[0]),
        )


def test_one_pre_charge_is_no_choice() -> None:
    refused("precharge", lambda: robust_choice(BUILT, Q([10.0], "psig"), Q(4, "s")))
    refused("precharge", lambda: precharge_map(BUILT, Q([10.0], "psig"), Q([1.0, 4.0], "s")))
    refused("event", lambda: precharge_map(BUILT, Q([10.0, 20.0], "psig"), Q([4.0], "s")))


def test_usual_spreads_are_those_that_are_told() -> None:
    charges, event = Q([20.0, 30.0, 36.0, 40.0], "psig"), Q(4, "s")
    told = {"event_spread": 0.2, "clearance_spread": Q(0.3, "thou"), "temperature_spread": Q(8, "delta_degC")}
    usual, named = (
        robust_choice(BUILT, charges, event, draws=200),
        robust_choice(BUILT, charges, event, draws=200, **told),
    )
    assert usual.share.tolist() == named.share.tolist()
    for name, other in (("clearance_spread", Q(0.8, "thou")), ("temperature_spread", Q(40, "delta_degC"))):
        wide = robust_choice(BUILT, charges, event, draws=200, **(told | {name: other}))
        assert wide.share.tolist() != usual.share.tolist(), name


def test_the_map_holds_its_own_rules() -> None:
    found = precharge_map(BUILT, Q(np.linspace(2, 50, 25), "psig"), Q(np.linspace(0.5, 12, 24), "s"))
    lowest = found.lowest_pressure.m
    assert np.all(np.diff(lowest, axis=0) <= 1e-12), "a longer event goes no less deep"
    long_enough = found.protected_time.m[None, :] >= found.event.m[:, None] + 0.1
    assert np.all(lowest[long_enough] >= 20.0 - 1e-6)
    best = found.best.m
    assert best[0] > best[-1], "a longer event wants less pre-charge"
    refused("event", lambda: precharge_map(BUILT, Q([5, 10], "psig"), Q([3, 2], "s")))
    refused("precharge", lambda: precharge_map(BUILT, Q(5, "psig"), Q([2, 3], "s")))


def test_prelube_turns_oil_stored_round() -> None:
    room, full, wanted = Q(3, "qt"), Q(60, "psig"), Q(1.5, "qt")
    highest = highest_for_prelube(room, full, wanted)
    assert oil_stored(room, highest, full).m_as("qt") == pytest.approx(1.5)
    assert highest.m_as("psig") == pytest.approx((60 + 14.69595) / 2 - 14.69595, abs=1e-4), "half full: half absolute"


def test_without_spread_a_choice_is_right_or_wrong() -> None:
    charges, event = Q(np.linspace(4, 48, 12), "psig"), Q(4, "s")
    none = {"event_spread": 0.0, "clearance_spread": Q(0, "thou"), "temperature_spread": Q(0, "delta_degC")}
    found = robust_choice(BUILT, charges, event, draws=3, **none)
    single = discharge(BUILT, Q(5, "s"), precharge=charges, accuracy=1e-3, pressure=settled_at(BUILT))
    assert found.share.tolist() == [float(t >= 4.0) for t in single.protected_time.m]


def test_a_robust_choice_is_the_same_each_time_and_stands_left_of_the_needle() -> None:
    charges = Q(np.linspace(2, 50, 25), "psig")
    found, again, other = (robust_choice(BUILT, charges, Q(4, "s"), seed=seed) for seed in (7, 7, 8))
    assert np.array_equal(found.share, again.share)
    assert not np.array_equal(found.share, other.share)
    assert np.max(np.abs(found.share - other.share)) < 0.26, "four standard errors of 60 draws at one half"
    assert found.best < found.needle
    assert found.best_share > found.needle_share + 0.1
    refused("draws", lambda: robust_choice(BUILT, charges, Q(4, "s"), draws=0))
    refused("event_spread", lambda: robust_choice(BUILT, charges, Q(4, "s"), event_spread=-0.1))


@pytest.mark.parametrize("engine", [pytest.param("small_four", marks=pytest.mark.thorough), "street_v8"])
def test_near_a_cliff_no_draw_is_judged_by_a_coarse_step(engine: str) -> None:
    built = Installation(engines()[engine], BUILT.oil, BUILT.vessel, BUILT.line)
    charges = Q(np.linspace(4, 40, 7), "psig")
    usual, fine = (robust_choice(built, charges, Q(7, "s"), draws=100, accuracy=a) for a in (1e-3, 1e-7))
    assert usual.share.tolist() == fine.share.tolist()


def test_a_share_has_the_interval_that_its_draws_leave_open() -> None:
    """Against scipy's; and of 400 draws in lots of 60 about one lot in twenty lies outside."""
    for hits, draws in ((0, 60), (3, 60), (30, 60), (57, 60), (60, 60), (350, 400)):
        low, high = share_interval(hits / draws, draws)
        scipys = scipy.stats.binomtest(hits, draws).proportion_ci(0.95, "wilson")
        assert (low, high) == pytest.approx((scipys.low, scipys.high), abs=2e-5)
    found = robust_choice(BUILT, Q([36.0, 40.0], "psig"), Q(4, "s"))
    assert np.all((found.share_low < found.share) | (found.share == 0.0))
    assert np.all((found.share_high > found.share) | (found.share == 1.0))


def test_more_spread_protects_less() -> None:
    charges = Q([24.0, 36.0, 40.0], "psig")
    shares = [robust_choice(BUILT, charges, Q(4, "s"), event_spread=s, draws=100).share for s in (0.05, 0.5)]
    assert np.all(shares[1] <= shares[0])
    assert shares[1][0] < shares[0][0]
