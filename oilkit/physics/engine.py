"""A whole engine: everything that takes oil, beside the pump that pours, and where the two agree. (Lesson 05)

All consumers hang on one gallery, side by side. A bearing wants two things at once: what pressure presses through its
clearance, and what its turning drags out at the sides. Its feed hole decides how much of that arrives.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Annotated, Any, Literal

import numpy as np

from oilkit.errors import InputError
from oilkit.physics.bearing import (
    crank_inward_loss,
    crank_outward_gain,
    groove_flow,
    half_groove_share,
    hole_flow,
    side_flow,
)
from oilkit.physics.oil import Lubricant, density_of, viscosity_of
from oilkit.physics.pan import Pan
from oilkit.physics.pump import Pump, relief_flow, slip
from oilkit.physics.roots import root_between
from oilkit.physics.valve import Element, rated_drop
from oilkit.quantities.checked import (
    AboveAmbient,
    Bore,
    Clearance,
    ClearanceChange,
    Count,
    Discharge,
    Distance,
    Eccentricity,
    Fraction,
    GaugeAboveZero,
    Length,
    Ratio,
    Speed,
    Temperature,
    TemperatureRise,
    Time,
    Volume,
    public,
)
from oilkit.quantities.kind import Span
from oilkit.quantities.kinds import (
    CLEARANCE,
    CLEARANCE_CHANGE,
    GAUGE,
    LENGTH,
    ROUNDING,
    SPEED,
    THROUGH_FLOW,
    first_where,
    refuse,
)
from oilkit.quantities.records import Record
from oilkit.quantities.units import Qty

FEED_COEFFICIENT = 0.62
"""Discharge coefficient of a bearing's feed hole (from memory, sharp edge)."""


GROOVE_DRAG = {"full groove": 0.0, "half groove": 1.0}
"""How many lands' side flow a grooved bearing draws by turning, beyond what pressure presses through it.

What turning pushes out of the narrowing half of a film with a groove all round, it draws in at the widening half:
nothing is added. With half a groove one land's worth stays (estimate; a numerical solution of Reynolds' equation in the
whole film gives 0.7 to 1.1)."""


@dataclass(frozen=True)
class Bearings(Record):
    """Several equal plain bearings."""

    count: Annotated[Count, Span(0.0, 64.0)]
    diameter: Annotated[Length, Span("0.5 in", "6 in", "2 mm", "1 m")]
    width: Annotated[Length, Span("0.2 in", "5 in", "1 mm", "1 m")]
    diametral_clearance: Annotated[Clearance, Span("0.3 thou", "10 thou", "1e-5 mm", "2 mm")]
    """As the trade quotes it: bore less journal, at working temperature."""
    feed: Literal["full groove", "half groove", "hole"]
    groove_width: Annotated[Bore, Span("0.02 in", "1 in", "0.01 mm", "0.3 m")]
    """Of the groove; not used for a hole."""
    feed_hole: Annotated[Bore, Span("0.02 in", "0.8 in", "0.1 mm", "0.1 m")]
    """Through which oil comes in. It limits what the bearing can take."""
    eccentricity: Eccentricity
    """While it runs. At rest the shaft lies on its shell: 1."""
    turns: Annotated[Ratio, Span(0.3, 2.0)]
    """Turns of this shaft per turn of the crank: 1, or 0.5 for a camshaft."""


@dataclass(frozen=True)
class Orifices(Record):
    """Several equal small holes: piston jets, or the restrictors to lifters and valve gear."""

    count: Annotated[Count, Span(0.0, 100.0)]
    bore: Annotated[Bore, Span("0.2 mm", "6 mm", "0.01 mm", "50 mm")]
    discharge_coefficient: Annotated[Discharge, Span(0.4, 1.0)]
    opens_at: Annotated[AboveAmbient, Span("0 psig", "80 psig", "0 psig", "1000 psig")]
    """Gallery pressure at which a jet's own check valve opens; 0 for a plain hole."""


@dataclass(frozen=True)
class Engine(Record):
    """One engine, as far as its oil is concerned. Data come from ``data/engines.toml`` or from you."""

    name: str
    idle: Annotated[Speed, Span("400 rpm", "3000 rpm", "50 rpm", "10000 rpm")]
    redline: Annotated[Speed, Span("2000 rpm", "20000 rpm", "200 rpm", "30000 rpm")]
    wanted: Annotated[GaugeAboveZero, Span("10 psig", "150 psig", "0.1 psig", "1000 psig")]
    """Gallery pressure that its builder wants at speed."""
    warning: Annotated[GaugeAboveZero, Span("3 psig", "100 psig", "0.1 psig", "1000 psig")]
    """Below this a driver must act."""
    damage: Annotated[GaugeAboveZero, Span("0.5 psig", "60 psig", "0.01 psig", "1000 psig")]
    """Below this, under load, it wears out in seconds to minutes."""
    film_rise: Annotated[TemperatureRise, Span("0 delta_degC", "60 delta_degC")]
    """How much hotter than the sump the film is while it runs, about 10 to 20 K (estimate; a survey of 1974 found
    147 °C in the sump and 163 °C where oil leaves a main bearing: SAE technical paper, abstract); 0 at rest."""
    drain_time: Annotated[Time, Span("0.2 s", "20 s", "0 s", "120 s")]
    """From bearing to pan: see `oilkit.physics.pan.oil_in_flight`."""
    gallery_volume: Annotated[Volume, Span("0.02 qt", "6 qt", "1 cm**3", "100 L")]
    crank_nearest: Annotated[Distance, Span("0 in", "2 in", "0 in", "0.5 m")]
    """Nearest approach of the crank's drillings to its axis."""
    crank_exit: Annotated[Length, Span("0.5 in", "8 in", "1 mm", "1 m")]
    """Radius, from the crank's axis, at which oil leaves a rod journal."""
    mains: Bearings
    rods: Bearings
    cams: Bearings
    jets: Orifices
    lifters: Orifices
    pump: Pump
    filter: Element
    pan: Pan
    cooler: Element | None = None


def check_engine(where: str, engine: Engine) -> None:
    """Raise `InputError`, saying where, for numbers that are fine one by one and do not go together."""
    e = engine.si

    def rising(key: str, low: Any, high: Any, kind: Any, what: str) -> None:
        fits = low < high
        if fits is not True:  # a plain yes needs none of numpy's care, which takes ten times as long
            refuse(np.logical_not(fits), f"{where}, {key}", high, low, kind, f"more than {what} of {{}}")

    rising("redline", e.idle, e.redline, SPEED, "the idle speed")
    rising("warning", e.damage, e.warning, GAUGE, "the damage pressure")
    rising("wanted", e.warning, e.wanted, GAUGE, "the warning pressure")
    opening = e.pump.relief_opening
    rising("pump.relief_rated_pressure", opening, e.pump.relief_rated_pressure, GAUGE, "the relief valve's opening")
    rising("pan.full_height", e.pan.pickup_height, e.pan.full_height, LENGTH, "the pick-up height")
    rising("pan.windage_height", e.pan.full_height, e.pan.windage_height, LENGTH, "the full mark")
    rising("mains.diameter", 2.0 * e.crank_nearest, e.mains.diameter, LENGTH, "twice the drilling's nearest approach")
    for name in ("mains", "rods", "cams", "jets", "lifters"):
        count = getattr(e, name).count
        if count != round(count):
            raise InputError(f"{where}, {name}.count", f"{count:g}", "a whole number")
    for name in ("mains", "rods", "cams"):
        b = getattr(e, name)
        rising(f"{name}.width", b.feed_hole * 2.0 if b.feed == "hole" else b.groove_width, b.width, LENGTH, "the feed")
        rising(f"{name}.diameter", b.width / ROUNDING, b.diameter, LENGTH, "its width")


# ------------------------------------------------------------------------------------------------------- what it drinks


@dataclass(frozen=True)
class Demand:
    """What an engine takes at one gallery pressure: see `engine_demand`. Arrays have the broadcast shape."""

    total: Qty
    pressure_fed: Qty = field(repr=False)
    """Pressed through the bearings' clearances."""
    rotation_driven: Qty = field(repr=False)
    """Dragged out at the bearings' sides by their turning."""
    jets: Qty = field(repr=False)
    """Through jets, lifters and restrictors."""
    mains: Qty = field(repr=False)
    rods: Qty = field(repr=False)
    cams: Qty = field(repr=False)


@public
def engine_demand(
    engine: Engine,
    oil: Lubricant,
    gallery_pressure: AboveAmbient,
    speed: Speed,
    sump_temperature: Temperature,
    clearance_change: ClearanceChange | None = None,
) -> Demand:
    """What an engine takes from its gallery at a pressure, whoever supplies it: the pump or the vessel.

    gallery_pressure: gauge, 0 or more; speed: of the crank, 0 or more. At 0 the shafts rest on their shells, nothing is
    dragged and the film is as warm as the sump; else it is hotter by the engine's ``film_rise``. clearance_change:
    added to the diametral clearance of mains and rods. Shapes broadcast. Raises `InputError` for a clearance that the
    change would close. Source: `groove_flow`, `hole_flow`, `side_flow` and the crank's heads (module
    `oilkit.physics.bearing`), each bearing in series with its feed hole; orifices by Bernoulli.

    >>> from oilkit import engines, lubricants
    >>> v8, oil = engines()["street_v8"], lubricants()["street"]
    >>> take = engine_demand(v8, oil, Q(50, "psig"), Q(6000, "rpm"), Q(100, "degC"))
    >>> print(f"{take.total:.1f~}")
    4.0 gpm
    """
    change = 0.0 if clearance_change is None else clearance_change
    pressure, *others = np.broadcast_arrays(gallery_pressure, speed, sump_temperature, change)
    return _demand(pressure[()], consumers(engine, oil, *(other[()] for other in others)))


def _demand(pressure: Any, wanting: Any, reaching: Any = None) -> Demand:
    """reaching: pressure less the rods' inward loss, where it is known to more digits than the difference."""
    rows = {
        name: bearing_take(pressure, **getattr(wanting, name), reaching=reaching if name == "rods" else None)
        for name in BEARINGS
    }
    through = sum(flow for flow, _ in rows.values())
    pressed = sum(fed for _, fed in rows.values())
    jets = orifice_take(pressure, wanting.density, wanting.holes)
    return Demand(
        total=THROUGH_FLOW.quantity(through + jets),
        pressure_fed=THROUGH_FLOW.quantity(pressed),
        rotation_driven=THROUGH_FLOW.quantity(through - pressed),
        jets=THROUGH_FLOW.quantity(jets),
        **{name: THROUGH_FLOW.quantity(flow) for name, (flow, _) in rows.items()},
    )


BEARINGS = ("mains", "rods", "cams")


def total_take(pressure: Any, wanting: Any, reaching: Any = None) -> Any:
    """All that an engine's `consumers` take at a gallery pressure. SI."""
    taken = orifice_take(pressure, wanting.density, wanting.holes)
    for name in BEARINGS:
        way = reaching if name == "rods" else None
        taken = taken + bearing_take(pressure, **getattr(wanting, name), reaching=way)[0]
    return taken


def consumers(engine: Engine, oil: Lubricant, speed: Any, sump: Any, change: Any = 0.0) -> SimpleNamespace:
    """Everything of an engine that takes oil, as the few numbers that its flow at a pressure needs. SI.

    speed: rev/s; sump: K; change: of the diametral clearance of mains and rods, m. Shapes broadcast.
    """
    check_engine("engine", engine)
    e, lubricant = engine.si, oil.si
    rise = np.where(np.asarray(speed) > 0.0, e.film_rise, 0.0)
    film = viscosity_of(lubricant, sump + rise, in_bearing=True)
    rho = density_of(lubricant, sump)
    found = SimpleNamespace(density=rho, holes=orifices(e))
    for name in BEARINGS:
        found.__dict__[name] = _bearing(getattr(e, name), film, rho, speed, change if name != "cams" else 0.0)
    found.rods["inward"] = rods_need(e, rho, speed)
    found.rods["outward"] = crank_outward_gain.si(speed, rho, e.mains.diameter, e.crank_exit)
    return found


def rods_need(engine: SimpleNamespace, density: Any, speed: Any) -> Any:
    """Gallery pressure below which no oil reaches the rods: it is lost on its way into the crank. All SI."""
    return crank_inward_loss.si(speed, density, engine.mains.diameter, 2.0 * engine.crank_nearest)


def _bearing(b: Any, film: Any, rho: Any, speed: Any, change: Any) -> dict[str, Any]:
    """Pressed flow per pascal, dragged flow, and what the feed hole costs, of several equal bearings together."""
    clearance = b.diametral_clearance + np.asarray(change)
    if np.any(clearance <= 0.0):
        (closed,) = first_where(clearance <= 0.0, change)
        wanted = f"a change above {CLEARANCE.exact_text(-b.diametral_clearance)}, which would close the bearing"
        raise InputError("clearance_change", CLEARANCE_CHANGE.exact_text(closed), wanted)
    lying = np.where(np.asarray(speed) > 0.0, b.eccentricity, 1.0)
    if b.feed == "hole":
        per_pascal = hole_flow.si(clearance, b.width, b.feed_hole, 1.0, film, lying)
        dragged = side_flow.si(b.diameter, clearance, b.width, speed * b.turns, lying)
    else:
        land = (b.width - b.groove_width) / 2.0
        per_pascal = groove_flow.si(b.diameter, clearance, land, 1.0, film, lying)
        if b.feed == "half groove":
            per_pascal = per_pascal * half_groove_share.si(lying)
        # a groove takes back at one place what it gave to the lands at another: see GROOVE_DRAG
        dragged = GROOVE_DRAG[b.feed] * side_flow.si(b.diameter, clearance, land, speed * b.turns, lying)
    area = FEED_COEFFICIENT * math.pi * b.feed_hole**2 / 4.0 * max(b.count, 1.0)  # none at all takes nothing either way
    return {
        "per_pascal": b.count * per_pascal,
        "dragged": b.count * dragged,
        "feed": rho / (2.0 * area**2),
        "inward": 0.0,
        "outward": 0.0,
    }


def bearing_take(
    pressure: Any, per_pascal: Any, dragged: Any, feed: Any, inward: Any, outward: Any, reaching: Any = None
) -> tuple[Any, Any]:
    """Flow into some bearings at a gallery pressure, and the part of it that pressure presses through. SI.

    The feed hole costs ``feed Q**2`` and the way into a turning crank ``inward``; what is left, ``p_c``, cannot fall
    below ambient. Out to the journal the oil gains ``inward + outward``, and the bearing passes
    ``Q = per_pascal (p_c + inward + outward) + dragged``. Both hold at one Q, a root of a quadratic; if that needs
    suction, the feed gives all it can, ``sqrt((p - inward) / feed)``, and the bearing goes short.
    reaching: ``pressure - inward`` where it is known to more digits than the difference of the two.
    """
    reaching = pressure - inward if reaching is None else reaching
    wanted = np.maximum(per_pascal * (pressure + outward) + dragged, 0.0)
    flow = 2.0 * wanted / (1.0 + np.sqrt(1.0 + 4.0 * feed * per_pascal * wanted))
    most = np.sqrt(np.maximum(reaching, 0.0) / feed)
    flow = np.minimum(flow, most)
    left = np.maximum(reaching - feed * flow**2, 0.0)
    return flow, np.minimum(per_pascal * np.maximum(left + inward + outward, 0.0), flow)


def orifices(e: Any) -> list[tuple[Any, Any]]:
    """Of jets and of lifters their area, and the pressure at which they open. SI."""
    return [
        (one.count * one.discharge_coefficient * math.pi * one.bore**2 / 4.0, one.opens_at)
        for one in (e.jets, e.lifters)
    ]


def orifice_take(pressure: Any, density: Any, holes: list[tuple[Any, Any]]) -> Any:
    """Flow through jets and lifters at a gallery pressure. holes: as `orifices` returns them. SI."""
    return sum(area * np.sqrt(2.0 * np.maximum(pressure - opens_at, 0.0) / density) for area, opens_at in holes)


# ------------------------------------------------------------------------------------------------ where it settles


@dataclass(frozen=True)
class OperatingPoint:
    """Where pump and engine agree: see `operating_point`. Arrays have the broadcast shape of the inputs."""

    gallery_pressure: Qty
    pump_pressure: Qty = field(repr=False)
    """At the pump's outlet: gallery plus filter and cooler."""
    pump_flow: Qty = field(repr=False)
    """At its outlet: displaced less slip."""
    relief_flow: Qty = field(repr=False)
    demand: Demand = field(repr=False)
    """What the engine takes, by kind."""
    residual: Any = field(repr=False)
    """Pump less relief less engine, as a share of the pump's flow: how well the balance closes."""
    state: Any
    """In words: one text, or an array of texts."""


NO_PRESSURE = "no oil pressure: the pump gives nothing"
STARVED = "bearings draw more than arrives"
RELIEF_OPEN = "relief valve open"
RELIEF_SHUT = "relief valve shut"


@public
def operating_point(
    engine: Engine,
    oil: Lubricant,
    speed: Speed,
    sump_temperature: Temperature,
    clearance_change: ClearanceChange | None = None,
    supply: Fraction = 1.0,
) -> OperatingPoint:
    """Gallery pressure at which the pump, less its slip, gives what the relief valve lets go and the engine takes.

    speed: of the crank; sump_temperature; clearance_change: added to mains and rods; supply: share of oil at the
    pick-up, 0 to 1. Shapes broadcast: 100 000 combinations are one call. A pump that gives nothing is no error: the
    pressure is 0 and ``state`` says so. Raises `InputError` for bad arguments.
    Source: first principles (what flows in flows out), consumers as in `engine_demand`, solved numerically.

    >>> from oilkit import engines, lubricants
    >>> hot = operating_point(engines()["street_v8"], lubricants()["street"], Q(3000, "rpm"), Q(100, "degC"))
    >>> print(f"{hot.gallery_pressure:.0f~}, {hot.state}")
    61 psig, relief valve open
    """
    change = 0.0 if clearance_change is None else clearance_change
    turning, sump, change, share = np.broadcast_arrays(speed, sump_temperature, change, supply)
    b = _balance(engine, oil, turning, sump, change, share)
    pressure, taken = b.pressure, total_take(b.pressure, b.wanting, b.reaching)
    at_pump = outlet_pressure(engine.si, pressure, taken, b.thickness)
    given = np.maximum(b.moved - b.slips * at_pump, 0.0)
    let_go = relief_flow.si(at_pump, *b.valve)
    short = given - taken - let_go
    starved = np.zeros(np.shape(pressure), dtype=bool)
    for name in ("mains", "rods"):
        one = getattr(b.wanting, name)
        starved = starved | (bearing_take(pressure, **one)[0] < one["dragged"])
    state = np.select([given <= 0.0, starved, let_go > 0.0], [NO_PRESSURE, STARVED, RELIEF_OPEN], RELIEF_SHUT)
    return OperatingPoint(
        gallery_pressure=GAUGE.quantity(pressure),
        pump_pressure=GAUGE.quantity(at_pump),
        pump_flow=THROUGH_FLOW.quantity(given),
        relief_flow=THROUGH_FLOW.quantity(let_go),
        demand=_demand(pressure, b.wanting, b.reaching),
        residual=np.where(given > 0.0, short / np.maximum(given, 1e-300), 0.0)[()],
        state=state[()] if np.ndim(state) else str(state),
    )


def outlet_pressure(e: Any, pressure: Any, taken: Any, mu: Any) -> Any:
    """Pressure at the pump's outlet: the gallery's, and what filter and cooler cost. SI."""
    for part in (e.filter, e.cooler):
        if part is not None:
            pressure = pressure + rated_drop(part, taken, mu)
    return pressure


def sides(engine: Engine, oil: Lubricant, speed: Any, sump: Any, change: Any, share: Any = 1.0) -> SimpleNamespace:
    """Both sides of the balance, SI: what the pump displaces, what of it leaks back for each pascal at its outlet, its
    relief valve, the thickness of the oil in pump, filter and cooler, and the engine's `consumers`.
    """
    pump, thickness = engine.si.pump, viscosity_of(oil.si, sump)
    swept = pump.displacement * pump.ratio
    return SimpleNamespace(
        moved=swept * speed * share, slips=swept * slip(pump.efficiency, thickness),
        valve=(pump.relief_opening, pump.relief_rated_pressure, pump.relief_rated_flow),
        thickness=thickness, wanting=consumers(engine, oil, speed, sump, change),
    )  # fmt: skip


def highest_pressure(moved: Any, opening: Any, rated: Any, rated_flow: Any) -> Any:
    """At which a relief valve lets go all that a pump moves, and a little above. SI."""
    return opening + (rated - opening) / rated_flow * moved + 1.0


def _balance(engine: Engine, oil: Lubricant, speed: Any, sump: Any, change: Any, share: Any) -> SimpleNamespace:
    """Gallery pressure at which pump, relief valve and engine agree, and that pressure less the rods' inward loss; and
    its `sides`. SI. For many thousand balances there is `oilkit.physics.settling`.
    """
    b = sides(engine, oil, speed, sump, change, share)
    inward = b.wanting.rods["inward"]

    # where the rods just begin to drink, their flow rises infinitely steeply: there the pressure is counted from their
    # inward loss, so that its last digit does not show in the balance
    def surplus(above: Any, base: Any) -> Any:
        taken = total_take(base + above, b.wanting, (base - inward) + above)
        outlet = outlet_pressure(engine.si, base + above, taken, b.thickness)
        return b.moved - b.slips * outlet - taken - relief_flow.si(outlet, *b.valve)

    highest = highest_pressure(b.moved, *b.valve)
    base = np.where((inward < highest) & (surplus(0.0, inward) > 0.0), inward, 0.0)
    above = root_between(lambda above: surplus(above, base), np.zeros(base.shape), highest - base)
    above = np.where(b.moved > 0.0, above, 0.0)
    return SimpleNamespace(pressure=(base + above)[()], reaching=((base - inward) + above)[()], **vars(b))
