"""The class list: ``class.txt`` beside the lessons, written by the teacher's command and found by lesson 00.

A plain text file: the class in a line that begins with ``class:``, then one name in a line. Empty lines and lines that
begin with # do not count. The teacher's own list of names is read by the same rules; it may have no class.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from pathlib import Path

from oilkit.errors import InputError
from oilkit.exercises.exercise import Owner
from oilkit.exercises.progress import file_name
from oilkit.storage.textfile import LARGEST, read_text, shown_name

AND = " + "
"""Between the names of two who share a laptop."""
_CLASS = re.compile(r"class\s*:\s*(.*)", re.IGNORECASE)


def together(*names: str) -> str:
    """The one name of those who work together, whoever is named first: ``Ana + Ben``. A name with a + is split too."""
    parts = [" ".join(part.split()) for name in names for part in name.split("+")]
    parts = list({part.casefold(): part for part in reversed(parts) if part}.values())
    if not all(any(letter.isalpha() for letter in part) for part in parts):  # a + that is no "and"
        return " ".join(AND.join(names).split())
    return AND.join(sorted(parts, key=str.casefold))


def pairs(owners: Sequence[Owner]) -> dict[Owner, tuple[Owner, Owner]]:
    """Every pair of a class as one learner, and the two in it; not those that are on the list themselves."""
    found = {
        Owner(one.group, together(one.learner, other.learner)): (one, other)
        for k, one in enumerate(owners)
        for other in owners[k + 1 :]
        if one.learner and other.learner and one.group == other.group
    }
    listed = {*owners}
    return {pair: both for pair, both in found.items() if pair not in listed}


def read_class(path: Path | str, group: str = "", argument: str = "") -> list[Owner]:
    """The learners of a class list.

    group: the class, in place of the one in the file; argument: what an error calls it, if not by the file's name.
    Raises `InputError` for a file that cannot be read, has no name or two classes, or has a name twice: two learners of
    one name would have one file and the same numbers. The same for two names that give one name of a file.
    """
    wanted = "a text file with one name in a line"
    argument = argument or shown_name(path)
    try:
        lines = read_text(path, LARGEST, wanted).splitlines()
    except InputError as problem:
        raise InputError(argument, f"{problem.argument}, {problem.got}", wanted) from None
    lines = [" ".join(line.split()) for line in lines]
    names, classes = [], []
    for line in lines:
        if found := _CLASS.fullmatch(line):
            classes += [found[1]] if found[1] else []
        elif line and not line.startswith("#"):
            names.append(together(line))
    other = next((one for one in classes if not _same_class(one, classes[0])), "")
    if other and not group:
        raise InputError(argument, f"the classes “{classes[0]}” and “{other}” in one list", "a list for each class")
    owners = [Owner(group or next(iter(classes), ""), name) for name in names]
    if not owners:
        raise InputError(argument, f"{shown_name(path)} without a name", wanted)
    seen: set[int] = set()
    files: dict[str, str] = {}
    for owner in owners:
        seed, file = owner.seed("file", 0), file_name(owner)
        if seed in seen:
            raise InputError(argument, f"“{owner.learner}” twice", "names that differ: add an initial")
        if file in files:  # no plain letters, and by chance the same digits
            both = f"“{files[file]}” and “{owner.learner}”, whose answers would go into one file"
            raise InputError(argument, both, "a letter from A to Z, such as an initial, added to one of the names")
        seen.add(seed)
        files[file] = owner.learner
    return owners


def _same_class(one: str, other: str) -> bool:
    return Owner(one).seed("class", 0) == Owner(other).seed("class", 0)


def class_text(owners: Iterable[Owner]) -> str:
    """What stands in a class list: the first one's class, and all of it."""
    owners = list(owners)
    group = owners[0].group
    head = "# The class list of oilkit: the class, then one name in a line. Lesson 00 shows it as a pick-list."
    names = [owner.learner for owner in owners if _same_class(owner.group, group)]
    return "\n".join([head, *([f"class: {group}"] if group else []), *names]) + "\n"
