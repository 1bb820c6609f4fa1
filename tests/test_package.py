"""The package as a whole: it imports what is asked of it, and offers the same as if it had imported everything."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest
from parts import quick

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
    assert "oilkit.pressure" in found
    assert not {"oilkit.gas", "oilkit.engine", "oilkit.dynamics", "oilkit.panels"} & set(found)


@pytest.mark.parametrize(
    "before",
    quick(1, ["import oilkit.discharge, oilkit.report, oilkit.build_sheet; ", "", "from oilkit.report import table; "]),
    ids=["modules first", "asked first", "from a module first"],
)
def test_a_function_with_its_modules_name_is_the_function(before: str) -> None:
    code = f"{before}import oilkit as o; print(*(type(x).__name__ for x in (o.discharge, o.report, o.build_sheet)))"
    assert printed(code) == ["function"] * 3
    code = f"{before}from oilkit import *; print(*(type(x).__name__ for x in (discharge, report, build_sheet)))"
    assert printed(code) == ["function"] * 3


def test_modules_are_there_unasked() -> None:
    assert printed("import oilkit; print(oilkit.vessel.fill is oilkit.fill, oilkit.panels.__name__)") == [
        "True",
        "oilkit.panels",
    ]


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
        "import oilkit; from oilkit.constants import changed\n"
        "with changed('ADIABATIC', 1.3) as second:\n"
        "    print(oilkit.ADIABATIC, second.ADIABATIC)\n"
        "print(oilkit.ADIABATIC, second.ADIABATIC)"
    )
    assert printed(code) == ["1.4", "1.3", "1.4", "1.3"]
