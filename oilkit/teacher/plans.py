"""Lesson plans: what each lesson is for, how long its parts take, and what fits into 45 or 90 minutes.

Nothing about a lesson is written here a second time: goals, cautions and parts come from its notebook, aims and
misconceptions from its exercises. Only how long a thing takes stands here, and in ``plans.toml`` what to bring.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from oilkit.exercises.exercise import ExerciseTemplate
from oilkit.panels.framework.question import TITLES
from oilkit.quantities.records import beside
from oilkit.teacher.lesson import DEEPER, EXERCISES, HOME_SECTIONS, Cell, Lesson, Section
from oilkit.teacher.pages import filled, markdown

WORDS_A_MINUTE = 100.0
"""Reading a technical text with care, a table now and then: estimate, no source."""
MINUTES = {"panel": 4.0, "prediction": 2.0, "numbers": 1.5, "task": 2.5}
"""To open and understand a panel, to answer a prediction and read the reply, to read printed numbers, and to do what
stands after **Do**, **Look** or **Question**, or in a panel's steps. Estimates, no source."""
EXERCISE_MINUTES = {"predict": 1.5, "compute": 4.0, "read": 2.5, "explain": 3.0}
"""One exercise of each sort, with a pocket calculator: estimates, no source."""
START, END = 3.0, 2.0
"""To open the lesson and run it, and to say at the end in a sentence what was learnt. Estimates, no source."""
SLOTS = (45, 90)
ENOUGH_PRACTICE = 10.0
"""Minutes of exercises that should happen in class, where somebody can be asked."""

EVERY_TIME = "a computer with the kit for each learner or each two, paper, a pocket calculator"
BRING: dict[int, list[str]] = {int(number): things for number, things in beside(__file__)[1].items()}
"""What to bring besides, by lesson; common practice, no source."""


def to_bring(*lessons: Lesson) -> list[str]:
    """What to bring: what the lessons themselves say, and the things of ``BRING``."""
    return [EVERY_TIME, *(thing for one in lessons for thing in (one.bring, *BRING.get(one.number, ())) if thing)]


@dataclass(frozen=True)
class Step:
    """One thing that a class does, and how long it takes: whole minutes, one at least."""

    title: str
    minutes: int
    what: str = ""


def minutes_of(cells: Sequence[Cell]) -> float:
    """How long a learner needs for some cells, from what stands in them."""
    words = sum(cell.words for cell in cells)
    things = sum(MINUTES.get(cell.sort, 0.0) for cell in cells)
    tasks = sum(cell.tasks for cell in cells)
    return words / WORDS_A_MINUTE + things + MINUTES["task"] * tasks


def contents(section: Section) -> str:
    """``190 words, 1 prediction, 1 panel``: what a section holds."""
    tasks = sum(cell.tasks for cell in section.cells)
    counted = {
        "prediction": section.count("prediction"),
        "panel": section.count("panel"),
        "task": tasks,
        "table of numbers": section.count("numbers"),
    }
    many = {"table of numbers": "tables of numbers"}
    told = [f"{n} {name if n == 1 else many.get(name, name + 's')}" for name, n in counted.items() if n]
    return ", ".join([f"{section.words} words", *told])


def _whole(minutes: float) -> int:
    return max(1, math.ceil(minutes - 1e-9))


def class_path(lesson: Lesson) -> list[tuple[Section, Step]]:
    """The plain path: what is done with the whole class, without exercises, and how long each section takes."""
    opening = Step("Opening: open the lesson, goals, cautions", _whole(START + minutes_of(lesson.opening.cells)))
    path = [(lesson.opening, replace(opening, what=contents(lesson.opening)))]
    for section in lesson.sections:
        if section.title not in (*HOME_SECTIONS, EXERCISES) and not section.title.startswith(DEEPER):
            path.append((section, Step(section.title, _whole(minutes_of(section.cells)), contents(section))))
    return path


def class_steps(lesson: Lesson) -> list[Step]:
    """The steps of `class_path`."""
    return [step for _, step in class_path(lesson)]


def more_steps(lesson: Lesson) -> list[Step]:
    """For those who are ahead, or at home."""
    return [
        Step(section.title, _whole(minutes_of(section.cells)), contents(section))
        for section in lesson.sections
        if section.title in HOME_SECTIONS or section.title.startswith(DEEPER)
    ]


def exercise_steps(makers: Sequence[ExerciseTemplate]) -> list[Step]:
    return [
        Step(f"Exercise {k}: {maker.aim}", _whole(EXERCISE_MINUTES[maker.sort]), TITLES[maker.sort])
        for k, maker in enumerate(makers, 1)
    ]


@dataclass(frozen=True)
class Fitted:
    """A lesson cut into class lessons of so many minutes."""

    slot: int
    lessons: tuple[tuple[Step, ...], ...]
    at_home: tuple[Step, ...]


def fit(lesson: Lesson, makers: Sequence[ExerciseTemplate], slot: int) -> Fitted:
    """Put a lesson's parts and exercises into class lessons of ``slot`` minutes, in order.

    What the lesson lets go when time is short goes home where that saves a class lesson. Exercises fill the last class
    lesson, one of each sort first; where fewer than `ENOUGH_PRACTICE` minutes are left for them, one more is added.
    """
    path, exercises = class_steps(lesson), exercise_steps(makers)
    kept = [step for step in path if step.title != lesson.may_be_left_out]
    whole, short = (_fitted(steps, exercises, slot) for steps in (path, kept))
    if len(short.lessons) >= len(whole.lessons):
        return whole
    return Fitted(slot, short.lessons, (*(step for step in path if step not in kept), *short.at_home))


def _fitted(path: list[Step], exercises: list[Step], slot: int) -> Fitted:
    again = Step("Opening: what did we find last time?", _whole(START))
    end = Step("End: say in one sentence what you learned", _whole(END))
    lessons: list[list[Step]] = [[]]
    room = slot - end.minutes
    for step in _no_longer_than(path, room - again.minutes):
        if lessons[-1] and sum(s.minutes for s in lessons[-1]) + step.minutes > room:
            lessons.append([again])
        lessons[-1].append(step)
    left = room - sum(s.minutes for s in lessons[-1])
    wanted = min(ENOUGH_PRACTICE, sum(s.minutes for s in exercises))
    if exercises and left < wanted:
        lessons.append([again])
        left = room - again.minutes
    taken = chosen(exercises, left)
    lessons[-1] += taken
    home = tuple(step for step in exercises if step not in taken)
    return Fitted(slot, tuple((*steps, end) for steps in lessons), home)


def chosen(exercises: Sequence[Step], minutes: int) -> list[Step]:
    """Exercises that fit into so many minutes, in order; one of each sort is taken first."""
    first = list({step.what: step for step in reversed(exercises)}.values())[::-1]
    found: list[Step] = []
    for step in [*first, *(s for s in exercises if s not in first)]:
        if step.minutes <= minutes:
            found.append(step)
            minutes -= step.minutes
    return [step for step in exercises if step in found]


def _no_longer_than(path: list[Step], most: int) -> list[Step]:
    """Parts that no class lesson could hold, cut into pieces that it can."""
    found = []
    for step in path:
        pieces = math.ceil(step.minutes / most)
        for k in range(pieces):
            minutes = step.minutes // pieces + (k < step.minutes % pieces)
            title = step.title if pieces == 1 else f"{step.title} ({k + 1} of {pieces})"
            found.append(replace(step, title=title, minutes=minutes))
    return found


# ------------------------------------------------------------------------------------------------------------- on paper


def plan(lesson: Lesson, makers: Sequence[ExerciseTemplate]) -> dict[str, Any]:
    """What the page shows of a lesson beside goals and cautions.

    ``met``: misconceptions, what the exercise is for that meets each, and the question that repairs it.
    """
    return {
        "lesson": lesson,
        "bring": to_bring(lesson),
        "path": class_steps(lesson),
        "exercises": exercise_steps(makers),
        "more": more_steps(lesson),
        "fitted": [fit(lesson, makers, slot) for slot in SLOTS],
        "met": [(maker.misconception, maker.aim, repairing_question(maker)) for maker in makers],
    }


def repairing_question(maker: ExerciseTemplate) -> str:
    """What to ask where a misconception shows."""
    made = maker()
    asks = [m.repair for m in made.mistakes if m.repair.rstrip().endswith("?") and "wrong unit" not in m.name]
    asks += [reply for k, reply in enumerate(made.replies) if k != made.right and reply.rstrip().endswith("?")]
    asks += [hint for hint in made.hints if hint.rstrip().endswith("?")]
    return asks[0] if asks else made.question


def plans(lessons: Sequence[Lesson], makers: Sequence[ExerciseTemplate]) -> str:
    """All lesson plans as one page."""
    return filled(
        "plans.html",
        "Lesson plans",
        plans=[plan(lesson, [m for m in makers if m.lesson == lesson.number]) for lesson in lessons],
        markdown=markdown,
        words_a_minute=WORDS_A_MINUTE,
        minutes=MINUTES,
        exercise_minutes=EXERCISE_MINUTES,
        start=START,
        end=END,
    )
