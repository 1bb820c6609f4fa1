"""Two set-ups side by side: what was typed differently, and what follows from each. (Lesson 10)"""

from __future__ import annotations

from dataclasses import dataclass

from oilkit.build.results import BuildSheet, crank, lasting
from oilkit.build.setup_file import Build
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
