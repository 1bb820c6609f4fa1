"""What the kit says of a value that it cannot use: one sentence, never longer than a reader takes in."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeVar

T = TypeVar("T")
LONGEST = 299
"""Letters of an error's sentence: what came is cut to fit, what is wanted never is."""


class InputError(ValueError):
    """A value that the kit cannot use, in one sentence: which argument, what came, what is wanted."""

    def __init__(self, argument: str, got: str, wanted: str) -> None:
        self.argument = argument
        self.wanted = wanted
        room = LONGEST - len(f": got ; wanted {wanted}.")
        shown = _cut_inside(argument, max(room - len(got), room // 2, 40))
        self.got = _cut_inside(got, max(room - len(shown), 20))
        super().__init__(f"{shown}: got {self.got}; wanted {wanted}.")

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), (self.argument, self.got, self.wanted)


def of_these(argument: str, name: Any, table: Mapping[Any, T], wanted: str = "") -> T:
    """What a table has under a name. Raises `InputError` for a name that it has not.

    wanted: in place of all its names.
    """
    if name not in table:
        raise InputError(argument, repr(name), wanted or " or ".join(table))
    return table[name]


def _cut_inside(text: str, most: int) -> str:
    """A text on one line of so many letters at the most: its beginning and its end, where a line number may stand."""
    text = " ".join(text.split())
    end = most // 3
    return text if len(text) <= most else f"{text[: most - 1 - end]}…{text[len(text) - end :]}"


def cut(text: str, most: int = 60) -> str:
    """A text short enough for an error sentence."""
    return text if len(text) <= most else f"{text[: most - 1]}…"
