"""What to buy: held against the build sheet of the same vessel, hose and pre-charge, and against what must hold."""

from __future__ import annotations

import numpy as np
import pytest

from oilkit import WhatToBuy, build_sheet, demo_set_ups, what_to_buy
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
def test_no_advice_fills_only_above_hot_idle(name: str) -> None:
    idle = build_sheet(DEMOS[name], 1, whole=False).idle_pressure
    assert np.all(what_to_buy(DEMOS[name], 3).precharge.m_as("psig") < idle.m_as("psig"))


def test_the_words_name_the_least_that_is_enough_or_say_that_none_is(bought: WhatToBuy) -> None:
    enough = np.argwhere(bought.worst_draw.m_as("s") >= bought.event.si.lasts)
    row = int(enough[0][0])
    assert VOLUME.both(bought.vessels[row].si.gas_volume) in bought.words
    assert GAUGE.both(float(bought.precharge.m_as("Pag")[row])) in bought.words
    assert what_to_buy(DEMOS["huge clearances"], 3).words.startswith("None of these protects")


def test_a_vessel_rated_below_what_it_would_see_is_left_out() -> None:
    weak = what_to_buy(DEMOS["street V8"].changed({"vessel.rated_pressure": "50 psig"}), 2)
    assert DEMOS["street V8"].vessel.name not in [vessel.name for vessel in weak.vessels]
