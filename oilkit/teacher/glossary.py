"""Glossary, symbols, assumptions and questions from the paddock: pages beside the lessons, each from one source.

The words come from ``data/glossary.toml``, symbols and assumptions from the register, which reads them from the code.
``python -m oilkit.teacher glossary`` writes all as markdown that JupyterLab shows.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from oilkit.audit import constants, inputs, left_out, register, sensitivity
from oilkit.errors import InputError
from oilkit.quantities.records import data_file, parse_toml
from oilkit.storage.saving import write_safely
from oilkit.storage.templates import template
from oilkit.storage.textfile import LARGEST, read_text
from oilkit.teacher.lesson import Lesson, read_lessons
from oilkit.teacher.paddock import PADDOCK, paddock_markdown

GLOSSARY, SYMBOLS, ASSUMPTIONS = "glossary.md", "symbols.md", "assumptions.md"
MOST_WORDS = 25
GREEK = ("alpha", "eps", "mu", "nu", "rho", "tau")


@dataclass(frozen=True)
class Term:
    """A word of the trade."""

    term: str
    says: str
    lesson: int
    iso: str = ""
    """The word that ISO 5598 has for it."""
    seen_as: str = ""
    """How the lesson writes it, where that is not the term itself."""


def terms(path: Path | str | None = None) -> list[Term]:
    """The words of ``data/glossary.toml`` in the order of the alphabet.

    Raises `InputError` for a file that is not such a list, a word that is there twice, or a long explanation.
    """
    file = Path(path) if path is not None else data_file("glossary.toml")
    wanted = "a glossary with [[term]] tables"
    entries = parse_toml(file.name, read_text(file, LARGEST, wanted), wanted).get("term")
    if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
        raise InputError(file.name, "no list of terms", wanted)
    found = [_term(file.name, entry) for entry in entries]
    names = [term.term.lower() for term in found]
    for name in names:
        if names.count(name) > 1:
            raise InputError(file.name, f"{name} twice", "each word once")
    return sorted(found, key=lambda term: term.term.lower())


def _term(file: str, entry: dict[str, Any]) -> Term:
    try:
        term = Term(**entry)
    except TypeError:
        raise InputError(file, f"the keys {', '.join(entry)}", "term, says, lesson, and iso or seen_as") from None
    if len(term.says.split()) > MOST_WORDS:
        raise InputError(f"{file}, {term.term}", f"{len(term.says.split())} words", f"{MOST_WORDS} at the most")
    return term


def _linked(number: int, lessons: Sequence[Lesson]) -> str:
    file = next((lesson.file for lesson in lessons if lesson.number == number), "")
    return f"[lesson {number:02d}]({file})" if file else f"lesson {number:02d}"


def glossary_markdown(lessons: Sequence[Lesson] | None = None) -> str:
    """The glossary as markdown."""
    linked = partial(_linked, lessons=read_lessons() if lessons is None else lessons)
    return template("oilkit.teacher", "glossary.txt").render(terms=terms(), linked=linked)


def tex(symbol: str) -> str:
    """``nu_40`` as ``\\nu_{40}``: a symbol of the register as a formula writes it."""

    def one(word: str) -> str:
        head, _, low = word.partition("_")
        if not low and re.fullmatch(r"[A-Za-z]\d", head):  # p0, V0
            head, low = head[0], head[1]
        if re.fullmatch(r"d[a-z]", head):
            head = rf"\Delta{{}}{head[1]}"
        head = {"eps": r"\varepsilon", "Re": r"\mathrm{Re}"}.get(head, rf"\{head}" if head in GREEK else head)
        low = rf"\mathrm{{{low}}}" if len(low) > 1 and low.isalpha() else low
        return head + (f"_{{{low}}}" if low else "")

    return re.sub(r"[A-Za-z]\w*", lambda word: one(word[0]), symbol).replace(" ", r"\,")


def _meaning(given: register.Argument) -> str:
    """``lowest pressure (a gauge pressure)``: the name in the code as words, and what sort of number it is."""
    words = given.name.replace("_", " ").replace("precharge", "pre-charge")
    plain = re.sub(r"^(an?|the) ", "", given.noun)
    return words if plain == words else given.noun if words in plain.split() else f"{words} ({given.noun})"


def symbols_markdown(lessons: Sequence[Lesson] | None = None) -> str:
    """The symbols as markdown: each with what it is, its units, the lesson, and its names in the code."""
    linked = partial(_linked, lessons=read_lessons() if lessons is None else lessons)
    used: dict[str, list[tuple[str, str, str, str]]] = {}
    for entry in register.register().values():
        for given in entry.arguments:
            if given.symbol and given.kind:
                unit = given.units.split(" (inside")[0]
                used.setdefault(given.symbol, []).append((_meaning(given), unit, given.name, entry.lesson))
    rows = []
    for symbol, uses in used.items():
        nouns, units, names, numbers = (list(dict.fromkeys(column)) for column in zip(*uses, strict=True))
        rows.append((tex(symbol), nouns, [] if units == ["none"] else units, int(min(numbers)), names))
    return template("oilkit.teacher", "symbols.txt").render(rows=rows, linked=linked)


def _first(meaning: str) -> str:
    """The first sentence of a meaning; all of it where that is but a unit."""
    whole = " ".join(meaning.split())
    first = whole.split(". ")[0]
    return first if len(first.split()) > 4 else whole


def assumptions_markdown() -> str:
    """Every assumption with its size and its mark, as markdown: inputs, what is left out, numbers in the code."""
    doubts = []
    for row in sensitivity.sensitivities():
        low, usual, high = next(iter(row.results.values()))
        given = inputs.INPUTS[row.name]
        doubts.append(
            {
                "words": row.words,
                "usual": given.text(given.usual),
                "low": given.text(row.low),
                "high": given.text(row.high),
                "moves": " and ".join(f"{100 * (end.m / usual.m - 1) + 0.0:+.1f} %" for end in (low, high)),
                "why": row.why,
            }
        )
    named = [
        {"name": one.name, "text": one.text, "basis": one.basis or "chosen", "says": _first(one.meaning)}
        for one in constants.constants().values()
        if one.named and one.meaning
    ]
    rows = left_out.left_out()
    return template("oilkit.teacher", "assumptions.txt").render(doubts=doubts, left_out=rows, constants=named)


def write_pages(folder: Path) -> list[Path]:
    """Write the pages beside the lessons; returns what was written."""
    lessons = read_lessons(folder)
    written = []
    made = glossary_markdown(lessons), symbols_markdown(lessons), assumptions_markdown(), paddock_markdown()
    for name, text in zip((GLOSSARY, SYMBOLS, ASSUMPTIONS, PADDOCK), made, strict=True):
        write_safely(folder / name, text)
        written.append(folder / name)
    return written
