"""Answers judged again, from the learner's own numbers: what a progress file says of itself is not believed.

A number alone was read in the units that were on display, which no file keeps: an answer stands if either system makes
of it what the file says.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

from oilkit.errors import InputError, cut
from oilkit.exercises import all_exercises, all_predictions, find, find_prediction, prediction_lesson
from oilkit.exercises.exercise import DONE, RIGHT, Exercise, Owner, Verdict, judge
from oilkit.exercises.progress import HINT, SOLUTION, TICKED, Entry, said_of
from oilkit.quantities.units import shown_in, unit_switch

TIME = re.compile(r"\d{4}-[01]\d-[0-3]\d [0-2]\d:[0-5]\d:[0-5]\d")


@dataclass(frozen=True)
class Odd:
    """A line that the kit would not have written for this learner."""

    entry: Entry
    why: str

    @property
    def forged(self) -> bool:
        """Whether it says right, and is not."""
        return self.entry.mark == RIGHT


@lru_cache(maxsize=4096)
def made_for(key: str, owner: Owner) -> Exercise:
    """An exercise as an owner has it, or a prediction, which all have alike. Raises `InputError` for neither."""
    return find_prediction(key) if key in all_predictions() else find(key)(owner)


def judged_again(owner: Owner, entries: Iterable[Entry]) -> tuple[list[Entry], list[Odd]]:
    """A learner's lines with marks as the kit gives them now, and those lines that said something else.

    What belongs to no exercise, or could not have been answered so, is left out; a wrong mark is put right.
    """
    kept, odd = [], []
    for entry in entries:
        new, why = _again(owner, entry)
        if why:
            odd.append(Odd(entry, why))
        if new is not None:
            kept.append(new)
    return kept, odd


def _again(owner: Owner, entry: Entry) -> tuple[Entry | None, str]:
    key = entry.exercise
    if key not in all_exercises() and key not in all_predictions():
        return None, f"there is no exercise “{cut(key)}” in lesson {entry.lesson:02d}"
    lesson = prediction_lesson(key) if key in all_predictions() else find(key).lesson
    if entry.lesson != lesson:
        return None, f"“{key}” is of lesson {lesson:02d}, not {entry.lesson:02d}"
    if not TIME.fullmatch(entry.time):
        return None, f"“{cut(entry.time)}” is no time"
    made = made_for(key, owner)
    if any(k >= len(made.points) for k in entry.points) or (
        entry.said and not entry.said.endswith(f" {len(made.points)}")
    ):
        return None, f"points “{entry.said}” of a model answer that has {len(made.points)}"
    if entry.mark in (HINT, SOLUTION, TICKED):
        return entry, ""
    found = list(verdicts(made, entry.answer))
    if not found:
        return None, f"“{cut(entry.answer)}” is no answer to “{key}”"
    same = next((verdict for verdict in found if verdict.mark == entry.mark), None)
    if same is not None:
        return replace(entry, mistake=same.mistake), ""
    now = found[0]
    said = said_of((), len(made.points)) if now.mark == DONE else ""
    of = "" if now.mark == DONE or key in all_predictions() else f" with the numbers of {owner.learner or 'nobody'}"
    why = f"“{cut(entry.answer)}” says “{entry.mark}” and is “{now.mark}”{of}"
    return replace(entry, mark=now.mark, mistake=now.mistake, said=said), why


def verdicts(made: Exercise, answer: str) -> Iterator[Verdict]:
    """What an answer is worth, in the units on display and, where a number alone stands in it, in the others too."""
    for system in sorted(unit_switch.systems, key=lambda system: system != unit_switch.system):
        try:
            with shown_in(system):
                yield judge(made, answer)
        except InputError:
            continue
        if made.answer is None:
            return


def right_with(owner: Owner, entries: Iterable[Entry]) -> int:
    """How many answers are right with an owner's numbers; of those in numbers, which differ among learners."""
    exercises = all_exercises()
    return sum(
        any(verdict.mark == RIGHT for verdict in verdicts(made_for(entry.exercise, owner), entry.answer))
        for entry in entries
        if entry.exercise in exercises and exercises[entry.exercise].sort in ("compute", "read")
    )
