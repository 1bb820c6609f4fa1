"""Panels of lesson 02: the vessel cut open, filling it in time, from shop to track, and a cheap gauge."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.figure import Figure

from oilkit.panels.framework import drawing
from oilkit.panels.framework.base import Panel
from oilkit.panels.framework.bound import Reading, Setting, State
from oilkit.panels.framework.controls import Amount, Choice, Control
from oilkit.panels.framework.moving import MovingPanel
from oilkit.panels.framework.vessel_view import TOP, VesselView, room_of
from oilkit.physics import gas, vessel
from oilkit.physics.catalog import bench_vessel, vessels
from oilkit.physics.pressure import absolute_pressure, ambient_pressure, gauge_error
from oilkit.physics.vessel import Vessel
from oilkit.quantities.kinds import (
    ABSOLUTE,
    ALTITUDE,
    DISTANCE,
    FLOW,
    FRACTION,
    GAUGE,
    LENGTH,
    OIL,
    PRESSURE_DIFFERENCE,
    TEMPERATURE,
    TIME,
    TIME_CONSTANT,
    VOLUME,
    Kind,
)
from oilkit.quantities.units import Q

ACCURACY = Kind("an accuracy class", "percent", "percent", 1, "percent", 1, "Q(2.5, 'percent')")


def _precharge(start: float = 10.0) -> Amount:
    return Amount("precharge", "Pre-charge", GAUGE, Q(0, "psig"), Q(50, "psig"), Q(start, "psig"), (0.5, 0.02))


def _pressure(start: float = 35.0, low: float = 0.0) -> Amount:
    return Amount("pressure", "Oil pressure", GAUGE, Q(low, "psig"), Q(120, "psig"), Q(start, "psig"), (0.5, 0.02))


def _vessel_choice() -> Choice:
    own: list[tuple[str, Vessel | None]] = [("my own vessel, with the sizes below", None)]
    return Choice("vessel", "Vessel", [*((v.name, v) for v in vessels().values()), *own], listed=True)


def _room(chosen: Vessel | None, own_volume: float, own_bore: float) -> tuple[float, float, float]:
    """Gas volume, bore and stroke in SI, of a vessel from the data or the learner's own."""
    if chosen is not None:
        return room_of(chosen)
    return own_volume, own_bore, float(vessel.piston_travel.si(own_volume, own_bore))


class FillingPanel(Panel):
    """The vessel at rest: pre-charge and oil pressure decide how much oil is in it."""

    call = "filling"
    title = "Inside the vessel: pre-charge against oil pressure"
    alt = "The vessel cut open with oil, piston and gas, its two gauges, and the curve of oil stored against pressure."

    def make_controls(self) -> Sequence[Control]:
        return [
            _precharge(),
            _pressure(),
            Choice("speed", "Filled", [("slowly (settled)", gas.ISOTHERMAL), ("fast (gas still hot)", gas.ADIABATIC)]),
            _vessel_choice(),
            Amount("own_volume", "My own: gas volume", VOLUME, Q(0.5, "qt"), Q(12, "qt"), Q(3, "qt"), (0.1, 0.1)),
            Amount("own_bore", "My own: inside diameter", LENGTH, Q(2, "in"), Q(10, "in"), Q(4.5, "in"), (0.05, 1)),
        ]

    def solve(self, at: Setting) -> State:
        volume, bore, stroke = _room(at.vessel, at.own_volume, at.own_bore)
        axis = np.linspace(0.0, TOP, 81)
        return {
            "gas": max(at.precharge, at.pressure),
            "room": (volume, bore, stroke),
            "rating": None if at.vessel is None else at.vessel.si.rated_pressure,
            "index": at.speed,
            "axis": axis,
            "slow": _stored(volume, at.precharge, axis, gas.ISOTHERMAL),
            "fast": _stored(volume, at.precharge, axis, gas.ADIABATIC),
            **_held(volume, bore, at.precharge, at.pressure, at.speed),
        }

    def redraw_key(self, state: State) -> Any:
        return state["room"]

    def build(self, figure: Figure) -> Iterable[Artist]:
        volume, _, stroke = self.state["room"]
        self._view = VesselView(figure, stroke)
        curve = drawing.graph(
            figure.add_axes((0.6, 0.15, 0.385, 0.75)),
            "No oil until the pressure passes the pre-charge",
            f"oil pressure ({GAUGE.label()})",
            f"oil in the vessel ({OIL.label()})",
        )
        curve.set_xlim(0.0, float(GAUGE.display(TOP)))
        curve.set_ylim(0.0, float(OIL.display(volume)) * 1.02)
        (self._slow,) = curve.plot([], [], color=drawing.BLUE, label="slow fill")
        (self._fast,) = curve.plot([], [], color=drawing.RED, ls="--", label="fast fill")
        (self._point,) = curve.plot([], [], "o", ms=11, color=drawing.BLACK, clip_on=False)
        (self._charge,) = curve.plot([], [], color=drawing.GREEN, ls=":", label="pre-charge")
        curve.legend(loc="lower right")
        return [
            *self._view.moving,
            self._slow,
            self._fast,
            self._charge,
            self._point,
        ]

    def update_artists(self, state: State) -> None:
        self._view.show(state["fraction"], state["pressure"], state["gas"])
        axis, volume = GAUGE.display(state["axis"]), state["room"][0]
        self._slow.set_data(axis, OIL.display(state["slow"]))
        self._fast.set_data(axis, OIL.display(state["fast"]))
        charge = float(GAUGE.display(state["precharge"]))
        self._charge.set_data([charge, charge], [0.0, OIL.display(volume)])
        self._point.set_data([GAUGE.display(state["pressure"])], [OIL.display(state["oil"])])

    def readings(self, state: State) -> Sequence[Reading]:
        return [
            Reading("oil in the vessel", state["oil"], OIL),
            Reading("share of the vessel filled", state["fraction"], FRACTION),
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
            f"{VOLUME.text(state['room'][0] - state['oil'])}, the oil has {OIL.text(state['oil'])}: "
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

    def make_controls(self) -> Sequence[Control]:
        seconds = Q(1, "s"), Q(12, "s"), Q(5, "s")
        return [
            Amount(
                "time",
                "Time since oil was let in",
                TIME,
                Q(0, "s"),
                Q(self.longest, "s"),
                Q(0, "s"),
                (0.05, 0.05),
                typed=False,
            ),
            Amount("precharge", "Pre-charge", GAUGE, Q(0, "psig"), Q(25, "psig"), Q(10, "psig"), (0.5, 0.02)),
            _pressure(low=30.0),
            Amount("flow", "Oil flow into the vessel", FLOW, Q(1.5, "gpm"), Q(10, "gpm"), Q(4, "gpm"), (0.1, 0.5)),
            Amount("tau", "How slowly the gas cools: time constant", TIME_CONSTANT, *seconds, (0.5, 0.5)),
        ]

    def solve(self, at: Setting) -> State:
        run = (at.precharge, at.pressure, at.flow, at.tau)
        if self.state.get("run") != run:  # scrubbing and playing change the moment, not the run
            self._history = self._simulated(*run)
        history = self._history
        moment = min(at.time, history["time"][-1])
        now = {
            key: float(np.interp(moment, history["time"], history[key])) for key in ("oil", "temperature", "pressure")
        }
        return {
            "run": run,
            "moment": moment,
            **now,
            "end": history["end"],
            "fraction": vessel.fill_fraction.si(now["oil"], history["volume"]),
            "travel": vessel.piston_travel.si(now["oil"], history["bore"]),
            "oil_dial": max(now["pressure"], 0.0) if moment > 0.0 else 0.0,
        }

    def _simulated(self, precharge: float, pressure: float, flow: float, tau: float) -> State:
        bench = bench_vessel()
        volume, bore, stroke = room_of(bench)
        filling = vessel.fill(
            bench,
            precharge=GAUGE.quantity(precharge),
            pressure=GAUGE.quantity(pressure),
            flow=FLOW.quantity(flow),
            gas_temperature=Q(20, "degC"),
            thermal_time_constant=TIME_CONSTANT.quantity(tau),
        )
        return {
            "time": filling.time.to("s").m,
            "oil": filling.oil.to("m**3").m,
            "temperature": filling.gas_temperature.to("K").m,
            "pressure": filling.pressure.to("Pag").m,
            "volume": volume,
            "bore": bore,
            "stroke": stroke,
            "end": {
                "at_pressure": float(filling.at_pressure.to("s").m),
                "prompt": float(filling.prompt_oil.to("m**3").m),
                "settled": float(filling.settled_oil.to("m**3").m),
            },
        }

    def duration(self) -> float:
        return min(float(self._history["time"][-1]), self.longest)

    def build(self, figure: Figure) -> Iterable[Artist]:
        self._view = VesselView(figure, self._history["stroke"])
        curve = drawing.graph(
            figure.add_axes((0.6, 0.15, 0.385, 0.75)),
            "The last oil comes as the gas cools",
            "time (s)",
            f"oil in the vessel ({OIL.label()})",
        )
        curve.set_xlim(0.0, self.longest)
        curve.set_ylim(0.0, float(OIL.display(self._history["volume"])))
        (self._line,) = curve.plot([], [], color=drawing.BLUE, label="oil")
        (self._settled,) = curve.plot([], [], color=drawing.GREEN, ls=":", label="settled")
        (self._point,) = curve.plot([], [], "o", ms=11, color=drawing.BLACK, clip_on=False)
        (self._reached,) = curve.plot([], [], "v", ms=9, color=drawing.RED, label="oil pressure reached")
        curve.legend(loc="lower right")
        moving = [self._line, self._settled, self._reached, self._point]
        return [*self._view.moving, *moving]

    def update_artists(self, state: State) -> None:
        history, end = self._history, state["end"]
        self._view.show(state["fraction"], state["oil_dial"], state["pressure"])
        self._line.set_data(history["time"], OIL.display(history["oil"]))
        self._settled.set_data([0.0, self.longest], [OIL.display(end["settled"])] * 2)
        self._reached.set_data([end["at_pressure"]], [OIL.display(end["prompt"])])
        self._point.set_data([state["moment"]], [OIL.display(state["oil"])])

    def readings(self, state: State) -> Sequence[Reading]:
        end = state["end"]
        return [
            Reading("time", state["moment"], TIME),
            Reading("oil in the vessel", state["oil"], OIL),
            Reading("gas pressure, gauge", state["pressure"], GAUGE),
            Reading("gas temperature", state["temperature"], TEMPERATURE),
            Reading("piston travel", state["travel"], DISTANCE),
            Reading("oil pressure reached after", end["at_pressure"], TIME),
            Reading("oil at that moment", end["prompt"], OIL),
            Reading("oil once settled", end["settled"], OIL),
        ]

    def summary(self, state: State) -> str:
        end = state["end"]
        missing = 100.0 * (1.0 - end["prompt"] / end["settled"])
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

    def make_controls(self) -> Sequence[Control]:
        def warmth(name: str, label: str, start: float) -> Amount:
            return Amount(name, label, TEMPERATURE, Q(-20, "degC"), Q(120, "degC"), Q(start, "degC"), (2, 1))

        def height(name: str, label: str) -> Amount:
            return Amount(name, label, ALTITUDE, Q(0, "ft"), Q(10_000, "ft"), Q(0, "ft"), (100, 50))

        return [
            Amount(
                "precharge",
                "Pre-charge set in the shop",
                GAUGE,
                Q(0, "psig"),
                Q(30, "psig"),
                Q(10, "psig"),
                (0.5, 0.02),
            ),
            warmth("shop_temperature", "Gas temperature in the shop", 20.0),
            height("shop_altitude", "Altitude of the shop"),
            warmth("gas_temperature", "Gas temperature at the track", 45.0),
            height("track_altitude", "Altitude of the track"),
        ]

    def solve(self, at: Setting) -> State:
        shop, track = ambient_pressure.si(at.shop_altitude), ambient_pressure.si(at.track_altitude)
        axis = np.linspace(253.15, 393.15, 40)
        working = vessel.precharge_at_temperature.si
        room = bench_vessel().si.gas_volume
        hot = float(working(at.precharge, at.shop_temperature, at.gas_temperature, shop, track))
        pressure = float(GAUGE.from_display(50.0, "US"))
        return {
            "shop": (at.shop_temperature, at.precharge),
            "track": (at.gas_temperature, hot),
            "axis": axis,
            "line": working(at.precharge, at.shop_temperature, axis, shop, track),
            "to_set": float(
                vessel.precharge_to_set.si(at.precharge, at.shop_temperature, at.gas_temperature, shop, track)
            ),
            "oil_shop": float(_stored(room, at.precharge, pressure, gas.ISOTHERMAL, ambient=shop)),
            "oil_track": float(_stored(room, hot, pressure, gas.ISOTHERMAL, ambient=track)),
            "ambient": (shop, track),
            "pressure": pressure,
        }

    def build(self, figure: Figure) -> Iterable[Artist]:
        graph = drawing.graph(
            figure.add_axes((0.09, 0.15, 0.88, 0.75)),
            "Shut-in gas: warmer means more pre-charge, higher up means the dial shows more",
            f"gas temperature ({TEMPERATURE.label()})",
            f"pre-charge on the dial ({GAUGE.label()})",
        )
        graph.set_xlim(*(float(TEMPERATURE.display(t)) for t in (253.15, 393.15)))
        graph.set_ylim(*(float(GAUGE.display(GAUGE.from_display(p, "US"))) for p in (-6.0, 62.0)))
        (self._line,) = graph.plot([], [], color=drawing.BLUE, label="dial at the track")
        (self._shop,) = graph.plot([], [], "s", ms=11, color=drawing.GREEN, label="as set in the shop")
        (self._track,) = graph.plot([], [], "o", ms=12, color=drawing.RED, clip_on=False, label="working pre-charge")
        graph.legend(loc="upper left")
        return [self._line, self._shop, self._track]

    def update_artists(self, state: State) -> None:
        self._line.set_data(TEMPERATURE.display(state["axis"]), GAUGE.display(state["line"]))
        for point, (temperature, charge) in ((self._shop, state["shop"]), (self._track, state["track"])):
            point.set_data([TEMPERATURE.display(temperature)], [GAUGE.display(charge)])

    def readings(self, state: State) -> Sequence[Reading]:
        return [
            Reading("pre-charge in the shop", state["shop"][1], GAUGE),
            Reading("pre-charge at the track", state["track"][1], GAUGE),
            Reading("to have the shop figure at the track, set", state["to_set"], GAUGE),
            Reading("oil with the shop's pre-charge", state["oil_shop"], OIL),
            Reading("oil with the track's pre-charge", state["oil_track"], OIL),
        ]

    def summary(self, state: State) -> str:
        (cold, charge), (warm, hot) = state["shop"], state["track"]
        return (
            f"{GAUGE.text(charge)} set with the gas at {TEMPERATURE.text(cold)} becomes {GAUGE.text(hot)} with "
            f"the gas at {TEMPERATURE.text(warm)}. It is the gas temperature that counts, not the oil's: a vessel "
            "away from the engine stays far cooler than its oil. The oil is that of the bench vessel at "
            f"{GAUGE.text(state['pressure'])}."
        )


class CheapGauge(Panel):
    """What the error of a gauge does to a pre-charge, and so to the oil."""

    call = "cheap_gauge"
    title = "What a cheap gauge does to your setting"
    alt = "Oil stored against true pre-charge, with the band of pre-charges that the gauge cannot tell apart."

    def make_controls(self) -> Sequence[Control]:
        scales = Q(60, "psig"), Q(200, "psig"), Q(160, "psig")
        classes = Q(0.1, "percent"), Q(5, "percent"), Q(2.5, "percent")
        return [
            _precharge(),
            Amount("full_scale", "Full scale of the gauge", GAUGE, *scales, (5, 0.5)),
            Amount("accuracy", "Accuracy class, of full scale", ACCURACY, *classes, (0.1, 0.1)),
            _pressure(50.0),
        ]

    def solve(self, at: Setting) -> State:
        room = bench_vessel().si.gas_volume
        error = gauge_error.si(at.full_scale, at.accuracy)
        span = np.array([max(at.precharge - error, 0.0), at.precharge, at.precharge + error])
        axis = np.linspace(0.0, float(GAUGE.from_display(45.0, "US")), 91)
        return {
            "error": error,
            "span": span,
            "oil": _stored(room, span, at.pressure, gas.ISOTHERMAL),
            "axis": axis,
            "curve": _stored(room, axis, at.pressure, gas.ISOTHERMAL),
            "room": room,
        }

    def build(self, figure: Figure) -> Iterable[Artist]:
        graph = drawing.graph(
            figure.add_axes((0.09, 0.15, 0.88, 0.75)),
            "The gauge's error is a share of its full scale, wherever the needle stands",
            f"true pre-charge ({GAUGE.label()})",
            f"oil in the bench vessel ({OIL.label()})",
        )
        graph.set_xlim(0.0, float(GAUGE.display(GAUGE.from_display(45.0, "US"))))
        graph.set_ylim(0.0, float(OIL.display(bench_vessel().si.gas_volume)))
        self._band = graph.axvspan(
            0.0, 1.0, fc=drawing.YELLOW, alpha=0.6, hatch="//", ec=drawing.GREY, label="could be"
        )
        (self._curve,) = graph.plot([], [], color=drawing.BLUE, label="oil stored")
        (self._ends,) = graph.plot([], [], "D", ms=9, ls="none", color=drawing.RED, label="worst cases")
        (self._wanted,) = graph.plot([], [], "o", ms=11, color=drawing.BLACK, clip_on=False, label="what you read")
        graph.legend(loc="upper right")
        return [self._band, self._curve, self._ends, self._wanted]

    def update_artists(self, state: State) -> None:
        charge, oil = GAUGE.display(state["span"]), OIL.display(state["oil"])
        self._band.set_x(charge[0])
        self._band.set_width(charge[2] - charge[0])
        self._curve.set_data(GAUGE.display(state["axis"]), OIL.display(state["curve"]))
        self._ends.set_data(charge[[0, 2]], oil[[0, 2]])
        self._wanted.set_data([charge[1]], [oil[1]])

    def readings(self, state: State) -> Sequence[Reading]:
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
