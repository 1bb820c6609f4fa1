"""Every number of a set-up file can be typed in the form of lesson 10, and what is refused says why."""

from __future__ import annotations

from operator import attrgetter
from pathlib import Path
from typing import Any

import pytest

from oilkit import Q, panels, read_set_up
from oilkit.build.as_typed import amount
from oilkit.build.records import LISTS, MAY_MISS, TABLES
from oilkit.panels.lessons.lesson_10_number_form import PARTS
from oilkit.quantities.kind import Kind
from oilkit.quantities.records import Record
from oilkit.quantities.typed import parse
from oilkit.quantities.units import unit_switch


@pytest.fixture
def panel() -> Any:
    opened = panels.every_number()
    yield opened
    assert not opened.errors
    opened.close()


@pytest.fixture
def form(panel: Any) -> Any:
    return panel.controls["numbers"]


def leaves(path: str, cls: type[Record]) -> dict[tuple[str, str], Any]:
    """Every number and text of a table and of those in it: table and key to what it is."""
    found = {}
    for key, kind in cls.fields().items():
        if isinstance(kind, type) and issubclass(kind, Record):
            found |= leaves(f"{path}.{key}", kind)
        else:
            found[path, key] = kind
    return found


IN_TABLES = {
    one: k for path, (cls, _) in TABLES.items() if path not in MAY_MISS for one, k in leaves(path, cls).items()
}
IN_LISTS = {one: kind for path, (cls, _, _) in LISTS.items() for one, kind in leaves(path, cls).items()}


def test_every_field_of_a_file_has_a_box(form: Any) -> None:
    form.part.value = "engine.cooler"
    form.add.click()
    shown = set()
    for _, path in form.part.options:
        form.part.value = path
        shown |= {(path.partition(" ")[0], key) for key in form.boxes}
    wanted = IN_TABLES.keys() | IN_LISTS.keys()
    assert shown == wanted | {("", "name"), ("", "note")}
    assert {path for path, _ in wanted} == set(PARTS)


def test_each_number_can_be_typed_and_comes_back_from_the_file(panel: Any, form: Any, tmp_path: Path) -> None:
    """Each box is typed anew, a thousandth off; the saved file holds it, and everything else as it was."""
    panel._file.value = str(tmp_path / "mine.toml")
    tried = 0
    for (path, key), kind in IN_TABLES.items():
        if not isinstance(kind, Kind) or kind.si == "dimensionless" or path == "engine.cooler":
            continue
        form.part.value = path
        before = getattr(attrgetter(path)(panel.build_now).si, key)
        typed = str(amount(kind.quantity(before * 1.001 if before else 1e-4), kind))
        form.boxes[key].value = typed
        assert not form.error, (path, key, form.error)
        assert attrgetter(path)(panel.build_now).si.__dict__[key] == pytest.approx(
            parse(key, typed, kind), rel=1e-12
        ), (path, key)
        tried += 1
    panel._save.click()
    assert not panel.trouble
    assert read_set_up(tmp_path / "mine.toml").document == form.value
    assert tried > 70


def test_a_bare_number_is_in_the_unit_on_show(form: Any) -> None:
    form.part.value = "engine.pump"
    form.boxes["relief_opening"].value = "60"
    unit_switch.choose("SI")
    form.boxes["relief_rated_pressure"].value = "5.2"
    unit_switch.choose("US")
    assert form.value["engine"]["pump"]["relief_opening"] == "60 psig"
    assert form.value["engine"]["pump"]["relief_rated_pressure"] == "5.2 barg"


def test_two_numbers_that_fit_only_each_other_can_be_typed_in_turn(panel: Any, form: Any) -> None:
    form.part.value = "engine.pump"
    form.boxes["relief_opening"].value = "75 psi"
    assert "relief valve's opening of 75.0 psi" in form.error
    assert panel.stale, "what stands there is the last good result"
    assert form.boxes["relief_opening"].value == "75 psi"
    form.boxes["relief_rated_pressure"].value = "90 psi"
    assert not form.error
    assert not panel.stale
    assert panel.build_now.engine.pump.relief_opening.m_as("psig") == pytest.approx(75.0)


@pytest.mark.parametrize(
    ("part", "key", "typed", "said"),
    [
        ("engine.pump", "relief_opening", "", "nothing"),
        ("engine.pump", "relief_opening", "58 qt", "wanted a gauge pressure"),
        ("vessel", "rated_pressure", "150 psia", "psia"),
        ("engine.mains", "count", "five", "five"),
        ("engine.rods", "diametral_clearance", "2 in", "“diametral clearance”"),
        ("driving.events 1", "lasts", "0 s", "“lasts”"),
        ("", "name", " ", "a text"),
    ],
)
def test_what_is_refused_says_why_and_holds_up_nothing_else(
    form: Any, part: str, key: str, typed: str, said: str
) -> None:
    before = form.value
    form.part.value = part
    form.boxes[key].value = typed
    assert said in form.error
    assert form.value == before
    other = next(name for name in form.boxes if name != key and name != "feed")
    text = form.boxes[other].value
    form.boxes[other].value = f"{text} "
    assert said in form.error or not form.error
    form.part.value = "limits"
    assert not form.error
    form.boxes["tolerance"].value = "0.07 s"
    assert form.value["limits"]["tolerance"] == "0.07 s"


def test_events_fittings_and_a_cooler_come_and_go(panel: Any, form: Any) -> None:
    for k in (1, 2, 3):
        form.part.value = f"driving.events {4 - k}"
        assert (form.away.layout.display == "") == (k < 3), "the last event stays"
        if k < 3:
            form.away.click()
    form.add.click()
    assert form.part.value == "driving.events 2"
    form.boxes["name"].value = "Turn nine"
    assert [event.name for event in panel.build_now.events] == ["long fast corner", "Turn nine"]
    assert "Event 2: Turn nine" in dict(form.part.options)
    form.part.value = "fittings 1"
    form.away.click()
    assert panel.build_now.fittings == ()
    form.part.value = "fittings"
    form.add.click()
    assert len(panel.build_now.fittings) == 1
    form.part.value = "engine.cooler"
    form.add.click()
    assert panel.build_now.engine.cooler is not None
    form.away.click()
    assert panel.build_now.engine.cooler is None
    form.part.value = "driving.events 1"
    for _ in range(20):
        form.add.click()
    assert "up to 12" in form.error
    assert len(panel.build_now.events) == 12


def test_start_values_and_another_kernel_bring_back_what_was_typed(panel: Any, form: Any) -> None:
    start = form.value
    form.part.value = "vessel"
    form.boxes["gas_volume"].value = "1.9 qt"
    kept = panel._kept()
    panel.reset()
    assert form.value == start
    assert panel.take_back(kept)
    assert panel.build_now.vessel.gas_volume.m_as("qt") == pytest.approx(1.9)
    with pytest.raises(Exception, match="a dictionary of values"):
        panel.set(numbers=Q(3, "qt"))
