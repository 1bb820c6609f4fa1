"""Files that must survive: written whole or not at all, by one writer at a time, with what stood there before kept.

Whatever the kit writes goes through `write_safely`; what is read, changed and written goes through it under `alone`. At
every instant the good content stands at the file's own name, so a crash, a kill or a full disk costs at most what was
just being written, and whoever writes has then not yet been told that it is kept.
"""

from __future__ import annotations

import contextlib
import csv
import errno
import io
import os
import re
import shutil
import stat
import tempfile
import time
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from oilkit.errors import InputError
from oilkit.storage.textfile import shown

WAIT = 10.0
"""Seconds that a writer waits for another one. Writing takes thousandths of one."""
LEFT_BEHIND = 900.0
"""Seconds after which nobody can be writing an unfinished file any more."""
HELD = 60.0
"""Seconds after which a marker that stands for a lock belongs to nobody any more: its holder was stopped."""
GENERATIONS = 5
LONGEST = 240
"""Bytes of a file's name: most systems take 255, and an earlier version's name is longer than the file's own."""
LONGEST_SHOWN = 100
"""Letters of a name in a sentence."""
BEGINS, ENDS = ".oilkit-", ".part"
UNFINISHED = f"{BEGINS}*{ENDS}"
"""Files that are being written, or were when their writer was stopped."""
TRIES = 40 if os.name == "nt" else 1
"""Windows lets no file be replaced while somebody reads it: a reader is soon done."""


# ------------------------------------------------------------------------------------------------------ names of files


def named_file(typed: Path | str, *endings: str, argument: str = "") -> Path:
    """The file that a learner names, for reading and for saving alike. ``~`` is the home folder.

    argument: what an error calls it, if not by its own name. Raises `InputError` for what is no name, has none of the
    endings (in small or capital letters), is too long, or lies in a folder that is not there: the kit makes no folder
    for a name that may be a slip.
    """
    path = Path(typed.strip() if isinstance(typed, str) else typed)
    name = shown(path.name, LONGEST_SHOWN, end=True)
    argument = argument or name or "file"
    if not path.name:
        raise InputError(argument, "no name", f"the name of a file{_ending_with(endings)}")
    try:
        longest = max(len(os.fsencode(part)) for part in path.parts)
    except ValueError:
        longest = -1
    if longest < 0 or re.search(r"[\x00-\x1f\x7f]", str(path)) or _only_on_others(path):
        raise InputError(argument, f"“{name}”, which is no name of a file", "letters, digits, - and _")
    if longest > LONGEST:
        raise InputError(argument, f"a name of {longest} letters", f"one of up to {LONGEST}")
    if endings and path.suffix.lower() not in endings:
        raise InputError(argument, f"“{name}”", f"a name{_ending_with(endings)}")
    try:
        if path.parts[0] == "~" or (path.parts[0].startswith("~") and len(path.parts) > 1):
            path = path.expanduser()
        problem = _no_folder(path)
        path.exists()
    except RuntimeError:
        problem = f"there is no home folder “{shown(path.parts[0], LONGEST_SHOWN, end=True)}”"
    except OSError as refusal:
        problem = refusal.strerror or type(refusal).__name__
    if problem:
        raise InputError(
            argument, f"a file that cannot be written or read ({problem})", "a folder that is there; the kit makes none"
        )
    return path


def _ending_with(endings: tuple[str, ...]) -> str:
    return f" ending with {' or '.join(endings)}" if endings else ""


def _only_on_others(path: Path) -> bool:
    """Whether Windows would take the name for something else, such as a device or a hidden stream of another file."""
    return os.name == "nt" and bool(
        re.search(r'[<>:"|?*]|[. ]$', path.name)
        or re.fullmatch(r"(con|prn|aux|nul|com\d|lpt\d)(\..*)?", path.name, re.IGNORECASE)
    )


def _no_folder(path: Path) -> str:
    """What is wrong with the folder of a file, in a few words; an empty text if it is there."""
    for folder in (*reversed(path.parent.parents), path.parent):
        if not folder.is_dir():
            name = shown(str(folder), LONGEST_SHOWN, end=True)
            return f"“{name}” is a file, no folder" if folder.exists() else f"there is no folder “{name}”"
    return ""


def saved_where(path: Path) -> str:
    """Where a file is that was just saved, for a sentence."""
    return f"beside this lesson in {path.name}" if path.parent == Path() else f"in {path}"


# ------------------------------------------------------------------------------------------------ one writer at a time


@contextlib.contextmanager
def alone(path: Path) -> Iterator[str]:
    """Keep every other writer of the kit away from a file, in this kernel and in others, while it is read and written.

    Gives an empty text; or, in a folder in which no program can lock a file (some network folders), a sentence that
    says so: the work then goes on without. Raises `TimeoutError` with a sentence if another writer does not let go.
    """
    from filelock import FileLock, SoftFileLock, Timeout  # not before something is written

    path = _real(path)
    marker = path.with_name(f".{path.name}.held")
    _take_away_if_old(marker, HELD)
    locks = (
        FileLock(_lock_of(path), fallback_to_soft=False),
        SoftFileLock(marker),  # a file that must not be there: works where the system's locks do not
    )
    with contextlib.ExitStack() as held:
        told = f"The folder of {path.name} lets no program lock a file: have one lesson open at a time."
        for lock in locks:
            try:
                held.enter_context(lock.acquire(timeout=WAIT, poll_interval=0.01))
            except Timeout:
                raise TimeoutError(
                    errno.ETIMEDOUT,
                    f"another program has kept {path.name} for itself for {WAIT:.0f} s: close other windows of this "
                    "kit and try again",
                ) from None
            except (OSError, NotImplementedError):
                continue
            told = ""
            break
        yield told


def _lock_of(path: Path) -> Path:
    return path.with_name(f".{path.name}.lock")


def _real(path: Path) -> Path:
    """The file itself where a link leads to it: a link is not replaced by a file."""
    with contextlib.suppress(OSError, RuntimeError):
        return path.resolve()
    return path


# ------------------------------------------------------------------------------------------------------------- writing


def csv_text(rows: Iterable[Sequence[object]], separator: str = ",") -> str:
    """Rows as the text of a CSV file."""
    out = io.StringIO()
    csv.writer(out, delimiter=separator, lineterminator="\n").writerows(rows)
    return out.getvalue()


def write_safely(path: Path, content: str | bytes) -> None:
    """Write a file whole or not at all: into a neighbour first, then moved over the old file, whose rights it keeps.

    Raises `OSError` if it cannot be written; the old file then stands as it was. Its folder must be there.
    """
    with _beside(path := _real(path), content) as new:
        _move_over(new, path)


def write_keeping_earlier(path: Path, content: str, private: bool = False) -> str:
    """Write a text file, and keep another text that it held beside it: the last five, ``_earlier_1`` the newest.

    private: nobody but its owner reads a new one. Returns a sentence that names the neighbour, or an empty string.
    Raises `OSError` as `write_safely` does.
    """
    path, kept = _real(path), ""
    new_content = content.encode("utf-8", "replace")  # half a letter, which no file can hold, must not lose the rest
    with alone(path) as told, _no_litter(path):
        old = path.read_bytes() if path.is_file() else new_content
        with _beside(path, new_content, private) as new:
            if old != new_content:
                earlier = _keep_as_earlier(path, old)
                kept = f" What was saved before is in {earlier.name}."
            _move_over(new, path)
    return kept + (f" {told}" if told else "")


@contextlib.contextmanager
def _no_litter(path: Path) -> Iterator[None]:
    """Take the lock away, while it is held, from beside a learner's own file: who waits for it sees that it is gone."""
    try:
        yield
    finally:
        with contextlib.suppress(OSError):
            _lock_of(path).unlink()


def _keep_as_earlier(path: Path, content: bytes) -> Path:
    """Copy a file to its first neighbour, and move the older ones on; the sixth is given up. The file itself stays."""
    places = [path.with_name(f"{path.stem}_earlier_{k + 1}{path.suffix}") for k in range(GENERATIONS)]
    if places[0].is_file() and places[0].read_bytes() == content:
        return places[0]  # a writer was stopped after this step
    with _beside(places[0], content, private=True) as copy:
        with contextlib.suppress(OSError):
            shutil.copystat(path, copy)
        free = next((k for k, place in enumerate(places) if not place.exists()), GENERATIONS - 1)
        for k in range(free, 0, -1):
            _move_over(places[k - 1], places[k])
        _move_over(copy, places[0])
    return places[0]


def aside(path: Path) -> Path:
    """A free name beside a damaged file, under which it can be kept."""
    names = (f"{path.stem}_damaged{number}{path.suffix}" for number in ("", *(f"_{k}" for k in range(2, 1000))))
    return next((place for name in names if not (place := path.with_name(name)).exists()), path.with_suffix(".damaged"))


@contextlib.contextmanager
def _beside(path: Path, content: str | bytes, private: bool = False) -> Iterator[Path]:
    """A neighbour of a file with new content, all of it on the disk; it is gone afterwards if it was not moved.

    It has the rights of the file, or those of any new one; private: only its owner reads a new one.
    """
    if problem := _no_folder(path):
        raise FileNotFoundError(errno.ENOENT, problem)
    if path.exists() and not path.is_file():
        raise OSError(errno.EINVAL, f"{path.name} is a folder or device, no file")
    for entry in path.parent.glob(UNFINISHED):
        _take_away_if_old(entry, LEFT_BEHIND)
    number, name = tempfile.mkstemp(prefix=BEGINS, suffix=ENDS, dir=path.parent)
    neighbour = Path(name)
    try:
        with os.fdopen(number, "wb") as handle:
            handle.write(content if isinstance(content, bytes) else content.encode("utf-8"))
            handle.flush()
            os.fsync(handle.fileno())
        with contextlib.suppress(OSError):  # a folder that knows no rights
            if path.exists():
                neighbour.chmod(stat.S_IMODE(path.stat().st_mode))
            elif not private:
                neighbour.chmod(0o666 & ~_umask())
        yield neighbour
    finally:
        neighbour.unlink(missing_ok=True)


def _umask() -> int:
    """The rights that no new file gets. They can only be read by setting them: to the strictest, for an instant."""
    mask = os.umask(0o077)
    os.umask(mask)
    return mask


def _move_over(new: Path, path: Path) -> None:
    for left in reversed(range(TRIES)):
        try:
            new.replace(path)
            break
        except PermissionError:
            if not left:
                raise
            time.sleep(0.025)
    if os.name != "nt":  # so that the new name, too, outlives a power cut
        with contextlib.suppress(OSError):
            folder = os.open(path.parent, os.O_RDONLY)
            try:
                os.fsync(folder)
            finally:
                os.close(folder)


def _take_away_if_old(left: Path, age: float) -> None:
    """Take away what a killed writer left behind. Younger files may belong to one that is at work."""
    with contextlib.suppress(OSError):
        if time.time() - left.stat().st_mtime > age:
            left.unlink()
