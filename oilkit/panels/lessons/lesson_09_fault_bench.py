"""Panel of lesson 09, last part: the fault bench. Tests cost shop time; the cutaway is covered until the diagnosis."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any

import ipywidgets
from matplotlib.figure import Figure

from oilkit.errors import InputError
from oilkit.panels.framework import drawing
from oilkit.panels.framework.base import Panel
from oilkit.panels.framework.bound import Bound, Graph, Parts, Reading, Setting, State
from oilkit.panels.framework.controls import Amount, Choice, Control, button, status
from oilkit.panels.framework.instrument import acting, guarded
from oilkit.panels.framework.steps import Step
from oilkit.panels.framework.vessel_view import room_of
from oilkit.panels.lessons.lesson_09_card import CASE, bench_of, card_for, case_of, engine_choice, judged, whole
from oilkit.panels.lessons.lesson_09_instruments import DIALS, INSTRUMENTS, Dipstick, Face, Lamp, instrument
from oilkit.panels.lessons.lesson_09_reading_form import reading_text
from oilkit.quantities.kinds import DISTANCE, OIL
from oilkit.shop.acceptance import PASS
from oilkit.shop.as_built import READINGS, SHOP_TESTS, oil_taken
from oilkit.shop.faults import FAULTS, Diagnosis, Verdict
from oilkit.shop.set_up import SetUp

DAY = 1.3 * sum(test.minutes for test in SHOP_TESTS.values())
"""Minutes on the picture's axis of shop time: more than all tests together."""


@dataclass(frozen=True)
class _Ending:
    """What is shown once a fault has been named."""

    named: str
    verdict: Verdict
    script: Diagnosis
    oil: float
    """In the vessel, settled at the middle speed, as it is."""
    planned_oil: float


class FaultBenchPanel(Panel):
    """A seeded fault, covered. Choose tests, pay for them in minutes, read, and name what is wrong."""

    call = "fault_bench"
    title = "The fault bench"
    alt = (
        "The vessel cut open, covered until a fault is named; bars of shop time; three dial gauges, the valve lamp and "
        "the dipstick with what was read last."
    )
    size = (6.5, 4.0)
    wide = 3.6
    redraw_on = ("stroke",)
    steps = (
        Step(
            "Choose a test, say aloud which faults it would tell apart, and press Do this test. What do you read?",
            lambda s: bool(s["taken"]),
        ),
        Step(
            "When you are sure, choose the fault, and press This is it. What proved it?", lambda s: s["end"] is not None
        ),
    )

    def make_controls(self) -> list[Control]:
        self._key: Any = None
        self._note = ipywidgets.HTML()
        tests = [(f"{test.title} ({test.minutes:g} min)", key) for key, test in SHOP_TESTS.items()]
        faults = [("not named yet", None), *((fault.name, key) for key, fault in FAULTS.items())]
        number = Amount("number", "Case number", CASE, 0, 9999, 1, (1, 1))
        test = Choice("test", "Shop test", tests, listed=True)
        fault = Choice("fault", "What is wrong", faults, listed=True)
        self._do = _beside(test, "Do this test", self._do_clicked)
        self._hint = _beside(test, "What would you test next?", self._hint_clicked)
        self._name = _beside(fault, "This is it", self._name_clicked)
        self._again = _beside(number, "Same case again", self._again_clicked)
        self._next = _beside(number, "Next case", self._next_clicked)
        return [
            number,
            engine_choice(),
            test,
            Choice("help", "Beside each reading", [("nothing", False), ("what the card says", True)]),
            fault,
        ]

    def extra_controls(self) -> Sequence[ipywidgets.Widget]:
        return [self._note]

    # -- what the learner does

    @property
    def taken(self) -> tuple[str, ...]:
        """Tests done so far, in their order."""
        return tuple(self._taken)

    @property
    def seen(self) -> dict[str, float]:
        """What they showed, SI, by the readings' names."""
        return dict(self._seen)

    @property
    def ending(self) -> Verdict | None:
        """How the diagnosis stands, once a fault has been named."""
        return self._end.verdict if self._end else None

    @property
    def note(self) -> str:
        """What the bench said last."""
        return self._said

    def _say(self, sentence: str) -> None:
        self._said = sentence
        self._note.value = status(sentence)

    def _begin(self) -> None:
        """A fresh log."""
        self._taken: list[str] = []
        self._seen: dict[str, float] = {}
        self._hints = 0
        self._end: _Ending | None = None
        self._say("")

    def _now(self) -> tuple[int, str]:
        return whole(self.controls["number"].value), self.controls["engine"].value

    def _still_open(self) -> bool:
        """Whether there is still something to find, in the case that now stands typed."""
        self._collect()
        if self._end:
            self._say("This case is closed. Take the same case again, or the next one.")
        return self._end is None

    @guarded
    def _moved(self, control: Control) -> None:
        control.collect()
        if self._now() != self._key:  # another case: what was suspected of the last one goes with it
            self.controls["fault"].set_si(None)
        self.update()

    @acting
    def _do_clicked(self, button: Any) -> None:
        if not self._still_open():
            return
        test = self.controls["test"].value
        if test in self._taken:
            raise InputError("test", "a test that is done", "another one: this one would show the same again")
        self._seen |= case_of(*self._now()).read(test)
        self._taken.append(test)
        spent = sum(SHOP_TESTS[name].minutes for name in self._taken)
        self._refresh()
        self._say(f"Done: {SHOP_TESTS[test].title}. {spent:g} minutes of shop time so far.")

    @acting
    def _hint_clicked(self, button: Any) -> None:
        if not self._still_open():
            return
        self._work_it_out()
        known = bench_of(self._now()[1])
        test, belief = known.next_test(self._seen), known.beliefs(self._seen)
        self._hints += 1
        self._refresh()
        sure = max(belief.values())
        said = f"I would test next: {SHOP_TESTS[test].title}." if test else "There is nothing left to test."
        if sure >= 0.9:
            said = f"One fault stands out already, with {100 * sure:.0f} % of the belief. If in doubt: {said}"
        self._say(said)

    @acting
    def _name_clicked(self, button: Any) -> None:
        if not self._still_open():
            return
        named = self.controls["fault"].value
        if named is None:
            raise InputError("fault", "no fault named yet", "one from the list")
        self._work_it_out()
        number, engine = self._now()
        here, known = case_of(number, engine), bench_of(engine)
        verdict, script = known.verdict(here, self._taken, named), known.diagnose(here)
        self._end = _Ending(named, verdict, script, _oil_in(here.set_up), _oil_in(known.planned))
        self._refresh()
        self._say("The cover is off.")

    @guarded
    def _again_clicked(self, button: Any) -> None:
        self._begin()
        self.controls["fault"].set_si(None)
        self._refresh()

    @guarded
    def _next_clicked(self, button: Any) -> None:
        self._collect()
        self.controls["number"].set_si((self._now()[0] + 1) % 10_000)
        self.controls["fault"].set_si(None)
        self._refresh()

    def _collect(self) -> None:
        """Take over what still stands typed, and begin afresh if it is another case."""
        self.controls["number"].collect()
        self._follow()

    def _work_it_out(self) -> None:
        self._say(
            "Working it out: every fault, in every degree, on this engine. The first time this takes some seconds …"
        )

    def reset(self) -> None:
        self._key = None
        super().reset()

    # -- what it shows

    def _follow(self) -> None:
        key = self._now()
        if key != self._key:
            self._begin()
            self._key = key

    def solve(self, at: Setting) -> State:
        self._follow()
        planned, card = card_for(at.engine)
        _, _, stroke = room_of(planned.installation.vessel)
        state: State = {
            "number": whole(at.number),
            "engine": planned.installation.engine.name,
            "stroke": stroke,
            "room": planned.installation.vessel.si.gas_volume,
            "suspect": FAULTS[at.fault].name if at.fault else "",
            "card": card if at.help or self._end else {},
            "taken": tuple(self._taken),
            "seen": dict(self._seen),
            "hints": self._hints,
            "end": self._end,
        }
        return state | {key: _last_on(key, at.test, state) for key in INSTRUMENTS}

    def build(self, figure: Figure) -> Parts:
        high = 0.54 if self.picture.for_class else 0.42
        axes = [figure.add_axes((left, 0.02, 0.2, high)) for left in (0.0, 0.207, 0.417, 0.61, 0.795)]
        dials = [Face(ax, name) for ax, name in zip(axes, DIALS.values(), strict=False)]
        drawn: list[Any] = [*dials, Lamp(axes[3]), Dipstick(axes[4])]
        read = [Bound(one, f"{key}.value", f"{key}.line") for key, one in zip(INSTRUMENTS, drawn, strict=True)]
        return [self._covered(figure), self._time_bars(figure), *read]

    def _covered(self, figure: Figure) -> Bound:
        """The vessel cut open, and its cover."""
        wide = self.picture.for_class
        ax = figure.add_axes((0.01, 0.64, 0.5, 0.35) if wide else (0.01, 0.47, 0.5, 0.5))
        cut = drawing.Cutaway(ax, float(DISTANCE.display(self.state["stroke"])), DISTANCE.label())
        (plan,) = ax.plot([], [], color=drawing.PURPLE, ls="--", lw=2.4, label="piston, were all as planned")
        ax.legend(loc="center", bbox_to_anchor=(0.47, -0.13 if wide else -0.05))
        self._cover = drawing.box(
            ax, (-0.16, -0.25 if wide else -0.14), 1.5 if wide else 1.36, 0.79 if wide else 0.68, fc=drawing.PALE,
            ec=drawing.GREY, hatch="xx", zorder=20, clip_on=False,
        )  # fmt: skip
        paper = {"boxstyle": "round,pad=0.5", "fc": "white", "ec": drawing.BLACK}
        # two texts, because only the number changes with the slider, and text is slow to draw
        which, whose = (
            ax.text(0.53, height, "", ha="center", va="center", fontsize=10, zorder=21, bbox=paper)
            for height in (0.4, 0.15)
        )
        covering = [self._cover, which, whose]

        def move(state: State) -> None:
            end: _Ending | None = state["end"]
            cut.show(end.oil / state["room"] if end else 0.0)
            x = end.planned_oil / state["room"] if end else 0.0
            plan.set_data([x, x], [0.0, drawing.Cutaway.height])
            suspect = f"\nyou suspect: {state['suspect']}" if state["suspect"] else ""
            which.set_text(f"case {state['number']}")
            whose.set_text(f"{state['engine']},\ncovered until you name the fault{suspect}")
            for artist in covering:
                artist.set_visible(end is None)

        return Bound().add([*cut.moving, plan, *covering], move)

    def _time_bars(self, figure: Figure) -> Bound:
        graph = Graph(
            figure, (0.655, 0.7, 0.33, 0.22) if self.picture.for_class else (0.655, 0.6, 0.33, 0.3), "Shop time",
            ("minutes", None, 0.0, DAY), (None, None, -0.6, 1.6),
        )  # fmt: skip
        graph.rows(["the kit", "you"])
        ax = graph.ax
        look = ({"fc": drawing.SKY}, {"fc": drawing.ORANGE, "hatch": "//"})
        mine, kits = (
            [drawing.box(ax, (0.0, row - 0.3), 0.0, 0.6, ec=drawing.BLACK, **style) for _ in SHOP_TESTS]
            for row, style in zip((1, 0), look, strict=True)
        )
        next_one = drawing.box(ax, (0.0, 0.7), 0.0, 0.6, fc="none", ec=drawing.BLACK, ls="--", lw=1.2)
        minutes = [ax.text(0.0, row, "", va="center", fontsize=10) for row in (1, 0)]

        def move(state: State) -> None:
            end: _Ending | None = state["end"]
            spent = _stack(mine, state["taken"])
            script = _stack(kits, end.script.taken if end else ())
            would = 0.0 if end or state["test"] in state["taken"] else SHOP_TESTS[state["test"]].minutes
            next_one.set_x(spent)
            next_one.set_width(would)
            texts = (f"{spent:g} min", f"{script:g} min" if end else "shown at the end")
            for word, place, text in zip(minutes, (spent + would, script), texts, strict=True):
                word.set_x(place + 4.0)
                word.set_text(text)

        return graph.add([*mine, *kits, next_one, *minutes], move)

    def readings(self, state: State) -> list[Reading]:
        test, end = SHOP_TESTS[state["test"]], state["end"]
        minutes = sum(SHOP_TESTS[name].minutes for name in state["taken"])
        rows = [
            Reading("case", f"{state['number']}"),
            Reading("the chosen test takes", f"{test.minutes:g} min"),
            Reading("tests done", f"{len(state['taken'])}"),
            Reading("shop time", f"{minutes:g} min"),
            Reading("hints taken", f"{state['hints']}"),
            Reading("you suspect", state["suspect"] or "nothing yet"),
        ]
        if state["card"] and state["test"] not in state["taken"] and not end:
            rows += [
                Reading(state["card"][name].value.label, f"healthy: {state['card'][name].passes()}")
                for name in test.readings
            ]
        for number, done in enumerate(state["taken"], 1):
            rows += [Reading(f"{number}. {row.name}", row.value) for row in _log(state, done)]
        if end:
            rows += _ending_rows(end)
        return rows

    def summary(self, state: State) -> str:
        if state["end"]:
            return _ending_words(state)
        test = SHOP_TESTS[state["test"]]
        done = state["test"] in state["taken"]
        beside = f"{test.how} Caution: {test.caution} Stop: {test.stop}"
        chosen = f"Chosen: {test.title[0].lower()}{test.title[1:]}. {beside}" if not done else "This test is done."
        if not state["taken"]:
            return (
                f"Something may be wrong with this set-up, or nothing. {chosen} What a test shows appears on the "
                "gauges and in the table, and it costs its time. Name the fault when you are sure."
            )
        return (
            f"{chosen} What would read the same with another fault proves nothing: choose tests that tell apart the "
            "faults which are still possible."
        )


def _last_on(key: str, chosen: str, state: State) -> SimpleNamespace:
    """What was read last on an instrument, if anything, and the card's line for it or for what is to be read there."""
    done = [name for test in state["taken"] for name in SHOP_TESTS[test].readings if instrument(name) == key]
    to_come = [name for name in SHOP_TESTS[chosen].readings if instrument(name) == key]
    name = next(iter([*done[::-1], *to_come]), "")
    return SimpleNamespace(value=state["seen"].get(name), line=state["card"].get(name))


def _ending_words(state: State) -> str:
    end: _Ending = state["end"]
    v, name = end.verdict, FAULTS[end.verdict.fault].name
    parts = [f"Right: {name}." if v.right else f"Not so. You named “{FAULTS[end.named].name}”; it is “{name}”."]
    parts.append(FAULTS[v.fault].why)
    if v.proved:
        proof = " And: ".join(_evidence(state, test) for test in v.proved)
        parts.append(f"What proves it: {proof}")
        parts.append(f"Redundant: {_titles(v.redundant)}." if v.redundant else "No test was redundant.")
    else:
        parts.append(f"Your readings do not prove it: after them it has {100 * v.belief:.0f} % of the belief.")
    script = end.script
    parts.append(f"You took {v.minutes:g} minutes. The kit's own way took {script.minutes:g}: {_titles(script.taken)}.")
    if script.fault != v.fault:
        parts.append(f"It was misled and named “{FAULTS[script.fault].name}”: with these errors the two look alike.")
    parts.append(
        f"The cutaway: hot and settled at the tests' speed, the vessel holds {OIL.text(end.oil)} of oil; "
        f"were all as planned, {OIL.text(end.planned_oil)}."
    )
    return " ".join(parts)


def _evidence(state: State, test: str) -> str:
    """A test with what it showed beside the card; that all is as on the card can be evidence too."""
    off = [
        f"{state['card'][name].value.label} {state['card'][name].text(value)}, {verdict}"
        for name, (value, verdict) in judged(state["card"], _shown_by(state, test)).items()
        if verdict != PASS
    ]
    return f"{SHOP_TESTS[test].title} ({'; '.join(off) or 'all as on the card, which rules others out'})."


def _oil_in(set_up: SetUp) -> float:
    return float(oil_taken(set_up).m_as(OIL.si))


def _beside(control: Control, text: str, click: Any) -> ipywidgets.Button:
    """A button under a control, in one row with those that are there already."""
    made = button(text, click)
    last = control.children[-1]
    if isinstance(last, ipywidgets.HBox):
        last.children = (*last.children, made)
    else:
        control.children = (*control.children, ipywidgets.HBox([made]))
    return made


def _log(state: State, test: str) -> list[Reading]:
    """What a test showed, with the card beside it if that is wanted."""
    if not state["card"]:
        return [
            Reading(READINGS[name].label, reading_text(name, state["seen"][name])) for name in SHOP_TESTS[test].readings
        ]
    rows = []
    for name, (value, verdict) in judged(state["card"], _shown_by(state, test)).items():
        line = state["card"][name]
        rows.append(Reading(line.value.label, f"{line.text(value)} ({line.passes()}: {verdict})"))
    return rows


def _shown_by(state: State, test: str) -> dict[str, float]:
    return {name: state["seen"][name] for name in SHOP_TESTS[test].readings}


def _ending_rows(end: _Ending) -> list[Reading]:
    v = end.verdict
    return [
        Reading("you named", FAULTS[end.named].name),
        Reading("it is", FAULTS[v.fault].name),
        Reading("belief in it after your readings", f"{100 * v.belief:.0f} %"),
        Reading("tests that prove it", f"{len(v.proved)}" if v.proved else "not proved"),
        Reading("redundant tests", f"{len(v.redundant)}" if v.proved else "not proved"),
        Reading("your shop time", f"{v.minutes:g} min"),
        Reading("the kit's shop time", f"{end.script.minutes:g} min"),
        Reading("the kit named", FAULTS[end.script.fault].name),
    ]


def _titles(tests: Iterable[str]) -> str:
    return "; ".join(SHOP_TESTS[name].title for name in tests) or "no test"


def _stack(bars: Sequence[Any], tests: Sequence[str]) -> float:
    """Put the bars of some tests one behind the other; returns where they end."""
    place = 0.0
    for k, bar in enumerate(bars):
        width = SHOP_TESTS[tests[k]].minutes if k < len(tests) else 0.0
        bar.set_x(place)
        bar.set_width(width)
        bar.set_visible(width > 0.0)
        place += width
    return place
