"""What a hand can drag in a picture sets the same controls as their sliders, and answers with the same numbers."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from panel_answers import ANSWERS
from parts import quick_named

from oilkit import panels
from oilkit.panels.framework.base import Panel
from oilkit.quantities.units import Q, unit_switch

DRAGGED = quick_named(("cylinder", "filling", "how_it_ends", "pre_lube"), ANSWERS)


def opened(name: str) -> Any:
    return getattr(panels, name)()


def drag(panel: Any, grip: int, left: float, top: float) -> None:
    panel._dragged(panel.screen, {"grip": grip, "left": left, "top": top}, [])


@pytest.mark.parametrize("name", DRAGGED)
def test_every_grip_follows_the_hand(name: str) -> None:
    """A hand moves each grip a little both ways: its slider moves, and the grip is under the hand then."""
    panel = opened(name)
    if not isinstance(panel, Panel):
        return
    for k in range(len(panel.screen.grips)):
        panel.reset()
        if panel.screen.grips[k] is None:
            continue
        control, left, top, _ = panel.screen.grips[k]
        ways = [way for way, _ in panel._grips[k].ways]
        moved: Any = panel.controls[control]
        values = {moved.value}
        for step in (25.0, -50.0):
            to = left + step if 0 in ways else left, top + step if 1 in ways else top
            asked = panel._grips[k].wanted(*to)
            drag(panel, k, *to)
            assert panel.errors == []
            assert panel.trouble == ""
            values.add(moved.value)
            for way, wanted in asked:
                slider: Any = panel.controls[way.control]
                if way.shows in (way.control, *panel.named):
                    nearest = min(max(wanted, slider.low), slider.high)
                    assert abs(slider.value - nearest) <= 0.51 * a_step(slider), (name, k)
        assert moved.low <= moved.value <= moved.high
        assert len(values) > 1


def a_step(slider: Any) -> float:
    """One step of a slider, in SI."""
    return float(slider.kind.from_display(slider.slider.step) - slider.kind.from_display(0.0))


@pytest.mark.parametrize("system", ["US", "SI"])
def test_the_point_of_the_curve_sets_the_oil_pressure(system: str) -> None:
    unit_switch.choose(system)
    panel = opened("filling")
    kinds = {grip[0]: k for k, grip in enumerate(panel.screen.grips)}
    (ax,) = {id(grip.ax): grip.ax for grip in panel._grips if grip.ax.axison}.values()
    wanted = panel.controls["pressure"].kind.display(Q(50, "psig").to_base_units().m)
    left = ax.transData.transform((wanted, 0.0))[0]
    drag(panel, kinds["pressure"], left, 100.0)
    assert panel.controls["pressure"].quantity.to("psig").m == pytest.approx(50, abs=0.5)
    assert panel.values["gas pressure, gauge"].to("psig").m == pytest.approx(50, abs=0.5)


@pytest.mark.parametrize("share", [0.2, 0.5, 0.7])
def test_the_piston_sets_the_pressure_that_holds_it_there(share: float) -> None:
    """Boyle by hand: at 10 psi pre-charge the share x is filled at (10 + 14.696) / (1 - x) - 14.696 psi."""
    panel = opened("filling")
    k = next(k for k, grip in enumerate(panel._grips) if not grip.ax.axison)
    ax = panel._grips[k].ax
    left = ax.transData.transform((share, 0.1))[0]
    drag(panel, k, left, 100.0)
    atmosphere = 14.696
    assert panel.controls["pressure"].quantity.to("psig").m == pytest.approx(
        (10 + atmosphere) / (1 - share) - atmosphere, abs=0.5
    )


def test_the_cylinder_s_piston_sets_the_volume() -> None:
    """Pushed in to a quarter of its 2 qt, the gas keeps three quarters."""
    panel = opened("cylinder")
    k = next(k for k, grip in enumerate(panel._grips) if not grip.ax.axison)
    left = panel._grips[k].ax.transData.transform((0.25, 0.1))[0]
    drag(panel, k, left, 100.0)
    assert panel.values["volume"].to("qt").m == pytest.approx(1.5, abs=0.011)


def test_a_hand_beyond_the_ends_stops_at_them() -> None:
    panel = opened("filling")
    for k, (name, _, _, _) in enumerate(panel.screen.grips):
        control: Any = panel.controls[name]
        ends = []
        for left in (-1e4, 1e5):
            drag(panel, k, left, 50.0)
            ends.append(control.value)
        assert ends[0] == pytest.approx(control.low)
        if panel._grips[k].ax.axison:
            assert ends[1] == pytest.approx(control.high)
        assert panel.errors == []


@pytest.mark.parametrize("which", [-1, 99])
def test_a_hand_that_holds_no_grip_moves_nothing(which: int) -> None:
    panel = opened("filling")
    before = panel.setting()
    drag(panel, which, 1e5, 50.0)
    assert (panel.setting(), panel.errors, panel.trouble) == (before, [], "")


def test_a_hand_takes_over_from_what_plays() -> None:
    panel = opened("fill_in_time")
    (k,) = [k for k, grip in enumerate(panel.screen.grips) if grip and grip[0] == "time"]
    _, left, top, _ = panel.screen.grips[k]
    drag(panel, k, left + 40, top)
    assert not panel.playing
    time: Any = panel.controls["time"]
    assert 0 < time.value < panel.duration()


def test_the_marks_stand_beside_the_grips() -> None:
    panel = opened("filling")
    shown = np.array([grip[1] for grip in panel.screen.grips])
    left, right = (np.array(artist.get_xdata()) for artist in panel._marks.moving[:2])
    assert (left + right) / 2 == pytest.approx(shown)
