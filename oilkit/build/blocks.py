"""All that stands on the build sheet and on the toolbox card, in order: what HTML and PDF show alike. (Lesson 10)"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable
from dataclasses import dataclass, field

from oilkit.build.calibration import SHARED
from oilkit.build.drawing import Drawing
from oilkit.build.records import Driving, Shop
from oilkit.build.results import PROTECTED, BuildSheet
from oilkit.build.setup_file import Build
from oilkit.build.tornado import tornado_chart
from oilkit.build.wording import one, percent, said, upper
from oilkit.physics.vessel import precharge_to_set
from oilkit.quantities.kinds import PRESSURE_DIFFERENCE, TEMPERATURE
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q, Qty
from oilkit.shop.acceptance import PASS_WITHIN
from oilkit.shop.as_built import LOW_GAUGE_ERROR
from oilkit.shop.set_up import Condition


@dataclass
class Block:
    """A part of the sheet: a title, and rows of cells under an optional head, sentences, or a chart."""

    title: str
    wide: bool
    """Across the whole page."""
    rows: list[tuple[str, ...]] = field(default_factory=list)
    head: tuple[str, ...] = ()
    lines: list[str] = field(default_factory=list)
    listed: bool = False
    """Sentences each with a point in front."""
    chart: Drawing | None = None


@dataclass(frozen=True)
class Document:
    """The whole sheet in words, tables and a chart."""

    title: str
    about: str
    verdict: str
    blocks: list[Block]
    set_up: str
    """The set-up file."""

    @property
    def runs(self) -> list[tuple[bool, list[Block]]]:
        """Blocks that follow each other and are all wide, or all not: those stand in two columns."""
        return [(wide, list(run)) for wide, run in itertools.groupby(self.blocks, lambda block: block.wide)]


CARD_READINGS = ("charge", "next_day", "idle_gallery", "middle_gallery", "middle_oil", "held_oil")
"""Of the acceptance values, those that a driver's own gauges show."""
RECHARGE = Q(2, "psi")
"""So far below what was set a charge is looked after: more than a gauge's scatter, some 10 % of the protected time
(chosen, no source)."""
ALWAYS = 2
"""So many cautions, the last, stand on every build sheet, and on the card in other words."""
CHARGE_STEPS = -30, -15, 0, 15, 30
"""The card has the pre-charge for a shop so many degrees off as well: gas is charged on other days too."""

ELSEWHERE = 150.0
"""Meters between shop and track above which the card has the pre-charge for both: over them a gauge's reading of the
same gas changes by some 0.25 psi, as much as it scatters (chosen, no source)."""


def sheet_document(sheet: BuildSheet) -> Document:
    """What is on paper of a build sheet."""
    b = sheet.build
    parts = (
        b.engine.name,
        b.oil.name,
        f"{b.vessel.name}: gas volume {text(b.vessel.gas_volume)}, rated {text(b.vessel.rated_pressure)}",
        f"{text(b.line.length)} of {b.hose.name}: bore {text(b.hose.bore)}",
        b.valve.name,
    )
    about = ". ".join(map(upper, parts)) + "."
    return Document(f"Build sheet: {b.name}", about, sheet.verdict, sheet_blocks(sheet), b.text())


def sheet_blocks(sheet: BuildSheet) -> list[Block]:
    """The parts of the sheet as ``sheet.txt`` has them, in order."""
    return _blocks(said("sheet", sheet.build, sheet=sheet), tornado_chart(sheet))


def card_document(sheet: BuildSheet) -> Document:
    """What is on the toolbox card of a build sheet, in the learner's units alone."""
    b = sheet.build
    shown = [v for v in sheet.acceptance if v.reading in CARD_READINGS]
    blanks = {"blank": 9 * "_", "date": "date " + 6 * "_", "gap": "\N{NO-BREAK SPACE}"}
    warmths, settings = _charges(b)
    numbers = {"warmths": warmths, "settings": settings, "day_loss": _day_loss(sheet), "RECHARGE": RECHARGE}
    lines = said("card", b, sheet=sheet, shown=shown, **numbers, **blanks)
    return Document(
        f"Toolbox card: {b.name}",
        f"{upper(b.engine.name)}; {b.vessel.name}.",
        _in_short(sheet),
        _blocks(lines),
        b.text(),
    )


def _in_short(sheet: BuildSheet) -> str:
    """What the build sheet says of its set-up, for a card: whatever stands against it, or that nothing does."""
    b = sheet.build
    failing = [r.event.name for r in sheet.events if r.verdict != PROTECTED]
    against = {
        "STOP: this takes the vessel above its rating. Do not build it.": sheet.above_rating,
        "Readings and guesses contradict each other: TRUST NO NUMBER HERE until you have read again.": (
            not sheet.calibration.together
        ),
        f"NOT protected: {', '.join(failing)}.": failing,
        f"Hot idle of {one(sheet.idle_pressure)} is too low for this engine.": sheet.idle_too_low,
        f"Hot idle of {one(sheet.idle_pressure)} never fills this pre-charge.": sheet.idle_empties,
        f"Your gauge ends at {one(b.shop.gauge_full_scale)} and cannot show what is to be set.": (
            sheet.precharge_to_set > b.shop.gauge_full_scale
        ),
    }
    if any(against.values()):
        return " ".join([*(words for words, holds in against.items() if holds), "Read the build sheet first."])
    share = f"“{sheet.hardest.event.name}” in {percent(sheet.hardest.share)} of the build sheet's draws"
    own = len(sheet.cautions) - ALWAYS
    read = f" Cautions on the build sheet: {own}. Read them first." if own else ""
    return f"Every event is protected as expected, {share}.{read} The gauges have the last word."


def _charges(build: Build) -> tuple[list[Qty], list[tuple[Shop | Driving, list[Qty]]]]:
    """Temperatures on a card, in even steps of the learner's unit, and the pre-charge to set at each, in the shop and,
    where that lies ``ELSEWHERE``, at the track."""
    hot, here = build.choice.precharge, build.track_ambient
    places: list[tuple[Shop | Driving, Qty]] = [(build.shop, build.shop_ambient)]
    if abs(build.shop.si.altitude - build.driving.si.altitude) > ELSEWHERE:
        places.append((build.driving, here))
    middle = float(TEMPERATURE.display(build.shop.si.temperature))
    warm = [TEMPERATURE.quantity(TEMPERATURE.from_display(middle + step)) for step in CHARGE_STEPS]
    gas = build.driving.gas_temperature
    return warm, [(place, [precharge_to_set(hot, t, gas, there, here) for t in warm]) for place, there in places]


def _day_loss(sheet: BuildSheet) -> Qty:
    """What a sound charge may seem to have lost in a day, equally warm, at the same altitude: its usual loss, and what
    one gauge scatters between two readings. What the gauge's error has in common in both drops out."""
    charge = sheet.precharge_to_set.m_as("Pag") + sheet.build.shop_ambient.m_as("Paa")
    scatter = LOW_GAUGE_ERROR * math.sqrt(2.0 * (1.0 - SHARED))
    return PRESSURE_DIFFERENCE.quantity(float(Condition.charge_loss * charge) + PASS_WITHIN * scatter)


def _blocks(lines: Iterable[str], chart: Drawing | None = None) -> list[Block]:
    """The parts that a template marks up, in order. Of a row only the first cell may have a bar in it."""
    blocks: list[Block] = []
    for line in filter(None, lines):
        mark, _, words = line.partition(" ")
        if mark in ("#", "##"):
            blocks.append(Block(words, mark == "##"))
            continue
        block = blocks[-1]
        if mark == "||":
            block.head = tuple(words.split(" | "))
        elif mark == "|":
            block.rows.append(tuple(words.rsplit(" | ", max(len(block.head), 2) - 1)))
        elif mark == "!":
            block.chart = chart
        else:
            block.lines.append(words)
            block.listed = mark == "-"
    return blocks
