"""The fault bench and the acceptance card as panels: every button, the log, the verdict, the boxes."""

from __future__ import annotations

from typing import Any

import pytest

from oilkit import InputError, Q, panels, use_units
from oilkit.panels.lessons.lesson_09_instruments import instrument
from oilkit.quantities.kinds import GAUGE
from oilkit.shop.acceptance import COMPARED
from oilkit.shop.as_built import READINGS, SHOP_TESTS
from oilkit.shop.faults import FAULTS, bench, case, demo_set_up


def title(panel: Any, control: str, value: Any) -> str:
    return next(text for text, option in panel.controls[control].options if option == value)


def do(panel: Any, *tests: str) -> None:
    """Choose each test in the list and press the button, as a learner does."""
    for test in tests:
        panel.controls["test"].buttons.value = title(panel, "test", test)
        panel._do.click()


def name(panel: Any, fault: str) -> None:
    panel.controls["fault"].buttons.value = title(panel, "fault", fault)
    panel._name.click()


def opened(number: int, **start: Any) -> Any:
    return panels.fault_bench(number=Q(number, "dimensionless"), **start)


def healthy(panel: Any) -> None:
    assert panel.errors == []
    assert panel.trouble == ""
    assert [c.error for c in panel.controls.values()] == [""] * len(panel.controls)


def log(panel: Any) -> dict[str, str]:
    return {row.split(". ", 1)[1]: text for row, text in panel.readout.items() if row[0].isdigit()}


def numbered(fault: str, start: int = 0) -> int:
    """The first case number from a start that has this fault."""
    return next(n for n in range(start, start + 400) if case_fault(n) == fault)


def case_fault(number: int) -> str:
    import numpy as np

    return str(np.random.default_rng([number, 2026]).choice(list(FAULTS)))


def test_every_test_shows_what_the_package_reads() -> None:
    panel, found = opened(17), case(17)
    assert case_fault(17) == found.fault
    spent = 0.0
    for k, test in enumerate(SHOP_TESTS, 1):
        do(panel, test)
        healthy(panel)
        spent += SHOP_TESTS[test].minutes
        assert panel.readout["tests done"] == f"{k}"
        assert panel.readout["shop time"] == f"{spent:g} min"
        assert f"{spent:g} minutes" in panel.note
    assert panel.seen == {n: v for test in SHOP_TESTS for n, v in found.read(test).items()}
    assert set(log(panel)) == {what.label for what in READINGS.values()}
    for key, value in panel.seen.items():
        kind = READINGS[key].kind
        text = log(panel)[READINGS[key].label]
        assert text == (kind.text(value) if kind else ("lit" if value else "dark"))
    use_units("SI")
    assert log(panel)["far gallery gauge, hot idle"] == GAUGE.text(panel.seen["idle_gallery"], "SI")
    healthy(panel)


@pytest.mark.thorough
def test_the_order_of_tests_changes_nothing() -> None:
    one, other = opened(23), opened(23)
    do(one, "vented", "middle", "sample", "hold")
    do(other, "hold", "sample", "middle", "vented")
    assert one.seen == other.seen
    assert one.taken != other.taken


@pytest.mark.thorough
def test_the_picture_shows_each_test_and_the_help() -> None:
    panel, seen = opened(3), set()
    for test in SHOP_TESTS:
        do(panel, test)
        seen.add(panel.png)
    assert len(seen) == len(SHOP_TESTS)
    before = panel.png
    panel.controls["help"].buttons.value = "what the card says"
    assert panel.png != before
    assert all(": pass)" in text or ": fail)" in text or ": doubtful)" in text for text in log(panel).values())


def test_every_reading_has_its_instrument() -> None:
    for reading, what in READINGS.items():
        where = instrument(reading)
        names = {
            "gas": "gas gauge",
            "oil": "oil gauge",
            "gallery": "gallery gauge",
            "lamp": "lamp",
            "dipstick": "full mark",
        }
        assert where == "" or names[where] in what.label
        assert bool(where) == (what.kind is GAUGE or reading in ("lamp", "dipstick"))


def test_a_test_done_twice_is_refused_and_costs_nothing() -> None:
    panel = opened(5)
    do(panel, "vented")
    panel._do.click()
    assert "a test that is done" in panel.controls["test"].error
    assert panel.taken == ("vented",)
    do(panel, "middle")
    healthy(panel)


def test_naming_without_a_name_is_refused() -> None:
    panel = opened(5)
    panel._name.click()
    assert "no fault named yet" in panel.controls["fault"].error
    assert panel.ending is None


@pytest.mark.thorough
def test_a_proved_diagnosis() -> None:
    number = numbered("wrong_feed")
    panel = opened(number)
    do(panel, "sample", "hold", "dipstick", "vented")
    assert panel._cover.get_visible()
    name(panel, "wrong_feed")
    healthy(panel)
    assert not panel._cover.get_visible()
    expected = bench().verdict(case(number), panel.taken, "wrong_feed")
    assert panel.ending == expected
    assert expected.right
    assert expected.proved == ("hold",), "the lamp alone proves it"
    assert set(expected.redundant) == {"sample", "dipstick", "vented"}
    words = panel.summary(panel.state)
    assert words.startswith("Right: valve on the wrong feed.")
    proved, redundant = words.split("Redundant:")
    assert "valve lamp with the ignition off lit, fail" in proved
    for test in expected.redundant:
        assert SHOP_TESTS[test].title in redundant
    assert panel.readout["it is"] == "valve on the wrong feed"
    script = bench().diagnose(case(number))
    assert panel.readout["the kit's shop time"] == f"{script.minutes:g} min"


def test_a_wrong_and_unproved_diagnosis() -> None:
    number = numbered("filter")
    panel = opened(number)
    do(panel, "dipstick")
    name(panel, "low")
    healthy(panel)
    assert panel.ending is not None
    assert not panel.ending.right
    words = panel.summary(panel.state)
    assert words.startswith("Not so. You named “pan low”; it is “filter bypass stuck open”.")
    assert "do not prove it" in words
    assert panel.readout["tests that prove it"] == "not proved"


@pytest.mark.thorough
def test_a_closed_case_stays_as_it_is_until_another_begins() -> None:
    panel = opened(8)
    do(panel, "hold")
    name(panel, "healthy")
    before = panel.readout
    for button in (panel._do, panel._hint, panel._name):
        button.click()
        assert "closed" in panel.note
        assert panel.readout == before
    panel._again.click()
    healthy(panel)
    assert (panel.taken, panel.ending, panel.controls["fault"].value) == ((), None, None)
    assert panel._cover.get_visible()
    do(panel, "hold")
    assert panel.seen == case(8).read("hold")


@pytest.mark.thorough
def test_next_case_counts_on_and_begins_afresh() -> None:
    panel = opened(9998)
    do(panel, "vented")
    for number in (9999, 0, 1):
        panel._next.click()
        healthy(panel)
        assert panel.readout["case"] == f"{number}"
        assert panel.taken == ()
    do(panel, "vented")
    panel.controls["fault"].buttons.value = title(panel, "fault", "low")
    panel.controls["number"].box.value = "77"
    healthy(panel)
    assert (panel.taken, panel.readout["case"], panel.readout["you suspect"]) == ((), "77", "nothing yet")
    do(panel, "vented")
    panel.controls["engine"].buttons.value = panel.controls["engine"].options[1][0]
    assert panel.taken == ()
    do(panel, "vented")
    planned = demo_set_up(panel.controls["engine"].value)
    assert panel.seen == case(77, planned).read("vented")
    panel._reset.click()
    assert (panel.taken, panel.readout["case"]) == ((), "9998")
    healthy(panel)


@pytest.mark.parametrize(("typed", "part"), [("12.5", "whole number"), ("10000", "9999"), ("-1", "0"), ("x", "“x”")])
def test_a_bad_case_number_is_answered_beside_its_box(typed: str, part: str) -> None:
    panel = opened(4)
    do(panel, "vented")
    panel.controls["number"].box.value = typed
    assert part in panel.controls["number"].error
    assert panel.errors == []
    assert panel.readout["case"] == "4"
    panel.controls["number"].box.value = "6"
    healthy(panel)
    assert panel.readout["case"] == "6"


@pytest.mark.thorough
def test_hints_cost_no_time_are_counted_and_say_that_they_work() -> None:
    panel, said = opened(11), []
    panel._note.observe(lambda change: said.append(change["new"]), "value")
    panel._hint.click()
    healthy(panel)
    assert any("Working it out" in text for text in said)
    first = bench().next_test({})
    assert SHOP_TESTS[first].title in panel.note
    do(panel, first)
    panel._hint.click()
    assert panel.readout["hints taken"] == "2"
    assert panel.readout["shop time"] == f"{SHOP_TESTS[first].minutes:g} min"
    do(panel, *(test for test in SHOP_TESTS if test != first))
    panel._hint.click()
    assert "nothing left to test" in panel.note or "stands out" in panel.note


def test_following_every_hint_ends_where_the_script_ends() -> None:
    number, engine = 31, bench()
    panel = opened(number)
    script = engine.diagnose(case(number))
    do(panel, *script.taken)
    name(panel, script.fault)
    assert panel.ending is not None
    assert panel.ending.right == (script.fault == case(number).fault)
    assert panel.readout["your shop time"] == panel.readout["the kit's shop time"]


# ------------------------------------------------------------------------------------------------- the acceptance card


def test_a_hand_on_a_box_makes_the_readings_its_own() -> None:
    panel = panels.acceptance()
    form = panel.controls["readings"]
    assert panel.controls["source"].value == "healthy"
    form.boxes["idle_gallery"].value = "10"
    healthy(panel)
    assert panel.controls["source"].value == "typed"
    assert form.boxes["idle_gallery"].value == "10.0 psig"
    assert panel.readout["far gallery gauge, hot idle"].endswith("10.0 psig: fail")
    form.boxes["idle_gallery"].value = " "
    assert panel.readout["far gallery gauge, hot idle"].endswith("not read")
    form.boxes["lamp"].value = "LIT"
    assert panel.readout["valve lamp with the ignition off"].endswith("lit: fail")
    panel._empty.click()
    assert panel.readout["not read"] == f"{len(READINGS) + len(COMPARED)}"
    assert panel.summary(panel.state).startswith("Nothing is read yet.")
    panel._reset.click()
    assert panel.controls["source"].value == "healthy"
    assert panel.readout["not read"] == "0"
    healthy(panel)


def test_bad_boxes_are_answered_above_the_form_until_all_are_right() -> None:
    panel = panels.acceptance()
    form = panel.controls["readings"]
    before = panel.readout["gas gauge, hot idle"]
    form.boxes["idle_gas"].value = "soon"
    assert "“soon” for “gas gauge, hot idle”" in form.error
    assert panel.readout["gas gauge, hot idle"] == before
    form.boxes["lamp"].value = "green"
    assert "“green” for “valve lamp" in form.error
    form.boxes["idle_oil"].value = "25 psi"
    assert panel.readout["vessel oil gauge, hot idle"].split("; ")[2].startswith("25.0 psig")
    assert form.error, "two boxes are still refused"
    form.boxes["lamp"].value = "dark"
    assert "gas gauge, hot idle" in form.error
    form.boxes["idle_gas"].value = "2 bar"
    healthy(panel)
    assert form.boxes["idle_gas"].value == "29.0 psig"
    form.boxes["idle_gas"].value = "3 qt"
    assert "3 qt, a volume" in form.error
    use_units("SI")
    healthy(panel)
    assert form.boxes["idle_gas"].value == "2.00 barg"


def test_readings_are_set_from_code_all_or_nothing() -> None:
    panel = panels.acceptance(readings={"charge": Q(7, "psig"), "lamp": "dark"})
    assert panel.readout["pass"] == "2"
    assert panel.readout["not read"] == f"{len(READINGS) + len(COMPARED) - 2}"
    for wrong in ({"charge": Q(7, "qt")}, {"chrge": Q(7, "psig")}, {"lamp": "red"}, 3):
        with pytest.raises(InputError):
            panel.set(readings=wrong)
        assert panel.readout["pass"] == "2"
    healthy(panel)


def test_a_faulty_case_fails_the_card_and_healthy_days_mostly_pass() -> None:
    panel = panels.acceptance(source="a fault bench case", number=Q(numbered("check"), "dimensionless"))
    assert int(panel.readout["fail"]) >= 1
    assert "Something is wrong" in panel.summary(panel.state)
    panel.set(source="a healthy day")
    fails = []
    for number in range(20):
        panel.set(number=Q(number, "dimensionless"))
        fails.append(int(panel.readout["fail"]))
    assert fails.count(0) >= 17
    healthy(panel)


def test_a_slider_that_is_off_in_its_last_digit_still_means_its_case() -> None:
    panel = panels.fault_bench()
    off = 0
    for wanted in range(1, 9999, 211):
        place = wanted * 100.0 / 9999.0  # in per cent of the range, as a browser's slider counts
        panel.controls["number"].slider.value = place / 100.0 * 9999.0
        off += panel.controls["number"].slider.value != wanted
        assert panel.trouble == ""
        assert panel.readout["case"] == str(wanted)
    assert off > 0
