"""A lesson starts when it is opened, and comes back with its settings from every way to lose kernel, server or page."""

from __future__ import annotations

import json
import py_compile
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import nbformat
import pytest
from browser import LESSONS, PANEL, ROOT, TOKEN, chromium, jupyterlab, skip_without_chromium
from playwright.sync_api import expect

from oilkit import panels
from oilkit.exercises import all_exercises

skip_without_chromium()

LESSON = "02_filling_the_vessel.ipynb"
SLIDER = f"{PANEL} .oilkit-controls .noUi-handle"
WATCH = """
    window.seen = [];
    const ugly = /model not found|Error displaying widget|JavaScript Error/;
    addEventListener("DOMContentLoaded", () => new MutationObserver(() => {
        const found = document.querySelector(".jp-Notebook")?.textContent.match(ugly);
        if (found) window.seen.push(found[0]);
    }).observe(document.body, {childList: true, subtree: true, characterData: true}));
"""


GONE_TOO = re.compile("appears to have died|onnection")
"""What JupyterLab itself says of a kernel or a server that is gone, when it comes to it. It asks nothing else."""


@pytest.fixture(scope="module")
def chrome() -> Iterator[Any]:
    with chromium() as browser:
        yield browser


@pytest.fixture(scope="module")
def root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("served")


@pytest.fixture(scope="module")
def server(root: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """One for all tests but those that end it."""
    with jupyterlab(root, tmp_path_factory.mktemp("lab") / "home", alive=True) as address:
        yield address


@pytest.fixture
def folder(root: Path) -> Path:
    """Lessons of a test's own, and so a kernel of its own."""
    made = root / f"case_{len(list(root.glob('case_*')))}"
    made.mkdir()
    shutil.copy(ROOT / "notebooks" / LESSON, made)
    return made


@pytest.fixture
def tab(chrome: Any, folder: Path) -> Iterator[Any]:
    """Opens a test's lesson as tabs of one browser, which remembers what a browser remembers.

    folder: where the lesson stands; kept: with the tabs that JupyterLab itself remembers."""
    context = chrome.new_context(viewport={"width": 1366, "height": 768})
    context.add_init_script(WATCH)
    asked: list[str] = []

    def close(dialog: Any) -> None:
        asked.append(dialog.first.inner_text())
        dialog.first.page.keyboard.press("Escape")

    def open_(address: str, wait: bool = True, folder: Path = folder, kept: bool = False) -> Any:
        page = context.new_page()
        page.set_default_timeout(90_000)
        page.add_locator_handler(page.locator(".jp-Dialog"), close)
        page.on("console", lambda said: print(said.text) if said.type == "error" else None)  # shown when a test fails
        page.goto(f"{address}/lab/tree/{folder.name}/{LESSON}?token={TOKEN}{'' if kept else '&reset'}")
        if wait:
            alive(page)
        return page

    yield open_
    for page in context.pages:
        page.evaluate("async () => { try { await jupyterapp.serviceManager.sessions.shutdownAll(); } catch {} }")
    context.close()
    assert [text for text in asked if not GONE_TOO.search(text)] == []


def alive(page: Any) -> None:
    page.wait_for_selector(f"{PANEL}:not(.oilkit-asleep) canvas.oilkit-picture", state="attached")
    page.wait_for_function("!document.querySelector('.oilkit-asleep')")
    page.wait_for_function("!/starts|comes back/.test(document.querySelector('.oilkit-bar').textContent)")


def bar(page: Any) -> str:
    return str(page.locator(".oilkit-bar").inner_text())


def readout(page: Any) -> str:
    return str(page.locator(f"{PANEL} .oilkit-readout").first.inner_text())


def move(page: Any) -> str:
    """One step on the first panel's first slider; returns what the panel shows then."""
    before = readout(page)
    page.locator(SLIDER).first.press("ArrowRight")
    page.wait_for_function(
        f"before => document.querySelector('{PANEL} .oilkit-readout').innerText !== before", arg=before
    )
    page.wait_for_function("Object.keys(localStorage).filter((key) => key.startsWith('oilkit:')).length > 1")
    return readout(page)


def as_left(page: Any, shown: str) -> None:
    """The panels live, stand as they were left, answer a key, and nobody saw an error."""
    alive(page)
    page.wait_for_function(f"shown => document.querySelector('{PANEL} .oilkit-readout').innerText === shown", arg=shown)
    assert move(page) != shown
    assert page.evaluate("window.seen") == []
    assert page.locator(f"{PANEL} [role=alert]").all_inner_texts() == []


def in_page(page: Any, act: str) -> None:
    page.evaluate(f"async () => {{ const lesson = jupyterapp.shell.currentWidget; {act} }}")


def asleep(page: Any, words: str) -> None:
    """The panels are gray, and the bar says why. The server itself looks every 3 s whether a kernel has died."""
    page.wait_for_selector(".oilkit-asleep", state="attached", timeout=10_000)
    expect(page.locator(".oilkit-bar")).to_contain_text(words)


def bring_back(page: Any) -> None:
    page.get_by_role("button", name="Bring the lesson back").click()


def test_a_lesson_starts_when_it_is_opened_and_stays_at_its_top(folder: Path, server: str, tab: Any) -> None:
    page = tab(server)
    expect(page.locator(".jp-Cell").first).to_be_in_viewport()
    expect(page.locator(".jp-FileBrowser")).to_be_hidden()
    shown = readout(page)
    as_left(page, shown)
    assert kernels(page, folder) == [LESSON]  # the one that started while JupyterLab loaded


def kernels(page: Any, folder: Path) -> list[str]:
    """Which notebooks of a test's folder have a kernel, as the server knows it, whoever asked for that."""
    running = page.evaluate("async () => (await fetch('/api/sessions')).json()")
    paths = (Path(session["path"]) for session in running)
    return sorted(path.name for path in paths if path.parent.name == folder.name)


def test_each_folder_of_lessons_keeps_its_own_settings(root: Path, folder: Path, server: str, tab: Any) -> None:
    """Two learners or two classes at one machine: their lessons have the same cells."""
    other = root / f"{folder.name}_of_another_class"
    shutil.copytree(folder, other)
    page = tab(server)
    opened = readout(page)
    shown = move(page)
    beside = tab(server, folder=other)
    assert readout(beside) == opened
    assert "as you left them" not in bar(beside)
    moved = [move(beside) for _ in range(2)][-1]
    assert moved not in (opened, shown)
    for one, stands in ((page, shown), (beside, moved)):
        in_page(one, GONE["was started again"])
        asleep(one, "was started again")
        bring_back(one)
        alive(one)
        assert readout(one) == stands


def test_copies_of_a_lesson_in_one_page_count_each_its_own(root: Path, folder: Path, server: str, tab: Any) -> None:
    other = root / f"{folder.name}_of_another_class"
    shutil.copytree(folder, other)
    page = tab(server)
    # JupyterLab may put away what stands in the toolbar of a tab behind: the elements are kept
    stands = "(where) => (window[`${where} far`] ??= window[where].node.querySelector('.oilkit-far'))?.textContent"
    page.evaluate("() => { window.first = jupyterapp.shell.currentWidget; }")
    page.wait_for_function(stands, arg="first")
    page.evaluate(
        """async (path) => {
            window.copy = await jupyterapp.commands.execute("docmanager:open", { path });
        }""",
        f"{other.name}/{LESSON}",
    )
    asked = ".oilkit-asked"
    page.wait_for_function(f"window.copy.node.querySelector('{asked}')?.textContent")
    page.wait_for_function("!/starts/.test(window.copy.node.querySelector('.oilkit-bar').textContent)")
    page.wait_for_function(stands, arg="copy")

    def count(done: int, where: str) -> None:
        text = "([where, done]) => window[`${where} far`].textContent.startsWith(`${done} of `)"
        page.wait_for_function(text, arg=[where, done])

    count(0, "first")
    count(0, "copy")
    box = page.locator(f".jp-NotebookPanel:not(.lm-mod-hidden) {PANEL} .oilkit-of-pressure input").first
    box.fill("10 psi")
    box.press("Enter")
    count(1, "copy")
    count(0, "first")


def test_a_picture_that_fails_does_not_stop_the_next(folder: Path, server: str, tab: Any) -> None:
    page = tab(server)
    page.evaluate(
        """() => {
            const { prototype } = CanvasRenderingContext2D, draw = prototype.drawImage;
            prototype.drawImage = function () { prototype.drawImage = draw; throw new Error("no memory"); };
        }"""
    )
    before = readout(page)
    with page.expect_console_message(lambda said: said.type == "error" and "no memory" in said.text):
        page.locator(SLIDER).first.press("ArrowRight")
    assert readout(page) == before
    assert move(page) != before


WAITING = """() => {
    const kernel = window.jupyterapp?.shell.currentWidget?.sessionContext?.session?.kernel;
    if (!kernel) return false;
    const told = { now: 0, most: 0, all: 0 };
    kernel.anyMessage.connect((_, { msg, direction }) => {
        if (direction === "send" && msg.header.msg_type === "execute_request" && msg.content.code) {
            told.all += 1;
            told.now += 1;
        }
        if (direction === "recv" && msg.header.msg_type === "execute_reply" && told.now) told.now -= 1;
        if (document.querySelector(".oilkit-panel canvas")) told.most = Math.max(told.most, told.now);
    });
    window.told = told;
    return true;
}"""


@pytest.mark.thorough
def test_a_hand_on_the_first_panel_waits_for_one_cell_at_most(folder: Path, server: str, tab: Any) -> None:
    """A kernel answers in the order in which it is asked: once there is a panel, cells that are still to run may not
    stand before its slider."""
    page = tab(server, wait=False)
    page.wait_for_function(WAITING, polling=5)
    alive(page)
    told = page.evaluate("window.told")
    assert told["all"] > 10
    assert told["most"] == 1


@pytest.mark.thorough
def test_a_lesson_in_a_tab_behind_starts_when_it_is_looked_at(folder: Path, server: str, tab: Any) -> None:
    """All that stood in tabs the day before would else be read and start at once, and none soon."""
    other = "01_boyles_law.ipynb"
    shutil.copy(ROOT / "notebooks" / other, folder)
    page = tab(server)
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    behind = """async (path) => {
        window.behind = await jupyterapp.commands.execute("docmanager:open", { path, options: { activate: false } });
    }"""
    page.evaluate(behind, f"{folder.name}/{other}")
    page.wait_for_timeout(2000)
    shown = "window.behind.node.querySelectorAll('.oilkit-panel canvas').length"
    assert page.evaluate(shown) == 0
    assert not page.evaluate("window.behind.context.isReady")
    assert not [url for url in asked if other in url and "content=1" in url]
    assert kernels(page, folder) == [LESSON]
    page.evaluate("jupyterapp.shell.activateById(window.behind.id)")
    page.wait_for_function(f"{shown} > 1")
    assert [url for url in asked if other in url and "content=1" in url]
    assert kernels(page, folder) == [other, LESSON]


@pytest.mark.thorough
def test_tabs_of_the_day_before_wait_behind_the_lesson_that_is_asked_for(
    root: Path, folder: Path, tmp_path: Path, tab: Any
) -> None:
    """JupyterLab puts yesterday's tabs back before it opens what its address names."""
    others = ["01_boyles_law.ipynb", "03_choosing_precharge.ipynb"]
    for other in others:
        shutil.copy(ROOT / "notebooks" / other, folder)
    with jupyterlab(root, tmp_path / "home", alive=True) as address:
        page = tab(address)
        front = "jupyterapp.shell.currentWidget"
        for other in others:
            page.evaluate(
                "path => jupyterapp.commands.execute('docmanager:open', { path }).then(() => 0)",
                f"{folder.name}/{other}",
            )
            page.wait_for_function(f"{front}.node.querySelectorAll('.oilkit-panel canvas').length > 1")
            page.wait_for_function(f"!/starts/.test({front}.node.querySelector('.oilkit-bar').textContent)")
        saved = """async (names) => {
            const told = await (await fetch("/lab/api/workspaces")).text();
            return names.every((name) => told.includes(`notebook:${name}`));
        }"""
        page.wait_for_function(saved, arg=[f"{folder.name}/{name}" for name in (LESSON, *others)], polling=200)
        page.evaluate("async () => { await jupyterapp.serviceManager.sessions.shutdownAll(); }")
        assert kernels(page, folder) == []
        page.close()
        page = tab(address, kept=True)
        for name in LESSON, *others:
            expect(page.locator(".lm-DockPanel-tabBar .lm-TabBar-tabLabel", has_text=name)).to_have_count(1)
        page.wait_for_timeout(2000)
        assert kernels(page, folder) == [LESSON]


@pytest.mark.thorough
def test_a_printed_answer_waits_for_the_prediction(folder: Path, server: str, tab: Any) -> None:
    page = tab(server)
    waiting = """() => [...document.querySelectorAll(".jp-CodeCell .jp-RenderedText")]
        .filter((shown) => getComputedStyle(shown).visibility === "hidden").map((shown) => shown.textContent)"""
    (covered,) = page.evaluate(waiting)
    assert "share filled" in covered
    asked = page.locator(PANEL, has_text="You raise the pre-charge from")
    asked.get_by_label("it rises").check()
    asked.get_by_role("button", name="Check").click()
    page.wait_for_function(f"() => ({waiting})().length === 0")


@pytest.mark.thorough
def test_a_step_is_ticked_counted_and_kept(folder: Path, server: str, tab: Any) -> None:
    """Typed into a box, as a learner would; it is still ticked in a page loaded again, and in another kernel."""
    called = set(re.findall(r"panels\.(\w+)\(", (folder / LESSON).read_text(encoding="utf-8"))) - {*panels.NO_PANELS}
    of = sum(len(getattr(panels, name).steps) for name in called)
    of += sum(exercise.lesson == 2 for exercise in all_exercises().values())

    def stands(done: int) -> None:
        page.wait_for_function(f"document.querySelector('.oilkit-far').textContent === '{done} of {of} done'")
        steps = page.locator(f"{PANEL} .oilkit-asked[role=status]").first
        expect(steps).to_contain_text(f"Do {done + 1} of 3:")
        assert ("✓ Do 1 of 3, done:" in steps.inner_text()) == bool(done)

    page = tab(server)
    stands(0)
    box = page.locator(f"{PANEL} .oilkit-of-pressure input").first
    box.fill("10 psi")
    box.press("Enter")
    stands(1)
    page.reload()
    alive(page)
    stands(1)
    in_page(page, "await lesson.sessionContext.session.kernel.restart();")
    asleep(page, "was started again")
    bring_back(page)
    alive(page)
    stands(1)


GONE = {
    "was started again": "await lesson.sessionContext.session.kernel.restart();",
    "shut down": "await lesson.sessionContext.shutdown();",
    "stopped by itself": "lesson.sessionContext.session.kernel.requestExecute("
    "{code: 'import os; os.kill(os.getpid(), 9)'});",
}
"""What the bar says of a kernel that is gone, and how it goes."""


@pytest.mark.thorough
def test_every_way_to_lose_the_kernel_or_the_page(folder: Path, server: str, tab: Any) -> None:
    page = tab(server)
    shown = move(page)
    for words, act in GONE.items():
        in_page(page, act)
        asleep(page, words)
        bring_back(page)
        as_left(page, shown)
        shown = readout(page)

    page.evaluate("window.slept = 0")
    page.evaluate(
        "() => new MutationObserver(() => { window.slept += document.querySelectorAll('.oilkit-asleep').length })"
        ".observe(document.body, {subtree: true, attributes: true, attributeFilter: ['class']})"
    )
    in_page(page, "lesson.sessionContext.session.kernel._ws.close();")
    page.wait_for_function("window.slept > 0")
    as_left(page, shown)

    shown = readout(page)
    page.reload()
    as_left(page, shown)

    shown = readout(page)
    second = tab(server)
    as_left(second, shown)
    shown, stands = readout(second), second.locator(SLIDER).first.get_attribute("aria-valuenow")
    page.wait_for_selector(f"{SLIDER}[aria-valuenow='{stands}']")  # the other tab's slider is told once this one rests
    as_left(page, shown)  # what was moved in one tab stands in the other


@pytest.mark.thorough
def test_jupyter_s_own_way_to_run_all_again_brings_the_settings_back_too(folder: Path, server: str, tab: Any) -> None:
    page = tab(server)
    shown = move(page)
    in_page(page, "await lesson.sessionContext.session.kernel.restart();")
    asleep(page, "was started again")
    in_page(page, "await jupyterapp.commands.execute('notebook:run-cell-and-select-next');")  # a text, or one panel
    assert "was started again" in bar(page), "the others stand still"
    in_page(page, "await jupyterapp.commands.execute('notebook:run-all-cells');")
    as_left(page, shown)
    expect(page.locator(".oilkit-bar")).to_be_hidden()


@pytest.mark.thorough
@pytest.mark.parametrize("act", [GONE["was started again"], "lesson.sessionContext.session.kernel._ws.close();"])
def test_a_start_that_is_disturbed_ends_in_one_lesson(folder: Path, server: str, tab: Any, act: str) -> None:
    """The kernel started again, or the connection dropped, while its cells run."""
    page = tab(server)
    shown, ids, titles = move(page), open_panels(page), page.locator(f"{PANEL} h4").all_text_contents()
    in_page(page, GONE["was started again"])
    asleep(page, "was started again")
    bring_back(page)
    page.wait_for_function("/starts: [2-9] of/.test(document.querySelector('.oilkit-bar').textContent)")
    in_page(page, act)
    if act == GONE["was started again"]:
        bring_back(page)  # offered at once
    as_left(page, shown)
    page.wait_for_timeout(1000)
    expect(page.locator(f"{PANEL} h4")).to_have_text(titles)
    assert len(open_panels(page)) == len(ids)


def open_panels(page: Any) -> list[str]:
    """The ids of the instruments that live in the kernel."""
    code = '__import__("sys").modules["oilkit.panels.framework.instrument"].open_in_cells()'
    found = page.evaluate(
        """async (expression) => {
            const kernel = jupyterapp.shell.currentWidget.sessionContext.session.kernel;
            const asked = kernel.requestExecute({code: "", silent: true, user_expressions: {it: expression}});
            return JSON.parse((await asked.done).content.user_expressions.it.data["text/plain"]);
        }""",
        code,
    )
    return [id for ids in found.values() for id in ids]


@pytest.mark.thorough
def test_a_lesson_with_another_name_keeps_its_settings(folder: Path, server: str, tab: Any) -> None:
    page = tab(server)
    shown = move(page)
    in_page(page, f"await lesson.context.rename('mine_{LESSON}');")
    in_page(page, GONE["was started again"])
    asleep(page, "was started again")
    bring_back(page)
    as_left(page, shown)


@pytest.mark.thorough
def test_nothing_is_left_running_for_a_lesson_that_is_not_there(folder: Path, server: str, tab: Any) -> None:
    (folder / LESSON).unlink()
    page = tab(server, wait=False)
    page.wait_for_function("window.jupyterapp?.shell")
    page.wait_for_timeout(3000)
    none = "async (name) => (await (await fetch('/api/sessions')).json()).every(({ path }) => !path.startsWith(name))"
    page.wait_for_function(none, arg=folder.name, polling=200)


@pytest.mark.thorough
def test_a_server_that_is_started_again_and_a_lesson_saved_yesterday(
    root: Path, folder: Path, tmp_path: Path, tab: Any
) -> None:
    with jupyterlab(root, tmp_path / "home", alive=True) as address:
        page = tab(address)
        shown = move(page)
    asleep(page, "connection")
    with jupyterlab(root, tmp_path / "home", alive=True, port=int(address.rpartition(":")[2])):
        bring_back(page)
        as_left(page, shown)

        shown = readout(page)
        in_page(page, "await lesson.context.save(); await lesson.sessionContext.shutdown();")
        page.close()
        assert "widget-view" in (folder / LESSON).read_text(encoding="utf-8")
        page = tab(address)
        expect(page.locator(".oilkit-bar")).to_contain_text("as you left them")
        as_left(page, shown)
        moved = readout(page)
        page.get_by_role("button", name="All to start values").click()
        expect(page.locator(f"{PANEL} .oilkit-readout").first).not_to_have_text(moved, use_inner_text=True)


def changed(folder: Path, change: Any) -> None:
    path = folder / LESSON
    notebook = json.loads(path.read_text(encoding="utf-8"))
    change(notebook)
    path.write_text(json.dumps(notebook), encoding="utf-8")


def _one_cell(notebook: Any) -> None:
    cell = next(cell for cell in notebook["cells"] if cell["cell_type"] == "code")
    cell["source"] = "".join(cell["source"]) + "\n"


def _foreign(notebook: Any) -> None:
    notebook["cells"] = [cell for cell in notebook["cells"] if cell["cell_type"] == "code"][:1]
    notebook["cells"][0]["source"] = "print('mine')"


@pytest.mark.thorough
@pytest.mark.parametrize("change", [_one_cell, _foreign])
def test_code_that_is_not_the_kit_s_waits_for_a_click(folder: Path, server: str, tab: Any, change: Any) -> None:
    changed(folder, change)
    page = tab(server, wait=False)
    start = page.get_by_role("button", name="Start this lesson")
    start.wait_for()
    page.wait_for_timeout(2000)
    assert "not the kit's own" in bar(page)
    assert counts(page) == stored(folder)
    start.click()
    expect(page.locator(".oilkit-bar")).to_be_hidden(timeout=90_000)


def counts(page: Any) -> Any:
    cells = "jupyterapp.shell.currentWidget.content.model.sharedModel.toJSON().cells"
    return page.evaluate(f"() => {cells}.map((cell) => cell.execution_count ?? null)")


def stored(folder: Path) -> Any:
    return [cell.get("execution_count") for cell in json.loads((folder / LESSON).read_text(encoding="utf-8"))["cells"]]


@pytest.mark.thorough
@pytest.mark.parametrize("name", ["numpy.py", "numpy/__init__.py"])
def test_a_module_beside_the_lesson_waits_for_a_click(folder: Path, server: str, tab: Any, name: str) -> None:
    """Python looks for `numpy` beside the notebook first."""
    (folder / name).parent.mkdir(exist_ok=True)
    (folder / name).write_text("raise SystemExit('loaded')", encoding="utf-8")
    page = tab(server, wait=False)
    page.get_by_role("button", name="Start this lesson").wait_for()
    assert "numpy" in bar(page)
    assert readings(page) == []


@pytest.mark.thorough
@pytest.mark.parametrize("name", ["oilkit.pyc", "numpy/__init__.pyc"])
def test_a_compiled_module_that_the_server_hides_waits_for_a_click_too(
    folder: Path, server: str, tab: Any, name: str
) -> None:
    """JupyterLab's list of files leaves it out; Python loads it all the same."""
    mark = folder / "loaded"
    source = folder / "source.txt"
    source.write_text(f"open({str(mark)!r}, 'w').close()", encoding="utf-8")
    (folder / name).parent.mkdir(exist_ok=True)
    py_compile.compile(str(source), str(folder / name))
    page = tab(server, wait=False)
    page.get_by_role("button", name="Start this lesson").wait_for()
    assert "which Python would load" in bar(page)
    assert readings(page) == []
    assert not mark.exists()


@pytest.mark.thorough
def test_an_empty_cell_of_the_learner_s_hinders_no_start(folder: Path, server: str, tab: Any) -> None:
    changed(folder, lambda notebook: notebook["cells"].insert(5, nbformat.v4.new_code_cell("  \n")))
    page = tab(server)
    assert readings(page)
    assert not bar(page)


@pytest.mark.thorough
def test_the_question_about_foreign_code_stands_when_the_kernel_is_started_again(
    folder: Path, server: str, tab: Any
) -> None:
    changed(folder, _one_cell)
    page = tab(server, wait=False)
    page.get_by_role("button", name="Start this lesson").wait_for()
    in_page(page, "await lesson.sessionContext.session.kernel.restart();")
    page.wait_for_timeout(2000)
    assert "not the kit's own" in bar(page)
    assert page.get_by_role("button", name="Bring the lesson back").count() == 0
    assert counts(page) == stored(folder)


def readings(page: Any) -> Any:
    return page.locator(PANEL).all_inner_texts()


@pytest.mark.thorough
def test_another_notebook_is_left_alone(folder: Path, server: str, tab: Any) -> None:
    changed(folder, lambda notebook: notebook["metadata"].pop("oilkit"))
    page = tab(server, wait=False)
    page.wait_for_function("window.jupyterapp?.shell.currentWidget?.context")
    in_page(page, "await lesson.context.ready; await lesson.sessionContext.ready;")
    page.wait_for_timeout(2000)
    assert page.locator(".oilkit-bar").count() == 0
    assert counts(page) == stored(folder)


def test_the_shipped_digests_are_those_of_the_lessons() -> None:
    import sys

    sys.path.insert(0, str(ROOT / "tests" / "commands"))
    try:
        from refresh_notebooks import DIGESTS, PACKAGE, addressed, digests
    finally:
        sys.path.pop(0)
    assert DIGESTS.read_text(encoding="utf-8") == digests()
    assert PACKAGE.read_text(encoding="utf-8") == addressed()
    assert list(json.loads(digests())) == [name.removesuffix(".ipynb") for name in LESSONS]
