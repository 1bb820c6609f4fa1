"""The pump and its relief valve: what arrives, and what is let go again. (Lesson 05)"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

import numpy as np

from oilkit.errors import InputError
from oilkit.quantities.checked import (
    Displacement,
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
from oilkit.quantities.kinds import GAUGE, first_where
from oilkit.quantities.records import Record


@dataclass(frozen=True)
class Pump(Record):
    """A positive-displacement oil pump with its relief valve."""

    displacement: Annotated[Displacement, Span("0.1 in**3/rev", "10 in**3/rev", "0.001 in**3/rev", "100 in**3/rev")]
    """Per turn of the pump."""
    ratio: Annotated[Ratio, Span(0.3, 2.5)]
    """Turns of the pump per turn of the crank: 0.5 off the camshaft, 1 on the crank."""
    efficiency: Annotated[Factor, Span(0.3, 1.0)]
    """Volumetric: the share that leaves at pressure; less when worn, and with foam in the oil."""
    relief_opening: Annotated[GaugeAboveZero, Span("10 psig", "150 psig", "0.1 psig", "1000 psig")]
    relief_rated_pressure: Annotated[GaugeAboveZero, Span("15 psig", "300 psig", "0.1 psig", "2000 psig")]
    """Pressure at which the open valve passes its rated flow; above the opening pressure."""
    relief_rated_flow: Annotated[Flow, Span("0.5 gpm", "60 gpm", "0.01 gpm", "1000 gpm")]


@public
def pump_flow(
    speed: Speed, displacement: Displacement, ratio: Ratio, efficiency: Factor, supply: Fraction = 1.0
) -> ThroughFlow:
    """Oil that the pump delivers: displacement times its own speed times volumetric efficiency.

    speed: of the crank; ratio: pump turns per crank turn. supply: share of oil, not air, at the pick-up, 0 to 1.
    Shapes broadcast. Source: first principles (positive displacement), efficiency as measured.

    >>> print(f"{pump_flow(Q(3000, 'rpm'), Q(1.2, 'in**3/rev'), 0.5, 0.85):.1f~}")
    6.6 gpm
    """
    return displacement * ratio * speed * efficiency * supply


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
    wrong = np.asarray(rated_pressure) <= np.asarray(opening)
    if np.any(wrong):
        rated, opens = first_where(wrong, rated_pressure, opening)
        wanted = f"more than the opening pressure of {GAUGE.exact_text(opens)}"
        raise InputError("rated_pressure", GAUGE.unlike(rated, opens), wanted)
    return rated_flow * np.maximum(pressure - opening, 0.0) / (rated_pressure - opening)
