"""Every panel fits one screen of a school laptop, with its controls; one alone fills the screen for a class."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import browser as lab
import nbformat
import pytest
from browser import PANEL
from panel_answers import ANSWERS
from playwright.sync_api import TimeoutError as PlaywrightTimeout
from playwright.sync_api import expect
from test_projected import LARGER

from oilkit import panels
from oilkit.panels.framework.picture import DPI

lab.skip_without_chromium()
pytestmark = pytest.mark.thorough

LAPTOPS = ((1366, 768, 560), (1280, 720, 520))
"""Width and height of a window, and what a panel may take of the height. JupyterLab itself takes 121."""
PHONE = (390, 844)
WORDY = {"commissioning", "bench_fit", "next_reading", "lap", "register", "your_engine", "oil_thickness"}
"""Panels with more words than fit at first: these scroll, beside a picture that stays."""
WORDY_ALONE = {
    "bearing_flow", "bench_fit", "commissioning", "fault_bench", "measure_by_fall", "measure_by_pump", "oil_budget",
    "own_log", "pre_lube", "pump_lets_go", "register", "valve_wiring", "your_engine",
}  # fmt: skip
FOLDED_ALONE = {"acceptance", "commissioning", "your_readings"}
"""The same, and panels with more controls than fit, alone on the full screen in letters of 20 pixels."""
TOLD_BESIDE = {"demand_ledger", "how_it_ends", "lap", "next_reading", "oil_thickness", "robust_choice"}
"""Some whose last words stand below their controls there."""
NAMES = sorted(ANSWERS)
SIZE = 8

MEASURED = f"""() => [...document.querySelectorAll("{PANEL}")].map((panel) => {{
    const edge = panel.getBoundingClientRect();
    const seen = [...panel.querySelectorAll("*")].filter((e) => e.offsetParent && e.checkVisibility());
    const inside = (e) => !e.closest("select, .noUi-target");  // an option, a slider's handle at its end
    const more = (selector) => {{
        const part = panel.querySelector(selector);
        return part.scrollHeight - part.clientHeight;
    }};
    return {{
        height: edge.height,
        cut: seen.filter(inside).filter((e) => e.getBoundingClientRect().right > edge.right + 1
            || e.getBoundingClientRect().left < edge.left - 1).map((e) => e.outerHTML.slice(0, 120)),
        wider: panel.scrollWidth - panel.clientWidth,
        folded: more(".oilkit-controls"), words: more(".oilkit-readout"),
        picture: panel.querySelector("canvas").getBoundingClientRect().width,
    }};
}})"""
"""Of each panel: its height, what is cut off at its sides, and how much of controls and words is scrolled away."""


@pytest.fixture(
    scope="module",
    params=[" ".join(NAMES[k : k + SIZE]) for k in range(0, len(NAMES), SIZE)],
)
def shown(request: pytest.FixtureRequest, served: tuple[Any, str, Path]) -> Iterator[tuple[list[str], Any]]:
    """Some panels in one notebook, and its page."""
    names = request.param.split()
    kernel = {"name": "python3", "display_name": "Python 3 (ipykernel)", "language": "python"}
    hidden = {"jupyter": {"source_hidden": True}}
    cells = [nbformat.v4.new_code_cell("from oilkit import panels")]
    cells += [nbformat.v4.new_code_cell(f"panels.{name}()", metadata=hidden) for name in names]
    notebook = nbformat.v4.new_notebook(cells=cells, metadata={"kernelspec": kernel})
    nbformat.write(notebook, served[2] / "notebooks" / "layout.ipynb")
    for open_ in lab.opener(served):
        page = open_("layout.ipynb")
        page.wait_for_function(
            f"""(count) => document.querySelectorAll("{PANEL}").length === count
                && [...document.querySelectorAll("canvas")].every((canvas) => canvas.height > 200)""",
            arg=len(names),
        )
        yield names, page


STILL = f"""() => {{
    const parts = [...document.querySelectorAll(":is({PANEL}, {PANEL} canvas, {PANEL} .oilkit-readout)")];
    const now = JSON.stringify(parts.map((e) => [e.width, e.height, e.scrollHeight, e.getBoundingClientRect()]));
    const idle = jupyterapp.shell.currentWidget.sessionContext.session.kernel.status === "idle";
    if (now !== window.was || !idle) [window.was, window.since] = [now, performance.now()];
    return performance.now() - window.since > 500;
}}"""


def still(page: Any) -> None:
    """Wait until nothing has moved for half a second: a picture of another height is fitted again when it has come."""
    page.evaluate("() => { window.was = null; }")
    page.wait_for_function(STILL, polling=50)


def in_window(page: Any, width: int, height: int, files: bool) -> None:
    """Give the window a size, with JupyterLab's list of files open or closed."""
    page.set_viewport_size({"width": width, "height": height})
    page.evaluate(f"() => window.jupyterapp.shell.{'expandLeft' if files else 'collapseLeft'}()")
    still(page)


@pytest.mark.parametrize("files", [True, False], ids=["files", "no files"])
@pytest.mark.parametrize(("width", "height", "most"), LAPTOPS)
def test_every_panel_fits_one_screen(shown: Any, width: int, height: int, most: int, files: bool) -> None:
    names, page = shown
    in_window(page, width, height, files)
    for name, panel in zip(names, page.evaluate(MEASURED), strict=True):
        assert 200 < panel["height"] <= most, name
        assert panel["cut"] == [], name
        assert panel["wider"] <= 0, name
        assert panel["folded"] <= 1, f"{name}: a control is scrolled away"
        assert panel["words"] <= 4 or name in WORDY, f"{name}: {panel['words']} pixels of words are scrolled away"
        assert panel["picture"] >= 500, name


def test_nothing_is_cut_off_on_a_phone(shown: Any) -> None:
    names, page = shown
    in_window(page, *PHONE, False)
    for name, panel in zip(names, page.evaluate(MEASURED), strict=True):
        assert panel["cut"] == [], name
        assert panel["wider"] <= 0, name
        assert panel["folded"] <= 1, name
        assert panel["words"] <= 1, name


SET = """(panel) => [...panel.querySelectorAll(".oilkit-control :is(input[type=text], select, .mod-active)")]
    .map((e) => e.value || e.innerText)"""
"""What a panel's controls are set to."""


def test_every_panel_fits_with_every_option(shown: Any) -> None:
    names, page = shown
    width, height, most = LAPTOPS[1]
    in_window(page, width, height, True)
    for k, name in enumerate(names):
        panel = page.locator(PANEL).nth(k)
        panel.scroll_into_view_if_needed()
        start = panel.evaluate(SET)
        for choice in panel.locator(".oilkit-control select:not([size])").all():
            for option in choice.locator("option").all_text_contents():
                if choice.is_visible():
                    choice.select_option(label=option)
                    fits(page, k, f"{name}: {option}", most)
            if choice.is_visible():
                choice.select_option(index=0)
        for button in panel.locator(".oilkit-control .widget-toggle-button").all():
            if button.is_visible():
                button.click()
                fits(page, k, f"{name}: {button.inner_text()}", most)
        for _ in range(20):  # on a busy machine a choice that waits to be sent may come after the button's press
            panel.get_by_role("button", name="Start values").click()
            lab.answered(page)
            if panel.evaluate(SET) == start:
                break
            page.wait_for_timeout(500)
        assert panel.evaluate(SET) == start, name


def fits(page: Any, k: int, what: str, most: int) -> None:
    lab.answered(page)
    found = page.evaluate(MEASURED)[k]
    assert found["height"] <= most, what
    assert found["cut"] == [], what


PLACED = """([panel, wordy, folded]) => {
    const more = (part) => panel.querySelector(part).scrollHeight - panel.querySelector(part).clientHeight;
    return (wordy || more(".oilkit-readout") <= 4) && (folded || more(".oilkit-controls") <= 1);
}"""


FAR = """async (panel, texts) => {
    const [asked, controls] = [".oilkit-steps", ".oilkit-controls"].map((part) => panel.querySelector(part));
    const was = asked?.innerHTML;
    const more = [];
    for (let done = 0; done <= texts.length; done++) {
        const shown = [done - 1, done].filter((k) => k >= 0 && k < texts.length);
        if (!shown.length) continue;
        const lines = shown.map((k) => `<p><b>${k < done ? "✓ " : ""}Do ${k + 1} of ${texts.length}`
            + `${k < done ? ", done" : ""}:</b> ${texts[k]}</p>`);
        asked.innerHTML = lines.join("");
        for (let k = 0; k < 4; k++) await new Promise(requestAnimationFrame); // the page places its parts anew
        more.push(controls.scrollHeight - controls.clientHeight);
    }
    if (asked) asked.innerHTML = was;
    return more;
}"""
"""How much of a panel's controls is scrolled away with none of its steps done, with one, and so on."""


def test_one_panel_alone_fills_the_screen(shown: Any) -> None:
    names, page = shown
    in_window(page, 1280, 720, True)
    for k in range(len(names)):
        panel = page.locator(PANEL).nth(k)
        canvas = panel.locator("canvas")
        small = canvas.evaluate("(canvas) => canvas.width")
        assert small == int(DPI * getattr(panels, names[k]).size[0])
        width, height = getattr(panels, names[k]).size
        height = getattr(panels, names[k]).wide or height
        wanted = LARGER if height <= 3.6 else 1.45
        button = panel.locator("button.oilkit-full")
        assert "Escape" in button.get_attribute("title")
        button.click()
        expect(button).to_have_text("Leave full screen")
        page.wait_for_function(
            "([c, width]) => c.width >= width", arg=[canvas.element_handle(), wanted * small]
        )  # drawn as large, or its letters are small
        still(page)
        with contextlib.suppress(PlaywrightTimeout):  # on a busy machine it may be fitted once more; what is said below
            allowed = [names[k] in WORDY_ALONE, names[k] in FOLDED_ALONE]
            page.wait_for_function(PLACED, arg=[panel.element_handle(), *allowed], timeout=10_000)
        found = panel.evaluate(
            """(panel) => {
                const seen = [...panel.querySelectorAll("*")].filter((e) => e.offsetParent && e.checkVisibility());
                const texts = seen.filter((e) => e.matches("input, select, textarea")
                    || [...e.childNodes].some((c) => c.nodeType === 3 && c.textContent.trim()));
                const sizes = texts.map((e) => [parseFloat(getComputedStyle(e).fontSize), e.outerHTML.slice(0, 80)]);
                const more = (part) => panel.querySelector(part).scrollHeight - panel.querySelector(part).clientHeight;
                const cut = seen.filter((e) => e.matches(".oilkit-controls :is(label, button, .oilkit-row input)")
                    && e.scrollWidth > e.clientWidth + 1).map((e) => e.value || e.innerText);
                return [more(".oilkit-readout"), more(".oilkit-controls"), cut,
                    panel.getBoundingClientRect().toJSON(), panel.scrollWidth, sizes.sort((a, b) => a[0] - b[0])[0],
                    ...[panel.querySelector("canvas")].flatMap((c) => [c.width, c.getBoundingClientRect().toJSON()])];
            }"""
        )
        far = panel.evaluate(FAR, [step.text for step in getattr(panels, names[k]).steps])
        assert max(far, default=0) <= 1 or names[k] in FOLDED_ALONE, f"{names[k]}: controls scrolled away: {far}"
        words, folded, cut, edge, wide, (smallest, where), drawn, box = found
        assert words <= 4 or names[k] in WORDY_ALONE, f"{names[k]}: {words} pixels of words are scrolled away: {found}"
        assert folded <= 1 or names[k] in FOLDED_ALONE, f"{names[k]}: a control is scrolled away: {found}"
        assert [text for text in cut if "bench vessel (invented)" not in text and "like everything" not in text] == []
        assert (edge["width"], edge["height"], wide) == (1280, 720, 1280), names[k]
        assert smallest >= 20.0, f"{names[k]}: {where}"
        assert min(box["width"] / width, box["height"] / height) * width >= 0.99 * drawn, f"{names[k]}: shown smaller"
        assert box["bottom"] <= 721.0, f"{names[k]}: the picture is cut off"
        page.keyboard.press("Escape")
        expect(button).to_have_text("Full screen")
        expect(canvas).to_have_js_property("width", small)


def test_words_find_their_place_again_when_the_screen_changes(shown: Any) -> None:
    names, page = shown
    k = next((k for k, name in enumerate(names) if name in TOLD_BESIDE), None)
    if k is None:
        pytest.skip("all words of these panels stand under their pictures")
    in_window(page, 1280, 720, True)
    panel = page.locator(PANEL).nth(k)
    small = panel.locator("canvas").evaluate("(canvas) => canvas.width")
    panel.locator("button.oilkit-full").click()
    larger = "([canvas, width]) => canvas.width >= 1.4 * width"
    page.wait_for_function(larger, arg=[panel.locator("canvas").element_handle(), small])
    placed = """(panel) => [".oilkit-readout", ".oilkit-controls"].every((part) =>
        panel.querySelector(part).scrollHeight <= panel.querySelector(part).clientHeight + 4)"""
    told = panel.locator(".oilkit-controls .oilkit-told")
    expect(told).not_to_have_text("")
    page.wait_for_function(placed, arg=panel.element_handle())
    words = panel.locator(":is(.oilkit-readout, .oilkit-told) > p").all_inner_texts()
    page.set_viewport_size({"width": 1280, "height": 1000})
    expect(told).to_have_text("")
    page.wait_for_function(placed, arg=panel.element_handle())
    expect(panel.locator(".oilkit-readout > p")).to_have_text(words, use_inner_text=True)
    page.set_viewport_size({"width": 1280, "height": 720})
    expect(told).not_to_have_text("")
    page.wait_for_function(placed, arg=panel.element_handle())
    assert panel.locator(":is(.oilkit-readout, .oilkit-told) > p").all_inner_texts() in (words, words[-1:] + words[:-1])
    page.keyboard.press("Escape")
    expect(told).to_have_count(0)
    expect(panel.locator(".oilkit-readout > p")).to_have_text(words, use_inner_text=True)


def test_a_key_fills_the_screen_but_not_where_it_is_typed(shown: Any) -> None:
    _, page = shown
    panel = page.locator(PANEL).filter(has=page.locator(".noUi-handle")).first
    if not panel.count():
        pytest.skip("no panel with a slider among these")
    panel.locator(".noUi-handle").first.focus()
    button = panel.locator("button.oilkit-full")
    page.keyboard.press("f")
    expect(button).to_have_text("Leave full screen")
    page.keyboard.press("f")
    expect(button).to_have_text("Full screen")
    if panel.locator(".oilkit-control input[type=text]").count():
        panel.locator(".oilkit-control input[type=text]").first.focus()
        page.keyboard.press("f")
        page.wait_for_timeout(300)
        assert not page.evaluate("() => Boolean(document.fullscreenElement)")


def test_rare_controls_are_folded_away_and_found_by_key(shown: Any) -> None:
    names, page = shown
    in_window(page, 1366, 768, True)
    for k, name in enumerate(names):
        rare = getattr(panels, name).rarely
        switch = page.locator(PANEL).nth(k).locator(".oilkit-more > button")
        expect(switch).to_be_visible(visible=bool(rare))
        if not rare:
            continue
        controls = page.locator(PANEL).nth(k).locator(".oilkit-more .oilkit-control")
        assert f"{len(rare)}" in switch.inner_text()
        expect(switch).to_have_attribute("aria-expanded", "false")
        expect(controls.first).to_be_hidden()
        switch.focus()
        page.keyboard.press("Enter")
        controls.last.wait_for(state="visible")
        assert controls.count() == len(rare)
        expect(switch).to_have_attribute("aria-expanded", "true")
        assert page.evaluate(MEASURED)[k]["height"] <= LAPTOPS[0][2]
        switch.click()
        controls.last.wait_for(state="hidden")
