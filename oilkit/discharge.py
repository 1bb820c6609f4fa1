"""The pump lets go: what a vessel does for an engine over time. (Lesson 06)

One call simulates one case or any number of them: every condition may be a quantity or an array of them, and shapes
broadcast. What is simulated stands in `oilkit.dynamics`; the plain case that can be solved by hand in
`oilkit.precharge.time_to_empty`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from oilkit import kinds
from oilkit.engine import BEARINGS, Engine, consumers
from oilkit.kinds import GAUGE, OIL, TEMPERATURE, THROUGH_FLOW, TIME, Kind, fitted_together, one_to_si, to_si
from oilkit.line import SupplyLine, way_of
from oilkit.oil import Lubricant, density_of, viscosity_of
from oilkit.pressure import STANDARD_ATMOSPHERE
from oilkit.units import InputError, Q, Qty
from oilkit.vessel import Vessel, gas_absolute

OIL_STIFFNESS = 1.5e9
"""Bulk modulus of engine oil without air, Pa (from memory)."""
LIGHT = 1e-3
"""Without inertia the line's oil keeps this share of its mass: it starts in microseconds, by the same equations."""
LEAST_GAS = 0.02
"""Share of its gas volume that is left with the piston at the gas end (estimate, no source)."""
USUAL_DURATION = Q(60, "s")


@dataclass(frozen=True)
class Installation:
    """What is bolted together: an engine, its oil, a vessel and the line between."""

    engine: Engine
    oil: Lubricant
    vessel: Vessel
    line: SupplyLine
    tee_before_filter: bool = False
    """Whether the vessel's oil has to pass the engine's filter on its way to the gallery."""


CONDITIONS: dict[str, tuple[Kind, Any]] = {
    "precharge": (kinds.GAUGE, Q(10, "psig")),
    "pressure": (kinds.GAUGE_ABOVE_ZERO, Q(60, "psig")),
    "speed": (kinds.SPEED, Q(3000, "rpm")),
    "sump_temperature": (kinds.TEMPERATURE, Q(100, "degC")),
    "line_temperature": (kinds.TEMPERATURE, Q(60, "degC")),
    "gas_temperature": (kinds.TEMPERATURE, Q(40, "degC")),
    "thermal_time_constant": (kinds.TIME_CONSTANT, Q(5, "s")),
    "clearance_change": (kinds.CLEARANCE_CHANGE, Q(0, "thou")),
    "line_length": (kinds.LINE_LENGTH, None),
    "pump_decay": (kinds.TIME, Q(0.2, "s")),
    "seal_friction": (kinds.DROP, Q(0, "psi")),
    "head": (kinds.PRESSURE_DIFFERENCE, Q(0, "psi")),
    "air_in_gallery": (kinds.FRACTION, 0.05),
    "leak": (kinds.THROUGH_FLOW, Q(0, "gpm")),
    "limit": (kinds.GAUGE_ABOVE_ZERO, Q(20, "psig")),
    "tolerance": (kinds.TIME, Q(0.05, "s")),
    "ambient": (kinds.AMBIENT, STANDARD_ATMOSPHERE),
}
"""What a case is made of, beside its installation: for each condition its kind and its usual value.

precharge: at working temperature. pressure: at which the vessel has settled and the gallery starts. speed: of the
crank. line_temperature: of the oil standing in the line. gas_temperature: of the vessel's wall. line_length: the
installation's own unless given. pump_decay: the pump's flow falls in a straight line to nothing in this time.
seal_friction: holds the piston. head: from vessel to gallery, of height and acceleration; below 0 it holds oil back.
air_in_gallery: share of air in the gallery's oil, which makes it springy. leak: back past the check valve at 50 psi.
limit, tolerance: pressure that the engine needs, and for how long it may do without.
"""
LEAK_AT = float(Q(50, "psi").to("Pa").magnitude)


@dataclass(frozen=True)
class Discharge:
    """What came of one case or of many: see `discharge`. Everything has the broadcast shape of the conditions."""

    protected_time: Qty
    """Until the gallery fell below the limit for longer than the tolerance: when it fell. Infinite if it did not."""
    ending: Any
    """In words: how the protection ended."""
    lowest_pressure: Qty
    time_below: Qty
    """Time below the limit in all, forgiven dips included."""
    empty_after: Qty
    """When the piston came home; infinite if it did not."""
    oil_used: Qty
    """Oil that had left the vessel when the protection ended, or at the end."""
    history: History | None = field(default=None, repr=False)
    """How it went, for one case."""


@dataclass(frozen=True)
class History:
    """One case over time. Arrays of shape (n,)."""

    time: Qty
    gallery_pressure: Qty
    gas_pressure: Qty
    line_flow: Qty
    """Out of the vessel; below 0 into it."""
    engine_flow: Qty
    oil: Qty
    """In the vessel."""
    gas_temperature: Qty
    oil_missing: Any
    """How far the sum of all the oil has strayed from its start, as a share of the vessel's volume: rounding."""


LASTS, LIMIT_REACHED, EMPTY = "pressure holds to the end", "pressure limit reached", "vessel empty"


def discharge(
    installation: Installation,
    duration: Qty = USUAL_DURATION,
    accuracy: float = 1e-5,
    inertia: bool = True,
    samples: Qty | None = None,
    **conditions: Any,
) -> Discharge:
    """Let the pump lose its oil, and follow vessel, line and gallery until the protection ends.

    conditions: any of ``CONDITIONS``, single or arrays that broadcast; the rest have their usual values.
    accuracy: of each step, relative, 1e-9 to 1e-3; times come out about as good. inertia: whether the oil in the line
    has its mass. samples: times of the history, shape (n,), rising from 0; only for one case; by default 700 times,
    close together in the first tenth of a second. With many cases there is no history, and each is left when its
    protection has ended. An end that does not come within ``duration`` is infinitely far.
    Raises `InputError` for conditions that are unknown, out of range or do not fit together.
    Source: first principles, laws as in the modules for line, bearing, engine and gas; see `oilkit.dynamics`.

    >>> from oilkit import engines, fittings, hoses, lubricants, vessels
    >>> line = SupplyLine(hoses()["trade_12"], Q(6, "ft"), (fittings()["reduced_valve"], fittings()["port"]))
    >>> built = Installation(engines()["street_v8"], lubricants()["street"], vessels()["bench"], line)
    >>> run = discharge(built, precharge=Q([7, 20], "psig"))
    >>> print(f"{run.protected_time:.1f~} {run.ending[0]}")
    [4.7 8.0] s pressure limit reached
    """
    from oilkit import dynamics  # here, because compiled code costs time that the first lessons never need

    if not isinstance(installation, Installation):
        raise InputError("installation", f"a {type(installation).__name__}", "an Installation")
    if not 1e-9 <= accuracy <= 1e-3:
        raise InputError("accuracy", f"{accuracy:g}", "a relative accuracy from 1e-9 to 0.001")
    seconds = one_to_si("duration", duration, TIME)
    numbers, shape = _conditions_si(conditions)
    cases, starts = cases_of(installation, numbers, inertia)
    decay = numbers["pump_decay"]
    times = np.stack([np.zeros_like(decay), np.minimum(decay, 0.5 * seconds), np.full_like(decay, seconds)], axis=1)
    table = np.zeros((len(decay), dynamics.INPUTS, 3))
    table[:, dynamics.SPEED, :] = numbers["speed"][:, None]
    table[:, dynamics.SUPPLY, 0] = decay > 0.0
    table[:, dynamics.SUPPLY, 1] = np.maximum(1.0 - times[:, 1] / np.maximum(decay, 1e-12), 0.0) * (decay > 0.0)
    table[:, dynamics.OPENING, :] = 1.0
    if shape:
        if samples is not None:
            raise InputError("samples", "times for many cases", "one case, or no samples")
        return _summary(dynamics.many(cases, times, table, starts, accuracy), cases, starts, shape, None)
    moments = _moments(seconds) if samples is None else to_si("samples", samples, TIME)
    if np.ndim(moments) != 1 or np.any(np.diff(moments) < 0.0):
        raise InputError("samples", f"{np.size(moments)} times that do not all rise", "rising times")
    result, followed = dynamics.one(cases[0], times[0], table[0], starts[0], accuracy, moments)
    history = history_of(moments, followed, cases[0], numbers["speed"][0])
    return _summary(result[None], cases, starts, (), history)


def _moments(seconds: float) -> Any:
    """Times of a history: close together in the first tenth of a second, then farther apart."""
    early = np.linspace(0.0, min(0.1, seconds), 201)
    return np.unique(np.concatenate([early, np.linspace(0.0, seconds, 500)]))


def _conditions_si(conditions: dict[str, Any]) -> tuple[dict[str, Any], tuple[int, ...]]:
    """All conditions as flat SI arrays of one length, and the shape that they had together."""
    for name in conditions:
        if name not in CONDITIONS:
            raise InputError("condition", repr(name), " or ".join(CONDITIONS))
    given: dict[str, Any] = {}
    for name, (kind, usual) in CONDITIONS.items():
        value = conditions.get(name, usual)
        given[name] = np.nan if value is None else to_si(name, value, kind)
    together = fitted_together(given)
    shape = together[0].shape
    return {name: np.ravel(array).astype(float) for name, array in zip(given, together, strict=True)}, shape


def cases_of(installation: Installation, c: dict[str, Any], inertia: bool = True) -> tuple[Any, Any]:
    """The numbers of each case and the state it starts from, as `oilkit.dynamics` takes them: a row for each case."""
    from oilkit.dynamics import CASE, START

    engine, oil = installation.engine, installation.oil
    e, o, room = engine.si, oil.si, installation.vessel.si.gas_volume
    air, sump, in_line = c["ambient"], c["sump_temperature"], c["line_temperature"]
    charge = gas_absolute("precharge", c["precharge"], air)
    start = np.minimum(room * charge / (c["pressure"] + air), room)
    rho, mu = density_of(o, in_line), viscosity_of(o, in_line)
    bore, own_length, fittings = way_of(installation.line)
    length = np.where(np.isnan(c["line_length"]), own_length, c["line_length"])
    if np.any(length <= 0.0):
        raise InputError("line_length", kinds.LINE_LENGTH.exact_text(0.0), "a line that is longer than nothing")
    area = math.pi * bore**2 / 4.0
    turning = consumers(engine, oil, 1.0, sump, c["clearance_change"])
    resting = consumers(engine, oil, 0.0, sump, c["clearance_change"])
    thickness = viscosity_of(o, sump)
    elements = [part for part in (e.filter, e.cooler) if part is not None]
    per_flow = [part.rated_drop / part.rated_flow * thickness / part.rated_viscosity for part in elements]
    behind = installation.tee_before_filter
    named: dict[str, Any] = {
        "gas_constant": charge * room / c["gas_temperature"],
        "gas_volume": room,
        "least_volume": LEAST_GAS * room,
        "wall_temperature": c["gas_temperature"],
        "exchange": 1.0 / np.where(c["thermal_time_constant"] > 0.0, c["thermal_time_constant"], np.nan),
        "ambient": air,
        "seal_friction": c["seal_friction"],
        "inertance": rho * length / area * (1.0 if inertia else LIGHT),
        "line_laminar": 128.0 * mu * length / (math.pi * bore**4),
        "line_reynolds": 4.0 * rho / (math.pi * bore * mu),
        "line_fittings": sum(loss * rho / (2.0 * (math.pi * narrow**2 / 4.0) ** 2) for narrow, loss in fittings),
        "line_filter": per_flow[0] if behind else 0.0,
        "line_bypass": e.filter.bypass,
        "height_head": c["head"],
        "compliance": e.gallery_volume * (c["air_in_gallery"] / (c["pressure"] + air) + 1.0 / OIL_STIFFNESS),
        "pump_per_turn": e.pump.displacement * e.pump.ratio * e.pump.efficiency,
        "relief_opening": e.pump.relief_opening,
        "relief_slope": e.pump.relief_rated_flow / (e.pump.relief_rated_pressure - e.pump.relief_opening),
        "filter": sum(per_flow),
        "filter_bypass": sum(part.bypass for part in elements),
        "leak": c["leak"] / LEAK_AT,
        "limit": c["limit"],
        "tolerance": c["tolerance"],
        "sump_area": 1.0,
        "sump_depth": 1.0,
        "upper_area": 1.0,
        "pickup_band": 1.0,
    }
    named["exchange"] = np.where(np.isnan(named["exchange"]), np.inf, named["exchange"])
    for name in BEARINGS:
        runs, rests = getattr(turning, name), getattr(resting, name)
        named[f"{name}_pressed"], named[f"{name}_pressed_rest"] = runs["per_pascal"], rests["per_pascal"]
        named[f"{name}_dragged"], named[f"{name}_feed"] = runs["dragged"], runs["feed"]
    named["rods_inward"], named["rods_outward"] = turning.rods["inward"], turning.rods["outward"]
    for name in ("jets", "lifters"):
        holes = getattr(e, name)
        through = holes.count * holes.discharge_coefficient * math.pi * holes.bore**2 / 4.0
        named[name], named[f"{name}_open"] = through * np.sqrt(2.0 / turning.density), holes.opens_at
    cases = np.zeros((len(start), len(CASE)))
    for name, values in named.items():
        cases[:, CASE.index(name)] = values
    starts = np.zeros((len(start), len(START)))
    for name, values in (("V", start), ("P", c["pressure"]), ("T", c["gas_temperature"])):
        starts[:, START.index(name)] = values
    return cases, starts


def history_of(moments: Any, followed: Any, case: Any, speed: Any) -> History:
    """What `oilkit.dynamics` followed, as quantities. speed: rev/s, one number or one for each moment."""
    from oilkit import dynamics

    volume, flow, pressure, kelvin = (followed[:, row] for row in (dynamics.V, dynamics.Q, dynamics.P, dynamics.T))
    pumped, taken, leaked = (followed[:, dynamics.N + k] for k in range(3))
    constant, room, air = case[dynamics.GAS_CONSTANT], case[dynamics.GAS_VOLUME], case[dynamics.AMBIENT]
    total = volume + pumped - taken - leaked - case[dynamics.COMPLIANCE] * pressure
    turning = np.broadcast_to(speed, moments.shape)
    takes = np.array([dynamics.engine_takes(p, n, case) for p, n in zip(pressure, turning, strict=True)])
    return History(
        time=TIME.quantity(moments),
        gallery_pressure=GAUGE.quantity(pressure),
        gas_pressure=GAUGE.quantity(constant * kelvin / volume - air),
        line_flow=THROUGH_FLOW.quantity(flow),
        engine_flow=THROUGH_FLOW.quantity(takes),
        oil=OIL.quantity(room - volume),
        gas_temperature=TEMPERATURE.quantity(kelvin),
        oil_missing=(total - total[0]) / room,
    )


def _summary(results: Any, cases: Any, starts: Any, shape: tuple[int, ...], history: History | None) -> Discharge:
    from oilkit import dynamics

    def shaped(values: Any) -> Any:
        return np.reshape(values, shape)[()]

    protected, empty = results[:, dynamics.PROTECTED], results[:, dynamics.FIRST_HOME]
    words = np.where(np.isinf(protected), LASTS, np.where(empty <= protected, EMPTY, LIMIT_REACHED))
    return Discharge(
        protected_time=TIME.quantity(shaped(protected)),
        ending=shaped(words) if shape else str(words[0]),
        lowest_pressure=GAUGE.quantity(shaped(results[:, dynamics.LOWEST])),
        time_below=TIME.quantity(shaped(results[:, dynamics.BELOW])),
        empty_after=TIME.quantity(shaped(empty)),
        oil_used=OIL.quantity(shaped(results[:, dynamics.LAST_VOLUME] - starts[:, dynamics.V])),
        history=history,
    )
