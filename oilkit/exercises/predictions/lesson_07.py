"""Numbers of the predictions of lesson 07: what a log can show, and a pre-charge that stands its ground."""

from __future__ import annotations

from typing import Any

import numpy as np

from oilkit.laps.choice import robust_choice
from oilkit.laps.cornering import compare_laps
from oilkit.laps.lap import simulate_lap, usual_installation
from oilkit.laps.logfile import kit_lap
from oilkit.laps.remarks import SAMPLES_OF_A_DIP
from oilkit.physics.pan import pan_level
from oilkit.quantities.units import Q, Qty


def braking_tilt(behind: Qty, lost: Qty) -> dict[str, Any]:
    """a / g times the distance."""
    return {"answer": behind * 0.8, "divided": behind / 0.8, "half": behind * 0.8 / 2}


def one_quart_low() -> dict[str, Any]:
    """How far the level falls in a deep sump."""
    pan = usual_installation().engine.pan
    sump = (pan.sump_area, pan.sump_depth, pan.upper_area)
    left = pan_level(Q(2, "qt"), *sump)
    return {
        "answer": pan_level(Q(3, "qt"), *sump) - left,
        "area": pan.sump_area,
        "in_the_wide_part": (Q(1, "qt") / pan.upper_area).to("in"),
        "left": left,
    }


def slow_log(dip: Qty) -> dict[str, Any]:
    """How often one must look."""
    samples = SAMPLES_OF_A_DIP
    return {"answer": dip / samples, "samples": samples, "half": dip / 2, "multiplied": dip * samples}


def worst_corner() -> dict[str, Any]:
    """Which corner starves longest."""
    built, lap = usual_installation(), kit_lap()
    shut, opened = (simulate_lap(built, lap, valve, Q(-1.2, "qt")) for valve in (False, True))
    every = compare_laps(lap, shut, opened)
    four = {"first": every[3], "second": every[6], "third": every[7], "fourth": every[8]}
    lasts = {name: float((found.corner.end - found.corner.start).m) for name, found in four.items()}
    return {
        "right": max(four, key=lambda name: float(four[name].below_shut.m)),
        **{name: f"{found.corner.name} ({lasts[name]:.1f} s)" for name, found in four.items()},
    }


def needle_or_not() -> dict[str, Any]:
    """Below the needle."""
    found = robust_choice(usual_installation(), Q(np.linspace(2.0, 50.0, 13), "psig"), Q(4, "s"))
    return {
        "right": "lower" if found.best < found.needle else "same" if found.best == found.needle else "higher",
        "needle": found.needle,
        "best": found.best,
        "needle_percent": 100 * found.needle_share,
        "best_percent": 100 * found.best_share,
    }
