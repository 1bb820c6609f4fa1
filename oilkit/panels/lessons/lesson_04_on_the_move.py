"""Panel of lesson 04: what the weight of a line's oil does while the car moves."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from oilkit.panels.framework import drawing
from oilkit.panels.framework.amounts import amount, drop, length, pressure
from oilkit.panels.framework.base import Panel
from oilkit.panels.framework.bound import Bound, Graph, Parts, Reading, Setting, State, us
from oilkit.panels.framework.choices import hose_choice
from oilkit.panels.framework.controls import Choice, Control
from oilkit.panels.framework.steps import Step, between, is_chosen
from oilkit.physics.line import acceleration_head, column_time, velocity_in
from oilkit.quantities.kind import Kind
from oilkit.quantities.kinds import ACCELERATION, GAUGE, LINE_LENGTH, PRESSURE_DIFFERENCE, THROUGH_FLOW, VELOCITY

MILLISECONDS = Kind("a time", "s", "ms", 0, "ms", 0, "Q(20, 'ms')", low=0.0)
PLACED = {
    "behind the engine": (-1, 0),
    "ahead of the engine": (1, 0),
    "left of the engine": (0, 1),
    "right of the engine": (0, -1),
}
"""Where the vessel stands, seen from the engine: first forwards, then to the left."""
MANOEUVRES = {
    "launches": (1, 0),
    "brakes": (-1, 0),
    "goes round a left-hand corner": (0, 1),
    "goes round a right-hand corner": (0, -1),
}
"""Which way the car's velocity changes."""
MARKERS = {(1, 0): ">", (-1, 0): "<", (0, 1): "^", (0, -1): "v"}
HARDEST = float(ACCELERATION.from_display(5.0))
WANTED_FLOW = us(THROUGH_FLOW, 8.0)
IN_THE_LINE = 850.0
"""Density of the oil in this panel's line, kg/m3: engine oil at about 40 °C."""
LONGEST_START = 10.0
"""End of the panel's scale of starting times, in seconds."""


class LineOnTheMove(Panel):
    """The head of a line that lies along the car's acceleration, and the time its oil needs to get moving."""

    call = "line_on_the_move"
    title = "A line in a moving car: its oil has weight"
    alt = (
        "The vessel beside the engine, seen from above, with the car's acceleration and the push on the oil; the "
        "pressure of the last oil against acceleration; and the time that the oil needs to get moving."
    )
    steps = (
        Step(
            "Let the car launch harder and harder. At how many g does the last oil no longer arrive?",
            lambda s: s["manoeuvre"] == (1, 0) and s["last"] <= 0.0,
        ),
        Step("Let the same car brake. What does the head do now?", is_chosen("manoeuvre", (-1, 0))),
        Step("Let it go round a corner. What does the head do?", is_chosen("manoeuvre", (0, 1), (0, -1))),
        Step(
            "Let it launch again, with the vessel at a place where this costs nothing. Where would you mount it?",
            lambda s: s["manoeuvre"] == (1, 0) and s["head"] > -1.0,
        ),
        Step(
            "Make the hose longer without moving the vessel. What changes, and what does not?",
            between("length", 10.4, 30, "ft"),
        ),
    )

    def make_controls(self) -> list[Control]:
        return [
            Choice("place", "The vessel stands", PLACED.items(), listed=True),
            Choice("manoeuvre", "The car", MANOEUVRES.items(), listed=True),
            amount("acceleration", "How hard", ACCELERATION, "g_0", 0, 5, 1, 0.05),
            length("Vessel from engine, straight", 0, 12, 8, name="distance", step=(0.25, 0.05)),
            pressure("precharge", "Pre-charge", 0, 30, 10),
            drop("above", "Vessel above the gallery by, standing", 0, 60, 20, (0.5, 0.05)),
            hose_choice("mil_h_8794_12", first=True),
            length("Length of the hose, with all its bends", 0.5, 30, 10),
        ]

    def solve(self, at: Setting) -> State:
        # 1 towards the vessel, -1 away from it, 0 across
        along = at.place[0] * at.manoeuvre[0] + at.place[1] * at.manoeuvre[1]
        axis = np.linspace(0.0, HARDEST, 2)
        head = float(acceleration_head.si(IN_THE_LINE, along * at.acceleration, at.distance))
        speed, drive = float(velocity_in.si(WANTED_FLOW, at.hose.si.bore)), at.above + head
        return {
            "head": head,
            "last": at.precharge + head,
            "drive": drive,
            "speed": speed,
            "time": float(column_time.si(at.length, speed, drive, IN_THE_LINE)) if drive > 0.0 else math.inf,
            "axis": axis,
            "lasts": at.precharge + acceleration_head.si(IN_THE_LINE, along * axis, at.distance),
        }

    def build(self, figure: Figure) -> Parts:
        graph = Graph(
            figure, (0.575, 0.48, 0.41, 0.42), "Pre-charge and head: what the last oil arrives at",
            ("acceleration", ACCELERATION, 0.0, HARDEST), ("pressure", GAUGE, us(GAUGE, -25.0), us(GAUGE, 65.0)),
        )  # fmt: skip
        graph.ax.axhline(0.0, color=drawing.BLACK, lw=1.0)
        standing = {"color": drawing.GREEN, "ls": ":", "label": "the same, standing: pre-charge"}
        last = graph.line("axis", "lasts", color=drawing.BLUE, label="last oil, at the engine", zorder=2.1)
        charge = graph.line("axis", "precharge", **standing)
        graph.point("acceleration", "last", ms=10, zorder=2.2)
        graph.ax.legend(handles=[last, charge], loc="upper left", borderaxespad=0.1)
        return [self._build_view(figure), graph, self._build_start(figure)]

    def _build_start(self, figure: Figure) -> Bound:
        ax = figure.add_axes((0.575, 0.2, 0.395, 0.09))
        ax.set_xscale("log")
        ax.set_xlim(1.0, 1000.0 * LONGEST_START)
        ax.set_ylim(0.0, 1.0)
        ax.set_yticks([])
        ax.set_xticks([1, 10, 100, 1000, 10_000], ["1 ms", "10 ms", "100 ms", "1 s", "10 s"])
        ax.minorticks_off()
        ax.set_xlabel(f"time from rest to {THROUGH_FLOW.text(WANTED_FLOW)}\n(crossed out: never)")
        bar = drawing.box(ax, (1.0, 0.1), 1.0, 0.8, fc=drawing.SKY, ec=drawing.BLACK, hatch="\\\\")
        crossed: dict[str, Any] = {"fc": "white", "ec": drawing.RED, "hatch": "xx"}
        never = drawing.box(ax, (1.0, 0.1), 1000.0 * LONGEST_START, 0.8, **crossed)

        def move(state: State) -> None:
            moves = math.isfinite(state["time"])
            bar.set_visible(moves)
            never.set_visible(not moves)
            bar.set_width(1000.0 * min(max(state["time"], 1e-3), LONGEST_START) - 1.0)

        return Bound().add([bar, never], move)

    def _build_view(self, figure: Figure) -> Bound:
        """Engine, vessel and line from above, in feet and to scale."""
        view = figure.add_axes((0.0, 0.0, 0.48, 1.0))
        _above(view)
        (hose,) = view.plot([], [], color=drawing.OCHRE, lw=5.0, solid_capstyle="butt")
        (gains,) = view.plot([], [], color=drawing.GREEN, lw=3.0, ms=13, markevery=[1])
        (push,) = view.plot([], [], color=drawing.RED, lw=3.0, ls=(0, (2, 1)), ms=13, markevery=[1])
        vessel = drawing.box(view, (0.0, 0.0), 2.0, 2.0, fc=drawing.GAS, ec=drawing.BLACK, hatch="..", zorder=3)
        engine = drawing.box(view, (-1.6, -1.2), 3.2, 2.4, fc=drawing.STEEL, ec=drawing.BLACK, zorder=3)
        wide, named = self.picture.for_class, drawing.Word(view, "engine", 0.85)
        named.show(0.0, 0.0)
        beside = drawing.Word(view, "vessel", 0.95)

        def move(state: State) -> None:
            feet = float(LINE_LENGTH.display(state["distance"], "US"))
            x, y = feet * state["place"][0], feet * state["place"][1]
            hose.set_data([0.0, x], [0.0, y])
            vessel.set_xy((x - 1.0, y - 1.0))
            sideways = state["place"][1] != 0
            beside.show(x + (3.2 if sideways else 0.0), y + (0.0 if sideways else 1.9))
            if wide:  # larger than the engine
                named.show(-3.6 if sideways else 0.0, 0.0 if sideways else -2.1)
            forwards, left = state["manoeuvre"]
            half = float(ACCELERATION.display(state["acceleration"]))
            for arrow, cx, (dx, dy) in ((gains, -9.4, (forwards, left)), (push, 9.4, (-forwards, -left))):
                arrow.set_data([cx - half * dx, cx + half * dx], [-6.4 - half * dy, -6.4 + half * dy])
                arrow.set_marker(MARKERS[dx, dy])
                arrow.set_visible(half > 0.0)

        return Bound().add([hose, gains, push, vessel, engine, *named.moving, *beside.moving], move)

    def readings(self, state: State) -> list[Reading]:
        from_rest = f"from rest to {THROUGH_FLOW.text(WANTED_FLOW)}"
        start = Reading(from_rest, state["time"], MILLISECONDS)
        if not math.isfinite(state["time"]):
            start = Reading(from_rest, "never: nothing pushes it towards the engine")
        return [
            Reading("head at the engine's end (− means it loses)", state["head"], PRESSURE_DIFFERENCE),
            Reading("last oil at the engine, standing (pre-charge)", state["precharge"], GAUGE),
            Reading("last oil at the engine, on the move", state["last"], GAUGE),
            Reading("left to move the oil", state["drive"], PRESSURE_DIFFERENCE),
            Reading(f"speed in the hose at {THROUGH_FLOW.text(WANTED_FLOW)}", state["speed"], VELOCITY),
            start,
        ]

    def summary(self, state: State) -> str:
        head, charge = state["head"], GAUGE.text(state["precharge"])
        if head == 0.0:
            across = state["acceleration"] > 0.0 and state["distance"] > 0.0
            why = "The line lies across the acceleration" if across else "Nothing accelerates along the line"
            return f"{why}, so there is no head: both ends of the line feel the same pressure."
        size = PRESSURE_DIFFERENCE.text(abs(head))
        if head > 0.0:
            return f"The oil is pushed towards the engine, whose end of the line gains {size} over the vessel's end."
        lost = f"The oil is pushed towards the vessel, and the engine's end of the line loses {size}"
        if state["last"] <= 0.0:
            return (
                f"{lost}: all of the {charge} pre-charge. As long as this lasts, the last oil does not arrive at all."
            )
        return f"{lost}. With a pre-charge of {charge} the last oil arrives at {GAUGE.text(state['last'])}."


def _above(view: Axes) -> None:
    """What stands still in the view from above."""
    drawing.bare(view, (-15.4, 15.4), (-13.2, 13.2))
    front: dict[str, Any] = {"arrowstyle": "-|>", "lw": 1.5, "color": drawing.GREY}
    view.annotate("", (14.8, 11.4), (6.0, 11.4), arrowprops=front)
    style: dict[str, Any] = {"ha": "center", "va": "center", "fontsize": 9.5}
    view.text(10.0, 12.4, "front of the car", color=drawing.GREY, **style)
    view.text(-6.6, 12.4, "seen from above, to scale", **style)
    bar, text = (5.0, "5 ft") if LINE_LENGTH.unit() == LINE_LENGTH.us else (1.0 / 0.3048, "1 m")
    view.plot([-8.8 - bar / 2, -8.8 + bar / 2], [11.2, 11.2], color=drawing.BLACK, lw=2.0, marker="|", ms=8)
    view.text(-8.8, 10.2, text, **style)
    view.text(-7.6, -12.6, "the car's acceleration", **style)
    view.text(8.6, -12.6, "the push on the oil", **style)
    view.plot([-13.5, 13.5], [0.0, 0.0], color=drawing.PALE, lw=1.0)
    view.plot([0.0, 0.0], [-12.5, 12.5], color=drawing.PALE, lw=1.0)
