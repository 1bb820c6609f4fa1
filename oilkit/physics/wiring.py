"""The electric valve of a pre-lube: what it passes, and what arrives at its coil behind a cable. (Lesson 08)"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from oilkit.quantities.checked import (
    Bore,
    CrossSection,
    Current,
    Density,
    Drop,
    Factor,
    LineLength,
    LossAboveZero,
    RatedVoltage,
    Resistance,
    Temperature,
    ThroughFlow,
    Voltage,
    WireGauge,
    public,
)
from oilkit.quantities.kinds import CURRENT, VOLTAGE
from oilkit.quantities.units import Q, Qty

COPPER = 1.7241e-8
"""Resistivity of annealed copper at 20 °C, ohm m: 1/58 ohm mm2/m (IEC 60028)."""
COPPER_PER_KELVIN = 0.00393
"""Share by which it rises per kelvin above 20 °C (IEC 60028)."""
AT_20 = 293.15
ROOM = Q(20, "degC")
CONTACTS = Q(0.05, "ohm")
"""Plugs, switch, fuse and relay of a feed together (estimate, no source)."""


@public
def valve_flow(bore: Bore, loss_coefficient: LossAboveZero, pressure_difference: Drop, density: Density) -> ThroughFlow:
    """Flow through an open valve at a pressure difference: `oilkit.fitting_drop` the other way round.

    loss_coefficient: above 0. Good for hot, thin oil; thick oil passes less. Shapes broadcast.
    Source: definition of a loss coefficient.

    >>> print(f"{valve_flow(Q(0.375, 'in'), 2.5, Q(10, 'psi'), Q(820, 'kg/m**3')):.1f~}")
    9.3 gpm
    """
    return math.pi * bore**2 / 4.0 * np.sqrt(2.0 * pressure_difference / (loss_coefficient * density))


@public
def wire_gauge_area(gauge: WireGauge) -> CrossSection:
    """Copper cross-section of a wire by its American gauge number: ``d = 0.005 in * 92**((36 - n) / 39)``.

    gauge: the number, a plain number from -3 (4/0) to 40. Shapes broadcast. Raises `InputError`.
    Source: ASTM B258.

    >>> print(f"{wire_gauge_area(16):.2f~}")
    1.31 mm ** 2
    """
    diameter = 0.127e-3 * np.power(92.0, (36.0 - gauge) / 39.0)
    return math.pi * diameter**2 / 4.0


@public
def cable_resistance(length: LineLength, cross_section: CrossSection, temperature: Temperature = ROOM) -> Resistance:
    """Resistance of a copper conductor: ``rho L / A``, with copper's resistivity at its temperature.

    length: of the whole way that the current takes, there and back. Shapes broadcast.
    Source: Ohm's law; annealed copper 1/58 ohm mm2/m at 20 °C, 0.393 % more per kelvin (IEC 60028).

    >>> print(f"{cable_resistance(Q(10, 'm'), Q(1.5, 'mm**2')).to('ohm'):.3f~}")
    0.115 Ω
    """
    warmed = 1.0 + COPPER_PER_KELVIN * (np.asarray(temperature) - AT_20)
    return COPPER * warmed * length / cross_section


@dataclass(frozen=True)
class Wiring:
    """What arrives at a valve's coil: see `coil_supply`. Arrays have the broadcast shape of the arguments."""

    current: Qty
    coil_voltage: Qty
    cable_drop: Qty
    """Lost in the cable and its contacts."""
    needed_voltage: Qty
    """At the coil, as warm as it is, to pull the valve in."""
    pulls_in: Any
    """Whether it does."""


@public
def coil_supply(
    battery: Voltage,
    rated_voltage: RatedVoltage,
    rated_current: Current,
    cable_length: LineLength,
    cross_section: CrossSection,
    contacts: Resistance = CONTACTS,
    pick_up: Factor = 0.75,
    coil_temperature: Temperature = ROOM,
    cable_temperature: Temperature = ROOM,
) -> Wiring:
    """Current and voltage at the coil of an electric valve behind a cable, and whether it opens.

    A coil that has been on is hot and needs more: give its temperature, 100 °C for the worst case.

    rated_voltage, rated_current: as its maker states them, coil at 20 °C; together they are its resistance.
    cable_length: of the copper there and back; contacts: plugs, switch, fuse and relay together (estimate, no source).
    pick_up: share of the rated voltage that pulls a cold coil in, above 0 (its maker's; 0.75 is an estimate). It is the
    *current* that pulls, so a hot coil, whose copper resists more, needs more volts. Shapes broadcast.
    Source: Ohm's law; copper as in `cable_resistance`.

    >>> weak = coil_supply(Q(10, "V"), Q(12, "V"), Q(3, "A"), Q(10, "m"), Q(0.5, "mm**2"))
    >>> print(f"{weak.coil_voltage:.2f~}, needs {weak.needed_voltage:.2f~}: {weak.pulls_in}")
    9.10 V, needs 9.00 V: True
    """
    given = np.broadcast_arrays(
        battery, rated_voltage, rated_current, cable_length, cross_section, contacts, pick_up, coil_temperature,
        cable_temperature,
    )  # fmt: skip
    found = coil_si(*given)
    return Wiring(
        current=CURRENT.quantity(found["current"]),
        coil_voltage=VOLTAGE.quantity(found["volts"]),
        cable_drop=VOLTAGE.quantity(found["drop"]),
        needed_voltage=VOLTAGE.quantity(found["needed"]),
        pulls_in=found["pulls_in"],
    )


def coil_si(
    battery: Any,
    rated: Any,
    current: Any,
    length: Any,
    area: Any,
    contacts: Any,
    pick_up: Any,
    hot: Any,
    warm: Any = AT_20,
) -> dict[str, Any]:
    """`coil_supply` on SI numbers."""
    cold_coil = rated / current
    coil = cold_coil * (1.0 + COPPER_PER_KELVIN * (hot - AT_20))
    way = cable_resistance.si(length, area, warm) + contacts
    flowing = battery / (coil + way)
    needed = pick_up * rated * coil / cold_coil
    return {
        "current": flowing[()] if np.ndim(flowing) else float(flowing),
        "volts": flowing * coil,
        "drop": flowing * way,
        "way": way,
        "needed": needed,
        "pulls_in": flowing * coil >= needed,
    }
