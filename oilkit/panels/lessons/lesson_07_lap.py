"""Panels of lesson 07: a lap with and without vessel, a log of your own, pre-charge on a map and with its spread."""

from __future__ import annotations

import time
from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import Any

import ipywidgets
import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.colors import BoundaryNorm, ListedColormap
from matplotlib.figure import Figure
from matplotlib.patches import Patch

from oilkit.errors import InputError
from oilkit.laps.choice import highest_for_prelube, precharge_map, robust_choice
from oilkit.laps.cornering import compare_laps, corners, expected_pressure, starved_stretches
from oilkit.laps.lap import simulate_lap, usual_installation
from oilkit.laps.logfile import KIT_LAP, SORTS, Log, kit_lap, read_log
from oilkit.laps.remarks import log_remarks
from oilkit.panels.framework import drawing
from oilkit.panels.framework.axes import StillAxis
from oilkit.panels.framework.base import Panel, Reading, State
from oilkit.panels.framework.controls import Amount, Choice, Control, Lines
from oilkit.panels.framework.vessel_view import vessel_choice
from oilkit.physics.catalog import engines
from oilkit.physics.discharging import Installation
from oilkit.physics.engine import Engine, operating_point
from oilkit.physics.vessel import Vessel
from oilkit.quantities.kinds import (
    CLEARANCE_CHANGE,
    FRACTION,
    GAUGE,
    OIL,
    PAN_CHANGE,
    TEMPERATURE,
    TEMPERATURE_DIFFERENCE,
    THROUGH_FLOW,
    TIME,
    Kind,
)
from oilkit.quantities.records import data_file
from oilkit.quantities.units import Q
from oilkit.storage.saving import named_file
from oilkit.storage.textfile import stamp

TRACK = Kind("a distance along the road", "m", "ft", 0, "m", 0, "Q(500, 'm')", low=0.0)
TOP = float(GAUGE.from_display(90.0, "US"))
CHARGES = Q(np.linspace(2.0, 50.0, 49), "psig")
EVENTS = Q(np.linspace(0.25, 12.0, 48), "s")
USUAL = (7.0, 10.0)
"""The trade's usual pre-charge, psi (common practice, no source)."""
SOON = 0.5
"""Seconds of work after which a progress bar shows."""
IDLE_SUMP = Q(100, "degC")


class Progress(ipywidgets.FloatProgress):
    """A bar that shows itself when work takes longer than half a second. Call it with the share that is done."""

    def __init__(self, doing: str) -> None:
        super().__init__(min=0.0, max=1.0, description=doing, layout={"display": "none", "width": "330px"})
        self.style.description_width = "auto"
        self._since = time.monotonic()

    def begin(self) -> None:
        """Start the clock for a new piece of work."""
        self._since = time.monotonic()

    def __call__(self, share: float) -> None:
        if share >= 1.0:
            self.layout.display = "none"
        elif time.monotonic() - self._since > SOON:
            self.layout.display = ""
        self.value = share


def _gauge(name: str, label: str, low: float, high: float, start: float) -> Amount:
    return Amount(name, label, GAUGE, Q(low, "psig"), Q(high, "psig"), Q(start, "psig"), (0.5, 0.02))


def _engine() -> Choice:
    control = Choice("engine", "Engine", [(e.name, e) for e in engines().values()], listed=True)
    if "street_v8" in engines():
        control.set_si(engines()["street_v8"])
    return control


def _built(engine: Engine, vessel: Vessel | None = None) -> Installation:
    usual = usual_installation()
    return Installation(engine, usual.oil, vessel or usual.vessel, usual.line)


# ------------------------------------------------------------------------------------------------------- one's own log

_LOG_TEXT = "\n".join(
    ["file = lap.csv", *(f"{name} = {column}, {unit}" for name, (column, unit) in KIT_LAP.items()), "sensor = gallery"]
)


def _read_settings(text: str) -> tuple[str, dict[str, tuple[str, str]], str]:
    """File, columns and sensor from lines such as ``time = Time, s``."""
    file, sensor, columns = "", "gallery", {}
    wanted = "file, sensor or one of " + ", ".join(SORTS)
    for number, line in enumerate(text.splitlines(), 1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        key, sign, rest = (part.strip() for part in line.partition("="))
        if not sign or not rest:
            raise InputError("log", f"“{line.strip()}” in line {number}", "a line such as time = Time, s")
        if key == "file":
            file = rest
        elif key == "sensor":
            sensor = rest
        elif key in SORTS:
            column, comma, unit = (part.strip() for part in rest.rpartition(","))
            if not comma:
                raise InputError("log", f"“{line.strip()}” in line {number}", "column and unit, such as time = Time, s")
            columns[key] = (column, unit)
        else:
            raise InputError("log", f"“{key}” in line {number}", wanted)
    if not file:
        raise InputError("log", "no file", "a line such as file = my_lap.csv")
    return file, columns, sensor


class OwnLog(Panel):
    """A log of your own: its columns and units as you name them, and where its pressure says the pick-up starved."""

    title = "A log of your own: where did the pick-up starve?"
    alt = "Measured oil pressure and what a full pump gives, against distance, starved stretches marked; below it g."
    size = (10.0, 4.6)

    def make_controls(self) -> Sequence[Control]:
        self._log: Log | None = None
        self._read: Any = None
        return [
            Lines("log", "File, then column and unit of each", _LOG_TEXT, rows=9),
            Amount("share", "Starved is less than this share of a full pump's", FRACTION, 0.3, 0.95, 0.7, (0.01, 0.01)),
            Amount(
                "sump", "Oil temperature in the sump", TEMPERATURE,
                Q(60, "degC"), Q(140, "degC"), Q(100, "degC"), (2, 1),
            ),
            _engine(),
        ]  # fmt: skip

    def extra_controls(self) -> Sequence[ipywidgets.Widget]:
        self._bar = Progress("reading")
        return [self._bar]

    def solve(self, log: str, share: float, sump: float, engine: Engine) -> State:
        file, columns, sensor = _read_settings(log)
        path = named_file(file, argument="log")
        if file == "lap.csv" and stamp(path) is None:
            path = data_file(file)
        self._bar.begin()
        try:
            key = (log, stamp(path))
            if key != self._read:
                self._log, self._read = read_log(path, columns, self._bar), key
            assert self._log is not None
            expected = expected_pressure(_built(engine), self._log, TEMPERATURE.quantity(sump))
            remarks = log_remarks(self._log, sensor=sensor, expected=expected)
        except InputError as problem:
            said = f"{problem.argument}: {problem.got}" if problem.argument != "log" else problem.got
            raise InputError("log", said, problem.wanted) from None
        finally:
            self._bar(1.0)
        starved = starved_stretches(self._log, expected, share) if self._log.pressure is not None else []
        return {
            "log": self._log,
            "distance": self._log.distance.m_as("m"),
            "expected": expected.m_as("Pag"),
            "measured": None if self._log.pressure is None else self._log.si["pressure"],
            "hard": np.hypot(self._log.si["lateral"], self._log.si["longitudinal"]) / 9.80665,
            "starved": starved,
            "remarks": remarks,
        }

    @property
    def data(self) -> Log:
        """The log as it stands."""
        return self.state["log"]  # type: ignore[no-any-return]

    def redraw_key(self, state: State) -> Any:
        return float(state["distance"][-1])

    def build(self, figure: Figure) -> Iterable[Artist]:
        end = float(TRACK.display(self.state["distance"][-1]))
        top = drawing.framed(
            figure,
            (0.085, 0.42, 0.68, 0.5),
            "Where the pressure falls short, the pick-up drew air",
            ("", 0.0, end),
            (f"oil pressure ({GAUGE.label()})", 0.0, float(GAUGE.display(TOP))),
        )
        top.tick_params(labelbottom=False)
        (self._full,) = top.plot([], [], color=drawing.GREY, ls="--", lw=1.6, label="a full pump gives")
        (self._measured,) = top.plot([], [], color=drawing.BLUE, lw=1.4, label="measured")
        (self._short,) = top.plot([], [], color=drawing.RED, lw=6, solid_capstyle="butt", label="starved")
        top.legend(**drawing.OUTSIDE)
        low = drawing.framed(
            figure, (0.085, 0.13, 0.68, 0.22), "", (f"distance ({TRACK.label()})", 0.0, end), ("total g", 0.0, 1.6)
        )
        (self._hard,) = low.plot([], [], color=drawing.BLACK, lw=1.4)
        return [self._full, self._measured, self._short, self._hard]

    def update_artists(self, state: State) -> None:
        along = TRACK.display(state["distance"])
        self._full.set_data(along, GAUGE.display(state["expected"]))
        measured = state["measured"]
        self._measured.set_data(*(([], []) if measured is None else (along, GAUGE.display(measured))))
        self._hard.set_data(along, state["hard"])
        x, y, base = [], [], 0.03 * float(GAUGE.display(TOP))
        seconds = state["log"].si["time"]
        for stretch in state["starved"]:
            ends = np.interp([stretch.start.m, stretch.end.m], seconds, state["distance"])
            x += [*TRACK.display(ends), np.nan]
            y += [base, base, np.nan]
        self._short.set_data(x, y)

    def readings(self, state: State) -> Sequence[Reading]:
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
        if state["measured"] is None:
            first = "This log has no measured pressure: the next panel can still drive it through the model."
        elif found:
            first = (
                f"In {len(found)} stretches the pressure stands well below what a full pump gives at "
                "that speed: there the pick-up drew air, or the sensor lies."
            )
        else:
            first = "Nowhere does the pressure stand that far below what a full pump gives."
        return " ".join([first, *state["remarks"]])


# -------------------------------------------------------------------------------------------------------------- the lap


class LapPanel(Panel):
    """The same lap twice, valve shut and valve open, laid over each other by distance."""

    title = "A lap, valve shut and valve open"
    alt = "Gallery pressure, oil in the vessel and seconds below the limit against distance, valve shut and valve open."
    size = (10.0, 5.6)

    def __init__(self, log: OwnLog | Log | None = None, **start: Any) -> None:
        """log: a panel with a log of your own, or a log; the kit's invented lap unless given."""
        self._given = log
        super().__init__(**start)
        if isinstance(log, OwnLog):
            log.tell_of_changes(self)

    def make_controls(self) -> Sequence[Control]:
        self._kept: Log = kit_lap() if self._given is None else self._source()
        self._axis = StillAxis(TIME, 4.0)
        return [
            _gauge("precharge", "Pre-charge, at working temperature", 2, 40, 10),
            Amount(
                "pan_change", "Oil in the pan, from its full mark", PAN_CHANGE,
                Q(-2, "qt"), Q(0.5, "qt"), Q(-1.2, "qt"), (0.1, 0.1),
            ),
            _gauge("limit", "Pressure that counts", 10, 40, 20),
            _engine(),
            vessel_choice(),
        ]  # fmt: skip

    def _source(self) -> Log:
        if isinstance(self._given, OwnLog):
            if self._given.closed:
                raise InputError("log", "the log of a panel that is gone", "this cell run again, after that panel's")
            return self._given.data
        if self._given is None:
            return self._kept
        if not isinstance(self._given, Log):
            raise InputError("log", f"a {type(self._given).__name__}", "a log, such as of kit_lap or read_log")
        return self._given

    def extra_controls(self) -> Sequence[ipywidgets.Widget]:
        self._bar = Progress("driving")
        return [self._bar]

    def solve(self, precharge: float, pan_change: float, limit: float, engine: Engine, vessel: Vessel) -> State:
        log = self._source()
        self._bar.begin()
        built = _built(engine, vessel)
        given: dict[str, Any] = {"pan_change": PAN_CHANGE.quantity(pan_change), "limit": GAUGE.quantity(limit)}
        charge = GAUGE.quantity(precharge)
        try:
            shut = simulate_lap(
                built, log, False, precharge=charge, progress=lambda done: self._bar(done / 2.0), **given
            )
            opened = simulate_lap(
                built, log, True, precharge=charge, progress=lambda done: self._bar(0.5 + done / 2.0), **given
            )
        finally:
            self._bar(1.0)
        return {
            "log": log,
            "shut": shut,
            "open": opened,
            "limit": limit,
            "corners": compare_laps(log, shut, opened),
            "room": vessel.si.gas_volume,
        }

    def redraw_key(self, state: State) -> Any:
        return id(state["log"]), state["room"], self._most(state)

    def _most(self, state: State) -> float:
        """Upper end of the axis of seconds below the limit in one corner."""
        return self._axis.end(max((float(c.below_shut.m) for c in state["corners"]), default=0.0))

    def build(self, figure: Figure) -> Iterable[Artist]:
        log, room = self.state["log"], self.state["room"]
        end = float(TRACK.display(log.distance.m_as("m")[-1]))
        left, width = 0.085, 0.71
        pressure = drawing.framed(
            figure, (left, 0.56, width, 0.38), "The same lap by distance", ("", 0.0, end),
            (f"gallery ({GAUGE.label()})", 0.0, float(GAUGE.display(TOP))),
        )  # fmt: skip
        oil = drawing.framed(
            figure,
            (left, 0.34, width, 0.17),
            "",
            ("", 0.0, end),
            (f"vessel ({OIL.label()})", 0.0, float(OIL.display(room))),
        )
        below = drawing.framed(
            figure,
            (left, 0.11, width, 0.18),
            "",
            (f"distance ({TRACK.label()})", 0.0, end),
            ("below limit (s)", 0.0, self._most(self.state)),
        )
        for ax in (pressure, oil):
            ax.tick_params(labelbottom=False)
        seconds, along = log.si["time"], log.distance.m_as("m")
        for corner in corners(log):
            ends = np.interp([corner.start.m, corner.end.m], seconds, along)
            for ax in (pressure, oil, below):
                ax.axvspan(*(float(TRACK.display(x)) for x in ends), fc=drawing.PALE, ec="none", alpha=0.8)
            middle = float(TRACK.display(np.mean(ends)))
            pressure.text(middle, float(GAUGE.display(0.9 * TOP)), corner.name.split()[0], ha="center", fontsize=10)
        (self._limit,) = pressure.plot([], [], color=drawing.BLACK, ls=":", lw=1.8, label="limit")
        (self._p_shut,) = pressure.plot([], [], color=drawing.RED, ls="--", lw=1.8, label="valve shut,\nor no vessel")
        (self._p_open,) = pressure.plot([], [], color=drawing.BLUE, label="valve open")
        pressure.legend(**drawing.OUTSIDE)
        (self._oil,) = oil.plot([], [], color=drawing.OCHRE, lw=2.6, label="oil in it")
        oil.legend(**drawing.OUTSIDE)
        (self._b_shut,) = below.plot(
            [], [], "s", ms=9, mfc="white", mec=drawing.RED, mew=2, ls="none", clip_on=False, label="valve shut"
        )
        (self._b_open,) = below.plot(
            [], [], "o", ms=6, color=drawing.BLUE, ls="none", clip_on=False, label="valve open"
        )
        below.legend(**drawing.OUTSIDE)
        return [self._limit, self._p_shut, self._p_open, self._oil, self._b_shut, self._b_open]

    def update_artists(self, state: State) -> None:
        shut, opened = state["shut"], state["open"]
        along = TRACK.display(shut.distance.m_as("m"))
        self._limit.set_data(along[[0, -1]], [float(GAUGE.display(state["limit"]))] * 2)
        self._p_shut.set_data(along, GAUGE.display(shut.gallery_pressure.m_as("Pag")))
        self._p_open.set_data(along, GAUGE.display(opened.gallery_pressure.m_as("Pag")))
        self._oil.set_data(along, OIL.display(opened.oil.m_as("m**3")))
        at = [float(TRACK.display(c.corner.at.m_as("m"))) for c in state["corners"]]
        for dots, key in ((self._b_shut, "below_shut"), (self._b_open, "below_open")):
            dots.set_data(at, [float(getattr(c, key).m) for c in state["corners"]])

    def readings(self, state: State) -> Sequence[Reading]:
        shut, opened, found = state["shut"], state["open"], state["corners"]
        flow = opened.line_flow.m_as("m**3/s")
        rows = [
            Reading("below the limit, valve shut", float(shut.time_below.m), TIME),
            Reading("below the limit, valve open", float(opened.time_below.m), TIME),
            Reading("lowest pressure, valve shut", float(shut.lowest_pressure.m_as("Pag")), GAUGE),
            Reading("lowest pressure, valve open", float(opened.lowest_pressure.m_as("Pag")), GAUGE),
            Reading("least oil in the vessel", float(np.min(opened.oil.m_as("m**3"))), OIL),
            Reading("oil in it at the end", float(opened.oil_left.m_as("m**3")), OIL),
            Reading("most flow that refilling takes", float(max(-np.min(flow), 0.0)), THROUGH_FLOW),
            Reading("least oil in the pan", float(np.min(opened.pan.m_as("m**3"))), OIL),
        ]
        if found:
            worst = max(found, key=lambda c: float(c.below_shut.m))
            late = sum(bool(np.isinf(c.refill.m)) for c in found)
            rows += [
                Reading("longest below it, valve shut, in", worst.corner.name),
                Reading("… seconds there, valve shut", float(worst.below_shut.m), TIME),
                Reading("… seconds there, valve open", float(worst.below_open.m), TIME),
                Reading("most oil given in one corner", max(float(c.oil_given.m_as("m**3")) for c in found), OIL),
                Reading("corners not refilled before the next", f"{late} of {len(found)}"),
            ]
        return rows

    def summary(self, state: State) -> str:
        shut, opened = float(state["shut"].time_below.m), float(state["open"].time_below.m)
        limit = GAUGE.text(state["limit"])
        if shut <= 0.0:
            return (
                f"With this much oil in the pan the gallery stays above {limit} even without a "
                "vessel. Lower the level, and see in which corner it fails first."
            )
        rest = "never" if opened <= 0.0 else f"for {TIME.text(opened)}"
        return (
            f"Without the vessel the gallery is below {limit} for {TIME.text(shut)} of the lap, with "
            f"it {rest}. Its oil comes "
            "back out of the pan while it is filled again, and the engine's pressure waits for it."
        )


# ---------------------------------------------------------------------------------------------------------------- a map

BANDS = {"US": (-1.0, 5.0, 10.0, 20.0, 30.0, 40.0, 150.0), "SI": (-0.1, 0.35, 0.7, 1.4, 2.1, 2.8, 10.0)}
COLOURS = ("#595959", "#D55E00", "#E69F00", "#F0E442", "#9BD3EE", "#0072B2")
FINE = 4


def _usual_and_idle(ax: Axes) -> tuple[Any, list[Artist]]:
    """The ends of the trade's band, and a hatched patch right of hot idle pressure; all drawn over the moving map."""
    ends = [float(GAUGE.display(GAUGE.from_display(end, "US"))) for end in USUAL]
    lines = [ax.axvline(end, color=drawing.BLACK, lw=2.0, ls=(0, (1, 1)), zorder=3) for end in ends]
    patch = ax.axvspan(0.0, 1.0, fc="none", hatch="\\\\", ec=drawing.BLACK, lw=0.8, zorder=2.5)

    def move(idle: float) -> None:
        end = float(GAUGE.display(CHARGES.m_as("Pag")[-1]))
        start = min(float(GAUGE.display(idle)), end)
        patch.set_x(start)
        patch.set_width(end - start)

    return move, [*lines, patch]


class PrechargeMapPanel(Panel):
    """Lowest pressure over pre-charge and event length, with everything that speaks for or against a pre-charge."""

    title = "Pre-charge on a map"
    alt = (
        "Lowest pressure in bands over pre-charge and event length; protected time, best ridge, hot "
        "idle, pre-lube and usual pre-charge on it."
    )
    size = (10.0, 4.8)

    def make_controls(self) -> Sequence[Control]:
        return [
            _gauge("precharge", "Pre-charge, at working temperature", 2, 50, 10),
            Amount("event", "The event lasts", TIME, Q(0.25, "s"), Q(12, "s"), Q(4, "s"), (0.25, 0.25)),
            _gauge("limit", "Pressure that counts", 5, 40, 20),
            Amount(
                "clearance_change", "Mains and rods: clearance changed by", CLEARANCE_CHANGE,
                Q(-0.5, "thou"), Q(1.5, "thou"), Q(0, "thou"), (0.1, 0.002),
            ),
            Amount("prelube", "Oil wanted for a pre-lube", OIL, Q(0.5, "qt"), Q(2.5, "qt"), Q(1.5, "qt"), (0.1, 0.1)),
            _engine(),
        ]  # fmt: skip

    def solve(
        self, precharge: float, event: float, limit: float, clearance_change: float, prelube: float, engine: Engine
    ) -> State:
        built, change = _built(engine), CLEARANCE_CHANGE.quantity(clearance_change)
        charges = Q(np.unique(np.append(CHARGES.m, GAUGE.quantity(precharge).m).round(9)), "psig")
        lengths = Q(np.unique(np.append(EVENTS.m, event).round(9)), "s")
        found = precharge_map(built, charges, lengths, limit=GAUGE.quantity(limit), clearance_change=change)
        idle = operating_point(engine, built.oil, engine.idle, IDLE_SUMP, change).gallery_pressure
        here = int(np.argmin(np.abs(lengths.m - event)))
        mine = int(np.argmin(np.abs(charges.m - GAUGE.quantity(precharge).m)))
        usual = int(np.argmin(np.abs(charges.m - USUAL[1])))
        lowest = found.lowest_pressure.m_as("Pag")
        return {
            "charge": precharge,
            "event": event,
            "limit": limit,
            "map": found,
            "lowest": lowest,
            "mine": float(lowest[here, mine]),
            "protected": float(found.protected_time.m[mine]),
            "best": float(found.best.m_as("Pag")[here]),
            "best_lowest": float(np.max(lowest[here])),
            "usual_lowest": float(lowest[here, usual]),
            "idle": float(idle.m_as("Pag")),
            "prelube": float(
                highest_for_prelube(built.vessel.gas_volume, Q(60, "psig"), OIL.quantity(prelube)).m_as("Pag")
            ),
        }

    def build(self, figure: Figure) -> Iterable[Artist]:
        low, high = (float(GAUGE.display(end)) for end in CHARGES.m_as("Pag")[[0, -1]])
        first, last = (float(end) for end in EVENTS.m[[0, -1]])
        graph = drawing.framed(
            figure,
            (0.075, 0.125, 0.62, 0.8),
            "Lowest pressure: the ridge stands beside the cliff",
            (f"pre-charge, at working temperature ({GAUGE.label()})", low, high),
            ("event lasts (s)", first, last),
        )
        graph.grid(False)
        bands = BANDS[_system()]
        self._image_of = graph.imshow(
            np.zeros((2, 2)), origin="lower", extent=(low, high, first, last), aspect="auto", interpolation="nearest",
            cmap=ListedColormap(list(COLOURS)), norm=BoundaryNorm(list(bands), len(COLOURS)), zorder=1,
        )  # fmt: skip
        self._move_idle, idle = _usual_and_idle(graph)
        (self._protected,) = graph.plot([], [], color="white", lw=4.5, zorder=4)
        (self._protected_line,) = graph.plot([], [], color=drawing.BLACK, lw=2.6, zorder=4.1)
        (self._ridge,) = graph.plot([], [], color=drawing.PURPLE, lw=2.6, ls="--", zorder=4)
        (self._prelube,) = graph.plot([], [], color=drawing.GREEN, lw=2.8, ls="-.", zorder=4)
        (self._point,) = graph.plot(
            [], [], "o", ms=12, mfc=drawing.BLACK, mec="white", mew=2, ls="none", clip_on=False, zorder=6
        )
        names = [f"{a:g} to {b:g}" for a, b in pairwise(bands[1:-1])]
        names = [f"below {bands[1]:g}", *names, f"above {bands[-2]:g}"]
        patches: list[Any] = [
            Patch(fc=c, ec=drawing.BLACK, lw=0.6, label=f"{n} {GAUGE.label()}")
            for c, n in zip(COLOURS, names, strict=True)
        ]
        patches.reverse()
        lines: list[Any] = [
            (self._protected_line, "protected time"),
            (self._ridge, "best for each length"),
            (self._prelube, "left of it: pre-lube oil"),
            (Patch(fc="white", hatch="\\\\", ec=drawing.BLACK), "nothing at hot idle"),
            (idle[0], "the trade's usual"),
            (self._point, "your choice"),
        ]
        graph.legend(
            [*patches, *(line for line, _ in lines)],
            [*(patch.get_label() for patch in patches), *(name for _, name in lines)],
            **drawing.OUTSIDE,
        )
        return [
            self._image_of, *idle, self._protected, self._protected_line, self._ridge, self._prelube, self._point,
        ]  # fmt: skip

    def update_artists(self, state: State) -> None:
        found = state["map"]
        charges, lengths = found.precharge.m_as("Pag"), found.event.m
        x = np.linspace(float(CHARGES.m_as("Pag")[0]), float(CHARGES.m_as("Pag")[-1]), FINE * CHARGES.size)
        y = np.linspace(float(EVENTS.m[0]), float(EVENTS.m[-1]), FINE * EVENTS.size)
        across = np.array([np.interp(x, charges, row) for row in state["lowest"]])
        place = np.interp(y, lengths, np.arange(lengths.size))
        under = np.minimum(place.astype(int), lengths.size - 2)
        share = (place - under)[:, None]
        self._image_of.set_data(GAUGE.display(across[under] * (1.0 - share) + across[under + 1] * share))
        self._move_idle(state["idle"])
        shown = GAUGE.display(charges)
        protected = np.minimum(found.protected_time.m, 2.0 * lengths[-1])
        self._protected.set_data(shown, protected)
        self._protected_line.set_data(shown, protected)
        self._ridge.set_data(GAUGE.display(found.best.m_as("Pag")), lengths)
        self._prelube.set_data([float(GAUGE.display(state["prelube"]))] * 2, [0.0, 2.0 * lengths[-1]])
        self._point.set_data([float(GAUGE.display(state["charge"]))], [state["event"]])

    def readings(self, state: State) -> Sequence[Reading]:
        protected = (
            Reading("protected time with your pre-charge", state["protected"], TIME)
            if np.isfinite(state["protected"])
            else Reading("protected time with your pre-charge", "longer than 12 s")
        )
        return [
            Reading("lowest pressure in your event", state["mine"], GAUGE),
            protected,
            Reading("highest lowest pressure at", state["best"], GAUGE),
            Reading("… which is", state["best_lowest"], GAUGE),
            Reading("with 10 psi (0.69 bar) it is", state["usual_lowest"], GAUGE),
            Reading("hot idle pressure", state["idle"], GAUGE),
            Reading("highest pre-charge for the pre-lube", state["prelube"], GAUGE),
        ]

    def summary(self, state: State) -> str:
        verdict = "enough" if state["mine"] >= state["limit"] else "too little"
        beyond = [
            name
            for name, over in (
                ("holds nothing at hot idle", state["charge"] > state["idle"]),
                ("leaves too little oil for the pre-lube", state["charge"] > state["prelube"]),
            )
            if over
        ]
        price = f" It {' and '.join(beyond)}." if beyond else " Hot idle and pre-lube are served."
        return (
            f"In an event of {TIME.text(state['event'])} your pre-charge of {GAUGE.text(state['charge'])} keeps "
            f"{GAUGE.text(state['mine'])} or more: {verdict} for a limit of {GAUGE.text(state['limit'])}.{price}"
        )


def _system() -> str:
    return "US" if GAUGE.unit() == GAUGE.us else "SI"


# ------------------------------------------------------------------------------------------------------- robust choice

FEWER = Q(np.linspace(2.0, 50.0, 25), "psig")


class RobustChoicePanel(Panel):
    """The needle for the one expected event, and the plateau for everything that nobody knows exactly."""

    title = "A robust choice, not a needle"
    alt = "Left: lowest pressure in the one expected event. Right: share of draws protected, both against pre-charge."

    def make_controls(self) -> Sequence[Control]:
        return [
            _gauge("precharge", "Pre-charge, at working temperature", 2, 50, 40),
            Amount("event", "The event lasts, expected", TIME, Q(0.5, "s"), Q(10, "s"), Q(4, "s"), (0.25, 0.25)),
            Amount("event_spread", "… spread of it, as a share", FRACTION, 0.0, 0.6, 0.2, (0.05, 0.05)),
            Amount(
                "clearance_spread", "Spread of the clearance", CLEARANCE_CHANGE,
                Q(0, "thou"), Q(0.6, "thou"), Q(0.3, "thou"), (0.05, 0.001),
            ),
            Amount(
                "temperature_spread", "Spread of the oil temperature", TEMPERATURE_DIFFERENCE,
                Q(0, "delta_degC"), Q(20, "delta_degC"), Q(8, "delta_degC"), (1, 1),
            ),
            _engine(),
        ]  # fmt: skip

    def solve(
        self,
        precharge: float,
        event: float,
        event_spread: float,
        clearance_spread: float,
        temperature_spread: float,
        engine: Engine,
    ) -> State:
        key = (event, event_spread, clearance_spread, temperature_spread, engine)
        if self.state.get("key") != key:  # a new pre-charge alone only moves the point
            found = robust_choice(
                _built(engine),
                FEWER,
                TIME.quantity(event),
                event_spread,
                CLEARANCE_CHANGE.quantity(clearance_spread),
                TEMPERATURE_DIFFERENCE.quantity(temperature_spread),
            )
        else:
            found = self.state["found"]
        charges = found.precharge.m_as("Pag")
        return {
            "key": key,
            "found": found,
            "charge": precharge,
            "event": event,
            "share": float(np.interp(precharge, charges, found.share)),
            "lowest": float(np.interp(precharge, charges, found.lowest_pressure.m_as("Pag"))),
        }

    def build(self, figure: Figure) -> Iterable[Artist]:
        low, high = (float(GAUGE.display(end)) for end in FEWER.m_as("Pag")[[0, -1]])
        across = (f"pre-charge ({GAUGE.label()})", low, high)
        left = drawing.framed(
            figure, (0.075, 0.15, 0.36, 0.74), "One expected event: a needle", across,
            (f"lowest pressure in it ({GAUGE.label()})", 0.0, float(GAUGE.display(TOP * 0.67))),
        )  # fmt: skip
        right = drawing.framed(
            figure, (0.52, 0.15, 0.3, 0.74), "All that may come: a plateau", across, ("draws protected (%)", 0.0, 104.0)
        )
        for ax in (left, right):
            ends = [float(GAUGE.display(GAUGE.from_display(end, "US"))) for end in USUAL]
            ax.axvspan(
                ends[0], ends[1], fc=drawing.YELLOW, alpha=0.45, hatch="..", ec=drawing.GREY, label="the trade's usual"
            )
        self._curves, self._needles, self._stars, self._points = [], [], [], []
        for ax, colour in ((left, drawing.BLUE), (right, drawing.GREEN)):
            self._curves.append(ax.plot([], [], color=colour)[0])
            self._needles.append(ax.plot([], [], "v", ms=13, color=drawing.RED, ls="none", label="needle")[0])
            self._stars.append(ax.plot([], [], "*", ms=16, color=drawing.PURPLE, ls="none", label="robust")[0])
            self._points.append(
                ax.plot([], [], "o", ms=9, color=drawing.BLACK, ls="none", clip_on=False, label="yours")[0]
            )
        right.legend(**drawing.OUTSIDE)
        return [*self._curves, *self._needles, *self._stars, *self._points]

    def update_artists(self, state: State) -> None:
        found = state["found"]
        charges = found.precharge.m_as("Pag")
        lowest = GAUGE.display(found.lowest_pressure.m_as("Pag"))
        percent = 100.0 * found.share
        mine = (float(GAUGE.display(state["lowest"])), 100.0 * state["share"])
        for k, values in enumerate((lowest, percent)):
            self._curves[k].set_data(GAUGE.display(charges), values)
            for mark, charge in ((self._needles[k], found.needle), (self._stars[k], found.best)):
                at = int(np.argmin(np.abs(found.precharge.m - charge.m)))
                mark.set_data([float(GAUGE.display(charges[at]))], [values[at]])
            self._points[k].set_data([float(GAUGE.display(state["charge"]))], [mine[k]])

    def readings(self, state: State) -> Sequence[Reading]:
        found = state["found"]
        return [
            Reading("needle: best for the one expected event", float(found.needle.m_as("Pag")), GAUGE),
            Reading("… protects of all draws", f"{100.0 * found.needle_share:.0f} %"),
            Reading("robust: protects most draws", float(found.best.m_as("Pag")), GAUGE),
            Reading("… namely", f"{100.0 * found.best_share:.0f} %"),
            Reading("your pre-charge protects about", f"{100.0 * state['share']:.0f} %"),
            Reading("… and keeps in the expected event", state["lowest"], GAUGE),
        ]

    def summary(self, state: State) -> str:
        found = state["found"]
        needle, best = (GAUGE.text(float(charge.m_as("Pag"))) for charge in (found.needle, found.best))
        if found.needle_share >= found.best_share - 0.005:
            return (
                f"Here {needle}, the best for the one expected event, is also as good as any for what "
                "may come: the spread is small, or no pre-charge can do more."
            )
        return (
            f"For exactly {TIME.text(state['event'])} the highest pressure comes with {needle}, but that protects only "
            f"{100.0 * found.needle_share:.0f} % of what may come; {best} protects {100.0 * found.best_share:.0f} %."
        )
