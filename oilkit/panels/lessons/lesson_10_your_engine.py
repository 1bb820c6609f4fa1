"""Panels of lesson 10: a set-up as a form, its build sheet, and two set-ups side by side."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, ClassVar

import numpy as np
from matplotlib.figure import Figure

from oilkit.build.comparison import Side, input_differences, side_by_side
from oilkit.build.results import HORIZON, BuildSheet, crank, lasting
from oilkit.build.setup_file import Build, demo_set_ups, read_set_up
from oilkit.build.sheet import build_sheet
from oilkit.build.since import tried, without_readings
from oilkit.build.spread import LENGTH_NAME
from oilkit.panels.framework import drawing
from oilkit.panels.framework.amounts import altitude, amount, clearance_change, pressure, seconds, speed, warmth
from oilkit.panels.framework.axes import StillAxis
from oilkit.panels.framework.bound import Bound, Graph, Parts, Reading, Setting, State, us
from oilkit.panels.framework.controls import Amount, Choice, Control
from oilkit.panels.framework.first_look import FirstLook
from oilkit.panels.framework.steps import Step, between, both, is_called
from oilkit.panels.lessons.lesson_10_set_up_file import SetUpPanel
from oilkit.physics.catalog import engines, fittings, hoses, lubricants, vessels
from oilkit.quantities.kinds import CLEARANCE_CHANGE, GAUGE, OIL, TIME
from oilkit.quantities.printed import percent
from oilkit.quantities.units import Qty

DRAWS, FIRST_DRAWS = 30, 8
"""Draws of a panel: enough to see a spread, and of a first look. The sheet itself takes more."""
KEPT = 120
"""Set-ups at some wear that stay known, so that a hand may go back: all of a slider's for two of them."""
PARTS: dict[str, Any] = {"engine": engines, "oil": lubricants, "vessel": vessels, "hose": hoses, "valve": fittings}
AS_IN_FILE = "as in the set-up"


class YourEngine(FirstLook, SetUpPanel):
    """A set-up as a form. Load it, change it, save it, and write its build sheet."""

    call = "your_engine"
    paths: ClassVar[Mapping[str, str]] = {
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
    size = (6.5, 3.4)
    rarely = ("limit", "gas_temperature", "track_altitude", "shop_altitude", *PARTS)
    title = "Your engine"
    alt = (
        "Two gauges, pre-charge to set in the shop and hot; below them each event's protected time with its spread and "
        "length; beside them a tornado chart of what moves the protected time."
    )
    crowded = True
    steps = (
        Step("Cool the shop to 32 °F (0 °C). Watch the left gauge alone.", between("shop_temperature", -1, 1, "degC")),
        Step("Lower the pre-charge to 10 psi (0.69 bar). Watch the bars.", between("precharge", 9.7, 10.3, "psig")),
        Step(
            "Make the clearances larger, a tenth at a time, until the hardest event falls short. Which bar grows?",
            lambda s: s["clearance_change"] > 0.0 and s["middle"] < s["goal"],
        ),
        Step("Go on, until the sentence begins with No vessel helps.", lambda s: bool(s["sheet"].no_vessel_helps)),
    )

    def __init__(self, set_up: Build | str | Path | None = None, **start: Any) -> None:
        """set_up: one that was read, or the name of its file; the kit's own street V8 unless given."""
        self._axis, self._event_axis = StillAxis(TIME, 2.0), StillAxis(TIME, 2.0)
        super().__init__(set_up, **start)

    def make_controls(self) -> list[Control]:
        amounts = [
            pressure("precharge", "Pre-charge, hot", 2, 50, 10),
            clearance_change(high=4),
            seconds("lasts", "The first event lasts", 0.5, 12, 2, 0.25),
            speed(800, 8000, 3000, label="… at an engine speed of"),
            pressure("limit", "Pressure that counts", 5, 45, 20, (1, 0.05)),
            warmth("sump_temperature", "Oil in the sump", 60, 150, 60, 1),
            warmth("gas_temperature", "Gas in the warm vessel", 0, 120, 20, 1),
            altitude("track_altitude", "Altitude of the track", 12_000),
            warmth("shop_temperature", "Shop", -30, 45, 20, 1),
            altitude("shop_altitude", "Altitude of the shop", 12_000),
        ]
        for control in amounts:
            self._fit(control)
        parts = [
            Choice(key, key.capitalize(), [(AS_IN_FILE, None), *((r.name, r) for r in read().values())], listed=True)
            for key, read in PARTS.items()
        ]
        return [*amounts, *parts]

    def _fit(self, control: Amount) -> None:
        table, _, key = self.paths[control.name].rpartition(".")
        record = self._base.events[0] if table.endswith("events 1") else getattr(self._base, table)
        control.fit_to(float(getattr(record.si, key)))

    def fit(self) -> None:
        for control in self._amounts():
            self._fit(control)
        for part in PARTS:
            self.controls[part].set_si(None)

    def solve(self, at: Setting) -> State:
        changes: dict[str, Any] = {self.paths[control.name]: control.quantity for control in self._amounts()}
        changes |= {key: getattr(at, key) for key in PARTS if getattr(at, key) is not None}
        build = tried(self._base, self.changed(changes))
        if at.engine is not None:
            build = without_readings(build)
        sheet = build_sheet(build, FIRST_DRAWS if self.hurried else DRAWS, whole=False)
        hardest = sheet.hardest
        return {
            "build": build,
            "sheet": sheet,
            "to_set": float(sheet.precharge_to_set.m_as("Pag")),
            "hot": float(sheet.precharge_hot.m_as("Pag")),
            "events": [_seconds(r.protected_time, r.protected_low, r.protected_high) for r in sheet.events],
            "goals": [float(r.event.lasts.m_as("s")) for r in sheet.events],
            "middle": min(float(hardest.protected_time.m), HORIZON),
            "goal": float(hardest.event.lasts.m_as("s")),
            "swings": [(float(swing.at_low.m), float(swing.at_high.m)) for swing in sheet.tornado],
        }

    def _ends(self, sheet: BuildSheet) -> tuple[float, float]:
        """Ends of both axes of time: the tornado's and the events'."""
        swings = [float(q.m) for s in sheet.tornado for q in (s.at_low, s.at_high)]
        chart = self._axis.end(max([*swings, float(sheet.hardest.event.lasts.m_as("s"))]))
        most = max(time for r in sheet.events for time in _seconds(r.protected_high, r.event.lasts))
        return chart, self._event_axis.end(most)

    def redraw_key(self, state: State) -> Any:
        sheet = state["sheet"]
        count = len(sheet.tornado)
        return count, sheet.hardest.event.name, self._ends(sheet), tuple(r.event.name for r in sheet.events)

    def build(self, figure: Figure) -> Parts:
        chart_end, event_end = self._ends(self.state["sheet"])
        top = us(GAUGE, 60.0)
        in_shop = drawing.Dial(figure.add_axes((0.02, 0.5, 0.17, 0.48)), "set in the shop", GAUGE, top)
        hot = drawing.Dial(figure.add_axes((0.2, 0.5, 0.17, 0.48)), "reads hot", GAUGE, top)
        charts = self._events(figure, event_end), self._tornado(figure, chart_end)
        return [Bound(in_shop, "to_set"), Bound(hot, "hot"), *charts]

    def _events(self, figure: Figure, end: float) -> Graph:
        results = self.state["sheet"].events
        wide = self.picture.for_class
        events = Graph(
            figure, (0.185, 0.19, 0.17, 0.23) if wide else (0.15, 0.19, 0.21, 0.23), "Protected for",
            ("time (s)", None, 0.0, end), (None, None, len(results) - 0.5, -0.5),
        )  # fmt: skip
        events.rows([_short(r.event.name, 16 if wide else 14) for r in results], fontsize=9)
        bar: dict[str, Any] = {"fc": drawing.SKY, "ec": drawing.BLACK}
        spread: dict[str, Any] = {"color": drawing.BLACK, "lw": 2.5, "marker": "|", "ms": 9}
        goal: dict[str, Any] = {"color": drawing.RED, "lw": 3.0, "ls": "--", "clip_on": False, "zorder": 2.2}
        for k in range(len(results)):
            events.box(0.0, lambda s, k=k: s["events"][k][0], k - 0.3, k + 0.3, **bar)
            events.line(lambda s, k=k: s["events"][k][1:], k, zorder=2.1, **spread)
            events.line(lambda s, k=k: s["goals"][k], [k - 0.45, k + 0.45], **goal)
        return events

    def _tornado(self, figure: Figure, end: float) -> Graph:
        sheet: BuildSheet = self.state["sheet"]
        count = len(sheet.tornado)
        wide = self.picture.for_class
        chart = Graph(
            figure, (0.72, 0.2, 0.27, 0.7) if wide else (0.665, 0.2, 0.325, 0.7),
            f"What moves it most: {_short(sheet.hardest.event.name, 24)}",
            ("protected time (s)", None, 0.0, end), (None, None, count - 0.5, -0.5),
        )  # fmt: skip
        chart.rows([""] * count)
        names = [
            chart.ax.text(
                -0.02, k, "", transform=chart.ax.get_yaxis_transform(), ha="right", va="center", fontsize=9,
                linespacing=0.9, weight="bold" if k < 3 else "normal",
            )
            for k in range(count)
        ]  # fmt: skip

        def name_rows(state: State) -> None:
            for text, swing in zip(names, state["sheet"].tornado, strict=True):
                text.set_text(textwrap.fill(swing.name, 31 if wide else 26))

        chart.add(names, name_rows)
        low: dict[str, Any] = {"fc": drawing.BLUE, "ec": drawing.BLACK, "lw": 0.8}
        high: dict[str, Any] = {"fc": drawing.ORANGE, "ec": drawing.BLACK, "lw": 0.8, "hatch": "///"}
        bars = [
            chart.box(
                lambda s, k=k, end=end: min(s["middle"], s["swings"][k][end]),
                lambda s, k=k, end=end: max(s["middle"], s["swings"][k][end]), k - 0.35, k + 0.35, **style,
            )
            for end, style in enumerate((low, high))
            for k in range(count)
        ]  # fmt: skip
        ends = [-0.5, count - 0.5]
        chart.line("middle", ends, color=drawing.BLACK, lw=1.6)
        chart.line("goal", ends, color=drawing.RED, lw=2.2, ls="--", label="event lasts")
        bars[0].set_label("input low")
        bars[count].set_label("input high")
        chart.ax.legend(loc="upper right", bbox_to_anchor=(1.02, -0.18), ncols=3, columnspacing=1.0, fontsize=9)
        return chart

    def readings(self, state: State) -> list[Reading]:
        sheet: BuildSheet = state["sheet"]
        hardest = sheet.hardest
        running = next(level for level in sheet.pan if level.state == "running at speed")
        return [
            Reading("pre-charge to set in the shop", state["to_set"], GAUGE),
            Reading("it then reads hot, oil side empty", state["hot"], GAUGE),
            Reading("oil to add", float(sheet.oil_to_add.m_as("m**3")), OIL),
            Reading("pan at speed", running.words),
            Reading("hardest event", hardest.event.name),
            Reading("… protected for", lasting(hardest.protected_time, hardest.event.lasts)),
            Reading("… in 8 of 10 draws from", lasting(hardest.protected_low)),
            Reading("… to", lasting(hardest.protected_high)),
            Reading("… lowest pressure in it", float(hardest.lowest_pressure.m_as("Pag")), GAUGE),
            Reading("… draws that are protected", percent(hardest.share)),
            Reading("crank after, on a cold start", crank(sheet)),
        ]

    def table(self) -> str:
        """The verdict first: what is scrolled away is the last of the numbers."""
        return f"{self._words()}{self.numbers()}"

    def summary(self, state: State) -> str:
        sheet: BuildSheet = state["sheet"]
        most = [name for name in sheet.matter_most if name != LENGTH_NAME]
        advice = f" Measure first: {', '.join(most)}." if most else ""
        return " ".join([sheet.verdict + advice, *sheet.build.questions])


def _seconds(*times: Qty) -> list[float]:
    """Times as far as the model follows them."""
    return [min(float(one.m_as("s")), HORIZON) for one in times]


def _short(name: str, most: int) -> str:
    return name if len(name) <= most else f"{name[: most - 1]}…"


def _worn(build: Build, wear: float) -> Build:
    change = CLEARANCE_CHANGE.quantity(build.driving.si.clearance_change + wear)
    return tried(build, build.changed({"driving.clearance_change": change})) if wear else build


class CompareSetUps(FirstLook):
    """Two set-ups side by side: what was typed differently, and what follows."""

    call = "compare_set_ups"
    title = "Two set-ups side by side"
    alt = "Protected time and lowest pressure in the hardest event of two set-ups, with their spread."
    size = (6.5, 3.2)
    steps = (
        Step(
            "Choose the street V8, and the set-up at high altitude. What must be set differently?",
            both(is_called("first", "street V8"), is_called("second", "high altitude")),
        ),
        Step(
            "Let both wear by 1 thou (0.025 mm). Which one loses its protection first?",
            between("wear", 0.95, 1.05, "thou"),
        ),
    )

    def __init__(self, *set_ups: Build | str | Path, **start: Any) -> None:
        """set_ups: two or more that were read, or the names of their files; the kit's own unless given."""
        if set_ups:
            found = [one if isinstance(one, Build) else read_set_up(one) for one in set_ups]
            self._all = {f"{k}: {build.name}": build for k, build in enumerate(found, 1)}
        else:
            self._all = demo_set_ups()
        self._time_axis = StillAxis(TIME, 2.0)
        self._sides: dict[Any, Side] = {}
        super().__init__(**start)

    def make_controls(self) -> list[Control]:
        options = list(self._all.items())
        return [
            Choice("first", "First set-up", options, listed=True),
            Choice("second", "Second set-up", options, listed=True, start=options[-1][1]),
            amount("wear", "Clearance of both, changed by another", CLEARANCE_CHANGE, "thou", -0.5, 2, 0, (0.1, 0.002)),
        ]

    def solve(self, at: Setting) -> State:
        pair = {(id(build), at.wear): build for build in (at.first, at.second)}
        self._rough = self.hurried and any((*key, DRAWS) not in self._sides for key in pair)
        draws = FIRST_DRAWS if self._rough else DRAWS
        missing = {key: build for key, build in pair.items() if (*key, draws) not in self._sides}
        found = side_by_side([_worn(build, at.wear) for build in missing.values()], draws) if missing else ()
        self._sides |= {(*key, draws): side for key, side in zip(missing, found, strict=True)}
        sides = [self._sides[(id(build), at.wear, draws)] for build in (at.first, at.second)]
        for key in list(self._sides)[:-KEPT]:
            del self._sides[key]
        hardest = [side.hardest for side in sides]
        names = [row.name for row in input_differences(at.first, at.second) if row.name not in ("name", "note")]
        return {
            "sides": sides,
            "names": names,
            "times": [
                np.minimum([h.protected_time, h.protected_low, h.protected_high, h.event.si.lasts], HORIZON)
                for h in hardest
            ],
            "pressures": [np.array([h.lowest_pressure, h.lowest_low, h.lowest_high, h.limit]) for h in hardest],
        }

    def redraw_key(self, state: State) -> Any:
        """Upper end of the axis of time."""
        return self._time_axis.end(np.max(state["times"]))

    def build(self, figure: Figure) -> Parts:
        rows = (None, None, 1.5, -0.5)
        times = Graph(
            figure, (0.1, 0.28, 0.38, 0.6), "Protected in its hardest event",
            ("time (s)", None, 0.0, self.redraw_key(self.state)), rows,
        )  # fmt: skip
        pressures = Graph(
            figure, (0.59, 0.28, 0.38, 0.6), "Lowest pressure in it", ("", GAUGE, 0.0, us(GAUGE, 80.0)), rows
        )
        for graph, key, goal in ((times, "times", "event lasts"), (pressures, "pressures", "limit")):
            graph.rows(["first", "second"])
            for k, (colour, hatch) in enumerate(((drawing.SKY, None), (drawing.ORANGE, "//"))):
                middle, spreads, wants = (
                    lambda s, key=key, k=k, part=part: s[key][k][part] for part in (0, slice(1, 3), 3)
                )
                graph.box(0.0, middle, k - 0.3, k + 0.3, fc=colour, ec=drawing.BLACK, hatch=hatch)
                spread = graph.line(spreads, k, color=drawing.BLACK, lw=2.5, marker="|", ms=12, zorder=2.1)
                wanted = graph.line(wants, [k - 0.45, k + 0.45], color=drawing.RED, lw=3.0, ls="--", zorder=2.2)
            graph.ax.legend(
                handles=[spread, wanted],
                labels=["8 of 10 draws", goal],
                loc="upper center",
                bbox_to_anchor=(0.5, -0.2),
                ncols=2,
            )
        return [times, pressures]

    def readings(self, state: State) -> list[Reading]:
        first, second = state["sides"]
        rows: list[Reading] = []
        shown: list[tuple[str, Callable[[Side], Any], Any]] = [
            ("pre-charge to set", lambda s: s.precharge_to_set, GAUGE),
            ("oil to add", lambda s: s.oil_to_add, OIL),
            ("hardest event", lambda s: s.hardest.event.name, None),
            ("protected for", lambda s: lasting(TIME.quantity(s.hardest.protected_time), s.hardest.event.lasts), None),
            ("lowest pressure", lambda s: s.hardest.lowest_pressure, GAUGE),
            ("simulated cases protected", lambda s: percent(s.hardest.share), None),
            ("matters most", lambda s: s.hardest.matter_most[0] if s.hardest.matter_most else "nothing", None),
        ]
        for title, number, kind in shown:
            rows += [Reading(f"{title}, first", number(first), kind), Reading(f"{title}, second", number(second), kind)]
        return rows

    def summary(self, state: State) -> str:
        names, (first, second) = state["names"], state["sides"]
        asked = "".join(f" {question}" for question in dict.fromkeys(first.questions + second.questions))
        if not names:
            return f"Both are the same set-up: nothing was typed differently, and nothing follows.{asked}"
        more = f" and {len(names) - 6} more" if len(names) > 6 else ""
        shares = [side.hardest.share for side in (first, second)]
        better = "the first" if shares[0] > shares[1] else "the second" if shares[1] > shares[0] else "neither"
        lost = [name for name, side in (("the first", first), ("the second", second)) if side.hardest.no_vessel_helps]
        none = f" No vessel helps in {' and '.join(lost)}." if lost else ""
        return (
            f"Typed differently: {', '.join(names[:6])}{more}. More robust in its hardest event: {better}.{none}{asked}"
        )
