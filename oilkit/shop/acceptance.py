"""Acceptance values: what the gauges must show on a healthy set-up, and how far off is too far. (Lesson 09)

A reading differs from its expected value for two honest reasons: the gauge errs, and no two engines, oils and days are
alike. Both are known about as well as ``SPREAD`` and ``READINGS`` say. What lies farther off than they explain is a
fault.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, NamedTuple, TypeAlias

import numpy as np

from oilkit.errors import InputError
from oilkit.quantities.checked import GaugeAboveZero, public
from oilkit.quantities.kind import Kind
from oilkit.quantities.kinds import PRESSURE_DIFFERENCE, TIME, one_to_si
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q, Qty
from oilkit.shop.as_built import LAMP, MIDDLE_SPEED, READINGS, SHOP_TESTS, middle_speed, oil_taken, readings_of, shown
from oilkit.shop.set_up import Condition, SetUp

SPREAD: dict[str, Qty | float] = {
    "precharge": Q(0.3, "psi"),
    "charge_loss": 0.001,
    "clearance_change": Q(0.15, "thou"),
    "sump_temperature": Q(3, "delta_degC"),
    "line_temperature": Q(5, "delta_degC"),
    "gas_temperature": Q(4, "delta_degC"),
    "heat_transfer": Q(1.5, "W/m**2/K"),
    "pump_share": 0.02,
    "seal_friction": Q(0.3, "psi"),
    "pan_change": Q(0.1, "qt"),
}
"""How well a healthy set-up is known: a standard deviation of each number of its `Condition` (estimates, no source)."""
Unknown: TypeAlias = Callable[[SetUp, float], SetUp]
"""Something that is not known exactly: a set-up with it so many standard deviations off."""
COMPARED: dict[str, tuple[str, str, str]] = {
    "gas_against_oil": ("gas gauge less vessel oil gauge, hot at 3000 rpm", "middle_gas", "middle_oil"),
    "gas_against_oil_idle": ("gas gauge less vessel oil gauge, hot idle", "idle_gas", "idle_oil"),
    "gallery_against_oil": ("far gallery gauge less vessel oil gauge, hot at 3000 rpm", "middle_gallery", "middle_oil"),
}
"""Gauges held against each other: what the engine does to both at once drops out."""
PASS_WITHIN, FAIL_BEYOND = 2.0, 3.5
"""Standard deviations. With some twenty values one in twenty lies outside two now and then; outside three and a half,
one set-up in a hundred."""
PASS, DOUBTFUL, FAIL = "pass", "doubtful", "fail"
MUST_HOLD = ("middle_gallery", "idle_gallery", "cold_gallery")
"""Gallery pressures of the running engine: below its warning pressure none passes, however wide the band. There only
the gauge makes a reading doubtful, not how little is known of the engine."""


class Bands(NamedTuple):
    """The numbers of a card's line in SI."""

    expected: float
    low: float
    high: float
    fail_low: float
    fail_high: float


BANDS = Bands._fields


@dataclass(frozen=True)
class AcceptanceValue:
    """One line of the card: see `acceptance_card`."""

    reading: str
    """Its name in ``READINGS`` or in ``COMPARED``."""
    label: str
    test: str
    """The shop test that shows it, in words."""
    expected: Any
    """A quantity; a word for a lamp."""
    low: Any = field(repr=False)
    high: Any = field(repr=False)
    """From low to high a reading passes."""
    fail_low: Any = field(repr=False)
    fail_high: Any = field(repr=False)
    """Beyond these it fails; between, it is doubtful: read again, with a better gauge."""
    kind: Kind | None = field(repr=False)
    """None for a lamp."""

    @property
    def passes(self) -> bool:
        """Whether any reading does: not where the engine needs more than a set-up of this sort can give."""
        return self.si.low <= self.si.high

    def judge(self, value: Any) -> str:
        """Whether a reading passes, is doubtful or fails. Raises `InputError` for what is no reading of this sort."""
        if self.kind is None:
            if value not in LAMP:
                raise InputError(self.reading, repr(value), " or ".join(LAMP))
            return self.judge_si(float(value == LAMP[0]))
        return self.judge_si(one_to_si(self.reading, value, self.kind))

    def judge_si(self, value: float) -> str:
        """The same of a reading in SI, as a number."""
        _, low, high, worst, best = self.si
        if low <= value <= high:
            return PASS
        return DOUBTFUL if worst <= value <= best else FAIL

    @cached_property
    def si(self) -> Bands:
        """Expected value and bands as plain numbers."""
        five = (self.expected, self.low, self.high, self.fail_low, self.fail_high)
        if self.kind is None:
            return Bands(*(float(word == LAMP[0]) for word in five))
        return Bands(*(float(quantity.m_as(self.kind.si)) for quantity in five))


@public
def acceptance_card(
    set_up: SetUp, unknown: Sequence[Unknown] | None = None, least: GaugeAboveZero | None = None
) -> list[AcceptanceValue]:
    """The card to hand over with a healthy set-up: each value with the test that shows it and its two bands.

    set_up: as it was planned, healthy. unknown: what is not known exactly, each independent of the others; by default
    the numbers of ``SPREAD``. least: what the gallery is not to go below, gauge; by default the engine's warning.
    Pass within two standard deviations of gauge error and spread together, fail beyond three and a half; but below its
    warning pressure, and below ``least``, no running engine passes, and it fails where three and a half of the gauge's
    errors do not explain it. Where ``least`` is above the first band nothing passes.
    Source: `true_readings`; the bands are the law of propagation of errors, with the slopes taken by differences.

    >>> from oilkit.shop.faults import demo_set_up
    >>> line = next(v for v in acceptance_card(demo_set_up()) if v.reading == "middle_gallery")
    >>> print(f"{line.label}: {line.low:.0f~} to {line.high:.0f~}; reading 40 psig: {line.judge(Q(40, 'psig'))}")
    far gallery gauge, hot at 3000 rpm: 59 psig to 63 psig; reading 40 psig: fail
    """
    names = list(READINGS)
    middle, covariance = expected(set_up, unknown)
    least = max(set_up.installation.engine.si.warning, 0.0 if least is None else least)
    test_of = {name: test.title for test in SHOP_TESTS.values() for name in test.readings}
    usual, own = (text(speed) for speed in (MIDDLE_SPEED, middle_speed(set_up.installation.engine)))

    def told(label: str) -> str:
        return label.replace(usual, own)

    card = []
    for k, name in enumerate(names):
        what = READINGS[name]
        bounds = _bounds(float(middle[k]), float(covariance[k, k]), what.most if what.kind is TIME else None)
        if name in MUST_HOLD:
            bounds[0], bounds[2] = max(bounds[0], least), max(bounds[2], least - FAIL_BEYOND * what.error)
        bands = {band: shown(name, value) for band, value in zip(BANDS, (float(middle[k]), *bounds), strict=True)}
        card.append(AcceptanceValue(name, told(what.label), test_of[name], kind=what.kind, **bands))
    for name, (label, one, other) in COMPARED.items():
        i, j = names.index(one), names.index(other)
        variance = float(covariance[i, i] + covariance[j, j] - 2.0 * covariance[i, j])
        apart = float(middle[i] - middle[j])
        five = map(PRESSURE_DIFFERENCE.quantity, (apart, *_bounds(apart, variance, None)))
        bands = dict(zip(BANDS, five, strict=True))
        card.append(AcceptanceValue(name, told(label), test_of[one], kind=PRESSURE_DIFFERENCE, **bands))
    return card


def _bounds(middle: float, variance: float, most: float | None) -> list[float]:
    wide = math.sqrt(variance)
    bounds = [middle + z * wide for z in (-PASS_WITHIN, PASS_WITHIN, -FAIL_BEYOND, FAIL_BEYOND)]
    return bounds if most is None else [min(max(bound, 0.0), most) for bound in bounds]


def with_differences(readings: dict[str, float]) -> dict[str, float]:
    """Readings (SI, by their names), and those of gauges that the card holds against each other."""
    differences = {
        name: readings[one] - readings[other]
        for name, (_, one, other) in COMPARED.items()
        if one in readings and other in readings
    }
    return readings | differences


def card_readings(readings: dict[str, float]) -> dict[str, Any]:
    """Readings (SI, by their names) as the card judges them: quantities, lamps in words, compared gauges as well."""
    return {
        name: PRESSURE_DIFFERENCE.quantity(value) if name in COMPARED else shown(name, value)
        for name, value in with_differences(readings).items()
    }


def expected(set_up: SetUp, unknown: Sequence[Unknown] | None = None) -> tuple[Any, Any]:
    """Expected readings of a set-up in the order of ``READINGS``, shape (n,), and their covariance, (n, n). SI.

    unknown: as `acceptance_card` takes it.
    """
    filled = set_up.filled_for or oil_taken(set_up)
    unknown = usual_unknowns() if unknown is None else unknown
    others = [off(set_up, times) for off in unknown for times in (1.0, -1.0)]
    middle, *rows = rows_of([replace(one, filled_for=filled) for one in (set_up, *others)])
    covariance = np.diag([what.error**2 for what in READINGS.values()])
    for above, below in zip(rows[::2], rows[1::2], strict=True):
        slope = (above - below) / 2.0
        covariance = covariance + np.outer(slope, slope)
    return middle, covariance


def usual_unknowns(sizes: Mapping[str, Any] = SPREAD) -> list[Unknown]:
    """Each number of a set-up's condition that is not known exactly, with its standard deviation: ``SPREAD``."""

    def off(name: str) -> Unknown:
        return lambda set_up, times: shifted(set_up, {name: times}, sizes)

    return [off(name) for name in sizes]


def rows_of(set_ups: Sequence[SetUp]) -> Any:
    """All true readings of each set-up, in the order of ``READINGS``, SI, shape (m, n)."""
    return np.array([list(readings.values()) for readings in readings_of(set_ups)])


def shifted(set_up: SetUp, deviations: dict[str, float], sizes: Mapping[str, Any] = SPREAD) -> SetUp:
    """A set-up whose condition is off by so many standard deviations of ``SPREAD``, none of it below its range."""
    now, changes = set_up.condition.si, {}
    for name, times in deviations.items():
        kind = Condition.fields()[name]
        size = sizes[name]
        step = size if isinstance(size, float) else float(size.to_base_units().magnitude)
        changes[name] = max(getattr(now, name) + times * step, kind.low)
    return replace(set_up, condition=set_up.condition.changed_si(**changes))
