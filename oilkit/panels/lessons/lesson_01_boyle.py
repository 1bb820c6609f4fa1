"""Panels of lesson 01: the learner's cylinder, Boyle's own readings, the class's readings, and their residuals."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.figure import Figure

from oilkit.errors import InputError
from oilkit.panels.framework import drawing
from oilkit.panels.framework.amounts import amount, pressure
from oilkit.panels.framework.axes import round_up
from oilkit.panels.framework.base import Panel
from oilkit.panels.framework.bound import Bound, Graph, Parts, Reading, Setting, State, us
from oilkit.panels.framework.choices import OWN_UNITS
from oilkit.panels.framework.controls import Amount, Choice, Control, Lines, named
from oilkit.panels.framework.keeping import ReadingsPanel
from oilkit.panels.framework.steps import Step, between, is_chosen
from oilkit.physics import gas
from oilkit.physics.catalog import Readings, boyle_1662
from oilkit.physics.pressure import absolute_pressure, gauge_pressure
from oilkit.quantities import columns
from oilkit.quantities.kind import Kind
from oilkit.quantities.kinds import ABSOLUTE, AMBIENT, GAUGE, VOLUME, to_si
from oilkit.quantities.typed import parse
from oilkit.quantities.units import Q
from oilkit.storage.textfile import shown

SYRINGE_LIMIT = float(Q(20, "psig").to("Pag").m)
"""Where the job card says stop (`shop/cards.toml`; common practice, no source)."""
SPACE = Kind("a space of air", "dimensionless", "dimensionless", 0, "dimensionless", 0, "20")
COUNT = Kind("a number of a reading", "dimensionless", "dimensionless", 0, "dimensionless", 0, "1")
INCHES = Kind("a total pressure", "Paa", "inHg * absolute_mark", 2, "inHg * absolute_mark", 2, "Q(30, 'inHg')")
PERCENT = Kind("a difference in percent", "dimensionless", "percent", 2, "percent", 2, "1")


class Cylinder(Panel):
    """A capped cylinder whose piston the learner moves, slowly."""

    call = "cylinder"
    title = "Your cylinder: push the piston in"
    alt = "A capped cylinder with a piston, a dial gauge, and the curve of absolute pressure against volume."
    full = Q(2, "qt")
    steps = (
        Step("Push the piston to 1.00 qt (0.95 L). What does the dial show?", between("volume", 0.98, 1.02, "qt")),
        Step("Push it to 0.50 qt (0.47 L). Which row of the table does not move?", between("volume", 0.5, 0.52, "qt")),
        Step(
            "Set the gauge pressure when capped to 0. What does the mistake say now, wherever the piston stands?",
            between("capped_at", 0.0, 0.02, "psi"),
        ),
    )

    def make_controls(self) -> list[Control]:
        return [
            Amount("volume", "Volume of the gas", VOLUME, Q(0.5, "qt"), self.full, self.full, (0.02, 0.02)),
            pressure("capped_at", "Gauge pressure when capped", 0, 15, 0, (0.5, 0.05)),
        ]

    def solve(self, at: Setting) -> State:
        full = float(self.full.to("m**3").magnitude)
        start = absolute_pressure.si(at.capped_at)
        absolute = gas.pressure_at_volume.si(start, full, at.volume)
        axis = np.linspace(0.5, 2.0, 60) * full / 2.0
        return {
            "absolute": absolute,
            "gauge": gauge_pressure.si(absolute),
            "product": absolute * at.volume,
            "mistake": gas.gauge_used_by_mistake.si(at.capped_at, full, at.volume),
            "axis": axis,
            "curve": gas.pressure_at_volume.si(start, full, axis),
            "wrong": absolute_pressure.si(gas.gauge_used_by_mistake.si(at.capped_at, full, axis)),
            "fraction": 1.0 - at.volume / full,
        }

    def build(self, figure: Figure) -> Parts:
        pushed = float(VOLUME.display(self.full.to("m**3").m)), VOLUME.label() + " pushed in"
        seen = figure.add_axes((0.0, 0.45, 0.46, 0.52))
        cylinder = Bound(drawing.Cutaway(seen, *pushed, oil=False), "fraction")
        cylinder.grab("volume", seen, "fraction", drawing.Cutaway.height / 2)
        dial = drawing.Dial(figure.add_axes((0.12, 0.0, 0.23, 0.46)), "gauge pressure", GAUGE, us(GAUGE, 110.0))
        curve = Graph(
            figure, (0.62, 0.15, 0.365, 0.75), "Absolute pressure against volume",
            ("volume", VOLUME, 0.0, us(VOLUME, 2.15)), ("absolute pressure", ABSOLUTE, 0.0, us(ABSOLUTE, 125.0)),
        )  # fmt: skip
        curve.line("axis", "curve", color=drawing.BLUE, label="Boyle, absolute pressure")
        curve.line("axis", "wrong", color=drawing.RED, ls="--", lw=1.8, label="gauge used by mistake")
        curve.point("volume", "absolute")
        curve.ax.legend(loc="upper right")
        return [cylinder, Bound(dial, "gauge"), curve]

    def readings(self, state: State) -> list[Reading]:
        product = f"{float(Q(state['product'], 'Paa*m**3').to('psia*qt').m):.1f} psia·qt"
        if VOLUME.unit() != VOLUME.us:
            product = f"{float(Q(state['product'], 'Paa*m**3').to('bara*L').m):.3f} bara·L"
        return [
            Reading("volume", state["volume"], VOLUME),
            Reading("absolute pressure", state["absolute"], ABSOLUTE),
            Reading("gauge pressure (the dial)", state["gauge"], GAUGE),
            Reading("absolute pressure × volume", product),
            Reading("dial, gauge used by mistake", state["mistake"], GAUGE),
        ]

    def summary(self, state: State) -> str:
        return (
            f"The gas fills {VOLUME.text(state['volume'])} at {ABSOLUTE.text(state['absolute'])}, so the dial shows "
            f"{GAUGE.text(state['gauge'])}. Absolute pressure times volume stays the same wherever the piston stands."
        )


class BoyleTable(Panel):
    """Boyle's 25 readings of 1662, one by one, against his law."""

    call = "boyle_1662"
    title = "Boyle's own readings, 1662"
    alt = "Boyle's 25 readings as points on the curve of constant pressure times volume, one of them marked."
    redraw_on = ("axis",)
    steps = (
        Step(
            "Click the knob of Reading number, then press the right arrow key up to reading 25. "
            "Does pressure × space move?",
            between("number", 24.5, 25.5),
        ),
        Step("Show pressure against 1 / space. What does the curve become?", is_chosen("axis", "inverse")),
    )

    def make_controls(self) -> list[Control]:
        self._data = boyle_1662()
        spaces, pressures = self._data.volume.m, self._data.pressure.to("Paa").m
        self._spaces, self._pressures = spaces, pressures
        self._law = pressures / (1.0 + gas.power_law_fit(self._data.volume, self._data.pressure).boyle_residual)
        return [
            Amount("number", "Reading number", COUNT, 1, len(spaces), 1, (1.0, 1.0)),
            Choice("axis", "Show pressure against", [("space", "space"), ("1 / space", "inverse")]),
        ]

    def solve(self, at: Setting) -> State:
        k = round(at.number) - 1
        space, pressure, law = (float(column[k]) for column in (self._spaces, self._pressures, self._law))
        return {
            "space": space,
            "pressure": pressure,
            "product": pressure * space,
            "law": law,
            "off": pressure / law - 1.0,
        }

    def build(self, figure: Figure) -> Parts:
        inverse = self.state["axis"] == "inverse"
        cut = figure.add_axes((0.01, 0.3, 0.42, 0.5))
        cutaway = drawing.Cutaway(cut, 48.0, "gone", oil=False)
        cut.set_title("48 spaces of air at first;\na piston stands for his mercury", fontsize=10.5)
        power = -1.0 if inverse else 1.0
        graph = figure.add_axes((0.54, 0.15, 0.44, 0.75))
        drawing.message(graph, "Against 1 / space: a straight line" if inverse else "Against space: Boyle's curve")
        graph.set_xlabel("1 / space of air" if inverse else "space of air (Boyle's equal spaces)")
        graph.set_ylabel("total pressure (inches of mercury)")
        spaces, inches = self._spaces, INCHES.display(self._pressures)
        axis = np.geomspace(11.0, 1e6 if inverse else 50.0, 200)  # 1 / space down to nothing
        law = gas.pressure_at_volume.si(self._law[0], spaces[0], axis)
        graph.plot(axis**power, INCHES.display(law), color=drawing.BLUE, label="p × V = constant")
        graph.plot(spaces**power, inches, "o", ms=6, mfc="white", mec=drawing.BLACK, label="Boyle 1662")
        graph.set_xlim(left=0.0)
        graph.set_ylim(bottom=0.0)
        graph.legend(loc="upper left" if inverse else "upper right")
        (point,) = graph.plot([], [], "D", ms=11, color=drawing.RED)
        marked = Bound().add([point], lambda s: point.set_data([s["space"] ** power], [INCHES.display(s["pressure"])]))
        return [Bound(cutaway, lambda s: 1.0 - s["space"] / 48.0), marked]

    def readings(self, state: State) -> list[Reading]:
        return [
            Reading("space of air", state["space"], SPACE),
            Reading("total pressure Boyle read", f"{INCHES.display(state['pressure']):.2f} inches of mercury"),
            Reading("pressure × space", f"{INCHES.display(state['product']):.0f}"),
            Reading("Boyle's law says", f"{INCHES.display(state['law']):.2f} inches of mercury"),
            Reading("reading minus law", f"{100 * state['off']:+.2f} %"),
        ]

    def summary(self, state: State) -> str:
        return (
            f"With {state['space']:.0f} spaces of air Boyle read {INCHES.display(state['pressure']):.2f} inches of "
            f"mercury; constant pressure times space asks for {INCHES.display(state['law']):.2f}. Total pressure is "
            "absolute pressure: Boyle added the barometer to what his tube showed."
        )


_START_TEXT = """60 0
55 1.3
50 3.0
40 7.4
35 10.4
30 14.6"""


class ClassReadings(ReadingsPanel):
    """The class's own readings of a capped syringe, a gauge and a ruler: on the curve, or not?"""

    call = "class_readings"
    title = "Your class's readings"
    alt = "The class's readings as points beside the curve of constant absolute pressure times volume."
    file = Path("class_readings.csv")
    redraw_on = ("limits", "law", "lowest")
    steps = (
        Step("Compare with gauge × volume. Do the readings still lie on the blue line?", is_chosen("law", "gauge")),
    )

    def make_controls(self) -> list[Control]:
        self._fitted = ""
        return [
            Lines("readings", "Readings: volume and gauge pressure, one pair a line", _START_TEXT),
            Choice("unit", "Gauge reads", OWN_UNITS),
            Amount(
                "ambient", "Barometer", AMBIENT, Q(9, "psia"), Q(15.5, "psia"), Q(101_325, "Paa"), (0.05, 0.005)
            ).shown_if(lambda at: at.law == "absolute"),
            Choice(
                "law", "Compare with", [("absolute × volume", "absolute"), ("gauge × volume (the mistake)", "gauge")]
            ),
        ]

    def text_to_save(self) -> str:
        self.solve(self.setting())
        barometer = self.controls["ambient"].value
        head = f"# volume as read, gauge pressure; barometer {barometer!r} Pa; gauge in {self.controls['unit'].value}\n"
        return head + str(self.controls["readings"].value).rstrip() + "\n"

    def take_saved(self, text: str) -> str:
        head, *rest = text.splitlines() or [""]
        gauge, barometer = re.search(r"; gauge in (psig|barg|kPag)$", head), re.search(r"; barometer (\S+) Pa;", head)
        super().take_saved("\n".join(rest) if head.startswith("#") else text)
        if gauge:
            self.controls["unit"].set_si(gauge[1])
        if barometer:
            self.controls["ambient"].set_si(parse("barometer", f"{barometer[1]} Pa", AMBIENT))
        open_ = [noun for noun, said in (("the unit of the gauge", gauge), ("the barometer", barometer)) if not said]
        return f" It does not tell {' and '.join(open_)}: as chosen here, so check that." if open_ else ""

    def solve(self, at: Setting) -> State:
        volume, gauge, assumed = read_pairs(at.readings, at.unit)
        with named("readings"):
            absolute = absolute_pressure.si(gauge, at.ambient)
        pressure = absolute if at.law == "absolute" else gauge
        product, stray = gas.mean_product(volume, pressure)
        axis = np.linspace(volume.min() * 0.92, volume.max() * 1.05, 80)
        return {
            "volume": volume,
            "gauge": gauge,
            "read": pressure,
            "assumed": assumed,
            "limits": (round_up(np.max(volume) * 1.05), round_up(max(np.max(pressure), 1e4) * 1.1)),
            "lowest": min(0.0, np.min(gauge)),
            "product": pressure * volume,
            "off": stray,
            "axis": axis,
            "curve": gas.pressure_at_volume.si(product, 1.0, axis),
            "data": Readings(Q(volume, "dimensionless"), Q(absolute, "Paa"), "this class"),
        }

    def build(self, figure: Figure) -> Parts:
        absolute = self.state["law"] == "absolute"
        (across, up), low = self.state["limits"], 1.1 * self.state["lowest"]
        graph = Graph(
            figure, (0.1, 0.15, 0.86, 0.75), "Do the readings fall on the curve?",
            ("volume, as typed", None, 0.0, across),
            ("absolute pressure" if absolute else "gauge pressure", ABSOLUTE if absolute else GAUGE, low, up),
        )  # fmt: skip
        graph.line("axis", "curve", color=drawing.BLUE, label="p × V = constant")
        graph.line("volume", "read", "o", ms=9, clip_on=False, label="readings", **drawing.RING)
        graph.ax.legend(loc="upper right")
        return [graph]

    @property
    def data(self) -> Readings:
        """The readings as they stand, pressures absolute."""
        return self.state["data"]  # type: ignore[no-any-return]

    def readings(self, state: State) -> list[Reading]:
        name, kind = state["law"], ABSOLUTE if state["law"] == "absolute" else GAUGE
        products = kind.display(state["product"])
        return [
            Reading("readings", str(len(state["volume"]))),
            Reading(f"smallest {name} pressure × volume", f"{np.min(products):.4g} {kind.label()} × volume"),
            Reading(f"largest {name} pressure × volume", f"{np.max(products):.4g} {kind.label()} × volume"),
            Reading("largest deviation from the curve", f"{100 * state['off']:.1f} %"),
        ]

    def summary(self, state: State) -> str:
        return " ".join([self._verdict(state), *state["assumed"]])

    def _verdict(self, state: State) -> str:
        if np.max(state["gauge"]) > SYRINGE_LIMIT:
            return (
                f"Stop: {GAUGE.text(float(np.max(state['gauge'])))} is above the {GAUGE.both(SYRINGE_LIMIT)} at which "
                "the job card stops. Let the plunger come back. If you meant another unit, choose it under Gauge reads."
            )
        if state["law"] == "gauge":
            return (
                f"With gauge pressure the product is not constant: readings stray up to {100 * state['off']:.0f} % "
                "from its mean. A gas law wants absolute pressure."
            )
        return (
            f"With absolute pressure the {len(state['volume'])} readings stay within {100 * state['off']:.1f} % of one "
            "product."
        )


def _error_text(error: float, digits: str) -> str:
    return "unknown: it takes three readings" if np.isnan(error) else f"{error:{digits}}"


WANTED = "two numbers, volume and gauge pressure, such as 40 7.4"


def read_pairs(text: str, unit: str) -> tuple[np.ndarray[Any, Any], np.ndarray[Any, Any], tuple[str, ...]]:
    """Volumes (as typed), gauge pressures (SI), and what was assumed, from lines of two numbers parted all one way."""
    volume = columns.Column("volume", "volume above 0 and below 1e9", low=1e-9, high=1e9)
    gauge = columns.Column("pressure", "gauge pressure below 1e9", unit.removesuffix("g"), low=-1e9, high=1e9)
    way = ""
    with named("readings", "{place}{got}"):
        for number, line in columns.lines_of("readings", text):
            way = way or _parted_by(line)
            parts = re.split(way, line.strip())
            if len(parts) != 2 or not all(parts):
                raise InputError(f"readings, line {number}", f"“{shown(line, 30)}”", f"{WANTED}, parted as in line one")
            for column, part in zip((volume, gauge), parts, strict=True):
                column.add("readings", number, part)
        assumed = columns.assumed("readings", (volume, gauge))
    if len(set(volume.values)) < 2:
        raise InputError("readings", f"{len(volume.values)} readings", "two or more at different volumes")
    return np.array(volume.values), to_si("readings", Q(np.array(gauge.values), unit), GAUGE), assumed


def _parted_by(line: str) -> str:
    """What parts the two numbers of a line, as a pattern: a semicolon, a comma with a space, a space, a comma."""
    for sign, pattern in ((";", r"\s*;\s*"), (r",\s|\s,", r"\s*,\s*"), (r"\s", r"\s+")):
        if re.search(sign, line.strip()):
            return pattern
    return ","  # the only thing between two numbers can but part them


class Residuals(Panel):
    """Go deeper: how far each reading lies from the fitted law, and what a hidden dead volume does to it."""

    call = "residuals"
    title = "Go deeper: the residuals"
    alt = "Difference of each reading from the fitted law in percent, against volume."

    def __init__(self, readings: ClassReadings | None = None) -> None:
        self._class = readings
        super().__init__()
        if readings is not None:
            readings.tell_of_changes(self)

    def make_controls(self) -> list[Control]:
        sets = [("Boyle 1662", "boyle")]
        if self._class is not None:
            sets.insert(0, ("this class", "class"))
        return [
            Choice("data", "Readings", sets),
            amount("hidden", "Hidden volume, in % of the largest", PERCENT, "percent", 0, 15, 0, 0.1),
            Choice("law", "Residuals from", [("p × V = constant", "boyle"), ("p × Vⁿ = constant, n fitted", "power")]),
        ]  # fmt: skip

    def made_from(self) -> Sequence[Panel]:
        return super().made_from() if self.controls["data"].value == "class" else ()

    def solve(self, at: Setting) -> State:
        readings = boyle_1662()
        if at.data == "class" and self._class is not None:
            readings = self._class.open_for("data").data
        volume = readings.volume + at.hidden * Q(float(np.max(readings.volume.m)), readings.volume.u)
        fit = gas.power_law_fit(volume, readings.pressure)
        residual = fit.boyle_residual if at.law == "boyle" else fit.residual
        share = volume.m / np.max(volume.m)
        return {"share": share, "percent": 100.0 * residual, "fit": fit, "source": readings.source}

    def build(self, figure: Figure) -> Parts:
        graph = Graph(
            figure, (0.1, 0.15, 0.86, 0.75), "A pattern here is something that the law leaves out",
            ("volume / largest volume", None, 0.0, 1.05), ("reading above the fit (%)", None, -6.0, 6.0),
        )  # fmt: skip
        graph.ax.axhline(0.0, color=drawing.BLUE)
        graph.line(
            "share", lambda s: np.where(np.abs(s["percent"]) <= 6.0, s["percent"], np.nan), "o", ms=8, **drawing.RING
        )
        beyond: dict[str, Any] = {"ms": 10, "color": drawing.RED, "ls": "none"}
        graph.line("share", lambda s: np.where(s["percent"] > 6.0, 5.6, np.nan), "^", label="beyond the axis", **beyond)
        graph.line("share", lambda s: np.where(s["percent"] < -6.0, -5.6, np.nan), "v", **beyond)
        graph.ax.legend(loc="upper right")
        return [graph]

    def readings(self, state: State) -> list[Reading]:
        fit = state["fit"]
        return [
            Reading("fitted exponent n", f"{fit.exponent:.4f}"),
            Reading("standard error of n", _error_text(fit.exponent_error, ".4f")),
            Reading("largest residual", f"{np.max(np.abs(state['percent'])):.2f} %"),
            Reading("root mean square residual", f"{np.sqrt(np.mean(state['percent'] ** 2)):.2f} %"),
        ]

    def summary(self, state: State) -> str:
        fit = state["fit"]
        return (
            f"Fitted to {state['source']}: n = {fit.exponent:.3f} ± {_error_text(fit.exponent_error, '.3f')} (one "
            "standard error, from scatter alone). Boyle's law says 1."
        )
