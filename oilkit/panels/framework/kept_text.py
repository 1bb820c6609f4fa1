"""A canvas on which a text that was drawn before is copied: a picture drawn afresh takes half of matplotlib's time."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg, RendererAgg
from matplotlib.font_manager import FontProperties
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


@lru_cache(maxsize=KEPT)
def _stamp(
    text: str, prop: FontProperties, angle: float, dpi: float, at: tuple[float, float], is_math: bool
) -> tuple[Any, int, int]:
    """How far a text covers each pixel, the lowest row first, and its lower left corner from the text's whole pixel."""
    wide, high, low = RendererAgg(1, 1, dpi).get_text_width_height_descent(text, prop, is_math)
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
