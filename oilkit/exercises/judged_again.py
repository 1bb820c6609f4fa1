"""Answers judged again, from the learner's own numbers: what a progress file says of itself is not believed.

A number alone was read in the units that were on display, which no file keeps: an answer stands if either system makes
of it what the file says.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import lru_cache

from oilkit.errors import InputError, cut
from oilkit.exercises import all_exercises, all_predictions, find, find_prediction, prediction_lesson
from oilkit.exercises.exercise import DONE, MISTAKE, NOBODY, RIGHT, ROUGH, WRONG, Exercise, Owner, Verdict, judge, near
from oilkit.exercises.progress import HINT, SOLUTION, TICKED, Entry, said_of
from oilkit.quantities.typed import parse
from oilkit.quantities.units import shown_in, unit_switch

SAID = {RIGHT: "right", ROUGH: "nearly right", MISTAKE: "wrong", WRONG: "wrong", DONE: "kept to be read"}
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


@lru_cache(maxsize=65536)
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
        if not why and not TIME.fullmatch(entry.time):  # a spreadsheet's doing, perhaps: the answer counts
            why = f"“{cut(entry.time)}” is no time as the kit writes it"
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
    if SAID[now.mark] == SAID[entry.mark]:  # wrong either way, by another mistake than was noted
        return replace(entry, mark=now.mark, mistake=now.mistake), ""
    title = f" to “{find(key).aim}”" if key in all_exercises() else " to a prediction"
    why = f"“{cut(entry.answer)}”{title} (lesson {lesson:02d}) is {SAID[now.mark]}, not {SAID[entry.mark]}"
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


def fits(entries: Iterable[Entry], owners: Iterable[Owner]) -> list[Owner]:
    """Learners with whose numbers some answers are right: all of them, or else all but one, and two at the least.

    entries: of exercises with a number for an answer; others do not count.
    """
    given = []
    for entry in entries:
        kind = made_for(entry.exercise, NOBODY).kind if entry.exercise in all_exercises() else None
        values = set()
        if kind is not None:
            for system in unit_switch.systems:
                with shown_in(system), suppress(InputError):
                    values.add(parse("answer", entry.answer, kind))
        if values:
            given.append((entry.exercise, values))
    if len(given) < 2:
        return []
    off = {owner: _wrong(given, owner) for owner in owners}
    least = min(off.values(), default=2)
    return [owner for owner, wrong in off.items() if wrong == least <= min(1, len(given) - 2)]


def _wrong(given: list[tuple[str, set[float]]], owner: Owner) -> int:
    """How many answers are wrong with an owner's numbers; two stand for more."""
    wrong = 0
    for key, values in given:
        truth, within = _truth(key, owner)
        wrong += not any(near(value, truth, within) for value in values)
        if wrong > 1:
            break
    return wrong


@lru_cache(maxsize=65536)
def _truth(key: str, owner: Owner) -> tuple[float, float]:
    """The right number in SI, and how far an answer may be off."""
    made = made_for(key, owner)
    assert made.answer is not None
    assert made.kind is not None
    return float(made.answer.m_as(made.kind.si)), made.within
