"""Panel of lesson 10: readings of the engine's own gauges, and what they say about it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

import numpy as np
from matplotlib.figure import Figure

from oilkit.build.as_typed import amount as amount_typed
from oilkit.build.calibration import OWN, WORDS, Calibration, calibrate
from oilkit.build.learned import drawn, what_readings_taught
from oilkit.build.measured import USUAL_GAUGES
from oilkit.build.since import since_read
from oilkit.build.spread import latin_hypercube
from oilkit.panels.framework import drawing
from oilkit.panels.framework.amounts import amount, pressure, warmth
from oilkit.panels.framework.axes import StillAxis
from oilkit.panels.framework.bound import Graph, Parts, Reading, Setting, State, us
from oilkit.panels.framework.controls import Control
from oilkit.panels.framework.first_look import FirstLook
from oilkit.panels.framework.steps import Step, between
from oilkit.panels.lessons.lesson_10_set_up_file import SetUpPanel
from oilkit.quantities.kinds import (
    ACCURACY_CLASS,
    CLEARANCE,
    GAUGE,
    PRESSURE_DIFFERENCE,
    SPEED,
    THROUGH_FLOW,
    TIME,
)

DRAWS, FIRST_DRAWS = 100, 20
SHARES = [0.025, 0.1, 0.5, 0.9, 0.975]
"""Of the draws below each number of a row."""
DEMAND_WITHIN = 0.08


class YourReadings(FirstLook, SetUpPanel):
    """Readings of an engine's own gauges: what was guessed, and what is known with them."""

    call = "your_readings"
    size = (6.5, 3.05)
    rarely = ("gauge_full_scale", "gauge_class", "idle_speed")
    title = "What your gauges say about your engine"
    alt = (
        "Three graphs, each with the guess above and what is known with the readings below: hot idle, with the reading "
        "and the pre-charge; clearance of the mains; protected time, with the event's length."
    )
    steps = (
        Step("Put hot idle to 0: not read. What happens to the three lower bars?", between("hot_idle", 0, 0, "psig")),
        Step(
            "Put it back, and add the reading at speed, then the demand. Which one narrows the protected time most?",
            lambda s: s["hot_idle"] > 0.0 and s["hot_at_speed"] > 0.0 and s["demand"] > 0.0,
        ),
        Step(
            "Type 60 psi (4.1 bar) for hot idle, as if it had been read cold. Whom does the panel accuse, would you?",
            between("hot_idle", 59, 61, "psig"),
        ),
    )
    paths: ClassVar[Mapping[str, str]] = {
        "hot_idle": "readings.hot_idle.pressure",
        "hot_at_speed": "readings.hot_at_speed.pressure",
        "cold_idle": "readings.cold_idle.pressure",
        "relief_seen": "readings.relief_seen.pressure",
        "demand": "readings.demand.flow",
        "gauge_class": "readings.gauge_class",
        "gauge_full_scale": "readings.gauge_full_scale",
        "idle_speed": "readings.hot_idle.speed",
        "hot_idle_oil": "readings.hot_idle.oil_temperature",
        "at_speed": "readings.hot_at_speed.speed",
        "at_speed_oil": "readings.hot_at_speed.oil_temperature",
        "cold_idle_oil": "readings.cold_idle.oil_temperature",
        "relief_speed": "readings.relief_seen.speed",
        "relief_oil": "readings.relief_seen.oil_temperature",
        "demand_at": "readings.demand.pressure",
        "demand_oil": "readings.demand.oil_temperature",
    }

    def __init__(self, set_up: Any = None, **start: Any) -> None:
        """set_up: one that was read, or the name of its file; the kit's own street V8 unless given."""
        self._ends = StillAxis(GAUGE, us(GAUGE, 40.0)), StillAxis(CLEARANCE, 1e-4), StillAxis(TIME, 2.0)
        super().__init__(set_up, **start)

    def make_controls(self) -> list[Control]:
        idle = float(SPEED.display(self._base.engine.si.idle, "US"))
        found: list[Control] = [
            pressure("gauge_full_scale", "Gauge at the gallery: full scale", 30, 300, 100, 5),
            pressure("hot_idle", "Hot idle (0: not read)", 0, 100, 15, (0.5, 0.05)),
            warmth("hot_idle_oil", "… hot idle: oil", 60, 150, 110, 1).shown_if(lambda at: at.hot_idle > 0),
            pressure("hot_at_speed", "Hot at a speed (0: not read)", 0, 100, 0, (0.5, 0.05)),
            amount("at_speed", "… at", SPEED, "rpm", 800, 6000, 1500, 50).shown_if(lambda at: at.hot_at_speed > 0),
            warmth("at_speed_oil", "… at a speed: oil", 60, 150, 110, 1).shown_if(lambda at: at.hot_at_speed > 0),
            amount("demand", "Demand, engine stopped (0: not measured)", THROUGH_FLOW, "gpm", 0, 8, 0, (0.05, 0.2)),
            pressure("demand_at", "… at a pressure of", 10, 80, 40).shown_if(lambda at: at.demand > 0),
            warmth("demand_oil", "… demand: oil", 20, 150, 110, 1).shown_if(lambda at: at.demand > 0),
            pressure("cold_idle", "Cold idle (0: not read)", 0, 100, 0, (0.5, 0.05)),
            warmth("cold_idle_oil", "… cold idle: oil", -30, 60, 20, 1).shown_if(lambda at: at.cold_idle > 0),
            pressure("relief_seen", "Relief valve open (0: not read)", 0, 100, 0, (0.5, 0.05)),
            amount("relief_speed", "… relief valve: at", SPEED, "rpm", 1000, 9000, 4800, 50).shown_if(
                lambda at: at.relief_seen > 0
            ),
            warmth("relief_oil", "… relief valve: oil", 0, 150, 100, 1).shown_if(lambda at: at.relief_seen > 0),
            amount("gauge_class", "Gauge at the gallery: class", ACCURACY_CLASS, "", 0.5, 4, 1.6, 0.1),
            amount("idle_speed", "Hot idle: at", SPEED, "rpm", 300, 2000, idle, 10),
        ]
        self._fit_to_file({control.name: control for control in found})
        return found

    def fit(self) -> None:
        for name in WORDS:
            self.controls[name].set_si(0.0)
        idle: Any = self.controls["idle_speed"]
        idle.fit_to(self._base.engine.si.idle)
        self._fit_to_file(self.controls)

    def _fit_to_file(self, controls: dict[str, Any]) -> None:
        """Put the controls of what the file has at its values; the others stay."""
        readings = self._base.readings
        if readings is None:
            return
        for name in WORDS:
            controls[name].set_si(0.0)
        for name, path in self.paths.items():
            _, *way = path.split(".")
            found: Any = readings.si
            for step in way:
                found = getattr(found, step) if found is not None else None
            if found is not None:
                controls[name].fit_to(float(found))

    def solve(self, at: Setting) -> State:
        build = self.changed({"readings": self._table(at)})
        found = calibrate(build)
        event = build.events[0]
        z = latin_hypercube(FIRST_DRAWS if self.hurried else DRAWS, seed=7)[: len(OWN)]
        guess = self.kept((self._base, self.hurried), lambda: drawn(found.guessed, event, z))  # no reading is in it
        rows = [guess, drawn(found.likely, event, z)]
        idle, change, protected = (
            np.quantile(part, SHARES, axis=1).T for part in map(np.stack, zip(*rows, strict=True))
        )
        return {
            "build": build,
            "found": found,
            "learned": what_readings_taught(found, event),
            "idle": idle,
            "clearance": change + build.engine.si.mains.diametral_clearance,
            "protected": protected,
            "seen": at.hot_idle if at.hot_idle > 0.0 else np.nan,
            "precharge": build.choice.si.precharge,
            "lasts": event.si.lasts,
        }

    def _table(self, at: Setting) -> dict[str, Any]:
        """The ``[readings]`` of a set-up file, as they stand in the controls; what these do not show stays."""
        typed = self._base.document.get("readings", {})
        table = {key: typed.get(key, usual) for key, usual in USUAL_GAUGES.items()}
        table |= {key: typed[key] for key in ("clearance_change", "oil") if key in typed}
        for key in "gauge_class", "gauge_full_scale":
            shown: Any = self.controls[key]
            table[key] = amount_typed(shown.quantity, shown.kind)
        for name in WORDS:
            if getattr(at, name) <= 0.0:
                continue
            usual = {"speed": amount_typed(self.controls["idle_speed"].quantity, SPEED)} if name == "cold_idle" else {}
            if name == "demand":
                within = THROUGH_FLOW.quantity(DEMAND_WITHIN * at.demand)
                usual = {"speed": "0 rpm", "within": amount_typed(within, THROUGH_FLOW)}
            table[name] = usual | typed.get(name, {})
            for control, path in self.paths.items():
                if path.startswith(f"readings.{name}."):
                    kept: Any = self.controls[control]
                    table[name][path.rpartition(".")[2]] = amount_typed(kept.quantity, kept.kind)
        return table

    def redraw_key(self, state: State) -> Any:
        """Upper ends of the three axes."""
        tops = state["idle"][:, -1], state["clearance"][:, -1], [*state["protected"][:, -1], state["lasts"]]
        more = (
            float(np.nanmax([*tops[0], state["precharge"], state["seen"]])),
            *(float(np.max(top)) for top in tops[1:]),
        )
        return [axis.end(top) for axis, top in zip(self._ends, more, strict=True)]

    def build(self, figure: Figure) -> Parts:
        ends = self.redraw_key(self.state)
        what = (
            ("idle", "hot idle", GAUGE, "precharge", "pre-charge, hot"),
            ("clearance", "clearance of the mains", CLEARANCE, "", ""),
            ("protected", "protected time", TIME, "lasts", "event lasts"),
        )
        graphs = []
        for place, (end, (key, name, kind, goal, goal_is)) in enumerate(zip(ends, what, strict=True)):
            where = 0.17, 0.765 - 0.31 * place, 0.6, 0.15
            graph = Graph(
                figure, where, "" if place else "Guessed, and known with the readings",
                (name, kind, 0.0, float(kind.from_display(end))), (None, None, 1.5, -0.5),
            )  # fmt: skip
            graph.ax.set_position(where)
            graph.rows(["guessed", "with readings"], fontsize=9)
            for row, colour in enumerate((drawing.SKY, drawing.ORANGE)):
                whole = graph.line(lambda s, k=key, r=row: s[k][r, [0, -1]], row, color=drawing.BLACK, lw=1.2)
                box = graph.box(
                    lambda s, k=key, r=row: s[k][r, 1], lambda s, k=key, r=row: s[k][r, 3], row - 0.32, row + 0.32,
                    fc=colour, ec=drawing.BLACK, hatch="//" if row else None,
                )  # fmt: skip
                middle = graph.line(lambda s, k=key, r=row: s[k][r, 2], row, "|", color=drawing.BLACK, ms=13, mew=2.0)
                if not place and not row:
                    marks = [(whole, "95 of 100 draws"), (box, "8 of 10"), (middle, "middle")]
            marks_here = marks if not place else []
            if goal:
                line = graph.line(goal, [-0.5, 1.5], color=drawing.RED, lw=2.2, ls="--")
                marks_here = [*marks_here, (line, goal_is)]
            if key == "idle":
                marks_here.append((graph.point("seen", 0.5, "D", ms=7, color=drawing.BLUE), "as read"))
            if marks_here:
                graph.ax.legend(
                    [mark for mark, _ in marks_here], [text for _, text in marks_here], loc="upper left",
                    bbox_to_anchor=(1.01, 1.2), fontsize=9, labelspacing=0.25,
                )  # fmt: skip
            graphs.append(graph)
        return graphs

    def readings(self, state: State) -> list[Reading]:
        rows = []
        for key, name, kind in (
            ("idle", "hot idle", GAUGE), ("clearance", "clearance", CLEARANCE),
            ("protected", "protected for", TIME),
        ):  # fmt: skip
            for row, which in enumerate(("guessed", "with readings")):
                low, high = state[key][row, [1, 3]]
                rows += [
                    Reading(f"{name}, {which}, from", float(low), kind),
                    Reading(f"{name}, {which}, to", float(high), kind),
                ]
        return rows

    def summary(self, state: State) -> str:
        found: Calibration = state["found"]
        known = state["learned"]
        if not found.asked:
            return "Not calibrated: read hot idle first."
        after = f" Read next: {known.next_words}." if known.next_words else ""
        if since := since_read(state["build"]):
            after += f" {since} Readings taken now do not go with these: take [readings] out of the file first."
        if found.doubt:
            wrong = f"Most likely wrong: {WORDS[found.culprit]}" if found.culprit else "Check units and gauge"
            named = f" {wrong}{f', or what was typed for {found.odd_guess}' if found.odd_guess else ''}."
            return f"{found.doubt}{named}"
        within, guessed = (PRESSURE_DIFFERENCE.text(one.m_as("Pa")) for one in (known.idle_within, known.idle_guessed))
        less = state["precharge"] >= state["idle"][1, 1]
        fill = " Hot idle may not fill the vessel: take less pre-charge." if less else ""
        return f"Hot idle is known within {within}, guessed within {guessed}.{after}{fill}"
