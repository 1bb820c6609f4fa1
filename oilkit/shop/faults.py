"""The fault bench: what can be wrong with a set-up, seeded cases of it, and how readings name the fault. (Lesson 09)

A fault is a change of the same set-up that everything else is computed from, more or less of it. Nothing here says what
a gauge then shows: that comes out of the simulation.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from itertools import combinations
from typing import Any

import numpy as np

from oilkit.errors import InputError, of_these
from oilkit.physics.catalog import engines, fittings
from oilkit.physics.pump import Pump
from oilkit.quantities.checked import public
from oilkit.quantities.records import Record, beside
from oilkit.quantities.units import Q
from oilkit.shop.acceptance import FAIL, AcceptanceValue, Unknown, expected, rows_of, usual_unknowns, with_differences
from oilkit.shop.as_built import READINGS, SHOP_TESTS, oil_taken, true_readings, with_errors
from oilkit.shop.set_up import SetUp, without_valve


@dataclass(frozen=True)
class Fault:
    """One thing that can be wrong, in degrees from 0 (just so that it matters) to 1 (bad)."""

    name: str
    why: str
    """What it does, in a sentence."""
    changes: dict[str, Any] = field(default_factory=dict, repr=False)
    """Ways to numbers of a set-up, each with what stands there then: its values at degree 0 and 1 and their unit."""

    @property
    def degrees(self) -> bool:
        """Whether there is more or less of it."""
        return any(isinstance(told, list) for told in self.changes.values())

    def change(self, set_up: SetUp, degree: float) -> SetUp:
        """A set-up with this fault in it."""
        for way, told in self.changes.items():
            set_up = _with(set_up, way.split("."), told, degree)
        return set_up


def _with(thing: Any, way: list[str], told: Any, degree: float) -> Any:
    """A set-up, or a part of it, with something else where the way leads."""
    name, *rest = way
    now = getattr(thing, name)
    new = _with(now, rest, told, degree) if rest else _value(now, told, degree)
    return thing.changed(**{name: new}) if isinstance(thing, Record) else replace(thing, **{name: new})


def _value(planned: Any, told: Any, degree: float) -> Any:
    if not isinstance(told, list):
        return told
    low, high, unit = told
    number = low + (high - low) * degree
    match unit:
        case "times":
            return planned * number
        case "psi more":
            return Q(planned.m_as("psig") + number, "psig")
        case "times the opening":
            return _relieved_at(planned, number)
    return Q(number, unit)


def _relieved_at(pump: Pump, share: float) -> Pump:
    """A pump whose relief valve opens at a share of its pressure, and is fully open as far above that as before."""
    opening, rated = (p.m_as("psig") for p in (pump.relief_opening, pump.relief_rated_pressure))
    at = opening * share
    return replace(pump, relief_opening=Q(at, "psig"), relief_rated_pressure=Q(at + rated - opening, "psig"))


FAULTS = {key: Fault(**told) for key, told in beside(__file__)[1].items()}
"""What can be wrong."""
HEALTHY = FAULTS["healthy"].name


@public
def demo_set_up(engine: str = "street_v8") -> SetUp:
    """The set-up of the lesson: a demo engine with the bench vessel behind 6 ft of trade hose (invented).

    >>> demo_set_up().installation.engine.name
    'street V8 (invented)'
    """
    of_these("engine", engine, engines())
    return SetUp(without_valve(engine), fittings()["narrow_valve"])


def apply(fault: str, set_up: SetUp, degree: float) -> SetUp:
    """A healthy set-up with a fault in it; its pan holds what was filled in for a healthy vessel.

    fault: of ``FAULTS``; degree: 0 to 1. Raises `InputError`.
    """
    chosen = of_these("fault", fault, FAULTS)
    if not 0.0 <= degree <= 1.0:
        raise InputError("degree", f"{degree:g}", "from 0 to 1")
    return chosen.change(_filled(set_up), degree)


def _filled(set_up: SetUp) -> SetUp:
    return set_up if set_up.filled_for is not None else replace(set_up, filled_for=oil_taken(set_up))


# ------------------------------------------------------------------------------------------------------------- cases


@dataclass(frozen=True)
class Case:
    """A seeded case: the same number is the same case for the whole class."""

    number: int
    fault: str
    """What is wrong: a key of ``FAULTS``."""
    degree: float
    set_up: SetUp
    """As it really is."""
    true: dict[str, float]
    """All its readings without errors, SI."""

    def read(self, test: str) -> dict[str, float]:
        """What a shop test shows, SI, with this case's own errors: again the same whenever it is done."""
        return with_errors(self.true, self.number, of_these("test", test, SHOP_TESTS).readings)


def case(
    number: int, set_up: SetUp | None = None, fault: str | None = None, unknown: Sequence[Unknown] | None = None
) -> Case:
    """Case of a number: a fault, how bad it is, and how far this set-up differs from the plan in everything else.

    number: 0 or more. fault: by default drawn, "nothing wrong" among them. unknown: what may differ, as
    `acceptance_card` takes it. Raises `InputError`.
    """
    if not isinstance(number, int) or isinstance(number, bool) or number < 0:
        raise InputError("number", repr(number), "a whole number, 0 or more")
    planned = _filled(set_up if set_up is not None else demo_set_up())
    dice = np.random.default_rng([number, 2026])
    drawn, degree = str(dice.choice(list(FAULTS))), float(dice.uniform())
    fault = drawn if fault is None else fault
    real = planned
    for off in usual_unknowns() if unknown is None else unknown:
        real = off(real, float(np.clip(dice.normal(), -2.5, 2.5)))
    real = apply(fault, real, degree)
    return Case(number, fault, degree, real, true_readings(real))


# --------------------------------------------------------------------------------------------------------- diagnosis

DEGREES = 13
"""Degrees of each fault that are simulated for a diagnosis; between them readings go in straight lines."""
BETWEEN = 24
SURE = 0.95
"""A fault is named when its share of the belief is at least this."""
VERY_SURE = 0.995
"""From here on the scripted diagnostician needs no further test."""


class Bench:
    """What all faults would look like on one planned set-up: the knowledge that a diagnosis needs. Takes seconds.

    unknown: what is not known exactly about it, as `acceptance_card` takes it.
    """

    def __init__(self, set_up: SetUp | None = None, unknown: Sequence[Unknown] | None = None) -> None:
        self.planned = _filled(set_up if set_up is not None else demo_set_up())
        self.unknown = usual_unknowns() if unknown is None else unknown
        _, self.covariance = expected(self.planned, self.unknown)
        self.names = list(READINGS)
        self.curves: dict[str, Any] = {}
        at = np.linspace(0.0, DEGREES - 1.0, BETWEEN * (DEGREES - 1) + 1)
        for key, fault in FAULTS.items():
            if fault.degrees:
                nodes = np.array([self._row(key, degree) for degree in np.linspace(0.0, 1.0, DEGREES)])
                self.curves[key] = np.array([np.interp(at, np.arange(DEGREES), column) for column in nodes.T]).T
            else:
                self.curves[key] = self._row(key, 0.0)[None]

    def _row(self, key: str, degree: float) -> Any:
        return rows_of([apply(key, self.planned, degree)])[0]

    def beliefs(self, readings: dict[str, float]) -> dict[str, float]:
        """How likely each fault is after some readings (SI), all equally likely before, every degree likewise.

        To nine digits: faults that readings say the same of are equal on every machine, and stay in their order.
        """
        columns = [self.names.index(name) for name in readings]
        if not columns:
            return dict.fromkeys(FAULTS, 1.0 / len(FAULTS))
        seen = np.array(list(readings.values()))
        spread = self.covariance[np.ix_(columns, columns)]
        inverse = np.linalg.inv(np.linalg.cholesky(spread))
        weights = {}
        for key, curve in self.curves.items():
            off = (curve[:, columns] - seen) @ inverse.T
            logs = -0.5 * np.sum(off**2, axis=1)
            best = float(np.max(logs))
            weights[key] = best + math.log(float(np.mean(np.exp(logs - best))))
        top = max(weights.values())
        shares = {key: math.exp(weight - top) for key, weight in weights.items()}
        whole = sum(shares.values())
        return {key: round(share / whole, 9) for key, share in shares.items()}

    def named(self, readings: dict[str, float]) -> str:
        """The likeliest fault."""
        found = self.beliefs(readings)
        return max(found, key=lambda key: found[key])

    def next_test(self, readings: dict[str, float], left: Iterable[str] | None = None) -> str | None:
        """The test that tells the likeliest faults apart best for each minute that it costs; None if none is left.

        Between two faults a test's worth is how far apart their readings lie, in standard deviations, weighed by how
        likely both are. (A rule of thumb, not an optimum.)
        """
        left = [test for test in (SHOP_TESTS if left is None else left) if SHOP_TESTS[test].readings[0] not in readings]
        if not left:
            return None
        belief = self.beliefs(readings)
        likely = [key for key in belief if belief[key] > 1e-3]
        middles = {key: self.curves[key][len(self.curves[key]) // 3] for key in likely}

        def worth(test: str) -> float:
            columns = [self.names.index(name) for name in SHOP_TESTS[test].readings]
            inverse = np.linalg.inv(self.covariance[np.ix_(columns, columns)])
            total = 0.0
            for one, other in combinations(likely, 2):
                apart = (middles[one] - middles[other])[columns]
                far = float(apart @ inverse @ apart)
                total += belief[one] * belief[other] * (1.0 - math.exp(-far / 8.0))
            return round(total / SHOP_TESTS[test].minutes, 9)

        return max(left, key=worth)

    def diagnose(self, case: Case) -> Diagnosis:
        """Test by test, the most telling first, until one fault is sure enough or nothing is left to test."""
        readings: dict[str, float] = {}
        taken: list[str] = []
        while True:
            belief = self.beliefs(readings)
            best = max(belief, key=lambda key: belief[key])
            test = self.next_test(readings)
            if test is None or (taken and belief[best] >= VERY_SURE):
                minutes = sum(SHOP_TESTS[name].minutes for name in taken)
                return Diagnosis(best, belief[best], tuple(taken), minutes, readings)
            taken.append(test)
            readings |= case.read(test)

    def verdict(self, case: Case, taken: Iterable[str], named: str) -> Verdict:
        """What the learner's tests and answer are worth: which readings proved the fault, and which were redundant."""
        taken = list(taken)
        of_these("fault", named, FAULTS)

        def belief(tests: Iterable[str]) -> float:
            readings: dict[str, float] = {}
            for test in tests:
                readings |= case.read(test)
            return self.beliefs(readings)[case.fault]

        proved, redundant = [], []
        if belief(taken) >= SURE:
            # leave out one after the other, the dearest first, as long as the rest still proves it
            proved = list(taken)
            for test in sorted(taken, key=lambda name: -SHOP_TESTS[name].minutes):
                without = [name for name in proved if name != test]
                if belief(without) >= SURE:
                    proved = without
            redundant = [name for name in taken if name not in proved]
        minutes = sum(SHOP_TESTS[name].minutes for name in taken)
        return Verdict(named == case.fault, case.fault, belief(taken), tuple(proved), tuple(redundant), minutes)


@dataclass(frozen=True)
class Diagnosis:
    """What the scripted diagnostician found."""

    fault: str
    belief: float
    taken: tuple[str, ...]
    minutes: float
    readings: dict[str, float]


@dataclass(frozen=True)
class Verdict:
    """How a learner's diagnosis stands: see `Bench.verdict`."""

    right: bool
    fault: str
    belief: float
    """In the true fault, after the learner's readings."""
    proved: tuple[str, ...]
    """Tests that together prove the fault; empty if those taken do not."""
    redundant: tuple[str, ...]
    minutes: float


@cache
def bench(engine: str = "street_v8") -> Bench:
    """The bench of a demo set-up, made once."""
    return Bench(demo_set_up(engine))


@dataclass(frozen=True)
class Confusions:
    """How the scripted diagnostician does: see `confusions`."""

    cases: int
    right: int
    minutes: float
    """Shop time of a case, mean."""
    pairs: dict[tuple[str, str], int]
    """True fault and named one, with how often; the most frequent first."""


@public
def confusions(bench: Bench, count: int, first: int = 0) -> Confusions:
    """Let the scripted diagnostician loose on so many seeded cases, from a first number on.

    It sees nothing but the readings of the tests that it chooses. Source: `Bench.diagnose`.
    """
    minutes, named = 0.0, Counter[tuple[str, str]]()
    for number in range(first, first + count):
        seen = case(number, bench.planned, unknown=bench.unknown)
        found = bench.diagnose(seen)
        minutes += found.minutes / count
        named[seen.fault, found.fault] += 1
    pairs = {pair: often for pair, often in named.items() if pair[0] != pair[1]}
    right = count - sum(pairs.values())
    return Confusions(count, right, minutes, dict(sorted(pairs.items(), key=lambda item: (-item[1], item[0]))))


def failed_values(card: list[AcceptanceValue], seen: Case) -> list[str]:
    """Which of a card's values a case fails, read with this case's errors: by their names."""
    readings = with_differences(with_errors(seen.true, seen.number, READINGS))
    return [value.reading for value in card if value.judge_si(readings[value.reading]) == FAIL]
