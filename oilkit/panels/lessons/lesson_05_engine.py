"""Panel of lesson 05: what a whole engine takes from its pump, and what the relief valve lets go."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
from matplotlib.figure import Figure

from oilkit.panels.framework import drawing
from oilkit.panels.framework.amounts import clearance_change, speed, warmth
from oilkit.panels.framework.base import Panel
from oilkit.panels.framework.bound import Graph, Parts, Reading, Setting, State, in_si
from oilkit.panels.framework.choices import engine_choice, oil_choice
from oilkit.panels.framework.controls import Choice, Control
from oilkit.panels.framework.steps import Step, between
from oilkit.physics.engine import NO_PRESSURE, Engine, operating_point
from oilkit.physics.oil import Lubricant
from oilkit.physics.precharge import rule_of_thumb_pressure
from oilkit.quantities.kinds import CLEARANCE_CHANGE, GAUGE, SPEED, TEMPERATURE, THROUGH_FLOW

WEAR = {"as rated": 1.0, "worn": 0.85, "badly worn": 0.7}
"""Share of its rated efficiency that a pump has left (chosen, no source)."""
SPEEDS = 31
"""Points of a curve from idle to red line."""


class DemandLedger(Panel):
    """A whole engine from idle to red line: who takes how much oil, beside what the pump gives."""

    call = "demand_ledger"
    title = "What takes how much: the engine's oil ledger"
    alt = (
        "Left: oil taken against speed, stacked by kind, under the pump's flow. Right: gallery pressure against speed."
    )
    redraw_on = ("engine",)
    steps = (
        Step(
            "Find the lowest speed at which the relief valve is open.",
            lambda s: s["opening"] <= s["speed"] <= 1.05 * s["opening"],
        ),
        Step("Go on to 6000 rpm. What happens to the pressure?", between("speed", 5950, 6050, "rpm")),
        Step(
            "Open the clearances by 1 thou (0.025 mm). Which band grows most, and where does the valve open now?",
            between("clearance_change", 0.95, 1.05, "thou"),
        ),
        Step("Cool the sump to 40 °C (104 °F). What happens to the bands?", between("sump", 39, 41, "degC")),
        Step("Take the speed down to 0. What does the table say then?", between("speed", 0, 0, "rpm")),
        Step(
            "Press Start values. Choose a badly worn pump: hot at idle, cold at idle, hot at 6000 rpm. "
            "Where does the relief valve hide the wear?",
            lambda s: s["worn"] == "badly worn" and s["sump"] > 360.0 and s["speed"] > 99.0,
        ),
    )

    def make_controls(self) -> list[Control]:
        engine = engine_choice()
        self._fastest = max(listed.si.redline for _, listed in engine.options)
        return [
            engine,
            oil_choice(),
            warmth("sump", "Oil temperature in the sump", 20, 150, 100),
            clearance_change(),
            Choice("pump", "Pump", WEAR),
            speed(0, float(SPEED.display(self._fastest, "US")), 3000, step=50),
        ]

    def solve(self, at: Setting) -> State:
        pump = at.engine.pump
        engine = replace(at.engine, pump=replace(pump, efficiency=pump.efficiency * WEAR[at.pump]))
        run = (engine, at.oil, at.sump, at.clearance_change)
        curves = self.kept(run, lambda: _curves(*run))  # a new speed alone moves the point and leaves the curves
        change = np.array([at.clearance_change, 0.0])
        here = _balance(engine, at.oil, at.speed, at.sump, change)
        return {
            **curves,
            "worn": at.pump,
            "rule": rule_of_thumb_pressure.si(at.speed),
            "unchanged": float(here["gallery"][1]),
            **{key: (str if key == "state" else float)(series[0]) for key, series in here.items()},
        }

    def build(self, figure: Figure) -> Parts:
        e = self.state["engine"].si
        top = max(e.pump.relief_rated_pressure * 1.25, rule_of_thumb_pressure.si(self._fastest) * 1.02)
        flows, pressures = self._flows(figure), self._pressures(figure, top)
        redline = float(SPEED.display(e.redline))
        for graph in (flows, pressures):
            graph.ax.axvline(redline, color=drawing.RED, lw=1.0)
            drawing.legend_above(graph.ax, 2)
        aside: dict[str, Any] = {"rotation": 90, "ha": "right", "va": "top", "fontsize": 9}
        pressures.ax.text(redline, float(GAUGE.display(top)), "red line ", **aside)
        return [flows, pressures]

    def _flows(self, figure: Figure) -> Graph:
        e = self.state["engine"].si
        most = 1.05 * e.pump.displacement * e.pump.ratio * e.redline  # what it displaces there: no oil gives more
        flows = Graph(
            figure, (0.085, 0.15, 0.43, 0.75), "The pump gives, the engine takes, the valve lets go",
            ("engine speed", SPEED, 0.0, 1.02 * self._fastest), ("oil flow", THROUGH_FLOW, 0.0, most),
        )  # fmt: skip
        for low, high, label, colour, hatch in (
            (0.0, "jets_top", "jets, lifters", drawing.SKY, ""),
            ("jets_top", "pressed_top", "pressed", drawing.ORANGE, "//"),
            ("pressed_top", "dragged_top", "dragged", drawing.GREEN, "\\\\"),
        ):
            flows.area("speeds", low, high, fc=colour, ec=drawing.BLACK, lw=0.5, hatch=hatch, label=label)
        flows.line("speeds", "dragged_top", color=drawing.BLACK)
        flows.line("speeds", "pump_line", color=drawing.BLUE, ls="--", label="pump gives")
        flows.line("opening", [0.0, most], color=drawing.RED, ls=":", label="relief valve opens")
        flows.point("speed", "total", ms=10, label="engine takes")
        return flows

    def _pressures(self, figure: Figure, top: float) -> Graph:
        pressures = Graph(
            figure, (0.61, 0.15, 0.375, 0.75), "Gallery pressure",
            ("engine speed", SPEED, 0.0, 1.02 * self._fastest), ("gallery pressure", GAUGE, 0.0, top),
        )  # fmt: skip
        ends = np.array([0.0, self._fastest])
        rule = SPEED.display(ends), GAUGE.display(rule_of_thumb_pressure.si(ends))
        pressures.ax.plot(*rule, color=drawing.GREY, ls="-.", lw=1.6, label="the trade's rule")
        warning = float(GAUGE.display(self.state["engine"].si.warning))
        low: dict[str, Any] = {"fc": drawing.YELLOW, "alpha": 0.5, "hatch": "xx", "ec": drawing.GREY}
        pressures.ax.axhspan(0.0, warning, label="below warning", **low)
        pressures.line("speeds", "before_line", color=drawing.PURPLE, ls="--", label="old clearance")
        pressures.line("speeds", "gallery_line", color=drawing.BLUE, label="gallery")
        pressures.line("opening", [0.0, 1e7], color=drawing.RED, ls=":")
        pressures.point("speed", "gallery", ms=10)
        return pressures

    def readings(self, state: State) -> list[Reading]:
        none = state["state"] == NO_PRESSURE
        return [
            Reading("state", state["state"]),
            Reading("gallery pressure", *(("none",) if none else (state["gallery"], GAUGE))),
            Reading("with the clearance as it was", *(("none",) if none else (state["unchanged"], GAUGE))),
            Reading("by the trade's rule, 10 psi per 1000 rpm", state["rule"], GAUGE),
            Reading("pump gives", state["pump"], THROUGH_FLOW),
            Reading("relief valve lets go", state["relief"], THROUGH_FLOW),
            Reading("engine takes", state["total"], THROUGH_FLOW),
            Reading("of that: pressed through bearings", state["pressed"], THROUGH_FLOW),
            Reading("of that: dragged out by turning", state["dragged"], THROUGH_FLOW),
            Reading("of that: jets and lifters", state["jets"], THROUGH_FLOW),
        ]

    def summary(self, state: State) -> str:
        e, speed = state["engine"].si, SPEED.text(state["speed"])
        if state["state"] == NO_PRESSURE:
            return (
                f"At {speed} there is no oil pressure: the pump gives nothing. That is a state, not an error, and what "
                "oil the engine has then must come from somewhere else."
            )
        gallery = state["gallery"]
        level = (
            "That is below the damage limit: under load it wears out in seconds to minutes."
            if gallery < e.damage
            else "That is below the warning limit."
            if gallery < e.warning
            else "That is above the warning limit."
        )
        opening = state["opening"]
        if np.isnan(opening):
            valve = "The relief valve stays shut up to the red line"
        elif opening <= state["speeds"][0]:
            valve = "The relief valve is open from idle on"
        else:
            valve = (
                f"The relief valve opens at about {10 * round(float(SPEED.display(opening)) / 10):.0f} {SPEED.label()}"
            )
        outside = " (above its red line)" if state["speed"] > e.redline else ""
        outside = outside or (" (below its idle)" if state["speed"] < e.idle else "")
        return (
            f"At {speed}{outside} the gallery stands at {GAUGE.text(gallery)}: {state['state']}. {level} The engine "
            f"takes {THROUGH_FLOW.text(state['total'])} of the {THROUGH_FLOW.text(state['pump'])} that the pump gives. "
            f"{valve}."
        )


def _curves(engine: Engine, oil: Lubricant, sump: float, change: float) -> State:
    """From idle to red line: who takes how much, what the pump gives, and the gallery with its clearance before."""
    e = engine.si
    speeds = np.linspace(e.idle, e.redline, SPEEDS)
    found = _balance(engine, oil, speeds[None, :], sump, np.array([[change], [0.0]]))
    jets = found["jets"][0]
    return {
        "speeds": speeds,
        "jets_top": jets,
        "pressed_top": jets + found["pressed"][0],
        "dragged_top": jets + found["pressed"][0] + found["dragged"][0],
        "pump_line": found["pump"][0],
        "gallery_line": found["gallery"][0],
        "before_line": found["gallery"][1],
        "opening": _opening(speeds, found["pump_pressure"][0], e.pump.relief_opening),
    }


def _balance(engine: Engine, oil: Lubricant, speed: Any, sump: float, change: Any) -> State:
    """`operating_point` in SI numbers, by short names."""
    point = in_si(
        operating_point(
            engine, oil, SPEED.quantity(speed), TEMPERATURE.quantity(sump), CLEARANCE_CHANGE.quantity(change)
        )
    )
    series = {
        "gallery": point.gallery_pressure,
        "pump_pressure": point.pump_pressure,
        "pump": point.pump_flow,
        "relief": point.relief_flow,
        "total": point.demand.total,
        "pressed": point.demand.pressure_fed,
        "dragged": point.demand.rotation_driven,
        "jets": point.demand.jets,
    }
    shape = np.shape(point.gallery_pressure)
    return {key: np.broadcast_to(one, shape) for key, one in series.items()} | {"state": point.state}


def _opening(speed: Any, pressure: Any, opening: float) -> float:
    """Speed at which the pump's pressure passes the relief valve's opening, between two points of its curve; or NaN."""
    over = np.flatnonzero(pressure > opening)
    if not over.size:
        return math.nan
    k = int(over[0])
    return float(speed[0]) if k == 0 else float(np.interp(opening, pressure[k - 1 : k + 1], speed[k - 1 : k + 1]))
