"""Panel of lesson 00: what the dial shows and what the gas feels."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from matplotlib.artist import Artist
from matplotlib.figure import Figure

from oilkit.panels.framework import drawing
from oilkit.panels.framework.base import Panel
from oilkit.panels.framework.bound import Reading, Setting, State, us
from oilkit.panels.framework.controls import Amount, Control
from oilkit.physics.pressure import absolute_pressure, ambient_pressure
from oilkit.quantities.kinds import ABSOLUTE, ALTITUDE, AMBIENT, GAUGE, NUMBER
from oilkit.quantities.units import Q


class GaugeAndAbsolute(Panel):
    """A dial and the pressure behind it, at any altitude."""

    call = "gauge_and_absolute"
    title = "What the dial shows, and what the gas feels"
    alt = "A dial gauge beside a column: ambient pressure below, gauge pressure on top, absolute pressure as their sum."

    def make_controls(self) -> Sequence[Control]:
        return [
            Amount("gauge", "Dial reading", GAUGE, Q(0, "psig"), Q(80, "psig"), Q(10, "psig"), (0.5, 0.02)),
            Amount("altitude", "Altitude", ALTITUDE, Q(0, "ft"), Q(10_000, "ft"), Q(0, "ft"), (100, 50)),
        ]

    def solve(self, at: Setting) -> State:
        ambient = ambient_pressure.si(at.altitude)
        absolute = absolute_pressure.si(at.gauge, ambient)
        doubled = absolute_pressure.si(2.0 * at.gauge, ambient)
        return {"gauge": at.gauge, "ambient": ambient, "absolute": absolute, "ratio": doubled / absolute}

    def build(self, figure: Figure) -> Iterable[Artist]:
        dial_axes, ladder = figure.add_axes((0.02, 0.04, 0.36, 0.92)), figure.add_axes((0.5, 0.16, 0.46, 0.72))
        top = us(GAUGE, 80.0)
        self._dial = drawing.Dial(dial_axes, "dial: gauge pressure", GAUGE, top)
        unit = ABSOLUTE.label()
        drawing.graph(ladder, "Absolute = ambient + gauge", "", f"absolute pressure ({unit})")
        ladder.set_xlim(0.0, 1.0)
        ladder.set_ylim(0.0, float(ABSOLUTE.display(ABSOLUTE.from_display(100.0, "US"))))
        ladder.set_xticks([])
        ladder.grid(axis="x", visible=False)
        self._ambient = drawing.box(ladder, (0.12, 0.0), 0.3, 0.0, fc=drawing.SKY, ec="black", hatch="..")
        self._gauge = drawing.box(ladder, (0.12, 0.0), 0.3, 0.0, fc=drawing.ORANGE, ec="black", hatch="//")
        self._top = float(ladder.get_ylim()[1])
        self._words = {name: drawing.Word(ladder, name, 0.045 * self._top) for name in ("ambient", "gauge", "absolute")}
        (self._level,) = ladder.plot([0.1, 0.95], [0.0, 0.0], color=drawing.BLACK, lw=1.6, ls="--")
        words = [artist for word in self._words.values() for artist in word.moving]
        return [*self._dial.moving, self._ambient, self._gauge, self._level, *words]

    def update_artists(self, state: State) -> None:
        self._dial.show(state["gauge"])
        ambient, absolute = (float(ABSOLUTE.display(state[key])) for key in ("ambient", "absolute"))
        self._ambient.set_height(ambient)
        self._gauge.set_y(ambient)
        self._gauge.set_height(absolute - ambient)
        self._level.set_ydata([absolute, absolute])
        above = self._top * 0.035
        self._words["ambient"].show(0.56, ambient / 2)
        self._words["gauge"].show(0.53, (ambient + absolute) / 2, absolute - ambient > 1.5 * above)
        self._words["absolute"].show(0.82, absolute + above)

    def readings(self, state: State) -> Sequence[Reading]:
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
