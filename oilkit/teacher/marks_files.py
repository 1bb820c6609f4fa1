"""The mark book on disk: tables that open in a spreadsheet, one page to look at, and what a teacher typed read back.

Four tables and a page, by the name that is given for the first: ``marks.csv`` (sums), ``marks-exercises.csv``,
``marks-mistakes.csv``, ``marks-words.csv`` (what is marked by hand, with two columns to type into) and ``marks.html``.
"""

from __future__ import annotations

import csv
import io
import locale
import re
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

from oilkit.errors import InputError, cut
from oilkit.exercises.exercise import Owner
from oilkit.exercises.progress import safe_for_a_spreadsheet
from oilkit.storage.saving import csv_text, named_file, write_keeping_earlier
from oilkit.storage.textfile import opened
from oilkit.teacher.marks import Book, ByHand, counts_in_words, one_line
from oilkit.teacher.pages import filled
from oilkit.teacher.sheets import called

SEPARATORS = {"comma": ",", "semicolon": ";", "tab": "\t"}
LARGEST = 20_000_000
TITLE = "Mark book"
WHO = ("class", "learner")
EXERCISES = (*WHO, "lesson", "exercise", "points", "of", "tries", "hints", "mistake")
MISTAKES = ("learners", "of", "lesson", "exercise", "mistake", "ask", "who")
WORDS = (*WHO, "lesson", "exercise", "answer", "points marked by the learner", "points by hand", "remark")


def region_separator() -> str:
    """The separator that a spreadsheet expects on this computer: a semicolon where its region writes 0,5."""
    before = locale.setlocale(locale.LC_NUMERIC)
    try:
        locale.setlocale(locale.LC_NUMERIC, "")
        return "semicolon" if locale.localeconv()["decimal_point"] == "," else "comma"
    except locale.Error:
        return "comma"
    finally:
        locale.setlocale(locale.LC_NUMERIC, before)


def _cell(value: Any, separator: str) -> str:
    """A cell: a number or words, and never a formula, whatever separator a spreadsheet takes the file to have."""
    if isinstance(value, float):
        return f"{value:g}".replace(".", "," if separator == ";" else ".")
    inside = r'([,;\t]\s*"*\s*)(?=[=+\-@])'  # behind what another spreadsheet could take for a separator
    return safe_for_a_spreadsheet(re.sub(inside, r"\1'", one_line(str(value))))


def _table(head: Sequence[str], rows: Sequence[Sequence[Any]], separator: str) -> str:
    return csv_text([head, *([_cell(value, separator) for value in row] for row in rows)], separator)


def tables(book: Book, separator: str = "comma") -> dict[str, str]:
    """The tables as CSV text, by what is added to the file's name: ``""``, ``-exercises``, ``-mistakes``, ``-words``.

    separator: a key of ``SEPARATORS``; with a semicolon numbers have a decimal comma, as spreadsheets there want it.
    """
    sign = SEPARATORS[separator]
    sums: list[list[Any]] = []
    for owner in book.rows:
        cells = ["" if one is None else one for one in (book.points(owner, lesson) for lesson in book.of)]
        state = "a file cannot be read" if owner in book.unread else ""
        sums.append([owner.group, owner.learner, *cells, book.sum(owner), book.whole, state])
    whole = [float(sum(book.points(owner, lesson) or 0.0 for owner in book.rows)) for lesson in book.of]
    held = float(sum(map(book.sum, book.rows)))
    sums.append(["", "all", *whole, held, book.whole * len(book.rows), ""])
    heads = [f"lesson {lesson:02d} (of {of})" for lesson, of in book.of.items()]
    numbers = " ".join(f"{lesson:02d}" for lesson in book.held)
    each = [
        [*_who(row.owner), row.maker.lesson, row.maker.aim, row.points, 1, row.mark.tries, row.mark.hints,
         "; ".join(dict.fromkeys(row.mark.mistakes))]
        for row in book.each
    ]  # fmt: skip
    mistakes = [
        [len(one.learners), one.of, one.maker.lesson, one.maker.aim, one.name, one.ask,
         ", ".join(map(called, one.learners))]
        for one in book.mistakes
    ]  # fmt: skip
    words: list[list[Any]] = [
        [*_who(one.owner), "", one.aim, one.says, "", *_typed(one.by_hand)] for one in book.alike if one.points
    ]
    words += [
        [*_who(row.owner), row.maker.lesson, row.maker.aim, row.words.answer, counts_in_words(row),
         *_typed(row.by_hand)]
        for row in book.each
        if row.words
    ]  # fmt: skip
    words += [[*_who(one.owner), one.lesson, one.aim, one.answer, "", *_typed(one)] for one in book.without_answer]
    return {
        "": _table([*WHO, *heads, f"sum of lessons held ({numbers})", "of", "file"], sums, sign),
        "-exercises": _table(EXERCISES, each, sign),
        "-mistakes": _table(MISTAKES, mistakes, sign),
        "-words": _table(WORDS, words, sign),
    }


def _typed(by_hand: ByHand | None) -> tuple[str, str]:
    return (by_hand.points, by_hand.remark) if by_hand else ("", "")


def _who(owner: Owner) -> tuple[str, str]:
    return owner.group, owner.learner


def page(book: Book) -> str:
    """The mark book as one page: a picture of the class, mistakes, what to look at, answers in words."""
    return filled("marks.html", TITLE, book=book, called=called, in_words=counts_in_words)


# ------------------------------------------------------------------------------------------------------- on the disk


def _place(out: Path, which: str) -> Path:
    return out.with_name(f"{out.stem}{which}{out.suffix}")


def read_by_hand(out: Path) -> list[ByHand]:
    """What a teacher typed beside answers in words, from the table of an older mark book; nothing if there is none.

    Any of the three separators, with or without the mark of UTF-8, or as a spreadsheet of western Europe saves it.
    Raises `InputError` for another file, and for points that are none.
    """
    place = _place(out, "-words")
    if not place.exists():
        return []
    wanted = f"the mark book's own table, with the columns {', '.join(WORDS)}"
    with opened(place, LARGEST, wanted) as file:
        content = file.read()
    text = ""
    for code in ("utf-8-sig", "cp1252"):
        with suppress(UnicodeDecodeError):
            text = text or content.decode(code)
    head = text.partition("\n")[0]
    sign = max(SEPARATORS.values(), key=head.count)
    try:
        rows = list(csv.DictReader(io.StringIO(text, newline=""), delimiter=sign))
        columns = next(csv.reader([head], delimiter=sign), [])
    except csv.Error:
        raise InputError(place.name, "a file that is not a table", wanted) from None
    if tuple(name.strip() for name in columns) != WORDS:
        raise InputError(place.name, "other columns", wanted)
    found = []
    for number, row in enumerate(rows, 2):
        cells = [(row.get(name) or "").strip().removeprefix("'") for name in WORDS]
        group, learner, lesson, aim, answer, _, points, remark = cells
        if not (points or remark):
            continue
        if lesson and not re.fullmatch("[0-9]{1,4}", lesson):
            raise InputError(f"{place.name}, row {number}", f"“{cut(lesson)}” as a lesson", "its number")
        marked = ByHand(points, remark, answer, Owner(group, learner), str(int(lesson)) if lesson else "", aim)
        try:
            _ = marked.worth
        except InputError as problem:
            raise InputError(f"{place.name}, row {number}", problem.got, problem.wanted) from None
        found.append(marked)
    return found


def write_marks(book: Book, path: Path | str, separator: str = "comma") -> str:
    """Write tables and page; older ones are kept beside them. Returns a sentence that names those, or an empty string.

    Raises `InputError`, before anything is written, if another file stands there, `OSError` if one cannot be written.
    With the mark that tells spreadsheets of UTF-8, so that umlauts arrive.
    """
    target = named_file(path, argument="out")
    coming = {_place(target, which): f"\ufeff{text}" for which, text in tables(book, separator).items()}
    coming[target.with_suffix(".html")] = page(book)
    begins = ("class,learner", "class;learner", "class\tlearner", "learners,of", "learners;of", "learners\tof")
    for place in coming:
        if place.exists():
            old = place.read_bytes()[:500].decode("utf-8", "replace").removeprefix("\ufeff").replace('"', "")
            if not (f"<title>{TITLE}</title>" in old if place.suffix == ".html" else old.startswith(begins)):
                raise InputError("out", f"{place.name}, which is no mark book", "a new file, or an older mark book")
    return "".join(write_keeping_earlier(place, text) for place, text in coming.items())
