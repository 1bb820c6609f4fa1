"""A picture on a class's wall: letters of 20 pixels at 1280 x 720, and none cut off or in another's way for it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from matplotlib.figure import Figure
from panel_answers import ANSWERS
from parts import quick_named

from oilkit import panels
from oilkit.panels.framework import projected
from oilkit.panels.framework.picture import Picture

LARGER, POINTS = 1.5, 10.0
"""At 1280 x 720 a picture of 6.5 inches is shown so much larger; letters of so many points are 20 pixels then."""
CROWDED = {"commissioning": 9.5, "your_engine": 9.0}
"""Panels with a list for which there is no room at that size: their least points."""
QUICK = ("acceptance", "filling", "oil_line")


def found(panel: Any) -> tuple[dict[Any, float], dict[str, float]]:
    """How far texts reach over each other or over the edge, by what they say; and the points of each."""
    figure, renderer = panel.picture.figure, panel.picture.canvas.get_renderer()
    groups = [group for group in projected._groups(figure, renderer) if group[0]]
    names = [f"{k} {texts[0].get_text()}" for k, (texts, _) in enumerate(groups)]
    over = {tuple(names[k] for k in pair): deep for pair, deep in projected._overlaps(figure, groups).items()}
    shown = {names[k]: texts[0].get_fontsize() for k, (texts, box) in enumerate(groups) if box() is not None}
    return over, shown


def enlarged(panel: Any, points: float) -> Any:
    """As the browser asks for it: it knows how high a picture is in the page, and not for a class."""
    flatter = panel.size[1] / (panel.wide or panel.size[1])
    panel.picture.scale(LARGER / flatter, points * flatter)
    panel._built_for = None
    panel.redraw()
    return found(panel)


@pytest.mark.parametrize("name", quick_named(QUICK, sorted(ANSWERS)))
def test_letters_are_large_and_none_is_in_the_way(name: str) -> None:
    panel = getattr(panels, name)()
    before, _ = enlarged(panel, 0.0)
    after, shown = enlarged(panel, POINTS)
    worse = {pair: deep for pair, deep in after.items() if deep > before.get(pair, 0.0) + projected.TOUCH + 0.1}
    assert not worse
    least = min(shown.values())
    assert least == pytest.approx(CROWDED.get(name, max(least, POINTS)), abs=0.01)
    back, small = enlarged(panel, 0.0)
    assert back == before
    assert min(small.values()) < POINTS or name in ("register", "what_moves")
    panel.close()


def test_it_is_drawn_once_and_shows_half_of_a_long_list() -> None:
    """Letters find their sizes without a pixel. Which half is asked for only where there are halves."""
    panel = panels.acceptance()
    rows = [line.value.label for line in panel.state["card"].values()]

    def shown() -> list[str]:
        texts = {text.get_text().replace("gauge less", "less") for text in panel.picture.figure.axes[0].texts}
        return [row for row in rows if row.replace("gauge less", "less") in texts]

    half, part = (len(rows) + 1) // 2, panel.controls["part"].layout
    assert shown() == rows
    assert part.display == "none"
    drawn: list[int] = []
    draw = panel.picture.canvas.draw
    panel.picture.canvas.draw = lambda: drawn.append(1) or draw()
    enlarged(panel, POINTS)
    assert len(drawn) == 1
    assert shown() == rows[:half]
    panel.set(part="the second half")
    assert shown() == rows[half:]
    enlarged(panel, 0.0)
    assert shown() == rows
    panel.screen.set_state({"points": POINTS, "scale": LARGER})  # as the browser says it
    assert part.display == ""
    assert shown() == rows[half:]
    panel.screen.set_state({"points": 0.0, "scale": 1.0})
    assert part.display == "none"
    assert panel.errors == []
    panel.close()


def picture(build: Callable[[Figure], Any]) -> list[float]:
    shown = Picture(4.0, 2.0)
    shown.scale(LARGER, 14.0)
    shown.rebuild(lambda figure: build(figure) and [])
    return [text.get_fontsize() for text in shown.figure.texts]


def test_a_text_grows_only_where_there_is_room() -> None:
    alone = picture(lambda figure: figure.text(0.5, 0.5, "alone", fontsize=9.0))
    assert alone == [14.0]
    wide = picture(lambda figure: figure.text(0.02, 0.5, "as wide as the picture is, and hardly wider", fontsize=9.0))
    assert 9.0 <= wide[0] < 14.0
    close = picture(lambda figure: [figure.text(0.1, y, "one above the other", fontsize=9.0) for y in (0.5, 0.565)])
    assert close == [9.0, 9.0]
    assert picture(lambda figure: figure.text(0.1, 0.5, "large", fontsize=20.0)) == [20.0]
