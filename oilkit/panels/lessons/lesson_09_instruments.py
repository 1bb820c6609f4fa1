"""The fault bench's instruments: three gauges, the valve's lamp and the dipstick."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.patches import Circle

from oilkit.panels.framework import drawing
from oilkit.panels.framework.bound import us
from oilkit.panels.lessons.lesson_09_reading_form import reading_text
from oilkit.quantities.kinds import GAUGE, LEVEL
from oilkit.shop.as_built import READINGS

SCALE = us(GAUGE, 100.0)
"""Full scale of the bench's gauges."""
DIALS = {"gas": "gas gauge", "oil": "vessel oil gauge", "gallery": "far gallery gauge"}
INSTRUMENTS = (*DIALS, "lamp", "dipstick")


def instrument(reading: str) -> str:
    """On which of the drawn instruments a reading is read; empty for a clock, a glass or a differential gauge."""
    what = READINGS[reading]
    if what.kind is not GAUGE:
        return reading if reading in ("lamp", "dipstick") else ""
    return next(key for key, name in DIALS.items() if name in what.label)


class Face(drawing.Dial):
    """A dial with what was read under it and, if wanted, an arc where a healthy set-up would stand."""

    def __init__(self, ax: Axes, name: str) -> None:
        self.low = _low(ax)
        super().__init__(ax, name, GAUGE, SCALE)
        (self._band,) = ax.plot([], [], color=drawing.GREEN, lw=5, solid_capstyle="butt")
        (self._ends,) = ax.plot([], [], color=drawing.BLACK, lw=1.6)
        self._text = ax.text(0.0, -1.66, "not read", ha="center", va="center", fontsize=9.5)
        self._card = ax.text(0.0, -1.82, "", ha="center", va="top", fontsize=9)

    @property
    def moving(self) -> list[Artist]:
        return [self._band, self._ends, *super().moving, self._text, self._card]

    def show(self, value: float | None, line: Any = None) -> None:
        self._needle.set_visible(value is not None)
        self._text.set_text("not read" if value is None else GAUGE.text(value))
        self._card.set_text(_healthy(line, self._card))
        if value is not None:
            super().show(value)
        turn = [self._angle(end) for end in line.ends] if line else []
        arc = np.linspace(turn[0], turn[1], 12) if turn else np.empty(0)
        middle = self.scale - 0.12
        self._band.set_data(middle * np.cos(arc), middle * np.sin(arc))
        across = np.array([middle - 0.1, middle + 0.1, math.nan])
        self._ends.set_data(np.outer(np.cos(turn), across).ravel(), np.outer(np.sin(turn), across).ravel())


class Lamp:
    """The valve's lamp: rays when it is lit, and the word."""

    def __init__(self, ax: Axes) -> None:
        drawing.bare(ax, (-1.12, 1.12), (_low(ax), 1.12))
        ax.text(0.0, -1.36, "valve lamp", ha="center", va="center", fontsize=9.5, weight="bold")
        self._glass = Circle((0.0, -0.05), 0.5, fc="white", ec=drawing.BLACK, lw=2.0)
        ax.add_patch(self._glass)
        angles = np.linspace(0.0, 2.0 * math.pi, 12, endpoint=False)
        ray = np.array([0.62, 0.95, math.nan])
        (self._rays,) = ax.plot(
            np.outer(np.cos(angles), ray).ravel(),
            np.outer(np.sin(angles), ray).ravel() - 0.05,
            color=drawing.OCHRE,
            lw=3,
        )
        self._text = ax.text(0.0, -1.66, "not looked at", ha="center", va="center", fontsize=9.5)
        self._card = ax.text(0.0, -1.82, "", ha="center", va="top", fontsize=9)

    @property
    def moving(self) -> list[Artist]:
        return [self._glass, self._rays, self._text, self._card]

    def show(self, value: float | None, line: Any = None) -> None:
        lit = value is not None and value > 0.5
        self._glass.set_facecolor(drawing.YELLOW if lit else "white" if value is None else drawing.GREY)
        self._rays.set_visible(lit)
        self._text.set_text("not looked at" if value is None else reading_text("lamp", value))
        self._card.set_text(_healthy(line, self._card))


class Dipstick:
    """The pan's dipstick with its full mark."""

    def __init__(self, ax: Axes) -> None:
        drawing.bare(ax, (-1.3, 1.7), (_low(ax), 1.12), to_scale=False)
        drawing.box(ax, (-0.12, -0.95), 0.24, 2.0, fc="white", ec=drawing.BLACK, lw=1.6)
        ax.plot([-0.2, 0.2], [0.0, 0.0], color=drawing.BLACK, lw=2.0)
        ax.text(0.3, 0.0, "full mark", va="center", fontsize=9)
        size = 2.0 if LEVEL.unit() == "in" else 50.0
        self._deep = float(LEVEL.from_display(size))
        for share in (-0.9, 0.9):
            text = f"{share / 0.9 * size:+g} {LEVEL.label()}"
            ax.plot([-0.2, -0.12], [share, share], color=drawing.BLACK, lw=1.3)
            ax.text(-0.3, share, text, ha="right", va="center", fontsize=9, color=drawing.GREY)
        ax.text(0.0, -1.36, "dipstick", ha="center", va="center", fontsize=9.5, weight="bold")
        self._oil = drawing.box(ax, (-0.12, -0.95), 0.24, 0.0, fc=drawing.OIL, ec="none", hatch="///")
        (self._band,) = ax.plot([], [], color=drawing.GREEN, lw=2, marker="_", ms=9, mew=2)
        self._text = ax.text(0.0, -1.66, "not read", ha="center", va="center", fontsize=9.5)
        self._card = ax.text(0.0, -1.82, "", ha="center", va="top", fontsize=9)

    @property
    def moving(self) -> list[Artist]:
        return [self._oil, self._band, self._text, self._card]

    def show(self, value: float | None, line: Any = None) -> None:
        height = 0.0 if value is None else 0.9 * value / self._deep + 0.95
        self._oil.set_height(min(max(height, 0.0), 2.0))
        self._text.set_text("not read" if value is None else _above(value))
        self._card.set_text(_healthy(line, self._card))
        ends = [0.9 * end / self._deep for end in line.ends] if line else []
        self._band.set_data([0.22] * len(ends), ends)


def _low(ax: Axes) -> float:
    """How far down an instrument's drawing reaches: for a class, what the card says takes two lines below it."""
    return -2.4 if drawing.least_points(ax) else -2.05


def _healthy(line: Any, text: Any) -> str:
    """What the card says, if anything."""
    between = "\n" if drawing.least_points(text.axes) else " "
    return f"healthy:{between}{line.passes()}" if line else ""


def _above(value: float) -> str:
    return f"{LEVEL.text(abs(value))} {'above' if value >= 0 else 'below'} full"
