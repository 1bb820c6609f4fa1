"""The worked lines in the docstrings give what they say."""

from __future__ import annotations

import doctest
import importlib
import pkgutil
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
