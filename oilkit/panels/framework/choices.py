"""Choices among what the data files hold."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from oilkit.errors import InputError
from oilkit.panels.framework.controls import Amount, Choice, Control
from oilkit.physics.catalog import engines, fittings, hoses, lubricants, vessels
from oilkit.physics.vessel import precharge_to_set
from oilkit.storage.settings import load_car

if TYPE_CHECKING:
    from oilkit.build.setup_file import Build

OWN_UNITS = [("psi", "psig"), ("bar", "barg"), ("kPa", "kPag")]
"""In which a learner's gauge may read."""


def engine_choice(start: str = "street_v8", first: bool = False, label: str = "Engine") -> Choice:
    """The kit's engines. start: the short name of the one it opens with; first: that one stands at the top.

    When the learner chooses their own, everything else in the panel that their set-up says goes where it says.
    """
    choice = _records("engine", label, engines(), start, first)
    choice.leads = lambda controls: as_in_the_car(controls, car_of(choice.value))
    return choice


def oil_choice(first: bool = False) -> Choice:
    """The kit's oils, opened at the street oil."""
    return _records("oil", "Oil", lubricants(), "street", first)


def hose_choice(start: str, first: bool = False) -> Choice:
    """The kit's hoses."""
    return _records("hose", "Hose", hoses(), start, first)


def fitting_choice(name: str, label: str, start: str) -> Choice:
    """The kit's fittings, or none; the one it opens with at the top."""
    return _records(name, label, fittings(), start, True, ("none", None))


def vessel_choice(*more: tuple[str, Any]) -> Choice:
    """The kit's vessels, opened at the bench vessel; more: further options."""
    return _records("vessel", "Vessel", vessels(), "bench", False, *more)


def _records(
    name: str, label: str, records: Mapping[str, Any], start: str, first: bool, *more: tuple[str, Any]
) -> Choice:
    keys = sorted(records, key=lambda key: first and key != start)
    options = [*((records[key].name, records[key]) for key in keys), *more]
    car, trouble = car_or_trouble()
    if car and hasattr(car, name):
        options.append((getattr(car, name).name, getattr(car, name)))
    choice = Choice(name, label, options, listed=True, start=records.get(start))
    choice.trouble = trouble
    return choice


def car_or_trouble() -> tuple[Build | None, str]:
    """The learner's own car, and a sentence if it, or its readings, cannot be used. Looks at files: for lists alone."""
    if not load_car():
        return None, ""
    # here: most learners have none, and it brings all of a set-up with it
    from oilkit.build.own_car import own_car, remark_on

    try:
        car = own_car()
    except InputError as problem:
        return None, str(problem)
    if car and not any(car is listed for listed in _LISTED):
        _LISTED.append(car)
    return car, remark_on(car) if car else ""


_LISTED: deque[Any] = deque(maxlen=8)
"""The cars that stand in lists, as they were when these were made."""


def car_of(engine: Any) -> Build | None:
    """The learner's own car that this engine came from, if it is one of its lists'."""
    return next((car for car in _LISTED if car.engine is engine), None)


OF_A_CAR: dict[str, Callable[[Build], float]] = {
    "precharge": lambda car: car.choice.si.precharge,
    "precharge_in_shop": lambda car: precharge_to_set.si(
        car.choice.si.precharge,
        car.shop.si.temperature,
        car.driving.si.gas_temperature,
        car.shop_ambient.m_as("Paa"),
        car.track_ambient.m_as("Paa"),
    ),
    "sump": lambda car: car.driving.si.sump_temperature,
    "line_temperature": lambda car: car.driving.si.line_temperature,
    "limit": lambda car: car.limits.si.lowest_pressure,
    "length": lambda car: car.line.si.length,
    "speed": lambda car: car.events[0].si.speed,
    "event": lambda car: car.events[0].si.lasts,
    "decay": lambda car: car.events[0].si.pump_decay,
    "event_spread": lambda car: car.uncertain.si.event_length,
    "clearance_spread": lambda car: car.uncertain.si.clearance,
    "temperature_spread": lambda car: car.uncertain.si.sump_temperature,
    "temperature": lambda car: car.morning.si.temperature,
    "empty": lambda car: car.morning.si.empty_galleries,
    "wanted": lambda car: car.morning.si.wait_for,
    **dict.fromkeys(("clearance", "clearance_change"), lambda car: car.driving.si.clearance_change),
}
"""Amounts that panels have beside an engine, by their names, and what a set-up says of them."""


def as_in_the_car(controls: dict[str, Control], car: Build | None) -> None:
    """Put what stands beside an engine where its set-up says, if it has one."""
    if car is None:
        return
    for name, control in controls.items():
        what = control.of_a_car or name
        if isinstance(control, Amount) and what in OF_A_CAR:
            control.fit_to(float(OF_A_CAR[what](car)))
        elif isinstance(control, Choice) and any(option is getattr(car, name, None) for _, option in control.options):
            control.set_si(getattr(car, name))
