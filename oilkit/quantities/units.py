"""Units: one registry, gauge and absolute pressure kept apart, and the one switch between US and SI.

Why gauge and absolute are two dimensions here
----------------------------------------------
A dial shows *gauge* pressure, a gas law wants *absolute* pressure, and mixing them is the classic mistake of this
trade. Offset units (a ``psig`` defined as psi plus 14.7) look like the answer and are not: the offset is frozen at sea
level, ``10 psig * 2`` and ``psig - psi`` give numbers that mean something else, and a product quietly turns absolute.
So the registry has two marks, ``gauge_mark`` and ``absolute_mark``, each a dimension of its own, and the units
``psig``, ``barg``, ``kPag``, ``Pag`` and ``psia``, ``bara``, ``kPaa``, ``Paa`` carry them. Adding, comparing or
converting a gauge and an absolute pressure then fails in pint itself, at any altitude; the way across is
`oilkit.physics.pressure.absolute_pressure` and back, which ask for the ambient pressure. A bare ``psi`` is a pressure
*difference*: a function that wants a gauge or an absolute pressure refuses it.

A turn of a shaft is a dimension for the same reason: ``rev`` and ``rpm`` are the kit's own, so that a pump's
displacement per revolution times its speed is a flow, and a frequency in hertz is not taken for a speed in rad/s.
"""

from __future__ import annotations

import shutil
import warnings
import weakref
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Protocol, TypeAlias

import numpy as np
import pint
from pint.facets.plain import PlainQuantity

from oilkit.errors import InputError
from oilkit.storage import settings

Qty: TypeAlias = PlainQuantity[Any]
"""A pint quantity: a number or a numpy array with its unit."""


def _registry() -> pint.UnitRegistry[Any]:
    """pint's units, from what it kept beside this module when it read its long list of them for the first time."""
    kept = Path(__file__).with_name("__pycache__") / f"pint-{pint.__version__}"
    try:
        return pint.UnitRegistry(cache_folder=kept)
    except Exception:  # a folder that cannot be written, and torn files, which raise all sorts of things
        shutil.rmtree(kept, ignore_errors=True)
        return pint.UnitRegistry()


ureg: pint.UnitRegistry[Any] = _registry()
ureg.define("gauge_mark = [gauge_pressure]")
ureg.define("absolute_mark = [absolute_pressure]")
for _unit in ("psi", "bar", "kPa", "Pa"):
    ureg.define(f"{_unit}g = {_unit} * gauge_mark")
    ureg.define(f"{_unit}a = {_unit} * absolute_mark")
ureg.define("rev = [shaft_rotation]")  # pint's own revolution is 2 pi and no dimension: 1 in3/rev would shrink by 6.28
ureg.define("rpm = rev / minute")
ureg.define("gpm = gallon / minute")
ureg.define("Lpm = liter / minute")
pint.set_application_registry(ureg)

Q = ureg.Quantity
"""Make a quantity: ``Q(3, "qt")``, ``Q(10, "psig")``, ``Q(68, "degF")``."""


def _made_again(number: Any, units: Any) -> Qty:
    return Q(number, units)


Q.__reduce__ = lambda self: (_made_again, (self.magnitude, self._units))  # type: ignore[method-assign, assignment, return-value]
"""A pickled quantity names this module, so that whoever unpickles it gets this registry, imported by then or not."""


def what_came(value: Any) -> str:
    """A value that is no quantity, for an error sentence."""
    if isinstance(value, str):
        return f"the text {value!r}"
    if value is None or isinstance(value, bool):
        return repr(value)
    if isinstance(value, int | float | np.number):
        return f"the bare number {value:g}"
    if isinstance(value, np.ndarray):
        return f"an array of {value.size} bare numbers"
    return short_text(value) if isinstance(value, PlainQuantity) else f"a {type(value).__name__}"


# ---------------------------------------------------------------------------------------------- US or SI on display


class Follower(Protocol):
    """Something that redraws itself when the learner switches units."""

    def units_changed(self) -> None: ...


class UnitSwitch:
    """The kit's one switch between US shop units and SI units. It changes what is shown, never what is computed."""

    systems = ("US", "SI")

    def __init__(self) -> None:
        self._system: str | None = None
        self._on_file = ""
        self._followers: weakref.WeakSet[Any] = weakref.WeakSet()
        self.trouble = ""

    @property
    def system(self) -> str:
        """ "US" or "SI": remembered from lesson to lesson."""
        if self._system is None:
            self._system, self.trouble = settings.load_units()
            self._on_file = self._system
        return self._system

    def look_again(self) -> None:
        """Follow a choice that was made in another lesson since."""
        here = self.system
        chosen, trouble = settings.load_units()
        if chosen != self._on_file and not trouble:
            self._on_file = chosen
            if chosen != here:
                self._show(chosen)

    def choose(self, system: str) -> None:
        """Show everything in the given system from now on; every open panel of this notebook follows."""
        if system not in self.systems:
            raise InputError("units", repr(system), "US or SI")
        if system == self.system:
            return
        self.trouble = settings.save_units(system)
        self._on_file = self._on_file if self.trouble else system
        self._show(system)

    def _show(self, system: str) -> None:
        self._system = system
        for follower in list(self._followers):
            follower.units_changed()

    def follow(self, follower: Follower) -> None:
        """Tell this object of every change. The switch holds it weakly: a closed panel is forgotten."""
        self._followers.add(follower)

    def forget(self, follower: Follower) -> None:
        self._followers.discard(follower)


unit_switch = UnitSwitch()


@contextmanager
def shown_in(system: str | None) -> Iterator[None]:
    """Show US or SI for a while, without changing what the kit remembers of the learner's choice."""
    before = unit_switch.system
    if system is not None and system != before:
        unit_switch._show(system)
    try:
        yield
    finally:
        if unit_switch.system != before:
            unit_switch._show(before)


def use_units(system: str) -> None:
    """Switch the whole kit to ``"US"`` (psi, qt, in) or ``"SI"`` (bar, L, mm) and remember it for the other lessons.

    Raises `InputError` for anything else; warns if the choice holds here but could not be remembered.
    """
    unit_switch.choose(system)
    if unit_switch.trouble:
        warnings.warn(unit_switch.trouble, stacklevel=2)


def short_text(quantity: Qty) -> str:
    """A quantity as it came, for an error sentence."""
    numbers = np.ravel(quantity.magnitude)
    if numbers.size != 1:
        return f"{numbers.size} values in {quantity.units:~}"
    if numbers.dtype.kind not in "iuf":
        return f"a {type(numbers[0]).__name__} in {quantity.units:~}"
    return f"{float(numbers[0]):g} {quantity.units:~}".rstrip()


def plain(pressure: Qty) -> Qty:
    """Take the gauge or absolute mark off a pressure, for arithmetic that needs ordinary pressure units.

    ``plain(Q(24.7, "psia")) * Q(3, "qt")`` is an energy. You drop the protection knowingly; nothing in the kit does
    it for you. Raises `InputError` if what comes is not a pressure with its mark.
    """
    for mark in ("gauge_mark", "absolute_mark"):
        if isinstance(pressure, PlainQuantity) and pressure.is_compatible_with(f"Pa * {mark}"):
            return Q(pressure.to(f"Pa * {mark}").magnitude, "Pa").to("psi")
    got = short_text(pressure) if isinstance(pressure, PlainQuantity) else f"a {type(pressure).__name__}"
    raise InputError("pressure", got, "a gauge or absolute pressure, such as Q(24.7, 'psia')")
