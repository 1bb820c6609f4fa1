"""Make the invented bench readings of lesson 11 afresh, from the truth and the seed that stand in the file's own head.

    python tests/commands/make_bench_readings.py

The arithmetic is plain and its own: nothing of the kit's model is in it.
"""

from __future__ import annotations

import argparse
import math
import random
import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
TARGET = ROOT / "data" / "bench_readings.csv"
AIR = 14.695949
"""psi."""
QUART = 57.75
"""Cubic inches."""
PRECHARGES = (3.0, 10.0, 17.0, 24.0)
RISING = (0.0, 30.0, 50.0, 80.0)
FALLING = (60.0, 40.0)
PROMPT = (30.0, 50.0, 70.0)

HEAD = """\
# Invented bench readings for lesson 11: no such bench was read. The vessel is the kit's invented one of 3 qt.
# Made from this truth (psi, in, qt), then read with errors that are normal, 19 in 20 within 0.3 psi (pre-charge, once
# for each setting), 0.3 psi (pressure) and 0.04 in (rule), and written down to 0.1 psi and 0.01 in:
# gas_volume = 2.85, bore = 4.5, dead_length = 0.62, charge_zero = 0.8, pressure_zero = -0.6, friction = 1.2,
# index = 1.22
# seed = 11
# The index holds for readings taken 2 s after the pressure was set; those after 120 s have settled. Sea level.
precharge (psi), pressure (psi), rule (in), time (s), direction
"""


def rule(truth: dict[str, float], charge: float, pressure: float, drag: int, warm: bool) -> float:
    """The rule reading, in, at a true pre-charge and a true oil pressure, psi."""
    gas = pressure - drag * truth["friction"] + AIR
    power = 1.0 / truth["index"] if warm else 1.0
    left = min((charge + AIR) / gas, 1.0) ** power
    oil = truth["gas_volume"] * QUART * (1.0 - left)
    return truth["dead_length"] + oil / (math.pi * truth["bore"] ** 2 / 4.0)


def visits() -> list[tuple[float, float, int, bool]]:
    """Pre-charge and pressure as they are meant to be set, which way the piston went, and whether the gas is warm."""
    found = []
    for charge in PRECHARGES:
        found += [(charge, pressure, 1, False) for pressure in RISING]
        found += [(charge, pressure, -1, False) for pressure in FALLING]
        found += [(charge, pressure, 1, True) for pressure in PROMPT]
    return found


def readings(
    truth: dict[str, float], dice: random.Random, rounded: bool = True
) -> list[tuple[float, float, float, float, str]]:
    """What a class would note: pre-charge and pressure (psi) as their gauges show them, rule (in), time (s), way."""
    off = {"gauge": 0.3 / 1.96, "rule": 0.04 / 1.96}
    noted, charge_read, last = [], 0.0, None
    for charge, pressure, drag, warm in visits():
        if charge != last:
            charge_read, last = charge + truth["charge_zero"] + dice.gauss(0.0, off["gauge"]), charge
        shown = pressure + truth["pressure_zero"] + dice.gauss(0.0, off["gauge"])
        length = rule(truth, charge, pressure, drag, warm) + dice.gauss(0.0, off["rule"])
        numbers = (
            (round(charge_read, 1), round(shown, 1), round(length, 2)) if rounded else (charge_read, shown, length)
        )
        noted.append((*numbers, 2.0 if warm else 120.0, "rising" if drag > 0 else "falling"))
    return noted


def text() -> str:
    """The whole file."""
    truth = {key: float(number) for key, number in re.findall(r"(\w+) = (-?[\d.]+)", HEAD)}
    lines = readings(truth, random.Random(int(truth["seed"])))
    rows = (f"{c:.1f}, {p:.1f}, {r:.2f}, {t:.0f}, {way}\n" for c, p, r, t, way in lines)
    return HEAD + "".join(rows)


if __name__ == "__main__":
    argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter).parse_args()
    TARGET.write_text(text(), encoding="utf-8", newline="\n")
    print(f"{TARGET.name}: {len(text().splitlines()) - len(HEAD.splitlines())} readings")
