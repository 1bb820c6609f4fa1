"""The mark book: what a class has answered, judged again, from the files in which the learners' answers are kept.

`mark_book` judges what `oilkit.teacher.collect.gather` has read; `oilkit.teacher.marks_files` writes tables and a page,
and reads back what a teacher has typed into the table of what is marked by hand.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations

from oilkit.errors import InputError, cut
from oilkit.exercises import all_exercises
from oilkit.exercises.exercise import DONE, NOBODY, RIGHT, ExerciseTemplate, Owner
from oilkit.exercises.judged_again import Odd, fits, judged_again, made_for
from oilkit.exercises.progress import Entry, Mark, enough_said, in_time, mark_of
from oilkit.teacher.collect import TRIED, Found
from oilkit.teacher.sheets import called

COPIED = 3
"""Answers that two files have in common to the second, from which on one may be a copy of the other: chosen."""
SHOWN = 3
"""Odd lines of one learner that are told in full."""
HELD = 0.5
"""Share of those who have answered anything, from whom on a lesson in which they did something was held: chosen."""


@dataclass(frozen=True)
class ByHand:
    """What a teacher typed beside an answer in words, or beside withheld points."""

    points: str
    remark: str
    answer: str
    """The answer that was read."""
    owner: Owner
    lesson: str
    aim: str

    @property
    def worth(self) -> float | None:
        """Points from 0 to 1, or None if there are none yet. Raises `InputError` for anything else."""
        if not self.points.strip():
            return None
        try:
            worth = float(self.points.strip().replace(",", "."))
        except ValueError:
            worth = -1.0
        if not 0.0 <= worth <= 1.0:
            raise InputError("points by hand", f"“{cut(self.points)}”", "a number from 0 to 1, or nothing")
        return worth


@dataclass(frozen=True)
class Row:
    """One exercise of one learner who did something in it."""

    owner: Owner
    maker: ExerciseTemplate
    mark: Mark
    words: Entry | None = None
    """The last answer in words."""
    by_hand: ByHand | None = None
    withheld: float = 0.0
    """Points that rest on answers in common with another learner, while the teacher has not decided."""

    @property
    def points(self) -> float:
        """By hand, where a teacher has marked it."""
        worth = self.by_hand.worth if self.by_hand else None
        return self.mark.points - self.withheld if worth is None else worth

    @property
    def changed(self) -> bool:
        """Whether there is another answer than the one that was marked by hand."""
        marked = self.by_hand is not None and self.words is not None and self.by_hand.points != ""
        return marked and _plain(self.by_hand.answer) != _plain(self.words.answer)  # type: ignore[union-attr]


def one_line(words: str) -> str:
    """An answer of several lines on one."""
    return " / ".join(line.strip() for line in words.splitlines() if line.strip())


def _plain(words: str) -> str:
    """Without what a table adds so that no spreadsheet takes words for a formula."""
    return " ".join(one_line(words).replace("'", "").split())


def hand_key(owner: Owner, lesson: object, aim: str) -> tuple[str, ...]:
    """By which a mark given by hand is found again."""
    return (_plain(owner.group).casefold(), _plain(owner.learner).casefold(), str(lesson), _plain(aim))


@dataclass(frozen=True)
class Alike:
    """Answers that a learner has in common with another to the second: whose they are, the teacher says."""

    owner: Owner
    other: Owner
    count: int
    resting: Mapping[str, float]
    """By exercise, points that rest on those of them that are right with either's numbers."""
    by_hand: ByHand | None = None

    @property
    def aim(self) -> str:
        return f"in common with {called(self.other)}"

    @property
    def points(self) -> float:
        return sum(self.resting.values())

    @property
    def says(self) -> str:
        return f"{self.count} answers to the second; points that rest on them: {self.points:g}"

    @property
    def share(self) -> float:
        """How much of these points counts: none, until the teacher has decided."""
        return (self.by_hand.worth or 0.0) if self.by_hand else 0.0


@dataclass(frozen=True)
class Usual:
    """A mistake over the class, and what to ask."""

    maker: ExerciseTemplate
    name: str
    ask: str
    learners: tuple[Owner, ...]
    of: int
    """How many tried the exercise."""

    @property
    def says(self) -> str:
        return f"{len(self.learners)} of {self.of} in lesson {self.maker.lesson:02d}, “{self.maker.aim}”: {self.name}"


@dataclass(frozen=True)
class Book:
    """A mark book. Of a lesson ``of`` points can be had; sums are over lessons that were ``held``."""

    rows: dict[Owner, dict[str, Row]] = field(repr=False)
    """What each learner did, by the exercises' keys."""
    of: dict[int, int]
    held: tuple[int, ...]
    held_by: str
    """What says that these were held."""
    told: tuple[str, ...]
    """What a teacher should look at."""
    left_out: tuple[str, ...]
    """A sentence for each file that does not count."""
    unread: frozenset[Owner]
    """Learners of whom a file cannot be used."""
    alike: tuple[Alike, ...] = ()
    without_answer: tuple[ByHand, ...] = ()
    """Marked by hand, and the answer is no longer there."""

    def points(self, owner: Owner, lesson: int) -> float | None:
        """Sum of a lesson; None if nothing was done in it."""
        done = [row.points for row in self.rows[owner].values() if row.maker.lesson == lesson]
        return sum(done) if done else None

    def sum(self, owner: Owner) -> float:
        return sum(row.points for row in self.rows[owner].values() if row.maker.lesson in self.held)

    @property
    def whole(self) -> int:
        """Points that can be had in the lessons held."""
        return sum(self.of[lesson] for lesson in self.held)

    @property
    def held_says(self) -> str:
        """Over which lessons the sums are."""
        return f"{', '.join(f'{lesson:02d}' for lesson in self.held) or 'none yet'} ({self.held_by})"

    @property
    def each(self) -> list[Row]:
        return [row for rows in self.rows.values() for row in rows.values()]

    @property
    def mistakes(self) -> list[Usual]:
        """Usual mistakes, the most frequent first."""
        who: dict[tuple[str, str, str], dict[Owner, None]] = {}
        for row in self.each:
            for name in row.mark.mistakes:
                who.setdefault((row.maker.key, *_named(row, name)), {})[row.owner] = None
        tried = Counter(row.maker.key for row in self.each if row.mark.tries)
        known = all_exercises()
        found = [Usual(known[key], name, ask, tuple(by), tried[key]) for (key, name, ask), by in who.items()]
        return sorted(found, key=lambda one: (-len(one.learners), one.maker.lesson, one.maker.key))


def _named(row: Row, name: str) -> tuple[str, str]:
    """A mistake and the question to it; of a choice as everybody has it, for numbers in it differ."""
    own = made_for(row.maker.key, row.owner)
    if name in own.options:
        usual, k = made_for(row.maker.key, NOBODY), own.options.index(name)
        alike = len(usual.options) == len(own.options) and usual.right == own.right
        usual = usual if alike else own
        return usual.options[k], usual.replies[k]
    repairs = {mistake.name: mistake.repair for mistake in own.mistakes + made_for(row.maker.key, NOBODY).mistakes}
    return name, repairs.get(name, "Which unit did you compute in?")


# ------------------------------------------------------------------------------------------------------------ the book


def mark_book(
    found: Found, by_hand: Iterable[ByHand] = (), held: Iterable[int] | None = None, held_by: str = "as you said"
) -> Book:
    """The mark book of a class; what two have answered together counts for both.

    by_hand: what a teacher typed; held: lessons over which the sums are, and held_by: what says so. If not given, those
    in which at least half of all who answered anything have done something. Raises `InputError` for one without
    exercises.
    """
    answers: dict[Owner, list[Entry]] = {}
    odd: dict[Owner, list[Odd]] = {}
    for owner, lines in found.lines.items():
        answers[owner], odd[owner] = judged_again(owner, lines)
    every: dict[Owner, list[Entry]] = {owner: [] for owner in found.owners}
    for owner in answers:
        for one in found.members(owner):
            every[one] = in_time([*every[one], *answers[owner]])
    hand = {hand_key(one.owner, one.lesson, one.aim): one for one in by_hand}
    alike, about_copies = _in_common(found, answers, every, hand)
    rows = {owner: _rows(owner, lines, hand, alike) for owner, lines in every.items()}
    told = [*found.told, *_about_answers(found, odd), *about_copies]
    for gone in hand.values():
        where = f"lesson {gone.lesson}, “{gone.aim}”" if gone.lesson else f"“{gone.aim}”"
        told.append(f"Marked by hand, but no longer there: {called(gone.owner)}, {where}.")
    for row in (row for its in rows.values() for row in its.values() if row.changed):
        told.append(f"{called(row.owner)} changed an answer after it was marked by hand: “{row.maker.aim}”.")
    of = dict(Counter(maker.lesson for maker in all_exercises().values()))
    if unknown := {*(held or ())} - {*of}:
        raise InputError("lessons", ", ".join(map(str, sorted(unknown))), f"some of {min(of)} to {max(of)}")
    if held is None:
        held, held_by = _held(rows), "where half of all who answered have done something; --lessons or --meeting says"
    return Book(
        rows, of, tuple(sorted({*held})), held_by, tuple(told), tuple(found.left_out), frozenset(found.unread),
        tuple(alike), tuple(hand.values()),
    )  # fmt: skip


def _held(rows: Mapping[Owner, Mapping[str, Row]]) -> list[int]:
    did = [{row.maker.lesson for row in its.values()} for its in rows.values() if its]
    return [lesson for lesson, count in Counter(one for its in did for one in its).items() if count >= HELD * len(did)]


def _rows(
    owner: Owner, entries: list[Entry], hand: dict[tuple[str, ...], ByHand], alike: Sequence[Alike]
) -> dict[str, Row]:
    rows = {}
    withheld: dict[str, float] = {}
    for its in (one for one in alike if one.owner == owner):
        for key, points in its.resting.items():
            withheld[key] = max(withheld.get(key, 0.0), points * (1.0 - its.share))
    for key, maker in all_exercises().items():
        mine = [entry for entry in entries if entry.exercise == key]
        if mine:
            words = next((e for e in reversed(mine) if e.mark == DONE), None)
            marked = hand.pop(hand_key(owner, maker.lesson, maker.aim), None)
            rows[key] = Row(owner, maker, mark_of(mine, key), words, marked, withheld.get(key, 0.0))
    return rows


def _about_answers(found: Found, odd: Mapping[Owner, list[Odd]]) -> list[str]:
    told = []
    for owner, lines in odd.items():
        if not lines:
            continue
        right = [one for one in found.lines[owner] if one.mark == RIGHT] if any(one.forged for one in lines) else []
        everybody = (*found.owners, *(pair for pair in found.both if pair in found.lines), NOBODY)
        whose = [called(other) for other in fits(right[:TRIED], everybody)[:3] if other != owner]
        like = f" They fit the numbers of {' or '.join(whose)}." if whose else ""
        more = f"; and {len(lines) - SHOWN} more" if len(lines) > SHOWN else ""
        whys = "; ".join(one.why for one in lines[:SHOWN])
        told.append(f"{called(owner)}, judged again: {whys}{more}.{like}")
    return told


# --------------------------------------------------------------------------------------------------- answers in common


def _in_common(
    found: Found,
    answers: Mapping[Owner, list[Entry]],
    every: Mapping[Owner, list[Entry]],
    hand: dict[tuple[str, ...], ByHand],
) -> tuple[list[Alike], list[str]]:
    """Who has the same answers as somebody else at the same seconds, and what a teacher should know of it.

    An answer that is right with one's numbers and not with the other's counts for whom it is right: these numbers tell.
    Points on any other rest with both until the teacher decides, for nothing tells who wrote it, or if both did.
    answers: by learner and pair; every: by learner, those of pairs included.
    """
    who: dict[tuple[str, ...], list[Owner]] = {}
    for owner, entries in found.lines.items():
        for line in dict.fromkeys(_line(entry) for entry in entries if entry.answer):
            who.setdefault(line, []).append(owner)
    common: dict[tuple[Owner, Owner], set[tuple[str, ...]]] = {}
    for line, several in who.items():
        for two in combinations(several, 2):
            common.setdefault(two, set()).add(line)
    alike: list[Alike] = []
    told: list[str] = []
    for two, lines in common.items():
        if len(lines) < COPIED or {*found.members(two[0])} & {*found.members(two[1])}:  # a pair and one of it
            continue
        right = [{_line(entry) for entry in answers[owner] if entry.mark in (RIGHT, DONE)} for owner in two]
        unclear = lines & right[0] & right[1]
        its = [
            Alike(one, other, len(lines), _resting(every[one], unclear))
            for owner, other in (two, two[::-1])
            for one in found.members(owner)
        ]
        its = [replace(one, by_hand=hand.pop(hand_key(one.owner, "", one.aim), None)) for one in its]
        told.append(_says_in_common(two, its))
        alike += its
    return alike, told


def _line(entry: Entry) -> tuple[str, ...]:
    return entry.time, entry.exercise, entry.answer


def _resting(entries: Sequence[Entry], lines: set[tuple[str, ...]]) -> dict[str, float]:
    """By exercise, the points that a learner would not have without these lines."""
    others = [entry for entry in entries if _line(entry) not in lines]
    found = {key: mark_of(entries, key).points - mark_of(others, key).points for _, key, _ in lines}
    return {key: points for key, points in found.items() if points > 0.0}


def _says_in_common(two: Sequence[Owner], alike: Sequence[Alike]) -> str:
    begin = f"{called(two[0])} and {called(two[1])} have {alike[0].count} answers in common to the second"
    its = [one for one in alike if one.points]
    if not its:
        return f"{begin}; their own numbers tell whose are right, so nothing is withheld."
    if all(one.by_hand and one.by_hand.worth is not None for one in its):
        return f"{begin}; what counts of them is marked by hand."
    points = ", ".join(f"{called(one.owner)} {one.points:g}" for one in its)
    return (
        f"{begin}: a file that was copied, or work done together. Points that are right for both are withheld from "
        f"both until you decide, in the table whose name ends with -words: {points}."
    )


def counts_in_words(row: Row) -> str:
    """Which points of the model answer a learner has marked, and whether that is enough."""
    if row.words is None or not row.words.said:
        return ""
    return f"{row.words.said}{'' if enough_said(row.words) else ' (too few)'}"
