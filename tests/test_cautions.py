"""What the kit tells people to do with their hands: one rule where several texts speak of the same thing."""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import nbformat
import pytest

from oilkit.shop.steps import VALVE_LEFT_OPEN

ROOT = Path(__file__).resolve().parents[1]
LESSONS = sorted((ROOT / "notebooks").glob("*.ipynb"))


def plain(text: str) -> str:
    """Without markdown's marks, on one line."""
    return " ".join(re.sub(r"[*_>`]", "", text).split())


def prose(path: Path) -> str:
    cells = nbformat.read(path, as_version=4).cells
    return "\n\n".join(cell.source for cell in cells if cell.cell_type == "markdown")


def strings(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict | list):
        for inner in value.values() if isinstance(value, dict) else value:
            yield from strings(inner)


def told() -> Iterator[tuple[str, str]]:
    """Every piece of text that a reader may meet, and where it stands: paragraphs, list items, sentences of a file."""
    for path in LESSONS:
        for piece in re.split(r"\n\s*\n|\n(?=\s*(?:[-*]|\d+\.) )", prose(path)):
            yield path.name, plain(piece)
    for path in sorted((ROOT / "oilkit").rglob("*")):
        if path.suffix == ".toml":
            pieces = list(strings(tomllib.loads(path.read_text(encoding="utf-8"))))
        elif path.parent.name == "templates":
            pieces = path.read_text(encoding="utf-8").splitlines()
        elif path.suffix == ".py":
            tree = ast.walk(ast.parse(path.read_text(encoding="utf-8")))
            pieces = [node.value for node in tree if isinstance(node, ast.Constant) and isinstance(node.value, str)]
        else:
            continue
        for piece in pieces:
            yield path.name, plain(piece)


def drains_the_vessel_s_oil(text: str) -> bool:
    """Whether a text on a pan that stands too high says to drain, other than with the vessel full."""
    if not re.search(r"night|morning|left open|too (much|high|full)|above (the|its) (full |upper )?mark|run out", text):
        return False
    allowed = r"(do not|don't|never|not to) drain|whoever [^.;]{0,30}\bdrain(s|ing)|drains from|draining back"
    text = re.sub(allowed, "", text, flags=re.I)
    orders = re.findall(r"[^.;:]*\b(?:drain|drains|draining|be drained|draw off|let out)\b[^.;:]*", text, flags=re.I)
    return any("vessel full" not in order for order in orders) and "with the vessel full" not in text


CHOICE = ("lesson_09.py", "drain oil: there is too much")
"""An answer to choose from, right where the gauge says that the vessel is full."""
OLD = "9. Too much oil in the pan (a valve left open overnight): do not start; drain it to the mark."


def test_nothing_tells_to_drain_the_vessel_s_oil_after_a_night() -> None:
    assert drains_the_vessel_s_oil(OLD)
    assert not drains_the_vessel_s_oil(plain(VALVE_LEFT_OPEN))
    pieces = list(told())
    assert len(pieces) > 3000
    assert [piece for piece in pieces if drains_the_vessel_s_oil(piece[1])] == [CHOICE]


@pytest.mark.parametrize("number", ["04", "08", "09"])
def test_the_lessons_have_the_rule_in_its_own_words(number: str) -> None:
    (path,) = (path for path in LESSONS if path.name.startswith(number))
    assert plain(VALVE_LEFT_OPEN) in plain(prose(path))
