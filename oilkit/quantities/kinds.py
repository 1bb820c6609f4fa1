"""Kinds: what each number of the kit is, its unit inside and on display, its range, and the check at the door."""

from __future__ import annotations

import dataclasses
import math
import re
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from pint.facets.plain import PlainQuantity

from oilkit.errors import InputError, cut
from oilkit.quantities.units import Q, Qty, short_text, unit_switch, ureg, what_came


@cache
def _linear(unit: str, si: str) -> tuple[float, float]:
    """Scale and offset with which a number in ``unit`` becomes a number in ``si``."""
    zero = float(Q(0.0, unit).to(si).magnitude)
    return float(Q(1.0, unit).to(si).magnitude) - zero, zero


@dataclass(frozen=True)
class Kind:
    """What an argument or a result is: its unit inside, its units on display, and the range that makes sense.

    ``low`` and ``high`` are in the SI unit; ``above_low`` excludes the low end itself. Outside them a value cannot be,
    and is refused; outside ``usual_low`` to ``usual_high`` it is unlikely, and asked about (`question`).
    """

    noun: str
    si: str
    us: str
    us_digits: int
    metric: str
    metric_digits: int
    example: str
    low: float = -math.inf
    high: float = math.inf
    above_low: bool = False
    infinite: bool = False
    also: tuple[str, ...] = ()
    """Units of further dimensions that mean the same here (a barometer's reading needs no mark)."""
    usual_low: float = -math.inf
    usual_high: float = math.inf

    def unit(self, system: str | None = None) -> str:
        return self.us if (system or unit_switch.system) == "US" else self.metric

    def digits(self, system: str | None = None) -> int:
        return self.us_digits if (system or unit_switch.system) == "US" else self.metric_digits

    def label(self, system: str | None = None) -> str:
        """The unit as it stands on an axis or behind a number."""
        return LABELS.get(self.unit(system), self.unit(system))

    def display(self, si_value: Any, system: str | None = None) -> Any:
        """SI number(s) to number(s) in the unit on display."""
        scale, zero = _linear(self.unit(system), self.si)
        return (si_value - zero) / scale

    def from_display(self, number: Any, system: str | None = None) -> Any:
        """Number(s) in the unit on display to SI."""
        scale, zero = _linear(self.unit(system), self.si)
        return number * scale + zero

    def text(self, si_value: float, system: str | None = None) -> str:
        """``1.50 qt``: one SI number as the learner reads it."""
        shown = self.number(si_value, system)
        return shown if "infinite" in shown else f"{shown} {self.label(system)}".rstrip()

    def number(self, si_value: float, system: str | None = None) -> str:
        """``1.50``: as `text`, without the unit."""
        shown = float(self.display(float(si_value), system))
        if math.isinf(shown):
            return "infinite" if shown > 0 else "minus infinite"
        digits = self.digits(system)
        return f"{round(shown, digits) + 0.0:.{digits}f}"

    def exact_text(self, si_value: float, system: str | None = None, figures: int = 6) -> str:
        """As `text`, with more digits where the value has them."""
        number = float(self.display(float(si_value), system))
        plain = f"{number:.{self.digits(system)}f}"
        shown = plain if math.isclose(float(plain), number, rel_tol=1e-9, abs_tol=1e-12) else f"{number:.{figures}g}"
        return f"{shown} {self.label(system)}".rstrip()

    def unlike(self, si_value: float, *others: float) -> str:
        """As `exact_text`, with as many digits as it takes to tell the value from others, such as a limit it broke."""
        shown = self.exact_text(si_value)
        number = float(shown.split()[0])
        alike = any(number == float(self.exact_text(other).split()[0]) for other in others if math.isfinite(other))
        return self.exact_text(si_value, figures=12) if alike else shown

    def both(self, si_value: float) -> str:
        """``1.50 qt (1.42 L)``: one SI number in both systems."""
        us, metric = self.text(si_value, "US"), self.text(si_value, "SI")
        return us if us == metric else f"{us} ({metric})"

    def wanted(self) -> str:
        """The range in words, in the learner's units."""
        low = f"{'above' if self.above_low else 'from'} {self.exact_text(self.low)}"
        high = f"up to {self.exact_text(self.high)}"
        has_low, has_high = math.isfinite(self.low), math.isfinite(self.high)
        if has_low and has_high:
            return f"{self.noun} {low} {high}"
        return f"{self.noun} {low if has_low else high}" if has_low or has_high else self.noun

    def quantity(self, si_value: Any) -> Qty:
        """SI number(s) as a quantity in the trade's shop unit."""
        return Q(self.display(si_value, "US"), self.us)

    def question(self, name: str, si_value: float, written: str = "") -> str:
        """What to ask about a number that is unlikely; nothing about a usual one. written: the unit that it came in."""
        if self.usual_low <= si_value * (1.0 + 1e-9) and si_value <= self.usual_high * (1.0 + 1e-9):
            return ""
        asked = f"is its unit right{self.meant(si_value, written)}?"
        return f"Unusual: {name}, {self.both(si_value)}. {asked[0].upper()}{asked[1:]}"

    def meant(self, si_value: float, written: str = "") -> str:
        """``, or did you mean 868 kg/m³``: the same number with a common unit that makes it usual, if there is one."""
        units = dict.fromkeys((self.unit(), self.us, self.metric, *COMMON.get(self.si, ())))
        if not math.isfinite(self.usual_low + self.usual_high):
            return ""
        for came in dict.fromkeys(filter(None, (written, self.unit(), self.us, self.metric))):
            scale, zero = _linear(came, self.si)
            number = float(f"{(si_value - zero) / scale:.12g}")
            if float(f"{number:.5g}") != number:
                continue  # nobody typed so many digits: it came in another unit
            for unit in units:
                scale, zero = _linear(unit, self.si)
                likely = self.usual_low <= number * scale + zero <= self.usual_high
                if likely and abs(number) >= 2e-4:  # 0.0001 ft is nothing that anybody writes
                    shown = LABELS.get(unit, unit).replace("**2", "²").replace("**3", "³")
                    return f", or did you mean {number:g} {shown}"
        return ""


@dataclass(frozen=True)
class Span:
    """What a field of a record usually is, and what it can be: numbers with their units, ``"0.2 qt"``.

    It stands in the field's annotation behind its kind. What is usual is common practice, no source; the limits of the
    possible are drawn wide, from the smallest motorcycle to the largest race engine and beyond (chosen, no source).
    """

    usual_low: str | float
    usual_high: str | float
    low: str | float | None = None
    high: str | float | None = None

    def of(self, kind: Kind) -> Kind:
        """The kind with these limits; where none is stated its own stays."""
        ends: dict[str, Any] = {end: _end(value, kind) for end, value in vars(self).items() if value is not None}
        return dataclasses.replace(kind, **ends, above_low=kind.above_low and self.low is None)


def _end(value: str | float, kind: Kind) -> float:
    number, _, unit = str(value).partition(" ")
    return float(Q(float(number), unit or kind.si).to(kind.si).magnitude)


ROUNDING = 1.0 + 1e-12
"""Two equal values given in different units may differ by this factor, no more."""

LABELS = {
    "degF": "°F",
    "degC": "°C",
    "delta_degF": "°F",
    "delta_degC": "K",
    "Lpm": "L/min",
    "hPa": "hPa",
    "dimensionless": "",
    "percent": "%",
    "percent/K": "%/K",
    "g_0": "g",
    "kg/m**3": "kg/m³",
    "m**2": "m²",
    "mm**2": "mm²",
    "in**2": "in²",
    "cm**2": "cm²",
    "in**3": "in³",
    "cm**3": "cm³",
    "in**3/rev": "in³/rev",
    "cm**3/rev": "cm³/rev",
}
"""How a unit is written for a reader where pint's own short name is not how the trade writes it."""

_PRESSURES = ("psi", "bar", "kPa", "MPa")
COMMON: dict[str, tuple[str, ...]] = {
    "Pag": tuple(f"{unit}g" for unit in _PRESSURES),
    "Paa": tuple(f"{unit}a" for unit in _PRESSURES),
    "Pa": _PRESSURES,
    "m**3": ("qt", "L", "cm**3", "gal", "in**3", "m**3"),
    "m": ("in", "mm", "thou", "cm", "ft", "m"),
    "m**2": ("in**2", "cm**2", "mm**2", "ft**2", "m**2"),
    "m**3/s": ("gpm", "Lpm", "qt/min", "cm**3/s"),
    "m**3/rev": ("in**3/rev", "cm**3/rev"),
    "kg/m**3": ("kg/m**3", "g/cm**3", "lb/gal", "lb/ft**3"),
    "K": ("degC", "degF", "K"),
    "s": ("s", "ms", "min"),
    "Pa*s": ("cP", "Pa*s"),
    "m**2/s": ("cSt", "St"),
    "rev/s": ("rpm", "rev/s"),
}
"""Units that people use for numbers of a kind, beside those on display: one may be meant where another was typed."""

GAUGE = Kind("a gauge pressure", "Pag", "psig", 1, "barg", 3, "Q(10, 'psig')")
ABSOLUTE = Kind("an absolute pressure", "Paa", "psia", 1, "bara", 3, "Q(24.7, 'psia')", low=0.0, above_low=True)
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
INDEX = Kind(
    "a polytropic index",
    "dimensionless",
    "dimensionless",
    2,
    "dimensionless",
    2,
    "1.4",
    low=1.0,
    high=1.7,
)
FRACTION = Kind("a fraction", "dimensionless", "dimensionless", 3, "dimensionless", 3, "0.5", low=0.0, high=1.0)
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
REYNOLDS = _number("a Reynolds number", 0, "5000", low=1e-3, high=1e10)
FRICTION_FACTOR = _number("a Darcy friction factor", 4, "0.03", low=0.0, above_low=True)
ROUGHNESS = _number("a relative roughness", 4, "0.001", low=0.0, high=0.05)
LOSS = _number("a loss coefficient", 2, "1.5", low=0.0)
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
RESISTANCE = Kind("a resistance", "ohm", "ohm", 3, "ohm", 3, "Q(0.1, 'ohm')", low=0.0, high=1e6)
CROSS_SECTION = Kind("a cross-section", "m**2", "mm**2", 2, "mm**2", 2, "Q(1.5, 'mm**2')", low=1e-10, high=1e-2)


# ----------------------------------------------------------------------------------------------- the way in and out

_DIMENSIONS = {
    "[mass] / [length] / [time] ** 2": "a pressure that does not say gauge or absolute",
    "[mass] * [gauge_pressure] / [length] / [time] ** 2": "a gauge pressure",
    "[mass] * [absolute_pressure] / [length] / [time] ** 2": "an absolute pressure",
    "[length] ** 3": "a volume",
    "[length]": "a length",
    "[time]": "a time",
    "[temperature]": "a temperature",
    "[length] ** 3 / [time]": "a flow",
    "dimensionless": "a plain number",
    "[length] ** 2 / [time]": "a kinematic viscosity",
    "[mass] / [length] / [time]": "a dynamic viscosity",
    "[mass] / [length] ** 3": "a density",
    "[shaft_rotation] / [time]": "a shaft speed",
    "[length] / [time]": "a velocity",
    "[length] / [time] ** 2": "an acceleration",
    "[length] ** 2": "an area",
    "[current]": "a current",
    "[mass] * [length] ** 2 / [current] / [time] ** 3": "a voltage",
    "1 / [time]": "a frequency (write a shaft speed in rpm)",
}


@cache
def _unit(name: str) -> Any:
    return ureg.Unit(name)


def _dimension_in_words(quantity: Qty) -> str:
    dimension = str(quantity.dimensionality)
    return _DIMENSIONS.get(dimension, f"a quantity of dimension {dimension}")


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
        if there or value.is_compatible_with(unit):
            try:
                numbers = np.array(value.magnitude if there else value.to(unit).magnitude, dtype=float)
            except (TypeError, ValueError):
                raise InputError(argument, f"a {type(value.magnitude).__name__} with a unit", wanted) from None
            break
    else:
        raise InputError(argument, f"{short_text(value)}, {_dimension_in_words(value)}", wanted)
    return checked(argument, numbers, kind, f"{value.units}")


def one_to_si(argument: str, value: Any, kind: Kind) -> float:
    """As `to_si`, for an argument that takes one value and no array."""
    number = to_si(argument, value, kind)
    if np.ndim(number):
        raise InputError(argument, f"{np.size(number)} values", "one value")
    return float(number)


def is_difference(quantity: Qty) -> bool:
    """Whether a quantity is a temperature difference such as 25 delta_degC, which is no temperature."""
    return "delta_" in str(quantity.units)


def first_where(bad: Any, *numbers: Any) -> tuple[float, ...]:
    """The numbers at the first place where ``bad`` holds, all broadcast to its shape."""
    place = int(np.flatnonzero(np.ravel(bad))[0])
    return tuple(float(np.ravel(np.broadcast_to(n, np.shape(bad)))[place]) for n in numbers)


def fitted_together(numbers: dict[str, Any]) -> list[Any]:
    """Numbers and arrays, by the names of their arguments, as arrays of one shape; `InputError` if they do not fit."""
    try:
        return list(np.broadcast_arrays(*numbers.values()))
    except ValueError:
        raise misfit(numbers) from None


def misfit(numbers: dict[str, Any]) -> InputError:
    """The sentence about arrays whose shapes do not go together."""
    shapes = {name: np.shape(n) for name, n in numbers.items() if np.ndim(n)}
    got = ", ".join(f"{name} of shape {shape}" for name, shape in shapes.items())
    return InputError(next(iter(shapes), "arguments"), got, "arrays that fit together")


def has_unit(typed: str) -> bool:
    """Whether a text such as ``3 qt`` is a number followed by something, as against a number alone."""
    match = _number_and_unit(typed)
    return match is not None and match["unit"] is not None


def _holds_numbers(part: Any) -> bool:
    return not isinstance(part, str | bytes) and np.asarray(part).dtype.kind in "iuf"


def checked(argument: str, numbers: Any, kind: Kind, written: str = "") -> Any:
    """SI number(s) inside the kind's range, or `InputError`. written: the unit that they came in."""
    numbers = np.asarray(numbers, dtype=float)
    bad = np.isnan(numbers) if kind.infinite else ~np.isfinite(numbers)
    if bad.any():
        which = "NaN (not a number)" if np.isnan(numbers[bad]).any() else "an infinite number"
        raise InputError(argument, _at(numbers, bad, which), kind.wanted())
    low, high = (end + side * (ROUNDING - 1.0) * abs(end) for side, end in ((-1.0, kind.low), (1.0, kind.high)))
    bad = (numbers > high) | (numbers <= kind.low if kind.above_low else numbers < low)
    if bad.any():
        first = float(numbers[bad].ravel()[0]) if numbers.ndim else float(numbers)
        got = kind.unlike(first, kind.low, kind.high)
        if numbers.ndim == 0 and (meant := kind.meant(first, written)):
            got += f" ({meant.removeprefix(', or ')}?)"
        raise InputError(argument, _at(numbers, bad, got), kind.wanted())
    return float(numbers) if numbers.ndim == 0 else numbers


def _at(numbers: np.ndarray[Any, Any], bad: np.ndarray[Any, Any], text: str) -> str:
    if numbers.ndim == 0 or numbers.size == 1:
        return text
    place = int(np.flatnonzero(bad.ravel())[0]) + 1
    return f"{text} (value {place} of {numbers.size})"


LONGEST_TYPED = 100
"""Letters of a number and its unit: what is longer was not meant to be one."""
_NUMBER_AND_UNIT = re.compile(r"(?P<number>[-+−]?(?:\d+(?:\.\d*|,\d+)?|\.\d+)(?:[eE][-+]?\d+)?)\s*(?P<unit>[^\d\s].*)?")
"""Of a text without spaces at its ends. No part can begin where the one before it might have gone on."""
_FRACTION = re.compile(r"(?P<sign>[-+−]?)(?:(?P<whole>\d{1,6})[ -]+)?(?P<top>\d{1,6})/(?P<bottom>\d{1,6})(?![\d./])")
_AS_TYPED = {
    "°F": "degF",
    "°C": "degC",
    "F": "degF",
    "C": "degC",
    "l": "L",
    "l/min": "Lpm",
    "L/min": "Lpm",
    '"': "in",
    "mil": "thou",
    "mils": "thou",
}
_MARKED = ("psi", "bar", "kPa", "MPa", "Pa")
_PREFIXES = {
    "liter": ("milli", "centi", "deci"),
    "meter": ("micro", "milli", "centi", "deci", "kilo"),
    "meter_Hg": ("milli",),
    "gram": ("kilo",),
    "second": ("milli",),
    "stokes": ("centi",),
    "poise": ("centi",),
    "watt": ("kilo",),
    "ampere": ("milli",),
    "volt": ("milli", "kilo"),
    "ohm": ("milli", "kilo"),
    **dict.fromkeys(("bar", "barg", "bara"), ("milli",)),
    **dict.fromkeys(("pascal", "Pag", "Paa"), ("hecto", "kilo", "mega")),
}
"""The prefixes that the trade puts before a unit (common practice, no source); before any other unit, none."""


def parse(argument: str, typed: str, kind: Kind) -> float:
    """What a learner typed, such as ``34.7``, ``34.7 psi`` or ``2.4 bar``, as a checked SI number.

    A number alone is in the unit on display. In a field for a gauge pressure ``psi`` means psig and in one for an
    absolute pressure psia, because the field says so; the other one's unit is refused. A decimal comma is read as a
    decimal point unless three digits follow it, which could mean thousands; ``3 1/2 in`` is a number too. A prefix
    that the trade does not put before a unit is asked about: ``5 ML`` was meant as mL, not as five million litres.
    Raises `InputError` with one sentence.
    """
    wanted = f"{kind.noun} such as {kind.text(typical(kind))}"
    match = _number_and_unit(typed)
    if match is None:
        raise InputError(argument, f"“{cut(typed.strip(), LONGEST_TYPED)}”" if typed.strip() else "nothing", wanted)
    if re.search(r",\d{3}(?:$|[eE])", match["number"]):
        raise InputError(
            argument, f"“{typed.strip()}”, where the comma could mean two things", f"a decimal point: {wanted}"
        )
    number = float(match["number"].replace("−", "-").replace(",", "."))
    unit = (match["unit"] or "").strip()
    as_shown = {kind.label(system): kind.unit(system) for system in unit_switch.systems}
    in_capitals = {label.upper(): name for label, name in as_shown.items()}
    unit = as_shown.get(unit) or in_capitals.get(unit) or _AS_TYPED.get(unit, unit)
    unit = re.sub(r"\b(in|ft|mm|cm|dm|m)([23])\b", r"\1**\2", unit)
    if kind.si == "delta_degC" and unit in ("degF", "degC", "K"):
        unit = f"delta_{unit.replace('K', 'degC')}"
    if not unit:
        return float(checked(argument, kind.from_display(number), kind))
    if len(unit) > 40 or _SUMS.search(unit):
        raise InputError(argument, f"“{cut(typed.strip())}”, with a unit the kit does not know", wanted)
    for spelling in (unit, unit.lower()):  # PSI and QT are meant as psi and qt
        value = _quantity(number, spelling, kind)
        if value is None:
            continue
        fits = any(value.is_compatible_with(u) for u in (kind.si, *kind.also))
        unmarked = kind.si in ("Pag", "Paa") and value.is_compatible_with("Pa")
        if (fits or unmarked) and not _of_the_trade(value, kind):
            others = [
                other for other in (spelling[:1].swapcase() + spelling[1:], spelling[1:]) if _is_usual(other, kind)
            ]
            meant = f" (did you mean {' or '.join(others)}?)" if others else ""
            raise InputError(argument, f"“{typed.strip()}”, with a unit that the trade does not use{meant}", wanted)
        if fits or spelling == unit.lower():
            return float(to_si(argument, value, kind, wanted))
    raise InputError(argument, f"“{typed.strip()}”, with a unit the kit does not know", wanted)


def _quantity(number: float, unit: str, kind: Kind) -> Qty | None:
    """A number with a unit as it was typed into a field of some kind; nothing if the unit is none."""
    marked = unit in _MARKED and kind.si in ("Pag", "Paa") and not kind.also
    try:
        return Q(number, unit + kind.si[-1] if marked else unit)
    except Exception:  # pint raises a dozen different errors for text that is no unit
        return None


def _of_the_trade(value: Qty, kind: Kind) -> bool:
    """Whether each part of a quantity's unit has a prefix that the trade puts there, or none."""
    for name in ureg.Unit(value.units)._units:
        allowed = {"milli"} if kind.si == "Pa*s" and name.endswith("pascal") else set()
        readings = ureg.parse_unit_name(name)
        if readings and not any(not p or p in allowed or p in _PREFIXES.get(base, ()) for p, base, _ in readings):
            return False
    return True


def _is_usual(unit: str, kind: Kind) -> bool:
    value = _quantity(1.0, unit, kind) if unit.strip() else None
    fits = value is not None and any(value.is_compatible_with(u) for u in (kind.si, *kind.also))
    return fits and value is not None and _of_the_trade(value, kind)


def _number_and_unit(typed: str) -> re.Match[str] | None:
    """What was typed as number and unit, in time that grows with its length alone; nothing if it is no number."""
    return _NUMBER_AND_UNIT.fullmatch(_decimal(typed.strip())) if len(typed) <= LONGEST_TYPED else None


def _decimal(typed: str) -> str:
    """``3 1/2 in`` as ``3.5 in``; what begins with no fraction as it is."""
    match = _FRACTION.match(typed)
    if match is None or int(match["bottom"]) == 0:
        return typed
    number = int(match["whole"] or 0) + int(match["top"]) / int(match["bottom"])
    return f"{match['sign']}{number!r} {typed[match.end() :]}"


_SUMS = re.compile(r"\d{3}|\d\s*(?:\*\*|\^|\*)|[*^]\s*\(|\(.*\(")
"""What no unit needs and what could keep a computer busy for ever: large powers, powers of numbers, nested sums."""


def typical(kind: Kind) -> float:
    """The kind's own example, in SI."""
    number, _, unit = kind.example.removeprefix("Q(").removesuffix(")").partition(",")
    if not unit:
        return float(number)
    value = Q(float(number), unit.strip(" '"))
    return float(next(value.to(u).magnitude for u in (kind.si, *kind.also) if value.is_compatible_with(u)))
