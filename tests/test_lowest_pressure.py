"""No shop test and no step in its right place takes a healthy engine below its warning; a wrong one says so."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from parts import quick

from oilkit import Job, Q, engines, lowest_gallery, operating_point, play, usual_installation, usual_job
from oilkit.shop import as_built
from oilkit.shop.as_built import SHOP_TESTS
from oilkit.shop.faults import demo_set_up
from oilkit.shop.procedures import PROCEDURES
from oilkit.shop.set_up import SetUp
from oilkit.shop.steps import DANGER

JOBS = {
    "street_v8": usual_job(),
    "small_four": Job(installation=usual_installation("small_four", "bench")),
    "race_v8": Job(installation=usual_installation("race_v8", "large"), fast_idle=Q(1500, "rpm")),
}
EVERY = pytest.mark.parametrize("engine", engines())


@EVERY
def test_no_shop_test_goes_below_the_warning(engine: str) -> None:
    found, warning = lowest_gallery(demo_set_up(engine)), engines()[engine].warning
    assert list(found) == list(SHOP_TESTS)
    turning = {key: low for key, low in found.items() if low is not None}
    assert found.keys() - turning.keys() == {"sample", "vented", "next_day"}
    assert {key: low for key, low in turning.items() if low < warning} == {}


@EVERY
def test_opened_at_once_on_an_empty_vessel_it_would(engine: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """The reason for a hand valve that is barely open."""
    monkeypatch.setattr(as_built, "BARELY_OPEN", 1.0)
    low = lowest_gallery(demo_set_up(engine))["middle"]
    assert low is not None
    assert low < engines()[engine].warning


@EVERY
def test_at_idle_nothing_is_lower_than_the_engine_s_own_pressure(engine: str) -> None:
    """Settled, the vessel takes nothing: `operating_point`, which knows no vessel. At 1 %: the gas still settles."""
    built = demo_set_up(engine).installation
    alone = operating_point(built.engine, built.oil, built.engine.idle, Q(100, "degC")).gallery_pressure
    found = lowest_gallery(demo_set_up(engine))
    for key in ("idle", "fill"):
        low = found[key]
        assert low is not None
        assert low.m_as("psig") == pytest.approx(alone.m_as("psig"), rel=0.01)


@pytest.mark.parametrize("engine", JOBS)
@pytest.mark.parametrize("key", PROCEDURES)
def test_no_step_in_its_right_place_goes_below_the_warning(key: str, engine: str) -> None:
    found = play(key, job=JOBS[engine]).lowest
    assert list(found) == list(PROCEDURES[key].keys)
    turning = {step: low for step, low in found.items() if low is not None}
    assert turning
    assert {step: low for step, low in turning.items() if low < engines()[engine].warning} == {}


@pytest.mark.parametrize("engine", quick(1, JOBS))
@pytest.mark.parametrize("key", PROCEDURES)
def test_a_step_that_goes_below_the_warning_says_so(key: str, engine: str) -> None:
    """In every order there is, unless the pump has drawn air before and that was said."""
    job, below = JOBS[engine], set()
    warning = job.numbers.warning
    for order in itertools.permutations(PROCEDURES[key].keys):
        run = play(key, order, job)
        for step, before, state in zip(order, run.states, run.states[1:], strict=False):
            if state.lowest >= warning or before.dry:
                continue
            below.add(step)
            said = [c.words for c in run.consequences if c.step == step and c.kind == DANGER]
            assert any("warning" in words or "no pressure" in words for words in said), (order, step)
    expected = {
        "charge": {"vent"},
        "first_fill": {"start", "open"},
        "shut_down": set(),
        "oil_change": {"pan", "filter", "first_fill"},
    }
    assert below | {"run"} == expected[key] | {"run"}  # only where the pan is too small for line and vessel


@pytest.mark.parametrize("engine", JOBS)
def test_opened_as_far_as_the_job_says_the_gallery_keeps_its_warning_pressure(engine: str) -> None:
    """The share to which the valve may be opened is reckoned without the line; here the vessel fills in time."""
    job = JOBS[engine]
    n = job.numbers
    assert 0.005 < n.barely < 0.02  # "about 1 %" beside the step
    drive = as_built._Drive(SetUp(job.installation, job.valve).with_condition(precharge=Q(1, "psig")))
    _, shut = drive.run(drive.start, [5.0], [n.fast_idle] * 2, [0.0] * 2, [0.0, 5.0])
    shares = np.array([1.0, 4.0]) * n.barely
    lows = []
    for share in shares:
        drive.turn("filled", shut[0], 60.0, [n.fast_idle] * 2, [float(share)] * 2, [0.0, 60.0])
        lows.append(drive.lowest["filled"])
    assert n.warning < lows[0] < n.pressure["at fast idle"]
    assert lows[0] == pytest.approx(n.kept, rel=0.15)
    assert lows[1] < lows[0]
    assert n.stored["at fast idle"] > 0.0


@pytest.mark.parametrize("engine", JOBS)
def test_after_a_night_with_the_valve_open_a_fast_idle_does_not_foam(engine: str) -> None:
    """What the rule about that night rests on: with the oil in flight the pan is below the windage height again, and
    with the vessel filled the dipstick stands at the full mark: nothing was to be drained."""
    job = JOBS[engine]
    morning = play("shut_down", ("hold", "ignition", "shut", "idle", "dipstick"), job).final.copy()
    assert morning.oil["vessel"] == 0.0
    assert morning.level > job.numbers.full_height
    morning.engine = "at fast idle"
    morning.settle()
    assert morning.level < job.numbers.windage
    morning.valve_open, morning.engine = True, "at running pressure"
    morning.settle()
    morning.valve_open = False
    morning.stop()
    assert morning.level == pytest.approx(job.numbers.full_height, rel=1e-9)
