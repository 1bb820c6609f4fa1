"""What a panel asks its learner to do: one step after the other, each ticked when inputs and results fulfill it."""

from __future__ import annotations

import html
from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple

from oilkit.panels.framework.bound import Source, State, of
from oilkit.quantities.units import Q

DONE, WHO = "Do", "Do, by"
"""Among the settings that the browser keeps, how many steps are done, and by whom; no control has such a name."""


class Step(NamedTuple):
    """A sentence or two, and whether a state does what they ask.

    What fulfills a step must not fulfill the one after it too: a learner would never see that one.
    """

    text: str
    done: Callable[[State], Any]


def between(source: Source, low: float, high: float, unit: str = "") -> Callable[[State], bool]:
    """Whether a result or input lies between two numbers of a unit; a tick more than the slider's step wide."""
    number = of(source)
    ends = [Q(end, unit).to_base_units().m for end in (low, high)]
    return lambda state: bool(ends[0] <= number(state) <= ends[1])


def is_called(source: str, *beginnings: str) -> Callable[[State], bool]:
    """Whether the thing chosen has a name that begins so."""
    thing = of(source)
    return lambda state: str(getattr(thing(state), "name", thing(state))).startswith(beginnings)


def is_chosen(source: Source, *values: Any) -> Callable[[State], bool]:
    """Whether a result or a choice is one of these values."""
    value = of(source)
    return lambda state: value(state) in values


def both(*conditions: Callable[[State], Any]) -> Callable[[State], bool]:
    """Whether all of these hold."""
    return lambda state: all(condition(state) for condition in conditions)


class Steps:
    """A panel's steps, and how many of them are done."""

    def __init__(self, steps: Sequence[Step]) -> None:
        self._steps = tuple(steps)
        self.done = 0

    def look(self, state: State) -> None:
        """Tick the step whose turn it is, if this state fulfills it: one at a time, so that each is read."""
        if self.done < len(self._steps) and self._steps[self.done].done(state):
            self.done += 1

    def kept(self, who: str) -> dict[str, Any]:
        """What the browser keeps of them. who: a digest of who did them."""
        return {DONE: self.done, WHO: who}

    def take_back(self, settings: Mapping[str, Any], who: str) -> dict[str, Any]:
        """So many were done before, by the same learner or before one gave a name. Returns the other settings; none
        where they are somebody else's, who had this laptop before."""
        if settings.get(WHO, "") not in ("", who):
            return {}
        self.done = max(self.done, min(int(settings.get(DONE, 0)), len(self._steps)))
        return {name: kept for name, kept in settings.items() if name not in (DONE, WHO)}

    @property
    def far(self) -> tuple[int, int]:
        """How many are done, and of how many."""
        return self.done, len(self._steps)

    def html(self) -> str:
        """The step done last, for its question may still be open, and the next one; nothing without steps."""
        shown = range(max(self.done - 1, 0), min(self.done + 1, len(self._steps)))
        lines = "".join(
            f"<p><b>{'✓ ' if k < self.done else ''}Do {k + 1} of {len(self._steps)}"
            f"{', done' if k < self.done else ''}:</b> {html.escape(self._steps[k].text)}</p>"
            for k in shown
        )
        return f'<div class="oilkit-steps">{lines}</div>' if lines else ""

    def text(self) -> str:
        """All of them in plain lines, for a reader without a kernel."""
        return "".join(f"\nDo {k}: {step.text}" for k, step in enumerate(self._steps, 1))
