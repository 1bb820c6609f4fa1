"""The build sheet on paper: one page as self-contained HTML, as PDF, and the set-up file itself. (Lesson 10)

HTML needs nothing but itself: its few styles and the tornado chart (SVG) are in it, nothing is fetched. The PDF is
drawn by matplotlib, which the kit has anyway. A browser could print the HTML to PDF just as well, but it would have to
be there, to be found, and to be the same everywhere; a library that writes PDF would be one more thing to install. The
page is as wide as A4 and as high as Letter, so it prints on both at full size.

All three are written whole or not at all, and never over a file that is something else.
"""

from __future__ import annotations

import html
import io
import itertools
import math
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

from oilkit.build.setup_file import save, write_set_up
from oilkit.build.sheet import FIRST_MOMENTS, HORIZON, PROTECTED, BuildSheet, Swing, Top, crank, lasting, no_morning
from oilkit.errors import InputError
from oilkit.quantities import kinds
from oilkit.quantities.checked import public
from oilkit.quantities.kinds import Kind
from oilkit.quantities.printed import kind_for, text
from oilkit.quantities.units import Qty
from oilkit.storage.saving import named_file

MARK = "oilkit build sheet"
BLUE, ORANGE, RED, GREY, PALE = "#0072B2", "#E69F00", "#D55E00", "#595959", "#E6E6E6"


@dataclass(frozen=True)
class Block:
    """A part of the sheet: a title, rows of cells under an optional head, sentences, or the tornado chart."""

    title: str
    rows: tuple[tuple[str, ...], ...] = ()
    head: tuple[str, ...] = ()
    lines: tuple[str, ...] = ()
    chart: bool = False
    wide: bool = False
    """Across the whole page."""
    listed: bool = field(default=False)


def sheet_blocks(sheet: BuildSheet) -> list[Block]:
    """All that stands on the sheet, in order: both exports show exactly this."""
    b = sheet.build
    least, most = sheet.hot_if_gauge_errs
    blocks = [
        Block(
            "On the track",
            tuple(
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
            ),
            (
                "event",
                "lasts",
                "starts at",
                "protected: expected; 8 of 10 draws",
                "lowest in it: the same",
                "draws",
                "verdict",
            ),
            wide=True,
        ),
        Block(
            "Set in the shop",
            (
                ("pre-charge to set, oil side relieved", text(sheet.precharge_to_set)),
                ("… with the shop at", f"{text(b.shop.temperature)}, {_altitude(b.shop.altitude)}"),
                ("the gauge may err by", text(sheet.setting_error)),
                ("it then reads hot, oil side empty", text(sheet.precharge_hot)),
                ("… with gas and track at", f"{text(b.driving.gas_temperature)}, {_altitude(b.driving.altitude)}"),
                ("… if the gauge errs", f"{text(least)} to {text(most)}"),
            ),
        ),
        Block(
            "Oil",
            (
                ("oil to add, in stages, as the vessel fills", text(sheet.oil_to_add)),
                ("… vessel, full at " + text(sheet.running_pressure), text(_held(sheet))),
                ("… line", text(sheet.build.line_without_valve.volume)),
                ("all oil in the engine then", text(sheet.budget.total)),
            ),
        ),
        Block(
            "Pan",
            tuple((level.state, text(level.oil), text(level.level), level.words) for level in sheet.pan),
            ("state", "in the pan", "level", ""),
        ),
    ]
    if sheet.top is not None:
        top = sheet.top
        mine = float(top.share[list(top.precharge.m_as("Pag")).index(min(top.precharge.m_as("Pag"), key=_off(sheet)))])
        blocks.append(
            Block(
                f"Choice of the pre-charge, hot, in “{sheet.hardest.event.name}”",
                (
                    ("yours: protected of all draws", f"{text(sheet.precharge_hot)}: {100 * mine:.0f} %"),
                    ("best of those tried", f"{text(top.best)}: {100 * top.best_share:.0f} %"),
                    (
                        "nearly as good (5 % fewer at most)",
                        _span(top.flat_from, top.flat_to) if top.best_share > 0.0 else "none protects any draw",
                    ),
                ),
            )
        )
    blocks.append(
        Block(
            "Where it is robust, and where fragile",
            lines=tuple(robust_words(sheet)),
        )
    )
    blocks.append(Block(f"What moves the protected time in “{sheet.hardest.event.name}”", chart=True))
    if sheet.line:
        blocks.append(
            Block(
                "Line: bore",
                tuple(
                    (
                        kinds.BORE.both(row.hose.si.bore) + (" *" if row.own else ""),
                        text(row.drop),
                        text(row.first_dip),
                        lasting(row.protected_time),
                    )
                    for row in sheet.line
                ),
                (
                    "bore (* yours)",
                    f"drop at {text(sheet.hardest.demand)}",
                    f"lowest in the first {FIRST_MOMENTS:g} s",
                    "protected",
                ),
            )
        )
    blocks.append(Block("Cold start", tuple(_cold_rows(sheet))))
    if sheet.acceptance:
        blocks.append(_acceptance_block(sheet))
    blocks.append(Block("Assumptions", lines=sheet.assumptions, listed=True, wide=True))
    blocks.append(Block("Cautions", lines=sheet.cautions, listed=True, wide=True))
    return blocks


def _acceptance_block(sheet: BuildSheet) -> Block:
    """What the gauges must show at the hand-over, in the shop: passes from … to, fails beyond."""
    rows = []
    for value in sheet.acceptance:
        if isinstance(value.expected, str):
            rows.append((value.label, value.expected, value.expected, "anything else"))
        else:
            kind = value.kind
            assert kind is not None
            rows.append(
                (
                    value.label,
                    kind.both(float(value.expected.m_as(kind.si))),
                    _span(value.low, value.high, kind),
                    _span(value.fail_low, value.fail_high, kind),
                )
            )
    head = ("acceptance, in the shop at 3000 rpm and idle", "expected", "passes from … to", "fails outside")
    return Block("Acceptance values, gauge error and honest spread included", tuple(rows), head, wide=True)


def _off(sheet: BuildSheet) -> Any:
    chosen = float(sheet.precharge_hot.m_as("Pag"))
    return lambda charge: abs(charge - chosen)


def _held(sheet: BuildSheet) -> Qty:
    held: Qty = sheet.oil_to_add - sheet.build.line_without_valve.volume
    return held


def _altitude(altitude: Qty) -> str:
    return f"{altitude.m_as('ft'):.0f} ft ({altitude.m_as('m'):.0f} m)"


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


def _cold_rows(sheet: BuildSheet) -> list[tuple[str, str]]:
    morning, night, b = sheet.morning, sheet.night, sheet.build
    if morning is None or night is None:
        return [("pre-lube", f"none: {no_morning(sheet)}")]
    return [
        ("vessel shut off full reads at " + text(b.morning.temperature), text(night.pressure)),
        ("crank after", crank(sheet)),
        ("gallery then reaches at most", text(morning.peak_pressure)),
        ("left in the vessel for the start", text(morning.oil_left)),
    ]


def robust_words(sheet: BuildSheet) -> list[str]:
    """Where the choice is robust and where it is fragile, in sentences."""
    said = []
    for r in sheet.events:
        how = "robust" if r.share >= 0.95 else "fair" if r.share >= 0.8 else "fragile"
        said.append(f"{r.event.name}: {how}, {100 * r.share:.0f} % of {sheet.draws} draws are protected.")
    turning = [swing.name for swing in sheet.tornado if swing.turns]
    if turning:
        said.append(
            f"Alone enough to leave “{sheet.hardest.event.name}” unprotected, as far off as stated: "
            f"{', '.join(turning)}."
        )
    elif sheet.hardest.verdict == PROTECTED:
        said.append("No single input, as far off as stated, leaves an event unprotected.")
    if sheet.matter_most:
        said.append(f"Matter most: {', '.join(sheet.matter_most)}. Measure these first.")
    if sheet.top is not None and float(sheet.top.best_share) > 0.0:
        low, high = (float(q.m_as("Pag")) for q in (sheet.top.flat_from, sheet.top.flat_to))
        chosen = float(sheet.precharge_hot.m_as("Pag"))
        error = float(sheet.setting_error.m_as("Pa"))
        said.append(_on_the_top(sheet.top, chosen, low + error, high - error))
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


# --------------------------------------------------------------------------------------------------------------- HTML

STYLE = """
@page { margin: 8mm; }
* { box-sizing: border-box; }
body { font: 10pt/1.2 "DejaVu Sans", Arial, Helvetica, sans-serif; color: #000; margin: 3mm auto; width: 300mm; }
h1 { font-size: 1.6em; margin: 0 0 0.2em; }
h2 { font-size: 1.1em; margin: 0 0 0.1em; border-bottom: 0.1em solid #000; }
p { margin: 0 0 0.2em; }
p.verdict { border: 0.15em solid #000; padding: 0.25em 0.5em; font-weight: bold; }
section { break-inside: avoid; margin: 0.5em 0 0; } .columns { columns: 2; column-gap: 2em; }
table { border-collapse: collapse; width: 100%; } th { text-align: left; font-weight: bold; }
th, td { padding: 0 0.5em 0 0; vertical-align: top; border-bottom: 0.05em solid #BBB; white-space: nowrap; }
th, td.long { white-space: normal; }
ul { margin: 0; padding-left: 1.4em; } svg { width: 100%; height: auto; display: block; }
.note { color: #595959; } details { margin-top: 1em; }
@media print { details { display: none; } body { font-size: 6.2pt; line-height: 1.14; margin: 0; width: auto; } }
"""


@public
def sheet_html(sheet: BuildSheet) -> str:
    """The build sheet as one self-contained HTML page; on paper one side of A4 or Letter."""
    blocks = sheet_blocks(sheet)
    out = [
        "<!DOCTYPE html>",
        f"<!-- {MARK} -->",
        '<html lang="en"><head><meta charset="utf-8">',
        f"<title>Build sheet: {_e(sheet.build.name)}</title><style>{STYLE}</style></head><body>",
        f"<h1>Build sheet: {_e(sheet.build.name)}</h1>",
        f'<p class="note">{_e(_subtitle(sheet))}</p>',
        f'<p class="verdict">{_e(sheet.verdict)}</p>',
    ]
    columns = False
    for block in blocks:
        if columns and block.wide:
            out.append("</div>")
            columns = False
        elif not columns and not block.wide:
            out.append('<div class="columns">')
            columns = True
        out.append(f"<section><h2>{_e(block.title)}</h2>{_inner_html(block, sheet)}</section>")
    if columns:
        out.append("</div>")
    out.append(f"<details><summary>The set-up file</summary><pre>{_e(sheet.build.text())}</pre></details>")
    out.append("</body></html>")
    return "\n".join(out) + "\n"


def _e(words: str) -> str:
    return html.escape(words)


def _subtitle(sheet: BuildSheet) -> str:
    b = sheet.build
    parts = (
        b.engine.name,
        b.oil.name,
        f"{b.vessel.name}: gas volume {text(b.vessel.gas_volume)}, rated {text(b.vessel.rated_pressure)}",
        f"{text(b.line.length)} of {b.hose.name}: bore {text(b.hose.bore)}",
        b.valve.name,
    )
    return ". ".join(_upper(part) for part in parts) + "."


def _upper(words: str) -> str:
    return words[:1].upper() + words[1:]


def _inner_html(block: Block, sheet: BuildSheet) -> str:
    if block.chart:
        return tornado_svg(sheet)
    if block.lines:
        if block.listed:
            return "<ul>" + "".join(f"<li>{_e(line)}</li>" for line in block.lines) + "</ul>"
        return "".join(f"<p>{_e(line)}</p>" for line in block.lines)
    head = "".join(f'<th scope="col">{_e(cell)}</th>' for cell in block.head)
    rows = "".join("<tr>" + "".join(_cell(cell) for cell in row) + "</tr>" for row in block.rows)
    return f"<table>{f'<tr>{head}</tr>' if head else ''}{rows}</table>"


def _cell(words: str) -> str:
    """A cell: numbers stay on one line, sentences may break."""
    long = ' class="long"' if len(words) > 20 and not any(c.isdigit() for c in words) else ""
    return f"<td{long}>{_e(words)}</td>"


# ------------------------------------------------------------------------------------------------------ tornado chart

CHART_ROW, CHART_WIDTH, NAMES, END_ROOM = 12.0, 360.0, 124.0, 87.5
CHART_LETTERS = 6.8


def tornado_shapes(sheet: BuildSheet) -> tuple[list[Any], float]:
    """The chart as rectangles, lines and words in points from the upper left, and its height: for both exports.

    Words "over" something have paper round their letters and come last."""
    swings = [swing for swing in sheet.tornado if swing.size > 0.0] or list(sheet.tornado[:1])
    middle = min(float(sheet.hardest.protected_time.m_as("s")), HORIZON)
    goal = float(sheet.hardest.event.lasts.m_as("s"))
    ends = [float(q.m_as("s")) for swing in swings for q in (swing.at_low, swing.at_high)]
    low, high = min([*ends, middle, goal]), max([*ends, middle, goal])
    span = max(high - low, 1e-6)
    left, width = NAMES + END_ROOM, CHART_WIDTH - NAMES - 2 * END_ROOM

    def x(seconds: float) -> float:
        return left + width * (seconds - low) / span

    shapes: list[Any] = []
    over: list[Any] = []
    for k, swing in enumerate(swings):
        top = 14.0 + CHART_ROW * k
        shapes.append(("text", 0.0, top + 8.0, f"{k + 1}  {swing.name}", "start", k < 3))
        for value, words, fill, hatch in (
            (float(swing.at_low.m_as("s")), swing.low, BLUE, False),
            (float(swing.at_high.m_as("s")), swing.high, ORANGE, True),
        ):
            a, b = sorted((x(value), x(middle)))
            shapes.append(("rect", a, top + 1.0, b - a, CHART_ROW - 3.0, fill, hatch))
            other = float((swing.at_high if value == float(swing.at_low.m_as("s")) else swing.at_low).m_as("s"))
            leftward = value < middle or (value == middle and other >= middle and not hatch)
            over.append(
                ("over", a - 2.0 if leftward else b + 2.0, top + 8.0, words, "end" if leftward else "start", False)
            )
    bottom = 14.0 + CHART_ROW * len(swings)
    shapes.append(("line", x(middle), 12.0, x(middle), bottom, "#000000", False))
    shapes.append(("line", x(goal), 12.0, x(goal), bottom, RED, True))
    near = abs(x(middle) - x(goal)) < 76.0
    first, second = sorted(((x(middle), f"expected {middle:.1f} s"), (x(goal), f"event lasts {goal:.1f} s")))
    shapes.append(("text", first[0] + (1.0 if not near else -1.0), 8.0, first[1], "end" if near else "middle", True))
    shapes.append(("text", second[0] + (1.0 if near else 0.0), 8.0, second[1], "start" if near else "middle", True))
    shapes.append(("rect", 0.0, bottom + 3.0, 8.0, 7.0, BLUE, False))
    shapes.append(("text", 11.0, bottom + 9.5, "input at its low", "start", False))
    shapes.append(("rect", 90.0, bottom + 3.0, 8.0, 7.0, ORANGE, True))
    shapes.append(
        ("text", 101.0, bottom + 9.5, "input at its high; a longer event counts as so much less time", "start", False)
    )
    return [*shapes, *over], bottom + 13.0


def tornado_svg(sheet: BuildSheet) -> str:
    """The tornado chart as inline SVG: a bar for each input, the three that matter most in bold."""
    shapes, height = tornado_shapes(sheet)
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {CHART_WIDTH:.0f} {height:.0f}" role="img" '
        f'aria-label="{_e(tornado_words(sheet.tornado))}" '
        f'font-family="DejaVu Sans, Arial, sans-serif" font-size="{CHART_LETTERS}">',
        '<defs><pattern id="high" width="4" height="4" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
        f'<rect width="4" height="4" fill="{ORANGE}"/><line x1="0" y1="0" x2="0" y2="4" stroke="#000"/></pattern>'
        "</defs>",
    ]
    for shape in shapes:
        if shape[0] == "rect":
            _, left, top, wide, high, fill, hatch = shape
            paint = "url(#high)" if hatch else fill
            out.append(
                f'<rect x="{left:.1f}" y="{top:.1f}" width="{wide:.1f}" height="{high:.1f}" fill="{paint}" '
                'stroke="#000" stroke-width="0.3"/>'
            )
        elif shape[0] == "line":
            _, x1, y1, x2, y2, colour, dashed = shape
            dash = ' stroke-dasharray="3 2"' if dashed else ""
            out.append(f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="{colour}"{dash}/>')
        else:
            _, left, top, words, anchor, bold = shape
            look = ' font-weight="bold"' if bold else ""
            if shape[0] == "over":
                look += ' stroke="#fff" stroke-width="2" paint-order="stroke"'
            out.append(f'<text x="{left:.1f}" y="{top:.1f}" text-anchor="{anchor}"{look}>{_e(words)}</text>')
    return "".join([*out, "</svg>"])


def tornado_words(swings: tuple[Swing, ...]) -> str:
    """The chart in words, for those who cannot see it."""
    rows = [f"{s.name}: {s.low} gives {lasting(s.at_low)}, {s.high} gives {lasting(s.at_high)}" for s in swings]
    return "Tornado chart of the protected time. " + "; ".join(rows) + "."


# ---------------------------------------------------------------------------------------------------------------- PDF

PAGE = 8.27, 11.0
MARGIN, GUTTER = 26.0, 12.0
SPACE = 0.35
"""Width of a space, at a size of 1 point: a little more than it is."""
LEADING = 1.2
"""From line to line, in sizes."""
UNSEEN = "No font of the computer that wrote this has all its letters: ? stands for those. The HTML sheet has them."
SIZES = tuple(0.1 * tenths for tenths in range(80, 28, -1))


@lru_cache(maxsize=20_000)
def _word_width(word: str, bold: bool) -> float:
    """Width of a word at a size of 1 point."""
    from matplotlib.font_manager import FontProperties  # here, because it costs time that the lessons need not spend
    from matplotlib.textpath import text_to_path

    from oilkit.quantities.lettering import letters

    lettered = letters(word, weight="bold" if bold else "normal")
    weight = "bold" if bold and not lettered.fonts else "normal"
    font = FontProperties(weight=weight, size=100, family=list(lettered.fonts or ("DejaVu Sans",)))
    return float(text_to_path.get_text_width_height_descent(lettered.text, font, False)[0]) / 100.0


def _width(words: str, bold: bool) -> float:
    parts = words.split()
    return sum(_word_width(part, bold) for part in parts) + SPACE * max(len(parts) - 1, 0)


def _parted(word: str, room: float, bold: bool) -> list[str]:
    """A word in pieces that fit a width: a name of many letters, or a script without spaces."""
    if len(word) * 1.2 < room or _word_width(word, bold) <= room:
        return [word]
    pieces, used = [""], 0.0
    for one in word:
        wide = _word_width(one, bold)
        if pieces[-1] and used + wide > room:
            pieces.append("")
            used = 0.0
        pieces[-1] += one
        used += wide
    return pieces


def _wrapped(words: str, room: float, bold: bool = False) -> list[str]:
    """Words in lines that fit a width, at a size of 1 point; a word that is wider is parted where it must be."""
    lines: list[str] = []
    line: list[str] = []
    used = 0.0
    for word in itertools.chain.from_iterable(_parted(word, room, bold) for word in words.split()):
        wide = _word_width(word, bold)
        if line and used + SPACE + wide > room:
            lines.append(" ".join(line))
            line, used = [], 0.0
        used += wide + (SPACE if line else 0.0)
        line.append(word)
    return [*lines, " ".join(line)]


class _Page:
    """Words, lines and rectangles in points from the upper left, collected before anything is drawn."""

    def __init__(self, sheet: BuildSheet, size: float) -> None:
        self.sheet, self.size = sheet, size
        self.items: list[Any] = []
        self.step = LEADING * size

    def text(self, x: float, y: float, words: str, size: float, bold: bool = False) -> None:
        self.items.append(("text", x, y, words, "start", bold, size))

    def paragraph(self, x: float, y: float, words: str, room: float, size: float = 0.0, bold: bool = False) -> float:
        size = size or self.size
        for line in _wrapped(words, room / size, bold):
            y += LEADING * size
            self.text(x, y, line, size, bold)
        return y

    def table(self, block: Block, x: float, y: float, room: float) -> float:
        rows = [*([block.head] if block.head else []), *block.rows]
        count = max(map(len, rows))
        wants = [
            max(_width(row[k], bool(block.head) and row is rows[0]) * self.size for row in rows if k < len(row)) + 5.0
            for k in range(count)
        ]
        if sum(wants) > room:  # the widest columns give way first, and wrap
            limit = room
            while sum(min(want, limit) for want in wants) > room:
                limit -= 1.0
            wants = [min(want, limit) for want in wants]
        for number, row in enumerate(rows):
            bold = bool(block.head) and number == 0
            left, lowest = x, y
            for want, cell in zip(wants, row, strict=False):
                lowest = max(lowest, self.paragraph(left, y, cell, want - 4.0, bold=bold))
                left += want
            y = lowest + 0.12 * self.size
            self.items.append(("line", x, y + 1.0, x + room, y + 1.0, "#BBBBBB", False))
        return y + 1.0

    def block(self, block: Block, x: float, y: float, room: float) -> float:
        y = self.paragraph(x, y + 0.35 * self.size, block.title, room, 1.12 * self.size, True)
        self.items.append(("line", x, y + 2.2, x + room, y + 2.2, "#000000", False))
        y += 2.4
        if block.chart:
            return self.chart(x, y, room)
        if block.rows:
            return self.table(block, x, y, room)
        for line in block.lines:
            if block.listed:
                self.text(x, y + self.step, "•", self.size)
            y = self.paragraph(x + (7.0 if block.listed else 0.0), y, line, room - 7.0)
        return y

    def chart(self, x: float, y: float, room: float) -> float:
        shapes, height = tornado_shapes(self.sheet)
        scale = room / CHART_WIDTH
        for kind, *rest in shapes:
            if kind in ("text", "over"):
                left, top, words, anchor, bold = rest
                self.items.append((kind, x + scale * left, y + scale * top, words, anchor, bold, CHART_LETTERS * scale))
            elif kind == "line":
                x1, y1, x2, y2, colour, dashed = rest
                self.items.append(
                    ("line", x + scale * x1, y + scale * y1, x + scale * x2, y + scale * y2, colour, dashed)
                )
            else:
                left, top, wide, high, fill, hatch = rest
                self.items.append(("rect", x + scale * left, y + scale * top, scale * wide, scale * high, fill, hatch))
        return y + scale * height


def _laid_out(sheet: BuildSheet, size: float) -> tuple[_Page, float]:
    """The page with letters of a size, and where it ends."""
    page, room = _Page(sheet, size), 72.0 * PAGE[0] - 2 * MARGIN
    y = page.paragraph(MARGIN, MARGIN - 4.0, f"Build sheet: {sheet.build.name}", room, 1.7 * size, True)
    y = page.paragraph(MARGIN, y, _subtitle(sheet), room)
    top = y + 4.0
    y = page.paragraph(MARGIN + 4.0, top, sheet.verdict, room - 8.0, 1.06 * size, True) + 4.0
    page.items.append(("rect", MARGIN, top, room, y - top, "none", False))
    half = (room - GUTTER) / 2
    waiting: list[Block] = []

    def columns(y: float) -> float:
        """Blocks in two columns, in their order, shared out so that both come out most alike."""
        heights = [_Page(sheet, size).block(block, 0.0, 0.0, half) for block in waiting]

        def longer(right: tuple[bool, ...]) -> float:
            part = sum(height for height, there in zip(heights, right, strict=True) if there)
            return max(part, sum(heights) - part)

        right = min(itertools.product((False, True), repeat=len(waiting)), key=longer)
        ends = [y]
        for left, side in ((MARGIN, False), (MARGIN + half + GUTTER, True)):
            at = y
            for block in itertools.compress(waiting, (there == side for there in right)):
                at = page.block(block, left, at, half)
            ends.append(at)
        waiting.clear()
        return max(ends)

    for block in sheet_blocks(sheet):
        if block.wide:
            y = page.block(block, MARGIN, columns(y), room)
        else:
            waiting.append(block)
    return page, columns(y)


@public
def sheet_pdf(sheet: BuildSheet) -> bytes:
    """The build sheet as a PDF of one page, in the largest letters with which it fits."""
    import matplotlib
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.backends.backend_pdf import PdfPages
    from matplotlib.figure import Figure

    from oilkit.quantities.lettering import letter

    bottom = 72.0 * PAGE[1] - MARGIN + 8.0
    for size in SIZES:
        page, end = _laid_out(sheet, size)
        if end <= bottom:
            break
    figure = Figure(figsize=PAGE)
    FigureCanvasAgg(figure)
    ax = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    ax.set_axis_off()
    ax.set_xlim(0.0, 72.0 * PAGE[0])
    ax.set_ylim(72.0 * PAGE[1], 0.0)
    for kind, *rest in page.items:
        _draw(ax, kind, rest)
    if letter(figure):
        _draw(ax, "text", (MARGIN, 72.0 * PAGE[1] - 8.0, UNSEEN, "start", False, 6.0))
    out = io.BytesIO()
    with matplotlib.rc_context({"pdf.fonttype": 42, "hatch.linewidth": 0.4}):
        title = f"Build sheet: {sheet.build.name}".encode("utf-8", "replace").decode("utf-8")
        about: Any = {"Creator": MARK, "Title": title, "CreationDate": None}
        with PdfPages(out, metadata=about) as pages:
            pages.savefig(figure)
    return out.getvalue()


def _draw(ax: Any, kind: str, rest: Any) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Rectangle
    from matplotlib.patheffects import withStroke

    if kind in ("text", "over"):
        x, y, words, anchor, bold, size = rest
        side = {"start": "left", "middle": "center", "end": "right"}[anchor]
        look: dict[str, Any] = {"weight": "bold" if bold else "normal", "family": "DejaVu Sans", "parse_math": False}
        if kind == "over":
            look["path_effects"] = [withStroke(linewidth=0.3 * size, foreground="white")]
        ax.text(x, y, words, fontsize=size, ha=side, va="baseline", **look)
    elif kind == "line":
        x1, y1, x2, y2, colour, dashed = rest
        ax.add_line(Line2D([x1, x2], [y1, y2], color=colour, lw=0.7, ls="--" if dashed else "-"))
    else:
        x, y, wide, high, fill, hatch = rest
        ax.add_patch(Rectangle((x, y), wide, high, fc=fill, ec="#000000", lw=0.5, hatch="////" if hatch else None))


# ------------------------------------------------------------------------------------------------------------ writing


@public
def write_sheet(sheet: BuildSheet, path: Path | str, overwrite: bool = False) -> None:
    """Write the build sheet: as HTML, PDF or set-up file, by the name's ending ``.html``, ``.pdf`` or ``.toml``.

    Whole or not at all; over an older sheet or set-up, and over anything else only if overwrite is true.
    Raises `InputError` for another ending, a file that is something else, and a place that cannot be written.
    """
    path = named_file(path, ".html", ".pdf", ".toml")
    ending = path.suffix.lower()
    if ending == ".toml":
        write_set_up(sheet.build, path, overwrite)
        return
    if not overwrite and path.exists() and not _is_a_sheet(path):
        raise InputError(
            path.name, "a file that is there and is no build sheet", "another name, so that it is not lost"
        )
    save(path, sheet_html(sheet) if ending == ".html" else sheet_pdf(sheet))


def _is_a_sheet(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            content = file.read(2_000_000)
    except OSError:
        return False
    return f"<!-- {MARK} -->".encode() in content[:200] or f"/Creator ({MARK})".encode() in content
