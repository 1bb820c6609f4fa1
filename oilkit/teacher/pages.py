"""What every page of the pack is made of: its template, markdown, formulas as drawings, printed text, pictures.

A page needs nothing but itself: no script, no font, no picture is fetched. It has no paper size of its own, so a
browser prints it on whatever paper is in the printer; the PDF files are told theirs.
"""

from __future__ import annotations

import base64
import html
import io
import re
from collections.abc import Callable
from functools import cache
from typing import Any

import matplotlib
import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextPath, TextToPath
from nbconvert.filters.markdown_mistune import IPythonRenderer, MarkdownWithMath
from PIL import Image

from oilkit.panels.framework.drawing import STYLE
from oilkit.quantities.lettering import letter
from oilkit.storage.templates import template


def filled(name: str, title: str, **given: Any) -> str:
    """A whole page of the pack from its template."""
    return template("oilkit.teacher", name).render(title=title, **given)


def e(words: object) -> str:
    """Text for HTML: names and answers are somebody else's."""
    return html.escape(str(words), quote=True)


# ------------------------------------------------------------------------------------------------------------ printed

UPRIGHT, LYING = 180.0, 255.0
"""mm of text that the narrower paper has between the margins: A4 upright, Letter lying on its side."""
LARGEST, SMALLEST = 9.0, 5.5
"""pt of printed numbers."""


def printed(words: str) -> str:
    """What a cell printed: as large as its longest table line allows, so that no table is cut or folded.

    A table too wide for an upright page gets one on its side. Sentences among the numbers are folded; those that the
    kit has folded and set in keep their lines.
    """
    lines = words.rstrip().splitlines()
    longest = max((len(line) for line in lines if re.search(r"\S {2,}\S|^ .{,120}$", line)), default=80)
    wide = _size(longest, UPRIGHT) < SMALLEST
    size = max(min(_size(longest, LYING if wide else UPRIGHT), LARGEST), SMALLEST)
    laid = ' class="wide"' if wide else ""
    return f'<pre{laid} style="font-size: {size:.2f}pt">{e(words.rstrip())}</pre>\n'


def _size(letters: int, width: float) -> float:
    """Type size in which so many letters are as wide as that, in mm: a letter is 0.602 times as wide as high."""
    return width / 25.4 * 72.0 / (0.61 * letters)


def drawn(draw: Callable[[Any], None]) -> str:
    """A gauge or a graph to read, in shades of grey and fine enough for paper; base64."""
    with matplotlib.rc_context({**STYLE, "font.size": 10.0}):
        figure = Figure(figsize=(4.6, 3.2), dpi=150, facecolor="white")
        canvas = FigureCanvasAgg(figure)
        draw(figure)
        letter(figure)
        canvas.draw()
    small = io.BytesIO()
    grey = Image.fromarray(np.asarray(canvas.buffer_rgba())[..., :3]).convert("L")
    grey.quantize(16).save(small, format="png")
    return base64.b64encode(small.getvalue()).decode("ascii")


# ----------------------------------------------------------------------------------------------------------- formulas

UNKNOWN_TO_MATHTEXT = (
    (r"\\(?:tfrac|dfrac)", r"\\frac"),
    (r"\\frac\s*(\w)\s*(\w)", r"\\frac{\1}{\2}"),
    (r"\\(math(?:bf|rm|sf|it))\s+(\w)", r"\\\1{\2}"),
    (r"\\xrightarrow\{(?:\\;)?(.*?)(?:\\;)?\}", r"\\overset{\1}{\\rightarrow}"),
)
"""What the lessons' formulas use and matplotlib's writing of mathematics lacks, in its own words."""


@cache
def formula(tex: str, size: float = 11.0) -> str:
    """A formula as a drawing, with its TeX as the text alternative. Raises `ValueError` for what cannot be drawn."""
    flat = " ".join(tex.split())
    for unknown, known in UNKNOWN_TO_MATHTEXT:
        flat = re.sub(unknown, known, flat)
    with matplotlib.rc_context({"mathtext.fontset": "dejavusans"}):
        width, height, descent = TextToPath().get_text_width_height_descent(
            f"${flat}$", FontProperties(size=size), ismath=True
        )
        path = TextPath((0.0, 0.0), f"${flat}$", size=size, prop=FontProperties(size=size), usetex=False)
    left, top = -0.5, height - descent + 1.0
    width, height = width + 1.5, height + 2.0
    moves = []
    for points, code in path.iter_segments(curves=True, simplify=False):
        letter = {1: "M", 2: "L", 3: "Q", 4: "C", 79: "Z"}[int(code)]
        numbers = " ".join(f"{v:.2f}" for v in points) if letter != "Z" else ""
        moves.append(letter + numbers)
    return (
        f'<svg class="math" role="img" aria-label="{e(flat)}" width="{width:.2f}pt" height="{height:.2f}pt" '
        f'viewBox="{left:.2f} {-top:.2f} {width:.2f} {height:.2f}" style="vertical-align: {-(descent + 1.0):.2f}pt">'
        f'<path transform="scale(1,-1)" d="{"".join(moves)}"/></svg>'
    )


class _Renderer(IPythonRenderer):
    """Markdown with formulas drawn and links that lead to the pack's own pages, or nowhere."""

    def __init__(self, links: Callable[[str], str | None]) -> None:
        super().__init__(escape=True, exclude_anchor_links=True)
        self._links = links

    def inline_math(self, body: str, size: float = 11.0) -> str:
        try:
            return formula(body, size)
        except ValueError:  # a lesson's newest formula may know more than matplotlib: then as it is typed
            return f"<code>{e(body)}</code>"

    def block_math(self, body: str) -> str:
        return f'<div class="display">{self.inline_math(body, 12.0)}</div>\n'

    def link(self, text: str, url: str, title: str | None = None) -> str:
        there = self._links(url)
        return f'<a href="{e(there)}">{text}</a>' if there else text

    def image(self, text: str, url: str, title: str | None = None) -> str:
        return e(text)


def markdown(source: str, links: Callable[[str], str | None] = lambda url: None) -> str:
    """Markdown of a lesson as HTML; ``links`` says where a link leads, or that it stays plain words."""
    return MarkdownWithMath(renderer=_Renderer(links)).render(source)
