"""Readings stay those of the car that was read: wear, another oil, what is tried out, come on top of what they say."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from oilkit import (
    InputError,
    build_sheet,
    calibrate,
    demo_set_ups,
    operating_point,
    panels,
    read_set_up,
    set_up_from_text,
    write_set_up,
)
from oilkit.build.setup_file import Build
from oilkit.build.since import since_read, tried
from oilkit.physics.catalog import lubricants
from oilkit.quantities.kinds import SPEED
from oilkit.quantities.units import Q

STREET = demo_set_ups()["street V8"]
HOT = {"speed": "700 rpm", "oil_temperature": "230 degF"}
GAUGE = {"gauge_full_scale": "100 psi", "gauge_class": 1.6, "thermometer_error": "5 degF"}
SEEN = {"hot_idle": HOT | {"pressure": "15 psi"}, "hot_at_speed": HOT | {"pressure": "38 psi", "speed": "1500 rpm"}}
READ = STREET.changed({"readings": GAUGE | SEEN})
LATER: list[dict[str, Any]] = [
    {"driving.clearance_change": "1 thou"},
    {"driving.clearance_change": "-0.3 thou"},
    {"oil": lubricants()["thin"]},
    {"oil": lubricants()["thick"], "driving.clearance_change": "0.5 thou"},
]


def idle_of(changed: Build) -> float:
    """Hot idle of the engine that was read, with another oil and change of clearance: what the readings say of it, held
    fast, and then changed."""
    found = calibrate(READ).likely
    wider = found.driving.clearance_change - READ.driving.clearance_change + changed.driving.clearance_change
    at = found.engine.idle, changed.driving.sump_temperature, wider
    return float(operating_point(found.engine, changed.oil, *at).gallery_pressure.m_as("psig"))


@pytest.mark.parametrize("changes", LATER)
def test_what_changed_since_comes_on_top(changes: dict[str, Any]) -> None:
    changed = READ.changed(changes)
    now = tried(READ, changed)
    assert float(build_sheet(now, 1, whole=False).idle_pressure.m_as("psig")) == pytest.approx(idle_of(changed))
    assert since_read(now) in build_sheet(now, 1, whole=False).verdict
    assert since_read(now).startswith("The gauges were read with")
    again = set_up_from_text(now.text())
    assert again.document == now.document
    assert since_read(again) == since_read(now)
    assert tried(now, now.changed({"choice.precharge": "9 psi"})).readings == now.readings
    flattered = float(build_sheet(changed, 1, whole=False).idle_pressure.m_as("psig"))
    assert abs(flattered - 15.0) < 1.5, "fitted to the changed car, readings take the change back"
    assert abs(idle_of(changed) - 15.0) > 1.0


def test_every_draw_agrees_with_what_was_read_before_the_change() -> None:
    """The draws of a car that wore are those of the car that was read: wear adds no doubt about what was read."""
    now, z = tried(READ, READ.changed(LATER[0])), Q([[0.5, -1.0, 2.0]] * 5, "").m
    then, worn = calibrate(READ).known.drawn, calibrate(now).known.drawn
    assert then is not None
    assert worn is not None
    assert worn(z) == pytest.approx(then(z))


def test_nothing_is_said_where_nothing_has_changed() -> None:
    assert since_read(READ) == since_read(STREET) == ""
    assert (
        tried(READ, READ.changed({"choice.precharge": "9 psi"})).document
        == READ.changed({"choice.precharge": "9 psi"}).document
    )
    assert tried(STREET, STREET.changed(LATER[0])).readings is None


def test_a_table_without_a_reading_and_a_number_put_right_are_no_change() -> None:
    gauges = STREET.changed({"readings": GAUGE})
    assert tried(gauges, gauges.changed(LATER[0])).readings == gauges.readings
    panel = panels.every_number(gauges)
    assert "Counted" not in panel.summary(panel.state)
    panel.close()
    right = READ.changed({"oil.viscosity_100": "10.9 cSt"})
    assert tried(READ, right).readings == READ.readings
    assert tried(READ, READ.changed({"oil.name": "what the can says"})).readings == READ.readings


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("readings.clearance_change", "-2.9 thou", "wanted a change that leaves the"),
        ("readings.oil.viscosity_100", "20 cSt", r"\[readings.oil\]"),
    ],
)
def test_what_cannot_have_been_is_refused(key: str, value: str, words: str) -> None:
    now = tried(READ, READ.changed(LATER[3]))
    with pytest.raises(InputError, match=words):
        now.changed({key: value})


def test_panels_keep_the_readings_with_the_car_that_was_read(tmp_path: Path) -> None:
    panel = panels.your_engine(READ, clearance_change=Q(1, "thou"))
    shown = panel.state["sheet"]
    assert float(shown.idle_pressure.m_as("psig")) == pytest.approx(idle_of(READ.changed(LATER[0])))
    assert "The gauges were read with 0.00 thou" in panel.screen.table
    write_set_up(panel.build_now, tmp_path / "tried.toml")
    kept = build_sheet(read_set_up(tmp_path / "tried.toml"), 1, whole=False).idle_pressure
    assert float(kept.m_as("psig")) == pytest.approx(idle_of(READ.changed(LATER[0])))
    panel.controls["clearance_change"].set_si(0.0)
    panel.update()
    assert panel.build_now.readings == READ.readings
    panel.controls["engine"].set_si(demo_set_ups()["small four"].engine)
    panel.update()
    assert panel.build_now.readings is None
    assert "Not calibrated" in panel.state["sheet"].verdict

    beside = panels.compare_set_ups(READ, STREET, wear=Q(1, "thou"))
    worn = build_sheet(tried(READ, READ.changed(LATER[0])), 30, whole=False).hardest
    assert beside.state["sides"][0].hardest.protected_time == pytest.approx(float(worn.protected_time.m_as("s")))
    for one in panel, beside:
        assert one.errors == []
        one.close()


def test_every_number_counts_with_the_readings_and_says_so() -> None:
    panel = panels.every_number(READ)
    assert float(Q(panel.state["idle"], "Pag").m_as("psig")) == pytest.approx(idle_of(READ))
    assert "never fills a vessel with 18.0 psig" in panel.summary(panel.state)
    assert "as typed it would be 19.0 psig" in panel.summary(panel.state)
    panel.close()


def test_readings_that_contradict_each_other_are_told_wherever_they_count() -> None:
    apart = READ.changed({"readings.hot_idle.pressure": "60 psi"})
    for panel in panels.every_number(apart), panels.compare_set_ups(apart, STREET), panels.your_engine(apart):
        words = panel.summary(panel.state)
        assert "trust no number here" in words
        panel.close()


def test_the_gauge_and_the_idle_of_the_readings_are_the_ones_shown() -> None:
    panel = panels.your_readings(STREET, hot_idle=Q(15, "psig"), gauge_full_scale=Q(60, "psig"))
    assert panel.build_now.readings.gauge_full_scale.m_as("psig") == pytest.approx(60.0)
    assert panel.build_now.readings.hot_idle.speed.m_as("rpm") == pytest.approx(700.0)
    panel.controls["idle_speed"].set_si(float(SPEED.from_display(900.0)))
    panel.update()
    assert panel.build_now.readings.hot_idle.speed.m_as("rpm") == pytest.approx(900.0)
    panel.close()
    later = panels.your_readings(tried(READ, READ.changed(LATER[2])))
    assert later.build_now.readings.oil.name == READ.oil.name
    assert "take [readings] out of the file first" in later.summary(later.state)
    later.close()


def test_another_car_that_is_loaded_brings_its_own_idle(tmp_path: Path) -> None:
    panel, race = panels.your_readings(STREET, hot_idle=Q(15, "psig")), demo_set_ups()["race V8"]
    panel.take(race)
    panel.controls["hot_idle"].set_si(Q(15, "psi").m_as("Pa"))
    panel.update()
    assert panel.build_now.readings.hot_idle.speed.m_as("rpm") == pytest.approx(race.engine.idle.m_as("rpm"))
    panel.close()
