"""The sections of a public function's docstring that its annotations say already: parameters, returns, raises.

They stand behind the function's own words, in the form that documentation tools read (numpydoc), so that ``help()``
tells units, range and usual value of each argument, and nothing of it is written twice.
"""

from __future__ import annotations

import inspect
import math
from collections.abc import Callable, Mapping
from typing import Any

from oilkit.quantities.kind import Kind

PLAIN = {"int": "a whole number", "float": "a number", "bool": "True or False", "str": "a text"}


def described(
    function: Callable[..., Any],
    kinds: Mapping[str, Kind],
    named: Mapping[str, tuple[Kind, Any]] | None,
    returns: Kind | None,
) -> str:
    """The docstring of a function with its sections behind it.

    kinds: of its numbers, by argument; named: what it takes by name beside its arguments, with usual values; returns:
    the kind of its result, if it is a quantity.
    """
    signature = inspect.signature(function)
    lines = [inspect.getdoc(function) or "", "", *_headed("Parameters")]
    for name, parameter in signature.parameters.items():
        if parameter.kind is parameter.VAR_KEYWORD and named:
            for one, (its, usual) in named.items():
                if one in signature.parameters:
                    continue
                lines += [f"{one} : {its.noun}, optional", f"    {_range(its)}{_usual(usual)}"]
            continue
        left_out = parameter.default is not parameter.empty
        kind = kinds.get(name)
        sort = kind.noun if kind else _sort(parameter.annotation)
        lines.append(f"{name} : {sort}{', optional' if left_out else ''}")
        says = f"{_range(kind) if kind else ''}{_usual(parameter.default) if left_out else ''}".strip()
        lines += [f"    {says}"] if says else []
    lines += ["", *_headed("Returns")]
    lines.append(f"{returns.noun}, in {returns.us}" if returns else _sort(signature.return_annotation))
    lines += ["", *_headed("Raises"), "InputError", "    In one sentence, for anything that is not as it stands here."]
    return "\n".join(lines)


def _headed(title: str) -> list[str]:
    return [title, "-" * len(title)]


def _sort(annotation: Any) -> str:
    """An annotation in words, without what only the check needs."""
    if annotation is inspect.Signature.empty:
        return "anything"
    told = annotation if isinstance(annotation, str) else getattr(annotation, "__name__", str(annotation))
    return PLAIN.get(told, told.replace("Qty", "quantity"))


def _range(kind: Kind) -> str:
    """``1 to 30000 rpm.``: units and range of a kind in both systems, as far as it has them."""
    systems = dict.fromkeys(_within(kind, system) for system in ("US", "SI"))
    return f"{' or '.join(systems)}."


def _within(kind: Kind, system: str) -> str:
    unit = kind.unit(system)
    unit = "no unit" if unit in ("", "dimensionless") else unit
    low, high = (None if math.isinf(end) else f"{kind.display(end, system):.6g}" for end in (kind.low, kind.high))
    above = "above" if kind.above_low else "from"
    if low is not None and high is not None:
        return f"{above} {low} to {high} {unit}"
    return f"{above} {low} {unit}" if low is not None else f"up to {high} {unit}" if high is not None else unit


def _usual(value: Any) -> str:
    if value is None or value is inspect.Parameter.empty:
        return ""
    return f" Usually {value:~P}." if hasattr(value, "units") else f" Usually {value}."
