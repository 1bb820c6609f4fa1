"""The door: one decorator that lets the physics below read like the textbook, and one for what takes records.

A physics function is written once, in plain SI numbers, and its annotations say what each number is::

    @public
    def oil_stored(gas_volume: Volume, precharge: Gauge, ...) -> Oil:
        ...

Called by its name it takes pint quantities, checks each one (unit, dimension, range, NaN) and returns a quantity in
the trade's shop unit. ``oil_stored.si(...)`` is the same function on plain SI floats or arrays, unchecked: the
physics and the panels use it inside, where everything has been through the door already.
"""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable, Mapping
from functools import cache
from types import NoneType, UnionType
from typing import Annotated, Any, ParamSpec, Protocol, TypeAlias, TypeVar, Union, get_args, get_origin, get_type_hints

import numpy as np
from pint.facets.plain import PlainQuantity

from oilkit.errors import InputError
from oilkit.quantities import kinds
from oilkit.quantities.kinds import Kind, misfit, to_si
from oilkit.quantities.units import Qty

P = ParamSpec("P")
T = TypeVar("T")

Gauge: TypeAlias = Annotated[Any, kinds.GAUGE]
Absolute: TypeAlias = Annotated[Any, kinds.ABSOLUTE]
Ambient: TypeAlias = Annotated[Any, kinds.AMBIENT]
PressureDifference: TypeAlias = Annotated[Any, kinds.PRESSURE_DIFFERENCE]
Volume: TypeAlias = Annotated[Any, kinds.VOLUME]
Oil: TypeAlias = Annotated[Any, kinds.OIL]
Length: TypeAlias = Annotated[Any, kinds.LENGTH]
Distance: TypeAlias = Annotated[Any, kinds.DISTANCE]
Temperature: TypeAlias = Annotated[Any, kinds.TEMPERATURE]
Altitude: TypeAlias = Annotated[Any, kinds.ALTITUDE]
Flow: TypeAlias = Annotated[Any, kinds.FLOW]
Time: TypeAlias = Annotated[Any, kinds.TIME]
TimeConstant: TypeAlias = Annotated[Any, kinds.TIME_CONSTANT]
Index: TypeAlias = Annotated[Any, kinds.INDEX]
Fraction: TypeAlias = Annotated[Any, kinds.FRACTION]
Number: TypeAlias = Annotated[Any, kinds.NUMBER]
TemperatureRise: TypeAlias = Annotated[Any, kinds.RISE]
AboveAmbient: TypeAlias = Annotated[Any, kinds.ABOVE_AMBIENT]
RatedDrop: TypeAlias = Annotated[Any, kinds.RATED_DROP]
GaugeAboveZero: TypeAlias = Annotated[Any, kinds.GAUGE_ABOVE_ZERO]
PanChange: TypeAlias = Annotated[Any, kinds.PAN_CHANGE]
Bore: TypeAlias = Annotated[Any, kinds.BORE]
LineLength: TypeAlias = Annotated[Any, kinds.LINE_LENGTH]
ThroughFlow: TypeAlias = Annotated[Any, kinds.THROUGH_FLOW]
Drop: TypeAlias = Annotated[Any, kinds.DROP]
Velocity: TypeAlias = Annotated[Any, kinds.VELOCITY]
Acceleration: TypeAlias = Annotated[Any, kinds.ACCELERATION]
Reynolds: TypeAlias = Annotated[Any, kinds.REYNOLDS]
FrictionFactor: TypeAlias = Annotated[Any, kinds.FRICTION_FACTOR]
Roughness: TypeAlias = Annotated[Any, kinds.ROUGHNESS]
Loss: TypeAlias = Annotated[Any, kinds.LOSS]
Discharge: TypeAlias = Annotated[Any, kinds.DISCHARGE]
Area: TypeAlias = Annotated[Any, kinds.AREA]
Power: TypeAlias = Annotated[Any, kinds.POWER]
KinematicViscosity: TypeAlias = Annotated[Any, kinds.KINEMATIC_VISCOSITY]
DynamicViscosity: TypeAlias = Annotated[Any, kinds.DYNAMIC_VISCOSITY]
Density: TypeAlias = Annotated[Any, kinds.DENSITY]
Expansion: TypeAlias = Annotated[Any, kinds.EXPANSION]
Factor: TypeAlias = Annotated[Any, kinds.FACTOR]
Clearance: TypeAlias = Annotated[Any, kinds.CLEARANCE]
ClearanceChange: TypeAlias = Annotated[Any, kinds.CLEARANCE_CHANGE]
Eccentricity: TypeAlias = Annotated[Any, kinds.ECCENTRICITY]
Speed: TypeAlias = Annotated[Any, kinds.SPEED]
Displacement: TypeAlias = Annotated[Any, kinds.DISPLACEMENT]
Ratio: TypeAlias = Annotated[Any, kinds.RATIO]
Count: TypeAlias = Annotated[Any, kinds.COUNT]
Current: TypeAlias = Annotated[Any, kinds.CURRENT]
Voltage: TypeAlias = Annotated[Any, kinds.VOLTAGE]
Resistance: TypeAlias = Annotated[Any, kinds.RESISTANCE]
CrossSection: TypeAlias = Annotated[Any, kinds.CROSS_SECTION]


class Public(Protocol):
    """What `public` makes: pint in, pint out, with the plain SI function beside it and its kinds on record."""

    __name__: str
    __doc__: str | None
    si: Callable[..., Any]
    kinds: dict[str, Kind]
    returns: Kind

    def __call__(self, *args: Any, **kwargs: Any) -> Qty: ...


def kind_of(annotation: Any) -> Kind | None:
    """The kind that an annotation such as ``Gauge`` carries, if any, with the `Span` that stand behind it."""
    kind = None
    for extra in getattr(annotation, "__metadata__", ()):
        if isinstance(extra, Kind):
            kind = extra
        elif isinstance(extra, kinds.Span) and kind is not None:
            kind = extra.of(kind)
    return kind


def public(function: Callable[..., Any]) -> Public:
    """Make a function of SI numbers into one of pint quantities. The docstring and the signature stay."""
    hints = get_type_hints(function, include_extras=True)
    kinds = {name: kind for name, hint in hints.items() if (kind := kind_of(hint)) is not None}
    returns = kinds.pop("return")
    signature = inspect.signature(function)
    inside = {
        name: to_si(name, parameter.default, kinds[name])
        for name, parameter in signature.parameters.items()
        if name in kinds and parameter.default is not inspect.Parameter.empty
    }

    def si(*args: Any, **kwargs: Any) -> Any:
        return function(*args, **inside_defaults(args, kwargs))

    names = list(signature.parameters)

    def inside_defaults(args: tuple[Any, ...], kwargs: dict[str, Any]) -> dict[str, Any]:
        given = set(names[: len(args)])
        return {name: value for name, value in inside.items() if name not in given} | kwargs

    @functools.wraps(function)
    def wrapped(*args: Any, **kwargs: Any) -> Qty:
        bound = signature.bind(*args, **kwargs)
        check_sorts(function, bound.arguments)
        numbers = {
            name: to_si(name, value, kinds[name]) if name in kinds else value for name, value in bound.arguments.items()
        }
        try:
            return returns.quantity(function(**(inside | numbers)))
        except InputError:
            raise
        except ValueError:  # numpy's word for arrays that do not fit together
            raise misfit(numbers) from None

    wrapped.si = functools.wraps(function)(si) if inside else function  # type: ignore[attr-defined]
    wrapped.kinds = kinds  # type: ignore[attr-defined]
    wrapped.returns = returns  # type: ignore[attr-defined]
    return wrapped  # type: ignore[return-value]


# ------------------------------------------------------------------------------------- functions that take records


def whole(function: Callable[P, T]) -> Callable[P, T]:
    """Let a function of records refuse, in one sentence, an argument that is not what its annotation says.

    None is taken only where the annotation has it, and there it means what leaving the argument out means. Quantities
    are left to the function, which knows their kinds.
    """
    signature = inspect.signature(function)
    starred = [name for name, one in signature.parameters.items() if one.kind is one.VAR_POSITIONAL]

    @functools.wraps(function)
    def wrapped(*args: P.args, **kwargs: P.kwargs) -> T:
        given = signature.bind(*args, **kwargs).arguments
        for name in starred:
            for value in given.pop(name, ()):
                check_sorts(function, {name: value})
        check_sorts(function, given)
        return function(*args, **kwargs)

    return wrapped


def check_sorts(annotated: Any, values: Mapping[str, Any]) -> None:
    """Raise `InputError` for the first value that is not of the sort that the annotation of its name says.

    annotated: a function, or a dataclass, which calls this for its fields when it is made.
    """
    for name, sorts in _sorts(annotated).items():
        if name in values and not any(_is_one(values[name], sort) for sort in sorts):
            wanted = [_noun(sort) for sort in sorts if sort is not NoneType]
            came = "None" if values[name] is None else f"a {type(values[name]).__name__}"
            raise InputError(name, came, " or ".join(wanted))


@cache
def _sorts(annotated: Any) -> dict[str, tuple[Any, ...]]:
    hints = get_type_hints(annotated)
    return {
        name: get_args(hint) if get_origin(hint) in (Union, UnionType) else (hint,)
        for name, hint in hints.items()
        if name != "return"
    }


_PLAIN: dict[Any, tuple[Any, str]] = {
    int: ((int, np.integer), "a whole number"),
    float: ((int, float, np.number), "a number"),
    bool: ((bool, np.bool_), "True or False"),
    str: (str, "a text"),
}
"""The sorts of plain values: which classes pass for one, and what it is called."""


def _is_one(value: Any, sort: Any) -> bool:
    if sort is Any:
        return True
    if sort in _PLAIN:
        classes, _ = _PLAIN[sort]
        return isinstance(value, classes) and (sort is bool or not isinstance(value, bool))
    if isinstance(sort, type):
        return isinstance(value, sort)
    origin = get_origin(sort)
    return not isinstance(origin, type) or issubclass(origin, PlainQuantity) or isinstance(value, origin)


def _noun(sort: Any) -> str:
    if sort in _PLAIN:
        return _PLAIN[sort][1]
    if get_origin(sort) is PlainQuantity:
        return "a quantity with its unit"
    name = getattr(get_origin(sort) or sort, "__name__", "value")
    return f"{'an' if name[0] in 'AEIOU' else 'a'} {name}"
