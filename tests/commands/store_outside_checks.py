"""Run every comparison with the outside world and store the table that lesson 12 shows.

    python tests/commands/store_outside_checks.py

Writes ``data/outside_checks.csv``. Differences are stored as finely as their tolerance is of use and no finer
(`oilkit.audit.outside.grain`), so that they do not change from one machine to another; the tests hold the file against
the comparisons themselves.
"""

from __future__ import annotations

import argparse
import csv
import importlib
import pkgutil
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests"))
HEAD = """\
# Everything of the kit that is held against something outside it: kit less reference, as a share of the reference where
# "relative" is yes, else in the quantity's unit, to about a hundredth of the tolerance. Made by a command, not by hand:
#   python tests/commands/store_outside_checks.py
"""


def main() -> int:
    argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter).parse_args()
    import outside_rows

    from oilkit.audit.outside import grain

    rows = []
    for info in pkgutil.iter_modules(outside_rows.__path__):
        module = importlib.import_module(f"outside_rows.{info.name}")
        for row in module.rows() if hasattr(module, "rows") else ():
            step = grain(row.tolerance)
            difference = step * round(row.difference / step)
            numbers = f"{difference or 0.0:.2g}", f"{row.tolerance:.3g}", "yes" if row.relative else "no"
            rows.append((info.name.replace("_", " "), row.quantity, *numbers, row.source))
            if not row.inside:
                print(f"outside its tolerance: {row.quantity}")
                return 1
    with (ROOT / "data" / "outside_checks.csv").open("w", encoding="utf-8", newline="\n") as file:
        file.write(HEAD)
        table = csv.writer(file, lineterminator="\n")
        table.writerow(("topic", "quantity", "difference", "tolerance", "relative", "source"))
        table.writerows(rows)
    print(f"{len(rows)} rows stored; lesson 12 shows them: run refresh_notebooks.py notebooks/12_audit.ipynb")
    return 0


if __name__ == "__main__":
    sys.exit(main())
