"""The kit against everything outside it: the rows of ``outside_checks.py``, one test each."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import outside_checks
import pytest

ROWS = outside_checks.rows()


@pytest.mark.parametrize("row", ROWS, ids=[row.quantity for row in ROWS])
def test_row(row: outside_checks.Row) -> None:
    assert row.inside, f"{row.kit!r} against {row.reference!r}: off by {row.difference:.3g}, {row.why}"


def test_every_row_names_itself_its_source_and_its_tolerance() -> None:
    names = [row.quantity for row in ROWS]
    assert len(set(names)) == len(names)
    for row in ROWS:
        assert len(row.source) > 5, row
        assert len(row.why) > 10, row
        assert row.tolerance > 0.0, row


def test_boyle_readings_are_all_there() -> None:
    assert sum(row.quantity.startswith("Boyle's pressure") for row in ROWS) == 25


def test_a_row_outside_is_caught_on_either_side_and_for_nan() -> None:
    row = ROWS[0]
    assert not replace(row, kit=row.reference + 1.01 * row.tolerance, relative=False).inside
    assert not replace(row, kit=row.reference - 1.01 * row.tolerance, relative=False).inside
    assert not replace(row, kit=row.reference * 1.02, tolerance=0.01, relative=True).inside
    assert not replace(row, kit=float("nan")).inside


def test_main_ends_with_an_error_if_a_row_is_outside(capsys: pytest.CaptureFixture[str]) -> None:
    bad = replace(ROWS[0], kit=1e9)
    assert outside_checks.main([bad, *ROWS[1:3]]) == 1
    shown = capsys.readouterr().out
    assert "<-- outside" in shown
    assert "3 rows, 1 outside" in shown
    assert bad.quantity in shown.splitlines()[-1]


def test_script_prints_one_aligned_table_from_any_folder(tmp_path: Path) -> None:
    script = Path(outside_checks.__file__).resolve()
    done = subprocess.run(
        [sys.executable, str(script)], cwd=tmp_path, capture_output=True, encoding="utf-8", check=False, timeout=120
    )
    assert done.returncode == 0, done.stdout + done.stderr
    lines = done.stdout.splitlines()
    table = lines[: len(ROWS) + 2]
    bars = [[i for i, letter in enumerate(line) if letter in "|+" and line[i - 1 : i] in (" ", "-")] for line in table]
    assert [part.strip() for part in lines[0].split("|")] == [
        "quantity",
        "kit",
        "reference",
        "difference",
        "tolerance",
        "source",
    ]
    for line, row in zip(table[2:], ROWS, strict=True):
        assert line.startswith(row.quantity)
        assert line.endswith(row.source)
        assert line.count(" | ") == 5
    assert {tuple(b[:2]) for b in bars[2:]} == {tuple(bars[0][:2])}
