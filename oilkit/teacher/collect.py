"""Learners' answers brought together: from the homes of a class server, or from files that came by mail or stick.

A file may come twice, under another name, as a copy "(1)", or grown since the last time. An answer is a line, and
lines are never changed, so all copies of a learner's file are one file: every line that any of them has.
"""

from __future__ import annotations

import os
import re
import stat
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from oilkit.errors import InputError
from oilkit.exercises.class_list import AND, pairs
from oilkit.exercises.exercise import Owner
from oilkit.exercises.progress import LARGEST, Entry, Progress, entries_of, file_name, plain_letters
from oilkit.storage.textfile import text_of
from oilkit.storage.users import LEARNERS, User, read_learners

DEEPEST = 4
"""Folders below the one that is named: a home's ``oilkit-lessons/progress`` is two below it."""
COPY = re.compile(r"[\s_-]*(\(\d+\)|- ?copy( ?\(\d+\))?|copy( ?\d+)?|_\d)$", re.IGNORECASE)
AS_IT_IS = ("O_NOFOLLOW", "O_NONBLOCK", "O_BINARY")
"""How a file is opened, as far as the system knows it: no link is followed, no pipe waited for, no line end changed."""


@dataclass(frozen=True)
class Collected:
    """What was found: each learner's file, sentences for the teacher, and sentences about what was left out."""

    files: Mapping[Owner, Path]
    """By learner, and by pair for what two have answered together: where all their lines stand now."""
    told: tuple[str, ...]
    left_out: tuple[str, ...]


def collect(owners: Sequence[Owner], source: Path, target: Path) -> Collected:
    """Bring progress files together in a folder, one for each learner, under the kit's own names.

    owners: the class list; of a class server its own. source: the folder of a class server, whose learners' homes are
    read, or one with files, or with a folder for each learner. Nothing is taken away: lines that stand in the target
    already stay. Raises `InputError` for a folder that is not there, `OSError` for what cannot be written.
    """
    if not source.is_dir():
        raise InputError("folder", repr(source.name), "the folder of a class server, or one with progress files")
    if source.resolve() == target.resolve():
        raise InputError("out", repr(target.name), "another folder than the one with the files")
    places: list[tuple[Path, Owner | None]] = [(source, None)]
    if (source / LEARNERS).is_file():
        users = [user for user in read_learners(source / LEARNERS).values() if user.learner]
        owners = [Owner(user.group, user.learner) for user in users]
        places = [*_homes(users)]
    if not owners:
        raise InputError("learners", "no names", "a text file with one name in a line, given with --learners")
    target.mkdir(parents=True, exist_ok=True)
    known = {file_name(owner): owner for owner in (*owners, *pairs(owners))}
    files: dict[Owner, Path] = {}
    told, left_out, seen = [], [], Counter[Owner]()
    for place, home_of in places:
        for path in _below(place, target.resolve()):
            within = path.relative_to(place)
            shown = (place.name / within if home_of else within).as_posix()
            owner = _whose(within, known, owners, home_of)
            try:
                entries = _read(path)
            except InputError as problem:
                if path.name.startswith("progress") or (owner and not home_of):  # and not a table of readings
                    left_out.append(f"{shown}: {problem}")
                continue
            if owner is None:
                left_out.append(f"{shown}: of nobody on the list, of several, or of another learner's home.")
                continue
            progress = Progress(owner, target)
            new, seen[owner] = progress.add_missing(entries), seen[owner] + 1
            files[owner] = progress.path
            if seen[owner] > 1 or path.name != progress.path.name:
                told.append(f"{shown} counts for {owner.learner}: {new} of its {len(entries)} lines are new.")
    in_pairs = {one for pair, both in pairs(owners).items() if pair in files for one in both}
    if missing := [owner.learner for owner in owners if owner not in files and owner not in in_pairs]:
        told.append(f"No file of {', '.join(missing)}.")
    return Collected(files, tuple(told), tuple(left_out))


def _homes(users: Iterable[User]) -> Iterator[tuple[Path, Owner]]:
    """Home and learner of every account that a class server has made."""
    import pwd

    for user in users:
        with suppress(KeyError):  # has never signed in
            yield Path(pwd.getpwnam(user.name).pw_dir), Owner(user.group, user.learner)


def _below(source: Path, target: Path) -> list[Path]:
    """Tables below a folder, the shortest names first, for copies have longer ones; links are not followed."""
    found: list[Path] = []
    for folder, names, files in os.walk(source):
        place = Path(folder)
        within = place.relative_to(source).parts
        if place.resolve() == target or len(within) > DEEPEST or any(part.startswith(".") for part in within):
            names.clear()
            continue
        found += [place / name for name in files if name.lower().endswith(".csv") and not name.startswith(".")]
    return sorted(found, key=lambda path: (path.parent, len(path.name), path.name))


def _whose(path: Path, known: Mapping[str, Owner], owners: Iterable[Owner], home_of: Owner | None) -> Owner | None:
    """By the kit's own file name, copies included; else by the home, or by the learner whose name stands in the file's
    name or its folder's. In a home nothing counts for others: anybody can name a file after a neighbor."""
    stem = path.stem
    while f"{stem}.csv" not in known and (shorter := COPY.sub("", stem)) != stem:
        stem = shorter
    owner = known.get(f"{stem}.csv")
    if home_of:
        own = owner is None or plain_letters(home_of.learner) in map(plain_letters, owner.learner.split(AND))
        return (owner or home_of) if own else None
    if owner:
        return owner
    for part in (path.stem, *reversed(path.parts[:-1])):
        words = f"-{plain_letters(part)}-"
        named = [one for one in owners if (letters := plain_letters(one.learner)) and f"-{letters}-" in words]
        if named:
            longest = max(len(plain_letters(one.learner)) for one in named)
            best = [one for one in named if len(plain_letters(one.learner)) == longest]
            return best[0] if len(best) == 1 else None
    return None


def _read(path: Path) -> list[Entry]:
    """The lines of a plain file. In a learner's home it must be theirs: a link to a neighbor's file is nobody's."""
    wanted = "a progress file of this kit"
    try:
        handle = os.open(path, os.O_RDONLY | sum(getattr(os, name, 0) for name in AS_IT_IS))
        with os.fdopen(handle, "rb") as file:
            state = os.fstat(handle)
            trusted = {state.st_uid, 0, getattr(os, "geteuid", int)()}
            if not stat.S_ISREG(state.st_mode) or path.parent.stat().st_uid not in trusted:
                raise InputError(path.name, "no plain file of its folder's owner", wanted)
            content = file.read(LARGEST + 1)
    except OSError as problem:
        raise InputError(path.name, f"a file that cannot be read ({problem.strerror})", wanted) from None
    return entries_of(path.name, text_of(content, path.name, LARGEST, wanted))
