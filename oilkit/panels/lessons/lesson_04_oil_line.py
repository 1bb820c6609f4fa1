"""Panel of lesson 04: what a line holds, and what it costs."""

from __future__ import annotations

import math
import re
from types import SimpleNamespace
from typing import Any

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Polygon

from oilkit.panels.framework import drawing
from oilkit.panels.framework.amounts import amount, length, warmth
from oilkit.panels.framework.axes import STEPS, round_up
from oilkit.panels.framework.base import Panel
from oilkit.panels.framework.bound import Graph, Parts, Reading, Setting, State, us
from oilkit.panels.framework.choices import fitting_choice, hose_choice, oil_choice
from oilkit.panels.framework.controls import Control
from oilkit.panels.framework.steps import Step, between, both, is_called, is_chosen
from oilkit.physics.line import (
    LAMINAR_BELOW,
    TURBULENT_ABOVE,
    Way,
    fitting_drop,
    laminar_drop,
    line_drop,
    line_volume,
    reynolds_number,
    velocity_in,
    way_drop,
)
from oilkit.physics.oil import density_of, viscosity_of
from oilkit.quantities.kinds import BORE, OIL, PRESSURE_DIFFERENCE, REYNOLDS, TEMPERATURE, THROUGH_FLOW, VELOCITY
from oilkit.quantities.units import Q

MOST_FLOW = us(THROUGH_FLOW, 12.0)
MOST_DROP = us(PRESSURE_DIFFERENCE, 80.0)
"""More than a vessel of the lessons has to give."""
ALONG = (None, None, 0.0, 6.0)
"""The axis along the line, not to scale: end, hose, end, valve."""
HOT = float(Q(100, "degC").to("K").m)
LAMINAR, BETWEEN, TURBULENT = "laminar", "in between: no formula is good", "turbulent"


def _regime(reynolds: float) -> str:
    if reynolds < LAMINAR_BELOW:
        return LAMINAR
    return BETWEEN if reynolds <= TURBULENT_ABOVE else TURBULENT


def _drop_curve(way: Way, density: float, viscosity: float) -> SimpleNamespace:
    """Drop over a line against flow, with a gap where no formula is good, and what lies between the two there."""
    bore, length, _ = way
    axis = np.linspace(0.0, MOST_FLOW, 61)
    numbers = reynolds_number.si(axis, bore, density, viscosity)
    low, high = np.interp([LAMINAR_BELOW, TURBULENT_ABOVE], numbers, axis)  # exact: in proportion to the flow
    inside = np.linspace(low, high, 9)
    most = way_drop(way, inside, density, viscosity)
    wall = line_drop.si(inside, bore, length, density, viscosity)
    least = most - wall + laminar_drop.si(inside, bore, length, viscosity)
    drop = np.where((axis > low) & (axis < high), np.nan, way_drop(way, axis, density, viscosity))
    return SimpleNamespace(flow=axis, drop=drop, inside=inside, least=least, most=most, crossed=high > low)


class OilLine(Panel):
    """One line from tee to vessel: what it holds, and what each part of it takes at a flow."""

    call = "oil_line"
    title = "What the line holds, and what it costs"
    alt = (
        "The way through a line drawn to scale, the pressure lost along it, and the drop against flow with the band in "
        "which no friction formula is good."
    )
    steps = (
        Step(
            "Choose the -12 hose with 11/16 in bore. How do held oil and drop change?",
            is_called("hose", "rubber-lined -12 to MIL-H-8788"),
        ),
        Step(
            "Choose the -12 hose with 3/4 in bore. Which changes more, held oil or drop?",
            is_called("hose", "trade hose -12"),
        ),
        Step(
            "Go back to 5/8 in. Warm the oil from 20 °C (68 °F) to 100 °C (212 °F). What does the Reynolds number do?",
            both(is_called("hose", "rubber-lined -12 to MIL-H-8794"), between("temperature", 99, 101, "degC")),
        ),
        Step(
            "Raise the flow to 6 gpm (23 L/min): the point is in the hatched band. How far apart are its two edges?",
            both(is_chosen("regime", BETWEEN), between("flow", 5.8, 6.2, "gpm")),
        ),
        Step(
            "At 100 °C (212 °F) and 8 gpm (30 L/min) choose the electric valve. Where is the pressure lost now?",
            both(
                is_called("valve", "electric"),
                between("flow", 7.8, 8.2, "gpm"),
                between("temperature", 99, 101, "degC"),
            ),
        ),
    )

    def make_controls(self) -> list[Control]:
        most = float(THROUGH_FLOW.display(MOST_FLOW, "US"))
        return [
            hose_choice("mil_h_8794_12", first=True),
            length("Length of the hose", 0.5, 30, 10),
            fitting_choice("ends", "Hose ends, one at each end", "straight_end"),
            fitting_choice("valve", "Valve or other fitting, one", "reduced_valve"),
            amount("flow", "Flow", THROUGH_FLOW, "gpm", 0, most, 5, (0.1, 0.5)),
            oil_choice(first=True),
            warmth("temperature", "Temperature of the oil in the line", -20, 120, 40),
        ]

    def solve(self, at: Setting) -> State:
        bore, rho, mu = at.hose.si.bore, density_of(at.oil.si, at.temperature), viscosity_of(at.oil.si, at.temperature)
        parts = [part.si if part is not None else None for part in (at.ends, at.ends, at.valve)]
        fitted = tuple((part.bore, part.loss_coefficient) for part in parts if part is not None)

        def in_fitting(part: Any, through: Any) -> Any:
            return fitting_drop.si(through, part.bore, part.loss_coefficient, rho) if part is not None else 0.0

        def whole(wall: Any, through: Any) -> Any:
            return wall + sum(in_fitting(part, through) for part in parts)

        reynolds = float(reynolds_number.si(at.flow, bore, rho, mu))
        wall, laminar = line_drop.si(at.flow, bore, at.length, rho, mu), laminar_drop.si(at.flow, bore, at.length, mu)
        end = in_fitting(parts[0], at.flow)
        dash = re.search(r"\d+", at.hose.dash)
        return {
            "widths": [part.bore if part is not None else bore for part in (parts[0], at.hose.si, parts[1], parts[2])],
            "volume": line_volume.si(bore, at.length),
            "velocity": velocity_in.si(at.flow, bore),
            "reynolds": reynolds,
            "regime": _regime(reynolds),
            "wall": wall,
            "laminar": laminar,
            "lost_in_ends": 2.0 * end,
            "lost_in_valve": in_fitting(parts[2], at.flow),
            "total": whole(wall, at.flow),
            "so_far": np.array([0.0, end, end + wall, 2.0 * end + wall, whole(wall, at.flow)]),
            "half_dash": us(BORE, int(dash[0]) / 32.0) if dash else math.nan,
            "least": whole(laminar if _regime(reynolds) == BETWEEN else wall, at.flow),
            "now": _drop_curve((bore, at.length, fitted), rho, mu),
            "hot": _drop_curve((bore, at.length, fitted), density_of(at.oil.si, HOT), viscosity_of(at.oil.si, HOT)),
        }

    def redraw_key(self, state: State) -> Any:
        """The end of the pressure axes as shown: 1, 2 or 5 times a power of ten, somewhat above the drop."""
        least, total = us(PRESSURE_DIFFERENCE, 8.0), 1.15 * state["total"]
        return round_up(float(PRESSURE_DIFFERENCE.display(max(least, total))), STEPS)

    def build(self, figure: Figure) -> Parts:
        top = float(PRESSURE_DIFFERENCE.from_display(self.redraw_key(self.state)))
        graph = Graph(
            figure, (0.575, 0.23, 0.41, 0.67), "Thick oil in the line costs pressure",
            ("flow", THROUGH_FLOW, 0.0, MOST_FLOW), ("drop over the whole line", PRESSURE_DIFFERENCE, 0.0, top),
        )  # fmt: skip
        warm = {"color": drawing.RED, "ls": "--", "lw": 1.8, "label": f"its oil at {TEMPERATURE.text(HOT)}"}
        hot = graph.line("hot.flow", "hot.drop", **warm)
        now = graph.line("now.flow", "now.drop", color=drawing.BLUE, label="this line")
        yellow = {"fc": drawing.YELLOW, "ec": drawing.BLACK, "hatch": "xx", "lw": 0.8}
        band = self._band(graph, "now", label="Re 2300 to 4000: anywhere here", **yellow)
        self._band(graph, "hot", fc="none", ec=drawing.RED, ls="--", lw=1.2)
        graph.line("flow", lambda s: np.array([s["least"], s["total"]]), color=drawing.BLACK, lw=3.0)
        graph.point("flow", "total")
        way = self._way_through(figure)
        (dash,), _ = way.ax.get_legend_handles_labels()
        figure.legend(
            handles=[now, hot, band, dash],
            loc="lower center",
            ncols=4,
            columnspacing=0.9,
            handletextpad=0.5,
            fontsize=9,
        )
        return [way, self._lost(figure, top), graph]

    def _way_through(self, figure: Figure) -> Graph:
        wide = us(BORE, 1.3)
        cut = Graph(
            figure, (0.09, 0.62, 0.37, 0.28), "The way, its width to scale", ALONG,
            ("width", BORE, -wide / 2, wide / 2),
        )  # fmt: skip
        cut.ax.set_xticks([])
        cut.ax.grid(False)
        shown = float(BORE.display(wide))
        drawing.box(cut.ax, (0.0, -shown / 2), 6.0, shown, fc=drawing.STEEL, ec="none")
        style: dict[str, Any] = {"fc": drawing.OIL, "ec": drawing.BLACK, "lw": 0.8, "hatch": "//"}
        for k, (left, right) in enumerate(((0.0, 0.8), (0.8, 4.2), (4.2, 5.0), (5.0, 6.0))):
            cut.box(left, right, lambda s, k=k: -s["widths"][k] / 2, lambda s, k=k: s["widths"][k] / 2, **style)
        cut.line(
            [0.8, 4.2, math.nan, 0.8, 4.2], lambda s: s["half_dash"] * np.array([1.0, 1.0, math.nan, -1.0, -1.0]),
            color=drawing.BLACK, lw=2.2, ls=":", label="dash number",
        )  # fmt: skip
        return cut

    def _lost(self, figure: Figure, top: float) -> Graph:
        lost = Graph(
            figure, (0.09, 0.23, 0.37, 0.26), "Pressure lost on the way", ALONG, ("lost", PRESSURE_DIFFERENCE, 0.0, top)
        )
        lost.ax.set_xticks([0.4, 2.5, 4.6, 5.5], ["end", "hose", "end", "valve"])
        lost.ax.tick_params(axis="x", length=0.0)
        lost.ax.grid(axis="x", visible=False)
        lost.ax.vlines([0.8, 4.2, 5.0], 0.0, lost.ax.get_ylim()[1], color=drawing.GREY, lw=0.7)
        lost.line([0.0, 0.8, 4.2, 5.0, 6.0], "so_far", color=drawing.BLUE, marker="o", ms=5)
        return lost

    def _band(self, graph: Graph, curve: str, **style: Any) -> Polygon:
        """Where no formula is good, beside a curve."""
        return graph.area(*(f"{curve}.{end}" for end in ("inside", "least", "most", "crossed")), **style)

    def readings(self, state: State) -> list[Reading]:
        return [
            Reading("oil that the hose holds", state["volume"], OIL),
            Reading("speed of the oil in the hose", state["velocity"], VELOCITY),
            Reading("Reynolds number in the hose", state["reynolds"], REYNOLDS),
            Reading("the flow in the hose is", state["regime"]),
            Reading("drop along the hose's wall", state["wall"], PRESSURE_DIFFERENCE),
            Reading("the same, if the flow were laminar", state["laminar"], PRESSURE_DIFFERENCE),
            Reading("drop in both hose ends", state["lost_in_ends"], PRESSURE_DIFFERENCE),
            Reading("drop in the valve", state["lost_in_valve"], PRESSURE_DIFFERENCE),
            Reading("drop over the whole line", state["total"], PRESSURE_DIFFERENCE),
        ]

    def summary(self, state: State) -> str:
        held = f"The hose holds {OIL.text(state['volume'])}: that oil must be added once, and it stays there."
        flow, total = THROUGH_FLOW.text(state["flow"]), PRESSURE_DIFFERENCE.text(state["total"])
        if state["flow"] == 0.0:
            return f"{held} Nothing flows, so nothing is lost: at rest both ends have the same pressure."
        if state["total"] > MOST_DROP:
            return f"{held} {flow} would cost {total}, more than the vessel has to give: in truth far less flows."
        if state["regime"] == BETWEEN:
            least = PRESSURE_DIFFERENCE.text(state["least"])
            return (
                f"{held} At {flow} the line takes anything from {least} to {total}: the flow may be laminar or "
                "turbulent, and no formula knows which."
            )
        parts = {"the hose's wall takes": state["wall"], "the hose ends take": state["lost_in_ends"]}
        parts["the valve takes"] = state["lost_in_valve"]
        most = max(parts, key=lambda name: float(parts[name]))
        return f"{held} At {flow} the line takes {total}; {most} the largest part. The flow is {state['regime']}."
