"""A class on one server: the configuration that the teacher's command writes, with simulated learners who all drive.

    sudo python tests/commands/class_run.py [--learners 20] [--stagger 2] [--seconds 60] [--lessons 02 06]

Starts JupyterHub from a freshly written folder. Each learner signs in, fetches JupyterLab's pages, opens the first
lesson, runs its cells over the kernel's websocket as the front end does, and moves the panels' sliders at a human pace:
a move every 0.5 to 1 s, ten on one slider (where it acts when it is let go: every 2 to 4 s, three on one), the next one
only after the picture of the last has come. Then the same with the second lesson beside it. Prints errors, control
to picture, and memory (PSS, from /proc) of kernels and servers.

Needs Linux, root (for learners' accounts; they are made in a copy of /etc that nothing else sees), JupyterHub (extra
``class``) and configurable-http-proxy on the path. The simulated learners' own work is part of this machine's load.
"""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import os
import random
import re
import shutil
import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from class_server import ROOT, Browser, Lesson, answering_sliders, class_server, drive

from oilkit.storage.users import User

NAMES = {path.name[:2]: path.name for path in sorted((ROOT / "notebooks").glob("[0-9][0-9]_*.ipynb"))}
SLOW = 0.25
"""Seconds: sliders that take longer on the median are counted for themselves too."""


def pss(pid: str) -> float:
    """Megabytes of a process, shared pages counted by their share."""
    with contextlib.suppress(OSError):
        return int(re.search(r"^Pss:\s+(\d+)", Path(f"/proc/{pid}/smaps_rollup").read_text(), re.M)[1]) / 1024  # type: ignore[index]
    return 0.0


def memory(address: str) -> dict[str, list[float]]:
    """PSS of every process of the class server, by what it is."""
    found: dict[str, list[float]] = {}
    port = address.rsplit(":", 1)[1]
    for process in Path("/proc").glob("[0-9]*"):
        with contextlib.suppress(OSError):
            line = (process / "cmdline").read_bytes().decode(errors="replace").replace("\0", " ")
            owner = process.stat().st_uid
            what = "kernel" if "ipykernel_launcher" in line and owner else ""
            what = what or ("server" if "oilkit --hub" in line else "")
            what = what or ("hub" if "-m jupyterhub " in line else "culler" if "idle_culler" in line else "")
            what = what or ("proxy" if "configurable-http-proxy" in line and port in line else "")
            if what:
                found.setdefault(what, []).append(pss(process.name))
    return found


def told(memory: dict[str, list[float]]) -> str:
    each = [f"{what} {len(mb)} x {statistics.mean(mb):.0f}" for what, mb in sorted(memory.items())]
    return f"{', '.join(each)} MB; together {sum(map(sum, memory.values())) / 1000:.2f} GB"


def spread(moves: list[tuple[int, float]]) -> str:
    times = sorted(1000 * seconds for _, seconds in moves)
    if not times:
        return "no move"
    p50, p95, p99 = (times[min(int(share * len(times)), len(times) - 1)] for share in (0.5, 0.95, 0.99))
    return f"{len(times)} moves, p50 {p50:.0f} ms, p95 {p95:.0f} ms, p99 {p99:.0f} ms, longest {times[-1]:.0f} ms"


class Class:
    """All learners, and what they saw."""

    def __init__(self, address: str, users: dict[str, User], given: argparse.Namespace) -> None:
        self.address, self.given = address, given
        self.browsers = [Browser(address, user) for user in users.values()]
        self.errors: list[str] = []

    async def all(self, what: str, act: Any, stagger: float = 0.0) -> list[Any]:
        """Everybody does it; seconds until each was done are printed, errors kept."""
        took: list[float] = []

        async def one(k: int, browser: Browser) -> Any:
            await asyncio.sleep(k * stagger)
            began = time.perf_counter()
            try:
                result = await act(k, browser)
            except Exception as problem:
                self.errors.append(f"{browser.user.name}, {what}: {type(problem).__name__} {problem}")
                return None
            took.append(time.perf_counter() - began)
            return result

        began, cpu = time.perf_counter(), time.process_time()
        results = await asyncio.gather(*(one(k, browser) for k, browser in enumerate(self.browsers)))
        all_of_it = time.perf_counter() - began
        middle, longest = (statistics.median(took), max(took)) if took else (float("nan"), float("nan"))
        own = (time.process_time() - cpu) / all_of_it
        print(
            f"{what}: median {middle:.1f} s, longest {longest:.1f} s, all after {all_of_it:.0f} s; "
            f"load {os.getloadavg()[0]:.1f}, of it the simulated browsers {own:.2f}",
            flush=True,
        )
        return results

    async def run(self) -> None:
        async def arrive(k: int, browser: Browser) -> None:
            page = await browser.sign_in()
            if page.status_code != 200 or page.url.path.endswith("/login"):
                raise RuntimeError(f"not signed in: {page.status_code} {page.url.path}")
            await browser.open_lab()

        await self.all("sign in, server, JupyterLab", arrive, self.given.stagger)
        print(f"  {told(memory(self.address))}")
        for number in self.given.lessons:
            await self.one_lesson(number)
        for browser in self.browsers:
            await browser.close()

    async def one_lesson(self, number: str) -> None:
        async def open_and_run(k: int, browser: Browser) -> Lesson:
            lesson = await browser.open_lesson(NAMES[number])
            await lesson.run_all()
            return lesson

        lessons = await self.all(f"lesson {number}: open and run all cells", open_and_run, self.given.stagger)
        dice = [random.Random(f"{number} {k}") for k in range(len(lessons))]

        async def try_out(k: int, browser: Browser) -> list[str]:
            return await answering_sliders(lessons[k], dice[k])

        answering = await self.all(f"lesson {number}: every slider once", try_out)
        print(f"  {min(map(len, answering))} to {max(map(len, answering))} sliders answer with a picture")

        async def go(k: int, browser: Browser) -> list[tuple[int, float]]:
            return await drive(lessons[k], self.given.seconds, dice[k], answering[k])

        moves = [one for found in await self.all(f"lesson {number}: all drive", go) for one in found or ()]
        print(f"  control to picture, {len(moves) / self.given.seconds:.1f} moves a second: {spread(moves)}")
        by_slider: dict[int, list[float]] = {}
        for which, seconds in moves:
            by_slider.setdefault(which, []).append(seconds)
        slow = {which for which, times in by_slider.items() if statistics.median(times) > SLOW}
        if slow:
            rest = [(which, seconds) for which, seconds in moves if which not in slow]
            print(f"  without the {len(slow)} slowest sliders, which follow many cases on each move: {spread(rest)}")
        print(f"  {told(memory(self.address))}", flush=True)
        for lesson, browser in zip(lessons, self.browsers, strict=True):
            self.errors += [f"{browser.user.name}, {number}: {error}" for error in lesson.errors]
            if count := await lesson.own_errors():
                self.errors.append(f"{browser.user.name}, {number}: {count} errors told by panels")


def main() -> int:
    made = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    made.add_argument("--learners", type=int, default=20)
    made.add_argument(
        "--stagger", type=float, default=2.0, help="seconds between one learner and the next; 0: all at once"
    )
    made.add_argument("--seconds", type=float, default=60.0, help="of driving")
    made.add_argument("--lessons", nargs="+", choices=tuple(NAMES), default=["02", "06"])
    made.add_argument("--python", default=sys.executable, help="of the installation that is tried")
    made.add_argument("--keep", action="store_true", help="keep the folder, with JupyterHub's log")
    given = made.parse_args()
    work = Path(tempfile.mkdtemp(prefix="oilkit-class-"))
    names = [f"Run {k + 1:02d}" for k in range(given.learners)]
    print(
        f"{given.learners} learners, {given.stagger:g} s apart; {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}"
    )
    with class_server(names, work, given.python) as (address, users, homes):
        one_class = Class(address, users, given)
        try:
            asyncio.run(one_class.run())
        except Exception:
            print(*one_class.errors[:20], sep="\n")
            raise
        compiled = len(list(homes.rglob("*.nbc")))
    print(f"compiled again in learners' homes: {compiled} files; errors: {len(one_class.errors)}")
    print(*one_class.errors[:20], sep="\n")
    if given.keep:
        print(work)
    else:
        shutil.rmtree(work)
    return 1 if one_class.errors else 0


if __name__ == "__main__":
    sys.exit(main())
