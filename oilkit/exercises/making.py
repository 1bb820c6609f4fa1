"""How the lessons make their exercises: what sort of exercise a function draws, and how it is answered."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from oilkit.exercises.exercise import (
    READ_WITHIN,
    SORTS,
    WITHIN,
    Exercise,
    ExerciseTemplate,
    Mistake,
    Picture,
    Sampler,
    Sort,
)
from oilkit.physics.pressure import absolute_pressure
from oilkit.quantities.units import Q, Qty


def _template(sort: Sort) -> Callable[[str, str], Callable[[Callable[[Sampler], Exercise]], ExerciseTemplate]]:
    """A decorator with aim and misconception, for a function that draws: its name is the key, its module the lesson."""

    def described(aim: str, misconception: str) -> Callable[[Callable[[Sampler], Exercise]], ExerciseTemplate]:
        return lambda make: ExerciseTemplate(make.__name__, int(make.__module__[-2:]), sort, aim, make, misconception)

    return described


predict, compute, read = map(_template, SORTS[:3])


def by_number(
    question: str,
    hints: tuple[str, ...],
    steps: tuple[str, ...],
    answer: Qty,
    mistakes: Mapping[str, tuple[Qty, str]],
    within: float | None = None,
    picture: Picture | None = None,
) -> Exercise:
    """Answered by a quantity, within `READ_WITHIN` if it is read off a picture, else `WITHIN`.

    mistakes: by the name of each usual mistake the answer that it gives and the question that repairs it.
    """
    usual = tuple(Mistake(name, wrong, repair) for name, (wrong, repair) in mistakes.items())
    near = within or (READ_WITHIN if picture else WITHIN)
    return Exercise(question, hints, steps, answer, usual, near, picture=picture)


def by_choice(
    question: str,
    hints: tuple[str, ...],
    steps: tuple[str, ...],
    options: tuple[str, ...],
    right: int,
    replies: Sequence[str],
    said: str = "",
) -> Exercise:
    """Answered by one of several sentences.

    said: the reply to the right one where the numbers say which it is; the replies are then those to wrong ones.
    """
    told = tuple(said or reply if k == right else reply for k, reply in enumerate(replies))
    return Exercise(question, hints, steps, options=options, right=right, replies=told)


def over(top: Qty, bottom: Qty, digits: int = 1) -> str:
    """Two gauge pressures as a ratio that Boyle's law wants, in psia: ``24.7 / 74.7``."""
    return f"{absolute_pressure(top).m:.{digits}f} / {absolute_pressure(bottom).m:.{digits}f}"


def read_off(at: Any, along: Any, line: Any, straight: bool = False) -> Qty:
    """What a rising or falling curve has at a value of what lies along it.

    straight: of the straight line from end to end instead, a mistake to recognize.
    """
    ends = [0, -1] if straight else slice(None)
    rising = slice(None, None, 1 if along[0] < along[-1] else -1)
    found: Qty = np.interp(at, along[ends][rising], line[ends][rising])
    return found


def moved_alone(
    off: Mapping[str, float], result: Callable[[dict[str, float]], Qty]
) -> tuple[Qty, dict[str, tuple[Qty, Qty]]]:
    """A result as expected, and by the name of each input with that one alone at its low and at its high end.

    off: how far each input may be off; result: with inputs off by so much.
    """

    def at(name: str, sign: float) -> Qty:
        return result({other: sign * size * (other == name) for other, size in off.items()})

    return at("", 0.0), {name: (at(name, -1.0), at(name, 1.0)) for name in off}


def as_if_gauge(absolute: Qty) -> Qty:
    """An absolute pressure, written as if a gauge showed it: a mistake to recognise."""
    return Q(float(absolute.m_as("psia")), "psig")
