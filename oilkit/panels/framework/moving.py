"""Panels that run over time: play, pause, scrub, slow motion."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable, Sequence
from typing import Any, ClassVar

import ipywidgets

from oilkit.panels.framework.base import Panel
from oilkit.panels.framework.controls import Control, button
from oilkit.panels.framework.instrument import acting, guarded


class MovingPanel(Panel):
    """A panel whose state runs over time: play, pause, scrub, slow motion.

    A subclass adds to its controls an `Amount` named ``time``, its ``solve`` takes it by that name, and
    ``duration`` says how long the present run is. Playing follows the wall clock, at up to 30 pictures a second; if
    the browser falls behind, pictures are left out and the clock stays right.
    """

    named: ClassVar = {"moment": "time"}
    frame_time: ClassVar[float] = 1.0 / 30.0
    clock: Callable[[], float] = staticmethod(time.perf_counter)
    """Where playing takes its time from."""

    _player: asyncio.Task[None] | None = None
    _link: Any = None

    def duration(self) -> float:
        """How long the present run lasts, in seconds."""
        raise NotImplementedError

    def extra_controls(self) -> Sequence[ipywidgets.Widget]:
        self._play = button("Play", self._play_clicked, "80px")
        self._speed = ipywidgets.Dropdown(
            options=[("real time", 1.0), ("half speed", 0.5), ("a quarter", 0.25), ("double", 2.0)],
            value=1.0,
            description="Speed",
            layout={"width": "150px"},
        )
        self._speed.style.description_width = "50px"
        self._tick = ipywidgets.IntText(0, layout={"display": "none"})
        self._ack = ipywidgets.IntText(0, layout={"display": "none"})
        self._link = ipywidgets.jsdlink((self._tick, "value"), (self._ack, "value"))
        return [ipywidgets.HBox([self._play, self._speed, self._tick, self._ack])]

    @property
    def playing(self) -> bool:
        return self._player is not None and not self._player.done()

    def _kept(self) -> dict[str, Any]:
        """Not at each picture of a run: what stood before it began is."""
        if not self.playing:
            self._before = super()._kept()
        return self._before

    @acting
    def _play_clicked(self, button: Any) -> None:
        if self.playing:
            self.pause()
        else:
            self.play()

    def play(self) -> None:
        """Run from the present moment, or from the beginning if at the end. Needs a running event loop."""
        self.pause()
        moment = self.controls["time"]
        if moment.value >= self.duration() * 0.999:
            moment.set_si(0.0)
        self._player = asyncio.get_running_loop().create_task(self._run())
        self._play.description = "Pause"

    def pause(self) -> None:
        """Stop where it stands."""
        if self._player is not None:
            self._player.cancel()
            self._player = None
        self._play.description = "Play"

    async def _run(self) -> None:
        try:
            await self._follow_the_clock()
        except Exception as problem:
            self.alarm(problem)
        finally:
            if self._player is asyncio.current_task():  # and not a later one
                self._player = None
                if not self.closed:
                    self._play.description = "Play"

    async def _follow_the_clock(self) -> None:
        began = heard = self.clock()
        from_moment, speed = self.controls["time"].value, self._speed.value
        while not self.closed:
            now = self.clock()
            keeps_up = self._ack.value >= self._tick.value - 1  # the browser has shown all pictures but the last
            heard = now if keeps_up else heard
            if keeps_up or now - heard > 1.0:
                if speed != self._speed.value:
                    began, from_moment, speed = now, self.controls["time"].value, self._speed.value
                moment = min(from_moment + (now - began) * speed, self.duration())
                self.go_to(moment)
                self._tick.value += 1
                if moment >= self.duration() or self.trouble:
                    return
            await asyncio.sleep(max(self.frame_time - (self.clock() - now), 0.002))

    @guarded
    def go_to(self, moment: float) -> None:
        """Show the run at a moment, in seconds."""
        self.controls["time"].set_si(moment)
        self.update()

    @guarded
    def _moved(self, control: Control) -> None:
        self.pause()  # a hand on any control takes over
        super()._moved(control)

    def reset(self) -> None:
        self.pause()
        super().reset()

    def close(self) -> None:
        if self._player is not None:
            self._player.cancel()
        if self._link is not None:
            self._link.close()
        super().close()
