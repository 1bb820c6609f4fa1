"""What pictures about the vessel share: it cut open with its two gauges, and the trade's usual pre-charge."""

from __future__ import annotations

from typing import Any

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from oilkit.panels.framework import drawing
from oilkit.panels.framework.bound import us
from oilkit.physics import vessel
from oilkit.physics.vessel import Vessel
from oilkit.quantities.kinds import DISTANCE, GAUGE

TOP = us(GAUGE, 120.0)
"""Full scale of the panels' gauges and axes."""


USUAL = us(GAUGE, 7.0), us(GAUGE, 10.0)
"""The trade's usual pre-charge (common practice, no source)."""


def usual_band(ax: Axes) -> None:
    """The trade's usual pre-charge on a graph with pre-charge along its foot."""
    low, high = (float(GAUGE.display(end)) for end in USUAL)
    style: dict[str, Any] = {"fc": drawing.YELLOW, "alpha": 0.45, "hatch": "..", "ec": drawing.GREY}
    ax.axvspan(low, high, label="the trade's usual", **style)


class VesselView:
    """Cutaway above, oil gauge and gas gauge below. Takes SI values and shows them in the units in use."""

    def __init__(self, figure: Figure, stroke: float, width: float = 0.5) -> None:
        """width: share of the picture's width that it takes."""
        self.ax = figure.add_axes((0.01, 0.45, width, 0.53))
        self.middle = drawing.Cutaway.height / 2
        self._cut = drawing.Cutaway(self.ax, float(DISTANCE.display(stroke)), DISTANCE.label())
        left, size = (0.01, 0.48) if drawing.least_points(self.ax) else (0.06, 0.4)  # for a class room for letters
        places = [((start + left) * width, 0.0, size * width, 0.45) for start in (0.0, 0.5)]
        self._oil = drawing.Dial(figure.add_axes(places[0]), "oil gauge", GAUGE, TOP)
        self._gas = drawing.Dial(figure.add_axes(places[1]), "gas gauge", GAUGE, TOP)

    @property
    def moving(self) -> list[Artist]:
        return [*self._cut.moving, *self._oil.moving, *self._gas.moving]

    def show(self, fraction: float, oil_pressure: float, gas_pressure: float, named_from: float = 0.0) -> None:
        """Put the piston at a fraction of its stroke and the needles at two gauge pressures."""
        self._cut.show(fraction, named_from)
        self._oil.show(oil_pressure)
        self._gas.show(gas_pressure)


def room_of(chosen: Vessel) -> tuple[float, float, float]:
    """Gas volume, bore and stroke of a vessel in SI."""
    volume, bore = chosen.si.gas_volume, chosen.si.bore
    return volume, bore, float(vessel.piston_travel.si(volume, bore))
