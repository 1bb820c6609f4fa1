"""Numbers of the predictions of lesson 00: what a gauge shows, at home and up a mountain."""

from __future__ import annotations

from typing import Any

from oilkit.physics.pressure import absolute_pressure, ambient_pressure, gauge_pressure
from oilkit.quantities.units import Q, Qty


def open_dial() -> dict[str, Any]:
    """An unconnected gauge."""
    return {"answer": absolute_pressure(Q(0, "psig")), "vacuum": Q(0, "psia")}


def climb(charge: Qty, height: Qty) -> dict[str, Any]:
    """A sealed gas carried up a mountain."""
    shown = gauge_pressure(absolute_pressure(charge), ambient_pressure(height))
    return {"answer": shown}
