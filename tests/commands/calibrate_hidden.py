"""Five invented engines whose truth is hidden from the fit: what their gauges' readings are worth; then five hundred.

    python tests/commands/calibrate_hidden.py [engines] [seed]

Each engine is off from what was typed by a draw from the typed spreads, and is made as records, one number after the
other: nothing of `oilkit.build.calibration` is used for it. Its gauges are read with errors that are drawn; part of a
gauge's error is the same in all its readings, and the thermometer's always is. What the fit gets is a set-up file's
text: guesses, spreads and readings as a hand would write them down. The truth comes back only to be held against it.
"""

from __future__ import annotations

import argparse
import math
from dataclasses import replace
from typing import Any

import numpy as np
from scipy.stats import binomtest, norm

from oilkit import Q, engine_demand, operating_point
from oilkit.build.calibration import calibrate
from oilkit.build.learned import drawn
from oilkit.build.setup_file import Build, demo_set_ups, set_up_from_text
from oilkit.build.spread import HORIZON, follow, nothing_off, vary

BASES = ("street V8", "small four", "race V8", "huge clearances", "high altitude")
READ = (
    ("hot_idle",),
    ("hot_idle", "hot_at_speed"),
    ("hot_idle", "hot_at_speed", "cold_idle", "relief_seen"),
    ("hot_idle", "demand"),
    ("hot_idle", "hot_at_speed", "cold_idle", "relief_seen", "demand"),
)
FULL_SCALE, CLASS, THERMOMETER = 100.0, 1.6, 5.0
"""psi; per cent; largest error, °F."""
DEMAND_WITHIN = 0.08
"""Of the demand measured on the stopped engine, 19 times in 20."""
LEVEL = 0.95
DRAWS = 200


def hidden(build: Build, dice: np.random.Generator) -> Build:
    """An engine as it really is: each number off by a draw from the typed spread."""
    u, engine = build.uncertain, build.engine
    pump, off = engine.pump, dice.standard_normal(5)
    opening = pump.relief_opening.m_as("psig") + off[1] * u.start_pressure.m_as("psi")
    above = (pump.relief_rated_pressure.m_as("psig") - pump.relief_opening.m_as("psig")) * math.exp(
        float(off[3]) * u.si.relief_slope
    )
    slips = (1.0 - float(pump.si.efficiency)) * math.exp(float(off[2]) * u.si.pump_slip)
    pump = replace(
        pump,
        efficiency=max(1.0 - slips, 0.05),
        relief_opening=Q(opening, "psig"),
        relief_rated_pressure=Q(opening + above, "psig"),
    )
    wider = math.exp(float(off[4]) * u.si.jets_and_lifters / 2.0)
    jets, lifters = (replace(holes, bore=holes.bore * wider) for holes in (engine.jets, engine.lifters))
    clearance = u.clearance.m_as("thou") * float(off[0])
    mains, rods = (
        replace(b, diametral_clearance=b.diametral_clearance + Q(clearance, "thou"))
        for b in (engine.mains, engine.rods)
    )
    return replace(build, engine=replace(engine, pump=pump, jets=jets, lifters=lifters, mains=mains, rods=rods))


def read(truth: Build, names: tuple[str, ...], dice: np.random.Generator) -> dict[str, Any]:
    """A ``[readings]`` table: what the gauges of that engine show, written down to 0.1 psi."""
    engine, driving = truth.engine, truth.driving
    one = FULL_SCALE * CLASS / 100.0 / 2.0
    zero, thermometer = dice.normal() * one * math.sqrt(0.5), dice.normal() * THERMOMETER / 2.0
    idle, hot = engine.idle.m_as("rpm"), driving.sump_temperature.to("degF").m
    slowest = min(event.speed.m_as("rpm") for event in truth.events)
    at = {
        "hot_idle": (idle, hot),
        "hot_at_speed": (max(0.7 * slowest, 1.3 * idle), hot),
        "cold_idle": (idle, truth.shop.temperature.to("degF").m),
        "relief_seen": (0.8 * engine.redline.m_as("rpm"), hot - 20.0),
    }
    found: dict[str, Any] = {
        "gauge_full_scale": f"{FULL_SCALE:g} psi", "gauge_class": CLASS, "thermometer_error": f"{THERMOMETER:g} degF"
    }  # fmt: skip
    for name in names:
        if name == "demand":
            pressure, warm = 40.0, Q(hot - thermometer, "degF")
            takes = engine_demand(engine, truth.oil, Q(pressure, "psig"), Q(0, "rpm"), warm, driving.clearance_change)
            flow = takes.total.m_as("gpm")
            flow, within = flow * (1.0 + DEMAND_WITHIN / 1.96 * dice.normal()), DEMAND_WITHIN * flow
            found[name] = {
                "flow": f"{flow:.3f} gpm", "within": f"{within:.3f} gpm", "pressure": "40 psi", "speed": "0 rpm",
                "oil_temperature": f"{hot:g} degF",
            }  # fmt: skip
            continue
        speed, shown = at[name]
        there = operating_point(
            engine, truth.oil, Q(speed, "rpm"), Q(shown - thermometer, "degF"), driving.clearance_change
        )
        psi = there.gallery_pressure.m_as("psig") + zero + dice.normal() * one * math.sqrt(0.5)
        found[name] = {
            "pressure": f"{max(psi, 0.5):.1f} psi", "speed": f"{speed:g} rpm", "oil_temperature": f"{shown:g} degF"
        }  # fmt: skip
    return found


def results(build: Build) -> tuple[float, float]:
    """Hot idle (psi) and protected time (s) of the first event, for an engine as it stands in the records."""
    idle = operating_point(
        build.engine, build.oil, build.engine.idle, build.driving.sump_temperature, build.driving.clearance_change
    )
    protected, _ = follow(build.installation, vary(build, build.events[:1], nothing_off()))
    return float(idle.gallery_pressure.m_as("psig")), min(float(protected[0]), HORIZON)


def play(base: Build, names: tuple[str, ...], dice: np.random.Generator) -> dict[str, Any] | None:
    """One engine: its truth, and what is said of hot idle and protected time before and after its gauges are read."""
    truth = hidden(base, dice)
    table = read(truth, names, dice)
    if table["hot_idle"]["pressure"] == "0.5 psi":
        return None  # the pump gives nothing: nobody drives that
    typed = set_up_from_text(base.changed({"readings": table}).text())
    found = calibrate(typed)
    z = norm.ppf((dice.permuted(np.tile(np.arange(DRAWS), (5, 1)), axis=1) + 0.5) / DRAWS)
    said = {}
    for name, build in (("guessed", found.guessed), ("calibrated", found.likely)):
        idle, _, protected = drawn(build, typed.events[0], z)
        said[name] = np.array([np.quantile(q, [0.025, 0.5, 0.975]) for q in (idle / 6894.757293168, protected)])
    return {"truth": results(truth), "together": found.together, "read": table["hot_idle"]["pressure"], **said}


def coverage(count: int, seed: int) -> dict[str, Any]:
    """Of so many engines, how many hidden truths lie within what is said to hold 95 in 100; and how much is gained."""
    dice, kit = np.random.default_rng(seed), demo_set_ups()
    rows = []
    for k in range(count):
        one = play(kit[BASES[k % len(BASES)]], READ[(k // len(BASES)) % len(READ)], dice)
        if one is not None:
            rows.append(one)
    found: dict[str, Any] = {"engines": len(rows), "apart": sum(not one["together"] for one in rows)}
    for name in ("guessed", "calibrated"):
        for k, what in enumerate(("hot idle", "protected time")):
            inside = [one[name][k, 0] <= one["truth"][k] <= one[name][k, 2] for one in rows]
            wide = [one[name][k, 2] - one[name][k, 0] for one in rows]
            off = [abs(one[name][k, 1] - one["truth"][k]) for one in rows]
            found[name, what] = sum(inside), float(np.median(wide)), float(np.median(off))
    return found


def main(count: int, seed: int) -> None:
    dice, kit = np.random.default_rng(seed), demo_set_ups()
    print(f"{'engine':16}{'readings':>10}{'':4}{'truth':>8}{'guessed':>24}{'calibrated':>24}")
    for base, names in zip(BASES, READ, strict=True):
        one = play(kit[base], names, dice)
        assert one is not None
        for k, (what, unit) in enumerate((("hot idle", "psi"), ("protected", "s"))):
            said = [
                f"{one[name][k, 1]:.2f} ({one[name][k, 0]:.2f} to {one[name][k, 2]:.2f})"
                for name in ("guessed", "calibrated")
            ]
            title = f"{base:16}{len(names):10}" if k == 0 else f"{what if k else '':16}{'':10}"
            print(f"{title}{unit:>4}{one['truth'][k]:8.2f}{said[0]:>24}{said[1]:>24}")
    found = coverage(count, seed + 1)
    print(f"\n{found['engines']} engines; readings called apart: {found['apart']}")
    print(f"{'':28}{'within the 95 %':>32}{'median width':>14}{'median miss':>13}")
    for (name, what), (hits, wide, off) in ((key, value) for key, value in found.items() if isinstance(key, tuple)):
        low, high = binomtest(hits, found["engines"]).proportion_ci(0.95, "wilson")
        share = f"{100 * hits / found['engines']:.1f} % ({100 * low:.1f} to {100 * high:.1f})"
        print(f"{name:12}{what:16}{share:>32}{wide:14.2f}{off:13.2f}")


if __name__ == "__main__":
    made = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    made.add_argument("engines", nargs="?", type=int, default=500)
    made.add_argument("seed", nargs="?", type=int, default=18)
    given = made.parse_args()
    main(given.engines, given.seed)
