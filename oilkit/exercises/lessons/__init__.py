"""All lessons' exercises, in order: those of every module ``lesson_NN`` here, as they stand in it."""

from __future__ import annotations

from importlib import import_module
from pkgutil import iter_modules

from oilkit.exercises.exercise import ExerciseTemplate

LESSONS = tuple(sorted(int(found.name[-2:]) for found in iter_modules(__path__)))
"""Lessons that have exercises: those of which there is a module here."""

EXERCISES: dict[str, ExerciseTemplate] = {
    maker.key: maker
    for number in LESSONS
    for maker in vars(import_module(f"{__name__}.lesson_{number:02d}")).values()
    if isinstance(maker, ExerciseTemplate)
}
