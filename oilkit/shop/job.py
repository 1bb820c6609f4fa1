"""A job: an installation to be commissioned, and all that the procedures need to know besides. (Lesson 09)"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache, cached_property
from types import SimpleNamespace
from typing import Any, TypeAlias, TypeVar, get_type_hints

from oilkit.errors import InputError
from oilkit.physics.catalog import fittings
from oilkit.physics.discharging import LEAST_GAS, Installation
from oilkit.physics.engine import operating_point
from oilkit.physics.line import Fitting, line_volume, way_flow, way_of
from oilkit.physics.night import overnight
from oilkit.physics.oil import density_of, viscosity_of
from oilkit.physics.pan import oil_in_flight, pan_volume
from oilkit.physics.prelube import PreLube, Stall, pre_lube, stall
from oilkit.physics.pressure import STANDARD_ATMOSPHERE
from oilkit.physics.valve import orifice_flow
from oilkit.physics.vessel import oil_stored, precharge_to_set
from oilkit.physics.wiring import valve_flow
from oilkit.quantities.checked import Bore, Fraction, GaugeAboveZero, Oil, Speed, kind_of
from oilkit.quantities.kinds import GAUGE, OIL, SPEED, TEMPERATURE, one_to_si, refuse
from oilkit.quantities.units import Q
from oilkit.shop.hazards import GAUGE_AND_HOSE, DeadVolume, held_beside, held_with, pump_surplus
from oilkit.shop.set_up import Fitted, ShopTemperature, Temperatures, pan_shape, without_valve

T = TypeVar("T")
Numbers: TypeAlias = SimpleNamespace
"""What a job's procedures need, in SI: see `Job.numbers`."""
AIR = float(STANDARD_ATMOSPHERE.to("Paa").m)
ASSUMED = 293.15
"""Who notes no temperature takes it to be this, 20 °C."""
OFF, IDLE, FAST, RUNNING = "stands", "idles", "at fast idle", "at running pressure"


@dataclass(frozen=True)
class Job(Temperatures, Fitted):
    """Something fitted that is to be commissioned, and all that the procedures need to know besides.

    The usual one is invented.
    """

    installation: Installation = field(default_factory=without_valve)
    """Its line without the valve."""
    valve: Fitting = field(default_factory=lambda: fittings()["reduced_valve"])
    shop_temperature: ShopTemperature = field(default_factory=lambda: Q(5, "degC"))
    precharge: GaugeAboveZero = field(default_factory=lambda: Q(10, "psig"))
    """Wanted, with the gas at ``gas_temperature``."""
    found: GaugeAboveZero = field(default_factory=lambda: Q(4, "psig"))
    """What is left of an old charge, likewise."""
    fast_idle: Speed = field(default_factory=lambda: Q(1000, "rpm"))
    running: Speed = field(default_factory=lambda: Q(3000, "rpm"))
    """Speed at which the engine makes its running pressure."""
    pan_low: Oil = field(default_factory=lambda: Q(2, "qt"))
    """How much the pan lacks of its full mark before the first fill."""
    bleed: Bore = field(default_factory=lambda: Q(3, "mm"))
    """Bore through which oil comes out where a bleed is opened or a fitting loosened (estimate, no source)."""
    full_scale: GaugeAboveZero = field(default_factory=lambda: Q(30, "psig"))
    """Of the low-range gauge."""
    leaks_a_day: Fraction = 0.1
    """Share of its gauge pressure that a charge loses in a day through a valve core that does not seal (estimate)."""
    dead_volume: DeadVolume = GAUGE_AND_HOSE

    @cached_property
    def numbers(self) -> Numbers:
        """Everything in SI that all procedures need, worked out once. Raises `InputError`."""
        kinds = {name: kind_of(hint) for name, hint in get_type_hints(Job, include_extras=True).items()}
        n = Numbers(**{k: one_to_si(k, getattr(self, k), kind) for k, kind in kinds.items() if kind})
        self._run_engine(n)
        self._find_room(n)
        self._charge(n)
        return n

    def _run_engine(self, n: Numbers) -> None:
        """At each speed: gallery pressure, oil in flight and what the pump gives."""
        built, e = self.installation, self.installation.engine.si
        turning = {IDLE: e.idle, FAST: n.fast_idle, RUNNING: n.running}
        for slower, faster, name, what in (
            (IDLE, FAST, "fast_idle", "the engine's idle speed"),
            (FAST, RUNNING, "running", "the fast idle"),
        ):
            high, low = turning[faster], turning[slower]
            refuse(high <= low, name, high, low, SPEED, f"more than {what} of {{}}")
        points = operating_point(built.engine, built.oil, Q(list(turning.values()), "rev/s"), self.sump_temperature)
        pressures, takes = built.at_tee(points).m_as("Pag"), points.demand.total.m_as("m**3/s")
        n.gallery = dict(zip(turning, points.gallery_pressure.m_as("Pag").tolist(), strict=True))
        n.pressure = {OFF: 0.0} | {name: float(p) for name, p in zip(turning, pressures, strict=True)}
        n.flight = {OFF: 0.0} | {
            name: float(oil_in_flight.si(q, e.drain_time)) for name, q in zip(turning, takes, strict=True)
        }
        n.pump = dict(zip(turning, points.pump_flow.m_as("m**3/s").tolist(), strict=True))
        n.warning, n.damage, n.rho = e.warning, e.damage, float(density_of(built.oil.si, n.sump_temperature))
        if n.gallery[FAST] <= n.warning:
            got, least = SPEED.exact_text(n.fast_idle), GAUGE.text(n.warning)
            raise InputError("fast_idle", got, f"a speed at which the hot gallery holds more than its warning, {least}")
        n.kept = (n.warning + n.gallery[FAST]) / 2.0
        n.barely = self._barely_open(n)

    def _barely_open(self, n: Numbers) -> float:
        """Share of its area by which the valve may be opened on an empty line and vessel at fast idle.

        So far that the gallery keeps half of what it has above its warning pressure; the line's own drop is left out.
        """
        spare = pump_surplus(self.installation, n.kept, n.fast_idle, n.sump_temperature)
        wide = float(valve_flow.si(self.valve.si.bore, self.valve.si.loss_coefficient, n.kept, n.rho))
        return min(max(spare, 0.0) / wide, 1.0)

    def _find_room(self, n: Numbers) -> None:
        """How much oil goes where, and the heights that count in the pan."""
        built, e = self.installation, self.installation.engine.si
        n.room, n.shape = built.vessel.si.gas_volume, pan_shape(built.engine)
        n.full_height, n.pickup, n.windage = e.pan.full_height, e.pan.pickup_height, e.pan.windage_height
        n.at_full, n.at_pickup = (float(pan_volume.si(h, *n.shape)) for h in (n.full_height, n.pickup))
        n.line = float(line_volume.si(built.line.hose.si.bore, way_of(built.line)[1]))
        n.filter = e.filter.volume
        n.galleries = e.gallery_volume + (e.cooler.volume if e.cooler else 0.0)
        if n.pan_low >= n.at_full - n.at_pickup:
            most = OIL.exact_text(n.at_full - n.at_pickup)
            raise InputError("pan_low", OIL.exact_text(n.pan_low), f"less than the {most} above the pick-up")

    def _charge(self, n: Numbers) -> None:
        """Amounts of gas, the oil that the vessel then takes at each speed, and what the gauge must show."""
        n.charged = (n.precharge + AIR) * n.room / n.gas_temperature
        n.left_over = (n.found + AIR) * n.room / n.gas_temperature
        n.stored = {
            name: min(float(oil_stored.si(n.room, n.precharge, p, resting=True)), (1.0 - LEAST_GAS) * n.room)
            for name, p in n.pressure.items()
        }
        if n.stored[RUNNING] <= n.stored[FAST]:
            got = GAUGE.exact_text(n.precharge)
            raise InputError("precharge", got, f"less than the running pressure, {GAUGE.text(n.pressure[RUNNING])}")
        shops = n.shop_temperature, n.gas_temperature, ASSUMED
        n.dial = {t: float(precharge_to_set.si(n.precharge, t, n.gas_temperature)) for t in shops}
        if n.dial[n.shop_temperature] <= 0.0:
            got = TEMPERATURE.exact_text(n.shop_temperature)
            raise InputError("shop_temperature", got, "a shop in which the charge to be set is above 0 on the gauge")

    @cached_property
    def _kept(self) -> dict[tuple[str, str], Any]:
        return {}

    def once(self, what: str, which: str, make: Callable[[], T]) -> T:
        """What was made before for this job, or is made now."""
        if (what, which) not in self._kept:
            self._kept[what, which] = make()
        return self._kept[what, which]  # type: ignore[no-any-return]

    def emptied(self, engine: str) -> Stall:
        """How the vessel runs out when ignition goes off behind an open valve, from the pressure that there was."""
        at = GAUGE.quantity(self.numbers.pressure[engine])
        case = self.installation, self.valve, self.precharge, at, self.sump_temperature, self.gas_temperature
        return self.once("emptied", engine, lambda: stall(*case))

    def morning(self, engine: str) -> PreLube | None:
        """The pre-lube after a night in the cold shop, vessel shut at that pressure; None if it holds no oil."""
        return self.once("morning", engine, lambda: self._morning(engine))

    def _morning(self, engine: str) -> PreLube | None:
        if self.numbers.stored[engine] <= 0.0:
            return None
        at, built = GAUGE.quantity(self.numbers.pressure[engine]), self.installation
        warm = self.gas_temperature, self.sump_temperature, self.shop_temperature
        night = overnight(built.vessel, built.oil, self.precharge, at, *warm)
        return pre_lube(built, self.valve, night.precharge, night.pressure, self.shop_temperature)

    @cached_property
    def empty_line_takes(self) -> float:
        """What running pressure pushes into an empty line with its valve open, m3/s."""
        n, way = self.numbers, way_of(self.with_valve.line)
        mu = viscosity_of(self.installation.oil.si, n.sump_temperature)
        return float(way_flow(way, n.pressure[RUNNING], n.rho, mu))

    @cached_property
    def beside_an_empty_line(self) -> float:
        """What the gallery still holds at running speed while that line fills through its wide open valve, Pa."""
        n = self.numbers
        return held_beside(self.installation, self.with_valve.line, n.running, n.sump_temperature, n.sump_temperature)

    @cached_property
    def beside_the_bleed(self) -> float:
        """What the idling engine's gallery still holds while oil comes out of an open bleed, Pa."""
        n, idle = self.numbers, self.installation.engine.si.idle

        def let_out(pressure: float) -> float:
            return float(orifice_flow.si(n.bleed, pressure, n.rho))

        return held_with(self.installation, n.pressure[IDLE], idle, n.sump_temperature, let_out)


@cache
def usual_job() -> Job:
    """The lessons' own job: street V8, bench vessel, 6 ft of 3/4 in hose, a winter's shop."""
    return Job()
