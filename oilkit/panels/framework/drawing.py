"""What the panels draw: the vessel cut open, dial gauges, and plain axes, in colours that everybody can tell apart.

Each drawing is made once with its fixed parts; ``moving`` lists the artists that a new setting moves, ``show`` moves
them. Nothing here computes anything.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from functools import lru_cache
from typing import Any

import numpy as np
from matplotlib import rcParams
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.collections import PolyCollection
from matplotlib.colors import to_rgb
from matplotlib.font_manager import FontProperties
from matplotlib.lines import Line2D
from matplotlib.patches import Arc, Circle, PathPatch, Rectangle
from matplotlib.textpath import TextPath, text_to_path
from matplotlib.transforms import Affine2D, Bbox

from oilkit.panels.framework.axes import STEPS, round_up
from oilkit.quantities.kind import Kind

# Okabe & Ito's colours, told apart in all common kinds of colour blindness
BLACK, ORANGE, SKY, GREEN = "#000000", "#E69F00", "#56B4E9", "#009E73"
YELLOW, BLUE, RED, PURPLE = "#F0E442", "#0072B2", "#D55E00", "#CC79A7"
GREY, PALE, STEEL = "#595959", "#E6E6E6", "#9AA3AB"
OCHRE, AZURE = "#A87400", "#3A8FC4"
"""ORANGE and SKY, dark enough for a line without an edge: it stands out from white paper at 3 to 1 or more."""
OIL, GAS = ORANGE, "#D9EEF9"
PALETTE = [
    tuple(round(255 * c) for c in to_rgb(name))
    for name in (BLACK, ORANGE, SKY, GREEN, YELLOW, BLUE, RED, PURPLE, GREY, PALE, STEEL, GAS, OCHRE, AZURE)
]

STYLE: Any = {
    "font.size": 10.0,
    "axes.titlesize": 10.5,
    "axes.titleweight": "bold",
    "axes.titlepad": 7.0,
    "axes.titley": 1.0,  # else it looks, at each drawing, for numbers above the graph
    "axes.labelsize": 10.0,
    "axes.grid": True,
    "grid.color": "#DDDDDD",
    "axes.axisbelow": True,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "lines.linewidth": 2.0,
    "legend.frameon": False,
    "legend.fontsize": 9.5,
    "legend.borderaxespad": 0.3,
    "legend.handlelength": 1.8,
    "figure.facecolor": "white",
    "text.parse_math": False,  # a name may have a $ in it
}


def box(ax: Axes, corner: tuple[float, float], width: float, height: float, **style: Any) -> Rectangle:
    """A rectangle from its lower left corner, in the units of the axes."""
    rectangle = Rectangle(corner, width, height, **style)
    ax.add_artist(rectangle)  # `add_patch` would first work out limits, which every axes here has
    return rectangle


def boxes(ax: Axes, bounds: Iterable[tuple[float, float, float, float]], **style: Any) -> PolyCollection:
    """Many rectangles of one look as one artist. bounds: of each, left, bottom, width and height."""
    many = PolyCollection(corners_of(bounds), **style)
    ax.add_artist(many)
    return many


def corners_of(bounds: Iterable[tuple[float, float, float, float]]) -> list[Any]:
    """The corners of such rectangles, for the artist's ``set_verts``."""
    return [[(x, y), (x + w, y), (x + w, y + h), (x, y + h)] for x, y, w, h in bounds]


def strokes(ax: Axes, ends: Iterable[tuple[tuple[float, float], tuple[float, float]]], **style: Any) -> Line2D:
    """Straight strokes, each from one point to another, as one artist: many take hardly longer than one."""
    gap = (math.nan, math.nan)
    points = np.array([point for one in ends for point in (*one, gap)])
    many = Line2D(*points.T, **style)
    ax.add_artist(many)
    return many


def bare(ax: Axes, x: tuple[float, float], y: tuple[float, float], to_scale: bool = True) -> None:
    """A drawing between these ends, not a graph: no frame, ticks or grid; to scale, a circle is round."""
    ax.set_axis_off()
    ax.set(xlim=x, ylim=y)
    if to_scale:
        ax.set_aspect("equal")


class Cutaway:
    """A cylinder cut open: oil port on the left, piston, gas on the right, and a rule along the top.

    Drawn in units of the stroke: 0 is the oil end, 1 the gas end.
    """

    height = 0.33
    piston = 0.05

    def __init__(self, ax: Axes, rule_length: float, rule_unit: str, rule_zero: float = 0.0, oil: bool = True) -> None:
        bare(ax, (-0.14, 1.2), (-0.11, 0.54))
        wall, h, room = 0.025, self.height, 1.0 + self.piston
        for y in (-wall, h):
            box(ax, (-wall, y), room + 2 * wall, wall, fc=STEEL, ec=BLACK, lw=0.8)
        box(ax, (room, 0.0), wall, h, fc=STEEL, ec=BLACK, lw=0.8)
        if oil:
            gap = 0.05
            for y in (0.0, h / 2 + gap):
                box(ax, (-wall, y), wall, h / 2 - gap, fc=STEEL, ec=BLACK, lw=0.8)
            for y in (h / 2 - gap - 0.015, h / 2 + gap):
                box(ax, (-0.12, y), 0.12 - wall, 0.015, fc=STEEL, ec=BLACK, lw=0.8)
            ax.text(0.0, -0.09, "oil port", ha="center", fontsize=10, color=GREY)
            ax.text(room, -0.09, "gas valve", ha="center", fontsize=10, color=GREY)
            box(ax, (room + wall, h / 2 - 0.012), 0.06, 0.024, fc=STEEL, ec=BLACK, lw=0.8)
        else:
            box(ax, (-wall, 0.0), wall, h, fc=PALE, ec=BLACK, lw=0.8, ls=":")
            ax.text(room, -0.09, "capped end", ha="center", fontsize=10, color=GREY)
        self._rule(ax, rule_length, rule_unit, rule_zero)
        grid = np.random.default_rng(7).uniform(0.04, 0.96, size=(46, 2))  # always the same dots
        self._dots = grid
        self._with_oil = oil
        self._oil = box(ax, (0.0, 0.0), 0.0, h, fc=OIL, ec="none", hatch="///" if oil else None)
        self._oil_port = box(ax, (-0.12, h / 2 - 0.05), 0.12, 0.1, fc=OIL, ec="none")
        self._oil_port.set_visible(oil)
        self._gas = box(ax, (0.0, 0.0), 1.0, h, fc=GAS, ec="none")
        (self._molecules,) = ax.plot([], [], "o", ms=3.2, color=BLUE, ls="none")
        self._body = box(ax, (0.0, 0.0), self.piston, h, fc=GREY, ec=BLACK, lw=1.0)
        rod: dict[str, Any] = {"fc": STEEL, "ec": BLACK, "lw": 0.8, "visible": not oil}
        self._rod = box(ax, (-0.13, h / 2 - 0.02), 0.13, 0.04, **rod)
        self._knob = box(ax, (-0.13, h / 2 - 0.07), 0.02, 0.14, **rod)
        (self._pointer,) = ax.plot([], [], color=BLACK, lw=1.6, marker="v", ms=7, markevery=[1])
        self._oil_name = Word(ax, "oil", 0.06, OIL)
        self._gas_name = Word(ax, "gas", 0.06, GAS)

    def _rule(self, ax: Axes, length: float, unit: str, zero: float) -> None:
        base = self.height + 0.075
        across, up = (ax.get_position().size * _inches(ax) * 72.0 / (1.34, 0.65)).tolist()
        tall = max(0.1, 0.045 + 1.05 * least_points(ax) / min(across, up))  # letters are larger for a class
        box(ax, (-0.02, base), 1.07, tall, fc="#FFF8E1", ec=BLACK, lw=0.8)
        step = _nice_step(length)
        numbers = range(math.ceil(zero / step), math.floor((zero + length) / step + 1e-9) + 1)
        places = [(k * step - zero) / length for k in numbers]
        strokes(ax, (((x, base), (x, base + 0.035)) for x in places), color=BLACK, lw=0.9)
        for k, x in zip(numbers, places, strict=True):
            ax.text(x, base + 0.045, f"{k * step:g}", ha="center", va="bottom", fontsize=8.5)
        ax.text(1.07, base + 0.05, unit, ha="left", va="center", fontsize=9.5)

    @property
    def moving(self) -> list[Artist]:
        return [
            self._gas,
            self._molecules,
            self._oil,
            self._oil_port,
            self._body,
            self._rod,
            self._knob,
            self._pointer,
            *self._oil_name.moving,
            *self._gas_name.moving,
        ]

    def show(self, fraction: float, named_from: float = 0.0) -> None:
        """Put the piston at a fraction of the stroke from the oil end; the oil's name stands beyond ``named_from``."""
        x = min(max(float(fraction), 0.0), 1.0)
        start = x + self.piston
        space = max(1.0 - x, 0.0)
        if self._with_oil:
            self._oil.set_width(x)
        self._gas.set_x(start)
        self._gas.set_width(space)
        self._body.set_x(x)
        self._rod.set_width(x + 0.13)
        self._molecules.set_data(start + self._dots[:, 0] * space, self._dots[:, 1] * self.height)
        self._pointer.set_data([x, x], [self.height, self.height + 0.075])
        room = x - named_from
        self._oil_name.show(named_from + room / 2, self.height / 2, self._with_oil and room > 0.12)
        self._gas_name.show(start + space / 2, self.height / 2, space > 0.12)


class Word:
    """A short word that moves: drawn as an outline, ten times faster than matplotlib's own text.

    size: height of the letters in the units of the y axis; paper: colour of a patch behind the word, if any.
    """

    def __init__(self, ax: Axes, word: str, size: float, paper: str | None = None) -> None:
        path, extent = _outline(word, size)
        self._ax, self._size, self._middle = ax, size, (extent.x0 + extent.x1) / 2
        self._width = extent.width * 1.15
        self.points = math.inf
        """Of its letters, as they are shown."""
        self._word = PathPatch(path, fc=BLACK, ec="none", zorder=4)
        self._paper = box(ax, (0.0, 0.0), self._width, size * 1.1, fc=paper or "none", ec="none", zorder=3)
        ax.add_artist(self._word)
        self.moving: list[Artist] = [self._paper, self._word] if paper else [self._word]

    def show(self, x: float, y: float, visible: bool = True) -> None:
        """Centre the word at a point."""
        for artist in self.moving:
            artist.set_visible(visible)
        (left, right), (low, high) = self._ax.get_xlim(), self._ax.get_ylim()
        frame = self._ax.get_window_extent()
        one = frame.height / (high - low)  # pixels
        narrower = one / (frame.width / (right - left))  # letters keep their shape on any axes
        figure: Any = self._ax.get_figure(root=True)
        self.points = self._size * one * 72.0 / figure.dpi
        larger = max(least_points(self._ax) / self.points, 1.0)
        self.points *= larger
        shape = Affine2D().translate(-self._middle, -self._size * 0.36).scale(larger * narrower, larger)
        self._word.set_transform(shape.translate(x, y) + self._ax.transData)
        wide, tall = larger * self._width, larger * self._size * 1.1
        self._paper.set_bounds(x - wide / 2, y - tall / 2, wide, tall)


def least_points(ax: Axes) -> float:
    """How large letters shall be at the least: on the full screen, else any size will do."""
    figure: Any = ax.get_figure(root=True)
    return float(getattr(figure.canvas, "points", 0.0))


@lru_cache(maxsize=256)
def _outline(word: str, size: float) -> tuple[TextPath, Bbox]:
    """A word's letters, and how far they reach."""
    path = TextPath((0.0, 0.0), word, size=size, prop=FontProperties(weight="bold"))
    return path, path.get_extents()


class Dial:
    """A round gauge with a needle, from 0 to full scale over 270 degrees. Takes SI numbers of its kind."""

    low = -1.5
    """How far down its drawing reaches, where the ring has a radius of 1.05."""

    def __init__(self, ax: Axes, name: str, kind: Kind, full_scale: float) -> None:
        bare(ax, (-1.12, 1.12), (self.low, 1.12))
        self._kind, self._top = kind, float(kind.display(full_scale))
        step = _nice_step(self._top)
        numbers = [k * step for k in range(math.floor(self._top / step + 1e-9) + 1)]
        ways = [(math.cos(angle), math.sin(angle)) for angle in map(self._turned, numbers)]
        size = max(9.0, least_points(ax))
        places = [_in_ring(ax, f"{number:g}", size, *way) for number, way in zip(numbers, ways, strict=True)]
        self.scale = min(max(min(near for _, near in places) - 0.02, 0.5), 0.68)
        """How far from the middle the scale is: no needle gets to the numbers."""
        ax.add_artist(Circle((0.0, 0.0), 1.05, fc="white", ec=BLACK, lw=2.0))
        arc = 2.0 * self.scale
        ax.add_artist(Arc((0.0, 0.0), arc, arc, theta1=-45, theta2=225, color=GREY, lw=1.0))
        start = self.scale - 0.1
        strokes(ax, (((start * c, start * s), (self.scale * c, self.scale * s)) for c, s in ways), color=BLACK, lw=1.3)
        for number, (c, s), (far, _) in zip(numbers, ways, places, strict=True):
            ax.text(far * c, far * s, f"{number:g}", ha="center", va="center", fontsize=size)
        ax.text(0.0, -0.84, kind.label(), ha="center", va="center", fontsize=9, color=GREY)
        ax.text(0.0, -1.36, name, ha="center", va="center", fontsize=9.5, weight="bold")
        (self._needle,) = ax.plot([0.0, 0.0], [0.0, 0.0], color=RED, lw=2.6, solid_capstyle="round")
        (self._hub,) = ax.plot([0.0], [0.0], "o", color=BLACK, ms=6)

    def _turned(self, shown: float) -> float:
        share = min(max(shown / self._top, -0.04), 1.04)  # a stopped needle, a little past the end
        return math.radians(225.0 - 270.0 * share)

    def _angle(self, value: float) -> float:
        return self._turned(float(self._kind.display(value)))

    @property
    def moving(self) -> list[Artist]:
        return [self._needle, self._hub]

    def show(self, value: float) -> None:
        angle = self._angle(value)
        c, s = math.cos(angle), math.sin(angle)
        tip = self.scale - 0.02
        self._needle.set_data([-0.15 * c, tip * c], [-0.15 * s, tip * s])


def _in_ring(ax: Axes, number: str, size: float, c: float, s: float) -> tuple[float, float]:
    """How far from a dial's middle a number of so many points stands in a direction, so that no corner of it touches
    the ring, and how near it comes to the middle then."""
    across, up = _inches(ax) * 72.0
    place = ax.get_position()
    # a point of print in the drawing's units
    point = max(2.24 / (place.width * across), (1.12 - ax.get_ylim()[0]) / (place.height * up))
    w, h = _width(number) * point * size / 18.0, 3.5 * point * size / 9.0
    corner, aside = w * abs(c) + h * abs(s), w * abs(s) - h * abs(c)  # in the direction, and across it
    far = min(math.sqrt(0.96**2 - aside**2) - corner, 0.85)
    return far, far - min(w / max(abs(c), 1e-9), h / max(abs(s), 1e-9))


@lru_cache(maxsize=1024)
def _width(text: str, size: float = 9.0, weight: str = "normal") -> float:
    """Of a line of text, such as a dial's number, in points."""
    font = FontProperties(size=size, weight=weight)
    return float(text_to_path.get_text_width_height_descent(text, font, False)[0])


def message(ax: Axes, title: str, width: float | None = None) -> None:
    """A graph's message, as its title: in as many lines as it takes, for which the graph itself gives way.

    width: share of the picture's width that it may fill; without it as wide as the graph with its numbers.
    """
    where = ax.get_position()
    across, up = _inches(ax) * 72.0
    start = min(0.045, where.x0)
    room = (where.width + start if width is None else width) * across
    size = rcParams["axes.titlesize"]
    lines: list[str] = []
    for word in title.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and _width(longer, size, "bold") <= room:
            lines[-1] = longer
        else:
            lines.append(word)
    ax.set_position((where.x0, where.y0, where.width, where.height - 1.2 * (len(lines) - 1) * size / up))
    ax.set_title("\n".join(lines), loc="left", x=-start / where.width)


def _inches(ax: Axes) -> Any:
    """Width and height of the picture that a graph stands in."""
    return ax.get_figure(root=True).get_size_inches()  # type: ignore[union-attr]


def legend_above(ax: Axes, columns: int) -> None:
    """A legend in a few columns between a graph's title and the graph, which gives way."""
    rows = math.ceil(len(ax.get_legend_handles_labels()[0]) / columns)
    size = 9.0
    high = 1.55 * size * rows + 2.0  # letters may grow for a class
    where = ax.get_position()
    place: dict[str, Any] = {"loc": "lower left", "bbox_to_anchor": (-min(0.055, where.x0) / where.width, 1.0)}
    ax.legend(**place, ncols=columns, columnspacing=0.9, handletextpad=0.5, fontsize=size, borderaxespad=0.0)
    ax.set_title(ax.get_title(loc="left"), loc="left", pad=high + 7.0)
    lower = high / (_inches(ax)[1] * 72.0)
    ax.set_position((where.x0, where.y0, where.width, where.height - lower))


WHOLE, RIGHT_HALF = (0.09, 0.15, 0.88, 0.75), (0.605, 0.15, 0.38, 0.75)
"""Where a graph stands in a panel's picture: alone, or beside a drawing."""


OUTSIDE: Any = {"loc": "center left", "bbox_to_anchor": (1.02, 0.5)}
"""Where a legend stands that would cover its graph."""


RING: Any = {"mfc": "white", "mec": BLACK, "mew": 2}
"""Look of a reading that somebody took."""


def _nice_step(span: float) -> float:
    """A step of 1, 2 or 5 times a power of ten that cuts the span into 4 to 8."""
    return round_up(span / 7.0, STEPS)
