"""numba's compiler with a store on disk that is a help and never a need.

numba alone refuses to compile where it finds no folder that can be written, and stumbles over a file that was torn by a
full disk or a switched-off machine until somebody deletes it.
"""

from __future__ import annotations

import functools
import importlib
import logging
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numba
from numba.core import config
from numba.core.caching import FunctionCache, IndexDataCacheFile


def _load_arrays() -> None:
    """Load numba's functions of arrays without scipy's linear algebra, which they import only to see if it is there.

    That costs each lesson 15 MB, and nothing compiled here needs it. Other code that does still gets it: numba asks
    again when it compiles a product of matrices.
    """
    name: Any = "scipy.linalg"
    if name in sys.modules or "numba.np.arraymath" in sys.modules:
        return
    modules: dict[str, Any] = sys.modules
    modules[name] = None  # an import of it fails at once
    try:
        importlib.import_module("numba.np.arraymath")
    finally:
        del modules[name]


_load_arrays()


def njit(cache: bool, **options: Any) -> Callable[[Any], Any]:
    """As `numba.njit`; with ``cache`` machine code is kept on disk if it can be, and compiled anew if not."""

    def compiled(function: Any) -> Any:
        dispatcher = numba.njit(**options)(function)
        if cache and dispatcher is not function:  # numba switched off gives the function itself
            try:
                dispatcher._cache = _Store(function)
            except (RuntimeError, OSError):
                _tell("no folder that can be written")
        return dispatcher

    return compiled


class _Store(FunctionCache):
    """Where one function's machine code is kept."""

    def __init__(self, function: Any) -> None:
        """numba looks at the function's own file only; what it calls in its neighbours is part of its code too."""
        super().__init__(function)
        neighbours = sorted(Path(function.__code__.co_filename).parent.glob("*.py"))
        stamp = tuple((one.name, (state := one.stat()).st_mtime, state.st_size) for one in neighbours)
        # beside the package it lies where whoever installed the kit has compiled it, for all who cannot write there
        beside = [] if config.CACHE_DIR else [str(Path(function.__code__.co_filename).parent / "__pycache__")]
        self._stores = [
            IndexDataCacheFile(cache_path=path, filename_base=self._impl.filename_base, source_stamp=stamp)
            for path in dict.fromkeys([self._cache_path, *beside])
        ]
        self._cache_file = self._stores[0]

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        for store in self._stores:
            self._cache_file = store
            try:
                if found := super().load_overload(sig, target_context):
                    return found
            except Exception:  # torn files raise all sorts of things
                continue
            finally:
                self._cache_file = self._stores[0]
        return None

    def save_overload(self, sig: Any, data: Any) -> None:
        try:
            try:
                super().save_overload(sig, data)
            except OSError:
                raise
            except Exception:  # a torn index
                self.flush()
                super().save_overload(sig, data)
        except OSError as problem:
            _tell(problem.strerror or type(problem).__name__)


@functools.cache
def _tell(why: str) -> None:
    """Say it once."""
    logging.getLogger("oilkit").warning(
        "oilkit: the compiled simulation cannot be kept on disk (%s). It is compiled anew each time, which takes half "
        "a minute or more.",
        why,
    )
