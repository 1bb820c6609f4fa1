"""The next reading: which of those that a bench allows would best separate what the others do not. (Lesson 11)"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from typing import Any

import numpy as np

from oilkit.bench.fit import BenchFit
from oilkit.bench.model import NAMES, PARAMETERS, PSI, Problem, drag_of
from oilkit.bench.separation import Confounded, listed, together_in
from oilkit.errors import InputError
from oilkit.physics.measure import NINETEEN_IN_TWENTY
from oilkit.physics.vessel import check_rated
from oilkit.quantities.checked import Gauge, One, public
from oilkit.quantities.kinds import GAUGE, one_to_si
from oilkit.quantities.units import Q, Qty


@dataclass(frozen=True)
class CandidateReading:
    """A reading that could be taken next."""

    precharge: Qty
    pressure: Qty
    """Gauge, as the gauges will read."""
    direction: str = "freed"
    settled: bool = True
    """Whether to wait until the gas has cooled before the rule is read."""

    @cached_property
    def si(self) -> tuple[float, float]:
        """Pre-charge and pressure in SI."""
        return one_to_si("precharge", self.precharge, GAUGE), one_to_si("pressure", self.pressure, GAUGE)

    def in_words(self, timed: bool = True) -> str:
        """What to do at the bench."""
        charge, gauge = self.si
        if gauge <= charge:
            return f"pre-charge {GAUGE.both(charge)}, no oil in it ({GAUGE.both(gauge)}): the piston at the oil end"
        way = {"rising": "reached from below", "falling": "reached from above", "freed": "piston freed"}[self.direction]
        wait = ("gas settled" if self.settled else "read at once, gas still warm") if timed else "as the others"
        return f"pre-charge {GAUGE.both(charge)}, pressure {GAUGE.both(gauge)}, {way}, {wait}"


@dataclass(frozen=True)
class NextReading:
    """What one more reading would do: see `next_reading`."""

    reading: CandidateReading
    worst_before: float
    """95 % half width along the worst-known direction that any candidate can improve, in outsider's guesses: 1 means
    that nobody knows more than the guess."""
    worst_after: float
    before: dict[str, float]
    """Of each parameter that is not given exactly: 95 % half width as a share of its guess, the guess counted in."""
    after: dict[str, float]
    candidates: tuple[CandidateReading, ...] = field(repr=False)
    tells: Any = field(repr=False)
    """What each candidate would tell, in bits: one more halves the region that holds the truth. Shape of candidates."""
    never: tuple[Confounded, ...]
    """What none of the candidates would tell apart."""
    sentence: str


@public
def usual_candidates(fit: BenchFit, highest: One[Gauge] | None = None) -> tuple[CandidateReading, ...]:
    """Readings that the bench allows: pre-charges 2 to 25 psi and pressures in steps of 10 psi, either way.

    highest: gauge, at most the vessel's rating; four fifths of the rating unless given, and at most 100 psi (estimate,
    no source: what a bench in a class needs). One candidate has no oil in the vessel. Readings taken at once
    are among them if the index is not given exactly and times were noted.
    Source: estimate, no source (what a bench in a class can be set to).

    >>> from oilkit import demo_bench, fit_bench, vessels
    >>> fit = fit_bench(vessels()["bench"], demo_bench(), {"bore": Q(4.5, "in")})
    >>> print(len(usual_candidates(fit, Q(40, "psig"))))
    60
    """
    rated = fit.vessel.si.rated_pressure
    top = min(0.8 * rated, 100 * PSI) if highest is None else highest
    if not 0.0 < top <= rated:
        raise InputError("highest", GAUGE.exact_text(top), f"above 0, up to the vessel's {GAUGE.exact_text(rated)}")
    problem = fit._problem
    timed = fit.readings.time is not None
    speeds = (True, False) if timed and NAMES.index("index") in problem.free else (True,)
    ways = ("rising", "falling") if fit.readings.direction is not None else ("freed",)
    return _usual(int(top / PSI + 1e-9), speeds, ways)


@lru_cache(maxsize=16)
def _usual(top: int, speeds: tuple[bool, ...], ways: tuple[str, ...]) -> tuple[CandidateReading, ...]:
    found = []
    for charge in (2, 5, 10, 15, 20, 25):
        found.append(CandidateReading(Q(charge, "psig"), Q(0, "psig"), ways[0]))
        for gauge in range(10, top + 1, 10):
            if gauge > charge:
                found += [
                    CandidateReading(Q(charge, "psig"), Q(gauge, "psig"), way, settled)
                    for settled in speeds
                    for way in ways
                    if settled or way != "falling"
                ]
    return tuple(found)


@public
def next_reading(fit: BenchFit, candidates: Sequence[CandidateReading] | None = None) -> NextReading:
    """Which of the candidates would best separate what the readings so far do not.

    For each one, the covariance of the parameters with that reading added is worked out at the present fit, the
    outsider's guess counted in; the one that leaves the smallest error along the worst-known direction wins
    (E-optimal). Candidates within 1 % of it are told apart by the volume of the whole region (D-optimal). Directions
    that no candidate can improve are left out of that and named in ``never``. A reading with the pre-charge of the last
    one belongs to its setting.

    candidates: any that you can take, none above the vessel's rating; `usual_candidates` unless given.
    Raises `InputError`. Source: design of experiments, E- and D-optimality, from memory.

    >>> from oilkit import demo_bench, fit_bench, vessels
    >>> fit = fit_bench(vessels()["bench"], demo_bench().first(9), {"bore": Q(4.5, "in")})
    >>> best = next_reading(fit)
    >>> print(f"{best.reading.precharge:~}, {best.reading.pressure:~}: {best.worst_before:.2f}, {best.worst_after:.2f}")
    25 psig, 30 psig: 0.75, 0.33
    """
    problem, best = fit._problem, fit._best
    tried = tuple(usual_candidates(fit) if candidates is None else candidates)
    if not tried:
        raise InputError("candidates", "none", "one reading or more that the bench allows")
    if not problem.free.size:
        raise InputError("fit", "one in which everything is given", "one with something to find")
    scatter = fit.scatter if fit.from_scatter else 1.0
    now, guess = problem.information(best, scatter), NINETEEN_IN_TWENTY**2 * np.eye(problem.free.size)
    told = _with_each(fit, tried, now, scatter)
    all_told = sum((more - now for more in told), now)
    seen, axes = np.linalg.eigh(all_told)
    reachable = axes[:, seen > 1e-9 * seen[-1]]
    worst = [_worst(more + guess, reachable) for more in (now, *told)]
    least = min(worst[1:])
    near = [k for k, w in enumerate(worst[1:]) if w <= 1.01 * least]
    region = np.linalg.slogdet(np.array([now, *told]) + guess)[1]
    tells = 0.5 * (region[1:] - region[0]) / math.log(2.0)
    k = max(near, key=lambda k: float(tells[k]))
    never = together_in(problem, axes.T, np.where(seen > 1e-9 * seen[-1], 0.0, math.inf), _lost(axes, seen))
    before, after = (_shares(problem, more + guess) for more in (now, told[k]))
    return NextReading(
        tried[k],
        worst[0],
        worst[k + 1],
        before,
        after,
        tried,
        tells,
        never,
        _advice(fit, tried[k], worst[0], worst[k + 1], never),
    )


def _with_each(fit: BenchFit, tried: Sequence[CandidateReading], now: Any, scatter: float) -> list[Any]:
    """What is told with one more reading: at a new setting it stands alone, else it shares the last one's error."""
    problem = fit._problem
    for name, values in zip(("precharge", "pressure"), zip(*(one.si for one in tried), strict=True), strict=True):
        for value in dict.fromkeys(values):
            check_rated(fit.vessel, name, value)
            if value + problem.ambient < 1e3:
                raise InputError(name, GAUGE.exact_text(value), "a reading above a vacuum")
    rows = [(*one.si, drag_of(one.direction), not one.settled or fit.readings.time is None) for one in tried]
    charge, gauge, drag, warm = map(np.array, zip(*rows, strict=True))
    _, slopes, by_u, by_v = problem.model(fit._best, charge, gauge, drag, warm)
    by = (slopes * problem.spread)[:, problem.free]
    rule, gauge_error, charge_error = problem.errors
    error = rule**2 + (by_v * gauge_error) ** 2 + (by_u * charge_error) ** 2
    alone = now + by[:, :, None] * by[:, None, :] / error[:, None, None] / scatter**2
    return [
        problem.with_one_more(*row).information(fit._best, scatter) if row[0] == problem.charge[-1] else told
        for row, told in zip(rows, alone, strict=True)
    ]


def _worst(information: Any, reachable: Any) -> float:
    inside = reachable.T @ information @ reachable
    return NINETEEN_IN_TWENTY / math.sqrt(float(np.linalg.eigvalsh(inside)[0]))


def _shares(problem: Problem, information: Any) -> dict[str, float]:
    errors = NINETEEN_IN_TWENTY * np.sqrt(np.diag(np.linalg.inv(information)))
    return {NAMES[place]: float(error) for place, error in zip(problem.free, errors, strict=True)}


def _lost(axes: Any, seen: Any) -> list[int]:
    blind = axes[:, seen <= 1e-9 * seen[-1]]
    return np.flatnonzero(np.linalg.norm(blind, axis=1) > 1e-4).tolist() if blind.size else []


def _advice(fit: BenchFit, planned: CandidateReading, before: float, after: float, never: Sequence[Confounded]) -> str:
    timed = fit.readings.time is not None
    first = f"Take next: {planned.in_words(timed)}."
    gain = (
        f" What is known worst is then known to {100 * after:.0f} % of an outsider's guess; now {100 * before:.0f} %."
        if after < 0.99 * before
        else " No single reading cures the worst; this one helps most towards it, and the next one after it."
    )
    rest = "".join(
        f" No such reading tells {listed([PARAMETERS[name].words for name in group.names])}"
        f"{' apart: measure one of them another way' if len(group.names) > 1 else ''}."
        for group in never
    )
    return first + gain + rest
