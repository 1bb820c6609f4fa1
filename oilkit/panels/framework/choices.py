"""Choices among what the data files hold."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from oilkit.build.own_car import own_car
from oilkit.build.setup_file import Build
from oilkit.errors import InputError
from oilkit.panels.framework.controls import Choice
from oilkit.physics.catalog import engines, fittings, hoses, lubricants, vessels

OWN_UNITS = [("psi", "psig"), ("bar", "barg"), ("kPa", "kPag")]
"""In which a learner's gauge may read."""


def engine_choice(start: str = "street_v8", first: bool = False, label: str = "Engine") -> Choice:
    """The kit's engines. start: the short name of the one it opens with; first: that one stands at the top."""
    return _records("engine", label, engines(), start, first)


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
    """The learner's own car, and a sentence if it cannot be read."""
    try:
        return own_car(), ""
    except InputError as problem:
        return None, str(problem)
