"""The kit's kinds: each sort of number that it knows; and the check of a value that should be one of them."""

from __future__ import annotations

import dataclasses
import math
from functools import cache, lru_cache
from typing import Any

import numpy as np
from pint.facets.plain import PlainQuantity

from oilkit.errors import InputError
from oilkit.quantities.kind import Kind as Kind
from oilkit.quantities.kind import Span as Span
from oilkit.quantities.units import Q, Qty, short_text, ureg, what_came

ROUNDING = 1.0 + 1e-12
"""Two equal values given in different units may differ by this factor, no more."""

GAUGE = Kind("a gauge pressure", "Pag", "psig", 1, "barg", 2, "Q(10, 'psig')")
ABSOLUTE = Kind("an absolute pressure", "Paa", "psia", 1, "bara", 2, "Q(24.7, 'psia')", low=0.0, above_low=True)
AMBIENT = Kind(
    "the ambient pressure that a barometer shows",
    "Paa",
    "psia",
    2,
    "bara",
    3,
    "Q(1013.25, 'hPa')",
    low=20_000.0,
    high=115_000.0,
    also=("Pa",),
)
PRESSURE_DIFFERENCE = Kind("a pressure difference", "Pa", "psi", 2, "bar", 3, "Q(1, 'psi')")
VOLUME = Kind("a volume", "m**3", "qt", 2, "L", 2, "Q(3, 'qt')", low=0.0, above_low=True)
OIL = Kind("an amount of oil", "m**3", "qt", 2, "L", 2, "Q(1.5, 'qt')", low=0.0)
LENGTH = Kind("a length", "m", "in", 2, "mm", 1, "Q(4.5, 'in')", low=0.0, above_low=True)
DISTANCE = Kind("a distance", "m", "in", 2, "mm", 1, "Q(2.75, 'in')", low=0.0)
TEMPERATURE = Kind("a temperature", "K", "degF", 0, "degC", 0, "Q(68, 'degF')", low=200.0, high=600.0)
WORKING_TEMPERATURE = dataclasses.replace(TEMPERATURE, low=213.15, high=473.15)
"""Of oil and gas in a car: -60 to 200 °C, with room beyond the coldest morning and the hottest sump."""
TEMPERATURE_DIFFERENCE = Kind(
    "a temperature difference", "delta_degC", "delta_degF", 0, "delta_degC", 0, "Q(25, 'delta_degC')"
)
ALTITUDE = Kind("an altitude", "m", "ft", 0, "m", 0, "Q(5200, 'ft')", low=-500.0, high=11_000.0)
FLOW = Kind("a flow", "m**3/s", "gpm", 2, "Lpm", 2, "Q(4, 'gpm')", low=0.0, above_low=True)
RISE = dataclasses.replace(TEMPERATURE_DIFFERENCE, noun="a temperature rise", low=0.0, high=100.0)
ABOVE_AMBIENT = dataclasses.replace(GAUGE, low=0.0)
GAUGE_ABOVE_ZERO = dataclasses.replace(GAUGE, low=0.0, above_low=True)
RATED_DROP = dataclasses.replace(PRESSURE_DIFFERENCE, low=0.0, above_low=True)
TIME = Kind("a time", "s", "s", 2, "s", 2, "Q(5, 's')", low=0.0)
DURATION = dataclasses.replace(TIME, above_low=True)
"""A time in which something is to happen: within no time at all nothing goes wrong, and everything looks safe."""
AT_MOST_A_MINUTE = dataclasses.replace(TIME, high=60.0)
"""A tolerance of more than that would make any vessel look safe."""
TIME_CONSTANT = Kind("a time constant", "s", "s", 1, "s", 1, "Q(5, 's')", low=0.0, infinite=True)
_PER_AREA = "W/m**2/K"
HEAT_TRANSFER = Kind(
    "a heat transfer coefficient", _PER_AREA, _PER_AREA, 1, _PER_AREA, 1, "Q(7, 'W/m**2/K')", low=0.0, infinite=True
)
INDEX = Kind("a polytropic index", "dimensionless", "dimensionless", 2, "dimensionless", 2, "1.4", low=1.0, high=1.7)
FRACTION = Kind("a fraction", "dimensionless", "dimensionless", 3, "dimensionless", 3, "0.5", low=0.0, high=1.0)
PART = dataclasses.replace(FRACTION, us_digits=2, metric_digits=2)
"""A fraction as a panel shows it, ``0.50``: nobody knows it better."""
NUMBER = Kind("a plain number", "dimensionless", "dimensionless", 3, "dimensionless", 3, "1.0")


def _number(noun: str, digits: int, example: str, low: float = -math.inf, high: float = math.inf, **more: Any) -> Kind:
    return Kind(noun, "dimensionless", "dimensionless", digits, "dimensionless", digits, example, low, high, **more)


# Lines, valves and the pan
_100_QT = 0.0946352946
LEVEL = Kind("a level, below 0 under the mark", "m", "in", 2, "mm", 1, "Q(0.5, 'in')", low=-2.0, high=2.0)
PAN_CHANGE = Kind("more or less oil in the pan", "m**3", "qt", 2, "L", 2, "Q(-1, 'qt')", low=-_100_QT, high=_100_QT)
SHARE = Kind("a share", "dimensionless", "percent", 1, "percent", 1, "Q(2, 'percent')", low=-1.0, high=1.0)
BORE = Kind("a bore", "m", "in", 3, "mm", 2, "Q(0.625, 'in')", low=1e-9, high=0.3)
LINE_LENGTH = Kind("a length of line", "m", "ft", 1, "m", 2, "Q(10, 'ft')", low=0.0, high=100.0)
THROUGH_FLOW = Kind("a flow", "m**3/s", "gpm", 2, "Lpm", 2, "Q(4, 'gpm')", low=0.0, high=1.0)
DROP = Kind("a pressure difference", "Pa", "psi", 2, "bar", 3, "Q(10, 'psi')", low=0.0)
VELOCITY = Kind("a velocity", "m/s", "ft/s", 1, "m/s", 2, "Q(10, 'ft/s')", low=0.0, high=300.0)
ACCELERATION = Kind("an acceleration", "m/s**2", "g_0", 2, "g_0", 2, "Q(1, 'g_0')", low=-200.0, high=200.0)
ACCELERATION_ABOVE_ZERO = dataclasses.replace(ACCELERATION, low=0.0, above_low=True)
OFFSET = Kind("a distance, below 0 the other way", "m", "in", 2, "mm", 1, "Q(4, 'in')", low=-2.0, high=2.0)
REYNOLDS = _number("a Reynolds number", 0, "5000", low=1e-3, high=1e10)
FRICTION_FACTOR = _number("a Darcy friction factor", 4, "0.03", low=0.0, above_low=True)
ROUGHNESS = _number("a relative roughness", 4, "0.001", low=0.0, high=0.05)
LOSS = _number("a loss coefficient", 2, "1.5", low=0.0)
LOSS_ABOVE_ZERO = dataclasses.replace(LOSS, above_low=True)
DISCHARGE = _number("a discharge coefficient", 2, "0.62", low=0.0, high=1.0, above_low=True)
AREA = Kind("an area", "m**2", "in**2", 1, "cm**2", 0, "Q(100, 'in**2')", low=0.0, above_low=True)
POWER = Kind("a power", "W", "hp", 2, "kW", 3, "Q(1, 'hp')")

# Oil
KINEMATIC_VISCOSITY = Kind("a kinematic viscosity", "m**2/s", "cSt", 2, "cSt", 2, "Q(10, 'cSt')", low=1e-6, high=1.0)
DYNAMIC_VISCOSITY = Kind("a dynamic viscosity", "Pa*s", "cP", 2, "cP", 2, "Q(9, 'cP')", low=1e-4, high=1e3)
DENSITY = Kind("a density", "kg/m**3", "lb/gal", 2, "kg/m**3", 0, "Q(850, 'kg/m**3')", low=0.0, above_low=True)
EXPANSION = Kind(
    "a thermal expansion", "1/K", "percent/K", 3, "percent/K", 3, "Q(0.07, 'percent/K')", low=0.0, high=2e-3
)
FACTOR = _number("a factor", 3, "0.85", low=0.0, high=1.0, above_low=True)

# Bearings, engine and pump
CLEARANCE = Kind("a clearance", "m", "thou", 2, "mm", 4, "Q(2.5, 'thou')", low=0.0, high=2e-3, above_low=True)
CLEARANCE_CHANGE = Kind("a change of clearance", "m", "thou", 2, "mm", 4, "Q(1, 'thou')", low=-2e-3, high=2e-3)
CLEARANCE_SPREAD = dataclasses.replace(CLEARANCE_CHANGE, low=0.0)
ECCENTRICITY = _number("an eccentricity ratio", 2, "0.7", low=0.0, high=1.0)
SPEED = Kind("a shaft speed", "rev/s", "rpm", 0, "rpm", 0, "Q(3000, 'rpm')", low=0.0, high=500.0)
DISPLACEMENT = Kind(
    "a displacement per revolution",
    "m**3/rev",
    "in**3/rev",
    2,
    "cm**3/rev",
    1,
    "Q(1.2, 'in**3/rev')",
    low=0.0,
    above_low=True,
)
RATIO = _number("a ratio", 2, "0.5", low=0.0, high=5.0, above_low=True)
COUNT = _number("a count", 0, "8", low=0.0, high=1000.0)

# Wiring
CURRENT = Kind("a current", "A", "A", 2, "A", 2, "Q(3, 'A')", low=0.0, high=1e4, above_low=True)
VOLTAGE = Kind("a voltage", "V", "V", 2, "V", 2, "Q(12, 'V')", low=0.0, high=1e3)
RATED_VOLTAGE = dataclasses.replace(VOLTAGE, above_low=True)
RESISTANCE = Kind("a resistance", "ohm", "ohm", 3, "ohm", 3, "Q(0.1, 'ohm')", low=0.0, high=1e6)
CROSS_SECTION = Kind("a cross-section", "m**2", "mm**2", 2, "mm**2", 2, "Q(1.5, 'mm**2')", low=1e-10, high=1e-2)
WIRE_GAUGE = _number("a gauge number, -3 for 4/0", 0, "16", low=-3.0, high=40.0)

# How a function works
ACCURACY = _number("a relative accuracy", 3, "0.001", low=1e-9, high=1e-3)
ACCURACY_CLASS = _number("percent of full scale", 1, "2.5", low=0.0, high=10.0, above_low=True)
SEED = _number("a whole number", 0, "1", low=0.0)
DRAWS = _number("a whole number", 0, "60", low=1.0, high=10_000.0)
SETTLING = _number("a number", 1, "5", low=0.0)
STEPS = _number("a whole number", 0, "400", low=1.0)


# ----------------------------------------------------------------------------------------------- the way in and out

BY_DIMENSION: dict[Any, Kind] = {
    Q(1.0, kind.si).dimensionality: kind
    for kind in (
        NUMBER,
        CURRENT,
        VOLTAGE,
        RESISTANCE,
        SPEED,
        KINEMATIC_VISCOSITY,
        DYNAMIC_VISCOSITY,
        DENSITY,
        VELOCITY,
        ACCELERATION,
        POWER,
        DISPLACEMENT,
        TIME,
        HEAT_TRANSFER,
        FLOW,
        TEMPERATURE,
        DISTANCE,
        OIL,
        PRESSURE_DIFFERENCE,
        ABSOLUTE,
        GAUGE,
    )
}
"""What a quantity is that says no more than its dimension."""
_IN_WORDS = {
    "[mass] / [length] / [time] ** 2": "a pressure that does not say gauge or absolute",
    "[length] ** 3": "a volume",
    "[length]": "a length",
    "[length] ** 2": "an area",
    "1 / [time]": "a frequency (write a shaft speed in rpm)",
}
"""What is to be said of a dimension where no kind's noun says it."""


@cache
def _unit(name: str) -> Any:
    return ureg.Unit(name)


def _dimension_in_words(quantity: Qty) -> str:
    dimension = quantity.dimensionality
    kind = BY_DIMENSION.get(dimension)
    return _IN_WORDS.get(f"{dimension}") or (kind.noun if kind else f"a quantity of dimension {dimension}")


def to_si(argument: str, value: Any, kind: Kind, wanted: str = "") -> Any:
    """A quantity at the door: its number(s) in SI, or `InputError` with one sentence.

    Returns a float for a scalar and a float array of the same shape for an array. wanted: how to say what is wanted,
    where an example in Python would not help.
    """
    with_unit = "" if kind.si == "dimensionless" else " with its unit"
    wanted = wanted or f"{kind.noun}{with_unit}, such as {kind.example}"
    if kind.si == "dimensionless" and not isinstance(value, PlainQuantity):
        if isinstance(value, bool | str) or value is None:
            raise InputError(argument, repr(value), wanted)
        parts = value if isinstance(value, list | tuple) else [value]
        if not all(_holds_numbers(part) for part in parts):
            raise InputError(argument, f"a {type(value).__name__}", wanted)
        value = Q(np.asarray(value, dtype=float)[()], "dimensionless")
    if not isinstance(value, PlainQuantity):
        raise InputError(argument, what_came(value), wanted)
    if np.ma.isMaskedArray(value.magnitude):
        raise InputError(argument, "a masked array", wanted)
    if kind.si == "K" and is_difference(value):
        raise InputError(argument, f"{short_text(value)}, a temperature difference", wanted)
    for unit in (kind.si, *kind.also):
        there = value.units == _unit(unit)
        if there or value.is_compatible_with(_unit(unit)):
            try:
                numbers = np.array(value.magnitude if there else value.to(unit).magnitude, dtype=float)
            except (TypeError, ValueError):
                raise InputError(argument, f"a {type(value.magnitude).__name__} with a unit", wanted) from None
            break
    else:
        raise InputError(argument, f"{short_text(value)}, {_dimension_in_words(value)}", wanted)
    return checked(argument, numbers, kind, value.units)


def one_to_si(argument: str, value: Any, kind: Kind) -> float:
    """As `to_si`, for an argument that takes one value and no array."""
    number = to_si(argument, value, kind)
    if np.ndim(number):
        raise InputError(argument, f"{np.size(number)} values", "one value")
    return float(number)


def is_difference(quantity: Qty) -> bool:
    """Whether a quantity is a temperature difference such as 25 delta_degC, which is no temperature."""
    return _is_difference(quantity.units)


@cache
def _is_difference(units: Any) -> bool:
    return "delta_" in str(units)


def first_where(bad: Any, *numbers: Any) -> tuple[float, ...]:
    """The numbers at the first place where ``bad`` holds, all broadcast to its shape."""
    place = int(np.flatnonzero(np.ravel(bad))[0])
    return tuple(float(np.ravel(np.broadcast_to(n, np.shape(bad)))[place]) for n in numbers)


def refuse(bad: Any, argument: str, value: Any, limit: Any, kind: Kind, wanted: str) -> None:
    """Raise `InputError` for the first value, in SI, at a place where ``bad`` holds.

    limit: which it breaks, SI; wanted: what would do, with ``{}`` where the limit stands.
    """
    if np.any(bad):
        came, end = first_where(bad, value, limit)
        raise InputError(argument, kind.unlike(came, end), wanted.format(kind.exact_text(end)))


def fitted_together(numbers: dict[str, Any]) -> list[Any]:
    """Numbers and arrays, by the names of their arguments, as arrays of one shape; `InputError` if they do not fit."""
    try:
        return list(np.broadcast_arrays(*numbers.values()))
    except ValueError:
        shapes = {name: np.shape(n) for name, n in numbers.items() if np.ndim(n)}
        got = ", ".join(f"{name} of shape {shape}" for name, shape in shapes.items())
        raise InputError(next(iter(shapes)), got, "arrays that fit together") from None


def _holds_numbers(part: Any) -> bool:
    return not isinstance(part, str | bytes) and np.asarray(part).dtype.kind in "iuf"


def checked(argument: str, numbers: Any, kind: Kind, written: Any = "") -> Any:
    """SI number(s) inside the kind's range, or `InputError`. written: the unit that they came in."""
    numbers = np.asarray(numbers, dtype=float)
    if numbers.ndim == 0 and kind.low < numbers < kind.high:
        return float(numbers)
    bad = np.isnan(numbers) if kind.infinite else ~np.isfinite(numbers)
    if bad.any():
        which = "NaN (not a number)" if np.isnan(numbers[bad]).any() else "an infinite number"
        raise InputError(argument, _at(numbers, bad, which), kind.wanted())
    low, high = (end + side * (ROUNDING - 1.0) * abs(end) for side, end in ((-1.0, kind.low), (1.0, kind.high)))
    bad = (numbers > high) | (numbers <= kind.low if kind.above_low else numbers < low)
    if bad.any():
        first = float(numbers[bad].ravel()[0]) if numbers.ndim else float(numbers)
        got = kind.unlike(first, kind.low, kind.high)
        if numbers.ndim == 0 and (meant := kind.meant(first, f"{written}")):
            got += f" ({meant.removeprefix(', or ')}?)"
        raise InputError(argument, _at(numbers, bad, got), kind.wanted())
    return float(numbers) if numbers.ndim == 0 else numbers


def _at(numbers: np.ndarray[Any, Any], bad: np.ndarray[Any, Any], text: str) -> str:
    if numbers.ndim == 0 or numbers.size == 1:
        return text
    place = int(np.flatnonzero(bad.ravel())[0]) + 1
    return f"{text} (value {place} of {numbers.size})"


@lru_cache(maxsize=256)
def typical(kind: Kind) -> float:
    """The kind's own example, in SI."""
    number, _, unit = kind.example.removeprefix("Q(").removesuffix(")").partition(",")
    if not unit:
        return float(number)
    value = Q(float(number), unit.strip(" '"))
    return float(next(value.to(u).magnitude for u in (kind.si, *kind.also) if value.is_compatible_with(u)))
