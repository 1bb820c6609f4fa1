"""Panels of lesson 10: a set-up as a form, its build sheet, and two set-ups side by side."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import ipywidgets
import numpy as np
from matplotlib.artist import Artist
from matplotlib.figure import Figure

from oilkit.build.comparison import input_differences
from oilkit.build.results import HORIZON, BuildSheet, crank, lasting
from oilkit.build.setup_file import Build, demo_set_ups, read_set_up, set_up_from_bytes, write_set_up
from oilkit.build.sheet import build_sheet
from oilkit.build.sheet_files import write_sheet
from oilkit.build.spread import LENGTH_NAME
from oilkit.errors import InputError
from oilkit.panels.framework import drawing
from oilkit.panels.framework.axes import StillAxis
from oilkit.panels.framework.base import Panel, acting, guarded
from oilkit.panels.framework.bound import Reading, Setting, State, us
from oilkit.panels.framework.controls import Amount, Choice, Control
from oilkit.panels.framework.keeping import KeepingPanel
from oilkit.physics.catalog import engines, fittings, hoses, lubricants, vessels
from oilkit.quantities.kinds import ALTITUDE, CLEARANCE_CHANGE, GAUGE, OIL, SPEED, TEMPERATURE, TIME
from oilkit.quantities.records import data_file
from oilkit.quantities.units import Q
from oilkit.storage.saving import named_file, saved_where

DRAWS = 30
"""Draws of a panel: enough to see a spread, few enough to answer at once. The sheet itself takes more."""
PARTS: dict[str, Any] = {"engine": engines, "oil": lubricants, "vessel": vessels, "hose": hoses, "valve": fittings}
AS_IN_FILE = "as in the set-up"
AMOUNTS: dict[str, str] = {
    "precharge": "choice.precharge",
    "clearance_change": "driving.clearance_change",
    "lasts": "driving.events 1.lasts",
    "speed": "driving.events 1.speed",
    "limit": "limits.lowest_pressure",
    "sump_temperature": "driving.sump_temperature",
    "gas_temperature": "driving.gas_temperature",
    "track_altitude": "driving.altitude",
    "shop_temperature": "shop.temperature",
    "shop_altitude": "shop.altitude",
}
"""Each amount of the form, and where it stands in a set-up file."""


def _warmth(name: str, label: str, low: float, high: float) -> Amount:
    return Amount(name, label, TEMPERATURE, Q(low, "degC"), Q(high, "degC"), Q(max(low, 20.0), "degC"), (1, 1))


def _height(name: str, label: str) -> Amount:
    return Amount(name, label, ALTITUDE, Q(0, "ft"), Q(12_000, "ft"), Q(0, "ft"), (100, 50))


class YourEngine(KeepingPanel):
    """A set-up as a form. Load it, change it, save it, and write its build sheet."""

    call = "your_engine"
    title = "Your engine"
    alt = (
        "Two gauges, pre-charge to set in the shop and hot; below them each event's protected time with its spread and "
        "length; beside them a tornado chart of what moves the protected time."
    )
    size = (10.0, 4.6)

    def __init__(self, set_up: Build | str | Path | None = None, **start: Any) -> None:
        """set_up: one that was read, or the name of its file; the kit's own street V8 unless given."""
        if set_up is None:
            set_up = data_file("setup_street_v8.toml")
        self._base = set_up if isinstance(set_up, Build) else read_set_up(set_up)
        self._axis, self._event_axis = StillAxis(TIME, 2.0), StillAxis(TIME, 2.0)
        super().__init__(**start)

    def make_controls(self) -> Sequence[Control]:
        thou = Q(-1, "thou"), Q(4, "thou"), Q(0, "thou")
        amounts = [
            Amount("precharge", "Pre-charge, hot", GAUGE, Q(2, "psig"), Q(50, "psig"), Q(10, "psig"), (0.5, 0.02)),
            Amount("clearance_change", "Mains and rods: clearance changed by", CLEARANCE_CHANGE, *thou, (0.1, 0.002)),
            Amount("lasts", "The first event lasts", TIME, Q(0.5, "s"), Q(12, "s"), Q(2, "s"), (0.25, 0.25)),
            Amount(
                "speed", "… at an engine speed of", SPEED, Q(800, "rpm"), Q(8000, "rpm"), Q(3000, "rpm"), (100, 100)
            ),
            Amount("limit", "Pressure that counts", GAUGE, Q(5, "psig"), Q(45, "psig"), Q(20, "psig"), (1, 0.05)),
            _warmth("sump_temperature", "Oil in the sump", 60, 150),
            _warmth("gas_temperature", "Gas in the warm vessel", 0, 120),
            _height("track_altitude", "Altitude of the track"),
            _warmth("shop_temperature", "Shop", -30, 45),
            _height("shop_altitude", "Altitude of the shop"),
        ]
        for control in amounts:
            self._fit(control)
        parts = [
            Choice(key, key.capitalize(), [(AS_IN_FILE, None), *((r.name, r) for r in read().values())], listed=True)
            for key, read in PARTS.items()
        ]
        return [*amounts, *parts]

    def _fit(self, control: Amount) -> None:
        """Put a control at the set-up's own value, its ends far enough apart to show it as it is."""
        table, _, key = AMOUNTS[control.name].rpartition(".")
        record = self._base.events[0] if table.endswith("events 1") else getattr(self._base, table)
        value = float(getattr(record.si, key))
        control.low, control.high = min(control.low, value), max(control.high, value)
        control.set_si(value)
        control.units_changed()

    def extra_controls(self) -> Sequence[ipywidgets.Widget]:
        self._file = ipywidgets.Text(
            value="my_set_up.toml", layout={"width": "210px"}, continuous_update=False, description="File"
        )
        self._file.style.description_width = "30px"
        buttons = []
        for name, tip, act in (
            ("Load", "read the file named here", self._load_clicked),
            ("Save", "write this set-up into the file named here", self._save_clicked),
            ("Sheet (HTML)", "write the build sheet beside it", self._html_clicked),
            ("Sheet (PDF)", "write the build sheet beside it", self._pdf_clicked),
        ):
            button = ipywidgets.Button(description=name, tooltip=tip, layout={"width": "auto"})
            button.on_click(act)
            buttons.append(button)
        self._load, self._save, self._html, self._pdf = buttons
        self._upload = ipywidgets.FileUpload(
            accept=".toml", multiple=False, description="Load from disk", tooltip="read a set-up file of this computer"
        )
        self._upload.observe(self._uploaded, "value")
        rows = [[self._file, self._load, self._save], [self._upload, self._html, self._pdf], [self.make_note()]]
        return [ipywidgets.HBox(row, layout={"flex_flow": "row wrap"}) for row in rows]

    @property
    def build_now(self) -> Build:
        """The set-up as it stands in the form."""
        return self.state["build"]  # type: ignore[no-any-return]

    def take(self, build: Build) -> None:
        """Put another set-up into the form. Raises `InputError` and leaves the old one if it is of no use."""
        before, values = self._base, {name: control.value for name, control in self.controls.items()}
        ends = {name: (c.low, c.high) for name, c in self.controls.items() if isinstance(c, Amount)}
        self._base = build
        try:
            for control in self.controls.values():
                if isinstance(control, Amount):
                    self._fit(control)
                else:
                    control.set_si(None)
            self._refresh()
        except BaseException:
            self._base = before
            for name, control in self.controls.items():
                if isinstance(control, Amount):
                    control.low, control.high = ends[name]
                control.set_si(values[name])
                control.units_changed()
            raise

    @guarded
    def _load_clicked(self, button: Any) -> None:
        path = self._typed_file()
        self.take(read_set_up(path))
        self.note(f"Loaded from {path.name}.")

    @guarded
    def _uploaded(self, change: Any) -> None:
        for item in change["new"]:
            name = Path(str(item["name"])).name
            self.take(set_up_from_bytes(bytes(item["content"]), name))
            self._file.value = name
            self.note(f"Loaded from {name}.")

    def _typed_file(self) -> Path:
        return named_file(self._file.value, ".toml", argument="File")

    def _own_file(self, ending: str = "") -> Path:
        """The file to write, beside the set-up if an ending is given, once nothing is refused in the form."""
        for control in self.controls.values():
            if control.error:
                raise InputError("form", "a box with an error beside it", "that put right first")
        path = self._typed_file()
        return path.with_suffix(ending) if ending else path

    @acting
    def _save_clicked(self, button: Any) -> None:
        kept = write_set_up(self.build_now, path := self._own_file())
        self.show_message("")
        self.note(f"Saved {saved_where(path)}.{kept} Keep .toml files with your car's papers.")

    @acting
    def _html_clicked(self, button: Any) -> None:
        self._write(".html")

    @acting
    def _pdf_clicked(self, button: Any) -> None:
        self._write(".pdf")

    def _write(self, ending: str) -> None:
        path = self._own_file(ending)
        write_sheet(build_sheet(self.build_now), path)
        self.show_message("")
        self.note(f"Written: the sheet, as {ending[1:].upper()}, {saved_where(path)}.")

    def solve(self, at: Setting) -> State:
        changes: dict[str, Any] = {
            path: next(c for c in (self.controls[name],) if isinstance(c, Amount)).quantity
            for name, path in AMOUNTS.items()
        }
        changes |= {key: getattr(at, key) for key in PARTS if getattr(at, key) is not None}
        try:
            build = self._base.changed(changes)
        except InputError as problem:
            raise self._named(problem) from None
        return {"build": build, "sheet": build_sheet(build, DRAWS, whole=False)}

    def _named(self, problem: InputError) -> InputError:
        """The same problem, named after the control that it belongs to."""
        for name, path in AMOUNTS.items():
            table, _, key = path.rpartition(".")
            if problem.argument.endswith(f"[{table}], {key}"):
                return InputError(name, problem.got, problem.wanted)
        return problem

    def _seconds(self, sheet: BuildSheet) -> tuple[float, float]:
        """Ends of both axes of time: the tornado's and the events'."""
        swings = [float(q.m) for s in sheet.tornado for q in (s.at_low, s.at_high)]
        chart = self._axis.end(max([*swings, float(sheet.hardest.event.lasts.m_as("s"))]))
        most = [min(float(q.m_as("s")), HORIZON) for r in sheet.events for q in (r.protected_high, r.event.lasts)]
        return chart, self._event_axis.end(max(most))

    def redraw_key(self, state: State) -> Any:
        sheet = state["sheet"]
        names = tuple(swing.name for swing in sheet.tornado)
        return names, sheet.hardest.event.name, self._seconds(sheet), tuple(r.event.name for r in sheet.events)

    def build(self, figure: Figure) -> Iterable[Artist]:
        sheet: BuildSheet = self.state["sheet"]
        chart_end, event_end = self._seconds(sheet)
        self._set = drawing.Dial(figure.add_axes((0.01, 0.5, 0.18, 0.48)), "set in the shop", GAUGE, us(GAUGE, 60.0))
        self._hot = drawing.Dial(figure.add_axes((0.2, 0.5, 0.18, 0.48)), "reads hot", GAUGE, us(GAUGE, 60.0))
        events = drawing.framed(
            figure, (0.13, 0.13, 0.25, 0.27), "Protected for", ("time (s)", 0.0, event_end),
            ("", len(sheet.events) - 0.5, -0.5),
        )  # fmt: skip
        events.set_yticks(range(len(sheet.events)), [_short(r.event.name, 14) for r in sheet.events])
        events.grid(False, axis="y")
        rows = range(len(sheet.events))
        self._bars = [drawing.box(events, (0.0, k - 0.3), 0.0, 0.6, fc=drawing.SKY, ec=drawing.BLACK) for k in rows]
        self._spreads = [events.plot([], [], color=drawing.BLACK, lw=2.5, marker="|", ms=9)[0] for _ in rows]
        self._goals = [events.plot([], [], color=drawing.RED, lw=3.0, ls="--", clip_on=False)[0] for _ in rows]
        count = len(sheet.tornado)
        chart = drawing.framed(
            figure, (0.645, 0.13, 0.345, 0.77), f"What moves it most: {_short(sheet.hardest.event.name, 24)}",
            ("protected time (s)", 0.0, chart_end), ("", count - 0.5, -0.5),
        )  # fmt: skip
        chart.set_yticks(range(count), [swing.name for swing in sheet.tornado])
        for label in chart.get_yticklabels()[:3]:
            label.set_fontweight("bold")
        chart.grid(False, axis="y")
        low: dict[str, Any] = {"fc": drawing.BLUE, "ec": drawing.BLACK, "lw": 0.8}
        high: dict[str, Any] = {"fc": drawing.ORANGE, "ec": drawing.BLACK, "lw": 0.8, "hatch": "///"}
        self._lows = [drawing.box(chart, (0.0, k - 0.35), 0.0, 0.7, **low) for k in range(count)]
        self._highs = [drawing.box(chart, (0.0, k - 0.35), 0.0, 0.7, **high) for k in range(count)]
        (self._middle,) = chart.plot([], [], color=drawing.BLACK, lw=1.6)
        (self._goal,) = chart.plot([], [], color=drawing.RED, lw=2.2, ls="--", label="event lasts")
        self._lows[0].set_label("input at its low")
        self._highs[0].set_label("input at its high")
        chart.legend(loc="lower left")
        lines = [*self._spreads, *self._goals, *self._lows, *self._highs, self._middle, self._goal]
        return [*self._set.moving, *self._hot.moving, *self._bars, *lines]

    def update_artists(self, state: State) -> None:
        sheet: BuildSheet = state["sheet"]
        self._set.show(sheet.precharge_to_set.m_as("Pag"))
        self._hot.show(sheet.precharge_hot.m_as("Pag"))
        for k, r in enumerate(sheet.events):
            self._bars[k].set_width(min(float(r.protected_time.m), HORIZON))
            self._spreads[k].set_data([min(float(q.m), HORIZON) for q in (r.protected_low, r.protected_high)], [k, k])
            self._goals[k].set_data([float(r.event.lasts.m_as("s"))] * 2, [k - 0.45, k + 0.45])
        middle = min(float(sheet.hardest.protected_time.m), HORIZON)
        for k, swing in enumerate(sheet.tornado):
            for bar, end in ((self._lows[k], swing.at_low), (self._highs[k], swing.at_high)):
                bar.set_x(min(middle, float(end.m)))
                bar.set_width(abs(float(end.m) - middle))
        ends = [-0.5, len(sheet.tornado) - 0.5]
        self._middle.set_data([middle, middle], ends)
        self._goal.set_data([float(sheet.hardest.event.lasts.m_as("s"))] * 2, ends)

    def readings(self, state: State) -> Sequence[Reading]:
        sheet: BuildSheet = state["sheet"]
        hardest = sheet.hardest
        running = next(level for level in sheet.pan if level.state == "running at speed")
        return [
            Reading("pre-charge to set in the shop", float(sheet.precharge_to_set.m_as("Pag")), GAUGE),
            Reading("it then reads hot, oil side empty", float(sheet.precharge_hot.m_as("Pag")), GAUGE),
            Reading("oil to add", float(sheet.oil_to_add.m_as("m**3")), OIL),
            Reading("pan at speed", running.words),
            Reading("hardest event", hardest.event.name),
            Reading("… protected for", lasting(hardest.protected_time)),
            Reading("… in 8 of 10 draws from", lasting(hardest.protected_low)),
            Reading("… to", lasting(hardest.protected_high)),
            Reading("… lowest pressure in it", float(hardest.lowest_pressure.m_as("Pag")), GAUGE),
            Reading("… draws that are protected", f"{100 * hardest.share:.0f} %"),
            Reading("crank after, on a cold start", crank(sheet)),
            Reading("matters most", sheet.matter_most[0] if sheet.matter_most else "nothing"),
        ]

    def summary(self, state: State) -> str:
        sheet: BuildSheet = state["sheet"]
        most = [name for name in sheet.matter_most if name != LENGTH_NAME]
        advice = f" Measure first: {', '.join(most)}." if most else ""
        return " ".join([sheet.verdict + advice, *sheet.build.questions])


def _short(name: str, most: int) -> str:
    return name if len(name) <= most else f"{name[: most - 1]}…"


class CompareSetUps(Panel):
    """Two set-ups side by side: what was typed differently, and what follows."""

    call = "compare_set_ups"
    title = "Two set-ups side by side"
    alt = "Protected time and lowest pressure in the hardest event of two set-ups, with their spread."
    size = (10.0, 3.4)

    def __init__(self, *set_ups: Build | str | Path, **start: Any) -> None:
        """set_ups: two or more that were read, or the names of their files; the kit's own unless given."""
        if set_ups:
            found = [one if isinstance(one, Build) else read_set_up(one) for one in set_ups]
            self._all = {f"{k}: {build.name}": build for k, build in enumerate(found, 1)}
        else:
            self._all = demo_set_ups()
        self._time_axis = StillAxis(TIME, 2.0)
        super().__init__(**start)

    def make_controls(self) -> Sequence[Control]:
        options = list(self._all.items())
        others = Choice("second", "Second set-up", options, listed=True)
        others.set_si(options[-1][1])
        thou = Q(-0.5, "thou"), Q(2, "thou"), Q(0, "thou")
        return [
            Choice("first", "First set-up", options, listed=True),
            others,
            Amount("wear", "Clearance of both, changed by another", CLEARANCE_CHANGE, *thou, (0.1, 0.002)),
        ]

    def solve(self, at: Setting) -> State:
        sheets = []
        for build in (at.first, at.second):
            now = build.driving.si.clearance_change + at.wear
            worn = build.changed({"driving.clearance_change": CLEARANCE_CHANGE.quantity(now)}) if at.wear else build
            sheets.append(build_sheet(worn, DRAWS, whole=False))
        names = [row.name for row in input_differences(at.first, at.second) if row.name not in ("name", "note")]
        return {"sheets": sheets, "names": names}

    def _end(self, state: State) -> float:
        results = [sheet.hardest for sheet in state["sheets"]]
        ends = [float(q.m_as("s")) for r in results for q in (r.protected_time, r.protected_high, r.event.lasts)]
        return self._time_axis.end(max(min(end, HORIZON) for end in ends))

    def redraw_key(self, state: State) -> Any:
        return self._end(state)

    def build(self, figure: Figure) -> Iterable[Artist]:
        times = drawing.framed(
            figure, (0.09, 0.2, 0.38, 0.66), "Protected in its hardest event",
            ("time (s)", 0.0, self._end(self.state)), ("", 1.5, -0.5),
        )  # fmt: skip
        top = float(GAUGE.display(GAUGE.from_display(80.0, "US")))
        pressures = drawing.framed(
            figure, (0.58, 0.2, 0.38, 0.66), "Lowest pressure in it", (f"({GAUGE.label()})", 0.0, top), ("", 1.5, -0.5)
        )
        self._bars, self._spreads, self._goals = [], [], []
        for ax, goal in ((times, "event lasts"), (pressures, "limit")):
            ax.set_yticks([0, 1], ["first", "second"])
            ax.grid(False, axis="y")
            for k, (colour, hatch) in enumerate(((drawing.SKY, None), (drawing.ORANGE, "//"))):
                self._bars.append(drawing.box(ax, (0.0, k - 0.3), 0.0, 0.6, fc=colour, ec=drawing.BLACK, hatch=hatch))
                self._spreads.append(ax.plot([], [], color=drawing.BLACK, lw=2.5, marker="|", ms=12)[0])
                self._goals.append(ax.plot([], [], color=drawing.RED, lw=3.0, ls="--", label=goal)[0])
            ax.legend(handles=[self._spreads[-1], self._goals[-1]], labels=["8 of 10 draws", goal], loc="lower right")
        return [*self._bars, *self._spreads, *self._goals]

    def update_artists(self, state: State) -> None:
        for k, sheet in enumerate(state["sheets"]):
            r = sheet.hardest
            times = (r.protected_time, r.protected_low, r.protected_high, r.event.lasts)
            pressures = (r.lowest_pressure, r.lowest_low, r.lowest_high, sheet.build.limits.lowest_pressure)
            numbers = [min(float(q.m_as("s")), HORIZON) for q in times]
            for place, (middle, low, high, goal) in (
                (k, numbers),
                (2 + k, [float(GAUGE.display(q.m_as("Pag"))) for q in pressures]),
            ):
                self._bars[place].set_width(max(middle, 0.0))
                self._spreads[place].set_data([low, high], [k, k])
                self._goals[place].set_data([goal, goal], [k - 0.45, k + 0.45])

    def readings(self, state: State) -> Sequence[Reading]:
        first, second = state["sheets"]
        rows = []
        for title, number, kind in (
            ("pre-charge to set", lambda s: float(s.precharge_to_set.m_as("Pag")), GAUGE),
            ("oil to add", lambda s: float(s.oil_to_add.m_as("m**3")), OIL),
            ("hardest event", lambda s: s.hardest.event.name, None),
            ("protected for", lambda s: lasting(s.hardest.protected_time), None),
            ("lowest pressure", lambda s: float(s.hardest.lowest_pressure.m_as("Pag")), GAUGE),
            ("draws protected", lambda s: f"{100 * s.hardest.share:.0f} %", None),
            ("matters most", lambda s: s.matter_most[0] if s.matter_most else "nothing", None),
        ):
            rows += [Reading(f"{title}, first", number(first), kind), Reading(f"{title}, second", number(second), kind)]
        return rows

    def summary(self, state: State) -> str:
        names, (first, second) = state["names"], state["sheets"]
        asked = "".join(f" {question}" for question in dict.fromkeys(first.build.questions + second.build.questions))
        if not names:
            return f"Both are the same set-up: nothing was typed differently, and nothing follows.{asked}"
        more = f" and {len(names) - 6} more" if len(names) > 6 else ""
        shares = [sheet.hardest.share for sheet in (first, second)]
        better = "the first" if shares[0] > shares[1] else "the second" if shares[1] > shares[0] else "neither"
        said = "No vessel helps in " + " and ".join(
            which for which, sheet in (("the first", first), ("the second", second)) if sheet.no_vessel_helps
        )
        none = f" {said}." if np.any([sheet.no_vessel_helps for sheet in (first, second)]) else ""
        none += asked
        return f"Typed differently: {', '.join(names[:6])}{more}. More robust in its hardest event: {better}.{none}"
