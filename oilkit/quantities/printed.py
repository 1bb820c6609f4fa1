"""Numbers as text: what a lesson prints so that it can be read, compared and checked without a picture."""

from __future__ import annotations

import re
import textwrap
from typing import Any

import numpy as np
from pint.facets.plain import PlainQuantity

from oilkit.errors import InputError
from oilkit.quantities import kinds
from oilkit.quantities.checked import public
from oilkit.quantities.kind import Kind
from oilkit.quantities.kinds import is_difference
from oilkit.quantities.units import Qty, ureg

_BY_UNIT: dict[str, Kind] = {
    str(ureg.Quantity(1.0, unit).units): kind
    for unit, kind in (
        ("thou", kinds.CLEARANCE),
        ("ft", kinds.LINE_LENGTH),
        ("in**2", kinds.AREA),
        ("cm**2", kinds.AREA),
        ("mm**2", kinds.CROSS_SECTION),
    )
}
"""Where the unit says more than the dimension: a length in thousandths of an inch is a clearance."""


def kind_for(quantity: Qty) -> Kind | None:
    """The kind with this quantity's unit or dimension, if the kit has one."""
    if is_difference(quantity):
        return kinds.TEMPERATURE_DIFFERENCE
    if str(quantity.units) in _BY_UNIT:
        return _BY_UNIT[str(quantity.units)]
    return kinds.BY_DIMENSION.get(quantity.dimensionality)


def text(value: Any, kind: Kind | None = None) -> str:
    """``1.50 qt (1.42 L)``: a quantity in both systems, so that what is printed does not depend on the unit switch.

    kind: what it is, where its unit does not say so (an altitude in feet).
    """
    if not isinstance(value, PlainQuantity):
        return f"{value:.4g}" if isinstance(value, float) else str(value)
    kind = kind or kind_for(value)
    numbers = np.ravel(value.to(kind.si).magnitude) if kind else np.ravel(value.magnitude)
    if kind is None:
        return ", ".join(f"{n:.4g}" for n in numbers) + f" {value.units:~}"
    return ", ".join(kind.both(float(n)) for n in numbers)


def percent(share: float) -> str:
    """``97 %``: a share of 1 in words, which are ``100 %`` of all only."""
    shown = f"{100 * share:.0f} %"
    return "over 99 %" if shown == "100 %" and share < 1.0 - 1e-9 else shown


LINE = 96
"""Characters that a notebook beside its side bar shows in one line, on a projector of 1280 pixels."""
LEAST_WIDTH = 14
"""To which a column of texts is narrowed."""
SPACE = "  "
_TOGETHER = "\N{NO-BREAK SPACE}"
_BRACKETS = re.compile(r"(?<!\w)\[[^][\n]{1,20}\]|\([^()\n]{1,20}\)")


def _lines(words: str, width: int) -> list[str]:
    """A text in lines of at most so many characters; words, and what stands in brackets, whole."""
    found: list[str] = []
    for part in _BRACKETS.sub(lambda match: match[0].replace(" ", _TOGETHER), words).split("\n"):
        found += textwrap.wrap(part, width, break_long_words=False, break_on_hyphens=False) or [""]
    return [line.replace(_TOGETHER, " ") for line in found]


def _widths(heads: list[str], bodies: list[list[str]], may_wrap: list[bool]) -> list[int]:
    """Of a table's columns, so that it fits in ``LINE``: heads take as few lines as will do, then wide texts wrap."""
    least = [max([0, *map(len, body)]) for body in bodies]
    words = [max(map(len, _lines(head, 1))) for head in heads]
    room = LINE - len(SPACE) * (len(heads) - 1)
    longest = [max([LEAST_WIDTH, *(len(word) for cell in body for word in _lines(cell, 1))]) for body in bodies]
    while sum(map(max, zip(least, words, strict=True))) > room:
        narrowed = [k for k, wraps in enumerate(may_wrap) if wraps and least[k] > longest[k]]
        if not narrowed:
            break
        least[max(narrowed, key=least.__getitem__)] -= 1
    for lines in range(1, 9):
        widths = [
            next(w for w in range(max(*wide, 1), 10**6) if len(_lines(head, w)) <= lines)
            for head, *wide in zip(heads, least, words, strict=True)
        ]
        if sum(widths) <= room:
            break
    return widths


@public
def report(title: str, /, **rows: Any) -> None:
    """Print a small table: a line for each named number, in both systems of units.

    >>> report("Bench vessel", oil_stored=ureg.Quantity(1.5, "qt"))
    Bench vessel
      oil stored  1.50 qt (1.42 L)
    """
    print(title)
    names = {key: key.replace("_", " ") for key in rows}
    width = max(map(len, names.values()), default=0)
    for key, value in rows.items():
        first, *more = _lines(text(value), max(LINE - width - 4, 24))
        print(f"  {names[key]:<{width}}  {first}")
        for line in more:
            print(f"{'':{width + 4}}{line}")


@public
def table(*columns: tuple[str, Any]) -> None:
    """Print columns side by side: ``("title", values)``, where values is a list of texts or an array quantity.

    An array quantity is shown in both systems, its units named in its column's head. Heads, and then texts, take
    several lines where the table would be wider than ``LINE``.

    >>> table(("pre-charge", ureg.Quantity([5.0, 10.0], "psig")), ("fill", ["more", "half"]))
    pre-charge [psig (barg)]  fill
                 5.0 (0.34)  more
                10.0 (0.69)  half
    """
    cells: list[list[str]] = []
    for head, values in columns:
        kind = kind_for(values) if isinstance(values, PlainQuantity) else None
        if not isinstance(values, PlainQuantity):
            cells.append([head, *map(str, values)])
        elif kind is None:
            cells.append([f"{head} [{values.units:~}]", *(f"{n:.4g}" for n in np.ravel(values.magnitude))])
        else:
            numbers = np.ravel(values.to(kind.si).magnitude).tolist()
            us, metric = kind.label("US"), kind.label("SI")
            if us == metric:
                cells.append([f"{head} [{us}]" if us else head, *(kind.number(n, "US") for n in numbers)])
            else:
                shown = (f"{kind.number(n, 'US')} ({kind.number(n, 'SI')})" for n in numbers)
                cells.append([f"{head} [{us} ({metric})]", *shown])
    if len({len(column) for column in cells}) > 1:
        lengths = ", ".join(str(len(column) - 1) for column in cells)
        raise InputError("columns", f"columns of {lengths} values", "columns of equal length")
    right = [isinstance(values, PlainQuantity) for _, values in columns]
    heads, bodies = [column[0] for column in cells], [column[1:] for column in cells]
    widths = _widths(heads, bodies, [not numbers for numbers in right])
    parts = [_lines(head, width) for head, width in zip(heads, widths, strict=True)]
    tallest = max(map(len, parts))
    _print_row([[""] * (tallest - len(lines)) + lines for lines in parts], widths, right)
    for row in zip(*bodies, strict=True):
        _print_row([_lines(cell, width) for cell, width in zip(row, widths, strict=True)], widths, right)


def _print_row(cells: list[list[str]], widths: list[int], right: list[bool]) -> None:
    """A row of cells, each of one or more lines."""
    for line in range(max(map(len, cells))):
        parts = [cell[line] if line < len(cell) else "" for cell in cells]
        print(
            SPACE.join(p.rjust(w) if r else p.ljust(w) for p, w, r in zip(parts, widths, right, strict=True)).rstrip()
        )
