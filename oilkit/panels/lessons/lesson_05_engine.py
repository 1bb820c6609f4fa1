"""Panel of lesson 05: what a whole engine takes from its pump, and what the relief valve lets go."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.collections import PolyCollection
from matplotlib.figure import Figure

from oilkit.panels.framework import drawing
from oilkit.panels.framework.base import Panel
from oilkit.panels.framework.bound import Reading, Setting, State
from oilkit.panels.framework.choices import engine_choice, oil_choice
from oilkit.panels.framework.controls import Amount, Control
from oilkit.physics.catalog import engines
from oilkit.physics.engine import NO_PRESSURE, Engine, OperatingPoint, operating_point
from oilkit.physics.oil import Lubricant
from oilkit.physics.precharge import rule_of_thumb_pressure
from oilkit.quantities.kinds import CLEARANCE_CHANGE, GAUGE, SPEED, TEMPERATURE, THROUGH_FLOW
from oilkit.quantities.units import Q

SPEEDS = 31
"""Points of a curve from idle to red line."""


class DemandLedger(Panel):
    """A whole engine from idle to red line: who takes how much oil, beside what the pump gives."""

    call = "demand_ledger"
    title = "Who drinks what: the engine's oil ledger"
    alt = (
        "Left: oil taken against speed, stacked by kind, under the pump's flow. Right: gallery pressure against speed."
    )

    def make_controls(self) -> Sequence[Control]:
        self._fastest = max(engine.si.redline for engine in engines().values())
        return [
            engine_choice("street_v8"),
            oil_choice(),
            Amount(
                "sump", "Oil temperature in the sump", TEMPERATURE,
                Q(20, "degC"), Q(150, "degC"), Q(100, "degC"), (2, 1),
            ),
            Amount(
                "clearance_change", "Mains and rods: clearance changed by", CLEARANCE_CHANGE,
                Q(-1, "thou"), Q(2, "thou"), Q(0, "thou"), (0.1, 0.002),
            ),
            Amount(
                "speed", "Engine speed", SPEED,
                Q(0, "rpm"), SPEED.quantity(self._fastest), Q(3000, "rpm"), (50, 50),
            ),
        ]  # fmt: skip

    def solve(self, at: Setting) -> State:
        run = (at.engine, at.oil, at.sump, at.clearance_change)
        changes = np.array([[at.clearance_change], [0.0]])
        if self.state.get("run") != run:  # a new speed alone moves the point and leaves the curves
            e = at.engine.si
            speeds = np.append(np.linspace(e.idle, e.redline, SPEEDS), at.speed)
            balance = _balance(at.engine, at.oil, speeds[None, :], at.sump, changes)
            self._curves = {key: series[..., :-1] for key, series in balance.items() if key != "state"}
            self._curves["speed"] = speeds[:-1]
            self._curves["opening"] = _opening(speeds[:-1], self._curves["pump_pressure"][0], e.pump.relief_opening)
            here = {key: series[..., -1] for key, series in balance.items()}
        else:
            here = _balance(at.engine, at.oil, at.speed, at.sump, changes[:, 0])
        return {
            "run": run,
            "change": at.clearance_change,
            "rule": rule_of_thumb_pressure.si(at.speed),
            "unchanged": float(here["gallery"][1]),
            **{key: (str if key == "state" else float)(series[0]) for key, series in here.items()},
        }

    def _top(self) -> float:
        """Upper end of the flow axis: above what the pump gives at red line."""
        return 1.05 * float(np.max(self._curves["pump"]))

    def redraw_key(self, state: State) -> Any:
        return state["engine"]

    def build(self, figure: Figure) -> Iterable[Artist]:
        e = self.state["engine"].si
        fastest = float(SPEED.display(self._fastest)) * 1.02
        speeds = f"engine speed ({SPEED.label()})", 0.0, fastest
        flows = drawing.framed(
            figure,
            (0.075, 0.135, 0.46, 0.635),
            "The pump gives, the engine takes, the valve lets go",
            speeds,
            (f"oil flow ({THROUGH_FLOW.label()})", 0.0, float(THROUGH_FLOW.display(self._top()))),
        )
        kinds = (
            ("jets, lifters", drawing.SKY, ""),
            ("pressed", drawing.ORANGE, "//"),
            ("dragged", drawing.GREEN, "\\\\"),
        )
        self._stack = [_area(flows, *kind) for kind in kinds]
        (self._total,) = flows.plot([], [], color=drawing.BLACK)
        (self._pump,) = flows.plot([], [], color=drawing.BLUE, ls="--", label="pump gives")
        (self._opens,) = flows.plot([], [], color=drawing.RED, ls=":", label="relief valve opens")
        (self._taken,) = flows.plot([], [], "o", ms=10, color=drawing.BLACK, clip_on=False, label="engine takes")
        flows.legend(
            loc="lower left", bbox_to_anchor=(-0.11, 0.99), ncols=3, columnspacing=1.0, handlelength=2.0, fontsize=9.5
        )
        flows.set_title(flows.get_title(loc="left"), loc="left", x=-0.11, pad=44.0)
        top = max(e.pump.relief_rated_pressure * 1.25, rule_of_thumb_pressure.si(self._fastest) * 1.02)
        pressures = drawing.framed(
            figure,
            (0.635, 0.135, 0.345, 0.635),
            "Gallery pressure",
            speeds,
            (f"gallery pressure ({GAUGE.label()})", 0.0, float(GAUGE.display(top))),
        )
        ends = np.array([0.0, self._fastest])
        pressures.plot(
            SPEED.display(ends), GAUGE.display(rule_of_thumb_pressure.si(ends)), color=drawing.GREY, ls="-.", lw=1.6,
            label="the trade's rule",
        )  # fmt: skip
        warning = float(GAUGE.display(e.warning))
        pressures.axhspan(
            0.0, warning, fc=drawing.YELLOW, alpha=0.5, hatch="xx", ec=drawing.GREY, label="below warning"
        )
        (self._before,) = pressures.plot([], [], color=drawing.PURPLE, ls="--", label="clearance as it was")
        (self._pressure,) = pressures.plot([], [], color=drawing.BLUE, label="gallery")
        (self._opens_too,) = pressures.plot([], [], color=drawing.RED, ls=":")
        (self._point,) = pressures.plot([], [], "o", ms=10, color=drawing.BLACK, clip_on=False)
        for ax in (flows, pressures):
            ax.axvline(float(SPEED.display(e.redline)), color=drawing.RED, lw=1.0)
        pressures.text(
            float(SPEED.display(e.redline)), float(GAUGE.display(top)), "red line ", rotation=90, ha="right", va="top",
            fontsize=9,
        )  # fmt: skip
        pressures.legend(
            loc="lower left", bbox_to_anchor=(-0.14, 0.99), ncols=2, columnspacing=1.0, handlelength=2.0, fontsize=9.5
        )
        pressures.set_title(pressures.get_title(loc="left"), loc="left", x=-0.14, pad=44.0)
        return [
            *self._stack,
            self._total,
            self._pump,
            self._opens,
            self._taken,
            self._before,
            self._pressure,
            self._opens_too,
            self._point,
        ]

    size = (10.0, 4.6)

    def update_artists(self, state: State) -> None:
        curves = self._curves
        speeds, here = SPEED.display(curves["speed"]), float(SPEED.display(state["speed"]))
        below = np.zeros(len(speeds))
        for area, key in zip(self._stack, ("jets", "pressed", "dragged"), strict=True):
            above = below + THROUGH_FLOW.display(curves[key][0])
            area.set_verts([np.column_stack([np.append(speeds, speeds[::-1]), np.append(below, above[::-1])])])
            below = above
        self._total.set_data(speeds, below)
        self._pump.set_data(speeds, THROUGH_FLOW.display(curves["pump"][0]))
        self._taken.set_data([here], [THROUGH_FLOW.display(state["total"])])
        opening = curves["opening"]
        for line, ax_top in ((self._opens, THROUGH_FLOW.display(self._top())), (self._opens_too, GAUGE.display(1e7))):
            at = [] if opening is None else [float(SPEED.display(opening))] * 2
            line.set_data(at, [0.0, ax_top][: len(at)])
        self._before.set_data(speeds, GAUGE.display(curves["gallery"][1]))
        self._pressure.set_data(speeds, GAUGE.display(curves["gallery"][0]))
        self._point.set_data([here], [GAUGE.display(state["gallery"])])

    def readings(self, state: State) -> Sequence[Reading]:
        none = state["state"] == NO_PRESSURE
        return [
            Reading("state", state["state"]),
            Reading("gallery pressure", "none", None) if none else Reading("gallery pressure", state["gallery"], GAUGE),
            Reading("with the clearance as it was", "none", None)
            if none
            else Reading("with the clearance as it was", state["unchanged"], GAUGE),
            Reading("by the trade's rule, 10 psi per 1000 rpm", state["rule"], GAUGE),
            Reading("pump gives", state["pump"], THROUGH_FLOW),
            Reading("relief valve lets go", state["relief"], THROUGH_FLOW),
            Reading("engine takes", state["total"], THROUGH_FLOW),
            Reading("of that: pressed through bearings", state["pressed"], THROUGH_FLOW),
            Reading("of that: dragged out by turning", state["dragged"], THROUGH_FLOW),
            Reading("of that: jets and lifters", state["jets"], THROUGH_FLOW),
        ]

    def summary(self, state: State) -> str:
        e, speed = state["engine"].si, SPEED.text(state["speed"])
        if state["state"] == NO_PRESSURE:
            return (
                f"At {speed} there is no oil pressure: the pump gives nothing. That is a state, not an error, and what "
                "oil the engine has then must come from somewhere else."
            )
        gallery = state["gallery"]
        level = (
            "That is below the damage limit: under load it wears out in seconds to minutes."
            if gallery < e.damage
            else "That is below the warning limit."
            if gallery < e.warning
            else "That is above the warning limit."
        )
        opening = self._curves["opening"]
        if opening is None:
            valve = "The relief valve stays shut up to the red line"
        elif opening <= self._curves["speed"][0]:
            valve = "The relief valve is open from idle on"
        else:
            valve = (
                f"The relief valve opens at about {10 * round(float(SPEED.display(opening)) / 10):.0f} {SPEED.label()}"
            )
        outside = " (above its red line)" if state["speed"] > e.redline else ""
        outside = outside or (" (below its idle)" if state["speed"] < e.idle else "")
        return (
            f"At {speed}{outside} the gallery stands at {GAUGE.text(gallery)}: {state['state']}. {level} The engine "
            f"takes {THROUGH_FLOW.text(state['total'])} of the {THROUGH_FLOW.text(state['pump'])} that the pump gives. "
            f"{valve}."
        )


def _area(ax: Axes, label: str, colour: str, hatch: str) -> PolyCollection:
    area = PolyCollection([], fc=colour, ec=drawing.BLACK, lw=0.5, hatch=hatch, label=label)
    ax.add_collection(area, autolim=False)
    return area


def _balance(engine: Engine, oil: Lubricant, speed: Any, sump: float, change: Any) -> State:
    """`operating_point` in SI numbers, by short names."""
    point: OperatingPoint = operating_point(
        engine, oil, SPEED.quantity(speed), TEMPERATURE.quantity(sump), CLEARANCE_CHANGE.quantity(change)
    )
    shape = np.shape(point.gallery_pressure.m)
    flows = {
        "pump": point.pump_flow,
        "relief": point.relief_flow,
        "total": point.demand.total,
        "pressed": point.demand.pressure_fed,
        "dragged": point.demand.rotation_driven,
        "jets": point.demand.jets,
    }
    pressures = {"gallery": point.gallery_pressure, "pump_pressure": point.pump_pressure}
    si = {key: flow.m_as(THROUGH_FLOW.si) for key, flow in flows.items()}
    si |= {key: pressure.m_as(GAUGE.si) for key, pressure in pressures.items()}
    return {key: np.broadcast_to(series, shape) for key, series in si.items()} | {"state": point.state}


def _opening(speed: Any, pressure: Any, opening: float) -> float | None:
    """Speed at which the pump's pressure passes the relief valve's opening, between two points of its curve."""
    over = np.flatnonzero(pressure > opening)
    if not over.size:
        return None
    k = int(over[0])
    return float(speed[0]) if k == 0 else float(np.interp(opening, pressure[k - 1 : k + 1], speed[k - 1 : k + 1]))
