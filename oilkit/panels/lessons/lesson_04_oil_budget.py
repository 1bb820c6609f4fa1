"""Panel of lesson 04: where every quart is, and how high the pan stands."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch
from matplotlib.path import Path

from oilkit.panels.framework import drawing
from oilkit.panels.framework.amounts import length, oil, pressure
from oilkit.panels.framework.base import Panel
from oilkit.panels.framework.bound import Graph, Parts, Reading, Setting, State
from oilkit.panels.framework.choices import engine_choice, hose_choice, vessel_choice
from oilkit.panels.framework.controls import Choice, Control
from oilkit.panels.framework.steps import Step, is_chosen
from oilkit.physics.catalog import lubricants
from oilkit.physics.engine import Engine, operating_point
from oilkit.physics.line import line_volume
from oilkit.physics.oil import Lubricant
from oilkit.physics.pan import (
    FILLING,
    PLACES,
    RUNNING,
    STATES,
    STOPPED_EMPTY,
    VALVE_OPEN,
    VALVE_SHUT,
    level_in_words,
    oil_budget,
    oil_in_flight,
    pan_level,
    pan_volume,
)
from oilkit.physics.vessel import oil_stored
from oilkit.quantities.kind import Kind
from oilkit.quantities.kinds import DISTANCE, OIL
from oilkit.quantities.units import Q, Qty

MORE_OR_LESS = Kind("an amount of oil, more or less", "m**3", "qt", 2, "L", 2, "Q(0.5, 'qt')")
LOOKS = {
    "pan": (drawing.OIL, "//"),
    "line": (drawing.RED, ""),
    "vessel": (drawing.SKY, ""),
    "filter": (drawing.GREY, ""),
    "cooler": (drawing.PURPLE, "xx"),
    "galleries": (drawing.GREEN, "\\\\"),
    "in flight": (drawing.YELLOW, "||"),
}
"""Colour and hatch of each place that oil can be in."""
HOT_SUMP = Q(100, "degC")


def _boxes(left: Any, right: Any) -> Path:
    """A box in each row of the bars from its left to its right end, all in one outline: one draw for all of them."""
    corners = []
    for row, (start, end) in enumerate(zip(left, right, strict=True)):
        if end > start:
            low, high = row - 0.3, row + 0.3
            corners += [(start, low), (end, low), (end, high), (start, high), (start, low)]
    codes = [Path.MOVETO, Path.LINETO, Path.LINETO, Path.LINETO, Path.CLOSEPOLY] * (len(corners) // 5)
    return Path(np.array(corners).reshape(-1, 2), codes)


class OilBudgetPanel(Panel):
    """Where every quart is in each state of engine and vessel, and how high the pan stands."""

    call = "oil_budget"
    title = "Where every quart is"
    alt = (
        "The pan cut open with its oil, pick-up, full mark and windage height; beside it a bar for each of five states "
        "that shows where all the oil is."
    )
    steps = (
        Step(
            "Go through the five states, from top to bottom. In which is the pan highest, in which lowest?",
            is_chosen("state", VALVE_OPEN),
        ),
        Step(
            "Choose running at speed, and pour in less and less. When is no oil left above the pick-up?",
            lambda s: s["state"] == RUNNING and s["drawable"] <= 0.0,
        ),
    )

    def make_controls(self) -> list[Control]:
        self._oil: Lubricant = lubricants()["street"]
        self._flights: dict[str, tuple[Qty, Qty]] = {}
        return [
            Choice("state", "Engine and vessel are", STATES, listed=True),
            engine_choice(first=True, label="Engine, with its pan"),
            vessel_choice(),
            pressure("precharge", "Pre-charge", 0, 30, 10),
            pressure("pressure", "Running pressure", 30, 100, 60),
            hose_choice("mil_h_8794_12", first=True),
            length("Length of the hose", 0, 30, 10),
            oil("poured", "Poured in: more (+) or less (−) than right", -4, 4, 0, kind=MORE_OR_LESS),
        ]

    def _in_flight(self, engine: Engine) -> tuple[Qty, Qty]:
        """Oil on its way back to the pan at idle and at redline, both hot. Kept: only the engine changes it."""
        if engine.name not in self._flights:
            idle, fast = (
                oil_in_flight(operating_point(engine, self._oil, speed, HOT_SUMP).demand.total, engine.drain_time)
                for speed in (engine.idle, engine.redline)
            )
            self._flights[engine.name] = idle, fast
        return self._flights[engine.name]

    def solve(self, at: Setting) -> State:
        pan = at.engine.si.pan
        shape = (pan.sump_area, pan.sump_depth, pan.upper_area)
        held = float(oil_stored.si(at.vessel.si.gas_volume, at.precharge, at.pressure, resting=True))
        line = float(line_volume.si(at.hose.si.bore, at.length))
        idle, fast = self._in_flight(at.engine)
        budget = oil_budget(
            pan_at_full_mark=OIL.quantity(pan_volume.si(pan.full_height, *shape)),
            vessel=OIL.quantity(held),
            line=OIL.quantity(line),
            filter_volume=at.engine.filter.volume,
            cooler=at.engine.cooler.volume if at.engine.cooler else OIL.quantity(0.0),
            galleries=at.engine.gallery_volume,
            in_flight=fast,
            vessel_while_filling=OIL.quantity(held / 2.0),
            in_flight_at_idle=idle,
        )
        everywhere = {
            name: {place: OIL.from_display(oil.m, "US") for place, oil in where.items()}
            for name, where in budget.states.items()
        }
        for where in everywhere.values():
            where["pan"] += at.poured
        now = everywhere[at.state]
        in_pan = max(now["pan"], 0.0)
        level = float(pan_level.si(in_pan, *shape))
        return {
            "held": held,
            "line": line,
            "add": OIL.from_display(budget.oil_to_add.m, "US"),
            "total": sum(now.values()),
            "everywhere": everywhere,
            "now": now,
            "in_pan": in_pan,
            "level": level,
            "drawable": max(in_pan - float(pan_volume.si(pan.pickup_height, *shape)), 0.0),
            "says": level_in_words(DISTANCE.quantity(level), at.engine.pan),
        }

    def redraw_key(self, state: State) -> Any:
        """The engine, and the end of the bars' axis as shown: a multiple of 4."""
        return state["engine"].name, max(4 * math.ceil(float(OIL.display(state["total"])) / 4.0), 8)

    def build(self, figure: Figure) -> Parts:
        _, most = self.redraw_key(self.state)
        graph = Graph(
            figure, (0.6, 0.25, 0.385, 0.65), "Always the same oil, in other places",
            (f"oil ({OIL.label()})", None, -0.08 * most, most), (None, None, len(STATES) - 0.5, -0.5),
        )  # fmt: skip
        graph.rows([name.replace(", ", ",\n") for name in STATES], fontsize=9.5)
        bars = graph.ax
        bars.axvline(0.0, color=drawing.BLACK, lw=1.2)
        bars.spines["left"].set_visible(False)
        bars.tick_params(axis="y", length=0.0)
        pieces = []
        for place, (colour, hatch) in LOOKS.items():
            look: dict[str, Any] = {"fc": colour, "hatch": hatch, "ec": drawing.BLACK, "lw": 0.7, "label": place}
            pieces.append(PathPatch(_boxes([0.0], [1.0]), **look))
            bars.add_patch(pieces[-1])
        figure.legend(handles=pieces, loc="lower center", ncols=len(pieces), columnspacing=1.3)
        frame = drawing.box(bars, (0.0, 0.0), 1.0, 0.84, fc="none", ec=drawing.BLACK, lw=2.6, zorder=4)

        def move(state: State) -> None:
            everywhere = [[where[place] for place in PLACES] for where in state["everywhere"].values()]
            oil = OIL.display(np.array(everywhere))
            starts = np.minimum(oil[:, 0], 0.0)  # what is missing lies left of zero
            ends = starts[:, None] + np.cumsum(np.maximum(oil, 0.0), axis=1)
            for k, piece in enumerate(pieces):
                piece.set_path(_boxes(ends[:, k - 1] if k else starts, ends[:, k]))
                piece.set_visible(bool(np.any(oil[:, k] > 0.0)))
            row = STATES.index(state["state"])
            frame.set_xy((starts[row], row - 0.42))
            frame.set_width(ends[row, -1] - starts[row])

        return [self._build_pan(figure), graph.add([*pieces, frame], move)]

    def _build_pan(self, figure: Figure) -> Graph:
        """The pan cut open: heights to scale, widths in proportion to its areas."""
        pan = self.state["engine"].si.pan
        cut = Graph(
            figure, (0.085, 0.12, 0.31, 0.78), "The pan, cut open", (None, None, -0.02, 1.45),
            ("height above the sump's floor", DISTANCE, 0.0, 1.35 * pan.windage_height),
        )  # fmt: skip
        ax = cut.ax
        depth, pickup, full, windage = (
            float(DISTANCE.display(height))
            for height in (pan.sump_depth, pan.pickup_height, pan.full_height, pan.windage_height)
        )
        brim = ax.get_ylim()[1]
        ax.set_xticks([])
        ax.grid(False)
        ax.spines["bottom"].set_visible(False)
        right = 0.95
        left = right - min(pan.sump_area / pan.upper_area, 0.95)
        style: dict[str, Any] = {"fc": drawing.OIL, "ec": "none", "hatch": "//"}
        sump = drawing.box(ax, (left, 0.0), right - left, 0.0, **style)
        wide = drawing.box(ax, (0.0, depth), 1.0, 0.0, **style)
        walls = [0.0, 0.0, left, left, right, right, 1.0, 1.0], [brim, depth, depth, 0.0, 0.0, depth, depth, brim]
        (outline,) = ax.plot(*walls, color=drawing.BLACK, lw=2.5, clip_on=False)
        middle = (left + right) / 2.0
        (tube,) = ax.plot([middle, middle], [pickup, 0.93 * brim], color=drawing.GREY, lw=5.0, solid_capstyle="butt")
        (mouth,) = ax.plot([middle - 0.09, middle + 0.09], [pickup, pickup], color=drawing.GREY, lw=5.0)
        marks = []
        for where, name, dashes in (
            (pickup, "pick-up", (0, (5, 2))),
            (full, "full mark", "-"),
            (windage, "windage\nheight", (0, (5, 2, 1, 2))),
        ):
            marks += ax.plot([0.0, 1.04], [where, where], color=drawing.BLACK, lw=1.4, ls=dashes)
            ax.text(1.06, where, name, va="center", fontsize=10)
        (pointer,) = ax.plot([], [], ">", ms=11, color=drawing.BLUE, clip_on=False)

        def move(state: State) -> None:
            level = min(float(DISTANCE.display(state["level"])), brim)
            sump.set_height(min(level, depth))
            wide.set_height(max(level - depth, 0.0))
            pointer.set_data([-0.01], [level])

        return cut.add([sump, wide, outline, tube, mouth, *marks, pointer], move)

    def readings(self, state: State) -> list[Reading]:
        now = state["now"]
        return [
            Reading("oil to add for vessel and line", state["add"], OIL),
            Reading("all the oil in the engine", state["total"], OIL),
            Reading("in the pan", state["in_pan"], OIL),
            Reading("in the line", now["line"], OIL),
            Reading("in the vessel", now["vessel"], OIL),
            Reading("in filter, cooler and galleries", now["filter"] + now["cooler"] + now["galleries"], OIL),
            Reading("in flight, on its way back to the pan", now["in flight"], OIL),
            Reading("level in the pan", state["level"], DISTANCE),
            Reading("in the pan above the pick-up", state["drawable"], OIL),
            Reading("the level is", state["says"].partition(":")[0]),
        ]

    def summary(self, state: State) -> str:
        now, held = state["now"], OIL.text(state["held"])
        where = {
            STOPPED_EMPTY: "Never run, vessel, line, filter and galleries are empty: all the oil is in the pan.",
            FILLING: "The vessel is half full here, and takes the rest from the pan.",
            RUNNING: f"At redline {OIL.text(now['in flight'])} is on its way back to the pan.",
            VALVE_SHUT: f"The shut valve keeps {held} in the vessel; this is how the oil is measured.",
            VALVE_OPEN: f"Through the open valve all of the vessel's {held} has come back to the pan.",
        }[state["state"]]
        add = f"Add {OIL.text(state['add'])}: {held} for the vessel and {OIL.text(state['line'])} for the line."
        if now["pan"] < 0.0:
            missing = OIL.text(-now["pan"])
            return f"{add} {where} The pan is empty and {missing} is missing: the bar starts so far left of zero."
        return f"{add} {where} The level is {state['says']}."
