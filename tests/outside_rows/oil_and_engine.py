"""Oil, bearings, pump and engine against standards, handbooks and other people's software."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from itertools import product
from typing import Any

import numpy as np
import scipy
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import spsolve

from oilkit import (
    Q,
    crank_inward_loss,
    crank_outward_gain,
    groove_flow,
    half_groove_share,
    hole_flow,
    kinematic_viscosity,
    operating_point,
    side_flow,
    slot_flow,
)
from oilkit.physics.catalog import engines, grades, lubricants
from oilkit.physics.oil import AT_40, AT_100, d341_constants
from outside_rows.row import COMMON_PRACTICE, FROM_MEMORY, INCH, ONLY_ROUNDING, PSI, Row, between

SCIPY = f"scipy {scipy.__version__}"

# -------------------------------------------------------------------------------------------------------------- oil

D341 = "ASTM D341, worked example of a published sheet"


def d341_rows() -> Iterator[Row]:
    """32 cSt at 40 °C and 5.4 cSt at 100 °C: the sheet's constants, for its rounded kelvins, and its 80 °C."""
    a, b = d341_constants(32e-6, 5.4e-6)
    # The sheet puts the same two viscosities at 313 and 373 K. The kit's line gives them back at 313.15 and 373.15 K;
    # the line through them at the sheet's temperatures is then the sheet's.
    warm, hot = a - b * math.log10(AT_40), a - b * math.log10(AT_100)
    slope = (warm - hot) / math.log10(373.0 / 313.0)
    for name, kit, printed in (("B", slope, 3.7449), ("A", warm + slope * math.log10(313.0), 9.5259)):
        yield Row(
            f"viscosity line of an oil of 32 and 5.4 cSt, {name} with T rounded to 313 and 373 K",
            kit,
            printed,
            0.5e-4,
            False,
            D341,
            "half of the last digit printed",
        )
    yield Row(
        "oil of 32 cSt at 40 °C and 5.4 cSt at 100 °C: viscosity at 80 °C, cSt",
        kinematic_viscosity(Q(80, "degC"), Q(32, "cSt"), Q(5.4, "cSt")).to("cSt").m,
        8.5,
        0.05,
        False,
        D341,
        "half of the last digit printed",
    )


J300 = "SAE J300 (January 2015)"
LIMITS = {
    "8": (4.0, 6.1),
    "12": (5.0, 7.1),
    "16": (6.1, 8.2),
    "20": (6.9, 9.3),
    "30": (9.3, 12.5),
    "40": (12.5, 16.3),
    "50": (16.3, 21.9),
    "60": (21.9, 26.1),
}
"""Kinematic viscosity at 100 °C, mm2/s: from, below."""
WINTER = {"0W": 3.8, "5W": 3.8, "10W": 4.1, "15W": 5.6, "20W": 5.6, "25W": 9.3}
"""The least at 100 °C, mm2/s."""


def grade_rows() -> Iterator[Row]:
    """The kit's list of grades against the standard's table, line by line, and each demonstration oil in its own."""
    listed = grades()
    for name, (low, below) in LIMITS.items():
        limits = listed[name]
        typed = "typed from the table: only the rounding of a unit is left"
        yield Row(f"grade {name}, from, cSt", limits.lowest.to("mm**2/s").m, low, 1e-12, True, J300, typed)
        # a limit that has gone missing is NaN, which lies in no tolerance
        top = limits.below.to("mm**2/s").m if limits.below is not None else math.nan
        yield Row(f"grade {name}, below, cSt", top, below, 1e-12, True, J300, typed)
    for name, low in WINTER.items():
        limits = listed[name]
        least = limits.lowest.to("mm**2/s").m if limits.below is None else math.nan
        yield Row(f"grade {name}, from, cSt (no upper limit)", least, low, 1e-12, True, J300, typed)
    yield Row(
        "grades that the kit knows",
        float(len(listed)),
        float(len(LIMITS) + len(WINTER)),
        0.5,
        False,
        J300,
        "a count: half of one",
    )
    for oil in lubricants().values():
        hot = kinematic_viscosity(Q(100, "degC"), oil.viscosity_40, oil.viscosity_100).to("mm**2/s").m
        for part in oil.grade.split("-"):
            # a winter grade sets no upper limit: the table ends at 26.1
            low, high = LIMITS.get(part) or (WINTER[part], 26.1)
            why = "the grade's whole width, or for a winter grade from its minimum to the end of the table"
            yield between(f"{oil.name} at 100 °C as a {part}, cSt", hot, low, high, why, J300)


# ---------------------------------------------------------------------------------------------- bearings, integrated


def round_the_gap(eccentricity: float, half: bool = False) -> float:
    """Integral of ``(1 + eps cos t)**3`` round the gap, or round the half of it on the side of the wide gap."""
    reach = math.pi / 2.0 if half else math.pi
    return float(quad(lambda t: (1.0 + eccentricity * math.cos(t)) ** 3, -reach, reach, epsabs=0.0, epsrel=1e-12)[0])


DIAMETER, LAND, RADIAL, PRESSURE, VISCOSITY = 2.45 * INCH, 0.325 * INCH, 1.25e-3 * INCH, 50.0 * PSI, 0.008
"""One bearing, SI: what the rows below compute in full."""


def groove_rows() -> Iterator[Row]:
    """Flow from a groove: slot by slot round the eccentric gap, and as the standard writes it."""
    shaft = (
        Q(DIAMETER, "m"),
        Q(2.0 * RADIAL, "m"),
        Q(LAND, "m"),
        Q(PRESSURE, "Pa"),
        Q(VISCOSITY, "Pa*s"),
    )
    integrated = f"{SCIPY}, integrate.quad of the slot flow h^3 dp / (12 mu l) round h = c (1 + eps cos)"
    for eccentricity in (0.0, 0.3, 0.7, 0.95, 1.0):
        kit = groove_flow(*shaft, eccentricity).to("m**3/s").m
        one_land = RADIAL**3 * PRESSURE / (12.0 * VISCOSITY * LAND) * DIAMETER / 2.0 * round_the_gap(eccentricity)
        yield Row(
            f"flow from a full groove at eps {eccentricity:g}, two lands, m3/s",
            kit,
            2.0 * one_land,
            1e-11,
            True,
            integrated,
            "the integrator is asked for 1e-12",
        )
        yield Row(
            f"half groove's share of a full one's flow at eps {eccentricity:g}",
            half_groove_share(eccentricity).m,
            round_the_gap(eccentricity, half=True) / round_the_gap(eccentricity),
            1e-11,
            True,
            integrated,
            "the integrator is asked for 1e-12",
        )
    eccentricity, clearance = 0.7, 2.0 * RADIAL / DIAMETER
    outside, groove = 2.0 * LAND + 0.15 * INCH, 0.15 * INCH
    standard = math.pi / 24.0 * (1.0 + 1.5 * eccentricity**2) * DIAMETER / (outside - groove)
    yield Row(
        "flow from a full groove at eps 0.7, m3/s",
        groove_flow(*shaft, eccentricity).to("m**3/s").m,
        DIAMETER**3 * clearance**3 * PRESSURE / VISCOSITY * standard,
        1e-12,
        True,
        f"ISO 7902-2, D^3 psi^3 p / eta pi/24 (1 + 1.5 eps^2) D / (B - b_G) ({FROM_MEMORY})",
        ONLY_ROUNDING,
    )
    yield Row(
        "a flat slot as wide as the bearing is round, m3/s: half of a centered groove's two lands",
        slot_flow(Q(math.pi * DIAMETER, "m"), Q(RADIAL, "m"), Q(LAND, "m"), *shaft[3:]).to("m**3/s").m,
        RADIAL**3 * PRESSURE / (12.0 * VISCOSITY * LAND) * DIAMETER / 2.0 * round_the_gap(0.0),
        1e-11,
        True,
        integrated,
        "the integrator is asked for 1e-12",
    )


# ------------------------------------------------------------------------- the Reynolds equation in the unwrapped film


def film_flow(
    slenderness: float,
    eccentricity: float,
    fed: Callable[[Any, Any], Any],
    pressure: float,
    turning: bool = True,
    from_widest: bool = False,
    around: int = 240,
    across: int = 30,
) -> float:
    """What leaves a bearing at both sides, by finite differences of the Reynolds equation, 2nd order.

    ``d/dt (H^3 dP/dt) + (D/B)^2 d/dz (H^3 dP/dz) = dH/dt``, with t from the widest gap, ``H = 1 + eps cos t``, z from 0
    (middle) to 1 (side), P in ``6 mu omega (R/c)^2`` and nothing below ambient pressure (Reynolds' boundary, found by
    exchanging the points that would pull). ``fed(t, z)`` says where the pressure is that of the feed. Without turning
    the right side is 0 and P may be in anything. from_widest: the film starts at ambient pressure at the widest gap.
    Returns the flow in ``c omega R^3 / B``; without turning in ``c^3 P R / (6 mu B)``.
    """
    t = np.arange(around) * (2.0 * math.pi / around)
    step, rise = 2.0 * math.pi / around, 1.0 / across
    gap, ahead = 1.0 + eccentricity * np.cos(t), 1.0 + eccentricity * np.cos(t + step / 2.0)
    behind = np.roll(ahead, 1)
    i, j = np.meshgrid(np.arange(around), np.arange(across), indexing="ij")
    onward, back = (ahead**3 / step**2)[i], (behind**3 / step**2)[i]
    sideways = (gap**3 / (slenderness * rise) ** 2)[i]
    places, columns, numbers = [(i * across + j)] * 5, [i * across + j], [onward + back + 2.0 * sideways]
    to_side = np.where(j == 0, 2.0, 1.0) * sideways * (j < across - 1)  # 0 beyond the side; mirrored in the middle
    for turn, shift, weight in ((1, 0, onward), (-1, 0, back), (0, 1, to_side), (0, -1, sideways * (j > 0))):
        columns.append(((i + turn) % around) * across + np.clip(j + shift, 0, across - 1))
        numbers.append(-weight)
    entries = np.ravel(numbers), (np.ravel(places), np.ravel(columns))
    matrix = coo_matrix(entries, shape=(around * across,) * 2).tocsr()
    drag = np.ravel(((ahead - behind) / step)[i]) if turning else np.zeros(around * across)

    given = np.ravel(fed((t[i] + math.pi) % (2.0 * math.pi) - math.pi, j * rise))
    start = np.where(given, pressure, 0.0)
    if from_widest:
        given = given | (np.ravel(i) == 0)
    empty = np.zeros_like(given)
    for _ in range(100):
        free = np.flatnonzero(~empty & ~given)
        found = start.copy()
        found[free] = spsolve(matrix[free][:, free].tocsc(), -(drag + matrix @ start)[free])
        pulls = ~empty & ~given & (found < 0.0)
        returns = empty & (matrix @ found + drag < 0.0)
        if not (pulls | returns).any():
            break
        empty = (empty | pulls) & ~returns
    else:
        raise ArithmeticError("the film's edge was not found")
    film = found.reshape(around, across)
    slope = (film[:, -2] - 4.0 * film[:, -1]) / (2.0 * rise)
    return float(-2.0 * np.sum(gap**3 * slope) * step)


def nowhere(t: Any, z: Any) -> Any:
    """No feed: the film is only dragged."""
    return np.zeros_like(t, dtype=bool)


REYNOLDS = "the Reynolds equation by finite differences, here"


def film_rows() -> Iterator[Row]:
    """Pressed and dragged flow against the pressure in the whole film, which knows no slots and no separate lands."""
    width, slender = 2.0 * LAND + 0.15 * INCH, (2.0 * LAND + 0.15 * INCH) / DIAMETER
    groove = 0.15 * INCH / width
    shaft = Q(DIAMETER, "m"), Q(2.0 * RADIAL, "m"), Q(LAND, "m"), Q(PRESSURE, "Pa"), Q(VISCOSITY, "Pa*s")
    scale = RADIAL**3 * PRESSURE * DIAMETER / 2.0 / (6.0 * VISCOSITY * width)
    for eccentricity in (0.0, 0.7):
        full = groove_flow(*shaft, eccentricity).to("m**3/s").m
        for name, kit, reach, allowed, why in (
            (
                "full",
                full,
                math.pi,
                1e-9,
                "pressure falls in a straight line over a land, which the grid gives exactly",
            ),
            (
                "half",
                full * half_groove_share(eccentricity).m,
                math.pi / 2.0,
                0.12,
                "slots let no oil run round the ends of the groove: each end feeds 2 ln 2 / pi = 0.44 land widths more "
                "of the way round, wider grooves more: 7 to 12 % of it when centered, less where the gap is narrow",
            ),
        ):

            def grooved(t: Any, z: Any, reach: float = reach) -> Any:
                return (np.abs(t) <= reach + 1e-9) & (z <= groove + 1e-9)

            yield Row(
                f"flow from a {name} groove at eps {eccentricity:g}, shaft at rest, m3/s",
                kit,
                scale * film_flow(slender, eccentricity, grooved, 1.0, turning=False, across=32),
                allowed,
                True,
                REYNOLDS,
                why,
            )
    half_width, journal, eccentricity = 0.4 * INCH, 2.1 * INCH, 0.7
    for ratio in (0.1, 0.2, 0.3, 0.4):
        bore = ratio * 2.0 * half_width
        kit = hole_flow(Q(2.0 * RADIAL, "m"), Q(2.0 * half_width, "m"), Q(bore, "m"), *shaft[3:]).to("m**3/s").m
        yield Row(
            f"flow from a hole of {ratio:g} of the width, centered, m3/s",
            kit,
            RADIAL**3 * PRESSURE / (12.0 * VISCOSITY) * strip_flow(ratio),
            0.12,
            True,
            "Laplace's equation in the unwrapped film by finite differences, here",
            f"the standard's q_H is a fitted polynomial ({FROM_MEMORY}): held against the exact ln(4 B / (pi d_H)) of "
            "a small hole in a strip it is 10 to 12 % low for d_H/B from 0.1 to 0.02; the grid's hole is 2 % small",
        )
    bore = 0.25 * 2.0 * half_width
    angles = np.arange(8) * math.pi / 4.0
    flows = []
    for angle in angles.tolist():

        def drilled(t: Any, z: Any, angle: float = angle) -> Any:
            off = (t - angle + math.pi) % (2.0 * math.pi) - math.pi
            return np.hypot(off * journal / 2.0, z * half_width) <= bore / 2.0 + 1e-9

        flows.append(
            film_flow(2.0 * half_width / journal, eccentricity, drilled, 1.0, turning=False, around=440, across=27)
        )
    pin = Q(2.0 * RADIAL, "m"), Q(2.0 * half_width, "m"), Q(bore, "m"), *shaft[3:]
    scale = RADIAL**3 * PRESSURE * journal / 2.0 / (6.0 * VISCOSITY * 2.0 * half_width)
    for name, at_widest_gap, reference in (
        ("mean of eight places round the shaft", False, float(np.mean(flows))),
        ("at the widest gap", True, flows[0]),
    ):
        yield Row(
            f"flow from a hole of a quarter of the width at eps 0.7, {name}, m3/s",
            hole_flow(*pin, eccentricity, at_widest_gap=at_widest_gap).to("m**3/s").m,
            scale * reference,
            0.12,
            True,
            REYNOLDS,
            "as for the centered hole; the gap also changes a little over the way from hole to side",
        )
    for slender, allowed, why in (
        (0.25, 0.01, "the standard's form is a fit of two terms; here it and the grid (0.3 %) agree within 1 %"),
        (0.5, 0.01, "the same two-term fit and grid, which here too agree within 1 %"),
        (0.75, 0.0125, "the same fit and grid; its second term alone stands for all that a wider bearing does"),
        (1.0, 0.04, "the same fit and grid; printed tables of finite bearings are some 2 % off here too (from memory)"),
    ):
        for eccentricity in (0.4, 0.8):
            omega, diameter = 2.0 * math.pi * 100.0, 50e-3
            kit = side_flow(Q(diameter, "m"), Q(50e-6, "m"), Q(slender * diameter, "m"), Q(6000, "rpm"), eccentricity)
            scale = 25e-6 * omega * (diameter / 2.0) ** 3 / (slender * diameter)
            yield Row(
                f"oil dragged out at the sides, B/D {slender:g}, eps {eccentricity:g}, m3/s",
                kit.to("m**3/s").m,
                scale * film_flow(slender, eccentricity, nowhere, 0.0, from_widest=True, around=180, across=24),
                allowed,
                True,
                REYNOLDS + ", the film from ambient pressure at the widest gap to Reynolds' boundary",
                why,
            )


def strip_flow(ratio: float, cells: int = 80) -> float:
    """Flow from a round hole in the middle of an endless flat strip, in ``c^3 p / (12 mu)``; ratio: hole over width.

    Laplace's equation for the pressure in a quarter of the strip, four widths long, on square cells.
    """
    along = 4 * cells
    i, j = np.meshgrid(np.arange(along + 1), np.arange(cells), indexing="ij")
    places, columns, numbers = [(i * cells + j)] * 5, [i * cells + j], [np.full(i.shape, 4.0)]
    for di, dj in ((1, 0), (-1, 0), (0, 1), (0, -1)):
        there = np.abs(i + di), np.abs(j + dj)  # mirrored in both middle lines and at the far end
        columns.append(np.where(there[0] > along, along - 1, there[0]) * cells + np.minimum(there[1], cells - 1))
        numbers.append(np.where(there[1] < cells, -1.0, 0.0))
    matrix = coo_matrix((np.ravel(numbers), (np.ravel(places), np.ravel(columns)))).tocsr()
    fed = np.ravel(np.hypot(i, j) <= ratio * cells + 1e-9)
    pressure = fed.astype(float)
    free = np.flatnonzero(~fed)
    pressure[free] = spsolve(matrix[free][:, free].tocsc(), -(matrix @ pressure)[free])
    at_side = pressure.reshape(along + 1, cells)[:, -1]
    return float(4.0 * (np.sum(at_side) - at_side[0] / 2.0 - at_side[-1] / 2.0))


# ------------------------------------------------------------------------------------------------------------- crank


def crank_rows() -> Iterator[Row]:
    """The turning column of oil in a crank, added up from the pressure of each thin slice."""
    density, main, nearest, leaves = 850.0, 2.45 * INCH, 0.9 * INCH, 2.3 * INCH
    for rpm in (1000, 6000, 7000):
        omega = 2.0 * math.pi * rpm / 60.0

        def slices(start: float, end: float, omega: float = omega) -> float:
            return float(quad(lambda r: density * omega**2 * r, start, end, epsabs=0.0, epsrel=1e-12)[0])

        oil = Q(rpm, "rpm"), Q(density, "kg/m**3"), Q(main, "m")
        for name, kit, reference in (
            ("in to 0.45 in", crank_inward_loss(*oil, Q(nearest, "m")), slices(nearest / 2.0, main / 2.0)),
            ("in to the axis", crank_inward_loss(*oil, Q(1e-9, "m")), slices(0.0, main / 2.0)),
            ("out to 2.3 in", crank_outward_gain(*oil, Q(leaves, "m")), slices(main / 2.0, leaves)),
        ):
            yield Row(
                f"pressure in a crank's drilling {name}, 2.45 in main, {rpm} rpm, Pa",
                kit.to("Pa").m,
                reference,
                1e-11,
                True,
                f"{SCIPY}, integrate.quad of rho omega^2 r dr",
                "the integrator is asked for 1e-12",
            )


# ------------------------------------------------------------------------------------------------ the whole engine


class Balance:
    """The flow balance of one engine, written again from the equations, on the record's numbers alone. SI."""

    def __init__(self, engine: Any, oil: Any, speed: float, sump: float, change: float, supply: float) -> None:
        self.engine = engine
        self.turns, self.running = speed, speed > 0.0
        self.omega = 2.0 * math.pi * speed
        pump = engine.pump
        swept = pump.displacement.to("m**3/rev").m * pump.ratio.m
        self.poured = swept * speed * supply
        warm, hot = (math.log10(math.log10(nu.to("mm**2/s").m + 0.7)) for nu in (oil.viscosity_40, oil.viscosity_100))

        def viscosity(kelvin: float) -> float:
            share = math.log10(kelvin / 313.15) / math.log10(373.15 / 313.15)
            nu = 10.0 ** (10.0 ** (warm + share * (hot - warm))) - 0.7
            return nu * 1e-6 * density(kelvin)

        def density(kelvin: float) -> float:
            return float(oil.density_15.to("kg/m**3").m * (1.0 - oil.expansion.to("1/K").m * (kelvin - 288.15)))

        self.density, self.bulk = density(sump), viscosity(sump)
        self.film = viscosity(sump + (engine.film_rise.to("delta_degC").m if self.running else 0.0)) * oil.high_shear.m
        self.change = change
        # Wilson's loss: stated at 3000 rpm, 50 psi and 9 mPa s, it goes with pressure over viscosity
        self.slip = swept * (1.0 - pump.efficiency.m) * 50.0 / (50.0 * PSI) * 0.009 / self.bulk

    def bearing(self, b: Any, pressure: float, change: float, inward: float = 0.0, outward: float = 0.0) -> float:
        """Flow into one row of bearings: what pressure presses and turning drags, no more than the feed holes give."""
        c = (b.diametral_clearance.to("m").m + change) / 2.0
        d, width, hole = b.diameter.to("m").m, b.width.to("m").m, b.feed_hole.to("m").m
        omega = self.omega * b.turns.m
        eps = b.eccentricity.m if self.running else 1.0
        if b.feed == "hole":
            x = hole / width
            q_h = 1.204 + 0.368 * x - 1.046 * x**2 + 1.942 * x**3
            pressed = (2.0 * c) ** 3 * math.pi / 48.0 * (1.0 + 1.5 * eps**2) / (math.log(1.0 / x) * q_h) / self.film
            dragged = self.dragged(d, c, width, omega, eps)
        else:
            land = (width - b.groove_width.to("m").m) / 2.0
            both = 2.0 * d / 2.0 * c**3 / (12.0 * self.film * land)
            pressed = both * round_the_gap(eps, half=b.feed == "half groove")
            dragged = (1.0 if b.feed == "half groove" else 0.0) * self.dragged(d, c, land, omega, eps)
        area = 0.62 * math.pi * hole**2 / 4.0

        def too_much(flow: float) -> float:
            at_centre = pressure - inward - self.density / 2.0 * (flow / area) ** 2
            return flow - pressed * (at_centre + inward + outward) - dragged

        if pressure <= inward:
            return 0.0
        most = area * math.sqrt(2.0 * (pressure - inward) / self.density)
        if too_much(most) <= 0.0:
            return float(b.count.m) * most
        if too_much(0.0) >= 0.0:
            return 0.0
        return float(b.count.m * brentq(too_much, 0.0, most, xtol=1e-22, rtol=1e-14))

    @staticmethod
    def dragged(d: float, c: float, width: float, omega: float, eps: float) -> float:
        """ISO 7902: ``D^3 psi omega / 4 [(B/D) - 0.223 (B/D)^3] eps``."""
        x = width / d
        return d**3 * (2.0 * c / d) * omega / 4.0 * (x - 0.223 * x**3) * eps

    def holes(self, o: Any, pressure: float) -> float:
        area = o.count.m * o.discharge_coefficient.m * math.pi * o.bore.to("m").m ** 2 / 4.0
        return float(area * math.sqrt(2.0 * max(pressure - o.opens_at.to("Pag").m, 0.0) / self.density))

    def taken(self, pressure: float) -> float:
        e = self.engine
        r_main, r_near, r_exit = e.mains.diameter.to("m").m / 2.0, e.crank_nearest.to("m").m, e.crank_exit.to("m").m
        inward = self.density * self.omega**2 * (r_main**2 - r_near**2) / 2.0
        outward = self.density * self.omega**2 * (r_exit**2 - r_main**2) / 2.0
        return (
            self.bearing(e.mains, pressure, self.change)
            + self.bearing(e.rods, pressure, self.change, inward, outward)
            + self.bearing(e.cams, pressure, 0.0)
            + self.holes(e.jets, pressure)
            + self.holes(e.lifters, pressure)
        )

    def surplus(self, pressure: float) -> float:
        e, taken = self.engine, self.taken(pressure)
        outlet = pressure
        for part in (e.filter, e.cooler):
            if part is not None:
                resistance = part.rated_drop.to("Pa").m / part.rated_flow.to("m**3/s").m
                thicker = self.bulk / part.rated_viscosity.to("Pa*s").m
                outlet += min(resistance * thicker * taken, part.bypass.to("Pa").m)
        pump = e.pump
        opening, rated = pump.relief_opening.to("Pag").m, pump.relief_rated_pressure.to("Pag").m
        relief = pump.relief_rated_flow.to("m**3/s").m * max(outlet - opening, 0.0) / (rated - opening)
        return float(self.poured - self.slip * outlet - taken - relief)

    def pressure(self) -> float:
        if self.poured == 0.0:
            return 0.0
        return float(brentq(self.surplus, 0.0, 200.0 * PSI, xtol=1e-9, rtol=1e-14))


def balance_rows() -> Iterator[Row]:
    """The operating point against a root finder on the balance above: the farthest of many, for each engine and oil."""
    cases = [
        *product((700.0, 2500.0, 4200.0, 8000.0), (-0.5, 0.0, 2.0), (1.0,)),
        *product((1500.0, 6500.0), (1.0,), (0.05, 0.3)),
    ]
    rpm, thou, supply = (np.array(part) for part in zip(*cases, strict=True))
    for key, oil_key in (("small_four", "thin"), ("street_v8", "street"), ("race_v8", "thick")):
        engine, oil = engines()[key], lubricants()[oil_key]
        for celsius in (0, 60, 100, 150):
            kit = operating_point(engine, oil, Q(rpm, "rpm"), Q(celsius, "degC"), Q(thou, "thou"), supply)
            own = np.array(
                [
                    Balance(engine, oil, n / 60.0, celsius + 273.15, change * 1e-3 * INCH, share).pressure() / PSI
                    for n, change, share in cases
                ]
            )
            worst = int(np.argmax(np.abs(kit.gallery_pressure.m / own - 1.0)))
            yield Row(
                f"gallery pressure of the {engine.name}, {celsius} °C, farthest of {len(cases)} states, psi gauge",
                float(kit.gallery_pressure.m[worst]),
                float(own[worst]),
                1e-9,
                True,
                f"{SCIPY}, optimize.brentq on the flow balance written again from its equations",
                "both find the same root to rounding; where flow rises steeply with pressure a root keeps fewer digits",
            )


# ------------------------------------------------------------------------------------------------------- trade facts


def trade_rows() -> Iterator[Row]:
    """Two rules of thumb that each demonstration engine should roughly keep."""
    oils = {"small_four": "thin", "street_v8": "street", "race_v8": "thick"}
    for key, engine in engines().items():
        for name in ("mains", "rods"):
            part = getattr(engine, name)
            yield between(
                f"clearance of the {name} of the {engine.name}, thou for each inch of journal",
                part.diametral_clearance.to("thou").m / part.diameter.to("in").m,
                0.5,
                1.5,
                "'about 0.001 in per inch' is told in one figure: half of it either way; a loose one lies near the top",
            )
        rpm = np.linspace(engine.idle.to("rpm").m, engine.redline.to("rpm").m, 40)
        hot = operating_point(engine, lubricants()[oils[key]], Q(rpm, "rpm"), Q(110, "degC"))
        yield between(
            f"least oil pressure from idle to redline of the {engine.name}, 110 °C, psi for each 1000 rpm",
            float(np.min(hot.gallery_pressure.m / rpm * 1000.0)),
            7.5,
            12.5,
            "'about 10 psi per 1000 rpm' is a rule told in tens: to the nearest five it is 7.5 to 12.5",
            COMMON_PRACTICE,
        )


def rows() -> Iterator[Row]:
    """Every row of this topic."""
    yield from d341_rows()
    yield from grade_rows()
    yield from groove_rows()
    yield from film_rows()
    yield from crank_rows()
    yield from balance_rows()
    yield from trade_rows()
