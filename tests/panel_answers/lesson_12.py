"""Answers of the panels of lesson 12."""

from __future__ import annotations

import importlib
import math
from functools import cache
from typing import Any

import numpy as np

import oilkit
from oilkit import InputError, Q
from oilkit.audit import constants, worked
from oilkit.audit.sensitivity import convergence
from oilkit.quantities.typed import parse


def _function(name: str) -> Any:
    """A public function by its name, looked for where the package offers it."""
    return getattr(oilkit, name)


def register(c: dict[str, Any]) -> dict[str, Any]:
    function = _function(c["function"])
    arguments: dict[str, Any] = {}
    for line in c["inputs"].splitlines():
        key, typed = line.split(" = ")
        if key in function.kinds:
            kind = function.kinds[key]
            arguments[key] = kind.quantity(parse(key, typed, kind))
        else:
            arguments[key] = typed == "yes"
    result = function(**arguments)
    si = float(result.m_as(function.returns.si))
    rows = {
        "result": result,
        "to all digits": f"{si:.10g} {function.returns.si}".replace("dimensionless", "").strip(),
    }
    for key, value in ((key, value) for key, value in arguments.items() if key in function.kinds):
        rows[f"for 1 % more {key}"] = _more(function, arguments, key, value, si)
    entry = importlib.import_module("oilkit.audit.register").entry(c["function"])
    formula = "; ".join(entry.formulas) or "in words: see below"
    return rows | {"formula": formula, "rests on": entry.basis, "called in": f"{len(entry.used_by)} places of the kit"}


def _more(function: Any, arguments: dict[str, Any], key: str, value: Any, result: float) -> str:
    """One per cent more of one argument, through the door: by a quotient of differences on quantities."""
    if result == 0.0:
        return "–"
    si = float(value.m_as(function.kinds[key].si))
    if si == 0.0:
        return "–"
    ends = {}
    for share in (0.999, 1.001):
        try:
            moved = function(**arguments | {key: Q(si * share, function.kinds[key].si)})
            ends[share] = float(moved.m_as(function.returns.si))
        except InputError:
            ends[1.0] = result
    low, high = min(ends), max(ends)
    if low == high:
        return "–"
    return f"{round((ends[high] - ends[low]) / result / (high - low), 2) + 0.0:+.2f} %"


@cache
def _moved(name: str, number: float) -> tuple[dict[str, Any], int]:
    """The main results of the worked engine with a constant changed, and how many steps moved."""
    usual = [float(step.value.m) for step in worked.work().steps]
    with constants.changed(name, number):
        steps = importlib.import_module("oilkit.audit.worked").work().steps
    now = [float(step.value.m) for step in steps]
    moved = sum(abs(a / b - 1.0) >= 1e-9 if b else a != b for a, b in zip(now, usual, strict=True))
    return {step.title: step.value for step in steps if step.title in worked.MAIN}, moved


def what_moves(c: dict[str, Any]) -> dict[str, Any]:
    found = constants.constant(c["constant"])
    number = found.number * (1.0 + float(c["change"].m) / 100.0)
    after, moved = _moved(c["constant"], number)
    before = {step.title: step.value for step in worked.work(worked.SHORT).steps}
    rows: dict[str, Any] = {
        "as it is": found.text(),
        "changed to": found.text(number),
        "rests on": found.basis or "as its function",
        "steps that move": f"{moved} of {len(worked.work().steps)}",
    }
    for name in worked.MAIN:
        rows |= {f"{name}: as it is": before[name], f"{name}: changed": after[name]}
    return rows


def how_exact(c: dict[str, Any]) -> dict[str, Any]:
    """Through `oilkit.physics.discharging` at each accuracy, on the worked engine's own conditions."""
    f = worked.work(worked.SHORT, precharge_set=c["precharge_set"], pump_decay=c["pump_decay"]).found
    accuracies = [10.0**-k for k in range(3, 10)]
    seconds = np.array(
        [oilkit.discharge(f.built, accuracy=a, **_column(f.conditions)).protected_time.m_as("s")[0] for a in accuracies]
    )
    error = np.abs(seconds - seconds[-1])
    steps = convergence(precharge_set=c["precharge_set"], pump_decay=c["pump_decay"]).steps
    rows: dict[str, Any] = {"protected time, finest": Q(float(seconds[-1]), "s")}
    for k in (0, 2, 4):
        power = math.ceil(math.log10(max(error[k], 1e-9)))
        rows[f"error at accuracy {accuracies[k]:.0e}"] = f"below {10.0**power:.0e} s"
    few, many = (int(round(n, 1 - len(str(n)))) for n in (int(steps[0]), int(steps[-1])))
    return rows | {"steps, coarsest and finest": f"about {few} and {many}"}


def _column(conditions: dict[str, Any]) -> dict[str, Any]:
    """The same conditions as a sweep of one case, which is left when its protection ends."""
    return conditions | {"precharge": Q(np.array([conditions["precharge"].m]), conditions["precharge"].units)}
