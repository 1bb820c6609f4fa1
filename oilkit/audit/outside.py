"""The table of outside checks: the kit compared with what others have measured or computed. (Lesson 12)"""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass

from oilkit.quantities.records import data_file


@dataclass(frozen=True)
class Outside:
    """One comparison of the kit with something outside it, as ``data/outside_checks.csv`` has it."""

    topic: str
    quantity: str
    difference: float
    """Kit less reference, as a share of the reference or in its unit."""
    tolerance: float
    relative: bool
    source: str

    @property
    def is_range(self) -> bool:
        """Whether the reference is a range told by the trade, whose middle means nothing."""
        return self.source.startswith("common practice")

    def shown(self) -> str:
        """The difference as text; what is little beside the tolerance is not told from nothing."""
        if self.difference == 0.0:
            return f"below {grain(self.tolerance):.0e}".replace("e-0", "e-")
        return f"{100.0 * self.difference:+.2g} %" if self.relative else f"{self.difference:+.2g}"


def grain(tolerance: float) -> float:
    """How finely a difference is stored: a hundredth of its tolerance's power of ten, since the digits after that are a
    solver's own and differ from computer to computer."""
    return float(max(1e-9, 10.0 ** math.floor(math.log10(tolerance)) / 100.0))


def outside_checks() -> list[Outside]:
    """The kit's table of outside checks, as it was stored when all of it was last run.

    The tests run every comparison and fail if this file tells anything else; ``python tests/outside_checks.py`` prints
    it afresh, which needs the tests' reference libraries.
    """
    with data_file("outside_checks.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    return [
        Outside(
            row["topic"],
            row["quantity"],
            float(row["difference"]),
            float(row["tolerance"]),
            row["relative"] == "yes",
            row["source"],
        )
        for row in rows
    ]
