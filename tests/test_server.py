"""The Jupyter settings that the kit installs: they are valid, they take effect, and they fail soft."""

from __future__ import annotations

import asyncio
import json
import logging
import socket
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from tornado.httpserver import HTTPServer
from tornado.testing import bind_unused_port
from tornado.web import Application
from tornado.websocket import WebSocketHandler, websocket_connect

from oilkit.jupyter import nodelay

ROOT = Path(__file__).resolve().parents[1]


class Server:
    log = logging.getLogger("oilkit-test-server")


def no_delay_of_a_real_connection(handler: type[WebSocketHandler]) -> int:
    """Open a websocket to the handler on this machine and read the option off the server's own socket."""

    async def scene() -> int:
        opened: list[WebSocketHandler] = []

        class Watched(handler):  # type: ignore[valid-type, misc]
            async def open(self, *args: Any) -> None:
                opened.append(self)
                result = super().open(*args)
                if result is not None:
                    await result

        listening, port = bind_unused_port()
        server = HTTPServer(Application([("/", Watched)]))
        server.add_sockets([listening])
        client = await websocket_connect(f"ws://127.0.0.1:{port}/")
        while not opened:
            await asyncio.sleep(0.01)
        await asyncio.sleep(0.05)
        stream = opened[0].ws_connection.stream  # type: ignore[union-attr]
        option = stream.socket.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY)
        client.close()
        server.stop()
        return int(option)

    return asyncio.run(scene())


@pytest.mark.parametrize("awaits", [False, True], ids=["plain open", "async open"])
def test_no_delay_takes_effect_on_a_real_socket(awaits: bool) -> None:
    class Plain(WebSocketHandler):
        def open(self, *args: Any) -> None:
            pass

    class Async(WebSocketHandler):
        async def open(self, *args: Any) -> None:
            await asyncio.sleep(0)

    handler = Async if awaits else Plain
    assert no_delay_of_a_real_connection(handler) == 0
    nodelay.send_at_once(handler)
    assert no_delay_of_a_real_connection(handler) != 0


def test_extension_fits_the_installed_server(caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch) -> None:
    from jupyter_server.services.kernels.websocket import KernelWebsocketHandler

    monkeypatch.setattr(KernelWebsocketHandler, "open", KernelWebsocketHandler.open)
    with caplog.at_level(logging.INFO):
        nodelay._load_jupyter_server_extension(Server())
        patched = KernelWebsocketHandler.open
        nodelay._load_jupyter_server_extension(Server())  # twice is as good as once
    assert KernelWebsocketHandler.open is patched
    assert "without delay" in caplog.text
    assert "WARNING" not in caplog.text


def test_extension_fails_soft(caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "jupyter_server.services.kernels.websocket", None)
    nodelay._load_jupyter_server_extension(Server())
    assert len(caplog.records) == 1
    assert "keep their usual delay" in caplog.text


def test_a_connection_survives_when_no_delay_cannot_be_set(caplog: pytest.LogCaptureFixture) -> None:
    class Handler:
        log = Server.log
        done = False

        def open(self) -> None:
            self.done = True

        def set_nodelay(self, value: bool) -> None:
            raise OSError("no such option here")

    nodelay.send_at_once(Handler)
    handler = Handler()
    asyncio.run(handler.open())  # type: ignore[func-returns-value, arg-type]
    assert handler.done
    assert "no such option here" in caplog.text


def test_installed_settings_are_what_the_package_ships() -> None:
    """The wheel puts these files where Jupyter looks for them in this environment."""
    for shipped, place in (
        ("oilkit-server.json", "etc/jupyter/jupyter_server_config.d/oilkit.json"),
        ("oilkit-lab.json", "share/jupyter/lab/settings/overrides.d/oilkit.json"),
        ("lab/package.json", "share/jupyter/labextensions/oilkit/package.json"),
        ("lab/static/lessons.json", "share/jupyter/labextensions/oilkit/static/lessons.json"),
    ):
        text = (ROOT / "oilkit" / "jupyter" / shipped).read_text(encoding="utf-8")
        installed = json.loads((Path(sys.prefix) / place).read_text(encoding="utf-8"))
        assert installed == json.loads(text), "install again: python -m pip install -e ."


def test_extension_point_names_the_module_of_the_setting() -> None:
    settings = json.loads((ROOT / "oilkit" / "jupyter" / "oilkit-server.json").read_text(encoding="utf-8"))
    (name,) = settings["ServerApp"]["jpserver_extensions"]
    assert nodelay._jupyter_server_extension_points() == [{"module": name}]


LOADED = """
import importlib, sys
from jupyter_server.extension.manager import ExtensionPackage
before = set(sys.modules)
extension = ExtensionPackage(name="oilkit.jupyter.nodelay", enabled=True)
assert extension.validate()
importlib.import_module("jupyter_server.services.kernels.websocket")
print(*sorted({name for name in set(sys.modules) - before if name.startswith("oilkit")}))
print(*sorted({name.partition(".")[0] for name in sys.modules} & set(HEAVY)))
"""
HEAVY = ["numpy", "scipy", "pint", "matplotlib", "numba", "PIL", "ipywidgets", "anywidget"]


def test_the_server_of_each_learner_loads_nothing_but_the_extension() -> None:
    """As Jupyter does it: by the name in the settings, with the manager of its extensions."""
    code = LOADED.replace("HEAVY", repr(HEAVY))
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    ours, heavy = done.stdout.split("\n")[:2]
    assert ours == "oilkit oilkit.jupyter oilkit.jupyter.nodelay"
    assert heavy == ""
