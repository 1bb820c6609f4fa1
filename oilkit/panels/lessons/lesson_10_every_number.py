"""Panel of lesson 10: every number of a set-up, and the gallery pressure that follows."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar

import numpy as np
from matplotlib.figure import Figure

from oilkit.build.calibration import calibrate
from oilkit.build.records import Seen
from oilkit.build.results import lasting
from oilkit.build.setup_file import Build, set_up_of
from oilkit.build.since import since_read, tried
from oilkit.build.spread import follow, nothing_off, vary
from oilkit.panels.framework import drawing
from oilkit.panels.framework.bound import Graph, Parts, Reading, Setting, State
from oilkit.panels.framework.controls import Control
from oilkit.panels.framework.steps import Step
from oilkit.panels.lessons.lesson_10_number_form import NumberForm
from oilkit.panels.lessons.lesson_10_set_up_file import SetUpPanel
from oilkit.physics.settling import settled_pressure
from oilkit.quantities.kinds import GAUGE, SPEED, TIME

SPEEDS = 31
"""Points of a curve from idle to red line."""


class EveryNumber(SetUpPanel):
    """Every number of a set-up file in a form, and what pressure pump, relief valve and bearings then agree on."""

    call = "every_number"
    paths: ClassVar[Mapping[str, str]] = {}
    size = (6.5, 3.3)
    title = "Every number of your car"
    alt = (
        "Gallery pressure against engine speed, hot and on a cold start, with the pressure that counts, the pre-charge "
        "and what your gauges have shown."
    )
    redraw_on = ("redline", "top", "any_read")
    steps = (
        Step(
            "Choose Pump and relief valve. Raise the relief opening to 65 psi (4.5 bar). Where does the curve change?",
            lambda s: abs(float(s["build"].engine.pump.relief_opening.m_as("psig")) - 65.0) < 1.0,
        ),
        Step(
            "Choose Main bearings, make them 0.5 thou (0.013 mm) looser. Does hot idle move, or the plateau?",
            lambda s: s["build"].engine.si.mains.diametral_clearance > s["base"].engine.si.mains.diametral_clearance,
        ),
        Step(
            "Choose Event 1, press Add one like it, and give it a name and a length of its own.",
            lambda s: len(s["build"].events) > len(s["base"].events),
        ),
    )

    def make_controls(self) -> list[Control]:
        return [NumberForm("numbers", "Every number", self._base.document)]

    def fit(self) -> None:
        self.controls["numbers"].set_si(self._base.document)

    def solve(self, at: Setting) -> State:
        build = tried(self._base, set_up_of(at.numbers, "the set-up"))
        found = calibrate(build)
        car = found.in_use
        engine, event, driving = car.engine, car.events[0], car.driving.si
        idle, redline = engine.si.idle, engine.si.redline
        speeds = np.append(np.linspace(idle, redline, SPEEDS), event.si.speed)
        warmth = np.array([[driving.sump_temperature], [build.morning.si.temperature]])
        hot, cold = settled_pressure(engine, build.oil, speeds, warmth, driving.clearance_change)
        one = vary(car, [event], nothing_off())
        typed = settled_pressure(build.engine, build.oil, idle, warmth[0], build.driving.si.clearance_change)
        read = [seen.si for seen in vars(build.readings).values() if isinstance(seen, Seen)] if build.readings else []
        return {
            "build": build,
            "doubt": found.doubt,
            "calibrated": bool(found.asked),
            "base": self._base,
            "redline": redline,
            "speeds": speeds[:-1],
            "hot": hot[:-1],
            "cold": cold[:-1],
            "idle": float(hot[0]),
            "idle_typed": float(typed[0]),
            "event_speed": event.si.speed,
            "at_event": float(hot[-1]),
            "any_read": bool(read),
            "seen_speed": np.array([seen.speed for seen in read]),
            "seen": np.array([seen.pressure for seen in read]),
            "limit": car.limit_at(speeds[:-1]),
            "precharge": build.choice.si.precharge,
            "top": GAUGE.from_display(np.ceil(float(GAUGE.display(1.15 * max(cold.max(), hot.max()))) / 5.0) * 5.0),
            "protected": float(follow(car.installation, one)[0][0]),
        }

    def build(self, figure: Figure) -> Parts:
        s = self.state
        graph = Graph(
            figure, (0.1, 0.15, 0.62, 0.74), "What pump, relief valve and bearings agree on",
            ("engine speed", SPEED, 0.0, 1.02 * s["redline"]), ("gallery pressure", GAUGE, 0.0, s["top"]),
        )  # fmt: skip
        ends = [0.0, 1.02 * s["redline"]]
        graph.line("speeds", "cold", color=drawing.BLUE, ls="--", label="cold start")
        graph.line("speeds", "hot", color=drawing.OCHRE, label="hot")
        graph.line("speeds", "limit", color=drawing.RED, ls=":", label="pressure that counts")
        graph.line(ends, "precharge", color=drawing.GREEN, ls="-.", label="pre-charge, hot")
        graph.point("event_speed", "at_event", ms=9, label="first event")
        readings = {"label": "your readings"} if s["any_read"] else {}
        graph.line("seen_speed", "seen", "D", color=drawing.PURPLE, ms=8, **readings)
        graph.ax.legend(loc="upper left", bbox_to_anchor=(1.01, 1.0), fontsize=9)
        return [graph]

    def readings(self, state: State) -> list[Reading]:
        protected = TIME.quantity(state["protected"])
        return [
            Reading("hot idle", state["idle"], GAUGE),
            Reading("hot, in the first event", state["at_event"], GAUGE),
            Reading("cold, at idle", float(state["cold"][0]), GAUGE),
            Reading("first event, protected for", lasting(protected, state["build"].events[0].lasts)),
            Reading("it lasts", state["build"].events[0].si.lasts, TIME),
        ]

    def summary(self, state: State) -> str:
        build: Build = state["build"]
        idle, charge = state["idle"], state["precharge"]
        fills = (
            f"Hot idle of {GAUGE.text(idle)} fills the vessel above its pre-charge of {GAUGE.text(charge)}."
            if idle > charge
            else f"Hot idle of {GAUGE.text(idle)} never fills a vessel with {GAUGE.text(charge)} of pre-charge."
        )
        typed = GAUGE.text(state["idle_typed"])
        counted = f"Counted by what your gauges have shown; as typed it would be {typed}.", since_read(build)
        read = counted if state["calibrated"] else ()
        return " ".join(filter(None, [state["doubt"], fills, *read, *build.questions]))
