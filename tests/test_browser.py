"""Every lesson in JupyterLab in a headless browser, as a learner meets it: open, run, move, read.

Skipped with a reason where Chromium is missing; with ``OILKIT_NEED_BROWSER`` set, as in CI, that is a failure.
Screenshots go to the folder ``OILKIT_ARTEFACTS`` if that is set.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import browser as lab
import nbformat
import pytest

LESSONS = sorted(path.name for path in (lab.ROOT / "notebooks").glob("*.ipynb"))

if lab.find_chromium() is None and not os.environ.get("OILKIT_NEED_BROWSER"):
    pytest.skip("no Chromium on the path (or in OILKIT_CHROMIUM): browser tests left out", allow_module_level=True)

PANEL = ".oilkit-panel"


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Any, str, Path]]:
    """A browser, JupyterLab's address, and the folder with a copy of the lessons."""
    work = tmp_path_factory.mktemp("lab")
    shutil.copytree(lab.ROOT / "notebooks", work / "notebooks", ignore=shutil.ignore_patterns(".ipynb_checkpoints"))
    with lab.jupyterlab(work / "notebooks", work / "home") as address, lab.chromium() as chrome:
        yield chrome, address, work


@pytest.fixture
def lesson(served: tuple[Any, str, Path]) -> Iterator[Any]:
    """Open a lesson by name; its kernel is shut down afterwards."""
    chrome, address, _ = served
    pages = []

    def open_(name: str, run: bool = True) -> Any:
        page = lab.open_lesson(chrome, address, name)
        pages.append(page)
        if run:
            assert lab.run_all(page), "a cell of the lesson failed"
            page.wait_for_selector(f"{PANEL} .oilkit-picture, {PANEL} .oilkit-control")
        return page

    yield open_
    for page in pages:
        page.evaluate("async () => await window.jupyterapp.shell.currentWidget.sessionContext.shutdown()")
        page.close()


def screenshot(page: Any, panel: Any, name: str) -> None:
    folder = os.environ.get("OILKIT_ARTEFACTS")
    if folder:
        Path(folder).mkdir(parents=True, exist_ok=True)
        panel.screenshot(path=str(Path(folder) / f"{name}.png"))


def picture(panel: Any) -> str:
    return str(panel.locator("img").first.evaluate("(img) => img.src"))


def alerts(page: Any) -> list[str]:
    return [text for text in page.locator(f"{PANEL} [role=alert]").all_inner_texts() if text]


def changes_picture(page: Any, panel: Any, act: Any) -> bool:
    """Whether the picture is another one within a few seconds of an act."""
    before = picture(panel)
    act()
    image = panel.locator("img").first.element_handle()
    try:
        page.wait_for_function("([img, src]) => img.src !== src && img.complete", arg=[image, before], timeout=4000)
    except Exception:
        return False
    return True


def cells(page: Any) -> int:
    return int(page.evaluate("() => window.jupyterapp.shell.currentWidget.content.widgets.length"))


@pytest.mark.parametrize("name", LESSONS)
def test_lesson_runs_and_every_control_moves_its_picture(lesson: Any, name: str) -> None:
    page = lesson(name)
    for cell in lab.outputs(page):
        for output in cell:
            assert output["output_type"] != "error", output
    stored = nbformat.read(lab.ROOT / "notebooks" / name, as_version=4)
    calls = [c for c in stored.cells if c.cell_type == "code" and "panels." in c.source and "import" not in c.source]
    shown = page.locator(PANEL)
    assert shown.count() == len(calls) > 0
    for k in range(shown.count()):
        panel = shown.nth(k)
        panel.scroll_into_view_if_needed()
        if panel.locator("img").count() == 0:
            continue  # a prediction
        image = panel.locator("img").first
        assert image.evaluate("(img) => img.complete && img.naturalWidth") == 1000
        assert len(image.get_attribute("alt")) > 30
        for listed in panel.locator(".oilkit-control select").all():
            listed.select_option(index=listed.locator("option").count() - 1)  # the one that all sliders count for
            page.wait_for_timeout(300)
        handles = panel.locator(".noUi-handle")
        assert handles.count() >= 1
        for h in range(handles.count()):
            handle = handles.nth(h)
            assert handle.get_attribute("aria-label"), "a slider that a screen reader cannot name"
            handle.focus()
            moved = any(
                changes_picture(page, panel, lambda key=key: page.keyboard.press(key))
                for key in ("ArrowRight", "ArrowLeft", "PageUp")
            )
            assert moved, handle.get_attribute("aria-label")
        for button in panel.locator(".oilkit-control .widget-toggle-button").all():
            button.click()
            page.wait_for_timeout(150)
        for listed in panel.locator("select").all():
            for option in listed.locator("option").all():
                listed.select_option(label=option.inner_text())
                page.wait_for_timeout(150)
        assert alerts(page) == []
        screenshot(page, panel, f"{name.removesuffix('.ipynb')}-{k}")
    unnamed = page.evaluate(
        f"""() => [...document.querySelectorAll('{PANEL} :is(input, textarea, select, button, [tabindex])')]
            .filter((e) => e.offsetParent && e.tabIndex >= 0)
            .filter((e) => !(e.getAttribute('aria-label') || (e.tagName !== 'SELECT' && e.textContent.trim())
                || [...(e.labels || [])].some((l) => l.textContent.trim()))).map((e) => e.outerHTML)"""
    )
    assert unnamed == []


@pytest.mark.parametrize("name", LESSONS)
def test_lesson_read_without_running_shows_each_picture(lesson: Any, name: str) -> None:
    page = lesson(name, run=False)
    stored = nbformat.read(lab.ROOT / "notebooks" / name, as_version=4)
    pictures = sum("image/png" in o.get("data", {}) for c in stored.cells for o in c.get("outputs", []))
    page.evaluate("async () => await window.jupyterapp.commands.execute('notebook:expand-all-headings')")
    page.wait_for_timeout(500)
    assert page.locator(".jp-OutputArea-output img").count() == pictures > 0
    assert page.locator(PANEL).count() == 0


def test_closed_parts_are_closed_at_first(lesson: Any) -> None:
    page = lesson("01_boyles_law.ipynb", run=False)
    assert not page.locator(".jp-RenderedMarkdown").get_by_text("hidden volume").first.is_visible()
    assert page.locator(".jp-RenderedMarkdown").get_by_text("Go deeper: fit, residuals").first.is_visible()


def test_keys_typed_on_a_control_never_edit_the_notebook(lesson: Any) -> None:
    page = lesson("02_filling_the_vessel.ipynb")
    before, panel = cells(page), page.locator(PANEL).nth(1)
    focusable = panel.locator(".noUi-handle, button, select, input[type=text]")
    assert focusable.count() >= 8
    for k in range(focusable.count()):
        element = focusable.nth(k)
        element.focus()
        for key in "dd", "b", "a", "x", "m", "y", "1", "ii", "00":
            for letter in key:
                page.keyboard.press(letter)
        if element.evaluate("(e) => e.tagName") == "INPUT":
            page.keyboard.press("Control+a")
            page.keyboard.type("10")
    page.keyboard.press("Enter")
    page.wait_for_timeout(300)
    assert cells(page) == before
    assert page.evaluate(
        "() => window.jupyterapp.shell.currentWidget.content.widgets.every((c) => c.model.type !== 'raw')"
    )
    panel.locator(".noUi-handle").first.focus()
    page.keyboard.press("Control+s")  # what is no single key still reaches JupyterLab
    page.wait_for_function("() => !window.jupyterapp.shell.currentWidget.context.model.dirty", timeout=10_000)
    assert cells(page) == before


def test_typed_values_and_error_beside_the_control(lesson: Any) -> None:
    page = lesson("02_filling_the_vessel.ipynb")
    panel = page.locator(PANEL).nth(1)
    box = panel.locator("input[type=text]").first
    readout = panel.locator(".oilkit-readout")

    def typed(text: str) -> None:
        box.fill(text)
        box.press("Enter")

    assert changes_picture(page, panel, lambda: typed("1.2 bar"))
    page.wait_for_function("(e) => e.value === '17.4 psig'", arg=box.element_handle(), timeout=5000)
    page.wait_for_timeout(500)
    assert box.input_value() == "17.4 psig", "a slider must not round a typed value to its own steps"
    before = readout.inner_text()
    typed("plenty")
    alert = panel.locator(".oilkit-control").first.locator("[role=alert]")
    alert.wait_for(timeout=5000)
    assert alert.inner_text() == "Pre-charge: got “plenty”; wanted a gauge pressure such as 10.0 psig."
    assert readout.inner_text() == before
    assert changes_picture(page, panel, lambda: typed("8"))
    alert.wait_for(state="detached", timeout=5000)


def test_one_unit_switch_moves_all_panels_and_is_remembered(lesson: Any) -> None:
    page = lesson("02_filling_the_vessel.ipynb")
    readouts = page.locator(".oilkit-readout")
    assert all("psig" in text or "°F" in text for text in readouts.all_inner_texts())
    page.locator(PANEL).nth(1).get_by_role("button", name="SI", exact=True).click()
    page.wait_for_function(
        "() => [...document.querySelectorAll('.oilkit-readout')].every((e) => !e.textContent.includes('psi'))",
        timeout=10_000,
    )
    assert all("bar" in text for text in readouts.all_inner_texts())
    page.wait_for_timeout(500)
    boxes = page.locator(PANEL).nth(1).locator("input[type=text]")
    assert [box.input_value() for box in boxes.all()][:2] == ["0.689 barg", "4.137 barg"], "10 and 60 psi, not rounded"
    other = lesson("00_start_here.ipynb")
    assert "bar" in other.locator(".oilkit-readout").first.inner_text()
    other.locator(PANEL).nth(1).get_by_role("button", name="US", exact=True).click()
    other.wait_for_function("() => document.querySelector('.oilkit-readout').textContent.includes('psi')")
    assert alerts(page) == alerts(other) == []


def test_prediction_is_checked(lesson: Any) -> None:
    page = lesson("01_boyles_law.ipynb")
    panel = page.locator(PANEL).first

    def answer(text: str) -> str:
        panel.locator("input[type=text]").fill(text)
        panel.get_by_role("button", name="Check").click()
        page.wait_for_timeout(500)
        return str(panel.inner_text())

    assert "gauge put into Boyle's law" in answer("20 psi")
    assert "Right: 34.7 psig" in answer("34.7 psi")
    assert "Right: 34.7 psig" in answer("2.39 bar")
    assert "got “lots”" in answer("lots")


def test_fill_plays_pauses_and_ends(lesson: Any) -> None:
    page = lesson("02_filling_the_vessel.ipynb")
    panel = page.locator(PANEL).filter(has_text="Watch it fill")
    play = panel.get_by_role("button", name="Play", exact=True)
    panel.locator("select").first.select_option(label="double")
    image = panel.locator("img").first.element_handle()
    page.evaluate(
        """(img) => { window.seen = new Set([img.src]);
            new MutationObserver(() => window.seen.add(img.src)).observe(img, { attributes: true }); }""",
        image,
    )
    play.click()
    panel.get_by_role("button", name="Pause", exact=True).wait_for(timeout=5000)
    page.wait_for_function("() => window.seen.size >= 12", timeout=20_000)
    panel.get_by_role("button", name="Pause", exact=True).click()
    play.wait_for(timeout=5000)
    page.wait_for_timeout(300)
    paused = picture(panel)
    page.wait_for_timeout(400)
    assert picture(panel) == paused
    first_row = panel.locator(".oilkit-readout td").first.inner_text()
    assert float(first_row.split()[0]) > 0.0
    assert alerts(page) == []


def test_running_a_panel_cell_again_leaves_one_panel(lesson: Any) -> None:
    page = lesson("00_start_here.ipynb")
    before = page.locator(PANEL).count()
    for _ in range(3):
        assert lab.run_all(page)
        page.wait_for_timeout(300)
    assert page.locator(PANEL).count() == before
    models = page.evaluate(
        """async () => {
            const kernel = window.jupyterapp.shell.currentWidget.sessionContext.session.kernel;
            const reply = await kernel.requestCommInfo({ target_name: 'jupyter.widget' });
            return Object.keys(reply.content.comms).length;
        }"""
    )
    once = 120  # three instruments have fewer widget models than this; four runs of leaking cells would have more
    assert 0 < models < once


def test_the_kits_two_settings_took_effect(lesson: Any, served: tuple[Any, str, Path]) -> None:
    page = lesson("00_start_here.ipynb", run=False)
    mode = page.evaluate("() => window.jupyterapp.shell.currentWidget.sessionContext.session.kernel.commsOverSubshells")
    assert mode == "disabled"
    log = (served[2] / "home" / "server.log").read_text(encoding="utf-8")
    assert "oilkit: kernel messages are sent without delay" in log
