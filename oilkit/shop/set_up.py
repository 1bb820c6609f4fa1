"""A car as the workshop sees it: what is fitted to its engine, how warm it is there, and how it really is. (Lesson 09)

Each number stands in one class. `Fitted` is an `Installation` with its valve apart, so that it can be open or shut.
`SetUp` is that as it really is, by its `Condition`; a `Job` (`oilkit.shop.job`) is that while it is commissioned. How
warm it is both know from `Temperatures`.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Annotated, Any, Literal, TypeAlias

from oilkit.physics.catalog import bench_vessel, engines, fittings, hoses, lubricants
from oilkit.physics.discharging import Installation
from oilkit.physics.engine import Engine
from oilkit.physics.line import Fitting, SupplyLine
from oilkit.physics.pressure import STANDARD_ATMOSPHERE
from oilkit.physics.vessel import USUAL_HEAT_TRANSFER
from oilkit.quantities.checked import (
    Ambient,
    ClearanceChange,
    Drop,
    Fraction,
    Gauge,
    HeatTransfer,
    PanChange,
    PressureDifference,
    Ratio,
    Temperature,
    ThroughFlow,
    Time,
    check_sorts,
)
from oilkit.quantities.kind import Span
from oilkit.quantities.records import Record
from oilkit.quantities.units import Q, Qty

ShopTemperature: TypeAlias = Annotated[Temperature, Span("-40 degC", "60 degC", "-60 degC", "100 degC")]
WorkingTemperature: TypeAlias = Annotated[Temperature, Span("-40 degC", "160 degC", "-60 degC", "200 degC")]

USUAL_CHARGE, SHOP, SUMP, LINE, GAS = Q(7, "psig"), Q(20, "degC"), Q(100, "degC"), Q(60, "degC"), Q(40, "degC")
FRICTION, PROMPT = Q(1, "psi"), Q(0.1, "s")
UNCHANGED, TIGHT, AS_FILLED, TRUE = Q(0, "thou"), Q(0, "gpm"), Q(0, "qt"), Q(0, "psi")


@dataclass(frozen=True)
class Fitted:
    """An installation and the valve between its vessel and its line."""

    installation: Installation
    """Its line without the valve."""
    valve: Fitting

    def __post_init__(self) -> None:
        check_sorts(type(self), vars(self))

    @property
    def with_valve(self) -> Installation:
        """The installation with its open valve in the line, as `discharge` takes it."""
        line = self.installation.line
        return replace(self.installation, line=replace(line, fittings=(*line.fittings, self.valve)))


@dataclass(frozen=True)
class Temperatures:
    """How warm it is where the charge is set, and where the engine works."""

    shop_temperature: ShopTemperature = SHOP
    sump_temperature: WorkingTemperature = SUMP
    """Of the oil."""
    gas_temperature: WorkingTemperature = GAS
    """While the engine runs, and in the vessel just after."""


@dataclass(frozen=True)
class Condition(Temperatures, Record):
    """How a set-up really is, with the numbers that no gauge shows. The usual values are those of a healthy one."""

    precharge: Gauge = USUAL_CHARGE
    """In the vessel today, gas at the shop's temperature."""
    charge_loss: Fraction = 0.003
    """Share of the gas that gets lost in a day (estimate, no source)."""
    line_temperature: WorkingTemperature = LINE
    heat_transfer: HeatTransfer = USUAL_HEAT_TRANSFER
    """From the gas to its wall."""
    ambient: Ambient = STANDARD_ATMOSPHERE
    clearance_change: ClearanceChange = UNCHANGED
    pump_share: Ratio = 1.0
    """What the pump gives, as a share of what its efficiency says."""
    oil_air: Fraction = 0.0
    """Share of gas in the oil that the pump draws."""
    air_in_gallery: Fraction = 0.05
    """Share of air in what stands between valve and bearings."""
    seal_friction: Drop = FRICTION
    check_leak: ThroughFlow = TIGHT
    """Back past the check valve at 50 psi (3.45 bar)."""
    valve_opens: Fraction = 1.0
    """How far the valve opens when it is told to; 0 not at all."""
    valve_delay: Time = PROMPT
    """From the switch to the first opening."""
    valve_feed: Literal["ignition", "battery"] = "ignition"
    """What feeds the valve: on the battery it stays open when the ignition goes off."""
    pan_change: PanChange = AS_FILLED
    """More or less oil than was to be filled in."""
    gas_gauge_off: PressureDifference = TRUE
    oil_gauge_off: PressureDifference = TRUE
    gallery_gauge_off: PressureDifference = TRUE


@dataclass(frozen=True)
class SetUp(Fitted):
    """Something fitted, and how it really is."""

    condition: Condition = field(default_factory=Condition)
    filled_for: Qty | None = None
    """Oil that was filled in for the vessel; by default what this vessel takes at the middle speed."""

    def with_condition(self, **changes: Any) -> SetUp:
        """The same with some numbers of its `Condition` changed."""
        return replace(self, condition=self.condition.changed(**changes))


def without_valve(engine: str = "street_v8") -> Installation:
    """A demo engine with the bench vessel behind 6 ft of trade hose, the valve not yet in its line (invented)."""
    line = SupplyLine(hoses()["trade_12"], Q(6, "ft"), (fittings()["port"],))
    return Installation(engines()[engine], lubricants()["street"], bench_vessel(), line)


def pan_shape(engine: Engine) -> tuple[float, float, float]:
    """Of an engine's pan, in SI, as `pan_level` and `pan_volume` take it."""
    pan = engine.si.pan
    return pan.sump_area, pan.sump_depth, pan.upper_area
