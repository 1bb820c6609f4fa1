"""The base of every panel: controls in, a picture and a table of numbers out, and every error shown.

A lesson's panel is a subclass of `Panel` that says what a notebook calls it (``call``) and five things more:

- ``make_controls``: what the learner can change;
- ``solve``: those values (SI) to a dictionary of results, by calls into the physics;
- ``build``: the picture, its moving parts bound to results; ``redraw_on``, where a setting changes the fixed parts
  too: the results that they depend on;
- ``readings``: the table of numbers; ``summary``: the same in a sentence or two;
- ``steps``, if the lesson asks for any: what to do, and when it is done.

The base does the rest: redraw, US and SI, typed values, error lines, reset, keyboard, text alternative, the still
picture that a notebook keeps, and closing everything when its cell is run again.
"""

from __future__ import annotations

import base64
import html
import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, ClassVar, Self, TypeVar

import ipywidgets
from matplotlib.artist import Artist
from matplotlib.figure import Figure

from oilkit.errors import InputError
from oilkit.panels.framework.bound import Parts, Reading, Setting, Source, State, of
from oilkit.panels.framework.browser import Screen
from oilkit.panels.framework.controls import Control, More, button
from oilkit.panels.framework.grips import Marks, Way, asked_of
from oilkit.panels.framework.instrument import LOCK, Instrument, acting, guarded
from oilkit.panels.framework.picture import Picture
from oilkit.panels.framework.steps import Step, Steps
from oilkit.quantities.lettering import told
from oilkit.quantities.units import Qty, unit_switch
from oilkit.storage.settings import load_owner, owner_digest

MOST_KEPT = 20_000
"""Characters of settings that the browser keeps for a panel: more than any slider needs, less than a log."""
FULL = "This panel alone on the whole screen. Key: F, when no box or list has the focus. Escape leads back."
STALE = "This is still the last good result: what was refused is not in it."

Made = TypeVar("Made")


def _base64(png: bytes) -> str:
    return base64.b64encode(png).decode("ascii")


def in_rows(rows: Iterable[tuple[str, str]]) -> str:
    """Names and texts as an HTML table, which stands in two columns where there is room."""
    # roles, because the styles make of each row a line by itself, and no table then
    lines = (
        f'<tr role="row"><th scope="row" role="rowheader">{html.escape(name)}</th>'
        f'<td role="cell">{html.escape(text)}</td></tr>'
        for name, text in rows
    )
    return f'<table class="oilkit-numbers" role="table">{"".join(lines)}</table>'


def in_paragraphs(text: str) -> str:
    """Lines as paragraphs of HTML."""
    return "".join(f"<p>{html.escape(line)}</p>" for line in text.split("\n"))


class Panel(Instrument):
    """A panel with controls, a picture, a table of numbers and the same in words."""

    size: ClassVar[tuple[float, float]] = (6.5, 3.5)
    """Of the picture, in inches: what a small laptop has room for beside the controls."""
    wide: ClassVar[float] = 0.0
    """Height in inches for a class, if another one gives letters room; `build` may look at ``picture.for_class``."""
    rarely: ClassVar[tuple[str, ...]] = ()
    """Names of controls that no lesson asks for and few need: they are folded away under *More controls*."""
    redraw_on: ClassVar[tuple[Source, ...]] = ()
    """Results on which the fixed parts of the picture hang; they are drawn afresh only when one of them changes."""
    named: ClassVar[Mapping[str, str]] = {}
    """Results that are a control's value under another name: what shows them can be dragged too."""
    steps: tuple[Step, ...] = ()
    """What the lesson asks to be done here, in order. They stand above the controls."""
    crowded: ClassVar[bool] = False
    """Whether there is no room: steps stand above the numbers then."""
    _made: Any = None

    def __init__(self, **start: Qty | str) -> None:
        """start: opening values for some controls, as quantities (or an option's text)."""
        super().__init__()
        self._listeners: list[Panel] = []
        self._sources: list[Panel] = []
        self.controls: dict[str, Control] = {control.name: control for control in self.make_controls()}
        self.children = [*self.controls.values(), self._alert, self._shim]
        try:
            self._put(start)
            for control in self.controls.values():
                control.start = control.value
            self._assemble()
        except BaseException:
            self.close()
            raise
        self.opened()
        self.screen.cell = self.cell

    def close(self) -> None:
        if not self.closed and hasattr(self, "picture"):  # not one whose start values were refused
            self.picture.close()
        super().close()

    def _assemble(self) -> None:
        self.state: State = {}
        self._steps, self._learner = Steps(self.steps), load_owner()
        self.picture = Picture(*self.size, wide=self.wide)
        self.screen = Screen(self._whole, alt=self.alt, call=self.call)
        self._units = ipywidgets.ToggleButtons(
            options=list(unit_switch.systems),
            value=unit_switch.system,
            tooltips=["psi, quarts, inches", "bar, liters, mm"],
        )
        self._units.style.button_width = "auto"
        self._reset = button("Start values", self._reset_clicked)
        full = ipywidgets.Button(description="Full screen", tooltip=FULL, layout={"width": "auto"})
        full.add_class("oilkit-full")  # `shim.js` does what it says: a page may fill the screen only at a click there
        buttons = ipywidgets.HBox([self._units, self._reset, full])
        head = ipywidgets.HBox([ipywidgets.HTML(f"<h4>{html.escape(self.title)}</h4>"), buttons])
        head.add_class("oilkit-head")
        often = [control for control in self.controls.values() if control.name not in self.rarely]
        self._more = More([self.controls[name] for name in self.rarely])
        self._asked = ipywidgets.HTML(layout={"display": "none"} if self.crowded or not self.steps else {})
        self._asked.add_class("oilkit-asked")  # `shim.js` lets a screen reader speak what changes there
        left = ipywidgets.VBox([self._asked, *self.extra_controls(), *often, self._more])
        left.add_class("oilkit-controls")
        body = ipywidgets.VBox([self._alert, self.screen, left])
        body.add_class("oilkit-body")
        self.add_class("oilkit-seen")
        self.children = [head, body, self._shim]
        self.screen.observe(self._scaled, "scale")
        for control in self.controls.values():
            control.moved = self._moved
        self._units.observe(self._switched, "value")
        self.screen.on_msg(self._dragged)
        self._built_for: Any = None
        self._refresh()
        for sentence in (unit_switch.trouble, *(control.trouble for control in self.controls.values())):
            if sentence:
                self.show_message(sentence)

    def _put(self, values: dict[str, Any]) -> None:
        """Set controls by name: all of them, or none and `InputError`."""
        for name in values:
            if name not in self.controls:
                raise InputError("control", repr(name), " or ".join(self.controls))
        before = {name: self.controls[name].value for name in values}
        try:
            for name, value in values.items():
                self.controls[name].set(value)
        except InputError:
            for name, value in before.items():
                self.controls[name].set_si(value)
            raise

    # -- what a lesson's panel says

    def make_controls(self) -> Sequence[Control]:
        raise NotImplementedError

    def extra_controls(self) -> Sequence[ipywidgets.Widget]:
        """Widgets above the controls that are not inputs of `solve`."""
        return ()

    def settle(self) -> None:
        """Before `solve`: let controls follow each other, where one says what another can be."""

    def solve(self, at: Setting) -> State:
        """The controls' values, in SI, as attributes by their names, to the results of this setting."""
        raise NotImplementedError

    def redraw_key(self, state: State) -> Any:
        """What `redraw_on` says, unless a panel works it out."""
        return [of(source)(state) for source in self.redraw_on]

    def build(self, figure: Figure) -> Parts:
        """Draw the fixed parts for the present state and units; return what moves, in the order of drawing."""
        raise NotImplementedError

    def update_artists(self, state: State) -> None:
        for part in self._bound:
            part.follow(state)

    def readings(self, state: State) -> Sequence[Reading]:
        raise NotImplementedError

    def summary(self, state: State) -> str:
        """What the picture says, in a sentence or two; a line for each of several paragraphs."""
        raise NotImplementedError

    # -- what the base does

    def setting(self) -> Setting:
        """The controls' values as they stand."""
        return Setting(**{name: control.value for name, control in self.controls.items()})

    def kept(self, key: Any, make: Callable[[], Made]) -> Made:
        """What was made for this key the last time; made now if the key is another. For what costs more than a move."""
        if self._made is None or self._made[0] != key:
            self._made = key, make()
        made: Made = self._made[1]
        return made

    def draw(self, figure: Figure) -> list[Artist]:
        """`build` the picture and keep what is bound in it; returns the artists that move."""
        self._bound = list(self.build(figure))
        offered = (grip.of_sliders(self.controls, self.named) for part in self._bound for grip in part.grips)
        self._grips = [grip for grip in offered if grip]
        self._marks = Marks(figure, self._grips)
        if self.picture.for_class:
            self.update_artists(self.state)  # what their words say now is to find room
        return [*(artist for part in self._bound for artist in part.moving), *self._marks.moving]

    @property
    def values(self) -> dict[str, Any]:
        """The table of numbers as it stands: name to quantity (or text)."""
        return {r.name: r.kind.quantity(r.value) if r.kind else r.value for r in self.readings(self.state)}

    @property
    def readout(self) -> dict[str, str]:
        """The table of numbers as the learner reads it now."""
        return dict(self._rows)

    @property
    def png(self) -> bytes:
        """The picture as it stands."""
        return self.picture.whole()

    def _whole(self) -> str:
        return _base64(self.png)

    def set(self, **values: Any) -> None:
        """Move controls from code, as a learner would by hand: ``panel.set(precharge=Q(5, "psig"))``."""
        with LOCK:
            self._put(values)
            self.update()

    def reset(self) -> None:
        """All controls back to where they opened."""
        with LOCK:
            for control in self.controls.values():
                control.reset()
            self.update()

    def _kept(self) -> dict[str, Any]:
        return {name: control.kept for name, control in self.controls.items()}

    def _settings(self) -> str:
        """Controls and steps as JSON, for the browser to keep; nothing where they are too much to be kept."""
        text = json.dumps(self._kept() | self._steps.kept(owner_digest(*self._learner)))
        return text if len(text) < MOST_KEPT else ""

    def take_back(self, settings: Any) -> bool:
        before = self._kept()
        try:
            for name, kept in self._steps.take_back(settings, owner_digest(*self._learner)).items():
                self.controls[name].take_back(kept)
            self._refresh()
        except Exception:  # kept by another version of the kit: this panel stays at its start values
            self.reset()
        return self._kept() != before

    @guarded
    def update(self) -> None:
        """Solve for the controls as they stand, tick a step that this does, redraw, and take old errors away."""
        self._refresh()

    def _refresh(self) -> None:
        self.settle()
        at = self.setting()
        for control in self.controls.values():
            control.appear(at)
        self._more.count()
        opened, self.state = bool(self.state), vars(at) | self.solve(at)
        if opened:  # how it opens is nobody's doing
            self._steps.look(self.state)
        with self.screen.hold_sync():  # one message
            self._mark(any(source.stale for source in self.made_from()))
            self.redraw()
        for control in self.controls.values():
            if not control.refused:  # what is still refused in another box stays said
                control.set_error("")
        self.show_message("")

    @property
    def stale(self) -> str:
        """The sentence that says that this is the last good result, and not what the controls say; if it is so."""
        return "" if self.closed else str(self.screen.stale)

    def outdate(self) -> None:
        self._mark(True)

    def _mark(self, stale: bool) -> None:
        self.screen.stale = STALE if stale else ""
        if stale:
            for listener in self._heard():
                if self in listener.made_from():
                    listener.outdate()

    def made_from(self) -> Sequence[Panel]:
        """Other panels whose results go into this one as it is set."""
        return self._sources

    def open_for(self, argument: str, what: str = "readings") -> Self:
        """This panel, for another one that takes its results; raises `InputError` if it has been closed."""
        if self.closed:
            raise InputError(argument, f"{what} of a panel that is gone", "this cell run again, after that panel's")
        return self

    def tell_of_changes(self, listener: Panel) -> None:
        """Update another panel whenever this one has a new result."""
        self._listeners.append(listener)
        listener._sources.append(self)
        if self.stale and self in listener.made_from():
            listener.outdate()

    def _heard(self) -> Sequence[Panel]:
        self._listeners = [listener for listener in self._listeners if not listener.closed]
        return self._listeners

    def redraw(self) -> None:
        """Show the present state, picture and numbers at once, and tell panels that are made from it."""
        fixed = (unit_switch.system, self.redraw_key(self.state))
        if fixed != self._built_for:
            self._built_for = None
            self.picture.rebuild(self.draw)
            self._built_for = fixed
        self.update_artists(self.state)
        places = self._marks.show(self.state)
        self._rows = [(r.name, r.text()) for r in self.readings(self.state)]
        changed = self.picture.frame()
        with self.screen.hold_sync():  # one message
            if changed and not self.screen.picture:
                self.screen.picture = _base64(changed.png)
            elif changed:
                self.screen.patch = (changed.left, changed.top, _base64(changed.png))
            self.screen.table = self._steps.html() + self.table() if self.crowded else self.table()
            self.screen.settings = self._settings()
            self.screen.grips = [list(place) if place else None for place in places]
        self._asked.value = "" if self.crowded else self._steps.html()
        self._shim.far = self._steps.far
        for listener in self._heard():
            listener.update()

    def table(self) -> str:
        """The numbers and the words as HTML."""
        return f"{self.numbers()}{self._words()}"

    def numbers(self) -> str:
        """The table of numbers as HTML."""
        return in_rows(self._rows)

    def _words(self) -> str:
        return in_paragraphs("\n".join([self.summary(self.state), *filter(None, [told(self.picture.unknown)])]))

    def refuse(self, problem: InputError) -> None:
        """Beside the control that the problem names; at the panel's head where it names none."""
        for control in self.controls.values():
            if problem.argument in (control.name, control.label):
                control.set_error(str(InputError(control.label, problem.got, problem.wanted)))
                if control.name in self.rarely:
                    self._more.unfold()
                return
        self.show_message(str(problem))

    @guarded
    def _moved(self, control: Control) -> None:
        self._follow_up(control)
        self.update()

    def _follow_up(self, control: Control) -> None:
        control.collect()
        if control.leads is not None:
            control.leads(self.controls)

    @guarded
    def _dragged(self, screen: Any, hand: Any, buffers: Any) -> None:
        """A hand drags a grip in the picture: ``{"grip": which, "left": pixels, "top": pixels}``."""
        grip = dict(enumerate(self._grips)).get(hand["grip"])  # none for a hand that has let go
        for way, wanted in grip.wanted(hand["left"], hand["top"]) if grip else ():
            control: Any = self.controls[way.control]
            direct = self.named.get(way.shows, way.shows) == way.control
            control.drag(wanted if direct else asked_of(control, wanted, self._result_of(way)))
            self._moved(control)

    def _result_of(self, way: Way) -> Callable[[float], float]:
        at = self.setting()

        def result(value: float) -> float:
            setattr(at, way.control, value)
            return float(self.solve(at)[way.shows])

        return result

    @acting
    def _scaled(self, change: Any) -> None:
        """The browser shows the picture larger, on the full screen, or as it was: drawn afresh, it is sharp."""
        self.picture.scale(change["new"], self.screen.points)
        for control in self.controls.values():
            control.appear(self.setting())
        self._built_for = None
        with self.screen.hold_sync():  # one message
            self.redraw()
            self.screen.picture = _base64(self.png)

    @acting
    def _switched(self, change: Any) -> None:
        unit_switch.choose(change["new"])
        if unit_switch.trouble:
            self.show_message(unit_switch.trouble)

    @guarded
    def _reset_clicked(self, button: Any) -> None:
        self.reset()

    @acting
    def owner_changed(self, owner: Any) -> None:
        """Somebody else learns here now, who has done nothing yet. Whoever gives a first name keeps what is done."""
        before, self._learner = self._learner, (owner.group, owner.learner)
        if any(before) and before != self._learner:
            self._steps.done = 0
        self.redraw()

    @guarded
    def units_changed(self) -> None:
        self._units.value = unit_switch.system
        for control in self.controls.values():
            control.units_changed()
            control.set_error("")
        self.redraw()
        self.show_message("")
        if self.stale:
            self._refresh()  # what was refused may still stand in its box, and be refused again

    def _summary(self) -> str:
        rows = [(r.name, r.both()) for r in self.readings(self.state)]
        width = max(len(name) for name, _ in rows)
        return "\n".join([self.title, *(f"  {name:<{width}}  {text}" for name, text in rows)]) + self._steps.text()

    def _still(self) -> dict[str, str]:
        return {"image/png": self._whole()}
