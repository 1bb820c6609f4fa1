"""Questions that answer back: exercises with a learner's own numbers, hints and solutions, and predictions before them.

`exercise` says what an exercise is and judges answers; ``lessons`` hold the exercises, ``predictions`` those that come
before a panel, right answers and those of the usual mistakes computed by the package; `progress` keeps what a learner
has answered.
"""

from __future__ import annotations

from collections.abc import Callable
from difflib import get_close_matches
from functools import cache

from oilkit.errors import InputError, of_these
from oilkit.exercises.exercise import Exercise, ExerciseTemplate


@cache
def all_exercises() -> dict[str, ExerciseTemplate]:
    """Every exercise by its key, in lesson order."""
    from oilkit.exercises import lessons

    return {key: maker for number in lessons.LESSONS for key, maker in lessons.of_lesson(number).items()}


def exercises_of(lesson: int) -> dict[str, ExerciseTemplate]:
    """A lesson's exercises by their keys, in order. No other lesson's are loaded."""
    from oilkit.exercises import lessons

    return lessons.of_lesson(lesson)


def find(key: str) -> ExerciseTemplate:
    """The exercise of a key. Raises `InputError` for one that is not there."""
    from oilkit.exercises import lessons

    home = lessons.homes().get(key)
    known = {} if home is None else exercises_of(home)
    if key not in known:
        known = all_exercises()
    if key not in known:
        alike = get_close_matches(str(key), known, n=3, cutoff=0.0)
        raise InputError("exercise", repr(key), "the name of an exercise, such as " + ", ".join(alike))
    return known[key]


def all_predictions() -> dict[str, Callable[[], Exercise]]:
    """What makes each prediction, by its name, in lesson order."""
    from oilkit.exercises import predictions

    return predictions.PREDICTIONS


def find_prediction(name: str) -> Exercise:
    """The prediction of a name. Raises `InputError` for one that is not there."""
    known = all_predictions()
    return of_these("name", name, known, f"one of {', '.join(known)}")()


def prediction_lesson(name: str) -> int:
    """The lesson of a prediction. Raises `InputError` for one that is not there."""
    from oilkit.exercises import predictions

    return of_these("name", name, predictions.LESSONS, f"one of {', '.join(all_predictions())}")
