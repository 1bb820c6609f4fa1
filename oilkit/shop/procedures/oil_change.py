"""Change the oil: six steps, from relieving the pressure to the first fill. (Lesson 09)"""

from __future__ import annotations

from oilkit.physics.valve import orifice_flow
from oilkit.shop.job import IDLE, OFF, RUNNING, Job, Numbers
from oilkit.shop.state import ENGINE, HAND, State, oil_everywhere
from oilkit.shop.steps import Say, read_procedure


def _before_oil_change(job: Job) -> State:
    """The engine idles, warm; the valve was shut at running pressure; all the oil is old."""
    n = job.numbers
    oil = oil_everywhere(job, vessel=n.stored[RUNNING])
    old = oil | {"can": 0.0}
    state = State(job, IDLE, False, oil, n.charged, n.gas_temperature, old=old)
    state.settle()
    return state


def _new_in(state: State, *places: str) -> float:
    return sum(state.oil[p] - state.old[p] for p in places)


def _relieve(state: State, n: Numbers, say: Say) -> None:
    drained = state.oil["pan"] < n.at_pickup
    new, held, old = _new_in(state, "pan") > 0.0, state.oil["vessel"], state.old["vessel"]
    state.valve_open = True
    state.stop()
    if held <= 0.0:
        return
    if drained:
        say("into_the_drained_pan", oil=held, level=state.level)
    elif new:
        say("onto_the_new_oil", oil=held, old=old, level=state.level)


def _drain_vessel(state: State, n: Numbers, say: Say) -> None:
    held, new = state.oil["vessel"], _new_in(state, "vessel", "line")
    pressure = max(state.oil_gauge, state.gallery)
    if pressure > 0.0:
        flow = float(orifice_flow.si(n.bleed, pressure, n.rho))
        state.move("vessel", "floor", held)
        say("loosened_under_pressure", pressure=pressure, heat=n.sump_temperature, flow=flow, oil=held)
    state.stop()
    state.move("vessel", "waste", state.oil["vessel"])
    state.move("line", "waste", state.oil["line"])
    if new > 1e-9 * n.room:
        say("new_oil_in_vessel_and_line", oil=new)


def _drain_pan(state: State, n: Numbers, say: Say) -> None:
    if state.engine != OFF:
        state.falls_to(0.0)
        numbers = {"oil": state.oil["pan"], "heat": n.sump_temperature, "warning": n.warning}
        say("plug_of_a_running_engine", pressure=n.pressure[state.engine], **numbers)
        state.stop()
    new = _new_in(state, "pan")
    state.move("pan", "waste", state.oil["pan"])
    if new > 1e-9 * n.room:
        say("new_oil_in_the_pan", oil=new)


def _new_filter(state: State, n: Numbers, say: Say) -> None:
    if state.engine != OFF:
        flow = n.pump[state.engine]
        lost = min(flow * HAND, state.oil["pan"])
        state.move("pan", "floor", lost)
        state.falls_to(0.0)
        say("filter_of_a_running_engine", flow=flow, lost=lost, hand=HAND, warning=n.warning)
        state.stop()
    new = _new_in(state, "filter")
    state.move("filter", "waste", state.oil["filter"])
    state.new_filter = True
    if new > 1e-9 * n.room:
        say("new_oil_in_the_filter", oil=new, volume=n.filter)


def _fill_new(state: State, n: Numbers, say: Say) -> None:
    before, missing = state.oil["pan"], max(n.at_full - state.oil["pan"], 0.0)
    old = state.old["pan"]
    state.move("can", "pan", missing)
    if before > 1e-9 * n.room:
        say("pan_not_empty", before=before, old=old, poured=missing)


def _first_fill(state: State, n: Numbers, say: Say) -> None:
    state.stop()
    state.valve_open = False
    wants = {"filter": n.filter, "galleries": n.galleries, "line": n.line, "vessel": n.stored[RUNNING]}
    if state.oil["pan"] <= n.at_pickup:
        state.falls_to(0.0)
        say("pan_empty", level=state.level, pickup=n.pickup, warning=n.warning)
        return
    state.falls_to(n.kept)
    if not state.new_filter:
        say("old_filter", old=sum(state.old[p] for p in ENGINE), volume=state.old["filter"])
    for place, amount in wants.items():
        state.move("pan", place, min(amount - state.oil[place], state.oil["pan"]))
        if state.oil[place] < amount:
            state.move("can", place, amount - state.oil[place])
    state.move("can", "pan", max(n.at_full - state.oil["pan"], 0.0))
    inside = [p for p in ENGINE if state.oil[p] > 0.0]
    share = sum(state.old[p] for p in inside) / sum(state.oil[p] for p in inside)
    for place in inside:  # it runs until all of it is mixed
        state.old[place] = share * state.oil[place]
    if state.oil["pan"] > n.at_full * (1.0 + 1e-9):
        say("pan_too_full", level=state.level, full=n.full_height, more=state.oil["pan"] - n.at_full)


PROCEDURE = read_procedure(
    __file__,
    _before_oil_change,
    relieve=_relieve,
    vessel=_drain_vessel,
    pan=_drain_pan,
    filter=_new_filter,
    fill=_fill_new,
    first_fill=_first_fill,
)
