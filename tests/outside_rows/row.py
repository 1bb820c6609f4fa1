"""What a comparison with the outside world is, and what several topics need to make one."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Row:
    """One number of the kit and the same number from outside."""

    quantity: str
    kit: float
    reference: float
    tolerance: float
    relative: bool
    """Whether the tolerance is a part of the reference, or in the reference's own unit."""
    source: str
    why: str
    """Why the tolerance is as wide as it is."""

    @property
    def difference(self) -> float:
        """Kit minus reference, as a part of the reference if the tolerance is one."""
        return (self.kit - self.reference) / (abs(self.reference) if self.relative else 1.0)

    @property
    def inside(self) -> bool:
        return abs(self.difference) <= self.tolerance  # never true for NaN


# Units from their definitions, so that nothing of the kit's units is in a reference
INCH = 0.0254
POUND = 0.453_592_37
PSI = POUND * 9.806_65 / INCH**2
"""Pascals in a psi, from pound, standard gravity and inch."""
QUART = 57.75 * INCH**3
"""Cubic metres in a US quart, a quarter of 231 cubic inches."""
GPM = 4.0 * QUART / 60.0
"""Cubic metres per second in a US gallon per minute."""
ATMOSPHERE = 101_325.0

COMMON_PRACTICE = "common practice, no source"
FROM_MEMORY = "from memory"
ONLY_ROUNDING = "both are the same closed formula: only rounding is left"


def between(quantity: str, kit: float, low: float, high: float, why: str, source: str = COMMON_PRACTICE) -> Row:
    """A row for a fact that names a range only."""
    return Row(quantity, kit, (low + high) / 2, (high - low) / 2, False, source, why)
