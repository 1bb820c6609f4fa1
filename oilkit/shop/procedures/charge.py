"""Charge the vessel: seven steps, from the engine off to the reading on the next day. (Lesson 09)"""

from __future__ import annotations

from oilkit.physics.valve import orifice_flow
from oilkit.quantities.kinds import FLOW, GAUGE, OIL, PRESSURE_DIFFERENCE, TEMPERATURE, TIME
from oilkit.shop.hazards import charge_after_checks
from oilkit.shop.job import AIR, ASSUMED, IDLE, OFF, RUNNING, Job
from oilkit.shop.state import (
    DANGER,
    HAND,
    NOT_PROVED,
    UNSEEN,
    WRONG_CHARGE,
    Procedure,
    Say,
    State,
    Step,
    none_old,
    oil_everywhere,
    pairs,
)


def _before_charging(job: Job) -> State:
    """The engine idles; the valve was shut at running pressure, with a poor charge."""
    n = job.numbers
    state = State(job, RUNNING, True, oil_everywhere(job), none_old(), n.left_over, n.gas_temperature)
    held = state.holds(n.pressure[RUNNING])
    state.oil["vessel"] = held
    state.valve_open, state.engine = False, IDLE
    state.settle()
    return state


def _engine_off(state: State, say: Say) -> None:
    state.kelvin = state.job.numbers.shop_temperature
    state.stop()


def _vent(state: State, say: Say) -> None:
    n = state.job.numbers
    state.valve_open = True
    if state.engine == OFF:
        return
    pressure = state.gas_gauge
    flow = float(orifice_flow.si(n.bleed, pressure, n.rho))
    lost = min(flow * HAND, state.oil["pan"])
    state.move("pan", "floor", lost)
    say(
        DANGER,
        "You open the bleed of a running engine's vessel: oil of {heat} sprays out under {pressure}, {flow}. In the "
        "{hand} before it is shut again {lost} are on the floor, and nothing is vented: behind the open valve stands "
        "the pump.",
        heat=(TEMPERATURE, n.oil_temperature),
        pressure=(GAUGE, pressure),
        flow=(FLOW, flow),
        hand=(TIME, HAND),
        lost=(OIL, lost),
    )


def _note_temperature(state: State, say: Say) -> None:
    state.noted = state.kelvin


def _nitrogen(state: State, say: Say) -> None:
    n = state.job.numbers
    state.gauge_on, state.cap_on, state.tight, state.charged = True, False, False, True
    if state.engine != OFF and state.valve_open:
        say(
            WRONG_CHARGE,
            "The engine runs and the valve is open: the gauge shows the pump's {pressure}, however much gas there is. "
            "Nothing can be set; the charge stays at {true}, {short} from what is wanted.",
            pressure=(GAUGE, state.gas_gauge),
            true=(GAUGE, state.charge),
            short=(PRESSURE_DIFFERENCE, n.precharge - state.charge),
        )
        return
    assumed = ASSUMED if state.noted is None else state.noted
    dial = n.dial[assumed]
    behind = state.oil["vessel"]
    state.gas = (dial + AIR) * (n.room - behind) / state.kelvin
    if behind > 0.0:
        spread = state.gas * state.kelvin / n.room - AIR
        say(
            WRONG_CHARGE,
            "The gauge shows {dial}, with {oil} of oil behind the piston. Once that is out, the gas spreads and has "
            "{spread}: {short} too low. The charge read high because oil was behind the piston.",
            dial=(GAUGE, dial),
            oil=(OIL, behind),
            spread=(GAUGE, spread),
            short=(PRESSURE_DIFFERENCE, dial - spread),
        )
    meant = (dial + AIR) * n.gas_temperature / state.kelvin - AIR
    if abs(meant - n.precharge) > UNSEEN:
        told = "Nobody noted the gas's temperature; you take it to be" if state.noted is None else "The note says"
        say(
            WRONG_CHARGE,
            told + " {assumed}, and the gas has {real}. So {dial} on the gauge become {meant} at working temperature "
            "instead of {wanted}: {off} off.",
            assumed=(TEMPERATURE, assumed),
            real=(TEMPERATURE, state.kelvin),
            dial=(GAUGE, dial),
            meant=(GAUGE, meant),
            wanted=(GAUGE, n.precharge),
            off=(PRESSURE_DIFFERENCE, abs(meant - n.precharge)),
        )


def _leak_check(state: State, say: Say) -> None:
    n = state.job.numbers
    if state.charged:
        state.tight = True
        return
    say(
        NOT_PROVED,
        "You look for leaks before the gas is in, and the gas valve is opened afterwards. If its core does not seal, "
        "{loss} of {dial} go in a day.",
        loss=(PRESSURE_DIFFERENCE, n.leaks_a_day * n.dial[n.shop_temperature]),
        dial=(GAUGE, n.dial[n.shop_temperature]),
    )


def _cap(state: State, say: Say) -> None:
    n = state.job.numbers
    if state.charged:
        state.gauge_on, state.cap_on = False, True
        return
    say(
        DANGER,
        "The cap goes on before the gas goes in, so the low-range gauge stays on the vessel afterwards. Its scale "
        "ends at {scale}; the vessel goes to {pressure}.",
        scale=(GAUGE, n.full_scale),
        pressure=(GAUGE, n.pressure[RUNNING]),
    )


def _next_day(state: State, say: Say) -> None:
    n = state.job.numbers
    loss = n.leaks_a_day * n.dial[n.shop_temperature]
    if not state.charged:
        state.gas -= state.gas_gauge * n.dead_volume / state.kelvin  # one check of what was there
        say(
            NOT_PROVED,
            "A reading of {now} a day before the gas is set says nothing about it, and nobody reads again later. A "
            "leak of {loss} a day would not be seen.",
            now=(GAUGE, state.gas_gauge),
            loss=(PRESSURE_DIFFERENCE, loss),
        )
        return
    before = state.gas_gauge
    room = n.room - state.oil["vessel"]
    lost = 0.0 if state.tight else n.leaks_a_day * max(before, 0.0)
    state.gas -= lost * room / state.kelvin
    if lost > UNSEEN:
        say(
            WRONG_CHARGE,
            "Nobody has looked for leaks since the gas went in. In a day the gauge has gone from {before} to {now}: "
            "{lost} through the gas valve's core.",
            before=(GAUGE, before),
            now=(GAUGE, state.gas_gauge),
            lost=(PRESSURE_DIFFERENCE, lost),
        )
    if state.oil["vessel"] > 0.0:
        say(
            NOT_PROVED,
            "The gauge shows {now}, because {oil} of oil stand behind the piston. That is the oil's pressure and says "
            "nothing about the charge of {true}.",
            now=(GAUGE, state.gas_gauge),
            oil=(OIL, state.oil["vessel"]),
            true=(GAUGE, state.charge),
        )
    if state.gauge_on:
        say(
            NOT_PROVED,
            "The gauge has stayed on. It comes off after the reading, and nobody looks again: a core that lets {loss} "
            "a day past under its cap would not be seen.",
            loss=(PRESSURE_DIFFERENCE, loss),
        )
        return
    now = state.gas_gauge
    after = float(charge_after_checks.si(now, room, 1.0, n.dead_volume))
    state.gas = (after + AIR) * room / state.kelvin
    state.proved = lost <= UNSEEN and state.cap_on and state.oil["vessel"] == 0.0


PROCEDURE = Procedure(
    "charge",
    "Charge the vessel",
    (
        Step("off", "Engine off, and let it cool", _engine_off),
        Step("vent", "Vent the oil side to zero: piston at the oil end", _vent),
        Step("temperature", "Note the gas's temperature", _note_temperature),
        Step("nitrogen", "Nitrogen through a regulator, low-range gauge", _nitrogen),
        Step("leak", "Look for leaks with soap water", _leak_check),
        Step("cap", "Gauge off, cap on", _cap),
        Step("next_day", "Read it again the next day", _next_day),
    ),
    _before_charging,
    pairs(
        ("vent", "temperature", "Venting moves oil; the cold gas's temperature is the same before and after."),
        ("leak", "cap", "Soap water shows a leak at the cap as it does at the gauge."),
    ),
    place=1,
)
