"""What a build sheet, its card and what to buy say on the safe side: ratings, cold oil, contradictions, few draws."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pytest

from oilkit import Q, build_sheet, demo_set_ups, operating_point
from oilkit.build.blocks import card_document

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
    assert "robust" in build_sheet(build, 20, whole=False).verdict


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


def test_readings_that_do_not_belong_together_pass_nothing() -> None:
    verdict, rows = card_words({"readings": READ_COLD}, "street V8")
    assert "TRUST NO NUMBER HERE" in verdict
    assert {row[1] for label, row in rows.items() if label != "initials"} == {"read again first"}
    sheet = build_sheet(STREET.changed({"readings": READ_COLD}), 20, whole=False)
    assert "As expected" not in sheet.verdict
