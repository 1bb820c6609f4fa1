"""Spoiled files for every reader: a good file is changed at random, and is then read as it says, or refused.

No exception but `InputError` in one sentence, nothing that keeps a reader busy, and nothing read otherwise than it
stands there: every number is worked out again from its cell by the small parser below, which shares no code with the
kit's.

``OILKIT_FUZZ=5000 OILKIT_SEED=2 python -m pytest tests/test_fuzz_readers.py -m thorough`` tries other files; a
failure names the seed and the number of its file.
"""

from __future__ import annotations

import csv
import io
import json
import math
import os
import random
import re
import threading
import time
import tomllib
import unicodedata
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from test_setup_file import READINGS

from oilkit import KIT_LAP, InputError, read_bench, read_log, read_set_up
from oilkit.build.records import LISTS, MAY_MISS, TABLES
from oilkit.build.setup_file import set_up_from_text
from oilkit.exercises.exercise import NOBODY
from oilkit.exercises.progress import COLUMNS, Progress
from oilkit.panels.lessons.lesson_01_boyle import read_pairs
from oilkit.physics.catalog import engines, fittings, grades, hoses, lubricants, vessels
from oilkit.quantities.kind import Kind
from oilkit.quantities.records import Record, data_file, plain_blanks
from oilkit.storage.settings import load_owner, load_units

SEED = int(os.environ.get("OILKIT_SEED", "1"))
FILES = int(os.environ.get("OILKIT_FUZZ", "5000"))
SLOW, HANGS = 2.0, 60.0
"""Seconds. A file above the first is reported, one above the second fails: a slow machine is no mistake."""


# ------------------------------------------------------------------------------------- a small parser of the test's own

FACTORS = {
    "w/m**2/k": 1.0,
    "s": 1.0, "ms": 1e-3, "min": 60.0, "km/h": 1 / 3.6, "mph": 0.44704, "m/s": 1.0, "g": 9.80665, "rpm": 1 / 60,
    "m/s2": 1.0, "1/min": 1 / 60, "psi": 6894.757293168, "psig": 6894.757293168, "bar": 1e5, "barg": 1e5, "kpa": 1e3,
    "in": 0.0254, "inch": 0.0254, "mm": 1e-3, "cm": 1e-2,
}  # fmt: skip
MORE = FACTORS | {
    "ft": 0.3048, "m": 1.0, "thou": 2.54e-5, "qt": 9.46352946e-4, "l": 1e-3, "gpm": 6.30901964e-5, "cst": 1e-6,
    "in**3/rev": 1.6387064e-5, "in3/rev": 1.6387064e-5, "lb/gal": 119.826427317, "kg/m**3": 1.0, "percent/k": 1e-2,
    "g_0": 9.80665, "lpm": 1e-3 / 60, "l/min": 1e-3 / 60, "st": 1e-4, "cp": 1e-3, "in2": 0.0254**2, "in**2": 0.0254**2,
    "cm**2": 1e-4, "cm2": 1e-4, "cm**3/rev": 1e-6, "pa": 1.0, "kpag": 1e3, "kg/m3": 1.0, "cm3/rev": 1e-6, "1/k": 1.0,
    "delta_degc": 1.0, "delta_degf": 5 / 9, "k": 1.0, "yd": 0.9144, "p": 0.1, "r": 5 / 9, "rev/min": 1 / 60,
    "in²": 0.0254**2, "cm²": 1e-4, "kg/m³": 1.0, "in³/rev": 1.6387064e-5, "g/l": 1.0, "h": 3600.0, "km": 1e3,
    "min**2": 0.0,
}  # fmt: skip
PLAIN = re.compile(r"[-+−]?([0-9]+(\.[0-9]*)?|[0-9]+,[0-9]+|\.[0-9]+)([eE][-+−]?[0-9]+)?")
OPEN = re.compile(r"[-+−]?[1-9][0-9]{0,2}[.,][0-9]{3}([eE][-+−]?[0-9]+)?")


def plain(cell: str) -> float:
    cell = cell.strip()
    assert PLAIN.fullmatch(cell), f"a number out of “{cell[:80]}”"
    return float(cell.replace("−", "-").replace(",", "."))


def number_lines(text: str) -> list[str]:
    text = text.removeprefix("\ufeff")
    return [x for x in re.split(r"\r\n|\r|\n", text) if x.strip() and not x.lstrip().startswith("#")]


def parts(line: str, sign: str) -> list[str]:
    """Cells; one in quotes may hold the sign."""
    found, cell, inside = [], "", False
    for letter in line:
        if letter == '"':
            inside = not inside
        elif letter == sign and not inside:
            found.append(cell.strip())
            cell = ""
        else:
            cell += letter
    return [*found, cell.strip()]


def settled(cells: list[str], factor: float, low: float, high: float) -> bool:
    """Whether a column holds nothing that could be thousands, or something that cannot be."""
    for mark in ".,":
        these = [cell for cell in cells if mark in cell]
        beyond = [x for x in these if OPEN.fullmatch(x) and not low <= 1000.0 * plain(x) * factor <= high]
        if these and not beyond and all(OPEN.fullmatch(cell) for cell in these):
            return False
    return True


def check_column(cells: list[str], unit: str, got: Any, low: float, high: float) -> None:
    factor = FACTORS[unit.casefold().replace("²", "2").replace("^", "")]
    for cell, value in zip(cells, got, strict=True):
        assert math.isclose(plain(cell) * factor, value, rel_tol=1e-9, abs_tol=1e-12), (cell, value)
    assert settled(cells, factor, low, high), cells[:5]


# ------------------------------------------------------------------------------------------------------- every reader


def read_log_file(path: Path, content: bytes) -> None:
    log = read_log(path, KIT_LAP)
    text = content.decode("utf-8-sig", "replace")
    lines = number_lines(text)
    above = next(k for k, line in enumerate(lines) if all(column in line for column, _ in KIT_LAP.values()))
    assert any(said.startswith(f"{above} lines above") for said in log.assumed) == bool(above)
    head, *rows = lines[above:]
    sign = max(";\t,", key=head.count)
    names = parts(head, sign)
    tables = [parts(row, sign) for row in rows]
    place = {wanted: names.index(column) for wanted, (column, _) in KIT_LAP.items()}
    if len(tables) == len(log.time) + 1:
        under = {wanted: tables[0][k].strip("()[] ").casefold() for wanted, k in place.items()}
        assert all(said in ("", KIT_LAP[wanted][1]) for wanted, said in under.items()), under
        tables = tables[1:]
    assert len(tables) == len(log.time), "a line was left out"
    assert all(not any(row[len(names) :]) for row in tables), "more cells than names"
    ranges = {"speed": (-1, 150), "lateral": (-60, 60), "longitudinal": (-60, 60), "rpm": (0, 400)}
    for wanted, k in place.items():
        cells, got = [row[k] for row in tables], log.si[wanted]
        if wanted == "time":
            got = got + plain(cells[0])
            assert all(b > a for a, b in pairwise(got))
            assert [plain(cell) for cell in cells] == pytest.approx(got.tolist(), rel=1e-9, abs=1e-9)
        else:
            check_column(cells, KIT_LAP[wanted][1], got, *ranges.get(wanted, (-2e4, 1.4e6)))


def read_bench_file(path: Path, content: bytes) -> None:
    taken = read_bench(path)
    head, *rows = number_lines(content.decode("utf-8-sig"))
    sign = max(";\t,", key=head.count)
    names = parts(head, sign)
    tables = [parts(row, sign) for row in rows]
    assert len(tables) == len(taken), "a line was left out"
    assert all(not any(row[len(names) :]) for row in tables), "more cells than names"
    ranges = {"precharge": (-5e4, 2e6), "pressure": (-5e4, 4e6), "rule": (-0.5, 3.0), "time": (0.0, 9e4)}
    for k, name in enumerate(names):
        what = re.split(r"[(\[]", name)[0].strip().casefold().replace("pre-charge", "precharge")
        cells = [row[k] for row in tables]
        if what == "direction":
            assert taken.direction == tuple(cell.casefold() for cell in cells)
            continue
        unit = re.split(r"[(\[]", name)[1].rstrip(")] ").strip()
        si = {"precharge": "Pag", "pressure": "Pag", "rule": "m", "time": "s"}[what]
        check_column(cells, unit, getattr(taken, what).m_as(si), *ranges[what])


def read_class_file(path: Path, content: bytes) -> None:
    text = content.decode("utf-8", "replace")
    volumes, pressures, _ = read_pairs(text, "kPag")
    rows = [line.strip() for line in number_lines(text)]
    assert len(rows) == len(volumes) == len(pressures), "a line was left out"
    for row, volume, pressure in zip(rows, volumes, pressures, strict=True):
        splits = [(row[: m.start()], row[m.end() :]) for m in re.finditer(r"\s*[;,]\s*|\s+", row)]
        pairs = [(plain(a), 1e3 * plain(b)) for a, b in splits if PLAIN.fullmatch(a) and PLAIN.fullmatch(b)]
        assert any(volume == a and math.isclose(pressure, b, rel_tol=1e-9) for a, b in pairs), (row, volume, pressure)


def check_record(record: Record, typed: dict[str, Any]) -> None:
    for name, kind in type(record).fields().items():
        if name not in typed:
            continue
        value, got = typed[name], getattr(record.si, name)
        if isinstance(kind, type) and issubclass(kind, Record):
            check_record(getattr(record, name), value)
        elif not isinstance(kind, Kind):
            assert getattr(record, name) == value
        elif isinstance(value, str):
            assert math.isclose(worked_out(value, kind), got, rel_tol=1e-6, abs_tol=1e-12), (name, value, got)
        else:
            assert math.isclose(float(value), got, rel_tol=1e-9), (name, value, got)


def worked_out(typed: str, kind: Kind) -> float:
    """A text such as "2.5 thou" in SI, without pint."""
    typed = "".join(str(unicodedata.decimal(c, c)) for c in typed)
    if part := re.match(r"\s*([-+]?)([0-9]+ )?([0-9]+)/([0-9]+)", typed):  # 3 1/2 in
        value = int(part[2] or 0) + int(part[3]) / int(part[4])
        typed = f"{part[1]}{value!r}{typed[part.end() :]}"
    match = re.fullmatch(r"\s*([-+−]?[0-9][0-9.,]*(?:[eE][-+]?[0-9]+)?|[-+−]?[.,][0-9]+)\s*(\D.*?)\s*", typed)
    assert match, f"a number and unit out of “{typed}”"
    number, unit = plain(match[1]), match[2]
    small = unit.casefold().replace("^", "**")
    if kind.si == "K":
        celsius = {
            "degf": (number - 32) / 1.8,
            "f": (number - 32) / 1.8,
            "°f": (number - 32) / 1.8,
            "k": number - 273.15,
        }
        return celsius.get(small, number) + 273.15
    if kind.si == "delta_degC" and small in ("degf", "f", "°f", "delta_degf"):
        return number / 1.8
    if kind.si == "delta_degC" and small in ("degc", "c", "°c"):
        return number
    small = "in" if small == '"' else small
    assert small in MORE, f"a unit out of “{unit}”"
    return number * MORE[small]


def read_set_up_file(path: Path, content: bytes) -> None:
    build = read_set_up(path)
    document = plain_blanks(tomllib.loads(content.decode("utf-8-sig")))  # a tab in a text is read as a blank
    assert build.document == document
    for key in TABLES:
        if key in document or key not in MAY_MISS:
            check_record(getattr(build, key), {k: v for k, v in document[key].items() if k != "events"})
    for key, tables in (("fittings", document.get("fittings", [])), ("events", document["driving"]["events"])):
        assert len(getattr(build, key)) == len(tables)
        for record, table in zip(getattr(build, key), tables, strict=True):
            check_record(record, table)
    again = set_up_from_text(build.text(), "again")
    assert again.document == document
    assert set(LISTS) == {"fittings", "driving.events"}


def data_reader(read: Callable[[Path], dict[str, Any]]) -> Callable[[Path, bytes], None]:
    def check(path: Path, content: bytes) -> None:
        found = read(path)
        tables = tomllib.loads(content.decode("utf-8-sig"))
        assert list(found) == list(tables)
        for key, table in tables.items():
            check_record(found[key], table)

    return check


def read_progress_file(path: Path, content: bytes) -> None:
    progress = Progress(NOBODY, path.parent)
    progress.path = path
    entries = progress.entries()
    text = content.decode("utf-8-sig").replace("\r\n", "\n").replace("\r", "\n")
    rows = list(csv.reader(io.StringIO(text)))
    assert len(entries) == len(rows) - 1
    for e, row in zip(entries, rows[1:], strict=True):
        assert [e.time, str(e.lesson), e.exercise, e.mark] == [row[0], str(int(row[1])), row[2], row[4]]
        assert [e.answer, e.mistake] == [cell.removeprefix("'") for cell in (row[3], row[5])]


def read_settings_file(path: Path, content: bytes) -> None:
    Path(os.environ["OILKIT_SETTINGS"]).write_bytes(content)
    system, told = load_units()
    try:
        kept = json.loads(content.decode("utf-8"))
    except (ValueError, RecursionError):
        kept = None
    assert system in ("US", "SI")
    assert len(told) <= 300
    assert "\n" not in told
    names = load_owner()
    if isinstance(kept, dict):
        wanted = kept.get("units")
        assert system == wanted if wanted in ("US", "SI") else system == "US"
        assert told or wanted in ("US", "SI") or "units" not in kept
        both = kept.get("class", ""), kept.get("learner", "")
        assert names == (both if all(isinstance(name, str) for name in both) else ("", ""))
    else:
        assert told or not content
        assert names == ("", "")


# ------------------------------------------------------------------------------------------------------ good files

LAP = [line for line in data_file("lap.csv").read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
LAP = [LAP[0], *LAP[160:190]]
BENCH = data_file("bench_readings.csv").read_text(encoding="utf-8").splitlines()[7:24]


def european(lines: list[str], sign: str = ";") -> list[str]:
    return [line.replace(",", sign).replace(".", ",") for line in lines]


METRIC = [
    "precharge (bar);pressure (bar);rule (mm);time (min)", "0,69;1,378;64,516;2", "0,69;2,05;112,3;2",
    "1,4;2,05;64,52;2",
]  # fmt: skip
DOCUMENTS: dict[str, list[list[str]]] = {
    "log": [LAP, european(LAP), european(LAP, "\t"), [LAP[0], "s,km/h,g,g,rpm,psi", *LAP[1:]], ["# made up", *LAP]],
    "bench": [BENCH, european(BENCH), METRIC],
    "class": [
        ["60 0", "50 3.0", "40 7.4", "30 14.6"], ["60;0", "50;3,25", "40;7,4"], ["60,0", "50,3.0"],
        ["# read by us", "60\t0", "50\t3,0", "40\t7,4"], ["60.0 0.125", "50.0 3.125"],
    ],
    "set-up": [(data_file("setup_street_v8.toml").read_text(encoding="utf-8") + READINGS).splitlines()],
    "progress": [[
        ",".join(COLUMNS), "2026-01-01 10:00:00,1,squeezed,35 psi,right,", "2026-01-01 10:01:00,2,filled,'-3 qt,wrong,",
        '2026-01-01 10:02:00,7,read_log,"a, ""b""",mistake,"gauge, for absolute"',
        "2026-01-01 10:03:00,1,squeezed,,hint,",
    ]],
    "settings": [['{"units": "SI", "class": "spring class", "learner": "Ann Other"}'], ['{"units": "US"}']],
}  # fmt: skip
READERS: dict[str, Callable[[Path, bytes], None]] = {
    "log": read_log_file,
    "bench": read_bench_file,
    "class": read_class_file,
    "set-up": read_set_up_file,
    "progress": read_progress_file,
    "settings": read_settings_file,
}
for _name, _read in {
    "vessels": vessels, "hoses": hoses, "fittings": fittings, "grades": grades, "oils": lubricants, "engines": engines
}.items():  # fmt: skip
    DOCUMENTS[_name] = [data_file(f"{_name}.toml").read_text(encoding="utf-8").splitlines()]
    READERS[_name] = data_reader(_read)
OFTEN = ["log"] * 6 + ["bench"] * 5 + ["class"] * 4 + ["set-up"] * 3 + [*READERS]


# ------------------------------------------------------------------------------------------------------------- damage

Damage = Callable[[random.Random, list[str]], list[str]]
ODD = [
    "nan", "NaN", "inf", "-inf", "1e999", "1e-999", "-1e308", "9" * 400, "3,000", "3.000", "1.234", "12,345", "1,234.5",
    "1.234,5", "1.234.567", "1 234", "1\u00a0234", "1\u202f234", "1'234", "١٢٣", "１２", "²", "½", "−3", "–3", "+5",
    "--1", "1_0", "0x1F", "1e", "e5", ".", ",", ".5", "5.", ",5", "5,", "", " ", '"', "'", '"1,5"', '"1"0', "#",
    "=1+1", "\0",
    "\u2028", "\ufeff", "\x0b", "\x1c", "x" * 40_000, "y" * 140_000, "1" * 140_000, "(" * 2_000, "[" * 2_000, "mph",
    "(mph)", "kPa", "psia", "True", "null", "1.0.0", "10 psi", "3,5", "1e3", "1.500e+03", "0,5", "0.500", "%s", "{0}",
]  # fmt: skip


def _cells(lines: list[str], k: int) -> tuple[str, list[str]]:
    sign = max(";\t,= ", key=lines[k].count)
    return sign, lines[k].split(sign)


def on_a_line(change: Callable[[random.Random, str], str]) -> Damage:
    def damage(rng: random.Random, lines: list[str]) -> list[str]:
        k = rng.randrange(len(lines))
        return [*lines[:k], change(rng, lines[k]), *lines[k + 1 :]]

    return damage


def on_a_cell(change: Callable[[random.Random, str], str]) -> Damage:
    def damage(rng: random.Random, lines: list[str]) -> list[str]:
        k = rng.randrange(len(lines))
        sign, cells = _cells(lines, k)
        place = rng.randrange(len(cells))
        cells[place] = change(rng, cells[place])
        return [*lines[:k], sign.join(cells), *lines[k + 1 :]]

    return damage


def on_a_column(change: Callable[[str], str]) -> Damage:
    def damage(rng: random.Random, lines: list[str]) -> list[str]:
        place, new = rng.randrange(6), []
        for k in range(len(lines)):
            sign, cells = _cells(lines, k)
            if k and place < len(cells):
                cells[place] = change(cells[place])
            new.append(sign.join(cells))
        return new

    return damage


def on_all(change: Callable[[random.Random, str], str]) -> Damage:
    return lambda rng, lines: change(rng, "\n".join(lines)).split("\n")


def swapped(rng: random.Random, lines: list[str]) -> list[str]:
    a, b = rng.randrange(len(lines)), rng.randrange(len(lines))
    lines = list(lines)
    lines[a], lines[b] = lines[b], lines[a]
    return lines


def swapped_cells(rng: random.Random, lines: list[str]) -> list[str]:
    k = rng.randrange(len(lines))
    sign, cells = _cells(lines, k)
    rng.shuffle(cells)
    return [*lines[:k], sign.join(cells), *lines[k + 1 :]]


def thousandfold(cell: str) -> str:
    return re.sub(r"\d+\.?\d*", lambda m: f"{1000 * float(m[0]):,.0f}", cell)


def three_digits(cell: str) -> str:
    return re.sub(r"\d+[.,]\d*|\d+", lambda m: f"{float(m[0].replace(',', '.')) + 1.0:.3f}", cell)


DAMAGES: list[Damage] = [
    lambda rng, lines: [line for k, line in enumerate(lines) if k != rng.randrange(len(lines))] or [""],
    lambda rng, lines: [*lines[: (k := rng.randrange(len(lines)))], lines[k], *lines[k:]],
    swapped,
    swapped_cells,
    on_a_cell(lambda rng, cell: rng.choice(ODD)),
    on_a_cell(lambda rng, cell: rng.choice(ODD)),
    on_a_cell(lambda rng, cell: cell + rng.choice(ODD)),
    on_a_cell(lambda rng, cell: rng.choice(ODD) + cell),
    on_a_cell(lambda rng, cell: cell.replace(".", ",")),
    on_a_cell(lambda rng, cell: cell.replace(",", ".")),
    on_a_cell(lambda rng, cell: f'"{cell}"'),
    on_a_cell(lambda rng, cell: cell.replace("-", "−").replace("0", "٠")),
    on_a_cell(lambda rng, cell: cell.replace("-", "−")),
    on_a_cell(lambda rng, cell: f"{cell}{rng.choice(',;')}{cell}"),
    on_a_cell(lambda rng, cell: f" {cell}\u00a0"),
    on_a_column(thousandfold),
    on_a_column(three_digits),
    on_a_column(lambda cell: three_digits(cell).replace(".", ",")),
    on_a_column(lambda cell: cell.replace(".", ",")),
    on_a_column(lambda cell: f'"{cell}"'),
    on_a_column(lambda cell: ""),
    on_a_line(lambda rng, line: line.replace(",", ";")),
    on_a_line(lambda rng, line: line.replace(".", ",")),
    on_a_line(lambda rng, line: line[: rng.randrange(len(line) + 1)]),
    on_a_line(lambda rng, line: line + rng.choice([",", ";", "\t", " ", ",,", ",1", "#", "\r"])),
    on_a_line(lambda rng, line: rng.choice(["a." * 5_000 + "a = 1", "x = " + "[" * 5_000, "[" + "a." * 60 + "a]"])),
    on_a_line(lambda rng, line: line.replace("(psi)", "(bar)").replace('psi"', 'bar"').replace("km/h", "mph")),
    on_a_line(lambda rng, line: rng.choice(["s,mph,g,g,rpm,psi", "s;km/h;m/s2;g;rpm;psi", "s,km/h,,g,rpm,", "s,kn"])),
    on_all(lambda rng, text: text.replace(",", rng.choice(";\t|"))),
    on_all(lambda rng, text: text.replace(";", ",")),
    on_all(lambda rng, text: text.replace(".", ",")),
    on_all(lambda rng, text: text[: rng.randrange(len(text) + 1)]),
    on_all(lambda rng, text: text[rng.randrange(len(text) + 1) :]),
    on_all(lambda rng, text: text.upper()),
    on_all(lambda rng, text: ""),
    on_all(lambda rng, text: text + "\n" + text),
]  # fmt: skip


def spoiled(rng: random.Random, lines: list[str]) -> bytes:
    for _ in range(rng.choice([0, 1, 1, 1, 2, 2, 3, 4])):
        lines = rng.choice(DAMAGES)(rng, lines) or [""]
    content = (rng.choice(["\n"] * 8 + ["\r\n", "\r"]).join(lines) + "\n").encode("utf-8", "surrogatepass")
    way = rng.random()
    if way < 0.06:
        content = b"\xef\xbb\xbf" + content
    elif way < 0.08:
        content = content.decode("utf-8").encode(rng.choice(["utf-16", "utf-32", "cp1252"]), "replace")
    elif way < 0.18 and content:
        for _ in range(rng.randint(1, 4)):
            k = rng.randrange(len(content))
            content = content[:k] + bytes([content[k] ^ 1 << rng.randrange(8)]) + content[k + 1 :]
    elif way < 0.21:
        k = rng.randrange(len(content) + 1)
        content = content[:k] + rng.randbytes(rng.randint(1, 30)) + content[k:]
    elif way < 0.23:
        content = rng.randbytes(rng.randrange(400))
    return content


# --------------------------------------------------------------------------------------------------------------- runs


def tried(kind: str, content: bytes, path: Path) -> tuple[bool, float]:
    """Read one file in a thread of its own: whether it was taken, and how long that took."""
    path.write_bytes(content)
    outcome: list[Any] = []
    took = 0.0

    def work() -> None:
        nonlocal took
        begun = time.thread_time()  # its own work: what else the machine does is no matter
        try:
            READERS[kind](path, content)
            found = None
        except BaseException as problem:
            found = problem
        took = time.thread_time() - begun
        outcome.append(found)

    thread = threading.Thread(target=work, daemon=True)
    thread.start()
    thread.join(HANGS)
    assert outcome, f"nothing after {HANGS} s"
    assert path.read_bytes() == content, "the file was changed"
    if isinstance(outcome[0], InputError):
        sentence = str(outcome[0])
        assert len(sentence) <= 300, sentence
        assert ": got " in sentence
        assert "; wanted " in sentence
        assert sentence.isprintable(), repr(sentence)
        return False, took
    if outcome[0] is not None:
        raise outcome[0]
    return True, took


def run(count: int, seed: int, folder: Path) -> None:
    taken: dict[str, int] = dict.fromkeys(READERS, 0)
    wrong = []
    for number in range(count):
        rng = random.Random(f"{seed} {number}")
        kind = rng.choice(OFTEN)
        content = spoiled(rng, rng.choice(DOCUMENTS[kind]))
        path = folder / f"spoiled.{'toml' if kind not in ('log', 'bench', 'class', 'progress') else 'csv'}"
        try:
            is_taken, took = tried(kind, content, path)
        except BaseException as problem:
            wrong.append(f"{kind}, seed {seed}, file {number}: {type(problem).__name__}: {str(problem)[:500]}")
            continue
        taken[kind] += is_taken
        if took > SLOW:
            print(f"{kind}, seed {seed}, file {number} took {took:.1f} s")
    print(f"seed {seed}: {count} files, taken {taken}")
    assert not wrong, f"{len(wrong)} of {count}:\n" + "\n".join(wrong[:20])
    if count >= 200:
        assert all(taken[kind] for kind in ("log", "bench", "class")), "a run in which nothing is taken tells nothing"


@pytest.mark.parametrize("kind", READERS)
def test_every_good_file_is_taken(kind: str, tmp_path: Path) -> None:
    for lines in DOCUMENTS[kind]:
        assert tried(kind, ("\n".join(lines) + "\n").encode(), tmp_path / "good")[0], lines[:3]


def test_spoiled_files_are_read_as_they_say_or_refused(tmp_path: Path) -> None:
    run(min(200, FILES), SEED, tmp_path)


@pytest.mark.thorough
@pytest.mark.timeout(3600)
def test_thousands_of_spoiled_files_are_read_as_they_say_or_refused(tmp_path: Path) -> None:
    run(FILES, SEED, tmp_path)
