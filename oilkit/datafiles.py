"""Reading the kit's data files, and the class's own readings, with an error that says where and what."""

from __future__ import annotations

import csv
import tomllib
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import Any

from oilkit.kinds import GAUGE, LENGTH, VOLUME, Kind, has_unit, parse, typical
from oilkit.units import InputError, Q, Qty
from oilkit.vessel import Vessel


def data_file(name: str) -> Path:
    """Path of a file in ``data/``: beside the package in a checkout, inside it in an installed wheel."""
    package = Path(__file__).parent
    if Path(name).name != name:
        raise InputError("name", repr(name), "the bare name of a file in the kit's data folder")
    for folder in (package / "data", package.parent / "data"):
        if (folder / name).is_file():
            return folder / name
    raise InputError("name", repr(name), "a file in the kit's data folder")


@dataclass(frozen=True)
class Readings:
    """Volumes and absolute pressures read together, one of each per reading."""

    volume: Qty
    """Shape (n,): a volume, or a plain number in proportion to it."""
    pressure: Qty
    """Shape (n,): absolute."""
    source: str


def boyle_1662() -> Readings:
    """Boyle's own table of 25 readings: spaces of air and total pressure in inches of mercury.

    The citation stands in ``data/boyle_1662.csv``.
    """
    path = data_file("boyle_1662.csv")
    lines = [line for line in path.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    rows = list(csv.DictReader(lines))
    spaces = [float(row["space"]) for row in rows]
    inches = [float(sum(Fraction(part) for part in row["pressure"].split())) for row in rows]
    return Readings(
        volume=Q(spaces, "dimensionless"),
        pressure=Q(inches, "inHg * absolute_mark"),
        source="Boyle 1662, A Defence of the Doctrine Touching the Spring and Weight of the Air",
    )


_LIKE_OURS = "a text file like data/vessels.toml"
_VESSEL_KEYS: dict[str, Kind] = {"gas_volume": VOLUME, "bore": LENGTH, "rated_pressure": GAUGE}


def vessels(path: Path | str | None = None) -> dict[str, Vessel]:
    """The vessels of ``data/vessels.toml``, or of a file of your own in the same form, by their short names.

    Raises `InputError` naming file, vessel and key for anything missing, unknown, without a unit or out of range.
    """
    path = Path(path) if path else data_file("vessels.toml")
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as problem:
        raise InputError(path.name, f"a file that cannot be read ({problem.strerror})", _LIKE_OURS) from None
    except UnicodeDecodeError:
        raise InputError(path.name, "a file that is not UTF-8 text", _LIKE_OURS) from None
    return dict(_vessels(path.name, text))


@lru_cache(maxsize=8)
def _vessels(file: str, text: str) -> dict[str, Vessel]:
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        raise InputError(file, f"a file that is not TOML ({problem})", _LIKE_OURS) from None
    made = {key: _vessel(file, key, table) for key, table in tables.items()}
    for key, vessel in made.items():
        twin = next(other for other, v in made.items() if v.name == vessel.name)
        if twin != key:
            raise InputError(f"{file}, [{key}], name", f"{vessel.name!r}, as in [{twin}]", "a name of its own")
    return made


def bench_vessel() -> Vessel:
    """The vessel that the lessons' own examples use. Raises `InputError` if the data file has lost it."""
    if "bench" not in vessels():
        raise InputError("vessels.toml", "no [bench]", "the lessons' own vessel to stay: add yours below it")
    return vessels()["bench"]


def _vessel(file: str, key: str, table: Any) -> Vessel:
    if not isinstance(table, dict):
        raise InputError(f"{file}, {key}", repr(table), f"a table [{key}] with name, {', '.join(_VESSEL_KEYS)}")
    for extra in sorted(table.keys() - _VESSEL_KEYS.keys() - {"name"}):
        raise InputError(f"{file}, [{key}]", f"the unknown key {extra}", f"only name, {', '.join(_VESSEL_KEYS)}")
    values = {name: _quantity(f"{file}, [{key}], {name}", table.get(name), kind) for name, kind in _VESSEL_KEYS.items()}
    if values["rated_pressure"].m <= 0.0:
        wanted = f"a gauge pressure above {GAUGE.exact_text(0.0)}"
        raise InputError(f"{file}, [{key}], rated_pressure", table["rated_pressure"], wanted)
    if not isinstance(table.get("name", key), str):
        raise InputError(f"{file}, [{key}], name", repr(table["name"]), "a text")
    return Vessel(name=str(table.get("name", key)), **values)


def _quantity(where: str, typed: Any, kind: Kind) -> Qty:
    """A value of a data file, which must be a text with its unit: a bare number would change with the unit switch."""
    if not isinstance(typed, str) or not (has_unit(typed) or not any(c.isdigit() for c in typed)):
        got = "nothing" if typed is None else f"{typed!r} without a unit"
        raise InputError(where, got, f"a text with its unit, such as {kind.text(typical(kind))!r}")
    return kind.quantity(parse(where, typed, kind))
