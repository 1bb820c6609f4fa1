"""Set-up files: read strictly, kept to the digit, written whole or not at all; and 2 000 broken ones."""

from __future__ import annotations

import contextlib
import os
import re
import stat
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from randomly import examples
from sentences import refused

import oilkit
from oilkit import InputError, Q, read_set_up, write_set_up
from oilkit.build.as_typed import amount, typed
from oilkit.build.records import LISTS, TABLES
from oilkit.build.setup_file import LARGEST, demo_set_ups, set_up_from_bytes, set_up_from_text
from oilkit.laps.logfile import KIT_LAP, read_log
from oilkit.quantities.records import data_file, values_in

STREET = data_file("setup_street_v8.toml").read_text(encoding="utf-8")
LINES = STREET.splitlines()
READINGS = """
[readings]
gauge_full_scale = "100 psi"
gauge_class = 1.6
thermometer_error = "5 degF"

[readings.hot_idle]
pressure = "15 psi"
speed = "700 rpm"
oil_temperature = "230 degF"

[readings.relief_seen]
pressure = "61 psi"
speed = "5000 rpm"
oil_temperature = "100 degC"

[readings.demand]
flow = "1.9 gpm"
within = "0.5 L/min"
pressure = "40 psi"
speed = "0 rpm"
oil_temperature = "230 degF"
"""
KEYS = [number for number, line in enumerate(LINES) if re.match(r"\w+ = ", line)]
TRIED = examples(int(os.environ.get("OILKIT_FUZZ", "500")))


def changed(old: str, new: str, count: int = 1) -> str:
    assert old in STREET, old
    return STREET.replace(old, new, count)


# ----------------------------------------------------------------------------------------------------------- good ones


def test_the_kits_own_file_says_that_it_is_invented() -> None:
    assert "invented" in STREET.splitlines()[0]
    build = read_set_up(data_file("setup_street_v8.toml"))
    assert build.choice.precharge.m_as("psig") == pytest.approx(18.0)
    assert build.events[1].acceleration.m_as("g_0") == pytest.approx(-1.0)
    assert build.engine == oilkit.engines()["street_v8"], "the same engine as in engines.toml"
    assert len(build.installation.line.fittings) == 2, "the valve is among them"


@pytest.mark.parametrize("name", sorted(demo_set_ups()))
def test_round_trip_keeps_every_text_as_it_was_typed(name: str, tmp_path: Path) -> None:
    build = demo_set_ups()[name]
    write_set_up(build, tmp_path / "mine.toml")
    again = read_set_up(tmp_path / "mine.toml")
    assert again.document == build.document
    assert again.text() == build.text()
    for key in TABLES:
        assert getattr(again, key) == getattr(build, key)
    assert (again.events, again.fittings) == (build.events, build.fittings)


@pytest.mark.parametrize("typed_as", ["18.000 psi", "1.25 bar", "124 kPa", "18 psig", "18,0 psi", "1.8e1 psi"])
def test_what_was_typed_stays_typed(typed_as: str) -> None:
    build = set_up_from_text(changed('precharge = "18 psi"', f'precharge = "{typed_as}"'))
    assert f'precharge = "{typed_as}"' in build.text()
    assert build.choice.precharge.m_as("psig") == pytest.approx(18.0, rel=0.01)


def test_awkward_names_come_back_as_they_are() -> None:
    awkward = 'a "quoted" \\ name, ünïcode, 机油 # = [x]'
    build = demo_set_ups()["street V8"].changed({"name": awkward, "vessel.name": awkward})
    again = set_up_from_text(build.text())
    assert (again.name, again.vessel.name) == (awkward, awkward)


def test_an_engine_of_the_data_file_is_typed_in_the_unit_it_came_in() -> None:
    small = typed(oilkit.engines()["small_four"])
    assert small["mains"]["diameter"] == "50 mm"
    assert small["wanted"] == "55 psig"
    for kind, value, text in (
        (oilkit.quantities.kinds.GAUGE, Q(10, "psig"), "10 psig"),
        (oilkit.quantities.kinds.BORE, Q(19.05, "mm"), "0.75 in"),
        (oilkit.quantities.kinds.TEMPERATURE, Q(20, "degC"), "68 degF"),
        (oilkit.quantities.kinds.RISE, Q(15, "delta_degC"), "27 degF"),
        (oilkit.quantities.kinds.COUNT, 5.0, 5),
        (oilkit.quantities.kinds.FRACTION, 0.125, 0.125),
    ):
        assert amount(value, kind) == text


def test_changes_by_path() -> None:
    street = demo_set_ups()["street V8"]
    other = street.changed({
        "choice.precharge": Q(1, "barg"), "driving.events 2.lasts": "3 s", "fittings 1.loss_coefficient": 2,
        "engine.mains.count": 7, "oil": oilkit.lubricants()["thick"], "uncertain.event_length": Q(30, "percent"),
    })  # fmt: skip
    assert other.choice.precharge.m_as("barg") == pytest.approx(1.0)
    assert other.events[1].lasts.m_as("s") == pytest.approx(3.0)
    assert other.fittings[0].loss_coefficient.m == 2.0
    assert other.engine.mains.count.m == 7.0
    assert other.oil == oilkit.lubricants()["thick"]
    assert other.uncertain.event_length.m == pytest.approx(0.3)
    assert street.events[1].lasts.m_as("s") == pytest.approx(2.0), "the first one stays"
    refused("changes", lambda: street.changed({"choice.nothing.here": "1 psi"}))
    refused("changes", lambda: street.changed({"driving.events 9.lasts": "1 s"}))
    refused("the set-up, [choice]", lambda: street.changed({"choice.prechrge": "1 psi"}))
    refused("the set-up, [choice], precharge", lambda: street.changed({"choice.precharge": "-1 psi"}))


def test_readings_come_back_as_they_were_typed() -> None:
    build = set_up_from_text(STREET + READINGS)
    assert build.readings is not None
    assert build.readings.cold_idle is None
    assert build.readings.demand.within.m_as("L/min") == pytest.approx(0.5)
    again = set_up_from_text(build.text())
    assert (again.document, again.readings) == (build.document, build.readings)
    assert "cold_idle" not in build.text()
    assert set_up_from_text(STREET).readings is None
    assert "readings" not in set_up_from_text(STREET).text()
    other = build.changed({"readings.hot_idle.pressure": Q(1.5, "barg")})
    assert other.readings.hot_idle.pressure.m_as("barg") == pytest.approx(1.5)


@pytest.mark.parametrize(
    ("old", "new", "place", "part"),
    [
        ('pressure = "15 psi"', 'pressure = "15"', "[readings.hot_idle], pressure", "'15' without a unit"),
        ('pressure = "15 psi"', 'pressure = "120 psi"', "[readings.hot_idle], pressure", "full scale of 100.0 psig"),
        ('pressure = "15 psi"\n', "", "[readings.hot_idle], pressure", "nothing"),
        ('speed = "700 rpm"', 'speed = "0 rpm"', "[readings.hot_idle], speed", "0 rpm"),
        ("[readings.hot_idle]", "[readings.warm_idle]", "[readings]", "the unknown key warm_idle"),
        ("[readings.hot_idle]", "[[readings.hot_idle]]", "[readings", "[{"),
        ("gauge_class = 1.6", "gauge_class = 16", "[readings], gauge_class", "16"),
        ("gauge_class = 1.6\n", "", "[readings], gauge_class", "nothing"),
        ('within = "0.5 L/min"', 'within = "0 L/min"', "[readings.demand], within", "0.00 gpm"),
    ],
)
def test_bad_readings_are_refused_in_one_sentence(old: str, new: str, place: str, part: str) -> None:
    assert old in READINGS
    sentence = refused(None, lambda: set_up_from_text(STREET + READINGS.replace(old, new, 1), "my.toml"))
    assert place in sentence.split(": got ")[0], sentence
    assert part in sentence, sentence


# ------------------------------------------------------------------------------------------------------------ bad ones

BAD = [
    ('format = "oilkit set-up"', 'format = "oilkit bench"', "line 7, format", "format = 'oilkit bench'"),
    ('format = "oilkit set-up"\n', "", "format", "no line with a format"),
    ("version = 1", "version = 2", "line 8, version", "from a newer oilkit"),
    ("version = 1", "version = 2\nunheard_of = 7", "line 8, version", "from a newer oilkit"),
    ("version = 1", "version = true", "line 8, version", "True"),
    ("version = 1", 'version = "1"', "line 8, version", "'1'"),
    ("version = 1", "version = 0", "line 8, version", "0"),
    ("version = 1", "version = 1.0", "line 8, version", "1.0"),
    ("version = 1\n", "", "version", "no version"),
    ("version = 1", "version = 1\ncolour = 3", "line 9", "the unknown key colour"),
    ('bore = "4.5 in"', 'bore = "4.5"', "[vessel], bore", "'4.5' without a unit"),
    ('bore = "4.5 in"', "bore = 4.5", "[vessel], bore", "4.5 without a unit"),
    ('bore = "4.5 in"', 'bore = "4.5 psi"', "[vessel], bore", "a pressure that does not say"),
    ('bore = "4.5 in"', 'bore = "-4.5 in"', "[vessel], bore", "-4.50 in"),
    ('bore = "4.5 in"', 'bore = "nan in"', "[vessel], bore", "“nan in”"),
    ('bore = "4.5 in"', 'bore = "1e999 in"', "[vessel], bore", "an infinite number"),
    ('bore = "4.5 in"', 'bore = "4,500 in"', "[vessel], bore", "two things"),
    ('bore = "4.5 in"', 'bore = "4.5 in"\nbore = "5 in"', "bore", "Cannot overwrite"),
    ('bore = "4.5 in"', 'bore = "4.5 in', "bore", "not TOML"),
    ('bore = "4.5 in"', 'bore = "__import__(\'os\').system(\'x\') in"', "[vessel], bore", "__import__"),
    ('bore = "4.5 in"', 'bore = "4.5 in**9**9**9**9"', "[vessel], bore", "a unit the kit does not know"),
    ('bore = "4.5 in"', 'bore = "4 1/2""', "bore", "the inch mark"),
    ('bore = "4.5 in"', 'bore = "4.5" bore"', "bore", "the inch mark"),
    ('bore = "4.5 in"', "", "[vessel], bore", "nothing"),
    ('bore = "4.5 in"', 'boor = "4.5 in"', "[vessel]", "the unknown key boor"),
    ("count = 5", "count = 5.5", "[engine], mains.count", "5.5"),
    ("count = 5", "count = true", "[engine.mains], count", "True"),
    ("count = 5", 'count = "5"', "[engine.mains], count", "'5'"),
    ("count = 5", "count = " + "9" * 5000, "my.toml", "a number or a nest without end"),
    ("count = 5", "count = 0x" + "F" * 5000, "engine.mains.count", "more than 64 bits"),
    ("count = 5", "count = 1e400", "[engine.mains], count", "inf"),
    ('feed = "half groove"', 'feed = "groove"', "[engine.mains], feed", "'groove'"),
    ('redline = "6000 rpm"', 'redline = "600 rpm"', "[engine], redline", "600 rpm"),
    ('grade = "10W-30"', 'grade = "10W-60"', "[oil], viscosity_100", "10.60 cSt"),
    ("[shop]", "[garage]", "line", "the unknown key garage"),
    ("[[fittings]]", "[fittings]", "[fittings]", "{"),
    ("[[driving.events]]", "[[driving.happenings]]", "[driving]", "happenings"),
    ('lasts = "4.5 s"', 'lasts = "0 s"', "[driving.events 1], lasts", "0.00 s"),
    ('speed = "2200 rpm"', 'speed = "0 rpm"', "[driving.events 3], speed", "0 rpm"),
    ('clearance_change = "0 thou"', 'clearance_change = "-2.45 thou"', "[driving], clearance_change", "-2.45 thou"),
    ('clearance = "0.3 thou"', 'clearance = "-0.3 thou"', "[uncertain], clearance", "-0.30 thou"),
    ("gauge_class = 1.6", "gauge_class = 16", "[shop], gauge_class", "16"),
    ('length = "6 ft"', 'length = "0 ft"', "[line], length", "0.0 ft"),
    ('tee = "after the filter"', 'tee = "somewhere"', "[line], tee", "'somewhere'"),
    ('name = "hard braking"\n', "", "[driving.events 2]", "no name"),
    ('name = "hard braking"', 'name = "hard\\nbraking"', "driving.events 2", "hard"),
    ('name = "hard braking"', f'name = "{"x" * 300}"', "driving.events 2", "xxx"),
    ('name = "hard braking"', "name = 7", "[driving.events 2], name", "7"),
    ("[choice]\nprecharge", "choice = 3\n[x]\nprecharge", "line", "the unknown key x"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "place", "part"), BAD, ids=range(len(BAD)))
def test_a_bad_file_is_refused_in_one_sentence_and_stays_as_it_was(
    tmp_path: Path, old: str, new: str, place: str, part: str
) -> None:
    path = tmp_path / "my.toml"
    path.write_text(changed(old, new), encoding="utf-8")
    before = path.read_bytes(), path.stat().st_mtime_ns
    sentence = refused(None, lambda: read_set_up(path))
    assert sentence.startswith("my.toml"), sentence
    assert place in sentence.split(": got ")[0], sentence
    assert part in sentence, sentence
    assert (path.read_bytes(), path.stat().st_mtime_ns) == before
    assert [p.name for p in tmp_path.iterdir()] == ["my.toml"]


def test_the_line_is_the_one_where_it_stands() -> None:
    for number in KEYS:
        key = LINES[number].split(" = ")[0]
        if key in ("format", "version"):
            continue
        lines = [*LINES[:number], f"{key} = [1]", *LINES[number + 1 :]]
        sentence = refused(None, lambda lines=lines: set_up_from_text("\n".join(lines), "f"))
        assert sentence.startswith(f"f, line {number + 1}"), (LINES[number], sentence)
        assert key in sentence


def test_every_missing_line_is_missed() -> None:
    """No key has a default in silence but the notes."""
    for number in KEYS:
        key, _, value = LINES[number].partition(" = ")
        text = "\n".join([*LINES[:number], *LINES[number + 1 :]])
        if key == "note":
            set_up_from_text(text)
            continue
        sentence = refused(None, lambda text=text: set_up_from_text(text, "f"))
        assert key in sentence, (key, value, sentence)


@pytest.mark.parametrize(
    ("content", "part"),
    [
        (b"", "no line with a format"),
        (b"\xff\xfe\x00b", "not UTF-8"),
        (STREET.encode().replace(b"invented", b"\xe9", 1), "not UTF-8"),
        (b"\0" * 100, "not TOML"),
        (b"[" * 5000, "not TOML"),
        (b"a = " + b"[" * 50_000, "not TOML"),
        (b"x" * (LARGEST + 1), "more than 200 kB"),
        (STREET.encode("utf-16"), "not UTF-8"),
        (b'format = "oilkit set-up"\nversion = 1\nname = "x"\n', "no table [engine]"),
        (b'format = "oilkit set-up"\nversion = 1\n', "nothing"),
        (b"\xef\xbb\xbf" + b'format = "else"\n', "else"),
    ],
    ids=range(11),
)
def test_what_is_no_set_up_at_all(tmp_path: Path, content: bytes, part: str) -> None:
    path = tmp_path / "my.toml"
    path.write_bytes(content)
    assert part in refused(None, lambda: read_set_up(path))
    assert path.read_bytes() == content


def test_files_that_are_no_files(tmp_path: Path) -> None:
    assert "no such file" in refused("nothing.toml", lambda: read_set_up(tmp_path / "nothing.toml"))
    assert "a folder" in refused(tmp_path.name, lambda: read_set_up(tmp_path))
    refused(None, lambda: read_set_up("a\0b.toml"))
    refused(None, lambda: read_set_up(""))
    if hasattr(os, "mkfifo"):
        os.mkfifo(tmp_path / "pipe.toml")
        assert "device" in refused("pipe.toml", lambda: read_set_up(tmp_path / "pipe.toml"))


def test_a_byte_order_mark_and_windows_line_ends_are_no_mistake() -> None:
    content = b"\xef\xbb\xbf" + STREET.replace("\n", "\r\n").encode()
    assert set_up_from_bytes(content, "f").document == set_up_from_text(STREET).document


# ------------------------------------------------------------------------------------------------------------- writing


class FullDisk(OSError):
    def __init__(self) -> None:
        super().__init__(28, "No space left on device")


@pytest.mark.parametrize("step", ["open", "write", "flush", "fsync", "replace"])
@pytest.mark.parametrize("there", [True, False])
def test_a_full_disk_or_a_crash_leaves_no_part_of_a_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str, there: bool
) -> None:
    path, build = tmp_path / "mine.toml", demo_set_ups()["street V8"]
    if there:
        path.write_text(STREET, encoding="utf-8")

    def full(*args: Any, **kwargs: Any) -> Any:
        raise FullDisk

    if step == "open":
        monkeypatch.setattr("oilkit.storage.saving.tempfile.mkstemp", full)
    elif step in ("write", "flush"):
        real = os.fdopen

        def opened(*args: Any, **kwargs: Any) -> Any:
            handle = real(*args, **kwargs)

            class Handle:
                def __enter__(self) -> Any:
                    return self

                def __exit__(self, *rest: Any) -> None:
                    handle.close()

                def __getattr__(self, name: str) -> Any:
                    return full if name == step else getattr(handle, name)

                def write(self, content: bytes) -> int:
                    if step == "write":
                        handle.write(content[:100])  # the disk fills up in the middle
                        raise FullDisk
                    return int(handle.write(content))

            return Handle()

        monkeypatch.setattr("oilkit.storage.saving.os.fdopen", opened)
    elif step == "fsync":
        monkeypatch.setattr("oilkit.storage.saving.os.fsync", full)
    else:
        monkeypatch.setattr(Path, "replace", full)
    sentence = refused("mine.toml", lambda: write_set_up(build.changed({"choice.precharge": "9 psi"}), path))
    assert "No space left" in sentence
    assert [p.name for p in tmp_path.iterdir()] == (["mine.toml"] if there else [])
    if there:
        assert path.read_text(encoding="utf-8") == STREET


def test_saving_keeps_what_is_not_its_own(tmp_path: Path) -> None:
    build = demo_set_ups()["street V8"]
    for name, content in (
        ("newer.toml", STREET.replace("version = 1", "version = 2")),
        ("notes.toml", "my notes"),
        ("broken.toml", STREET.replace('"4.5 in"', '"4.5"')),
    ):
        path = tmp_path / name
        path.write_text(content, encoding="utf-8")
        assert "not a set-up" in refused(name, lambda path=path: write_set_up(build, path))
        assert path.read_text(encoding="utf-8") == content
        write_set_up(build, path, overwrite=True)
        assert read_set_up(path).document == build.document
    refused(tmp_path.name, lambda: write_set_up(build, tmp_path))
    path = tmp_path / "mine.toml"
    write_set_up(build, path)
    path.chmod(0o640)
    write_set_up(build.changed({"choice.precharge": "9 psi"}), path)
    assert read_set_up(path).choice.precharge.m_as("psig") == pytest.approx(9.0)
    assert stat.S_IMODE(path.stat().st_mode) == 0o640 or os.name == "nt"


def test_a_folder_that_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    assert "cannot be written" in refused(
        "mine.toml", lambda: write_set_up(demo_set_ups()["street V8"], tmp_path / "file" / "mine.toml")
    )


# ---------------------------------------------------------------------------------- 2 000 broken ones, 500 of each sort

ODD_VALUES = st.sampled_from([
    '""', '"10"', '"10 psi"', '"10 furlong"', '"-1 in"', '"1e400 m"', '"nan psi"', '"inf s"', '"0 in"', '"1 m**99"',
    '"((((m"', '"9 psi*9**9**9"', '"5 %"', '"five psi"', '"1,000 psi"', '"10 °C"', '"1 psia"', "true", "1e308", "-1",
    "0", "nan", "inf", "-inf", "1e999", "9" * 30, "9" * 6000, "0x" + "F" * 300, "[1, 2]", "[[]]", "{}", "0.5", "1_000",
    '{bore = "1 in"}', "1979-05-27", "07:32:00", "1979-13-45", "'''x\ny'''", '"a\\u0000b"', '"\\x"', "",
    '"' + "y" * 5000 + '"', '"10 psi" "x"',
])  # fmt: skip
ANY_TEXT = st.text(max_size=60)
BREAKS = st.one_of(
    st.tuples(st.just("value"), st.sampled_from(KEYS), ODD_VALUES),
    st.tuples(st.just("value"), st.sampled_from(KEYS), ANY_TEXT.map(lambda t: f'"{t}"')),
    st.tuples(st.just("value"), st.sampled_from(KEYS), st.floats().map(repr)),
    st.tuples(st.just("drop"), st.sampled_from(range(len(LINES))), st.just("")),
    st.tuples(st.just("double"), st.sampled_from(range(len(LINES))), st.just("")),
    st.tuples(st.just("insert"), st.sampled_from(range(len(LINES))), ANY_TEXT),
    st.tuples(
        st.just("insert"), st.sampled_from(range(len(LINES))), st.sampled_from(["[engine]", "[x]", "[[fittings]]"])
    ),
    st.tuples(st.just("cut"), st.integers(0, len(STREET)), st.just("")),
)


def broken(text: str, steps: list[tuple[str, int, str]]) -> str:
    lines = text.splitlines()
    for what, place, new in steps:
        if what == "cut":
            text = "\n".join(lines)
            lines = (text[:place] if place % 2 else text[place % 97 :]).splitlines()
        elif place >= len(lines):
            continue
        elif what == "value":
            lines[place] = f"{lines[place].partition(' = ')[0]} = {new}"
        elif what == "drop":
            del lines[place]
        else:
            lines.insert(place, lines[place] if what == "double" else new)
    return "\n".join(lines)


def read_or_refused(text: str) -> Any:
    """A set-up that saves to the same meaning, or one sentence."""
    try:
        build = set_up_from_text(text, "f.toml")
    except InputError as problem:
        sentence = str(problem)
        assert sentence.startswith("f.toml"), sentence
        assert "\n" not in sentence
        assert len(sentence) < 700, sentence
        return None
    again = set_up_from_text(build.text(), "f.toml")
    assert again.document == build.document
    for key in [*TABLES, "events", "fittings"]:
        assert getattr(again, key) == getattr(build, key)
    return build


@TRIED
@given(st.lists(BREAKS, min_size=1, max_size=4))
def test_broken_set_up_files(steps: list[tuple[str, int, str]]) -> None:
    read_or_refused(broken(STREET, steps))


@TRIED
@given(st.sampled_from(KEYS), st.one_of(ODD_VALUES, st.floats().map(repr), ANY_TEXT.map(lambda t: f'"{t}"')))
def test_a_wrong_value_is_never_replaced_by_a_usual_one(place: int, value: str) -> None:
    """If the file is taken, what was typed is what counts: the text is kept and read, or the file is refused."""
    build = read_or_refused(broken(STREET, [("value", place, value)]))
    if build is None:
        return
    usual, now = (dict(values_in("", b.document)) for b in (set_up_from_text(STREET), build))
    different = [key for key in [*usual, *now] if usual.get(key) != now.get(key)]
    same_as_before = value.strip() == LINES[place].partition(" = ")[2]
    assert len(set(different)) == 1 or same_as_before or usual == now, different
    for key in set(different):
        assert key.rpartition(".")[2] == LINES[place].partition(" = ")[0]


@TRIED
@given(st.one_of(st.text(max_size=400), st.binary(max_size=400)))
def test_random_text_is_no_set_up(content: Any) -> None:
    with contextlib.suppress(InputError):
        raw = content if isinstance(content, bytes) else content.encode("utf-8", errors="surrogatepass")
        set_up_from_bytes(raw, "f.toml")
        raise AssertionError("taken for a set-up")


LAP = data_file("lap.csv").read_text(encoding="utf-8").splitlines()[:60]
ODD_CELLS = st.sampled_from(
    ["", "x", "nan", "inf", "-1e9", "1e999", "1,5", "1_0", '"', "\0", "0", "9" * 400, "--1", "1 000", "½"]
)


@TRIED
@given(
    st.lists(
        st.tuples(
            st.integers(0, len(LAP) - 1), st.integers(0, 7), st.one_of(ODD_CELLS, ANY_TEXT), st.sampled_from("cdix")
        ),
        min_size=1,
        max_size=4,
    )
)
def test_broken_logs(tmp_path_factory: pytest.TempPathFactory, breaks: list[tuple[int, int, str, str]]) -> None:
    lines = list(LAP)
    for place, cell, new, what in breaks:
        if place >= len(lines):
            continue
        cells = lines[place].split(",")
        if what == "c" and cell < len(cells):
            lines[place] = ",".join([*cells[:cell], new, *cells[cell + 1 :]])
        elif what == "d":
            del lines[place]
        elif what == "i":
            lines.insert(place, new)
        else:
            lines[place] = lines[place][: cell * 3]
    path = tmp_path_factory.getbasetemp() / "fuzzed.csv"
    path.write_bytes("\n".join(lines).encode("utf-8", errors="surrogatepass"))
    before = path.read_bytes()
    try:
        log = read_log(path, KIT_LAP)
    except InputError as problem:
        sentence = str(problem)
        if not sentence.startswith("fuzzed.csv") or "\n" in sentence:
            raise AssertionError(sentence) from None
        return
    finally:
        assert path.read_bytes() == before
    samples = [line for line in lines if line.strip() and not line.startswith("#")]
    told = re.search(r"(\d+) lines above the names", " ".join(log.assumed))
    above = int(told[1]) if told else 0
    assert len(log.time) + above in (len(samples) - 1, len(samples) - 2), "none was passed over but names and units"


def test_lists_and_tables_are_all_known() -> None:
    assert set(LISTS) == {"fittings", "driving.events"}
    assert {line.strip("[]").split(".")[0] for line in LINES if line.startswith("[")} <= {*TABLES, "fittings"}
