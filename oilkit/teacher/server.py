"""A class server: the folder from which JupyterHub serves the lessons to a class, written from the class list.

Each learner has a Unix account, so the system itself keeps learners' files and kernels apart. JupyterHub, its proxy and
what limits and ends servers are libraries (the extra ``class``); here is only what fills their configuration.
"""

from __future__ import annotations

import ipaddress
import secrets
import sys
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import astuple
from pathlib import Path
from typing import Any

from oilkit.errors import InputError
from oilkit.exercises.class_list import class_text
from oilkit.exercises.exercise import Owner
from oilkit.exercises.progress import plain_letters
from oilkit.storage.saving import csv_text, write_keeping_earlier
from oilkit.storage.templates import template
from oilkit.storage.users import ACCOUNTS, CLASS_LIST, COLUMNS, HOMES, LEARNERS, PREFIX, User, read_learners

TEACHER = f"{PREFIX}teacher"
LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
"""Of passwords: none that is read for another one."""
HERE = "127.0.0.1"
FILES = ("jupyterhub_config.py", "oilkit-class.service", "README.md")
FOR_A_CLUSTER = ("Containerfile", "values.yaml")


def write_server(
    owners: Sequence[Owner],
    folder: Path,
    address: str = HERE,
    image: str = "",
    *,
    homes: Path = HOMES,
    python: str = sys.executable,
) -> list[str]:
    """Write the folder, or write it anew: whoever was ever on the list keeps user name and password.

    address: of this computer, from which the class reaches it; image: the name of a container image, for a cluster;
    homes: where learners' homes are; python: the one in which the kit is installed. Returns sentences about what was
    kept and who is no longer on the list. Raises `InputError`, and `OSError` for what cannot be written.
    """
    if not all(owner.learner for owner in owners):
        raise InputError("learners", "no names", "a text file with one name in a line, given with --learners")
    here = _is_here(address)
    if folder.exists() and not (folder.is_dir() and ((folder / LEARNERS).exists() or not any(folder.iterdir()))):
        raise InputError(
            "folder", f"{folder.name}, with something else in it", "a new folder, or one of a class server"
        )
    ever, before = (read_learners(path) if path.exists() else {} for path in (folder / ACCOUNTS, folder / LEARNERS))
    users = _users(owners, ever | before)
    words: dict[str, Any] = {
        "folder": folder.resolve(),
        "homes": homes,
        "python": python,
        "address": address,
        "here": here,
        "number": "IP" if _is_number(address) else "DNS",
        "image": image,
        "owners": owners,
        "teacher": TEACHER,
        "users": sorted(users),
        "list": _list(users),
        "names": class_text(owners),
    }
    names = [*FILES, *(FOR_A_CLUSTER if image else ())]
    files = {name: template("oilkit.teacher", f"server/{name}.txt").render(words) for name in names}
    folder.mkdir(parents=True, exist_ok=True)
    folder.chmod(0o700)  # what lies in it is nobody else's
    told = [
        write_keeping_earlier(folder / name, content, private=True).strip()
        for name, content in {
            ACCOUNTS: _list(ever | before | users),
            LEARNERS: words["list"],
            CLASS_LIST: words["names"],
            **files,
        }.items()
    ]
    if gone := sorted(before.keys() - users.keys()):
        told.append(f"No longer on the list, so they cannot sign in; their accounts and files stay: {', '.join(gone)}.")
    return [sentence for sentence in told if sentence]


def _list(users: Mapping[str, User]) -> str:
    return csv_text([COLUMNS, *map(astuple, users.values())])


def _is_number(address: str) -> bool:
    try:
        return bool(ipaddress.ip_address(address))
    except ValueError:
        return False


def _is_here(address: str) -> bool:
    """Whether only this computer reaches it. Raises `InputError` for no address, and for all of them at once."""
    wanted = "this computer's own name or number in the class's network, such as 192.168.1.10"
    if _is_number(address):
        number = ipaddress.ip_address(address)
        if number.is_unspecified or number.version != 4:
            raise InputError("address", f"{address}, {'all networks' if number.version == 4 else 'IPv6'}", wanted)
        return number.is_loopback
    if not address.isascii() or not address.replace("-", "").replace(".", "").isalnum():
        raise InputError("address", repr(address), wanted)
    return address == "localhost"


def _users(owners: Iterable[Owner], before: Mapping[str, User]) -> dict[str, User]:
    """The teacher, and everybody on the list under the name from before or a new one: ``oil-ana``, ``oil-ana-2``."""
    known = {Owner(user.group, user.learner).seed("file", 0): user for user in before.values()}
    taken = {TEACHER: before.get(TEACHER) or User(TEACHER, _password())}
    for owner in owners:
        user = known.get(owner.seed("file", 0))
        if not user:
            letters = (plain_letters(owner.learner) or "learner")[:20].strip("-")
            names = (f"{PREFIX}{letters}{f'-{k}' if k > 1 else ''}" for k in range(1, 10_000))
            name = next(name for name in names if name not in taken and name not in before)
            user = User(name, _password(), owner.group, owner.learner)
        taken[user.name] = user
    return taken


def _password() -> str:
    """Nine letters, some 44 bits: a guess in 31 to the ninth."""
    return "-".join("".join(secrets.choice(LETTERS) for _ in range(3)) for _ in range(3))
