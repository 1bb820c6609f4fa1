"""Whether tests and lessons hold on other computers: the README's tests in several arithmetic settings of this one.

    python tests/commands/arithmetic.py [setting ...] [-- options for pytest]

Two computers differ in the last digits: numpy takes other loops where a processor has other instructions, and another C
library rounds its elementary functions otherwise. Without names this runs all settings, one after the other, and prints
what each gave; it ends with an error if one failed:

- ``as-it-is``: nothing changed;
- ``no-...``: numpy's feature levels of this processor (``numpy.show_runtime()``) switched off from the highest down,
  with linear algebra and compiled code held to the same level where it has a name;
- ``perturbed-N``: all of numpy's levels off and each elementary function off by up to four units in the last place,
  another way for each seed N (`perturbed_libm.c`; Linux only, needs a C compiler). Without a name: seeds 1 and 2.

Left out are tests that compute nothing: of browsers, which draw what the kernel says, of servers, of files and of
pages.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from numpy._core._multiarray_umath import __cpu_dispatch__, __cpu_features__  # numpy has no public name for them

ROOT = Path(__file__).resolve().parents[2]
SOURCE = Path(__file__).with_name("perturbed_libm.c")
USUAL_SEEDS = (1, 2)
NO_ARITHMETIC = [
    f"test_{name}.py"
    for name in (
        *("browser*", "class_*", "processes", "server", "stick", "collect", "lessons_folder", "saving"),
        *("stale", "teacher", "wording"),
    )
]
BELOW = {"X86_V4": ("Haswell", "haswell"), "X86_V3": ("Nehalem", "nehalem")}
"""What OpenBLAS and LLVM call a processor without the level."""


def levels() -> dict[str, dict[str, str]]:
    """Environments by setting: nothing changed, then one level after the other switched off, the highest first."""
    found: dict[str, dict[str, str]] = {"as-it-is": {}}
    off: list[str] = []
    for name in reversed(__cpu_dispatch__):
        off.append(name)
        if __cpu_features__[name]:
            changed = {"NPY_DISABLE_CPU_FEATURES": " ".join(off)}
            if name in BELOW:
                blas, compiled = BELOW[name]
                changed |= {"OPENBLAS_CORETYPE": blas, "NUMBA_CPU_NAME": compiled, "NUMBA_CPU_FEATURES": ""}
            found[f"no-{name}"] = changed
    return found


def build(folder: Path) -> Path:
    """The perturbed library, compiled."""
    library = folder / "perturbed_libm.so"
    command = ["cc", "-O2", "-fno-builtin", "-ffp-contract=off", "-shared", "-fPIC", "-o", str(library), str(SOURCE)]
    subprocess.run([*command, "-ldl", "-lm"], check=True)
    return library


def perturbed(library: Path, seed: int) -> dict[str, str]:
    """The environment in which all elementary functions are off."""
    *_, lowest = levels().values()
    return lowest | {"LD_PRELOAD": str(library), "OILKIT_PERTURB": str(seed)}


def is_perturbed(environment: dict[str, str]) -> bool:
    """Whether Python, numpy and compiled code really answer otherwise there; else the run would prove nothing."""
    ask = (
        "import math, numba, numpy as np; x = [1.1 + 0.37 * k for k in range(40)]\n"
        "compiled = numba.njit(lambda v: v**0.7)\n"
        "for f in (math.exp, lambda v: v**0.7, lambda v: float(np.log(np.full(9, v))[4]), "
        "lambda v: float(np.sin(np.full(9, v))[4]), lambda v: float(np.power(np.full(9, v), 0.7)[4]), compiled):\n"
        "    print([f(v).hex() for v in x])"
    )
    plain, changed = (
        subprocess.run([sys.executable, "-c", ask], env=os.environ | e, check=True, capture_output=True, text=True)
        for e in ({}, environment)
    )
    pairs = zip(plain.stdout.splitlines(), changed.stdout.splitlines(), strict=True)
    return all(ours != theirs for ours, theirs in pairs)


def run(environment: dict[str, str], options: list[str]) -> tuple[int, str]:
    """The tests in an environment: exit code and pytest's closing line."""
    left_out = [f"--ignore-glob={ROOT / 'tests' / name}" for name in NO_ARITHMETIC]
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", *left_out, *options]
    ran = subprocess.run(
        command, cwd=ROOT, env=os.environ | environment, stdout=subprocess.PIPE, text=True, check=False
    )
    lines = ran.stdout.strip().splitlines() or [""]
    if ran.returncode:
        print("\n".join(lines[-200:]), flush=True)
    return ran.returncode, lines[-1]


def main() -> int:
    asked = sys.argv[1:]
    options = asked[asked.index("--") + 1 :] if "--" in asked else []
    made = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    made.add_argument("settings", metavar="setting", nargs="*", help="all if none is given")
    names = made.parse_args(asked[: len(asked) - len(options)]).settings
    known = levels()
    names = names or [*known, *(f"perturbed-{seed}" for seed in USUAL_SEEDS)]
    failed = 0
    with tempfile.TemporaryDirectory() as folder:
        for name in names:
            if name.startswith("perturbed-"):
                environment = perturbed(build(Path(folder)), int(name.removeprefix("perturbed-")))
                if not is_perturbed(environment):
                    print(f"{name}: the elementary functions are not perturbed here")
                    return 1
            elif name in known:
                environment = known[name]
            else:
                print(f"{name}: no such setting; there are {', '.join(known)} and perturbed-N")
                return 2
            began = time.perf_counter()
            code, closing = run(environment, options)
            failed += code != 0
            print(f"{name:16} {time.perf_counter() - began:5.0f} s  {closing}", flush=True)
    return min(failed, 1)


if __name__ == "__main__":
    sys.exit(main())
