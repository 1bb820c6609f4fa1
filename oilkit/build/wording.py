"""What a build sheet says in words: the lines of its templates, and the few words that they share. (Lesson 10)"""

from __future__ import annotations

import math

from oilkit.build.records import Driving, Shop
from oilkit.build.results import (
    FIRST_MOMENTS,
    HORIZON,
    NO_CAPACITY,
    PROTECTED,
    BuildSheet,
    crank,
    how_robust,
    lasting,
    no_morning,
)
from oilkit.build.spread import FARTHEST
from oilkit.physics.pan import VALVE_OPEN
from oilkit.quantities import kinds
from oilkit.quantities.kind import Kind
from oilkit.quantities.printed import kind_for, text
from oilkit.quantities.units import Qty
from oilkit.shop.steps import VALVE_LEFT_OPEN
from oilkit.storage.templates import template


def said(name: str, sheet: BuildSheet) -> tuple[str, ...]:
    """The lines of a template: ``verdict``, ``assumptions``, ``cautions`` or the whole ``sheet``."""
    lines = template("oilkit.build", f"{name}.txt").render(FUNCTIONS | NAMES, sheet=sheet, b=sheet.build)
    return tuple(lines.splitlines())


def upper(words: str) -> str:
    """Words with a capital in front."""
    return words[:1].upper() + words[1:]


def percent(share: float) -> str:
    return f"{100 * share:.0f} %"


def altitude(place: Shop | Driving) -> str:
    return kinds.ALTITUDE.both(place.si.altitude)


def span(low: Qty, high: Qty, kind: Kind | None = None) -> str:
    """``9.5 to 12.0 psig (0.655 to 0.827 barg)``."""
    kind = kind or kind_for(low)
    assert kind is not None
    ends = [float(q.m_as(kind.si)) for q in (low, high)]

    def one(system: str) -> str:
        numbers = [f"over {HORIZON:.0f}" if math.isinf(end) else kind.number(end, system) for end in ends]
        return f"{' to '.join(dict.fromkeys(numbers))} {kind.label(system)}".strip()

    us, metric = one("US"), one("SI")
    return us if us == metric else f"{us} ({metric})"


FUNCTIONS = {
    function.__name__: function
    for function in (altitude, crank, how_robust, lasting, math.isfinite, no_morning, percent, span, text, upper)
}
NAMES = {
    "BORE": kinds.BORE, "GAUGE": kinds.GAUGE, "FARTHEST": FARTHEST, "FIRST_MOMENTS": FIRST_MOMENTS,
    "NO_CAPACITY": NO_CAPACITY, "PROTECTED": PROTECTED, "VALVE_LEFT_OPEN": VALVE_LEFT_OPEN, "VALVE_OPEN": VALVE_OPEN,
}  # fmt: skip
"""What the templates call, and what else they name."""
