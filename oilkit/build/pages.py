"""Build sheet and toolbox card laid out on pages, for a PDF without a browser. (Lesson 10)

matplotlib, which the kit has anyway, writes the PDF. A browser could print the HTML to PDF just as well, but it would
have to be there, to be found, and to be the same everywhere; a library that writes PDF would be one more thing to
install. A page is as wide as A4 and as high as Letter, so it prints on both at full size.
"""

from __future__ import annotations

import io
import itertools
from collections.abc import Sequence
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
SHEET_SIZES = tuple(0.1 * tenths for tenths in range(85, 28, -1))
"""Points: below 8 only where a part has no room on a page of its own."""
CARD_SIZES = 15.0, 14.5, 14.0, 13.5, 13.0, 12.5, 12.0
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
            y = self.table(block, x, y, room)
        for line in block.lines:
            if block.listed:
                self.words.append(Words(x, y + LEADING * self.size, "•", self.size))
            y = self.paragraph(x + (self.size if block.listed else 0.0), y, line, room - self.size)
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

    def part(self, wide: bool, blocks: list[Block], y: float) -> float:
        """Blocks across the page, one under the other, or in two columns."""
        if not wide:
            return self.columns(blocks, y)
        for block in blocks:
            y = self.block(block, MARGIN, y, ROOM)
        return y


def _laid_out(document: Document, size: float) -> tuple[list[_Page], bool]:
    """Pages with letters of a size, no part broken over two, and whether every part has room."""
    page, fits = _Page(size), True
    y = page.paragraph(MARGIN, MARGIN - 4.0, document.title, ROOM, 1.7, True)
    top = page.paragraph(MARGIN, y, document.about, ROOM) + 4.0
    y = page.paragraph(MARGIN + 4.0, top, document.verdict, ROOM - 8.0, 1.06, True) + 4.0
    page.boxes.append(Box(MARGIN, top, ROOM, y - top))
    pages = [page]
    for wide, blocks in document.runs:
        while blocks:
            many = len(blocks)
            while many and _Page(size).part(wide, blocks[:many], y) > BOTTOM:
                many -= 1
            if not many and y > MARGIN:
                pages.append(_Page(size))
                y = MARGIN
                continue
            fits &= bool(many)
            now, blocks = blocks[: many or 1], blocks[many or 1 :]
            y = pages[-1].part(wide, now, y)
    return pages, fits


def pages_pdf(document: Document, creator: str, sizes: Sequence[float], most: int = 99) -> bytes:
    """The document as a PDF of at most so many pages, in the first of the sizes with which it fits, else in the last.

    sizes: of letters, in points. No time of day is in it.
    """
    import matplotlib
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.backends.backend_pdf import PdfPages
    from matplotlib.figure import Figure

    from oilkit.quantities.lettering import letter

    for size in sizes:
        pages, fits = _laid_out(document, size)
        if fits and len(pages) <= most:
            break
    out = io.BytesIO()
    with matplotlib.rc_context({"pdf.fonttype": 42, "hatch.linewidth": 0.4}):
        title = document.title.encode("utf-8", "replace").decode("utf-8")
        about: Any = {"Creator": creator, "Title": title, "CreationDate": None}
        with PdfPages(out, metadata=about) as written:
            for number, page in enumerate(pages, 1):
                figure = Figure(figsize=(PAGE[0] / 72.0, PAGE[1] / 72.0))
                FigureCanvasAgg(figure)
                ax = figure.add_axes((0.0, 0.0, 1.0, 1.0))
                ax.set_axis_off()
                ax.set_xlim(0.0, PAGE[0])
                ax.set_ylim(PAGE[1], 0.0)
                _draw(page, ax)
                foot = f"page {number} of {len(pages)}" if len(pages) > 1 else ""
                if letter(figure):
                    foot = f"{UNSEEN} {foot}"
                _draw(Drawing(words=[Words(MARGIN, PAGE[1] - 8.0, foot, 8.0)]), ax)
                written.savefig(figure)
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
