"""What a learner has answered: one plain CSV file for each learner beside the notebooks, and a teacher's mark book.

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
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from oilkit.errors import InputError
from oilkit.exercises.exercise import DONE, MISTAKE, RIGHT, ROUGH, WRONG, Owner, Verdict, check_length
from oilkit.storage.saving import alone, write_safely
from oilkit.storage.textfile import shown

COLUMNS = ("time", "lesson", "exercise", "answer", "mark", "mistake")
HINT, SOLUTION = "hint", "solution"
"""Marks of the two helps: a hint was taken, the solution was shown."""
MARKS = (RIGHT, ROUGH, MISTAKE, WRONG, DONE, HINT, SOLUTION)
LARGEST = 50_000_000


@dataclass(frozen=True)
class Entry:
    """One line of a learner's file."""

    time: str
    lesson: int
    exercise: str
    answer: str
    mark: str
    mistake: str = ""


class Progress:
    """The file of one learner in a folder, ``progress`` beside the notebooks by default."""

    def __init__(self, owner: Owner, folder: Path | str = "progress") -> None:
        self.owner = owner
        self.path = Path(folder) / file_name(owner)
        self.told = ""
        """A sentence if the last answer was kept, but without a lock."""

    def entries(self) -> list[Entry]:
        """All lines, oldest first; none if there is no file. Raises `InputError` for a file that is not the kit's."""
        wanted = "a progress file of this kit"
        try:
            if self.path.exists() and not self.path.is_file():
                raise InputError(self.path.name, "a folder or device", wanted)
            if self.path.stat().st_size > LARGEST:
                raise InputError(self.path.name, f"a file of more than {LARGEST // 1_000_000} MB", wanted)
            text = self.path.read_text(encoding="utf-8-sig")
        except FileNotFoundError:
            return []
        except (OSError, UnicodeDecodeError):
            raise InputError(self.path.name, "a file that cannot be read", wanted) from None
        return _entries(self.path.name, text)

    def record(self, lesson: int, exercise: str, answer: str, verdict: Verdict) -> Entry:
        """Add an answer and what it was worth; on return it is on the disk.

        Raises `InputError` if the file is not the kit's or the answer is longer than `MOST_LETTERS`, `OSError` if it
        cannot be written; it then stands as it was.
        """
        return self._add(lesson, exercise, answer, verdict.mark, verdict.mistake)

    def record_help(self, lesson: int, exercise: str, which: str) -> Entry:
        """Add that a hint was taken or the solution shown."""
        return self._add(lesson, exercise, "", which, "")

    def _add(self, lesson: int, exercise: str, answer: str, mark: str, mistake: str) -> Entry:
        check_length("answer", answer)
        now = datetime.now(UTC).strftime("%Y-%m-%d %H:%M:%S")
        new = Entry(now, lesson, exercise, _as_kept(answer), mark, mistake)
        with contextlib.suppress(FileExistsError):
            self.path.parent.mkdir(parents=True, exist_ok=True)
        with alone(self.path) as self.told:
            write_safely(self.path, _text([*self.entries(), new]))
        return new


def _as_kept(answer: str) -> str:
    """An answer as typed, without blanks around it, with one sort of line ends and no half letter."""
    return "\n".join(re.split(r"\r\n|\r|\n", answer)).strip().encode("utf-8", "replace").decode("utf-8")


def file_name(owner: Owner) -> str:
    """Name of a learner's file: plain letters of the two names, and a few digits where those alone could collide."""
    parts = [part for part in (_plain_letters(owner.group), _plain_letters(owner.learner)) if part]
    if not owner.named:
        return "progress.csv"
    return "-".join(["progress", *parts, f"{owner.seed('file', 0) % 100_000:05d}"]) + ".csv"


def _plain_letters(name: str) -> str:
    folded = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode("ascii").lower()
    return re.sub(r"[^a-z0-9]+", "-", folded).strip("-")[:40]


def _text(entries: Iterable[Entry]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for e in entries:
        writer.writerow([e.time, e.lesson, e.exercise, *map(safe_for_a_spreadsheet, (e.answer, e.mark, e.mistake))])
    return out.getvalue()


def _entries(name: str, text: str) -> list[Entry]:
    wanted = f"a progress file of this kit, with the columns {', '.join(COLUMNS)}"
    reader = csv.reader(io.StringIO(text), strict=True)
    try:
        rows = [(reader.line_num, row) for row in reader]
    except csv.Error:
        raise InputError(name, "a file that is not a table", wanted) from None
    if not rows or tuple(rows[0][1]) != COLUMNS:
        raise InputError(name, "other columns" if rows else "an empty file", wanted)
    found = []
    for number, row in rows[1:]:
        if len(row) != len(COLUMNS) or not row[1].isascii() or not row[1].isdigit() or row[4] not in MARKS:
            raise InputError(f"{name}, line {number}", f"“{shown(','.join(row))}”", wanted)
        found.append(Entry(row[0], int(row[1]), row[2], _as_typed(row[3]), row[4], _as_typed(row[5])))
    return found


# ---------------------------------------------------------------------------------------------------------- marks


@dataclass(frozen=True)
class Mark:
    """What one learner has on one exercise."""

    points: float
    """1 for a right answer (or one in words), 0.5 after a hint or from the third try on, 0 after the solution."""
    tries: int
    hints: int
    mistakes: tuple[str, ...]
    """Usual mistakes that were recognised, in order."""


def mark_of(entries: Iterable[Entry], exercise: str) -> Mark:
    """The mark of an exercise from a learner's lines."""
    points, tries, hints, shown = 0.0, 0, 0, False
    mistakes: list[str] = []
    for e in entries:
        if e.exercise != exercise:
            continue
        if e.mark == HINT:
            hints += 1
        elif e.mark == SOLUTION:
            shown = True
        else:
            tries += 1
            if e.mistake:
                mistakes.append(e.mistake)
            if e.mark in (RIGHT, DONE) and not shown and points == 0.0:
                points = 1.0 if hints == 0 and tries <= 2 else 0.5
    return Mark(points, tries, hints, tuple(mistakes))


def mark_table(answers: Mapping[Owner, Iterable[Entry] | None], exercises: Iterable[str]) -> str:
    """A teacher's mark book as CSV text: a line for each learner, a column for each exercise, and the sum.

    answers: what each learner answered; None for one whose file cannot be used. Who has answered nothing has empty
    cells.
    """
    keys = list(exercises)
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["class", "learner", *keys, "sum"])
    for owner, found in answers.items():
        entries = list(found or ())
        done = {e.exercise for e in entries}
        marks = {key: mark_of(entries, key).points for key in keys if key in done}
        writer.writerow(
            [
                safe_for_a_spreadsheet(owner.group),
                safe_for_a_spreadsheet(owner.learner),
                *(f"{marks[key]:g}" if key in marks else "" for key in keys),
                "file cannot be read" if found is None else f"{sum(marks.values()):g}",
            ]
        )
    return out.getvalue()


def safe_for_a_spreadsheet(cell: str) -> str:
    """A text that no spreadsheet takes for a formula: an apostrophe in front of what begins like one."""
    return f"'{cell}" if cell[:1] in ("=", "+", "-", "@", "\t", "\r", "'") else cell


def _as_typed(cell: str) -> str:
    """The text again."""
    return cell.removeprefix("'")
