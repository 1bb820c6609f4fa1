"""Who is learning: class and name, from the class list or typed, alone or two at one laptop; and the next learner."""

from __future__ import annotations

import html
from pathlib import Path
from typing import Any

import ipywidgets

from oilkit.errors import InputError
from oilkit.exercises.class_list import read_class, together
from oilkit.exercises.exercise import NOBODY, Owner
from oilkit.exercises.progress import Progress
from oilkit.panels.framework.controls import button, status
from oilkit.panels.framework.instrument import OPEN, Instrument, guarded
from oilkit.panels.framework.question import Box, Question, called, look_who_learns
from oilkit.storage.settings import load_owner, owner_trouble, save_owner
from oilkit.storage.users import CLASS_LIST

CHOOSE, OTHER, ALONE = "choose your name", "my name is not on the list", "nobody, I work alone"


class LearnerPanel(Instrument):
    """Class and name, if you like: they give you numbers of your own, and a file that keeps your answers.

    folder: where the answers are kept; class_list: the teacher's list, from which a name is picked if it is there.
    """

    title = "Who is learning?"

    def __init__(self, folder: Path | str | None = None, class_list: Path | str = CLASS_LIST) -> None:
        super().__init__()
        self._folder = folder
        self.list, trouble = _listed(class_list)
        group, learner = load_owner()
        self.group = Box("Class (may stay empty)", ipywidgets.Text(continuous_update=False))
        self.learner = Box("Name (may stay empty)", ipywidgets.Text(continuous_update=False))
        names = [owner.learner for owner in self.list]
        self.pick = Box("Name", ipywidgets.Dropdown(options=[CHOOSE, *names, OTHER]))
        self.partner = Box("Two at this laptop: with whom?", ipywidgets.Dropdown(options=[ALONE, *names]))
        self._button = button("Remember", self._remember, "110px")
        self._switch = button("Switch learner", self._switched, "130px")
        self._now, self._told = ipywidgets.HTML(), ipywidgets.HTML()
        self._asked = ipywidgets.HTML()
        answers = [button("Yes, they are mine", self._taken, "160px"), button("No, leave them", self._left, "130px")]
        self._offer = ipywidgets.VBox([self._asked, ipywidgets.HBox(answers)], layout={"display": "none"})
        says = ipywidgets.HTML(
            f"<h4>{self.title}</h4><p>With a class and a name the exercises have numbers of your own; the same names "
            "give the same on every machine. Without, everybody has the same. Nothing else about you is kept. Two at "
            "one laptop are one learner: Ana + Ben.</p>"
        )
        buttons = ipywidgets.HBox([self._button, self._switch])
        below = [buttons, self._told, self._offer, self._alert, self._shim]
        self.children = [says, self._now, self.pick, self.partner, self.group, self.learner, *below]
        self._show(Owner(group, learner))
        self.pick.box.observe(self._picked, "value")
        self.show_message(owner_trouble() or trouble)
        self.opened()

    def _show(self, owner: Owner) -> None:
        """Put this learner into the boxes, and say that this one learns here."""
        self.owner = owner
        self.group.box.value, self.learner.box.value = owner.group, owner.learner
        names = [one.learner for one in self.list if one.group == owner.group]
        both = [name for name in names if name in owner.learner.split(" + ")]
        listed = owner.learner and together(*both) == owner.learner
        self.pick.box.value = both[0] if listed else OTHER if owner.learner else CHOOSE
        self.partner.box.value = both[1] if listed and len(both) == 2 else ALONE
        now = f"Now learning here: <b>{html.escape(called(owner))}</b>." if owner.named else "Nobody has given a name."
        self._now.value = f"<p>{now}</p>"
        self._switch.layout.display = "" if owner.named else "none"
        self._show_fields()

    def _show_fields(self) -> None:
        typed = not self.list or self.pick.box.value == OTHER
        self.group.layout.display = self.learner.layout.display = "" if typed else "none"
        self.partner.layout.display = "none" if typed else ""
        self.pick.layout.display = "" if self.list else "none"

    @guarded
    def _picked(self, change: Any) -> None:
        if change["new"] == OTHER and self.list and not self.group.box.value:
            self.group.box.value = self.list[0].group
        self._show_fields()

    def _given(self) -> Owner:
        if not self.list or self.pick.box.value == OTHER:
            return Owner(self.group.box.value, together(self.learner.box.value))
        if self.pick.box.value == CHOOSE:
            raise InputError("Name", "no name yet", f"a name from the list, or “{OTHER}”")
        with_whom = [] if self.partner.box.value == ALONE else [self.partner.box.value]
        return Owner(self.list[0].group, together(self.pick.box.value, *with_whom))

    def refuse(self, problem: InputError) -> None:
        if problem.argument == "Name":
            self.pick.set_error(str(problem))
        else:
            super().refuse(problem)

    @guarded
    def _remember(self, button: Any) -> None:
        self._clear()
        if not self._save(self._given()):
            return
        if self.owner.named:
            self._told.value = status("Remembered. All open exercises have your numbers now.")
            self._ask_whose()
        else:
            self._told.value = status("No name is remembered. All open exercises have everybody's numbers now.")

    @guarded
    def _switched(self, button: Any) -> None:
        """Nobody learns here until the next one has given a name; the class stays in its box."""
        self._clear()
        group = self.group.box.value
        if self._save(NOBODY):
            self.group.box.value = group
            self._told.value = status("Next learner: give your name. Until then answers are kept under no name.")

    def _clear(self) -> None:
        self.show_message("")
        self.pick.set_error("")
        self._told.value, self._offer.layout.display = "", "none"

    def _save(self, owner: Owner) -> bool:
        """Remember a learner, and tell every open question. False if that failed; a sentence then says why."""
        problem = save_owner(owner.group, owner.learner)
        look_who_learns()
        self.show_message(problem)
        return not problem

    @guarded
    def owner_changed(self, owner: Owner) -> None:
        """Somebody else learns here now, by this panel or another one."""
        if owner != self.owner:
            self._clear()
            self._show(owner)

    # -- answers that were given before there was a name

    def _ask_whose(self) -> None:
        count = len(Progress(NOBODY, self._folder).entries())
        if count:
            lines = "1 line was" if count == 1 else f"{count} lines were"
            whose = f"{lines} kept here under no name: answers, hints, solutions. Are they yours, {called(self.owner)}?"
            self._asked.value = status(whose)
            self._offer.layout.display = ""

    @guarded
    def _taken(self, button: Any) -> None:
        self._clear()
        try:
            count = Progress(self.owner, self._folder).take_over(Progress(NOBODY, self._folder))
        except OSError as problem:
            self.show_message(f"They could not be taken over ({problem.strerror or type(problem).__name__}).")
            return
        self._told.value = status(f"Taken over: {count}. They keep the marks that they had.")
        for panel in list(OPEN):
            if isinstance(panel, Question):
                panel.look_again()

    @guarded
    def _left(self, button: Any) -> None:
        self._clear()

    def _summary(self) -> str:
        return f"{self.title}\n  class and name, which may stay empty: they give your exercises numbers of your own"


def _listed(path: Path | str) -> tuple[list[Owner], str]:
    """The class list, and a sentence if it is there and cannot be used."""
    if not Path(path).exists():
        return [], ""
    try:
        return read_class(path), ""
    except InputError as problem:
        return [], f"{problem} Type your name instead."
