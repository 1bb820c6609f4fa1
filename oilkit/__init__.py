"""oilkit: a teaching kit for the oil accumulator, the gas-charged vessel that feeds an engine when its pump cannot.

Physics, in lesson order: `oilkit.pressure` (00), `oilkit.gas` (01), `oilkit.vessel` (02). Everything listed here
takes and returns pint quantities. The instruments of the lessons are in `oilkit.panels`.
"""

from oilkit.datafiles import boyle_1662, vessels
from oilkit.gas import (
    ADIABATIC,
    ISOTHERMAL,
    gauge_used_by_mistake,
    power_law_fit,
    pressure_at_temperature,
    pressure_at_volume,
    temperature_along,
    temperature_at_pressure,
    volume_at_pressure,
)
from oilkit.pressure import (
    STANDARD_ATMOSPHERE,
    absolute_pressure,
    ambient_pressure,
    gauge_error,
    gauge_pressure,
)
from oilkit.report import report, table
from oilkit.units import InputError, Q, plain, unit_switch, ureg, use_units
from oilkit.vessel import (
    Filling,
    Vessel,
    bore_from_travel,
    fill,
    fill_fraction,
    oil_stored,
    piston_travel,
    precharge_at_temperature,
    precharge_to_set,
    rule_reading,
)

__version__ = "0.1.0"

__all__ = [
    "ADIABATIC",
    "ISOTHERMAL",
    "STANDARD_ATMOSPHERE",
    "Filling",
    "InputError",
    "Q",
    "Vessel",
    "absolute_pressure",
    "ambient_pressure",
    "bore_from_travel",
    "boyle_1662",
    "fill",
    "fill_fraction",
    "gauge_error",
    "gauge_pressure",
    "gauge_used_by_mistake",
    "oil_stored",
    "piston_travel",
    "plain",
    "power_law_fit",
    "precharge_at_temperature",
    "precharge_to_set",
    "pressure_at_temperature",
    "pressure_at_volume",
    "report",
    "rule_reading",
    "table",
    "temperature_along",
    "temperature_at_pressure",
    "unit_switch",
    "ureg",
    "use_units",
    "vessels",
    "volume_at_pressure",
]
