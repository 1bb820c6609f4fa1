"""A stick for laptops without internet: what is fetched for whom, what is missing, the launcher without a network."""

from __future__ import annotations

import base64
import csv
import hashlib
import io
import re
import shutil
import subprocess
import sys
import tempfile
import zipfile
from collections.abc import Callable, Iterator
from importlib.metadata import requires
from pathlib import Path
from subprocess import CompletedProcess

import pytest

from oilkit.errors import InputError
from oilkit.teacher import stick
from oilkit.teacher.__main__ import main
from oilkit.teacher.stick import SYSTEMS, write_stick

HERE = f"3.{sys.version_info.minor}"
PINS = ["numba==0.99", "numpy==9.9", "pip==99.0"]
Run = Callable[..., CompletedProcess[str]]


class Index:
    """An index that has some wheels; it stands for uv and pip."""

    def __init__(self, lacks: dict[tuple[str, str], set[str]]) -> None:
        self.lacks = lacks
        """By pip's tag and version of Python: projects without a wheel."""
        self.asked: list[tuple[str, ...]] = []

    def __call__(self, module: str, *arguments: str, said: str = "") -> CompletedProcess[str]:
        self.asked.append((module, *arguments))
        fails, out = 0, ""
        if module == "uv":
            target, version = (
                arguments[arguments.index(name) + 1] for name in ("--python-platform", "--python-version")
            )
            tag = next(system.tags[0] for system in SYSTEMS.values() if system.target == target)
            fails = int("--only-binary" in arguments and bool(self.lacks.get((tag, version))))
            out = "" if fails else "\n".join(PINS)
        elif arguments[0] == "wheel":
            Path(arguments[arguments.index("--wheel-dir") + 1], "oilkit-0.1.0-py3-none-any.whl").write_text("a wheel")
        else:
            tag, version = (arguments[arguments.index(name) + 1] for name in ("--platform", "--python-version"))
            wanted = {pin.split("==")[0] for pin in arguments if "==" in pin}
            fails = int(bool(wanted & self.lacks.get((tag, version), set())))
        return CompletedProcess([], fails, out, "ERROR: no such thing\n" if fails else "")


@pytest.fixture
def index(monkeypatch: pytest.MonkeyPatch) -> Index:
    made = Index({})
    monkeypatch.setattr(stick, "_run", made)
    monkeypatch.setattr(stick, "find_spec", lambda name: name)
    return made


def test_each_system_and_python_is_asked_for_and_has_a_launcher(
    index: Index, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "stick"
    assert main(["stick", str(folder), "--python", "3.12", "3.13"]) == 0
    assert "Copy it onto a stick" in capsys.readouterr().out
    fetched = [asked for asked in index.asked if asked[:2] == ("pip", "download")]
    assert len(fetched) == 6
    assert all(set(PINS) <= set(asked) and "--only-binary=:all:" in asked for asked in fetched)
    names = {path.name for path in folder.iterdir()}
    assert names == {"README.txt", "wheels", "start-windows.bat", "start-macos.command", "start-linux.sh"}
    for name in ("start-windows.bat", "README.txt"):
        content = (folder / name).read_bytes()
        assert content.count(b"\n") == content.count(b"\r\n")
    for name in ("start-linux.sh", "start-macos.command"):
        assert b"\r" not in (folder / name).read_bytes()
        assert subprocess.run(["sh", "-n", str(folder / name)]).returncode == 0
    digest = hashlib.sha256(b"a wheel").hexdigest()[:12]
    assert all(digest in (folder / name).read_text() for name in names if name.startswith("start-"))


def test_what_has_no_wheel_is_named_and_the_rest_is_there(
    index: Index, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    index.lacks[("win_amd64", "3.14")] = {"numba", "numpy"}
    assert main(["stick", str(tmp_path), "--python", "3.13", "3.14", "--systems", "windows", "linux"]) == 1
    assert capsys.readouterr().err == "Windows, Python 3.14: no wheels of numba==0.99, numpy==9.9.\n"
    single = [asked[-1] for asked in index.asked if asked[:2] == ("pip", "download") and asked[-2] == "--quiet"]
    assert single == PINS


def test_nothing_chosen_at_all_is_said(index: Index, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        stick,
        "_run",
        lambda module, *arguments, said="": (
            CompletedProcess([], 2, "", "error: no index\n") if module == "uv" else index(module, *arguments)
        ),
    )
    assert write_stick(tmp_path, ["3.12"], ["linux"]) == [
        "Linux, Python 3.12: no wheels of anything (error: no index)."
    ]


def test_the_launcher_for_windows_holds_together(index: Index, tmp_path: Path) -> None:
    """What can be said of it without Windows: letters, line ends, quotes round each path, brackets, labels."""
    write_stick(tmp_path, ["3.12", "3.13"], ["windows"])
    content = (tmp_path / "start-windows.bat").read_bytes()
    assert content.isascii(), "no code page changes it"
    assert re.sub(rb"\r\n", b"", content).count(b"\n") == 0
    lines = content.decode().splitlines()
    labels = {line[1:] for line in lines if line.startswith(":")}
    assert labels == {*re.findall(r"(?:goto |call :)(\w+)", content.decode())}
    inside = 0
    for line in lines:
        assert line.count('"') % 2 == 0, line
        quoted = "".join(re.findall('"[^"]*"', line))
        bare = re.sub('"[^"]*"', "", line)
        for name in ("STICK", "KIT", "LOCALAPPDATA", "~dp0", "%~fw", "THERE"):  # a path may have spaces, & or ( in it
            assert f"%{name}" not in bare, line
        assert "%%" not in quoted or "for " in line
        inside += bare.count("(") - bare.count(")")
        assert inside in (0, 1), line
        assert inside == 0 or "%" not in bare, "in brackets a variable has the value from before them"
    assert inside == 0
    assert lines[0] == "@echo off", "and the folder's name stands in no command"
    for label in ("look", "install", "stop"):
        before = [line for line in lines[: lines.index(f":{label}")] if line]
        assert before[-1].startswith("exit /b"), "nothing runs on into what is called"


@pytest.mark.skipif(not shutil.which("shellcheck"), reason="no shellcheck")
def test_the_launchers_of_linux_and_macos_pass_a_linter(index: Index, tmp_path: Path) -> None:
    write_stick(tmp_path, ["3.12"], ["linux", "macos"])
    for name in ("start-linux.sh", "start-macos.command"):
        done = subprocess.run(["shellcheck", "-s", "sh", str(tmp_path / name)], capture_output=True, text=True)
        assert done.returncode == 0, done.stdout


@pytest.mark.parametrize(
    ("arguments", "named"),
    [(["--python", "2.7"], "python"), (["--python", "3.10"], "python"), (["--python", "new"], "python")],
)
def test_wrong_pythons_are_refused(
    index: Index, tmp_path: Path, arguments: list[str], named: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["stick", str(tmp_path / "stick"), *arguments]) == 2
    assert capsys.readouterr().err.startswith(f"{named}: ")
    assert not (tmp_path / "stick").exists()


def test_without_uv_or_the_kit_s_folder_it_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(stick, "find_spec", lambda name: None)
    with pytest.raises(InputError, match="pip install"):
        write_stick(tmp_path, ["3.12"])
    monkeypatch.setattr(stick, "PACKAGE", tmp_path / "oilkit")
    with pytest.raises(InputError, match=r"pyproject\.toml"):
        write_stick(tmp_path, ["3.12"])
    with pytest.raises(InputError, match="systems"):
        write_stick(tmp_path, ["3.12"], ["dos"])


# ----------------------------------------------------------------------------------------------- the launcher, for real


def empty_wheel(folder: Path, name: str) -> None:
    """A wheel with a name and nothing in it, in place of a library that laying out the lessons does not need."""
    plain = re.sub(r"[-_.]+", "_", name).lower()
    info = f"{plain}-999.dist-info"
    files = {
        f"{info}/METADATA": f"Metadata-Version: 2.1\nName: {name}\nVersion: 999\n",
        f"{info}/WHEEL": "Wheel-Version: 1.0\nGenerator: test\nRoot-Is-Purelib: true\nTag: py3-none-any\n",
    }
    record = io.StringIO()
    for path, text in files.items():
        digest = base64.urlsafe_b64encode(hashlib.sha256(text.encode()).digest()).rstrip(b"=").decode()
        csv.writer(record).writerow([path, f"sha256={digest}", len(text)])
    csv.writer(record).writerow([f"{info}/RECORD", "", ""])
    with zipfile.ZipFile(folder / f"{plain}-999-py3-none-any.whl", "w") as wheel:
        for path, text in {**files, f"{info}/RECORD": record.getvalue()}.items():
            wheel.writestr(path, text)


@pytest.fixture(scope="module")
def made() -> Iterator[Path]:
    """A stick with the kit's own wheel and pip's, and empty ones of the libraries. No test changes it."""
    pips = list(Path(sys.base_prefix).glob("lib/python3*/ensurepip/_bundled/pip-*.whl"))
    if sys.platform == "win32" or not pips:
        pytest.skip("needs a shell, and a Python that carries pip")
    usual = stick._run

    def own_only(module: str, *arguments: str, said: str = "") -> CompletedProcess[str]:
        return usual(module, *arguments) if "wheel" in arguments else CompletedProcess([], 0, "pip==99", "")

    with tempfile.TemporaryDirectory(prefix="oilkit stick ") as name, pytest.MonkeyPatch.context() as patch:
        folder = Path(name) / "stick"
        patch.setattr(stick, "_run", own_only)
        patch.setattr(stick, "find_spec", lambda name: name)
        write_stick(folder, [HERE], ["linux", "macos"])
        shutil.copy(pips[0], folder / "wheels")
        for line in requires("oilkit") or ():
            if "extra ==" not in line:
                empty_wheel(folder / "wheels", re.split(r"[ <>=!~;\[]", line)[0])
        yield folder


@pytest.mark.thorough
def test_the_launcher_installs_from_the_stick_alone(made: Path) -> None:
    """Without a network where the system can take it away: no interface but its own."""
    assert (made / "start-macos.command").read_bytes() == (made / "start-linux.sh").read_bytes()
    home = made.parent / "home of mine"
    home.mkdir()
    apart = ["unshare", "--net"] if sys.platform == "linux" else []
    if apart and subprocess.run([*apart, "true"], capture_output=True).returncode:
        apart = []
    environment = {
        "HOME": str(home), "PATH": f"{Path(sys.base_prefix) / 'bin'}:/usr/bin:/bin", "OILKIT_OPTIONS": "--no-lab",
        "OILKIT_SETTINGS": str(home / "settings.json"), "PIP_INDEX_URL": "http://127.0.0.1:9/",
    }  # fmt: skip
    command = [*apart, "sh", str(made / "start-linux.sh")]
    first = subprocess.run(command, env=environment, capture_output=True, text=True, timeout=300)
    assert first.returncode == 0, first.stderr + first.stdout
    assert f"{home}/.oilkit/bin/oilkit" in first.stdout
    assert len(list((home / "oilkit-lessons").glob("[0-9][0-9]_*.ipynb"))) >= 13
    second = subprocess.run(command, env=environment, capture_output=True, text=True, timeout=60)
    assert second.returncode == 0, second.stderr
    assert "Putting the kit" not in second.stdout


@pytest.mark.thorough
def test_a_laptop_without_python_and_a_stick_without_a_wheel_are_told_why(made: Path) -> None:
    home = made.parent / "home"
    home.mkdir()
    shell = shutil.which("sh") or "sh"
    tools = made.parent / "tools"
    tools.mkdir()
    for name in ("dirname", "cat"):
        (tools / name).symlink_to(str(shutil.which(name)))
    environment = {"HOME": str(home), "PATH": str(tools)}
    command = [shell, str(made / "start-linux.sh")]
    no_python = subprocess.run(command, env=environment, capture_output=True, text=True, timeout=60)
    assert no_python.returncode == 1
    assert f"Python {HERE} is missing on this computer." in no_python.stdout
    lacking = made.parent / "a wheel less"
    shutil.copytree(made, lacking)
    next((lacking / "wheels").glob("numpy-*.whl")).unlink()
    environment["PATH"] = f"{Path(sys.base_prefix) / 'bin'}:/usr/bin:/bin"
    command = [shell, str(lacking / "start-linux.sh")]
    no_wheel = subprocess.run(command, env=environment, capture_output=True, text=True, timeout=300)
    assert no_wheel.returncode == 1
    assert "numpy" in no_wheel.stderr
    assert "could not be put into" in no_wheel.stdout
    assert not (home / "oilkit-lessons").exists()
