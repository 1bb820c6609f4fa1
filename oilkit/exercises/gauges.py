"""Pictures to read: a dial gauge, and a graph on paper. Drawn in the units on display; words say the same."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
from matplotlib.figure import Figure

from oilkit.exercises.exercise import Picture
from oilkit.quantities.kind import Kind
from oilkit.quantities.kinds import DISTANCE
from oilkit.quantities.lettering import letter
from oilkit.quantities.printed import kind_for
from oilkit.quantities.units import Qty, unit_switch


@dataclass(frozen=True)
class _Scale:
    """A scale from 0 to a full one of so many units on display, and what is to be read on it."""

    value: Qty
    full_us: float
    full_si: float
    divisions: int

    @property
    def kind(self) -> Kind:
        return _kind(self.value)

    def place(self, system: str | None = None) -> float:
        """Where the value stands, as a share of the scale."""
        shown = float(self.kind.display(float(self.value.m_as(self.kind.si)), system))
        return shown / self.full(system)

    def full(self, system: str | None = None) -> float:
        return self.full_us if (system or unit_switch.system) == "US" else self.full_si

    def marks(self, every: int) -> Iterator[tuple[float, str]]:
        """Each mark as a share of the scale, with a number at every so many."""
        for k in range(self.divisions + 1):
            yield k / self.divisions, "" if k % every else f"{self.full() * k / self.divisions:g}"

    def picture(self, draw: Callable[[Figure], None], thing: str, pointer: str) -> Picture:
        """With the words that give scale, divisions and pointer, as a screen reader's user would count them."""
        parts = [
            f"scale in {self.kind.label(system)}: 0 to {self.full(system):g} in {self.divisions} divisions, "
            f"{pointer} {self.place(system) * self.divisions:.1f} divisions from 0"
            for system in unit_switch.systems
        ]
        return Picture(draw, f"{thing}; {'; '.join(parts)}.")


def _kind(value: Qty) -> Kind:
    kind = kind_for(value)
    assert kind is not None
    return kind


def dial(value: Qty, full_us: float, full_si: float, divisions: int = 20) -> Picture:
    """A dial gauge from 0 to a full scale of so many units on display."""
    scale = _Scale(value, full_us, full_si, divisions)

    def draw(figure: Figure) -> None:
        ax = _bare(figure, (-1.2, 1.2), (-1.0, 1.2))
        ax.set_aspect("equal")

        def at(radius: float, part: Any) -> Any:
            angle = np.radians(225.0 - 270.0 * part)
            return radius * np.cos(angle), radius * np.sin(angle)

        ax.plot(*at(1.0, np.linspace(0.0, 1.0, 200)), color="black", lw=2.0)
        for part, number in scale.marks(5):
            ax.plot(*zip(at(0.86 if number else 0.93, part), at(1.0, part), strict=True), "k-", lw=1.5)
            ax.text(*at(0.7, part), number, ha="center", va="center")
        hand = at(0.9, min(max(scale.place(), 0.0), 1.0))
        ax.annotate("", hand, (0.0, 0.0), arrowprops={"width": 2.0, "headwidth": 8.0, "color": "black"})
        ax.text(0.0, -0.55, scale.kind.label(), ha="center", va="center")

    return scale.picture(draw, "A dial gauge", "the hand")


def graph(x: Qty, y: Qty, x_title: str, y_title: str, rows: int = 8, x_kind: Kind | None = None) -> Picture:
    """A line on squared paper, in the units on display, and in words a table of about ``rows`` of its points.

    x_kind: what x is, where its unit does not say it (an altitude in feet).
    """
    across, up = x_kind or _kind(x), _kind(y)
    xs, ys = np.ravel(x.m_as(across.si)), np.ravel(y.m_as(up.si))

    def draw(figure: Figure) -> None:
        ax = figure.add_axes((0.16, 0.17, 0.8, 0.78))
        shown = across.display(xs)
        ax.plot(shown, up.display(ys), color="black", lw=2.2)
        ax.set_xlabel(f"{x_title} ({across.label()})" if across.label() else x_title)
        ax.set_ylabel(f"{y_title} ({up.label()})" if up.label() else y_title)
        ax.minorticks_on()
        _squares(ax, "0.75", "0.9")
        ax.set_xlim(float(np.min(shown)), float(np.max(shown)))

    step = max(len(xs) // rows, 1)
    points = "; ".join(
        f"{across.both(float(a))}: {up.both(float(b))}" for a, b in zip(xs[::step], ys[::step], strict=True)
    )
    return Picture(draw, f"A line of {y_title} against {x_title}: {points}.")


def rule(value: Qty, full_us: float, full_si: float, divisions: int = 60) -> Picture:
    """A rule beside the thin rod that rides on a piston, numbered at every fifth division."""
    scale = _Scale(value, full_us, full_si, divisions)

    def draw(figure: Figure) -> None:
        end = scale.place()
        ax = _bare(figure, (-0.06, 1.06), (-0.55, 0.75))
        ax.fill([-0.02, 1.02, 1.02, -0.02], [-0.3, -0.3, 0.0, 0.0], facecolor="0.93", edgecolor="black")
        for part, number in scale.marks(5):
            ax.plot([part] * 2, [0.0, -0.12 if number else -0.07], "k-", lw=1.1 if number else 0.7)
            ax.text(part, -0.2, number, ha="center", va="center", fontsize=8.5)
        ax.text(0.5, -0.45, f"rule ({scale.kind.label()})", ha="center", va="center")
        ax.fill([-0.05, end, end, -0.05], [0.03, 0.03, 0.1, 0.1], facecolor="0.55", edgecolor="black")
        ax.plot([end, end], [0.0, 0.3], "k-", lw=1.2)
        ax.text(end, 0.38, "end of the rod", ha="center", va="center")

    return scale.picture(draw, "A rule beside a rod", "the rod's end")


def dipstick(below_full: Qty, full_us: float, full_si: float, divisions: int = 40) -> Picture:
    """A dipstick with a scale that starts at its full mark and goes down, wetted by oil."""
    scale = _Scale(below_full, full_us, full_si, divisions)

    def draw(figure: Figure) -> None:
        ax = _bare(figure, (-1.0, 1.0), (1.22, -0.3))
        for top, look in ((-0.3, {"facecolor": "white"}), (scale.place(), {"facecolor": "0.8", "hatch": "////"})):
            ax.fill([-0.16, 0.16, 0.16, -0.16], [top, top, 1.15, 1.15], edgecolor="black", **look)
        for part, number in scale.marks(10):
            ax.plot([0.16, 0.28 if number else 0.22], [part] * 2, "k-", lw=1.2 if number else 0.7)
            ax.text(0.32, part, number, ha="left", va="center", fontsize=9)
        ax.plot([-0.3, -0.16], [0.0, 0.0], "k-", lw=2.0)
        ax.text(-0.33, 0.0, "full", ha="right", va="center")
        ax.text(-0.33, 1.0, "wet with oil", ha="right", va="center")
        ax.text(0.55, 0.5, f"below full\n({scale.kind.label()})", ha="left", va="center")

    return scale.picture(draw, "A dipstick with a scale from its full mark down", "the oil's edge")


def tilted_pan(slope: float, half_length: Qty, mean_level: Qty) -> Picture:
    """An open pan from the side, its oil's surface tilted by so much height for each length.

    Squared paper behind it, in the unit of length on display; the car's front is at the left.
    """
    half, level = float(half_length.m_as("m")), float(mean_level.m_as("m"))
    front, back, top = level + slope * half, level - slope * half, 2.0 * level

    def draw(figure: Figure) -> None:
        ax = figure.add_axes((0.16, 0.17, 0.8, 0.78))
        x, left, right, rim = (float(DISTANCE.display(si)) for si in (half, front, back, top))
        ax.fill([-x, x, x, -x], [0.0, 0.0, right, left], color="0.85", lw=0.0, zorder=0)
        ax.plot([-x, x], [left, right], color="black", lw=2.2)
        ax.plot([-x, -x, x, x], [rim, 0.0, 0.0, rim], color="black", lw=1.2)
        ax.set_aspect("equal")
        ax.set_xlim(-1.15 * x, 1.15 * x)
        ax.set_ylim(-0.05 * rim, 1.05 * rim)
        ax.set_xlabel(f"front of the car to the left ({DISTANCE.label()})")
        ax.set_ylabel(f"height ({DISTANCE.label()})")
        ax.minorticks_on()
        _squares(ax, "0.6", "0.78")

    return Picture(
        draw,
        f"An open pan from the side, {DISTANCE.both(2.0 * half)} long. The oil stands at {DISTANCE.both(front)} at its "
        f"front wall and at {DISTANCE.both(back)} at its back wall; between them its surface is straight.",
    )


def bars(ends: Mapping[str, tuple[Qty, Qty]], middle: Qty, title: str) -> Picture:
    """A bar for each input, by its name, from the result at its low end to that at its high end.

    The longest stands on top; the line through all of them is the result as expected. Low and high are written at the
    ends, in letters.
    """
    kind = _kind(middle)
    spans = {name: (float(low.m_as(kind.si)), float(high.m_as(kind.si))) for name, (low, high) in ends.items()}
    order = sorted(spans, key=lambda name: -abs(spans[name][1] - spans[name][0]))
    usual = float(middle.m_as(kind.si))

    def draw(figure: Figure) -> None:
        ax = figure.add_axes((0.3, 0.17, 0.67, 0.78))
        every = [float(kind.display(si)) for span in spans.values() for si in span]
        room = 0.12 * (max(every) - min(every))
        for row, name in enumerate(order):
            low, high = (float(kind.display(si)) for si in spans[name])
            ax.barh(row, high - low, left=low, height=0.5, color="0.8", edgecolor="black", zorder=2)
            for end, other, letters in ((low, high, "low"), (high, low, "high")):
                side = -1.0 if end < other else 1.0
                ax.text(end + 0.1 * side * room, row, letters, ha="right" if side < 0 else "left", va="center")
        ax.axvline(float(kind.display(usual)), color="black", lw=1.5, zorder=3)
        ax.set_yticks(range(len(order)), order)
        ax.set_ylim(len(order) - 0.5, -0.5)
        ax.set_xlim(min(every) - 1.5 * room, max(every) + 1.5 * room)
        ax.set_xlabel(f"{title} ({kind.label()})")
        ax.xaxis.minorticks_on()
        _squares(ax, "0.7", "0.88", axis="x", zorder=0)

    fine = partial(kind.exact_both, figures=4)
    rows = "; ".join(f"{name}: low {fine(spans[name][0])}, high {fine(spans[name][1])}" for name in order)
    return Picture(draw, f"Bars of the {title}, as expected {fine(usual)}. With one input off: {rows}.")


def _squares(ax: Any, major: str, minor: str, **where: Any) -> None:
    """Squared paper in two greys."""
    ax.grid(visible=True, which="major", color=major, **where)
    ax.grid(visible=True, which="minor", color=minor, lw=0.6, **where)


def _bare(figure: Figure, x: tuple[float, float], y: tuple[float, float]) -> Any:
    """Axes that fill a figure and show nothing of themselves."""
    ax = figure.add_axes((0.02, 0.02, 0.96, 0.96))
    ax.set_xlim(*x)
    ax.set_ylim(*y)
    ax.axis("off")
    return ax


def still(figure: Any) -> bytes:
    """A figure as a PNG picture."""
    import io

    letter(figure)
    buffer = io.BytesIO()
    figure.savefig(buffer, format="png", dpi=100)
    return buffer.getvalue()
