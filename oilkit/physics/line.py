"""The line between engine and vessel: what it holds, what it costs, and what its weight does. (Lesson 04)

The bore is what counts. A dash number is a label: the outside diameter, in sixteenths of an inch, of the rigid tube
that the hose replaces.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np

from oilkit.errors import InputError
from oilkit.physics.roots import root_between
from oilkit.physics.valve import Element, rated_drop
from oilkit.quantities.checked import (
    Acceleration,
    Bore,
    Density,
    Drop,
    DynamicViscosity,
    FrictionFactor,
    LineLength,
    Loss,
    Oil,
    PressureDifference,
    Reynolds,
    Roughness,
    ThroughFlow,
    Time,
    Velocity,
    check_sorts,
    public,
)
from oilkit.quantities.kind import Span
from oilkit.quantities.kinds import (
    LINE_LENGTH,
    PRESSURE_DIFFERENCE,
    THROUGH_FLOW,
    first_where,
    fitted_together,
    one_to_si,
)
from oilkit.quantities.records import Record
from oilkit.quantities.units import Qty, what_came

LAMINAR_BELOW, TURBULENT_ABOVE = 2300.0, 4000.0
"""Reynolds numbers between which no friction formula is good (common practice, no source)."""


@dataclass(frozen=True)
class Hose(Record):
    """One hose: its label and its measured bore. Data come from ``data/hoses.toml`` or from you."""

    name: str
    dash: str
    """The label on it, such as "-12". It is not a bore."""
    bore: Annotated[Bore, Span("0.25 in", "2 in", "1 mm", "0.3 m")]
    """Inside diameter, measured."""
    note: str = ""


@dataclass(frozen=True)
class Fitting(Record):
    """One fitting or valve: the bore that oil passes and its loss there. From ``data/fittings.toml`` or from you."""

    name: str
    bore: Annotated[Bore, Span("0.1 in", "2.5 in", "0.5 mm", "0.3 m")]
    """The narrowest way through, measured; smaller than the hose's."""
    loss_coefficient: Annotated[Loss, Span(0.0, 20.0, 0.0, 10000.0)]
    """Pressure lost, in velocity heads ``rho v**2 / 2`` at that bore."""
    note: str = ""


@public
def line_volume(bore: Bore, length: LineLength) -> Oil:
    """Oil in a full line: ``pi d**2 / 4 * L``. It must be added once and stays there.

    bore: inside diameter, above 0; length: 0 or more. Shapes broadcast. Source: first principles (cylinder).

    >>> print(f"{line_volume(Q(0.75, 'in'), Q(10, 'ft')):.3f~}")
    0.918 qt
    """
    return math.pi * bore**2 / 4.0 * length


@public
def velocity_in(flow: ThroughFlow, bore: Bore) -> Velocity:
    """Mean velocity in a bore: flow over area. Shapes broadcast. Source: first principles (continuity).

    >>> print(f"{velocity_in(Q(8, 'gpm'), Q(0.75, 'in')).to('m/s'):.2f~}")
    1.77 m / s
    """
    return flow / (math.pi * bore**2 / 4.0)


@public
def reynolds_number(flow: ThroughFlow, bore: Bore, density: Density, dynamic_viscosity: DynamicViscosity) -> Reynolds:
    """Reynolds number of flow in a round bore: ``rho v d / mu = 4 rho Q / (pi d mu)``.

    Below about 2300 the flow is laminar, above about 4000 turbulent; between, it may be either.
    Shapes broadcast. Source: definition.

    >>> print(f"{reynolds_number(Q(8, 'gpm'), Q(0.75, 'in'), Q(820, 'kg/m**3'), Q(9, 'cP')).m:.0f}")
    3074
    """
    return 4.0 * density * flow / (math.pi * bore * dynamic_viscosity)


@public
def friction_factor(reynolds: Reynolds, roughness: Roughness = 0.0) -> FrictionFactor:
    """Darcy friction factor of a round pipe in all regimes, by Churchill's one formula.

    reynolds: 0.001 or more; below about 2000 it is 64/Re; between 2300 and 4000 the flow may be laminar or turbulent
    and no formula is good (this one reads high there); above 4000 it is within a few percent of measured smooth pipe.
    roughness: relative, wall roughness over bore, 0 (drawn tube, smooth hose liner) to 0.05. Shapes broadcast.
    Source: Churchill, Chem. Eng. 84 (1977), 91-92.

    >>> print(f"{friction_factor(1000).m:.4f} {friction_factor(1e5).m:.4f}")
    0.0640 0.0179
    """
    number = np.maximum(reynolds, 1e-3)
    return _friction_times_reynolds(number, roughness) / number


def _friction_times_reynolds(number: Any, roughness: Any) -> Any:
    """``f Re`` by Churchill 1977: 64 at rest and in laminar flow, so that a standing line costs exactly nothing."""
    floor = np.maximum(number, 1e-3)
    rough = (2.457 * np.log(1.0 / ((7.0 / floor) ** 0.9 + 0.27 * roughness))) ** 16
    turbulent = rough + (37_530.0 / floor) ** 16
    return 8.0 * (8.0**12 + floor**12 * turbulent**-1.5) ** (1.0 / 12.0)


@public
def line_drop(
    flow: ThroughFlow,
    bore: Bore,
    length: LineLength,
    density: Density,
    dynamic_viscosity: DynamicViscosity,
    roughness: Roughness = 0.0,
) -> PressureDifference:
    """Pressure that a line's wall takes at a flow: Darcy's law with `friction_factor`.

    ``f (L / d) rho v**2 / 2``; in laminar flow that is ``128 mu L Q / (pi d**4)``. The viscosity is that of the oil *in
    the line*: a line to the vessel is a dead leg and stays far cooler than the engine. Shapes broadcast.
    Source: Darcy-Weisbach with Churchill 1977.

    >>> drop = line_drop(Q(8, "gpm"), Q(0.75, "in"), Q(10, "ft"), Q(860, "kg/m**3"), Q(40, "cP"))
    >>> print(f"{drop:.2f~}")
    2.76 psi
    """
    number = reynolds_number.si(flow, bore, density, dynamic_viscosity)
    speed = velocity_in.si(flow, bore)
    return _friction_times_reynolds(number, roughness) * dynamic_viscosity * length * speed / (2.0 * bore**2)


@public
def laminar_drop(
    flow: ThroughFlow, bore: Bore, length: LineLength, dynamic_viscosity: DynamicViscosity
) -> PressureDifference:
    """Pressure that a line's wall takes as long as the flow is laminar: ``128 mu L Q / (pi d**4)``.

    Below a Reynolds number of about 2000 it is what `line_drop` gives. Above, it is what the wall would take if the
    flow stayed laminar: between 2300 and 4000 the least that is to be expected. Shapes broadcast.
    Source: first principles (Hagen-Poiseuille law).

    >>> print(f"{laminar_drop(Q(8, 'gpm'), Q(0.75, 'in'), Q(10, 'ft'), Q(40, 'cP')):.2f~}")
    2.76 psi
    """
    return 128.0 * dynamic_viscosity * length * flow / (math.pi * bore**4)


@public
def fitting_drop(flow: ThroughFlow, bore: Bore, loss_coefficient: Loss, density: Density) -> PressureDifference:
    """Pressure lost in a fitting or valve: ``K rho v**2 / 2`` at its own bore.

    loss_coefficient: K, 0 or more. Shapes broadcast. Good for turbulent flow; thick cold oil loses more.
    Source: definition of a loss coefficient; the values in ``data/fittings.toml`` say where they come from.

    >>> for bore in (0.28, 0.5):
    ...     print(f"{fitting_drop(Q(8, 'gpm'), Q(bore, 'in'), 1.5, Q(850, 'kg/m**3')):.1f~}")
    14.9 psi
    1.5 psi
    """
    return loss_coefficient * density * velocity_in.si(flow, bore) ** 2 / 2.0


@public
def column_time(length: LineLength, velocity: Velocity, pressure_difference: Drop, density: Density) -> Time:
    """How long a pressure difference needs to bring the oil in a line from rest to a velocity: ``rho L v / dp``.

    Friction is left out, so it takes a little longer. pressure_difference: above 0. Shapes broadcast.
    Raises `InputError` for a pressure difference of 0. Source: first principles (Newton's second law for the column).

    >>> print(f"{column_time(Q(3, 'm'), Q(3, 'm/s'), Q(50, 'psi'), Q(820, 'kg/m**3')).to('ms'):.0f~}")
    21 ms
    """
    if np.any(np.asarray(pressure_difference) <= 0.0):
        text = PRESSURE_DIFFERENCE.exact_text(0.0)
        raise InputError("pressure_difference", text, f"a pressure difference above {text}")
    return density * length * velocity / pressure_difference


@public
def acceleration_head(density: Density, acceleration: Acceleration, length: LineLength) -> PressureDifference:
    """Pressure between the two ends of a line that lies along an acceleration: ``rho a L``.

    acceleration: of the car, along the line and towards its far end; with it the near end gains, against it
    (negative) the near end loses. length: in that direction, whatever way the hose takes. Shapes broadcast.
    Source: first principles (hydrostatics in an accelerated frame).

    >>> print(f"{acceleration_head(Q(850, 'kg/m**3'), Q(1, 'g_0'), Q(3, 'm')):.1f~}")
    3.6 psi
    """
    return density * acceleration * length


@dataclass(frozen=True)
class SupplyLine:
    """The whole way between tee and vessel: one hose and whatever is screwed to it."""

    hose: Hose
    length: Qty
    fittings: tuple[Fitting, ...] = ()

    def __post_init__(self) -> None:
        check_sorts(SupplyLine, vars(self))
        for fitting in self.fittings:
            if not isinstance(fitting, Fitting):
                raise InputError("fittings", what_came(fitting), "each a Fitting, such as fittings()['port']")

    @property
    def volume(self) -> Qty:
        """Oil in the full hose; fittings and valve hold little."""
        volume: Qty = line_volume(self.hose.bore, self.length)
        return volume


@public
def supply_drop(
    line: SupplyLine, flow: ThroughFlow, density: Density, dynamic_viscosity: DynamicViscosity
) -> PressureDifference:
    """Pressure lost from one end of a line to the other: its wall (`line_drop`) and each fitting (`fitting_drop`).

    flow: 0 or more, either way; density, dynamic_viscosity: of the oil in the line. Shapes broadcast.
    Raises `InputError`. Source: Darcy-Weisbach with Churchill 1977, loss coefficients.

    >>> from oilkit import fittings, hoses
    >>> line = SupplyLine(hoses()["small"], Q(6, "ft"), (fittings()["narrow_valve"],))
    >>> print(f"{supply_drop(line, Q(5, 'gpm'), Q(850, 'kg/m**3'), Q(20, 'cP')):.1f~}")
    5.6 psi
    """
    return way_drop(way_of(line), flow, density, dynamic_viscosity)


@public
def supply_flow(
    line: SupplyLine,
    pressure_difference: Drop,
    density: Density,
    dynamic_viscosity: DynamicViscosity,
    element: Element | None = None,
    element_viscosity: DynamicViscosity | None = None,
) -> ThroughFlow:
    """Flow that a pressure difference drives through a line, and through the filter if the tee stands before it.

    An engine with a cooler takes less than that before filter and cooler: only one element is counted here.

    pressure_difference: from the vessel to the gallery, 0 or more. element: the filter on the way, if any;
    element_viscosity: of the oil in it, as in the line unless given. Shapes broadcast.
    Raises `InputError`, also for a line that resists nothing.
    Source: as `supply_drop` and `element_drop`, solved numerically to 1e-12 of the flow.

    >>> from oilkit import hoses
    >>> line = SupplyLine(hoses()["small"], Q(6, "ft"))
    >>> print(f"{supply_flow(line, Q(10, 'psi'), Q(850, 'kg/m**3'), Q(20, 'cP')):.1f~}")
    10.5 gpm
    """
    in_element = dynamic_viscosity if element_viscosity is None else element_viscosity
    element_si = element.si if element else None
    return way_flow(way_of(line), pressure_difference, density, dynamic_viscosity, element_si, in_element)


Way = tuple[float, float, tuple[tuple[float, float], ...]]
"""A line in SI: the hose's bore and length, and bore and loss coefficient of each fitting."""


def way_of(line: SupplyLine) -> Way:
    """A `SupplyLine` as plain SI numbers. Raises `InputError` for a length that is none."""
    fittings = tuple((fitting.si.bore, fitting.si.loss_coefficient) for fitting in line.fittings)
    return line.hose.si.bore, one_to_si("length", line.length, LINE_LENGTH), fittings


def check_resists(way: Way) -> None:
    """Raise `InputError` for a line without length and fittings: any flow would do."""
    _, length, fittings = way
    if length == 0.0 and not any(loss for _, loss in fittings):
        raise InputError("line", "a line without length or fittings", "something that resists the flow")


def way_drop(way: Way, flow: Any, density: Any, dynamic_viscosity: Any) -> Any:
    """`supply_drop` on SI numbers."""
    bore, length, fittings = way
    lost = line_drop.si(flow, bore, length, density, dynamic_viscosity)
    for narrowest, loss in fittings:
        lost = lost + fitting_drop.si(flow, narrowest, loss, density)
    return lost


def way_flow(
    way: Way, pressure_difference: Any, density: Any, dynamic_viscosity: Any, element: Any = None, in_element: Any = 0.0
) -> Any:
    """`supply_flow` on SI numbers; element: a record's ``si``, in_element: viscosity there."""
    if element is None:
        check_resists(way)

    given = {
        "pressure_difference": pressure_difference,
        "density": density,
        "dynamic_viscosity": dynamic_viscosity,
        "element_viscosity": in_element,
    }
    drive, rho, mu, mu_element = fitted_together(given)

    def short(flow: Any) -> Any:
        lost = way_drop(way, flow, rho, mu)
        return lost + (rated_drop(element, flow, mu_element) if element else 0.0) - drive

    most = np.full(drive.shape, THROUGH_FLOW.high)
    beyond = short(most) < 0.0
    if np.any(beyond):
        (pressure,) = first_where(beyond, drive)
        wanted = f"a pressure difference that drives no more than {THROUGH_FLOW.exact_text(THROUGH_FLOW.high)}"
        raise InputError("pressure_difference", PRESSURE_DIFFERENCE.exact_text(pressure), wanted)
    return root_between(short, np.zeros(drive.shape), most, enough=1e-13)[()]
