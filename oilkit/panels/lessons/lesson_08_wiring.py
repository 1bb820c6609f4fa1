"""Panel of lesson 08: the wiring of an electric valve."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure

from oilkit.panels.framework import drawing
from oilkit.panels.framework.amounts import amount, length, seconds, warmth
from oilkit.panels.framework.base import Panel
from oilkit.panels.framework.bound import Graph, Parts, Reading, Setting, State
from oilkit.panels.framework.controls import Choice, Control
from oilkit.panels.framework.steps import Step, between, both, is_chosen
from oilkit.physics.catalog import fittings, lubricants
from oilkit.physics.oil import density_of
from oilkit.physics.prelube import BY_HAND
from oilkit.physics.wiring import CONTACTS, cable_resistance, coil_si, valve_flow, wire_gauge_area
from oilkit.quantities.kinds import CURRENT, GAUGE, LINE_LENGTH, OIL, PART, RESISTANCE, THROUGH_FLOW, VOLTAGE
from oilkit.quantities.units import Q

HAND = float(BY_HAND.m)
NUMBERS = (22, 20, 18, 16, 14, 12, 10)
REACH = 30.0
AT_DROP = float(Q(10, "psi").to("Pa").m)
RUNNING_FLOW = float(Q(8, "gpm").to("m**3/s").m)
RATED = 12.0
HOT_OIL = float(Q(90, "degC").to("K").m)


class ValveWiring(Panel):
    """Volts at the coil of an electric valve, whether it opens, and what it passes beside one turned by hand."""

    call = "valve_wiring"
    size = (6.5, 3.4)
    title = "Will the electric valve open?"
    alt = (
        "Voltage at the coil against cable length with the voltage it needs; beside it how the valve opens in time and "
        "what it passes each way, with a valve turned by hand."
    )
    steps = (
        Step("Lower the battery to 9.5 V, as it may be while the starter turns.", between("battery", 9.4, 9.6, "V")),
        Step("Let the coil get hot: 120 °C (248 °F).", between("coil_temperature", 119, 121, "degC")),
        Step(
            "Make the cable twice as long: 40 ft (12 m). Which of the three would you have thought of?",
            between("length", 39, 41, "ft"),
        ),
        Step(
            "Press Start values, then change to the pilot valve. Which bar vanishes?",
            both(is_chosen("ways", False), is_chosen("opens", True)),
        ),
    )

    def make_controls(self) -> list[Control]:
        gauges = [(f"{n} AWG ({wire_gauge_area(n).m:.2f} mm²)", n) for n in NUMBERS]
        ways = [("direct: passes both ways", True), ("pilot: passes one way only", False)]
        reach = float(LINE_LENGTH.display(REACH, "US"))
        return [
            amount("battery", "Battery", VOLTAGE, "V", 6, 15, 12.5, 0.1),
            length("Cable, there and back", 1, reach, 20),
            amount("current", "Coil takes at 12 V, cold", CURRENT, "A", 0.5, 10, 3, 0.1),
            amount("pick_up", "Pulls in at this share of 12 V, cold", PART, "percent", 50, 90, 75, 0.01),
            warmth("coil_temperature", "Coil temperature", -20, 150, 20, 1),
            seconds("opening", "Opens and closes in", 0.02, 2, 0.1, 0.02),
            Choice("gauge", "Cable", gauges, listed=True),
            Choice("ways", "Electric valve", ways),
        ]

    def solve(self, at: Setting) -> State:
        area = wire_gauge_area.si(at.gauge)
        contacts = float(CONTACTS.m)
        axis = np.append(np.linspace(0.0, REACH, 40), at.length)
        found = coil_si(at.battery, RATED, at.current, axis, area, contacts, at.pick_up, at.coil_temperature)
        opens = bool(found["pulls_in"][-1])
        by_hand, electric = _passes("reduced_valve"), _passes("narrow_valve")
        return {
            "axis": axis[:-1],
            "line": found["volts"][:-1],
            "volts": float(found["volts"][-1]),
            "flows": float(found["current"][-1]),
            "drop": float(found["drop"][-1]),
            "cable": float(cable_resistance.si(at.length, area, 293.15)),
            "needed": float(found["needed"]),
            "opens": opens,
            "ramp": np.array([0.0, 100.0, 100.0]) * opens,
            "out": electric if opens else 0.0,
            "back": electric if opens and at.ways else 0.0,
            "by_hand": by_hand,
            "closing": 0.5 * RUNNING_FLOW * at.opening if opens else 0.0,
        }

    def build(self, figure: Figure) -> Parts:
        graph = Graph(
            figure, (0.08, 0.15, 0.38, 0.75), "Cable and heat eat the coil's volts",
            ("cable, there and back", LINE_LENGTH, 0.0, REACH), ("at the coil (V)", None, 0.0, 16.0),
        )  # fmt: skip
        graph.line([0.0, REACH], "battery", color=drawing.GREY, ls=":", label="battery")
        graph.line("axis", "line", color=drawing.BLUE, label="at the coil")
        graph.line([0.0, REACH], "needed", color=drawing.RED, ls="--", label="needed to pull in")
        graph.point("length", "volts")
        graph.ax.legend(loc="lower left")
        moves = Graph(
            figure, (0.6, 0.66, 0.385, 0.24), "Opening", (None, None, 0.0, 2.0), ("open (%)", None, 0.0, 105.0)
        )
        moves.ax.set_xlabel("seconds after the switch", labelpad=0)
        moves.ax.plot([0.0, HAND, 2.0], [0.0, 100.0, 100.0], color=drawing.GREY, ls="--", label="by hand")
        moves.line(lambda s: [0.0, s["opening"], 2.0], "ramp", color=drawing.BLUE, label="electric")
        moves.ax.legend(loc="lower right")
        return [graph, moves, self._bars(figure)]

    def _bars(self, figure: Figure) -> Graph:
        by_hand = self.state["by_hand"]
        at = f"{GAUGE.text(AT_DROP).split()[0]} {'psi' if 'psi' in GAUGE.label() else 'bar'}"
        bars = Graph(
            figure, (0.6, 0.15, 0.385, 0.26), f"Oil passed at {at}",
            ("", THROUGH_FLOW, 0.0, 1.15 * by_hand), (None, None, -0.6, 3.6),
        )  # fmt: skip
        bars.rows(["electric, back", "electric, out", "hand, back", "hand, out"])
        for row in (2, 3):
            shown = float(THROUGH_FLOW.display(by_hand))
            drawing.box(bars.ax, (0.0, row - 0.35), shown, 0.7, fc=drawing.STEEL, ec=drawing.BLACK)
        for row, flow in enumerate(("back", "out")):
            bars.box(0.0, flow, row - 0.35, row + 0.35, fc=drawing.ORANGE, ec=drawing.BLACK, hatch="//")
        return bars

    def readings(self, state: State) -> list[Reading]:
        drop = "10.0 psi (0.69 bar)"
        return [
            Reading("resistance of the cable", state["cable"], RESISTANCE),
            Reading("current that flows", state["flows"], CURRENT),
            Reading("lost in cable and contacts", state["drop"], VOLTAGE),
            Reading("volts at the coil", state["volts"], VOLTAGE),
            Reading("needed to pull in", state["needed"], VOLTAGE),
            Reading("the electric valve", "pulls in and opens" if state["opens"] else "stays shut"),
            Reading(f"it passes out of the vessel, at {drop}", state["out"], THROUGH_FLOW),
            Reading(f"it passes back into the vessel, at {drop}", state["back"], THROUGH_FLOW),
            Reading(f"a valve by hand passes, each way, at {drop}", state["by_hand"], THROUGH_FLOW),
            Reading("still passes while it closes, from 8 gpm (30 L/min)", state["closing"], OIL),
        ]

    def summary(self, state: State) -> str:
        if not state["opens"]:
            return (
                f"The coil gets {VOLTAGE.text(state['volts'])} and needs {VOLTAGE.text(state['needed'])}: the valve "
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
