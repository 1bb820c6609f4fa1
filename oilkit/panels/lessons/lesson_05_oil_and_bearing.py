"""Panels of lesson 05, first half: how thick an oil is, and what one plain bearing lets through."""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.markers import MarkerStyle
from matplotlib.patches import Circle, Wedge
from matplotlib.ticker import FuncFormatter, NullLocator
from matplotlib.transforms import Affine2D

from oilkit.panels.framework import drawing
from oilkit.panels.framework.amounts import amount, speed, warmth
from oilkit.panels.framework.axes import StillAxis
from oilkit.panels.framework.base import Panel
from oilkit.panels.framework.bound import Bound, Graph, Parts, Reading, Setting, State
from oilkit.panels.framework.choices import oil_choice
from oilkit.panels.framework.controls import Amount, Choice, Control
from oilkit.panels.framework.steps import Step, between, is_called, is_chosen
from oilkit.physics import bearing
from oilkit.physics.catalog import grades
from oilkit.physics.oil import AT_40, AT_100, density_of, kinematic_viscosity, viscosity_of
from oilkit.quantities.kinds import (
    CLEARANCE,
    DENSITY,
    DROP,
    DYNAMIC_VISCOSITY,
    ECCENTRICITY,
    KINEMATIC_VISCOSITY,
    LENGTH,
    NUMBER,
    TEMPERATURE,
    THROUGH_FLOW,
)
from oilkit.quantities.units import Q

FILM_RISE = 15.0
"""How much hotter a film may be than the sump, in kelvin: the middle of the usual 10 to 20 K (estimate, no source)."""
SMALL_FLOW = dataclasses.replace(THROUGH_FLOW, us_digits=3, metric_digits=3)
"""Flow through one bearing."""


class OilThickness(Panel):
    """Viscosity against temperature: from cold to hot, in the line and in a bearing, beside its grade's limits."""

    call = "oil_thickness"
    size = (6.5, 3.2)
    title = "How thick is the oil?"
    alt = "Viscosity against temperature, chosen oil and an oil of your own, and the limits of all grades at 100 °C."
    span = 273.15, 423.15
    redraw_on = ("oil.grade",)
    steps = (
        Step(
            "Cool the oil to 20 °C (68 °F), and read its viscosity in a line.", between("temperature", 19, 21, "degC")
        ),
        Step("Warm it to 130 °C (266 °F). How many times thinner is it?", between("temperature", 129, 131, "degC")),
        Step("Choose the straight 40. Why do its two lines fall together?", is_called("oil", "straight 40")),
        Step(
            "Type your own oil's two viscosities from its sheet. In which grade does it lie?",
            lambda s: (
                not between("viscosity_40", 109.9, 110.1, "cSt")(s)
                or not between("viscosity_100", 13.9, 14.1, "cSt")(s)
            ),
        ),
    )

    def make_controls(self) -> list[Control]:
        return [
            oil_choice(),
            warmth("temperature", "Oil temperature", 0, 150, 100),
            amount("viscosity_40", "My own oil: viscosity at 40 °C", KINEMATIC_VISCOSITY, "cSt", 30, 250, 110, 1),
            amount("viscosity_100", "My own oil: viscosity at 100 °C", KINEMATIC_VISCOSITY, "cSt", 5, 25, 14, 0.1),
        ]

    def solve(self, at: Setting) -> State:
        o, axis = at.oil.si, np.linspace(*self.span, 61)
        warm = np.append(axis, at.temperature)
        thickness = kinematic_viscosity.si(warm, o.viscosity_40, o.viscosity_100)
        own = kinematic_viscosity.si(warm, at.viscosity_40, at.viscosity_100)
        in_line, in_bearing = viscosity_of(o, at.temperature), viscosity_of(o, at.temperature, in_bearing=True)
        return {
            "axis": axis,
            "curve": thickness[:-1],
            "now": float(thickness[-1]),
            "own_curve": own[:-1],
            "own": float(own[-1]),
            "sheared": thickness[:-1] * o.high_shear,
            "points": thickness[-1] * np.array([1.0, o.high_shear]),
            "density": density_of(o, at.temperature),
            "line": in_line,
            "bearing": in_bearing,
            "hotter": viscosity_of(o, at.temperature) / viscosity_of(o, at.temperature + FILM_RISE),
            "shear": o.high_shear,
        }

    def build(self, figure: Figure) -> Parts:
        graph = Graph(
            figure, (0.085, 0.15, 0.475, 0.75), "Cold to hot: a hundred times thinner",
            ("oil temperature", TEMPERATURE, *self.span), ("kinematic viscosity", KINEMATIC_VISCOSITY, 2e-6, 5e-3),
        )  # fmt: skip
        ax = graph.ax
        ax.set_yscale("log")
        ax.set_yticks([2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000])
        ax.yaxis.set_major_formatter(FuncFormatter(lambda number, place: f"{number:g}"))
        ax.yaxis.set_minor_locator(NullLocator())
        ax.axvline(float(TEMPERATURE.display(AT_100)), color=drawing.GREY, lw=1.0)
        graph.line("axis", "own_curve", color=drawing.GREEN, ls=":", label="my own oil, in a line")
        graph.line("axis", "curve", color=drawing.BLUE, label="chosen oil, in a line")
        graph.line("axis", "sheared", color=drawing.RED, ls="--", label="chosen oil, in a bearing")
        graph.line(
            [AT_40, AT_100], lambda s: np.array([s["viscosity_40"], s["viscosity_100"]]), "s", ms=8, mfc="white",
            mec=drawing.GREEN, mew=2,
        )  # fmt: skip
        graph.point("temperature", "points", ms=9)
        ax.legend(loc="upper right")
        return [graph, self._ladder(figure)]

    def _ladder(self, figure: Figure) -> Graph:
        """What the grades ask for at 100 °C, as bars, the chosen oil's own ones hatched; two lines that move."""
        rungs = list(grades().values())
        ladder = Graph(
            figure, (0.66, 0.15, 0.33, 0.75), "Grades at 100 °C; ▷: at least",
            ("kinematic viscosity", KINEMATIC_VISCOSITY, 0.0, 28e-6), (None, None, -0.7, len(rungs) - 0.3),
        )  # fmt: skip
        ax = ladder.ax
        ax.set_yticks(range(len(rungs)), [grade.name for grade in rungs])
        ax.tick_params(axis="y", labelsize=9, length=0)
        mine = self.state["oil"].grade.split("-")
        for k, grade in enumerate(rungs):
            low, below = grade.si.lowest, grade.si.below
            ends = [float(KINEMATIC_VISCOSITY.display(end)) for end in (low, below or low)]
            style = {"fc": drawing.ORANGE, "hatch": "///"} if grade.name in mine else {"fc": drawing.PALE}
            if below is None:
                ax.plot([ends[0]], [k], ">", ms=9 if grade.name in mine else 6, mec=drawing.BLACK, color=style["fc"])
            else:
                drawing.box(ax, (ends[0], k - 0.36), ends[1] - ends[0], 0.72, ec=drawing.BLACK, lw=0.8, **style)
        ends = [-0.7, len(rungs) - 0.3]
        ladder.line(lambda s: s["oil"].si.viscosity_100, ends, color=drawing.BLUE)
        ladder.line("viscosity_100", ends, color=drawing.GREEN, ls=":")
        return ladder

    def readings(self, state: State) -> list[Reading]:
        return [
            Reading("viscosity in a line (kinematic)", state["now"], KINEMATIC_VISCOSITY),
            Reading("density", state["density"], DENSITY),
            Reading("viscosity in a line (dynamic)", state["line"], DYNAMIC_VISCOSITY),
            Reading("viscosity in a bearing (dynamic, high shear)", state["bearing"], DYNAMIC_VISCOSITY),
            Reading("15 K (27 °F) hotter, flow through a clearance is ×", state["hotter"], NUMBER),
            Reading("its grade asks at 100 °C for", _limits_text(state["oil"].grade)),
            Reading("my own oil: viscosity in a line (kinematic)", state["own"], KINEMATIC_VISCOSITY),
            Reading("my own oil's grade, by its value at 100 °C", _grade_text(state["viscosity_100"])),
        ]

    def summary(self, state: State) -> str:
        sheared = (
            "a straight grade keeps its thickness in a bearing's fast shear"
            if state["shear"] == 1.0
            else f"in a bearing's fast shear {100 * state['shear']:.0f} % of that is left"
        )
        return (
            f"At {TEMPERATURE.text(state['temperature'])} the {state['oil'].name} has "
            f"{KINEMATIC_VISCOSITY.text(state['now'])}; {sheared}. A film that is 15 K (27 °F) hotter lets "
            f"{100 * (state['hotter'] - 1):.0f} % more through. The grade fixes the thickness at 100 °C alone (and, "
            "for a winter grade, in the cold, which is not drawn)."
        )


def _limits_text(grade: str) -> str:
    known, texts = grades(), []
    for part in grade.split("-"):
        limits = known[part].si
        span = KINEMATIC_VISCOSITY.number(limits.lowest)
        span += " or more" if limits.below is None else f" to below {KINEMATIC_VISCOSITY.number(limits.below)}"
        texts.append(f"{part}: {span}")
    return "; ".join(texts) + f" {KINEMATIC_VISCOSITY.label()}"


def _grade_text(hot: float) -> str:
    """The grades, winter grades left out, whose limits at 100 °C hold a viscosity."""
    value = round(float(KINEMATIC_VISCOSITY.display(hot)), 6)
    fitting = [
        grade.name
        for grade in grades().values()
        if grade.below is not None and round(grade.si.lowest * 1e6, 6) <= value < round(grade.si.below * 1e6, 6)
    ]
    return " or ".join(fitting) or "none"


# ------------------------------------------------------------------------------------------------------- one bearing

WIDTH, GROOVE, HOLE = Q(0.8, "in"), Q(0.15, "in"), Q(0.2, "in")
"""Width of the panel's bearing, of its groove and of its feed hole: those of a common V8, as the lesson says."""
FASTEST = 9000.0
"""Revolutions a minute."""
FULL, HALF, TURNING, WIDEST = (
    "groove all round",
    "groove round half",
    "hole, passing all gaps",
    "hole, at the widest gap",
)


class BearingFlow(Panel):
    """One plain bearing: what pressure presses through its clearance, and what its turning drags out."""

    call = "bearing_flow"
    title = "What one bearing lets through"
    alt = "A journal in its bearing with the gap far exaggerated, and oil flow against clearance."
    exaggeration = 100.0
    widest = float(Q(5, "thou").to("m").m)
    steps = (
        Step("Set the clearance to 2 thou (0.05 mm), and note the flow.", between("clearance", 1.95, 2.05, "thou")),
        Step(
            "Move only the clearance, to 4 thou (0.10 mm): how many times the flow?",
            between("clearance", 3.9, 4.05, "thou"),
        ),
        Step(
            "Push the journal off center, until it touches. What happens to the flow?",
            between("eccentricity", 0.98, 1),
        ),
        Step("Go through the four ways in, to the last one. Which lets most oil through?", is_chosen("feed", WIDEST)),
    )

    def make_controls(self) -> list[Control]:
        self._axis = StillAxis(SMALL_FLOW, floor=float(Q(0.01, "gpm").to("m**3/s").m))
        return [
            Choice("feed", "Oil comes in through", [FULL, HALF, TURNING, WIDEST], listed=True),
            amount("clearance", "Diametral clearance: bore less journal", CLEARANCE, "thou", 0.5, 5, 2.5, (0.1, 0.002)),
            Amount("eccentricity", "Eccentricity: 0 centered, 1 touching", ECCENTRICITY, 0.0, 1.0, 0.7, (0.01, 0.01)),
            amount("pressure", "Pressure at its feed", DROP, "psi", 0, 100, 50, (1, 0.05)),
            oil_choice(),
            warmth("temperature", "Temperature of the oil film", 20, 150, 115),
            speed(0, FASTEST, 3000, label="Shaft speed"),
            amount("diameter", "Journal diameter", LENGTH, "in", 1.5, 3, 2.45, (0.01, 0.5)),
        ]

    def solve(self, at: Setting) -> State:
        film = viscosity_of(at.oil.si, at.temperature, in_bearing=True)
        axis = np.linspace(0.0, self.widest, 51)
        opened = at.clearance + float(Q(1, "thou").to("m").m)
        gaps = np.concatenate([axis, 2.0 * axis, [at.clearance, 2.0 * at.clearance, opened]])
        pressed = _pressed(at.feed, at.diameter, gaps, at.pressure, film, at.eccentricity)
        dragged = _dragged(at.feed, at.diameter, np.append(axis, at.clearance), at.speed, at.eccentricity)
        n = len(axis)
        return {
            "film": film,
            "axis": axis,
            "curve": pressed[:n],
            "mistaken_curve": pressed[n : 2 * n],
            "dragged_curve": dragged[:n],
            "pressed": float(pressed[-3]),
            "mistaken": float(pressed[-2]),
            "opened": float(pressed[-1]),
            "dragged": float(dragged[-1]),
            "usual": bearing.usual_clearance.si(at.diameter),
        }

    def _top(self, state: State) -> float:
        """Upper end of the flow axis, as shown: above all but the mistake."""
        return self._axis.end(max(state["curve"][-1], state["dragged_curve"][-1]))

    def redraw_key(self, state: State) -> Any:
        return state["feed"], self._top(state)

    def build(self, figure: Figure) -> Parts:
        top = float(SMALL_FLOW.from_display(self._top(self.state)))
        graph = Graph(
            figure, (0.465, 0.15, 0.52, 0.75), "Double the clearance, eight times the flow",
            ("diametral clearance", CLEARANCE, 0.0, self.widest), ("flow", SMALL_FLOW, 0.0, top),
        )  # fmt: skip
        graph.line("axis", "curve", color=drawing.BLUE, label="pressed: cube")
        graph.line("axis", "dragged_curve", color=drawing.GREEN, ls="-.", label="dragged: straight")
        wrong: dict[str, Any] = {"color": drawing.RED, "ls": "--", "lw": 1.8, "label": "put in as radial: × 8"}
        graph.line("axis", "mistaken_curve", **wrong)
        graph.line("clearance", "mistaken", "x", ms=10, mew=3, color=drawing.RED)
        beyond: dict[str, Any] = {"ms": 10, "color": drawing.RED, "label": "beyond the axis"}
        graph.point("clearance", lambda s: 0.97 * top if s["mistaken"] > top else math.nan, "^", **beyond)
        graph.point("clearance", "dragged", "D", ms=8, color=drawing.GREEN)
        graph.point("clearance", "pressed")
        drawing.legend_above(graph.ax, 2)
        return [self._sketch(figure.add_axes((0.0, 0.02, 0.385, 0.96))), graph]

    def _sketch(self, ax: Axes) -> Bound:
        """The bearing seen along its shaft. Radius of its bore: 1."""
        drawing.bare(ax, (-1.62, 1.62), (-1.62, 1.53))
        feed = self.state["feed"]
        ax.add_patch(Circle((0.0, 0.0), 1.32, fc=drawing.STEEL, ec=drawing.BLACK, lw=1.0))
        if feed in (FULL, HALF):
            start, end = (0.0, 360.0) if feed == FULL else (0.0, 180.0)
            ax.add_patch(Wedge((0.0, 0.0), 1.12, start, end, fc=drawing.OIL, ec=drawing.BLACK, lw=0.8, hatch="///"))
        if feed != TURNING:
            drawing.box(ax, (-0.07, 0.9), 0.14, 0.42, fc=drawing.OIL, ec=drawing.BLACK, lw=0.8)
        ax.text(0.0, 1.37, "oil comes through the journal" if feed == TURNING else "oil in", ha="center", fontsize=10)
        ax.add_patch(Circle((0.0, 0.0), 1.0, fc=drawing.OIL, ec=drawing.BLACK, lw=0.8))
        ax.text(0.93, -1.17, "shell", ha="left", va="top", fontsize=10)
        ax.text(-0.93, -1.17, "load ↓", ha="right", va="top", fontsize=10)
        ax.text(0.0, -1.56, f"gap drawn {self.exaggeration:g} times too wide", ha="center", fontsize=10)
        ax.plot([0.0], [0.0], "+", ms=14, mew=1.6, color=drawing.BLACK, zorder=5)
        journal = Circle((0.0, 0.0), 0.9, fc=drawing.PALE, ec=drawing.BLACK, lw=1.2)
        ax.add_patch(journal)
        (centre,) = ax.plot([], [], "o", ms=6, color=drawing.BLACK, zorder=5)
        (cross,) = ax.plot([0.0], [0.0], "+", ms=14, mew=1.6, color=drawing.BLACK, zorder=5)
        (turn,) = ax.plot([], [], color=drawing.GREEN, lw=2.4, zorder=4)
        (tip,) = ax.plot([], [], ls="none", color=drawing.GREEN, ms=11, zorder=4)
        drilling = drawing.box(ax, (0.0, 0.0), 0.13, 0.3, fc=drawing.OIL, ec=drawing.BLACK, lw=0.8, zorder=3)
        drilling.set_visible(feed == TURNING)
        name = drawing.Word(ax, "journal", 0.16)

        def move(state: State) -> None:
            gap = self.exaggeration * state["clearance"] / state["diameter"]
            middle = -gap * state["eccentricity"]
            journal.set_radius(1.0 - gap)
            journal.set_center((0.0, middle))
            centre.set_data([0.0], [middle])
            drilling.set_xy((-0.065, middle + 1.0 - gap - 0.3))
            name.show(0.0, middle - 0.27)
            # an arrow round the journal's middle, as long as it is fast
            radius, share = 0.82 * (1.0 - gap), state["speed"] / (FASTEST / 60.0)
            sweep = np.radians(np.linspace(200.0, 200.0 - 240.0 * share, 25))
            x, y = radius * np.cos(sweep), middle + radius * np.sin(sweep)
            turn.set_data(x, y)
            tip.set_data(x[-1:], y[-1:])
            tip.set_marker(MarkerStyle("^", transform=Affine2D().rotate(sweep[-1] + math.pi)))
            for part in (turn, tip):
                part.set_visible(share > 0.02)

        return Bound().add([journal, drilling, turn, tip, centre, cross, *name.moving], move)

    def readings(self, state: State) -> list[Reading]:
        return [
            Reading("viscosity of the film", state["film"], DYNAMIC_VISCOSITY),
            Reading("pressed through", state["pressed"], SMALL_FLOW),
            Reading("pressed through with 0.001 in (0.025 mm) more", state["opened"], SMALL_FLOW),
            Reading("dragged out by turning, if so much arrives", state["dragged"], SMALL_FLOW),
            Reading("pressed through, clearance put in as radial by mistake", state["mistaken"], SMALL_FLOW),
            Reading("clearance by the trade's 0.001 in per inch", state["usual"], CLEARANCE),
        ]

    def summary(self, state: State) -> str:
        turning = (
            f"turning wants to drag out {SMALL_FLOW.text(state['dragged'])}"
            if state["dragged"] > 0.0
            else "turning drags nothing out, because the shaft stands still or runs in the middle"
        )
        return (
            f"Pressure presses {SMALL_FLOW.text(state['pressed'])} through a clearance of "
            f"{CLEARANCE.text(state['clearance'])}; {turning}. The clearance is diametral, bore less journal; the gap "
            "all round, the radial clearance, is half of it. The bearing is 0.8 in (20 mm) wide, its groove 0.15 in "
            "(4 mm), its hole 0.2 in (5 mm)."
        )


def _pressed(feed: str, diameter: float, clearance: Any, pressure: float, film: float, eccentricity: float) -> Any:
    """What pressure presses out of the panel's bearing."""
    width, groove, hole = (float(size.to("m").m) for size in (WIDTH, GROOVE, HOLE))
    if feed in (TURNING, WIDEST):
        return bearing.hole_flow.si(clearance, width, hole, pressure, film, eccentricity, feed == WIDEST)
    flow = bearing.groove_flow.si(diameter, clearance, (width - groove) / 2.0, pressure, film, eccentricity)
    return flow * bearing.half_groove_share.si(eccentricity) if feed == HALF else flow


def _dragged(feed: str, diameter: float, clearance: Any, speed: float, eccentricity: float) -> Any:
    """What turning drags out at the sides: of the whole width, or of both lands beside a groove."""
    width, groove = (float(size.to("m").m) for size in (WIDTH, GROOVE))
    if feed in (TURNING, WIDEST):
        return bearing.side_flow.si(diameter, clearance, width, speed, eccentricity)
    return 2.0 * bearing.side_flow.si(diameter, clearance, (width - groove) / 2.0, speed, eccentricity)
