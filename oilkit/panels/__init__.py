"""The lessons' instruments, one call each: a notebook cell says ``panels.filling()`` and shows it.

Modules: ``lesson_NN_topic`` holds the panels of its lesson; `base`, `moving`, `controls`, `exercise`, `picture`,
`drawing` and `vessel_view` are what all are made of. No physics here: panels call the package.
"""

import gc

from oilkit.panels.framework.exercise import ExercisePanel as exercise
from oilkit.panels.framework.exercise import LearnerPanel as learner
from oilkit.panels.framework.exercise import PredictionPanel as predict
from oilkit.panels.lessons.lesson_00_pressure import GaugeAndAbsolute as gauge_and_absolute
from oilkit.panels.lessons.lesson_01_boyle import BoyleTable as boyle_1662
from oilkit.panels.lessons.lesson_01_boyle import ClassReadings as class_readings
from oilkit.panels.lessons.lesson_01_boyle import Cylinder as cylinder
from oilkit.panels.lessons.lesson_01_boyle import Residuals as residuals
from oilkit.panels.lessons.lesson_02_filling import CheapGauge as cheap_gauge
from oilkit.panels.lessons.lesson_02_filling import FillingPanel as filling
from oilkit.panels.lessons.lesson_02_filling import FillInTime as fill_in_time
from oilkit.panels.lessons.lesson_02_filling import ShopToTrack as shop_to_track
from oilkit.panels.lessons.lesson_03_precharge import OneLongEvent as one_long_event
from oilkit.panels.lessons.lesson_03_precharge import PressuresNeeded as pressures_needed
from oilkit.panels.lessons.lesson_03_precharge import UsefulOil as useful_oil
from oilkit.panels.lessons.lesson_04_line import LineOnTheMove as line_on_the_move
from oilkit.panels.lessons.lesson_04_line import OilBudgetPanel as oil_budget
from oilkit.panels.lessons.lesson_04_line import OilLine as oil_line
from oilkit.panels.lessons.lesson_04_line import Tee as tee
from oilkit.panels.lessons.lesson_05_engine import DemandLedger as demand_ledger
from oilkit.panels.lessons.lesson_05_measuring import MeasureByFall as measure_by_fall
from oilkit.panels.lessons.lesson_05_measuring import MeasureByPump as measure_by_pump
from oilkit.panels.lessons.lesson_05_oil_and_bearing import BearingFlow as bearing_flow
from oilkit.panels.lessons.lesson_05_oil_and_bearing import OilThickness as oil_thickness
from oilkit.panels.lessons.lesson_06_discharge import DipMicroscope as dip_microscope
from oilkit.panels.lessons.lesson_06_discharge import HowItEnds as how_it_ends
from oilkit.panels.lessons.lesson_06_discharge import PumpLetsGo as pump_lets_go
from oilkit.panels.lessons.lesson_07_lap import LapPanel as lap
from oilkit.panels.lessons.lesson_07_lap import OwnLog as own_log
from oilkit.panels.lessons.lesson_07_lap import PrechargeMapPanel as precharge_map
from oilkit.panels.lessons.lesson_07_lap import RobustChoicePanel as robust_choice
from oilkit.panels.lessons.lesson_08_prelube import OvernightPanel as overnight
from oilkit.panels.lessons.lesson_08_prelube import PreLubePanel as pre_lube
from oilkit.panels.lessons.lesson_08_prelube import ValveWiring as valve_wiring
from oilkit.panels.lessons.lesson_09_commissioning import Commissioning as commissioning
from oilkit.panels.lessons.lesson_09_commissioning import GaugeChecks as gauge_checks
from oilkit.panels.lessons.lesson_09_fault_bench import FaultBenchPanel as fault_bench
from oilkit.panels.lessons.lesson_09_proof import AcceptancePanel as acceptance
from oilkit.panels.lessons.lesson_10_your_engine import CompareSetUps as compare_set_ups
from oilkit.panels.lessons.lesson_10_your_engine import YourEngine as your_engine
from oilkit.panels.lessons.lesson_11_bench import BenchFitPanel as bench_fit
from oilkit.panels.lessons.lesson_11_bench import NextReadingPanel as next_reading
from oilkit.panels.lessons.lesson_12_audit import HowExact as how_exact
from oilkit.panels.lessons.lesson_12_audit import RegisterBrowser as register
from oilkit.panels.lessons.lesson_12_audit import WhatMoves as what_moves

NO_PANELS = ("exercise", "learner", "predict")
"""Instruments without the controls and the picture of a `Panel`."""

gc.freeze()  # what is loaded by now stays; to search it for garbage would hold up a picture by a tenth of a second

__all__ = [
    "acceptance",
    "bearing_flow",
    "bench_fit",
    "boyle_1662",
    "cheap_gauge",
    "class_readings",
    "commissioning",
    "compare_set_ups",
    "cylinder",
    "demand_ledger",
    "dip_microscope",
    "exercise",
    "fault_bench",
    "fill_in_time",
    "filling",
    "gauge_and_absolute",
    "gauge_checks",
    "how_exact",
    "how_it_ends",
    "lap",
    "learner",
    "line_on_the_move",
    "measure_by_fall",
    "measure_by_pump",
    "next_reading",
    "oil_budget",
    "oil_line",
    "oil_thickness",
    "one_long_event",
    "overnight",
    "own_log",
    "pre_lube",
    "precharge_map",
    "predict",
    "pressures_needed",
    "pump_lets_go",
    "register",
    "residuals",
    "robust_choice",
    "shop_to_track",
    "tee",
    "useful_oil",
    "valve_wiring",
    "what_moves",
    "your_engine",
]
