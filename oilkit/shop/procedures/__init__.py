"""The procedures of commissioning, one to a module: each is found by its name. (Lesson 09)"""

from __future__ import annotations

from importlib import import_module
from pkgutil import iter_modules

from oilkit.shop.steps import Procedure

_found: list[Procedure] = [import_module(f"{__name__}.{found.name}").PROCEDURE for found in iter_modules(__path__)]
PROCEDURES = {procedure.key: procedure for procedure in sorted(_found, key=lambda procedure: procedure.place)}
"""The four procedures, by key, in the order in which a set-up meets them."""
