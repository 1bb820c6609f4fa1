"""The register: every formula with its symbols, units, source, limits and uses, read from the code. (Lesson 12)

Nothing in it is written by hand but the table of symbols: names, kinds and docstrings come from the functions
themselves, uses from the code that calls them. What the register says about a function is what the function does.
"""

from __future__ import annotations

import ast
import csv
import doctest
import inspect
import io
import json
import math
import re
import textwrap
import types
from collections.abc import Iterator
from contextlib import redirect_stdout
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from pint.facets.plain import PlainQuantity

import oilkit
from oilkit.audit.inventory import basis_of, lesson_of, physics_modules
from oilkit.errors import InputError
from oilkit.quantities import kinds as all_kinds
from oilkit.quantities.kinds import Kind, to_si
from oilkit.quantities.records import data_file
from oilkit.quantities.units import Q, Qty

SYMBOLS = {
    "gauge": "p_g",
    "absolute": "p",
    "ambient": "p_amb",
    "ambient_when_set": "p_amb",
    "pressure": "p",
    "new_pressure": "p_2",
    "lowest_pressure": "p_min",
    "gallery_pressure": "p",
    "pressure_difference": "dp",
    "precharge": "p0",
    "working_precharge": "p0",
    "gas_volume": "V0",
    "volume": "V",
    "new_volume": "V_2",
    "oil": "V_oil",
    "temperature": "T",
    "new_temperature": "T_2",
    "set_temperature": "T0",
    "gas_temperature": "T",
    "sump_temperature": "T",
    "polytropic_index": "n",
    "thermal_time_constant": "tau",
    "time": "t",
    "kinematic_viscosity": "nu",
    "viscosity_40": "nu_40",
    "viscosity_100": "nu_100",
    "dynamic_viscosity": "mu",
    "density": "rho",
    "density_15": "rho_15",
    "expansion": "alpha",
    "bore": "d",
    "diameter": "D",
    "main_diameter": "2 R_m",
    "nearest_diameter": "2 r_min",
    "exit_radius": "R_x",
    "length": "L",
    "land": "l",
    "width": "B",
    "hole": "d_H",
    "gap": "c",
    "loss_coefficient": "K",
    "discharge_coefficient": "C_d",
    "roughness": "k/d",
    "reynolds": "Re",
    "velocity": "v",
    "acceleration": "a",
    "diametral_clearance": "2 c",
    "eccentricity": "eps",
    "flow": "Q",
    "flow_at_pressure": "Q",
    "speed": "N",
    "altitude": "h",
    "seal_friction": "p_f",
    "leak": "Q_leak",
    "cross_section": "A",
}
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
        if hasattr(thing, "kinds") or name in oilkit.__all__ or "Source:" in (thing.__doc__ or ""):
            yield name, thing


def is_no_physics(name: str, function: Any) -> bool:
    """Whether a function moves data or writes sentences, and holds no formula."""
    states_a_source = "Source:" in (function.__doc__ or "")
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
        return span_of(self.kind) if self.kind else ""


@dataclass(frozen=True)
class Entry:
    """One formula of the kit, as its own code describes it."""

    name: str
    module: str
    lesson: str
    sort: str
    """``public`` (through the door), ``whole`` (takes records) or ``inner`` (on SI numbers, used by the others)."""
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


def span_of(kind: Kind) -> str:
    """A kind's range in both systems, so that it does not hang on the unit switch."""

    def both(si: float) -> str:
        us, metric = kind.exact_text(si, "US"), kind.exact_text(si, "SI")
        return us if us == metric else f"{us} ({metric})"

    low = f"{'above' if kind.above_low else 'from'} {both(kind.low)}" if np.isfinite(kind.low) else ""
    high = f"up to {both(kind.high)}" if np.isfinite(kind.high) else ""
    return f"{low} {high}".strip() or "any"


@cache
def register() -> dict[str, Entry]:
    """Every formula of the kit by its function's name, in lesson order.

    An entry without a source says ``SOURCE MISSING``; the tests do not let that happen.
    """
    entries: dict[str, Entry] = {}
    used, in_lessons = _uses()
    for module in physics_modules():
        for name, function in _functions(module):
            entries[name] = _entry(name, module, function, used.get(name, ()), in_lessons.get(name, ()))
    return entries


def entry(name: str) -> Entry:
    """One entry by its function's name. Raises `InputError` for a name that is not in the register."""
    if name not in register():
        raise InputError("name", repr(name), "a function of the register, such as oil_stored")
    return register()[name]


def _entry(
    name: str, module: types.ModuleType, function: Any, used: tuple[str, ...], lessons: tuple[str, ...]
) -> Entry:
    text = inspect.getdoc(function) or ""
    prose = text.split("\n>>>")[0].strip()
    source = source_of(prose)
    summary = " ".join(prose.split("\n\n")[0].split("Source:")[0].split())
    public = hasattr(function, "kinds")
    returns = function.returns if public else None
    kinds = dict(function.kinds) if public else _kinds_in(module, function)
    return Entry(
        name=name,
        module=module.__name__.removeprefix("oilkit."),
        lesson=lesson_of(module),
        sort="public" if public else "whole" if name in oilkit.__all__ else "inner",
        summary=summary,
        formulas=tuple(_formulas(prose, inspect.signature(function).parameters)),
        arguments=tuple(_arguments(function, kinds)),
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


def _arguments(function: Any, kinds: dict[str, Kind]) -> Iterator[Argument]:
    for name, parameter in inspect.signature(function).parameters.items():
        if parameter.kind is parameter.VAR_KEYWORD and name == "conditions":
            from oilkit.physics.discharging import CONDITIONS

            for key, (kind, usual) in CONDITIONS.items():
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


def _kinds_in(module: types.ModuleType, function: Any, deep: bool = True) -> dict[str, Kind]:
    """The kinds of a function's arguments where its own text checks them: ``to_si("flow", flow, THROUGH_FLOW)``.

    For each argument's name in quotes the smallest expression or loop round it that names exactly one kind; then what
    the functions of the same module check to which an argument is handed on.
    """
    parameters = inspect.signature(function).parameters
    numbers = {name for name, p in parameters.items() if re.search("Qty|Any", str(p.annotation))}
    tree = ast.parse(textwrap.dedent(inspect.getsource(function)))
    names = {name: thing for name, thing in (vars(all_kinds) | vars(module)).items() if isinstance(thing, Kind)}
    above = {child: node for node in ast.walk(tree) for child in ast.iter_child_nodes(node)}
    found: dict[str, Kind] = {}

    def checks(node: ast.AST) -> bool:
        return isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in ("to_si", "one_to_si")

    def kinds_under(node: ast.AST) -> set[str]:
        return {n.id for n in ast.walk(node) if isinstance(n, ast.Name) and n.id in names}

    everywhere = kinds_under(tree)
    if len(everywhere) == 1 and "locals()" in ast.unparse(tree):  # one kind for all arguments
        return dict.fromkeys(numbers, names[everywhere.pop()])
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and checks(node) and len(node.args) > 2 and isinstance(node.args[1], ast.Name):
            kind, given = node.args[2], node.args[1].id
            if isinstance(kind, ast.Name) and kind.id in names and given in numbers:
                found[given] = names[kind.id]
    for node in ast.walk(tree):
        if not isinstance(node, ast.Constant) or node.value not in numbers or node.value in found:
            continue
        here: ast.AST = node
        while here in above:
            parent = above[here]
            if isinstance(parent, ast.stmt) and not isinstance(parent, ast.For):
                break
            if isinstance(parent, ast.Call) and not checks(parent):  # a sentence about it, or a result
                break
            pair = isinstance(parent, ast.Dict) and here in parent.keys
            value = parent.values[parent.keys.index(here)] if pair else parent  # type: ignore
            if pair and not isinstance(value, ast.Tuple) and not checks(value):
                break
            under = kinds_under(value)
            if len(under) == 1:
                found[str(node.value)] = names[under.pop()]
            if under or (pair and str(node.value) in found):
                break
            here = parent
    for node in ast.walk(tree) if deep else ():
        if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Name):
            continue
        helper = vars(module).get(node.func.id)
        if not inspect.isfunction(helper) or hasattr(helper, "kinds") or helper.__module__ != module.__name__:
            continue
        checked = _kinds_in(module, helper, deep=False)
        for handed, name in zip(node.args, inspect.signature(helper).parameters, strict=False):
            if isinstance(handed, ast.Name) and handed.id in numbers - found.keys() and name in checked:
                found[handed.id] = checked[name]
    return found


# -------------------------------------------------------------------------------------------------- where it is used


@cache
def _uses() -> tuple[dict[str, tuple[str, ...]], dict[str, tuple[str, ...]]]:
    """Who calls each function of the register: functions and panels of the package, and lessons by their numbers.

    Read from the syntax trees: a name counts if it was imported from the function's module, or is taken from it.
    """
    package = Path(oilkit.__file__).parent
    homes = {name: module.__name__ for module in physics_modules() for name, _ in _functions(module)}
    used: dict[str, set[str]] = {}
    for file in sorted(package.rglob("*.py")):
        short = ".".join(file.relative_to(package).with_suffix("").parts)
        if file.name == "__init__.py" or short.startswith("audit."):
            continue
        tree = ast.parse(file.read_text(encoding="utf-8"))
        for name, where in _called(tree, f"oilkit.{short}", homes):
            if not (where == name and homes[name] == f"oilkit.{short}"):
                used.setdefault(name, set()).add(f"{short}.{where}" if where else short)
    lessons: dict[str, set[str]] = {}
    for file in sorted((package.parent / "notebooks").glob("*.ipynb")):
        cells = json.loads(file.read_text(encoding="utf-8"))["cells"]
        text = "\n".join("".join(cell["source"]) for cell in cells if cell["cell_type"] == "code")
        for name, _ in _called(ast.parse(text), "", homes):
            lessons.setdefault(name, set()).add(file.name[:2])
    return _sorted(used), _sorted(lessons)


def _sorted(found: dict[str, set[str]]) -> dict[str, tuple[str, ...]]:
    return {name: tuple(sorted(places)) for name, places in found.items()}


def _called(tree: ast.Module, module: str, homes: dict[str, str]) -> Iterator[tuple[str, str]]:
    """Each function of the register that a file refers to, with the function or class round the reference."""
    local = {name: name for name, home in homes.items() if home == module}
    modules: dict[str, str] = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module and node.module.split(".")[0] == "oilkit":
            for alias in node.names:
                if alias.name in homes and node.module in ("oilkit", homes[alias.name]):
                    local[alias.asname or alias.name] = alias.name
                else:
                    modules[alias.asname or alias.name] = f"{node.module}.{alias.name}"
        elif isinstance(node, ast.Import):
            modules |= {alias.asname or alias.name: alias.name for alias in node.names if alias.name == "oilkit"}
    for node in tree.body:
        where = node.name if isinstance(node, ast.FunctionDef | ast.ClassDef) else ""
        if isinstance(node, ast.Import | ast.ImportFrom):
            continue
        for part in ast.walk(node):
            if isinstance(part, ast.Name) and part.id in local:
                yield local[part.id], where
            elif isinstance(part, ast.Attribute) and isinstance(part.value, ast.Name) and part.attr in homes:
                home = modules.get(part.value.id, "")
                if home in ("oilkit", homes[part.attr]):
                    yield part.attr, where


# ------------------------------------------------------------------------------------------------- its worked line


@cache
def worked_line(name: str) -> dict[str, Any]:
    """The arguments of the first call of a function in its own docstring's example, with the defaults filled in.

    The example is run for it, with the function replaced by one that writes down what it was called with.
    """
    function = entry(name).function
    module = inspect.getmodule(function)
    calls: list[dict[str, Any]] = []

    def recorder(*args: Any, **kwargs: Any) -> Any:
        bound = inspect.signature(function).bind(*args, **kwargs)
        bound.apply_defaults()
        calls.append(dict(bound.arguments))
        return function(*args, **kwargs)

    found = doctest.DocTestFinder(recurse=False).find(function, name, module=module)
    names = {**vars(module), "Q": Q, "np": np, "oilkit": oilkit, name: recorder}
    for example in found[0].examples if found else ():
        with redirect_stdout(io.StringIO()):
            exec(compile(example.source, f"<example of {name}>", "exec"), names)
        if calls:
            break
    if not calls:
        raise InputError("name", repr(name), "a function whose docstring has an example that calls it")
    return calls[0]


# -------------------------------------------------------------------------------------------------- dimension check

OTHER_UNITS = {
    "Pag": ("psig", "barg", "kPag", "Pag"),
    "Paa": ("psia", "bara", "kPaa", "Paa"),
    "Pa": ("psi", "bar", "kPa", "inHg"),
    "m**3": ("qt", "L", "gal", "in**3", "cc"),
    "m": ("in", "ft", "mm", "thou"),
    "K": ("degF", "degC", "K", "degR"),
    "m**3/s": ("gpm", "Lpm", "ft**3/min"),
    "s": ("s", "ms", "min"),
    "dimensionless": ("dimensionless", "percent"),
    "m**2/s": ("cSt", "St", "ft**2/s"),
    "Pa*s": ("cP", "P", "Pa*s"),
    "kg/m**3": ("lb/gal", "g/cm**3", "lb/ft**3"),
    "rev/s": ("rpm", "rev/s"),
    "m**3/rev": ("in**3/rev", "L/rev"),
    "m/s": ("ft/s", "km/hour"),
    "m**2": ("in**2", "mm**2", "ft**2"),
}
"""Units of the right dimension in which an argument must give the same answer."""
BASE = ("length", "mass", "time", "temperature", "current")


@dataclass(frozen=True)
class Dimensions:
    """What the dimension check of one function found."""

    units: int
    """In so many units of arguments the answer was the same."""
    refused: int
    """So many wrong dimensions were refused."""
    wrong: tuple[str, ...]
    """What failed: arguments with their units. Empty in good health."""
    holds: tuple[str, ...]
    """Base dimensions of numbers inside the formula. A formula of first principles should hold none."""


def check_dimensions(name: str) -> Dimensions:
    """Evaluate a public function in several units, with wrong dimensions, and in a world with other base units.

    The last is the strict one: if all lengths count twice as much, then everything that is made of lengths must follow.
    Where it does not, the formula itself holds a number with a dimension, such as the 0.0065 K/m of the atmosphere.
    """
    made = entry(name)
    if made.sort != "public":
        raise InputError("name", repr(name), "a public function, which takes quantities of kinds")
    function, given = made.function, worked_line(name)
    expected = function(**given)
    scale = np.max(np.abs(np.ravel(expected.m)))
    units, refused, wrong = 0, 0, []
    for key, kind in function.kinds.items():
        value = given[key] if isinstance(given[key], PlainQuantity) else Q(given[key], "dimensionless")
        for unit in dict.fromkeys((kind.us, kind.metric, *OTHER_UNITS.get(kind.si, ()))):
            now = function(**given | {key: _in(value, unit, kind)})
            if np.allclose(now.m, expected.m, rtol=1e-9, atol=1e-9 * scale):
                units += 1
            else:
                wrong.append(f"{key} in {unit}")
        for bad in _wrong(value, kind):
            try:
                function(**given | {key: bad})
            except InputError:
                refused += 1
            else:
                wrong.append(f"{key} takes {bad.units:~}")
    return Dimensions(units, refused, tuple(wrong), tuple(_holds(function, given)))


def _in(value: Qty, unit: str, kind: Kind) -> Qty:
    """The same value in another unit; a barometer's may come with or without its mark."""
    return Q(to_si("value", value, kind), kind.si).to(unit)


def _wrong(value: Qty, kind: Kind) -> Iterator[Qty]:
    """The same number with a dimension too much, one too few, and for pressures with the other mark."""
    number = Q(to_si("value", value, kind), kind.si.replace("delta_degC", "K"))
    yield Q(number.m, str(number.units) + " * meter" if kind.si != "dimensionless" else "meter")
    yield Q(number.m, "kg")
    if kind.si != "dimensionless":
        yield Q(number.m, "dimensionless")
    if kind.si in ("Pag", "Paa"):
        yield Q(number.m, "Paa" if kind.si == "Pag" else "Pag")


def _holds(function: Any, given: dict[str, Any]) -> Iterator[str]:
    """The base dimensions in which a formula is not homogeneous: it holds numbers of its own in them."""
    numbers, kinds = dict(given), function.kinds
    for key in kinds:
        numbers[key] = to_si(key, given[key], kinds[key])
    off = {key: numbers[key] * (1.0 + 2e-3 * (k + 1)) for k, key in enumerate(kinds)}  # off points where terms vanish
    try:
        plain = np.asarray(function.si(**numbers | off), dtype=float)
        numbers |= off
    except InputError:
        plain = np.asarray(function.si(**numbers), dtype=float)
    for base in BASE:
        factor = 1.25
        stretched = {
            key: np.asarray(value) * factor ** _power(function.kinds[key], base) if key in function.kinds else value
            for key, value in numbers.items()
        }
        try:
            now = np.asarray(function.si(**stretched), dtype=float)
        except InputError:
            yield base
            continue
        if not np.allclose(now, plain * factor ** _power(function.returns, base), rtol=1e-7, atol=0.0):
            yield base


def _power(kind: Kind, base: str) -> float:
    """With which power a base dimension is in a kind's SI unit."""
    unit = "K" if kind.si == "delta_degC" else kind.si
    return float(str(Q(1.0, unit).dimensionality.get(f"[{base}]", 0)))


# --------------------------------------------------------------------------------------------------- as text


def entry_text(found: Entry, brief: bool = False, width: int = 116) -> str:
    """An entry as a page of the register. brief: without dimensions, and conditions and uses not one by one."""
    lines = [f"{found.name}  ({found.module}, lesson {found.lesson}, {found.sort})"]

    def told(head: str, text: str) -> None:
        if text:
            indent = "    " if brief else " " * 14
            lines.extend(textwrap.wrap(text, width, initial_indent=f"  {head:<12}", subsequent_indent=indent))

    told("what", found.summary)
    for formula in found.formulas:
        told("formula", formula)
    if brief:
        told("in", "; ".join(_in_brief(found)))
        told(
            "out",
            found.gives if found.returns is None else ", ".join(filter(None, (found.gives, _shop(found.returns)))),
        )
    else:
        for argument in found.arguments:
            parts = [f"{argument.name}{f' = {argument.symbol}' if argument.symbol else ''}: {argument.noun}"]
            if argument.kind:
                parts += [f"unit {argument.units}", f"dimension {argument.dimension}", f"range {argument.span}"]
            if argument.default:
                parts.append(f"usually {argument.default}")
            told("in", "; ".join(parts))
        unit = f"; unit {units_of(found.returns)}; dimension {dimension_of(found.returns)}" if found.returns else ""
        told("out", found.gives + unit)
    told("source", found.source)
    told("basis", "" if brief else found.basis)
    told("limits", found.assumptions.replace("Shapes broadcast.", "").strip() if brief else found.assumptions)
    few = found.used_by[:2] if brief else found.used_by
    more = f" and {len(found.used_by) - len(few)} more" if len(few) < len(found.used_by) else ""
    told("used by", ", ".join(few) + more)
    told("in lessons", "" if brief else ", ".join(found.lessons))
    return "\n".join(lines)


def _in_brief(found: Entry) -> Iterator[str]:
    """Arguments with their symbols, shop units and ranges; the conditions of a simulation in one word."""
    names = inspect.signature(found.function).parameters
    for argument in found.arguments:
        if argument.name not in names:
            yield "conditions as in discharge"
            return
        parts = [f"{argument.name} {argument.symbol}".strip(), *([argument.noun] if not argument.kind else [])]
        if argument.kind:
            parts.append(_shop(argument.kind) or argument.noun)
            parts += [] if argument.span == "any" else [_span_in_brief(argument.kind)]
        yield ", ".join(parts) + (f", usually {argument.default}" if argument.default else "")


def _span_in_brief(kind: Kind) -> str:
    """A kind's range in metric units: ``0.2 to 1.15 bara``."""
    low, high = (f"{float(kind.display(end, 'SI')) + 0.0:.4g}" for end in (kind.low, kind.high))
    unit = kind.label("SI")
    if not np.isfinite(kind.high):
        return f"{'above' if kind.above_low else 'from'} {low} {unit}".rstrip()
    if not np.isfinite(kind.low):
        return f"up to {high} {unit}".rstrip()
    return f"{'above ' if kind.above_low else ''}{low} to {high} {unit}".rstrip()


def _shop(kind: Kind) -> str:
    """``qt or L``: a kind's shop units."""
    return " or ".join(dict.fromkeys(filter(None, (kind.label("US"), kind.label("SI")))))


# ------------------------------------------------------------------------------------- the table of outside checks


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
