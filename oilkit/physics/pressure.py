"""Pressure: what a dial shows, what the gas feels, and the air outside. (Lesson 00)"""

from __future__ import annotations

import numpy as np

from oilkit.errors import InputError
from oilkit.quantities.checked import (
    Absolute,
    AccuracyClass,
    Altitude,
    Ambient,
    Gauge,
    GaugeAboveZero,
    PressureDifference,
    public,
)
from oilkit.quantities.kinds import ABSOLUTE, GAUGE, first_where
from oilkit.quantities.units import Q

STANDARD_ATMOSPHERE = Q(101_325.0, "Paa")
"""Sea level in the standard atmosphere (ISO 2533): 14.696 psia, 1.013 25 bara."""


@public
def ambient_pressure(altitude: Altitude) -> Ambient:
    """Pressure of the outside air at an altitude in the standard atmosphere, as an absolute pressure.

    ``101 325 Pa * (1 - 0.0065 h / 288.15) ** 5.25588`` with the geopotential height h in meters.

    altitude: -500 to 11 000 m, the troposphere. Weather moves the true value by about 3 %.
    Source: ISO 2533 (standard atmosphere, troposphere).

    >>> print(f"{ambient_pressure(Q(1600, 'm')).to('kPaa'):.2f~}")
    83.52 kPaa
    """
    return 101_325.0 * (1.0 - 0.0065 * altitude / 288.15) ** 5.25588


@public
def absolute_pressure(gauge: Gauge, ambient: Ambient = STANDARD_ATMOSPHERE) -> Absolute:
    """Absolute pressure behind a gauge reading: gauge plus ambient.

    gauge: any above a perfect vacuum; ambient: 20 to 115 kPa. Shapes broadcast.
    Raises `InputError` for a reading at or below a perfect vacuum. Source: definition (ISO 5598 vocabulary).

    >>> print(f"{absolute_pressure(Q(10, 'psig')):.1f~}")
    24.7 psia
    """
    pressure = gauge + ambient
    if np.any(pressure <= 0.0):
        lowest, outside = first_where(pressure <= 0.0, gauge, ambient)
        raise InputError(
            "gauge",
            f"{GAUGE.exact_text(lowest)}, which is {ABSOLUTE.exact_text(lowest + outside)}",
            f"a gauge pressure above {GAUGE.exact_text(-outside)}, a perfect vacuum here",
        )
    return pressure


@public
def gauge_pressure(absolute: Absolute, ambient: Ambient = STANDARD_ATMOSPHERE) -> Gauge:
    """Reading of a dial gauge on a gas: absolute minus ambient. Negative below the outside pressure.

    absolute: above 0; ambient: 20 to 115 kPa. Shapes broadcast. Source: definition (ISO 5598 vocabulary).

    >>> print(f"{gauge_pressure(Q(24.7, 'psia')):.1f~}")
    10.0 psig
    """
    return absolute - ambient


@public
def gauge_error(full_scale: GaugeAboveZero, accuracy_class: AccuracyClass) -> PressureDifference:
    """Largest error of a dial gauge: its accuracy class, in percent, of its full scale.

    full_scale: above 0; accuracy_class: above 0, up to 10 (percent of full scale). Shapes broadcast.
    The error is the same anywhere on the dial, so a 160 psi gauge of class 2.5 may be 4 psi off at 10 psi.
    Source: EN 837-1 (accuracy classes 0.1 to 4), from memory.

    >>> print(f"{gauge_error(Q(160, 'psig'), 2.5):.1f~}")
    4.0 psi
    """
    return full_scale * accuracy_class / 100.0
