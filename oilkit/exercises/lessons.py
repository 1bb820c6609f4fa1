"""All lessons' exercises, in order. One module for each lesson; each lists its own in ``EXERCISES``."""

from __future__ import annotations

from importlib import import_module

from oilkit.exercises.exercise import Maker

LESSONS = (0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12)
"""Lessons that have exercises."""

EXERCISES: dict[str, Maker] = {
    maker.key: maker for number in LESSONS for maker in import_module(f"oilkit.exercises.lesson_{number:02d}").EXERCISES
}
