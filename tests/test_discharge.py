"""The public call: closed forms, many cases, edges, and the sentence for each wrong thing."""

from __future__ import annotations

import dataclasses
import importlib
import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from outside_rows.discharge import laminar_engine
from sentences import refused

import oilkit
from oilkit import Installation, Q, SupplyLine, discharge, pressure_after, time_to_empty
from oilkit.physics.catalog import engines, fittings, hoses, lubricants, vessels
from oilkit.physics.discharging import CONDITIONS, EMPTY, LASTS, LIMIT_REACHED, STILL_BELOW

LINE = SupplyLine(hoses()["trade_12"], Q(6, "ft"), (fittings()["reduced_valve"], fittings()["port"]))
BUILT = Installation(engines()["street_v8"], lubricants()["street"], vessels()["bench"], LINE)

# ------------------------------------------------------------------------------------------------------- closed forms


@pytest.mark.parametrize("psi", [5.0, 20.0, 45.0])
def test_laminar_engine_and_slow_gas_against_the_closed_form(psi: float) -> None:
    """Closed form of `time_to_empty` and `pressure_after`. 2e-3: the line, wide and short but not nothing, and the
    gallery's own springiness are in the model and not in the form."""
    built, flow = laminar_engine()
    run = discharge(
        built, precharge=Q(psi, "psig"), pressure=Q(60, "psig"), thermal_time_constant=Q(0, "s"), speed=Q(0, "rpm"),
        pump_decay=Q(0, "s"), limit=Q(0.5, "psig"), line_temperature=Q(100, "degC"), air_in_gallery=0.0,
        duration=Q(400, "s"), inertia=False,
    )  # fmt: skip
    vessel = built.vessel.gas_volume, Q(psi, "psig"), Q(60, "psig"), flow
    assert run.empty_after.m == pytest.approx(time_to_empty(*vessel).m, rel=2e-3)
    before = (run.history.time.m > 0.1) & (run.history.time.m < 0.98 * run.empty_after.m)
    exact = pressure_after(*vessel, run.history.time[before])
    assert run.history.gallery_pressure.m[before] == pytest.approx(exact.m, rel=2e-3)


# ------------------------------------------------------------------------------ heat exchange: what the two limits hide


def test_protected_time_over_all_time_constants_is_not_monotone() -> None:
    """Below the limit heat helps all along; above it a middle time constant lasts longer than either end."""
    tau = np.concatenate([[0.0], np.logspace(-2, 3, 60), [math.inf]])
    runs = {
        name: discharge(BUILT, precharge=Q(psi, "psig"), thermal_time_constant=Q(tau, "s"), limit=Q(20, "psig"))
        for name, psi in (("below", 8.0), ("near", 20.0), ("above", 25.0))
    }
    times = {name: run.protected_time.m for name, run in runs.items()}
    assert np.all(np.isfinite(times["below"]) & np.isfinite(times["above"]))
    assert np.all(np.diff(times["below"]) < 1e-4)  # falls from the slow limit to the fast one
    middle = int(np.argmax(times["above"]))
    assert 0 < middle < len(tau) - 1
    assert times["above"][middle] > 1.01 * max(times["above"][0], times["above"][-1])
    assert set(runs["below"].ending) == {LIMIT_REACHED}
    assert runs["above"].ending[0] == EMPTY
    assert set(runs["above"].ending) <= {EMPTY, LIMIT_REACHED}


@pytest.mark.parametrize("psi", [5.0, 20.0, 30.0])
def test_the_vessels_own_heat_lies_between_its_limits(psi: float) -> None:
    """No heat and all heat are the two limits; between, it is as with a constant that the gas goes through."""

    def protected(**how: Any) -> float:
        return float(discharge(BUILT, precharge=Q(psi, "psig"), **how).protected_time.m)

    assert protected(heat_transfer=Q(math.inf, "W/m**2/K")) == protected(thermal_time_constant=Q(0, "s"))
    assert protected(heat_transfer=Q(0, "W/m**2/K")) == protected(thermal_time_constant=Q(math.inf, "s"))
    assert protected(thermal_time_constant=None) == protected() == protected(heat_transfer=Q(7, "W/m**2/K"))
    run = discharge(BUILT, precharge=Q(psi, "psig"))
    bench = BUILT.vessel
    space = bench.gas_volume - Q(
        np.interp([0.0, run.protected_time.m], run.history.time.m, run.history.oil.m), run.history.oil.units
    )
    slow, fast = oilkit.gas_time_constant(bench.gas_volume, bench.bore, Q(psi, "psig"), Q(40, "degC"), space)
    ends = sorted(protected(thermal_time_constant=tau) for tau in (slow, fast))
    assert slow > fast
    assert ends[0] < protected() < ends[1]


# --------------------------------------------------------------------------------------------------------------- edges


def test_empty_from_the_start() -> None:
    run = discharge(BUILT, precharge=Q(70, "psig"), pressure=Q(60, "psig"))
    assert run.empty_after.m == 0.0
    assert run.ending == EMPTY
    assert run.oil_used.m == 0.0
    assert np.all(run.history.oil.m == 0.0)
    assert run.protected_time.m < 0.3  # the pump's decay and no more


def test_starting_below_the_limit() -> None:
    run = discharge(BUILT, pressure=Q(15, "psig"), limit=Q(20, "psig"), pump_decay=Q(0, "s"))
    assert run.protected_time.m == 0.0
    assert run.time_below.m == pytest.approx(60.0)
    assert run.oil_used.m == 0.0


def test_it_may_last() -> None:
    run = discharge(BUILT, duration=Q(1, "s"))
    assert math.isinf(run.protected_time.m)
    assert run.ending == LASTS
    assert run.oil_used.to("qt").m == pytest.approx(run.history.oil.to("qt").m[0] - run.history.oil.to("qt").m[-1])


def test_a_run_that_ends_just_after_the_fall_does_not_say_that_the_pressure_held() -> None:
    """Within the tolerance nothing is lost yet: neither held nor lost, of one case and of many."""
    falls = discharge(BUILT).protected_time.m
    ends = falls + 0.02
    one, many = (discharge(BUILT, duration=Q(ends, "s"), tolerance=t) for t in (Q(0.05, "s"), Q([0.05, 0.01], "s")))
    assert one.ending == STILL_BELOW
    assert list(many.ending) == [STILL_BELOW, LIMIT_REACHED]
    assert math.isinf(one.protected_time.m)
    assert one.time_below.m == pytest.approx(0.02, rel=1e-3)
    assert discharge(BUILT, duration=Q(falls - 0.02, "s")).ending == LASTS


def test_oil_used_is_what_had_left_by_the_protected_time() -> None:
    moments = np.linspace(0.0, 12.0, 12_001)
    for accuracy in (1e-3, 1e-6):
        run = discharge(BUILT, accuracy=accuracy, duration=Q(12, "s"), samples=Q(moments, "s"))
        left = np.interp(run.protected_time.m, moments, run.history.oil.to("qt").m)
        used = run.history.oil.to("qt").m[0] - left
        assert run.oil_used.to("qt").m == pytest.approx(used, rel=1e-3)


def test_a_pump_that_lets_go_more_slowly_than_the_run_lasts() -> None:
    """The first five seconds do not know how long they are followed."""
    short = discharge(BUILT, pump_decay=Q(20, "s"), duration=Q(5, "s"), samples=Q([0, 2, 5], "s"))
    long = discharge(BUILT, pump_decay=Q(20, "s"), duration=Q(60, "s"), samples=Q([0, 2, 5], "s"))
    assert short.history.gallery_pressure.m == pytest.approx(long.history.gallery_pressure.m, rel=1e-5)


def test_arrays_broadcast_and_portions_make_no_difference(monkeypatch: pytest.MonkeyPatch) -> None:
    charge, speed = Q([[5.0], [20.0], [40.0]], "psig"), Q([0.0, 1000.0, 3000.0, 6000.0], "rpm")
    whole = discharge(BUILT, precharge=charge, speed=speed)
    assert whole.protected_time.shape == whole.ending.shape == whole.oil_used.shape == (3, 4)
    monkeypatch.setattr(importlib.import_module("oilkit.physics.discharging"), "AT_ONCE", 5)
    parts = discharge(BUILT, precharge=charge, speed=speed)
    assert np.array_equal(whole.protected_time.m, parts.protected_time.m)
    assert np.array_equal(whole.oil_used.m, parts.oil_used.m)


def test_no_cases_at_all() -> None:
    assert discharge(BUILT, precharge=Q(np.array([]), "psig")).protected_time.shape == (0,)


def test_accuracy_is_what_it_says() -> None:
    best = discharge(BUILT, accuracy=1e-9).protected_time.m
    for accuracy in (1e-3, 1e-5, 1e-7):
        assert discharge(BUILT, accuracy=accuracy).protected_time.m == pytest.approx(best, rel=20.0 * accuracy)


# --------------------------------------------------------------------------------------------------------- the sentence


@pytest.mark.parametrize(
    ("argument", "arguments"),
    [
        ("condition", {"preload": Q(1, "psi")}),
        ("precharge", {"precharge": Q(10, "psi")}),
        ("precharge", {"precharge": 10}),
        ("precharge", {"precharge": Q(-20, "psig")}),
        ("pressure", {"pressure": Q(60, "psia")}),
        ("speed", {"speed": Q(50, "Hz")}),
        ("speed", {"speed": Q(math.nan, "rpm")}),
        ("sump_temperature", {"sump_temperature": Q(20, "delta_degC")}),
        ("thermal_time_constant", {"thermal_time_constant": Q(-1, "s")}),
        ("clearance_change", {"clearance_change": Q(-3, "thou")}),
        ("air_in_gallery", {"air_in_gallery": 1.5}),
        ("line_length", {"line_length": Q(0, "ft")}),
        ("seal_friction", {"seal_friction": Q(-1, "psi")}),
        ("limit", {"limit": Q(0, "psig")}),
        ("tolerance", {"tolerance": Q(math.inf, "s")}),
        ("accuracy", {"accuracy": 1.0}),
        ("accuracy", {"accuracy": math.nan}),
        ("duration", {"duration": Q(1, "ft")}),
        ("duration", {"duration": Q([1, 2], "s")}),
        ("samples", {"samples": Q([1, 2], "s"), "precharge": Q([5, 10], "psig")}),
        ("samples", {"samples": Q([2, 1], "s")}),
        ("samples", {"samples": Q(1, "s")}),
        ("samples", {"samples": Q(np.array([]), "s")}),
        ("samples", {"samples": Q([1, 100], "s")}),
        ("samples", {"samples": Q([-1, 1], "s")}),
        (None, {"precharge": Q([5, 10], "psig"), "speed": Q([1, 2, 3], "rpm")}),
    ],
)
def test_what_is_refused(argument: str | None, arguments: dict[str, Any]) -> None:
    refused(argument, lambda: discharge(BUILT, **arguments))


def test_not_an_installation_and_a_part_that_is_none() -> None:
    refused("installation", lambda: discharge(BUILT.vessel))
    refused("engine", lambda: discharge(dataclasses.replace(BUILT, engine=BUILT.oil)))
    refused("line_length", lambda: discharge(dataclasses.replace(BUILT, line=SupplyLine(LINE.hose, Q(0, "ft")))))


def test_every_condition_has_a_usual_value_and_does_something() -> None:
    usual = discharge(BUILT, seal_friction=Q(0.1, "psi")).history.gallery_pressure.m
    changed = {
        "precharge": Q(12, "psig"), "pressure": Q(55, "psig"), "speed": Q(4000, "rpm"),
        "sump_temperature": Q(90, "degC"), "line_temperature": Q(20, "degC"), "gas_temperature": Q(60, "degC"),
        "thermal_time_constant": Q(1, "s"), "heat_transfer": Q(15, "W/m**2/K"),
        "clearance_change": Q(1, "thou"), "line_length": Q(12, "ft"),
        "pump_decay": Q(0.5, "s"), "seal_friction": Q(2, "psi"), "head": Q(2, "psi"), "air_in_gallery": 0.2,
        "leak": Q(1, "gpm"), "ambient": Q(850, "hPa"),
    }  # fmt: skip
    assert set(changed) == set(CONDITIONS) - {"limit", "tolerance"}
    for name, value in changed.items():
        other = discharge(BUILT, **({"seal_friction": Q(0.1, "psi")} | {name: value})).history.gallery_pressure.m
        assert np.max(np.abs(other - usual)) > 1e-3, name


IMPOSSIBLE_PHYSICS: dict[str, tuple[str, Callable[[], Any]]] = {
    "a case of no time": ("duration", lambda: discharge(BUILT, Q(0, "s"))),
    "an event of no time": ("event", lambda: oilkit.robust_choice(BUILT, Q([10, 20], "psig"), Q(0, "s"), draws=2)),
    "a map from no time": ("event", lambda: oilkit.precharge_map(BUILT, Q([10, 20], "psig"), Q([0, 2], "s"))),
    "gas colder than any place": ("gas_temperature", lambda: discharge(BUILT, gas_temperature=Q(-61, "degC"))),
    "gas hotter than its seals": ("gas_temperature", lambda: discharge(BUILT, gas_temperature=Q(201, "degC"))),
    "burning oil": ("sump_temperature", lambda: discharge(BUILT, sump_temperature=Q(300, "degC"))),
    "an hour without pressure": ("tolerance", lambda: discharge(BUILT, tolerance=Q(1, "hour"))),
    "a negative spread": (
        "clearance_spread",
        lambda: oilkit.robust_choice(BUILT, Q([10, 20], "psig"), Q(1, "s"), clearance_spread=Q(-0.1, "thou")),
    ),
    "a negative spread of warmth": (
        "temperature_spread",
        lambda: oilkit.robust_choice(BUILT, Q([1, 2], "psig"), Q(1, "s"), temperature_spread=Q(-1, "delta_degC")),
    ),
    "a negative seed": (
        "seed", lambda: oilkit.robust_choice(BUILT, Q([10, 20], "psig"), Q(1, "s"), draws=2, seed=-1),
    ),
    "a lap at no accuracy": ("accuracy", lambda: oilkit.simulate_lap(BUILT, oilkit.kit_lap(), accuracy=5.0)),
    "a map at no accuracy": (
        "accuracy", lambda: oilkit.precharge_map(BUILT, Q([10, 20], "psig"), Q([1, 2], "s"), accuracy=-1.0),
    ),
    "a pre-lube at no accuracy": (
        "accuracy",
        lambda: oilkit.pre_lube(
            BUILT, oilkit.fittings()["wide_valve"], Q(7, "psig"), Q(43, "psig"), Q(5, "degC"), accuracy=math.nan
        ),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", IMPOSSIBLE_PHYSICS)
def test_what_cannot_happen_is_refused(name: str) -> None:
    argument, call = IMPOSSIBLE_PHYSICS[name]
    refused(argument, call)
