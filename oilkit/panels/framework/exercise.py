"""Questions in the notebook: predictions, and exercises with hints whose answers are kept and come back."""

from __future__ import annotations

import base64
import html
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import ipywidgets
import matplotlib
from matplotlib.figure import Figure

from oilkit.errors import InputError
from oilkit.exercises import exercises_of, find, find_prediction, prediction_lesson
from oilkit.exercises.exercise import DONE, Exercise, Owner, Verdict
from oilkit.exercises.gauges import still
from oilkit.exercises.progress import (
    HINT,
    SOLUTION,
    TICKED,
    Entry,
    Mark,
    enough_said,
    mark_of,
    said_of,
)
from oilkit.panels.framework.controls import button
from oilkit.panels.framework.drawing import STYLE
from oilkit.panels.framework.instrument import OPEN, guarded
from oilkit.panels.framework.learner import LearnerPanel
from oilkit.panels.framework.question import TITLES, Question, called, look_who_learns


class PredictionPanel(Question):
    """A question before the panel: the reason comes as soon as the learner has committed to an answer."""

    title = "Predict before you look"
    label = "Your prediction"
    unit_asked = " ({}, if you give no unit)"

    def __init__(self, name: str, folder: Path | str | None = None) -> None:
        super().__init__(name, prediction_lesson(name), self.title, None, folder)
        self.children = [self._head, self._ask, self.control, self._check, self._feedback, self._alert, self._shim]
        if self.made.answer is not None:
            self.control.box.observe(self._entered, "value")
        self._begin()

    def _make(self) -> Exercise:
        return find_prediction(self.key)

    def _fill(self) -> None:
        super()._fill()
        self._uncover()

    def _bring_back(self, past: Sequence[Entry]) -> None:
        super()._bring_back(past)
        self._last = past[-1].answer if past else ""

    def _uncover(self) -> None:
        """What is printed right below is the answer: `panels.css` shows it when there is a prediction."""
        (self.remove_class if self.mark else self.add_class)("oilkit-unpredicted")

    @guarded
    def _entered(self, change: Any) -> None:
        if change["new"].strip() and not self.control.quiet:
            self._checked(self._check)

    def _judged(self, given: str, verdict: Verdict) -> None:
        if given.strip() != self._last:  # it was entered, and then Check was pressed
            self._given = given.strip()
            super()._judged(given, verdict)
        self._uncover()

    def _kept(self) -> None:
        self._last = self._given

    def _ready(self) -> bool:
        """Always: it has the same numbers for everybody, so what was pressed is the answer of whoever learns now."""
        given = self.control.box.value
        look_who_learns()
        with self.control.quietly():
            self.control.box.value = given
        return True

    @property
    def verdict(self) -> str:
        """ "right", "wrong", "mistake", or "" before the first check and after an answer that was refused."""
        return self.mark

    def predict(self, prediction: str) -> str:
        """Answer from code, as a learner would by hand. Returns the verdict."""
        return self.answer(prediction)


class ExercisePanel(Question):
    """One exercise with the numbers of whoever is named in `LearnerPanel`; nobody needs a name.

    Past answers come back, with hints taken and points marked. Of a lesson's exercises one is open at a time.
    """

    title = "Exercise"

    def __init__(self, key: str, owner: Owner | None = None, folder: Path | str | None = None) -> None:
        self.maker = find(key)
        self._keys = list(exercises_of(self.maker.lesson))
        head = f"{TITLES[self.maker.sort]}: {self.maker.aim}"
        super().__init__(key, self.maker.lesson, head, owner, folder)
        pictures = []  # nothing is made that is not shown: only what is shown is closed with the panel
        if self.made.picture:
            self._image = ipywidgets.Image(format="png", layout={"max_width": "460px"})  # as it is drawn
            self._image.add_class("oilkit-picture")
            self._in_words = ipywidgets.HTML()
            pictures = [self._image, self._in_words]
        self._hint = button("Hint", self._hinted, "90px")
        self._show = button("Worked solution", self._shown, "150px")
        self._alone = ipywidgets.Checkbox(
            description="I learn alone: let me see it without a try", indent=False, layout={"width": "max-content"}
        )
        self._state, self._help, self._count = ipywidgets.HTML(), ipywidgets.HTML(), ipywidgets.HTML()
        self._points = ipywidgets.VBox(
            [
                ipywidgets.Checkbox(description=point, indent=False, layout={"width": "max-content"})
                for point in self.made.points
            ]
        )
        for box in self._points.children:
            box.observe(self._ticked, "value")
        self._next = button("Next exercise", self._go_on, "150px")
        self._fold = button("", self._fold_pressed, "150px")
        buttons = ipywidgets.HBox([self._check, self._hint, self._show, self._alone], layout={"flex_flow": "row wrap"})
        below = [self._feedback, self._help, self._points, self._count, self._next]  # the boxes end the model answer
        self._body = ipywidgets.VBox([self._ask, *pictures, self.control, buttons, *below])
        top = ipywidgets.HBox([self._head, self._fold], layout={"justify_content": "space-between"})
        self._who = button("", self._who_pressed)
        self._names = ipywidgets.VBox()
        line = ipywidgets.HBox([self._state, self._who], layout={"align_items": "center"})
        self.children = [top, line, self._names, self._body, self._alert, self._shim]
        self._begin()
        self._put_away(self._done() or any(not other.folded for other in self._others()))

    def _make(self) -> Exercise:
        return self.maker(self.owner)

    def _fill(self) -> None:
        self._shim.alt = self.made.picture_says
        if self.made.picture:
            says = html.escape(self.made.picture_says)
            self._in_words.value = f"<details><summary>The picture in words</summary>{says}</details>"
        for point, says in zip(self._points.children, self.made.points, strict=True):
            point.description = says
        self._alone.value = False
        super()._fill()
        self._kept()

    def _bring_back(self, past: Sequence[Entry]) -> None:
        """Hints taken and points marked, too."""
        super()._bring_back(past)
        marks = [entry.mark for entry in past]
        self._tried, self._solved = bool({*marks} - {HINT, SOLUTION, TICKED}), SOLUTION in marks
        self._hints = min(marks.count(HINT), len(self.made.hints))
        self._modeled = bool(self.made.model) and (self._solved or DONE in marks)
        marked = next((entry.points for entry in reversed(past) if entry.said), ())
        with self.control.quietly():
            for k, point in enumerate(self._points.children):
                point.value = k in marked
        self._show_help()

    @guarded
    def units_changed(self) -> None:
        super().units_changed()
        if self.made.picture:
            with matplotlib.rc_context(STYLE):
                figure = Figure(figsize=(4.6, 3.2), dpi=100)
                self.made.picture(figure)
                self._image.value = still(figure)

    # -- who learns, what is done, and which exercise of the lesson is open

    def _others(self) -> Iterator[ExercisePanel]:
        """The other open exercises of this lesson with the same learner."""
        questions = [panel for panel in list(OPEN) if isinstance(panel, ExercisePanel) and panel is not self]
        same = (self.lesson, self.progress.path)
        yield from (other for other in questions if (other.lesson, other.progress.path) == same)

    def _done(self) -> bool:
        return self._standing.done

    def _kept(self) -> None:
        entries = self._entries()
        for panel in (self, *self._others()):
            panel.tell_state(entries)

    def tell_state(self, entries: Sequence[Entry]) -> None:
        """Say in the head how this exercise and the lesson stand."""
        self._standing: Mark = mark_of(entries, self.key)
        self._shim.far = int(self._standing.done), 1
        sign = "✔ done" if self._standing.done else "not tried yet"
        if self._standing.tries and not self._standing.done:
            in_words = any(entry.mark == DONE and entry.exercise == self.key for entry in entries)
            sign = "✎ written, points not marked yet" if in_words else "✘ not right yet"
        counts = [
            f"{n} {one if n == 1 else more}"
            for n, one, more in ((self._standing.tries, "try", "tries"), (self._standing.hints, "hint", "hints"))
            if n
        ]
        done = sum(mark_of(entries, key).done for key in self._keys)
        number, of = self._keys.index(self.key) + 1, len(self._keys)
        says = [f"Exercise {number} of {of}", f"<b>{', '.join([sign, *counts])}</b>", f"{done} of {of} done"]
        who = called(self.owner)
        self._say_who()
        self._state.value = f"<div>{' · '.join([*says, html.escape(who)])}</div>"
        further = self._standing.done and self._following() is not None
        self._next.layout.display = "" if further else "none"

    @guarded
    def _who_pressed(self, button: Any) -> None:
        """Ask here who is learning, as lesson 00 does; pressed again, no more."""
        asked = self._names.children
        self._names.children = [] if asked else [LearnerPanel(self._folder)]
        for panel in asked:
            panel.close()
        self._say_who()

    def _say_who(self) -> None:
        asks = "Not you?" if self.owner.named else "Give your name"
        self._who.description = "Close" if self._names.children else asks
        self._who.layout.display = "" if self._follows and not self.folded else "none"

    def close(self) -> None:
        if not self.closed and hasattr(self, "_names"):  # not one of an unknown name
            for panel in self._names.children:
                panel.close()
        super().close()

    @property
    def folded(self) -> bool:
        """Whether only its head is shown."""
        return bool(self._body.layout.display == "none")

    def _put_away(self, away: bool) -> None:
        number = self._keys.index(self.key) + 1
        alone = len(self._keys) == 1
        self._body.layout.display = "none" if away and not alone else ""
        self._fold.layout.display = "none" if alone else ""
        self._fold.description = f"{'Open' if away else 'Close'} exercise {number}"
        self._say_who()

    @guarded
    def _fold_pressed(self, button: Any) -> None:
        if self.folded:
            self.open_alone()
        else:
            self._put_away(True)

    def open_alone(self) -> None:
        """Open it, and close the lesson's others."""
        for other in self._others():
            other._put_away(True)
        self._put_away(False)
        self._fold.focus()

    def _following(self) -> ExercisePanel | None:
        """The next exercise that is not done: one after this one, or else one before it."""
        here = self._keys.index(self.key)
        order = [*self._keys[here + 1 :], *self._keys[:here]]
        waiting = {other.key: other for other in self._others() if not other._done()}
        return next((waiting[key] for key in order if key in waiting), None)

    @guarded
    def _go_on(self, button: Any) -> None:
        following = self._following()
        if following is not None:
            following.open_alone()

    # -- from code, as a learner would by hand

    @property
    def help(self) -> str:
        """Hints and solution as they stand, as HTML."""
        return str(self._help.value)

    def hint(self) -> None:
        self._hint.click()

    def solution(self) -> None:
        self._show.click()

    def mark_points(self, *points: int) -> None:
        """Mark points of the model answer, counted from 0, as those that the learner's own answer says."""
        for k in points:
            self._points.children[k].value = True

    # -- what the buttons do

    def _judged(self, given: str, verdict: Verdict) -> None:
        self._tried = True
        said = ""
        if verdict.mark == DONE:
            self._modeled, said = True, self._said()
            self._show_help()
        self._keep(lambda: self.progress.record(self.lesson, self.key, given, verdict, said))

    def _said(self) -> str:
        boxes = self._points.children
        return said_of([k for k, box in enumerate(boxes) if box.value], len(boxes))

    @guarded
    def _ticked(self, change: Any) -> None:
        if self.control.quiet or not self._ready():
            return
        self.show_message("")
        self._show_help()
        self._keep(lambda: self.progress.record_points(self.lesson, self.key, self._said()))

    def _show_help(self) -> None:
        """Hints taken, then the solution or model answer if it was shown."""
        shown = ""
        if self._hints:
            items = "".join(f"<li>{html.escape(h)}</li>" for h in self.made.hints[: self._hints])
            last = self._hints == len(self.made.hints)
            shown = f"<ol>{items}</ol>"
            shown += "<p>No more hints: try, then ask for the worked solution.</p>" if last else ""
        if self._modeled:
            shown += f"<p><b>Model answer:</b> {html.escape(self.made.model)}</p><p>Does yours say:</p>"
        elif self._solved:
            right = [self.made.options[self.made.right]] if self.made.options else []
            steps = "".join(f"<li>{html.escape(step)}</li>" for step in (*self.made.steps, *right))
            shown += f"<p><b>Worked solution:</b></p><ol>{steps}</ol>"
        self._help.value = shown
        self._points.layout.display = "" if self._modeled else "none"
        enough = enough_said(Entry("", 0, "", "", TICKED, said=self._said()))
        says = "Your answer counts." if enough else "Mark what your answer says: with half of the points it counts."
        self._count.value = f'<div role="status">{says}</div>' if self._modeled and self._tried else ""

    @guarded
    def _hinted(self, button: Any) -> None:
        if not self._ready():
            return
        self.show_message("")
        more = self._hints < len(self.made.hints)
        self._hints += more
        self._show_help()
        if more:
            self._keep(lambda: self.progress.record_help(self.lesson, self.key, HINT))

    @guarded
    def _shown(self, button: Any) -> None:
        if not self._ready():
            return
        self.show_message("")
        if not self._tried and not self._alone.value:
            raise InputError("Worked solution", "no try yet", "an answer of your own first; a wrong one will do")
        self._solved, self._modeled = True, bool(self.made.model)
        self._show_help()
        self._keep(lambda: self.progress.record_help(self.lesson, self.key, SOLUTION))

    def _still(self) -> dict[str, str]:
        return {"image/png": base64.b64encode(self._image.value).decode("ascii")} if self.made.picture else {}


# ------------------------------------------------------------------------------------------------------ who learns
