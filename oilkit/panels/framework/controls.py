"""Controls: a named value with its unit, moved with a slider or typed, with its own error line beside it.

The true value is kept in SI. Switching units shows the same value in the other unit; nothing is rounded on the way.
"""

from __future__ import annotations

import asyncio
import html
import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any, ClassVar, Self

import ipywidgets
import traitlets

from oilkit.errors import InputError
from oilkit.quantities.kind import Kind
from oilkit.quantities.kinds import one_to_si
from oilkit.quantities.typed import parse
from oilkit.quantities.units import Qty


def alert(text: str) -> str:
    """A sentence that a screen reader speaks at once; nothing for an empty text."""
    return f'<div role="alert">{html.escape(text)}</div>' if text else ""


def status(text: str) -> str:
    """A sentence that a screen reader speaks when it comes to it; nothing for an empty text."""
    return f'<div role="status">{html.escape(text)}</div>' if text else ""


def button(text: str, act: Callable[[Any], None], width: str = "auto", **more: Any) -> ipywidgets.Button:
    """A button that does something when it is pressed."""
    made = ipywidgets.Button(description=text, layout={"width": width}, **more)
    made.on_click(act)
    return made


@contextmanager
def named(argument: str, got: str = "{got}") -> Iterator[None]:
    """Name what is refused in here after a control.

    got: how to say what came, of the refusal's own ``{argument}`` and ``{got}``; ``{place}`` is what the argument says
    beyond the control's name, such as ``line 3: ``.
    """
    try:
        yield
    except InputError as problem:
        where = problem.argument.removeprefix(argument).removeprefix(", ")
        place = f"{where}: " if where else ""
        came = got.format(argument=problem.argument, got=problem.got, place=place)
        raise InputError(argument, came, problem.wanted) from None


class Slider(ipywidgets.FloatSlider):
    """A slider whose ends and steps reach the browser before its value, which would else be rounded to the old ones.

    Nor does the kernel tell the browser again the value that just came from there: a message less on every move. Where
    a lesson stands in two tabs the other one is told, once the slider rests.
    """

    in_two_tabs: ClassVar[bool] = False
    value = traitlets.CFloat(0.0).tag(sync=True, echo_update=False)

    def send_state(self, key: Any = None) -> None:
        if key is not None and not isinstance(key, str):
            key = sorted(key, key=lambda name: (name == "value", name))
        super().send_state(key)


class Control(ipywidgets.VBox):
    """Base of all controls: a name, a widget, an error line. ``value`` is what the panel computes with."""

    def __init__(self, name: str, label: str, parts: Sequence[Any]) -> None:
        self.name, self.label = name, label
        self.moved: Callable[[Control], None] = lambda control: None
        self.quiet = False
        self._timer: asyncio.TimerHandle | None = None
        self._title = ipywidgets.HTML(layout={"margin": "0"})
        self._title.add_class("oilkit-name")
        self._error = ipywidgets.HTML(layout={"display": "none", "margin": "0"})
        self._error.add_class("oilkit-error")
        row = ipywidgets.HBox(list(parts), layout={"align_items": "center", "overflow": "hidden"})
        row.add_class("oilkit-row")
        super().__init__([self._title, row, self._error], layout={"overflow": "hidden"})
        self.add_class("oilkit-control")
        self.add_class(f"oilkit-of-{name}")
        self.caption(label)

    def caption(self, text: str) -> None:
        self._title.value = html.escape(text)

    @property
    def value(self) -> Any:
        raise NotImplementedError

    @property
    def error(self) -> str:
        """The sentence beside this control, if any."""
        return self._error_text

    _error_text = ""

    def set_error(self, sentence: str) -> None:
        """Show a sentence beside this control; an empty one takes it away."""
        if sentence == self._error_text:
            return
        self._error_text = sentence
        self._error.value = alert(sentence)
        self._error.layout.display = "" if sentence else "none"

    leads: Callable[[dict[str, Control]], None] | None = None
    """What else moves when the learner has moved this control, among all of its panel by their names."""
    of_a_car = ""
    """What of a car it is, in `choices.OF_A_CAR`, where its name does not say so."""
    counts: Callable[[Any], bool] | None = None

    def shown_if(self, counts: Callable[[Any], bool]) -> Self:
        """Show this control only while it has an effect. counts: says so, of the controls' values by their names."""
        self.counts = counts
        return self

    def appear(self, setting: Any) -> None:
        """Show it or leave it out, as `shown_if` was told."""
        if self.counts is None:
            return
        display = "" if self.counts(setting) else "none"
        if display and self.refused:
            self.set_si(self.value)  # what was refused does not wait in there
            self.set_error("")
        self.layout.display = display

    trouble = ""
    """A sentence about what it offers, for the panel to say when it opens."""
    start: Any = None
    """The value that `reset` comes back to."""
    refused = False
    """Whether what stands in the control's own box was refused and is not the value in use."""

    def set(self, value: Any) -> None:
        """Put the control at a value as a learner would name it. Raises `InputError`. Reports no move."""
        self.set_si(value)

    def set_si(self, value: Any) -> None:
        """Put the control at one of its own values, as `value` returns them. Reports no move."""
        raise NotImplementedError

    def reset(self) -> None:
        """Back to the value it opened with."""
        self.set_si(self.start)

    @property
    def kept(self) -> Any:
        """The value as JSON can hold it."""
        return self.value

    def take_back(self, kept: Any) -> None:
        """Put the control at what was `kept`. Reports no move."""
        self.set_si(kept)

    def units_changed(self) -> None:
        """Show the same value in the other unit."""

    def collect(self) -> None:
        """Take over what the learner typed, if anything waits. Raises `InputError`."""

    @contextmanager
    def quietly(self) -> Iterator[None]:
        """What is set in here was not moved by the learner: no move is reported."""
        self.quiet = True
        try:
            yield
        finally:
            self.quiet = False

    def _report(self) -> None:
        if not self.quiet:
            self.moved(self)

    def _soon(self, show: Callable[[], None]) -> None:
        """Let the picture, which the learner watches, go first; while a slider is dragged, boxes wait for a rest."""
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None
        try:
            self._timer = asyncio.get_running_loop().call_later(0.1, show)
        except RuntimeError:  # no event loop: in a script or a test
            show()


class Amount(Control):
    """A quantity on a slider, with a box to type it: ``34.7``, ``34.7 psi`` or ``2.4 bar``."""

    def __init__(
        self,
        name: str,
        label: str,
        kind: Kind,
        low: Any,
        high: Any,
        start: Any,
        step: tuple[float, float],
        typed: bool = True,
    ) -> None:
        self.kind = kind
        self.low, self.high, self.start = (one_to_si(label, value, kind) for value in (low, high, start))
        self._value = self.start
        self._step = step
        self._waiting = False
        self._shown = 0.0
        self.slider = Slider(readout=False, layout={"width": "auto", "flex": "1 1 120px", "margin": "0 8px"})
        self.box: Any = ipywidgets.Text(continuous_update=False, layout={"width": "104px"}) if typed else None
        super().__init__(name, label, [self.slider, self.box] if typed else [self.slider])
        self.units_changed()
        self.slider.observe(self._slid, "value")
        if self.box is not None:
            self.box.observe(self._typed, "value")

    @property
    def value(self) -> float:
        """The value in SI."""
        return float(self._value)

    @property
    def quantity(self) -> Qty:
        """The value as a quantity."""
        return self.kind.quantity(self._value)

    def set(self, value: Any) -> None:
        self.set_si(self._inside(one_to_si(self.label, value, self.kind)))

    def set_si(self, value: Any) -> None:
        self._value = min(max(float(value), self.low), self.high)
        self._show()

    def units_changed(self) -> None:
        us = self.kind.unit() == self.kind.us
        low, high = (float(self.kind.display(end)) for end in (self.low, self.high))
        with self.quietly(), self.slider.hold_sync():  # one message
            self.slider.min, self.slider.max = min(low, self.slider.min), max(high, self.slider.max)
            self.slider.value = float(self.kind.display(self._value))
            self.slider.min, self.slider.max = low, high
            self.slider.step = self._step[0 if us else 1]
            self._shown = self.slider.value = self._on_the_grid()
        self.caption(f"{self.label} ({self.kind.label()})" if self.kind.label() else self.label)
        self._show()

    def fit_to(self, value: float) -> None:
        """Put it at a value in SI, its ends far enough apart to show it as it is."""
        self.low, self.high = min(self.low, value), max(self.high, value)
        self.set_si(value)
        self.units_changed()

    def drag(self, value: float) -> None:
        """Put it at the step nearest to where a hand has dragged what shows it, in SI."""
        self.set_si(value)
        self.set_si(self.kind.from_display(self.slider.value))

    def _inside(self, number: float) -> float:
        slack = 1e-9 * max(abs(self.low), abs(self.high))
        if not self.low - slack <= number <= self.high + slack:
            limits = f"{self.kind.text(self.low)} to {self.kind.text(self.high)}"
            raise InputError(self.label, self.kind.unlike(number, self.low, self.high), limits)
        return float(min(max(number, self.low), self.high))

    def _show(self) -> None:
        with self.quietly():
            self._shown = self.slider.value = self._on_the_grid()
        self._show_text()

    def _on_the_grid(self) -> float:
        """Where the slider can stand for the present value.

        Anything else the browser would round to its steps and report back as if the learner had moved it. The sum is
        done in the browser's own order, in per cent of the range, so that not even the last bit differs.
        """
        low, span = self.slider.min, self.slider.max - self.slider.min
        place = (float(self.kind.display(self._value)) - low) * 100.0 / span
        if place != 100.0:
            step = self.slider.step * 100.0 / span
            place = min(max(math.floor(place / step + 0.5) * step, 0.0), 100.0)
        return float(min(max(place * span / 100.0 + low, low), self.slider.max))

    def _slid(self, change: Any) -> None:
        if self.quiet or abs(change["new"] - self._shown) < 1e-6 * self.slider.step:
            return  # the browser repeats what it was told, rounded its own way
        self._shown = float(change["new"])
        number = float(self.kind.from_display(float(change["new"])))
        self._value = min(max(number, self.low), self.high)
        self._waiting = self.refused = False
        self._report()
        self._soon(self._at_rest)

    def _at_rest(self) -> None:
        self._show_text()
        if Slider.in_two_tabs:
            self.slider.send_state("value")

    def _typed(self, change: Any) -> None:
        if not self.quiet:
            self._waiting = True
            self._report()

    def collect(self) -> None:
        if self._waiting:
            self._waiting = False
            self.refused = True
            self._value = self._inside(parse(self.label, self.box.value, self.kind))
            self._show()

    def _show_text(self) -> None:
        if self.box is None:
            return
        self.refused = False
        with self.quietly():
            self.box.value = self.kind.text(self._value)


class Choice(Control):
    """One of a few named options, as a row of buttons or, with many, a list. A text alone stands for itself.

    start: the value that it opens with, if not the first one's.
    """

    def __init__(
        self, name: str, label: str, options: Iterable[tuple[str, Any] | str], listed: bool = False, start: Any = None
    ) -> None:
        self.options: list[tuple[str, Any]] = [
            (option, option) if isinstance(option, str) else option for option in options
        ]
        make = ipywidgets.Dropdown if listed else ipywidgets.ToggleButtons
        layout = {"width": "auto", "max_width": "100%", "margin": "0"}
        self.buttons = make(options=[text for text, _ in self.options], layout=layout)
        if not listed:
            self.buttons.style.button_width = "auto"
        super().__init__(name, label, [self.buttons])
        self.add_class("oilkit-inline")
        if start is not None:
            self.set_si(start)
        self.buttons.observe(lambda change: self._report(), "value")

    @property
    def value(self) -> Any:
        return dict(self.options)[self.buttons.value]

    @property
    def kept(self) -> str:
        return str(self.buttons.value)

    def take_back(self, kept: Any) -> None:
        self.set(kept)

    def set(self, value: Any) -> None:
        """Choose by the option's text or by its value."""
        for text, option in self.options:
            if isinstance(value, str) and value == text:
                value = option
        if not any(value is option or value == option for _, option in self.options):
            raise InputError(self.label, repr(value), " or ".join(text for text, _ in self.options))
        self.set_si(value)

    def set_si(self, value: Any) -> None:
        with self.quietly():
            self.buttons.value = next(text for text, option in self.options if option is value or option == value)


class Lines(Control):
    """Several lines of text, such as readings, one a line. ``value`` is the text."""

    def __init__(self, name: str, label: str, start: str, rows: int = 8) -> None:
        self.start = start
        self.area = ipywidgets.Textarea(
            value=start, rows=rows, continuous_update=False, layout={"width": "100%", "margin": "0"}
        )
        super().__init__(name, label, [self.area])
        self.area.observe(lambda change: self._report(), "value")

    @property
    def value(self) -> str:
        return str(self.area.value)

    def set(self, value: Any) -> None:
        if not isinstance(value, str):
            raise InputError(self.label, f"a {type(value).__name__}", "lines of text")
        self.set_si(value)

    def set_si(self, value: Any) -> None:
        with self.quietly():
            self.area.value = value


class More(ipywidgets.VBox):
    """Controls that are rarely used, behind a button that says how many they are."""

    def __init__(self, controls: Sequence[Control]) -> None:
        self._inside = ipywidgets.VBox(list(controls))
        self._switch = button("", lambda pressed: self.unfold(not self.is_open))
        super().__init__([self._switch, self._inside])
        self.add_class("oilkit-more")  # `shim.js` tells a screen reader whether it is open
        self.unfold(False)

    def unfold(self, wide: bool = True) -> None:
        """Show what is in it, or fold it away."""
        self.is_open = wide
        self._inside.layout.display = "" if wide else "none"
        self.count()

    def count(self) -> None:
        """Say how many of the controls have an effect now."""
        number = sum(control.layout.display != "none" for control in self._inside.children)
        self._switch.description = f"Fewer controls (− {number})" if self.is_open else f"More controls (+ {number})"
        self._switch.layout.display = "" if number else "none"
