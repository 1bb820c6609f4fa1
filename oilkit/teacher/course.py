"""A course of the lessons: calendars, a page to start each meeting with, end test, practical check, certificate.

What stands in a lesson, an exercise or on a job card is taken from there; ``course.toml`` holds the rest.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from oilkit.errors import InputError
from oilkit.exercises import all_exercises, find, find_prediction
from oilkit.exercises.exercise import Exercise, ExerciseTemplate, Owner
from oilkit.quantities.printed import text
from oilkit.quantities.records import beside
from oilkit.shop.acceptance import acceptance_card
from oilkit.shop.cards import CARDS
from oilkit.shop.faults import FAULTS, case, demo_set_up
from oilkit.teacher.lesson import STEP, Cell, Lesson, Section
from oilkit.teacher.pages import filled, markdown
from oilkit.teacher.plans import (
    END,
    EXERCISE_MINUTES,
    START,
    Step,
    chosen,
    class_path,
    exercise_steps,
    repairing_question,
    to_bring,
)
from oilkit.teacher.sheets import Own, key_by_learner, sheet

TOLD: dict[str, Any] = beside(__file__)[1]
CALENDARS = tuple(key for key, told in TOLD.items() if isinstance(told, dict) and "meeting" in told)
MOST_MET = 9
"""Misconceptions that a page to start with has room for."""
VERSIONS = ("version A", "version B")
PRACTICAL = "Practical check"


@dataclass(frozen=True)
class Meeting:
    """One meeting of a course: what fits into it, in order, and what goes home."""

    number: int
    lessons: tuple[Lesson, ...]
    sections: tuple[Section, ...]
    steps: tuple[Step, ...]
    home: tuple[Step, ...]
    left_out: tuple[str, ...]
    makers: tuple[ExerciseTemplate, ...]
    """Exercises of its lessons."""
    practised: tuple[str, ...]
    """Lessons whose exercises are done in it."""
    told: dict[str, Any]

    @property
    def title(self) -> str:
        return " and ".join([*(lesson.title for lesson in self.lessons), *(["End test"] if self.test else [])])

    @property
    def test(self) -> bool:
        return bool(self.told.get("test"))

    @property
    def minutes(self) -> int:
        return sum(step.minutes for step in self.steps)

    @property
    def clock(self) -> list[tuple[int, Step]]:
        """Each step with the minute at which it begins."""
        return [(sum(step.minutes for step in self.steps[:k]), step) for k, step in enumerate(self.steps)]

    @property
    def alone(self) -> list[tuple[int, int]]:
        """Minutes from and to which the class works alone, so that groups can be at the bench; neighbors as one."""
        begins = (*self.told.get("alone", ()), PRACTICAL)
        found: list[tuple[int, int]] = []
        for at, step in self.clock:
            if step.title.startswith(begins):
                start = found.pop()[0] if found and found[-1][1] == at else at
                found.append((start, at + step.minutes))
        return found

    @property
    def _cells(self) -> list[Cell]:
        return [cell for section in self.sections for cell in section.cells]

    @cached_property
    def panels(self) -> list[tuple[str, list[str], str]]:
        """What to show: each panel's title, its steps, its picture."""
        shown = [cell for cell in self._cells if cell.sort == "panel" and cell.png]
        return [(cell.text.strip().partition("\n")[0], STEP.findall(cell.text), cell.png) for cell in shown]

    @cached_property
    def predictions(self) -> list[tuple[Exercise, str]]:
        """Each prediction with its right answer."""
        asked = [cell.source.partition('("')[2].partition('"')[0] for cell in self._cells if cell.sort == "prediction"]
        made = [find_prediction(name) for name in asked]
        return [(one, one.options[one.right] if one.answer is None else text(one.answer)) for one in made]

    @property
    def bring(self) -> list[str]:
        return to_bring(*self.lessons)

    @property
    def begun(self) -> list[Lesson]:
        """Lessons whose goals belong to it: not those of which it has but a part, beside another."""
        return [lesson for lesson in self.lessons if lesson.opening in self.sections or len(self.lessons) == 1]

    @property
    def cautions(self) -> list[str]:
        return [caution for lesson in self.lessons for caution in lesson.cautions]

    @cached_property
    def met(self) -> list[tuple[str, str]]:
        """Likely misconceptions, each with the question that repairs it; a few where no exercises are done yet."""
        mine = [maker for maker in self.makers if f"{maker.lesson:02d}" in self.practised] or self.makers[:5]
        few = mine[:: -(-len(mine) // MOST_MET)] if mine else ()
        return [(maker.misconception, repairing_question(maker)) for maker in few]

    @cached_property
    def closing(self) -> Exercise | None:
        """The question at the end, with what an answer has to say: an exercise in words of the last lesson."""
        asked = [maker for maker in self.makers if maker.sort == "explain" and maker.lesson == self.lessons[-1].number]
        return asked[self.told.get("closing", 0)]() if asked and not self.test else None


def meetings(which: str, lessons: Sequence[Lesson]) -> list[Meeting]:
    """The meetings of a calendar, one of ``CALENDARS``. Exercises come when a lesson is met for the last time, or where
    the calendar says so.
    """
    told = TOLD[which]["meeting"]
    last = {number: k for k, one in enumerate(told) for number in one["lessons"]}
    paths = {
        (number := f"{lesson.number:02d}"): [(f"{number} {s.title}", s, step) for s, step in class_path(lesson)]
        for lesson in lessons
    }
    held = {name for one in told for number in one["lessons"] for name, _, _ in paths[number] if _held(one, name)}
    found = []
    for k, one in enumerate(told):
        ending = [number for number in one["lessons"] if last[number] == k]
        out = [name for number in ending for name, _, _ in paths[number] if name not in held]
        whole = [row for number in one["lessons"] for row in paths[number]]
        found.append(_meeting(k, one, lessons, whole, one.get("exercises", ending), out))
    return found


def held_by(which: str, number: int, lessons: Sequence[Lesson]) -> list[int]:
    """Lessons whose exercises are done by the end of a meeting. Raises `InputError` for one that there is not."""
    held = meetings(which, lessons)
    if not 1 <= number <= len(held):
        raise InputError("meeting", f"{number}", f"one from 1 to {len(held)}, of {TOLD[which]['title'].lower()}")
    return sorted({int(lesson) for one in held[:number] for lesson in one.practised})


def _held(told: dict[str, Any], name: str) -> bool:
    out = told.get("leave_out", [])
    return name.startswith(tuple(told.get("only", told["lessons"]))) and not any(map(name.startswith, out))


def _meeting(
    k: int,
    told: dict[str, Any],
    lessons: Sequence[Lesson],
    whole: Sequence[tuple[str, Section, Step]],
    practised: Sequence[str],
    out: Sequence[str],
) -> Meeting:
    """One meeting: what it holds of the ``whole`` of its lessons, then exercises, as many as there is time for."""
    several = len(told["lessons"]) > 1

    def named(step: Step, number: str) -> Step:
        return replace(step, title=f"{number}, {step.title}") if several else step

    steps = [named(step, name[:2]) for name, _, step in whole if _held(told, name)]
    if k and not (steps and "Opening" in steps[0].title):
        steps.insert(0, Step("Opening: what did we find last time?", round(START)))
    end = Step("Collect the sheets; say when marks come" if told.get("test") else "Closing question", round(END))
    if told.get("test"):
        steps.append(Step("End test, written, alone; neighbors have different versions", minutes_at_end()))
    left = TOLD["minutes"] - end.minutes - sum(step.minutes for step in steps)
    if told.get("test") or told.get("practical"):
        steps.append(Step(f"{PRACTICAL}: the next groups", left))
        left = 0
    makers = [maker for maker in all_exercises().values() if f"{maker.lesson:02d}" in told["lessons"]]
    home = [named(step, name[:2]) for name, _, step in whole if any(map(name.startswith, told.get("home", [])))]
    for number in practised:
        mine = exercise_steps([maker for maker in makers if f"{maker.lesson:02d}" == number])
        skipped = [f"Exercise {n}: " for n in told.get("skip", {}).get(number, ())]
        mine = [step for step in mine if not step.title.startswith(tuple(skipped) or ("-",))]
        taken = chosen(mine, left)
        left -= sum(step.minutes for step in taken)
        steps += [named(step, number) for step in _together(taken)]
        home += [named(step, number) for step in _together([step for step in mine if step not in taken])]
    its = tuple(lesson for lesson in lessons if f"{lesson.number:02d}" in told["lessons"])
    sections = tuple(section for name, section, _ in whole if _held(told, name))
    return Meeting(k + 1, its, sections, (*steps, end), tuple(home), tuple(out), tuple(makers), tuple(practised), told)


def _together(exercises: Sequence[Step]) -> list[Step]:
    """Exercises as one step: ``Exercises 1, 2, 5``."""
    numbers = [step.title.partition(":")[0].removeprefix("Exercise ") for step in exercises]
    minutes = sum(step.minutes for step in exercises)
    return [Step(f"Exercise{'s' if len(numbers) > 1 else ''} {', '.join(numbers)}", minutes)] if numbers else []


@dataclass(frozen=True)
class Timetable:
    """Who of a class takes the practical check when."""

    learners: int
    groups: int
    minutes: int
    """Of a turn: a group and a job."""
    stations: tuple[str, ...]
    """The job at each station; as many stations of a job as are needed."""
    rounds: tuple[tuple[int, int, tuple[int, ...]], ...]
    """Meeting, minute at which it begins, and the group at each station; 0 for none."""
    alone: int
    """Learners for whom there is time where one teacher stands beside all of them, one station after the other."""


def timetable(which: str, held: Sequence[Meeting], learners: int) -> Timetable:
    """The practical check of a class, in rounds that fit where the class works alone; as few stations as will do."""
    size, jobs = TOLD["practical"]["group"], [CARDS[key] for key in TOLD[which]["jobs"]]
    minutes = TOLD["practical"]["act"] * max(len(job.acts) for job in jobs)
    begins = [(one.number, at) for one in held for a, b in one.alone for at in range(a, b - minutes + 1, minutes)]
    groups = -(-learners // size)
    each = next(n for n in range(1, groups + 1) if -(-groups // n) + len(jobs) - 1 <= len(begins))
    rounds = []
    for k, (number, at) in enumerate(begins[: -(-groups // each) + len(jobs) - 1]):
        there = (each * (k - j) + n for j in range(len(jobs)) for n in range(1, each + 1))  # each job one round later
        rounds.append((number, at, tuple(group if 0 < group <= groups else 0 for group in there)))
    stations = tuple(job.title for job in jobs for _ in range(each))
    return Timetable(learners, groups, minutes, stations, tuple(rounds), len(begins) // len(jobs) * size)


def calendar(which: str, lessons: Sequence[Lesson]) -> str:
    """A calendar, and a page to start each of its meetings with."""
    held = meetings(which, lessons)
    met = {lesson.number for one in held for lesson in one.lessons}
    whys = TOLD[which]["not_held"]
    left = [(lesson.title, whys.get(f"{lesson.number:02d}", "")) for lesson in lessons if lesson.number not in met]
    struck = [k for k, maker in enumerate(asked_at_end(), 1) if maker.lesson not in met]
    return filled(
        "course.html",
        TOLD[which]["title"],
        course=TOLD[which],
        held=held,
        left=left,
        all=TOLD,
        struck=struck,
        markdown=markdown,
    )


# ------------------------------------------------------------------------------------------------------ at the end


def asked_at_end() -> list[ExerciseTemplate]:
    """What the end test asks, in order."""
    return [find(key) for key in TOLD["test"]["exercises"]]


def minutes_at_end() -> int:
    """How long it takes: as long as its exercises."""
    return round(sum(EXERCISE_MINUTES[maker.sort] for maker in asked_at_end()))


def end_test(group: str) -> tuple[str, str]:
    """The end test in two versions, and its key. Its numbers are those of nobody in the class."""
    rows = [[Own(maker, Owner(f"{group} end test", name)) for maker in asked_at_end()] for name in VERSIONS]
    points = TOLD["test"]["points"]
    whole = sum(points[maker.sort] for maker in asked_at_end())
    needed = -(-whole * TOLD["test"]["pass"] // 100)
    says = TOLD["test"]["says"].format(minutes=minutes_at_end(), whole=whole, needed=needed)
    pages = TOLD["test"]["pages"]
    return (
        sheet("End test", "End test", rows, pages=pages, says=says, points=points),
        key_by_learner(f"End test ({needed} of {whole} points pass)", rows, points=points),
    )


def practical(whole: Sequence[tuple[str, Timetable]] = ()) -> str:
    """The practical check: jobs from the job cards, acceptance with a card of the demo set-up, one fault; to sign.

    whole: of each course its title, and which group comes when.
    """
    found = [(number, FAULTS[case(number).fault]) for number in TOLD["practical"]["cases"]]
    return filled(
        "practical.html",
        "Practical check",
        jobs=[CARDS[key] for key in TOLD[CALENDARS[0]]["jobs"]],
        card=[value for value in acceptance_card(demo_set_up()) if value.reading in TOLD["practical"]["readings"]],
        cases=found,
        faults=FAULTS.values(),
        whole=whole,
        told=TOLD["practical"],
        text=text,
    )


def certificate(owners: Sequence[Owner]) -> str:
    """A page for each learner: it certifies nothing but having passed this course's test."""
    return filled("certificate.html", "Certificate", owners=owners, told=TOLD["certificate"])


def course_pages(lessons: Sequence[Lesson], owners: Sequence[Owner]) -> dict[str, str]:
    """All of it, by the files' names in the pack; a calendar only where all of its lessons are there."""
    there = {f"{lesson.number:02d}" for lesson in lessons}
    known = [w for w in CALENDARS if there.issuperset(n for one in TOLD[w]["meeting"] for n in one["lessons"])]
    test, key = end_test(owners[0].group)
    learners = sum(bool(owner.learner) for owner in owners) or TOLD["practical"]["usual"]
    whole = [(TOLD[which]["title"], timetable(which, meetings(which, lessons), learners)) for which in known]
    pages = {f"course/{which.replace('_', '-')}.html": calendar(which, lessons) for which in known}
    return pages | {
        "course/end-test.html": test,
        "course/end-test-key.html": key,
        "course/practical.html": practical(whole),
        "course/certificates.html": certificate(owners),
    }
