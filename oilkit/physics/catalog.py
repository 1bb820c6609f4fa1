"""The kit's data files: Boyle's readings, vessels, hoses, fittings, oils and engines; yours in the same form."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from oilkit.errors import InputError
from oilkit.physics.engine import Engine, check_engine
from oilkit.physics.line import Fitting, Hose
from oilkit.physics.oil import Grade, Lubricant, check_grade
from oilkit.physics.vessel import Vessel
from oilkit.quantities.checked import public
from oilkit.quantities.records import data_file, read_records
from oilkit.quantities.units import Q, Qty
from oilkit.storage.textfile import LARGEST, read_text, shown, shown_name


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
    lines = [line for line in read_text(path, LARGEST, "Boyle's table").splitlines() if not line.startswith("#")]
    rows = list(csv.DictReader(lines))
    spaces = [float(row["space"]) for row in rows]
    inches = [float(sum(Fraction(part) for part in row["pressure"].split())) for row in rows]
    return Readings(
        volume=Q(spaces, "dimensionless"),
        pressure=Q(inches, "inHg * absolute_mark"),
        source="Boyle 1662, A Defence of the Doctrine Touching the Spring and Weight of the Air",
    )


@public
def vessels(path: Path | str | None = None) -> dict[str, Vessel]:
    """The vessels of ``data/vessels.toml``, or of a file of your own in the same form: see `read_records`."""
    return read_records(Vessel, "vessels.toml", path)


def bench_vessel() -> Vessel:
    """The vessel that the lessons' own examples use. Raises `InputError` if the data file has lost it."""
    found = vessels()
    if "bench" not in found:
        raise InputError("vessels.toml", "no [bench]", "the lessons' own entry to stay: add yours below it")
    return found["bench"]


@public
def hoses(path: Path | str | None = None) -> dict[str, Hose]:
    """The hoses of ``data/hoses.toml``, or of a file of your own in the same form: see `read_records`."""
    return read_records(Hose, "hoses.toml", path)


@public
def fittings(path: Path | str | None = None) -> dict[str, Fitting]:
    """The fittings and valves of ``data/fittings.toml``, or of a file of your own: see `read_records`."""
    return read_records(Fitting, "fittings.toml", path)


@public
def grades(path: Path | str | None = None) -> dict[str, Grade]:
    """The viscosity grades of ``data/grades.toml`` (SAE J300), or of a file of your own: see `read_records`."""
    return read_records(Grade, "grades.toml", path)


@public
def lubricants(path: Path | str | None = None) -> dict[str, Lubricant]:
    """The oils of ``data/oils.toml``, or of a file of your own, each held against its own grade: see `read_records`.

    Raises `InputError` also for an oil whose grade is not in the kit's list, or that is outside it at 100 °C.
    """
    found = read_records(Lubricant, "oils.toml", path)
    for key, oil in found.items():
        check_grade(f"{shown_name(path or 'oils.toml')}, [{shown(key)}]", oil, grades())
    return found


@public
def engines(path: Path | str | None = None) -> dict[str, Engine]:
    """The engines of ``data/engines.toml``, or of a file of your own in the same form: see `read_records`.

    Raises `InputError` also for numbers that do not go together, such as a pick-up above the full mark.
    """
    found = read_records(Engine, "engines.toml", path)
    for key, engine in found.items():
        check_engine(f"{shown_name(path or 'engines.toml')}, [{shown(key)}]", engine)
    return found
