"""What a lesson prints: numbers as text, in both systems, whatever the unit switch says."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from oilkit import Q, report, table, use_units
from oilkit.quantities.printed import LINE, kind_for, text
from oilkit.quantities.units import Qty


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (Q(1.5, "qt"), "1.50 qt (1.42 L)"),
        (Q(1.0, "L"), "1.06 qt (1.00 L)"),
        (Q(10, "psig"), "10.0 psig (0.69 barg)"),
        (Q(24.7, "psia"), "24.7 psia (1.70 bara)"),
        (Q(1, "psi"), "1.00 psi (0.069 bar)"),
        (Q(20, "degC"), "68 °F (20 °C)"),
        (Q(4.5, "in"), "4.50 in (114.3 mm)"),
        (Q(4, "gpm"), "4.00 gpm (15.14 L/min)"),
        (Q(1, "hp"), "1.00 hp (0.746 kW)"),
        (Q(90, "s"), "90.00 s"),
        (Q(2, "min"), "120.00 s"),
        (Q(0.5, "dimensionless"), "0.500"),
        (Q(50, "percent"), "0.500"),
        (Q([1.0, 2.0], "qt"), "1.00 qt (0.95 L), 2.00 qt (1.89 L)"),
        (Q(3, "J"), "3 J"),
        (Q([3.0, 4.0], "J"), "3, 4 J"),
        (1.234567, "1.235"),
        (np.float64(1.234567), "1.235"),
        (25, "25"),
        ("about half", "about half"),
    ],
    ids=str,
)
def test_a_value_reads_in_both_systems(value: Any, expected: str) -> None:
    assert text(value) == expected
    use_units("SI")
    assert text(value) == expected


@pytest.mark.parametrize(
    ("difference", "fahrenheit", "celsius"),
    [
        (Q(90, "degC") - Q(20, "degC"), "126", "70"),
        (Q(212, "degF") - Q(32, "degF"), "180", "100"),
        (Q(10, "delta_degC"), "18", "10"),
    ],
    ids=["90 less 20 °C", "212 less 32 °F", "10 K"],
)
def test_a_temperature_difference_is_not_printed_as_a_temperature(
    difference: Qty, fahrenheit: str, celsius: str
) -> None:
    """A warming of 70 degrees is no 203 degrees of frost."""
    shown = text(difference)
    assert fahrenheit in shown
    assert celsius in shown
    assert "-" not in shown


def test_nothing_never_reads_minus_nothing() -> None:
    assert text(Q(-1e-9, "qt")) == "0.00 qt (0.00 L)"


def test_what_is_no_number_still_reads() -> None:
    assert "nan" in text(Q(math.nan, "psig"))
    assert text(Q(math.inf, "s")).startswith("infinite")


def test_every_mark_has_its_own_kind() -> None:
    kinds_found = [kind_for(Q(1.0, unit)) for unit in ("psig", "psia", "psi")]
    assert [kind.noun for kind in kinds_found if kind] == [
        "a gauge pressure",
        "an absolute pressure",
        "a pressure difference",
    ]
    assert kind_for(Q(1.0, "J")) is None


# ----------------------------------------------------------------------------------------------------------- report


def test_report_prints_a_line_for_each_number(capsys: pytest.CaptureFixture[str]) -> None:
    report("Bench vessel", oil_stored=Q(1.5, "qt"), at=Q(10, "psig"), readings=25, verdict="half full")
    assert capsys.readouterr().out == (
        "Bench vessel\n"
        "  oil stored  1.50 qt (1.42 L)\n"
        "  at          10.0 psig (0.69 barg)\n"
        "  readings    25\n"
        "  verdict     half full\n"
    )


def test_report_of_nothing_is_its_title(capsys: pytest.CaptureFixture[str]) -> None:
    report("Bench vessel")
    assert capsys.readouterr().out == "Bench vessel\n"


# ------------------------------------------------------------------------------------------------------------ table


def printed(capsys: pytest.CaptureFixture[str], *columns: tuple[str, Any]) -> list[str]:
    table(*columns)
    return capsys.readouterr().out.splitlines()


def test_table_puts_numbers_right_and_words_left_under_their_heads(capsys: pytest.CaptureFixture[str]) -> None:
    lines = printed(capsys, ("pre-charge", Q([5.0, 10.0, 100.0], "psig")), ("fill", ["more", "half", "none"]))
    assert len(lines) == 4
    assert lines[0].startswith("pre-charge [")
    assert "psig" in lines[0]
    assert lines[0].endswith("fill")
    column = lines[0].index("fill")
    for line, number, word in zip(lines[1:], ("5.0", "10.0", "100.0"), ("more", "half", "none"), strict=True):
        assert line[column:] == word
        assert line.split()[0] == number
        assert not line.endswith(" ")
    ends = {line[:column].rstrip()[-1] for line in lines[1:]}
    assert len(ends) == 1
    assert len({len(line[:column].rstrip()) for line in lines[1:]}) == 1


def test_table_shows_the_same_whatever_the_switch_says(capsys: pytest.CaptureFixture[str]) -> None:
    columns = (("oil", Q([0.5, 1.5], "qt")), ("temperature", Q([20.0, 90.0], "degC")))
    in_us = printed(capsys, *columns)
    use_units("SI")
    assert printed(capsys, *columns) == in_us
    assert "1.50" in in_us[2]
    assert "194" in in_us[2]


def test_table_converts_before_it_prints(capsys: pytest.CaptureFixture[str]) -> None:
    assert printed(capsys, ("oil", Q([1.5, 3.0], "qt"))) == printed(capsys, ("oil", Q([1.5, 3.0], "qt").to("cc")))


def test_table_of_a_quantity_that_the_kit_has_no_kind_for(capsys: pytest.CaptureFixture[str]) -> None:
    lines = printed(capsys, ("energy", Q([3.0, 4.5], "J")))
    assert lines[0] == "energy [J]"
    assert [line.strip() for line in lines[1:]] == ["3", "4.5"]


def test_table_of_plain_numbers_names_no_unit(capsys: pytest.CaptureFixture[str]) -> None:
    assert printed(capsys, ("part full", Q([0.5, 0.601], "dimensionless")))[0] == "part full"


def test_table_of_temperature_differences(capsys: pytest.CaptureFixture[str]) -> None:
    lines = printed(capsys, ("warming", Q([30.0, 90.0], "degC") - Q(20.0, "degC")))
    assert "18" in lines[1]
    assert "126" in lines[2]
    assert "-" not in "".join(lines)


def test_columns_of_unequal_length_are_not_printed_as_if_they_matched(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(ValueError, match=r"equal length"):
        table(("oil", Q([1.0, 2.0], "qt")), ("fill", ["half"]))
    assert "2.00" not in capsys.readouterr().out


HEADS = ("volume", "absolute", "dial", "as the dial would be with gauge pressure", "what a gauge of class 1 can tell")


def test_a_wide_table_takes_more_lines_and_not_more_room(capsys: pytest.CaptureFixture[str]) -> None:
    """A notebook beside its side bar would break lines anywhere, and no column would stand under its head."""
    units = ("qt", "psia", "psig", "psig", "psi")
    table(*((head, Q([1.0, 2.0], unit)) for head, unit in zip(HEADS, units, strict=True)))
    lines = capsys.readouterr().out.splitlines()
    assert max(map(len, lines)) <= LINE
    assert " ".join(lines[-2].split()) == "1.00 (0.95) 1.0 (0.07) 1.0 (0.07) 1.0 (0.07) 1.00 (0.069)"
    assert " ".join(lines[-1].split()) == "2.00 (1.89) 2.0 (0.14) 2.0 (0.14) 2.0 (0.14) 2.00 (0.138)"
    wanted = f"{' '.join(HEADS)} [qt (L)] [psia (bara)] [psig (barg)] [psig (barg)] [psi (bar)]"
    assert sorted(" ".join(lines[:-2]).split()) == sorted(wanted.split())
    assert all(len(line) == len(lines[-1]) or not line.endswith("]") for line in lines), "numbers end where heads end"


def test_a_narrow_table_keeps_its_heads_on_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    table(("as the dial would be with gauge pressure", ["a"]), ("b", Q([1.0], "qt")))
    assert capsys.readouterr().out.splitlines()[0] == "as the dial would be with gauge pressure   b [qt (L)]"


def test_long_texts_wrap_inside_their_column_and_lose_no_word(capsys: pytest.CaptureFixture[str]) -> None:
    long = "switch off with the valve open and the vessel runs out into the pan, 2.01 qt in 26 s, above its full mark"
    table(("after", ["this", "that"]), ("what comes", [long, "nothing"]), ("oil", Q([1.0, 2.0], "qt")))
    lines = capsys.readouterr().out.splitlines()
    assert max(map(len, lines)) <= LINE
    start = lines[1].index("what comes")
    assert lines[2][start:].startswith("switch off")
    assert lines[3][:start].strip() == ""
    assert lines[-1].split() == ["that", "nothing", "2.00", "(1.89)"]
    report("A title", consequence=long)
    title, *rows = capsys.readouterr().out.splitlines()
    assert title == "A title"
    assert max(map(len, rows)) <= LINE
    assert " ".join(rows).split() == ["consequence", *long.split()]
