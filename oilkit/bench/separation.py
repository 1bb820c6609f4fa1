"""What bench readings tell about each number, and which numbers they do not tell apart. (Lesson 11)"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from oilkit.bench.model import NAMES, PARAMETERS, Problem
from oilkit.bench.readings import RULE
from oilkit.quantities.units import Qty


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


def directions(problem: Problem, theta: Any, scatter: float) -> tuple[Any, Any]:
    """Directions in the space of the free parameters (rows, in spreads) and one standard error along each."""
    if not problem.free.size:
        return np.zeros((0, 0)), np.zeros(0)
    _, slopes, _ = problem.at(theta)
    rows = np.vstack([slopes / scatter, np.diag(1.0 / problem.prior)])
    _, told, axes = np.linalg.svd(rows, full_matrices=True)
    told = np.append(told, np.zeros(len(axes) - len(told)))
    blind = told <= 1e-7 * max(float(told[0]), 1e-300)
    return axes, np.where(blind, math.inf, 1.0 / np.where(blind, 1.0, told))


def along(axes: Any, reach: Any, wanted: Any) -> Any:
    """One standard error of sums of parameters, one for each row of ``wanted``; infinite where nothing tells."""
    parts = np.abs(wanted @ axes.T)
    parts = np.where(parts < 1e-5 * np.linalg.norm(wanted, axis=-1, keepdims=True), 0.0, parts)
    blind = np.isinf(reach)
    seen = np.sqrt(np.sum((parts[:, ~blind] * reach[~blind]) ** 2, axis=1))
    return np.where(np.any(parts[:, blind] > 0.0, axis=1), math.inf, seen)


def fitted(name: str, problem: Problem, best: Any, shares: Any) -> Fitted:
    place, sort = NAMES.index(name), PARAMETERS[name]
    value = sort.kind.quantity(float(best[place]))
    if place not in problem.free:
        return Fitted(name, sort.words, "given", value, sort.kind.quantity(0.0), 0.0)
    k = int(np.flatnonzero(problem.free == place)[0])
    share = float(shares[k])
    given = bool(np.isfinite(problem.prior[k]))
    if share > 1.0 and not given:
        return Fitted(name, sort.words, "not separated", None, None, share)
    within = sort.kind.quantity(share * float(problem.spread[place]))
    return Fitted(name, sort.words, "given" if given else "fitted", value, within, share)


def stroke_of(problem: Problem, best: Any, axes: Any, reach: Any, quantile: float) -> Fitted:
    """Gas volume over piston area. Its slopes are known, so its error follows from theirs together."""
    length = float(best[0] / (math.pi * best[1] ** 2 / 4.0))
    slope = np.zeros(len(NAMES))
    slope[0], slope[1] = length / best[0], -2.0 * length / best[1]
    wanted = (slope * problem.spread)[problem.free]
    share = quantile * float(along(axes, reach, wanted[None, :])[0]) if np.any(wanted) else 0.0
    guess = length * math.hypot(0.25, 0.2)
    words = "stroke, gas volume over piston area"
    if share > guess:
        return Fitted("stroke", words, "not separated", None, None, share / guess)
    state = "fitted" if np.any(wanted) else "given"
    return Fitted("stroke", words, state, RULE.quantity(length), RULE.quantity(share), share / guess)


def together_in(problem: Problem, axes: Any, reach: Any, lost: Sequence[int]) -> tuple[Confounded, ...]:
    """The directions along which the readings do not tell, each with as few parameters in it as can be."""
    weak = axes[reach > 1.0]
    found: list[Confounded] = []
    for row in _sparse(weak):
        members = [k for k in np.argsort(-np.abs(row), kind="stable") if abs(row[k]) > 0.2]
        members = sorted(k for k in members if k in lost or len(members) > 1)
        if not any(k in lost for k in members):
            continue
        names = tuple(NAMES[problem.free[k]] for k in members)
        found.append(Confounded(names, _in_words(names, [float(row[k]) for k in members])))
    named = {name for group in found for name in group.names}
    for k in lost:
        name = NAMES[problem.free[k]]
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
        return f"These readings do not tell the {sorts[0].words}: hardly anything in them depends on it."
    first = 1.0 if signs[0] > 0.0 else -1.0
    parts = [f"{s.more if sign * first > 0.0 else s.less} {s.words}" for s, sign in zip(sorts, signs, strict=True)]
    all_of_them = listed([s.words for s in sorts])
    return f"These readings do not tell {all_of_them} apart: {listed(parts)} together would read the same."


def listed(parts: Sequence[str]) -> str:
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
