"""The build sheet laid out on one page, for a PDF without a browser. (Lesson 10)

matplotlib, which the kit has anyway, writes the PDF. A browser could print the HTML to PDF just as well, but it would
have to be there, to be found, and to be the same everywhere; a library that writes PDF would be one more thing to
install. The page is as wide as A4 and as high as Letter, so it prints on both at full size.
"""

from __future__ import annotations

import io
import itertools
from functools import lru_cache
from typing import Any

from oilkit.build.blocks import Block, Document
from oilkit.build.drawing import PALE, Box, Drawing, Line, Words

PAGE = 72.0 * 8.27, 72.0 * 11.0
MARGIN, GUTTER = 26.0, 12.0
ROOM = PAGE[0] - 2 * MARGIN
BOTTOM = PAGE[1] - MARGIN + 8.0
SPACE = 0.35
"""Width of a space, at a size of 1 point: a little more than it is."""
LEADING = 1.2
"""From line to line, in sizes."""
SIZES = tuple(0.1 * tenths for tenths in range(80, 28, -1))
UNSEEN = "No font of the computer that wrote this has all its letters: ? stands for those. The HTML sheet has them."


@lru_cache(maxsize=20_000)
def _word_width(word: str, bold: bool) -> float:
    """Width of a word at a size of 1 point."""
    from matplotlib.font_manager import FontProperties  # here, because it costs time that the lessons need not spend
    from matplotlib.textpath import text_to_path

    from oilkit.quantities.lettering import letters

    lettered = letters(word, weight="bold" if bold else "normal")
    weight = "bold" if bold and not lettered.fonts else "normal"
    font = FontProperties(weight=weight, size=100, family=list(lettered.fonts or ("DejaVu Sans",)))
    return float(text_to_path.get_text_width_height_descent(lettered.text, font, False)[0]) / 100.0


def _width(words: str, bold: bool) -> float:
    parts = words.split()
    return sum(_word_width(part, bold) for part in parts) + SPACE * max(len(parts) - 1, 0)


def _wrapped(words: str, room: float, bold: bool) -> list[str]:
    """Words in lines that fit a width, at a size of 1 point.

    A word that is wider, a name of many letters or a script without spaces, is parted wherever a line is full.
    """
    lines, used = [""], 0.0
    for word in words.split():
        space = " " if lines[-1] else ""
        for part in [word] if _word_width(word, bold) <= room else word:
            wide = _word_width(part, bold)
            if lines[-1] and used + SPACE * len(space) + wide > room:
                lines.append("")
                space, used = "", 0.0
            lines[-1] += space + part
            used += SPACE * len(space) + wide
            space = ""
    return lines


class _Page(Drawing):
    """A page that is filled from the top: each part says how far down it reaches."""

    def __init__(self, size: float) -> None:
        super().__init__()
        self.size = size

    def paragraph(self, x: float, y: float, words: str, room: float, larger: float = 1.0, bold: bool = False) -> float:
        size = larger * self.size
        for line in _wrapped(words, room / size, bold):
            y += LEADING * size
            self.words.append(Words(x, y, line, size, bold))
        return y

    def table(self, block: Block, x: float, y: float, room: float) -> float:
        rows = [(row, False) for row in block.rows]
        if block.head:
            rows.insert(0, (block.head, True))
        wants = [0.0] * max(len(row) for row, _ in rows)
        for row, bold in rows:
            for k, cell in enumerate(row):
                wants[k] = max(wants[k], _width(cell, bold) * self.size + 5.0)
        limit = room
        while sum(min(want, limit) for want in wants) > room:  # the widest columns give way first, and wrap
            limit -= 1.0
        for row, bold in rows:
            left, lowest = x, y
            for want, cell in zip(wants, row, strict=False):
                lowest = max(lowest, self.paragraph(left, y, cell, min(want, limit) - 4.0, bold=bold))
                left += min(want, limit)
            y = lowest + 0.12 * self.size
            self.lines.append(Line(x, y + 1.0, x + room, y + 1.0, PALE))
        return y + 1.0

    def block(self, block: Block, x: float, y: float, room: float) -> float:
        y = self.paragraph(x, y + 0.35 * self.size, block.title, room, 1.12, True)
        self.lines.append(Line(x, y + 2.2, x + room, y + 2.2))
        y += 2.4
        if block.chart:
            scale = room / block.chart.width
            self.take(block.chart, x, y, scale)
            return y + scale * block.chart.height
        if block.rows:
            return self.table(block, x, y, room)
        for line in block.lines:
            if block.listed:
                self.words.append(Words(x, y + LEADING * self.size, "•", self.size))
            y = self.paragraph(x + (7.0 if block.listed else 0.0), y, line, room - 7.0)
        return y

    def columns(self, blocks: list[Block], y: float) -> float:
        """Blocks in two columns, in their order, shared out so that both come out most alike."""
        half = (ROOM - GUTTER) / 2
        heights = [_Page(self.size).block(block, 0.0, 0.0, half) for block in blocks]

        def longer(right: tuple[bool, ...]) -> float:
            part = sum(itertools.compress(heights, right))
            return max(part, sum(heights) - part)

        right = min(itertools.product((False, True), repeat=len(blocks)), key=longer)
        ends = {False: y, True: y}
        for block, side in zip(blocks, right, strict=True):
            ends[side] = self.block(block, MARGIN + (half + GUTTER) * side, ends[side], half)
        return max(ends.values())


def _laid_out(document: Document, size: float) -> tuple[_Page, float]:
    """The page with letters of a size, and where it ends."""
    page = _Page(size)
    y = page.paragraph(MARGIN, MARGIN - 4.0, document.title, ROOM, 1.7, True)
    top = page.paragraph(MARGIN, y, document.about, ROOM) + 4.0
    y = page.paragraph(MARGIN + 4.0, top, document.verdict, ROOM - 8.0, 1.06, True) + 4.0
    page.boxes.append(Box(MARGIN, top, ROOM, y - top))
    for wide, blocks in document.runs:
        if wide:
            for block in blocks:
                y = page.block(block, MARGIN, y, ROOM)
        else:
            y = page.columns(blocks, y)
    return page, y


def page_pdf(document: Document, creator: str) -> bytes:
    """The document as a PDF of one page, in the largest letters with which it fits. No time of day is in it."""
    import matplotlib
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.backends.backend_pdf import PdfPages
    from matplotlib.figure import Figure

    from oilkit.quantities.lettering import letter

    for size in SIZES:
        page, end = _laid_out(document, size)
        if end <= BOTTOM:
            break
    figure = Figure(figsize=(PAGE[0] / 72.0, PAGE[1] / 72.0))
    FigureCanvasAgg(figure)
    ax = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    ax.set_axis_off()
    ax.set_xlim(0.0, PAGE[0])
    ax.set_ylim(PAGE[1], 0.0)
    _draw(page, ax)
    if letter(figure):
        _draw(Drawing(words=[Words(MARGIN, PAGE[1] - 8.0, UNSEEN, 6.0)]), ax)
    out = io.BytesIO()
    with matplotlib.rc_context({"pdf.fonttype": 42, "hatch.linewidth": 0.4}):
        title = document.title.encode("utf-8", "replace").decode("utf-8")
        about: Any = {"Creator": creator, "Title": title, "CreationDate": None}
        with PdfPages(out, metadata=about) as pages:
            pages.savefig(figure)
    return out.getvalue()


def _draw(drawing: Drawing, ax: Any) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Rectangle
    from matplotlib.patheffects import withStroke

    sides = {"start": "left", "middle": "center", "end": "right"}
    for b in drawing.boxes:
        hatch = "////" if b.hatched else None
        ax.add_patch(Rectangle((b.x, b.y), b.width, b.height, fc=b.fill, ec="#000000", lw=0.5, hatch=hatch))
    for n in drawing.lines:
        ax.add_line(Line2D([n.x1, n.x2], [n.y1, n.y2], color=n.colour, lw=0.7, ls="--" if n.dashed else "-"))
    for w in drawing.words:
        effects = [withStroke(linewidth=0.3 * w.size, foreground="white")] if w.halo else None
        ax.text(
            w.x, w.y, w.text, fontsize=w.size, ha=sides[w.anchor], va="baseline", weight="bold" if w.bold else "normal",
            family="DejaVu Sans", parse_math=False, path_effects=effects,
        )  # fmt: skip
