"""Panel of lesson 07: a log of your own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import ipywidgets
import numpy as np
from matplotlib.figure import Figure

from oilkit.build.measured import events_of
from oilkit.build.setup_file import Build
from oilkit.errors import InputError
from oilkit.laps.cornering import Starved, expected_pressure, starved_stretches
from oilkit.laps.guess import as_lines, look_at_log
from oilkit.laps.logfile import KIT_LAP, SORTS, Log, read_log
from oilkit.laps.remarks import log_remarks
from oilkit.panels.framework import drawing
from oilkit.panels.framework.amounts import warmth
from oilkit.panels.framework.bound import Graph, Parts, Reading, Setting, State
from oilkit.panels.framework.choices import engine_choice
from oilkit.panels.framework.controls import Amount, Control, Lines, button, named
from oilkit.panels.framework.for_your_car import ForYourCar
from oilkit.panels.framework.instrument import acting
from oilkit.panels.lessons.lesson_07_car import TOP, TRACK, Progress, built
from oilkit.quantities.kinds import GAUGE, PART, TEMPERATURE, TIME
from oilkit.quantities.records import data_file
from oilkit.quantities.typed import parse
from oilkit.quantities.units import Qty
from oilkit.storage.saving import named_file
from oilkit.storage.textfile import stamp

STRETCH = {"from": "start", "to": "end"}
"""Lines that cut a log, and what `read_log` calls it."""
_LOG_TEXT = "\n".join(
    ["file = lap.csv", *(f"{name} = {column}, {unit}" for name, (column, unit) in KIT_LAP.items()), "sensor = gallery"]
)


@dataclass
class _Told:
    """What the lines of the box say."""

    file: str = ""
    sensor: str = "gallery"
    columns: dict[str, tuple[str, str]] = field(default_factory=dict)
    stretch: dict[str, Qty] = field(default_factory=dict)
    pass_over: bool = False


def _read_settings(text: str) -> _Told:
    """File, columns and the rest from lines such as ``time = Time, s``."""
    told = _Told()
    wanted = f"file, sensor, from, to, pass over or one of {', '.join(SORTS)}"
    for number, line in enumerate(text.splitlines(), 1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        key, sign, rest = (part.strip() for part in line.partition("="))
        if not sign or not rest:
            raise InputError("log", f"“{line.strip()}” in line {number}", "a line such as time = Time, s")
        if key in ("file", "sensor"):
            setattr(told, key, rest)
        elif key in STRETCH:
            told.stretch[STRETCH[key]] = TIME.quantity(parse("log", rest, TIME))
        elif key == "pass over":
            if rest not in ("yes", "no"):
                raise InputError("log", f"pass over = {rest}", "yes or no")
            told.pass_over = rest == "yes"
        elif key in SORTS:
            column, comma, unit = (part.strip() for part in rest.rpartition(","))
            if not comma:
                raise InputError("log", f"“{line.strip()}” in line {number}", "column and unit, such as time = Time, s")
            told.columns[key] = (column, unit)
        else:
            raise InputError("log", f"“{key}” in line {number}", wanted)
    if not told.file:
        raise InputError("log", "no file", "a line such as file = my_lap.csv")
    return told


def _found(file: str) -> Path:
    """The file that is named, or the kit's own lap where nothing else has its name."""
    path = named_file(file, argument="log")
    return data_file(file) if file == "lap.csv" and stamp(path) is None else path


class OwnLog(ForYourCar):
    """A log of your own: its columns and units as you name them, and where its pressure says the pick-up starved."""

    call = "own_log"
    title = "A log of your own: where did the pick-up starve?"
    alt = "Measured oil pressure and what a full pump gives, against distance, starved stretches marked; below it g."
    redraw_on = ("end",)

    def make_controls(self) -> list[Control]:
        return [
            Lines("log", "File, then column and unit of each", _LOG_TEXT, rows=9),
            Amount("share", "Starved is less than this share of a full pump's", PART, 0.3, 0.95, 0.7, (0.01, 0.01)),
            warmth("sump", "Oil temperature in the sump", 60, 140, 100),
            engine_choice(),
        ]  # fmt: skip

    def extra_controls(self) -> Sequence[ipywidgets.Widget]:
        self._bar = Progress("reading")
        self._look = button("Look at the file", self._look_clicked, tooltip="guess columns and units, for you to check")
        return [ipywidgets.HBox([self._look, self.car_button()]), self._bar, self.make_note()]

    gives = "the starved stretches as events"
    beforehand = (
        "Logged with the vessel open? It held the pressure up: these stretches are too short or missing. Log with the "
        "valve shut. Each acceleration is written so that it holds the oil back: change its sign in an event that "
        "drives the oil to the engine, such as braking with the vessel behind the engine."
    )

    def changes(self, car: Build) -> Mapping[str, Any]:
        """The stretches beside the events that the car has; one of the same name is put anew."""
        told = _read_settings(self.controls["log"].value)
        if told.file == "lap.csv" and _found(told.file) == data_file("lap.csv"):
            raise InputError("log", "the kit's own lap, which is invented", "a log of your car")
        start = float(told.stretch["start"].m_as("s")) if "start" in told.stretch else 0.0
        events = events_of(self.data, self.state["starved"], start, car.line.si.reach)
        names = {event["name"] for event in events}
        kept = [event for event in car.document["driving"]["events"] if event["name"] not in names]
        return {"driving": car.document["driving"] | {"events": [*kept, *events]}}

    @acting
    def _look_clicked(self, pressed: Any) -> None:
        """Put what the file seems to hold into the box, and say what was seen. Only the line of the file counts."""
        box = self.controls["log"]
        assert isinstance(box, Lines)
        told = next((line.partition("=")[2].strip() for line in box.value.splitlines() if line.startswith("file")), "")
        if not told:
            raise InputError("log", "no file", "a line such as file = my_lap.csv")
        with named("log", "{place}{got}"):
            guess = look_at_log(_found(told))
        box.area.value = as_lines(told, guess)
        check = "Check these. " if not guess.unsure else f"Check these: {' '.join(guess.unsure)} "
        self.note(f"{check}{' '.join(guess.seen)}")

    def solve(self, at: Setting) -> State:
        told = _read_settings(at.log)
        path = _found(told.file)
        with named("log", "{place}{got}"), self._bar:
            log = self.kept(
                (path, stamp(path), told.columns, told.stretch, told.pass_over),  # a blank more is the same log
                lambda: read_log(path, told.columns, self._bar, **told.stretch, pass_over=told.pass_over),
            )
            expected = expected_pressure(built(at.engine), log, TEMPERATURE.quantity(at.sump))
            remarks = log_remarks(log, sensor=told.sensor, expected=expected)
        measured = log.pressure is not None
        starved = starved_stretches(log, expected, at.share) if measured else []
        return {
            "log": log,
            "distance": log.distance.m_as("m"),
            "end": float(log.distance.m_as("m")[-1]),
            "expected": expected.m_as("Pag"),
            "measured": log.si["pressure"] if measured else np.full(len(log.time.m), np.nan),
            "hard": np.hypot(log.si["lateral"], log.si["longitudinal"]) / 9.80665,
            "starved": starved,
            "remarks": remarks,
            "stretches": _stretches(log, starved),
        }

    @property
    def data(self) -> Log:
        """The log as it stands."""
        return self.state["log"]  # type: ignore[no-any-return]

    def build(self, figure: Figure) -> Parts:
        end = self.state["end"]
        top = Graph(
            figure, (0.085, 0.43, 0.9, 0.48), "Where the pressure falls short, the pick-up drew air",
            (None, TRACK, 0.0, end), ("oil pressure", GAUGE, 0.0, TOP),
        )  # fmt: skip
        top.ax.tick_params(labelbottom=False)
        top.line("distance", "expected", color=drawing.GREY, ls="--", lw=1.6, label="a full pump gives")
        top.line("distance", "measured", color=drawing.BLUE, lw=1.4, label="measured")
        limit = {"color": drawing.RED, "ls": ":", "lw": 1.6, "label": "starved below this"}
        top.line("distance", lambda s: s["share"] * s["expected"], **limit)
        short = {"color": drawing.RED, "lw": 6, "solid_capstyle": "butt", "label": "starved"}
        top.line("stretches", lambda s: np.full(len(s["stretches"]), 0.03 * TOP), **short)
        top.ax.legend(**drawing.OUTSIDE)
        low = Graph(figure, (0.085, 0.15, 0.9, 0.2), "", ("distance", TRACK, 0.0, end), ("total g", None, 0.0, 1.6))
        low.line("distance", "hard", color=drawing.BLACK, lw=1.4)
        return [top, low]

    def readings(self, state: State) -> list[Reading]:
        found, log = state["starved"], state["log"]
        lengths = [float((s.end - s.start).m) for s in found]
        rows = [
            Reading("samples", str(log.time.size)),
            Reading("the log lasts", float(log.time.m[-1]), TIME),
            Reading("from sample to sample", float(log.interval.m), TIME),
            Reading("starved stretches", str(len(found))),
            Reading("starved in all", sum(lengths), TIME),
            Reading("longest", max(lengths, default=0.0), TIME),
        ]
        if found:
            worst = min(found, key=lambda s: float(s.lowest.m))
            rows += [
                Reading("lowest pressure there", float(worst.lowest.m_as(GAUGE.si)), GAUGE),
                Reading("… at a distance of", float(worst.at.m_as("m")), TRACK),
            ]
        return rows

    def summary(self, state: State) -> str:
        found = state["starved"]
        if state["log"].pressure is None:
            first = "This log has no measured pressure: the next panel can still drive it through the model."
        elif found:
            first = (
                f"In {len(found)} stretches the pressure stands well below what a full pump gives at "
                "that speed: there the pick-up drew air, or the sensor lies."
            )
        else:
            first = "Nowhere does the pressure stand that far below what a full pump gives."
        return " ".join([first, *state["remarks"]])


def _stretches(log: Log, starved: Sequence[Starved]) -> Any:
    """Both ends of each stretch along the road, in SI, with a gap behind each."""
    seconds, along = log.si["time"], log.distance.m_as("m")
    ends = [[*np.interp([stretch.start.m, stretch.end.m], seconds, along), np.nan] for stretch in starved]
    return np.array(ends).ravel()
