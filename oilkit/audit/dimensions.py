"""The dimension check: a formula in other units, with wrong dimensions, and in other base units. (Lesson 12)"""

from __future__ import annotations

import doctest
import inspect
import io
from collections.abc import Iterator
from contextlib import redirect_stdout
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from pint.facets.plain import PlainQuantity

import oilkit
from oilkit.audit.register import entry
from oilkit.errors import InputError
from oilkit.quantities.kind import Kind
from oilkit.quantities.kinds import to_si
from oilkit.quantities.units import Q, Qty


@cache
def worked_line(name: str) -> dict[str, Any]:
    """The arguments of the first call of a function in its own docstring's example, with the defaults filled in.

    The example is run for it, with the function replaced by one that writes down what it was called with.
    """
    function = entry(name).function
    module = inspect.getmodule(function)
    calls: list[dict[str, Any]] = []

    def recorder(*args: Any, **kwargs: Any) -> Any:
        bound = inspect.signature(function).bind(*args, **kwargs)
        bound.apply_defaults()
        calls.append(dict(bound.arguments))
        return function(*args, **kwargs)

    found = doctest.DocTestFinder(recurse=False).find(function, name, module=module)
    names = {**vars(module), "Q": Q, "np": np, "oilkit": oilkit, name: recorder}
    for example in found[0].examples if found else ():
        with redirect_stdout(io.StringIO()):
            exec(compile(example.source, f"<example of {name}>", "exec"), names)
        if calls:
            break
    if not calls:
        raise InputError("name", repr(name), "a function whose docstring has an example that calls it")
    return calls[0]


OTHER_UNITS = {
    "Pag": ("psig", "barg", "kPag", "Pag"),
    "Paa": ("psia", "bara", "kPaa", "Paa"),
    "Pa": ("psi", "bar", "kPa", "inHg"),
    "m**3": ("qt", "L", "gal", "in**3", "cc"),
    "m": ("in", "ft", "mm", "thou"),
    "K": ("degF", "degC", "K", "degR"),
    "m**3/s": ("gpm", "Lpm", "ft**3/min"),
    "s": ("s", "ms", "min"),
    "dimensionless": ("dimensionless", "percent"),
    "m**2/s": ("cSt", "St", "ft**2/s"),
    "Pa*s": ("cP", "P", "Pa*s"),
    "kg/m**3": ("lb/gal", "g/cm**3", "lb/ft**3"),
    "rev/s": ("rpm", "rev/s"),
    "m**3/rev": ("in**3/rev", "L/rev"),
    "m/s": ("ft/s", "km/hour"),
    "m**2": ("in**2", "mm**2", "ft**2"),
}
"""Units of the right dimension in which an argument must give the same answer."""
BASE = ("length", "mass", "time", "temperature", "current")


@dataclass(frozen=True)
class Dimensions:
    """What the dimension check of one function found."""

    units: int
    """In so many units of arguments the answer was the same."""
    refused: int
    """So many wrong dimensions were refused."""
    wrong: tuple[str, ...]
    """What failed: arguments with their units. Empty in good health."""
    holds: tuple[str, ...]
    """Base dimensions of numbers inside the formula. A formula of first principles should hold none."""


def check_dimensions(name: str) -> Dimensions:
    """Evaluate a public function in several units, with wrong dimensions, and in a world with other base units.

    The last is the strict one: if all lengths count twice as much, then everything that is made of lengths must follow.
    Where it does not, the formula itself holds a number with a dimension, such as the 0.0065 K/m of the atmosphere.
    """
    made = entry(name)
    if made.sort != "public":
        raise InputError("name", repr(name), "a public function, which takes quantities of kinds")
    function, given = made.function, worked_line(name)
    expected = function(**given)
    scale = np.max(np.abs(np.ravel(expected.m)))
    units, refused, wrong = 0, 0, []
    for key, kind in function.kinds.items():
        value = given[key] if isinstance(given[key], PlainQuantity) else Q(given[key], "dimensionless")
        for unit in dict.fromkeys((kind.us, kind.metric, *OTHER_UNITS.get(kind.si, ()))):
            now = function(**given | {key: _in(value, unit, kind)})
            if np.allclose(now.m, expected.m, rtol=1e-9, atol=1e-9 * scale):
                units += 1
            else:
                wrong.append(f"{key} in {unit}")
        for bad in _wrong(value, kind):
            try:
                function(**given | {key: bad})
            except InputError:
                refused += 1
            else:
                wrong.append(f"{key} takes {bad.units:~}")
    return Dimensions(units, refused, tuple(wrong), tuple(_holds(function, given)))


def _in(value: Qty, unit: str, kind: Kind) -> Qty:
    """The same value in another unit; a barometer's may come with or without its mark."""
    return Q(to_si("value", value, kind), kind.si).to(unit)


def _wrong(value: Qty, kind: Kind) -> Iterator[Qty]:
    """The same number with a dimension too much, one too few, and for pressures with the other mark."""
    number = Q(to_si("value", value, kind), kind.si.replace("delta_degC", "K"))
    yield Q(number.m, str(number.units) + " * meter" if kind.si != "dimensionless" else "meter")
    yield Q(number.m, "kg")
    if kind.si != "dimensionless":
        yield Q(number.m, "dimensionless")
    if kind.si in ("Pag", "Paa"):
        yield Q(number.m, "Paa" if kind.si == "Pag" else "Pag")


def _holds(function: Any, given: dict[str, Any]) -> Iterator[str]:
    """The base dimensions in which a formula is not homogeneous: it holds numbers of its own in them."""
    numbers, kinds = dict(given), function.kinds
    for key in kinds:
        numbers[key] = to_si(key, given[key], kinds[key])
    off = {key: numbers[key] * (1.0 + 2e-3 * (k + 1)) for k, key in enumerate(kinds)}  # off points where terms vanish
    try:
        plain = np.asarray(function.si(**numbers | off), dtype=float)
        numbers |= off
    except InputError:
        plain = np.asarray(function.si(**numbers), dtype=float)
    for base in BASE:
        factor = 1.25
        stretched = {
            key: np.asarray(value) * factor ** _power(function.kinds[key], base) if key in function.kinds else value
            for key, value in numbers.items()
        }
        try:
            now = np.asarray(function.si(**stretched), dtype=float)
        except InputError:
            yield base
            continue
        if not np.allclose(now, plain * factor ** _power(function.returns, base), rtol=1e-7, atol=0.0):
            yield base


def _power(kind: Kind, base: str) -> float:
    """With which power a base dimension is in a kind's SI unit."""
    unit = "K" if kind.si == "delta_degC" else kind.si
    return float(str(Q(1.0, unit).dimensionality.get(f"[{base}]", 0)))
