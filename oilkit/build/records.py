"""The tables of a set-up file: each as a record that says what its fields are, and in which range. (Lesson 10)"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from oilkit.physics.engine import Engine
from oilkit.physics.line import Fitting, Hose
from oilkit.physics.oil import Lubricant
from oilkit.physics.vessel import Vessel
from oilkit.quantities.checked import (
    AboveAmbient,
    Acceleration,
    Altitude,
    ClearanceChange,
    Drop,
    Flow,
    Fraction,
    GaugeAboveZero,
    HeatTransfer,
    LineLength,
    Number,
    Offset,
    Speed,
    Temperature,
    TemperatureRise,
    ThroughFlow,
    Time,
)
from oilkit.quantities.kind import Span
from oilkit.quantities.records import Record
from oilkit.shop.set_up import ShopTemperature, WorkingTemperature


@dataclass(frozen=True)
class Layout(Record):
    """How the line to the vessel runs."""

    length: Annotated[LineLength, Span("0.15 m", "10 m")]
    reach: Annotated[Offset, Span("-4 m", "4 m", "-6 m", "6 m")]
    """How far the vessel lies from the gallery in the direction in which the events' accelerations count. A vessel in
    the trunk is some 3 m (10 ft) away."""
    height: Annotated[Offset, Span("-1.5 m", "1.5 m")]
    """Of the vessel above the gallery; below 0 under it."""
    tee: Literal["after the filter", "before the filter"]


@dataclass(frozen=True)
class Driving(Record):
    """How warm and how high it is where the engine works."""

    altitude: Annotated[Altitude, Span("-450 m", "5000 m")]
    sump_temperature: WorkingTemperature
    line_temperature: WorkingTemperature
    """Of the oil standing in the line to the vessel, which is cooler than the sump's."""
    gas_temperature: WorkingTemperature
    """Of the gas in the warm vessel."""
    clearance_change: Annotated[ClearanceChange, Span("-3 thou", "6 thou")]
    """Of mains and rods, beyond what stands in [engine]: wear, or a build that you try out."""


@dataclass(frozen=True)
class Event(Record):
    """A stretch in which the pump has no oil: a corner, a braking, a wheelie."""

    name: str
    speed: Annotated[Speed, Span("300 rpm", "20000 rpm")]
    lasts: Annotated[Time, Span("0.1 s", "20 s", "0 s", "60 s")]
    """No longer than the kit watches as a rule: `oilkit.build.results.HORIZON`."""
    pump_decay: Annotated[Time, Span("0 s", "5 s", "0 s", "600 s")]
    """In which the pump's flow falls to nothing."""
    acceleration: Annotated[Acceleration, Span("-5 g_0", "5 g_0")]
    """Of the car towards the side where the vessel is; below 0 away from it, which holds the oil back where reach is
    above 0."""


@dataclass(frozen=True)
class Shop(Record):
    """Where the pre-charge is set, and the gauge that it is set with."""

    temperature: ShopTemperature
    altitude: Annotated[Altitude, Span("-450 m", "5000 m")]
    gauge_full_scale: Annotated[GaugeAboveZero, Span("5 psig", "1000 psig", "0.1 psig", "1000 barg")]
    gauge_class: Annotated[Number, Span(0.05, 5.0)]
    """Its class: largest error in per cent of its full scale."""


@dataclass(frozen=True)
class Chosen(Record):
    """What the builder chooses last."""

    precharge: Annotated[AboveAmbient, Span("1 psig", "150 psig", "0 psig", "1000 barg")]
    """At working temperature and altitude, not in the shop."""


@dataclass(frozen=True)
class Limits(Record):
    """What the engine must not go without."""

    lowest_pressure: Annotated[GaugeAboveZero, Span("1 psig", "100 psig", "0.01 psig", "1000 psig")]
    tolerance: Annotated[Time, Span("0 s", "2 s", "0 s", "60 s")]
    """For which it may do without."""


@dataclass(frozen=True)
class Estimates(Record):
    """What no sheet states and hardly anybody measures."""

    heat_transfer: Annotated[HeatTransfer, Span("1 W/m**2/K", "50 W/m**2/K")]
    """From the gas to its wall."""
    seal_friction: Annotated[Drop, Span("0 psi", "15 psi", "0 psi", "1000 psi")]
    check_valve_leak: Annotated[ThroughFlow, Span("0 gpm", "5 gpm", "0 gpm", "100 gpm")]
    """At 50 psi (3.45 bar)."""
    air_in_gallery: Annotated[Fraction, Span(0.0, 0.3)]


@dataclass(frozen=True)
class Morning(Record):
    """The cold start that a pre-lube is for."""

    temperature: Annotated[Temperature, Span("-40 degC", "35 degC", "-60 degC", "100 degC")]
    empty_galleries: Fraction
    wait_for: Annotated[GaugeAboveZero, Span("10 psig", "80 psig", "10 psig", "1000 psig")]
    """No less than `oilkit.physics.prelube.LEAST_TO_CRANK`."""
    opening_time: Annotated[Time, Span("0 s", "20 s", "0 s", "600 s")]


@dataclass(frozen=True)
class Uncertain(Record):
    """How far each input may be off, plus or minus: one standard deviation, so about two cars in three lie within."""

    clearance: Annotated[ClearanceChange, Span("0 thou", "2 thou")]
    sump_temperature: Annotated[TemperatureRise, Span("0 delta_degC", "40 delta_degC")]
    line_temperature: Annotated[TemperatureRise, Span("0 delta_degC", "60 delta_degC")]
    gas_temperature: Annotated[TemperatureRise, Span("0 delta_degC", "60 delta_degC")]
    precharge: Annotated[Drop, Span("0 psi", "10 psi", "0 psi", "1000 psi")]
    """Gauge and hand together."""
    start_pressure: Annotated[Drop, Span("0 psi", "25 psi", "0 psi", "1000 psi")]
    """Gallery pressure when the pump lets go: gauge, pump and relief valve together."""
    event_length: Fraction
    """As a share of it; so the next two."""
    pump_decay: Fraction
    heat_transfer: Fraction
    seal_friction: Annotated[Drop, Span("0 psi", "10 psi", "0 psi", "1000 psi")]
    pump_slip: Fraction = 0.4
    """As a share of it, as the next two; these three may be left out, and count beside gauge readings."""
    relief_slope: Fraction = 0.3
    jets_and_lifters: Fraction = 0.2


@dataclass(frozen=True)
class Seen(Record):
    """A steady gallery pressure that a gauge has shown, vessel shut off."""

    pressure: Annotated[GaugeAboveZero, Span("3 psig", "150 psig", "0.1 psig", "1000 psig")]
    speed: Annotated[Speed, Span("300 rpm", "20000 rpm", "50 rpm", "30000 rpm")]
    oil_temperature: WorkingTemperature
    """In the sump."""


@dataclass(frozen=True)
class Taken(Record):
    """What the engine was measured to take, as in lesson 05."""

    flow: Annotated[Flow, Span("0.1 gpm", "30 gpm", "0.001 gpm", "1000 gpm")]
    within: Annotated[Flow, Span("0.01 gpm", "5 gpm", "1e-5 gpm", "500 gpm")]
    """How far the flow may be off either way, 19 times in 20."""
    pressure: Annotated[GaugeAboveZero, Span("3 psig", "150 psig", "0.1 psig", "1000 psig")]
    speed: Annotated[Speed, Span("0 rpm", "20000 rpm", "0 rpm", "30000 rpm")]
    """0 for an engine that stood."""
    oil_temperature: WorkingTemperature


@dataclass(frozen=True)
class Readings(Record):
    """What the engine's own gauges have shown: as many of these readings as were taken."""

    gauge_full_scale: Annotated[GaugeAboveZero, Span("30 psig", "300 psig", "1 psig", "1000 barg")]
    gauge_class: Annotated[Number, Span(0.1, 5.0)]
    """Of the gauge at the gallery: largest error in per cent of its full scale."""
    thermometer_error: Annotated[TemperatureRise, Span("0 delta_degC", "20 delta_degC")]
    """The oil thermometer's largest error, either way."""
    hot_idle: Seen | None = None
    hot_at_speed: Seen | None = None
    """Hot, below the speed at which the relief valve opens, where there is one."""
    cold_idle: Seen | None = None
    relief_seen: Seen | None = None
    """Where the needle stops, the relief valve open; faster than half the redline only on the road or a dyno."""
    demand: Taken | None = None
    clearance_change: Annotated[ClearanceChange, Span("-3 thou", "6 thou")] | None = None
    """That of [driving] when they were taken, if it is another one now: wear since, or a build that you try out."""
    oil: Lubricant | None = None
    """The oil they were taken with, if it is another one now."""


TABLES: dict[str, tuple[type[Record], str]] = {
    "engine": (Engine, "The engine, as in data/engines.toml: clearances are diametral."),
    "oil": (Lubricant, "Kinematic viscosities at 40 and 100 °C from the oil's sheet; they must fit its grade."),
    "vessel": (Vessel, "Gas volume with the piston at the oil end; bore; highest pressure that its maker allows."),
    "hose": (Hose, "The hose's own bore, measured; the dash number is a label."),
    "line": (Layout, "Length of hose; how far the vessel lies away in the direction of the accelerations, how high."),
    "valve": (Fitting, "The valve between tee and vessel."),
    "driving": (Driving, "Where and how warm it runs. clearance_change is added to mains and rods."),
    "shop": (Shop, "Where the pre-charge is set, and with which gauge (class: percent of full scale)."),
    "choice": (Chosen, "The pre-charge wanted at working temperature; the build sheet says what to set in the shop."),
    "limits": (Limits, "Lowest gallery pressure that counts, and how long it may be missed."),
    "estimates": (Estimates, "What no sheet states: estimates, no source."),
    "morning": (Morning, "The cold start that a pre-lube is for."),
    "uncertain": (Uncertain, "How far each input may be off, plus or minus (one standard deviation; shares of 1)."),
    "readings": (Readings, "What the gallery gauge has shown, vessel shut off; gauge class in percent of full scale."),
}
"""Each table of a file that stands there once, its record, and the comment it gets."""
MAY_MISS = ("readings",)
"""Those of them that may be left out."""
LISTS: dict[str, tuple[type[Record], str, int]] = {
    "fittings": (Fitting, "What is screwed to the hose beside the valve.", 0),
    "driving.events": (Event, "Stretches without oil at the pick-up; the first one is looked at most closely.", 1),
}
HEAD = ("format", "version", "name", "note")
