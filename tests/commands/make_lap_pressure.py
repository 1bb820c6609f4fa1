"""Compute the oil pressure of lesson 07's invented lap afresh, by the kit's own model, and write it into the file.

    python tests/commands/make_lap_pressure.py

Everything else in the file stays as it is. Run it when the model has changed: `tests/test_lap.py` says so.
"""

from __future__ import annotations

import argparse
import random
from pathlib import Path

from oilkit import Q, kit_lap, simulate_lap, usual_installation

TARGET = Path(__file__).resolve().parents[2] / "data" / "lap.csv"
SHORT_OF_OIL = Q(-1.2, "qt")
GAUGE_ERROR = 1.0
"""psi, one standard deviation."""
SEED = 7


def pressures() -> list[float]:
    """What the invented gauge shows at each sample, psi: never below 0."""
    run = simulate_lap(usual_installation(), kit_lap(), False, SHORT_OF_OIL)
    dice = random.Random(SEED)
    return [max(round(p + dice.gauss(0.0, GAUGE_ERROR), 1), 0.0) for p in run.gallery_pressure.m_as("psig").tolist()]


def text() -> str:
    """The whole file."""
    lines = TARGET.read_text(encoding="utf-8").splitlines()
    head = next(number for number, line in enumerate(lines) if line.startswith("time,")) + 1
    rows = (f"{line.rpartition(',')[0]},{p:.1f}" for line, p in zip(lines[head:], pressures(), strict=True))
    return "\n".join([*lines[:head], *rows]) + "\n"


if __name__ == "__main__":
    argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter).parse_args()
    TARGET.write_text(text(), encoding="utf-8", newline="\n")
    print(f"{TARGET.name}: {len(pressures())} samples")
