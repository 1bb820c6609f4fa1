"""Commissioning: charging, first fill, shut-down and oil change, step by step, in any order. (Lesson 09)

A procedure is a list of steps in the right order (`PROCEDURES`). `play` does them in any order on a model of the
whole: where the oil is, how much gas there is, what runs, what is open. A step that meets something else than in
the right order says what comes of it, in numbers. There is no physics of its own here: Boyle's law, pan, pump,
bearings, line, night and pre-lube come from the modules of their lessons. Oil keeps its volume (it swells 5 % from shop
to hot, in every place alike).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import combinations

from oilkit.errors import InputError, of_these
from oilkit.quantities.checked import public
from oilkit.quantities.kinds import GAUGE
from oilkit.quantities.records import beside
from oilkit.quantities.units import Qty
from oilkit.shop.job import OFF, Job, usual_job
from oilkit.shop.procedures import PROCEDURES
from oilkit.shop.state import PLACES, UNSEEN, State
from oilkit.shop.steps import END, Consequence, Procedure, Say, Sentence, told

SEEN, SEEN_OIL, SEEN_LEVEL, SEEN_SHARE = 700.0, 1e-5, 3e-4, 1e-3
"""Smaller differences of pressure (Pa), oil (m3), level (m) and share are not said once more when all is done."""
ALWAYS = told(Sentence, *beside(__file__), "says")
"""What is said whatever the procedure: of a running engine after any step, and when all is done."""


@dataclass(frozen=True)
class Played:
    """A procedure played out in some order: see `play`."""

    procedure: Procedure = field(repr=False)
    order: tuple[str, ...]
    states: tuple[State, ...] = field(repr=False)
    """The start, and how things stand after each step: one more than there are steps."""
    consequences: tuple[Consequence, ...]
    differs: tuple[str, ...]
    """What is another way at the end than after the right order."""
    harmless: str
    """Why nothing comes of it, if nothing does; for the right order that it is right; else empty."""

    @property
    def final(self) -> State:
        return self.states[-1]

    @property
    def lowest(self) -> dict[str, Qty | None]:
        """To what gallery pressure, at the lowest, each step takes the turning engine; None where it stands.

        Without a start's first seconds, valve shut: those every drive has.
        """
        fell = {key: state.lowest for key, state in zip(self.order, self.states[1:], strict=True)}
        return {key: GAUGE.quantity(low) if math.isfinite(low) else None for key, low in fell.items()}


def _watched(state: State, say: Say, seen: set[str]) -> None:
    """Two things that a running engine does not forgive: a bare pick-up, and oil that the crank can reach."""
    n = state.job.numbers
    foams = state.engine != OFF and state.level > n.windage
    for name, now, limit in (("pump_draws_air", state.dry, n.damage), ("crank_whips_the_oil", foams, n.windage)):
        if not now:
            seen.discard(name)
        elif name not in seen:
            seen.add(name)
            say(name, level=state.level, limit=limit)


@public
def play(procedure: str | Procedure, order: Sequence[str] | None = None, job: Job | None = None) -> Played:
    """Do the steps of a procedure in some order, and see what comes of it.

    procedure: one of ``PROCEDURES``, or its key. order: the keys of its steps, each once; the right order unless given.
    job: the usual one unless given; its numbers are worked out once, so that a further order costs a fraction of a
    millisecond. Raises `InputError` for an unknown procedure or an order that is none.
    Source: the steps are common practice, no source; consequences by the package's functions, as their words say.

    >>> wrong = play("charge", ("off", "temperature", "nitrogen", "vent", "leak", "cap", "next_day"))
    >>> print(wrong.consequences[0].kind, "-", wrong.consequences[0].text.split(".")[0])
    wrong charge - The gauge shows 7
    >>> print(f"{wrong.final.true_charge:.1f~} instead of {play('charge').final.true_charge:.1f~}")
    -8.6 psig instead of 10.0 psig
    """
    if isinstance(procedure, str):
        procedure = of_these("procedure", procedure, PROCEDURES)
    job = usual_job() if job is None else job
    order = procedure.keys if order is None else tuple(order)
    if sorted(map(str, order)) != sorted(procedure.keys):
        got = ", ".join(map(str, order)) or "no steps"
        raise InputError("order", got, f"each of {', '.join(procedure.keys)} once")
    right = _right_end(procedure, job)
    states, said = _run(procedure, order, job)
    final = states[-1]
    differs = _differences(final, right)
    _at_the_end(final, right, said)
    harmless = ""
    if order == procedure.keys:
        harmless = "" if said else "This is the right order."
    elif not said and not differs:
        harmless = _why_harmless(procedure, order)
    return Played(procedure, order, tuple(states), tuple(said), differs, harmless)


def _run(procedure: Procedure, order: Sequence[str], job: Job) -> tuple[list[State], list[Consequence]]:
    state = procedure.start(job)
    states, seen = [state.copy()], set[str]()
    said: list[Consequence] = []
    for key in order:
        say = _saying(said, key, procedure.says | ALWAYS)
        state.lowest = state.gallery if state.engine != OFF else math.inf
        procedure.step(key).do(state, job.numbers, say)
        state.settle()
        if state.engine != OFF:
            state.falls_to(state.gallery)
        _watched(state, say, seen)
        states.append(state.copy())
    return states, said


def _saying(said: list[Consequence], step: str, says: dict[str, Sentence]) -> Say:
    """What a step calls to have a sentence of that name said, with its numbers in SI."""

    def say(name: str, **numbers: float) -> None:
        said.append(says[name].about(step, numbers))

    return say


def _right_end(procedure: Procedure, job: Job) -> State:
    return job.once("right", procedure.key, lambda: _run(procedure, procedure.keys, job)[0][-1])


FLAGS = {
    "engine": "engine", "valve": "valve_open", "gauge": "gauge_on", "cap": "cap_on", "tightness": "tight",
    "proof": "proved", "filter": "new_filter",
}  # fmt: skip
"""What may end another way beside charge, oil and marks, and its field in a `State`."""


def _differences(final: State, right: State) -> tuple[str, ...]:
    least = 1e-9 * final.job.numbers.room
    found = [name for name, flag in FLAGS.items() if getattr(final, flag) != getattr(right, flag)]
    if abs(final.charge - right.charge) > UNSEEN:
        found.append("charge")
    for place in PLACES:
        if abs(final.oil[place] - right.oil[place]) > least:
            found.append(place)
        elif abs(final.old[place] - right.old[place]) > least:
            found.append(f"old oil in the {place}")
    if any(abs(a - b) > 1e-9 for a, b in zip(final.marks or (), right.marks or (), strict=False)):
        found.append("marks")
    return tuple(found)


def _at_the_end(final: State, right: State, said: list[Consequence]) -> None:
    """What is found when all is done, beside what each step said."""
    say = _saying(said, END, ALWAYS)
    if abs(final.charge - right.charge) > SEEN:
        say("other_charge", true=final.charge, wanted=right.charge)
    if final.engine != OFF and final.valve_open and final.oil["vessel"] > 0.0:
        say("valve_still_open", oil=final.oil["vessel"])
    elif abs(final.oil["vessel"] - right.oil["vessel"]) > SEEN_OIL:
        say("other_oil_in_the_vessel", oil=final.oil["vessel"], wanted=right.oil["vessel"])
    if final.engine == OFF and abs(final.level - right.level) > SEEN_LEVEL:
        say("other_level", level=final.level, wanted=right.level)
    if final.old_share > right.old_share + SEEN_SHARE:
        say("old_oil_left", share=final.old_share, wanted=right.old_share)


def _why_harmless(procedure: Procedure, order: Sequence[str]) -> str:
    swapped = [pair for pair in combinations(procedure.keys, 2) if order.index(pair[1]) < order.index(pair[0])]
    reasons = [procedure.may_swap.get(frozenset(pair), "") for pair in swapped]
    told = " ".join(dict.fromkeys(filter(None, reasons)))
    return f"harmless: it ends as the right order does. {told}".rstrip()
