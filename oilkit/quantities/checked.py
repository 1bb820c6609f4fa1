"""The check of what comes: one decorator for every function that the kit offers.

A function is written once, on plain SI numbers and on records as they are, and its annotations say what each argument
is::

    @public
    def fill(vessel: Vessel, precharge: One[Gauge], flow: One[Flow], ambient: One[Ambient] = USUAL, ...) -> Filling:
        ...

Called by its name it takes pint quantities and checks each argument: a number's unit, dimension, range, NaN and shape,
and of anything else whether it is of the right sort. The function itself gets SI floats or arrays, everything else as
it is, and None only where its annotation has it. What it returns is made a quantity in the trade's shop unit if its
annotation names a kind, and handed on as it is if not. ``fill.si(...)`` is the same function on SI numbers, unchecked:
the physics and the panels use it inside, where everything has been checked already.
"""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import Enum, auto
from functools import cache
from types import NoneType, UnionType
from typing import Annotated, Any, ParamSpec, Protocol, TypeAlias, TypeVar, Union, get_args, get_origin, get_type_hints

import numpy as np
from pint.facets.plain import PlainQuantity

from oilkit.errors import InputError, of_these
from oilkit.quantities import kinds
from oilkit.quantities.described import PLAIN, described
from oilkit.quantities.kind import Kind
from oilkit.quantities.kinds import checked, fitted_together, one_to_si, to_si
from oilkit.quantities.units import what_came

P = ParamSpec("P")
T = TypeVar("T")
R = TypeVar("R", covariant=True)

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
HeatTransfer: TypeAlias = Annotated[Any, kinds.HEAT_TRANSFER]
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
Duration: TypeAlias = Annotated[Any, kinds.DURATION]
WorkingTemperature: TypeAlias = Annotated[Any, kinds.WORKING_TEMPERATURE]
Accuracy: TypeAlias = Annotated[Any, kinds.ACCURACY]
AccuracyClass: TypeAlias = Annotated[Any, kinds.ACCURACY_CLASS]
LossAboveZero: TypeAlias = Annotated[Any, kinds.LOSS_ABOVE_ZERO]
WireGauge: TypeAlias = Annotated[Any, kinds.WIRE_GAUGE]
RatedVoltage: TypeAlias = Annotated[Any, kinds.RATED_VOLTAGE]
Offset: TypeAlias = Annotated[Any, kinds.OFFSET]
ClearanceSpread: TypeAlias = Annotated[Any, kinds.CLEARANCE_SPREAD]
AccelerationAboveZero: TypeAlias = Annotated[Any, kinds.ACCELERATION_ABOVE_ZERO]
Seed: TypeAlias = Annotated[int, kinds.SEED]
Draws: TypeAlias = Annotated[int, kinds.DRAWS]
Settling: TypeAlias = Annotated[Any, kinds.SETTLING]
Steps: TypeAlias = Annotated[int, kinds.STEPS]


class Shape(Enum):
    """What an argument's array may look like, where it does not just go together with all others."""

    BROADCAST = auto()
    ONE = auto()
    OWN = auto()


One: TypeAlias = Annotated[T, Shape.ONE]
"""``One[Gauge]``: one value, no array."""
Own: TypeAlias = Annotated[T, Shape.OWN]
"""``Own[Time]``: an array with a shape of its own, which the function looks at."""


@dataclass(frozen=True)
class Named:
    """What may be given by name beside the arguments, as in ``**conditions``: for each its kind and usual value."""

    noun: str
    kinds: Mapping[str, tuple[Kind, Any]]

    def si(self, given: Mapping[str, Any]) -> dict[str, Any]:
        """In SI what was given. None is taken where it is the usual value."""
        for name in given:
            of_these(self.noun, name, self.kinds)
        left_out = {name for name, value in given.items() if value is None and self.kinds[name][1] is None}
        return {
            name: None if name in left_out else to_si(name, value, self.kinds[name][0]) for name, value in given.items()
        }


class Public(Protocol[P, R]):
    """What `public` makes: quantities in and out, with the function on SI numbers and what is known of it beside it."""

    __name__: str
    __doc__: str | None
    si: Callable[..., Any]
    kinds: dict[str, Kind]
    named: Named | None
    """Of what the function takes by name beside its arguments."""
    returns: Kind | None

    def __call__(self, *args: P.args, **kwargs: P.kwargs) -> R: ...


@dataclass(frozen=True)
class _Number:
    """What an annotation says of an argument that is a number."""

    kind: Kind
    shape: Shape
    is_plain: bool
    """An ``int``, which stays one: a seed, a number of steps."""
    may_be_none: bool

    def si(self, name: str, value: Any) -> Any:
        if value is None and self.may_be_none:
            return None
        if self.is_plain:
            checked(name, value, self.kind)
            return value
        return (one_to_si if self.shape is Shape.ONE else to_si)(name, value, self.kind)


def without_none(hint: Any) -> Any:
    """``Element | None`` to ``Element``."""
    optional = get_origin(hint) in (Union, UnionType)
    return next(part for part in get_args(hint) if part is not NoneType) if optional else hint


def kind_of(annotation: Any) -> Kind | None:
    """The kind that an annotation such as ``Gauge`` carries, if any, with the `Span` that stand behind it."""
    kind = None
    for extra in getattr(annotation, "__metadata__", ()):
        if isinstance(extra, Kind):
            kind = extra
        elif isinstance(extra, kinds.Span) and kind is not None:
            kind = extra.of(kind)
    return kind


def _number(hint: Any) -> _Number | None:
    inner = without_none(hint)
    kind = kind_of(inner)
    if kind is None:
        return None
    shapes = [extra for extra in inner.__metadata__ if isinstance(extra, Shape)]
    return _Number(kind, (shapes or [Shape.BROADCAST])[-1], get_args(inner)[0] is int, inner is not hint)


def public(function: Callable[P, R]) -> Public[P, R]:
    """Make a function of SI numbers and records into one that takes quantities and checks what comes: see above.

    None means what leaving the argument out means. The signature stays; behind the docstring comes what the annotations
    say (`described`).
    """
    hints = get_type_hints(function, include_extras=True)
    returns = kind_of(hints.pop("return", None))
    numbers = {name: number for name, hint in hints.items() if (number := _number(hint)) is not None}
    signature = inspect.signature(function)
    starred, by_name = (_the_one(signature, sort) for sort in ("VAR_POSITIONAL", "VAR_KEYWORD"))
    named = next((extra for extra in getattr(hints.get(by_name), "__metadata__", ()) if isinstance(extra, Named)), None)
    inside = {
        name: number.si(name, signature.parameters[name].default)
        for name, number in numbers.items()
        if signature.parameters[name].default is not inspect.Parameter.empty
    }
    order = list(signature.parameters)

    def si(*args: Any, **kwargs: Any) -> Any:
        given = set(order[: len(args)])
        return function(*args, **{name: value for name, value in inside.items() if name not in given} | kwargs)

    @functools.wraps(function)
    def wrapped(*args: P.args, **kwargs: P.kwargs) -> Any:
        bound = signature.bind(*args, **kwargs)
        given = bound.arguments
        check_sorts(function, {name: value for name, value in given.items() if name != starred})
        for value in given.get(starred, ()):
            check_sorts(function, {starred: value})
        found = {name: number.si(name, given[name]) for name, number in numbers.items() if name in given}
        further = named.si(given.get(by_name, {})) if named else {}
        together = {name: value for name, value in found.items() if numbers[name].shape is Shape.BROADCAST} | further
        if sum(np.ndim(value) > 0 for value in together.values()) > 1:
            fitted_together({name: value for name, value in together.items() if value is not None})
        given.update(inside | found | ({by_name: further} if further else {}))
        result = function(*bound.args, **bound.kwargs)
        return returns.quantity(result) if returns else result

    wrapped.si = functools.wraps(function)(si) if inside else function  # type: ignore[attr-defined]
    wrapped.kinds = {name: number.kind for name, number in numbers.items()}  # type: ignore[attr-defined]
    wrapped.named = named  # type: ignore[attr-defined]
    wrapped.returns = returns  # type: ignore[attr-defined]
    wrapped.__doc__ = described(function, wrapped.kinds, named.kinds if named else None, returns)  # type: ignore[attr-defined]
    return wrapped  # type: ignore[return-value]


def _the_one(signature: inspect.Signature, sort: str) -> str:
    """The name of the parameter of a sort of which there can be but one; nothing if there is none."""
    return next((name for name, parameter in signature.parameters.items() if parameter.kind.name == sort), "")


def check_sorts(annotated: Any, values: Mapping[str, Any]) -> None:
    """Raise `InputError` for the first value that is not of the sort that the annotation of its name says.

    annotated: a function, or a dataclass, which calls this for its fields when it is made.
    """
    for name, sorts in _sorts(annotated).items():
        if name in values and not any(_is_one(values[name], sort) for sort in sorts):
            wanted = [_noun(sort) for sort in sorts if sort is not NoneType]
            value = values[name]
            came = (
                what_came(value) if value is None or isinstance(value, PlainQuantity) else f"a {type(value).__name__}"
            )
            raise InputError(name, came, " or ".join(wanted))


@cache
def _sorts(annotated: Any) -> dict[str, tuple[Any, ...]]:
    hints = get_type_hints(annotated)
    return {
        name: get_args(hint) if get_origin(hint) in (Union, UnionType) else (hint,)
        for name, hint in hints.items()
        if name != "return"
    }


_PLAIN: dict[Any, Any] = {int: (int, np.integer), float: (int, float, np.number), bool: (bool, np.bool_), str: str}
"""The sorts of plain values: which classes pass for one."""


def _is_one(value: Any, sort: Any) -> bool:
    if sort is Any:
        return True
    if sort in _PLAIN:
        return isinstance(value, _PLAIN[sort]) and (sort is bool or not isinstance(value, bool))
    if isinstance(sort, type):
        return isinstance(value, sort)
    origin = get_origin(sort)
    return not isinstance(origin, type) or issubclass(origin, PlainQuantity) or isinstance(value, origin)


def _noun(sort: Any) -> str:
    if sort in _PLAIN:
        return PLAIN[sort.__name__]
    if get_origin(sort) is PlainQuantity:
        return "a quantity with its unit"
    name = getattr(get_origin(sort) or sort, "__name__", "value")
    return f"{'an' if name[0] in 'AEIOU' else 'a'} {name}"
