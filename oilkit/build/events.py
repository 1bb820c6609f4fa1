"""What becomes of a set-up's events, as expected and with everything that may be off. (Lesson 10)"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from oilkit.build.advice import judge, no_vessel_helps
from oilkit.build.records import Event
from oilkit.build.results import HORIZON, EventResult, Swing, matter_most
from oilkit.build.setup_file import Build
from oilkit.build.spread import (
    ACCURACY,
    INPUTS,
    LENGTH,
    QUICK,
    Cases,
    at_share,
    follow_all,
    inputs,
    latin_hypercube,
    nothing_off,
    together,
    vary,
)
from oilkit.physics.discharging import tee_pressure
from oilkit.physics.engine import engine_demand
from oilkit.physics.vessel import oil_stored
from oilkit.quantities import kinds
from oilkit.quantities.kinds import GAUGE, OIL, TIME

SINGLES = slice(1, 1 + 2 * INPUTS)
"""Of the variants of an event, behind it as expected: each input at its low, then at its high. Draws come last."""


@dataclass(frozen=True)
class Varied:
    """The variants of each event of a set-up, in rows for the events."""

    build: Build
    cases: Cases

    @cached_property
    def drawn(self) -> Cases:
        """As expected, and the draws, of all events."""
        return self.cases.some(np.delete(self._places, SINGLES, axis=1).ravel())

    def drawn_of(self, event: int) -> Cases:
        return self.cases.some(np.delete(self._places[event], SINGLES))

    def singles(self, event: int) -> Cases:
        """One event's with each input at its low, and at its high."""
        return self.cases.some(self._places[event, SINGLES])

    def rows(self, values: Any) -> Any:
        """A row for each event."""
        return values.reshape(len(self.build.events), -1)

    @cached_property
    def _places(self) -> Any:
        return self.rows(np.arange(self.cases.lasts.size))

    @cached_property
    def as_planned(self) -> dict[str, Any]:
        """Conditions of each event as expected."""
        return {name: self.rows(values)[:, 0] for name, values in self.cases.conditions.items()}

    @cached_property
    def settled(self) -> Any:
        """Pressure in the vessel when the pump lets go, of each event as expected. SI."""
        return tee_pressure(self.build.installation, self.as_planned)


def varied(builds: Sequence[Build], draws: int, seed: int) -> list[Varied]:
    """Each event as expected, with each input at its low and at its high, and the draws, the same of all set-ups."""
    independent, found = latin_hypercube(draws, seed), []
    for build in builds:
        one_by_one = together(build, np.eye(INPUTS), draws=False)
        z = np.concatenate([nothing_off(), -one_by_one, one_by_one, together(build, independent)], axis=1)
        found.append(Varied(build, vary(build, build.events, z)))
    return found


def event_results(
    build: Build, draws: int, seed: int, whole: bool, idle_low: float
) -> tuple[tuple[EventResult, ...], list[tuple[Swing, ...]]]:
    """Each event, and what moves it."""
    (of,) = varied((build,), draws, seed)
    built, cases, drawn = build.installation, of.cases, of.drawn
    followed = follow_all([(built, cases, None), (built, drawn, drawn.lasts)], ACCURACY if whole else QUICK)
    protected, lengths, lowest = of.rows(followed[0][0]), of.rows(cases.lasts), of.rows(followed[1][1])
    starts, charge = of.as_planned["pressure"], cases.conditions["precharge"][0]
    at = starts, of.as_planned["speed"], build.driving.si.sump_temperature, build.driving.si.clearance_change
    demand = engine_demand.si(build.engine, build.oil, *at).total.m_as("m**3/s")
    air = build.track_ambient.m_as("Paa")
    stored = oil_stored.si(build.vessel.si.gas_volume, charge, of.settled, air, resting=True)
    found, tornados = [], []
    for k, event in enumerate(build.events):
        swings = tornado(build, protected[k, : SINGLES.stop], lengths[k, : SINGLES.stop])
        share, times = times_of(*(np.delete(rows[k], SINGLES) for rows in (protected, lengths)))
        result = EventResult(
            event=event,
            start_pressure=GAUGE.quantity(float(starts[k])),
            settled=GAUGE.quantity(float(of.settled[k])),
            stored=OIL.quantity(float(stored[k])),
            demand=kinds.THROUGH_FLOW.quantity(float(demand[k])),
            limit=GAUGE.quantity(float(build.limit_at(event.si.speed))),
            **{name: TIME.quantity(time) for name, time in times.items()},
            **{name: GAUGE.quantity(pressure) for name, pressure in pressures_of(lowest[k]).items()},
            share=share,
            turning=tuple(swing.name for swing in swings if swing.turns),
            verdict="",
            words="",
        )
        judged, words = judge(build, result, bool(protected[k, 0] >= event.si.lasts), whole, idle_low)
        found.append(replace(result, verdict=judged, words=words))
        tornados.append(swings)
    return tuple(found), tornados


def times_of(protected: Any, lengths: Any) -> tuple[float, dict[str, float]]:
    """Share of the draws and protected times of an event's result. Of it as expected and then its draws, SI."""
    shown = np.where(protected > HORIZON, np.inf, protected)
    share = float(np.mean(protected[1:] >= lengths[1:]))
    return share, _spread("protected_time", "protected_low", "protected_high", shown)


def pressures_of(lowest: Any) -> dict[str, float]:
    """Lowest pressures of an event's result."""
    shown = np.maximum(lowest, 0.0)  # as a gauge shows it
    return _spread("lowest_pressure", "lowest_low", "lowest_high", shown)


def _spread(expected: str, low: str, high: str, values: Any) -> dict[str, float]:
    return {expected: float(values[0]), low: at_share(values[1:], 0.1), high: at_share(values[1:], 0.9)}


def tornado(build: Build, protected: Any, lasts: Any) -> tuple[Swing, ...]:
    """One event's, of its protected times and lengths as expected, with each input at its low, and at its high. SI."""
    safe = protected[0] >= lasts[0]
    swings = []
    for k, (name, say) in enumerate(inputs(build)):
        low, high = 1 + k, 1 + INPUTS + k
        turns = bool(safe and (protected[low] < lasts[low] or protected[high] < lasts[high]))
        # the event's length moves the goal, not the time: what is left over, as if the event stayed as long
        at = [protected[0] + lasts[0] - lasts[row] if k == LENGTH else protected[row] for row in (low, high)]
        at_low, at_high = (TIME.quantity(min(float(time), HORIZON)) for time in at)
        swings.append(Swing(name, say(-1.0), say(1.0), at_low, at_high, turns))
    return tuple(sorted(swings, key=lambda swing: -swing.size))


def hardest_of(results: Sequence[tuple[Event, float, float]]) -> int:
    """The event of which fewest draws are protected, or of several the smallest part. results: event, share, time."""
    return min(range(len(results)), key=lambda k: (results[k][1], results[k][2] / results[k][0].si.lasts))


@dataclass(frozen=True)
class Hardest:
    """What panels show of a set-up's hardest event: the numbers of a sheet that is not the whole one, in SI."""

    event: Event
    limit: float
    share: float
    protected_time: float
    protected_low: float
    protected_high: float
    lowest_pressure: float
    lowest_low: float
    lowest_high: float
    matter_most: tuple[str, ...]
    running_pressure: float
    """Of all events, as in `BuildSheet`; so the next."""
    no_vessel_helps: bool


def hardest_events(builds: Sequence[Build], draws: int, seed: int = 7) -> list[Hardest]:
    """The hardest event of each set-up, as `build_sheet` has it with ``whole=False``, all of them followed at once.

    No other event's inputs are varied one by one, and of no other one the lowest pressure is looked for.
    """
    several, further, found = varied(builds, draws, seed), [], []
    followed = follow_all([(of.build.installation, of.drawn, None) for of in several], QUICK)
    for of, (times, _) in zip(several, followed, strict=True):
        protected, lengths = of.rows(times), of.rows(of.drawn.lasts)
        outcomes = [(event, *times_of(*rows)) for event, *rows in zip(of.build.events, protected, lengths, strict=True)]
        k = hardest_of([(event, share, times["protected_time"]) for event, share, times in outcomes])
        lasting = of.drawn_of(k)
        further += [(of.build.installation, of.singles(k), None), (of.build.installation, lasting, lasting.lasts)]
        found.append((of, k, outcomes[k], protected[:, 0]))
    followed = follow_all(further, QUICK)
    return [
        _hardest(*one, singles, lowest)
        for one, (singles, _), (_, lowest) in zip(found, followed[::2], followed[1::2], strict=True)
    ]


def _hardest(of: Varied, k: int, outcome: tuple[Event, float, dict[str, float]], expected: Any, *seen: Any) -> Hardest:
    """Of one set-up. expected: protected time of each event; seen: of event k, `singles` and lowest pressures."""
    build, (event, share, times), (protected, lowest) = of.build, outcome, seen
    limits = [float(build.limit_at(one.si.speed)) for one in build.events]
    planned = zip(build.events, of.as_planned["pressure"], limits, expected, strict=True)
    lengths = np.append(event.si.lasts, of.singles(k).lasts)
    return Hardest(
        event=event,
        limit=limits[k],
        share=share,
        **times,
        **pressures_of(lowest),
        matter_most=matter_most(tornado(build, np.append(expected[k], protected), lengths)),
        running_pressure=float(np.max(of.settled)),
        no_vessel_helps=all(
            no_vessel_helps(build, one, float(start), limit, bool(time >= one.si.lasts))
            for one, start, limit, time in planned
        ),
    )
