"""JupyterLab in a headless Chromium, for the browser tests and the benchmark: start, open a lesson, run it, read it.

A page shows what was asked of it when it gets round to it, on a busy machine later. So tests do not look once: what
will be there is waited for, by Playwright's `expect`; that nothing comes is looked at after `answered`.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
LESSONS = sorted(path.name for path in (ROOT / "notebooks").glob("*.ipynb"))
TOKEN = "oilkit"
PANEL = ".oilkit-panel"
CHROMIUM_FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run"]


def find_chromium() -> str | None:
    """An installed Chromium or Chrome: ``OILKIT_CHROMIUM`` if set, else the first on the path."""
    chosen = os.environ.get("OILKIT_CHROMIUM")
    names = [chosen] if chosen else ["chromium", "chromium-browser", "google-chrome", "chrome"]
    return next((found for name in names if (found := shutil.which(name))), None)


@contextlib.contextmanager
def chromium() -> Iterator[Any]:
    """A headless browser."""
    from playwright.sync_api import expect, sync_playwright

    expect.set_options(timeout=30_000)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=find_chromium(), headless=True, args=CHROMIUM_FLAGS)
        try:
            yield browser
        finally:
            browser.close()


@contextlib.contextmanager
def jupyterlab(
    folder: Path, home: Path, kit_settings: bool = True, alive: bool = False, port: int = 0
) -> Iterator[str]:
    """JupyterLab serving a folder, with a home of its own; yields its address.

    kit_settings: with the settings that the kit installs, or without them, as a learner's other Jupyter would be.
    alive: with the kit's Lab extension, which starts a lesson when it is opened, or without it.
    port: any free one, unless a server is to be found again where another one was.
    """
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = port or probe.getsockname()[1]
    home.mkdir(parents=True, exist_ok=True)
    environment = os.environ | {
        "HOME": str(home),
        "JUPYTER_CONFIG_DIR": str(home / "config"),
        "JUPYTER_DATA_DIR": str(home / "data"),
        "JUPYTER_RUNTIME_DIR": str(home / "runtime"),
        "JUPYTERLAB_SETTINGS_DIR": str(home / "lab"),
        "JUPYTERLAB_WORKSPACES_DIR": str(home / "workspaces"),
    }
    options = [
        f"--ServerApp.root_dir={folder}",
        f"--ServerApp.port={port}",
        "--ServerApp.port_retries=0",
        "--ServerApp.ip=127.0.0.1",
        "--ServerApp.open_browser=False",
        "--ServerApp.allow_root=True",
        f"--IdentityProvider.token={TOKEN}",
        "--LabApp.expose_app_in_browser=True",
        "--LabApp.news_url=None",
    ]
    if not kit_settings:
        options.append("--ServerApp.jpserver_extensions={'oilkit.jupyter.nodelay': False, 'jupyterlab': True}")
        write_setting(home, "apputils-extension", "kernels-settings", '{"commsOverSubshells": "perCommTarget"}')
    if not alive:
        (home / "config" / "labconfig").mkdir(parents=True, exist_ok=True)
        (home / "config" / "labconfig" / "page_config.json").write_text('{"disabledExtensions": {"oilkit": true}}')
    write_setting(home, "notebook-extension", "tracker", '{"windowingMode": "none"}')
    write_setting(home, "apputils-extension", "notification", '{"fetchNews": "false", "checkForUpdates": false}')
    log = (home / "server.log").open("w", encoding="utf-8")
    server = subprocess.Popen(
        [sys.executable, "-m", "jupyterlab", *options], env=environment, stdout=log, stderr=subprocess.STDOUT
    )
    address = f"http://127.0.0.1:{port}"
    try:
        _wait_for(address, server, home / "server.log")
        yield address
    finally:
        server.terminate()
        try:
            server.wait(20)
        except subprocess.TimeoutExpired:
            server.kill()
        log.close()


def write_setting(home: Path, extension: str, plugin: str, text: str) -> None:
    folder = home / "lab" / "@jupyterlab" / extension
    folder.mkdir(parents=True, exist_ok=True)
    (folder / f"{plugin}.jupyterlab-settings").write_text(text, encoding="utf-8")


def _wait_for(address: str, server: subprocess.Popen[bytes], log: Path) -> None:
    for _ in range(240):
        if server.poll() is not None:
            raise RuntimeError(f"JupyterLab did not start:\n{log.read_text(encoding='utf-8')}")
        try:
            with urllib.request.urlopen(f"{address}/api/status?token={TOKEN}", timeout=2):
                return
        except OSError:
            time.sleep(0.25)
    raise RuntimeError(f"JupyterLab did not answer within a minute:\n{log.read_text(encoding='utf-8')}")


def open_lesson(browser: Any, address: str, name: str, width: int = 1440, height: int = 1000) -> Any:
    """A page with one notebook open and its kernel ready."""
    page = browser.new_page(viewport={"width": width, "height": height})
    page.goto(f"{address}/lab/tree/{name}?token={TOKEN}&reset")
    page.wait_for_function("window.jupyterapp && window.jupyterapp.shell.currentWidget?.context", timeout=90_000)
    page.evaluate(
        """async () => {
            const lesson = window.jupyterapp.shell.currentWidget;
            const late = new Promise((_, reject) => setTimeout(() => reject(new Error("no kernel in 90 s")), 90000));
            await Promise.race([lesson.context.ready.then(() => lesson.sessionContext.ready), late]);
        }"""
    )
    return page


ALL_THERE = f"""() => {{
    const cells = window.jupyterapp.shell.currentWidget.content.model.sharedModel.toJSON().cells;
    const widgets = cells.flatMap((cell) => cell.outputs ?? [])
        .filter(({{ data }}) => data?.["application/vnd.jupyter.widget-view+json"]).length;
    const panels = [...document.querySelectorAll("{PANEL}")];
    const shown = document.querySelectorAll(".jp-OutputArea-output > .jupyter-widgets").length;
    return shown >= widgets && panels.every((panel) => panel.querySelector("input, select, button, textarea")
        && [...panel.querySelectorAll("canvas")].every((canvas) => canvas.getAttribute("aria-label")));
}}"""
"""Whether every widget that the kernel has made stands in the page, with its controls and its picture."""


def run_all(page: Any) -> bool:
    """Open the closed parts and run every cell. True if all went well; each panel has its controls by then."""
    opened = "async () => await window.jupyterapp.commands.execute('notebook:expand-all-headings')"
    page.evaluate(opened)
    done = page.evaluate("async () => await window.jupyterapp.commands.execute('notebook:run-all-cells')")
    page.wait_for_timeout(500)
    page.evaluate(opened)  # a heading that was rendered later has closed its part then
    page.wait_for_function(ALL_THERE)
    return bool(done)


def outputs(page: Any) -> list[list[dict[str, Any]]]:
    """Outputs of each code cell, from the notebook's own model."""
    return page.evaluate(
        """() => window.jupyterapp.shell.currentWidget.content.model.sharedModel.toJSON().cells
            .filter((cell) => cell.cell_type === 'code').map((cell) => cell.outputs)"""
    )


# ---------------------------------------------------------------------------------------------------- for the tests


def skip_without_chromium() -> None:
    """Leave a file of tests out where no Chromium is found; with ``OILKIT_NEED_BROWSER`` set they run, and fail."""
    import pytest

    if find_chromium() is None and not os.environ.get("OILKIT_NEED_BROWSER"):
        pytest.skip("no Chromium on the path (or in OILKIT_CHROMIUM): browser tests left out", allow_module_level=True)


def opener(served: tuple[Any, str, Path]) -> Iterator[Any]:
    chrome, address, _ = served
    pages = []

    def open_(name: str, run: bool = True) -> Any:
        page = open_lesson(chrome, address, name)
        pages.append(page)
        if run:
            assert run_all(page), "a cell of the lesson failed"
            page.wait_for_selector(f"{PANEL} .oilkit-picture, {PANEL} .oilkit-control")
        return page

    yield open_
    for page in pages:
        page.evaluate("async () => await window.jupyterapp.shell.currentWidget.sessionContext.shutdown()")
        page.close()


PICTURE = "img.oilkit-picture, canvas.oilkit-picture"
PIXELS = """(shown) => {
    if (shown.src) return shown.src;
    const data = shown.getContext("2d").getImageData(0, 0, shown.width, shown.height).data;
    return String(new Uint32Array(data.buffer).reduce((sum, pixel) => Math.imul(sum ^ pixel, 16777619), 0));
}"""
"""A panel's picture, and a text that tells whether it is another one."""


def picture(panel: Any) -> str:
    return str(panel.locator(PICTURE).first.evaluate(PIXELS))


def alerts(page: Any) -> list[str]:
    return [text for text in page.locator(f"{PANEL} [role=alert]").all_inner_texts() if text]


def changes_picture(page: Any, panel: Any, act: Any) -> bool:
    """Whether the picture is another one within a few seconds of an act."""
    return _changes(page, panel.locator(PICTURE).first, PIXELS, act)


def changes_what_it_shows(page: Any, panel: Any, act: Any) -> bool:
    """Whether picture or table are others within a few seconds of an act: a small step may be less than a pixel."""
    pixels_and_text = f"""(panel) => {{
        const shown = panel.querySelector("{PICTURE}");
        return ({PIXELS})(shown) + panel.querySelector(".oilkit-readout").textContent;
    }}"""
    return _changes(page, panel, pixels_and_text, act)


def _changes(page: Any, locator: Any, what: str, act: Any) -> bool:
    element = locator.element_handle()
    before = element.evaluate(what)
    act()
    for _ in range(10):
        answered(page)
        if element.evaluate(what) != before:
            return True
        page.wait_for_timeout(200)  # a first look comes while the control is moved, the full answer when it rests
    return False


def choose_last(listed: Any) -> None:
    """Of a list whose options may just now be others."""
    listed.evaluate(
        "(list) => { list.selectedIndex = list.options.length - 1;"
        " list.dispatchEvent(new Event('change', { bubbles: true })); }"
    )


def answered(page: Any) -> None:
    """Wait until the kernel has done what it was last asked, and the page has drawn it.

    A kernel answers in the order in which it is asked: what is asked here comes last.
    """
    page.evaluate(
        """async () => {
            await new Promise((done) => setTimeout(done, 80)); // the page sends what was chosen
            const { kernel } = window.jupyterapp.shell.currentWidget.sessionContext.session;
            await kernel.requestCommInfo({ target_name: "none" });
            await new Promise((done) => setTimeout(done, 20)); // a picture is read
            for (let k = 0; k < 2; k++) await new Promise(requestAnimationFrame);
        }"""
    )


def cells(page: Any) -> int:
    return int(page.evaluate("() => window.jupyterapp.shell.currentWidget.content.widgets.length"))


def screenshot(panel: Any, name: str) -> None:
    """Keep it in the folder ``OILKIT_ARTEFACTS`` if that is set."""
    folder = os.environ.get("OILKIT_ARTEFACTS")
    if folder:
        Path(folder).mkdir(parents=True, exist_ok=True)
        panel.screenshot(path=str(Path(folder) / f"{name}.png"))
