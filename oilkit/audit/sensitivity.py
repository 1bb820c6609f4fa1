"""What one input does to the worked engine's main results, and how exact the steps in time are. (Lesson 12)"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from oilkit.audit.inputs import INPUTS
from oilkit.audit.worked import MAIN, SHORT, work
from oilkit.physics.discharging import cases_of, conditions_si, flat
from oilkit.quantities.units import Q, Qty


@dataclass(frozen=True)
class Sensitivity:
    """What one input, moved to either end of its range, does to the main results."""

    name: str
    words: str
    low: Qty
    high: Qty
    why: str
    results: dict[str, tuple[Qty, Qty, Qty]] = field(repr=False)
    """For each of ``MAIN``: with the input at its low end, as usual, at its high end."""

    def widest(self, result: str = MAIN[0]) -> float:
        """The larger of the two changes, as a share of the usual result."""
        low, usual, high = (float(value.m) for value in self.results[result])
        return max(abs(low / usual - 1.0), abs(high / usual - 1.0))


def main_results(**changed: Qty) -> dict[str, Qty]:
    """The main results with some inputs changed."""
    found = {step.title: step.value for step in work(SHORT, **changed).steps}
    return {name: found[name] for name in MAIN}


def sensitivities() -> list[Sensitivity]:
    """Each input moved to both ends of its range, alone; the one that moves the protected time most comes first."""
    usual = main_results()
    found = []
    for name, entry in INPUTS.items():
        low, high = (main_results(**{name: end}) for end in (entry.low, entry.high))
        results = {key: (low[key], usual[key], high[key]) for key in MAIN}
        found.append(Sensitivity(name, entry.words, entry.low, entry.high, entry.why, results))
    return sorted(found, key=lambda row: (-round(row.widest(), 6), row.name))


@dataclass(frozen=True)
class Convergence:
    """One case at several accuracies: see `convergence`. Arrays of shape (n,), the finest last."""

    accuracy: Any
    steps: Any
    protected_time: Qty
    error: Qty
    """From the finest run, which has none to show."""


ACCURACIES = (1e-3, 1e-4, 1e-5, 1e-6, 1e-7, 1e-8, 1e-9)


def convergence(accuracies: Sequence[float] = ACCURACIES, **changed: Qty) -> Convergence:
    """The worked engine's protected time at several accuracies, with the steps that each took.

    accuracies: 1e-9 to 1e-3. The error is the difference from the last of them.
    """
    from oilkit.physics import dynamics
    from oilkit.physics.discharging import pump_lets_go

    f = work(SHORT, **changed).found
    given, _ = conditions_si(f.conditions, f.built.vessel)
    numbers = flat(given)
    cases, starts = cases_of(f.built, numbers)
    times, table = pump_lets_go(numbers, 60.0)
    rows = [dynamics.many(cases, times, table, starts, accuracy)[0] for accuracy in accuracies]
    seconds = np.array([row[dynamics.PROTECTED] for row in rows])
    return Convergence(
        accuracy=np.array(accuracies),
        steps=np.array([int(row[dynamics.STEPS]) for row in rows]),
        protected_time=Q(seconds, "s"),
        error=Q(np.abs(seconds - seconds[-1]), "s"),
    )
