"""Learners' answers found and brought together: in homes of a class server, or in files that came by mail or stick.

A file may come twice, under another name, as a copy "(1)", or grown since the last time. All copies of a learner's file
are one file: every line that any of them has. The mark book reads answers by `gather`, and `collect` stores them.
"""

from __future__ import annotations

import os
import re
import stat
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from oilkit.errors import InputError
from oilkit.exercises.class_list import AND, pairs
from oilkit.exercises.exercise import NOBODY, RIGHT, Owner
from oilkit.exercises.judged_again import fits
from oilkit.exercises.progress import LARGEST, Entry, Progress, entries_of, file_name, plain_letters, united
from oilkit.storage.saving import LONGEST
from oilkit.storage.textfile import shown, text_of
from oilkit.storage.users import LEARNERS, User, read_learners
from oilkit.teacher.sheets import called

DEEPEST = 4
"""Folders below the one that is named: a home's ``oilkit-lessons/progress`` is two below it."""
TRIED = 6
"""Answers by which it is found out whose numbers they belong to."""
OWN_NAME = re.compile(r"progress[a-z0-9-]*-\d{5}(?!\d)")
"""The kit's own name for a file, inside what a copy is called."""
AS_IT_IS = ("O_NOFOLLOW", "O_NONBLOCK", "O_BINARY")
"""How a file is opened, as far as the system knows it: no link is followed, no pipe waited for, no line end changed."""
WANTED = "a progress file of this kit"


@dataclass
class Found:
    """Whose answers were found."""

    owners: Sequence[Owner]
    """The class list; of a class server its own."""
    both: Mapping[Owner, tuple[Owner, Owner]]
    """Every pair of the class as one learner, and the two in it."""
    lines: dict[Owner, list[Entry]] = field(default_factory=dict)
    """By learner, and by pair for what two have answered together: every line that any of their files has."""
    told: list[str] = field(default_factory=list)
    """What a teacher should know."""
    left_out: list[str] = field(default_factory=list)
    """A sentence for each file that cannot be used, or is of nobody on the list."""
    unread: set[Owner] = field(default_factory=set)
    """Learners of whom a file cannot be used."""

    def members(self, owner: Owner) -> tuple[Owner, ...]:
        """For whom a learner's or a pair's answers count."""
        return self.both.get(owner, (owner,))


def gather(owners: Sequence[Owner], source: Path | str, apart: Path | None = None) -> Found:
    """Read every progress file in a folder and those below it.

    source: the folder of a class server, whose learners' homes are read, or one with files, or with a folder for each
    learner. apart: a folder below it that is left out. Raises `InputError` for a folder that is not there, and where
    neither a class list nor a class server says who learns.
    """
    source = Path(source)
    if not source.is_dir():
        raise InputError("folder", repr(source.name), "the folder of a class server, or one with progress files")
    places: list[tuple[Path, Owner | None]] = [(source, None)]
    if (source / LEARNERS).is_file():
        users = [user for user in read_learners(source / LEARNERS).values() if user.learner]
        owners = [Owner(user.group, user.learner) for user in users]
        places = [*_homes(users)]
    if not owners:
        raise InputError("learners", "no names", "a text file with one name in a line, given with --learners")
    found = Found(owners, pairs(owners))
    named = {owner: file_name(owner) for owner in (*found.both, *owners)}
    for place, home_of in places:
        known = _known(found, named, home_of)
        closed: list[OSError] = []
        for path in _below(place, apart.resolve() if apart else None, closed):
            _take(found, known, place, path, home_of)
        for problem in closed:
            within = Path(problem.filename).relative_to(place)
            name = shown((place.name / within).as_posix(), LONGEST)
            found.left_out.append(f"{name}: a folder that cannot be read ({problem.strerror}).")
            found.unread |= {home_of} if home_of else set()
    answered = {one for owner in found.lines for one in found.members(owner)} | found.unread
    if missing := [called(owner) for owner in owners if owner not in answered]:
        found.told.append(f"No file yet: {', '.join(missing)}.")
    return found


def _known(found: Found, named: Mapping[Owner, str], home_of: Owner | None) -> dict[str, Owner]:
    """Learners and pairs by the kit's own file name. Letters other than A to Z leave five digits of it, so some pairs
    share one: in a home it is that of the learner's own pair, elsewhere nobody's.
    """
    often = Counter(named.values())
    own = {named[pair]: pair for pair, both in found.both.items() if home_of in both}
    others = {named[pair]: pair for pair in found.both if home_of or often[named[pair]] == 1}
    return others | own | {named[owner]: owner for owner in found.owners}


def _take(found: Found, known: Mapping[str, Owner], place: Path, path: Path, home_of: Owner | None) -> None:
    """One file's lines, for whom they count."""
    within = path.relative_to(place)
    name = shown((place.name / within if home_of else within).as_posix(), LONGEST)
    owner, own_name = _whose(within, known, found.owners, home_of)
    try:
        entries = _read(path, name)
    except InputError as problem:
        # not a table of readings: it says so, or bears a learner's name, or has the right columns and a damaged line
        if "progress" in path.name.lower() or (owner and not home_of) or problem.argument != name:
            found.left_out.append(str(problem))
            found.unread |= {*found.members(owner)} if owner else set()
        return
    if owner is None:
        found.left_out.append(f"{name}: {_of_nobody(found, entries, home_of)}")
        return
    before = found.lines.get(owner)
    found.lines[owner] = united(before or [], entries)
    if before is not None or not own_name:
        new = len(found.lines[owner]) - len(before or [])
        found.told.append(f"{name} counts for {called(owner)}: {new} of its {len(entries)} lines are new.")


def _of_nobody(found: Found, entries: Iterable[Entry], home_of: Owner | None) -> str:
    if home_of:
        return f"of another learner than {home_of.learner}, whose home it is in."
    right = [entry for entry in entries if entry.mark == RIGHT][:TRIED]
    whose = [called(owner) for owner in fits(right, (*found.owners, NOBODY))[:3]]
    like = f" Its answers fit the numbers of {' or '.join(whose)}." if whose else ""
    return f"of nobody on the list (a class or name typed otherwise, or renamed?), or of several.{like}"


def collect(found: Found, target: Path) -> dict[Owner, Path]:
    """Store each learner's lines in a folder under the kit's own name; lines that stand there already stay.

    Returns where all lines of each now stand. Raises `OSError` for what cannot be written.
    """
    target.mkdir(parents=True, exist_ok=True)
    files = {owner: Progress(owner, target) for owner in found.lines}
    for owner, progress in files.items():
        progress.add_missing(found.lines[owner])
    return {owner: progress.path for owner, progress in files.items()}


def _homes(users: Iterable[User]) -> Iterator[tuple[Path, Owner]]:
    """Home and learner of every account that a class server has made."""
    import pwd

    for user in users:
        with suppress(KeyError):  # has never signed in
            yield Path(pwd.getpwnam(user.name).pw_dir), Owner(user.group, user.learner)


def _below(source: Path, apart: Path | None, closed: list[OSError]) -> list[Path]:
    """Tables below a folder, the shortest names first, for copies have longer ones; links are not followed.

    closed: gets what is raised for a folder that cannot be read.
    """

    def passed_over(place: Path) -> bool:
        within = place.relative_to(source).parts
        return place.resolve() == apart or len(within) > DEEPEST or any(part.startswith(".") for part in within)

    def refused(problem: OSError) -> None:
        if not passed_over(Path(problem.filename)):
            closed.append(problem)

    found: list[Path] = []
    for folder, names, files in os.walk(source, onerror=refused):
        place = Path(folder)
        if passed_over(place):
            names.clear()
            continue
        there = (name for name in (*names, *files) if not name.startswith("."))  # such as a copier's own
        found += [place / name for name in there if name.lower().endswith(".csv")]
    return sorted(found, key=lambda path: (path.parent, len(path.name), path.name))


def _whose(
    path: Path, known: Mapping[str, Owner], owners: Iterable[Owner], home_of: Owner | None
) -> tuple[Owner | None, bool]:
    """By the kit's own file name, copies included; else by the home, or by the learner whose name stands in the file's
    name or its folder's. In a home nothing counts for others: anybody can name a file after a neighbor.

    And whether it has the kit's own name.
    """
    stem = path.stem.casefold()
    names = [f"{part}.csv" for part in (stem, *OWN_NAME.findall(stem))]
    owner = next((known[name] for name in names if name in known), None)
    own_name = owner is not None and path.name == file_name(owner)
    if home_of:
        own = owner is None or plain_letters(home_of.learner) in map(plain_letters, owner.learner.split(AND))
        return (owner or home_of) if own else None, own_name
    if owner or len(names) > 1:  # the kit named it after somebody else: other numbers
        return owner, own_name
    for part in (path.stem, *reversed(path.parts[:-1])):
        words = f"-{plain_letters(part)}-"
        named = [one for one in owners if (letters := plain_letters(one.learner)) and f"-{letters}-" in words]
        if named:
            longest = max(len(plain_letters(one.learner)) for one in named)
            best = [one for one in named if len(plain_letters(one.learner)) == longest]
            return best[0] if len(best) == 1 else None, False
    return None, False


def _read(path: Path, name: str) -> list[Entry]:
    """The lines of a plain file. In a learner's home it must be theirs: a link to a neighbor's file is nobody's."""
    if path.is_dir():
        raise InputError(name, "a folder", WANTED)
    try:
        handle = os.open(path, os.O_RDONLY | sum(getattr(os, flag, 0) for flag in AS_IT_IS))
        with os.fdopen(handle, "rb") as file:
            state = os.fstat(handle)
            trusted = {state.st_uid, 0, getattr(os, "geteuid", int)()}
            if not stat.S_ISREG(state.st_mode) or path.parent.stat().st_uid not in trusted:
                raise InputError(name, "no plain file of its folder's owner", WANTED)
            content = file.read(LARGEST + 1)
    except OSError as problem:
        raise InputError(name, f"a file that cannot be read ({problem.strerror})", WANTED) from None
    return entries_of(name, text_of(content, name, LARGEST, WANTED))
