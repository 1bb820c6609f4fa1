"""Server extension: no delay on the kernel websocket.

By default small messages from server to browser may wait some 15 ms for company (Nagle's algorithm). Turning that off
touches an inner class of jupyter_server, so it fails soft: if the class has changed, the server logs one line and
everything works as before, only slower.
"""

from __future__ import annotations

import functools
from typing import Any


def _jupyter_server_extension_points() -> list[dict[str, str]]:
    return [{"module": "oilkit.jupyter.nodelay"}]


def _load_jupyter_server_extension(server: Any) -> None:
    try:
        from jupyter_server.services.kernels.websocket import KernelWebsocketHandler

        send_at_once(KernelWebsocketHandler)
    except Exception as problem:
        server.log.warning("oilkit: kernel messages keep their usual delay (%s: %s)", type(problem).__name__, problem)
    else:
        server.log.info("oilkit: kernel messages are sent without delay")


def send_at_once(handler: Any) -> None:
    """Make a websocket handler class turn on no-delay each time a connection opens."""
    opened = handler.open
    if not callable(handler.set_nodelay):
        raise TypeError("set_nodelay is not a method")
    if getattr(opened, "sends_at_once", False):
        return

    @functools.wraps(opened)
    async def open_without_delay(self: Any, *args: Any, **kwargs: Any) -> Any:
        result = opened(self, *args, **kwargs)
        if hasattr(result, "__await__"):
            result = await result
        try:
            self.set_nodelay(True)
        except Exception as problem:
            self.log.warning("oilkit: no-delay could not be set (%s)", problem)
        return result

    open_without_delay.sends_at_once = True  # type: ignore[attr-defined]
    handler.open = open_without_delay
