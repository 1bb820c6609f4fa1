"""Panel of lesson 09, second part: the acceptance card of a set-up, and readings held against it."""

from __future__ import annotations

import html
from collections.abc import Callable
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from oilkit.panels.framework import drawing
from oilkit.panels.framework.amounts import pressure
from oilkit.panels.framework.base import Panel
from oilkit.panels.framework.bound import Bound, Parts, Reading, Setting, State
from oilkit.panels.framework.choices import vessel_choice
from oilkit.panels.framework.controls import Amount, Choice, Control, button
from oilkit.panels.framework.instrument import guarded
from oilkit.panels.framework.steps import Step, between, is_chosen
from oilkit.panels.lessons.lesson_09_card import CASE, Line, card_for, engine_choice, judged, unknowns_for, whole
from oilkit.panels.lessons.lesson_09_reading_form import ReadingForm
from oilkit.shop.acceptance import (
    DOUBTFUL,
    FAIL,
    PASS,
    PASS_WITHIN,
)
from oilkit.shop.as_built import READINGS, with_errors
from oilkit.shop.faults import HEALTHY, case
from oilkit.shop.set_up import SetUp

TYPED, HEALTHY_DAY, A_CASE = "typed", "healthy", "case"
FIRST, SECOND = "first", "second"
"""Rows of the picture on the full screen: for all of them, with letters for a class, there is no room."""
EDGE = 5.2
"""Standard deviations at which the picture's rows end."""


MARKS: tuple[tuple[str, str, str, dict[str, Any]], ...] = (
    (PASS, "o", "passes", {"mfc": "white", "mec": drawing.BLACK, "mew": 2.0, "ms": 7}),
    (DOUBTFUL, "D", "doubtful", {"mfc": drawing.YELLOW, "mec": drawing.BLACK, "mew": 1.4, "ms": 8}),
    (FAIL, "X", "fails", {"mfc": drawing.RED, "mec": drawing.BLACK, "mew": 1.0, "ms": 11}),
    ("off", ">", "fails, off this scale", {"mfc": drawing.RED, "mec": drawing.BLACK, "mew": 1.0, "ms": 10}),
)
"""Verdict, marker, its name in the legend, its look. What lies off the scale to the left has the last one turned."""


class AcceptancePanel(Panel):
    """The acceptance card of a set-up as bands, and the learner's readings on it: pass, doubtful or fail."""

    call = "acceptance"
    title = "The acceptance card: does it read as it should?"
    alt = (
        "One row for each value of the card with its pass band in the middle and a doubtful band on each side; each "
        "reading is a ring, a diamond or a cross by its verdict."
    )
    size = (6.5, 4.3)
    wide = 3.65
    _plan: tuple[Any, ...] = ()
    redraw_on = ("part",)
    crowded = True
    steps = (
        Step(
            "Move Number of the day or case up to 10: each day differs a little. How often is a mark outside its band?",
            between("number", 10, 9999),
        ),
        Step("Choose a fault bench case. Which marks lie outside now?", is_chosen("source", A_CASE)),
        Step(
            "Type over a box, or empty all boxes and fill in what you can read in your shop.",
            is_chosen("source", TYPED),
        ),
        Step(
            "Change the pre-charge to 10 psi (0.69 bar). Which values on the card move with it?",
            between("precharge", 9.7, 10.3, "psig"),
        ),
    )

    def make_controls(self) -> list[Control]:
        self._empty = button("Empty all boxes", self._empty_clicked)
        charge = pressure("precharge", "Pre-charge, at the shop's temperature", 0, 25, 7)
        charge.of_a_car = "precharge_in_shop"
        charge.slider.continuous_update = False  # a new card takes half a second
        sources = [("a healthy day", HEALTHY_DAY), ("a fault bench case", A_CASE), ("typed by you", TYPED)]
        form = ReadingForm("readings", "Readings, as you read them (empty: not read)")
        form.children = (*form.children, self._empty)
        return [
            engine_choice(),
            vessel_choice(),
            charge,
            Choice("source", "The boxes below hold", sources),
            Amount("number", "Number of the day or case", CASE, 0, 9999, 1, (1, 1)).shown_if(
                lambda at: at.source != TYPED
            ),
            Choice("part", "Rows of the picture", [("the first half", FIRST), ("the second half", SECOND)]).shown_if(
                lambda _: self.picture.for_class
            ),
            form,
        ]

    # -- the boxes follow the source, until a hand is on them

    def _put(self, values: dict[str, Any]) -> None:
        super()._put({"source": TYPED} | values if "readings" in values else values)

    @guarded
    def _moved(self, control: Control) -> None:
        self._follow_up(control)
        if control.name == "readings":
            self.controls["source"].set_si(TYPED)
        self.update()

    @guarded
    def _empty_clicked(self, button: Any) -> None:
        self.controls["source"].set_si(TYPED)
        self.controls["readings"].set_si({})
        self.update()

    def settle(self) -> None:
        source = self.controls["source"].value
        if source != TYPED:
            engine, *others = (self.controls[name].value for name in ("engine", "vessel", "precharge"))
            planned, _ = self._card_for(engine, *others)
            number = whole(self.controls["number"].value)
            found = case(number, planned, "healthy" if source == HEALTHY_DAY else None, unknowns_for(engine))
            self.controls["readings"].set_si(with_errors(found.true, number, READINGS))

    # -- what it shows

    def _card_for(self, *plan: Any) -> tuple[SetUp, dict[str, Line]]:
        """As `card_for`; the last one is at hand without a look at the vessel's numbers."""
        if plan != self._plan:
            self._plan, self._found = plan, card_for(*plan)
        return self._found

    def solve(self, at: Setting) -> State:
        _, card = self._card_for(at.engine, at.vessel, at.precharge)
        read = judged(card, at.readings)
        return {
            "card": card,
            "read": read,
            "counts": {word: sum(verdict == word for _, verdict in read.values()) for word in (PASS, DOUBTFUL, FAIL)},
            "number": whole(at.number),
        }

    def build(self, figure: Figure) -> Parts:
        lines = list(self._part_of(self.state).values())  # their names and tests are the same in every plan
        rows = len(lines)
        ax = figure.add_axes((0.578, 0.09, 0.218, 0.91) if self.picture.for_class else (0.464, 0.06, 0.35, 0.94))
        drawing.bare(ax, (-EDGE - 0.3, EDGE + 0.3), (rows - 0.4, -1.4), to_scale=False)
        words = (("fails", -4.75), ("doubtful", -2.75), ("passes", 0.0), ("doubtful", 2.75), ("fails", 4.75))
        for text, x in words[2:3] if self.picture.for_class else words:  # hatched is doubtful: the legend has its mark
            ax.text(x, -0.9, text, ha="center", va="center", fontsize=8.5, color=drawing.GREY)
        head: dict[str, Any] = {"fontsize": 8.5, "va": "center", "weight": "bold"}
        which = "reading" if rows == len(self.state["card"]) else f"{rows} of {len(self.state['card'])} readings"
        ax.text(-EDGE - 0.4, -0.9, which, ha="right", **head)
        ax.text(EDGE + 0.4, -0.9, "from … to" if self.picture.for_class else "passes from … to", ha="left", **head)
        _rows(ax, lines)
        marks = {}
        for word, marker, label, look in MARKS:
            (marks[word],) = ax.plot([], [], marker, ls="none", label=label, zorder=5, **look)
        (marks["below"],) = ax.plot([], [], "<", ls="none", zorder=5, **MARKS[-1][3])
        ax.legend(loc="upper center", bbox_to_anchor=(0.1, 0.0), ncols=4, handletextpad=0.2, columnspacing=1.4)

        def move(state: State) -> None:
            places: dict[str, list[tuple[float, int]]] = {word: [] for word in marks}
            for row, (name, line) in enumerate(self._part_of(state).items()):
                if name not in state["read"]:
                    continue
                value, verdict = state["read"][name]
                off = (value - line.value.si.expected) / line.spread * (EDGE if line.lamp else 1.0)
                beyond = verdict == FAIL and abs(off) > EDGE
                word = verdict if not beyond else "off" if off > 0 else "below"
                places[word].append((min(max(off, -EDGE), EDGE), row))
            for word, artist in marks.items():
                artist.set_data([x for x, _ in places[word]], [y for _, y in places[word]])

        return [_bands(ax, lines, self._part_of), Bound().add(marks.values(), move)]

    def _part_of(self, state: State) -> dict[str, Line]:
        """The rows that the picture shows: on the full screen half of them."""
        rows = list(state["card"].items())
        if not self.picture.for_class:
            return dict(rows)
        half = (len(rows) + 1) // 2
        return dict(rows[:half] if state["part"] == FIRST else rows[half:])

    def readings(self, state: State) -> list[Reading]:
        counts = state["counts"]
        unread = len(state["card"]) - len(state["read"])
        return [
            Reading("pass", f"{counts[PASS]}"),
            Reading("doubtful", f"{counts[DOUBTFUL]}"),
            Reading("fail", f"{counts[FAIL]}"),
            Reading("not read", f"{unread}"),
            *(
                Reading(line.value.label, f"expected {expected}; pass {passes}; {read}{verdict and ': ' + verdict}")
                for line in state["card"].values()
                for expected, passes, read, verdict in (_columns(state, line),)
            ),
        ]

    def table(self) -> str:
        heads = ("value", "expected", "passes from … to", "read", "verdict")
        head = "".join(f'<th scope="col">{name}</th>' for name in heads)
        rows = []
        for line in self.state["card"].values():
            cells = "".join(f"<td>{html.escape(text)}</td>" for text in _columns(self.state, line))
            rows.append(f'<tr><th scope="row">{html.escape(line.value.label)}</th>{cells}</tr>')
        words, title = html.escape(self.summary(self.state)), f"All {len(rows)} values as a table"
        fold = f"<details><summary>{title}</summary><table><tr>{head}</tr>{''.join(rows)}</table></details>"
        return f"<p>{words}</p>{fold}"

    def _summary(self) -> str:
        """As of every panel: in both systems, so that it does not depend on the unit switch."""
        width = max(len(line.value.label) for line in self.state["card"].values())
        rows = []
        for name, line in self.state["card"].items():
            value, verdict = self.state["read"].get(name, (None, ""))
            read = "not read" if value is None else f"read {line.both(value)}: {verdict}"
            rows.append(f"  {line.value.label:<{width}}  expected {line.both(line.value.si.expected)}; {read}")
        counts = ", ".join(f"{number} {word}" for word, number in self.state["counts"].items())
        return "\n".join([self.title, f"  {counts}", *rows]) + self._steps.text()

    def summary(self, state: State) -> str:
        counts, card = state["counts"], state["card"]
        unread = len(card) - len(state["read"])
        if not state["read"]:
            return "Nothing is read yet. Type what your gauges show; a value that you cannot read stays empty."
        parts = [f"{counts[PASS]} pass, {counts[DOUBTFUL]} doubtful, {counts[FAIL]} fail, {unread} not read."]
        for word, then in (
            (FAIL, "Something is wrong: find it before anybody drives."),
            (DOUBTFUL, "Read again, with a better gauge, before you believe either."),
        ):
            names = [card[name].value.label for name, (_, verdict) in state["read"].items() if verdict == word]
            if names:
                more = f" and {len(names) - 3} more" if len(names) > 3 else ""
                parts.append(f"{word.capitalize()}: {'; '.join(names[:3])}{more}. {then}")
        if not counts[FAIL] and not counts[DOUBTFUL]:
            parts.append(
                "All that was read is as it should be." if unread else "All is as it should be: sign and date the card."
            )
        if state["source"] == A_CASE:
            parts.append(f"The readings are those of case {state['number']} of the fault bench.")
        elif state["source"] == HEALTHY_DAY:
            parts.append(f"The readings are day {state['number']} of a set-up with {HEALTHY}.")
        return " ".join(parts)


def _columns(state: State, line: Line) -> tuple[str, str, str, str]:
    """Expected, passes from … to, read, verdict: one line of the table."""
    value, verdict = state["read"].get(line.value.reading, (None, ""))
    return *line.fixed(), "not read" if value is None else line.text(value), verdict


LOW, HIGH = -0.32, 0.64
"""Where a row's band begins, from its middle, and its height."""


def _rows(ax: Axes, lines: list[Line]) -> None:
    """Each value's row with its name; the rows of every other test are shaded."""
    shades, shade = [], False
    for row, line in enumerate(lines):
        shade ^= not row or line.value.test != lines[row - 1].value.test
        if shade:
            shades.append((-6.0 * EDGE, row - 0.5, 10.0 * EDGE, 1.0))
        name = line.value.label.replace("gauge less", "less")
        ax.text(-EDGE - 0.4, row, name, ha="right", va="center", fontsize=8.5)
    whole = [(-EDGE, row + LOW, 2.0 * EDGE, HIGH) for row in range(len(lines))]
    drawing.boxes(ax, shades, fc="#F4F4F4", ec="none", clip_on=False, zorder=0)
    drawing.boxes(ax, whole, fc="white", ec=drawing.GREY, lw=0.7, zorder=1)


def _bands(ax: Axes, lines: list[Line], shown: Callable[[State], dict[str, Line]]) -> Bound:
    """Each value's bands, in standard deviations from what is expected, and its limits: they follow the card."""
    doubtful = drawing.boxes(ax, [], fc="#FBF7C4", ec=drawing.GREY, lw=0.7, hatch="////", zorder=2)
    passing = drawing.boxes(ax, [], fc="#BFE6D9", ec=drawing.BLACK, lw=0.9, zorder=3)
    middles = (((0.0, row + LOW), (0.0, row - LOW)) for row in range(len(lines)))
    expected = drawing.strokes(ax, middles, color=drawing.BLACK, lw=1.0, zorder=4)
    place: dict[str, Any] = {"ha": "left", "va": "center", "fontsize": 8.5}
    limits = [ax.text(EDGE + 0.4, row, line.passes(), **place) for row, line in enumerate(lines)]

    def move(state: State) -> None:
        sides, middle = [], []
        for row, (line, text) in enumerate(zip(shown(state).values(), limits, strict=True)):
            bands, bottom = line.value.si, row + LOW
            start, end = -PASS_WITHIN, PASS_WITHIN
            if not line.lamp:
                worst, start, end, best = (
                    (number - bands.expected) / line.spread
                    for number in (bands.fail_low, bands.low, bands.high, bands.fail_high)
                )
                end = max(start, end)  # where none passes
                worst, best = (worst, max(end, best)) if worst <= best else (start, end)  # or all fail
                sides += [(worst, bottom, start - worst, HIGH), (end, bottom, best - end, HIGH)]
            middle.append((start, bottom, end - start, HIGH))
            text.set_text(line.passes())
        doubtful.set_verts(drawing.corners_of(sides))
        passing.set_verts(drawing.corners_of(middle))

    return Bound().add([doubtful, passing, expected, *limits], move)
