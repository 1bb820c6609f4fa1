"""Who may sign in at a class server: ``learners.csv`` in its folder, written by the teacher's command."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

from oilkit.errors import InputError
from oilkit.storage.textfile import LARGEST, read_text

LEARNERS = "learners.csv"
ACCOUNTS = "accounts.csv"
"""Beside it, in the same form: everybody who was ever on the list, so that no account is given to somebody else."""
CLASS_LIST = "class.txt"
"""The class and its names, beside the lessons: learners pick theirs from it."""
COLUMNS = ("user", "password", "class", "learner")
PREFIX = "oil-"
"""Before each user's name, so that no learner called Mail or Games gets an account of the system's."""
HOMES = Path("/home")


@dataclass(frozen=True)
class User:
    """Who may sign in: under which name, with which first password, and who that is; nobody for the teacher."""

    name: str
    password: str
    group: str = ""
    learner: str = ""


def read_learners(path: Path) -> dict[str, User]:
    """Who may sign in, by user name. Raises `InputError` for a file that is not as the teacher's command writes it."""
    wanted = f"a list of users with the columns {', '.join(COLUMNS)}"
    rows = list(csv.reader(read_text(path, LARGEST, wanted).splitlines()))
    if len(rows) < 2 or tuple(rows[0]) != COLUMNS:
        raise InputError(path.name, "other columns or nobody", wanted)
    found: dict[str, User] = {}
    for number, row in enumerate(rows[1:], 2):
        name = row[0] if len(row) == len(COLUMNS) and row[1] else ""
        letters = name.removeprefix(PREFIX).replace("-", "a")
        if not (name.startswith(PREFIX) and letters.isascii() and letters.isalnum() and letters == letters.lower()):
            raise InputError(f"{path.name}, line {number}", repr(",".join(row[:1])), wanted)
        if name in found:
            raise InputError(f"{path.name}, line {number}", f"{name} twice", "names that differ")
        found[name] = User(*row)
    return found
