"""A class server that runs: JupyterHub, its proxy, two learners with accounts and kernels of their own, a stranger.

Needs Linux, root (the accounts are made in a copy of /etc that nothing else sees) and configurable-http-proxy.
"""

from __future__ import annotations

import asyncio
import json
import os
import random
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Awaitable, Iterator
from dataclasses import replace
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import pytest

from oilkit.exercises.exercise import Owner
from oilkit.exercises.progress import Progress
from oilkit.storage.lessons import LAID, _digest
from oilkit.teacher.collect import collect, gather

LESSON = "02_filling_the_vessel.ipynb"
NEEDED = os.environ.get("OILKIT_NEED_HUB")
"""Set where a missing program is a failure, as in CI."""


def lacking() -> str:
    if sys.platform != "linux" or os.geteuid() != 0:
        return "learners' accounts need Linux and root"
    if not find_spec("jupyterhub") or not shutil.which("configurable-http-proxy"):
        return "JupyterHub (extra class) or configurable-http-proxy (npm) is not installed"
    if subprocess.run(["unshare", "--mount", "true"], capture_output=True).returncode:
        return "this computer lets nobody make a mount namespace"
    return ""


pytestmark = [
    pytest.mark.thorough,
    pytest.mark.skipif(bool(lacking()) and not NEEDED, reason=lacking() or "all is there"),
    pytest.mark.filterwarnings("ignore"),  # of JupyterHub's clients
]


class Served:
    """The class server, and an event loop in which its browsers live."""

    def __init__(self, address: str, users: dict[str, Any], homes: Path) -> None:
        from class_server import Browser

        self.address, self.homes = address, homes
        self.loop = asyncio.new_event_loop()
        self.browsers = [Browser(address, user) for user in users.values()]
        self.ana, self.ben = self.browsers

    def run(self, act: Awaitable[Any]) -> Any:
        return self.loop.run_until_complete(act)

    def stranger(self, name: str, password: str) -> Any:
        from class_server import Browser

        self.browsers.append(Browser(self.address, replace(self.ana.user, name=name, password=password)))
        return self.browsers[-1]

    def close(self) -> None:
        async def all_of_them() -> None:
            for browser in self.browsers:
                await browser.close()
            await asyncio.sleep(0.2)  # tornado's sockets say good-bye

        self.run(all_of_them())
        self.loop.close()


@pytest.fixture(scope="module")
def served() -> Iterator[Served]:
    from class_server import class_server

    from oilkit.__main__ import prepare

    prepare()
    with pytest.MonkeyPatch.context() as patch, tempfile.TemporaryDirectory(prefix="oilkit-hub-") as work:
        patch.setenv("PYTHONPATH", str(Path(__file__).resolve().parents[1]))
        with class_server(["Ana", "Ben"], Path(work)) as (address, users, homes):
            made = Served(address, users, homes)
            yield made
            made.close()


@pytest.fixture(scope="module")
def lessons(served: Served) -> tuple[Any, Any]:
    """Both have signed in and have lesson 02 open, with a kernel."""

    async def open_both() -> Any:
        async def one(browser: Any) -> Any:
            assert (await browser.sign_in()).status_code == 200
            await browser.open_lab()
            return await browser.open_lesson(LESSON)

        return await asyncio.gather(one(served.ana), one(served.ben))

    ana, ben = served.run(open_both())
    return ana, ben


def said(served: Served, lesson: Any, expression: str) -> str:
    """What an expression is in a learner's kernel, or the name of the error."""
    reply = served.run(lesson.execute("", user_expressions={"it": expression}))["user_expressions"]["it"]
    return str(reply["data"]["text/plain"] if reply["status"] == "ok" else reply["ename"])


@pytest.mark.parametrize(
    ("name", "password"),
    [("oil-eve", "abc-def-ghi"), ("root", "abc-def-ghi"), ("oil-ana", "abc-def-ghi"), ("oil-ana", "")],
)
def test_strangers_and_wrong_passwords_are_refused(served: Served, name: str, password: str) -> None:
    eve = served.stranger(name, password)
    answer = served.run(eve.sign_in())
    assert answer.status_code == 403
    for path in ("lab", f"api/contents/{LESSON}"):
        page = served.run(eve.http.get(f"{served.ana.base}{path}"))
        assert page.url.path == "/hub/login" or page.status_code == 403


def test_a_learner_s_server_is_closed_to_another(served: Served, lessons: tuple[Any, Any]) -> None:
    base = served.ben.base
    assert served.run(served.ben.http.get(f"{base}api/contents/{LESSON}")).status_code == 200
    for path in (f"api/contents/{LESSON}", "api/kernels", "api/sessions", "lab"):
        assert served.run(served.ana.http.get(f"{base}{path}")).status_code in (403, 404), path


def test_what_a_learner_s_code_can_read_of_another_is_nothing(served: Served, lessons: tuple[Any, Any]) -> None:
    ana, ben = lessons
    home = served.homes / "oil-ben"
    said(served, ben, "__import__('pathlib').Path('progress').mkdir(exist_ok=True)")
    said(served, ben, "__import__('pathlib').Path('progress/progress.csv').write_text('secret')")
    answers = home / "oilkit-lessons" / "progress" / "progress.csv"
    assert answers.read_text() == "secret"  # by root, as the teacher may
    assert said(served, ben, f"open({str(answers)!r}).read()") == "'secret'"
    for path in (answers, home / "oilkit-lessons" / LESSON, home.parent.parent / "server" / "learners.csv"):
        assert said(served, ana, f"open({str(path)!r}).read()") == "PermissionError"
    assert said(served, ana, f"__import__('os').listdir({str(home)!r})") == "PermissionError"
    pid = said(served, ben, "__import__('os').getpid()")
    assert said(served, ana, f"open('/proc/{pid}/environ').read()") == "PermissionError"
    assert said(served, ana, f"__import__('os').kill({pid}, 9)") == "PermissionError"
    # what a kernel says goes through files in a closed home, not through ports that a neighbor could listen to
    transport = "__import__('ipykernel.connect').connect.get_connection_info(unpack=True)['transport']"
    assert said(served, ben, transport) == "'ipc'"
    assert list((home / ".run").glob("kernel-*-ipc-*"))
    assert said(served, ana, f"__import__('os').listdir({str(home / '.run')!r})") == "PermissionError"


def test_the_class_s_names_lie_beside_the_lessons_and_a_pair_can_be_picked(
    served: Served, lessons: tuple[Any, Any]
) -> None:
    ana, _ = lessons
    panel = "__import__('oilkit').panels.learner()"
    assert said(served, ana, f"({panel}.pick.box.value, {panel}.partner.box.options)") == (
        "('Ana', ('nobody, I work alone', 'Ana', 'Ben'))"
    )
    laid = served.homes / "oil-ana" / "oilkit-lessons" / "class.txt"
    assert laid.stat().st_uid == laid.parent.stat().st_uid != 0, "the learner's own, not root's"


def test_answers_are_kept_under_the_name_on_the_list_and_collected_from_the_homes(
    served: Served, lessons: tuple[Any, Any], tmp_path: Path
) -> None:
    for lesson, answer in zip(lessons, ("ten", "twenty"), strict=True):
        kernel_side = (
            "from oilkit.exercises.exercise import Owner, Verdict\n"
            "from oilkit.exercises.progress import Progress\n"
            "from oilkit.storage.settings import load_owner\n"
            f"Progress(Owner(*load_owner())).record(2, 'read_rule', {answer!r}, Verdict('right', ''))"
        )
        assert served.run(lesson.execute(kernel_side))["status"] == "ok"
    ana, ben = (Owner("class run", name) for name in ("Ana", "Ben"))
    found = gather([ana, ben], served.homes)
    assert found.told == []
    collect(found, tmp_path / "answers")
    assert [Progress(one, tmp_path / "answers").entries()[0].answer for one in (ana, ben)] == ["ten", "twenty"]


def test_the_installation_cannot_be_changed_and_nothing_is_compiled_again(
    served: Served, lessons: tuple[Any, Any]
) -> None:
    import oilkit

    ana, _ = lessons
    assert said(served, ana, f"open({oilkit.__file__!r}, 'a')") == "PermissionError"
    hits = (
        "[__import__('oilkit.__main__').__main__.prepare(), sum(one.stats.cache_misses.total() for one in "
        "vars(__import__('oilkit.physics.dynamics').physics.dynamics.run).values() if hasattr(one, 'stats'))][1]"
    )
    assert said(served, ana, hits) == "0"
    assert not list(served.homes.rglob("*.nbc"))


def test_who_takes_too_much_memory_gets_an_error_and_the_others_go_on(served: Served, lessons: tuple[Any, Any]) -> None:
    ana, ben = lessons
    assert said(served, ana, "bytearray(3 * 2**30)") == "MemoryError"
    for lesson in (ana, ben):
        assert said(served, lesson, "1 + 1") == "2"


def test_both_drive_the_lesson_without_an_error(served: Served, lessons: tuple[Any, Any]) -> None:
    from class_server import answering_sliders, drive

    async def one(lesson: Any, dice: random.Random) -> list[Any]:
        await lesson.run_all()
        return await drive(lesson, 3.0, dice, await answering_sliders(lesson, dice))

    async def both() -> Any:
        return await asyncio.gather(*(one(lesson, random.Random(k)) for k, lesson in enumerate(lessons)))

    assert all(len(moves) >= 2 for moves in served.run(both()))
    for lesson in lessons:
        assert lesson.errors == []
        assert served.run(lesson.own_errors()) == 0


def test_at_the_next_sign_in_lessons_follow_the_kit_and_changed_ones_stay(
    served: Served, lessons: tuple[Any, Any]
) -> None:
    mine = served.homes / "oil-ana" / "oilkit-lessons"
    kit = Path(__file__).resolve().parents[1] / "notebooks"
    changed = (kit / LESSON).read_text(encoding="utf-8").replace("# ", "# My own ", 1)
    (mine / LESSON).write_text(changed, encoding="utf-8")
    older = (kit / "01_boyles_law.ipynb").read_text(encoding="utf-8").replace("# ", "# An older ", 1)
    (mine / "01_boyles_law.ipynb").write_text(older, encoding="utf-8")
    record = mine / LAID
    laid = json.loads(record.read_text())
    laid |= {LESSON: "of an older kit", "01_boyles_law.ipynb": _digest(mine / "01_boyles_law.ipynb")}
    record.write_text(json.dumps(laid))

    async def again() -> None:
        stop = {"X-XSRFToken": served.ana.xsrf("/hub/"), "Referer": f"{served.address}/hub/home"}
        (await served.ana.http.delete("/hub/api/users/oil-ana/server", headers=stop)).raise_for_status()
        await served.ana.sign_in()
        await served.ana.http.get("/hub/spawn/oil-ana")
        await served.ana.open_lab()

    served.run(again())
    assert (mine / LESSON).read_text(encoding="utf-8") == changed
    assert (mine / "02_filling_the_vessel (new).ipynb").read_bytes() == (kit / LESSON).read_bytes()
    assert (mine / "01_boyles_law.ipynb").read_bytes() == (kit / "01_boyles_law.ipynb").read_bytes()


def test_the_teacher_manages_servers_but_opens_none(served: Served, lessons: tuple[Any, Any]) -> None:
    from oilkit.jupyter.hub import read_learners

    user = read_learners(served.homes.parent / "server" / "learners.csv")["oil-teacher"]
    teacher = served.stranger(user.name, user.password)

    async def look() -> list[int]:
        assert (await teacher.sign_in()).status_code == 200
        pages = ["/hub/admin", "/hub/api/users", f"{served.ben.base}lab", f"{served.ben.base}api/contents/{LESSON}"]
        return [(await teacher.http.get(page)).status_code for page in pages]

    admin, users, lab, contents = served.run(look())
    assert (admin, users) == (200, 200)
    assert lab in (403, 404)
    assert contents in (403, 404)
