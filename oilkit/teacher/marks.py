"""The mark book: a table for a spreadsheet from a folder of learners' progress files."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

from oilkit.errors import InputError
from oilkit.exercises import all_exercises
from oilkit.exercises.exercise import Owner
from oilkit.exercises.progress import Entry, Progress, file_name, mark_table
from oilkit.storage.saving import named_file, write_keeping_earlier
from oilkit.storage.textfile import LARGEST, read_text

FIRST = "class,learner,"


def marks(owners: Sequence[Owner], folder: Path | str) -> tuple[str, list[str], list[str]]:
    """The mark book as CSV text, sentences about files that are missing or belong to nobody on the list, and a sentence
    for each file that cannot be used: its learner is in the book, without marks.

    Raises `InputError` for a folder that is not there.
    """
    place = Path(folder)
    if not place.is_dir():
        raise InputError("folder", repr(place.name), "a folder with progress files")
    expected = {file_name(owner): owner for owner in owners}
    there = {path.name for path in place.glob("progress*.csv")}
    without = [owner.learner or owner.group or "nobody" for name, owner in expected.items() if name not in there]
    told = [f"No file yet: {', '.join(without)}."] if without else []
    strange = sorted(there - expected.keys())
    if strange:
        told.append(f"Of nobody on the list (a class or name typed otherwise?): {', '.join(strange)}.")
    answers: dict[Owner, list[Entry] | None] = {}
    damaged = []
    for owner in owners:
        try:
            answers[owner] = Progress(owner, place).entries()
        except InputError as problem:
            answers[owner] = None
            damaged.append(str(problem))
    return mark_table(answers, all_exercises()), told, damaged


def write_marks(book: str, path: Path | str) -> str:
    """Write the mark book; an older one is kept beside it. Returns a sentence that names that, or an empty string.

    Raises `InputError` if another file stands there, `OSError` if it cannot be written.
    With the mark that tells spreadsheets of UTF-8, so that umlauts arrive.
    """
    target = named_file(path, argument="out")
    if target.exists():
        old = ""
        with suppress(InputError):  # whatever cannot be read is no mark book either
            old = read_text(target, LARGEST, "a mark book")
        if not old.startswith(FIRST):
            raise InputError("out", f"{target.name}, which is no mark book", "a new file, or an older mark book")
    return write_keeping_earlier(target, f"\ufeff{book}")
