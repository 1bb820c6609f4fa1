"""The gallery pressure of many thousand variants of an engine: the balance of `oilkit.physics.engine`, compiled."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import numpy as np

from oilkit.physics.engine import BEARINGS, Engine, highest_pressure, sides
from oilkit.physics.oil import Lubricant


def settled_pressure(engine: Engine, oil: Lubricant, speed: Any, sump: Any, change: Any) -> Any:
    """Gallery pressure of `oilkit.operating_point` on SI numbers, which broadcast."""
    return pressure_between(engine, sides(engine, oil, speed, sump, change))


def pressure_between(engine: Engine, b: SimpleNamespace) -> Any:
    """The gallery pressure at which both `sides` of an engine's balance agree."""
    from oilkit.physics.dynamics import balance  # here: compiled code costs time that the first lessons never need

    e, wanting, (opening, rated, rated_flow) = engine.si, b.wanting, b.valve
    (jets, jets_open), (lifters, lifters_open) = wanting.holes
    root = np.sqrt(2.0 / wanting.density)
    named = {
        "moved": b.moved,
        "slips": b.slips,
        "relief_opening": opening,
        "relief_slope": rated_flow / (rated - opening),
        "highest": highest_pressure(b.moved, *b.valve),
        "jets": jets * root,
        "jets_open": jets_open,
        "lifters": lifters * root,
        "lifters_open": lifters_open,
        "rods_inward": wanting.rods["inward"],
        "rods_outward": wanting.rods["outward"],
    }
    for name, part in (("filter", e.filter), ("cooler", e.cooler)):
        named[name] = part.rated_drop / part.rated_flow * (b.thickness / part.rated_viscosity) if part else 0.0
        named[f"{name}_bypass"] = part.bypass if part else math.inf
    for name in BEARINGS:
        one = getattr(wanting, name)
        named |= {f"{name}_pressed": one["per_pascal"], f"{name}_dragged": one["dragged"], f"{name}_feed": one["feed"]}
    found = np.empty(np.broadcast_shapes(*map(np.shape, named.values())))
    columns = np.empty((len(balance.BALANCE), *found.shape))
    for k, name in enumerate(balance.BALANCE):
        columns[k] = named[name]
    balance.settle(columns.reshape(len(columns), -1).T.copy(), found.reshape(-1))
    return found[()]
