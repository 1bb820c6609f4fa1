"""A log from the car: a CSV file of your own, with the columns and units that you name. (Lesson 07)

A log is read line by line, so that a long one needs little memory and can show its progress. Whatever is wrong with it
is said in one sentence with the line it is in; nothing is mended in silence.
"""

from __future__ import annotations

import csv
import math
from array import array
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TextIO

import numpy as np

from oilkit.door import whole
from oilkit.kinds import ACCELERATION, GAUGE, SPEED, TIME, VELOCITY
from oilkit.records import data_file
from oilkit.units import InputError, Q, Qty

LARGEST = 100_000_000
"""Bytes. A day at 100 Hz is smaller; a larger file is refused before it is opened."""
MOST_SAMPLES = 2_000_000
WIDEST_GAP = 0.5
"""Seconds. A hole in the log that is wider than this, and than five usual intervals, could hide a whole corner."""
EVERY = 5_000
"""Lines between two reports of progress."""


@dataclass(frozen=True)
class _Sort:
    noun: str
    kind: Any
    units: dict[str, str]
    """As a learner writes it: as the kit writes it."""
    low: float
    high: float
    """SI. Outside no car can be: the unit or the column must be another one."""


_G = {"g": "g_0", "m/s2": "m/s**2", "m/s²": "m/s**2", "m/s^2": "m/s**2"}
SORTS = {
    "time": _Sort("time", TIME, {"s": "s", "ms": "ms", "min": "minute"}, 0.0, math.inf),
    "speed": _Sort("vehicle speed", VELOCITY, {"km/h": "km/hour", "mph": "mile/hour", "m/s": "m/s"}, -1.0, 150.0),
    "lateral": _Sort("lateral acceleration", ACCELERATION, _G, -60.0, 60.0),
    "longitudinal": _Sort("longitudinal acceleration", ACCELERATION, _G, -60.0, 60.0),
    "rpm": _Sort("engine speed", SPEED, {"rpm": "rpm", "1/min": "rpm"}, 0.0, 400.0),
    "pressure": _Sort(
        "measured oil pressure", GAUGE, {"psi": "psig", "bar": "barg", "kPa": "kPag"}, -2e4, 1.4e6
    ),
}  # fmt: skip
"""What a log may hold. Time, vehicle speed, both accelerations and engine speed are needed; oil pressure may be left
out.

lateral: above 0 in a left-hand corner. longitudinal: above 0 when the car gains speed.
"""
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
        seconds, speed = self.time.m_as("s"), self.speed.m_as("m/s")
        steps = np.diff(seconds) * 0.5 * (speed[1:] + speed[:-1])
        return Q(np.concatenate([[0.0], np.cumsum(steps)]), "m")


Progress = Callable[[float], None]
"""Told now and then what share of the work is done, 0 to 1."""


def kit_lap() -> Log:
    """The kit's own lap, ``data/lap.csv``: invented, as its head says.

    >>> lap = kit_lap()
    >>> print(f"{len(lap.time)} samples, {lap.time[-1]:.0f~}, {lap.interval.to('ms'):.0f~} apart")
    1716 samples, 86 s, 50 ms apart
    """
    return read_log(data_file("lap.csv"), KIT_LAP)


@whole
def read_log(path: Path | str, columns: dict[str, tuple[str, str]], progress: Progress | None = None) -> Log:
    """Read a log: a CSV file with a line of column names, then a line for each sample.

    columns: for each of ``SORTS`` the column's name in the file and its unit, as in ``{"time": ("Time", "s"), ...}``;
    "pressure" may be left out. Cells may be parted by commas, semicolons or tabs; with semicolons or tabs a number may
    have a decimal comma. Lines that begin with # are passed over, and one line of units under the names.
    Raises `InputError` for a file that is missing, empty, too large or no text, for columns and units that are not
    there, and, naming the line, for anything that is no number, for times that do not rise, and for gaps.
    """
    path = Path(path)
    _check_columns(columns)
    size = _size_of(path)
    try:
        with path.open(encoding="utf-8-sig", errors="replace", newline="") as file:
            numbers, lines = _read(path.name, file, size, columns, progress)
    except OSError as problem:
        raise InputError(path.name, f"a file that cannot be read ({problem.strerror})", "a CSV file") from None
    if progress:
        progress(1.0)
    return _log(path.name, numbers, lines, columns)


def _check_columns(columns: dict[str, tuple[str, str]]) -> None:
    for name in columns:
        if name not in SORTS:
            raise InputError("columns", repr(name), " or ".join(SORTS))
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


def _size_of(path: Path) -> int:
    try:
        size = path.stat().st_size
    except (OSError, ValueError):
        raise InputError(
            path.name or "file", "no such file", "a CSV file in this lesson's folder, or its full path"
        ) from None
    if not path.is_file():
        raise InputError(path.name or "file", "a folder or device", "a CSV file")
    if size > LARGEST:
        raise InputError(
            path.name,
            f"a file of {size / 1e6:.0f} MB",
            f"one of up to {LARGEST / 1e6:.0f} MB, cut to the laps that matter",
        )
    if size == 0:
        raise InputError(path.name, "an empty file", "a line of column names and a line for each sample")
    return size


def _cells(file: TextIO, delimiter: list[str]) -> Iterator[tuple[int, str, list[str]]]:
    """Number, text and cells of each line that says something; the first one tells what parts the cells."""
    for number, line in enumerate(file, 1):
        if not line.strip() or line.startswith("#"):
            continue
        if not delimiter:
            delimiter.append(max(";\t,", key=line.count))
        yield number, line, next(csv.reader([line], delimiter=delimiter[0]))


def _read(
    name: str, file: TextIO, size: int, columns: dict[str, tuple[str, str]], progress: Progress | None
) -> tuple[dict[str, Any], Any]:
    """The numbers of each wanted column, in the file's own units, and the line that each sample stood in."""
    delimiter: list[str] = []
    found: dict[str, array[float]] = {wanted: array("d") for wanted in columns}
    lines = array("q")
    places: dict[str, int] = {}
    read, last = 0, -math.inf
    scale = {wanted: _scale(wanted, unit) for wanted, (_, unit) in columns.items()}
    for number, line, cells in _cells(file, delimiter):
        read += len(line)
        if "\0" in line:
            raise InputError(name, "a file that is not text", "a CSV file")
        if not places:
            places = _places(name, cells, columns)
            continue
        if not lines and _is_line_of_units(cells, places):
            continue
        for wanted, place in places.items():
            where = f"{name}, line {number}, {wanted}"
            value = _number(where, cells[place] if place < len(cells) else None, delimiter[0]) * scale[wanted]
            sort = SORTS[wanted]
            if not sort.low <= value <= sort.high and wanted != "time":
                unit = columns[wanted][1]
                raise InputError(
                    where,
                    f"{cells[place].strip()} {unit}",
                    f"a {sort.noun} that a car can have, so another unit or column",
                )
            found[wanted].append(value)
        now = found["time"][-1]
        if now <= last:
            raise InputError(f"{name}, line {number}, time", f"{now:g} s after {last:g} s", "times that rise")
        last = now
        lines.append(number)
        if len(lines) > MOST_SAMPLES:
            raise InputError(name, f"more than {MOST_SAMPLES} samples", "a log cut to the laps that matter")
        if progress and len(lines) % EVERY == 0:
            progress(min(read / size, 1.0))
    if not places:
        raise InputError(name, "a file with nothing but comments", "a line of column names and a line for each sample")
    if len(lines) < 3:
        got = "column names and no samples" if not lines else f"{len(lines)} samples"
        raise InputError(name, got, "three samples or more")
    return {wanted: np.array(values) for wanted, values in found.items()}, np.array(lines)


def _places(name: str, head: list[str], columns: dict[str, tuple[str, str]]) -> dict[str, int]:
    names = [cell.strip() for cell in head]
    places: dict[str, int] = {}
    for wanted, (column, _) in columns.items():
        if names.count(column) != 1:
            there = ", ".join(names)
            there = there if len(there) < 120 else there[:117] + "…"
            got = f"no column {column!r} for {wanted}" if column not in names else f"two columns {column!r}"
            raise InputError(name, got, f"a column of {there}")
        places[wanted] = names.index(column)
    return places


def _is_line_of_units(cells: list[str], places: dict[str, int]) -> bool:
    """Whether no wanted cell is a number: many loggers write a line of units under the names."""
    wanted = [cells[place].strip().strip("[]()").casefold() for place in places.values() if place < len(cells)]
    known = {unit.casefold() for sort in SORTS.values() for unit in sort.units}
    return len(wanted) == len(places) and all(cell in known for cell in wanted)


def _scale(name: str, unit: str) -> float:
    sort = SORTS[name]
    return float(Q(1.0, sort.units[unit]).m_as(sort.kind.si))


def _number(where: str, cell: str | None, delimiter: str) -> float:
    text = "" if cell is None else cell.strip()
    if not text:
        raise InputError(where, "nothing", "a number")
    try:
        value = float(text)
    except ValueError:
        try:
            value = float(text.replace(",", ".")) if delimiter != "," and text.count(",") == 1 else math.nan
        except ValueError:
            value = math.nan
    if "_" in text or not math.isfinite(value):
        short = text if len(text) < 30 else text[:29] + "…"
        raise InputError(where, f"“{short}”", "a number")
    return value


def _log(name: str, numbers: dict[str, Any], lines: Any, columns: dict[str, tuple[str, str]]) -> Log:
    time = numbers["time"] - numbers["time"][0]
    steps = np.diff(time)
    usual = float(np.median(steps))
    unit = columns["time"][1]
    if not 1e-4 <= usual <= 2.0:
        raise InputError(
            f"{name}, time", f"samples {usual:g} s apart with times in {unit}", "0.0001 to 2 s, so another unit"
        )
    gap = int(np.argmax(steps))
    if steps[gap] > max(WIDEST_GAP, 5.0 * usual):
        raise InputError(
            f"{name}, line {lines[gap + 1]}, time",
            f"a gap of {steps[gap]:.3g} s among samples {usual:.3g} s apart",
            "a log without gaps, or the part before or after it",
        )
    quantities = {key: SORTS[key].kind.quantity(values) for key, values in numbers.items() if key != "time"}
    return Log(source=name, time=Q(time, "s"), **quantities)


# ----------------------------------------------------------------------------------------- what a log cannot tell you

SENSOR_PLACES = {
    "gallery": "",
    "pump": (
        "The sensor stands between pump and check valve: when the pump starves it shows the pump's "
        "pressure, not what the bearings get from the vessel."
    ),
    "vessel": (
        "The sensor stands at the vessel: it shows the vessel's pressure, which hardly notices a dip in the gallery."
    ),
}
"""Where a pressure sensor may stand, and what it cannot see there; nothing for one in the main gallery."""
USUAL_DIP = Q(0.1, "s")
SAMPLES_OF_A_DIP = 5
"""Fewer samples than this do not show how deep a dip was."""


@whole
def log_remarks(log: Log, dip: Qty = USUAL_DIP, sensor: str = "gallery") -> list[str]:
    """Sentences about what a log cannot show; an empty list if nothing speaks against it.

    dip: how long the dip lasts that you look for; the first dip after the pump lets go lasts about 0.02 to 0.2 s.
    sensor: one of ``SENSOR_PLACES``. Raises `InputError`.
    Source: first principles (a dip between two samples leaves no trace).

    >>> print(log_remarks(kit_lap())[0])
    One sample in 50 ms: too slow for a dip of 100 ms, which wants 20 ms or less.
    """
    from oilkit.kinds import one_to_si

    seconds = one_to_si("dip", dip, TIME)
    if sensor not in SENSOR_PLACES:
        raise InputError("sensor", repr(sensor), " or ".join(SENSOR_PLACES))
    said = []
    apart = float(log.interval.m)
    if apart * SAMPLES_OF_A_DIP > seconds * (1.0 + 1e-9):
        said.append(
            f"One sample in {1000 * apart:.0f} ms: too slow for a dip of {1000 * seconds:.0f} ms, which wants "
            f"{1000 * seconds / SAMPLES_OF_A_DIP:.0f} ms or less."
        )
    if SENSOR_PLACES[sensor] and log.pressure is not None:
        said.append(SENSOR_PLACES[sensor])
    slope = _gain_against_speed(log)
    if slope is not None and slope < 0.0:
        said.append(
            "Longitudinal acceleration and speed disagree in sign: above 0 must mean gaining speed, "
            "so the sign, or the column, is another one."
        )
    elif slope is not None and not 0.4 < slope < 2.5:
        said.append(
            f"Longitudinal acceleration is {slope:.2g} times what the speed says: one of the two may have another unit."
        )
    return said


def _gain_against_speed(log: Log) -> float | None:
    """Logged longitudinal acceleration over that from the change of speed, least squares; None if it hardly varies."""
    si = log.si
    seconds = np.arange(0.0, si["time"][-1], 0.5)
    if seconds.size < 8:
        return None
    sums = np.concatenate(
        [[0.0], np.cumsum(np.diff(si["time"]) * 0.5 * (si["longitudinal"][1:] + si["longitudinal"][:-1]))]
    )
    logged = np.diff(np.interp(seconds, si["time"], sums))
    gained = np.diff(np.interp(seconds, si["time"], si["speed"]))
    size = float(np.sum(gained**2))
    return float(np.sum(logged * gained)) / size if size > 0.25 * gained.size else None
