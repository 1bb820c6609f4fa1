"""Worksheets on paper, and two keys to them: by learner, sheet for sheet, and by exercise, to be read aloud.

All are made from the exercises themselves, with the same draw of numbers as a learner's panel.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from itertools import combinations, pairwise
from typing import Any

from oilkit.exercises import find
from oilkit.exercises.exercise import NOBODY, UNIT_MISTAKE, Exercise, ExerciseTemplate, Owner
from oilkit.panels.framework.question import TITLES
from oilkit.quantities.kind import Kind
from oilkit.quantities.printed import text
from oilkit.teacher.lesson import Lesson
from oilkit.teacher.pages import drawn, filled, markdown

QUANTITY = re.compile(r"(?<![\w.-])[-−]?\d+(?:[.,]\d+)* [^\s\d.,;:?()”\"]+(?: \([^()]*\))?")
"""A number with its unit in a question, and the same in the other system behind it."""
OTHERS = (NOBODY, *(Owner("invented", f"learner {k}") for k in range(3)))
"""What stands in the questions of all of these is nobody's own number."""
LETTERS, LINE, PICTURE, HEAD = 105, 4.5, 52.0, 8.0
"""Of a worksheet: letters on a line; mm that a line, a picture, and the head of an exercise need."""
WRITING = {"predict": 0.0, "compute": 22.0, "read": 0.0, "explain": 17.0}
"""mm to write on at the least, by sort; beside a picture there is room."""
FULL = 490.0
"""mm that a sheet of two pages needs, from which on its pictures are smaller."""


@dataclass(frozen=True)
class Own:
    """An exercise as one learner has it."""

    maker: ExerciseTemplate
    owner: Owner

    @cached_property
    def made(self) -> Exercise:
        return self.maker(self.owner)

    @property
    def same(self) -> tuple[str, ...]:
        """What two learners with the same exercise have in common."""
        return (self.maker.key, *self.made.drawn)

    @cached_property
    def numbers(self) -> tuple[str, ...]:
        """The learner's own numbers, as they stand in the question on the sheet."""
        return tuple(
            one
            for one in dict.fromkeys(QUANTITY.findall(self.made.question))
            if one not in _alike_in_all(self.maker.key)
        )

    @cached_property
    def answers(self) -> dict[str, str]:
        """What comes out with each mistake; not those with the unit, which show."""
        return {m.name: text(m.answer) for m in self.made.mistakes if not m.name.endswith(UNIT_MISTAKE)}

    @cached_property
    def right(self) -> str:
        """The right answer in a few words; of an answer in words the points that it has to make."""
        if self.made.answer is not None:
            return text(self.made.answer)
        return self.made.options[self.made.right] if self.made.options else "; ".join(self.made.points)

    @cached_property
    def height(self) -> float:
        """mm that it needs on a worksheet at the least; an estimate, to share a sheet's two pages."""
        options = -(-sum(len(one) + 8 for one in self.made.options) // LETTERS)
        lines = -(-len(self.made.question) // LETTERS) + options
        return HEAD + LINE * lines + PICTURE * (self.made.picture is not None) + WRITING[self.maker.sort]


@cache
def _alike_in_all(key: str) -> frozenset[str]:
    return frozenset.intersection(*(frozenset(QUANTITY.findall(find(key)(owner).question)) for owner in OTHERS))


def worksheet_file(number: int) -> str:
    return f"worksheets/lesson-{number:02d}.html"


def key_file(number: int) -> str:
    return f"keys/lesson-{number:02d}.html"


def called(owner: Owner) -> str:
    """Whose sheet it is."""
    return owner.learner or owner.group or "everybody"


# --------------------------------------------------------------------------------------------------------- worksheets


def worksheet(lesson: Lesson, rows: Sequence[Sequence[Own]]) -> str:
    """The worksheets of one lesson, two pages for each learner; ``rows`` has a learner's exercises in each row."""
    return sheet(f"Worksheet: {lesson.title}", lesson.title, rows, lesson.cautions)


def sheet(
    title: str, heading: str, rows: Sequence[Sequence[Own]], cautions: Sequence[str] = (), pages: int = 2, **more: Any
) -> str:
    """Exercises to be written on, on so many pages for each learner. more: ``says`` and ``points``, of a test."""
    pictures: dict[tuple[str, ...], str] = {}
    for one in (one for exercises in rows for one in exercises):
        if one.made.picture is not None and one.same not in pictures:
            pictures[one.same] = drawn(one.made.picture)
    letters = sum(map(len, cautions))
    return filled(
        "worksheet.html",
        title,
        heading=heading,
        cautions=cautions,
        sheets=[(exercises[0].owner, shared(exercises, pages, letters)) for exercises in rows],
        pictures=pictures,
        wide=62 if any(needs(exercises, letters) > FULL for exercises in rows) and pages == 2 else 72,
        titles=TITLES,
        units=Kind.labels,
        markdown=markdown,
        **{"says": "", "points": {}, **more},
    )


def shared(exercises: Sequence[Own], pages: int, letters: int = 0) -> list[Sequence[Own]]:
    """A sheet's exercises, in order, on so many pages that the fullest of them is as empty as can be.

    letters: of the cautions that stand on the first page.
    """
    cuts = combinations(range(1, len(exercises)), min(pages, len(exercises)) - 1)
    ways = [[exercises[a:b] for a, b in pairwise((0, *cut, len(exercises)))] for cut in cuts]
    return min(ways, key=lambda way: max(needs(its, -1 if k else letters) for k, its in enumerate(way)))


def needs(exercises: Sequence[Own], letters: int = -1) -> float:
    """mm that exercises need on a page; on the first one with its head and cautions of so many letters."""
    head = 5.0 if letters < 0 else 20.0 + letters / 27.0
    return head + sum(one.height for one in exercises)


# --------------------------------------------------------------------------------------------------------------- keys


def key_by_learner(heading: str, rows: Sequence[Sequence[Own]], **more: Any) -> str:
    """The key to sheets, a table for each learner that no page cuts. more: ``points``, of a test."""
    return filled("key-by-learner.html", f"Key: {heading}", rows=rows, called=called, **{"points": {}, **more})


def key(lessons: Sequence[Lesson], exercises: dict[str, list[Own]]) -> str:
    """The key by exercise as one page; ``exercises`` has each exercise as each learner has it."""
    there = [(one, [rows for rows in exercises.values() if rows[0].maker.lesson == one.number]) for one in lessons]
    tools = {"called": called, "mistakes": _mistakes, "alike": _alike, "titles": TITLES}
    return filled("key.html", "Answer key", lessons=[(one, its) for one, its in there if its], **tools)


def _mistakes(rows: list[Own]) -> dict[str, str]:
    """Each mistake that one of the learners could make, and what to ask then."""
    return {m.name: m.repair for row in rows for m in row.made.mistakes if m.name in row.answers}


def _alike(rows: list[Own]) -> dict[Any, list[Own]]:
    """Learners together for whom the same is right."""
    groups: dict[Any, list[Own]] = {}
    for row in rows:
        groups.setdefault(row.made.model or row.right, []).append(row)
    return groups
