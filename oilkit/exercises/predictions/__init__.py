"""The lessons' predictions, in order: the tables of a TOML file for each lesson, with all that learners read of them.

The function of a table's name takes the numbers given there. It works out the right ``answer`` and, by the names under
``mistakes``, the wrong ones; or which of the ``options`` is ``right``, unless the table says so.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules
from typing import Any

from oilkit.errors import InputError
from oilkit.exercises.exercise import Exercise, Mistake
from oilkit.exercises.tables import WorkOut, check_keys, filled, given, tables_of

WITHIN = 0.03
"""Relative tolerance of an answer, which is worked out in the head, where the table says no other."""


def prediction(where: str, told: dict[str, Any], work_out: WorkOut | None) -> Exercise:
    """A prediction: fixed numbers, no hints, and the reason as soon as it is answered.

    where: ``file, [table]``, for the sentence of an `InputError` about a key or a name that is unknown or missing.
    """
    check_keys(where, told, ("question", "why"), ("numbers", "within", "mistakes", "options", "right"))
    start = given(where, told)
    numbers = start | (work_out(**start) if work_out else {})
    said = filled(where, told, numbers)
    options = list(said.get("options", {}))
    try:
        mistakes = tuple(Mistake("", numbers[name], sentence) for name, sentence in said.get("mistakes", {}).items())
        right = told.get("right") or (numbers["right"] if options else "")
    except KeyError as name:
        raise InputError(where, f"the name {name}, which is not there", f"one of {', '.join(numbers)}") from None
    if options and right not in options:
        raise InputError(f"{where}, right", repr(right), f"one of {', '.join(options)}")
    return Exercise(
        question=said["question"],
        answer=numbers.get("answer"),
        mistakes=mistakes,
        within=told.get("within", WITHIN),
        options=tuple(said["options"].values()) if options else (),
        right=options.index(right) if options else 0,
        why=said["why"],
    )


LESSONS: dict[str, int] = {}
"""The lesson of each prediction."""
PREDICTIONS: dict[str, Callable[[], Exercise]] = {}
"""What makes each: it imports its lesson's functions, and with them what only that lesson needs of the physics."""


def _made(module: str, where: str, name: str, told: dict[str, Any]) -> Exercise:
    return prediction(where, told, vars(import_module(f"{__name__}.{module}")).get(name))


for _module in sorted(found.name for found in iter_modules(__path__)):
    for _name, (_where, _told) in tables_of(Path(__file__).with_name(f"{_module}.py")).items():
        LESSONS[_name] = int(_module[-2:])
        PREDICTIONS[_name] = partial(_made, _module, _where, _name, _told)
