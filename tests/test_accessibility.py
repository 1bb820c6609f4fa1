"""Contrast in the panels' pictures, which no browser check sees: WCAG 2.1, 1.4.3 for text and 1.4.11 for lines."""

from __future__ import annotations

from typing import Any

import pytest
from matplotlib.colors import to_rgba
from matplotlib.lines import Line2D
from matplotlib.text import Text
from panel_answers import ANSWERS
from parts import quick

from oilkit import panels
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
