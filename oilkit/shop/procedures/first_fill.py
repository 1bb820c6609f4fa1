"""Fill for the first time: seven steps, from the pan's full mark to two marks on the dipstick. (Lesson 09)"""

from __future__ import annotations

from oilkit.physics.pan import pan_level
from oilkit.physics.vessel import oil_stored
from oilkit.shop.job import FAST, IDLE, OFF, RUNNING, Job, Numbers
from oilkit.shop.state import State, oil_everywhere
from oilkit.shop.steps import Say, read_procedure


def _before_first_fill(job: Job) -> State:
    """Vessel charged and empty, line empty, engine has run before; the pan is low."""
    n = job.numbers
    oil = oil_everywhere(job, pan=n.at_full - n.pan_low, line=0.0)
    return State(job, OFF, False, oil, n.charged, n.gas_temperature)


def _fill_pan(state: State, n: Numbers, say: Say) -> None:
    missing, above = n.at_full - state.oil["pan"], state.level
    if missing < -1e-9 * n.room:
        say("pan_too_full", level=above, full=n.full_height, low=n.pan_low)
        return
    away = sum(state.oil[p] for p in ("flight", "line", "vessel"))
    state.move("can", "pan", missing)
    if abs(missing - n.pan_low) > 1e-9 * n.room:
        say("oil_elsewhere", away=away, poured=missing, low=n.pan_low)


def _start(state: State, n: Numbers, say: Say) -> None:
    state.engine = FAST
    if state.valve_open and state.oil["line"] < n.line:
        state.falls_to(0.0)
        wants = n.line + float(oil_stored.si(n.room, n.precharge, n.warning, resting=True))
        say("valve_open_at_the_start", oil=wants, warning=n.warning, time=wants / n.pump[IDLE])


def _open_valve(state: State, n: Numbers, say: Say) -> None:
    state.valve_open = True
    if state.engine == FAST:
        state.falls_to(n.kept)
    if state.engine == RUNNING and state.oil["line"] < n.line:
        state.falls_to(state.job.beside_an_empty_line)
        say(
            "opened_at_running_pressure",
            takes=state.job.empty_line_takes,
            gives=n.pump[RUNNING],
            pressure=n.pressure[RUNNING],
            lowest=state.lowest,
            warning=n.warning,
        )


def _top_up(state: State, n: Numbers, say: Say) -> None:
    state.move("can", "pan", n.line + n.stored[FAST])


def _top_up_again(state: State, n: Numbers, say: Say) -> None:
    state.move("can", "pan", n.stored[RUNNING] - n.stored[FAST])


def _to_running(state: State, n: Numbers, say: Say) -> None:
    if state.engine == OFF:
        say("engine_stands", pressure=n.pressure[RUNNING], oil=n.stored[RUNNING])
        return
    state.engine = RUNNING


def _mark(state: State, n: Numbers, say: Say) -> None:
    state.valve_open = False
    state.stop()
    emptied = float(pan_level.si(state.oil["pan"] + state.oil["vessel"], *n.shape))
    state.marks = state.level, emptied
    if abs(state.level - n.full_height) > 1e-6:
        say("first_mark", level=state.level, full=n.full_height)
    if abs(state.oil["vessel"] - n.stored[RUNNING]) > 1e-9 * n.room:
        say("second_mark", oil=state.oil["vessel"], wanted=n.stored[RUNNING])


PROCEDURE = read_procedure(
    __file__,
    _before_first_fill,
    full=_fill_pan,
    start=_start,
    open=_open_valve,
    top_up=_top_up,
    run=_to_running,
    again=_top_up_again,
    mark=_mark,
)
