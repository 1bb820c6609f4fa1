"""Handouts: each lesson as one page without code, its panels as their stored pictures and words."""

from __future__ import annotations

import re
from collections.abc import Callable

from oilkit.teacher.lesson import EXERCISES, HOME_SECTIONS, Lesson
from oilkit.teacher.pages import filled, markdown, printed

LONGEST, BEGINNING = 60, 24
"""Lines that a cell prints on a handout, and of a longer one its first lines."""


def handout_file(number: int) -> str:
    return f"handouts/lesson-{number:02d}.html"


def links_to(lessons: list[Lesson], top: str = "") -> Callable[[str], str | None]:
    """Where a link of a lesson, the glossary or the symbols leads in the pack: to a handout or one of its own pages.

    top: the way from the page with the link to the pack's folder.
    """
    known = {lesson.file: top + handout_file(lesson.number) for lesson in lessons}
    known |= {"glossary.md": f"{top}glossary.html", "symbols.md": f"{top}symbols.html"}

    def lead(url: str) -> str | None:
        file, mark, part = url.partition("#")
        return known[file] + mark + part.lower() if file in known else None

    return lead


def handout(lesson: Lesson, lessons: list[Lesson]) -> str:
    """A lesson as a page without its exercises, which are on the worksheets; predictions stand in front, alone."""
    rest = [cell for section in lesson.sections if section.title != EXERCISES for cell in section.cells]
    predictions = [cell.text for cell in (*lesson.opening.cells, *rest) if cell.sort == "prediction"]
    return filled(
        "handout.html",
        lesson.title,
        opening=lesson.opening.cells,
        rest=[*(cell for cell in lesson.opening.cells if cell.sort != "prose"), *rest],
        small=[cell for section in lesson.sections if section.title in HOME_SECTIONS for cell in section.cells],
        predictions=predictions,
        letters=sum(map(len, (*predictions, *(cell.source for cell in lesson.opening.cells if cell.sort == "prose")))),
        numbers={text: k for k, text in enumerate(predictions, 1)},
        links=links_to(lessons, "../"),
        markdown=markdown,
        printed=printed,
        asked=_asked,
        shortened=shortened,
    )


def shortened(words: str) -> str:
    """What a cell printed; of a list of pages its beginning."""
    lines = words.rstrip().splitlines()
    if len(lines) <= LONGEST:
        return words
    return "\n".join([*lines[:BEGINNING], "", f"... and {len(lines) - BEGINNING} lines more, on the screen."])


def _asked(text: str) -> tuple[str, str, list[str]]:
    """A question in words: its title, its sentences, its choices."""
    title, *lines = text.strip().splitlines()
    question = "\n".join(line.strip() for line in lines if not line.strip().startswith("( )"))
    question = " ".join(re.sub(r"(?<=\w)-\n", "-", question).split())  # a line may end at a word's own hyphen
    return title, question, re.findall(r"^\s*\( \) (.*)$", text, re.M)
