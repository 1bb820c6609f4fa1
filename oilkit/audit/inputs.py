"""What the worked engine is made of, each number with the range in which its true value may lie. (Lesson 12)"""

from __future__ import annotations

from dataclasses import dataclass

from oilkit.quantities import kinds
from oilkit.quantities.kind import Kind
from oilkit.quantities.units import Q, Qty


@dataclass(frozen=True)
class Input:
    """One number of the worked engine and the range in which its true value may lie."""

    words: str
    kind: Kind
    usual: Qty
    low: Qty
    high: Qty
    why: str
    """Where the range comes from."""

    def text(self, value: Qty) -> str:
        """A value of this input in both systems."""
        return self.kind.both(float(value.m_as(self.kind.si)))


def _input(words: str, kind: Kind, unit: str, usual: float, low: float, high: float, why: str) -> Input:
    return Input(words, kind, Q(usual, unit), Q(low, unit), Q(high, unit), why)


NO_SOURCE = "estimate, no source"
INPUTS: dict[str, Input] = {
    "altitude": _input(
        "altitude, or the weather's pressure", kinds.ALTITUDE, "m", 0, -250, 250, "weather, 3 %, from memory"
    ),
    "precharge_set": _input("pre-charge set in the shop", kinds.GAUGE, "psig", 9, 8, 10, "class 2.5 gauge, 40 psi"),
    "shop_temperature": _input("shop temperature", kinds.TEMPERATURE, "degC", 20, 17, 23, NO_SOURCE),
    "gas_temperature": _input("gas temperature", kinds.TEMPERATURE, "degC", 40, 30, 60, NO_SOURCE),
    "gas_volume": _input(
        "gas volume", kinds.VOLUME, "qt", 3, 2.85, 3.06, "2 %, its maker's; 5 % less by lesson 11's fit"
    ),
    "heat_transfer": _input(
        "heat transfer from the gas to its wall",
        kinds.HEAT_TRANSFER,
        "W/m**2/K",
        7,
        5,
        15,
        "natural convection, Churchill & Chu 1975",
    ),
    "seal_friction": _input("seal friction", kinds.DROP, "psi", 0, 0, 2, NO_SOURCE),
    "viscosity_40": _input("viscosity at 40 °C", kinds.KINEMATIC_VISCOSITY, "cSt", 68, 65, 71, NO_SOURCE),
    "viscosity_100": _input("viscosity at 100 °C", kinds.KINEMATIC_VISCOSITY, "cSt", 10.6, 9.3, 12.4, "its SAE grade"),
    "density_15": _input("density at 15 °C", kinds.DENSITY, "kg/m**3", 868, 860, 880, NO_SOURCE),
    "high_shear": _input("high-shear factor", kinds.FACTOR, "dimensionless", 0.85, 0.7, 1.0, "from memory"),
    "sump_temperature": _input("sump temperature", kinds.TEMPERATURE, "degC", 100, 95, 105, NO_SOURCE),
    "film_rise": _input("film hotter than the sump", kinds.RISE, "delta_degC", 15, 10, 20, NO_SOURCE),
    "line_temperature": _input("oil standing in the line", kinds.TEMPERATURE, "degC", 60, 40, 80, NO_SOURCE),
    "clearance_change": _input(
        "clearance of mains and rods", kinds.CLEARANCE_CHANGE, "thou", 0, -0.3, 0.3, "shop micrometer, no source"
    ),
    "eccentricity": _input("eccentricity of the mains", kinds.ECCENTRICITY, "dimensionless", 0.7, 0.6, 0.8, NO_SOURCE),
    "efficiency": _input("pump's efficiency", kinds.FACTOR, "dimensionless", 0.85, 0.8, 0.9, NO_SOURCE),
    "speed": _input("engine speed", kinds.SPEED, "rpm", 3000, 2950, 3050, "shop tachometer, no source"),
    "bore": _input("bore of the line", kinds.BORE, "in", 0.625, 0.615, 0.635, "measured to 0.01 in"),
    "length": _input("length of the line", kinds.LINE_LENGTH, "ft", 6, 5.9, 6.1, "measured to 0.1 ft"),
    "loss_coefficient": _input(
        "loss of the valve, in velocity heads", kinds.LOSS, "dimensionless", 1, 0.5, 2, NO_SOURCE
    ),
    "leak": _input("leak past the check valve at 50 psi", kinds.THROUGH_FLOW, "gpm", 0, 0, 1.5, NO_SOURCE),
    "air_in_gallery": _input("air in the gallery's oil", kinds.FRACTION, "dimensionless", 0.05, 0.01, 0.1, NO_SOURCE),
    "pump_decay": _input("the pump fades within", kinds.TIME, "s", 0.2, 0, 1, NO_SOURCE),
    "head": _input("1 g along 3 ft of line", kinds.PRESSURE_DIFFERENCE, "psi", 0, -1.1, 1.1, "rho a L"),
}
"""What the worked engine is made of, beside the bench vessel, the street V8 and the street oil of the data files."""
LIMIT = Q(20, "psig")
"""Gallery pressure that the worked engine needs: its warning pressure."""
EVENT = Q(3, "s")
"""Length of the event within which its lowest pressure is looked for."""
