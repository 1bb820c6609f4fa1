"""The one thing the kit remembers from lesson to lesson: US or SI units, in one small file of the learner's own."""

from __future__ import annotations

import json
import os
import tempfile
from pathlib import Path


def settings_file() -> Path:
    """Where it is kept: ``OILKIT_SETTINGS`` if that is set, else a file in Jupyter's own configuration folder."""
    chosen = os.environ.get("OILKIT_SETTINGS")
    if chosen:
        return Path(chosen)
    from jupyter_core.paths import jupyter_config_dir

    return Path(jupyter_config_dir()) / "oilkit.json"


def load_units() -> tuple[str, str]:
    """The remembered system ("US" if there is none) and a sentence if the file could not be used."""
    path = settings_file()
    try:
        kept = json.loads(path.read_text(encoding="utf-8"))["units"]
    except FileNotFoundError:
        return "US", ""
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return "US", f"The file {path.name} with your choice of units cannot be read, so the kit shows US units."
    if kept not in ("US", "SI"):
        return "US", f"The file {path.name} asks for units {kept!r}; the kit knows US and SI and shows US units."
    return kept, ""


def save_units(system: str) -> str:
    """Remember the system. Returns a sentence if that failed, else an empty string."""
    path = settings_file()
    try:
        write_safely(path, json.dumps({"units": system}) + "\n")
    except OSError as problem:
        reason = problem.strerror or type(problem).__name__
        return f"Your choice of units holds for this notebook but could not be remembered ({reason})."
    return ""


def write_safely(path: Path, text: str) -> None:
    """Write a text file whole or not at all: into a neighbour first, then moved over the old file.

    Raises `OSError` if the folder cannot be written; the old file then stands as it was.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    number, name = tempfile.mkstemp(prefix=f"{path.name}.", suffix=".part", dir=path.parent)
    neighbour = Path(name)
    try:
        with os.fdopen(number, "w", encoding="utf-8", newline="\n") as handle:
            handle.write(text)
            handle.flush()
            os.fsync(handle.fileno())
        neighbour.replace(path)
    finally:
        neighbour.unlink(missing_ok=True)
