"""Questions in the notebook: predictions, exercises with hints whose answers are kept, and who is learning."""

from __future__ import annotations

import base64
import html
import textwrap
from pathlib import Path
from typing import Any, ClassVar

import ipywidgets
import matplotlib
from matplotlib.figure import Figure

from oilkit.errors import InputError
from oilkit.exercises import find, find_prediction
from oilkit.exercises.exercise import DONE, RIGHT, ROUGH, Exercise, Owner, Verdict, judge
from oilkit.exercises.gauges import still
from oilkit.exercises.progress import HINT, SOLUTION, Progress
from oilkit.panels.framework.controls import Control, alert, button, status
from oilkit.panels.framework.drawing import STYLE
from oilkit.panels.framework.instrument import Instrument, guarded
from oilkit.storage.settings import load_owner, owner_trouble, save_owner

TITLES = {"predict": "Predict", "compute": "Compute", "read": "Read", "explain": "Explain in a sentence"}


class _Box(Control):
    def __init__(self, label: str, widget: Any) -> None:
        self.box = widget
        super().__init__("answer", label, [widget])


class Question(Instrument):
    """What a prediction and an exercise share: a question, a box or a choice, Check, and what the answer is worth."""

    label: ClassVar[str] = "Your answer"
    unit_asked: ClassVar[str] = ", with its unit, such as {}"
    closed = True
    """Until it is made: one of an unknown name has nothing to close."""

    def __init__(self, made: Exercise, head: str) -> None:
        super().__init__()
        self.made, self.head = made, head
        self.mark = ""
        """What the last answer was worth; nothing before the first one and after one that was refused."""
        self._ask = ipywidgets.HTML(f"<h4>{html.escape(head)}</h4><p>{html.escape(made.question)}</p>")
        self.control = _Box(self.label, self._answer_box())
        self._check = button("Check", self._checked, "90px")
        self._feedback = ipywidgets.HTML()

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

    @guarded
    def _checked(self, button: Any) -> None:
        self.mark, self._feedback.value = "", ""
        self.control.set_error("")
        self.show_message("")
        given = self.control.box.value
        verdict = judge(self.made, given, self.label)
        self.mark = verdict.mark
        good = verdict.mark in (RIGHT, ROUGH, DONE)
        self._feedback.value = status(verdict.says) if good else alert(verdict.says)
        self._judged(str(given), verdict)

    def _judged(self, given: str, verdict: Verdict) -> None:
        """What else happens with an answer that was judged."""

    def refuse(self, problem: InputError) -> None:
        if problem.argument == self.label:
            self.control.set_error(str(problem))
        else:
            self.show_message(str(problem))

    def _summary(self) -> str:
        lines = textwrap.wrap(self.made.question, 90, initial_indent="  ", subsequent_indent="  ")
        return "\n".join([self.head, *lines, *(f"  ( ) {option}" for option in self.made.options)])


class PredictionPanel(Question):
    """A question before the panel: the reason comes as soon as the learner has committed to an answer."""

    title = "Predict before you look"
    label = "Your prediction"
    unit_asked = " ({}, if you give no unit)"

    def __init__(self, name: str) -> None:
        super().__init__(find_prediction(name), self.title)
        self.children = [self._ask, self.control, self._check, self._feedback, self._alert, self._shim]
        self.units_changed()
        if self.made.answer is not None:
            self.control.box.observe(self._entered, "value")
        self.opened()

    @guarded
    def _entered(self, change: Any) -> None:
        if change["new"].strip():
            self._checked(self._check)

    @property
    def verdict(self) -> str:
        """ "right", "wrong", "mistake", or "" before the first check and after an answer that was refused."""
        return self.mark

    def predict(self, prediction: str) -> str:
        """Answer from code, as a learner would by hand. Returns the verdict."""
        return self.answer(prediction)


class ExercisePanel(Question):
    """One exercise with the numbers of whoever is named in `LearnerPanel`; nobody needs a name."""

    title = "Exercise"

    def __init__(self, key: str, owner: Owner | None = None, folder: Path | str = "progress") -> None:
        self.maker = find(key)
        self.owner = owner if owner is not None else Owner(*load_owner())
        trouble = "" if owner is not None else owner_trouble()
        super().__init__(self.maker(self.owner), f"{TITLES[self.maker.sort]}: {self.maker.aim}")
        self.progress = Progress(self.owner, folder)
        self._tried, self._hints = False, 0
        self._shim.alt = self.made.picture_says
        pictures = []  # nothing is made that is not shown: only what is shown is closed with the panel
        if self.made.picture:
            self._image = ipywidgets.Image(format="png", layout={"max_width": "460px"})  # as it is drawn
            self._image.add_class("oilkit-picture")
            says = f"<details><summary>The picture in words</summary>{html.escape(self.made.picture_says)}</details>"
            pictures = [self._image, ipywidgets.HTML(says)]
        self._hint = button("Hint", self._hinted, "90px")
        self._show = button("Worked solution", self._shown, "150px")
        self._alone = ipywidgets.Checkbox(
            description="I learn alone: let me see it without a try", indent=False, layout={"width": "max-content"}
        )
        self._help = ipywidgets.HTML()
        self._points = ipywidgets.VBox([])
        buttons = ipywidgets.HBox([self._check, self._hint, self._show, self._alone], layout={"flex_flow": "row wrap"})
        below = [self._feedback, self._help, self._points, self._alert, self._shim]  # the boxes end the model answer
        self.children = [self._ask, *pictures, self.control, buttons, *below]
        self.units_changed()
        self.show_message(trouble)
        self.opened()

    @guarded
    def units_changed(self) -> None:
        super().units_changed()
        if self.made.picture:
            with matplotlib.rc_context(STYLE):
                figure = Figure(figsize=(4.6, 3.2), dpi=100)
                self.made.picture(figure)
                self._image.value = still(figure)

    # -- from code, as a learner would by hand

    @property
    def help(self) -> str:
        """Hints and solution as they stand, as HTML."""
        return str(self._help.value)

    def hint(self) -> None:
        self._hint.click()

    def solution(self) -> None:
        self._show.click()

    # -- what the buttons do

    def _judged(self, given: str, verdict: Verdict) -> None:
        self._tried = True
        if verdict.mark == DONE:
            self._model()
        self._keep(lambda: self.progress.record(self.maker.lesson, self.maker.key, given, verdict))

    def _model(self) -> None:
        self._help.value = f"<p><b>Model answer:</b> {html.escape(self.made.model)}</p><p>Does yours say:</p>"
        self._points.children = [
            ipywidgets.Checkbox(description=point, indent=False, layout={"width": "max-content"})
            for point in self.made.points
        ]

    @guarded
    def _hinted(self, button: Any) -> None:
        self.show_message("")
        if self._hints < len(self.made.hints):
            self._hints += 1
            self._keep(lambda: self.progress.record_help(self.maker.lesson, self.maker.key, HINT))
        items = "".join(f"<li>{html.escape(h)}</li>" for h in self.made.hints[: self._hints])
        last = (
            "" if self._hints < len(self.made.hints) else "<p>No more hints: try, then ask for the worked solution.</p>"
        )
        self._help.value = f"<ol>{items}</ol>{last}"

    @guarded
    def _shown(self, button: Any) -> None:
        self.show_message("")
        if not self._tried and not self._alone.value:
            raise InputError("Worked solution", "no try yet", "an answer of your own first; a wrong one will do")
        if self.made.model:
            self._model()
        else:
            right = f"<li>{html.escape(self.made.options[self.made.right])}</li>" if self.made.options else ""
            self._help.value = "<ol>" + "".join(f"<li>{html.escape(s)}</li>" for s in self.made.steps) + right + "</ol>"
        self._keep(lambda: self.progress.record_help(self.maker.lesson, self.maker.key, SOLUTION))

    def _keep(self, write: Any) -> None:
        try:
            write()
        except OSError as problem:
            self.show_message(
                f"Your answer was judged but could not be kept ({problem.strerror or type(problem).__name__})."
            )
        else:
            self.show_message(self.progress.told)

    def _still(self) -> dict[str, str]:
        return {"image/png": base64.b64encode(self._image.value).decode("ascii")} if self.made.picture else {}


class LearnerPanel(Instrument):
    """Class and name, if you like: they give you numbers of your own, and a file that keeps your answers."""

    title = "Who is learning?"

    def __init__(self) -> None:
        super().__init__()
        group, learner = load_owner()
        self.group = _Box("Class (may stay empty)", ipywidgets.Text(value=group, continuous_update=False))
        self.learner = _Box("Name (may stay empty)", ipywidgets.Text(value=learner, continuous_update=False))
        self._button = button("Remember", self._remember, "110px")
        self._told = ipywidgets.HTML()
        says = ipywidgets.HTML(
            f"<h4>{self.title}</h4><p>With a class and a name the exercises have numbers of your own; the same names "
            "give the same on every machine. Without, everybody has the same. Nothing else about you is kept.</p>"
        )
        self.children = [says, self.group, self.learner, self._button, self._told, self._alert, self._shim]
        self.show_message(owner_trouble())
        self.opened()

    @guarded
    def _remember(self, button: Any) -> None:
        self.show_message("")
        self._told.value = ""
        problem = save_owner(self.group.box.value, self.learner.box.value)
        if problem:
            self.show_message(problem)
            return
        self._told.value = status("Remembered. Run the exercise cells again to have your numbers.")

    def _summary(self) -> str:
        return f"{self.title}\n  class and name, which may stay empty: they give your exercises numbers of your own"
