"""A slider that is dragged without a pause, on the slowest panels: what is shown in the end is the last value's.

With ``-n 0 -s`` it prints after how long: the last value within 300 ms is what a quiet computer should do.
Skipped with a reason where Chromium is missing, as `test_browser`.
"""

from __future__ import annotations

import html
import re
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import browser as lab
import nbformat
import pytest
from browser import PANEL, alerts

from oilkit import panels

lab.skip_without_chromium()
pytestmark = pytest.mark.thorough

MOVES = (["ArrowRight"] * 15 + ["ArrowLeft"] * 5) * 2
"""Forty, after which a slider stands twenty steps from its low end, if it has so many."""
A_SECOND = 25
SOON = 0.3
"""Seconds within which the last value should be seen, be it as a first look; printed and starred, not asserted."""
LATEST, STAYS = 60.0, 2.0
"""Seconds: a busy machine takes its time; and what is shown then for so long is followed by nothing else."""
SLOWEST = {
    "acceptance": "precharge",
    "compare_set_ups": "wear",
    "how_exact": "precharge_set",
    "how_it_ends": "clearance",
    "measure_by_fall": "gas_volume",
    "next_reading": "pressure",
    "own_log": "share",
    "pump_lets_go": "clearance",
    "robust_choice": "event",
    "what_moves": "change",
    "your_engine": "clearance_change",
    "your_readings": "hot_idle",
}


def words(text: str) -> str:
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", text))).strip()


def expected(name: str, control: str) -> tuple[str, str]:
    """Table and words of a panel of the same kind, set to where the keys have led: its first look and full answer."""
    panel = getattr(panels, name)()
    slider = panel.controls[control].slider
    steps, place = round((slider.max - slider.min) / slider.step), 0
    for key in MOVES:
        place = min(max(place + (1 if key == "ArrowRight" else -1), 0), steps)
    slider.value = slider.min + place * slider.step  # by hand, for Playwright's loop runs: a first look
    first = words(panel.screen.table)
    panel.update()  # as code does, and not a hand: the full answer at once
    assert (panel.errors, panel.trouble) == ([], "")
    shown = words(panel.screen.table)
    panel.close()
    return first, shown


@pytest.fixture(scope="module")
def page(served: tuple[Any, str, Path]) -> Iterator[Any]:
    """All of them in one notebook."""
    kernel = {"kernelspec": {"name": "python3", "display_name": "Python 3 (ipykernel)", "language": "python"}}
    cells = [nbformat.v4.new_code_cell(f"from oilkit import panels\npanels.{name}()") for name in SLOWEST]
    nbformat.write(nbformat.v4.new_notebook(cells=cells, metadata=kernel), served[2] / "notebooks" / "drag.ipynb")
    for open_ in lab.opener(served):
        yield open_("drag.ipynb")


@pytest.mark.parametrize(("name", "control"), SLOWEST.items())
def test_the_last_value_is_shown_and_nothing_waits(page: Any, name: str, control: str) -> None:
    first, wanted = expected(name, control)
    panel = page.locator(PANEL).nth([*SLOWEST].index(name))
    handle = panel.locator(f".oilkit-of-{control} .noUi-handle")
    readout = panel.locator(".oilkit-readout").first
    handle.focus()
    page.keyboard.press("Home")
    lab.answered(page)
    page.wait_for_timeout(600)
    began = time.perf_counter()
    for k, key in enumerate(MOVES):
        page.keyboard.press(key)
        page.wait_for_timeout(max(1e3 * (began + (k + 1) / A_SECOND - time.perf_counter()), 0.0))
    last, moved = time.perf_counter(), time.perf_counter() - began
    seen: float | None = None
    since: float | None = None
    shown = ""
    while time.perf_counter() - last < LATEST and (since is None or time.perf_counter() - since < STAYS):
        shown = words(readout.evaluate("(table) => table.innerHTML"))
        there = shown == wanted and panel.locator(".oilkit-rough").count() == 0
        seen = (seen or time.perf_counter()) if shown in (first, wanted) else None
        since = (since or time.perf_counter()) if there else None
        page.wait_for_timeout(10)
    assert shown == wanted
    assert seen
    assert since, "the full answer, and not a first look"
    star = "*" if seen - last > SOON else ""
    print(f"{name}.{control}: {len(MOVES)} moves in {moved:.1f} s,", end=" ")
    print(f"its value after {1e3 * (seen - last):.0f} ms{star}, the full answer after {1e3 * (since - last):.0f} ms")
    assert alerts(page) == []
