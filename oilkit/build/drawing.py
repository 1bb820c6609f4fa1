"""A drawing in points from the upper left: words, lines and boxes, for HTML and for PDF alike."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal, NamedTuple

BLUE, ORANGE, RED, BLACK, PALE = "#0072B2", "#E69F00", "#D55E00", "#000000", "#BBBBBB"


class Words(NamedTuple):
    """Letters on one line, which stands at y."""

    x: float
    y: float
    text: str
    size: float
    bold: bool = False
    anchor: Literal["start", "middle", "end"] = "start"
    halo: bool = False
    """Paper round the letters, because they stand over something."""


class Line(NamedTuple):
    x1: float
    y1: float
    x2: float
    y2: float
    colour: str = BLACK
    dashed: bool = False


class Box(NamedTuple):
    x: float
    y: float
    width: float
    height: float
    fill: str = "none"
    hatched: bool = False


@dataclass
class Drawing:
    """Boxes, lines over them, and words over both."""

    width: float = 0.0
    height: float = 0.0
    says: str = ""
    """The same in words, for those who cannot see it."""
    boxes: list[Box] = field(default_factory=list)
    lines: list[Line] = field(default_factory=list)
    words: list[Words] = field(default_factory=list)

    def take(self, other: Drawing, x: float, y: float, scale: float) -> None:
        """Put another drawing into this one, larger by a factor, with its upper left corner at a point."""

        def moved(left: float, top: float) -> tuple[float, float]:
            return x + scale * left, y + scale * top

        self.boxes += [Box(*moved(b.x, b.y), scale * b.width, scale * b.height, b.fill, b.hatched) for b in other.boxes]
        self.lines += [Line(*moved(n.x1, n.y1), *moved(n.x2, n.y2), n.colour, n.dashed) for n in other.lines]
        self.words += [Words(*moved(w.x, w.y), w.text, scale * w.size, w.bold, w.anchor, w.halo) for w in other.words]
