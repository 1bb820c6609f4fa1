"""A form: a control of many boxes under one sentence, in which a box keeps what was refused until it is put right."""

from __future__ import annotations

from typing import Any

import ipywidgets

from oilkit.panels.framework.controls import Control


class Form(Control):
    """Boxes by their keys, tried when the panel collects; the sentence stands above them, where it is seen."""

    def __init__(self, name: str, label: str, *rows: ipywidgets.Widget) -> None:
        self._waiting: list[str] = []
        self._bad: dict[str, Any] = {}
        self.boxes: dict[str, Any] = {}
        super().__init__(name, label, list(rows))
        self.add_class("oilkit-form")
        widget: Any = self
        title, form, error = widget.children
        widget.children = (title, error, form)

    def text_box(self, key: str, words: str, text: str = "", **look: Any) -> Any:
        """A box to type in, which waits for the panel once it was typed in."""
        box = ipywidgets.Text(value=text, description=words, continuous_update=False, layout={"width": "auto"}, **look)
        return self.listened(key, box)

    def listened(self, key: str, box: Any) -> Any:
        """The same box; what is put into it by hand is tried when the panel collects."""
        box.style.description_width = "auto"
        box.observe(lambda change: self._typed(key), "value")
        return box

    def _typed(self, key: str) -> None:
        if not self.quiet:
            self._waiting.append(key)
            self._report()

    def forget(self) -> None:
        """Nothing waits, and nothing was refused."""
        self._bad.clear()
        self._waiting.clear()
        self.refused = False
