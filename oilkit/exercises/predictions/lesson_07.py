"""Predictions of lesson 07: where the pick-up starves, what a log can show, and a pre-charge that stands its ground."""

from __future__ import annotations

import numpy as np

from oilkit.exercises.exercise import Exercise
from oilkit.exercises.making import prediction
from oilkit.laps.choice import robust_choice
from oilkit.laps.cornering import compare_laps
from oilkit.laps.lap import simulate_lap, usual_installation
from oilkit.laps.logfile import kit_lap
from oilkit.laps.remarks import SAMPLES_OF_A_DIP
from oilkit.physics.pan import pan_level
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q


def which_way() -> Exercise:
    """The oil runs away from the pick-up."""
    options = ["braking", "gaining speed", "both alike", "neither: only corners count"]
    return prediction(
        "The pick-up stands behind the middle of the pan. What uncovers it?",
        "Braking throws the oil forward, away from a pick-up at the back. Gaining speed brings it back.",
        options=options,
        right=0,
    )


def braking_tilt() -> Exercise:
    """a / g times the distance."""
    behind, lost = Q(4, "in"), Q(0.8, "g_0")
    return prediction(
        f"A pick-up stands {text(behind)} behind the middle of the oil's surface. The car brakes with "
        f"{text(lost)}. How much lower than the mean level does the oil stand at the pick-up?",
        "The surface stands square to gravity and braking together: it falls by a / g for each length.",
        answer=behind * 0.8,
        mistakes=[
            (behind, "That would be right at 1 g."),
            (behind / 0.8, "You divided: less braking would then tilt the oil more."),
            (behind * 0.8 / 2, "You took half of it. The distance is already counted from the middle."),
        ],
    )


def one_quart_low() -> Exercise:
    """How far the level falls in a deep sump."""
    pan = usual_installation().engine.pan
    sump = (pan.sump_area, pan.sump_depth, pan.upper_area)
    fall = pan_level(Q(3, "qt"), *sump) - pan_level(Q(2, "qt"), *sump)
    return prediction(
        f"At speed a pan holds 3 qt (2.84 L), all of it in the deep sump of {text(pan.sump_area)}. It "
        "is filled 1 qt (0.95 L) less. How much lower does the oil stand?",
        "A volume over an area is a height. That much tilt less is enough to uncover the pick-up.",
        answer=fall,
        mistakes=[
            ((Q(1, "qt") / pan.upper_area).to("in"), "You took the area of the wide part above the sump."),
            (pan_level(Q(2, "qt"), *sump), "That is the level that is left. How far did it fall?"),
        ],
    )


def slow_log() -> Exercise:
    """How often one must look."""
    dip = Q(0.25, "s")
    return prediction(
        f"You look for dips of {text(dip)}, and want {SAMPLES_OF_A_DIP} samples in each, so that one "
        "of them is near the bottom. How far apart may the samples be?",
        "What happens between two samples leaves no trace. Many loggers take one in 0.1 s.",
        answer=dip / SAMPLES_OF_A_DIP,
        mistakes=[
            (dip, "Then one sample falls into a dip, somewhere, and most dips look shallow."),
            (dip / 2, "Two samples tell that there was a dip, but not how deep."),
            (dip * SAMPLES_OF_A_DIP, "You multiplied: most dips would fall between two samples."),
        ],
        within=0.1,  # a hundredth of a second is shown, and the answer is five of them
    )


def worst_corner() -> Exercise:
    """Which corner starves longest."""
    built, lap = usual_installation(), kit_lap()
    shut, opened = (simulate_lap(built, lap, valve, Q(-1.2, "qt")) for valve in (False, True))
    found = compare_laps(lap, shut, opened)
    wanted = [found[k] for k in (3, 6, 7, 8)]
    below = [float(c.below_shut.m) for c in wanted]
    return prediction(
        "Here are four places of the invented lap. The pick-up stands behind the middle and a little "
        "to the left. In which one is the oil pressure gone for longest?",
        "Long braking from high speed, ending in a left-hander that pushes the oil to the right: "
        "both uncover this pick-up.",
        options=[f"{c.corner.name} ({float((c.corner.end - c.corner.start).m):.1f} s)" for c in wanted],
        right=int(np.argmax(below)),
    )


def who_pays() -> Exercise:
    """Where a refill comes from."""
    return prediction(
        "After a corner the vessel fills again. Where do its oil and its flow come from?",
        "From the pan, whose level falls, and from the pump, whose flow the engine would also have "
        "had. Nothing is free.",
        options=[
            "from the gas, which draws the oil in",
            "from the pan, through the pump, beside what the engine takes",
            "from the oil in the bearings",
            "from nowhere: the vessel was never emptied",
        ],
        right=1,
    )


def needle_or_not() -> Exercise:
    """Below the needle."""
    charges = Q(np.linspace(2.0, 50.0, 13), "psig")
    found = robust_choice(usual_installation(), charges, Q(4, "s"))
    options = ["higher than that", "just that", "lower than that"]
    return prediction(
        f"For one event of exactly 4 s, {text(found.needle)} keeps the pressure highest. But corners, "
        "clearances and oil temperatures vary. Which pre-charge protects in most of the cases that may come?",
        f"Close above the needle the vessel runs empty. In this sample {text(found.best)} protects "
        f"{100 * found.best_share:.0f} %, the needle {100 * found.needle_share:.0f} %.",
        options=options,
        right=2 if found.best < found.needle else 1 if found.best == found.needle else 0,
    )
