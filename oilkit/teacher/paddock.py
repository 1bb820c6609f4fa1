"""Questions from the paddock: a page beside the lessons, each answer with a number that the kit computes for it.

``python -m oilkit.teacher glossary`` writes it with the other pages. The words stand in ``templates/paddock.txt``.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from oilkit.build.blocks import RECHARGE
from oilkit.laps.lap import usual_installation
from oilkit.physics.catalog import engines, fittings, hoses, vessels
from oilkit.physics.discharging import Installation, discharge
from oilkit.physics.engine import Orifices, operating_point
from oilkit.physics.line import Hose
from oilkit.physics.night import overnight
from oilkit.physics.oil import density_of
from oilkit.physics.prelube import stall
from oilkit.physics.pressure import ambient_pressure
from oilkit.physics.valve import orifice_flow
from oilkit.physics.vessel import oil_stored, precharge_at_temperature, precharge_to_set
from oilkit.quantities.kinds import GAUGE
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q, Qty
from oilkit.storage.templates import template

PADDOCK = "paddock.md"
CHARGE, FULL, SPEED, LIMIT = Q(15, "psig"), Q(60, "psig"), Q(3000, "rpm"), Q(20, "psig")
HOT, GAS = Q(100, "degC"), Q(40, "degC")
OIL_HEAT = 2000.0
"""Specific heat of engine oil, J/(kg K) (estimate, no source)."""
SET_POINT, VALVE_DELAY = Q(40, "psig"), 0.1
"""A pressure switch, and how long an electric valve takes to open, s (invented)."""


def lasts(built: Installation, **conditions: Qty) -> str:
    """Protected time in the page's event."""
    given: dict[str, Any] = {"precharge": CHARGE, "pressure": FULL, "speed": SPEED, "limit": LIMIT} | conditions
    return f"{discharge(built, **given).protected_time.m_as('s'):.1f} s"


def _switch(built: Installation) -> dict[str, str]:
    """The gallery without a vessel: when a switch closes, and where the pressure is when its valve is open."""
    seconds = np.linspace(0.0, 1.0, 1001)
    given: dict[str, Any] = {"precharge": FULL, "pressure": FULL, "speed": SPEED, "limit": LIMIT}
    alone = discharge(built, samples=Q(seconds, "s"), **given).history
    assert alone is not None
    gallery = alone.gallery_pressure.m_as("Pag")
    closes = float(seconds[np.argmax(gallery < SET_POINT.m_as("Pag"))])
    below = float(seconds[np.argmax(gallery < LIMIT.m_as("Pag"))])
    left = float(np.interp(closes + VALVE_DELAY, seconds, gallery))
    return {
        "switch_set": text(SET_POINT),
        "switch": f"{closes:.2f} s",
        "delay": f"{VALVE_DELAY} s",
        "alone": f"{below:.2f} s",
        "switch_left": f"{GAUGE.display(max(left, 0.0), 'US'):.0f} psi",
    }


def _weather(built: Installation) -> dict[str, str]:
    """A cold night, and a track in the mountains."""
    there, here = ambient_pressure(Q(0, "ft")), ambient_pressure(Q(7000, "ft"))
    high = precharge_at_temperature(CHARGE, GAS, GAS, there, here)
    cold = precharge_to_set(CHARGE, Q(5, "degC"), GAS)
    night = overnight(built.vessel, built.oil, CHARGE, FULL, GAS, Q(90, "degC"), Q(5, "degC"))
    return {
        "high": text(high),
        "cold": text(cold),
        "morning": text(night.pressure),
        "morning_oil": text(night.oil),
    }


def answers() -> dict[str, Any]:
    """Every number of the page, as text, for the invented street V8 with its 3 qt vessel."""
    built, hose = usual_installation(), hoses()
    rho = density_of(built.oil.si, HOT.m_as("K"))
    settled = operating_point(built.engine, built.oil, SPEED, HOT)
    feed = Orifices(Q(1, ""), Q(1.5, "mm"), Q(0.62, ""), Q(0, "psig"))  # the street V8 has no jets of its own
    turbo = orifice_flow(feed.bore, Q(40, "psi"), Q(float(rho), "kg/m**3"), feed.discharge_coefficient)
    gone = stall(built, fittings()["reduced_valve"], CHARGE, FULL, HOT, GAS)
    double = replace(built.vessel, gas_volume=2.0 * built.vessel.gas_volume, bore=built.vessel.bore * np.sqrt(2.0))
    foot = float(rho) * 9.80665 * 0.3048

    def stored(charge: Qty) -> Qty:
        oil: Qty = oil_stored(built.vessel.gas_volume, charge, FULL, resting=True)
        return oil

    def with_line(bore: Hose, length: Qty) -> Installation:
        return replace(built, line=replace(built.line, hose=bore, length=length))

    takes, warmed = settled.demand.total, FULL.m_as("Pag") / (float(rho) * OIL_HEAT)
    idle = operating_point(built.engine, built.oil, built.engine.idle, HOT)
    return {
        "usual": lasts(built),
        "idle": text(idle.gallery_pressure),
        "precharges": [
            (text(charge), text(stored(charge)), lasts(built, precharge=charge))
            for charge in (Q(5, "psig"), Q(10, "psig"), CHARGE, Q(20, "psig"), Q(30, "psig"), Q(45, "psig"))
        ],
        "narrow": lasts(with_line(hose["small"], built.line.length)),
        "race_usual": lasts(replace(built, engine=engines()["race_v8"])),
        "race_narrow": lasts(replace(with_line(hose["small"], built.line.length), engine=engines()["race_v8"])),
        "sizes": [
            (text(v.gas_volume), lasts(replace(built, vessel=v)))
            for v in (vessels()[key] for key in ("small", "bench", "very_large"))
        ],
        "double": lasts(replace(built, vessel=double)),
        "recharge": text(RECHARGE),
        "stored": text(stored(CHARGE)),
        "turbo": text(turbo),
        "engine": text(takes),
        "turbo_lasts": lasts(replace(built, engine=built.engine.changed(jets=feed))),
        "foot": text(Q(foot, "Pa")),
        "far": lasts(with_line(built.line.hose, 2.0 * built.line.length)),
        "leaks": [(text(leak), lasts(built, leak=leak)) for leak in (Q(0, "gpm"), Q(0.5, "gpm"), Q(1.5, "gpm"))],
        "charges": [
            (text(charge), lasts(built, precharge=charge))
            for charge in (Q(15, "psig"), Q(12, "psig"), Q(9, "psig"), Q(5, "psig"))
        ],
        "stall": f"{gone.empty_after.m_as('s'):.0f} s",
        "stall_oil": text(gone.oil_lost),
        "warmed": f"{warmed:.1f} °C ({1.8 * warmed:.1f} °F)",
        **_switch(built),
        **_weather(built),
    }


def paddock_markdown() -> str:
    """The page as markdown."""
    return template("oilkit.teacher", "paddock.txt").render(answers())
