"""Who calls each formula of the kit: its own functions and panels, and the lessons' cells. (Lesson 12)"""

from __future__ import annotations

import ast
import json
import re
from collections.abc import Iterator
from pathlib import Path

import oilkit


def uses_of(homes: dict[str, str]) -> tuple[dict[str, tuple[str, ...]], dict[str, tuple[str, ...]]]:
    """Who calls each function: functions and panels of the package, and lessons by their numbers.

    homes: each function's name with its module. Read from the syntax trees: a name counts if it was imported from the
    function's module, or is taken from it.
    """
    package = Path(oilkit.__file__).parent
    used: dict[str, set[str]] = {}
    for file in sorted(package.rglob("*.py")):
        short = ".".join(file.relative_to(package).with_suffix("").parts)
        if file.name == "__init__.py" or short.startswith("audit."):
            continue
        for name, where in _called(file.read_text(encoding="utf-8"), f"oilkit.{short}", homes):
            if not (where == name and homes[name] == f"oilkit.{short}"):
                used.setdefault(name, set()).add(f"{short}.{where}" if where else short)
    lessons: dict[str, set[str]] = {}
    for file in sorted((package.parent / "notebooks").glob("*.ipynb")):
        cells = json.loads(file.read_text(encoding="utf-8"))["cells"]
        text = "\n".join("".join(cell["source"]) for cell in cells if cell["cell_type"] == "code")
        for name, _ in _called(text, "", homes):
            lessons.setdefault(name, set()).add(file.name[:2])
    return _sorted(used), _sorted(lessons)


def _sorted(found: dict[str, set[str]]) -> dict[str, tuple[str, ...]]:
    return {name: tuple(sorted(places)) for name, places in found.items()}


def _called(text: str, module: str, homes: dict[str, str]) -> Iterator[tuple[str, str]]:
    """Each function of the register that a file refers to, with the function or class round the reference."""
    if _words(text).isdisjoint(homes):
        return
    lines = text.split("\n")
    parts = [(node, "\n".join(lines[_first_line(node) - 1 : node.end_lineno])) for node in ast.parse(text).body]
    importing = [part for node, said in parts if "import " in said for part in ast.walk(node)]
    local = {name: name for name, home in homes.items() if home == module}
    modules: dict[str, str] = {}
    for node in importing:
        if isinstance(node, ast.ImportFrom) and node.module and node.module.split(".")[0] == "oilkit":
            for alias in node.names:
                if alias.name in homes and node.module in ("oilkit", homes[alias.name]):
                    local[alias.asname or alias.name] = alias.name
                else:
                    modules[alias.asname or alias.name] = f"{node.module}.{alias.name}"
        elif isinstance(node, ast.Import):
            modules |= {alias.asname or alias.name: alias.name for alias in node.names if alias.name == "oilkit"}
    wanted = homes.keys() | local
    for node, said in parts:
        where = node.name if isinstance(node, ast.FunctionDef | ast.ClassDef) else ""
        if isinstance(node, ast.Import | ast.ImportFrom) or wanted.isdisjoint(_words(said)):
            continue
        for part in ast.walk(node):
            if isinstance(part, ast.Name) and part.id in local:
                yield local[part.id], where
            elif isinstance(part, ast.Attribute) and isinstance(part.value, ast.Name) and part.attr in homes:
                home = modules.get(part.value.id, "")
                if home in ("oilkit", homes[part.attr]):
                    yield part.attr, where


def _words(text: str) -> set[str]:
    """What a text may refer to: to walk its tree takes longer."""
    return set(re.findall(r"\w+", text))


def _first_line(node: ast.stmt) -> int:
    over = node.decorator_list if isinstance(node, ast.FunctionDef | ast.ClassDef) else []
    return min([node.lineno, *(one.lineno for one in over)])
