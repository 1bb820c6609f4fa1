"""A log as loggers write it, looked at and read: each ends in the right numbers or in a question, in a few clicks."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from oilkit import InputError, Q, panels, read_log
from oilkit.laps.guess import as_lines, look_at_log

N = 240
T = 0.05 * np.arange(N)
V, AY, AX = 90 + 40 * np.sin(T / 3), 0.9 * np.sin(T), 0.4 * np.cos(T / 2)
RPM, P = 4200 + 900 * np.sin(T / 2), 55 + 6 * np.sin(T / 2)
NAMES = [
    "Time (s)",
    "Speed (km/h)",
    "Lateral acc (g)",
    "Longitudinal acc (g)",
    "Engine speed (rpm)",
    "Oil pressure (psi)",
]


def rows(*columns: Any, mark: str = ",", form: str = "{:.3f}") -> list[str]:
    return [mark.join(form.format(cell) for cell in row) for row in zip(*columns, strict=True)]


PLAIN = rows(T, V, AY, AX, RPM, P)


def spoiled(**at: str) -> list[str]:
    """The plain rows with some cells or lines changed, by number."""
    found = list(PLAIN)
    for key, text in at.items():
        found[int(key.removeprefix("line"))] = text
    return found


def comma(lines: list[str]) -> list[str]:
    return [line.replace(",", ";").replace(".", ",") for line in lines]


UNDER = ["s", "km/h", "g", "g", "rpm", "psi"]
BARE = ["time", "speed", "ay", "ax", "rpm", "oil pressure"]
GOOD: dict[str, tuple[list[str], dict[str, str]]] = {
    "plain": ([",".join(NAMES), *PLAIN], {}),
    "units under the names": ([",".join(BARE), ",".join(UNDER), *PLAIN], {}),
    "no units": ([",".join(BARE), *PLAIN], {}),
    "preamble": (["Driver,somebody", "Car,a car", "Date,2026-05-01", "", ",".join(NAMES), *PLAIN], {}),
    "preamble with remarks": (["# session 3", "Venue;a track", ",".join(NAMES), *PLAIN], {}),
    "semicolons and decimal commas": (comma([",".join(NAMES), *PLAIN]), {}),
    "tabs": ([line.replace(",", "\t") for line in [",".join(NAMES), *PLAIN]], {}),
    "milliseconds": (["Time (ms),V_GPS (km/h),Lat g,Lon g,RPM,Oil P (psi)", *rows(1000 * T, V, AY, AX, RPM, P)], {}),
    "miles": ([",".join(NAMES).replace("km/h", "mph"), *rows(T, V / 1.609344, AY, AX, RPM, P)], {}),
    "m/s2 and bar": (
        ["t,speed [km/h],acc lat [m/s2],acc lon [m/s2],n,p_oil [bar]",
         *rows(T, V, 9.80665 * AY, 9.80665 * AX, RPM, P / 14.503774)], {},
    ),
    "more columns, latitude among them": (
        ["Latitude,Longitude,Time (s),Throttle," + ",".join(NAMES[1:]), *rows(48 + T, 11 + T, T, T, V, AY, AX, RPM, P)],
        {},
    ),
    "footer": ([",".join(NAMES), *PLAIN, "end of file,,,,,"], {"pass over": "yes"}),
    "blanks and words": (
        [",".join(NAMES), *spoiled(line7="0.350,,0.3,0.4,4300,55", line90="4.500,err,0.1,0.2,4200,55")],
        {"pass over": "yes"},
    ),
    "repeated times": ([",".join(NAMES), *PLAIN[:50], PLAIN[49], *PLAIN[50:]], {"pass over": "yes"}),
    "a gap, cut to the part before it": ([",".join(NAMES), *PLAIN[:120], *PLAIN[160:]], {"to": "5.9 s"}),
}  # fmt: skip
"""Lines of a log, and what its driver adds to the guess after reading the sentence that refused it."""


@pytest.mark.parametrize("name", GOOD)
def test_it_ends_in_the_right_numbers(tmp_path: Path, name: str) -> None:
    lines, added = GOOD[name]
    path = tmp_path / "log.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    guess = look_at_log(path)
    assert set(guess.columns) == {"time", "speed", "lateral", "longitudinal", "rpm", "pressure"}, guess
    if added:
        with pytest.raises(InputError):
            read_log(path, guess.columns)
    end = Q(float(added["to"].split()[0]), "s") if "to" in added else None
    log = read_log(path, guess.columns, end=end, pass_over="pass over" in added)
    when = log.time.m_as("s")
    assert len(when) >= 0.45 * N
    for quantity, unit, truth in (
        (log.speed, "km/hour", V), (log.lateral, "g_0", AY), (log.longitudinal, "g_0", AX), (log.rpm, "rpm", RPM),
        (log.pressure, "psig", P),
    ):  # fmt: skip
        assert quantity is not None
        assert quantity.m_as(unit) == pytest.approx(np.interp(when, T, truth), rel=2e-3, abs=2e-3)
    if name in ("footer", "repeated times"):
        assert "1 of 241 samples were passed over" in " ".join(log.assumed)
    if name == "no units":
        assert any("No unit is written for speed" in words for words in guess.unsure)


def _mostly_words(k: int) -> str:
    return f"{T[k]:.2f},no,signal,here,at,all" if k % 2 else PLAIN[k]


ASKED: dict[str, tuple[Callable[[], list[str]], str]] = {
    "half of it no numbers": (lambda: [",".join(NAMES), *map(_mostly_words, range(N))], "number"),
    "no line of names": (lambda: PLAIN, "no line of names"),
    "no table": (lambda: ["dear diary", "today we drove", "it rained"], "no line of names"),
    "no engine speed": (lambda: [",".join(NAMES).replace("Engine speed (rpm)", "Gear"), *PLAIN], "Not found: rpm"),
    "a speed that no car has": (
        lambda: [",".join(NAMES), *rows(T, 30 * V, AY, AX, RPM, P)], "no car has",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", ASKED)
def test_or_in_a_question(tmp_path: Path, name: str) -> None:
    make, part = ASKED[name]
    path = tmp_path / "log.csv"
    path.write_text("\n".join(make()) + "\n", encoding="utf-8")
    asked = ""
    try:
        guess = look_at_log(path)
        asked = " ".join(guess.unsure)
        read_log(path, guess.columns, pass_over=True)
    except InputError as problem:
        asked += str(problem)
    assert part in asked


def test_a_unit_that_contradicts_is_never_passed_over(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text(
        "\n".join([",".join(BARE), ",".join(["s", "mph", "g", "g", "rpm", "psi"]), *PLAIN]), encoding="utf-8"
    )
    columns = look_at_log(path).columns
    assert columns["speed"] == ("speed", "mph")
    with pytest.raises(InputError, match="mph"):
        read_log(path, columns | {"speed": ("speed", "km/h")}, pass_over=True)


def test_the_panel_looks_fills_its_box_and_says_what_it_saw(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "mine.csv").write_text("\n".join(["Car,mine", ",".join(BARE), *PLAIN]), encoding="utf-8")
    panel = panels.own_log()
    panel.controls["log"].area.value = "file = mine.csv"
    assert "no column for" in panel.controls["log"].error
    panel._look.click()
    assert (panel.errors, panel.trouble, panel.controls["log"].error) == ([], "", "")
    assert panel.controls["log"].value == as_lines("mine.csv", look_at_log("mine.csv"))
    assert "No unit is written for speed" in panel._note.value
    assert "Names stand in line 2" in panel._note.value
    assert panel.data.rpm.m_as("rpm") == pytest.approx(RPM, rel=1e-3)
    panel.controls["log"].area.value += "\nfrom = 2 s\nto = 4 s\npass over = perhaps"
    assert "yes or no" in panel.controls["log"].error
    panel.controls["log"].area.value = panel.controls["log"].value.replace("perhaps", "yes")
    assert len(panel.data.time) == 41
    panel.close()
