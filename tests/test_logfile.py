"""Logs: read as they are, refused in one sentence that names the line, never mended in silence."""

from __future__ import annotations

import os
import tracemalloc
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from sentences import refused

from oilkit import KIT_LAP, Q, kit_lap, log_remarks, panels, read_log
from oilkit.laps.logfile import LARGEST, NEEDED, SORTS, Log
from oilkit.quantities.records import data_file

COLUMNS = {
    "time": ("t", "s"),
    "speed": ("v", "km/h"),
    "lateral": ("ay", "g"),
    "longitudinal": ("ax", "g"),
    "rpm": ("n", "rpm"),
}
HEAD = "t,v,ay,ax,n"
ROWS = [f"{0.1 * k:.1f},{100 + k},0.{k},-0.1,{4000 + k}" for k in range(6)]


def written(tmp_path: Path, *lines: str, name: str = "my_lap.csv") -> Path:
    path = tmp_path / name
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def test_a_plain_log(tmp_path: Path) -> None:
    log = read_log(written(tmp_path, "# a remark", HEAD, *ROWS), COLUMNS)
    assert log.time.m_as("s") == pytest.approx([0.0, 0.1, 0.2, 0.3, 0.4, 0.5])
    assert log.speed.m_as("km/hour") == pytest.approx([100, 101, 102, 103, 104, 105])
    assert log.lateral.m_as("g_0") == pytest.approx([0, 0.1, 0.2, 0.3, 0.4, 0.5])
    assert log.rpm.m_as("rpm")[-1] == pytest.approx(4005)
    assert log.pressure is None
    assert log.interval.m_as("s") == pytest.approx(0.1)
    assert log.distance.m_as("m")[-1] == pytest.approx(102.5 / 3.6 * 0.5), "the trapezoid of a straight line is exact"


def test_the_kits_own_lap_says_that_it_is_invented() -> None:
    head = data_file("lap.csv").read_text(encoding="utf-8").splitlines()
    assert "invented" in head[0].lower()
    log = kit_lap()
    assert 85 <= log.time.m_as("s")[-1] <= 95
    assert 1 / 50 <= log.interval.m_as("s") <= 1 / 20
    assert log.pressure is not None


def test_columns_in_other_units(tmp_path: Path) -> None:
    """By hand: 60 mph is 26.8224 m/s exactly, 2 bar is 200 kPa, 1 minute 60 s, 9.80665 m/s2 is 1 g."""
    rows = [f"{k / 600},{60},9.80665,0,3000,2" for k in range(5)]
    units = {
        "time": ("t", "min"), "speed": ("v", "mph"), "lateral": ("ay", "m/s²"), "longitudinal": ("ax", "m/s2"),
        "rpm": ("n", "1/min"), "pressure": ("p", "bar"),
    }  # fmt: skip
    log = read_log(written(tmp_path, HEAD + ",p", *rows), units)
    assert log.interval.m_as("s") == pytest.approx(0.1)
    assert log.speed.m_as("m/s") == pytest.approx(26.8224)
    assert log.lateral.m_as("g_0") == pytest.approx(1.0)
    assert log.pressure is not None
    assert log.pressure.m_as("kPag") == pytest.approx(200.0)


@pytest.mark.parametrize("parted", [";", "\t"])
def test_semicolons_and_decimal_commas(tmp_path: Path, parted: str) -> None:
    lines = [line.replace(",", parted).replace(".", ",") for line in (HEAD, *ROWS)]
    log = read_log(written(tmp_path, *lines), COLUMNS)
    assert log.lateral.m_as("g_0") == pytest.approx([0, 0.1, 0.2, 0.3, 0.4, 0.5])


def test_a_line_of_units_and_a_byte_order_mark_are_passed_over(tmp_path: Path) -> None:
    path = written(tmp_path, "\ufeff" + HEAD, "s,km/h,g,g,rpm", *ROWS)
    assert len(read_log(path, COLUMNS).time) == 6


BAD_FILES: list[tuple[str, list[str], str]] = [
    ("missing column", ["t,v,ay,ax,engine", *ROWS], "no column 'n' for rpm"),
    ("two of a name", ["t,v,ay,ax,n,n", *(row + ",1" for row in ROWS)], "two columns 'n'"),
    ("unsorted time", [HEAD, ROWS[0], ROWS[2], ROWS[1]], "line 4, time: got 0.1 s after 0.2 s"),
    ("twice the same time", [HEAD, ROWS[0], ROWS[1], ROWS[1]], "line 4, time: got 0.1 s after 0.1 s"),
    ("gap", [HEAD, *ROWS, "9.0,100,0,0,4000"], "line 8, time: got a gap of 8.5 s"),
    ("nan", [HEAD, *ROWS[:3], "0.3,nan,0,0,4000"], "line 5, speed: got “nan”"),
    ("infinite", [HEAD, *ROWS[:3], "0.3,100,inf,0,4000"], "line 5, lateral: got “inf”"),
    ("text", [HEAD, *ROWS[:3], "0.3,fast,0,0,4000"], "line 5, speed: got “fast”"),
    ("empty cell", [HEAD, *ROWS[:3], "0.3,100,,0,4000"], "line 5, lateral: got nothing"),
    ("short line", [HEAD, *ROWS[:3], "0.3,100"], "line 5, lateral: got nothing"),
    ("wrong unit of g", [HEAD, *ROWS[:3], "0.3,100,9.8,0,4000"], "line 5, lateral: got 9.8 g"),
    ("wrong unit of speed", [HEAD, *ROWS[:3], "0.3,900,0,0,4000"], "line 5, speed: got 900 km/h"),
    ("wrong unit of time", [HEAD, *(f"{100 * k},100,0,0,4000" for k in range(5))], "samples 100 s apart"),
    ("only a head", [HEAD], "column names and no samples"),
    ("two samples", [HEAD, *ROWS[:2]], "2 samples"),
    ("only comments", ["# nothing", "# here"], "nothing but comments"),
    ("not text", [HEAD, "\0\0\0\0"], "not text"),
    ("decimal commas between commas", [HEAD, '"0,1",100,0,0,4000'], "line 2, time: got “0,1”"),
    ("underscore", [HEAD, *ROWS[:3], "0.3,1_0,0,0,4000"], "got “1_0”"),
]


@pytest.mark.parametrize(("lines", "part"), [case[1:] for case in BAD_FILES], ids=[case[0] for case in BAD_FILES])
def test_bad_files(tmp_path: Path, lines: list[str], part: str) -> None:
    assert part in refused(None, lambda: read_log(written(tmp_path, *lines), COLUMNS))


@pytest.mark.parametrize(
    "name", ["missing column", "unsorted time", "gap", "nan", "text", "wrong unit of g", "only a head"]
)
def test_a_bad_log_loses_nothing_in_the_panel(tmp_path: Path, name: str) -> None:
    path = written(tmp_path, *next(lines for case, lines, _ in BAD_FILES if case == name))
    panel = panels.own_log()
    before = (panel.readout, panel.png)
    text = "\n".join([f"file = {path}", *(f"{key} = {column}, {unit}" for key, (column, unit) in COLUMNS.items())])
    panel.controls["log"].area.value = text
    assert "got " in panel.controls["log"].error
    assert panel.errors == []
    assert (panel.readout, panel.png) == before
    written(tmp_path, HEAD, *ROWS)
    panel.controls["share"].slider.value = 0.6  # the file has been mended meanwhile
    assert panel.controls["log"].error == ""
    assert panel.readout["samples"] == "6"


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("", "no file"),
        ("file = lap.csv\nfoo = a, b", "“foo” in line 2"),
        ("file = lap.csv\ntime = time", "column and unit"),
        ("file = lap.csv\nnonsense", "“nonsense” in line 2"),
        ("file = lap.csv\ntime = time, s", "no column for speed"),
        ("file = nowhere.csv\n", "no column for time"),
    ],
)
def test_bad_settings_are_answered_beside_the_box(text: str, part: str) -> None:
    panel = panels.own_log()
    panel.controls["log"].area.value = text
    assert part in panel.controls["log"].error
    assert panel.errors == []


def test_no_file_a_folder_and_an_empty_file(tmp_path: Path) -> None:
    assert "no such file" in refused("none.csv", lambda: read_log(tmp_path / "none.csv", COLUMNS))
    assert "folder" in refused(None, lambda: read_log(tmp_path, COLUMNS))
    (tmp_path / "empty.csv").touch()
    assert "an empty file" in refused("empty.csv", lambda: read_log(tmp_path / "empty.csv", COLUMNS))


@pytest.mark.parametrize(
    ("columns", "part"),
    [
        (COLUMNS | {"speed": ("v", "knots")}, "the unit 'knots'"),
        (COLUMNS | {"time": ("t", "rpm")}, "the unit 'rpm'"),
        (COLUMNS | {"speed": ("t", "m/s")}, "'t', as for time"),
        (COLUMNS | {"gear": ("g", "")}, "'gear'"),
        (COLUMNS | {"speed": "v"}, "'v'"),
        ({k: v for k, v in COLUMNS.items() if k != "rpm"}, "no column for rpm"),
    ],
)
def test_bad_columns(tmp_path: Path, columns: Any, part: str) -> None:
    assert part in refused(None, lambda: read_log(written(tmp_path, HEAD, *ROWS), columns))


def test_500_megabytes_are_refused_at_once_and_cost_no_memory(tmp_path: Path) -> None:
    """A sparse file: 500 MB by its size, nearly nothing on the disk."""
    path = written(tmp_path, HEAD, *ROWS)
    os.truncate(path, 500_000_000)
    tracemalloc.start()
    sentence = refused("my_lap.csv", lambda: read_log(path, COLUMNS))
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert "500 MB" in sentence
    assert f"{LARGEST / 1e6:.0f} MB" in sentence
    assert most < 1_000_000


@pytest.mark.thorough
def test_a_long_log_is_read_in_little_memory_and_tells_its_progress(tmp_path: Path) -> None:
    """60 000 lines with a long cell that nobody wants: only the numbers stay in memory (8 bytes each, and copies)."""
    waste = "x" * 200
    rows = (f"{0.01 * k:.2f},100,0.1,0.1,4000,{waste}" for k in range(60_000))
    path = written(tmp_path, HEAD + ",note", *rows)
    told: list[float] = []
    tracemalloc.start()
    log = read_log(path, COLUMNS, told.append)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert len(log.time) == 60_000
    assert most < 60_000 * 8 * 40 < path.stat().st_size * 2
    assert told == sorted(told)
    assert len(told) >= 10
    assert told[-1] == 1.0


def test_the_progress_bar_waits_half_a_second(monkeypatch: pytest.MonkeyPatch) -> None:
    from oilkit.panels.lessons import lesson_07_car

    now = [10.0]
    monkeypatch.setattr(lesson_07_car.time, "monotonic", lambda: now[0])
    bar = lesson_07_car.Progress("reading")
    with bar:
        now[0] = 10.4
        bar(0.3)
        assert bar.layout.display == "none"
        now[0] = 10.6
        bar(0.5)
        assert bar.layout.display == ""
    assert bar.layout.display == "none"
    bar.close()


# ----------------------------------------------------------------------------------------- what a log cannot tell you


def made(interval: float = 0.02, sign: float = 1.0, factor: float = 1.0) -> Log:
    """A car that gains and loses speed as a sine, acceleration by its derivative; every sensor is alive."""
    time = np.arange(0.0, 20.0, interval)
    speed, gain = 30.0 + 5.0 * np.sin(time), 5.0 * np.cos(time)
    fields = {
        "time": time, "speed": speed, "lateral": np.sin(2.0 * time), "longitudinal": sign * factor * gain,
        "rpm": 2.0 * speed, "pressure": 1e4 * speed,
    }  # fmt: skip
    return Log(source="made", **{name: Q(values, SORTS[name].kind.si) for name, values in fields.items()})


def test_remarks_on_a_slow_log_and_a_blind_sensor() -> None:
    assert log_remarks(made(0.02)) == []
    assert log_remarks(made(0.02), Q(0.05, "s"))[0].startswith("One sample in 20 ms: too slow for a dip of 50 ms")
    for place in ("pump", "vessel"):
        assert "sensor" in log_remarks(made(), sensor=place)[0]
    refused("sensor", lambda: log_remarks(made(), sensor="boot"))
    refused("dip", lambda: log_remarks(made(), dip=Q(1, "psi")))


def test_remarks_on_a_sign_and_a_unit_that_disagree_with_the_speed() -> None:
    assert "sign" in log_remarks(made(sign=-1.0))[0]
    assert "9.8 times" in log_remarks(made(factor=9.80665))[0]
    assert not any("sign" in remark or "times" in remark for remark in log_remarks(kit_lap()))


def test_every_needed_column_is_asked_for(tmp_path: Path) -> None:
    assert set(NEEDED) == set(COLUMNS)
    assert set(KIT_LAP) == set(SORTS)


def spoiled(**columns: Any) -> Log:
    """`made` with some columns changed by a function of time and of the column, in SI."""
    log = made()
    si = log.si
    new = {name: Q(change(si["time"], si[name]), SORTS[name].kind.si) for name, change in columns.items()}
    return replace(log, **new)


@pytest.mark.parametrize(
    ("name", "still", "part"),
    [
        ("rpm", lambda t, x: np.full_like(t, 60.0), "Engine speed stands at 3600 rpm for 20.0 s"),
        ("rpm", lambda t, x: np.where(t > 12.0, 70.0, x), "Engine speed stands at 4200 rpm for 8.0 s from 12.0 s on"),
        ("pressure", lambda t, x: np.zeros_like(t), "Measured oil pressure stands at 0.0 psig"),
        ("lateral", lambda t, x: np.zeros_like(t), "Lateral acceleration stands at 0.00 g for 20.0 s"),
        ("longitudinal", lambda t, x: np.where(t > 10.0, 1.0, x), "Longitudinal acceleration stands at 0.10 g"),
    ],
)
def test_a_sensor_that_stands_still_while_the_speed_changes(name: str, still: Any, part: str) -> None:
    remarks = log_remarks(spoiled(**{name: still}))
    assert any(part in remark and "check that sensor" in remark for remark in remarks), remarks


def test_a_speed_that_stands_still_against_the_acceleration() -> None:
    frozen = spoiled(speed=lambda t, x: np.where(t < 14.0, x[0], x), longitudinal=lambda t, x: x + 2.0)
    assert any("Vehicle speed stands at" in remark and "14.0 s" in remark for remark in log_remarks(frozen))
    cruising = spoiled(speed=lambda t, x: np.full_like(t, 20.0), longitudinal=lambda t, x: 0.05 * np.sin(t))
    assert not any("stands at" in remark for remark in log_remarks(cruising)), "the other columns live on"


def test_a_sensor_may_stand_still_where_nothing_happens() -> None:
    straight = spoiled(lateral=lambda t, x: np.where(t < 8.0, 0.0, x))
    assert log_remarks(straight) == [], "a straight is no broken sensor"
    assert not any("stands at" in remark for remark in log_remarks(kit_lap()))


@pytest.mark.parametrize(
    ("factor", "part"),
    [
        (14.5038, "14.5 times"),
        (1 / 14.5038, "1/14.5 of"),
        (6.89476, "6.89 times"),
        (0.01, "1/100 of"),
        (100.0, "100 ti"),
    ],
)
def test_a_pressure_in_another_unit(factor: float, part: str) -> None:
    """By hand: 1 bar is 14.5038 psi and 100 kPa. A pick-up that starves half the time hides nothing of it."""
    log = made()
    full = Q(3e5 * np.ones(log.time.size), "Pag")
    wrong = replace(log, pressure=Q(3e5 * factor * np.where(np.sin(log.si["time"]) > 0.0, 1.0, 0.1), "Pag"))
    (remark,) = [r for r in log_remarks(wrong, expected=full) if "oil pressure is" in r]
    assert part in remark
    assert "check its unit" in remark
    for fine in (0.6, 1.0, 1.6):
        right = replace(log, pressure=Q(3e5 * fine * (1.0 + 0.01 * np.sin(log.si["time"])), "Pag"))
        assert log_remarks(right, expected=full) == []
    refused("expected", lambda: log_remarks(log, expected=full[:5]))


def test_a_speed_in_another_unit() -> None:
    """By hand: a mile is 1.609344 km."""
    slow = spoiled(speed=lambda t, x: x / 1.609344)
    assert "1.6 times what the speed says, as where mph are named as km/h" in log_remarks(slow)[0]
    assert "km/h are named as mph" in log_remarks(spoiled(speed=lambda t, x: x * 1.609344))[0]


def test_left_and_right_are_for_the_driver_to_check() -> None:
    """No other column knows left from right, so the hardest corner is named, for whoever was there."""
    for way, word in ((1.0, "left"), (-1.0, "right")):
        turned = spoiled(lateral=lambda t, x, way=way: way * 8.0 * np.exp(-((t - 5.0) ** 2)))
        (remark,) = log_remarks(turned)
        assert f"at 5.0 s it says {word} with 0.82 g, so check that this corner goes {word}" in remark


def test_remarks_stand_beside_the_result_in_the_panel(tmp_path: Path) -> None:
    lines = [line for line in data_file("lap.csv").read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    rows = [line.split(",") for line in lines[1:]]
    path = written(tmp_path, lines[0], *(",".join([*r[:4], "4500", f"{float(r[5]) / 14.5:.2f}"]) for r in rows))
    panel = panels.own_log()
    panel.controls["log"].area.value = panel.controls["log"].value.replace("lap.csv", str(path))
    assert panel.errors == []
    words = panel.summary(panel.state)
    assert "Engine speed stands at 4500 rpm" in words
    assert "bar are named as psi" in words
