"""Pressure, gas, vessel and the unit factors against readings, other people's software and standards."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import Any

import ambiance
import fluids
import ht
import numpy as np
from scipy.integrate import solve_ivp

import oilkit
from oilkit import Q, power_law_fit, temperature_along
from oilkit.physics.catalog import boyle_1662
from oilkit.physics.gas import (
    pressure_at_temperature,
    pressure_at_volume,
    temperature_at_pressure,
    volume_at_pressure,
)
from oilkit.physics.pressure import ambient_pressure
from oilkit.physics.vessel import (
    USUAL_HEAT_TRANSFER,
    Vessel,
    bore_from_travel,
    fill,
    fill_fraction,
    gas_time_constant,
    oil_stored,
    precharge_at_temperature,
)
from oilkit.quantities import kinds
from outside_rows.real_gas import COOLPROP, of_real_gas
from outside_rows.row import ATMOSPHERE, COMMON_PRACTICE, PSI, Row, between

# ------------------------------------------------------------------------------------------------------ Boyle, 1662

BOYLE = "Boyle 1662, A Defence of the Doctrine Touching the Spring and Weight of the Air (published copy)"


def boyle_rows() -> Iterator[Row]:
    """Boyle's 25 readings against the best p V = constant, and the exponent that they fit."""
    readings = boyle_1662()
    spaces = readings.volume.to("dimensionless").m
    inches = readings.pressure.to("inHg * absolute_mark").m
    constant = float(np.exp(np.mean(np.log(spaces * inches))))
    for space, inch in zip(spaces.tolist(), inches.tolist(), strict=True):
        law = pressure_at_volume(Q(constant, "inHg * absolute_mark"), Q(1, "in**3"), Q(space, "in**3"))
        yield Row(
            f"Boyle's pressure at {space:g} spaces, inHg",
            law.to("inHg * absolute_mark").m,
            inch,
            3 / 16 + inch * (1 / 16) / (space / 4),
            False,
            BOYLE,
            "each level read within 1/16 in, the smallest part he records: three in the pressure (two mercury levels "
            "and the barometer), one in the volume, whose spaces are quarter inches (48 in 12 in, from memory)",
        )
    fit = power_law_fit(readings.volume, readings.pressure)
    yield Row(
        "exponent n in p V^n of Boyle's readings",
        fit.exponent,
        1.0,
        3 * fit.exponent_error,
        False,
        BOYLE,
        "three standard errors of the fit: a true exponent of 1 falls outside once in 370 such tables",
    )


# ----------------------------------------------------------------------------------------- real nitrogen and real air

LOW, HIGH, ROOM, HOT = 24.7 * PSI, 74.7 * PSI, 293.15, 363.15
REAL_GAS = f"{COOLPROP}, real {{}}"


def largest_departure(gas: str) -> float:
    """How far the gas is from ideal, |Z - 1|, at the worst corner of the range."""
    return max(abs(of_real_gas("Z", "P", p, "T", t, gas) - 1.0) for p in (LOW, HIGH) for t in (ROOM, HOT))


def largest_index_departure(gas: str, entropy: float) -> float:
    """How far the gas's own isentropic exponent is from 1.4, as a part of 1.4, on the way between both pressures."""
    ends = [
        of_real_gas("A", "P", p, "S", entropy, gas) ** 2 * of_real_gas("D", "P", p, "S", entropy, gas) / p
        for p in (LOW, HIGH)
    ]
    return max(abs(k / 1.4 - 1.0) for k in ends)


def real_gas_rows() -> Iterator[Row]:
    """Ideal gas in the kit against the real gas, slow and fast."""
    for gas, cp0_source in (("Nitrogen", "nitrogen"), ("Air", "air")):
        source = REAL_GAS.format(cp0_source)
        ideal = largest_departure(gas)
        ideal_why = f"the gas's own departure from ideal, |Z - 1|, at the worst corner of the range: {ideal:.4f}"

        density = {p: of_real_gas("D", "P", p, "T", ROOM, gas) for p in (LOW, HIGH)}
        kit = volume_at_pressure(Q(1, "L"), Q(24.7, "psia"), Q(74.7, "psia")).to("L").m
        yield Row(
            f"{cp0_source}, slow 24.7 -> 74.7 psia at 20 °C: V2/V1",
            kit,
            density[LOW] / density[HIGH],
            ideal,
            True,
            source,
            ideal_why,
        )

        oil = oil_stored(Q(3, "qt"), Q(24.7 * PSI - 101_325.0, "Pag"), Q(74.7 * PSI - 101_325.0, "Pag")).to("qt").m
        left = density[LOW] / density[HIGH]
        yield Row(
            f"{cp0_source}, oil in 3 qt, pre-charge 10.0 psi, 60.0 psi, settled, qt",
            oil,
            3.0 * (1.0 - left),
            3.0 * left * ideal,
            False,
            source,
            "3 qt times V2/V1 times " + ideal_why,
        )

        warm = of_real_gas("P", "D", density[LOW], "T", HOT, gas)
        kit = pressure_at_temperature(Q(24.7, "psia"), Q(20, "degC"), Q(90, "degC")).to("psia").m
        yield Row(
            f"{cp0_source}, shut in at 24.7 psia, 20 -> 90 °C, psia", kit, warm / PSI, ideal, True, source, ideal_why
        )

        charge = of_real_gas("D", "P", 101_325.0 + 10 * PSI, "T", ROOM, gas)
        warm = (of_real_gas("P", "D", charge, "T", HOT, gas) - 101_325.0) / PSI
        kit = precharge_at_temperature(Q(10, "psig"), Q(20, "degC"), Q(90, "degC")).to("psig").m
        yield Row(
            f"{cp0_source}, pre-charge 10 psi set at 20 °C, at 90 °C, psi gauge",
            kit,
            warm,
            ideal * (warm + 101_325.0 / PSI),
            False,
            source,
            "of the absolute pressure, " + ideal_why,
        )

        entropy = of_real_gas("S", "P", HIGH, "T", ROOM, gas)
        stretch = of_real_gas("D", "P", HIGH, "T", ROOM, gas) / of_real_gas("D", "P", LOW, "S", entropy, gas)
        index = largest_index_departure(gas, entropy)
        kit = volume_at_pressure(Q(1, "L"), Q(74.7, "psia"), Q(24.7, "psia"), 1.4).to("L").m
        yield Row(
            f"{cp0_source}, fast 74.7 -> 24.7 psia from 20 °C: V2/V1",
            kit,
            stretch,
            math.log(HIGH / LOW) / 1.4 * index,
            True,
            source,
            f"the gas's isentropic exponent leaves 1.4 by up to {index:.4f} of it on this way, times ln(p1/p2)/1.4",
        )

        entropy = of_real_gas("S", "P", LOW, "T", ROOM, gas)
        slope = max(
            abs(
                of_real_gas("d(T)/d(P)|S", "P", p, "S", entropy, gas) * p / of_real_gas("T", "P", p, "S", entropy, gas)
                - 0.4 / 1.4
            )
            for p in (LOW, HIGH)
        )
        kit = temperature_at_pressure(Q(20, "degC"), Q(24.7, "psia"), Q(74.7, "psia")).to("K").m
        yield Row(
            f"{cp0_source}, fast 24.7 -> 74.7 psia from 20 °C: T2, K",
            kit,
            of_real_gas("T", "P", HIGH, "S", entropy, gas),
            math.log(HIGH / LOW) * slope,
            True,
            source,
            f"the gas's own d ln T / d ln p leaves 0.4/1.4 by up to {slope:.5f} on this way, times ln(p2/p1)",
        )

        slope = max(
            abs(
                of_real_gas("d(T)/d(D)|S", "D", d, "S", entropy, gas) * d / of_real_gas("T", "D", d, "S", entropy, gas)
                - 0.4
            )
            for d in (density[LOW], 2 * density[LOW])
        )
        path = temperature_along(
            Q([0.0, 1.0], "s"), Q([3.0, 1.5], "qt"), Q(20, "degC"), Q(20, "degC"), Q(math.inf, "s")
        )
        yield Row(
            f"{cp0_source}, fast to half the volume from 24.7 psia, 20 °C: T2, K",
            path.to("K").m[-1],
            of_real_gas("T", "D", 2 * density[LOW], "S", entropy, gas),
            math.log(2) * slope,
            True,
            source,
            f"the gas's own d ln T / d ln(1/V) leaves 0.4 by up to {slope:.5f} on this way, times ln 2",
        )

        for celsius in (20, 90):
            cp0 = of_real_gas("CP0MOLAR", "P", LOW, "T", celsius + 273.15, gas)
            yield Row(
                f"{cp0_source}, ratio of specific heats at low pressure, {celsius} °C",
                oilkit.ADIABATIC,
                cp0 / (cp0 - 8.314_462_618),
                0.005,
                False,
                source,
                "1.40 is stated to two decimals: half of the last one",
            )


# -------------------------------------------------------------------------------------- the same equation, integrated

SCIPY = "scipy.integrate.solve_ivp of dT/dt = (Tw - T)/tau - (gamma - 1) T (dV/dt)/V"


def integrated_temperature(
    times: Any, volume: Callable[[float], float], rate: Callable[[float], float], start: float, wall: float, tau: float
) -> Any:
    """Gas temperature at the given times by a general integrator, from the volume and its rate of change."""

    def slope(t: float, y: Any) -> Any:
        return (wall - y) / tau - 0.4 * y * rate(t) / volume(t)

    method = "LSODA" if tau < 0.05 * times[-1] else "DOP853"
    done = solve_ivp(slope, (times[0], times[-1]), [start], method=method, t_eval=times, rtol=1e-11, atol=1e-9)
    if not done.success:
        raise ArithmeticError(done.message)
    return done.y[0]


def integrated_fill(
    volume: float, charge: float, goal: float, flow: float, wall: float, tau: float
) -> tuple[float, float]:
    """Time and gas temperature at which a steadily filled vessel reaches the goal pressure (absolute, SI)."""

    def slope(t: float, y: Any) -> Any:
        return (wall - y) / tau + 0.4 * y * flow / (volume - flow * t)

    def short_of_goal(t: float, y: Any) -> float:
        return float(charge * volume / (volume - flow * t) * y[0] / wall / goal - 1.0)

    short_of_goal.terminal = True  # type: ignore[attr-defined]
    longest = volume / flow * (1.0 - charge / goal) * 1.001
    method = "LSODA" if tau < 0.05 * longest else "DOP853"
    done = solve_ivp(slope, (0.0, longest), [wall], method=method, events=short_of_goal, rtol=1e-11, atol=1e-9)
    if not len(done.t_events[0]):
        raise ArithmeticError("the goal pressure was not reached")
    return float(done.t_events[0][0]), float(done.y_events[0][0][0])


def integrated_cooling(times: Any, start: float, wall: float, tau: float) -> Any:
    """Temperature of a gas held at one pressure: what it loses to the wall less the work done on it as it shrinks.

    Per mole, with c_v = 5/2 R: c_v dT/dt = c_v (Tw - T) / tau - p dV/dt, and p dV/dt = R dT/dt at constant pressure.
    """

    def slope(t: float, y: Any) -> Any:
        return 2.5 * (wall - y) / tau / (2.5 + 1.0)

    done = solve_ivp(slope, (times[0], times[-1]), [start], t_eval=times, rtol=1e-11, atol=1e-9)
    if not done.success:
        raise ArithmeticError(done.message)
    return done.y[0]


def integration_rows() -> Iterator[Row]:
    """The kit's exact step and its filling against a general integrator."""
    litre = 1e-3
    times = np.linspace(0.0, 4.0, 401)

    def volume(t: float) -> float:
        return litre * (2.0 + math.cos(math.pi * t / 4.0))

    def rate(t: float) -> float:
        return -litre * math.pi / 4.0 * math.sin(math.pi * t / 4.0)

    path = Q(np.array([volume(t) for t in times]), "m**3")
    for tau in (0.5, 3.0, 12.0):
        kit = temperature_along(Q(times, "s"), path, Q(293.15, "K"), Q(293.15, "K"), Q(tau, "s")).to("K").m
        yield Row(
            f"gas temperature after a 4 s squeeze to a third, tau {tau:g} s, K",
            kit[-1],
            float(integrated_temperature(times, volume, rate, 293.15, 293.15, tau)[-1]),
            1e-5,
            True,
            SCIPY,
            "400 steps of second order leave (1/400)^2 = 6e-6 of the temperature",
        )
    vessel = Vessel("invented", Q(3, "L"), Q(100, "mm"), Q(10, "barg"))
    for tau in (1.0, 5.0, 12.0):
        kit = (
            fill(vessel, Q(0.7, "barg"), Q(3.5, "barg"), Q(15, "Lpm"), Q(20, "degC"), Q(tau, "s")).prompt_oil.to("L").m
        )
        at, _ = integrated_fill(3 * litre, 171_325.0, 451_325.0, 15 * litre / 60, 293.15, tau)
        yield Row(
            f"oil when 3.5 bar is reached, 3 L, 0.7 bar, 15 L/min, tau {tau:g} s, L",
            kit,
            15 / 60 * at,
            1e-6,
            True,
            SCIPY,
            "what `fill` promises for its 400 steps",
        )


# ------------------------------------------------------------------------------------------------- the air outside

EARTH_RADIUS = 6_356_766.0
"""Metres, in both standards: geometric height z and geopotential height h are tied by z = r h / (r - h)."""


def atmosphere_rows() -> Iterator[Row]:
    """The standard atmosphere against two other implementations and against the printed tables."""
    for height in (-500, 0, 1000, 1600, 3000, 5000, 8000, 11_000):
        kit = ambient_pressure(Q(height, "m")).to("Paa").m
        geometric = EARTH_RADIUS * height / (EARTH_RADIUS - height)
        # 5.25588 is rounded in its last digit; the pressure goes with (1 - 0.0065 h / 288.15) to that power
        rounded = 5e-6 * abs(math.log(1.0 - 0.0065 * height / 288.15)) + 1e-12
        why = "exponent 5.25588 rounded to five decimals, times ln(T/T0); heights turned from geometric to geopotential"
        yield Row(
            f"standard atmosphere at {height} m, Pa",
            kit,
            fluids.ATMOSPHERE_1976(geometric).P,
            rounded,
            True,
            f"fluids {fluids.__version__}, ATMOSPHERE_1976 (US Standard Atmosphere 1976)",
            why,
        )
        # below sea level this package starts from 177 687 Pa at -5000 m, printed to the pascal
        base = 0.5 / 177_687.0 if height < 0 else 0.0
        yield Row(
            f"ISO/ICAO atmosphere at {height} m, Pa",
            kit,
            float(ambiance.Atmosphere(geometric).pressure[0]),
            rounded + base,
            True,
            "ambiance (ICAO Doc 7488, the same atmosphere as ISO 2533)",
            why + ("; its base value at -5000 m is rounded to 1 Pa" if base else ""),
        )
    yield Row(
        "ISO 2533 at 1600 m, Pa",
        ambient_pressure(Q(1600, "m")).to("Paa").m,
        83_524.0,
        0.5,
        False,
        "ISO 2533, its formula worked out to the pascal",
        "half of the last digit",
    )
    for height, printed in ((1000, 898.746), (3000, 701.085), (5000, 540.199), (11_000, 226.320)):
        yield Row(
            f"ICAO table at {height} m, hPa",
            ambient_pressure(Q(height, "m")).to("hPa * absolute_mark").m,
            printed,
            0.0005,
            False,
            "ICAO Doc 7488 table, geopotential height (from memory)",
            "half of the last digit",
        )


# ------------------------------------------------------------------------------------------------------ unit factors


def unit_rows() -> Iterator[Row]:
    """Unit factors, as the kit uses them at its door and on display, against NIST SP 811."""
    read, memory = "NIST SP 811, appendix B", "NIST SP 811, appendix B (from memory)"
    half = "half of the last digit printed"
    exact = "exact by definition; only rounding is left"
    yield Row("1 psi (gauge), Pa", kinds.GAUGE.from_display(1.0, "US"), 6894.757, 0.0005, False, read, half)
    yield Row("1 psi (absolute), Pa", kinds.ABSOLUTE.from_display(1.0, "US"), 6894.757, 0.0005, False, read, half)
    yield Row(
        "1 psi (difference), Pa", kinds.PRESSURE_DIFFERENCE.from_display(1.0, "US"), 6894.757, 0.0005, False, read, half
    )
    yield Row("1 US qt, L", 1e3 * kinds.VOLUME.from_display(1.0, "US"), 0.946_352_9, 0.5e-7, False, read, half)
    yield Row("1 US gal, in3", Q(1, "gal").to("in**3").m, 231.0, 1e-12, True, read, exact)
    yield Row("1 US gal, L", Q(1, "gal").to("L").m, 3.785_412, 0.5e-6, False, memory, half)
    yield Row("1 gpm, m3/s", kinds.FLOW.from_display(1.0, "US"), 6.309_020e-5, 0.5e-11, False, memory, half)
    yield Row("1 inHg, Pa", Q(1, "inHg").to("Pa").m, 3386.389, 0.0005, False, memory, half)
    yield Row("1 in, mm", 1e3 * kinds.LENGTH.from_display(1.0, "US"), 25.4, 1e-12, True, memory, exact)
    yield Row("1 ft, m", kinds.ALTITUDE.from_display(1.0, "US"), 0.3048, 1e-12, True, memory, exact)
    yield Row("1 bar (gauge), Pa", kinds.GAUGE.from_display(1.0, "SI"), 1e5, 1e-12, True, memory, exact)
    for fahrenheit in (-40, 68, 194):
        yield Row(
            f"{fahrenheit} °F, K",
            kinds.TEMPERATURE.from_display(float(fahrenheit), "US"),
            (fahrenheit + 459.67) / 1.8,
            1e-12,
            True,
            memory,
            exact,
        )


# ------------------------------------------------------------------------------------------------------- trade facts


def trade_rows() -> Iterator[Row]:
    """Common practice, no source: a 3 qt vessel, re-set from 5 to 10 to 20 psi, at one oil pressure."""
    bench = "Bench pressure 34.7 psi is no reading: it is what Boyle needs for the half"

    def full(precharge: float) -> float:
        oil = oil_stored(Q(3, "qt"), Q(precharge, "psig"), Q(34.7, "psig"))
        return float(fill_fraction(oil, Q(3, "qt")).m)

    yield between(
        "part full, 3 qt bench vessel, pre-charge 10 psi",
        full(10),
        0.4,
        0.6,
        f"'about half' told by eye to a tenth of the stroke. {bench}, so this row only catches a kit that mixes gauge "
        "and absolute",
    )
    yield between("part full, the same bench, pre-charge 5 psi", full(5), 0.5, 1.0, f"'past half'. {bench}")
    yield between(
        "part full, the same bench, pre-charge 20 psi",
        full(20),
        0.0,
        0.4,
        f"'clearly below half': by more than the tenth that an eye can tell. {bench}",
    )
    yield Row(
        "bore that half a quart over 2.75 in implies, in",
        bore_from_travel(Q(0.5, "qt"), Q(2.75, "in")).to("in").m,
        math.sqrt(4 * 0.5 * 57.75 / (math.pi * 2.75)),
        1e-9,
        True,
        COMMON_PRACTICE + " for the two readings; the bore is a cylinder's, with 57.75 in3 in a quart",
        "geometry: only rounding is left. The amount itself, 'roughly half a quart' from 5 to 20 psi, is no fair "
        "check: it depends on a pressure that is no reading",
    )


def heat_rows() -> Iterator[Row]:
    """How fast a vessel's gas takes on its wall's temperature: nitrogen as it is, on the wall of a cylinder."""
    across, room, warm = 4.5 * 0.0254, 3.0 * 0.946352946e-3, 313.15
    for psi, share in ((10.0, 1.0), (20.0, 0.5), (40.0, 0.4)):
        pressure = psi * PSI + ATMOSPHERE
        mass = room * of_real_gas("D", "P", pressure, "T", warm, "Nitrogen")
        capacity = mass * of_real_gas("CVMASS", "P", pressure / share, "T", warm, "Nitrogen")
        face = math.pi / 4.0 * across**2
        wall = 2.0 * face + math.pi * across * (share * room / face)
        space = Q([share * 3.0], "qt")
        tau = gas_time_constant(Q(3, "qt"), Q(4.5, "in"), Q(psi, "psig"), Q(40, "degC"), space, Q(7, "W/m**2/K"))
        yield Row(
            f"time constant of a vessel's gas, s, {psi:g} psi, {100 * share:.0f} % of its space left",
            float(tau.m[0]), capacity / (7.0 * wall), 5e-3, True, f"{COOLPROP}, nitrogen's density and c_v",
            "the kit's gas is ideal: up to 0.2 % in density and 0.4 % in heat capacity here",
        )  # fmt: skip
    found = []
    for psi, colder in ((10.0, 10.0), (60.0, 40.0)):
        state = "P", psi * PSI + ATMOSPHERE, "T", warm - colder / 2.0, "Nitrogen"
        prandtl, conducts, thick, dense = (of_real_gas(name, *state) for name in ("PRANDTL", "L", "V", "D"))
        grashof = 9.80665 * colder / (warm - colder / 2.0) * across**3 * (dense / thick) ** 2
        found.append(ht.Nu_horizontal_cylinder_Churchill_Chu(prandtl, grashof) * conducts / across)
    yield between(
        "usual heat transfer of a vessel's gas, W/m2K", USUAL_HEAT_TRANSFER.m_as("W/m**2/K"), *found,
        "natural convection from 10 psi and gas 10 K colder than its wall to 60 psi and 40 K",
        f"ht {ht.__version__}, Churchill & Chu 1975, horizontal cylinder; {COOLPROP}",
    )  # fmt: skip


def rows() -> Iterator[Row]:
    """Every row of this topic."""
    yield from heat_rows()
    yield from boyle_rows()
    yield from real_gas_rows()
    yield from integration_rows()
    yield from atmosphere_rows()
    yield from unit_rows()
    yield from trade_rows()
