"""Build sheet and toolbox card on paper: as self-contained HTML, as PDF; and the set-up file itself. (Lesson 10)

HTML needs nothing but itself: its few styles and the tornado chart (SVG) are in it, nothing is fetched. HTML and PDF
show the same blocks (`oilkit.build.blocks`): the one is a template, the other is laid out by `oilkit.build.pages`.

All three are written whole or not at all, and never over a file that is something else.
"""

from __future__ import annotations

from pathlib import Path

from oilkit.build.blocks import card_document, sheet_document
from oilkit.build.pages import CARD_SIZES, SHEET_SIZES, pages_pdf
from oilkit.build.results import BuildSheet
from oilkit.build.setup_file import save, write_set_up
from oilkit.errors import InputError
from oilkit.quantities.checked import public
from oilkit.storage.saving import named_file
from oilkit.storage.templates import template
from oilkit.storage.textfile import opened

MARK = "oilkit build sheet"
LARGEST = 50_000_000
"""Bytes of a sheet, at the most: a PDF holds its fonts."""


@public
def sheet_html(sheet: BuildSheet, card: bool = False) -> str:
    """The build sheet, or the toolbox card made from it, as one self-contained HTML page.

    card: one side of A4 or Letter, in the learner's units alone; the sheet takes several sides.
    """
    document = card_document(sheet) if card else sheet_document(sheet)
    page = template("oilkit.build", "sheet.html")
    return page.render(mark=MARK, document=document, letters=12 if card else 8, is_sentence=_is_sentence)


def _is_sentence(cell: str) -> bool:
    """Whether a cell's words may break: numbers stay on one line."""
    return len(cell) > 20 and not any(c.isdigit() for c in cell)


@public
def sheet_pdf(sheet: BuildSheet, card: bool = False) -> bytes:
    """The build sheet as a PDF of a few pages, or the toolbox card made from it, of one: see `sheet_html`."""
    if card:
        return pages_pdf(card_document(sheet), MARK, CARD_SIZES, 1)
    return pages_pdf(sheet_document(sheet), MARK, SHEET_SIZES)


@public
def write_sheet(sheet: BuildSheet, path: Path | str, overwrite: bool = False, card: bool = False) -> None:
    """Write the build sheet: as HTML, PDF or set-up file, by the name's ending ``.html``, ``.pdf`` or ``.toml``.

    card: the toolbox card in its place, as HTML or PDF.
    Whole or not at all; over an older sheet or set-up, and over anything else only if overwrite is true.
    Raises `InputError` for another ending, a file that is something else, and a place that cannot be written.
    """
    path = named_file(path, ".html", ".pdf", ".toml")
    ending = path.suffix.lower()
    if ending == ".toml":
        write_set_up(sheet.build, path, overwrite)
        return
    if not overwrite and path.exists() and not _is_a_sheet(path):
        raise InputError(
            path.name, "a file that is there and is no build sheet", "another name, so that it is not lost"
        )
    save(path, sheet_html(sheet, card) if ending == ".html" else sheet_pdf(sheet, card))


def _is_a_sheet(path: Path) -> bool:
    try:
        with opened(path, LARGEST, "a build sheet") as file:
            content = file.read()
    except (InputError, OSError):
        return False
    return f"<!-- {MARK} -->".encode() in content[:200] or f"/Creator ({MARK})".encode() in content
