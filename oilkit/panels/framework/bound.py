"""Pictures bound to results: each artist says what it shows, and follows every new setting by itself.

A *source* is what an artist shows: the key of a result (``run.oil`` for a number inside one), a function of the
results, or what stays as it is. On a `Graph` it is an SI number, or many, and stands there in the unit of its axis's
kind.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable, Sequence
from operator import attrgetter, itemgetter
from types import SimpleNamespace
from typing import Any, NamedTuple, Protocol, Self

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Polygon, Rectangle
from pint.facets.plain import PlainQuantity

from oilkit.panels.framework import drawing
from oilkit.panels.framework.grips import Grip, Way
from oilkit.quantities.kind import Kind

State = dict[str, Any]
"""Results of one setting, in SI, and the controls' values by their names: what artists, tables and sentences read."""
Setting = SimpleNamespace
"""The controls' values, in SI, as attributes by their names."""
Source = Any
Axis = tuple[str | None, Kind | None, float, float]
"""Name, kind, and both ends in SI. Without a name nothing is written, without a kind numbers stand as they are."""


class Reading(NamedTuple):
    """One row of a panel's table: a name and an SI number with its kind, or a text."""

    name: str
    value: Any
    kind: Kind | None = None

    def text(self) -> str:
        return self.kind.text(self.value) if self.kind else str(self.value)

    def both(self) -> str:
        return self.kind.both(self.value) if self.kind else str(self.value)


def us(kind: Kind, number: float) -> float:
    """A number in a kind's US unit, in SI."""
    return float(kind.from_display(number, "US"))


def in_si(result: Any) -> SimpleNamespace:
    """A result of the physics by its own names, its quantities as SI numbers, and so the results inside it."""

    def plain(value: Any) -> Any:
        if isinstance(value, PlainQuantity):
            return value.to_base_units().m
        return in_si(value) if dataclasses.is_dataclass(value) else value

    return SimpleNamespace(**{name: plain(value) for name, value in vars(result).items()})


def of(source: Source, kind: Kind | None = None) -> Callable[[State], Any]:
    """What a source stands for in a state, as it is shown.

    The unit is looked up here and not at each move: in another system of units the picture is built afresh.
    """
    if callable(source):
        number: Callable[[State], Any] = source
    elif isinstance(source, str):
        key, _, inside = source.partition(".")
        number = (lambda state: attrgetter(inside)(state[key])) if inside else itemgetter(key)
    else:
        fixed = np.array(source) if isinstance(source, Sequence) else source
        stays = fixed if kind is None else kind.display(fixed)
        return lambda state: stays
    if kind is None:
        return number
    zero = float(kind.from_display(0.0))
    scale = float(kind.from_display(1.0)) - zero
    return lambda state: (number(state) - zero) / scale


class Drawing(Protocol):
    """Something drawn that knows its moving artists and puts them where some values say."""

    @property
    def moving(self) -> list[Artist]: ...

    @property
    def show(self) -> Callable[..., None]: ...


class Bound:
    """Artists that follow the results. They are drawn in the order in which they were made."""

    def __init__(self, drawn: Drawing | None = None, *sources: Source) -> None:
        """drawn: what shows the values of these sources, if it is one drawing."""
        self.moving: list[Artist] = []
        self.grips: list[Grip] = []
        self._moves: list[Callable[[State], Any]] = []
        if drawn is not None:
            self.draw(drawn, *sources)

    def draw(self, drawn: Drawing, *sources: Source) -> None:
        """Let a drawing show the values of these sources."""
        values = [of(source) for source in sources]
        self.add(drawn.moving, lambda state: drawn.show(*(value(state) for value in values)))

    def add(self, artists: Iterable[Artist], move: Callable[[State], Any]) -> Self:
        """Let artists be moved by a function of the results."""
        self.moving.extend(artists)
        self._moves.append(move)
        return self

    def grab(self, control: str, ax: Axes, shows: str, up: float) -> Self:
        """Let a hand drag what stands at a result's number across bare axes, at this height; it sets the control."""
        number = of(shows)
        self.grips.append(Grip(ax, lambda state: (float(number(state)), up), x=Way(control, shows, None)))
        return self

    def follow(self, state: State) -> None:
        for move in self._moves:
            move(state)


Parts = Iterable[Bound]
"""What moves in a picture."""


class Graph(Bound):
    """A graph with its place in the figure, its message as a title, and what it shows."""

    def __init__(self, figure: Figure, where: tuple[float, float, float, float], title: str, x: Axis, y: Axis) -> None:
        super().__init__()
        self.ax = ax = figure.add_axes(where)
        self._x, self._y = x[1], y[1]
        drawing.message(ax, title)
        (across, x_ends), (up, y_ends) = _shown_axis(*x), _shown_axis(*y)
        ax.set(xlabel=across, xlim=x_ends, ylabel=up, ylim=y_ends)

    def rows(self, names: Sequence[str], **style: Any) -> None:
        """Name the rows of bars at 0, 1, 2 …; no lines run across."""
        self.ax.set_yticks(range(len(names)), names, **style)
        self.ax.grid(False, axis="y")

    def line(self, x: Source, y: Source, look: str = "", /, **style: Any) -> Line2D:
        """A line, or points if `look` names a marker, as matplotlib does. One number is repeated along many."""
        (line,) = self.ax.plot([], [], *filter(None, (look,)), **style)
        across, up = of(x, self._x), of(y, self._y)
        self.add([line], lambda state: line.set_data(_row(across(state)), _row(up(state))))
        self._offer(x, y, across, up)
        return line

    def _offer(self, x: Source, y: Source, across: Any, up: Any) -> None:
        """A grip on what stands at a single number that may be a control's: the panel knows whether it is."""
        ways = [Way(s, s, kind) if isinstance(s, str) else None for s, kind in ((x, self._x), (y, self._y))]
        if not any(ways):
            return

        def place(state: State) -> tuple[Any, Any]:
            at = across(state), up(state)
            return _single(at[0]), _single(at[1])

        self.grips.append(Grip(self.ax, place, *ways))

    def point(self, x: Source, y: Source, look: str = "o", /, **style: Any) -> Line2D:
        """A black point that stands whole on the edge of the graph too, unless its style says otherwise."""
        return self.line(x, y, look, **{"ms": 11, "color": drawing.BLACK, "clip_on": False} | style)

    def box(self, left: Source, right: Source, low: Source, high: Source, **style: Any) -> Rectangle:
        """A rectangle between two numbers on each axis."""
        patch = drawing.box(self.ax, (0.0, 0.0), 0.0, 0.0, **style)
        start, end, bottom, top = of(left, self._x), of(right, self._x), of(low, self._y), of(high, self._y)

        def move(state: State) -> None:
            x, y = float(start(state)), float(bottom(state))
            patch.set_bounds(x, y, float(end(state)) - x, float(top(state)) - y)

        self.add([patch], move)
        return patch

    def span(self, left: Source, right: Source, **style: Any) -> Rectangle:
        """A band over the whole height."""
        patch = self.ax.axvspan(0.0, 1.0, **style)
        start, end = of(left, self._x), of(right, self._x)

        def move(state: State) -> None:
            x = float(start(state))
            patch.set_x(x)
            patch.set_width(float(end(state)) - x)

        self.add([patch], move)
        return patch

    def area(self, x: Source, low: Source, high: Source, seen: Source = True, **style: Any) -> Polygon:
        """What lies between two curves."""
        patch = Polygon([(0.0, 0.0)], **style)
        self.ax.add_artist(patch)
        across, below, above, visible = of(x, self._x), of(low, self._y), of(high, self._y), of(seen)

        def move(state: State) -> None:
            at = across(state)
            there = np.concatenate((below(state) + 0.0 * at, above(state)[::-1]))
            patch.set_xy(np.array((np.concatenate((at, at[::-1])), there)).T)
            patch.set_visible(bool(visible(state)))

        self.add([patch], move)
        return patch

    def word(self, text: str, size: float, x: Source, y: Source, seen: Source = True) -> None:
        """A word centred at a point; size: of its letters, as the y axis shows it."""
        self.draw(drawing.Word(self.ax, text, size), of(x, self._x), of(y, self._y), seen)


def _shown_axis(name: str | None, kind: Kind | None, low: float, high: float) -> tuple[str, tuple[float, float]]:
    if kind is None:
        return name or "", (low, high)
    unit = f"({kind.label()})" if kind.label() else ""
    return f"{name} {unit}".strip() if name is not None else "", (float(kind.display(low)), float(kind.display(high)))


def _single(value: Any) -> float | None:
    """A number, or the last of a few points above each other; None for a line along the axis."""
    row = np.atleast_1d(value)
    return float(row[-1]) if np.ndim(value) == 0 else None


def _row(value: Any) -> Any:
    return value if isinstance(value, list) or getattr(value, "ndim", False) else [value]
