"""Panels of lesson 08: a night behind a shut valve, the pre-lube in time, and the wiring of an electric valve."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.figure import Figure

from oilkit.panels.framework import drawing
from oilkit.panels.framework.base import Panel, Reading, State
from oilkit.panels.framework.controls import Amount, Choice, Control
from oilkit.panels.framework.moving import MovingPanel
from oilkit.panels.framework.vessel_view import VesselView, room_of, vessel_choice
from oilkit.physics.catalog import bench_vessel, engines, fittings, hoses, lubricants
from oilkit.physics.discharging import Installation
from oilkit.physics.engine import Engine
from oilkit.physics.line import Fitting, Hose, SupplyLine
from oilkit.physics.night import overnight, overnight_si
from oilkit.physics.oil import Lubricant, density_of
from oilkit.physics.prelube import BY_HAND, pre_lube
from oilkit.physics.pressure import STANDARD_ATMOSPHERE
from oilkit.physics.vessel import Vessel, oil_stored
from oilkit.physics.wiring import CONTACTS, cable_resistance, coil_si, valve_flow, wire_gauge_area
from oilkit.quantities.kinds import (
    CURRENT,
    FRACTION,
    GAUGE,
    LINE_LENGTH,
    OIL,
    RESISTANCE,
    TEMPERATURE,
    THROUGH_FLOW,
    TIME,
    VOLTAGE,
)
from oilkit.quantities.units import Q

AIR = float(STANDARD_ATMOSPHERE.to("Paa").m)
EVENING = (Q(10, "psig"), Q(60, "psig"), Q(40, "degC"), Q(90, "degC"))
"""Pre-charge, pressure, gas and oil temperature: how the bench vessel was shut off on the evening before a pre-lube."""
HAND = float(BY_HAND.m)
ELECTRIC = 0.1
"""How fast an electric valve opens in the panels, seconds (estimate, no source)."""
LONGEST = 30.0
WINDOWS = (3.0, 10.0, LONGEST)
MOVING = ("gallery", "gas", "oil", "fill", "gone")


def _oils() -> Choice:
    found = lubricants()
    first = found["street"]
    return Choice("oil", "Oil", [(o.name, o) for o in (first, *(o for o in found.values() if o != first))], listed=True)


def _gauge(name: str, label: str, low: float, high: float, start: float) -> Amount:
    return Amount(name, label, GAUGE, Q(low, "psig"), Q(high, "psig"), Q(start, "psig"), (0.5, 0.02))


def _warmth(name: str, label: str, low: float, high: float, start: float) -> Amount:
    return Amount(name, label, TEMPERATURE, Q(low, "degC"), Q(high, "degC"), Q(start, "degC"), (1, 1))


class OvernightPanel(Panel):
    """A vessel shut off hot: what the cold night leaves of its pressure and its oil."""

    title = "A night behind a shut valve"
    alt = "The vessel cut open, with a mark where the piston stood; beside it pressure against morning temperature."

    def make_controls(self) -> Sequence[Control]:
        return [
            _gauge("precharge", "Pre-charge, gas as warm as at shut-off", 0, 25, 10),
            _gauge("pressure", "Pressure at shut-off", 30, 100, 60),
            _warmth("gas_temperature", "Gas at shut-off", 10, 100, 40),
            _warmth("oil_temperature", "Oil in the vessel at shut-off", 20, 130, 90),
            _warmth("morning_temperature", "All of it in the morning", -30, 60, 5),
            Amount("leaked", "Lost through the shut valve", OIL, Q(0, "qt"), Q(0.3, "qt"), Q(0, "qt"), (0.01, 0.01)),
            vessel_choice(),
        ]

    def solve(
        self,
        precharge: float,
        pressure: float,
        gas_temperature: float,
        oil_temperature: float,
        morning_temperature: float,
        leaked: float,
        vessel: Vessel,
    ) -> State:
        volume, _, stroke = room_of(vessel)
        axis = np.linspace(243.15, 333.15, 40)
        mornings = np.append(axis, morning_temperature)
        oil = lubricants()["street"].si
        held = float(oil_stored.si(volume, precharge, pressure))
        cold = held * density_of(oil, oil_temperature) / density_of(oil, mornings)
        lost = np.minimum(leaked, cold)  # no more than there is
        found = overnight_si(volume, oil, precharge, pressure, gas_temperature, oil_temperature, mornings, lost, AIR)
        return {
            "room": (volume, stroke),
            "evening": (gas_temperature, pressure),
            "axis": axis,
            "line": found["pressure"][:-1],
            "gas_line": found["if_only_gas_cooled"][:-1],
            "morning": morning_temperature,
            "pressure": found["pressure"][-1],
            "gas_only": found["if_only_gas_cooled"][-1],
            "oil": found["oil"][-1],
            "before": found["oil_before"],
            "shrunk": found["shrunk"][-1],
            "charge": found["precharge"][-1],
            "leaked": lost[-1],
        }

    def redraw_key(self, state: State) -> Any:
        return state["room"]

    def build(self, figure: Figure) -> Iterable[Artist]:
        self._view = VesselView(figure, self.state["room"][1])
        (self._was,) = self._view.ax.plot([], [], color=drawing.PURPLE, ls="--", lw=2.4, label="piston in the evening")
        self._view.ax.legend(loc="center", bbox_to_anchor=(0.5, 0.02))
        coldest, warmest = (float(TEMPERATURE.display(t)) for t in (243.15, 333.15))
        graph = drawing.framed(
            figure,
            drawing.RIGHT_HALF,
            "Cooling takes pressure twice",
            (f"morning temperature ({TEMPERATURE.label()})", coldest, warmest),
            (f"gauge pressure ({GAUGE.label()})", 0.0, float(GAUGE.display(GAUGE.from_display(125.0, "US")))),
        )
        (self._gas_line,) = graph.plot([], [], color=drawing.AZURE, ls="--", label="if only the gas cooled")
        (self._line,) = graph.plot([], [], color=drawing.BLUE, label="gas cools, oil shrinks")
        (self._evening,) = graph.plot([], [], color=drawing.PURPLE, ls=":", label="at shut-off")
        (self._point,) = graph.plot([], [], "o", ms=11, color=drawing.BLACK, clip_on=False, label="in the morning")
        graph.legend(loc="upper left")
        return [*self._view.moving, self._was, self._gas_line, self._line, self._evening, self._point]

    def update_artists(self, state: State) -> None:
        volume, _ = state["room"]
        self._view.show(state["oil"] / volume, state["pressure"], state["pressure"])
        was = state["before"] / volume
        self._was.set_data([was, was], [0.0, drawing.Cutaway.height])
        axis = TEMPERATURE.display(state["axis"])
        self._line.set_data(axis, GAUGE.display(state["line"]))
        self._gas_line.set_data(axis, GAUGE.display(state["gas_line"]))
        self._evening.set_data([axis[0], axis[-1]], [GAUGE.display(state["evening"][1])] * 2)
        self._point.set_data([TEMPERATURE.display(state["morning"])], [GAUGE.display(state["pressure"])])

    def readings(self, state: State) -> Sequence[Reading]:
        return [
            Reading("pressure in the morning", state["pressure"], GAUGE),
            Reading("the same, if only the gas cooled", state["gas_only"], GAUGE),
            Reading("oil at shut-off", state["before"], OIL),
            Reading("oil in the morning", state["oil"], OIL),
            Reading("lost by shrinking", state["shrunk"], OIL),
            Reading("pre-charge at the morning's temperature", state["charge"], GAUGE),
        ]

    def summary(self, state: State) -> str:
        leak = f" Another {OIL.text(state['leaked'])} leaked away." if state["leaked"] > 0.0 else ""
        return (
            f"Shut off at {GAUGE.text(state['evening'][1])}, found at {GAUGE.text(state['pressure'])}. Of "
            f"{OIL.text(state['before'])} of oil {OIL.text(state['oil'])} are left: colder oil takes less room, and "
            f"the gas spreads into it.{leak} Nothing need be wrong with a vessel that reads less in the morning."
        )


class PreLubePanel(MovingPanel):
    """The valve opens on a cold engine at rest: galleries fill, pressure builds, and then the vessel runs down."""

    title = "Oil before the first turn"
    alt = (
        "The vessel emptying into a cold engine: cutaway and gauges, gallery pressure against time with the moment to "
        "crank, and how full the galleries are."
    )

    def make_controls(self) -> Sequence[Control]:
        manual, electric = fittings()["wide_valve"], fittings()["narrow_valve"]
        reduced = fittings()["reduced_valve"]
        shares = Q(0, "dimensionless"), Q(1, "dimensionless"), Q(0.5, "dimensionless")
        three = hoses()
        ways = [three["trade_12"], three["mil_h_8794_12"], three["small"]]
        return [
            Amount(
                "time",
                "Time since the valve began to open",
                TIME,
                Q(0, "s"),
                Q(LONGEST, "s"),
                Q(0, "s"),
                (0.02, 0.02),
                typed=False,
            ),
            _warmth("temperature", "Morning: engine, oil and gas at", -20, 35, 5),
            Amount("empty", "Empty share of the galleries", FRACTION, *shares, (0.05, 0.05)),
            _gauge("wanted", "Pressure to wait for", 2, 40, 15),
            _oils(),
            Choice("engine", "Engine", [(e.name, e) for e in _engines_street_first()], listed=True),
            Choice("hose", "Line, 8 ft (2.44 m)", [(h.name, h) for h in ways], listed=True),
            Choice("valve", "Valve", [(v.name, v) for v in (manual, reduced, electric)], listed=True),
        ]

    def solve(
        self,
        time: float,
        temperature: float,
        empty: float,
        wanted: float,
        oil: Lubricant,
        engine: Engine,
        hose: Hose,
        valve: Fitting,
    ) -> State:
        run = (temperature, empty, wanted, oil.name, engine.name, hose.name, valve.name)
        if self.state.get("run") != run:  # scrubbing and playing change the moment, not the run
            self._history = _morning(temperature, empty, wanted, oil, engine, hose, valve)
        history = self._history
        moment = min(time, history["window"])
        return {
            "run": run,
            "moment": moment,
            **{key: float(np.interp(moment, history["time"], history[key])) for key in MOVING},
            "history": history,
        }

    def duration(self) -> float:
        return float(self._history["window"])

    def redraw_key(self, state: State) -> Any:
        return self._history["window"]

    def build(self, figure: Figure) -> Iterable[Artist]:
        window = self._history["window"]
        self._view = VesselView(figure, room_of(bench_vessel())[2])
        top = float(GAUGE.display(GAUGE.from_display(70.0, "US")))
        curve = drawing.framed(
            figure,
            (0.6, 0.5, 0.385, 0.4),
            "Wait for the gauge, then crank",
            ("", 0.0, window),
            (f"pressure ({GAUGE.label()})", 0.0, top),
        )
        curve.tick_params(labelbottom=False)
        fill = drawing.framed(
            figure, (0.6, 0.15, 0.385, 0.25), "", ("time (s)", 0.0, window), ("galleries\nfull to (%)", 0.0, 105.0)
        )
        (self._gas_line,) = curve.plot([], [], color=drawing.AZURE, ls="--", label="gas")
        (self._gallery_line,) = curve.plot([], [], color=drawing.BLUE, label="gallery")
        (self._wanted,) = curve.plot([], [], color=drawing.GREY, ls=":", lw=1.6, label="to wait for")
        (self._crank,) = curve.plot([], [], color=drawing.RED, lw=1.8, marker="v", ms=10, markevery=[1], clip_on=False)
        self._crank_word = drawing.Word(curve, "crank now", 0.08 * top)
        (self._point,) = curve.plot([], [], "o", ms=9, color=drawing.BLACK, clip_on=False)
        (self._fill_line,) = fill.plot([], [], color=drawing.OCHRE)
        (self._fill_point,) = fill.plot([], [], "o", ms=9, color=drawing.BLACK, clip_on=False)
        curve.legend(loc="upper right", ncols=3)
        lines = [self._gas_line, self._gallery_line, self._wanted, self._crank]
        return [
            *self._view.moving, *lines, *self._crank_word.moving, self._point, self._fill_line, self._fill_point
        ]  # fmt: skip

    def update_artists(self, state: State) -> None:
        h = state["history"]
        volume = room_of(bench_vessel())[0]
        self._view.show(state["oil"] / volume, state["gallery"], state["gas"])
        self._gas_line.set_data(h["time"], GAUGE.display(h["gas"]))
        self._gallery_line.set_data(h["time"], GAUGE.display(h["gallery"]))
        self._wanted.set_data([0.0, h["window"]], [GAUGE.display(h["wanted"])] * 2)
        top = float(GAUGE.display(GAUGE.from_display(70.0, "US")))
        known = math.isfinite(h["crank"])
        self._crank.set_visible(known)
        if known:
            self._crank.set_data([h["crank"]] * 2, [0.0, 0.78 * top])
        self._crank_word.show(
            min((h["crank"] if known else 0.0) + 0.14 * h["window"], 0.86 * h["window"]), 0.78 * top, known
        )
        self._point.set_data([state["moment"]], [GAUGE.display(state["gallery"])])
        self._fill_line.set_data(h["time"], 100.0 * h["fill"])
        self._fill_point.set_data([state["moment"]], [100.0 * state["fill"]])

    def readings(self, state: State) -> Sequence[Reading]:
        h = state["history"]
        return [
            Reading("time", state["moment"], TIME),
            Reading("gallery pressure", state["gallery"], GAUGE),
            Reading("gas pressure", state["gas"], GAUGE),
            Reading("oil in the vessel", state["oil"], OIL),
            Reading("galleries full to", state["fill"], FRACTION),
            Reading("gone through the bearings so far", state["gone"], OIL),
            Reading("galleries full after", _when(h["full"])),
            Reading("pressure to wait for reached after", _when(h["ready"])),
            Reading("highest gallery pressure", h["peak"], GAUGE),
            Reading("crank after", _when(h["crank"])),
            Reading("spent until then, on galleries and bearings", h["spent"], OIL),
            Reading("left in the vessel for the start", h["left"], OIL),
        ]

    def summary(self, state: State) -> str:
        h = state["history"]
        if not math.isfinite(h["full"]):
            return (
                f"After {TIME.text(LONGEST)} the galleries are not full: the oil is too thick for this way, or there "
                "is too little of it. Warm the engine and its oil before you turn it."
            )
        if not math.isfinite(h["ready"]):
            return (
                f"The gauge never reaches {GAUGE.text(h['wanted'])}. Its peak is {GAUGE.text(h['peak'])}, after "
                f"{TIME.text(h['crank'])}: from then on waiting only spends oil. Crank then, with "
                f"{OIL.text(h['left'])} left for the start."
            )
        return (
            f"The galleries are full after {TIME.text(h['full'])} and the gauge shows {GAUGE.text(h['wanted'])} after "
            f"{TIME.text(h['ready'])}: crank then. The vessel keeps {OIL.text(h['left'])} for the start, until the "
            "pump has taken over."
        )


def _engines_street_first() -> list[Engine]:
    return sorted(engines().values(), key=lambda engine: engine != engines()["street_v8"])


def _when(seconds: float) -> str:
    return TIME.text(seconds) if math.isfinite(seconds) else f"not within {TIME.text(LONGEST)}"


def _morning(
    temperature: float, empty: float, wanted: float, oil: Lubricant, engine: Engine, hose: Hose, valve: Fitting
) -> State:
    """One pre-lube from the lessons' evening, in SI."""
    bench = bench_vessel()
    cold = TEMPERATURE.quantity(temperature)
    night = overnight(bench, oil, *EVENING, cold)
    line = SupplyLine(hose, Q(8, "ft"), (fittings()["port"],))
    run = pre_lube(
        Installation(engine, oil, bench, line),
        valve,
        night.precharge,
        night.pressure,
        cold,
        empty=FRACTION.quantity(empty),
        wanted=GAUGE.quantity(wanted),
        opening_time=Q(opening_time(valve), "s"),
        duration=Q(LONGEST, "s"),
    )
    crank = float(run.crank_after.m)
    history = run.history
    return {
        "time": history.time.to("s").m,
        "gallery": history.gallery_pressure.to("Pag").m,
        "gas": history.gas_pressure.to("Pag").m,
        "oil": history.oil.to("m**3").m,
        "fill": history.gallery_fill,
        "wanted": wanted,
        "full": float(run.full_after.m),
        "ready": float(run.wanted_after.m),
        "peak": float(run.peak_pressure.to("Pag").m),
        "crank": crank,
        "gone": history.spent.to("m**3").m,
        "spent": float((run.oil_spent + run.oil_in_galleries).to("m**3").m),
        "left": float(run.oil_left.to("m**3").m),
        "window": next((w for w in WINDOWS if 3.0 * crank <= w), LONGEST),
    }


def opening_time(valve: Fitting) -> float:
    """How long one of the data file's valves takes to open, in seconds: a hand, or a coil."""
    return ELECTRIC if valve == fittings()["narrow_valve"] else HAND


NUMBERS = (22, 20, 18, 16, 14, 12, 10)
REACH = 30.0
AT_DROP = float(Q(10, "psi").to("Pa").m)
RUNNING_FLOW = float(Q(8, "gpm").to("m**3/s").m)
RATED = 12.0
HOT_OIL = float(Q(90, "degC").to("K").m)


class ValveWiring(Panel):
    """Volts at the coil of an electric valve, whether it opens, and what it passes beside one turned by hand."""

    title = "Will the electric valve open?"
    alt = (
        "Voltage at the coil against cable length with the voltage it needs; beside it how the valve opens in time and "
        "what it passes each way, with a valve turned by hand."
    )

    def make_controls(self) -> Sequence[Control]:
        gauges = [(f"{n} AWG ({wire_gauge_area(n).m:.2f} mm²)", n) for n in NUMBERS]
        shares = Q(50, "percent"), Q(90, "percent"), Q(75, "percent")
        lengths = Q(1, "ft"), Q(REACH, "m"), Q(20, "ft")
        ways = [("direct: passes both ways", True), ("pilot: passes one way only", False)]
        return [
            Amount("battery", "Battery", VOLTAGE, Q(6, "V"), Q(15, "V"), Q(12.5, "V"), (0.1, 0.1)),
            Amount("length", "Cable, there and back", LINE_LENGTH, *lengths, (0.5, 0.1)),
            Amount("current", "Coil takes at 12 V, cold", CURRENT, Q(0.5, "A"), Q(10, "A"), Q(3, "A"), (0.1, 0.1)),
            Amount("pick_up", "Pulls in at this share of 12 V, cold", FRACTION, *shares, (0.01, 0.01)),
            _warmth("coil_temperature", "Coil temperature", -20, 150, 20),
            Amount("opening", "Opens and closes in", TIME, Q(0.02, "s"), Q(2, "s"), Q(0.1, "s"), (0.02, 0.02)),
            Choice("gauge", "Cable", gauges, listed=True),
            Choice("ways", "Electric valve", ways),
        ]

    def solve(
        self,
        battery: float,
        length: float,
        current: float,
        pick_up: float,
        coil_temperature: float,
        opening: float,
        gauge: int,
        ways: bool,
    ) -> State:
        area = wire_gauge_area.si(gauge)
        contacts = float(CONTACTS.m)
        axis = np.append(np.linspace(0.0, REACH, 40), length)
        found = coil_si(battery, RATED, current, axis, area, contacts, pick_up, coil_temperature)
        opens = bool(found["pulls_in"][-1])
        by_hand, electric = _passes("reduced_valve"), _passes("narrow_valve")
        return {
            "axis": axis[:-1],
            "line": found["volts"][:-1],
            "length": length,
            "battery": battery,
            "volts": float(found["volts"][-1]),
            "current": float(found["current"][-1]),
            "drop": float(found["drop"][-1]),
            "cable": float(cable_resistance.si(length, area, 293.15)),
            "needed": float(found["needed"]),
            "opens": opens,
            "out": electric if opens else 0.0,
            "back": electric if opens and ways else 0.0,
            "by_hand": by_hand,
            "opening": opening,
            "ways": ways,
            "closing": 0.5 * RUNNING_FLOW * opening if opens else 0.0,
        }

    def build(self, figure: Figure) -> Iterable[Artist]:
        graph = drawing.framed(
            figure,
            (0.08, 0.15, 0.38, 0.75),
            "Cable and heat eat the coil's volts",
            (f"cable, there and back ({LINE_LENGTH.label()})", 0.0, float(LINE_LENGTH.display(REACH))),
            ("at the coil (V)", 0.0, 16.0),
        )
        (self._battery,) = graph.plot([], [], color=drawing.GREY, ls=":", label="battery")
        (self._line,) = graph.plot([], [], color=drawing.BLUE, label="at the coil")
        (self._needed,) = graph.plot([], [], color=drawing.RED, ls="--", label="needed to pull in")
        (self._point,) = graph.plot([], [], "o", ms=11, color=drawing.BLACK, clip_on=False)
        graph.legend(loc="lower left")
        moves = drawing.framed(figure, (0.6, 0.66, 0.385, 0.24), "Opening", ("", 0.0, 2.0), ("open (%)", 0.0, 105.0))
        moves.set_xlabel("seconds after the switch", labelpad=0)
        hand = np.array([0.0, HAND, 2.0])
        moves.plot(hand, [0.0, 100.0, 100.0], color=drawing.GREY, ls="--", label="by hand")
        (self._ramp,) = moves.plot([], [], color=drawing.BLUE, label="electric")
        moves.legend(loc="lower right")
        top = 1.15 * float(THROUGH_FLOW.display(_passes("reduced_valve")))
        bars = drawing.framed(
            figure,
            (0.6, 0.15, 0.385, 0.26),
            f"Oil passed at {GAUGE.text(AT_DROP).split()[0]} {'psi' if 'psi' in GAUGE.label() else 'bar'}",
            (f"({THROUGH_FLOW.label()})", 0.0, top),
            ("", -0.6, 3.6),
        )
        bars.set_yticks([0, 1, 2, 3], ["electric, back", "electric, out", "hand, back", "hand, out"])
        bars.grid(False, axis="y")
        shown = float(THROUGH_FLOW.display(self.state["by_hand"]))
        for row in (2, 3):
            drawing.box(bars, (0.0, row - 0.35), shown, 0.7, fc=drawing.STEEL, ec=drawing.BLACK)
        self._bars = [
            drawing.box(bars, (0.0, row - 0.35), 0.0, 0.7, fc=drawing.ORANGE, ec=drawing.BLACK, hatch="//")
            for row in (0, 1)
        ]
        return [self._battery, self._line, self._needed, self._point, self._ramp, *self._bars]

    def update_artists(self, state: State) -> None:
        end = float(LINE_LENGTH.display(REACH))
        self._battery.set_data([0.0, end], [state["battery"]] * 2)
        self._line.set_data(LINE_LENGTH.display(state["axis"]), state["line"])
        self._needed.set_data([0.0, end], [state["needed"]] * 2)
        self._point.set_data([LINE_LENGTH.display(state["length"])], [state["volts"]])
        full = 100.0 if state["opens"] else 0.0
        self._ramp.set_data([0.0, state["opening"], 2.0], [0.0, full, full])
        for bar, flow in zip(self._bars, (state["back"], state["out"]), strict=True):
            bar.set_width(float(THROUGH_FLOW.display(flow)))

    def readings(self, state: State) -> Sequence[Reading]:
        drop = "10.0 psi (0.69 bar)"
        return [
            Reading("resistance of the cable", state["cable"], RESISTANCE),
            Reading("current that flows", state["current"], CURRENT),
            Reading("lost in cable and contacts", state["drop"], VOLTAGE),
            Reading("volts at the coil", state["volts"], VOLTAGE),
            Reading("needed to pull in", state["needed"], VOLTAGE),
            Reading("the electric valve", _verdict(state["opens"])),
            Reading(f"it passes out of the vessel, at {drop}", state["out"], THROUGH_FLOW),
            Reading(f"it passes back into the vessel, at {drop}", state["back"], THROUGH_FLOW),
            Reading(f"a valve by hand passes, each way, at {drop}", state["by_hand"], THROUGH_FLOW),
            Reading("still passes while it closes, from 8 gpm (30 L/min)", state["closing"], OIL),
        ]

    def summary(self, state: State) -> str:
        if not state["opens"]:
            return (
                f"The coil has {VOLTAGE.text(state['volts'])} and needs {VOLTAGE.text(state['needed'])}: the valve "
                "stays shut. The vessel holds its oil and the engine has no protection, and no gauge says so."
            )
        back = (
            "It passes both ways, so the running engine fills the vessel through it."
            if state["ways"]
            else "The engine cannot fill the vessel through it: that needs a check valve beside it, turned round."
        )
        spare = state["volts"] - state["needed"]
        return f"The valve pulls in, with {VOLTAGE.text(spare)} to spare. {back} By hand it opens at any voltage."


def _passes(name: str) -> float:
    """What a valve of the data file passes at the panel's pressure difference, hot oil. SI."""
    valve = fittings()[name].si
    rho = density_of(lubricants()["street"].si, HOT_OIL)
    return float(valve_flow.si(valve.bore, valve.loss_coefficient, AT_DROP, rho))


def _verdict(opens: bool) -> str:
    return "pulls in and opens" if opens else "stays shut"
