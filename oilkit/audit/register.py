"""The register: every formula with its symbols, units, source, limits and uses, read from the code. (Lesson 12)

Nothing in it is written by hand but the table of symbols: names, kinds and docstrings come from the functions
themselves, uses from the code that calls them. What the register says about a function is what the function does.
"""

from __future__ import annotations

import inspect
import re
import types
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache
from typing import Any

from pint.facets.plain import PlainQuantity

import oilkit
from oilkit.audit.inventory import basis_of, lesson_of, physics_modules, sort_of
from oilkit.audit.uses import uses_of
from oilkit.errors import of_these
from oilkit.quantities.kind import Kind
from oilkit.quantities.records import beside
from oilkit.quantities.units import Q

SYMBOLS: dict[str, str] = beside(__file__)[1]
"""The field's symbols beside the names of arguments in the code: the one table here that is written by hand."""

NOT_PHYSICS = {
    "kit_lap": "reads a data file",
    "log_remarks": "writes sentences about a log",
    "level_in_words": "writes a sentence",
    "usual_installation": "puts records of data files together",
    "set_up_from_text": "reads a text",
    "input_differences": "compares records",
    "result_differences": "compares results",
    "sheet_html": "writes a page",
    "sheet_pdf": "writes a page",
}
"""Exported functions of the physics modules without a formula in them, and what they do instead."""

MOVES_DATA = ("read_", "write_", "demo_")
"""So begin the names of functions that read and write files; one with a source is in the register all the same."""
MISSING = "SOURCE MISSING"


# ------------------------------------------------------------------------------------------------------ which functions


def _functions(module: types.ModuleType) -> Iterator[tuple[str, Any]]:
    """A module's own functions, in the order of its text, that are public physics or hold a formula with a source."""
    for name, thing in vars(module).items():
        if not inspect.isfunction(thing) or thing.__module__ != module.__name__ or name.startswith("_"):
            continue
        if is_no_physics(name, thing):
            continue
        if hasattr(thing, "kinds") or name in oilkit.__all__ or "Source:" in (inspect.unwrap(thing).__doc__ or ""):
            yield name, thing


def is_no_physics(name: str, function: Any) -> bool:
    """Whether a function moves data or writes sentences, and holds no formula."""
    states_a_source = "Source:" in (inspect.unwrap(function).__doc__ or "")
    return name in NOT_PHYSICS or (name.startswith(MOVES_DATA) and not states_a_source)


# -------------------------------------------------------------------------------------------------------- one entry


@dataclass(frozen=True)
class Argument:
    """One argument of a function of the register."""

    name: str
    symbol: str
    kind: Kind | None
    """What it is, if it is a number with a unit."""
    otherwise: str
    """What it is, if it is something else: a record, a word, a plain number."""
    default: str

    @property
    def noun(self) -> str:
        return self.kind.noun if self.kind else self.otherwise

    @property
    def units(self) -> str:
        return units_of(self.kind) if self.kind else ""

    @property
    def dimension(self) -> str:
        return dimension_of(self.kind) if self.kind else ""

    @property
    def span(self) -> str:
        """The range in both systems, so that it does not depend on the unit switch."""
        return self.kind.span(self.kind.exact_both) or "any" if self.kind else ""


@dataclass(frozen=True)
class Entry:
    """One formula of the kit, as its own code describes it."""

    name: str
    module: str
    lesson: str
    sort: str
    """As `sort_of` has it."""
    summary: str
    formulas: tuple[str, ...]
    arguments: tuple[Argument, ...]
    returns: Kind | None
    gives: str
    """What comes out, in words."""
    source: str
    basis: str
    assumptions: str
    used_by: tuple[str, ...] = field(repr=False)
    """Functions and panels of the package that call it."""
    lessons: tuple[str, ...] = field(repr=False)
    """Numbers of the lessons whose own cells call it."""
    function: Any = field(repr=False, compare=False)


def units_of(kind: Kind) -> str:
    """``psig (barg)``: a kind's shop units in both systems, beside the unit inside."""
    us, metric = kind.label("US"), kind.label("SI")
    shop = us if us == metric else f"{us}, {metric}"
    return f"{shop} (inside: {kind.si})" if shop else "none"


def dimension_of(kind: Kind) -> str:
    """A kind's dimension, as pint writes it."""
    return str(Q(1.0, kind.si).dimensionality).replace("[", "").replace("]", "")


@cache
def register() -> dict[str, Entry]:
    """Every formula of the kit by its function's name, in lesson order.

    An entry without a source says ``SOURCE MISSING``; the tests do not let that happen.
    """
    found = {name: (module, function) for module in physics_modules() for name, function in _functions(module)}
    used, in_lessons = uses_of({name: module.__name__ for name, (module, _) in found.items()})
    return {name: _entry(name, *where, used.get(name, ()), in_lessons.get(name, ())) for name, where in found.items()}


def entry(name: str) -> Entry:
    """One entry by its function's name. Raises `InputError` for a name that is not in the register."""
    return of_these("name", name, register(), "a function of the register, such as oil_stored")


def _entry(
    name: str, module: types.ModuleType, function: Any, used: tuple[str, ...], lessons: tuple[str, ...]
) -> Entry:
    text = inspect.getdoc(inspect.unwrap(function)) or ""
    prose = text.split("\n>>>")[0].strip()
    source = source_of(prose)
    summary = " ".join(prose.split("\n\n")[0].split("Source:")[0].split())
    returns = getattr(function, "returns", None)
    return Entry(
        name=name,
        module=module.__name__.removeprefix("oilkit."),
        lesson=lesson_of(module),
        sort=sort_of(name, function),
        summary=summary,
        formulas=tuple(_formulas(prose, inspect.signature(function).parameters)),
        arguments=tuple(_arguments(function)),
        returns=returns,
        gives=returns.noun if returns else _annotation(inspect.signature(function).return_annotation),
        source=source or MISSING,
        basis=basis_of(source)
        or ("as the functions it names" if "`" in source or "functions" in source else "cited" if source else MISSING),
        assumptions=_assumptions(prose),
        used_by=used,
        lessons=lessons,
        function=function,
    )


def source_of(docstring: str) -> str:
    """The source sentences of a docstring, on one line; nothing if it has none."""
    told = re.search(r"Source:\s*(.*?)(?=\n\s*\n|\n>>>|\Z)", docstring, re.DOTALL)
    return " ".join(told[1].split()) if told else ""


def _formulas(prose: str, parameters: Any) -> Iterator[str]:
    """The formulas of a docstring: what stands in double backquotes before its arguments, and is more than a name."""
    first = re.search(rf"^(?:{'|'.join(map(re.escape, parameters)) or '$'})[\w, ]*:", prose, re.MULTILINE)
    for told in re.findall(r"``(.+?)``", prose[: first.start()] if first else prose, re.DOTALL):
        flat = " ".join(told.split())
        if re.search(r"[ /*]", flat) and not flat.startswith(("Q(", "data")) and "steps" not in flat:
            yield flat


def _assumptions(prose: str) -> str:
    """What a docstring says besides its first paragraph and its source."""
    _, _, rest = prose.partition("\n\n")
    rest = re.sub(r"Source:\s*.*?(?=\n\s*\n|\Z)", "", rest, flags=re.DOTALL)
    return " ".join(rest.split())


def _annotation(annotation: Any) -> str:
    return str(annotation).replace("Qty", "quantity").replace("Any", "number")


def _arguments(function: Any) -> Iterator[Argument]:
    kinds, named = getattr(function, "kinds", {}), getattr(function, "named", None)
    for name, parameter in inspect.signature(function).parameters.items():
        if parameter.kind is parameter.VAR_KEYWORD and named:
            others = {key: told for key, told in named.kinds.items() if key not in kinds}
            for key, (kind, usual) in others.items():
                told = "as installed" if usual is None else _short(usual)
                yield Argument(key, SYMBOLS.get(key, ""), kind, "", told)
            continue
        default = "" if parameter.default is parameter.empty else _short(parameter.default)
        otherwise = "" if name in kinds else _annotation(parameter.annotation)
        symbol = SYMBOLS.get(name, "") if name in kinds else ""
        if symbol == "p_g" and kinds[name].si != "Pag":  # a wire's gauge
            symbol = ""
        yield Argument(name, symbol, kinds.get(name), otherwise, default)


def _short(value: Any) -> str:
    return f"{value:.6g~}" if isinstance(value, PlainQuantity) else str(value)
