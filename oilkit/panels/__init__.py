"""The lessons' instruments, one call each: a notebook cell says ``panels.filling()`` and shows it.

Modules: `pressures` (lesson 00), `boyle` (01), `filling` (02) hold the panels; `questions` what a learner predicts;
`base`, `controls`, `predict`, `picture` and `drawing` what they are made of. No physics here: panels call the package.
"""

from oilkit.panels.boyle import BoyleTable as boyle_1662
from oilkit.panels.boyle import ClassReadings as class_readings
from oilkit.panels.boyle import Cylinder as cylinder
from oilkit.panels.boyle import Residuals as residuals
from oilkit.panels.filling import CheapGauge as cheap_gauge
from oilkit.panels.filling import FillingPanel as filling
from oilkit.panels.filling import FillInTime as fill_in_time
from oilkit.panels.filling import ShopToTrack as shop_to_track
from oilkit.panels.pressures import GaugeAndAbsolute as gauge_and_absolute
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
