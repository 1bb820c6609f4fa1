"""Panel of lesson 07: pre-charge on a map."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import BoundaryNorm, ListedColormap
from matplotlib.figure import Figure
from matplotlib.image import AxesImage
from matplotlib.patches import Patch

from oilkit.laps.choice import highest_for_prelube, precharge_map
from oilkit.panels.framework import drawing
from oilkit.panels.framework.amounts import clearance_change, oil, pressure, seconds
from oilkit.panels.framework.base import Panel
from oilkit.panels.framework.bound import Graph, Parts, Reading, Setting, State, in_si
from oilkit.panels.framework.choices import engine_choice
from oilkit.panels.framework.controls import Control
from oilkit.panels.framework.steps import Step, between
from oilkit.panels.framework.vessel_view import USUAL
from oilkit.panels.lessons.lesson_07_car import CHARGE, built
from oilkit.physics.engine import operating_point
from oilkit.quantities.kinds import CLEARANCE_CHANGE, GAUGE, TIME
from oilkit.quantities.units import Q, unit_switch

CHARGES = Q(np.linspace(2.0, 50.0, 49), "psig")
EVENTS = Q(np.linspace(0.25, 12.0, 48), "s")
IDLE_SUMP = Q(100, "degC")
BANDS = {"US": (-1.0, 5.0, 10.0, 20.0, 30.0, 40.0, 150.0), "SI": (-0.1, 0.35, 0.7, 1.4, 2.1, 2.8, 10.0)}
COLOURS = ("#595959", "#D55E00", "#E69F00", "#F0E442", "#9BD3EE", "#0072B2")
FINE = 4
DOTS: dict[str, Any] = {"color": drawing.BLACK, "lw": 2.0, "ls": (0, (1, 1)), "zorder": 3}


class PrechargeMapPanel(Panel):
    """Lowest pressure over pre-charge and event length, with everything that speaks for or against a pre-charge."""

    call = "precharge_map"
    title = "Pre-charge on a map"
    alt = (
        "Lowest pressure in bands over pre-charge and event length; protected time, best ridge, hot "
        "idle, pre-lube and usual pre-charge on it."
    )
    steps = (
        Step(
            "Put your choice on the ridge for an event of 4 s.",
            lambda s: abs(s["event"] - 4.0) < 0.1 and abs(s["precharge"] - s["best"]) < 7e3,
        ),
        Step(
            "Make mains and rods looser by 1 thou (0.025 mm). Where is your choice now?",
            between("clearance_change", 0.95, 1.05, "thou"),
        ),
    )

    def make_controls(self) -> list[Control]:
        return [
            pressure("precharge", CHARGE, 2, 50, 10),
            seconds("event", "The event lasts", 0.25, 12, 4, 0.25),
            pressure("limit", "Pressure that counts", 5, 40, 20),
            clearance_change(low=-0.5, high=1.5),
            oil("prelube", "Oil wanted for a pre-lube", 0.5, 2.5, 1.5),
            engine_choice(),
        ]

    def solve(self, at: Setting) -> State:
        car, change = built(at.engine), CLEARANCE_CHANGE.quantity(at.clearance_change)
        charges = Q(np.unique(np.append(CHARGES.m, GAUGE.quantity(at.precharge).m).round(9)), "psig")
        lengths = Q(np.unique(np.append(EVENTS.m, at.event).round(9)), "s")
        found = in_si(precharge_map(car, charges, lengths, limit=GAUGE.quantity(at.limit), clearance_change=change))
        idle = operating_point(at.engine, car.oil, at.engine.idle, IDLE_SUMP, change).gallery_pressure
        here = int(np.argmin(np.abs(lengths.m - at.event)))
        mine = int(np.argmin(np.abs(charges.m - GAUGE.quantity(at.precharge).m)))
        usual = int(np.argmin(np.abs(charges.m - 10.0)))
        return {
            "charges": found.precharge,
            "lengths": lengths.m,
            "ridge": found.best,
            "protected_line": np.minimum(found.protected_time, 2.0 * lengths.m[-1]),
            "lowest": found.lowest_pressure,
            "mine": found.lowest_pressure[here, mine],
            "protected": found.protected_time[mine],
            "best": found.best[here],
            "best_lowest": np.max(found.lowest_pressure[here]),
            "usual_lowest": found.lowest_pressure[here, usual],
            "idle": float(idle.m_as("Pag")),
            "for_prelube": highest_for_prelube.si(car.vessel.si.gas_volume, found.pressure, at.prelube),
        }

    def build(self, figure: Figure) -> Parts:
        low, high = CHARGES.m_as("Pag")[[0, -1]]
        first, last = (float(end) for end in EVENTS.m[[0, -1]])
        graph = Graph(
            figure, (0.075, 0.15, 0.91, 0.75), "Lowest pressure: the ridge stands beside the cliff",
            ("pre-charge, at working temperature", GAUGE, low, high), ("event lasts (s)", None, first, last),
        )  # fmt: skip
        graph.ax.grid(False)
        image = self._map(graph.ax)
        graph.add([image], lambda s: image.set_data(_between(s)))
        usual = [graph.ax.axvline(float(GAUGE.display(end)), **DOTS) for end in USUAL]  # drawn over the moving map
        graph.add(usual, lambda s: None)
        nothing: dict[str, Any] = {"fc": "none", "hatch": "\\\\", "ec": drawing.BLACK, "lw": 0.8, "zorder": 2.5}
        graph.span(lambda s: min(s["idle"], high), high, **nothing)
        graph.line("charges", "protected_line", color="white", lw=4.5, zorder=4)
        protected = graph.line("charges", "protected_line", color=drawing.BLACK, lw=2.6, zorder=4.1)
        ridge = graph.line("ridge", "lengths", color=drawing.PURPLE, lw=2.6, ls="--", zorder=4)
        prelube = graph.line("for_prelube", [0.0, 2.0 * last], color=drawing.GREEN, lw=2.8, ls="-.", zorder=4)
        yours = graph.point("precharge", "event", ms=12, mfc=drawing.BLACK, mec="white", mew=2, ls="none", zorder=6)
        named = {
            "protected time": protected,
            "best for each length": ridge,
            "left of it: pre-lube oil": prelube,
            "nothing at hot idle": Patch(fc="white", hatch="\\\\", ec=drawing.BLACK),
            "the trade's usual": usual[0],
            "your choice": yours,
        }
        bands = _band_patches()
        names = [*(str(patch.get_label()) for patch in bands), *named]
        graph.ax.legend([*bands, *named.values()], names, **drawing.OUTSIDE)
        return [graph]

    def _map(self, ax: Axes) -> AxesImage:
        look: dict[str, Any] = {"origin": "lower", "aspect": "auto", "interpolation": "nearest", "zorder": 1}
        bands = ListedColormap(list(COLOURS)), BoundaryNorm(list(BANDS[unit_switch.system]), len(COLOURS))
        return ax.imshow(
            np.zeros((2, 2)), extent=(*ax.get_xlim(), *ax.get_ylim()), cmap=bands[0], norm=bands[1], **look
        )

    def readings(self, state: State) -> list[Reading]:
        protected = (
            Reading("protected time with your pre-charge", state["protected"], TIME)
            if np.isfinite(state["protected"])
            else Reading("protected time with your pre-charge", "longer than 12 s")
        )
        return [
            Reading("lowest pressure in your event", state["mine"], GAUGE),
            protected,
            Reading("pre-charge with the highest minimum pressure", state["best"], GAUGE),
            Reading("… the minimum is then", state["best_lowest"], GAUGE),
            Reading("with 10 psi (0.69 bar) it is", state["usual_lowest"], GAUGE),
            Reading("hot idle pressure", state["idle"], GAUGE),
            Reading("highest pre-charge for the pre-lube", state["for_prelube"], GAUGE),
        ]

    def summary(self, state: State) -> str:
        verdict = "enough" if state["mine"] >= state["limit"] else "too little"
        beyond = [
            name
            for name, over in (
                ("holds nothing at hot idle", state["precharge"] > state["idle"]),
                ("leaves too little oil for the pre-lube", state["precharge"] > state["for_prelube"]),
            )
            if over
        ]
        price = f" It {' and '.join(beyond)}." if beyond else " Hot idle and pre-lube are served."
        return (
            f"In an event of {TIME.text(state['event'])} your pre-charge of {GAUGE.text(state['precharge'])} keeps "
            f"{GAUGE.text(state['mine'])} or more: {verdict} for a limit of {GAUGE.text(state['limit'])}.{price}"
        )


def _band_patches() -> list[Patch]:
    """The map's colours for its legend, the highest pressure first."""
    ends, unit = BANDS[unit_switch.system], GAUGE.label()
    names = [f"below {ends[1]:g}", *(f"{a:g} to {b:g}" for a, b in pairwise(ends[1:-1])), f"above {ends[-2]:g}"]
    patches = [
        Patch(fc=colour, ec=drawing.BLACK, lw=0.6, label=f"{name} {unit}")
        for colour, name in zip(COLOURS, names, strict=True)
    ]
    return patches[::-1]


def _between(state: State) -> Any:
    """The map on a finer grid, as it is shown."""
    charges, lengths = state["charges"], state["lengths"]
    x = np.linspace(float(CHARGES.m_as("Pag")[0]), float(CHARGES.m_as("Pag")[-1]), FINE * CHARGES.size)
    y = np.linspace(float(EVENTS.m[0]), float(EVENTS.m[-1]), FINE * EVENTS.size)
    across = np.array([np.interp(x, charges, row) for row in state["lowest"]])
    place = np.interp(y, lengths, np.arange(lengths.size))
    under = np.minimum(place.astype(int), lengths.size - 2)
    share = (place - under)[:, None]
    return GAUGE.display(across[under] * (1.0 - share) + across[under + 1] * share)
