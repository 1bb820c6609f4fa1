"""A car that has changed since its gauges were read: the readings stay those of the car as it was. (Lesson 10)

Readings say what an engine is like by the oil and the clearances that it had then. Another oil, or wear, comes on top
of what they say: fitted to the changed car, they would take it back.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from oilkit.build.records import Seen, Taken
from oilkit.build.setup_file import Build
from oilkit.physics.oil import Lubricant
from oilkit.quantities.printed import text

SAME = 1e-9
"""Meters: clearances that differ by less are the same."""


def as_read(build: Build) -> Build:
    """The set-up as it was when its readings were taken."""
    readings = build.readings
    if readings is None:
        return build
    driving, change = build.driving, readings.clearance_change
    if change is not None:
        driving = driving.changed(clearance_change=change)
    return replace(build, oil=readings.oil or build.oil, driving=driving)


def tried(before: Build, now: Build) -> Build:
    """A set-up with other oil or clearances than before, its readings taken before; unless it says already when.

    Another oil has another name: other numbers alone put right what was typed.
    """
    if now.readings is None or not _taken(before):
        return now
    added: dict[str, Any] = {}
    if now.readings.clearance_change is None and _apart(before, now):
        added["readings.clearance_change"] = before.driving.clearance_change
    if now.readings.oil is None and _another(before.oil, now.oil):
        added["readings.oil"] = before.oil
    return now.changed(added) if added else now


def without_readings(build: Build) -> Build:
    """The set-up with an engine that nobody has read."""
    document = {key: table for key, table in build.document.items() if key != "readings"}
    return replace(build, document=document, readings=None)


def since_read(build: Build) -> str:
    """What has changed on a car since its gauges were read, in words; empty if nothing has."""
    then = as_read(build)
    words = [f"{text(then.driving.clearance_change)} of clearance_change"] if _apart(then, build) else []
    words += [f"“{then.oil.name}”"] if _another(then.oil, build.oil) else []
    if not words:
        return ""
    return f"The gauges were read with {' and '.join(words)}: what has changed since comes on top of what they say."


def _taken(build: Build) -> bool:
    """Whether any reading was taken: a table may name the gauges alone."""
    return build.readings is not None and any(isinstance(one, Seen | Taken) for one in vars(build.readings).values())


def _another(one: Lubricant, other: Lubricant) -> bool:
    return one.name != other.name and one.changed(name=other.name) != other


def _apart(one: Build, other: Build) -> bool:
    return bool(abs(one.driving.si.clearance_change - other.driving.si.clearance_change) > SAME)
