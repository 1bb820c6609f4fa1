"""Predictions of lesson 06: what a vessel does in time, how it ends, and the first dip."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np

from oilkit.exercises.exercise import Exercise
from oilkit.exercises.making import prediction
from oilkit.laps.lap import usual_installation
from oilkit.physics.catalog import bench_vessel, hoses
from oilkit.physics.dip import first_dip
from oilkit.physics.discharging import EMPTY, LASTS, LIMIT_REACHED, Installation, discharge
from oilkit.physics.precharge import time_to_empty
from oilkit.physics.pressure import absolute_pressure
from oilkit.physics.vessel import oil_stored
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q, Qty

FULL, TAKES = Q(60, "psig"), Q(5, "gpm")


def _built(**line: Any) -> Installation:
    """The lessons' own installation, with another line."""
    usual = usual_installation()
    return replace(usual, line=replace(usual.line, **line))


def _nearest(values: list[float], wanted: float) -> int:
    return int(np.argmin([abs(math.log(value / wanted)) for value in values]))


def dumps_faster() -> Exercise:
    """The saying: more pre-charge dumps faster."""
    later: Qty = Q(0.3, "s")
    samples: Qty = Q([0.0, 0.3], "s")
    low, high = (
        discharge(usual_installation(), Q(2, "s"), samples=samples, precharge=Q(psi, "psig")).history for psi in (7, 20)
    )
    assert low is not None
    assert high is not None
    ratio = float(np.asarray(high.line_flow.m)[1] / np.asarray(low.line_flow.m)[1])
    options = ["the one with less pre-charge", "both the same, within a twentieth", "the one with more pre-charge"]
    return prediction(
        f"Two vessels have settled at {text(FULL)}, one with a pre-charge of {text(Q(7, 'psig'))}, one with "
        f"{text(Q(20, 'psig'))}. The pump lets go. Which one gives the stronger flow in the first moment, after "
        f"{text(later)}?",
        "Both stand at the same pressure, and the flow is what the engine takes at that pressure. What differs is how "
        "fast the pressure falls, and how much oil there is.",
        options=options,
        right=0 if ratio < 0.95 else 2 if ratio > 1.05 else 1,
    )


def time_until_empty() -> Exercise:
    """The closed form, against the usual shortcuts."""
    room, charge = bench_vessel().gas_volume, Q(12, "psig")
    oil = oil_stored(room, charge, FULL)
    by_gauge = room * (1.0 - (charge / FULL).m)
    return prediction(
        f"The bench vessel ({text(room)}, pre-charge {text(charge)}) stands at {text(FULL)}. There the engine takes "
        f"{text(TAKES)}, in proportion to pressure. The gas stays warm. After how long is the vessel empty?",
        "Divide the oil by the mean flow. The flow falls with the pressure, here to a fifth of its first value.",
        answer=time_to_empty(room, charge, FULL, TAKES),
        mistakes=[
            ((oil / TAKES).to("s"), "That is the oil by the first flow. The flow falls as the pressure falls."),
            ((room / TAKES).to("s"), "That empties the whole vessel, but the gas has its share of it."),
            ((by_gauge / TAKES).to("s"), "You put gauge pressures into Boyle's law, and kept the first flow."),
            (
                (oil / (TAKES * (charge / FULL).m)).to("s"),
                "That is the oil by the last flow. Before, the flow was stronger.",
            ),
        ],
        within=0.08,
    )


def mean_flow() -> Exercise:
    """What dumps faster can mean."""
    room = bench_vessel().gas_volume

    def mean(charge: Qty) -> Qty:
        flow: Qty = (oil_stored(room, charge, FULL) / time_to_empty(room, charge, FULL, TAKES)).to("gpm")
        return flow

    charge = Q(30, "psig")
    at_end = (TAKES * (charge / FULL).m).to("gpm")
    return prediction(
        f"The same vessel with a pre-charge of {text(charge)}, again from {text(FULL)} and {text(TAKES)}. What is the "
        "mean flow until it is empty?",
        f"It lies between the first flow and the last. With {text(Q(10, 'psig'))} it is {text(mean(Q(10, 'psig')))}: "
        "on average, more pre-charge does flow faster, because its pressure stays up.",
        answer=mean(charge),
        mistakes=[
            (TAKES, "That is the first flow."),
            (at_end, "That is the last flow, when the pressure has come down to the pre-charge."),
            (
                TAKES * float((absolute_pressure(charge) / absolute_pressure(FULL)).m),
                "Flow goes with gauge pressure here: what drives it is the difference to the air in the pan.",
            ),
        ],
        within=0.06,
    )


def looser_by_one() -> Exercise:
    """One thousandth of an inch."""
    change = Q(1, "thou")
    went = discharge(usual_installation(), clearance_change=Q([0.0, float(change.m)], "thou"))
    before, after = np.asarray(went.protected_time.m)
    ratio = float(after / before)
    shares = {"nearly as long": 0.95, "about three quarters as long": 0.75, "about half as long": 0.5, "a fifth": 0.2}
    return prediction(
        f"Mains and rods of the street V8 wear by {text(change)} of diametral clearance each. The same event: how long "
        "is the engine protected now, compared with before?",
        f"Flow under pressure grows with the cube of the clearance. Cams and lifters are as they were, and the feed "
        f"holes hold some of it back: here {text(Q(before, 's'))} become {text(Q(after, 's'))}.",
        options=list(shares),
        right=_nearest(list(shares.values()), ratio),
    )


def which_ending() -> Exercise:
    """How a usual pre-charge ends."""
    charge, limit = Q(10, "psig"), Q(20, "psig")
    went = discharge(usual_installation(), precharge=charge, limit=limit)
    options = {
        EMPTY: "the vessel runs empty while the pressure is still good",
        LIMIT_REACHED: "the pressure falls below the limit while oil is still inside",
        LASTS: "neither within a minute",
    }
    return prediction(
        f"Pre-charge {text(charge)}, and the engine needs {text(limit)}. How does the protection of the street V8 end?",
        "The vessel runs empty when its gas is down to the pre-charge, and that is below what the engine needs.",
        options=list(options.values()),
        right=list(options).index(went.ending),
    )


def warm_or_cold_gas() -> Exercise:
    """A middle time constant lasts longest."""
    charge: Qty = Q(25, "psig")
    taus: Qty = Q([0.0, 5.0, math.inf], "s")
    went = discharge(usual_installation(), precharge=charge, thermal_time_constant=taus)
    return prediction(
        f"Pre-charge {text(charge)}, above the {text(Q(20, 'psig'))} that the engine needs. Expanding gas cools, and "
        "the wall warms it again. With which gas is the engine protected longest?",
        "Warm gas keeps the pressure up: more flow, and the oil is spent early. Cold gas falls below the limit, oil "
        "left inside. Between, the pressure is low, but not too low, and all oil comes out.",
        options=[
            "gas that stays as warm as the wall",
            "gas that warms with a time constant of 5 s",
            "gas that gets no heat at all",
        ],
        right=int(np.argmax(went.protected_time.m)),
    )


def shallower_dip() -> Exercise:
    """What helps against the first dip."""
    step, slow = Q(5, "ms"), Q(100, "ms")
    depths = [
        first_dip(usual_installation(), pump_decay=slow).depth.m,
        first_dip(_built(hose=hoses()["trade_16"]), pump_decay=step).depth.m,
        first_dip(_built(length=Q(3, "ft")), pump_decay=step).depth.m,
        first_dip(usual_installation(), pump_decay=step, air_in_gallery=0.08).depth.m,
    ]
    return prediction(
        f"The pump's flow is gone within {text(step.to('s'))}, and the gallery dips before the line's oil gets going. "
        "Which single change makes the dip shallowest?",
        "The dip is there because the oil in the line cannot start as fast as the pump stops. If the pump fades slowly "
        "it has its time.",
        options=[
            f"the pump fades within {text(slow.to('s'))} instead",
            "a hose of 1 in (25 mm) bore instead of 3/4 in (19 mm)",
            "half the length of line",
            "8 % of air in the gallery's oil instead of 5 %",
        ],
        right=int(np.argmin(depths)),
    )
