"""Loaded before it is asked for: the Lab extension calls this while JupyterLab is still opening the lesson."""

from __future__ import annotations

import pkgutil
import sys
from importlib import import_module

from oilkit.panels import NO_PANELS, lessons


def load(lesson: str) -> None:
    """Import what a lesson's panels and questions are made of; lesson: its file's name without the ending."""
    prefix = f"{lessons.__name__}."
    modules = [module.name for module in pkgutil.iter_modules(lessons.__path__, prefix)]
    wanted = [name for name in modules if name.startswith(f"{prefix}lesson_{lesson[:2]}_")]
    for name in [*(home for home, _ in NO_PANELS.values()), *wanted]:
        import_module(name)
    if "oilkit.laps.lap" in sys.modules:  # its machine code is loaded when it is first used
        from oilkit.laps.lap import simulate_lap, usual_installation
        from oilkit.laps.logfile import kit_lap

        simulate_lap(usual_installation(), kit_lap())
