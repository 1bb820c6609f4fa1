"""After a refusal the last good result is marked as that, in every panel, until there is a good one again."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from parts import quick_named

from oilkit import Q, panels, use_units
from oilkit.panels.framework.base import STALE
from oilkit.panels.framework.controls import Amount, Lines
from oilkit.quantities.kinds import TIME

NAMES = sorted(set(panels.__all__) - set(panels.NO_PANELS))


def broken(panel: Any) -> Any:
    """The control of a panel into which something impossible has been typed, and how to type it back; or none."""
    for control in panel.controls.values():
        if isinstance(control, Amount) and control.box is not None:
            control.box.value = "rubbish"
            return control
        if isinstance(control, Lines):
            control.area.value = "rubbish"
            return control
    return None


def same(panel: Any) -> tuple[Any, ...]:
    return panel.readout, panel.png


@pytest.mark.parametrize("name", quick_named(NAMES[::6], NAMES))
def test_every_panel_marks_what_a_refusal_leaves(name: str) -> None:
    panel = getattr(panels, name)()
    before = same(panel)
    assert panel.stale == ""
    control = broken(panel)
    if control is None:  # only buttons and lists, which cannot be wrong: as if one had been
        control = next(iter(panel.controls.values()))
        panel.solve, solve = _refusing(control.label), panel.solve
        panel.update()
        panel.solve = solve
    assert panel.errors == []
    assert panel.stale == panel.screen.stale == STALE
    assert same(panel) == before
    panel.reset()
    assert panel.stale == ""


def _refusing(label: str) -> Any:
    from oilkit.errors import InputError

    def solve(at: Any) -> Any:
        raise InputError(label, "something", "something else")

    return solve


def test_an_unexpected_error_marks_it_too(monkeypatch: pytest.MonkeyPatch) -> None:
    panel = panels.filling()
    with monkeypatch.context() as patch:
        patch.setattr(panel, "solve", lambda at: 1 / 0)
        panel.controls["precharge"].slider.value += 1.0
    assert "ZeroDivisionError" in panel.trouble
    assert panel.stale == STALE
    panel.controls["precharge"].slider.value += 1.0
    assert panel.stale == ""


def test_lists_that_stay_refused_stay_marked_in_other_units() -> None:
    panel = panels.class_readings()
    panel.controls["readings"].area.value = "rubbish"
    use_units("SI")
    assert panel.stale == STALE
    assert "rubbish" in panel.controls["readings"].error
    panel.controls["readings"].area.value = "10 0\n5 14.7"
    assert panel.stale == ""


def test_a_box_that_units_put_right_is_not_marked_any_more() -> None:
    panel = panels.filling()
    panel.controls["precharge"].box.value = "rubbish"
    use_units("SI")
    assert panel.stale == ""


def test_own_log(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    log = panels.own_log()
    lap = panels.lap(log)
    good = log.controls["log"].area.value
    log.controls["log"].area.value = good.replace("lap.csv", "none.csv")
    assert (log.stale, lap.stale) == (STALE, STALE)
    lap.controls["limit"].slider.value += 1.0
    assert lap.stale == STALE, "a good result, but of a log that is not the one asked for"
    log.controls["log"].area.value = good
    assert (log.stale, lap.stale) == ("", "")


def test_panels_made_from_another_are_marked_with_it() -> None:
    readings = panels.class_readings()
    deeper = panels.residuals(readings)
    readings.controls["readings"].area.value = "rubbish"
    assert deeper.stale == STALE
    deeper.controls["data"].buttons.value = "Boyle 1662"
    assert deeper.stale == "", "Boyle's are not the class's"
    readings.controls["readings"].area.value = "more rubbish"
    assert deeper.stale == ""
    late = panels.residuals(readings)
    assert late.stale == STALE, "made while they were refused"
    readings.controls["readings"].area.value = "10 0\n5 14.7"
    assert (readings.stale, late.stale) == ("", "")


def test_bench_readings_mark_the_plan_made_from_them() -> None:
    bench = panels.bench_fit()
    plan = panels.next_reading(bench)
    good = bench.controls["readings"].area.value
    bench.controls["readings"].area.value = "rubbish"
    assert (bench.stale, plan.stale) == (STALE, STALE)
    bench.controls["readings"].area.value = good
    assert (bench.stale, plan.stale) == ("", "")


def test_load_marks_and_save_does_not(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    panel = panels.your_engine()
    panel._file.value = "none.txt"
    for button in (panel._save, panel._html, panel._pdf):
        button.click()
        assert "none.txt" in panel.trouble
        assert panel.stale == "", "what stands there is what the form says"
    panel._file.value = "none.toml"
    panel._load.click()
    assert "none.toml" in panel.trouble
    assert panel.stale == STALE
    panel.controls["limit"].set(Q(21, "psig"))
    panel.update()
    assert panel.stale == ""


def test_a_run_that_fails_on_the_way_is_marked(monkeypatch: pytest.MonkeyPatch) -> None:
    panel = panels.fill_in_time()
    with monkeypatch.context() as patch:
        patch.setattr(panel, "update_artists", lambda state: 1 / 0)
        panel.go_to(float(TIME.from_display(1.0)))
    assert panel.stale == STALE
