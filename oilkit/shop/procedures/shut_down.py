"""Shut down: five steps, from running pressure to the dipstick. (Lesson 09)"""

from __future__ import annotations

from oilkit.shop.job import IDLE, OFF, RUNNING, Job, Numbers
from oilkit.shop.state import State, oil_everywhere
from oilkit.shop.steps import Say, read_procedure


def _before_shut_down(job: Job) -> State:
    """Back from the road: the engine idles, the valve is open, the vessel has sunk to idle pressure."""
    n = job.numbers
    oil = oil_everywhere(job, vessel=n.stored[RUNNING])
    state = State(job, RUNNING, True, oil, n.charged, n.gas_temperature)
    state.engine = IDLE
    state.settle()
    return state


def _hold(state: State, n: Numbers, say: Say) -> None:
    if state.engine == OFF:
        say("engine_stands", pressure=n.pressure[RUNNING])
        return
    state.engine = RUNNING


def _shut_valve(state: State, n: Numbers, say: Say) -> None:
    state.valve_open = False
    if state.engine == OFF or state.oil["vessel"] >= n.stored[RUNNING] * (1.0 - 1e-9):
        return
    less, full = state.job.morning(state.engine), state.job.morning(RUNNING)
    kept, wanted = state.oil["vessel"], n.stored[RUNNING]
    numbers = {"pressure": n.pressure[state.engine], "kept": kept, "wanted": wanted, "morning": n.shop_temperature}
    if less is None or full is None or less.oil_left.m <= 0.0:
        say("nothing_for_the_morning", **numbers)
        return
    peak, best = (float(run.peak_pressure.m_as("Pag")) for run in (less, full))
    say("less_for_the_morning", **numbers, peak=peak, best=best)


def _to_idle(state: State, n: Numbers, say: Say) -> None:
    if state.engine != OFF:
        state.engine = IDLE


def _ignition_off(state: State, n: Numbers, say: Say) -> None:
    ran, held = state.engine, state.oil["vessel"]
    state.stop()
    if not state.valve_open or held <= 0.0:
        return
    time = float(state.job.emptied(ran).empty_after.m_as("s"))
    say("vessel_runs_out", oil=held, time=time, level=state.level, full=n.full_height)


def _read_dipstick(state: State, n: Numbers, say: Say) -> None:
    missing = n.at_full - state.oil["pan"]
    if abs(missing) <= 1e-9 * n.room:
        return
    where = {"level": state.level, "full": n.full_height}
    if state.engine != OFF:
        say("oil_in_flight", **where, away=state.oil["flight"], vessel=state.oil["vessel"], off=abs(missing))
    else:
        say("vessel_s_oil_in_the_pan", **where, off=abs(missing))


PROCEDURE = read_procedure(
    __file__,
    _before_shut_down,
    hold=_hold,
    shut=_shut_valve,
    idle=_to_idle,
    ignition=_ignition_off,
    dipstick=_read_dipstick,
)
