"""What a build sheet, its card and what to buy say on the safe side: ratings, cold oil, contradictions, few draws."""

from __future__ import annotations

import math
import re
from typing import Any

import numpy as np
import pytest

from oilkit import (
    InputError,
    Q,
    build_sheet,
    demo_set_ups,
    density,
    operating_point,
    overnight,
    pre_lube,
    precharge_at_temperature,
)
from oilkit.build.blocks import card_document, sheet_blocks
from oilkit.build.results import crank, how_robust, many_more
from oilkit.build.sheet import as_handed_over
from oilkit.shop.as_built import true_readings

DEMOS = demo_set_ups()
STREET = DEMOS["street V8"]


def quick(changes: dict[str, Any]) -> Any:
    return build_sheet(STREET.changed(changes), 20, whole=False)


def exact(typed: Any) -> Any:
    return re.sub(r"[\d.]+", "0", typed, count=1) if isinstance(typed, str) else 0.0


READ_COLD = {
    "gauge_full_scale": "100 psi", "gauge_class": 1.6, "thermometer_error": "5 degF",
    "hot_idle": {"pressure": "60 psi", "speed": "700 rpm", "oil_temperature": "230 degF"},
    "hot_at_speed": {"pressure": "38 psi", "speed": "1500 rpm", "oil_temperature": "230 degF"},
}  # fmt: skip


@pytest.mark.parametrize(
    ("changes", "caution"),
    [
        ({"vessel.rated_pressure": Q(70, "psig")}, "may lie 6.00 psi"),
        ({"vessel.rated_pressure": Q(80, "psig")}, "as hot as the sump's oil has 8"),
    ],
)
def test_little_room_below_the_rating_is_a_caution(changes: dict[str, Any], caution: str) -> None:
    sheet = quick(changes)
    assert not sheet.above_rating
    assert any(caution in one and "above its rating" in one for one in sheet.cautions)
    assert not any(caution in one for one in quick({}).cautions)


def test_cold_oil_before_the_filter_takes_the_vessel_higher_than_hot_oil() -> None:
    """Held against single operating points, one for each oil temperature."""
    sheet = quick({"line.tee": "before the filter"})
    b = sheet.build
    sump = Q(np.linspace(b.morning.temperature.m_as("degC"), b.driving.sump_temperature.m_as("degC"), 40), "degC")
    fast = operating_point(b.engine, b.oil, b.engine.redline, sump, b.driving.clearance_change)
    highest = float(np.max(fast.pump_pressure.m_as("psig")))
    assert highest > float(fast.pump_pressure.m_as("psig")[-1]) + 2.0
    assert float(sheet.highest[1].m_as("psig")) == pytest.approx(highest, abs=0.3)


def test_filled_cold_at_high_speed_and_left_shut_is_a_caution() -> None:
    """Held against a single operating point and a single night, with a vessel that stands it."""
    sheet = build_sheet(DEMOS["race V8"], 1, whole=False)
    assert sheet.soaked < sheet.build.vessel.rated_pressure < sheet.shut_fast[1]
    assert any("never leave a vessel shut that was filled cold" in caution for caution in sheet.cautions)
    b = DEMOS["race V8"].changed({"vessel.rated_pressure": Q(200, "psig")})
    cold, hot = b.morning.temperature, b.driving.sump_temperature
    full = operating_point(b.engine, b.oil, b.engine.redline, cold, b.driving.clearance_change).gallery_pressure
    charge = precharge_at_temperature(
        b.choice.precharge, b.driving.gas_temperature, cold, b.track_ambient, b.track_ambient
    )
    shut = overnight(b.vessel, b.oil, charge, full, cold, cold, hot, ambient=b.track_ambient).pressure
    strong = build_sheet(b, 1, whole=False)
    assert strong.shut_fast[1].m_as("psig") == pytest.approx(shut.m_as("psig"), rel=1e-9)
    assert not any("never leave a vessel shut" in caution for caution in strong.cautions)


def test_oil_that_stands_above_the_vessel_counts_for_its_rating() -> None:
    level, low, high = (quick({"line.height": Q(m, "m")}) for m in (0.0, -1.5, 1.5))
    b = low.build
    weight = density(b.morning.temperature, b.oil.density_15, b.oil.expansion) * Q(9.80665, "m/s**2") * Q(1.5, "m")
    more = low.highest[1].m_as("Pag") - level.highest[1].m_as("Pag")
    assert more == pytest.approx(weight.m_as("Pa"), rel=1e-6)
    assert low.soaked > level.soaked
    assert high.highest[1].m == level.highest[1].m


def test_below_the_engines_warning_only_the_gauges_error_keeps_a_gallery_from_failing() -> None:
    sheet = build_sheet(STREET.changed({"driving.clearance_change": Q(1.5, "thou")}), 20)
    (idle,) = (v for v in sheet.acceptance if v.reading == "idle_gallery")
    warning = float(sheet.build.engine.warning.m_as("psig"))
    surely = warning - 3.5 * 0.8  # a 100 psi gauge of class 1.6
    assert {idle.judge(Q(psig, "psig")) for psig in (8.0, 12.0, surely - 0.01)} == {"fail"}
    assert {idle.judge(Q(psig, "psig")) for psig in (surely + 0.01, warning - 0.01)} <= {"doubtful", "fail"}
    assert not idle.passes
    rows = {row[0]: row for block in sheet_blocks(sheet) for row in block.rows}
    assert rows[idle.label][2] == "none: too low"


def test_nobody_waits_for_less_than_it_takes_to_crank() -> None:
    with pytest.raises(InputError, match=r"wait_for: got 1\.0 psig .*wanted .* from 10\.0 psig"):
        STREET.changed({"morning.wait_for": "1 psi"})
    assert STREET.changed({"morning.wait_for": "10 psi"}).morning.wait_for == Q(10, "psig")


def test_below_freezing_a_pre_lube_takes_longer_than_computed() -> None:
    cold, mild = (quick({"morning.temperature": Q(celsius, "degC")}) for celsius in (-1.0, 0.0))
    after = float(cold.morning.crank_after.m_as("s"))
    assert crank(cold) == f"{math.ceil(after)} s or more"
    assert crank(mild) == f"{mild.morning.crank_after.m_as('s'):.2f} s"
    told = ["lower bound" in " ".join(sheet.cautions) for sheet in (cold, mild)]
    assert told == [True, False]


def test_seal_friction_can_keep_a_pre_lube_from_the_least_to_crank() -> None:
    """By hand: a piston passes on the gas's pressure less friction; the gallery lies below by what the line costs."""
    loose = DEMOS["huge clearances"]
    none, held = (
        build_sheet(loose.changed({"estimates.seal_friction": Q(psi, "psi")}), 1, whole=False) for psi in (0, 4)
    )
    assert held.morning.peak_pressure < Q(10, "psig") < none.morning.peak_pressure
    lower = none.morning.peak_pressure.m_as("psig") - held.morning.peak_pressure.m_as("psig")
    assert 0.9 * 4.0 < lower < 4.0
    assert crank(held) == "not at all: warm engine and oil first"
    assert any("Do not crank below" in caution for caution in held.cautions)
    assert not any("Do not crank below" in caution for caution in none.cautions)


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"estimates.seal_friction": Q(5, "psi")},
        {"driving.clearance_change": Q(1, "thou")},
        {"estimates.air_in_gallery": 0.2},
        {"line.height": Q(1.5, "m")},
        {"line.height": Q(-1.5, "m")},
    ],
)
def test_the_pre_lube_is_that_of_the_set_up(changes: dict[str, Any]) -> None:
    """Composed here by hand; in the evening vessel plus head of warm oil balance the tee, in the morning cold oil's."""
    sheet = quick(changes)
    b, usual = sheet.build, quick({}).morning
    metre = Q(9.80665, "m/s**2") * b.line.height
    warm, cold = (
        density(t, b.oil.density_15, b.oil.expansion) * metre
        for t in (b.driving.line_temperature, b.morning.temperature)
    )
    full = Q(sheet.running_pressure.m_as("Pag") - warm.m_as("Pa"), "Pag")
    night = overnight(
        b.vessel, b.oil, b.choice.precharge, full, b.driving.gas_temperature, b.driving.line_temperature,
        b.morning.temperature, ambient=b.track_ambient,
    )  # fmt: skip
    assert sheet.night.pressure.m == pytest.approx(night.pressure.m, rel=1e-9)
    run = pre_lube(
        b.fitted.installation, b.valve, night.precharge, night.pressure, b.morning.temperature,
        b.morning.empty_galleries, b.morning.wait_for, b.morning.opening_time,
        heat_transfer=b.estimates.heat_transfer, leak=b.estimates.check_valve_leak, ambient=b.track_ambient,
        seal_friction=b.estimates.seal_friction, clearance_change=b.driving.clearance_change, head=cold,
        air_in_gallery=b.estimates.air_in_gallery,
    )  # fmt: skip
    assert sheet.morning.peak_pressure.m == pytest.approx(run.peak_pressure.m, rel=1e-6)
    assert sheet.morning.crank_after.m == pytest.approx(run.crank_after.m, rel=1e-6)
    if changes and "line.height" not in changes:
        assert sheet.morning.peak_pressure.m < 0.99 * usual.peak_pressure.m, "each costs pressure"


def test_a_vessel_high_up_that_its_oils_weight_keeps_empty_has_no_pre_lube() -> None:
    charge = Q(quick({}).running_pressure.m_as("psig") - 1.0, "psig")  # 1.5 m of oil weigh some 1.8 psi
    low, high = (quick({"line.height": Q(m, "m"), "choice.precharge": charge}) for m in (0.0, 1.5))
    assert low.morning is not None
    assert high.morning is None
    assert crank(high) == "the vessel holds no oil"


def test_the_shop_turns_no_engine_faster_than_half_its_redline() -> None:
    slow = STREET.changed({"engine.redline": "4000 rpm", "driving.events 1.speed": "3800 rpm"})
    sheet = build_sheet(slow, 20)
    shown = {v.reading: v for v in sheet.acceptance}
    assert shown["middle_gallery"].label == "far gallery gauge, hot at 2000 rpm"
    rows = [block.head for block in sheet_blocks(sheet) if block.title.startswith("Acceptance")]
    assert "2000 rpm" in rows[0][0]
    b = slow
    point = operating_point(b.engine, b.oil, Q(2000, "rpm"), b.driving.sump_temperature, b.driving.clearance_change)
    read = true_readings(as_handed_over(b))["middle_gallery"]
    assert read == pytest.approx(point.gallery_pressure.m_as("Pag"), rel=2e-3)


@pytest.mark.parametrize(
    ("changes", "asked"),
    [
        ({"limits.lowest_pressure": "2 psi"}, "bearings are damaged: was so little meant?"),
        ({"morning.temperature": Q(41, "degC")}, "temperature under [morning]"),
        (
            {f"uncertain.{key}": exact(typed) for key, typed in STREET.document["uncertain"].items()},
            "nothing is off under [uncertain]",
        ),
    ],
)  # fmt: skip
def test_what_is_comfortable_by_mistake_is_asked_about(changes: dict[str, Any], asked: str) -> None:
    assert any(asked in question for question in STREET.changed(changes).questions)
    assert not STREET.questions


def test_few_draws_tell_nothing_of_how_robust_it_is() -> None:
    build = DEMOS["small four"]
    assert build_sheet(build, 1, whole=False).verdict.count("too few draws to say how robust") == 1
    assert ": robust." in build_sheet(build, 60, whole=False).verdict
    assert [how_robust(share, draws) for share, draws in ((0.95, 20), (0.95, 60), (1.0, 20))] == [
        "fair", "robust", "robust",
    ]  # fmt: skip
    assert many_more(0.95, 60) == "86 to 98 %"  # Wilson's interval by hand: (0.95 + 0.032 -+ 0.0638) / 1.064


def test_tighter_bearings_are_named_with_a_charge_that_their_idle_fills() -> None:
    corner = {"name": "corner", "speed": "4500 rpm", "lasts": "3 s", "pump_decay": "0.2 s", "acceleration": "0 g_0"}
    worn = {"driving.events": [corner], "driving.clearance_change": "1.5 thou", "choice.precharge": "8 psi"}
    words = build_sheet(STREET.changed(worn), 20).verdict
    found = re.search(r"so would mains and rods ([\d.]+) thou .* tighter with this vessel and ([\d.]+) psig", words)
    assert found
    change = {"driving.clearance_change": Q(1.5 - float(found[1]), "thou")}
    tighter = STREET.changed(worn | change | {"choice.precharge": Q(float(found[2]), "psig")})
    sheet = build_sheet(tighter, 20, whole=False)
    assert not any("empties" in caution or "may empty" in caution for caution in sheet.cautions)
    assert sheet.hardest.protected_time >= 0.97 * sheet.hardest.event.lasts


def card_words(changes: dict[str, Any], name: str = "small four") -> tuple[str, dict[str, Any]]:
    document = card_document(build_sheet(DEMOS[name].changed(changes), 20))
    return document.verdict, {row[0]: row for row in document.blocks[3].rows}


def test_the_card_passes_over_no_caution_in_silence() -> None:
    verdict, _ = card_words({"morning.temperature": Q(-30, "degC")})
    count = len(build_sheet(DEMOS["small four"].changed({"morning.temperature": Q(-30, "degC")}), 20).cautions) - 2
    assert f"Cautions on the build sheet: {count}. Read them first." in verdict
    verdict, _ = card_words({"shop.gauge_full_scale": Q(10, "psig")})
    assert "cannot show what is to be set" in verdict


def test_what_the_card_passes_is_never_what_it_stops() -> None:
    """The limit typed above the engine's warning: below it nothing passes either."""
    limit = {"limits.lowest_pressure": Q(24, "psig")}
    build = DEMOS["small four"].changed(limit)
    assert build.engine.warning < Q(24, "psig")
    sheet = build_sheet(build, 20)
    held = [v for v in sheet.acceptance if v.reading in ("idle_gallery", "middle_gallery")]
    assert held
    assert all(v.low.m_as("psig") >= 24.0 - 1e-9 or v.low >= v.high for v in held)


def test_the_cards_charge_passes_within_the_gauges_error_whatever_the_builder_doubts() -> None:
    charge, day = {}, {}
    for doubt in (0.0, 3.0):
        _, rows = card_words({"uncertain.precharge": Q(doubt, "psi")}, "street V8")
        charge[doubt], day[doubt] = (next(r for r in rows.values() if w in r[0]) for w in ("vented", "a day later"))
    assert charge[0.0] == charge[3.0]
    assert all(row[0].endswith(", 65 °F") for row in (charge[0.0], day[0.0]))
    low, high = (float(psig) for psig in re.findall(r"[\d.]+", charge[0.0][2]))
    both = 2.0 * math.hypot(0.016 * 60.0 / 2.0, 0.25)  # the shop's gauge when it is set, another of low range
    assert high - low == pytest.approx(2.0 * both, abs=0.11)
    assert day[0.0][1] == "as set"
    # 0.3 % of some 30 psi in a day, and 0.25 psi at each reading, half of its variance the same in both
    within = re.fullmatch(r"within ([\d.]+) psi", day[0.0][2])
    assert within
    assert float(within[1]) == pytest.approx(0.003 * 29.5 + 2.0 * 0.25, abs=0.01)


@pytest.mark.parametrize(("full", "marks"), [(16.5, True), (60.0, False)])
def test_what_the_shops_gauge_cannot_show_is_marked_on_the_card(full: float, marks: bool) -> None:
    sheet = build_sheet(STREET.changed({"shop.gauge_full_scale": Q(full, "psig")}), 1, whole=False)
    block = card_document(sheet).blocks[1]
    _, *settings = block.rows[0]
    assert [cell.endswith("*") for cell in settings] == [float(cell.split()[0]) > full for cell in settings]
    assert any(cell.endswith("*") for cell in settings) == marks == ("* Beyond your gauge." in " ".join(block.lines))


def test_readings_that_do_not_belong_together_pass_nothing() -> None:
    verdict, rows = card_words({"readings": READ_COLD}, "street V8")
    assert "TRUST NO NUMBER HERE" in verdict
    assert {row[1] for label, row in rows.items() if label != "initials"} == {"read again first"}
    sheet = build_sheet(STREET.changed({"readings": READ_COLD}), 20, whole=False)
    assert "As expected" not in sheet.verdict
