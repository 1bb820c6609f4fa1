"""Contrast in the panels' pictures, which no browser check sees: WCAG 2.1, 1.4.3 for text and 1.4.11 for lines."""

from __future__ import annotations

from itertools import combinations
from typing import Any

import pytest
from matplotlib.colors import to_rgba
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.text import Text
from matplotlib.transforms import Bbox
from panel_answers import ANSWERS
from parts import quick

from oilkit import panels, use_units
from oilkit.panels.framework import drawing

SHADING = ("white", drawing.PALE)
"""Lines of these are paper or shading under something else."""


def contrast(colour: Any, alpha: float | None = None) -> float:
    """Of a colour against white paper (WCAG 2.1, relative luminance)."""
    *rgb, own = to_rgba(colour)
    share = own if alpha is None else alpha
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in (1 - share * (1 - v) for v in rgb)]
    return 1.05 / (0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2] + 0.05)


def strongest(line: Line2D) -> float:
    """The highest contrast among a line's stroke and its markers' edge and face."""
    colours = [] if line.get_linestyle() in ("None", "none", "", " ") else [line.get_color()]
    if line.get_marker() not in ("None", "none", "", " ", None):
        colours += [line.get_markeredgecolor(), line.get_markerfacecolor()]
    return max((contrast(c, line.get_alpha()) for c in colours if c != "none"), default=21.0)


def test_contrast_is_wcags() -> None:
    assert contrast("black") == pytest.approx(21.0)
    assert contrast("white") == pytest.approx(1.0)
    assert contrast("#767676") == pytest.approx(4.54, abs=0.005)  # the well-known lightest grey of level AA
    assert contrast("#777777") < 4.5


@pytest.mark.parametrize("name", quick(6, sorted(ANSWERS)))
def test_texts_and_lines_stand_out_from_the_paper(name: str) -> None:
    figure = getattr(panels, name)().picture.figure
    ticks = {
        part
        for ax in figure.axes
        for axis in (ax.xaxis, ax.yaxis)
        for tick in (*axis.get_major_ticks(), *axis.get_minor_ticks())
        for part in (tick.gridline, tick.tick1line, tick.tick2line)
    }
    lines = [line for line in figure.findobj(Line2D) if line not in ticks and line.get_color() not in SHADING]
    faint = [(line.get_label(), line.get_color()) for line in lines if strongest(line) < 3.0]
    pale = [text.get_text() for text in figure.findobj(Text) if text.get_text() and contrast(text.get_color()) < 4.5]
    assert faint == pale == []


def written(figure: Figure) -> list[tuple[str, Bbox]]:
    """Every text that can be seen in a picture, with its place."""
    unseen = set()
    for ax in figure.axes:
        for axis in (ax.xaxis, ax.yaxis):
            ticks = [*axis.get_major_ticks(), *axis.get_minor_ticks()]
            labels = {label for tick in ticks for label in (tick.label1, tick.label2)}
            seen = {tick.label1 for tick in axis._update_ticks()} if ax.axison else set()  # type: ignore[attr-defined]
            unseen |= labels - seen | {axis.offsetText} | (set() if ax.axison else {axis.label})
    texts = [text for text in figure.findobj(Text) if text not in unseen and text.get_visible()]
    return [(text.get_text(), text.get_window_extent()) for text in texts if text.get_text().strip()]


@pytest.mark.parametrize("system", ["US", "SI"])
@pytest.mark.parametrize("name", quick(6, sorted(ANSWERS)))
def test_no_text_covers_another_or_is_cut_off(name: str, system: str) -> None:
    use_units(system)
    figure = getattr(panels, name)().picture.figure
    texts, (width, height) = written(figure), figure.bbox.size
    cut = [text for text, at in texts if at.x0 < -1 or at.y0 < -1 or at.x1 > width + 1 or at.y1 > height + 1]
    covered = [
        (one, other)
        for (one, at), (other, there) in combinations(texts, 2)
        if min(at.x1, there.x1) - max(at.x0, there.x0) > 1.5 and min(at.y1, there.y1) - max(at.y0, there.y0) > 4.0
    ]
    assert cut == covered == []


def test_texts_that_cover_each_other_are_found() -> None:
    figure = Figure()
    ax = figure.add_axes((0.1, 0.1, 0.8, 0.8))
    ax.text(0.5, 0.5, "one")
    assert len(written(figure)) == 1 + len(ax.get_xticks()) + len(ax.get_yticks())
    ax.text(0.5, 0.5, "two")
    (_, one), (_, two) = written(figure)[:2]
    assert one.overlaps(two)
