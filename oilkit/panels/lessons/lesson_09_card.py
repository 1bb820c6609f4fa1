"""What the panels of lesson 09 share: a planned set-up, its acceptance card, and its fault bench."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache

from oilkit.build.own_car import YOURS
from oilkit.build.setup_file import Build
from oilkit.build.sheet import as_handed_over, unknowns_of
from oilkit.errors import InputError
from oilkit.panels.framework.choices import as_in_the_car, car_or_trouble
from oilkit.panels.framework.controls import Choice
from oilkit.physics.catalog import engines
from oilkit.physics.vessel import Vessel
from oilkit.quantities.kinds import COUNT, GAUGE
from oilkit.quantities.units import unit_switch
from oilkit.shop.acceptance import (
    FAIL_BEYOND,
    PASS_WITHIN,
    AcceptanceValue,
    Unknown,
    acceptance_card,
    with_differences,
)
from oilkit.shop.as_built import LAMP, SHOP_TESTS, oil_taken
from oilkit.shop.faults import Bench, Case, bench, case, demo_set_up
from oilkit.shop.set_up import SetUp

CASE = replace(COUNT, noun="a case number", example="17", high=9999.0)


@dataclass(frozen=True)
class Line:
    """One line of a card as the panel shows it."""

    value: AcceptanceValue
    _fixed: dict[str, tuple[str, str]] = field(default_factory=dict, repr=False, compare=False)

    @property
    def lamp(self) -> bool:
        return self.value.kind is None

    def text(self, number: float) -> str:
        """A reading of this line as the learner reads it."""
        return self.value.kind.text(number) if self.value.kind else LAMP[number <= 0.5]

    def both(self, number: float) -> str:
        """The same in both systems of units."""
        return self.value.kind.both(number) if self.value.kind else self.text(number)

    def passes(self) -> str:
        """``55.1 to 60.2 psig``: from where to where a reading passes."""
        kind, (low, high) = self.value.kind, self.ends
        if not self.value.passes:
            return "none: too low"
        return f"{kind.number(low)} to {kind.text(high)}" if kind else str(self.value.expected)

    @property
    def ends(self) -> tuple[float, float]:
        """Where the pass band begins and ends, in SI."""
        return self.value.si.low, self.value.si.high

    def fixed(self) -> tuple[str, str]:
        """What is expected and what passes, as the learner reads them: put into words once in each system of units."""
        system = unit_switch.system
        if system not in self._fixed:
            self._fixed[system] = self.text(self.value.si.expected), self.passes()
        return self._fixed[system]

    @cached_property
    def spread(self) -> float:
        """One standard deviation, from whichever band no instrument's end has cut."""
        expected, low, high, fail_low, fail_high = self.value.si
        sides = (
            (high - expected) / PASS_WITHIN,
            (expected - low) / PASS_WITHIN,
            (fail_high - expected) / FAIL_BEYOND,
            (expected - fail_low) / FAIL_BEYOND,
        )
        return max(sides) or 1.0


def bench_of(engine: str) -> Bench:
    """What every fault looks like on an engine of the list: the learner's own car as well as its file says it is known.

    Seconds, the first time.
    """
    return _own_bench(engine) if engine in _own else bench(engine)


@lru_cache(maxsize=2)
def _own_bench(engine: str) -> Bench:
    return Bench(card_for(engine)[0], unknowns_for(engine))


def unknowns_for(engine: str) -> list[Unknown] | None:
    """What is not known exactly about an engine of the list, as `acceptance_card` takes it."""
    return unknowns_of(_own[engine]) if engine in _own else None


@lru_cache(maxsize=64)
def card_for(
    engine: str, vessel: Vessel | None = None, precharge: float | None = None
) -> tuple[SetUp, dict[str, Line]]:
    """A planned set-up, filled, and the lines of its card by the names of their readings. Half a second, once."""
    planned = as_handed_over(_own[engine]) if engine in _own else demo_set_up(engine)
    if vessel is not None:
        planned = replace(planned, installation=replace(planned.installation, vessel=vessel))
    if precharge is not None:
        planned = planned.with_condition(precharge=GAUGE.quantity(precharge))
    planned = replace(planned, filled_for=oil_taken(planned))
    order = [test.title for test in SHOP_TESTS.values()]
    card = sorted(acceptance_card(planned, unknowns_for(engine)), key=lambda value: order.index(value.test))
    return planned, {value.reading: Line(value) for value in card}


@lru_cache(maxsize=64)
def case_of(number: int, engine: str, fault: str | None = None) -> Case:
    """A case of the fault bench on an engine of the list."""
    return case(number, card_for(engine)[0], fault, unknowns_for(engine))


def judged(card: dict[str, Line], readings: dict[str, float]) -> dict[str, tuple[float, str]]:
    """Readings (SI), those of gauges held against each other among them, with their verdicts, in the card's order."""
    told = with_differences(readings)
    return {name: (told[name], line.value.judge_si(told[name])) for name, line in card.items() if name in told}


_own: dict[str, Build] = {}
"""The learner's own car, as it stood each time it was looked up."""


def engine_choice() -> Choice:
    """One of the demo engines, the street V8 first, or the learner's own car with all that is on it.

    Its value is the engine's key in the data file, or one of ``_own``.
    """
    found = engines()
    order = sorted(found, key=lambda key: key != "street_v8")
    options = [(found[key].name, key) for key in order]
    car, trouble = car_or_trouble()
    if car:
        key = f"{YOURS} {hash(car.text())}"
        _own[key] = car
        options.append((car.engine.name, key))
    choice = Choice("engine", "Engine", options, listed=True)
    choice.leads = lambda controls: as_in_the_car(controls, _own.get(choice.value))
    choice.trouble = trouble
    return choice


def whole(number: float) -> int:
    """A whole number; a browser's slider may be off in the last digit."""
    if abs(number - round(number)) > 1e-6:
        raise InputError("number", f"{number:g}", "a whole number from 0 to 9999")
    return round(number)
