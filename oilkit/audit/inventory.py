"""Which modules hold physics, the lesson of each, and the words that say where a number is from. (Lesson 12)"""

from __future__ import annotations

import importlib
import pkgutil
import re
import types
from functools import cache
from typing import Any, get_type_hints

import oilkit

PARTS = ("physics", "laps", "shop", "bench", "build")
"""The packages whose modules the register reads."""


@cache
def physics_modules() -> tuple[types.ModuleType, ...]:
    """The modules whose docstring names a lesson, in lesson order; those of one lesson as `oilkit` lists them."""
    listed = oilkit.__doc__ or ""
    found = []
    for part in PARTS:
        package = importlib.import_module(f"oilkit.{part}")
        for info in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
            module = importlib.import_module(info.name)
            if lesson := lesson_of(module):
                place = listed.find(f"`{info.name.rpartition('.')[2]}`")
                found.append((lesson, place if place >= 0 else len(listed), info.name, module))
    return tuple(module for *_, module in sorted(found, key=lambda row: row[:3]))


def lesson_of(module: types.ModuleType) -> str:
    """``04``: the first lesson that a module's docstring names, or nothing."""
    named = re.search(r"\(Lessons? (\d\d)", module.__doc__ or "")
    return named[1] if named else ""


BASES = {
    "first principles": "first principles",
    "common practice, no source": "common practice, no source",
    "from memory": "from memory",
    "estimate": "estimate, no source",
    "definition": "definition",
    "numerical choice": "numerical choice",
}
"""Words in a docstring that say where a number or a formula is from, and what the register calls it."""


def basis_of(text: str) -> str:
    """The words of ``BASES`` that a docstring holds; "cited" if it holds none and names a work; else nothing."""
    flat = " ".join(text.split()).lower()
    found = [name for word, name in BASES.items() if word in flat]
    return ", ".join(dict.fromkeys(found)) or ("cited" if _names_a_work(text) else "")


def _names_a_work(text: str) -> bool:
    """Whether a year, a standard or a law by its name is in the text."""
    standards = ("ISO", "IEC", "ASTM", "SAE", "EN ", "Darcy", "Churchill", "Okabe")
    return any(word in text for word in standards) or any(
        part.strip("().,;").isdigit() and len(part.strip("().,;")) == 4 for part in text.split()
    )


def sort_of(name: str, function: Any) -> str:
    """``public`` (takes and gives quantities), ``whole`` (takes records) or ``inner`` (used by the others)."""
    hints = {key: hint for key, hint in get_type_hints(function).items() if key != "return"}
    kinds = getattr(function, "kinds", {})
    if getattr(function, "returns", None) and all(key in kinds or hint is bool for key, hint in hints.items()):
        return "public"
    return "whole" if name in oilkit.__all__ else "inner"
