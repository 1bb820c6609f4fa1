"""What the kit remembers from lesson to lesson, in one small file of the learner's own: US or SI units, a name,
the folder of the lessons, and the set-up file of a car.

Each of these may be missing from the file and has then its usual value: US units, and nobody's name.
"""

from __future__ import annotations

import hashlib
import json
import os
from pathlib import Path
from typing import Any

from oilkit.storage.saving import alone, aside, write_safely


def settings_file() -> Path:
    """Where it is kept: ``OILKIT_SETTINGS`` if that is set, else a file in Jupyter's own configuration folder."""
    chosen = os.environ.get("OILKIT_SETTINGS")
    if chosen:
        return Path(chosen)
    from jupyter_core.paths import jupyter_config_dir

    return Path(jupyter_config_dir()) / "oilkit.json"


def load_units() -> tuple[str, str]:
    """The remembered system ("US" if there is none) and a sentence if the file could not be used."""
    kept, damage = _kept()
    chosen = kept.get("units", "US")
    if chosen not in ("US", "SI"):
        name = settings_file().name
        return "US", f"The file {name} asks for units {chosen!r:.40}; the kit knows US and SI and shows US units."
    return chosen, damage


def save_units(system: str) -> str:
    """Remember the system. Returns a sentence if that failed, else an empty string."""
    return _save("Your choice of units holds for this notebook but", units=system)


def load_owner() -> tuple[str, str]:
    """The remembered class and name; empty texts if there are none."""
    kept, _ = _kept()
    found = [kept.get(key, "") for key in ("class", "learner")]
    return (found[0], found[1]) if all(isinstance(name, str) for name in found) else ("", "")


def owner_digest(group: str, learner: str) -> str:
    """The same for the same two names, without the names, for the browser to keep; nothing for nobody."""
    text = "\x1f".join(" ".join(name.casefold().split()) for name in (group, learner))
    return hashlib.sha256(text.encode("utf-8")).hexdigest()[:12] if text.strip("\x1f") else ""


def owner_trouble() -> str:
    """A sentence if the file could not be used for class and name, else an empty string."""
    kept, damage = _kept()
    if all(isinstance(kept.get(key, ""), str) for key in ("class", "learner")):
        return damage
    return f"The file {settings_file().name} has a class or a name that is no text, so the kit knows none."


def save_owner(group: str, learner: str) -> str:
    """Remember class and name, as typed. Returns a sentence if that failed, else an empty string."""
    names = {
        key: " ".join(name.split()).encode("utf-8", "replace").decode("utf-8")  # half a letter has no bytes
        for key, name in (("class", group), ("learner", learner))
    }
    return _save("Class and name", **names)


def load_folder() -> str:
    """The remembered folder of the learner's lessons; an empty text if there is none."""
    return _text("lessons")


def save_folder(folder: str) -> str:
    """Remember the folder of the learner's lessons. Returns a sentence if that failed."""
    return _save("The folder of your lessons", lessons=folder)


def load_car() -> str:
    """The remembered set-up file of the learner's own car; an empty text if there is none."""
    return _text("car")


def save_car(path: str) -> str:
    """Remember the set-up file of the learner's own car. Returns a sentence if that failed."""
    return _save("Your car", car=path)


def _text(key: str) -> str:
    """A remembered text; an empty one if there is none."""
    kept, _ = _kept()
    found = kept.get(key, "")
    return found if isinstance(found, str) else ""


def _kept() -> tuple[dict[str, Any], str]:
    """What is remembered, and a sentence if the file is there and cannot be used."""
    path = settings_file()
    try:
        kept = json.loads(path.read_text(encoding="utf-8"))
        if isinstance(kept, dict):
            return kept, ""
    except FileNotFoundError:
        return {}, ""
    except (OSError, ValueError, RecursionError):
        pass
    then = f"; your next choice starts a new one and keeps this one as {aside(path)}" if path.is_file() else ""
    return {}, (
        f"The file {path.name} with your choice of units and your name cannot be read, so the kit shows US units and "
        f"knows no name{then}."
    )


def _save(what: str, **changes: str) -> str:
    """Change some of what is remembered; returns a sentence if that failed or went on without a lock."""
    path = settings_file()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with alone(path) as told:
            kept, damage = _kept()
            if damage and path.is_file():
                path.replace(aside(path))
            write_safely(path, json.dumps(kept | changes) + "\n")
    except OSError as problem:
        return f"{what} could not be remembered ({problem.strerror or type(problem).__name__})."
    return told
