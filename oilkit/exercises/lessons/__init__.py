"""All lessons' exercises, in order: those of every module ``lesson_NN`` here, as they stand in it, then those of the
TOML file beside it, which are answered in words. There the function of a table's name draws its numbers."""

from __future__ import annotations

import functools
import re
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules
from types import ModuleType
from typing import Any

from oilkit.exercises.exercise import Exercise, ExerciseTemplate, Sampler
from oilkit.exercises.tables import WorkOut, check_keys, filled, given, tables_of

LESSONS = tuple(sorted(int(found.name[-2:]) for found in iter_modules(__path__)))
"""Lessons that have exercises: those of which there is a module here."""


def in_words(where: str, told: dict[str, Any], work_out: WorkOut | None, draw: Sampler) -> Exercise:
    """An exercise that is answered in the learner's own words, and compared with a model. Raises `InputError`."""
    said = filled(where, told, given(where, told) | (work_out(draw) if work_out else {}))
    return Exercise(
        said["question"],
        tuple(said["hints"]),
        ("See the model answer.",),
        model=said["model"],
        points=tuple(said["points"]),
    )


@functools.cache
def homes() -> dict[str, int]:
    """The lesson of each exercise by its key, among other names. Read, not imported: that takes long."""
    found: dict[str, int] = {}
    for file in sorted(Path(__path__[0]).glob("lesson_*.*")):
        names = re.findall(r"^(?:def |\[)(\w+)", file.read_text(encoding="utf-8"), re.MULTILINE)
        found |= dict.fromkeys(names, int(file.stem[-2:]))
    return found


@functools.cache
def of_lesson(number: int) -> dict[str, ExerciseTemplate]:
    """A lesson's exercises by their keys. It imports what only that lesson needs of the physics."""
    module = import_module(f"{__name__}.lesson_{number:02d}")
    return {maker.key: maker for maker in _in(module, number)}


def _in(module: ModuleType, number: int) -> Iterator[ExerciseTemplate]:
    yield from (maker for maker in vars(module).values() if isinstance(maker, ExerciseTemplate))
    for key, (where, told) in tables_of(Path(str(module.__file__))).items():
        check_keys(where, told, ("aim", "misconception", "question", "hints", "model", "points"), ("numbers",))
        make = functools.partial(in_words, where, told, vars(module).get(key))
        yield ExerciseTemplate(key, number, "explain", told["aim"], make, told["misconception"])
