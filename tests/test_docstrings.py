"""The worked lines in the docstrings give what they say."""

from __future__ import annotations

import doctest
import importlib
import inspect
import math
import pkgutil
import re
from types import ModuleType

import numpy as np
import pytest

import oilkit

MODULES = [importlib.import_module(found.name) for found in pkgutil.walk_packages(oilkit.__path__, prefix="oilkit.")]
EXAMPLES = [
    example
    for module in [oilkit, *MODULES]
    for example in doctest.DocTestFinder(exclude_empty=True).find(
        module, extraglobs={"Q": oilkit.Q, "np": np, "oilkit": oilkit}
    )
    if example.examples
]


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: example.name)
def test_worked_line(example: doctest.DocTest) -> None:
    runner = doctest.DocTestRunner(optionflags=doctest.NORMALIZE_WHITESPACE)
    report: list[str] = []
    runner.run(example, out=report.append, clear_globs=False)
    assert runner.summarize(verbose=False).failed == 0, "".join(report)


@pytest.mark.parametrize("module", [oilkit, *MODULES], ids=lambda module: module.__name__)
def test_every_module_says_what_it_is(module: ModuleType) -> None:
    assert module.__doc__
    assert len(module.__doc__.split()) >= 6


def test_there_are_examples_to_run() -> None:
    assert len(EXAMPLES) >= 18


PUBLIC = {name: getattr(oilkit, name) for name in oilkit.__all__ if hasattr(getattr(oilkit, name), "kinds")}


@pytest.mark.parametrize("name", sorted(PUBLIC))
def test_help_names_every_argument_with_its_unit_and_range(name: str) -> None:
    """In the sections that documentation tools read; the ranges are those of the check."""
    function = PUBLIC[name]
    text = inspect.getdoc(function) or ""
    told = text.split("\nParameters\n----------\n")[1]
    arguments, rest = told.split("\n\nReturns\n-------\n")
    entries = dict(re.findall(r"^(\w+) : (.*(?:\n    .*)*)", arguments, re.MULTILINE))
    wanted = [*inspect.signature(function).parameters]
    if function.named:
        wanted = [*wanted[:-1], *(one for one in function.named.kinds if one not in wanted)]
    assert list(entries) == wanted
    for argument, kind in function.kinds.items():
        assert kind.noun in entries[argument]
        for end in (kind.low, kind.high):
            if math.isfinite(end):
                assert f"{kind.display(end, 'SI'):.6g}" in entries[argument]
    assert rest.split("\n\nRaises\n------\n")[0].strip()


def test_help_of_a_quantity_says_its_unit_and_its_usual_value() -> None:
    text = inspect.getdoc(oilkit.oil_stored) or ""
    assert "ambient : the ambient pressure that a barometer shows, optional\n    from 2.90075 to 16.6793 psia" in text
    assert "Usually 101325.0 Paa." in text
    assert "an amount of oil, in qt" in text
