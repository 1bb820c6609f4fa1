"""Steps, procedures and what comes of a step at the wrong time, with the sentences that say so. (Lesson 09)

A procedure stands in two files of one name: its sentences in a TOML file, what its steps do in a module.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from string import Formatter
from typing import Any, Literal, TypeAlias

from oilkit.errors import InputError
from oilkit.quantities import kinds
from oilkit.quantities.kind import Kind
from oilkit.quantities.records import R, Record, beside, record_of
from oilkit.quantities.units import Qty
from oilkit.shop.job import Job, Numbers
from oilkit.shop.state import State

DANGER, END = "danger", "at the end"
VALVE_LEFT_OPEN: str = beside(__file__)[1]["valve_left_open"]
"""What to do about a pan that stands too high because the vessel has run out into it (common practice, no source)."""


@dataclass(frozen=True)
class Consequence:
    """What comes of a step at the wrong time."""

    step: str
    """Key of the step, or ``END`` for what is found when all is done."""
    kind: str
    """``danger`` or what sort of fault it is."""
    words: str = field(repr=False)
    """The sentence, with names in braces where its numbers go."""
    amounts: dict[str, tuple[Kind, float]] = field(repr=False)

    @property
    def numbers(self) -> dict[str, Qty]:
        """Its numbers as quantities, by name."""
        return {name: kind.quantity(value) for name, (kind, value) in self.amounts.items()}

    @property
    def sentence(self) -> str:
        """In words, numbers in both systems of units."""
        return self.words.format(**{name: kind.both(value) for name, (kind, value) in self.amounts.items()})

    @property
    def text(self) -> str:
        """In words, numbers in the units on display."""
        return self.words.format(**{name: kind.text(value) for name, (kind, value) in self.amounts.items()})


@dataclass(frozen=True)
class Sentence(Record):
    """What is said about a step at the wrong time, with the places of its numbers: ``{dial:gauge}``."""

    kind: Literal["danger", "wrong charge", "oil in the wrong place", "wrong reading", "not proved", "wasted"]
    words: str

    @cached_property
    def kinds(self) -> dict[str, Kind]:
        """What each of its numbers is: what stands behind the name, or else the name."""
        places = [(name, sort or name) for _, name, sort, _ in Formatter().parse(self.words) if name]
        return {name: vars(kinds)[sort.upper()] for name, sort in places}

    @cached_property
    def plain(self) -> str:
        """Its words with no more than a name in each place."""
        parts = Formatter().parse(self.words)
        return "".join(text + (f"{{{name}}}" if name else "") for text, name, _, _ in parts)

    def about(self, step: str, numbers: dict[str, float]) -> Consequence:
        """The consequence of a step, with its numbers in SI."""
        return Consequence(step, self.kind, self.plain, {name: (self.kinds[name], n) for name, n in numbers.items()})


Say: TypeAlias = Callable[..., None]
"""Called by a step with a sentence's name and its numbers in SI."""
Do: TypeAlias = Callable[[State, Numbers, Say], None]


@dataclass(frozen=True)
class Act(Record):
    """Something that hands do: what it is, and beside it what to beware of, a number, and when to stop."""

    title: str
    caution: str
    number: str
    stop: str
    """These three say ``none, because ...`` where there is none."""

    @property
    def beside(self) -> str:
        """What stands beside it wherever it is shown."""
        return f"Caution: {self.caution} Number: {self.number} Stop: {self.stop}"


@dataclass(frozen=True)
class Step:
    """One step of a procedure."""

    key: str
    act: Act
    do: Do = field(repr=False)

    @property
    def title(self) -> str:
        return self.act.title


@dataclass(frozen=True)
class Procedure:
    """Steps in the right order, where they start from, and which of them may change places."""

    key: str
    title: str
    steps: tuple[Step, ...]
    start: Callable[[Job], State] = field(repr=False)
    may_swap: dict[frozenset[str], str] = field(repr=False)
    """Pairs of steps that may come either way round, and why."""
    place: int
    """Among the procedures, from 1: in the order in which a set-up meets them."""
    says: dict[str, Sentence] = field(repr=False)
    """Its sentences, by the names that its steps have for them."""

    @property
    def keys(self) -> tuple[str, ...]:
        return tuple(step.key for step in self.steps)

    def step(self, key: str) -> Step:
        return next(step for step in self.steps if step.key == key)


def told(cls: type[R], file: str, tables: dict[str, Any], under: str) -> dict[str, R]:
    """The acts or sentences of a file's tables under a name, by their keys. Raises `InputError` naming file and table.

    ``{valve_left_open}`` in their words is the rule that stands in ``steps.toml``.
    """
    return {key: record_of(cls, f"{file}, [{under}.{key}]", key, _ruled(one)) for key, one in tables[under].items()}


def _ruled(table: Any) -> Any:
    """A table with the rule put in where it is called for; what is no table is refused later."""
    if not isinstance(table, dict):
        return table
    rule = "{valve_left_open}"
    return {k: v.replace(rule, VALVE_LEFT_OPEN) if isinstance(v, str) else v for k, v in table.items()}


def read_procedure(module: str, start: Callable[[Job], State], /, **steps: Do) -> Procedure:
    """A procedure of the sentences beside a module, and of what its steps do, by their keys. Raises `InputError`."""
    file, tables = beside(module)
    known = told(Act, file, tables, "steps")
    if list(known) != list(steps):
        raise InputError(f"{file}, [steps]", ", ".join(known), ", ".join(steps))
    return Procedure(
        key=Path(module).stem,
        title=tables["title"],
        steps=tuple(Step(key, known[key], do) for key, do in steps.items()),
        start=start,
        may_swap={frozenset(pair.split(", ")): why for pair, why in tables["may_swap"].items()},
        place=tables["place"],
        says=told(Sentence, file, tables, "says"),
    )
