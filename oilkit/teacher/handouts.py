"""Handouts: each lesson as one page without code, its panels as their stored pictures and words."""

from __future__ import annotations

import re
from collections.abc import Callable

from oilkit.teacher.lesson import Lesson
from oilkit.teacher.pages import filled, markdown, printed


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
    """A lesson as a self-contained page."""
    cells = [cell for section in (lesson.opening, *lesson.sections) for cell in section.cells]
    tools = {"links": links_to(lessons, "../"), "markdown": markdown, "printed": printed, "asked": _asked}
    return filled("handout.html", lesson.title, cells=cells, **tools)


def _asked(text: str) -> tuple[str, str, list[str]]:
    """A question in words: its title, its sentences, its choices."""
    title, *lines = text.strip().splitlines()
    question = "\n".join(line.strip() for line in lines if not line.strip().startswith("( )"))
    question = " ".join(re.sub(r"(?<=\w)-\n", "-", question).split())  # a line may end at a word's own hyphen
    return title, question, re.findall(r"^\s*\( \) (.*)$", text, re.M)
