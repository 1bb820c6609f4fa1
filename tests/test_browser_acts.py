"""What a learner does in JupyterLab, act by act, on one lesson or another: typing, units, playing, running again.

Skipped with a reason where Chromium is missing, as `test_browser`, which goes through every lesson; apart from it, so
that two cores share the work.
"""

from __future__ import annotations

import re
import shutil
from pathlib import Path
from typing import Any

import browser as lab
import nbformat
import pytest
from browser import LESSONS, PANEL, alerts, cells, changes_picture, picture, run_all, screenshot
from playwright.sync_api import expect

from oilkit import Q, panels

lab.skip_without_chromium()
pytestmark = pytest.mark.thorough


@pytest.mark.parametrize("name", LESSONS[::3])
def test_lesson_read_without_running_shows_each_picture(served: tuple[Any, str, Path], lesson: Any, name: str) -> None:
    # a copy under another name: JupyterLab saves by itself, so the first copy may hold the panels of a kernel that runs
    as_stored = f"stored_{name}"
    shutil.copy(lab.ROOT / "notebooks" / name, served[2] / "notebooks" / as_stored)
    page = lesson(as_stored, run=False)
    stored = nbformat.read(lab.ROOT / "notebooks" / name, as_version=4)
    pictures = sum("image/png" in o.get("data", {}) for c in stored.cells for o in c.get("outputs", []))
    page.evaluate("async () => await window.jupyterapp.commands.execute('notebook:expand-all-headings')")
    assert pictures
    expect(page.locator(".jp-OutputArea-output img")).to_have_count(pictures)
    assert page.locator(PANEL).count() == 0


def test_closed_parts_are_closed_at_first(lesson: Any) -> None:
    page = lesson("01_boyles_law.ipynb", run=False)
    page.locator(".jp-RenderedMarkdown").get_by_text("Go deeper: fit, residuals").first.wait_for()
    expect(page.locator(".jp-RenderedMarkdown").get_by_text("hidden volume").first).to_be_hidden()


def test_a_point_is_dragged_and_its_slider_has_the_keys(lesson: Any) -> None:
    page = lesson("02_filling_the_vessel.ipynb")
    panel = page.locator(PANEL).nth(1)
    seen = panels.filling(pressure=Q(60, "psig"))
    name, left, top, _ = seen.screen.grips[-1]
    slider = panel.locator(f".oilkit-of-{name} .noUi-handle")
    expect(slider).to_have_attribute("aria-valuetext", "60 psig")
    canvas = panel.locator("canvas.oilkit-picture")
    canvas.scroll_into_view_if_needed()
    box, (width, _) = canvas.bounding_box(), seen.picture.canvas.get_width_height()
    scale = box["width"] / width
    across = seen._grips[-1].ax.get_window_extent().width / 120.0 * scale  # of a psi
    at = box["x"] + left * scale, box["y"] + top * scale
    page.mouse.move(*at)
    expect(canvas).to_have_css("cursor", "grab")
    page.mouse.down()
    for k in range(1, 21):  # 20 psi down
        page.mouse.move(at[0] - k * across, at[1])
        page.wait_for_timeout(40)
    page.mouse.up()
    expect(slider).to_have_attribute("aria-valuetext", "40 psig")
    expect(slider).to_be_focused()
    page.keyboard.press("ArrowLeft")
    expect(slider).to_have_attribute("aria-valuetext", "39.5 psig")
    panel.locator("td", has_text="39.5 psig").first.wait_for()
    assert alerts(page) == []


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
    lab.answered(page)
    assert cells(page) == before
    assert page.evaluate(
        "() => window.jupyterapp.shell.currentWidget.content.widgets.every((c) => c.model.type !== 'raw')"
    )
    panel.locator(".noUi-handle").first.focus()
    page.keyboard.press("Control+s")  # what is no single key still reaches JupyterLab
    page.wait_for_function("() => !window.jupyterapp.shell.currentWidget.context.model.dirty", timeout=30_000)
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
    expect(box).to_have_value("17.4 psig")
    page.wait_for_timeout(500)
    lab.answered(page)
    assert box.input_value() == "17.4 psig", "a slider must not round a typed value to its own steps"
    before = readout.inner_text()
    typed("plenty")
    alert = panel.locator(".oilkit-control").first.locator("[role=alert]")
    expect(alert).to_have_text("Pre-charge: got “plenty”; wanted a gauge pressure such as 10.0 psig.")
    lab.answered(page)
    assert readout.inner_text() == before
    assert changes_picture(page, panel, lambda: typed("8"))
    expect(alert).to_have_count(0)


def test_what_a_refusal_leaves_is_greyed_and_said(lesson: Any) -> None:
    page = lesson("01_boyles_law.ipynb")
    panel = page.locator(PANEL).filter(has=page.locator("textarea")).filter(has=page.locator("canvas")).first
    area, status = panel.locator("textarea"), panel.locator(".oilkit-stale[role=status]")
    canvas, good = panel.locator("canvas.oilkit-picture"), panel.locator("textarea").input_value()
    expect(status).to_have_text("")
    shown = picture(panel)

    def typed(text: str, words: str) -> None:
        area.fill(text)
        area.blur()
        expect(status).to_contain_text(words)

    typed("lots", "This is still the last good result")
    expect(status).to_be_visible()
    expect(canvas).to_have_attribute("aria-label", re.compile(re.escape(status.inner_text())))
    expect(canvas).to_have_css("opacity", re.compile(r"0\.[0-4]\d*"))
    assert picture(panel) == shown
    screenshot(panel, "last-good-result")
    area.fill(good)
    area.blur()
    expect(status).to_have_text("")
    expect(canvas).to_have_css("opacity", "1")


def test_one_unit_switch_moves_all_panels_and_is_remembered(lesson: Any) -> None:
    page = lesson("02_filling_the_vessel.ipynb")
    readouts = page.locator(".oilkit-readout")
    assert all("psig" in text or "°F" in text for text in readouts.all_inner_texts())
    page.locator(PANEL).nth(1).get_by_role("button", name="SI", exact=True).click()
    page.wait_for_function(
        "() => [...document.querySelectorAll('.oilkit-readout')].every((e) => !e.textContent.includes('psi'))",
        timeout=30_000,
    )
    assert all("bar" in text for text in readouts.all_inner_texts())
    lab.answered(page)
    named = [handle.get_attribute("aria-label") for handle in page.locator(f"{PANEL} .noUi-handle").all()]
    assert "(barg)" in " ".join(named), "names follow the units"
    assert "psi" not in " ".join(named)
    boxes = page.locator(PANEL).nth(1).locator("input[type=text]")
    assert [box.input_value() for box in boxes.all()][:2] == ["0.69 barg", "4.14 barg"], "10 and 60 psi, not rounded"
    other = lesson("00_start_here.ipynb")
    expect(other.locator(".oilkit-readout").first).to_contain_text("bar")
    other.get_by_role("button", name="US", exact=True).first.click()
    expect(other.locator(".oilkit-readout").first).to_contain_text("psi")
    assert alerts(page) == alerts(other) == []


def test_prediction_is_checked(lesson: Any) -> None:
    page = lesson("01_boyles_law.ipynb")
    panel = page.locator(PANEL).first

    def answer(text: str, words: str) -> None:
        panel.locator("input[type=text]").fill(text)
        panel.get_by_role("button", name="Check").click()
        lab.answered(page)
        expect(panel).to_contain_text(words)

    answer("20 psi", "gauge put into Boyle's law")
    answer("34.7 psi", "Right: 34.7 psig")
    answer("lots", "got “lots”")
    answer("2.39 bar", "Right: 34.7 psig")


def test_fill_plays_pauses_and_ends(lesson: Any) -> None:
    page = lesson("02_filling_the_vessel.ipynb")
    panel = page.locator(PANEL).filter(has_text="Watch it fill")
    play = panel.get_by_role("button", name="Play", exact=True)
    panel.locator("select").first.select_option(label="double")
    image = panel.locator("canvas").element_handle()
    page.evaluate(
        f"""(canvas) => {{ window.seen = new Set();
            canvas.addEventListener("load", () => window.seen.add(({lab.PIXELS})(canvas))); }}""",
        image,
    )
    play.click()
    panel.get_by_role("button", name="Pause", exact=True).wait_for(timeout=20_000)
    page.wait_for_function("() => window.seen.size >= 12", timeout=20_000)
    panel.get_by_role("button", name="Pause", exact=True).click()
    play.wait_for(timeout=20_000)
    lab.answered(page)
    paused = picture(panel)
    page.wait_for_timeout(400)
    assert picture(panel) == paused
    first_row = panel.locator(".oilkit-readout td").first.inner_text()
    assert float(first_row.split()[0]) > 0.0
    assert alerts(page) == []


def test_a_page_that_is_loaded_again_shows_the_picture_as_it_stands(lesson: Any) -> None:
    page = lesson("01_boyles_law.ipynb")
    panel = page.locator(PANEL).filter(has=page.locator("canvas")).first
    panel.locator(".noUi-handle").first.focus()
    for key in ("ArrowLeft", "ArrowLeft", "ArrowRight"):  # patch over patch
        assert changes_picture(page, panel, lambda key=key: page.keyboard.press(key))
    moved = picture(panel)
    title = panel.locator("h4").inner_text()
    page.evaluate("async () => await window.jupyterapp.commands.execute('docmanager:save')")
    page.reload()
    again = page.locator(PANEL).filter(has_text=title).filter(has=page.locator("canvas")).first
    again.wait_for(timeout=60_000)
    again.locator(".noUi-handle").first.wait_for()
    shown = again.locator(lab.PICTURE).first.element_handle()
    page.wait_for_function(f"([shown, moved]) => ({lab.PIXELS})(shown) === moved", arg=[shown, moved], polling=100)
    again.locator(".noUi-handle").first.focus()
    assert changes_picture(page, again, lambda: page.keyboard.press("ArrowLeft"))


def test_of_the_table_only_what_differs_is_put_anew(lesson: Any) -> None:
    """So that a screen reader says what has changed and not the whole table at every step."""
    page = lesson("01_boyles_law.ipynb")
    panel = page.locator(PANEL).filter(has=page.locator("canvas")).first
    readout = panel.locator(".oilkit-readout")
    before = readout.inner_text()
    readout.evaluate("(box) => { for (const cell of box.querySelectorAll('th, td')) cell.stood = cell.textContent; }")
    panel.locator(".noUi-handle").first.focus()
    assert changes_picture(page, panel, lambda: page.keyboard.press("ArrowLeft"))
    lab.answered(page)
    cells = readout.evaluate("(box) => [...box.querySelectorAll('th, td')].map((c) => [c.stood ?? '', c.textContent])")
    assert readout.inner_text() != before
    assert all(stood for stood, _ in cells), "each is the cell that stood there"
    assert 0 < sum(stood != now for stood, now in cells) < len(cells) / 2
    assert alerts(page) == []


def widget_models(page: Any) -> int:
    """How many widget models live in the kernel of the lesson on the page."""
    return int(
        page.evaluate(
            """async () => {
            const kernel = window.jupyterapp.shell.currentWidget.sessionContext.session.kernel;
            const reply = await kernel.requestCommInfo({ target_name: 'jupyter.widget' });
            return Object.keys(reply.content.comms).length;
        }"""
        )
    )


def test_running_a_panel_cell_again_leaves_one_panel(lesson: Any) -> None:
    page = lesson("00_start_here.ipynb")
    before, once = page.locator(PANEL).count(), widget_models(page)
    for _ in range(3):
        assert lab.run_all(page)
        lab.answered(page)
    expect(page.locator(PANEL)).to_have_count(before)
    assert 0 < widget_models(page) <= once, "four runs of cells that leak would leave more"


def test_the_kits_two_settings_took_effect(lesson: Any, served: tuple[Any, str, Path]) -> None:
    page = lesson("00_start_here.ipynb", run=False)
    mode = page.evaluate("() => window.jupyterapp.shell.currentWidget.sessionContext.session.kernel.commsOverSubshells")
    assert mode == "disabled"
    log = (served[2] / "home" / "server.log").read_text(encoding="utf-8")
    assert "oilkit: kernel messages are sent without delay" in log


def test_answers_come_back_after_a_restart_and_follow_the_name(lesson: Any, served: tuple[Any, str, Path]) -> None:
    """Wrong and right, one exercise open at a time; a name that is given in lesson 00 reaches this lesson by itself."""
    shutil.rmtree(served[2] / "notebooks" / "progress", ignore_errors=True)
    page = lesson("01_boyles_law.ipynb")

    def exercise(number: int) -> Any:
        return page.locator(PANEL).filter(has=page.get_by_text(f"Exercise {number} of 7")).first

    def check(number: int, option: int) -> None:
        exercise(number).locator("input[type=radio]").nth(option).click()
        exercise(number).get_by_role("button", name="Check").click()

    first, second = exercise(1), exercise(2)
    check(1, 0)
    first.get_by_text("✘ not right yet, 1 try").wait_for()
    expect(first).to_contain_text("✘ Not right")
    expect(second.get_by_role("button", name="Check")).to_be_hidden()
    check(1, 1)
    first.get_by_text("✔ done, 2 tries").wait_for()
    first.get_by_role("button", name="Next exercise").click()
    second.get_by_role("button", name="Check").wait_for()
    expect(first.get_by_role("button", name="Check")).to_be_hidden()
    expect(page.get_by_role("button", name="Close exercise 2")).to_be_focused()

    page.evaluate("async () => await window.jupyterapp.shell.currentWidget.sessionContext.session.kernel.restart()")
    assert run_all(page)
    exercise(1).get_by_text("✔ done, 2 tries").wait_for()
    expect(exercise(2).get_by_text("1 of 7 done")).to_be_visible()
    expect(exercise(2).get_by_role("button", name="Check")).to_be_visible()

    question = exercise(2).inner_text()
    start = lesson("00_start_here.ipynb")
    who = start.locator(PANEL).filter(has_text="Who is learning?")
    who.get_by_label("Name (may stay empty)").fill("Ann Other")
    who.get_by_role("button", name="Remember").click()
    exercise(2).get_by_text("Ann Other").wait_for(timeout=30_000)
    expect(exercise(2)).not_to_have_text(question, use_inner_text=True)  # numbers of one's own
    exercise(1).get_by_text("not tried yet").wait_for()
    who.get_by_role("button", name="Yes, they are mine").click()
    who.get_by_text("Taken over: 2").wait_for()
    who.get_by_role("button", name="Switch learner").click()
    exercise(2).get_by_text("no name given").wait_for(timeout=30_000)
    assert alerts(page) == alerts(start) == []
