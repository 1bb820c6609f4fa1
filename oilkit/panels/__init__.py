"""The lessons' instruments, one call each: a notebook cell says ``panels.filling()`` and shows it.

Modules: ``lessons.lesson_NN_topic`` holds panels of its lesson, ``framework`` what
all are made of. A panel's class says by which name it is called; its module is imported when it is first asked
for. No physics here: panels call the package.
"""

from __future__ import annotations

import gc
import pkgutil
import re
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import Any

from oilkit.panels import lessons
from oilkit.panels.framework.instrument import OPEN

NO_PANELS = {
    "exercise": ("oilkit.panels.framework.exercise", "ExercisePanel"),
    "learner": ("oilkit.panels.framework.learner", "LearnerPanel"),
    "predict": ("oilkit.panels.framework.exercise", "PredictionPanel"),
}
"""Instruments without the controls and the picture of a `Panel`."""


@cache
def _homes() -> dict[str, str]:
    """The module of each panel by the panel's name, as its class says it. Read, not imported: that takes long."""
    found: dict[str, str] = {}
    for folder in lessons.__path__:
        for module in pkgutil.iter_modules([folder]):
            text = Path(folder, f"{module.name}.py").read_text(encoding="utf-8")
            found |= dict.fromkeys(re.findall(r'^    call = "(\w+)"$', text, re.MULTILINE), module.name)
    return {name: f"{lessons.__name__}.{module}" for name, module in found.items()}


def __getattr__(name: str) -> Any:
    if name in NO_PANELS:
        home, inside = NO_PANELS[name]
        found = getattr(import_module(home), inside)
    elif name in _homes():
        module = import_module(_homes()[name])
        found = next(one for one in vars(module).values() if getattr(one, "call", None) == name)
    else:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    globals()[name] = found
    _settle()
    return found


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})


def _settle() -> None:
    """What is loaded by now stays; to search it for garbage would hold up a picture by a tenth of a second.

    Not while an instrument is open: it would stay too, closed or not.
    """
    if not OPEN:
        gc.freeze()


__all__ = sorted({*NO_PANELS, *_homes()})
_settle()
