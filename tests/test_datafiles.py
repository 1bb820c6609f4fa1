"""Data files: Boyle's table, the kit's vessels, and every way in which a file of one's own can be wrong."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from sentences import refused

from oilkit import Q, boyle_1662, use_units, vessels
from oilkit.quantities.records import data_file

# ------------------------------------------------------------------------------------------------------- Boyle, 1662

BOYLE_1662 = """
48 29 2/16 · 46 30 9/16 · 44 31 15/16 · 42 33 8/16 · 40 35 5/16 · 38 37 · 36 39 5/16 · 34 41 10/16 · 32 44 3/16 ·
30 47 1/16 · 28 50 5/16 · 26 54 5/16 · 24 58 13/16 · 23 61 5/16 · 22 64 1/16 · 21 67 1/16 · 20 70 11/16 · 19 74 2/16 ·
18 77 14/16 · 17 82 12/16 · 16 87 14/16 · 15 93 1/16 · 14 100 7/16 · 13 107 13/16 · 12 117 9/16
"""
"""The table as it stands in a published copy: spaces of air, then inches of mercury in sixteenths."""


def test_boyles_table_is_boyles_table() -> None:
    printed = []
    for reading in BOYLE_1662.replace("\n", " ").split("·"):
        space, whole, *part = reading.split()
        sixteenths = int(part[0].removesuffix("/16")) if part else 0
        printed.append((float(space), int(whole) + sixteenths / 16))
    assert len(printed) == 25
    readings = boyle_1662()
    np.testing.assert_array_equal(readings.volume.to("dimensionless").m, [space for space, _ in printed])
    np.testing.assert_allclose(
        readings.pressure.to("inHg * absolute_mark").m, [inches for _, inches in printed], rtol=1e-15
    )


def test_boyles_pressures_are_absolute_and_his_air_stood_at_29_inches() -> None:
    readings = boyle_1662()
    assert readings.pressure.is_compatible_with("psia")
    assert not readings.pressure.is_compatible_with("psig")
    assert readings.pressure[0].to("psia").m == pytest.approx(29.125 * 3386.389 / 6894.757, rel=1e-6)
    assert "Boyle 1662" in readings.source


def test_boyles_table_names_its_source_in_the_file() -> None:
    assert "Robert Boyle" in data_file("boyle_1662.csv").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", ["nothing.csv", "", ".", "vessels"])
def test_a_data_file_that_is_not_there_is_refused(name: str) -> None:
    refused("name", lambda: data_file(name))


# ----------------------------------------------------------------------------------------------------- the kit's own


def test_the_kits_own_vessels() -> None:
    known = vessels()
    assert {"bench", "small", "large"} <= known.keys()
    assert known["bench"].gas_volume.to("qt").m == pytest.approx(3.0, rel=1e-12)
    assert known["bench"].bore.to("in").m == pytest.approx(4.5, rel=1e-12)
    assert known["bench"].rated_pressure.to("psig").m == pytest.approx(150.0, rel=1e-12)
    assert known["large"].gas_volume.to("L").m == pytest.approx(5.0, rel=1e-12)
    assert known["large"].rated_pressure.to("barg").m == pytest.approx(10.0, rel=1e-12)


def test_every_vessel_of_the_kit_says_that_it_is_invented() -> None:
    for vessel in vessels().values():
        assert "invented" in vessel.name


def test_every_vessel_of_the_kit_is_longer_than_wide_and_shorter_than_a_man() -> None:
    """A slip of a unit in the file makes a coin or a mast of it."""
    for vessel in vessels().values():
        assert 0.5 < (vessel.stroke / vessel.bore).to("dimensionless").m < 10.0
        assert vessel.stroke.to("m").m < 1.5


# ------------------------------------------------------------------------------------------------- a file of one's own

GOOD = """
[mine]
name = "a vessel of my own (invented)"
gas_volume = "2 L"
bore = "100 mm"
rated_pressure = "10 bar"
"""


def written(folder: Path, text: str | bytes, name: str = "mine.toml") -> Path:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return path


def test_a_file_of_ones_own_is_read(tmp_path: Path) -> None:
    mine = vessels(written(tmp_path, GOOD))["mine"]
    assert mine.name == "a vessel of my own (invented)"
    assert mine.gas_volume.to("L").m == pytest.approx(2.0, rel=1e-12)
    assert mine.bore.to("mm").m == pytest.approx(100.0, rel=1e-12)
    assert mine.rated_pressure.to("barg").m == pytest.approx(10.0, rel=1e-12)


def test_a_vessel_without_a_name_goes_by_its_short_one(tmp_path: Path) -> None:
    assert vessels(written(tmp_path, GOOD.replace("name =", "# name =")))["mine"].name == "mine"


@pytest.mark.parametrize("system", ["US", "SI"])
@pytest.mark.parametrize(
    ("given", "cubic_metres"),
    [
        ("2 L", 2e-3),
        ("2,5 L", 2.5e-3),
        ("3 qt", 3 * 57.75 * 0.0254**3),
        ("0.5 gal", 115.5 * 0.0254**3),
        ("2000 cc", 2e-3),
        ("0.002 m**3", 2e-3),
        ("0.002 m^3", 2e-3),
        ("0.002 m³", 2e-3),
        ("122 in^3", 122 * 0.0254**3),
        ("2 dm³ ", 2e-3),
    ],
)
def test_a_volume_may_be_written_in_any_unit_and_the_unit_switch_does_not_matter(
    tmp_path: Path, given: str, cubic_metres: float, system: str
) -> None:
    use_units(system)
    mine = vessels(written(tmp_path, GOOD.replace("2 L", given)))["mine"]
    assert mine.gas_volume.to("m**3").m == pytest.approx(cubic_metres, rel=1e-9)


def test_lines_may_end_as_windows_ends_them(tmp_path: Path) -> None:
    assert "mine" in vessels(written(tmp_path, GOOD.replace("\n", "\r\n")))


def test_a_file_saved_by_a_windows_editor_is_read(tmp_path: Path) -> None:
    """Some editors put a byte-order mark before the first letter. Nobody sees it and nobody can take it away."""
    assert "mine" in vessels(written(tmp_path, b"\xef\xbb\xbf" + GOOD.encode()))


def test_a_path_may_be_text(tmp_path: Path) -> None:
    path = str(written(tmp_path, GOOD))
    assert "mine" in vessels(path)  # type: ignore[arg-type]


def test_a_file_changed_on_disk_is_read_again(tmp_path: Path) -> None:
    """Editing the file and running the cell again is how a learner puts a wrong number right."""
    path = written(tmp_path, GOOD)
    assert vessels(path)["mine"].gas_volume.to("L").m == pytest.approx(2.0)
    written(tmp_path, GOOD.replace("2 L", "3 L"))
    assert vessels(path)["mine"].gas_volume.to("L").m == pytest.approx(3.0)


def test_what_one_lesson_does_to_its_list_of_vessels_the_next_does_not_see() -> None:
    mine = vessels()
    mine["mine"] = mine["bench"]
    assert "mine" not in vessels()


# ----------------------------------------------------------------------------------------------------- what is wrong

WRONG_FILES: dict[str, tuple[str | bytes, str | None]] = {
    "not TOML": (GOOD + "[next\n", None),
    "two of a name": (GOOD + GOOD, None),
    "not UTF-8": (GOOD.replace("own", "öwn").encode("latin-1"), None),
    "UTF-16": (GOOD.encode("utf-16"), None),
    "a number instead of a table": ("mine = 3\n", "mine"),
    "a list of tables": (GOOD.replace("[mine]", "[[mine]]"), "mine"),
    "an unknown key": (GOOD + 'weight = "3 kg"\n', "[mine]"),
    "a table inside": (GOOD + '[mine.more]\nname = "x"\n', "[mine]"),
    "a misspelt key": (GOOD.replace("bore", "boer"), "[mine]"),
}


@pytest.mark.parametrize(("text", "place"), WRONG_FILES.values(), ids=WRONG_FILES.keys())
def test_a_file_that_is_wrong_as_a_whole_is_refused_by_name(
    tmp_path: Path, text: str | bytes, place: str | None
) -> None:
    argument = "mine.toml" if place is None else f"mine.toml, {place}"
    refused(argument, lambda: vessels(written(tmp_path, text)))


def test_the_unknown_key_is_named(tmp_path: Path) -> None:
    sentence = refused("mine.toml, [mine]", lambda: vessels(written(tmp_path, GOOD + 'weight = "3 kg"\n')))
    assert "weight" in sentence
    assert "bore" in sentence


def test_a_file_that_is_not_there_is_refused_by_name(tmp_path: Path) -> None:
    assert "nothing.toml" in refused(None, lambda: vessels(tmp_path / "nothing.toml"))


def test_a_folder_is_no_file(tmp_path: Path) -> None:
    assert tmp_path.name in refused(None, lambda: vessels(tmp_path))


@pytest.mark.parametrize("key", ["gas_volume", "bore", "rated_pressure"])
def test_a_missing_key_is_refused_by_name(tmp_path: Path, key: str) -> None:
    text = "\n".join(line for line in GOOD.splitlines() if not line.startswith(key))
    sentence = refused(f"mine.toml, [mine], {key}", lambda: vessels(written(tmp_path, text)))
    assert "got nothing" in sentence


VALUES = {"gas_volume": '"2 L"', "bore": '"100 mm"', "rated_pressure": '"10 bar"'}

WRONG_FOR_ALL = {
    "a bare number": "3",
    "a bare fraction": "3.5",
    "a number in quotes": '"3"',
    "a fraction in quotes": '"3.5"',
    "a number with a bare point": '"3."',
    "a comma number in quotes": '"3,5"',
    "a number and a space": '"3 "',
    "an exponent": '"3e0"',
    "nothing": '""',
    "a space": '" "',
    "only a unit": '"L"',
    "words": '"plenty"',
    "an unknown unit": '"3 blorg"',
    "not a number": '"nan L"',
    "TOML nan": "nan",
    "TOML inf": "inf",
    "a bool": "true",
    "a list": '["3 L"]',
    "a table": '{ value = 3, unit = "L" }',
    "a date": "2020-01-01",
    "a mass": '"3 kg"',
    "a temperature": '"3 degC"',
    "an ambiguous comma": '"3,000 L"',
}


@pytest.mark.parametrize("system", ["US", "SI"])
@pytest.mark.parametrize("value", WRONG_FOR_ALL.values(), ids=WRONG_FOR_ALL.keys())
@pytest.mark.parametrize("key", VALUES)
def test_a_wrong_value_is_refused_with_file_table_and_key(tmp_path: Path, key: str, value: str, system: str) -> None:
    use_units(system)
    text = GOOD.replace(f"{key} = {VALUES[key]}", f"{key} = {value}")
    assert text != GOOD
    refused(f"mine.toml, [mine], {key}", lambda: vessels(written(tmp_path, text)))


@pytest.mark.parametrize(
    ("key", "value", "word"),
    [
        ("gas_volume", "0 L", "above 0.00 qt"),
        ("gas_volume", "-2 L", "above 0.00 qt"),
        ("gas_volume", "2 mm", "a length"),
        ("bore", "0 mm", "above 0.00 in"),
        ("bore", "0 in", "above 0.00 in"),
        ("bore", "-4.5 in", "-4.50 in"),
        ("bore", "4.5 qt", "a volume"),
        ("rated_pressure", "0 psi", "above 0"),
        ("rated_pressure", "-10 psi", "above 0"),
        ("rated_pressure", "150 psia", "an absolute pressure"),
        ("rated_pressure", "10 L", "a volume"),
    ],
)
def test_a_value_that_no_vessel_has_is_refused(tmp_path: Path, key: str, value: str, word: str) -> None:
    text = GOOD.replace(f"{key} = {VALUES[key]}", f'{key} = "{value}"')
    sentence = refused(f"mine.toml, [mine], {key}", lambda: vessels(written(tmp_path, text)))
    assert word in sentence


@pytest.mark.parametrize("value", ['"4.5 qt"', '"150 psia"', '"3 kg"', '"3"'])
def test_what_is_wanted_in_a_file_is_something_to_write_into_one(tmp_path: Path, value: str) -> None:
    """A file holds no Python: "such as Q(4.5, 'in')" written into it is refused again."""
    text = GOOD.replace(VALUES["bore"], value)
    assert "Q(" not in refused("mine.toml, [mine], bore", lambda: vessels(written(tmp_path, text)))


@pytest.mark.parametrize("value", ['"4.5 in2"', '"0.01 m3"', '"4.5 in^2"', '"4.5 m²"'])
def test_a_unit_that_ends_in_a_digit_is_a_unit(tmp_path: Path, value: str) -> None:
    """Whether or not the kit knows it, a value with a unit must not be called a value without one."""
    text = GOOD.replace(VALUES["bore"], value)
    assert "without a unit" not in refused("mine.toml, [mine], bore", lambda: vessels(written(tmp_path, text)))


@pytest.mark.parametrize("value", ["3", '["a"]', "true"])
def test_a_name_is_a_text(tmp_path: Path, value: str) -> None:
    text = GOOD.replace('"a vessel of my own (invented)"', value)
    refused("mine.toml, [mine], name", lambda: vessels(written(tmp_path, text)))


def test_the_rated_pressure_sentence_speaks_one_system_of_units(tmp_path: Path) -> None:
    use_units("SI")
    sentence = refused(
        "mine.toml, [mine], rated_pressure", lambda: vessels(written(tmp_path, GOOD.replace("10 bar", "-1 bar")))
    )
    assert "psi" not in sentence


def test_the_right_vessel_is_named_among_several(tmp_path: Path) -> None:
    text = GOOD + GOOD.replace("[mine]", "[other]").replace("100 mm", "0 mm")
    refused("mine.toml, [other], bore", lambda: vessels(written(tmp_path, text)))


def test_quantities_come_back_with_units() -> None:
    bench = vessels()["bench"]
    assert bench.gas_volume + Q(1, "L") > bench.gas_volume
