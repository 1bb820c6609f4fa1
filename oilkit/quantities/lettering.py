"""Letters in pictures: what somebody typed is drawn as it was typed, in a font that has its letters, cut if too long.

Every figure of the kit goes through `letter` before it is drawn. matplotlib alone takes what stands between two ``$``
for mathematics, and raises for what is none; and it draws boxes for letters that its font has not.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from functools import cache, lru_cache
from typing import Any, NamedTuple

from matplotlib.artist import Artist
from matplotlib.axis import Axis
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, fontManager, get_font
from matplotlib.text import Text
from matplotlib.ticker import LogFormatter, NullLocator

INSTEAD = "?"
"""Stands for a letter that no font has."""
LONGEST, MOST = 400, 20
"""Letters in a line and lines in a text: more would not fit into any of the kit's pictures."""
NO_LETTERS = ("Last Resort", "STIXNonUnicode", "STIXSize", "cm")
"""Beginnings of the names of fonts that draw boxes, or something else than the letter asked for."""


class Lettered(NamedTuple):
    """How a text is drawn."""

    text: str
    fonts: tuple[str, ...] = ()
    """Families, each for what those before it have not; empty if the text's own font has all."""
    unknown: str = ""
    """Letters that no font has."""


def letter(figure: Figure) -> str:
    """Make all texts of a figure fit to be drawn; letters that no font of this computer has."""
    for ax in figure.axes:
        for axis in (ax.xaxis, ax.yaxis) if ax.axison else ():
            if _letters_itself(axis):
                continue
            minor = () if isinstance(axis.get_minor_locator(), NullLocator) else axis.get_minorticklabels()
            for labels, formatter in (
                (axis.get_majorticklabels(), axis.get_major_formatter()),
                (minor, axis.get_minor_formatter()),
            ):
                for label in labels:
                    label.set_parse_math(isinstance(formatter, LogFormatter))  # it writes 10³ as mathematics
    texts = (text for text in _texts_in(figure) if not text.get_parse_math())
    return "".join(sorted({unknown for text in texts for unknown in letter_text(text)}))


def _texts_in(artist: Artist) -> Iterator[Text]:
    """Not those of axes that are not drawn: matplotlib would make their ticks first."""
    if isinstance(artist, Text):
        yield artist
    for part in artist.get_children():
        if not isinstance(part, Axis) or part.axes.axison:
            yield from _texts_in(part.label if _letters_itself(part) else part)  # type: ignore[attr-defined]


def _letters_itself(part: Artist) -> bool:
    """Whether an axis of the panels sees to the letters of its numbers, which it makes only while it draws them."""
    return bool(getattr(part, "quick", False))


def letter_text(artist: Text) -> str:
    """The same for one text that is not mathematics."""
    lettered = letters(
        artist.get_text(), tuple(artist.get_fontfamily()), artist.get_fontweight(), artist.get_fontstyle()
    )
    artist.set_text(lettered.text)
    if lettered.fonts:
        artist.set_fontfamily(list(lettered.fonts))
        artist.set_fontweight("normal")
    return lettered.unknown


def told(unknown: str) -> str:
    """The sentence about letters that a picture could not show."""
    if not unknown:
        return ""
    shown = ", ".join(unknown[:8]) + (f" and {len(unknown) - 8} more" if len(unknown) > 8 else "")
    return f"No font of this computer has these letters, and pictures show {INSTEAD} for each: {shown}."


@lru_cache(maxsize=4096)
def letters(text: str, families: tuple[str, ...] = (), weight: Any = "normal", style: str = "normal") -> Lettered:
    """How a text is to be drawn that would be drawn in these families."""
    text = "\n".join(_cut(line) for line in text.split("\n")[:MOST])
    families = families or ("DejaVu Sans",)
    strange = set(text) - set("\n ")
    if strange <= _letters_of(families, weight, style):
        return Lettered(text)
    fonts = list(families)
    strange -= _letters_of(families, "normal", "normal")
    for font in _others() if strange else ():
        if more := {one for one in strange & _letters_of((font,), "normal", "normal") if _drawn_by(font, one)}:
            fonts.append(font)
            strange -= more
        if not strange:
            break
    unseen = {one for one in strange if unicodedata.category(one) in ("Cf", "Mn", "Me")}  # they only change others
    drawn = "".join(INSTEAD if one in strange - unseen else one for one in text if one not in unseen)
    own = set(drawn) - set("\n ") <= _letters_of(families, weight, style)
    return Lettered(drawn, () if own else tuple(fonts), "".join(sorted(strange - unseen)))


def _cut(line: str) -> str:
    line = "".join(" " if unicodedata.category(one) == "Cc" else one for one in line[: LONGEST + 1])
    return line if len(line) <= LONGEST else line[: LONGEST - 1] + "…"


@cache
def _letters_of(families: tuple[str, ...], weight: Any, style: str) -> frozenset[str]:
    """The letters of the font that matplotlib takes for these families."""
    wanted = FontProperties(family=list(families), weight=weight, style=style)  # type: ignore[arg-type]
    try:
        return frozenset(map(chr, get_font(fontManager.findfont(wanted)).get_charmap()))
    except (OSError, RuntimeError, ValueError):  # a font file that is gone, or broken
        return frozenset()


@cache
def _drawn_by(font: str, one: str) -> bool:
    """Whether a font not only has a letter but can draw it: some have only coloured pictures of it."""
    try:
        get_font(fontManager.findfont(FontProperties(family=[font]))).load_char(ord(one))
    except (OSError, RuntimeError, ValueError):
        return False
    return True


def _others() -> Iterator[str]:
    """Installed families with an upright face of usual weight."""
    yield from dict.fromkeys(
        entry.name
        for entry in fontManager.ttflist
        if entry.style == entry.variant == entry.stretch == "normal"
        and entry.weight in (400, "normal", "regular", "book")
        and not entry.name.startswith(NO_LETTERS)
    )
