"""What the kit remembers from lesson to lesson, in one small file of the learner's own: US or SI units, and a name."""

from __future__ import annotations

import contextlib
import json
import os
import stat
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
    problem = _save(units=system)
    return f"Your choice of units holds for this notebook but could not be remembered ({problem})." if problem else ""


def load_owner() -> tuple[str, str]:
    """The remembered class and name; empty texts if there are none."""
    kept = _kept()
    found = [kept.get(key, "") for key in ("class", "learner")]
    return (found[0], found[1]) if all(isinstance(name, str) for name in found) else ("", "")


def save_owner(group: str, learner: str) -> str:
    """Remember class and name, as typed. Returns a sentence if that failed, else an empty string."""
    problem = _save(**{"class": " ".join(group.split()), "learner": " ".join(learner.split())})
    return f"Class and name could not be remembered ({problem})." if problem else ""


def _kept() -> dict[str, str]:
    try:
        kept = json.loads(settings_file().read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return {}
    return kept if isinstance(kept, dict) else {}


def _save(**changes: str) -> str:
    """Change some of what is remembered; returns why it failed, or an empty string."""
    try:
        write_safely(settings_file(), json.dumps(_kept() | changes) + "\n")
    except OSError as problem:
        return problem.strerror or type(problem).__name__
    return ""


def write_safely(path: Path, content: str | bytes) -> None:
    """Write a file whole or not at all: into a neighbour first, then moved over the old file, whose rights it keeps.

    Raises `OSError` if the folder cannot be written; the old file then stands as it was.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    number, name = tempfile.mkstemp(prefix=f"{path.name}.", suffix=".part", dir=path.parent)
    neighbour = Path(name)
    try:
        with os.fdopen(number, "wb") as handle:
            handle.write(content if isinstance(content, bytes) else content.encode("utf-8"))
            handle.flush()
            os.fsync(handle.fileno())
        with contextlib.suppress(FileNotFoundError):
            neighbour.chmod(stat.S_IMODE(path.stat().st_mode))
        neighbour.replace(path)
    finally:
        neighbour.unlink(missing_ok=True)


def write_beside_earlier(path: Path, text: str) -> str:
    """Write a text file, and move another text that it held to a neighbour first.

    Returns a sentence that names the neighbour, or an empty string. Raises `OSError` as `write_safely` does.
    """
    kept = ""
    if path.exists() and path.read_text(encoding="utf-8-sig", errors="replace") != text:
        earlier = path.with_name(f"{path.stem}_earlier{path.suffix}")
        path.replace(earlier)
        kept = f" What was saved before is in {earlier.name}."
    write_safely(path, text)
    return kept
