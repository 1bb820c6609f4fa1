"""Templates of documents: each is there and can be read, a gap is an error, and what is put in makes no tag."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import jinja2
import pytest

from oilkit.storage.templates import template

NAMES = [
    (package, entry.relative_to(folder).as_posix())
    for package in ("oilkit.bench", "oilkit.build", "oilkit.teacher")
    for folder in [Path(str(files(package))) / "templates"]
    for entry in sorted(folder.rglob("*.*"))
]


def test_there_are_templates() -> None:
    assert {("oilkit.build", "sheet.html"), ("oilkit.teacher", "page.html")} <= {*NAMES}


@pytest.mark.parametrize(("package", "name"), NAMES, ids=[name for _, name in NAMES])
def test_each_can_be_read_and_leaves_no_gap(package: str, name: str) -> None:
    made = template(package, name)
    assert made.name == name
    if name != "parts.html":  # which only lends its macros
        with pytest.raises(jinja2.UndefinedError):
            made.render()


@pytest.mark.parametrize(("package", "name"), NAMES, ids=[name for _, name in NAMES])
def test_words_make_no_tag(package: str, name: str) -> None:
    """In all but plain text."""
    shown = template(package, name).environment.overlay().autoescape
    assert callable(shown)
    assert shown(name) is not name.endswith(".txt")


def test_a_title_is_words() -> None:
    assert "<title>a &lt;b&gt; c</title>" in template("oilkit.teacher", "page.html").render(title="a <b> c", body="")
