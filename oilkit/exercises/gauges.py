"""Pictures to read: a dial gauge, and a graph on paper. Drawn in the units on display; words say the same."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from matplotlib.figure import Figure

from oilkit.quantities.kinds import DISTANCE, Kind
from oilkit.quantities.lettering import letter
from oilkit.quantities.printed import kind_for
from oilkit.quantities.units import Qty, unit_switch


def dial(value: Qty, full_us: float, full_si: float, divisions: int = 20) -> tuple[Callable[[Figure], None], str]:
    """A dial gauge from 0 to a full scale of so many units on display, and the same in words.

    The words give the scale, its divisions and where the hand stands, as a screen reader's user would count it.
    """
    kind = kind_for(value)
    assert kind is not None
    si = float(value.m_as(kind.si))

    def scale() -> tuple[float, float]:
        full = full_us if unit_switch.system == "US" else full_si
        return full, float(kind.display(si))

    def draw(figure: Figure) -> None:
        full, shown = scale()
        ax = figure.add_axes((0.02, 0.02, 0.96, 0.96))
        ax.set_aspect("equal")
        ax.set_xlim(-1.2, 1.2)
        ax.set_ylim(-1.0, 1.2)
        ax.axis("off")
        turn = np.linspace(math.radians(225.0), math.radians(-45.0), 200)
        ax.plot(np.cos(turn), np.sin(turn), color="black", lw=2.0)
        for k in range(divisions + 1):
            angle = math.radians(225.0 - 270.0 * k / divisions)
            long = k % 5 == 0
            inner = 0.86 if long else 0.93
            ax.plot(
                [inner * math.cos(angle), math.cos(angle)], [inner * math.sin(angle), math.sin(angle)], "k-", lw=1.5
            )
            if long:
                ax.text(
                    0.7 * math.cos(angle), 0.7 * math.sin(angle), f"{full * k / divisions:g}", ha="center", va="center"
                )
        angle = math.radians(225.0 - 270.0 * min(max(shown / full, 0.0), 1.0))
        ax.annotate(
            "",
            (0.9 * math.cos(angle), 0.9 * math.sin(angle)),
            (0.0, 0.0),
            arrowprops={"width": 2.0, "headwidth": 8.0, "color": "black"},
        )
        ax.text(0.0, -0.55, kind.label(), ha="center", va="center")

    return draw, _words(kind, si, full_us, full_si, divisions)


def _words(
    kind: Kind,
    si: float,
    full_us: float,
    full_si: float,
    divisions: int,
    thing: str = "A dial gauge",
    pointer: str = "the hand",
) -> str:
    parts = []
    for system, full in (("US", full_us), ("SI", full_si)):
        count = float(kind.display(si, system)) / (full / divisions)
        parts.append(
            f"scale in {kind.label(system)}: 0 to {full:g} in {divisions} divisions, "
            f"{pointer} {count:.1f} divisions from 0"
        )
    return f"{thing}; " + "; ".join(parts) + "."


def graph(
    x: Qty, y: Qty, x_title: str, y_title: str, marks: tuple[str, ...] = (), rows: int = 8, x_kind: Kind | None = None
) -> tuple[Callable[[Figure], None], str]:
    """A line on squared paper, in the units on display, and the same in words: a table of about ``rows`` of its points.

    x_kind: what x is, where its unit does not say it (an altitude in feet).
    """
    kinds = [x_kind or kind_for(x), kind_for(y)]
    assert kinds[0] is not None
    assert kinds[1] is not None
    across, up = kinds[0], kinds[1]
    xs, ys = np.ravel(x.m_as(across.si)), np.ravel(y.m_as(up.si))

    def draw(figure: Figure) -> None:
        ax = figure.add_axes((0.16, 0.17, 0.8, 0.78))
        ax.plot(across.display(xs), up.display(ys), color="black", lw=2.2)
        ax.set_xlabel(f"{x_title} ({across.label()})" if across.label() else x_title)
        ax.set_ylabel(f"{y_title} ({up.label()})" if up.label() else y_title)
        ax.grid(visible=True, which="major", color="0.75")
        ax.minorticks_on()
        ax.grid(visible=True, which="minor", color="0.9", lw=0.6)
        ax.set_xlim(float(np.min(across.display(xs))), float(np.max(across.display(xs))))

    step = max(len(xs) // rows, 1)
    points = "; ".join(
        f"{across.both(float(a))}: {up.both(float(b))}" for a, b in zip(xs[::step], ys[::step], strict=True)
    )
    return draw, f"A line of {y_title} against {x_title}: {points}."


def rule(value: Qty, full_us: float, full_si: float, divisions: int = 60) -> tuple[Callable[[Figure], None], str]:
    """A rule beside the thin rod that rides on a piston, numbered at every fifth division, and the same in words."""
    kind = kind_for(value)
    assert kind is not None
    si = float(value.m_as(kind.si))

    def draw(figure: Figure) -> None:
        full = full_us if unit_switch.system == "US" else full_si
        end = float(kind.display(si)) / full
        ax = _bare(figure, (-0.06, 1.06), (-0.55, 0.75))
        ax.fill([-0.02, 1.02, 1.02, -0.02], [-0.3, -0.3, 0.0, 0.0], facecolor="0.93", edgecolor="black")
        for k in range(divisions + 1):
            numbered = k % 5 == 0
            ax.plot([k / divisions] * 2, [0.0, -0.12 if numbered else -0.07], "k-", lw=1.1 if numbered else 0.7)
            if numbered:
                ax.text(k / divisions, -0.2, f"{full * k / divisions:g}", ha="center", va="center", fontsize=8.5)
        ax.text(0.5, -0.45, f"rule ({kind.label()})", ha="center", va="center")
        ax.fill([-0.05, end, end, -0.05], [0.03, 0.03, 0.1, 0.1], facecolor="0.55", edgecolor="black")
        ax.plot([end, end], [0.0, 0.3], "k-", lw=1.2)
        ax.text(end, 0.38, "end of the rod", ha="center", va="center")

    return draw, _words(kind, si, full_us, full_si, divisions, "A rule beside a rod", "the rod's end")


def dipstick(
    below_full: Qty, full_us: float, full_si: float, divisions: int = 40
) -> tuple[Callable[[Figure], None], str]:
    """A dipstick with a scale that starts at its full mark and goes down, wetted by oil, and the same in words."""
    kind = kind_for(below_full)
    assert kind is not None
    si = float(below_full.m_as(kind.si))

    def draw(figure: Figure) -> None:
        full = full_us if unit_switch.system == "US" else full_si
        wet = float(kind.display(si)) / full
        ax = _bare(figure, (-1.0, 1.0), (1.22, -0.3))
        ax.fill([-0.16, 0.16, 0.16, -0.16], [-0.3, -0.3, 1.15, 1.15], facecolor="white", edgecolor="black")
        ax.fill([-0.16, 0.16, 0.16, -0.16], [wet, wet, 1.15, 1.15], facecolor="0.8", edgecolor="black", hatch="////")
        for k in range(divisions + 1):
            numbered = k % 10 == 0
            ax.plot([0.16, 0.28 if numbered else 0.22], [k / divisions] * 2, "k-", lw=1.2 if numbered else 0.7)
            if numbered:
                ax.text(0.32, k / divisions, f"{full * k / divisions:g}", ha="left", va="center", fontsize=9)
        ax.plot([-0.3, -0.16], [0.0, 0.0], "k-", lw=2.0)
        ax.text(-0.33, 0.0, "full", ha="right", va="center")
        ax.text(-0.33, 1.0, "wet with oil", ha="right", va="center")
        ax.text(0.55, 0.5, f"below full\n({kind.label()})", ha="left", va="center")

    return draw, _words(
        kind, si, full_us, full_si, divisions, "A dipstick with a scale from its full mark down", "the oil's edge"
    )


def tilted_pan(slope: float, half_length: Qty, mean_level: Qty) -> tuple[Callable[[Figure], None], str]:
    """An open pan from the side, its oil's surface tilted by so much height for each length, and the same in words.

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
        ax.grid(visible=True, which="major", color="0.6")
        ax.grid(visible=True, which="minor", color="0.78", lw=0.6)

    return draw, (
        f"An open pan from the side, {DISTANCE.both(2.0 * half)} long. The oil stands at {DISTANCE.both(front)} at its "
        f"front wall and at {DISTANCE.both(back)} at its back wall; between them its surface is straight."
    )


def bars(
    names: tuple[str, ...], ends: Sequence[tuple[Qty, Qty]], middle: Qty, title: str
) -> tuple[Callable[[Figure], None], str]:
    """A bar for each input, from the result at its low end to that at its high end, and the same in words.

    The longest stands on top; the line through all of them is the result as expected. Low and high are written at the
    ends, in letters.
    """
    kind = kind_for(middle)
    assert kind is not None
    spans = [(float(low.m_as(kind.si)), float(high.m_as(kind.si))) for low, high in ends]
    order = sorted(range(len(names)), key=lambda k: -abs(spans[k][1] - spans[k][0]))
    usual = float(middle.m_as(kind.si))

    def draw(figure: Figure) -> None:
        ax = figure.add_axes((0.3, 0.17, 0.67, 0.78))
        every = [float(kind.display(si)) for span in spans for si in span]
        room = 0.12 * (max(every) - min(every))
        for row, k in enumerate(order):
            low, high = (float(kind.display(si)) for si in spans[k])
            ax.barh(row, high - low, left=low, height=0.5, color="0.8", edgecolor="black", zorder=2)
            for end, other, letters in ((low, high, "low"), (high, low, "high")):
                side = -1.0 if end < other else 1.0
                ax.text(end + 0.1 * side * room, row, letters, ha="right" if side < 0 else "left", va="center")
        ax.axvline(float(kind.display(usual)), color="black", lw=1.5, zorder=3)
        ax.set_yticks(range(len(order)), [names[k] for k in order])
        ax.set_ylim(len(order) - 0.5, -0.5)
        ax.set_xlim(min(every) - 1.5 * room, max(every) + 1.5 * room)
        ax.set_xlabel(f"{title} ({kind.label()})")
        ax.xaxis.minorticks_on()
        ax.grid(visible=True, axis="x", which="major", color="0.7", zorder=0)
        ax.grid(visible=True, axis="x", which="minor", color="0.88", lw=0.6, zorder=0)

    def fine(si: float) -> str:
        us, metric = (kind.exact_text(si, system, 4) for system in ("US", "SI"))
        return us if us == metric else f"{us} ({metric})"

    rows = "; ".join(f"{names[k]}: low {fine(spans[k][0])}, high {fine(spans[k][1])}" for k in order)
    return draw, f"Bars of the {title}, as expected {fine(usual)}. With one input off: {rows}."


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
