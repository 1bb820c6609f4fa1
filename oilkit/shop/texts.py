"""Sentences and tables that stand in a TOML file beside the module that uses them. (Lesson 09)"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from oilkit.quantities.records import parse_toml
from oilkit.storage.textfile import read_text

LARGEST = 100_000
"""Bytes. The kit's own files are a few thousand."""


def beside(module: str) -> tuple[str, dict[str, Any]]:
    """Name and tables of the file beside a module (its ``__file__``). Raises `InputError`."""
    path = Path(module).with_suffix(".toml")
    like_ours = "the file that stands beside its module"
    return path.name, parse_toml(path.name, read_text(path, LARGEST, like_ours), like_ours)
