"""The pan and the oil budget: how much oil to add, where every quart is, and what the pan has left. (Lesson 04)

Wet sump. With a dry sump the oil waits in a tank instead: read "tank" for "pan"; pick-up and windage heights are then
the tank's outlet and its return, and the scavenge pumps keep the pan itself nearly empty.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

import numpy as np

from oilkit.quantities.checked import Area, Distance, Length, Oil, One, ThroughFlow, Time, public
from oilkit.quantities.kind import Span
from oilkit.quantities.kinds import OIL, refuse
from oilkit.quantities.records import Record
from oilkit.quantities.units import Qty

PLACES = ("pan", "line", "vessel", "filter", "cooler", "galleries", "in flight")
"""Everywhere that oil can be."""


@dataclass(frozen=True)
class Pan(Record):
    """An oil pan: a deep sump below, a wide part above. Heights are above the sump's floor."""

    sump_area: Annotated[Area, Span("10 in**2", "500 in**2", "1 cm**2", "10 m**2")]
    sump_depth: Annotated[Length, Span("0.5 in", "24 in", "1 mm", "3 m")]
    upper_area: Annotated[Area, Span("10 in**2", "1000 in**2", "1 cm**2", "10 m**2")]
    """Area of the oil above the sump's depth."""
    pickup_height: Annotated[Length, Span("0.05 in", "8 in", "0.1 mm", "3 m")]
    """Below this the pick-up draws air, standing still; in a corner, sooner."""
    full_height: Annotated[Length, Span("0.5 in", "30 in", "1 mm", "3 m")]
    """The dipstick's full mark, engine stopped and drained back."""
    windage_height: Annotated[Length, Span("0.5 in", "36 in", "1 mm", "3 m")]
    """Above this the crank whips the oil."""


@public
def pan_level(oil: Oil, sump_area: Area, sump_depth: Length, upper_area: Area) -> Distance:
    """Height of the oil in a pan with a deep sump and a wide part above it.

    oil: 0 or more. Shapes broadcast. Source: first principles (two prisms).

    >>> print(f"{pan_level(Q(6, 'qt'), Q(60, 'in**2'), Q(4, 'in'), Q(150, 'in**2')):.2f~}")
    4.71 in
    """
    in_sump = sump_area * sump_depth
    return np.where(oil <= in_sump, oil / sump_area, sump_depth + (oil - in_sump) / upper_area)[()]


@public
def pan_volume(level: Distance, sump_area: Area, sump_depth: Length, upper_area: Area) -> Oil:
    """Oil in a pan that stands at a level: `pan_level` the other way round. Shapes broadcast.

    Source: first principles (two prisms).

    >>> print(f"{pan_volume(Q(4.33, 'in'), Q(60, 'in**2'), Q(4, 'in'), Q(150, 'in**2')):.2f~}")
    5.01 qt
    """
    return sump_area * np.minimum(level, sump_depth) + upper_area * np.maximum(level - sump_depth, 0.0)


@public
def oil_in_flight(flow: ThroughFlow, drain_time: Time) -> Oil:
    """Oil that has left the bearings and is on its way back to the pan: flow times how long the way takes.

    drain_time: mean time from bearing to pan; about 4 s makes the 1 to 2 qt at speed that the trade allows for
    (common practice, no source). Shapes broadcast. Source: first principles (what is on the way = rate times time).

    >>> print(f"{oil_in_flight(Q(6, 'gpm'), Q(4, 's')):.1f~}")
    1.6 qt
    """
    return flow * drain_time


@dataclass(frozen=True)
class OilBudget:
    """Where every quart is, in each state of engine and vessel: see `oil_budget`."""

    oil_to_add: Qty
    """More than the engine took before it had a vessel: vessel at running pressure plus line."""
    total: Qty
    """All the oil in the engine, the same in every state."""
    states: dict[str, dict[str, Qty]]
    """For each state, how much oil is in each place. A pan below zero means that so much is missing."""


STOPPED_EMPTY = "filled, never run"
FILLING = "idling, vessel filling"
RUNNING = "running at speed"
VALVE_SHUT = "stopped, valve shut"
VALVE_OPEN = "stopped, valve left open"
STATES = (STOPPED_EMPTY, FILLING, RUNNING, VALVE_SHUT, VALVE_OPEN)


@public
def oil_budget(
    pan_at_full_mark: One[Oil],
    vessel: One[Oil],
    line: One[Oil],
    filter_volume: One[Oil],
    cooler: One[Oil],
    galleries: One[Oil],
    in_flight: One[Oil],
    vessel_while_filling: One[Oil],
    in_flight_at_idle: One[Oil],
) -> OilBudget:
    """Follow the oil from the can through a drive and back, moving every quart from one place to another.

    The oil is measured so that the pan stands at its full mark with the engine stopped, the vessel full at running
    pressure and its valve shut: this is how the trade fills it, topping up once the vessel has taken its share.

    vessel: oil in it at running pressure; vessel_while_filling: in it at the moment that is looked at, no more than
    that. in_flight, in_flight_at_idle: draining back, at speed and at idle (`oil_in_flight`). All are amounts of oil, 0
    or more, one value each. The oil's own expansion is left out: 5 % from shop to hot, in every place alike.
    Returns an `OilBudget` with the states of ``STATES``. Raises `InputError`.
    Source: first principles (no oil is lost: what leaves one place arrives in another).

    >>> q = lambda qt: Q(qt, "qt")
    >>> budget = oil_budget(q(5), q(2), q(0.6), q(1), q(0), q(0.5), q(1.5), q(1), q(0.5))
    >>> print(f"add {budget.oil_to_add:.1f~}; left open the pan holds {budget.states[VALVE_OPEN]['pan']:.1f~}")
    add 2.6 qt; left open the pan holds 7.0 qt
    """
    more = vessel_while_filling > vessel * (1.0 + 1e-12)
    refuse(more, "vessel_while_filling", vessel_while_filling, vessel, OIL, "no more than {}")
    standing = {"line": line, "filter": filter_volume, "cooler": cooler, "galleries": galleries}
    total = pan_at_full_mark + vessel + sum(standing.values())
    now = dict.fromkeys(PLACES, 0.0) | {"pan": total}
    states: dict[str, dict[str, float]] = {}

    def arrive(state: str, **amounts: float) -> None:
        for place, amount in amounts.items():
            place = place.replace("_", " ")
            now["pan"] -= amount - now[place]
            now[place] = amount
        states[state] = dict(now)

    arrive(STOPPED_EMPTY)
    arrive(FILLING, **standing, vessel=vessel_while_filling, in_flight=in_flight_at_idle)
    arrive(RUNNING, vessel=vessel, in_flight=in_flight)
    arrive(VALVE_SHUT, in_flight=0.0)
    arrive(VALVE_OPEN, vessel=0.0)
    return OilBudget(
        oil_to_add=OIL.quantity(vessel + line),
        total=OIL.quantity(total),
        states={state: {place: OIL.quantity(oil) for place, oil in where.items()} for state, where in states.items()},
    )


@public
def level_in_words(level: One[Distance], pan: Pan) -> str:
    """What a level of the oil means for the pick-up and the crank.

    >>> pan = Pan(*(Q(n, u) for n, u in ((60, "in**2"), (4, "in"), (150, "in**2"), (1, "in"), (5, "in"), (6, "in"))))
    >>> print(level_in_words(Q(0.5, "in"), pan))
    below the pick-up: the pump draws air even on a level road
    """
    if level <= pan.si.pickup_height:
        return "below the pick-up: the pump draws air even on a level road"
    if level > pan.si.windage_height:
        return "above the windage height: the crank whips the oil into foam"
    if level > pan.si.full_height * (1.0 + 1e-9):
        return "above the full mark"
    return "between pick-up and full mark"
