"""Panels of lesson 05, last part: what a real engine takes, measured by its pump and by the vessel."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Mapping, Sequence
from typing import Any

import ipywidgets
import numpy as np
from matplotlib.figure import Figure

from oilkit.build.measured import USUAL_GAUGES
from oilkit.build.setup_file import Build
from oilkit.errors import InputError
from oilkit.panels.framework import drawing
from oilkit.panels.framework.amounts import amount, drop, pressure, seconds
from oilkit.panels.framework.axes import StillAxis, round_up
from oilkit.panels.framework.bound import Graph, Parts, Reading, Setting, State, in_si, us
from oilkit.panels.framework.choices import OWN_UNITS
from oilkit.panels.framework.controls import Amount, Choice, Control, Lines, named
from oilkit.panels.framework.for_your_car import ForYourCar
from oilkit.panels.framework.steps import Step, between, both
from oilkit.physics.catalog import engines
from oilkit.physics.measure import Knee, demand_at_relief, demand_from_fall, pressure_knee
from oilkit.physics.vessel import oil_stored
from oilkit.quantities.kinds import (
    DISPLACEMENT,
    FACTOR,
    GAUGE,
    OIL,
    PART,
    PRESSURE_DIFFERENCE,
    SPEED,
    THROUGH_FLOW,
    TIME,
    VOLUME,
)
from oilkit.quantities.typed import parse
from oilkit.quantities.units import Q

_READINGS = """1000 34.5
1100 39
1200 43
1300 47.5
1400 52
1500 56.5
1600 57
1700 57.5
1800 57.5
1900 58
2000 58
2200 58.5"""
"""The street V8 of the kit, hot, as a hand would read it to half a psi. Invented, as the engine is."""
LEAST_FLOW = float(Q(0.05, "gpm").to("m**3/s").m)
TOO_MUCH = float(Q(200, "psig").to("Pag").m)
"""No engine's oil gauge shows this: the unit must be another one."""


class _Measured(ForYourCar):
    """A measurement whose demand is a reading of the learner's own car, as hot as its sump usually is."""

    gives = "the measured demand as a reading"

    def rpm(self) -> float:
        """Engine speed of the measurement; 0 for an engine that stood."""
        raise NotImplementedError

    def extra_controls(self) -> Sequence[ipywidgets.Widget]:
        return [self.car_button(), self.make_note()]

    def changes(self, car: Build) -> Mapping[str, Any]:
        s = self.state
        measured = {
            "flow": f"{THROUGH_FLOW.display(s['flow'], 'US'):.3f} gpm",
            "within": f"{THROUGH_FLOW.display(0.5 * (s['highest'] - s['lowest']), 'US'):.3f} gpm",
            "pressure": f"{GAUGE.display(s['at_pressure'], 'US'):.1f} psi",
            "speed": f"{self.rpm():.0f} rpm",
            "oil_temperature": car.document["driving"]["sump_temperature"],
        }
        return {"readings": USUAL_GAUGES | car.document.get("readings", {}) | {"demand": measured}}


class MeasureByPump(_Measured):
    """From readings of oil pressure against speed to what the engine takes, where the relief valve just opens."""

    call = "measure_by_pump"

    def rpm(self) -> float:
        return float(SPEED.display(self.state["kink"].speed, "US"))

    title = "Measure it by its pump: where does the pressure stop rising?"
    alt = "Readings of oil pressure against speed with the fitted kink, and the engine's demand with its interval."
    steps = (
        Step(
            "Type 2 psi (0.14 bar) too much at 1200 rpm. What becomes of the standard error?",
            lambda s: 10e3 < _misread(s) < 17e3,
        ),
        Step(
            "Type 5 psi (0.34 bar) too much: what is said? Put it right. Efficiency's error to 0.02: what narrows?",
            lambda s: _misread(s) < 500.0 and 0.015 <= s["efficiency_error"] <= 0.025,
        ),
    )

    def make_controls(self) -> list[Control]:
        self._axis = StillAxis(THROUGH_FLOW, LEAST_FLOW)
        return [
            Lines("readings", "Readings, hot: speed in rpm, oil pressure", _READINGS, rows=5),
            Choice("unit", "Gauge reads", OWN_UNITS),
            amount(
                "displacement", "Pump: displacement per turn of the pump", DISPLACEMENT, "in**3/rev", 0.3, 4, 1.2,
                (0.02, 0.5),
            ),
            Choice("ratio", "The pump turns", [("half as fast as the crank", 0.5), ("with the crank", 1.0)]),
            Amount("efficiency", "Pump: volumetric efficiency, as rated", FACTOR, 0.5, 1.0, 0.9, (0.01, 0.01)),
            Amount("efficiency_error", "… which may be wrong by, ±", PART, 0.0, 0.2, 0.05, (0.01, 0.01)),
        ]  # fmt: skip

    def solve(self, at: Setting) -> State:
        # finding the kink costs more than all the rest
        speeds, pressures, knee = self.kept((at.readings, at.unit), lambda: _knee(at.readings, at.unit))
        pump = dataclasses.replace(
            next(iter(engines().values())).pump,
            displacement=DISPLACEMENT.quantity(at.displacement),
            ratio=at.ratio,
            efficiency=at.efficiency,
        )
        kink = in_si(knee)
        axis = np.append(speeds, kink.speed)
        order = np.argsort(axis)
        return {
            "speeds": speeds,
            "pressures": pressures,
            "kink": kink,
            "spread": kink.speed + np.array([-kink.speed_error, kink.speed_error]),
            "axis": axis[order],
            "fitted": np.append(kink.fitted, kink.pressure)[order],
            **vars(in_si(demand_at_relief(knee, pump, at.efficiency_error))),
        }

    def redraw_key(self, state: State) -> Any:
        """Upper ends of the axes of speed, pressure and flow, as shown."""
        fastest = float(SPEED.display(np.max(state["speeds"]) * 1.02))
        highest = float(GAUGE.display(max(np.max(state["pressures"]), state["kink"].pressure) * 1.05))
        return round_up(fastest), round_up(highest), self._axis.end(state["highest"])

    def build(self, figure: Figure) -> Parts:
        fastest, highest, most = self.redraw_key(self.state)
        graph = Graph(
            figure, (0.085, 0.15, 0.57, 0.75), "At the kink the valve opens: all that the pump gives, the engine takes",
            ("engine speed", SPEED, 0.0, float(SPEED.from_display(fastest))),
            ("oil pressure, hot", GAUGE, 0.0, float(GAUGE.from_display(highest))),
        )  # fmt: skip
        fit = graph.line("axis", "fitted", color=drawing.BLUE, label="fitted: bend, kink, straight line")
        spread = graph.line(
            "spread", "kink.pressure", color=drawing.RED, lw=5, alpha=0.85, label="± one standard error"
        )
        read = graph.line("speeds", "pressures", "o", ms=8, ls="none", clip_on=False, label="readings", **drawing.RING)
        kink = graph.line("kink.speed", "kink.pressure", "D", ms=11, color=drawing.RED, ls="none", label="kink")
        graph.ax.legend(handles=[fit, read, spread, kink], loc="lower right")
        return [graph, _interval_bar(figure, most)]

    def readings(self, state: State) -> list[Reading]:
        return [
            Reading("readings", str(len(state["speeds"]))),
            Reading("pressure stops rising at", state["kink"].speed, SPEED),
            Reading("… one standard error of that, ±", state["kink"].speed_error, SPEED),
            *_demand_rows(state),
        ]

    def summary(self, state: State) -> str:
        highest = float(np.max(state["pressures"]))
        if highest > TOO_MUCH:
            return (
                f"{GAUGE.text(highest)} is more than any engine's oil gauge shows. If you meant "
                "another unit, choose it under Gauge reads."
            )
        return (
            f"Up to {SPEED.text(state['kink'].speed)} the engine takes all that its pump gives; there that is "
            f"{THROUGH_FLOW.text(state['flow'])}, at {GAUGE.text(state['kink'].pressure)}. {_interval_words(state)} It "
            "counts the pump's efficiency as you state it, its displacement to 2 %, the tachometer to 50 rpm and the "
            "gauge to 1.5 psi (0.1 bar), largest errors either way."
        )


def _knee(text: str, unit: str) -> tuple[Any, Any, Knee]:
    """Speeds and pressures (SI) as typed, and the kink in them."""
    speeds, pressures = _read_lines(text, unit)
    with named("readings"):
        return speeds, pressures, pressure_knee(SPEED.quantity(speeds), GAUGE.quantity(pressures))


def _read_lines(text: str, unit: str) -> tuple[np.ndarray[Any, Any], np.ndarray[Any, Any]]:
    """Speeds and gauge pressures (SI) from lines of two numbers."""
    speeds, pressures = [], []
    wanted = "two numbers, speed in rpm and oil pressure, such as 1500 42.5"
    for number, line in enumerate(text.splitlines(), 1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        got = f"“{line.strip()}” in line {number}"
        parts = re.split(r"\s*;\s*|,?\s+", line.strip())
        if len(parts) == 1:
            parts = line.strip().split(",")  # the only thing between two numbers can but part them
        if len(parts) != 2:
            raise InputError("readings", got, wanted)
        if any(re.search(r",\d{3}$", part) for part in parts):
            raise InputError("readings", f"{got}, where a comma could mean two things", wanted)
        try:
            speed, pressure = (float(part.replace(",", ".")) for part in parts)
        except ValueError:
            raise InputError("readings", got, wanted) from None
        if not (0.0 < speed <= 30_000.0 and 0.0 <= pressure < 1e5):
            raise InputError("readings", got, "a speed above 0 and up to 30000 rpm, and a pressure of 0 or more")
        speeds.append(parse("readings", f"{speed!r} rpm", SPEED))
        pressures.append(parse("readings", f"{pressure!r} {unit}", GAUGE))
    return np.array(speeds), np.array(pressures)


def _demand_rows(state: State) -> list[Reading]:
    return [
        Reading("so the engine takes", state["flow"], THROUGH_FLOW),
        Reading("19 times in 20 the truth is above", state["lowest"], THROUGH_FLOW),
        Reading("… and below", state["highest"], THROUGH_FLOW),
        Reading("at a gallery pressure, as read, of", state["at_pressure"], GAUGE),
    ]


def _interval_words(state: State) -> str:
    flow, width = state["flow"], 50.0 * (state["highest"] - state["lowest"])
    ends = f"{THROUGH_FLOW.text(state['lowest'])} and {THROUGH_FLOW.text(state['highest'])}"
    share = f": about ± {width / flow:.0f} %" if flow > 0.0 else ""
    return f"The truth lies between {ends} 19 times in 20{share}."


def _interval_bar(figure: Figure, most: float) -> Graph:
    """A narrow graph of one flow with its interval; most: the axis's end, as shown."""
    end = float(THROUGH_FLOW.from_display(most))
    graph = Graph(
        figure, (0.78, 0.15, 0.2, 0.75), "The engine takes", (None, None, -1.0, 1.0),
        ("oil flow", THROUGH_FLOW, 0.0, end),
    )  # fmt: skip
    graph.ax.set_xticks([])
    reach: dict[str, Any] = {"ms": 26, "mew": 2.4, "color": drawing.BLUE, "label": "19 in 20"}
    graph.line(0.0, lambda s: np.array([s["lowest"], s["highest"]]), "_-", **reach)
    graph.line(0.0, "flow", "o", ms=11, color=drawing.BLACK, label="best guess")
    graph.ax.legend(loc="upper center", bbox_to_anchor=(0.5, -0.01))
    return graph


class MeasureByFall(_Measured):
    """From how far the vessel's settled pressure falls to what the stopped, hot engine takes."""

    call = "measure_by_fall"

    def rpm(self) -> float:
        return 0.0

    title = "Measure it by the vessel: how far does it fall?"
    alt = "Oil in the vessel against its settled pressure, before and after, and the engine's demand with its interval."
    steps = (
        Step(
            "Let the vessel fall by only 4 psi (0.28 bar) in 1 s. What has become of the interval?",
            both(between("fell", 3.8, 4.2, "psi"), between("open_for", 1, 1.05, "s")),
        ),
    )

    def make_controls(self) -> list[Control]:
        self._axis = StillAxis(THROUGH_FLOW, LEAST_FLOW)
        return [
            amount("gas_volume", "Vessel: gas volume", VOLUME, "qt", 0.5, 12, 3, 0.1),
            pressure("precharge", "Vessel: pre-charge, at its present temperature", 0, 15, 10),
            pressure("before", "Vessel: settled, before", 50, 120, 60),
            drop("fell", "Vessel: settled again, lower by", 2, 30, 22.5),
            seconds("open_for", "Valve open for", 1, 20, 3, 0.1),
            pressure("gallery", "Engine's gauge, just after opening", 40, 120, 57),
            drop("gallery_fell", "… just before shutting, lower by", 1, 35, 26),
            drop("reading_error", "Largest error of each reading, ±", 0.05, 2, 0.3, (0.05, 0.005)),
        ]

    def solve(self, at: Setting) -> State:
        found = demand_from_fall(
            VOLUME.quantity(at.gas_volume),
            GAUGE.quantity(at.precharge),
            GAUGE.quantity(at.before),
            GAUGE.quantity(at.before - at.fell),
            TIME.quantity(at.open_for),
            GAUGE.quantity(at.gallery),
            GAUGE.quantity(at.gallery - at.gallery_fell),
            reading_error=PRESSURE_DIFFERENCE.quantity(at.reading_error),
        )
        axis = np.sort(np.append(np.linspace(0.0, self._top, 61), at.precharge))
        pressures = np.append(axis, [at.before, at.before - at.fell])
        oil = oil_stored.si(at.gas_volume, at.precharge, pressures, resting=True)
        return {
            "after": at.before - at.fell,
            "axis": axis,
            "curve": oil[:-2],
            "full": oil[-2],
            "left": oil[-1],
            "given": float(oil[-2] - oil[-1]),
            **vars(in_si(found)),
        }

    _top = float(Q(125, "psig").to("Pag").m)

    def redraw_key(self, state: State) -> Any:
        """Upper ends of the axes of oil and flow, as shown."""
        return round_up(float(OIL.display(state["gas_volume"])) * 0.999), self._axis.end(state["highest"])

    def build(self, figure: Figure) -> Parts:
        room, most = self.redraw_key(self.state)
        graph = Graph(
            figure, (0.085, 0.15, 0.57, 0.75), "What left the vessel went into the engine",
            ("settled pressure in the vessel", GAUGE, 0.0, self._top),
            ("oil in the vessel", OIL, 0.0, float(OIL.from_display(room))),
        )  # fmt: skip
        went: dict[str, Any] = {"color": drawing.RED, "lw": 5, "alpha": 0.85, "solid_capstyle": "butt"}
        graph.line("axis", "curve", color=drawing.BLUE, label="Boyle's law, gas settled")
        graph.line(lambda s: np.array([s["after"], s["before"]]), "left", color=drawing.GREY, ls=":", lw=1.6)
        graph.line("before", lambda s: np.array([s["left"], s["full"]]), label="oil that left", **went)
        graph.line("before", "full", "o", ms=11, color=drawing.BLACK, label="before")
        graph.line("after", "left", "s", ms=10, label="after", **drawing.RING)
        graph.ax.legend(loc="lower right")
        return [graph, _interval_bar(figure, most)]

    def readings(self, state: State) -> list[Reading]:
        return [
            Reading("vessel settled, before", state["before"], GAUGE),
            Reading("vessel settled, after", state["after"], GAUGE),
            Reading("oil that left the vessel", state["given"], OIL),
            *_demand_rows(state),
        ]

    def summary(self, state: State) -> str:
        return (
            f"The gas says that {OIL.text(state['given'])} left while the valve was open: "
            f"{THROUGH_FLOW.text(state['flow'])} on average, at about {GAUGE.text(state['at_pressure'])} in the "
            f"gallery. {_interval_words(state)} The engine stood still, its shafts on their shells: nothing was "
            "dragged, and a running engine takes more."
        )


def _misread(state: State) -> float:
    """How far the reading at 1200 rpm is from the one that the panel opens with."""
    near = np.argmin(abs(state["speeds"] - us(SPEED, 1200.0)))
    return float(abs(state["pressures"][near] - us(GAUGE, 43.0)))
