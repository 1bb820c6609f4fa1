"""What the worked engine is made of, each number with the range in which its true value may lie. (Lesson 12)"""

from __future__ import annotations

from dataclasses import dataclass

from oilkit.quantities import kinds
from oilkit.quantities.kind import Kind
from oilkit.quantities.records import beside
from oilkit.quantities.units import Q, Qty


@dataclass(frozen=True)
class Input:
    """One number of the worked engine and the range in which its true value may lie."""

    words: str
    kind: Kind
    usual: Qty
    low: Qty
    high: Qty
    why: str
    """Where the range comes from."""

    def text(self, value: Qty) -> str:
        """A value of this input in both systems."""
        return self.kind.both(float(value.m_as(self.kind.si)))


INPUTS = {
    name: Input(words, vars(kinds)[kind.upper()], Q(usual, unit), Q(low, unit), Q(high, unit), why)
    for name, (words, kind, unit, usual, low, high, why) in beside(__file__)[1].items()
}
"""What the worked engine is made of, beside the bench vessel, the street V8 and the street oil of the data files."""
LIMIT = Q(20, "psig")
"""Gallery pressure that the worked engine needs: its warning pressure."""
EVENT = Q(3, "s")
"""Length of the event within which its lowest pressure is looked for."""
