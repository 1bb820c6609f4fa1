"""Panel of lesson 06: the first dip under the microscope."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.figure import Figure

from oilkit.panels.framework import drawing
from oilkit.panels.framework.amounts import amount, length, warmth
from oilkit.panels.framework.base import Panel
from oilkit.panels.framework.bound import Graph, Parts, Reading, Setting, State, in_si, us
from oilkit.panels.framework.choices import engine_choice, hose_choice
from oilkit.panels.framework.controls import Control
from oilkit.panels.framework.steps import Step, between, both
from oilkit.panels.lessons.lesson_06_car import START, built, line_of
from oilkit.physics.dip import NO_DIP, NOT_VALID, ROUGH, first_dip
from oilkit.physics.discharging import CONDITIONS
from oilkit.quantities.kind import Kind
from oilkit.quantities.kinds import GAUGE, PRESSURE_DIFFERENCE, TEMPERATURE, THROUGH_FLOW, TIME, one_to_si

MILLISECONDS = Kind("a time", "s", "ms", 1, "ms", 1, "Q(20, 'ms')", low=0.0)
AIR = Kind("a share of air", "percent", "percent", 1, "percent", 1, "Q(5, 'percent')", low=0.0, high=100.0)
TOLERANCE = one_to_si("tolerance", CONDITIONS["tolerance"][1], TIME)
SHOWN = 0.1
"""Seconds on the axes."""


class DipMicroscope(Panel):
    """The first tenth of a second: the pump goes, and the oil in the line has yet to get going."""

    call = "dip_microscope"
    title = "The dip under the microscope: the first 100 milliseconds"
    alt = (
        "Left: gallery pressure against time in milliseconds, with and without the weight of the line's oil, and the "
        "deepest point. Right: flow of the pump, out of the vessel and into the engine."
    )
    redraw_on = ("limit",)
    steps = (
        Step("Let the pump fade within 0 ms. How deep is the dip?", between("decay", 0, 1, "ms")),
        Step("Let it fade within 100 ms. How deep is it now?", between("decay", 95, 105, "ms")),
        Step("Make the line 15 ft (4.6 m) long. How long does the dip last?", between("length", 14.8, 15.2, "ft")),
        Step(
            "Let the pump stop within 0 ms again, and reduce the air in the gallery to 0.5 %. "
            "What does the last row say now?",
            both(between("decay", 0, 1, "ms"), between("air", 0.2, 0.6)),
        ),
    )

    def make_controls(self) -> list[Control]:
        return [
            amount("decay", "The pump's flow fades within", MILLISECONDS, "ms", 0, 200, 20, 5),
            length("Length of the line", 1, 25, 6),
            amount("air", "Air in the gallery's oil", AIR, "percent", 0.2, 20, 5, 0.2),
            warmth("line_temperature", "Temperature of the line's oil", 0, 100, 60),
            hose_choice("trade_12"),
            engine_choice(),
        ]

    def solve(self, at: Setting) -> State:
        dip = in_si(
            first_dip(
                built(at.engine, line_of(at.hose, at.length)),
                pressure=GAUGE.quantity(START),
                pump_decay=TIME.quantity(at.decay),
                air_in_gallery=AIR.quantity(at.air),
                line_temperature=TEMPERATURE.quantity(at.line_temperature),
                limit=at.engine.warning,
            )
        )
        foot = float(np.interp(dip.deepest_at, dip.history.time, dip.history.gallery_pressure))
        return {
            "dip": dip,
            "limit": at.engine.si.warning,
            "fade": np.array([0.0, max(at.decay, 5e-5), 1.0]),
            "pump": np.array([dip.history.engine_flow[0], 0.0, 0.0]),
            "reaches": np.array([foot, foot + dip.depth]),
        }

    def build(self, figure: Figure) -> Parts:
        low, top = us(GAUGE, -15.0), us(GAUGE, 70.0)
        curve = Graph(
            figure, (0.085, 0.15, 0.475, 0.75), "The pressure dips until the line's oil has got going",
            ("time since the pump began to fade", MILLISECONDS, 0.0, SHOWN), ("gallery pressure", GAUGE, low, top),
        )  # fmt: skip
        limit, bottom = (float(GAUGE.display(end)) for end in (self.state["limit"], low))
        below: dict[str, Any] = {"fc": drawing.YELLOW, "alpha": 0.4, "hatch": "xx", "ec": drawing.GREY}
        curve.ax.axhspan(0.0, limit, label="below the limit", **below)
        off: dict[str, Any] = {"fc": drawing.PALE, "hatch": "//", "ec": drawing.GREY}
        curve.ax.axhspan(bottom, 0.0, label="below air: not valid", **off)
        ideal = {"color": drawing.GREEN, "ls": "--", "label": "weightless oil"}
        curve.line("dip.history.time", "dip.weightless.gallery_pressure", **ideal)
        curve.line("dip.history.time", "dip.history.gallery_pressure", color=drawing.BLUE, label="gallery")
        deep = {"color": drawing.RED, "marker": "_", "ms": 12, "mew": 2.4, "label": "depth of the dip"}
        curve.line("dip.deepest_at", "reaches", **deep)
        flows = Graph(
            figure, (0.67, 0.15, 0.315, 0.75), "Who feeds the engine",
            ("time", MILLISECONDS, 0.0, SHOWN), ("flow", THROUGH_FLOW, 0.0, us(THROUGH_FLOW, 12.0)),
        )  # fmt: skip
        flows.line("fade", "pump", color=drawing.OCHRE, ls="-.", label="share of the pump")
        flows.line("dip.history.time", "dip.history.line_flow", color=drawing.BLUE, label="out of the vessel")
        into = {"color": drawing.BLACK, "ls": ":", "label": "into the engine"}
        flows.line("dip.history.time", "dip.history.engine_flow", **into)
        drawing.legend_above(curve.ax, 2)
        drawing.legend_above(flows.ax, 1)
        return [curve, flows]

    def readings(self, state: State) -> list[Reading]:
        dip = state["dip"]
        return [
            Reading("depth of the dip", dip.depth, PRESSURE_DIFFERENCE),
            Reading("lowest gallery pressure in it", dip.lowest_pressure, GAUGE),
            Reading("deepest after", dip.deepest_at, MILLISECONDS),
            Reading("lasts (more than half its depth)", dip.duration, MILLISECONDS),
            Reading("below the limit, within half a second", dip.time_below, MILLISECONDS),
            Reading("a wave needs, through the line and back", dip.round_trip, MILLISECONDS),
            Reading("the model here", dip.validity),
        ]

    def summary(self, state: State) -> str:
        dip, depth = state["dip"], PRESSURE_DIFFERENCE.text(state["dip"].depth)
        story = (
            f"The dip is {depth} deep: hardly to be seen."
            if dip.depth < GAUGE.from_display(1.0, "US") - GAUGE.from_display(0.0, "US")
            else f"The line's oil comes late, and the gallery dips by {depth} for {MILLISECONDS.text(dip.duration)}."
        )
        doubt = {
            NOT_VALID: (
                "Do not believe these numbers: water hammer or cavitation, which the model leaves out, decide here."
            ),
            NO_DIP: "The oil in the line makes no difference here: it stands still, or starts as fast as it is wanted.",
            ROUGH: "Take it as a rough figure: it is deepest within a few passes of a pressure wave through the line.",
        }.get(
            dip.validity, "It is slow against a pressure wave in the line, so oil that moves as one piece describes it."
        )
        apart = (
            "It stays below the limit for longer than 50 ms: that is no dip any more, and it ends the protected time."
            if dip.time_below > TOLERANCE
            else "With the seconds of protected time all this has nothing to do."
        )
        return f"{story} {doubt} {apart}"
