"""Charge the vessel: seven steps, from the engine off to the reading on the next day. (Lesson 09)"""

from __future__ import annotations

from oilkit.physics.valve import orifice_flow
from oilkit.shop.hazards import charge_after_checks
from oilkit.shop.job import AIR, ASSUMED, IDLE, OFF, RUNNING, Job, Numbers
from oilkit.shop.state import HAND, UNSEEN, State, oil_everywhere
from oilkit.shop.steps import Say, read_procedure


def _before_charging(job: Job) -> State:
    """The engine idles; the valve was shut at running pressure, with a poor charge."""
    n = job.numbers
    state = State(job, RUNNING, True, oil_everywhere(job), n.left_over, n.gas_temperature)
    held = state.holds(n.pressure[RUNNING])
    state.oil["vessel"] = held
    state.valve_open, state.engine = False, IDLE
    state.settle()
    return state


def _engine_off(state: State, n: Numbers, say: Say) -> None:
    state.kelvin = n.shop_temperature
    state.stop()


def _vent(state: State, n: Numbers, say: Say) -> None:
    state.valve_open = True
    if state.engine == OFF:
        return
    pressure = state.gas_gauge
    flow = float(orifice_flow.si(n.bleed, pressure, n.rho))
    lost = min(flow * HAND, state.oil["pan"])
    state.move("pan", "floor", lost)
    state.falls_to(state.job.beside_the_bleed)
    numbers = {"pressure": pressure, "flow": flow, "lost": lost, "lowest": state.lowest, "warning": n.warning}
    say("bleed_under_pressure", heat=n.sump_temperature, hand=HAND, **numbers)


def _note_temperature(state: State, n: Numbers, say: Say) -> None:
    state.noted = state.kelvin


def _nitrogen(state: State, n: Numbers, say: Say) -> None:
    state.gauge_on, state.cap_on, state.tight, state.charged = True, False, False, True
    if state.engine != OFF and state.valve_open:
        say("pump_on_the_gauge", pressure=state.gas_gauge, true=state.charge, short=n.precharge - state.charge)
        return
    assumed = ASSUMED if state.noted is None else state.noted
    dial = n.dial[assumed]
    behind = state.oil["vessel"]
    state.gas = (dial + AIR) * (n.room - behind) / state.kelvin
    if behind > 0.0:
        spread = state.gas * state.kelvin / n.room - AIR
        say("oil_behind_the_piston", dial=dial, oil=behind, spread=spread, short=dial - spread)
    meant = (dial + AIR) * n.gas_temperature / state.kelvin - AIR
    if abs(meant - n.precharge) > UNSEEN:
        numbers = {"assumed": assumed, "real": state.kelvin, "dial": dial, "meant": meant, "wanted": n.precharge}
        name = "temperature_not_noted" if state.noted is None else "temperature_noted_before"
        say(name, **numbers, off=abs(meant - n.precharge))


def _leak_check(state: State, n: Numbers, say: Say) -> None:
    if state.charged:
        state.tight = True
        return
    say("no_gas_to_leak", loss=n.leaks_a_day * n.dial[n.shop_temperature], dial=n.dial[n.shop_temperature])


def _cap(state: State, n: Numbers, say: Say) -> None:
    if state.charged:
        state.gauge_on, state.cap_on = False, True
        return
    say("gauge_stays_on", scale=n.full_scale, pressure=n.pressure[RUNNING])


def _next_day(state: State, n: Numbers, say: Say) -> None:
    loss = n.leaks_a_day * n.dial[n.shop_temperature]
    if not state.charged:
        state.gas -= state.gas_gauge * n.dead_volume / state.kelvin  # one check of what was there
        say("read_before_the_gas", now=state.gas_gauge, loss=loss)
        return
    before = state.gas_gauge
    room = n.room - state.oil["vessel"]
    lost = 0.0 if state.tight else n.leaks_a_day * max(before, 0.0)
    state.gas -= lost * room / state.kelvin
    if lost > UNSEEN:
        say("leaked_in_a_day", before=before, now=state.gas_gauge, lost=lost)
    if state.oil["vessel"] > 0.0:
        say("oil_s_pressure", now=state.gas_gauge, oil=state.oil["vessel"], true=state.charge)
    if state.gauge_on:
        say("gauge_stayed_on", loss=loss)
        return
    now = state.gas_gauge
    after = float(charge_after_checks.si(now, room, 1.0, n.dead_volume))
    state.gas = (after + AIR) * room / state.kelvin
    state.proved = lost <= UNSEEN and state.cap_on and state.oil["vessel"] == 0.0


PROCEDURE = read_procedure(
    __file__,
    _before_charging,
    off=_engine_off,
    vent=_vent,
    temperature=_note_temperature,
    nitrogen=_nitrogen,
    leak=_leak_check,
    cap=_cap,
    next_day=_next_day,
)
