"""Panel of lesson 09, second part: the acceptance card of a set-up, and readings held against it."""

from __future__ import annotations

import html
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from oilkit.build.own_car import YOURS
from oilkit.build.setup_file import Build
from oilkit.build.sheet import as_handed_over, unknowns_of
from oilkit.errors import InputError
from oilkit.panels.framework import drawing
from oilkit.panels.framework.amounts import pressure
from oilkit.panels.framework.base import Panel
from oilkit.panels.framework.bound import Bound, Parts, Reading, Setting, State
from oilkit.panels.framework.choices import as_in_the_car, car_or_trouble, vessel_choice
from oilkit.panels.framework.controls import Amount, Choice, Control, button
from oilkit.panels.framework.instrument import guarded
from oilkit.panels.framework.steps import Step, between, is_chosen
from oilkit.panels.lessons.lesson_09_reading_form import ReadingForm
from oilkit.physics.catalog import engines
from oilkit.physics.vessel import Vessel
from oilkit.quantities.kinds import COUNT, GAUGE
from oilkit.quantities.units import unit_switch
from oilkit.shop.acceptance import (
    DOUBTFUL,
    FAIL,
    FAIL_BEYOND,
    PASS,
    PASS_WITHIN,
    AcceptanceValue,
    Unknown,
    acceptance_card,
    with_differences,
)
from oilkit.shop.as_built import LAMP, READINGS, SHOP_TESTS, oil_taken, with_errors
from oilkit.shop.faults import HEALTHY, Bench, bench, case, demo_set_up
from oilkit.shop.set_up import SetUp

CASE = replace(COUNT, noun="a case number", example="17", high=9999.0)
TYPED, HEALTHY_DAY, A_CASE = "typed", "healthy", "case"
EDGE = 5.2
"""Standard deviations at which the picture's rows end."""


@dataclass(frozen=True)
class Line:
    """One line of a card as the panel shows it."""

    value: AcceptanceValue
    _fixed: dict[str, tuple[str, str]] = field(default_factory=dict, repr=False, compare=False)

    @property
    def lamp(self) -> bool:
        return self.value.kind is None

    def text(self, number: float) -> str:
        """A reading of this line as the learner reads it."""
        return self.value.kind.text(number) if self.value.kind else LAMP[number <= 0.5]

    def both(self, number: float) -> str:
        """The same in both systems of units."""
        return self.value.kind.both(number) if self.value.kind else self.text(number)

    def passes(self) -> str:
        """``55.1 to 60.2 psig``: from where to where a reading passes."""
        kind, (low, high) = self.value.kind, self.ends
        return f"{kind.number(low)} to {kind.text(high)}" if kind else str(self.value.expected)

    @property
    def ends(self) -> tuple[float, float]:
        """Where the pass band begins and ends, in SI."""
        return self.value.si.low, self.value.si.high

    def fixed(self) -> tuple[str, str]:
        """What is expected and what passes, as the learner reads them: put into words once in each system of units."""
        system = unit_switch.system
        if system not in self._fixed:
            self._fixed[system] = self.text(self.value.si.expected), self.passes()
        return self._fixed[system]

    @cached_property
    def spread(self) -> float:
        """One standard deviation, from whichever band no instrument's end has cut."""
        expected, low, high, fail_low, fail_high = self.value.si
        sides = (
            (high - expected) / PASS_WITHIN,
            (expected - low) / PASS_WITHIN,
            (fail_high - expected) / FAIL_BEYOND,
            (expected - fail_low) / FAIL_BEYOND,
        )
        return max(sides) or 1.0


def bench_of(engine: str) -> Bench:
    """What every fault looks like on an engine of the list: the learner's own car as well as its file says it is known.

    Seconds, the first time.
    """
    return _own_bench(engine) if engine in _own else bench(engine)


@lru_cache(maxsize=2)
def _own_bench(engine: str) -> Bench:
    return Bench(card_for(engine)[0], unknowns_for(engine))


def unknowns_for(engine: str) -> list[Unknown] | None:
    """What is not known exactly about an engine of the list, as `acceptance_card` takes it."""
    return unknowns_of(_own[engine]) if engine in _own else None


@lru_cache(maxsize=64)
def card_for(
    engine: str, vessel: Vessel | None = None, precharge: float | None = None
) -> tuple[SetUp, dict[str, Line]]:
    """A planned set-up, filled, and the lines of its card by the names of their readings. Half a second, once."""
    planned = as_handed_over(_own[engine]) if engine in _own else demo_set_up(engine)
    if vessel is not None:
        planned = replace(planned, installation=replace(planned.installation, vessel=vessel))
    if precharge is not None:
        planned = planned.with_condition(precharge=GAUGE.quantity(precharge))
    planned = replace(planned, filled_for=oil_taken(planned))
    order = [test.title for test in SHOP_TESTS.values()]
    card = sorted(acceptance_card(planned, unknowns_for(engine)), key=lambda value: order.index(value.test))
    return planned, {value.reading: Line(value) for value in card}


def judged(card: dict[str, Line], readings: dict[str, float]) -> dict[str, tuple[float, str]]:
    """Readings (SI), those of gauges held against each other among them, with their verdicts, in the card's order."""
    told = with_differences(readings)
    return {name: (told[name], line.value.judge_si(told[name])) for name, line in card.items() if name in told}


_own: dict[str, Build] = {}
"""The learner's own car, as it stood each time it was looked up."""


def engine_choice() -> Choice:
    """One of the demo engines, the street V8 first, or the learner's own car with all that is on it.

    Its value is the engine's key in the data file, or one of ``_own``.
    """
    found = engines()
    order = sorted(found, key=lambda key: key != "street_v8")
    options = [(found[key].name, key) for key in order]
    car, trouble = car_or_trouble()
    if car:
        key = f"{YOURS} {hash(car.text())}"
        _own[key] = car
        options.append((car.engine.name, key))
    choice = Choice("engine", "Engine", options, listed=True)
    choice.leads = lambda controls: as_in_the_car(controls, _own.get(choice.value))
    choice.trouble = trouble
    return choice


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
    _plan: tuple[Any, ...] = ()
    redraw_on = ("plan",)
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
            "plan": (at.engine, at.vessel, at.precharge),
            "card": card,
            "read": read,
            "counts": {word: sum(verdict == word for _, verdict in read.values()) for word in (PASS, DOUBTFUL, FAIL)},
            "number": whole(at.number),
        }

    def build(self, figure: Figure) -> Parts:
        card = self.state["card"]
        rows = len(card)
        ax = figure.add_axes((0.464, 0.06, 0.35, 0.94))
        drawing.bare(ax, (-EDGE - 0.3, EDGE + 0.3), (rows - 0.4, -1.4), to_scale=False)
        for text, x in (("fails", -4.75), ("doubtful", -2.75), ("passes", 0.0), ("doubtful", 2.75), ("fails", 4.75)):
            ax.text(x, -0.9, text, ha="center", va="center", fontsize=8.5, color=drawing.GREY)
        head: dict[str, Any] = {"fontsize": 8.5, "va": "center", "weight": "bold"}
        ax.text(-EDGE - 0.4, -0.9, "reading", ha="right", **head)
        ax.text(EDGE + 0.4, -0.9, "passes from … to", ha="left", **head)
        _rows(ax, list(card.values()))
        marks = {}
        for word, marker, label, look in MARKS:
            (marks[word],) = ax.plot([], [], marker, ls="none", label=label, zorder=5, **look)
        (marks["below"],) = ax.plot([], [], "<", ls="none", zorder=5, **MARKS[-1][3])
        ax.legend(loc="upper center", bbox_to_anchor=(0.1, 0.0), ncols=4, handletextpad=0.2, columnspacing=1.4)

        def move(state: State) -> None:
            places: dict[str, list[tuple[float, int]]] = {word: [] for word in marks}
            for row, (name, line) in enumerate(card.items()):
                if name not in state["read"]:
                    continue
                value, verdict = state["read"][name]
                off = (value - line.value.si.expected) / line.spread * (EDGE if line.lamp else 1.0)
                beyond = verdict == FAIL and abs(off) > EDGE
                word = verdict if not beyond else "off" if off > 0 else "below"
                places[word].append((min(max(off, -EDGE), EDGE), row))
            for word, artist in marks.items():
                artist.set_data([x for x, _ in places[word]], [y for _, y in places[word]])

        return [Bound().add(marks.values(), move)]

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


def whole(number: float) -> int:
    """A whole number; a browser's slider may be off in the last digit."""
    if abs(number - round(number)) > 1e-6:
        raise InputError("number", f"{number:g}", "a whole number from 0 to 9999")
    return round(number)


def _rows(ax: Axes, lines: list[Line]) -> None:
    """Each value's bands, in standard deviations from what is expected, with its name and its limits."""
    low, high = -0.32, 0.64
    shades, doubtful, passing, shade = [], [], [], False
    for row, line in enumerate(lines):
        bands, bottom = line.value.si, row + low
        shade ^= not row or line.value.test != lines[row - 1].value.test
        if shade:
            shades.append((-4.0 * EDGE, row - 0.5, 8.0 * EDGE, 1.0))
        start, end = -PASS_WITHIN, PASS_WITHIN
        if not line.lamp:
            worst, start, end, best = (
                (number - bands.expected) / line.spread
                for number in (bands.fail_low, bands.low, bands.high, bands.fail_high)
            )
            doubtful += [(worst, bottom, start - worst, high), (end, bottom, best - end, high)]
        passing.append((start, bottom, end - start, high))
        name = line.value.label.replace("gauge less", "less")
        ax.text(-EDGE - 0.4, row, name, ha="right", va="center", fontsize=8.5)
        ax.text(EDGE + 0.4, row, line.passes(), ha="left", va="center", fontsize=8.5)
    rows = range(len(lines))
    whole = [(-EDGE, row + low, 2.0 * EDGE, high) for row in rows]
    drawing.boxes(ax, shades, fc="#F4F4F4", ec="none", clip_on=False, zorder=0)
    drawing.boxes(ax, whole, fc="white", ec=drawing.GREY, lw=0.7, zorder=1)
    drawing.boxes(ax, doubtful, fc="#FBF7C4", ec=drawing.GREY, lw=0.7, hatch="////", zorder=2)
    drawing.boxes(ax, passing, fc="#BFE6D9", ec=drawing.BLACK, lw=0.9, zorder=3)
    drawing.strokes(ax, (((0.0, row + low), (0.0, row - low)) for row in rows), color=drawing.BLACK, lw=1.0, zorder=4)
