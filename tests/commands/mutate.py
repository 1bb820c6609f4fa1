"""Whether the tests notice when the physics is wrong: small changes to the code, one at a time, and who finds them.

    pip install cosmic-ray
    python tests/commands/mutate.py [how many in each module [module ...]]

Works in a copy of the checkout. In each module of `MODULES` it draws places at random (seeded), changes the code there
with an operator of cosmic-ray, and runs the module's own tests, then those of `WIDER`, then the module's lesson, whose
stored numbers nbval compares, until one fails or takes much longer than it should. Printed are each mutant and who
found it ("time": it took too long), then for each module and for all what no test found and the share that tests found,
with its 95 % interval. What only a lesson finds is a number that changed, and no proof that it was right: it does not
count. Left out are places that no number hangs on: annotations, decorators, imports, asserts, docstrings, texts of
errors.

The package `dynamics` is compiled anew for each mutant, in its copy. What runs is the quick part, as the README's
command has it, with fewer random cases: nothing marked thorough.
"""

from __future__ import annotations

import argparse
import ast
import importlib
import math
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, NamedTuple

import cosmic_ray.plugins
from cosmic_ray.ast import Visitor, get_ast
from cosmic_ray.mutating import mutate_code

from oilkit.audit.inventory import lesson_of

ROOT = Path(__file__).resolve().parents[2]
SEED = 20261125
USUAL_COUNT = 20

PROCEDURES = ("commissioning", "charge", "first_fill", "shut_down", "oil_change")
MODULES: dict[str, tuple[str, ...]] = {
    "pressure": ("pressure",),
    "gas": ("gas",),
    "vessel": ("vessel",),
    "precharge": ("precharge",),
    "line": ("line",),
    "tee": ("line",),
    "valve": ("valve",),
    "oil": ("oil",),
    "bearing": ("bearing",),
    "pump": ("engine",),
    "engine": ("engine",),
    "measure": ("measure",),
    "dip": ("first_dip",),
    "discharging": ("discharge", "first_dip"),
    "rates": ("dynamics",),
    "dynamics.steps": ("dynamics",),
    "run": ("dynamics",),
    "pan": ("pan",),
    "choice": ("lap",),
    "cornering": ("lap",),
    "lap": ("lap",),
    "night": ("prelube",),
    "prelube": ("prelube",),
    "wiring": ("prelube",),
    **dict.fromkeys(("set_up", "as_built"), ("setup", "faults")),
    "acceptance": ("setup", "faults"),
    **dict.fromkeys(("hazards", "job", "state", *PROCEDURES), ("commissioning",)),
    **dict.fromkeys(("model", "fit", "separation", "planning"), ("benchfit",)),
}
"""The physics in lesson order, and the files of tests that are its own."""

WIDER = ("units", "docstrings", "outside_checks", "properties", "checked", "discharge", "prelube", "setup", "lap")
"""Tried after a module's own tests, the quick ones first."""

SORTS = ("NumberReplacer", "ReplaceBinaryOperator", "ReplaceComparison", "ReplaceUnary", "ReplaceAnd", "ReplaceOr",
         "AddNot", "ReplaceTrue", "ReplaceFalse", "ReplaceBreak", "ReplaceContinue")  # fmt: skip
BITS = ("_LShift", "_RShift", "_BitOr", "_BitAnd", "_BitXor")
"""Not these: between floating-point numbers they only raise TypeError, and finding that is no merit."""
OPERATORS = {
    name: cosmic_ray.plugins.get_operator(name)
    for name in cosmic_ray.plugins.operator_names()
    if any(sort in name for sort in SORTS) and not any(bit in name for bit in BITS)
}


KNOWN: dict[tuple[str, str, str], str] = {
    ("tee", "surplus(most) > 0.0", "surplus(most) > 1.0"): "a flow far above any oil line's; a pascal decides nothing",
    ("gas", "(time[-1] - time[0])", "(time[1] - time[0])"): "only keeps a time constant of 0 from dividing by 0",
    ("gas", "np.where(small, steps, 0.0)", "np.where(small, steps, -1.0)"): "not read where the closed form holds",
    ("discharging", "times[0]", "times[ -1]"): "one case: the first is the last",
    ("discharging", "cases[0]", "cases[ -1]"): "one case: the first is the last",
    ("dip", "times[0]", "times[ -1]"): "one case: the first is the last",
    ("dip", "cases[0]", "cases[ -1]"): "one case: the first is the last",
    ("lap", "cases[0]", "cases[ -1]"): "one case: the first is the last",
    ("choice", 'numbers["tolerance"][0]', 'numbers["tolerance"][ -1]'): "one value: the first is the last",
    ("choice", "charges.size < 2:", "charges.size < 1:"): "the map that it asks next refuses a single pre-charge too",
    ("as_built", "true[name] + error, 0.0", "true[name] - error, 0.0"): "errors are above as often as below",
    ("as_built", "went[0, d.P]", "went[ -1, d.P]"): "one moment: the first is the last",
    ("as_built", "SETTLE + 2.0", "SETTLE + 1.0"): "idle is held for a minute and a half: settled either way",
    **dict.fromkeys(
        ((module, "state.engine != OFF", "state.engine < OFF") for module in PROCEDURES),
        "the others all come before it in the alphabet",
    ),
    ("commissioning", "SEEN_SHARE = 700.0", "SEEN_SHARE = 699.0"): "from where on a pressure is seen: chosen",
    **dict.fromkeys(
        ((module, "1e-9 * n.room", f"1e-9 {sign} n.room") for module in PROCEDURES for sign in ("/", "//")),
        "rounding is forgiven, and there is none",
    ),
    ("as_built", "SETTLE, EARLY = 90.0", "SETTLE, EARLY = 89.0"): "a minute and a half: settled either way",
    ("as_built", "[0.0, 0.0, opens, opens]", "[ -1.0, 0.0, opens, opens]"): "a valve that is shut, either way",
    ("acceptance", "(there - middle)", "(there + middle)"): "what is added on one side is taken off on the other",
    ("acceptance", '"line_temperature": Q(5', '"line_temperature": Q( 6'): "an estimate, no source",
    ("hazards", "[0.0, 60.0]", "[0.0, 59.0]"): "a minute: settled either way",
    ("dip", "if depth > 0.0 else 0.0", "if depth >= 0.0 else 0.0"): "no dip begins at nothing either way",
    ("prelube", "math.isinf(full) or full >=", "math.isinf(full) and full >="): "full at the very end of the watch",
    ("measure", "leggauss(8)", "leggauss( 7)"): "more places than the integral needs",
    ("line", "np.log(1.0 / ((7.0", "np.log(1.0 * ((7.0"): "the sign of a logarithm that is raised to the 16th",
    ("measure", "errors[3, 3]", "errors[3, 2]"): "how clear a kink must be: no test stands so close to that line",
    ("model", "self.ambient, 1e3)", "self.ambient, 1001.0)"): "far below any absolute pressure",
    ("fit", "ratio / scatter - 1.0", "ratio / scatter - 0.0"): "only spares the rest of six rounds",
    ("fit", "low < guess[place] < high", "low <= guess[place] < high"): "given exactly at an end of the search",
    ("fit", "max_nfev=300", ""): "tolerances of the search: strict either way",
    ("separation", "abs(row[k]) > 0.2", "abs(row[k]) >= 0.2"): "a share of exactly a fifth",
    ("planning", "1e-9 * seen[-1]", "1e-9 * seen[ -2]"): "a scale, for what is nothing beside it",
    ("dip", "if depth > 0.0 else", "if depth > 1.0 else"): "no dip is so shallow: a pascal decides nothing",
    ("choice", "DOUBTFUL = 0.1", "DOUBTFUL = 1.1"): "more draws are followed finely than need be",
    ("choice", "2.0 * numbers", "1.0 * numbers"): "longer than any event, either way",
    ("as_built", "np.linspace(0.0, end, 101)", "np.linspace( -1.0, end, 101)"): "watched from before it begins",
    ("hazards", "if pressure > 0.0 else", "if pressure != 0.0 else"): "no pressure below ambient comes here",
    ("planning", "1e-9 * seen[-1]", "1e-9 * seen[+1]"): "a scale, for what is nothing beside it",
    ("rates", "out[S] = 0.0", "out[S] = -1.0"): "nothing reads this state where the pump has no delays of its own",
}
"""Mutants that nobody has found and nobody needs to: module, a part of the line before and after, and why."""


BY_LESSON = "only lesson"


class Mutant(NamedTuple):
    operator: str
    occurrence: int
    line: int


def numberless_lines(code: str) -> set[int]:
    """Lines on which no number hangs: see the head of this file."""
    lines: set[int] = set()
    for node in ast.walk(ast.parse(code)):
        inert: list[Any] = []
        if isinstance(node, ast.FunctionDef):
            arguments = [
                *node.args.posonlyargs,
                *node.args.args,
                *node.args.kwonlyargs,
                node.args.vararg,
                node.args.kwarg,
            ]
            inert += [*node.decorator_list, node.returns, *(a.annotation for a in arguments if a is not None)]
        elif isinstance(node, ast.ClassDef):
            inert += node.decorator_list
        elif isinstance(node, ast.AnnAssign):
            inert.append(node.annotation)
        elif isinstance(node, ast.Import | ast.ImportFrom | ast.Assert | ast.Raise):
            inert.append(node)
        for part in inert:
            if part is not None:
                lines.update(range(part.lineno, part.end_lineno + 1))
    return lines


def mutants(code: str, count: int, dice: random.Random) -> list[Mutant]:
    """As many mutants as wanted, each at another place; a place is drawn first, then what is done to it."""
    tree, skipped = get_ast(code), numberless_lines(code)
    places: dict[Any, list[Mutant]] = {}

    class Finder(Visitor):  # type: ignore[misc]
        def visit(self, node: Any) -> Any:
            for name, operator in made.items():
                for place in operator.mutation_positions(node):
                    mutant = Mutant(name, counted[name], place[0][0])
                    counted[name] += 1
                    if mutant.line not in skipped:
                        places.setdefault(place, []).append(mutant)
            return node

    made = {name: operator() for name, operator in OPERATORS.items()}
    counted = dict.fromkeys(OPERATORS, 0)
    Finder().walk(tree)
    drawn = dice.sample(sorted(places), min(count, len(places)))
    return [dice.choice(places[place]) for place in drawn]


def home(module: str) -> Path:
    """Where a module of this name lies, from the checkout. A name that two have says the package too."""
    (found,) = (ROOT / "oilkit").rglob(f"{module.replace('.', '/')}.py")
    return found.relative_to(ROOT)


def tests_of(names: Iterable[str]) -> tuple[str, ...]:
    return tuple(f"tests/test_{name}.py" for name in names)


def run(copy: Path, files: tuple[str, ...], limit: float) -> bool | None:
    """Whether these tests or lessons pass in the copy; None when they were not through within `limit` seconds."""
    environment = os.environ | {"PYTHONPATH": str(copy), "PYTHONDONTWRITEBYTECODE": "1", "OILKIT_CASES": "3"}
    command = [sys.executable, "-m", "pytest", "-x", "-q", "-n", "0", "-p", "no:cacheprovider"]
    try:
        ran = subprocess.run(
            [*command, *files], cwd=copy, env=environment, capture_output=True, timeout=limit, check=False
        )
    except subprocess.TimeoutExpired:
        return None
    return ran.returncode == 0


def first_failure(copy: Path, module: str, limit: float) -> str | None:
    """Which tests found the mutant that stands in the copy; None when nobody did."""
    name = ".".join(home(module).with_suffix("").parts)
    own, lesson = MODULES[module], lesson_of(importlib.import_module(name)) or "06"
    (notebook,) = copy.glob(f"notebooks/{lesson}_*.ipynb")
    stages = [
        (" ".join(own), tests_of(own), limit),
        *((name, tests_of([name]), 300.0) for name in WIDER if name not in own),
        (f"{BY_LESSON} {lesson}", (f"notebooks/{notebook.name}",), 300.0),
    ]
    for finder, files, seconds in stages:
        passed = run(copy, files, seconds)
        if not passed:
            return finder if passed is False else "time"
    return None


def trial(copy: Path, module: str, count: int) -> tuple[int, int, list[str]]:
    """Mutants tried in a module, those found by tests, and a line for each that no test found."""
    path = copy / home(module)
    code = path.read_text(encoding="utf-8")
    began = time.perf_counter()
    if not run(copy, tests_of(MODULES[module]), 600.0):
        raise RuntimeError(f"the tests of {module} fail without a mutant")
    usual = time.perf_counter() - began
    tried, found, missed = 0, 0, []
    for mutant in mutants(code, count, random.Random(f"{SEED} {module}")):
        changed = mutate_code(code, OPERATORS[mutant.operator](), mutant.occurrence)
        if changed is None or changed == code:
            continue
        path.write_text(changed, encoding="utf-8")
        finder = first_failure(copy, module, 60.0 + 3.0 * usual)
        by_tests = finder is not None and not finder.startswith(BY_LESSON)
        tried, found = tried + 1, found + by_tests
        pairs = zip(code.splitlines(), changed.splitlines(), strict=False)
        old, new = next((old.strip(), new.strip()) for old, new in pairs if old != new)
        known = [why for (where, a, b), why in KNOWN.items() if where == module and a in old and b in new]
        who = finder or " ".join(["nobody", *(f"({why})" for why in known)])
        line = f"{who}: {module}:{mutant.line}  {old}  ->  {new}"
        print(line, flush=True)
        if not by_tests:
            missed.append(line)
    path.write_text(code, encoding="utf-8")
    return tried, found, missed


def interval(found: int, tried: int) -> tuple[float, float]:
    """Wilson's 95 % interval of a share."""
    z = 1.96
    middle = (found + z * z / 2) / (tried + z * z)
    half = z * math.sqrt(found * (tried - found) / tried + z * z / 4) / (tried + z * z)
    return middle - half, middle + half


def main() -> None:
    made = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    made.add_argument("count", nargs="?", type=int, default=USUAL_COUNT, help="how many in each module")
    made.add_argument("modules", metavar="module", nargs="*", help="all if none is given")
    asked = made.parse_args()
    count, modules = asked.count, asked.modules or list(MODULES)
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as work:

        def in_a_copy(module: str) -> tuple[int, int, list[str]]:
            copy = Path(work) / module
            ignored = shutil.ignore_patterns(".git", ".venv", "__pycache__", ".*_cache", "artefacts", "pictures")
            shutil.copytree(ROOT, copy, ignore=ignored)
            compiled = Path("oilkit", "physics", "dynamics")
            if compiled not in home(module).parents:
                (copy / compiled / "__pycache__").mkdir(exist_ok=True)
                for cached in (ROOT / compiled / "__pycache__").glob("*.nb?"):  # for the modules that only use it
                    shutil.copy2(cached, copy / compiled / "__pycache__")
            began = time.perf_counter()
            tried, found, missed = trial(copy, module, count)
            seconds = time.perf_counter() - began
            print("\n".join([f"{module:14} {found:4} of {tried:4} found, {seconds:5.0f} s", *missed]), flush=True)
            shutil.rmtree(copy, ignore_errors=True)
            return tried, found, missed

        with ThreadPoolExecutor(os.cpu_count()) as workers:
            results = list(workers.map(in_a_copy, modules))
    tried, found = sum(r[0] for r in results), sum(r[1] for r in results)
    low, high = interval(found, tried)
    share = f"{100 * found / tried:.1f} %; 95 % of {low:.3f} to {high:.3f}"
    print(f"\nAll: {found} of {tried} mutants found by tests, {share}")


if __name__ == "__main__":
    main()
