"""The mark book: a table for a spreadsheet from a folder of learners' progress files."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

from oilkit.errors import InputError
from oilkit.exercises import all_exercises
from oilkit.exercises.class_list import pairs
from oilkit.exercises.exercise import Owner
from oilkit.exercises.progress import Entry, Progress, file_name, in_time, mark_table
from oilkit.storage.saving import named_file, write_keeping_earlier
from oilkit.storage.textfile import LARGEST, read_text

FIRST = "class,learner,"


def marks(owners: Sequence[Owner], folder: Path | str) -> tuple[str, list[str], list[str]]:
    """The mark book as CSV text, sentences about files that are missing or belong to nobody on the list, and a sentence
    for each file that cannot be used: its learner is in the book, without marks.

    What two have answered together counts for both. Raises `InputError` for a folder that is not there.
    """
    place = Path(folder)
    if not place.is_dir():
        raise InputError("folder", repr(place.name), "a folder with progress files")
    there = {path.name for path in place.glob("progress*.csv")}
    both = {pair: two for pair, two in pairs(owners).items() if file_name(pair) in there}
    expected = {file_name(owner): owner for owner in (*owners, *both)}
    in_pairs = {owner for two in both.values() for owner in two}
    missing = [owner for owner in owners if file_name(owner) not in there and owner not in in_pairs]
    without = [owner.learner or owner.group or "nobody" for owner in missing]
    told = [f"No file yet: {', '.join(without)}."] if without else []
    strange = sorted(there - expected.keys())
    if strange:
        told.append(f"Of nobody on the list (a class or name typed otherwise?): {', '.join(strange)}.")
    answers: dict[Owner, list[Entry] | None] = {}
    damaged = []
    for owner in (*owners, *both):
        try:
            answers[owner] = Progress(owner, place).entries()
        except InputError as problem:
            answers[owner] = None
            damaged.append(str(problem))
    for pair, two in both.items():
        shared = answers.pop(pair)
        for owner in two:
            own = answers[owner]
            answers[owner] = None if own is None or shared is None else in_time([*own, *shared])
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
