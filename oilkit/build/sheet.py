"""The build sheet: everything that a set-up asks for in the shop and promises on the track, on one page. (Lesson 10)

Nothing is computed here that an earlier lesson has not shown: pre-charge (`oilkit.physics.vessel`), oil and pan
(`oilkit.physics.pan`), line (`oilkit.physics.line`), demand and pressure (`oilkit.physics.engine`), events in time
(`oilkit.physics.discharging`), cold start (`oilkit.physics.prelube`). New is only that each uncertain input is varied:
one at a time for the tornado chart, all together, with a seed, for the spread. `oilkit.build.sheet_files` writes the
page.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Any

import numpy as np

from oilkit.build.calibration import CHANGE, LARGEST, Calibration, calibrate, guessed_or_known, one_of
from oilkit.build.events import event_results, hardest_of
from oilkit.build.learned import what_readings_taught
from oilkit.build.rating import at_the_redline, parked, shut_at_the_redline, warming_up, with_head
from oilkit.build.results import (
    FIRST_MOMENTS,
    HORIZON,
    LOOSER,
    NO_VESSEL,
    BuildSheet,
    EventResult,
    HoseRow,
    PanLevel,
    Top,
)
from oilkit.build.setup_file import Build
from oilkit.build.spread import (
    LEAST_PRESSURE,
    follow,
    head,
    idle_spread,
    latin_hypercube,
    nothing_off,
    together,
    vary,
)
from oilkit.build.wording import said
from oilkit.errors import InputError
from oilkit.physics.catalog import hoses
from oilkit.physics.line import supply_drop
from oilkit.physics.night import Overnight, overnight
from oilkit.physics.oil import density_of, viscosity_of
from oilkit.physics.pan import OilBudget, level_in_words, oil_budget, oil_in_flight, pan_level, pan_volume
from oilkit.physics.prelube import PreLube, pre_lube
from oilkit.physics.pressure import gauge_error
from oilkit.physics.vessel import oil_stored, precharge_at_temperature, precharge_to_set
from oilkit.quantities import kinds
from oilkit.quantities.checked import Draws, Seed, public
from oilkit.quantities.kinds import GAUGE, OIL, PRESSURE_DIFFERENCE, TIME
from oilkit.quantities.units import Q, Qty
from oilkit.shop.acceptance import SPREAD, AcceptanceValue, Unknown, acceptance_card, usual_unknowns
from oilkit.shop.set_up import Condition, SetUp, pan_shape

FLAT = 0.05
"""A pre-charge belongs to the flat top if it protects no more than this share fewer than the best one."""


@public
def build_sheet(build: Build, draws: Draws = 60, seed: Seed = 7, whole: bool = True) -> BuildSheet:
    """The build sheet of a set-up: what to set and add in the shop, what it does on the track, and what may be off.

    draws: how many variants of each event are drawn for the spread, 1 to 10 000, with a seed (a Latin hypercube):
    normal, lengths and times log-normal, never beyond 2.5 standard deviations. whole: False leaves out other hoses,
    other pre-charges, what would help, and the acceptance values, which take longest. Raises `InputError`.
    Source: the functions of the earlier lessons; the spreads are the set-up's own.

    >>> from oilkit.build.setup_file import demo_set_ups
    >>> sheet = build_sheet(demo_set_ups()["street V8"], whole=False)
    >>> print(f"set {sheet.precharge_to_set:.1f~}, add {sheet.oil_to_add:.1f~}")
    set 15.2 psig, add 2.3 qt
    """
    found = calibrate(build)
    build = found.in_use
    to_set, error, hot_if_gauge_errs = _set_in_the_shop(build)
    idle_low, idle_high = idle_spread(build, seed)
    results, tornados = event_results(build, draws, seed, whole, idle_low)
    hardest = results[hardest_of([(r.event, r.share, float(r.protected_time.m)) for r in results])]
    settled: Any = warming_up(build)
    running = max((r.settled for r in results), key=lambda pressure: float(pressure.m))
    budget, levels = _oil(build, running, settled.demand.total[:2])
    cooled, soaked = parked(build, running)
    at_redline = at_the_redline(build, settled)
    night, morning = _cold_start(build, running, cooled)
    sheet = BuildSheet(
        build=build,
        verdict="",
        no_vessel_helps=all(r.verdict in NO_VESSEL for r in results),
        precharge_hot=build.choice.precharge,
        precharge_to_set=to_set,
        setting_error=error,
        hot_if_gauge_errs=hot_if_gauge_errs,
        events=results,
        hardest=hardest,
        oil_to_add=budget.oil_to_add,
        running_pressure=running,
        budget=budget,
        pan=levels,
        idle_pressure=settled.gallery_pressure[0],
        idle_low=GAUGE.quantity(idle_low),
        idle_high=GAUGE.quantity(idle_high),
        calibration=found,
        highest=_highest(build, to_set, error, running, cooled, at_redline),
        soaked=soaked,
        shut_fast=shut_at_the_redline(build, at_redline),
        night=night,
        morning=morning,
        tornado=tornados[results.index(hardest)],
        assumptions=(),
        cautions=(),
        draws=draws,
        seed=seed,
        **(_what_takes_longest(found, hardest, draws, seed) if whole else LEFT_OUT),
    )
    verdict, assumptions, cautions = (said(name, build, sheet=sheet) for name in ("verdict", "assumptions", "cautions"))
    return replace(sheet, verdict=" ".join(verdict), assumptions=assumptions, cautions=cautions)


LEFT_OUT: dict[str, Any] = {"learned": None, "top": None, "line": (), "acceptance": (), "no_acceptance": ""}


def _what_takes_longest(found: Calibration, hardest: EventResult, draws: int, seed: int) -> dict[str, Any]:
    """The parts of ``LEFT_OUT``, worked out."""
    build = found.in_use
    card, no_card = _acceptance(build)
    return {
        "learned": what_readings_taught(found, hardest.event) if found.asked else None,
        "top": _top(build, hardest, draws, seed),
        "line": _other_hoses(build, hardest),
        "acceptance": card,
        "no_acceptance": no_card,
    }


def _set_in_the_shop(build: Build) -> tuple[Qty, Qty, tuple[Qty, Qty]]:
    """The pre-charge to set, how far the gauge may err, and the hot pre-charge if it errs as far either way."""
    there = build.shop_ambient
    way = (build.shop.temperature, build.driving.gas_temperature, there, build.track_ambient)
    to_set = precharge_to_set(build.choice.precharge, *way)
    error = gauge_error(build.shop.gauge_full_scale, build.shop.gauge_class)
    misread = to_set.m_as("Pag") + np.array([-1.0, 1.0]) * error.m_as("Pa")
    hot: Any = precharge_at_temperature(Q(np.maximum(misread, -there.m_as("Paa") + 1.0), "Pag"), *way)
    return to_set, error, (hot[0], hot[1])


def _highest(
    build: Build, to_set: Qty, error: Qty, running: Qty, cooled: Qty, at_redline: list[tuple[str, float, Qty]]
) -> tuple[str, Qty]:
    """The highest pressure that the vessel is to stand as planned, and where it comes from."""
    found = {name: pressure for name, _, pressure in at_redline} | {
        "before an event": with_head(build, running),
        "the pre-charge, hot": build.choice.precharge,
        "shut full and parked, in the morning": cooled,
        "the pre-charge as set, by a gauge that errs": GAUGE.quantity(to_set.m_as("Pag") + error.m_as("Pa")),
    }
    return max(found.items(), key=lambda item: float(item[1].m_as("Pag")))


def _top(build: Build, hardest: EventResult, draws: int, seed: int) -> Top:
    """Share of the draws (60 of them at the most) protected over the pre-charge, in the hardest event."""
    start = max(float(hardest.start_pressure.m_as("Pag")), 2.0 * LEAST_PRESSURE)
    charges = np.unique(np.append(np.linspace(0.04, 1.0, 17) * start, build.choice.si.precharge))
    fewer = min(draws, 60)
    drawn = together(build, latin_hypercube(fewer, seed))
    cases = vary(build, (hardest.event,), np.tile(drawn, charges.size), np.repeat(charges, fewer))
    protected, _ = follow(build.installation, cases)
    share = np.mean((protected >= cases.lasts).reshape(charges.size, fewer), axis=1)
    tops = np.flatnonzero(share >= np.max(share) - 1e-12)
    best = int(tops[tops.size // 2])
    worse = np.flatnonzero(share < share[best] - FLAT - 1e-12)
    first = int(max(worse[worse < best], default=-1)) + 1
    last = int(min(worse[worse > best], default=charges.size)) - 1
    expected = nothing_off(charges.size)
    lasts = [
        follow(build.installation, vary(build, (hardest.event,), expected, charges, change))[0]
        for change in build.driving.si.clearance_change + np.array([0.0, LOOSER.m_as("m")])
    ]
    longest, looser = (GAUGE.quantity(float(charges[int(np.argmax(times))])) for times in lasts)
    return Top(
        longest=longest,
        longest_looser=looser,
        precharge=GAUGE.quantity(charges),
        share=share,
        best=GAUGE.quantity(float(charges[best])),
        best_share=float(share[best]),
        flat_from=GAUGE.quantity(float(charges[first])),
        flat_to=GAUGE.quantity(float(charges[last])),
    )


def _other_hoses(build: Build, hardest: EventResult) -> tuple[HoseRow, ...]:
    """The set-up's own hose beside each bore of the kit's list."""
    oil, warm, own = build.oil.si, build.driving.si.line_temperature, build.hose
    at = hardest.demand.m_as("m**3/s"), density_of(oil, warm), viscosity_of(oil, warm)
    others = [hose for hose in hoses().values() if abs(hose.si.bore - own.si.bore) > 1e-6]
    cases = vary(build, (hardest.event,), nothing_off())
    rows = []
    for hose in sorted([own, *others], key=lambda hose: hose.si.bore):
        line = replace(build.installation.line, hose=hose)
        built = replace(build.installation, line=line)
        protected, _ = follow(built, cases)
        _, dip = follow(built, cases, np.full(1, FIRST_MOMENTS))
        rows.append(
            HoseRow(
                hose=hose,
                own=hose is own,
                drop=PRESSURE_DIFFERENCE.quantity(float(supply_drop.si(line, *at))),
                first_dip=GAUGE.quantity(float(dip[0])),
                protected_time=TIME.quantity(float(protected[0])),
            )
        )
    return tuple(rows)


def _oil(build: Build, running: Qty, takes: Qty) -> tuple[OilBudget, tuple[PanLevel, ...]]:
    """Where every quart is, and how high it stands in the pan. takes: the engine's demand at idle and at redline."""
    engine, pan, shape = build.engine, build.engine.si.pan, pan_shape(build.engine)
    held = oil_stored(build.vessel.gas_volume, build.choice.precharge, running, build.track_ambient, resting=True)
    idle, fast = (oil_in_flight(flow, engine.drain_time) for flow in takes)
    budget = oil_budget(
        pan_at_full_mark=OIL.quantity(float(pan_volume.si(pan.full_height, *shape))),
        vessel=held,
        line=build.fitted.installation.line.volume,
        filter_volume=engine.filter.volume,
        cooler=engine.cooler.volume if engine.cooler else OIL.quantity(0.0),
        galleries=engine.gallery_volume,
        in_flight=fast,
        vessel_while_filling=held / 2.0,
        in_flight_at_idle=idle,
    )
    levels = []
    for state, where in budget.states.items():
        oil = OIL.from_display(float(where["pan"].m), "US")
        level = kinds.DISTANCE.quantity(float(pan_level.si(max(oil, 0.0), *shape)))
        words = "there is not so much oil in the engine" if oil < 0.0 else level_in_words(level, engine.pan)
        levels.append(PanLevel(state, where["pan"], level, words))
    return budget, tuple(levels)


def _cold_start(build: Build, running: Qty, cooled: Qty) -> tuple[Overnight | None, PreLube | None]:
    """The night and the morning; none of either if the vessel holds no oil or would stand above its rating."""
    driving, start, here, estimates = build.driving, build.morning, build.track_ambient, build.estimates
    warm, cold = (
        head(build, density_of(build.oil.si, t), 0.0) for t in (driving.si.line_temperature, start.si.temperature)
    )
    full = GAUGE.quantity(running.m_as("Pag") - warm)  # above the gallery the vessel has less than its tee
    if full <= build.choice.precharge or max(running, full, cooled) > build.vessel.rated_pressure:
        return None, None
    night = overnight(
        build.vessel, build.oil, build.choice.precharge, full, driving.gas_temperature, driving.line_temperature,
        start.temperature, ambient=here,
    )  # fmt: skip
    morning = pre_lube(
        build.fitted.installation, build.valve, night.precharge, night.pressure,
        start.temperature, start.empty_galleries, start.wait_for, start.opening_time,
        estimates.heat_transfer, estimates.check_valve_leak,
        TIME.quantity(max(HORIZON, 2.0 * start.si.opening_time)), here,
        seal_friction=estimates.seal_friction, clearance_change=driving.clearance_change,
        head=PRESSURE_DIFFERENCE.quantity(cold), air_in_gallery=estimates.air_in_gallery,
    )  # fmt: skip
    return night, morning


def as_handed_over(build: Build) -> SetUp:
    """The set-up in its shop, healthy, as `oilkit.acceptance_card` takes it."""
    same = {**vars(build.driving), **vars(build.estimates)}
    condition = Condition(
        precharge=_set_in_the_shop(build)[0],
        shop_temperature=build.shop.temperature,
        ambient=build.shop_ambient,
        check_leak=build.estimates.check_valve_leak,
        **{name: same[name] for name in Condition.fields() if name in same},
    )
    return SetUp(build.fitted.installation, build.valve, condition)


def unknowns_of(build: Build) -> list[Unknown]:
    """What is not known exactly about the set-up as handed over: its ``[uncertain]``, and the engine's own numbers.

    Not how well its builder meets a pre-charge: as handed over it is off by no more than the shop's gauge errs.
    """
    u, known = build.uncertain, guessed_or_known(build)
    sizes = {name: size for name, size in SPREAD.items() if name not in ("clearance_change", "pump_share")}
    sizes |= {name: getattr(u, name) for name in sizes if hasattr(u, name)}
    sizes["precharge"] = LARGEST * gauge_error(build.shop.gauge_full_scale, build.shop.gauge_class)
    sizes["heat_transfer"] = build.estimates.heat_transfer * u.si.heat_transfer

    def off(column: Any, set_up: SetUp, times: float) -> SetUp:
        built, now = set_up.installation, set_up.condition.si.clearance_change
        installation = replace(built, engine=one_of(built.engine, times * column))
        condition = set_up.condition.changed_si(clearance_change=now + times * float(column[CHANGE]))
        return replace(set_up, condition=condition, installation=installation)

    axes = (known.spread[:, None] * np.linalg.cholesky(known.correlation)).T
    return [*usual_unknowns(sizes), *(partial(off, column) for column in axes if np.any(column))]


def _acceptance(build: Build) -> tuple[tuple[AcceptanceValue, ...], str]:
    """The card, or none and why."""
    try:
        with np.errstate(all="ignore"):
            planned = as_handed_over(build)
            card = tuple(acceptance_card(planned, unknowns_of(build), build.limits.lowest_pressure))
    except (InputError, ArithmeticError) as problem:
        reason = "they come to no end"
        if isinstance(problem, InputError):
            reason = f"within their spread {problem.argument} would be {problem.got}; wanted {problem.wanted}"
        return (), f"no acceptance values: {reason}."
    return card, ""
