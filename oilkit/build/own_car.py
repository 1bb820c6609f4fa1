"""The learner's own car: the set-up that was chosen in lesson 10 for every lesson's lists. (Lesson 10)"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from pathlib import Path

from oilkit.build.calibration import asked_of, calibrate
from oilkit.build.setup_file import Build, read_set_up
from oilkit.errors import InputError
from oilkit.quantities.units import Q
from oilkit.storage.settings import load_car, save_car

YOURS = "your car"
LISTED = "engine", "oil", "vessel", "hose"
"""What of it stands in the lessons' lists."""
APART = (
    f"{YOURS.capitalize()}'s readings contradict each other or what was typed: its engine stands here as typed; "
    "trust no number of it until you have read again in lesson 10."
)


def own_car() -> Build | None:
    """The chosen set-up as its file stands now, its parts named as the learner's own; None where none was chosen.

    Its engine is the most likely one by the readings in the file, or as typed where these contradict each other or what
    was typed (`remark_on`); with the file's change of clearance in it.

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
    typed = read_set_up(path)
    build = typed.changed({f"{part}.name": f"{YOURS}'s {part}: {getattr(typed, part).name}" for part in LISTED})
    found = calibrate(build)
    if found.together:
        return _as_it_is(found.in_use)
    return _as_it_is(build.changed({"engine.name": f"{YOURS}'s engine, as typed: {typed.engine.name}"}))


def remark_on(car: Build) -> str:
    """What is to be said beside a list with this own car in it: where its engine is as typed in spite of readings."""
    return APART if car.known is None and asked_of(car) else ""


def _as_it_is(build: Build) -> Build:
    """The same with the change of clearance in the engine's own numbers: lessons begin with a change of none."""
    change, engine = build.driving.clearance_change, build.engine
    worn = {
        name: part.changed(diametral_clearance=part.diametral_clearance + change)
        for name, part in (("mains", engine.mains), ("rods", engine.rods))
    }
    driving = build.driving.changed(clearance_change=Q(0, "thou"))
    return replace(build, engine=engine.changed(**worn), driving=driving)


def own_file() -> Path:
    """The file of the learner's own car. Raises `InputError` where none was chosen."""
    chosen = load_car()
    if not chosen:
        raise InputError(YOURS, "none chosen yet", "one saved in lesson 10 with the button Use in every lesson")
    return Path(chosen)


def choose_car(path: Path | None) -> None:
    """Have a set-up file in every lesson's lists from now on, or none. Raises `InputError` for one of no use."""
    if path is not None:
        read_set_up(path)
    trouble = save_car(str(path.resolve()) if path else "")
    if trouble:
        raise InputError(YOURS, "a choice that could not be kept", trouble)
