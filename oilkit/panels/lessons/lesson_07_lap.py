"""Panel of lesson 07: a lap with and without the vessel."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import ipywidgets
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from oilkit.errors import InputError
from oilkit.laps.cornering import compare_laps, corners
from oilkit.laps.lap import Lap, simulate_lap
from oilkit.laps.logfile import Log, kit_lap
from oilkit.panels.framework import drawing
from oilkit.panels.framework.amounts import oil, pressure
from oilkit.panels.framework.axes import StillAxis
from oilkit.panels.framework.base import Panel
from oilkit.panels.framework.bound import Graph, Parts, Reading, Setting, State, in_si
from oilkit.panels.framework.choices import engine_choice, vessel_choice
from oilkit.panels.framework.controls import Control
from oilkit.panels.framework.steps import Step, between, both, is_called
from oilkit.panels.lessons.lesson_07_car import CHARGE, TOP, TRACK, Progress, built
from oilkit.panels.lessons.lesson_07_own_log import OwnLog
from oilkit.physics.discharging import Installation, usual_si
from oilkit.physics.engine import rods_need
from oilkit.physics.oil import density_of
from oilkit.quantities.kinds import GAUGE, OIL, PAN_CHANGE, THROUGH_FLOW, TIME


class LapPanel(Panel):
    """The same lap twice, valve shut and valve open, laid over each other by distance."""

    call = "lap"
    title = "A lap, valve shut and valve open"
    alt = "Gallery pressure, oil in the vessel and seconds below the limit against distance, valve shut and valve open."
    size = (6.5, 3.5)
    steps: tuple[Step, ...] = (
        Step(
            "Find the corner with the longest red gap. Lower the pan to −2 qt (−1.9 L): what does the vessel's oil do?",
            between("pan_change", -2, -1.95, "qt"),
        ),
        Step(
            "Choose the small vessel and the loose race V8. Which corner beats it first?",
            both(is_called("vessel", "small"), is_called("engine", "loose")),
        ),
    )

    def __init__(self, log: OwnLog | Log | None = None, **start: Any) -> None:
        """log: a panel with a log of your own, or a log; the kit's invented lap unless given."""
        self._given = log
        self.steps = self.steps if log is None else ()
        super().__init__(**start)
        if isinstance(log, OwnLog):
            log.tell_of_changes(self)

    def make_controls(self) -> list[Control]:
        self._log: Log = kit_lap() if self._given is None else self._source()
        self._axis = StillAxis(TIME, 4.0)
        return [
            pressure("precharge", CHARGE, 2, 40, 10),
            oil("pan_change", "Oil in the pan, from its full mark", -2, 0.5, -1.2, kind=PAN_CHANGE),
            pressure("limit", "Pressure that counts", 10, 40, 20),
            engine_choice(),
            vessel_choice(),
        ]

    def _source(self) -> Log:
        if isinstance(self._given, OwnLog):
            return self._given.open_for("log", "the log").data
        if self._given is None:
            return self._log
        if not isinstance(self._given, Log):
            raise InputError("log", f"a {type(self._given).__name__}", "a log, such as of kit_lap or read_log")
        return self._given

    def extra_controls(self) -> Sequence[ipywidgets.Widget]:
        self._bar = Progress("driving")
        return [self._bar]

    def solve(self, at: Setting) -> State:
        log = self._source()
        car = built(at.engine, at.vessel)
        given: dict[str, Any] = {
            "precharge": GAUGE.quantity(at.precharge),
            "pan_change": PAN_CHANGE.quantity(at.pan_change),
            "limit": GAUGE.quantity(at.limit),
        }
        with self._bar:
            shut = simulate_lap(car, log, False, progress=lambda done: self._bar(done / 2.0), **given)
            opened = simulate_lap(car, log, True, progress=lambda done: self._bar(0.5 + done / 2.0), **given)
        found = [in_si(corner) for corner in compare_laps(log, shut, opened)]
        return {
            "log": log,
            "shut": in_si(shut),
            "open": in_si(opened),
            "corners": found,
            "places": np.array([c.corner.at for c in found]),
            "below_shut": np.array([c.below_shut for c in found]),
            "below_open": np.array([c.below_open for c in found]),
            "room": at.vessel.si.gas_volume,
            "dry": _most_needed(car, opened, log.si["rpm"], at.limit),
        }

    def redraw_key(self, state: State) -> Any:
        """Log, vessel, and the upper end of the axis of seconds below the limit in one corner."""
        return id(state["log"]), state["room"], self._axis.end(np.max(state["below_shut"], initial=0.0))

    def build(self, figure: Figure) -> Parts:
        log, room = self.state["log"], self.state["room"]
        left, width = 0.09, 0.895
        end = float(log.distance.m_as("m")[-1])
        pressures = Graph(
            figure, (left, 0.58, width, 0.34), "The same lap by distance",
            (None, TRACK, 0.0, end), ("gallery", GAUGE, 0.0, TOP),
        )  # fmt: skip
        inside = Graph(figure, (left, 0.37, width, 0.15), "", (None, TRACK, 0.0, end), ("vessel", OIL, 0.0, room))
        below = Graph(
            figure, (left, 0.13, width, 0.16), "",
            ("distance", TRACK, 0.0, end), ("below\nlimit (s)", None, 0.0, self.redraw_key(self.state)[-1]),
        )  # fmt: skip
        for graph in (pressures, inside):
            graph.ax.tick_params(labelbottom=False)
        self._corners(pressures.ax, inside.ax, below.ax)
        pressures.line([0.0, end], "limit", color=drawing.BLACK, ls=":", lw=1.8, label="limit")
        shut = {"color": drawing.RED, "ls": "--", "lw": 1.8, "label": "valve shut,\nor no vessel"}
        pressures.line("shut.distance", "shut.gallery_pressure", **shut)
        pressures.line("open.distance", "open.gallery_pressure", color=drawing.BLUE, label="valve open")
        inside.line("open.distance", "open.oil", color=drawing.OCHRE, lw=2.6, label="oil in it")
        ring = drawing.RING | {"mec": drawing.RED, "ls": "none", "clip_on": False}
        below.line("places", "below_shut", "s", ms=9, label="valve shut", **ring)
        below.point("places", "below_open", ms=6, color=drawing.BLUE, ls="none", label="valve open")
        for graph in (pressures, inside, below):
            graph.ax.legend(**drawing.OUTSIDE)
        return [pressures, inside, below]

    def _corners(self, upper: Axes, *others: Axes) -> None:
        """Each corner shaded in all graphs, its number in the upper one."""
        log = self.state["log"]
        seconds, along = log.si["time"], log.distance.m_as("m")
        found = corners(log)
        ends = [TRACK.display(np.interp([c.start.m, c.end.m], seconds, along)) for c in found]
        for ax in (upper, *others):
            low, high = ax.get_ylim()
            spans = [(first, low, last - first, high - low) for first, last in ends]
            drawing.boxes(ax, spans, fc=drawing.PALE, ec="none", alpha=0.8)
        for corner, (first, last) in zip(found, ends, strict=True):
            height = float(GAUGE.display(0.9 * TOP))
            upper.text((first + last) / 2.0, height, corner.name.split()[0], ha="center", fontsize=10)

    def readings(self, state: State) -> list[Reading]:
        shut, opened, found = state["shut"], state["open"], state["corners"]
        rows = [
            Reading("below the limit, valve shut", shut.time_below, TIME),
            Reading("below the limit, valve open", opened.time_below, TIME),
            Reading("lowest pressure, valve shut", shut.lowest_pressure, GAUGE),
            Reading("lowest pressure, valve open", opened.lowest_pressure, GAUGE),
            Reading("least oil in the vessel", np.min(opened.oil), OIL),
            Reading("oil in it at the end", opened.oil_left, OIL),
            Reading("most flow that refilling takes", max(-np.min(opened.line_flow), 0.0), THROUGH_FLOW),
            Reading("least oil in the pan", np.min(opened.pan), OIL),
        ]
        if found:
            worst = max(found, key=lambda c: c.below_shut)
            late = sum(np.isinf(c.refill) for c in found)
            rows += [
                Reading("longest below it, valve shut, in", worst.corner.name),
                Reading("… seconds there, valve shut", worst.below_shut, TIME),
                Reading("… seconds there, valve open", worst.below_open, TIME),
                Reading("most oil given in one corner", max(c.oil_given for c in found), OIL),
                Reading("corners not refilled before the next", f"{late} of {len(found)}"),
            ]
        return rows

    def summary(self, state: State) -> str:
        shut, opened = state["shut"].time_below, state["open"].time_below
        limit = GAUGE.text(state["limit"])
        if shut <= 0.0:
            return (
                f"With this much oil in the pan the gallery stays above {limit} even without a "
                "vessel. Lower the level, and see in which corner it fails first."
            )
        rest = "never" if opened <= 0.0 else f"for {TIME.text(opened)}"
        dry = f" Where it is fastest the rods need {GAUGE.text(state['dry'])}: raise the limit." if state["dry"] else ""
        return (
            f"Without the vessel the gallery is below {limit} for {TIME.text(shut)} of the lap, with "
            f"it {rest}. Its oil comes "
            f"back out of the pan while it is filled again, and the engine's pressure waits for it.{dry}"
        )


def _most_needed(car: Installation, lap: Lap, speeds: Any, limit: float) -> float:
    """The most that the rods needed where the limit was held and they got nothing, Pa; else 0."""
    had, warm = lap.gallery_pressure.m_as("Pag"), usual_si()["sump_temperature"][0]
    need = rods_need(car.engine.si, density_of(car.oil.si, warm), speeds)
    return float(np.max(need, where=(had >= limit) & (had < need), initial=0.0))
