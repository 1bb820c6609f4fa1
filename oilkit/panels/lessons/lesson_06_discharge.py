"""Panel of lesson 06: the pump lets go."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from matplotlib.figure import Figure

from oilkit.panels.framework import drawing
from oilkit.panels.framework.amounts import clearance_change, length, moment, speed
from oilkit.panels.framework.bound import Bound, Graph, Parts, Reading, Setting, State, us
from oilkit.panels.framework.choices import engine_choice
from oilkit.panels.framework.controls import Control
from oilkit.panels.framework.moving import MovingPanel
from oilkit.panels.framework.vessel_view import room_of
from oilkit.panels.lessons.lesson_06_car import LONGEST, START, built, charge, finite, line_of, sump, tau
from oilkit.physics.catalog import bench_vessel, hoses
from oilkit.physics.discharging import EMPTY, LASTS, discharge
from oilkit.quantities.kinds import (
    CLEARANCE_CHANGE,
    DISTANCE,
    GAUGE,
    OIL,
    SPEED,
    TEMPERATURE,
    THROUGH_FLOW,
    TIME,
    TIME_CONSTANT,
)

MOMENTS = np.unique(np.concatenate([np.linspace(0, 1, 101), np.linspace(1, 10, 181), np.linspace(10, LONGEST, 251)]))
TOP = us(GAUGE, 70.0)


class PumpLetsGo(MovingPanel):
    """The pump loses its oil; the vessel feeds the engine, in real time."""

    call = "pump_lets_go"
    title = "The pump lets go"
    alt = (
        "The vessel cut open with oil and piston, gauges at vessel and gallery, and gallery pressure against time "
        "with the engine's limit, the end of the protected time and the moment when the vessel is empty."
    )
    size = (10.0, 4.4)

    def make_controls(self) -> list[Control]:
        return [
            moment("Time since the pump let go", LONGEST, 0.02),
            charge(10),
            clearance_change("clearance"),
            sump(),
            length("Length of the line", 1, 25, 6),
            tau(20),
            speed(500, 8000, 3000),
            engine_choice(),
        ]

    def solve(self, at: Setting) -> State:
        run = at.precharge, at.clearance, at.sump, at.length, at.tau, at.speed, at.engine
        h = self.kept(run, lambda: self._followed(at))  # scrubbing and playing change the moment, not the run
        now = min(at.time, h["span"])
        names = ("gallery", "gas", "oil", "line", "engine_flow", "temperature")
        here = {name: float(np.interp(now, MOMENTS, h[name])) for name in names}
        shown = max(here["gallery"], 0.0)
        return {"history": h, "moment": now, "fraction": here["oil"] / h["room"], "gallery_dial": shown, **here}

    def _followed(self, at: Setting) -> State:
        went = discharge(
            built(at.engine, line_of(hoses()["trade_12"], at.length)),
            duration=TIME.quantity(LONGEST),
            samples=TIME.quantity(MOMENTS),
            precharge=GAUGE.quantity(at.precharge),
            pressure=GAUGE.quantity(START),
            clearance_change=CLEARANCE_CHANGE.quantity(at.clearance),
            sump_temperature=TEMPERATURE.quantity(at.sump),
            thermal_time_constant=TIME_CONSTANT.quantity(at.tau),
            speed=SPEED.quantity(at.speed),
            limit=at.engine.warning,
        )
        h = went.history
        assert h is not None
        protected, empty = float(went.protected_time.m_as("s")), float(went.empty_after.m_as("s"))
        room, _, stroke = room_of(bench_vessel())
        reaches = protected if math.isfinite(protected) else LONGEST
        span = next((s for s in (2.0, 5.0, 10.0, 20.0, 40.0) if s >= 1.15 * reaches), LONGEST)
        gas, seen = h.gas_pressure.m_as(GAUGE.si), span * 1.02 >= MOMENTS
        gallery = h.gallery_pressure.m_as(GAUGE.si)
        return {
            "times": MOMENTS[seen],
            "gallery_seen": gallery[seen],
            "gas_seen": gas[seen],
            "empty_seen": empty if empty < span else math.nan,
            "gas_then": np.interp(empty, MOMENTS, gas),
            "gallery": gallery,
            "gas": gas,
            "oil": h.oil.m_as(OIL.si),
            "line": h.line_flow.m_as(THROUGH_FLOW.si),
            "engine_flow": h.engine_flow.m_as(THROUGH_FLOW.si),
            "temperature": h.gas_temperature.m_as(TEMPERATURE.si),
            "protected": protected,
            "empty": empty,
            "ending": went.ending,
            "used": float(went.oil_used.m_as(OIL.si)),
            "limit": at.engine.si.warning,
            "room": room,
            "stroke": stroke,
            "span": span,
        }

    def duration(self) -> float:
        return float(self.state["history"]["span"])

    def redraw_key(self, state: State) -> Any:
        return state["history"]["span"], state["history"]["limit"]

    def build(self, figure: Figure) -> Parts:
        h = self.state["history"]
        cut = figure.add_axes((0.0, 0.47, 0.48, 0.51))
        cutaway = drawing.Cutaway(cut, float(DISTANCE.display(h["stroke"])), DISTANCE.label())
        gas = drawing.Dial(figure.add_axes((0.02, 0.0, 0.2, 0.46)), "at the vessel (gas)", GAUGE, TOP)
        gallery = drawing.Dial(figure.add_axes((0.26, 0.0, 0.2, 0.46)), "at the gallery", GAUGE, TOP)
        return [Bound(cutaway, "fraction"), Bound(gas, "gas"), Bound(gallery, "gallery_dial"), self._graph(figure)]

    def _graph(self, figure: Figure) -> Graph:
        h = self.state["history"]
        graph = Graph(
            figure, (0.555, 0.14, 0.43, 0.61), "Protected until the gallery falls below the limit",
            ("time since the pump let go", TIME, 0.0, h["span"]), ("gallery pressure", GAUGE, 0.0, TOP),
        )  # fmt: skip
        ax, limit = graph.ax, float(GAUGE.display(h["limit"]))
        ax.axhspan(0.0, limit, fc=drawing.YELLOW, alpha=0.4, hatch="xx", ec=drawing.GREY, label="below the limit")
        run = {key: (lambda s, key=key: s["history"][key]) for key in h}
        behind = {"color": drawing.GREEN, "ls": "--", "lw": 1.6, "label": "gas in the vessel"}
        graph.line(run["times"], run["gas_seen"], **behind)
        graph.line(run["times"], run["gallery_seen"], color=drawing.BLUE, label="gallery")
        ending = {"color": drawing.RED, "marker": "v", "ms": 9, "markevery": [0], "label": "protected to here"}
        graph.line(run["protected"], [TOP * 0.95, 0.0], **ending)
        empty = {"ms": 9, "color": drawing.PURPLE, "mec": drawing.BLACK, "label": "vessel empty"}
        graph.line(run["empty_seen"], run["gas_then"], "s", **empty)
        graph.point("moment", "gallery_dial", ms=10, label="now")
        ax.legend(loc="lower left", bbox_to_anchor=(-0.13, 0.98), ncols=3, columnspacing=1.0, handlelength=1.8)
        ax.set_title(ax.get_title(loc="left"), loc="left", x=-0.12, pad=44.0)
        return graph

    def readings(self, state: State) -> list[Reading]:
        h = state["history"]
        return [
            finite("protected time", h["protected"], TIME),
            Reading("it ends with", h["ending"]),
            finite("vessel empty after", h["empty"], TIME),
            Reading("oil used by then", h["used"], OIL),
            Reading("now: time", state["moment"], TIME),
            Reading("gallery pressure", state["gallery"], GAUGE),
            Reading("gas pressure", state["gas"], GAUGE),
            Reading("flow out of the vessel", state["line"], THROUGH_FLOW),
            Reading("flow into the engine", state["engine_flow"], THROUGH_FLOW),
            Reading("oil left in the vessel", state["oil"], OIL),
            Reading("gas temperature", state["temperature"], TEMPERATURE),
        ]

    def summary(self, state: State) -> str:
        h = state["history"]
        limit = GAUGE.text(h["limit"])
        start = f"After {TIME.text(state['moment'])} the gallery stands at {GAUGE.text(state['gallery'])}, "
        start += f"{OIL.text(state['oil'])} are left. "
        if h["ending"] == LASTS:
            return f"{start}The pressure stays above {limit} for {LONGEST:.0f} s."
        if h["ending"] == EMPTY:
            return (
                f"{start}The vessel is empty after {TIME.text(h['empty'])} and the pressure drops away: the engine was "
                f"protected for {TIME.text(h['protected'])}."
            )
        left = float(np.interp(h["protected"], MOMENTS, h["oil"]))
        return (
            f"{start}After {TIME.text(h['protected'])} the pressure has fallen below {limit}, with {OIL.text(left)} "
            "still inside: they come too late."
        )
