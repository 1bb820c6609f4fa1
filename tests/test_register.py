"""The register against the code: every formula in it, each with a source, as its decorator says; and the constants."""

from __future__ import annotations

import importlib
import inspect
import math
import pkgutil
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from sentences import refused

import oilkit
from oilkit import Q
from oilkit.audit import constants, dimensions, left_out, register, sensitivity, uses, worked
from oilkit.audit.constants import changed, constant, what_moves
from oilkit.audit.dimensions import check_dimensions, worked_line
from oilkit.audit.inputs import INPUTS
from oilkit.audit.inventory import basis_of
from oilkit.audit.page import entry_text
from oilkit.audit.register import (
    MISSING,
    NOT_PHYSICS,
    SYMBOLS,
    entry,
    is_no_physics,
    source_of,
)
from oilkit.panels.lessons import lesson_12_audit as panels_12
from oilkit.quantities.checked import Distance, Length, Oil, public

REGISTER = register.register()
PUBLIC = [name for name, found in REGISTER.items() if found.sort == "public"]
PHRASES = ("first principles", "common practice, no source", "from memory")

# ------------------------------------------------------------------------------------------------------ what is in it


def every_function_of_the_package() -> dict[str, Any]:
    """All functions that the package exports or has made public, found without the register's help."""
    found = {name: getattr(oilkit, name) for name in oilkit.__all__ if inspect.isfunction(getattr(oilkit, name))}
    for info in pkgutil.iter_modules(oilkit.__path__, "oilkit."):
        if info.ispkg:
            continue
        for name, thing in vars(importlib.import_module(info.name)).items():
            if inspect.isfunction(thing) and thing.__module__ == info.name and hasattr(thing, "kinds"):
                found[name] = thing
    return found


TOOLS = ("oilkit.quantities.printed", "oilkit.quantities.units", "oilkit.physics.catalog")
"""Modules whose exported functions are no physics."""


@pytest.mark.parametrize("name", every_function_of_the_package())
def test_every_public_physics_function_is_in_the_register(name: str) -> None:
    function = every_function_of_the_package()[name]
    if function.__module__ in TOOLS or is_no_physics(name, function):
        assert name not in REGISTER
        return
    assert name in REGISTER
    assert REGISTER[name].function is function
    assert "oilkit." + REGISTER[name].module == function.__module__


@pytest.mark.parametrize("name", REGISTER)
def test_every_entry_has_a_source_or_says_that_it_has_none(name: str) -> None:
    found = REGISTER[name]
    assert found.source != MISSING
    assert found.basis != MISSING
    cited = any(letter.isupper() or letter.isdigit() or letter == "`" for letter in found.source)
    assert cited or any(phrase in found.source for phrase in (*PHRASES, "definition", "estimate", "functions of")), (
        found.source
    )
    assert len(found.source) > 9


def test_a_function_without_a_source_is_caught() -> None:
    """The test above can fail: the same entry made from a docstring without its source."""
    module = importlib.import_module("oilkit.physics.bearing")

    def bare(gap: Any) -> Any:
        """Flow through a gap: ``2 c``.

        gap: above 0. Shapes broadcast.
        """

    made = register._entry("bare", module, bare, (), ())
    assert made.source == MISSING
    assert made.basis == MISSING
    assert source_of("Something. Source: Boyle 1662\nfor n = 1.\n\n>>> 1\n1") == "Boyle 1662 for n = 1."
    assert source_of("Something without.") == ""


def test_what_is_left_out_is_there_and_is_little() -> None:
    assert set(NOT_PHYSICS) <= set(oilkit.__all__)
    assert len(NOT_PHYSICS) < 0.2 * len(REGISTER)


@pytest.mark.parametrize("name", PUBLIC)
def test_an_entry_says_what_the_decorator_says(name: str) -> None:
    found, function = REGISTER[name], REGISTER[name].function
    assert {a.name: a.kind for a in found.arguments if a.kind} == function.kinds
    assert [a.name for a in found.arguments] == list(inspect.signature(function).parameters)
    assert found.returns is function.returns
    text = " ".join(entry_text(found).split())
    for argument in found.arguments:
        if argument.kind:
            assert argument.units in text
            assert argument.kind.noun in text
    assert found.summary in text
    assert found.source in text
    assert all(formula in text for formula in found.formulas)


WHOLE = [name for name, found in REGISTER.items() if found.sort == "whole"]


@pytest.mark.parametrize("name", WHOLE)
def test_an_entry_of_a_function_of_records_says_what_the_decorator_says(name: str) -> None:
    found, function = REGISTER[name], REGISTER[name].function
    further = {key: kind for key, (kind, _) in function.named.kinds.items()} if function.named else {}
    assert {a.name: a.kind for a in found.arguments if a.kind} == function.kinds | further
    assert found.returns is function.returns


def test_kinds_of_known_functions() -> None:
    kinds = importlib.import_module("oilkit.quantities.kinds")
    given = {a.name: a.kind for a in entry("engine_demand").arguments}
    assert given["speed"] is kinds.SPEED
    assert given["gallery_pressure"] is kinds.ABOVE_AMBIENT
    assert {a.name: a.kind for a in entry("overnight").arguments}["gas_temperature"] is kinds.TEMPERATURE
    assert {a.name: a.kind for a in entry("discharge").arguments}["pump_decay"] is kinds.TIME
    assert {a.kind for a in entry("oil_budget").arguments} == {kinds.OIL}


def test_lessons_rise_and_symbols_are_used() -> None:
    lessons = [found.lesson for found in REGISTER.values()]
    assert lessons == sorted(lessons)
    used = {argument.name for found in REGISTER.values() for argument in found.arguments}
    assert set(SYMBOLS) - used <= {"kinematic_viscosity"}, "a symbol for an argument that no function has"


def test_formulas_are_found() -> None:
    assert entry("groove_flow").formulas == ("pi r c**3 dp (1 + 1.5 eps**2) / (3 mu l)",)
    assert entry("oil_stored").formulas == ("V0 (1 - (p0 / p) ** (1 / n))",)
    assert "dT/dt = (T_wall - T) / tau - (gamma - 1) T (dV/dt) / V" in entry("temperature_along").formulas


# -------------------------------------------------------------------------------------------------- where it is used


def test_uses_are_the_codes_own() -> None:
    assert "physics.precharge.useful_oil" in entry("volume_at_pressure").used_by
    assert any(place.startswith("panels.lessons.lesson_02") for place in entry("oil_stored").used_by)
    assert "08" in entry("pre_lube").lessons
    assert "physics.engine.consumers" not in entry("gauge_error").used_by


def test_uses_follow_imports_and_not_words() -> None:
    homes = {"fill": "oilkit.physics.vessel", "oil_stored": "oilkit.physics.vessel"}
    text = (
        "from oilkit.physics.vessel import fill as pour\nfrom oilkit.physics import vessel\nimport oilkit\n"
        "def one():\n    'fill and oil_stored'\n    return pour()\n"
        "def two(fill):\n    return fill, fill.oil_stored\n"
        "def three():\n    return vessel.oil_stored.si(1), oilkit.fill\n"
    )
    found = sorted(set(uses._called(text, "oilkit.elsewhere", homes)))
    assert found == [("fill", "one"), ("fill", "three"), ("oil_stored", "three")]


def test_nearly_every_formula_is_used_somewhere() -> None:
    idle = [name for name, found in REGISTER.items() if not found.used_by and not found.lessons]
    assert len(idle) < 0.1 * len(REGISTER), idle


# ------------------------------------------------------------------------------------------------------- dimensions


@pytest.mark.parametrize("name", PUBLIC)
def test_dimensions(name: str) -> None:
    found = check_dimensions(name)
    assert found.wrong == ()
    assert found.units >= 2 * len(REGISTER[name].function.kinds) - 2
    assert found.refused >= 2 * len(REGISTER[name].function.kinds)


def test_formulas_of_first_principles_hold_no_dimension_and_others_say_which() -> None:
    assert check_dimensions("oil_stored").holds == ()
    assert check_dimensions("groove_flow").holds == ()
    assert check_dimensions("ambient_pressure").holds == ("length", "mass", "time")
    assert check_dimensions("density").holds == ("temperature",)
    assert set(check_dimensions("kinematic_viscosity").holds) == {"length", "time", "temperature"}


def _a_square_forgotten(oil: Oil, bore: Length) -> Distance:
    return oil / bore


def test_the_dimension_check_bites() -> None:
    """The check of what comes does not see a wrong formula. A world with other metres does."""
    made = public(_a_square_forgotten)
    given = {"oil": Q(1.5, "qt"), "bore": Q(4.5, "in")}
    assert tuple(dimensions._holds(made, given)) == ("length",)


# ------------------------------------------------------------------------------------------------------ worked lines


@pytest.mark.parametrize("name", PUBLIC)
def test_worked_line_calls_the_function(name: str) -> None:
    given = worked_line(name)
    assert set(given) == set(inspect.signature(REGISTER[name].function).parameters)
    result = REGISTER[name].function(**given)
    assert np.all(np.isfinite(result.m))


def test_the_chain_is_what_the_functions_give() -> None:
    steps = {step.title: step for step in worked.work().steps}
    assert len(steps) == len(worked.work().steps), "titles are the steps' names"
    stored = steps["oil stored, settled"]
    assert stored.value == oilkit.oil_stored(**stored.given)
    charge, full = (stored.given[key].m_as("psig") for key in ("precharge", "pressure"))
    ambient = stored.given["ambient"].m_as("psia")
    assert stored.value.m_as("qt") == pytest.approx(3.0 * (1.0 - (charge + ambient) / (full + ambient)), rel=1e-12)
    assert steps["and back to the shop"].value.m_as("psig") == pytest.approx(9.0, rel=1e-12)
    for step in steps.values():
        assert math.isfinite(step.si), step.title
        assert step.part in worked.PARTS


def test_the_chain_works_most_public_functions() -> None:
    called = {step.function.split(":")[0] for step in worked.work().steps}
    assert called <= set(REGISTER)
    assert len(called & set(PUBLIC)) > 0.8 * len(PUBLIC), set(PUBLIC) - called


def test_an_unknown_or_wrong_input_is_refused() -> None:
    refused("input", lambda: worked.work(tau=Q(5, "s")))
    refused("speed", lambda: worked.work(speed=Q(50, "psig")))


def test_sensitivities_are_sorted_and_complete() -> None:
    rows = sensitivity.sensitivities()
    assert {row.name for row in rows} == set(INPUTS)
    widths = [row.widest() for row in rows]
    assert widths == sorted(widths, reverse=True) or np.allclose(widths, sorted(widths, reverse=True), atol=1e-6)
    clearance = next(row for row in rows if row.name == "clearance_change")
    low, usual, high = (value.m for value in clearance.results[worked.MAIN[0]])
    assert low > usual > high, "a looser engine empties the vessel sooner"
    by_hand = sensitivity.main_results(clearance_change=INPUTS["clearance_change"].high)
    assert by_hand[worked.MAIN[0]].m == high


def test_convergence_converges() -> None:
    found = sensitivity.convergence()
    error = found.error.m_as("s")
    assert np.all(np.diff(found.steps) > 0)
    assert error[-1] == 0.0
    assert error[4] < 1e-4
    assert error[5] < 1e-3 * max(error[0], 1e-3)


def test_what_is_left_out_is_estimated() -> None:
    rows = left_out.left_out()
    assert len(rows) >= 7
    for row in rows:
        assert math.isfinite(row.change)
        assert 0.0 < abs(row.change) < 0.6, row
    (friction,) = (row for row in rows if "friction" in row.what)
    assert -0.03 < friction.change < -0.01, "less oil at the start"


# -------------------------------------------------------------------------------------------------------- constants


def test_constants_are_found_where_they_stand() -> None:
    found = constants.constants()
    assert found["ADIABATIC"].value == importlib.import_module("oilkit.physics.gas").ADIABATIC
    assert found["STANDARD_ATMOSPHERE"].value == oilkit.STANDARD_ATMOSPHERE
    assert found["GROOVE_DRAG[half groove]"].value == 1.0
    assert found["side_flow: 0.223"].value == 0.223
    assert found["OIL_STIFFNESS"].basis == "from memory"
    assert found["FEED_COEFFICIENT"].basis == "from memory"
    for one in found.values():
        lines = Path(importlib.import_module(one.module).__file__ or "").read_text(encoding="utf-8").splitlines()
        line, column = one.place
        text = lines[line - 1][column:]
        assert text[0].isdigit() or text[0] in "-.", one
        assert one.meaning or one.named, one


@pytest.mark.parametrize("name", panels_12.OFFERED)
def test_constants_on_offer_exist(name: str) -> None:
    assert constant(name).number != 0.0


def test_basis() -> None:
    assert basis_of("an estimate, no source") == "estimate, no source"
    assert basis_of("Churchill, Chem. Eng. 84 (1977)") == "cited"
    assert basis_of("and so on") == ""


def test_a_changed_constant_changes_the_formula_and_comes_back() -> None:
    before = {name: module for name, module in sys.modules.items() if name.startswith("oilkit")}
    stored = oilkit.temperature_at_pressure(Q(20, "degC"), Q(20, "psia"), Q(40, "psia"))
    with changed("ADIABATIC", 1.3) as second:
        now = second.temperature_at_pressure(Q(20, "degC"), Q(20, "psia"), Q(40, "psia"))
        assert second is not oilkit
        assert oilkit.temperature_at_pressure(Q(20, "degC"), Q(20, "psia"), Q(40, "psia")) == stored
    assert now.m_as("K") == pytest.approx(293.15 * 2.0 ** (0.3 / 1.3), rel=1e-12)
    assert stored.m_as("K") == pytest.approx(293.15 * 2.0 ** (0.4 / 1.4), rel=1e-12)
    assert {name: module for name, module in sys.modules.items() if name.startswith("oilkit")} == before
    assert not any(type(finder).__name__ == "_Finder" for finder in sys.meta_path)


def test_everything_comes_back_after_an_error() -> None:
    before = dict(sys.modules)
    with pytest.raises(ZeroDivisionError), changed("ADIABATIC", 1.3):
        raise ZeroDivisionError
    assert {k: v for k, v in sys.modules.items() if k.startswith("oilkit")} == {
        k: v for k, v in before.items() if k.startswith("oilkit")
    }


def test_defaults_and_compiled_code_follow_a_changed_constant() -> None:
    """What was frozen at import or at compilation: a default of a function, and the gas in the dynamic model."""
    with changed("STANDARD_ATMOSPHERE", 90_000.0) as second:
        assert second.absolute_pressure(Q(0, "psig")).m_as("Paa") == pytest.approx(90_000.0, rel=1e-12)
    moved = {row.title: row for row in what_moves("ADIABATIC", 1.2)}
    assert worked.MAIN[0] in moved, "the compiled model must not keep the old number"
    assert worked.MAIN[2] not in moved, "settled gas knows no ratio of specific heats"
    assert moved[worked.MAIN[0]].change > 0.005, "gas that cools less pushes longer"


@pytest.mark.parametrize("name", ["ADIABATIC", "OIL_STIFFNESS", "COPPER", "d341_constants: 0.7"])
def test_what_moves_loads_all_that_can_know_the_number(name: str) -> None:
    """As with the whole kit loaded a second time; and what was not loaded again is what stays as it is."""
    number = 1.1 * constant(name).number
    with changed(name, number):
        steps = importlib.import_module("oilkit.audit.worked").work().steps
    now = {step.title: float(step.value.m) for step in steps}
    moved = what_moves(name, number)
    assert moved
    for row in moved:
        assert float(row.after.m) == now.pop(row.title)
    before = {step.title: float(step.value.m) for step in worked.work().steps}
    assert now == pytest.approx({title: before[title] for title in now}, rel=1e-9)


def test_what_moves_by_hand() -> None:
    moved = {
        row.title: row
        for row in what_moves(
            "side_flow: 0.223", 0.0, ("air and pre-charge", "oil", "pump and engine", "bearings, holes and filter")
        )
    }
    row = moved["one rod, dragged out by turning"]
    slender = 0.8 / 2.1
    assert row.change == pytest.approx(slender / (slender - 0.223 * slender**3) - 1.0, rel=1e-9)
    assert "into the crank costs" not in moved
    assert what_moves("ADIABATIC", 1.4) == []


def test_unknown_constants_and_numbers_are_refused() -> None:
    refused("constant", lambda: what_moves("GAMMMA", 1.0))
    refused("number", lambda: what_moves("ADIABATIC", math.nan))
    refused("name", lambda: entry("fil"))


# -------------------------------------------------------------------------------------------------- outside, panels


@pytest.mark.parametrize("name", panels_12.evaluable())
def test_the_browser_takes_every_formula(name: str) -> None:
    numbers = panels_12.read_lines(name, panels_12.start_lines(name))
    result = REGISTER[name].function.si(**numbers)
    through = REGISTER[name].function(**worked_line(name)).m_as(REGISTER[name].returns.si)
    assert result == pytest.approx(through, rel=1e-4)


def test_the_browser_answers_bad_lines_beside_them() -> None:
    panel = panels_12.RegisterBrowser()
    start = panel.controls["inputs"].value
    for text, part in (
        (start + "\nbroe = 3 in", "broe = 3 in"),
        (start.replace("gas_volume = 3.00 qt", "gas_volume = -3 qt"), "gas_volume = -3.00 qt"),
        (start.replace("gas_volume = 3.00 qt", "gas_volume = 3 psig"), "gas_volume = 3 psig"),
        (start.replace("gas_volume = 3.00 qt", ""), "no line for gas_volume"),
        (start + "\ngas_volume = 2 qt", "gas_volume twice"),
        (start.replace("precharge = 10.0 psig", "precharge = 99 psig"), "precharge = 99.0 psig"),
        (start.replace("resting = no", "resting = perhaps"), "“perhaps”"),
    ):
        panel.controls["inputs"].area.value = text
        assert part in panel.controls["inputs"].error
        assert panel.errors == []
    panel.controls["inputs"].area.value = start.replace("3.00 qt", "6 qt")
    assert panel.controls["inputs"].error == ""
    assert panel.values["result"].m_as("qt") == pytest.approx(3.0, abs=0.01)
