"""A set-up as it is typed: its text, with a comment for each table, and a value put into it. (Lesson 10)

Python reads TOML and does not write it, so writing is by a few lines of our own: a set-up is no more than tables of
texts and numbers. What was typed is kept to the digit; comments of your own are not.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from oilkit.build.records import HEAD, LISTS, TABLES
from oilkit.errors import InputError
from oilkit.quantities import kinds
from oilkit.quantities.kind import Kind
from oilkit.quantities.records import Record

ABOVE = "A set-up for oilkit. Every value is a text with its unit, except plain numbers; psi means what a gauge shows."


def set_up_text(document: Mapping[str, Any]) -> str:
    """The text of a set-up file: tables in the kit's order, each with a comment, values as they were typed."""
    lines = [f"# {ABOVE}", *(f"{key} = {_value(document[key])}" for key in HEAD if key in document)]
    listed = {"line": ("fittings", document), "driving": ("driving.events", document["driving"])}
    for key, (cls, note) in TABLES.items():
        if key not in document:
            continue
        lines += _table(f"[{key}]", document[key], cls, note)
        if key in listed:
            path, place = listed[key]
            item, about, _ = LISTS[path]
            for number, table in enumerate(place.get(path.rpartition(".")[2], [])):
                lines += _table(f"[[{path}]]", table, item, "" if number else about)
    return "\n".join(lines) + "\n"


def _table(title: str, table: Mapping[str, Any], cls: type[Record], note: str = "") -> Iterator[str]:
    """The lines of a table and of those in it."""
    yield from ("", f"# {note}", title) if note else ("", title)
    known = {name: kind for name, kind in cls.fields().items() if name in table}
    inner = [name for name in known if isinstance(table[name], dict)]
    yield from (f"{name} = {_value(table[name])}" for name in known if name not in inner)
    for name in inner:
        yield from _table(f"{title[:-1]}.{name}]", table[name], known[name])


def _value(value: Any) -> str:
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    return repr(value)


def put(document: dict[str, Any], path: str, value: Any) -> None:
    """Set one value or table of a document in place."""
    *way, last = re.findall(r"[^.\s]+(?: \d+)?", path)
    place: Any = document
    cls: Any = None
    for step in way:
        name, _, number = step.partition(" ")
        inner = place.get(name)
        if number and isinstance(inner, list) and 1 <= int(number) <= len(inner):
            inner, cls = inner[int(number) - 1], LISTS["fittings" if name == "fittings" else "driving.events"][0]
        elif cls is None:
            cls = TABLES[name][0] if name in TABLES else None
        else:
            cls = cls.fields().get(name)
        if not isinstance(inner, dict):
            raise InputError("changes", f"{path!r}", "a table and a key of a set-up, such as choice.precharge")
        place = inner
    kind = cls.fields().get(last) if cls else None
    if isinstance(value, Record):
        kept = {"events": place[last]["events"]} if last == "driving" and not way else {}
        place[last] = typed(value) | kept
    elif isinstance(kind, Kind) and not isinstance(value, str | int | float):
        place[last] = amount(value, kind)
    else:
        place[last] = value


def typed(record: Record) -> dict[str, Any]:
    """A record as it would be typed into a file."""
    found: dict[str, Any] = {}
    for name, kind in record.fields().items():
        value = getattr(record, name)
        if value is None:
            continue
        if isinstance(kind, Kind):
            found[name] = amount(value, kind)
        else:
            found[name] = typed(value) if isinstance(value, Record) else value
    return found


def amount(value: Any, kind: Kind) -> str | float | int:
    """A quantity as it would be typed: in the unit that takes fewer digits, good to 12 of them."""
    si = kinds.one_to_si("value", value, kind)
    if kind.si == "dimensionless":
        number = float(f"{si:.12g}")
        return int(number) if number == int(number) else number
    texts = []
    for system in ("US", "SI"):
        number, unit = float(kind.display(si, system)), kind.unit(system).removeprefix("delta_")
        number = 0.0 if abs(number) < 1e-12 * max(1.0, abs(si)) else number
        texts.append(f"{number:.12g} {unit}")
    return min(texts, key=len)
