"""Plain bearings: why the cube of the clearance rules, and how oil gets to a pin that turns. (Lesson 05)

Clearances here are *diametral*, as the trade quotes them: bore less journal. The radial clearance in the formulas is
half of it; mixing the two up is a factor of 8.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from oilkit.errors import InputError
from oilkit.quantities.checked import (
    Bore,
    Clearance,
    Density,
    Distance,
    Drop,
    DynamicViscosity,
    Eccentricity,
    Fraction,
    Length,
    PressureDifference,
    Speed,
    ThroughFlow,
    public,
)
from oilkit.quantities.kinds import BORE, LENGTH, ROUNDING, first_where, refuse


@public
def usual_clearance(diameter: Length) -> Clearance:
    """Diametral clearance that the trade gives a journal: 0.001 in for every inch of it.

    Shapes broadcast. Source: common practice, no source.

    >>> print(f"{usual_clearance(Q(2.45, 'in')):.2f~}")
    2.45 th
    """
    return 1e-3 * diameter


@public
def slot_flow(
    width: Length, gap: Clearance, length: Length, pressure_difference: Drop, dynamic_viscosity: DynamicViscosity
) -> ThroughFlow:
    """Laminar flow through a flat narrow slot: ``B c**3 dp / (12 mu L)``. The lesson derives it.

    width: B, across the flow; gap: c; length: L, along the flow. Shapes broadcast.
    Source: first principles (Poiseuille flow between parallel plates).

    >>> print(f"{slot_flow(Q(6, 'in'), Q(1, 'thou'), Q(0.4, 'in'), Q(50, 'psi'), Q(8, 'cP')).to('Lpm'):.3f~}")
    0.053 Lpm
    """
    return width * gap**3 * pressure_difference / (12.0 * dynamic_viscosity * length)


@public
def groove_flow(
    diameter: Length,
    diametral_clearance: Clearance,
    land: Length,
    pressure_difference: Drop,
    dynamic_viscosity: DynamicViscosity,
    eccentricity: Eccentricity = 0.0,
) -> ThroughFlow:
    """Oil pressed out of a bearing with a groove all round, over its two lands: the slot bent into a ring.

    ``pi r c**3 dp (1 + 1.5 eps**2) / (3 mu l)``, c the *radial* clearance, half of what is given.

    land: width l of one land, from the groove to the bearing's edge. eccentricity: journal offset over radial
    clearance, 0 (centered) to 1 (touching), which lets 2.5 times as much through. Shapes broadcast.
    Source: first principles (slot flow integrated round the gap ``c (1 + eps cos)``); equals the form of ISO 7902-2.

    >>> shaft = Q(2.45, "in"), Q(2.5, "thou"), Q(0.35, "in"), Q(50, "psi"), Q(8, "cP")
    >>> print(f"centered {groove_flow(*shaft):.2f~}, at 0.7 {groove_flow(*shaft, 0.7):.2f~}")
    centered 0.08 gpm, at 0.7 0.14 gpm
    """
    radial = diametral_clearance / 2.0
    ring = math.pi * diameter / 2.0 * radial**3 / (3.0 * land)
    return ring * pressure_difference * (1.0 + 1.5 * np.square(eccentricity)) / dynamic_viscosity


@public
def half_groove_share(eccentricity: Eccentricity) -> Fraction:
    """Flow of a groove round half the bearing, on the side of the wide gap, as a share of a full groove's.

    ``[pi + 6 eps + 1.5 pi eps**2 + 4/3 eps**3] / [2 pi (1 + 1.5 eps**2)]``: half when centered, nearly all when not.
    Low by some 5 to 10 % with the shaft at rest, 20 % at worst: leakage round the groove's ends is left out (a
    numerical solution of Reynolds' equation). Shapes broadcast.
    Source: first principles (slot flow integrated round half the gap).

    >>> print(f"{half_groove_share(0.0).m:.2f} {half_groove_share(0.7).m:.2f}")
    0.50 0.93
    """
    e = np.asarray(eccentricity)
    half = math.pi + 6.0 * e + 1.5 * math.pi * e**2 + 4.0 / 3.0 * e**3
    return (half / (2.0 * math.pi * (1.0 + 1.5 * e**2)))[()]


@public
def hole_flow(
    diametral_clearance: Clearance,
    width: Length,
    hole: Bore,
    pressure_difference: Drop,
    dynamic_viscosity: DynamicViscosity,
    eccentricity: Eccentricity = 0.0,
    at_widest_gap: bool = False,
) -> ThroughFlow:
    """Oil pressed out of a bearing that is fed through one round hole in the middle of its width.

    ``(C_d**3 dp / mu) (pi / 48) e / (ln(B / d_H) q_H)`` with C_d the diametral clearance, B the width, d_H the hole and
    ``q_H = 1.204 + 0.368 (d_H / B) - 1.046 (d_H / B)**2 + 1.942 (d_H / B)**3``. The factor e is
    ``1 + 1.5 eps**2``, the mean for a hole that turns past wide and narrow gap, or ``(1 + eps)**3`` if it stays
    ``at_widest_gap``: two bounds.

    hole: smaller than half the width. Shapes broadcast. Raises `InputError` for a larger one.
    Source: ISO 7902-2 (from memory; a two-dimensional numerical solution agrees within 13 %).

    >>> pin = Q(2.5, "thou"), Q(0.8, "in"), Q(0.25, "in"), Q(50, "psi"), Q(8, "cP")
    >>> print(f"{hole_flow(*pin, 0.7):.3f~} to {hole_flow(*pin, 0.7, at_widest_gap=True):.3f~}")
    0.013 gpm to 0.038 gpm
    """
    ratio = np.asarray(hole / width)
    if np.any(ratio >= 0.5):
        wide, edge = first_where(ratio >= 0.5, hole, width)
        raise InputError("hole", BORE.exact_text(wide), f"less than half of the width of {LENGTH.exact_text(edge)}")
    q = 1.204 + 0.368 * ratio - 1.046 * ratio**2 + 1.942 * ratio**3
    e = np.asarray(eccentricity)
    widened = (1.0 + e) ** 3 if at_widest_gap else 1.0 + 1.5 * e**2
    through = math.pi / 48.0 * widened / (-np.log(ratio) * q)
    return (diametral_clearance**3 * pressure_difference / dynamic_viscosity * through)[()]


@public
def side_flow(
    diameter: Length, diametral_clearance: Clearance, width: Length, speed: Speed, eccentricity: Eccentricity
) -> ThroughFlow:
    """Oil that a turning shaft drags through its bearing and out at the sides, whatever the oil pressure.

    ``D**2 C_d omega / 4 [(B / D) - 0.223 (B / D)**3] eps``: a demand, met only if so much arrives.

    width: up to one diameter; there a numerical solution of Reynolds' equation agrees within 3 %.
    Shapes broadcast. Source: ISO 7902 form (from memory).

    >>> print(f"{side_flow(Q(2.1, 'in'), Q(2.5, 'thou'), Q(0.8, 'in'), Q(7000, 'rpm'), 0.8):.2f~}")
    0.15 gpm
    """
    slender = width / diameter
    refuse(slender > ROUNDING, "width", width, diameter, LENGTH, "no more than the diameter of {}")
    omega = 2.0 * math.pi * speed
    return diameter**2 * diametral_clearance * omega / 4.0 * (slender - 0.223 * slender**3) * eccentricity


@public
def crank_inward_loss(
    speed: Speed, density: Density, main_diameter: Length, nearest_diameter: Distance
) -> PressureDifference:
    """Pressure that oil loses on its way into a turning crank: ``rho omega**2 (R_m**2 - r_min**2) / 2``.

    main_diameter: of the main journal, where it enters; nearest_diameter: twice the drilling's nearest approach to the
    axis, up to the main's. Shapes broadcast. Raises `InputError` for a nearest approach outside the main journal.
    Source: first principles (hydrostatics in a turning frame).

    >>> inward = crank_inward_loss(Q(7000, "rpm"), Q(850, "kg/m**3"), Q(2.45, "in"), Q(0.05, "in"))
    >>> print(f"{inward:.0f~}")
    32 psi
    """
    outside = nearest_diameter > main_diameter * ROUNDING
    refuse(outside, "nearest_diameter", nearest_diameter, main_diameter, LENGTH, "up to {}, the main's")
    return _spin(speed, density, main_diameter, nearest_diameter)


@public
def crank_outward_gain(
    speed: Speed, density: Density, main_diameter: Length, exit_radius: Length
) -> PressureDifference:
    """Pressure that oil gains from the main journal's surface out to the rod journal's.

    ``rho omega**2 (R_x**2 - R_m**2) / 2``. It helps only oil that has made the inward way first.

    exit_radius: from the crank's axis to the hole in the rod journal. Negative for an exit inside the main's surface.
    Shapes broadcast.
    Source: first principles (hydrostatics in a turning frame).

    >>> print(f"{crank_outward_gain(Q(7000, 'rpm'), Q(850, 'kg/m**3'), Q(2.45, 'in'), Q(2.35, 'in')):.0f~}")
    86 psi
    """
    return _spin(speed, density, 2.0 * exit_radius, main_diameter)


def _spin(speed: Any, density: Any, outer_diameter: Any, inner_diameter: Any) -> Any:
    omega = 2.0 * math.pi * speed
    return density * omega**2 * (outer_diameter**2 - inner_diameter**2) / 8.0
