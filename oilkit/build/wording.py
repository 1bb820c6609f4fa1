"""What a build sheet says in words: the lines of its templates, and the few words that they share. (Lesson 10)"""

from __future__ import annotations

import math
from typing import Any

from oilkit.build import results
from oilkit.build.calibration import WORDS
from oilkit.build.records import Driving, Shop
from oilkit.build.results import HORIZON, crank, how_robust, lasting, many_more, no_morning
from oilkit.build.setup_file import Build
from oilkit.build.since import since_read
from oilkit.build.spread import FARTHEST
from oilkit.physics import pan
from oilkit.quantities import kinds
from oilkit.quantities.kind import Kind
from oilkit.quantities.printed import kind_for, text
from oilkit.quantities.printed import percent as percent
from oilkit.quantities.units import Qty
from oilkit.shop.steps import VALVE_LEFT_OPEN
from oilkit.storage.templates import template


def said(name: str, build: Build, **given: Any) -> tuple[str, ...]:
    """The lines of a template: ``advice`` on an event; a sheet's ``verdict``, ``assumptions``, ``cautions``, or all."""
    lines = template("oilkit.build", f"{name}.txt").render(FUNCTIONS | NAMES, kinds=kinds, b=build, **given)
    return tuple(lines.splitlines())


def upper(words: str) -> str:
    """Words with a capital in front."""
    return words[:1].upper() + words[1:]


def altitude(place: Shop | Driving) -> str:
    return kinds.ALTITUDE.both(place.si.altitude)


def one(quantity: Qty) -> str:
    """``12.0 psig``: in the learner's units alone."""
    kind = kind_for(quantity)
    assert kind is not None
    return kind.text(float(quantity.m_as(kind.si)))


def one_span(low: Qty, high: Qty, kind: Kind | None = None, system: str | None = None) -> str:
    """``9.5 to 12.0 psig``: in the learner's units alone, or in a system's."""
    kind = kind or kind_for(low)
    assert kind is not None
    ends = [float(q.m_as(kind.si)) for q in (low, high)]
    numbers = [f"over {HORIZON:.0f}" if math.isinf(end) else kind.number(end, system) for end in ends]
    return f"{' to '.join(dict.fromkeys(numbers))} {kind.label(system)}".strip()


def span(low: Qty, high: Qty, kind: Kind | None = None) -> str:
    """``9.5 to 12.0 psig (0.655 to 0.827 barg)``."""
    us, metric = (one_span(low, high, kind, system) for system in ("US", "SI"))
    return us if us == metric else f"{us} ({metric})"


FUNCTIONS = {
    function.__name__: function
    for function in (
        altitude,
        crank,
        how_robust,
        lasting,
        many_more,
        math.isfinite,
        no_morning,
        one,
        one_span,
        percent,
        since_read,
        span,
        text,
        upper,
    )
}
NAMES = {name: value for module in (results, pan) for name, value in vars(module).items() if name.isupper()} | {
    "FARTHEST": FARTHEST,
    "READING_WORDS": WORDS,
    "VALVE_LEFT_OPEN": VALVE_LEFT_OPEN,
}
"""What the templates call, and what else they name."""
