"""Worksheets on paper, and the key to them: each learner's own numbers, answers, and the answers of usual mistakes.

Both are made from the exercises themselves, with the same draw of numbers as a learner's panel.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from pint.facets.plain import PlainQuantity

from oilkit.exercises.exercise import UNIT_MISTAKE, Exercise, ExerciseTemplate, Owner, Sampler
from oilkit.panels.framework.question import TITLES
from oilkit.quantities.kind import Kind
from oilkit.quantities.printed import text
from oilkit.quantities.units import Qty
from oilkit.teacher.lesson import Lesson
from oilkit.teacher.pages import drawn, filled, markdown

T = TypeVar("T")
LINES = {"predict": 1, "compute": 4, "read": 2, "explain": 4}
"""Lines to write on, by sort."""


@dataclass(frozen=True)
class Own:
    """An exercise as one learner has it."""

    owner: Owner
    maker: ExerciseTemplate
    made: Exercise
    numbers: tuple[str, ...]
    """What was drawn for this learner, in the order of the draw."""
    drawn: tuple[str, ...] = ()
    """The same to all digits: learners with the same have the same exercise."""

    @property
    def same(self) -> tuple[str, ...]:
        """What two learners with the same exercise have in common."""
        return (self.maker.key, *self.drawn)

    @property
    def answers(self) -> dict[str, str]:
        """What comes out with each mistake."""
        return {mistake.name: text(mistake.answer) for mistake in self.made.mistakes}


class _Noting(Sampler):
    """Hands out what another draw hands out, and writes it down."""

    def __init__(self, draw: Sampler) -> None:
        self._draw = draw
        self.noted: list[str] = []
        self.exactly: list[str] = []

    def between(self, low: float, high: float, step: float, usual: float, unit: str) -> Qty:
        number = self._draw.between(low, high, step, usual, unit)
        self.noted.append(text(number))
        self.exactly.append(repr(number))
        return number

    def one_of(self, things: Sequence[T], usual: int = 0) -> T:
        thing = self._draw.one_of(things, usual)
        if isinstance(thing, str | int | float | PlainQuantity):
            self.noted.append(text(thing))
        self.exactly.append(str(next(k for k, one in enumerate(things) if one is thing)))
        return thing


def own(maker: ExerciseTemplate, owner: Owner) -> Own:
    """An exercise with a learner's numbers, and these numbers."""
    noted: list[_Noting] = []

    def make(draw: Sampler) -> Exercise:
        noted.append(_Noting(draw))
        return maker.make(noted[-1])

    made = dataclasses.replace(maker, make=make)(owner)
    return Own(owner, maker, made, tuple(noted[-1].noted), tuple(noted[-1].exactly))


def worksheet_file(number: int) -> str:
    return f"worksheets/lesson-{number:02d}.html"


def called(owner: Owner) -> str:
    """Whose sheet it is."""
    return owner.learner or owner.group or "everybody"


# --------------------------------------------------------------------------------------------------------- worksheets


def worksheet(lesson: Lesson, rows: Sequence[Sequence[Own]]) -> str:
    """The worksheets of one lesson, a new page for each learner; ``rows`` has a learner's exercises in each row."""
    pictures: dict[tuple[str, ...], str] = {}
    for exercise in (one for exercises in rows for one in exercises):
        if exercise.made.picture is not None and exercise.same not in pictures:
            pictures[exercise.same] = drawn(exercise.made.picture)
    tools = {"titles": TITLES, "lines": LINES, "units": Kind.labels, "markdown": markdown}
    title = f"Worksheet: {lesson.title}"
    return filled("worksheet.html", title, lesson=lesson, rows=rows, pictures=pictures, **tools)


# ---------------------------------------------------------------------------------------------------------------- key


def key(lessons: Sequence[Lesson], exercises: dict[str, list[Own]]) -> str:
    """The answer key to all worksheets as one page; ``exercises`` has each exercise as each learner has it."""
    there = [(one, [rows for rows in exercises.values() if rows[0].maker.lesson == one.number]) for one in lessons]
    tools = {"called": called, "text": text, "mistakes": _mistakes, "alike": _alike, "titles": TITLES}
    return filled("key.html", "Answer key", lessons=[(one, its) for one, its in there if its], **tools)


def _mistakes(rows: list[Own]) -> dict[str, str]:
    """Each mistake that one of the learners could make, and what to ask then; not those with the unit, which show."""
    return {m.name: m.repair for row in rows for m in row.made.mistakes if not m.name.endswith(UNIT_MISTAKE)}


def _alike(rows: list[Own]) -> list[list[Own]]:
    """Learners together for whom the same is right."""
    groups: dict[Any, list[Own]] = {}
    for row in rows:
        made = row.made
        same = (made.question, made.options, made.right) if made.options else (made.model, made.points)
        groups.setdefault(same, []).append(row)
    return list(groups.values())
