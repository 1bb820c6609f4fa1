"""Handouts: each lesson as one page without code, its panels as their stored pictures and words."""

from __future__ import annotations

import re
from collections.abc import Callable

from oilkit.teacher.lesson import Cell, Lesson
from oilkit.teacher.pages import e, markdown, page, picture, printed


def handout_file(number: int) -> str:
    return f"handouts/lesson-{number:02d}.html"


def handout_links(lessons: list[Lesson]) -> Callable[[str], str | None]:
    """Where a lesson's links lead from its handout: to other handouts and the pack's own pages."""
    known = {lesson.file: f"lesson-{lesson.number:02d}.html" for lesson in lessons}
    known |= {"glossary.md": "../glossary.html", "symbols.md": "../symbols.html"}

    def lead(url: str) -> str | None:
        file, mark, part = url.partition("#")
        return known[file] + mark + part.lower() if file in known else None

    return lead


def handout(lesson: Lesson, lessons: list[Lesson]) -> str:
    """A lesson as a self-contained page."""
    links = handout_links(lessons)
    parts = [_shown(cell, links) for section in (lesson.opening, *lesson.sections) for cell in section.cells]
    return page(lesson.title, "\n".join(part for part in parts if part))


def _shown(cell: Cell, links: Callable[[str], str | None]) -> str:
    if cell.sort == "prose":
        return markdown(cell.source, links)
    if cell.sort in ("learner", "code"):
        return ""
    if cell.sort in ("prediction", "exercise"):
        return _asked(cell)
    words = cell.text.strip()
    if not cell.png:
        return printed(cell.text)
    title, _, rest = words.partition("\n")
    return f'<div class="keep"><p><b>{e(title)}</b></p>{picture(cell.png, words, "150mm")}</div>{printed(rest)}'


def _asked(cell: Cell) -> str:
    """A question: its title, its sentences, its choices, and its picture."""
    title, *lines = cell.text.strip().splitlines()
    question = "\n".join(line.strip() for line in lines if not line.strip().startswith("( )"))
    question = " ".join(re.sub(r"(?<=\w)-\n", "-", question).split())  # a line may end at a word's own hyphen
    options = re.findall(r"^\s*\( \) (.*)$", cell.text, re.M)
    items = "".join(f"<li>{e(option)}</li>" for option in options)
    choices = f'<ul class="options">{items}</ul>' if items else ""
    shown = picture(cell.png, question, "95mm") if cell.png else ""
    return f'<div class="boxed"><p><b>{e(title)}</b></p><p>{e(question)}</p>{shown}{choices}</div>\n'
