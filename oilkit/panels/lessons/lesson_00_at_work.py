"""Panel of lesson 00: an accumulator at work, in one long corner, beside the same engine without one."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Polygon, Wedge

from oilkit.laps.lap import simulate_lap, surface_tilt, usual_installation
from oilkit.laps.logfile import Log
from oilkit.panels.framework import drawing
from oilkit.panels.framework.amounts import moment, pressure, seconds
from oilkit.panels.framework.bound import Bound, Graph, Parts, Reading, Setting, State, in_si, us
from oilkit.panels.framework.controls import Control
from oilkit.panels.framework.moving import MovingPanel
from oilkit.panels.framework.steps import Step, between, both
from oilkit.quantities.kinds import GAUGE, LENGTH, OIL, PART, TIME
from oilkit.quantities.units import Q

SPAN = 14.0
MOMENTS = np.linspace(0.0, SPAN, 141)
TURNS_IN, TAKES = 1.5, 0.5
"""Seconds until the car turns in, and to lean into the corner or out of it."""
SIDEWAYS, BRAKING = 1.2, 0.4
"""In g."""
SHORT = Q(-2, "qt")
"""The pan is that far below its full mark: a driver who did not look. With a full pan this pick-up stays covered."""
TOP = us(GAUGE, 90.0)
LEVEL, LEAN = 1.15, 0.55
"""Of the drawing: how high the oil stands, and how it leans for each inch that it falls at the pick-up."""


def corner(lasts: float) -> Log:
    """One long left-hander at a steady engine speed, taken on the brakes; lasts: seconds. Invented."""
    ends = TURNS_IN + TAKES + lasts
    leaning = np.interp(MOMENTS, [0.0, TURNS_IN, TURNS_IN + TAKES, ends, ends + TAKES], [0.0, 0.0, 1.0, 1.0, 0.0])
    steady = np.ones_like(MOMENTS)
    return Log(
        "one long corner",
        Q(MOMENTS, "s"),
        Q(30.0 * steady, "m/s"),
        Q(SIDEWAYS * leaning, "g_0"),
        Q(-BRAKING * leaning, "g_0"),
        Q(2500.0 * steady, "rpm"),
    )


class AtWork(MovingPanel):
    """One corner twice: the pump draws air, and the engine has a vessel or has none."""

    call = "at_work"
    title = "One long corner, without and with an accumulator"
    alt = (
        "The oil pan with its surface tilted and the pick-up in or out of the oil, a gauge of the engine without a "
        "vessel and one with it, and both oil pressures against time."
    )
    steps = (
        Step(
            "Press Play, or drag the black point. When does the pressure fall too low without a vessel?",
            lambda s: s["without"] < s["limit"],
        ),
        Step(
            "Set the pre-charge to 2 psi (0.14 bar). Is the pressure too low for longer?",
            between("precharge", 2, 2.2, "psig"),
        ),
        Step(
            "Set it to 40 psi (2.8 bar). How much oil does the vessel hold now?", between("precharge", 39.5, 41, "psig")
        ),
        Step(
            "Set it back to 10 psi (0.69 bar), and let the corner last 9 seconds. Does the oil last?",
            both(between("precharge", 9.7, 10.3, "psig"), between("lasts", 8.9, 9, "s")),
        ),
    )

    def make_controls(self) -> list[Control]:
        return [
            moment("Time", SPAN, 0.02),
            pressure("precharge", "Pre-charge", 2, 45, 10),
            seconds("lasts", "How long the corner lasts", 2.0, 9.0, 6.0, 0.5),
        ]

    def solve(self, at: Setting) -> State:
        went = self.kept((at.precharge, at.lasts), lambda: self._driven(at))
        now = {
            name: float(np.interp(at.time, MOMENTS, series))
            for name, series in (
                ("without", went.shut.gallery_pressure),
                ("with", went.open.gallery_pressure),
                ("oil", went.open.oil),
                ("supply", went.open.supply),
                ("tilt", went.tilt),
            )
        }
        return {"went": went, "moment": at.time, "limit": went.open.limit, **now}

    def _driven(self, at: Setting) -> SimpleNamespace:
        log, installed = corner(at.lasts), usual_installation("small_four")
        charge = GAUGE.quantity(at.precharge)
        shut, opened = (in_si(simulate_lap(installed, log, valve, SHORT, precharge=charge)) for valve in (False, True))
        return SimpleNamespace(shut=shut, open=opened, tilt=surface_tilt.si(log))

    def duration(self) -> float:
        return SPAN

    def build(self, figure: Figure) -> Parts:
        graph = Graph(
            figure, (0.58, 0.15, 0.4, 0.6), "The vessel bridges the corner",
            ("time", TIME, 0.0, SPAN), ("oil pressure", GAUGE, 0.0, TOP),
        )  # fmt: skip
        limit = float(GAUGE.display(self.state["limit"]))
        graph.ax.axhspan(0.0, limit, fc=drawing.YELLOW, alpha=0.4, hatch="xx", ec=drawing.GREY, label="too low")
        graph.line(MOMENTS, "went.shut.gallery_pressure", color=drawing.RED, ls="--", label="without")
        graph.line(MOMENTS, "went.open.gallery_pressure", color=drawing.BLUE, label="with vessel")
        graph.point("moment", "without", "s", ms=8, color=drawing.RED)
        graph.point("moment", "with", ms=9)
        graph.ax.legend(loc="lower left", bbox_to_anchor=(-0.16, 1.0), ncols=3, columnspacing=0.9, handlelength=1.5)
        graph.ax.set_title(graph.ax.get_title(loc="left"), loc="left", x=-0.14, pad=24.0)
        dials = []
        for left, name, source in ((0.0, "without", "without"), (0.245, "with vessel", "with")):
            ax = figure.add_axes((left, 0.0, 0.24, 0.5))
            dial = drawing.Dial(ax, name, GAUGE, TOP)
            start, end = (225.0 - 270.0 * share for share in (0.0, self.state["limit"] / TOP))
            low: dict[str, Any] = {"fc": drawing.YELLOW, "ec": drawing.GREY, "hatch": "xx"}
            ax.add_patch(Wedge((0.0, 0.0), dial.scale, end, start, width=0.25, **low))
            dials.append(Bound(dial, source))
        return [self._pan(figure), *dials, graph]

    def _pan(self, figure: Figure) -> Bound:
        """The pan from behind, not to scale: the surface leans as the simulation says."""
        ax = figure.add_axes((0.0, 0.5, 0.5, 0.48))
        drawing.bare(ax, (-3.4, 3.4), (-0.5, 3.2), to_scale=False)
        style: dict[str, Any] = {"fc": drawing.STEEL, "ec": drawing.BLACK}
        oil = Polygon([(0.0, 0.0)], fc=drawing.OIL, ec="none", hatch="///", zorder=1)
        ax.add_patch(oil)
        for corner_at, width, height in (((-3.2, -0.2), 6.4, 0.2), ((-3.2, 0.0), 0.15, 2.1), ((3.05, 0.0), 0.15, 2.1)):
            drawing.box(ax, corner_at, width, height, zorder=3, **style)
        drawing.box(ax, (-1.1, 0.5), 0.2, 2.4, zorder=3, **style)
        drawing.box(ax, (-1.4, 0.35), 0.8, 0.2, zorder=3, **style)
        ax.text(-0.7, 2.45, "to the pump", fontsize=9.5, color=drawing.GREY, va="center")
        drawn = drawing.Word(ax, "air!", 0.42, "white")

        def move(state: State) -> None:
            slope = LEAN * state["tilt"] / us(LENGTH, 1.0)
            left, right = (min(max(LEVEL + slope * x, 0.0), 2.05) for x in (-3.05, 3.05))
            dry = max(-LEVEL / slope, -3.05) if slope > 0.0 else -3.05
            oil.set_xy([(dry, 0.0), (dry, left), (3.05, right), (3.05, 0.0)])
            drawn.show(-2.3, 0.65, state["supply"] < 0.5)

        return Bound().add([oil, *drawn.moving], move)

    def readings(self, state: State) -> list[Reading]:
        went = state["went"]
        return [
            Reading("time", state["moment"], TIME),
            Reading("oil pressure without a vessel", state["without"], GAUGE),
            Reading("oil pressure with the vessel", state["with"], GAUGE),
            Reading("oil left in the vessel", state["oil"], OIL),
            Reading("share of oil, not air, in the pump", state["supply"], PART),
            Reading("too low for, without a vessel", went.shut.time_below, TIME),
            Reading("too low for, with the vessel", went.open.time_below, TIME),
        ]

    def summary(self, state: State) -> str:
        went, limit = state["went"], GAUGE.text(state["limit"])
        alone = f"Without a vessel the oil pressure is below {limit} for {TIME.text(went.shut.time_below)}."
        if went.open.time_below == 0.0:
            return f"{alone} With the vessel it never falls below {GAUGE.text(went.open.lowest_pressure)}."
        why = (
            "the vessel is empty before the corner ends: there is too little oil in it"
            if float(np.min(went.open.oil)) < 1e-6
            else "the vessel still has oil, but its gas pushes too weakly"
        )
        return f"{alone} With the vessel it is too low for {TIME.text(went.open.time_below)}: {why}."
