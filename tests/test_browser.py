"""Every lesson in JupyterLab in a headless browser, as a learner meets it: open, run, move, read.

Skipped with a reason where Chromium is missing; with ``OILKIT_NEED_BROWSER`` set, as in CI, that is a failure.
Screenshots go to the folder ``OILKIT_ARTEFACTS`` if that is set.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import accessibility
import browser as lab
import nbformat
import pytest
from browser import LESSONS, PANEL, alerts, picture, screenshot
from parts import quick_named
from playwright.sync_api import expect

lab.skip_without_chromium()


QUICK = ("00", "01", "03")
"""Lessons that the README's test command opens, short ones: lesson 09 alone takes as long as these."""


@pytest.fixture(
    scope="module",
    params=quick_named([name for name in LESSONS if name.startswith(QUICK)], LESSONS),
)
def ran(request: pytest.FixtureRequest, served: tuple[Any, str, Path]) -> Iterator[tuple[str, Any]]:
    """Each lesson in turn, opened and run once for several tests: its name and its page."""
    for open_ in lab.opener(served):
        yield request.param, open_(request.param)


FURTHER = ("PageUp", "PageDown")


def type_a_number(panel: Any) -> None:
    """In the form with every number of a car."""
    panel.locator(".oilkit-form select").first.select_option(label="Pump and relief valve")
    panel.get_by_label("relief opening", exact=True).fill("65 psi")
    panel.get_by_label("relief opening", exact=True).press("Enter")


def test_lesson_runs_and_every_control_moves_its_picture(ran: tuple[str, Any]) -> None:
    name, page = ran
    for cell in lab.outputs(page):
        for output in cell:
            assert output["output_type"] != "error", output
    stored = nbformat.read(lab.ROOT / "notebooks" / name, as_version=4)
    calls = [c for c in stored.cells if c.cell_type == "code" and "panels." in c.source and "import" not in c.source]
    shown = page.locator(PANEL)
    assert calls
    expect(shown).to_have_count(len(calls))
    for k in range(shown.count()):
        panel = shown.nth(k)
        panel.scroll_into_view_if_needed()
        image = panel.locator("canvas.oilkit-picture")
        if image.count() == 0 or "panels.exercise(" in calls[k].source:
            continue  # a question
        expect(image).to_have_js_property("width", 624)
        expect(image).to_have_attribute("aria-label", re.compile(r".{31,}", re.DOTALL))
        for folded in panel.locator(".oilkit-more > button:visible").all():
            folded.click()
            lab.answered(page)
        handles, changed = panel.locator(".noUi-handle"), False
        for listed in panel.locator(".oilkit-control select").all():
            # the last one is the one that all sliders count for
            if handles.count() or changed:
                lab.choose_last(listed)
            else:
                changed = lab.changes_picture(page, panel, lambda which=listed: lab.choose_last(which))
            lab.answered(page)
        first = picture(panel)
        if handles.count() == 0:  # all typed
            assert changed or lab.changes_picture(page, panel, lambda typed=panel: type_a_number(typed))
            continue
        for h in range(handles.count()):
            handle = handles.nth(h)
            assert handle.get_attribute("aria-label"), "a slider that a screen reader cannot name"
            handle.focus()
            at_end = handle.get_attribute("aria-valuenow") == handle.get_attribute("aria-valuemax")
            moved = any(
                lab.changes_what_it_shows(page, panel, lambda key=key: page.keyboard.press(key))
                for key in (("ArrowLeft", "PageDown") if at_end else ("ArrowRight", "ArrowLeft", "PageUp"))
            )
            assert moved, handle.get_attribute("aria-label")
        if picture(panel) == first:  # steps of less than a pixel: a larger one
            handles.first.focus()
            assert any(lab.changes_picture(page, panel, lambda key=key: page.keyboard.press(key)) for key in FURTHER)
        for button in panel.locator(".oilkit-control .widget-toggle-button").all():
            if button.is_visible():  # not those that a class alone needs
                button.click()
                lab.answered(page)
                assert alerts(page) == []
        for listed in panel.locator("select").all():
            count = listed.locator("option").count()
            for option in range(0, count, 1 if count < 4 else count // 2):  # all of them: tests/test_panels.py
                listed.select_option(index=option)
                lab.answered(page)
                assert alerts(page) == [], option
        screenshot(panel, f"{name.removesuffix('.ipynb')}-{k}")
    unnamed = page.evaluate(
        f"""() => [...document.querySelectorAll('{PANEL} :is(input, textarea, select, button, [tabindex])')]
            .filter((e) => e.offsetParent && e.tabIndex >= 0)
            .filter((e) => !(e.getAttribute('aria-label') || (e.tagName !== 'SELECT' && e.textContent.trim())
                || [...(e.labels || [])].some((l) => l.textContent.trim()))).map((e) => e.outerHTML)"""
    )
    assert unnamed == []


def test_every_picture_says_what_it_shows_now(ran: tuple[str, Any]) -> None:
    _, page = ran
    lab.answered(page)
    panels = [p for p in page.locator(PANEL).all() if p.locator(".oilkit-readout").count()]
    for panel in panels:
        words = " ".join(panel.locator(".oilkit-readout p:not(.oilkit-steps p)").all_text_contents()).strip()
        alt = panel.locator("canvas.oilkit-picture").get_attribute("aria-label")
        assert len(words) > 20
        assert alt.endswith(words)
        assert len(alt) > len(words) + 30, "what the picture shows in general comes first"
    assert panels


@pytest.mark.thorough
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
    expect(round_buttons.nth(1)).to_be_checked()
    expect(round_buttons.nth(0)).not_to_be_checked()

    panels = page.locator(PANEL)
    order = panels.filter(has=page.locator("select[size]")).first
    expect(order).to_have_count(int(name.startswith("09")))
    if order.count():
        steps = order.locator("select[size]")
        before = steps.locator("option").all_inner_texts()
        steps.focus()
        page.keyboard.press("Home")
        for key in "Tab", "Tab", "Enter":
            page.keyboard.press(key)  # to "Later"
        wanted = [re.compile(re.escape(text[3:].strip())) for text in (before[1], before[0], *before[2:])]
        expect(steps.locator("option")).to_have_text(wanted)

        bench = panels.filter(has_text="The fault bench").first
        bench.get_by_role("button", name="Do this test").focus()
        page.keyboard.press("Enter")
        bench.get_by_text(re.compile("^Done: ")).wait_for(timeout=30_000)

    upload = page.get_by_role("button", name="Load from disk")
    expect(upload).to_have_count(3 * name.startswith("10"))
    if upload.count():
        with page.expect_file_chooser(timeout=30_000):
            upload.first.focus()
            page.wait_for_timeout(300)
            page.keyboard.press("Enter")
    assert alerts(page) == []


@pytest.mark.thorough
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
