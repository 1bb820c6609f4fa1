"""Steps of a worked case: one public function each, with what went in and what came out. (Lesson 12)"""

from __future__ import annotations

import dataclasses
import inspect
from collections.abc import Sequence
from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any

import numpy as np
from pint.facets.plain import PlainQuantity

from oilkit.physics.line import SupplyLine
from oilkit.quantities.printed import kind_for
from oilkit.quantities.units import Q, Qty

DIGITS, DIGITS_IN_TIME = 10, 6
"""Significant digits of what a step shows: enough to work the next step by hand and still agree in the fourth digit of
a difference, and a million times above a computer's rounding. What is worked out step by step in time is good to its
steps only, and shown to six."""


@dataclass(frozen=True)
class Step:
    """One step: a public function, what went in, what came out."""

    part: str
    title: str
    function: str
    given: dict[str, Any] = field(repr=False)
    value: Qty
    digits: int = DIGITS

    @property
    def si(self) -> float:
        """The value as a plain number in the kit's SI unit."""
        return float(self.value.m_as(_si_unit(self.value)))

    def exact(self) -> str:
        """The value in SI and in the shop's unit, to all digits that count."""
        return exact(self.value, self.digits)


def _si_unit(value: Qty) -> str:
    kind = kind_for(value)
    return kind.si if kind else str(value.units)


TOGETHER = {"Installation": "as bolted together", "Element": "the filter"}
"""What stands for a record without a name of its own."""


def exact(value: Any, digits: int = DIGITS) -> str:
    """A quantity in SI and in the shop's unit, to so many significant digits; anything else in its own words."""
    if isinstance(value, SupplyLine):
        losses = (f"K {f.si.loss_coefficient:g} at {f.bore:g~}" for f in value.fittings)
        return "; ".join([f"bore {value.hose.bore:g~}, length {value.length:g~}", *losses])
    if not isinstance(value, PlainQuantity):
        if dataclasses.is_dataclass(value):
            return str(getattr(value, "name", TOGETHER.get(type(value).__name__, type(value).__name__)))
        return f"{value:.{digits}g}" if isinstance(value, float) else str(value)
    if np.ndim(value.m):
        first, last = (exact(Q(float(np.ravel(value.m)[end]), value.units), digits) for end in (0, -1))
        return f"{np.size(value.m)} values from {first} to {last}"
    unit = _si_unit(value)
    in_si = f"{value.m_as(unit) + 0.0:.{digits}g} {'' if unit == 'dimensionless' else unit}".rstrip()
    kind = kind_for(value)
    if kind is None or kind.us == kind.si:
        return in_si
    return f"{in_si}  =  {kind.display(value.m_as(unit), 'US') + 0.0:.{digits}g} {kind.label('US')}"


class Book:
    """The steps as they are worked, and the numbers that later steps need."""

    def __init__(self, given: dict[str, Qty]) -> None:
        self.given = SimpleNamespace(**given)
        self.found = SimpleNamespace()
        self.steps: list[Step] = []
        self.part = ""

    def do(self, title: str, function: Any, *args: Any, take: str = "", digits: int = DIGITS, **more: Any) -> Any:
        """Call a public function, write the step down, and hand back the result (or what is taken of it)."""
        result = function(*args, **more)
        self.note(title, function, args, more, result, take, digits)
        return result

    def note(
        self, title: str, function: Any, args: Any, more: Any, result: Any, take: str = "", digits: int = DIGITS
    ) -> None:
        value = result
        for name in take.split(".") if take else ():
            value = getattr(value, name)
        value = value[-1] if np.ndim(value.m) else value  # of a path its end
        bound = inspect.signature(function).bind(*args, **more).arguments
        given = {key: part for key, part in bound.items() if key != "conditions"} | bound.get("conditions", {})
        name = function.__name__ + (f": {take}" if take else "")
        self.steps.append(Step(self.part, title, name, given, value, digits))


def as_text(steps: Sequence[Step], symbols: dict[str, str] | None = None) -> str:
    """Steps as an engineer would write them: what goes in, line by line, and what comes out."""
    lines: list[str] = []
    for number, step in enumerate(steps, 1):
        lines.append(f"{number:2}. {step.title}: {step.function}")
        if number > 1 and _same(step.given, steps[number - 2].given):
            lines += ["      (all that goes in: as in the step before)", f"    = {step.exact()}"]
            continue
        width = max((len(name) for name in step.given), default=0)
        for name, value in step.given.items():
            symbol = (symbols or {}).get(name, "") if isinstance(value, PlainQuantity | float) else ""
            lines.append(f"      {name:<{width}}  {symbol:<5}  {exact(value)}")
        lines.append(f"    = {step.exact()}")
    return "\n".join(lines)


def _same(one: dict[str, Any], other: dict[str, Any]) -> bool:
    return one.keys() == other.keys() and all(one[key] is other[key] for key in one)
