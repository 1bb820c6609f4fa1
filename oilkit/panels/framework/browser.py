"""A panel's ends in the browser: keyboard and names, and its picture with table and words."""

from __future__ import annotations

from collections.abc import Callable
from importlib.resources import files
from typing import Any

import anywidget
import traitlets


class Shim(anywidget.AnyWidget):
    """Keyboard and names in the browser (``shim.js``), and the panels' few styles."""

    _esm = files("oilkit.panels.framework").joinpath("shim.js").read_text(encoding="utf-8")
    _css = files("oilkit.panels.framework").joinpath("panels.css").read_text(encoding="utf-8")
    alt = traitlets.Unicode("").tag(sync=True)
    cell = traitlets.Unicode("").tag(sync=True)
    far = traitlets.Tuple(traitlets.Int(), traitlets.Int(), default_value=(0, 0)).tag(sync=True)
    """How many steps or exercises in it are done, and of how many: the lesson's bar adds them up."""


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
    scale = traitlets.Float(1.0).tag(sync=True)
    """How much larger the browser shows the picture than it is drawn at first."""
    points = traitlets.Float(0.0).tag(sync=True)
    """How large its letters shall be there, at the least and where there is room; comes together with `scale`."""
    stale = traitlets.Unicode("").tag(sync=True)
    """A sentence over a picture that is not that of the controls; it is greyed then."""
    rough = traitlets.Unicode("").tag(sync=True)
    """A sentence on a picture that is a first look: another mark than that, and on each number too."""
    cell = traitlets.Unicode("").tag(sync=True)
    call = traitlets.Unicode("").tag(sync=True)
    grips: Any = traitlets.List([]).tag(sync=True)
    """What a hand can drag in the picture (`grips.Place`), or None where it cannot be seen."""
    settings = traitlets.Unicode("").tag(sync=True)
    """JSON of the panel's controls: the browser keeps it under notebook, cell and call, for when the kernel is gone."""

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
