"""All that stands on the build sheet, in order, as blocks: what its HTML and its PDF show alike. (Lesson 10)"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field

from oilkit.build.drawing import Drawing
from oilkit.build.results import BuildSheet
from oilkit.build.tornado import tornado_chart
from oilkit.build.wording import said, upper
from oilkit.quantities.printed import text


@dataclass
class Block:
    """A part of the sheet: a title, and rows of cells under an optional head, sentences, or a chart."""

    title: str
    wide: bool
    """Across the whole page."""
    rows: list[tuple[str, ...]] = field(default_factory=list)
    head: tuple[str, ...] = ()
    lines: list[str] = field(default_factory=list)
    listed: bool = False
    """Sentences each with a point in front."""
    chart: Drawing | None = None


@dataclass(frozen=True)
class Document:
    """The whole sheet in words, tables and a chart."""

    title: str
    about: str
    verdict: str
    blocks: list[Block]
    set_up: str
    """The set-up file."""

    @property
    def runs(self) -> list[tuple[bool, list[Block]]]:
        """Blocks that follow each other and are all wide, or all not: those stand in two columns."""
        return [(wide, list(run)) for wide, run in itertools.groupby(self.blocks, lambda block: block.wide)]


def sheet_document(sheet: BuildSheet) -> Document:
    """What is on paper of a build sheet."""
    b = sheet.build
    parts = (
        b.engine.name,
        b.oil.name,
        f"{b.vessel.name}: gas volume {text(b.vessel.gas_volume)}, rated {text(b.vessel.rated_pressure)}",
        f"{text(b.line.length)} of {b.hose.name}: bore {text(b.hose.bore)}",
        b.valve.name,
    )
    about = ". ".join(map(upper, parts)) + "."
    return Document(f"Build sheet: {b.name}", about, sheet.verdict, sheet_blocks(sheet), b.text())


def sheet_blocks(sheet: BuildSheet) -> list[Block]:
    """The parts of the sheet as ``sheet.txt`` has them, in order. Of a row only the first cell may have a bar in it."""
    blocks: list[Block] = []
    for line in said("sheet", sheet.build, sheet=sheet):
        mark, _, words = line.partition(" ")
        if mark in ("#", "##"):
            blocks.append(Block(words, mark == "##"))
            continue
        block = blocks[-1]
        if mark == "||":
            block.head = tuple(words.split(" | "))
        elif mark == "|":
            block.rows.append(tuple(words.rsplit(" | ", max(len(block.head), 2) - 1)))
        elif mark == "!":
            block.chart = tornado_chart(sheet)
        else:
            block.lines.append(words)
            block.listed = mark == "-"
    return blocks
