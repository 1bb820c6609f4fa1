"""What a lesson asks to be done in a panel can be done there: each step is ticked when it is, and not before."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from parts import quick_named

from oilkit import Q, panels
from oilkit.panels.framework.base import Panel
from oilkit.panels.framework.controls import Amount, Choice

Move = dict[str, Any] | Callable[[Any], dict[str, Any] | None]
"""Controls by their names: a number with its unit, or the beginning of an option; or what a hand does else."""
NOTEBOOKS = sorted((Path(__file__).resolve().parents[1] / "notebooks").glob("*.ipynb"))


def psi(number: float) -> tuple[float, str]:
    return number, "psig"


def star(panel: Any) -> dict[str, Any]:
    return {"precharge": psi(round(2.0 * Q(panel.state["best"], "Pag").m_as("psig")) / 2.0)}


def beyond(panel: Any) -> dict[str, Any]:
    return {"precharge": psi(star(panel)["precharge"][0] + 0.5)}


def above(name: str) -> Callable[[Any], dict[str, Any]]:
    """The first whole hundred of a speed above a result."""
    return lambda panel: {"speed": (100 * (int(panel.state[name] * 0.6) + 1), "rpm")}


def typed(old: str, new: str, name: str = "readings") -> Callable[[Any], dict[str, Any]]:
    def change(panel: Any) -> dict[str, Any]:
        text = panel.controls[name].value
        assert old in text
        return {name: text.replace(old, new, 1)}

    return change


def until(condition: Callable[[Any], Any], **through: list[Any]) -> Callable[[Any], None]:
    """One control through some values, until it is so."""
    ((name, values),) = through.items()

    def move(panel: Any) -> None:
        for value in values:
            put(panel, {name: value})
            if condition(panel.state):
                return
        raise AssertionError(f"{name} does not get there")

    return move


def add_one_event(panel: Any) -> None:
    panel.controls["numbers"].part.value = "driving.events 1"
    panel.controls["numbers"].add.click()


def right_order(panel: Any) -> dict[str, Any]:
    return {"order": list(panel.controls["order"].procedure.keys)}


def broken_order(panel: Any) -> dict[str, Any]:
    return {"order": list(reversed(panel.controls["order"].procedure.keys)), "played": (3, "")}


def first_test(panel: Any) -> None:
    panel._do.click()


def name_fault(panel: Any) -> None:
    put(panel, {"fault": "pan low"})
    panel._name.click()


def half_inch_more(text: str) -> str:
    """Half an inch more on the rule of the twelfth line."""
    lines = text.splitlines()
    numbers = lines[11].split(",")
    numbers[2] = f" {float(numbers[2]) + 0.5:.2f}"
    return "\n".join([*lines[:11], ",".join(numbers), *lines[12:]])


def star_of(panel: Any) -> dict[str, Any]:
    return {name: (panel.state[f"best_{name}"], "Pag") for name in ("precharge", "pressure")}


MOVES: dict[str, list[Move]] = {
    "at_work": [
        {"time": (6, "s")},
        {"precharge": psi(2)},
        {"precharge": psi(40)},
        {"precharge": psi(10), "lasts": (9, "s")},
    ],
    "your_readings": [
        {"hot_idle": psi(0)},
        {"hot_idle": psi(15), "hot_at_speed": psi(45), "demand": (2.4, "gpm")},
        {"hot_idle": psi(60)},
    ],
    "gauge_and_absolute": [{"gauge": psi(20)}, {"altitude": (8000, "ft")}],
    "cylinder": [{"volume": (1, "qt")}, {"volume": (0.5, "qt")}, {"capped_at": psi(0)}],
    "boyle_1662": [{"number": (25, "")}, {"axis": "1 / space"}],
    "class_readings": [{"law": "gauge"}],
    "filling": [{"pressure": psi(10)}, {"pressure": psi(9)}, {"precharge": psi(12), "pressure": psi(38.7)}],
    "shop_to_track": [{"gas_temperature": (70, "degC")}, {"precharge": psi(6.5)}],
    "cheap_gauge": [{"full_scale": psi(60)}, {"full_scale": psi(160), "accuracy": (1, "percent")}],
    "fill_in_time": [{"time": (30, "s")}],
    "useful_oil": [{"precharge": psi(20)}, {"precharge": psi(30)}],
    "pressures_needed": [above("rule_meets_relief")],
    "one_long_event": [star, beyond, lambda panel: star(panel) | {"event": (2.1, "s")}],
    "oil_line": [
        {"hose": "rubber-lined -12 to MIL-H-8788"},
        {"hose": "trade hose -12"},
        {"hose": "rubber-lined -12 to MIL-H-8794", "temperature": (100, "degC")},
        {"flow": (6, "gpm")},
        {"flow": (8, "gpm"), "valve": "electric"},
    ],
    "line_on_the_move": [
        {"acceleration": (4, "g_0")},
        {"manoeuvre": "brakes"},
        {"manoeuvre": "goes round a left"},
        {"manoeuvre": "launches", "place": "ahead"},
        {"length": (12, "ft")},
    ],
    "tee": [
        {"tee": "after"},
        {"tee": "before", "filter_temperature": (10, "degC"), "below": (30, "psi")},
        {"check_valve": "no check valve"},
        {"tee": "after"},
    ],
    "oil_budget": [
        {"state": "stopped, valve left open"},
        {"state": "running at speed", "poured": (-4, "qt")},
    ],
    "oil_thickness": [
        {"temperature": (20, "degC")},
        {"temperature": (130, "degC")},
        {"oil": "straight 40"},
        {"viscosity_40": (95, "cSt")},
    ],
    "bearing_flow": [
        {"clearance": (2, "thou")},
        {"clearance": (4, "thou")},
        {"eccentricity": (1, "")},
        {"feed": "hole, at the widest"},
    ],
    "demand_ledger": [
        above("opening"),
        {"speed": (6000, "rpm")},
        {"clearance_change": (1, "thou")},
        {"sump": (40, "degC")},
        {"speed": (0, "rpm")},
        lambda panel: panel.reset() or {"pump": "badly worn", "speed": (6000, "rpm")},
    ],
    "measure_by_pump": [
        typed("1200 43", "1200 45"),
        lambda panel: typed("1200 45", "1200 43")(panel) | {"efficiency_error": (0.02, "")},
    ],
    "measure_by_fall": [{"fell": (4, "psi"), "open_for": (1, "s")}],
    "pump_lets_go": [{"time": (12, "s")}, {"time": (1, "s")}, {"precharge": psi(20)}, {"precharge": psi(35)}],
    "dip_microscope": [
        {"decay": (0, "ms")},
        {"decay": (100, "ms")},
        {"length": (15, "ft")},
        {"decay": (0, "ms"), "air": (0.5, "percent")},
    ],
    "how_it_ends": [
        {"tau": (50, "s")},
        {"precharge": psi(10), "tau": (0.5, "s")},
        {"precharge": psi(40), "tau": (50, "s")},
    ],
    "lap": [{"pan_change": (-2, "qt")}, {"vessel": "small", "engine": "loose"}],
    "precharge_map": [star, {"clearance_change": (1, "thou")}],
    "overnight": [{"morning_temperature": (-10, "degC")}, {"oil_temperature": (104, "degF")}, {"leaked": (0.1, "qt")}],
    "pre_lube": [
        {"time": (3, "s")},  # where Play stops
        {"temperature": (-10, "degC")},
        {"oil": "thick"},
        {"valve": "electric"},
        {"hose": "rubber-lined -10"},
        lambda panel: panel.reset() or {"empty": (1, "")},
    ],
    "valve_wiring": [
        {"battery": (9.5, "V")},
        {"coil_temperature": (120, "degC")},
        {"length": (40, "ft")},
        lambda panel: panel.reset() or {"ways": "pilot"},
    ],
    "commissioning": [right_order, broken_order],
    "acceptance": [
        {"number": (10, "")},
        {"source": "a fault bench case"},
        {"source": "typed by you"},
        {"precharge": psi(10)},
    ],
    "fault_bench": [first_test, name_fault],
    "your_engine": [
        {"shop_temperature": (0, "degC")},
        {"precharge": psi(10)},
        until(lambda s: s["middle"] < s["goal"], clearance_change=[(n / 10, "thou") for n in range(1, 40)]),
        until(lambda s: s["sheet"].no_vessel_helps, clearance_change=[(n / 4, "thou") for n in range(1, 17)]),
    ],
    "every_number": [
        {"numbers": {"engine.pump.relief_opening": "65 psi"}},
        {"numbers": {"engine.mains.diametral_clearance": "3 thou"}},
        add_one_event,
    ],
    "compare_set_ups": [{"first": "street V8", "second": "high altitude"}, {"wear": (1, "thou")}],
    "bench_fit": [
        lambda panel: {"readings": half_inch_more(panel.controls["readings"].value)},
        lambda panel: {"readings": panel.controls["readings"].start, "friction": "none"},
        {"friction": "find", "bore": "find"},
    ],
    "next_reading": [
        {"pressure": psi(90)},
        star_of,
        {"taken": "two"},
    ],
    "register": [
        {"function": "groove_flow"},
        {"function": "laminar_drop"},
        lambda panel: {"inputs": re.sub(r"(?m)^length = .*$", "length = 20 ft", panel.controls["inputs"].value)},
    ],
    "what_moves": [{"constant": "FEED_COEFFICIENT"}, {"constant": "hole_flow"}],
}


def asked(panel: Any) -> str:
    """What the panel shows of its steps, wherever there is room."""
    return str(panel._asked.value or panel.screen.table)


def put(panel: Any, moves: dict[str, Any]) -> None:
    """Move controls together."""
    values: dict[str, Any] = {}
    for name, value in moves.items():
        control = panel.controls[name]
        if isinstance(control, Amount):
            values[name] = Q(*value)
        elif isinstance(control, Choice) and isinstance(value, str):
            values[name] = next(option for text, option in control.options if value in text)
        else:
            values[name] = value
    panel.set(**values)


def opened(name: str) -> list[Any]:
    """The panel as its lessons open it; as it opens by itself where they do not say."""
    calls = [
        found
        for path in NOTEBOOKS
        for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]
        for found in re.findall(rf"panels\.{name}\((.*)\)", "".join(cell["source"]))
        if "=" in found
    ]
    return [eval(f"dict({call})", {"Q": Q}) for call in calls] or [{}]


WITH_STEPS = [name for name in panels.__all__ if getattr(getattr(panels, name), "steps", ())]


QUICK = ("at_work", "cylinder", "filling", "line_on_the_move", "measure_by_fall", "one_long_event", "tee")


def test_all_steps_are_tried() -> None:
    assert sorted(MOVES) == WITH_STEPS


@pytest.mark.parametrize("name", quick_named(QUICK, WITH_STEPS))
def test_each_step_can_be_done_and_is_ticked_only_then(name: str) -> None:
    for start in opened(name):
        panel: Panel = getattr(panels, name)(**start)
        steps, words = panel.steps, panel._summary().splitlines()
        assert "✓" not in asked(panel)
        for k, move in enumerate(MOVES[name]):
            assert len(steps[k].text.split()) <= 30
            assert f"Do {k + 1}: {steps[k].text}" in words
            assert not steps[k].done(panel.state), f"{name}: step {k + 1} is done before anything is"
            made = move(panel) if callable(move) else move
            if made:
                put(panel, made)
            assert not panel.trouble
            assert not panel.errors
            assert panel._steps.done == k + 1, f"{name}: step {k + 1} is not ticked"
            assert f"✓ Do {k + 1} of {len(steps)}, done:" in asked(panel)
            assert panel._shim.far == (k + 1, len(steps))
        assert len(steps) == len(MOVES[name])
        panel.reset()
        assert panel._steps.done == len(steps), "what was done is done"
        panel.close()


@pytest.mark.parametrize(
    ("name", "too_little"),
    [
        ("dip_microscope", {"air": (0.5, "percent")}),
        ("one_long_event", {"event": (2.1, "s")}),
        ("overnight", {"leaked": (0.02, "qt")}),
        ("pre_lube", {"empty": (1, "")}),
        ("valve_wiring", {"ways": "pilot"}),
    ],
)
def test_a_last_step_is_not_ticked_where_its_question_has_no_answer(name: str, too_little: dict[str, Any]) -> None:
    """No bar vanishes while the valve stays shut; thick oil has no peak; the dip of a slow pump shows no air."""
    panel = getattr(panels, name)()
    for move in [*MOVES[name][:-1], too_little]:
        put(panel, move(panel) if callable(move) else move)
    assert panel._steps.done == len(panel.steps) - 1


def test_the_steps_on_one_long_event_are_ticked_in_the_steps_of_bar() -> None:
    panel = panels.one_long_event()
    for precharge, event in ((3.14, 2.0), (3.16, 2.0), (3.14, 2.1)):
        put(panel, {"precharge": (precharge, "barg"), "event": (event, "s")})
    assert panel._steps.done == 3


def test_ticks_are_those_of_one_learner() -> None:
    panel, who = panels.filling(), panels.learner()
    put(panel, MOVES["filling"][0])
    who.learner.box.value = "Ann Other"
    who._button.click()
    assert panel._steps.done == 1, "the name of whoever did it"
    who._switch.click()
    assert panel._steps.done == json.loads(panel.screen.settings)["Do"] == 0
    assert panel._asked.value.startswith('<div class="oilkit-steps"><p><b>Do 1 of 3:')


def test_ticks_and_settings_do_not_come_back_to_somebody_else() -> None:
    """The browser of a shared laptop keeps them when the kernel is gone."""
    panel, who = panels.filling(), panels.learner()
    put(panel, MOVES["filling"][0])
    by_nobody = json.loads(panel.screen.settings)
    who.learner.box.value = "Ann Other"
    who._button.click()
    by_ann = json.loads(panel.screen.settings)
    assert "Ann" not in panel.screen.settings
    for name, kept, done in (("ann  other", by_ann, 1), ("Ben", by_ann, 0), ("Ben", by_nobody, 1)):
        who._switch.click()
        who.learner.box.value = name
        who._button.click()
        fresh = panels.filling()
        assert fresh.take_back(kept) == bool(done), name
        assert fresh._steps.done == done, name


def test_ticks_come_back_with_the_settings_and_are_no_setting() -> None:
    panel = panels.filling()
    put(panel, MOVES["filling"][0])
    kept = json.loads(panel.screen.settings)
    fresh = panels.filling()
    assert fresh.take_back(kept)
    assert fresh._steps.done == 1
    assert "✓ Do 1 of 3" in fresh._asked.value
    assert not panels.filling().take_back({"Do": 2}), "ticks alone move no control"
    assert panels.filling().take_back({"Do": 99}) is False
