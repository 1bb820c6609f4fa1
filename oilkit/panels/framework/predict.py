"""Predict before you look: a question that keeps its answer until the learner has committed to one."""

from __future__ import annotations

import dataclasses
import html
import math
import textwrap
from collections.abc import Sequence
from typing import Any

import ipywidgets

from oilkit.errors import InputError
from oilkit.panels.framework.base import Instrument, guarded
from oilkit.panels.framework.controls import Control, alert
from oilkit.quantities.kinds import Kind
from oilkit.quantities.printed import kind_for
from oilkit.quantities.typed import has_unit, parse
from oilkit.quantities.units import Qty, unit_switch


class _Answer(Control):
    """A box for a number with its unit."""

    def __init__(self, label: str) -> None:
        self.box = ipywidgets.Text(layout={"width": "160px", "margin": "0 0 0 8px"}, continuous_update=False)
        super().__init__("answer", label, [self.box])


class _Pick(Control):
    """One of several sentences, none chosen at the start."""

    def __init__(self, label: str, options: Sequence[str]) -> None:
        self.box = ipywidgets.RadioButtons(options=list(options), value=None, layout={"width": "max-content"})
        super().__init__("answer", label, [self.box])


class Prediction(Instrument):
    """One question. The learner answers, presses Check, and is told whether the package agrees, and why.

    Give either ``answer`` (a quantity; checked within ``within``, a fraction) with the ``mistakes`` to recognise as
    pairs of wrong quantity and sentence, or ``options`` with the index of the right one in ``right``.
    """

    title = "Predict before you look"

    def __init__(
        self,
        question: str,
        why: str,
        answer: Qty | None = None,
        within: float = 0.03,
        mistakes: Sequence[tuple[Qty, str]] = (),
        options: Sequence[str] = (),
        right: int = 0,
    ) -> None:
        super().__init__()
        self.question, self.why, self.answer, self.within = question, why, answer, within
        self.mistakes, self.options, self.right = list(mistakes), list(options), right
        self.verdict = ""
        """"right", "wrong", "mistake" or "" before the first check."""
        self.control: _Answer | _Pick
        if answer is not None:
            self.kind: Kind | None = kind_for(answer)
            if self.kind is None:
                raise InputError("answer", f"{answer}", "a quantity of a kind that the kit knows")
            self._free = dataclasses.replace(
                self.kind, low=-math.inf, high=math.inf
            )  # a wrong answer may be impossible
            self.control = _Answer("Your prediction")
        else:
            self.kind = None
            self.control = _Pick("Your prediction", options)
        self.units_changed()
        self._check = ipywidgets.Button(description="Check", layout={"width": "90px"})
        self._check.on_click(self._checked)
        self._feedback = ipywidgets.HTML()
        ask = ipywidgets.HTML(f"<h4>{html.escape(self.title)}</h4><p>{html.escape(question)}</p>")
        self.children = [ask, self.control, self._check, self._feedback, self._alert, self._shim]
        if self.answer is not None:
            self.control.box.observe(self._entered, "value")
        self.opened()

    @guarded
    def units_changed(self) -> None:
        if self.kind is not None:
            unit = self.kind.label()
            self.control.caption(f"Your prediction ({unit}, if you give no unit)" if unit else "Your prediction")

    @guarded
    def _entered(self, change: Any) -> None:
        if change["new"].strip():
            self._checked(self._check)

    def predict(self, prediction: str) -> str:
        """Answer from code, as a learner would by hand. Returns the verdict."""
        self.control.box.value = prediction
        self._check.click()
        return self.verdict

    @property
    def feedback(self) -> str:
        """What the learner was told, as HTML."""
        return str(self._feedback.value)

    @guarded
    def _checked(self, button: Any) -> None:
        self.verdict, self._feedback.value = "", ""
        self.control.set_error("")
        self.show_message("")
        given = self.control.box.value
        if self.answer is None:
            self._judge_choice(given)
        else:
            self._judge_number(str(given))

    def refuse(self, problem: InputError) -> None:
        self.control.set_error(str(problem))

    def _judge_choice(self, given: Any) -> None:
        if given is None:
            raise InputError("Your prediction", "no choice yet", "one of the sentences above")
        if given == self.options[self.right]:
            self._say("right", f"Right. {self.why}")
        else:
            self._say("wrong", f"No. The right one: {self.options[self.right]}. {self.why}")

    def _judge_number(self, given: str) -> None:
        assert self.kind is not None
        assert self.answer is not None
        value = parse("Your prediction", given, self._free)
        truth = float(self.answer.to(self.kind.si).m)
        if self._close(value, truth):
            self._say("right", f"Right: {self.kind.both(truth)}. {self.why}")
            return
        for wrong, sentence in self.mistakes:
            if self._close(value, float(wrong.to(self.kind.si).m)):
                self._say("mistake", f"{sentence} The kit's answer is {self.kind.both(truth)}. {self.why}")
                return
        other = "SI" if unit_switch.system == "US" else "US"
        if not has_unit(given) and self._close(float(self.kind.from_display(self.kind.display(value), other)), truth):
            read_as, meant = self.kind.label(), f"{given.strip()} {self.kind.label(other)}"
            self._say("mistake", f"{meant} is right, but a number alone is read in {read_as} here. Type the unit too.")
            return
        way = "too high" if value > truth else "too low"
        self._say("wrong", f"{self.kind.text(value)} is {way}. The kit's answer is {self.kind.both(truth)}. {self.why}")

    def _close(self, value: float, target: float) -> bool:
        assert self.kind is not None
        rounding = 0.51 * 10.0 ** -self.kind.digits() * abs(self.kind.from_display(1.0) - self.kind.from_display(0.0))
        return bool(abs(value - target) <= max(self.within * abs(target), rounding))

    def _say(self, verdict: str, text: str) -> None:
        self.verdict = verdict
        self._feedback.value = f'<div role="status">{html.escape(text)}</div>' if verdict == "right" else alert(text)

    def _summary(self) -> str:
        question = textwrap.wrap(self.question, 90, initial_indent="  ", subsequent_indent="  ")
        return "\n".join([self.title, *question, *(f"  ( ) {option}" for option in self.options)])
