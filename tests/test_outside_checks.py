"""The kit against everything outside it: the rows of ``outside_checks.py``, one test each."""

from __future__ import annotations

import re
import subprocess
import sys
from dataclasses import replace
from functools import cache
from pathlib import Path

import outside_checks
import pytest

from oilkit.audit.outside import outside_checks as stored

STORED = {row.quantity: row for row in stored()}
"""What lesson 12 shows. The names come from there, because the rows themselves take a quarter of a minute."""


@cache
def checks() -> list[outside_checks.Row]:
    """All comparisons, computed once."""
    return outside_checks.rows()


def rows() -> dict[str, outside_checks.Row]:
    return {row.quantity: row for row in checks()}


@pytest.mark.parametrize("name", STORED)
def test_row(name: str) -> None:
    row = rows()[name]
    assert row.inside, f"{row.kit!r} against {row.reference!r}: off by {row.difference:.3g}, {row.why}"


def test_the_stored_table_is_the_true_one() -> None:
    """If not: ``python tests/commands/store_outside_checks.py``."""
    assert set(STORED) == set(rows())
    for name, row in rows().items():
        told = STORED[name]
        assert told.difference == pytest.approx(row.difference, rel=0.1, abs=max(2e-9, 0.05 * row.tolerance)), name
        assert told.tolerance == pytest.approx(row.tolerance, rel=0.01), name
        assert told.relative == row.relative
        assert re.sub(r"[\d.]+", "", told.source) == re.sub(r"[\d.]+", "", row.source), "but for a library's version"
        assert abs(told.difference) <= 1.01 * told.tolerance


def test_every_row_names_itself_its_source_and_its_tolerance() -> None:
    assert len(rows()) == len(checks())
    for row in rows().values():
        assert len(row.source) > 5, row
        assert len(row.why) > 10, row
        assert row.tolerance > 0.0, row


def test_boyle_readings_are_all_there() -> None:
    assert sum(name.startswith("Boyle's pressure") for name in rows()) == 25


def test_a_row_outside_is_caught_on_either_side_and_for_nan() -> None:
    row = checks()[0]
    assert not replace(row, kit=row.reference + 1.01 * row.tolerance, relative=False).inside
    assert not replace(row, kit=row.reference - 1.01 * row.tolerance, relative=False).inside
    assert not replace(row, kit=row.reference * 1.02, tolerance=0.01, relative=True).inside
    assert not replace(row, kit=float("nan")).inside


def test_main_ends_with_an_error_if_a_row_is_outside(capsys: pytest.CaptureFixture[str]) -> None:
    first, *others = checks()[:3]
    bad = replace(first, kit=1e9)
    assert outside_checks.main([bad, *others]) == 1
    shown = capsys.readouterr().out
    assert "<-- outside" in shown
    assert "3 rows, 1 outside" in shown
    assert bad.quantity in shown.splitlines()[-1]


@pytest.mark.thorough
def test_script_prints_one_aligned_table_from_any_folder(tmp_path: Path) -> None:
    script = Path(outside_checks.__file__).resolve()
    done = subprocess.run(
        [sys.executable, str(script)], cwd=tmp_path, capture_output=True, encoding="utf-8", check=False, timeout=120
    )
    assert done.returncode == 0, done.stdout + done.stderr
    lines = done.stdout.splitlines()
    table = lines[: len(STORED) + 2]
    bars = [[i for i, letter in enumerate(line) if letter in "|+" and line[i - 1 : i] in (" ", "-")] for line in table]
    assert [part.strip() for part in lines[0].split("|")] == [
        "quantity",
        "kit",
        "reference",
        "difference",
        "tolerance",
        "source",
    ]
    for line, name in zip(sorted(table[2:]), sorted(STORED), strict=True):
        assert line.split(" | ")[0].strip() == name
        assert re.sub(r"[\d.]+", "", line).endswith(re.sub(r"[\d.]+", "", STORED[name].source)), "but its version"
        assert line.count(" | ") == 5
    assert {tuple(b[:2]) for b in bars[2:]} == {tuple(bars[0][:2])}
