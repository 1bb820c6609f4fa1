"""The base of every panel: controls in, a picture and a table of numbers out, and every error shown.

A lesson's panel is a subclass of `Panel` that says five things and nothing else:

- ``make_controls``: what the learner can change;
- ``solve``: those values (SI) to a dictionary of results, by calls into the physics;
- ``build``: the fixed parts of the picture; ``update_artists``: move the moving parts; ``redraw_key``, where a setting
  changes the fixed parts too: what they hang on;
- ``readings``: the table of numbers; ``summary``: the same in a sentence or two.

The base does the rest: redraw, US and SI, typed values, error lines, reset, keyboard, text alternative, the still
picture that a notebook keeps, and closing everything when its cell is run again.
"""

from __future__ import annotations

import base64
import functools
import html
import threading
import traceback
from collections.abc import Callable, Iterable, Sequence
from importlib.resources import files
from typing import Any, ClassVar, NamedTuple

import anywidget
import ipywidgets
import traitlets
from matplotlib.artist import Artist
from matplotlib.figure import Figure

from oilkit.errors import InputError
from oilkit.panels.framework.controls import Control, alert
from oilkit.panels.framework.picture import Picture
from oilkit.quantities.kinds import Kind
from oilkit.quantities.lettering import told
from oilkit.quantities.units import Qty, unit_switch

State = dict[str, Any]
"""Results of one setting, in SI: what `Panel.solve` returns and `update_artists`, `readings` and `summary` read."""


class Reading(NamedTuple):
    """One row of a panel's table: a name and an SI number with its kind, or a text."""

    name: str
    value: Any
    kind: Kind | None = None

    def text(self) -> str:
        return self.kind.text(self.value) if self.kind else str(self.value)

    def both(self) -> str:
        return self.kind.both(self.value) if self.kind else str(self.value)


class Shim(anywidget.AnyWidget):
    """Keyboard and names in the browser (``shim.js``), and the panels' few styles."""

    _esm = files("oilkit.panels.framework").joinpath("shim.js").read_text(encoding="utf-8")
    _css = files("oilkit.panels.framework").joinpath("panels.css").read_text(encoding="utf-8")
    alt = traitlets.Unicode("").tag(sync=True)


class Screen(anywidget.AnyWidget):
    """A panel's picture, table and words in the browser (``screen.js``): one message for all."""

    _esm = files("oilkit.panels.framework").joinpath("screen.js").read_text(encoding="utf-8")
    picture = traitlets.Unicode("").tag(sync=True)
    """A PNG in base64: the whole picture, as it was at first."""
    patch = traitlets.Tuple(traitlets.Int(), traitlets.Int(), traitlets.Unicode(), default_value=(0, 0, "")).tag(
        sync=True
    )
    """What the last move changed: left, top, and a PNG in base64. The browser draws it over the rest."""
    table = traitlets.Unicode("").tag(sync=True)
    """HTML."""
    alt = traitlets.Unicode("").tag(sync=True)
    stale = traitlets.Unicode("").tag(sync=True)
    """A sentence over a picture that is not that of the controls; it is greyed then."""

    def __init__(self, whole: Callable[[], str], **kwargs: Any) -> None:
        """whole: the picture as it stands, as a PNG in base64."""
        self._whole = whole
        super().__init__(**kwargs)

    def get_state(self, key: Any = None, drop_defaults: bool = False) -> dict[str, Any]:
        """Whoever asks for everything (a page that is loaded again) has seen no patches: it gets the whole picture."""
        state: dict[str, Any] = super().get_state(key, drop_defaults)
        if key is None and self.picture:
            state["picture"] = self._whole()
        return state


STALE = "This is still the last good result: what was refused is not in it."

LOCK = threading.RLock()
"""One for all instruments: JupyterLab may run callbacks beside a running cell, and panels tell each other things."""


def guarded(method: Callable[..., Any]) -> Callable[..., None]:
    """Wrap a callback: one at a time, and whatever it raises is shown in the panel. Jupyter would swallow it.

    What stands in the panel then is marked as the last good result.
    """
    return _guard(method, sets=True)


def acting(method: Callable[..., Any]) -> Callable[..., None]:
    """`guarded`, for a callback that sets nothing, such as one that saves: refused, the result stays true."""
    return _guard(method, sets=False)


def _guard(method: Callable[..., Any], sets: bool) -> Callable[..., None]:
    @functools.wraps(method)
    def run(self: Instrument, *args: Any, **kwargs: Any) -> None:
        with LOCK:
            if self.closed:
                return
            try:
                method(self, *args, **kwargs)
                return
            except InputError as problem:
                self.refuse(problem)
            except Exception as problem:
                self.alarm(problem)
            if sets:
                self.outdate()

    return run


class _Cells:
    """Which instruments each notebook cell has opened, so that running the cell again closes the old ones."""

    def __init__(self) -> None:
        self._open: dict[str, tuple[int, list[Instrument]]] = {}

    def adopt(self, instrument: Instrument) -> None:
        cell, run = _running_cell()
        if not cell:
            return
        last_run, instruments = self._open.get(cell, (run, []))
        if last_run != run:
            for old in instruments:
                old.close()
            instruments = []
        self._open[cell] = (run, [*(i for i in instruments if not i.closed), instrument])


def _running_cell() -> tuple[str, int]:
    """The running cell's id and the number of this run, or an empty id outside a notebook front end."""
    from IPython import get_ipython

    shell = get_ipython()
    parent: Any = shell.get_parent() if hasattr(shell, "get_parent") else {}
    return str((parent or {}).get("metadata", {}).get("cellId") or ""), int(getattr(shell, "execution_count", 0))


_cells = _Cells()


class Instrument(ipywidgets.VBox):
    """Anything a lesson shows: guarded callbacks, an alert, keyboard help, and an end when its cell is run again."""

    title: ClassVar[str] = ""
    alt: ClassVar[str] = ""
    """What the picture shows, in general; the words beside it say what it shows now."""

    def __init__(self) -> None:
        self.closed = False
        self.errors: list[str] = []
        """Full text of every unexpected error, oldest first. Empty in good health."""
        self._alert_text = ""
        self._alert = ipywidgets.HTML(layout={"display": "none"})
        self._alert.add_class("oilkit-alert")
        self._shim = Shim(alt=self.alt)
        super().__init__([self._alert, self._shim])
        self._stays = {*vars(self), "_stays", "_rows", "_repr_mimebundle_"}
        self.add_class("oilkit-panel")
        unit_switch.look_again()

    def opened(self) -> None:
        """To be called at the end of a subclass's ``__init__``: from now on the cell and the unit switch know it."""
        _cells.adopt(self)
        unit_switch.follow(self)

    # -- errors

    @property
    def trouble(self) -> str:
        """The sentence in the panel's alert, if any."""
        return self._alert_text

    def show_message(self, sentence: str) -> None:
        """Show a sentence in the panel's alert; an empty one takes it away."""
        if sentence == self._alert_text:
            return
        self._alert_text = sentence
        self._alert.value = alert(sentence)
        self._alert.layout.display = "" if sentence else "none"

    def refuse(self, problem: InputError) -> None:
        """Show what is wrong with an input."""
        self.show_message(str(problem))

    def alarm(self, problem: BaseException) -> None:
        """Show and keep an error that nobody foresaw."""
        self.errors.append("".join(traceback.format_exception(problem)))
        self.show_message(
            f"Something went wrong in the kit, not in your input: {type(problem).__name__}: {problem}. What stands "
            "here still shows the last good setting. The full text is in the panel's `errors`."
        )

    def outdate(self) -> None:
        """What was set has been refused: mark a result that stands here as the last good one."""

    # -- life

    def units_changed(self) -> None:
        """The learner switched units somewhere."""

    def close(self) -> None:
        """Take the instrument and everything in it out of the kernel.

        IPython remembers each cell's result (``_``, ``Out``) and so this object: what it holds is let go, but for its
        last numbers.
        """
        if self.closed:
            return
        self.closed = True
        unit_switch.forget(self)
        _close_tree(self)
        self.children: Any = ()
        for name in vars(self).keys() - self._stays:
            delattr(self, name)

    def _summary(self) -> str:
        return self.title

    def _still(self) -> dict[str, str]:
        """What a reader without a kernel sees: extra formats beside the widget."""
        return {}

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        bundle = super()._repr_mimebundle_(**kwargs)
        data, *rest = bundle if isinstance(bundle, tuple) else (bundle,)
        data = {**data, "text/plain": self._summary(), **self._still()}
        return (data, *rest) if rest else data


def _base64(png: bytes) -> str:
    return base64.b64encode(png).decode("ascii")


def _close_tree(widget: Any) -> None:
    for child in getattr(widget, "children", ()):
        _close_tree(child)
    for part in ("layout", "style"):
        if isinstance(inner := getattr(widget, part, None), ipywidgets.Widget):
            inner.close()
    if isinstance(widget, Instrument):
        super(Instrument, widget).close()
    else:
        widget.close()


class Panel(Instrument):
    """A panel with controls, a picture, a table of numbers and the same in words."""

    size: ClassVar[tuple[float, float]] = (10.0, 4.1)

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
                control.remember_start()
            self._assemble()
        except BaseException:
            self.close()
            raise
        self.opened()

    def close(self) -> None:
        if not self.closed and hasattr(self, "picture"):  # not one whose start values were refused
            self.picture.close()
        super().close()

    def _assemble(self) -> None:
        self.state: State = {}
        self.picture = Picture(*self.size)
        self.screen = Screen(self._whole, alt=self.alt)
        self._units = ipywidgets.ToggleButtons(
            options=list(unit_switch.systems),
            value=unit_switch.system,
            tooltips=["psi, quarts, inches", "bar, litres, mm"],
        )
        self._units.style.button_width = "auto"
        self._reset = ipywidgets.Button(description="Start values", layout={"width": "auto"})
        head = ipywidgets.HBox(
            [ipywidgets.HTML(f"<h4>{html.escape(self.title)}</h4>"), ipywidgets.HBox([self._units, self._reset])],
            layout={"justify_content": "space-between", "align_items": "center", "flex_flow": "row wrap"},
        )
        left = ipywidgets.VBox([*self.extra_controls(), *self.controls.values()], layout={"overflow": "hidden"})
        left.add_class("oilkit-controls")
        self.add_class("oilkit-seen")
        self.children = [head, self.screen, self._alert, left, self._shim]
        for control in self.controls.values():
            control.moved = self._moved
        self._units.observe(self._switched, "value")
        self._reset.on_click(self._reset_clicked)
        self._built_for: Any = None
        self._refresh()
        if unit_switch.trouble:
            self.show_message(unit_switch.trouble)

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

    solve: Callable[..., State]
    """The controls' values by their names, in SI, to the results of this setting."""

    def redraw_key(self, state: State) -> Any:
        """What the fixed parts of the picture hang on; they are drawn afresh only when it changes."""

    def build(self, figure: Figure) -> Iterable[Artist]:
        """Draw the fixed parts for the present state and units; return the artists that `update_artists` moves."""
        raise NotImplementedError

    def update_artists(self, state: State) -> None:
        raise NotImplementedError

    def readings(self, state: State) -> Sequence[Reading]:
        raise NotImplementedError

    def summary(self, state: State) -> str:
        """What the picture says, in a sentence or two; a line for each of several paragraphs."""
        raise NotImplementedError

    # -- what the base does

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

    @guarded
    def update(self) -> None:
        """Solve for the controls as they stand, redraw, and take old errors away."""
        self._refresh()

    def _refresh(self) -> None:
        self.settle()
        self.state = self.solve(**{name: control.value for name, control in self.controls.items()})
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
            self.picture.rebuild(self.build)
            self._built_for = fixed
        self.update_artists(self.state)
        self._rows = [(r.name, r.text()) for r in self.readings(self.state)]
        changed = self.picture.frame()
        with self.screen.hold_sync():  # one message
            if changed and not self.screen.picture:
                self.screen.picture = _base64(changed.png)
            elif changed:
                self.screen.patch = (changed.left, changed.top, _base64(changed.png))
            self.screen.table = self.table()
        for listener in self._heard():
            listener.update()

    def table(self) -> str:
        """The numbers and the words as HTML."""
        rows = "".join(
            f'<tr><th scope="row">{html.escape(n)}</th><td>{html.escape(t)}</td></tr>' for n, t in self._rows
        )
        words = [*self.summary(self.state).split("\n"), *filter(None, [told(self.picture.unknown)])]
        paragraphs = "".join(f"<p>{html.escape(line)}</p>" for line in words)
        return f"<table>{rows}</table>{paragraphs}"

    def refuse(self, problem: InputError) -> None:
        """Beside the control that the problem names; at the panel's head where it names none."""
        for control in self.controls.values():
            if problem.argument in (control.name, control.label):
                named = InputError(control.label, problem.got, problem.wanted)
                control.set_error(str(named))
                return
        self.show_message(str(problem))

    @guarded
    def _moved(self, control: Control) -> None:
        control.collect()
        self.update()

    @acting
    def _switched(self, change: Any) -> None:
        unit_switch.choose(change["new"])
        if unit_switch.trouble:
            self.show_message(unit_switch.trouble)

    @guarded
    def _reset_clicked(self, button: Any) -> None:
        self.reset()

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
        return "\n".join([self.title, *(f"  {name:<{width}}  {text}" for name, text in rows)])

    def _still(self) -> dict[str, str]:
        return {"image/png": self._whole()}
