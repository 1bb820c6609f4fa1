"""From a page to paper: PDF through an installed Chromium or Chrome, on A4 or Letter."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path, PurePath

from oilkit.errors import of_these

PAPERS = {"A4": "A4", "Letter": "letter"}
"""Names on the command line, and as style sheets have them."""
AT_ONCE = 2
LONGEST = 120.0
"""Seconds for one file."""


def find_chromium() -> str | None:
    """An installed Chromium or Chrome: ``OILKIT_CHROMIUM`` if set, else the first on the path."""
    chosen = os.environ.get("OILKIT_CHROMIUM")
    names = [chosen] if chosen else ["chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome"]
    return next((found for name in names if (found := shutil.which(name))), None)


def on_paper(page: str, paper: str) -> str:
    """The page with a paper size of its own. Raises `InputError` for a paper that is neither A4 nor Letter."""
    size = of_these("paper", paper, PAPERS)
    return page.replace("@page {", f"@page {{ size: {size};").replace("size: landscape", f"size: {size} landscape")


class Printer:
    """Prints pages to PDF while others are still being made; without a browser it says so."""

    def __init__(self, paper: str, wanted: bool = True) -> None:
        on_paper("", paper)
        self._paper, self._wanted = paper, wanted
        self._browser = find_chromium() if wanted else None
        self._pool = ThreadPoolExecutor(AT_ONCE)
        self._waiting: dict[str, Future[bytes]] = {}

    def take(self, name: str, page: str) -> None:
        """Begin to print a page."""
        if self._browser:
            self._waiting[name] = self._pool.submit(_pdf, self._browser, on_paper(page, self._paper))

    def finish(self) -> tuple[dict[str, bytes], list[str]]:
        """All PDF files, each under its page's name with ``.pdf``; and a sentence about those that there are not."""
        found = {name: waiting.result() for name, waiting in self._waiting.items()}
        self._pool.shutdown()
        if not self._wanted:
            return {}, []
        if not self._browser:
            return {}, ["No PDF files: neither Chromium nor Chrome was found. Print the pages from any browser."]
        failed = [name for name, pdf in found.items() if not pdf]
        told = [f"No PDF of {', '.join(failed)}: the browser did not print it. Print it from any browser."]
        return {PurePath(name).with_suffix(".pdf").as_posix(): pdf for name, pdf in found.items() if pdf}, (
            told if failed else []
        )


def _pdf(browser: str, page: str) -> bytes:
    """One page as PDF, or nothing if the browser failed. Its profile is its own, and goes with it."""
    root = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []  # Chromium wants it from root
    with tempfile.TemporaryDirectory(prefix="oilkit-print-", ignore_cleanup_errors=True) as folder:
        source, target = Path(folder) / "page.html", Path(folder) / "page.pdf"
        source.write_text(page, encoding="utf-8")
        command = [
            browser,
            "--headless",
            "--disable-gpu",
            "--no-first-run",
            "--disable-background-networking",
            *root,
            f"--user-data-dir={Path(folder) / 'profile'}",
            "--no-pdf-header-footer",
            f"--print-to-pdf={target}",
            source.as_uri(),
        ]
        try:
            subprocess.run(command, capture_output=True, timeout=LONGEST, check=False)
            return target.read_bytes()
        except (OSError, subprocess.TimeoutExpired):
            return b""
