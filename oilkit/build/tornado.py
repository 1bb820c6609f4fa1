"""The tornado chart: a bar for each input that may be off, the three that matter most in bold. (Lesson 10)"""

from __future__ import annotations

from oilkit.build.drawing import BLUE, ORANGE, RED, Box, Drawing, Line, Words
from oilkit.build.results import HORIZON, BuildSheet, Swing, lasting
from oilkit.quantities.kinds import TIME

WIDTH, NAMES, END_ROOM, LETTERS = 360.0, 124.0, 87.5, 6.8
ROW, TOP = 12.0, 14.0
TOO_NEAR = 76.0
"""Points between the two upright lines, below which what stands over them would run into each other."""


def tornado_chart(sheet: BuildSheet) -> Drawing:
    """The chart of a sheet's hardest event."""
    swings = [swing for swing in sheet.tornado if swing.size > 0.0] or list(sheet.tornado[:1])
    middle = min(float(sheet.hardest.protected_time.m_as("s")), HORIZON)
    goal = float(sheet.hardest.event.lasts.m_as("s"))
    ends = [float(q.m_as("s")) for swing in swings for q in (swing.at_low, swing.at_high)]
    low, high = min([*ends, middle, goal]), max([*ends, middle, goal])
    span = max(high - low, 1e-6)

    def x(seconds: float) -> float:
        return NAMES + END_ROOM + (WIDTH - NAMES - 2 * END_ROOM) * (seconds - low) / span

    bottom = TOP + ROW * len(swings)
    chart = Drawing(WIDTH, bottom + 13.0, tornado_words(sheet.tornado))
    for k, swing in enumerate(swings):
        top = TOP + ROW * k
        chart.words.append(Words(0.0, top + 8.0, f"{k + 1}  {swing.name}", LETTERS, k < 3))
        at_low, at_high = (float(q.m_as("s")) for q in (swing.at_low, swing.at_high))
        for value, other, words, fill in ((at_low, at_high, swing.low, BLUE), (at_high, at_low, swing.high, ORANGE)):
            first, last = sorted((x(value), x(middle)))
            chart.boxes.append(Box(first, top + 1.0, last - first, ROW - 3.0, fill, fill == ORANGE))
            if value < middle or (value == middle and other >= middle and fill == BLUE):
                chart.words.append(Words(first - 2.0, top + 8.0, words, LETTERS, anchor="end", halo=True))
            else:
                chart.words.append(Words(last + 2.0, top + 8.0, words, LETTERS, halo=True))
    chart.lines += [
        Line(x(middle), 12.0, x(middle), bottom),
        Line(x(goal), 12.0, x(goal), bottom, RED, True),
    ]
    times = TIME.quantity(middle), sheet.hardest.event.lasts
    expected, lasts = lasting(*times), lasting(*reversed(times))
    left, right = sorted(((x(middle), f"expected {expected}"), (x(goal), f"event lasts {lasts}")))
    if right[0] - left[0] < TOO_NEAR:
        chart.words.append(Words(left[0] - 1.0, 8.0, left[1], LETTERS, True, "end"))
        chart.words.append(Words(right[0] + 1.0, 8.0, right[1], LETTERS, True))
    else:
        chart.words.append(Words(left[0] + 1.0, 8.0, left[1], LETTERS, True, "middle"))
        chart.words.append(Words(right[0], 8.0, right[1], LETTERS, True, "middle"))
    _key(chart, bottom + 3.0)
    return chart


def _key(chart: Drawing, top: float) -> None:
    for left, fill, words in (
        (0.0, BLUE, "input at its low"),
        (90.0, ORANGE, "input at its high; a longer event counts as so much less time"),
    ):
        chart.boxes.append(Box(left, top, 8.0, 7.0, fill, fill == ORANGE))
        chart.words.append(Words(left + 11.0, top + 6.5, words, LETTERS))


def tornado_words(swings: tuple[Swing, ...]) -> str:
    """The chart in words, for those who cannot see it."""
    rows = [f"{s.name}: {s.low} gives {lasting(s.at_low)}, {s.high} gives {lasting(s.at_high)}" for s in swings]
    return "Tornado chart of the protected time. " + "; ".join(rows) + "."
