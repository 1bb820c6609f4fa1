"""The vessel: a cylinder with a free piston, gas on one side and oil on the other. (Lesson 02)

The piston moves until the pressure is the same on both sides, so the gas tells everything: its volume now is what it
had with the piston at the oil end, squeezed from the pre-charge to the oil's pressure. What it gave up is oil.
Seal friction, which holds the two pressures a little apart, is left out here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Annotated, Any

import numpy as np

from oilkit.errors import InputError
from oilkit.physics import gas
from oilkit.physics.pressure import STANDARD_ATMOSPHERE, absolute_pressure
from oilkit.physics.roots import root_between
from oilkit.quantities.checked import (
    Ambient,
    Distance,
    Flow,
    Fraction,
    Gauge,
    GaugeAboveZero,
    HeatTransfer,
    Index,
    Length,
    Oil,
    One,
    Settling,
    Steps,
    Temperature,
    TimeConstant,
    Volume,
    WorkingTemperature,
    public,
)
from oilkit.quantities.kind import Span
from oilkit.quantities.kinds import GAUGE, OIL, ROUNDING, TIME, VOLUME, WORKING_TEMPERATURE, first_where, refuse
from oilkit.quantities.records import Record
from oilkit.quantities.units import Q, Qty

USUAL_HEAT_TRANSFER = Q(7.0, "W/m**2/K")
"""From the gas to its wall. Natural convection gives 5 (10 psi, gas 10 K colder than its wall) to 15 (60 psi, 40 K):
Churchill & Chu, Int. J. Heat Mass Transfer 18 (1975). 7 is on the cautious side where the pressure limit ends the
protection; no measurement in such a vessel is known here."""


@dataclass(frozen=True)
class Vessel(Record):
    """One vessel: what its maker states. Data come from ``data/vessels.toml`` or from you."""

    name: str
    gas_volume: Annotated[Volume, Span("0.2 qt", "16 qt", high="2 m**3")]
    """Gas volume with the piston at the oil end: the most oil that could ever go in."""
    bore: Annotated[Length, Span("1 in", "12 in", high="1 m")]
    """Inside diameter."""
    rated_pressure: Annotated[GaugeAboveZero, Span("50 psig", "5000 psig", high="1000 barg")]
    """Highest gauge pressure that the maker allows. Never go near it in a lesson or a shop."""

    @property
    def stroke(self) -> Qty:
        """How far the piston could travel."""
        travel: Qty = piston_travel(self.gas_volume, self.bore)
        return travel


@public
def precharge_at_temperature(
    precharge: Gauge,
    set_temperature: Temperature,
    gas_temperature: Temperature,
    ambient_when_set: Ambient = STANDARD_ATMOSPHERE,
    ambient: Ambient = STANDARD_ATMOSPHERE,
) -> Gauge:
    """What the pre-charge has become with the gas at another temperature or the dial at another altitude.

    The gas is shut in, so its absolute pressure follows its absolute temperature: ``p0_abs T / T0``. The dial then
    shows that less the ambient pressure of where it is read.

    precharge: gauge, as set at ``set_temperature`` under ``ambient_when_set``, above a vacuum.
    gas_temperature: of the *gas*, which in a vessel away from the engine warms far less than the oil.
    Shapes broadcast. Raises `InputError` for a pre-charge below a perfect vacuum.
    Source: first principles (ideal gas, constant volume and mass).

    >>> hot = precharge_at_temperature(Q(10, "psig"), Q(20, "degC"), Q(90, "degC"))
    >>> print(f"{hot:.1f~}")
    15.9 psig
    """
    at_setting = gas_absolute("precharge", precharge, ambient_when_set)
    return gas.pressure_at_temperature.si(at_setting, set_temperature, gas_temperature) - ambient


@public
def gas_time_constant(
    gas_volume: Volume,
    bore: Length,
    precharge: Gauge,
    gas_temperature: Temperature,
    space: Volume,
    heat_transfer: HeatTransfer = USUAL_HEAT_TRANSFER,
    ambient: Ambient = STANDARD_ATMOSPHERE,
) -> TimeConstant:
    """Time constant with which the gas in a vessel takes on its wall's temperature: ``tau = m c_v / (h A)``.

    More gas has more heat to get rid of, and squeezed into less space it touches less wall: a higher pre-charge and a
    fuller vessel make it slower.

    gas_volume, bore: the vessel's. precharge: gauge, at ``gas_temperature``, above a vacuum.
    space: what the oil has left the gas, above 0 and at most ``gas_volume``.
    heat_transfer: h, from 0 (never) to infinite (at once). Shapes broadcast. Raises `InputError`.
    Source: first principles: ``m c_v = p0_abs V0 / (T (gamma - 1))`` of an ideal gas, and ``A = pi D**2 / 2 + 4 V / D``
    of a cylinder with both ends.

    >>> tau = gas_time_constant(Q(3, "qt"), Q(4.5, "in"), Q(10, "psig"), Q(40, "degC"), Q([3, 1], "qt"))
    >>> print(f"{tau:.1f~}")
    [4.6 10.3] s
    """
    refuse(space > gas_volume * ROUNDING, "space", space, gas_volume, VOLUME, "no more than the vessel's {}")
    charge = gas_absolute("precharge", precharge, ambient)
    ends, sides = gas_exchange(gas_volume, bore, charge, gas_temperature, heat_transfer)
    with np.errstate(divide="ignore"):
        return np.divide(1.0, ends + sides * space)


def gas_exchange(room: Any, bore: Any, charge: Any, kelvin: Any, heat_transfer: Any) -> tuple[Any, Any]:
    """``1 / tau`` of the gas in a vessel, as a constant for its two ends and a factor of the gas's space. SI."""
    per_area = heat_transfer * (gas.ADIABATIC - 1.0) * kelvin / (charge * room)
    return per_area * math.pi * bore**2 / 2.0, per_area * 4.0 / bore


@public
def precharge_to_set(
    working_precharge: Gauge,
    set_temperature: Temperature,
    gas_temperature: Temperature,
    ambient_when_set: Ambient = STANDARD_ATMOSPHERE,
    ambient: Ambient = STANDARD_ATMOSPHERE,
) -> Gauge:
    """What to set in the shop so that the pre-charge is right at working temperature: the way back.

    working_precharge: gauge, wanted with the gas at ``gas_temperature`` under ``ambient``, above a vacuum.
    set_temperature, ambient_when_set: of the shop. Shapes broadcast. The answer can be negative: then no shop setting
    reaches so little. Raises `InputError` for a pre-charge below a perfect vacuum.
    Source: first principles (ideal gas, constant volume and mass).

    >>> print(f"{precharge_to_set(Q(10, 'psig'), Q(20, 'degC'), Q(90, 'degC')):.1f~}")
    5.2 psig
    """
    working = gas_absolute("working_precharge", working_precharge, ambient)
    return gas.pressure_at_temperature.si(working, gas_temperature, set_temperature) - ambient_when_set


@public
def oil_stored(
    gas_volume: Volume,
    precharge: Gauge,
    pressure: Gauge,
    ambient: Ambient = STANDARD_ATMOSPHERE,
    polytropic_index: Index = gas.ISOTHERMAL,
    resting: bool = False,
) -> Oil:
    """Oil in the vessel at a gauge pressure: ``V0 (1 - (p0 / p) ** (1 / n))``, pressures absolute inside.

    gas_volume: with the piston at the oil end, above 0.
    precharge: gauge, at the working temperature and altitude (see `precharge_at_temperature`), above a vacuum.
    pressure: of oil and gas alike, gauge.
    polytropic_index: 1 for a slow fill (settled), 1.4 for one too fast for the gas to lose heat.
    resting: below its pre-charge a vessel holds no oil. As a rule that is a mistake worth a word, and `InputError`
    says so; with ``resting=True`` the answer is 0, as a curve from idle to full pressure needs it. Shapes broadcast.
    Source: first principles from Boyle's law (n = 1) and from the ideal gas without heat exchange (n = 1.4).

    >>> print(f"{oil_stored(Q(3, 'qt'), Q(10, 'psig'), Q(34.7, 'psig')):.2f~}")
    1.50 qt
    """
    charge = gas_absolute("precharge", precharge, ambient)
    now = gas_absolute("pressure", pressure, ambient)
    above = charge > now * ROUNDING
    if not resting and np.any(above):
        charge_gauge, oil_gauge = first_where(above, precharge, pressure)
        raise InputError(
            "precharge",
            f"{GAUGE.unlike(charge_gauge, oil_gauge)}, which is above the oil pressure of "
            f"{GAUGE.exact_text(oil_gauge)}: the "
            "piston rests at the oil end and no oil is stored",
            "a pre-charge at or below the oil pressure",
        )
    return gas_volume - gas.volume_at_pressure.si(gas_volume, charge, np.maximum(now, charge), polytropic_index)


@public
def fill_fraction(oil: Oil, gas_volume: Volume) -> Fraction:
    """How full the vessel is: oil over gas volume, 0 (piston at the oil end) to below 1.

    Raises `InputError` for more oil than the vessel has room for. Shapes broadcast. Source: definition.

    >>> print(f"{fill_fraction(Q(1.5, 'qt'), Q(3, 'qt')).m:.2f}")
    0.50
    """
    refuse(oil > gas_volume * ROUNDING, "oil", oil, gas_volume, OIL, "no more than the vessel's {}")
    return np.minimum(oil / gas_volume, 1.0)


@public
def piston_travel(oil: Oil, bore: Length) -> Distance:
    """How far the piston stands from the oil end: oil over the bore's area, ``V / (pi D**2 / 4)``.

    oil: 0 or more; bore: inside diameter, above 0. Shapes broadcast. Source: first principles (cylinder).

    >>> print(f"{piston_travel(Q(1.5, 'qt'), Q(4.5, 'in')):.2f~}")
    5.45 in
    """
    return oil / (math.pi * bore**2 / 4.0)


@public
def bore_from_travel(oil: Volume, travel: Length) -> Length:
    """Bore of a vessel whose piston moves so far for so much oil: `piston_travel` the other way round.

    oil, travel: above 0. Shapes broadcast. Source: first principles (cylinder).

    >>> print(f"{bore_from_travel(Q(0.5, 'qt'), Q(2.75, 'in')):.2f~}")
    3.66 in
    """
    return np.sqrt(4.0 * oil / (math.pi * travel))


@public
def rule_reading(oil: Oil, bore: Length, rule_zero: Distance) -> Distance:
    """What a rule at the vessel's gas end reads beside a thin rod that rides on the piston: zero mark plus travel.

    rule_zero: reading with the piston at the oil end. Shapes broadcast. Source: first principles (cylinder).

    >>> print(f"{rule_reading(Q(1.5, 'qt'), Q(4.5, 'in'), Q(0.5, 'in')):.2f~}")
    5.95 in
    """
    return rule_zero + piston_travel.si(oil, bore)


@dataclass(frozen=True)
class Filling:
    """One fill, from an empty vessel to a settled one: see `fill`. All arrays have the shape of ``time``."""

    time: Qty
    oil: Qty = field(repr=False)
    gas_temperature: Qty = field(repr=False)
    pressure: Qty = field(repr=False)
    """Gauge, the same on both sides of the piston."""
    at_pressure: Qty
    """When the oil's own pressure was reached: pumping ends here and cooling goes on."""
    prompt_oil: Qty
    """Oil in the vessel at that moment."""
    settled_oil: Qty
    """Oil in the vessel once the gas is back at the wall's temperature."""


@public
def fill(
    vessel: Vessel,
    precharge: One[Gauge],
    pressure: One[Gauge],
    flow: One[Flow],
    gas_temperature: One[WorkingTemperature],
    thermal_time_constant: One[TimeConstant],
    ambient: One[Ambient] = STANDARD_ATMOSPHERE,
    settle: One[Settling] = 5.0,
    steps: Steps = 400,
) -> Filling:
    """Fill an empty vessel at a steady flow up to the oil's pressure, then hold that pressure while the gas cools.

    While the flow is the limit, the volume falls in a straight line and the gas warms (`gas.temperature_along`). From
    the moment the oil's pressure is reached, ``T`` falls back to the wall as ``exp(-t / (gamma tau))`` at constant
    pressure and drags a little more oil in.

    precharge: gauge, at the working temperature; pressure: gauge, above the pre-charge; flow: above 0.
    gas_temperature: of the vessel's wall, and of the gas before the fill.
    thermal_time_constant: 0 (settled at once) to infinite (never settles); settle: how many times gamma tau to watch;
    steps: time steps in each of the two phases. Errors fall with their square: at 400 below 1e-5 in the prompt oil and
    2e-5 in the gas temperature, ten times less in most cases.
    Returns a `Filling` with ``2 steps + 1`` moments (``steps + 1`` with settle = 0). Raises `InputError` for a
    pre-charge at or above the pressure, and for either above the vessel's rating.
    Source: first principles; one thermal time constant as in `gas.temperature_along`.

    >>> bench = Vessel("bench", Q(3, "qt"), Q(4.5, "in"), Q(150, "psig"))
    >>> run = fill(bench, Q(10, "psig"), Q(60, "psig"), Q(4, "gpm"), Q(20, "degC"), Q(5, "s"))
    >>> print(f"{run.prompt_oil:.2f~} by {run.at_pressure:.1f~}, {run.settled_oil:.2f~} once settled")
    1.76 qt by 6.6 s, 2.01 qt once settled
    """
    volume, rate, wall, tau = vessel.si.gas_volume, flow, gas_temperature, thermal_time_constant
    for name, gauge in (("precharge", precharge), ("pressure", pressure)):
        check_rated(vessel, name, gauge)
    charge = gas_absolute("precharge", precharge, ambient)
    goal = gas_absolute("pressure", pressure, ambient)
    if charge >= goal:
        stays = f"not below the oil pressure of {GAUGE.exact_text(pressure)}: the piston stays at the oil end"
        wanted = "a pre-charge below the oil pressure"
        raise InputError("precharge", f"{GAUGE.exact_text(precharge)}, which is {stays}", wanted)
    moving, temperature = _pumped(volume, charge, goal, rate, wall, tau, steps)
    reached = moving[-1]
    cooling_time = gas.ADIABATIC * tau
    clocked = 1e-9 * reached < cooling_time < math.inf  # else there is nothing to watch, or for ever
    after = np.linspace(0.0, settle * (cooling_time if clocked else reached), steps + 1)[1:] if settle else np.empty(0)
    fade = np.exp(-after / cooling_time) if clocked else np.full_like(after, float(math.isinf(tau)))
    cooling = wall + (temperature[-1] - wall) * fade
    time = np.concatenate([moving, reached + after])
    kelvin = np.concatenate([temperature, cooling])
    space = np.concatenate([volume - rate * moving, volume * charge / goal * cooling / wall])
    return Filling(
        time=TIME.quantity(time),
        oil=OIL.quantity(volume - space),
        gas_temperature=WORKING_TEMPERATURE.quantity(kelvin),
        pressure=GAUGE.quantity(charge * volume / space * kelvin / wall - ambient),
        at_pressure=TIME.quantity(float(reached)),
        prompt_oil=OIL.quantity(float(rate * reached)),
        settled_oil=OIL.quantity(float(volume * (1.0 - charge / goal))),
    )


def _pumped(
    volume: float, charge: float, goal: float, rate: float, wall: float, tau: float, steps: int
) -> tuple[np.ndarray[Any, Any], np.ndarray[Any, Any]]:
    """Times and gas temperatures from empty to the moment when the gas reaches the goal pressure."""

    def warmed(end: float) -> tuple[np.ndarray[Any, Any], np.ndarray[Any, Any], float]:
        time = np.linspace(0.0, end, steps + 1)
        space = volume - rate * time
        kelvin = gas.temperature_along.si(time, space, wall, wall, tau)
        return time, kelvin, float(charge * volume / space[-1] * kelvin[-1] / wall) / goal - 1.0

    soonest = (volume - gas.volume_at_pressure.si(volume, charge, goal, gas.ADIABATIC)) / rate
    latest = (volume - gas.volume_at_pressure.si(volume, charge, goal)) / rate
    if warmed(soonest)[2] >= -1e-12:  # no heat exchange at all
        end = soonest
    elif warmed(latest)[2] <= 1e-12:  # full heat exchange
        end = latest
    else:
        end = float(root_between(lambda moment: warmed(moment)[2], soonest, latest, enough=1e-13))
    time, kelvin, _ = warmed(end)
    return time, kelvin


def check_rated(vessel: Vessel, argument: str, gauge: Any) -> None:
    """Raise `InputError` for a gauge pressure (SI, one or many) above what the vessel's maker allows."""
    rated = vessel.si.rated_pressure
    above = np.asarray(gauge) > rated * ROUNDING
    refuse(above, argument, gauge, rated, GAUGE, "no more than the vessel's rating of {}")


def gas_absolute(argument: str, gauge: Any, ambient: Any) -> Any:
    """Absolute pressure behind a gauge reading, with the caller's own argument named if it is below a vacuum."""
    try:
        return absolute_pressure.si(gauge, ambient)
    except InputError as problem:
        raise InputError(argument, problem.got, problem.wanted) from None
