"""Axes that are drawn in two thirds of matplotlib's time: ticks are copies of the first, placed and measured once."""

from __future__ import annotations

from typing import Any, TypeVar

import matplotlib
from matplotlib.axes import Axes
from matplotlib.axis import Axis, Tick, XAxis, YAxis
from matplotlib.figure import Figure

Thing = TypeVar("Thing")


class _Quick(Axis):
    _placed: Any = None
    _placed_for: Any = None
    _measured: Any = None
    _measured_for: Any = None

    def reset_ticks(self) -> None:
        """No tick is made before it is asked for, and none of a drawing that is no graph."""
        self.majorTicks, self.minorTicks = [], []
        self._placed_for = None

    def _get_tick(self, major: bool) -> Tick:
        tick: Tick = super()._get_tick(major)  # type: ignore[misc]
        tick.set_clip_path(self.axes.patch)
        return tick

    def get_major_ticks(self, numticks: int | None = None) -> list[Tick]:
        """As matplotlib's, which makes each tick from nothing and then gives it all that the first one has."""
        count = len(self.get_majorticklocs()) if numticks is None else numticks
        first = super().get_major_ticks(min(count, 1))
        self.majorTicks.extend(_copy_of(first[0]) for _ in range(len(self.majorTicks), count))
        ticks: list[Tick] = self.majorTicks[:count]
        return ticks

    def _update_ticks(self) -> Any:
        """Called seven times for each picture; only what is in the key changes what it does."""
        tickers = self.major.locator, self.major.formatter, self.minor.locator, self.minor.formatter
        key = (*tickers, *self.get_view_interval(), *self.axes.bbox.bounds)
        if key != self._placed_for:
            self._placed, self._placed_for = super()._update_ticks(), key  # type: ignore[misc]
        return self._placed

    def _get_ticklabel_bboxes(self, ticks: list[Tick], renderer: Any) -> Any:
        """Called four times."""
        key = self._placed_for, [tick.label1.get_fontsize() for tick in ticks]
        if key != self._measured_for:
            self._measured, self._measured_for = super()._get_ticklabel_bboxes(ticks, renderer), key  # type: ignore[misc]
        return self._measured


class _X(_Quick, XAxis):
    pass


class _Y(_Quick, YAxis):
    pass


class _Axes(Axes):
    def _init_axis(self) -> None:
        self.xaxis, self.yaxis = _X(self, clear=False), _Y(self, clear=False)
        for axis, spines in ((self.xaxis, ("bottom", "top")), (self.yaxis, ("left", "right"))):
            for spine in spines:
                self.spines[spine].register_axis(axis)

    def clear(self) -> None:
        super().clear()
        for spine in self.spines.values():
            spine.get_position()  # else the first tick would put it into its place


KNOWN = (3, 10), (3, 11)
"""Versions of matplotlib whose inner parts have these names; with any other its own axes are drawn, in its own time."""


class QuickFigure(Figure):
    """A figure whose `add_axes` makes such axes."""

    def add_axes(self, *where: Any, **style: Any) -> Any:
        quick = {"axes_class": _Axes} if matplotlib.__version_info__[:2] in KNOWN else {}
        return super().add_axes(*where, **quick | style)


def _copy_of(tick: Tick) -> Tick:
    """Another tick of the same looks. What stands on the far side of a graph is seen on none, and stays one for all."""
    other = _twin(tick)
    other.tick1line, other.gridline, other.label1 = _twin(tick.tick1line), _twin(tick.gridline), _twin(tick.label1)
    other.label1.set_fontproperties(tick.label1.get_fontproperties().copy())
    return other


def _twin(thing: Thing) -> Thing:
    """With the same parts; `copy` would look for parts that are not to be copied."""
    twin = object.__new__(type(thing))
    vars(twin).update(vars(thing))
    return twin
