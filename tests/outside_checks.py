"""Everything of the kit that is held against something outside it: readings, other people's software, standards.

``python tests/outside_checks.py`` prints one table and ends with an error if a row lies outside its tolerance;
``--why`` adds the reason for each tolerance. The tests run over the same rows; they stand in ``outside_rows``, a module
for each topic.
"""

from __future__ import annotations

import sys

from outside_rows import bench, discharge, gas_and_vessel, line_and_valve, oil_and_engine
from outside_rows.gas_and_vessel import integrated_cooling, integrated_fill, integrated_temperature
from outside_rows.row import Row

__all__ = ["Row", "as_table", "integrated_cooling", "integrated_fill", "integrated_temperature", "main", "rows"]


def rows() -> list[Row]:
    """Every row there is."""
    return [*gas_and_vessel.rows(), *line_and_valve.rows(), *oil_and_engine.rows(), *discharge.rows(), *bench.rows()]


def as_table(checks: list[Row], why: bool = False) -> str:
    """The rows as one aligned table."""

    def mark(row: Row) -> str:
        return "" if row.inside else "  <-- outside"

    def part(number: float, row: Row, sign: str) -> str:
        return f"{number:{sign}.2e}" + (" rel" if row.relative else "    ")

    head = ("quantity", "kit", "reference", "difference", "tolerance", "source")
    cells = [
        (
            row.quantity,
            f"{row.kit:.8g}",
            f"{row.reference:.8g}",
            part(row.difference, row, "+"),
            part(row.tolerance, row, ""),
            row.source + (f" [{row.why}]" if why else "") + mark(row),
        )
        for row in checks
    ]
    widths = [max(len(line[i]) for line in (head, *cells)) for i in range(len(head) - 1)]
    lines = []
    for line in (head, *cells):
        number_cells = [line[i].rjust(widths[i]) for i in range(1, len(widths))]
        lines.append(" | ".join([line[0].ljust(widths[0]), *number_cells, line[-1]]))
    lines.insert(1, "-+-".join("-" * w for w in (*widths, len(head[-1]))))
    return "\n".join(lines)


def main(checks: list[Row], why: bool = False) -> int:
    """Print the table. Returns how many rows lie outside, 1 at most."""
    print(as_table(checks, why))
    outside = [row.quantity for row in checks if not row.inside]
    print(f"\n{len(checks)} rows, {len(outside)} outside" + "".join(f"\n  {name}" for name in outside))
    return min(len(outside), 1)


if __name__ == "__main__":
    sys.exit(main(rows(), "--why" in sys.argv[1:]))
