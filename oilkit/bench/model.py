"""What a bench reading says by the model, and how that hangs on each number that can be fitted. (Lesson 11)

One reading of the model, settled, with everything absolute inside::

    gas at the pre-charge    u = charge gauge - its zero error + ambient
    gas now                  v = pressure gauge - its zero error -+ seal friction + ambient
    oil                        = gas volume * (1 - (u / v) ** (1 / index))
    rule                       = dead length + oil / (pi bore**2 / 4)
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from oilkit.bench.readings import DIRECTIONS, RULE
from oilkit.errors import of_these
from oilkit.quantities.kind import Kind
from oilkit.quantities.units import Q

EFFECTIVE_VOLUME = Kind("a gas volume", "m**3", "qt", 3, "L", 3, "Q(3, 'qt')")
FITTED_BORE = Kind("a bore", "m", "in", 3, "mm", 2, "Q(4.5, 'in')")
ZERO = Kind("a zero error of a gauge", "Pa", "psi", 2, "bar", 3, "Q(0.5, 'psi')", -1e6, 1e6)
FRICTION = Kind("a seal friction, as a pressure", "Pa", "psi", 2, "bar", 3, "Q(1, 'psi')", -1e6, 1e6)
FITTED_INDEX = Kind("a polytropic index", "dimensionless", "dimensionless", 3, "dimensionless", 3, "1.2", 0.5, 3.0)


@dataclass(frozen=True)
class Sort:
    """One number that can be fitted."""

    words: str
    kind: Kind
    unlike: Callable[[Any], float]
    """How far off somebody may be who knows only the maker's sheet and the trade, in SI, from the vessel's own SI."""
    more: str
    less: str
    ends: tuple[float, float]
    """Limits of the search: times the maker's number for gas volume and bore, else SI."""


PSI = float(Q(1, "psi").to("Pa").m)
LARGER, HIGHER, ANY = ("a larger", "a smaller"), ("a higher", "a lower"), (-1e6, 1e6)
PARAMETERS = {
    "gas_volume": Sort("gas volume", EFFECTIVE_VOLUME, lambda v: 0.25 * v.gas_volume, *LARGER, (0.05, 20.0)),
    "bore": Sort("bore", FITTED_BORE, lambda v: 0.1 * v.bore, *LARGER, (0.1, 10.0)),
    "dead_length": Sort("dead length", RULE, lambda v: 0.0254, "a longer", "a shorter", (-5.0, 5.0)),
    "charge_zero": Sort("zero error of the charge gauge", ZERO, lambda v: 5 * PSI, *HIGHER, ANY),
    "pressure_zero": Sort("zero error of the pressure gauge", ZERO, lambda v: 5 * PSI, *HIGHER, ANY),
    "friction": Sort("seal friction", FRICTION, lambda v: 5 * PSI, *HIGHER, ANY),
    "index": Sort("polytropic index", FITTED_INDEX, lambda v: 0.2, *HIGHER, (0.5, 3.0)),
}
"""What can be fitted. Each goes with the spread of an outsider's guess (estimates, no source): a quarter of the maker's
gas volume, a tenth of its bore, an inch of dead length, 5 psi at each zero and of friction, 0.2 either side of 1.2 for
the index. A parameter gets a number only if the readings narrow it to less than that."""
NAMES = tuple(PARAMETERS)


def limits(name: str, vessel: Any) -> tuple[float, float]:
    low, high = PARAMETERS[name].ends
    times = {"gas_volume": vessel.gas_volume, "bore": vessel.bore}.get(name, 1.0)
    return low * times, high * times


@dataclass(frozen=True)
class Problem:
    """One fit in SI: readings, errors, what is fixed, what is given with an error. Parameters stand as in NAMES."""

    charge: Any
    gauge: Any
    rule: Any
    drag: Any
    warm: Any
    setting: Any
    """Which setting of the pre-charge each reading belongs to."""
    ambient: float
    depth: bool
    errors: tuple[float, ...]
    """Standard errors of rule, pressure gauge and charge gauge."""
    guess: Any
    spread: Any
    free: Any
    """Places of the parameters that are not fixed."""
    prior: Any
    """Given standard errors, in spreads, for each free one; infinite where nothing is given."""
    ends: Any
    """Limits of the search, shape (2, parameters)."""

    def model(self, theta: Any, charge: Any, gauge: Any, drag: Any, warm: Any) -> tuple[Any, Any, Any, Any]:
        """Rule readings, and how they change with each parameter, with the pre-charge and with the pressure."""
        volume, bore, dead, charge_zero, pressure_zero, friction, index = theta
        u = np.maximum(charge - charge_zero + self.ambient, 1e3)
        v = np.maximum(gauge - pressure_zero - drag * friction + self.ambient, 1e3)
        power = np.where(warm, 1.0 / index, 1.0)
        moves = v > u  # else the piston rests at the oil end
        ratio = np.where(moves, u / v, 1.0)
        left = ratio**power
        sign = 1.0 if self.depth else -1.0
        length = volume / (math.pi * bore**2 / 4.0)
        share = left if self.depth else 1.0 - left
        by_u = np.where(moves, sign * length * left * power / u, 0.0)
        by_v = np.where(moves, -sign * length * left * power / v, 0.0)
        by_index = np.where(moves & warm, -sign * length * left * np.log(ratio) / index**2, 0.0)
        slopes = np.stack(
            [
                length * share / volume,
                -2.0 * length * share / bore,
                np.ones_like(u),
                -by_u,
                -by_v,
                -drag * by_v,
                by_index,
            ],
            axis=-1,
        )
        return dead + length * share, slopes, by_u, by_v

    def as_taken(self, theta: Any) -> tuple[Any, Any, Any, Any]:
        """The same for the readings that were taken."""
        return self.model(theta, self.charge, self.gauge, self.drag, self.warm)

    def at(self, theta: Any) -> tuple[Any, Any, Any]:
        """Residuals and slopes (by the free parameters, in spreads), whitened, and the matrix that colours them."""
        rule, slopes, by_u, by_v = self.as_taken(theta)
        colour = self.colour(by_u, by_v)
        white = np.linalg.inv(colour)
        return white @ (rule - self.rule), white @ (slopes[:, self.free] * self.spread[self.free]), colour

    def colour(self, by_u: Any, by_v: Any) -> Any:
        """Root of the covariance of the rule readings: own errors, and those of the gauges as they show in the rule.

        A setting of the pre-charge is read once: its error is in all readings taken at it.
        """
        rule, gauge, charge = self.errors
        together = (self.setting[:, None] == self.setting[None, :]) * np.outer(by_u, by_u) * charge**2
        return np.linalg.cholesky(together + np.diag(rule**2 + (by_v * gauge) ** 2))

    def with_one_more(self, charge: float, gauge: float, drag: float, warm: bool) -> Problem:
        """The same with a planned reading at the end; its rule reading does not matter for how well it tells."""
        return replace(
            self,
            charge=np.append(self.charge, charge),
            gauge=np.append(self.gauge, gauge),
            rule=np.append(self.rule, 0.0),
            drag=np.append(self.drag, drag),
            warm=np.append(self.warm, warm),
            setting=np.append(self.setting, self.setting[-1] + (0 if self.charge[-1] == charge else 1)),
        )

    def information(self, theta: Any, scatter: float = 1.0) -> Any:
        """What readings and given numbers together tell about the free parameters, in spreads: a matrix."""
        _, slopes, _ = self.at(theta)
        return slopes.T @ slopes / scatter**2 + np.diag(self.prior**-2.0)


def drag_of(direction: str) -> float:
    return of_these("direction", direction, DIRECTIONS)
