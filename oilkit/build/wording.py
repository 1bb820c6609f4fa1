"""What a build sheet says in sentences: the verdict, what it rests on, and the cautions. (Lesson 10)"""

from __future__ import annotations

import math

from oilkit.build.results import NO_CAPACITY, PROTECTED, BuildSheet, EventResult, how_robust
from oilkit.build.spread import FARTHEST
from oilkit.physics.pan import VALVE_OPEN
from oilkit.quantities.kinds import ALTITUDE, GAUGE
from oilkit.quantities.printed import text
from oilkit.shop.steps import VALVE_LEFT_OPEN
from oilkit.storage.templates import template


def stop(sheet: BuildSheet) -> str:
    """Said first of all where the vessel would be taken above its rating."""
    rated = sheet.build.vessel.rated_pressure
    where, highest = sheet.highest
    if float(highest.m_as("Pag")) <= float(rated.m_as("Pag")):
        return ""
    return f"STOP: {text(highest)}, {where}, is above the vessel's rating of {text(rated)}. Do not build this."


def verdict(sheet: BuildSheet) -> str:
    """Whether this vessel helps, and if not, why and what would; a stop before anything else."""
    return f"{stop(sheet)} {_outcome(sheet)}".lstrip()


def _outcome(sheet: BuildSheet) -> str:
    failing = [r for r in sheet.events if r.verdict != PROTECTED]
    if sheet.no_vessel_helps:
        return "No vessel helps here. " + " ".join(f"{_upper(r.event.name)}: {r.words}" for r in failing)
    if failing:
        return _unprotected(sheet, failing)
    every = "the event" if len(sheet.events) == 1 else "every event"
    name, share = sheet.hardest.event.name, sheet.hardest.share
    return (
        f"As expected, the vessel protects {every}. With everything that may be off the hardest, “{name}”, is "
        f"protected in {100 * share:.0f} % of {sheet.draws} draws: {how_robust(share)}."
    )


def _unprotected(sheet: BuildSheet, failing: list[EventResult]) -> str:
    rest = len(sheet.events) - len(failing)
    held = f" The other {rest} {'is' if rest == 1 else 'are'} protected." if rest else ""
    said = " ".join(f"{_upper(r.event.name)}, {r.verdict}: {r.words}" for r in failing)
    short = any(r.verdict == NO_CAPACITY for r in failing)
    buy = " Measure the engine's demand before you buy." if short else ""
    return f"This set-up does not protect {len(failing)} of {len(sheet.events)} events. {said}{buy}{held}"


def _upper(name: str) -> str:
    return name[:1].upper() + name[1:]


def assumptions(sheet: BuildSheet) -> tuple[str, ...]:
    """What the numbers rest on: the lines of a template."""
    b = sheet.build
    shop, track = (ALTITUDE.both(place.altitude) for place in (b.shop.si, b.driving.si))
    lines = template("oilkit.build", "assumptions.txt")
    said = lines.render(sheet=sheet, b=b, text=text, shop_altitude=shop, track_altitude=track, farthest=FARTHEST)
    return tuple(said.splitlines())


def cautions(sheet: BuildSheet) -> tuple[str, ...]:
    """A stop first, then what is unusual in what was typed or came out, then what always holds."""
    return (*_of_the_vessel(sheet), *_of_the_gauges(sheet), *_of_the_oil(sheet), *ALWAYS)


def _of_the_vessel(sheet: BuildSheet) -> list[str]:
    b = sheet.build
    first = stop(sheet)
    said = [*([first] if first else []), *b.questions]
    if not first and b.engine.si.pump.relief_rated_pressure > b.vessel.si.rated_pressure:
        said.append(
            f"The relief valve passes its full flow only at {text(b.engine.pump.relief_rated_pressure)}, above the "
            f"vessel's rating of {text(b.vessel.rated_pressure)}: with cold oil keep the vessel shut off."
        )
    return said


def _of_the_gauges(sheet: BuildSheet) -> list[str]:
    b, said = sheet.build, []
    to_set, error = float(sheet.precharge_to_set.m_as("Pag")), float(sheet.setting_error.m_as("Pa"))
    if to_set < 0.0:
        said.append("No setting in the shop reaches so little hot: choose a higher pre-charge or a cooler vessel.")
    elif to_set > b.shop.si.gauge_full_scale:
        said.append(f"The shop's gauge ends at {text(b.shop.gauge_full_scale)}: it cannot show what is to be set.")
    elif error > 0.1 * to_set:
        said.append(f"The shop's gauge may err by {text(sheet.setting_error)}: take one with a smaller full scale.")
    least = max(b.limits.si.lowest_pressure, b.engine.si.warning)
    if float(sheet.idle_pressure.m_as("Pag")) < least:
        said.append(
            f"Hot idle gives {text(sheet.idle_pressure)}, below the {text(GAUGE.quantity(least))} that this engine "
            "needs. No vessel cures that: find out why (clearances, pump, oil, heat) before you race."
        )
    if b.choice.si.precharge >= float(sheet.idle_pressure.m_as("Pag")):
        said.append(
            f"Hot idle gives {text(sheet.idle_pressure)}, less than the pre-charge: at idle the vessel empties and "
            "cannot fill."
        )
    return said


def _of_the_oil(sheet: BuildSheet) -> list[str]:
    foul = [level for level in sheet.pan if level.words.startswith(("below", "above the windage", "there is not"))]
    said = [f"Pan, {level.state}: {level.words}." for level in foul]
    if any(level.state == VALVE_OPEN and "above" in level.words for level in sheet.pan):
        said.append(VALVE_LEFT_OPEN)
    if sheet.morning is not None and math.isinf(sheet.morning.crank_after.m):
        said.append("Pre-lube: the galleries do not fill within the time watched. Warm engine and oil first.")
    if sheet.no_acceptance:
        said.append(_upper(sheet.no_acceptance))
    return said


ALWAYS = (
    "Compressed gas and hot oil hurt. Dry nitrogen through a regulator, never oxygen; relieve gas and oil side before "
    "you open anything; stay below the vessel's rating, cold and hot; keep hoses from exhaust and belts.",
    "The vessel's maker, local codes and licensed practice come first. Every number here comes from a model and from "
    "what was typed into it: accept the build by the gauges, not by this page.",
)
