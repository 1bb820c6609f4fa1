"""The check of what comes: every public function, found by itself, against wrong input of every sort and in every unit.

A new public function of quantities is tested here without a word. If its arguments must fit together, give it values in
``GOOD``. One that takes records wants arguments in ``WHOLE``.
"""

from __future__ import annotations

import functools
import importlib
import inspect
import itertools
import math
import pkgutil
from collections.abc import Callable, Iterator
from dataclasses import fields, is_dataclass, replace
from typing import Any, get_args, get_origin, get_type_hints

import numpy as np
import pytest
from pint.facets.plain import PlainQuantity
from sentences import case, refused

import oilkit
from oilkit import Q, use_units
from oilkit.physics.discharging import CONDITIONS
from oilkit.quantities import kinds
from oilkit.quantities.checked import Gauge, One, Own, Public, Seed, Shape, Volume, public, without_none
from oilkit.quantities.kind import Kind
from oilkit.quantities.kinds import to_si, typical
from oilkit.quantities.units import Qty


def public_functions() -> dict[str, Public[..., Any]]:
    """Every function of the package that was made with ``@public``, by its own name."""
    found: dict[str, Public[..., Any]] = {}
    for info in pkgutil.walk_packages(oilkit.__path__, "oilkit."):
        module = importlib.import_module(info.name)
        for name, thing in vars(module).items():
            if not inspect.isfunction(thing) or thing.__module__ != module.__name__:
                continue
            if all(hasattr(thing, mark) for mark in ("kinds", "returns", "si")):
                assert name not in found, f"two public functions are called {name}"
                found[name] = thing
    return found


def is_of_numbers(function: Public[..., Any]) -> bool:
    """Whether a function takes quantities, and switches, and gives one: no records, no words."""
    others = inspect.signature(function).parameters.keys() - function.kinds.keys()
    return function.returns is not None and {get_type_hints(function)[name] for name in others} <= {bool}


EVERY = public_functions()
PUBLIC = {name: function for name, function in EVERY.items() if is_of_numbers(function)}
ARGUMENTS = [(name, argument) for name, function in PUBLIC.items() for argument in function.kinds]

GOOD: dict[str, dict[str, Any]] = {
    "temperature_along": {"time": Q([0.0, 1.0, 2.0], "s"), "volume": Q([3.0, 2.0, 2.5], "qt")},
    "useful_oil": {"lowest_pressure": Q(8.0, "psig")},
    "best_precharge": {"lowest_pressure": Q(8.0, "psig")},
    "kinematic_viscosity": {"viscosity_40": Q(90.0, "cSt")},
    "dynamic_viscosity": {"viscosity_40": Q(90.0, "cSt")},
    "side_flow": {"width": Q(1.0, "in")},
    "gas_time_constant": {"space": Q(1.0, "qt")},
    "crank_inward_loss": {"nearest_diameter": Q(0.5, "in")},
}
"""Values for functions whose arguments must fit together."""

NOT_BROADCAST = {"temperature_along"}
"""Functions that state shapes of their own; their own tests look at these."""


def good(name: str) -> dict[str, Any]:
    """Arguments that the function takes: each kind's own example, a little more for a second one of a kind."""
    seen: dict[str, int] = {}
    values = {}
    for argument, kind in PUBLIC[name].kinds.items():
        turn = seen.get(kind.noun, 0)
        seen[kind.noun] = turn + 1
        values[argument] = kind.quantity(typical(kind) * (1.0 + 0.1 * turn))
    return values | GOOD.get(name, {})


def in_si(value: Qty, kind: Kind) -> Any:
    return value.to(kind.si).m


def same(got: Qty, expected: Qty, kind: Kind) -> None:
    """Equal but for rounding; a difference of two large numbers may lose a few digits of it."""
    assert got.units == expected.units
    np.testing.assert_allclose(in_si(got, kind), in_si(expected, kind), rtol=1e-11, atol=1e-18)


def test_the_lessons_own_functions_are_found() -> None:
    """The list above finds what the package itself offers."""
    offered = {name for name in oilkit.__all__ if hasattr(getattr(oilkit, name), "kinds")}
    assert offered <= EVERY.keys()
    assert {"absolute_pressure", "volume_at_pressure", "oil_stored"} <= PUBLIC.keys()
    assert {"fill", "discharge", "fit_bench"} <= offered - PUBLIC.keys()


@pytest.mark.parametrize("name", PUBLIC)
def test_good_input_is_taken(name: str) -> None:
    result = PUBLIC[name](**good(name))
    assert np.all(np.isfinite(result.m))
    assert result.is_compatible_with(PUBLIC[name].returns.si)
    assert str(result.units) == str(Q(1, PUBLIC[name].returns.us).units)


# ---------------------------------------------------------------------------------------------------- wrong input

WRONG_DIMENSIONS = {
    "a mass": Q(1.0, "kg"),
    "a length": Q(1.0, "m"),
    "a volume": Q(3.0, "qt"),
    "a time": Q(5.0, "s"),
    "a temperature": Q(20.0, "degC"),
    "a flow": Q(4.0, "gpm"),
    "a gauge pressure": Q(10.0, "psig"),
    "an absolute pressure": Q(24.7, "psia"),
    "bare psi": Q(14.7, "psi"),
    "a pure number": Q(1.0, "dimensionless"),
    "an energy": Q(1.0, "psi * qt"),
}


def wrong_values(kind: Kind) -> Iterator[tuple[str, Any, str]]:
    """What a learner or a program may hand over instead: a name, the value, and a word its sentence must hold."""
    ok = kind.quantity(typical(kind))
    yield "none", None, "None"
    yield "true", True, "True"
    yield "an object", object(), "object"
    yield "a dict", {}, "dict"
    yield "complex", 1j, "complex"
    if kind.si == "dimensionless":
        yield "text", "1.4", "1.4"
        yield "list of text", ["1.4", "a"], "list"
        yield "bare nan", math.nan, "NaN"
    else:
        yield "bare int", 10, "bare number 10"
        yield "bare float", 10.5, "bare number 10.5"
        yield "bare numpy number", np.float64(10.5), "bare number 10.5"
        yield "bare array", np.array([1.0, 2.0]), "2 bare numbers"
        yield "bare list", [1.0, 2.0], "list"
        yield "text", f"10 {kind.us}", "text"
        yield "empty text", "", "text"
    for name, value in WRONG_DIMENSIONS.items():
        if not any(value.is_compatible_with(unit) for unit in (kind.si, *kind.also)):
            yield f"{name} instead", value, f"{value.m:g}"
    yield "an array of masses instead", Q(np.array([1.0, 2.0]), "kg"), "2 values"
    yield "nan", Q(math.nan, kind.us), "NaN"
    yield "minus infinite", Q(-math.inf, kind.si), "inf"
    yield "one nan", Q(np.array([ok.m, math.nan, ok.m]), kind.us), "value 2 of 3"
    yield "one minus infinite", Q(np.array([ok.m, ok.m, -math.inf]), kind.us), "value 3 of 3"
    if not kind.infinite:
        yield "infinite", Q(math.inf, kind.si), "infinite"
        yield "one infinite", Q(np.array([[ok.m, ok.m], [math.inf, ok.m]]), kind.us), "value 3 of 4"
    si_ok = typical(kind)
    if math.isfinite(kind.low):
        low = kind.low if kind.above_low else kind.low - 1e-3 * max(abs(kind.low), 1.0)
        yield "too low", Q(low, kind.si), kind.exact_text(low)
        yield "one too low", Q(np.array([si_ok, low, si_ok]), kind.si), "value 2 of 3"
    if math.isfinite(kind.high):
        high = kind.high * 1.001
        yield "too high", Q(high, kind.si), kind.exact_text(high)
        yield "one too high", Q(np.array([high, si_ok]), kind.si), "value 1 of 2"


@pytest.mark.parametrize(("name", "argument"), ARGUMENTS)
def test_wrong_input_is_refused_in_one_sentence(name: str, argument: str) -> None:
    """One test for all that an argument may be given: a test for each would be six thousand."""
    for label, value, word in wrong_values(PUBLIC[name].kinds[argument]):
        with case(label):
            sentence = refused(argument, lambda bad=value: PUBLIC[name](**(good(name) | {argument: bad})))
            assert word in sentence


MARKED = [(name, argument) for name, argument in ARGUMENTS if PUBLIC[name].kinds[argument].si in ("Pag", "Paa")]


@pytest.mark.parametrize(("name", "argument"), MARKED)
def test_gauge_and_absolute_are_never_taken_for_each_other(name: str, argument: str) -> None:
    kind = PUBLIC[name].kinds[argument]
    other, noun = (Q(24.7, "psia"), "an absolute") if kind.si == "Pag" else (Q(10, "psig"), "a gauge")
    sentence = refused(argument, lambda: PUBLIC[name](**(good(name) | {argument: other})))
    assert f"{noun} pressure; wanted" in sentence
    if not kind.also:
        sentence = refused(argument, lambda: PUBLIC[name](**(good(name) | {argument: Q(24.7, "psi")})))
        assert "does not say gauge or absolute" in sentence


@pytest.mark.parametrize("name", PUBLIC)
def test_a_refusal_does_not_depend_on_how_the_argument_is_passed(name: str) -> None:
    values = good(name)
    first = next(iter(values))
    refused(first, lambda: PUBLIC[name](None, **{key: value for key, value in values.items() if key != first}))


LIMITED = [name for name, kind in vars(kinds).items() if isinstance(kind, Kind) and math.isfinite(kind.high)]


@pytest.mark.parametrize("name", LIMITED)
@pytest.mark.parametrize("system", ["US", "SI"])
@pytest.mark.parametrize("excess", [1e-4, 1e-6])
def test_a_refused_value_does_not_read_like_the_limit_it_broke(name: str, system: str, excess: float) -> None:
    kind = getattr(kinds, name)
    use_units(system)
    sentence = refused("x", lambda: to_si("x", Q(kind.high * (1.0 + excess), kind.si), kind))
    got = sentence.split("got ")[1].split(";")[0].split(" ")[0]
    limit = sentence.split("up to ")[1].rstrip(".").split(" ")[0]
    assert float(got) > float(limit), sentence


def test_the_range_is_told_in_the_learners_units() -> None:
    use_units("SI")
    sentence = refused("bore", lambda: oilkit.piston_travel(Q(1, "qt"), Q(-1, "in")))
    assert sentence == "bore: got -25.4 mm; wanted a length above 0.0 mm."
    use_units("US")
    sentence = refused("bore", lambda: oilkit.piston_travel(Q(1, "qt"), Q(-1, "in")))
    assert sentence == "bore: got -1.00 in; wanted a length above 0.00 in."


# ------------------------------------------------------------------------------------ the check alone, odd magnitudes


@pytest.mark.parametrize(
    "value",
    [
        pytest.param(Q(np.array([]), "m"), id="empty, wrong dimension"),
        pytest.param(Q(1j, "m"), id="complex, wrong dimension"),
        pytest.param(Q(1j, "qt"), id="complex"),
        pytest.param(Q("3", "qt"), id="text with a unit"),
        pytest.param(Q("3", "m"), id="text with a unit, wrong dimension"),
        pytest.param(Q(np.array(["3"]), "qt"), id="array of text with a unit"),
        pytest.param(Q(np.array([1, "a"], dtype=object), "qt"), id="array of objects"),
        pytest.param(Q(np.array([1, "a"], dtype=object), "m"), id="array of objects, wrong dimension"),
        pytest.param(Q(np.ma.array([1.0, 2.0], mask=[False, True]), "qt"), id="masked array"),
        pytest.param(oilkit.ureg.qt, id="a unit without a number"),
    ],
)
def test_odd_magnitudes_are_refused(value: Any) -> None:
    refused("x", lambda: to_si("x", value, kinds.VOLUME))


@pytest.mark.parametrize("value", [Q(250.0, "delta_degC"), Q(500.0, "delta_degF")])
def test_a_temperature_difference_is_no_temperature(value: Qty) -> None:
    """90 °C less 20 °C is 70 degrees of difference, and never 70 K above absolute zero."""
    refused("x", lambda: to_si("x", value, kinds.TEMPERATURE))


@pytest.mark.parametrize(
    "value",
    [np.True_, b"1.4", np.array("1.4"), np.array(["1.4"]), ["1.4"], np.array([True, True]), [True, 1.2]],
    ids=[
        "numpy bool",
        "bytes",
        "text in an array",
        "array of text",
        "list of text",
        "array of bools",
        "list with bool",
    ],
)
def test_a_plain_number_is_no_text_and_no_bool(value: Any) -> None:
    refused("x", lambda: to_si("x", value, kinds.INDEX))


def test_a_plain_number_may_come_without_a_unit_in_any_harmless_form() -> None:
    for value in (1, 1.0, np.float32(1.0), np.int64(1), Q(1, "dimensionless"), Q(100, "percent")):
        assert to_si("x", value, kinds.INDEX) == 1.0
    np.testing.assert_array_equal(to_si("x", [1, 1.4], kinds.INDEX), [1.0, 1.4])


def test_scalars_give_floats_and_arrays_keep_their_shape() -> None:
    assert type(to_si("x", Q(3, "qt"), kinds.VOLUME)) is float
    shaped = to_si("x", Q(np.ones((2, 3, 1), dtype=int), "qt"), kinds.VOLUME)
    assert shaped.shape == (2, 3, 1)
    assert shaped.dtype == float


def test_temperatures_come_in_any_unit() -> None:
    for value in (Q(68, "degF"), Q(20, "degC"), Q(293.15, "K"), Q(527.67, "degR")):
        assert to_si("x", value, kinds.TEMPERATURE) == pytest.approx(293.15, rel=1e-12)


def test_a_barometer_needs_no_mark_but_a_gauge_reading_is_no_ambient() -> None:
    for value in (Q(1013.25, "hPa"), Q(101_325, "Paa"), Q(1, "atm"), Q(1.01325, "bara")):
        assert to_si("x", value, kinds.AMBIENT) == pytest.approx(101_325.0, rel=1e-12)
    refused("x", lambda: to_si("x", Q(0, "psig"), kinds.AMBIENT))


# ---------------------------------------------------------------------------------------- one result, whichever way

OTHER_UNITS = {
    "Pag": ("psig", "barg", "kPag", "Pag"),
    "Paa": ("psia", "bara", "kPaa", "Paa", "inHg * absolute_mark"),
    "Pa": ("psi", "bar", "kPa", "Pa", "inHg"),
    "m**3": ("qt", "L", "gal", "in**3", "cc"),
    "m": ("in", "ft", "mm", "m"),
    "K": ("degF", "degC", "K", "degR"),
    "m**3/s": ("gpm", "Lpm", "m**3/s", "ft**3/min"),
    "s": ("s", "ms", "min"),
    "dimensionless": ("dimensionless", "percent"),
}


@pytest.mark.parametrize(("name", "argument"), ARGUMENTS)
def test_the_result_does_not_depend_on_the_unit_of_an_argument(name: str, argument: str) -> None:
    kind = PUBLIC[name].kinds[argument]
    expected = PUBLIC[name](**good(name))
    units = {kind.us, kind.metric, *OTHER_UNITS.get(kind.si, ()), *kind.also}
    for unit in sorted(units):
        si_value = good(name)[argument].to(kind.si)
        value = si_value.to(unit) if si_value.is_compatible_with(unit) else Q(si_value.m, kind.also[0]).to(unit)
        same(PUBLIC[name](**(good(name) | {argument: value})), expected, PUBLIC[name].returns)


@pytest.mark.parametrize("name", PUBLIC)
def test_the_result_does_not_depend_on_the_unit_switch(name: str) -> None:
    in_us = PUBLIC[name](**good(name))
    use_units("SI")
    in_metric = PUBLIC[name](**good(name))
    assert in_metric.units == in_us.units
    np.testing.assert_array_equal(in_metric.m, in_us.m)


@pytest.mark.parametrize("name", PUBLIC)
def test_plain_si_numbers_give_what_quantities_give(name: str) -> None:
    function = PUBLIC[name]
    rng = np.random.default_rng(1662)
    for _ in range(5):
        numbers = {
            argument: in_si(value, function.kinds[argument]) * rng.uniform(1.0, 1.005)
            for argument, value in good(name).items()
        }
        of_quantities = function(**{a: Q(n, function.kinds[a].si) for a, n in numbers.items()})
        np.testing.assert_allclose(
            function.si(**numbers), in_si(of_quantities, function.returns), rtol=1e-12, atol=1e-18
        )
        np.testing.assert_allclose(function.si(*numbers.values()), function.si(**numbers), rtol=0.0)


def defaults_of(name: str) -> dict[str, Any]:
    """The arguments with a kind that may be left out, and what they are then."""
    parameters = inspect.signature(PUBLIC[name]).parameters
    return {
        argument: parameters[argument].default
        for argument in PUBLIC[name].kinds
        if parameters[argument].default is not inspect.Parameter.empty
    }


@pytest.mark.parametrize("name", [name for name in PUBLIC if defaults_of(name)])
def test_defaults_are_the_same_left_out_and_given(name: str) -> None:
    """Left out, by keyword and by position; on quantities and on plain SI numbers."""
    function, defaults = PUBLIC[name], defaults_of(name)
    values = {argument: value for argument, value in good(name).items() if argument not in defaults}
    expected = function(**values)
    same(function(**values, **defaults), expected, function.returns)
    same(function(*values.values(), *defaults.values()), expected, function.returns)
    for argument, default in defaults.items():
        same(function(**values, **{argument: default}), expected, function.returns)
    numbers = {argument: in_si(value, function.kinds[argument]) for argument, value in values.items()}
    given = {argument: to_si(argument, default, function.kinds[argument]) for argument, default in defaults.items()}
    np.testing.assert_array_equal(function.si(**numbers), function.si(**numbers, **given))
    np.testing.assert_array_equal(function.si(*numbers.values()), function.si(*numbers.values(), *given.values()))


BROADCAST = [(name, argument) for name, argument in ARGUMENTS if name not in NOT_BROADCAST]


@pytest.mark.parametrize(("name", "argument"), BROADCAST)
def test_an_array_gives_what_its_values_give_one_by_one(name: str, argument: str) -> None:
    function = PUBLIC[name]
    values = good(name)
    spread = in_si(values[argument], function.kinds[argument]) * np.array([[1.0, 1.01], [1.02, 1.03]])
    array = Q(spread.copy(), function.kinds[argument].si)
    together = function(**(values | {argument: array}))
    assert np.shape(together.m) == (2, 2)
    np.testing.assert_array_equal(array.m, spread, err_msg="the learner's own array was changed")
    for place in itertools.product(range(2), range(2)):
        alone = function(**(values | {argument: Q(spread[place], function.kinds[argument].si)}))
        assert np.ndim(alone.m) == 0
        np.testing.assert_allclose(together.m[place], alone.m, rtol=1e-13)


@pytest.mark.parametrize("name", [n for n, f in PUBLIC.items() if n not in NOT_BROADCAST and len(f.kinds) > 1])
def test_a_column_and_a_row_give_a_grid(name: str) -> None:
    function = PUBLIC[name]
    values = good(name)
    first, *_, last = values
    column = Q(
        in_si(values[first], function.kinds[first]) * np.array([[1.0], [1.01], [1.02]]), function.kinds[first].si
    )
    row = Q(in_si(values[last], function.kinds[last]) * np.array([1.0, 1.005]), function.kinds[last].si)
    grid = function(**(values | {first: column, last: row}))
    assert np.shape(grid.m) == (3, 2)
    alone = function(**(values | {first: column[2, 0], last: row[1]}))
    np.testing.assert_allclose(grid.m[2, 1], alone.m, rtol=1e-13)


# ---------------------------------------------------------------------------------------------------- what they say

TOLD = [
    *PUBLIC.items(),
    ("fill", oilkit.fill),
    ("power_law_fit", oilkit.power_law_fit),
]


@pytest.mark.parametrize(("name", "function"), TOLD, ids=[name for name, _ in TOLD])
def test_every_public_function_names_its_source(name: str, function: Any) -> None:
    text = inspect.getdoc(function) or ""
    source = text.partition("Source:")[2].strip()
    assert len(source.split("\n")[0]) >= 10, f"{name} names no source"


@pytest.mark.parametrize("name", PUBLIC)
def test_every_public_function_shows_an_example(name: str) -> None:
    text = inspect.getdoc(PUBLIC[name]) or ""
    assert ">>> " in text
    assert f"{name}(" in text


@pytest.mark.parametrize("name", PUBLIC)
def test_every_public_function_of_more_than_one_argument_states_its_shapes(name: str) -> None:
    text = inspect.getdoc(PUBLIC[name]) or ""
    assert "Returns shape" in text or "hapes broadcast" in text or len(PUBLIC[name].kinds) == 1


# ------------------------------------------------------------------------------- every exported function against None

BUILT = oilkit.usual_installation()
ENGINE, OIL, VESSEL = BUILT.engine, BUILT.oil, BUILT.vessel
VALVE, LINE = oilkit.fittings()["wide_valve"], BUILT.line
HOT, COLD, WARM = Q(100, "degC"), Q(5, "degC"), Q(40, "degC")
KNEE = oilkit.Knee(Q(2000, "rpm"), Q(30, "rpm"), Q(58, "psig"))
THIN = (Q(850, "kg/m**3"), Q(20, "cP"))
TO_DISCHARGE = {"precharge": Q(10, "psig"), "event": Q([1.0, 2.0], "s")}


@functools.cache
def short_log() -> oilkit.Log:
    """The first two seconds of the kit's own lap."""
    lap = oilkit.kit_lap()
    return replace(lap, **{f.name: getattr(lap, f.name)[:40] for f in fields(lap) if f.name not in ("name", "source")})


@functools.cache
def fit() -> oilkit.BenchFit:
    return oilkit.fit_bench(VESSEL, oilkit.demo_bench().first(9), {"bore": Q(4.5, "in")})


@functools.cache
def lap(**more: Any) -> oilkit.Lap:
    return oilkit.simulate_lap(BUILT, short_log(), **more)


@functools.cache
def sheet() -> oilkit.BuildSheet:
    return oilkit.build_sheet(oilkit.demo_set_ups()["street V8"], draws=1, whole=False)


WHOLE: dict[str, Callable[[], tuple[Any, ...]]] = {
    "acceptance_card": lambda: (oilkit.shop.faults.demo_set_up(),),
    "build_sheet": lambda: (sheet().build, 1, 1, False),
    "burst_hose": lambda: (BUILT, VALVE, Q(10, "psig"), Q(60, "psig"), Q(3000, "rpm"), HOT, WARM),
    "calibrate": lambda: (sheet().build,),
    "coil_supply": lambda: (Q(12, "V"), Q(12, "V"), Q(3, "A"), Q(10, "m"), Q(0.5, "mm**2")),
    "compare_laps": lambda: (short_log(), lap(valve_open=False), lap()),
    "confusions": lambda: (oilkit.shop.faults.bench(), 1),
    "corners": lambda: (short_log(),),
    "demand_at_relief": lambda: (KNEE, ENGINE.pump),
    "demand_from_fall": lambda: (
        Q(3, "qt"), Q(10, "psig"), Q(60, "psig"), Q(40, "psig"), Q(6, "s"), Q(55, "psig"), Q(32, "psig"),
    ),
    "demo_set_up": tuple,
    "discharge": lambda: (BUILT, Q(1, "s")),
    "engine_demand": lambda: (ENGINE, OIL, Q(50, "psig"), Q(3000, "rpm"), HOT),
    "engines": tuple,
    "expected_pressure": lambda: (BUILT, short_log()),
    "fill": lambda: (VESSEL, Q(10, "psig"), Q(60, "psig"), Q(4, "gpm"), WARM, Q(5, "s")),
    "first_dip": lambda: (BUILT,),
    "fit_bench": lambda: (VESSEL, oilkit.demo_bench().first(9)),
    "fittings": tuple,
    "grades": tuple,
    "highest_for_prelube": lambda: (Q(3, "qt"), Q(60, "psig"), Q(1, "qt")),
    "hoses": tuple,
    "input_differences": lambda: (sheet().build, sheet().build),
    "level_in_words": lambda: (Q(2, "in"), ENGINE.pan),
    "log_remarks": lambda: (short_log(),),
    "lowest_gallery": lambda: (oilkit.shop.faults.demo_set_up(),),
    "lubricants": tuple,
    "next_reading": lambda: (fit(),),
    "oil_budget": lambda: (Q(5, "qt"), Q(2, "qt"), *[Q(0.5, "qt")] * 7),
    "oil_taken": lambda: (oilkit.shop.faults.demo_set_up(),),
    "operating_point": lambda: (ENGINE, OIL, Q(3000, "rpm"), HOT),
    "overnight": lambda: (VESSEL, OIL, Q(10, "psig"), Q(60, "psig"), WARM, HOT, COLD),
    "pan_first": lambda: (BUILT, short_log()),
    "plain": lambda: (Q(10, "psig"),),
    "play": lambda: ("charge",),
    "power_law_fit": lambda: (Q([2, 1, 0.5], "qt"), Q([10, 20, 40], "psia")),
    "pre_lube": lambda: (BUILT, VALVE, Q(7, "psig"), Q(43, "psig"), COLD),
    "precharge_map": lambda: (BUILT, Q([10, 20], "psig"), Q([1, 2], "s")),
    "pressure_knee": lambda: (
        Q([1000, 1250, 1500, 1750, 2000, 2250, 2500, 2750, 3000], "rpm"),
        Q([25, 31, 37, 43, 49, 51.5, 52, 52.5, 53], "psig"),
    ),
    "read_bench": lambda: (oilkit.quantities.records.data_file("bench_readings.csv"),),
    "read_log": lambda: (oilkit.quantities.records.data_file("lap.csv"), oilkit.KIT_LAP),
    "read_set_up": lambda: (oilkit.quantities.records.data_file("setup_street_v8.toml"),),
    "report": lambda: ("title",),
    "result_differences": lambda: (sheet(), sheet()),
    "robust_choice": lambda: (BUILT, Q([10, 20], "psig"), Q(1, "s"), 0.2, None, None, 2),
    "set_up_from_text": lambda: (sheet().build.text(),),
    "sheet_html": lambda: (sheet(),),
    "sheet_pdf": lambda: (sheet(),),
    "simulate_lap": lambda: (BUILT, short_log()),
    "stall": lambda: (BUILT, VALVE, Q(10, "psig"), Q(60, "psig"), HOT, WARM),
    "starved_stretches": lambda: (short_log(), oilkit.expected_pressure(BUILT, short_log())),
    "supply_drop": lambda: (LINE, Q(5, "gpm"), *THIN),
    "supply_flow": lambda: (LINE, Q(5, "psi"), *THIN),
    "surface_tilt": lambda: (short_log(),),
    "table": lambda: (("column", Q([1, 2], "s")),),
    "tee_flow": lambda: (LINE, Q(40, "psig"), Q(30, "psig"), *THIN, Q(0.2, "gpm"), Q(25, "psi")),
    "use_units": lambda: ("US",),
    "usual_candidates": lambda: (fit(),),
    "usual_installation": tuple,
    "vessels": tuple,
    "what_readings_taught": lambda: (oilkit.calibrate(sheet().build), sheet().build.events[0]),
    "what_to_buy": lambda: (sheet().build,),
    "write_bench": lambda: ("no such folder/never_written.csv", oilkit.demo_bench()),
    "write_set_up": lambda: (sheet().build, "no such folder/never_written.toml"),
    "write_sheet": lambda: (sheet(), "no such folder/never_written.html"),
}  # fmt: skip
"""Arguments with which each exported function works that takes more than quantities."""

EXPORTED = [
    name
    for name in oilkit.__all__
    if inspect.isfunction(getattr(oilkit, name)) and inspect.signature(getattr(oilkit, name)).parameters
]
TAKES_CONDITIONS = [name for name in WHOLE if "conditions" in inspect.signature(getattr(oilkit, name)).parameters]


def arguments_of(name: str) -> dict[str, Any]:
    function = getattr(oilkit, name)
    if name in PUBLIC:
        return good(name)
    return dict(inspect.signature(function).bind(*WHOLE[name]()).arguments)


def may_be_none(name: str) -> set[str]:
    """Arguments whose usual value is None: it says "the usual one" in each docstring that has it."""
    return {key for key, one in inspect.signature(getattr(oilkit, name)).parameters.items() if one.default is None}


def call_with(name: str, argument: str, value: Any) -> Any:
    """Call a function as it works, but for one argument."""
    function = getattr(oilkit, name)
    signature = inspect.signature(function)
    parameter = signature.parameters.get(argument)
    values = arguments_of(name)
    if parameter is not None and parameter.kind is parameter.VAR_POSITIONAL:
        return function(*values[argument], value)
    if parameter is None:
        return function(**values, **{argument: value})
    bound = inspect.BoundArguments(signature, {})  # type: ignore[arg-type]
    bound.arguments.update({key: (values | {argument: value})[key] for key in signature.parameters
                            if key in values | {argument: value}})  # fmt: skip
    return function(*bound.args, **bound.kwargs)


NO_NONE = [
    pytest.param(name, argument, id=f"{name}-{argument}")
    for name in EXPORTED
    for argument, one in inspect.signature(getattr(oilkit, name)).parameters.items()
    if argument not in may_be_none(name) and one.kind is not one.VAR_KEYWORD
]


@pytest.mark.parametrize(("name", "argument"), NO_NONE)
def test_none_is_refused_where_it_says_nothing(name: str, argument: str) -> None:
    """None in a place that does not ask for it must never be taken for "no limit", "for ever" or "no heat lost"."""
    shown_as = "units" if name == "use_units" else argument
    refused(shown_as, lambda: call_with(name, argument, None))


def shape_of(name: str, argument: str) -> Shape:
    hint = without_none(get_type_hints(getattr(oilkit, name), include_extras=True)[argument])
    return next((extra for extra in hint.__metadata__ if isinstance(extra, Shape)), Shape.BROADCAST)


NUMBERS_OF_WHOLE = [(name, argument) for name in WHOLE for argument in getattr(getattr(oilkit, name), "kinds", ())]


@pytest.mark.parametrize(("name", "argument"), NUMBERS_OF_WHOLE)
def test_wrong_numbers_beside_records_are_refused_in_one_sentence(name: str, argument: str) -> None:
    kind = getattr(oilkit, name).kinds[argument]
    is_whole = get_type_hints(getattr(oilkit, name))[argument] is int
    for label, value, word in wrong_values(kind):
        if not (value is None and argument in may_be_none(name)):
            with case(label):
                sentence = refused(argument, lambda bad=value: call_with(name, argument, bad))
                assert is_whole or word in sentence
    if shape_of(name, argument) is Shape.ONE:
        several = kind.quantity(typical(kind) * np.ones(2))
        assert "wanted one value" in refused(argument, lambda: call_with(name, argument, several))


@pytest.mark.parametrize(
    "name", ["engine_demand", "operating_point", "supply_drop", "overnight", "coil_supply", "fill"]
)
def test_si_numbers_beside_records_give_what_quantities_give(name: str) -> None:
    function, values = getattr(oilkit, name), arguments_of(name)
    numbers = {key: to_si(key, value, function.kinds[key]) for key, value in values.items() if key in function.kinds}
    result = function.si(**values | numbers)
    result = function.returns.quantity(result) if function.returns else result
    assert plain_values(result) == plain_values(function(**values))


EITHER_KIND = {("power_law_fit", "volume")}
"""A volume, or a plain number in proportion to it: no one kind."""


@pytest.mark.parametrize("name", [name for name in WHOLE if hasattr(getattr(oilkit, name), "kinds")])
def test_no_quantity_comes_in_without_its_kind(name: str) -> None:
    """A hint that says no more than "quantity" would leave the check to the function, and the register in the dark."""
    for argument, hint in get_type_hints(getattr(oilkit, name)).items():
        parts = {get_origin(part) or part for part in (hint, *get_args(hint))}
        assert PlainQuantity not in parts or argument == "return" or (name, argument) in EITHER_KIND, argument


@pytest.mark.parametrize("name", ["engine_demand", "operating_point", "supply_drop", "overnight", "coil_supply"])
def test_shapes_that_do_not_fit_are_named(name: str) -> None:
    function, values = getattr(oilkit, name), arguments_of(name)
    first, second = [key for key in values if key in function.kinds][:2]
    pair, three = (Q(np.full(n, values[key].m), values[key].units) for n, key in ((2, first), (3, second)))
    sentence = refused(first, lambda: function(**values | {first: pair, second: three}))
    assert sentence == f"{first}: got {first} of shape (2,), {second} of shape (3,); wanted arrays that fit together."


def test_conditions_must_fit_too() -> None:
    sentence = refused(
        "precharge", lambda: oilkit.discharge(BUILT, precharge=Q([7, 9], "psig"), speed=Q([1] * 3, "rpm"))
    )
    assert "speed of shape (3,); wanted arrays that fit together" in sentence


READ = Q([1.0, 2.0], "Pag")


def test_a_function_gets_what_its_annotations_say() -> None:
    """SI numbers, records as they are, None where it may come; and what is no kind goes out as it came."""

    @public
    def taking(
        vessel: oilkit.Vessel,
        volume: Volume,
        one: One[Gauge] | None = None,
        own: Own[Gauge] = READ,
        seed: Seed = 3,
    ) -> tuple[Any, ...]:
        return vessel, volume, one, own, seed

    assert taking.kinds == {"volume": kinds.VOLUME, "one": kinds.GAUGE, "own": kinds.GAUGE, "seed": kinds.SEED}
    assert taking.returns is None
    vessel, volume, one, own, seed = taking(VESSEL, Q([1.0, 2.0, 3.0], "m**3"))
    assert vessel is VESSEL
    assert volume.tolist() == [1.0, 2.0, 3.0]
    assert one is None
    assert own.tolist() == [1.0, 2.0]
    assert type(seed) is int
    assert taking(VESSEL, Q(1, "L"), Q(1, "barg"))[1:3] == (pytest.approx(1e-3), pytest.approx(1e5))
    assert taking.si(VESSEL, 0.5)[3].tolist() == [1.0, 2.0]
    refused("one", lambda: taking(VESSEL, Q(1, "L"), Q([1, 2], "barg")))
    refused("seed", lambda: taking(VESSEL, Q(1, "L"), seed=-1))
    refused("seed", lambda: taking(VESSEL, Q(1, "L"), seed=1.5))  # type: ignore[arg-type]
    refused("vessel", lambda: taking("bench", Q(1, "L")))  # type: ignore[arg-type]


NONE_TAKEN_FROM_THE_LOG = {"simulate_lap": {"speed", "pressure", "pump_decay"}}


@pytest.mark.parametrize("name", TAKES_CONDITIONS)
@pytest.mark.parametrize("condition", [key for key, (_, usual) in CONDITIONS.items() if usual is not None])
def test_no_condition_is_none(name: str, condition: str) -> None:
    given_by_argument = condition in inspect.signature(getattr(oilkit, name)).parameters
    argument = None if condition in NONE_TAKEN_FROM_THE_LOG.get(name, ()) else condition
    if not given_by_argument:
        refused(argument, lambda: call_with(name, condition, None))


def plain_values(thing: Any) -> Any:
    """Everything in a result that can be compared with ==."""
    if isinstance(thing, PlainQuantity | np.ndarray):
        return np.asarray(thing.m if isinstance(thing, PlainQuantity) else thing).tolist()
    if is_dataclass(thing):
        return {f.name: plain_values(getattr(thing, f.name)) for f in fields(thing) if not f.name.startswith("_")}
    if isinstance(thing, list | tuple):
        return [plain_values(part) for part in thing]
    return {key: plain_values(part) for key, part in thing.items()} if isinstance(thing, dict) else repr(thing)


NONE_IS_USUAL = [
    pytest.param(name, argument, id=f"{name}-{argument}")
    for name in EXPORTED
    for argument in sorted(may_be_none(name) | ({"line_length"} if name in TAKES_CONDITIONS else set()))
]


@pytest.mark.parametrize(("name", "argument"), NONE_IS_USUAL)
def test_none_means_the_usual_value_where_it_is_taken(name: str, argument: str) -> None:
    values = arguments_of(name)
    values.pop(argument, None)
    assert plain_values(call_with(name, argument, None)) == plain_values(getattr(oilkit, name)(**values))


@pytest.mark.parametrize("whole", [oilkit.Installation, oilkit.SupplyLine, oilkit.SetUp], ids=lambda cls: cls.__name__)
def test_what_is_put_together_is_made_of_the_right_parts(whole: Any) -> None:
    parts = {"hose": LINE.hose, "length": LINE.length, "engine": ENGINE, "oil": OIL, "vessel": VESSEL, "line": LINE,
             "installation": BUILT, "valve": VALVE}  # fmt: skip
    good_parts = {f.name: parts[f.name] for f in fields(whole) if f.name in parts}
    whole(**good_parts)
    for f in fields(whole):
        if f.default is not None and f.name != "length":
            for wrong in (None, 7, "a text"):
                refused(f.name, lambda name=f.name, wrong=wrong: whole(**(good_parts | {name: wrong})))
    if whole is oilkit.SupplyLine:
        refused("fittings", lambda: whole(**(good_parts | {"fittings": (None,)})))
