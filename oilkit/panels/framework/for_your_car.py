"""Panels whose result belongs into the set-up of the learner's own car: shown first, written when pressed again."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

import ipywidgets

from oilkit.build.comparison import input_differences
from oilkit.build.own_car import own_file
from oilkit.build.setup_file import Build, read_set_up, write_set_up
from oilkit.errors import InputError
from oilkit.panels.framework.controls import button
from oilkit.panels.framework.instrument import acting
from oilkit.panels.framework.keeping import KeepingPanel

MOST_SHOWN = 8
"""Changed lines that are shown; of more, how many."""


class ForYourCar(KeepingPanel):
    """A panel with a button that puts its result into the set-up of the learner's own car."""

    gives: ClassVar[str]
    """What it puts there, in words."""
    beforehand: ClassVar[str] = ""
    """Sentences on what to look at before that is written."""

    def changes(self, car: Build) -> Mapping[str, Any]:
        """What changes in a set-up, by table and key. Raises `InputError` where there is nothing to give."""
        raise NotImplementedError

    def car_button(self) -> ipywidgets.Button:
        self._shown = ""
        tip = f"put {self.gives} into your car's set-up: shown first, written when you press again"
        self._to_car = button("Into your car", self._to_car_clicked, tooltip=tip)
        return self._to_car

    @acting
    def _to_car_clicked(self, pressed: Any) -> None:
        if any(control.error for control in self.controls.values()):
            raise InputError("Into your car", "a box with an error beside it", "that put right first")
        path = own_file()
        before = read_set_up(path)
        after = before.changed(self.changes(before))
        if self._shown == after.text():
            kept = write_set_up(after, path)
            self._shown = ""
            self.note(f"Written into {path.name}.{kept} Lesson 10 and the lists of all lessons follow.")
            return
        rows = [f"{row.name}: {row.first} becomes {row.second}" for row in input_differences(before, after)]
        more = f"; and {len(rows) - MOST_SHOWN} more" if len(rows) > MOST_SHOWN else ""
        if not rows:
            self.note(f"{path.name} has {self.gives} already.")
            return
        self._shown = after.text()
        shown = f"In {path.name}: {'; '.join(rows[:MOST_SHOWN])}{more}."
        self.note(" ".join(filter(None, [shown, self.beforehand, "Press again to write it."])))
