"""What to buy: held against the build sheet of the same vessel, hose and pre-charge, and against what must hold."""

from __future__ import annotations

import numpy as np
import pytest

from oilkit import InputError, WhatToBuy, build_sheet, demo_set_ups, what_to_buy
from oilkit.quantities.kinds import GAUGE, VOLUME

DEMOS = demo_set_ups()


@pytest.fixture(scope="module")
def bought() -> WhatToBuy:
    return what_to_buy(DEMOS["street V8"])


def test_a_cell_is_what_a_build_sheet_of_the_same_parts_says(bought: WhatToBuy) -> None:
    row, column = 3, 1
    vessel, hose = bought.vessels[row], bought.hoses[column]
    changed = DEMOS["street V8"].changed(
        {
            "vessel.gas_volume": f"{vessel.gas_volume:~}",
            "vessel.bore": f"{vessel.bore:~}",
            "hose": hose,
            "choice.precharge": f"{bought.precharge.m_as('psig')[row]} psig",
        }
    )
    sheet = build_sheet(changed, 5, whole=False)
    alone = next(result for result in sheet.events if result.event.name == bought.event.name)
    assert bought.protected_time.m_as("s")[row, column] == pytest.approx(alone.protected_time.m_as("s"), rel=2e-3)


def test_more_gas_lasts_longer_and_the_worst_draw_less_long(bought: WhatToBuy) -> None:
    volumes = [vessel.si.gas_volume for vessel in bought.vessels]
    assert volumes == sorted(volumes)
    assert np.all(np.diff(bought.worst_draw.m, axis=0) > 0.0)
    assert np.all(bought.worst_draw.m < bought.protected_time.m)
    assert bought.hoses[bought.own] == DEMOS["street V8"].hose


@pytest.mark.parametrize("name", ["street V8", "race V8"])
def test_what_is_advised_fills_at_hot_idle_by_the_build_sheet_of_what_was_bought(name: str) -> None:
    bought = what_to_buy(DEMOS[name], 3)
    for vessel, charge in zip(bought.vessels, bought.precharge, strict=True):
        built = {"vessel": vessel, "choice.precharge": charge}
        cautions = build_sheet(DEMOS[name].changed(built), 1, whole=False).cautions
        assert not any("empties" in caution or "may empty" in caution for caution in cautions)


def test_the_words_name_the_least_that_is_enough_or_say_that_none_is(bought: WhatToBuy) -> None:
    row = int(np.argwhere(bought.share >= 1.0)[0][0])
    assert VOLUME.both(bought.vessels[row].si.gas_volume) in bought.words
    assert GAUGE.both(float(bought.precharge.m_as("Pag")[row])) in bought.words
    assert what_to_buy(DEMOS["huge clearances"], 3).words.startswith("None of these protects")


def test_a_vessel_rated_below_what_it_would_see_is_left_out() -> None:
    weak = what_to_buy(DEMOS["street V8"].changed({"vessel.rated_pressure": "50 psig"}), 2)
    assert DEMOS["street V8"].vessel.name not in [vessel.name for vessel in weak.vessels]


WEAK = {"vessel.rated_pressure": "60 psi", "vessel.gas_volume": "1.3 qt", "driving.events 1.lasts": "1.5 s"}


def test_nothing_is_advised_that_the_build_sheet_stops() -> None:
    """At the redline, with oil that is not hot yet, the vessel sees more than at the start of any event."""
    build = DEMOS["street V8"].changed(WEAK)
    assert build_sheet(build, 1, whole=False).above_rating
    bought = what_to_buy(build, 3)
    assert build.vessel not in bought.vessels
    for vessel in bought.vessels:
        assert not build_sheet(build.changed({"vessel": vessel}), 1, whole=False).above_rating


def test_no_vessel_strong_enough_is_one_sentence() -> None:
    pump = {"engine.pump.relief_opening": "280 psi", "engine.pump.relief_rated_pressure": "300 psi"}
    with pytest.raises(InputError, match=r"vessels rated up to 150.0 psig .* wanted one rated above 2"):
        what_to_buy(DEMOS["street V8"].changed(pump), 2)


def test_all_draws_are_all_draws_of_the_event_too(bought: WhatToBuy) -> None:
    """Its length is drawn as well: the shortest protected time of all draws may outlast the length as expected."""
    lasts = 0.99 * float(bought.worst_draw.m_as("s")[3, bought.own])
    corner = {"name": "corner", "speed": "4500 rpm", "lasts": f"{lasts} s", "pump_decay": "0.2 s"}
    events = [corner | {"acceleration": "0 g_0"}]
    shorter = what_to_buy(DEMOS["street V8"].changed({"driving.events": events}))
    enough = np.argwhere(shorter.share >= 1.0)
    assert np.any((shorter.worst_draw.m_as("s") >= lasts) & (shorter.share < 1.0))
    assert "in all 24 draws" in shorter.words
    assert VOLUME.both(shorter.vessels[int(enough[0][0])].si.gas_volume) in shorter.words


def test_what_is_bought_protects_every_event_and_not_the_hardest_alone() -> None:
    """A hairpin close to its limit is missed by most draws; the corner beside it needs many times the oil."""
    hairpin = {"driving.events 3.speed": "1000 rpm", "driving.events 3.lasts": "1 s", "choice.precharge": "24 psi"}
    build = DEMOS["street V8"].changed(hairpin)
    bought = what_to_buy(build)
    assert bought.event.name == build_sheet(build, 24, whole=False).hardest.event.name == "slow hairpin"
    row, column = bought.smallest or (0, 0)
    parts = {"vessel": bought.vessels[row], "hose": bought.hoses[column], "choice.precharge": bought.precharge[row]}
    found = build_sheet(build.changed(parts), 24, whole=False)
    assert [one.verdict for one in found.events] == ["protected"] * 3
    assert bought.share[row, column] <= min(one.share for one in found.events)
    less = [build_sheet(build.changed(parts | {"vessel": v}), 24, whole=False) for v in bought.vessels[:row]]
    assert all(any(one.verdict != "protected" for one in sheet.events) for sheet in less)


def test_where_none_is_enough_the_event_that_falls_short_is_named() -> None:
    """The own vessel is too small for the corner; the hairpin is beyond all of them."""
    hairpin = {"driving.events 3.speed": "780 rpm", "driving.events 3.lasts": "1.2 s"}
    bought = what_to_buy(DEMOS["tiny vessel"].changed(hairpin), 6)
    assert bought.event.name == "long fast corner"
    assert bought.words.startswith("None of these protects every event. In “slow hairpin”, at best ")


def test_a_vessel_that_no_shut_and_hot_oil_may_be_left_in_is_not_named_in_silence() -> None:
    weak = {"vessel.gas_volume": "6.5 qt", "vessel.rated_pressure": "75 psi", "choice.precharge": "11.2 psi"}
    build = DEMOS["street V8"].changed(weak)
    sheet = build_sheet(build, 2, whole=False)
    assert sheet.soaked > build.vessel.rated_pressure
    words = what_to_buy(build).words
    assert VOLUME.both(build.vessel.si.gas_volume) in words
    assert f"it has {GAUGE.both(sheet.soaked.m_as('Pag'))}, above its rating of 75.0 psig" in words


def test_readings_that_contradict_each_other_come_before_any_advice() -> None:
    hot = {"speed": "700 rpm", "oil_temperature": "230 degF"}
    readings = {
        "gauge_full_scale": "100 psi", "gauge_class": 1.6, "thermometer_error": "5 degF",
        "hot_idle": hot | {"pressure": "60 psi"}, "hot_at_speed": hot | {"pressure": "38 psi", "speed": "1500 rpm"},
    }  # fmt: skip
    words = what_to_buy(DEMOS["street V8"].changed({"readings": readings}), 2).words
    assert words.startswith("The gauge readings do not belong together.")
    assert "trust no number here" in words
    assert words.endswith("Buy nothing on these.")
    assert what_to_buy(DEMOS["street V8"], 2).words.endswith("Not calibrated: read hot idle first.")
