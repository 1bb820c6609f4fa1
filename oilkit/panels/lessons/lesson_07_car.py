"""What the panels of lesson 07 share: the car, the track, and a bar for what takes long."""

from __future__ import annotations

import time
from typing import Self

import ipywidgets

from oilkit.laps.lap import usual_installation
from oilkit.panels.framework.bound import us
from oilkit.panels.framework.choices import car_of
from oilkit.physics.discharging import Installation
from oilkit.physics.engine import Engine
from oilkit.physics.vessel import Vessel
from oilkit.quantities.kind import Kind
from oilkit.quantities.kinds import GAUGE

TRACK = Kind("a distance along the road", "m", "ft", 0, "m", 0, "Q(500, 'm')", low=0.0)
TOP = us(GAUGE, 90.0)
CHARGE = "Pre-charge, at working temperature"
SOON = 0.5
"""Seconds of work after which a progress bar shows."""


class Progress(ipywidgets.FloatProgress):
    """A bar that shows itself while work takes longer than half a second. Call it with the share that is done."""

    def __init__(self, doing: str) -> None:
        super().__init__(min=0.0, max=1.0, description=doing, layout={"display": "none", "width": "330px"})
        self.style.description_width = "auto"

    def __enter__(self) -> Self:
        """A new piece of work begins."""
        self._since = time.monotonic()
        return self

    def __exit__(self, *why: object) -> None:
        self(1.0)

    def __call__(self, share: float) -> None:
        if share >= 1.0:
            self.layout.display = "none"
        elif time.monotonic() - self._since > SOON:
            self.layout.display = ""
        self.value = share


def built(engine: Engine, vessel: Vessel | None = None) -> Installation:
    """The lesson's installation with another engine and vessel; the learner's own engine comes with all that is its."""
    car = car_of(engine)
    usual = car.installation if car else usual_installation()
    return Installation(engine, usual.oil, vessel or usual.vessel, usual.line)
