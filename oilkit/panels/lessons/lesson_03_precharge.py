"""Panels of lesson 03: useful oil against stored oil, the pressures an engine needs, and one long event."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.figure import Figure

from oilkit.panels.framework import drawing
from oilkit.panels.framework.amounts import amount, pressure, seconds, speed
from oilkit.panels.framework.base import Panel
from oilkit.panels.framework.bound import Bound, Graph, Parts, Reading, Setting, State, us
from oilkit.panels.framework.choices import engine_choice, vessel_choice
from oilkit.panels.framework.controls import Choice, Control
from oilkit.panels.framework.steps import Step, between, both
from oilkit.panels.framework.vessel_view import USUAL, VesselView, room_of, usual_band
from oilkit.physics import gas
from oilkit.physics.bearing import crank_inward_loss, crank_outward_gain
from oilkit.physics.catalog import bench_vessel, lubricants
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

HIGHEST = us(GAUGE, 50.0)
"""Right end of the pre-charge axes."""
AXIS = np.linspace(0.0, HIGHEST, 101)
FASTEST = float(SPEED.from_display(8000.0))
HOT_SUMP = float(Q(100, "degC").to("K").m)


class UsefulOil(Panel):
    """Oil stored, and the part of it that comes out with enough pressure behind it."""

    call = "useful_oil"
    title = "Stored oil and useful oil"
    alt = (
        "The vessel cut open, with the oil that would come out too late marked; beside it stored oil and useful oil "
        "against pre-charge."
    )
    redraw_on = ("room",)
    steps = (
        Step(
            "Raise only the pre-charge, slowly, to 20 psi (1.4 bar). Which of the two curves falls, and which rises?",
            between("precharge", 19.7, 20.3, "psig"),
        ),
        Step(
            "Go on to 30 psi (2.1 bar). No oil comes too late now: why is there less useful oil?",
            between("precharge", 29.7, 30.3, "psig"),
        ),
    )

    def make_controls(self) -> list[Control]:
        speeds = [("slowly (gas stays warm)", gas.ISOTHERMAL), ("fast (gas cools)", gas.ADIABATIC)]
        return [
            pressure("precharge", "Pre-charge", 0, 50, 7),
            pressure("pressure", "Oil pressure before", 50, 120, 60),
            pressure("lowest", "Pressure the engine needs", 2, 45, 20),
            Choice("speed", "The oil leaves", speeds),
            vessel_choice(),
        ]

    def solve(self, at: Setting) -> State:
        volume, _, stroke = room_of(at.vessel)
        best = float(best_precharge.si(at.pressure, at.lowest, polytropic_index=at.speed))
        charges = np.append(AXIS, [at.precharge, best])
        stored = _stored(volume, charges, at.pressure)
        useful = useful_oil.si(volume, charges, at.pressure, at.lowest, polytropic_index=at.speed)
        late = stored[-2] - useful[-2]
        return {
            "gas": max(at.pressure, at.precharge),
            "room": (volume, stroke),
            "stored_line": stored[:-2],
            "useful_line": useful[:-2],
            "stored": stored[-2],
            "useful": useful[-2],
            "late": late,
            "filled": stored[-2] / volume,
            "late_share": late / volume,
            "best": best,
            "most": useful[-1],
        }

    def build(self, figure: Figure) -> Parts:
        volume, stroke = self.state["room"]
        view = VesselView(figure, stroke)
        late: dict[str, Any] = {"fc": drawing.PURPLE, "ec": drawing.BLACK, "hatch": "xx", "lw": 0.8}
        box = drawing.box(view.ax, (0.0, 0.0), 0.0, drawing.Cutaway.height, **late)
        inside = Bound(view, "filled", "pressure", "gas", "late_share")
        inside.add([box], lambda s: box.set_width(s["late_share"]))
        inside.draw(
            drawing.Word(view.ax, "late", 0.06, drawing.PURPLE), lambda s: s["late_share"] / 2,
            drawing.Cutaway.height / 2, lambda s: s["late_share"] > 0.15,
        )  # fmt: skip
        graph = Graph(
            figure, drawing.RIGHT_HALF, "The most oil is not the most useful oil",
            ("pre-charge", GAUGE, 0.0, HIGHEST), ("oil", OIL, 0.0, 1.04 * volume),
        )  # fmt: skip
        usual_band(graph.ax)
        graph.line(AXIS, "stored_line", color=drawing.BLUE, ls="--", label="stored")
        graph.line(AXIS, "useful_line", color=drawing.GREEN, label="useful")
        graph.line("best", "most", "*", ms=15, color=drawing.RED, label="most useful oil")
        graph.point("precharge", lambda s: np.array([s["stored"], s["useful"]]), ms=9)
        graph.ax.legend(loc="upper right")
        return [inside, graph]

    def readings(self, state: State) -> list[Reading]:
        return [
            Reading("oil stored", state["stored"], OIL),
            Reading("useful oil", state["useful"], OIL),
            Reading("oil that comes too late", state["late"], OIL),
            Reading("pre-charge with the most useful oil", state["best"], GAUGE),
            Reading("useful oil there", state["most"], OIL),
        ]

    def summary(self, state: State) -> str:
        stored, useful = state["stored"], state["useful"]
        charge, lowest = state["precharge"], state["lowest"]
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
    redraw_on = ("engine.name",)
    steps = (
        Step(
            "Find the lowest speed at which the trade's rule asks for more than the relief valve gives.",
            lambda s: s["rule_meets_relief"] <= s["speed"] <= 1.05 * s["rule_meets_relief"],
        ),
    )

    def make_controls(self) -> list[Control]:
        return [speed(0, 8000, 3000), engine_choice(start="")]

    def solve(self, at: Setting) -> State:
        e = at.engine.si
        axis = np.linspace(0.0, FASTEST, 81)
        speeds = np.append(axis, at.speed)
        rho = density_of(lubricants()["street"].si, HOT_SUMP)
        main = e.mains.diameter
        drilling = crank_inward_loss.si(speeds, rho, main, 2.0 * e.crank_nearest)
        to_axis = crank_inward_loss.si(speeds, rho, main, 0.0)
        rule = rule_of_thumb_pressure.si(speeds)
        return {
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

    def build(self, figure: Figure) -> Parts:
        state, top = self.state, us(GAUGE, 85.0)
        graph = Graph(
            figure, drawing.WHOLE, "The trade's rule is one thing, what the engine needs is another",
            ("engine speed", SPEED, 0.0, FASTEST), ("gallery pressure", GAUGE, 0.0, top),
        )  # fmt: skip
        ax, shown = graph.ax, SPEED.display(state["axis"])
        ax.plot(shown, GAUGE.display(state["rule_line"]), color=drawing.BLUE, label="the trade's rule")
        styles = (("wanted", drawing.GREEN, "--"), ("warning", drawing.OCHRE, "-."), ("damage", drawing.RED, ":"))
        for (name, colour, style), level in zip(styles, state["levels"], strict=False):
            ax.axhline(float(GAUGE.display(level)), color=colour, ls=style, label=name)
        ax.axhline(float(GAUGE.display(state["levels"][3])), color=drawing.BLACK, lw=3.2, label="relief valve opens")
        crank = GAUGE.display(state["drilling_line"]), GAUGE.display(state["to_axis_line"])
        look: dict[str, Any] = {"fc": drawing.PURPLE, "alpha": 0.45, "hatch": "//", "ec": drawing.BLACK}
        ax.fill_between(shown, *crank, label="into the crank:\ndrilling to axis", **look)
        graph.line("speed", [0.0, top], color=drawing.GREY, lw=1.4)
        graph.point("speed", lambda s: np.array([s["rule"], s["to_axis"]]), ms=9, ls="none")
        ax.legend(**drawing.OUTSIDE)
        return [graph]

    def readings(self, state: State) -> list[Reading]:
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
    steps = (
        Step("Bring the pre-charge to the star.", lambda s: s["left"] > 0.0 and s["best"] - s["precharge"] < 3500.0),
        Step(
            "Go one step beyond the star. What is left?",
            lambda s: s["left"] <= 0.0 and s["precharge"] - s["best"] < 7500.0,
        ),
        Step(
            "Go back to the star, and let the event last 0.1 s longer. What is left now?",
            both(between("event", 2.05, 8, "s"), lambda s: s["event"] - 0.101 < s["lasts"] < s["event"]),
        ),
    )

    def make_controls(self) -> list[Control]:
        return [
            pressure("precharge", "Pre-charge", 1, 50, 10),
            seconds("event", "The event lasts", 0.5, 8, 2, 0.1),
            amount("demand", "Engine takes, before", FLOW, "gpm", 1, 20, 5, (0.1, 0.5)),
            pressure("pressure", "Oil pressure before", 50, 80, 60),
            pressure("idle", "Hot idle pressure", 5, 40, 18),
        ]

    def solve(self, at: Setting) -> State:
        volume = bench_vessel().si.gas_volume
        best = float(longest_lasting_precharge.si(volume, at.pressure, at.demand, at.event))
        charges = np.concatenate([AXIS[1:], [at.precharge, USUAL[1]]])
        left = pressure_after.si(volume, charges, at.pressure, at.demand, at.event)
        return {
            "line": left[:-2],
            "left": left[-2],
            "left_usual": left[-1],
            "lasts": time_to_empty.si(volume, at.precharge, at.pressure, at.demand),
            "best": best,
            "left_best": float(pressure_after.si(volume, best * (1.0 - 1e-9), at.pressure, at.demand, at.event)),
            "oil_idle": _stored(volume, at.precharge, at.idle),
        }

    def build(self, figure: Figure) -> Parts:
        graph = Graph(
            figure, drawing.WHOLE, "More pre-charge keeps the pressure up, until the oil runs out",
            ("pre-charge", GAUGE, 0.0, HIGHEST), ("pressure at the event's end", GAUGE, 0.0, 1.6 * HIGHEST),
        )  # fmt: skip
        usual_band(graph.ax)
        nothing: dict[str, Any] = {"fc": drawing.PALE, "alpha": 0.7, "hatch": "\\\\", "ec": drawing.GREY}
        graph.span("idle", HIGHEST, label="holds nothing\nat hot idle", **nothing)
        graph.line(AXIS[1:], "line", color=drawing.BLUE, label="pressure left")
        graph.line("best", "left_best", "*", ms=16, color=drawing.RED, label="just lasts")
        graph.point("precharge", "left", label="your pre-charge")
        graph.ax.legend(**drawing.OUTSIDE)
        return [graph]

    def readings(self, state: State) -> list[Reading]:
        return [
            Reading("pressure left at the end", state["left"], GAUGE),
            Reading("the vessel would last", state["lasts"], TIME),
            Reading("oil in it at hot idle", state["oil_idle"], OIL),
            Reading("best pre-charge for this event", state["best"], GAUGE),
            Reading("pressure left with the best", state["left_best"], GAUGE),
            Reading("pressure left with 10 psi (0.69 bar)", state["left_usual"], GAUGE),
        ]

    def summary(self, state: State) -> str:
        charge, best = state["precharge"], state["best"]
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
