"""Panel of lesson 06: a map of how it ends."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patheffects import withStroke

from oilkit.panels.framework import drawing
from oilkit.panels.framework.amounts import clearance_change
from oilkit.panels.framework.bound import Graph, Parts, Reading, Setting, State, in_si, us
from oilkit.panels.framework.choices import engine_choice
from oilkit.panels.framework.controls import Control
from oilkit.panels.framework.first_look import FirstLook
from oilkit.panels.framework.steps import Step, between, both
from oilkit.panels.lessons.lesson_06_car import LONGEST, START, built, charge, finite, line_of, sump, tau
from oilkit.physics.catalog import hoses
from oilkit.physics.discharging import EMPTY, LASTS, discharge
from oilkit.physics.engine import Engine
from oilkit.quantities.kinds import CLEARANCE_CHANGE, GAUGE, OIL, TEMPERATURE, TIME, TIME_CONSTANT
from oilkit.quantities.units import Q

MAP, FIRST_MAP = (26, 18), (10, 7)
"""Pre-charges and time constants, and those of a first look."""
EXACT, MAPPED = 3e-7, 1e-4
"""Of each step of the simulation: for the numbers, and for the map's lines, which move by less than a pixel."""


class HowItEnds(FirstLook):
    """A map of how the protection ends, over pre-charge and thermal time constant, with the time it lasts."""

    call = "how_it_ends"
    title = "How does it end? A map over pre-charge and time constant"
    alt = (
        "Map over the gas's time constant and pre-charge: where the pressure limit ends the protection, where an empty "
        "vessel does, and lines of equal protected time."
    )
    charges, taus = (us(GAUGE, 2.0), us(GAUGE, 45.0)), (0.5, 50.0)
    redraw_on = ("run",)
    steps = (
        Step(
            "At a pre-charge of 25 psi (1.7 bar), move the time constant slowly up to 50 s. "
            "Where is the protected time longest?",
            both(between("precharge", 24.7, 25.3, "psig"), between("tau", 49, 50, "s")),
        ),
        Step(
            "Set 10 psi (0.69 bar), and move the time constant back to 0.5 s. What is different?",
            both(between("precharge", 9.7, 10.3, "psig"), between("tau", 0.5, 0.6, "s")),
        ),
        Step(
            "Set 40 psi (2.8 bar), and move it up to 50 s again. How does it end now?",
            both(between("precharge", 39.7, 40.3, "psig"), between("tau", 49, 50, "s")),
        ),
    )

    def make_controls(self) -> list[Control]:
        redrawn = clearance_change("clearance"), sump()
        for control in redrawn:  # these draw the map afresh: when the slider is let go
            control.slider.continuous_update = False
        return [charge(25), tau(), *redrawn, engine_choice()]

    def solve(self, at: Setting) -> State:
        run = (at.clearance, at.sump, at.engine)  # the chosen point moves on the same map
        found, charges, taus = self.kept_fine(run, lambda rough: self._mapped(run, FIRST_MAP if rough else MAP))
        here = self._ended(*run, at.precharge, np.array([at.tau, 0.0, math.inf]))
        return {"run": (*run, len(taus)), "map": found, "charges": charges, "taus": taus, "here": here}

    def _mapped(self, run: tuple[float, float, Engine], size: tuple[int, int]) -> tuple[SimpleNamespace, Any, Any]:
        (low, high), (fast, slow) = self.charges, self.taus
        charges, taus = np.linspace(low, high, size[0]), np.geomspace(fast, slow, size[1])
        return self._ended(*run, charges[:, None], taus[None, :], MAPPED), charges, taus

    def _ended(
        self, clearance: float, sump: float, engine: Engine, precharge: Any, tau: Any, accuracy: float = EXACT
    ) -> SimpleNamespace:
        return in_si(
            discharge(
                built(engine, line_of(hoses()["trade_12"], self._length)),
                duration=TIME.quantity(LONGEST),
                accuracy=accuracy,
                precharge=GAUGE.quantity(precharge),
                pressure=GAUGE.quantity(START),
                clearance_change=CLEARANCE_CHANGE.quantity(clearance),
                sump_temperature=TEMPERATURE.quantity(sump),
                thermal_time_constant=TIME_CONSTANT.quantity(tau),
                limit=engine.warning,
            )
        )

    _length = float(Q(6, "ft").to("m").magnitude)

    def build(self, figure: Figure) -> Parts:
        graph = Graph(
            figure, (0.075, 0.15, 0.91, 0.75), "How it ends: at the pressure limit, or with an empty vessel",
            ("thermal time constant (s): warm gas left, cold gas right", None, self.taus[0], self.taus[-1]),
            ("pre-charge", GAUGE, self.charges[0], self.charges[-1]),
        )  # fmt: skip
        ax = graph.ax
        ax.set_xscale("log")
        ticks = [0.5, 1, 2, 5, 10, 20, 50]
        ax.set_xticks(ticks, [f"{t:g}" for t in ticks])
        ax.minorticks_off()
        ax.grid(False)
        handles = self._regions(ax)
        self._times(ax)
        limit = float(GAUGE.display(self.state["engine"].si.warning))
        handles.append(ax.axhline(limit, color=drawing.RED, ls="--", label="pre-charge = limit"))
        yours: dict[str, Any] = {"ms": 12, "color": drawing.BLACK, "mec": "white", "mew": 2.0, "label": "your choice"}
        own_point = graph.line("tau", "precharge", "o", **yours)
        (line,) = ax.plot([], [], color=drawing.BLUE, lw=1.3, label="protected time")
        ax.legend(handles=[*handles, line, own_point], **drawing.OUTSIDE, labelspacing=1.0)
        return [graph]

    def _regions(self, ax: Axes) -> list[Artist]:
        """A hatched patch with its letter for each way to end; their patches for the legend."""
        ending, heights, taus = self.state["map"].ending, GAUGE.display(self.state["charges"]), self.state["taus"]
        which = np.select([ending == LASTS, ending == EMPTY], [2.0, 1.0], 0.0)
        handles: list[Artist] = []
        self._letters = []
        for k, (name, colour, hatch) in enumerate(
            (
                ("L: pressure limit\nreached, oil left over", drawing.SKY, "//"),
                ("E: vessel empty", drawing.ORANGE, ".."),
                (f"H: pressure holds\nfor {LONGEST:.0f} s", drawing.GREEN, ""),
            )
        ):
            style: dict[str, Any] = {"fc": colour, "alpha": 0.45, "hatch": hatch, "ec": drawing.GREY}
            handles.append(drawing.box(ax, (1e-3, -9.0), 1e-4, 0.1, label=name, **style))
            own = (which == k).astype(float)
            if not own.any():
                continue
            area: dict[str, Any] = {"colors": [colour], "alpha": 0.45, "hatches": [hatch or None]}
            ax.contourf(taus, heights, own, levels=[0.5, 1.5], **area)
            if 0.0 < own.mean() < 1.0:
                ax.contour(taus, heights, own, levels=[0.5], colors=[drawing.BLACK], linewidths=3.0)
            rows, columns = np.nonzero(own)
            middle = int(
                np.argmin(np.hypot((rows - rows.mean()) / own.shape[0], (columns - columns.mean()) / own.shape[1]))
            )
            at = float(taus[columns[middle]]), float(heights[rows[middle]])
            self._letters.append(at)
            white = [withStroke(linewidth=5, foreground="white")]
            ax.text(*at, name[0], fontsize=24, weight="bold", ha="center", va="center", path_effects=white)
        return handles

    def _times(self, ax: Axes) -> None:
        """Lines of equal protected time."""
        times = np.ma.masked_invalid(self.state["map"].protected_time)
        if not times.count():
            return
        wanted = [0.2, 0.5, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 12, 15, 20, 25, 30, 40, 50]
        levels = [t for t in wanted if times.min() < t < times.max()]
        if levels:
            heights = GAUGE.display(self.state["charges"])
            lines = ax.contour(self.state["taus"], heights, times, levels=levels, colors=[drawing.BLUE], linewidths=1.3)
            for number in ax.clabel(lines, fmt=lambda t: f"{t:g} s", fontsize=9):
                here = ax.transData.transform(number.get_position())
                if any(math.dist(here, ax.transData.transform(letter)) < 32.0 for letter in self._letters):
                    number.set_visible(False)  # it would stand behind a letter

    def readings(self, state: State) -> list[Reading]:
        times, endings = state["here"].protected_time, [str(ending) for ending in state["here"].ending]
        return [
            finite("protected time", times[0], TIME),
            Reading("it ends with", endings[0]),
            Reading("oil used by then", state["here"].oil_used[0], OIL),
            finite("if the gas stayed warm (time constant 0)", times[1], TIME),
            Reading("it would end with", endings[1]),
            finite("without any heat (time constant infinite)", times[2], TIME),
            Reading("it would then end with", endings[2]),
        ]

    def summary(self, state: State) -> str:
        times = state["here"].protected_time
        if not np.isfinite(times).all():
            return (
                f"With a pre-charge of {GAUGE.text(state['precharge'])} the pressure holds for {LONGEST:.0f} s in at "
                "least one of the three cases: looser bearings, hotter oil or another pre-charge show an end."
            )
        here, warm, alone = times
        between = min(warm, alone) <= here <= max(warm, alone)
        return (
            f"With {GAUGE.text(state['precharge'])} and {TIME_CONSTANT.text(state['tau'])} the engine is protected for "
            f"{TIME.text(here)}; it ends with: {state['here'].ending[0]}. Gas always warm gives {TIME.text(warm)}, gas "
            f"without any heat {TIME.text(alone)}: "
            + (
                "yours lies between the two."
                if between
                else "yours lies outside the two, so they are no bounds. A middle time constant may last longest."
            )
        )
