"""Choosing pre-charge, a first look: oil that is stored against oil that comes out with pressure behind it. (Lesson 03)

Every pre-charge here is the one at working temperature (`oilkit.physics.vessel.precharge_at_temperature`).
"""

from __future__ import annotations

from typing import Any

import numpy as np

from oilkit.physics import gas
from oilkit.physics.pressure import STANDARD_ATMOSPHERE
from oilkit.physics.roots import root_between
from oilkit.physics.vessel import gas_absolute
from oilkit.quantities.checked import Ambient, Flow, Gauge, GaugeAboveZero, Index, Oil, Speed, Time, Volume, public
from oilkit.quantities.kinds import GAUGE, ROUNDING, refuse
from oilkit.quantities.units import Q

RULE_OF_THUMB = Q(10, "psi") / Q(1000, "rpm")
"""Oil pressure that the trade asks for by speed: 10 psi per 1000 rpm (common practice, no source)."""
_RULE_SI = float(RULE_OF_THUMB.to("Pa * s / rev").magnitude)


@public
def useful_oil(
    gas_volume: Volume,
    precharge: Gauge,
    pressure: Gauge,
    lowest_pressure: Gauge,
    ambient: Ambient = STANDARD_ATMOSPHERE,
    polytropic_index: Index = gas.ISOTHERMAL,
) -> Oil:
    """Oil that a settled vessel gives out while its pressure falls from ``pressure`` to ``lowest_pressure``.

    The gas, settled at ``V1 = V0 p0 / p1``, grows to ``V1 (p1 / p_min) ** (1 / n)``, but no farther than the piston
    goes: to ``V0``. What it grows by is oil given out at ``lowest_pressure`` or more.

    precharge, pressure, lowest_pressure: gauge, above a vacuum. A pre-charge above the pressure stores nothing: 0.
    lowest_pressure: at most ``pressure``. polytropic_index: of the discharge, 1 (slow) to 1.4 (no heat exchange).
    Shapes broadcast. Raises `InputError` for a lowest pressure above the pressure.
    Source: first principles from Boyle's law (n = 1) and from the ideal gas without heat exchange (n = 1.4).

    >>> print(f"{useful_oil(Q(3, 'qt'), Q(20, 'psig'), Q(60, 'psig'), Q(20, 'psig')):.2f~}")
    1.61 qt
    """
    charge = gas_absolute("precharge", precharge, ambient)
    full, lowest = _from_and_to(pressure, lowest_pressure, ambient)
    at_start = gas_volume * np.minimum(charge / full, 1.0)
    at_end = gas.volume_at_pressure.si(at_start, full, lowest, polytropic_index)
    return np.minimum(at_end, gas_volume) - at_start


@public
def best_precharge(
    pressure: Gauge,
    lowest_pressure: Gauge,
    ambient: Ambient = STANDARD_ATMOSPHERE,
    polytropic_index: Index = gas.ISOTHERMAL,
) -> Gauge:
    """Pre-charge that gives the most useful oil between two pressures: ``p1 (p_min / p1) ** (1 / n)``, absolute.

    With it the last oil leaves just as the pressure reaches ``lowest_pressure``: with less, oil stays behind that
    comes out too late; with more, there is less oil to begin with. For slow gas (n = 1) it is ``lowest_pressure``
    itself, whatever the pressure and the clearances. Line loss is left out: it adds about its own size.

    pressure, lowest_pressure: gauge, lowest at most ``pressure``. polytropic_index: of the discharge. Shapes broadcast.
    Raises `InputError` for a lowest pressure above the pressure. Source: first principles (both end volumes of
    `useful_oil` grow with the pre-charge until the vessel runs empty first).

    >>> print(f"{best_precharge(Q(50, 'psig'), Q(10, 'psig'), polytropic_index=1.4):.1f~}")
    17.8 psig
    """
    full, lowest = _from_and_to(pressure, lowest_pressure, ambient)
    return full * (lowest / full) ** (1.0 / polytropic_index) - ambient


@public
def rule_of_thumb_pressure(speed: Speed) -> Gauge:
    """Oil pressure that the trade's rule asks for at a speed: 10 psi for every 1000 rpm.

    speed: of the crankshaft, 0 or more. Shapes broadcast. Source: common practice, no source.

    >>> print(f"{rule_of_thumb_pressure(Q(6500, 'rpm')):.0f~}")
    65 psig
    """
    return _RULE_SI * speed


@public
def time_to_empty(
    gas_volume: Volume,
    precharge: GaugeAboveZero,
    pressure: GaugeAboveZero,
    flow_at_pressure: Flow,
    ambient: Ambient = STANDARD_ATMOSPHERE,
) -> Time:
    """How long a settled vessel feeds an engine that takes oil in proportion to pressure, until the piston is home.

    ``dV/dt = G (p - p_amb)`` with ``p V`` constant has the solution ``t = [F(V0) - F(V1)] / G`` with
    ``F(V) = -V / p_amb - (C / p_amb**2) ln(1 - p_amb V / C)``, ``C = p0 V0`` (pressures absolute) and ``G`` the flow
    at the starting pressure over that gauge pressure. No line, slow gas: the plain case of the lesson on discharge.

    precharge: gauge, above 0 (at 0 the last oil takes for ever); pressure: gauge, above 0. A pre-charge at or above
    the pressure gives 0. flow_at_pressure: into the engine at the starting pressure, above 0. Shapes broadcast.
    Source: first principles (laminar engine, isothermal gas).

    >>> print(f"{time_to_empty(Q(3, 'qt'), Q(45, 'psig'), Q(60, 'psig'), Q(5, 'gpm')):.1f~}")
    2.1 s
    """
    constant, start = _settled(gas_volume, precharge, pressure, ambient)
    return (_run(gas_volume, constant, ambient) - _run(start, constant, ambient)) * pressure / flow_at_pressure


def _settled(gas_volume: Any, precharge: Any, pressure: Any, ambient: Any) -> tuple[Any, Any]:
    """Pressure times volume of the gas, and its volume when the vessel has settled at a pressure."""
    constant = gas_volume * (precharge + ambient)
    return constant, np.minimum(constant / (pressure + ambient), gas_volume)


def _run(volume: Any, constant: Any, ambient: Any) -> Any:
    """The function F of `time_to_empty`."""
    return -volume / ambient - constant / ambient**2 * np.log1p(-ambient * volume / constant)


@public
def pressure_after(
    gas_volume: Volume,
    precharge: GaugeAboveZero,
    pressure: GaugeAboveZero,
    flow_at_pressure: Flow,
    time: Time,
    ambient: Ambient = STANDARD_ATMOSPHERE,
) -> Gauge:
    """Pressure that is left after a settled vessel has fed an engine for a time: 0 once the piston is home.

    `time_to_empty` the other way round. With ``u = 1 - p_amb V / C`` its solution is
    ``ln u - u = -1 - F p_amb**2 / C``, so u is minus Lambert's W of minus the exponential of the right side, and
    ``p = p_amb u / (1 - u)``.

    Arguments as in `time_to_empty`; time: 0 or more. Shapes broadcast. A pre-charge above the pressure stores nothing,
    so the answer is 0 at once. Raises `InputError` for a pre-charge or a pressure of 0 or less.
    Source: first principles (laminar engine, isothermal gas).

    >>> left = pressure_after(Q(3, "qt"), Q([10, 45, 50], "psig"), Q(60, "psig"), Q(5, "gpm"), Q(2, "s"))
    >>> print(f"{left:.1f~}")
    [35.1 45.5 0.0] psig
    """
    from scipy.special import lambertw  # here, because it costs a quarter of a second that most lessons never need

    lasting = time_to_empty.si(gas_volume, precharge, pressure, flow_at_pressure, ambient)
    constant, start = _settled(gas_volume, precharge, pressure, ambient)
    run = _run(start, constant, ambient) + flow_at_pressure / pressure * np.minimum(time, lasting)
    u = -np.real(lambertw(-np.exp(-1.0 - run * ambient**2 / constant)))
    return np.where(time < lasting, ambient * u / (1.0 - u), 0.0)[()]


@public
def longest_lasting_precharge(
    gas_volume: Volume,
    pressure: GaugeAboveZero,
    flow_at_pressure: Flow,
    event: Time,
    ambient: Ambient = STANDARD_ATMOSPHERE,
) -> Gauge:
    """Highest pre-charge with which the vessel just lasts through one event: it keeps the pressure highest to its end.

    The pre-charge at which `time_to_empty` equals the event. A little more, and the vessel is empty before the event
    is over: the answer sits on a cliff, so choose with room below it.

    pressure: gauge, above 0; flow_at_pressure: what the engine takes at that pressure; event: above 0.
    Shapes broadcast. An event that even the lowest pre-charge cannot outlast gives (nearly) 0.
    Source: first principles (laminar engine, isothermal gas), solved numerically to 1e-9 psi.

    >>> print(f"{longest_lasting_precharge(Q(3, 'qt'), Q(60, 'psig'), Q(5, 'gpm'), Q(2, 's')):.0f~}")
    46 psig
    """
    volume, full, flow, lasting, outside = np.broadcast_arrays(gas_volume, pressure, flow_at_pressure, event, ambient)
    lowest = 1e-9 * full

    lasting = np.minimum(lasting, time_to_empty.si(volume, lowest, full, flow, outside))

    def spare(charge: Any) -> Any:
        return time_to_empty.si(volume, charge, full, flow, outside) - lasting

    return root_between(spare, lowest, full, enough=1e-13, least=1e-6)[()]


def _from_and_to(pressure: Any, lowest_pressure: Any, ambient: Any) -> tuple[Any, Any]:
    """Both ends of a discharge as absolute pressures, the lower one not above the other."""
    full = gas_absolute("pressure", pressure, ambient)
    lowest = gas_absolute("lowest_pressure", lowest_pressure, ambient)
    wrong = lowest > full * ROUNDING
    refuse(wrong, "lowest_pressure", lowest_pressure, pressure, GAUGE, "no more than the oil pressure of {}")
    return full, np.minimum(lowest, full)
