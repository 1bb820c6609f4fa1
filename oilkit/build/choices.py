"""What to buy: vessel sizes and hose bores side by side, for one set-up and its hardest event. (Lesson 10)"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from oilkit.build.calibration import Calibration, calibrate
from oilkit.build.rating import at_the_redline, warming_up
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
from oilkit.quantities.units import Qty

CHARGES = np.linspace(0.1, 0.9, 9)
"""Pre-charges tried, as shares of what fills the vessel: hot idle at its low, or the event's start if that is less."""


@dataclass(frozen=True)
class WhatToBuy:
    """Sizes and bores for the hardest event of a set-up: see `what_to_buy`. Arrays: a row a vessel, a column a hose."""

    event: Event
    vessels: tuple[Vessel, ...]
    """By gas volume, the set-up's own among them. One rated below the pressure that it would see is left out."""
    hoses: tuple[Hose, ...]
    """By bore, the set-up's own among them."""
    precharge: Qty
    """Of those tried the one that protects most draws with the set-up's own hose, hot: shape (vessels,). All stay below
    hot idle, so that the vessel fills there."""
    protected_time: Qty
    """As expected: shape (vessels, hoses)."""
    worst_draw: Qty
    """The shortest of all draws."""
    share: Any
    """Of all draws, how many are protected to the event's end."""
    own: int
    """Column of the set-up's own hose."""
    draws: int
    calibration: Calibration = field(repr=False)
    """What the engine's own gauges have said."""

    @property
    def words(self) -> str:
        """The least that protects the event in all draws, or as expected, or that none does."""
        name, lasts, read = f"“{self.event.name}”", self.event.lasts, self.calibration
        before = "" if read.together else " ".join(said("apart", read.build, read=read)) + " "
        after = "" if read.asked else " Not calibrated: read hot idle first."
        in_all, expected = self.share >= 1.0, self.protected_time >= lasts
        for enough, how in ((in_all, f"in all {self.draws} draws"), (expected, "as expected, not in every draw")):
            if np.any(enough):
                row, column = (int(k) for k in np.argwhere(enough)[0])
                gas, bore = self.vessels[row].si.gas_volume, self.hoses[column].si.bore
                charge = GAUGE.both(float(self.precharge.m_as("Pag")[row]))
                parts = f"{VOLUME.both(gas)} of gas, a bore of {BORE.both(bore)}, {charge} hot"
                return f"{before}The smallest that protects {name} {how}: {parts}.{after}"
        most = TIME.quantity(float(np.max(self.protected_time.m_as("s"))))
        wanted = f"at best {lasting(most, lasts)} of {lasting(lasts, most)}"
        none = f"None of these protects {name}: {wanted}. Look at pump, clearances and oil before you buy."
        return f"{before}{none}{after}"


@public
def what_to_buy(build: Build, draws: Draws = 24, seed: Seed = 7) -> WhatToBuy:
    """Every vessel and hose of the kit's lists, and the set-up's own, in the event that is hardest for the set-up.

    Each vessel gets the pre-charge that suits it best; everything else stays as in the set-up. draws: how many variants
    of the event are drawn for the spread, 1 to 10 000, with a seed, as in `build_sheet`. Times end at 60 s.
    Raises `InputError`, also if every vessel is rated below what it would see at the redline.
    Source: `discharge`; the spreads are the set-up's own.

    >>> from oilkit.build.setup_file import demo_set_ups
    >>> bought = what_to_buy(demo_set_ups()["small four"], draws=6)
    >>> print(bought.words.partition(" of gas")[0])
    The smallest that protects “long fast corner” in all 6 draws: 2.00 qt (1.89 L)
    """
    found = calibrate(build)
    build = found.in_use
    z = np.concatenate([nothing_off(), together(build, latin_hypercube(draws, seed))], axis=1)
    event = _hardest(build)
    start = float(vary(build, (event,), nothing_off()).conditions["pressure"][0])
    charges = CHARGES * min(max(start, 2.0 * LEAST_PRESSURE), fillable(build, idle_spread(build, seed)[0]))
    each = z.shape[1]
    tried = vary(build, (event,), np.tile(z, charges.size), np.repeat(charges, each))
    sizes, own_hose = _strong_enough(build), build.hose
    bores = [own_hose, *(h for h in hoses().values() if abs(h.si.bore - own_hose.si.bore) > 1e-6)]
    bores = sorted(bores, key=lambda hose: hose.si.bore)
    chosen, times, lasts = [], [], vary(build, (event,), z).lasts
    for vessel in sizes:
        built = replace(build.installation, vessel=vessel)
        protected = follow(built, tried, accuracy=QUICK)[0].reshape(charges.size, each)
        shares = np.mean(protected[:, 1:] >= lasts[1:], axis=1)
        best = int(np.lexsort((np.min(protected, axis=1), shares))[-1])
        chosen.append(charges[best])
        cases = vary(build, (event,), z, charges[best])
        times.append(
            [follow(replace(built, line=replace(built.line, hose=h)), cases, accuracy=QUICK)[0] for h in bores]
        )
    watched = np.array(times)
    followed = np.minimum(watched, HORIZON)
    return WhatToBuy(
        event=event,
        vessels=tuple(sizes),
        hoses=tuple(bores),
        precharge=GAUGE.quantity(np.array(chosen)),
        protected_time=TIME.quantity(followed[..., 0]),
        worst_draw=TIME.quantity(np.min(followed[..., 1:], axis=-1)),
        share=np.mean(watched[..., 1:] >= lasts[1:], axis=-1),
        own=bores.index(own_hose),
        draws=draws,
        calibration=found,
    )


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


def _hardest(build: Build) -> Event:
    """The event of which the set-up, as expected, protects the smallest part."""
    cases = vary(build, build.events, nothing_off())
    protected, _ = follow(build.installation, cases, accuracy=QUICK)
    return build.events[int(np.argmin(protected / cases.lasts))]
