"""What else stands in the oil's way: orifices, filter and cooler with their bypass, and the check valve. (Lesson 04)"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np

from oilkit.quantities.checked import (
    Bore,
    Density,
    Discharge,
    Drop,
    DynamicViscosity,
    Flow,
    Fraction,
    Power,
    PressureDifference,
    RatedDrop,
    ThroughFlow,
    Volume,
    public,
)
from oilkit.quantities.kind import Span
from oilkit.quantities.records import Record


@public
def orifice_flow(
    bore: Bore, pressure_difference: Drop, density: Density, discharge_coefficient: Discharge = 0.62
) -> ThroughFlow:
    """Flow through a sharp hole: ``C_d A sqrt(2 dp / rho)``. Viscosity hardly matters, unlike in a bearing.

    bore: above 0; pressure_difference: 0 or more; discharge_coefficient: about 0.62 for a sharp edge (from memory).
    Shapes broadcast. Source: first principles (Bernoulli) with a measured coefficient.

    >>> print(f"{orifice_flow(Q(1.5, 'mm'), Q(50, 'psi'), Q(820, 'kg/m**3')).to('Lpm'):.2f~}")
    1.91 Lpm
    """
    return discharge_coefficient * math.pi * bore**2 / 4.0 * np.sqrt(2.0 * pressure_difference / density)


@public
def hydraulic_power(pressure_difference: Drop, flow: ThroughFlow) -> Power:
    """Power that a flow carries, or loses, over a pressure difference: ``dp Q``. Shapes broadcast.

    Source: first principles.

    >>> print(f"{hydraulic_power(Q(60, 'psi'), Q(10, 'gpm')):.2f~}")
    0.35 hp
    """
    return pressure_difference * flow


@dataclass(frozen=True)
class Element(Record):
    """A filter or an oil cooler: what it holds, what it costs, and where its bypass opens."""

    volume: Annotated[Volume, Span("0.02 qt", "6 qt", "1 cm**3", "100 L")]
    rated_drop: Annotated[RatedDrop, Span("0.1 psi", "30 psi", "1 Pa", "1000 psi")]
    """Pressure difference at the rated flow and viscosity, above 0."""
    rated_flow: Annotated[Flow, Span("0.5 gpm", "60 gpm", "0.01 gpm", "1000 gpm")]
    rated_viscosity: Annotated[DynamicViscosity, Span("1 cP", "500 cP", "0.1 cP", "100 Pa*s")]
    bypass: Annotated[RatedDrop, Span("1 psi", "60 psi", "1 Pa", "1000 psi")]
    """Pressure difference at which the bypass opens and holds; above 0."""


@public
def element_drop(
    flow: ThroughFlow,
    dynamic_viscosity: DynamicViscosity,
    rated_drop: RatedDrop,
    rated_flow: Flow,
    rated_viscosity: DynamicViscosity,
    bypass: RatedDrop,
) -> PressureDifference:
    """Pressure difference over a filter or a cooler: laminar, so in proportion to flow and viscosity, up to its bypass.

    From there on the bypass takes the rest of the flow and the difference stays (an ideal bypass; a real one adds a
    little). Shapes broadcast. Source: first principles (laminar flow in a porous element).

    >>> rated = Q(3, "psi"), Q(8, "gpm"), Q(9, "cP"), Q(12, "psi")
    >>> print(f"hot {element_drop(Q(8, 'gpm'), Q(9, 'cP'), *rated):.1f~}")
    hot 3.0 psi
    >>> print(f"cold {element_drop(Q(8, 'gpm'), Q(90, 'cP'), *rated):.1f~}")
    cold 12.0 psi
    """
    return np.minimum(rated_drop * (flow / rated_flow) * (dynamic_viscosity / rated_viscosity), bypass)


def rated_drop(element: Any, flow: Any, dynamic_viscosity: Any) -> Any:
    """`element_drop` of an `Element`'s SI numbers (``element.si``)."""
    rated = (element.rated_drop, element.rated_flow, element.rated_viscosity, element.bypass)
    return element_drop.si(flow, dynamic_viscosity, *rated)


@public
def unfiltered_share(
    flow: ThroughFlow,
    dynamic_viscosity: DynamicViscosity,
    rated_drop: RatedDrop,
    rated_flow: Flow,
    rated_viscosity: DynamicViscosity,
    bypass: RatedDrop,
) -> Fraction:
    """Share of the flow that goes round the element through its open bypass, 0 (closed) to below 1.

    Arguments as in `element_drop`. Shapes broadcast. Source: first principles (laminar element, ideal bypass).

    >>> rated = Q(3, "psi"), Q(8, "gpm"), Q(9, "cP"), Q(12, "psi")
    >>> print(f"{unfiltered_share(Q(8, 'gpm'), Q(90, 'cP'), *rated).m:.2f}")
    0.60
    """
    through = bypass / rated_drop * rated_flow * (rated_viscosity / dynamic_viscosity)
    return 1.0 - np.minimum(through / np.maximum(flow, 1e-12), 1.0)


@public
def check_valve_leak(pressure_difference: Drop, leak_at_reference: ThroughFlow, reference: RatedDrop) -> ThroughFlow:
    """Oil that a shut check valve lets back through its worn seat, in proportion to the pressure difference.

    leak_at_reference: leak measured at the reference pressure difference, 0 for a tight one. Without a check valve the
    way back through pump and relief valve passes 1 to 2 gpm (estimate, no source). Shapes broadcast.
    Source: first principles (laminar leak), scaled from one measured point.

    >>> print(f"{check_valve_leak(Q(50, 'psi'), Q(0.2, 'gpm'), Q(25, 'psi')):.2f~}")
    0.40 gpm
    """
    return leak_at_reference * pressure_difference / reference
