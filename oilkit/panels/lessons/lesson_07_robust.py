"""Panel of lesson 07: a robust choice."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
from matplotlib.figure import Figure

from oilkit.laps.choice import robust_choice
from oilkit.panels.framework import drawing
from oilkit.panels.framework.amounts import amount, pressure, seconds
from oilkit.panels.framework.bound import Graph, Parts, Reading, Setting, State, in_si, of
from oilkit.panels.framework.choices import engine_choice
from oilkit.panels.framework.controls import Amount, Control
from oilkit.panels.framework.first_look import FirstLook
from oilkit.panels.framework.vessel_view import usual_band
from oilkit.panels.lessons.lesson_07_car import CHARGE, TOP, built
from oilkit.physics.engine import operating_point
from oilkit.quantities.kinds import CLEARANCE_CHANGE, GAUGE, PART, TEMPERATURE_DIFFERENCE, TIME
from oilkit.quantities.printed import percent
from oilkit.quantities.units import Q

HOT = Q(100, "degC")
"""In the sump, for hot idle: as `robust_choice` takes it."""

DRAWS, FIRST_DRAWS = 60, 15
"""Of the full answer, and of a first look."""
FEWER = Q(np.linspace(2.0, 50.0, 25), "psig")


class RobustChoicePanel(FirstLook):
    """The needle for the one expected event, and the plateau for everything that nobody knows exactly."""

    call = "robust_choice"
    title = "A robust choice, not a needle"
    alt = "Against pre-charge, left: lowest pressure in the expected event. Right: share of simulated cases protected."

    def make_controls(self) -> list[Control]:
        return [
            pressure("precharge", CHARGE, 2, 50, 40),
            seconds("event", "The event lasts, expected", 0.5, 10, 4, 0.25),
            Amount("event_spread", "… spread of it, as a share", PART, 0.0, 0.6, 0.2, (0.05, 0.05)),
            amount("clearance_spread", "Spread of the clearance", CLEARANCE_CHANGE, "thou", 0, 0.6, 0.3, (0.05, 0.001)),
            amount(
                "temperature_spread", "Spread of the oil temperature", TEMPERATURE_DIFFERENCE, "delta_degC", 0, 20, 8, 1
            ),
            engine_choice(),
        ]

    def solve(self, at: Setting) -> State:
        key = (at.event, at.event_spread, at.clearance_spread, at.temperature_spread, at.engine)
        found = self.kept_fine(
            key, lambda rough: self._chosen(at, FIRST_DRAWS if rough else DRAWS)
        )  # a new pre-charge alone only moves the point
        needle, best = (int(np.argmin(np.abs(found.precharge - one))) for one in (found.needle, found.best))
        car = built(at.engine)
        idle = operating_point(at.engine, car.oil, at.engine.idle, HOT)
        return {
            "found": found,
            "idle": float(idle.gallery_pressure.m_as("Pag")),
            "percent_line": 100.0 * found.share,
            "percent_low": 100.0 * found.share_low,
            "percent_high": 100.0 * found.share_high,
            "needle": needle,
            "best": best,
            "share": float(np.interp(at.precharge, found.precharge, found.share)),
            "lowest": float(np.interp(at.precharge, found.precharge, found.lowest_pressure)),
        }

    def _chosen(self, at: Setting, draws: int) -> SimpleNamespace:
        return in_si(
            robust_choice(
                built(at.engine),
                FEWER,
                TIME.quantity(at.event),
                at.event_spread,
                CLEARANCE_CHANGE.quantity(at.clearance_spread),
                TEMPERATURE_DIFFERENCE.quantity(at.temperature_spread),
                draws,
            )
        )

    def build(self, figure: Figure) -> Parts:
        low, high = (float(end) for end in FEWER.m_as("Pag")[[0, -1]])
        across = ("pre-charge", GAUGE, low, high)
        left = Graph(
            figure, (0.085, 0.24, 0.385, 0.66), "One expected event: a needle", across,
            ("lowest pressure in it", GAUGE, 0.0, TOP * 0.67),
        )  # fmt: skip
        right = Graph(
            figure, (0.585, 0.24, 0.4, 0.66), "All that may come: a plateau", across,
            ("simulated cases protected (%)", None, 0.0, 104.0),
        )  # fmt: skip
        right.area(
            "found.precharge", "percent_low", "percent_high", fc=drawing.GREEN, alpha=0.2, lw=0,
            label="left open by so few draws",
        )  # fmt: skip
        for graph, line, here, colour in (
            (left, "found.lowest_pressure", "lowest", drawing.BLUE),
            (right, "percent_line", lambda s: 100.0 * s["share"], drawing.GREEN),
        ):
            usual_band(graph.ax)
            graph.line("found.precharge", line, color=colour)
            height = of(line)
            for name, key, look in (
                ("needle", "needle", {"marker": "v", "ms": 13, "color": drawing.RED}),
                ("robust", "best", {"marker": "*", "ms": 16, "color": drawing.PURPLE}),
            ):
                graph.line(
                    f"found.{key}", lambda s, key=key, height=height: height(s)[s[key]], ls="none", label=name, **look
                )
            graph.point("precharge", here, ms=9, ls="none", label="yours")
        handles, names = right.ax.get_legend_handles_labels()
        look = {"columnspacing": 1.2, "handletextpad": 0.5, "borderaxespad": 0.0}
        figure.legend(handles, names, loc="lower center", ncols=len(names), **look)
        return [left, right]

    def readings(self, state: State) -> list[Reading]:
        found = state["found"]
        low, high = (end[state["best"]] for end in (found.share_low, found.share_high))
        return [
            Reading("needle: best for the one expected event", found.needle, GAUGE),
            Reading("… protects of all draws", percent(found.needle_share)),
            Reading("robust: protects most draws", found.best, GAUGE),
            Reading("… namely", percent(found.best_share)),
            Reading("… 19 times in 20 between", f"{percent(low)} and {percent(high)}"),
            Reading("your pre-charge protects about", percent(state["share"])),
            Reading("… and keeps in the expected event", state["lowest"], GAUGE),
        ]

    def summary(self, state: State) -> str:
        found = state["found"]
        needle, best = GAUGE.text(found.needle), GAUGE.text(found.best)
        idle = f" Hot idle, {GAUGE.text(state['idle'])} at {HOT:~}, never fills such a vessel."
        return f"{self._choice(state, needle, best)}{idle if found.best >= state['idle'] else ''}"

    def _choice(self, state: State, needle: str, best: str) -> str:
        found = state["found"]
        if found.needle_share >= found.best_share - 0.005:
            return (
                f"Here {needle}, the best for the one expected event, is also as good as any for what "
                "may come: the spread is small, or no pre-charge can do more."
            )
        return (
            f"For exactly {TIME.text(state['event'])} the highest pressure comes with {needle}, but that protects only "
            f"{percent(found.needle_share)} of what may come; {best} protects {percent(found.best_share)}."
        )
