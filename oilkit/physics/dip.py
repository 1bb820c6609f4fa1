"""The first dip: how deep the gallery's pressure falls while the oil in the line gets going. (Lesson 06)"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from oilkit.errors import InputError
from oilkit.physics.discharging import (
    LIGHT,
    Conditions,
    History,
    Installation,
    cases_of,
    check_tee,
    every_condition,
    flat,
    history_of,
    pump_lets_go,
)
from oilkit.physics.line import way_of
from oilkit.quantities import kinds
from oilkit.quantities.checked import Accuracy, One, public
from oilkit.quantities.kinds import GAUGE, TIME
from oilkit.quantities.units import Qty

WAVE_SPEED = 700.0
"""Speed of a pressure wave in an oil hose, m/s (estimate from memory: 300 to 1300 by how soft the hose is)."""
DIP_WINDOW = 0.5
_DIP_MOMENTS = np.unique(np.concatenate([np.linspace(0.0, 0.1, 201), np.linspace(0.1, DIP_WINDOW, 101)]))
GOOD, ROUGH, NOT_VALID, NO_DIP = "good", "rough", "not valid", "no dip"
LEAST_DEPTH = 10.0
"""Pa. What lies less deep is no dip: the line's oil stands still, or makes no difference."""


@dataclass(frozen=True)
class Dip:
    """The first dip of the gallery's pressure, while the oil in the line gets going: see `first_dip`."""

    depth: Qty
    """How far the pressure falls below that of the same case with a line whose oil weighs nothing."""
    lowest_pressure: Qty
    """From the beginning to the end of the dip."""
    deepest_at: Qty
    duration: Qty
    """How long it lies lower by more than half the depth."""
    time_below: Qty
    """Time below the limit within the first half second."""
    round_trip: Qty
    """Of a pressure wave through the line and back."""
    validity: str
    """``good``, ``rough`` or ``not valid``: what a line's oil that moves as one piece can say about this dip; or
    ``no dip`` where the line's oil makes no difference, as with an empty vessel."""
    history: History = field(repr=False)
    weightless: History = field(repr=False)


@public
def first_dip(installation: Installation, accuracy: One[Accuracy] = 3e-7, **conditions: Conditions) -> Dip:
    """How deep and how long the gallery's pressure dips in the first moments, because the line's oil has to get going.

    The case is followed twice for half a second, with the line's oil as heavy as it is and as if it weighed nothing;
    the dip is what lies between. The oil moves as one piece here. That is good if the dip takes three round trips of
    a pressure wave or more to its deepest point (``good``), poor below (``rough``); not valid if it gets there within
    one round trip (water hammer) or goes below atmospheric pressure (air comes out of the oil, cavitation). In a soft
    hose the wave is up to twice as slow, and what is called good here is rough.

    conditions: those of one case, as in `discharge`. Raises `InputError`, also for more than one case.
    Source: first principles (rigid column); three round trips and the wave's speed: estimate, no source.

    >>> from oilkit import engines, fittings, hoses, lubricants, vessels, SupplyLine
    >>> line = SupplyLine(hoses()["trade_12"], Q(6, "ft"), (fittings()["reduced_valve"], fittings()["port"]))
    >>> built = Installation(engines()["street_v8"], lubricants()["street"], vessels()["bench"], line)
    >>> dip = first_dip(built, pump_decay=Q(0, "s"))
    >>> print(f"{dip.depth:.0f~} deep, {dip.duration.to('ms'):.0f~} long: {dip.validity}")
    9 psi deep, 32 ms long: good
    """
    from oilkit.physics import dynamics

    given, shape = every_condition(conditions, installation.vessel)
    if shape:
        raise InputError("conditions", f"cases of shape {shape}", "one case")
    check_tee(installation, given)
    numbers = flat(given)
    speed = numbers["speed"][0]
    times, table = pump_lets_go(numbers, max(2.0 * DIP_WINDOW, 3.0 * numbers["pump_decay"][0]))
    cases, starts = cases_of(installation, numbers)
    weightless = cases[0].copy()
    weightless[dynamics.INERTANCE] *= LIGHT
    heavy, light = (
        history_of(
            _DIP_MOMENTS, dynamics.one(case, times[0], table[0], starts[0], accuracy, _DIP_MOMENTS)[1], case, speed
        )
        for case in (cases[0], weightless)
    )
    real, ideal = (run.gallery_pressure.m_as(GAUGE.si) for run in (heavy, light))
    lower = ideal - real
    deepest = int(np.argmax(lower))
    depth = float(lower[deepest])
    began, ended = _half_as_deep(lower, deepest) if depth > 0.0 else (0.0, DIP_WINDOW)
    limit = numbers["limit"][0]
    low, high = np.minimum(real[:-1], real[1:]), np.maximum(real[:-1], real[1:])
    below = np.clip((limit - low) / np.maximum(high - low, 1e-9), 0.0, 1.0) * np.diff(_DIP_MOMENTS)
    length = conditions.get("line_length")
    metres = way_of(installation.line)[1] if length is None else length
    trip, moment = 2.0 * metres / WAVE_SPEED, float(_DIP_MOMENTS[deepest])
    lowest = float(np.min(real[max(moment, ended) >= _DIP_MOMENTS]))
    return Dip(
        depth=kinds.PRESSURE_DIFFERENCE.quantity(depth),
        lowest_pressure=GAUGE.quantity(lowest),
        deepest_at=TIME.quantity(moment),
        duration=TIME.quantity(ended - began if depth > 0.0 else 0.0),
        time_below=TIME.quantity(float(np.sum(below))),
        round_trip=TIME.quantity(trip),
        validity=_validity(depth, lowest, moment / trip),
        history=heavy,
        weightless=light,
    )


def _validity(depth: float, lowest: float, trips: float) -> str:
    """How good one piece of oil is for a dip that is deepest after so many round trips of a wave. Depths in Pa."""
    if lowest < -LEAST_DEPTH:
        return NOT_VALID
    if depth < LEAST_DEPTH:
        return NO_DIP
    return NOT_VALID if trips < 1.0 else ROUGH if trips < 3.0 else GOOD


def _half_as_deep(lower: Any, deepest: int) -> tuple[float, float]:
    """When a dip that goes deepest at some moment has first and last half that depth."""
    half = 0.5 * float(lower[deepest])
    began = float(np.interp(half, lower[: deepest + 1], _DIP_MOMENTS[: deepest + 1]))
    after = np.flatnonzero(lower[deepest:] < half)
    if not after.size:
        return began, DIP_WINDOW
    span = slice(deepest + int(after[0]) - 1, deepest + int(after[0]) + 1)
    return began, float(np.interp(-half, -lower[span], _DIP_MOMENTS[span]))
