"""The tee: where the vessel's oil goes while the pump draws air, tee before or after the filter. (Lesson 04)"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from oilkit.errors import InputError
from oilkit.physics.line import SupplyLine, Way, check_resists, way_drop, way_of
from oilkit.physics.roots import root_between
from oilkit.physics.valve import Element, check_valve_leak, rated_drop, unfiltered_share
from oilkit.quantities.checked import AboveAmbient, Density, DynamicViscosity, One, RatedDrop, ThroughFlow, public
from oilkit.quantities.kinds import FRACTION, GAUGE, PRESSURE_DIFFERENCE, THROUGH_FLOW, refuse
from oilkit.quantities.units import Qty


@dataclass(frozen=True)
class TeeFlow:
    """Where the vessel's oil goes while the pump draws air: see `tee_flow`."""

    line_flow: Qty
    """Out of the vessel."""
    gallery_flow: Qty
    """Into the gallery. Below zero, the gallery itself leaks back past the check valve."""
    leak: Qty
    """Back through the check valve towards the pump."""
    tee_pressure: Qty
    filter_drop: Qty
    """What the filter takes on the way to the gallery; 0 with the tee after it."""
    unfiltered: Qty
    """Share of the gallery's oil that has passed no filter on its way from the vessel."""


@public
def tee_flow(
    line: SupplyLine,
    vessel_pressure: One[AboveAmbient],
    gallery_pressure: One[AboveAmbient],
    density: One[Density],
    dynamic_viscosity: One[DynamicViscosity],
    leak_at_reference: One[ThroughFlow],
    reference: One[RatedDrop],
    element: Element | None = None,
    element_viscosity: One[DynamicViscosity] | None = None,
) -> TeeFlow:
    """Flow from a vessel through its line to the tee, and from there on: to the gallery, and back past the check valve.

    The pump draws air and gives nothing; behind the check valve there is no pressure. A cooler on the way is not
    counted: with one the gallery gets less.

    vessel_pressure: gauge, no less than gallery_pressure. density, dynamic_viscosity: of the oil in the line.
    leak_at_reference, reference: of the check valve, as in `check_valve_leak`. element: the filter, if the tee stands
    before it; element_viscosity: of the oil in it, as in the line unless given. One value each. A leak that goes back
    through the filter costs what it would cost forwards. Raises `InputError`, also for a line that resists nothing.
    Source: as `supply_drop`, `element_drop` and `check_valve_leak`, with what flows into the tee flowing out of it,
    solved numerically to 1e-13 of the flow.

    >>> from oilkit import engines, hoses
    >>> line = SupplyLine(hoses()["small"], Q(6, "ft"))
    >>> oil = Q(850, "kg/m**3"), Q(20, "cP")
    >>> for element in (engines()["street_v8"].filter, None):
    ...     found = tee_flow(line, Q(40, "psig"), Q(30, "psig"), *oil, Q(0.2, "gpm"), Q(25, "psi"), element)
    ...     print(f"{found.gallery_flow:.1f~}, leak {found.leak:.2f~}")
    7.2 gpm, leak 0.29 gpm
    10.2 gpm, leak 0.24 gpm
    """
    found = flow_at_tee(
        way_of(line),
        vessel_pressure,
        gallery_pressure,
        density,
        dynamic_viscosity,
        leak_at_reference,
        reference,
        element.si if element else None,
        dynamic_viscosity if element_viscosity is None else element_viscosity,
    )
    out, through, leak, at_tee, lost, unfiltered = found
    return TeeFlow(
        line_flow=THROUGH_FLOW.quantity(out),
        gallery_flow=THROUGH_FLOW.quantity(through),
        leak=THROUGH_FLOW.quantity(leak),
        tee_pressure=GAUGE.quantity(at_tee),
        filter_drop=PRESSURE_DIFFERENCE.quantity(lost),
        unfiltered=FRACTION.quantity(unfiltered),
    )


def beyond_the_tee(
    way: Way,
    flow: Any,
    vessel: Any,
    density: Any,
    dynamic_viscosity: Any,
    leak_at_reference: Any,
    reference: Any,
    element: Any = None,
    in_element: Any = 0.0,
) -> tuple[Any, Any, Any, Any]:
    """What a flow out of the vessel becomes: into the gallery, leak, pressures at the tee and in the gallery. SI."""
    at_tee = vessel - way_drop(way, flow, density, dynamic_viscosity)
    leak = check_valve_leak.si(at_tee, leak_at_reference, reference)
    lost = rated_drop(element, flow - leak, in_element) if element else 0.0
    return flow - leak, leak, at_tee, at_tee - lost


def flow_at_tee(
    way: Way,
    vessel: float,
    gallery: float,
    density: float,
    dynamic_viscosity: float,
    leak_at_reference: float,
    reference: float,
    element: Any = None,
    in_element: float = 0.0,
) -> tuple[float, ...]:
    """`tee_flow` on SI numbers: line flow, gallery flow, leak, pressure at the tee, filter drop, unfiltered share."""
    check_resists(way)
    refuse(vessel < gallery, "vessel_pressure", vessel, gallery, GAUGE, "no less than {}")
    given = (vessel, density, dynamic_viscosity, leak_at_reference, reference, element, in_element)

    def surplus(flow: float) -> float:
        return float(beyond_the_tee(way, flow, *given)[3]) - gallery

    most = THROUGH_FLOW.high  # far above any oil line
    if surplus(most) > 0.0:
        wanted = f"a pressure that drives less than {THROUGH_FLOW.exact_text(most)} through this line"
        raise InputError("vessel_pressure", GAUGE.exact_text(vessel), wanted)
    out = float(root_between(surplus, 0.0, most, enough=1e-14, least=1e-18))
    through, leak, at_tee, in_gallery = (float(number) for number in beyond_the_tee(way, out, *given))
    if element is None:
        return out, through, leak, at_tee, 0.0, 1.0
    rated = (element.rated_drop, element.rated_flow, element.rated_viscosity, element.bypass)
    return out, through, leak, at_tee, at_tee - in_gallery, float(unfiltered_share.si(through, in_element, *rated))
