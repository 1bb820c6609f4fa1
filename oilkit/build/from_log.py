"""Stretches of a log in which the pick-up starved, as the events of the learner's own car. (Lesson 10)"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from oilkit.build.own_car import YOURS
from oilkit.build.setup_file import Build, read_set_up
from oilkit.errors import InputError
from oilkit.laps.cornering import Starved
from oilkit.laps.logfile import Log
from oilkit.quantities.kinds import ACCELERATION, SPEED, TIME
from oilkit.storage.settings import load_car

MOST = 12
"""Events that are taken from one log: its longest stretches."""


def events_of(log: Log, starved: Sequence[Starved]) -> list[dict[str, Any]]:
    """The longest stretches as events of a set-up, in the order of the lap.

    Each lasts as long as its stretch. Its engine speed is the highest in there, which asks most of the vessel; its
    acceleration along the car is the mean. The pump's flow is taken to fail within 0.2 s (estimate, no source).
    """
    time, longest = log.si["time"], sorted(starved, key=lambda one: -float((one.end - one.start).m_as("s")))[:MOST]
    found = []
    for one in sorted(longest, key=lambda one: float(one.start.m_as("s"))):
        start, end = float(one.start.m_as("s")), float(one.end.m_as("s"))
        within = (time >= start) & (time <= end)
        found.append(
            {
                "name": f"{log.source[:40]}, {start:.1f} s",
                "speed": f"{SPEED.display(float(np.max(log.si['rpm'][within])), 'US'):.0f} rpm",
                "lasts": f"{end - start:.3f} s",
                "pump_decay": "0.2 s",
                "acceleration": f"{np.mean(log.si['longitudinal'][within]) / 9.80665:.2f} g_0",
            }
        )
    if not found:
        raise InputError("log", "no stretch in which the pressure falls short", "a log with one, and its pressure")
    return found


def with_events(build: Build, events: Sequence[dict[str, Any]]) -> Build:
    """A set-up with other events. Raises `InputError`."""
    return build.changed({"driving": build.document["driving"] | {"events": list(events)}})


def own_car_with(events: Sequence[dict[str, Any]]) -> tuple[Path, Build, Build]:
    """The learner's own car: its file, as it is, and with other events. Raises `InputError` where none was chosen."""
    chosen = load_car()
    if not chosen:
        raise InputError(YOURS, "none chosen yet", "one chosen in lesson 10, with *Use in every lesson*")
    before = read_set_up(chosen)
    return Path(chosen), before, with_events(before, events)


def in_words(build: Build) -> str:
    """The events of a set-up in short."""
    return "; ".join(
        f"{e.name}: {TIME.text(e.si.lasts)} at {SPEED.text(e.si.speed)}, {ACCELERATION.text(e.si.acceleration)}"
        for e in build.events
    )
