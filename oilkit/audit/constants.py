"""The kit's constants, found in its code: what each is, where it stands, and what moves when it is changed. (Lesson 12)

A constant is a number that a physics module names in capitals, ``OIL_STIFFNESS = 1.5e9`` with a docstring below it, or
that stands in a formula, such as the 0.223 of `oilkit.side_flow`. Nothing is listed by hand: the code is read.

A number changed in a running module would not reach what was made from it before: defaults of functions, other
constants, compiled code. So `changed` loads the physics a second time, from the same source with that one number
replaced, and puts everything back afterwards. `what_moves` loads only what can know the number.
"""

from __future__ import annotations

import ast
import importlib
import importlib.abc
import inspect
import sys
import types
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache, lru_cache
from importlib.machinery import ModuleSpec, PathFinder, SourceFileLoader
from pkgutil import iter_modules
from typing import Any

from pint.facets.plain import PlainQuantity

from oilkit.audit import worked
from oilkit.audit.inventory import basis_of, physics_modules, sort_of
from oilkit.audit.steps import Step
from oilkit.errors import InputError, of_these
from oilkit.quantities.records import data_file
from oilkit.quantities.units import Q
from oilkit.storage.textfile import stamp

SHARED = ("oilkit.errors", "oilkit.storage", "oilkit.quantities")
"""Without physics: the second copy of the kit uses the first one's."""
COMPILED = "oilkit.physics.dynamics"
"""Compiled code, loaded a second time only for a constant of its own: that takes some 20 s."""
TRIVIAL = frozenset({0, 1, 2, 3, 4, 8, 12, 64, 100, 128, 0.5, 1.5, -1})
"""Numbers in a formula that come from its derivation (geometry, halves, per cent): not worth listing."""


@dataclass(frozen=True)
class Constant:
    """One number of the kit's code."""

    name: str
    """Its own, or that of the function in whose formula it stands, with the number."""
    module: str
    value: Any
    """A number or a quantity."""
    meaning: str
    """Its docstring, or that of its function; empty if it has none."""
    named: bool
    """Whether it has a name of its own."""
    place: tuple[int, int] = field(repr=False)
    """Line and column of the number in its module."""

    @property
    def basis(self) -> str:
        """Where it is from, in the words that the kit's docstrings use."""
        return basis_of(self.meaning)

    @property
    def number(self) -> float:
        return float(self.value.m) if isinstance(self.value, PlainQuantity) else float(self.value)

    def text(self, number: float | None = None) -> str:
        """The value, or another number in its place, with its unit."""
        shown = f"{self.number if number is None else number:.7g}"
        return f"{shown} {self.value.units:~P}".rstrip() if isinstance(self.value, PlainQuantity) else shown


# ----------------------------------------------------------------------------------------------------- finding them


@cache
def constants() -> dict[str, Constant]:
    """Every constant of the physics modules, in lesson order: those with names first, then the numbers in formulas."""
    named: dict[str, Constant] = {}
    inside: dict[str, Constant] = {}
    package = importlib.import_module(COMPILED)
    parts = [importlib.import_module(f"{COMPILED}.{one.name}") for one in iter_modules(package.__path__)]
    for module in (*physics_modules(), *parts, package):
        tree = ast.parse(inspect.getsource(module))
        for found in _named(module, tree):
            named.setdefault(found.name, found)
        for found in _in_formulas(module, tree):
            inside.setdefault(found.name, found)
    return named | inside


def constant(name: str) -> Constant:
    """One constant by its name. Raises `InputError` for a name that is none."""
    return of_these("constant", name, constants(), "a name from constants(), such as ADIABATIC")


def _named(module: types.ModuleType, tree: ast.Module) -> Iterator[Constant]:
    """``NAME = number`` and ``NAME = Q(number, unit)`` at a module's head, with the docstring that follows."""
    for k, node in enumerate(tree.body):
        if not isinstance(node, ast.Assign) or len(node.targets) != 1:
            continue
        pairs: list[tuple[str, ast.expr]] = []
        target = node.targets[0]
        if isinstance(target, ast.Name):
            pairs = list(_parts(target.id, node.value))
        elif isinstance(target, ast.Tuple) and isinstance(node.value, ast.Tuple):
            pairs = [(n.id, v) for n, v in zip(target.elts, node.value.elts, strict=True) if isinstance(n, ast.Name)]
        for name, expression in pairs:
            number = _number_in(expression)
            if number is None or not name.split("[")[0].isupper() or name.startswith("_"):
                continue
            value, meaning = ast.literal_eval(number), _docstring_after(tree.body, k, name)
            if expression is number and isinstance(value, int):
                continue  # a whole number counts something: it is no physics
            if expression is not number:
                value = Q(float(value), ast.literal_eval(expression.args[1]))  # type: ignore[attr-defined]
            yield Constant(name, module.__name__, value, meaning, True, (number.lineno, number.col_offset))


def _parts(name: str, value: ast.expr) -> Iterator[tuple[str, ast.expr]]:
    """A constant that is a dictionary of numbers, one by one; anything else as it is."""
    if not isinstance(value, ast.Dict):
        yield name, value
        return
    for key, part in zip(value.keys, value.values, strict=True):
        if isinstance(key, ast.Constant) and isinstance(key.value, str):
            yield f"{name}[{key.value}]", part


def _docstring_after(body: Sequence[ast.stmt], k: int, name: str) -> str:
    """The text under an assignment, or under the last of several whose names begin with the same word."""
    for later in body[k + 1 :]:
        if isinstance(later, ast.Expr) and isinstance(later.value, ast.Constant):
            return str(later.value.value) if isinstance(later.value.value, str) else ""
        if not isinstance(later, ast.Assign) or not isinstance(later.targets[0], ast.Name):
            return ""
        if later.targets[0].id.split("_")[0] != name.split("_")[0]:
            return ""
    return ""


def _number_in(expression: ast.expr) -> ast.expr | None:
    """The number of ``1.5e9`` or of ``Q(1.5, "unit")``; nothing for anything else."""
    if isinstance(expression, ast.Constant):
        plain = isinstance(expression.value, int | float) and not isinstance(expression.value, bool)
        return expression if plain else None
    if isinstance(expression, ast.Call) and isinstance(expression.func, ast.Name) and expression.func.id == "Q":
        return _number_in(expression.args[0]) if len(expression.args) == 2 else None
    return None


def _in_formulas(module: types.ModuleType, tree: ast.Module) -> Iterator[Constant]:
    """The numbers in the formulas of the module's functions, each number once for a function."""
    for node in tree.body:
        if not isinstance(node, ast.FunctionDef):
            continue
        is_formula = sort_of(node.name, getattr(module, node.name)) == "public"
        if not is_formula and node.name not in ("_friction_times_reynolds", "d341_constants"):
            continue
        defaults = [*node.args.defaults, *(d for d in node.args.kw_defaults if d)]
        for part in (*defaults, *node.body):
            for number in ast.walk(part):
                if not isinstance(number, ast.Constant) or isinstance(number.value, bool | str | None):
                    continue
                if not isinstance(number.value, int | float) or abs(number.value) in TRIVIAL or number.value < 1e-6:
                    continue
                name = f"{node.name}: {number.value:g}"
                meaning = inspect.getdoc(getattr(module, node.name)) or ""
                yield Constant(name, module.__name__, number.value, meaning, False, (number.lineno, number.col_offset))


# ----------------------------------------------------------------------------------------------------- changing one


class _Loader(SourceFileLoader):
    """Loads a module from its source, with one number replaced if it is the constant's own."""

    def __init__(self, name: str, path: str, found: Constant, number: float) -> None:
        super().__init__(name, path)
        self.found, self.number_now = found, number

    def get_code(self, fullname: str) -> types.CodeType:
        path = self.get_filename(fullname)
        tree = ast.parse(self.get_data(path), path)
        if fullname == self.found.module:
            numbers = (node for node in ast.walk(tree) if isinstance(node, ast.Constant))
            its_own = next(node for node in numbers if (node.lineno, node.col_offset) == self.found.place)
            its_own.value = self.number_now
        for node in ast.walk(tree) if is_compiled(fullname) else ():
            if isinstance(node, ast.keyword) and node.arg == "cache":  # numba's store on disk knows the old number
                node.value = ast.copy_location(ast.Constant(False), node.value)
        return compile(tree, path, "exec")


class _Finder(importlib.abc.MetaPathFinder):
    """Finds the module whose source is changed, and compiled ones if it is one; the rest is found as ever."""

    def __init__(self, found: Constant, number: float) -> None:
        self.found, self.number = found, number

    def find_spec(self, fullname: str, path: Any, target: Any = None) -> ModuleSpec | None:
        if fullname != self.found.module and not (is_compiled(fullname) and is_compiled(self.found.module)):
            return None
        spec = PathFinder.find_spec(fullname, path, target)
        assert spec is not None
        spec.loader = _Loader(fullname, str(spec.origin), self.found, self.number)
        return spec


def is_compiled(module: str) -> bool:
    """Whether a module belongs to the compiled ones."""
    return _belongs(module, (COMPILED,))


def _whole() -> types.ModuleType:
    """The package with all that it offers: what it imported later could come from the other copy."""
    kit = importlib.import_module("oilkit")
    for name in kit.__all__:
        getattr(kit, name)
    return kit


@contextmanager
def changed(name: str, number: float) -> Iterator[types.ModuleType]:
    """The kit with one constant changed, for as long as the context lasts: a second copy, made from the changed source.

    name: from `constants`; number: in the constant's own unit. Gives the second copy of the package; what was imported
    before keeps the old number. Raises `InputError`.
    """
    with _second_copy(name, number):
        yield _whole()


@contextmanager
def _second_copy(name: str, number: float, top: str = "") -> Iterator[None]:
    """What is imported in this context comes from the changed source.

    top: the only module that is imported in it, if there is but one: what the number cannot reach stays then.
    """
    found = constant(name)
    if isinstance(number, bool) or not isinstance(number, int | float) or number != number:
        raise InputError("number", repr(number), f"a number in the unit of {found.text()}")
    stays = SHARED if is_compiled(found.module) else (*SHARED, COMPILED)
    untouched = _untouched(top, found.module) if top and not is_compiled(found.module) else frozenset()
    if not is_compiled(found.module):
        importlib.import_module(COMPILED)
    _whole()
    before = {key: module for key, module in sys.modules.items() if key == "oilkit" or key.startswith("oilkit.")}
    for key in before:
        if key not in untouched and not _belongs(key, stays):
            del sys.modules[key]
    finder = _Finder(found, number)
    sys.meta_path.insert(0, finder)
    try:
        yield
    finally:
        sys.meta_path.remove(finder)
        for key in [key for key in sys.modules if key == "oilkit" or key.startswith("oilkit.")]:
            del sys.modules[key]
        sys.modules.update(before)


@cache
def _untouched(top: str, module: str) -> frozenset[str]:
    """Of the modules that another one needs, those that a changed module cannot reach; no packages."""
    plain = (name for name in _needed(top) if not hasattr(sys.modules[name], "__path__"))
    return frozenset(name for name in plain if not {"oilkit", module} & _needed(name))


@cache
def _needed(top: str) -> frozenset[str]:
    """A module and all of the kit that it imports, itself or through others, but for ``SHARED``."""
    found: set[str] = set()
    still = {top}
    while still:
        found |= still
        still = {name for one in still for name in _imported(one)} - found
    return frozenset(found)


@cache
def _imported(name: str) -> frozenset[str]:
    """What of the kit a module names in its imports, at its head and in its functions, but for ``SHARED``."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(inspect.getsource(sys.modules[name]))):
        if isinstance(node, ast.Import):
            found |= {one.name for one in node.names}
        elif isinstance(node, ast.ImportFrom):
            found |= {f"{node.module}", *(f"{node.module}.{one.name}" for one in node.names)}
    ours = (one for one in found if f"{one}.".startswith("oilkit.") and one in sys.modules)
    return frozenset(one for one in ours if not _belongs(one, SHARED))


def _belongs(module: str, to: Sequence[str]) -> bool:
    return any(f"{module}.".startswith(f"{one}.") for one in to)


@dataclass(frozen=True)
class Moved:
    """One step of the worked engine before and after a constant was changed."""

    part: str
    title: str
    function: str
    before: Any
    after: Any
    digits: int = 10

    @property
    def change(self) -> float:
        """As a share of what it was; infinite where that was nothing."""
        unit = "K" if self.before.is_compatible_with("K") else self.before.units  # no share of a °F
        before, after = (float(value.m_as(unit)) for value in (self.before, self.after))
        if after == before:
            return 0.0
        return after / before - 1.0 if before else float("inf")


LEAST = 1e-9
"""A step that changes by a smaller share than this has not moved (numerical choice: above rounding)."""


def as_it_is(parts: tuple[str, ...] = tuple(worked.PARTS)) -> tuple[Step, ...]:
    """The steps of the worked engine with the constants as they are: worked again only when a data file has changed."""
    return _worked(parts, tuple(stamp(path) for path in sorted(data_file("engines.toml").parent.iterdir())))


@lru_cache(maxsize=4)
def _worked(parts: tuple[str, ...], as_of: tuple[Any, ...]) -> tuple[Step, ...]:
    return tuple(worked.work(parts).steps)


def what_moves(name: str, number: float, parts: Sequence[str] | None = None) -> list[Moved]:
    """Change one constant and work the engine of `oilkit.audit.worked` through again: every step that moved, in order.

    name: from `constants`; number: in the constant's own unit; parts: of the chain, all of them unless given.
    A constant of the compiled module takes some 20 s, because it is compiled afresh. Raises `InputError`.
    """
    parts = tuple(worked.PARTS) if parts is None else tuple(parts)
    before = as_it_is(parts)
    with _second_copy(name, number, worked.__name__):
        second = importlib.import_module(worked.__name__)
        after = second.work(parts).steps
    moved = [
        Moved(old.part, old.title, old.function, old.value, new.value, old.digits)
        for old, new in zip(before, after, strict=True)
    ]
    return [row for row in moved if not abs(row.change) < LEAST]
