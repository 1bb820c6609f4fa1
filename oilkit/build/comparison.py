"""Two set-ups side by side: what was typed differently, and what follows from each. (Lesson 10)"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from oilkit.build.calibration import Calibration, calibrate
from oilkit.build.events import Hardest, hardest_events
from oilkit.build.results import BuildSheet, crank, lasting
from oilkit.build.setup_file import Build
from oilkit.physics.line import line_volume
from oilkit.physics.vessel import oil_stored, precharge_to_set
from oilkit.quantities.checked import public
from oilkit.quantities.printed import percent, text
from oilkit.quantities.records import values_in


@dataclass(frozen=True)
class Difference:
    """One line of a comparison of two set-ups."""

    name: str
    first: str
    second: str


@public
def input_differences(first: Build, second: Build) -> list[Difference]:
    """What was typed differently in two set-ups, by table and key.

    >>> from oilkit.build.setup_file import demo_set_ups
    >>> several = demo_set_ups()
    >>> for row in input_differences(several["street V8"], several["very cold shop"])[-1:]:
    ...     print(row.name, row.first, row.second)
    shop.temperature 65 degF -22 degF
    """
    one, other = (dict(values_in("", build.document)) for build in (first, second))
    rows = [Difference(key, str(one.get(key, "–")), str(other.get(key, "–"))) for key in one | other]
    return [row for row in rows if row.first != row.second]


@public
def result_differences(first: BuildSheet, second: BuildSheet) -> list[Difference]:
    """What follows from two set-ups, side by side, in both systems of units."""
    one, other = _main(first), _main(second)
    return [Difference(name, said, other[name]) for name, said in one.items()]


def _main(sheet: BuildSheet) -> dict[str, str]:
    hardest = sheet.hardest
    return {
        "pre-charge, hot": text(sheet.precharge_hot),
        "pre-charge to set in the shop": text(sheet.precharge_to_set),
        "oil to add": text(sheet.oil_to_add),
        "hardest event": hardest.event.name,
        "… it lasts": lasting(hardest.event.lasts, hardest.protected_time),
        "… protected for": lasting(hardest.protected_time, hardest.event.lasts),
        "… lowest pressure in it": text(hardest.lowest_pressure),
        "… share of simulated cases protected": percent(hardest.share),
        "crank after": crank(sheet),
        "matters most": sheet.matter_most[0] if sheet.matter_most else "nothing",
    }


@dataclass(frozen=True)
class Side:
    """One of several set-ups side by side: of its build sheet without the whole, what stands there. SI."""

    precharge_to_set: float
    oil_to_add: float
    hardest: Hardest
    questions: tuple[str, ...]
    """Of the set-up, and whether its readings are to be trusted."""


def side_by_side(builds: Sequence[Build], draws: int) -> list[Side]:
    """Several set-ups at once: in a panel's answer to a move there is no time for their whole sheets."""
    found = [calibrate(build) for build in builds]
    hardest = hardest_events([one.in_use for one in found], draws)
    return [_side(*pair) for pair in zip(found, hardest, strict=True)]


def _side(found: Calibration, hardest: Hardest) -> Side:
    build = found.in_use
    driving, shop, hot = build.driving.si, build.shop.si, build.choice.si.precharge
    there, air = build.shop_ambient.m_as("Paa"), build.track_ambient.m_as("Paa")
    held = oil_stored.si(build.vessel.si.gas_volume, hot, hardest.running_pressure, air, resting=True)
    return Side(
        precharge_to_set=float(precharge_to_set.si(hot, shop.temperature, driving.gas_temperature, there, air)),
        oil_to_add=float(held + line_volume.si(build.hose.si.bore, build.line.si.length)),
        hardest=hardest,
        questions=tuple(filter(None, [found.doubt, *build.questions])),
    )
