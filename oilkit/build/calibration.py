"""One car, calibrated by what its owner can read: from gauge readings back to what nobody knows. (Lesson 10)

What is typed about clearances, pump, relief valve and small holes is a guess with a spread. A reading of the gallery
gauge says something of all of them at once. Here guess and readings are weighed against each other: the most likely
engine is found by least squares, each reading weighing by its gauge's error and each guess by its spread, and the
slopes there say how well the engine is known then.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import partial
from types import SimpleNamespace
from typing import Any, NamedTuple

import numpy as np

from oilkit.build.records import Readings, Seen
from oilkit.build.setup_file import Build
from oilkit.build.since import as_read
from oilkit.physics.engine import Engine, sides, total_take
from oilkit.physics.measure import NINETEEN_IN_TWENTY
from oilkit.physics.pressure import gauge_error
from oilkit.physics.settling import pressure_between
from oilkit.quantities.checked import public
from oilkit.quantities.kind import Kind
from oilkit.quantities.kinds import CLEARANCE_CHANGE, GAUGE, SPEED, TEMPERATURE, THROUGH_FLOW
from oilkit.quantities.units import Q

TIGHTEST = 0.1
"""Share of its clearance that a bearing keeps at the least, whatever is drawn."""
LEAST_EFFICIENCY, LEAST_OPENING = 0.02, float(Q(1, "psi").m_as("Pa"))
"""What a pump and a relief valve keep at the least."""
SHARED = 0.5
"""Part of a gauge's error, as a variance, that is the same in all its readings (estimate, no source)."""
LARGEST = 0.5
"""A largest error is taken as two standard errors, as in lesson 09."""
WIDER = 2.0
"""Readings that do not belong together make no spread wider than so many times its guess's."""
BY_CHANCE = 0.01
"""So rarely do readings that belong together look as if they did not (chosen)."""
FARTHEST_FIT = 8.0
"""Spreads beyond which no guess is looked for."""
ROUNDS, MOST_ROUNDS = 8, 40
"""Steps in which each draw's engine is fitted again, and the most in which the likely one is."""
ENOUGH = 1e-8
"""Part of what is to be made least: a step that makes less difference is the last one."""
STEP = 1e-3
"""Of the slopes, in spreads."""

OWN = ("clearance", "relief_opening", "pump_slip", "relief_slope", "jets_and_lifters")
"""What is found out about the engine; behind them the gauge's and the thermometer's own errors."""
CHANGE, OPENING, SLIP, SLOPE, HOLES, GAUGE_OFF, THERMOMETER_OFF = range(7)
UNKNOWNS = 7
WORDS = {
    "hot_idle": "hot idle",
    "hot_at_speed": "hot at speed",
    "cold_idle": "cold idle",
    "relief_seen": "relief valve open",
    "demand": "measured demand",
}
"""What a reading of ``[readings]`` is called."""
NAMED = ("clearance of mains and rods", "relief valve's opening", "slip of the pump", "relief valve's slope",
         "jets and lifters")  # fmt: skip


class Asked(NamedTuple):
    """A reading that was or could be taken. SI."""

    name: str
    kind: Kind
    value: float
    """NaN where it is still to be taken."""
    error: float
    """One standard error of its own, beside what all readings of the gauge share."""
    speed: float
    temperature: float
    at: float = math.nan
    """Gallery pressure at which a demand was measured."""

    @property
    def words(self) -> str:
        """Its name and how it was taken."""
        speed = SPEED.text(self.speed) if self.speed > 0.0 else "stopped"
        return f"{WORDS[self.name]}, {speed}, {TEMPERATURE.both(self.temperature)}"


@dataclass(frozen=True)
class Known:
    """How well an engine is known: what `oilkit.build.spread` draws from."""

    spread: Any
    """One standard deviation of each of ``OWN``, in SI or as a logarithm, shape (5,)."""
    correlation: Any
    """Shape (5, 5)."""
    drawn: Callable[[Any], Any] | None = None
    """Engines that agree with the readings, from independent standard deviations, both of shape (5, m); returned as
    standard deviations off the likely one. None where nothing was read."""


@dataclass(frozen=True)
class Calibration:
    """What the gauges say about an engine: see `calibrate`."""

    build: Build = field(repr=False)
    """As it was typed."""
    asked: tuple[Asked, ...]
    """The readings, in the file's order; none if nothing was read."""
    fitted: Any = field(repr=False)
    """What each reading should have been by the most likely engine, SI."""
    missed: Any
    """By how many standard errors each reading lies off what guesses and all other readings say, shape (n,)."""
    together: bool
    """Whether readings and guesses belong together; one set in a hundred does not by chance."""
    culprit: str
    """The reading without which the others belong together; empty if there is none, or no need for one."""
    prior: Any = field(repr=False)
    """One standard deviation of each unknown as typed, shape (7,)."""
    best: Any = field(repr=False)
    """Most likely unknowns as changes of what was typed, in SI or as a logarithm, shape (7,)."""
    covariance: Any = field(repr=False)
    """Of the unknowns in spreads of the guess, shape (7, 7)."""
    wider: float
    """By how much every spread is wider because readings and guesses do not belong together; else 1."""
    slopes: Any = field(repr=False)
    """Of the readings, in their own standard errors, as wide as the covariance took them, by the unknowns in spreads of
    the guess, shape (n, 7)."""

    @property
    def spread(self) -> Any:
        """One standard deviation of each unknown with the readings, shape (7,)."""
        return self.prior * np.sqrt(np.diag(self.covariance))

    @property
    def known(self) -> Known:
        own = self.covariance[: len(OWN), : len(OWN)]
        size = np.sqrt(np.diag(own))
        drawn = self._drawn if self.asked else None
        return Known(self.prior[: len(OWN)] * size, own / np.outer(size, size), drawn)

    def _drawn(self, z: Any) -> Any:
        """Guesses and readings are drawn anew within their spreads, and each draw's engine is fitted again.

        Where all is linear that is the covariance; where it is not, as when jets open near hot idle, it still agrees
        with the readings. Randomize, then optimize (Bardsley and others, SIAM J. Sci. Comput. 36, 2014, from memory).
        """
        many, count = z.shape[1], len(self.asked)
        dice = np.random.default_rng(many)
        other = dice.standard_normal((UNKNOWNS - len(OWN) + count, many))
        guesses, errors = np.concatenate([z, other[:-count]]), other[-count:]
        middle = np.divide(self.best, self.prior, out=np.zeros(UNKNOWNS), where=self.prior > 0.0)
        car, each = as_read(self.build), errors * 0.0 + 1.0
        fit = partial(_fit_many, car, self.prior, self.asked, middle, guesses, errors, each, ROUNDS)
        x, *_ = _once(car, z.tobytes(), fit)
        off = self.wider * (x - middle[:, None])
        return (off / np.sqrt(np.diag(self.covariance))[:, None])[: len(OWN)]

    @property
    def likely(self) -> Build:
        """The set-up with the most likely engine in place of the typed one, and how well that is known."""
        return replace(with_engine(self.build, self.best), known=self.known)

    @property
    def odd_guess(self) -> str:
        """What was typed and lies farthest off for its spread; empty where nothing is off by more than two of them."""
        share = np.divide(self.best, self.prior, out=np.zeros(UNKNOWNS), where=self.prior > 0.0)[: len(OWN)]
        far = int(np.argmax(np.abs(share)))
        named = "the relief valve" if far in (OPENING, SLOPE) else NAMED[far]  # a reading tells only both together
        return named if abs(share[far]) > 2.0 else ""

    @property
    def doubt(self) -> str:
        """One sentence where readings and guesses do not belong together; empty where they do."""
        return "" if self.together else "Readings and guesses do not belong together: trust no number here."

    @property
    def in_use(self) -> Build:
        """The set-up to count with: the likely one, or as typed where nothing was read."""
        return self.likely if self.asked else self.build

    @property
    def guessed(self) -> Build:
        """The set-up as typed, with the spreads of its guesses."""
        return replace(self.build, known=guessed_or_known(self.build))

    def sure_of(self, slope: Any, without: int | None = None) -> float:
        """One standard deviation of a result, from its slopes by the unknowns in spreads of the guess.

        without: place of a reading that is left out.
        """
        covariance = self.covariance
        if without is not None:
            row = self.slopes[without]
            covariance = np.linalg.inv(np.linalg.inv(covariance) - np.outer(row, row))
        return math.sqrt(float(slope @ covariance @ slope))

    def still_unknown(self) -> tuple[str, ...]:
        """What the readings have hardly taught: the spread is still above nine tenths of the guess's."""
        left = np.sqrt(np.diag(self.covariance))
        return tuple(name for name, part in zip(NAMED, left[: len(OWN)], strict=True) if part > 0.9)


@public
def calibrate(build: Build) -> Calibration:
    """The most likely engine of a set-up, and how well it is known, from its ``[readings]`` and the typed guesses.

    Unknown are a change of the clearance of mains and rods, the relief valve's opening and slope, the pump's slip, the
    area of jets and lifters, and the errors that gauge and thermometer make in all readings. The guesses' spreads are
    ``[uncertain]``: its ``start_pressure`` is that of the opening. Without readings the guess stays what it is.
    Readings and guesses that do not belong together make every spread wider, by the root of chi square over its
    expectation (Birge's ratio, from memory), twice at the most; then trust no result until they do. Where
    ``[readings]`` names an oil or a ``clearance_change`` of its own, the engine is found with these.
    Source: first principles (`operating_point`, `engine_demand`); nonlinear least squares with prior knowledge.

    >>> from oilkit.build.setup_file import demo_set_ups
    >>> seen = {"pressure": "15 psi", "speed": "700 rpm", "oil_temperature": "230 degF"}
    >>> gauge = {"gauge_full_scale": "100 psi", "gauge_class": 1.6, "thermometer_error": "5 degF"}
    >>> found = calibrate(demo_set_ups()["street V8"].changed({"readings": gauge | {"hot_idle": seen}}))
    >>> found.together, bool(found.best[CHANGE] > 0)
    (True, True)
    """
    asked, prior, car = asked_of(build), prior_of(build), as_read(build)
    fits = _once(car, "likely", lambda: _fit(car, prior, asked, np.ones((len(asked), 1))))
    x, covariance, own, slopes = fits[0][:, 0], fits[1][0], fits[2][:, 0], fits[3][:, 0]
    chi = float(own @ own + x @ x)
    together = chi <= _limit(len(asked))
    culprit = "" if together else _once(car, "culprit", lambda: _culprit(car, prior, asked))
    wider = 1.0 if together else min(math.sqrt(chi / len(asked)), WIDER)
    lever = np.einsum("ij,jk,ik->i", slopes, np.linalg.inv(slopes.T @ slopes + np.eye(UNKNOWNS)), slopes)
    fitted = np.array([one.value for one in asked]) + own * [one.error for one in asked]
    missed = -own / np.sqrt(np.maximum(1.0 - lever, 1e-12))
    known = covariance * wider**2, wider, slopes / wider
    return Calibration(build, asked, fitted, missed, together, culprit, prior, prior * x, *known)


def _once(build: Build, what: Any, work_out: Callable[[], Any]) -> Any:
    """What was worked out before for the same engine, oil, guesses and readings: most of a set-up is none of these."""
    parts = (build.driving.si.clearance_change, build.readings, build.uncertain, build.oil, build.engine)
    found: dict[Any, Any] | None = next((kept for known, kept in _FOUND if known == parts), None)
    if found is None:
        _FOUND.appendleft((parts, found := {}))
    if what not in found:
        found[what] = work_out()
    return found[what]


_FOUND: deque[tuple[Any, dict[Any, Any]]] = deque(maxlen=4)


def prior_of(build: Build) -> Any:
    """One standard deviation of each unknown as typed, shape (7,): SI, or as a logarithm."""
    u = build.uncertain.si
    own = [u.clearance, u.start_pressure, u.pump_slip, u.relief_slope, u.jets_and_lifters]
    gauge, warm = _errors(build.readings) if build.readings else (0.0, 0.0)
    return np.array([*own, math.sqrt(SHARED) * gauge, warm])


def guessed_or_known(build: Build) -> Known:
    """How well a set-up's engine is known: by its readings, or by the guesses alone."""
    known: Known | None = build.known
    return known or Known(prior_of(build)[: len(OWN)], np.eye(len(OWN)))


def _errors(readings: Readings) -> tuple[float, float]:
    """One standard error of the gauge and of the thermometer."""
    largest = gauge_error(readings.gauge_full_scale, readings.gauge_class).m_as("Pa")
    return LARGEST * float(largest), LARGEST * readings.si.thermometer_error


def asked_of(build: Build) -> tuple[Asked, ...]:
    """The readings of a set-up, in the file's order."""
    if build.readings is None:
        return ()
    own, found = math.sqrt(1.0 - SHARED) * _errors(build.readings)[0], []
    for name in WORDS:
        one = getattr(build.readings, name)
        if one is not None:
            s, pressed = one.si, isinstance(one, Seen)
            kind, value, at = (GAUGE, s.pressure, math.nan) if pressed else (THROUGH_FLOW, s.flow, s.pressure)
            error = own if pressed else s.within / NINETEEN_IN_TWENTY
            found.append(Asked(name, kind, value, error, s.speed, s.oil_temperature, at))
    return tuple(found)


# ----------------------------------------------------------------------------------------------------- other engines


def many_of(engine: Engine, pump: dict[str, Any], jets: dict[str, Any], lifters: dict[str, Any]) -> Engine:
    """An engine with arrays in place of some numbers of its parts, in SI: as many variants of it in one.

    Not checked. Its arrays broadcast with those of speeds, temperatures and changes wherever it is used.
    """
    many, changed = replace(engine), {"pump": pump, "jets": jets, "lifters": lifters}
    parts = {name: SimpleNamespace(**vars(getattr(engine.si, name)) | new) for name, new in changed.items()}
    vars(many)["si"] = SimpleNamespace(**vars(engine.si) | parts)
    return many


def variants(engine: Engine, off: Any) -> Engine:
    """Many engines in one, off by so much from this one: rows of ``OWN``, SI or logarithms, shape (5, …)."""
    pump, jets, lifters = engine.si.pump, engine.si.jets, engine.si.lifters
    opening = np.maximum(pump.relief_opening + off[OPENING], LEAST_OPENING)
    above = (pump.relief_rated_pressure - pump.relief_opening) * np.exp(off[SLOPE])
    wider = np.exp(off[HOLES] / 2.0)
    return many_of(
        engine,
        {
            "efficiency": np.maximum(1.0 - (1.0 - pump.efficiency) * np.exp(off[SLIP]), LEAST_EFFICIENCY),
            "relief_opening": opening,
            "relief_rated_pressure": opening + above,
        },
        {"bore": jets.bore * wider},
        {"bore": lifters.bore * wider},
    )


def changed_clearance(build: Build, off: Any, middle: Any = None) -> Any:
    """Change of the clearances, off by so much from the set-up's own, or from another one. SI."""
    e = build.engine.si
    least = (TIGHTEST - 1.0) * min(e.mains.diametral_clearance, e.rods.diametral_clearance)
    return np.maximum((build.driving.si.clearance_change if middle is None else middle) + off, least)


def with_engine(build: Build, off: Any) -> Build:
    """The set-up with an engine that is off by so much, shape (5,) or more, as records; its file stays as typed."""
    change = CLEARANCE_CHANGE.quantity(float(changed_clearance(build, off[CHANGE])))
    return replace(build, engine=one_of(build.engine, off), driving=build.driving.changed(clearance_change=change))


def one_of(engine: Engine, off: Any) -> Engine:
    """One of the variants of an engine, off by so much, shape (5,) or more, as records; its clearances stay."""
    one = variants(engine, off).si
    names = ("efficiency", "relief_opening", "relief_rated_pressure")
    return engine.changed(
        pump=engine.pump.changed_si(**{name: float(getattr(one.pump, name)) for name in names}),
        jets=engine.jets.changed_si(bore=float(one.jets.bore)),
        lifters=engine.lifters.changed_si(bore=float(one.lifters.bore)),
    )


def shown_by(build: Build, asked: tuple[Asked, ...], off: Any) -> Any:
    """What gauges show on engines that are off by so much. off: shape (7, m). Returned: SI, shape (n, m)."""
    engine, change = variants(build.engine, off), changed_clearance(build, off[CHANGE])
    speed, warm, at = (np.array([[getattr(one, key)] for one in asked]) for key in ("speed", "temperature", "at"))
    b = sides(engine, build.oil, speed, warm + off[THERMOMETER_OFF], change)
    flows = np.array([[one.kind is THROUGH_FLOW] for one in asked], dtype=bool)
    found = pressure_between(engine, b) + off[GAUGE_OFF]
    return np.where(flows, total_take(at, b.wanting), found) if flows.any() else found


def slopes_of(show: Callable[[Any], Any], prior: Any, x: Any, step: float = STEP) -> tuple[Any, Any]:
    """What is shown at x, spreads off the guess, and its slopes by x: central differences, all in one call."""
    columns = np.concatenate([np.zeros((UNKNOWNS, 1)), step * np.eye(UNKNOWNS), -step * np.eye(UNKNOWNS)], axis=1)
    there = show(prior[:, None] * (x[:, None] + columns))
    return there[..., 0], (there[..., 1 : 1 + UNKNOWNS] - there[..., 1 + UNKNOWNS :]) / (2.0 * step)


# -------------------------------------------------------------------------------------------------------------- fitting


def _fit(build: Build, prior: Any, asked: tuple[Asked, ...], counts: Any) -> tuple[Any, Any, Any, Any]:
    """Most likely unknowns in spreads of the guess, their covariance, the readings' misses and slopes there.

    counts: which readings count, shape (n, m): as many fits in one. Shapes (7, m), (m, 7, 7), (n, m), (n, m, 7).
    """
    guesses, nothing = np.zeros((UNKNOWNS, counts.shape[1])), np.zeros(UNKNOWNS)
    if not asked:
        return guesses, np.eye(UNKNOWNS)[None], counts, np.zeros((0, 1, UNKNOWNS))
    x, own, slopes = _fit_many(build, prior, asked, nothing, guesses, 0.0, counts, MOST_ROUNDS)
    weighed = slopes * counts[..., None]
    told = np.einsum("nmi,nmj->mij", weighed, weighed)
    return x, np.linalg.inv(told + np.eye(UNKNOWNS)), own, slopes


def _fit_many(
    build: Build, prior: Any, asked: tuple[Asked, ...], start: Any, guesses: Any, errors: Any, counts: Any, rounds: int
) -> tuple[Any, Any, Any]:
    """Many sets of guesses, shape (7, m), and of readings that err by so much more, (n, m), fitted in one.

    Gauss-Newton steps from one start, damped where a step does not help (Levenberg, Marquardt). Unknowns, and the
    readings' misses and slopes there. counts: 1 for readings that count and 0 for others, (n, m).
    """
    value, error = (np.array([getattr(one, key) for one in asked])[:, None] for key in ("value", "error"))
    many, eye = guesses.shape[1], np.eye(UNKNOWNS)
    columns = np.concatenate([np.zeros((UNKNOWNS, 1)), STEP * eye, -STEP * eye], axis=1)[:, None, :]

    def at(x: Any) -> tuple[Any, Any, Any]:
        every = prior[:, None, None] * (x[:, :, None] + columns)
        shown = shown_by(build, asked, every.reshape(UNKNOWNS, -1)).reshape(len(asked), many, -1)
        own = (shown[..., 0] - value) / error - errors
        by = (shown[..., 1 : 1 + UNKNOWNS] - shown[..., 1 + UNKNOWNS :]) / (2.0 * STEP * error[..., None])
        return own, by, np.sum((counts * own) ** 2, axis=0) + np.sum((x - guesses) ** 2, axis=0)

    x, damping = np.repeat(start[:, None], many, axis=1), np.zeros(many)
    own, by, cost = at(x)
    for _ in range(rounds):
        told = np.einsum("nm,nmi,nmj->mij", counts, by, by) + (1.0 + damping)[:, None, None] * eye
        pull = np.einsum("nm,nmi,nm->mi", counts, by, own) + (x - guesses).T
        free = np.abs(x.T) < FARTHEST_FIT  # what stands at an end, and is pulled beyond it, stays there
        free |= pull * x.T > 0.0
        told = np.where(free[:, :, None] & free[:, None, :], told, eye)
        pull = np.where(free, pull, 0.0)
        tried = np.clip(x - np.linalg.solve(told, pull[..., None])[..., 0].T, -FARTHEST_FIT, FARTHEST_FIT)
        there = at(tried)
        better, done = there[2] <= cost, np.abs(there[2] - cost) <= ENOUGH * cost
        x = np.where(better, tried, x)
        own, by = np.where(better, there[0], own), np.where(better[:, None], there[1], by)
        cost = np.where(better, there[2], cost)
        if np.all(done):
            break
        damping = np.where(better, 0.3 * damping, np.maximum(10.0 * damping, 1.0))
    return x, own, by


def _limit(readings: int) -> float:
    """Chi square that readings which belong together exceed once in a hundred times."""
    from scipy.special import chdtri

    return float(chdtri(readings, BY_CHANCE)) if readings else math.inf


def _culprit(build: Build, prior: Any, asked: tuple[Asked, ...]) -> str:
    """The reading that lies farthest off what the others say, if the others belong together without it."""
    if len(asked) < 2:
        return ""
    all_but_one = 1.0 - np.eye(len(asked))
    x, covariance, own, slopes = _fit(build, prior, asked, all_but_one)
    k = np.arange(len(asked))
    by = slopes[k, k]
    apart = np.abs(own[k, k]) / np.sqrt(1.0 + np.einsum("mi,mij,mj->m", by, covariance, by))
    chi = np.sum((all_but_one * own) ** 2, axis=0) + np.sum(x**2, axis=0)
    apart = np.where(chi <= _limit(len(asked) - 1), apart, 0.0)
    return asked[int(np.argmax(apart))].name if np.max(apart) > 0.0 else ""


def hot_idle_slopes(build: Build, prior: Any, x: Any) -> tuple[float, Any]:
    """Hot idle by a gauge without errors, SI, and its slopes by the unknowns in spreads of the guess."""
    hot = Asked("hot_idle", GAUGE, math.nan, math.nan, build.engine.si.idle, build.driving.si.sump_temperature)
    engine = np.where(np.arange(UNKNOWNS) < len(OWN), x, 0.0)
    shown, by = slopes_of(partial(shown_by, build, (hot,)), prior, engine)
    return float(shown[0]), np.where(np.arange(UNKNOWNS) < len(OWN), by[0], 0.0)
