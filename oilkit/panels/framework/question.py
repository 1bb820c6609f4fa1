"""What every question of a lesson has: an answer box, a judge, an answer that is kept and comes back, a learner."""

from __future__ import annotations

import asyncio
import html
import textwrap
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, ClassVar

import ipywidgets

from oilkit.errors import InputError
from oilkit.exercises.exercise import DONE, MISTAKE, NO_UNIT, RIGHT, ROUGH, WRONG, Exercise, Owner, Verdict, judge
from oilkit.exercises.progress import (
    HINT,
    SOLUTION,
    TICKED,
    Entry,
    Progress,
)
from oilkit.panels.framework.controls import Control, button
from oilkit.panels.framework.instrument import OPEN, Instrument, guarded
from oilkit.quantities.typed import with_unit
from oilkit.storage.settings import load_owner, owner_trouble, settings_file
from oilkit.storage.textfile import stamp

TITLES = {"predict": "Predict", "compute": "Compute", "read": "Read", "explain": "Explain in a sentence"}


SIGNS = {
    RIGHT: ("✔", "#0072b2"),
    ROUGH: ("≈ Nearly", "#5f5f5f"),
    DONE: ("✎ Kept", "#5f5f5f"),
    MISTAKE: ("✘ Not right", "#b34700"),
    WRONG: ("✘ Not right", "#b34700"),
}
"""How each mark looks: a sign, a word where the sentence does not begin with one, a color that any eye tells apart."""


def told(mark: str, says: str, aloud: bool = True) -> str:
    """What an answer is worth, as HTML. aloud: a screen reader speaks a wrong one's sentence at once."""
    sign, color = SIGNS[mark]
    role = "alert" if aloud and mark in (MISTAKE, WRONG) else "status"
    badge = f'<b style="background:{color};color:#fff;border-radius:3px;padding:0 6px;margin-right:3px">{sign}</b>'
    says = html.escape(says.removeprefix("Not so. ").removeprefix("No. "))
    edge = f"border-left:5px solid {color};padding:2px 8px;line-height:1.5;max-width:860px"
    return f'<div role="{role}" style="{edge}">{badge} {says}</div>'


KEPT = "This is your answer as it was kept, with what it was worth when you gave it."


class Box(Control):
    """A box or a choice to answer with."""

    def __init__(self, label: str, widget: Any) -> None:
        self.box = widget
        super().__init__("answer", label, [widget])


class Question(Instrument):
    """What a prediction and an exercise share: a question, a box or a choice, Check, and what the answer is worth.

    The last answer comes back when it is opened again, and it follows whoever is named in the panel *Who is learning?*.
    """

    label: ClassVar[str] = "Your answer"
    unit_asked: ClassVar[str] = ", with its unit, such as {}"
    closed = True
    """Until it is made: one of an unknown name has nothing to close."""

    def __init__(self, key: str, lesson: int, head: str, owner: Owner | None, folder: Path | str | None) -> None:
        self.key, self.lesson, self.head, self._folder = key, lesson, head, folder
        self._follows = owner is None
        self.owner = owner if owner is not None else Owner(*load_owner())
        made = self._make()
        super().__init__()
        self.made = made
        self.progress = Progress(self.owner, folder)
        self.mark = ""
        """What the last answer was worth; nothing before the first one and after one that was refused."""
        self._head = ipywidgets.HTML(f"<h4>{html.escape(head)}</h4>")
        self._ask = ipywidgets.HTML(f"<p>{html.escape(made.question)}</p>")
        self.control = Box(self.label, self._answer_box())
        self._check = button("Check", self._checked, "90px")
        self._feedback = ipywidgets.HTML()

    def _make(self) -> Exercise:
        """The question as its owner has it."""
        raise NotImplementedError

    def _begin(self) -> None:
        """To be called at the end of a subclass's ``__init__``, when it has its children."""
        self._fill()
        if self._follows and owner_trouble():
            self.show_message(owner_trouble())
        self.opened()
        _watch()

    def _answer_box(self) -> Any:
        if self.made.answer is not None:
            return ipywidgets.Text(layout={"width": "180px", "margin": "0 0 0 8px"}, continuous_update=False)
        if self.made.options:
            return ipywidgets.RadioButtons(options=list(self.made.options), value=None, layout={"width": "max-content"})
        return ipywidgets.Textarea(rows=3, layout={"width": "520px"})

    @guarded
    def units_changed(self) -> None:
        unit = self.made.kind.label() if self.made.kind else ""
        self.control.caption(self.label + (self.unit_asked.format(unit) if unit else ""))

    def answer(self, text: str) -> str:
        """Type or choose an answer and press Check, as a learner would. Returns its mark, "" if it was refused."""
        self.control.box.value = text
        self._check.click()
        return self.mark

    @property
    def feedback(self) -> str:
        """What the learner was told, as HTML."""
        return str(self._feedback.value)

    # -- what comes back, and for whom

    def _fill(self) -> None:
        """The question as its owner has it, and the owner's last answer."""
        self.progress = Progress(self.owner, self._folder)
        self._ask.value = f"<p>{html.escape(self.made.question)}</p>"
        box = self.control.box
        with self.control.quietly():
            if self.made.options:
                box.options = list(self.made.options)
            box.value = None if self.made.options else ""
        self.control.set_error("")
        self.show_message("")
        self.mark, self._feedback.value = "", ""
        self.units_changed()
        self._bring_back([entry for entry in self._entries() if entry.exercise == self.key])

    def _bring_back(self, past: Sequence[Entry]) -> None:
        """The last answer, with its sign and what was said of it."""
        answers = [entry for entry in past if entry.mark not in (HINT, SOLUTION, TICKED)]
        if not answers:
            return
        last = answers[-1]
        with self.control.quietly():
            if not self.made.options or last.answer in self.made.options:
                self.control.box.value = last.answer
        try:
            verdict = judge(self.made, last.answer, self.label)
        except InputError:  # it was given to other numbers, or in another unit
            verdict = Verdict("", "")
        self.mark = last.mark
        self._feedback.value = told(last.mark, verdict.says if verdict.mark == last.mark else KEPT, aloud=False)

    def _entries(self) -> list[Entry]:
        """The owner's lines; none, and a sentence in the panel, if the file cannot be used."""
        try:
            return self.progress.entries()
        except InputError as problem:
            self.show_message(str(problem))
            return []

    def _keep(self, write: Callable[[], Any]) -> None:
        """Write to the owner's file, and say if that failed."""
        try:
            write()
        except OSError as problem:
            self.show_message(
                f"Your answer was judged but could not be kept ({problem.strerror or type(problem).__name__})."
            )
        else:
            self._kept()
            self.show_message(self.progress.told)

    def _kept(self) -> None:
        """What else happens when something has been written."""

    @guarded
    def owner_changed(self, owner: Owner) -> None:
        """Somebody else learns here now: other numbers, other answers."""
        if self._follows and owner != self.owner:
            self.owner = owner
            self.made = self._make()
            self._fill()

    @guarded
    def look_again(self) -> None:
        """The owner's file was changed elsewhere."""
        self._fill()

    def _ready(self) -> bool:
        """Whether what was pressed still goes to the question that is shown."""
        before = self.owner
        look_who_learns()
        if self.owner != before:
            self.show_message(f"Now {called(self.owner)} learns here: read the question again.")
        return self.owner == before

    # -- what Check does

    @guarded
    def _checked(self, button: Any) -> None:
        if not self._ready():
            return
        self.mark, self._feedback.value = "", ""
        self.control.set_error("")
        self.show_message("")
        given = self.control.box.value
        verdict = judge(self.made, given, self.label)
        self.mark = verdict.mark
        self._feedback.value = told(verdict.mark, verdict.says)
        if self.made.kind and verdict.mistake != NO_UNIT:
            given = with_unit(given, self.made.kind)
        self._judged(str(given), verdict)

    def _judged(self, given: str, verdict: Verdict) -> None:
        self._keep(lambda: self.progress.record(self.lesson, self.key, given, verdict))

    def refuse(self, problem: InputError) -> None:
        if problem.argument == self.label:
            self.control.set_error(str(problem))
        else:
            self.show_message(str(problem))

    def _summary(self) -> str:
        lines = textwrap.wrap(self.made.question, 90, initial_indent="  ", subsequent_indent="  ")
        return "\n".join([self.head, *lines, *(f"  ( ) {option}" for option in self.made.options)])


def called(owner: Owner) -> str:
    """Whose exercise it is, in a few words."""
    return ", ".join(filter(None, (owner.learner, owner.group))) or "no name given"


def look_who_learns() -> None:
    """Let every open question of this notebook follow the name that is remembered now."""
    owner = Owner(*load_owner())
    for panel in list(OPEN):
        if hasattr(panel, "owner_changed"):
            panel.owner_changed(owner)


EVERY = 2.0
"""Seconds after which a notebook looks whether another one has changed the name."""
_seen: list[Any] = []


def _watch() -> None:
    """Follow a name that is given in another lesson, whose kernel is another one, from now on."""
    try:
        loop = asyncio.get_running_loop()
    except RuntimeError:  # no event loop: in a script or a test
        return
    if not _seen:
        _seen.append(stamp(settings_file()))
        loop.call_later(EVERY, _look)


def _look() -> None:
    before = _seen.pop()
    now = stamp(settings_file())
    if now != before:
        look_who_learns()
    if any(isinstance(panel, Question) for panel in OPEN):
        _seen.append(now)
        asyncio.get_running_loop().call_later(EVERY, _look)
