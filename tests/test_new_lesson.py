"""The lesson that DEVELOPERS.md gives to copy: its six files are made in a copy of the checkout, and hold."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import nbformat
import pytest
from browser import find_chromium

ROOT = Path(__file__).resolve().parents[1]
PANEL = {"deletable": False, "jupyter": {"source_hidden": True}, "tags": ["hide-input"]}


def given() -> dict[str, str]:
    """The files by their names, as they stand in the text."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    return dict(re.findall(r"^`([\w/]+\.\w+)`[^\n]*\n\n```python\n(.*?)^```", text, re.MULTILINE | re.DOTALL))


def notebook(text: str) -> nbformat.NotebookNode:
    """Cells from text: ``# %%`` begins each, and says if it is prose or a panel."""
    cells = []
    for sort, body in re.findall(r"^# %%(.*)\n((?:(?!# %%).*\n)*)", text, re.MULTILINE):
        if "markdown" in sort:
            cells.append(nbformat.v4.new_markdown_cell(re.sub(r"^# ?", "", body, flags=re.MULTILINE).strip()))
        else:
            cells.append(nbformat.v4.new_code_cell(body.strip(), metadata=PANEL if "panel" in sort else {}))
    return nbformat.v4.new_notebook(cells=cells)


@pytest.fixture(scope="module")
def checkout(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the checkout with the new lesson in it, its notebook run and stored."""
    copy = tmp_path_factory.mktemp("new") / "checkout"
    shutil.copytree(ROOT, copy, ignore=shutil.ignore_patterns(".git", ".venv*", "artefacts", "pack", ".*_cache"))
    for name, text in given().items():
        assert not (copy / name).exists(), "a new lesson changes no file that is there"
        if name.endswith(".ipynb"):
            nbformat.write(notebook(text), copy / name)
        else:
            (copy / name).write_text(text, encoding="utf-8")
    run(copy, "tests/commands/refresh_notebooks.py", "notebooks/13_the_bottle.ipynb")
    return copy


def run(copy: Path, *command: str) -> str:
    environment = os.environ | {"PYTHONPATH": str(copy)}
    done = subprocess.run(
        [sys.executable, *command], cwd=copy, env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-3000:]
    return done.stdout


def pytest_in(copy: Path, *chosen: str) -> str:
    return run(copy, "-m", "pytest", "-q", "-n", "0", "-p", "no:cacheprovider", *chosen)


def test_it_is_six_files() -> None:
    assert len(given()) == 6


HELD_BY = ("test_bottle.py", "test_panels.py", "test_exercises.py", "test_docstrings.py", "test_package.py")
"""Tests of its formula, its panel, its exercise, its worked lines and what it imports; and then nbval's."""


@pytest.mark.thorough
def test_it_holds(checkout: Path) -> None:
    files = [*(f"tests/{name}" for name in HELD_BY), "notebooks/13_the_bottle.ipynb"]
    said = pytest_in(checkout, "-rA", *files, "-k", "bottle or lesson_13 or waits_for_itself or borrows_from_another")
    for name in files:
        assert re.search(rf"^PASSED {re.escape(name)}::", said, re.MULTILINE), f"nothing in {name} is about it"


@pytest.mark.thorough
def test_it_is_styled_as_the_rest(checkout: Path) -> None:
    files = [name for name in given() if name.endswith(".py")]
    run(checkout, "-m", "ruff", "check", *files)
    run(checkout, "-m", "ruff", "format", "--check", *files)
    known = f"--cache-dir={ROOT / '.mypy_cache'}"  # of all other modules, for this run or from it for the next
    run(checkout, "-m", "mypy", known, *(name for name in files if name.startswith("oilkit")))


@pytest.mark.thorough
@pytest.mark.skipif(not find_chromium(), reason="no Chromium on the path")
def test_it_opens_in_the_browser(checkout: Path) -> None:
    chosen = ("tests/test_browser.py", "-m", "", "-k", "moves_its_picture and 13_the_bottle")
    assert " passed" in pytest_in(checkout, *chosen)
