"""A class server's two ends: what the written JupyterHub configuration calls, and a learner's server, started lean.

Everything here is light: the hub needs no physics, and every learner has a server of their own.
"""

from __future__ import annotations

import json
import os
import stat
import subprocess
import sys
import types
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any

from oilkit.errors import InputError
from oilkit.storage.lessons import PACKAGE
from oilkit.storage.saving import write_safely
from oilkit.storage.settings import load_owner, save_owner
from oilkit.storage.users import CLASS_LIST, HOMES, User, read_learners

__all__ = ["check_reach", "give_passwords", "make_account", "read_learners", "serve"]

UNUSED = (
    "jupyterhub.handlers",
    "jupyterhub.handlers.pages",
    "jupyterhub.orm",
    "jupyterhub.roles",
    "sqlalchemy",
    "sqlalchemy.exc",
)
"""What a learner's server would load and never use: the hub's own pages and its database, 30 MB and a second."""


def give_passwords(users: Iterable[User], store: Path) -> None:
    """Put everybody's first password into the authenticator's store, before anybody can choose one for a name that is
    not theirs; whoever has changed it keeps the new one."""
    import dbm

    import bcrypt

    with dbm.open(str(store), "c", 0o600) as kept:
        for user in users:
            if user.name.encode() not in kept:
                kept[user.name] = bcrypt.hashpw(user.password.encode(), bcrypt.gensalt())


def check_reach(homes: Path) -> None:
    """Raise `InputError` where learners' accounts cannot reach what they need: this Python, the kit, their homes."""
    for path in (Path(sys.executable), Path(sys.base_prefix), PACKAGE / "__init__.py", homes):
        closed = next((one for one in path.resolve().parents if not one.stat().st_mode & stat.S_IXOTH), None)
        closed = closed or (None if path.stat().st_mode & (stat.S_IROTH | stat.S_IXOTH) else path)
        if closed:
            raise InputError(
                path.name,
                f"a folder that learners' accounts cannot reach ({closed} is closed)",
                "one such as /opt/oilkit",
            )


def make_account(name: str, homes: Path = HOMES) -> Path:
    """Make a Unix account that nobody can log in to, if there is none, with a home that only its owner reads.

    Returns the home. Raises `InputError` for an account of that name that lives elsewhere, `OSError` or
    `CalledProcessError` if the system makes none.
    """
    import pwd

    home = homes / name
    try:
        found = Path(pwd.getpwnam(name).pw_dir)
    except KeyError:
        command = ["useradd", "--create-home", "--user-group", "--home-dir", str(home), "--shell", "/usr/sbin/nologin"]
        subprocess.run([*command, name], check=True, capture_output=True)
        found = home
    if found != home:
        raise InputError("user", f"{name}, an account with the home {found}", f"an account of this class, in {home}")
    home.chmod(0o700)
    return home


def serve(folder: Path, lesson: Path, options: Sequence[str]) -> None:
    """Become a learner's server under JupyterHub, which knows class and name from the class list.

    folder: the learner's lessons; lesson: the one to open; options: the server's own. The class list is laid beside the
    lessons by the learner's own account, for a file that root writes in a learner's home could be a link.
    """
    names = json.loads(os.environ.get("OILKIT_CLASS_LIST", '""'))
    if names:
        try:
            write_safely(folder / CLASS_LIST, names)
        except OSError as problem:  # names are then typed
            print(f"{CLASS_LIST} could not be laid beside the lessons: {problem.strerror}.")
    if load_owner() == ("", ""):
        print(save_owner(os.environ.get("OILKIT_CLASS", ""), os.environ.get("OILKIT_LEARNER", "")))
    os.environ["JUPYTERHUB_ROOT_DIR"] = str(folder)
    os.environ["JUPYTERHUB_DEFAULT_URL"] = f"/lab/tree/{lesson.relative_to(folder).as_posix()}"
    os.chdir(folder)
    sys.argv[1:] = options
    try:
        main: Callable[[], None] = _lean()
    except (ImportError, AttributeError):  # a new version that does use some of it
        # -P: a file random.py of the learner's must not keep the server from starting
        os.execv(sys.executable, [sys.executable, "-P", "-m", "jupyterhub.singleuser", *options])
    main()


def _lean() -> Any:
    """What starts JupyterHub's server for one user, without what that never uses."""
    sys.modules["rfc3987_syntax"] = None  # type: ignore[assignment]  # optional: 16 MB and a second for one sort of URL
    for name in UNUSED:
        sys.modules[name] = types.ModuleType(name)
    sys.modules["jupyterhub.handlers"].__path__ = []
    vars(sys.modules["jupyterhub.handlers.pages"])["HealthCheckHandler"] = type("HealthCheckHandler", (), {})
    vars(sys.modules["sqlalchemy.exc"])["SQLAlchemyError"] = type("SQLAlchemyError", (Exception,), {})
    from jupyterhub.singleuser import main

    return main
