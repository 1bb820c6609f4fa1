"""What somebody typed comes into every picture as it was typed, or a sentence says that it cannot."""

from __future__ import annotations

import dataclasses
import io
import logging
from typing import Any

import matplotlib
import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.font_manager import fontManager, get_font
from parts import quick
from PIL import Image

from oilkit import demo_set_ups, panels, sheet_pdf
from oilkit.exercises.gauges import still
from oilkit.panels.framework import drawing
from oilkit.panels.framework.picture import Picture
from oilkit.quantities.lettering import LONGEST, letter, letters

CHINESE = "弯道"
NASTY = {
    "dollar": "turn $1",
    "two dollars": "$turn$",
    "broken mathematics": r"$\frac{$",
    "dollars alone": "$$",
    "backslash": r"C:\turn\new \alpha",
    "marks": "a^b_c{d}%&#~",
    "braces": "}{",
    "emoji": "turn 😀 🏁",
    "joined emoji": "👩\u200d🔧 ❤️",
    "Chinese": CHINESE,
    "Arabic": "منعطف ١",
    "Hebrew": "פנייה",
    "newline": "one\ntwo",
    "tab and bell": "one\ttwo\x07",
    "combining": "e\u0301\u0302\u0303",
    "half a pair": "turn \ud83d",
    "long": "W" * 10_000,
    "long words": "turn " * 2_000,
    "many lines": "\n" * 10_000,
    "nothing": "",
}
nasty = pytest.mark.parametrize("name", NASTY.values(), ids=NASTY.keys())


@pytest.fixture(autouse=True)
def silent(caplog: pytest.LogCaptureFixture) -> Any:
    """matplotlib warns of a missing letter (an error in these tests), and logs a missing font."""
    with caplog.at_level(logging.WARNING):
        yield
    assert not caplog.records


def pixels(png: bytes) -> Any:
    return np.asarray(Image.open(io.BytesIO(png)).convert("RGB"))


def pictured(name: str, fixed: bool) -> tuple[Any, str]:
    """A picture with a name in it, and the letters that it could not show."""
    picture = Picture(4.0, 1.0)

    def build(figure: Figure) -> Any:
        ax = figure.add_axes((0.0, 0.0, 1.0, 1.0))
        drawing.bare(ax, (0.0, 1.0), (0.0, 1.0))
        written = ax.text(0.02, 0.5, name if fixed else "", va="center", weight="bold")
        if fixed:
            return []
        written.set_text(name)
        return [written]

    picture.rebuild(build)
    for _ in range(3):  # a text that moves is drawn once, kept the second time, and copied from then on
        picture.frame()
    return pixels(picture.whole()), picture.unknown


@nasty
@pytest.mark.parametrize("fixed", [True, False], ids=["fixed", "moving"])
def test_any_text_can_be_drawn(name: str, fixed: bool) -> None:
    drawn, unknown = pictured(name, fixed)
    assert (drawn < 128).any() == bool(name.strip())
    assert set(unknown) <= set(name)


def test_what_stands_between_dollars_is_not_mathematics() -> None:
    typed, other = (pictured(name, True)[0] for name in ("$x$", "x"))
    assert np.flatnonzero((typed < 128).any(axis=(0, 2)))[-1] > np.flatnonzero((other < 128).any(axis=(0, 2)))[-1] + 8


def test_a_letter_of_another_installed_font_is_drawn_with_that() -> None:
    own = get_font(fontManager.findfont("DejaVu Sans")).get_charmap()
    other = get_font(fontManager.findfont("STIXGeneral")).get_charmap()  # both come with matplotlib
    one = next(chr(code) for code in sorted(other) if code not in own and chr(code).isprintable() and code > 0x2000)
    found = letters(f"a{one}")
    assert found.text == f"a{one}"
    assert not found.unknown
    assert len(found.fonts) > 1
    assert (pictured(one, True)[0] != pictured("?", True)[0]).any()


def test_letters_that_no_font_has_are_replaced_and_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("oilkit.quantities.lettering._others", lambda: iter(()))
    letters.cache_clear()
    for fixed in (True, False):
        drawn, unknown = pictured(f"a{CHINESE}", fixed)
        assert set(unknown) == set(CHINESE)
        assert (drawn == pictured("a??", fixed)[0]).all()
    letters.cache_clear()


def test_a_long_text_ends_with_dots() -> None:
    assert letters("W" * 10_000).text == "W" * (LONGEST - 1) + "…"
    assert letters("W" * LONGEST).text == "W" * LONGEST


def test_logarithmic_axes_keep_their_powers() -> None:
    with matplotlib.rc_context(drawing.STYLE):
        figure = Figure()
        ax = figure.add_axes((0.1, 0.1, 0.8, 0.8))
        ax.set_xscale("log")
        ax.set_xlim(1e-3, 1e3)
        ax.set_yticks([0, 1], ["$a$", "b"])
        assert letter(figure) == ""
        assert all(label.get_parse_math() for label in ax.get_xticklabels())
        assert not any(label.get_parse_math() for label in ax.get_yticklabels())
        still(figure)


# ------------------------------------------------------------------------------- everything that a learner gives a name


def named(names: list[str]) -> Any:
    """A set-up in which everything that can have a name has one of these."""
    build = demo_set_ups()["street V8"]
    names = [name or "x" for name in names]
    parts = {part: dataclasses.replace(getattr(build, part), name=names[-1]) for part in ("engine", "oil", "vessel")}
    events: Any = tuple(dataclasses.replace(build.events[0], name=f"{k}{name}") for k, name in enumerate(names))
    return dataclasses.replace(build, name=names[0], events=events, **parts)


@pytest.mark.parametrize("first", quick(1, range(0, len(NASTY), 5)))
def test_a_set_up_of_any_name_has_its_panels_and_its_sheet(first: int) -> None:
    build = named([*NASTY.values()][first : first + 5])
    panel = panels.your_engine(build)
    other = panels.compare_set_ups(build, build)
    for one in (panel, other):
        assert one.png
        assert not one.trouble
        assert not one.errors
        assert one.screen.table.count("No font of this computer") == bool(one.picture.unknown)
    assert sheet_pdf(panel.state["sheet"]).startswith(b"%PDF")
