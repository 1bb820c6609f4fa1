"""What a hand can drag in a picture: a point, an upright line, a piston, and the controls that it sets.

A point or line of a `Graph` whose source is a control can be dragged along that axis, without a word in the panel.
Anything else that moves to and fro says what it shows (`Bound.grab`): the control is then set so that the panel's
result is what the hand asks for. The browser knows where the grips are and sends where the hand is (``screen.js``); the
control keeps its range and its steps, and afterwards it has the keys.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from oilkit.panels.framework.controls import Amount, Control
from oilkit.panels.framework.drawing import GREY
from oilkit.quantities.kind import Kind

State = dict[str, Any]
HALVINGS = 30


class Way(NamedTuple):
    """How a grip moves along one axis of a graph."""

    control: str
    """The control that it sets."""
    shows: str
    """The result, or the control, that its place on the axis shows."""
    kind: Kind | None
    """In whose unit the axis is; none for a bare number."""


@dataclass(frozen=True)
class Grip:
    """A place in the picture that can be dragged."""

    ax: Axes
    place: Callable[[State], tuple[float | None, float | None]]
    """Where it is, in the axes' units; None for all along an axis."""
    x: Way | None = None
    y: Way | None = None

    @property
    def ways(self) -> list[tuple[int, Way]]:
        return [(k, way) for k, way in enumerate((self.x, self.y)) if way]

    def of_sliders(self, controls: Mapping[str, Control], named: Mapping[str, str]) -> Grip | None:
        """This grip with only those ways that set a slider of the panel; named: results that are a slider's value."""

        def kept(way: Way | None) -> Way | None:
            if way is None:
                return None
            name = named.get(way.control, way.control)
            return Way(name, way.shows, way.kind) if isinstance(controls.get(name), Amount) else None

        x, y = kept(self.x), kept(self.y)
        return Grip(self.ax, self.place, x, y) if x or y else None

    def pixels(self, state: State) -> Place | None:
        """Where it is in the picture now; None where nothing of it can be seen."""
        across, up = self.place(state)
        (left, right), (low, high) = self.ax.get_xlim(), self.ax.get_ylim()
        if not left <= (left if across is None else across) <= right or not low <= (low if up is None else up) <= high:
            return None
        x, y = self.ax.transData.transform((right if across is None else across, high if up is None else up))
        along = "y" if up is None else "x" if across is None else ""
        return Place(self.ways[0][1].control, round(x), round(self.ax.figure.bbox.height - y), along)

    def wanted(self, left: float, top: float) -> list[tuple[Way, float]]:
        """What a hand at these pixels asks for along each way, in SI."""
        there = self.ax.transData.inverted().transform((left, self.ax.figure.bbox.height - top))
        return [(way, float(way.kind.from_display(there[k])) if way.kind else float(there[k])) for k, way in self.ways]


class Place(NamedTuple):
    """A grip in the picture: the control that has the keys afterwards, and pixels from the upper left corner."""

    control: str
    left: int
    top: int
    along: str
    """``"y"``: anywhere up and down from there, ``"x"``: anywhere across, or nothing."""


class Marks:
    """Small arrowheads beside each grip, so that one sees that it can be dragged."""

    def __init__(self, figure: Figure, grips: Sequence[Grip]) -> None:
        style: dict[str, Any] = {"ls": "none", "color": GREY, "ms": 5, "transform": None, "zorder": 9}
        self._figure, self._grips = figure, grips
        self.moving = [Line2D([], [], marker=marker, **style) for marker in "<>^v"]
        for artist in self.moving:
            figure.add_artist(artist)

    def show(self, state: State) -> list[Place | None]:
        """Put them beside the grips as they are now; returns where these are."""
        places = [grip.pixels(state) for grip in self._grips]
        off = 13.0 * self._figure.dpi / 96.0
        height = self._figure.bbox.height
        for artist, (k, sign) in zip(self.moving, ((0, -1), (0, 1), (1, 1), (1, -1)), strict=True):
            there = [
                (at.left + (1 - k) * sign * off, height - at.top + k * sign * off)
                for at, grip in zip(places, self._grips, strict=True)
                if at and any(way == k for way, _ in grip.ways)
            ]
            artist.set_data(*zip(*there, strict=True)) if there else artist.set_data([], [])
        return places


def asked_of(control: Amount, wanted: float, result: Callable[[float], float]) -> float:
    """The control's value, in SI, at which a result that rises or falls with it is as wanted, by halving its range."""
    low, high = control.low, control.high
    rises = result(high) >= result(low)
    for _ in range(HALVINGS):
        middle = (low + high) / 2.0
        if (result(middle) < wanted) == rises:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0
