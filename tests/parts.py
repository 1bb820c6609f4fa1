"""Which of many cases the README's test command runs; all run in the thorough part."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pytest


def quick(count: int, values: Iterable[Any]) -> list[Any]:
    """Values for ``parametrize``: the first so many as they are, the others marked thorough.

    A value of several arguments is a tuple.
    """
    return [
        value if k < count else pytest.param(*(value if isinstance(value, tuple) else (value,)), marks=THOROUGH)
        for k, value in enumerate(values)
    ]


def quick_named(names: Iterable[str], values: Iterable[Any]) -> list[Any]:
    """The same, with those named left as they are."""
    chosen = set(names)
    return [value if value in chosen else pytest.param(value, marks=THOROUGH) for value in values]


THOROUGH = pytest.mark.thorough
