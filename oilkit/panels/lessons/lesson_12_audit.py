"""Panels of lesson 12: a browser of the register, what a constant moves, and how exact the dynamic model is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import numpy as np
from matplotlib.figure import Figure

from oilkit.audit import constants, register
from oilkit.audit.constants import Moved
from oilkit.audit.dimensions import worked_line
from oilkit.audit.inputs import INPUTS
from oilkit.audit.register import Entry
from oilkit.audit.sensitivity import convergence
from oilkit.audit.worked import MAIN
from oilkit.errors import InputError
from oilkit.panels.framework import drawing
from oilkit.panels.framework.amounts import pressure, seconds
from oilkit.panels.framework.axes import StillAxis
from oilkit.panels.framework.base import Panel
from oilkit.panels.framework.bound import Graph, Parts, Reading, Setting, State
from oilkit.panels.framework.controls import Amount, Choice, Control, Lines, named
from oilkit.panels.framework.steps import Step, is_chosen
from oilkit.quantities.kind import Kind
from oilkit.quantities.kinds import GAUGE, NUMBER, OIL, TIME, checked, to_si
from oilkit.quantities.typed import parse

FIRST = "oil_stored"
YES, NO = "yes", "no"
STEP = 1e-3
"""Each input is moved by this share both ways to see what the result does."""


def evaluable() -> list[str]:
    """Functions of the register that take single numbers: those that the browser can evaluate."""
    names = []
    for name, found in register.register().items():
        if found.sort == "public" and all(np.ndim(getattr(v, "m", v)) == 0 for v in worked_line(name).values()):
            names.append(name)
    return names


def start_lines(name: str) -> str:
    """The function's own worked line, an argument a line, as a learner may type it."""
    function = register.entry(name).function
    lines = []
    for key, value in worked_line(name).items():
        if key in function.kinds:
            kind = function.kinds[key]
            lines.append(f"{key} = {kind.exact_text(to_si(key, value, kind), 'US')}")
        else:
            lines.append(f"{key} = {YES if value else NO}")
    return "\n".join(lines)


def read_lines(name: str, text: str) -> dict[str, Any]:
    """Lines such as ``gas_volume = 3 qt`` as SI numbers (and True or False), by argument.

    Raises `InputError` that names the line.
    """
    function = register.entry(name).function
    arguments = list(worked_line(name))
    found: dict[str, Any] = {}
    for line in filter(None, map(str.strip, text.splitlines())):
        key, equals, typed = (part.strip() for part in line.partition("="))
        if not equals or key not in arguments:
            raise InputError("inputs", f"“{line}”", "one of " + ", ".join(arguments) + ", an equals sign and a value")
        if key in found:
            raise InputError("inputs", f"{key} twice", "each argument once")
        if key in function.kinds:
            with named("inputs", f"{key} = {{got}}"):
                found[key] = parse(key, typed, function.kinds[key])
        elif typed in (YES, NO):
            found[key] = typed == YES
        else:
            raise InputError("inputs", f"{key} = “{typed}”", f"{YES} or {NO}")
    missing = [key for key in arguments if key not in found]
    if missing:
        raise InputError("inputs", f"no line for {missing[0]}", f"a line such as “{missing[0]} = ...”")
    return found


def exponent(function: Any, numbers: dict[str, Any], key: str, result: float) -> float:
    """By how many per cent the result changes for one per cent more of an argument; NaN where that means nothing."""
    value = numbers[key]
    if value == 0.0 or result == 0.0 or not math.isfinite(value):
        return math.nan
    ends = []
    for share in (1.0 - STEP, 1.0 + STEP):
        try:
            moved = checked(key, value * share, function.kinds[key])
            ends.append((share, float(function.si(**numbers | {key: moved}))))
        except InputError:  # an end of the range: look at one side only
            ends.append((1.0, result))
    (low, below), (high, above) = ends
    return (above - below) / result / (high - low) if high > low else math.nan


class RegisterBrowser(Panel):
    """One formula of the register: evaluated at inputs that are typed, and how strongly each of them counts."""

    call = "register"
    title = "The register of formulas"
    alt = "Bars: by how many percent the result changes for one percent more of each input."
    size = (6.5, 2.7)
    redraw_on = ("function",)
    steps = (
        Step(
            "Choose groove_flow. How many percent does 1 % more clearance bring?", is_chosen("function", "groove_flow")
        ),
        Step("Choose laminar_drop. What is the exponent of the bore?", is_chosen("function", "laminar_drop")),
        Step(
            "Change one of its inputs, in a unit you like: 20 ft, 15 mm, 300 mL/s. Which bars stay?",
            lambda s: s["function"] == "laminar_drop" and s["inputs"] != start_lines("laminar_drop"),
        ),
    )

    def make_controls(self) -> list[Control]:
        self._lines_of = FIRST
        formulas = [(_listed(name), name) for name in evaluable()]
        return [
            Choice("function", "Formula", formulas, listed=True, start=FIRST),
            Lines("inputs", "Inputs, each with its unit", start_lines(FIRST), rows=9),
        ]

    def solve(self, at: Setting) -> State:
        if at.function != self._lines_of:  # another formula brings its own worked line
            at.inputs = start_lines(at.function)
            self.controls["inputs"].set_si(at.inputs)
            self._lines_of = at.function
        found = register.entry(at.function)
        numbers = read_lines(at.function, at.inputs)
        with named("inputs", "{argument} = {got}"):
            result = float(found.function.si(**numbers))
        counts = {key: exponent(found.function, numbers, key, result) for key in found.function.kinds}
        return {"function": at.function, "entry": found, "result": result, "counts": counts}

    def build(self, figure: Figure) -> Parts:
        counts = self.state["counts"]
        graph = Graph(
            figure, (0.27, 0.17, 0.7, 0.72), f"What counts in {self.state['function']}",
            ("change of the result for 1 % more of an input (%)", None, -4.0, 4.0),
            (None, None, len(counts) - 0.4, -0.6),
        )  # fmt: skip
        graph.rows(list(counts))
        graph.ax.axvline(0.0, color=drawing.BLACK, lw=1.0)
        for k, name in enumerate(counts):
            graph.box(
                0.0, lambda s, name=name: np.nan_to_num(np.clip(s["counts"][name], -4.0, 4.0)), k - 0.35, k + 0.35,
                fc=drawing.SKY, ec=drawing.BLACK, hatch="//",
            )  # fmt: skip
        return [graph]

    def readings(self, state: State) -> list[Reading]:
        found: Entry = state["entry"]
        kind = found.function.returns
        return [
            Reading("result", state["result"], kind),
            Reading("to all digits", all_digits(state["result"], kind)),
            *(Reading(f"for 1 % more {key}", percent(count)) for key, count in state["counts"].items()),
            Reading("formula", "; ".join(found.formulas) or "in words: see below"),
            Reading("rests on", found.basis),
            Reading("called in", f"{len(found.used_by)} places of the kit"),
        ]

    def summary(self, state: State) -> str:
        found: Entry = state["entry"]
        parts = [found.summary, found.assumptions, f"Source: {found.source}"]
        return " ".join(part for part in parts if part).replace("`", "")


def _listed(name: str) -> str:
    found = register.entry(name)
    return f"{found.lesson} {found.module}: {name}"


def all_digits(si: float, kind: Kind) -> str:
    """``0.00141952941 m**3``: ten significant digits in SI."""
    return f"{si + 0.0:.10g} {'' if kind.si == 'dimensionless' else kind.si}".rstrip()


def percent(count: float) -> str:
    """``+3.00 %``; a dash where nothing can be said."""
    return "–" if math.isnan(count) else f"{round(count, 2) + 0.0:+.2f} %"


OFFERED = (
    "ADIABATIC",
    "FEED_COEFFICIENT",
    "GROOVE_DRAG[half groove]",
    "OIL_STIFFNESS",
    "USUAL_EXPANSION",
    "d341_constants: 0.7",
    "hole_flow: 1.204",
    "side_flow: 0.223",
    "COPPER",
)
"""Constants on offer in the panel; `oilkit.audit.constants.what_moves` takes any."""
SHOWN = 8


@lru_cache(maxsize=256)
def _moved(name: str, number: float) -> tuple[Moved, ...]:
    return tuple(constants.what_moves(name, number))


MAIN_KINDS = dict(zip(MAIN, (TIME, GAUGE, OIL), strict=True))


class WhatMoves(Panel):
    """One constant of the kit changed, and every number of the worked engine that moves with it."""

    call = "what_moves"
    title = "Change one constant: what moves?"
    alt = "Bars: the steps of the worked engine that a changed constant moves most, in percent."
    size = (6.5, 3.2)
    steps = (
        Step(
            "Choose FEED_COEFFICIENT. How many steps does it move, and by how much?",
            is_chosen("constant", "FEED_COEFFICIENT"),
        ),
        Step(
            "Choose a number of ISO 7902-2 that the kit has from memory. "
            "How wrong could it be before you would notice?",
            is_chosen("constant", "hole_flow: 1.204", "side_flow: 0.223"),
        ),
    )

    def __init__(self, **start: Any) -> None:
        self._axis, self._end = StillAxis(NUMBER, 100.0 * constants.LEAST), 1.25
        super().__init__(**start)

    def make_controls(self) -> list[Control]:
        offered = [(f"{name} = {constants.constant(name).text()}", name) for name in OFFERED]
        return [
            Choice("constant", "Constant", offered, listed=True),
            Amount("change", "Changed by, in percent", NUMBER, -20, 20, 10, (5, 5)),
        ]

    def solve(self, at: Setting) -> State:
        found = constants.constant(at.constant)
        number = found.number * (1.0 + at.change / 100.0)
        moved = _moved(at.constant, number) if at.change else ()
        steps = constants.as_it_is()
        usual = {step.title: step.value for step in steps}
        after = usual | {row.title: row.after for row in moved}
        return {
            "found": found,
            "number": number,
            "moved": moved,
            "steps": len(steps),
            "before": {name: float(usual[name].m_as(kind.si)) for name, kind in MAIN_KINDS.items()},
            "after": {name: float(after[name].m_as(kind.si)) for name, kind in MAIN_KINDS.items()},
        }

    def build(self, figure: Figure) -> Parts:
        end = self._end
        graph = Graph(
            figure, (0.42, 0.16, 0.55, 0.74), f"{self.state['constant']} changed: what moves most",
            ("change (%)", None, -end, end), (None, None, SHOWN - 0.4, -0.6),
        )  # fmt: skip
        ax = graph.ax
        ax.set_yticks([])
        ax.axvline(0.0, color=drawing.BLACK, lw=1.0)
        bars = [drawing.box(ax, (0.0, 0.0), 0.0, 0.0, ec=drawing.BLACK) for _ in range(SHOWN)]
        beside: dict[str, Any] = {"transform": ax.get_yaxis_transform(), "ha": "right", "va": "center"}
        names = [ax.text(-0.02, k, "", **beside) for k in range(SHOWN)]
        nothing = ax.text(0.0, SHOWN / 2.0, "nothing moves", ha="center", backgroundcolor="white")

        def show(state: State) -> None:
            rows = most_moved(state["moved"])
            nothing.set_visible(not rows)
            for k, (bar, name) in enumerate(zip(bars, names, strict=True)):
                bar.set_visible(k < len(rows))
                name.set_text(rows[k].title if k < len(rows) else "")
                if k < len(rows):
                    up, change = rows[k].change > 0.0, 100.0 * rows[k].change
                    bar.set_bounds(min(change, 0.0), k - 0.35, abs(change), 0.7)
                    bar.set(facecolor=drawing.SKY if up else drawing.ORANGE, hatch="//" if up else "\\\\")

        return [graph.add([*bars, *names, nothing], show)]

    def redraw_key(self, state: State) -> Any:
        """The constant, and how far the axis reaches to either side."""
        rows = most_moved(state["moved"])
        self._end = self._axis.end(max(abs(100.0 * row.change) for row in rows)) if rows else self._end
        return state["constant"], self._end

    def readings(self, state: State) -> list[Reading]:
        found = state["found"]
        return [
            Reading("as it is", found.text()),
            Reading("changed to", found.text(state["number"])),
            Reading("rests on", found.basis or "as its function"),
            Reading("steps that move", f"{len(state['moved'])} of {state['steps']}"),
            *(
                Reading(f"{name}: {what}", state[when][name], kind)
                for name, kind in MAIN_KINDS.items()
                for what, when in (("as it is", "before"), ("changed", "after"))
            ),
        ]

    def summary(self, state: State) -> str:
        found, moved = state["found"], state["moved"]
        meaning = " ".join(found.meaning.split("\n\n")[0].split())
        first = f"{state['constant']} stands in the module {found.module.removeprefix('oilkit.')}: {meaning} "
        if not moved:
            return first + "With this number nothing in the worked engine's chain moves."
        most = most_moved(moved)[0]
        return first + (
            f"With {found.text(state['number'])} in its place {len(moved)} of {state['steps']} steps move, most of all "
            f"“{most.title}”, by {100.0 * most.change:+.3g} %."
        )


def most_moved(moved: Sequence[Moved]) -> list[Moved]:
    """The rows that moved most, at most so many as the picture shows; of equal changes the earlier step first."""
    finite = [row for row in moved if math.isfinite(row.change)]
    return sorted(finite, key=lambda row: -abs(round(row.change, 9)))[:SHOWN]


class HowExact(Panel):
    """The worked engine's protected time at accuracies from coarse to fine."""

    call = "how_exact"
    title = "How exact is the dynamic model?"
    alt = "Error of the protected time against steps taken, both on logarithmic axes, with the slope of fourth order."
    size = (6.5, 3.2)

    def make_controls(self) -> list[Control]:
        charge, fade = INPUTS["precharge_set"].usual.m_as("psig"), INPUTS["pump_decay"].usual.m_as("s")
        return [
            pressure("precharge_set", "Pre-charge set in the shop", 2, 18, charge, (0.5, 0.05)),
            seconds("pump_decay", "The pump fades within", 0, 1, fade, 0.05),
        ]

    def solve(self, at: Setting) -> State:
        found = convergence(precharge_set=GAUGE.quantity(at.precharge_set), pump_decay=TIME.quantity(at.pump_decay))
        return {
            "accuracy": found.accuracy,
            "steps": found.steps,
            "seconds": found.protected_time.m_as("s"),
            "error": found.error.m_as("s"),
            "errors": np.maximum(found.error.m_as("s")[:-1], 1e-10),
        }

    def build(self, figure: Figure) -> Parts:
        ends = np.array([20.0, 3000.0])
        graph = Graph(
            figure, drawing.WHOLE, "Twice the steps: a sixteenth of the error, or less",
            ("steps taken", None, 20.0, 3000.0), ("error of the protected time (s)", None, 1e-10, 0.1),
        )  # fmt: skip
        graph.ax.set_xscale("log")
        graph.ax.set_yscale("log")
        slope = {"color": drawing.GREY, "ls": "--", "label": "fourth order: error as 1 / steps⁴"}
        graph.line(ends, lambda s: s["errors"][2] * (s["steps"][2] / ends) ** 4, **slope)
        graph.line(lambda s: s["steps"][:-1], "errors", "o-", color=drawing.BLUE, label="the kit, from 1e-3 to 1e-8")
        graph.ax.legend(loc="upper right")
        return [graph]

    def readings(self, state: State) -> list[Reading]:
        accuracy, error, steps = state["accuracy"], state["error"], state["steps"]
        ends = steps[0], steps[-1]  # to one figure: the last ones differ from computer to computer
        return [
            Reading("protected time, finest", float(state["seconds"][-1]), TIME),
            *(Reading(f"error at accuracy {accuracy[k]:.0e}", below(error[k])) for k in (0, 2, 4)),
            Reading("steps, coarsest and finest", "about {:.0f} and {:.0f}".format(*(float(f"{n:.1g}") for n in ends))),
        ]

    def summary(self, state: State) -> str:
        return (
            f"From accuracy 1e-3 to 1e-9 the model takes {state['steps'][0]} to {state['steps'][-1]} steps, and the "
            f"protected time of {state['seconds'][-1]:.4f} s settles. The error is {below(state['error'][0])} at the "
            f"coarsest and {below(state['error'][4])} at 1e-7. What you do not know of the engine is far larger."
        )


def below(seconds: float) -> str:
    """An error to its power of ten: ``below 1e-5 s``."""
    return f"below {10.0 ** math.ceil(math.log10(max(seconds, 1e-9))):.0e} s"
