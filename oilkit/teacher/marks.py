"""The mark book: what a class has answered, judged again, from the files in which the learners' answers are kept.

`mark_book` reads and judges, `sheets` writes what it found as tables for a spreadsheet, `page` as one page. What a
teacher has typed into the table of answers in words comes back when the book is made again.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations
from pathlib import Path

from oilkit.errors import InputError, cut
from oilkit.exercises import all_exercises
from oilkit.exercises.class_list import pairs
from oilkit.exercises.exercise import DONE, NOBODY, RIGHT, ExerciseTemplate, Owner
from oilkit.exercises.judged_again import Odd, fits, judged_again, made_for
from oilkit.exercises.progress import COLUMNS, Entry, Mark, enough_said, file_name, in_time, mark_of, read_entries
from oilkit.storage.saving import LONGEST
from oilkit.storage.textfile import shown
from oilkit.teacher.sheets import called

COPIED = 3
"""Answers that two files have in common to the second, from which on one is taken for a copy: chosen."""
TRIED = 6
"""Answers by which it is found out whose numbers they belong to."""
SHOWN = 3
"""Odd lines of one learner that are told in full."""


@dataclass(frozen=True)
class ByHand:
    """What a teacher typed beside an answer in words."""

    points: str
    remark: str
    answer: str
    """The answer that was read."""
    owner: Owner
    lesson: int
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

    @property
    def points(self) -> float:
        """By hand, where a teacher has marked it."""
        worth = self.by_hand.worth if self.by_hand else None
        return self.mark.points if worth is None else worth

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


def hand_key(owner: Owner, lesson: int, aim: str) -> tuple[str, ...]:
    """By which a mark given by hand is found again."""
    return (_plain(owner.group).casefold(), _plain(owner.learner).casefold(), str(lesson), _plain(aim))


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
    """A mark book. Of a lesson ``of`` points can be had."""

    rows: dict[Owner, dict[str, Row]] = field(repr=False)
    """What each learner did, by the exercises' keys."""
    of: dict[int, int]
    told: tuple[str, ...]
    """What a teacher should look at."""
    damaged: tuple[str, ...]
    """A sentence for each file that cannot be used."""
    unread: frozenset[Owner]
    """Learners of whom a file is among these."""
    without_answer: tuple[ByHand, ...] = ()
    """Marked by hand, and the answer is no longer there."""

    def points(self, owner: Owner, lesson: int) -> float | None:
        """Sum of a lesson; None if nothing was done in it."""
        done = [row.points for row in self.rows[owner].values() if row.maker.lesson == lesson]
        return sum(done) if done else None

    def sum(self, owner: Owner) -> float:
        return sum(row.points for row in self.rows[owner].values())

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
        usual = usual if len(usual.options) == len(own.options) else own
        return usual.options[k], usual.replies[k]
    repairs = {mistake.name: mistake.repair for mistake in own.mistakes + made_for(row.maker.key, NOBODY).mistakes}
    return name, repairs.get(name, "Which unit did you compute in?")


# ---------------------------------------------------------------------------------------------------- whose is a file


def files_in(folder: Path | str) -> list[Path]:
    """Files of a folder and those below it that are progress files by their name or by their first line.

    Raises `InputError` for a folder that is not there.
    """
    place = Path(folder)
    if not place.is_dir():
        raise InputError("folder", repr(place.name), "a folder with progress files")
    found = (path for path in sorted(place.rglob("*.csv")) if not path.name.startswith("."))  # such as a copier's own
    return [path for path in found if "progress" in path.name.lower() or _begins(path)]


def _begins(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            return file.read(100).lstrip(b"\xef\xbb\xbf").startswith(",".join(COLUMNS[:-1]).encode())
    except OSError:
        return False


def owner_of(path: Path, names: Mapping[str, Owner]) -> Owner | None:
    """Whose file it is by its name, also as ``Copy of … (1).csv``; None if nobody's. names: see `file_name`."""
    stem = path.stem.casefold()
    if owner := names.get(stem):
        return owner
    parts = re.findall(r"progress[a-z0-9-]*-\d{5}(?!\w)", stem)
    if re.fullmatch(r"(copy of )?progress( ?\(\d+\)| - copy)?", stem):
        parts = ["progress"]
    return next((names[part] for part in parts if part in names), None)


# ------------------------------------------------------------------------------------------------------------ the book


def mark_book(owners: Sequence[Owner], files: Iterable[Path], by_hand: Iterable[ByHand] = ()) -> Book:
    """The mark book of a class from any files, wherever they lie and however many one learner has.

    Lines of several files of one learner all count, equal ones once; what two have answered together counts for both.
    by_hand: what a teacher typed beside answers in words.
    """
    files = list(files)
    every = pairs(owners)
    names = {file_name(owner).removesuffix(".csv"): owner for owner in (*every, *owners)}
    theirs: dict[Owner | None, list[Path]] = {}
    for path in files:
        theirs.setdefault(owner_of(path, names), []).append(path)
    both = {pair: two for pair, two in every.items() if pair in theirs}
    everybody = (*owners, *both)
    damaged: dict[Path, str] = {}
    lines: dict[Path, list[Entry]] = {}
    for path in files:
        try:
            lines[path] = read_entries(path)
        except InputError as problem:
            damaged[path] = str(problem)
    written: dict[Owner, list[Entry]] = {}
    answers: dict[Owner, list[Entry]] = {}
    odd: dict[Owner, list[Odd]] = {}
    for owner in everybody:
        written[owner] = _union([lines[path] for path in theirs.get(owner, ()) if path in lines])
        answers[owner], odd[owner] = judged_again(owner, written[owner])
    told = _about_names(owners, both, theirs, lines) + _about_answers(odd, written)
    told += _copied(written)
    for pair, two in both.items():
        for owner in two:
            answers[owner] = in_time([*answers[owner], *answers[pair]])
    hand = {hand_key(one.owner, one.lesson, one.aim): one for one in by_hand}
    rows = {owner: _rows(owner, answers[owner], hand) for owner in owners}
    for one in hand.values():
        told.append(f"Marked by hand, but no longer there: {called(one.owner)}, lesson {one.lesson:02d}, “{one.aim}”.")
    for row in (row for its in rows.values() for row in its.values() if row.changed):
        told.append(f"{called(row.owner)} changed an answer after it was marked by hand: “{row.maker.aim}”.")
    of = Counter(maker.lesson for maker in all_exercises().values())
    spoiled = [owner for owner, its in theirs.items() if owner and damaged.keys() & {*its}]
    unread = frozenset(one for owner in spoiled for one in both.get(owner, (owner,)))
    return Book(rows, dict(of), tuple(told), tuple(damaged.values()), unread, tuple(hand.values()))


def _union(files: list[list[Entry]]) -> list[Entry]:
    """The lines of one learner's files in order of time, as often as the file has them that has them most often."""
    if len(files) == 1:
        return files[0]
    together: Counter[Entry] = Counter()
    for lines in files:
        together |= Counter(lines)
    return in_time(together.elements())


def _rows(owner: Owner, entries: list[Entry], hand: dict[tuple[str, ...], ByHand]) -> dict[str, Row]:
    found = {}
    for key in dict.fromkeys(entry.exercise for entry in entries):
        maker = all_exercises().get(key)
        if maker is not None:
            words = next((e for e in reversed(entries) if e.exercise == key and e.mark == DONE), None)
            marked = hand.pop(hand_key(owner, maker.lesson, maker.aim), None)
            found[key] = Row(owner, maker, mark_of(entries, key), words, marked)
    return {key: found[key] for key in all_exercises() if key in found}


def _about_names(
    owners: Sequence[Owner],
    both: Mapping[Owner, tuple[Owner, Owner]],
    theirs: Mapping[Owner | None, list[Path]],
    lines: Mapping[Path, list[Entry]],
) -> list[str]:
    """Who has no file, who has several, and files of nobody: with the learner whose numbers they fit."""
    in_pairs = {owner for two in both.values() for owner in two}
    missing = [called(owner) for owner in owners if owner not in theirs and owner not in in_pairs]
    told = [f"No file yet: {', '.join(missing)}."] if missing else []
    for owner, paths in theirs.items():
        if owner is not None and len(paths) > 1:
            names = ", ".join(_short(path, theirs) for path in paths)
            told.append(f"{called(owner)} has {len(paths)} files: {names}. Lines of all count, equal ones once.")
    for path in theirs.get(None, ()):
        right = [entry for entry in lines.get(path, ()) if entry.mark == RIGHT]
        whose = [called(owner) for owner in fits(right[:TRIED], (*owners, *both, NOBODY))[:3]]
        like = f" Its answers fit the numbers of {' or '.join(whose)}." if whose else ""
        begin = "Of nobody on the list (a class or name typed otherwise, or renamed?), not counted"
        told.append(f"{begin}: {_short(path, theirs)}.{like}")
    return told


def _short(path: Path, theirs: Mapping[Owner | None, list[Path]]) -> str:
    """A file's name, with its folder where there are two of that name."""
    alike = sum(other.name == path.name for paths in theirs.values() for other in paths)
    return shown((Path(path.parent.name) / path.name).as_posix() if alike > 1 else path.name, LONGEST)


def _about_answers(odd: Mapping[Owner, list[Odd]], written: Mapping[Owner, list[Entry]]) -> list[str]:
    told = []
    for owner, lines in odd.items():
        if not lines:
            continue
        right = [entry for entry in written[owner] if entry.mark == RIGHT] if any(one.forged for one in lines) else []
        whose = [called(other) for other in fits(right[:TRIED], (*written, NOBODY))[:3] if other != owner]
        like = f" They fit the numbers of {' or '.join(whose)}." if whose else ""
        more = f"; and {len(lines) - SHOWN} more" if len(lines) > SHOWN else ""
        whys = "; ".join(one.why for one in lines[:SHOWN])
        told.append(f"{called(owner)}, judged again: {whys}{more}.{like}")
    return told


def _copied(answers: Mapping[Owner, list[Entry]]) -> list[str]:
    """Who has the same answers as somebody else at the same seconds."""
    who: dict[tuple[str, str, str], list[Owner]] = {}
    for owner, entries in answers.items():
        for line in dict.fromkeys((e.time, e.exercise, e.answer) for e in entries if e.answer):
            who.setdefault(line, []).append(owner)
    common = Counter(two for several in who.values() for two in combinations(several, 2))
    return [
        f"{called(one)} and {called(other)} have {count} answers in common to the second: is one file a copy?"
        for (one, other), count in common.items()
        if count >= COPIED
    ]


def counts_in_words(row: Row) -> str:
    """Which points of the model answer a learner has marked, and whether that is enough."""
    if row.words is None or not row.words.said:
        return ""
    return f"{row.words.said}{'' if enough_said(row.words) else ' (too few)'}"
