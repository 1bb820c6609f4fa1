"""Your bench: what a class's readings say about its vessel and its gauges, and what they cannot say. (Lesson 11)

One reading of the model, settled, with everything absolute inside::

    gas at the pre-charge    u = charge gauge - its zero error + ambient
    gas now                  v = pressure gauge - its zero error -+ seal friction + ambient
    oil                        = gas volume * (1 - (u / v) ** (1 / index))
    rule                       = dead length + oil / (pi bore**2 / 4)

Least squares (scipy's) find the numbers that fit best; the readings' own errors, those of both gauges included, say how
far to trust them. What the readings cannot separate gets words and no number.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Annotated, Any, TypeAlias

import numpy as np

from oilkit.bench.readings import DIRECTIONS, RULE, BenchReadings
from oilkit.errors import InputError
from oilkit.physics.pressure import STANDARD_ATMOSPHERE
from oilkit.physics.vessel import Vessel, check_rated
from oilkit.quantities.checked import Ambient, Gauge, One, public
from oilkit.quantities.kinds import GAUGE, TIME, Kind, fitted_together, one_to_si, to_si
from oilkit.quantities.units import Q, Qty

EFFECTIVE_VOLUME = Kind("a gas volume", "m**3", "qt", 3, "L", 3, "Q(3, 'qt')")
FITTED_BORE = Kind("a bore", "m", "in", 3, "mm", 2, "Q(4.5, 'in')")
ZERO = Kind("a zero error of a gauge", "Pa", "psi", 2, "bar", 3, "Q(0.5, 'psi')", -1e6, 1e6)
FRICTION = Kind("a seal friction, as a pressure", "Pa", "psi", 2, "bar", 3, "Q(1, 'psi')", -1e6, 1e6)
FITTED_INDEX = Kind("a polytropic index", "dimensionless", "dimensionless", 3, "dimensionless", 3, "1.2", 0.5, 3.0)
WITHIN = Kind("how far off a reading may be", "Pa", "psi", 2, "bar", 3, "Q(0.3, 'psi')", low=0.0)
RULE_WITHIN = Kind("how far off a rule reading may be", "m", "in", 3, "mm", 2, "Q(0.04, 'in')", 0.0, above_low=True)
RuleWithin: TypeAlias = Annotated[Any, RULE_WITHIN]
Within: TypeAlias = Annotated[Any, WITHIN]
Waiting: TypeAlias = Annotated[Any, replace(TIME, infinite=True)]
"""Infinite if no reading was ever left to settle."""

USUAL_RULE = Q(0.04, "in")
USUAL_GAUGE = Q(0.3, "psi")
"""A rule read to a millimetre and a good dial read to a third of its finest line: within that 19 times in 20
(estimates, no source). State your own."""
SETTLED_AFTER = Q(60, "s")
"""Five of the longest time constants that such a vessel has (12 s): the gas is as warm as the wall again."""
NINETEEN_IN_TWENTY = 1.959964
"""Standard errors on either side that hold 95 in 100 of a normal spread."""


@dataclass(frozen=True)
class _Sort:
    words: str
    kind: Kind
    unlike: Callable[[Any], float]
    """How far off somebody may be who knows only the maker's sheet and the trade, in SI, from the vessel's own SI."""
    more: str
    less: str


_PSI = 6894.757293168
PARAMETERS = {
    "gas_volume": _Sort("gas volume", EFFECTIVE_VOLUME, lambda v: 0.25 * v.gas_volume, "a larger", "a smaller"),
    "bore": _Sort("bore", FITTED_BORE, lambda v: 0.1 * v.bore, "a larger", "a smaller"),
    "dead_length": _Sort("dead length", RULE, lambda v: 0.0254, "a longer", "a shorter"),
    "charge_zero": _Sort("zero error of the charge gauge", ZERO, lambda v: 5 * _PSI, "a higher", "a lower"),
    "pressure_zero": _Sort("zero error of the pressure gauge", ZERO, lambda v: 5 * _PSI, "a higher", "a lower"),
    "friction": _Sort("seal friction", FRICTION, lambda v: 5 * _PSI, "a higher", "a lower"),
    "index": _Sort("polytropic index", FITTED_INDEX, lambda v: 0.2, "a higher", "a lower"),
}
"""What can be fitted. Each goes with the spread of an outsider's guess (estimates, no source): a quarter of the maker's
gas volume, a tenth of its bore, an inch of dead length, 5 psi at each zero and of friction, 0.2 either side of 1.2 for
the index. A parameter gets a number only if the readings narrow it to less than that."""
_NAMES = tuple(PARAMETERS)
_WEAK_HOLD = 0.5
"""The outsider's guess pulls on the fit as if it were off by four times as much as it is: enough to hold what nothing
else holds, and too little to be seen in what the readings do say."""
_LOOK_AGAIN = 0.25
"""Where a parameter is known to no better a share of the guess than this, the slopes at the best fit may flatter it:
the fit may have wandered to where the readings seem to tell more. It is then judged once more near the guess."""
_BOUNDS = {
    "gas_volume": (0.05, 20.0),
    "bore": (0.1, 10.0),
    "dead_length": (-5.0, 5.0),
    "charge_zero": (-1e6, 1e6),
    "pressure_zero": (-1e6, 1e6),
    "friction": (-1e6, 1e6),
    "index": (0.5, 3.0),
}
"""Limits of the search: times the maker's number for the first two, else SI."""


@dataclass(frozen=True)
class Fitted:
    """One parameter after the fit."""

    name: str
    words: str
    state: str
    """"fitted", "given" or "not separated"."""
    value: Qty | None
    """Best value; None if the readings cannot separate it from others."""
    within: Qty | None
    """Half the 95 % interval: the truth lies within so much of the value 19 times in 20. None as above."""
    share: float
    """The same as a share of what an outsider's guess would be off; infinite if the readings say nothing."""

    @property
    def low(self) -> Qty | None:
        """Lower end of the 95 % interval."""
        return None if self.value is None or self.within is None else self.value - self.within

    @property
    def high(self) -> Qty | None:
        """Upper end of the 95 % interval."""
        return None if self.value is None or self.within is None else self.value + self.within


@dataclass(frozen=True)
class Confounded:
    """Parameters that the readings do not tell apart."""

    names: tuple[str, ...]
    sentence: str


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
    _problem: _Problem = field(repr=False, compare=False)
    _best: Any = field(repr=False, compare=False)

    def rule_at(self, precharge: Qty, pressure: Qty, direction: str = "freed", settled: bool = True) -> Qty:
        """What the rule should read by this fit at another reading of the gauges. Pressures broadcast.

        >>> from oilkit import demo_bench, vessels
        >>> fit = fit_bench(vessels()["bench"], demo_bench(), {"bore": (Q(4.5, "in"), Q(0.01, "in"))})
        >>> print(f"{fit.rule_at(Q(10, 'psig'), Q(30, 'psig'), 'rising'):.1f~}")
        5.3 in
        """
        drag = _drag(direction)
        given = {"precharge": to_si("precharge", precharge, GAUGE), "pressure": to_si("pressure", pressure, GAUGE)}
        charge, gauge = fitted_together(given)
        rule, *_ = self._problem.model(
            self._best, charge, gauge, np.full(gauge.shape, drag), np.full(gauge.shape, not settled)
        )
        return RULE.quantity(rule)


# ---------------------------------------------------------------------------------------------------------- the model


@dataclass(frozen=True)
class _Problem:
    """One fit in SI: readings, errors, what is fixed, what is given with an error. Parameters stand as in _NAMES."""

    charge: Any
    gauge: Any
    rule: Any
    drag: Any
    warm: Any
    setting: Any
    """Which setting of the pre-charge each reading belongs to."""
    ambient: float
    depth: bool
    errors: tuple[float, ...]
    """Standard errors of rule, pressure gauge and charge gauge."""
    guess: Any
    spread: Any
    free: Any
    """Places of the parameters that are not fixed."""
    prior: Any
    """Given standard errors, in spreads, for each free one; infinite where nothing is given."""
    ends: Any
    """Limits of the search, shape (2, parameters)."""

    def model(self, theta: Any, charge: Any, gauge: Any, drag: Any, warm: Any) -> tuple[Any, Any, Any, Any]:
        """Rule readings, and how they change with each parameter, with the pre-charge and with the pressure."""
        volume, bore, dead, charge_zero, pressure_zero, friction, index = theta
        u = np.maximum(charge - charge_zero + self.ambient, 1e3)
        v = np.maximum(gauge - pressure_zero - drag * friction + self.ambient, 1e3)
        power = np.where(warm, 1.0 / index, 1.0)
        moves = v > u  # else the piston rests at the oil end
        ratio = np.where(moves, u / v, 1.0)
        left = ratio**power
        sign = 1.0 if self.depth else -1.0
        length = volume / (math.pi * bore**2 / 4.0)
        share = left if self.depth else 1.0 - left
        by_u = np.where(moves, sign * length * left * power / u, 0.0)
        by_v = np.where(moves, -sign * length * left * power / v, 0.0)
        by_index = np.where(moves & warm, -sign * length * left * np.log(ratio) / index**2, 0.0)
        slopes = np.stack(
            [
                length * share / volume,
                -2.0 * length * share / bore,
                np.ones_like(u),
                -by_u,
                -by_v,
                -drag * by_v,
                by_index,
            ],
            axis=-1,
        )
        return dead + length * share, slopes, by_u, by_v

    def at(self, theta: Any) -> tuple[Any, Any, Any]:
        """Residuals and slopes (by the free parameters, in spreads), whitened, and the matrix that colours them."""
        rule, slopes, by_u, by_v = self.model(theta, self.charge, self.gauge, self.drag, self.warm)
        colour = self.colour(by_u, by_v)
        white = np.linalg.inv(colour)
        return white @ (rule - self.rule), white @ (slopes[:, self.free] * self.spread[self.free]), colour

    def colour(self, by_u: Any, by_v: Any) -> Any:
        """Root of the covariance of the rule readings: own errors, and those of the gauges as they show in the rule.

        A setting of the pre-charge is read once: its error is in all readings taken at it.
        """
        rule, gauge, charge = self.errors
        together = (self.setting[:, None] == self.setting[None, :]) * np.outer(by_u, by_u) * charge**2
        return np.linalg.cholesky(together + np.diag(rule**2 + (by_v * gauge) ** 2))

    def with_one_more(self, charge: float, gauge: float, drag: float, warm: bool) -> _Problem:
        """The same with a planned reading at the end; its rule reading does not matter for how well it tells."""
        return replace(
            self,
            charge=np.append(self.charge, charge),
            gauge=np.append(self.gauge, gauge),
            rule=np.append(self.rule, 0.0),
            drag=np.append(self.drag, drag),
            warm=np.append(self.warm, warm),
            setting=np.append(self.setting, self.setting[-1] + (0 if self.charge[-1] == charge else 1)),
        )

    def information(self, theta: Any, scatter: float = 1.0) -> Any:
        """What readings and given numbers together tell about the free parameters, in spreads: a matrix."""
        _, slopes, _ = self.at(theta)
        return slopes.T @ slopes / scatter**2 + np.diag(self.prior**-2.0)


def _drag(direction: str) -> float:
    if direction not in DIRECTIONS:
        raise InputError("direction", repr(direction), " or ".join(DIRECTIONS))
    return DIRECTIONS[direction]


# ------------------------------------------------------------------------------------------------------------ the fit


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
    Source: first principles (gas law, cylinder); generalised least squares with errors in all readings, from memory.

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
) -> _Problem:
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
        guess[-1] = 1.0  # nothing hangs on it
    prior, given = np.full(len(_NAMES), math.inf), set()
    for name, value in known.items():
        if name not in PARAMETERS:
            raise InputError("known", repr(name), " or ".join(PARAMETERS))
        place, kind = _NAMES.index(name), PARAMETERS[name].kind
        number, off = value if isinstance(value, tuple) else (value, None)
        guess[place] = one_to_si(f"known, {name}", number, kind)
        low, high = _limits(name, vessel.si)
        if not low < guess[place] < high:
            raise InputError(f"known, {name}", kind.exact_text(guess[place]), _limits_in_words(kind, low, high))
        size = 0.0 if off is None else one_to_si(f"known, {name}, off by", off, kind)
        if size < 0.0:
            raise InputError(f"known, {name}, off by", kind.exact_text(size), "0 or more")
        prior[place] = size / NINETEEN_IN_TWENTY / spread[place]
        given.add(name)
    warm = si["time"] < waiting if "time" in si else np.ones(len(si["rule"]), dtype=bool)
    problem = _Problem(
        si["precharge"], si["pressure"], si["rule"], si["drag"], warm,
        np.concatenate([[0], np.cumsum(np.diff(si["precharge"]) != 0.0)]),
        air, bool(depth), errors, guess, spread, np.flatnonzero(prior > 0.0), prior[prior > 0.0],
        np.array([_limits(name, vessel.si) for name in _NAMES]).T,
    )  # fmt: skip
    if "dead_length" not in given:
        expected, *_ = problem.model(guess, problem.charge, problem.gauge, problem.drag, warm)
        guess[_NAMES.index("dead_length")] = float(np.mean(problem.rule - expected))
    return problem


def _limits(name: str, vessel: Any) -> tuple[float, float]:
    low, high = _BOUNDS[name]
    times = {"gas_volume": vessel.gas_volume, "bore": vessel.bore}.get(name, 1.0)
    return low * times, high * times


def _limits_in_words(kind: Kind, low: float, high: float) -> str:
    return f"{kind.noun} above {kind.exact_text(low, figures=3)} and below {kind.exact_text(high, figures=3)}"


def _best(problem: _Problem, scatter: float = 1.0, hold: float = _WEAK_HOLD) -> Any:
    """The parameters that fit best. Weights hang on the slopes, so they are brought up to date until nothing moves.

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
            rule, *_ = problem.model(spelled(y), problem.charge, problem.gauge, problem.drag, problem.warm)
            return np.concatenate([white @ (rule - problem.rule), pulls * np.concatenate([y, y])])

        def slopes(y: Any, white: Any = white) -> Any:
            _, by, *_ = problem.model(spelled(y), problem.charge, problem.gauge, problem.drag, problem.warm)
            return np.vstack([white @ (by[:, free] * problem.spread[free]), weak])

        found = least_squares(missed, x, slopes, bounds=(low, high), xtol=1e-10, ftol=1e-10, gtol=1e-10, max_nfev=300)
        moved, x = float(np.max(np.abs(found.x - x))), found.x
        if moved < 1e-7:
            break
    return spelled(x)


def _by_scatter(problem: _Problem, best: Any) -> tuple[Any, float]:
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


def _scatter(problem: _Problem, best: Any) -> tuple[int, float]:
    """Readings to spare, and the scatter over what the stated errors explain."""
    own, slopes, _ = problem.at(best)
    told = slopes.T @ slopes
    used = float(np.trace(np.linalg.pinv(told + np.diag(problem.prior**-2.0), rcond=1e-13, hermitian=True) @ told))
    freedom = len(own) - round(used)
    return freedom, math.sqrt(float(own @ own) / freedom) if freedom > 0 else math.nan


# -------------------------------------------------------------------------------------------------- what can be said


def _report(
    vessel: Vessel, readings: BenchReadings, problem: _Problem, best: Any, scatter: float, from_scatter: bool
) -> BenchFit:
    own, slopes, colour = problem.at(best)
    freedom, ratio = _scatter(problem, best)
    quantile = _student(freedom) if from_scatter else NINETEEN_IN_TWENTY
    axes, reach = there = _directions(problem, best, scatter)
    shares = quantile * _along(axes, reach, np.eye(problem.free.size))
    if np.any(shares[np.isinf(problem.prior)] > _LOOK_AGAIN):
        there = _directions(problem, _best(problem, scatter, NINETEEN_IN_TWENTY), scatter)
        shares = np.maximum(shares, quantile * _along(*there, np.eye(problem.free.size)))
    at_end = np.min(np.abs(problem.ends[:, problem.free] - best[problem.free]) / problem.spread[problem.free], axis=0)
    shares = np.where(at_end < 1e-6, math.inf, shares)
    parameters = {name: _fitted(name, problem, best, shares, quantile) for name in _NAMES}
    lost = [k for k, place in enumerate(problem.free) if parameters[_NAMES[place]].value is None]
    together = _together(problem, there[0], there[1] * quantile, lost)
    standard = _standardised(problem, best, own, slopes, colour, scatter)
    outlier, apart, goes_together = _outlier(problem, own, slopes, colour, scatter, freedom, from_scatter)
    rule, *_ = problem.model(best, problem.charge, problem.gauge, problem.drag, problem.warm)
    fit = BenchFit(
        readings,
        vessel,
        parameters,
        together,
        _stroke(problem, best, axes, reach, quantile),
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
    object.__setattr__(fit, "remarks", tuple(_remarks(fit, at_end, apart)))
    return fit


def _student(freedom: int) -> float:
    from scipy.special import stdtrit

    return float(stdtrit(freedom, 0.975))


def _directions(problem: _Problem, theta: Any, scatter: float) -> tuple[Any, Any]:
    """Directions in the space of the free parameters (rows, in spreads) and one standard error along each."""
    if not problem.free.size:
        return np.zeros((0, 0)), np.zeros(0)
    _, slopes, _ = problem.at(theta)
    rows = np.vstack([slopes / scatter, np.diag(1.0 / problem.prior)])
    _, told, axes = np.linalg.svd(rows, full_matrices=True)
    told = np.append(told, np.zeros(len(axes) - len(told)))
    blind = told <= 1e-7 * max(float(told[0]), 1e-300)
    return axes, np.where(blind, math.inf, 1.0 / np.where(blind, 1.0, told))


def _along(axes: Any, reach: Any, wanted: Any) -> Any:
    """One standard error of sums of parameters, one for each row of ``wanted``; infinite where nothing tells."""
    parts = np.abs(wanted @ axes.T)
    parts = np.where(parts < 1e-5 * np.linalg.norm(wanted, axis=-1, keepdims=True), 0.0, parts)
    blind = np.isinf(reach)
    seen = np.sqrt(np.sum((parts[:, ~blind] * reach[~blind]) ** 2, axis=1))
    return np.where(np.any(parts[:, blind] > 0.0, axis=1), math.inf, seen)


def _fitted(name: str, problem: _Problem, best: Any, shares: Any, quantile: float) -> Fitted:
    place, sort = _NAMES.index(name), PARAMETERS[name]
    value = sort.kind.quantity(float(best[place]))
    if place not in problem.free:
        return Fitted(name, sort.words, "given", value, _size(sort.kind, 0.0), 0.0)
    k = int(np.flatnonzero(problem.free == place)[0])
    share = float(shares[k])
    given = bool(np.isfinite(problem.prior[k]))
    if share > 1.0 and not given:
        return Fitted(name, sort.words, "not separated", None, None, share)
    state = "given" if given else "fitted"
    return Fitted(name, sort.words, state, value, _size(sort.kind, share * float(problem.spread[place])), share)


def _size(kind: Kind, si: float) -> Qty:
    return kind.quantity(si)


def _stroke(problem: _Problem, best: Any, axes: Any, reach: Any, quantile: float) -> Fitted:
    """Gas volume over piston area. Its slopes are known, so its error follows from theirs together."""
    length = float(best[0] / (math.pi * best[1] ** 2 / 4.0))
    slope = np.zeros(len(_NAMES))
    slope[0], slope[1] = length / best[0], -2.0 * length / best[1]
    wanted = (slope * problem.spread)[problem.free]
    share = quantile * float(_along(axes, reach, wanted[None, :])[0]) if np.any(wanted) else 0.0
    guess = length * math.hypot(0.25, 0.2)
    words = "stroke, gas volume over piston area"
    if share > guess:
        return Fitted("stroke", words, "not separated", None, None, share / guess)
    state = "fitted" if np.any(wanted) else "given"
    return Fitted("stroke", words, state, RULE.quantity(length), RULE.quantity(share), share / guess)


def _together(problem: _Problem, axes: Any, reach: Any, lost: Sequence[int]) -> tuple[Confounded, ...]:
    """The directions along which the readings do not tell, each with as few parameters in it as can be."""
    weak = axes[reach > 1.0]
    found: list[Confounded] = []
    for row in _sparse(weak):
        members = [k for k in np.argsort(-np.abs(row), kind="stable") if abs(row[k]) > 0.2]
        members = sorted(k for k in members if k in lost or len(members) > 1)
        if not any(k in lost for k in members):
            continue
        names = tuple(_NAMES[problem.free[k]] for k in members)
        found.append(Confounded(names, _in_words(names, [float(row[k]) for k in members])))
    named = {name for group in found for name in group.names}
    for k in lost:
        name = _NAMES[problem.free[k]]
        if name not in named:
            found.append(Confounded((name,), _in_words((name,), [1.0])))
    return tuple(found)


def _sparse(rows: Any) -> list[Any]:
    """Other directions in the same plane, by elimination: each has a parameter that no other one has."""
    rows = np.array(rows, dtype=float)
    used: list[int] = []
    for k in range(len(rows)):
        sizes = np.abs(rows[k:]).copy()
        sizes[:, used] = 0.0
        r, column = np.unravel_index(int(np.argmax(sizes)), sizes.shape)
        rows[[k, k + r]] = rows[[k + r, k]]
        rows[k] /= rows[k, column]
        for other in range(len(rows)):
            if other != k:
                rows[other] -= rows[other, column] * rows[k]
        used.append(int(column))
    return [row / np.max(np.abs(row)) for row in rows]


def _in_words(names: Sequence[str], signs: Sequence[float]) -> str:
    sorts = [PARAMETERS[name] for name in names]
    if len(names) == 1:
        return f"These readings do not tell the {sorts[0].words}: hardly anything in them hangs on it."
    first = 1.0 if signs[0] > 0.0 else -1.0
    parts = [f"{s.more if sign * first > 0.0 else s.less} {s.words}" for s, sign in zip(sorts, signs, strict=True)]
    listed = f"{', '.join(s.words for s in sorts[:-1])} and {sorts[-1].words}"
    return f"These readings do not tell {listed} apart: {_listed(parts)} together would read the same."


def _listed(parts: Sequence[str]) -> str:
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"


def _standardised(problem: _Problem, best: Any, own: Any, slopes: Any, colour: Any, scatter: float) -> Any:
    """Each residual in its own standard error, what the fit has adapted to it taken into account."""
    told = slopes.T @ slopes / scatter**2 + np.diag(problem.prior**-2.0)
    if problem.free.size:
        rows = colour @ slopes
        adapted = rows @ np.linalg.pinv(told, rcond=1e-13, hermitian=True) @ rows.T
    else:
        adapted = np.zeros((len(own), len(own)))
    spread = scatter**2 * np.sum(colour**2, axis=1)
    left = spread - np.diag(adapted)
    fitted_exactly = left < 1e-6 * spread
    return np.where(fitted_exactly, math.nan, -(colour @ own) / np.sqrt(np.where(fitted_exactly, 1.0, left)))


def _outlier(
    problem: _Problem, own: Any, slopes: Any, colour: Any, scatter: float, freedom: int, from_scatter: bool
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
    told = slopes.T @ slopes / scatter**2 + np.diag(problem.prior**-2.0)
    adapted = slopes @ np.linalg.pinv(told, rcond=1e-13, hermitian=True) @ slopes.T / scatter**2
    size = np.einsum("ji,jk,ki->i", white, np.eye(len(own)) - adapted, white)
    judged = size > 1e-6 * np.sum(white**2, axis=0)
    distance = np.where(judged, np.abs(own @ white) / np.sqrt(np.where(judged, size, 1.0)) / scatter, 0.0)
    far = int(np.argmax(distance))
    apart = float(distance[far])
    by_chance = apart <= -ndtri(0.005 / len(own))
    stands_out = len(own) > 2 and not by_chance and not too_much(total - apart**2, freedom - 1)
    return (far if stands_out else None), apart, not too_much(total, freedom)


def _remarks(fit: BenchFit, at_end: Any, apart: float) -> list[str]:
    said, readings, problem = [], fit.readings, fit._problem
    rated = fit.vessel.si.rated_pressure
    highest = float(np.max(problem.gauge))
    if highest > rated:
        said.append(
            f"Stop: {GAUGE.text(highest)} is above the vessel's rating of {GAUGE.text(rated)}. Take no such reading."
        )
    said += [group.sentence for group in fit.together]
    names = [_NAMES[problem.free[k]] for k in np.flatnonzero(at_end < 1e-6)]
    said += [
        f"The {PARAMETERS[name].words} ran to the end of what was searched: readings and what you call known do not go "
        "together."
        for name in names
    ]
    if readings.direction is None and _NAMES.index("friction") in problem.free:
        said.append("Nobody noted whether the pressure was rising or falling, so no friction is counted.")
    odd = np.flatnonzero(problem.warm & (problem.drag < 0.0)) if readings.time is not None else np.zeros(0, dtype=int)
    if odd.size:
        said.append(
            f"Reading {odd[0] + 1} came down and was read at once: its gas is colder than the wall, not warmer, and no "
            "index here describes that. Wait with falling readings."
        )
    if fit.freedom <= 0:
        said.append("There is no reading to spare, so nothing checks this fit: any readings would have been met.")
    elif fit.outlier is not None:
        said.append(
            f"Reading {fit.outlier + 1} stands out: {apart:.1f} standard errors from the others. Take it again "
            "before you believe either."
        )
    elif not fit.goes_together:
        said.append(
            f"The readings scatter {fit.scatter:.1f} times as much as the stated errors allow: these are too small, or "
            "the bench does something that the model leaves out. Believe no interval before you know which."
        )
    return said


# --------------------------------------------------------------------------------------------------- the next reading


@dataclass(frozen=True)
class CandidateReading:
    """A reading that could be taken next."""

    precharge: Qty
    pressure: Qty
    """Gauge, as the gauges will read."""
    direction: str = "freed"
    settled: bool = True
    """Whether to wait until the gas has cooled before the rule is read."""

    def in_words(self, timed: bool = True) -> str:
        """What to do at the bench."""
        charge, gauge = one_to_si("precharge", self.precharge, GAUGE), one_to_si("pressure", self.pressure, GAUGE)
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

    >>> from oilkit import demo_bench, vessels
    >>> fit = fit_bench(vessels()["bench"], demo_bench(), {"bore": Q(4.5, "in")})
    >>> print(len(usual_candidates(fit, Q(40, "psig"))))
    60
    """
    rated = fit.vessel.si.rated_pressure
    top = min(0.8 * rated, 100 * _PSI) if highest is None else highest
    if not 0.0 < top <= rated:
        raise InputError("highest", GAUGE.exact_text(top), f"above 0, up to the vessel's {GAUGE.exact_text(rated)}")
    problem = fit._problem
    timed = fit.readings.time is not None
    speeds = (True, False) if timed and _NAMES.index("index") in problem.free else (True,)
    ways = ("rising", "falling") if fit.readings.direction is not None else ("freed",)
    found = []
    for charge in (2, 5, 10, 15, 20, 25):
        found.append(CandidateReading(Q(charge, "psig"), Q(0, "psig"), ways[0]))
        for gauge in range(10, int(top / _PSI + 1e-9) + 1, 10):
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

    >>> from oilkit import demo_bench, vessels
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
    told = [_with(fit, planned, now, scatter) for planned in tried]
    all_told = sum((more - now for more in told), now)
    seen, axes = np.linalg.eigh(all_told)
    reachable = axes[:, seen > 1e-9 * seen[-1]]
    worst = [_worst(more + guess, reachable) for more in (now, *told)]
    least = min(worst[1:])
    near = [k for k, w in enumerate(worst[1:]) if w <= 1.01 * least]
    region = np.linalg.slogdet(np.array([now, *told]) + guess)[1]
    tells = 0.5 * (region[1:] - region[0]) / math.log(2.0)
    k = max(near, key=lambda k: float(tells[k]))
    never = _together(problem, axes.T, np.where(seen > 1e-9 * seen[-1], 0.0, math.inf), _lost(axes, seen))
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


def _with(fit: BenchFit, planned: CandidateReading, now: Any, scatter: float) -> Any:
    """What is told with one more reading: at a new setting it stands alone, else it shares the last one's error."""
    charge, gauge = one_to_si("precharge", planned.precharge, GAUGE), one_to_si("pressure", planned.pressure, GAUGE)
    problem = fit._problem
    for name, value in (("precharge", charge), ("pressure", gauge)):
        check_rated(fit.vessel, name, value)
        if value + problem.ambient < 1e3:
            raise InputError(name, GAUGE.exact_text(value), "a reading above a vacuum")
    warm = not planned.settled or fit.readings.time is None
    reading = charge, gauge, _drag(planned.direction), warm
    if problem.charge[-1] == charge:
        return problem.with_one_more(*reading).information(fit._best, scatter)
    _, slopes, by_u, by_v = problem.model(fit._best, *(np.array([part]) for part in reading))
    row = (slopes[0] * problem.spread)[problem.free]
    rule, gauge_error, charge_error = problem.errors
    error = rule**2 + (float(by_v[0]) * gauge_error) ** 2 + (float(by_u[0]) * charge_error) ** 2
    return now + np.outer(row, row) / error / scatter**2


def _worst(information: Any, reachable: Any) -> float:
    inside = reachable.T @ information @ reachable
    return NINETEEN_IN_TWENTY / math.sqrt(float(np.linalg.eigvalsh(inside)[0]))


def _shares(problem: _Problem, information: Any) -> dict[str, float]:
    errors = NINETEEN_IN_TWENTY * np.sqrt(np.diag(np.linalg.inv(information)))
    return {_NAMES[place]: float(error) for place, error in zip(problem.free, errors, strict=True)}


def _lost(axes: Any, seen: Any) -> list[int]:
    blind = axes[:, seen <= 1e-9 * seen[-1]]
    return np.flatnonzero(np.linalg.norm(blind, axis=1) > 1e-4).tolist() if blind.size else []


def _advice(fit: BenchFit, planned: CandidateReading, before: float, after: float, never: Sequence[Confounded]) -> str:
    timed = fit.readings.time is not None
    first = f"Take next: {planned.in_words(timed)}."
    gain = (
        f" What is known worst is then known to {100 * after:.0f} % of an outsider's guess; now {100 * before:.0f} %."
        if after < 0.99 * before
        else " No single reading mends the worst; this one helps most towards it, and the next one after it."
    )
    rest = "".join(
        f" No such reading tells {_listed([PARAMETERS[name].words for name in group.names])}"
        f"{' apart: measure one of them another way' if len(group.names) > 1 else ''}."
        for group in never
    )
    return first + gain + rest
