"""What a log seems to hold, before it is read: columns, units and marks, for the driver to check. (Lesson 07)

A guess is never used by itself: it is written into the lines that `read_log`'s reader asks for, and shown beside what
was seen, so that whoever knows the car corrects it.
"""

from __future__ import annotations

import io
import itertools
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from oilkit.errors import InputError
from oilkit.laps.logfile import LARGEST, NEEDED, SORTS, unit_of
from oilkit.quantities import columns as table
from oilkit.storage.textfile import opened, shown, shown_name

LOOKED_AT = 3000
"""Lines of a file that are looked at."""
NAMED: dict[str, str] = {
    "time": r"^(elapsed|lap|session)?[ _]?(time(stamp)?|zeit|temps|tiempo)\b|^t$|^seconds?$",
    "rpm": r"\brpm\b|engine.?speed|\bn_?(mot|eng)|revs|drehzahl|^n$",
    "pressure": r"oil.*p|p.?oil|öl.*dr",
    "lateral": r"\blat(eral)?\b(?!.?deg)|(acc|g).*[ _]?lat(?!it)|\b(ay|g_?y|a_?y|acc?_?y)\b",
    "longitudinal": r"\blon?g?(itudinal)?\b|(acc|g).*[ _]?lon(?!gitude)|inline|\b(ax|g_?x|a_?x|acc?_?x)\b",
    "speed": r"speed|velocity|veloc|^v(_?(veh|car|gps))?$|geschw|vitesse",
}
"""How loggers name what the kit wants, in lower case: the first that fits, in this order."""
BY_SIZE: dict[str, tuple[tuple[float, str], ...]] = {
    "time": ((1e5, "s"), (np.inf, "ms")),
    "speed": ((np.inf, "km/h"),),
    "lateral": ((4.0, "g"), (np.inf, "m/s2")),
    "longitudinal": ((4.0, "g"), (np.inf, "m/s2")),
    "rpm": ((np.inf, "rpm"),),
    "pressure": ((12.0, "bar"), (150.0, "psi"), (np.inf, "kPa")),
}
"""Units by the largest number in a column, where no unit is written."""


@dataclass(frozen=True)
class Guess:
    """What a log seems to hold: see `look_at_log`."""

    columns: dict[str, tuple[str, str]]
    """As `read_log` takes them; what was not found is missing."""
    seen: tuple[str, ...]
    """What was seen, in sentences: lines, marks, and each column with its range."""
    unsure: tuple[str, ...]
    """What to check or to add by hand."""


def look_at_log(path: Path | str) -> Guess:
    """Look at the first lines of a log and guess its columns and units. Raises `InputError` for what is no table."""
    name, wanted = shown_name(path), f"a CSV file of up to {LARGEST / 1e6:.0f} MB"
    with opened(path, LARGEST, wanted) as raw, io.TextIOWrapper(raw, "utf-8-sig", "replace", newline="") as file:
        lines = list(itertools.islice(table.lines(name, file), LOOKED_AT))
    mark = _parted(lines)
    rows = [(number, table.cells_of(f"{name}, line {number}", line, mark)) for number, line in lines]
    first = _head(name, rows)
    head = [cell.strip() for cell in rows[first][1]]
    below = [cells for _, cells in rows[first + 1 :]]
    units = below.pop(0) if below and not _numbers(below[0]) else None
    body = [cells for cells in below if _numbers(cells) >= 2]
    found: dict[str, tuple[str, str]] = {}
    seen = [
        f"Names stand in line {rows[first][0]}, parted by {_SAID[mark]}"
        f"{'; units stand below them' if units else ''}. {len(body)}{'+' if len(lines) == LOOKED_AT else ''} samples."
    ]
    unsure = []
    for sort, place in _places(head).items():
        values = np.array([_number(cells[place]) for cells in body if place < len(cells)])
        good = values[np.isfinite(values)]
        if not good.size:
            continue
        written = unit_of(sort, head[place], units[place] if units and place < len(units) else "")
        low, high = float(np.min(good)), float(np.max(good))
        unit = written or next(unit for most, unit in BY_SIZE[sort] if max(abs(low), abs(high)) <= most)
        found[sort] = (head[place], unit)
        scale = SORTS[sort].scale(unit)
        possible = SORTS[sort].low <= low * scale and high * scale <= SORTS[sort].high
        seen.append(f"{SORTS[sort].noun}: “{shown(head[place], 40)}”, {low:g} to {high:g} {unit}.")
        if not written:
            unsure.append(f"No unit is written for {sort}: {unit} is a guess from its size.")
        if not possible:
            unsure.append(f"{sort}: no car has {low:g} to {high:g} {unit}: another unit or column.")
        if good.size < values.size:
            unsure.append(f"{sort}: {values.size - good.size} cells hold no number; pass over = yes leaves them out.")
    lacking = [sort for sort in NEEDED if sort not in found]
    if lacking:
        there = shown(", ".join(filter(None, head)), 160)
        unsure.append(f"Not found: {', '.join(lacking)}. The columns are: {there}.")
    return Guess(found, tuple(seen), tuple(unsure))


_SAID = {",": "commas", ";": "semicolons", "\t": "tabs"}


def _parted(lines: list[tuple[int, str]]) -> str:
    """What parts the cells of most lines: commas are decimal where there is anything else."""
    return next((mark for mark in ";\t" if lines and np.median([line.count(mark) for _, line in lines]) > 1), ",")


def _head(name: str, rows: list[tuple[int, list[str]]]) -> int:
    """The line of names: the last line without numbers above three lines of numbers as wide, or above their units."""
    for k in range(len(rows) - 3):
        wide = len(rows[k + 3][1])
        if wide > 1 and all(_numbers(rows[k + j][1]) >= 2 and len(rows[k + j][1]) == wide for j in (1, 2, 3)):
            if _numbers(rows[k][1]):
                break
            over = k - 1
            is_units = over >= 0 and len(rows[over][1]) == wide and not _numbers(rows[over][1])
            return over if is_units and _places([c.strip() for c in rows[over][1]]) else k
    raise InputError(name, "no line of names over lines of numbers", "a table of samples with a line of column names")


def _numbers(cells: list[str]) -> int:
    """How many cells are numbers."""
    return int(np.sum(np.isfinite([_number(cell) for cell in cells])))


def _number(cell: str) -> float:
    text = cell.strip().replace(",", ".")
    return float(text) if re.fullmatch(r"[-+]?(\d+\.?\d*|\.\d+)(e[-+]?\d+)?", text, re.IGNORECASE) else float("nan")


def _places(head: list[str]) -> dict[str, int]:
    """Which column seems to be what."""
    places: dict[str, int] = {}
    for place, cell in enumerate(head):
        plain = re.sub(r"[(\[].*?[)\]]", "", cell).strip().casefold()
        sort = next((sort for sort, pattern in NAMED.items() if re.search(pattern, plain)), None)
        if sort and sort not in places and head.count(cell) == 1:
            places[sort] = place
    return {sort: places[sort] for sort in SORTS if sort in places}


def as_lines(file: str, guess: Guess) -> str:
    """The lines that the panel's box takes, from a guess."""
    told: list[Any] = [f"file = {file}", *(f"{sort} = {name}, {unit}" for sort, (name, unit) in guess.columns.items())]
    return "\n".join([*told, "sensor = gallery"])
