"""A picture on a class's wall: letters of 20 pixels at 1280 x 720, and none cut off or in another's way for it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from matplotlib.figure import Figure
from panel_answers import ANSWERS
from parts import quick_named

from oilkit import panels
from oilkit.panels.framework import drawing, projected
from oilkit.panels.framework.picture import DPI, Picture
from oilkit.quantities.units import unit_switch
from oilkit.shop.as_built import SHOP_TESTS
from oilkit.shop.procedures import PROCEDURES

LARGER, POINTS = 1.5, 15.0
"""At 1280 x 720 a picture of 6.5 inches is shown so much larger; 20 pixels are so many points."""
ROOM = 930, 514
"""Pixels for a picture there."""
QUICK = ("acceptance", "bench_fit", "commissioning", "fault_bench", "filling", "oil_line", "your_engine")


@pytest.fixture
def words(monkeypatch: pytest.MonkeyPatch) -> list[drawing.Word]:
    """Those that are drawn as outlines, as soon as they are made."""
    made: list[drawing.Word] = []
    show = drawing.Word.show

    def noted(word: drawing.Word, *where: Any) -> None:
        if word not in made:
            made.append(word)
        show(word, *where)

    monkeypatch.setattr(drawing.Word, "show", noted)
    return made


def found(panel: Any) -> tuple[dict[Any, float], dict[str, float]]:
    """How far texts reach over each other or over the edge, by what they say; and the points of each group's least."""
    figure, renderer = panel.picture.figure, panel.picture.canvas.get_renderer()
    groups = [group for group in projected._groups(figure, renderer) if group[0]]
    names = [f"{k} {texts[0].get_text()}" for k, (texts, _) in enumerate(groups)]
    over = {tuple(names[k] for k in pair): deep for pair, deep in projected._overlaps(figure, groups).items()}
    shown = {}
    for name, (texts, box) in zip(names, groups, strict=True):
        sizes = [text.get_fontsize() for text in texts if text.get_visible() and text.get_text().strip()]
        if sizes and box() is not None:
            shown[name] = min(sizes)
    return over, shown


def least(panel: Any) -> tuple[float, float]:
    """How much larger a picture is shown on the full screen, and the points of its letters that are 20 pixels there."""
    width, height = panel.size[0], panel.wide or panel.size[1]
    larger = min(ROOM[0] / width, ROOM[1] / height) / DPI
    return larger, POINTS / larger


def enlarged(panel: Any, for_class: bool) -> Any:
    """As the browser asks for it: it knows how high a picture is in the page, and not for a class."""
    flatter = panel.size[1] / (panel.wide or panel.size[1])
    larger, points = least(panel)
    panel.picture.scale(larger / flatter, points * flatter if for_class else 0.0)
    panel._built_for = None
    panel.redraw()
    return found(panel)


@pytest.mark.parametrize("name", quick_named(QUICK, sorted(ANSWERS)))
def test_letters_are_large_and_none_is_in_the_way(name: str, words: list[drawing.Word]) -> None:
    panel = getattr(panels, name)()
    before, _ = enlarged(panel, False)
    words.clear()
    after, shown = enlarged(panel, True)
    assert crowded(before, after) == {}
    _, points = least(panel)
    assert {text: size for text, size in shown.items() if size < points - 0.01} == {}
    assert [word.points for word in words if word.points < points - 0.01] == []
    back, small = enlarged(panel, False)
    assert back == before
    assert min(small.values()) < points or name in ("register", "what_moves")
    panel.close()


def crowded(before: dict[Any, float], after: dict[Any, float]) -> dict[Any, float]:
    return {pair: deep for pair, deep in after.items() if deep > before.get(pair, 0.0) + projected.TOUCH + 0.1}


@pytest.mark.parametrize("system", ["US", "SI"])
def test_what_the_card_says_is_as_large(system: str) -> None:
    """Words that are not there at first, when letters are chosen."""
    unit_switch.choose(system)
    panel = panels.fault_bench()
    enlarged(panel, True)
    panel.set(help="what the card says")
    for test in SHOP_TESTS:
        panel.controls["test"].set_si(test)
        panel.update()
        panel._do.click()
    after, shown = found(panel)
    assert sum("healthy:" in text for text in shown) == 5
    assert min(shown.values()) >= least(panel)[1] - 0.01
    of_card = {pair: deep for pair, deep in after.items() if any("healthy:" in text for text in pair)}
    assert crowded({}, of_card) == {}
    assert panel.errors == []
    panel.close()


@pytest.mark.parametrize("name", [procedure.title for procedure in PROCEDURES.values()])
def test_each_procedure_finds_room(name: str) -> None:
    panel = panels.commissioning()
    panel.set(procedure=name)
    before, _ = enlarged(panel, False)
    after, shown = enlarged(panel, True)
    assert crowded(before, after) == {}
    assert min(shown.values()) >= least(panel)[1] - 0.01
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
    enlarged(panel, True)
    assert len(drawn) == 1
    assert shown() == rows[:half]
    panel.set(part="the second half")
    assert shown() == rows[half:]
    enlarged(panel, False)
    assert shown() == rows
    panel.screen.set_state({"points": 10.0, "scale": LARGER})  # as the browser says it
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
