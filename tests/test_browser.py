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

import accessibility
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
    yield from opener(served)


@pytest.fixture(scope="module", params=LESSONS)
def ran(request: pytest.FixtureRequest, served: tuple[Any, str, Path]) -> Iterator[tuple[str, Any]]:
    """Each lesson in turn, opened and run once for several tests: its name and its page."""
    for open_ in opener(served):
        yield request.param, open_(request.param)


def opener(served: tuple[Any, str, Path]) -> Iterator[Any]:
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


def test_lesson_runs_and_every_control_moves_its_picture(ran: tuple[str, Any]) -> None:
    name, page = ran
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
        if panel.locator("img").count() == 0 or "panels.exercise(" in calls[k].source:
            continue  # a question
        image = panel.locator("img").first
        assert image.evaluate("(img) => img.complete && img.naturalWidth") == 960
        assert len(image.get_attribute("alt")) > 30
        changed = False
        for listed in panel.locator(".oilkit-control select").all():
            before = image.get_attribute("src")
            listed.select_option(index=listed.locator("option").count() - 1)  # the one that all sliders count for
            page.wait_for_timeout(300)
            changed = image.get_attribute("src") != before
        handles = panel.locator(".noUi-handle")
        if handles.count() == 0:  # all typed
            assert changed
            continue
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


def test_every_picture_says_what_it_shows_now(ran: tuple[str, Any]) -> None:
    _, page = ran
    page.wait_for_timeout(300)
    panels = [p for p in page.locator(PANEL).all() if p.locator(".oilkit-readout").count()]
    for panel in panels:
        words = " ".join(panel.locator(".oilkit-readout p").all_text_contents()).strip()
        alt = panel.locator("img").first.get_attribute("alt")
        assert len(words) > 20
        assert alt.endswith(words)
        assert len(alt) > len(words) + 30, "what the picture shows in general comes first"
    assert panels


def test_tab_reaches_every_control_in_order_and_leaves_every_panel(ran: tuple[str, Any]) -> None:
    _, page = ran
    reached = 0
    for panel in page.locator(PANEL).all():
        wanted, there, back, unseen = accessibility.walk(page, panel)
        assert there == wanted
        assert back == wanted[::-1]
        assert unseen == [], "a control that does not show that it has the focus"
        reached += len(wanted)
    assert reached > 10


def test_what_is_no_slider_works_by_keys_alone(ran: tuple[str, Any]) -> None:
    name, page = ran
    choice = page.locator(f"{PANEL} [role=radiogroup]").first
    assert "Your" in choice.get_attribute("aria-label")
    round_buttons = choice.locator("input")
    round_buttons.first.focus()
    page.keyboard.press("ArrowDown")
    page.wait_for_timeout(300)
    assert [button.is_checked() for button in round_buttons.all()][:2] == [False, True]

    panels = page.locator(PANEL)
    order = panels.filter(has=page.locator("select[size]")).first
    assert order.count() == name.startswith("09")
    if order.count():
        steps = order.locator("select[size]")
        before = steps.locator("option").all_inner_texts()
        steps.focus()
        page.keyboard.press("Home")
        for key in "Tab", "Tab", "Enter":
            page.keyboard.press(key)  # to "Later"
        page.wait_for_timeout(500)
        after = steps.locator("option").all_inner_texts()
        assert [text[3:] for text in after] == [text[3:] for text in (before[1], before[0], *before[2:])]

        bench = panels.filter(has_text="The fault bench").first
        bench.get_by_role("button", name="Do this test").focus()
        page.keyboard.press("Enter")
        bench.get_by_text("Done: ").wait_for(timeout=10_000)

    upload = page.get_by_role("button", name="Load from disk")
    assert upload.count() == name.startswith("10")
    if upload.count():
        with page.expect_file_chooser(timeout=10_000):
            upload.focus()
            page.wait_for_timeout(300)
            page.keyboard.press("Enter")
    assert alerts(page) == []


def test_axe_finds_nothing_serious_in_the_panels(ran: tuple[str, Any]) -> None:
    name, page = ran
    with accessibility.all_panels_in_sight(page):
        light = accessibility.axe(page)
        switch_theme(page, "Dark")
        try:
            dark = accessibility.axe(page, ["color-contrast"])
        finally:
            switch_theme(page, "Light")
    short = name.removesuffix(".ipynb")
    accessibility.keep(f"{light.table(name)}\n{dark.table(f'{name}, dark')}", f"axe-{short}")
    for found in light, dark:
        assert found.grave == []
        assert found.undecided == {}
        assert found.read >= found.texts > 20, "axe passed texts whose contrast it has not measured"
        assert found.lowest >= 4.5


BAD = """<html lang="en"><title>t</title><body style="margin: 0">
<div class="jp-WindowedPanel-outer"><div class="jp-WindowedPanel-viewport"><div class="jp-Notebook-cell">
<div class="oilkit-panel"><h4>Plain</h4><button>First</button><button style="outline: none">Second</button>
<button style="color: #999; background: #fff">Pale</button><input><img src="data:,"><button>Last</button></div>
</div></div></div><a href="#">behind</a></body></html>"""


def test_these_checks_find_what_is_wrong(served: tuple[Any, str, Path]) -> None:
    page = served[0].new_page()
    page.set_content(BAD)
    panel = page.locator(PANEL)
    wanted, there, back, unseen = accessibility.walk(page, panel)
    assert (len(wanted), there, back, unseen) == (5, wanted, wanted[::-1], ["2 button Second"])
    page.evaluate("() => document.querySelectorAll('button')[3].tabIndex = 1")
    wanted, there, _, _ = accessibility.walk(page, panel)
    assert there != wanted, "out of order"
    page.evaluate("() => document.querySelectorAll('button')[3].tabIndex = 0")
    trap = "(p) => p.onkeydown = (e) => { if (e.target.textContent === 'Pale') e.preventDefault() }"
    panel.evaluate(trap)
    assert accessibility.walk(page, panel)[1][-1] == "Tab leads no further"
    with accessibility.all_panels_in_sight(page):
        found = accessibility.axe(page)
    assert {sentence.split(":")[0] for sentence in found.grave} == {"color-contrast", "label", "image-alt"}
    assert found.lowest < 3.0
    assert found.read >= found.texts == 5
    page.add_style_tag(content="body { overflow: hidden; height: 0 }")
    hidden = accessibility.axe(page)
    assert hidden.read < hidden.texts, "as JupyterLab would have it: nothing measured, nothing found"
    page.close()


def switch_theme(page: Any, theme: str) -> None:
    page.evaluate(
        "async (theme) => await window.jupyterapp.commands.execute('apputils:change-theme', { theme })",
        f"JupyterLab {theme}",
    )
    page.wait_for_function(f"document.body.dataset.jpThemeName === 'JupyterLab {theme}'", timeout=20_000)


@pytest.mark.parametrize("name", LESSONS)
def test_lesson_read_without_running_shows_each_picture(served: tuple[Any, str, Path], lesson: Any, name: str) -> None:
    # a copy under another name: JupyterLab saves by itself, so the first copy may hold the panels of a kernel that runs
    as_stored = f"stored_{name}"
    shutil.copy(lab.ROOT / "notebooks" / name, served[2] / "notebooks" / as_stored)
    page = lesson(as_stored, run=False)
    stored = nbformat.read(lab.ROOT / "notebooks" / name, as_version=4)
    pictures = sum("image/png" in o.get("data", {}) for c in stored.cells for o in c.get("outputs", []))
    page.evaluate("async () => await window.jupyterapp.commands.execute('notebook:expand-all-headings')")
    for _ in range(50):  # a busy machine takes its time
        page.wait_for_timeout(200)
        if page.locator(".jp-OutputArea-output img").count() == pictures:
            break
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
    named = [handle.get_attribute("aria-label") for handle in page.locator(f"{PANEL} .noUi-handle").all()]
    assert "(barg)" in " ".join(named), "names follow the units"
    assert "psi" not in " ".join(named)
    page.wait_for_timeout(500)
    boxes = page.locator(PANEL).nth(1).locator("input[type=text]")
    assert [box.input_value() for box in boxes.all()][:2] == ["0.689 barg", "4.137 barg"], "10 and 60 psi, not rounded"
    other = lesson("00_start_here.ipynb")
    assert "bar" in other.locator(".oilkit-readout").first.inner_text()
    other.get_by_role("button", name="US", exact=True).first.click()
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
        page.wait_for_timeout(300)
    assert page.locator(PANEL).count() == before
    assert 0 < widget_models(page) <= once, "four runs of cells that leak would leave more"


def test_the_kits_two_settings_took_effect(lesson: Any, served: tuple[Any, str, Path]) -> None:
    page = lesson("00_start_here.ipynb", run=False)
    mode = page.evaluate("() => window.jupyterapp.shell.currentWidget.sessionContext.session.kernel.commsOverSubshells")
    assert mode == "disabled"
    log = (served[2] / "home" / "server.log").read_text(encoding="utf-8")
    assert "oilkit: kernel messages are sent without delay" in log
