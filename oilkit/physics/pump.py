"""The pump and its relief valve: what arrives, what slips back, and what is let go again. (Lesson 05)"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Annotated, Any

import numpy as np

from oilkit.quantities.checked import (
    AboveAmbient,
    Displacement,
    DynamicViscosity,
    Factor,
    Flow,
    Fraction,
    Gauge,
    GaugeAboveZero,
    Ratio,
    Speed,
    ThroughFlow,
    public,
)
from oilkit.quantities.kind import Span
from oilkit.quantities.kinds import GAUGE, refuse
from oilkit.quantities.records import Record
from oilkit.quantities.units import Q


@dataclass(frozen=True)
class Pump(Record):
    """A positive-displacement oil pump with its relief valve."""

    displacement: Annotated[Displacement, Span("0.1 in**3/rev", "10 in**3/rev", "0.001 in**3/rev", "100 in**3/rev")]
    """Per turn of the pump."""
    ratio: Annotated[Ratio, Span(0.3, 2.5)]
    """Turns of the pump per turn of the crank: 0.5 off the camshaft, 1 on the crank."""
    efficiency: Annotated[Factor, Span(0.3, 1.0)]
    """Volumetric, hot at speed (``RATED_SPEED``, ``RATED_PRESSURE``, ``RATED_VISCOSITY``): the share that leaves; less
    when worn. What it becomes at idle, cold or at another pressure, `pump_efficiency` says."""
    relief_opening: Annotated[GaugeAboveZero, Span("10 psig", "150 psig", "0.1 psig", "1000 psig")]
    relief_rated_pressure: Annotated[GaugeAboveZero, Span("15 psig", "300 psig", "0.1 psig", "2000 psig")]
    """Pressure at which the open valve passes its rated flow; above the opening pressure."""
    relief_rated_flow: Annotated[Flow, Span("0.5 gpm", "60 gpm", "0.01 gpm", "1000 gpm")]


RATED_SPEED, RATED_PRESSURE, RATED_VISCOSITY = Q(3000, "rpm"), Q(50, "psig"), Q(9, "cP")
"""Where a pump's efficiency is stated: speed of the crank, pressure at its outlet, its oil's viscosity (chosen)."""


@public
def pump_efficiency(
    speed: Speed, pressure: AboveAmbient, dynamic_viscosity: DynamicViscosity, efficiency: Factor
) -> Fraction:
    """Volumetric efficiency of a pump that slips: so much oil leaks back as pressure drives through its gaps.

    The slip goes with pressure over viscosity and does not depend on speed, so it takes the larger share the slower the
    pump turns: ``1 - (1 - efficiency) (RATED_SPEED / speed) (pressure / RATED_PRESSURE) (RATED_VISCOSITY / mu)``.
    speed: of the crank, 0 or more; pressure: gauge, at the outlet; dynamic_viscosity: of the oil in the pump;
    efficiency: as rated. 0 where all slips, and at rest. Shapes broadcast.
    Source: W. E. Wilson's loss model (1940s, from memory), displacement less slip; measured gear pumps follow it: their
    volumetric efficiency is a function of viscosity times speed over pressure (Michael, Khalid & Wanke, SAE technical
    paper 2012-01-2041, abstract). Good for new and worn gears; foam in the oil and a starved inlet are apart from it.

    >>> for rpm, psi in ((3000, 50), (700, 20)):
    ...     print(f"{pump_efficiency(Q(rpm, 'rpm'), Q(psi, 'psig'), Q(9, 'cP'), 0.85).m:.2f}")
    0.85
    0.74
    """
    swept = np.where(np.asarray(speed) > 0.0, speed, 1.0)
    left = 1.0 - slip(efficiency, dynamic_viscosity) * pressure / swept
    return np.where(np.asarray(speed) > 0.0, np.maximum(left, 0.0), 0.0)[()]


def slip(efficiency: Any, dynamic_viscosity: Any) -> Any:
    """Turns of the crank in a second, for each pascal, whose displacement leaks back inside the pump. SI."""
    return (1.0 - efficiency) * _rated() / dynamic_viscosity


@cache
def _rated() -> float:
    """Turns in a second, times viscosity over pressure, at which a pump's efficiency is rated. SI."""
    return float(RATED_SPEED.m_as("rev/s") * RATED_VISCOSITY.m_as("Pa s") / RATED_PRESSURE.m_as("Pag"))


def delivered(displacement: Any, ratio: Any, efficiency: Any, speed: Any, pressure: Any, dynamic_viscosity: Any) -> Any:
    """What leaves a pump that gets all the oil it wants: displaced less slip, at its outlet's pressure. SI."""
    return displacement * ratio * np.maximum(speed - slip(efficiency, dynamic_viscosity) * pressure, 0.0)


@public
def pump_flow(
    speed: Speed, displacement: Displacement, ratio: Ratio, efficiency: Factor, supply: Fraction = 1.0
) -> ThroughFlow:
    """Oil that the pump delivers: displacement times its own speed times volumetric efficiency, with all its oil.

    speed: of the crank; ratio: pump turns per crank turn; efficiency: at this speed and pressure, see
    `pump_efficiency`. supply: share of oil, not air, at the pick-up, 0 to 1; what slips back at this pressure is the
    same with air, so it takes a larger share. Shapes broadcast.
    Source: first principles (positive displacement), efficiency as measured.

    >>> print(f"{pump_flow(Q(3000, 'rpm'), Q(1.2, 'in**3/rev'), 0.5, 0.85):.1f~}")
    6.6 gpm
    """
    return displacement * ratio * speed * np.maximum(supply - (1.0 - efficiency), 0.0)


@public
def relief_flow(
    pressure: Gauge, opening: GaugeAboveZero, rated_pressure: GaugeAboveZero, rated_flow: Flow
) -> ThroughFlow:
    """Oil that a relief valve lets go: nothing up to its opening pressure, then in proportion to what is above it.

    rated_pressure: at which it passes rated_flow, above ``opening``. Shapes broadcast. Static: no flutter.
    Raises `InputError` for a rated pressure at or below the opening. Source: definition of a valve's pressure override.

    >>> print(f"{relief_flow(Q(65, 'psig'), Q(60, 'psig'), Q(70, 'psig'), Q(10, 'gpm')):.1f~}")
    5.0 gpm
    """
    wrong = rated_pressure <= opening
    refuse(wrong, "rated_pressure", rated_pressure, opening, GAUGE, "more than the opening pressure of {}")
    return rated_flow * np.maximum(pressure - opening, 0.0) / (rated_pressure - opening)
