"""Change the oil: six steps, from relieving the pressure to the first fill. (Lesson 09)"""

from __future__ import annotations

from oilkit.physics.valve import orifice_flow
from oilkit.quantities.kinds import DISTANCE, FLOW, GAUGE, OIL, TEMPERATURE, TIME
from oilkit.shop.job import IDLE, OFF, RUNNING, Job
from oilkit.shop.state import (
    DANGER,
    ENGINE,
    HAND,
    WASTED,
    WRONG_PLACE,
    Procedure,
    Say,
    State,
    Step,
    oil_everywhere,
    pairs,
)


def _before_oil_change(job: Job) -> State:
    """The engine idles, warm; the valve was shut at running pressure; all the oil is old."""
    n = job.numbers
    oil = oil_everywhere(job, vessel=n.stored[RUNNING])
    old = oil | {"can": 0.0}
    state = State(job, IDLE, False, oil, old, n.charged, n.gas_temperature)
    state.settle()
    return state


def _new_in(state: State, *places: str) -> float:
    return sum(state.oil[p] - state.old[p] for p in places)


def _relieve(state: State, say: Say) -> None:
    drained = state.oil["pan"] < state.job.numbers.at_pickup
    new, held, old = _new_in(state, "pan") > 0.0, state.oil["vessel"], state.old["vessel"]
    state.valve_open = True
    state.stop()
    where = {"oil": (OIL, held), "level": (DISTANCE, state.level)}
    if held <= 0.0:
        return
    if drained:
        say(
            WASTED,
            "The vessel's {oil} of old oil run into the pan that you have drained: it stands at {level}.",
            **where,
        )
    elif new:
        words = "The vessel's {oil}, {old} of it old, run onto the new oil: the pan stands at {level}."
        say(WRONG_PLACE, words, **where, old=(OIL, old))


def _drain_vessel(state: State, say: Say) -> None:
    n = state.job.numbers
    held, new = state.oil["vessel"], _new_in(state, "vessel", "line")
    pressure = max(state.oil_gauge, state.gallery)
    if pressure > 0.0:
        flow = float(orifice_flow.si(n.bleed, pressure, n.rho))
        state.move("vessel", "floor", held)
        say(
            DANGER,
            "You loosen the vessel's fitting under {pressure}: oil of {heat} comes out at {flow}, and {oil} are on "
            "the floor before it stops.",
            pressure=(GAUGE, pressure),
            heat=(TEMPERATURE, n.oil_temperature),
            flow=(FLOW, flow),
            oil=(OIL, held),
        )
    state.stop()
    state.move("vessel", "waste", state.oil["vessel"])
    state.move("line", "waste", state.oil["line"])
    if new > 1e-9 * n.room:
        say(WASTED, "Of what you drain from vessel and line {oil} are new oil.", oil=(OIL, new))


def _drain_pan(state: State, say: Say) -> None:
    n = state.job.numbers
    if state.engine != OFF:
        say(
            DANGER,
            "You pull the plug under a running engine: {oil} of {heat} run out, the pump draws air and the gallery "
            "falls from {pressure} to nothing.",
            oil=(OIL, state.oil["pan"]),
            heat=(TEMPERATURE, n.oil_temperature),
            pressure=(GAUGE, n.pressure[state.engine]),
        )
        state.stop()
    new = _new_in(state, "pan")
    state.move("pan", "waste", state.oil["pan"])
    if new > 1e-9 * n.room:
        say(WASTED, "With the old oil {oil} of new oil go down the drain.", oil=(OIL, new))


def _new_filter(state: State, say: Say) -> None:
    n = state.job.numbers
    if state.engine != OFF:
        flow = n.pump[state.engine]
        lost = min(flow * HAND, state.oil["pan"])
        state.move("pan", "floor", lost)
        say(
            DANGER,
            "You unscrew the filter of a running engine: the pump pushes {flow} out there, {lost} in the {hand} "
            "before you have stopped it.",
            flow=(FLOW, flow),
            lost=(OIL, lost),
            hand=(TIME, HAND),
        )
        state.stop()
    new = _new_in(state, "filter")
    state.move("filter", "waste", state.oil["filter"])
    state.new_filter = True
    if new > 1e-9 * n.room:
        say(
            WASTED,
            "The old filter has run with the new oil and takes {oil} of it along; at the next start the new one takes "
            "{volume} out of the pan.",
            oil=(OIL, new),
            volume=(OIL, n.filter),
        )


def _fill_new(state: State, say: Say) -> None:
    n = state.job.numbers
    before, missing = state.oil["pan"], max(n.at_full - state.oil["pan"], 0.0)
    old = state.old["pan"]
    state.move("can", "pan", missing)
    if before > 1e-9 * n.room:
        say(
            WRONG_PLACE,
            "The pan holds {before} before you fill it, {old} of that old oil: only {poured} of new go in up to the "
            "mark.",
            before=(OIL, before),
            old=(OIL, old),
            poured=(OIL, missing),
        )


def _first_fill(state: State, say: Say) -> None:
    n = state.job.numbers
    state.stop()
    state.valve_open = False
    wants = {"filter": n.filter, "galleries": n.galleries, "line": n.line, "vessel": n.stored[RUNNING]}
    if state.oil["pan"] <= n.at_pickup:
        say(
            DANGER,
            "You start an engine whose pan stands at {level}, with the pick-up at {pickup}: the pump draws air, and "
            "the bearings get nothing. You stop at once; nothing has been filled.",
            level=(DISTANCE, state.level),
            pickup=(DISTANCE, n.pickup),
        )
        return
    if not state.new_filter:
        say(
            WASTED,
            "It runs with the old filter, and with {old} of old oil in engine, line and vessel, {volume} of that in "
            "the filter.",
            old=(OIL, sum(state.old[p] for p in ENGINE)),
            volume=(OIL, state.old["filter"]),
        )
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
        say(
            WRONG_PLACE,
            "With the vessel full the pan still stands at {level}, above its full mark of {full}: {more} too much.",
            level=(DISTANCE, state.level),
            full=(DISTANCE, n.full_height),
            more=(OIL, state.oil["pan"] - n.at_full),
        )


INTO_ONE_CAN = "Both run into the same can, and neither feeds the other."


PROCEDURE = Procedure(
    "oil_change",
    "Change the oil",
    (
        Step("relieve", "Engine off, valve open: pressure relieved", _relieve),
        Step("vessel", "Drain vessel and line", _drain_vessel),
        Step("pan", "Drain the pan", _drain_pan),
        Step("filter", "New filter", _new_filter),
        Step("fill", "Fill to the full mark", _fill_new),
        Step("first_fill", "Warm up, fill the vessel, top up, mark", _first_fill),
    ),
    _before_oil_change,
    pairs(
        ("vessel", "pan", INTO_ONE_CAN),
        ("vessel", "filter", INTO_ONE_CAN),
        ("pan", "filter", INTO_ONE_CAN),
        ("vessel", "fill", "The line drains by itself, and nothing of it comes into the pan."),
        ("filter", "fill", "The filter's oil does not come into the pan while the engine stands."),
    ),
    place=4,
)
