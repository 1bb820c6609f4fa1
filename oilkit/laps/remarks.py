"""What a log cannot show, and what in it is hard to believe. (Lesson 07)"""

from __future__ import annotations

from typing import Any

import numpy as np

from oilkit.errors import InputError
from oilkit.laps.logfile import SORTS, Log, summed
from oilkit.quantities.checked import Gauge, One, Own, Time, public
from oilkit.quantities.kinds import ACCELERATION, GAUGE, VELOCITY
from oilkit.quantities.units import Q
from oilkit.storage.textfile import shown

SENSOR_PLACES = {
    "gallery": "",
    "pump": (
        "The sensor stands between pump and check valve: when the pump starves it shows the pump's "
        "pressure, not what the bearings get from the vessel."
    ),
    "vessel": (
        "The sensor stands at the vessel: it shows the vessel's pressure, which hardly notices a dip in the gallery."
    ),
}
"""Where a pressure sensor may stand, and what it cannot see there; nothing for one in the main gallery."""
USUAL_DIP = Q(0.1, "s")
SAMPLES_OF_A_DIP = 5
"""Fewer samples than this do not show how deep a dip was."""
STILL, STILL_PRESSURE = 5.0, 10.0
"""Seconds for which a live sensor does not show one and the same number while the car's speed changes; oil pressure may
stand longer on its relief valve (chosen, no source)."""
CHANGED = 5.0
"""m/s by which the speed must change meanwhile (chosen, no source)."""
NEARLY_NONE, CORNER = 0.05 * 9.80665, 0.5 * 9.80665
"""m/s2. On a straight a car may stay below the first; above the second it is in a corner (chosen, no source)."""
_MIXED = {
    14.5038: "psi are named as bar",
    6.89476: "kPa are named as psi",
    100.0: "kPa are named as bar",
    1 / 14.5038: "bar are named as psi",
    1 / 6.89476: "psi are named as kPa",
    1 / 100.0: "bar are named as kPa",
}
"""How many times too high a pressure stands in the log, and which two units were mixed up to make it so."""
MIXED_WITHIN = 1.4
"""Factor by which an engine's own pressure may differ from the model's before two of these could be confused."""


@public
def log_remarks(
    log: Log, dip: One[Time] = USUAL_DIP, sensor: str = "gallery", expected: Own[Gauge] | None = None
) -> list[str]:
    """Sentences about what a log cannot show, and what in it is hard to believe; none if nothing speaks against it.

    dip: how long the dip lasts that you look for; the first dip after the pump lets go lasts about 0.02 to 0.2 s.
    sensor: one of ``SENSOR_PLACES``. expected: what a full pump gives, of `expected_pressure`; without it nothing is
    said about the size of the measured pressure. Raises `InputError`.
    Source: first principles (a dip between two samples leaves no trace; acceleration is the change of speed).

    >>> from oilkit import kit_lap
    >>> print(log_remarks(kit_lap())[0])
    One sample in 50 ms: too slow for a dip of 100 ms, which wants 20 ms or less.
    """
    if sensor not in SENSOR_PLACES:
        raise InputError("sensor", f"“{shown(str(sensor))}”", " or ".join(SENSOR_PLACES))
    said = []
    apart = float(log.interval.m)
    if apart * SAMPLES_OF_A_DIP > dip * (1.0 + 1e-9):
        said.append(
            f"One sample in {1000 * apart:.0f} ms: too slow for a dip of {1000 * dip:.0f} ms, which wants "
            f"{1000 * dip / SAMPLES_OF_A_DIP:.0f} ms or less."
        )
    if SENSOR_PLACES[sensor] and log.pressure is not None:
        said.append(SENSOR_PLACES[sensor])
    return [*said, *_gain_remarks(log), *_frozen(log), *_pressure_remarks(log, expected), *_side(log), *log.assumed]


def _gain_remarks(log: Log) -> list[str]:
    slope = _gain_against_speed(log)
    if slope is None or 0.7 < slope < 1.4:
        return []
    if slope < 0.0:
        return [
            "Longitudinal acceleration and speed disagree in sign: above 0 must mean gaining speed, "
            "so the sign, or the column, is another one."
        ]
    why = ": one of the two may have another unit"
    for factor, mixed in ((1.609344, "mph are named as km/h"), (1 / 1.609344, "km/h are named as mph")):
        if 0.87 < slope / factor < 1.15:
            why = f", as where {mixed}: check the unit of speed"
    return [f"Longitudinal acceleration is {slope:.2g} times what the speed says{why}."]


def _frozen(log: Log) -> list[str]:
    """A sentence for each column that stands still while the car's speed changes."""
    si = log.si
    time, speed = si["time"], si["speed"]
    gained = summed(time, si["longitudinal"])
    said = []
    for name in ("speed", "lateral", "longitudinal", "rpm", "pressure"):
        if name not in si:
            continue
        values = si[name]
        steps = np.flatnonzero(np.diff(values) != 0.0)
        first, last = np.concatenate([[0], steps + 1]), np.concatenate([steps, [values.size - 1]])
        long = time[last] - time[first] >= (STILL_PRESSURE if name == "pressure" else STILL)
        found = []
        for a, b in zip(first[long].tolist(), last[long].tolist(), strict=True):
            lasts = float(time[b] - time[a])
            changed = float(abs(gained[b] - gained[a]) if name == "speed" else np.ptp(speed[a : b + 1]))
            if name == "speed" and changed < NEARLY_NONE * 2.0 * lasts:  # a sensor that is a little off, in a slow car
                continue
            on_a_straight = name == "lateral" and abs(values[a]) < NEARLY_NONE and lasts < 0.5 * time[-1]
            if changed >= CHANGED and not on_a_straight:
                found.append((lasts, changed, a))
        if found:
            lasts, changed, a = max(found)
            sort = SORTS[name]
            other = "the acceleration says that it changes" if name == "speed" else "the car's speed changes"
            said.append(
                f"{sort.noun[0].upper()}{sort.noun[1:]} stands at {sort.kind.text(float(values[a]))} for {lasts:.1f} s "
                f"from {time[a]:.1f} s on while {other} by {VELOCITY.text(changed)}: check that sensor."
            )
    return said


def _pressure_remarks(log: Log, wanted: Any) -> list[str]:
    if log.pressure is None or wanted is None:
        return []
    measured = log.si["pressure"]
    if np.shape(wanted) != np.shape(measured):
        raise InputError("expected", f"{np.size(wanted)} values", f"{np.size(measured)}, one for each sample")
    turning = wanted > 3e4
    if not np.any(turning):
        return []
    ratio = float(np.quantile(measured[turning] / wanted[turning], 0.9))  # a pick-up starves now and then, not always
    for factor, mixed in _MIXED.items():
        if 1.0 / MIXED_WITHIN < ratio / factor < MIXED_WITHIN:
            size = f"{ratio:.3g} times" if ratio > 1.0 else f"1/{1.0 / ratio:.3g} of"
            high, usual = (GAUGE.text(float(np.quantile(p[turning], 0.9))) for p in (measured, wanted))
            return [
                f"Measured oil pressure is {size} what a full pump gives ({high} against {usual}), as where {mixed}: "
                "check its unit."
            ]
    return []


def _side(log: Log) -> list[str]:
    """Which way the hardest corner goes: no other column knows left from right, so the driver must."""
    si = log.si
    hardest = int(np.argmax(np.abs(si["lateral"])))
    sideways = float(si["lateral"][hardest])
    if abs(sideways) < CORNER:
        return []
    way = "left" if sideways > 0.0 else "right"
    return [
        f"Nothing else in the log tells left from right: at {si['time'][hardest]:.1f} s it says {way} with "
        f"{ACCELERATION.text(abs(sideways))}, so check that this corner goes {way}."
    ]


def _gain_against_speed(log: Log) -> float | None:
    """Logged longitudinal acceleration over that from the change of speed, least squares; None if it hardly varies."""
    si = log.si
    seconds = np.arange(0.0, si["time"][-1], 0.5)
    if seconds.size < 8:
        return None
    logged = np.diff(np.interp(seconds, si["time"], summed(si["time"], si["longitudinal"])))
    gained = np.diff(np.interp(seconds, si["time"], si["speed"]))
    size = float(np.sum(gained**2))
    return float(np.sum(logged * gained)) / size if size > 0.25 * gained.size else None
