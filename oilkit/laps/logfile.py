"""A log from the car: a CSV file of your own, with the columns and units that you name. (Lesson 07)

A log is read line by line, so that a long one needs little memory and can show its progress. Whatever is wrong with it
is said in one sentence with the line it is in; nothing is mended in silence. What can be read and is hard to believe, a
sensor that stands still or a pressure in another unit, is remarked on (`oilkit.laps.remarks`).
"""

from __future__ import annotations

import io
import itertools
import math
import re
from array import array
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TextIO

import numpy as np

from oilkit.errors import InputError, of_these
from oilkit.quantities import columns as table
from oilkit.quantities.checked import One, Time, public
from oilkit.quantities.kinds import ACCELERATION, GAUGE, SPEED, TIME, VELOCITY
from oilkit.quantities.records import data_file
from oilkit.quantities.units import Q, Qty
from oilkit.storage.textfile import opened, shown, shown_name

LARGEST = 100_000_000
"""Bytes. A day at 100 Hz is smaller; a larger file is refused before it is opened."""
MOST_SAMPLES = 2_000_000
WIDEST_GAP = 0.5
"""Seconds. A hole in the log that is wider than this, and than five usual intervals, could hide a whole corner."""
EVERY = 5_000
"""Lines between two reports of progress."""
MOST_ABOVE = 200
"""Lines among which the line of names is looked for: loggers write driver, car and day above it."""
MOST_LEFT_OUT, FEW = 0.25, 3
"""Share of the samples kept, and number, up to which others may be passed over: of more the log is another one."""


_G = {"g": "g_0", "m/s2": "m/s**2", "m/s²": "m/s**2", "m/s^2": "m/s**2"}
SORTS = {
    "time": table.Sort("time", TIME, {"s": "s", "ms": "ms", "min": "minute"}, -math.inf, math.inf),
    "speed": table.Sort("vehicle speed", VELOCITY, {"km/h": "km/hour", "mph": "mile/hour", "m/s": "m/s"}, -1.0, 150.0),
    "lateral": table.Sort("lateral acceleration", ACCELERATION, _G, -60.0, 60.0),
    "longitudinal": table.Sort("longitudinal acceleration", ACCELERATION, _G, -60.0, 60.0),
    "rpm": table.Sort("engine speed", SPEED, {"rpm": "rpm", "1/min": "rpm"}, 0.0, 400.0),
    "pressure": table.Sort(
        "measured oil pressure", GAUGE, {"psi": "psig", "bar": "barg", "kPa": "kPag"}, -2e4, 1.4e6
    ),
}  # fmt: skip
"""What a log may hold. Time, vehicle speed, both accelerations and engine speed are needed; oil pressure may be left
out.

lateral: above 0 in a left-hand corner. longitudinal: above 0 when the car gains speed.
"""
OF_A_CAR = " that a car can have"
ALSO_WRITTEN = {
    "sec": "s", "msec": "ms", "kph": "km/h", "kmh": "km/h", "km/hr": "km/h", "mi/h": "mph", "mps": "m/s",
    "m/s/s": "m/s2", "min-1": "1/min", "rev/min": "1/min", "psig": "psi", "barg": "bar", "kpag": "kPa",
}  # fmt: skip
"""Units as loggers write them under or behind a name: as the kit calls them."""
NOT_READ = ("knots", "knot", "kn", "kt", "kts", "ft/s", "psia", "bara", "kPaa", "MPa", "h", "hr", "us", "Hz", "rad/s")
"""Units that the kit knows for another one when it sees them, and does not read."""
FASTEST, SLOWEST = 1e-4, 2.0
"""Seconds from sample to sample, usually."""
NEEDED = tuple(name for name in SORTS if name != "pressure")
KIT_LAP = {
    "time": ("time", "s"),
    "speed": ("speed", "km/h"),
    "lateral": ("lateral", "g"),
    "longitudinal": ("longitudinal", "g"),
    "rpm": ("engine", "rpm"),
    "pressure": ("oil", "psi"),
}
"""Columns and units of the kit's own invented lap."""


@dataclass(frozen=True)
class Log:
    """A lap or more as it was logged. Arrays of one shape, (n,)."""

    source: str
    time: Qty = field(repr=False)
    """From 0 at the first sample."""
    speed: Qty = field(repr=False)
    """Of the car."""
    lateral: Qty = field(repr=False)
    longitudinal: Qty = field(repr=False)
    rpm: Qty = field(repr=False)
    pressure: Qty | None = field(default=None, repr=False)
    """Measured oil pressure, if there was a column for it."""
    assumed: tuple[str, ...] = field(default=(), repr=False, compare=False)
    """Sentences about cells that could mean two numbers, where the rest of their column settled it."""

    @property
    def si(self) -> dict[str, Any]:
        """The same as plain SI arrays, by name; without the pressure if there is none."""
        given = {name: getattr(self, name) for name in SORTS}
        return {name: np.asarray(v.m_as(SORTS[name].kind.si)) for name, v in given.items() if v is not None}

    @property
    def interval(self) -> Qty:
        """The usual time from sample to sample."""
        return Q(float(np.median(np.diff(self.time.m_as("s")))), "s")

    @property
    def distance(self) -> Qty:
        """Along the road from the first sample, from speed and time: shape (n,)."""
        return Q(summed(self.time.m_as("s"), self.speed.m_as("m/s")), "m")


def summed(time: Any, rate: Any) -> Any:
    """What a rate has summed up to at each time, straight from sample to sample: shape (n,), 0 at the first."""
    return np.concatenate([[0.0], np.cumsum(np.diff(time) * 0.5 * (rate[1:] + rate[:-1]))])


Progress = Callable[[float], None]
"""Told now and then what share of the work is done, 0 to 1."""


def kit_lap() -> Log:
    """The kit's own lap, ``data/lap.csv``: invented, as its head says.

    >>> lap = kit_lap()
    >>> print(f"{len(lap.time)} samples, {lap.time[-1]:.0f~}, {lap.interval.to('ms'):.0f~} apart")
    1716 samples, 86 s, 50 ms apart
    """
    return read_log(data_file("lap.csv"), KIT_LAP)


@public
def read_log(
    path: Path | str,
    columns: dict[str, tuple[str, str]],
    progress: Progress | None = None,
    start: One[Time] | None = None,
    end: One[Time] | None = None,
    pass_over: bool = False,
) -> Log:
    """Read a log: a CSV file with a line of column names, then a line for each sample.

    columns: for each of ``SORTS`` the column's name in the file and its unit, as in ``{"time": ("Time", "s"), ...}``;
    "pressure" may be left out. Cells may be parted by commas, semicolons or tabs; with semicolons or tabs a number may
    have a decimal comma. Lines that begin with # are passed over, and so is what stands above the line of names. One
    line of units may stand under the names; it, and a unit behind a name as in ``speed (mph)``, must be the unit that
    you name.
    start, end: only this stretch, counted from the first sample.
    pass_over: leave out samples with a cell that is no number, and those whose time does not rise, up to one in five,
    and say how many.
    Raises `InputError` for a file that is missing, empty, too large or no text, for columns and units that are not
    there, and, naming the line, for anything that is no number or could mean two, for times that do not rise, and for
    gaps.
    """
    _check_columns(columns)
    name, wanted = shown_name(path), f"a CSV file of up to {LARGEST / 1e6:.0f} MB, cut to the laps that matter"
    with opened(path, LARGEST, wanted) as raw, io.TextIOWrapper(raw, "utf-8-sig", "replace", newline="") as file:
        size = raw.seek(0, io.SEEK_END)
        raw.seek(0)
        if size == 0:
            raise InputError(name, "an empty file", "a line of column names and a line for each sample")
        try:
            log = _read(name, file, size, columns, progress, (start, end), pass_over)
        except OSError as problem:
            raise InputError(name, f"a file that cannot be read ({problem.strerror})", wanted) from None
    if progress:
        progress(1.0)
    return log


def _check_columns(columns: dict[str, tuple[str, str]]) -> None:
    for name in columns:
        of_these("columns", name, SORTS)
    for name in NEEDED:
        if name not in columns:
            raise InputError("columns", f"no column for {name}", f"one for each of {', '.join(NEEDED)}")
    taken: dict[str, str] = {}
    for name, pair in columns.items():
        if not (isinstance(pair, tuple | list) and len(pair) == 2 and all(isinstance(part, str) for part in pair)):
            raise InputError(f"columns, {name}", repr(pair), "a column's name and its unit, such as ('Time', 's')")
        column, unit = pair
        if unit not in SORTS[name].units:
            raise InputError(f"columns, {name}", f"the unit {unit!r}", " or ".join(SORTS[name].units))
        if column in taken:
            raise InputError(f"columns, {name}", f"{column!r}, as for {taken[column]}", "a column of its own")
        taken[column] = name


def _read(
    name: str,
    file: TextIO,
    size: int,
    columns: dict[str, tuple[str, str]],
    progress: Progress | None,
    stretch: tuple[Any, Any],
    pass_over: bool,
) -> Log:
    rows = table.lines(name, file)
    above, number, line, rows = _line_of_names(name, rows, columns)
    delimiter, read = table.parted_by(line), len(line)
    head = table.cells_of(f"{name}, line {number}", line, delimiter)
    places = _places(name, head, columns)
    found = {sort: SORTS[sort].column(sort, unit, delimiter != ",", OF_A_CAR) for sort, (_, unit) in columns.items()}
    scale = {wanted: SORTS[wanted].scale(unit) for wanted, (_, unit) in columns.items()}
    lines, times, left_out = array("q"), array("d"), 0
    for number, line in rows:
        read += len(line)
        where = f"{name}, line {number}"
        cells = table.cells_of(where, line, delimiter)
        if not lines and _is_line_of_units(cells, places):
            table.check_width(where, cells, head)
            _check_units(where, {wanted: cells[place] for wanted, place in places.items()}, columns)
            continue
        try:
            table.check_width(where, cells, head)
            for wanted, place in places.items():
                found[wanted].add(name, number, cells[place] if place < len(cells) else None)
            table.missing_cells(where, cells, head, delimiter)
            now = found["time"].values[-1] * scale["time"]
            if times and now <= times[-1]:
                found["time"].ask(name)
                raise InputError(f"{where}, time", f"{now:g} s after {times[-1]:g} s", "times that rise")
        except InputError:
            left_out += 1
            if not pass_over or left_out > max(MOST_LEFT_OUT * len(lines), FEW):
                raise
            for column in found.values():
                del column.values[len(lines) :]
            continue
        times.append(now)
        lines.append(number)
        if len(lines) > MOST_SAMPLES:
            raise InputError(name, f"more than {MOST_SAMPLES} samples", "a log cut to the laps that matter")
        if progress and len(lines) % EVERY == 0:
            progress(min(read / size, 1.0))
    if len(lines) < 3:
        got = "column names and no samples" if not lines else f"{len(lines)} samples"
        raise InputError(name, got, "three samples or more")
    _settle_times(found["time"], scale["time"])
    assumed = table.assumed(name, found.values())
    if above:
        assumed += (f"{above} lines above the names were passed over.",)
    if left_out:
        assumed += (f"{left_out} of {len(lines) + left_out} samples were passed over, as you wished.",)
    numbers = {wanted: np.array(column.values) * scale[wanted] for wanted, column in found.items()}
    return _log(name, *_cut(name, numbers, lines, stretch), columns, assumed)


def _line_of_names(
    name: str, rows: Iterator[tuple[int, str]], columns: dict[str, tuple[str, str]]
) -> tuple[int, int, str, Iterator[tuple[int, str]]]:
    """How many lines stand above the first that holds all the names, its number and text, and what follows.

    The first line of all where none does.
    """
    above: list[tuple[int, str]] = list(itertools.islice(rows, MOST_ABOVE))
    if not above:
        raise InputError(name, "a file with nothing but comments", "a line of column names and a line for each sample")
    wanted = {column for column, _ in columns.values()}
    for k, (number, line) in enumerate(above):
        if all(column in line for column in wanted):
            return k, number, line, itertools.chain(above[k + 1 :], rows)
    return 0, *above[0], itertools.chain(above[1:], rows)


def _cut(name: str, numbers: dict[str, Any], lines: Any, stretch: tuple[Any, Any]) -> tuple[dict[str, Any], Any]:
    """What lies in the stretch that was asked for."""
    if stretch == (None, None):
        return numbers, lines
    time = numbers["time"] - numbers["time"][0]
    low, high = (usual if end is None else float(end) for end, usual in zip(stretch, (0.0, time[-1]), strict=True))
    kept = (time >= low) & (time <= high)
    if np.count_nonzero(kept) < 3:
        got = f"a stretch from {low:g} s to {high:g} s"
        raise InputError(name, got, f"three samples or more between 0 and {time[-1]:g} s")
    return {key: values[kept] for key, values in numbers.items()}, np.asarray(lines)[kept]


def _settle_times(time: table.Column, scale: float) -> None:
    """Let the usual interval tell 12.050 s from 12050 s, where every time is written so and only one can be."""
    apart = float(np.median(np.diff(time.values))) * scale
    if time.all_doubtful and len(time.doubts) == 1 and FASTEST <= apart <= SLOWEST < 1000.0 * apart:
        mark = next(iter(time.doubts))
        time.settled_by.setdefault(mark, f"since samples {1000.0 * apart:.3g} s apart cannot be")


def _places(name: str, head: list[str], columns: dict[str, tuple[str, str]]) -> dict[str, int]:
    names = [cell.strip() for cell in head]
    places: dict[str, int] = {}
    for wanted, (column, unit) in columns.items():
        if names.count(column) != 1:
            there = shown(", ".join(names), 120)
            this = f"“{shown(column, 30)}”" if len(column) > 30 else repr(column)
            got = f"no column {this} for {wanted}" if column not in names else f"two columns {this}"
            raise InputError(name, got, f"a column of {there}")
        places[wanted] = names.index(column)
        behind = re.search(r"(?:[(\[]\s*([^()\[\]]+?)\s*[)\]]|[\s_]([^\s_()\[\]]{3,}))$", column)
        said = _known(behind[1] or behind[2]) if behind else None
        in_brackets = behind is not None and behind[1] is not None
        if said and not _same(wanted, said, unit) and (in_brackets or said in SORTS[wanted].units):
            got = f"a column “{shown(column, 60)}”, named as {unit}"
            raise InputError(f"{name}, {wanted}", got, "the same unit in its name and behind it")
    return places


_UNITS = {unit.casefold(): unit for unit in (*NOT_READ, *(unit for sort in SORTS.values() for unit in sort.units))}


def _known(text: str) -> str | None:
    """The unit that a text such as "[KM/H]" or "kph" means, if it means one that the kit reads."""
    plain = text.strip().strip("[]()").strip().casefold()
    return _UNITS.get(plain) or ALSO_WRITTEN.get(plain)


def unit_of(wanted: str, column: str, below: str) -> str:
    """The unit that stands under a column's name or behind it, as the kit calls it; empty if none does."""
    behind = re.search(r"[(\[]\s*([^()\[\]]+?)\s*[)\]]|[\s_]([^\s_()\[\]]+)$", column)
    for text in (below, (behind[1] or behind[2]) if behind else ""):
        said = _known(text)
        if said in SORTS[wanted].units:
            return str(said)
    return ""


def _same(wanted: str, said: str, unit: str) -> bool:
    units = SORTS[wanted].units
    return said in units and units[said] == units[unit]


def _is_line_of_units(cells: list[str], places: dict[str, int]) -> bool:
    """Whether some wanted cell is a unit and none has a digit in front: many loggers write units under the names."""
    wanted = [cells[place].strip() for place in places.values() if place < len(cells)]
    numbers = [cell for cell in wanted if re.match(r"[-+−.,]?\d", cell) and _known(cell) is None]
    return len(wanted) == len(places) and not numbers and any(_known(cell) for cell in wanted)


def _check_units(where: str, units: dict[str, str], columns: dict[str, tuple[str, str]]) -> None:
    """Raise `InputError` for a unit under a name that is not the one named for it. An empty cell says nothing."""
    for wanted, cell in units.items():
        text, unit = " ".join(cell.split()), columns[wanted][1]
        said = _known(text)
        if text and not (said and _same(wanted, said, unit)):
            others = " or ".join(SORTS[wanted].units)
            known = said in SORTS[wanted].units
            raise InputError(
                f"{where}, {wanted}",
                f"the unit “{shown(text, 30)}” under a column named as {unit}",
                f"{unit} there, or {said} named for it" if known else f"{unit} there; the kit reads {others}",
            )


def _log(
    name: str, numbers: dict[str, Any], lines: Any, columns: dict[str, tuple[str, str]], assumed: tuple[str, ...]
) -> Log:
    time = numbers["time"] - numbers["time"][0]
    steps = np.diff(time)
    usual = float(np.median(steps))
    unit = columns["time"][1]
    if not FASTEST <= usual <= SLOWEST:
        raise InputError(
            f"{name}, time", f"samples {usual:g} s apart with times in {unit}", "0.0001 to 2 s, so another unit"
        )
    gap = int(np.argmax(steps))
    if steps[gap] > max(WIDEST_GAP, 5.0 * usual):
        raise InputError(
            f"{name}, line {lines[gap + 1]}, time",
            f"a gap of {steps[gap]:.3g} s among samples {usual:.3g} s apart",
            f"a log without gaps, or a part: to {time[gap]:.6g} s, or from {time[gap + 1]:.6g} s",
        )
    quantities = {key: SORTS[key].kind.quantity(values) for key, values in numbers.items() if key != "time"}
    return Log(source=name, time=Q(time, "s"), **quantities, assumed=assumed)
