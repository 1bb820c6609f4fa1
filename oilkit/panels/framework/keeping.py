"""Panels that save and load: a line that says what was saved where, and readings that are kept beside the lesson."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import ipywidgets

from oilkit.errors import InputError
from oilkit.panels.framework.base import Panel
from oilkit.panels.framework.controls import button, named, status
from oilkit.panels.framework.instrument import acting, guarded
from oilkit.storage.saving import saved_where, write_keeping_earlier
from oilkit.storage.textfile import LARGEST, read_text


class KeepingPanel(Panel):
    """A panel with a line that says what was saved or loaded, until anything else is done or refused."""

    def make_note(self) -> ipywidgets.HTML:
        self._note = ipywidgets.HTML()
        return self._note

    def note(self, sentence: str) -> None:
        """Say what was saved or loaded; an empty text takes it away."""
        self._note.value = status(sentence)

    def refuse(self, problem: InputError) -> None:
        self.note("")
        super().refuse(problem)

    def alarm(self, problem: BaseException) -> None:
        self.note("")
        super().alarm(problem)

    def _refresh(self) -> None:
        self.note("")
        super()._refresh()


class ReadingsPanel(KeepingPanel):
    """A panel whose control `readings` can be saved into a file beside the lesson, and loaded from it."""

    file: Path

    def extra_controls(self) -> Sequence[ipywidgets.Widget]:
        self._save = button("Save readings", self._save_clicked)
        self._load = button("Load saved readings", self._load_clicked)
        return [ipywidgets.HBox([self._save, self._load]), self.make_note()]

    def text_to_save(self) -> str:
        """The file's content for what stands in the controls. Raises `InputError` if it is of no use."""
        raise NotImplementedError

    def take_saved(self, text: str) -> str:
        """Put the controls as a file says. Returns what else the learner should know, a sentence or nothing."""
        self.controls["readings"].set_si(text)
        return ""

    @acting
    def _save_clicked(self, button: Any) -> None:
        text = self.text_to_save()
        try:
            kept = write_keeping_earlier(self.file, text)
        except OSError as problem:
            raise InputError("Save readings", f"“{problem.strerror}”", "a folder that can be written") from None
        self.show_message("")
        self.note(f"Saved {saved_where(self.file)}.{kept}")

    @guarded
    def _load_clicked(self, button: Any) -> None:
        with named("Load saved readings", f"no readable {self.file.name} ({{got}})"):
            kept = read_text(self.file, LARGEST, "readings saved before")
        before = {name: control.value for name, control in self.controls.items()}
        try:
            more = self.take_saved(kept)
            self._refresh()
        except InputError:
            for name, value in before.items():
                self.controls[name].set_si(value)
            raise
        self.note(f"Loaded from {self.file.name}.{more}")
