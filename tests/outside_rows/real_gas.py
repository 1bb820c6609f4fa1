"""Real gases by CoolProp. Importing it takes seconds, so only what asks for a value does."""

from __future__ import annotations

from importlib import metadata
from typing import Any

COOLPROP = f"CoolProp {metadata.version('CoolProp')}"


def of_real_gas(*asked: Any) -> Any:
    """CoolProp's ``PropsSI``: wanted property, two known ones with their values (one may be an array), the gas. SI."""
    from CoolProp.CoolProp import PropsSI

    return PropsSI(*asked)
