"""Where the lessons are, and a learner's own copy of them, which an update of the kit brings up to date.

A lesson in the learner's folder that was run, but whose text and code are as they were laid, follows the kit. One that
the learner has changed stays as it is, and the kit's new version is laid beside it under another name.
"""

from __future__ import annotations

import hashlib
import itertools
import json
import os
from dataclasses import dataclass
from pathlib import Path

from oilkit.errors import InputError
from oilkit.storage.saving import write_safely

PACKAGE = Path(__file__).parents[1]
LAID = ".oilkit-lessons.json"
"""In the learner's folder: digests of each file as the kit laid it, of text and code under its name and of all."""
LESSON = "[0-9][0-9]_*.ipynb"


def notebooks_folder(chosen: Path | str | None = None) -> Path:
    """Where the lessons are: the folder given, else the kit's own, else here. Raises `InputError` if nowhere."""
    own = [PACKAGE.parent / "notebooks", PACKAGE / "notebooks", Path("notebooks"), Path()]
    for folder in [Path(chosen)] if chosen is not None else own:
        if any(folder.glob(LESSON)):
            return folder
    raise InputError("notebooks", repr(str(chosen or "nothing")), "the folder with the kit's lessons")


@dataclass(frozen=True)
class LaidOut:
    """What was done in a learner's folder: file names."""

    fresh: tuple[str, ...]
    """Laid anew, or brought up to date."""
    beside: tuple[str, ...]
    """New versions of files that the learner has changed, under another name."""


def lay_out(folder: Path) -> LaidOut:
    """Put the lessons, and the pages and pictures that they show, into a folder of the learner's.

    Never touches a file whose text or code the learner has changed, or that the kit did not lay. Raises `InputError`
    where the folder is a file, `OSError` where it cannot be written.
    """
    if folder.exists() and not folder.is_dir():
        raise InputError("folder", f"a file, {folder.name}", "a folder, or a name for a new one")
    kit = notebooks_folder()
    record = folder / LAID
    laid = _digests(record)
    fresh, beside = [], []
    for source in sorted(path for path in kit.rglob("*") if path.suffix in (".ipynb", ".md", ".png")):
        name = source.relative_to(kit).as_posix()
        if any(part.startswith(".") for part in Path(name).parts):
            continue
        content, digest, target = source.read_bytes(), _digest(source), folder / name
        target.parent.mkdir(parents=True, exist_ok=True)
        there = _digest(target) if target.exists() else None
        if there is None or there == laid.get(name) != digest:
            saved = target.stat() if there and _whole(target) != laid.get(_all_of(name), _whole(target)) else None
            write_safely(target, content)
            fresh.append(name)
            if saved:  # it was run: it still counts as used, and since then
                os.utime(target, ns=(saved.st_atime_ns, saved.st_mtime_ns))
            else:
                laid[_all_of(name)] = _whole(source)
        elif there not in (digest, laid.get(name)) and laid.get(name) != digest:
            target = _free(target)
            write_safely(target, content)
            beside.append(target.name)
        laid[name] = digest
        laid.setdefault(_all_of(name), _whole(source))
    write_safely(record, json.dumps(laid, indent=1) + "\n")
    return LaidOut(tuple(fresh), tuple(beside))


def _free(taken: Path) -> Path:
    """A name beside a file that nothing has yet: ``02_filling_the_vessel (new).ipynb``, ``… (new 2).ipynb``."""
    names = ("new" if k == 1 else f"new {k}" for k in itertools.count(1))
    return next(path for name in names if not (path := taken.with_stem(f"{taken.stem} ({name})")).exists())


def where_left_off(folder: Path) -> Path:
    """The lesson that was saved last, or the first one where all are as the kit laid them."""
    laid = _digests(folder / LAID)
    lessons = [folder / path.name for path in sorted(notebooks_folder().glob(LESSON))]
    used = [path for path in lessons if _whole(path) != laid.get(_all_of(path.name))]
    return max(used, key=lambda path: path.stat().st_mtime) if used else lessons[0]


def _digests(record: Path) -> dict[str, str]:
    try:
        kept = json.loads(record.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}  # nothing laid yet, or damaged: every file counts as the learner's own
    return kept if isinstance(kept, dict) else {}


def _all_of(name: str) -> str:
    """Under which the digest of all of a file stands."""
    return f"{name}, all of it"


def _whole(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _digest(path: Path) -> str:
    """Of a notebook its text and code, without what running it changes; of any other file all."""
    content = path.read_bytes()
    if path.suffix == ".ipynb":
        try:
            cells = json.loads(content)["cells"]
            content = json.dumps([[cell["cell_type"], "".join(cell["source"])] for cell in cells]).encode()
        except (ValueError, KeyError, TypeError):
            pass  # no notebook any more: the learner's own
    return hashlib.sha256(content).hexdigest()
