"""What a move of each control of each panel costs in the kernel, and with another tree's kit beside it.

    python tests/commands/benchmark_panels.py [--tree FOLDER] [--car FILE] [--moves 24] [lesson or panel ...]

A lesson's cells are run in a process of their own, so that its panels are joined as learners have them. Then each
control is moved as a hand moves it: up its range and down again, through its list, to another number in its text; a
grip that is not a slider's own is dragged to and fro. A control that counts only with some choice is moved after that.
Printed: CPU time and time by the clock from a move to its answer, in milliseconds (median, 95th percentile), kilobytes
sent, and CPU time spent behind an answer and behind the last one, when the control rests. A star: above the bars of 60
and 100 ms of CPU time.

--car: this set-up file is the car of one's own, chosen in each list that has it. --tree: the kit of that checkout too.
``benchmark_browser.py`` has what a learner waits for, browser and all.
"""

from __future__ import annotations

import argparse
import asyncio
import itertools
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
BARS = 60.0, 100.0
SECONDS = 6.0
"""A slow control gets fewer moves than the others, at least six."""
SPIN = 5_000_000


def lesson_code(lesson: str) -> Iterator[str]:
    cells = json.loads((ROOT / "notebooks" / lesson).read_text(encoding="utf-8"))["cells"]
    return ("".join(cell["source"]) for cell in cells if cell["cell_type"] == "code")


def moves(panel: Any, control: Any, count: int) -> Iterator[Callable[[], None]]:
    """Moves of a control's own widgets, as the browser makes them."""
    if hasattr(control, "slider"):
        slider = control.slider
        steps = round((slider.max - slider.min) / slider.step)
        shares = [k / count for k in range(0, count, 2)] + [1.0 - k / count for k in range(0, count, 2)]
        for share in shares:
            value = min(slider.min + round(share * steps) * slider.step, slider.max)
            yield lambda value=value: setattr(slider, "value", value)
    elif hasattr(control, "buttons"):
        texts = [text for text, _ in control.options]
        for text in itertools.islice(itertools.cycle([*texts[1:], *texts[:1]]), min(count, 4 * len(texts))):
            yield lambda text=text: setattr(control.buttons, "value", text)
    elif hasattr(control, "area"):
        for text in (other_digit(control.area.value, k) for k in range(count)):
            yield lambda text=text: setattr(control.area, "value", text)
    elif hasattr(control, "boxes"):
        box = control.boxes.get("idle_gallery") or next(
            b for b in control.boxes.values() if any(map(str.isdigit, b.value))
        )
        kept = box.value or "10 psi"
        for text in (other_digit(kept, k) for k in range(1, count + 1)):
            yield lambda text=text: setattr(box, "value", text)
    else:
        raise TypeError(f"no way known to move {panel.call}'s {control.name}")


def other_digit(text: str, k: int) -> str:
    """The same with its last digit another one, or one space more where there is none."""
    last = max((i for i, letter in enumerate(text) if letter.isdigit()), default=-1)
    return f"{text[:last]}{(int(text[last]) + k) % 10}{text[last + 1 :]}" if last >= 0 else f"{text} "


def drags(panel: Any, which: int, count: int) -> Iterator[Callable[[], None]]:
    """A grip that sets a control by its result: a few pixels to and fro."""
    for k in range(count):
        place = panel.screen.grips[which]
        if place:
            hand = {"grip": which, "left": place[1] + (7 if k % 6 < 3 else -7), "top": place[2]}
            yield lambda hand=hand: panel._dragged(None, hand, [])


def reveal(panel: Any, control: Any) -> bool:
    """Whether a control counts now, or does with another one moved to where it counts."""
    if control.layout.display != "none":
        return True
    for other in panel.controls.values():
        kept = other.value
        if other is control or not (hasattr(other, "slider") or hasattr(other, "buttons")):
            continue
        for move in moves(panel, other, 4):
            move()
            if control.layout.display != "none":
                return True
        other.set_si(kept)
    panel.update()
    return False


class Meter:
    """Times moves, and counts what is sent, which is made into JSON here as a kernel would."""

    def __init__(self) -> None:
        import ipywidgets  # here: the command itself needs no kit

        self.sent = 0
        self.rows: dict[str, list[float]] = {}
        ipywidgets.Widget._send = lambda widget, message, buffers=None: self._count(message, buffers)

    def _count(self, message: Any, buffers: Any) -> None:
        self.sent += len(json.dumps(message, default=str)) + sum(len(b) for b in buffers or ())

    async def time(self, name: str, acts: Iterator[Callable[[], None]]) -> None:
        cpu, clock, sizes, after = [], [], [], []
        for k, act in enumerate(acts):
            self.sent, began, spent = 0, time.perf_counter(), time.process_time()
            act()
            cpu.append(1e3 * (time.process_time() - spent))
            clock.append(1e3 * (time.perf_counter() - began))
            sizes.append(self.sent / 1024.0)
            spent = time.process_time()
            await asyncio.sleep(0)  # what is done when the answer is out
            after.append(1e3 * (time.process_time() - spent))
            if k >= 6 and sum(cpu) > 1e3 * SECONDS:
                break
        if not cpu:
            return
        spent = time.process_time()
        await asyncio.sleep(0.8)
        rest = statistics.median(after) + 1e3 * (time.process_time() - spent)
        numbers = [*middle_and_late(cpu), *middle_and_late(clock), statistics.median(sizes), rest]
        self.rows[name] = [round(number, 1) for number in numbers]


def middle_and_late(times: list[float]) -> tuple[float, float]:
    return statistics.median(times), (
        statistics.quantiles(times, n=20, method="inclusive")[-1] if times[1:] else times[0]
    )


async def measure(lesson: str, wanted: list[str], most: int) -> dict[str, list[float]]:
    from oilkit.panels.framework.base import Panel
    from oilkit.panels.framework.instrument import OPEN

    meter, space = Meter(), {}
    for code in lesson_code(lesson):
        exec(code, space)
    panels = sorted((one for one in OPEN if isinstance(one, Panel)), key=lambda one: one.model_id)
    for panel in panels:
        for control in panel.controls.values():
            own = [text for text, _ in getattr(control, "options", ()) if text.startswith("your car")]
            if own:
                control.buttons.value = own[0]
    names: list[str] = []
    for panel in panels:
        names.append(panel.call)
        name = f"{lesson[:2]} {panel.call}{names.count(panel.call) if names.count(panel.call) > 1 else ''}"
        if wanted and panel.call not in wanted:
            continue
        for control in panel.controls.values():
            if control.name == "time" or reveal(panel, control):
                start = control.value
                await meter.time(f"{name}.{control.name}", moves(panel, control, most))
                control.set_si(start)
                panel.update()
        for k, grip in enumerate(panel._grips):
            if any(panel.named.get(way.shows, way.shows) != way.control for _, way in grip.ways):
                await meter.time(f"{name} grip {k}", drags(panel, k, most))
        if panel.errors:
            print(panel.errors[-1], file=sys.stderr)
    return meter.rows


def spin() -> float:
    """Milliseconds of CPU time for a plain loop: a slower machine, or one with other work, shows here."""
    began = time.process_time()
    exec(f"total = 0\nfor i in range({SPIN}): total += i * i", {})
    return 1e3 * (time.process_time() - began)


def run(lesson: str, tree: Path, settings: Path, asked: argparse.Namespace) -> dict[str, list[float]]:
    command = [sys.executable, __file__, "--worker", lesson, "--moves", str(asked.moves), *asked.panels]
    environment = os.environ | {"PYTHONPATH": str(tree), "OILKIT_SETTINGS": str(settings)}
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        done = subprocess.run(command, env=environment, cwd=folder, stdout=subprocess.PIPE, text=True, check=True)
    rows: dict[str, list[float]] = json.loads(done.stdout.splitlines()[-1])
    return rows


def main() -> None:
    options = argparse.ArgumentParser(description="kernel time of each control")
    options.add_argument("panels", nargs="*", help="only these panels, or lessons by number")
    options.add_argument("--tree", type=Path, action="append", default=[], help="another checkout, measured too")
    options.add_argument("--car", type=Path, help="a set-up file: the car of one's own")
    options.add_argument("--moves", type=int, default=24)
    options.add_argument("--worker", help=argparse.SUPPRESS)
    asked = options.parse_args()
    if asked.worker:
        print(json.dumps(asyncio.run(measure(asked.worker, asked.panels, asked.moves))))
        return
    lessons = sorted(path.name for path in (ROOT / "notebooks").glob("*.ipynb"))
    chosen = [name for name in asked.panels if name.isdigit()]
    asked.panels = [name for name in asked.panels if name not in chosen]
    print(f"The loop of {SPIN:.0e} takes {spin():.0f} ms; 300 where the machine is quiet.")
    head = "     CPU     p95   clock     p95      kB    rest"
    trees = [*(tree.resolve() for tree in asked.tree), ROOT]
    print(f"{'panel and control':44}" + "  |".join(head for _ in trees))
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        settings = Path(folder) / "settings.json"
        settings.write_text(json.dumps({"car": str(asked.car.resolve())} if asked.car else {}), encoding="utf-8")
        for lesson in lessons:
            if chosen and lesson[:2] not in chosen:
                continue
            found = [run(lesson, tree, settings, asked) for tree in trees]
            for name in found[-1]:
                cells = [rows.get(name) or [float("nan")] * 6 for rows in found]
                slow = "*" if cells[-1][0] > BARS[0] or cells[-1][1] > BARS[1] else ""
                print(f"{name + slow:44}" + "  |".join("".join(f"{x:8.1f}" for x in row) for row in cells), flush=True)


if __name__ == "__main__":
    main()
