"""A car of one's own in every lesson's lists: chosen once, read anew when its file changes, told when it is gone."""

from __future__ import annotations

import math
import os
import random
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from panel_answers import ANSWERS
from sentences import refused

from oilkit import Q, demo_set_ups, kit_lap, panels, read_set_up, use_units, write_set_up
from oilkit.build.calibration import calibrate
from oilkit.build.measured import SHORTEST, events_of
from oilkit.build.own_car import APART, LISTED, YOURS, choose_car, own_car
from oilkit.build.setup_file import Build
from oilkit.build.sheet import as_handed_over, unknowns_of
from oilkit.build.spread import head
from oilkit.laps.cornering import Starved
from oilkit.panels.framework.controls import Choice
from oilkit.panels.lessons.lesson_09_card import bench_of, card_for, unknowns_for
from oilkit.physics.engine import operating_point
from oilkit.physics.vessel import precharge_to_set
from oilkit.quantities.records import data_file
from oilkit.shop.as_built import READINGS
from oilkit.shop.faults import Bench, case, confusions
from oilkit.storage.settings import save_car

CARS = int(os.environ.get("OILKIT_CARS", "2"))
"""Random cars; a larger number tries more."""


@pytest.fixture
def car(tmp_path: Path) -> Iterator[Path]:
    path = tmp_path / "mine.toml"
    write_set_up(demo_set_ups()["small four"].changed({"engine.name": "my four", "vessel.name": "my vessel"}), path)
    choose_car(path)
    yield path
    save_car("")


def lists(panel: Any) -> list[Choice]:
    return [c for name, c in panel.controls.items() if name in LISTED and isinstance(c, Choice)]


def own(choice: Choice) -> list[str]:
    return [text for text, _ in choice.options if text.startswith(YOURS)]


def take(panel: Any) -> int:
    """Choose one's own car in all lists of a panel; returns in how many."""
    found = [(choice, own(choice)) for choice in lists(panel)]
    for choice, texts in found:
        for text in texts:
            choice.buttons.value = text
    return sum(bool(texts) for _, texts in found)


def test_it_stands_in_every_list_of_engines_and_the_panels_count_with_it(car: Path) -> None:
    with_lists = 0
    for name in ("pump_lets_go", "demand_ledger", "lap", "pre_lube", "oil_line", "acceptance"):
        panel = getattr(panels, name)()
        before = dict(panel.readout)
        assert take(panel) >= len(lists(panel)) - (name == "pre_lube") > 0, name  # of hoses that one has three
        assert (panel.trouble, panel.errors) == ("", [])
        assert panel.readout != before, name
        with_lists += 1
        panel.close()
    assert with_lists == 6


def test_an_own_engine_comes_with_its_oil_and_vessel(car: Path) -> None:
    from oilkit.panels.framework.choices import car_or_trouble
    from oilkit.panels.lessons.lesson_06_car import built, line_of
    from oilkit.physics.catalog import engines, hoses, lubricants

    mine, _ = car_or_trouble()  # as each list asks for it
    assert mine is not None
    line = line_of(hoses()["trade_12"], 2.0)
    assert (built(mine.engine, line).vessel, built(mine.engine, line).oil) == (mine.vessel, mine.oil)
    assert built(engines()["race_v8"], line).oil == lubricants()["street"]


def test_what_its_set_up_says_moves_with_its_engine(car: Path) -> None:
    mine = own_car()
    assert mine is not None
    first, driving, u = mine.events[0], mine.driving, mine.uncertain
    to_set = precharge_to_set(
        mine.choice.precharge, mine.shop.temperature, driving.gas_temperature, mine.shop_ambient, mine.track_ambient
    )
    for name, wanted in (
        ("pump_lets_go", {"precharge": mine.choice.precharge, "sump": driving.sump_temperature, "speed": first.speed}),
        ("precharge_map", {"precharge": mine.choice.precharge, "event": first.lasts}),
        ("robust_choice", {"event_spread": u.event_length, "temperature_spread": u.sump_temperature}),
        ("dip_microscope", {"decay": first.pump_decay, "length": mine.line.length}),
        ("acceptance", {"precharge": to_set}),
        ("pre_lube", {"temperature": mine.morning.temperature, "wanted": mine.morning.wait_for}),
    ):
        panel = getattr(panels, name)()
        opened = {key: panel.controls[key].value for key in wanted}
        panel.controls["engine"].buttons.value = own(panel.controls["engine"])[0]
        for key, value in wanted.items():
            control = panel.controls[key]
            assert control.value == pytest.approx(float(value.m_as(control.kind.si)), rel=1e-9), (name, key)
        assert any(panel.controls[key].value != before for key, before in opened.items()), name
        assert not panel.errors
        assert not panel.trouble
        panel.reset()
        assert {key: panel.controls[key].value for key in wanted} == pytest.approx(opened)
        panel.close()


def test_its_engine_is_the_one_that_the_readings_say(tmp_path: Path) -> None:
    """Hot idle by the lists' engine is nearer to the gauge than by the typed guesses."""
    path = tmp_path / "read.toml"
    street = demo_set_ups()["street V8"]
    idle, hot = street.engine.idle, street.driving.sump_temperature
    typed = operating_point(street.engine, street.oil, idle, hot, street.driving.clearance_change).gallery_pressure
    read = typed.m_as("psig") - 4.0
    reading = {"pressure": f"{read:.1f} psi", "speed": "700 rpm", "oil_temperature": "230 degF"}
    gauge = {"gauge_full_scale": "100 psi", "gauge_class": 1.6, "thermometer_error": "5 degF"}
    write_set_up(street.changed({"readings": gauge | {"hot_idle": reading}}), path)
    choose_car(path)
    mine = own_car()
    assert mine is not None
    found = operating_point(mine.engine, mine.oil, idle, hot).gallery_pressure.m_as("psig")
    assert abs(found - read) < 0.5 * abs(typed.m_as("psig") - read)
    save_car("")


def test_readings_that_contradict_each_other_are_not_counted_with_and_told_beside_the_list(tmp_path: Path) -> None:
    """Hot idle above what is read at twice the speed: the lists have the engine as typed, and say so."""
    path = tmp_path / "apart.toml"
    hot = {"speed": "700 rpm", "oil_temperature": "230 degF"}
    readings = {
        "hot_idle": hot | {"pressure": "60 psi"},
        "hot_at_speed": hot | {"pressure": "38 psi", "speed": "1500 rpm"},
    }
    street = demo_set_ups()["street V8"].changed({"driving.clearance_change": "0 thou"})
    write_set_up(street.changed({"readings": GAUGES | readings}), path)
    choose_car(path)
    mine = own_car()
    assert mine is not None
    assert mine.engine == replace(street.engine, name=mine.engine.name)
    assert "as typed" in mine.engine.name
    for name in ("pump_lets_go", "acceptance"):
        panel = getattr(panels, name)()
        assert panel.trouble == APART
        assert take(panel)
        assert (panel.trouble, panel.errors) == ("", [])
        panel.close()
    form = panels.your_engine()
    assert form._file.value == str(path), "where it is put right"
    form.close()
    for good in ({}, {"readings": GAUGES}, {"readings": GAUGES | READ}):
        write_set_up(demo_set_ups()["small four"].changed(good), path, overwrite=True)
        os.utime(path, ns=(1, len(good) + len(str(good))))
        panel = panels.pump_lets_go()
        assert (panel.trouble, bool(take(panel))) == ("", True)
        panel.close()
    save_car("")


READ = {
    "hot_idle": {"pressure": "26 psi", "speed": "850 rpm", "oil_temperature": "230 degF"},
    "hot_at_speed": {"pressure": "62 psi", "speed": "4000 rpm", "oil_temperature": "230 degF"},
}
GAUGES = {"gauge_full_scale": "100 psi", "gauge_class": 1.6, "thermometer_error": "5 degF"}


def test_what_its_readings_say_narrows_the_card_and_the_fault_bench(tmp_path: Path) -> None:
    """The same car with guesses alone and with two readings: bands, and how far cases and beliefs spread."""
    found = {}
    for name, readings in (("guessed", None), ("read", GAUGES | READ)):
        build = demo_set_ups()["small four"]
        path = tmp_path / f"{name}.toml"
        write_set_up(build.changed({"readings": readings}) if readings else build, path)
        choose_car(path)
        panel = panels.fault_bench()
        panel.controls["engine"].buttons.value = own(panel.controls["engine"])[0]
        panel._hint.click()
        assert "I would test next" in panel.note, panel.note
        panel.controls["fault"].buttons.value = panel.controls["fault"].options[1][0]
        panel._name.click()
        assert panel.ending is not None
        assert not panel.trouble
        assert not panel.errors
        engine = panel.controls["engine"].value
        band = card_for(engine)[1]["idle_gallery"].ends
        true = [case(k, card_for(engine)[0], "healthy", unknowns_for(engine)).true["idle_gallery"] for k in range(40)]
        k = list(READINGS).index("idle_gallery")
        found[name] = band[1] - band[0], float(np.std(true)), math.sqrt(bench_of(engine).covariance[k, k])
        panel.close()
    save_car("")
    for wide, narrow in zip(found["guessed"], found["read"], strict=True):
        assert narrow < 0.7 * wide, found


@pytest.mark.thorough
def test_the_script_names_faults_on_a_car_that_is_known_by_its_readings() -> None:
    """100 cases on a car of two readings, drawn from what they leave open: at least 90 % named."""
    build = calibrate(demo_set_ups()["small four"].changed({"readings": GAUGES | READ})).in_use
    planned = as_handed_over(build)
    found = confusions(Bench(planned, unknowns_of(build)), 100)
    assert found.right / found.cases >= 0.9, found


def test_nobody_has_one_until_it_is_chosen() -> None:
    assert own_car() is None
    panel = panels.pump_lets_go()
    assert take(panel) == 0
    panel.close()


def test_a_changed_file_counts_at_once_and_a_lost_one_is_told_beside_the_list(car: Path) -> None:
    changed = demo_set_ups()["race V8"].changed({"engine.name": "my eight"})
    write_set_up(changed, car, overwrite=True)
    os.utime(car, ns=(1, 1))
    mine = own_car()
    assert mine is not None
    assert mine.engine.name == f"{YOURS}'s engine: my eight"
    car.unlink()
    refused(YOURS, own_car)
    panel = panels.pump_lets_go()
    assert "mine.toml" in panel.trouble
    assert take(panel) == 0
    panel.close()
    refused("nothing.toml", lambda: choose_car(car.with_name("nothing.toml")))


def test_stretches_of_a_log_become_its_events_when_pressed_twice(car: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(car.parent)
    panel = panels.own_log()
    panel._to_car.click()
    assert "invented" in panel.controls["log"].error + panel.trouble, "the kit's own lap is nobody's car"
    (car.parent / "mine.csv").write_bytes(data_file("lap.csv").read_bytes())
    panel.controls["log"].area.value = panel.controls["log"].value.replace("lap.csv", "mine.csv")
    found = [one for one in panel.state["starved"] if (one.end - one.start).m_as("s") >= SHORTEST]
    before = read_set_up(car)
    panel._to_car.click()
    assert (panel.errors, panel.trouble) == ([], "")
    assert read_set_up(car).document == before.document, "first it says what would change"
    assert f"driving.events {len(before.events) + 1}" in panel._note.value
    assert "Log with the valve shut" in panel._note.value
    assert "change its sign" in panel._note.value
    panel._to_car.click()
    after = read_set_up(car)
    assert (after.engine, after.vessel) == (before.engine, before.vessel)
    assert after.events[: len(before.events)] == before.events, "none that was there goes"
    added = after.events[len(before.events) :]
    assert [e.si.lasts for e in added] == pytest.approx(
        [float((s.end - s.falls_from).m_as("s")) for s in found], abs=1e-3
    )
    assert all(s.falls_from <= s.start for s in found)
    log = panel.data
    for event, stretch in zip(added, found, strict=True):
        within = (log.si["time"] >= stretch.falls_from.m_as("s")) & (log.si["time"] <= stretch.end.m_as("s"))
        assert event.si.speed == pytest.approx(log.si["rpm"][within].max(), rel=1e-3), "the highest asks most"
        along = abs(log.si["longitudinal"][within].mean())
        assert event.si.acceleration == pytest.approx(-along, abs=0.005 * 9.81), "it holds the oil back"
    assert len([path for path in car.parent.iterdir() if path.suffix == ".toml"]) == 2, "the older file is kept beside"
    panel._to_car.click()
    assert "already" in panel._note.value, "the same stretches are not taken twice"
    panel.controls["log"].area.value = panel.controls["log"].value.replace("mine.csv", "none.csv")
    panel._to_car.click()
    assert "put right first" in panel.trouble
    panel.close()
    save_car("")
    alone = panels.measure_by_fall()
    alone._to_car.click()
    assert "none chosen yet" in alone.trouble
    alone.close()


@pytest.mark.parametrize("reach", [1.2, -3.0])
@pytest.mark.parametrize("turned", [1.0, -1.0])
def test_a_logs_acceleration_holds_the_oil_back_wherever_the_vessel_lies(reach: float, turned: float) -> None:
    lap = kit_lap()
    log = replace(lap, longitudinal=turned * lap.longitudinal)
    starved = [Starved(Q(a, "s"), Q(a + 2, "s"), Q(0, "psig"), Q(0, "m"), Q(1, "g_0"), Q(a, "s")) for a in (5.0, 30.0)]
    car = demo_set_ups()["street V8"].changed({"line.reach": Q(reach, "m")})
    found = events_of(log, starved, reach=reach)
    driving = car.document["driving"] | {"events": found}
    for event in car.changed({"driving": driving}).events:
        assert abs(event.si.acceleration) > 0.1
        assert head(car, 850.0, event.si.acceleration) < 0.0


def test_a_form_opens_with_your_car_and_never_writes_over_another(car: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(car.parent)
    for name in ("your_engine", "your_readings"):
        form = getattr(panels, name)()
        assert form.build_now.engine.name == "my four"
        assert form._file.value == car.name
        form._save.click()
        assert form.trouble == ""
        form.close()
    save_car("")
    form = panels.your_engine()  # the kit's street V8
    form._file.value = car.name
    before = car.read_bytes()
    for press in (form._save, form._card, form._everywhere):
        press.click()
        assert "another set-up" in form.trouble
    assert car.read_bytes() == before
    form.close()


@pytest.mark.parametrize(("name", "speed"), [("measure_by_fall", 0.0), ("measure_by_pump", None)])
def test_a_measured_demand_becomes_a_reading(car: Path, name: str, speed: float | None) -> None:
    panel = getattr(panels, name)()
    for _ in range(2):
        panel._to_car.click()
        assert (panel.errors, panel.trouble) == ([], "")
    readings = read_set_up(car).readings
    assert readings is not None
    assert readings.demand is not None
    assert readings.demand.flow.m_as("gpm") == pytest.approx(panel.values["so the engine takes"].m_as("gpm"), abs=1e-3)
    low, high = (panel.values[row].m_as("gpm") for row in ("19 times in 20 the truth is above", "… and below"))
    assert readings.demand.within.m_as("gpm") == pytest.approx(0.5 * (high - low), abs=1e-3)
    assert speed is None or readings.demand.speed.m_as("rpm") == speed
    panel._to_car.click()
    assert "already" in panel._note.value
    panel.close()


def test_what_a_bench_found_becomes_the_vessel(car: Path) -> None:
    panel = panels.bench_fit()
    for _ in range(2):
        panel._to_car.click()
        assert (panel.errors, panel.trouble) == ([], "")
    vessel, fit = read_set_up(car).vessel, panel.state["fit"]
    assert vessel.gas_volume.m_as("qt") == pytest.approx(fit.parameters["gas_volume"].value.m_as("qt"), rel=1e-4)
    assert read_set_up(car).estimates.seal_friction.m_as("psi") == pytest.approx(
        fit.parameters["friction"].value.m_as("psi"), abs=0.01
    )
    panel.close()


def test_lesson_10_saves_a_car_and_has_it_in_every_list(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    form = panels.your_engine()
    form.controls["precharge"].box.value = "14 psi"
    form._everywhere.click()
    assert (form.errors, form.trouble) == ([], "")
    mine = own_car()
    assert mine is not None
    assert mine.choice.precharge.m_as("psig") == pytest.approx(14.0)
    panel = panels.pump_lets_go()
    assert take(panel) >= 1
    for opened in form, panel:
        opened.close()
    save_car("")


def random_car(dice: random.Random) -> Build:
    """A plausible car: numbers of a demo's, each up to a quarter more or less."""
    base = demo_set_ups()[dice.choice(["street V8", "small four", "race V8"])]

    def near(value: Any) -> Any:
        return value * dice.uniform(0.8, 1.25)

    return base.changed(
        {
            "engine.name": "mine",
            "engine.mains.diametral_clearance": near(base.engine.mains.diametral_clearance),
            "engine.rods.diametral_clearance": near(base.engine.rods.diametral_clearance),
            "engine.mains.diameter": near(base.engine.mains.diameter),
            "engine.pump.displacement": near(base.engine.pump.displacement),
            "engine.redline": Q(dice.choice([5500, 6500, 7500, 9000]), "rpm"),
            "vessel.gas_volume": Q(dice.uniform(1.0, 8.0), "qt"),
            "vessel.bore": Q(dice.uniform(3.0, 6.0), "in"),
            "hose.bore": Q(dice.uniform(0.45, 1.0), "in"),
        }
        | ({"readings": GAUGES | {"hot_idle": random_idle(dice, base)}} if dice.random() < 0.5 else {})
    )


def random_idle(dice: random.Random, base: Build) -> dict[str, str]:
    """A hot idle as somebody might read it, whatever the guesses say."""
    speed = base.engine.idle.m_as("rpm") * dice.uniform(0.9, 1.2)
    pressure, warm = dice.uniform(8.0, 45.0), dice.uniform(180.0, 250.0)
    return {"pressure": f"{pressure:.0f} psi", "speed": f"{speed:.0f} rpm", "oil_temperature": f"{warm:.0f} degF"}


@pytest.mark.thorough
@pytest.mark.parametrize("number", range(CARS))
def test_random_cars_in_all_panels(tmp_path: Path, number: int) -> None:
    """No exception, no NaN, whatever the engine; the lists have one's own car and the panels count with it."""
    use_units(["US", "SI"][number % 2])
    names = with_lists()
    assert len(names) > 15
    path = tmp_path / "mine.toml"
    write_set_up(random_car(random.Random(f"car {number}")), path)
    choose_car(path)
    taken = 0
    for name in names:
        panel = getattr(panels, name)()
        taken += bool(take(panel))
        assert panel.errors == [], name
        assert "nan" not in str(panel.readout).lower(), name
        panel.close()
    assert taken > 15
    save_car("")


@cache
def with_lists() -> list[str]:
    """Panels that have such lists."""
    found = []
    for name in sorted(ANSWERS):
        panel = getattr(panels, name)()
        if lists(panel):
            found.append(name)
        panel.close()
    return found
