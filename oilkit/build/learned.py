"""What an engine's own gauges have taught, and which reading to take next. (Lesson 10)"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from oilkit.build.calibration import (
    OWN,
    UNKNOWNS,
    Asked,
    Calibration,
    asked_of,
    hot_idle_slopes,
    shown_by,
    slopes_of,
)
from oilkit.build.records import Event
from oilkit.build.results import HORIZON, Learned, Taught
from oilkit.build.setup_file import Build
from oilkit.build.spread import ENGINE, INPUTS, QUICK, follow, hot_idles, nothing_off, together, vary
from oilkit.physics.measure import NINETEEN_IN_TWENTY
from oilkit.quantities.checked import public
from oilkit.quantities.kinds import GAUGE, PRESSURE_DIFFERENCE, THROUGH_FLOW, TIME
from oilkit.quantities.units import Q
from oilkit.shop.as_built import NO_LOAD

HALF = 0.5
"""Standard deviations by which each unknown is moved for the slopes of the protected time."""
FAST, BELOW_RELIEF = 0.8, 0.7
"""Share of the redline, and of the speed of the slowest event, at which a reading is proposed (chosen)."""
FALL, FALL_WITHIN = Q(40, "psig"), 0.08
"""A measured demand is proposed with the engine stopped, at this pressure, good to this share (chosen: lesson 05)."""
USUAL_GAUGE_ERROR = float(Q(0.8, "psi").m_as("Pa"))
"""One standard error of a gallery gauge: 100 psi, class 1.6, as in lesson 09."""


@public
def what_readings_taught(calibration: Calibration, event: Event) -> Learned:
    """What each reading has taught about hot idle and an event's protected time, and which one to take next.

    Only the engine is uncertain here; temperatures, pre-charge and the event's length are as expected.
    Source: first principles (errors propagated with the slopes at the most likely engine). Of the readings not yet
    taken the next one is that with the largest expected gain.

    >>> from oilkit.build.calibration import calibrate
    >>> from oilkit.build.setup_file import demo_set_ups
    >>> street = demo_set_ups()["street V8"]
    >>> found = what_readings_taught(calibrate(street), street.events[0])
    >>> print(f"{found.idle:.0f~} give or take {found.idle_guessed:.0f~}; next: {found.next_reading}")
    19 psig give or take 4 psi; next: demand
    """
    c = calibration
    x = np.divide(c.best, c.prior, out=np.zeros(UNKNOWNS), where=c.prior > 0.0)
    idle, by_idle = hot_idle_slopes(c.build, c.prior, x)
    by_time = protected_slopes(c.likely, event, c.prior)
    _, guessed_idle = hot_idle_slopes(c.build, c.prior, np.zeros(UNKNOWNS))
    guessed_time = protected_slopes(c.guessed, event, c.prior)
    taught = tuple(
        Taught(
            one.name,
            one.words,
            one.kind.quantity(one.value),
            one.kind.quantity(float(c.fitted[k])),
            float(c.missed[k]),
            PRESSURE_DIFFERENCE.quantity(c.sure_of(by_idle, k)),
            TIME.quantity(c.sure_of(by_time, k)),
        )
        for k, one in enumerate(c.asked)
    )
    following, gains = _next(c, x, by_time, by_idle)
    then = [math.sqrt(max(c.sure_of(by) ** 2 - gain, 0.0)) for by, gain in zip((by_time, by_idle), gains, strict=True)]
    return Learned(
        c,
        taught,
        GAUGE.quantity(idle),
        PRESSURE_DIFFERENCE.quantity(float(np.linalg.norm(guessed_idle))),
        PRESSURE_DIFFERENCE.quantity(c.sure_of(by_idle)),
        TIME.quantity(float(np.linalg.norm(guessed_time))),
        TIME.quantity(c.sure_of(by_time)),
        following.name if following else "",
        _how_taken(following, c.build.engine.si.redline) if following else "",
        TIME.quantity(then[0]),
        PRESSURE_DIFFERENCE.quantity(then[1]),
    )


def protected_slopes(build: Build, event: Event, prior: Any) -> Any:
    """Slopes of an event's protected time by the unknowns in spreads of the guess, shape (7,)."""
    assert build.known is not None
    count, spread = len(OWN), build.known.spread
    z = nothing_off(2 * count)
    z[ENGINE, np.arange(count)], z[ENGINE, np.arange(count) + count] = HALF, -HALF
    times = np.minimum(follow(build.installation, vary(build, (event,), z))[0], HORIZON)
    found = np.zeros(UNKNOWNS)
    per_spread = (times[:count] - times[count:]) / (2.0 * HALF)
    own = prior[:count]
    found[:count] = per_spread * np.divide(own, spread, out=np.zeros(count), where=spread > 0.0)
    return found


def _proposed(build: Build) -> list[Asked]:
    """Readings that could be taken, each as it is usually taken."""
    e, driving, slowest = build.engine.si, build.driving.si, min(event.si.speed for event in build.events)
    hot, cold = driving.sump_temperature, build.shop.si.temperature
    at = {"hot_idle": (e.idle, hot), "hot_at_speed": (max(BELOW_RELIEF * slowest, 1.3 * e.idle), hot),
          "cold_idle": (e.idle, cold), "relief_seen": (FAST * e.redline, hot)}  # fmt: skip
    error = next((one.error for one in asked_of(build) if one.kind is GAUGE), USUAL_GAUGE_ERROR)
    found = [Asked(name, GAUGE, math.nan, error, *how) for name, how in at.items()]
    fall = Asked("demand", THROUGH_FLOW, math.nan, math.nan, 0.0, hot, float(FALL.m_as("Pag")))
    flow = float(shown_by(build, (fall,), np.zeros((UNKNOWNS, 1)))[0, 0])
    return [*found, fall._replace(error=FALL_WITHIN * flow / NINETEEN_IN_TWENTY)]


def _how_taken(asked: Asked, redline: float) -> str:
    """In words; what is faster than an engine may turn without load is read where it has one."""
    return asked.words + (", on the road or a dyno only" if asked.speed > NO_LOAD * redline else "")


def _next(c: Calibration, x: Any, by_time: Any, by_idle: Any) -> tuple[Asked | None, tuple[float, float]]:
    """Of the readings not yet taken that with the largest gain, and what variances of time and idle lose by it."""
    taken = {one.name for one in c.asked}
    left = tuple(one for one in _proposed(c.build) if one.name not in taken)
    if not left:
        return None, (0.0, 0.0)
    error = np.array([one.error for one in left])
    _, slopes = slopes_of(lambda off: shown_by(c.build, left, off), c.prior, x)
    new = slopes / error[:, None]
    gained = new @ c.covariance
    told = 1.0 + np.einsum("ij,ij->i", gained, new)
    gains = np.stack([(gained @ by) ** 2 / told for by in (by_time, by_idle)])
    matters = gains[0] if np.max(gains[0]) > 0.0 else gains[1]
    best = int(np.argmax(matters))
    return left[best], (float(gains[0, best]), float(gains[1, best]))


def drawn(build: Build, event: Event, z: Any) -> tuple[Any, Any, Any]:
    """Of a calibrated or guessed set-up with nothing but its engine uncertain: draws of the hot idle, of the change of
    its clearances and of an event's protected time, SI. z: standard deviations of ``OWN``, independent, shape (5, n).
    """
    full = np.zeros((INPUTS, z.shape[1]))
    full[ENGINE] = z
    full = together(build, full)
    cases = vary(build, (event,), full)
    protected = follow(build.installation, cases, accuracy=QUICK)[0]
    return hot_idles(build, full), cases.conditions["clearance_change"], np.minimum(protected, HORIZON)
