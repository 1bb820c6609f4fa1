"""Oil: how thick it is when cold, hot and sheared, how heavy, and what a grade promises. (Lessons 04 and 05)"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np

from oilkit.errors import InputError
from oilkit.quantities.checked import (
    Density,
    DynamicViscosity,
    Expansion,
    Factor,
    KinematicViscosity,
    Temperature,
    public,
)
from oilkit.quantities.kind import Span
from oilkit.quantities.kinds import KINEMATIC_VISCOSITY, TEMPERATURE, first_where, refuse
from oilkit.quantities.records import Record
from oilkit.quantities.units import Q

AT_40, AT_100 = 313.15, 373.15
"""The two temperatures, in kelvin, at which an oil's sheet states its viscosity: 40 and 100 °C."""
_AT_15 = 288.15
COLDEST = 273.15
"""Kelvin: below 0 °C a multigrade is thicker than its line says (see `kinematic_viscosity`)."""
USUAL_EXPANSION = Q(0.07, "percent/K")
"""Of engine oils, 0.065 to 0.07 % per kelvin (common practice, no source)."""


_AS_SPOKEN = re.compile(r"(?:SAE[ -]*)?(?:([0-9]{1,2}W)(?: *[-‐‑‒–—−]? *([0-9]{1,2}))?|([0-9]{1,2}))", re.IGNORECASE)
"""``SAE 5W-30``, ``5w30``, ``5W – 30``, ``10w``, ``SAE 40``."""


@dataclass(frozen=True)
class Grade(Record):
    """A viscosity grade: limits on kinematic viscosity at 100 °C. From ``data/grades.toml`` (SAE J300)."""

    name: str
    lowest: KinematicViscosity
    below: KinematicViscosity | None = None
    """The viscosity must stay below this. A winter grade has no such limit."""


@dataclass(frozen=True)
class Lubricant(Record):
    """One oil: what its sheet states. Data come from ``data/oils.toml`` or from you."""

    name: str
    grade: str
    """Such as "40" or "10W-40"; each part must be in the list of grades. "SAE 10w40" is kept as "10W-40"."""
    viscosity_40: Annotated[KinematicViscosity, Span("15 cSt", "500 cSt", "2 cSt", "5000 cSt")]
    viscosity_100: Annotated[KinematicViscosity, Span("2.5 cSt", "40 cSt", "1 cSt", "200 cSt")]
    density_15: Annotated[Density, Span("780 kg/m**3", "1000 kg/m**3", "600 kg/m**3", "1300 kg/m**3")]
    expansion: Annotated[Expansion, Span("0.05 percent/K", "0.1 percent/K")]
    high_shear: Annotated[Factor, Span(0.5, 1.0)]
    """What a bearing's fast shear leaves of the viscosity: 1 for a straight grade, down to 0.7 for a multigrade."""

    def __post_init__(self) -> None:
        spoken = _AS_SPOKEN.fullmatch(self.grade.strip()) if isinstance(self.grade, str) else None
        if spoken:
            object.__setattr__(self, "grade", "-".join(part.upper() for part in spoken.groups() if part))


@public
def kinematic_viscosity(
    temperature: Temperature, viscosity_40: KinematicViscosity, viscosity_100: KinematicViscosity
) -> KinematicViscosity:
    """Viscosity of an oil at a temperature, from the two that its sheet states: the straight line of ASTM D341.

    ``log10 log10(nu + 0.7) = A - B log10 T`` with nu in cSt and T in kelvin, through the points at 40 and 100 °C.

    temperature: of the oil, about 0 to 150 °C; multigrades in the cold are thicker than the line says.
    viscosity_40, viscosity_100: both above 2 cSt for the plain 0.7; the first the larger. Shapes broadcast.
    Raises `InputError` for an oil that would thicken as it warms. Source: ASTM D341 (viscosity-temperature charts).

    >>> print(f"{kinematic_viscosity(Q(80, 'degC'), Q(32, 'cSt'), Q(5.4, 'cSt')):.1f~}")
    8.5 cSt
    """
    wrong, wanted = viscosity_100 >= viscosity_40, "less than the {} at 40 °C"
    refuse(wrong, "viscosity_100", viscosity_100, viscosity_40, KINEMATIC_VISCOSITY, wanted)
    a, b = d341_constants(viscosity_40, viscosity_100)
    with np.errstate(over="ignore"):
        result = (np.power(10.0, np.power(10.0, a - b * np.log10(temperature))) - 0.7) * 1e-6
    if not np.all(np.isfinite(result)):
        (cold,) = first_where(~np.isfinite(result), temperature)
        raise InputError("temperature", TEMPERATURE.exact_text(cold), "a temperature at which the oil still flows")
    return result


def d341_constants(viscosity_40: Any, viscosity_100: Any) -> tuple[Any, Any]:
    """The constants A and B of `kinematic_viscosity` (ASTM D341), from SI viscosities at 40 and 100 °C.

    >>> a, b = d341_constants(32e-6, 5.4e-6)
    >>> print(f"A = {a:.2f}, B = {b:.3f}")
    A = 9.53, B = 3.747
    """
    warm, hot = (np.log10(np.log10(nu * 1e6 + 0.7)) for nu in (viscosity_40, viscosity_100))
    b = (warm - hot) / np.log10(AT_100 / AT_40)
    return warm + b * np.log10(AT_40), b


@public
def density(temperature: Temperature, density_15: Density, expansion: Expansion = USUAL_EXPANSION) -> Density:
    """Density of an oil at a temperature: ``rho15 [1 - alpha (T - 15 °C)]``. Shapes broadcast.

    expansion: alpha, 0.065 to 0.07 % per kelvin for engine oils (common practice, no source); ASTM D1250's table of
    lubricating oils has 0.072 % near 15 °C (from memory).
    Source: definition of the expansion coefficient, first order.

    >>> print(f"{density(Q(100, 'degC'), Q(870, 'kg/m**3')).to('kg/m**3'):.0f~}")
    818 kg / m ** 3
    """
    return density_15 * (1.0 - expansion * (temperature - _AT_15))


@public
def dynamic_viscosity(
    temperature: Temperature,
    viscosity_40: KinematicViscosity,
    viscosity_100: KinematicViscosity,
    density_15: Density,
    expansion: Expansion = USUAL_EXPANSION,
    high_shear: Factor = 1.0,
) -> DynamicViscosity:
    """What a pressure drop feels: density times `kinematic_viscosity`, and in a bearing times ``high_shear``.

    high_shear: 1 in lines and filters; in bearings what fast shear leaves of it (0.7 to 1). Shapes broadcast.
    Source: definition, ASTM D341.

    >>> thick = dynamic_viscosity(Q(100, "degC"), Q(100, "cSt"), Q(14, "cSt"), Q(870, "kg/m**3"))
    >>> print(f"{thick:.1f~}")
    11.5 cP
    """
    thickness = kinematic_viscosity.si(temperature, viscosity_40, viscosity_100)
    return thickness * density.si(temperature, density_15, expansion) * high_shear


def viscosity_of(oil: Any, temperature: Any, in_bearing: bool = False) -> Any:
    """`dynamic_viscosity` of a `Lubricant`'s SI numbers (``lubricant.si``) at a temperature in kelvin: Pa s."""
    shear = oil.high_shear if in_bearing else 1.0
    return dynamic_viscosity.si(temperature, oil.viscosity_40, oil.viscosity_100, oil.density_15, oil.expansion, shear)


def density_of(oil: Any, temperature: Any) -> Any:
    """`density` of a `Lubricant`'s SI numbers (``lubricant.si``) at a temperature in kelvin: kg/m3."""
    return density.si(temperature, oil.density_15, oil.expansion)


def check_grade(where: str, oil: Lubricant, grades: Mapping[str, Grade]) -> None:
    """Hold an oil against the limits of its own grade at 100 °C. Raises `InputError` that says where."""
    hot = oil.si.viscosity_100
    parts = oil.grade.split("-")
    if not set(parts) <= grades.keys() or [part.endswith("W") for part in parts] not in (
        [False],
        [True],
        [True, False],
    ):
        raise InputError(f"{where}, grade", repr(oil.grade), f"a grade made of {', '.join(grades)}, such as 10W-40")
    for part in parts:
        limits = grades[part].si
        if hot < limits.lowest or (limits.below is not None and hot >= limits.below):
            span = f"{KINEMATIC_VISCOSITY.exact_text(limits.lowest)} or more"
            if limits.below is not None:
                span += f" and below {KINEMATIC_VISCOSITY.exact_text(limits.below)}"
            raise InputError(f"{where}, viscosity_100", KINEMATIC_VISCOSITY.exact_text(hot), f"{span} for grade {part}")
    if hot >= oil.si.viscosity_40:
        raise InputError(
            f"{where}, viscosity_100", KINEMATIC_VISCOSITY.exact_text(hot), "less than the oil's viscosity at 40 °C"
        )
