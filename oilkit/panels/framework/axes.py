"""Axes that stand still while what they show moves."""

from __future__ import annotations

import math
from collections.abc import Sequence

from oilkit.quantities.kind import Kind


class StillAxis:
    """Upper end of an axis that stays where it is as long as what it shows stands neither above nor far below it."""

    def __init__(self, kind: Kind, floor: float) -> None:
        """floor: the least that the axis ever ends at, in SI."""
        self._kind, self._floor = kind, floor
        self._held = "", 0.0

    def end(self, highest: float) -> float:
        """The axis's end, as shown, for the highest SI number on it."""
        shown = float(self._kind.display(max(highest, self._floor)))
        unit, held = self._held
        if unit != self._kind.unit():
            self._held = self._kind.unit(), round_up(shown)
        elif not 0.2 * held <= shown <= held:
            self._held = unit, round_up(1.8 * shown)  # with room, so that the next move does not push it again
        return self._held[1]


ENDS, STEPS = (1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0), (1.0, 2.0, 5.0, 10.0)
"""Round numbers, times a power of ten: for the end of an axis, and to count in."""


def round_up(top: float, to: Sequence[float] = ENDS) -> float:
    """The next round number that is not below this one."""
    power = 10.0 ** math.floor(math.log10(top))
    return next(m * power for m in to if m * power >= top * (1.0 - 1e-9))
