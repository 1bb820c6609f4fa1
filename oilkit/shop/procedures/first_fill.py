"""Fill for the first time: seven steps, from the pan's full mark to two marks on the dipstick. (Lesson 09)"""

from __future__ import annotations

from oilkit.physics.pan import pan_level
from oilkit.physics.vessel import oil_stored
from oilkit.quantities.kinds import DISTANCE, FLOW, GAUGE, OIL, TIME
from oilkit.shop.job import FAST, IDLE, OFF, RUNNING, Job
from oilkit.shop.state import (
    DANGER,
    NOT_PROVED,
    WRONG_READING,
    Procedure,
    Say,
    State,
    Step,
    none_old,
    oil_everywhere,
    pairs,
)


def _before_first_fill(job: Job) -> State:
    """Vessel charged and empty, line empty, engine has run before; the pan is low."""
    n = job.numbers
    oil = oil_everywhere(job, pan=n.at_full - n.pan_low, line=0.0)
    return State(job, OFF, False, oil, none_old(), n.charged, n.gas_temperature)


def _fill_pan(state: State, say: Say) -> None:
    n = state.job.numbers
    missing, above = n.at_full - state.oil["pan"], state.level
    if missing < -1e-9 * n.room:
        say(
            WRONG_READING,
            "The pan stands at {level} already, above the full mark of {full}: nothing goes in, though {low} were "
            "missing before the other oil was poured.",
            level=(DISTANCE, above),
            full=(DISTANCE, n.full_height),
            low=(OIL, n.pan_low),
        )
        return
    away = sum(state.oil[p] for p in ("flight", "line", "vessel"))
    state.move("can", "pan", missing)
    if abs(missing - n.pan_low) > 1e-9 * n.room:
        say(
            WRONG_READING,
            "You read the dipstick while {away} are elsewhere: in flight, in the line, in the vessel. Up to the mark "
            "goes {poured}, and {low} were missing.",
            away=(OIL, away),
            poured=(OIL, missing),
            low=(OIL, n.pan_low),
        )


def _start(state: State, say: Say) -> None:
    n = state.job.numbers
    state.engine = FAST
    if state.valve_open and state.oil["line"] < n.line:
        wants = n.line + float(oil_stored.si(n.room, n.precharge, n.warning, resting=True))
        say(
            DANGER,
            "You start with the valve open on an empty line and vessel. They take {oil} before the gallery can reach "
            "its warning pressure of {warning}; the idling pump needs at least {time} for that, and the bearings wait.",
            oil=(OIL, wants),
            warning=(GAUGE, n.warning),
            time=(TIME, wants / n.pump[IDLE]),
        )


def _open_valve(state: State, say: Say) -> None:
    n = state.job.numbers
    state.valve_open = True
    if state.engine == RUNNING and state.oil["line"] < n.line:
        say(
            DANGER,
            "You open the valve at running pressure. An empty line can take {takes} and the pump gives {gives}: the "
            "gallery falls from {pressure} while the engine turns fast.",
            takes=(FLOW, state.job.empty_line_takes),
            gives=(FLOW, n.pump[RUNNING]),
            pressure=(GAUGE, n.pressure[RUNNING]),
        )


def _top_up(state: State, say: Say) -> None:
    n = state.job.numbers
    state.move("can", "pan", n.line + n.stored[FAST])


def _top_up_again(state: State, say: Say) -> None:
    n = state.job.numbers
    state.move("can", "pan", n.stored[RUNNING] - n.stored[FAST])


def _to_running(state: State, say: Say) -> None:
    n = state.job.numbers
    if state.engine == OFF:
        say(
            NOT_PROVED,
            "The engine stands: there is no running pressure to bring it to. The vessel never sees {pressure}, at "
            "which it would take {oil}.",
            pressure=(GAUGE, n.pressure[RUNNING]),
            oil=(OIL, n.stored[RUNNING]),
        )
        return
    state.engine = RUNNING


def _mark(state: State, say: Say) -> None:
    n = state.job.numbers
    state.valve_open = False
    state.stop()
    emptied = float(pan_level.si(state.oil["pan"] + state.oil["vessel"], *n.shape))
    state.marks = state.level, emptied
    if abs(state.level - n.full_height) > 1e-6:
        say(
            WRONG_READING,
            "You make the first mark at {level}; with all the oil in and the vessel full it belongs at {full}.",
            level=(DISTANCE, state.level),
            full=(DISTANCE, n.full_height),
        )
    if abs(state.oil["vessel"] - n.stored[RUNNING]) > 1e-9 * n.room:
        say(
            WRONG_READING,
            "The vessel holds {oil} while you mark the dipstick, not the {wanted} of running pressure: the second "
            "mark, for an emptied vessel, comes out wrong.",
            oil=(OIL, state.oil["vessel"]),
            wanted=(OIL, n.stored[RUNNING]),
        )


IN_BETWEEN = "In between the pan stands higher than its mark, but the crank does not reach it."


PROCEDURE = Procedure(
    "first_fill",
    "Fill for the first time",
    (
        Step("full", "Fill the pan to its full mark", _fill_pan),
        Step("start", "Start with the valve shut, and warm it", _start),
        Step("open", "Open the valve slowly, at fast idle", _open_valve),
        Step("top_up", "Top up what line and vessel have taken", _top_up),
        Step("run", "Bring it to running pressure", _to_running),
        Step("again", "Top up again", _top_up_again),
        Step("mark", "Valve shut, engine off, mark the dipstick", _mark),
    ),
    _before_first_fill,
    pairs(
        ("open", "top_up", IN_BETWEEN),
        ("start", "top_up", IN_BETWEEN),
        ("start", "again", IN_BETWEEN),
        ("open", "again", IN_BETWEEN),
        ("run", "again", IN_BETWEEN),
        ("top_up", "again", "Two measured amounts make the same sum either way."),
        ("top_up", "run", "What the pan has above its pick-up is enough for both until then."),
    ),
    place=2,
)
