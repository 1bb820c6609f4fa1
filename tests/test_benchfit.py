"""The bench fit: does it find the truth as often as it says, and does it say so where it cannot?

Readings are made up by ``tests/commands/make_bench_readings.py``, whose arithmetic is its own. Then the kit is asked.
"""

from __future__ import annotations

import random
import re
import sys
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import parts
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from outside_rows.bench import boyle_fit, trade_fit
from randomly import examples
from sentences import check_sentence, refused

from oilkit import (
    BenchReadings,
    CandidateReading,
    InputError,
    Q,
    boyle_1662,
    demo_bench,
    fit_bench,
    next_reading,
    panels,
    power_law_fit,
    read_bench,
    usual_candidates,
    vessels,
    write_bench,
)
from oilkit.bench.fit import BenchFit
from oilkit.bench.model import PARAMETERS
from oilkit.bench.readings import DIRECTIONS
from oilkit.physics.measure import NINETEEN_IN_TWENTY
from oilkit.quantities.records import data_file

sys.path.insert(0, str(Path(__file__).parent / "commands"))
import make_bench_readings as bench_file

TRUTH = {
    "gas_volume": 2.85, "bore": 4.5, "dead_length": 0.62, "charge_zero": 0.8, "pressure_zero": -0.6, "friction": 1.2,
    "index": 1.22,
}  # fmt: skip
OTHER = {
    "gas_volume": 3.3, "bore": 4.6, "dead_length": -0.4, "charge_zero": -1.5, "pressure_zero": 1.2, "friction": 0.1,
    "index": 1.36,
}  # fmt: skip
"""Friction next to none, so that half of all fits find less than none."""
UNITS = {
    "gas_volume": "qt", "bore": "in", "dead_length": "in", "charge_zero": "psi", "pressure_zero": "psi",
    "friction": "psi", "index": "dimensionless",
}  # fmt: skip
BENCH = vessels()["bench"]
BORE = (Q(4.5, "in"), Q(0.01, "in"))
LEAST, MOST = 0.90, 0.99
"""An interval for 95 in 100 holds the truth in 190 of 200 sets, give or take 3."""
SETS = 200


def as_readings(rows: list[tuple[float, float, float, float, str]]) -> BenchReadings:
    charge, pressure, rule, time, way = zip(*rows, strict=True)
    return BenchReadings(
        "made up",
        Q(list(charge), "psig"),
        Q(list(pressure), "psig"),
        Q(list(rule), "in"),
        Q(list(time), "s"),
        tuple(way),
    )


def noiseless(truth: dict[str, float], visits: list[tuple[float, float, int, bool]]) -> BenchReadings:
    return as_readings(
        [
            (
                charge + truth["charge_zero"],
                pressure + truth["pressure_zero"],
                bench_file.rule(truth, charge, pressure, drag, warm),
                2.0 if warm else 120.0,
                "rising" if drag > 0 else "falling",
            )
            for charge, pressure, drag, warm in visits
        ]
    )


def number(fit: BenchFit, name: str) -> float:
    value = fit.parameters[name].value
    assert value is not None, name
    return float(value.m_as(UNITS[name]))


def within(fit: BenchFit, name: str) -> float:
    half = fit.parameters[name].within
    assert half is not None, name
    return float(half.m_as(UNITS[name]))


# --------------------------------------------------------------------------------------------- the truth and the rest


def test_the_kits_readings_are_what_their_head_says() -> None:
    text = data_file("bench_readings.csv").read_text(encoding="utf-8")
    assert text == bench_file.text()
    assert "Invented" in text.splitlines()[0]
    assert len(demo_bench()) == 36


def test_without_errors_the_truth_comes_back() -> None:
    for truth in (TRUTH, OTHER):
        fit = fit_bench(BENCH, noiseless(truth, bench_file.visits()), {"bore": Q(truth["bore"], "in")})
        for name, true in truth.items():
            slack = 0.01 * within(fit, name) if name != "bore" else 1e-12
            assert number(fit, name) == pytest.approx(true, abs=slack), name
        assert float(np.max(np.abs(fit.residual.m_as("in")))) < 1e-3
        assert fit.outlier is None


def test_the_kits_own_readings_hold_their_truth() -> None:
    fit = fit_bench(BENCH, demo_bench(), {"bore": BORE})
    for name, true in TRUTH.items():
        found = fit.parameters[name]
        assert found.low is not None
        assert found.high is not None
        assert found.low.m_as(UNITS[name]) <= true <= found.high.m_as(UNITS[name]), name
    assert fit.freedom == 30
    assert 0.7 < fit.scatter < 1.3
    assert fit.together == ()
    assert fit.remarks == ()


@cache
def many(truth: str, from_scatter: bool, free_bore: bool = False) -> list[BenchFit]:
    """Fits of made-up sets; the bore is measured with an error too, unless nobody measured it."""
    true, dice, fits = {"truth": TRUTH, "other": OTHER}[truth], random.Random(f"{truth} {from_scatter}"), []
    for _ in range(SETS):
        readings = as_readings(bench_file.readings(true, dice, rounded=False))
        measured = Q(true["bore"] + dice.gauss(0.0, 0.01 / NINETEEN_IN_TWENTY), "in")
        known = {} if free_bore else {"bore": (measured, Q(0.01, "in"))}
        fits.append(fit_bench(BENCH, readings, known, from_scatter=from_scatter))
    return fits


@pytest.mark.parametrize(
    ("truth", "from_scatter"),
    [
        ("truth", False),
        ("other", False),
        ("truth", True),
    ],
)
@pytest.mark.thorough
def test_intervals_hold_the_truth_as_often_as_they_say(truth: str, from_scatter: bool) -> None:
    fits, true = many(truth, from_scatter), {"truth": TRUTH, "other": OTHER}[truth]
    held = {
        name: float(np.mean([abs(number(fit, name) - true[name]) <= within(fit, name) for fit in fits]))
        for name in true
    }
    print("\n", truth, "scatter" if from_scatter else "stated errors", held)
    for name, share in held.items():
        assert LEAST <= share <= MOST, (name, share)


def test_good_sets_are_not_accused() -> None:
    fits = many("truth", False)
    assert sum(fit.outlier is not None for fit in fits) <= 8  # one in a hundred expected
    assert sum(not fit.goes_together for fit in fits) <= 8
    assert np.mean([fit.scatter for fit in fits]) == pytest.approx(1.0, abs=0.05)
    together = np.concatenate([fit.standardised for fit in fits])
    assert np.std(together) == pytest.approx(1.0, abs=0.05)
    assert np.mean(np.abs(together) > NINETEEN_IN_TWENTY) == pytest.approx(0.05, abs=0.02)


# ------------------------------------------------------------------------------------------ what cannot be separated


@pytest.mark.thorough
def test_volume_and_bore_get_no_number_and_the_rest_still_holds() -> None:
    fits = many("truth", False, free_bore=True)
    for fit in fits:
        for name in ("gas_volume", "bore"):
            found = fit.parameters[name]
            assert (found.value, found.within, found.low, found.high) == (None, None, None, None)
            assert found.state == "not separated"
        (group,) = fit.together
        assert group.names == ("gas_volume", "bore")
        assert group.sentence in fit.remarks
        assert "a larger gas volume and a larger bore together would read the same" in group.sentence
    stroke = TRUTH["gas_volume"] * 57.75 / (np.pi / 4 * TRUTH["bore"] ** 2)
    rest = [name for name in TRUTH if name not in ("gas_volume", "bore")]
    held = {name: np.mean([abs(number(fit, name) - TRUTH[name]) <= within(fit, name) for fit in fits]) for name in rest}
    held["stroke"] = np.mean(
        [abs(fit.stroke.value.m_as("in") - stroke) <= fit.stroke.within.m_as("in") for fit in fits]
    )
    print("\n", held)
    assert all(LEAST <= share <= MOST for share in held.values()), held


@pytest.mark.parametrize("truth", ["truth", pytest.param("other", marks=pytest.mark.thorough)])
@pytest.mark.parametrize("count", parts.quick(1, [4, 2, 9]))
def test_few_readings_hardly_ever_get_a_wrong_number(truth: str, count: int) -> None:
    """Wrong: a number is given and its interval misses the truth. Five in a hundred may, of what gets a number."""
    true, dice, wrong = {"truth": TRUTH, "other": OTHER}[truth], random.Random(f"few {truth}"), dict.fromkeys(TRUTH, 0)
    sets = 60
    for _ in range(sets):
        readings = as_readings(bench_file.readings(true, dice, rounded=False)).first(count)
        fit = fit_bench(BENCH, readings, {"bore": Q(true["bore"], "in")})
        for name, found in fit.parameters.items():
            if name != "bore" and found.value is not None:
                wrong[name] += abs(number(fit, name) - true[name]) > within(fit, name)
    print("\n", truth, count, wrong)
    assert max(wrong.values()) <= 0.15 * sets, wrong


def visits(
    charges: tuple[float, ...], pressures: tuple[float, ...], drag: int = 1
) -> list[tuple[float, float, int, bool]]:
    return [(charge, pressure, drag, False) for charge in charges for pressure in pressures]


NO_GAUGE_ERRORS = {"charge_zero": Q(0, "psi"), "pressure_zero": Q(0, "psi")}
SETTLED = {"friction": Q(0, "psi"), "index": 1.0}


@pytest.mark.parametrize(
    ("readings", "known", "lost"),
    [
        (visits((10,), (40,)), {"bore": BORE, **NO_GAUGE_ERRORS, **SETTLED}, {"gas_volume", "dead_length"}),
        (
            visits((10,), (40, 40, 40)),
            {"gas_volume": Q(2.85, "qt"), "bore": BORE, "charge_zero": Q(0.8, "psi"), **SETTLED},
            {"dead_length", "pressure_zero"},
        ),
        (
            visits((10,), (20, 30, 50, 80)),
            {"bore": BORE, "pressure_zero": Q(-0.6, "psi"), **SETTLED},
            {"gas_volume", "dead_length", "charge_zero"},
        ),
        (visits((3, 10, 24), (0, 30, 50, 80)), {"bore": BORE, "index": 1.0}, {"pressure_zero", "friction"}),
        (visits((3, 10, 24), (0, 30, 50, 80)), {"bore": BORE, "friction": Q(1.2, "psi")}, {"index"}),
        (visits((10,), (0, 0, 0)), {}, set(TRUTH) - {"dead_length"}),
        (visits((10,), (30,)), {}, set(TRUTH)),
    ],
    ids=[
        "one reading",
        "a zero and a dead length",
        "one pre-charge",
        "always rising",
        "always settled",
        "the piston at rest",
        "nothing known",
    ],
)
def test_what_readings_cannot_say_is_said(readings: Any, known: dict[str, Any], lost: set[str]) -> None:
    fit = fit_bench(BENCH, noiseless(TRUTH, readings), known)
    assert {name for name, found in fit.parameters.items() if found.value is None} == lost
    named = {name for group in fit.together for name in group.names}
    assert lost <= named
    for group in fit.together:
        assert group.sentence in fit.remarks
        for name in group.names:
            assert PARAMETERS[name].words in group.sentence
    for name in TRUTH.keys() - lost:
        if name not in known:
            assert abs(number(fit, name) - TRUTH[name]) <= within(fit, name)


def test_what_is_said_to_read_the_same_does_read_the_same() -> None:
    """At one pre-charge: a larger gas volume and a shorter dead length with a lower true pre-charge, by hand."""
    fit = fit_bench(
        BENCH,
        noiseless(TRUTH, visits((10,), (20, 30, 50, 80))),
        {"bore": Q(4.5, "in"), "pressure_zero": Q(-0.6, "psi"), **SETTLED | {"friction": Q(1.2, "psi")}},
    )
    (group,) = fit.together
    assert "a larger gas volume, a shorter dead length and a higher zero error of the charge gauge" in group.sentence
    area = np.pi / 4 * 4.5**2
    more = TRUTH | {"gas_volume": 3.0}
    longer = 0.15 * 57.75 / area
    more["dead_length"] -= longer
    charge = 10 + 0.8  # as read
    more_charge = (10 + bench_file.AIR) * TRUTH["gas_volume"] / 3.0 - bench_file.AIR
    assert charge - more_charge > TRUTH["charge_zero"]
    for pressure in (20.0, 30.0, 50.0, 80.0):
        assert bench_file.rule(more, more_charge, pressure, 1, False) == pytest.approx(
            bench_file.rule(TRUTH, 10.0, pressure, 1, False), abs=1e-12
        )


def test_no_direction_noted_means_that_no_friction_is_found() -> None:
    fit = fit_bench(BENCH, replace(demo_bench(), direction=None), {"bore": BORE})
    assert fit.parameters["friction"].value is None
    assert any("Nobody noted" in remark for remark in fit.remarks)
    assert any("scatter" in remark for remark in fit.remarks), "rising and falling readings no longer fit together"


def test_numbers_to_spare_and_scatter_are_said() -> None:
    two = trade_fit("bore")
    assert two.freedom == 0
    assert np.isnan(two.scatter)
    assert any("no reading to spare" in remark for remark in two.remarks)
    tight = fit_bench(BENCH, demo_bench(), {"bore": BORE}, rule_within=Q(0.001, "in"), pressure_within=Q(0.01, "psi"))
    assert any("as much as the stated errors allow" in remark for remark in tight.remarks)
    assert not tight.goes_together
    assert tight.outlier is None, "all of them are off, not one"
    assert "from_scatter" in refused(
        "from_scatter", lambda: fit_bench(BENCH, demo_bench().first(4), {}, from_scatter=True)
    )


@pytest.mark.parametrize("place", [4, 20, 35])
def test_a_slip_of_the_pen_is_found(place: int) -> None:
    rule = demo_bench().rule.m.copy()
    rule[place] += 0.5
    fit = fit_bench(BENCH, replace(demo_bench(), rule=Q(rule, "in")), {"bore": BORE})
    assert fit.outlier == place
    assert not fit.goes_together
    assert any(remark.startswith(f"Reading {place + 1} stands out") for remark in fit.remarks)


def test_a_falling_reading_taken_at_once_is_said() -> None:
    time = demo_bench().time.m.copy()
    time[5] = 3.0
    fit = fit_bench(BENCH, replace(demo_bench(), time=Q(time, "s")), {"bore": BORE})
    assert any(remark.startswith("Reading 6 came down and was read at once") for remark in fit.remarks)


def test_above_the_rating_it_says_stop() -> None:
    weak = replace(BENCH, rated_pressure=Q(60, "psig"))
    assert fit_bench(weak, demo_bench(), {"bore": BORE}).remarks[0].startswith("Stop: 79.6 psig is above")


def test_errors_shared_by_a_setting_of_the_pre_charge_count_once() -> None:
    """One charge reading for nine rule readings: more of them do not wear its error away."""
    known = {"bore": Q(4.5, "in"), "index": 1.0, "friction": Q(0, "psi"), **NO_GAUGE_ERRORS}
    exact = {"rule_within": Q(0.001, "in"), "pressure_within": Q(0, "psi"), "charge_within": Q(1, "psi")}

    def off(repeats: int, set_again: float) -> float:
        charges = [10.0 + 1e-6 * k * set_again for k in range(repeats) for _ in (0, 80)]
        taken = visits((10,), (0, 80)) * repeats
        readings = replace(noiseless(TRUTH, taken), precharge=Q(charges, "psig"))
        return within(fit_bench(BENCH, readings, known, **exact), "gas_volume")

    assert off(16, set_again=0.0) == pytest.approx(off(1, set_again=0.0), rel=0.01)
    for up_or_down in (1.0, -1.0):
        assert off(16, set_again=up_or_down) == pytest.approx(off(1, set_again=0.0) / 4.0, rel=0.01)


@pytest.mark.parametrize(
    ("call", "argument"),
    [
        (lambda: fit_bench("bench", demo_bench()), "vessel"),  # type: ignore[arg-type]
        (lambda: fit_bench(BENCH, "readings"), "readings"),  # type: ignore[arg-type]
        (lambda: fit_bench(BENCH, demo_bench(), {"volume": Q(3, "qt")}), "known"),
        (lambda: fit_bench(BENCH, demo_bench(), {"bore": 4.5}), "known, bore"),
        (lambda: fit_bench(BENCH, demo_bench(), {"bore": Q(4.5, "ft")}), "known, bore"),
        (lambda: fit_bench(BENCH, demo_bench(), {"bore": (Q(4.5, "in"), Q(-1, "in"))}), "known, bore, off by"),
        (lambda: fit_bench(BENCH, demo_bench(), {"index": 5.0}), "known, index"),
        (lambda: fit_bench(BENCH, demo_bench(), {"charge_zero": Q(1, "psig")}), "known, charge_zero"),
        (lambda: fit_bench(BENCH, demo_bench(), rule_within=Q(0, "in")), "rule_within"),
        (lambda: fit_bench(BENCH, demo_bench(), pressure_within=Q(-1, "psi")), "pressure_within"),
        (lambda: fit_bench(BENCH, demo_bench(), ambient=Q(1, "psia")), "ambient"),
        (lambda: demo_bench().first(0), "count"),
        (lambda: next_reading(fit_bench(BENCH, demo_bench()), []), "candidates"),
        (lambda: usual_candidates(fit_bench(BENCH, demo_bench()), Q(200, "psig")), "highest"),
        (
            lambda: next_reading(fit_bench(BENCH, demo_bench()), [CandidateReading(Q(10, "psig"), Q(151, "psig"))]),
            "pressure",
        ),
        (
            lambda: next_reading(
                fit_bench(BENCH, demo_bench()), [CandidateReading(Q(10, "psig"), Q(50, "psig"), "up")]
            ),
            "direction",
        ),
        (lambda: BenchReadings("x", Q([1.0], "psig"), Q([1.0, 2], "psig"), Q([1.0], "in")).si, "pressure"),
        (lambda: BenchReadings("x", Q([1.0], "psig"), Q([2.0], "psig"), Q([1.0], "in"), None, ("up",)).si, "direction"),
        (lambda: BenchReadings("x", Q([1.0], "psig"), Q([9e9], "psig"), Q([1.0], "in")).si, "pressure, reading 1"),
        (lambda: BenchReadings("x", Q([1.0], "psig"), Q([np.nan], "psig"), Q([1.0], "in")).si, "pressure"),
    ],
)
def test_bad_input(call: Any, argument: str) -> None:
    refused(argument, call)


# ------------------------------------------------------------------------------------------- what others have measured


def test_boyles_table_goes_through_the_same_fit() -> None:
    fit, table = boyle_fit(), boyle_1662()
    line = power_law_fit(table.volume, table.pressure).exponent
    assert abs(number(fit, "index") - 1.0) < 0.01
    assert abs(number(fit, "index") - line) <= within(fit, "index")
    assert within(fit, "index") < 0.01
    assert fit.outlier is None
    assert [name for name, found in fit.parameters.items() if found.state == "fitted"] == ["gas_volume", "index"]


def test_the_trades_two_readings_say_only_one_thing() -> None:
    vessel, known = BENCH, {**NO_GAUGE_ERRORS, **SETTLED}
    taken = BenchReadings("the trade", Q([5, 20], "psig"), Q([34.7, 34.7], "psig"), Q([2.75, 0], "in"))
    assert fit_bench(vessel, taken, known).parameters["bore"].value is None
    assert fit_bench(vessel, taken, known).parameters["gas_volume"].value is None
    assert number(fit_bench(vessel, taken, {**known, "gas_volume": Q(3, "qt")}), "bore") == pytest.approx(
        4.935, abs=0.01
    )


# ---------------------------------------------------------------------------------------------------- the next reading


def settled(readings: BenchReadings) -> BenchReadings:
    assert readings.time is not None
    assert readings.direction is not None
    kept = readings.time.m > 60.0
    ways = tuple(way for way, keep in zip(readings.direction, kept, strict=True) if keep)
    arrays = (readings.precharge, readings.pressure, readings.rule, readings.time)
    return BenchReadings("settled", *(array[kept] for array in arrays), ways)


SITUATIONS: dict[str, tuple[Any, dict[str, Any]]] = {
    "one pre-charge": (demo_bench().first(9), {"bore": BORE}),
    "settled and rising only": (demo_bench().first(4), {"bore": BORE, "index": 1.0}),
    "two pre-charges, settled": (settled(demo_bench().first(18)), {"bore": BORE, "index": 1.0}),
    "nothing but the piston at rest": (demo_bench().first(1), {"bore": BORE, "index": 1.0, **NO_GAUGE_ERRORS}),
    "all of them": (demo_bench(), {"bore": BORE}),
}


def told_by_hand(fit: BenchFit, extra: CandidateReading | None) -> Any:
    """Information on the free parameters, in outsider's guesses, by differences of the other arithmetic."""
    si = fit.readings.si
    rows = [
        (c / 6894.757293168, p / 6894.757293168, d, t < 60.0)
        for c, p, d, t in zip(si["precharge"], si["pressure"], si["drag"], si["time"], strict=True)
    ]
    if extra is not None:
        way = {"rising": 1.0, "falling": -1.0, "freed": 0.0}[extra.direction]
        rows.append((extra.precharge.m_as("psig"), extra.pressure.m_as("psig"), way, not extra.settled))
    best = {name: number(fit, name) if fit.parameters[name].value is not None else None for name in TRUTH}
    for k, name in enumerate(PARAMETERS):
        if best[name] is None:  # no number shown, but the search stands somewhere
            best[name] = float(Q(fit._best[k], PARAMETERS[name].kind.si).m_as(UNITS[name]))
    spread = {
        "gas_volume": 0.75, "bore": 0.45, "dead_length": 1.0, "charge_zero": 5.0, "pressure_zero": 5.0, "friction": 5.0,
        "index": 0.2,
    }  # fmt: skip
    free = [name for name, found in fit.parameters.items() if found.share > 0.0]

    def rules(change: dict[str, float], charge: float = 0.0, pressure: float = 0.0) -> Any:
        at = {name: best[name] + change.get(name, 0.0) for name in best}
        return np.array(
            [
                bench_file.rule(at, c + charge - at["charge_zero"], p + pressure - at["pressure_zero"], d, bool(warm))
                for c, p, d, warm in rows
            ]
        )

    h = 1e-5
    slopes = np.stack([(rules({n: h * spread[n]}) - rules({n: -h * spread[n]})) / (2 * h) for n in free], axis=1)
    by_charge = (rules({}, charge=h) - rules({}, charge=-h)) / (2 * h)
    by_pressure = (rules({}, pressure=h) - rules({}, pressure=-h)) / (2 * h)
    sd = {"rule": 0.04 / NINETEEN_IN_TWENTY, "gauge": 0.3 / NINETEEN_IN_TWENTY}
    covariance = np.diag(sd["rule"] ** 2 + (by_pressure * sd["gauge"]) ** 2)
    setting = np.cumsum([0, *(a[0] != b[0] for a, b in zip(rows[1:], rows, strict=False))])
    covariance += np.where(setting[:, None] == setting, np.outer(by_charge, by_charge), 0.0) * sd["gauge"] ** 2
    told = slopes.T @ np.linalg.solve(covariance, slopes)
    if "bore" in free:
        told[free.index("bore"), free.index("bore")] += (NINETEEN_IN_TWENTY * spread["bore"] / 0.01) ** 2
    return told + NINETEEN_IN_TWENTY**2 * np.eye(len(free))


@pytest.mark.parametrize("situation", SITUATIONS)
def test_the_next_reading_shrinks_the_worst_most(situation: str) -> None:
    """Every candidate tried by brute force: none leaves a smaller worst error than the one that is advised."""
    readings, known = SITUATIONS[situation]
    fit = fit_bench(BENCH, readings, known)
    tried = [plan for plan in usual_candidates(fit) if plan.pressure.m > plan.precharge.m + 5 or plan.pressure.m == 0.0]
    found = next_reading(fit, tried)

    def worst(extra: CandidateReading | None) -> float:
        return float(NINETEEN_IN_TWENTY / np.sqrt(np.linalg.eigvalsh(told_by_hand(fit, extra))[0]))

    by_hand = [worst(plan) for plan in tried]
    mine = by_hand[tried.index(found.reading)]
    assert found.worst_before == pytest.approx(worst(None), rel=1e-4)
    assert found.worst_after == pytest.approx(mine, rel=1e-4)
    assert mine <= min(by_hand) * 1.0101
    assert mine <= found.worst_before * (1.0 + 1e-12)
    near = [plan for plan, error in zip(tried, by_hand, strict=True) if error <= min(by_hand) * 1.0099]
    region = {id(plan): np.linalg.slogdet(told_by_hand(fit, plan))[1] for plan in near}
    assert region[id(found.reading)] >= max(region.values()) - 1e-4
    assert found.never == ()
    assert found.sentence.startswith("Take next: pre-charge")


def test_a_reading_taken_as_advised_does_what_was_said() -> None:
    readings, known = SITUATIONS["one pre-charge"]
    fit = fit_bench(BENCH, readings, known)
    plan = next_reading(fit)
    said = plan.reading
    charge, pressure = said.precharge.m_as("psig"), said.pressure.m_as("psig")
    drag = int(DIRECTIONS[said.direction])
    rule = bench_file.rule(
        TRUTH, charge - TRUTH["charge_zero"], pressure - TRUTH["pressure_zero"], drag, not said.settled
    )
    more = BenchReadings(
        "one more",
        *(Q(np.append(old.m, new), old.u) for old, new in (
            (readings.precharge, charge), (readings.pressure, pressure), (readings.rule, rule),
            (readings.time, 120.0 if said.settled else 2.0),
        )),
        (*readings.direction, said.direction),
    )  # fmt: skip
    after = fit_bench(BENCH, more, known)
    assert plan.worst_after < 0.6 * plan.worst_before
    worst = max(plan.before, key=lambda name: plan.before[name])
    assert after.parameters[worst].share == pytest.approx(plan.after[worst], rel=0.3)  # slopes of another fit
    assert after.parameters[worst].share < 0.7 * min(fit.parameters[worst].share, 1.0)


def test_what_no_reading_can_separate_is_named() -> None:
    found = next_reading(fit_bench(BENCH, demo_bench(), {}))
    assert [group.names for group in found.never] == [("gas_volume", "bore")]
    assert "No such reading tells gas volume and bore apart: measure one of them another way" in found.sentence
    assert found.worst_after < found.worst_before < 0.5, "that direction is left out of the worst"


def test_no_candidate_is_above_what_was_allowed() -> None:
    fit = fit_bench(BENCH, demo_bench(), {"bore": BORE})
    for highest in (20, 40, 150):
        plans = usual_candidates(fit, Q(highest, "psig"))
        assert max(plan.pressure.m_as("psig") for plan in plans) <= highest
    weak = fit_bench(replace(BENCH, rated_pressure=Q(85, "psig")), demo_bench(), {"bore": BORE})
    assert max(plan.pressure.m_as("psig") for plan in usual_candidates(weak)) <= 0.8 * 85


# ---------------------------------------------------------------------------------------------------------- the file

HEAD = "precharge (psi), pressure (psi), rule (in), time (s), direction"
ROWS = ["10.0, 20.0, 2.14, 120, rising", "10.0, 30.0, 4.45, 120, rising", "10.0, 20.0, 2.40, 120, falling"]


def test_units_of_every_sort_give_the_same_readings(tmp_path: Path) -> None:
    """By hand: 10 psi is 0.6894757 bar and 68.94757 kPa; 2.54 in is 64.516 mm."""
    plain = read_bench("precharge (psi), pressure (psi), rule (in), time (s)\n10, 20, 2.54, 120")
    for text in (
        "Precharge (bar);Pressure (bar);Rule (mm);Time (min)\n0,6894757;1,3789515;64,516;2",
        "rule [cm]\ttime (s)\tpre-charge (kPa)\tpressure (barg)\n6.4516\t120\t68.94757\t1.3789515",
        '"precharge (psig)","pressure (kPa)","rule (inch)","time (s)"\r\n# a remark\r\n10,137.89515,2.54,120\r\n\r\n',
    ):
        path = tmp_path / "bench.csv"
        path.write_bytes(b"\xef\xbb\xbf" + text.encode())
        for got in (read_bench(text), read_bench(path)):
            for name in ("precharge", "pressure", "rule", "time"):
                assert getattr(got, name).m == pytest.approx(getattr(plain, name).m, rel=1e-6), name
            assert got.direction is None


BAD_FILES: list[tuple[list[str], str]] = [
    ([HEAD], "no readings"),
    (["# only remarks", ""], "got nothing"),
    ([HEAD.replace("(psi)", "", 1), *ROWS], "line 1, column 1: got precharge without a unit"),
    ([HEAD.replace("rule (in)", "rule (furlong)"), *ROWS], "line 1, column 3: got rule in “furlong”"),
    ([HEAD.replace("precharge (psi)", "precharge (psia)"), *ROWS], "column 1: got precharge in “psia”"),
    ([HEAD.replace("rule (in)", "ruler (in)"), *ROWS], "column 3: got “ruler (in)”"),
    ([HEAD.replace("rule (in)", ""), *ROWS], "column 3: got no name"),
    ([HEAD.replace("rule (in)", "pressure (psi)"), *ROWS], "column 3: got a second column pressure"),
    ([HEAD.replace("direction", "direction (s)"), *ROWS], "column 5: got direction with a unit"),
    (["precharge (psi), pressure (psi)", "10, 20"], "line 1: got no column rule"),
    ([HEAD, ROWS[0], "10.0, x, 4.4, 120, rising"], "line 3, pressure: got “x”"),
    ([HEAD, ROWS[0], "10.0, , 4.4, 120, rising"], "line 3, pressure: got nothing"),
    ([HEAD, ROWS[0], "10.0, 30, 4.4"], "line 3, time: got nothing"),
    ([HEAD, ROWS[0], "10.0, 30, 4.4, 120, rising, more"], "line 3: got 6 cells"),
    ([HEAD, ROWS[0], "10.0, nan, 4.4, 120, rising"], "line 3, pressure: got “nan”"),
    ([HEAD, ROWS[0], "10.0, 30, inf, 120, rising"], "line 3, rule: got “inf”"),
    ([HEAD, ROWS[0], "10.0, 30, 1e999, 120, rising"], "line 3, rule: got “1e999”"),
    ([HEAD, ROWS[0], "10.0, 30, 4_4, 120, rising"], "line 3, rule: got “4_4”"),
    ([HEAD, ROWS[0], "10.0, 30, 4.4, -5, rising"], "line 3, time: got -5 s"),
    ([HEAD, ROWS[0], "10.0, 3000, 4.4, 120, rising"], "line 3, pressure: got 3000 psi"),
    ([HEAD, ROWS[0], "-50, 30, 4.4, 120, rising"], "line 3, precharge: got -50 psi"),
    ([HEAD, ROWS[0], "10.0, 30, 440, 120, rising"], "line 3, rule: got 440 in"),
    ([HEAD, ROWS[0], "10.0, 30, 4.4, 120, up"], "line 3, direction: got “up”"),
    ([HEAD, ROWS[0], "10.0, 30, 4.4, 120,"], "line 3, direction: got nothing"),
    ([HEAD, ROWS[0], "=10+1, 30, 4.4, 120, rising"], "line 3, precharge: got “=10+1”"),
    ([HEAD, ROWS[0], "__import__('os').getpid(), 30, 4.4, 120, rising"], "line 3, precharge: got “__import__"),
    ([HEAD, ROWS[0], "10 psi, 30, 4.4, 120, rising"], "line 3, precharge: got “10 psi”"),
    ([HEAD, *ROWS * 200], "600 readings"),
    ([HEAD, "\0"], "not text"),
]  # fmt: skip


@pytest.mark.parametrize(("lines", "part"), BAD_FILES, ids=[part for _, part in BAD_FILES])
def test_bad_files_are_refused_with_line_and_column(tmp_path: Path, lines: list[str], part: str) -> None:
    path = tmp_path / "mine.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    assert part in refused(None, lambda: read_bench(path))


def test_no_file_a_folder_a_large_one_and_no_text(tmp_path: Path) -> None:
    assert "cannot be read" in refused("none.csv", lambda: read_bench(tmp_path / "none.csv"))
    refused(None, lambda: read_bench(tmp_path))
    refused(None, lambda: read_bench("no\0name"))
    (tmp_path / "large.csv").write_bytes(b"# x\n" * 300_000)
    assert "more than 1 MB" in refused("large.csv", lambda: read_bench(tmp_path / "large.csv"))
    (tmp_path / "odd.csv").write_bytes(b"\xff\xfe\xfa")
    assert "not UTF-8" in refused("odd.csv", lambda: read_bench(tmp_path / "odd.csv"))


PIECES = st.sampled_from(
    [*"0123456789.,;\t\n\r#()[]-+eE\"'_=\0 ", "nan", "inf", "psi", "(bar)", "rule (in)", "rising", "1e400", "−3", "½",
     "10", "\u2028", "\ufeff", "10,0", "direction", "%s", "{0}", "__import__('os')"]
)  # fmt: skip


@examples(700)
@given(st.lists(st.tuples(st.integers(0, 200), st.integers(0, 12), PIECES), max_size=6), st.booleans())
@example([(0, 200, "")], True)
def test_spoiled_files_are_read_right_or_refused(cuts: list[tuple[int, int, str]], long: bool) -> None:
    """Pieces cut out of a good file and others put in: readings that stand in it as they are, or one sentence."""
    text = "\n".join([HEAD, *ROWS * (3 if long else 1)]) + "\n"
    for place, length, piece in cuts:
        text = text[:place] + piece + text[place + length :]
    try:
        taken = read_bench(text + "\n")
    except InputError as problem:
        refusal = problem
    else:
        refusal = None
    if refusal is not None:
        assert re.match(r"readings(, line \d+(, [\w ]+)?)?: got .+; wanted .+\.$", str(refusal), re.DOTALL), refusal
        return
    taken.si  # noqa: B018
    numbers = {float(n) for cell in text.replace(";", ",").replace("\t", ",").replace('"', "").split("\n")[1:]
               for n in [*cell.split(","), cell.replace(",", ".")] if _is_number(n)}  # fmt: skip
    if ";" not in text and "\t" not in text and "\r" not in text:
        for value in taken.rule.m:
            assert any(abs(value - n) < 1e-9 for n in numbers), (value, text)


def _is_number(text: str) -> bool:
    try:
        return bool(np.isfinite(float(text)))
    except ValueError:
        return False


@examples(300)
@given(st.text(max_size=300))
def test_any_text_is_read_or_refused(text: str) -> None:
    with pytest.raises(InputError):
        read_bench(text + "\n")  # nothing of the sort is a bench file


@examples(120)
@given(
    st.lists(
        st.tuples(
            st.floats(-5, 200),
            st.floats(-5, 400),
            st.floats(-10, 100),
            st.floats(0, 9e4),
            st.sampled_from(sorted(DIRECTIONS)),
        ),
        min_size=1,
        max_size=20,
    ),
    st.booleans(),
    st.booleans(),
)
def test_written_and_read_back_is_the_same(
    tmp_path_factory: pytest.TempPathFactory,
    rows: list[tuple[float, float, float, float, str]],
    timed: bool,
    told: bool,
) -> None:
    path = tmp_path_factory.mktemp("bench") / "bench.csv"
    given_in = as_readings(rows)
    given_in = replace(given_in, time=given_in.time if timed else None, direction=given_in.direction if told else None)
    write_bench(path, given_in)
    back = read_bench(path)
    for name in ("precharge", "pressure", "rule", "time"):
        mine, theirs = getattr(given_in, name), getattr(back, name)
        assert (mine is None) == (theirs is None)
        if mine is not None:
            assert mine.m.tolist() == theirs.m.tolist(), name
    assert back.direction == given_in.direction


def test_a_folder_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    blocker = tmp_path / "file"
    blocker.write_text("x")
    refused("bench.csv", lambda: write_bench(blocker / "bench.csv", demo_bench()))


# --------------------------------------------------------------------------------------------------------- the panels


def test_readings_are_saved_and_come_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    panel = panels.bench_fit()
    mine = "\n".join([HEAD, *ROWS, "15, 40, 5.0, 120, rising", "15, 0, 0.5, 120, falling"])
    panel.controls["readings"].area.value = mine
    panel._save.click()
    assert (panel.errors, panel.trouble) == ([], "")
    again = panels.bench_fit()
    again._load.click()
    assert again.values == panel.values
    again.controls["readings"].area.value = mine + "\nrubbish"
    assert "line 7, pressure" in again.controls["readings"].error or "line 7" in again.controls["readings"].error
    again._save.click()
    assert "rubbish" not in (tmp_path / "my_bench.csv").read_text(encoding="utf-8")
    again.controls["readings"].area.value = mine.replace("0.5", "0.6")
    again._save.click()
    assert (tmp_path / "my_bench_earlier_1.csv").read_text(encoding="utf-8").rstrip() == mine
    (tmp_path / "my_bench.csv").write_text("nonsense", encoding="utf-8")
    held = again.controls["readings"].value
    again._load.click()
    assert "nonsense" in again.controls["readings"].error
    assert again.controls["readings"].value == held
    (tmp_path / "my_bench.csv").unlink()
    again._load.click()
    assert "no readable my_bench.csv" in again.trouble


@pytest.mark.parametrize(
    ("text", "part"),
    parts.quick(
        1,
        [
            ("", "got nothing"),
            (str(data_file("bench_readings.csv")), "line 1, column 1"),
            (HEAD, "no readings"),
            (f"{HEAD}\n10, 30, x, 120, rising", "line 2, rule: “x”"),
            (f"{HEAD}\n-14, 30, 4, 120, rising", "precharge"),
        ],
    ),
)
def test_bad_readings_are_answered_beside_the_box(text: str, part: str) -> None:
    panel = panels.bench_fit()
    before = panel.readout, panel.png
    panel.controls["readings"].area.value = text
    assert part in panel.controls["readings"].error
    check_sentence(panel.controls["readings"].error, panel.controls["readings"].label)
    assert panel.errors == []
    assert (panel.readout, panel.png) == before


@pytest.mark.thorough
def test_no_number_where_nothing_can_be_told() -> None:
    panel = panels.bench_fit(bore=False)
    assert panel.values["gas volume"] == panel.values["bore"] == "not separated"
    assert "do not tell gas volume and bore apart" in panel.summary(panel.state)
    assert "no number" in panel._summary()
    panel.controls["readings"].area.value = f"{HEAD}\n{ROWS[0]}"
    assert panel.errors == []
    assert "No parameter gets a number" in panel.summary(panel.state)
    panel.reset()
    assert "19 times in 20" in panel.summary(panel.state)
    panel.set(friction=True)
    assert "not to be trusted" in panel.summary(panel.state)
    assert "Believe no interval" in panel.summary(panel.state)


def test_the_plan_follows_the_bench() -> None:
    bench = panels.bench_fit()
    plan = panels.next_reading(bench)
    assert plan.readout["readings so far"] == "9"
    plan.set(taken="all")
    assert plan.readout["readings so far"] == "36"
    bench.controls["readings"].area.value = "\n".join([HEAD, *ROWS])
    assert plan.readout["readings so far"] == "3"
    assert (bench.errors, plan.errors, plan.trouble) == ([], [], "")
    bench.close()
    plan.controls["pressure"].slider.value = 33.0
    assert "a panel that is gone" in plan.controls["taken"].error
