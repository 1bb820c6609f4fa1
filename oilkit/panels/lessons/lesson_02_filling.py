"""Panels of lesson 02: the vessel cut open, filling it in time, from shop to track, and a cheap gauge."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
from matplotlib.figure import Figure

from oilkit.panels.framework import drawing
from oilkit.panels.framework.amounts import altitude, amount, moment, pressure, seconds, warmth
from oilkit.panels.framework.base import Panel
from oilkit.panels.framework.bound import Bound, Graph, Parts, Reading, Setting, State, in_si, us
from oilkit.panels.framework.choices import vessel_choice
from oilkit.panels.framework.controls import Choice, Control
from oilkit.panels.framework.moving import MovingPanel
from oilkit.panels.framework.steps import Step, between, both
from oilkit.panels.framework.vessel_view import TOP, VesselView, room_of
from oilkit.physics import gas, vessel
from oilkit.physics.catalog import bench_vessel
from oilkit.physics.pressure import absolute_pressure, ambient_pressure, gauge_error
from oilkit.physics.vessel import Vessel
from oilkit.quantities.kind import Kind
from oilkit.quantities.kinds import (
    ABSOLUTE,
    DISTANCE,
    FLOW,
    GAUGE,
    LENGTH,
    OIL,
    PART,
    PRESSURE_DIFFERENCE,
    TEMPERATURE,
    TIME,
    TIME_CONSTANT,
    VOLUME,
)
from oilkit.quantities.units import Q

ACCURACY = Kind("an accuracy class", "percent", "percent", 1, "percent", 1, "Q(2.5, 'percent')")


AXIS = np.linspace(0.0, TOP, 81)
COLDEST, HOTTEST = 253.15, 393.15
DIAL_AT = us(GAUGE, 50.0)
"""Oil pressure at which the bench vessel is compared in shop and at the track."""
SCALE = us(GAUGE, 45.0)


def _room(chosen: Vessel | None, own_volume: float, own_bore: float) -> tuple[float, float, float]:
    """Gas volume, bore and stroke in SI, of a vessel from the data or the learner's own."""
    if chosen is not None:
        return room_of(chosen)
    return own_volume, own_bore, float(vessel.piston_travel.si(own_volume, own_bore))


def _own(at: Setting) -> bool:
    """Whether the vessel is of the learner's own sizes."""
    return at.vessel is None


class FillingPanel(Panel):
    """The vessel at rest: pre-charge and oil pressure decide how much oil is in it."""

    call = "filling"
    title = "Inside the vessel: pre-charge against oil pressure"
    alt = "The vessel cut open with oil, piston and gas, its two gauges, and the curve of oil stored against pressure."
    redraw_on = ("room",)
    steps = (
        Step(
            "Leave the pre-charge at 10 psi (0.69 bar). Lower the oil pressure to 10 psi too: where is the piston?",
            both(between("precharge", 9.7, 10.3, "psig"), between("pressure", 9.7, 10.3, "psig")),
        ),
        Step(
            "Lower the oil pressure to 9 psi (0.62 bar). Does the piston move?", between("pressure", 8.7, 9.3, "psig")
        ),
        Step(
            "Set the pre-charge to 12 psi (0.83 bar). At which pressure is the vessel half full? Did you predict it?",
            both(between("precharge", 11.7, 12.3, "psig"), between("fraction", 0.48, 0.52)),
        ),
    )

    def make_controls(self) -> list[Control]:
        return [
            pressure("precharge", "Pre-charge", 0, 50, 10),
            pressure("pressure", "Oil pressure", 0, 120, 35),
            Choice("speed", "Filled", [("slowly (settled)", gas.ISOTHERMAL), ("fast (gas still hot)", gas.ADIABATIC)]),
            vessel_choice(("my own vessel, with the sizes below", None)),
            amount("own_volume", "My own: gas volume", VOLUME, "qt", 0.5, 12, 3, 0.1).shown_if(_own),
            amount("own_bore", "My own: inside diameter", LENGTH, "in", 2, 10, 4.5, (0.05, 1)).shown_if(_own),
        ]

    def solve(self, at: Setting) -> State:
        volume, bore, stroke = _room(at.vessel, at.own_volume, at.own_bore)
        return {
            "gas": max(at.precharge, at.pressure),
            "room": (volume, bore, stroke),
            "rating": None if at.vessel is None else at.vessel.si.rated_pressure,
            "slow": _stored(volume, at.precharge, AXIS, gas.ISOTHERMAL),
            "fast": _stored(volume, at.precharge, AXIS, gas.ADIABATIC),
            **_held(volume, bore, at.precharge, at.pressure, at.speed),
        }

    def build(self, figure: Figure) -> Parts:
        volume, _, stroke = self.state["room"]
        curve = Graph(
            figure, drawing.RIGHT_HALF, "No oil until the pressure passes the pre-charge",
            ("oil pressure", GAUGE, 0.0, TOP), ("oil in the vessel", OIL, 0.0, 1.02 * volume),
        )  # fmt: skip
        curve.line(AXIS, "slow", color=drawing.BLUE, label="slow fill")
        curve.line(AXIS, "fast", color=drawing.RED, ls="--", label="fast fill")
        curve.line("precharge", [0.0, volume], color=drawing.GREEN, ls=":", label="pre-charge")
        curve.point("pressure", "oil")
        curve.ax.legend(loc="lower right")
        seen = VesselView(figure, stroke)
        inside = Bound(seen, "fraction", "pressure", "gas").grab("pressure", seen.ax, "fraction", seen.middle)
        return [inside, curve]

    def readings(self, state: State) -> list[Reading]:
        return [
            Reading("oil in the vessel", state["oil"], OIL),
            Reading("share of the vessel filled", state["fraction"], PART),
            Reading("gas pressure, gauge", state["gas"], GAUGE),
            Reading("gas pressure, absolute", state["gas_absolute"], ABSOLUTE),
            Reading("piston travel = reading on the rule", state["travel"], DISTANCE),
        ]

    def summary(self, state: State) -> str:
        if state["rating"] is not None and state["gas"] > state["rating"]:
            return (
                f"Stop: {GAUGE.text(state['gas'])} is above the vessel's rating of {GAUGE.text(state['rating'])}. No "
                "number on this page makes that safe."
            )
        if state["pressure"] < state["precharge"]:
            return (
                f"The oil's {GAUGE.text(state['pressure'])} cannot move the piston against a pre-charge of "
                f"{GAUGE.text(state['precharge'])}: it rests at the oil end and the vessel holds no oil."
            )
        return (
            f"Oil and gas stand at the same {GAUGE.text(state['pressure'])}. The gas keeps "
            f"{VOLUME.text(state['room'][0] - state['oil'])}, the oil takes {OIL.text(state['oil'])}: "
            f"{100 * state['fraction']:.0f} % of the vessel."
        )


def _stored(volume: float, precharge: Any, pressure: Any, index: float, **where: float) -> Any:
    return vessel.oil_stored.si(volume, precharge, pressure, polytropic_index=index, resting=True, **where)


def _held(volume: float, bore: float, precharge: float, pressure: float, index: float) -> State:
    """Oil, share filled, travel and absolute gas pressure of a vessel at rest."""
    oil = float(_stored(volume, precharge, pressure, index))
    return {
        "oil": oil,
        "fraction": vessel.fill_fraction.si(oil, volume),
        "travel": vessel.piston_travel.si(oil, bore),
        "gas_absolute": absolute_pressure.si(max(precharge, pressure)),
    }


class FillInTime(MovingPanel):
    """A fill from empty to settled: pumped up to pressure first, then the gas cools and lets a little more in."""

    longest = 60.0
    call = "fill_in_time"
    title = "Watch it fill, from empty to settled"
    alt = "The vessel filling: oil and piston, its two gauges, and the curve of oil in the vessel against time."
    steps = (
        Step(
            "Press Play, or drag the time to 30 s. When is the gas warmest, and when has it cooled?",
            between("time", 30, 60, "s"),
        ),
    )

    def make_controls(self) -> list[Control]:
        return [
            moment("Time since oil was let in", self.longest, 0.05),
            pressure("precharge", "Pre-charge", 0, 25, 10),
            pressure("pressure", "Oil pressure", 30, 120, 35),
            amount("flow", "Oil flow into the vessel", FLOW, "gpm", 1.5, 10, 4, (0.1, 0.5)),
            seconds("tau", "How slowly the gas cools: time constant", 1, 12, 5, 0.5, TIME_CONSTANT),
        ]

    def solve(self, at: Setting) -> State:
        run = (at.precharge, at.pressure, at.flow, at.tau)
        filling = self.kept(run, lambda: self._simulated(*run))  # scrubbing and playing change the moment, not the run
        moment = min(at.time, filling.time[-1])
        oil, temperature, gauge = (
            float(np.interp(moment, filling.time, series))
            for series in (filling.oil, filling.gas_temperature, filling.pressure)
        )
        volume, bore, stroke = room_of(bench_vessel())
        return {
            "filling": filling,
            "moment": moment,
            "oil": oil,
            "temperature": temperature,
            "gas": gauge,
            "room": (volume, stroke),
            "fraction": vessel.fill_fraction.si(oil, volume),
            "travel": vessel.piston_travel.si(oil, bore),
            "oil_dial": max(gauge, 0.0) if moment > 0.0 else 0.0,
        }

    def _simulated(self, precharge: float, pressure: float, flow: float, tau: float) -> SimpleNamespace:
        return in_si(
            vessel.fill(
                bench_vessel(),
                precharge=GAUGE.quantity(precharge),
                pressure=GAUGE.quantity(pressure),
                flow=FLOW.quantity(flow),
                gas_temperature=Q(20, "degC"),
                thermal_time_constant=TIME_CONSTANT.quantity(tau),
            )
        )

    def duration(self) -> float:
        return min(float(self.state["filling"].time[-1]), self.longest)

    def build(self, figure: Figure) -> Parts:
        volume, stroke = self.state["room"]
        curve = Graph(
            figure, drawing.RIGHT_HALF, "The last oil comes as the gas cools",
            ("time", TIME, 0.0, self.longest), ("oil in the vessel", OIL, 0.0, volume),
        )  # fmt: skip
        curve.line("filling.time", "filling.oil", color=drawing.BLUE, label="oil")
        curve.line([0.0, self.longest], "filling.settled_oil", color=drawing.GREEN, ls=":", label="settled")
        reached = {"ms": 9, "color": drawing.RED, "label": "oil pressure reached"}
        curve.line("filling.at_pressure", "filling.prompt_oil", "v", **reached)
        curve.point("moment", "oil")
        curve.ax.legend(loc="lower right")
        return [Bound(VesselView(figure, stroke), "fraction", "oil_dial", "gas"), curve]

    def readings(self, state: State) -> list[Reading]:
        filling = state["filling"]
        return [
            Reading("time", state["moment"], TIME),
            Reading("oil in the vessel", state["oil"], OIL),
            Reading("gas pressure, gauge", state["gas"], GAUGE),
            Reading("gas temperature", state["temperature"], TEMPERATURE),
            Reading("piston travel", state["travel"], DISTANCE),
            Reading("oil pressure reached after", filling.at_pressure, TIME),
            Reading("oil at that moment", filling.prompt_oil, OIL),
            Reading("oil once settled", filling.settled_oil, OIL),
        ]

    def summary(self, state: State) -> str:
        missing = 100.0 * (1.0 - state["filling"].prompt_oil / state["filling"].settled_oil)
        return (
            f"After {TIME.text(state['moment'])} the vessel holds {OIL.text(state['oil'])} and its gas is at "
            f"{TEMPERATURE.text(state['temperature'])}. When the oil pressure was reached, {missing:.0f} % of the "
            "settled oil was still missing: hot gas takes more room."
        )


class ShopToTrack(Panel):
    """A pre-charge set in one place and used in another: temperature and altitude move it."""

    call = "shop_to_track"
    title = "Set in the shop, used at the track"
    alt = "Pre-charge on a dial against gas temperature, with the shop setting and the working point marked."
    steps = (
        Step(
            "Warm the gas at the track to 158 °F (70 °C). What have the 10 psi (0.69 bar) become?",
            between("gas_temperature", 69.4, 70.6, "degC"),
        ),
        Step(
            "Leave it there. Lower the pre-charge set in the shop until the dial at the track shows 10 psi (0.69 bar).",
            both(between("gas_temperature", 69.4, 70.6, "degC"), between("hot", 9.4, 10.6, "psig")),
        ),
    )

    def make_controls(self) -> list[Control]:
        return [
            pressure("precharge", "Pre-charge set in the shop", 0, 30, 10),
            warmth("shop_temperature", "Gas temperature in the shop", -20, 120, 20),
            altitude("shop_altitude", "Altitude of the shop"),
            warmth("gas_temperature", "Gas temperature at the track", -20, 120, 45),
            altitude("track_altitude", "Altitude of the track"),
        ]

    def solve(self, at: Setting) -> State:
        shop, track = ambient_pressure.si(at.shop_altitude), ambient_pressure.si(at.track_altitude)
        warm = np.linspace(COLDEST, HOTTEST, 40)
        moves = at.precharge, at.shop_temperature
        working = vessel.precharge_at_temperature.si
        room = bench_vessel().si.gas_volume
        hot = float(working(*moves, at.gas_temperature, shop, track))
        return {
            "hot": hot,
            "axis": warm,
            "line": working(*moves, warm, shop, track),
            "to_set": float(vessel.precharge_to_set.si(*moves, at.gas_temperature, shop, track)),
            "oil_shop": float(_stored(room, at.precharge, DIAL_AT, gas.ISOTHERMAL, ambient=shop)),
            "oil_track": float(_stored(room, hot, DIAL_AT, gas.ISOTHERMAL, ambient=track)),
        }

    def build(self, figure: Figure) -> Parts:
        graph = Graph(
            figure, drawing.WHOLE, "Shut-in gas: warmer means more pre-charge, higher up means the dial shows more",
            ("gas temperature", TEMPERATURE, COLDEST, HOTTEST),
            ("pre-charge on the dial", GAUGE, us(GAUGE, -6.0), us(GAUGE, 62.0)),
        )  # fmt: skip
        graph.line("axis", "line", color=drawing.BLUE, label="dial at the track")
        graph.line("shop_temperature", "precharge", "s", ms=11, color=drawing.GREEN, label="as set in the shop")
        graph.point("gas_temperature", "hot", ms=12, color=drawing.RED, label="working pre-charge")
        graph.ax.legend(loc="upper left")
        return [graph]

    def readings(self, state: State) -> list[Reading]:
        return [
            Reading("pre-charge in the shop", state["precharge"], GAUGE),
            Reading("pre-charge at the track", state["hot"], GAUGE),
            Reading("to have the shop figure at the track, set", state["to_set"], GAUGE),
            Reading("oil with the shop's pre-charge", state["oil_shop"], OIL),
            Reading("oil with the track's pre-charge", state["oil_track"], OIL),
        ]

    def summary(self, state: State) -> str:
        cold, warm = (TEMPERATURE.text(state[key]) for key in ("shop_temperature", "gas_temperature"))
        return (
            f"{GAUGE.text(state['precharge'])} set with the gas at {cold} becomes {GAUGE.text(state['hot'])} with "
            f"the gas at {warm}. It is the gas temperature that counts, not the oil's: a vessel "
            "away from the engine stays far cooler than its oil. The oil is that of the bench vessel at "
            f"{GAUGE.text(DIAL_AT)}."
        )


class CheapGauge(Panel):
    """What the error of a gauge does to a pre-charge, and so to the oil."""

    call = "cheap_gauge"
    title = "What a cheap gauge does to your setting"
    alt = "Oil stored against true pre-charge, with the band of pre-charges that the gauge cannot tell apart."
    steps = (
        Step(
            "Take a gauge up to 60 psi (4 bar), of class 2.5. How far off may it be now?",
            both(between("full_scale", 57.5, 62.5, "psig"), between("accuracy", 2.45, 2.55)),
        ),
        Step(
            "Take one up to 160 psi (11 bar), of class 1. Which of the two is better for 10 psi (0.69 bar)?",
            both(between("full_scale", 157, 163, "psig"), between("accuracy", 0.95, 1.05)),
        ),
    )

    def make_controls(self) -> list[Control]:
        return [
            pressure("precharge", "Pre-charge", 0, 50, 10),
            pressure("full_scale", "Full scale of the gauge", 60, 200, 160, (5, 0.5)),
            amount("accuracy", "Accuracy class, of full scale", ACCURACY, "percent", 0.1, 5, 2.5, 0.1),
            pressure("pressure", "Oil pressure", 0, 120, 50),
        ]

    def solve(self, at: Setting) -> State:
        room = bench_vessel().si.gas_volume
        error = gauge_error.si(at.full_scale, at.accuracy)
        span = np.array([max(at.precharge - error, 0.0), at.precharge, at.precharge + error])
        axis = np.linspace(0.0, SCALE, 91)
        return {
            "error": error,
            "span": span,
            "oil": _stored(room, span, at.pressure, gas.ISOTHERMAL),
            "axis": axis,
            "curve": _stored(room, axis, at.pressure, gas.ISOTHERMAL),
        }

    def build(self, figure: Figure) -> Parts:
        graph = Graph(
            figure, drawing.WHOLE, "The gauge's error is a share of its full scale, wherever the needle stands",
            ("true pre-charge", GAUGE, 0.0, SCALE),
            ("oil in the bench vessel", OIL, 0.0, bench_vessel().si.gas_volume),
        )  # fmt: skip
        band = {"fc": drawing.YELLOW, "alpha": 0.6, "hatch": "//", "ec": drawing.GREY, "label": "could be"}
        graph.span(lambda s: s["span"][0], lambda s: s["span"][2], **band)
        graph.line("axis", "curve", color=drawing.BLUE, label="oil stored")
        worst = {"ms": 9, "ls": "none", "color": drawing.RED, "label": "worst cases"}
        graph.line(lambda s: s["span"][::2], lambda s: s["oil"][::2], "D", **worst)
        graph.point("precharge", lambda s: s["oil"][1], label="what you read")
        graph.ax.legend(loc="upper right")
        return [graph]

    def readings(self, state: State) -> list[Reading]:
        low, _, high = state["span"]
        most, wanted, least = state["oil"]
        return [
            Reading("largest error of the gauge, ±", state["error"], PRESSURE_DIFFERENCE),
            Reading("lowest true pre-charge", low, GAUGE),
            Reading("highest true pre-charge", high, GAUGE),
            Reading("oil if the gauge is right", wanted, OIL),
            Reading("oil at the lowest pre-charge", most, OIL),
            Reading("oil at the highest pre-charge", least, OIL),
        ]

    def summary(self, state: State) -> str:
        low, charge, high = state["span"]
        return (
            f"You read {GAUGE.text(charge)}. The true pre-charge lies anywhere from {GAUGE.text(low)} to "
            f"{GAUGE.text(high)}. A low-range gauge of the same class shrinks that band."
        )
