"""A learner's text file, opened and read in one place, so that each reader refuses the same things the same way.

A name that is none, no file, a folder, a pipe or a device (which could keep a lesson waiting for ever), no rights, too
large, not UTF-8: each is one `InputError`. Nothing is opened that is not a plain file.
"""

from __future__ import annotations

import stat
from pathlib import Path
from typing import BinaryIO

from oilkit.errors import InputError, cut

LARGEST = 1_000_000
"""Bytes of what somebody typed or read off: readings, a table of data, a class list. Most have a few thousand, and a
class that reads all year stays below."""


def shown(text: str, most: int = 60, end: bool = False) -> str:
    """What came from a file, for an error sentence: on one line, not long, and without what moves the cursor.

    end: of a long one its end, which of a file's name tells more.
    """
    line = "".join(c if c.isprintable() else "?" for c in " ".join(text.split()))
    return f"…{line[1 - most :]}" if end and len(line) > most else cut(line, most)


def shown_name(path: Path | str) -> str:
    """A file's name for an error sentence."""
    return shown(Path(path).name) or "file"


def stamp(path: Path | str) -> tuple[int, int] | None:
    """When a plain file was changed, and its size; None if there is none. Two that are alike need no second reading."""
    try:
        state = Path(path).stat()
    except (OSError, ValueError):
        return None
    return (state.st_mtime_ns, state.st_size) if stat.S_ISREG(state.st_mode) else None


def opened(path: Path | str, largest: int, wanted: str) -> BinaryIO:
    """A plain file of up to so many bytes, open for reading. wanted: such as "a CSV file". Raises `InputError`."""
    path, name = Path(path), shown_name(path)
    try:
        state = path.stat()
        if stat.S_ISREG(state.st_mode):
            check_size(name, state.st_size, largest, wanted)
            return path.open("rb")
    except (OSError, ValueError) as problem:
        if isinstance(problem, InputError):
            raise
        missing = isinstance(problem, FileNotFoundError | NotADirectoryError)
        reason = getattr(problem, "strerror", None) or "its name is no name"
        got = f"a file that cannot be read ({'no such file' if missing else reason})"
        raise InputError(name, got, f"{wanted} in this lesson's folder, or its full path") from None
    got = "a folder" if stat.S_ISDIR(state.st_mode) else "a pipe or a device"
    raise InputError(name, f"{got}, which cannot be read as a file", wanted)


def check_size(name: str, size: int, largest: int, wanted: str) -> None:
    """Raise `InputError` for more bytes than so many."""
    if size > largest:
        raise InputError(name, f"{_bytes(size)} of text, more than {_bytes(largest)}", wanted)


def _bytes(size: int) -> str:
    return f"{size / 1e6:.3g} MB" if size >= 1_000_000 else f"{size / 1e3:.4g} kB"


def read_text(path: Path | str, largest: int, wanted: str) -> str:
    """The whole text of a plain file of up to so many bytes, in UTF-8. Raises `InputError`."""
    name = shown_name(path)
    with opened(path, largest, wanted) as file:
        try:
            content = file.read(largest + 1)
        except OSError as problem:
            raise InputError(name, f"a file that cannot be read ({problem.strerror})", wanted) from None
    return text_of(content, name, largest, wanted)


def text_of(content: bytes, name: str, largest: int, wanted: str) -> str:
    """The text of bytes that came from a file, or some other way such as an upload. Raises `InputError`."""
    check_size(name, len(content), largest, wanted)
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = content[: problem.start].count(b"\n") + 1
        raise InputError(name, f"bytes in line {line} that are not UTF-8 text", wanted) from None
