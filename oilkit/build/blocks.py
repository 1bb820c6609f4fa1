"""All that stands on the build sheet, in order, as blocks: what its HTML and its PDF show alike. (Lesson 10)"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

from oilkit.build.drawing import Drawing
from oilkit.build.results import (
    FIRST_MOMENTS,
    HORIZON,
    PROTECTED,
    BuildSheet,
    Top,
    crank,
    how_robust,
    lasting,
    no_morning,
)
from oilkit.build.tornado import tornado_chart
from oilkit.quantities import kinds
from oilkit.quantities.kind import Kind
from oilkit.quantities.kinds import ALTITUDE
from oilkit.quantities.printed import kind_for, text
from oilkit.quantities.units import Qty

Rows = tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Block:
    """A part of the sheet: a title, and rows of cells under an optional head, sentences, or a chart."""

    title: str
    rows: Rows = ()
    head: tuple[str, ...] = ()
    lines: tuple[str, ...] = ()
    chart: Drawing | None = None
    wide: bool = False
    """Across the whole page."""
    listed: bool = False
    """Sentences each with a point in front."""


@dataclass(frozen=True)
class Document:
    """The whole sheet in words, tables and a chart."""

    title: str
    about: str
    verdict: str
    blocks: tuple[Block, ...]
    set_up: str
    """The set-up file."""

    @property
    def runs(self) -> list[tuple[bool, list[Block]]]:
        """Blocks that follow each other and are all wide, or all not: those stand in two columns."""
        return [(wide, list(run)) for wide, run in itertools.groupby(self.blocks, lambda block: block.wide)]


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
    about = ". ".join(part[:1].upper() + part[1:] for part in parts) + "."
    return Document(f"Build sheet: {b.name}", about, sheet.verdict, tuple(sheet_blocks(sheet)), b.text())


def sheet_blocks(sheet: BuildSheet) -> list[Block]:
    """The parts of the sheet, in order."""
    hardest = sheet.hardest.event.name
    made: tuple[Block | None, ...] = (
        _track(sheet),
        _in_the_shop(sheet),
        _oil(sheet),
        Block(
            "Pan",
            tuple((level.state, text(level.oil), text(level.level), level.words) for level in sheet.pan),
            ("state", "in the pan", "level", ""),
        ),
        _choice(sheet, sheet.top) if sheet.top is not None else None,
        Block("Where it is robust, and where fragile", lines=tuple(robust_words(sheet))),
        Block(f"What moves the protected time in “{hardest}”", chart=tornado_chart(sheet)),
        _bores(sheet) if sheet.line else None,
        Block("Cold start", _cold_start(sheet)),
        _acceptance(sheet) if sheet.acceptance else None,
        Block("Assumptions", lines=sheet.assumptions, listed=True, wide=True),
        Block("Cautions", lines=sheet.cautions, listed=True, wide=True),
    )
    return [block for block in made if block is not None]


def _track(sheet: BuildSheet) -> Block:
    rows = tuple(
        (
            r.event.name,
            text(r.event.lasts),
            text(r.start_pressure),
            f"{lasting(r.protected_time)}; {_span(r.protected_low, r.protected_high)}",
            f"{text(r.lowest_pressure)}; {_span(r.lowest_low, r.lowest_high)}",
            f"{100 * r.share:.0f} %",
            r.verdict,
        )
        for r in sheet.events
    )
    spread = ("protected: expected; 8 of 10 draws", "lowest in it: the same")
    return Block("On the track", rows, ("event", "lasts", "starts at", *spread, "draws", "verdict"), wide=True)


def _in_the_shop(sheet: BuildSheet) -> Block:
    b, (least, most) = sheet.build, sheet.hot_if_gauge_errs
    rows = (
        ("pre-charge to set, oil side relieved", text(sheet.precharge_to_set)),
        ("… with the shop at", f"{text(b.shop.temperature)}, {ALTITUDE.both(b.shop.si.altitude)}"),
        ("the gauge may err by", text(sheet.setting_error)),
        ("it then reads hot, oil side empty", text(sheet.precharge_hot)),
        ("… with gas and track at", f"{text(b.driving.gas_temperature)}, {ALTITUDE.both(b.driving.si.altitude)}"),
        ("… if the gauge errs", f"{text(least)} to {text(most)}"),
    )
    return Block("Set in the shop", rows)


def _oil(sheet: BuildSheet) -> Block:
    line = sheet.build.line_without_valve.volume
    rows = (
        ("oil to add, in stages, as the vessel fills", text(sheet.oil_to_add)),
        (f"… vessel, full at {text(sheet.running_pressure)}", text(sheet.oil_to_add - line)),
        ("… line", text(line)),
        ("all oil in the engine then", text(sheet.budget.total)),
    )
    return Block("Oil", rows)


def _choice(sheet: BuildSheet, top: Top) -> Block:
    chosen = float(sheet.precharge_hot.m_as("Pag"))
    mine = float(top.share[abs(top.precharge.m_as("Pag") - chosen).argmin()])
    near = _span(top.flat_from, top.flat_to) if top.best_share > 0.0 else "none protects any draw"
    rows = (
        ("yours: protected of all draws", f"{text(sheet.precharge_hot)}: {100 * mine:.0f} %"),
        ("best of those tried", f"{text(top.best)}: {100 * top.best_share:.0f} %"),
        ("nearly as good (5 % fewer at most)", near),
    )
    return Block(f"Choice of the pre-charge, hot, in “{sheet.hardest.event.name}”", rows)


def _bores(sheet: BuildSheet) -> Block:
    rows = tuple(
        (
            kinds.BORE.both(row.hose.si.bore) + (" *" if row.own else ""),
            text(row.drop),
            text(row.first_dip),
            lasting(row.protected_time),
        )
        for row in sheet.line
    )
    drop, dip = f"drop at {text(sheet.hardest.demand)}", f"lowest in the first {FIRST_MOMENTS:g} s"
    return Block("Line: bore", rows, ("bore (* yours)", drop, dip, "protected"))


def _cold_start(sheet: BuildSheet) -> Rows:
    morning, night = sheet.morning, sheet.night
    if morning is None or night is None:
        return (("pre-lube", f"none: {no_morning(sheet)}"),)
    return (
        ("vessel shut off full reads at " + text(sheet.build.morning.temperature), text(night.pressure)),
        ("crank after", crank(sheet)),
        ("gallery then reaches at most", text(morning.peak_pressure)),
        ("left in the vessel for the start", text(morning.oil_left)),
    )


def _acceptance(sheet: BuildSheet) -> Block:
    """What the gauges must show at the hand-over, in the shop: passes from … to, fails beyond."""
    rows = []
    for value in sheet.acceptance:
        if isinstance(value.expected, str):
            rows.append((value.label, value.expected, value.expected, "anything else"))
        else:
            kind = value.kind
            assert kind is not None
            expected = kind.both(float(value.expected.m_as(kind.si)))
            passes, fails = _span(value.low, value.high, kind), _span(value.fail_low, value.fail_high, kind)
            rows.append((value.label, expected, passes, fails))
    head = ("acceptance, in the shop at 3000 rpm and idle", "expected", "passes from … to", "fails outside")
    return Block("Acceptance values, gauge error and honest spread included", tuple(rows), head, wide=True)


def _span(low: Qty, high: Qty, kind: Kind | None = None) -> str:
    """``9.5 to 12.0 psig (0.655 to 0.827 barg)``."""
    kind = kind or kind_for(low)
    assert kind is not None
    ends = [float(q.m_as(kind.si)) for q in (low, high)]

    def one(system: str) -> str:
        numbers = [f"over {HORIZON:.0f}" if math.isinf(end) else kind.number(end, system) for end in ends]
        return f"{' to '.join(dict.fromkeys(numbers))} {kind.label(system)}".strip()

    us, metric = one("US"), one("SI")
    return us if us == metric else f"{us} ({metric})"


def robust_words(sheet: BuildSheet) -> list[str]:
    """Where the choice is robust and where it is fragile, in sentences."""
    hardest = sheet.hardest
    said = [
        f"{r.event.name}: {how_robust(r.share)}, {100 * r.share:.0f} % of {sheet.draws} draws are protected."
        for r in sheet.events
    ]
    turning = ", ".join(swing.name for swing in sheet.tornado if swing.turns)
    if turning:
        said.append(f"Alone enough to leave “{hardest.event.name}” unprotected, as far off as stated: {turning}.")
    elif hardest.verdict == PROTECTED:
        said.append("No single input, as far off as stated, leaves an event unprotected.")
    if sheet.matter_most:
        said.append(f"Matter most: {', '.join(sheet.matter_most)}. Measure these first.")
    if sheet.top is not None and float(sheet.top.best_share) > 0.0:
        low, high = (float(q.m_as("Pag")) for q in (sheet.top.flat_from, sheet.top.flat_to))
        error = float(sheet.setting_error.m_as("Pa"))
        said.append(_on_the_top(sheet.top, float(sheet.precharge_hot.m_as("Pag")), low + error, high - error))
    return said


def _on_the_top(top: Top, chosen: float, low: float, high: float) -> str:
    """Where the pre-charge stands on the flat top (less the gauge's error at both ends), and which way is better."""
    if low <= chosen <= high:
        return "The pre-charge stands on the flat top with room for the gauge's error."
    flat = _span(top.flat_from, top.flat_to)
    if high < low:
        return f"The flat top, {flat}, is narrower than the gauge's error: set the pre-charge with a better gauge."
    side, way = ("low", "more") if chosen < low else ("high", "less")
    return (
        f"The pre-charge stands on the {side} side of the flat top, {flat}, or at its edge: a small error counts, and "
        f"{way} of it protects more draws of this event. Try it here before you set it; at hot idle the vessel must "
        "still fill."
    )
