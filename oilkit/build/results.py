"""What stands in a build sheet: its parts, and the few words that all who show them share. (Lesson 10)"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from oilkit.build.calibration import Calibration
from oilkit.build.records import Event
from oilkit.build.setup_file import Build
from oilkit.laps.choice import share_interval
from oilkit.physics.line import Hose
from oilkit.physics.night import Overnight
from oilkit.physics.oil import COLDEST
from oilkit.physics.pan import OilBudget
from oilkit.physics.prelube import LEAST_TO_CRANK, PreLube, at_least
from oilkit.quantities.kinds import GAUGE, TIME
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q, Qty
from oilkit.shop.acceptance import AcceptanceValue
from oilkit.shop.as_built import middle_speed

HORIZON = 60.0
"""Seconds that each event is watched at the least, and none lasts longer: what is protected longer is said to be."""
FIRST_MOMENTS = 0.3
"""Seconds in which the line's oil gets going: the first dip."""
LOOSER = Q(1, "thou")
ROBUST, FAIR = 0.95, 0.8
"""Share of all draws from which a choice counts as robust, and as fair (chosen, no source)."""

FEW = 20
"""Draws that tell a share of 95 % from all of them."""

PROTECTED, PUMP_TOO_WEAK, LINE_TOO_NARROW = "protected", "pressure too low", "demand too high"
NO_CAPACITY, WRONG_CHARGE, NOT_PROTECTED = "no capacity", "another pre-charge", "not protected"
NO_VESSEL = (PUMP_TOO_WEAK, LINE_TOO_NARROW)
"""Verdicts that no vessel of any size changes."""


@dataclass(frozen=True)
class EventResult:
    """What becomes of one event: as expected, and with everything that may be off."""

    event: Event
    start_pressure: Qty
    """In the gallery when the pump lets go."""
    settled: Qty
    """In the vessel then: as in the gallery, or before filter and cooler where its tee stands there."""
    stored: Qty
    """Oil in the vessel then."""
    demand: Qty
    """What the engine takes at that pressure."""
    limit: Qty
    """The pressure that counts: as typed, or what the rods need at this speed where that is more."""
    protected_time: Qty
    """As expected; infinite if longer than the kit watches."""
    protected_low: Qty
    """One draw in ten is protected for less than this, one in ten for more than ``protected_high``."""
    protected_high: Qty
    lowest_pressure: Qty
    """In the event, as expected; so the two below."""
    lowest_low: Qty
    lowest_high: Qty
    share: float
    """Of all draws, how many are protected from beginning to end."""
    turning: tuple[str, ...]
    """Inputs that leave it unprotected, each alone and as far off as stated, though it is protected as expected: first
    those that move its protected time most."""
    verdict: str
    """``protected``, ``pressure too low``, ``demand too high``, ``no capacity`` or ``another pre-charge``; without the
    whole sheet ``not protected`` for the last two."""
    words: str


@dataclass(frozen=True)
class Swing:
    """One bar of the tornado chart: an input at its low and its high, and what that does to the protected time."""

    name: str
    low: str
    """The input at its low, in words with its unit; so ``high``."""
    high: str
    at_low: Qty
    """Protected time then, 60 s at the most."""
    at_high: Qty
    turns: bool
    """Whether one of the two leaves the event unprotected, though it is protected as expected."""

    @property
    def size(self) -> float:
        """Seconds between both ends."""
        return abs(float(self.at_high.m_as("s")) - float(self.at_low.m_as("s")))


@dataclass(frozen=True)
class Top:
    """How the choice of the pre-charge matters in the hardest event, with everything uncertain."""

    precharge: Qty
    """Shape (m,), at working temperature."""
    share: Any
    """Of all draws, protected: shape (m,)."""
    best: Qty
    best_share: float
    flat_from: Qty
    """The pre-charges between protect at most 5 % fewer draws than the best."""
    flat_to: Qty
    longest: Qty
    """With this one the vessel lasts longest, as expected."""
    longest_looser: Qty
    """The same with mains and rods looser by ``LOOSER``."""

    def share_at(self, precharge: Qty) -> float:
        """Share of the draws that the nearest of those tried protects."""
        return float(self.share[abs(self.precharge.m_as("Pag") - precharge.m_as("Pag")).argmin()])


@dataclass(frozen=True)
class HoseRow:
    """One hose, tried in place of the set-up's own."""

    hose: Hose
    own: bool
    drop: Qty
    """From vessel to gallery, fittings and valve with it, at the engine's demand in the hardest event."""
    first_dip: Qty
    """Lowest gallery pressure in the first 0.3 s."""
    protected_time: Qty


@dataclass(frozen=True)
class PanLevel:
    state: str
    oil: Qty
    """In the pan; below 0: so much is missing."""
    level: Qty
    words: str


@dataclass(frozen=True)
class Taught:
    """What one reading has taught: how well the results would be known without it."""

    name: str
    words: str
    """How it was taken."""
    read: Qty
    fitted: Qty
    """What it should have been by the most likely engine."""
    missed: float
    """By how many standard errors it lies off what guesses and all other readings say."""
    idle_without: Qty
    """Standard deviation of the hot idle without it; so the next of the protected time."""
    time_without: Qty


@dataclass(frozen=True)
class Learned:
    """What readings have taught about hot idle and protected time: see `what_readings_taught`."""

    calibration: Calibration = field(repr=False)
    taught: tuple[Taught, ...]
    idle: Qty
    """Hot idle as expected."""
    idle_guessed: Qty
    """Its standard deviation by the guesses alone; then with the readings; so the protected time's."""
    idle_within: Qty
    time_guessed: Qty
    time_within: Qty
    next_reading: str
    """The reading that would tell most of the protected time; of the hot idle, if the time depends on no unknown."""
    next_words: str
    """How to take it."""
    time_then: Qty
    """Standard deviations once it is taken."""
    idle_then: Qty


@dataclass(frozen=True)
class BuildSheet:
    """One page for the shop: see `build_sheet`."""

    build: Build = field(repr=False)
    verdict: str
    """In a sentence or two: whether this vessel helps, and if not, why and what would."""
    no_vessel_helps: bool
    precharge_hot: Qty
    """What the gas gauge reads at working temperature and altitude with the oil side empty."""
    precharge_to_set: Qty
    """In the shop, with the oil side relieved."""
    setting_error: Qty
    """Largest error of the shop's gauge."""
    hot_if_gauge_errs: tuple[Qty, Qty]
    """What the hot pre-charge then is at the least and at the most."""
    events: tuple[EventResult, ...]
    hardest: EventResult
    oil_to_add: Qty
    running_pressure: Qty
    """The highest start pressure of the events: the vessel is full at this one."""
    budget: OilBudget = field(repr=False)
    pan: tuple[PanLevel, ...]
    idle_pressure: Qty
    """Hot, as expected; one draw in ten lies below ``idle_low``, one above ``idle_high``."""
    idle_low: Qty
    idle_high: Qty
    calibration: Calibration = field(repr=False)
    """What the engine's own gauges have said; its ``asked`` is empty if nothing was read."""
    learned: Learned | None = field(repr=False)
    """What each reading has taught, of the whole sheet of a calibrated engine."""
    highest: tuple[str, Qty]
    """Where the highest pressure that the vessel is to stand comes from, and that pressure."""
    soaked: Qty
    """Shut full and parked, once gas and oil are as hot as the sump's oil."""
    shut_fast: tuple[str, Qty]
    """The same of a vessel that was shut at the redline, hot or with cold oil: where that is worst, and what it has."""
    night: Overnight | None = field(repr=False)
    morning: PreLube | None = field(repr=False)
    tornado: tuple[Swing, ...]
    """In the hardest event, largest first."""
    top: Top | None
    line: tuple[HoseRow, ...]
    acceptance: tuple[AcceptanceValue, ...] = field(repr=False)
    no_acceptance: str
    """Why there are none, if so."""
    assumptions: tuple[str, ...] = field(repr=False)
    cautions: tuple[str, ...] = field(repr=False)
    draws: int
    seed: int

    @property
    def above_rating(self) -> bool:
        """Whether the vessel would be taken above what its maker allows."""
        return bool(self._highest > self.build.vessel.si.rated_pressure)

    @property
    def near_rating(self) -> bool:
        """Whether it would be if the pressure were two standard deviations above what is expected."""
        off = 2.0 * self.build.uncertain.si.start_pressure
        return bool(self._highest + off > self.build.vessel.si.rated_pressure)

    @cached_property
    def _highest(self) -> float:
        return float(self.highest[1].m_as("Pag"))

    @property
    def middle_speed(self) -> Qty:
        """Of the shop's tests."""
        return middle_speed(self.build.engine)

    @property
    def below_line(self) -> bool:
        """Whether the cold start's oil is thicker than its viscosity line says: a pre-lube takes longer then."""
        return bool(self.morning is not None and self.build.morning.si.temperature < COLDEST)

    @property
    def idle_needs(self) -> Qty:
        """What this engine's hot idle should hold: the limit, or the warning pressure where that is higher."""
        needs: Qty = GAUGE.quantity(max(self.build.limits.si.lowest_pressure, self.build.engine.si.warning))
        return needs

    @property
    def idle_too_low(self) -> bool:
        return float(self.idle_pressure.m_as("Pag")) < float(self.idle_needs.m_as("Pag"))

    @property
    def idle_empties(self) -> bool:
        """Whether the pre-charge is no less than hot idle: there the vessel empties and cannot fill."""
        return bool(self.build.choice.si.precharge >= self.idle_pressure.m_as("Pag"))

    @property
    def rods_need(self) -> tuple[EventResult, ...]:
        """The events in which the rods need more than the limit that was typed."""
        typed = self.build.limits.si.lowest_pressure
        return tuple(one for one in self.events if float(one.limit.m_as("Pag")) > typed)

    @property
    def matter_most(self) -> tuple[str, ...]:
        """The three inputs that move the protected time most."""
        return matter_most(self.tornado)


def matter_most(tornado: tuple[Swing, ...]) -> tuple[str, ...]:
    """The three inputs of a chart that move the protected time most."""
    return tuple(swing.name for swing in tornado[:3] if swing.size > 0.0)


def how_robust(share: float, draws: int) -> str:
    """What a share of protected draws is called."""
    if draws < FEW:
        return "too few draws to say how robust"
    sure = share >= ROBUST and share_interval(share, draws)[0] >= FAIR
    return "robust" if sure else "fair" if share >= FAIR else "fragile"


def many_more(share: float, draws: int) -> str:
    """What many more draws might find where so many found a share, 19 times in 20."""
    low, high = share_interval(share, draws)
    return f"{100 * low:.0f} to {100 * high:.0f} %"


def lasting(time: Qty, beside: Qty | None = None) -> str:
    """A protected time in words that can be infinite.

    beside: another time, from which it is told apart: an event's length from the protected time, and that from it.
    """
    if not math.isfinite(float(time.m)):
        return f"longer than {HORIZON:.0f} s"
    shown = text(time)
    alike = beside is not None and beside != time and text(beside) == shown
    return TIME.unlike(time.m_as("s"), beside.m_as("s")) if beside is not None and alike else shown


def no_morning(sheet: BuildSheet) -> str:
    """Why there is no pre-lube."""
    empty = float(sheet.running_pressure.m_as("Pag")) <= sheet.build.choice.si.precharge or not sheet.above_rating
    return "the vessel holds no oil" if empty else "not above the vessel's rating"


def crank(sheet: BuildSheet) -> str:
    """When to crank after a pre-lube, in words."""
    if sheet.morning is None:
        return no_morning(sheet)
    after = sheet.morning.crank_after
    if sheet.morning.peak_pressure < LEAST_TO_CRANK:
        return "not at all: warm engine and oil first"
    if not math.isfinite(float(after.m)):
        return f"not within {HORIZON:.0f} s"
    return at_least(float(after.m_as("s"))) if sheet.below_line else text(after)
