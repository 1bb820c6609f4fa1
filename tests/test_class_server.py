"""A class server: the folder that the teacher's command writes, read by JupyterHub itself; a learner's lean server."""

from __future__ import annotations

import asyncio
import csv
import json
import os
import shutil
import stat
import subprocess
import sys
import tempfile
from collections.abc import Callable
from importlib.util import find_spec
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from sentences import refused

from oilkit.__main__ import main as open_lessons
from oilkit.errors import InputError
from oilkit.exercises.class_list import class_text, read_class
from oilkit.exercises.exercise import Owner
from oilkit.jupyter import hub
from oilkit.jupyter.hub import check_reach
from oilkit.panels.framework.learner import LearnerPanel
from oilkit.storage.settings import load_owner
from oilkit.teacher.__main__ import main
from oilkit.teacher.server import write_server

need_hub = pytest.mark.skipif(
    not find_spec("jupyterhub") and not os.environ.get("OILKIT_NEED_HUB"),
    reason="JupyterHub is not installed: python -m pip install -e '.[class]'",
)
GROUP = "spring class"
NAMES = ["Ana López", "Ben", "Борис", "Ana Lopez", "Root", "Anna-Maria von der Lange-Brücke"]


@pytest.fixture
def names(tmp_path: Path) -> Path:
    path = tmp_path / "names.txt"
    path.write_text("\n".join(NAMES), encoding="utf-8")
    return path


@pytest.fixture
def written(tmp_path: Path) -> Path:
    write_server([Owner(GROUP, name) for name in NAMES[:2]], tmp_path / "class", homes=tmp_path)
    return tmp_path / "class"


@pytest.fixture(autouse=True)
def in_reach(monkeypatch: pytest.MonkeyPatch) -> None:
    """pytest's own folders are closed to others; and a store of passwords that is quickly written."""
    monkeypatch.setattr(hub, "check_reach", lambda homes: None)
    if find_spec("bcrypt"):
        import bcrypt

        slowly = bcrypt.gensalt
        monkeypatch.setattr(bcrypt, "gensalt", lambda: slowly(4))


def loaded(folder: Path) -> Any:
    """The configuration as JupyterHub reads it."""
    from jupyterhub.app import JupyterHub

    JupyterHub.clear_instance()
    app = JupyterHub(log_level=50)
    mask = os.umask(0o022)
    try:
        app.load_config_file(str(folder / "jupyterhub_config.py"))
    finally:
        os.umask(mask)
    return app


# ----------------------------------------------------------------------------------------------------------- the folder


def test_everybody_on_the_list_gets_a_user_name_and_a_password(
    names: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "class"
    assert main(["server", str(folder), "--class", GROUP, "--learners", str(names)]) == 0
    assert str(folder / "README.md") in capsys.readouterr().out
    users = hub.read_learners(folder / "learners.csv")
    assert list(users) == [
        "oil-teacher", "oil-ana-lopez", "oil-ben", "oil-learner", "oil-ana-lopez-2", "oil-root",
        "oil-anna-maria-von-der-l",
    ]  # fmt: skip
    assert [user.learner for user in users.values()] == ["", *NAMES]
    assert len({user.password for user in users.values()}) == len(users)
    assert all(len(user.password) == 11 for user in users.values())
    assert read_class(folder / "class.txt") == [Owner(GROUP, name) for name in NAMES]
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert {stat.S_IMODE(path.stat().st_mode) for path in folder.iterdir()} == {0o600}
    unit = (folder / "oilkit-class.service").read_text(encoding="utf-8")
    assert "oilkit --prepare" in unit
    assert "UMask=0022" in unit, "what root compiles, learners must be able to read"


def test_written_again_everybody_keeps_name_and_password(written: Path, tmp_path: Path) -> None:
    before = hub.read_learners(written / "learners.csv")
    (written / "own_settings.py").write_text("mine = 1\n")
    owners = [Owner(GROUP, name) for name in ("Cem", NAMES[0])]
    told = write_server(owners, written, homes=tmp_path)
    after = hub.read_learners(written / "learners.csv")
    assert list(after) == ["oil-teacher", "oil-cem", "oil-ana-lopez"]
    assert after["oil-ana-lopez"] == before["oil-ana-lopez"]
    assert after["oil-teacher"] == before["oil-teacher"]
    assert told[-1].endswith("stay: oil-ben.")
    assert (written / "own_settings.py").read_text() == "mine = 1\n"
    back = write_server([Owner(GROUP, "Ben")], written, homes=tmp_path)
    assert any("oil-ana-lopez" in sentence for sentence in back)


def test_the_name_of_somebody_who_left_is_not_given_to_another(written: Path) -> None:
    """Two who would get one name: the account and its files still belong to the first."""
    write_server([Owner(GROUP, NAMES[0]), Owner(GROUP, "BEN!")], written)
    assert list(hub.read_learners(written / "learners.csv")) == ["oil-teacher", "oil-ana-lopez", "oil-ben-2"]


def test_an_account_is_given_to_nobody_else_however_often_the_list_changes(written: Path) -> None:
    """Ben leaves; another Ben comes, and leaves; the first is back: with his own account and the password shown."""
    ana, ben, other = Owner("a", "Ana"), Owner("a", "Ben"), Owner("b", "Ben")

    def users(*owners: Owner) -> dict[Owner, hub.User]:
        write_server(owners, written)
        found = hub.read_learners(written / "learners.csv").values()
        return {Owner(user.group, user.learner): user for user in found if user.learner}

    first = users(ana, ben)[ben]
    users(ana)
    second = users(ana, other)[other]
    assert second.name != first.name
    assert second.password != first.password
    users(ana)
    assert users(ana, ben, other) == users(other, ana, ben)
    assert users(ben, other) == {ben: first, other: second}
    (written / "accounts.csv").unlink()  # a folder of an older kit
    users(ben)
    assert users(ana, other)[other] == second


@pytest.mark.parametrize(
    ("address", "got"),
    [
        ("0.0.0.0", "all networks"),
        ("::", "IPv6"),
        ("2001:db8::1", "IPv6"),
        ("a b", "'a b'"),
        ("", "''"),
        ("x/y", "'x/y'"),
    ],
)
def test_no_address_of_everywhere(tmp_path: Path, address: str, got: str) -> None:
    with pytest.raises(InputError, match="address") as problem:
        write_server([Owner(GROUP, "Ana")], tmp_path / "class", address)
    assert got in str(problem.value)
    assert not (tmp_path / "class").exists()


def test_a_folder_with_something_else_and_a_class_without_names_are_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "mine.txt").write_text("mine")
    with pytest.raises(InputError, match="something else in it"):
        write_server([Owner(GROUP, "Ana")], tmp_path)
    assert main(["server", str(tmp_path / "class"), "--class", GROUP]) == 2
    assert "learners" in capsys.readouterr().err
    assert stat.S_IMODE(tmp_path.stat().st_mode) & 0o700 == 0o700
    assert not (tmp_path / "class").exists()


@pytest.mark.parametrize(
    "text",
    [
        "", "user,password,class,learner\n", "a,b\n1,2\n", "user,password,class,learner\nroot,x,c,n\n",
        "user,password,class,learner\noil-ana,,c,n\n", "user,password,class,learner\noil-ana,x,c\n",
        "user,password,class,learner\noil-../x,x,c,n\n", "user,password,class,learner\noil-a,x,c,n\noil-a,x,c,m\n",
    ],
)  # fmt: skip
def test_a_damaged_list_of_users_is_refused(tmp_path: Path, text: str) -> None:
    path = tmp_path / "learners.csv"
    path.write_text(text)
    refused(None, lambda: hub.read_learners(path))


# ----------------------------------------------------------------------------------------------- as JupyterHub reads it


@need_hub
def test_jupyterhub_takes_the_configuration(written: Path) -> None:
    app = loaded(written)
    assert app.bind_url == "http://127.0.0.1:8000"
    assert app.hub_bind_url.startswith("http://127.0.0.1:")
    settings = app.config
    authenticator = app.authenticator_class(parent=app)
    assert authenticator.allowed_users == {"oil-teacher", "oil-ana-lopez", "oil-ben"}
    assert not authenticator.allow_all
    assert not authenticator.admin_users
    assert settings.Spawner.cmd[-2:] == ["oilkit", "--hub"]
    from jupyterhub.scopes import scope_definitions

    for role in settings.JupyterHub.load_roles:
        assert set(role["scopes"]) <= set(scope_definitions)
        assert not any(scope.startswith("access:") for scope in role["scopes"])


@need_hub
@pytest.mark.skipif(sys.platform != "linux", reason="systemd is Linux's")
def test_with_systemd_the_system_holds_to_the_limits(written: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    usual = Path.is_dir
    monkeypatch.setattr(Path, "is_dir", lambda path: str(path) == "/run/systemd/system" or usual(path))
    app = loaded(written)
    from systemdspawner import SystemdSpawner

    assert app.spawner_class is SystemdSpawner
    assert app.config.Spawner.mem_limit == "1500M"
    assert "prlimit" not in app.config.Spawner.cmd
    monkeypatch.setattr(Path, "is_dir", lambda path: str(path) != "/run/systemd/system" and usual(path))
    assert loaded(written).config.Spawner.cmd[0] == "prlimit"


@pytest.mark.skipif(not shutil.which("systemd-analyze"), reason="no systemd-analyze")
def test_systemd_takes_the_unit(tmp_path: Path) -> None:
    """Its own check: every line known, the programs there; also in a folder with blanks and a percent sign."""
    folder = tmp_path / "my class, 100 %"
    write_server([Owner(GROUP, NAMES[0])], folder, homes=tmp_path)
    unit = folder / "oilkit-class.service"
    done = subprocess.run(["systemd-analyze", "verify", str(unit)], capture_output=True, text=True)
    assert (done.returncode, done.stderr) == (0, "")
    unit.write_text(unit.read_text(encoding="utf-8").replace("ExecStart=", "ExecStarts="), encoding="utf-8")
    assert subprocess.run(["systemd-analyze", "verify", str(unit)], capture_output=True).returncode != 0


@need_hub
def test_the_network_is_served_with_a_certificate_only(tmp_path: Path) -> None:
    write_server([Owner(GROUP, "Ana")], tmp_path / "class", "192.168.1.10", homes=tmp_path)
    with pytest.raises(SystemExit, match=r"cert\.pem and key\.pem are missing"):
        loaded(tmp_path / "class")
    for name in ("cert.pem", "key.pem"):
        (tmp_path / "class" / name).write_text("a certificate")
    app = loaded(tmp_path / "class")
    assert app.bind_url == "https://192.168.1.10:443"
    assert app.ssl_cert == str(tmp_path / "class" / "cert.pem")


@need_hub
def test_own_settings_come_last(written: Path) -> None:
    (written / "own_settings.py").write_text("c.Spawner.mem_limit = '2G'\n")
    assert loaded(written).config.Spawner.mem_limit == "2G"


@need_hub
def test_only_the_listed_with_their_password_are_let_in(written: Path) -> None:
    from jupyterhub import orm

    app = loaded(written)
    database = orm.new_session_factory("sqlite:///:memory:")()
    for name in ("oil-ana-lopez", "oil-ben", "oil-teacher"):
        database.add(orm.User(name=name))
    users = hub.read_learners(written / "learners.csv")
    gate = app.authenticator_class(parent=app, db=database)

    def signs_in(name: str, password: str) -> bool:
        data = {"username": name, "password": password}
        return asyncio.run(gate.get_authenticated_user(None, data)) is not None

    right = users["oil-ana-lopez"].password
    assert signs_in("oil-ana-lopez", right)
    for name, password in (("oil-ana-lopez", "wrong-word-1"), ("oil-ben", right), ("root", right), ("oil-eve", right)):
        assert not signs_in(name, password)
    gate.reset_password("oil-ana-lopez", "my own word")
    loaded(written)  # a restart
    assert signs_in("oil-ana-lopez", "my own word")
    assert not signs_in("oil-ana-lopez", right)
    write_server([Owner(GROUP, NAMES[1])], written)  # Ana is off the list, and the hub's database still has her
    app = loaded(written)
    gate = app.authenticator_class(parent=app, db=database)
    for user in database.query(orm.User):
        gate.add_user(user)  # as the hub does at each start
    assert gate.allowed_users == {"oil-teacher", "oil-ben"}
    assert signs_in("oil-ben", users["oil-ben"].password)
    assert not signs_in("oil-ana-lopez", "my own word")


# --------------------------------------------------------------------------------------------------- what it calls


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has other rights")
def test_what_learners_cannot_reach_is_said_at_the_start(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "executable", "/")
    monkeypatch.setattr(sys, "base_prefix", "/")
    with tempfile.TemporaryDirectory() as name:
        kit = Path(name) / "kit"
        kit.mkdir()
        (kit / "__init__.py").touch()
        monkeypatch.setattr(hub, "PACKAGE", kit)
        Path(name).chmod(0o755)
        check_reach(Path("/"))
        for closed, usual in ((Path(name), 0o755), (kit, 0o755), (kit / "__init__.py", 0o644)):
            closed.chmod(0o600)
            if os.geteuid() == 0 or closed.is_file():
                with pytest.raises(InputError, match="cannot reach"):
                    check_reach(Path("/"))
            closed.chmod(usual)
        check_reach(Path("/"))


def test_an_account_that_lives_elsewhere_is_nobody_s(tmp_path: Path) -> None:
    pwd = pytest.importorskip("pwd")
    with pytest.raises(InputError, match="an account with the home"):
        hub.make_account(pwd.getpwuid(os.getuid()).pw_name, tmp_path)


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(Path, "home", classmethod(lambda cls: tmp_path))
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "argv", ["oilkit"])
    names = json.dumps(class_text([Owner(GROUP, "Ana"), Owner(GROUP, "Zoë")]))
    for name, value in {"CLASS": GROUP, "LEARNER": "Ana", "CLASS_LIST": names}.items():
        monkeypatch.setenv(f"OILKIT_{name}", value)
    for name in ("JUPYTERHUB_ROOT_DIR", "JUPYTERHUB_DEFAULT_URL"):
        monkeypatch.setenv(name, "")
    return tmp_path


def test_a_learner_s_server_has_their_lessons_and_their_name(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    began: list[list[str]] = []
    lean: Callable[[], Any] = lambda: lambda: began.append(sys.argv[1:])  # noqa: E731
    monkeypatch.setattr(hub, "_lean", lean)
    assert open_lessons(["--hub", "--ServerApp.x=1"]) == 0
    assert began == [["--ServerApp.x=1"]]
    mine = (home / "oilkit-lessons").resolve()
    assert os.environ["JUPYTERHUB_ROOT_DIR"] == str(mine)
    assert os.environ["JUPYTERHUB_DEFAULT_URL"] == "/lab/tree/00_start_here.ipynb"
    assert load_owner() == (GROUP, "Ana")
    monkeypatch.chdir(mine)
    panel = LearnerPanel()
    assert [owner.learner for owner in panel.list] == ["Ana", "Zoë"]
    assert (panel.pick.box.value, "Zoë" in panel.partner.box.options) == ("Ana", True)
    lesson = mine / "02_filling_the_vessel.ipynb"
    changed = lesson.read_text(encoding="utf-8").replace("# ", "# My own ", 1)
    lesson.write_text(changed, encoding="utf-8")
    monkeypatch.setenv("OILKIT_LEARNER", "Ben")
    assert open_lessons(["--hub"]) == 0
    assert lesson.read_text(encoding="utf-8") == changed
    assert os.environ["JUPYTERHUB_DEFAULT_URL"].endswith(lesson.name)
    assert load_owner() == (GROUP, "Ana"), "a name that was chosen is theirs"
    (mine / "class.txt").unlink()
    (mine / "class.txt").mkdir()
    assert open_lessons(["--hub"]) == 0, "a list that cannot be laid there keeps nobody out"


def test_a_new_jupyterhub_that_needs_more_gets_all_of_it(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails() -> Any:
        raise ImportError("cannot import name 'func' from 'sqlalchemy'")

    began: list[list[str]] = []
    monkeypatch.setattr(hub, "_lean", fails)
    monkeypatch.setattr(os, "execv", lambda path, command: began.append(command) or sys.exit(0))
    with pytest.raises(SystemExit):
        open_lessons(["--hub", "--x=1"])
    assert began == [[sys.executable, "-P", "-m", "jupyterhub.singleuser", "--x=1"]]


def test_server_options_are_for_the_hub_only(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        open_lessons(["--ServerApp.x=1"])
    assert "--ServerApp.x=1" in capsys.readouterr().err


@need_hub
def test_a_learner_s_server_leaves_the_hub_s_database_out() -> None:
    code = (
        "import sys; from oilkit.jupyter.hub import _lean; assert callable(_lean());"
        "print([name for name in ('alembic', 'sqlalchemy.orm', 'numpy', 'scipy') if name in sys.modules])"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=120)
    assert found.stdout.split("\n")[0] == "[]", found.stderr


# ------------------------------------------------------------------------------------------------------------ a cluster


@need_hub
def test_the_python_in_a_cluster_s_values_runs(tmp_path: Path) -> None:
    from traitlets.config import Config

    yaml = pytest.importorskip("yaml")
    folder = tmp_path / "class"
    write_server([Owner(GROUP, name) for name in NAMES], folder, image="oilkit")
    values = yaml.safe_load((folder / "values.yaml").read_text(encoding="utf-8"))
    assert values["singleuser"]["image"] == {"name": "oilkit", "tag": "latest"}
    for name, key in (("list.csv", "learners"), ("class.txt", "class_list")):
        (tmp_path / name).write_text(values["hub"]["extraFiles"][key]["stringData"], encoding="utf-8")
    code = values["hub"]["extraConfig"]["class"]
    for there, here in (
        ("/usr/local/etc/jupyterhub/learners.csv", "list.csv"),
        ("/usr/local/etc/jupyterhub/class.txt", "class.txt"),
        ("/srv/jupyterhub/passwords", "kept"),
    ):
        assert there in code
        code = code.replace(there, str(tmp_path / here))
    settings = Config()
    exec(code, {"c": settings})
    spawner = SimpleNamespace(user=SimpleNamespace(name="oil-ben"), environment={"A": "1"})
    settings.Spawner.pre_spawn_hook(spawner)
    names = json.dumps((folder / "class.txt").read_text(encoding="utf-8"))
    assert spawner.environment == {
        "A": "1", "OILKIT_CLASS": GROUP, "OILKIT_LEARNER": "Ben", "OILKIT_CLASS_LIST": names,
    }  # fmt: skip
    assert "oil-" not in names, "names, and neither users nor passwords"
    import dbm

    with dbm.open(str(tmp_path / "kept")) as kept:
        assert len(kept.keys()) == len(NAMES) + 1


def test_what_a_cluster_needs_is_what_the_chart_and_a_builder_read(tmp_path: Path) -> None:
    yaml = pytest.importorskip("yaml")
    folder = tmp_path / "class"
    write_server([Owner(GROUP, name) for name in NAMES], folder, image="registry.example:5000/oilkit:1")
    values = yaml.safe_load((folder / "values.yaml").read_text(encoding="utf-8"))
    assert values["singleuser"]["image"] == {"name": "registry.example:5000/oilkit", "tag": "1"}
    users = hub.read_learners(folder / "learners.csv")
    assert set(values["hub"]["config"]["Authenticator"]["allowed_users"]) == set(users)
    inside = values["hub"]["extraFiles"]["learners"]["stringData"]
    assert [row["learner"] for row in csv.DictReader(inside.splitlines())] == ["", *NAMES]
    steps = (folder / "Containerfile").read_text(encoding="utf-8")
    assert [line.split()[0] for line in steps.splitlines() if line[:1].isupper()] == [
        "FROM", "ENV", "ENV", "COPY", "RUN", "USER", "WORKDIR", "EXPOSE", "CMD",
    ]  # fmt: skip
    if linter := shutil.which("hadolint"):
        done = subprocess.run([linter, str(folder / "Containerfile")], capture_output=True, text=True)
        assert done.returncode == 0, done.stdout
