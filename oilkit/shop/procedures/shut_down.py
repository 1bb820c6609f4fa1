"""Shut down: five steps, from running pressure to the dipstick. (Lesson 09)"""

from __future__ import annotations

from oilkit.quantities.kinds import DISTANCE, GAUGE, OIL, TEMPERATURE, TIME
from oilkit.shop.job import IDLE, OFF, RUNNING, Job
from oilkit.shop.state import (
    NOT_PROVED,
    WRONG_PLACE,
    WRONG_READING,
    Procedure,
    Say,
    State,
    Step,
    none_old,
    oil_everywhere,
    pairs,
)


def _before_shut_down(job: Job) -> State:
    """Back from the road: the engine idles, the valve is open, the vessel has sunk to idle pressure."""
    n = job.numbers
    oil = oil_everywhere(job, vessel=n.stored[RUNNING])
    state = State(job, RUNNING, True, oil, none_old(), n.charged, n.gas_temperature)
    state.engine = IDLE
    state.settle()
    return state


def _hold(state: State, say: Say) -> None:
    n = state.job.numbers
    if state.engine == OFF:
        say(
            NOT_PROVED,
            "The engine stands: there is no running pressure of {pressure} left to fill the vessel.",
            pressure=(GAUGE, n.pressure[RUNNING]),
        )
        return
    state.engine = RUNNING


def _shut_valve(state: State, say: Say) -> None:
    n = state.job.numbers
    state.valve_open = False
    if state.engine == OFF or state.oil["vessel"] >= n.stored[RUNNING] * (1.0 - 1e-9):
        return
    less, full = state.job.morning(state.engine), state.job.morning(RUNNING)
    amounts = {
        "pressure": (GAUGE, n.pressure[state.engine]),
        "kept": (OIL, state.oil["vessel"]),
        "wanted": (OIL, n.stored[RUNNING]),
        "morning": (TEMPERATURE, n.shop_temperature),
    }
    words = "You shut the valve at {pressure}. The vessel keeps {kept} instead of {wanted}"
    if less is None or full is None or less.oil_left.m <= 0.0:
        say(WRONG_PLACE, words + ": nothing is left for a pre-lube in the morning, at {morning}.", **amounts)
        return
    say(
        WRONG_PLACE,
        words + "; in the morning, at {morning}, its pre-lube reaches {peak} instead of {best}.",
        **amounts,
        peak=(GAUGE, float(less.peak_pressure.m_as("Pag"))),
        best=(GAUGE, float(full.peak_pressure.m_as("Pag"))),
    )


def _to_idle(state: State, say: Say) -> None:
    if state.engine != OFF:
        state.engine = IDLE


def _ignition_off(state: State, say: Say) -> None:
    ran, held = state.engine, state.oil["vessel"]
    state.stop()
    if not state.valve_open or held <= 0.0:
        return
    gone = state.job.emptied(ran)
    say(
        WRONG_PLACE,
        "You switch off with the valve open: the vessel runs out into the pan, {oil} in {time}. The pan then stands at "
        "{level}, above its full mark of {full}, and nothing is left for the morning's pre-lube.",
        oil=(OIL, held),
        time=(TIME, float(gone.empty_after.m_as("s"))),
        level=(DISTANCE, state.level),
        full=(DISTANCE, state.job.numbers.full_height),
    )


def _read_dipstick(state: State, say: Say) -> None:
    n = state.job.numbers
    missing = n.at_full - state.oil["pan"]
    if abs(missing) <= 1e-9 * n.room:
        return
    where = {"level": (DISTANCE, state.level), "full": (DISTANCE, n.full_height)}
    if state.engine != OFF:
        say(
            WRONG_READING,
            "The dipstick shows {level} while {away} are in flight and {vessel} in the vessel; the full mark is at "
            "{full}. Whoever corrects that by {off} has the wrong amount in the engine.",
            **where,
            away=(OIL, state.oil["flight"]),
            vessel=(OIL, state.oil["vessel"]),
            off=(OIL, abs(missing)),
        )
    else:
        say(
            WRONG_READING,
            "The dipstick shows {level} and its full mark is at {full}: {off} of that belong into the vessel. Whoever "
            "drains them is short by as much once the vessel has filled again.",
            **where,
            off=(OIL, abs(missing)),
        )


MAKES_NO_ODDS = "An engine that is about to stop, or stands, changes nothing in a vessel that is shut."


PROCEDURE = Procedure(
    "shut_down",
    "Shut down",
    (
        Step("hold", "Hold running pressure until the vessel is full", _hold),
        Step("shut", "Shut the valve", _shut_valve),
        Step("idle", "Back to idle", _to_idle),
        Step("ignition", "Ignition off", _ignition_off),
        Step("dipstick", "Read the dipstick", _read_dipstick),
    ),
    _before_shut_down,
    pairs(
        ("hold", "idle", "It idles already when you begin, and holds running pressure afterwards."),
        ("shut", "idle", "It idled before running pressure was held; the valve shuts on a full vessel."),
        ("idle", "ignition", MAKES_NO_ODDS),
        ("idle", "dipstick", MAKES_NO_ODDS),
    ),
    place=3,
)
