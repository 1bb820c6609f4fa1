"""From opening a lesson to the first picture that answers: clicks, wheel notches and seconds, each lesson.

    python tests/commands/first_picture.py [lesson ...]

A fresh JupyterLab with the kit's extension, a headless browser in a window of 1366 x 768, each lesson opened twice: for
the first time, and again after its kernel has ended, as on the next day. Seconds run from asking for the page to a
picture in the lesson's first panel; those to the answer add three keys on its first slider. No click is made: a lesson
that needs one fails here. Notches are 100 pixels each, from the page as it opens to the panel's upper edge in view.
"""

from __future__ import annotations

import re
import shutil
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import nbformat

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from browser import LESSONS, PANEL, ROOT, TOKEN, chromium, jupyterlab

from oilkit import panels

NOTCH = 100.0
FAR = """(panel) => Math.max(panel.getBoundingClientRect().top
    - document.querySelector(".jp-WindowedPanel-outer").getBoundingClientRect().top, 0)"""


def first_panel(name: str) -> str:
    """The title of a lesson's first panel with a picture."""
    cells = nbformat.read(ROOT / "notebooks" / name, as_version=4).cells
    called = [found[1] for cell in cells for found in re.finditer(r"panels\.(\w+)\(", cell.source)]
    return str(getattr(panels, next(one for one in called if one not in panels.NO_PANELS)).title)


def opened(browser: Any, address: str, name: str) -> tuple[float, float, int]:
    """Seconds to the picture and to its first answer, and notches to it. Ends the kernel."""
    page = browser.new_page(viewport={"width": 1366, "height": 768})
    page.set_default_timeout(90_000)
    began = time.perf_counter()
    page.goto(f"{address}/lab/tree/{name}?token={TOKEN}")
    head = f'h4:text-is("{first_panel(name)}")'
    panel = page.locator(f"{PANEL}:not(.oilkit-asleep):has(canvas.oilkit-picture):has({head})").first
    panel.wait_for(state="attached")
    picture = time.perf_counter() - began
    notches = round(panel.evaluate(FAR) / NOTCH)
    words, handle = panel.locator(".oilkit-readout"), panel.locator(".oilkit-controls .noUi-handle").first
    before = words.inner_text()
    for key in ("PageUp", "PageUp", "ArrowLeft"):  # it then stands elsewhere, from an end too
        handle.press(key)
    while words.inner_text() == before:
        page.wait_for_timeout(20)
        if time.perf_counter() - began > 90.0:
            break
    answered = time.perf_counter() - began
    page.evaluate("async () => { await jupyterapp.serviceManager.sessions.shutdownAll(); }")
    page.close()
    return picture, answered, notches


def main() -> None:
    names = [name for name in LESSONS if not sys.argv[1:] or name[:2] in sys.argv[1:]]
    print(f"{'lesson':38} clicks  notches  picture, answer (s)  next day (s)")
    with tempfile.TemporaryDirectory() as work:
        folder = Path(work) / "lessons"
        shutil.copytree(ROOT / "notebooks", folder)
        with jupyterlab(folder, Path(work) / "home", alive=True) as address, chromium() as browser:
            for name in names:
                first, again = (opened(browser, address, name) for _ in range(2))
                times = [f"{a:6.1f} {b:6.1f}" for a, b, _ in (first, again)]
                print(f"{name:38} {0:6}  {first[2]:7}  {times[0]:>19}  {times[1]:>12}", flush=True)


if __name__ == "__main__":
    main()
