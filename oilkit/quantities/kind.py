"""What a number is: its unit inside and on display, its range, and how it reads; the kit's own are in `kinds`."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Any

from oilkit.quantities.units import Q, Qty, unit_switch


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

    def labels(self) -> str:
        """``qt or L``: the units of both systems, once if they are the same; nothing for a plain number."""
        return " or ".join(dict.fromkeys(filter(None, (self.label("US"), self.label("SI")))))

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

    def exact_both(self, si_value: float, figures: int = 6) -> str:
        """As `exact_text`, in both systems."""
        us, metric = (self.exact_text(si_value, system, figures) for system in ("US", "SI"))
        return us if us == metric else f"{us} ({metric})"

    def span(self, written: Callable[[float], str]) -> str:
        """``from 0.0 psig up to 40.0 psig``: the range, as far as it has limits. written: how a limit is written."""
        low = f"{'above' if self.above_low else 'from'} {written(self.low)}" if math.isfinite(self.low) else ""
        high = f"up to {written(self.high)}" if math.isfinite(self.high) else ""
        return f"{low} {high}".strip()

    def wanted(self) -> str:
        """The range in words, in the learner's units."""
        return f"{self.noun} {self.span(self.exact_text)}".strip()

    def quantity(self, si_value: Any) -> Qty:
        """SI number(s) as a quantity in the trade's shop unit."""
        return Q(self.display(si_value, "US"), self.us)

    def question(self, name: str, si_value: float, written: object = "") -> str:
        """What to ask about a number that is unlikely; nothing about a usual one. written: the unit that it came in."""
        if self.usual_low <= si_value * (1.0 + 1e-9) and si_value <= self.usual_high * (1.0 + 1e-9):
            return ""
        asked = f"is its unit right{self.meant(si_value, str(written))}?"
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
    "W/m**2/K": "W/m²K",
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
    "W/m**2/K": ("W/m**2/K", "BTU/hour/ft**2/delta_degF"),
    "Pa*s": ("cP", "Pa*s"),
    "m**2/s": ("cSt", "St"),
    "rev/s": ("rpm", "rev/s"),
}
"""Units that people use for numbers of a kind, beside those on display: one may be meant where another was typed."""
