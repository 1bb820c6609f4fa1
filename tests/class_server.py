"""JupyterHub for a class, started from a freshly written folder, and what learners' browsers do with it, unseen."""

from __future__ import annotations

import asyncio
import contextlib
import json
import random
import re
import shutil
import socket
import stat
import subprocess
import sys
import time
import uuid
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import httpx
from jupyter_server.services.kernels.connection.base import deserialize_msg_from_ws_v1
from tornado.httpclient import HTTPRequest
from tornado.websocket import websocket_connect

from oilkit.exercises.exercise import Owner
from oilkit.storage.users import User, read_learners
from oilkit.teacher.server import write_server

ROOT = Path(__file__).resolve().parents[1]
PROTOCOL = "v1.kernel.websocket.jupyter.org"
PATIENCE = 600.0
"""Seconds after which a learner would have gone home."""
ERRORS = "sum(len(p.errors) for p in __import__('oilkit.quantities.units').quantities.units.unit_switch._followers)"


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextlib.contextmanager
def class_server(
    names: list[str], work: Path, python: str = sys.executable
) -> Iterator[tuple[str, dict[str, User], Path]]:
    """JupyterHub for a class of these names: its address, its users, and the homes."""
    folder, homes = work / "server", work / "homes"
    homes.mkdir(parents=True)
    for path in (work, homes):
        path.chmod(0o755)
    write_server([Owner("class run", name) for name in names], folder, homes=homes, python=python)
    address, hub, proxy = (f"http://127.0.0.1:{free_port()}" for _ in range(3))
    (folder / "own_settings.py").write_text(
        f"c.JupyterHub.bind_url = {address!r}\nc.JupyterHub.hub_bind_url = {hub!r}\n"
        f"c.ConfigurableHTTPProxy.api_url = {proxy!r}\n"
    )
    users = {name: user for name, user in read_learners(folder / "learners.csv").items() if user.learner}
    with (work / "hub.log").open("w") as log:
        command = apart(work, python, [python, "-P", "-m", "jupyterhub", "-f", str(folder / "jupyterhub_config.py")])
        hub_process = subprocess.Popen(command, cwd=folder, stdout=log, stderr=log, start_new_session=True)
        try:
            wait_for(address, hub_process, work / "hub.log")
            yield address, users, homes
        finally:
            hub_process.terminate()
            with contextlib.suppress(subprocess.TimeoutExpired):
                hub_process.wait(60)
            hub_process.kill()


def apart(work: Path, python: str, command: list[str]) -> list[str]:
    """A command in a mount namespace of its own: the accounts that it makes are in a copy of /etc and nowhere else, and
    a Python that only root reaches (in root's home) is within everybody's reach there."""
    shutil.copytree("/etc", work / "etc", symlinks=True)
    mounts = [f"mount --bind {work}/etc /etc"]
    prefixes = subprocess.run(
        [python, "-c", "import sys; print(sys.base_prefix, sys.prefix)"], check=True, capture_output=True, text=True
    )
    behind: dict[Path, Path] = {}
    for path in {*map(Path, prefixes.stdout.split()), ROOT}:
        closed = next((one for one in reversed(path.parents) if not one.stat().st_mode & stat.S_IXOTH), None)
        if closed and closed not in behind:
            (place := work / f"behind{len(behind)}").mkdir()
            behind[closed] = place
            mounts += [f"mount --bind {closed} {place}", f"mount -t tmpfs -o mode=755 none {closed}"]
        if closed:
            mounts += [f"mkdir -p {path}", f"mount --bind {behind[closed] / path.relative_to(closed)} {path}"]
    return ["unshare", "--mount", "sh", "-ec", "; ".join([*mounts, 'exec "$@"']), "sh", *command]


def wait_for(address: str, process: subprocess.Popen[bytes], log: Path) -> None:
    end = time.monotonic() + 120
    while time.monotonic() < end and process.poll() is None:
        with contextlib.suppress(httpx.HTTPError):
            if httpx.get(f"{address}/hub/api/").status_code == 200:
                return
        time.sleep(0.2)
    raise RuntimeError(f"JupyterHub did not start:\n{log.read_text()[-3000:]}")


# ------------------------------------------------------------------------------------------------ one learner's browser


class Browser:
    """What a learner's browser does, without showing it."""

    def __init__(self, address: str, user: User) -> None:
        self.user, self.address = user, address
        self.http = httpx.AsyncClient(base_url=address, follow_redirects=True, timeout=PATIENCE)
        self.base = f"/user/{user.name}/"
        self.lessons: list[Lesson] = []

    async def close(self) -> None:
        for lesson in self.lessons:
            lesson.socket.close()
            await lesson.reader
        await self.http.aclose()

    def xsrf(self, path: str) -> str:
        return next((one.value or "" for one in self.http.cookies.jar if one.name == "_xsrf" and one.path == path), "")

    async def sign_in(self, password: str | None = None) -> httpx.Response:
        await self.http.get("/hub/login")
        words = {"username": self.user.name, "password": self.user.password if password is None else password}
        return await self.http.post("/hub/login", data={**words, "_xsrf": self.xsrf("/hub/")})

    async def open_lab(self) -> None:
        """Wait for the server to start, and fetch what JupyterLab consists of."""
        end = time.monotonic() + PATIENCE
        while time.monotonic() < end:
            page = await self.http.get(f"{self.base}lab")
            if page.status_code == 200 and page.url.path.startswith(self.base):
                break
            await asyncio.sleep(0.5)
        else:
            raise TimeoutError("the server did not start")
        for path in [*re.findall(r'<script[^>]* src="([^"]+)"', page.text), f"{self.base}lab/api/settings"]:
            (await self.http.get(path)).raise_for_status()

    async def post(self, path: str, body: Any) -> Any:
        answer = await self.http.post(f"{self.base}{path}", json=body, headers={"X-XSRFToken": self.xsrf(self.base)})
        answer.raise_for_status()
        return answer.json()

    async def open_lesson(self, name: str) -> Lesson:
        content = (await self.http.get(f"{self.base}api/contents/{name}")).raise_for_status().json()["content"]
        session = {"path": name, "name": name, "type": "notebook", "kernel": {"name": "python3"}}
        kernel = (await self.post("api/sessions", session))["kernel"]["id"]
        kept = [one for one in self.http.cookies.jar if self.base.startswith(one.path)]
        url = f"{self.address}{self.base}api/kernels/{kernel}/channels?session_id={uuid.uuid4().hex}"
        request = HTTPRequest(
            url.replace("http", "ws", 1), headers={"Cookie": "; ".join(f"{one.name}={one.value}" for one in kept)}
        )
        socket = await websocket_connect(request, subprotocols=[PROTOCOL], max_message_size=2**28)
        code = ["".join(cell["source"]) for cell in content["cells"] if cell["cell_type"] == "code"]
        self.lessons.append(Lesson(socket, code))
        return self.lessons[-1]


@dataclass
class Asked:
    """A message on its way, and what has come back."""

    sent: float
    done: asyncio.Event = field(default_factory=asyncio.Event)
    picture: float = 0.0
    reply: Any = None
    replied: asyncio.Event = field(default_factory=asyncio.Event)


class Lesson:
    """A notebook with its kernel."""

    def __init__(self, socket: Any, cells: list[str]) -> None:
        self.socket, self.cells = socket, cells
        self.session = uuid.uuid4().hex
        self.asked: dict[str, Asked] = {}
        self.sliders: dict[str, dict[str, Any]] = {}
        self.errors: list[str] = []
        self.reader = asyncio.create_task(self.read())

    async def read(self) -> None:
        while (frame := await self.socket.read_message()) is not None:
            now = time.perf_counter()
            channel, parts = deserialize_msg_from_ws_v1(frame)
            header, parent = json.loads(parts[0]), json.loads(parts[1])
            asked, kind = self.asked.get(parent.get("msg_id", "")), header["msg_type"]
            if asked is None:
                continue
            if kind in ("comm_open", "comm_msg", "error", "status") or channel == "shell":
                self.take(kind, json.loads(parts[3]), asked, now)

    def take(self, kind: str, content: Any, asked: Asked, now: float) -> None:
        if kind == "comm_open":
            state = content["data"].get("state", {})
            if state.get("_model_name") == "FloatSliderModel":
                self.sliders[content["comm_id"]] = state
        elif kind == "comm_msg":
            state = content["data"].get("state", {})
            if content["comm_id"] in self.sliders:
                self.sliders[content["comm_id"]].update(state)
            elif "patch" in state or "picture" in state:
                asked.picture = asked.picture or now
        elif kind == "error":
            self.errors.append(f"{content['ename']}: {content['evalue']}")
        elif kind == "execute_reply":
            asked.reply = content
            asked.replied.set()
        elif kind == "status" and content["execution_state"] == "idle":
            asked.done.set()

    async def ask(self, kind: str, content: dict[str, Any], within: float = PATIENCE) -> Asked:
        name = uuid.uuid4().hex
        header = {
            "msg_id": name,
            "session": self.session,
            "username": "",
            "msg_type": kind,
            "version": "5.4",
            "date": "",
        }
        body = [b"shell", *(json.dumps(part).encode() for part in (header, {}, {}, content))]
        offsets = [8 * (len(body) + 2)]
        for part in body:
            offsets.append(offsets[-1] + len(part))
        frame = b"".join([len(offsets).to_bytes(8, "little"), *(k.to_bytes(8, "little") for k in offsets), *body])
        self.asked[name] = asked = Asked(time.perf_counter())
        await self.socket.write_message(frame, binary=True)
        await asyncio.wait_for(asked.done.wait(), within)
        self.asked = {name: other for name, other in self.asked.items() if not other.done.is_set() or other is asked}
        return asked

    async def execute(self, code: str, **more: Any) -> Any:
        asked = await self.ask("execute_request", {"code": code, "silent": False, "stop_on_error": True, **more})
        await asyncio.wait_for(asked.replied.wait(), PATIENCE)
        return asked.reply

    async def run_all(self) -> None:
        for cell in self.cells:
            await self.execute(cell)

    async def move(self, slider: str, value: float) -> Asked:
        self.sliders[slider]["value"] = value
        data = {"method": "update", "state": {"value": value}, "buffer_paths": []}
        return await self.ask("comm_msg", {"comm_id": slider, "data": data}, 60.0)

    def other_value(self, slider: str, dice: random.Random) -> float:
        at = self.sliders[slider]
        low, high, step = (float(at[name]) for name in ("min", "max", "step"))
        steps = max(int((high - low) / step), 1)
        near = round((float(at["value"]) - low) / step) + dice.choice((-1, 1)) * dice.randint(1, max(steps // 20, 1))
        return low + step * (near if 0 <= near <= steps else dice.randint(0, steps))

    async def own_errors(self) -> int:
        reply = await self.execute("", silent=True, user_expressions={"errors": ERRORS})
        return int(reply["user_expressions"]["errors"]["data"]["text/plain"])


async def drive(lesson: Lesson, seconds: float, dice: random.Random, answering: list[str]) -> list[tuple[int, float]]:
    """Move sliders at a human pace; of each move which slider it was, and seconds to its picture."""
    times: list[tuple[int, float]] = []
    end = time.monotonic() + seconds
    await asyncio.sleep(dice.uniform(0.0, 1.0))
    while time.monotonic() < end:
        slider = dice.choice(answering)
        live = lesson.sliders[slider]["continuous_update"]  # or it acts when it is let go
        for _ in range(10 if live else 3):
            asked = await lesson.move(slider, lesson.other_value(slider, dice))
            if asked.picture:
                times.append((answering.index(slider), asked.picture - asked.sent))
            pause = dice.uniform(0.5, 1.0) if live else dice.uniform(2.0, 4.0)
            await asyncio.sleep(max(asked.sent + pause - time.perf_counter(), 0.0))
            if time.monotonic() >= end:
                break
    return times


async def answering_sliders(lesson: Lesson, dice: random.Random) -> list[str]:
    """Those whose move gives a new picture: others stand hidden, or have no effect on what is shown now."""
    found = []
    for slider in list(lesson.sliders):
        with contextlib.suppress(TimeoutError):
            if (await lesson.move(slider, lesson.other_value(slider, dice))).picture:
                found.append(slider)
    return found
