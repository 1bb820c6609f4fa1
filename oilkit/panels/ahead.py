"""Loaded before it is asked for: the Lab extension calls this while JupyterLab is still opening the lesson."""

from __future__ import annotations

import pkgutil
from importlib import import_module

from matplotlib.artist import Artist
from matplotlib.figure import Figure

from oilkit.exercises import predictions
from oilkit.panels import NO_PANELS, lessons
from oilkit.panels.framework.picture import Picture


def load(lesson: str) -> None:
    """Import what a lesson's panels and questions are made of; lesson: its file's name without the ending."""
    prefix = f"{lessons.__name__}."
    modules = [module.name for module in pkgutil.iter_modules(lessons.__path__, prefix)]
    wanted = [name for name in modules if name.startswith(f"{prefix}lesson_{lesson[:2]}_")]
    for name in [*(home for home, _ in NO_PANELS.values()), *wanted]:
        import_module(name)
    import_module(f"{predictions.__name__}.lesson_{lesson[:2]}")
    Picture(1.0, 1.0).rebuild(_any_graph)  # matplotlib finds its fonts, and the first letters are drawn
    FIRST.get(lesson[:2], lambda: None)()


def _machine_code() -> None:
    """That of the simulation is loaded when it is first used."""
    from oilkit.laps.lap import simulate_lap, usual_installation
    from oilkit.laps.logfile import kit_lap

    simulate_lap(usual_installation(), kit_lap())


def _formulas() -> None:
    from oilkit.audit.register import register

    register()


FIRST = dict.fromkeys(("06", "07", "09", "10"), _machine_code) | {"12": _formulas}
"""What a lesson's first panel needs, and what takes long the first time. Others need it later: nobody waits then."""


def _any_graph(figure: Figure) -> list[Artist]:
    axes = figure.add_subplot(xlabel="0123456789", ylabel="abc", title="abc")
    return [*axes.plot([0.0, 1.0], [0.0, 1.0], "o-", label="abc")]
