"""Panels of lesson 06: the pump lets go, the first dip under the microscope, and a map of how it ends."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.figure import Figure
from matplotlib.patheffects import withStroke

from oilkit.panels.framework import drawing
from oilkit.panels.framework.base import Panel, Reading, State
from oilkit.panels.framework.controls import Amount, Choice, Control
from oilkit.panels.framework.moving import MovingPanel
from oilkit.panels.framework.vessel_view import room_of
from oilkit.physics.catalog import bench_vessel, engines, fittings, hoses, lubricants
from oilkit.physics.dip import NOT_VALID, ROUGH, Dip, first_dip
from oilkit.physics.discharging import CONDITIONS, EMPTY, LASTS, LIMIT_REACHED, Installation, discharge
from oilkit.physics.engine import Engine
from oilkit.physics.line import Hose, SupplyLine
from oilkit.quantities.kinds import (
    CLEARANCE_CHANGE,
    DISTANCE,
    GAUGE,
    LINE_LENGTH,
    OIL,
    PRESSURE_DIFFERENCE,
    SPEED,
    TEMPERATURE,
    THROUGH_FLOW,
    TIME,
    TIME_CONSTANT,
    Kind,
    one_to_si,
)
from oilkit.quantities.units import Q

MILLISECONDS = Kind("a time", "s", "ms", 1, "ms", 1, "Q(20, 'ms')", low=0.0)
AIR = Kind("a share of air", "percent", "percent", 1, "percent", 1, "Q(5, 'percent')", low=0.0, high=100.0)

LONGEST = 60.0
"""Seconds for which a discharge is followed."""
MOMENTS = np.unique(np.concatenate([np.linspace(0, 1, 101), np.linspace(1, 10, 181), np.linspace(10, LONGEST, 251)]))
TOP = float(GAUGE.from_display(70.0, "US"))
TOLERANCE = one_to_si("tolerance", CONDITIONS["tolerance"][1], TIME)
START = float(GAUGE.from_display(60.0, "US"))


def line_of(hose: Hose, length: float) -> SupplyLine:
    """The lesson's line: a hose with a reduced-bore valve and an engine port."""
    known = fittings()
    return SupplyLine(hose, LINE_LENGTH.quantity(length), (known["reduced_valve"], known["port"]))


def built(engine: Engine, line: SupplyLine) -> Installation:
    """The lesson's installation: any engine on street oil and the bench vessel."""
    return Installation(engine, lubricants()["street"], bench_vessel(), line)


def _engine() -> Choice:
    known = engines()
    control = Choice("engine", "Engine", [(e.name, e) for e in known.values()], listed=True)
    control.set_si(known.get("street_v8", next(iter(known.values()))))
    return control


def _charge(start: float) -> Amount:
    return Amount("precharge", "Pre-charge", GAUGE, Q(2, "psig"), Q(45, "psig"), Q(start, "psig"), (0.5, 0.02))


def _clearance() -> Amount:
    ends = Q(-1, "thou"), Q(2, "thou"), Q(0, "thou")
    return Amount("clearance", "Mains and rods: clearance changed by", CLEARANCE_CHANGE, *ends, (0.1, 0.002))


def _sump() -> Amount:
    ends = Q(40, "degC"), Q(140, "degC"), Q(100, "degC")
    return Amount("sump", "Oil temperature in the sump", TEMPERATURE, *ends, (2, 1))


def _tau(low: float, high: float, start: float, step: float) -> Amount:
    ends = Q(low, "s"), Q(high, "s"), Q(start, "s")
    return Amount("tau", "How slowly the gas warms: time constant", TIME_CONSTANT, *ends, (step, step))


def _speed() -> Amount:
    ends = Q(500, "rpm"), Q(8000, "rpm"), Q(3000, "rpm")
    return Amount("speed", "Engine speed", SPEED, *ends, (100, 100))


def _length(high: float) -> Amount:
    ends = Q(1, "ft"), Q(high, "ft"), Q(6, "ft")
    return Amount("length", "Length of the line", LINE_LENGTH, *ends, (0.5, 0.1))


def _finite(name: str, value: float, kind: Kind) -> Reading:
    """A time, or in words that it did not come."""
    return Reading(name, value, kind) if math.isfinite(value) else Reading(name, f"not within {LONGEST:.0f} s")


class PumpLetsGo(MovingPanel):
    """The pump loses its oil; the vessel feeds the engine, in real time."""

    title = "The pump lets go"
    alt = (
        "The vessel cut open with oil and piston, gauges at vessel and gallery, and gallery pressure against time "
        "with the engine's limit, the end of the protected time and the moment when the vessel is empty."
    )
    size = (10.0, 4.4)

    def make_controls(self) -> Sequence[Control]:
        seconds = Q(0, "s"), Q(LONGEST, "s"), Q(0, "s")
        return [
            Amount("time", "Time since the pump let go", TIME, *seconds, (0.02, 0.02), typed=False),
            _charge(10.0),
            _clearance(),
            _sump(),
            _length(25.0),
            _tau(0.5, 20.0, 5.0, 0.5),
            _speed(),
            _engine(),
        ]

    def solve(
        self,
        time: float,
        precharge: float,
        clearance: float,
        sump: float,
        length: float,
        tau: float,
        speed: float,
        engine: Engine,
    ) -> State:
        run = (precharge, clearance, sump, length, tau, speed, engine)
        if self.state.get("run") != run:  # scrubbing and playing change the moment, not the run
            self._history = self._followed(*run)
        history = self._history
        moment = min(time, history["span"])
        names = ("gallery", "gas", "oil", "line", "engine_flow", "temperature")
        now = {name: float(np.interp(moment, MOMENTS, history[name])) for name in names}
        return {"run": run, "moment": moment, "fraction": now["oil"] / history["room"], **now}

    def _followed(
        self,
        precharge: float,
        clearance: float,
        sump: float,
        length: float,
        tau: float,
        speed: float,
        engine: Engine,
    ) -> State:
        went = discharge(
            built(engine, line_of(hoses()["trade_12"], length)),
            duration=TIME.quantity(LONGEST),
            samples=TIME.quantity(MOMENTS),
            precharge=GAUGE.quantity(precharge),
            pressure=GAUGE.quantity(START),
            clearance_change=CLEARANCE_CHANGE.quantity(clearance),
            sump_temperature=TEMPERATURE.quantity(sump),
            thermal_time_constant=TIME_CONSTANT.quantity(tau),
            speed=SPEED.quantity(speed),
            limit=engine.warning,
        )
        h = went.history
        assert h is not None
        protected, empty = float(went.protected_time.m_as("s")), float(went.empty_after.m_as("s"))
        room, _, stroke = room_of(bench_vessel())
        reaches = protected if math.isfinite(protected) else LONGEST
        return {
            "gallery": h.gallery_pressure.m_as(GAUGE.si),
            "gas": h.gas_pressure.m_as(GAUGE.si),
            "oil": h.oil.m_as(OIL.si),
            "line": h.line_flow.m_as(THROUGH_FLOW.si),
            "engine_flow": h.engine_flow.m_as(THROUGH_FLOW.si),
            "temperature": h.gas_temperature.m_as(TEMPERATURE.si),
            "protected": protected,
            "empty": empty,
            "ending": went.ending,
            "used": float(went.oil_used.m_as(OIL.si)),
            "limit": engine.si.warning,
            "room": room,
            "stroke": stroke,
            "span": next((s for s in (2.0, 5.0, 10.0, 20.0, 40.0) if s >= 1.15 * reaches), LONGEST),
        }

    def duration(self) -> float:
        return float(self._history["span"])

    def redraw_key(self, state: State) -> Any:
        return self._history["span"], self._history["limit"]

    def build(self, figure: Figure) -> Iterable[Artist]:
        h = self._history
        cut = figure.add_axes((0.0, 0.47, 0.48, 0.51))
        self._cut = drawing.Cutaway(cut, float(DISTANCE.display(h["stroke"])), DISTANCE.label())
        top = float(GAUGE.display(TOP))
        self._gas = drawing.Dial(figure.add_axes((0.02, 0.0, 0.2, 0.46)), "at the vessel (gas)", GAUGE.label(), top)
        self._oil = drawing.Dial(figure.add_axes((0.26, 0.0, 0.2, 0.46)), "at the gallery", GAUGE.label(), top)
        curve = drawing.framed(
            figure,
            (0.555, 0.14, 0.43, 0.61),
            "Protected until the gallery falls below the limit",
            ("time since the pump let go (s)", 0.0, h["span"]),
            (f"gallery pressure ({GAUGE.label()})", 0.0, top),
        )
        limit = float(GAUGE.display(h["limit"]))
        curve.axhspan(0.0, limit, fc=drawing.YELLOW, alpha=0.4, hatch="xx", ec=drawing.GREY, label="below the limit")
        (self._behind,) = curve.plot([], [], color=drawing.GREEN, ls="--", lw=1.6, label="gas in the vessel")
        (self._line,) = curve.plot([], [], color=drawing.BLUE, label="gallery")
        (self._end,) = curve.plot([], [], color=drawing.RED, marker="v", ms=9, markevery=[0], label="protected to here")
        (self._home,) = curve.plot([], [], "s", ms=9, color=drawing.PURPLE, mec=drawing.BLACK, label="vessel empty")
        (self._point,) = curve.plot([], [], "o", ms=10, color=drawing.BLACK, clip_on=False, label="now")
        curve.legend(loc="lower left", bbox_to_anchor=(-0.13, 0.98), ncols=3, columnspacing=1.0, handlelength=1.8)
        curve.set_title(curve.get_title(loc="left"), loc="left", x=-0.12, pad=44.0)
        moving = [self._behind, self._line, self._end, self._home, self._point]
        return [*self._cut.moving, *self._gas.moving, *self._oil.moving, *moving]

    def update_artists(self, state: State) -> None:
        h = self._history
        self._cut.show(state["fraction"])
        self._gas.show(float(GAUGE.display(state["gas"])))
        self._oil.show(float(GAUGE.display(max(state["gallery"], 0.0))))
        seen = h["span"] * 1.02 >= MOMENTS
        times = MOMENTS[seen]
        self._line.set_data(times, GAUGE.display(h["gallery"][seen]))
        self._behind.set_data(times, GAUGE.display(h["gas"][seen]))
        protected, top = h["protected"], float(GAUGE.display(TOP))
        self._end.set_data(*(([protected] * 2, [top * 0.95, 0.0]) if math.isfinite(protected) else ([], [])))
        empty = h["empty"]
        home = ([empty], [GAUGE.display(np.interp(empty, MOMENTS, h["gas"]))]) if empty < h["span"] else ([], [])
        self._home.set_data(*home)
        self._point.set_data([state["moment"]], [GAUGE.display(max(state["gallery"], 0.0))])

    def readings(self, state: State) -> Sequence[Reading]:
        h = self._history
        return [
            _finite("protected time", h["protected"], TIME),
            Reading("it ends with", h["ending"]),
            _finite("vessel empty after", h["empty"], TIME),
            Reading("oil used by then", h["used"], OIL),
            Reading("now: time", state["moment"], TIME),
            Reading("gallery pressure", state["gallery"], GAUGE),
            Reading("gas pressure", state["gas"], GAUGE),
            Reading("flow out of the vessel", state["line"], THROUGH_FLOW),
            Reading("flow into the engine", state["engine_flow"], THROUGH_FLOW),
            Reading("oil left in the vessel", state["oil"], OIL),
            Reading("gas temperature", state["temperature"], TEMPERATURE),
        ]

    def summary(self, state: State) -> str:
        h = self._history
        limit = GAUGE.text(h["limit"])
        start = f"After {TIME.text(state['moment'])} the gallery stands at {GAUGE.text(state['gallery'])}, "
        start += f"{OIL.text(state['oil'])} are left. "
        if h["ending"] == LASTS:
            return f"{start}The pressure stays above {limit} for {LONGEST:.0f} s."
        if h["ending"] == EMPTY:
            return (
                f"{start}The vessel is empty after {TIME.text(h['empty'])} and the pressure drops away: the engine was "
                f"protected for {TIME.text(h['protected'])}."
            )
        left = float(np.interp(h["protected"], MOMENTS, h["oil"]))
        return (
            f"{start}After {TIME.text(h['protected'])} the pressure has fallen below {limit}, with {OIL.text(left)} "
            "still inside: they come too late."
        )


class DipMicroscope(Panel):
    """The first tenth of a second: the pump goes, and the oil in the line has yet to get going."""

    title = "The dip under the microscope: the first 100 milliseconds"
    alt = (
        "Left: gallery pressure against time in milliseconds, with and without the weight of the line's oil, and the "
        "deepest point. Right: flow of the pump, out of the vessel and into the engine."
    )
    size = (10.0, 4.2)

    def make_controls(self) -> Sequence[Control]:
        decay = Q(0, "ms"), Q(200, "ms"), Q(20, "ms")
        air = Q(0.2, "percent"), Q(20, "percent"), Q(5, "percent")
        known = hoses()
        hose = Choice("hose", "Hose", [(h.name, h) for h in known.values()], listed=True)
        hose.set_si(known.get("trade_12", next(iter(known.values()))))
        cold = Q(0, "degC"), Q(100, "degC"), Q(60, "degC")
        return [
            Amount("decay", "The pump's flow fades within", MILLISECONDS, *decay, (5, 5)),
            _length(25.0),
            Amount("air", "Air in the gallery's oil", AIR, *air, (0.2, 0.2)),
            Amount("line_temperature", "Temperature of the line's oil", TEMPERATURE, *cold, (2, 1)),
            hose,
            _engine(),
        ]

    def solve(
        self, decay: float, length: float, air: float, line_temperature: float, hose: Hose, engine: Engine
    ) -> State:
        dip = first_dip(
            built(engine, line_of(hose, length)),
            pressure=GAUGE.quantity(START),
            pump_decay=TIME.quantity(decay),
            air_in_gallery=AIR.quantity(air),
            line_temperature=TEMPERATURE.quantity(line_temperature),
            limit=engine.warning,
        )
        return {
            "dip": dip,
            "decay": decay,
            "limit": engine.si.warning,
            "depth": float(dip.depth.m_as("Pa")),
            "lowest": float(dip.lowest_pressure.m_as(GAUGE.si)),
            "at": float(dip.deepest_at.m_as("s")),
            "lasts": float(dip.duration.m_as("s")),
            "below": float(dip.time_below.m_as("s")),
            "trip": float(dip.round_trip.m_as("s")),
        }

    def redraw_key(self, state: State) -> Any:
        return state["limit"]

    def build(self, figure: Figure) -> Iterable[Artist]:
        low, top = (float(GAUGE.display(GAUGE.from_display(psi, "US"))) for psi in (-15.0, 70.0))
        place: Any = {"loc": "lower left", "bbox_to_anchor": (-0.12, 0.98), "columnspacing": 1.0, "handlelength": 1.8}
        curve = drawing.framed(
            figure,
            (0.075, 0.145, 0.50, 0.61),
            "The pressure dips until the line's oil has got going",
            ("time since the pump began to fade (ms)", 0.0, 100.0),
            (f"gallery pressure ({GAUGE.label()})", low, top),
        )
        curve.axhspan(
            0.0, float(GAUGE.display(self.state["limit"])), fc=drawing.YELLOW, alpha=0.4, hatch="xx", ec=drawing.GREY,
            label="below the limit",
        )  # fmt: skip
        curve.axhspan(low, 0.0, fc=drawing.PALE, hatch="//", ec=drawing.GREY, label="below the air's: model not valid")
        (self._ideal,) = curve.plot([], [], color=drawing.GREEN, ls="--", label="if the line's oil weighed nothing")
        (self._real,) = curve.plot([], [], color=drawing.BLUE, label="gallery")
        (self._depth,) = curve.plot([], [], color=drawing.RED, marker="_", ms=12, mew=2.4, label="depth of the dip")
        curve.legend(**place, ncols=2)
        curve.set_title(curve.get_title(loc="left"), loc="left", x=-0.1, pad=62.0)
        self._top = float(THROUGH_FLOW.display(THROUGH_FLOW.from_display(12.0, "US")))
        flows = drawing.framed(
            figure,
            (0.66, 0.145, 0.325, 0.61),
            "Who feeds the engine",
            ("time (ms)", 0.0, 100.0),
            (f"flow ({THROUGH_FLOW.label()})", 0.0, self._top),
        )
        (self._pump,) = flows.plot([], [], color=drawing.OCHRE, ls="-.", label="share of the pump")
        (self._vessel,) = flows.plot([], [], color=drawing.BLUE, label="out of the vessel")
        (self._engine,) = flows.plot([], [], color=drawing.BLACK, ls=":", label="into the engine")
        flows.legend(**(place | {"bbox_to_anchor": (-0.17, 0.98)}), ncols=2)
        flows.set_title(flows.get_title(loc="left"), loc="left", x=-0.15, pad=62.0)
        return [self._ideal, self._real, self._depth, self._pump, self._vessel, self._engine]

    def update_artists(self, state: State) -> None:
        dip: Dip = state["dip"]
        real, ideal = dip.history, dip.weightless
        times = 1e3 * real.time.m_as("s")
        now = GAUGE.display(real.gallery_pressure.m_as(GAUGE.si))
        self._real.set_data(times, now)
        self._ideal.set_data(times, GAUGE.display(ideal.gallery_pressure.m_as(GAUGE.si)))
        at = 1e3 * state["at"]
        foot = float(np.interp(at, times, now))
        self._depth.set_data([at, at], [foot, foot + float(PRESSURE_DIFFERENCE.display(state["depth"]))])
        takes = THROUGH_FLOW.display(real.engine_flow.m_as(THROUGH_FLOW.si))
        self._vessel.set_data(times, THROUGH_FLOW.display(real.line_flow.m_as(THROUGH_FLOW.si)))
        self._engine.set_data(times, takes)
        fade = max(1e3 * state["decay"], 0.05)
        self._pump.set_data([0.0, fade, 1e3], [takes[0], 0.0, 0.0])

    def readings(self, state: State) -> Sequence[Reading]:
        return [
            Reading("depth of the dip", state["depth"], PRESSURE_DIFFERENCE),
            Reading("lowest gallery pressure in it", state["lowest"], GAUGE),
            Reading("deepest after", state["at"], MILLISECONDS),
            Reading("lasts (more than half its depth)", state["lasts"], MILLISECONDS),
            Reading("below the limit, within half a second", state["below"], MILLISECONDS),
            Reading("a wave needs, through the line and back", state["trip"], MILLISECONDS),
            Reading("the model here", state["dip"].validity),
        ]

    def summary(self, state: State) -> str:
        depth = PRESSURE_DIFFERENCE.text(state["depth"])
        story = (
            f"The dip is {depth} deep: hardly to be seen."
            if state["depth"] < GAUGE.from_display(1.0, "US") - GAUGE.from_display(0.0, "US")
            else f"The line's oil comes late, and the gallery dips by {depth} for {MILLISECONDS.text(state['lasts'])}."
        )
        validity = state["dip"].validity
        doubt = {
            NOT_VALID: (
                "Do not believe these numbers: water hammer or cavitation, which the model leaves out, decide here."
            ),
            ROUGH: "Take it as a rough figure: it is over within a few passes of a pressure wave through the line.",
        }.get(validity, "It is slow against a pressure wave in the line, so oil that moves as one piece describes it.")
        apart = (
            "It stays below the limit for longer than 50 ms: that is no dip any more, and it ends the protected time."
            if state["below"] > TOLERANCE
            else "With the seconds of protected time all this has nothing to do."
        )
        return f"{story} {doubt} {apart}"


class HowItEnds(Panel):
    """A map of how the protection ends, over pre-charge and thermal time constant, with the time it lasts."""

    title = "How does it end? A map over pre-charge and time constant"
    alt = (
        "Map over the gas's time constant and pre-charge: where the pressure limit ends the protection, where an empty "
        "vessel does, and lines of equal protected time."
    )
    size = (10.0, 4.6)
    charges = np.linspace(float(GAUGE.from_display(2.0, "US")), float(GAUGE.from_display(45.0, "US")), 26)
    taus = np.geomspace(0.5, 50.0, 18)

    def make_controls(self) -> Sequence[Control]:
        controls = [
            _charge(25.0),
            _tau(0.5, 50.0, 5.0, 0.5),
            _clearance(),
            _sump(),
            _engine(),
        ]
        for control in controls[2:4]:  # these draw the map afresh: when the slider is let go
            assert isinstance(control, Amount)
            control.slider.continuous_update = False
        return controls

    def solve(self, precharge: float, tau: float, clearance: float, sump: float, engine: Engine) -> State:
        run = (clearance, sump, engine)
        if self.state.get("run") != run:  # the chosen point moves on the same map
            self._map = self._ended(*run, self.charges[:, None], self.taus[None, :])
        here = self._ended(*run, precharge, np.array([tau, 0.0, math.inf]))
        return {
            "run": run,
            "precharge": precharge,
            "tau": tau,
            "limit": engine.si.warning,
            **{key: values[0] for key, values in here.items()},
            "warm": (here["protected"][1], here["ending"][1]),
            "alone": (here["protected"][2], here["ending"][2]),
        }

    def _ended(self, clearance: float, sump: float, engine: Engine, precharge: Any, tau: Any) -> State:
        went = discharge(
            built(engine, line_of(hoses()["trade_12"], self._length)),
            duration=TIME.quantity(LONGEST),
            precharge=GAUGE.quantity(precharge),
            pressure=GAUGE.quantity(START),
            clearance_change=CLEARANCE_CHANGE.quantity(clearance),
            sump_temperature=TEMPERATURE.quantity(sump),
            thermal_time_constant=TIME_CONSTANT.quantity(tau),
            limit=engine.warning,
        )
        return {
            "protected": went.protected_time.m_as("s"),
            "ending": went.ending,
            "used": went.oil_used.m_as(OIL.si),
        }

    _length = float(Q(6, "ft").to("m").magnitude)

    def redraw_key(self, state: State) -> Any:
        return state["run"]

    def build(self, figure: Figure) -> Iterable[Artist]:
        found = self._map
        low, high = float(GAUGE.display(self.charges[0])), float(GAUGE.display(self.charges[-1]))
        ax = drawing.framed(
            figure,
            (0.075, 0.13, 0.66, 0.78),
            "How it ends: at the pressure limit, or with an empty vessel",
            ("thermal time constant (s): warm gas left, cold gas right", float(self.taus[0]), float(self.taus[-1])),
            (f"pre-charge ({GAUGE.label()})", low, high),
        )
        ax.set_xscale("log")
        ticks = [0.5, 1, 2, 5, 10, 20, 50]
        ax.set_xticks(ticks, [f"{t:g}" for t in ticks])
        ax.minorticks_off()
        ax.grid(False)
        heights = GAUGE.display(self.charges)
        which = np.select([found["ending"] == LIMIT_REACHED, found["ending"] == EMPTY], [0.0, 1.0], 2.0)
        kinds = (
            (LIMIT_REACHED, "L: pressure limit\nreached, oil left over", drawing.SKY, "//"),
            (EMPTY, "E: vessel empty", drawing.ORANGE, ".."),
            (LASTS, f"H: pressure holds\nfor {LONGEST:.0f} s", drawing.GREEN, ""),
        )
        handles: list[Artist] = []
        for k, (_, name, colour, hatch) in enumerate(kinds):
            handles.append(
                drawing.box(
                    ax, (1e-3, -9.0), 1e-4, 0.1, fc=colour, alpha=0.45, hatch=hatch, ec=drawing.GREY, label=name
                )
            )
            if not np.any(which == k):
                continue
            own = (which == k).astype(float)
            ax.contourf(
                self.taus, heights, own, levels=[0.5, 1.5], colors=[colour], alpha=0.45, hatches=[hatch or None]
            )
            if 0.0 < own.mean() < 1.0:
                ax.contour(self.taus, heights, own, levels=[0.5], colors=[drawing.BLACK], linewidths=3.0)
            rows, columns = np.nonzero(which == k)
            middle = int(np.argmin(np.hypot((rows - rows.mean()) / 26.0, (columns - columns.mean()) / 18.0)))
            ax.text(
                float(self.taus[columns[middle]]), float(heights[rows[middle]]), name[0], fontsize=24, weight="bold",
                ha="center", va="center", path_effects=[withStroke(linewidth=5, foreground="white")],
            )  # fmt: skip
        times = np.ma.masked_invalid(np.where(np.isfinite(found["protected"]), found["protected"], np.nan))
        if times.count() and float(times.max()) > float(times.min()):
            wanted = [0.2, 0.5, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 12, 15, 20, 25, 30, 40, 50]
            levels = [t for t in wanted if times.min() < t < times.max()]
            if levels:
                lines = ax.contour(self.taus, heights, times, levels=levels, colors=[drawing.BLUE], linewidths=1.3)
                ax.clabel(lines, fmt=lambda t: f"{t:g} s", fontsize=9)
        limit = float(GAUGE.display(self.state["limit"]))
        handles.append(ax.axhline(limit, color=drawing.RED, ls="--", label="pre-charge = limit"))
        (own_point,) = ax.plot([], [], "o", ms=12, color=drawing.BLACK, mec="white", mew=2.0, label="your choice")
        (line,) = ax.plot([], [], color=drawing.BLUE, lw=1.3, label="protected time")
        ax.legend(handles=[*handles, line, own_point], **drawing.OUTSIDE, labelspacing=1.0)
        self._point = own_point
        return [own_point]

    def update_artists(self, state: State) -> None:
        self._point.set_data([state["tau"]], [GAUGE.display(state["precharge"])])

    def readings(self, state: State) -> Sequence[Reading]:
        return [
            _finite("protected time", state["protected"], TIME),
            Reading("it ends with", str(state["ending"])),
            Reading("oil used by then", state["used"], OIL),
            _finite("if the gas stayed warm (time constant 0)", state["warm"][0], TIME),
            Reading("it would end with", str(state["warm"][1])),
            _finite("without any heat (time constant infinite)", state["alone"][0], TIME),
            Reading("it would then end with", str(state["alone"][1])),
        ]

    def summary(self, state: State) -> str:
        times = [state["protected"], state["warm"][0], state["alone"][0]]
        if not all(map(math.isfinite, times)):
            return (
                f"With a pre-charge of {GAUGE.text(state['precharge'])} the pressure holds for {LONGEST:.0f} s in at "
                "least one of the three cases: looser bearings, hotter oil or another pre-charge show an end."
            )
        here, warm, alone = times
        between = min(warm, alone) <= here <= max(warm, alone)
        return (
            f"With {GAUGE.text(state['precharge'])} and {TIME_CONSTANT.text(state['tau'])} the engine is protected for "
            f"{TIME.text(here)}; it ends with: {state['ending']}. Gas always warm gives {TIME.text(warm)}, gas without "
            f"any heat {TIME.text(alone)}: "
            + (
                "yours lies between the two."
                if between
                else "yours lies outside the two, so they are no bounds. A middle time constant may last longest."
            )
        )
