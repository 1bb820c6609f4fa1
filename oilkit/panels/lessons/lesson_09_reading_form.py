"""What a learner read, in a form: a control of lesson 09's panels."""

from __future__ import annotations

from typing import Any

import ipywidgets

from oilkit.errors import InputError
from oilkit.panels.framework.form import Form
from oilkit.quantities.kinds import one_to_si
from oilkit.quantities.typed import parse
from oilkit.shop.as_built import LAMP, READINGS, SHOP_TESTS, shown


def reading_text(name: str, value: float) -> str:
    """A reading in SI as the learner reads it."""
    kind = READINGS[name].kind
    return kind.text(value) if kind else str(shown(name, value))


class ReadingForm(Form):
    """A box for each reading of the card, empty where nothing was read. ``value``: SI numbers by name."""

    def __init__(self, name: str, label: str) -> None:
        self._known: dict[str, float] = {}
        rows = ipywidgets.VBox()
        super().__init__(name, label, rows)
        for reading in (reading for test in SHOP_TESTS.values() for reading in test.readings):
            self.boxes[reading] = self.text_box(reading, READINGS[reading].label, placeholder="not read")
        rows.children = list(self.boxes.values())

    @property
    def value(self) -> dict[str, float]:
        return dict(self._known)

    def set(self, value: Any) -> None:
        """Readings by name: quantities, or for a lamp "lit" or "dark"; what is not named is not read."""
        if not isinstance(value, dict):
            raise InputError(self.label, f"a {type(value).__name__}", "a dictionary of readings by name")
        known = {}
        for name, reading in value.items():
            if name not in READINGS:
                raise InputError(self.label, repr(name), " or ".join(READINGS))
            kind = READINGS[name].kind
            if kind is None:
                known[name] = _lamp(READINGS[name].label, reading)
            else:
                known[name] = one_to_si(READINGS[name].label, reading, kind)
        self.set_si(known)

    def set_si(self, value: Any) -> None:
        self._known = {name: float(number) for name, number in value.items()}
        self.forget()
        self._soon(self._show_all)

    def units_changed(self) -> None:
        self._bad.clear()
        self.refused = False
        self._show_all()

    def _show_all(self) -> None:
        for name in self.boxes:
            if name not in self._bad:
                self._show(name)

    def _show(self, name: str) -> None:
        with self.quietly():
            self.boxes[name].value = reading_text(name, self._known[name]) if name in self._known else ""

    def collect(self) -> None:
        waiting, self._waiting = self._waiting, []
        fresh = None
        for name in waiting:
            try:
                self._take(name)
                self._bad.pop(name, None)
            except InputError as problem:
                self._bad[name] = fresh = InputError(
                    self.label, f"{problem.got} for “{READINGS[name].label}”", problem.wanted
                )
        self.refused = bool(self._bad)
        if fresh is not None:
            raise fresh
        if self._bad:  # another box still holds what was refused
            self.set_error(str(next(iter(self._bad.values()))))

    def _take(self, name: str) -> None:
        text, kind = self.boxes[name].value, READINGS[name].kind
        if not text.strip():
            self._known.pop(name, None)
        else:
            self._known[name] = parse(self.label, text, kind) if kind else _lamp(self.label, text)
        self._show(name)


def _lamp(argument: str, word: Any) -> float:
    if not isinstance(word, str) or word.strip().lower() not in LAMP:
        raise InputError(argument, f"“{word}”", " or ".join(LAMP))
    return float(word.strip().lower() == LAMP[0])
