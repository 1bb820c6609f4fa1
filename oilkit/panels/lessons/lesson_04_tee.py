"""Panel of lesson 04: where the vessel's oil goes, with the tee before or after the filter."""

from __future__ import annotations

import math
from collections.abc import Sequence
from types import SimpleNamespace
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Polygon

from oilkit.panels.framework import drawing
from oilkit.panels.framework.amounts import drop, pressure, warmth
from oilkit.panels.framework.base import Panel
from oilkit.panels.framework.bound import Bound, Graph, Parts, Reading, Setting, State, us
from oilkit.panels.framework.choices import engine_choice, oil_choice
from oilkit.panels.framework.controls import Choice, Control
from oilkit.panels.framework.steps import Step, both, is_chosen
from oilkit.physics.line import Fitting, Hose, SupplyLine, way_of
from oilkit.physics.oil import density_of, viscosity_of
from oilkit.physics.tee import beyond_the_tee, flow_at_tee
from oilkit.quantities.kinds import GAUGE, PART, PRESSURE_DIFFERENCE, THROUGH_FLOW, one_to_si
from oilkit.quantities.units import Q

BEFORE, AFTER = "before the filter", "after the filter"
TIGHT, WORN, NONE = "tight", "worn seat", "no check valve"
LEAKS = {TIGHT: Q(0, "gpm"), WORN: Q(0.4, "gpm"), NONE: Q(1.5, "gpm")}
"""Back towards the pump at `LEAK_AT`; without a check valve, the middle of the estimated 1 to 2 gpm (no source)."""
LEAK_AT = Q(50, "psi")
TEE_LINE = SupplyLine(
    Hose("-12 with 5/8 in bore", "-12", Q(0.625, "in")),
    Q(8, "ft"),
    (Fitting("quarter-turn valve, reduced bore", Q(0.5, "in"), Q(1.0, "dimensionless")),),
)
"""The line of this panel."""
WIDEST_FLOW = us(THROUGH_FLOW, 20.0)


class Tee(Panel):
    """The pump draws air and the vessel feeds: what its oil meets, with the tee on either side of the filter."""

    call = "tee"
    title = "The pump draws air: where does the vessel's oil go?"
    alt = (
        "A circuit of pump, check valve, filter, gallery and vessel with the tee before or after the filter, each flow "
        "drawn as wide as it is large; and the gallery pressure that the vessel can hold up against the flow."
    )
    steps = (
        Step(
            "Move the tee after the filter. What happens to flow, loose bits, and the pressure at the tee?",
            is_chosen("tee", AFTER),
        ),
        Step(
            "Move it back. Cool the filter to 10 °C (50 °F). Lower the gallery pressure until the bypass opens.",
            lambda s: s["tee"] == BEFORE and s["filter_temperature"] < 285.0 and s["here"].unfiltered > 0.0,
        ),
        Step("Take the check valve away. What flows back?", is_chosen("check_valve", NONE)),
        Step(
            "Move the tee after the filter again. Which way does the leak take, and what could it carry along?",
            both(is_chosen("tee", AFTER), is_chosen("check_valve", NONE)),
        ),
    )

    def make_controls(self) -> list[Control]:
        self._line = way_of(TEE_LINE)
        self._leaks = {name: one_to_si("leak", leak, THROUGH_FLOW) for name, leak in LEAKS.items()}
        self._leak_at = one_to_si("reference", LEAK_AT, PRESSURE_DIFFERENCE)
        return [
            Choice("tee", "The tee stands", [BEFORE, AFTER]),
            pressure("vessel", "Vessel pressure", 40, 80, 50),
            drop("below", "Gallery pressure below the vessel's by", 0, 40, 10),
            warmth("line_temperature", "Temperature of the oil in the line", -20, 120, 40),
            warmth("filter_temperature", "Temperature of the oil in the filter", -20, 120, 90),
            Choice("check_valve", "Check valve at the pump", LEAKS),
            oil_choice(first=True),
            engine_choice(first=True, label="Filter of"),
        ]

    def solve(self, at: Setting) -> State:
        in_line = density_of(at.oil.si, at.line_temperature), viscosity_of(at.oil.si, at.line_temperature)
        leak, in_filter = (self._leaks[at.check_valve], self._leak_at), viscosity_of(at.oil.si, at.filter_temperature)
        axis, gallery = np.linspace(0.0, 1.3 * WIDEST_FLOW, 66), at.vessel - at.below
        state: State = {"gallery": gallery}
        for place, element in ((BEFORE, at.engine.si.filter), (AFTER, None)):
            found = flow_at_tee(self._line, at.vessel, gallery, *in_line, *leak, element, in_filter)
            curve = beyond_the_tee(self._line, axis, at.vessel, *in_line, *leak, element, in_filter)
            names = ("out", "through", "leak", "at_tee", "lost", "unfiltered")
            state[place] = SimpleNamespace(**dict(zip(names, found, strict=True)), flows=curve[0], held=curve[3])
        state["before"] = at.tee == BEFORE
        state["here"], state["there"] = state[at.tee], state[AFTER if at.tee == BEFORE else BEFORE]
        return state

    def build(self, figure: Figure) -> Parts:
        circuit = _Circuit(figure.add_axes((0.0, 0.0, 0.565, 1.0)))
        flows = [lambda s, key=key: getattr(s["here"], key) / WIDEST_FLOW for key in ("out", "through", "leak")]
        graph = Graph(
            figure, (0.66, 0.15, 0.325, 0.75), "What the vessel can hold up",
            ("flow into the gallery", THROUGH_FLOW, 0.0, WIDEST_FLOW),
            ("gallery pressure", GAUGE, 0.0, us(GAUGE, 110.0)),
        )  # fmt: skip
        for place, look in ((AFTER, {"color": drawing.BLUE}), (BEFORE, {"color": drawing.RED, "ls": "--"})):
            graph.line(f"{place}.flows", f"{place}.held", label=f"tee {place}", **look)
        now = {"color": drawing.GREEN, "ls": ":", "label": "gallery pressure now"}
        graph.line([0.0, WIDEST_FLOW], "gallery", **now)
        other: dict[str, Any] = {"ms": 9, "mfc": "white", "mec": drawing.BLACK, "mew": 1.8}
        graph.point(lambda s: _on_the_axis(s["there"].through), "gallery", **other)
        graph.point(lambda s: _on_the_axis(s["here"].through), "gallery")
        graph.ax.legend(loc="upper right")
        return [Bound(circuit, "before", *flows, "here.unfiltered", "check_valve"), graph]

    def readings(self, state: State) -> list[Reading]:
        here = state["here"]
        return [
            Reading("into the gallery, tee before the filter", state[BEFORE].through, THROUGH_FLOW),
            Reading("into the gallery, tee after the filter", state[AFTER].through, THROUGH_FLOW),
            Reading("out of the vessel, tee as chosen", here.out, THROUGH_FLOW),
            Reading("leak back past the check valve", here.leak, THROUGH_FLOW),
            Reading("gallery pressure", state["gallery"], GAUGE),
            Reading("pressure at the tee", here.at_tee, GAUGE),
            Reading("drop in the filter on the way", here.lost, PRESSURE_DIFFERENCE),
            Reading("share that passes no filter on the way", here.unfiltered, PART),
        ]

    def summary(self, state: State) -> str:
        here = state["here"]
        if here.out <= 1e-12:
            return (
                f"Vessel and gallery stand at the same {GAUGE.text(state['gallery'])}, so the vessel gives nothing. It "
                "comes in only when the gallery falls below it."
            )
        if here.through <= 0.0:
            return "All that the vessel gives runs back past the check valve: nothing reaches the gallery."
        flow = f"{THROUGH_FLOW.text(here.through)} reaches the gallery"
        leak = f" {THROUGH_FLOW.text(here.leak)} is lost back towards the pump." if here.leak > 0.0 else ""
        if state["tee"] == AFTER:
            return (
                f"{flow} without passing the filter: no pressure is lost there, and whatever is loose in vessel and "
                f"line goes straight to the bearings.{leak}"
            )
        lost = PRESSURE_DIFFERENCE.text(here.lost)
        if here.unfiltered > 0.0:
            return (
                f"{flow}. The filter takes {lost}, so its bypass is open: {here.unfiltered:.0%} of the oil goes "
                f"round it, with whatever is loose in it.{leak}"
            )
        return f"{flow}, all of it through the filter, which takes {lost} and holds back what is loose.{leak}"


def _on_the_axis(flow: float) -> float:
    return max(flow, 0.0) if flow <= WIDEST_FLOW else math.nan


class _Circuit:
    """Pump, check valve, filter and gallery in a row, the vessel above, the tee on either side of the filter."""

    row, top, over = 2.7, 5.9, 4.15
    pump, check, before, element, after, end = 1.0, 2.75, 4.0, 5.9, 7.8, 11.1
    left, right = 4.8, 7.0

    def __init__(self, ax: Axes) -> None:
        drawing.bare(ax, (0.0, 11.4), (0.0, 8.2))
        self._fixed(ax)
        flow: dict[str, Any] = {"color": drawing.OCHRE, "solid_capstyle": "butt", "zorder": 2}
        self._riser, self._on, self._round = (ax.plot([], [], **flow)[0] for _ in range(3))
        (self._back,) = ax.plot([], [], color=drawing.RED, solid_capstyle="butt", zorder=2)
        mark: dict[str, Any] = {"color": drawing.BLACK, "ls": "none", "ms": 9, "zorder": 5}
        self._down, self._right, self._left = (ax.plot([], [], marker, **mark)[0] for marker in "v><")
        (self._bits,) = ax.plot([], [], "x", color=drawing.BLACK, ms=6, mew=1.6, zorder=6)
        flows = [self._riser, self._on, self._round, self._back]
        self.moving: list[Artist] = [*flows, *self._parts(ax), self._down, self._right, self._left, self._bits]

    def _fixed(self, ax: Axes) -> None:
        y = self.row
        pipe: dict[str, Any] = {"color": drawing.PALE, "lw": 9.0, "solid_capstyle": "butt", "zorder": 1}
        ax.plot([self.pump, self.pump, self.end], [0.7, y, y], **pipe)
        ax.plot([self.left, self.left, self.right, self.right], [y, self.over, self.over, y], **pipe)
        ax.plot([0.3, 0.3, 1.7, 1.7], [1.15, 0.45, 0.45, 1.15], color=drawing.BLACK, lw=1.5)
        for x, height, text in (
            (2.35, 0.6, "pan"),
            (self.pump, y + 1.1, "pump,\ndraws air"),
            (self.check, y - 0.9, "check valve"),
            (self.element, y - 1.1, "filter"),
            (self.element, self.over + 0.5, "bypass"),
            (10.2, y + 0.7, "gallery"),
            (10.2, y - 1.85, "to the bearings"),
            (self.element, 7.85, "vessel"),
            (6.9, 0.2, "×  what is loose in vessel and line"),
        ):
            ax.text(x, height, text, ha="center", va="center", fontsize=10)
        arrow: dict[str, Any] = {"arrowstyle": "-|>", "lw": 1.3, "color": drawing.GREY}
        for x in (9.6, 10.2, 10.8):
            ax.annotate("", (x, y - 1.5), (x, y - 0.1), arrowprops=arrow)

    def _parts(self, ax: Axes) -> list[Artist]:
        """Vessel and the symbols of pump, filter and check valve, which stand in front of the flow."""
        x, y, half, tip = self.element, self.row, 0.75, self.pump + 0.58
        solid: dict[str, Any] = {"fc": "white", "ec": drawing.BLACK, "lw": 1.5, "zorder": 4}
        black: dict[str, Any] = {"color": drawing.BLACK, "zorder": 5}
        shell = drawing.box(ax, (3.3, self.top), 5.2, 1.6, fc=drawing.GAS, ec=drawing.BLACK, lw=1.5, hatch="..")
        oil = drawing.box(ax, (3.3, self.top), 5.2, 0.8, fc=drawing.OIL, ec=drawing.BLACK, hatch="//")
        pump = Circle((self.pump, y), 0.6, **solid)
        way = Polygon([(tip, y), (tip - 0.45, y + 0.33), (tip - 0.45, y - 0.33)], fc=drawing.BLACK, zorder=5)
        diamond = Polygon([(x - half, y), (x, y + half), (x + half, y), (x, y - half)], **solid)
        self._ball = Circle((self.check, y), 0.27, **solid)
        for patch in (pump, way, diamond, self._ball):
            ax.add_patch(patch)
        (mesh,) = ax.plot([x, x], [y - half, y + half], ls="--", lw=1.3, **black)
        corner = self.check - 0.42
        (self._seat,) = ax.plot([corner + 0.4, corner, corner + 0.4], [y + 0.5, y, y - 0.5], lw=1.6, **black)
        return [shell, oil, pump, way, diamond, mesh, self._seat, self._ball]

    def show(self, before: bool, out: float, through: float, leak: float, unfiltered: float, valve: str) -> None:
        """Flows as shares of the widest line; unfiltered: share of the gallery's oil that no filter has seen."""
        x, y = self.before if before else self.after, self.row
        around = through * unfiltered if before else 0.0
        corners = [self.left, self.left, self.right, self.right]
        for line, share, path in (
            (self._riser, out, ([x, x], [self.top, y])),
            (self._on, through, ([x, self.end], [y, y])),
            (self._round, around, (corners, [y, self.over, self.over, y])),
            (self._back, leak, ([x, self.pump, self.pump], [y, y, 0.9])),
        ):
            line.set_data(*path)
            line.set_linewidth(2.0 + 14.0 * min(share, 1.0))
            line.set_visible(share > 1e-6)
        onward = [(8.75, y)] if through > 1e-6 else []
        _put(self._right, [*onward, (self.element, self.over)] if around > 1e-6 else onward)
        _put(self._down, [(x, 4.95)] if out > 1e-6 else [])
        _put(self._left, [(1.95, y)] if leak > 1e-6 else [])
        bits = [(x, 5.55), (x, 4.4), (x, 3.7)]
        if not before:
            bits += [(8.2, y), (9.3, y), (10.5, y)]
        elif around > 1e-6:
            bits += [(4.9, y), (self.left, 3.6), (5.3, self.over), (6.5, self.over), (7.0, 3.4), (8.2, y), (9.3, y)]
        else:
            bits += [(4.6, y), (5.0, y - 0.2), (5.05, y + 0.2)]
        _put(self._bits, bits if out > 1e-6 else [])
        for part in (self._seat, self._ball):
            part.set_visible(valve != NONE)
        self._ball.set_center((self.check + (0.15 if valve == WORN else -0.07), y))


def _put(points: Any, places: Sequence[tuple[float, float]]) -> None:
    points.set_data([x for x, _ in places], [y for _, y in places])
