"""Gas: Boyle's law, its fast cousin, and everything between. (Lessons 01 and 02)

Every pressure in this module is absolute: a gas law knows no other. The vessel's own functions take gauge readings.
The gas is ideal. In slow changes from 10 to 60 psi real nitrogen and air differ from it by less than 0.2 % at 0 °C and
above, 0.3 % at -20 °C; up to 150 psi by 0.4 % near room temperature and 0.9 % at -20 °C; fast to 60 psi by 0.5 %.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from pint.facets.plain import PlainQuantity

from oilkit.errors import InputError
from oilkit.quantities.checked import Absolute, Gauge, Index, One, Own, Temperature, Time, TimeConstant, Volume, public
from oilkit.quantities.kinds import ABSOLUTE, NUMBER, VOLUME, to_si
from oilkit.quantities.units import Qty

ADIABATIC = 1.4
"""Ratio of specific heats of a diatomic gas (nitrogen, air): the index of a change too fast for heat to flow.

7/5 from first principles: molecules of two atoms take up heat in five ways."""

ISOTHERMAL = 1.0
"""The index of a change slow enough to stay at one temperature: Boyle's law (a definition)."""


@public
def volume_at_pressure(
    volume: Volume, pressure: Absolute, new_pressure: Absolute, polytropic_index: Index = ISOTHERMAL
) -> Volume:
    """Volume of a gas after its pressure has changed: ``V2 = V1 (p1 / p2) ** (1 / n)``.

    volume, pressure: the state before; new_pressure: after. All above 0, pressures absolute. Shapes broadcast.
    polytropic_index: 1 (slow, Boyle's law) to 1.4 (fast, no heat exchange, diatomic gas); at most 1.7.
    Source: Boyle 1662 for n = 1; first principles (ideal gas, no heat exchange) for n = 1.4.

    >>> print(f"{volume_at_pressure(Q(3, 'qt'), Q(20, 'psia'), Q(40, 'psia')):.2f~}")
    1.50 qt
    """
    return volume * (pressure / new_pressure) ** (1.0 / polytropic_index)


@public
def pressure_at_volume(
    pressure: Absolute, volume: Volume, new_volume: Volume, polytropic_index: Index = ISOTHERMAL
) -> Absolute:
    """Absolute pressure of a gas after its volume has changed: ``p2 = p1 (V1 / V2) ** n``.

    pressure, volume: the state before; new_volume: after. All above 0. Shapes broadcast.
    polytropic_index: 1 (slow, Boyle's law) to 1.4 (fast, no heat exchange, diatomic gas); at most 1.7.
    Source: Boyle 1662 for n = 1; first principles (ideal gas, no heat exchange) for n = 1.4.

    >>> print(f"{pressure_at_volume(Q(14.7, 'psia'), Q(2, 'qt'), Q(1, 'qt')):.1f~}")
    29.4 psia
    """
    return pressure * (volume / new_volume) ** polytropic_index


@public
def gauge_used_by_mistake(gauge: Gauge, volume: Volume, new_volume: Volume) -> Gauge:
    """What Boyle's law *seems* to give when a gauge reading is put into it: the classic mistake, on purpose.

    The lessons show this wrong answer beside the right one. Never use it for anything else. Shapes broadcast.
    Source: first principles (the mistake spelled out).

    >>> print(f"{gauge_used_by_mistake(Q(10, 'psig'), Q(2, 'qt'), Q(1, 'qt')):.1f~}")
    20.0 psig
    """
    return gauge * volume / new_volume


@public
def pressure_at_temperature(pressure: Absolute, temperature: Temperature, new_temperature: Temperature) -> Absolute:
    """Absolute pressure of a gas shut into a fixed volume after it has warmed or cooled: ``p2 = p1 T2 / T1``.

    Temperatures are absolute inside (kelvin); give them in any unit, 200 to 600 K. Shapes broadcast.
    Source: first principles (ideal gas, constant volume and mass).

    >>> hot = pressure_at_temperature(Q(24.7, "psia"), Q(20, "degC"), Q(90, "degC"))
    >>> print(f"{hot:.1f~}")
    30.6 psia
    """
    return pressure * new_temperature / temperature


@public
def temperature_at_pressure(
    temperature: Temperature, pressure: Absolute, new_pressure: Absolute, polytropic_index: Index = ADIABATIC
) -> Temperature:
    """Temperature of a gas after its pressure has changed: ``T2 = T1 (p2 / p1) ** ((n - 1) / n)``.

    With index 1 it stays; with 1.4 it is the full heating of a fast squeeze. Shapes broadcast.
    Source: first principles (ideal gas along p V**n = const).

    >>> print(f"{temperature_at_pressure(Q(20, 'degC'), Q(24.7, 'psia'), Q(49.4, 'psia')).to('degC'):.0f~}")
    84 °C
    """
    return temperature * (new_pressure / pressure) ** ((polytropic_index - 1.0) / polytropic_index)


@public
def temperature_along(
    time: Own[Time],
    volume: Own[Volume],
    start: One[Temperature],
    wall: One[Temperature],
    thermal_time_constant: One[TimeConstant],
) -> Temperature:
    """Gas temperature while its volume is moved along a given path and its heat leaks to the wall.

    Solves ``dT/dt = (T_wall - T) / tau - (gamma - 1) T (dV/dt) / V`` from ``start`` at the first time.
    With ``G = T V**(gamma-1)`` this is ``dG/dt = (T_wall V**(gamma-1) - G) / tau``, whose solution over one step is
    exact for a source that is straight over the step, at any tau: 0 (Boyle) and infinite (adiabatic) included.

    time: rising, at least 2 values, shape (n,); volume: shape (n,), above 0; start, wall: one temperature each.
    thermal_time_constant: 0 to infinite; for a vessel of a few quarts 2 to 20 s (see
    `oilkit.gas_time_constant`), and no constant while its piston moves.
    Returns shape (n,). Error falls with the square of the step. Raises `InputError` for times that do not rise.
    Source: first principles (energy balance of an ideal gas); the exchange with one time constant follows
    Pourmovahed & Otis, J. Dyn. Sys. Meas. Control 112 (1990), whose measurements lie at 1 to 19.5 MPa: here it is
    an extrapolation to lower pressure.

    >>> warm = temperature_along(Q([0, 1], "s"), Q([3, 1.5], "qt"), Q(20, "degC"), Q(20, "degC"), Q(np.inf, "s"))
    >>> print(f"{warm[-1].to('degC'):.0f~}")
    114 °C
    """
    if np.ndim(time) != 1 or np.size(time) < 2 or np.any(np.diff(time) <= 0.0):
        raise InputError("time", f"{np.size(time)} times that do not all rise", "2 or more rising times")
    if np.shape(volume) != np.shape(time):
        raise InputError("volume", f"{np.size(volume)} values", f"one for each of the {np.size(time)} times")
    stretch = volume ** (ADIABATIC - 1.0)
    if thermal_time_constant == 0.0:
        result = np.full(np.shape(volume), float(wall))
        result[0] = start
        return result
    keep, early, late = _step_weights(np.diff(time) / max(thermal_time_constant, 1e-12 * (time[-1] - time[0])))
    source = wall * (early * stretch[:-1] + late * stretch[1:])
    carried = float(start * stretch[0])
    path = [carried]
    for k, s in zip(keep.tolist(), source.tolist(), strict=True):
        carried = k * carried + s
        path.append(carried)
    return np.array(path) / stretch


def _step_weights(steps: Any) -> tuple[Any, Any, Any]:
    """Weights of the old value and of the source at both ends, for dG/dt = s - G; steps in time constants."""
    keep = np.exp(-steps)
    small = steps < 1e-4  # the closed form cancels there; its series is good to 1e-13
    tiny, safe = np.where(small, steps, 0.0), np.where(small, 1.0, steps)
    gone = -np.expm1(-safe) / safe
    late = np.where(small, tiny / 2.0 - tiny**2 / 6.0, 1.0 - gone)
    early = np.where(small, tiny / 2.0 - tiny**2 / 3.0, gone - keep)
    return keep, early, late


def mean_product(volume: Any, pressure: Any) -> tuple[float, float]:
    """Mean of pressure times volume over some readings, and how far the farthest one strays from it, as a fraction.

    Plain numbers, shape (n,) each. It also takes gauge pressures, for the lesson that shows why they do not work: the
    stray is then large, and infinite for a mean of zero. Source: definition.

    >>> product, stray = mean_product(np.array([2.0, 1.0]), np.array([10.0, 20.0]))
    >>> print(product, stray)
    20.0 0.0
    """
    products = np.asarray(pressure) * np.asarray(volume)
    mean = float(np.mean(products))
    return mean, float(np.max(np.abs(products / mean - 1.0))) if mean else float("inf")


@dataclass(frozen=True)
class PowerLawFit:
    """Readings held against ``p V**n = constant``: see `power_law_fit`."""

    exponent: float
    """Fitted n. Boyle's law says 1."""
    exponent_error: float
    """One standard error of n, from the scatter of the readings (NaN with fewer than three readings)."""
    pressure_at_first: Qty
    """Fitted absolute pressure at the first reading's volume."""
    residual: np.ndarray[Any, Any] = field(repr=False)
    """Reading over fit minus 1, one per reading."""
    boyle_residual: np.ndarray[Any, Any] = field(repr=False)
    """Reading over the best p V = constant minus 1, one per reading."""


@public
def power_law_fit(volume: Qty, pressure: Own[Absolute]) -> PowerLawFit:
    """Fit ``p V**n = constant`` to readings, by least squares on the logarithms.

    volume: shape (n,), any volume or plain number in proportion to it; pressure: shape (n,), absolute.
    At least two different volumes. Raises `InputError` otherwise, and for a gauge pressure.
    Source: first principles (ordinary least squares).

    >>> fit = power_law_fit(Q([2, 1, 0.5], "qt"), Q([10, 20, 40], "psia"))
    >>> print(f"n = {fit.exponent:.3f}")
    n = 1.000
    """
    in_proportion = not isinstance(volume, PlainQuantity) or volume.dimensionless
    v = to_si("volume", volume, NUMBER if in_proportion else VOLUME)
    if np.ndim(v) != 1 or np.shape(v) != np.shape(pressure) or np.size(v) < 2 or np.ptp(v) == 0.0:
        raise InputError(
            "volume",
            f"{np.size(v)} volumes and {np.size(pressure)} pressures",
            "as many of each, at two different volumes or more",
        )
    if np.any(v <= 0.0):
        raise InputError("volume", "a volume of zero or less", VOLUME.wanted())
    x, y = np.log(v), np.log(pressure)
    x_off = x - x.mean()
    slope = float(x_off @ (y - y.mean()) / (x_off @ x_off))
    fitted = y.mean() + slope * x_off
    residual = y - fitted
    freedom = len(x) - 2
    error = float(np.sqrt(residual @ residual / freedom / (x_off @ x_off))) if freedom > 0 else float("nan")
    boyle = y + x
    return PowerLawFit(
        exponent=-slope,
        exponent_error=error,
        pressure_at_first=ABSOLUTE.quantity(float(np.exp(fitted[0]))),
        residual=np.expm1(residual),
        boyle_residual=np.expm1(boyle - boyle.mean()),
    )
