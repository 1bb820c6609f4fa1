"""The mark book: a table for a spreadsheet from a folder of learners' progress files."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from oilkit.exercises import Owner, all_exercises
from oilkit.exercises.progress import file_name, mark_book
from oilkit.settings import write_safely
from oilkit.units import InputError

FIRST = "class,learner,"


def marks(owners: Sequence[Owner], folder: Path | str) -> tuple[str, list[str]]:
    """The mark book as CSV text, and sentences about files that are missing or belong to nobody on the list.

    Raises `InputError` for a folder that is not there, and for a progress file that is not the kit's.
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
    return mark_book(owners, all_exercises(), place), told


def write_marks(book: str, path: Path | str) -> None:
    """Write the mark book. Raises `InputError` if another file stands there, `OSError` if it cannot be written.

    With the mark that tells spreadsheets of UTF-8, so that umlauts arrive.
    """
    target = Path(path)
    if target.exists():
        try:
            old = target.read_text(encoding="utf-8-sig")
        except (OSError, UnicodeDecodeError):
            old = ""
        if not old.startswith(FIRST):
            raise InputError("out", f"{target.name}, which is no mark book", "a new file, or an older mark book")
    write_safely(target, book.encode("utf-8-sig"))
