"""What the kit does not model, and by how much its results would move: estimated with its own functions. (Lesson 12)"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from oilkit.audit.inputs import LIMIT
from oilkit.audit.outside import outside_checks
from oilkit.audit.sensitivity import main_results
from oilkit.audit.steps import Book
from oilkit.audit.worked import MAIN, SHORT, work
from oilkit.physics import line, pressure
from oilkit.physics.dip import WAVE_SPEED
from oilkit.physics.discharging import (
    OIL_STIFFNESS,
    USUAL_DURATION,
    cases_of,
    conditions_si,
    flat,
    pump_lets_go,
    tee_pressure,
)
from oilkit.physics.engine import operating_point
from oilkit.quantities.units import Q, Qty


@dataclass(frozen=True)
class LeftOut:
    """Something the kit does not model, with an estimate of what it would change."""

    what: str
    taken_as: str
    """What was put in its place for the estimate."""
    result: str
    change: float
    """Of the result, as a share of it."""


Row = tuple[str, str, str, float | dict[str, Qty]]
"""As the fields of `LeftOut`; in place of the change there may be the inputs whose change shows it."""
TIME, LOW, OIL = MAIN


def left_out() -> list[LeftOut]:
    """What the kit leaves out, and by how much its results would move: each estimated with the kit's own functions."""
    book, usual = work(SHORT), main_results()

    def change(result: str, told: float | dict[str, Qty]) -> float:
        return told if isinstance(told, float) else float(main_results(**told)[result].m / usual[result].m - 1.0)

    rows = (_hose(book), *_foam(book), *_gas(book), *_engine(book), _growing_air(book), _wall(book), _friction(book))
    return [LeftOut(what, taken_as, result, change(result, told)) for what, taken_as, result, told in rows]


def _hose(book: Book) -> Row:
    f, g = book.found, book.given
    rho, full = f.line_rho.m_as("kg/m**3"), pressure.absolute_pressure(f.full, f.ambient).m_as("Paa")
    volume, gallery = line.line_volume(g.bore, g.length).m_as("m**3"), f.engine.gallery_volume.m_as("m**3")
    more = volume * (1.0 / (rho * WAVE_SPEED**2) - 1.0 / OIL_STIFFNESS) * full / gallery
    springy = {"air_in_gallery": g.air_in_gallery + more}
    return "the hose stretches", f"its spring put into the gallery: {more:.4f} more air", TIME, springy


def _foam(book: Book) -> Iterator[Row]:
    f, g = book.found, book.given
    foamy = operating_point(f.engine, f.oil, g.speed, g.sump_temperature, g.clearance_change, supply=0.9)
    less = float(foamy.gallery_pressure.m / f.full.m - 1.0)
    what = "foam in the oil: the pump gives less"
    yield what, "a tenth of what it draws is air", "gallery pressure before the event", less
    what = "foam in the oil: the gallery is springy"
    yield what, "10 % air in the gallery instead of 5 %", LOW, {"air_in_gallery": Q(0.1, "dimensionless")}


def _gas(book: Book) -> Iterator[Row]:
    g = book.given
    slow = (row for row in outside_checks() if row.source.startswith("CoolProp") and row.relative)
    real = max(abs(row.difference) for row in slow if "slow" in row.quantity)
    words = f"{100.0 * real:.2g} % of the gas volume: the most that slow real gases are off in the check table"
    yield "real gas", words, OIL, {"gas_volume": g.gas_volume * (1.0 + real)}
    words = "1 psi of pre-charge since it was set (estimate, no source)"
    yield "gas leaks past the piston's seal", words, TIME, {"precharge_set": g.precharge_set - Q(1, "psig")}


def _engine(book: Book) -> Iterator[Row]:
    f, g = book.found, book.given
    what, words = "oil thins with shear, more where it is squeezed more", "factor 0.75 instead of 0.85 in every bearing"
    yield what, words, TIME, {"high_shear": Q(0.75, "dimensionless")}
    yield "the crank slows down in the event", "10 % less speed from the start", TIME, {"speed": g.speed * 0.9}
    second = line.column_time(Q(4, "in"), Q(1, "m/s"), Q(10, "psi"), f.density)
    what = "oil in the crank's drillings has inertia"
    words = "4 in of drilling to 1 m/s under 10 psi, as a share of the pump's fading"
    yield what, words, "time to follow", float((second / g.pump_decay).m_as("dimensionless"))


def _growing_air(book: Book) -> Row:
    """The air is as springy as 1 / p**2; on average over the way down as it is at the start times it at the limit."""
    f, air = book.found, float(book.given.air_in_gallery.m)
    start, limit = (pressure.absolute_pressure(p, f.ambient) for p in (f.full, LIMIT))
    springier = air * float(start.m / limit.m)
    words = (
        f"air as springy as it is on the way from {start:.0f~} to {limit:.0f~}: {springier:.2f} instead of {air:.2f}"
    )
    changed: dict[str, Qty] = {"air_in_gallery": Q(springier, "dimensionless")}
    return "the gallery's air grows as the pressure falls", words, TIME, changed


def _wall(book: Book) -> Row:
    f, g = book.found, book.given
    start, charge = (pressure.absolute_pressure(p, f.ambient) for p in (f.full, f.precharge))
    work_of_gas = charge.m_as("Paa") * g.gas_volume.m_as("m**3") * math.log(start.m / charge.m)
    cooler = work_of_gas / (2.0 * 490.0)
    words = f"wall and gas {cooler:.2f} K colder: all the gas's work taken from 2 kg of steel (estimate, no source)"
    changed: dict[str, Qty] = {"gas_temperature": g.gas_temperature - Q(cooler, "delta_degC")}
    return "the wall of the vessel cools with the gas", words, TIME, changed


def _friction(book: Book) -> Row:
    """Every case begins with the gas at the tee's pressure; behind friction, filled from below, it has less."""
    from oilkit.physics import dynamics  # here, because compiled code costs time that the first lessons never need

    f, friction = book.found, Q(2, "psi")
    numbers = flat(conditions_si({**f.conditions, "seal_friction": friction}, f.built.vessel)[0])
    settled, inputs = tee_pressure(f.built, numbers), pump_lets_go(numbers, float(USUAL_DURATION.m_as("s")))

    def lasts(in_vessel: Any) -> float:
        cases, starts = cases_of(f.built, numbers, in_vessel=in_vessel)
        return float(dynamics.many(cases, *inputs, starts, 1e-6)[0, dynamics.PROTECTED])

    words = f"gas {friction:.0f~} (estimate, no source) below the oil at the start, and as much friction in both cases"
    less = lasts(settled - friction.m_as("Pa")) / lasts(settled) - 1.0
    return "the vessel was filled from below against seal friction", words, TIME, less
