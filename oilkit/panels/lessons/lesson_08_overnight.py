"""Panel of lesson 08: a night behind a shut valve."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure

from oilkit.panels.framework import drawing
from oilkit.panels.framework.amounts import oil, pressure, warmth
from oilkit.panels.framework.base import Panel
from oilkit.panels.framework.bound import Bound, Graph, Parts, Reading, Setting, State, us
from oilkit.panels.framework.choices import vessel_choice
from oilkit.panels.framework.controls import Control
from oilkit.panels.framework.steps import Step, between
from oilkit.panels.framework.vessel_view import VesselView, room_of
from oilkit.physics.catalog import lubricants
from oilkit.physics.night import overnight_si
from oilkit.physics.oil import density_of
from oilkit.physics.pressure import STANDARD_ATMOSPHERE
from oilkit.physics.vessel import oil_stored
from oilkit.quantities.kinds import GAUGE, OIL, TEMPERATURE

AIR = float(STANDARD_ATMOSPHERE.to("Paa").m)
COLDEST, WARMEST = 243.15, 333.15


class OvernightPanel(Panel):
    """A vessel shut off hot: what the cold night leaves of its pressure and its oil."""

    call = "overnight"
    title = "A night behind a shut valve"
    alt = "The vessel cut open, with a mark where the piston stood; beside it pressure against morning temperature."
    redraw_on = ("room",)
    steps = (
        Step(
            "Lower the morning temperature to 14 °F (−10 °C), or the coldest you know.",
            between("morning_temperature", -30, -9.4, "degC"),
        ),
        Step(
            "Cool the oil at shut-off to the gas's temperature. The two curves meet: what was the gap between them?",
            lambda s: abs(s["oil_temperature"] - s["gas_temperature"]) < 1.0,
        ),
        Step(
            "Let the valve leak 0.1 qt (0.1 L). By how much is the pressure lower?",
            between("leaked", 0.09, 0.11, "qt"),
        ),
    )

    def make_controls(self) -> list[Control]:
        return [
            pressure("precharge", "Pre-charge, gas as warm as at shut-off", 0, 25, 10),
            pressure("pressure", "Pressure at shut-off", 30, 100, 60),
            warmth("gas_temperature", "Gas at shut-off", 10, 100, 40, 1),
            warmth("oil_temperature", "Oil in the vessel at shut-off", 20, 130, 90, 1),
            warmth("morning_temperature", "All of it in the morning", -30, 60, 5, 1),
            oil("leaked", "Lost through the shut valve", 0, 0.3, 0, 0.01),
            vessel_choice(),
        ]

    def solve(self, at: Setting) -> State:
        volume, _, stroke = room_of(at.vessel)
        axis = np.linspace(COLDEST, WARMEST, 40)
        mornings = np.append(axis, at.morning_temperature)
        oil = lubricants()["street"].si
        held = float(oil_stored.si(volume, at.precharge, at.pressure))
        cold = held * density_of(oil, at.oil_temperature) / density_of(oil, mornings)
        lost = np.minimum(at.leaked, cold)  # no more than there is
        found = overnight_si(
            volume, oil, at.precharge, at.pressure, at.gas_temperature, at.oil_temperature, mornings, lost, AIR
        )
        return {
            "room": (volume, stroke),
            "axis": axis,
            "line": found["pressure"][:-1],
            "gas_line": found["if_only_gas_cooled"][:-1],
            "left": found["pressure"][-1],
            "gas_only": found["if_only_gas_cooled"][-1],
            "oil": found["oil"][-1],
            "fraction": found["oil"][-1] / volume,
            "was": found["oil_before"] / volume,
            "before": found["oil_before"],
            "shrunk": found["shrunk"][-1],
            "charge": found["precharge"][-1],
            "lost": lost[-1],
        }

    def build(self, figure: Figure) -> Parts:
        view = VesselView(figure, self.state["room"][1])
        (was,) = view.ax.plot([], [], color=drawing.PURPLE, ls="--", lw=2.4, label="in the evening")
        view.ax.legend(loc="center", bbox_to_anchor=(0.5, 0.02))
        inside = Bound(view, "fraction", "left", "left")
        inside.add([was], lambda s: was.set_data([s["was"]] * 2, [0.0, drawing.Cutaway.height]))
        graph = Graph(
            figure, drawing.RIGHT_HALF, "Cooling takes pressure twice",
            ("morning temperature", TEMPERATURE, COLDEST, WARMEST), ("gauge pressure", GAUGE, 0.0, us(GAUGE, 125.0)),
        )  # fmt: skip
        graph.line("axis", "gas_line", color=drawing.AZURE, ls="--", label="if only the gas cooled")
        graph.line("axis", "line", color=drawing.BLUE, label="gas cools, oil shrinks")
        graph.line([COLDEST, WARMEST], "pressure", color=drawing.PURPLE, ls=":", label="at shut-off")
        graph.point("morning_temperature", "left", label="in the morning")
        graph.ax.legend(loc="upper left")
        return [inside, graph]

    def readings(self, state: State) -> list[Reading]:
        return [
            Reading("pressure in the morning", state["left"], GAUGE),
            Reading("the same, if only the gas cooled", state["gas_only"], GAUGE),
            Reading("oil at shut-off", state["before"], OIL),
            Reading("oil in the morning", state["oil"], OIL),
            Reading("lost as the oil cools", state["shrunk"], OIL),
            Reading("pre-charge at the morning's temperature", state["charge"], GAUGE),
        ]

    def summary(self, state: State) -> str:
        verdict = (
            f"Another {OIL.text(state['lost'])} leaked away. Less is there than cooling explains: look for the leak, "
            "with all pressure relieved."
            if state["lost"] > 0.0
            else "Nothing need be wrong with a vessel that reads less in the morning."
        )
        return (
            f"Shut off at {GAUGE.text(state['pressure'])}, found at {GAUGE.text(state['left'])}. Of "
            f"{OIL.text(state['before'])} of oil {OIL.text(state['oil'])} are left: colder oil takes less room, and "
            f"the gas spreads into it. {verdict}"
        )
