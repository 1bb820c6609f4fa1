"""Numbers that could mean two things are asked about, and a file that is none is refused at once, by every reader."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from sentences import check_sentence, refused

from oilkit import KIT_LAP, InputError, log_remarks, panels, read_bench, read_log, read_set_up
from oilkit.build.setup_file import set_up_from_text
from oilkit.panels.lessons.lesson_01_boyle import read_pairs
from oilkit.physics.catalog import engines, vessels
from oilkit.quantities.columns import LONGEST, Column, written
from oilkit.quantities.kinds import VOLUME
from oilkit.quantities.records import data_file
from oilkit.quantities.typed import parse
from oilkit.storage.textfile import LARGEST, read_text, stamp

COLUMNS = {
    "time": ("t", "s"),
    "speed": ("v", "km/h"),
    "lateral": ("ay", "g"),
    "longitudinal": ("ax", "g"),
    "rpm": ("n", "rpm"),
}


def log_of(tmp_path: Path, *rows: str, head: str = "t;v;ay;ax;n") -> Path:
    path = tmp_path / "my_lap.csv"
    path.write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    return path


def rpm(tmp_path: Path, *cells: str) -> Path:
    return log_of(tmp_path, *(f"0.{k};100;0.1;0.1;{cell}" for k, cell in enumerate(cells)))


# ------------------------------------------------------------------------------------------------- one number or two?


@pytest.mark.parametrize(
    ("cells", "could"),
    [
        (["3,000", "4000", "4100"], "line 2, rpm: got “3,000”, which could mean 3 or 3000; wanted 3.0 or 3000."),
        (["4000", "3.000", "4100"], "line 3, rpm: got “3.000”, which could mean 3 or 3000; wanted 3.0 or 3000."),
        (["4.012", "4.112", "4.212"], "“4.012”, which could mean 4.012 or 4012; wanted 4.0120 or 4012."),
        (["1,234", "4000.5", "4100.5"], "“1,234”, which could mean 1.234 or 1234"),
        (["4.012", "4100,5", "4200,5"], "“4.012”, which could mean"),
    ],
)  # fmt: skip
def test_a_cell_of_two_meanings_is_asked_about(tmp_path: Path, cells: list[str], could: str) -> None:
    assert could in refused(None, lambda: read_log(rpm(tmp_path, *cells), COLUMNS))


@pytest.mark.parametrize(
    ("cells", "first"),
    [
        (["3.000", "4000.5", "4100"], 3.0),
        (["3,000", "4000,5", "4100"], 3.0),
        (["3.000", "0.436", "4100"], 3.0),
        (["3.000", "4512.000", "4100"], 3.0),
        (["850.125", "860.125", "870.125"], 850.125),  # 850 125 rpm no engine makes
    ],
)
def test_a_column_that_settles_it_is_read_and_the_reading_is_told(
    tmp_path: Path, cells: list[str], first: float
) -> None:
    log = read_log(rpm(tmp_path, *cells), COLUMNS)
    assert log.rpm.m_as("rpm")[0] == pytest.approx(first)
    (told,) = log.assumed
    assert f"{cells[0]} (rpm, line 2)" in told
    assert told in log_remarks(log)


def test_what_is_written_back_is_read_without_a_question() -> None:
    """A bench file of the kit's own must come back, whatever its numbers look like."""
    for number in (1.125, 3.0, 12.345, -999.999, 1.234e-05, 0.125, 1e22, 1234.567, 3.141592653589793):
        column = Column("x")
        assert column.add("f", 1, written(number)) == number
        column.ask("f")
        assert column.doubts == {}
    assert written(1.125) == "1.1250"


def test_the_rule_for_commas_is_that_of_typed_numbers() -> None:
    """The same comma in a box and in a column: decimal, refused, or asked about."""
    for typed in ("3,5", "0,25", "12,3456", "3,000", "12,345", "1,234,5", ",5", "1.234,5"):
        column = Column("x")

        def in_a_column(column: Column = column, typed: str = typed) -> float:
            column.add("f", 1, typed)
            column.ask("f")
            return float(column.values[0])

        found = []
        for read in (in_a_column, lambda typed=typed: VOLUME.display(parse("x", f"{typed} L", VOLUME), "SI")):
            try:
                found.append(round(float(read()), 9))
            except InputError:
                found.append(None)
        assert found[0] == found[1], (typed, found)


def test_every_time_could_mean_two_but_only_one_of_them_is_a_log(tmp_path: Path) -> None:
    rows = [f"12.{k}50;100;0.1;0.1;4000" for k in range(4)]
    log = read_log(log_of(tmp_path, *rows), COLUMNS)
    assert log.interval.m_as("s") == pytest.approx(0.1)
    assert "samples 100 s apart cannot be" in log.assumed[0]
    rows = [f"12.00{k};100;0.1;0.1;4000" for k in range(1, 5)]  # 1 ms apart, or 1 s
    assert "12.001 or 12001" in refused(None, lambda: read_log(log_of(tmp_path, *rows), COLUMNS))


def test_decimal_commas_between_commas_shift_the_cells(tmp_path: Path) -> None:
    path = log_of(tmp_path, "0,0,100,0,0,4000", "0,1,100,0,0,4000", head="t,v,ay,ax,n")
    assert "line 2: got 6 cells; wanted 5" in refused(None, lambda: read_log(path, COLUMNS))
    wide = log_of(tmp_path, *(f"{k},1,0,0,4000" for k in range(4)), head="t,v,ay,ax,n,note")
    assert "line 2: got 5 cells; wanted 6" in refused(None, lambda: read_log(wide, COLUMNS))
    ends = log_of(tmp_path, *(f"0.{k},100,0.1,0.1,4000," for k in range(4)), head="t,v,ay,ax,n")
    assert len(read_log(ends, COLUMNS).time) == 4, "an empty cell at the end shifts nothing"
    bench = "precharge (psi), pressure (psi), rule (in)\n10,5, 20,5, 3,25\n"
    assert "got 6 cells; wanted 3" in refused(None, lambda: read_bench(bench))


def test_quotes_that_close_in_the_middle_make_no_number(tmp_path: Path) -> None:
    path = log_of(tmp_path, '0.1;"10"5;0;0;4000', "0.2;100;0;0;4000")
    assert "quotes" in refused("my_lap.csv, line 2", lambda: read_log(path, COLUMNS))


def test_bench_readings_are_asked_about_too() -> None:
    bench = "precharge (psi); pressure (psi); rule (mm)\n10; 20; 2.540\n10; 30; {}\n"
    sentence = refused("readings, line 2, rule", lambda: read_bench(bench.format("80")))
    assert "could mean 2.54 or 2540" in sentence
    taken = read_bench(bench.format("64.5"))
    assert taken.rule.m_as("mm")[0] == pytest.approx(2.54)
    assert "2.540 (rule, line 2), as 64.5 in line 3 shows" in taken.assumed[0]
    assert taken.first(1).assumed == taken.assumed
    panel = panels.bench_fit()
    panel.controls["readings"].area.value = bench.format("80")
    assert "could mean 2.54 or 2540" in panel.controls["readings"].error


def test_class_readings_are_asked_about_too() -> None:
    for text, part in (
        ("60 0\n50 3.000", "line 2, pressure: 3.000"),
        ("60 0\n50,3", "line 2: “50,3”"),
        ("60 0\n50 ,5", "line 2, pressure"),
        ("60;0\n50;1,234", "1234"),
    ):
        panel = panels.class_readings()
        panel.controls["readings"].area.value = text
        assert part.replace("3.000", "“3.000”, which could mean 3 or 3000") in panel.controls["readings"].error
        assert panel.errors == []
    volume, gauge, assumed = read_pairs("60 0\n50 3.000\n40 7.4", "psig")
    assert volume.tolist() == [60.0, 50.0, 40.0]
    assert gauge[1] == pytest.approx(3.0 * 6894.757293)
    assert "3.000" in assumed[0]
    panel.controls["readings"].area.value = "60 0\n50 3.000\n40 7.4"
    assert "3.000" in panel.summary(panel.state)


def test_a_file_without_the_gauges_unit_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("class_readings.csv").write_text("60 0\n50 3.0\n", encoding="utf-8")
    panel = panels.class_readings()
    panel._load.click()
    assert "does not tell the unit of the gauge and the barometer" in panel._note.value
    Path("class_readings.csv").write_text("# x; barometer 5 Pa; gauge in barg\n60 0\n50 3.0\n", encoding="utf-8")
    before = panel.values
    panel._load.click()
    assert "barometer" in panel.trouble
    assert panel.values == before


# --------------------------------------------------------------------------------------------------- units under a name


@pytest.mark.parametrize(
    ("row", "part"),
    [
        ("s;mph;g;g;rpm", "line 2, speed: got the unit “mph” under a column named as km/h"),
        ("s;km/h;m/s2;g;rpm", "line 2, lateral: got the unit “m/s2” under a column named as g"),
        ("[ms];[km/h];[g];[g];[rpm]", "line 2, time: got the unit “[ms]” under a column named as s"),
        ("s;knots;g;g;rpm", "the unit “knots” under a column named as km/h; wanted km/h there; the kit reads"),
        ("s;km/h;g;g;rad/s", "the unit “rad/s” under"),
        ("s;;g;G;s", "line 2, rpm: got the unit “s”"),
    ],
)
def test_a_unit_that_contradicts_the_one_named_is_refused(tmp_path: Path, row: str, part: str) -> None:
    rows = [f"0.{k};100;0.1;0.1;4000" for k in range(4)]
    assert part in refused(None, lambda: read_log(log_of(tmp_path, row, *rows), COLUMNS))


@pytest.mark.parametrize("row", ["s;km/h;g;g;rpm", "[S];(KM/H);g;G;1/min", "sec;kph;;g;min-1"])
def test_units_that_agree_are_passed_over(tmp_path: Path, row: str) -> None:
    rows = [f"0.{k};100;0.1;0.1;4000" for k in range(4)]
    assert len(read_log(log_of(tmp_path, row, *rows), COLUMNS).time) == 4


@pytest.mark.parametrize(
    ("column", "agrees"),
    [("v (mph)", False), ("v [m/s]", False), ("v_mph", False), ("v (knots)", False), ("v (km/h)", True),
     ("v (front)", True), ("v_kph", True), ("speed min", True)],
)  # fmt: skip
def test_a_unit_behind_a_name_counts_as_well(tmp_path: Path, column: str, agrees: bool) -> None:
    path = log_of(tmp_path, *(f"0.{k};100;0.1;0.1;4000" for k in range(4)), head=f"t;{column};ay;ax;n")
    columns = COLUMNS | {"speed": (column, "km/h")}
    if agrees:
        assert len(read_log(path, columns).time) == 4
    else:
        assert "named as km/h" in refused("my_lap.csv, speed", lambda: read_log(path, columns))


# ------------------------------------------------------------------------------------------------- files that are none

READERS: dict[str, Callable[[Path], Any]] = {
    "log": lambda path: read_log(path, KIT_LAP),
    "bench": read_bench,
    "set-up": read_set_up,
    "engines": engines,
    "vessels": vessels,
    "text": lambda path: read_text(path, LARGEST, "a text"),
}


@pytest.mark.parametrize("read", READERS.values(), ids=READERS)
def test_what_is_no_file_is_refused_at_once(tmp_path: Path, read: Callable[[Path], Any]) -> None:
    assert "no such file" in refused("none.toml", lambda: read(tmp_path / "none.toml"))
    assert "a folder" in refused(tmp_path.name, lambda: read(tmp_path))
    for name in ("x" * 300 + ".csv", "a\0b.csv", "two\nlines " * 40):
        with pytest.raises(InputError) as caught:
            read(tmp_path / name)
        assert len(str(caught.value)) < 300
        assert str(caught.value).isprintable()
    assert stamp("x" * 300) is None
    (tmp_path / "large.csv").write_bytes(b"")
    os.truncate(tmp_path / "large.csv", 300_000_000)
    assert "300 MB" in refused("large.csv", lambda: read(tmp_path / "large.csv"))


@pytest.mark.timeout(60)
@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="a pipe with a name is made another way here")
@pytest.mark.parametrize("read", READERS.values(), ids=READERS)
def test_a_pipe_or_a_device_is_not_waited_for(tmp_path: Path, read: Callable[[Path], Any]) -> None:
    os.mkfifo(tmp_path / "pipe")
    assert "a pipe or a device" in refused("pipe", lambda: read(tmp_path / "pipe"))
    assert "a pipe or a device" in refused("zero", lambda: read(Path("/dev/zero")))


@pytest.mark.parametrize("read", READERS.values(), ids=READERS)
def test_a_file_without_rights_says_why(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, read: Callable[[Path], Any]
) -> None:
    (tmp_path / "secret").write_text("x", encoding="utf-8")

    def locked(*args: Any, **more: Any) -> Any:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", locked)  # the tests may run as somebody who may read everything
    assert "Permission denied" in refused("secret", lambda: read(tmp_path / "secret"))


def test_a_panel_with_a_name_that_is_none_answers_beside_the_box() -> None:
    panel = panels.own_log()
    text = panel.controls["log"].value
    for name in ("x" * 300, "/dev/zero", "."):
        panel.controls["log"].area.value = text.replace("lap.csv", name)
        assert "got " in panel.controls["log"].error
        assert panel.errors == []


def test_cells_and_lines_without_end_are_refused(tmp_path: Path) -> None:
    for long in (140_000, LONGEST - 20):
        path = log_of(tmp_path, f"0.1;100;0;0;4000;{'x' * long}", head="t;v;ay;ax;n;note")
        refused(None, lambda path=path: read_log(path, COLUMNS))
    bench = f"precharge (psi), pressure (psi), rule (in)\n10, 20, {'1' * 140_000}\n"
    assert f"more than {LONGEST} letters" in refused("readings, line 2", lambda: read_bench(bench))


STREET = data_file("setup_street_v8.toml").read_text(encoding="utf-8")


@pytest.mark.timeout(60)
@pytest.mark.parametrize(
    "text",
    ["a." * 60 + "a = 1", "a." * 90_000 + "a = 1", "[" + "a." * 40 + "a]\nb = 1", "a = " + "[" * 9 + "1" + "]" * 9,
     "a = {b." + "b." * 60 + "c = 1}", "a.\n" * 2000],
    ids=range(6),
)  # fmt: skip
def test_keys_with_dots_without_end(tmp_path: Path, text: str) -> None:
    (tmp_path / "deep.toml").write_text(text, encoding="utf-8")
    for read in (read_set_up, vessels):
        refused(None, lambda read=read: read(tmp_path / "deep.toml"))
    refused(None, lambda: set_up_from_text(f"{STREET}\n{text}"))


def test_what_came_from_a_file_is_cut_and_cannot_move_the_cursor(tmp_path: Path) -> None:
    long = "w" * 5_000
    (tmp_path / "own.toml").write_text(f'["{long}\\u001b[2J"]\nname = "{long}"\nbore = "{long}"\n', encoding="utf-8")
    (tmp_path / "own.csv").write_text(f"{long}\x1b;b;c\n1;2;3\n", encoding="utf-8")
    for call in (
        lambda: vessels(tmp_path / "own.toml"),
        lambda: engines(tmp_path / "own.toml"),
        lambda: read_log(tmp_path / "own.csv", KIT_LAP),
        lambda: read_bench(tmp_path / "own.csv"),
    ):
        with pytest.raises(InputError) as caught:
            call()
        check_sentence(str(caught.value), caught.value.argument)
        assert str(caught.value).isprintable()


@pytest.mark.parametrize("blank", ["\t", "\u00a0", "\u2009", "\u202f"])
def test_a_blank_from_a_page_is_a_blank(tmp_path: Path, blank: str) -> None:
    text = f'[mine]\nname = "own"\ngas_volume = "2{blank}L"\nbore = "100{blank}mm"\nrated_pressure = "10 bar"\n'
    (tmp_path / "own.toml").write_text(text, encoding="utf-8")
    assert vessels(tmp_path / "own.toml")["mine"].gas_volume.m_as("L") == pytest.approx(2.0)
    pressure = 'precharge = "18 psi"'
    assert pressure in STREET
    build = set_up_from_text(STREET.replace(pressure, f'precharge = "12{blank}psi"'))
    assert build.choice.precharge.m_as("psig") == pytest.approx(12.0)
    assert 'precharge = "12 psi"' in build.text(), "written as a plain blank"
    refused("set-up, line 9, name", lambda: set_up_from_text(STREET.replace('name = "', 'name = "a\\nb', 1)))


@pytest.mark.parametrize(
    "typed", ["2 = L", "2, L", "2 'L", "2 L # bar", "2 & L", "2 --L", "2 $ L", '2 "L', "2 @ L", "2 –L", "2 L;"]
)  # fmt: skip
def test_what_stands_beside_a_unit_is_not_passed_over(tmp_path: Path, typed: str) -> None:
    text = '[mine]\nname = "own"\ngas_volume = "{}"\nbore = "100 mm"\nrated_pressure = "10 bar"\n'
    (tmp_path / "own.toml").write_text(text.format("2 L"), encoding="utf-8")
    assert vessels(tmp_path / "own.toml")["mine"].gas_volume.m_as("L") == pytest.approx(2.0)
    (tmp_path / "own.toml").write_text(text.format(typed.replace('"', '\\"')), encoding="utf-8")
    refused("own.toml, [mine], gas_volume", lambda: vessels(tmp_path / "own.toml"))


def test_a_nest_is_said_to_be_one(tmp_path: Path) -> None:
    for depth in (20, 300):
        text = "a = " + "[" * depth + "1" + "]" * depth
        (tmp_path / "deep.toml").write_text(text, encoding="utf-8")
        assert "nested more than" in refused("deep.toml", lambda: vessels(tmp_path / "deep.toml"))
        assert "nested more than" in refused("set-up", lambda text=text: set_up_from_text(f"{text}\n{STREET}"))
