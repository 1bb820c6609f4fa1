"""Panel of lesson 00: what the dial shows and what the gas feels."""

from __future__ import annotations

from matplotlib.figure import Figure

from oilkit.panels.framework import drawing
from oilkit.panels.framework.amounts import altitude, pressure
from oilkit.panels.framework.base import Panel
from oilkit.panels.framework.bound import Bound, Graph, Parts, Reading, Setting, State, us
from oilkit.panels.framework.controls import Control
from oilkit.panels.framework.steps import Step, between
from oilkit.physics.pressure import absolute_pressure, ambient_pressure
from oilkit.quantities.kinds import ABSOLUTE, AMBIENT, GAUGE, NUMBER


class GaugeAndAbsolute(Panel):
    """A dial and the pressure behind it, at any altitude."""

    call = "gauge_and_absolute"
    title = "What the dial shows, and what the gas feels"
    alt = "A dial gauge beside a column: ambient pressure below, gauge pressure on top, absolute pressure as their sum."
    steps = (
        Step(
            "Turn the dial up to 20 psi (1.4 bar): it doubles. Does the absolute pressure double?",
            between("gauge", 19.7, 20.5, "psig"),
        ),
        Step(
            "Take the dial up a mountain, to 8000 ft (2400 m). Which part of the column shrinks?",
            between("altitude", 7900, 8100, "ft"),
        ),
    )

    def make_controls(self) -> list[Control]:
        return [pressure("gauge", "Dial reading", 0, 80, 10), altitude("altitude", "Altitude")]

    def solve(self, at: Setting) -> State:
        ambient = ambient_pressure.si(at.altitude)
        absolute = absolute_pressure.si(at.gauge, ambient)
        doubled = absolute_pressure.si(2.0 * at.gauge, ambient)
        return {"ambient": ambient, "absolute": absolute, "ratio": doubled / absolute}

    def build(self, figure: Figure) -> Parts:
        top = us(ABSOLUTE, 100.0)
        above = 0.035 * top
        dial = drawing.Dial(figure.add_axes((0.02, 0.04, 0.36, 0.92)), "dial: gauge pressure", GAUGE, us(GAUGE, 80.0))
        ladder = Graph(
            figure, (0.5, 0.16, 0.46, 0.72), "Absolute = ambient + gauge",
            (None, None, 0.0, 1.0), ("absolute pressure", ABSOLUTE, 0.0, top),
        )  # fmt: skip
        ladder.ax.set_xticks([])
        ladder.ax.grid(axis="x", visible=False)
        ladder.box(0.12, 0.42, 0.0, "ambient", fc=drawing.SKY, ec="black", hatch="..")
        ladder.box(0.12, 0.42, "ambient", "absolute", fc=drawing.ORANGE, ec="black", hatch="//")
        ladder.line([0.1, 0.95], "absolute", color=drawing.BLACK, lw=1.6, ls="--")
        letters = 0.045 * float(ABSOLUTE.display(top))
        ladder.word("ambient", letters, 0.56, lambda s: s["ambient"] / 2)
        ladder.word(
            "gauge", letters, 0.53, lambda s: (s["ambient"] + s["absolute"]) / 2,
            lambda s: s["absolute"] - s["ambient"] > 1.5 * above,
        )  # fmt: skip
        ladder.word("absolute", letters, 0.82, lambda s: s["absolute"] + above)
        return [Bound(dial, "gauge"), ladder]

    def readings(self, state: State) -> list[Reading]:
        return [
            Reading("gauge pressure", state["gauge"], GAUGE),
            Reading("ambient pressure", state["ambient"], AMBIENT),
            Reading("absolute pressure", state["absolute"], ABSOLUTE),
            Reading("doubling the dial multiplies absolute pressure by", state["ratio"], NUMBER),
        ]

    def summary(self, state: State) -> str:
        return (
            f"The dial shows {GAUGE.text(state['gauge'])} more than the air outside, which presses with "
            f"{AMBIENT.text(state['ambient'])}. The gas feels both: {ABSOLUTE.text(state['absolute'])}."
        )
