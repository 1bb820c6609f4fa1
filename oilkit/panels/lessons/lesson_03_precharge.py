"""Panels of lesson 03: useful oil against stored oil, the pressures an engine needs, and one long event."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from oilkit.panels.framework import drawing
from oilkit.panels.framework.base import Panel
from oilkit.panels.framework.bound import Reading, Setting, State
from oilkit.panels.framework.choices import vessel_choice
from oilkit.panels.framework.controls import Amount, Choice, Control
from oilkit.panels.framework.vessel_view import VesselView, room_of
from oilkit.physics import gas
from oilkit.physics.bearing import crank_inward_loss, crank_outward_gain
from oilkit.physics.catalog import bench_vessel, engines, lubricants
from oilkit.physics.oil import density_of
from oilkit.physics.precharge import (
    best_precharge,
    longest_lasting_precharge,
    pressure_after,
    rule_of_thumb_pressure,
    time_to_empty,
    useful_oil,
)
from oilkit.physics.vessel import oil_stored
from oilkit.quantities.kinds import FLOW, GAUGE, OIL, PRESSURE_DIFFERENCE, SPEED, TIME
from oilkit.quantities.units import Q

USUAL = tuple(float(GAUGE.from_display(psi, "US")) for psi in (7.0, 10.0))
"""The trade's usual pre-charge (common practice, no source)."""
HIGHEST = float(GAUGE.from_display(50.0, "US"))
"""Right end of the pre-charge axes."""
AXIS = np.linspace(0.0, HIGHEST, 101)
BESIDE_LEGEND = (0.09, 0.15, 0.66, 0.75)
HOT_SUMP = float(Q(100, "degC").to("K").m)


def _gauge(name: str, label: str, low: float, high: float, start: float) -> Amount:
    return Amount(name, label, GAUGE, Q(low, "psig"), Q(high, "psig"), Q(start, "psig"), (0.5, 0.02))


def _usual_band(ax: Axes) -> None:
    low, high = (float(GAUGE.display(end)) for end in USUAL)
    ax.axvspan(low, high, fc=drawing.YELLOW, alpha=0.45, hatch="..", ec=drawing.GREY, label="the trade's usual")


class UsefulOil(Panel):
    """Oil stored, and the part of it that comes out with enough pressure behind it."""

    call = "useful_oil"
    title = "Stored oil and useful oil"
    alt = (
        "The vessel cut open, with the oil that would come out too late marked; beside it stored oil and useful oil "
        "against pre-charge."
    )

    def make_controls(self) -> Sequence[Control]:
        speeds = [("slowly (gas stays warm)", gas.ISOTHERMAL), ("fast (gas cools)", gas.ADIABATIC)]
        return [
            _gauge("precharge", "Pre-charge", 0, 50, 7),
            _gauge("pressure", "Oil pressure before", 50, 120, 60),
            _gauge("lowest", "Pressure the engine needs", 2, 45, 20),
            Choice("speed", "The oil leaves", speeds),
            vessel_choice(),
        ]

    def solve(self, at: Setting) -> State:
        volume, _, stroke = room_of(at.vessel)
        best = float(best_precharge.si(at.pressure, at.lowest, polytropic_index=at.speed))
        charges = np.append(AXIS, [at.precharge, best])
        stored = _stored(volume, charges, at.pressure)
        useful = useful_oil.si(volume, charges, at.pressure, at.lowest, polytropic_index=at.speed)
        return {
            "charge": at.precharge,
            "room": (volume, stroke),
            "stored": stored[:-2],
            "useful": useful[:-2],
            "now": (stored[-2], useful[-2]),
            "late": stored[-2] - useful[-2],
            "best": (best, useful[-1]),
        }

    def redraw_key(self, state: State) -> Any:
        return state["room"]

    def build(self, figure: Figure) -> Iterable[Artist]:
        volume, stroke = self.state["room"]
        self._view = VesselView(figure, stroke)
        height = drawing.Cutaway.height
        self._late = drawing.box(
            self._view.ax, (0.0, 0.0), 0.0, height, fc=drawing.PURPLE, ec=drawing.BLACK, hatch="xx", lw=0.8
        )
        self._late_name = drawing.Word(self._view.ax, "late", 0.06, drawing.PURPLE)
        graph = drawing.framed(
            figure,
            drawing.RIGHT_HALF,
            "The most oil is not the most useful oil",
            (f"pre-charge ({GAUGE.label()})", 0.0, float(GAUGE.display(HIGHEST))),
            (f"oil ({OIL.label()})", 0.0, 1.04 * float(OIL.display(volume))),
        )
        _usual_band(graph)
        (self._stored,) = graph.plot([], [], color=drawing.BLUE, ls="--", label="stored")
        (self._useful,) = graph.plot([], [], color=drawing.GREEN, label="useful")
        (self._best,) = graph.plot([], [], "*", ms=15, color=drawing.RED, label="most useful oil")
        (self._points,) = graph.plot([], [], "o", ms=9, color=drawing.BLACK, clip_on=False)
        graph.legend(loc="upper right")
        lines = [self._stored, self._useful, self._best, self._points]
        return [*self._view.moving, self._late, *self._late_name.moving, *lines]

    def update_artists(self, state: State) -> None:
        volume, _ = state["room"]
        stored, useful = state["now"]
        share = state["late"] / volume
        self._view.show(stored / volume, state["pressure"], max(state["pressure"], state["charge"]), share)
        self._late.set_width(share)
        self._late_name.show(share / 2, drawing.Cutaway.height / 2, share > 0.15)
        axis = GAUGE.display(AXIS)
        self._stored.set_data(axis, OIL.display(state["stored"]))
        self._useful.set_data(axis, OIL.display(state["useful"]))
        best, most = state["best"]
        self._best.set_data([GAUGE.display(best)], [OIL.display(most)])
        self._points.set_data([GAUGE.display(state["charge"])] * 2, OIL.display(np.array([stored, useful])))

    def readings(self, state: State) -> Sequence[Reading]:
        stored, useful = state["now"]
        best, most = state["best"]
        return [
            Reading("oil stored", stored, OIL),
            Reading("useful oil", useful, OIL),
            Reading("oil that comes too late", state["late"], OIL),
            Reading("pre-charge with the most useful oil", best, GAUGE),
            Reading("useful oil there", most, OIL),
        ]

    def summary(self, state: State) -> str:
        stored, useful = state["now"]
        charge, lowest = state["charge"], state["lowest"]
        if stored <= 0.0:
            return (
                f"A pre-charge of {GAUGE.text(charge)} is above the oil pressure: the piston rests at the oil end and "
                "there is no oil to give."
            )
        if state["late"] > 0.005 * stored:
            return (
                f"Of {OIL.text(stored)} stored, {OIL.text(useful)} come out before the pressure has fallen to "
                f"{GAUGE.text(lowest)}. The other {OIL.text(state['late'])} come too late to help."
            )
        return (
            f"All {OIL.text(stored)} come out at {GAUGE.text(lowest)} or more: the vessel is empty before the pressure "
            "has fallen that far. With more pre-charge there would only be less oil."
        )


def _stored(volume: float, charge: Any, pressure: float) -> Any:
    return oil_stored.si(volume, charge, pressure, resting=True)


class PressuresNeeded(Panel):
    """Three pressures instead of one, beside the trade's rule and the crank's own need."""

    call = "pressures_needed"
    title = "How much pressure does an engine need?"
    alt = (
        "Pressure against speed: the trade's rule, the relief valve, wanted, warning and damage pressure, crank's need."
    )

    def make_controls(self) -> Sequence[Control]:
        start = Q(3000, "rpm")
        return [
            Amount("speed", "Engine speed", SPEED, Q(0, "rpm"), Q(8000, "rpm"), start, (100, 100)),
            Choice("engine", "Engine", [(e.name, e) for e in engines().values()], listed=True),
        ]

    def solve(self, at: Setting) -> State:
        e = at.engine.si
        axis = np.linspace(0.0, float(SPEED.from_display(8000.0)), 81)
        speeds = np.append(axis, at.speed)
        rho = density_of(lubricants()["street"].si, HOT_SUMP)
        main = e.mains.diameter
        drilling = crank_inward_loss.si(speeds, rho, main, 2.0 * e.crank_nearest)
        to_axis = crank_inward_loss.si(speeds, rho, main, 0.0)
        rule = rule_of_thumb_pressure.si(speeds)
        return {
            "engine": at.engine.name,
            "levels": (e.wanted, e.warning, e.damage, e.pump.relief_opening),
            "axis": axis,
            "rule_line": rule[:-1],
            "drilling_line": drilling[:-1],
            "to_axis_line": to_axis[:-1],
            "rule": rule[-1],
            "drilling": drilling[-1],
            "to_axis": to_axis[-1],
            "outward": crank_outward_gain.si(at.speed, rho, main, e.crank_exit),
            "rule_meets_relief": at.speed * e.pump.relief_opening / rule[-1] if at.speed else 0.0,
        }

    def redraw_key(self, state: State) -> Any:
        return state["engine"]

    def build(self, figure: Figure) -> Iterable[Artist]:
        state = self.state
        top = float(GAUGE.from_display(85.0, "US"))
        graph = drawing.framed(
            figure,
            BESIDE_LEGEND,
            "The trade's rule is one thing, what the engine needs is another",
            (f"engine speed ({SPEED.label()})", 0.0, 8000.0),
            (f"gallery pressure ({GAUGE.label()})", 0.0, float(GAUGE.display(top))),
        )
        shown = SPEED.display(state["axis"])
        graph.plot(shown, GAUGE.display(state["rule_line"]), color=drawing.BLUE, label="the trade's rule")
        styles = (("wanted", drawing.GREEN, "--"), ("warning", drawing.OCHRE, "-."), ("damage", drawing.RED, ":"))
        wanted, warning, damage, relief = state["levels"]
        for (name, colour, style), level in zip(styles, (wanted, warning, damage), strict=True):
            graph.axhline(float(GAUGE.display(level)), color=colour, ls=style, label=name)
        graph.axhline(float(GAUGE.display(relief)), color=drawing.BLACK, lw=3.2, label="relief valve opens")
        graph.fill_between(
            shown,
            GAUGE.display(state["drilling_line"]),
            GAUGE.display(state["to_axis_line"]),
            fc=drawing.PURPLE,
            alpha=0.45,
            hatch="//",
            ec=drawing.BLACK,
            label="into the crank:\ndrilling to axis",
        )
        (self._line,) = graph.plot([], [], color=drawing.GREY, lw=1.4)
        (self._points,) = graph.plot([], [], "o", ms=9, color=drawing.BLACK, ls="none", clip_on=False)
        graph.legend(**drawing.OUTSIDE)
        self._top = top
        return [self._line, self._points]

    def update_artists(self, state: State) -> None:
        at = float(SPEED.display(state["speed"]))
        self._line.set_data([at, at], [0.0, float(GAUGE.display(self._top))])
        self._points.set_data([at] * 2, GAUGE.display(np.array([state["rule"], state["to_axis"]])))

    def readings(self, state: State) -> Sequence[Reading]:
        wanted, warning, damage, relief = state["levels"]
        return [
            Reading("the trade's rule asks for", state["rule"], GAUGE),
            Reading("relief valve opens at", relief, GAUGE),
            Reading("lost on the way into the crank, this drilling", state["drilling"], PRESSURE_DIFFERENCE),
            Reading("the same, drilled through the axis", state["to_axis"], PRESSURE_DIFFERENCE),
            Reading("won on the way out to the rod journal", state["outward"], PRESSURE_DIFFERENCE),
            Reading("wanted", wanted, GAUGE),
            Reading("warning", warning, GAUGE),
            Reading("damage", damage, GAUGE),
        ]

    def summary(self, state: State) -> str:
        rule, relief = state["rule"], state["levels"][3]
        verdict = (
            f"The rule asks for {GAUGE.text(rule)}, more than the relief valve lets stand ({GAUGE.text(relief)})."
            if rule > relief
            else f"The rule asks for {GAUGE.text(rule)}; the relief valve opens at {GAUGE.text(relief)}."
        )
        return (
            f"{verdict} Getting oil into the turning crank costs {PRESSURE_DIFFERENCE.text(state['drilling'])} to "
            f"{PRESSURE_DIFFERENCE.text(state['to_axis'])}; that much must be there before a rod bearing gets any."
        )


class OneLongEvent(Panel):
    """One event of known length: the highest pre-charge that lasts keeps the pressure highest, beside a cliff."""

    call = "one_long_event"
    title = "One long event: close to the cliff"
    alt = "Pressure left at the end of an event against pre-charge: it rises, then drops as the oil runs out."

    def make_controls(self) -> Sequence[Control]:
        return [
            _gauge("precharge", "Pre-charge", 1, 50, 10),
            Amount("event", "The event lasts", TIME, Q(0.5, "s"), Q(8, "s"), Q(2, "s"), (0.1, 0.1)),
            Amount("demand", "Engine takes, before", FLOW, Q(1, "gpm"), Q(20, "gpm"), Q(5, "gpm"), (0.1, 0.5)),
            _gauge("pressure", "Oil pressure before", 50, 80, 60),
            _gauge("idle", "Hot idle pressure", 5, 40, 18),
        ]

    def solve(self, at: Setting) -> State:
        volume = bench_vessel().si.gas_volume
        best = float(longest_lasting_precharge.si(volume, at.pressure, at.demand, at.event))
        charges = np.concatenate([AXIS[1:], [at.precharge, USUAL[1]]])
        left = pressure_after.si(volume, charges, at.pressure, at.demand, at.event)
        return {
            "charge": at.precharge,
            "line": left[:-2],
            "left": left[-2],
            "left_usual": left[-1],
            "lasts": time_to_empty.si(volume, at.precharge, at.pressure, at.demand),
            "best": best,
            "left_best": float(pressure_after.si(volume, best * (1.0 - 1e-9), at.pressure, at.demand, at.event)),
            "oil_idle": _stored(volume, at.precharge, at.idle),
        }

    def build(self, figure: Figure) -> Iterable[Artist]:
        graph = drawing.framed(
            figure,
            BESIDE_LEGEND,
            "More pre-charge keeps the pressure up, until the oil runs out",
            (f"pre-charge ({GAUGE.label()})", 0.0, float(GAUGE.display(HIGHEST))),
            (f"pressure at the event's end ({GAUGE.label()})", 0.0, float(GAUGE.display(1.6 * HIGHEST))),
        )
        _usual_band(graph)
        self._idle = graph.axvspan(
            0.0, 1.0, fc=drawing.PALE, alpha=0.7, hatch="\\\\", ec=drawing.GREY, label="holds nothing\nat hot idle"
        )
        (self._line,) = graph.plot([], [], color=drawing.BLUE, label="pressure left")
        (self._best,) = graph.plot([], [], "*", ms=16, color=drawing.RED, label="just lasts")
        (self._point,) = graph.plot([], [], "o", ms=11, color=drawing.BLACK, clip_on=False, label="your pre-charge")
        graph.legend(**drawing.OUTSIDE)
        return [self._idle, self._line, self._best, self._point]

    def update_artists(self, state: State) -> None:
        self._line.set_data(GAUGE.display(AXIS[1:]), GAUGE.display(state["line"]))
        self._best.set_data([GAUGE.display(state["best"])], [GAUGE.display(state["left_best"])])
        self._point.set_data([GAUGE.display(state["charge"])], [GAUGE.display(state["left"])])
        idle = float(GAUGE.display(state["idle"]))
        self._idle.set_x(idle)
        self._idle.set_width(float(GAUGE.display(HIGHEST)) - idle)

    def readings(self, state: State) -> Sequence[Reading]:
        return [
            Reading("pressure left at the end", state["left"], GAUGE),
            Reading("the vessel would last", state["lasts"], TIME),
            Reading("oil in it at hot idle", state["oil_idle"], OIL),
            Reading("best pre-charge for this event", state["best"], GAUGE),
            Reading("pressure left with the best", state["left_best"], GAUGE),
            Reading("pressure left with 10 psi (0.69 bar)", state["left_usual"], GAUGE),
        ]

    def summary(self, state: State) -> str:
        charge, best = state["charge"], state["best"]
        if state["left"] <= 0.0:
            story = (
                f"With {GAUGE.text(charge)} the vessel is empty after {TIME.text(state['lasts'])}: over the cliff, and "
                "the rest of the event is without pressure."
            )
        else:
            story = f"With {GAUGE.text(charge)} the pressure falls to {GAUGE.text(state['left'])} by the event's end."
        idle = ", but that holds no oil at hot idle" if best > state["idle"] else ""
        return (
            f"{story} The best for this one event is {GAUGE.text(best)}{idle}. A slightly longer event, or slightly "
            "looser bearings, and it is too much: choose with room below it."
        )
