"""Hoses, fittings, grades, oils and engines: every way in which their files can be wrong, and records made in Python.

Vessels are looked at in ``test_datafiles.py``.
"""

from __future__ import annotations

import copy
import dataclasses
import math
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import parts
import pytest
from outside_rows.row import GPM, INCH, PSI, QUART
from sentences import refused

import oilkit
from oilkit import (
    Element,
    Engine,
    Fitting,
    Grade,
    Hose,
    Lubricant,
    Q,
    Vessel,
    engines,
    fittings,
    grades,
    hoses,
    lubricants,
    use_units,
    vessels,
)
from oilkit.physics.engine import Bearings, check_engine
from oilkit.physics.oil import check_grade
from oilkit.quantities.kind import Kind
from oilkit.quantities.kinds import checked, typical
from oilkit.quantities.records import Record, data_file

BEARING = {
    "count": 5,
    "diameter": "2.45 in",
    "width": "0.8 in",
    "diametral_clearance": "2.5 thou",
    "feed": "half groove",
    "groove_width": "4 mm",
    "feed_hole": "0.25 in",
    "eccentricity": 0.7,
    "turns": 1,
}
HOLES = {"count": 4, "bore": "1.2 mm", "discharge_coefficient": 0.7, "opens_at": "25 psi"}
ELEMENT = {
    "volume": "0.8 qt",
    "rated_drop": "3 psi",
    "rated_flow": "8 gpm",
    "rated_viscosity": "9 cP",
    "bypass": "12 psi",
}
ENGINE: dict[str, Any] = {
    "name": "an engine of my own (invented)",
    "idle": "700 rpm",
    "redline": "6000 rpm",
    "wanted": "50 psi",
    "warning": "20 psi",
    "damage": "7 psi",
    "film_rise": "15 K",
    "drain_time": "4 s",
    "gallery_volume": "0.5 qt",
    "crank_nearest": "0.45 in",
    "crank_exit": "2.3 in",
    "mains": BEARING,
    "rods": BEARING | {"count": 8, "feed": "hole"},
    "cams": BEARING | {"turns": 0.5, "feed": "full groove"},
    "jets": HOLES,
    "lifters": HOLES | {"opens_at": "0 psi"},
    "pump": {
        "displacement": "1.2 in**3/rev",
        "ratio": 0.5,
        "efficiency": 0.85,
        "relief_opening": "58 psi",
        "relief_rated_pressure": "70 psi",
        "relief_rated_flow": "10 gpm",
    },
    "filter": ELEMENT,
    "pan": {
        "sump_area": "75 in**2",
        "sump_depth": "3.5 in",
        "upper_area": "190 in**2",
        "pickup_height": "0.6 in",
        "full_height": "3.7 in",
        "windage_height": "4.7 in",
    },
    "cooler": ELEMENT | {"volume": "0.5 L"},
}
OIL: dict[str, Any] = {
    "name": "an oil of my own (invented)",
    "grade": "10W-30",
    "viscosity_40": "68 cSt",
    "viscosity_100": "10.6 cSt",
    "density_15": "868 kg/m**3",
    "expansion": "0.07 percent/K",
    "high_shear": 0.85,
}
FILES: dict[str, tuple[Callable[..., dict[str, Any]], dict[str, Any]]] = {
    "hoses": (hoses, {"name": "mine", "dash": "-12", "bore": "0.625 in", "note": "measured"}),
    "fittings": (fittings, {"name": "mine", "bore": "0.5 in", "loss_coefficient": 1.5, "note": "measured"}),
    "grades": (grades, {"name": "mine", "lowest": "9.3 cSt", "below": "12.5 cSt"}),
    "oils": (lubricants, OIL),
    "engines": (engines, ENGINE),
}
"""A reader and a good table of one's own for each file."""

OPTIONAL = {"name", "note", "below", "cooler"}
TEXTS = {"name", "note", "dash", "grade", "feed"}

Way = tuple[str, ...]


def ways(table: dict[str, Any], so_far: Way = ()) -> Iterator[Way]:
    """The way to every key of a table, those of the tables in it included."""
    for key, value in table.items():
        yield (*so_far, key)
        if isinstance(value, dict):
            yield from ways(value, (*so_far, key))


KEYS = [(file, way) for file, (_, table) in FILES.items() for way in ways(table)]


def value_at(file: str, way: Way) -> Any:
    value: Any = FILES[file][1]
    for key in way:
        value = value[key]
    return value


TABLES = [(file, way) for file, way in KEYS if isinstance(value_at(file, way), dict)]
NUMBERS = [(file, way) for file, way in KEYS if way[-1] not in TEXTS and isinstance(value_at(file, way), str)]
PLAIN = [(file, way) for file, way in KEYS if isinstance(value_at(file, way), int | float)]
WORDS = [(file, way) for file, way in KEYS if way[-1] in TEXTS]


def named(cases: list[tuple[str, Way]]) -> Any:
    """For ``parametrize``: each case under a name such as ``engines-mains.width``."""
    return [pytest.param(file, way, id=f"{file}-{'.'.join(way)}") for file, way in cases]


def changed(table: dict[str, Any], way: Way, value: Any) -> dict[str, Any]:
    """A copy of a table with another value at the end of a way, or with nothing there for `GONE`."""
    new = copy.deepcopy(table)
    at = new
    for key in way[:-1]:
        at = at[key]
    if value is GONE:
        del at[way[-1]]
    else:
        at[way[-1]] = value
    return new


GONE = object()


class Toml(str):
    """A value that goes into the file as it is, without quotes."""


def written(table: dict[str, Any], heading: str = "mine") -> str:
    """A table as TOML: its own keys first, then the tables in it."""
    lines = [f"[{heading}]"]
    for key, value in table.items():
        if isinstance(value, Toml):
            lines.append(f"{key} = {value}")
        elif not isinstance(value, dict):
            lines.append(f'{key} = "{value}"' if isinstance(value, str) else f"{key} = {value}")
    inner = [written(value, f"{heading}.{key}") for key, value in table.items() if isinstance(value, dict)]
    return "\n".join(lines) + "\n\n" + "".join(inner)


def read(folder: Path, file: str, table: dict[str, Any], **how: Any) -> dict[str, Any]:
    """Write a table into a file of one's own and read it back with the file's reader."""
    path = folder / "own.toml"
    path.write_bytes(written(table).replace("\n", how.get("end", "\n")).encode(how.get("encoding", "utf-8")))
    return FILES[file][0](path)


def place(way: Way) -> str:
    """What an error names for a key: file, table and key."""
    table = ".".join(("mine", *way[:-1]))
    return f"own.toml, [{table}], {way[-1]}"


# ---------------------------------------------------------------------------------------------------- a good file


def test_a_hose_is_read(tmp_path: Path) -> None:
    mine = read(tmp_path, "hoses", FILES["hoses"][1])["mine"]
    assert (mine.name, mine.dash, mine.note) == ("mine", "-12", "measured")
    assert mine.bore.to("m").m == pytest.approx(0.625 * INCH, rel=1e-12)
    assert mine.si.bore == pytest.approx(0.625 * INCH, rel=1e-12)


def test_a_fitting_is_read(tmp_path: Path) -> None:
    mine = read(tmp_path, "fittings", FILES["fittings"][1])["mine"]
    assert mine.bore.to("m").m == pytest.approx(0.5 * INCH, rel=1e-12)
    assert mine.loss_coefficient.m == mine.si.loss_coefficient == 1.5


def test_a_grade_is_read(tmp_path: Path) -> None:
    mine = read(tmp_path, "grades", FILES["grades"][1])["mine"]
    assert mine.lowest.to("mm**2/s").m == pytest.approx(9.3, rel=1e-12)
    assert mine.si.below == pytest.approx(12.5e-6, rel=1e-12, abs=0.0)


def test_an_oil_is_read(tmp_path: Path) -> None:
    mine = read(tmp_path, "oils", OIL)["mine"]
    assert mine.grade == "10W-30"
    assert mine.si.viscosity_40 == pytest.approx(68e-6, rel=1e-12, abs=0.0)
    assert mine.density_15.to("kg/m**3").m == pytest.approx(868.0, rel=1e-12)
    assert mine.si.expansion == pytest.approx(7e-4, rel=1e-12)
    assert mine.si.high_shear == 0.85


def test_an_engine_is_read_with_all_that_is_in_it(tmp_path: Path) -> None:
    """Each value once, in SI, by hand."""
    e = read(tmp_path, "engines", ENGINE)["mine"].si
    by_hand = {
        "idle": 700 / 60,
        "redline": 100.0,
        "wanted": 50 * PSI,
        "warning": 20 * PSI,
        "damage": 7 * PSI,
        "film_rise": 15.0,
        "drain_time": 4.0,
        "gallery_volume": 0.5 * QUART,
        "crank_nearest": 0.45 * INCH,
        "crank_exit": 2.3 * INCH,
        "mains.count": 5.0,
        "mains.diameter": 2.45 * INCH,
        "mains.width": 0.8 * INCH,
        "mains.diametral_clearance": 0.0025 * INCH,
        "mains.groove_width": 0.004,
        "mains.feed_hole": 0.25 * INCH,
        "mains.eccentricity": 0.7,
        "mains.turns": 1.0,
        "rods.count": 8.0,
        "cams.turns": 0.5,
        "jets.count": 4.0,
        "jets.bore": 0.0012,
        "jets.discharge_coefficient": 0.7,
        "jets.opens_at": 25 * PSI,
        "lifters.opens_at": 0.0,
        "pump.displacement": 1.2 * INCH**3,
        "pump.ratio": 0.5,
        "pump.efficiency": 0.85,
        "pump.relief_opening": 58 * PSI,
        "pump.relief_rated_pressure": 70 * PSI,
        "pump.relief_rated_flow": 10 * GPM,
        "filter.volume": 0.8 * QUART,
        "filter.rated_drop": 3 * PSI,
        "filter.rated_flow": 8 * GPM,
        "filter.rated_viscosity": 0.009,
        "filter.bypass": 12 * PSI,
        "cooler.volume": 0.0005,
        "pan.sump_area": 75 * INCH**2,
        "pan.sump_depth": 3.5 * INCH,
        "pan.upper_area": 190 * INCH**2,
        "pan.pickup_height": 0.6 * INCH,
        "pan.full_height": 3.7 * INCH,
        "pan.windage_height": 4.7 * INCH,
    }
    for way, number in by_hand.items():
        value: Any = e
        for key in way.split("."):
            value = getattr(value, key)
        assert value == pytest.approx(number, rel=1e-12, abs=0.0), way
    assert (e.mains.feed, e.rods.feed, e.cams.feed) == ("half groove", "hole", "full groove")


@pytest.mark.parametrize("file", FILES)
@pytest.mark.parametrize(
    "how",
    [
        pytest.param({"end": "\r\n"}, id="Windows line ends"),
        pytest.param({"encoding": "utf-8-sig"}, id="byte-order mark"),
        pytest.param({"end": "\r\n", "encoding": "utf-8-sig"}, id="both"),
    ],
)
@pytest.mark.parametrize("system", ["US", "SI"])
def test_a_file_from_any_editor_says_the_same_under_either_unit_switch(
    tmp_path: Path, file: str, how: dict[str, str], system: str
) -> None:
    expected = read(tmp_path, file, FILES[file][1])
    use_units(system)
    found = read(tmp_path, file, FILES[file][1], **how)
    assert found.keys() == expected.keys() == {"mine"}
    assert found["mine"].si == expected["mine"].si


@pytest.mark.parametrize("file", FILES)
def test_keys_may_stand_in_any_order(tmp_path: Path, file: str) -> None:
    table = FILES[file][1]
    backwards = dict(reversed(table.items()))
    assert read(tmp_path, file, backwards)["mine"].si == read(tmp_path, file, table)["mine"].si


@pytest.mark.parametrize(("file", "way"), named([case for case in KEYS if case[1][-1] in OPTIONAL]))
def test_what_may_be_left_out_may_be_left_out(tmp_path: Path, file: str, way: Way) -> None:
    mine = read(tmp_path, file, changed(FILES[file][1], way, GONE))["mine"]
    wanted: dict[str, Any] = {"name": "mine", "note": "", "below": None, "cooler": None}
    assert getattr(mine, way[-1]) == getattr(mine.si, way[-1]) == wanted[way[-1]]


# ---------------------------------------------------------------------------------------------------- a wrong one

NEEDED = [case for case in KEYS if case[1][-1] not in OPTIONAL]


@pytest.mark.parametrize(("file", "way"), named(NEEDED))
def test_a_missing_key_is_named_with_its_file_and_table(tmp_path: Path, file: str, way: Way) -> None:
    sentence = refused(place(way), lambda: read(tmp_path, file, changed(FILES[file][1], way, GONE)))
    assert "got nothing" in sentence


@pytest.mark.parametrize(("file", "way"), named([*((file, ()) for file in FILES), *TABLES]))
def test_an_unknown_key_is_named_with_its_file_and_table(tmp_path: Path, file: str, way: Way) -> None:
    table = changed(FILES[file][1], (*way, "weight"), "3 kg")
    sentence = refused(f"own.toml, [{'.'.join(('mine', *way))}]", lambda: read(tmp_path, file, table))
    assert "weight" in sentence
    assert next(iter(value_at(file, way))) in sentence.split("wanted")[1]


@pytest.mark.parametrize("value", ["3 psi", Toml("3"), Toml("true"), Toml('["a"]'), Toml("[{}]")], ids=str)
@pytest.mark.parametrize(("file", "way"), named(TABLES))
def test_what_should_be_a_table_and_is_none_is_named(tmp_path: Path, file: str, way: Way, value: Any) -> None:
    sentence = refused(place(way), lambda: read(tmp_path, file, changed(FILES[file][1], way, value)))
    assert f"[mine.{way[0]}]" in sentence


@pytest.mark.parametrize("file", FILES)
@pytest.mark.parametrize("text", ["mine = 3\n", 'mine = "bore"\n', "[[mine]]\n"], ids=["number", "text", "list"])
def test_an_entry_that_is_no_table_is_named(tmp_path: Path, file: str, text: str) -> None:
    path = tmp_path / "own.toml"
    path.write_text(text, encoding="utf-8")
    assert "[mine]" in refused("own.toml, mine", lambda: FILES[file][0](path))


WRONG_NUMBERS: dict[str, tuple[Any, str]] = {
    "a bare number": (Toml("3"), "without a unit"),
    "a number in quotes": ("3", "without a unit"),
    "a mass": ("3 kg", "3 kg"),
    "an unknown unit": ("3 blorg", "blorg"),
    "no number": ("plenty", "plenty"),
    "nothing": ("", "nothing"),
    "not a number": (Toml("nan"), "nan"),
    "a bool": (Toml("true"), "True"),
    "a list": (Toml('["3 in"]'), "3 in"),
    "a table": (Toml('{ value = "3 in" }'), "3 in"),
}


@pytest.mark.parametrize("wrong", parts.quick(3, WRONG_NUMBERS))
@pytest.mark.parametrize(("file", "way"), named(NUMBERS))
def test_a_wrong_number_is_named_with_its_file_and_table(tmp_path: Path, file: str, way: Way, wrong: str) -> None:
    value, word = WRONG_NUMBERS[wrong]
    sentence = refused(place(way), lambda: read(tmp_path, file, changed(FILES[file][1], way, value)))
    assert word in sentence
    assert "Q(" not in sentence, "a file holds no Python"


@pytest.mark.parametrize("amount", ["-1", "1e999"], ids=["negative", "beyond any number"])
@pytest.mark.parametrize(("file", "way"), named(NUMBERS))
def test_a_number_that_nothing_has_is_named(tmp_path: Path, file: str, way: Way, amount: str) -> None:
    """No pressure, length, flow, time or film rise here can be negative, and none is infinite."""
    unit = value_at(file, way).split(" ", 1)[1]
    refused(place(way), lambda: read(tmp_path, file, changed(FILES[file][1], way, f"{amount} {unit}")))


WRONG_PLAIN: dict[str, Any] = {
    "in quotes": "1",
    "with a unit": "1 in",
    "negative": Toml("-0.5"),
    "not a number": Toml("nan"),
    "infinite": Toml("inf"),
    "a bool": Toml("true"),
    "a list": Toml("[1]"),
    "a date": Toml("2020-01-01"),
}


@pytest.mark.parametrize("value", WRONG_PLAIN.values(), ids=WRONG_PLAIN.keys())
@pytest.mark.parametrize(("file", "way"), named(PLAIN))
def test_a_wrong_plain_number_is_named(tmp_path: Path, file: str, way: Way, value: Any) -> None:
    refused(place(way), lambda: read(tmp_path, file, changed(FILES[file][1], way, value)))


@pytest.mark.parametrize(
    ("file", "way", "value"),
    [
        ("engines", ("mains", "eccentricity"), 1.01),
        ("engines", ("jets", "discharge_coefficient"), 1.01),
        ("engines", ("jets", "discharge_coefficient"), 0),
        ("engines", ("pump", "efficiency"), 1.01),
        ("engines", ("pump", "efficiency"), 0),
        ("engines", ("pump", "ratio"), 0),
        ("engines", ("cams", "turns"), 0),
        ("engines", ("mains", "diametral_clearance"), "2.5 in"),
        ("engines", ("idle",), "40000 rpm"),
        ("oils", ("high_shear",), 0),
        ("oils", ("high_shear",), 1.01),
        ("oils", ("expansion",), "7 percent/K"),
        ("hoses", ("bore",), "0 in"),
        ("hoses", ("bore",), "0.75 ft**2"),
        ("hoses", ("bore",), "15 in"),
    ],
)
def test_a_number_outside_its_range_is_named(tmp_path: Path, file: str, way: Way, value: Any) -> None:
    refused(place(way), lambda: read(tmp_path, file, changed(FILES[file][1], way, value)))


@pytest.mark.parametrize("value", [Toml("3"), Toml("true"), Toml('["a"]'), Toml("2020-01-01")], ids=str)
@pytest.mark.parametrize(("file", "way"), named(WORDS))
def test_a_text_that_is_none_is_named(tmp_path: Path, file: str, way: Way, value: Any) -> None:
    refused(place(way), lambda: read(tmp_path, file, changed(FILES[file][1], way, value)))


@pytest.mark.parametrize("value", ["groove", "", "Hole", "full groove "])
@pytest.mark.parametrize("bearings", ["mains", "rods", "cams"])
def test_a_feed_that_no_bearing_has_is_refused_with_those_there_are(tmp_path: Path, bearings: str, value: str) -> None:
    way = (bearings, "feed")
    sentence = refused(place(way), lambda: read(tmp_path, "engines", changed(ENGINE, way, value)))
    assert "full groove or half groove or hole" in sentence


@pytest.mark.parametrize("file", FILES)
def test_two_of_a_name_are_told_apart(tmp_path: Path, file: str) -> None:
    path = tmp_path / "own.toml"
    path.write_text(written(FILES[file][1]) + written(FILES[file][1], "other"), encoding="utf-8")
    assert "[mine]" in refused("own.toml, [other], name", lambda: FILES[file][0](path))


def test_the_range_is_told_in_the_learners_units(tmp_path: Path) -> None:
    use_units("SI")
    table = changed(ENGINE, ("mains", "width"), "-1 in")
    sentence = refused(place(("mains", "width")), lambda: read(tmp_path, "engines", table))
    assert "-25.4 mm" in sentence
    assert " in" not in sentence.split("; wanted")[0].removeprefix("own.toml, [mine.mains]")


# --------------------------------------------------------------------------------- numbers that do not go together

APART: list[tuple[Way, Any]] = [
    (("redline",), "700 rpm"),
    (("redline",), "600 rpm"),
    (("idle",), "6000 rpm"),
    (("warning",), "7 psi"),
    (("damage",), "20 psi"),
    (("wanted",), "20 psi"),
    (("warning",), "55 psi"),
    (("pump", "relief_rated_pressure"), "58 psi"),
    (("pump", "relief_opening"), "70 psi"),
    (("pan", "full_height"), "0.6 in"),
    (("pan", "pickup_height"), "3.7 in"),
    (("pan", "windage_height"), "3.7 in"),
    (("crank_nearest",), "1.225 in"),
    (("mains", "groove_width"), "0.8 in"),
    (("rods", "feed_hole"), "0.4 in"),
    (("cams", "width"), "0.1 in"),
    (("mains", "diameter"), "0.5 in"),
    (("rods", "width"), "3.7 in"),
]


@pytest.mark.parametrize(("way", "value"), APART, ids=[f"{'.'.join(way)} {value}" for way, value in APART])
def test_an_engine_whose_numbers_do_not_go_together_is_refused(tmp_path: Path, way: Way, value: str) -> None:
    """Naming file and entry, and one of the two keys that are apart."""
    table = changed(ENGINE, way, value)
    argument = refused(None, lambda: read(tmp_path, "engines", table)).split(": got ")[0]
    assert argument.startswith("own.toml, [mine")
    assert argument.split(", ")[-1].split(".")[-1] in {part[-1] for part in ways(ENGINE)}


def test_the_same_of_an_engine_made_in_python_is_said_where_the_caller_says() -> None:
    good = engines()["street_v8"]
    check_engine("my engine", good)
    slow = dataclasses.replace(good, redline=Q(600, "rpm"))
    sentence = refused("my engine, redline", lambda: check_engine("my engine", slow))
    assert "got 600 rpm" in sentence
    assert "700 rpm" in sentence
    pump = dataclasses.replace(good.pump, relief_rated_pressure=Q(50, "psig"))
    refused(
        "my engine, pump.relief_rated_pressure",
        lambda: check_engine("my engine", dataclasses.replace(good, pump=pump)),
    )


def test_equal_limits_are_refused_without_seeming_different_or_the_other_way_round() -> None:
    good = engines()["street_v8"]
    a_hair = dataclasses.replace(good, redline=good.idle * (1.0 - 1e-7))
    sentence = refused("engine, redline", lambda: check_engine("engine", a_hair))
    assert float(sentence.split("got ")[1].split(" ")[0]) < 700.0


GRADES: list[tuple[str, str, str | None]] = [
    ("30", "9.3 cSt", None),
    ("30", "12.49 cSt", None),
    ("30", "9.29 cSt", "viscosity_100"),
    ("30", "12.5 cSt", "viscosity_100"),
    ("40", "12.5 cSt", None),
    ("60", "26.1 cSt", "viscosity_100"),
    ("10W", "30 cSt", None),
    ("10W", "4.0 cSt", "viscosity_100"),
    ("10W-40", "12.5 cSt", None),
    ("10W-40", "11 cSt", "viscosity_100"),
    ("25W-20", "9.2 cSt", "viscosity_100"),
    ("45", "12.5 cSt", "grade"),
    ("10W-45", "12.5 cSt", "grade"),
    ("10W-", "12.5 cSt", "grade"),
    ("", "12.5 cSt", "grade"),
    ("SAE", "12.5 cSt", "grade"),
    ("10W4", "12.5 cSt", "grade"),
    ("1040", "12.5 cSt", "grade"),
    ("40-10W", "12.5 cSt", "grade"),
    ("10W-30-40", "12.5 cSt", "grade"),
]


@pytest.mark.parametrize(("grade", "viscosity", "key"), GRADES, ids=[f"{g or 'none'} {v}" for g, v, _ in GRADES])
def test_an_oil_must_be_what_its_grade_says(tmp_path: Path, grade: str, viscosity: str, key: str | None) -> None:
    """SAE J300 (January 2015): the lower limit belongs to the grade, the upper one does not."""
    table = OIL | {"grade": grade, "viscosity_40": "300 cSt", "viscosity_100": viscosity}
    if key is None:
        assert read(tmp_path, "oils", table)["mine"].grade == grade
    else:
        sentence = refused(f"own.toml, [mine], {key}", lambda: read(tmp_path, "oils", table))
        assert "10W-40" in sentence if key == "grade" else viscosity.split(" ")[0] in sentence


@pytest.mark.parametrize(
    ("spoken", "listed"),
    [(f"10{w}{dash}40", "10W-40") for w in "Ww" for dash in ("", "-", " ", "\u2013", "\u2014", " - ", "\u2011")]
    + [("SAE 10W-40", "10W-40"), ("sae10w40", "10W-40"), ("SAE 40", "40"), (" 40 ", "40"), ("10w", "10W")],
)
def test_a_grade_is_read_as_racers_write_it(tmp_path: Path, spoken: str, listed: str) -> None:
    table = OIL | {"grade": spoken, "viscosity_40": "300 cSt", "viscosity_100": "12.5 cSt"}
    assert read(tmp_path, "oils", table)["mine"].grade == listed


@pytest.mark.parametrize("warm", ["10.6 cSt", "10 cSt"])
def test_an_oil_that_would_thicken_as_it_warms_is_refused(tmp_path: Path, warm: str) -> None:
    refused("own.toml, [mine], viscosity_100", lambda: read(tmp_path, "oils", OIL | {"viscosity_40": warm}))


def test_an_oil_made_in_python_is_held_against_any_list_of_grades() -> None:
    oil = lubricants()["street"]
    check_grade("my oil", oil, grades())
    narrow = {part: Grade(part, Q(9, "cSt"), Q(10, "cSt")) for part in oil.grade.split("-")}
    refused("my oil, viscosity_100", lambda: check_grade("my oil", oil, narrow))
    refused("my oil, grade", lambda: check_grade("my oil", oil, {"50": narrow["30"]}))


# --------------------------------------------------------------------------------------------- records made in Python

HOSE = Hose("mine", "-12", Q(0.75, "in"))
MAINS = Bearings(
    Q(5, ""), Q(2.45, "in"), Q(0.8, "in"), Q(2.5, "thou"), "hole", Q(4, "mm"), Q(0.25, "in"), Q(0.7, ""), Q(1, "")
)


def test_the_plain_numbers_of_a_record_are_si_and_are_worked_out_once() -> None:
    assert HOSE.si.bore == pytest.approx(0.75 * INCH, rel=1e-12)
    assert HOSE.si is HOSE.si
    assert dataclasses.replace(HOSE, bore=Q(1, "in")).si.bore == pytest.approx(INCH, rel=1e-12)
    assert dataclasses.replace(MAINS, turns=1).si.turns == 1.0, "a plain number needs no unit"


BAD_NUMBERS: list[Any] = [
    0.75,
    "0.75 in",
    None,
    True,
    Q(0.75, "psi"),
    Q(-0.75, "in"),
    Q(0, "in"),
    Q(math.nan, "in"),
    Q(math.inf, "in"),
    Q([0.75], "in"),
    HOSE,
]


@pytest.mark.parametrize("value", BAD_NUMBERS, ids=[type(v).__name__ + f" {v!s}"[:12] for v in BAD_NUMBERS])
@pytest.mark.parametrize("record", [HOSE, MAINS], ids=["hose", "bearings"])
def test_a_bad_number_in_a_record_is_refused_by_name(record: Record, value: Any) -> None:
    key = "bore" if record is HOSE else "diameter"
    bad = dataclasses.replace(record, **{key: value})
    refused(key, lambda: bad.si)


BAD_WORDS: list[Any] = ["ring", "", None, 3, ["hole"]]


@pytest.mark.parametrize("value", BAD_WORDS, ids=str)
def test_a_word_that_is_none_is_refused_by_name(value: Any) -> None:
    refused("feed", lambda: dataclasses.replace(MAINS, feed=value).si)


@pytest.mark.parametrize("value", [None, 3, Q(3, "in")], ids=str)
@pytest.mark.parametrize("key", ["name", "dash"])
def test_a_text_of_a_record_that_is_none_is_refused_by_name(key: str, value: Any) -> None:
    refused(key, lambda: dataclasses.replace(HOSE, **{key: value}).si)


def test_a_bad_record_in_a_record_is_refused() -> None:
    engine = engines()["street_v8"]
    bad = dataclasses.replace(engine, mains=dataclasses.replace(engine.mains, width=Q(3, "psi")))
    assert refused(None, lambda: bad.si).split(": got")[0].endswith("width")


@pytest.mark.parametrize("value", [None, 3, "mains", HOSE], ids=["None", "3", "text", "another record"])
@pytest.mark.parametrize("key", ["mains", "pump", "pan"])
def test_what_is_no_record_of_its_sort_is_refused_by_name(key: str, value: Any) -> None:
    bad = dataclasses.replace(engines()["street_v8"], **{key: value})
    refused(key, lambda: bad.si)


def test_a_part_that_may_be_left_out_is_left_out_in_si_too() -> None:
    engine = engines()["race_v8"]
    assert engine.si.cooler.volume == pytest.approx(0.8 * QUART, rel=1e-12)
    assert dataclasses.replace(engine, cooler=None).si.cooler is None
    assert Grade("0W", Q(3.8, "cSt")).si.below is None


@pytest.mark.parametrize("record", [Vessel, Hose, Fitting, Grade, Lubricant, Engine, Element])
def test_a_record_cannot_be_changed_behind_its_plain_numbers(record: type[Record]) -> None:
    """They are worked out once; a bore that changed afterwards would be a bore that nothing sees."""
    assert record.__dataclass_params__.frozen  # type: ignore[attr-defined]


# ----------------------------------------------------------------------------------------------------- the kit's own

SHIPPED = [
    pytest.param(key, thing, id=f"{reader.__name__}-{key}")
    for reader in (vessels, hoses, fittings, lubricants, engines)
    for key, thing in reader().items()
]


@pytest.mark.parametrize(("key", "thing"), SHIPPED)
def test_every_entry_says_that_it_is_invented_or_where_it_comes_from(key: str, thing: Any) -> None:
    """In its name, which is what a panel shows; a size from a public table names the table instead."""
    cited = "FAA AC 43.13-1B" in getattr(thing, "note", "")
    assert cited != ("(invented)" in thing.name), key
    if not cited:
        assert getattr(thing, "note", "") in ("", "invented")


@pytest.mark.parametrize("file", ["vessels.toml", "hoses.toml", "fittings.toml", "oils.toml", "engines.toml"])
def test_every_file_with_invented_entries_says_so_at_its_head(file: str) -> None:
    text = data_file(file).read_text(encoding="utf-8")
    head = text[: text.index("\n[")]
    assert all(line.startswith("#") or not line.strip() for line in head.splitlines())
    assert "invented" in head


def test_the_grades_name_their_standard_and_the_values_from_memory_say_so() -> None:
    assert "SAE J300 (January 2015)" in data_file("grades.toml").read_text(encoding="utf-8")
    assert "from memory" in data_file("fittings.toml").read_text(encoding="utf-8")


def test_there_is_one_engine_without_a_cooler_and_one_with() -> None:
    assert {engine.cooler is None for engine in engines().values()} == {True, False}


def test_a_list_of_the_kits_own_is_the_callers_to_change() -> None:
    for reader in (hoses, fittings, grades, lubricants, engines):
        mine = reader()
        mine.clear()
        assert reader()


# ------------------------------------------------------------------------- what cannot be, and what is asked about


@pytest.mark.parametrize("read", [oilkit.vessels, oilkit.hoses, oilkit.fittings, oilkit.lubricants, oilkit.engines])
def test_nothing_in_the_kits_own_files_is_asked_about(read: Any) -> None:
    for record in read().values():
        assert list(record.questions("of it")) == []


IMPOSSIBLE = [
    (oilkit.lubricants()["street"], "density_15", Q(868, "lb/gal"), "(did you mean 868 kg/m³?)"),
    (oilkit.lubricants()["street"], "density_15", Q(0.868, "kg/m**3"), "(did you mean 0.868 g/cm³?)"),
    (oilkit.lubricants()["street"], "viscosity_40", Q(68, "St"), "(did you mean 68 cSt?)"),
    (oilkit.vessels()["bench"], "gas_volume", Q(3, "m**3"), "(did you mean 3 qt?)"),
    (oilkit.vessels()["bench"], "bore", Q(4.5, "ft"), "(did you mean 4.5 in?)"),
    (oilkit.vessels()["bench"], "rated_pressure", Q(150, "MPag"), "(did you mean 150 psig?)"),
    (oilkit.engines()["street_v8"].mains, "diametral_clearance", Q(2.5, "mm"), "(did you mean 2.5 thou?)"),
    (oilkit.engines()["street_v8"].mains, "diameter", Q(62, "in"), "(did you mean 62 mm?)"),
    (oilkit.engines()["street_v8"].pan, "sump_area", Q(75, "mm**2"), "(did you mean 75 in²?)"),
    (oilkit.engines()["street_v8"], "redline", Q(60_000, "rpm"), "up to 30000 rpm"),
    (oilkit.engines()["street_v8"].filter, "bypass", Q(12_000, "psi"), "up to 1000.00 psi"),
    (oilkit.hoses()["small"], "bore", Q(0.5, "mm"), "(did you mean 0.5 in?)"),
]


@pytest.mark.parametrize(("record", "name", "value", "said"), IMPOSSIBLE, ids=lambda part: str(part)[:24])
def test_what_cannot_be_is_refused_and_the_unit_that_was_meant_is_named(
    record: Any, name: str, value: Any, said: str
) -> None:
    assert said in refused(name, lambda: dataclasses.replace(record, **{name: value}).si)


UNLIKELY = [
    (oilkit.vessels()["bench"], "gas_volume", Q(300, "qt"), "Is its unit right, or did you mean 300 cm³?"),
    (oilkit.vessels()["bench"], "gas_volume", Q(90, "L"), "95.10 qt (90.00 L). Is its unit right"),
    (oilkit.vessels()["bench"], "rated_pressure", Q(10, "psig"), "or did you mean 10 barg?"),
    (oilkit.engines()["street_v8"].mains, "diametral_clearance", Q(0.0001, "mm"), "Is its unit right?"),
    (oilkit.engines()["street_v8"].mains, "diametral_clearance", Q(0.06, "thou"), "or did you mean 0.06 mm?"),
    (oilkit.engines()["street_v8"].rods, "diameter", Q(53, "thou") * 5, "Is its unit right"),
    (oilkit.engines()["street_v8"], "gallery_volume", Q(0.5, "cm**3") * 4, "or did you mean 2 qt?"),
    (oilkit.engines()["street_v8"], "idle", Q(70, "rpm"), "idle of it, 70 rpm. Is its unit right?"),
    (oilkit.lubricants()["street"], "density_15", Q(700, "kg/m**3"), "Is its unit right?"),
    (oilkit.hoses()["small"], "bore", Q(4, "mm"), "0.157 in (4.00 mm). Is its unit right"),
]


@pytest.mark.parametrize(("record", "name", "value", "said"), UNLIKELY, ids=lambda part: str(part)[:24])
def test_what_is_unlikely_is_asked_about_once(record: Any, name: str, value: Any, said: str) -> None:
    (question,) = dataclasses.replace(record, **{name: value}).questions("of it")
    assert question.startswith("Unusual: ")
    assert question.endswith("?")
    assert said in question


@pytest.mark.parametrize(("system", "meant"), [("US", "3 qt"), ("SI", "3 L")])
def test_the_unit_that_was_meant_is_the_learners_own(system: str, meant: str) -> None:
    oilkit.use_units(system)
    bench = dataclasses.replace(oilkit.vessels()["bench"], gas_volume=Q(3, "m**3"))
    assert f"(did you mean {meant}?)" in refused("gas_volume", lambda: bench.si)


EXTREMES = {
    "a motorcycle": {"mains": (0.9, 0.5, 0.4, 0.3), "idle": 1500, "redline": 16_000, "pump": 0.15},
    "a big-block": {"mains": (3.2, 1.1, 0.2, 5.0), "idle": 1300, "redline": 9000, "pump": 3.0},
    "a diesel": {"mains": (4.0, 1.8, 0.2, 8.0), "idle": 600, "redline": 2600, "pump": 6.0},
}


@pytest.mark.parametrize("name", EXTREMES)
def test_no_engine_that_people_build_is_refused_or_asked_about(name: str) -> None:
    numbers, engine = EXTREMES[name], oilkit.engines()["street_v8"]
    diameter, width, groove, clearance = numbers["mains"]
    bearings = {
        key: dataclasses.replace(
            getattr(engine, key), diameter=Q(diameter, "in"), width=Q(width, "in"), groove_width=Q(groove / 4, "in"),
            feed_hole=Q(groove / 2, "in"), diametral_clearance=Q(clearance, "thou"),
        )
        for key in ("mains", "rods", "cams")
    }  # fmt: skip
    built = dataclasses.replace(
        engine, **bearings, idle=Q(numbers["idle"], "rpm"), redline=Q(numbers["redline"], "rpm"),
        pump=dataclasses.replace(engine.pump, displacement=Q(numbers["pump"], "in**3/rev")), crank_nearest=Q(0.2, "in"),
    )  # fmt: skip
    assert list(built.questions("of it")) == []
    for size in (0.2, 10.0):
        vessel = dataclasses.replace(oilkit.vessels()["bench"], gas_volume=Q(size, "qt"))
        assert list(vessel.questions("of it")) == []
        for celsius in (-40, 160):
            point = oilkit.operating_point(built, oilkit.lubricants()["street"], built.redline, Q(celsius, "degC"))
            assert point.gallery_pressure.m >= 0.0


def test_every_number_of_a_record_has_an_example_within_its_own_limits() -> None:
    """Error sentences show the example: "such as" something that would be refused is no help."""
    from oilkit.build.records import LISTS, TABLES

    def kinds_of(cls: Any) -> Any:
        for name, kind in cls.fields().items():
            if isinstance(kind, Kind):
                yield cls.__name__, name, kind
            elif isinstance(kind, type) and issubclass(kind, Record):
                yield from kinds_of(kind)

    found = [row for cls, *_ in (*TABLES.values(), *LISTS.values()) for row in kinds_of(cls)]
    assert len(found) > 90
    for cls_name, name, kind in found:
        assert checked(name, typical(kind), kind) == typical(kind)
        assert kind.low <= kind.usual_low or math.isinf(kind.usual_low), (cls_name, name)
        assert kind.usual_high <= kind.high or math.isinf(kind.usual_high), (cls_name, name)
