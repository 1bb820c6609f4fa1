"""The package as a whole: it imports what is asked of it, and offers the same as if it had imported everything."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from functools import cache
from pathlib import Path
from types import ModuleType

import pytest

import oilkit

ROOT = Path(__file__).resolve().parents[1]


def printed(code: str) -> list[str]:
    """What a fresh Python prints."""
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout.split()


def test_all_that_it_offers_is_there_once() -> None:
    assert sorted(set(oilkit.__all__)) == sorted(oilkit.__all__)
    assert set(oilkit._homes()) == set(oilkit.__all__)
    assert set(oilkit.__all__) <= set(dir(oilkit))
    for name in oilkit.__all__:
        assert not isinstance(getattr(oilkit, name), ModuleType), name


def test_importing_it_imports_nothing_else() -> None:
    assert printed("import sys, oilkit; print(*(m for m in sys.modules if m.startswith('oilkit')))") == ["oilkit"]


def test_one_thing_brings_its_module_and_no_lesson_after_it() -> None:
    found = printed("import sys, oilkit; oilkit.gauge_pressure; print(*(m for m in sys.modules if 'oilkit.' in m))")
    assert "oilkit.physics.pressure" in found
    assert not {"oilkit.physics.gas", "oilkit.physics.engine", "oilkit.physics.dynamics", "oilkit.panels"} & set(found)


def test_one_panel_brings_its_own_module_alone() -> None:
    found = printed(
        "import sys, oilkit; oilkit.panels.cylinder; print(*(m for m in sys.modules if 'panels.lessons.' in m))"
    )
    assert found == ["oilkit.panels.lessons.lesson_01_boyle"]


def test_ahead_of_a_lesson_only_what_is_its_own_is_loaded() -> None:
    lesson = "from oilkit.panels.ahead import load; load('01_boyles_law')"
    asked = "oilkit.panels.predict('halve_the_volume'); oilkit.panels.exercise('squeezed')"
    found = printed(f"import oilkit, sys; {lesson}; {asked}; print(*sys.modules)")
    numbers = {number for name in found for number in re.findall(r"^oilkit\.\w+\.\w+\.lesson_(\d\d)", name)}
    assert numbers == {"01"}
    assert "numba" not in found


def test_every_panel_is_found_by_the_name_it_says_and_no_two_say_the_same() -> None:
    said = [
        (name, path.stem)
        for path in sorted((ROOT / "oilkit" / "panels" / "lessons").glob("*.py"))
        for name in re.findall(r'call(?:: .*)? = "(.*)"', path.read_text(encoding="utf-8"))
    ]
    panels = oilkit.panels
    assert sorted(name for name, _ in said) == sorted(set(panels.__all__) - set(panels.NO_PANELS))
    for name, module in said:
        found = getattr(panels, name)
        assert (found.call, found.__module__.rpartition(".")[2]) == (name, module)
    assert set(panels.__all__) <= set(dir(panels))


def test_a_panel_that_is_open_is_not_kept_from_being_collected() -> None:
    """What is loaded is frozen for the garbage collector, but not together with what a notebook has open."""
    code = (
        "import gc, oilkit; first = oilkit.panels.gauge_and_absolute(); frozen = gc.get_freeze_count()\n"
        "oilkit.panels.cylinder; print(frozen > 10_000, gc.get_freeze_count() <= frozen)\n"
        "first.close(); oilkit.panels.useful_oil; print(gc.get_freeze_count() > frozen)"
    )
    assert printed(code) == ["True", "True", "True"]


def test_parts_are_there_unasked() -> None:
    assert printed("import oilkit; print(oilkit.fill.__module__, oilkit.panels.__name__)") == [
        "oilkit.physics.vessel",
        "oilkit.panels",
    ]


# --------------------------------------------------------------------------------------------------- one direction

FLOORS = (
    "errors",
    "storage",
    "quantities",
    "physics",
    "laps",
    "shop",
    "bench",
    "build",
    "audit",
    "exercises",
    "panels.framework",
    "panels.lessons",
    "panels",
    "teacher",
    "jupyter",
    "__main__",
)
"""Each imports from what stands before it and from its own modules. Only `oilkit` itself offers what is in all."""


def module_of(path: Path) -> str:
    return ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")


MODULES = {module_of(path): path for path in sorted((ROOT / "oilkit").rglob("*.py"))}


def floor(module: str) -> int:
    """The floor of a module: the longest name of ``FLOORS`` that it begins with."""
    inside = module.removeprefix("oilkit.")
    return FLOORS.index(max((name for name in FLOORS if f"{inside}.".startswith(f"{name}.")), key=len))


@cache
def imported(module: str) -> set[str]:
    """The kit's modules that a module imports, anywhere in it but for the eyes of a type checker."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(MODULES[module].read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom):
            assert not node.level, f"{module}: a relative import"
            names = [f"{node.module}.{one.name}" for one in node.names]
            found.update(name if name in MODULES else node.module or "" for name in names)
        elif isinstance(node, ast.Import):
            found.update(one.name for one in node.names)
    return {name for name in found if name.split(".")[0] == "oilkit"}


@pytest.mark.parametrize("module", [name for name in MODULES if name != "oilkit"])
def test_imports_go_one_way(module: str) -> None:
    allowed = {"oilkit"} if module.startswith(ABOVE_ALL) else set()
    up = [name for name in imported(module) - allowed if name == "oilkit" or floor(name) > floor(module)]
    assert not up, f"{module} imports {up}, which stand on a higher floor"


ABOVE_ALL = ("oilkit.audit.", "oilkit.teacher.")
"""These look at all that the kit offers."""


def test_no_module_waits_for_itself() -> None:
    done: set[str] = set()

    def visit(module: str, way: tuple[str, ...]) -> None:
        assert module not in way, f"a circle: {' -> '.join((*way, module))}"
        if module not in done:
            for name in sorted(imported(module) - {"oilkit"}):
                visit(name, (*way, module))
            done.add(module)

    for module in MODULES.keys() - {"oilkit"}:
        visit(module, ())


def test_no_lesson_s_panel_borrows_from_another_lesson() -> None:
    wrong = [
        f"{module} from {name}"
        for module in MODULES
        for name in imported(module)
        if (mine := lesson_in(module)) and (theirs := lesson_in(name)) and mine != theirs
    ]
    assert not wrong


def lesson_in(module: str) -> str:
    found = re.search(r"panels\.lessons\.lesson_(\d\d)", module)
    return found[1] if found else ""


LONG = {"run_case": 250, "jacobian": 70}
"""Lines of compiled functions that stay whole: a call between their parts costs time at each of many steps."""


@pytest.mark.parametrize("module", MODULES)
def test_modules_and_functions_stay_short(module: str) -> None:
    text = MODULES[module].read_text(encoding="utf-8")
    assert text.count("\n") <= 450
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef):
            assert (node.end_lineno or 0) - node.lineno < LONG.get(node.name, 60), node.name


def test_no_function_has_the_name_of_a_module() -> None:
    modules = {name.rpartition(".")[2] for name in MODULES}
    assert not modules & set(oilkit.__all__)


def test_what_it_does_not_offer_is_an_attribute_error() -> None:
    for name in ("no_such_thing", "_private", "__wrapped__"):
        with pytest.raises(AttributeError, match=f"'oilkit' has no attribute '{name}'"):
            getattr(oilkit, name)
    with pytest.raises(ImportError):
        exec("from oilkit import no_such_thing")


def test_what_is_put_into_it_stays(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(oilkit, "fill", "another")
    assert oilkit.fill == "another"


def test_a_changed_copy_stays_whole_when_the_change_is_over() -> None:
    """Nothing of either copy is imported while, or after, the other one is in its place."""
    code = (
        "import oilkit; from oilkit.audit.constants import changed\n"
        "with changed('ADIABATIC', 1.3) as second:\n"
        "    print(oilkit.ADIABATIC, second.ADIABATIC)\n"
        "print(oilkit.ADIABATIC, second.ADIABATIC)"
    )
    assert printed(code) == ["1.4", "1.3", "1.4", "1.3"]
