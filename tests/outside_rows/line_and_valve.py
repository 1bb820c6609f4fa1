"""Useful oil, line, fittings and orifices against measurements, other people's software and handbooks."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import fluids
import numpy as np
from fluids import fittings as fluids_fittings
from fluids import flow_meter, friction
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from oilkit import Q
from oilkit.physics.catalog import engines, fittings, hoses
from oilkit.physics.line import (
    LAMINAR_BELOW,
    TURBULENT_ABOVE,
    Fitting,
    Hose,
    SupplyLine,
    fitting_drop,
    friction_factor,
    line_drop,
    line_volume,
    reynolds_number,
    supply_drop,
    supply_flow,
    velocity_in,
)
from oilkit.physics.pan import oil_in_flight
from oilkit.physics.precharge import best_precharge, longest_lasting_precharge, time_to_empty, useful_oil
from oilkit.physics.valve import hydraulic_power, orifice_flow
from oilkit.physics.vessel import oil_stored
from oilkit.quantities import kinds
from outside_rows.real_gas import COOLPROP, of_real_gas
from outside_rows.row import (
    ATMOSPHERE,
    FROM_MEMORY,
    GPM,
    INCH,
    ONLY_ROUNDING,
    PSI,
    QUART,
    Row,
    between,
)

FLUIDS = f"fluids {fluids.__version__}, "

# ------------------------------------------------------------------------------------------------- friction factors


def friction_rows() -> Iterator[Row]:
    """Churchill's formula against the same in another package and, for turbulent flow, against Colebrook's equation."""
    moody = (
        "Moody 1944 gives his chart, which is Colebrook's equation, 5 % in smooth tube and 10 % in commercial pipe "
        "(from memory): two formulas for such pipe need not lie closer than the better of these"
    )
    for roughness in (0.0, 1e-4, 1e-2, 0.05):
        for decade in range(7):
            reynolds = np.logspace(decade, decade + 1, 101)
            kit = friction_factor(Q(reynolds, ""), roughness).m
            formulas = [(friction.Churchill_1977, 1e-10, ONLY_ROUNDING)]
            if decade >= 4:
                formulas.append((friction.Colebrook, 0.05, moody))
            for formula, tolerance, why in formulas:
                other = np.array([formula(number, roughness) for number in reynolds.tolist()])
                worst = int(np.argmax(np.abs(kit / other - 1.0)))
                yield Row(
                    f"friction factor, roughness {roughness:g}, Re 1e{decade} to 1e{decade + 1}, farthest of "
                    f"{reynolds.size} from {formula.__name__}",
                    float(kit[worst]),
                    float(other[worst]),
                    tolerance,
                    True,
                    f"{FLUIDS}friction.{formula.__name__}",
                    why,
                )


def smooth_pipe_rows() -> Iterator[Row]:
    """Churchill's formula against friction factors measured in smooth pipe: the largest error in each regime."""
    measured_at, measured = (np.array(part) for part in friction.oregon_smooth_data)
    kit = friction_factor(Q(measured_at, "")).m
    error = np.abs(kit / measured - 1.0)
    laminar_law, blasius = 64.0 / measured_at, 0.3164 * measured_at**-0.25
    laminar, turbulent = measured_at < LAMINAR_BELOW, measured_at > TURBULENT_ABOVE
    for name, places, allowed, why in (
        (
            "laminar",
            laminar,
            np.full(error.shape, np.max(np.abs(laminar_law / measured - 1.0)[laminar])),
            "the law 64/Re is exact for this flow, so what lies between it and these readings is theirs (4 % on "
            "average, more near Re 2000): the kit may lie no farther off than the law's own worst",
        ),
        (
            "transition",
            ~laminar & ~turbulent,
            blasius / laminar_law - 1.0,
            "the flow may be laminar (64/Re) or turbulent (Blasius) and jumps from one to the other, so no formula can "
            "promise less than the width of that band; this one reads high by half",
        ),
        (
            "turbulent",
            turbulent,
            np.full(error.shape, 0.05),
            "Moody 1944 gives his chart 5 % in smooth tube (from memory)",
        ),
    ):
        worst = int(np.argmax(np.where(places, error, 0.0)))
        yield Row(
            f"measured smooth pipe, {name}, largest error of {np.count_nonzero(places)} readings, at Re "
            f"{measured_at[worst]:.0f}",
            float(kit[worst]),
            float(measured[worst]),
            float(allowed[worst]),
            True,
            f"{FLUIDS}friction.oregon_smooth_data (McKeon et al. 2004, J. Fluid Mech. 511, 41-44)",
            why,
        )


# ---------------------------------------------------------------------------------------------------- line and fittings


def line_rows() -> Iterator[Row]:
    """Whole lines against another package's pipe flow, in its own units, forward and back."""
    density, bore, length = 860.0, 0.75 * INCH, 3.0
    area = math.pi * bore**2 / 4.0
    narrow, loss = 0.5 * INCH, 1.5
    line = SupplyLine(
        Hose("invented", "-12", Q(0.75, "in")), Q(length, "m"), (Fitting("invented", Q(0.5, "in"), Q(loss, "")),)
    )

    def elsewhere(flow: float, viscosity: float) -> float:
        wall = fluids.one_phase_dP(
            m=density * flow, rho=density, mu=viscosity, D=bore, L=length, Method="Churchill_1977"
        )
        return float(wall + fluids.dP_from_K(loss, density, flow / (math.pi * narrow**2 / 4.0)))

    mixed = (
        "the package takes 64/Re below Re 2040; Churchill's one formula for all regimes has its turbulent part mixed "
        "in, 1e-7 of the whole at Re 500"
    )
    for name, reynolds in (("cold", 10.0), ("cool", 300.0), ("hot", 8000.0)):
        flow = 8.0 * GPM
        viscosity = density * flow / area * bore / reynolds
        oil = Q(density, "kg/m**3"), Q(viscosity, "Pa*s")
        drop = elsewhere(flow, viscosity)
        yield Row(
            f"drop at 8 gpm in 3 m of 3/4 in hose and a 1/2 in port, {name}, Re {reynolds:g}, psi",
            supply_drop(line, Q(8, "gpm"), *oil).to("psi").m,
            drop / PSI,
            1e-6,
            True,
            f"{FLUIDS}one_phase_dP and dP_from_K",
            mixed,
        )
        half = brentq(lambda q, mu=viscosity, dp=drop: elsewhere(q, mu) - 0.6 * dp, 0.1 * flow, flow, xtol=1e-15)
        yield Row(
            f"flow through the same at six tenths of that drop, {name}, gpm",
            supply_flow(line, Q(0.6 * drop, "Pa"), *oil).to("gpm").m,
            half / GPM,
            1e-6,
            True,
            f"{FLUIDS}one_phase_dP and dP_from_K, scipy.optimize.brentq",
            mixed,
        )


CRANE = "Crane TP-410 (from memory)"


def shop_form_rows() -> Iterator[Row]:
    """The handbook's forms in gallons a minute, inches and psi, with the constants as printed."""
    last = "one of the last digit printed: some of the handbook's constants are cut off, not rounded"
    gpm, inch = 5.0, 0.625

    flow, bore = Q(gpm, "gpm"), Q(inch, "in")
    thick = Q(860, "kg/m**3"), Q(100, "cP")
    yield Row(
        "velocity at 5 gpm in 5/8 in, ft/s",
        velocity_in(flow, bore).to("ft/s").m,
        0.408 * gpm / inch**2,
        1 / 408,
        True,
        f"{CRANE}: v = 0.408 Q / d^2",
        last,
    )
    yield Row(
        "Reynolds number at 5 gpm in 5/8 in, 10 cSt",
        reynolds_number(flow, bore, Q(1000, "kg/m**3"), Q(10, "cP")).m,
        3162 * gpm / (inch * 10),
        1 / 3162,
        True,
        f"{CRANE}: Re = 3162 Q / (d nu)",
        last,
    )
    yield Row(
        "Reynolds number at 5 gpm in 5/8 in, 53 lb/ft3, 10 cP",
        reynolds_number(flow, bore, Q(53, "lb/ft**3"), Q(10, "cP")).m,
        50.6 * gpm * 53 / (inch * 10),
        1 / 506,
        True,
        f"{CRANE}: Re = 50.6 Q rho / (d mu)",
        last,
    )
    yield Row(
        "laminar drop at 5 gpm in 100 ft of 5/8 in, 100 cP, psi",
        line_drop(flow, bore, Q(100, "ft"), *thick).to("psi").m,
        0.0273 * 100 * gpm / inch**4,
        1 / 273,
        True,
        f"{CRANE}: 0.0273 mu Q / d^4 per 100 ft",
        last,
    )
    many = Q(30, "gpm")
    thin = Q(53, "lb/ft**3"), Q(1, "cP")
    factor = friction.Colebrook(50.6 * 30 * 53 / inch, 0.0)
    yield Row(
        "turbulent drop at 30 gpm in 100 ft of smooth 5/8 in, 53 lb/ft3, 1 cP, psi",
        line_drop(many, bore, Q(100, "ft"), *thin).to("psi").m,
        0.0216 * factor * 53 * 30**2 / inch**5,
        0.05 + 1 / 216,
        True,
        f"{CRANE}: 0.0216 f rho Q^2 / d^5 per 100 ft; {FLUIDS}friction.Colebrook",
        f"5 % that Moody gives his chart in smooth tube (from memory), and {last}",
    )
    head = 0.00259 * 1.5 * 8**2 / 0.5**4
    yield Row(
        "loss of a port, K 1.5, 8 gpm through 1/2 in, 53 lb/ft3, psi",
        fitting_drop(Q(8, "gpm"), Q(0.5, "in"), Q(1.5, ""), Q(53, "lb/ft**3")).to("psi").m,
        head * 53 / 144,
        1 / 259,
        True,
        f"{CRANE}: h = 0.00259 K Q^2 / d^4 feet of the fluid",
        last,
    )
    yield Row(
        "water through a sharp hole of 1/4 in at 40 psi, gpm",
        orifice_flow(Q(0.25, "in"), Q(40, "psi"), Q(62.4, "lb/ft**3"), 0.62).to("gpm").m,
        29.83 * 0.62 * 0.25**2 * math.sqrt(40),
        0.005 / 29.83,
        True,
        "orifice shop form Q = 29.83 C_d d^2 sqrt(dp), water of 62.4 lb/ft3 (from memory)",
        "half of the last digit printed",
    )
    yield Row(
        "oil through a jet of 1.5 mm at 50 psi, L/min",
        orifice_flow(Q(1.5, "mm"), Q(50, "psi"), Q(820, "kg/m**3"), 0.62).to("Lpm").m,
        60e3
        / 820
        * flow_meter.flow_meter_discharge(D=1.0, Do=0.0015, P1=ATMOSPHERE + 50 * PSI, P2=ATMOSPHERE, rho=820, C=0.62),
        1e-8,
        True,
        f"{FLUIDS}flow_meter.flow_meter_discharge, from a pipe of 1 m",
        "the pipe's approach velocity adds half the fourth power of the ratio of the diameters, 3e-12, and the rest is "
        "rounding",
    )
    sharp = [
        flow_meter.C_Reader_Harris_Gallagher(0.1, beta * 0.1, 850.0, 0.01, re * math.pi * 0.1 * 0.01 / 4.0, "corner")
        for beta in (0.1, 0.6)
        for re in (5e3, 1e6)
    ]
    yield between(
        "discharge coefficient of a sharp hole, if none is given",
        (orifice_flow(Q(1, "in"), Q(1, "Pa"), Q(2, "kg/m**3")).to("m**3/s").m) / (math.pi * INCH**2 / 4.0),
        min(sharp),
        max(sharp),
        "an orifice plate's own range for holes of a tenth to six tenths of the pipe at Re 5000 to 1e6; a drilled hole "
        "is no such plate, so no closer",
        f"{FLUIDS}flow_meter.C_Reader_Harris_Gallagher (ISO 5167-2)",
    )
    yield Row(
        "power of 60 psi at 10 gpm, hp",
        hydraulic_power(Q(60, "psi"), Q(10, "gpm")).to("hp").m,
        60 * 10 / 1714,
        0.5 / 1714,
        True,
        "fluid power shop form hp = psi gpm / 1714 (from memory)",
        "half of the last digit printed",
    )


def hose_rows() -> Iterator[Row]:
    """What hoses hold and what their labels say; what the kit's own fittings cost against handbook values."""
    for bore, quarts in (("3/4", 0.918), ("5/8", 0.637), ("7/8", 1.249), ("1", 1.632)):
        top, _, bottom = bore.partition("/")
        inches = int(top) / int(bottom or 1)
        yield Row(
            f"ten feet of {bore} in hose hold, qt",
            line_volume(Q(inches, "in"), Q(10, "ft")).to("qt").m,
            quarts,
            0.0005,
            False,
            "a cylinder, 231 cubic inches in a gallon (NIST SP 811), to three decimals",
            "half of the last digit",
        )
    known = hoses()
    table = "FAA AC 43.13-1B, hose table"
    exact = "a size of a table: only rounding is left"
    for key, label, bore in (("8794_12", "-12", 5 / 8), ("8794_16", "-16", 7 / 8), ("8788_12", "-12", 11 / 16)):
        hose = known[f"mil_h_{key}"]
        yield Row(
            f"bore of MIL-H-{key[:4]} {label}, in",
            hose.bore.to("in").m if hose.dash == label else math.nan,
            bore,
            1e-9,
            True,
            f"{table}: MIL-H-{key[:4]} {label}",
            exact,
        )
    narrow, wide = known["mil_h_8794_12"], known["mil_h_8788_12"]
    yield Row(
        "two hoses with one dash number: how far their bores differ, in",
        (wide.bore - narrow.bore).to("in").m if wide.dash == narrow.dash else math.nan,
        11 / 16 - 5 / 8,
        1e-9,
        False,
        f"{table}: MIL-H-8794 and MIL-H-8788, both -12",
        f"a dash number is a label (sixteenths of the outside diameter of the equivalent rigid tube); {exact}",
    )
    port = fittings()["port"].loss_coefficient.m
    yield Row(
        "loss coefficient of the kit's port: in and out again",
        port,
        fluids_fittings.entrance_sharp(method="Crane") + fluids_fittings.exit_normal(),
        fluids_fittings.entrance_sharp() - fluids_fittings.entrance_sharp(method="Crane"),
        False,
        f"{FLUIDS}fittings.entrance_sharp (Crane) and exit_normal",
        "handbooks differ by so much over the entrance alone: Crane 0.5, Rennels 0.57",
    )
    elbow = fittings()["elbow_end"]
    turbulent = friction.ft_Crane(elbow.bore.to("m").m)
    yield between(
        "loss coefficient of the kit's elbow",
        elbow.loss_coefficient.m,
        30 * turbulent,
        60 * turbulent,
        "between a standard elbow, 30 f_T, and a mitred bend, 60 f_T (Crane TP-410, from memory): an elbow end is "
        "neither",
        f"{FLUIDS}friction.ft_Crane at its bore",
    )


# ------------------------------------------------------------------------------------------------------ unit factors


def unit_rows() -> Iterator[Row]:
    """The unit factors that came with line and valve, against NIST SP 811."""
    memory = f"NIST SP 811, appendix B ({FROM_MEMORY})"
    half, exact = "half of the last digit printed", "exact by definition; only rounding is left"
    for name, kind, system, number, tolerance, relative, why in (
        ("1 gpm (through a line), m3/s", kinds.THROUGH_FLOW, "US", 6.309_020e-5, 0.5e-11, False, half),
        ("1 L/min (through a line), m3/s", kinds.THROUGH_FLOW, "SI", 1e-3 / 60, 1e-12, True, exact),
        ("1 psi (drop), Pa", kinds.DROP, "US", 6894.757, 0.0005, False, half),
        ("1 in (bore), m", kinds.BORE, "US", 0.0254, 1e-12, True, exact),
        ("1 ft (length of line), m", kinds.LINE_LENGTH, "US", 0.3048, 1e-12, True, exact),
        ("1 ft/s, m/s", kinds.VELOCITY, "US", 0.3048, 1e-12, True, exact),
        ("1 g, m/s2", kinds.ACCELERATION, "US", 9.806_65, 1e-12, True, exact),
        ("1 in2, m2", kinds.AREA, "US", 6.4516e-4, 1e-12, True, exact),
        ("1 hp (550 ft lbf/s), W", kinds.POWER, "US", 745.6999, 0.5e-4, False, half),
        ("1 lb/gal, kg/m3", kinds.DENSITY, "US", 119.8264, 0.5e-4, False, half),
    ):
        yield Row(name, float(kind.from_display(1.0, system)), number, tolerance, relative, memory, why)


# ----------------------------------------------------------------------------------- useful oil, the best pre-charge

ROOM = 293.15
REAL_NITROGEN = f"{COOLPROP}, real nitrogen"
STEP = 0.01
"""Pre-charges are tried so far apart, in psi."""


def real_useful_part(charge: Any, full: float, lowest: float, fast: bool) -> Any:
    """Oil given out between two absolute pressures, over the gas volume, by real nitrogen settled at the first one."""
    filled = of_real_gas("D", "P", charge, "T", ROOM, "Nitrogen")
    at_start = of_real_gas("D", "P", full, "T", ROOM, "Nitrogen")
    follow = ("S", of_real_gas("S", "P", full, "T", ROOM, "Nitrogen")) if fast else ("T", ROOM)
    at_end = of_real_gas("D", "P", lowest, *follow, "Nitrogen")
    start = np.minimum(filled / at_start, 1.0)
    return np.minimum(filled / at_end, 1.0) - start


def precharge_rows() -> Iterator[Row]:
    """The best pre-charge, found by trying all of them on real nitrogen, slowly and without heat exchange."""
    for high, low in ((50, 10), (60, 20), (35, 7)):
        full, lowest = ATMOSPHERE + high * PSI, ATMOSPHERE + low * PSI
        ideal = abs(of_real_gas("Z", "P", full, "T", ROOM, "Nitrogen") - 1.0)
        entropy = of_real_gas("S", "P", full, "T", ROOM, "Nitrogen")
        index = max(
            abs(
                of_real_gas("A", "P", p, "S", entropy, "Nitrogen") ** 2
                * of_real_gas("D", "P", p, "S", entropy, "Nitrogen")
                / p
                / 1.4
                - 1.0
            )
            for p in (lowest, full)
        )
        tried = np.arange(0.0, high, STEP)
        for fast, polytropic_index in ((False, 1.0), (True, 1.4)):
            how = "no heat exchange" if fast else "slow"
            way = f"{high} to {low} psi"
            given = real_useful_part(ATMOSPHERE + tried * PSI, full, lowest, fast)
            best = float(tried[int(np.argmax(given))])
            bend = math.log(full / lowest) / 1.4 * index + 2.0 * ideal if fast else 0.0
            bent = (
                f"; the gas's isentropic exponent leaves 1.4 by up to {index:.4f} of it, times ln(p1/p_min)/1.4, and "
                f"its Z leaves 1 by {ideal:.4f} at either end, of the absolute pressure"
                if fast
                else ": with the piston home just at the lowest pressure, any gas does best"
            )
            yield Row(
                f"best pre-charge {way}, {how}, psi",
                best_precharge(Q(high, "psig"), Q(low, "psig"), polytropic_index=polytropic_index).to("psig").m,
                best,
                STEP + bend * (best + ATMOSPHERE / PSI),
                False,
                f"{REAL_NITROGEN}, the best of {len(tried)} pre-charges",
                f"pre-charges {STEP} psi apart{bent}",
            )
            for charge in (0.5 * low, low, 0.5 * (low + high)):
                yield Row(
                    f"useful oil of 3 qt {way}, {how}, pre-charge {charge:g} psi, qt",
                    useful_oil(
                        Q(3, "qt"),
                        Q(charge, "psig"),
                        Q(high, "psig"),
                        Q(low, "psig"),
                        polytropic_index=polytropic_index,
                    )
                    .to("qt")
                    .m,
                    3.0 * float(real_useful_part(ATMOSPHERE + charge * PSI, full, lowest, fast)),
                    3.0 * (2.0 * ideal + (math.log(full / lowest) / 1.4 * index if fast else 0.0)),
                    False,
                    REAL_NITROGEN,
                    f"of the 3 qt, Z leaves 1 by up to {ideal:.4f} at either end"
                    + (f", the isentropic exponent 1.4 by {index:.4f} times ln(p1/p_min)/1.4" if fast else ""),
                )


SCIPY = "scipy.integrate.solve_ivp of dV/dt = G (p - p_amb) with p V constant"


def integrated_time_to_empty(charge: float, full: float, gpm: float, ambient: float) -> float:
    """Seconds in which 3 qt, settled at a gauge pressure, are empty, the engine drinking in proportion to it."""
    volume = 3.0 * QUART
    constant = (ambient + charge) * volume

    def slope(_t: float, y: Any) -> Any:
        return gpm * GPM / full * (constant / y - ambient)

    def piston_home(_t: float, y: Any) -> float:
        return float(y[0] / volume - 1.0)

    piston_home.terminal = True  # type: ignore[attr-defined]
    start = constant / (ambient + full)
    longest = 1.01 * (volume - start) / (gpm * GPM * charge / full)
    done = solve_ivp(slope, (0.0, longest), [start], method="DOP853", events=piston_home, rtol=1e-12, atol=1e-16)
    if not len(done.t_events[0]):
        raise ArithmeticError("the piston did not come home")
    return float(done.t_events[0][0])


def discharge_rows() -> Iterator[Row]:
    """How long the vessel lasts, and the pre-charge that lasts just long enough, against plain integrations."""
    for charge, full, gpm, ambient in (
        (45, 60, 5, ATMOSPHERE),
        (10, 60, 5, ATMOSPHERE),
        (1, 50, 2, ATMOSPHERE),
        (20, 80, 12, 83_524.0),
    ):
        yield Row(
            f"3 qt, pre-charge {charge} psi, {gpm} gpm at {full} psi, air {ambient / 1000:.1f} kPa: empty after, s",
            time_to_empty(Q(3, "qt"), Q(charge, "psig"), Q(full, "psig"), Q(gpm, "gpm"), Q(ambient, "Paa")).to("s").m,
            integrated_time_to_empty(charge * PSI, full * PSI, gpm, ambient),
            1e-9,
            True,
            SCIPY,
            "the integrator's 1e-12 of the volume a step, some ten steps, and ten times that at the end, where the "
            "last oil comes slowest",
        )
    tried = np.arange(STEP, 60.0, STEP)
    for flow in (3.0, 5.0, 10.0, 20.0):
        yield Row(
            f"highest pressure after 2 s, 3 qt at 60 psi, {flow:g} gpm: pre-charge, psi",
            longest_lasting_precharge(Q(3, "qt"), Q(60, "psig"), Q(flow, "gpm"), Q(2, "s")).to("psig").m,
            best_for_an_event(tried, 60.0, flow, 2.0),
            STEP,
            False,
            "the same equation in 400 Runge-Kutta steps for every pre-charge at once, the best of them taken",
            f"pre-charges {STEP} psi apart",
        )


def best_for_an_event(charges: Any, full: float, gpm: float, event: float) -> float:
    """The pre-charge, of some in psi, with which 3 qt keep the most pressure to the end; an empty vessel has none."""
    volume = 3.0 * QUART
    constant = (ATMOSPHERE + charges * PSI) * volume

    def rate(gas: Any) -> Any:
        return gpm * GPM / (full * PSI) * (constant / gas - ATMOSPHERE)

    gas, step = constant / (ATMOSPHERE + full * PSI), event / 400
    for _ in range(400):
        a = rate(gas)
        b = rate(gas + step / 2 * a)
        c = rate(gas + step / 2 * b)
        d = rate(gas + step * c)
        gas = gas + step / 6 * (a + 2 * b + 2 * c + d)
    left = np.where(gas < volume, constant / gas, 0.0)
    return float(charges[int(np.argmax(left))])


# ------------------------------------------------------------------------------------------------------- trade facts


def trade_rows() -> Iterator[Row]:
    """What the trade says about line, tee and pre-charge."""
    known = hoses()
    for key, feet in (("mil_h_8794_12", 12), ("trade_12", 10), ("trade_16", 6)):
        yield between(
            f"in the line: {feet} ft of {known[key].bore.to('in').m:g} in, qt",
            line_volume(known[key].bore, Q(feet, "ft")).to("qt").m,
            0.5,
            1.5,
            "'about another quart, depending on length and size': nearer to one quart than to none or to two",
        )
    engine = engines()["street_v8"]
    hot = Q(840, "kg/m**3"), Q(9, "cP")
    line = SupplyLine(known["trade_12"], Q(10, "ft"))
    free = supply_flow(line, Q(20, "psi"), *hot).m
    yield between(
        "tee before the filter over tee after it: flow of hot oil at 20 psi",
        supply_flow(line, Q(20, "psi"), *hot, element=engine.filter).m / free,
        0.5,
        0.99,
        "'either side serves': more than half must still come, and less than all, since a filter costs something; the "
        "filter is invented, so this row only catches one that costs nothing or everything",
    )
    yield between(
        "in flight at 5 gpm with the kit's drain time, qt",
        oil_in_flight(Q(5, "gpm"), engine.drain_time).to("qt").m,
        1.0,
        2.0,
        "'1 to 2 qt may be in flight at speed'",
    )
    less = "by more than a hundredth, which no gauge tells"
    full = Q(3, "qt"), Q(50, "psig")
    yield between(
        "more pre-charge, less oil: 20 psi over 10 psi at 50 psi",
        float((oil_stored(full[0], Q(20, "psig"), full[1]) / oil_stored(full[0], Q(10, "psig"), full[1])).to("").m),
        0.0,
        0.99,
        less,
    )
    yield between(
        "more pre-charge, discharged faster: 20 psi over 10 psi at 50 psi, 5 gpm",
        float(
            (
                time_to_empty(full[0], Q(20, "psig"), full[1], Q(5, "gpm"))
                / time_to_empty(full[0], Q(10, "psig"), full[1], Q(5, "gpm"))
            )
            .to("")
            .m
        ),
        0.0,
        0.99,
        less,
    )
    yield between(
        "looser clearances want less pre-charge: twice the flow over the usual, 2 s at 60 psi",
        longest_lasting_precharge(Q(3, "qt"), Q(60, "psig"), Q(10, "gpm"), Q(2, "s")).m
        / longest_lasting_precharge(Q(3, "qt"), Q(60, "psig"), Q(5, "gpm"), Q(2, "s")).m,
        0.0,
        0.99,
        less,
    )


def rows() -> Iterator[Row]:
    """Every row of this topic."""
    yield from friction_rows()
    yield from smooth_pipe_rows()
    yield from line_rows()
    yield from shop_form_rows()
    yield from hose_rows()
    yield from unit_rows()
    yield from precharge_rows()
    yield from discharge_rows()
    yield from trade_rows()
