"""A set-up as a text file: engine, oil, vessel, line, driving, limits, and how well each number is known. (Lesson 10)

The file is TOML, plain text that any editor opens: tables in brackets, and in them ``key = "10 psi"``. Every value is a
text with its unit, except plain numbers. Data only: nothing in a file is ever evaluated. Reading is strict, because a
number that was passed over in silence ends in an engine: whatever is missing, unknown, without a unit or out of range
is an `InputError` that names file, line, table and key, and the file stays as it was.

`oilkit.build.records` has the tables and what may stand in them, `oilkit.build.as_typed` the text that is written.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np

from oilkit.build.as_typed import put, set_up_text
from oilkit.build.records import (
    HEAD,
    LISTS,
    MAY_MISS,
    TABLES,
    Chosen,
    Driving,
    Estimates,
    Event,
    Layout,
    Limits,
    Morning,
    Readings,
    Shop,
    Uncertain,
)
from oilkit.errors import InputError, cut
from oilkit.physics.bearing import usual_clearance
from oilkit.physics.catalog import grades
from oilkit.physics.discharging import Installation
from oilkit.physics.engine import Engine, check_engine, rods_need
from oilkit.physics.line import Fitting, Hose, SupplyLine
from oilkit.physics.oil import Lubricant, check_grade, density_of
from oilkit.physics.pressure import ambient_pressure, gauge_error
from oilkit.physics.vessel import Vessel
from oilkit.quantities.checked import public
from oilkit.quantities.kind import Kind
from oilkit.quantities.kinds import CLEARANCE, CLEARANCE_CHANGE, GAUGE, LENGTH, LINE_LENGTH, SPEED, TIME
from oilkit.quantities.printed import percent
from oilkit.quantities.records import Record, data_file, parse_toml, plain_blanks, record_of, values_in
from oilkit.quantities.units import Qty
from oilkit.shop.set_up import Fitted
from oilkit.storage.saving import named_file, write_keeping_earlier, write_safely
from oilkit.storage.textfile import read_text, shown, shown_name, text_of

FORMAT, VERSION = "oilkit set-up", 1
LARGEST = 200_000
"""Bytes. A set-up is a few thousand."""
MOST = 12
"""Fittings, and events, at the most."""
RADIAL_BELOW = 0.65
"""Below this share of the usual clearance a radial one was typed, more likely than not (chosen, no source)."""
LIKE_OURS = "a set-up file as lesson 10 saves it"


@dataclass(frozen=True)
class Build:
    """A set-up as it was read: what was typed, and the records made of it. Made by `read_set_up` or `set_up_of`."""

    document: dict[str, Any] = field(repr=False)
    """Tables, texts and numbers as typed. Do not change them: `changed` makes another set-up."""
    name: str
    note: str
    engine: Engine = field(repr=False)
    oil: Lubricant = field(repr=False)
    vessel: Vessel = field(repr=False)
    hose: Hose = field(repr=False)
    line: Layout = field(repr=False)
    fittings: tuple[Fitting, ...] = field(repr=False)
    valve: Fitting = field(repr=False)
    driving: Driving = field(repr=False)
    events: tuple[Event, ...] = field(repr=False)
    shop: Shop = field(repr=False)
    choice: Chosen = field(repr=False)
    limits: Limits = field(repr=False)
    estimates: Estimates = field(repr=False)
    morning: Morning = field(repr=False)
    uncertain: Uncertain = field(repr=False)
    readings: Readings | None = field(default=None, repr=False)
    known: Any = field(default=None, repr=False)
    """How well its engine is known, where that is no longer what was typed: see `oilkit.build.calibration.Known`."""

    @property
    def fitted(self) -> Fitted:
        """What is bolted together, its valve apart."""
        line = SupplyLine(self.hose, self.line.length, self.fittings)
        built = Installation(self.engine, self.oil, self.vessel, line, self.line.tee == "before the filter")
        return Fitted(built, self.valve)

    @property
    def installation(self) -> Installation:
        """What is bolted together, the open valve among the line's fittings."""
        return self.fitted.with_valve

    @property
    def track_ambient(self) -> Qty:
        ambient: Qty = ambient_pressure(self.driving.altitude)
        return ambient

    @property
    def shop_ambient(self) -> Qty:
        ambient: Qty = ambient_pressure(self.shop.altitude)
        return ambient

    def limit_at(self, speed: Any) -> Any:
        """The gallery pressure that counts at a speed, both SI: the one typed, or what the rods need where it is more.

        Below what their oil loses on its way into the crank the rods get none, whatever was typed.
        """
        rho = density_of(self.oil.si, self.driving.si.sump_temperature)
        return np.maximum(self.limits.si.lowest_pressure, rods_need(self.engine.si, rho, speed))

    @property
    def questions(self) -> tuple[str, ...]:
        """What to ask about numbers that are possible and unlikely; nothing if all are usual."""
        things = ("engine", "oil", "vessel", "hose", "line", "valve")
        tables = {key: getattr(self, key) for key in TABLES if key not in MAY_MISS or getattr(self, key)}
        parts = [(one, f"of the {key}" if key in things else f"under [{key}]") for key, one in tables.items()]
        named: tuple[Fitting | Event, ...] = (*self.fittings, *self.events)
        parts += [(one, f"of “{one.name}”") for one in named]
        asked = [question for record, what in parts for question in record.questions(what)]
        idle, redline = self.engine.si.idle, self.engine.si.redline
        least, damage = self.limits.si.lowest_pressure, self.engine.si.damage
        if least < damage:
            asked.append(
                f"Unusual: lowest_pressure under [limits], {GAUGE.both(least)}. Below {GAUGE.both(damage)} this "
                "engine's bearings are damaged: was so little meant?"
            )
        beside_readings = {"pump_slip", "relief_slope", "jets_and_lifters"}
        if not any(off for name, off in vars(self.uncertain.si).items() if name not in beside_readings):
            asked.append("Unusual: nothing is off under [uncertain]. No car is so exact: shares of draws say nothing.")
        for name in ("mains", "rods"):
            part = getattr(self.engine.si, name)
            share = part.diametral_clearance / float(usual_clearance.si(part.diameter))
            if share < RADIAL_BELOW:
                asked.append(
                    f"Unusual: clearance of the {name}, {CLEARANCE.both(part.diametral_clearance)}. On "
                    f"{LENGTH.both(part.diameter)} that is {percent(share)} of what is usual: is it radial? Type the "
                    "diametral clearance, twice as much."
                )
        for event in self.events:
            words, speed = f"Unusual: speed of “{event.name}”, {SPEED.both(event.si.speed)}.", event.si.speed
            if speed > redline:
                asked.append(f"{words} The redline is {SPEED.both(redline)}: was so much meant?")
            elif speed < idle:
                asked.append(f"{words} The engine idles at {SPEED.both(idle)}: was so little meant?")
        return tuple(asked)

    def text(self) -> str:
        """The set-up file's text."""
        return set_up_text(self.document)

    def changed(self, changes: Mapping[str, Any]) -> Build:
        """Another set-up with some values changed, by table and key: ``{"choice.precharge": Q(12, "psig")}``.

        A value may be a text with its unit, a number, a quantity, or for a whole table a record or a dictionary; events
        and fittings are numbered from 1, as in ``"driving.events 1.lasts"``. Raises `InputError` as for a file.
        """
        document = copy.deepcopy(self.document)
        for path, value in changes.items():
            put(document, path, value)
        return set_up_of(document, "the set-up")


# ------------------------------------------------------------------------------------------------------------ reading


@public
def read_set_up(path: Path | str) -> Build:
    """Read a set-up file. The file is only ever read.

    Raises `InputError`, naming line, table and key where it can, for a file that is missing, too large, no text, no
    TOML, no set-up, of a newer version, or in which anything is missing, unknown, without a unit or out of range.

    >>> street = read_set_up(data_file("setup_street_v8.toml"))
    >>> print(f"{street.vessel.name}: {street.choice.precharge:.0f~}")
    bench vessel, 3 qt (invented): 18 psig
    """
    return set_up_from_text(read_text(named_file(path), LARGEST, LIKE_OURS), shown_name(path))


def set_up_from_bytes(content: bytes, name: str) -> Build:
    """As `read_set_up`, for the content of a file that came some other way, such as an upload."""
    return set_up_from_text(text_of(content, name, LARGEST, LIKE_OURS), name)


@public
def set_up_from_text(text: str, name: str = "set-up") -> Build:
    """As `read_set_up`, for a text. name: what the sentence of an `InputError` calls it."""
    try:
        return set_up_of(parse_toml(name, text, LIKE_OURS), name)
    except InputError as problem:
        raise _located(problem, text, name) from None


def set_up_of(document: dict[str, Any], name: str) -> Build:
    """The set-up of tables that were read already. Raises `InputError` that names table and key."""
    found: dict[str, Any] = {}
    document = plain_blanks(document)
    _check_head(document, name)
    for where, value in values_in("", document):
        if isinstance(value, str) and (len(value) > 200 or not value.isprintable()):
            above, _, last = where.rpartition(".")
            place = f"{name}, [{shown(above)}], {shown(last)}" if above else f"{name}, {shown(last)}"
            raise InputError(place, f"{cut(repr(value), 40)}", "a text on one line of up to 200 characters")
    for key in sorted(document.keys() - TABLES.keys() - {"fittings"} - set(HEAD)):
        raise InputError(name, f"the unknown key {shown(key)}", f"only {', '.join([*HEAD, *TABLES, 'fittings'])}")
    found["fittings"] = _list_of("fittings", document.get("fittings", []), name)
    for key, (cls, _) in TABLES.items():
        if key not in document:
            if key in MAY_MISS:
                continue
            raise InputError(name, f"no table [{key}]", f"one with {', '.join(cls.fields())}")
        table = document[key]
        if key == "driving" and isinstance(table, dict):
            found["events"] = _list_of("driving.events", table.get("events", []), name)
            table = {inner: value for inner, value in table.items() if inner != "events"}
        found[key] = _record(cls, f"{name}, [{key}]", key, table)
    with _cut_short():
        check_engine(f"{name}, [engine]", found["engine"])
        check_grade(f"{name}, [oil]", found["oil"], grades())
        if (readings := found.get("readings")) and readings.oil:
            check_grade(f"{name}, [readings.oil]", readings.oil, grades())
    build = Build(document=document, name=document["name"], note=document.get("note", ""), **found)
    _check_together(build, name)
    return build


def _check_head(document: dict[str, Any], name: str) -> None:
    """Whether this is a set-up at all, and of which version: first, because another version may look otherwise."""
    if document.get("format") != FORMAT:
        got = f"format = {cut(repr(document['format']), 40)}" if "format" in document else "no line with a format"
        raise InputError(f"{name}, format", got, f'format = "{FORMAT}"')
    version = document.get("version")
    if isinstance(version, bool) or not isinstance(version, int):
        got = "no version" if version is None else cut(repr(version), 40)
        raise InputError(f"{name}, version", got, f"version = {VERSION}")
    if version > VERSION:
        raise InputError(
            f"{name}, version", f"{version}, from a newer oilkit", f"{VERSION} or lower: read it with the newer kit"
        )
    if version < 1:
        raise InputError(f"{name}, version", f"{version}", f"version = {VERSION}")
    for key, may_miss in (("name", False), ("note", True)):
        value = document.get(key, "" if may_miss else None)
        if not isinstance(value, str) or not (value.strip() or may_miss):
            got = "nothing" if value is None or value == "" else cut(repr(value), 40)
            raise InputError(f"{name}, {key}", got, "a text")


def _list_of(path: str, tables: Any, name: str) -> tuple[Any, ...]:
    cls, _, least = LISTS[path]
    if not isinstance(tables, list):
        raise InputError(f"{name}, [{path}]", cut(repr(tables), 40), f"tables, each beginning with [[{path}]]")
    if not least <= len(tables) <= MOST:
        raise InputError(f"{name}, [{path}]", f"{len(tables)} tables [[{path}]]", f"{least} to {MOST}")
    return tuple(_record(cls, f"{name}, [{path} {number}]", path, table) for number, table in enumerate(tables, 1))


def _record(cls: type[Record], where: str, key: str, table: Any) -> Any:
    """A record in which nothing is left to a default: here even its name must be typed."""
    if isinstance(table, dict) and "name" in cls.fields() and "name" not in table:
        raise InputError(where, "no name", 'a line such as name = "mine"')
    known = (cls, where, repr(table))
    if known not in _MADE:
        if len(_MADE) >= 500:
            _MADE.clear()
        with _cut_short():
            _MADE[known] = record_of(cls, where, key, table)
    return _MADE[known]


_MADE: dict[Any, Any] = {}
"""Records made of tables before: a form that changes one value need not read all the others again."""


@contextmanager
def _cut_short() -> Iterator[None]:
    """The sentence of an `InputError` short enough to read."""
    try:
        yield
    except InputError as problem:
        raise InputError(problem.argument, cut(problem.got, 120), problem.wanted) from None


def _check_together(build: Build, name: str) -> None:
    """Raise `InputError` for numbers that are fine one by one and of no use here."""

    def check(where: str, fine: bool, value: float, kind: Kind, wanted: str = "") -> None:
        if not fine:
            raise InputError(f"{name}, {where}", kind.exact_text(value), wanted or f"more than {kind.exact_text(0.0)}")

    length, change, off = build.line.si.length, build.driving.si.clearance_change, build.uncertain.si.clearance
    check("[line], length", length > 0.0, length, LINE_LENGTH)
    for number, event in enumerate(build.events, 1):
        check(f"[driving.events {number}], lasts", event.si.lasts > 0.0, event.si.lasts, TIME)
        check(f"[driving.events {number}], speed", event.si.speed > 0.0, event.si.speed, SPEED)
    check("[uncertain], clearance", off >= 0.0, off, CLEARANCE_CHANGE, "0 or more")
    then = build.readings.si.clearance_change if build.readings else None
    changes = {"driving": change} | ({"readings": then} if then is not None else {})
    for (table, more), bearing in product(changes.items(), ("mains", "rods")):
        left = getattr(build.engine.si, bearing).diametral_clearance + more
        wanted = f"a change that leaves the {bearing} some clearance"
        check(f"[{table}], clearance_change", left > 0.0, more, CLEARANCE_CHANGE, wanted)
    for table in ("shop", "readings"):
        gauge = getattr(build, table)
        try:
            if gauge is not None:
                gauge_error(gauge.gauge_full_scale, gauge.gauge_class)
        except InputError as problem:
            raise InputError(f"{name}, [{table}], gauge_class", problem.got, problem.wanted) from None
    if build.readings is not None:
        most = build.readings.si.gauge_full_scale
        for key, seen in vars(build.readings.si).items():
            here = getattr(seen, "pressure", 0.0)
            wanted = f"no more than the gauge's full scale of {GAUGE.exact_text(most)}"
            check(f"[readings.{key}], pressure", here <= most, here, GAUGE, wanted)


_TABLE = re.compile(r"\s*(\[\[?)\s*([A-Za-z0-9_.\-]+(?: +[A-Za-z0-9_.\-]+)*)\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(r"\s*[\"']?([A-Za-z0-9_-]+)[\"']?\s*=")


def _lines_of(text: str) -> dict[str, int]:
    """The line of each table and each key, where they are written the plain way."""
    found: dict[str, int] = {}
    if "'''" in text or '"""' in text:  # a text over several lines could look like anything
        return found
    table, counts = "", dict.fromkeys(LISTS, 0)
    for number, line in enumerate(text.splitlines(), 1):
        if head := _TABLE.match(line):
            table = head[2]
            if head[1] == "[[" and table in counts:
                counts[table] += 1
                table = f"{table} {counts[table]}"
            found.setdefault(table, number)
        elif key := _KEY.match(line):
            found.setdefault(f"{table}.{key[1]}" if table else key[1], number)
    return found


def _located(problem: InputError, text: str, name: str) -> InputError:
    """The same problem with the line where it stands, if that can be found."""
    where = problem.argument.removeprefix(name).removeprefix(", ")
    if stops := re.search(r"\(at (?:line (\d+), column \d+|end of document)\)", problem.got):
        lines = text.splitlines() or [""]
        number = min(int(stops[1]), len(lines)) if stops[1] else len(lines)
        key = _KEY.match(lines[number - 1])
        place = f"{name}, line {number}" + (f", {key[1]}" if key else "")
        return InputError(place, cut(problem.got, 160), f'lines such as precharge = "10 psi" in {LIKE_OURS}')
    table, key_name = "", where
    if inner := re.match(r"\[([^\]]*)\](?:, (.*))?$", where):
        table, key_name = inner[1], inner[2] or ""
    if unknown := re.match(r"the unknown key (.*)$", problem.got):
        key_name = unknown[1]
    known = _lines_of(text)
    paths = (f"{table}.{key_name}" if table and key_name else table or key_name, table)
    number = next((known[path] for path in paths if path in known), 0)
    if not number:
        return problem
    return InputError(f"{name}, line {number}" + (f", {where}" if where else ""), problem.got, problem.wanted)


# ------------------------------------------------------------------------------------------------------------ writing


@public
def write_set_up(build: Build, path: Path | str, overwrite: bool = False) -> str:
    """Save a set-up: whole or not at all, over an older set-up file or a new one.

    An older set-up is kept beside it, up to five of them; the sentence that comes back names it, or is empty. A file
    that is there and is no set-up that this kit can read, be it a newer one, is left alone unless overwrite is true,
    and then nothing is kept. Raises `InputError`, also if the disk is full, the folder is not there or cannot be
    written; the old file then stands as it was.
    """
    path = named_file(path)
    if overwrite:
        save(path, build.text())
        return ""
    if path.exists():
        try:
            read_set_up(path)
        except InputError as problem:
            raise InputError(
                path.name,
                f"a file that is there and is not a set-up the kit can read ({cut(problem.got, 60)})",
                "another name, so that it is not lost",
            ) from None
    with _written(path):
        return write_keeping_earlier(path, build.text())


def save(path: Path, content: str | bytes) -> None:
    """Write a file whole or not at all. Raises `InputError` if that fails; nothing is then changed."""
    with _written(path):
        write_safely(path, content)


@contextmanager
def _written(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as problem:
        reason = problem.strerror or type(problem).__name__
        raise InputError(path.name, f"a file that cannot be written ({reason})", "another place") from None


def demo_set_ups() -> dict[str, Build]:
    """The kit's own set-ups, all invented: one for each engine, and four oddities.

    >>> print(", ".join(demo_set_ups()))
    street V8, small four, race V8, high altitude, very cold shop, huge clearances, tiny vessel
    """
    from oilkit.physics.catalog import engines, vessels

    street = read_set_up(data_file("setup_street_v8.toml"))

    small = vessels()["small"]
    tiny = replace(small, name="tiny vessel, 0.5 qt (invented)", gas_volume=small.gas_volume / 3)
    changes: dict[str, dict[str, Any]] = {
        "small four": {"engine": engines()["small_four"]},
        "race V8": {"engine": engines()["race_v8"], "vessel": vessels()["very_large"]},
        "high altitude": {"driving.altitude": "9000 ft", "shop.altitude": "300 ft"},
        "very cold shop": {"shop.temperature": "-22 degF"},
        "huge clearances": {"driving.clearance_change": "3 thou"},
        "tiny vessel": {"vessel": tiny},
    }
    named = {name: {"name": f"{name} (invented)", "note": "Invented."} for name in changes}
    return {"street V8": street} | {name: street.changed(named[name] | change) for name, change in changes.items()}
