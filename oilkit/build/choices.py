"""What to buy: vessel sizes and hose bores side by side, for the events of one set-up. (Lesson 10)"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from oilkit.build.calibration import Calibration, calibrate
from oilkit.build.events import hardest_events
from oilkit.build.rating import at_the_redline, parked, shut_at_the_redline, warming_up
from oilkit.build.records import Event
from oilkit.build.results import HORIZON, lasting
from oilkit.build.setup_file import Build
from oilkit.build.spread import (
    LEAST_PRESSURE,
    QUICK,
    fillable,
    follow,
    idle_spread,
    latin_hypercube,
    nothing_off,
    together,
    vary,
)
from oilkit.build.wording import said
from oilkit.errors import InputError
from oilkit.physics.catalog import hoses, vessels
from oilkit.physics.discharging import tee_pressure
from oilkit.physics.line import Hose
from oilkit.physics.vessel import Vessel
from oilkit.quantities.checked import Draws, Seed, public
from oilkit.quantities.kinds import BORE, GAUGE, TIME, VOLUME
from oilkit.quantities.printed import text
from oilkit.quantities.units import Qty

CHARGES = np.linspace(0.1, 0.9, 9)
"""Pre-charges tried, as shares of what fills the vessel: hot idle at its low, or the event's start if that is less."""


@dataclass(frozen=True)
class WhatToBuy:
    """Sizes and bores for the events of a set-up: see `what_to_buy`. Arrays: a row a vessel, a column a hose."""

    event: Event
    """The hardest for the set-up as it is."""
    vessels: tuple[Vessel, ...]
    """By gas volume, the set-up's own among them. One rated below the pressure that it would see is left out."""
    hoses: tuple[Hose, ...]
    """By bore, the set-up's own among them."""
    precharge: Qty
    """Of those tried the one that protects most draws with the set-up's own hose, hot: shape (vessels,). All stay below
    hot idle, so that the vessel fills there."""
    protected_time: Qty
    """In the hardest event, as expected: shape (vessels, hoses)."""
    worst_draw: Qty
    """In it, the shortest of all draws."""
    share: Any
    """Of all draws, how many are protected to the end in every event."""
    expected: Any
    """Whether every event is protected as expected."""
    own: int
    """Column of the set-up's own hose."""
    draws: int
    calibration: Calibration = field(repr=False)
    """What the engine's own gauges have said."""
    best_times: Qty = field(repr=False)
    """Of each event of the set-up, the longest that any of them protects it as expected."""
    above_rating: str = ""
    """What is to be said of the smallest where it stands above its rating once it is shut and hot."""

    @property
    def words(self) -> str:
        """The least that protects every event in all draws, or as expected, or that none does."""
        read = self.calibration
        all_of_them = "every event" if len(read.build.events) > 1 else f"“{self.event.name}”"
        if not read.together:
            return " ".join([*said("apart", read.build, read=read), "Buy nothing on these."])
        after = f" {self.above_rating}" if self.above_rating else ""
        after += "" if read.asked else " Not calibrated: read hot idle first."
        if self.smallest:
            row, column = self.smallest
            how = f"in all {self.draws} draws" if self.share[row, column] >= 1.0 else "as expected, not in every draw"
            gas, bore = self.vessels[row].si.gas_volume, self.hoses[column].si.bore
            charge = GAUGE.both(float(self.precharge.m_as("Pag")[row]))
            parts = f"{VOLUME.both(gas)} of gas, a bore of {BORE.both(bore)}, {charge} hot"
            return f"The smallest that protects {all_of_them} {how}: {parts}.{after}"
        none = f"None of these protects {all_of_them}. {self._short}"
        return f"{none} Look at pump, clearances and oil before you buy.{after}"

    @property
    def _short(self) -> str:
        """By how much the best of them falls short, in the event that comes off worst."""
        events, best = self.calibration.build.events, self.best_times.m_as("s")
        worst = min(range(len(events)), key=lambda k: best[k] / events[k].si.lasts)
        most, lasts = TIME.quantity(float(best[worst])), events[worst].lasts
        if most >= lasts:
            return "Each event alone is protected by one or another."
        return f"In “{events[worst].name}”, at best {lasting(most, lasts)} of {lasting(lasts, most)}."

    @property
    def smallest(self) -> tuple[int, int] | None:
        """Row and column of the least that protects every event in all draws, or as expected; None if none does."""
        for enough in (self.share >= 1.0, self.expected):
            if np.any(enough):
                row, column = (int(k) for k in np.argwhere(enough)[0])
                return row, column
        return None


@public
def what_to_buy(build: Build, draws: Draws = 24, seed: Seed = 7) -> WhatToBuy:
    """Every vessel and hose of the kit's lists, and the set-up's own, in the set-up's events.

    Each vessel gets the pre-charge that suits it best; everything else stays as in the set-up. draws: how many variants
    of the event are drawn for the spread, 1 to 10 000, with a seed, as in `build_sheet`. Times end at 60 s.
    Raises `InputError`, also if every vessel is rated below what it would see at the redline.
    Source: `discharge`; the spreads are the set-up's own.

    >>> from oilkit.build.setup_file import demo_set_ups
    >>> bought = what_to_buy(demo_set_ups()["small four"], draws=6)
    >>> print(bought.words.partition(" of gas")[0])
    The smallest that protects every event in all 6 draws: 2.00 qt (1.89 L)
    """
    found = calibrate(build)
    build = found.in_use
    z = np.concatenate([nothing_off(), together(build, latin_hypercube(draws, seed))], axis=1)
    event = hardest_events((build,), draws, seed)[0].event
    charges = CHARGES * _fills(build, seed)
    tried = vary(build, build.events, np.tile(z, charges.size), np.repeat(charges, z.shape[1]))
    sizes, own_hose = _strong_enough(build), build.hose
    bores = [own_hose, *(h for h in hoses().values() if abs(h.si.bore - own_hose.si.bore) > 1e-6)]
    bores = sorted(bores, key=lambda hose: hose.si.bore)
    chosen, rows, lasts = [], [], vary(build, build.events, z).lasts.reshape(len(build.events), -1)
    for vessel in sizes:
        built = replace(build.installation, vessel=vessel)
        protected = follow(built, tried, accuracy=QUICK)[0].reshape(len(build.events), charges.size, -1)
        reached = np.min(protected / lasts[:, None], axis=0)[:, 1:]  # in the event that each draw holds out least
        best = int(np.lexsort((np.min(reached, axis=1), np.mean(reached >= 1.0, axis=1)))[-1])
        chosen.append(charges[best])
        cases = vary(build, build.events, z, charges[best])
        with_each = (replace(built, line=replace(built.line, hose=hose)) for hose in bores)
        rows.append([follow(one, cases, accuracy=QUICK)[0].reshape(lasts.shape) for one in with_each])
    watched = np.array(rows)
    holds = np.all(watched >= lasts, axis=2)
    followed = np.minimum(watched[:, :, build.events.index(event)], HORIZON)
    bought = WhatToBuy(
        event=event,
        vessels=tuple(sizes),
        hoses=tuple(bores),
        precharge=GAUGE.quantity(np.array(chosen)),
        protected_time=TIME.quantity(followed[..., 0]),
        worst_draw=TIME.quantity(np.min(followed[..., 1:], axis=-1)),
        share=np.mean(holds[..., 1:], axis=-1),
        expected=holds[..., 0],
        best_times=TIME.quantity(np.minimum(np.max(watched[..., 0], axis=(0, 1)), HORIZON)),
        own=bores.index(own_hose),
        draws=draws,
        calibration=found,
    )
    return replace(bought, above_rating=_above_rating(build, bought))


def _fills(build: Build, seed: int) -> float:
    """The pre-charge, SI, that just fills: hot idle at its low, or the start of the weakest event if that is less."""
    start = float(np.min(vary(build, build.events, nothing_off()).conditions["pressure"]))
    return min(max(start, 2.0 * LEAST_PRESSURE), fillable(build, idle_spread(build, seed)[0]))


def _above_rating(build: Build, found: WhatToBuy) -> str:
    """What is to be said where the smallest that protects stands above its rating once it is shut and hot."""
    if found.smallest is None:
        return ""
    row, column = found.smallest
    charge: Any = found.precharge
    vessel, choice = found.vessels[row], build.choice.changed(precharge=charge[row])
    bought = replace(build, vessel=vessel, hose=found.hoses[column], choice=choice)
    settled = tee_pressure(bought.installation, vary(bought, bought.events, nothing_off()).conditions)
    _, soaked = parked(bought, GAUGE.quantity(float(np.max(settled))))
    when, shut = shut_at_the_redline(bought, at_the_redline(bought, warming_up(bought)))
    for how, pressure in (("full", soaked), (when, shut)):
        if pressure > vessel.rated_pressure:
            return (
                f"Shut {how} and then as hot as the sump's oil it has {text(pressure)}, above its rating of "
                f"{text(vessel.rated_pressure)}: take one with a higher rating, or see the build sheet's cautions."
            )
    return ""


def _strong_enough(build: Build) -> list[Vessel]:
    """By gas volume, the set-up's own vessel and the kit's: those rated for whatever the engine gives."""
    own = build.vessel
    sizes = [own, *(v for v in vessels().values() if abs(v.si.gas_volume / own.si.gas_volume - 1) > 0.01)]
    settled = vary(build, build.events, nothing_off()).conditions
    at_redline = (pressure.m_as("Pag") for _, _, pressure in at_the_redline(build, warming_up(build)))
    stands = max(*tee_pressure(build.installation, settled), *at_redline)
    strong = sorted((v for v in sizes if v.si.rated_pressure > stands), key=lambda v: v.si.gas_volume)
    if not strong:
        best = GAUGE.both(max(v.si.rated_pressure for v in sizes))
        raise InputError("the set-up", f"vessels rated up to {best}", f"one rated above {GAUGE.both(stands)}")
    return strong
