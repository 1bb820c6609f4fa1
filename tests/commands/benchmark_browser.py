"""How long from a key press on a control to the new picture, every panel, side by side in one run.

    python tests/commands/benchmark_browser.py [presses [panel ...]] [--without]

For each panel, in a real JupyterLab in a headless browser: a plain ``interact`` that redraws the same picture with
pyplot, the panel itself, and a trivial widget (a slider that writes its number into an HTML widget) as the floor of the
round trip. With the kit's two Jupyter settings; --without: then without them too. Times run from the key's event in the
page to the loaded picture (or the changed text) in the same page. Also counts the pictures a second of a playing fill.
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
import tempfile
from pathlib import Path
from typing import Any

import nbformat
from playwright.sync_api import Error as PlaywrightError

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from browser import chromium, jupyterlab, open_lesson, run_all

from oilkit import panels
from oilkit.panels.framework.controls import Amount

PANELS = [name for name in panels.__all__ if name not in panels.NO_PANELS]  # without a slider: left out by `main`

MOVED = {"acceptance": "number"}
"""The slider that is moved, where it is not the panel's first. The acceptance card's first one asks for a new card, for
which the set-up is driven 21 times: a sweep."""

SWEEPS = ("how_exact", "lap", "next_reading", "precharge_map", "robust_choice", "compare_set_ups", "bench_fit")
"""Panels that follow many cases, or a whole lap twice, on each move: marked in the table."""

WARM_UP = 12
"""Presses of each column that do not count: a page just opened is slower, and all three columns start cold."""

SETUP = """
%matplotlib inline
import ipywidgets, matplotlib
import matplotlib.pyplot as plt
from IPython.display import display
from oilkit import panels
from oilkit.panels.framework.controls import Amount
from oilkit.panels.framework.drawing import STYLE
from oilkit.panels.framework.picture import DPI

def trivial():
    slider, text = ipywidgets.FloatSlider(min=0, max=100, step=1), ipywidgets.HTML("0")
    slider.observe(lambda change: setattr(text, "value", f"<b>{change['new']}</b>"), "value")
    box = ipywidgets.VBox([slider, text])
    box.add_class("bench-trivial")
    return box

def plain(name, moved):
    panel = getattr(panels, name)()
    control = panel.controls[moved]
    slider = ipywidgets.FloatSlider(min=control.slider.min, max=control.slider.max, step=control.slider.step)
    def redraw(x):
        control.set_si(float(control.kind.from_display(x)))
        panel.settle()
        at = panel.setting()
        panel.state = vars(at) | panel.solve(at)
        with matplotlib.rc_context(STYLE):
            figure = plt.figure(figsize=panel.size, dpi=DPI)
            panel.draw(figure)
            panel.update_artists(panel.state)
            plt.show()
    box = ipywidgets.interactive(redraw, x=slider)
    box.add_class("bench-plain")
    return box
"""

WATCH = """([root, picture]) => {
    const box = document.querySelector(root);
    window.benchDone = new Promise((resolve, reject) => {
        setTimeout(() => reject(new Error("no new picture within 5 s of " + root)), 5000);
        let pressed = null;
        const finish = () => { observer.disconnect(); box.removeEventListener("load", loaded, true);
                               resolve(performance.now() - pressed); };
        const loaded = (event) => { if (pressed !== null && event.target.matches("img, canvas")) finish(); };
        const observer = new MutationObserver((changes) => {
            const told = picture ? ".oilkit-readout" : ".widget-html-content"; // a picture may move by no pixel
            const there = ({ target }) => (target.parentElement ?? target).closest(told) || target.closest?.(told);
            if (pressed !== null && changes.some(there)) finish();
        });
        window.addEventListener("keydown", () => { pressed = performance.now(); }, { capture: true, once: true });
        if (picture) box.addEventListener("load", loaded, true);
        observer.observe(box, { subtree: true, childList: true, characterData: true });
    });
}"""


def sliders(name: str) -> list[str]:
    """The controls of a panel that are sliders and not folded away, in their order."""
    panel = getattr(panels, name)()
    return [c.name for c in panel.controls.values() if isinstance(c, Amount) and c.name not in panel.rarely]


def notebook_for(name: str) -> Any:
    moved = MOVED.get(name, sliders(name)[0])
    sources = [SETUP, f"panels.{name}()", f"plain({name!r}, {moved!r})", "trivial()"]
    return nbformat.v4.new_notebook(
        metadata={"kernelspec": {"name": "python3", "display_name": "Python 3 (ipykernel)", "language": "python"}},
        cells=[nbformat.v4.new_code_cell(source) for source in sources],
    )


def presses(page: Any, root: str, picture: bool, count: int, slider: int = 0) -> list[float]:
    """Milliseconds from key to change, for so many arrow keys on a slider under ``root``."""
    handle = page.locator(f"{root} .noUi-handle").nth(slider)
    handle.scroll_into_view_if_needed()
    handle.focus()
    page.keyboard.press("Home")  # to the low end, whatever the start value
    page.wait_for_timeout(600)
    times = []
    for k in range(count + WARM_UP):
        page.evaluate(WATCH, [root, picture])
        page.keyboard.press("ArrowRight" if (k // 6) % 2 == 0 else "ArrowLeft")
        times.append(float(page.evaluate("() => window.benchDone")))
        page.wait_for_timeout(10)  # at once, as a held key or a dragged slider does
    return times[WARM_UP:]


def played(page: Any, seconds: float = 5.0) -> float:
    """Pictures a second while the page's moving panel plays."""
    panel = page.locator(".oilkit-panel").first
    panel.get_by_role("button", name="Play", exact=True).click()
    page.wait_for_timeout(1000)
    counted = page.evaluate(
        """async (seconds) => {
            let pictures = 0;
            const count = (event) => { if (event.target.matches("canvas")) pictures += 1; };
            document.addEventListener("load", count, true);
            const began = performance.now();
            await new Promise((resolve) => setTimeout(resolve, 1000 * seconds));
            document.removeEventListener("load", count, true);
            return pictures / ((performance.now() - began) / 1000);
        }""",
        seconds,
    )
    panel.get_by_role("button", name="Pause", exact=True).click()
    return float(counted)


def p95(times: list[float]) -> float:
    return statistics.quantiles(times, n=20)[-1]


def measure(count: int, kit_settings: bool) -> dict[str, dict[str, list[float]]]:
    results = {}
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as work:
        folder = Path(work) / "notebooks"
        folder.mkdir()
        for name in PANELS:
            nbformat.write(notebook_for(name), folder / f"{name}.ipynb")
        os.environ["OILKIT_SETTINGS"] = str(Path(work) / "settings.json")
        with jupyterlab(folder, Path(work) / "home", kit_settings) as address, chromium() as browser:
            for name in PANELS:
                page = open_lesson(browser, address, f"{name}.ipynb")
                if not run_all(page):
                    raise RuntimeError(f"the benchmark notebook of {name} failed")
                page.wait_for_selector(".bench-trivial .noUi-handle")
                page.wait_for_selector(".bench-plain img")
                page.wait_for_timeout(500)
                slider = sliders(name).index(MOVED[name]) if name in MOVED else 0
                try:
                    results[name] = {
                        "plain": presses(page, ".bench-plain", True, count),
                        "panel": presses(page, ".oilkit-panel", True, count, slider),
                        "trivial": presses(page, ".bench-trivial", False, count),
                    }
                except PlaywrightError as problem:
                    print(f"{name}: {problem.message.splitlines()[0]}")
                if name == "fill_in_time":
                    how = "with" if kit_settings else "without"
                    print(f"A fill plays at {played(page):.0f} pictures a second {how} the kit's settings")
                page.evaluate("async () => await window.jupyterapp.shell.currentWidget.sessionContext.shutdown()")
                page.close()
    return results


def main() -> None:
    made = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    made.add_argument("presses", nargs="?", type=int, default=40)
    made.add_argument("panels", metavar="panel", nargs="*", help="all with a slider if none is given")
    made.add_argument("--without", action="store_true", help="measure without the kit's two Jupyter settings too")
    given = made.parse_args()
    count = given.presses
    PANELS[:] = [name for name in given.panels or PANELS if sliders(name)]
    runs = {"with the kit's settings": measure(count, True)}
    if given.without:
        runs["without them"] = measure(count, False)
    floors = {}
    for title, results in runs.items():
        print(f"\nKey press to new picture, {count} presses each, milliseconds, {title}")
        print(
            f"{'panel':22} {'plain':>7} {'panel':>7} {'p95':>7} {'trivial':>8} {'p95':>7}   faster   /trivial  p95/p95"
        )
        floors[title] = statistics.median(t for r in results.values() for t in r["trivial"])
        for name, r in results.items():
            plain, panel, floor = (statistics.median(r[key]) for key in ("plain", "panel", "trivial"))
            row = name + " (sweep)" * (name in SWEEPS)
            print(
                f"{row:22} {plain:7.0f} {panel:7.0f} {p95(r['panel']):7.0f} {floor:8.0f} {p95(r['trivial']):7.0f}"
                f"   {plain / panel:5.1f} x   {panel / floor:5.2f} x  {p95(r['panel']) / p95(r['trivial']):5.2f} x"
            )
    print("\nTrivial widget, median of all: " + ", ".join(f"{floor:.0f} ms {title}" for title, floor in floors.items()))


if __name__ == "__main__":
    main()
