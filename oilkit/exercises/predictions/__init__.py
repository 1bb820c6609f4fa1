"""The lessons' predictions, in order: every public function of a module ``lesson_NN`` here makes one of that name."""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from inspect import isfunction
from pkgutil import iter_modules

from oilkit.exercises.exercise import Exercise

PREDICTIONS: dict[str, Callable[[], Exercise]] = {
    name: make
    for module in sorted(f"{__name__}.{found.name}" for found in iter_modules(__path__))
    for name, make in vars(import_module(module)).items()
    if isfunction(make) and make.__module__ == module and not name.startswith("_")
}
