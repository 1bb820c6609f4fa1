"""What ``import oilkit`` costs beyond numpy, matplotlib and pint, and what opening the panels' module adds.

    python tests/commands/benchmark_import.py [runs]

Each figure is the median of fresh Python processes, taken in turn so that all see the same machine.
"""

from __future__ import annotations

import argparse
import statistics
import subprocess
import sys

CASES = {
    "numpy, matplotlib, pint": "import numpy, matplotlib, pint",
    "and oilkit": "import numpy, matplotlib, pint, oilkit; oilkit.Q(1, 'psig')",
    "and oilkit.panels": "import numpy, matplotlib, pint, oilkit.panels",
}


def seconds(statement: str) -> float:
    code = f"import time; t = time.perf_counter(); {statement}; print(time.perf_counter() - t)"
    return float(subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout)


def main() -> None:
    made = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    made.add_argument("runs", nargs="?", type=int, default=9)
    runs = made.parse_args().runs
    times: dict[str, list[float]] = {name: [] for name in CASES}
    for _ in range(runs):
        for name, statement in CASES.items():
            times[name].append(seconds(statement))
    base = statistics.median(times["numpy, matplotlib, pint"])
    for name, taken in times.items():
        median = statistics.median(taken)
        print(f"{name:26} {median:6.3f} s   {median - base:+.3f} s")


if __name__ == "__main__":
    main()
