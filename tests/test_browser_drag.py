"""A slider that is dragged without a pause, on the slowest panels: what is shown in the end is the last value's.

Skipped with a reason where Chromium is missing, as `test_browser`.
"""

from __future__ import annotations

import html
import re
import time
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
"""Forty, after which a slider stands twenty steps from its low end."""
A_SECOND = 25
LATEST, STAYS = 60.0, 2.0
"""Seconds: a busy machine takes its time; and what is shown then for so long is followed by nothing else."""
SLOWEST = {
    "acceptance": "precharge",
    "compare_set_ups": "wear",
    "how_it_ends": "clearance",
    "measure_by_fall": "gas_volume",
    "next_reading": "pressure",
    "pump_lets_go": "clearance",
    "robust_choice": "event",
    "your_engine": "clearance_change",
    "your_readings": "hot_idle",
}


def words(text: str) -> str:
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", text))).strip()


def expected(name: str, control: str) -> str:
    """Table and words of a panel of the same kind, set to where the keys have led."""
    panel = getattr(panels, name)()
    moved = panel.controls[control]
    moved.set_si(moved.kind.from_display(moved.slider.min + 20 * moved.slider.step))
    panel.update()  # as code does, and not a hand: the full answer at once
    assert (panel.errors, panel.trouble) == ([], "")
    shown = words(panel.screen.table)
    panel.close()
    return shown


@pytest.mark.parametrize(("name", "control"), SLOWEST.items())
def test_the_last_value_is_shown_and_nothing_waits(
    served: tuple[Any, str, Path], lesson: Any, name: str, control: str
) -> None:
    cell = nbformat.v4.new_code_cell(f"from oilkit import panels\npanels.{name}()")
    kernel = {"kernelspec": {"name": "python3", "display_name": "Python 3 (ipykernel)", "language": "python"}}
    notebook = nbformat.v4.new_notebook(cells=[cell], metadata=kernel)
    nbformat.write(notebook, served[2] / "notebooks" / f"drag_{name}.ipynb")
    page, wanted = lesson(f"drag_{name}.ipynb"), expected(name, control)
    panel = page.locator(PANEL).first
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
    since: float | None = None
    shown = ""
    while time.perf_counter() - last < LATEST and (since is None or time.perf_counter() - since < STAYS):
        shown = words(readout.evaluate("(table) => table.innerHTML"))
        there = shown == wanted and panel.locator(".oilkit-rough").count() == 0
        since = (since or time.perf_counter()) if there else None
        page.wait_for_timeout(10)
    assert shown == wanted
    assert since, "the full answer, and not a first look"
    print(f"{name}.{control}: {len(MOVES)} moves in {moved:.1f} s, the full answer after {1e3 * (since - last):.0f} ms")
    assert alerts(page) == []
