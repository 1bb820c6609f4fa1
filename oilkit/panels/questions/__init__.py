"""The lessons' predictions, by name. Right answers and those of the usual mistakes are computed by the package.

One module for the questions of each lesson; each lists its own in ``QUESTIONS``.
"""

from __future__ import annotations

from collections.abc import Callable

from oilkit.errors import InputError
from oilkit.panels.framework.predict import Prediction
from oilkit.panels.questions import (
    lesson_03,
    lesson_04,
    lesson_05,
    lesson_06,
    lesson_07,
    lesson_08,
    lesson_09,
    lesson_10,
    lesson_11,
    lesson_12,
    lessons_00_to_02,
)

QUESTIONS: dict[str, Callable[[], Prediction]] = {
    make.__name__: make
    for module in (
        lessons_00_to_02,
        lesson_03,
        lesson_04,
        lesson_05,
        lesson_06,
        lesson_07,
        lesson_08,
        lesson_09,
        lesson_10,
        lesson_11,
        lesson_12,
    )
    for make in module.QUESTIONS
}


def predict(name: str) -> Prediction:
    """Open one of the lessons' questions. Raises `InputError` for a name that is not one."""
    if name not in QUESTIONS:
        raise InputError("name", repr(name), "one of " + ", ".join(QUESTIONS))
    return QUESTIONS[name]()
