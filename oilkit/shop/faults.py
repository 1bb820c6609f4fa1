"""The fault bench: what can be wrong with a set-up, seeded cases of it, and how readings name the fault. (Lesson 09)

A fault is a change of the same set-up that everything else is computed from, more or less of it. Nothing here says what
a gauge then shows: that comes out of the simulation.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np

from oilkit.errors import InputError
from oilkit.physics.catalog import engines, fittings
from oilkit.quantities.checked import public
from oilkit.quantities.units import Q
from oilkit.shop.acceptance import FAIL, SPREAD, AcceptanceValue, expected, shifted, with_differences
from oilkit.shop.as_built import READINGS, SHOP_TESTS, oil_taken, true_readings, with_errors
from oilkit.shop.set_up import SetUp, without_valve

HEALTHY = "nothing wrong"


@dataclass(frozen=True)
class Fault:
    """One thing that can be wrong, in degrees from 0 (just so that it matters) to 1 (bad)."""

    name: str
    change: Callable[[SetUp, float], SetUp]
    why: str
    """What it does, in a sentence."""
    degrees: bool = True
    """Whether there is more or less of it."""


def _between(low: float, high: float, degree: float) -> float:
    return low + (high - low) * degree


def _charge(set_up: SetUp, degree: float) -> SetUp:
    now = set_up.condition.precharge.m_as("psig")
    return set_up.with_condition(
        precharge=Q(now * _between(0.8, 0.05, degree), "psig"), charge_loss=_between(0.01, 0.1, degree)
    )


def _too_high(set_up: SetUp, degree: float) -> SetUp:
    return set_up.with_condition(
        precharge=Q(set_up.condition.precharge.m_as("psig") + _between(2.0, 25.0, degree), "psig")
    )


def _past_the_seal(set_up: SetUp, degree: float) -> SetUp:
    now = set_up.condition.precharge.m_as("psig")
    return set_up.with_condition(
        precharge=Q(now * _between(0.85, 0.2, degree), "psig"),
        charge_loss=_between(0.01, 0.1, degree),
        oil_air=_between(0.02, 0.15, degree),
    )


def _hose(set_up: SetUp, degree: float) -> SetUp:
    built = set_up.installation
    narrow = replace(built.line.hose, bore=Q(_between(0.36, 0.18, degree), "in"))
    return replace(set_up, installation=replace(built, line=replace(built.line, hose=narrow)))


def _throttling(set_up: SetUp, degree: float) -> SetUp:
    return replace(set_up, valve=replace(set_up.valve, bore=Q(_between(0.26, 0.1, degree), "in")))


def _filter(set_up: SetUp, degree: float) -> SetUp:
    engine = set_up.installation.engine
    stuck = Q(engine.filter.bypass.m_as("psi") * _between(0.5, 0.02, degree), "psi")
    return set_up.with_engine(filter=replace(engine.filter, bypass=stuck))


def _relief(set_up: SetUp, degree: float) -> SetUp:
    pump = set_up.installation.engine.pump
    share = _between(0.9, 0.4, degree)
    opening, rated = (p.m_as("psig") for p in (pump.relief_opening, pump.relief_rated_pressure))
    stuck = replace(
        pump,
        relief_opening=Q(opening * share, "psig"),
        relief_rated_pressure=Q(opening * share + rated - opening, "psig"),
    )
    return set_up.with_engine(pump=stuck)


def _off(gauge: str, sign: float) -> Callable[[SetUp, float], SetUp]:
    def change(set_up: SetUp, degree: float) -> SetUp:
        return set_up.with_condition(**{f"{gauge}_gauge_off": Q(sign * _between(3.0, 12.0, degree), "psi")})

    return change


def _condition(name: str, low: float, high: float, unit: str) -> Callable[[SetUp, float], SetUp]:
    def change(set_up: SetUp, degree: float) -> SetUp:
        return set_up.with_condition(**{name: Q(_between(low, high, degree), unit)})

    return change


def _wrong_feed(set_up: SetUp, degree: float) -> SetUp:
    return set_up.with_condition(valve_feed="battery")


FAULTS: dict[str, Fault] = {
    "healthy": Fault(HEALTHY, lambda set_up, degree: set_up, "Everything is as it was planned.", False),
    "charge_lost": Fault(
        "charge lost", _charge, "Gas leaks at the charging valve: less charge, and less again tomorrow."
    ),
    "charge_high": Fault(
        "charge too high", _too_high, "The vessel begins to take oil at a higher pressure and holds less."
    ),
    "past_seal": Fault(
        "gas past the seal into the oil",
        _past_the_seal,
        "The piston's seal lets gas through: the charge falls, and the pump draws foam.",
    ),
    "valve_shut": Fault(
        "valve does not open",
        _condition("valve_opens", 0.0, 0.0, "dimensionless"),
        "The vessel takes nothing and gives nothing.",
        False,
    ),
    "throttling": Fault("valve throttles", _throttling, "The valve opens a crack: filling and giving both take long."),
    "slow": Fault(
        "valve slow to open", _condition("valve_delay", 0.7, 5.0, "s"), "It opens seconds after it is told to."
    ),
    "wrong_feed": Fault(
        "valve on the wrong feed",
        _wrong_feed,
        "It hangs on the battery: the vessel runs out when the engine stands.",
        False,
    ),
    "air": Fault(
        "air in the line",
        _condition("air_in_gallery", 0.2, 0.95, "dimensionless"),
        "A spring between valve and bearings.",
    ),
    "sticking": Fault(
        "piston sticks",
        _condition("seal_friction", 3.5, 20.0, "psi"),
        "It takes so much pressure to move it, either way.",
    ),
    "line": Fault("line blocked or too small", _hose, "The line takes what pressure the bearings need."),
    "overfull": Fault(
        "pan overfull", _condition("pan_change", 0.6, 3.0, "qt"), "The crank reaches the oil and whips it."
    ),
    "low": Fault("pan low", _condition("pan_change", -0.6, -3.0, "qt"), "The pick-up draws air in the first corner."),
    "filter": Fault("filter bypass stuck open", _filter, "The oil goes round the filter, clean or not."),
    "check": Fault(
        "check valve leaks",
        _condition("check_leak", 0.8, 4.0, "gpm"),
        "The vessel feeds the pump's way back to the pan.",
    ),
    "relief": Fault("relief valve stuck low", _relief, "The pump cannot hold the pressure at speed."),
    "gas_gauge": Fault("gas gauge reads high", _off("gas", 1.0), "It is off by more than its class."),
    "oil_gauge": Fault("vessel oil gauge reads low", _off("oil", -1.0), "It is off by more than its class."),
    "gallery_gauge": Fault("far gallery gauge reads low", _off("gallery", -1.0), "It is off by more than its class."),
}
"""What can be wrong. How much of each is looked at: chosen, no source."""


@public
def demo_set_up(engine: str = "street_v8") -> SetUp:
    """The set-up of the lesson: a demo engine with the bench vessel behind 6 ft of trade hose (invented).

    >>> demo_set_up().installation.engine.name
    'street V8 (invented)'
    """
    known = engines()
    if engine not in known:
        raise InputError("engine", repr(engine), " or ".join(known))
    return SetUp(without_valve(engine), fittings()["narrow_valve"])


def apply(fault: str, set_up: SetUp, degree: float) -> SetUp:
    """A healthy set-up with a fault in it; its pan holds what was filled in for a healthy vessel.

    fault: of ``FAULTS``; degree: 0 to 1. Raises `InputError`.
    """
    if fault not in FAULTS:
        raise InputError("fault", repr(fault), " or ".join(FAULTS))
    if not 0.0 <= degree <= 1.0:
        raise InputError("degree", f"{degree:g}", "from 0 to 1")
    return FAULTS[fault].change(_filled(set_up), degree)


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
        if test not in SHOP_TESTS:
            raise InputError("test", repr(test), " or ".join(SHOP_TESTS))
        return with_errors(self.true, self.number, SHOP_TESTS[test].readings)


def case(number: int, set_up: SetUp | None = None, fault: str | None = None) -> Case:
    """Case of a number: a fault, how bad it is, and how far this set-up differs from the plan in everything else.

    number: 0 or more. fault: by default drawn, "nothing wrong" among them. Raises `InputError`.
    """
    if not isinstance(number, int) or isinstance(number, bool) or number < 0:
        raise InputError("number", repr(number), "a whole number, 0 or more")
    planned = _filled(set_up if set_up is not None else demo_set_up())
    dice = np.random.default_rng([number, 2026])
    drawn, degree = str(dice.choice(list(FAULTS))), float(dice.uniform())
    fault = drawn if fault is None else fault
    off = {name: float(np.clip(dice.normal(), -2.5, 2.5)) for name in SPREAD}
    real = apply(fault, shifted(planned, off), degree)
    return Case(number, fault, degree, real, true_readings(real))


# --------------------------------------------------------------------------------------------------------- diagnosis

DEGREES = 13
"""Degrees of each fault that are simulated for a diagnosis; between them readings go in straight lines."""
BETWEEN = 24
SURE = 0.95
"""A fault is named when its share of the belief is at least this."""


class Bench:
    """What all faults would look like on one planned set-up: the knowledge that a diagnosis needs. Takes seconds."""

    def __init__(self, set_up: SetUp | None = None) -> None:
        self.planned = _filled(set_up if set_up is not None else demo_set_up())
        _, self.covariance = expected(self.planned)
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
        return np.array(list(true_readings(apply(key, self.planned, degree)).values()))

    def beliefs(self, readings: dict[str, float]) -> dict[str, float]:
        """How likely each fault is after some readings (SI), all equally likely before, every degree likewise."""
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
        return {key: share / whole for key, share in shares.items()}

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
        likely = [key for key in sorted(belief, key=lambda key: -belief[key]) if belief[key] > 1e-3][:8]
        middles = {key: self.curves[key][len(self.curves[key]) // 3] for key in likely}

        def worth(test: str) -> float:
            columns = [self.names.index(name) for name in SHOP_TESTS[test].readings]
            inverse = np.linalg.inv(self.covariance[np.ix_(columns, columns)])
            total = 0.0
            for i, one in enumerate(likely):
                for other in likely[i + 1 :]:
                    apart = (middles[one] - middles[other])[columns]
                    far = float(apart @ inverse @ apart)
                    total += belief[one] * belief[other] * (1.0 - math.exp(-far / 8.0))
            return total / SHOP_TESTS[test].minutes

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
        if named not in FAULTS:
            raise InputError("fault", repr(named), " or ".join(FAULTS))

        def belief(tests: Iterable[str]) -> float:
            readings: dict[str, float] = {}
            for test in tests:
                readings |= case.read(test)
            return self.beliefs(readings)[case.fault]

        proved = list(taken)
        if belief(proved) >= SURE:
            # leave out one after the other, the dearest first, as long as the rest still proves it
            for test in sorted(taken, key=lambda name: -SHOP_TESTS[name].minutes):
                without = [name for name in proved if name != test]
                if belief(without) >= SURE:
                    proved = without
            enough = True
        else:
            enough = False
        return Verdict(
            right=named == case.fault,
            fault=case.fault,
            belief=belief(taken),
            proved=tuple(proved) if enough else (),
            redundant=tuple(name for name in taken if name not in proved) if enough else (),
            minutes=sum(SHOP_TESTS[name].minutes for name in taken),
        )


VERY_SURE = 0.995


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
    right, minutes = 0, 0.0
    pairs: dict[tuple[str, str], int] = {}
    for number in range(first, first + count):
        seen = case(number, bench.planned)
        found = bench.diagnose(seen)
        minutes += found.minutes / count
        right += found.fault == seen.fault
        if found.fault != seen.fault:
            pair = (seen.fault, found.fault)
            pairs[pair] = pairs.get(pair, 0) + 1
    return Confusions(count, right, minutes, dict(sorted(pairs.items(), key=lambda item: (-item[1], item[0]))))


def failed_values(card: list[AcceptanceValue], seen: Case) -> list[str]:
    """Which of a card's values a case fails, read with this case's errors: by their names."""
    readings = with_differences(with_errors(seen.true, seen.number, READINGS))
    return [value.reading for value in card if value.judge_si(readings[value.reading]) == FAIL]
