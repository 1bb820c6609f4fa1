"""How things stand between two steps of a procedure: where the oil is, how much gas there is, what runs, what is open.

A step changes the state, and says what comes of it if it meets something else than in the right order. (Lesson 09)
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

from oilkit.physics.discharging import LEAST_GAS
from oilkit.physics.vessel import oil_stored
from oilkit.quantities.kinds import DISTANCE, GAUGE
from oilkit.quantities.units import Q, Qty
from oilkit.shop.job import AIR, OFF, Job

HAND = 5.0
"""Seconds that a hand needs to shut again what should not have been opened (estimate, no source)."""
UNSEEN = 350.0
"""Pa, 0.05 psi: two charges that differ by less are the same on any gauge."""
CAN = float(Q(20, "qt").to("m**3").m)
"""New oil that stands ready."""
PLACES = ("can", "pan", "flight", "filter", "galleries", "line", "vessel", "waste", "floor")
"""Everywhere that oil can be: in the can before, on the floor or in the waste can after, or in the engine."""
ENGINE = PLACES[1:7]


@dataclass
class State:
    """How things stand between two steps. Plain numbers in SI; properties are quantities."""

    job: Job = field(repr=False)
    engine: str
    """``OFF``, ``IDLE``, ``FAST`` or ``RUNNING``."""
    valve_open: bool
    oil: dict[str, float]
    """In each of ``PLACES``, m3."""
    old: dict[str, float] = field(default_factory=lambda: dict.fromkeys(PLACES, 0.0), kw_only=True)
    """How much of that is old oil, m3."""
    gas: float
    """Amount of gas, as pressure times volume over temperature, Pa m3 / K."""
    kelvin: float
    """Temperature of the gas."""
    noted: float | None = None
    """Temperature on the note, if there is one."""
    charged: bool = False
    gauge_on: bool = False
    cap_on: bool = True
    tight: bool = True
    proved: bool = False
    """Whether the charge, capped, was read on another day and had lost nothing that a gauge shows."""
    marks: tuple[float, float] | None = None
    """Heights of the two marks on the dipstick: vessel full, vessel empty."""
    new_filter: bool = False
    lowest: float = math.inf
    """Gallery pressure, at the lowest, that the turning engine has had in the last step, Pa; infinite if it stood."""

    def copy(self) -> State:
        return replace(self, oil=dict(self.oil), old=dict(self.old))

    def move(self, source: str, to: str, amount: float) -> None:
        """Oil goes from one place to another, with its share of old oil; below 0 the other way."""
        if amount < 0.0:
            self.move(to, source, -amount)
            return
        share = self.old[source] / self.oil[source] if self.oil[source] > 0.0 else 0.0
        whole = amount >= self.oil[source] * (1.0 - 1e-12)
        amount = self.oil[source] if whole else amount
        aged = self.old[source] if whole else share * amount
        for kept, much in ((self.oil, amount), (self.old, aged)):
            kept[to] += much
            kept[source] = 0.0 if whole else kept[source] - much

    @property
    def gas_gauge(self) -> float:
        """Gauge pressure of the gas, Pa."""
        return float(self.gas * self.kelvin / (self.job.numbers.room - self.oil["vessel"]) - AIR)

    @property
    def gallery(self) -> float:
        """Gauge pressure in the gallery, Pa: nothing if the pump draws air."""
        return 0.0 if self.dry else float(self.job.numbers.pressure[self.engine])

    @property
    def oil_gauge(self) -> float:
        """Gauge pressure on the vessel's oil side, Pa."""
        if self.oil["vessel"] > 0.0 and not (self.valve_open and self.engine == OFF):
            return self.gas_gauge
        return self.gallery if self.valve_open else 0.0

    @property
    def level(self) -> float:
        """Of the oil in the pan, m."""
        area, depth, wide = self.job.numbers.shape  # `pan_level` without its arrays: this is called often
        pan = self.oil["pan"]
        return float(pan / area if pan <= area * depth else depth + (pan - area * depth) / wide)

    @property
    def dry(self) -> bool:
        """Whether the pump of a running engine draws air."""
        return self.engine != OFF and self.oil["pan"] <= self.job.numbers.at_pickup * (1.0 + 1e-9)

    @property
    def charge(self) -> float:
        """Gauge pressure that the gas would have in the whole vessel at working temperature, Pa: the true charge."""
        n = self.job.numbers
        return float(self.gas * n.gas_temperature / n.room - AIR)

    @property
    def old_share(self) -> float:
        """Of the oil in the engine, line and vessel."""
        return sum(self.old[p] for p in ENGINE) / max(sum(self.oil[p] for p in ENGINE), 1e-12)

    @property
    def gas_pressure(self) -> Qty:
        return GAUGE.quantity(self.gas_gauge)

    @property
    def oil_pressure(self) -> Qty:
        return GAUGE.quantity(self.oil_gauge)

    @property
    def pan_height(self) -> Qty:
        return DISTANCE.quantity(self.level)

    @property
    def true_charge(self) -> Qty:
        return GAUGE.quantity(self.charge)

    def holds(self, pressure: float) -> float:
        """Oil in the vessel once it stands at a gauge pressure: `oil_stored` with the gas that there is."""
        n = self.job.numbers
        now = self.gas * self.kelvin / n.room - AIR
        return min(float(oil_stored.si(n.room, now, pressure, resting=True)), float((1.0 - LEAST_GAS) * n.room))

    def settle(self) -> None:
        """Let the oil go where it goes by itself with the engine and the valve as they are."""
        n = self.job.numbers
        if self.engine == OFF:
            self.move("flight", "pan", self.oil["flight"])
            if self.valve_open:
                self.move("vessel", "pan", max(self.oil["vessel"] - self.holds(0.0), 0.0))
            return
        self.move("pan", "flight", min(n.flight[self.engine] - self.oil["flight"], self._spare()))
        if self.valve_open:
            self.move("pan", "line", min(n.line - self.oil["line"], self._spare()))
            self.move("pan", "vessel", min(self.holds(n.pressure[self.engine]) - self.oil["vessel"], self._spare()))

    def _spare(self) -> float:
        return max(self.oil["pan"] - float(self.job.numbers.at_pickup), 0.0)

    def falls_to(self, pressure: float) -> None:
        """The gallery of the turning engine has so little pressure, if only for a while."""
        self.lowest = min(self.lowest, pressure)

    def stop(self) -> None:
        self.engine = OFF
        self.settle()


def oil_everywhere(job: Job, **other: float) -> dict[str, float]:
    """Pan at its full mark, engine filled, line full, vessel empty, unless said otherwise."""
    n = job.numbers
    oil = dict.fromkeys(PLACES, 0.0)
    return oil | {
        "can": CAN, "pan": n.at_full, "filter": n.filter, "galleries": n.galleries, "line": n.line,
    } | other  # fmt: skip
