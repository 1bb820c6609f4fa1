"""Where pump, relief valve and engine agree, for thousands of variants of an engine: `oilkit.physics.engine`, compiled.

Fitting an engine to its gauges takes some hundred thousand such balances. Each is a row of ``BALANCE``.
"""

from __future__ import annotations

import math
from typing import Any

from oilkit.physics.compiled import njit
from oilkit.physics.dynamics.rates import bearing_takes

BALANCE = (
    "moved",  # flow that the pump displaces
    "slips",  # flow per pascal at its outlet that leaks back inside it
    "relief_opening",
    "relief_slope",  # flow per pascal above it
    "highest",  # gallery pressure at which the relief valve lets all go
    "filter",  # pressure per flow
    "filter_bypass",
    "cooler",
    "cooler_bypass",
    "mains_pressed",  # flow per pascal
    "mains_dragged",  # flow
    "mains_feed",  # pressure per flow squared of the feed hole
    "rods_pressed",
    "rods_dragged",
    "rods_feed",
    "rods_inward",  # pressure
    "rods_outward",
    "cams_pressed",
    "cams_dragged",
    "cams_feed",
    "jets",  # flow per root of pascal
    "jets_open",
    "lifters",
    "lifters_open",
)
"""The numbers of one balance, SI, in the order of the row that holds them."""
(
    MOVED, SLIPS, RELIEF_OPENING, RELIEF_SLOPE, HIGHEST, FILTER, FILTER_BYPASS, COOLER, COOLER_BYPASS,
    MAINS, MAINS_DRAG, MAINS_FEED, RODS, RODS_DRAG, RODS_FEED, RODS_IN, RODS_OUT, CAMS, CAMS_DRAG, CAMS_FEED,
    JETS, JETS_OPEN, LIFTERS, LIFTERS_OPEN,
) = range(len(BALANCE))  # fmt: skip
MOST, ENOUGH = 200, 1e-15


@njit(cache=True, error_model="numpy", inline="always")
def surplus(above: float, base: float, b: Any) -> Any:
    """What the pump gives more than the engine takes, at a gallery pressure that is counted from a base.

    The base is the rods' inward loss or 0, so that the last digit of the pressure does not show where they just begin
    to drink.
    """
    p = base + above
    still, turned = max(p, 0.0), max((base - b[RODS_IN]) + above, 0.0)
    taken = b[JETS] * math.sqrt(max(p - b[JETS_OPEN], 0.0)) + b[LIFTERS] * math.sqrt(max(p - b[LIFTERS_OPEN], 0.0))
    taken += bearing_takes(p, b[MAINS], b[MAINS_DRAG], b[MAINS_FEED], still, 0.0)
    taken += bearing_takes(p, b[RODS], b[RODS_DRAG], b[RODS_FEED], turned, b[RODS_OUT])
    taken += bearing_takes(p, b[CAMS], b[CAMS_DRAG], b[CAMS_FEED], still, 0.0)
    outlet = p + min(b[FILTER] * taken, b[FILTER_BYPASS])
    outlet += min(b[COOLER] * taken, b[COOLER_BYPASS])
    return b[MOVED] - b[SLIPS] * outlet - taken - b[RELIEF_SLOPE] * max(outlet - b[RELIEF_OPENING], 0.0)


@njit(cache=True, error_model="numpy")
def settled(b: Any) -> Any:
    """The gallery pressure of one balance, by Chandrupatla's method as in `oilkit.physics.roots`; NaN if none."""
    if b[MOVED] <= 0.0:
        return 0.0
    base = b[RODS_IN] if b[RODS_IN] < b[HIGHEST] and surplus(0.0, b[RODS_IN], b) > 0.0 else 0.0
    x1, x2 = b[HIGHEST] - base, 0.0
    f1, f2 = surplus(x1, base, b), surplus(x2, base, b)
    if not (f1 <= 0.0 <= f2):
        return math.nan
    share = 0.5
    for _ in range(MOST):
        x = x1 + share * (x2 - x1)
        f = surplus(x, base, b)
        if (f > 0.0) == (f1 > 0.0):
            x3, f3 = x1, f1
        else:
            x3, f3, x2, f2 = x2, f2, x1, f1
        x1, f1 = x, f
        best = x1 if abs(f1) < abs(f2) else x2
        closest = 2.0 * ENOUGH * abs(best) / abs(x2 - x1)
        if closest > 0.5 or f1 == 0.0 or f2 == 0.0:
            return base + best
        across, up = (x1 - x2) / (x3 - x2), (f1 - f2) / (f3 - f2)
        share = 0.5
        if up * up < across and (1.0 - up) * (1.0 - up) < 1.0 - across:
            share = f1 / (f2 - f1) * f3 / (f2 - f3) + (x3 - x1) / (x2 - x1) * f1 / (f3 - f1) * f2 / (f3 - f2)
        share = min(max(share, closest), 1.0 - closest)
    return math.nan


@njit(cache=True, error_model="numpy", nogil=True)
def settle(rows: Any, found: Any) -> None:
    """Many balances, shape (n, len(BALANCE)): their gallery pressures into ``found``, shape (n,)."""
    for k in range(rows.shape[0]):
        found[k] = settled(rows[k])
