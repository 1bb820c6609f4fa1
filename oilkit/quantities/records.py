"""Records: things with several numbers of known kinds, such as a vessel, a hose or an engine, read from plain text.

A record says once what each of its fields is::

    @dataclass(frozen=True)
    class Hose(Record):
        name: str
        bore: Bore

That one list serves for reading a file (`read_records`, with an error that names file, table and key), for checking a
record made in Python, and for the plain SI numbers that the physics works on (`Record.si`).
"""

from __future__ import annotations

import dataclasses
import re
import tomllib
from collections.abc import Iterator
from functools import cache, cached_property, lru_cache
from pathlib import Path
from types import SimpleNamespace
from typing import Any, Self, TypeVar, get_args, get_type_hints

from pint.facets.plain import PlainQuantity

from oilkit.errors import InputError, cut
from oilkit.quantities.checked import kind_of, without_none
from oilkit.quantities.kind import Kind
from oilkit.quantities.kinds import checked, one_to_si, to_si, typical
from oilkit.quantities.typed import has_unit, parse
from oilkit.quantities.units import short_text
from oilkit.storage.textfile import LARGEST, read_text, shown, shown_name, stamp

R = TypeVar("R", bound="Record")
MOST_DOTS, DEEPEST = 50, 8
"""Dots in a key or value, and tables in tables, of a TOML file: a key of thousands of dots takes minutes to read."""


@dataclasses.dataclass(frozen=True)
class Record:
    """Base of all records: a frozen dataclass whose number fields are annotated with kinds."""

    @classmethod
    def fields(cls) -> dict[str, Any]:
        """Each field with what it is: a `Kind`, a record class, a ``Literal`` of allowed words, or ``str``."""
        return _kinds(cls)  # type: ignore[arg-type]

    @cached_property
    def si(self) -> Any:
        """The same fields as plain SI numbers, records inside records likewise. Raises `InputError` for a bad one."""
        plain: dict[str, Any] = {}
        known: dict[str, Any] = vars(self).get("_known", {})
        may_be_left_out = {field.name for field in dataclasses.fields(self) if field.default is None}
        for name, kind in self.fields().items():
            value = getattr(self, name)
            if name in known:
                plain[name] = known[name]
            elif value is None and name in may_be_left_out:
                plain[name] = None
            elif isinstance(kind, Kind):
                plain[name] = one_to_si(name, value, kind)
            elif isinstance(kind, type) and issubclass(kind, Record):
                if not isinstance(value, kind):
                    raise InputError(name, f"a {type(value).__name__}", f"a {kind.__name__}")
                plain[name] = value.si
            else:
                plain[name] = _word(name, value, kind)
        return SimpleNamespace(**plain)

    def questions(self, what: str) -> Iterator[str]:
        """What to ask about numbers that are possible and unlikely, records inside with it. what: ``of the vessel``."""
        for name, kind in self.fields().items():
            value = getattr(self, name)
            if isinstance(value, Record):
                yield from value.questions(f"of the {name.replace('_', ' ')}")
            elif isinstance(kind, Kind) and value is not None:
                written = value.units if isinstance(value, PlainQuantity) else ""
                words = "length" if name == "lasts" else name.removeprefix("diametral_").replace("_", " ")
                if asked := kind.question(f"{words} {what}", getattr(self.si, name), written):
                    yield asked

    def changed(self, **changes: Any) -> Self:
        """The same with some fields changed: as `dataclasses.replace`, but what stays is not converted to SI again."""
        new = dataclasses.replace(self, **changes)
        if "si" in vars(self):
            vars(new)["_known"] = {name: value for name, value in vars(self.si).items() if name not in changes}
        return new

    def changed_si(self, **numbers: float) -> Self:
        """The same with some numbers changed, given in SI. Raises `InputError` for one out of range."""
        kinds = self.fields()
        known = {name: checked(name, number, kinds[name]) for name, number in numbers.items()}
        new = self.changed(**{name: kinds[name].quantity(number) for name, number in known.items()})
        vars(new).setdefault("_known", {}).update(known)
        return new


@cache
def _kinds(cls: type[Record]) -> dict[str, Any]:
    hints = get_type_hints(cls, include_extras=True)
    present = {field.name: without_none(hints[field.name]) for field in dataclasses.fields(cls)}
    return {name: kind_of(hint) or hint for name, hint in present.items()}


# ------------------------------------------------------------------------------------------------------ plain text


def data_file(name: str) -> Path:
    """Path of a file in ``data/``: beside the package in a checkout, inside it in an installed wheel."""
    package = Path(__file__).parents[1]
    if Path(name).name != name:
        raise InputError("name", repr(name), "the bare name of a file in the kit's data folder")
    for folder in (package / "data", package.parent / "data"):
        if (folder / name).is_file():
            return folder / name
    raise InputError("name", repr(name), "a file in the kit's data folder")


def read_records(cls: type[R], name: str, path: Path | str | None = None) -> dict[str, R]:
    """The records of ``data/<name>``, or of a file of your own in the same form, by their short names.

    Raises `InputError` naming file, table and key for anything missing, unknown, without a unit or out of range.
    """
    path = Path(path) if path else data_file(name)
    like_ours = f"a text file of tables as in the kit's own {name}"
    return dict(_records(cls, path, stamp(path), like_ours))  # type: ignore[arg-type]


@lru_cache(maxsize=32)
def _records(cls: type[R], path: Path, as_of: tuple[int, int] | None, like_ours: str) -> dict[str, R]:
    """Read again only when the file has changed: controls ask on every move."""
    file = shown_name(path)
    tables = parse_toml(file, read_text(path, LARGEST, like_ours), like_ours)
    made: dict[str, R] = {key: record_of(cls, f"{file}, [{shown(key)}]", key, table) for key, table in tables.items()}
    for key, record in made.items():
        name = getattr(record, "name", key)
        twin = next(other for other, r in made.items() if getattr(r, "name", other) == name)
        if twin != key:
            got = f"{cut(repr(name))}, as in [{shown(twin)}]"
            raise InputError(f"{file}, [{shown(key)}], name", got, "a name of its own")
    return made


def parse_toml(file: str, text: str, like_ours: str) -> dict[str, Any]:
    """The tables of a TOML text. Raises `InputError` for anything else, saying where it stops being TOML."""
    for number, line in enumerate(text.split("\n"), 1):
        if not line.lstrip().startswith("#") and any(part.count(".") > MOST_DOTS for part in line.split("=")):
            got = f"a file that is not TOML (more than {MOST_DOTS} dots in line {number})"
            raise InputError(file, got, like_ours)
    try:
        tables = tomllib.loads(text)
    except (ValueError, RecursionError) as problem:  # also a number of 5000 digits, or brackets 1000 deep
        what = str(problem) if isinstance(problem, tomllib.TOMLDecodeError) else "a number or a nest without end"
        stops = re.search(r"\(at line (\d+)", what)
        hint = after_inch_mark(text.split("\n")[int(stops[1]) - 1]) if stops else ""
        raise InputError(file, f"a file that is not TOML ({shown(what, 120)}){hint}", like_ours) from None
    if _deeper_than(DEEPEST, tables):
        raise InputError(file, f"tables or lists nested more than {DEEPEST} deep", like_ours)
    for where, value in values_in("", tables):
        if isinstance(value, int) and value.bit_length() > 64:  # which Python could not even print
            got = "a whole number of more than 64 bits"
            raise InputError(f"{file}, {shown(where)}", got, "a number of this world")
    return tables


def after_inch_mark(line: str) -> str:
    """What to say of a line such as ``bore = "3/4""`` that is no TOML; nothing where no inch mark is to blame."""
    marked = re.search(r'\d\s*"', line) and ('""' in line or line.count('"') % 2)
    return '; the inch mark " ends a text: write in' if marked else ""


_BLANKS = str.maketrans(dict.fromkeys("\t\u00a0\u2007\u2009\u202f", " "))
"""A tab and the blanks that come along with text copied from a page."""


def plain_blanks(thing: Any) -> Any:
    """A copy of tables, lists and texts in which each tab and no-break space is a plain blank."""
    if isinstance(thing, dict):
        return {key: plain_blanks(inner) for key, inner in thing.items()}
    if isinstance(thing, list):
        return [plain_blanks(inner) for inner in thing]
    return thing.translate(_BLANKS) if isinstance(thing, str) else thing


def beside(module: str) -> tuple[str, dict[str, Any]]:
    """Name and tables of the TOML file that stands beside a module (its ``__file__``). Raises `InputError`."""
    path = Path(module).with_suffix(".toml")
    like_ours = "the file that stands beside its module"
    return path.name, parse_toml(path.name, read_text(path, LARGEST, like_ours), like_ours)


def _deeper_than(depth: int, thing: Any) -> bool:
    inner = thing.values() if isinstance(thing, dict) else thing if isinstance(thing, list) else ()
    return depth < 0 or any(_deeper_than(depth - 1, one) for one in inner)


def values_in(where: str, thing: Any) -> Iterator[tuple[str, Any]]:
    """Everything in tables and lists that is neither, with the keys that lead there."""
    if isinstance(thing, dict):
        for key, value in thing.items():
            yield from values_in(f"{where}.{key}" if where else key, value)
    elif isinstance(thing, list):
        for number, value in enumerate(thing, 1):
            yield from values_in(f"{where} {number}", value)
    else:
        yield where, thing


def record_of(cls: type[R], where: str, key: str, table: Any) -> R:
    """A record from a table that was read. where: ``file, [table]``, for the sentence of an `InputError`."""
    kinds = cls.fields()
    if not isinstance(table, dict):
        place = where.replace("[", "").replace("]", "")
        raise InputError(place, cut(repr(table)), f"a table [{shown(key)}] with {_listed(kinds)}")
    for extra in sorted(table.keys() - kinds.keys()):
        raise InputError(where, f"the unknown key {shown(extra)}", f"only {_listed(kinds)}")
    return cls(**dict(_values(cls, where, key, table)))


def _values(cls: type[Record], where: str, key: str, table: dict[str, Any]) -> Iterator[tuple[str, Any]]:
    defaults = {f.name for f in dataclasses.fields(cls) if f.default is not dataclasses.MISSING}
    for name, kind in cls.fields().items():
        if name not in table and name in defaults:
            continue
        typed, here = table.get(name, key if name == "name" else None), f"{where}, {name}"
        if isinstance(kind, Kind):
            yield name, _number(here, typed, kind)
        elif isinstance(kind, type) and issubclass(kind, Record):
            if not isinstance(typed, dict):
                got = "nothing" if typed is None else cut(repr(typed))
                raise InputError(
                    here, got, f"a table {where.split(', ')[-1][:-1]}.{name}] with {_listed(kind.fields())}"
                )
            yield name, record_of(kind, f"{where[:-1]}.{name}]", name, typed)
        else:
            yield name, _word(here, typed, kind)


def _word(where: str, value: Any, kind: Any) -> str:
    """A text, one of the allowed ones if the field has a list of them."""
    words = get_args(kind)
    if not isinstance(value, str) or (words and value not in words):
        came = short_text(value) if isinstance(value, PlainQuantity) else cut(repr(value))
        got = "nothing" if value is None else came
        raise InputError(where, got, " or ".join(words) if words else "a text")
    return value


_NO_UNIT = re.compile(r'[^\w\s.,+\-−*/^%°"²³µ·()]|,(?!\d)|".|[+\-−](?!\s*[\d.])')
"""What no number with its unit has, and what a reader of units would pass over in silence."""


def _number(where: str, typed: Any, kind: Kind) -> Any:
    """A value of a data file: a text with its unit, since a bare number would change with the unit switch."""
    example, typed = typical(kind), plain_blanks(typed)
    if kind.si == "dimensionless":
        if isinstance(typed, bool) or not isinstance(typed, int | float) or not abs(typed) < 1e300:
            got = "nothing" if typed is None else cut(repr(typed))
            raise InputError(where, got, f"{kind.noun} such as {example:g}, without a unit and without quotes")
        return kind.quantity(to_si(where, typed, kind))
    if not isinstance(typed, str) or not (has_unit(typed) or not any(c.isdigit() for c in typed)):
        got = "nothing" if typed is None else f"{cut(repr(typed))} without a unit"
        raise InputError(where, got, f"a text with its unit, such as {kind.text(example)!r}")
    if len(typed) > 60 or not typed.isprintable() or _NO_UNIT.search(typed):
        raise InputError(where, cut(repr(typed)), f"{kind.noun} such as {kind.text(example)!r}")
    return kind.quantity(_in_si(where, typed, kind))


@lru_cache(maxsize=4096)
def _in_si(where: str, typed: str, kind: Kind) -> float:
    """Read once: a set-up is checked anew for each change of one of its numbers."""
    return parse(where, typed, kind)


def _listed(kinds: dict[str, Any]) -> str:
    return ", ".join(kinds)
