"""From opening a lesson to the first picture that answers: clicks, wheel notches and seconds, each lesson.

    python tests/commands/first_picture.py [lesson ...] [--tabs] [--floor]

A JupyterLab with the kit's extension and a headless browser in a window of 1366 x 768, both with nothing from before
for each lesson, as a learner has who opens it. It is opened three times, the browser closed and its kernel ended in
between: for the first time, on the next day, and on the day after. A browser keeps a page's files from the first time
on, and what it has compiled of them from the second. Seconds run from asking for the page to a picture in the lesson's
first panel; those to the answer add three keys on its first slider, or one in its first list. No click is made: a
lesson that needs one fails here. Notches are 100 pixels each, from the page as it opens to the panel's upper edge.

--tabs: with the other lessons in tabs behind, as JupyterLab remembers them from the day before. --floor: what
JupyterLab takes by itself, with no extension of the kit's and a notebook of one cell that shows a bare slider.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import re
import shutil
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import nbformat

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from browser import CHROMIUM_FLAGS, LESSONS, PANEL, ROOT, TOKEN, find_chromium, jupyterlab

from oilkit import panels

NOTCH = 100.0
FAR = """(panel) => Math.max(panel.getBoundingClientRect().top
    - document.querySelector(".jp-WindowedPanel-outer").getBoundingClientRect().top, 0)"""


def first_panel(name: str) -> str:
    """The title of a lesson's first panel with a picture."""
    cells = nbformat.read(ROOT / "notebooks" / name, as_version=4).cells
    called = [found[1] for cell in cells for found in re.finditer(r"panels\.(\w+)\(", cell.source)]
    return str(getattr(panels, next(one for one in called if one not in panels.NO_PANELS)).title)


DRAWN = f"""(title) => [...document.querySelectorAll("{PANEL}:not(.oilkit-asleep)")].some((panel) =>
    panel.checkVisibility() && panel.querySelector("h4")?.textContent === title
    && panel.querySelector("canvas.oilkit-picture")?.width > 300)"""
"""Whether the panel of that title has its picture: a canvas that nothing has been drawn on is 300 pixels wide."""


@contextlib.contextmanager
def browser(profile: Path) -> Iterator[Any]:
    """A browser with a learner's own profile, closed in the end."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        window = {"width": 1366, "height": 768}
        chrome = playwright.chromium.launch_persistent_context(
            profile, executable_path=find_chromium(), headless=True, args=CHROMIUM_FLAGS, viewport=window
        )
        try:
            yield chrome
        finally:
            chrome.close()


def opened(profile: Path, address: str, name: str) -> tuple[float, float, int]:
    """Seconds to the picture and to its first answer, and notches to it. Ends the kernel."""
    title = first_panel(name)
    with browser(profile) as chrome:
        page = chrome.new_page()
        page.set_default_timeout(90_000)
        began = time.perf_counter()
        page.goto(f"{address}/lab/tree/{name}?token={TOKEN}")
        page.wait_for_function(DRAWN, arg=title, polling=20)
        picture = time.perf_counter() - began
        panel = page.locator(f"{PANEL}:has(canvas.oilkit-picture):has(h4:text-is({json.dumps(title)}))").first
        notches = round(panel.evaluate(FAR) / NOTCH)
        words, handles = panel.locator(".oilkit-readout"), panel.locator(".oilkit-controls .noUi-handle")
        before = words.inner_text()
        if handles.count():
            for key in ("PageUp", "PageUp", "ArrowLeft"):  # it then stands elsewhere, from an end too
                handles.first.press(key)
        else:
            panel.locator(".oilkit-controls select").first.press("ArrowDown")
        while words.inner_text() == before and time.perf_counter() - began < 90.0:
            page.wait_for_timeout(20)
        answered = time.perf_counter() - began
        page.wait_for_timeout(2000)  # JupyterLab keeps a page's tabs a second after the last change
        page.evaluate("async () => { await jupyterapp.serviceManager.sessions.shutdownAll(); }")
    return picture, answered, notches


def lay_tabs(profile: Path, address: str, name: str) -> None:
    """Open the other lessons, as on the day before, and end their kernels."""
    with browser(profile) as chrome:
        page = chrome.new_page()
        page.set_default_timeout(90_000)
        page.goto(f"{address}/lab?token={TOKEN}")
        page.wait_for_function("window.jupyterapp?.shell.currentWidget")
        for other in LESSONS:
            if other != name:
                page.evaluate(
                    "async (path) => { await jupyterapp.commands.execute('docmanager:open', { path }); }", other
                )
        page.wait_for_timeout(3000)
        page.evaluate("async () => { await jupyterapp.serviceManager.sessions.shutdownAll(); }")


BARE = "import ipywidgets\n\nipywidgets.FloatSlider()"


def floor(profile: Path, address: str) -> float:
    """Seconds to a bare slider in JupyterLab, its one cell run as soon as JupyterLab lets it."""
    with browser(profile) as chrome:
        page = chrome.new_page()
        page.set_default_timeout(90_000)
        began = time.perf_counter()
        page.goto(f"{address}/lab/tree/bare.ipynb?token={TOKEN}")
        page.wait_for_function("window.jupyterapp?.shell.currentWidget?.sessionContext?.isReady", polling=20)
        page.evaluate("jupyterapp.commands.execute('notebook:run-all-cells').then(() => 0)")
        page.wait_for_selector(".jp-OutputArea .noUi-handle", state="attached")
        shown = time.perf_counter() - began
        page.evaluate("async () => { await jupyterapp.serviceManager.sessions.shutdownAll(); }")
    return shown


def main() -> None:
    made = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    made.add_argument("lessons", metavar="lesson", nargs="*", help="its two digits; all if none is given")
    made.add_argument("--tabs", action="store_true")
    made.add_argument("--floor", action="store_true")
    given = made.parse_args()
    if given.floor:
        with tempfile.TemporaryDirectory() as work:
            cells = [nbformat.v4.new_code_cell(BARE)]
            kernel = {"kernelspec": {"name": "python3", "display_name": "Python 3"}}
            (Path(work) / "lessons").mkdir()
            nbformat.write(
                nbformat.v4.new_notebook(cells=cells, metadata=kernel), Path(work) / "lessons" / "bare.ipynb"
            )
            with jupyterlab(Path(work) / "lessons", Path(work) / "home") as address:
                days = [floor(Path(work) / "profile", address) for _ in range(3)]
            print(f"{'JupyterLab with a bare slider':38}", *(f"{day:6.1f}" for day in days))
    print(f"{'lesson':38} clicks  notches  picture, answer (s)  next day (s)  day after (s)")
    for name in (one for one in LESSONS if not given.lessons or one[:2] in given.lessons):
        with tempfile.TemporaryDirectory() as work:
            folder, profile = Path(work) / "lessons", Path(work) / "profile"
            shutil.copytree(ROOT / "notebooks", folder)
            with jupyterlab(folder, Path(work) / "home", alive=True) as address:
                if given.tabs:
                    lay_tabs(profile, address, name)
                days = [opened(profile, address, name) for _ in range(3)]
        times = [f"{a:6.1f} {b:6.1f}" for a, b, _ in days]
        print(f"{name:38} {0:6}  {days[0][2]:7}  {times[0]:>19}  {times[1]:>12}  {times[2]:>13}", flush=True)


if __name__ == "__main__":
    main()
