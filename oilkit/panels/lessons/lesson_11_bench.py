"""Panel of lesson 11: your bench's readings, fitted."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import ipywidgets
import numpy as np
from matplotlib.artist import Artist
from matplotlib.figure import Figure

from oilkit.bench.fit import RULE_WITHIN, WITHIN, BenchFit, fit_bench
from oilkit.bench.model import PARAMETERS, PSI
from oilkit.bench.planning import next_reading
from oilkit.bench.readings import RULE, BenchReadings, read_bench
from oilkit.build.measured import found_on_bench
from oilkit.build.setup_file import Build
from oilkit.errors import InputError
from oilkit.panels.framework import drawing
from oilkit.panels.framework.amounts import amount
from oilkit.panels.framework.axes import round_up
from oilkit.panels.framework.base import in_rows
from oilkit.panels.framework.bound import Bound, Graph, Parts, Reading, Setting, State, in_si
from oilkit.panels.framework.choices import vessel_choice
from oilkit.panels.framework.controls import Choice, Control, Lines, named
from oilkit.panels.framework.for_your_car import ForYourCar
from oilkit.panels.framework.keeping import ReadingsPanel
from oilkit.panels.framework.steps import Step, is_chosen
from oilkit.quantities.kinds import GAUGE
from oilkit.quantities.records import data_file
from oilkit.quantities.units import Q

NAMES = tuple(PARAMETERS)
SHORT = {
    "gas_volume": "gas volume",
    "bore": "bore",
    "dead_length": "dead length",
    "charge_zero": "charge gauge's zero",
    "pressure_zero": "pressure gauge's zero",
    "friction": "seal friction",
    "index": "index, gas warm",
}
BORE_WITHIN, GAUGE_WITHIN = Q(0.01, "in"), Q(0.3, "psi")
"""How far off a measured bore and a gauge held against a good one may be, 19 times in 20 (estimates, no source)."""
_PLACES = tuple(reversed(range(len(NAMES))))
"""Of the rows of bars, from the top."""
FIT = "find it from the readings"
FAR = 5.0
"""End of the axis of residuals, in standard errors."""


def _knows(name: str, label: str, text: str, known: bool = False) -> Choice:
    return Choice(name, label, [(FIT, False), (text, True)], listed=True, start=known)


def known_numbers(at: Setting) -> dict[str, Any]:
    """What is not to be fitted, as `fit_bench` takes it."""
    given = {
        "gas_volume": at.vessel.gas_volume,
        "bore": (at.vessel.bore, BORE_WITHIN),
        "charge_zero": (Q(0, "psi"), GAUGE_WITHIN),
        "pressure_zero": (Q(0, "psi"), GAUGE_WITHIN),
        "friction": Q(0, "psi"),
        "index": 1.0,
    }
    return {name: value for name, value in given.items() if getattr(at, name)}


class Bars:
    """A bar for each parameter: half its 95 % interval as a share of what an outsider's guess would be off."""

    def __init__(self, figure: Figure, where: tuple[float, float, float, float], labels: Sequence[str]) -> None:
        """labels: of the rows of bars drawn for each parameter, upper one first; one or two."""
        ax = Graph(
            figure, where, "How well is it known?", ("± as % of an\noutsider's guess", None, 0.0, 100.0),
            (None, None, -0.6, 6.6),
        ).ax  # fmt: skip
        ax.set_yticks(_PLACES, [SHORT[name] for name in NAMES], fontsize=9)
        ax.grid(axis="y", visible=False)
        height = 0.62 / len(labels)
        look: dict[str, Any] = {"ec": drawing.BLACK, "lw": 0.8}
        colours = (drawing.GREY, drawing.BLUE)[-len(labels) :]
        self._rows = [
            [drawing.box(ax, (0.0, place + 0.31 - row * height), 0.0, height, fc=colour, **look) for place in _PLACES]
            for row, colour in enumerate(colours, 1)
        ]
        self._words = [drawing.Word(ax, "not separated", 0.3) for _ in NAMES]
        self._given = [drawing.Word(ax, "given", 0.3) for _ in NAMES]
        if len(labels) > 1:
            firsts = [row[-1] for row in self._rows]
            ax.legend(firsts, labels, loc="upper right", bbox_to_anchor=(1.03, -0.32), ncols=2)

    @property
    def moving(self) -> list[Artist]:
        words = [part for word in (*self._words, *self._given) for part in word.moving]
        return [*(bar for row in self._rows for bar in row), *words]

    def show(self, lost: Sequence[str], given: Sequence[str], *shares: Mapping[str, float]) -> None:
        """lost: those without a number; given: those known exactly; shares: of each, 0 to 1 and more, for each row."""
        for row, of in zip(self._rows, shares, strict=True):
            for bar, name in zip(row, NAMES, strict=True):
                bar.set_width(100.0 * min(of.get(name, 0.0), 1.0))
                bar.set_alpha(0.35 if name in lost else 1.0)
        for k, (place, name) in enumerate(zip(_PLACES, NAMES, strict=True)):
            self._words[k].show(50.0, place, name in lost)
            self._given[k].show(19.0, place, name in given)


class BenchFitPanel(ReadingsPanel, ForYourCar):
    """A bench's readings, what they say about vessel and gauges, and what they leave open."""

    call = "bench_fit"
    title = "Your bench: what do the readings say?"
    alt = (
        "Rule readings against pressure with the fitted curves, each reading's residual below, and a bar for each "
        "parameter that says how well it is known."
    )
    size = (6.5, 3.5)
    file = Path("my_bench.csv")
    rarely = ("charge_zero", "pressure_zero", "index", "rule_within", "gauge_within")
    steps = (
        Step("Add half an inch (13 mm) to one rule reading. Is it found?", lambda s: s["fit"].outlier is not None),
        Step("Put it back. Change Seal friction to none: which readings complain?", is_chosen("friction", True)),
        Step("Put that back. Find the bore from the readings: which two numbers go?", is_chosen("bore", False)),
    )

    def make_controls(self) -> list[Control]:
        demo = data_file("bench_readings.csv").read_text(encoding="utf-8")
        return [
            Lines("readings", "Readings: a line of names with units, then one line each", demo, rows=7),
            vessel_choice(),
            _knows("gas_volume", "Gas volume", "as the maker states it"),
            _knows("bore", "Bore", "the vessel's, measured to 0.01 in (0.25 mm)", known=True),
            _knows("charge_zero", "Charge gauge's zero", "right to 0.3 psi (0.02 bar): checked"),
            _knows("pressure_zero", "Pressure gauge's zero", "right to 0.3 psi (0.02 bar): checked"),
            _knows("friction", "Seal friction", "none"),
            _knows("index", "Polytropic index, gas warm", "1: the gas had settled"),
            amount("rule_within", "A rule reading is right within ±", RULE_WITHIN, "in", 0.01, 0.3, 0.04, (0.01, 0.1)),
            amount("gauge_within", "A gauge reading is right within ±", WITHIN, "psi", 0, 3, 0.3, (0.05, 0.005)),
        ]

    def extra_controls(self) -> Sequence[ipywidgets.Widget]:
        saving, note = super().extra_controls()
        saving.children = (*saving.children, self.car_button())
        return [saving, note]

    gives = "what the bench found"

    def changes(self, car: Build) -> Mapping[str, Any]:
        return found_on_bench(self.state["fit"])

    def text_to_save(self) -> str:
        text = str(self.controls["readings"].value).rstrip() + "\n"
        _read(text)
        return text

    def solve(self, at: Setting) -> State:
        taken = self.kept(at.readings, lambda: _read(at.readings))
        gauge, given = WITHIN.quantity(at.gauge_within), known_numbers(at)
        errors: dict[str, Any] = {
            "rule_within": RULE_WITHIN.quantity(at.rule_within),
            "pressure_within": gauge,
            "charge_within": gauge,
        }
        try:
            fit = fit_bench(at.vessel, taken, given, **errors)
        except InputError as problem:
            if problem.argument.split(",")[0] in ("precharge", "pressure", "rule", "time"):
                raise InputError("readings", f"{problem.argument}: {problem.got}", problem.wanted) from None
            raise
        si, number = fit.readings.si, np.arange(1, len(fit.readings) + 1)
        far = np.abs(np.nan_to_num(fit.standardised)) > 0.93 * FAR
        if fit.outlier is not None:
            far[fit.outlier] = True
        return {
            "fit": fit,
            "known": given,
            "errors": errors,
            "number": number,
            "near": np.where(far, np.nan, fit.standardised),
            "far": np.where(far, np.clip(fit.standardised, -0.93 * FAR, 0.93 * FAR), np.nan),
            "lost": [p.name for p in fit.parameters.values() if p.value is None],
            "exact": [p.name for p in fit.parameters.values() if p.share == 0.0],
            "shares": {p.name: p.share for p in fit.parameters.values()},
            **_curves(fit),
            **{name: _points(si["pressure"], si["rule"], si["drag"] == drag) for name, drag in _DRAGS.items()},
        }

    @property
    def data(self) -> State:
        """The readings as they stand, and how they are fitted."""
        return self.state

    def redraw_key(self, state: State) -> tuple[float, float, float, float, int]:
        """Ends of the axes of pressure and of the rule, as shown, and how many readings there are."""
        si = state["fit"].readings.si
        rule = RULE.display(si["rule"])
        return (
            min(0.0, 1.3 * float(np.min(GAUGE.display(si["pressure"])))),
            round_up(1.03 * float(np.max(GAUGE.display(np.maximum(si["pressure"], PSI))))),
            min(0.0, 1.1 * float(np.min(rule))),
            round_up(1.03 * max(float(np.max(rule)), float(RULE.display(0.01)))),
            len(rule),
        )

    def build(self, figure: Figure) -> Parts:
        lowest, highest, shortest, longest, count = self.redraw_key(self.state)
        upper, lower = (0.085, 0.56, 0.44, 0.36), (0.085, 0.13, 0.44, 0.23)
        if self.picture.for_class:
            upper, lower = (0.085, 0.585, 0.41, 0.335), (0.085, 0.13, 0.41, 0.265)
        main = Graph(
            figure, upper, "Readings, and what the fit says",
            ("pressure, as read", GAUGE, float(GAUGE.from_display(lowest)), float(GAUGE.from_display(highest))),
            ("rule", RULE, float(RULE.from_display(shortest)), float(RULE.from_display(longest))),
        )  # fmt: skip
        main.line("settled.pressure", "settled.rule", color=drawing.BLUE, lw=1.6, label="fit, settled")
        main.line("warm.pressure", "warm.rule", color=drawing.OCHRE, lw=1.6, ls="--", label="fit, gas warm")
        ring = drawing.RING | {"ls": "none", "mew": 1.6}
        for way, marker, size in (("rising", "^", 8), ("falling", "v", 8), ("freed", "s", 7)):
            main.line(f"{way}.pressure", f"{way}.rule", marker=marker, ms=size, label=way, clip_on=False, **ring)
        drawing.legend_above(main.ax, 3)
        low = Graph(
            figure, lower, "Residuals: reading less fit",
            ("reading", None, 0.0, count + 1.0), ("standard errors", None, -FAR, FAR),
        )  # fmt: skip
        low.ax.axhspan(-2.0, 2.0, fc=drawing.PALE, ec="none")
        low.ax.axhline(0.0, color=drawing.BLUE, lw=1.4)
        low.line("number", "near", "o", ms=6, **ring)
        low.line("number", "far", "D", ms=8, color=drawing.RED, ls="none", label="stands out, or off the axis")
        drawing.legend_above(low.ax, 1)
        return [main, low, Bound(Bars(figure, (0.775, 0.17, 0.21, 0.75), ["now"]), "lost", "exact", "shares")]

    def readings(self, state: State) -> list[Reading]:
        fit: BenchFit = state["fit"]
        rows = [Reading("readings", str(len(fit.readings)))]
        for name, sort in PARAMETERS.items():
            rows += _two_rows(fit.parameters[name], sort.words, sort.kind)
        rows += _two_rows(fit.stroke, "stroke, gas volume over piston area", RULE)
        spare = f"{fit.scatter:.2f} times" if fit.freedom > 0 else "unknown: no reading to spare"
        return [*rows, Reading("readings to spare", str(fit.freedom)), Reading("scatter over the stated errors", spare)]

    def numbers(self) -> str:
        """Each number with its uncertainty in one row, which is two readings."""
        rows: list[tuple[str, str]] = []
        for name, text in self._rows:
            if name.startswith("… ") and name.endswith(", ±"):
                rows[-1] = (rows[-1][0], f"{rows[-1][1].split()[0]} ± {text}")
            else:
                rows.append((name, text))
        return in_rows(rows)

    def summary(self, state: State) -> str:
        fit: BenchFit = state["fit"]
        stop = [remark for remark in fit.remarks if remark.startswith("Stop")]
        rest = [remark for remark in fit.remarks if not remark.startswith("Stop")]
        found = [p for p in fit.parameters.values() if p.state == "fitted"]
        sure = ", ".join(f"{p.words} {_give_or_take(p)}" for p in found)
        sentence = (
            "19 times in 20 the truth is in each of these" if fit.goes_together else "Best, but not to be trusted"
        )
        first = f"{sentence}: {sure}." if found else "No parameter gets a number here."
        advice = [] if len(fit._problem.free) == 0 else [next_reading(fit).sentence]
        return " ".join([*stop, first, *rest, *fit.readings.assumed, *advice])


def _two_rows(found: Any, words: str, kind: Any) -> list[Reading]:
    si, off = in_si(found), f"… {found.name.replace('_', ' ')}, ±"
    if si.value is None:
        return [Reading(words, "not separated"), Reading(off, "no number")]
    return [Reading(words, si.value, kind), Reading(off, si.within, kind) if si.within > 0.0 else Reading(off, "given")]


def _give_or_take(found: Any) -> str:
    kind, si = PARAMETERS[found.name].kind, in_si(found)
    return f"{kind.number(si.value)} ± {kind.text(si.within)}"


def _read(text: str) -> BenchReadings:
    with named("readings", "{place}{got}"):
        return read_bench(f"{text}\n")  # a line break: a text, never a file's name


_DRAGS = {"rising": 1.0, "falling": -1.0, "freed": 0.0}


def _points(pressure: Any, rule: Any, chosen: Any = slice(None)) -> SimpleNamespace:
    return SimpleNamespace(pressure=pressure[chosen], rule=rule[chosen])


def _curves(fit: BenchFit) -> dict[str, SimpleNamespace]:
    """Rule against pressure for each setting of the pre-charge, rising, as two broken lines in SI."""
    si = fit.readings.si
    charges = list(dict.fromkeys(si["precharge"].tolist()))[:12]
    axis = np.linspace(min(float(np.min(si["pressure"])), 0.0), 1.02 * float(np.max(si["pressure"])), 60)
    direction = "rising" if fit.readings.direction is not None else "freed"
    warm = fit.readings.time is not None
    curves = {}
    for key, settled, wanted in (("settled", True, warm), ("warm", False, True)):
        pressure: list[Any] = []
        rule: list[Any] = []
        for charge in charges if wanted else []:
            read = fit.rule_at(GAUGE.quantity(charge), GAUGE.quantity(axis), direction, settled)
            pressure, rule = [*pressure, *axis, np.nan], [*rule, *read.m_as("m"), np.nan]
        curves[key] = _points(np.array(pressure), np.array(rule))
    return curves
