"""A night behind a shut valve: what a warm vessel has become in the morning. (Lesson 08)"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from oilkit.physics.oil import Lubricant, density_of
from oilkit.physics.pressure import STANDARD_ATMOSPHERE
from oilkit.physics.vessel import Vessel, check_rated, oil_stored
from oilkit.quantities.checked import Ambient, Gauge, Oil, Temperature, public
from oilkit.quantities.kinds import GAUGE, OIL, refuse
from oilkit.quantities.units import Q, Qty

NOTHING = Q(0, "qt")


@dataclass(frozen=True)
class Overnight:
    """A vessel in the morning: see `overnight`. Arrays have the broadcast shape of the arguments."""

    pressure: Qty
    """Gauge, of gas and oil alike."""
    oil: Qty
    oil_before: Qty
    shrunk: Qty
    """What the oil lost by cooling alone."""
    if_only_gas_cooled: Qty = field(repr=False)
    """Pressure if the oil had kept its volume: how much of the fall is the gas's."""
    precharge: Qty = field(repr=False)
    """What the pre-charge has become at the morning's temperature."""


@public
def overnight(
    vessel: Vessel,
    oil: Lubricant,
    precharge: Gauge,
    pressure: Gauge,
    gas_temperature: Temperature,
    oil_temperature: Temperature,
    morning_temperature: Temperature,
    leaked: Oil = NOTHING,
    ambient: Ambient = STANDARD_ATMOSPHERE,
) -> Overnight:
    """A vessel shut off settled and warm, and left until gas, oil and steel have the morning's temperature.

    The oil shrinks with its density and makes room for the gas, whose mass stays: ``p V = m R T``. Both take pressure.

    precharge: gauge, with the gas at ``gas_temperature``, at or below the pressure; pressure: gauge, when the valve
    was shut; leaked: what a valve that is not tight let go, measured cold. The vessel's steel keeps its size (it
    changes 0.1 %). Shapes broadcast. Raises `InputError` for a leak of more than there was, and for a
    morning so warm that gas and oil would stand above the vessel's rating.
    Source: first principles (ideal gas of constant mass; `oilkit.density` of the oil).

    >>> from oilkit import lubricants, vessels
    >>> night = overnight(vessels()["bench"], lubricants()["street"], Q(10, "psig"), Q(60, "psig"), Q(40, "degC"),
    ...                   Q(90, "degC"), Q(5, "degC"))
    >>> print(f"{night.pressure:.1f~}, {night.oil:.2f~} of {night.oil_before:.2f~}")
    44.6 psig, 1.89 qt of 2.01 qt
    """
    for name, gauge in (("precharge", precharge), ("pressure", pressure)):
        check_rated(vessel, name, gauge)
    given = np.broadcast_arrays(
        precharge, pressure, gas_temperature, oil_temperature, morning_temperature, leaked, ambient
    )
    found = overnight_si(vessel.si.gas_volume, oil.si, *given)
    check_rated(vessel, "pressure in the morning", found["pressure"])
    return Overnight(
        pressure=GAUGE.quantity(found["pressure"]),
        oil=OIL.quantity(found["oil"]),
        oil_before=OIL.quantity(found["oil_before"]),
        shrunk=OIL.quantity(found["shrunk"]),
        if_only_gas_cooled=GAUGE.quantity(found["if_only_gas_cooled"]),
        precharge=GAUGE.quantity(found["precharge"]),
    )


def overnight_si(
    room: Any, oil: Any, charge: Any, before: Any, warm_gas: Any, warm_oil: Any, morning: Any, lost: Any, air: Any
) -> dict[str, Any]:
    """`overnight` on SI numbers. room: the vessel's gas volume; oil: a `Lubricant`'s ``si``; pressures gauge."""
    held = oil_stored.si(room, charge, before, air)
    cold = held * density_of(oil, warm_oil) / density_of(oil, morning)
    left = cold - lost
    refuse(left < -1e-12 * room, "leaked", lost, cold, OIL, "no more than the {} that are there")
    left = np.maximum(left, 0.0)
    ratio = (charge + air) * morning / warm_gas
    for_gas = np.maximum(room - left, 1e-9 * room)  # oil that grows into the last of it: far above any rating
    return {
        "pressure": ratio * room / for_gas - air,
        "oil": left,
        "oil_before": np.asarray(held)[()],
        "shrunk": held - cold,
        "if_only_gas_cooled": ratio * room / (room - held) - air,
        "precharge": ratio - air,
    }
