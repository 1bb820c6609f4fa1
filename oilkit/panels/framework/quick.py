"""A figure that is drawn in a third of matplotlib's time, to the same pixels: what it makes many times is made once.

An axis draws all its ticks with one: matplotlib makes five artists for each number along it, and lays them out again
and again. A text that has been drawn before is copied.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import cache, lru_cache
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.axis import Axis, Tick, XAxis, YAxis
from matplotlib.backends.backend_agg import FigureCanvasAgg, RendererAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.offsetbox import OffsetBox
from matplotlib.text import Text
from matplotlib.ticker import LogFormatter, NullLocator
from matplotlib.transforms import Bbox

from oilkit.quantities.lettering import letters

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

    renderer: Any = None
    _made_for: Any = None

    def get_renderer(self) -> Any:
        key = (*self.get_width_height(physical=True), self.figure.dpi)
        if key != self._made_for:
            self.renderer, self._made_for = Renderer(*key), key  # type: ignore[no-untyped-call]
        return self.renderer


class _Ruled(Axis):
    """An axis that is drawn with one tick, moved from each number to the next.

    What that cannot show is left to matplotlib: minor ticks, ticks on the other side, a factor common to all numbers,
    names in letters of several fonts.
    """

    sideways: bool
    _known: Any = None
    _boxed: Any = None
    _setting = False

    @property
    def quick(self) -> bool:
        """Whether it is drawn so, and does its own lettering."""
        return self._ticks() is not None

    def _ticks(self) -> tuple[Any, list[str]] | None:
        """Where the ticks are, and what stands at them; None for an axis that matplotlib has to draw."""
        locator, formatter = self.get_major_locator(), self.get_major_formatter()
        key = (*self.get_view_interval(), *self.axes.bbox.size, locator, formatter)
        if self._known is None or self._known[0] != key:
            self._known = key, self._find_ticks()
        known: tuple[Any, list[str]] | None = self._known[1]
        return known

    def _find_ticks(self) -> tuple[Any, list[str]] | None:
        formatter, tick = self.get_major_formatter(), self._first
        plain = isinstance(self.get_minor_locator(), NullLocator) and self.get_label_position() in ("bottom", "left")
        if not plain or tick.tick2line.get_visible() or tick.label2.get_visible():
            return None
        places: Any = np.asarray(self.get_majorticklocs(), dtype=float)
        names = formatter.format_ticks(places)
        label, is_math = tick.label1, isinstance(formatter, LogFormatter)  # which writes 10³ as mathematics
        label.set_parse_math(is_math)
        if not is_math:
            families = tuple(label.get_fontfamily())
            lettered = [letters(name, families, label.get_fontweight(), label.get_fontstyle()) for name in names]
            if any(one.fonts or one.unknown for one in lettered):
                return None
            names = [one.text for one in lettered]
        if formatter.get_offset():
            return None
        scale = self.get_transform()
        ends = scale.transform(self.get_view_interval())
        near = 1e-10 * abs(ends[1] - ends[0])  # as near as matplotlib itself counts a tick at the very end in
        at = scale.transform(places)
        seen = np.flatnonzero((at >= min(ends) - near) & (at <= max(ends) + near))
        return places[seen], [names[k] for k in seen]

    def reset_ticks(self) -> None:
        self.majorTicks, self.minorTicks = [], []  # matplotlib begins with one of each

    def set_ticks(self, *ticks: Any, **style: Any) -> Any:
        self._setting = True
        try:
            return super().set_ticks(*ticks, **style)
        finally:
            self._setting = False

    def get_major_ticks(self, numticks: int | None = None) -> list[Tick]:
        first, ticks = not self.majorTicks, super().get_major_ticks(1 if self._setting else numticks)
        for tick in ticks if first else ():
            tick.set_clip_path(self.axes.patch)
        return list(ticks)

    @property
    def _first(self) -> Tick:
        return (self.majorTicks or self.get_major_ticks(1))[0]

    def _labels(self) -> Iterator[Text]:
        """The tick's label at each of its places."""
        label, (places, names) = self._first.label1, self._ticks() or ((), ())
        if label.get_visible():
            for place, name in zip(places, names, strict=True):
                label.set_text(name)
                label.set_x(place) if self.sideways else label.set_y(place)
                yield label

    def _label_boxes(self, renderer: Any) -> list[Bbox]:
        self._ticks()
        known = self.axes.bbox.bounds, self._known[0]
        if self._boxed is None or self._boxed[0] != known:
            self._boxed = known, [label.get_window_extent(renderer) for label in self._labels()]
        return [*self._boxed[1]]

    def _boxes(self, renderer: Any) -> list[Bbox]:
        """Where numbers and name stand, after the name has been put beside the numbers."""
        tick, frame, (_, names) = self._first, self.axes.bbox, self._ticks() or ((), [])
        pixels = self.axes.figure.dpi / 72.0
        boxes = self._label_boxes(renderer)
        marks = tick.tick1line.get_visible() and bool(names)
        length = tick.tick1line.get_markersize() * pixels if marks else 0.0
        if self.sideways:
            low = min((box.y0 for box in boxes), default=frame.y0)
            self.label.set_y(min(low, frame.y0 - length) - self.labelpad * pixels)
        else:
            left = min((box.x0 for box in boxes), default=frame.x0)
            self.label.set_x(min(left, frame.x0 - length) - self.labelpad * pixels)
        return [*boxes, self.label.get_window_extent(renderer)] if self.label.get_text() else boxes

    def get_tightbbox(self, renderer: Any = None, *, for_layout_only: bool = False) -> Bbox | None:
        if renderer is None or for_layout_only or not self.get_visible() or not self.quick:
            return super().get_tightbbox(renderer, for_layout_only=for_layout_only)
        boxes = [box for box in self._boxes(renderer) if box.width > 0.0]
        return Bbox.union(boxes) if boxes else None

    def draw(self, renderer: Any) -> None:
        if not self.get_visible() or not self.quick:
            super().draw(renderer)
            return
        self._draw_lines(renderer)
        self._boxes(renderer)
        for label in self._labels():
            label.draw(renderer)
        self.label.draw(renderer)

    def _draw_lines(self, renderer: Any) -> None:
        """The grid, and the ticks, each as one line with gaps."""
        tick, (places, _) = self._first, self._ticks() or ((), [])
        across = np.tile((0.0, 1.0, math.nan), len(places)), np.zeros(len(places))
        for line, along, beside in zip(
            (tick.gridline, tick.tick1line), (np.repeat(places, 3), places), across, strict=True
        ):
            before = line.get_data()
            line.set_data(*((along, beside) if self.sideways else (beside, along)))
            line.draw(renderer)
            line.set_data(*before)


class Across(_Ruled, XAxis):
    """The axis at a graph's foot."""

    sideways = True


class Up(_Ruled, YAxis):
    """The axis on a graph's left."""

    sideways = False


class Paper(Axes):
    """Axes with these."""

    def _init_axis(self) -> None:  # the place that matplotlib has for other axes
        self.xaxis, self.yaxis = Across(self, clear=False), Up(self, clear=False)
        for axis, sides in ((self.xaxis, ("bottom", "top")), (self.yaxis, ("left", "right"))):
            for side in sides:
                self.spines[side].register_axis(axis)


class Sheet(Figure):
    """A figure whose axes are such."""

    def once(self) -> None:
        """Once all is in it: legends need not measure each part again for each box around it."""
        for legend in (*self.legends, *filter(None, (ax.get_legend() for ax in self.axes))):
            for part in legend.findobj(OffsetBox):
                part.get_bbox = cache(part.get_bbox)  # type: ignore[method-assign]

    def add_axes(self, *where: Any, **style: Any) -> Axes:
        return super().add_axes(*where, axes_class=Paper, **style)
