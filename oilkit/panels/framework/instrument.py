"""Anything that a lesson shows: guarded callbacks, an alert, keyboard help, and an end when its cell is run again."""

from __future__ import annotations

import asyncio
import functools
import gc
import json
import threading
import traceback
import weakref
from collections.abc import Callable
from typing import Any, ClassVar

import ipywidgets

from oilkit.errors import InputError
from oilkit.panels.framework.browser import Shim
from oilkit.panels.framework.controls import Slider, alert
from oilkit.quantities.units import unit_switch

LOCK = threading.RLock()
"""One for all instruments: JupyterLab may run callbacks beside a running cell, and panels tell each other things."""


PAUSE = 0.5
"""Seconds after a move when Python looks for garbage again."""
MANY, MOST = 20_000, 400_000
"""Objects worth a search at a pause, a picture or two drawn afresh, and while something moves: some thirty."""
_put_off: list[asyncio.TimerHandle] = []


def put_off_garbage() -> None:
    """While a hand moves something, Python does not look for garbage: that takes longer than a picture."""
    try:
        loop = asyncio.get_running_loop()
    except RuntimeError:  # in a script or a test
        if _put_off:  # by a loop that has ended
            _look_for_garbage()
        return
    if _put_off:
        _put_off.pop().cancel()
    elif not gc.isenabled():  # somebody else's wish
        return
    if gc.get_count()[0] > MOST:
        gc.collect()
    gc.disable()
    _put_off.append(loop.call_later(PAUSE, _look_for_garbage))


def _look_for_garbage() -> None:
    _put_off.clear()
    gc.enable()
    if gc.get_count()[0] > MANY:
        gc.collect()


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
            put_off_garbage()
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

    def adopt(self, instrument: Instrument) -> str:
        """Returns the cell's id; an empty one outside a notebook front end."""
        cell, run = _running_cell()
        if not cell:
            return ""
        last_run, instruments = self._open.get(cell, (run, []))
        if last_run != run:
            for old in instruments:
                old.close()
            _forget_output(last_run)
            instruments = []
        self._open[cell] = (run, [*(i for i in instruments if not i.closed), instrument])
        return cell

    def shown(self) -> dict[str, list[Instrument]]:
        """The instruments that each cell has put on the screen and that are still open."""
        found = {cell: [i for i in there if i.shown and not i.closed] for cell, (_, there) in self._open.items()}
        return {cell: there for cell, there in found.items() if there}


def _running_cell() -> tuple[str, int]:
    """The running cell's id and the number of this run's output, or an empty id outside a notebook front end."""
    from IPython import get_ipython

    shell = get_ipython()
    parent: Any = shell.get_parent() if hasattr(shell, "get_parent") else {}
    cell = str((parent or {}).get("metadata", {}).get("cellId") or "")
    return cell, int(shell.displayhook.prompt_count) if cell else 0


def _forget_output(run: int) -> None:
    """Let go of the picture and texts that IPython keeps of a run whose panels are closed: 50 kB each."""
    from IPython import get_ipython

    history = getattr(get_ipython(), "history_manager", None)
    getattr(history, "outputs", {}).pop(run, None)


_cells = _Cells()
OPEN: weakref.WeakSet[Instrument] = weakref.WeakSet()
"""Every instrument that has not been closed."""


class _Json(str):
    """A text whose ``repr`` is itself: what the Lab extension asks for comes back as JSON."""

    __repr__ = str.__str__


def open_in_cells() -> _Json:
    """For the Lab extension: the widgets that stand in each cell, for a page that is loaded again or a second tab."""
    found = {cell: [i.model_id for i in there] for cell, there in _cells.shown().items()}
    Slider.in_two_tabs = Slider.in_two_tabs or bool(found)
    return _Json(json.dumps(found))


def put_back(kept: str) -> _Json:
    """For the Lab extension: set panels as an earlier kernel had them. Returns how many are not at their start values.

    kept: JSON of each cell's id to what the browser kept of its panels (JSON again): their calls to their settings.
    """
    shown, moved = _cells.shown(), 0
    with LOCK:
        for cell, text in json.loads(kept).items():
            settings = json.loads(text)
            moved += sum(i.take_back(settings[i.call]) for i in shown.get(cell, ()) if i.call in settings)
    return _Json(json.dumps(moved))


def start_values() -> _Json:
    """For the Lab extension: every panel as it opened."""
    with LOCK:
        for instrument in list(OPEN):
            instrument.reset()
    return _Json("null")


class Instrument(ipywidgets.VBox):
    """Anything a lesson shows: guarded callbacks, an alert, keyboard help, and an end when its cell is run again."""

    title: ClassVar[str] = ""
    alt: ClassVar[str] = ""
    """What the picture shows, in general; the words beside it say what it shows now."""
    call: ClassVar[str] = ""
    """The name by which a notebook calls it: ``panels.filling()``."""

    def __init__(self) -> None:
        self.closed = self.shown = False
        self.cell = ""
        self.errors: list[str] = []
        """Full text of every unexpected error, oldest first. Empty in good health."""
        self._alert_text = ""
        self._alert = ipywidgets.HTML(layout={"display": "none"})
        self._alert.add_class("oilkit-alert")
        self._shim = Shim(alt=self.alt)
        super().__init__([self._alert, self._shim])
        self._stays = {*vars(self), "_stays", "_rows", "_repr_mimebundle_"} - {"_alert", "_shim"}
        self.add_class("oilkit-panel")
        unit_switch.look_again()

    def opened(self) -> None:
        """To be called at the end of a subclass's ``__init__``: from now on the cell and the unit switch know it."""
        self.cell = self._shim.cell = _cells.adopt(self)
        OPEN.add(self)
        unit_switch.follow(self)

    # -- errors

    @property
    def trouble(self) -> str:
        """The sentence in the panel's alert, if any."""
        return self._alert_text

    def show_message(self, sentence: str) -> None:
        """Show a sentence in the panel's alert; an empty one takes it away."""
        if sentence == self._alert_text or self.closed:
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

    # -- what outlives a kernel

    def take_back(self, settings: Any) -> bool:
        """Set what an earlier kernel had, where this instrument has settings. Returns whether anything moved."""
        return False

    def reset(self) -> None:
        """Back to the start values, where this instrument has any."""

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
        OPEN.discard(self)
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
        self.shown = True
        bundle = super()._repr_mimebundle_(**kwargs)
        data, *rest = bundle if isinstance(bundle, tuple) else (bundle,)
        data = {**data, "text/plain": self._summary(), **self._still()}
        return (data, *rest) if rest else data


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
