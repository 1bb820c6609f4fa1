"""Columns of numbers in a learner's text: the one reader of logs, bench readings and class readings.

Nothing is guessed. A cell is a number as everybody would read it, or an `InputError` names file, line and column, what
stands there and what to write instead. ``3,000`` and ``3.000`` may be three or three thousand: such a cell is taken
with a decimal mark only where the rest of its column leaves no other reading (``0.436`` or ``65.1`` cannot be
thousands, and 180 812 km/h no car does), and what was taken so is said (`Column.settle`). Marks between thousands are
never read.

A number typed into a box is read by `typed.parse`, by the same rule for the comma. There a point is always decimal,
since the boxes themselves show numbers such as 2.505 barg.
"""

from __future__ import annotations

import csv
import math
import re
from array import array
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from io import StringIO
from typing import TextIO

from oilkit.errors import InputError
from oilkit.quantities.kind import Kind
from oilkit.quantities.units import Q
from oilkit.storage.textfile import shown

LONGEST = 100_000
"""Letters of a line. A log with a thousand columns stays below."""

_NUMBER = re.compile(r"([-+−]?)(\d*)(?:([.,])(\d*))?((?:[eE][-+−]?\d+)?)", re.ASCII)


@dataclass(frozen=True)
class Sort:
    """What a column may hold: which quantity, in which units, and where it is no longer believable."""

    noun: str
    kind: Kind
    units: dict[str, str]
    """As a learner writes it: as the kit writes it."""
    low: float
    high: float
    """SI. Outside nothing here can be: the unit or the column must be another one."""

    def scale(self, unit: str) -> float:
        """What one of the unit is in SI: a gauge's zero is zero in each of them."""
        return float(Q(1.0, self.units[unit]).m_as(self.kind.si))

    def column(self, name: str, unit: str, comma: bool, more: str = "") -> Column:
        """A column of such numbers in one of the units. more: what an error says of them behind the noun."""
        scale = self.scale(unit)
        return Column(name, self.noun + more, unit, self.low / scale, self.high / scale, comma)


def lines(name: str, file: TextIO) -> Iterator[tuple[int, str]]:
    """Number and text of each line that says something: empty ones and those that begin with # are passed over.

    file: open as text, line ends as they are.
    """
    for number, line in enumerate(iter(lambda: file.readline(LONGEST + 1), ""), 1):
        if len(line) > LONGEST:
            got = f"more than {LONGEST} letters"
            raise InputError(f"{name}, line {number}", got, "a line for each sample or reading")
        if number == 1:
            line = line.removeprefix("\ufeff")
        if "\0" in line:
            raise InputError(f"{name}, line {number}", "bytes that are not text", "a text file such as CSV")
        if line.strip() and not line.lstrip().startswith("#"):
            yield number, line


def lines_of(name: str, text: str) -> Iterator[tuple[int, str]]:
    """As `lines`, for a text that is there as a whole."""
    return lines(name, StringIO(text, newline=""))


def parted_by(line: str) -> str:
    """What parts the cells of a table whose head this is: a semicolon, a tab or a comma."""
    return max(";\t,", key=line.count)


def cells_of(where: str, line: str, delimiter: str) -> list[str]:
    """The cells of one line. Raises `InputError` for quotes that do not close, or close in the middle of a cell."""
    try:
        return next(csv.reader([line], delimiter=delimiter, strict=True, skipinitialspace=True), [])
    except csv.Error:
        got = "a cell without end, or quotes that do not go together"
        raise InputError(where, got, "cells parted by commas, semicolons or tabs") from None


def check_width(where: str, cells: Sequence[str], head: Sequence[str]) -> None:
    """Raise `InputError` for a line that has more cells than its head has names: something parted a cell in two."""
    if len(cells) > len(head) and any(cell.strip() for cell in cells[len(head) :]):
        raise InputError(
            where,
            f"{len(cells)} cells",
            f"{len(head)}, one for each column named in its head, and semicolons between cells if commas are decimal",
        )


def missing_cells(where: str, cells: Sequence[str], head: Sequence[str], delimiter: str) -> None:
    """Raise `InputError` for a line with fewer cells than names, where commas part them: which are missing?"""
    named = max((k for k, name in enumerate(head, 1) if name.strip()), default=0)
    if delimiter == "," and len(cells) < named:
        raise InputError(where, f"{len(cells)} cells", f"{named}, one for each column named in its head")


class Column:
    """The numbers of one column while they are read, as they stand there, and what their marks can mean."""

    def __init__(
        self,
        name: str,
        noun: str = "number",
        unit: str = "",
        low: float = -math.inf,
        high: float = math.inf,
        comma: bool = True,
    ) -> None:
        """low, high: in the cells' own unit; outside them nothing can be. comma: whether it may be a decimal mark."""
        self.name, self.noun, self.unit = name, noun, unit
        self.low, self.high, self.comma = low, high, comma
        self.values = array("d")
        self.doubts: dict[str, tuple[int, str]] = {}
        """The first cell of two meanings, by its mark: line and text."""
        self.settled_by: dict[str, str] = {}
        """What shows that a mark is decimal, in words."""
        self.all_doubtful = True

    def add(self, file: str, line: int, cell: str | None) -> float:
        """Read one cell. Raises `InputError` for what is no number, or none that can be."""
        text = cell.strip() if cell else ""
        match = _NUMBER.fullmatch(text)
        mark = match[3] if match else None
        if match is None or not (match[2] or match[4]):
            raise self._refusal(file, line, text)
        if mark == "," and not (self.comma and match[2] and match[4]):  # “50 ,5” could be a parting comma
            raise self._refusal(file, line, text)
        value = float(text.replace("−", "-").replace(",", ".") if not text.isascii() or mark == "," else text)
        if not self.low <= value <= self.high or math.isinf(value):
            if math.isinf(value):
                raise self._refusal(file, line, text)
            wanted = f"a {self.noun}, so another unit or column"
            raise InputError(self._where(file, line), f"{shown(text, 30)} {self.unit}".rstrip(), wanted)
        if mark and len(match[4]) == 3 and 0 < len(match[2]) <= 3 and match[2][0] != "0":
            self.doubts.setdefault(mark, (line, text))
            if mark not in self.settled_by and not self.low <= 1000.0 * value <= self.high:
                self.settled_by[mark] = f"since {1000.0 * value:.15g} {self.unit}".rstrip() + " cannot be"
        else:
            self.all_doubtful = False
            if mark and mark not in self.settled_by:
                self.settled_by[mark] = f"as {shown(text, 30)} in line {line} shows"
        self.values.append(value)
        return value

    def ask(self, file: str) -> None:
        """Raise `InputError` for a cell of two meanings that nothing in the column has settled so far."""
        for mark, (line, text) in self.doubts.items():
            other = set(".,") - {mark}
            if mark not in self.settled_by or other & self.settled_by.keys():
                decimal = float(text.replace("−", "-").replace(",", "."))
                whole = f"{1000.0 * decimal:.15g}"
                got = f"“{shown(text, 30)}”, which could mean {decimal:g} or {whole}"
                raise InputError(self._where(file, line), got, f"{written(decimal)} or {whole}")

    def settle(self, file: str) -> str:
        """Once all is read: what was assumed about cells of two meanings, in words, or nothing. Raises `InputError`."""
        self.ask(file)
        return "; ".join(
            f"{shown(text, 30)} ({self.name}, line {line}), {self.settled_by[mark]}"
            for mark, (line, text) in self.doubts.items()
        )

    def _where(self, file: str, line: int) -> str:
        return f"{file}, line {line}, {self.name}"

    def _refusal(self, file: str, line: int, text: str) -> InputError:
        where = self._where(file, line)
        if not text:
            return InputError(where, "nothing", "a number")
        wanted = "a number"
        if re.fullmatch(r"[-+−]?\d[\d.,'’\s]*", text):
            wanted = "a number without marks between thousands" + ("" if self.comma else " and with a decimal point")
        return InputError(where, f"“{shown(text, 30)}”", wanted)


def assumed(file: str, columns: Iterable[Column]) -> tuple[str, ...]:
    """What was assumed in the columns of a file, in one sentence or none. Raises `InputError` for what stays open."""
    said = [words for column in columns if (words := column.settle(file))]
    more = f" (and likewise in {len(said) - 1} more)" if len(said) > 1 else ""
    return (f"Read with a decimal mark and not as thousands: {said[0]}{more}.",) if said else ()


def written(number: float) -> str:
    """A number so that `Column` reads it back to the last digit and without a question."""
    return re.sub(r"^(-?[1-9]\d{0,2}\.\d{3})(?=$|e)", r"\g<1>0", repr(float(number)))
