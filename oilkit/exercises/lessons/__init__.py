"""All lessons' exercises, in order: those of every module ``lesson_NN`` here, as they stand in it, then those of the
TOML file beside it, which are answered in words. There the function of a table's name draws its numbers."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from importlib import import_module
from pkgutil import iter_modules
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


def _of(number: int) -> Iterator[ExerciseTemplate]:
    module = import_module(f"{__name__}.lesson_{number:02d}")
    yield from (maker for maker in vars(module).values() if isinstance(maker, ExerciseTemplate))
    for key, (where, told, work_out) in tables_of(module).items():
        check_keys(where, told, ("aim", "misconception", "question", "hints", "model", "points"), ("numbers",))
        make = partial(in_words, where, told, work_out)
        yield ExerciseTemplate(key, number, "explain", told["aim"], make, told["misconception"])


EXERCISES: dict[str, ExerciseTemplate] = {maker.key: maker for number in LESSONS for maker in _of(number)}
