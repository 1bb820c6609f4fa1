"""Panels of lesson 05, last part: what a real engine takes, measured by its pump and by the vessel."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.figure import Figure

from oilkit.errors import InputError
from oilkit.panels.framework import drawing
from oilkit.panels.framework.axes import StillAxis, round_up
from oilkit.panels.framework.base import Panel
from oilkit.panels.framework.bound import Reading, Setting, State
from oilkit.panels.framework.controls import Amount, Choice, Control, Lines
from oilkit.physics.catalog import engines
from oilkit.physics.measure import MeasuredDemand, demand_at_relief, demand_from_fall, pressure_knee
from oilkit.physics.vessel import oil_stored
from oilkit.quantities.kinds import (
    DISPLACEMENT,
    FACTOR,
    FRACTION,
    GAUGE,
    OIL,
    PRESSURE_DIFFERENCE,
    SPEED,
    THROUGH_FLOW,
    TIME,
    VOLUME,
)
from oilkit.quantities.typed import parse
from oilkit.quantities.units import Q

_READINGS = """900 34
1000 39.5
1100 44.5
1200 50
1300 55.5
1400 57
1500 57.5
1600 57.5
1700 57.5
1800 58
2000 58.5
2200 59"""
"""The street V8 of the kit, hot, as a hand would read it to half a psi. Invented, as the engine is."""
LEAST_FLOW = float(Q(0.05, "gpm").to("m**3/s").m)
TOO_MUCH = float(Q(200, "psig").to("Pag").m)
"""No engine's oil gauge shows this: the unit must be another one."""


class MeasureByPump(Panel):
    """From readings of oil pressure against speed to what the engine takes, where the relief valve just opens."""

    call = "measure_by_pump"
    title = "Measure it by its pump: where does the pressure stop rising?"
    alt = "Readings of oil pressure against speed with the fitted kink, and the engine's demand with its interval."

    def make_controls(self) -> Sequence[Control]:
        self._axis = StillAxis(THROUGH_FLOW, LEAST_FLOW)
        return [
            Lines("readings", "Readings, hot: speed in rpm, oil pressure", _READINGS, rows=9),
            Choice("unit", "Gauge reads", [("psi", "psig"), ("bar", "barg"), ("kPa", "kPag")]),
            Amount(
                "displacement", "Pump: displacement per turn of the pump", DISPLACEMENT,
                Q(0.3, "in**3/rev"), Q(4, "in**3/rev"), Q(1.2, "in**3/rev"), (0.02, 0.5),
            ),
            Choice("ratio", "The pump turns", [("half as fast as the crank", 0.5), ("with the crank", 1.0)]),
            Amount("efficiency", "Pump: volumetric efficiency", FACTOR, 0.5, 1.0, 0.85, (0.01, 0.01)),
            Amount("efficiency_error", "… which may be wrong by, ±", FRACTION, 0.0, 0.2, 0.05, (0.01, 0.01)),
        ]  # fmt: skip

    def solve(self, at: Setting) -> State:
        typed = (at.readings, at.unit)
        if self.state.get("typed") != typed:  # finding the kink costs more than all the rest
            self._speed, self._pressure = _read_lines(at.readings, at.unit)
            try:
                self._knee = pressure_knee(SPEED.quantity(self._speed), GAUGE.quantity(self._pressure))
            except InputError as problem:
                raise InputError("readings", problem.got, problem.wanted) from None
        knee = self._knee
        pump = dataclasses.replace(
            next(iter(engines().values())).pump,
            displacement=DISPLACEMENT.quantity(at.displacement),
            ratio=at.ratio,
            efficiency=at.efficiency,
        )
        assert knee.fitted is not None
        return {
            "typed": typed,
            "knee": float(knee.speed.m_as(SPEED.si)),
            "knee_error": float(knee.speed_error.m_as(SPEED.si)),
            "pressure": float(knee.pressure.m_as(GAUGE.si)),
            "fitted": knee.fitted.m_as(GAUGE.si),
            **_measured(demand_at_relief(knee, pump, at.efficiency_error)),
        }

    def _ends(self, state: State) -> tuple[float, float, float]:
        """Upper ends of the axes of speed, pressure and flow, as shown."""
        fastest = float(SPEED.display(np.max(self._speed) * 1.02))
        highest = float(GAUGE.display(max(np.max(self._pressure), state["pressure"]) * 1.05))
        return round_up(fastest), round_up(highest), self._axis.end(state["highest"])

    def redraw_key(self, state: State) -> Any:
        return self._ends(state)

    def build(self, figure: Figure) -> Iterable[Artist]:
        fastest, highest, most = self._ends(self.state)
        graph = drawing.framed(
            figure,
            (0.085, 0.15, 0.57, 0.75),
            "At the kink the valve opens: all that the pump gives, the engine takes",
            (f"engine speed ({SPEED.label()})", 0.0, fastest),
            (f"oil pressure, hot ({GAUGE.label()})", 0.0, highest),
        )
        (self._fit,) = graph.plot([], [], color=drawing.BLUE, label="fitted: bend, kink, straight line")
        (self._read,) = graph.plot(
            [], [], "o", ms=8, ls="none", mfc="white", mec=drawing.BLACK, mew=2, clip_on=False, label="readings"
        )
        (self._spread,) = graph.plot([], [], color=drawing.RED, lw=5, alpha=0.85, label="± one standard error")
        (self._kink,) = graph.plot([], [], "D", ms=11, color=drawing.RED, ls="none", label="kink")
        graph.legend(loc="lower right")
        bar, self._answer = _interval_bar(figure, most)
        return [self._fit, self._spread, self._read, self._kink, *bar]

    def update_artists(self, state: State) -> None:
        speeds = np.append(self._speed, state["knee"])
        order = np.argsort(speeds)
        curve = np.append(state["fitted"], state["pressure"])
        self._fit.set_data(SPEED.display(speeds[order]), GAUGE.display(curve[order]))
        self._read.set_data(SPEED.display(self._speed), GAUGE.display(self._pressure))
        off = np.array([-1.0, 1.0]) * state["knee_error"]
        self._spread.set_data(SPEED.display(state["knee"] + off), [GAUGE.display(state["pressure"])] * 2)
        self._kink.set_data([SPEED.display(state["knee"])], [GAUGE.display(state["pressure"])])
        self._answer(state)

    def readings(self, state: State) -> Sequence[Reading]:
        return [
            Reading("readings", str(len(self._speed))),
            Reading("pressure stops rising at", state["knee"], SPEED),
            Reading("… one standard error of that, ±", state["knee_error"], SPEED),
            *_demand_rows(state),
        ]

    def summary(self, state: State) -> str:
        if np.max(self._pressure) > TOO_MUCH:
            return (
                f"{GAUGE.text(float(np.max(self._pressure)))} is more than any engine's oil gauge shows. If you meant "
                "another unit, choose it under Gauge reads."
            )
        return (
            f"Up to {SPEED.text(state['knee'])} the engine takes all that its pump gives; there that is "
            f"{THROUGH_FLOW.text(state['flow'])}, at {GAUGE.text(state['pressure'])}. {_interval_words(state)} It "
            "counts the pump's efficiency as you state it, its displacement to 2 %, the tachometer to 50 rpm and the "
            "gauge to 1.5 psi (0.1 bar), largest errors either way."
        )


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


def _measured(demand: MeasuredDemand) -> State:
    flows = {"flow": demand.flow, "lowest": demand.lowest, "highest": demand.highest}
    si = {name: float(flow.m_as(THROUGH_FLOW.si)) for name, flow in flows.items()}
    return si | {"at": float(demand.at_pressure.m_as(GAUGE.si))}


def _demand_rows(state: State) -> list[Reading]:
    return [
        Reading("so the engine takes", state["flow"], THROUGH_FLOW),
        Reading("19 times in 20 the truth is above", state["lowest"], THROUGH_FLOW),
        Reading("… and below", state["highest"], THROUGH_FLOW),
        Reading("at a gallery pressure, as read, of", state["at"], GAUGE),
    ]


def _interval_words(state: State) -> str:
    width = 50.0 * (state["highest"] - state["lowest"]) / state["flow"]
    ends = f"{THROUGH_FLOW.text(state['lowest'])} and {THROUGH_FLOW.text(state['highest'])}"
    return f"The truth lies between {ends} 19 times in 20: about ± {width:.0f} %."


def _interval_bar(figure: Figure, most: float) -> tuple[list[Artist], Any]:
    """A narrow graph of one flow with its interval, and the function that moves it."""
    ax = drawing.framed(
        figure,
        (0.78, 0.15, 0.2, 0.75),
        "The engine takes",
        ("", -1.0, 1.0),
        (f"oil flow ({THROUGH_FLOW.label()})", 0.0, most),
    )
    ax.set_xticks([])
    (reach,) = ax.plot([], [], "_-", ms=26, mew=2.4, color=drawing.BLUE, label="19 in 20")
    (best,) = ax.plot([], [], "o", ms=11, color=drawing.BLACK, label="best guess")
    ax.legend(loc="upper center", bbox_to_anchor=(0.5, -0.01))

    def answer(state: State) -> None:
        reach.set_data([0.0, 0.0], [THROUGH_FLOW.display(state[end]) for end in ("lowest", "highest")])
        best.set_data([0.0], [THROUGH_FLOW.display(state["flow"])])

    return [reach, best], answer


class MeasureByFall(Panel):
    """From how far the vessel's settled pressure falls to what the stopped, hot engine takes."""

    call = "measure_by_fall"
    title = "Measure it by the vessel: how far does it fall?"
    alt = "Oil in the vessel against its settled pressure, before and after, and the engine's demand with its interval."

    def make_controls(self) -> Sequence[Control]:
        self._axis = StillAxis(THROUGH_FLOW, LEAST_FLOW)
        return [
            Amount("gas_volume", "Vessel: gas volume", VOLUME, Q(0.5, "qt"), Q(12, "qt"), Q(3, "qt"), (0.1, 0.1)),
            Amount(
                "precharge", "Vessel: pre-charge, at its present temperature", GAUGE,
                Q(0, "psig"), Q(15, "psig"), Q(10, "psig"), (0.5, 0.02),
            ),
            Amount(
                "before", "Vessel: settled, before", GAUGE, Q(50, "psig"), Q(120, "psig"), Q(60, "psig"), (0.5, 0.02)
            ),
            Amount(
                "fell", "Vessel: settled again, lower by", PRESSURE_DIFFERENCE,
                Q(2, "psi"), Q(30, "psi"), Q(22.5, "psi"), (0.5, 0.02),
            ),
            Amount("open_for", "Valve open for", TIME, Q(1, "s"), Q(20, "s"), Q(3, "s"), (0.1, 0.1)),
            Amount(
                "gallery", "Engine's gauge, just after opening", GAUGE,
                Q(40, "psig"), Q(120, "psig"), Q(57, "psig"), (0.5, 0.02),
            ),
            Amount(
                "gallery_fell", "… just before shutting, lower by", PRESSURE_DIFFERENCE,
                Q(1, "psi"), Q(35, "psi"), Q(26, "psi"), (0.5, 0.02),
            ),
            Amount(
                "reading_error", "Largest error of each reading, ±", PRESSURE_DIFFERENCE,
                Q(0.05, "psi"), Q(2, "psi"), Q(0.3, "psi"), (0.05, 0.005),
            ),
        ]  # fmt: skip

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
            "room": at.gas_volume,
            "after": at.before - at.fell,
            "axis": axis,
            "curve": oil[:-2],
            "held": oil[-2:],
            "given": float(oil[-2] - oil[-1]),
            **_measured(found),
        }

    _top = float(Q(125, "psig").to("Pag").m)

    def _ends(self, state: State) -> tuple[float, float]:
        return round_up(float(OIL.display(state["room"])) * 0.999), self._axis.end(state["highest"])

    def redraw_key(self, state: State) -> Any:
        return self._ends(state)

    def build(self, figure: Figure) -> Iterable[Artist]:
        room, most = self._ends(self.state)
        graph = drawing.framed(
            figure,
            (0.085, 0.15, 0.57, 0.75),
            "What left the vessel went into the engine",
            (f"settled pressure in the vessel ({GAUGE.label()})", 0.0, float(GAUGE.display(self._top))),
            (f"oil in the vessel ({OIL.label()})", 0.0, room),
        )
        (self._curve,) = graph.plot([], [], color=drawing.BLUE, label="Boyle's law, gas settled")
        (self._left,) = graph.plot(
            [], [], color=drawing.RED, lw=5, alpha=0.85, solid_capstyle="butt", label="oil that left"
        )
        (self._guide,) = graph.plot([], [], color=drawing.GREY, ls=":", lw=1.6)
        (self._start,) = graph.plot([], [], "o", ms=11, color=drawing.BLACK, label="before")
        (self._end,) = graph.plot([], [], "s", ms=10, mfc="white", mec=drawing.BLACK, mew=2, label="after")
        graph.legend(loc="lower right")
        bar, self._answer = _interval_bar(figure, most)
        return [self._curve, self._guide, self._left, self._start, self._end, *bar]

    def update_artists(self, state: State) -> None:
        self._curve.set_data(GAUGE.display(state["axis"]), OIL.display(state["curve"]))
        start, end = (float(GAUGE.display(state[key])) for key in ("before", "after"))
        full, left = (float(oil) for oil in OIL.display(state["held"]))
        self._left.set_data([start, start], [left, full])
        self._guide.set_data([end, start], [left, left])
        self._start.set_data([start], [full])
        self._end.set_data([end], [left])
        self._answer(state)

    def readings(self, state: State) -> Sequence[Reading]:
        return [
            Reading("vessel settled, before", state["before"], GAUGE),
            Reading("vessel settled, after", state["after"], GAUGE),
            Reading("oil that left the vessel", state["given"], OIL),
            *_demand_rows(state),
        ]

    def summary(self, state: State) -> str:
        return (
            f"The gas says that {OIL.text(state['given'])} left while the valve was open: "
            f"{THROUGH_FLOW.text(state['flow'])} on average, at about {GAUGE.text(state['at'])} in the gallery. "
            f"{_interval_words(state)} The engine stood still, its shafts on their shells: nothing was dragged, and a "
            "running engine takes more."
        )
