"""The pump lets go: what a vessel does for an engine over time. (Lesson 06)

One call simulates one case or any number of them: every condition may be a quantity or an array of them, and shapes
broadcast. What is simulated stands in `oilkit.physics.dynamics`; the plain case that can be solved by hand in
`oilkit.physics.precharge.time_to_empty`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cache
from typing import Annotated, Any, TypeAlias

import numpy as np

from oilkit.errors import InputError
from oilkit.physics import gas
from oilkit.physics.engine import BEARINGS, Engine, OperatingPoint, consumers, engine_demand, outlet_pressure
from oilkit.physics.line import SupplyLine, way_of
from oilkit.physics.oil import Lubricant, density_of, viscosity_of
from oilkit.physics.pressure import STANDARD_ATMOSPHERE
from oilkit.physics.pump import slip
from oilkit.physics.vessel import USUAL_HEAT_TRANSFER, Vessel, check_rated, gas_absolute, gas_exchange
from oilkit.quantities import kinds
from oilkit.quantities.checked import Accuracy, Duration, Named, One, Own, Time, check_sorts, public
from oilkit.quantities.kind import Kind
from oilkit.quantities.kinds import GAUGE, OIL, TEMPERATURE, THROUGH_FLOW, TIME, fitted_together, to_si
from oilkit.quantities.units import Q, Qty

OIL_STIFFNESS = 1.5e9
"""Bulk modulus of engine oil without air, Pa (Merritt, Hydraulic Control Systems, 1967, from memory)."""
LIGHT = 1e-6
"""Without inertia the line's oil keeps this share of its mass: it starts in microseconds, by the same equations."""
LEAST_GAS = 0.02
"""Share of its gas volume that is left with the piston at the gas end (estimate, no source)."""
USUAL_DURATION = Q(60, "s")
AT_ONCE = 20_000
"""So many cases are simulated at once; more come in portions, so that memory does not grow with them."""


@dataclass(frozen=True)
class Installation:
    """What is bolted together: an engine, its oil, a vessel and the line between."""

    engine: Engine
    oil: Lubricant
    vessel: Vessel
    line: SupplyLine
    tee_before_filter: bool = False
    """Whether the vessel's oil has to pass filter and cooler on its way to the gallery. From the pump on: relief valve,
    check valve, tee, cooler, filter, gallery if so; else relief valve, cooler, filter, check valve, tee, gallery.
    Filter and cooler then feel its cooler oil by its share, as if that were in them at once."""

    def __post_init__(self) -> None:
        check_sorts(Installation, vars(self))

    def at_tee(self, point: OperatingPoint) -> Qty:
        """Pressure at which the vessel settles while pump and engine agree on that point."""
        return point.pump_pressure if self.tee_before_filter else point.gallery_pressure


CONDITIONS: dict[str, tuple[Kind, Any]] = {
    "precharge": (kinds.GAUGE, Q(10, "psig")),
    "pressure": (kinds.GAUGE_ABOVE_ZERO, Q(60, "psig")),
    "speed": (kinds.SPEED, Q(3000, "rpm")),
    "sump_temperature": (kinds.WORKING_TEMPERATURE, Q(100, "degC")),
    "line_temperature": (kinds.WORKING_TEMPERATURE, Q(60, "degC")),
    "gas_temperature": (kinds.WORKING_TEMPERATURE, Q(40, "degC")),
    "heat_transfer": (kinds.HEAT_TRANSFER, USUAL_HEAT_TRANSFER),
    "thermal_time_constant": (kinds.TIME_CONSTANT, None),
    "clearance_change": (kinds.CLEARANCE_CHANGE, Q(0, "thou")),
    "line_length": (kinds.LINE_LENGTH, None),
    "pump_decay": (kinds.TIME, Q(0.2, "s")),
    "seal_friction": (kinds.DROP, Q(0, "psi")),
    "head": (kinds.PRESSURE_DIFFERENCE, Q(0, "psi")),
    "air_in_gallery": (kinds.FRACTION, 0.05),
    "leak": (kinds.THROUGH_FLOW, Q(0, "gpm")),
    "limit": (kinds.GAUGE_ABOVE_ZERO, Q(20, "psig")),
    "tolerance": (kinds.AT_MOST_A_MINUTE, Q(0.05, "s")),
    "ambient": (kinds.AMBIENT, STANDARD_ATMOSPHERE),
}
"""What a case is made of, beside its installation: for each condition its kind and its usual value.

precharge: at working temperature. pressure: at which the gallery starts, taken as it comes; what pump and engine make
at a speed, warmth and wear says `oilkit.operating_point`. The vessel has settled at the tee, which is higher by what
filter and cooler cost where it stands before them. speed: of the crank. line_temperature: of the oil standing in the
line. gas_temperature: of the vessel's wall. heat_transfer: from the gas to its wall; with the vessel's size and its gas
it says how fast the gas takes on the wall's temperature (`oilkit.gas_time_constant`). thermal_time_constant: a constant
in its place, for a comparison; the vessel's own unless given, or None. line_length: the installation's own unless
given, or None. pump_decay: the pump's flow falls in a straight line to nothing in this time. seal_friction: holds the
piston.
head: from vessel to gallery, of height and acceleration; below 0 it holds oil back. air_in_gallery: share of air in the
gallery's oil, which makes it springy. leak: back past the check valve at 50 psi. limit, tolerance: pressure that the
engine needs, and for how long it may do without. Below what their oil loses on its way into the crank
(`oilkit.crank_inward_loss`) the rods get nothing: at high speed the limit has to be higher.

Friction, leak and head are usually none, which is kind: 2 psi of friction cost some 10 % of the protected time, 1.5 gpm
of leak some 30 %. Left out with any friction: a vessel filled from below keeps its gas below the oil by as much, and
so holds less oil than is taken here; that costs some 2 % more for 2 psi, 4 % for 4 psi (`oilkit.audit.left_out`).
"""
Conditions: TypeAlias = Annotated[Any, Named("condition", CONDITIONS)]
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
    """Time below the limit in all, forgiven dips included. Of many cases this, the lowest pressure and ``empty_after``
    count only what came before a case was left: when it had been below the limit for longer than the tolerance."""
    empty_after: Qty
    """When the piston came home; 0 if the vessel was empty from the start, infinite if it did not."""
    oil_used: Qty
    """Oil that had left the vessel by the protected time, or at the end."""
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
STILL_BELOW = "below the limit at the end"
"""But not yet for longer than the tolerance: a longer run says how it goes on."""


@public
def discharge(
    installation: Installation,
    duration: One[Duration] = USUAL_DURATION,
    accuracy: One[Accuracy] = 3e-7,
    inertia: bool = True,
    samples: Own[Time] | None = None,
    **conditions: Conditions,
) -> Discharge:
    """Let the pump lose its oil, and follow vessel, line and gallery until the protection ends.

    conditions: any of ``CONDITIONS``, single or arrays that broadcast; the rest have their usual values.
    accuracy: of each step, relative, 1e-9 to 1e-3; with the usual one times are good to 1e-4 or better.
    inertia: whether the oil in the line has its mass. samples: times of the history, shape (n,), rising from 0; only
    for one case; by default 700 times, close together in the first tenth of a second. With many cases there is no
    history, and each is left when its protection has ended. An end that does not come within ``duration`` is
    infinitely far.
    Raises `InputError` for conditions that are unknown, out of range, above the vessel's rating or do not fit together.
    Source: first principles, laws as in the modules for line, bearing, engine and gas; see `oilkit.physics.dynamics`.

    >>> from oilkit import engines, fittings, hoses, lubricants, vessels
    >>> line = SupplyLine(hoses()["trade_12"], Q(6, "ft"), (fittings()["reduced_valve"], fittings()["port"]))
    >>> built = Installation(engines()["street_v8"], lubricants()["street"], vessels()["bench"], line)
    >>> run = discharge(built, precharge=Q([7, 20], "psig"))
    >>> print(f"{run.protected_time:.1f~} {run.ending[0]}")
    [4.4 7.3] s pressure limit reached
    """
    from oilkit.physics import dynamics  # here, because compiled code costs time that the first lessons never need

    given, shape = every_condition(conditions, installation.vessel)
    check_tee(installation, given)
    if shape:
        if samples is not None:
            raise InputError("samples", "times for many cases", "one case, or no samples")
        results, volumes = np.zeros((math.prod(shape), dynamics.RESULTS)), np.zeros(math.prod(shape))
        for first in range(0, len(results), AT_ONCE):
            part = slice(first, first + AT_ONCE)
            numbers = {name: np.asarray(array.flat[part], dtype=float) for name, array in given.items()}
            cases, starts = cases_of(installation, numbers, inertia)
            results[part] = dynamics.many(cases, *pump_lets_go(numbers, duration), starts, accuracy)
            volumes[part] = starts[:, dynamics.V]
        return _summary(results, volumes, shape, None)
    moments = _moments(duration) if samples is None else _rising(samples, duration)
    numbers = flat(given)
    cases, starts = cases_of(installation, numbers, inertia)
    times, table = pump_lets_go(numbers, duration)
    result, followed = dynamics.one(cases[0], times[0], table[0], starts[0], accuracy, moments)
    history = history_of(moments, followed, cases[0], numbers["speed"][0])
    return _summary(result[None], starts[:, dynamics.V], (), history)


def pump_lets_go(c: dict[str, Any], seconds: float) -> tuple[Any, Any]:
    """Times and inputs of each case: steady speed, and a pump whose flow falls in a straight line to nothing."""
    from oilkit.physics import dynamics

    decay = c["pump_decay"]
    times = np.stack([np.zeros_like(decay), np.minimum(decay, seconds), np.full_like(decay, seconds)], axis=1)
    table = np.zeros((len(decay), dynamics.INPUTS, 3))
    table[:, dynamics.SPEED, :] = c["speed"][:, None]
    left = 1.0 - times / np.where(decay > 0.0, decay, np.inf)[:, None]
    table[:, dynamics.SUPPLY, :] = np.where(decay[:, None] > 0.0, np.maximum(left, 0.0), 0.0)
    table[:, dynamics.OPENING, :] = 1.0
    return times, table


def _rising(moments: Any, seconds: float) -> Any:
    """Times of a history that were asked for, if they are such. Raises `InputError`."""
    wanted = f"one or more rising times up to the duration of {TIME.exact_text(seconds)}"
    if np.ndim(moments) != 1 or np.size(moments) == 0:
        raise InputError("samples", f"times of shape {np.shape(moments)}", wanted)
    if np.any(np.diff(moments) < 0.0):
        raise InputError("samples", f"{np.size(moments)} times that do not all rise", wanted)
    if moments[-1] > seconds:
        raise InputError("samples", f"a time of {TIME.unlike(moments[-1], seconds)}", wanted)
    return moments


def _moments(seconds: float) -> Any:
    """Times of a history: close together in the first tenth of a second, then farther apart."""
    early = np.linspace(0.0, min(0.1, seconds), 201)
    return np.unique(np.concatenate([early, np.linspace(0.0, seconds, 500)]))


def conditions_si(conditions: dict[str, Any], vessel: Vessel) -> tuple[dict[str, Any], tuple[int, ...]]:
    """As `every_condition`, from quantities."""
    return every_condition(Named("condition", CONDITIONS).si(conditions), vessel)


def every_condition(conditions: dict[str, Any], vessel: Vessel) -> tuple[dict[str, Any], tuple[int, ...]]:
    """All conditions as SI arrays of one shape, and that shape. Raises `InputError`, also above the vessel's rating.

    conditions: those that are not as usual, in SI.
    """
    given = {name: usual[0] for name, usual in usual_si().items()}
    given |= {name: np.nan if value is None else value for name, value in conditions.items()}
    for name in ("precharge", "pressure"):
        check_rated(vessel, name, given[name])
    together = fitted_together(given)
    shape = together[0].shape
    return dict(zip(given, together, strict=True)), shape


def flat(conditions: dict[str, Any]) -> dict[str, Any]:
    """Conditions of one shape in a row, a case each, as `cases_of` wants them."""
    return {name: np.ravel(array).astype(float) for name, array in conditions.items()}


@cache
def usual_si() -> dict[str, Any]:
    """The usual conditions in SI, as arrays of one case."""
    return {
        name: np.array([np.nan if usual is None else to_si(name, usual, kind)])
        for name, (kind, usual) in CONDITIONS.items()
    }


def cases_of(
    installation: Installation, c: dict[str, Any], inertia: bool = True, in_vessel: Any = None
) -> tuple[Any, Any]:
    """The numbers of each case and the state it starts from, for `oilkit.physics.dynamics`: a row for each case.

    in_vessel: gauge pressure there, where it has not settled at the tee.
    """
    from oilkit.physics.dynamics import CASE, START

    engine, oil = installation.engine, installation.oil
    e, o, room = engine.si, oil.si, installation.vessel.si.gas_volume
    air, sump, warm = c["ambient"], c["sump_temperature"], c["gas_temperature"]
    charge = gas_absolute("precharge", c["precharge"], air)
    ends, sides = gas_exchange(room, installation.vessel.si.bore, charge, warm, c["heat_transfer"])
    tau = c["thermal_time_constant"]
    own, constant = np.isnan(tau), np.divide(1.0, tau, out=np.full_like(tau, np.inf), where=tau > 0.0)
    thickness = viscosity_of(o, sump)
    elements = [part for part in (e.filter, e.cooler) if part is not None]
    per_flow = [part.rated_drop / part.rated_flow * thickness / part.rated_viscosity for part in elements]
    settled = tee_pressure(installation, c) if in_vessel is None else in_vessel
    start = np.clip(room * charge / (settled + air), LEAST_GAS * room, room)
    named: dict[str, Any] = {
        "gas_constant": charge * room / warm,
        "gas_volume": room,
        "least_volume": LEAST_GAS * room,
        "wall_temperature": warm,
        "exchange": np.where(own, ends, constant),
        "exchange_per_volume": np.where(own, sides, 0.0),
        "ambient": air,
        "seal_friction": c["seal_friction"],
        "tee_first": float(installation.tee_before_filter),
        "height_head": c["head"],
        "compliance": e.gallery_volume * (c["air_in_gallery"] / (c["pressure"] + air) + 1.0 / OIL_STIFFNESS),
        "pump_per_turn": e.pump.displacement * e.pump.ratio,
        "slip": e.pump.displacement * e.pump.ratio * slip(e.pump.efficiency, thickness),
        "relief_opening": e.pump.relief_opening,
        "relief_slope": e.pump.relief_rated_flow / (e.pump.relief_rated_pressure - e.pump.relief_opening),
        "filter": per_flow[0],
        "filter_bypass": e.filter.bypass,
        "cooler": sum(per_flow[1:]),
        "cooler_bypass": sum(part.bypass for part in elements[1:]),
        "vessel_thicker": viscosity_of(o, c["line_temperature"]) / thickness,
        "leak": c["leak"] / LEAK_AT,
        "limit": c["limit"],
        "tolerance": c["tolerance"],
        "heat_ratio": gas.ADIABATIC,
        **dict.fromkeys(("sump_area", "sump_depth", "upper_area", "pickup_band"), 1.0),  # a pan that plays no part
    }
    named |= _in_the_line(installation, c, inertia) | _drinking(engine, oil, sump, c["clearance_change"], len(start))
    cases = np.zeros((len(start), len(CASE)))
    for name, values in named.items():
        cases[:, CASE.index(name)] = values
    starts = np.zeros((len(start), len(START)))
    for name, values in (("V", start), ("P", c["pressure"]), ("T", c["gas_temperature"])):
        starts[:, START.index(name)] = values
    return cases, starts


def check_tee(installation: Installation, c: dict[str, Any]) -> None:
    """Raise `InputError` where the vessel would settle above its rating, or with its piston at the gas end."""
    settled = tee_pressure(installation, c)
    check_rated(installation.vessel, "pressure at the tee", settled)
    charge, air = np.broadcast_arrays(gas_absolute("precharge", c["precharge"], c["ambient"]), c["ambient"])
    if np.any(charge < LEAST_GAS * (settled + air)):
        raise InputError("precharge", GAUGE.exact_text(float(np.min(charge - air))), "enough gas behind the piston")


def tee_pressure(installation: Installation, c: dict[str, Any]) -> Any:
    """At which the vessel settles while the gallery is at the conditions' pressure: there, or before the filter. SI."""
    if not installation.tee_before_filter:
        return c["pressure"]
    engine, oil, sump = installation.engine, installation.oil, c["sump_temperature"]
    demand = engine_demand.si(engine, oil, c["pressure"], c["speed"], sump, c["clearance_change"])
    return outlet_pressure(engine.si, c["pressure"], demand.total.m_as("m**3/s"), viscosity_of(oil.si, sump))


def _in_the_line(installation: Installation, c: dict[str, Any], inertia: bool) -> dict[str, Any]:
    """The numbers of each case that say how the oil in the line moves."""
    rho, mu = (law(installation.oil.si, c["line_temperature"]) for law in (density_of, viscosity_of))
    bore, own_length, fittings = way_of(installation.line)
    length = np.where(np.isnan(c["line_length"]), own_length, c["line_length"])
    if np.any(length <= 0.0):
        raise InputError("line_length", kinds.LINE_LENGTH.exact_text(0.0), "a line that is longer than nothing")
    return {
        "inertance": rho * length / (math.pi * bore**2 / 4.0) * (1.0 if inertia else LIGHT),
        "line_laminar": 128.0 * mu * length / (math.pi * bore**4),
        "line_reynolds": 4.0 * rho / (math.pi * bore * mu),
        "line_fittings": sum(loss * rho / (2.0 * (math.pi * narrow**2 / 4.0) ** 2) for narrow, loss in fittings),
    }


def _drinking(engine: Engine, oil: Lubricant, sump: Any, change: Any, many: int) -> dict[str, Any]:
    """The numbers of so many cases that say what the engine takes, turning and at rest."""
    drinks = consumers(engine, oil, np.array([[1.0], [0.0]]), sump, change)

    def turning_and_resting(value: Any) -> Any:
        return np.broadcast_to(value, (2, many))

    named: dict[str, Any] = {}
    for name in BEARINGS:
        bearing = getattr(drinks, name)
        named[f"{name}_pressed"], named[f"{name}_pressed_rest"] = turning_and_resting(bearing["per_pascal"])
        named[f"{name}_dragged"], _ = turning_and_resting(bearing["dragged"])
        named[f"{name}_feed"] = bearing["feed"]
    for name in ("inward", "outward"):
        named[f"rods_{name}"], _ = turning_and_resting(drinks.rods[name])
    for name, (area, opens_at) in zip(("jets", "lifters"), drinks.holes, strict=True):
        named[name], named[f"{name}_open"] = area * np.sqrt(2.0 / drinks.density), opens_at
    return named


def history_of(moments: Any, followed: Any, case: Any, speed: Any) -> History:
    """What `oilkit.physics.dynamics` followed, as quantities. speed: rev/s, one number or one for each moment."""
    from oilkit.physics import dynamics

    volume, flow, pressure, kelvin = (followed[:, row] for row in (dynamics.V, dynamics.Q, dynamics.P, dynamics.T))
    pumped, taken, leaked = (followed[:, dynamics.N + k] for k in range(3))
    constant, room, air = case[dynamics.GAS_CONSTANT], case[dynamics.GAS_VOLUME], case[dynamics.AMBIENT]
    total = volume + pumped - taken - leaked - case[dynamics.COMPLIANCE] * pressure
    takes = dynamics.engine_takes_at(pressure, np.full(moments.shape, speed), case)
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


def _summary(results: Any, start_volumes: Any, shape: tuple[int, ...], history: History | None) -> Discharge:
    from oilkit.physics import dynamics

    def shaped(values: Any) -> Any:
        return np.reshape(values, shape)[()]

    protected, empty = results[:, dynamics.PROTECTED], results[:, dynamics.BOTTOMED]
    still_below = np.where(results[:, dynamics.STILL_BELOW] > 0.0, STILL_BELOW, LASTS)
    words = np.where(np.isinf(protected), still_below, np.where(empty <= protected, EMPTY, LIMIT_REACHED))
    return Discharge(
        protected_time=TIME.quantity(shaped(protected)),
        ending=shaped(words) if shape else str(words[0]),
        lowest_pressure=GAUGE.quantity(shaped(results[:, dynamics.LOWEST])),
        time_below=TIME.quantity(shaped(results[:, dynamics.BELOW])),
        empty_after=TIME.quantity(shaped(empty)),
        oil_used=OIL.quantity(shaped(results[:, dynamics.LAST_VOLUME] - start_volumes)),
        history=history,
    )
