"""Your bench: what a class's readings say about its vessel and its gauges, and what they cannot say. (Lesson 11)

Least squares (scipy's) find the numbers that fit best; the readings' own errors, those of both gauges included, say how
far to trust them. What the readings cannot separate gets words and no number.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Annotated, Any, TypeAlias

import numpy as np

from oilkit.bench.model import NAMES, PARAMETERS, Problem, drag_of, limits
from oilkit.bench.readings import RULE, BenchReadings
from oilkit.bench.separation import Confounded, Fitted, along, directions, fitted, stroke_of, together_in
from oilkit.errors import InputError, of_these
from oilkit.physics.measure import NINETEEN_IN_TWENTY
from oilkit.physics.pressure import STANDARD_ATMOSPHERE
from oilkit.physics.vessel import Vessel
from oilkit.quantities.checked import Ambient, One, public
from oilkit.quantities.kind import Kind
from oilkit.quantities.kinds import GAUGE, TIME, fitted_together, one_to_si, to_si
from oilkit.quantities.units import Q, Qty
from oilkit.storage.templates import template

WITHIN = Kind("how far off a reading may be", "Pa", "psi", 2, "bar", 3, "Q(0.3, 'psi')", low=0.0)
RULE_WITHIN = Kind("how far off a rule reading may be", "m", "in", 3, "mm", 2, "Q(0.04, 'in')", 0.0, above_low=True)
RuleWithin: TypeAlias = Annotated[Any, RULE_WITHIN]
Within: TypeAlias = Annotated[Any, WITHIN]
Waiting: TypeAlias = Annotated[Any, replace(TIME, infinite=True)]
"""Infinite if no reading was ever left to settle."""

USUAL_RULE = Q(0.04, "in")
USUAL_GAUGE = Q(0.3, "psi")
"""A rule read to a millimeter and a good dial read to a third of its finest line: within that 19 times in 20
(estimates, no source). State your own."""
SETTLED_AFTER = Q(60, "s")
"""Five time constants of about 12 s, as a bench vessel has when it is full (`oilkit.gas_time_constant`): the gas is
nearly as warm as the wall again."""
_WEAK_HOLD = 0.5
"""The outsider's guess pulls on the fit as if it were off by four times as much as it is: enough to hold what nothing
else holds, and too little to be seen in what the readings do say."""
_LOOK_AGAIN = 0.25
"""Where a parameter is known to no better a share of the guess than this, the slopes at the best fit may flatter it:
the fit may have wandered to where the readings seem to tell more. It is then judged once more near the guess."""


@dataclass(frozen=True)
class BenchFit:
    """What a set of bench readings says: see `fit_bench`."""

    readings: BenchReadings = field(repr=False)
    vessel: Vessel
    parameters: dict[str, Fitted]
    together: tuple[Confounded, ...]
    """Empty if every parameter got a number."""
    stroke: Fitted
    """Gas volume over piston area, which a rule sees better than either."""
    fitted_rule: Qty = field(repr=False)
    """What the fit says that the rule should read, shape (n,)."""
    residual: Qty = field(repr=False)
    """Rule as read less that, shape (n,)."""
    standardised: Any = field(repr=False)
    """Residuals in their own standard errors, shape (n,): within 2 about 19 times in 20; NaN where a reading is fitted
    exactly and cannot be judged."""
    freedom: int
    """Readings to spare: those beyond what it takes to find the numbers."""
    scatter: float
    """Scatter over what the stated reading errors explain: near 1 if both agree; NaN with nothing to spare."""
    from_scatter: bool
    """Whether the intervals come from the scatter instead of the stated errors."""
    outlier: int | None
    """Place of a reading that stands out, counted from 0: without it the others go together."""
    goes_together: bool
    """Whether the readings scatter no more than the stated errors allow; one set in a hundred does by chance. If not,
    the model or the stated errors are wrong, and no interval here is to be believed."""
    remarks: tuple[str, ...]
    """What a careful helper would say about it, a sentence each."""
    _problem: Problem = field(repr=False, compare=False)
    _best: Any = field(repr=False, compare=False)

    def rule_at(self, precharge: Qty, pressure: Qty, direction: str = "freed", settled: bool = True) -> Qty:
        """What the rule should read by this fit at another reading of the gauges. Pressures broadcast.

        >>> from oilkit import demo_bench, vessels
        >>> fit = fit_bench(vessels()["bench"], demo_bench(), {"bore": (Q(4.5, "in"), Q(0.01, "in"))})
        >>> print(f"{fit.rule_at(Q(10, 'psig'), Q(30, 'psig'), 'rising'):.1f~}")
        5.3 in
        """
        drag = drag_of(direction)
        given = {"precharge": to_si("precharge", precharge, GAUGE), "pressure": to_si("pressure", pressure, GAUGE)}
        charge, gauge = fitted_together(given)
        rule, *_ = self._problem.model(
            self._best, charge, gauge, np.full(gauge.shape, drag), np.full(gauge.shape, not settled)
        )
        return RULE.quantity(rule)


@public
def fit_bench(
    vessel: Vessel,
    readings: BenchReadings,
    known: Mapping[str, Any] | None = None,
    *,
    rule_within: One[RuleWithin] = USUAL_RULE,
    pressure_within: One[Within] = USUAL_GAUGE,
    charge_within: One[Within] = USUAL_GAUGE,
    ambient: One[Ambient] = STANDARD_ATMOSPHERE,
    settled_after: One[Waiting] = SETTLED_AFTER,
    from_scatter: bool = False,
    depth: bool = False,
) -> BenchFit:
    """Fit gas volume, bore, dead length, both gauges' zero errors, seal friction and polytropic index to readings.

    vessel: what its maker states; the search starts there. readings: see `read_bench`.
    known: parameters by name (``PARAMETERS``) that you know otherwise: a quantity for one known exactly, or a pair of
    it and how far off it may be, 19 times in 20. All others are fitted.
    rule_within, pressure_within, charge_within: how far off a single reading may be, 19 times in 20; a gauge that is
    off by the same everywhere is what its zero error is for. ambient: absolute.
    settled_after: the index belongs to readings taken sooner than that after the pressure was set, and to all of them
    if no time was noted; later ones follow Boyle. from_scatter: intervals from the readings' scatter (with Student's t)
    instead of the stated errors, which then only say how the readings weigh against each other; 3 readings to spare.
    depth: the rule is put in from the gas end and reads less as oil comes in.
    Intervals are linear in the readings' errors: from the slopes at the best fit and, for what is known poorly, at one
    held near the guess, whichever are wider. A parameter whose interval is wider than an outsider's guess gets no
    number. Raises `InputError`.
    Source: first principles (gas law, cylinder); generalized least squares with errors in all readings, from memory.

    >>> from oilkit import demo_bench, vessels
    >>> fit = fit_bench(vessels()["bench"], demo_bench(), {"bore": (Q(4.5, "in"), Q(0.01, "in"))})
    >>> found = fit.parameters["friction"]
    >>> print(f"{found.value:.1f~} give or take {found.within:.1f~}")
    1.3 psi give or take 0.1 psi
    """
    problem = _problem(
        vessel, readings, known or {}, (rule_within, pressure_within, charge_within), ambient, settled_after, depth
    )
    best, scatter = _best(problem), 1.0
    if from_scatter:
        best, scatter = _by_scatter(problem, best)
    return _report(vessel, readings, problem, best, scatter, from_scatter)


def _problem(
    vessel: Vessel,
    readings: BenchReadings,
    known: Mapping[str, Any],
    within: tuple[float, float, float],
    air: float,
    waiting: float,
    depth: bool,
) -> Problem:
    si = readings.si
    errors = tuple(value / NINETEEN_IN_TWENTY for value in within)
    for name in ("precharge", "pressure"):
        first = int(np.argmin(si[name]))
        if si[name][first] + air < 1e3:
            lowest = GAUGE.exact_text(float(si[name][first]))
            raise InputError(f"{name}, reading {first + 1}", lowest, "a reading above a vacuum")
    spread = np.array([sort.unlike(vessel.si) for sort in PARAMETERS.values()])
    guess = np.array([vessel.si.gas_volume, vessel.si.bore, 0.0, 0.0, 0.0, 0.0, 1.2])
    if np.all("time" in si and si["time"] >= waiting):
        guess[-1] = 1.0  # nothing depends on it
    prior, given = np.full(len(NAMES), math.inf), set()
    for name, value in known.items():
        kind = of_these("known", name, PARAMETERS).kind
        place = NAMES.index(name)
        number, off = value if isinstance(value, tuple) else (value, None)
        guess[place] = one_to_si(f"known, {name}", number, kind)
        low, high = limits(name, vessel.si)
        if not low < guess[place] < high:
            ends = f"above {kind.exact_text(low, figures=3)} and below {kind.exact_text(high, figures=3)}"
            raise InputError(f"known, {name}", kind.exact_text(guess[place]), f"{kind.noun} {ends}")
        size = 0.0 if off is None else one_to_si(f"known, {name}, off by", off, kind)
        if size < 0.0:
            raise InputError(f"known, {name}, off by", kind.exact_text(size), "0 or more")
        prior[place] = size / NINETEEN_IN_TWENTY / spread[place]
        given.add(name)
    warm = si["time"] < waiting if "time" in si else np.ones(len(si["rule"]), dtype=bool)
    problem = Problem(
        si["precharge"], si["pressure"], si["rule"], si["drag"], warm,
        np.concatenate([[0], np.cumsum(np.diff(si["precharge"]) != 0.0)]),
        air, bool(depth), errors, guess, spread, np.flatnonzero(prior > 0.0), prior[prior > 0.0],
        np.array([limits(name, vessel.si) for name in NAMES]).T,
    )  # fmt: skip
    if "dead_length" not in given:
        expected, *_ = problem.as_taken(guess)
        guess[NAMES.index("dead_length")] = float(np.mean(problem.rule - expected))
    return problem


def _best(problem: Problem, scatter: float = 1.0, hold: float = _WEAK_HOLD) -> Any:
    """The parameters that fit best. Weights depend on the slopes, so they are brought up to date until nothing moves.

    hold: weight of the outsider's guess, one over its standard error in spreads.
    """
    from scipy.optimize import least_squares

    theta, free = problem.guess.copy(), problem.free
    if not free.size:
        return theta
    pulls = np.concatenate([1.0 / problem.prior, np.full(free.size, hold)])
    weak = np.vstack([np.diag(1.0 / problem.prior), hold * np.eye(free.size)])
    low, high = (problem.ends[:, free] - problem.guess[free]) / problem.spread[free]

    def spelled(x: Any) -> Any:
        full = problem.guess.copy()
        full[free] += x * problem.spread[free]
        return full

    x = np.zeros(free.size)
    for _ in range(12):
        _, _, colour = problem.at(spelled(x))
        white = np.linalg.inv(colour) / scatter

        def missed(y: Any, white: Any = white) -> Any:
            rule, *_ = problem.as_taken(spelled(y))
            return np.concatenate([white @ (rule - problem.rule), pulls * np.concatenate([y, y])])

        def slopes(y: Any, white: Any = white) -> Any:
            _, by, *_ = problem.as_taken(spelled(y))
            return np.vstack([white @ (by[:, free] * problem.spread[free]), weak])

        found = least_squares(missed, x, slopes, bounds=(low, high), xtol=1e-10, ftol=1e-10, gtol=1e-10, max_nfev=300)
        moved, x = float(np.max(np.abs(found.x - x))), found.x
        if moved < 1e-7:
            break
    return spelled(x)


def _by_scatter(problem: Problem, best: Any) -> tuple[Any, float]:
    """The fit again with the readings' own scatter in place of the stated errors."""
    scatter = 1.0
    for _ in range(6):
        freedom, ratio = _scatter(problem, best)
        if freedom < 3:
            raise InputError("from_scatter", f"{freedom} readings to spare", "3 or more, or the stated errors")
        if not ratio > 0.0:
            raise InputError("from_scatter", "readings without any scatter", "the stated errors")
        if abs(ratio / scatter - 1.0) < 1e-6:
            break
        scatter = ratio
        best = _best(problem, scatter)
    return best, scatter


def _scatter(problem: Problem, best: Any) -> tuple[int, float]:
    """Readings to spare, and the scatter over what the stated errors explain."""
    own, slopes, _ = problem.at(best)
    freedom = len(own) - round(float(np.trace(_adapted(problem, slopes, 1.0))))
    return freedom, math.sqrt(float(own @ own) / freedom) if freedom > 0 else math.nan


def _report(
    vessel: Vessel, readings: BenchReadings, problem: Problem, best: Any, scatter: float, from_scatter: bool
) -> BenchFit:
    from scipy.special import stdtrit  # here, because it costs time that the first lessons never need

    own, slopes, colour = problem.at(best)
    freedom, ratio = _scatter(problem, best)
    quantile = float(stdtrit(freedom, 0.975)) if from_scatter else NINETEEN_IN_TWENTY  # Student's t
    axes, reach = there = directions(problem, best, scatter)
    shares = quantile * along(axes, reach, np.eye(problem.free.size))
    if np.any(shares[np.isinf(problem.prior)] > _LOOK_AGAIN):
        there = directions(problem, _best(problem, scatter, NINETEEN_IN_TWENTY), scatter)
        shares = np.maximum(shares, quantile * along(*there, np.eye(problem.free.size)))
    at_end = np.min(np.abs(problem.ends[:, problem.free] - best[problem.free]) / problem.spread[problem.free], axis=0)
    shares = np.where(at_end < 1e-6, math.inf, shares)
    parameters = {name: fitted(name, problem, best, shares) for name in NAMES}
    lost = [k for k, place in enumerate(problem.free) if parameters[NAMES[place]].value is None]
    together = together_in(problem, there[0], there[1] * quantile, lost)
    adapted = _adapted(problem, slopes, scatter)
    standard = _standardised(own, colour, adapted, scatter)
    outlier, apart, goes_together = _outlier(own, colour, adapted, scatter, freedom, from_scatter)
    rule, *_ = problem.as_taken(best)
    fit = BenchFit(
        readings,
        vessel,
        parameters,
        together,
        stroke_of(problem, best, axes, reach, quantile),
        RULE.quantity(rule),
        RULE.quantity(problem.rule - rule),
        standard,
        freedom,
        ratio,
        from_scatter,
        outlier,
        goes_together,
        (),
        problem,
        best,
    )
    return replace(fit, remarks=_remarks(fit, at_end, apart))


def _adapted(problem: Problem, slopes: Any, scatter: float) -> Any:
    """What the fit has adapted to the readings, whitened: the hat matrix, shape (n, n)."""
    told = slopes.T @ slopes / scatter**2 + np.diag(problem.prior**-2.0)
    return slopes @ np.linalg.pinv(told, rcond=1e-13, hermitian=True) @ slopes.T / scatter**2


def _standardised(own: Any, colour: Any, adapted: Any, scatter: float) -> Any:
    """Each residual in its own standard error, what the fit has adapted to it taken into account."""
    spread = np.sum(colour**2, axis=1)
    left = spread - np.diag(colour @ adapted @ colour.T)
    exactly = left < 1e-6 * spread
    return np.where(exactly, math.nan, -(colour @ own) / np.sqrt(np.where(exactly, 1.0, left)) / scatter)


def _outlier(
    own: Any, colour: Any, adapted: Any, scatter: float, freedom: int, from_scatter: bool
) -> tuple[int | None, float, bool]:
    """The reading that stands out, by how many standard errors, and whether the readings go together as they are.

    A reading stands out if less than one set in a hundred has one so far off by chance, and if the others go together
    without it: leaving it out takes the square of its distance off the sum of squares (data snooping, from memory).
    """
    from scipy.special import chdtri, ndtri

    if freedom < 1:
        return None, 0.0, True
    total = float(own @ own) / scatter**2

    def too_much(rest: float, spare: int) -> bool:
        return not from_scatter and spare > 0 and rest > float(chdtri(spare, 0.01))

    white = np.linalg.inv(colour)
    size = np.einsum("ji,jk,ki->i", white, np.eye(len(own)) - adapted, white)
    judged = size > 1e-6 * np.sum(white**2, axis=0)
    distance = np.where(judged, np.abs(own @ white) / np.sqrt(np.where(judged, size, 1.0)) / scatter, 0.0)
    far = int(np.argmax(distance))
    apart = float(distance[far])
    by_chance = apart <= -ndtri(0.005 / len(own))
    stands_out = len(own) > 2 and not by_chance and not too_much(total - apart**2, freedom - 1)
    return (far if stands_out else None), apart, not too_much(total, freedom)


def _remarks(fit: BenchFit, at_end: Any, apart: float) -> tuple[str, ...]:
    problem = fit._problem
    odd = np.flatnonzero(problem.warm & (problem.drag < 0.0)) if fit.readings.time is not None else np.zeros(0)
    lines = template("oilkit.bench", "remarks.txt").render(
        fit=fit,
        GAUGE=GAUGE,
        highest=float(np.max(problem.gauge)),
        rated=fit.vessel.si.rated_pressure,
        at_end=[PARAMETERS[NAMES[problem.free[k]]].words for k in np.flatnonzero(at_end < 1e-6)],
        friction_is_free=NAMES.index("friction") in problem.free,
        odd=odd.tolist(),
        apart=apart,
    )
    return tuple(lines.splitlines())
