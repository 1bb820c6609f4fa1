"""Letters of a picture that is shown to a class: as large as asked, wherever there is room for them."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from functools import partial
from typing import Any

from matplotlib.backends.backend_agg import RendererAgg
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.transforms import Bbox

Group = tuple[list[Text], Callable[[], Bbox | None]]
"""Texts that are of one size, and the box that they fill."""
TOUCH = 1.5
"""Pixels by which boxes may overlap more than before: their edges are clear."""


def enlarge(figure: Figure, renderer: RendererAgg, points: float, settle: Callable[[], Any]) -> None:
    """Let letters be of so many points at the least, but those that would be cut off or stand in others' way then.

    settle: lets graphs give way to their numbers, and ticks find their places; called after each change: once where
    there is room for all.
    """
    groups = [group for group in _groups(figure, renderer) if group[0]]
    for text in {*figure.findobj(Text)}.difference(*(texts for texts, _ in groups)):  # to be seen later, if at all
        text.set_fontsize(max(float(text.get_fontsize()), points))
    were = [[float(text.get_fontsize()) for text in texts] for texts, _ in groups]
    before = _overlaps(figure, groups)
    for texts, _ in groups:
        for text in texts:
            text.set_fontsize(max(float(text.get_fontsize()), points))
    for share in (0.5, 0.0, 0.0):
        settle()
        now = _overlaps(figure, groups)
        crowded = {k for pair, deep in now.items() if deep > before.get(pair, 0.0) + TOUCH for k in pair}
        if not crowded:
            return
        for k in crowded:
            for text, was in zip(groups[k][0], were[k], strict=True):
                text.set_fontsize(was + share * max(points - was, 0.0))
    settle()


def _groups(figure: Figure, renderer: RendererAgg) -> Iterator[Group]:
    taken: set[Text] = set()
    legends = [*figure.legends, *(legend for ax in figure.axes if (legend := ax.get_legend()))]
    axes = [axis for ax in figure.axes if ax.axison for axis in (ax.xaxis, ax.yaxis)]
    for axis in axes:
        texts = [axis.label, axis.get_offset_text(), *axis.get_ticklabels()]
        taken |= {*texts}
        yield texts, partial(axis.get_tightbbox, renderer)
    for legend in legends:
        texts = [*legend.get_texts(), legend.get_title()]
        taken |= {*texts}
        yield texts, partial(legend.get_window_extent, renderer)
    for text in figure.findobj(Text):
        if text not in taken and text.get_visible() and text.get_text().strip():
            yield [text], partial(text.get_window_extent, renderer)


def _overlaps(figure: Figure, groups: list[Group]) -> dict[tuple[int, ...], float]:
    """Pixels by which two groups overlap, or one goes beyond the picture's edge."""
    edge = figure.bbox
    boxes = [(k, box) for k, (_, extent) in enumerate(groups) if (box := extent()) is not None]
    found: dict[tuple[int, ...], float] = {}
    for k, box in boxes:
        found[k,] = max(edge.x0 - box.x0, edge.y0 - box.y0, box.x1 - edge.x1, box.y1 - edge.y1)
    for (k, one), (j, other) in itertools.combinations(boxes, 2):
        across = min(one.x1, other.x1) - max(one.x0, other.x0)
        found[k, j] = min(across, min(one.y1, other.y1) - max(one.y0, other.y0))
    return {pair: deep for pair, deep in found.items() if deep > 0.0}
