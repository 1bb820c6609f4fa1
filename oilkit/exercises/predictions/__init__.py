"""The lessons' predictions, in order: the tables of a TOML file for each lesson, with all that learners read of them.

Numbers stand in the sentences by their names, ``{charge}``, or ``{height:altitude}`` where the unit alone does not say
what it is. Some are given in the table itself, under ``numbers``. From these the function of the table's name in the
module beside works out the others, the right ``answer`` and, by the names under ``mistakes``, the wrong ones; or which
of the ``options`` is ``right``, unless the file says so. Where nothing is to be worked out there is no function.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from importlib import import_module
from pkgutil import iter_modules
from string import Formatter
from types import ModuleType
from typing import Any

from pint import UndefinedUnitError
from pint.facets.plain import PlainQuantity

from oilkit.errors import InputError
from oilkit.exercises.exercise import Exercise, Mistake
from oilkit.quantities import kinds
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q, Qty
from oilkit.shop.texts import beside

WITHIN = 0.03
"""Relative tolerance of an answer, which is worked out in the head, where the file says no other."""
KEYS = {"numbers", "question", "why", "within", "mistakes", "options", "right"}


class _Filled(Formatter):
    """Sentences with quantities in both systems of units."""

    def format_field(self, value: Any, format_spec: str) -> Any:
        if isinstance(value, PlainQuantity):
            return text(value, vars(kinds)[format_spec.upper()] if format_spec else None)
        return super().format_field(value, format_spec)


def prediction(where: str, told: dict[str, Any], numbers: dict[str, Any]) -> Exercise:
    """A prediction from its table and the numbers that its sentences name: no hints, and the reason once answered.

    where: ``file, [table]``, for the sentence of an `InputError` about a key or a name that is unknown or missing.
    """
    if unknown := told.keys() - KEYS:
        raise InputError(where, f"the unknown key {min(unknown)}", f"only {', '.join(sorted(KEYS))}")
    filled = partial(_Filled().vformat, args=(), kwargs=numbers)
    options = told.get("options", {})
    try:
        return Exercise(
            question=filled(told["question"]),
            answer=numbers.get("answer"),
            mistakes=tuple(Mistake("", numbers[name], filled(says)) for name, says in told.get("mistakes", {}).items()),
            within=told.get("within", WITHIN),
            options=tuple(filled(option) for option in options.values()),
            right=list(options).index(told.get("right") or numbers["right"]) if options else 0,
            why=filled(told["why"]),
        )
    except (KeyError, ValueError) as problem:
        raise InputError(where, f"{problem}, which is not there", f"one of {', '.join(numbers)}") from None


def given(where: str, told: dict[str, Any]) -> dict[str, Qty]:
    """The numbers that stand in a table itself: ``10 psig``. Raises `InputError` for what is none."""
    found: dict[str, Qty] = {}
    for name, written in told.get("numbers", {}).items():
        number, _, unit = written.partition(" ")
        try:
            found[name] = Q(float(number), unit)
        except (ValueError, UndefinedUnitError):
            raise InputError(f"{where}, {name}", repr(written), "a number with its unit, such as 10 psig") from None
    return found


def _of(module: ModuleType) -> dict[str, Callable[[], Exercise]]:
    """What makes each prediction of a lesson, by its name."""
    file, tables = beside(str(module.__file__))

    def make(name: str) -> Exercise:
        where, told = f"{file}, [{name}]", tables[name]
        numbers = given(where, told)
        work_out: Callable[..., dict[str, Any]] = vars(module).get(name, dict)
        return prediction(where, told, numbers | work_out(**numbers))

    return {name: partial(make, name) for name in tables}


PREDICTIONS: dict[str, Callable[[], Exercise]] = {}
for _found in sorted(found.name for found in iter_modules(__path__)):
    PREDICTIONS |= _of(import_module(f"{__name__}.{_found}"))
