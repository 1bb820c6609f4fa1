"""The learner's own car: the set-up that was chosen in lesson 10 for every lesson's lists. (Lesson 10)"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from oilkit.build.setup_file import Build, read_set_up
from oilkit.errors import InputError
from oilkit.storage.settings import load_car, save_car

YOURS = "your car"
LISTED = "engine", "oil", "vessel", "hose"
"""What of it stands in the lessons' lists."""


def own_car() -> Build | None:
    """The chosen set-up as its file stands now, its parts named as the learner's own; None where none was chosen.

    Raises `InputError` where the file is gone or cannot be used: the sentence names it.
    """
    chosen = load_car()
    if not chosen:
        return None
    path = Path(chosen)
    try:
        written = path.stat().st_mtime_ns
    except OSError:
        raise InputError(YOURS, f"no file {path.name} in {path.parent}", "a set-up chosen in lesson 10") from None
    return _read(path, written)


@lru_cache(maxsize=1)
def _read(path: Path, written: int) -> Build:
    build = read_set_up(path)
    return build.changed({f"{part}.name": f"{YOURS}: {getattr(build, part).name}" for part in LISTED})


def choose_car(path: Path | None) -> None:
    """Have a set-up file in every lesson's lists from now on, or none. Raises `InputError` for one of no use."""
    if path is not None:
        read_set_up(path)
    trouble = save_car(str(path.resolve()) if path else "")
    if trouble:
        raise InputError(YOURS, "a choice that could not be kept", trouble)
