"""The lessons' instruments, one call each: a notebook cell says ``panels.filling()`` and shows it.

Modules: `lesson_00_pressure`, `lesson_01_boyle` and `lesson_02_filling` hold the panels of their lesson; `questions`
what a learner predicts; `base`, `moving`, `controls`, `predict`, `picture` and `drawing` what all are made of. No
physics here: panels call the package.
"""

from oilkit.panels.lesson_00_pressure import GaugeAndAbsolute as gauge_and_absolute
from oilkit.panels.lesson_01_boyle import BoyleTable as boyle_1662
from oilkit.panels.lesson_01_boyle import ClassReadings as class_readings
from oilkit.panels.lesson_01_boyle import Cylinder as cylinder
from oilkit.panels.lesson_01_boyle import Residuals as residuals
from oilkit.panels.lesson_02_filling import CheapGauge as cheap_gauge
from oilkit.panels.lesson_02_filling import FillingPanel as filling
from oilkit.panels.lesson_02_filling import FillInTime as fill_in_time
from oilkit.panels.lesson_02_filling import ShopToTrack as shop_to_track
from oilkit.panels.questions import predict

__all__ = [
    "boyle_1662",
    "cheap_gauge",
    "class_readings",
    "cylinder",
    "fill_in_time",
    "filling",
    "gauge_and_absolute",
    "predict",
    "residuals",
    "shop_to_track",
]
