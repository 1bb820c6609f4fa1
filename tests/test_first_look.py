"""A first look while a hand moves a control, the full answer when it rests: in a loop, as in a kernel."""

from __future__ import annotations

import asyncio
import gc
from typing import Any

import pytest

from oilkit import panels
from oilkit.panels.framework import first_look, instrument
from oilkit.panels.lessons.lesson_07_robust import DRAWS, FIRST_DRAWS


@pytest.fixture
def quick_rest(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(first_look, "REST", 0.01)
    monkeypatch.setattr(instrument, "PAUSE", 0.02)


async def until_rest(panel: Any) -> None:
    for _ in range(3000):
        await asyncio.sleep(0.01)
        if not panel.screen.rough and panel._waiting is None and gc.isenabled():
            return
    raise AssertionError("no full answer")


def exact(name: str, control: str, value: float) -> tuple[str, bytes]:
    panel = getattr(panels, name)()
    panel.controls[control].slider.value = value
    found = panel.screen.table, panel.picture._shown.tobytes()
    assert panel.screen.rough == ""
    panel.close()
    return found


@pytest.mark.parametrize(
    ("name", "control", "values"),
    [
        ("robust_choice", "event", (3.0, 6.0)),
        pytest.param("your_engine", "precharge", (12.0, 20.0), marks=pytest.mark.thorough),
        pytest.param("your_readings", "hot_idle", (18.0, 25.0), marks=pytest.mark.thorough),
        pytest.param("compare_set_ups", "wear", (0.5, 1.0), marks=pytest.mark.thorough),
        pytest.param("how_it_ends", "clearance", (0.5, 1.0), marks=pytest.mark.thorough),
    ],
)
def test_a_move_gets_a_marked_first_look_and_a_rest_the_full_answer(
    name: str, control: str, values: tuple[float, float], quick_rest: None
) -> None:
    wanted, _ = exact(name, control, values[1])

    async def by_hand() -> None:
        panel = getattr(panels, name)()
        assert panel.screen.rough == "", "it opens with the full answer"
        slider = panel.controls[control].slider
        waits = []
        for value in values:
            slider.value = value
            assert panel.screen.rough == first_look.ROUGH
            assert not gc.isenabled()
            waits.append(panel._waiting)
        assert waits[0].cancelled(), "what waited for a rest is dropped by the next move"
        await until_rest(panel)
        assert (panel.errors, panel.trouble) == ([], "")
        assert panel.screen.table == wanted
        panel.close()

    asyncio.run(by_hand())


def test_a_first_look_is_one_from_fewer_cases(quick_rest: None) -> None:
    assert FIRST_DRAWS < DRAWS

    async def by_hand() -> None:
        panel = panels.robust_choice()
        panel.controls["event"].slider.value = 6.0
        shares = panel.state["found"].share * FIRST_DRAWS
        assert all(abs(share - round(share)) < 1e-9 for share in shares)
        await until_rest(panel)
        panel.controls["precharge"].slider.value = 20.0
        assert panel.screen.rough == "", "a point on curves that are exact already"
        panel.controls["event"].slider.value = 3.0
        panel.set(event=panel.controls["event"].quantity)
        assert panel.screen.rough == "", "what code sets is answered in full at once"
        panel.controls["event"].slider.value = 4.0
        panel.close()
        await asyncio.sleep(0.05)
        assert panel.errors == []

    asyncio.run(by_hand())
    gc.enable()
