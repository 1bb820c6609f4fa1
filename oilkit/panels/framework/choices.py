"""Choices among what the data files hold."""

from __future__ import annotations

from oilkit.panels.framework.controls import Choice
from oilkit.physics.catalog import engines, lubricants


def oil_choice(start: str = "") -> Choice:
    """A list of the kit's oils, opened at the one with this short name, else at the first."""
    known = lubricants()
    control = Choice("oil", "Oil", [(oil.name, oil) for oil in known.values()], listed=True)
    if start in known:
        control.set_si(known[start])
    return control


def engine_choice(start: str) -> Choice:
    """A list of the kit's engines, opened at the one with this short name."""
    known = engines()
    control = Choice("engine", "Engine", [(engine.name, engine) for engine in known.values()], listed=True)
    if start in known:
        control.set_si(known[start])
    return control
