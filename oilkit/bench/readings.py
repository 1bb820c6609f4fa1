"""Bench readings: pre-charge, pressure, rule and time as a class notes them, in a CSV file with its units. (Lesson 11)

Such a file has a line of column names with their units, then a line for each reading::

    precharge (psi), pressure (psi), rule (in), time (s), direction
    10.0, 20.0, 2.14, 120, rising

Whatever is wrong with it is said in one sentence with line and column. Nothing is mended or left out in silence, and
nothing in the file is run or looked up: cells are numbers or one of three words.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from oilkit.errors import InputError
from oilkit.quantities import columns as table
from oilkit.quantities.checked import public
from oilkit.quantities.kind import Kind
from oilkit.quantities.kinds import GAUGE, TIME, to_si
from oilkit.quantities.records import data_file
from oilkit.quantities.units import Q, Qty
from oilkit.storage.saving import named_file, write_keeping_earlier
from oilkit.storage.textfile import LARGEST, read_text, shown, shown_name

MOST_READINGS = 500
DIRECTIONS = {"rising": 1.0, "falling": -1.0, "freed": 0.0}
"""How the pressure was reached: seals drag against the motion. "freed": tapped or rocked until nothing drags."""


RULE = Kind("a rule reading", "m", "in", 2, "mm", 1, "Q(2.75, 'in')")
_PRESSURES = {"psi": "psig", "psig": "psig", "bar": "barg", "barg": "barg", "kPa": "kPag"}
_LENGTHS = {"in": "in", "inch": "in", "mm": "mm", "cm": "cm"}
COLUMNS = {
    "precharge": table.Sort("pre-charge that a bench can have", GAUGE, _PRESSURES, -5e4, 2e6),
    "pressure": table.Sort("pressure that a bench can have", GAUGE, _PRESSURES, -5e4, 4e6),
    "rule": table.Sort("rule reading that a bench can have", RULE, _LENGTHS, -0.5, 3.0),
    "time": table.Sort("waiting time", TIME, {"s": "s", "min": "minute"}, 0.0, 90_000.0),
}
"""What a bench file may hold, beside ``direction``. Pre-charge, pressure and rule are needed.

precharge: as the charge gauge read it, with the piston at the oil end. pressure: as the pressure gauge read it.
rule: as read beside the rod. time: since the pressure was set, so that a reading taken while the gas is still warm can
be told from a settled one. direction: rising, falling or freed.
"""
NEEDED = ("precharge", "pressure", "rule")
EXAMPLE = "precharge (psi), pressure (psi), rule (in), time (s), direction"


@dataclass(frozen=True)
class BenchReadings:
    """Readings of one bench, in the order they were taken. Arrays of one shape, (n,).

    Readings that follow each other with the same pre-charge count as one setting of it: they share its reading error.
    """

    source: str
    precharge: Qty = field(repr=False)
    """Gauge, as read on the charge gauge."""
    pressure: Qty = field(repr=False)
    """Gauge, as read on the pressure gauge."""
    rule: Qty = field(repr=False)
    time: Qty | None = field(default=None, repr=False)
    """Since the pressure was set, if it was noted."""
    direction: tuple[str, ...] | None = field(default=None, repr=False)
    """Rising, falling or freed for each, if it was noted."""
    assumed: tuple[str, ...] = field(default=(), repr=False, compare=False)
    """Sentences about cells that could mean two numbers, where the rest of their column settled it."""

    def __len__(self) -> int:
        return int(np.size(self.pressure.m))

    def first(self, count: int) -> BenchReadings:
        """The first so many of them."""
        if not 1 <= count <= len(self):
            raise InputError("count", repr(count), f"1 to {len(self)}")
        noted = {name: getattr(self, name) for name in (*COLUMNS, "direction")}
        return replace(self, **{name: values[:count] for name, values in noted.items() if values is not None})

    @property
    def si(self) -> dict[str, Any]:
        """Plain SI arrays, checked. ``drag`` is +1 where pressure rose, -1 where it fell, 0 where nothing drags."""
        plain: dict[str, Any] = {}
        for name, column in COLUMNS.items():
            value = getattr(self, name)
            if value is None and name not in NEEDED:
                continue
            plain[name] = np.atleast_1d(to_si(name, value, column.kind))
            if np.shape(plain[name]) != np.shape(plain["precharge"]) or np.ndim(value.m) != 1:
                raise InputError(name, f"{np.size(value.m)} values", f"{len(plain['precharge'])}, one for each reading")
            outside = np.flatnonzero(~((plain[name] >= column.low) & (plain[name] <= column.high)))
            if outside.size:
                got = column.kind.exact_text(float(plain[name][outside[0]]))
                ends = f"{column.kind.text(column.low)} to {column.kind.text(column.high)}"
                wanted = f"a {column.noun}, {ends}, so another unit or column"
                raise InputError(f"{name}, reading {outside[0] + 1}", got, wanted)
        count = len(plain["precharge"])
        if not 1 <= count <= MOST_READINGS:
            raise InputError("readings", f"{count} of them", f"1 to {MOST_READINGS}")
        words = self.direction if self.direction is not None else ("freed",) * count
        if len(words) != count or any(word not in DIRECTIONS for word in words):
            raise InputError("direction", f"{len(words)} words", f"{count}, each {' or '.join(DIRECTIONS)}")
        return plain | {"drag": np.array([DIRECTIONS[word] for word in words])}


def demo_bench() -> BenchReadings:
    """The kit's own bench readings, ``data/bench_readings.csv``: invented, with their truth in the file's head.

    >>> print(len(demo_bench()), "readings")
    36 readings
    """
    return read_bench(data_file("bench_readings.csv"))


@public
def read_bench(source: Path | str) -> BenchReadings:
    """Read bench readings: a CSV file's path, or the text itself (anything that holds a line break).

    The first line names the columns with their units, such as ``precharge (psi), pressure (psi), rule (in)``; ``time
    (s)`` and ``direction`` may be left out. Units: psi, bar or kPa (gauge), in, mm or cm, s or min. Cells may be parted
    by commas, semicolons or tabs; with semicolons or tabs a number may have a decimal comma. A cell such as 3.000 that
    could mean two numbers is asked about unless its column settles it. Lines that begin with # are passed over. Raises
    `InputError` naming line and column for whatever is not as it should be.

    >>> taken = read_bench("precharge (psi), pressure (psi), rule (in)\\n10, 34.7, 5.9\\n20, 34.7, 3.2")
    >>> print(taken.rule)
    [5.9 3.2] inch
    """
    if isinstance(source, str) and "\n" in source:
        return _parse("readings", source)
    return _parse(shown_name(source), read_text(named_file(source), LARGEST, "a CSV file of bench readings"))


@public
def write_bench(path: Path | str, readings: BenchReadings) -> str:
    """Write bench readings so that `read_bench` gets the same back, whole or not at all. In psi, in and s.

    What a file of that name held is kept beside it; the sentence that comes back names it, or is empty.
    Raises `InputError` for readings that are not in order or a folder that is not there or cannot be written.
    """
    readings.si  # noqa: B018  (checks them)
    columns: dict[str, Iterable[str]] = {}
    for name, unit in {"precharge": "psi", "pressure": "psi", "rule": "in", "time": "s"}.items():
        if (noted := getattr(readings, name)) is not None:
            columns[f"{name} ({unit})"] = map(table.written, noted.m_as(COLUMNS[name].units[unit]))
    if readings.direction is not None:
        columns["direction"] = readings.direction
    path, lines = named_file(path), [columns.keys(), *zip(*columns.values(), strict=True)]
    try:
        return write_keeping_earlier(path, "".join(", ".join(line) + "\n" for line in lines))
    except OSError as problem:
        raise InputError(path.name, f"“{problem.strerror}”", "a folder that can be written") from None


def _parse(name: str, text: str) -> BenchReadings:
    lines = list(table.lines_of(name, text))
    if not lines:
        raise InputError(name, "nothing", f"a line of column names, such as {EXAMPLE}, and a line for each reading")
    delimiter = table.parted_by(lines[0][1])
    names = table.cells_of(f"{name}, line {lines[0][0]}", lines[0][1], delimiter)
    places = _head(name, lines[0][0], names)
    found = {
        column: COLUMNS[column].column(column, unit, delimiter != ",")
        for column, (_, unit) in places.items()
        if column != "direction"
    }
    words: list[str] = []
    if len(lines) - 1 > MOST_READINGS:
        raise InputError(name, f"{len(lines) - 1} readings", f"up to {MOST_READINGS}")
    for number, line in lines[1:]:
        cells = table.cells_of(f"{name}, line {number}", line, delimiter)
        table.check_width(f"{name}, line {number}", cells, names)
        for column, (place, _) in places.items():
            cell = cells[place] if place < len(cells) else None
            if column == "direction":
                words.append(_direction(f"{name}, line {number}, {column}", cell))
            else:
                found[column].add(name, number, cell)
    if not found["rule"].values:
        raise InputError(name, "column names and no readings", "a line for each reading")
    assumed = table.assumed(name, found.values())
    quantities = {column: _quantity(COLUMNS[column], places[column][1], one.values) for column, one in found.items()}
    direction = tuple(words) if "direction" in places else None
    return BenchReadings(name, **quantities, direction=direction, assumed=assumed)


def _quantity(sort: table.Sort, unit: str, values: Any) -> Qty:
    if sort.units[unit] == sort.kind.us:
        return Q(np.array(values), sort.kind.us)  # as typed, to the last digit
    return sort.kind.quantity(np.array(values) * sort.scale(unit))


def _head(name: str, number: int, cells: list[str]) -> dict[str, tuple[int, str]]:
    """Place and unit of each column."""
    places: dict[str, tuple[int, str]] = {}
    known = ", ".join([*COLUMNS, "direction"])
    for place, cell in enumerate(cells):
        match = re.fullmatch(r"([^()\[\]]*?)\s*(?:[(\[]([^()\[\]]*)[)\]])?", cell.strip())
        column = match[1].casefold().replace("pre-charge", "precharge").strip() if match else ""
        where = f"{name}, line {number}, column {place + 1}"
        if match is None or (column not in COLUMNS and column != "direction"):
            raise InputError(
                where, f"“{shown(cell, 29)}”" if cell.strip() else "no name", f"one of {known}, with its unit"
            )
        if column in places:
            raise InputError(where, f"a second column {column}", "each column once")
        unit = match[2].strip() if match[2] else ""
        if column == "direction":
            if unit:
                raise InputError(where, f"direction with a unit “{shown(unit, 29)}”", "direction, which has none")
        elif unit not in COLUMNS[column].units:
            got = f"{column} in “{shown(unit, 29)}”" if unit else f"{column} without a unit"
            raise InputError(where, got, f"a unit such as {column} ({next(iter(COLUMNS[column].units))})")
        places[column] = place, unit
    for column in NEEDED:
        if column not in places:
            raise InputError(f"{name}, line {number}", f"no column {column}", f"column names such as {EXAMPLE}")
    return places


def _direction(where: str, cell: str | None) -> str:
    word = (cell or "").strip().casefold()
    if word not in DIRECTIONS:
        raise InputError(where, f"“{shown(cell or '', 29)}”" if word else "nothing", " or ".join(DIRECTIONS))
    return word
