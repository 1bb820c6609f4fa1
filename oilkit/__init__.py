"""oilkit: a teaching kit for the oil accumulator, the gas-charged vessel that feeds an engine when its pump cannot.

`oilkit.physics`, in lesson order: `pressure` (00), `gas` (01), `vessel` (02), `precharge` (03), `line`, `tee`, `valve`
and `pan` (04), `oil`, `bearing`, `pump`, `engine` and `measure` (05), `discharging` and `dip` on `dynamics` (06),
`night`, `prelube` and `wiring` (08). `oilkit.laps`: `logfile`, `remarks`, `lap`, `cornering`, `choice` (07).
`oilkit.shop`: `set_up`, `hazards`, `commissioning` with its `procedures`, `as_built`, `acceptance` and `faults` (09).
`oilkit.build`: `setup_file` and `sheet` (10). `oilkit.bench`: `fit` and `planning` (11). `oilkit.audit`: `register`
(12). Everything listed here takes and returns pint quantities. The instruments of the lessons are in `oilkit.panels`.
"""

from __future__ import annotations

import ast
from functools import cache
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:  # and read by `_homes`: each module is imported when something of it is first asked for
    from oilkit.bench.fit import BenchFit, fit_bench
    from oilkit.bench.planning import CandidateReading, next_reading, usual_candidates
    from oilkit.bench.readings import BenchReadings, demo_bench, read_bench, write_bench
    from oilkit.build.comparison import input_differences, result_differences
    from oilkit.build.results import BuildSheet
    from oilkit.build.setup_file import Build, demo_set_ups, read_set_up, set_up_from_text, write_set_up
    from oilkit.build.sheet import build_sheet
    from oilkit.build.sheet_files import sheet_html, sheet_pdf, write_sheet
    from oilkit.errors import InputError
    from oilkit.laps.choice import PrechargeMap, RobustChoice, highest_for_prelube, precharge_map, robust_choice
    from oilkit.laps.cornering import (
        Corner,
        CornerCompared,
        Starved,
        compare_laps,
        corners,
        expected_pressure,
        starved_stretches,
    )
    from oilkit.laps.lap import Lap, PickUp, simulate_lap, surface_tilt, usual_installation
    from oilkit.laps.logfile import KIT_LAP, Log, kit_lap, read_log
    from oilkit.laps.remarks import log_remarks
    from oilkit.physics.bearing import (
        crank_inward_loss,
        crank_outward_gain,
        groove_flow,
        half_groove_share,
        hole_flow,
        side_flow,
        slot_flow,
        usual_clearance,
    )
    from oilkit.physics.catalog import boyle_1662, engines, fittings, grades, hoses, lubricants, vessels
    from oilkit.physics.dip import Dip, first_dip
    from oilkit.physics.discharging import Discharge, History, Installation, discharge
    from oilkit.physics.engine import Demand, Engine, OperatingPoint, engine_demand, operating_point
    from oilkit.physics.gas import (
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
    from oilkit.physics.line import (
        Fitting,
        Hose,
        SupplyLine,
        acceleration_head,
        column_time,
        fitting_drop,
        friction_factor,
        laminar_drop,
        line_drop,
        line_volume,
        reynolds_number,
        supply_drop,
        supply_flow,
        velocity_in,
    )
    from oilkit.physics.measure import Knee, MeasuredDemand, demand_at_relief, demand_from_fall, pressure_knee
    from oilkit.physics.night import Overnight, overnight
    from oilkit.physics.oil import Grade, Lubricant, density, dynamic_viscosity, kinematic_viscosity
    from oilkit.physics.pan import OilBudget, Pan, level_in_words, oil_budget, oil_in_flight, pan_level, pan_volume
    from oilkit.physics.precharge import (
        best_precharge,
        longest_lasting_precharge,
        pressure_after,
        rule_of_thumb_pressure,
        time_to_empty,
        useful_oil,
    )
    from oilkit.physics.prelube import PreLube, Stall, pre_lube, stall
    from oilkit.physics.pressure import (
        STANDARD_ATMOSPHERE,
        absolute_pressure,
        ambient_pressure,
        gauge_error,
        gauge_pressure,
    )
    from oilkit.physics.pump import Pump, pump_efficiency, pump_flow, relief_flow
    from oilkit.physics.tee import TeeFlow, tee_flow
    from oilkit.physics.valve import (
        Element,
        check_valve_leak,
        element_drop,
        hydraulic_power,
        orifice_flow,
        unfiltered_share,
    )
    from oilkit.physics.vessel import (
        Filling,
        Vessel,
        bore_from_travel,
        fill,
        fill_fraction,
        gas_time_constant,
        oil_stored,
        piston_travel,
        precharge_at_temperature,
        precharge_to_set,
        rule_reading,
    )
    from oilkit.physics.wiring import Wiring, cable_resistance, coil_supply, valve_flow, wire_gauge_area
    from oilkit.quantities.printed import report, table
    from oilkit.quantities.units import Q, plain, unit_switch, ureg, use_units
    from oilkit.shop.acceptance import AcceptanceValue, acceptance_card
    from oilkit.shop.as_built import READINGS, SHOP_TESTS, lowest_gallery, oil_taken
    from oilkit.shop.commissioning import Played, play
    from oilkit.shop.faults import FAULTS, Bench, confusions, demo_set_up
    from oilkit.shop.hazards import BurstHose, PanFirst, burst_hose, charge_after_checks, pan_first
    from oilkit.shop.job import Job, usual_job
    from oilkit.shop.procedures import PROCEDURES
    from oilkit.shop.set_up import Condition, SetUp
    from oilkit.shop.steps import Consequence

__version__ = "0.1.0"

__all__ = [
    "ADIABATIC",
    "FAULTS",
    "ISOTHERMAL",
    "KIT_LAP",
    "PROCEDURES",
    "READINGS",
    "SHOP_TESTS",
    "STANDARD_ATMOSPHERE",
    "AcceptanceValue",
    "Bench",
    "BenchFit",
    "BenchReadings",
    "Build",
    "BuildSheet",
    "BurstHose",
    "CandidateReading",
    "Condition",
    "Consequence",
    "Corner",
    "CornerCompared",
    "Demand",
    "Dip",
    "Discharge",
    "Element",
    "Engine",
    "Filling",
    "Fitting",
    "Grade",
    "History",
    "Hose",
    "InputError",
    "Installation",
    "Job",
    "Knee",
    "Lap",
    "Log",
    "Lubricant",
    "MeasuredDemand",
    "OilBudget",
    "OperatingPoint",
    "Overnight",
    "Pan",
    "PanFirst",
    "PickUp",
    "Played",
    "PreLube",
    "PrechargeMap",
    "Pump",
    "Q",
    "RobustChoice",
    "SetUp",
    "Stall",
    "Starved",
    "SupplyLine",
    "TeeFlow",
    "Vessel",
    "Wiring",
    "absolute_pressure",
    "acceleration_head",
    "acceptance_card",
    "ambient_pressure",
    "best_precharge",
    "bore_from_travel",
    "boyle_1662",
    "build_sheet",
    "burst_hose",
    "cable_resistance",
    "charge_after_checks",
    "check_valve_leak",
    "coil_supply",
    "column_time",
    "compare_laps",
    "confusions",
    "corners",
    "crank_inward_loss",
    "crank_outward_gain",
    "demand_at_relief",
    "demand_from_fall",
    "demo_bench",
    "demo_set_up",
    "demo_set_ups",
    "density",
    "discharge",
    "dynamic_viscosity",
    "element_drop",
    "engine_demand",
    "engines",
    "expected_pressure",
    "fill",
    "fill_fraction",
    "first_dip",
    "fit_bench",
    "fitting_drop",
    "fittings",
    "friction_factor",
    "gas_time_constant",
    "gauge_error",
    "gauge_pressure",
    "gauge_used_by_mistake",
    "grades",
    "groove_flow",
    "half_groove_share",
    "highest_for_prelube",
    "hole_flow",
    "hoses",
    "hydraulic_power",
    "input_differences",
    "kinematic_viscosity",
    "kit_lap",
    "laminar_drop",
    "level_in_words",
    "line_drop",
    "line_volume",
    "log_remarks",
    "longest_lasting_precharge",
    "lowest_gallery",
    "lubricants",
    "next_reading",
    "oil_budget",
    "oil_in_flight",
    "oil_stored",
    "oil_taken",
    "operating_point",
    "orifice_flow",
    "overnight",
    "pan_first",
    "pan_level",
    "pan_volume",
    "piston_travel",
    "plain",
    "play",
    "power_law_fit",
    "pre_lube",
    "precharge_at_temperature",
    "precharge_map",
    "precharge_to_set",
    "pressure_after",
    "pressure_at_temperature",
    "pressure_at_volume",
    "pressure_knee",
    "pump_efficiency",
    "pump_flow",
    "read_bench",
    "read_log",
    "read_set_up",
    "relief_flow",
    "report",
    "result_differences",
    "reynolds_number",
    "robust_choice",
    "rule_of_thumb_pressure",
    "rule_reading",
    "set_up_from_text",
    "sheet_html",
    "sheet_pdf",
    "side_flow",
    "simulate_lap",
    "slot_flow",
    "stall",
    "starved_stretches",
    "supply_drop",
    "supply_flow",
    "surface_tilt",
    "table",
    "tee_flow",
    "temperature_along",
    "temperature_at_pressure",
    "time_to_empty",
    "unfiltered_share",
    "unit_switch",
    "ureg",
    "use_units",
    "useful_oil",
    "usual_candidates",
    "usual_clearance",
    "usual_installation",
    "usual_job",
    "valve_flow",
    "velocity_in",
    "vessels",
    "volume_at_pressure",
    "wire_gauge_area",
    "write_bench",
    "write_set_up",
    "write_sheet",
]


@cache
def _homes() -> dict[str, str]:
    """What the package offers, and the module in which each is, from the imports above."""
    tree = ast.parse(Path(__file__).read_text(encoding="utf-8"))
    found = [node for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)]
    return {one.name: node.module or "" for node in found for one in node.names if one.name in __all__}


def __getattr__(name: str) -> Any:
    """Import what is asked for, and no more: Jupyter's server loads a settings module of this package for every learner
    and needs neither units nor physics."""
    if home := _homes().get(name):
        found = globals()[name] = getattr(import_module(home), name)
        return found
    if not name.startswith("_") and find_spec(f"oilkit.{name}"):
        return import_module(f"oilkit.{name}")
    raise AttributeError(f"module 'oilkit' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
