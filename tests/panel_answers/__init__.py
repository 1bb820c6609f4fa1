"""What each panel's table must show, worked out through the package's public functions on pint quantities.

The panels compute inside on plain SI numbers; the tests hold them against these. One module for the panels of each
lesson; a function in it named as a panel takes the controls' values and returns the rows of that panel's table.
"""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from pkgutil import iter_modules
from typing import Any

from oilkit import panels
from oilkit.panels.framework.controls import Amount

MODULES = tuple(import_module(f"{__name__}.{found.name}") for found in iter_modules(__path__))
ANSWERS: dict[str, Callable[[dict[str, Any]], dict[str, Any]]] = {
    name: getattr(module, name) for module in MODULES for name in panels.__all__ if hasattr(module, name)
}
_OPEN = (set(panels.__all__) - set(panels.NO_PANELS)) ^ set(ANSWERS)
assert not _OPEN, f"panels without a function of answers here, or the other way round: {sorted(_OPEN)}"


def quantities(panel: Any) -> dict[str, Any]:
    """Control values as a learner sees them: quantities, numbers and option texts."""
    return {
        name: (control.quantity if isinstance(control, Amount) else control.value)
        for name, control in panel.controls.items()
    }
