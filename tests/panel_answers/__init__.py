"""What each panel's table must show, worked out through the package's public functions on pint quantities.

The panels compute inside on plain SI numbers; the tests hold them against these. One module for the panels of each
lesson; a function in it named as a panel takes the controls' values and returns the rows of that panel's table.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from oilkit import panels
from oilkit.panels.framework.controls import Amount
from panel_answers import (
    lesson_03,
    lesson_04,
    lesson_05,
    lesson_06,
    lesson_07,
    lesson_08,
    lesson_09_commissioning,
    lesson_09_faults,
    lesson_10,
    lesson_11,
    lesson_12,
    lessons_00_to_02,
)

MODULES = (
    lessons_00_to_02,
    lesson_03,
    lesson_04,
    lesson_05,
    lesson_06,
    lesson_07,
    lesson_08,
    lesson_09_commissioning,
    lesson_09_faults,
    lesson_10,
    lesson_11,
    lesson_12,
)
ANSWERS: dict[str, Callable[[dict[str, Any]], dict[str, Any]]] = {
    name: getattr(module, name) for module in MODULES for name in panels.__all__ if hasattr(module, name)
}
assert set(panels.__all__) - set(panels.NO_PANELS) == set(ANSWERS), "every panel needs its answers here"


def quantities(panel: Any) -> dict[str, Any]:
    """Control values as a learner sees them: quantities, numbers and option texts."""
    return {
        name: (control.quantity if isinstance(control, Amount) else control.value)
        for name, control in panel.controls.items()
    }
