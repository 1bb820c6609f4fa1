"""Panels whose full answer costs more time than a move may take."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any

from oilkit.panels.framework.base import Made, Panel
from oilkit.panels.framework.controls import Control
from oilkit.panels.framework.instrument import guarded

REST = 0.2
"""Seconds without a move after which the full answer is worked out."""
ROUGH = "First look, from fewer cases: the full answer follows when you pause."


class FirstLook(Panel):
    """A panel that shows a first look, marked as such, while a hand moves a control, and the full answer at a rest.

    Its ``solve`` takes fewer cases while ``hurried`` is true. A move drops what waits for a rest: nothing queues.
    Without an event loop, and where code sets a control, there is the full answer at once.
    """

    hurried = False
    _rough = False
    _waiting: asyncio.TimerHandle | None = None

    @guarded
    def _moved(self, control: Control) -> None:
        try:
            asyncio.get_running_loop()
            self.hurried = True
        except RuntimeError:  # in a script or a test
            pass
        try:
            super()._moved(control)
        finally:
            self.hurried = False

    def _refresh(self) -> None:
        self._drop()
        self._rough = self.hurried
        with self.screen.hold_sync():  # one message
            super()._refresh()
            self.screen.rough = ROUGH if self._rough else ""
        if self._rough:
            self._waiting = asyncio.get_running_loop().call_later(REST, self.update)

    def kept_fine(self, key: Any, make: Callable[[bool], Made]) -> Made:
        """As `kept`, from fewer cases where `make` is given true: in a hurry, unless the full answer is there."""
        self._rough = self.hurried and (self._made is None or self._made[0] != (key, False))
        return self.kept((key, self._rough), lambda: make(self._rough))

    def _drop(self) -> None:
        if self._waiting is not None:
            self._waiting.cancel()
        self._waiting = None

    def close(self) -> None:
        self._drop()
        super().close()
