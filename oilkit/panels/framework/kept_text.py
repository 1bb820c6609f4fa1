"""A canvas on which a text that was drawn before is copied: a picture drawn afresh takes half of matplotlib's time."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg, RendererAgg
from matplotlib.font_manager import FontProperties, fontManager, get_font
from matplotlib.text import Text

KEPT = 2000
"""Drawn texts that are kept, of all panels together: some 700 bytes each."""
ROOM = 4
"""Pixels around a text, for letters that lean out."""


class Renderer(RendererAgg):
    """Draws a text once and then copies it, in any colour."""

    def draw_text(
        self, gc: Any, x: float, y: float, s: str, prop: FontProperties, angle: float, ismath: Any = False,
        mtext: Text | None = None,
    ) -> None:  # fmt: skip
        if gc.get_alpha() != 1.0:
            super().draw_text(gc, x, y, s, prop, angle, ismath, mtext)  # type: ignore[no-untyped-call]
            return
        left, top = math.floor(x), math.floor(y)
        within = round(x - left, 3), round(y - top, 3)
        cover, right, down = _stamp(s, prop.copy(), angle, self.dpi, within, bool(ismath))
        if cover.size:
            image = np.empty((*cover.shape, 4), dtype=np.uint8)
            image[:, :, :3], image[:, :, 3] = [round(255.0 * part) for part in gc.get_rgb()[:3]], cover
            self.draw_image(gc, left + right, int(self.height) - (top + down), image)

    def get_text_width_height_descent(self, s: str, prop: FontProperties, ismath: Any) -> tuple[float, float, float]:
        return _extent(s, prop.copy(), self.dpi, ismath)

    def _get_font_height_metrics(self, prop: FontProperties) -> tuple[float, float, float]:
        """matplotlib asks here first, and would else read the font's file at each look at each text."""
        return _heights(prop.copy(), self.dpi)


@lru_cache(maxsize=KEPT)
def _extent(text: str, prop: FontProperties, dpi: float, is_math: Any) -> tuple[float, float, float]:
    """Width, height and how far it reaches down, in pixels."""
    wide, high, low = RendererAgg(1, 1, dpi).get_text_width_height_descent(text, prop, is_math)
    return wide, high, low


@lru_cache(maxsize=256)
def _heights(prop: FontProperties, dpi: float) -> tuple[float, float, float]:
    """How far a font reaches above and below its line, and the gap between lines, in pixels."""
    font: Any = get_font(fontManager.findfont(prop))
    scale = prop.get_size_in_points() * dpi / 72.0 / font.get_sfnt_table("head")["unitsPerEm"]
    if table := font.get_sfnt_table("OS/2"):
        sizes = table["sTypoAscender"], -table["sTypoDescender"], table["sTypoLineGap"]
    else:
        table = font.get_sfnt_table("hhea")
        sizes = table["ascent"], -table["descent"], table["lineGap"]
    above, below, gap = (size * scale for size in sizes)
    return above, below, gap


@lru_cache(maxsize=KEPT)
def _stamp(
    text: str, prop: FontProperties, angle: float, dpi: float, at: tuple[float, float], is_math: bool
) -> tuple[Any, int, int]:
    """How far a text covers each pixel, the lowest row first, and its lower left corner from the text's whole pixel."""
    wide, high, low = _extent(text, prop, dpi, is_math)
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    corners = [(c * x - s * y, s * x + c * y) for x in (0.0, wide) for y in (-low, high - low)]
    xs, ys = zip(*corners, strict=True)
    left, right, down, up = (math.ceil(far) + ROOM for far in (-min(xs), max(xs), -min(ys), max(ys)))
    paper = RendererAgg(left + right, up + down, dpi)
    paper.draw_text(paper.new_gc(), left + at[0], up + at[1], text, prop, angle, is_math)
    drawn = np.asarray(paper.buffer_rgba())[:, :, 3]
    rows, columns = (np.flatnonzero(drawn.any(axis=axis)) for axis in (1, 0))
    if not rows.size:
        return drawn[:0], 0, 0
    cover = drawn[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1][::-1].copy()
    return cover, int(columns[0]) - left, int(rows[-1]) + 1 - up


class Canvas(FigureCanvasAgg):
    """A canvas on which texts are copied."""

    points = 0.0
    """How large letters shall be on it, at the least."""

    renderer: Any = None
    _made_for: Any = None

    def get_renderer(self) -> Any:
        key = (*self.get_width_height(physical=True), self.figure.dpi)
        if key != self._made_for:
            self.renderer, self._made_for = Renderer(*key), key  # type: ignore[no-untyped-call]
        return self.renderer
