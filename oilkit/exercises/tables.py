"""Questions that are sentences more than numbers: their tables in the TOML file beside a lesson's module.

Numbers stand in the sentences by their names, ``{charge}``, or ``{height:altitude}`` where the unit alone does not say
what it is. Some are given in the table itself, under ``numbers``; the others the function of the table's name in the
module works out. Where there is nothing to be worked out there is no function.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from string import Formatter
from typing import Any, TypeAlias

from pint import UndefinedUnitError
from pint.facets.plain import PlainQuantity

from oilkit.errors import InputError
from oilkit.quantities import kinds
from oilkit.quantities.printed import text
from oilkit.quantities.records import beside
from oilkit.quantities.units import Q, Qty

WorkOut: TypeAlias = Callable[..., dict[str, Any]]


class _Filled(Formatter):
    """Sentences with quantities in both systems of units."""

    def format_field(self, value: Any, format_spec: str) -> Any:
        if isinstance(value, PlainQuantity):
            return text(value, vars(kinds)[format_spec.upper()] if format_spec else None)
        return super().format_field(value, format_spec)


def filled(where: str, told: Any, numbers: Mapping[str, Any]) -> Any:
    """A table, a list or a sentence with the numbers that it names. Raises `InputError` for a name that is unknown.

    where: ``file, [table]``, for that sentence.
    """
    if isinstance(told, dict):
        return {key: filled(where, part, numbers) for key, part in told.items()}
    if isinstance(told, list):
        return [filled(where, part, numbers) for part in told]
    try:
        return _Filled().vformat(told, (), numbers) if isinstance(told, str) else told
    except KeyError as name:
        raise InputError(where, f"the name {name}, which is not there", f"one of {', '.join(numbers)}") from None


def given(where: str, told: Mapping[str, Any]) -> dict[str, Qty]:
    """The numbers that stand in a table itself: ``10 psig``. Raises `InputError` for what is none."""
    found: dict[str, Qty] = {}
    for name, written in told.get("numbers", {}).items():
        number, _, unit = written.partition(" ")
        try:
            found[name] = Q(float(number), unit)
        except (ValueError, UndefinedUnitError):
            raise InputError(f"{where}, {name}", repr(written), "a number with its unit, such as 10 psig") from None
    return found


def check_keys(where: str, told: Mapping[str, Any], needed: tuple[str, ...], others: tuple[str, ...]) -> None:
    """Raise `InputError` for a key that a table lacks, or one that is unknown."""
    for key in needed:
        if key not in told:
            raise InputError(where, f"no {key}", " and ".join(needed))
    if unknown := told.keys() - {*needed, *others}:
        raise InputError(where, f"the unknown key {min(unknown)}", f"only {', '.join((*needed, *others))}")


def tables_of(module: Path) -> dict[str, tuple[str, dict[str, Any]]]:
    """The tables of the file beside a module, if there is one, by their names: ``file, [table]`` and the table."""
    if not module.with_suffix(".toml").exists():
        return {}
    file, tables = beside(str(module))
    return {name: (f"{file}, [{name}]", told) for name, told in tables.items()}
