"""The door: one decorator that lets the physics below read like the textbook.

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
from collections.abc import Callable
from typing import Annotated, Any, Protocol, TypeAlias, get_type_hints

from oilkit import kinds
from oilkit.kinds import Kind, misfit, to_si
from oilkit.units import InputError, Qty

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
    """The kind that an annotation such as ``Gauge`` carries, if any."""
    for extra in getattr(annotation, "__metadata__", ()):
        if isinstance(extra, Kind):
            return extra
    return None


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
