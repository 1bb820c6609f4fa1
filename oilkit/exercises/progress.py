"""What a learner has answered: one plain CSV file for each learner beside the notebooks, and what it is worth.

Every answer is a line: when, which lesson and exercise, what was typed, what it was worth. For each answer the file is
read, written anew and moved over the old one, with other kernels kept away, so a crash, a kill or a full disk leaves
either the old lines or the old and the new one, never a part of a line. Any spreadsheet reads it.
"""

from __future__ import annotations

import contextlib
import csv
import io
import re
import unicodedata
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from oilkit.errors import InputError
from oilkit.exercises.exercise import DONE, MISTAKE, RIGHT, ROUGH, WRONG, Owner, Verdict, check_length
from oilkit.storage.saving import LONGEST, alone, csv_text, write_safely
from oilkit.storage.textfile import shown

COLUMNS = ("time", "lesson", "exercise", "answer", "mark", "mistake", "said")
"""The last one is missing from files of the kit's first version, and from their lines."""
HINT, SOLUTION, TICKED = "hint", "solution", "ticked"
"""Marks of what is no answer: a hint was taken, the solution was shown, points of a model answer were marked off."""
MARKS = (RIGHT, ROUGH, MISTAKE, WRONG, DONE, HINT, SOLUTION, TICKED)
LARGEST = 50_000_000
FOLDER = Path("progress")
"""Where answers are kept if nothing else is said: beside the notebooks."""


@dataclass(frozen=True)
class Entry:
    """One line of a learner's file."""

    time: str
    lesson: int
    exercise: str
    answer: str
    mark: str
    mistake: str = ""
    said: str = ""
    """Of an answer in words, which points of the model answer its writer found in it: ``1 3 of 4``, ``none of 4``."""

    @property
    def points(self) -> tuple[int, ...]:
        """Numbers of these points, from 0."""
        return tuple(int(number) - 1 for number in re.findall(r"\d+", self.said)[:-1])


def said_of(points: Iterable[int], of: int) -> str:
    """What stands in the column ``said`` for points of the model answer, counted from 0, out of so many."""
    return f"{' '.join(str(k + 1) for k in points) or 'none'} of {of}"


_SAID = re.compile(r"(?:(?:none|\d{1,3}(?: \d{1,3})*) of \d{1,3})?")


class Progress:
    """The file of one learner in a folder, `FOLDER` if none is given."""

    def __init__(self, owner: Owner, folder: Path | str | None = None) -> None:
        self.owner = owner
        self.path = Path(FOLDER if folder is None else folder) / file_name(owner)
        self.told = ""
        """A sentence if the last answer was kept, but without a lock."""

    def entries(self) -> list[Entry]:
        """All lines, oldest first; none if there is no file. Raises `InputError` for a file that is not the kit's."""
        return read_entries(self.path)

    def record(self, lesson: int, exercise: str, answer: str, verdict: Verdict, said: str = "") -> Entry:
        """Add an answer and what it was worth; on return it is on the disk.

        said: of an answer in words, which points of the model answer are marked (`said_of`). Raises `InputError` if the
        file is not the kit's or the answer is longer than `MOST_LETTERS`, `OSError` if it cannot be written; it then
        stands as it was.
        """
        return self._add(lesson, exercise, answer, verdict.mark, verdict.mistake, said)

    def record_help(self, lesson: int, exercise: str, which: str) -> Entry:
        """Add that a hint was taken or the solution shown."""
        return self._add(lesson, exercise, "", which)

    def record_points(self, lesson: int, exercise: str, said: str) -> Entry:
        """Add which points of the model answer are marked now."""
        return self._add(lesson, exercise, "", TICKED, said=said)

    def take_over(self, other: Progress) -> int:
        """Move all lines of another file into this one, by their time; returns how many. Until they stand here, they
        stand there. Raises as `record` does.
        """
        if not other.path.exists():
            return 0
        with alone(other.path):
            theirs = other.entries()
            if theirs:
                self._keep(lambda mine: united(mine, theirs))  # once, though a move may have stopped half way
                write_safely(other.path, _text([]))
        return len(theirs)

    def add_missing(self, others: Sequence[Entry]) -> None:
        """Add lines of another copy of this file that it has and this one has not: `united`. Raises as `record`."""
        self._keep(lambda mine: united(mine, others))

    def _add(self, lesson: int, exercise: str, answer: str, mark: str, mistake: str = "", said: str = "") -> Entry:
        check_length("answer", answer)
        now = datetime.now(UTC).strftime("%Y-%m-%d %H:%M:%S")
        new = Entry(now, lesson, exercise, _as_kept(answer), mark, mistake, said)
        self._keep(lambda before: [*before, new])
        return new

    def _keep(self, change: Callable[[list[Entry]], list[Entry]]) -> None:
        with contextlib.suppress(FileExistsError):
            self.path.parent.mkdir(parents=True, exist_ok=True)
        with alone(self.path) as self.told:
            write_safely(self.path, _text(change(self.entries())))


def read_entries(path: Path) -> list[Entry]:
    """The lines of a progress file, whatever its name; none if there is no file.

    Raises `InputError` for one that is not the kit's, is damaged, or cannot be read.
    """
    wanted, name = "a progress file of this kit", shown(path.name, LONGEST)
    try:
        if path.exists() and not path.is_file():
            raise InputError(name, "a folder or device", wanted)
        if path.stat().st_size > LARGEST:
            raise InputError(name, f"a file of more than {LARGEST // 1_000_000} MB", wanted)
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        return []
    except (OSError, UnicodeDecodeError):
        raise InputError(name, "a file that cannot be read", wanted) from None
    return entries_of(name, text)


def in_time(entries: Iterable[Entry]) -> list[Entry]:
    """Lines of several files, oldest first; those of one second stay as they come."""
    return sorted(entries, key=lambda entry: entry.time)


def united(one: Sequence[Entry], other: Sequence[Entry]) -> list[Entry]:
    """Two copies of a learner's file as one: every line that either has, as often as the one that has it most often.

    Lines are never changed, so where one copy is the other some answers later, it is that one.
    """
    longer, shorter = (list(other), list(one)) if len(other) > len(one) else (list(one), list(other))
    if longer[: len(shorter)] == shorter:
        return longer
    missing = Counter(other) - Counter(one)
    return in_time([*one, *missing.elements()])


def _as_kept(answer: str) -> str:
    """An answer as typed, without blanks around it, with one sort of line ends and no half letter."""
    return "\n".join(re.split(r"\r\n|\r|\n", answer)).strip().encode("utf-8", "replace").decode("utf-8")


def file_name(owner: Owner) -> str:
    """Name of a learner's file: plain letters of the two names, and a few digits where those alone could collide."""
    parts = [part for part in (plain_letters(owner.group), plain_letters(owner.learner)) if part]
    if not owner.named:
        return "progress.csv"
    return "-".join(["progress", *parts, f"{owner.seed('file', 0) % 100_000:05d}"]) + ".csv"


def plain_letters(name: str) -> str:
    folded = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode("ascii").lower()
    return re.sub(r"[^a-z0-9]+", "-", folded).strip("-")[:40]


def _text(entries: Iterable[Entry]) -> str:
    rows = (
        [e.time, e.lesson, e.exercise, *map(safe_for_a_spreadsheet, (e.answer, e.mark, e.mistake, e.said))]
        for e in entries
    )
    return csv_text([COLUMNS, *rows])


def entries_of(name: str, text: str) -> list[Entry]:
    """All lines of a file's text, in its order. name: what an error calls it. Raises `InputError`."""
    wanted = f"a progress file of this kit, with the columns {', '.join(COLUMNS)}"
    reader = csv.reader(io.StringIO(text), strict=True)
    try:
        rows = [(reader.line_num, row) for row in reader]
    except csv.Error:
        raise InputError(name, "a file that is not a table", wanted) from None
    whole = (len(COLUMNS), len(COLUMNS) - 1)
    if not rows or tuple(rows[0][1]) != COLUMNS[: max(len(rows[0][1]), whole[1])]:
        raise InputError(name, "other columns" if rows else "an empty file", wanted)
    found = []
    for number, row in rows[1:]:
        said = row[6] if len(row) == whole[0] else ""
        good = len(row) in whole and re.fullmatch("[0-9]{1,4}", row[1]) and row[4] in MARKS
        if not good or not _SAID.fullmatch(said):
            raise InputError(f"{name}, line {number}", f"“{shown(','.join(row))}”", wanted)
        found.append(Entry(row[0], int(row[1]), row[2], _as_typed(row[3]), row[4], _as_typed(row[5]), said))
    return found


# ---------------------------------------------------------------------------------------------------------- marks


@dataclass(frozen=True)
class Mark:
    """What one learner has on one exercise."""

    points: float
    """1 for a right answer, 0.5 after a hint or from the third try on, 0 after the solution; the same for an answer in
    words of which the learner has marked that it says at least half of the points."""
    tries: int
    hints: int
    mistakes: tuple[str, ...]
    """Usual mistakes that were recognised, in order."""
    done: bool = False
    """Whether it is answered: right, or in words that say at least half of the points."""


def mark_of(entries: Iterable[Entry], exercise: str) -> Mark:
    """The mark of an exercise from a learner's lines."""
    earned, tries, hints, shown, done, in_words = 0.0, 0, 0, False, False, False
    mistakes: list[str] = []
    for e in entries:
        if e.exercise != exercise:
            continue
        if e.mark == HINT:
            hints += 1
        elif e.mark == SOLUTION:
            shown = True
        elif e.mark != TICKED:
            tries += 1
            in_words |= e.mark == DONE
            if e.mistake:
                mistakes.append(e.mistake)
            if e.mark in (RIGHT, DONE) and not shown and earned == 0.0:
                earned = 1.0 if hints == 0 and tries <= 2 else 0.5
        if e.mark == RIGHT:
            done = True
        elif e.mark in (DONE, TICKED) and in_words:
            done = enough_said(e)
    return Mark(earned if done else 0.0, tries, hints, tuple(mistakes), done)


def enough_said(entry: Entry) -> bool:
    """Whether an answer in words counts; those of the kit's first version, without marked points, all did."""
    return not entry.said or 2 * len(entry.points) >= int(entry.said.split()[-1])


def safe_for_a_spreadsheet(cell: str) -> str:
    """A text that no spreadsheet takes for a formula: an apostrophe in front of what begins like one."""
    return f"'{cell}" if re.match(r"[\t\r']|\s*[=+\-@＝＋－＠]", cell) else cell


def _as_typed(cell: str) -> str:
    """The text again."""
    return cell.removeprefix("'")
