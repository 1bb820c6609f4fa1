"""Panel of lesson 06: the pump lets go."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
from matplotlib.figure import Figure

from oilkit.panels.framework import drawing
from oilkit.panels.framework.amounts import clearance_change, length, moment, speed
from oilkit.panels.framework.bound import Bound, Graph, Parts, Reading, Setting, State, in_si, us
from oilkit.panels.framework.choices import engine_choice
from oilkit.panels.framework.controls import Control
from oilkit.panels.framework.moving import MovingPanel
from oilkit.panels.framework.steps import Step, between
from oilkit.panels.framework.vessel_view import room_of
from oilkit.panels.lessons.lesson_06_car import LONGEST, START, built, charge, finite, line_of, sump
from oilkit.physics.catalog import bench_vessel, hoses
from oilkit.physics.discharging import EMPTY, LASTS, STILL_BELOW, discharge
from oilkit.physics.engine import rods_need
from oilkit.physics.oil import density_of
from oilkit.physics.vessel import gas_time_constant
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
FOLLOWED = ("gallery_pressure", "gas_pressure", "oil", "line_flow", "engine_flow", "gas_temperature")
"""What the panel shows of the present moment."""
TOP = us(GAUGE, 70.0)


class PumpLetsGo(MovingPanel):
    """The pump loses its oil; the vessel feeds the engine, in real time."""

    call = "pump_lets_go"
    title = "The pump lets go"
    alt = (
        "The vessel cut open with oil and piston, gauges at vessel and gallery, and gallery pressure against time "
        "with the engine's limit, the end of the protected time and the moment when the vessel is empty."
    )
    redraw_on = ("went.span", "limit")
    steps = (
        Step(
            "Press Play. Watch piston and gauges: when does the pressure fall fast, when slowly?",
            between("time", 10, 60, "s"),
        ),
        Step(
            "Choose a quarter beside Play, drag the time to 0, and play the first second.",
            between("time", 0.5, 1.5, "s"),
        ),
        Step(
            "Raise the pre-charge to 20 psi (1.4 bar). Which comes first: empty vessel, or limit?",
            between("precharge", 19.7, 20.3, "psig"),
        ),
        Step("Raise it to 35 psi (2.4 bar). Which comes first now?", between("precharge", 34.7, 35.3, "psig")),
    )

    def make_controls(self) -> list[Control]:
        return [
            moment("Time since the pump let go", LONGEST, 0.02),
            charge(10),
            clearance_change("clearance"),
            sump(),
            length("Length of the line", 1, 25, 6),
            speed(500, 8000, 3000),
            engine_choice(),
        ]

    def solve(self, at: Setting) -> State:
        run = at.precharge, at.clearance, at.sump, at.length, at.speed, at.engine
        went = self.kept(run, lambda: self._followed(at))  # scrubbing and playing change the moment, not the run
        now = min(at.time, went.span)
        then = {name: float(np.interp(now, MOMENTS, getattr(went.history, name))) for name in FOLLOWED}
        room, _, stroke = room_of(bench_vessel())
        kelvin, bore = float(went.history.gas_temperature[0]), bench_vessel().si.bore
        car = built(at.engine, line_of(hoses()["trade_12"], at.length))
        return {
            **then,
            "tau": float(gas_time_constant.si(room, bore, at.precharge, kelvin, room - then["oil"])),
            "went": went,
            "moment": now,
            "limit": at.engine.si.warning,
            "rods": float(rods_need(car.engine.si, density_of(car.oil.si, at.sump), at.speed)),
            "stroke": stroke,
            "fraction": then["oil"] / room,
            "gallery_dial": max(then["gallery_pressure"], 0.0),
        }

    def _followed(self, at: Setting) -> SimpleNamespace:
        went = in_si(
            discharge(
                built(at.engine, line_of(hoses()["trade_12"], at.length)),
                duration=TIME.quantity(LONGEST),
                samples=TIME.quantity(MOMENTS),
                precharge=GAUGE.quantity(at.precharge),
                pressure=GAUGE.quantity(START),
                clearance_change=CLEARANCE_CHANGE.quantity(at.clearance),
                sump_temperature=TEMPERATURE.quantity(at.sump),
                speed=SPEED.quantity(at.speed),
                limit=at.engine.warning,
            )
        )
        reaches = went.protected_time if math.isfinite(went.protected_time) else LONGEST
        went.span = next((s for s in (2.0, 5.0, 10.0, 20.0, 40.0) if s >= 1.15 * reaches), LONGEST)
        went.seen = 1.02 * went.span >= MOMENTS
        went.empty_seen = went.empty_after if went.empty_after < went.span else math.nan
        went.gas_then = np.interp(went.empty_after, MOMENTS, went.history.gas_pressure)
        return went

    def duration(self) -> float:
        return float(self.state["went"].span)

    def build(self, figure: Figure) -> Parts:
        cut = figure.add_axes((0.0, 0.47, 0.48, 0.51))
        cutaway = drawing.Cutaway(cut, float(DISTANCE.display(self.state["stroke"])), DISTANCE.label())
        gas = drawing.Dial(figure.add_axes((0.02, 0.0, 0.2, 0.46)), "at the vessel (gas)", GAUGE, TOP)
        gallery = drawing.Dial(figure.add_axes((0.26, 0.0, 0.2, 0.46)), "at the gallery", GAUGE, TOP)
        dials = Bound(gas, "gas_pressure"), Bound(gallery, "gallery_dial")
        return [Bound(cutaway, "fraction"), *dials, self._graph(figure)]

    def _graph(self, figure: Figure) -> Graph:
        graph = Graph(
            figure, (0.555, 0.15, 0.43, 0.75), "Protected until the gallery falls below the limit",
            ("time since the pump let go", TIME, 0.0, self.state["went"].span), ("gallery pressure", GAUGE, 0.0, TOP),
        )  # fmt: skip
        ax, limit = graph.ax, float(GAUGE.display(self.state["limit"]))
        ax.axhspan(0.0, limit, fc=drawing.YELLOW, alpha=0.4, hatch="xx", ec=drawing.GREY, label="below the limit")
        times, gas, gallery = (
            lambda s, name=name: getattr(s["went"].history, name)[s["went"].seen]
            for name in ("time", "gas_pressure", "gallery_pressure")
        )
        behind = {"color": drawing.GREEN, "ls": "--", "lw": 1.6, "label": "gas in the vessel"}
        graph.line(times, gas, **behind)
        graph.line(times, gallery, color=drawing.BLUE, label="gallery")
        ending = {"color": drawing.RED, "marker": "v", "ms": 9, "markevery": [0], "label": "protected to here"}
        graph.line("went.protected_time", [TOP * 0.95, 0.0], **ending)
        empty = {"ms": 9, "color": drawing.PURPLE, "mec": drawing.BLACK, "label": "vessel empty"}
        graph.line("went.empty_seen", "went.gas_then", "s", **empty)
        graph.point("moment", "gallery_dial", ms=10, label="now")
        drawing.legend_above(ax, 2)
        return graph

    def readings(self, state: State) -> list[Reading]:
        went = state["went"]
        return [
            finite("protected time", went.protected_time, TIME),
            Reading("it ends with", went.ending),
            finite("vessel empty after", went.empty_after, TIME),
            Reading("oil used by then", went.oil_used, OIL),
            Reading("now: time", state["moment"], TIME),
            Reading("gallery pressure", state["gallery_pressure"], GAUGE),
            Reading("gas pressure", state["gas_pressure"], GAUGE),
            Reading("flow out of the vessel", state["line_flow"], THROUGH_FLOW),
            Reading("flow into the engine", state["engine_flow"], THROUGH_FLOW),
            Reading("oil left in the vessel", state["oil"], OIL),
            Reading("gas temperature", state["gas_temperature"], TEMPERATURE),
            Reading("time constant of the gas, as full as it is", state["tau"], TIME_CONSTANT),
        ]

    def summary(self, state: State) -> str:
        rods = GAUGE.text(state["rods"])
        short = f" But at this speed the rods get no oil below {rods}." if state["rods"] > state["limit"] else ""
        return f"{self._told(state)}{short}"

    def _told(self, state: State) -> str:
        went, limit = state["went"], GAUGE.text(state["limit"])
        start = f"After {TIME.text(state['moment'])} the gallery stands at {GAUGE.text(state['gallery_pressure'])}, "
        start += f"{OIL.text(state['oil'])} are left. "
        if went.ending == LASTS:
            return f"{start}The pressure stays above {limit} for {LONGEST:.0f} s."
        if went.ending == STILL_BELOW:
            return f"{start}At the end of {LONGEST:.0f} s the pressure has just fallen below {limit}."
        if went.ending == EMPTY:
            return (
                f"{start}The vessel is empty after {TIME.text(went.empty_after)} and the pressure drops away: the "
                f"engine was protected for {TIME.text(went.protected_time)}."
            )
        left = float(np.interp(went.protected_time, MOMENTS, went.history.oil))
        return (
            f"{start}After {TIME.text(went.protected_time)} the pressure has fallen below {limit}, with "
            f"{OIL.text(left)} still inside: they come too late."
        )
