"""Panels of lesson 09, commissioning: put the steps in order and see what comes of it, and what a gauge check costs."""

from __future__ import annotations

import html
import random
import textwrap
from collections.abc import Sequence
from functools import cache
from typing import Any

import ipywidgets
import numpy as np
from matplotlib.figure import Figure

from oilkit.errors import InputError
from oilkit.panels.framework import drawing
from oilkit.panels.framework.amounts import pressure
from oilkit.panels.framework.base import Panel, in_paragraphs
from oilkit.panels.framework.bound import Bound, Graph, Parts, Reading, Setting, State, us
from oilkit.panels.framework.choices import vessel_choice
from oilkit.panels.framework.controls import Amount, Choice, Control, button
from oilkit.panels.framework.instrument import guarded
from oilkit.panels.framework.steps import Step
from oilkit.panels.framework.vessel_view import VesselView, room_of
from oilkit.quantities.kinds import COUNT, DISTANCE, GAUGE, OIL, PRESSURE_DIFFERENCE
from oilkit.quantities.units import Q
from oilkit.shop.commissioning import Played, play
from oilkit.shop.hazards import DEAD_VOLUME, GAUGE_AND_HOSE, charge_after_checks
from oilkit.shop.job import Job
from oilkit.shop.procedures import PROCEDURES
from oilkit.shop.steps import DANGER, END, Procedure

MOST_STEPS = max(len(procedure.steps) for procedure in PROCEDURES.values())
LINES = 21.0
"""Of the longest list in the picture: titles, a word below each, and a little room between."""
SEED = 9
"""Of the first shuffle: every learner starts from the same disorder."""
SHOPS = (("winter: 41 °F (5 °C)", 5.0), ("68 °F (20 °C)", 20.0), ("summer: 95 °F (35 °C)", 35.0))
ENGINES = {
    "stands": "The engine stands",
    "idles": "The engine idles",
    "at fast idle": "The engine turns at fast idle",
    "at running pressure": "The engine turns at running pressure",
}


@cache
def _job(celsius: float) -> Job:
    """The usual job in a shop of that temperature."""
    return Job(shop_temperature=Q(celsius, "degC"))


class Order(Choice):
    """The steps of a procedure in the learner's order, in a list: one is chosen and moved earlier or later."""

    procedure: Any = None

    def __init__(self, name: str, label: str, procedure: Procedure) -> None:
        self.buttons = ipywidgets.Select(rows=MOST_STEPS, layout={"width": "auto"})
        self._earlier = button("Earlier", lambda pressed: self._shift(-1))
        self._later = button("Later", lambda pressed: self._shift(1))
        self._mix = button("Shuffle the steps", lambda pressed: self._again())
        row = ipywidgets.HBox([self._earlier, self._later, self._mix], layout={"flex_flow": "row wrap"})
        self._beside = ipywidgets.HTML()
        self._beside.add_class("oilkit-words")
        Control.__init__(self, name, label, [ipywidgets.VBox([self.buttons, row, self._beside])])
        self.take(procedure)
        self.buttons.observe(lambda change: self._report(), "value")

    @property
    def value(self) -> tuple[str, tuple[str, ...], str]:
        """The procedure's key, the order of its steps, and the step that is chosen."""
        return self.procedure.key, self._order, super().value

    def set(self, value: Any) -> None:
        """Put the steps in an order, given by their keys."""
        order = tuple(value) if isinstance(value, list | tuple) else (value,)
        if len(order) == 3 and order[0] in PROCEDURES:
            self.set_si(order)
            return
        fits = [p for p in PROCEDURES.values() if sorted(map(str, order)) == sorted(p.keys)]
        if not fits:
            raise InputError(self.label, ", ".join(map(str, order)), f"each of {', '.join(self.procedure.keys)} once")
        self.set_si((fits[0].key, order, order[0]))

    def set_si(self, value: Any) -> None:
        key, order, chosen = value
        self.procedure = PROCEDURES[key]
        self._fill(order, chosen)

    def tell(self, sentence: str) -> None:
        """Say under the list what belongs beside the chosen step."""
        self._beside.value = html.escape(sentence)

    def take(self, procedure: Procedure) -> None:
        """Show another procedure, its steps shuffled."""
        if procedure is not self.procedure:
            self.procedure, self._dice = procedure, random.Random(SEED)
            self._shuffle()

    def _shuffle(self) -> None:
        order = list(self.procedure.keys)
        while tuple(order) == self.procedure.keys:
            self._dice.shuffle(order)
        self._fill(order, order[0])

    def _fill(self, order: Sequence[str], chosen: str) -> None:
        self._order = tuple(order)
        self.options = [(f"{k}. {self.procedure.step(key).title}", key) for k, key in enumerate(order, 1)]
        with self.quietly():
            self.buttons.options = [text for text, _ in self.options]
            super().set_si(chosen)

    def _shift(self, by: int) -> None:
        _, order, chosen = self.value
        others = [key for key in order if key != chosen]
        others.insert(max(order.index(chosen) + by, 0), chosen)
        self._fill(others, chosen)
        self._report()

    def _again(self) -> None:
        self._shuffle()
        self._report()


class Commissioning(Panel):
    """Put the steps of a procedure in order; the package plays them out and says what comes of a wrong one."""

    call = "commissioning"
    size = (6.5, 3.2)
    wide = 3.41
    title = "In which order?"
    alt = (
        "The vessel cut open with its oil and gas gauges, the pan's level between pick-up, full mark and windage "
        "height, and the steps in the chosen order with what came of each."
    )
    crowded = True
    steps = (
        Step(
            "Choose a step in the list (arrow keys work), and move it Earlier or Later, until nothing goes wrong.",
            lambda s: bool(s["run"].harmless),
        ),
        Step(
            "Break one thing on purpose, and set Played up to step back. Watch vessel and gauges.",
            lambda s: not s["run"].harmless and s["done"] < len(s["run"].order),
        ),
    )

    def make_controls(self) -> list[Control]:
        first = next(iter(PROCEDURES.values()))
        return [
            Choice("procedure", "Procedure", [(p.title, p.key) for p in PROCEDURES.values()], listed=True),
            Order("order", "Your order: choose a step, then move it", first),
            Amount("played", "Played up to step", COUNT, 0, MOST_STEPS, MOST_STEPS, (1, 1), typed=False),
            Choice("shop", "Shop, and morning", list(SHOPS), listed=True),
        ]  # fmt: skip

    def settle(self) -> None:
        order = self.controls["order"]
        assert isinstance(order, Order)
        procedure = PROCEDURES[self.controls["procedure"].value]
        order.take(procedure)
        played = self.controls["played"]
        played.set_si(min(played.value, len(procedure.steps)))

    @guarded
    def _moved(self, control: Control) -> None:
        if control.name == "procedure":  # another one is played to its end, like the first
            self.controls["played"].set_si(float(len(PROCEDURES[control.value].steps)))
        super()._moved(control)

    def table(self) -> str:
        """What came of it first: the numbers that matter stand on the gauges."""
        return f"{in_paragraphs(self._outcome(self.state))}{self.numbers()}"

    def update_artists(self, state: State) -> None:
        super().update_artists(state)
        order = self.controls["order"]
        assert isinstance(order, Order)
        order.tell(self._caution(state))

    def solve(self, at: Setting) -> State:
        run = play(at.procedure, at.order[1], _job(at.shop))
        done = round(at.played)
        now = run.states[done]
        shown = [
            c for c in run.consequences if c.step in run.order[:done] or (c.step == END and done == len(run.order))
        ]
        return {
            "run": run,
            "done": done,
            "chosen": at.order[2],
            "now": now,
            "fraction": now.oil["vessel"] / now.job.numbers.room,
            "shown": shown,
            "danger": sum(c.kind == DANGER for c in shown),
            "poured": run.states[0].oil["can"] - now.oil["can"],
        }

    def redraw_key(self, state: State) -> Any:
        run: Played = state["run"]
        return run.procedure.key, run.order, [(c.step, c.kind) for c in run.consequences]

    def build(self, figure: Figure) -> Parts:
        view = VesselView(figure, room_of(self.state["now"].job.installation.vessel)[2], 0.37)
        inside = Bound(view, "fraction", "now.oil_gauge", "now.gas_gauge")
        return [inside, self._build_pan(figure), self._list_steps(figure)]

    def _list_steps(self, figure: Figure) -> Bound:
        """The steps as they are played, each with a word for what came of it, covered until it has been played."""
        run = self.state["run"]
        ax = figure.add_axes((0.525, 0.01, 0.47, 0.98))
        drawing.bare(ax, (0.0, 1.0), (LINES, -0.7), to_scale=False)
        ax.text(0.0, 0.0, "Played so far", weight="bold", fontsize=10, va="center")
        covers, y, top = [], [], 1.0
        for k, key in enumerate(run.order, 1):
            kinds = [c.kind for c in run.consequences if c.step == key]
            word = "DANGER" if DANGER in kinds else kinds[0] if kinds else "nothing wrong"
            lines = textwrap.wrap(f"{k}. {run.procedure.step(key).title}", 37, subsequent_indent="    ")
            style: dict[str, Any] = {"weight": "bold"} if kinds else {"style": "italic"}
            for line in lines:
                ax.text(0.075, top + 0.5, line, fontsize=9, va="center")
                top += 1.0
            ax.text(0.12, top + 0.5, word, fontsize=9, va="center", **style)
            covers.append(drawing.box(ax, (0.1, top), 0.9, 1.0, fc="white", ec="none", zorder=4))
            y.append(top + 0.5 - len(lines))
            top += 1.2
        ax.plot([0.03] * len(y), y, "s", ms=8, mfc="white", mec=drawing.GREY, ls="none")
        (done,) = ax.plot([], [], "s", ms=8, color=drawing.BLUE, ls="-", lw=1.5)
        ax.text(0.94, 0.0, "chosen in the list", fontsize=9, va="center", ha="right")
        ax.plot([0.985], [0.0], "<", ms=10, color=drawing.RED, clip_on=False)
        (pointer,) = ax.plot([], [], "<", ms=10, color=drawing.RED, clip_on=False)

        def move(state: State) -> None:
            for k, cover in enumerate(covers):
                cover.set_visible(k >= state["done"])
            done.set_data([0.03] * state["done"], y[: state["done"]])
            pointer.set_data([0.985], [y[state["run"].order.index(state["chosen"])]])

        return Bound().add([*covers, done, pointer], move)

    def _build_pan(self, figure: Figure) -> Bound:
        """The pan's level as a gauge glass beside the dials."""
        n = self.state["now"].job.numbers
        brim = 1.5 * float(DISTANCE.display(n.windage))
        ax = figure.add_axes((0.385, 0.05, 0.03, 0.36))
        ax.set_xlim(0.0, 1.0)
        ax.set_ylim(0.0, brim)
        ax.set_xticks([])
        ax.set_yticks([])
        ax.grid(False)
        for side in ("top", "right"):
            ax.spines[side].set_visible(True)
        glass = drawing.box(ax, (0.0, 0.0), 1.0, 0.0, fc=drawing.OIL, ec="none", hatch="//")
        marks = []
        for height, name, dashes in (
            (n.pickup, "pick-up", (0, (5, 2))),
            (n.full_height, "full mark", "-"),
            (n.windage, "windage", (0, (5, 2, 1, 2))),
        ):
            where = float(DISTANCE.display(height))
            marks += ax.plot([-0.25, 1.25], [where, where], color=drawing.BLACK, lw=1.4, ls=dashes, clip_on=False)
            ax.text(1.4, where, name, va="center", fontsize=9)
        ax.set_title("pan", fontsize=10.5)
        return Bound().add(
            [glass, *marks], lambda s: glass.set_height(min(float(DISTANCE.display(s["now"].level)), brim))
        )

    def readings(self, state: State) -> list[Reading]:
        now = state["now"]
        return [
            Reading("steps played", str(state["done"])),
            Reading("faults so far", str(len(state["shown"]))),
            Reading("dangers among them", str(state["danger"])),
            Reading("gas gauge", now.gas_gauge, GAUGE),
            Reading("oil gauge", now.oil_gauge, GAUGE),
            Reading("oil in the vessel", now.oil["vessel"], OIL),
            Reading("oil in the line", now.oil["line"], OIL),
            Reading("level in the pan", now.level, DISTANCE),
            Reading("poured in so far", state["poured"], OIL),
            Reading("pre-charge it really has, gas warm", now.charge, GAUGE),
        ]

    def summary(self, state: State) -> str:
        return f"{self._outcome(state)}\n{self._caution(state)}"

    def _caution(self, state: State) -> str:
        """What belongs beside the chosen step."""
        run: Played = state["run"]
        chosen = run.procedure.step(state["chosen"]).act
        named = chosen.title[:1].lower() + chosen.title[1:]
        return f"Beside the chosen step, {named}. {chosen.beside}"

    def _outcome(self, state: State) -> str:
        run: Played = state["run"]
        done, now = state["done"], state["now"]
        finished = done == len(run.order)
        if not state["shown"]:
            if not finished:
                here = "Nothing has been done yet." if not done else "Nothing has gone wrong so far."
                return (
                    f"{here} {ENGINES[now.engine]}, and the vessel's valve is {'open' if now.valve_open else 'shut'}."
                )
            if run.harmless.startswith("harmless"):
                return f"Another order than the usual one, and {run.harmless}"
            return (
                "This is the right order: nothing has gone wrong. Gas and oil are where they belong, and the next one "
                "who opens this vessel finds what the tag says."
            )
        places = {key: f"Step {k}" for k, key in enumerate(run.order, 1)} | {END: "At the end"}
        told, others = [], []
        for c in state["shown"]:
            if c.step in (state["chosen"], END):
                told.append(f"{places[c.step]}, {'DANGER' if c.kind == DANGER else c.kind}: {c.text}")
            elif c.kind == DANGER:
                told.append(f"{places[c.step]}, DANGER: {c.text.partition('. ')[0].removesuffix('.')}.")
            else:
                others.append(f"{places[c.step].lower()} ({c.kind})")
        if others:
            told.append(f"Also {', '.join(others)}. Choose a step in the list to read all that came of it.")
        return "\n".join(told)


class GaugeChecks(Panel):
    """What reading the charge costs: each check takes a gauge and a hose full of gas."""

    call = "gauge_checks"
    title = "Each look costs a little gas"
    alt = "The vessel cut open with its gauges; beside it the charge left against the number of gauge checks."
    redraw_on = ("stroke",)

    def make_controls(self) -> list[Control]:
        return [
            Amount("checks", "Checks with the gauge", COUNT, 0, 60, 10, (1, 1)),
            Amount(
                "dead_volume", "Inside of gauge and hose", DEAD_VOLUME, Q(1, "cm**3"), Q(60, "cm**3"), GAUGE_AND_HOSE,
                (0.05, 1),
            ),
            pressure("precharge", "Pre-charge", 2, 30, 10),
            vessel_choice(),
        ]  # fmt: skip

    def solve(self, at: Setting) -> State:
        room, _, stroke = room_of(at.vessel)
        axis = np.arange(61.0)
        count = float(round(at.checks))
        left = float(charge_after_checks.si(at.precharge, room, count, at.dead_volume))
        return {
            "stroke": stroke,
            "count": count,
            "axis": axis,
            "line": charge_after_checks.si(at.precharge, room, axis, at.dead_volume),
            "left": left,
            "each": at.precharge - float(charge_after_checks.si(at.precharge, room, 1.0, at.dead_volume)),
        }

    def build(self, figure: Figure) -> Parts:
        graph = Graph(
            figure, drawing.RIGHT_HALF, "Look when you must, and write it down",
            ("checks with the gauge", None, 0.0, 60.0), ("pre-charge left", GAUGE, 0.0, us(GAUGE, 32.0)),
        )  # fmt: skip
        graph.line("axis", "line", color=drawing.BLUE, label="pre-charge left", zorder=2.1)
        graph.line([0.0, 60.0], "precharge", color=drawing.PURPLE, ls=":", label="as set")
        graph.point("count", "left", label="now", zorder=2.2)
        drawing.legend_above(graph.ax, 3)
        return [Bound(VesselView(figure, self.state["stroke"]), 0.0, 0.0, "left"), graph]

    def readings(self, state: State) -> list[Reading]:
        return [
            Reading("pre-charge left", state["left"], GAUGE),
            Reading("lost in all", state["precharge"] - state["left"], PRESSURE_DIFFERENCE),
            Reading("lost by the first check", state["each"], PRESSURE_DIFFERENCE),
        ]

    def summary(self, state: State) -> str:
        return (
            f"The first look costs {PRESSURE_DIFFERENCE.text(state['each'])}, and {COUNT.text(state['count'])} of them "
            f"{PRESSURE_DIFFERENCE.text(state['precharge'] - state['left'])}: the gauge fills from the vessel and is "
            "emptied into the room. A short hose and a small gauge cost little; a reading that nobody writes down is "
            "wasted gas."
        )
