"""Panels of lesson 04: what a line costs, what its weight does, where the tee stands, and where every quart is."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle, PathPatch, Polygon
from matplotlib.path import Path

from oilkit.panels.framework import drawing
from oilkit.panels.framework.base import Panel
from oilkit.panels.framework.bound import Reading, Setting, State
from oilkit.panels.framework.controls import Amount, Choice, Control
from oilkit.physics.catalog import engines, fittings, hoses, lubricants, vessels
from oilkit.physics.engine import Engine, operating_point
from oilkit.physics.line import (
    LAMINAR_BELOW,
    TURBULENT_ABOVE,
    Fitting,
    Hose,
    SupplyLine,
    Way,
    acceleration_head,
    column_time,
    fitting_drop,
    laminar_drop,
    line_drop,
    line_volume,
    reynolds_number,
    velocity_in,
    way_drop,
    way_of,
)
from oilkit.physics.oil import Lubricant, density_of, viscosity_of
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
from oilkit.physics.tee import beyond_the_tee, flow_at_tee
from oilkit.physics.vessel import oil_stored
from oilkit.quantities.kinds import (
    ACCELERATION,
    BORE,
    DISTANCE,
    FRACTION,
    GAUGE,
    LINE_LENGTH,
    OIL,
    PRESSURE_DIFFERENCE,
    REYNOLDS,
    TEMPERATURE,
    THROUGH_FLOW,
    VELOCITY,
    Kind,
    one_to_si,
)
from oilkit.quantities.units import Q, Qty

MILLISECONDS = Kind("a time", "s", "ms", 0, "ms", 0, "Q(20, 'ms')", low=0.0)
MORE_OR_LESS = Kind("an amount of oil, more or less", "m**3", "qt", 2, "L", 2, "Q(0.5, 'qt')")


def _named(records: Mapping[str, Any], first: str) -> list[tuple[str, Any]]:
    """Options of a list: each record by its name, the one that the lesson opens with at the top."""
    keys = sorted(records, key=lambda key: key != first)
    return [(records[key].name, records[key]) for key in keys]


def _hose_choice() -> Choice:
    return Choice("hose", "Hose", _named(hoses(), "mil_h_8794_12"), listed=True)


def _oil_choice() -> Choice:
    return Choice("oil", "Oil", _named(lubricants(), "street"), listed=True)


def _length(name: str, label: str, low: float = 0.0) -> Amount:
    return Amount(name, label, LINE_LENGTH, Q(low, "ft"), Q(30, "ft"), Q(10, "ft"), (0.5, 0.1))


def _warmth(name: str, label: str, start: float) -> Amount:
    return Amount(name, label, TEMPERATURE, Q(-20, "degC"), Q(120, "degC"), Q(start, "degC"), (2, 1))


def _pressure(name: str, label: str, low: float, high: float, start: float) -> Amount:
    return Amount(name, label, GAUGE, Q(low, "psig"), Q(high, "psig"), Q(start, "psig"), (0.5, 0.02))


def _shown(kind: Kind, us: float) -> float:
    """A number given in the US unit, in the unit on display."""
    return float(kind.display(kind.from_display(us, "US")))


# ------------------------------------------------------------------------------------------------------------- the line

MOST_FLOW = float(THROUGH_FLOW.from_display(12.0, "US"))
MOST_DROP = float(PRESSURE_DIFFERENCE.from_display(80.0, "US"))
"""More than a vessel of the lessons has to give."""
HOT = float(Q(100, "degC").to("K").m)
LAMINAR, BETWEEN, TURBULENT = "laminar", "in between: no formula is good", "turbulent"


def _regime(reynolds: float) -> str:
    if reynolds < LAMINAR_BELOW:
        return LAMINAR
    return BETWEEN if reynolds <= TURBULENT_ABOVE else TURBULENT


def _drop_curve(way: Way, density: float, viscosity: float) -> State:
    """Drop over a line against flow, with a gap where no formula is good, and the corners of what fills the gap."""
    bore, length, _ = way
    axis = np.linspace(0.0, MOST_FLOW, 61)
    numbers = reynolds_number.si(axis, bore, density, viscosity)
    low, high = np.interp([LAMINAR_BELOW, TURBULENT_ABOVE], numbers, axis)  # exact: in proportion to the flow
    inside = np.linspace(low, high, 9)
    most = way_drop(way, inside, density, viscosity)
    wall = line_drop.si(inside, bore, length, density, viscosity)
    least = most - wall + laminar_drop.si(inside, bore, length, viscosity)
    drop = np.where((axis > low) & (axis < high), np.nan, way_drop(way, axis, density, viscosity))
    return {
        "flow": axis,
        "drop": drop,
        "band": (np.append(inside, inside[::-1]), np.append(least, most[::-1])),
        "crossed": bool(high > low),
    }


class OilLine(Panel):
    """One line from tee to vessel: what it holds, and what each part of it takes at a flow."""

    call = "oil_line"
    title = "What the line holds, and what it costs"
    alt = (
        "The way through a line drawn to scale, the pressure lost along it, and the drop against flow with the band in "
        "which no friction formula is good."
    )

    def make_controls(self) -> Sequence[Control]:
        none: tuple[str, Fitting | None] = ("none", None)
        most = Q(MOST_FLOW, "m**3/s")
        return [
            _hose_choice(),
            _length("length", "Length of the hose", low=0.5),
            Choice("ends", "Hose ends, one at each end", [*_named(fittings(), "straight_end"), none], listed=True),
            Choice("valve", "Valve or other fitting, one", [*_named(fittings(), "reduced_valve"), none], listed=True),
            Amount("flow", "Flow", THROUGH_FLOW, Q(0, "gpm"), most, Q(5, "gpm"), (0.1, 0.5)),
            _oil_choice(),
            _warmth("temperature", "Temperature of the oil in the line", 40.0),
        ]

    def solve(self, at: Setting) -> State:
        bore, rho, mu = at.hose.si.bore, density_of(at.oil.si, at.temperature), viscosity_of(at.oil.si, at.temperature)
        parts = [part.si if part is not None else None for part in (at.ends, at.ends, at.valve)]
        fitted = tuple((part.bore, part.loss_coefficient) for part in parts if part is not None)

        def in_fitting(part: Any, through: Any) -> Any:
            return fitting_drop.si(through, part.bore, part.loss_coefficient, rho) if part is not None else 0.0

        def whole(wall: Any, through: Any) -> Any:
            return wall + sum(in_fitting(part, through) for part in parts)

        reynolds = float(reynolds_number.si(at.flow, bore, rho, mu))
        wall, laminar = line_drop.si(at.flow, bore, at.length, rho, mu), laminar_drop.si(at.flow, bore, at.length, mu)
        return {
            "widths": [part.bore if part is not None else bore for part in (parts[0], at.hose.si, parts[1], parts[2])],
            "volume": line_volume.si(bore, at.length),
            "velocity": velocity_in.si(at.flow, bore),
            "reynolds": reynolds,
            "regime": _regime(reynolds),
            "wall": wall,
            "laminar": laminar,
            "ends": 2.0 * in_fitting(parts[0], at.flow),
            "valve": in_fitting(parts[2], at.flow),
            "total": whole(wall, at.flow),
            "least": whole(laminar if _regime(reynolds) == BETWEEN else wall, at.flow),
            "now": _drop_curve((bore, at.length, fitted), rho, mu),
            "hot": _drop_curve((bore, at.length, fitted), density_of(at.oil.si, HOT), viscosity_of(at.oil.si, HOT)),
        }

    def redraw_key(self, state: State) -> Any:
        """The end of the pressure axes as shown: 1, 2 or 5 times a power of ten, somewhat above the drop."""
        wanted = max(1.15 * float(PRESSURE_DIFFERENCE.display(state["total"])), _shown(PRESSURE_DIFFERENCE, 8.0))
        power = 10.0 ** math.floor(math.log10(wanted))
        return next(m * power for m in (1.0, 2.0, 5.0, 10.0) if m * power >= wanted)

    def build(self, figure: Figure) -> Iterable[Artist]:
        top, unit = self.redraw_key(self.state), PRESSURE_DIFFERENCE.label()
        wide, along = _shown(BORE, 1.3), ("", 0.0, 6.0)
        where = (0.075, 0.57, 0.37, 0.33)
        scale = (f"width ({BORE.label()})", -wide / 2, wide / 2)
        cut = drawing.framed(figure, where, "The way through, its width to scale", along, scale)
        cut.set_xticks([])
        cut.grid(False)
        drawing.box(cut, (0.0, -wide / 2), 6.0, wide, fc=drawing.STEEL, ec="none")
        places = ((0.0, 0.8), (0.8, 3.4), (4.2, 0.8), (5.0, 1.0))
        style: dict[str, Any] = {"fc": drawing.OIL, "ec": drawing.BLACK, "lw": 0.8, "hatch": "//"}
        self._holes = [drawing.box(cut, (left, 0.0), length, 0.0, **style) for left, length in places]
        (self._label,) = cut.plot([], [], color=drawing.BLACK, lw=2.2, ls=":", label="what the dash number suggests")
        cut.legend(loc="lower center", bbox_to_anchor=(0.5, -0.25), borderaxespad=0.0)
        where = (0.075, 0.12, 0.37, 0.3)
        lost = drawing.framed(figure, where, "Pressure lost on the way", along, (f"lost ({unit})", 0.0, top))
        lost.set_xticks([0.4, 2.5, 4.6, 5.5], ["end", "hose", "end", "valve"])
        lost.tick_params(axis="x", length=0.0)
        lost.grid(axis="x", visible=False)
        lost.vlines([0.8, 4.2, 5.0], 0.0, top, color=drawing.GREY, lw=0.7)
        (self._lost,) = lost.plot([], [], color=drawing.BLUE, marker="o", ms=5)
        graph = drawing.framed(
            figure,
            (0.56, 0.28, 0.425, 0.62),
            "Thick oil in the line costs pressure",
            (f"flow ({THROUGH_FLOW.label()})", 0.0, float(THROUGH_FLOW.display(MOST_FLOW))),
            (f"drop over the whole line ({unit})", 0.0, top),
        )
        (self._curve,) = graph.plot([], [], color=drawing.BLUE, label="this line, as it is")
        hot = f"with its oil at {TEMPERATURE.text(HOT)}"
        (self._hot,) = graph.plot([], [], color=drawing.RED, ls="--", lw=1.8, label=hot)
        yellow: dict[str, Any] = {"fc": drawing.YELLOW, "ec": drawing.BLACK, "hatch": "xx", "lw": 0.8}
        band = Polygon([(0.0, 0.0)], label="Re 2300 to 4000: anywhere in here", **yellow)
        hot_band = Polygon([(0.0, 0.0)], fc="none", ec=drawing.RED, ls="--", lw=1.2)
        self._bands = [band, hot_band]
        for area in self._bands:
            graph.add_patch(area)
        (self._span,) = graph.plot([], [], color=drawing.BLACK, lw=3.0)
        (self._point,) = graph.plot([], [], "o", ms=11, color=drawing.BLACK, clip_on=False)
        named = [self._curve, self._hot, band]
        figure.legend(handles=named, loc="lower right", bbox_to_anchor=(0.995, 0.0), ncols=2, columnspacing=1.2)
        curves = [self._hot, self._curve, *self._bands]
        return [*self._holes, self._label, self._lost, *curves, self._span, self._point]

    def update_artists(self, state: State) -> None:
        for hole, width in zip(self._holes, state["widths"], strict=True):
            wide = float(BORE.display(width))
            hole.set_y(-wide / 2)
            hole.set_height(wide)
        dash = re.search(r"\d+", state["hose"].dash)
        half = _shown(BORE, int(dash[0]) / 32.0) if dash else math.nan
        self._label.set_data([0.8, 4.2, math.nan, 0.8, 4.2], [half, half, math.nan, -half, -half])
        end, wall = state["ends"] / 2.0, state["wall"]
        so_far = np.array([0.0, end, end + wall, 2.0 * end + wall, state["total"]])
        self._lost.set_data([0.0, 0.8, 4.2, 5.0, 6.0], PRESSURE_DIFFERENCE.display(so_far))
        for line, band, curve in zip((self._curve, self._hot), self._bands, (state["now"], state["hot"]), strict=True):
            line.set_data(THROUGH_FLOW.display(curve["flow"]), PRESSURE_DIFFERENCE.display(curve["drop"]))
            flows, drops = curve["band"]
            band.set_xy(np.column_stack([THROUGH_FLOW.display(flows), PRESSURE_DIFFERENCE.display(drops)]))
            band.set_visible(curve["crossed"])
        flow = float(THROUGH_FLOW.display(state["flow"]))
        span = PRESSURE_DIFFERENCE.display(np.array([state["least"], state["total"]]))
        self._span.set_data([flow, flow], span)
        self._point.set_data([flow], span[1:])

    def readings(self, state: State) -> Sequence[Reading]:
        return [
            Reading("oil that the hose holds", state["volume"], OIL),
            Reading("speed of the oil in the hose", state["velocity"], VELOCITY),
            Reading("Reynolds number in the hose", state["reynolds"], REYNOLDS),
            Reading("the flow in the hose is", state["regime"]),
            Reading("drop along the hose's wall", state["wall"], PRESSURE_DIFFERENCE),
            Reading("the same, if the flow were laminar", state["laminar"], PRESSURE_DIFFERENCE),
            Reading("drop in both hose ends", state["ends"], PRESSURE_DIFFERENCE),
            Reading("drop in the valve", state["valve"], PRESSURE_DIFFERENCE),
            Reading("drop over the whole line", state["total"], PRESSURE_DIFFERENCE),
        ]

    def summary(self, state: State) -> str:
        held = f"The hose holds {OIL.text(state['volume'])}: that oil must be added once, and it stays there."
        flow, total = THROUGH_FLOW.text(state["flow"]), PRESSURE_DIFFERENCE.text(state["total"])
        if state["flow"] == 0.0:
            return f"{held} Nothing flows, so nothing is lost: at rest both ends have the same pressure."
        if state["total"] > MOST_DROP:
            return f"{held} {flow} would cost {total}, more than the vessel has to give: in truth far less flows."
        if state["regime"] == BETWEEN:
            least = PRESSURE_DIFFERENCE.text(state["least"])
            return (
                f"{held} At {flow} the line takes anything from {least} to {total}: the flow may be laminar or "
                "turbulent, and no formula knows which."
            )
        parts = {"the hose's wall takes": "wall", "the hose ends take": "ends", "the valve takes": "valve"}
        most = max(parts, key=lambda name: float(state[parts[name]]))
        return f"{held} At {flow} the line takes {total}; {most} the largest part. The flow is {state['regime']}."


# ------------------------------------------------------------------------------------------------- the line on the move

PLACED = {
    "behind the engine": (-1, 0),
    "ahead of the engine": (1, 0),
    "left of the engine": (0, 1),
    "right of the engine": (0, -1),
}
"""Where the vessel stands, seen from the engine: first forwards, then to the left."""
MANOEUVRES = {
    "launches": (1, 0),
    "brakes": (-1, 0),
    "goes round a left-hand corner": (0, 1),
    "goes round a right-hand corner": (0, -1),
}
"""Which way the car's velocity changes."""
MARKERS = {(1, 0): ">", (-1, 0): "<", (0, 1): "^", (0, -1): "v"}
WANTED_FLOW = float(THROUGH_FLOW.from_display(8.0, "US"))
IN_THE_LINE = 850.0
"""Density of the oil in this panel's line, kg/m3: engine oil at about 40 °C."""
LONGEST_START = 10.0
"""End of the panel's scale of starting times, in seconds."""


class LineOnTheMove(Panel):
    """The head of a line that lies along the car's acceleration, and the time its oil needs to get moving."""

    call = "line_on_the_move"
    title = "A line in a moving car: its oil has weight"
    alt = (
        "The vessel beside the engine, seen from above, with the car's acceleration and the push on the oil; the "
        "pressure of the last oil against acceleration; and the time that the oil needs to get moving."
    )

    def make_controls(self) -> Sequence[Control]:
        hard = Q(0, "g_0"), Q(5, "g_0"), Q(1, "g_0")
        across = Q(0, "ft"), Q(12, "ft"), Q(8, "ft")
        above = Q(0, "psi"), Q(60, "psi"), Q(20, "psi")
        return [
            Choice("place", "The vessel stands", list(PLACED.items()), listed=True),
            Choice("manoeuvre", "The car", list(MANOEUVRES.items()), listed=True),
            Amount("acceleration", "How hard", ACCELERATION, *hard, (0.05, 0.05)),
            Amount("distance", "Vessel from engine, straight", LINE_LENGTH, *across, (0.25, 0.05)),
            _pressure("precharge", "Pre-charge", 0.0, 30.0, 10.0),
            Amount("above", "Vessel above the gallery by, standing", PRESSURE_DIFFERENCE, *above, (0.5, 0.05)),
            _hose_choice(),
            _length("length", "Length of the hose, with all its bends", low=0.5),
        ]

    def solve(self, at: Setting) -> State:
        along = (
            at.place[0] * at.manoeuvre[0] + at.place[1] * at.manoeuvre[1]
        )  # 1 towards the vessel, -1 away from it, 0 across
        axis = np.linspace(0.0, ACCELERATION.from_display(5.0), 2)
        head = float(acceleration_head.si(IN_THE_LINE, along * at.acceleration, at.distance))
        speed, drive = float(velocity_in.si(WANTED_FLOW, at.hose.si.bore)), at.above + head
        return {
            "head": head,
            "last": at.precharge + head,
            "drive": drive,
            "speed": speed,
            "time": float(column_time.si(at.length, speed, drive, IN_THE_LINE)) if drive > 0.0 else math.inf,
            "axis": axis,
            "lasts": at.precharge + acceleration_head.si(IN_THE_LINE, along * axis, at.distance),
        }

    def build(self, figure: Figure) -> Iterable[Artist]:
        graph = drawing.framed(
            figure,
            (0.56, 0.43, 0.425, 0.48),
            "Pre-charge and head: what the last oil arrives at",
            (f"acceleration ({ACCELERATION.label()})", 0.0, 5.0),
            (f"pressure ({GAUGE.label()})", _shown(GAUGE, -25.0), _shown(GAUGE, 65.0)),
        )
        graph.axhline(0.0, color=drawing.BLACK, lw=1.0)
        (self._last,) = graph.plot([], [], color=drawing.BLUE, label="last oil, at the engine")
        (self._charge,) = graph.plot([], [], color=drawing.GREEN, ls=":", label="the same, standing: pre-charge")
        (self._point,) = graph.plot([], [], "o", ms=10, color=drawing.BLACK, clip_on=False)
        graph.legend(loc="upper left", borderaxespad=0.1)
        start = figure.add_axes((0.56, 0.15, 0.415, 0.08))
        start.set_xscale("log")
        start.set_xlim(1.0, 1000.0 * LONGEST_START)
        start.set_ylim(0.0, 1.0)
        start.set_yticks([])
        start.set_xticks([1, 10, 100, 1000, 10_000], ["1 ms", "10 ms", "100 ms", "1 s", "10 s"])
        start.minorticks_off()
        start.set_xlabel(f"time from rest to {THROUGH_FLOW.text(WANTED_FLOW)} (crossed out: never)")
        self._bar = drawing.box(start, (1.0, 0.1), 1.0, 0.8, fc=drawing.SKY, ec=drawing.BLACK, hatch="\\\\")
        never: dict[str, Any] = {"fc": "white", "ec": drawing.RED, "hatch": "xx"}
        self._never = drawing.box(start, (1.0, 0.1), 1000.0 * LONGEST_START, 0.8, **never)
        timing = [self._bar, self._never]
        return [*self._build_view(figure), self._charge, self._last, self._point, *timing]

    def _build_view(self, figure: Figure) -> list[Artist]:
        """Engine, vessel and line from above, in feet and to scale."""
        view = figure.add_axes((0.0, 0.0, 0.48, 1.0))
        drawing.bare(view)
        view.set_xlim(-15.4, 15.4)
        view.set_ylim(-13.2, 13.2)
        view.set_aspect("equal")
        front: dict[str, Any] = {"arrowstyle": "-|>", "lw": 1.5, "color": drawing.GREY}
        view.annotate("", (14.8, 11.4), (6.0, 11.4), arrowprops=front)
        style: dict[str, Any] = {"ha": "center", "va": "center", "fontsize": 10.5}
        view.text(10.4, 12.4, "front of the car", color=drawing.GREY, **style)
        view.text(-8.8, 12.4, "seen from above, to scale", **style)
        bar, text = (5.0, "5 ft") if LINE_LENGTH.unit() == LINE_LENGTH.us else (1.0 / 0.3048, "1 m")
        view.plot([-8.8 - bar / 2, -8.8 + bar / 2], [11.2, 11.2], color=drawing.BLACK, lw=2.0, marker="|", ms=8)
        view.text(-8.8, 10.2, text, **style)
        view.text(-9.4, -12.6, "the car's acceleration", **style)
        view.text(10.6, -12.6, "the push on the oil", **style)
        view.plot([-13.5, 13.5], [0.0, 0.0], color=drawing.PALE, lw=1.0)
        view.plot([0.0, 0.0], [-12.5, 12.5], color=drawing.PALE, lw=1.0)
        (self._hose,) = view.plot([], [], color=drawing.OCHRE, lw=5.0, solid_capstyle="butt")
        (self._gains,) = view.plot([], [], color=drawing.GREEN, lw=3.0, ms=13, markevery=[1])
        (self._push,) = view.plot([], [], color=drawing.RED, lw=3.0, ls=(0, (2, 1)), ms=13, markevery=[1])
        self._vessel = drawing.box(view, (0.0, 0.0), 2.0, 2.0, fc=drawing.GAS, ec=drawing.BLACK, hatch="..", zorder=3)
        engine = drawing.box(view, (-1.6, -1.2), 3.2, 2.4, fc=drawing.STEEL, ec=drawing.BLACK, zorder=3)
        named = drawing.Word(view, "engine", 0.85)
        named.show(0.0, 0.0)
        self._vessel_name = drawing.Word(view, "vessel", 0.95)
        parts = [self._hose, self._gains, self._push, self._vessel, engine]
        return [*parts, *named.moving, *self._vessel_name.moving]

    def update_artists(self, state: State) -> None:
        feet = float(LINE_LENGTH.display(state["distance"], "US"))
        x, y = feet * state["place"][0], feet * state["place"][1]
        self._hose.set_data([0.0, x], [0.0, y])
        self._vessel.set_xy((x - 1.0, y - 1.0))
        beside = state["place"][1] != 0
        self._vessel_name.show(x + (3.2 if beside else 0.0), y + (0.0 if beside else 1.9))
        forwards, left = state["manoeuvre"]
        for arrow, middle, way in (
            (self._gains, (-9.4, -6.4), (forwards, left)),
            (self._push, (9.4, -6.4), (-forwards, -left)),
        ):
            half = float(ACCELERATION.display(state["acceleration"]))
            (cx, cy), (dx, dy) = middle, way
            arrow.set_data([cx - half * dx, cx + half * dx], [cy - half * dy, cy + half * dy])
            arrow.set_marker(MARKERS[way])
            arrow.set_visible(half > 0.0)
        axis, charge = ACCELERATION.display(state["axis"]), float(GAUGE.display(state["precharge"]))
        self._charge.set_data(axis, [charge, charge])
        self._last.set_data(axis, GAUGE.display(state["lasts"]))
        self._point.set_data([ACCELERATION.display(state["acceleration"])], [GAUGE.display(state["last"])])
        moves = math.isfinite(state["time"])
        self._bar.set_visible(moves)
        self._never.set_visible(not moves)
        self._bar.set_width(1000.0 * min(max(state["time"], 1e-3), LONGEST_START) - 1.0)

    def readings(self, state: State) -> Sequence[Reading]:
        from_rest = f"from rest to {THROUGH_FLOW.text(WANTED_FLOW)}"
        start = Reading(from_rest, state["time"], MILLISECONDS)
        if not math.isfinite(state["time"]):
            start = Reading(from_rest, "never: nothing pushes it towards the engine")
        return [
            Reading("head at the engine's end (− means it loses)", state["head"], PRESSURE_DIFFERENCE),
            Reading("last oil at the engine, standing (pre-charge)", state["precharge"], GAUGE),
            Reading("last oil at the engine, on the move", state["last"], GAUGE),
            Reading("left to move the oil", state["drive"], PRESSURE_DIFFERENCE),
            Reading(f"speed in the hose at {THROUGH_FLOW.text(WANTED_FLOW)}", state["speed"], VELOCITY),
            start,
        ]

    def summary(self, state: State) -> str:
        head, charge = state["head"], GAUGE.text(state["precharge"])
        if head == 0.0:
            across = state["acceleration"] > 0.0 and state["distance"] > 0.0
            why = "The line lies across the acceleration" if across else "Nothing accelerates along the line"
            return f"{why}, so there is no head: both ends of the line feel the same pressure."
        size = PRESSURE_DIFFERENCE.text(abs(head))
        if head > 0.0:
            return f"The oil is pushed towards the engine, whose end of the line gains {size} over the vessel's end."
        lost = f"The oil is pushed towards the vessel, and the engine's end of the line loses {size}"
        if state["last"] <= 0.0:
            return (
                f"{lost}: all of the {charge} pre-charge. As long as this lasts, the last oil does not arrive at all."
            )
        return f"{lost}. With a pre-charge of {charge} the last oil arrives at {GAUGE.text(state['last'])}."


# -------------------------------------------------------------------------------------------------------------- the tee

BEFORE, AFTER = "before the filter", "after the filter"
TIGHT, WORN, NONE = "tight", "worn seat", "no check valve"
LEAKS = {TIGHT: Q(0, "gpm"), WORN: Q(0.4, "gpm"), NONE: Q(1.5, "gpm")}
"""Back towards the pump at `LEAK_AT`; without a check valve, the middle of the estimated 1 to 2 gpm (no source)."""
LEAK_AT = Q(50, "psi")
TEE_LINE = SupplyLine(
    Hose("-12 with 5/8 in bore", "-12", Q(0.625, "in")),
    Q(8, "ft"),
    (Fitting("quarter-turn valve, reduced bore", Q(0.5, "in"), Q(1.0, "dimensionless")),),
)
"""The line of this panel."""
WIDEST_FLOW = float(THROUGH_FLOW.from_display(20.0, "US"))


class Tee(Panel):
    """The pump draws air and the vessel feeds: what its oil meets, with the tee on either side of the filter."""

    call = "tee"
    title = "The pump draws air: where does the vessel's oil go?"
    alt = (
        "A circuit of pump, check valve, filter, gallery and vessel with the tee before or after the filter, each flow "
        "drawn as wide as it is large; and the gallery pressure that the vessel can hold up against the flow."
    )

    def make_controls(self) -> Sequence[Control]:
        self._line = way_of(TEE_LINE)
        self._leaks = {name: one_to_si("leak", leak, THROUGH_FLOW) for name, leak in LEAKS.items()}
        self._leak_at = one_to_si("reference", LEAK_AT, PRESSURE_DIFFERENCE)
        below = Q(0, "psi"), Q(40, "psi"), Q(10, "psi")
        return [
            Choice("tee", "The tee stands", [(BEFORE, BEFORE), (AFTER, AFTER)]),
            _pressure("vessel", "Vessel pressure", 40.0, 80.0, 50.0),
            Amount("below", "Gallery pressure below the vessel's by", PRESSURE_DIFFERENCE, *below, (0.5, 0.02)),
            _warmth("line_temperature", "Temperature of the oil in the line", 40.0),
            _warmth("filter_temperature", "Temperature of the oil in the filter", 90.0),
            Choice("check_valve", "Check valve behind the tee", [(name, name) for name in LEAKS]),
            _oil_choice(),
            Choice("engine", "Filter of", _named(engines(), "street_v8"), listed=True),
        ]

    def solve(self, at: Setting) -> State:
        in_line = density_of(at.oil.si, at.line_temperature), viscosity_of(at.oil.si, at.line_temperature)
        leak, in_filter = (self._leaks[at.check_valve], self._leak_at), viscosity_of(at.oil.si, at.filter_temperature)
        axis, gallery = np.linspace(0.0, 1.3 * WIDEST_FLOW, 66), at.vessel - at.below
        state: State = {"tee": at.tee, "gallery": gallery, "valve": at.check_valve}
        for place, element in ((BEFORE, at.engine.si.filter), (AFTER, None)):
            found = flow_at_tee(self._line, at.vessel, gallery, *in_line, *leak, element, in_filter)
            curve = beyond_the_tee(self._line, axis, at.vessel, *in_line, *leak, element, in_filter)
            names = ("out", "through", "leak", "at_tee", "lost", "unfiltered")
            state[place] = dict(zip(names, found, strict=True)) | {"flows": curve[0], "held": curve[3]}
        return state

    def build(self, figure: Figure) -> Iterable[Artist]:
        self._circuit = _Circuit(figure.add_axes((0.0, 0.0, 0.57, 1.0)))
        graph = drawing.framed(
            figure,
            (0.64, 0.15, 0.345, 0.75),
            "What the vessel can hold up",
            (f"flow into the gallery ({THROUGH_FLOW.label()})", 0.0, float(THROUGH_FLOW.display(WIDEST_FLOW))),
            (f"gallery pressure ({GAUGE.label()})", 0.0, _shown(GAUGE, 110.0)),
        )
        (self._after,) = graph.plot([], [], color=drawing.BLUE, label="tee after the filter")
        (self._before,) = graph.plot([], [], color=drawing.RED, ls="--", label="tee before the filter")
        (self._level,) = graph.plot([], [], color=drawing.GREEN, ls=":", label="gallery pressure now")
        (self._other,) = graph.plot([], [], "o", ms=9, mfc="white", mec=drawing.BLACK, mew=1.8, clip_on=False)
        (self._point,) = graph.plot([], [], "o", ms=11, color=drawing.BLACK, clip_on=False)
        graph.legend(loc="upper right")
        return [*self._circuit.moving, self._after, self._before, self._level, self._other, self._point]

    def update_artists(self, state: State) -> None:
        here, there = state[state["tee"]], state[AFTER if state["tee"] == BEFORE else BEFORE]
        out, through, leak = (here[key] / WIDEST_FLOW for key in ("out", "through", "leak"))
        self._circuit.show(state["tee"] == BEFORE, out, through, leak, here["unfiltered"], state["valve"])
        level, most = float(GAUGE.display(state["gallery"])), float(THROUGH_FLOW.display(WIDEST_FLOW))
        self._level.set_data([0.0, most], [level, level])
        for line, place in ((self._before, BEFORE), (self._after, AFTER)):
            line.set_data(THROUGH_FLOW.display(state[place]["flows"]), GAUGE.display(state[place]["held"]))
        for point, where in ((self._point, here), (self._other, there)):
            flow = max(float(THROUGH_FLOW.display(where["through"])), 0.0)
            point.set_data([flow], [level])
            point.set_visible(flow <= most)

    def readings(self, state: State) -> Sequence[Reading]:
        here = state[state["tee"]]
        return [
            Reading("into the gallery, tee before the filter", state[BEFORE]["through"], THROUGH_FLOW),
            Reading("into the gallery, tee after the filter", state[AFTER]["through"], THROUGH_FLOW),
            Reading("out of the vessel, tee as chosen", here["out"], THROUGH_FLOW),
            Reading("leak back past the check valve", here["leak"], THROUGH_FLOW),
            Reading("gallery pressure", state["gallery"], GAUGE),
            Reading("pressure at the tee", here["at_tee"], GAUGE),
            Reading("drop in the filter on the way", here["lost"], PRESSURE_DIFFERENCE),
            Reading("share that passes no filter on the way", here["unfiltered"], FRACTION),
        ]

    def summary(self, state: State) -> str:
        here = state[state["tee"]]
        if here["out"] <= 1e-12:
            return (
                f"Vessel and gallery stand at the same {GAUGE.text(state['gallery'])}, so the vessel gives nothing. It "
                "comes in only when the gallery falls below it."
            )
        if here["through"] <= 0.0:
            return "All that the vessel gives runs back past the check valve: nothing reaches the gallery."
        flow = f"{THROUGH_FLOW.text(here['through'])} reaches the gallery"
        leak = f" {THROUGH_FLOW.text(here['leak'])} is lost back towards the pump." if here["leak"] > 0.0 else ""
        if state["tee"] == AFTER:
            return (
                f"{flow} without passing the filter: no pressure is lost there, and whatever is loose in vessel and "
                f"line goes straight to the bearings.{leak}"
            )
        lost = PRESSURE_DIFFERENCE.text(here["lost"])
        if here["unfiltered"] > 0.0:
            return (
                f"{flow}. The filter takes {lost}, so its bypass is open: {here['unfiltered']:.0%} of the oil goes "
                f"round it, with whatever is loose in it.{leak}"
            )
        return f"{flow}, all of it through the filter, which takes {lost} and holds back what is loose.{leak}"


class _Circuit:
    """Pump, check valve, filter and gallery in a row, the vessel above, the tee on either side of the filter."""

    row, top, over = 2.7, 5.9, 4.15
    pump, check, before, element, after, end = 1.0, 2.75, 4.0, 5.9, 7.8, 11.1
    left, right = 4.8, 7.0

    def __init__(self, ax: Axes) -> None:
        drawing.bare(ax)
        ax.set_xlim(0.0, 11.4)
        ax.set_ylim(0.0, 8.2)
        ax.set_aspect("equal")
        self._fixed(ax)
        flow: dict[str, Any] = {"color": drawing.OCHRE, "solid_capstyle": "butt", "zorder": 2}
        self._riser, self._on, self._round = (ax.plot([], [], **flow)[0] for _ in range(3))
        (self._back,) = ax.plot([], [], color=drawing.RED, solid_capstyle="butt", zorder=2)
        mark: dict[str, Any] = {"color": drawing.BLACK, "ls": "none", "ms": 9, "zorder": 5}
        self._down, self._right, self._left = (ax.plot([], [], marker, **mark)[0] for marker in "v><")
        (self._bits,) = ax.plot([], [], "x", color=drawing.BLACK, ms=6, mew=1.6, zorder=6)
        flows = [self._riser, self._on, self._round, self._back]
        self.moving: list[Artist] = [*flows, *self._parts(ax), self._down, self._right, self._left, self._bits]

    def _fixed(self, ax: Axes) -> None:
        y = self.row
        pipe: dict[str, Any] = {"color": drawing.PALE, "lw": 9.0, "solid_capstyle": "butt", "zorder": 1}
        ax.plot([self.pump, self.pump, self.end], [0.7, y, y], **pipe)
        ax.plot([self.left, self.left, self.right, self.right], [y, self.over, self.over, y], **pipe)
        ax.plot([0.3, 0.3, 1.7, 1.7], [1.15, 0.45, 0.45, 1.15], color=drawing.BLACK, lw=1.5)
        for x, height, text in (
            (2.1, 0.6, "pan"),
            (self.pump, y + 1.1, "pump,\ndraws air"),
            (self.check, y - 0.9, "check valve"),
            (self.element, y - 1.1, "filter"),
            (self.element, self.over + 0.5, "bypass"),
            (10.2, y + 0.7, "gallery"),
            (10.2, y - 1.85, "to the bearings"),
            (self.element, 7.85, "vessel"),
            (5.6, 0.45, "×  what is loose in vessel and line"),
        ):
            ax.text(x, height, text, ha="center", va="center", fontsize=10)
        arrow: dict[str, Any] = {"arrowstyle": "-|>", "lw": 1.3, "color": drawing.GREY}
        for x in (9.6, 10.2, 10.8):
            ax.annotate("", (x, y - 1.5), (x, y - 0.1), arrowprops=arrow)

    def _parts(self, ax: Axes) -> list[Artist]:
        """Vessel and the symbols of pump, filter and check valve, which stand in front of the flow."""
        x, y, half, tip = self.element, self.row, 0.75, self.pump + 0.58
        solid: dict[str, Any] = {"fc": "white", "ec": drawing.BLACK, "lw": 1.5, "zorder": 4}
        black: dict[str, Any] = {"color": drawing.BLACK, "zorder": 5}
        shell = drawing.box(ax, (3.3, self.top), 5.2, 1.6, fc=drawing.GAS, ec=drawing.BLACK, lw=1.5, hatch="..")
        oil = drawing.box(ax, (3.3, self.top), 5.2, 0.8, fc=drawing.OIL, ec=drawing.BLACK, hatch="//")
        pump = Circle((self.pump, y), 0.6, **solid)
        way = Polygon([(tip, y), (tip - 0.45, y + 0.33), (tip - 0.45, y - 0.33)], fc=drawing.BLACK, zorder=5)
        diamond = Polygon([(x - half, y), (x, y + half), (x + half, y), (x, y - half)], **solid)
        self._ball = Circle((self.check, y), 0.27, **solid)
        for patch in (pump, way, diamond, self._ball):
            ax.add_patch(patch)
        (mesh,) = ax.plot([x, x], [y - half, y + half], ls="--", lw=1.3, **black)
        corner = self.check - 0.42
        (self._seat,) = ax.plot([corner + 0.4, corner, corner + 0.4], [y + 0.5, y, y - 0.5], lw=1.6, **black)
        return [shell, oil, pump, way, diamond, mesh, self._seat, self._ball]

    def show(self, before: bool, out: float, through: float, leak: float, unfiltered: float, valve: str) -> None:
        """Flows as shares of the widest line; unfiltered: share of the gallery's oil that no filter has seen."""
        x, y = self.before if before else self.after, self.row
        around = through * unfiltered if before else 0.0
        corners = [self.left, self.left, self.right, self.right]
        for line, share, path in (
            (self._riser, out, ([x, x], [self.top, y])),
            (self._on, through, ([x, self.end], [y, y])),
            (self._round, around, (corners, [y, self.over, self.over, y])),
            (self._back, leak, ([x, self.pump, self.pump], [y, y, 0.9])),
        ):
            line.set_data(*path)
            line.set_linewidth(2.0 + 14.0 * min(share, 1.0))
            line.set_visible(share > 1e-6)
        onward = [(8.75, y)] if through > 1e-6 else []
        _put(self._right, [*onward, (self.element, self.over)] if around > 1e-6 else onward)
        _put(self._down, [(x, 4.95)] if out > 1e-6 else [])
        _put(self._left, [(1.95, y)] if leak > 1e-6 else [])
        bits = [(x, 5.55), (x, 4.4), (x, 3.7)]
        if not before:
            bits += [(8.2, y), (9.3, y), (10.5, y)]
        elif around > 1e-6:
            bits += [(4.9, y), (self.left, 3.6), (5.3, self.over), (6.5, self.over), (7.0, 3.4), (8.2, y), (9.3, y)]
        else:
            bits += [(4.6, y), (5.0, y - 0.2), (5.05, y + 0.2)]
        _put(self._bits, bits if out > 1e-6 else [])
        for part in (self._seat, self._ball):
            part.set_visible(valve != NONE)
        self._ball.set_center((self.check + (0.15 if valve == WORN else -0.07), y))


def _put(points: Any, places: Sequence[tuple[float, float]]) -> None:
    points.set_data([x for x, _ in places], [y for _, y in places])


# ------------------------------------------------------------------------------------------------------- the oil budget

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

    def make_controls(self) -> Sequence[Control]:
        self._oil: Lubricant = _named(lubricants(), "street")[0][1]
        self._flights: dict[str, tuple[Qty, Qty]] = {}
        extra = Q(-4, "qt"), Q(4, "qt"), Q(0, "qt")
        return [
            Choice("state", "Engine and vessel are", [(state, state) for state in STATES], listed=True),
            Choice("engine", "Engine, with its pan", _named(engines(), "street_v8"), listed=True),
            Choice("vessel", "Vessel", _named(vessels(), "bench"), listed=True),
            _pressure("precharge", "Pre-charge", 0.0, 30.0, 10.0),
            _pressure("pressure", "Running pressure", 30.0, 100.0, 60.0),
            _hose_choice(),
            _length("length", "Length of the hose"),
            Amount("poured", "Poured in: more (+) or less (−) than right", MORE_OR_LESS, *extra, (0.1, 0.1)),
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

    def build(self, figure: Figure) -> Iterable[Artist]:
        _, most = self.redraw_key(self.state)
        bars = figure.add_axes((0.585, 0.315, 0.4, 0.585))
        drawing.graph(bars, "Always the same oil, in other places", f"oil ({OIL.label()})", "")
        bars.set_xlim(-0.08 * most, most)
        bars.axvline(0.0, color=drawing.BLACK, lw=1.2)
        bars.spines["left"].set_visible(False)
        bars.set_ylim(len(STATES) - 0.5, -0.5)
        bars.set_yticks(range(len(STATES)), [name.replace(", ", ",\n") for name in STATES], fontsize=9.5)
        bars.tick_params(axis="y", length=0.0)
        bars.grid(axis="y", visible=False)
        self._pieces: dict[str, PathPatch] = {}
        for place, (colour, hatch) in LOOKS.items():
            look: dict[str, Any] = {"fc": colour, "hatch": hatch, "ec": drawing.BLACK, "lw": 0.7, "label": place}
            self._pieces[place] = PathPatch(_boxes([0.0], [1.0]), **look)
            bars.add_patch(self._pieces[place])
        pieces = list(self._pieces.values())
        figure.legend(handles=pieces, loc="lower center", bbox_to_anchor=(0.72, 0.0), ncols=4)
        self._frame = drawing.box(bars, (0.0, 0.0), 1.0, 0.84, fc="none", ec=drawing.BLACK, lw=2.6, zorder=4)
        return [*self._build_pan(figure), *pieces, self._frame]

    def _build_pan(self, figure: Figure) -> list[Artist]:
        """The pan cut open: heights to scale, widths in proportion to its areas."""
        pan = self.state["engine"].si.pan
        depth, pickup, full, windage = (
            float(DISTANCE.display(height))
            for height in (pan.sump_depth, pan.pickup_height, pan.full_height, pan.windage_height)
        )
        self._brim = brim = 1.35 * windage
        height = (f"height above the sump's floor ({DISTANCE.label()})", 0.0, brim)
        ax = drawing.framed(figure, (0.065, 0.08, 0.36, 0.82), "The pan, cut open", ("", -0.02, 1.4), height)
        ax.set_xticks([])
        ax.grid(False)
        ax.spines["bottom"].set_visible(False)
        right = 0.95
        left = right - min(pan.sump_area / pan.upper_area, 0.95)
        style: dict[str, Any] = {"fc": drawing.OIL, "ec": "none", "hatch": "//"}
        self._sump = drawing.box(ax, (left, 0.0), right - left, 0.0, **style)
        self._wide = drawing.box(ax, (0.0, depth), 1.0, 0.0, **style)
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
        (self._level,) = ax.plot([], [], ">", ms=11, color=drawing.BLUE, clip_on=False)
        return [self._sump, self._wide, outline, tube, mouth, *marks, self._level]

    def update_artists(self, state: State) -> None:
        level = min(float(DISTANCE.display(state["level"])), self._brim)
        depth = float(DISTANCE.display(state["engine"].si.pan.sump_depth))
        self._sump.set_height(min(level, depth))
        self._wide.set_height(max(level - depth, 0.0))
        self._level.set_data([-0.01], [level])
        everywhere = [[where[place] for place in PLACES] for where in state["everywhere"].values()]
        oil = OIL.display(np.array(everywhere))
        starts = np.minimum(oil[:, 0], 0.0)  # what is missing lies left of zero
        ends = starts[:, None] + np.cumsum(np.maximum(oil, 0.0), axis=1)
        for k, piece in enumerate(self._pieces.values()):
            piece.set_path(_boxes(ends[:, k - 1] if k else starts, ends[:, k]))
            piece.set_visible(bool(np.any(oil[:, k] > 0.0)))
        row = STATES.index(state["state"])
        self._frame.set_xy((starts[row], row - 0.42))
        self._frame.set_width(ends[row, -1] - starts[row])

    def readings(self, state: State) -> Sequence[Reading]:
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
