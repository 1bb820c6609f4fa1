"""Sliders for what the lessons let a learner change, by the sort of quantity. Numbers are in the unit named here."""

from __future__ import annotations

from typing import Any

from oilkit.panels.framework.controls import Amount
from oilkit.quantities.kind import Kind
from oilkit.quantities.kinds import (
    ALTITUDE,
    CLEARANCE_CHANGE,
    GAUGE,
    LINE_LENGTH,
    OIL,
    PRESSURE_DIFFERENCE,
    SPEED,
    TEMPERATURE,
    TIME,
)
from oilkit.quantities.units import Q

Step = float | tuple[float, float]
"""A slider's step in the US unit and in the SI one; one number where they are the same."""


def amount(
    name: str, label: str, kind: Kind, unit: str, low: float, high: float, start: float, step: Step, **more: Any
) -> Amount:
    """A slider from low to high, opened at start, all in one unit."""
    steps = step if isinstance(step, tuple) else (step, step)
    return Amount(name, label, kind, Q(low, unit), Q(high, unit), Q(start, unit), steps, **more)


def pressure(name: str, label: str, low: float, high: float, start: float, step: Step = (0.5, 0.02)) -> Amount:
    """A gauge pressure in psig."""
    return amount(name, label, GAUGE, "psig", low, high, start, step)


def drop(name: str, label: str, low: float, high: float, start: float, step: Step = (0.5, 0.02)) -> Amount:
    """A pressure difference in psi."""
    return amount(name, label, PRESSURE_DIFFERENCE, "psi", low, high, start, step)


def warmth(name: str, label: str, low: float, high: float, start: float, step: Step = (2, 1)) -> Amount:
    """A temperature in °C."""
    return amount(name, label, TEMPERATURE, "degC", low, high, start, step)


def altitude(name: str, label: str, high: float = 10_000.0) -> Amount:
    """An altitude in feet, opened at sea level."""
    return amount(name, label, ALTITUDE, "ft", 0.0, high, 0.0, (100, 50))


def seconds(
    name: str, label: str, low: float, high: float, start: float, step: Step, kind: Kind = TIME, **more: Any
) -> Amount:
    """A time."""
    return amount(name, label, kind, "s", low, high, start, step, **more)


def moment(label: str, longest: float, step: float) -> Amount:
    """The present moment of a panel that runs over time."""
    return seconds("time", label, 0.0, longest, 0.0, step, typed=False)


def length(label: str, low: float, high: float, start: float, name: str = "length", step: Step = (0.5, 0.1)) -> Amount:
    """The length of a line or cable in feet."""
    return amount(name, label, LINE_LENGTH, "ft", low, high, start, step)


def clearance_change(name: str = "clearance_change", low: float = -1.0, high: float = 2.0) -> Amount:
    """What wear or another machining does to the clearances, in thousandths of an inch."""
    label = "Mains and rods: clearance changed by"
    return amount(name, label, CLEARANCE_CHANGE, "thou", low, high, 0.0, (0.1, 0.002))


def speed(low: float, high: float, start: float, label: str = "Engine speed", step: Step = 100.0) -> Amount:
    """A shaft speed in rpm."""
    return amount("speed", label, SPEED, "rpm", low, high, start, step)


def oil(name: str, label: str, low: float, high: float, start: float, step: Step = 0.1, kind: Kind = OIL) -> Amount:
    """An amount of oil in quarts."""
    return amount(name, label, kind, "qt", low, high, start, step)
