"""A lesson as its notebook has it: title, goals, cautions, and its sections with what a learner does in each."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from oilkit.errors import InputError
from oilkit.storage.lessons import LESSON, notebooks_folder
from oilkit.storage.textfile import read_text

LARGEST = 20_000_000
"""Bytes of a notebook with its pictures. The kit's own stay below one million."""
HOME_SECTIONS = ("What we left out", "Sources")
DEEPER = "Go deeper"
EXERCISES = "Exercises"
TASK = re.compile(r"\*\*(?:Do|Look|Question)[^*]*:\*\*")
STEP = re.compile(r"^Do \d+: .*$", re.MULTILINE)
"""A step in the words of a panel."""


@dataclass(frozen=True)
class Cell:
    """One cell: its markdown, or what it shows and prints."""

    sort: str
    """``prose``, ``panel``, ``prediction``, ``exercise``, ``learner``, ``numbers`` or ``code`` (nothing to see)."""
    source: str
    text: str = ""
    """What it printed, or its panel in words."""
    png: str = ""

    @property
    def words(self) -> int:
        """Words to read in it: of a panel, those of its steps."""
        read = self.source if self.sort == "prose" else "".join(STEP.findall(self.text))
        return len(re.findall(r"[^\s|*#>`$-]\S*", read))

    @property
    def tasks(self) -> int:
        """What there is to do in it; a panel's steps are one task."""
        return len(TASK.findall(self.source)) if self.sort == "prose" else bool(STEP.search(self.text))


@dataclass(frozen=True)
class Section:
    """A part of a lesson under a heading of its own."""

    title: str
    cells: tuple[Cell, ...]

    def count(self, sort: str) -> int:
        return sum(cell.sort == sort for cell in self.cells)

    @property
    def words(self) -> int:
        return sum(cell.words for cell in self.cells)


@dataclass(frozen=True)
class Lesson:
    """A notebook, read."""

    number: int
    title: str
    file: str
    opening: Section
    """What stands before the first heading: what it is about, goals, cautions."""
    sections: tuple[Section, ...] = field(repr=False)

    @property
    def prose(self) -> str:
        return "\n\n".join(c.source for s in (self.opening, *self.sections) for c in s.cells if c.sort == "prose")

    @property
    def goals(self) -> tuple[str, ...]:
        told = re.search(r"\*\*By the end of this lesson you can\*\*\s*\n((?:\s*- .*\n?(?:  .*\n?)*)+)", self.prose)
        return tuple(" ".join(goal.split()) for goal in re.split(r"^\s*- ", told[1], flags=re.M)[1:]) if told else ()

    @property
    def cautions(self) -> tuple[str, ...]:
        """Each caution of the lesson, once, as markdown without its frame."""
        found = re.findall(r"^> \*\*Cautions.*(?:\n>.*)*", self.prose, re.M)
        return tuple(dict.fromkeys(re.sub(r"^> ?", "", caution, flags=re.M) for caution in found))

    @property
    def bring(self) -> str:
        """What the lesson itself says to bring, if it does."""
        told = re.search(r"\*\*Bring:\*\*\s*(.*?)\.(?:\s|$)", self.prose, re.S)
        return " ".join(told[1].split()) if told else ""

    @property
    def may_be_left_out(self) -> str:
        """Title of the section that the lesson itself lets go when time is short, or nothing."""
        told = re.search(r"short\s+of\s+time,\s+leave\s+out\s+part\s+(\d)", self.prose)
        return next((s.title for s in self.sections if told and s.title.startswith(f"Part {told[1]}")), "")


def read_lessons(folder: Path | str | None = None) -> list[Lesson]:
    """All lessons of a folder, in order. Raises `InputError` for a file that is no notebook."""
    return [_read(path) for path in sorted(notebooks_folder(folder).glob(LESSON))]


def _read(path: Path) -> Lesson:
    wanted = "a notebook of the kit"
    content = read_text(path, LARGEST, wanted)
    try:
        cells = [_cell(cell) for cell in json.loads(content)["cells"]]
    except (ValueError, KeyError, TypeError):
        raise InputError(path.name, "a file that cannot be read", wanted) from None
    sections: list[tuple[str, list[Cell]]] = [("Opening", [])]
    for cell in cells:
        if cell.sort != "prose":
            sections[-1][1].append(cell)
            continue
        for piece in re.split(r"^(?=## )", cell.source, flags=re.M):  # one cell may hold two headings
            heading = re.match(r"## (.*)\n?", piece)
            if heading:
                sections.append((heading[1].strip(), []))
            if piece.strip():
                sections[-1][1].append(Cell("prose", piece.strip()))
    opening, *rest = [Section(title, tuple(own)) for title, own in sections]
    title = re.search(r"^# (.*)$", opening.cells[0].source if opening.cells else "", re.M)
    return Lesson(int(path.name[:2]), title[1].strip() if title else path.stem, path.name, opening, tuple(rest))


def _cell(cell: dict[str, Any]) -> Cell:
    source = "".join(cell["source"])
    if cell["cell_type"] != "code":
        return Cell("prose", source)
    text, png = "", ""
    for output in cell.get("outputs", []):
        data = output.get("data", {})
        text += "".join(output.get("text", "")) + "".join(data.get("text/plain", ""))
        png = png or "".join(data.get("image/png", ""))
    called = re.search(r"\bpanels\.(\w+)\(", source)
    sorts = {"predict": "prediction", "exercise": "exercise", "learner": "learner"}
    sort = sorts.get(called[1], "panel") if called else "numbers" if text.strip() or png else "code"
    return Cell(sort, source, text, png)
