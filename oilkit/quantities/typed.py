"""What somebody typed into a field or a data file: a number with its unit, read as everybody would read it."""

from __future__ import annotations

import math
import re

from oilkit.errors import InputError, cut
from oilkit.quantities.kind import Kind
from oilkit.quantities.kinds import checked, to_si, typical
from oilkit.quantities.units import Q, Qty, unit_switch, ureg

LONGEST_TYPED = 100
"""Letters of a number and its unit: what is longer was not meant to be one."""
_NUMBER_AND_UNIT = re.compile(
    r"(?P<number>[-+−]?(?:\d+(?:\.\d*|,\d+)?|\.\d+)(?:[eE][-+]?\d+)?)\s*(?P<unit>(?:(?<=\s)1/)?[^\d\s].*)?"
)
"""Of a text without spaces at its ends. No part can begin where the one before it might have gone on."""
_FRACTION = re.compile(r"(?P<sign>[-+−]?)(?:(?P<whole>\d{1,6})[ -]+)?(?P<top>\d{1,6})/(?P<bottom>\d{1,6})(?![\d./])")
_TWICE = re.compile(r"(?P<first>[^()]{1,40}\S) ?\((?P<other>[-+−]?\d[^()]{0,40})\)")
"""An amount in two units, as the kit writes it: ``10.0 psig (0.69 barg)``."""
TWICE_WITHIN = 0.02
"""By how much they may differ, as a share: both are rounded."""
_AS_TYPED = {
    "°F": "degF",
    "°C": "degC",
    "F": "degF",
    "C": "degC",
    "l": "L",
    "l/min": "Lpm",
    "L/min": "Lpm",
    '"': "in",
    "mil": "thou",
    "mils": "thou",
    "thousandth": "thou",
    "thousandths": "thou",
    "cst": "cSt",
    "Cst": "cSt",
    "cS": "cSt",
    "lpm": "Lpm",
    "LPM": "Lpm",
    "mPas": "mPa*s",
}
_TIMES = ("times", "x", "×")
"""What stands behind a plain number that compares, ``16 times``: it is no unit."""
_PER_MINUTE = ("1/min", "min-1", "min^-1", "min⁻¹")
"""Of a shaft these are its turns."""
_MARKED = ("psi", "mbar", "bar", "hPa", "kPa", "MPa", "Pa")
_PRESSURE = re.compile(
    r"(?P<base>psi|mbar|bar|hpa|kpa|mpa|pa)s?(?:\s*\(?\s*(?P<mark>g|a|gauge|gage|abs|absolute)\.?\s*\)?)?",
    re.IGNORECASE,
)
"""``bars``, ``KPA``, ``psi gauge``, ``bar(a)``: a pressure as a workshop writes it."""
_PER_SQUARE_INCH = re.compile(
    r"(?:lbf?|lbs|pounds?)\s*(?:/|per)\s*(?:in(?:ch)?\s*(?:2|²|\^2|\*\*2)|(?:sq\.?|square)\s*in(?:ch)?)\.?",
    re.IGNORECASE,
)
_POUNDS = ("lb", "lbs", "lbf", "pound", "pounds", "#")
_US = re.compile(r"\bU\.?S\.?\s+(?=(?:liq|fl|gal|q(?:uar)?ts?\b|p(?:in)?ts?\b))(?:liq(?:uid|\.)?\s+)?", re.IGNORECASE)
"""``US quarts``: a quart, a gallon, a pint and a fluid ounce are those anyway."""
_FLUID_OUNCE = re.compile(r"\bfl(?:uid|\.)?\s*(?:oz\b\.?|ounces?\b)", re.IGNORECASE)
_DEGREES = re.compile(r"(?:(?:°|degrees?\b|deg\b\.?)\s*)?(?P<scale>[fc])", re.IGNORECASE)
_PREFIXES = {
    "liter": ("milli", "centi", "deci"),
    "meter": ("micro", "milli", "centi", "deci", "kilo"),
    "meter_Hg": ("milli",),
    "gram": ("kilo",),
    "second": ("milli",),
    "stokes": ("centi",),
    "poise": ("centi",),
    "watt": ("kilo",),
    "ampere": ("milli",),
    "volt": ("milli", "kilo"),
    "ohm": ("milli", "kilo"),
    **dict.fromkeys(("bar", "barg", "bara"), ("milli",)),
    **dict.fromkeys(("pascal", "Pag", "Paa"), ("hecto", "kilo", "mega")),
}
"""The prefixes that the trade puts before a unit (common practice, no source); before any other unit, none."""


def parse(argument: str, typed: str, kind: Kind) -> float:
    """What a learner typed, such as ``34.7``, ``34.7 psi`` or ``2.4 bar``, as a checked SI number.

    A number alone is in the unit on display. In a field for a gauge pressure ``psi`` means psig and in one for an
    absolute pressure psia, because the field says so; the other one's unit is refused. A decimal comma is read as a
    decimal point unless three digits follow it, which could mean thousands; ``3 1/2 in`` is a number too. A prefix
    that the trade does not put before a unit is asked about: ``5 ML`` was meant as mL, not as five million litres.
    Of ``±4 psi`` the size counts, and ``16 times`` is a plain number.
    Pounds for a pressure are asked about too. Copied from a page with the other unit behind it in brackets, the first
    one counts, if both say the same.
    Raises `InputError` with one sentence.
    """
    if both := _TWICE.fullmatch(typed.strip()):
        first, other = (parse(argument, both[part], kind) for part in ("first", "other"))
        if not math.isclose(first, other, rel_tol=TWICE_WITHIN, abs_tol=TWICE_WITHIN):
            raise InputError(argument, f"“{cut(typed.strip())}”, two amounts that differ", "one of them")
        return first
    wanted = f"{kind.noun} such as {kind.text(typical(kind))}"
    match = _number_and_unit(typed)
    if match is None:
        raise InputError(argument, f"“{cut(typed.strip(), LONGEST_TYPED)}”" if typed.strip() else "nothing", wanted)
    if re.search(r",\d{3}(?:$|[eE])", match["number"]):
        raise InputError(
            argument, f"“{typed.strip()}”, where the comma could mean two things", f"a decimal point: {wanted}"
        )
    number = _number(match)
    unit = _as_meant(match["unit"] or "", kind)
    if not unit:
        return float(checked(argument, kind.from_display(number), kind))
    if kind.si in _PRESSURES and unit.lower() in _POUNDS:
        came = f"“{cut(typed.strip())}”, with a unit of weight (did you mean psi?)"
        raise InputError(argument, came, wanted)
    if len(unit) > 40 or _SUMS.search(unit):
        raise InputError(argument, f"“{cut(typed.strip())}”, with a unit the kit does not know", wanted)
    for spelling in (unit, unit.lower()):  # PSI and QT are meant as psi and qt
        value = _quantity(number, spelling, kind)
        if value is None:
            continue
        fits = any(value.is_compatible_with(u) for u in (kind.si, *kind.also))
        unmarked = kind.si in ("Pag", "Paa") and value.is_compatible_with("Pa")
        if (fits or unmarked) and not _of_the_trade(value, kind):
            others = [
                other for other in (spelling[:1].swapcase() + spelling[1:], spelling[1:]) if _is_usual(other, kind)
            ]
            meant = f" (did you mean {' or '.join(others)}?)" if others else ""
            raise InputError(argument, f"“{typed.strip()}”, with a unit that the trade does not use{meant}", wanted)
        if fits or spelling == unit.lower():
            return float(to_si(argument, value, kind, wanted))
    raise InputError(argument, f"“{typed.strip()}”, with a unit the kit does not know", wanted)


def _as_meant(unit: str, kind: Kind) -> str:
    """A unit as it was typed, by the name that the registry has for it; as it is, if there is none to be seen."""
    unit = " ".join(unit.split())
    as_shown = {kind.label(system): kind.unit(system) for system in unit_switch.systems}
    in_capitals = {label.upper(): name for label, name in as_shown.items()}
    for spelling in dict.fromkeys((unit, unit.rstrip(". "))):  # a sentence may end here
        if known := as_shown.get(spelling) or in_capitals.get(spelling) or _AS_TYPED.get(spelling):
            unit = known
            break
    plain = unit.rstrip(". ")
    if kind.us == "dimensionless" and plain.lower() in _TIMES:
        return ""
    if kind.si == "rev/s" and plain in _PER_MINUTE:
        return "rpm"
    if kind.si in _PRESSURES:
        unit = _pressure_as_meant(plain or unit)
    elif kind.si in ("K", "delta_degC") and (degrees := _DEGREES.fullmatch(plain)):
        unit = f"deg{degrees['scale'].upper()}"
    unit = re.sub(r"\b(in|ft|mm|cm|dm|m|s)([23])\b", r"\1**\2", unit)
    unit = _FLUID_OUNCE.sub("fluid_ounce", _US.sub("", unit))
    unit = re.sub(r"\bcu\b\.? ?", "cubic ", re.sub(r"\bsq\b\.? ?", "square ", unit))
    if kind.si == "delta_degC" and unit in ("degF", "degC", "K"):
        unit = f"delta_{unit.replace('K', 'degC')}"
    return unit


_PRESSURES = ("Pag", "Paa", "Pa")


def _pressure_as_meant(unit: str) -> str:
    if _PER_SQUARE_INCH.fullmatch(unit):
        return "psi"
    match = _PRESSURE.fullmatch(unit)
    if match is None or match["base"] in ("mPa", "Mbar"):  # a thousandth of a pascal, a million bar: asked about
        return unit
    base = next(name for name in _MARKED if name.lower() == match["base"].lower())
    return base + (match["mark"] or "")[:1].lower()


def bare_pressure(typed: str, kind: Kind) -> str:
    """The unit of a text such as ``2 bars`` that does not say gauge or absolute: ``bar``; nothing for one that does.

    A number alone does say it, for it is in the unit that its box names.
    """
    match = _number_and_unit(typed)
    unit = _as_meant(match["unit"] or "", kind) if match else ""
    return unit if unit in _MARKED else ""


def _quantity(number: float, unit: str, kind: Kind) -> Qty | None:
    """A number with a unit as it was typed into a field of some kind; nothing if the unit is none."""
    marked = unit in _MARKED and kind.si in ("Pag", "Paa") and not kind.also
    try:
        return Q(number, unit + kind.si[-1] if marked else unit)
    except Exception:  # pint raises a dozen different errors for text that is no unit
        return None


def _of_the_trade(value: Qty, kind: Kind) -> bool:
    """Whether each part of a quantity's unit has a prefix that the trade puts there, or none."""
    for name in ureg.Unit(value.units)._units:
        allowed = {"milli"} if kind.si == "Pa*s" and name.endswith("pascal") else set()
        readings = ureg.parse_unit_name(name)
        if readings and not any(not p or p in allowed or p in _PREFIXES.get(base, ()) for p, base, _ in readings):
            return False
    return True


def _is_usual(unit: str, kind: Kind) -> bool:
    value = _quantity(1.0, unit, kind) if unit.strip() else None
    fits = value is not None and any(value.is_compatible_with(u) for u in (kind.si, *kind.also))
    return fits and value is not None and _of_the_trade(value, kind)


def _number_and_unit(typed: str) -> re.Match[str] | None:
    """What was typed as number and unit, in time that grows with its length alone; nothing if it is no number."""
    if len(typed) > LONGEST_TYPED:
        return None
    return _NUMBER_AND_UNIT.fullmatch(_decimal(re.sub(r"^±\s*(?=[\d.])", "", typed.strip())))


def _decimal(typed: str) -> str:
    """``3 1/2 in`` as ``3.5 in``; what begins with no fraction as it is."""
    match = _FRACTION.match(typed)
    if match is None or int(match["bottom"]) == 0:
        return typed
    number = int(match["whole"] or 0) + int(match["top"]) / int(match["bottom"])
    return f"{match['sign']}{number!r} {typed[match.end() :]}"


_SUMS = re.compile(r"\d{3}|\d\s*(?:\*\*|\^|\*)|[*^]\s*\(|\(.*\(")
"""What no unit needs and what could keep a computer busy for ever: large powers, powers of numbers, nested sums."""


def in_parts(typed: str) -> tuple[float, str]:
    """Number and unit of a text such as ``870 ml``; no unit for a number alone. For a text that `parse` has read."""
    match = _number_and_unit(typed)
    return (_number(match), (match["unit"] or "").strip()) if match else (math.nan, "")


def _number(match: re.Match[str]) -> float:
    return float(match["number"].replace("−", "-").replace(",", "."))


def with_unit(typed: str, kind: Kind) -> str:
    """What was typed, with the unit in which a number alone was read: it says the same in either system."""
    return typed if has_unit(typed) else f"{typed.strip()} {kind.label()}".strip()


def has_unit(typed: str) -> bool:
    """Whether a text such as ``3 qt`` is a number followed by something, as against a number alone."""
    match = _number_and_unit(typed)
    return match is not None and match["unit"] is not None
