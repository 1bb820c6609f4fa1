"""oilkit: a teaching kit for the oil accumulator, the gas-charged vessel that feeds an engine when its pump cannot.

`oilkit.physics`, in lesson order: `pressure` (00), `gas` (01), `vessel` (02), `precharge` (03), `line`, `tee`, `valve`
and `pan` (04), `oil`, `bearing`, `pump`, `engine` and `measure` (05), `discharging` and `dip` on `dynamics` (06),
`night`, `prelube` and `wiring` (08). `oilkit.laps`: `logfile`, `remarks`, `lap`, `cornering`, `choice` (07).
`oilkit.shop`: `set_up`, `hazards`, `commissioning` with its `procedures`, `as_built`, `acceptance` and `faults` (09).
`oilkit.build`: `setup_file`, `calibration` and `sheet` (10). `oilkit.bench`: `fit` and `planning` (11). `oilkit.audit`:
`register` (12). Everything listed here takes and returns pint quantities. Instruments are in `oilkit.panels`.
"""

from __future__ import annotations

import ast
from functools import cache
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:  # what the package offers; read by `_homes`, and each module imported when it is first asked for
    from oilkit.bench.fit import BenchFit, fit_bench
    from oilkit.bench.planning import CandidateReading, next_reading, usual_candidates
    from oilkit.bench.readings import BenchReadings, demo_bench, read_bench, write_bench
    from oilkit.build.calibration import Calibration, calibrate
    from oilkit.build.choices import WhatToBuy, what_to_buy
    from oilkit.build.comparison import input_differences, result_differences
    from oilkit.build.learned import what_readings_taught
    from oilkit.build.results import BuildSheet, Learned
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


@cache
def _homes() -> dict[str, str]:
    """What the package offers, and the module in which each is, from the imports above."""
    tree = ast.parse(Path(__file__).read_text(encoding="utf-8"))
    found = [(node.module or "", node.names) for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)]
    return {one.name: module for module, names in found if module.startswith("oilkit.") for one in names}


__all__ = sorted(_homes())


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
